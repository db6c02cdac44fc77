//! One tank in section: what stands in it, what cannot be drawn, and how much may still go in, each with its number.

use super::canvas::{Canvas, apart};
use super::{Size, Texture};

/// A tank in section; levels are shares of the full volume, 0 to 1.
#[derive(Debug, Clone)]
pub struct TankSection<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// Name of the tank.
    pub title: &'a str,
    /// What the drawing says.
    pub says: &'a str,
    /// Content, as a share of the full tank, and in words.
    pub filled: (f64, &'a str),
    /// Heel, which cannot be drawn, as a share of the full tank, and in words.
    pub heel: (f64, &'a str),
    /// Highest working level, as a share of the full tank, and in words.
    pub working: (f64, &'a str),
    /// What may still go in, in words; empty where nothing may.
    pub room: &'a str,
    /// Its strength, written in the liquid; empty where it has none to say.
    pub strength: &'a str,
    /// How its liquid is drawn.
    pub texture: Texture,
    /// It asks for an act.
    pub needs_act: bool,
}

const HEIGHT: f64 = 224.0;
const FLOOR: f64 = 214.0;
const WALL: f64 = 196.0;
const LEFT: f64 = 12.0;
const RIGHT: f64 = 154.0;

/// Draws a tank, one phone wide.
pub fn tank_section(of: &TankSection<'_>) -> String {
    let mut canvas =
        Canvas::new(Size::Wide, Size::Phone.width(), HEIGHT, of.id, of.title, of.says).with_class("section");
    canvas.patterns(of.id);
    let at = |share: f64| FLOOR - share.clamp(0.0, 1.0) * WALL;
    let (top, middle) = (FLOOR - WALL, f64::midpoint(LEFT, RIGHT));
    let shell = [(LEFT, FLOOR), (LEFT, top), (middle, top - 11.0), (RIGHT, top), (RIGHT, FLOOR)];
    canvas.path(if of.needs_act { "v-shell c-act" } else { "v-shell" }, &shell, false, None);
    let level = at(of.filled.0);
    let (inner, outer) = (LEFT + 3.0, RIGHT - 3.0);
    if FLOOR - level > 0.5 {
        canvas.rect("v-fill", inner, level, outer - inner, FLOOR - level);
        let pattern = match of.texture {
            Texture::Plain => None,
            Texture::Salt => Some("salt"),
            Texture::Ice => Some("ice"),
        };
        if let Some(pattern) = pattern {
            let corners = [(inner, level), (outer, level), (outer, FLOOR), (inner, FLOOR)];
            canvas.path("c-solid", &corners, true, Some(&format!("{}-{pattern}", of.id)));
        }
        canvas.line("v-top", (inner, level), (outer, level));
    }
    for (share, _) in [of.heel, of.working] {
        canvas.line("v-limit", (inner, at(share)), (outer, at(share)));
    }
    if FLOOR - level > 44.0 {
        canvas.text("c-mark-label c-mid c-in-liquid", middle, f64::midpoint(level, FLOOR) + 8.0, of.strength);
    }
    canvas.line("c-axis", (0.0, FLOOR), (Size::Phone.width(), FLOOR));
    // Each number stands at its line, or as near as it has room.
    let room = f64::midpoint(level, at(of.working.0));
    let marks = [
        (level, of.filled.1, "c-name"),
        (at(of.working.0), of.working.1, ""),
        (room, of.room, ""),
        (at(of.heel.0), of.heel.1, "c-tick"),
    ];
    let marks: Vec<_> = marks.into_iter().filter(|(_, text, _)| !text.is_empty()).collect();
    let wanted: Vec<f64> = marks.iter().map(|(at, ..)| *at).collect();
    for ((_, text, class), at) in marks.iter().zip(apart(&wanted, 20.0, (top, FLOOR - 10.0))) {
        canvas.text(class, RIGHT + 10.0, at + 5.0, text);
    }
    canvas.finish()
}
