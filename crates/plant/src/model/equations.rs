//! The equations of a plant: the layout of the state vector, and its rates of change.

mod dissolving;
mod sensed;
mod settings;
mod totals;

use std::sync::Arc;

use quantity::{Time, VolumeRate};

use super::amounts::{Amounts, Factors, Holds};
use super::grains::COHORTS;
use crate::integrator::System;
use crate::layout::{Dissolving, End, SIZES, Sensed};
use crate::properties::{HALITE, Known, Properties, SOLID_HEAT, STRONGEST, ZERO_HEAT};

/// Errors of a step that are tolerated, kg and J.
const KILOGRAMS_OFF: f64 = 0.01;
const JOULES_OFF: f64 = 1e4;
/// Share of a vessel's volume below which a line out of it begins to fail.
const NEARLY_EMPTY: f64 = 0.01;
/// Salt in a store below which a feeder begins to fail, kg.
const NEARLY_OUT: f64 = 20.0;
/// Bulk density of settled sludge, kg of insolubles per m³: a judgment; no published source.
const SLUDGE: f64 = 1200.0;
/// Share of a bed's cross-section that is liquid: a judgment; no published source.
const VOIDS: f64 = 0.4;

/// Indexes of a vessel's parts in the state.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub(super) water: usize,
    pub(super) salt: usize,
    pub(super) insolubles: usize,
    pub(super) heat: usize,
    /// Index of the first of its grains' masses, by cohort and size.
    pub(super) grains: Option<usize>,
    /// Index of the first of the fed cohort's numbers, by size.
    pub(super) fed: Option<usize>,
}

/// A line in SI numbers.
#[derive(Debug, Clone, Copy)]
struct Run {
    from: End,
    to: End,
    /// Full flow of a pump or valve, m³/s.
    rate: f64,
    /// Level, as a share of the volume, and time, s, of an overflow.
    over: Option<(f64, f64)>,
    /// Command with faults included, 0…1.
    set: f64,
}

#[derive(Debug, Clone, Copy)]
struct Drop {
    store: usize,
    to: usize,
    /// Salt, kg/s as delivered, with command and faults included.
    rate: f64,
}

#[derive(Debug, Clone, Copy)]
struct Tank {
    volume: f64,
    loss: f64,
    sludge_room: f64,
    dissolving: Option<Dissolving>,
    /// Share of the reached surface that faults leave, 0…1.
    reached: f64,
    /// Unmetered water that leaks in, m³/s.
    leak: f64,
    chokes: bool,
}

/// The equations of a plant, with the commands and faults in force.
#[derive(Debug, Clone)]
pub(super) struct Equations {
    pub(super) properties: Arc<Properties>,
    /// Content of one kilogram of salt as delivered.
    pub(super) delivered: Amounts,
    /// Time between two readings of the controller, s.
    pub(super) period: f64,
    places: Vec<Place>,
    tanks: Vec<Tank>,
    runs: Vec<Run>,
    drops: Vec<Drop>,
    /// Cube roots of the numbers of grains, by vessel, cohort and size.
    roots: Vec<[[f64; SIZES]; COHORTS]>,
    /// Last temperature of each vessel, °C: the first guess for the next.
    guesses: Vec<f64>,
    per_kilogram: [f64; SIZES],
    /// Mass of one grain as delivered, kg, by size.
    whole: [f64; SIZES],
    shares: [f64; SIZES],
    factors: Factors,
    supply: f64,
    air: f64,
    first_store: usize,
    stores: usize,
    lags: Vec<f64>,
    sensed: Vec<Sensed>,
    ledger: usize,
    size: usize,
}

/// Number of totals at the end of the state: out (water, salt, insolubles, heat), supplied (water, heat), lost heat,
/// spilt (water, salt, insolubles, heat).
const LEDGER: usize = 11;
/// Share of a vessel's volume within which liquid, or space for salt, runs out gradually.
const LITTLE: f64 = 0.05;
/// Time in which liquid above a brim runs over, s: two thirds of it.
const OVER_THE_BRIM: f64 = 20.0;

