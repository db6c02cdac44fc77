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

/// All are labeled while they are so few.
const LABELED: usize = 5;

/// Draws the readings, evenly apart in the order they came.
pub fn readings_chart(chart: &ReadingsChart<'_>, size: Size, display: &Display, words: &Words) -> String {
    let is_wide = size == Size::Wide;
    let (width, height) = (size.width(), if is_wide { 200.0 } else { 176.0 });
    let (left, right) = (60.0, width - 62.0);
    let id = format!("{}-{}", chart.id, size.suffix());
    let mut canvas = Canvas::new(size, width, height, &id, words.say("chart.readings"), chart.says);
    let (low, high) = (chart.spec.low.percent(), chart.spec.high.percent());
    let ends = || chart.readings.iter().flat_map(|(_, w, u)| [w - u, w + u]).chain([low, high]);
    let (least, most) = (ends().fold(f64::INFINITY, f64::min), ends().fold(f64::NEG_INFINITY, f64::max));
    let margin = 0.1 * (most - least).max(0.1);
    let y = Axis { from: least - margin, to: most + margin, start: height - 28.0, end: 14.0 };
    let x = Axis {
        from: 0.0,
        to: chart.readings.len().max(2) as f64 - 1.0,
        start: left + 14.0,
        end: right - 14.0,
    };
    canvas.rect("c-liquid", left, y.at(high), right - left, y.at(low) - y.at(high));
    // The range's own ends are what a reading is held against.
    let (below, above) = (y.at(low), y.at(high));
    for (value, at) in [(low, below), (high, above)] {
        canvas.line("c-grid", (left, at), (right, at));
        canvas.text("c-tick c-end", left - 6.0, at + 5.0, &display.percent(value, 1));
    }
    for tick in ticks(y.from, y.to, round_step(most - least, 4.0)) {
        let at = y.at(tick);
        if (at - below).abs() > 22.0 && (at - above).abs() > 22.0 && !(above..=below).contains(&at) {
            canvas.line("c-grid", (left, at), (right, at));
            canvas.text("c-tick c-end", left - 6.0, at + 5.0, &display.percent(tick, 0));
        }
    }
    let last = chart.readings.len().saturating_sub(1);
    for (place, (_, w, u)) in chart.readings.iter().enumerate() {
        let across = x.at(place as f64);
        canvas.line("c-pass", (across, y.at(w - u)), (across, y.at(w + u)));
        // Out of the range by the number alone: a heavier mark, so that it is told without colour.
        let is_in = (low..=high).contains(w);
        canvas.rect(if is_in { "c-mark" } else { "c-mark c-act" }, across - 5.0, y.at(*w) - 5.0, 10.0, 10.0);
        let word = if is_in { "c-name" } else { "c-name c-word-act" };
        if place == last {
            canvas.text(word, right + 4.0, y.at(*w) + 6.0, &display.percent(*w, 1));
        } else if last < LABELED {
            canvas.text(&format!("{word} c-halo"), across + 9.0, y.at(*w) + 6.0, &number(*w, 1));
        }
    }
    canvas.line("c-axis", (left, y.start), (right, y.start));
    if let (Some((first, ..)), Some((last, ..))) = (chart.readings.first(), chart.readings.last()) {
        canvas.text("c-tick", left, height - 8.0, &display.weekday(*first));
        if 1 < chart.readings.len() {
            canvas.text("c-tick c-end", right, height - 8.0, &display.weekday(*last));
        }
    }
    canvas.finish()
}
