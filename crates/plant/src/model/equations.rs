//! The plant as equations: where everything stands in the state, and how it changes.

use std::sync::Arc;

use quantity::{Time, VolumeRate, in_celsius, in_cubic_metres, in_kilograms};

use super::amounts::{Amounts, Commands, Factors, Holds, delivered};
use super::grains::{COHORTS, Grains, LAST_SHARE};
use crate::fault::Fault;
use crate::integrator::System;
use crate::layout::{Dissolving, End, Layout, LineKind, SIZES, Sensed};
use crate::properties::{HALITE, Known, Properties, SOLID_HEAT, STRONGEST, ZERO_HEAT};

/// Errors of a step that are let pass, kg and J.
const KILOGRAMS_OFF: f64 = 0.01;
const JOULES_OFF: f64 = 1e4;
/// Diameter³ of a grain for a kilogram of it, m³/kg.
const SPHERE: f64 = 6.0 / (std::f64::consts::PI * HALITE);
/// Share of a vessel's volume below which a line out of it begins to fail.
const NEARLY_EMPTY: f64 = 0.01;
/// Salt in a store below which a feeder begins to fail, kg.
const NEARLY_OUT: f64 = 20.0;
/// Bulk density of settled sludge, kg of insolubles for a cubic metre of it: a judgement.
const SLUDGE: f64 = 1200.0;
/// Grains in a bed lie so close: share of the cross-section that is liquid. A judgement.
const VOIDS: f64 = 0.4;

/// Places of a vessel's parts in the state.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub(super) water: usize,
    pub(super) salt: usize,
    pub(super) insolubles: usize,
    pub(super) heat: usize,
    /// First of its grains' masses, by cohort and size.
    pub(super) grains: Option<usize>,
    /// First of the numbers of the fed cohort, by size.
    pub(super) fed: Option<usize>,
}

/// A line as floats.
#[derive(Debug, Clone, Copy)]
struct Run {
    from: End,
    to: End,
    /// m³/s at full, for pumps and valves.
    rate: f64,
    /// Level and seconds, for overflows.
    over: Option<(f64, f64)>,
    /// What it is set to, faults included, 0…1.
    set: f64,
}

#[derive(Debug, Clone, Copy)]
struct Drop {
    store: usize,
    to: usize,
    /// kg/s as delivered, setting and faults included.
    rate: f64,
}

#[derive(Debug, Clone, Copy)]
struct Tank {
    volume: f64,
    loss: f64,
    sludge_room: f64,
    dissolving: Option<Dissolving>,
    /// Share of the surface reached that faults leave.
    reached: f64,
    /// Unmetered water, m³/s.
    leak: f64,
    chokes: bool,
}

/// The plant as equations, with its settings of the moment.
#[derive(Debug, Clone)]
pub(super) struct Equations {
    pub(super) properties: Arc<Properties>,
    /// One kilogram of salt as delivered.
    pub(super) delivered: Amounts,
    /// Time between two looks of the controller, s.
    pub(super) period: f64,
    places: Vec<Place>,
    tanks: Vec<Tank>,
    runs: Vec<Run>,
    drops: Vec<Drop>,
    /// Cube roots of the numbers of grains, by vessel, cohort and size.
    roots: Vec<[[f64; SIZES]; COHORTS]>,
    /// Temperature of each vessel when last set, °C: where to begin to look for it.
    guesses: Vec<f64>,
    per_kilogram: [f64; SIZES],
    /// Mass of one grain as it comes, kg, by size.
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

/// Parts of the ledger at the end of the state: out (water, salt, insolubles, heat), supplied (water, heat), lost heat,
/// spilt (water, salt, insolubles, heat).
const LEDGER: usize = 11;
/// Share of a vessel within which liquid runs short, or room for salt.
const LITTLE: f64 = 0.05;
/// What stands above a brim runs over it within about so long, s.
const OVER_THE_BRIM: f64 = 20.0;

fn per_second(rate: VolumeRate) -> f64 {
    quantity::in_m3_per_second(rate)
}

fn in_seconds(time: Time) -> f64 {
    quantity::in_seconds(time)
}

/// A liquid of the moment.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Liquid {
    strength: f64,
    pub(super) degrees: f64,
    known: Known,
    volume: f64,
    filled: f64,
}

