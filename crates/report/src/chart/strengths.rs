//! Strengths of one tank beside each other: by the book, by the last sample with its ±, and the range in spec.

use site::Spec;

use super::Size;
use super::canvas::{Axis, Canvas, ticks};
use crate::Display;
use crate::words::Words;

/// What the chart shows.
#[derive(Debug, Clone)]
pub struct StrengthsChart<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// Strength by the book, per cent by mass.
    pub book: f64,
    /// Last sample and half of its interval, per cent by mass.
    pub sample: (f64, f64),
    /// The range in spec.
    pub spec: &'a Spec,
    /// What it says, in a sentence or two.
    pub says: &'a str,
}

const FLOOR: f64 = 76.0;

/// Draws the two strengths on one line.
pub fn strengths_chart(chart: &StrengthsChart<'_>, size: Size, display: &Display, words: &Words) -> String {
    let width = size.width();
    let id = format!("{}-{}", chart.id, size.suffix());
    let mut canvas = Canvas::new(size, width, FLOOR + 28.0, &id, words.say("chart.strengths"), chart.says);
    let (low, high) = (chart.spec.low.percent(), chart.spec.high.percent());
    let (sample, within) = chart.sample;
    let ends = [low, high, chart.book, sample - within, sample + within];
    let least = ends.into_iter().fold(f64::INFINITY, f64::min).floor() - 0.5;
    let most = ends.into_iter().fold(f64::NEG_INFINITY, f64::max).ceil() + 0.5;
    let x = Axis { from: least, to: most, start: 10.0, end: width - 10.0 };
    canvas.rect("c-liquid", x.at(low), 30.0, x.at(high) - x.at(low), FLOOR - 30.0);
    canvas.text("c-tick c-mid", f64::midpoint(x.at(low), x.at(high)), 22.0, words.say("chart.key.spec"));
    canvas.line("c-axis", (x.start, FLOOR), (x.end, FLOOR));
    let step = if most - least > 6.0 { 2.0 } else { 1.0 };
    for tick in ticks(least, most, step) {
        canvas.line("c-axis", (x.at(tick), FLOOR), (x.at(tick), FLOOR + 6.0));
        canvas.text("c-tick c-mid", x.at(tick), FLOOR + 22.0, &crate::display::number(tick, 0));
    }
    let is_in = |strength: f64| (low..=high).contains(&strength);
    let ring = if is_in(sample) { "c-mark" } else { "c-mark c-act" };
    canvas.line("c-pass", (x.at(sample - within), 48.0), (x.at(sample + within), 48.0));
    canvas.ring(ring, (x.at(sample), 48.0), 6.5);
    let at = x.at(chart.book);
    canvas.path(
        "c-pointer",
        &[(at, FLOOR - 15.0), (at + 8.0, FLOOR - 1.0), (at - 8.0, FLOOR - 1.0)],
        true,
        None,
    );
    // Each word stands on the side that has more room.
    let beside = |canvas: &mut Canvas, from: f64, to: f64, y: f64, text: &str| {
        if x.end - to >= from - x.start {
            canvas.text("c-name c-halo", to + 8.0, y, text);
        } else {
            canvas.text("c-name c-halo c-end", from - 8.0, y, text);
        }
    };
    let (from, to) = (x.at(sample - within), x.at(sample + within));
    let value = [("strength", display.percent(sample, 1))];
    beside(
        &mut canvas,
        from.min(x.at(sample) - 7.0),
        to.max(x.at(sample) + 7.0),
        53.0,
        &words.fill_with("chart.sample", &value),
    );
    let value = [("strength", display.percent(chart.book, 1))];
    beside(&mut canvas, at - 4.0, at + 4.0, FLOOR - 4.0, &words.fill_with("chart.book", &value));
    canvas.finish()
}
