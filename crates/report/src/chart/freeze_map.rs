//! The freeze map: strength against temperature, the curve that matters, every tank a mark, the forecast a band.

use chemistry::freezing::{self, EUTECTIC_PERCENT};
use chemistry::{Brine, MassFraction};
use quantity::{ThermodynamicTemperature, celsius};

use super::Size;
use super::canvas::{Axis, Canvas, ticks};
use crate::Display;
use crate::words::Words;

/// Weakest and strongest strength drawn, per cent.
const STRENGTHS: (f64, f64) = (14.0, 28.0);
/// Coldest and warmest temperature drawn, °C: about −12 and 50 °F.
const TEMPERATURES: (f64, f64) = (-24.5, 10.0);
/// Half the side of a mark, px.
const MARK: f64 = 14.0;

/// A tank on the map.
#[derive(Debug, Clone)]
pub struct TankMark {
    /// Short name at the mark, usually the tank's id.
    pub label: String,
    /// Strength of its content: the mark's place along the bottom.
    pub strength: MassFraction,
    /// Temperature of its content, as far as known.
    pub temperature: ThermodynamicTemperature,
    /// Something must be done about it.
    pub needs_act: bool,
}

/// What the map shows.
#[derive(Debug, Clone)]
pub struct FreezeMap<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// Tanks to mark; only those whose strength is known.
    pub marks: &'a [TankMark],
    /// Coldest and warmest air ahead.
    pub ahead: Option<[ThermodynamicTemperature; 2]>,
    /// What the map says, in a sentence or two.
    pub says: &'a str,
}

/// Draws the map.
pub fn freeze_map(map: &FreezeMap<'_>, size: Size, display: &Display, words: &Words) -> String {
    let (width, height, left, bottom) = match size {
        Size::Phone => (340.0, 330.0, 40.0, 46.0),
        Size::Wide => (640.0, 420.0, 52.0, 48.0),
    };
    let id = format!("{}-{}", map.id, if size == Size::Phone { "p" } else { "w" });
    let mut canvas = Canvas::new(size, width, height, &id, words.say("chart.freeze-map"), map.says);
    canvas.patterns(&id);
    let value = |c: f64| display.temperature_value(celsius(c));
    let x = Axis { from: STRENGTHS.0, to: STRENGTHS.1, start: left, end: width - 12.0 };
    let y =
        Axis { from: value(TEMPERATURES.0), to: value(TEMPERATURES.1), start: height - bottom, end: 14.0 };
    let ice: Vec<(f64, f64)> = curve(STRENGTHS.0, EUTECTIC_PERCENT, 40)
        .into_iter()
        .map(|(w, c)| (x.at(w), y.at(value(c))))
        .collect();
    let salt: Vec<(f64, f64)> = (0..=60)
        .filter_map(|n| {
            let c = -21.1 + (TEMPERATURES.1 + 21.1) * f64::from(n) / 60.0;
            let w = freezing::strength_saturated_at(celsius(c)).ok()?.percent();
            Some((x.at(w), y.at(value(c))))
        })
        .collect();
    areas(&mut canvas, &id, &ice, &salt, &x, &y);
    if let Some([low, high]) = map.ahead {
        let (top, base) = (y.held(display.temperature_value(high)), y.held(display.temperature_value(low)));
        canvas.rect("c-band", x.start, top, x.end - x.start, (base - top).max(2.0));
    }
    canvas.path("c-curve", &ice, false, None);
    canvas.path("c-curve", &salt, false, None);
    axes(&mut canvas, &x, &y, size, display, words, (width, height));
    let zone = |canvas: &mut Canvas, key: &str, w: f64, c: f64| {
        canvas.text("c-zone", x.at(w), y.at(value(c)), words.say(key));
    };
    zone(&mut canvas, "chart.zone.ice", 17.0, -21.0);
    zone(&mut canvas, "chart.zone.liquid", 17.2, 6.8);
    zone(&mut canvas, "chart.zone.salt", 25.7, -22.0);
    marks(&mut canvas, map.marks, &x, &y, display);
    canvas.finish()
}

