//! A small SVG writer: escaping, short numbers, straight axes.

use std::fmt::Write;

use super::Size;

/// An SVG being drawn.
pub(super) struct Canvas {
    text: String,
}

/// A linear axis: value to pixel.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axis {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) start: f64,
    pub(super) end: f64,
}

impl Axis {
    pub(super) fn at(&self, value: f64) -> f64 {
        self.start + (value - self.from) / (self.to - self.from) * (self.end - self.start)
    }

    /// The pixel of a value held inside the axis.
    pub(super) fn held(&self, value: f64) -> f64 {
        self.at(value.clamp(self.from.min(self.to), self.from.max(self.to)))
    }
}

impl Canvas {
    /// Starts a drawing with its name and what it says, for those who do not see it.
    pub(super) fn new(size: Size, width: f64, height: f64, id: &str, title: &str, says: &str) -> Self {
        let mut text = String::with_capacity(8 * 1024);
        let class = size.class();
        let id = escape(id);
        let _ = write!(
            text,
            "<svg class=\"{class}\" viewBox=\"0 0 {width} {height}\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\">\
             <title id=\"{id}-t\">{}</title><desc id=\"{id}-d\">{}</desc>",
            escape(title),
            escape(says)
        );
        Self { text }
    }

    /// Another class for the whole drawing, shown at every width.
    pub(super) fn with_class(mut self, class: &str) -> Self {
        self.text = self.text.replacen(Size::Wide.class(), &format!("chart {class}"), 1);
        self
    }

    /// Hatching for ice and dots for salt, under ids of this drawing.
    pub(super) fn patterns(&mut self, id: &str) {
        let id = escape(id);
        let _ = write!(
            self.text,
            "<defs><pattern id=\"{id}-ice\" width=\"8\" height=\"8\" patternUnits=\"userSpaceOnUse\" \
             patternTransform=\"rotate(45)\"><line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"8\" class=\"c-hatch\"/></pattern>\
             <pattern id=\"{id}-salt\" width=\"10\" height=\"10\" patternUnits=\"userSpaceOnUse\">\
             <circle cx=\"3\" cy=\"3\" r=\"1.6\" class=\"c-dot\"/></pattern></defs>"
        );
    }

    /// Thin hatching for what may freeze.
    pub(super) fn thin_hatching(&mut self, id: &str) {
        let id = escape(id);
        let _ = write!(
            self.text,
            "<defs><pattern id=\"{id}-may\" width=\"12\" height=\"12\" patternUnits=\"userSpaceOnUse\" \
             patternTransform=\"rotate(45)\"><line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"12\" class=\"c-hatch-thin\"/>\
             </pattern></defs>"
        );
    }

    pub(super) fn path(&mut self, class: &str, points: &[(f64, f64)], close: bool, fill: Option<&str>) {
        if points.is_empty() {
            return;
        }
        let mut d = String::new();
        for (place, (x, y)) in points.iter().enumerate() {
            let _ = write!(d, "{}{} {}", if place == 0 { "M" } else { "L" }, short(*x), short(*y));
        }
        if close {
            d.push('Z');
        }
        let fill = fill.map_or_else(String::new, |id| format!(" fill=\"url(#{})\"", escape(id)));
        let _ = write!(self.text, "<path class=\"{class}\" d=\"{d}\"{fill}/>");
    }

    pub(super) fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64)) {
        let _ = write!(
            self.text,
            "<line class=\"{class}\" x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"/>",
            short(from.0),
            short(from.1),
            short(to.0),
            short(to.1)
        );
    }

    pub(super) fn rect(&mut self, class: &str, x: f64, y: f64, width: f64, height: f64) {
        let _ = write!(
            self.text,
            "<rect class=\"{class}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
            short(x),
            short(y),
            short(width.max(0.0)),
            short(height.max(0.0))
        );
    }

    /// A round mark at a place.
    pub(super) fn ring(&mut self, class: &str, (x, y): (f64, f64), radius: f64) {
        let _ = write!(
            self.text,
            "<circle class=\"{class}\" cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
            short(x),
            short(y),
            short(radius)
        );
    }

    pub(super) fn text(&mut self, class: &str, x: f64, y: f64, text: &str) {
        let _ = write!(
            self.text,
            "<text class=\"{class}\" x=\"{}\" y=\"{}\">{}</text>",
            short(x),
            short(y),
            escape(text)
        );
    }

    pub(super) fn finish(mut self) -> String {
        self.text.push_str("</svg>");
        self.text
    }
}

/// A coordinate with one decimal, without a trailing zero.
fn short(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_string)
}

/// Text inside XML.
pub(super) fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// A round step that cuts a span into about so many parts: 1, 2 or 5 times a power of ten.
pub(super) fn round_step(span: f64, parts: f64) -> f64 {
    let raw = (span / parts).max(f64::MIN_POSITIVE);
    let power = 10f64.powf(raw.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|m| m * power)
        .find(|step| raw <= *step * 1.0001)
        .unwrap_or(10.0 * power)
}

/// Places nearest to those wanted, at least so far apart and, where there is room, within two ends; in their order.
///
/// Marks stay where their values are; their labels stand here. Least squares, by pooling neighbors that would touch.
pub(super) fn apart(wanted: &[f64], gap: f64, (from, to): (f64, f64)) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].total_cmp(&wanted[*b]));
    // Less what lies before it, each place may only rise.
    let mut pools: Vec<(f64, usize)> = Vec::new();
    for (rank, place) in order.iter().enumerate() {
        pools.push((wanted[*place] - gap * rank as f64, 1));
        while let [.., (below, few), (above, more)] = pools[..] {
            if below <= above {
                break;
            }
            let all = few + more;
            pools.truncate(pools.len() - 2);
            pools.push(((below * few as f64 + above * more as f64) / all as f64, all));
        }
    }
    let last = gap * wanted.len().saturating_sub(1) as f64;
    let held = pools.iter().flat_map(|(at, count)| std::iter::repeat_n(at.min(to - last).max(from), *count));
    let mut placed = vec![0.0; wanted.len()];
    for ((rank, place), at) in order.iter().enumerate().zip(held) {
        placed[*place] = at + gap * rank as f64;
    }
    placed
}

/// Multiples of a step within a span.
pub(super) fn ticks(from: f64, to: f64, step: f64) -> Vec<f64> {
    let first = (from / step).ceil() as i64;
    let last = (to / step).floor() as i64;
    (first..=last).map(|n| n as f64 * step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Labels that have room stay at their marks; others part evenly about them, in order, within the ends.
    #[test]
    fn labels_stand_as_near_as_they_can() {
        assert_eq!(apart(&[10.0, 90.0], 20.0, (0.0, 100.0)), [10.0, 90.0]);
        assert_eq!(apart(&[52.0, 50.0], 20.0, (0.0, 100.0)), [61.0, 41.0]);
        assert_eq!(apart(&[98.0, 100.0], 20.0, (0.0, 100.0)), [80.0, 100.0]);
        assert_eq!(apart(&[1.0, 2.0, 3.0], 30.0, (0.0, 100.0)), [0.0, 30.0, 60.0]);
        assert!(apart(&[], 1.0, (0.0, 1.0)).is_empty());
    }
}
