//! A plant model moved through time.
//!
//! Between two readings of the controller the plant is a system of ordinary differential equations: masses of water,
//! salt, insolubles and heat of every vessel, grains of salt by size, and lagging sensors. What crosses the plant's
//! boundary is integrated along with it, so that balances close by construction and not by correction.

mod amounts;
mod control;
mod equations;
mod grains;
mod noise;
mod sensing;

use std::sync::Arc;

use message::message;
use quantity::{in_celsius, kilograms};

use crate::Error;
use crate::fault::{Fault, Onset};
use crate::integrator::{Integrator, RungeKutta};
use crate::layout::{Layout, LineKind};
use crate::properties::Properties;

pub use amounts::{Amounts, Commands, Factors, Holds};
use control::Controller;
use equations::{Equations, Liquid};
use grains::Grains;
use noise::{MIX, bell, mixed};

/// Relative tolerance of a step: a gram in a tonne; balances do not depend on it.
const RELATIVE: f64 = 1e-5;

/// State of a plant when a run begins.
#[derive(Debug, Clone)]
pub struct Start {
    /// Salt in each store, kg as delivered.
    pub stores_kg: Vec<f64>,
    /// Undissolved salt in each vessel, kg as delivered.
    pub in_vessels_kg: Vec<f64>,
    /// Liquid in each vessel: kg, strength as a mass fraction, °C.
    pub liquids: Vec<(f64, f64, f64)>,
    /// Seed of the sensors' noise.
    pub seed: u64,
}

impl Start {
    /// Returns a plant with `salt_kg` of salt, kg as delivered, in each store and almost nothing in its vessels.
    pub fn empty(layout: &Layout, salt_kg: f64) -> Self {
        Self {
            stores_kg: vec![salt_kg; layout.stores.len()],
            in_vessels_kg: vec![0.0; layout.vessels.len()],
            // Never quite dry: a thousandth of a vessel's volume, as water.
            liquids: layout
                .vessels
                .iter()
                .map(|vessel| {
                    let kg = quantity::in_cubic_metres(vessel.volume);
                    (kg, 0.0, in_celsius(layout.supply.temperature))
                })
                .collect(),
            seed: 1,
        }
    }
}

/// State of a plant at one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Snapshot {
    /// Plant time, s.
    pub seconds: f64,
    /// What every sensor shows, in its own unit.
    pub shown: Vec<f64>,
    /// True content of every vessel.
    pub holds: Vec<Holds>,
}

/// A plant model in motion.
#[derive(Debug, Clone)]
pub struct Plant {
    layout: Layout,
    equations: Equations,
    state: Vec<f64>,
    grains: Grains,
    /// Lagged value of each sensor.
    followed: Vec<f64>,
    /// The current liquids, and work space.
    liquids: Vec<Liquid>,
    room: [Vec<f64>; 2],
    commands: Commands,
    controller: Option<Controller>,
    onsets: Vec<Onset>,
    by: RungeKutta,
    seconds: f64,
    next_look: f64,
    seed: u64,
    looks: u64,
    /// Seconds that each pump has run dry.
    dry_seconds: Vec<f64>,
    began: Amounts,
}

impl Plant {
    /// Creates a plant at its start, run by its own controller.
    ///
    /// # Errors
    /// [`Error::Layout`] for a layout that does not hang together or a start of another size.
    pub fn new(layout: Layout, properties: Arc<Properties>, start: &Start) -> Result<Self, Error> {
        check(&layout, start)?;
        let equations = Equations::new(&layout, properties);
        let mut grains = Grains::new(&layout);
        let mut state = equations.empty();
        for (place, kg) in start.stores_kg.iter().enumerate() {
            state[equations.store(place)] = *kg;
        }
        for (place, (kg, strength, degrees)) in start.liquids.iter().enumerate() {
            let at = equations.vessel(place);
            state[at.water] = kg * (1.0 - strength);
            state[at.salt] = kg * strength;
            state[at.heat] = kg * equations.properties.enthalpy(*strength, *degrees).0;
        }
        let mut plant = Self {
            commands: Commands {
                lines: layout
                    .lines
                    .iter()
                    .map(|line| f64::from(u8::from(matches!(line.kind, LineKind::Overflow { .. }))))
                    .collect(),
                feeders: vec![0.0; layout.feeders.len()],
            },
            followed: Vec::new(),
            liquids: Vec::new(),
            room: [Vec::new(), Vec::new()],
            controller: Some(Controller::new()),
            onsets: Vec::new(),
            by: RungeKutta::third(RELATIVE, 0.0).scaled(equations.scales()),
            seconds: 0.0,
            next_look: 0.0,
            seed: start.seed,
            looks: 0,
            dry_seconds: vec![0.0; layout.lines.len()],
            began: Amounts::default(),
            layout,
            equations,
            state,
            grains: grains.clone(),
        };
        for (place, kg) in start.in_vessels_kg.iter().enumerate().filter(|(_, kg)| **kg > 0.0) {
            grains.drop_in(&plant.equations, &mut plant.state, place, *kg);
        }
        plant.grains = grains;
        plant.equations.set(&plant.layout, &plant.commands, &plant.grains, &[]);
        plant.equations.liquids_into(&plant.state, &mut plant.liquids);
        plant.equations.truths(&plant.state, &plant.liquids, &mut plant.followed);
        plant.began = plant.equations.inside(&plant.state);
        Ok(plant)
    }

