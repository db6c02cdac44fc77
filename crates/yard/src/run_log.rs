//! Guided runs as the ledger has them: what was answered, by whom and when. A part of the fold: after a power cut, or
//! at a change of shift, a run goes on where it stands.

use jiff::Timestamp;
use plant::judge::Prior;
use quantity::{Volume, cubic_metres};

use event::{Body, BucketsTo, EventId, Recorded, RunEnding, StepAnswer, TotalOf};
use site::Metered;

/// Runs kept at hand.
const MOST_RUNS: usize = 24;

/// Guided runs, oldest first.
#[derive(Debug, Clone, Default)]
pub struct RunLog {
    runs: Vec<Run>,
    learned: Option<Learned>,
}

/// What the yard's own runs have shown of its plant so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Learned {
    /// What is known of the plant for the next run.
    pub prior: Prior,
    /// When that was.
    pub at: Timestamp,
}

/// One guided run, from its start to its end.
#[derive(Debug, Clone)]
pub struct Run {
    /// Id of the entry that started it.
    pub event: EventId,
    /// Row of the ledger of its start.
    pub seq: u64,
    /// When it began.
    pub at: Timestamp,
    /// Who began it.
    pub author: String,
    /// Title of the procedure.
    pub procedure: String,
    /// Tank it is meant for.
    pub tank: Option<String>,
    /// Answers in order of time; a step may be answered more than once.
    pub answers: Vec<Answer>,
    /// How and when it ended; none while it goes on.
    pub ended: Option<Ended>,
    /// What was booked of it, oldest first.
    pub booked: Vec<Booked>,
    /// Buckets of rock salt counted into the plant while it went on: how many, and kg of one where stated.
    pub buckets: Vec<(f64, Option<f64>)>,
    /// What changed last since it began, after which an earlier sample says nothing.
    pub changed: Option<Changed>,
}

/// A batch that was booked of a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Booked {
    /// Id of its entry in the ledger.
    pub event: EventId,
    /// Row of the ledger.
    pub seq: u64,
    /// Tank it went to.
    pub tank: String,
}

/// A change that a sample must come after.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Changed {
    /// When it happened.
    pub at: Timestamp,
    /// Kind of change.
    pub what: Change,
}

/// What can change the brine of a run while it goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change {
    /// The controller's number was set.
    Trim,
    /// Water or salt was put in to change the strength.
    Correction,
    /// The water comes from elsewhere.
    Water,
    /// Salt was put into the plant, or salt of another delivery came.
    Salt,
}

/// A step answered.
#[derive(Debug, Clone)]
pub struct Answer {
    /// Id of its entry in the ledger.
    pub event: EventId,
    /// Id of the step that was answered.
    pub step: String,
    /// How it was answered.
    pub answer: StepAnswer,
    /// Figure that was entered with the answer, in the unit of the step.
    pub value: Option<f64>,
    /// Notes typed with the answer.
    pub remark: Option<String>,
    /// The figure as a total of a meter of the plant.
    pub total: Option<(Metered, Volume)>,
    /// Why a supervisor let the run go on without the evidence that the step needs.
    pub override_reason: Option<String>,
    /// When it happened.
    pub at: Timestamp,
    /// Who entered it, by the entry's own word.
    pub author: String,
}

/// A run's end.
#[derive(Debug, Clone)]
pub struct Ended {
    /// Whether it was finished or stopped early.
    pub how: RunEnding,
    /// Why, where it was broken off.
    pub reason: Option<String>,
    /// When it happened.
    pub at: Timestamp,
    /// Who entered it, by the entry's own word.
    pub author: String,
}

impl Run {
    /// The last answer to a step.
    pub fn answer(&self, step: &str) -> Option<&Answer> {
        self.answers.iter().rev().find(|answer| answer.step == step)
    }

    /// Whether a step lies behind: done, seen or entered, not "not seen".
    pub fn is_behind(&self, step: &str) -> bool {
        self.answer(step).is_some_and(|answer| answer.answer != StepAnswer::NotSeen)
    }

    /// When it ended; while it goes on, now.
    pub fn until(&self, now: Timestamp) -> Timestamp {
        self.ended.as_ref().map_or(now, |ended| ended.at)
    }

