//! Possible causes of a run that goes wrong, and the inspection that tells two of them apart.

use super::Seen;
use crate::Error;
use crate::fault::{Fault, Onset};
use crate::layout::{End, Layout, LineKind, Sensed};
use crate::model::Plant;

use super::ensemble::{allowance, says_something};

/// A cause by its kind and the index of its part, whatever its size.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Cause {
    /// Nothing is broken: the plant differs from its layout.
    Otherwise,
    /// [`Fault::Unprimed`], with the index of the line.
    Unprimed(usize),
    /// [`Fault::Bridging`] or [`Fault::SaltOut`]: no salt falls from this feeder.
    NothingFalls(usize),
    /// [`Fault::TooOpen`], with the index of the feeder.
    TooOpen(usize),
    /// [`Fault::TooClosed`], with the index of the feeder.
    TooClosed(usize),
    /// [`Fault::SludgeFull`], with the index of the vessel.
    SludgeFull(usize),
    /// [`Fault::Channelled`], with the index of the vessel.
    Channelled(usize),
    /// [`Fault::ColdSupply`]: the water is colder.
    ColdSupply,
    /// [`Fault::WeakSupply`]: the supply gives less.
    WeakSupply,
    /// [`Fault::Stuck`], with the index of the line.
    Stuck(usize),
    /// [`Fault::LeakingFill`], with the index of the vessel.
    LeakingFill(usize),
    /// [`Fault::FouledCell`] or [`Fault::UncoveredCell`], with the index of the sensor.
    Cell(usize),
    /// [`Fault::DriftedTrim`]: the trim setting was moved.
    DriftedTrim,
    /// [`Fault::MeterDrift`], with the index of the sensor.
    MeterDrift(usize),
}

impl Cause {
    /// Returns the cause that a fault is an instance of; none for one that no sensor of the plant shows.
    pub fn of(fault: &Fault) -> Option<Self> {
        Some(match *fault {
            Fault::Unprimed { line } => Self::Unprimed(line),
            Fault::Bridging { feeder } => Self::NothingFalls(feeder),
            Fault::SaltOut { store } => Self::NothingFalls(store),
            Fault::TooOpen { feeder, .. } => Self::TooOpen(feeder),
            Fault::TooClosed { feeder, .. } => Self::TooClosed(feeder),
            Fault::SludgeFull { vessel } => Self::SludgeFull(vessel),
            Fault::Channelled { vessel, .. } => Self::Channelled(vessel),
            Fault::ColdSupply { .. } => Self::ColdSupply,
            Fault::WeakSupply { .. } => Self::WeakSupply,
            Fault::Stuck { line, .. } => Self::Stuck(line),
            Fault::LeakingFill { vessel, .. } => Self::LeakingFill(vessel),
            Fault::FouledCell { sensor, .. } | Fault::UncoveredCell { sensor } => Self::Cell(sensor),
            Fault::DriftedTrim { .. } => Self::DriftedTrim,
            Fault::MeterDrift { sensor, .. } => Self::MeterDrift(sensor),
            Fault::NotZeroed { .. } => return None,
        })
    }
}

/// An inspection that tells causes apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Check {
    /// Look for circulation: is liquid moving, does the pump sound wet?
    Circulation,
    /// Look into the hopper from outside: is there salt, does it fall?
    Hopper,
    /// Catch and weigh what the feeder drops in a minute.
    CatchFeed,
    /// Dip the bed.
    DipBed,
    /// Two samples at the bench, ten minutes apart.
    Sample,
    /// Read the water meter against the tank's rise.
    MeterAgainstRise,
    /// Take the temperature of the supply.
    SupplyTemperature,
    /// Look whether the valve moves.
    Valve,
    /// Look at the cell: clean, covered, no air?
    Cell,
    /// Measure the depth of the sludge.
    Sludge,
}

/// Returns the inspection that best confirms a cause.
pub fn check_of(cause: &Cause) -> Check {
    match cause {
        Cause::Otherwise | Cause::DriftedTrim => Check::Sample,
        Cause::Unprimed(_) => Check::Circulation,
        Cause::NothingFalls(_) => Check::Hopper,
        Cause::TooOpen(_) | Cause::TooClosed(_) => Check::CatchFeed,
        Cause::SludgeFull(_) => Check::Sludge,
        Cause::Channelled(_) => Check::DipBed,
        Cause::ColdSupply => Check::SupplyTemperature,
        Cause::WeakSupply | Cause::LeakingFill(_) | Cause::MeterDrift(_) => Check::MeterAgainstRise,
        Cause::Stuck(_) => Check::Valve,
        Cause::Cell(_) => Check::Cell,
    }
}

