//! The cover chart: brine needed, as a fan, against brine on hand, as steps; over it what falls, under it the work.

use planner::Plan;
use planner::outlook::Case;
use quantity::{cubic_metres, in_celsius, in_gallons, in_litres, in_millimetres};
use site::UnitSystem;

use super::Size;
use super::canvas::{Axis, Canvas, apart, round_step, ticks};
use super::hours::{clock_ticks, lanes};
use crate::Display;
use crate::words::Words;

/// What the chart shows.
#[derive(Debug, Clone)]
pub struct CoverChart<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// The plan whose brine on hand and needed is drawn.
    pub plan: &'a Plan,
    /// Whether the work of the hours stands below: making, loading, treating.
    pub with_work: bool,
    /// What the chart says, in a sentence or two.
    pub says: &'a str,
}

/// Height of what falls, px; none where nothing is forecast to fall.
const FALLS: f64 = 34.0;
/// The heaviest hour fills the strip, but no less than this, mm in an hour.
const FULL_MM: f64 = 0.5;

/// Draws the chart.
pub fn cover_chart(chart: &CoverChart<'_>, size: Size, display: &Display, words: &Words) -> String {
    let plan = chart.plan;
    let is_wide = size == Size::Wide;
    let width = size.width();
    let (left, right) = if is_wide { (92.0, width - 110.0) } else { (52.0, width - 4.0) };
    let falls = if plan.hours.iter().any(|hour| hour.wet) { FALLS } else { 0.0 };
    let tall = if is_wide { 226.0 } else { 124.0 };
    let (top, base) = (falls + 26.0, falls + 26.0 + tall);
    let work = if chart.with_work { lanes(plan, display, words) } else { Vec::new() };
    let lane = if is_wide { 30.0 } else { 42.0 };
    // On a phone the words of the first lane stand under the nought of the axis.
    let lanes_top = base + if is_wide { 0.0 } else { 12.0 };
    let foot = lanes_top + lane * work.len() as f64 + 6.0;
    let id = format!("{}-{}", chart.id, size.suffix());
    let mut canvas = Canvas::new(size, width, foot + 24.0, &id, words.say("chart.cover"), chart.says);
    canvas.patterns(&id);
    let x = Axis { from: 0.0, to: plan.bins.count as f64, start: left, end: right };
    if falls > 0.0 {
        falling(&mut canvas, plan, &x, &id);
        let water = words.fill("chart.water", &[("water", &display.water(plan.precipitation))]);
        let first = plan.hours.iter().position(|hour| hour.wet).unwrap_or(0) as f64 * 4.0;
        if x.at(first) - x.start > 110.0 {
            canvas.text("c-name c-end", x.at(first) - 6.0, 18.0, &water);
        } else {
            let last = plan.hours.iter().rposition(|hour| hour.wet).unwrap_or(0) as f64 * 4.0 + 4.0;
            let at = if right - x.at(last) > 110.0 {
                (x.at(last) + 6.0, 18.0)
            } else {
                (x.start + 4.0, FALLS + 14.0)
            };
            canvas.text("c-name c-halo", at.0, at.1, &water);
        }
    }

    let volume = |m3: f64| match display.units {
        UnitSystem::Us => in_gallons(cubic_metres(m3)),
        UnitSystem::Si => in_litres(cubic_metres(m3)),
    };
    let in_hand = quantity::in_cubic_metres(plan.in_hand);
    let last = plan.bins.count.saturating_sub(1);
    let have: Vec<f64> = plan.schedule.ready_by.iter().map(|ready| volume(in_hand + ready)).collect();
    let need = |values: &[f64], bin: usize| volume(values.get(bin).copied().unwrap_or(0.0));
    let most = have.iter().copied().fold(need(&plan.brine_band.high, last), f64::max).max(100.0) * 1.08;
    let y = Axis { from: 0.0, to: most, start: base, end: top };
    let unit = if display.units == UnitSystem::Us { "gal" } else { "L" };
    for tick in ticks(0.0, most, round_step(most, 3.0)) {
        if tick > 0.0 {
            canvas.line("c-grid", (x.start, y.at(tick)), (x.end, y.at(tick)));
        }
        // The unit stands once, at nought.
        let label = crate::display::number(tick, 0);
        let label = if tick > 0.0 { label } else { format!("{label} {unit}") };
        canvas.text("c-tick c-end", x.start - 6.0, y.at(tick) + 5.0, &label);
    }

    let points = |values: &[f64]| -> Vec<(f64, f64)> {
        (0..=last).map(|bin| (x.at(bin as f64 + 1.0), y.at(need(values, bin)))).collect()
    };
    let mut fan = points(&plan.brine_band.high);
    let mut low = points(&plan.brine_band.low);
    low.reverse();
    fan.extend(low);
    canvas.path("c-fan", &fan, true, None);
    canvas.path("c-need", &points(&plan.brine_band.mid), false, None);
    let flat = y.at(volume(in_hand));
    let end = have.last().copied().unwrap_or_else(|| volume(in_hand));
    let is_made = end > volume(in_hand) * 1.001 + 1e-9;
    if is_made {
        canvas.line("c-have c-dash", (x.start, flat), (x.end, flat));
    }
    canvas.path("c-have", &steps(&have, volume(in_hand), &x, &y), false, None);

    let said = |value: f64| match display.units {
        UnitSystem::Us => display.volume(quantity::gallons(value)),
        UnitSystem::Si => display.volume(quantity::litres(value)),
    };
    let needed = need(&plan.brine_band.mid, last);
    // Against the need that the yard covers, as the sentence under the chart has it.
    if let Some(bin) = plan.schedule.stock_without.iter().position(|stock| *stock < -1e-4) {
        let (cx, cy) = (x.at(bin as f64 + 1.0), flat);
        canvas.ring("c-mark c-act", (cx, cy), 5.5);
        let at = display.clock(plan.bins.at(bin));
        let text =
            words.fill(if is_wide { "chart.short-without" } else { "chart.short-from" }, &[("at", &at)]);
        let half = 3.9 * text.chars().count() as f64;
        let below = if cy + 24.0 < base - 4.0 { cy + 22.0 } else { cy - 12.0 };
        let (from, to) = (x.start + half, (x.end - half).max(x.start + half));
        // Before the ring nothing is needed yet: there is room, unless it comes at once.
        if cx - x.start > 2.0 * half + 12.0 {
            canvas.text("c-name c-word-act c-halo c-end", cx - 10.0, below, &text);
        } else if !is_wide && cy + 44.0 < base {
            // On a phone it stands on the ground, clear of the lines.
            canvas.text("c-name c-word-act c-halo", x.start + 5.0, base - 8.0, &text);
        } else {
            canvas.text("c-name c-word-act c-halo c-mid", (cx + half * 0.6).clamp(from, to), below, &text);
        }
    }
    let now = words.fill("chart.now", &[("volume", &said(volume(in_hand)))]);
    if is_made {
        canvas.text("c-word-brine c-halo", x.start + 5.0, flat - 9.0, &now);
    }
    let (on_hand, wanted) = (said(end), said(needed));
    let ends = [
        (y.at(end), "chart.on-hand", on_hand, "c-word-brine"),
        (y.at(needed), "chart.needed", wanted, "c-word-act"),
    ];
    let gap = if is_wide { 38.0 } else { 20.0 };
    // On a phone they stand on their lines, the lower one under its own.
    let stands = |at: f64, is_lower: bool| match (is_wide, is_lower) {
        (true, _) => at,
        (false, true) => at + 20.0,
        (false, false) => at - 7.0,
    };
    let lower = usize::from(end > needed);
    let wanted: Vec<f64> =
        ends.iter().enumerate().map(|(place, (at, ..))| stands(*at, place == lower)).collect();
    for ((_, key, value, class), at) in ends.iter().zip(apart(&wanted, gap, (top - 8.0, base - 6.0))) {
        if is_wide {
            canvas.text(&format!("c-name {class}"), x.end + 8.0, at, value);
            canvas.text("c-tick", x.end + 8.0, at + 17.0, words.say(key));
        } else {
            canvas.text(
                &format!("c-name c-halo c-end {class}"),
                x.end - 2.0,
                at,
                &format!("{value} {}", words.say(key)),
            );
        }
    }
    canvas.line("c-axis", (x.start, base), (x.end, base));
    for (place, row) in (0..).zip(&work) {
        row.draw(&mut canvas, plan, (&x, width), lanes_top + lane * f64::from(place), size);
    }
    clock_ticks(&mut canvas, plan, &x, foot, size, display);
    canvas.finish()
}

