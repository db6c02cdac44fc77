//! The storm's hours in rows: what falls, how cold, when to make, when to spray, when the trucks pass.

use jiff::Timestamp;
use planner::Plan;
use planner::outlook::Case;
use quantity::{in_celsius, in_millimetres};

use super::Size;
use super::canvas::{Axis, Canvas};
use crate::Display;
use crate::words::Words;

/// What the timeline shows.
#[derive(Debug, Clone)]
pub struct Timeline<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// The plan whose hours are drawn.
    pub plan: &'a Plan,
    /// What it says, in a sentence or two.
    pub says: &'a str,
}

/// Height of the precipitation row and of each row below it, px.
const RAIN_ROW: f64 = 74.0;
const ROW: f64 = 44.0;
/// Precipitation that fills the row, mm in an hour.
const FULL_MM: f64 = 5.0;

/// Draws the timeline.
pub fn timeline(chart: &Timeline<'_>, size: Size, display: &Display, words: &Words) -> String {
    let plan = chart.plan;
    let width = if size == Size::Phone { 340.0 } else { 640.0 };
    let height = 16.0 + RAIN_ROW + 3.0 * ROW + 34.0;
    let id = format!("{}-{}", chart.id, if size == Size::Phone { "p" } else { "w" });
    let mut canvas = Canvas::new(size, width, height, &id, words.say("chart.timeline"), chart.says);
    canvas.patterns(&id);
    let x = Axis { from: 0.0, to: plan.bins.count as f64, start: 8.0, end: width - 8.0 };
    let place = |at: Timestamp| {
        let seconds = at.duration_since(plan.bins.start).as_secs() as f64;
        x.held(seconds / plan.bins.step.as_secs().max(1) as f64)
    };
    let rows: [f64; 4] = [16.0, 16.0 + RAIN_ROW, 16.0 + RAIN_ROW + ROW, 16.0 + RAIN_ROW + 2.0 * ROW];
    let names = ["chart.row.falling", "chart.row.making", "chart.row.spraying", "chart.row.passes"];
    for (top, name) in rows.iter().zip(names) {
        canvas.text("c-row", x.start, top + 12.0, words.say(name));
    }
    falling(&mut canvas, plan, &x, rows[0] + RAIN_ROW - 6.0, &id);
    for run in &plan.schedule.runs {
        let top = rows[1] + 17.0;
        canvas.rect("c-soft", place(run.latest_start), top, place(run.ready) - place(run.latest_start), 18.0);
        canvas.rect(
            "c-run",
            place(run.making_from),
            top,
            (place(run.making_to) - place(run.making_from)).max(3.0),
            18.0,
        );
    }
    for (_, loading) in &plan.loadings {
        let from = place(loading.begin);
        canvas.rect("c-run", from, rows[2] + 17.0, (place(loading.end) - from).max(3.0), 18.0);
    }
    for (_, treatment) in &plan.storms {
        for pass in &treatment.passes[Case::Mid as usize] {
            let at = place(pass.at);
            canvas.line("c-pass", (at, rows[3] + 17.0), (at, rows[3] + 35.0));
        }
    }
    clock_ticks(&mut canvas, plan, &x, height - 34.0, size, display);
    canvas.finish()
}

fn falling(canvas: &mut Canvas, plan: &Plan, x: &Axis, base: f64, id: &str) {
    let width = (x.at(4.0) - x.at(0.0) - 1.0).max(1.0);
    canvas.line("c-axis", (x.start, base), (x.end, base));
    for (hour, road) in plan.hours.iter().enumerate() {
        let left = x.at(hour as f64 * 4.0);
        let full = in_millimetres(road.liquid).min(FULL_MM) / FULL_MM * (RAIN_ROW - 28.0);
        // A trace, or an amount not known, still shows.
        let tall = if road.wet { full.max(3.0) } else { 0.0 };
        if tall > 0.0 {
            let frozen = tall * road.frozen_share;
            canvas.rect("c-rain", left, base - tall, width, tall - frozen);
            canvas.rect("c-snow", left, base - frozen, width, frozen);
            let corners =
                [(left, base - frozen), (left + width, base - frozen), (left + width, base), (left, base)];
            canvas.path("c-ice", &corners, true, Some(&format!("{id}-ice")));
        }
        if road.pavement(Case::Mid).is_some_and(|t| in_celsius(t) <= 1e-6) {
            canvas.rect("c-cold", left, base + 1.0, width + 1.0, 4.0);
        }
    }
}

/// Clock times under an axis of quarter hours: every twelve hours, midnight with its day.
pub(super) fn clock_ticks(
    canvas: &mut Canvas,
    plan: &Plan,
    x: &Axis,
    base: f64,
    size: Size,
    display: &Display,
) {
    canvas.line("c-axis", (x.start, base), (x.end, base));
    let span_hours = plan.hours.len();
    let every = match (size, span_hours) {
        (_, 0..=12) => 3,
        (Size::Wide, 13..=60) => 6,
        (Size::Phone, 61..) => 24,
        _ => 12,
    };
    let mut last_end = f64::MIN;
    for (hour, road) in plan.hours.iter().enumerate() {
        let local = road.start.to_zoned_datetime(display.zone.clone());
        if local.minute() != 0 || local.hour() % every != 0 {
            continue;
        }
        let at = x.at(hour as f64 * 4.0);
        canvas.line("c-axis", (at, base), (at, base + 5.0));
        let label = if local.hour() == 0 { display.weekday(road.start) } else { display.hour(road.start) };
        // A label needs about nine pixels a letter, or it is left out.
        let half = label.chars().count() as f64 * 4.6;
        if at - half > last_end + 6.0 && at + half < x.end + 8.0 && at - half > x.start - 8.0 {
            canvas.text("c-tick c-mid", at, base + 20.0, &label);
            last_end = at + half;
        }
    }
}
