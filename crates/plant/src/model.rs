//! A plant moved through time.
//!
//! Between two looks of the controller the plant is a system of ordinary differential equations: masses of water, salt,
//! insolubles and heat of every vessel, grains of salt by size, and sensors that lag behind. What crosses the plant's
//! border is integrated along with it, so that balances close by construction of the method, not by repair.

mod amounts;
mod control;
mod equations;
mod grains;
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

/// Relative tolerance of a step: a gram of a tonne is plenty; balances do not depend on it.
const RELATIVE: f64 = 1e-5;

/// How a plant stands when a run begins.
#[derive(Debug, Clone)]
pub struct Start {
    /// Salt in each store, kg as delivered.
    pub stores_kg: Vec<f64>,
    /// Salt that lies in each vessel already, kg as delivered.
    pub in_vessels_kg: Vec<f64>,
    /// Liquid in each vessel: kg, strength as a fraction, °C.
    pub liquids: Vec<(f64, f64, f64)>,
    /// Seed of the sensors' noise.
    pub seed: u64,
}

impl Start {
    /// A plant with full stores and next to nothing in its vessels.
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

/// A plant at a moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Snapshot {
    /// Time of the plant, s.
    pub seconds: f64,
    /// What every sensor shows, in its own unit.
    pub shown: Vec<f64>,
    /// What every vessel holds, in truth.
    pub holds: Vec<Holds>,
}

/// A plant in motion.
#[derive(Debug, Clone)]
pub struct Plant {
    layout: Layout,
    equations: Equations,
    state: Vec<f64>,
    grains: Grains,
    /// What each sensor has followed to.
    followed: Vec<f64>,
    /// The liquids of the moment, and room to work in.
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
    /// A plant as it stands at the start, run by its own controller.
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

    /// The layout it was made of.
    pub fn layout(&self) -> &Layout {
        &self.layout
    }

    /// Time of the plant, s.
    pub fn seconds(&self) -> f64 {
        self.seconds
    }

    /// What it is told now.
    pub fn commands(&self) -> &Commands {
        &self.commands
    }

    /// Lets it be run by hand from here, or by its controller again.
    pub fn by_hand(&mut self, by_hand: bool) {
        self.controller =
            if by_hand { None } else { Some(self.controller.take().unwrap_or_else(Controller::new)) };
    }

    /// Tells a line or feeder by hand what to do; the controller, where it runs, overrules it at its next look.
    pub fn tell(&mut self, commands: Commands) {
        self.commands = commands;
    }

    /// Lets a fault begin.
    pub fn begin(&mut self, onset: Onset) {
        self.onsets.push(onset);
    }

    /// Ends every fault of the kind and place that `ended` says.
    pub fn mend(&mut self, ended: impl Fn(&Fault) -> bool) {
        self.onsets.retain(|onset| !ended(&onset.fault));
    }

