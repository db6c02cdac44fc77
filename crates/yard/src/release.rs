//! Whether the way from the plant to the tanks may be opened: by a sample of this run, from the plant's tap, after the
//! last change, that is in spec.

use bench::Conformity;
use bench::conformity::Known;
use chemistry::MassFraction;
use jiff::Timestamp;

use crate::estimate::SampleVerdict;
use crate::run_log::{Changed, Run};
use crate::stock::Books;
use site::Yard;

/// Half of a 95 % interval is so many standard deviations.
const K95: f64 = 1.96;

/// Why it may not be opened.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NotYet {
    /// No sample from the plant's tap was logged in this run.
    NoSample,
    /// Something changed after the last sample.
    Changed(Changed),
    /// A later sample from the tap is doubted: what it was of is not known.
    Doubted(Timestamp),
    /// The last sample is not surely in spec.
    Out {
        /// The last sample.
        sample: SampleVerdict,
        /// How it stands.
        conformity: Conformity,
    },
}

/// The sample that opens it: the newest of the plant's tap, by all instruments that were read in it, judged as at the
/// bench with the chance of a wrong verdict that the yard accepts.
///
/// # Errors
/// [`NotYet`].
pub fn evidence(yard: &Yard, books: &Books, run: &Run, now: Timestamp) -> Result<SampleVerdict, NotYet> {
    let in_run = |sample: &SampleVerdict| run.at <= sample.at && sample.at <= run.until(now);
    let sample = books.tap_verdict().filter(in_run).ok_or(NotYet::NoSample)?;
    let doubted = books.tap.iter().filter(|one| one.reading.doubt.is_some() && one.sample() != sample.sample);
    if let Some(later) = doubted.map(|one| one.at).max().filter(|at| sample.at < *at) {
        return Err(NotYet::Doubted(later));
    }
    if let Some(changed) = run.changed.filter(|changed| sample.at < changed.at) {
        return Err(NotYet::Changed(changed));
    }
    let deviation = MassFraction::from_fraction(sample.strength.uncertainty.fraction() / K95).ok();
    let judged = deviation.and_then(|standard_uncertainty| {
        let strength = sample.strength.value;
        let known = Known { strength, standard_uncertainty, degrees_of_freedom: None };
        yard.made_spec().band().judge_at_risk(&known, yard.bench.risk).ok()
    });
    let conformity = judged.unwrap_or(Conformity::CannotTell);
    if conformity != Conformity::InSpec {
        return Err(NotYet::Out { sample, conformity });
    }
    Ok(sample)
}
