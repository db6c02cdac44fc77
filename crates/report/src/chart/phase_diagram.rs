//! The phase diagram of a blend: how strong it is against temperature, where ice and where salt appear, tanks as marks.
//!
//! Both lines are drawn at equilibrium: beside what came first. The upper comes first, and below the last liquid all is
//! solid.

use chemistry::equilibrium::{Onset, onset};
use chemistry::freezing::{Solid, on_cooling};
use chemistry::{Brine, MassFraction, Salt};
use quantity::{ThermodynamicTemperature, celsius, in_celsius};

use super::Size;
use super::canvas::{Axis, Canvas, ticks};
use super::flags::{FLAGS, flags};
use super::freeze_map::TankMark;
use crate::Display;
use crate::words::Words;

/// Coldest and warmest temperature drawn, °C.
const TEMPERATURES: (f64, f64) = (-40.0, 15.0);

/// What the diagram shows.
#[derive(Debug, Clone)]
pub struct PhaseDiagram<'a> {
    /// Prefix of element ids, unique on the page.
    pub id: &'a str,
    /// What stands along the bottom, with its unit.
    pub axis: &'a str,
    /// Places along the bottom, rising, with where ice and salt appear there; none where salt is out at 40 °C already.
    pub points: &'a [(f64, Option<Onset>)],
    /// Below this all is solid, by places along the bottom; empty where it is not known.
    pub solid_below: &'a [(f64, ThermodynamicTemperature)],
    /// Tanks; of each its place along the bottom stands in `strength`.
    pub marks: &'a [TankMark],
    /// Coldest and warmest air ahead.
    pub ahead: Option<[ThermodynamicTemperature; 2]>,
    /// What it says, in a sentence or two.
    pub says: &'a str,
}

/// Points of a blend's own diagram.
const POINTS: usize = 16;
/// Beside salt, ice is worked out at every third of them.
const APART: usize = 3;

/// A blend's salts in their ratio, from half its strength to a quarter more, with where ice and salt appear.
pub fn in_its_ratio(brine: &Brine) -> Vec<(f64, Option<Onset>)> {
    let whole = brine.strength().fraction();
    let thinned = |strength: f64| -> Option<Brine> {
        let part = |salt: Salt| {
            let part = MassFraction::from_fraction(brine.part(salt).fraction() * strength / whole);
            part.map(|part| (salt, part))
        };
        Brine::blend(&Salt::ALL.into_iter().map(part).collect::<Result<Vec<_>, _>>().ok()?).ok()
    };
    let (low, high) = (0.5 * whole, (1.25 * whole).min(0.45));
    let all: Vec<(f64, Brine, Option<Onset>)> = (0..=POINTS)
        .filter_map(|n| {
            let strength = low + (high - low) * n as f64 / POINTS as f64;
            let one = thinned(strength)?;
            Some((100.0 * strength, one, onset(&one).ok()))
        })
        .collect();
    let strongest = all.iter().rposition(|(.., found)| found.is_some()).unwrap_or(0);
    let mut beside_ice = None;
    let mut told = |n: usize, one: &Brine, alone: Onset| {
        let is_ice_first = alone.ice >= alone.salt.map(|(_, at)| at);
        if is_ice_first {
            // Of one ratio the liquid beside ice is the same, whatever the strength: so is where its salt comes.
            Onset { salt: *beside_ice.get_or_insert_with(|| salt_beside(one)), ..alone }
        } else if (strongest - n).is_multiple_of(APART) {
            on_cooling(one).unwrap_or(alone)
        } else {
            Onset { ice: None, ..alone }
        }
    };
    let mut points: Vec<(f64, Option<Onset>)> = all
        .iter()
        .enumerate()
        .map(|(n, (place, one, alone))| (*place, alone.map(|alone| told(n, one, alone))))
        .collect();
    between_known(&mut points);
    points
}

/// Where salt comes beside ice.
fn salt_beside(brine: &Brine) -> Option<(Solid, ThermodynamicTemperature)> {
    on_cooling(brine).ok()?.salt
}

