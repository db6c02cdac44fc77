//! Looks into tanks: what a dip, with the reading nearest to it, says of mass and salt.

use std::collections::{BTreeMap, HashMap};

use chemistry::{Brine, MassFraction, recipe};
use jiff::{SignedDuration, Timestamp};
use quantity::{celsius, in_cubic_metres, in_kg_per_m3, metres};

use crate::{Journal, Period};
use event::{Body, Dip};
use site::{ProductKind, Tank};
use yard::stock::{Content, End};
use yard::uncertain::{DIP_M, density_of_dip};

/// A reading serves a dip that was taken within this time of it.
const READING_NEAR_HOURS: i64 = 48;

/// A dip with what it says of mass and salt.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    pub at: Timestamp,
    pub mass: f64,
    pub mass_uncertainty: f64,
    pub strength: f64,
    /// Sodium chloride by a reading taken near.
    pub salt: Option<f64>,
}

/// Looks into every tank in a period, in order of time, none nearer to the last than `apart`.
pub(super) fn looks(
    journal: &Journal<'_>,
    period: Period,
    apart: SignedDuration,
) -> Vec<(String, Vec<Look>)> {
    let yard = journal.yard();
    let mut contents: HashMap<&str, Content> = HashMap::new();
    let mut readings: HashMap<&str, Vec<(Timestamp, f64)>> = HashMap::new();
    let mut found: BTreeMap<usize, Vec<Look>> = BTreeMap::new();
    for recorded in journal.events() {
        if let Body::Reading(reading) = &recorded.event.body
            && let Some(tank) = &reading.tank
        {
            let all = readings.entry(tank.as_str()).or_default();
            all.push((recorded.event.occurred_at, reading.strength_pct / 100.0));
        }
    }
    let mut flows = journal.walk.liquids.iter().peekable();
    for recorded in journal.events() {
        let at = recorded.event.occurred_at;
        while let Some(flow) = flows.next_if(|flow| flow.at <= at) {
            for (end, sign) in [(&flow.from, -1.0), (&flow.to, 1.0)] {
                if let End::Tank(tank) = end {
                    contents.entry(tank.as_str()).or_default().add(&flow.liquid.times(sign));
                }
            }
        }
        let Body::Dip(dip) = &recorded.event.body else { continue };
        if !period.holds(at) {
            continue;
        }
        let Some((place, tank)) = yard.tanks.iter().enumerate().find(|(_, tank)| tank.id == dip.tank) else {
            continue;
        };
        let looks = found.entry(place).or_default();
        if looks.last().is_some_and(|last: &Look| at.duration_since(last.at) < apart) {
            continue;
        }
        let reading = readings.get(dip.tank.as_str()).and_then(|all| last_reading(all, at));
        let held = contents.get(dip.tank.as_str());
        looks.extend(look(journal, (tank, dip), at, held, reading));
    }
    let named = |(place, looks): (usize, Vec<Look>)| (yard.tanks[place].id.clone(), looks);
    found.into_iter().map(named).filter(|(_, looks)| looks.len() > 1).collect()
}

/// The last reading before a moment, and whether it is near enough to speak for the salt in the tank.
fn last_reading(readings: &[(Timestamp, f64)], at: Timestamp) -> Option<(f64, bool)> {
    let near = SignedDuration::from_hours(READING_NEAR_HOURS);
    let last = readings.iter().rev().find(|(taken, _)| *taken <= at)?;
    Some((last.1, at.duration_since(last.0) <= near))
}

fn look(
    journal: &Journal<'_>,
    (tank, dip): (&Tank, &Dip),
    at: Timestamp,
    held: Option<&Content>,
    reading: Option<(f64, bool)>,
) -> Option<Look> {
    let yard = journal.yard();
    let product = yard.product(&tank.product)?;
    let volume = |depth: f64| tank.shape.volume_at(metres(depth)).ok().map(in_cubic_metres);
    let middle = volume(dip.depth_m)?;
    let (density, strength, salt_strength) = match &product.kind {
        ProductKind::Declared { density, .. } => (in_kg_per_m3(*density), 0.0, None),
        ProductKind::SodiumChlorideBrine => {
            // A book that has gone astray says nothing of the strength; a reading does.
            let by_book = held.and_then(Content::strength).map(MassFraction::fraction);
            let target = yard.plant.target_strength.fraction();
            let strength = reading.map(|(w, _)| w).or(by_book).unwrap_or(target);
            let near = reading.filter(|(_, is_near)| *is_near).map(|(w, _)| w);
            (density(strength, dip.temp_c), strength, near)
        }
    };
    let above = volume(dip.depth_m + DIP_M).unwrap_or(middle);
    let below = volume((dip.depth_m - DIP_M).max(0.0)).unwrap_or(middle);
    let of_depth = 0.5 * (above - below).abs().max(1e-6) * density;
    let mass = middle * density;
    Some(Look {
        at,
        mass,
        mass_uncertainty: of_depth.hypot(density_of_dip(dip.temp_c.is_some()) * mass),
        strength,
        salt: salt_strength.map(|w| w * mass),
    })
}

/// Density of brine, kg/m³, by its strength as a fraction; 1176 kg/m³, that of 23.3 % brine, outside the data.
pub(super) fn density(strength: f64, temp_c: Option<f64>) -> f64 {
    let at = temp_c.map_or_else(recipe::reference_temperature, celsius);
    let brine = MassFraction::from_fraction(strength.clamp(0.0, 0.263)).and_then(Brine::sodium_chloride);
    brine.and_then(|brine| brine.density(at)).map_or(1176.0, in_kg_per_m3)
}