/// Ice curve as (per cent, °C).
fn curve(from: f64, to: f64, steps: u32) -> Vec<(f64, f64)> {
    (0..=steps)
        .filter_map(|n| {
            let percent = from + (to - from) * f64::from(n) / f64::from(steps);
            let brine = MassFraction::from_percent(percent).and_then(Brine::sodium_chloride).ok()?;
            let first = brine.first_solid().ok()?;
            Some((percent, quantity::in_celsius(first.temperature)))
        })
        .collect()
}

fn areas(canvas: &mut Canvas, id: &str, ice: &[(f64, f64)], salt: &[(f64, f64)], x: &Axis, y: &Axis) {
    let mut liquid = vec![(x.start, y.end)];
    liquid.extend(ice);
    liquid.extend(salt);
    canvas.path("c-liquid", &liquid, true, None);
    let foot = ice.last().map_or(x.end, |p| p.0);
    let mut frozen = vec![(x.start, y.start)];
    frozen.extend(ice);
    frozen.push((foot, y.start));
    canvas.path("c-ice", &frozen, true, Some(&format!("{id}-ice")));
    let mut dropped = vec![(foot, y.start)];
    dropped.extend(salt);
    dropped.extend([(x.end, y.end), (x.end, y.start)]);
    canvas.path("c-salt", &dropped, true, Some(&format!("{id}-salt")));
}

fn axes(
    canvas: &mut Canvas,
    x: &Axis,
    y: &Axis,
    size: Size,
    display: &Display,
    words: &Words,
    (width, height): (f64, f64),
) {
    canvas.line("c-axis", (x.start, y.start), (x.end, y.start));
    canvas.line("c-axis", (x.start, y.start), (x.start, y.end));
    let step = if display.temperature_unit() == "°F" { 10.0 } else { 5.0 };
    for tick in ticks(y.from, y.to, step) {
        canvas.line("c-axis", (x.start - 5.0, y.at(tick)), (x.start, y.at(tick)));
        canvas.text("c-tick c-end", x.start - 8.0, y.at(tick) + 5.0, &crate::display::number(tick, 0));
    }
    for tick in ticks(x.from, x.to, if size == Size::Phone { 4.0 } else { 2.0 }) {
        canvas.line("c-axis", (x.at(tick), y.start), (x.at(tick), y.start + 5.0));
        canvas.text("c-tick c-mid", x.at(tick), y.start + 20.0, &crate::display::number(tick, 0));
    }
    canvas.text("c-tick", 2.0, 14.0, display.temperature_unit());
    canvas.text("c-tick c-mid", (x.start + width) / 2.0, height - 6.0, words.say("chart.strength-axis"));
}

/// Marks, moved aside with a leader where two would lie on each other.
pub(super) fn marks(canvas: &mut Canvas, marks: &[TankMark], x: &Axis, y: &Axis, display: &Display) {
    let step = 2.0 * MARK + 6.0;
    let shifts =
        [(0.0, 0.0), (step, 0.0), (-step, 0.0), (0.0, -step), (0.0, step), (step, -step), (-step, -step)];
    let mut placed: Vec<(f64, f64)> = Vec::new();
    for mark in marks {
        let at = (x.held(mark.strength.percent()), y.held(display.temperature_value(mark.temperature)));
        let free =
            |p: &(f64, f64)| placed.iter().all(|q| (p.0 - q.0).abs() >= step || (p.1 - q.1).abs() >= step);
        let held = |(dx, dy): (f64, f64)| {
            ((at.0 + dx).clamp(x.start + MARK, x.end - MARK), (at.1 + dy).clamp(y.end + MARK, y.start - MARK))
        };
        let to = shifts.into_iter().map(held).find(free).unwrap_or_else(|| held((0.0, 0.0)));
        if (to.0 - at.0).abs() + (to.1 - at.1).abs() > 1.0 {
            canvas.line("c-leader", at, to);
        }
        placed.push(to);
        let (cx, cy) = to;
        if mark.needs_act {
            let points = [(cx, cy - MARK - 4.0), (cx + MARK + 4.0, cy + MARK), (cx - MARK - 4.0, cy + MARK)];
            canvas.path("c-mark c-act", &points, true, None);
            canvas.text("c-mark-label c-mid", cx, cy + MARK - 3.0, &mark.label);
        } else {
            canvas.rect("c-mark", cx - MARK, cy - MARK, 2.0 * MARK, 2.0 * MARK);
            canvas.text("c-mark-label c-mid", cx, cy + 6.0, &mark.label);
        }
    }
}
