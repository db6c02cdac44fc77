//! The equations of a layout, and what commands and faults set in them.

use std::sync::Arc;

use quantity::{in_celsius, in_cubic_metres, in_kilograms};

use super::{Drop, Equations, LEDGER, Place, Run, Tank, in_seconds, per_second};
use crate::fault::Fault;
use crate::layout::{End, Layout, LineKind, SIZES};
use crate::model::amounts::{Commands, Factors, delivered};
use crate::model::grains::{COHORTS, Grains};
use crate::properties::Properties;

impl Equations {
    pub(in crate::model) fn new(layout: &Layout, properties: Arc<Properties>) -> Self {
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

    /// Sets commands and faults until the next call.
    pub(in crate::model) fn set(
        &mut self,
        layout: &Layout,
        commands: &Commands,
        grains: &Grains,
        faults: &[Fault],
    ) {
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
                    // It jams at more than half above its full rate.
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
                // These change what is shown, not the plant.
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
}