    /// Returns the layout it was made from.
    pub fn layout(&self) -> &Layout {
        &self.layout
    }

    /// Returns the plant time, s.
    pub fn seconds(&self) -> f64 {
        self.seconds
    }

    /// Returns the commands in force.
    pub fn commands(&self) -> &Commands {
        &self.commands
    }

    /// Switches to manual, or back to the controller.
    pub fn by_hand(&mut self, by_hand: bool) {
        self.controller =
            if by_hand { None } else { Some(self.controller.take().unwrap_or_else(Controller::new)) };
    }

    /// Commands lines and feeders by hand; in automatic the controller overrules it at its next reading.
    pub fn tell(&mut self, commands: Commands) {
        self.commands = commands;
    }

    /// Starts a fault.
    pub fn begin(&mut self, onset: Onset) {
        self.onsets.push(onset);
    }

    /// Ends every fault that `ended` selects.
    pub fn mend(&mut self, ended: impl Fn(&Fault) -> bool) {
        self.onsets.retain(|onset| !ended(&onset.fault));
    }

    /// Returns the faults that have begun.
    pub fn faults(&self) -> impl Iterator<Item = Fault> + '_ {
        self.onsets.iter().filter(|onset| onset.seconds <= self.seconds).map(|onset| onset.fault)
    }

    /// Dumps salt into a vessel, kg as delivered; it brings water, insolubles and cold with it.
    ///
    /// # Errors
    /// [`Error::Layout`] for a vessel where no salt is put, or an amount that is none.
    pub fn dump(&mut self, vessel: usize, kg: f64) -> Result<(), Error> {
        let takes = self.layout.vessels.get(vessel).is_some_and(|one| one.dissolving.is_some());
        if !takes || !kg.is_finite() || kg <= 0.0 {
            return Err(Error::layout(
                message!("plant.salt-dump"),
                message!("plant.into-vessel", mass = kilograms(kg), vessel = vessel),
                message!("plant.accepted.dump"),
            ));
        }
        let came = self.grains.drop_in(&self.equations, &mut self.state, vessel, kg);
        self.began.water += came.water;
        self.began.salt += came.salt;
        self.began.insolubles += came.insolubles;
        self.began.heat += came.heat;
        self.equations.liquids_into(&self.state, &mut self.liquids);
        Ok(())
    }

    /// Adds salt to a store, kg as delivered.
    ///
    /// # Errors
    /// [`Error::Layout`] for a store that is none, or an amount that is none.
    pub fn refill(&mut self, store: usize, kg: f64) -> Result<(), Error> {
        if self.layout.stores.len() <= store || !kg.is_finite() || kg <= 0.0 {
            return Err(Error::layout(
                message!("plant.salt-refill"),
                message!("plant.into-store", mass = kilograms(kg), store = store),
                message!("plant.accepted.refill"),
            ));
        }
        let one = self.equations.delivered;
        let at = self.equations.store(store);
        self.state[at] += kg;
        self.began.water += kg * one.water;
        self.began.salt += kg * one.salt;
        self.began.insolubles += kg * one.insolubles;
        self.began.heat += kg * one.heat;
        Ok(())
    }

    /// Takes the sludge out of a vessel. Returns how much there was, kg of insolubles.
    pub fn clean_out(&mut self, vessel: usize) -> f64 {
        let at = self.equations.vessel(vessel).insolubles;
        let kg = std::mem::take(&mut self.state[at]);
        let degrees = self.liquids.get(vessel).map_or(0.0, |liquid| liquid.degrees);
        let heat = kg * crate::properties::SOLID_HEAT * (degrees - crate::properties::ZERO_HEAT);
        self.state[self.equations.vessel(vessel).heat] -= heat;
        self.began.insolubles -= kg;
        self.began.heat -= heat;
        self.equations.liquids_into(&self.state, &mut self.liquids);
        kg
    }

    /// Runs the plant for so many seconds.
    ///
    /// # Errors
    /// [`Error::Stuck`].
    pub fn advance(&mut self, seconds: f64) -> Result<(), Error> {
        self.go(seconds, f64::INFINITY, &mut |_| ())
    }

    /// Runs the plant for `seconds` and shows a snapshot every `every` seconds. Between two readings of the controller
    /// a snapshot is interpolated linearly.
    ///
    /// # Errors
    /// [`Error::Stuck`].
    pub fn advance_showing(
        &mut self,
        seconds: f64,
        every: f64,
        show: &mut dyn FnMut(&Snapshot),
    ) -> Result<(), Error> {
        self.go(seconds, every, show)
    }

    fn go(&mut self, seconds: f64, every: f64, show: &mut dyn FnMut(&Snapshot)) -> Result<(), Error> {
        let end = self.seconds + seconds;
        let mut next = self.seconds + every;
        let mut began = (Vec::new(), Vec::new());
        while self.seconds < end {
            if self.next_look <= self.seconds {
                self.look();
                self.next_look = self.seconds + quantity::in_seconds(self.layout.control.period);
            }
            let onset = self.onsets.iter().map(|onset| onset.seconds).filter(|at| self.seconds < *at);
            let until = onset.fold(end.min(self.next_look), f64::min);
            let begun: Vec<Fault> = self.faults().collect();
            self.equations.set(&self.layout, &self.commands, &self.grains, &begun);
            let [before, after] = &mut self.room;
            self.equations.truths(&self.state, &self.liquids, before);
            if next <= until {
                began.0.clone_from(&self.state);
                began.1.clone_from(&self.followed);
            }
            self.by.advance(&self.equations, self.seconds, until, &mut self.state)?;
            self.equations.liquids_into(&self.state, &mut self.liquids);
            self.equations.truths(&self.state, &self.liquids, after);
            self.equations.follow(&mut self.followed, before, after, until - self.seconds);
            self.count_dry_running(until - self.seconds);
            let from = self.seconds;
            self.seconds = until;
            while next <= until * (1.0 + 1e-12) {
                let share = (next - from) / (until - from);
                show(&self.snapshot(next, share, &began));
                next += every;
            }
        }
        Ok(())
    }

    /// Returns the plant at a share of the way from an earlier state to the present one.
    fn snapshot(&mut self, seconds: f64, share: f64, began: &(Vec<f64>, Vec<f64>)) -> Snapshot {
        let between = |from: &[f64], to: &[f64]| -> Vec<f64> {
            from.iter().zip(to).map(|(from, to)| from + share * (to - from)).collect()
        };
        let (state, followed) = (between(&began.0, &self.state), between(&began.1, &self.followed));
        let noise = self.noise();
        let faults: Vec<Fault> = self.faults().collect();
        let liquids = self.equations.liquids(&state);
        let holds = liquids.iter().enumerate();
        Snapshot {
            seconds,
            shown: self.equations.shown(&self.layout, &liquids, &followed, &noise, &faults),
            holds: holds.map(|(place, liquid)| self.equations.holds(&state, place, liquid)).collect(),
        }
    }

    /// Returns the noise of one reading of every sensor, in standard deviations. It depends on the seed, the reading
    /// and the sensor alone, so that two copies of a plant run on with the same noise.
    fn noise(&mut self) -> Vec<f64> {
        self.looks += 1;
        let look = self.seed.wrapping_mul(MIX) ^ self.looks.wrapping_mul(0xd134_2543_de82_ef95);
        (0..self.layout.sensors.len() as u64)
            .map(|sensor| bell(mixed(look ^ sensor.wrapping_mul(MIX))))
            .collect()
    }

    fn look(&mut self) {
        self.grains.turn_over(&self.equations, &mut self.state);
        let Some(mut controller) = self.controller.take() else { return };
        let shown = self.sensors();
        self.commands = controller.look(&self.layout, &shown, self.seconds, &self.commands);
        self.controller = Some(controller);
    }

    fn count_dry_running(&mut self, seconds: f64) {
        for (place, line) in self.layout.lines.iter().enumerate() {
            let runs = matches!(line.kind, LineKind::Pump(_)) && self.commands.lines[place] > 0.0;
            if runs && self.equations.flow_share(&self.state, &self.liquids, place) < 0.05 {
                self.dry_seconds[place] += seconds;
            }
        }
    }

    /// Returns what every sensor shows now, its noise and faults included, in the order of the layout and the units of
    /// [`Sensed`](crate::layout::Sensed).
    pub fn sensors(&mut self) -> Vec<f64> {
        let noise = self.noise();
        let faults: Vec<Fault> = self.faults().collect();
        self.equations.shown(&self.layout, &self.liquids, &self.followed, &noise, &faults)
    }

    /// Returns what every sensor would show now without its noise, faults included, in the units of [`Self::sensors`].
    pub fn expects(&self) -> Vec<f64> {
        let quiet = vec![0.0; self.layout.sensors.len()];
        let faults: Vec<Fault> = self.faults().collect();
        self.equations.shown(&self.layout, &self.liquids, &self.followed, &quiet, &faults)
    }

    /// Sets how this plant differs from its layout.
    pub fn tune(&mut self, factors: Factors) {
        self.equations.tune(factors);
    }

    /// Returns how this plant differs from its layout.
    pub fn factors(&self) -> Factors {
        self.equations.factors()
    }

    /// Corrects a vessel's content by a measurement: salt and water, kg, temperature, K, and a factor on the solids.
    /// Its balances no longer close, so it is for models that follow a plant, never for the practice plant.
    pub(crate) fn nudge(&mut self, vessel: usize, salt: f64, water: f64, degrees: f64, solids: f64) {
        self.equations.nudge(&mut self.state, vessel, salt, water, degrees, solids);
        self.equations.liquids_into(&self.state, &mut self.liquids);
    }

    /// Returns the true content of a vessel.
    pub fn holds(&self, vessel: usize) -> Holds {
        self.equations.holds(&self.state, vessel, &self.liquids[vessel])
    }

    /// Returns the true flow in a line, m³/s.
    pub fn flow(&self, line: usize) -> f64 {
        self.equations.flow(&self.state, &self.liquids, line)
    }

    /// Returns the flow in a line as a share of its full flow.
    pub fn flow_share(&self, line: usize) -> f64 {
        self.equations.flow_share(&self.state, &self.liquids, line)
    }

    /// Returns the salt that a feeder truly drops, kg/s as delivered.
    pub fn fed(&self, feeder: usize) -> f64 {
        self.equations.fed(&self.state, &self.liquids, feeder)
    }

    /// Whether a fault has begun or will.
    pub fn will_have(&self, fault: &Fault) -> bool {
        self.onsets.iter().any(|onset| onset.fault == *fault)
    }

    /// Returns two standard normal numbers that depend on the plant's seed and on `number` alone.
    pub fn chance(&self, number: u64) -> [f64; 2] {
        let look = self.seed.wrapping_mul(MIX) ^ number.wrapping_mul(0xaef1_7502_108e_f2d9);
        [bell(mixed(look)), bell(mixed(look ^ MIX))]
    }

    /// Returns the salt left in a store, kg as delivered.
    pub fn store_kg(&self, store: usize) -> f64 {
        self.state[self.equations.store(store)]
    }

    /// Returns how long a pump has run dry, s.
    pub fn dry_seconds(&self, line: usize) -> f64 {
        self.dry_seconds[line]
    }

    /// Returns what has left the plant as brine.
    pub fn made(&self) -> Amounts {
        self.equations.out(&self.state)
    }

    /// Returns what has run over a brim.
    pub fn spilt(&self) -> Amounts {
        self.equations.spilt(&self.state)
    }

    /// Returns what has come in from the supply.
    pub fn supplied(&self) -> Amounts {
        self.equations.supplied(&self.state)
    }

    /// Returns the imbalance: inside now and gone, less what was there and came. Zero but for rounding.
    pub fn imbalance(&self) -> Amounts {
        let (inside, supplied) = (self.equations.inside(&self.state), self.supplied());
        let (made, spilt) = (self.made(), self.spilt());
        let out = Amounts {
            water: made.water + spilt.water,
            salt: made.salt + spilt.salt,
            insolubles: made.insolubles + spilt.insolubles,
            heat: made.heat + spilt.heat,
        };
        let lost = self.equations.lost_heat(&self.state);
        Amounts {
            water: inside.water + out.water - supplied.water - self.began.water,
            salt: inside.salt + out.salt - self.began.salt,
            insolubles: inside.insolubles + out.insolubles - self.began.insolubles,
            heat: inside.heat + out.heat + lost - supplied.heat - self.began.heat,
        }
    }

    /// Returns all that the plant has held or taken in so far, the scale for an imbalance.
    pub fn turned_over(&self) -> Amounts {
        let supplied = self.supplied();
        Amounts {
            water: self.began.water + supplied.water,
            salt: self.began.salt,
            insolubles: self.began.insolubles,
            heat: self.began.heat.abs() + supplied.heat.abs(),
        }
    }
}

/// Checks that a layout fits together, and that a start fits it.
fn check(layout: &Layout, start: &Start) -> Result<(), Error> {
    layout.check()?;
    let sizes = [start.stores_kg.len(), start.in_vessels_kg.len(), start.liquids.len()];
    if sizes != [layout.stores.len(), layout.vessels.len(), layout.vessels.len()] {
        let [stores, vessels, liquids] = sizes;
        return Err(Error::layout(
            message!("plant.start"),
            message!("plant.start-amounts", stores = stores, vessels = vessels, liquids = liquids),
            message!("plant.accepted.start"),
        ));
    }
    Ok(())
}
