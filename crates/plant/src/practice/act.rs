//! What an operator can do at the practice plant, and what an inspection finds.

use message::message;
use quantity::{hours, in_cubic_metres, in_kilograms};

use super::{FIRST_TRIM, Session, What};
use crate::Error;
use crate::fault::Fault;
use crate::judge::Check;
use crate::layout::{Dissolving, End, LineKind, Sensed};

/// Something the operator does, with the index of the part in the layout.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Act {
    /// Sets a pump or valve: 0 is off or shut, 1 is full or wide open.
    Line {
        /// Index of the line.
        line: usize,
        /// Share of full flow, 0…1.
        share: f64,
    },
    /// Sets a feeder.
    Feed {
        /// Index of the feeder.
        feeder: usize,
        /// Share of full speed, 0…1.
        share: f64,
    },
    /// Locks a feeder out, or removes the lockout.
    LockOut {
        /// Index of the feeder.
        feeder: usize,
        /// Whether it is locked out after this.
        locked: bool,
    },
    /// Sets the trim setting of the controller.
    Trim {
        /// New trim setting, 0.5…2.
        number: f64,
    },
    /// Returns the plant to automatic.
    ReturnToAuto,
    /// Repairs a part by hand.
    Mend(Mend),
}

/// A repair by hand, with the index of the part in the layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mend {
    /// Fill and vent a pump.
    Prime(usize),
    /// Break bridged salt loose above a feeder with a rod, from outside.
    Rod(usize),
    /// Set a feeder's gate by catch and weigh.
    Gate(usize),
    /// Put a loader bucket of salt into a store.
    Refill(usize),
    /// Clean the sludge out of a vessel.
    Sludge(usize),
    /// Rake the bed of a vessel.
    Rake(usize),
    /// Clean the strainer of a supply line.
    Strainer(usize),
    /// Free the valve of a line.
    Valve(usize),
    /// Close off a leaking fill valve.
    Seat(usize),
    /// Clean and cover a cell.
    Cell(usize),
    /// Zero the refractometer.
    Zero,
    /// Check a meter against the scale and set it.
    Meter(usize),
}

/// Why an action is unsafe: what would hurt someone or ruin equipment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Danger {
    /// The feeder is not locked out.
    FeederNotLockedOut,
    /// The pump is running.
    PumpRuns,
    /// The feeder is locked out: someone may have a hand in it.
    LockedOut,
}

/// What an inspection finds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Found {
    /// Circulation of the stirred vessel.
    Circulation {
        /// Whether the pump is commanded to run.
        runs: bool,
        /// Share of its full flow that goes through, 0…1.
        share: f64,
    },
    /// Salt in the hopper, and whether it falls.
    Hopper {
        /// Salt in the hopper, kg as delivered.
        kg: f64,
        /// Whether salt falls; none while the feeder is off.
        falls: Option<bool>,
    },
    /// Salt caught below the feeder, and what the setting says.
    Caught {
        /// Salt caught, kg/min.
        kg_per_minute: f64,
        /// Salt by the setting, kg/min.
        set: f64,
    },
    /// Undissolved salt in the bed.
    Bed {
        /// Undissolved salt, kg.
        kg: f64,
        /// Share of its surface that liquid reaches, 0…1.
        reached: f64,
    },
    /// A sample of the first vessel.
    Sample {
        /// Strength, as a mass fraction.
        strength: f64,
        /// Temperature of the sample as it was drawn, °C.
        degrees: f64,
    },
    /// Water in by the meter, and by the rise of the level.
    Water {
        /// Water by the meter, m³/s.
        metered: f64,
        /// Water by the rise of the level, m³/s.
        rises: f64,
        /// Water with the valve wide open, m³/s.
        usual: f64,
    },
    /// Temperature of the supply water.
    Supply {
        /// Temperature now, °C.
        degrees: f64,
        /// Usual temperature here, °C.
        usual: f64,
    },
    /// Whether the valves move as commanded.
    Valve {
        /// Index of the line whose valve does not; none where all do.
        stuck: Option<usize>,
    },
    /// State of the panel's conductivity cell.
    Cell {
        /// Whether it is covered by liquid.
        covered: bool,
        /// Whether it is clean.
        clean: bool,
    },
    /// Sludge in the first vessel.
    Sludge {
        /// Sludge, kg of insolubles.
        kg: f64,
        /// Whether it is up to the suction.
        at_suction: bool,
    },
}

