//! Readings to what is true about a brine. This first cut judges a strength against a band; instruments arrive later.

use chemistry::MassFraction;

/// Strengths accepted as in spec, limits included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpecBand {
    /// Weakest in spec.
    pub low: MassFraction,
    /// Strongest in spec.
    pub high: MassFraction,
}

/// What a strength is against a band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Conformity {
    /// Inside the band, whole interval.
    InSpec,
    /// Below it, whole interval.
    TooWeak,
    /// Above it, whole interval.
    TooStrong,
    /// The interval crosses a limit: measure again.
    CannotTell,
}

impl SpecBand {
    /// Judges a strength with its 95 % interval, ± `expanded_uncertainty` (zero for a book figure).
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
    /// use bench::{Conformity, SpecBand};
    /// use chemistry::MassFraction;
    /// let pct = |p| MassFraction::from_percent(p);
    /// let band = SpecBand { low: pct(22.8)?, high: pct(23.8)? };
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
}
