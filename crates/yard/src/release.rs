//! Whether the way from the plant to the tanks may be opened: by a sample of this run, from the plant's tap, after the
//! last change, that is in spec.

use bench::Conformity;
use chemistry::MassFraction;
use jiff::Timestamp;

use crate::estimate::SampleVerdict;
use crate::run_log::{Changed, Run};
use crate::site::Yard;

/// Why it may not be opened.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NotYet {
    /// No sample from the plant's tap was logged in this run.
    NoSample,
    /// Something changed after the last sample.
    Changed(Changed),
    /// The last sample is not in spec.
    Out {
        /// The sample.
        sample: SampleVerdict,
        /// How it stands.
        conformity: Conformity,
    },
}

/// The sample that opens it. `sample` is the newest of the plant's tap.
///
/// # Errors
/// [`NotYet`].
pub fn evidence(
    yard: &Yard,
    run: &Run,
    sample: Option<SampleVerdict>,
    now: Timestamp,
) -> Result<SampleVerdict, NotYet> {
    let in_run = |sample: &SampleVerdict| run.at <= sample.at && sample.at <= run.until(now);
    let sample = sample.filter(in_run).ok_or(NotYet::NoSample)?;
    if let Some(changed) = run.changed.filter(|changed| sample.at < changed.at) {
        return Err(NotYet::Changed(changed));
    }
    let conformity = yard.made_spec().band().judge(sample.strength.value, MassFraction::ZERO);
    if conformity != Conformity::InSpec {
        return Err(NotYet::Out { sample, conformity });
    }
    Ok(sample)
}
