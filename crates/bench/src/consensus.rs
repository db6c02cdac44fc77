//! Several instruments on one sample: the strength they give together, and which of them disagrees.

use crate::error::{Error, check};
use crate::uncertainty::COVERAGE;
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// A reading is an outlier above this normalized deviation.
const DOES_NOT_BELONG: f64 = 1.0;
/// k for 95 %, normal.
const K95: f64 = 1.96;

/// The strength that one instrument gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Answer {
    /// Strength, per cent by mass.
    pub strength: f64,
    /// Its standard uncertainty, per cent by mass.
    pub uncertainty: f64,
}

/// The strength that several instruments give together.
#[derive(Debug, Clone, PartialEq)]
pub struct Consensus {
    /// Weighted mean, per cent by mass.
    pub strength: f64,
    /// Its standard uncertainty, widened where the answers scatter more than they should.
    pub uncertainty: f64,
    /// Index of the outlier, which is left out of the mean; none where there is none.
    pub outlier: Option<usize>,
    /// Whether those kept agree as well as their uncertainties say, at 95 %.
    pub is_consistent: bool,
}

/// Weighted mean of the strengths that instruments give for one sample, without an outlier.
///
/// # Equation
/// Weights 1/u²; an answer does not belong when it lies from the mean of the others by more than the 95 %
/// interval of that difference (normalized deviation above 1), it is the farthest, and the others agree among
/// themselves by chi-squared at 95 %. With two answers that disagree neither can be blamed.
///
/// # Range
/// Two answers or more.
///
/// # Error
/// In the answer; where the answers scatter by more than chi-squared allows, uncertainty is widened by √(chi²/(n − 1)).
///
/// # Source
/// Weighted mean and consistency check: M. G. Cox, *The evaluation of key comparison data*, Metrologia 39 (2002) 589,
/// procedure A; normalized deviation as in ISO 13528; widening by R. T. Birge, Phys. Rev. 40 (1932) 207.
///
/// # Errors
/// [`Error::TooFew`], [`Error::Value`].
///
/// # Examples
/// ```
/// use bench::consensus::{Answer, consensus};
/// let said = |strength, uncertainty| Answer { strength, uncertainty };
/// let found = consensus(&[said(23.3, 0.1), said(23.2, 0.1), said(24.2, 0.1)])?;
/// assert!(found.outlier == Some(2) && (found.strength - 23.25).abs() < 1e-9);
/// assert!(consensus(&[said(23.3, 0.1)]).is_err());
/// # Ok::<(), bench::Error>(())
/// ```
pub fn consensus(answers: &[Answer]) -> Result<Consensus, Error> {
    if answers.len() < 2 {
        return Err(Error::TooFew { what: "bench.task.consensus", found: answers.len(), needed: 2 });
    }
    for said in answers {
        check("bench.quantity.strength", said.strength, "bench.accepted.number", true)?;
        check(
            "bench.quantity.strength_uncertainty",
            said.uncertainty,
            "bench.accepted.above_zero",
            0.0 < said.uncertainty,
        )?;
    }
    let all: Vec<usize> = (0..answers.len()).collect();
    let whole = Mean::of(answers, &all);
    let outlier = if whole.is_consistent() || answers.len() == 2 { None } else { outlier(answers, &all) };
    let kept: Vec<usize> = all.into_iter().filter(|place| Some(*place) != outlier).collect();
    let mean = Mean::of(answers, &kept);
    let widened =
        if mean.is_consistent() { 1.0 } else { (mean.chi_squared / mean.degrees()).sqrt().max(1.0) };
    Ok(Consensus {
        strength: mean.value,
        uncertainty: mean.uncertainty * widened,
        outlier,
        is_consistent: mean.is_consistent(),
    })
}

/// The farthest answer from the mean of the others, when they agree without it and it is beyond their
/// difference's interval.
fn outlier(answers: &[Answer], all: &[usize]) -> Option<usize> {
    let deviation = |place: usize| {
        let others: Vec<usize> = all.iter().copied().filter(|other| *other != place).collect();
        let mean = Mean::of(answers, &others);
        let said = answers[place];
        let normalised =
            (said.strength - mean.value).abs() / (K95 * said.uncertainty.hypot(mean.uncertainty));
        (place, normalised, mean.is_consistent())
    };
    all.iter()
        .map(|place| deviation(*place))
        .filter(|(_, normalised, others_agree)| *others_agree && DOES_NOT_BELONG < *normalised)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(place, ..)| place)
}

struct Mean {
    value: f64,
    uncertainty: f64,
    chi_squared: f64,
    count: usize,
}

impl Mean {
    fn of(answers: &[Answer], places: &[usize]) -> Self {
        let kept = || places.iter().map(|place| answers[*place]);
        let weight = |said: &Answer| said.uncertainty.powi(-2);
        let total: f64 = kept().map(|said| weight(&said)).sum();
        let value = kept().map(|said| weight(&said) * said.strength).sum::<f64>() / total;
        let chi_squared = kept().map(|said| weight(&said) * (said.strength - value).powi(2)).sum();
        Self { value, uncertainty: total.powf(-0.5), chi_squared, count: places.len() }
    }

    fn degrees(&self) -> f64 {
        (self.count - 1) as f64
    }

    fn is_consistent(&self) -> bool {
        if self.count < 2 {
            return true;
        }
        ChiSquared::new(self.degrees()).is_ok_and(|law| self.chi_squared <= law.inverse_cdf(COVERAGE))
    }
}