impl Equations {
    pub(super) fn new(layout: &Layout, properties: Arc<Properties>) -> Self {
        let mut next = 0;
        let mut take = |count: usize| {
            next += count;
            next - count
        };
        let places = layout
            .vessels
            .iter()
            .map(|vessel| {
                let first = take(4);
                let grains = vessel.dissolving.map(|_| take(COHORTS * SIZES));
                let fed = vessel.dissolving.map(|_| take(SIZES));
                Place { water: first, salt: first + 1, insolubles: first + 2, heat: first + 3, grains, fed }
            })
            .collect();
        let first_store = take(layout.stores.len());
        let ledger = take(LEDGER);
        let tanks = layout
            .vessels
            .iter()
            .map(|vessel| Tank {
                volume: in_cubic_metres(vessel.volume),
                loss: vessel.loss_watts_per_kelvin,
                sludge_room: in_cubic_metres(vessel.sludge_room),
                dissolving: vessel.dissolving,
                reached: 1.0,
                leak: 0.0,
                chokes: false,
            })
            .collect();
        let grains = Grains::new(layout);
        Self {
            delivered: delivered(layout, &properties),
            period: in_seconds(layout.control.period),
            places,
            tanks,
            runs: Vec::new(),
            drops: Vec::new(),
            roots: vec![[[0.0; SIZES]; COHORTS]; layout.vessels.len()],
            guesses: vec![in_celsius(layout.supply.temperature); layout.vessels.len()],
            per_kilogram: grains.per_kilogram(),
            whole: grains.whole(),
            shares: grains.shares(),
            factors: Factors::default(),
            supply: in_celsius(layout.supply.temperature),
            air: in_celsius(layout.supply.air),
            first_store,
            stores: layout.stores.len(),
            lags: layout.sensors.iter().map(|sensor| in_seconds(sensor.lag).max(0.1)).collect(),
            sensed: layout.sensors.iter().map(|sensor| sensor.of).collect(),
            ledger,
            size: ledger + LEDGER,
            properties,
        }
    }

    pub(super) fn empty(&self) -> Vec<f64> {
        vec![0.0; self.size]
    }

