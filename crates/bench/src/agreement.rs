//! Two instruments, or two people, on the same samples over time: whether they agree.

use crate::error::{Error, check};
use crate::line::{self, Line};
use crate::uncertainty::coverage_factor;

/// Pairs from which a mean difference has an interval worth showing.
const LEAST_PAIRS: usize = 3;
/// Pairs from which a straight line is drawn through them.
const LEAST_FOR_A_LINE: usize = 5;
/// A slope with a larger standard uncertainty than this is not given: the strengths are too close together.
const LEAST_SURE_SLOPE: f64 = 0.1;

/// Two strengths found for one sample, per cent by mass, each with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairedReadings {
    /// Strength by the first.
    pub first: f64,
    /// Its standard uncertainty.
    pub first_uncertainty: f64,
    /// Strength by the second.
    pub second: f64,
    /// Its standard uncertainty.
    pub second_uncertainty: f64,
}

/// How well two instruments, or two people, agree.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    /// Number of samples that both measured.
    pub samples: usize,
    /// Second less first, mean, per cent by mass.
    pub difference: f64,
    /// Half of the 95 % interval of that mean.
    pub within: f64,
    /// Whether they differ: zero lies outside the interval.
    pub is_different: bool,
    /// Second against first, errors in both; none where the strengths lie too close together to tell.
    pub line: Option<Line>,
}

/// Compares two instruments, or two people, on the samples that both measured.
///
/// # Equation
/// Mean of the differences d̄ ± t·s/√n (paired comparison); where the strengths spread enough, York's straight line
/// with errors in both variables.
///
/// # Range
/// Three samples or more; a line from five.
///
/// # Error
/// In the answer, 95 %.
///
/// # Source
/// Paired t interval: NIST/SEMATECH e-Handbook of Statistical Methods, section 7.3.1 (from memory); the line:
/// [`line::fit`].
///
/// # Errors
/// [`Error::TooFew`], [`Error::Value`].
///
/// # Examples
/// ```
/// use bench::agreement::{PairedReadings, agreement};
/// let both = |first, second| PairedReadings { first, first_uncertainty: 0.1, second, second_uncertainty: 0.1 };
/// let found = agreement(&[both(23.1, 23.5), both(23.3, 23.6), both(23.2, 23.7), both(23.4, 23.8)])?;
/// assert!(found.is_different && (found.difference - 0.4).abs() < 1e-9);
/// assert!(agreement(&[both(23.1, 23.5)]).is_err());
/// # Ok::<(), bench::Error>(())
/// ```
pub fn agreement(samples: &[PairedReadings]) -> Result<Agreement, Error> {
    let n = samples.len();
    if n < LEAST_PAIRS {
        return Err(Error::TooFew { what: "bench.task.agreement", found: n, needed: LEAST_PAIRS });
    }
    for both in samples {
        for strength in [both.first, both.second] {
            check("bench.quantity.strength", strength, "bench.accepted.number", true)?;
        }
        for u in [both.first_uncertainty, both.second_uncertainty] {
            check("bench.quantity.strength_uncertainty", u, "bench.accepted.above_zero", 0.0 < u)?;
        }
    }
    let count = n as f64;
    let difference = samples.iter().map(|both| both.second - both.first).sum::<f64>() / count;
    let squares: f64 = samples.iter().map(|both| (both.second - both.first - difference).powi(2)).sum();
    let of_mean = (squares / (count - 1.0) / count).sqrt();
    let within = coverage_factor(Some(count - 1.0)) * of_mean;
    Ok(Agreement {
        samples: n,
        difference,
        within,
        is_different: within < difference.abs(),
        line: straight(samples),
    })
}

fn straight(samples: &[PairedReadings]) -> Option<Line> {
    if samples.len() < LEAST_FOR_A_LINE {
        return None;
    }
    let pair = |both: &PairedReadings| line::Pair {
        x: both.first,
        y: both.second,
        x_uncertainty: both.first_uncertainty,
        y_uncertainty: both.second_uncertainty,
        correlation: 0.0,
    };
    let line = line::fit(&samples.iter().map(pair).collect::<Vec<_>>()).ok()?;
    (line.slope_uncertainty <= LEAST_SURE_SLOPE).then_some(line)
}
