//! The build-up: strength against time while a plant comes up to strength, with what was to be expected.

use site::Spec;

use super::Size;
use super::canvas::{Axis, Canvas, round_step, ticks};
use crate::display::number;
use crate::words::Words;

/// What the chart shows. Times are minutes from the begin of the run.
#[derive(Debug, Clone)]
pub struct BuildUp<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// The panel so far: minute, least, most and mean, per cent by mass; oldest first.
    pub panel: &'a [(f64, f64, f64, f64)],
    /// As expected: minute, and the panel below which a fortieth, half and all but a fortieth of such runs lie.
    pub expected: &'a [(f64, [f64; 3])],
    /// Bench readings: minute, strength, half of its interval.
    pub bench: &'a [(f64, f64, f64)],
    /// The band to come into.
    pub spec: &'a Spec,
    /// What it says, in a sentence or two.
    pub says: &'a str,
}

const HEIGHT: f64 = 260.0;
const LEFT: f64 = 50.0;

/// Draws the build-up.
pub fn build_up(chart: &BuildUp<'_>, size: Size, words: &Words) -> String {
    let width = if size == Size::Phone { 340.0 } else { 700.0 };
    let id = format!("{}-{}", chart.id, if size == Size::Phone { "p" } else { "w" });
    let mut canvas = Canvas::new(size, width, HEIGHT, &id, words.say("chart.build-up"), chart.says);
    let so_far = chart.panel.last().map_or(0.0, |last| last.0);
    let ahead = chart.expected.last().map_or(0.0, |last| last.0);
    // Before a run, all that is expected; during it, a little ahead of where it stands.
    let ahead = if chart.panel.is_empty() { ahead } else { ahead.min(so_far + 90.0) };
    let minutes = (so_far * 1.15).max(ahead).max(30.0);
    let x = Axis { from: 0.0, to: minutes, start: LEFT, end: width - 10.0 };
    let y = Axis { from: 0.0, to: 28.0, start: HEIGHT - 32.0, end: 8.0 };
    let (low, high) = (chart.spec.low.percent(), chart.spec.high.percent());
    canvas.rect("c-liquid", LEFT, y.at(high), width - 10.0 - LEFT, y.at(low) - y.at(high));
    for value in ticks(0.0, 28.0, 5.0) {
        canvas.line("c-grid", (LEFT, y.at(value)), (width - 10.0, y.at(value)));
        canvas.text("c-tick c-end", LEFT - 6.0, y.at(value) + 5.0, &format!("{} %", number(value, 0)));
    }
    let step = round_step(minutes, if size == Size::Phone { 3.0 } else { 6.0 });
    for value in ticks(0.0, minutes, step) {
        let class = if value <= 0.0 { "c-tick" } else { "c-tick c-mid" };
        canvas.text(class, x.at(value), HEIGHT - 10.0, &number(value, 0));
    }
    canvas.text("c-tick c-end", width - 4.0, HEIGHT - 10.0, words.say("chart.minutes"));
    let shown: Vec<&(f64, [f64; 3])> = chart.expected.iter().filter(|(at, _)| *at <= minutes).collect();
    if 1 < shown.len() {
        let mut fan: Vec<(f64, f64)> =
            shown.iter().map(|(at, [low, ..])| (x.at(*at), y.held(*low))).collect();
        fan.extend(shown.iter().rev().map(|(at, [.., high])| (x.at(*at), y.held(*high))));
        canvas.path("c-band", &fan, true, None);
    }
    let line: Vec<(f64, f64)> =
        chart.panel.iter().map(|(at, _, _, mean)| (x.at(*at), y.held(*mean))).collect();
    if 1 < line.len() {
        canvas.path("c-have", &line, false, None);
    }
    for (at, strength, within) in chart.bench.iter().filter(|(at, ..)| (0.0..=minutes).contains(at)) {
        canvas.line("c-pass", (x.at(*at), y.held(strength - within)), (x.at(*at), y.held(strength + within)));
        canvas.rect("c-mark", x.at(*at) - 4.5, y.held(*strength) - 4.5, 9.0, 9.0);
    }
    canvas.finish()
}
