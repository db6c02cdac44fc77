//! The practice plant: a model that a person runs, with what breaks, and what came of it afterwards.
//!
//! A [`Session`] is an [`Exercise`] being played. It knows no clock: whoever holds it says how far it is to go. What is
//! done to it, what breaks and what is looked at stands in its log; [`Session::debrief`] holds that against a run in
//! which everything is mended soon.

mod act;
mod debrief;

use std::sync::Arc;

use message::message;
use serde::Deserialize;

use crate::Error;
use crate::fault::{Fault, Onset};
use crate::judge::Check;
use crate::layout::{End, LineKind};
use crate::model::{Commands, Plant};
use crate::properties::Properties;
use crate::scenario::{Broken, Scenario};

pub use act::{Act, Danger, Found, Mend};
pub use debrief::{Debrief, Noticed, Totals};

/// The exercises that ship, as text.
pub const SHIPPED: &str = include_str!("../data/exercises.toml");

/// A pump that ran dry for longer than this is ruined, s. Seals go within minutes; common practice, no source.
pub const HARM_SECONDS: f64 = 180.0;
/// A look back is possible to every so many seconds.
const KEPT_EVERY: f64 = 60.0;
/// Longest step between two countings of what has left the plant, s.
const STEP: f64 = 30.0;
/// The number on the controller that trims its panel, at the start.
pub const FIRST_TRIM: f64 = 1.0;

/// What is to be played.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Exercise {
    /// Id.
    pub id: String,
    /// What it is called.
    pub title: String,
    /// What the trainee is told.
    pub task: String,
    /// What the trainer should know: what will happen, and what a good hand does.
    pub for_trainer: String,
    /// Run by hand from the start; else by its controller until a hand takes it.
    pub by_hand: bool,
    /// The plant, and what breaks.
    pub scenario: Scenario,
}

/// The exercises that ship, in English, Spanish and French.
pub const TRANSLATED: [&str; 3] = [
    include_str!("../data/exercises.toml"),
    include_str!("../data/exercises.es.toml"),
    include_str!("../data/exercises.fr.toml"),
];

/// A file of exercises.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Exercises {
    /// In order.
    #[serde(rename = "exercise")]
    pub exercises: Vec<Exercise>,
}

/// Something in the log of a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// When, s of the plant.
    pub seconds: f64,
    /// What.
    pub what: What,
}

/// What happened.
#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// Something was done.
    Did(Act),
    /// Something was tried that can hurt or ruin; it was refused.
    Dangerous(Act, Danger),
    /// Something was looked at.
    Looked(Check),
    /// A fault began; the trainer told of it or not.
    Began {
        /// What.
        fault: Fault,
        /// Whether the trainee was told.
        told: bool,
    },
    /// A pump was ruined.
    Ruined {
        /// Line.
        line: usize,
    },
    /// The panel first came into its band.
    InBand,
    /// The trainer went back; what came after is gone.
    WentBack,
}

/// A sample as drawn: true strength and temperature, and what is wrong with the bench's refractometer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawn {
    /// Fraction.
    pub strength: f64,
    /// °C.
    pub degrees: f64,
    /// What the refractometer shows too much, per cent by mass.
    pub not_zeroed: f64,
    /// Standard normal numbers, for what instruments scatter.
    pub chance: [f64; 2],
}

/// Moment that can be gone back to.
#[derive(Clone)]
struct Kept {
    plant: Plant,
    watched: Watched,
    entries: usize,
}

/// What is counted along the way.
#[derive(Debug, Clone, PartialEq)]
struct Watched {
    /// Faults that have begun, as far as the log says.
    begun: Vec<Fault>,
    ruined: Vec<bool>,
    locked_out: Vec<bool>,
    trim: f64,
    in_band: bool,
    /// Brine let out above and below the band, kg.
    over_kg: f64,
    under_kg: f64,
    /// Salt and water let out or taken in at the last counting, kg.
    counted: (f64, f64),
    samples: u64,
}

/// An exercise being played.
pub struct Session {
    exercise: Exercise,
    properties: Arc<Properties>,
    plant: Plant,
    watched: Watched,
    log: Vec<Entry>,
    /// Faults that the trainee is told of when they begin.
    told: Vec<Onset>,
    kept: Vec<Kept>,
    /// Salt brought in by hand, kg as delivered.
    refilled_kg: f64,
    by_hand: bool,
}