/// Returns every fault that is tried on a layout, in several sizes.
fn tried(layout: &Layout) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (line, one) in layout.lines.iter().enumerate() {
        match one.kind {
            LineKind::Pump(_) => faults.push(Fault::Unprimed { line }),
            LineKind::Valve(_) if one.from == End::Supply => {
                faults.extend([0.0, 0.5, 0.75, 1.0].map(|at| Fault::Stuck { line, at }));
            }
            LineKind::Valve(_) | LineKind::Overflow { .. } => {}
        }
    }
    for feeder in 0..layout.feeders.len() {
        faults.push(Fault::Bridging { feeder });
        faults.extend([1.3, 1.6, 1.9].map(|factor| Fault::TooOpen { feeder, factor }));
        faults.extend([0.25, 0.4, 0.6].map(|share| Fault::TooClosed { feeder, share }));
    }
    for (vessel, one) in layout.vessels.iter().enumerate() {
        faults.extend([2e-4, 6e-4].map(|flow| Fault::LeakingFill { vessel, flow }));
        if one.dissolving.is_some() {
            faults.push(Fault::SludgeFull { vessel });
            faults.extend([0.15, 0.35].map(|share| Fault::Channelled { vessel, share }));
        }
    }
    for (sensor, one) in layout.sensors.iter().enumerate() {
        match one.of {
            Sensed::Strength { .. } => {
                faults.extend([0.97, 0.92, 0.8].map(|share| Fault::FouledCell { sensor, share }));
                faults.push(Fault::UncoveredCell { sensor });
            }
            Sensed::Flow { .. } => {
                faults.extend([0.83, 0.92, 1.08, 1.17].map(|factor| Fault::MeterDrift { sensor, factor }))
            }
            Sensed::Temperature { .. } | Sensed::Level { .. } | Sensed::Bed { .. } => {}
        }
    }
    faults.extend([1.02, 1.04, 0.98, 0.96].map(|factor| Fault::DriftedTrim { factor }));
    faults.push(Fault::ColdSupply { colder: 5.0 });
    faults.extend([0.3, 0.6].map(|share| Fault::WeakSupply { share }));
    faults
}

/// Members that the likeliest causes are tried on, after every cause was tried on the first member; and how many
/// causes.
const TRIED_ON: usize = 3;
const LIKELIEST: usize = 8;
/// Points of the window, as shares of it, at which a cause may have begun.
const ONSETS: [f64; 3] = [0.0, 0.35, 0.7];
/// Readings that count as one, since neighboring readings are correlated.
const AS_ONE: f64 = 4.0;

/// A fault with the index of the reading at which it is assumed to have begun.
#[derive(Debug, Clone, Copy)]
struct Tried {
    fault: Fault,
    start: usize,
}

/// Returns the causes, likeliest first, with their probabilities.
pub(super) fn rank<'a>(
    layout: &Layout,
    began: &[Plant],
    seen: impl Iterator<Item = &'a Seen>,
    period: f64,
) -> Result<Vec<(Cause, f64)>, Error> {
    let seen: Vec<&Seen> = seen.collect();
    let starts: Vec<usize> = ONSETS.iter().map(|share| (share * seen.len() as f64) as usize).collect();
    let all: Vec<Tried> = tried(layout)
        .into_iter()
        .flat_map(|fault| starts.iter().map(move |start| Tried { fault, start: *start }))
        .collect();
    let Some((first, others)) = began.split_first() else { return Ok(Vec::new()) };
    let (mut otherwise, mut scores) = scores(layout, first, &seen, period, &all)?;
    let mut order: Vec<usize> = (0..all.len()).collect();
    order.sort_by(|a, b| scores[*b].total_cmp(&scores[*a]));
    order.truncate(LIKELIEST);
    let likeliest: Vec<Tried> = order.iter().map(|place| all[*place]).collect();
    for member in others.iter().take(TRIED_ON - 1) {
        let (well, again) = self::scores(layout, member, &seen, period, &likeliest)?;
        otherwise = otherwise.max(well);
        for (place, score) in order.iter().zip(again) {
            scores[*place] = scores[*place].max(score);
        }
    }
    let mut found: Vec<(Cause, f64)> = vec![(Cause::Otherwise, otherwise)];
    for (one, score) in all.iter().zip(&scores) {
        let Some(cause) = Cause::of(&one.fault) else { continue };
        match found.iter_mut().find(|(known, _)| *known == cause) {
            Some((_, best)) => *best = best.max(*score),
            None => found.push((cause, *score)),
        }
    }
    let best = found.iter().map(|(_, log)| *log).fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = found.iter().map(|(_, log)| (log - best).exp()).sum();
    for (_, log) in &mut found {
        *log = (*log - best).exp() / sum;
    }
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    Ok(found)
}

/// Returns how well a model matches the readings, without a fault and with each of several.
fn scores(
    layout: &Layout,
    member: &Plant,
    seen: &[&Seen],
    period: f64,
    tried: &[Tried],
) -> Result<(f64, Vec<f64>), Error> {
    let (mut well, mut log) = (member.clone(), 0.0);
    let mut found = vec![f64::NEG_INFINITY; tried.len()];
    // The time before the fault begins is computed once for all of them.
    for (place, look) in seen.iter().enumerate() {
        for (one, score) in tried.iter().zip(&mut found).filter(|(one, _)| one.start == place) {
            let mut broken = well.clone();
            broken.begin(Onset { seconds: broken.seconds(), fault: one.fault });
            *score = log + fits(layout, &mut broken, &seen[place..], period)?;
        }
        log += fits(layout, &mut well, std::slice::from_ref(look), period)?;
    }
    Ok((log, found))
}

/// Returns how well a model matches the readings: the logarithm of its likelihood.
fn fits(layout: &Layout, plant: &mut Plant, seen: &[&Seen], period: f64) -> Result<f64, Error> {
    let mut log = 0.0;
    for look in seen {
        look.play(plant, period)?;
        for (sensor, expected) in plant.expects().into_iter().enumerate() {
            if !says_something(layout, plant, sensor) {
                continue;
            }
            let off = 1.5 * allowance(layout, sensor, expected);
            let z = (look.shown[sensor] - expected) / off;
            // Student's t with three degrees of freedom: one wild reading does not decide.
            log -= (2.0 * (z * z / 3.0).ln_1p() + off.ln()) / AS_ONE;
        }
    }
    Ok(log)
}