fn per_second(rate: VolumeRate) -> f64 {
    quantity::in_m3_per_second(rate)
}

fn in_seconds(time: Time) -> f64 {
    quantity::in_seconds(time)
}

/// The current liquid of a vessel.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Liquid {
    strength: f64,
    pub(super) degrees: f64,
    known: Known,
    volume: f64,
    filled: f64,
}

impl Equations {
    pub(super) fn empty(&self) -> Vec<f64> {
        vec![0.0; self.size]
    }

    /// Returns the tolerated error of each part, kg or J: far below what a sensor shows. The totals and the numbers of
    /// grains are left out; they follow the rest.
    pub(super) fn scales(&self) -> Vec<f64> {
        let mut scales = vec![KILOGRAMS_OFF; self.size];
        for at in &self.places {
            scales[at.heat] = JOULES_OFF;
            if let Some(fed) = at.fed {
                scales[fed..fed + SIZES].fill(f64::INFINITY);
            }
        }
        scales[self.ledger..].fill(f64::INFINITY);
        scales
    }

    pub(super) fn vessel(&self, place: usize) -> Place {
        self.places[place]
    }

    pub(super) fn store(&self, place: usize) -> usize {
        self.first_store + place
    }

    pub(super) fn tune(&mut self, factors: Factors) {
        self.factors = factors;
    }

    pub(super) fn factors(&self) -> Factors {
        self.factors
    }

    pub(super) fn nudge(
        &self,
        state: &mut [f64],
        vessel: usize,
        salt: f64,
        water: f64,
        degrees: f64,
        solids: f64,
    ) {
        let at = self.places[vessel];
        let before = self.liquid(state, vessel);
        state[at.salt] = (state[at.salt] + salt).max(0.0);
        state[at.water] = (state[at.water] + water).max(1.0);
        if let Some(first) = at.grains {
            for kg in &mut state[first..first + COHORTS * SIZES] {
                *kg *= solids;
            }
        }
        // The heat of the new content at the corrected temperature.
        let mass = state[at.salt] + state[at.water];
        let strength = (state[at.salt] / mass).min(STRONGEST);
        let warm = before.degrees + degrees;
        let grains = at.grains.map_or(0.0, |first| state[first..first + COHORTS * SIZES].iter().sum());
        let solids = grains + state[at.insolubles];
        state[at.heat] =
            mass * self.properties.enthalpy(strength, warm).0 + solids * SOLID_HEAT * (warm - ZERO_HEAT);
    }

    fn liquid(&self, state: &[f64], place: usize) -> Liquid {
        let at = self.places[place];
        let (water, salt) = (state[at.water].max(1e-9), state[at.salt].max(0.0));
        let mass = water + salt;
        let strength = (salt / mass).min(STRONGEST);
        let grains: f64 = at
            .grains
            .map_or(0.0, |first| state[first..first + COHORTS * SIZES].iter().map(|kg| kg.max(0.0)).sum());
        let insolubles = state[at.insolubles].max(0.0);
        let solids = grains + insolubles;
        let degrees =
            self.properties.temperature(mass, strength, solids, state[at.heat], self.guesses[place]);
        let known = self.properties.of(strength, degrees);
        let volume = mass / known.density;
        Liquid { strength, degrees, known, volume, filled: volume + grains / HALITE + insolubles / HALITE }
    }

    /// Returns the flow in a line, m³/s, for the current liquids.
    fn run_of(&self, run: &Run, liquids: &[Liquid], state: &[f64]) -> f64 {
        let End::Vessel(from) = run.from else { return run.rate * run.set };
        let (tank, liquid) = (&self.tanks[from], &liquids[from]);
        if let Some((level, seconds)) = run.over {
            return run.set * (liquid.filled - level * tank.volume).max(0.0) / seconds;
        }
        let there = (liquid.volume / (NEARLY_EMPTY * tank.volume)).min(1.0);
        run.rate * run.set * there * self.free_of_sludge(from, state)
    }