    /// The last time that a supervisor let it go on without evidence, with nothing changed since.
    pub fn overridden(&self) -> Option<&Answer> {
        let last = self.answers.iter().rev().find(|answer| answer.override_reason.is_some())?;
        self.changed.is_none_or(|changed| changed.at <= last.at).then_some(last)
    }
}

impl RunLog {
    /// Takes one event in, in order of happening. A step or an end of a run that is not known is left aside.
    pub(crate) fn take(&mut self, recorded: &Recorded) {
        let event = &recorded.event;
        let (at, author) = (event.occurred_at, event.author.clone());
        match &event.body {
            Body::RunStart(start) => {
                if self.runs.len() == MOST_RUNS {
                    self.runs.remove(0);
                }
                self.runs.push(Run {
                    event: event.id,
                    seq: recorded.seq,
                    at,
                    author,
                    procedure: start.procedure.clone(),
                    tank: start.tank.clone(),
                    answers: Vec::new(),
                    ended: None,
                    booked: Vec::new(),
                    buckets: Vec::new(),
                    changed: None,
                });
            }
            Body::RunStep(step) => {
                if let Some(run) = self.find_mut(&step.run) {
                    run.answers.push(Answer {
                        event: event.id,
                        step: step.step.clone(),
                        answer: step.answer,
                        value: step.value_reading,
                        remark: step.remark.clone(),
                        total: step.total_of.map(total_of).zip(step.total_m3.map(cubic_metres)),
                        override_reason: step.override_reason.clone(),
                        at,
                        author,
                    });
                }
            }
            Body::MakingRun(made) => {
                let (id, seq, tank) = (event.id, recorded.seq, made.tank.clone());
                if let Some(run) = made.run.as_deref().and_then(|run| self.find_mut(run)) {
                    run.booked.push(Booked { event: id, seq, tank });
                }
            }
            Body::TrimSet(_) => self.change(at, Change::Trim),
            Body::Correction(_) => self.change(at, Change::Correction),
            Body::WaterChange(_) => self.change(at, Change::Water),
            Body::SaltDelivery(_) => self.change(at, Change::Salt),
            Body::BucketCount(count) if count.to == BucketsTo::Plant => {
                self.change(at, Change::Salt);
                for run in self.runs.iter_mut().filter(|run| run.ended.is_none()) {
                    run.buckets.push((count.buckets_number, count.bucket_kg));
                }
            }
            Body::RunEnd(end) => {
                if let Some(run) = self.find_mut(&end.run) {
                    run.ended = Some(Ended { how: end.how, reason: end.reason.clone(), at, author });
                }
            }
            Body::PlantFit(fit) => {
                let factors = [fit.reached_number, fit.feed_number, fit.water_number];
                let spreads = [fit.reached_spread_number, fit.feed_spread_number, fit.water_spread_number];
                let is_one = factors.iter().chain(&spreads).all(|number| number.is_finite() && 0.0 < *number);
                if is_one {
                    self.learned = Some(Learned { prior: Prior { factors, spreads }, at });
                }
            }
            _ => {}
        }
    }

    /// What the yard's runs have shown of its plant.
    pub fn learned(&self) -> Option<Learned> {
        self.learned
    }

    /// Every run that goes on was changed.
    fn change(&mut self, at: Timestamp, what: Change) {
        for run in self.runs.iter_mut().filter(|run| run.ended.is_none()) {
            run.changed = Some(Changed { at, what });
        }
    }

    fn find_mut(&mut self, id: &str) -> Option<&mut Run> {
        let id: EventId = id.parse().ok()?;
        self.runs.iter_mut().find(|run| run.event == id)
    }

    /// A run by the id of its start.
    pub fn run(&self, id: EventId) -> Option<&Run> {
        self.runs.iter().find(|run| run.event == id)
    }

    /// The run that goes on; the newest where several do.
    pub fn open(&self) -> Option<&Run> {
        self.runs.iter().rev().find(|run| run.ended.is_none())
    }

    /// All that are kept, newest first.
    pub fn newest_first(&self) -> impl Iterator<Item = &Run> {
        self.runs.iter().rev()
    }
}

/// The meter whose total it is.
fn total_of(of: TotalOf) -> Metered {
    match of {
        TotalOf::Water => Metered::Water,
        TotalOf::Making => Metered::Making,
    }
}