/// Salt in a loader's bucket, kg: a round figure, no published source.
const BUCKET_KG: f64 = 2000.0;

impl Mend {
    /// Whether it fixes a fault.
    pub fn ends(self, fault: &Fault) -> bool {
        match (self, *fault) {
            (Mend::Prime(line), Fault::Unprimed { line: one }) => line == one,
            (Mend::Rod(feeder), Fault::Bridging { feeder: one }) => feeder == one,
            (
                Mend::Gate(feeder),
                Fault::TooOpen { feeder: one, .. } | Fault::TooClosed { feeder: one, .. },
            ) => feeder == one,
            (Mend::Refill(store), Fault::SaltOut { store: one }) => store == one,
            (Mend::Sludge(vessel), Fault::SludgeFull { vessel: one }) => vessel == one,
            (Mend::Rake(vessel), Fault::Channelled { vessel: one, .. }) => vessel == one,
            (Mend::Strainer(_), Fault::WeakSupply { .. }) => true,
            (Mend::Valve(line), Fault::Stuck { line: one, .. }) => line == one,
            (Mend::Seat(vessel), Fault::LeakingFill { vessel: one, .. }) => vessel == one,
            (
                Mend::Cell(sensor),
                Fault::FouledCell { sensor: one, .. } | Fault::UncoveredCell { sensor: one },
            ) => sensor == one,
            (Mend::Zero, Fault::NotZeroed { .. }) => true,
            (Mend::Meter(sensor), Fault::MeterDrift { sensor: one, .. }) => sensor == one,
            _ => false,
        }
    }

    /// Returns what fixes a fault; none for a cold supply, and for a trim, which is set.
    pub fn of(fault: &Fault) -> Option<Self> {
        Some(match *fault {
            Fault::Unprimed { line } => Mend::Prime(line),
            Fault::Bridging { feeder } => Mend::Rod(feeder),
            Fault::TooOpen { feeder, .. } | Fault::TooClosed { feeder, .. } => Mend::Gate(feeder),
            Fault::SaltOut { store } => Mend::Refill(store),
            Fault::SludgeFull { vessel } => Mend::Sludge(vessel),
            Fault::Channelled { vessel, .. } => Mend::Rake(vessel),
            Fault::WeakSupply { .. } => Mend::Strainer(0),
            Fault::Stuck { line, .. } => Mend::Valve(line),
            Fault::LeakingFill { vessel, .. } => Mend::Seat(vessel),
            Fault::FouledCell { sensor, .. } | Fault::UncoveredCell { sensor } => Mend::Cell(sensor),
            Fault::NotZeroed { .. } => Mend::Zero,
            Fault::MeterDrift { sensor, .. } => Mend::Meter(sensor),
            Fault::ColdSupply { .. } | Fault::DriftedTrim { .. } => return None,
        })
    }
}

impl Session {
    /// Does something at the plant. An unsafe action is refused, and stays in the log.
    ///
    /// # Errors
    /// [`Error::Layout`] for a part that is not there or a share that is none.
    pub fn act(&mut self, act: Act) -> Result<Option<Danger>, Error> {
        self.check(act)?;
        if let Some(danger) = self.danger(act) {
            self.write(What::Dangerous(act, danger));
            return Ok(Some(danger));
        }
        match act {
            Act::Line { line, share } => self.command_by_hand(|commands| commands.lines[line] = share),
            Act::Feed { feeder, share } => self.command_by_hand(|commands| commands.feeders[feeder] = share),
            Act::LockOut { feeder, locked } => {
                if locked {
                    self.command_by_hand(|commands| commands.feeders[feeder] = 0.0);
                }
                self.watched.locked_out[feeder] = locked;
            }
            Act::Trim { number } => {
                let before = self.own_trim();
                self.plant.mend(|fault| *fault == before);
                self.watched.trim = number;
                let factor = number / FIRST_TRIM;
                if 1e-9 < (factor - 1.0).abs() {
                    let onset = crate::fault::Onset { seconds: self.seconds(), fault: self.own_trim() };
                    self.plant.begin(onset);
                }
            }
            Act::ReturnToAuto => {
                self.plant.by_hand(false);
                self.by_hand = false;
            }
            Act::Mend(mend) => {
                self.plant.mend(|fault| mend.ends(fault));
                match mend {
                    Mend::Refill(store) => {
                        self.plant.refill(store, BUCKET_KG)?;
                        self.refilled_kg += BUCKET_KG;
                    }
                    Mend::Sludge(vessel) => {
                        self.plant.clean_out(vessel);
                    }
                    _ => {}
                }
            }
        }
        self.write(What::Did(act));
        self.watch();
        Ok(None)
    }

