//! A road over the hours of a plan: how warm it is, at what the liquid on it freezes, what falls, and when it may
//! freeze.

use jiff::Timestamp;
use planner::Plan;
use planner::roads::{Strip, StripHour};
use quantity::{celsius, in_millimetres};

use super::Size;
use super::canvas::{Axis, Canvas, round_step, ticks};
use super::hours::clock_ticks;
use crate::Display;
use crate::display::number;
use crate::road_words::{LIKELY, MAY};
use crate::words::Words;

/// What the chart shows.
#[derive(Debug, Clone)]
pub struct RoadStrip<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// Name of the road.
    pub title: &'a str,
    /// The plan whose hours are drawn.
    pub plan: &'a Plan,
    /// The road.
    pub strip: &'a Strip,
    /// When it is treated, in the middle story.
    pub treated: &'a [Timestamp],
    /// What the chart says, in a sentence or two.
    pub says: &'a str,
}

/// Height of what falls, and of the plot, px: phone, wide.
const FALLS: f64 = 30.0;
const TALL: [f64; 2] = [124.0, 150.0];
/// The heaviest hour fills the strip, but no less than this, mm in an hour.
const FULL_MM: f64 = 0.5;
/// Water and ice on a road below which no freezing point is drawn, mm.
const FILM: f64 = 0.02;

/// Draws the chart.
pub fn road_strip(chart: &RoadStrip<'_>, size: Size, display: &Display, words: &Words) -> String {
    let hours = &chart.strip.hours;
    let is_wide = size == Size::Wide;
    let width = size.width();
    let (left, right) = (if is_wide { 52.0 } else { 40.0 }, width - 4.0);
    let falls = if chart.plan.hours.iter().any(|hour| hour.wet) { FALLS } else { 0.0 };
    let (top, base) = (falls + 22.0, falls + 22.0 + TALL[usize::from(is_wide)]);
    let id = format!("{}-{}", chart.id, size.suffix());
    let mut canvas = Canvas::new(size, width, base + 46.0, &id, chart.title, chart.says);
    canvas.patterns(&id);
    canvas.thin_hatching(&id);
    let shown = |at: f64| display.temperature_value(celsius(at));
    let freezing = shown(0.0);
    let lows = hours.iter().map(|hour| shown(hour.surface[0]));
    let highs = hours.iter().map(|hour| shown(hour.surface[2]));
    // Room for the words under the lowest point.
    let low = lows.fold(freezing, f64::min) - 10.0;
    let high = highs.fold(freezing, f64::max) + 4.0;
    let x = Axis { from: 0.0, to: 4.0 * hours.len() as f64, start: left, end: right };
    let y = Axis { from: low, to: high, start: base, end: top };
    let of = |hour: usize| x.at(4.0 * hour as f64);
    for (state, from, to) in states(hours) {
        let corners = [(of(from), top), (of(to), top), (of(to), base), (of(from), base)];
        match state {
            State::Dry => {}
            State::Wet => canvas.rect("c-wet", of(from), top, of(to) - of(from), base - top),
            State::May => canvas.path("c-ice", &corners, true, Some(&format!("{id}-may"))),
            State::Likely => canvas.path("c-ice", &corners, true, Some(&format!("{id}-ice"))),
        }
    }
    for tick in ticks(low, high, round_step(high - low, 3.0)) {
        canvas.line("c-grid", (x.start, y.at(tick)), (x.end, y.at(tick)));
        canvas.text("c-tick c-end", x.start - 5.0, y.at(tick) + 5.0, &format!("{}°", number(tick, 0)));
    }
    canvas.line("c-zero", (x.start, y.at(freezing)), (x.end, y.at(freezing)));
    falling(&mut canvas, chart.plan, &of, falls, &id);
    let middle = |hour: usize| of(hour) + 0.5 * (of(1) - of(0));
    let mut band: Vec<_> =
        hours.iter().enumerate().map(|(hour, one)| (middle(hour), y.held(shown(one.surface[2])))).collect();
    band.extend(
        hours.iter().enumerate().rev().map(|(hour, one)| (middle(hour), y.held(shown(one.surface[0])))),
    );
    canvas.path("c-band", &band, true, None);
    let road: Vec<_> =
        hours.iter().enumerate().map(|(hour, one)| (middle(hour), y.held(shown(one.surface[1])))).collect();
    canvas.path("c-curve", &road, false, None);
    // The freezing point of what lies there, where something does.
    let mut line: Vec<(f64, f64)> = Vec::new();
    for (hour, one) in hours.iter().enumerate() {
        let film = one.middle.film;
        if film.all_water() > FILM {
            line.push((middle(hour), y.held(shown(film.freezing_point().min(0.0)))));
        } else {
            canvas.path("c-film", &line, false, None);
            line.clear();
        }
    }
    canvas.path("c-film", &line, false, None);
    for at in chart.treated {
        let place = at.duration_since(chart.plan.window[0]).as_secs_f64() / 900.0;
        let at = x.at(place);
        canvas.line("c-pass", (at, top), (at, base));
        canvas.path(
            "c-pointer",
            &[(at - 7.0, base + 11.0), (at + 7.0, base + 11.0), (at, base + 1.0)],
            true,
            None,
        );
    }
    if let Some(hour) = hours.iter().position(|hour| hour.slippery >= MAY) {
        let at = of(hour);
        canvas.line("c-stop c-act", (at, top - 14.0), (at, base));
        let clock = display.clock(hours[hour].start);
        let text = if is_wide { words.fill("chart.may-freeze", &[("at", &clock)]) } else { clock };
        let (class, place) = if at > 0.5 * (left + right) { ("c-end", at - 6.0) } else { ("", at + 6.0) };
        canvas.text(&format!("c-name c-word-act c-halo {class}"), place, top - 6.0, &text);
    }
    let coldest = (0..hours.len()).min_by(|a, b| hours[*a].surface[1].total_cmp(&hours[*b].surface[1]));
    if let Some(hour) = coldest {
        let at = middle(hour).clamp(x.start + 24.0, x.end - 24.0);
        let text = display.temperature(celsius(hours[hour].surface[1]));
        // Under the line, where the axis leaves room: it is lowest there.
        let under = (y.held(shown(hours[hour].surface[0])) + 18.0).min(base - 5.0);
        canvas.text("c-name c-halo c-mid", at, under, &text);
    }
    canvas.line("c-axis", (x.start, base), (x.end, base));
    clock_ticks(&mut canvas, chart.plan, &x, base + 22.0, size, display);
    canvas.finish()
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Dry,
    Wet,
    May,
    Likely,
}

