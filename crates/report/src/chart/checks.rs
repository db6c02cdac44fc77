//! Checks of one instrument: each check's error with its limits, and the weighted average with its own.

use bench::drift::Drift;

use super::Size;
use super::canvas::{Axis, Canvas, round_step, ticks};
use crate::display::number;
use crate::words::Words;

/// What the chart shows.
#[derive(Debug, Clone)]
pub struct ChecksChart<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// Errors since the instrument was last set right, oldest first, in the unit of its scale.
    pub errors: &'a [f64],
    /// What they say.
    pub drift: &'a Drift,
    /// What it says, in a sentence or two.
    pub says: &'a str,
}

const HEIGHT: f64 = 230.0;
const LEFT: f64 = 62.0;

/// Draws the checks.
pub fn checks_chart(chart: &ChecksChart<'_>, size: Size, words: &Words) -> String {
    let width = size.width();
    let id = format!("{}-{}", chart.id, size.suffix());
    let mut canvas = Canvas::new(size, width, HEIGHT, &id, words.say("chart.checks"), chart.says);
    let (low, high) = chart.drift.limits;
    let all = || chart.errors.iter().copied().chain([low, high]);
    let (least, most) = (all().fold(f64::INFINITY, f64::min), all().fold(f64::NEG_INFINITY, f64::max));
    let margin = 0.08 * (most - least).max(1e-9);
    let y = Axis { from: least - margin, to: most + margin, start: HEIGHT - 30.0, end: 14.0 };
    let count = chart.errors.len().max(2) as f64;
    let x = Axis { from: 1.0, to: count, start: LEFT + 12.0, end: width - 14.0 };
    let step = round_step(most - least, 4.0);
    let decimals = bench::instrument::reading_decimals(step);
    for value in ticks(y.from, y.to, step) {
        canvas.line("c-grid", (LEFT, y.at(value)), (width - 8.0, y.at(value)));
        canvas.text("c-tick c-end", LEFT - 6.0, y.at(value) + 5.0, &number(value, decimals));
    }
    let corridor: Vec<(f64, f64)> = (1..)
        .zip(&chart.drift.average)
        .map(|(place, point)| (x.at(f64::from(place)), y.held(point.high)))
        .chain(
            (1..)
                .zip(&chart.drift.average)
                .map(|(place, point)| (x.at(f64::from(place)), y.held(point.low)))
                .collect::<Vec<_>>()
                .into_iter()
                .rev(),
        )
        .collect();
    canvas.path("c-band", &corridor, true, None);
    for limit in [low, high] {
        canvas.line("c-limit", (LEFT, y.at(limit)), (width - 8.0, y.at(limit)));
    }
    canvas.line("c-axis", (LEFT, y.at(0.0)), (width - 8.0, y.at(0.0)));
    let line: Vec<(f64, f64)> = (1..)
        .zip(&chart.drift.average)
        .map(|(place, point)| (x.at(f64::from(place)), y.held(point.average)))
        .collect();
    canvas.path("c-have", &line, false, None);
    for (place, error) in (1..).zip(chart.errors) {
        let (left, top) = (x.at(f64::from(place)), y.at(*error));
        canvas.rect("c-mark", left - 4.0, top - 4.0, 8.0, 8.0);
    }
    canvas.text("c-tick", LEFT, HEIGHT - 8.0, words.say("chart.checks-oldest"));
    canvas.text("c-tick c-end", width - 8.0, HEIGHT - 8.0, words.say("chart.checks-newest"));
    canvas.finish()
}
