//! The build-up: strength against time while a plant comes up to strength, with what half of such runs and 95 in 100
//! do.

use jiff::{SignedDuration, Timestamp};
use site::Spec;

use super::Size;
use super::canvas::{Axis, Canvas, round_step, ticks};
use crate::Display;
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
    /// When it began, for a clock along the bottom; without it, minutes.
    pub begin: Option<Timestamp>,
    /// Bench readings: minute, strength, half of its interval.
    pub bench: &'a [(f64, f64, f64)],
    /// The band to come into.
    pub spec: &'a Spec,
    /// What it says, in a sentence or two.
    pub says: &'a str,
}

/// Draws the build-up.
pub fn build_up(chart: &BuildUp<'_>, size: Size, display: &Display, words: &Words) -> String {
    let width = size.width();
    let (height, left) = if size == Size::Phone { (224.0, 40.0) } else { (330.0, 48.0) };
    let right = width - 6.0;
    let id = format!("{}-{}", chart.id, size.suffix());
    let mut canvas = Canvas::new(size, width, height, &id, words.say("chart.build-up"), chart.says);
    let so_far = chart.panel.last().map_or(0.0, |last| last.0);
    let ahead = chart.expected.last().map_or(0.0, |last| last.0);
    // Before a run, all that is expected; during it, a little ahead of where it stands.
    let ahead = if chart.panel.is_empty() { ahead } else { ahead.min(so_far + 90.0) };
    let minutes = (so_far * 1.15).max(ahead).max(30.0);
    let x = Axis { from: 0.0, to: minutes, start: left, end: right };
    let y = Axis { from: 0.0, to: 28.0, start: height - 30.0, end: 8.0 };
    let (low, high) = (chart.spec.low.percent(), chart.spec.high.percent());
    canvas.rect("c-liquid", left, y.at(high), right - left, y.at(low) - y.at(high));
    for value in ticks(0.0, 28.0, 10.0) {
        canvas.line("c-grid", (left, y.at(value)), (right, y.at(value)));
        canvas.text("c-tick c-end", left - 6.0, y.at(value) + 5.0, &display.percent(value, 0));
    }
    let shown: Vec<&(f64, [f64; 3])> = chart.expected.iter().filter(|(at, _)| *at <= minutes).collect();
    if 1 < shown.len() {
        let edge = |which: usize| {
            shown.iter().map(|(at, band)| (x.at(*at), y.held(band[which]))).collect::<Vec<_>>()
        };
        let fan: Vec<(f64, f64)> = edge(0).into_iter().chain(edge(2).into_iter().rev()).collect();
        canvas.path("c-band", &fan, true, None);
        canvas.path("c-expected", &edge(1), false, None);
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
    let range = [("low", crate::display::number(low, 1)), ("high", display.percent(high, 1))];
    canvas.text("c-tick c-halo", left + 5.0, y.at(high) - 6.0, &words.fill_with("chart.spec-range", &range));
    // Where half of such runs have come into the range: their line down to the clock.
    let reached = shown.iter().find(|(at, [_, middle, _])| low <= *middle && so_far < *at);
    if let Some((at, _)) = reached {
        let foot = y.start;
        canvas.line("c-leader", (x.at(*at), y.at(low)), (x.at(*at), foot));
        let text = words.fill("chart.in-spec-about", &[("at", &clock(chart.begin, *at, display, words))]);
        let half = 8.0 * text.chars().count() as f64;
        let is_left = x.at(*at) - half > left;
        let class = if is_left { "c-name c-halo c-end" } else { "c-name c-halo" };
        canvas.text(class, x.at(*at) + if is_left { -7.0 } else { 7.0 }, foot - 10.0, &text);
    }
    if let Some((at, _, _, mean)) = chart.panel.last() {
        let (cx, cy) = (x.at(*at), y.held(*mean));
        canvas.ring("c-mark", (cx, cy), 6.0);
        let text = words.fill("chart.reads-now", &[("strength", &display.percent(*mean, 1))]);
        let is_right = right - cx > 8.5 * text.chars().count() as f64 + 14.0;
        let class = if is_right { "c-word-brine c-halo" } else { "c-word-brine c-halo c-end" };
        // Under the line, where it leaves room.
        canvas.text(class, cx + if is_right { 11.0 } else { -11.0 }, (cy + 20.0).min(y.start - 26.0), &text);
    }
    canvas.line("c-axis", (left, y.start), (right, y.start));
    along(&mut canvas, chart.begin, &x, height, size, (display, words));
    canvas.finish()
}

/// A minute of the run, as the clock has it; else as minutes.
fn clock(begin: Option<Timestamp>, minute: f64, display: &Display, words: &Words) -> String {
    begin.map_or_else(
        || format!("{} {}", crate::display::number(minute, 0), words.say("chart.minutes")),
        |begin| display.clock(begin + SignedDuration::from_secs_f64(60.0 * minute)),
    )
}

/// Times along the bottom.
fn along(
    canvas: &mut Canvas,
    begin: Option<Timestamp>,
    x: &Axis,
    height: f64,
    size: Size,
    (display, words): (&Display, &Words),
) {
    let parts = if size == Size::Phone { 3.0 } else { 6.0 };
    let step = round_step(x.to, parts).max(if begin.is_some() { 10.0 } else { 1.0 });
    for value in ticks(0.0, x.to, step) {
        let class = if value <= 0.0 { "c-tick" } else { "c-tick c-mid" };
        let label = if begin.is_some() {
            clock(begin, value, display, words)
        } else {
            crate::display::number(value, 0)
        };
        if x.at(value) + 32.0 < x.end || begin.is_none() {
            canvas.text(class, x.at(value), height - 9.0, &label);
        }
    }
    if begin.is_none() {
        canvas.text("c-tick c-end", x.end, height - 34.0, words.say("chart.minutes"));
    }
}
