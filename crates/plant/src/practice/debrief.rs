//! The debrief of a session, beside a run in which everything is fixed soon.

use super::{Session, What};
use crate::Error;
use crate::fault::Fault;
use crate::judge::{Cause, check_of};
use crate::model::Plant;

use super::act::{Act, Mend};

/// In the reference run a fault is fixed this long after it began, s: program default.
const MENDED_AFTER: f64 = 300.0;

/// Totals of a run.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Totals {
    /// Brine released, kg.
    pub made_kg: f64,
    /// Mean strength of it as a mass fraction; zero where none was released.
    pub strength: f64,
    /// Brine released above the spec range, kg.
    pub over_kg: f64,
    /// Brine released below the spec range, kg.
    pub under_kg: f64,
    /// Salt used, kg as delivered.
    pub salt_kg: f64,
    /// Water taken in, kg.
    pub water_kg: f64,
    /// Liquid that ran over a brim, kg.
    pub spilt_kg: f64,
    /// Longest time that a pump ran dry, s.
    pub dry_seconds: f64,
    /// Plant time at which the panel was first in its spec range, s.
    pub in_band: Option<f64>,
}

/// A fault, and when it was noticed and fixed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noticed {
    /// The fault that was set, by the exercise or the trainer.
    pub fault: Fault,
    /// Plant time at which it began, s.
    pub began: f64,
    /// Plant time of the first inspection of the right place, or of the first right action, s.
    pub noticed: Option<f64>,
    /// Plant time at which it was fixed, s.
    pub mended: Option<f64>,
}

/// Debrief of a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Debrief {
    /// Length of the session, s of plant time.
    pub seconds: f64,
    /// Totals of this run.
    pub run: Totals,
    /// Totals of the reference run: the same plant run by its controller, every fault fixed in five minutes.
    pub reference: Totals,
    /// Faults, in the order they began.
    pub noticed: Vec<Noticed>,
    /// Indexes of the lines whose pump was ruined.
    pub ruined: Vec<usize>,
    /// Number of unsafe actions that were tried.
    pub dangerous: usize,
}

/// Whether a log line shows that a fault was noticed.
fn shows(what: &What, fault: &Fault) -> bool {
    match what {
        What::Looked(check) => match Cause::of(fault) {
            Some(cause) => check_of(&cause) == *check,
            // A refractometer is only found out by zeroing it.
            None => false,
        },
        What::Did(Act::Mend(mend)) => mend.ends(fault),
        What::Did(Act::Line { line, share }) => {
            matches!(fault, Fault::Unprimed { line: one } if one == line && *share <= 0.0)
        }
        What::Did(Act::Trim { .. }) => matches!(fault, Fault::DriftedTrim { .. }),
        _ => false,
    }
}

fn totals(plant: &Plant) -> Totals {
    let (made, spilt) = (plant.made(), plant.spilt());
    let mass = made.salt + made.water;
    Totals {
        made_kg: mass,
        strength: if 1e-9 < mass { made.salt / mass } else { 0.0 },
        water_kg: plant.supplied().water,
        spilt_kg: spilt.salt + spilt.water + spilt.insolubles,
        dry_seconds: (0..plant.layout().lines.len()).map(|line| plant.dry_seconds(line)).fold(0.0, f64::max),
        ..Totals::default()
    }
}

impl Session {
    fn run_totals(&self) -> Totals {
        let stores = self.plant.layout().stores.len();
        let left: f64 = (0..stores).map(|store| self.plant.store_kg(store)).sum();
        let began = self.exercise.scenario.salt_kg * stores as f64;
        let in_band = self.log.iter().find(|entry| entry.what == What::InBand).map(|entry| entry.seconds);
        Totals {
            over_kg: self.watched.over_kg,
            under_kg: self.watched.under_kg,
            salt_kg: began + self.refilled_kg - left,
            in_band,
            ..totals(&self.plant)
        }
    }

    /// Runs the same exercise by the plant's controller, every fault that began fixed in five minutes.
    fn reference(&self) -> Result<Totals, Error> {
        let mut exercise = self.exercise.clone();
        exercise.by_hand = false;
        let seed = exercise.scenario.seed;
        let mut session = Session::new(exercise, &self.properties, seed)?;
        // A practiced operator primes before starting.
        session.plant.mend(|fault| matches!(fault, Fault::Unprimed { .. }));
        let mut to_mend: Vec<(f64, Fault)> = self
            .log
            .iter()
            .filter_map(|entry| match entry.what {
                What::Began { fault, .. } => Some((entry.seconds, fault)),
                _ => None,
            })
            .collect();
        for (began, fault) in &to_mend {
            // What the trainer added is not part of the exercise.
            if !session.plant.will_have(fault) && !matches!(fault, Fault::Unprimed { .. }) {
                session.plant.begin(crate::fault::Onset { seconds: *began, fault: *fault });
            }
        }
        let end = self.seconds();
        to_mend.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (began, fault) in to_mend {
            let at = (began + MENDED_AFTER).min(end);
            session.advance_to(at)?;
            // A cold supply stays cold; a drift of the panel is trimmed away.
            if Mend::of(&fault).is_some() || matches!(fault, Fault::DriftedTrim { .. }) {
                session.plant.mend(|one| *one == fault);
            }
        }
        session.advance_to(end)?;
        Ok(session.run_totals())
    }

    /// Returns the debrief so far. It simulates the reference run, which takes some tens of milliseconds an hour.
    ///
    /// # Errors
    /// [`Error::Stuck`].
    pub fn debrief(&self) -> Result<Debrief, Error> {
        let mut noticed: Vec<Noticed> = Vec::new();
        for (place, entry) in self.log.iter().enumerate() {
            let What::Began { fault, .. } = &entry.what else { continue };
            let after = &self.log[place + 1..];
            let first = after.iter().find(|later| shows(&later.what, fault));
            let mended = after.iter().find(|later| match later.what {
                What::Did(Act::Mend(mend)) => mend.ends(fault),
                _ => false,
            });
            noticed.push(Noticed {
                fault: *fault,
                began: entry.seconds,
                noticed: first.map(|later| later.seconds),
                mended: mended.map(|later| later.seconds),
            });
        }
        let dangerous = self.log.iter().filter(|entry| matches!(entry.what, What::Dangerous(..))).count();
        let ruined = (0..self.watched.ruined.len()).filter(|line| self.watched.ruined[*line]).collect();
        Ok(Debrief {
            seconds: self.seconds(),
            run: self.run_totals(),
            reference: self.reference()?,
            noticed,
            ruined,
            dangerous,
        })
    }
}
