//! The practice plant: a model that a person runs, the faults that occur in it, and a debrief afterward.
//!
//! A [`Session`] is one run of an [`Exercise`]. It has no clock: the caller says how far it runs. Its log keeps what
//! was done, what broke and what was inspected; [`Session::debrief`] compares that with a run in which everything is
//! fixed soon.

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

/// A pump that ran dry for longer than this is ruined, s. Seals fail within minutes: common practice; no published
/// source.
pub const HARM_SECONDS: f64 = 180.0;
/// Time between two moments that the session can be rewound to, s.
const KEPT_EVERY: f64 = 60.0;
/// Longest step between two counts of what has left the plant, s.
const STEP: f64 = 30.0;
/// Trim setting at the start.
pub(crate) const FIRST_TRIM: f64 = 1.0;

/// An exercise: the task, the plant, and what happens in it.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Exercise {
    /// Id in the file of exercises.
    pub id: String,
    /// Title of the exercise.
    pub title: String,
    /// What the trainee is told.
    pub task: String,
    /// Notes for the trainer: what will happen, and what a good operator does.
    pub for_trainer: String,
    /// Whether it starts in manual; else the controller runs the plant until someone takes over.
    pub by_hand: bool,
    /// The plant, and its faults.
    pub scenario: Scenario,
}

/// The shipped exercises in English, Spanish and French.
pub const TRANSLATED: [&str; 3] = [
    include_str!("../data/exercises.toml"),
    include_str!("../data/exercises.es.toml"),
    include_str!("../data/exercises.fr.toml"),
];

/// A file of exercises.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Exercises {
    /// Exercises, in the order of the file.
    #[serde(rename = "exercise")]
    pub exercises: Vec<Exercise>,
}

/// A line in the log of a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Plant time, s.
    pub seconds: f64,
    /// What happened at that time.
    pub what: What,
}

/// What can happen in a session.
#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// The trainee did something.
    Did(Act),
    /// The trainee tried something that can hurt a person or ruin equipment; it was refused.
    Dangerous(Act, Danger),
    /// The trainee inspected something.
    Looked(Check),
    /// A fault began.
    Began {
        /// The fault that began.
        fault: Fault,
        /// Whether the trainee was told of it.
        told: bool,
    },
    /// A pump was ruined.
    Ruined {
        /// Index of the pump's line.
        line: usize,
    },
    /// The panel was in its spec range for the first time.
    InBand,
    /// The trainer rewound the session; what came after is gone.
    WentBack,
}

/// A sample as drawn: true strength and temperature, and what is wrong with the bench's refractometer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawn {
    /// True strength, as a mass fraction.
    pub strength: f64,
    /// True temperature, °C.
    pub degrees: f64,
    /// What the refractometer shows too much, % by mass.
    pub not_zeroed: f64,
    /// Standard normal numbers for the scatter of instruments.
    pub chance: [f64; 2],
}

/// A moment that the session can be rewound to.
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
    /// Salt brought in by loader, kg as delivered.
    refilled_kg: f64,
    by_hand: bool,
}

impl Session {
    /// Starts an exercise.
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

    /// Returns the exercise.
    pub fn exercise(&self) -> &Exercise {
        &self.exercise
    }

    /// Returns the model of the plant.
    pub fn plant(&self) -> &Plant {
        &self.plant
    }

    /// Returns the plant time, s.
    pub fn seconds(&self) -> f64 {
        self.plant.seconds()
    }

    /// Returns what has happened so far.
    pub fn log(&self) -> &[Entry] {
        &self.log
    }

    /// Whether the plant is in manual, not run by its controller.
    pub fn is_by_hand(&self) -> bool {
        self.by_hand
    }

    /// Returns the trim setting, no unit, 0.5…2.
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

    /// Returns what every sensor shows now, in the units of [`Sensed`](crate::layout::Sensed).
    pub fn sensors(&mut self) -> Vec<f64> {
        self.plant.sensors()
    }

    /// Returns the active faults that the trainee was told of.
    pub fn told(&self) -> impl Iterator<Item = Fault> + '_ {
        self.plant.faults().filter(|fault| self.told.iter().any(|onset| onset.fault == *fault))
    }

    /// Runs the plant to a time, s; does nothing for a time in the past.
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

    /// Counts what has left the plant, and logs what has begun.
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

    /// Returns the factor that the trim setting puts on the panel.
    fn own_trim(&self) -> Fault {
        Fault::DriftedTrim { factor: self.watched.trim / FIRST_TRIM }
    }

    fn is_own_trim(&self, fault: &Fault) -> bool {
        *fault == self.own_trim()
    }

    /// Starts a fault now, or after its `at_min`; the trainee is told of it, or not.
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

    /// Rewinds by so many seconds, to the last moment kept before that. Returns the plant time after it, s.
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

    /// Returns the pumps that run dry.
    pub fn dry_running(&self) -> Vec<usize> {
        let layout = self.plant.layout();
        let runs = |line: usize| 0.0 < self.plant.commands().lines[line];
        (0..layout.lines.len())
            .filter(|line| matches!(layout.lines[*line].kind, LineKind::Pump(_)) && runs(*line))
            .filter(|line| self.plant.flow_share(*line) < 0.05)
            .collect()
    }

    /// Changes the command of one line or feeder by hand.
    fn command_by_hand(&mut self, change: impl FnOnce(&mut Commands)) {
        let mut commands = self.plant.commands().clone();
        change(&mut commands);
        self.plant.by_hand(true);
        self.by_hand = true;
        self.plant.tell(commands);
    }

    /// Returns the first vessel that a line leads from or to: the one whose liquid it moves.
    fn vessel_of(&self, line: usize) -> Option<usize> {
        let line = &self.plant.layout().lines[line];
        [line.from, line.to].into_iter().find_map(|end| match end {
            End::Vessel(place) => Some(place),
            End::Supply | End::Out => None,
        })
    }
}
