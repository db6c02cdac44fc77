//! Control charts for one instrument over time: single values and the weighted average.
//!
//! They are for one number per check, such as an instrument's difference from a known brine; not for readings a second
//! apart, which are correlated.

use crate::error::{Error, check};

/// Mean range of two normal values, in standard deviations: d2 of ISO 7870-2, n = 2, 2/√π.
const D2_OF_TWO: f64 = std::f64::consts::FRAC_2_SQRT_PI;
/// Upper limit of a range of two over the mean range: D4 of ISO 7870-2, n = 2, that is 1 + 3·d3/d2.
const D4_OF_TWO: f64 = 3.266_532;

/// Limits for single values and for the step from one to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Individuals {
    /// Mean of the values, in their unit.
    pub centre: f64,
    /// Standard deviation in the short run, from the steps.
    pub sigma: f64,
    /// Centre less three sigma.
    pub low: f64,
    /// Centre and three sigma.
    pub high: f64,
    /// Largest step to be expected.
    pub largest_step: f64,
}

/// Limits from values of a time when the instrument was steady. Values and limits are in one unit, any.
///
/// # Equation
/// sigma = mean step / 1.128; limits centre ± 3·sigma; largest step 3.267 times the mean step.
///
/// # Range
/// Three values or more, not all alike.
///
/// # Error
/// The limits of ten values are themselves uncertain by about a quarter.
///
/// # Source
/// ISO 7870-2 (Shewhart charts, individuals and moving range).
///
/// # Errors
/// [`Error::TooFew`], [`Error::Value`]; [`Error::Undetermined`] when no two neighbors differ.
///
/// # Examples
/// ```
/// let limits = bench::control::individuals(&[0.1, -0.1, 0.0, 0.1])?;
/// assert!((limits.sigma - 0.4 / 3.0 / 1.128).abs() < 1e-4);
/// assert!(bench::control::individuals(&[0.1, 0.1, 0.1]).is_err());
/// # Ok::<(), bench::Error>(())
/// ```
pub fn individuals(values: &[f64]) -> Result<Individuals, Error> {
    let what = "bench.task.limits";
    if values.len() < 3 {
        return Err(Error::TooFew { what, found: values.len(), needed: 3 });
    }
    all_finite(values)?;
    let centre = values.iter().sum::<f64>() / values.len() as f64;
    let steps = values.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    let mean_step = steps.sum::<f64>() / (values.len() - 1) as f64;
    if mean_step <= 0.0 {
        return Err(Error::Undetermined { what, reason: "bench.why.all_alike" });
    }
    let sigma = mean_step / D2_OF_TWO;
    let (low, high) = (centre - 3.0 * sigma, centre + 3.0 * sigma);
    Ok(Individuals { centre, sigma, low, high, largest_step: D4_OF_TWO * mean_step })
}

/// Mean and spread of the values of a steady instrument.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// Center line of the chart, in the unit of the values.
    pub target: f64,
    /// Standard deviation of one value.
    pub sigma: f64,
}

impl Expected {
    fn checked(self) -> Result<Self, Error> {
        check("bench.quantity.chart_target", self.target, "bench.accepted.number", true)?;
        check(
            "bench.quantity.standard_deviation",
            self.sigma,
            "bench.accepted.above_zero",
            0.0 < self.sigma,
        )?;
        Ok(self)
    }
}

/// One point of a weighted average with its limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weighted {
    /// λ·value + (1 − λ)·the average before.
    pub average: f64,
    /// Least that is no signal.
    pub low: f64,
    /// Most that is no signal.
    pub high: f64,
}

impl Weighted {
    /// Whether the average is beyond a limit.
    pub fn is_signal(&self) -> bool {
        self.average < self.low || self.high < self.average
    }
}

/// Exponentially weighted moving average (EWMA), from the target on. All values are in the unit of the target.
///
/// # Equation
/// z = λ·x + (1 − λ)·z; limits target ± L·sigma·√(λ/(2 − λ)·(1 − (1 − λ)^2i)).
///
/// # Range
/// λ above 0 and up to 1; L above 0.
///
/// # Error
/// With λ = 0.2, L = 2.962 a true shift of one sigma is found after 10.5 values on average; without one, a false signal
/// comes after 500 on average.
///
/// # Source
/// ISO 7870-6; run lengths by Markov chain.
///
/// # Errors
/// [`Error::Value`].
///
/// # Examples
/// ```
/// use bench::control::{Expected, ewma};
/// let points = ewma(&[0.0, 5.0, 5.0], Expected { target: 0.0, sigma: 1.0 }, 0.2, 2.962)?;
/// assert!(!points[0].is_signal() && points[2].is_signal());
/// assert!(ewma(&[0.0], Expected { target: 0.0, sigma: 1.0 }, 0.0, 3.0).is_err());
/// # Ok::<(), bench::Error>(())
/// ```
pub fn ewma(values: &[f64], expected: Expected, weight: f64, limit: f64) -> Result<Vec<Weighted>, Error> {
    let Expected { target, sigma } = expected.checked()?;
    check("bench.quantity.newest_weight", weight, "bench.accepted.to_one", 0.0 < weight && weight <= 1.0)?;
    check("bench.quantity.limit_sigmas", limit, "bench.accepted.above_zero", 0.0 < limit)?;
    all_finite(values)?;
    let (mut average, mut faded) = (target, 1.0);
    let point = |value: &f64| {
        average += weight * (value - average);
        faded *= (1.0 - weight).powi(2);
        let reach = limit * sigma * (weight / (2.0 - weight) * (1.0 - faded)).sqrt();
        Weighted { average, low: target - reach, high: target + reach }
    };
    Ok(values.iter().map(point).collect())
}

fn all_finite(values: &[f64]) -> Result<(), Error> {
    values
        .iter()
        .try_for_each(|value| check("bench.quantity.chart_value", *value, "bench.accepted.number", true))
}

#[cfg(test)]
mod tests {
    use super::{D2_OF_TWO, D4_OF_TWO};

    fn near(ours: f64, published: f64, tolerance: f64) {
        assert!((ours - published).abs() <= tolerance, "ours {ours}, published {published}");
    }

    /// ISO 7870-2, n = 2: d2 1.128, D4 3.267; 3/d2 is 2.66 in print.
    #[test]
    fn published_constants() {
        near(D2_OF_TWO, 1.128, 5e-4);
        near(D4_OF_TWO, 3.267, 5e-4);
        near(3.0 / D2_OF_TWO, 2.66, 5e-3);
        // d3 of two normal values, exactly √(2 − 4/π).
        near(D4_OF_TWO, 1.0 + 3.0 * (2.0 - 4.0 / std::f64::consts::PI).sqrt() / D2_OF_TWO, 1e-6);
    }
}