    fn check(&self, act: Act) -> Result<(), Error> {
        let layout = self.plant.layout();
        let sizes = (layout.lines.len(), layout.feeders.len(), layout.vessels.len(), layout.sensors.len());
        let is_share = |share: f64| (0.0..=1.0).contains(&share);
        let fits = match act {
            Act::Line { line, share } => {
                let is_set =
                    layout.lines.get(line).is_some_and(|one| !matches!(one.kind, LineKind::Overflow { .. }));
                is_set && is_share(share)
            }
            Act::Feed { feeder, share } => feeder < sizes.1 && is_share(share),
            Act::LockOut { feeder, .. } => feeder < sizes.1,
            Act::Trim { number } => (0.5 * FIRST_TRIM..=2.0 * FIRST_TRIM).contains(&number),
            Act::ReturnToAuto => true,
            Act::Mend(mend) => match mend {
                Mend::Prime(line) | Mend::Strainer(line) | Mend::Valve(line) => line < sizes.0,
                Mend::Rod(feeder) | Mend::Gate(feeder) => feeder < sizes.1,
                Mend::Refill(store) => store < layout.stores.len(),
                Mend::Sludge(vessel) | Mend::Rake(vessel) | Mend::Seat(vessel) => vessel < sizes.2,
                Mend::Cell(sensor) | Mend::Meter(sensor) => sensor < sizes.3,
                Mend::Zero => true,
            },
        };
        if fits {
            return Ok(());
        }
        Err(Error::layout(message!("plant.act"), format!("{act:?}"), message!("plant.accepted.act")))
    }

    /// Returns what would hurt or ruin about an action now.
    fn danger(&self, act: Act) -> Option<Danger> {
        let commands = self.plant.commands();
        let runs = |line: usize| 0.0 < commands.lines[line];
        let is_pump = |line: usize| matches!(self.plant.layout().lines[line].kind, LineKind::Pump(_));
        match act {
            Act::Feed { feeder, share } if 0.0 < share && self.watched.locked_out[feeder] => {
                Some(Danger::LockedOut)
            }
            Act::ReturnToAuto if self.watched.locked_out.contains(&true) => Some(Danger::LockedOut),
            Act::Mend(Mend::Rod(feeder) | Mend::Gate(feeder)) if !self.watched.locked_out[feeder] => {
                Some(Danger::FeederNotLockedOut)
            }
            Act::Mend(Mend::Sludge(vessel) | Mend::Rake(vessel)) => {
                let feeds = self.plant.layout().feeders.iter().zip(&self.watched.locked_out);
                let free = feeds.into_iter().any(|(feeder, locked)| feeder.to == vessel && !locked);
                let pumped = (0..commands.lines.len())
                    .any(|line| is_pump(line) && runs(line) && self.vessel_of(line) == Some(vessel));
                if free { Some(Danger::FeederNotLockedOut) } else { pumped.then_some(Danger::PumpRuns) }
            }
            Act::Mend(Mend::Prime(line) | Mend::Valve(line)) if is_pump(line) && runs(line) => {
                Some(Danger::PumpRuns)
            }
            _ => None,
        }
    }