/// Stretches of hours alike: state, from, to.
fn states(hours: &[StripHour]) -> Vec<(State, usize, usize)> {
    let mut found: Vec<(State, usize, usize)> = Vec::new();
    for (place, hour) in hours.iter().enumerate() {
        let state = if hour.slippery >= LIKELY {
            State::Likely
        } else if hour.slippery >= MAY {
            State::May
        } else if hour.middle.film.all_water() > FILM {
            State::Wet
        } else {
            State::Dry
        };
        match found.last_mut() {
            Some(last) if last.0 == state => last.2 = place + 1,
            _ => found.push((state, place, place + 1)),
        }
    }
    found
}

/// What falls, hanging from the top.
fn falling(canvas: &mut Canvas, plan: &Plan, of: &dyn Fn(usize) -> f64, falls: f64, id: &str) {
    if falls <= 0.0 {
        return;
    }
    let heaviest = plan.hours.iter().map(|hour| in_millimetres(hour.liquid)).fold(FULL_MM, f64::max);
    let width = (of(1) - of(0) - 0.8).max(1.0);
    canvas.line("c-axis", (of(0), 0.5), (of(plan.hours.len()), 0.5));
    for (hour, road) in plan.hours.iter().enumerate().filter(|(_, road)| road.wet) {
        let tall = (in_millimetres(road.liquid) / heaviest * (falls - 4.0)).max(0.2 * falls);
        let frozen = tall * road.frozen_share;
        let at = of(hour);
        canvas.rect("c-rain", at, 0.0, width, tall - frozen);
        canvas.rect("c-snow", at, tall - frozen, width, frozen);
        let corners = [(at, tall - frozen), (at + width, tall - frozen), (at + width, tall), (at, tall)];
        canvas.path("c-ice", &corners, true, Some(&format!("{id}-ice")));
    }
}
