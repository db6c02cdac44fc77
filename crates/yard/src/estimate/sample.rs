//! What the readings of one sample say together.

use bench::consensus::{Answer, consensus};
use chemistry::{Estimate, MassFraction};
use jiff::Timestamp;

use super::seen::SeenStrength;
use super::state::K95;
use super::tank::SampleVerdict;
use crate::uncertain::{LAYERS_PCT, READING_PCT, READINGS_ALIKE_PCT};
use event::{EventId, Reading, SamplePoint};

/// Strength of a reading and its standard deviation, as fractions.
pub(super) fn strength_of(reading: &Reading) -> Option<(f64, f64)> {
    let strength = percent(Some(reading.strength_pct))?.fraction();
    let stated = reading.uncertainty_pct.map_or(READING_PCT, |interval| interval / K95);
    let is_layer = matches!(reading.level, Some(SamplePoint::Top | SamplePoint::Bottom));
    Some((strength, stated.hypot(if is_layer { LAYERS_PCT } else { 0.0 }) / 100.0))
}

/// What all instruments that were read in a sample say together: strengths and standard deviations, as fractions.
pub(super) fn verdict(sample: EventId, at: Timestamp, read: &[(f64, f64)]) -> Option<SampleVerdict> {
    let seen = together(read)?;
    // With what all readings share put back in.
    let within = K95 * seen.deviation.hypot(READINGS_ALIKE_PCT / 100.0);
    let uncertainty = MassFraction::from_fraction(within.min(1.0)).ok()?;
    let strength = Estimate { value: seen.strength, uncertainty };
    let agree = consensus(&said(read)).map_or(true, |found| found.is_consistent && found.outlier.is_none());
    Some(SampleVerdict { sample, at, strength, readings: read.len(), agree })
}

/// What several instruments say of one sample, without the one that does not belong, and the part of its deviation that
/// a sample taken anew would not share.
///
/// # Equation
/// Of one reading its own; of several [`bench::consensus`], as the bench's page says it.
///
/// # Range
/// One reading or more.
///
/// # Error
/// What all readings of a yard share is left to the state, at least a fiftieth per cent stays.
///
/// # Source
/// As of [`bench::consensus`].
pub(super) fn together(read: &[(f64, f64)]) -> Option<SeenStrength> {
    let said = said(read);
    let (mean, u) = match said.as_slice() {
        [one] => (one.strength, one.uncertainty),
        several => consensus(several).map(|found| (found.strength, found.uncertainty)).ok()?,
    };
    let alone = ((u * u - READINGS_ALIKE_PCT * READINGS_ALIKE_PCT) / 1e4).max(4e-8);
    Some(SeenStrength { strength: MassFraction::from_percent(mean).ok()?, deviation: alone.sqrt() })
}

fn said(read: &[(f64, f64)]) -> Vec<Answer> {
    let one =
        |(strength, u): &(f64, f64)| Answer { strength: 100.0 * strength, uncertainty: 100.0 * u.max(1e-6) };
    read.iter().map(one).collect()
}

pub(super) fn percent(value: Option<f64>) -> Option<MassFraction> {
    value.and_then(|value| MassFraction::from_percent(value).ok())
}