    /// Returns the share of its flow that sludge leaves to a line out of a vessel: a tenth once it is choked.
    fn free_of_sludge(&self, vessel: usize, state: &[f64]) -> f64 {
        let tank = &self.tanks[vessel];
        if tank.chokes {
            return 0.1;
        }
        let full = state[self.places[vessel].insolubles] / SLUDGE / tank.sludge_room.max(1e-9);
        (10.0 * (1.1 - full)).clamp(0.1, 1.0)
    }

    pub(super) fn holds(&self, state: &[f64], place: usize, liquid: &Liquid) -> Holds {
        let at = self.places[place];
        Holds {
            strength: liquid.strength,
            degrees: liquid.degrees,
            liquid_m3: liquid.volume,
            level: liquid.filled / self.tanks[place].volume,
            undissolved_kg: self.undissolved(state, place),
            sludge_kg: state[at.insolubles],
        }
    }

    fn undissolved(&self, state: &[f64], place: usize) -> f64 {
        let grains = self.places[place].grains;
        grains.map_or(0.0, |first| state[first..first + COHORTS * SIZES].iter().sum::<f64>().max(0.0))
    }

    /// Computes all current liquids into a list that is reused.
    pub(super) fn liquids_into(&mut self, state: &[f64], liquids: &mut Vec<Liquid>) {
        liquids.clear();
        for place in 0..self.places.len() {
            let liquid = self.liquid(state, place);
            // The first guess for the next one.
            self.guesses[place] = liquid.degrees;
            liquids.push(liquid);
        }
    }

    pub(super) fn liquids(&self, state: &[f64]) -> Vec<Liquid> {
        (0..self.places.len()).map(|place| self.liquid(state, place)).collect()
    }

    /// Returns the flow in a line, m³/s.
    pub(super) fn flow(&self, state: &[f64], liquids: &[Liquid], line: usize) -> f64 {
        self.runs.get(line).map_or(0.0, |run| self.run_of(run, liquids, state))
    }

    /// Returns the flow in a line as a share of its full flow.
    pub(super) fn flow_share(&self, state: &[f64], liquids: &[Liquid], line: usize) -> f64 {
        self.runs.get(line).map_or(0.0, |run| self.run_of(run, liquids, state) / run.rate.max(1e-12))
    }

    /// Returns the salt that a feeder drops, kg/s as delivered.
    pub(super) fn fed(&self, state: &[f64], liquids: &[Liquid], feeder: usize) -> f64 {
        self.drops.get(feeder).map_or(0.0, |drop| self.drop_of(drop, liquids, state))
    }

    /// Returns what a feeder drops, kg/s: less from a store that is almost empty, and nothing into a vessel full of
    /// salt.
    fn drop_of(&self, drop: &Drop, liquids: &[Liquid], state: &[f64]) -> f64 {
        let (liquid, volume) = (&liquids[drop.to], self.tanks[drop.to].volume);
        let solids = liquid.filled - liquid.volume;
        let room = (((1.0 - LITTLE) * volume - solids) / (LITTLE * volume)).clamp(0.0, 1.0);
        drop.rate * (state[self.first_store + drop.store] / NEARLY_OUT).clamp(0.0, 1.0) * room
    }
}