    /// What an error of each part may be, kg, J or grains: far below what a sensor shows. The ledger is left out; it
    /// follows what moves.
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
        // The heat of the new content at the old temperature and the change of it.
        let mass = state[at.salt] + state[at.water];
        let strength = (state[at.salt] / mass).min(STRONGEST);
        let warm = before.degrees + degrees;
        let grains = at.grains.map_or(0.0, |first| state[first..first + COHORTS * SIZES].iter().sum());
        let solids = grains + state[at.insolubles];
        state[at.heat] =
            mass * self.properties.enthalpy(strength, warm).0 + solids * SOLID_HEAT * (warm - ZERO_HEAT);
    }

    /// Takes over what is told and what is broken, until it is set again.
    pub(super) fn set(&mut self, layout: &Layout, commands: &Commands, grains: &Grains, faults: &[Fault]) {
        self.runs.clear();
        self.runs.extend(layout.lines.iter().zip(&commands.lines).map(|(line, told)| {
            let (rate, over) = match line.kind {
                LineKind::Pump(rate) | LineKind::Valve(rate) => (per_second(rate), None),
                LineKind::Overflow { above, within } => (0.0, Some((above, in_seconds(within)))),
            };
            Run { from: line.from, to: line.to, rate, over, set: told.clamp(0.0, 1.0) }
        }));
        self.drops.clear();
        self.drops.extend(layout.feeders.iter().zip(&commands.feeders).map(|(feeder, told)| {
            let per_hour = in_kilograms(feeder.rate * quantity::hours(1.0));
            let rate = self.factors.feed * per_hour / 3600.0 * told.clamp(0.0, 1.0);
            Drop { store: feeder.from, to: feeder.to, rate }
        }));
        for tank in &mut self.tanks {
            (tank.reached, tank.leak, tank.chokes) = (self.factors.reached, 0.0, false);
        }
        self.supply = in_celsius(layout.supply.temperature);
        let mut pressure = self.factors.water;
        for fault in faults {
            match *fault {
                Fault::Unprimed { line } => self.runs[line].set = 0.0,
                Fault::Bridging { feeder } => self.drops[feeder].rate = 0.0,
                Fault::TooOpen { feeder, factor } => {
                    let full = quantity::in_kg_per_second(layout.feeders[feeder].rate);
                    let wanted = self.drops[feeder].rate * factor;
                    // More than half above what it can carry: it jams.
                    self.drops[feeder].rate = if 1.5 * full < wanted { 0.0 } else { wanted };
                }
                Fault::TooClosed { feeder, share } => self.drops[feeder].rate *= share,
                Fault::SaltOut { store } => {
                    for one in self.drops.iter_mut().filter(|one| one.store == store) {
                        one.rate = 0.0;
                    }
                }
                Fault::SludgeFull { vessel } => self.tanks[vessel].chokes = true,
                Fault::Channelled { vessel, share } => self.tanks[vessel].reached *= share,
                Fault::ColdSupply { colder } => self.supply = (self.supply - colder).max(0.5),
                Fault::WeakSupply { share } => pressure *= share,
                Fault::Stuck { line, at } => self.runs[line].set = at,
                Fault::LeakingFill { vessel, flow } => self.tanks[vessel].leak = flow,
                // These touch what is seen, not what is.
                Fault::FouledCell { .. }
                | Fault::UncoveredCell { .. }
                | Fault::DriftedTrim { .. }
                | Fault::NotZeroed { .. }
                | Fault::MeterDrift { .. } => {}
            }
        }
        for run in self.runs.iter_mut().filter(|run| run.from == End::Supply) {
            run.set *= pressure;
        }
        for (place, kept) in self.roots.iter_mut().enumerate() {
            *kept = grains.numbers(place).map(|sizes| sizes.map(f64::cbrt));
        }
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

    /// m³/s in a line, by the liquids of the moment.
    fn run_of(&self, run: &Run, liquids: &[Liquid], state: &[f64]) -> f64 {
        let End::Vessel(from) = run.from else { return run.rate * run.set };
        let (tank, liquid) = (&self.tanks[from], &liquids[from]);
        if let Some((level, seconds)) = run.over {
            return run.set * (liquid.filled - level * tank.volume).max(0.0) / seconds;
        }
        let there = (liquid.volume / (NEARLY_EMPTY * tank.volume)).min(1.0);
        run.rate * run.set * there * self.free_of_sludge(from, state)
    }

    /// Share of a line out of a vessel that sludge leaves: none once it is choked.
    fn free_of_sludge(&self, vessel: usize, state: &[f64]) -> f64 {
        let tank = &self.tanks[vessel];
        if tank.chokes {
            return 0.1;
        }
        let full = state[self.places[vessel].insolubles] / SLUDGE / tank.sludge_room.max(1e-9);
        (10.0 * (1.1 - full)).clamp(0.1, 1.0)
    }

    /// Salt that dissolves in a vessel, kg/s by cohort and size, by Ranz and Marshall's transfer from spheres: Sh = 2 +
    /// 0.6 Re^½ Sc^⅓ (Chem. Eng. Prog. 48 (1952) 141, 173; from memory), with the speed past the grains.
    fn dissolve(
        &self,
        place: usize,
        liquid: &Liquid,
        speed: f64,
        reached: f64,
        state: &[f64],
        rates: &mut [f64],
    ) -> f64 {
        let Place { grains: Some(first), fed: Some(fed), .. } = self.places[place] else { return 0.0 };
        let saturated = self.properties.saturated(liquid.degrees);
        let density = liquid.known.density;
        let at_saturation = self.properties.of(saturated, liquid.degrees).density;
        let lacking = saturated * at_saturation - liquid.strength * density;
        if lacking <= 0.0 {
            return 0.0;
        }
        let viscosity = liquid.known.viscosity;
        let diffusion = self.properties.diffusion(viscosity, liquid.degrees);
        let schmidt = (viscosity / (density * diffusion)).cbrt();
        let past = speed * density / viscosity;
        // From a grain's mass m, in n grains: d³ = 6 m/(n π ρ); all of them lose n π d² · Sh D/d · (what is lacking).
        let each = std::f64::consts::PI * diffusion * reached * lacking;
        let across = 0.6 * past.sqrt() * schmidt;
        let mut all = 0.0;
        for cohort in 0..COHORTS {
            for size in 0..SIZES {
                let mass = state[first + cohort * SIZES + size];
                let root = if cohort == 0 {
                    state[fed + size].max(0.0).cbrt()
                } else {
                    self.roots[place][cohort][size]
                };
                if root <= 0.0 {
                    continue;
                }
                // The last of a grain goes in a straight line: its true end has no slope that a step could follow.
                let last = LAST_SHARE * root * root * root * self.whole[size];
                let seen = mass.max(last);
                let diameter = (seen * SPHERE).cbrt() / root;
                let of_seen = each * root * root * root * diameter * (2.0 + across * diameter.sqrt());
                let gone = of_seen * (mass / seen);
                rates[first + cohort * SIZES + size] -= gone;
                all += gone;
            }
        }
        all
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

    /// All liquids of the moment, over those of an earlier one.
    pub(super) fn liquids_into(&mut self, state: &[f64], liquids: &mut Vec<Liquid>) {
        liquids.clear();
        for place in 0..self.places.len() {
            let liquid = self.liquid(state, place);
            // Where to begin to look for the next one.
            self.guesses[place] = liquid.degrees;
            liquids.push(liquid);
        }
    }

    pub(super) fn liquids(&self, state: &[f64]) -> Vec<Liquid> {
        (0..self.places.len()).map(|place| self.liquid(state, place)).collect()
    }

    /// m³/s in a line.
    pub(super) fn flow(&self, state: &[f64], liquids: &[Liquid], line: usize) -> f64 {
        self.runs.get(line).map_or(0.0, |run| self.run_of(run, liquids, state))
    }

    /// Share of what a line gives at full.
    pub(super) fn flow_share(&self, state: &[f64], liquids: &[Liquid], line: usize) -> f64 {
        self.runs.get(line).map_or(0.0, |run| self.run_of(run, liquids, state) / run.rate.max(1e-12))
    }

    /// Salt that a feeder drops, kg/s as delivered.
    pub(super) fn fed(&self, state: &[f64], liquids: &[Liquid], feeder: usize) -> f64 {
        self.drops.get(feeder).map_or(0.0, |drop| self.drop_of(drop, liquids, state))
    }

    /// What a feeder drops: less from a store that is nearly out, and nothing into a vessel heaped with salt.
    fn drop_of(&self, drop: &Drop, liquids: &[Liquid], state: &[f64]) -> f64 {
        let (liquid, volume) = (&liquids[drop.to], self.tanks[drop.to].volume);
        let solids = liquid.filled - liquid.volume;
        let room = (((1.0 - LITTLE) * volume - solids) / (LITTLE * volume)).clamp(0.0, 1.0);
        drop.rate * (state[self.first_store + drop.store] / NEARLY_OUT).clamp(0.0, 1.0) * room
    }

    pub(super) fn inside(&self, state: &[f64]) -> Amounts {
        let mut sum = Amounts::default();
        for at in &self.places {
            sum.water += state[at.water];
            sum.salt += state[at.salt];
            sum.insolubles += state[at.insolubles];
            sum.heat += state[at.heat];
            if let Some(first) = at.grains {
                sum.salt += state[first..first + COHORTS * SIZES].iter().sum::<f64>();
            }
        }
        for kg in &state[self.first_store..self.first_store + self.stores] {
            sum.water += kg * self.delivered.water;
            sum.salt += kg * self.delivered.salt;
            sum.insolubles += kg * self.delivered.insolubles;
            sum.heat += kg * self.delivered.heat;
        }
        sum
    }

    pub(super) fn out(&self, state: &[f64]) -> Amounts {
        let l = &state[self.ledger..];
        Amounts { water: l[0], salt: l[1], insolubles: l[2], heat: l[3] }
    }

    pub(super) fn supplied(&self, state: &[f64]) -> Amounts {
        let l = &state[self.ledger..];
        Amounts { water: l[4], heat: l[5], ..Amounts::default() }
    }

    pub(super) fn spilt(&self, state: &[f64]) -> Amounts {
        let l = &state[self.ledger..];
        Amounts { water: l[7], salt: l[8], insolubles: l[9], heat: l[10] }
    }

    pub(super) fn lost_heat(&self, state: &[f64]) -> f64 {
        state[self.ledger + 6]
    }

    /// What a sensor answers to, at once and without fault: strength as conductivity, mS/cm.
    fn truth(&self, sensed: Sensed, liquids: &[Liquid], state: &[f64]) -> f64 {
        match sensed {
            Sensed::Strength { vessel, .. } => liquids[vessel].known.conductivity,
            Sensed::Temperature { vessel } => liquids[vessel].degrees,
            Sensed::Bed { vessel } => self.undissolved(state, vessel),
            Sensed::Level { vessel } => liquids[vessel].filled / self.tanks[vessel].volume,
            Sensed::Flow { line } => self.runs.get(line).map_or(0.0, |run| self.run_of(run, liquids, state)),
        }
    }

    /// What every sensor answers to, at once and without fault, in the unit of [`Self::truth`].
    pub(super) fn truths(&self, state: &[f64], liquids: &[Liquid], truths: &mut Vec<f64>) {
        truths.clear();
        truths.extend(self.sensed.iter().map(|sensed| self.truth(*sensed, liquids, state)));
    }

    /// What the sensors have followed to, some seconds on, while the truth went straight from one value to another: the
    /// exact answer of a first-order lag to a ramp.
    pub(super) fn follow(&self, followed: &mut [f64], from: &[f64], to: &[f64], seconds: f64) {
        for (place, value) in followed.iter_mut().enumerate() {
            let lag = self.lags[place];
            let slope = (to[place] - from[place]) / seconds;
            let left = (-seconds / lag).exp();
            *value = to[place] - slope * lag + (*value - from[place] + slope * lag) * left;
        }
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
                    // Sludge stays where it settles; a hundredth of it is stirred up and goes along.
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
            // Only liquid runs over; of salt that is heaped to the brim nothing does.
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
            // Where liquid hardly stands, few grains are wet.
            let wet = (liquid.volume / (NEARLY_EMPTY * tank.volume)).min(1.0);
            let gone = self.dissolve(place, liquid, speed, reached * tank.reached * wet, state, rates);
            rates[at.salt] += gone;
        }
    }
}

/// Vessels that a layout may have.
pub(super) const MOST_VESSELS: usize = 12;