    /// Inspects a part of the plant, or takes a sample. Returns what is seen there; an inspection goes into the log.
    pub fn look(&mut self, check: Check) -> Found {
        if check != Check::Sample {
            self.write(What::Looked(check));
        }
        let layout = self.plant.layout();
        let commands = self.plant.commands();
        let faults: Vec<Fault> = self.plant.faults().collect();
        let control = &layout.control;
        let first = layout.vessels.iter().position(|one| one.dissolving.is_some()).unwrap_or(0);
        match check {
            Check::Circulation => {
                let pump = match layout.vessels[first].dissolving {
                    Some(Dissolving::Stirred { by, .. }) => Some(by),
                    _ => layout.lines.iter().position(|line| matches!(line.kind, LineKind::Pump(_))),
                };
                let line = pump.unwrap_or(0);
                Found::Circulation { runs: 0.0 < commands.lines[line], share: self.plant.flow_share(line) }
            }
            Check::Hopper => {
                let fed = self.plant.fed(0);
                let falls = (0.0 < commands.feeders[0]).then_some(1e-6 < fed);
                let is_out = faults.iter().any(|fault| matches!(fault, Fault::SaltOut { store: 0 }));
                Found::Hopper { kg: if is_out { 0.0 } else { self.plant.store_kg(0) }, falls }
            }
            Check::CatchFeed => {
                let full = in_kilograms(layout.feeders[0].rate * hours(1.0)) / 60.0;
                Found::Caught { kg_per_minute: 60.0 * self.plant.fed(0), set: commands.feeders[0] * full }
            }
            Check::DipBed => {
                let reached = faults.iter().fold(1.0, |reached, fault| match fault {
                    Fault::Channelled { vessel, share } if *vessel == first => reached * share,
                    _ => reached,
                });
                Found::Bed { kg: self.plant.holds(first).undissolved_kg, reached }
            }
            Check::Sample => match self.sample(first) {
                Some(drawn) => Found::Sample { strength: drawn.strength, degrees: drawn.degrees },
                None => Found::Sample { strength: 0.0, degrees: 0.0 },
            },
            Check::MeterAgainstRise => {
                let line = layout.lines.iter().position(|line| line.from == End::Supply).unwrap_or(0);
                let meter = layout
                    .sensors
                    .iter()
                    .position(|sensor| matches!(sensor.of, Sensed::Flow { line: one } if one == line));
                let leaks: f64 = faults
                    .iter()
                    .map(|fault| if let Fault::LeakingFill { flow, .. } = fault { *flow } else { 0.0 })
                    .sum();
                let usual = match layout.lines[line].kind {
                    LineKind::Pump(rate) | LineKind::Valve(rate) => {
                        in_cubic_metres(rate * hours(1.0)) / 3600.0
                    }
                    LineKind::Overflow { .. } => 0.0,
                };
                let metered = meter.map_or(0.0, |place| self.plant.expects()[place]);
                Found::Water {
                    metered,
                    rises: self.plant.flow(line) + leaks,
                    usual: usual * commands.lines[line],
                }
            }
            Check::SupplyTemperature => {
                let usual = quantity::in_celsius(layout.supply.temperature);
                let colder: f64 = faults
                    .iter()
                    .map(|fault| if let Fault::ColdSupply { colder } = fault { *colder } else { 0.0 })
                    .sum();
                Found::Supply { degrees: usual - colder, usual }
            }
            Check::Valve => Found::Valve {
                stuck: faults.iter().find_map(|fault| match fault {
                    Fault::Stuck { line, .. } => Some(*line),
                    _ => None,
                }),
            },
            Check::Cell => Found::Cell {
                covered: !faults.iter().any(
                    |fault| matches!(fault, Fault::UncoveredCell { sensor } if *sensor == control.panel),
                ),
                clean: !faults.iter().any(
                    |fault| matches!(fault, Fault::FouledCell { sensor, .. } if *sensor == control.panel),
                ),
            },
            Check::Sludge => Found::Sludge {
                kg: self.plant.holds(first).sludge_kg,
                at_suction: faults
                    .iter()
                    .any(|fault| matches!(fault, Fault::SludgeFull { vessel } if *vessel == first)),
            },
        }
    }
}
