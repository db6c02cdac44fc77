//! Looks at the panel and settings of the controller's number that do not fit what went before them.

use jiff::Timestamp;
use message::message;

use super::{EntryProblem, none};
use event::{Body, EventId, PanelCheck, TrimSet};
use site::Yard;
use yard::bench_log::TrimState;
use yard::stock::Books;

/// Longest time between a panel check and its sample, s. Our own figure.
const FRESH_SECONDS: i64 = 2 * 3600;

/// What is asked of a look or a setting of this time.
pub(super) fn trimming(body: &Body, (yard, books): (&Yard, &Books), at: Timestamp) -> Vec<EntryProblem> {
    match body {
        Body::TrimSet(set) => {
            let far = too_far(set, yard).into_iter().chain(before_last("clock", books, at));
            far.chain(without_advice(set)).collect()
        }
        Body::PanelCheck(look) => {
            let early = before_last("at", books, at).or_else(|| too_early(yard, books, at));
            early.into_iter().chain(far_from_sample(look, books, at)).collect()
        }
        _ => Vec::new(),
    }
}

/// A larger step than the yard takes at once.
fn too_far(set: &TrimSet, yard: &Yard) -> Option<EntryProblem> {
    let (step, largest) = ((set.to_number / set.from_number - 1.0).abs(), yard.trim.largest_step);
    (largest * (1.0 + 1e-9) < step).then(|| {
        let (percent, largest) = ((100.0 * step, 1), (100.0 * largest, 1));
        let problem =
            message!("entry.large-step", percent = percent, from = set.from_number, largest = largest);
        EntryProblem::new("to_number", set.to_number, problem, message!("entry.accept-smaller-step"))
    })
}

/// A setting that no advice and no reason explains.
fn without_advice(set: &TrimSet) -> Option<EntryProblem> {
    (set.advised_number.is_none() && set.reason.is_none()).then(|| {
        let accepted = message!("entry.accept-reason-or-confirm");
        EntryProblem::new("reason", none(), message!("entry.set-without-advice"), accepted)
    })
}

fn before_last(field: &str, books: &Books, at: Timestamp) -> Option<EntryProblem> {
    books.bench.trims.last().filter(|last| at < last.at).map(|_| {
        EntryProblem::new(field, at, message!("entry.before-last-check"), message!("entry.accept-late"))
    })
}

/// A look before the last setting has come through: it may be logged, and says little.
fn too_early(yard: &Yard, books: &Books, at: Timestamp) -> Option<EntryProblem> {
    let TrimState::Waiting { until, .. } = books.bench.trim_state(yard, at) else { return None };
    let accepted = message!("entry.accept-later-sample", from = until);
    Some(EntryProblem::new("at", at, message!("entry.setting-not-through"), accepted))
}

/// The time of a look lies far from its sample.
fn far_from_sample(look: &PanelCheck, books: &Books, at: Timestamp) -> Option<EntryProblem> {
    let id: EventId = look.reading.as_ref()?.parse().ok()?;
    let of = books.tap_sample(id)?.at;
    (FRESH_SECONDS < at.duration_since(of).as_secs().abs()).then(|| {
        let problem = message!("entry.far-from-sample", sample = of);
        EntryProblem::new("at", at, problem, message!("entry.accept-time-of-sample"))
    })
}
