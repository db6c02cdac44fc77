//! When chores were done, and what has happened since that makes them due. A part of the fold.

use std::collections::BTreeMap;

use jiff::Timestamp;
use quantity::{Time, Volume, cubic_metres, hours};

use event::{Body, EventId, Recorded};

/// What chores count from.
#[derive(Debug, Clone, Default)]
pub struct ChoreLog {
    done: BTreeMap<String, Done>,
    making: Time,
    made: Volume,
    /// First event of all.
    pub first_at: Option<Timestamp>,
    /// Last making run.
    pub run_at: Option<Timestamp>,
    /// Last delivery of salt.
    pub salt_at: Option<Timestamp>,
    /// Last load or treatment.
    pub storm_at: Option<Timestamp>,
    /// Last beginning of a season.
    pub season_at: Option<Timestamp>,
    /// Last check of each truck's sprayer and spreader: when, and the event.
    pub checks: BTreeMap<(String, &'static str), (Timestamp, EventId)>,
}

/// A chore as it was done last.
#[derive(Debug, Clone, PartialEq)]
pub struct Done {
    /// When it happened.
    pub at: Timestamp,
    /// Who entered it, by the entry's own word.
    pub author: String,
    /// What was found or done.
    pub done: String,
    /// Making hours of the plant until then.
    pub making: Time,
    /// Brine made until then.
    pub made: Volume,
}

impl ChoreLog {
    pub(crate) fn take(&mut self, recorded: &Recorded) {
        let (event, at) = (&recorded.event, recorded.event.occurred_at);
        self.first_at.get_or_insert(at);
        match &event.body {
            Body::MakingRun(run) => {
                self.run_at = Some(at);
                self.making += hours(run.duration_h.unwrap_or(0.0));
                self.made += cubic_metres(run.volume_m3);
            }
            Body::SaltDelivery(_) => self.salt_at = Some(at),
            Body::LoadOut(_) | Body::Application(_) => self.storm_at = Some(at),
            Body::SeasonStart(_) => self.season_at = Some(at),
            Body::SprayerCheck(check) => {
                self.checks.insert((check.truck.clone(), "sprayer"), (at, event.id));
            }
            Body::SpreaderCheck(check) => {
                self.checks.insert((check.truck.clone(), "spreader"), (at, event.id));
            }
            Body::ChoreDone(done) => {
                let entry = Done {
                    at,
                    author: event.author.clone(),
                    done: done.done.clone(),
                    making: self.making,
                    made: self.made,
                };
                self.done.insert(done.chore.clone(), entry);
            }
            _ => {}
        }
    }

    /// A chore as it was done last.
    pub fn last(&self, chore: &str) -> Option<&Done> {
        self.done.get(chore)
    }

    /// Making hours and brine made so far.
    pub fn so_far(&self) -> (Time, Volume) {
        (self.making, self.made)
    }
}