/// On hand as it steps up, from what is there now.
fn steps(have: &[f64], now: f64, x: &Axis, y: &Axis) -> Vec<(f64, f64)> {
    let mut line = vec![(x.start, y.at(now))];
    let mut before = now;
    for (bin, value) in have.iter().enumerate() {
        if (value - before).abs() > 1e-9 {
            line.extend([
                (x.at((bin as f64 - 1.0).max(0.0)), y.at(before)),
                (x.at(bin as f64), y.at(*value)),
            ]);
            before = *value;
        }
    }
    line.push((x.end, y.at(before)));
    line
}

/// What falls, hanging from the top, and a strip where the road is at or below freezing.
fn falling(canvas: &mut Canvas, plan: &Plan, x: &Axis, id: &str) {
    let heaviest = plan.hours.iter().map(|hour| in_millimetres(hour.liquid)).fold(FULL_MM, f64::max);
    let width = (x.at(4.0) - x.at(0.0) - 0.8).max(1.0);
    canvas.line("c-axis", (x.start, 0.5), (x.end, 0.5));
    for (hour, road) in plan.hours.iter().enumerate() {
        let left = x.at(hour as f64 * 4.0);
        // A trace, or an amount not known, still shows.
        let full = in_millimetres(road.liquid) / heaviest * (FALLS - 6.0);
        let tall = if road.wet { full.max(0.2 * FALLS) } else { 0.0 };
        if tall > 0.0 {
            let frozen = tall * road.frozen_share;
            canvas.rect("c-rain", left, 0.0, width, tall - frozen);
            canvas.rect("c-snow", left, tall - frozen, width, frozen);
            let corners =
                [(left, tall - frozen), (left + width, tall - frozen), (left + width, tall), (left, tall)];
            canvas.path("c-ice", &corners, true, Some(&format!("{id}-ice")));
        }
        if road.pavement(Case::Mid).is_some_and(|t| in_celsius(t) <= 1e-6) {
            canvas.rect("c-cold", left, FALLS - 4.0, width + 0.8, 4.0);
        }
    }
}
