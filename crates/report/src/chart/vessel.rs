//! Tanks side by side on one floor and one scale, each with what stands in it.

use std::fmt::Write as _;

/// What a liquid looks like besides being there: dots where salt can drop out, hatching where ice can form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Texture {
    /// Neither is asked about.
    Plain,
    /// Too strong: salt.
    Salt,
    /// Too weak: ice.
    Ice,
}

/// A tank among its neighbors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vessel {
    /// Its full volume as a share of the largest tank's, above 0 to 1: areas on the drawing keep that share.
    pub size: f64,
    /// Its content as a share of its own full volume, 0 to 1.
    pub filled: f64,
    /// Its highest working level, as a share of its own full volume, 0 to 1.
    pub working: f64,
    /// How its liquid is drawn.
    pub texture: Texture,
}

/// Width and height of the drawing; a tank of the largest size fills it.
const WIDTH: f64 = 78.0;
/// See [`WIDTH`].
const HEIGHT: f64 = 110.0;
/// Height of the largest tank's wall, and of any tank's roof.
const WALL: f64 = 102.0;
/// See [`WALL`].
const ROOF: f64 = 4.5;

/// Draws a tank. The patterns `salt` and `ice` stand once on the page; a reader who does not see it reads the words
/// beside it.
pub fn vessel(of: &Vessel) -> String {
    let side = of.size.clamp(0.02, 1.0).sqrt();
    let (width, wall) = ((WIDTH - 5.0) * side, WALL * side);
    let (left, right, top) = ((WIDTH - width) / 2.0, f64::midpoint(WIDTH, width), HEIGHT - wall);
    let level = |share: f64| HEIGHT - wall * share.clamp(0.0, 1.0);
    let (inner, span) = (left + 2.0, width - 4.0);
    let mut svg = format!("<svg viewBox=\"0 0 {WIDTH} {HEIGHT}\" aria-hidden=\"true\">");
    let roof = top - ROOF;
    let middle = WIDTH / 2.0;
    let _ = write!(
        svg,
        "<path class=\"v-shell\" d=\"M{left:.1} {HEIGHT}V{top:.1}L{middle} {roof:.1}L{right:.1} {top:.1}V{HEIGHT}\"/>"
    );
    let at = level(of.filled);
    let high = HEIGHT - at;
    if high > 0.5 {
        let _ = write!(
            svg,
            "<rect class=\"v-fill\" x=\"{inner:.1}\" y=\"{at:.1}\" width=\"{span:.1}\" height=\"{high:.1}\"/>"
        );
        let pattern = match of.texture {
            Texture::Plain => None,
            Texture::Salt => Some("salt"),
            Texture::Ice => Some("ice"),
        };
        if let Some(pattern) = pattern {
            let _ = write!(
                svg,
                "<rect fill=\"url(#{pattern})\" x=\"{inner:.1}\" y=\"{at:.1}\" width=\"{span:.1}\" height=\"{high:.1}\"/>"
            );
        }
        let _ = write!(svg, "<path class=\"v-top\" d=\"M{inner:.1} {at:.1}H{:.1}\"/>", inner + span);
    }
    let limit = level(of.working);
    let _ = write!(svg, "<path class=\"v-limit\" d=\"M{left:.1} {limit:.1}H{right:.1}\"/></svg>");
    svg
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tank of a quarter of the volume is drawn with a quarter of the area, and a level where it lies.
    #[test]
    fn areas_are_volumes() {
        let drawn = |size: f64, filled: f64| {
            let svg = vessel(&Vessel { size, filled, working: 1.0, texture: Texture::Salt });
            let rect = svg.split("v-fill").nth(1).unwrap_or_default().to_owned();
            let number = |name: &str| -> f64 {
                let from = rect.split(&format!(" {name}=\"")).nth(1).unwrap_or_default();
                from.split('"').next().unwrap_or_default().parse().unwrap_or(f64::NAN)
            };
            ((number("width") + 4.0) * number("height"), number("y"))
        };
        let (large, small) = (drawn(1.0, 1.0), drawn(0.25, 1.0));
        assert!((small.0 / large.0 - 0.25).abs() < 0.01, "{small:?} of {large:?}");
        assert!((drawn(1.0, 0.5).1 - (HEIGHT - WALL / 2.0)).abs() < 0.1);
        assert!(
            !vessel(&Vessel { size: 1.0, filled: 0.0, working: 1.0, texture: Texture::Salt })
                .contains("salt")
        );
    }
}