impl Session {
    /// An exercise at its start.
    ///
    /// # Errors
    /// [`Error::Layout`] for an exercise that does not hang together.
    pub fn new(exercise: Exercise, properties: &Arc<Properties>, seed: u64) -> Result<Self, Error> {
        let mut scenario = exercise.scenario.clone();
        scenario.seed = seed;
        let mut plant = scenario.plant(properties)?;
        plant.by_hand(exercise.by_hand);
        let layout = plant.layout();
        let watched = Watched {
            begun: Vec::new(),
            ruined: vec![false; layout.lines.len()],
            locked_out: vec![false; layout.feeders.len()],
            trim: FIRST_TRIM,
            in_band: false,
            over_kg: 0.0,
            under_kg: 0.0,
            counted: (0.0, 0.0),
            samples: 0,
        };
        let by_hand = exercise.by_hand;
        let mut session = Self {
            exercise: Exercise { scenario, ..exercise },
            properties: Arc::clone(properties),
            plant,
            watched,
            log: Vec::new(),
            told: Vec::new(),
            kept: Vec::new(),
            refilled_kg: 0.0,
            by_hand,
        };
        session.watch();
        session.keep();
        Ok(session)
    }

    /// The exercise.
    pub fn exercise(&self) -> &Exercise {
        &self.exercise
    }

    /// The plant.
    pub fn plant(&self) -> &Plant {
        &self.plant
    }

    /// Time of the plant, s.
    pub fn seconds(&self) -> f64 {
        self.plant.seconds()
    }

    /// What has happened so far.
    pub fn log(&self) -> &[Entry] {
        &self.log
    }

    /// Whether a hand runs it, and not its controller.
    pub fn is_by_hand(&self) -> bool {
        self.by_hand
    }

    /// The number on the controller that trims its panel.
    pub fn trim(&self) -> f64 {
        self.watched.trim
    }

    /// Whether a feeder is locked out.
    pub fn is_locked_out(&self, feeder: usize) -> bool {
        self.watched.locked_out.get(feeder).copied().unwrap_or(false)
    }

    /// Whether a pump has been ruined.
    pub fn is_ruined(&self, line: usize) -> bool {
        self.watched.ruined.get(line).copied().unwrap_or(false)
    }

    /// What every sensor shows now.
    pub fn sensors(&mut self) -> Vec<f64> {
        self.plant.sensors()
    }