impl System for Equations {
    fn rates(&self, _: f64, state: &[f64], rates: &mut [f64]) {
        rates.fill(0.0);
        // Few vessels: no allocation in the innermost loop.
        let mut kept = [Liquid::default(); MOST_VESSELS];
        let liquids = &mut kept[..self.places.len()];
        for (place, liquid) in liquids.iter_mut().enumerate() {
            *liquid = self.liquid(state, place);
        }
        let liquids = &*liquids;
        let mut rising = [0.0; MOST_VESSELS];
        let ledger = self.ledger;
        let carry = |from: End, to: Option<End>, cubic_metres_per_second: f64, rates: &mut [f64]| {
            let (water, salt, insolubles, heat) = match from {
                End::Supply => {
                    let known = self.properties.of(0.0, self.supply);
                    let water = cubic_metres_per_second * known.density;
                    let heat = water * known.enthalpy;
                    rates[ledger + 4] += water;
                    rates[ledger + 5] += heat;
                    (water, 0.0, 0.0, heat)
                }
                End::Vessel(place) => {
                    let (at, liquid) = (self.places[place], &liquids[place]);
                    let mass = cubic_metres_per_second * liquid.known.density;
                    let (water, salt) = (mass * (1.0 - liquid.strength), mass * liquid.strength);
                    // Sludge stays where it settles; a hundredth of it is stirred up and carried along.
                    let insolubles =
                        0.01 * state[at.insolubles] * cubic_metres_per_second / liquid.volume.max(1e-6);
                    let heat =
                        mass * liquid.known.enthalpy + insolubles * SOLID_HEAT * (liquid.degrees - ZERO_HEAT);
                    rates[at.water] -= water;
                    rates[at.salt] -= salt;
                    rates[at.insolubles] -= insolubles;
                    rates[at.heat] -= heat;
                    (water, salt, insolubles, heat)
                }
                End::Out => (0.0, 0.0, 0.0, 0.0),
            };
            let sink = match to {
                Some(End::Vessel(place)) => {
                    let at = self.places[place];
                    rates[at.water] += water;
                    rates[at.salt] += salt;
                    rates[at.insolubles] += insolubles;
                    rates[at.heat] += heat;
                    return;
                }
                Some(End::Out | End::Supply) => ledger,
                None => ledger + 7,
            };
            rates[sink] += water;
            rates[sink + 1] += salt;
            rates[sink + 2] += insolubles;
            rates[sink + 3] += heat;
        };
        for run in &self.runs {
            let flow = self.run_of(run, liquids, state);
            if let End::Vessel(to) = run.to
                && run.from != run.to
            {
                rising[to] += flow;
            }
            if run.from != run.to && flow > 0.0 {
                carry(run.from, Some(run.to), flow, rates);
            }
        }
        for (place, tank) in self.tanks.iter().enumerate() {
            if tank.leak > 0.0 {
                carry(End::Supply, Some(End::Vessel(place)), tank.leak, rates);
            }
            // Only liquid runs over, not salt that is heaped to the brim.
            let liquid = (liquids[place].volume / (LITTLE * tank.volume)).clamp(0.0, 1.0);
            let over = liquid * (liquids[place].filled - tank.volume) / OVER_THE_BRIM;
            if over > 0.0 {
                carry(End::Vessel(place), None, over, rates);
            }
        }
        for drop in &self.drops {
            let store = self.first_store + drop.store;
            let rate = self.drop_of(drop, liquids, state);
            let at = self.places[drop.to];
            let (Some(first), Some(fed)) = (at.grains, at.fed) else { continue };
            rates[store] -= rate;
            rates[at.water] += rate * self.delivered.water;
            rates[at.insolubles] += rate * self.delivered.insolubles;
            rates[at.heat] += rate * self.delivered.heat;
            for size in 0..SIZES {
                rates[first + size] += rate * self.delivered.salt * self.shares[size];
                rates[fed + size] += rate * self.delivered.salt * self.per_kilogram[size];
            }
        }
        for (place, liquid) in liquids.iter().enumerate() {
            let (tank, at) = (&self.tanks[place], self.places[place]);
            let lost = tank.loss * (liquid.degrees - self.air);
            rates[at.heat] -= lost;
            rates[ledger + 6] += lost;
            let (speed, reached) = match tank.dissolving {
                Some(Dissolving::Stirred { speed, by, reached }) => {
                    let run = self
                        .runs
                        .get(by)
                        .map_or(0.0, |run| self.run_of(run, liquids, state) / run.rate.max(1e-12));
                    (speed * run, reached)
                }
                Some(Dissolving::Bed { cross_section, reached }) => {
                    (rising[place] / (cross_section * VOIDS), reached)
                }
                None => continue,
            };
            // In a vessel that is almost empty, few grains are wet.
            let wet = (liquid.volume / (NEARLY_EMPTY * tank.volume)).min(1.0);
            let gone = self.dissolve(place, liquid, speed, reached * tank.reached * wet, state, rates);
            rates[at.salt] += gone;
        }
    }
}

/// Most vessels that a layout may have.
pub(super) const MOST_VESSELS: usize = 12;
