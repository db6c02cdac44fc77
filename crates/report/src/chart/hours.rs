//! The hours of a plan under a chart: the clock, and a lane for each kind of work.

use jiff::Timestamp;
use planner::Plan;
use planner::outlook::Case;
use quantity::{cubic_metres, in_cubic_metres};

use super::Size;
use super::canvas::{Axis, Canvas};
use crate::Display;
use crate::words::Words;

/// Width of a letter, px: what a label is taken to need.
const LETTER: f64 = 7.6;

/// How a stretch of time is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stroke {
    Work,
    /// Coming up to strength, settling, a test.
    Wait,
    /// A moment.
    Tick,
}

/// From, to, and how it is drawn.
type Stretch = (Timestamp, Timestamp, Stroke);

/// One kind of work: its name, its stretches, and its number in words.
pub(super) struct Lane {
    name: String,
    stretches: Vec<Stretch>,
    says: String,
}

/// Lanes of a plan; only those in which something is done.
pub(super) fn lanes(plan: &Plan, display: &Display, words: &Words) -> Vec<Lane> {
    let lane = |key: &str, says: String, stretches: Vec<Stretch>| Lane {
        name: words.say(key).to_owned(),
        stretches,
        says,
    };
    let runs = &plan.schedule.runs;
    let made = display.volume(plan.made);
    let making = match &runs[..] {
        [run] => {
            let values = [
                ("volume", made),
                ("from", display.clock(run.making_from)),
                ("to", display.clock(run.making_to)),
            ];
            words.fill_with("chart.lane.made", &values)
        }
        _ => words.fill_with("chart.lane.runs", &[("volume", made), ("count", runs.len().to_string())]),
    };
    let runs = runs.iter().flat_map(|run| {
        [
            (run.latest_start, run.making_from, Stroke::Wait),
            (run.making_from, run.making_to, Stroke::Work),
            (run.making_to, run.ready, Stroke::Wait),
        ]
    });
    let loads = || plan.loadings.iter().flat_map(|(_, loading)| &loading.loads);
    let loaded: f64 = loads().map(|load| in_cubic_metres(load.volume)).sum();
    let values = [("count", loads().count().to_string()), ("volume", display.volume(cubic_metres(loaded)))];
    let loading = words.fill_with("chart.lane.loaded", &values);
    let passes = || plan.storms.iter().flat_map(|(_, treatment)| &treatment.passes[Case::Mid as usize]);
    let mut times: Vec<Timestamp> = passes().map(|pass| pass.at).collect();
    times.sort_unstable();
    times.dedup();
    let sprayed: Vec<_> = plan
        .loadings
        .iter()
        .filter_map(|(_, loading)| Some((loading.loads.first()?.leaves, loading.end, Stroke::Work)))
        .collect();
    let ticks: Vec<_> = times.iter().map(|at| (*at, *at, Stroke::Tick)).collect();
    times.extend(sprayed.iter().map(|(from, ..)| *from));
    times.sort_unstable();
    let treating = match &times[..] {
        [] => String::new(),
        [only] => display.clock(*only),
        [first, .., last] => {
            let (from, to) = match last.duration_since(*first).as_hours() {
                0..24 => (display.clock(*first), display.clock(*last)),
                _ => (display.weekday(*first), display.weekday(*last)),
            };
            words.fill_with("chart.lane.treated", &[("from", from), ("to", to)])
        }
    };
    let all = [
        lane("chart.lane.make", making, runs.collect()),
        lane(
            "chart.lane.load",
            loading,
            plan.loadings
                .iter()
                .filter_map(|(_, loading)| Some((loading.begin, loading.loads.last()?.leaves, Stroke::Work)))
                .collect(),
        ),
        lane("chart.lane.treat", treating, sprayed.into_iter().chain(ticks).collect()),
    ];
    all.into_iter().filter(|lane| !lane.stretches.is_empty()).collect()
}

impl Lane {
    /// Draws the lane with its top at `top`: on a phone its words stand over its bars, at the desk beside them.
    pub(super) fn draw(
        &self,
        canvas: &mut Canvas,
        plan: &Plan,
        (x, width): (&Axis, f64),
        top: f64,
        size: Size,
    ) {
        let place = |at: Timestamp| {
            let seconds = at.duration_since(plan.bins.start).as_secs() as f64;
            x.held(seconds / plan.bins.step.as_secs().max(1) as f64)
        };
        let (bar, tall) = if size == Size::Wide { (top + 7.0, 18.0) } else { (top + 24.0, 12.0) };
        let (mut first, mut last) = (f64::MAX, f64::MIN);
        for (from, to, stroke) in &self.stretches {
            let (from, to) = (place(*from), place(*to));
            (first, last) = (first.min(from), last.max(to));
            match stroke {
                Stroke::Work => canvas.rect("c-run", from, bar, (to - from).max(3.0), tall),
                Stroke::Wait if to > from => canvas.rect("c-soft", from, bar, to - from, tall),
                Stroke::Wait => {}
                Stroke::Tick => canvas.rect("c-tick-bar", from - 1.0, bar, 2.5, tall),
            }
        }
        if size == Size::Wide {
            canvas.text("c-name c-end", x.start - 12.0, bar + 14.0, &self.name);
            let long = LETTER * self.says.chars().count() as f64;
            if last + 10.0 + long < width {
                canvas.text("", last + 10.0, bar + 14.0, &self.says);
            } else if first - 10.0 - long > x.start {
                canvas.text("c-end", first - 10.0, bar + 14.0, &self.says);
            } else {
                canvas.text("c-halo c-end", x.end, bar + 14.0, &self.says);
            }
        } else {
            canvas.text("c-name", 0.0, top + 17.0, &self.name);
            canvas.text("c-end", width, top + 17.0, &self.says);
        }
        let foot = if size == Size::Wide { top + 30.0 } else { top + 42.0 };
        canvas.line("c-grid", (0.0, foot), (width, foot));
    }
}

/// Clock times under an axis of quarter hours, as close as they have room; midnight with its day.
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
        let half = label.chars().count() as f64 * 4.6;
        if at - half > last_end + 6.0 && at + half < x.end + 8.0 && at - half > x.start - 8.0 {
            canvas.text("c-tick c-mid", at, base + 20.0, &label);
            last_end = at + half;
        }
    }
}