    /// Faults that the trainee was told of and that go on.
    pub fn told(&self) -> impl Iterator<Item = Fault> + '_ {
        self.plant.faults().filter(|fault| self.told.iter().any(|onset| onset.fault == *fault))
    }

    /// Goes on to a time, s; nothing for one that lies behind.
    ///
    /// # Errors
    /// [`Error::Stuck`].
    pub fn advance_to(&mut self, seconds: f64) -> Result<(), Error> {
        while self.plant.seconds() < seconds {
            let step = (seconds - self.plant.seconds()).min(STEP);
            self.plant.advance(step)?;
            self.watch();
            let last = self.kept.last().map_or(f64::NEG_INFINITY, |kept| kept.plant.seconds());
            if last + KEPT_EVERY <= self.plant.seconds() {
                self.keep();
            }
        }
        Ok(())
    }

    fn keep(&mut self) {
        self.kept.push(Kept {
            plant: self.plant.clone(),
            watched: self.watched.clone(),
            entries: self.log.len(),
        });
    }

    fn write(&mut self, what: What) {
        self.log.push(Entry { seconds: self.plant.seconds(), what });
    }

    /// Counts what has left the plant and sees what has begun.
    fn watch(&mut self) {
        let made = self.plant.made();
        let (salt, water) = self.watched.counted;
        let (salt, water) = (made.salt - salt, made.water - water);
        self.watched.counted = (made.salt, made.water);
        let control = &self.plant.layout().control;
        let (target, band) = (control.target.fraction(), control.band);
        let mass = salt + water;
        if 1e-9 < mass {
            let strength = salt / mass;
            if target + band < strength {
                self.watched.over_kg += mass;
            } else if strength < target - band {
                self.watched.under_kg += mass;
            }
        }
        let begun: Vec<Fault> = self.plant.faults().filter(|fault| !self.is_own_trim(fault)).collect();
        for fault in &begun {
            if !self.watched.begun.contains(fault) {
                self.watched.begun.push(*fault);
                let told = self.told.iter().any(|onset| onset.fault == *fault);
                self.write(What::Began { fault: *fault, told });
            }
        }
        self.watched.begun.retain(|fault| begun.contains(fault));
        for line in 0..self.watched.ruined.len() {
            if !self.watched.ruined[line] && HARM_SECONDS < self.plant.dry_seconds(line) {
                self.watched.ruined[line] = true;
                self.write(What::Ruined { line });
            }
        }
        if !self.watched.in_band {
            let control = &self.plant.layout().control;
            let (panel, target) = (control.panel, control.target.percent());
            let band = 100.0 * control.band;
            if (self.plant.expects()[panel] - target).abs() <= band {
                self.watched.in_band = true;
                self.write(What::InBand);
            }
        }
    }

    /// The factor that the number set on the controller puts on its panel.
    fn own_trim(&self) -> Fault {
        Fault::DriftedTrim { factor: self.watched.trim / FIRST_TRIM }
    }

    fn is_own_trim(&self, fault: &Fault) -> bool {
        *fault == self.own_trim()
    }

    /// Lets a fault begin now or so many seconds from now; the trainee is told of it, or not.
    ///
    /// # Errors
    /// [`Error::Layout`] for a fault that the plant cannot have.
    pub fn begin(&mut self, broken: &Broken, told: bool) -> Result<(), Error> {
        let fault = broken.fault(self.plant.layout(), &message!("plant.any-fault"))?;
        let onset = Onset { seconds: self.plant.seconds() + 60.0 * broken.at_min, fault };
        if told {
            self.told.push(onset);
        }
        self.plant.begin(onset);
        self.watch();
        Ok(())
    }

    /// Goes back by so many seconds, to the last moment kept before that; answers the time gone back to.
    pub fn rewind(&mut self, seconds: f64) -> f64 {
        let to = (self.plant.seconds() - seconds).max(0.0);
        let place = self.kept.iter().rposition(|kept| kept.plant.seconds() <= to).unwrap_or(0);
        self.kept.truncate(place + 1);
        if let Some(kept) = self.kept.last().cloned() {
            self.plant = kept.plant;
            self.watched = kept.watched;
            self.log.truncate(kept.entries);
            self.write(What::WentBack);
        }
        self.plant.seconds()
    }

    /// Draws a sample from a vessel for the bench.
    pub fn sample(&mut self, vessel: usize) -> Option<Drawn> {
        if self.plant.layout().vessels.len() <= vessel {
            return None;
        }
        let holds = self.plant.holds(vessel);
        self.watched.samples += 1;
        self.write(What::Looked(Check::Sample));
        let not_zeroed = self
            .plant
            .faults()
            .map(|fault| if let Fault::NotZeroed { percent } = fault { percent } else { 0.0 })
            .sum();
        let chance = self.plant.chance(self.watched.samples);
        Some(Drawn { strength: holds.strength, degrees: holds.degrees, not_zeroed, chance })
    }

    /// Pumps that run and carry nothing.
    pub fn dry_running(&self) -> Vec<usize> {
        let layout = self.plant.layout();
        let runs = |line: usize| 0.0 < self.plant.commands().lines[line];
        (0..layout.lines.len())
            .filter(|line| matches!(layout.lines[*line].kind, LineKind::Pump(_)) && runs(*line))
            .filter(|line| self.plant.flow_share(*line) < 0.05)
            .collect()
    }

    /// Commands with one line or feeder changed by hand.
    fn told_by_hand(&mut self, change: impl FnOnce(&mut Commands)) {
        let mut commands = self.plant.commands().clone();
        change(&mut commands);
        self.plant.by_hand(true);
        self.by_hand = true;
        self.plant.tell(commands);
    }

    /// The first vessel that a line leads from or to: where its liquid is.
    fn vessel_of(&self, line: usize) -> Option<usize> {
        let line = &self.plant.layout().lines[line];
        [line.from, line.to].into_iter().find_map(|end| match end {
            End::Vessel(place) => Some(place),
            End::Supply | End::Out => None,
        })
    }
}