    /// Faults that have begun.
    pub fn faults(&self) -> impl Iterator<Item = Fault> + '_ {
        self.onsets.iter().filter(|onset| onset.seconds <= self.seconds).map(|onset| onset.fault)
    }

    /// A loader dumps salt into a vessel, kg as delivered: it brings water, insolubles and cold with it.
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

    /// Salt comes into a store, kg as delivered.
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

    /// Takes sludge out of a vessel, kg of insolubles; answers how much there was.
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

    /// Moves it on, s.
    ///
    /// # Errors
    /// [`Error::Stuck`].
    pub fn advance(&mut self, seconds: f64) -> Result<(), Error> {
        self.go(seconds, f64::INFINITY, &mut |_| ())
    }

    /// Moves it on, s, and shows it every so many seconds on the way. Between two looks of the controller what is shown
    /// lies on a straight line.
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

    /// The plant a share of the way from an earlier state to the present one.
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

    /// A look's noise of every sensor, in standard deviations: of the seed, the look and the sensor alone, so that a
    /// plant can be copied and run on twice with the same noise.
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

    /// What every sensor shows now, its noise and faults included, in its own unit.
    pub fn sensors(&mut self) -> Vec<f64> {
        let noise = self.noise();
        let faults: Vec<Fault> = self.faults().collect();
        self.equations.shown(&self.layout, &self.liquids, &self.followed, &noise, &faults)
    }

    /// What every sensor is to show now, without its noise.
    pub fn expects(&self) -> Vec<f64> {
        let quiet = vec![0.0; self.layout.sensors.len()];
        let faults: Vec<Fault> = self.faults().collect();
        self.equations.shown(&self.layout, &self.liquids, &self.followed, &quiet, &faults)
    }

    /// Sets what is not known of a plant beforehand.
    pub fn tune(&mut self, factors: Factors) {
        self.equations.tune(factors);
    }

    /// What it was tuned to.
    pub fn factors(&self) -> Factors {
        self.equations.factors()
    }

    /// Moves a vessel's content to what a measurement makes likelier: masses of salt and water and heat by so much, and
    /// solids by a factor. Balances no longer close: for models that follow a plant, never for one that stands for it.
    pub(crate) fn nudge(&mut self, vessel: usize, salt: f64, water: f64, degrees: f64, solids: f64) {
        self.equations.nudge(&mut self.state, vessel, salt, water, degrees, solids);
        self.equations.liquids_into(&self.state, &mut self.liquids);
    }

    /// What a vessel holds, in truth.
    pub fn holds(&self, vessel: usize) -> Holds {
        self.equations.holds(&self.state, vessel, &self.liquids[vessel])
    }

    /// Flow in a line, m³/s, in truth.
    pub fn flow(&self, line: usize) -> f64 {
        self.equations.flow(&self.state, &self.liquids, line)
    }

    /// Flow in a line as a share of what it carries at full.
    pub fn flow_share(&self, line: usize) -> f64 {
        self.equations.flow_share(&self.state, &self.liquids, line)
    }

    /// Salt that a feeder drops, kg/s as delivered, in truth.
    pub fn fed(&self, feeder: usize) -> f64 {
        self.equations.fed(&self.state, &self.liquids, feeder)
    }

    /// Whether a fault has begun or will.
    pub fn will_have(&self, fault: &Fault) -> bool {
        self.onsets.iter().any(|onset| onset.fault == *fault)
    }

    /// Two standard normal numbers of the plant's seed and a number: the same give the same.
    pub fn chance(&self, number: u64) -> [f64; 2] {
        let look = self.seed.wrapping_mul(MIX) ^ number.wrapping_mul(0xaef1_7502_108e_f2d9);
        [bell(mixed(look)), bell(mixed(look ^ MIX))]
    }

    /// Salt left in a store, kg as delivered.
    pub fn store_kg(&self, store: usize) -> f64 {
        self.state[self.equations.store(store)]
    }

    /// How long a pump has run dry, s.
    pub fn dry_seconds(&self, line: usize) -> f64 {
        self.dry_seconds[line]
    }

    /// What has left the plant as brine.
    pub fn made(&self) -> Amounts {
        self.equations.out(&self.state)
    }

    /// What has run over a brim.
    pub fn spilt(&self) -> Amounts {
        self.equations.spilt(&self.state)
    }

    /// What has come in from the supply.
    pub fn supplied(&self) -> Amounts {
        self.equations.supplied(&self.state)
    }

    /// What does not balance: inside now and gone, less what was there and came. Zero but for rounding.
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

    /// All that the plant has held or taken in so far, against which an imbalance is small or not.
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

/// The odd number of G. L. Steele, D. Lea and C. H. Flood's SplitMix (OOPSLA 2014), from memory.
const MIX: u64 = 0x9e37_79b9_7f4a_7c15;

/// Their mixing function: neighbouring numbers come out unlike.
fn mixed(number: u64) -> u64 {
    let mut z = number.wrapping_add(MIX);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A standard normal number from a mixed one (G. E. P. Box and M. E. Muller, Ann. Math. Stat. 29 (1958) 610).
fn bell(number: u64) -> f64 {
    let share = |bits: u64| ((bits >> 11) as f64 + 0.5) / (1_u64 << 53) as f64;
    let (radius, angle) = (share(number), share(mixed(number ^ MIX)));
    (-2.0 * radius.ln()).sqrt() * (std::f64::consts::TAU * angle).cos()
}

/// A layout that hangs together, and a start that fits it.
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
