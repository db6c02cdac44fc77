//! The freeze map: strength against temperature, the curve that matters, every tank a mark, the forecast a band.

use chemistry::freezing::{self, EUTECTIC_PERCENT};
use chemistry::{Brine, MassFraction};
use quantity::{ThermodynamicTemperature, celsius, in_celsius};

use super::Size;
use super::canvas::{Axis, Canvas, ticks};
use super::flags::{FLAGS, flags};
use crate::Display;
use crate::words::Words;

/// Weakest and strongest strength drawn, per cent, where no tank lies beyond them.
const STRENGTHS: (f64, f64) = (16.0, 28.0);
/// Coldest and warmest temperature drawn, °C: about −12 and 46 °F, where no tank is warmer.
const TEMPERATURES: (f64, f64) = (-24.5, 8.0);

/// Where the last liquid of salt brine is gone, °C (CRC): below it there is neither ice beside brine nor salt beside
/// brine.
const EUTECTIC_CELSIUS: f64 = -21.1;
/// Where the names of the fields of ice and of salt, and of the field of both, are written, °C.
const ZONES: f64 = -18.5;
const SOLID: f64 = -23.3;

/// A tank on the map.
#[derive(Debug, Clone)]
pub struct TankMark {
    /// Short name at the flag, such as `Tank 3`.
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
    let width = size.width();
    let (height, left) = if size == Size::Phone { (312.0, 36.0) } else { (372.0, 46.0) };
    let id = format!("{}-{}", map.id, size.suffix());
    let mut canvas = Canvas::new(size, width, height, &id, words.say("chart.freeze-map"), map.says);
    canvas.patterns(&id);
    let value = |c: f64| display.temperature_value(celsius(c));
    let strengths = || map.marks.iter().map(|mark| mark.strength.percent());
    // Points never move: what lies beyond the usual ends widens them.
    let weakest = strengths().map(|w| w.floor()).fold(STRENGTHS.0, f64::min);
    let strongest = strengths().map(|w| w.ceil()).fold(STRENGTHS.1, f64::max);
    let tanks = || map.marks.iter().map(|mark| in_celsius(mark.temperature));
    let coldest = tanks().map(|c| c - 1.0).fold(TEMPERATURES.0, f64::min);
    let warmest = tanks().map(|c| c + 1.0).fold(TEMPERATURES.1, f64::max);
    let x = Axis { from: weakest, to: strongest, start: left, end: width - 8.0 };
    let y = Axis { from: value(coldest), to: value(warmest), start: height - 42.0, end: FLAGS };
    let ice: Vec<(f64, f64)> =
        curve(weakest, EUTECTIC_PERCENT, 40).into_iter().map(|(w, c)| (x.at(w), y.at(value(c)))).collect();
    let salt: Vec<(f64, f64)> = (0..=60)
        .filter_map(|n| {
            let c = EUTECTIC_CELSIUS + (warmest - EUTECTIC_CELSIUS) * f64::from(n) / 60.0;
            let w = freezing::strength_saturated_at(celsius(c)).ok()?.percent();
            Some((x.at(w), y.at(value(c))))
        })
        .collect();
    let end = y.at(value(EUTECTIC_CELSIUS));
    areas(&mut canvas, &id, [&ice, &salt], (&x, &y), end);
    if let Some([low, high]) = map.ahead {
        let (top, base) = (y.held(display.temperature_value(high)), y.held(display.temperature_value(low)));
        canvas.rect("c-band", x.start, top, x.end - x.start, (base - top).max(2.0));
    }
    canvas.path("c-curve", &ice, false, None);
    canvas.path("c-curve", &salt, false, None);
    canvas.line("c-axis", (x.start, end), (x.end, end));
    axes(&mut canvas, &x, &y, size, display, words, (width, height));
    let zone = |canvas: &mut Canvas, key: &str, w: f64, c: f64| {
        canvas.text("c-zone", x.at(w), y.at(value(c)), words.say(key));
    };
    zone(&mut canvas, "chart.zone.ice", f64::midpoint(weakest, 21.0), ZONES);
    zone(&mut canvas, "chart.zone.liquid", f64::midpoint(weakest, 21.0), TEMPERATURES.1 - 4.0);
    zone(&mut canvas, "chart.zone.salt", f64::midpoint(24.0, strongest), ZONES);
    zone(&mut canvas, "chart.zone.solid", f64::midpoint(weakest, strongest), SOLID);
    if let Some([low, high]) = map.ahead {
        let values = [("low", display.temperature(low)), ("high", display.temperature(high))];
        let middle =
            f64::midpoint(y.held(display.temperature_value(low)), y.held(display.temperature_value(high)));
        canvas.text("c-halo", x.start + 6.0, middle + 5.0, &words.fill_with("chart.air-ahead", &values));
    }
    flags(&mut canvas, map.marks, (&x, &y), display);
    canvas.finish()
}

/// Ice curve as (per cent, °C).
fn curve(from: f64, to: f64, steps: u32) -> Vec<(f64, f64)> {
    (0..=steps)
        .filter_map(|n| {
            let percent = from + (to - from) * f64::from(n) / f64::from(steps);
            let brine = MassFraction::from_percent(percent).and_then(Brine::sodium_chloride).ok()?;
            let first = brine.first_solid().ok()?;
            Some((percent, in_celsius(first.temperature)))
        })
        .collect()
}

/// The fields: liquid, ice beside brine, salt beside brine, and below the last liquid both.
fn areas(canvas: &mut Canvas, id: &str, [ice, salt]: [&[(f64, f64)]; 2], (x, y): (&Axis, &Axis), end: f64) {
    let mut liquid = vec![(x.start, y.end)];
    liquid.extend(ice);
    liquid.extend(salt);
    canvas.path("c-liquid", &liquid, true, None);
    let foot = ice.last().map_or(x.end, |p| p.0);
    let mut frozen = vec![(x.start, end)];
    frozen.extend(ice);
    frozen.push((foot, end));
    let mut dropped = vec![(foot, end)];
    dropped.extend(salt);
    dropped.extend([(x.end, y.end), (x.end, end)]);
    let solid = [(x.start, end), (x.end, end), (x.end, y.start), (x.start, y.start)];
    for (class, fields) in [("c-ice", [&frozen[..], &solid]), ("c-salt", [&dropped[..], &solid])] {
        let pattern = format!("{id}-{}", class.trim_start_matches("c-"));
        for field in fields {
            canvas.path(class, field, true, Some(&pattern));
        }
    }
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
        if (tick - x.to).abs() < 1e-9 && size == Size::Phone {
            continue;
        }
        canvas.line("c-axis", (x.at(tick), y.start), (x.at(tick), y.start + 5.0));
        canvas.text("c-tick c-mid", x.at(tick), y.start + 20.0, &crate::display::number(tick, 0));
    }
    canvas.text("c-tick", 0.0, y.end - 10.0, display.temperature_unit());
    canvas.text("c-tick c-mid", (x.start + width) / 2.0, height - 6.0, words.say("chart.strength-axis"));
}
