//! Whether an instrument is steady, from its checks against a brine or water whose reading is known.

use crate::control::{Expected, Weighted, ewma, individuals};
use crate::error::Error;

/// Weight of the newest check in the average, and its limit: on average 500 checks without a false alarm, 10
/// until a drift of one standard deviation is found (Markov chain).
const WEIGHT: f64 = 0.2;
const LIMIT: f64 = 2.962;
/// Checks from which the instrument's own spread is learned; until then its card's repeatability stands in.
const LEARNED_FROM: usize = 8;

/// State of an instrument, for the operator.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Steadiness {
    /// Steady: nothing to do.
    Steady,
    /// The checks creep away from the known value: zero it, and check it more often.
    Drifting,
    /// The last check is off by more than the instrument's usual spread: check it before releasing brine by it.
    CheckNow,
}

/// Result of a history of checks of one instrument.
#[derive(Debug, Clone, PartialEq)]
pub struct Drift {
    /// Whether the instrument is steady.
    pub steadiness: Steadiness,
    /// Standard deviation of a check, as learned or from the card.
    pub sigma: f64,
    /// Limits of a single check's error.
    pub limits: (f64, f64),
    /// The weighted average with its limits, a point a check.
    pub average: Vec<Weighted>,
}

/// Evaluates the checks of an instrument since it was last adjusted. `errors` are shown less known, oldest first, and
/// `repeatability` the standard deviation of one reading, both in the unit of the scale.
///
/// # Equation
/// Check now beyond three standard deviations; drifting when the weighted average (λ = 0.2) is beyond its
/// limits. The deviation is the moving ranges' from eight checks on, never smaller than half of the card's.
///
/// # Range
/// One check or more.
///
/// # Error
/// A steady instrument is called drifting once in about 500 checks and check-now once in 370.
///
/// # Source
/// ISO 7870-2 and -6; run lengths by Markov chain.
///
/// # Errors
/// [`Error::TooFew`] without a check; [`Error::Value`].
///
/// # Examples
/// ```
/// use bench::drift::{Steadiness, drift};
/// assert_eq!(drift(&[0.0, 0.1, -0.1], 0.1)?.steadiness, Steadiness::Steady);
/// assert_eq!(drift(&[0.0, 0.1, 0.5], 0.1)?.steadiness, Steadiness::CheckNow);
/// assert!(drift(&[], 0.1).is_err());
/// # Ok::<(), bench::Error>(())
/// ```
pub fn drift(errors: &[f64], repeatability: f64) -> Result<Drift, Error> {
    let Some(last) = errors.last() else {
        return Err(Error::TooFew { what: "bench.task.drift", found: 0, needed: 1 });
    };
    let learned = if errors.len() < LEARNED_FROM { None } else { individuals(errors).ok() };
    let sigma = learned.map_or(repeatability, |limits| limits.sigma.max(repeatability / 2.0));
    let average = ewma(errors, Expected { target: 0.0, sigma }, WEIGHT, LIMIT)?;
    let limits = (-3.0 * sigma, 3.0 * sigma);
    let steadiness = if !(limits.0..=limits.1).contains(last) {
        Steadiness::CheckNow
    } else if average.last().is_some_and(Weighted::is_signal) {
        Steadiness::Drifting
    } else {
        Steadiness::Steady
    };
    Ok(Drift { steadiness, sigma, limits, average })
}
