//! What a hand can do at the plant, and what it finds when it looks.

use message::message;
use quantity::{hours, in_cubic_metres, in_kilograms};

use super::{FIRST_TRIM, Session, What};
use crate::Error;
use crate::fault::Fault;
use crate::judge::Check;
use crate::layout::{Dissolving, End, LineKind, Sensed};

/// Something done by hand, by the place of what it is done to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Act {
    /// A pump or valve set: 0 off or shut, 1 at full or wide open.
    Line {
        /// Line.
        line: usize,
        /// Share.
        share: f64,
    },
    /// A feeder set.
    Feed {
        /// Feeder.
        feeder: usize,
        /// Share.
        share: f64,
    },
    /// A feeder locked out, or given free.
    LockOut {
        /// Feeder.
        feeder: usize,
        /// Locked out.
        locked: bool,
    },
    /// The number on the controller set.
    Trim {
        /// Number.
        number: f64,
    },
    /// The controller takes over.
    HandBack,
    /// Something put right.
    Mend(Mend),
}

/// Something put right by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mend {
    /// A pump filled and vented.
    Prime(usize),
    /// Salt above a feeder broken loose with a rod, from outside.
    Rod(usize),
    /// A feeder's gate set by a catch and weigh.
    Gate(usize),
    /// Salt put into a store, a loader's bucket.
    Refill(usize),
    /// A vessel's sludge cleaned out.
    Sludge(usize),
    /// A vessel's bed raked.
    Rake(usize),
    /// The strainer of a supply line cleaned.
    Strainer(usize),
    /// A line's valve freed.
    Valve(usize),
    /// A leaking fill valve closed off.
    Seat(usize),
    /// A cell cleaned and covered.
    Cell(usize),
    /// The refractometer zeroed.
    Zero,
    /// A meter proven and set.
    Meter(usize),
}

/// Why an act is refused: what would hurt or ruin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Danger {
    /// The feeder is not locked out.
    FeederNotLockedOut,
    /// The pump runs.
    PumpRuns,
    /// The feeder is locked out: somebody may have a hand in it.
    LockedOut,
}

/// What a look finds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Found {
    /// The pump runs; this share of its flow goes through.
    Circulation {
        /// Whether it is told to run.
        runs: bool,
        /// Share.
        share: f64,
    },
    /// Salt in the hopper, kg, and whether it falls.
    Hopper {
        /// kg.
        kg: f64,
        /// Whether salt falls; none while the feeder is off.
        falls: Option<bool>,
    },
    /// Salt caught, kg/min, and what the setting says.
    Caught {
        /// kg/min.
        kg_per_minute: f64,
        /// kg/min.
        set: f64,
    },
    /// Salt that lies undissolved, kg; this share of it is reached by liquid.
    Bed {
        /// kg.
        kg: f64,
        /// Share.
        reached: f64,
    },
    /// Strength as a fraction and temperature, °C, of the first vessel.
    Sample {
        /// Fraction.
        strength: f64,
        /// °C.
        degrees: f64,
    },
    /// What the meter says flows in and what truly comes in, m³/s.
    Water {
        /// m³/s.
        metered: f64,
        /// m³/s.
        rises: f64,
        /// m³/s wide open.
        usual: f64,
    },
    /// Supply, °C, and what is usual here.
    Supply {
        /// °C.
        degrees: f64,
        /// °C.
        usual: f64,
    },
    /// A valve that does not move as it is told; none that all do.
    Valve {
        /// Line.
        stuck: Option<usize>,
    },
    /// The cell.
    Cell {
        /// Covered by liquid.
        covered: bool,
        /// Clean.
        clean: bool,
    },
    /// Sludge, kg, and whether it stands at the suction.
    Sludge {
        /// kg.
        kg: f64,
        /// At the suction.
        at_suction: bool,
    },
}

/// Salt in a loader's bucket, kg: a round figure, no source.
const BUCKET_KG: f64 = 2000.0;

impl Mend {
    /// Whether it ends a fault.
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

    /// What mends a fault; nothing for a cold supply, and for a trim, which is set.
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
    /// Does something at the plant. What would hurt or ruin is refused, and stands in the log.
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
            Act::Line { line, share } => self.told_by_hand(|commands| commands.lines[line] = share),
            Act::Feed { feeder, share } => self.told_by_hand(|commands| commands.feeders[feeder] = share),
            Act::LockOut { feeder, locked } => {
                if locked {
                    self.told_by_hand(|commands| commands.feeders[feeder] = 0.0);
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
            Act::HandBack => {
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
            Act::HandBack => true,
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

    /// What would hurt or ruin about an act as things stand.
    fn danger(&self, act: Act) -> Option<Danger> {
        let commands = self.plant.commands();
        let runs = |line: usize| 0.0 < commands.lines[line];
        let is_pump = |line: usize| matches!(self.plant.layout().lines[line].kind, LineKind::Pump(_));
        match act {
            Act::Feed { feeder, share } if 0.0 < share && self.watched.locked_out[feeder] => {
                Some(Danger::LockedOut)
            }
            Act::HandBack if self.watched.locked_out.contains(&true) => Some(Danger::LockedOut),
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

    /// Looks at something.
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