/// Ice at the places where it was not worked out, on a line between its neighbors: beside salt its curve bends little.
fn between_known(points: &mut [(f64, Option<Onset>)]) {
    let known: Vec<(f64, f64)> =
        points.iter().filter_map(|(place, onset)| Some((*place, in_celsius(onset.as_ref()?.ice?)))).collect();
    for (place, onset) in points {
        let Some(onset) = onset.as_mut().filter(|onset| onset.ice.is_none()) else { continue };
        let pair = known.windows(2).find(|pair| (pair[0].0..=pair[1].0).contains(place));
        onset.ice = pair.map(|pair| {
            let share = (*place - pair[0].0) / (pair[1].0 - pair[0].0);
            celsius(pair[0].1 + share * (pair[1].1 - pair[0].1))
        });
    }
}

/// Draws the diagram.
pub fn phase_diagram(of: &PhaseDiagram<'_>, size: Size, display: &Display, words: &Words) -> String {
    let width = size.width();
    let (height, left, bottom) = if size == Size::Phone { (330.0, 40.0, 46.0) } else { (420.0, 52.0, 48.0) };
    let top = if of.marks.is_empty() { 22.0 } else { FLAGS };
    let id = format!("{}-{}", of.id, size.suffix());
    let mut canvas = Canvas::new(size, width, height, &id, words.say("chart.freeze-map"), of.says);
    canvas.patterns(&id);
    let value = |c: f64| display.temperature_value(celsius(c));
    let ends = (of.points.first().map_or(0.0, |p| p.0), of.points.last().map_or(1.0, |p| p.0));
    let x = Axis { from: ends.0, to: ends.1, start: left, end: width - 12.0 };
    let y = Axis { from: value(TEMPERATURES.0), to: value(TEMPERATURES.1), start: height - bottom, end: top };
    let at = |place: f64, t: f64| (x.at(place), y.held(value(t)));
    let line = |c: &dyn Fn(&Option<Onset>) -> Option<f64>| -> Vec<(f64, f64)> {
        of.points.iter().filter_map(|(place, onset)| Some(at(*place, c(onset)?))).collect()
    };
    let ice = line(&|onset| Some(in_celsius(onset.as_ref()?.ice?)));
    let salt = line(&salt_at);
    let upper = line(&|onset| Some(salt_at(onset).unwrap_or(TEMPERATURES.0).max(ice_at(onset))));
    let end: Vec<(f64, f64)> = of.solid_below.iter().map(|(place, t)| at(*place, in_celsius(*t))).collect();
    let closed = |line: &[(f64, f64)], end: f64| -> Vec<(f64, f64)> {
        let foot = |p: Option<&(f64, f64)>| p.map(|p| (p.0, end));
        foot(line.first()).into_iter().chain(line.iter().copied()).chain(foot(line.last())).collect()
    };
    canvas.path("c-liquid", &closed(&upper, y.end), true, None);
    canvas.path("c-salt", &closed(&salt, y.start), true, Some(&format!("{id}-salt")));
    canvas.path("c-ice", &closed(&ice, y.start), true, Some(&format!("{id}-ice")));
    if let Some([low, high]) = of.ahead {
        let (top, base) = (y.held(display.temperature_value(high)), y.held(display.temperature_value(low)));
        canvas.rect("c-band", x.start, top, x.end - x.start, (base - top).max(2.0));
    }
    // The lines themselves end where the drawing does.
    let inside = |line: Vec<(f64, f64)>| -> Vec<(f64, f64)> {
        line.into_iter().filter(|(_, at)| (y.end + 0.5..y.start - 0.5).contains(at)).collect()
    };
    canvas.path("c-curve", &inside(salt), false, None);
    canvas.path("c-curve c-dash", &inside(ice), false, None);
    for pair in inside(end).windows(2) {
        canvas.line("c-axis", pair[0], pair[1]);
    }
    axes(&mut canvas, (&x, &y), size, display, (of.axis, width, height));
    zones(&mut canvas, of, (&x, &y), display, words);
    flags(&mut canvas, of.marks, (&x, &y), display);
    canvas.finish()
}

