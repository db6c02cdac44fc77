//! A guided run: the step at hand, what it takes for an answer, and what must be known before the way to the tanks is
//! opened. The same whoever answers: a page, a tablet that was away, a practice run.

use event::{RunEnd, RunEnding, RunStep, StepAnswer, TotalOf};
use jiff::{SignedDuration, Timestamp};
use message::Message;
use plant::procedure::{self, Kind, Meter, Needs, Procedure, Step};
use site::Yard;
use yard::estimate::SampleVerdict;
use yard::release::{NotYet, evidence};
use yard::run_log::Run;
use yard::stock::Books;

use crate::problem::parse_number;

/// An answer to a step, as typed.
#[derive(Debug, Clone, Copy, Default)]
pub struct Typed<'a> {
    /// Id of the step it was given for.
    pub step: &'a str,
    /// Whether the operator looked for it and did not see it.
    pub is_not_seen: bool,
    /// The figure that the step asks for.
    pub value: &'a str,
    /// What else was seen.
    pub remark: &'a str,
    /// Why it goes on without the evidence that the step needs.
    pub override_reason: &'a str,
    /// Whether the person who answers may go on without the evidence.
    pub may_override: bool,
}

/// Why an answer is not taken.
#[derive(Debug, Clone, PartialEq)]
pub enum NotTaken {
    /// Another step is at hand: it was answered meanwhile.
    MovedOn,
    /// What was made is booked instead of answered.
    BookFirst,
    /// The figure is none: what is wrong, and what is accepted.
    NoNumber(Message, Message),
    /// The figure lies outside the step's limits.
    Outside(f64),
    /// The evidence is missing that the step needs.
    NoEvidence(NotYet),
    /// It is missing, and a reason was given by one who may not go on without it.
    MayNotOverride(NotYet),
}

/// The first step that does not lie behind, with its place.
pub fn at_hand<'p>(procedure: &'p Procedure, run: &Run) -> Option<(usize, &'p Step)> {
    procedure.steps.iter().enumerate().find(|(_, step)| !is_behind(run, step))
}

/// Whether a step lies behind. A batch is booked once its run has one; everything else once it was answered.
pub fn is_behind(run: &Run, step: &Step) -> bool {
    run.is_behind(&step.id) || (step.kind == Kind::Book && !run.booked.is_empty())
}

/// When a step may be answered at the earliest: so long after the one before.
pub fn not_before(run: &Run, step: &Step) -> Option<Timestamp> {
    let last = run
        .answers
        .iter()
        .rev()
        .find(|answer| answer.answer != StepAnswer::NotSeen)
        .map_or(run.at, |one| one.at);
    Some(last + SignedDuration::from_secs_f64(60.0 * step.minutes?))
}

/// The sample that opens a step, or why it is not open yet; none for a step that needs no evidence.
pub fn needed(
    (yard, books): (&Yard, &Books),
    run: &Run,
    step: &Step,
    now: Timestamp,
) -> Option<Result<SampleVerdict, NotYet>> {
    step.needs.map(|Needs::InSpec| evidence(yard, books, run, now))
}

/// The answer to the step at hand.
///
/// # Errors
/// [`NotTaken`]; nothing is recorded then.
pub fn answer(
    about: (&Yard, &Books),
    (procedure, run): (&Procedure, &Run),
    typed: &Typed<'_>,
    now: Timestamp,
) -> Result<RunStep, NotTaken> {
    let current = at_hand(procedure, run).filter(|(_, step)| step.id == typed.step);
    let (_, step) = current.ok_or(NotTaken::MovedOn)?;
    let (answer, value) = match (step.kind, &step.entry) {
        (Kind::Do, _) | (Kind::Enter, None) => (StepAnswer::Done, None),
        (Kind::See, _) if typed.is_not_seen => (StepAnswer::NotSeen, None),
        (Kind::See, _) => (StepAnswer::Seen, None),
        (Kind::Enter, Some(entry)) => (StepAnswer::Entered, Some(figure(entry, typed.value)?)),
        (Kind::Book, _) => return Err(NotTaken::BookFirst),
    };
    let override_reason = released(about, (run, step), typed, now)?;
    let total = step.entry.as_ref().zip(value).and_then(|(entry, value)| entry.total_m3(value));
    Ok(RunStep {
        total_of: total.map(|(meter, _)| match meter {
            Meter::Water => TotalOf::Water,
            Meter::Making => TotalOf::Making,
        }),
        total_m3: total.map(|(_, m3)| m3),
        override_reason,
        run: run.event.to_string(),
        step: step.id.clone(),
        answer,
        value_reading: value,
        remark: given(typed.remark),
    })
}

/// The end of a run: finished when every step lies behind, else broken off with its reason; none where that is missing.
pub fn end(procedure: Option<&Procedure>, run: &Run, reason: &str) -> Option<RunEnd> {
    let is_through = procedure.is_none_or(|procedure| at_hand(procedure, run).is_none());
    let (how, reason) =
        if is_through { (RunEnding::Finished, None) } else { (RunEnding::BrokenOff, Some(given(reason)?)) };
    Some(RunEnd { run: run.event.to_string(), how, reason })
}

fn figure(entry: &procedure::Entry, typed: &str) -> Result<f64, NotTaken> {
    let value = parse_number(typed).map_err(|(what, accepted)| NotTaken::NoNumber(what, accepted))?;
    if (entry.low..=entry.high).contains(&value) { Ok(value) } else { Err(NotTaken::Outside(value)) }
}

/// Whether a step that needs evidence may be answered: with the evidence, or by a reason of one who may give it, which
/// is kept.
fn released(
    about: (&Yard, &Books),
    (run, step): (&Run, &Step),
    typed: &Typed<'_>,
    now: Timestamp,
) -> Result<Option<String>, NotTaken> {
    let Some(Err(why)) = needed(about, run, step, now) else { return Ok(None) };
    // That it is not seen may be said at any time.
    if typed.is_not_seen {
        return Ok(None);
    }
    match given(typed.override_reason) {
        None if run.overridden().is_some() => Ok(None),
        None => Err(NotTaken::NoEvidence(why)),
        Some(_) if !typed.may_override => Err(NotTaken::MayNotOverride(why)),
        Some(reason) => Ok(Some(reason)),
    }
}

fn given(typed: &str) -> Option<String> {
    Some(typed.trim().to_owned()).filter(|text| !text.is_empty())
}
