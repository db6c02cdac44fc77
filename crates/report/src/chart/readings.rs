//! Readings of one tank as they came, each with its interval, over the band they were judged by.

use jiff::Timestamp;
use site::Spec;

use super::Size;
use super::canvas::{Axis, Canvas, round_step, ticks};
use crate::Display;
use crate::display::number;
use crate::words::Words;

/// What the chart shows.
#[derive(Debug, Clone)]
pub struct ReadingsChart<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// When, strength and half of its interval, per cent by mass; oldest first, never empty.
    pub readings: &'a [(Timestamp, f64, f64)],
    /// Target and spec range, drawn behind the readings.
    pub spec: &'a Spec,
    /// What it says, in a sentence or two.
    pub says: &'a str,
}

const HEIGHT: f64 = 240.0;
const LEFT: f64 = 58.0;

/// Draws the readings, evenly apart in the order they came.
pub fn readings_chart(chart: &ReadingsChart<'_>, size: Size, display: &Display, words: &Words) -> String {
    let width = if size == Size::Phone { 340.0 } else { 640.0 };
    let id = format!("{}-{}", chart.id, if size == Size::Phone { "p" } else { "w" });
    let mut canvas = Canvas::new(size, width, HEIGHT, &id, words.say("chart.readings"), chart.says);
    let (low, high) = (chart.spec.low.percent(), chart.spec.high.percent());
    let ends = || chart.readings.iter().flat_map(|(_, w, u)| [w - u, w + u]).chain([low, high]);
    let (least, most) = (ends().fold(f64::INFINITY, f64::min), ends().fold(f64::NEG_INFINITY, f64::max));
    let margin = 0.05 * (most - least).max(0.1);
    let y = Axis { from: least - margin, to: most + margin, start: HEIGHT - 30.0, end: 12.0 };
    let x = Axis {
        from: 0.0,
        to: chart.readings.len().max(2) as f64 - 1.0,
        start: LEFT + 14.0,
        end: width - 16.0,
    };
    canvas.rect("c-liquid", LEFT, y.at(high), width - 8.0 - LEFT, y.at(low) - y.at(high));
    let step = round_step(most - least, 4.0);
    let decimals = bench::instrument::reading_decimals(step);
    for value in ticks(y.from, y.to, step) {
        canvas.line("c-grid", (LEFT, y.at(value)), (width - 8.0, y.at(value)));
        canvas.text("c-tick c-end", LEFT - 6.0, y.at(value) + 5.0, &format!("{} %", number(value, decimals)));
    }
    for (place, (_, w, u)) in (0..).zip(chart.readings) {
        let across = x.at(f64::from(place));
        canvas.line("c-pass", (across, y.at(w - u)), (across, y.at(w + u)));
        // Out of the band by the number alone: a heavier mark, so that it is told without colour.
        let class = if (low..=high).contains(w) { "c-mark" } else { "c-mark c-act" };
        canvas.rect(class, across - 4.5, y.at(*w) - 4.5, 9.0, 9.0);
    }
    if let (Some((first, ..)), Some((last, ..))) = (chart.readings.first(), chart.readings.last()) {
        canvas.text("c-tick", LEFT, HEIGHT - 8.0, &display.time(*first));
        if 1 < chart.readings.len() {
            canvas.text("c-tick c-end", width - 8.0, HEIGHT - 8.0, &display.time(*last));
        }
    }
    canvas.finish()
}
