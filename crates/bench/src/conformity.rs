//! Strength against the spec range: in, out, or can't tell.

use chemistry::MassFraction;

use crate::error::{Error, check};
use crate::uncertainty::chance_below;

/// Spec range: lowest and highest strength in spec, limits included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpecRange {
    /// Weakest in spec.
    pub low: MassFraction,
    /// Strongest in spec.
    pub high: MassFraction,
}

/// Result of checking a strength against the spec range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Conformity {
    /// The whole interval is within the range.
    InSpec,
    /// The whole interval is below the range.
    TooWeak,
    /// The whole interval is above the range.
    TooStrong,
    /// The interval crosses a limit: measure again.
    CannotTell,
}

impl SpecRange {
    /// Checks a strength with its 95 % interval, ± `expanded_uncertainty` (zero for a book strength).
    ///
    /// # Equation
    /// In when `low ≤ w − U` and `w + U ≤ high`; out when the whole interval lies beyond a limit; else cannot tell.
    ///
    /// # Range
    /// Any strengths.
    ///
    /// # Error
    /// None beyond the interval's own.
    ///
    /// # Source
    /// The guarded acceptance and rejection of JCGM 106:2012, clause 8, with a guard band of U.
    ///
    /// # Examples
    /// ```
    /// use bench::{Conformity, SpecRange};
    /// use chemistry::MassFraction;
    /// let pct = |p| MassFraction::from_percent(p);
    /// let band = SpecRange { low: pct(22.8)?, high: pct(23.8)? };
    /// assert_eq!(band.judge(pct(22.8)?, pct(0.0)?), Conformity::InSpec);
    /// assert_eq!(band.judge(pct(22.9)?, pct(0.3)?), Conformity::CannotTell);
    /// assert_eq!(band.judge(pct(25.1)?, pct(0.3)?), Conformity::TooStrong);
    /// # Ok::<(), chemistry::Error>(())
    /// ```
    pub fn judge(&self, strength: MassFraction, expanded_uncertainty: MassFraction) -> Conformity {
        let (w, u) = (strength.percent(), expanded_uncertainty.percent());
        // A rounding at a limit is at the limit.
        let (low, high) = (self.low.percent() - 1e-9, self.high.percent() + 1e-9);
        if low <= w - u && w + u <= high {
            Conformity::InSpec
        } else if w + u < low {
            Conformity::TooWeak
        } else if high < w - u {
            Conformity::TooStrong
        } else {
            Conformity::CannotTell
        }
    }
    /// Probabilities that the true strength is below, in and above the range, given a reading of it.
    ///
    /// # Equation
    /// Below: F((low − w)/u); above: 1 − F((high − w)/u); F that of Student's t, or normal without degrees of freedom.
    ///
    /// # Range
    /// Any strengths; `standard_uncertainty` above zero.
    ///
    /// # Error
    /// That of `standard_uncertainty`.
    ///
    /// # Source
    /// JCGM 106:2012, clause 7.
    ///
    /// # Errors
    /// [`Error::Value`] for an uncertainty that is not above zero.
    pub fn chances(&self, known: &Known) -> Result<Chances, Error> {
        let (w, u) = (known.strength.percent(), known.standard_uncertainty.percent());
        check("bench.quantity.strength_uncertainty", u, "bench.accepted.above_zero", 0.0 < u)?;
        let below = |limit: f64| chance_below(known.degrees_of_freedom, (limit - w) / u);
        let (too_weak, too_strong) = (below(self.low.percent()), 1.0 - below(self.high.percent()));
        Ok(Chances { too_weak, in_spec: 1.0 - too_weak - too_strong, too_strong })
    }

    /// Checks a strength at a chosen risk of a wrong result, `risk` as a fraction.
    ///
    /// # Equation
    /// In spec when the chance to be out is at most `risk`; out, on the likelier side, when the chance to be in is at
    /// most `risk`; else cannot tell.
    ///
    /// # Range
    /// Any strengths; `risk` above 0 and below 0.5.
    ///
    /// # Error
    /// Of many readings called in or out of spec, at most the share `risk` is wrong, as far as their
    /// uncertainty is true.
    ///
    /// # Source
    /// JCGM 106:2012, clause 8, decision by conformance probability.
    ///
    /// # Errors
    /// [`Error::Value`] for a risk out of range; as [`Self::chances`].
    ///
    /// # Examples
    /// ```
    /// use bench::{Conformity, SpecRange, conformity::Known};
    /// use chemistry::MassFraction;
    /// let pct = |p| MassFraction::from_percent(p);
    /// let band = SpecRange { low: pct(22.8)?, high: pct(23.8)? };
    /// let known = |p| pct(p).and_then(|strength| {
    ///     Ok(Known { strength, standard_uncertainty: pct(0.15)?, degrees_of_freedom: None })
    /// });
    /// assert_eq!(band.judge_at_risk(&known(23.3)?, 0.05)?, Conformity::InSpec);
    /// assert_eq!(band.judge_at_risk(&known(22.9)?, 0.05)?, Conformity::CannotTell);
    /// assert_eq!(band.judge_at_risk(&known(24.2)?, 0.05)?, Conformity::TooStrong);
    /// assert!(band.judge_at_risk(&known(24.2)?, 0.6).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn judge_at_risk(&self, known: &Known, risk: f64) -> Result<Conformity, Error> {
        check("bench.quantity.verdict_risk", risk, "bench.accepted.risk", 0.0 < risk && risk < 0.5)?;
        let Chances { too_weak, in_spec, too_strong } = self.chances(known)?;
        Ok(if 1.0 - in_spec <= risk {
            Conformity::InSpec
        } else if risk < in_spec {
            Conformity::CannotTell
        } else if too_strong < too_weak {
            Conformity::TooWeak
        } else {
            Conformity::TooStrong
        })
    }
}

/// A strength and how well it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Best estimate of the true strength.
    pub strength: MassFraction,
    /// Its standard uncertainty.
    pub standard_uncertainty: MassFraction,
    /// Effective degrees of freedom of that; none where without limit.
    pub degrees_of_freedom: Option<f64>,
}

/// Probabilities of where the true strength is; they add up to one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chances {
    /// Probability that it is below the range.
    pub too_weak: f64,
    /// Probability that it is in the range.
    pub in_spec: f64,
    /// Probability that it is above the range.
    pub too_strong: f64,
}