/// Salt, °C. Out of solution at 40 °C already: above all that is drawn.
fn salt_at(onset: &Option<Onset>) -> Option<f64> {
    onset.as_ref().map_or(Some(TEMPERATURES.1), |found| found.salt.map(|(_, t)| in_celsius(t)))
}

/// Ice, °C; the lowest that is drawn where none comes.
fn ice_at(onset: &Option<Onset>) -> f64 {
    onset.as_ref().and_then(|found| found.ice).map_or(TEMPERATURES.0, in_celsius)
}

fn axes(
    canvas: &mut Canvas,
    (x, y): (&Axis, &Axis),
    size: Size,
    display: &Display,
    (label, width, height): (&str, f64, f64),
) {
    canvas.line("c-axis", (x.start, y.start), (x.end, y.start));
    canvas.line("c-axis", (x.start, y.start), (x.start, y.end));
    let step = if display.temperature_unit() == "°F" { 20.0 } else { 10.0 };
    for tick in ticks(y.from, y.to, step) {
        canvas.line("c-axis", (x.start - 5.0, y.at(tick)), (x.start, y.at(tick)));
        canvas.text("c-tick c-end", x.start - 8.0, y.at(tick) + 5.0, &crate::display::number(tick, 0));
    }
    let span = x.to - x.from;
    let wide = [2.0, 5.0, 10.0, 20.0].into_iter().find(|step| span / step <= 8.0).unwrap_or(25.0);
    for tick in ticks(x.from, x.to, if size == Size::Phone { 2.0 * wide } else { wide }) {
        canvas.line("c-axis", (x.at(tick), y.start), (x.at(tick), y.start + 5.0));
        canvas.text("c-tick c-mid", x.at(tick), y.start + 20.0, &crate::display::number(tick, 0));
    }
    canvas.text("c-tick", 0.0, y.end - 8.0, display.temperature_unit());
    canvas.text("c-tick c-mid", (x.start + width) / 2.0, height - 6.0, label);
}

/// Names of the fields, each where it is widest.
fn zones(
    canvas: &mut Canvas,
    of: &PhaseDiagram<'_>,
    (x, y): (&Axis, &Axis),
    display: &Display,
    words: &Words,
) {
    let value = |c: f64| display.temperature_value(celsius(c));
    let held = |t: f64| t.clamp(TEMPERATURES.0, TEMPERATURES.1);
    // At each place: the floor and the ceiling of liquid, of salt beside liquid, of ice beside liquid, and of neither.
    let mut best = [(0.0, 0.0, 0.0); 4];
    for (place, onset) in of.points {
        let near = |one: &&(f64, ThermodynamicTemperature)| (one.0 - place).abs();
        let end = of.solid_below.iter().min_by(|a, b| near(a).total_cmp(&near(b)));
        let end = held(end.map_or(TEMPERATURES.0, |(_, t)| in_celsius(*t)));
        let (ice, salt) = (held(ice_at(onset)), held(salt_at(onset).unwrap_or(TEMPERATURES.0)));
        let fields =
            [(ice.max(salt), TEMPERATURES.1), (ice, salt), (salt.max(end), ice), (TEMPERATURES.0, end)];
        // Nearer the middle is better: a label needs room to both sides.
        let middle = 1.0 - ((place - x.from) / (x.to - x.from) - 0.5).abs();
        // The field of salt is widest low down.
        let heights = [0.5, 0.2, 0.5, 0.5];
        for ((kept, (floor, top)), height) in best.iter_mut().zip(fields).zip(heights) {
            let room = (top - floor) * middle;
            if room > kept.0 {
                *kept = (room, *place, floor + height * (top - floor));
            }
        }
    }
    let keys = ["chart.zone.liquid", "chart.zone.salt-and-brine", "chart.zone.ice", "chart.zone.solid"];
    for ((room, place, t), key) in best.into_iter().zip(keys) {
        if room > 3.0 {
            let half = 4.4 * words.say(key).chars().count() as f64;
            let across = x.at(place).clamp(x.start + half, (x.end - half).max(x.start + half));
            canvas.text("c-zone", across, y.at(value(t)) + 5.0, words.say(key));
        }
    }
}
