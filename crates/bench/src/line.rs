//! A straight line through points that are uncertain in both directions: one instrument against another.

use crate::error::{Error, check};

const MOST_ROUNDS: usize = 200;

/// One sample read both ways.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// What the first instrument read, in its own unit.
    pub x: f64,
    /// What the second instrument read, in its own unit.
    pub y: f64,
    /// Standard uncertainty of the first; zero where it counts as exact.
    pub x_uncertainty: f64,
    /// Standard uncertainty of the second; zero where it counts as exact.
    pub y_uncertainty: f64,
    /// Correlation of the two errors, −1…1.
    pub correlation: f64,
}

/// y = intercept + slope·x.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// y where x is zero.
    pub intercept: f64,
    /// Change of y for one of x.
    pub slope: f64,
    /// Standard uncertainty of the intercept, the pairs' own uncertainties taken as they are.
    pub intercept_uncertainty: f64,
    /// Standard uncertainty of the slope, likewise.
    pub slope_uncertainty: f64,
    /// Covariance of the two.
    pub covariance: f64,
    /// Weighted sum of squared residuals.
    pub sum_of_squares: f64,
    /// Pairs less two.
    pub degrees_of_freedom: usize,
    /// Least and greatest x: beyond them the line says nothing.
    pub range: (f64, f64),
}

impl Line {
    /// √(S/(n − 2)), no unit: near 1 when the pairs scatter as their uncertainties say. Multiply the uncertainties by
    /// it where only their ratios were known.
    pub fn scatter(&self) -> f64 {
        (self.sum_of_squares / self.degrees_of_freedom as f64).sqrt()
    }

    /// y at x with its standard uncertainty, both in the unit of y.
    ///
    /// # Equation
    /// a + b·x; u² = u²(a) + 2x·cov(a, b) + x²·u²(b).
    ///
    /// # Range
    /// Within the pairs that the line was drawn through.
    ///
    /// # Error
    /// In the answer.
    ///
    /// # Source
    /// JCGM 100, equation 13.
    ///
    /// # Errors
    /// [`Error::Value`] beyond the pairs it was drawn through.
    pub fn at(&self, x: f64) -> Result<(f64, f64), Error> {
        let (low, high) = self.range;
        let slack = 1e-9 * (high - low);
        check("bench.quantity.line_x", x, "bench.accepted.line_x", low - slack <= x && x <= high + slack)?;
        let variance = self.intercept_uncertainty.powi(2)
            + 2.0 * x * self.covariance
            + (x * self.slope_uncertainty).powi(2);
        Ok((self.intercept + self.slope * x, variance.max(0.0).sqrt()))
    }
}

/// The line of greatest likelihood.
///
/// # Equation
/// Weights W = ωx·ωy/(ωx + b²·ωy − 2·b·r·√(ωx·ωy)), slope b iterated to rest; uncertainties at the adjusted points.
///
/// # Range
/// Three pairs or more, not all at one x; an uncertainty above zero in at least one direction of each.
///
/// # Error
/// Iterated to 1e-14 of the slope.
///
/// # Source
/// York, Evensen, Martínez and Delgado, *Unified equations for the slope, intercept, and standard errors of the best
/// straight line*, American Journal of Physics 72 (2004) 367, doi:10.1119/1.1632486.
///
/// # Errors
/// [`Error::TooFew`], [`Error::Value`], [`Error::Undetermined`] when the pairs do not fix a slope.
///
/// # Examples
/// ```
/// use bench::line::{Pair, fit};
/// let pair = |x: f64| Pair { x, y: 1.0 + 2.0 * x, x_uncertainty: 0.1, y_uncertainty: 0.1, correlation: 0.0 };
/// let line = fit(&[pair(20.0), pair(22.0), pair(24.0)])?;
/// assert!((line.slope - 2.0).abs() < 1e-12 && (line.at(23.0)?.0 - 47.0).abs() < 1e-9);
/// assert!(line.at(26.0).is_err());
/// # Ok::<(), bench::Error>(())
/// ```
pub fn fit(pairs: &[Pair]) -> Result<Line, Error> {
    let what = "bench.task.line";
    if pairs.len() < 3 {
        return Err(Error::TooFew { what, found: pairs.len(), needed: 3 });
    }
    for pair in pairs {
        check("bench.quantity.reading", pair.x, "bench.accepted.number", true)?;
        check("bench.quantity.reading", pair.y, "bench.accepted.number", true)?;
        for u in [pair.x_uncertainty, pair.y_uncertainty] {
            check("bench.quantity.standard_uncertainty", u, "bench.accepted.from_zero", 0.0 <= u)?;
        }
        let either = pair.x_uncertainty.max(pair.y_uncertainty);
        check("bench.quantity.standard_uncertainty", either, "bench.accepted.one_direction", 0.0 < either)?;
        check(
            "bench.quantity.correlation",
            pair.correlation,
            "bench.accepted.correlation",
            pair.correlation.abs() <= 1.0,
        )?;
    }
    let undetermined = Error::Undetermined { what, reason: "bench.why.no_slope" };
    let range = (
        pairs.iter().map(|pair| pair.x).fold(f64::INFINITY, f64::min),
        pairs.iter().map(|pair| pair.x).fold(f64::NEG_INFINITY, f64::max),
    );
    let mut slope = ordinary_slope(pairs).ok_or(undetermined.clone())?;
    for _ in 0..MOST_ROUNDS {
        let round = Round::new(pairs, slope);
        if !round.slope.is_finite() {
            return Err(undetermined);
        }
        let change = (round.slope - slope).abs();
        slope = round.slope;
        if change <= 1e-14 * slope.abs().max(1e-14) {
            break;
        }
    }
    let round = Round::new(pairs, slope);
    let mean_x = round.mean(pairs, |i, _| round.adjusted[i]);
    let total: f64 = round.weights.iter().sum();
    let about: f64 = round.weights.iter().zip(&round.adjusted).map(|(w, x)| w * (x - mean_x).powi(2)).sum();
    let slope_variance = 1.0 / about;
    let intercept = round.mean(pairs, |_, pair| pair.y) - slope * round.mean(pairs, |_, pair| pair.x);
    let residual = |pair: &Pair| pair.y - intercept - slope * pair.x;
    let line = Line {
        intercept,
        slope,
        intercept_uncertainty: (1.0 / total + mean_x.powi(2) * slope_variance).sqrt(),
        slope_uncertainty: slope_variance.sqrt(),
        covariance: -mean_x * slope_variance,
        sum_of_squares: pairs.iter().zip(&round.weights).map(|(p, w)| w * residual(p).powi(2)).sum(),
        degrees_of_freedom: pairs.len() - 2,
        range,
    };
    if line.slope_uncertainty.is_finite() && line.intercept_uncertainty.is_finite() {
        Ok(line)
    } else {
        Err(undetermined)
    }
}

/// The start of the iteration: y on x, no weights. None when all stand at one x.
fn ordinary_slope(pairs: &[Pair]) -> Option<f64> {
    let n = pairs.len() as f64;
    let (x, y) = (pairs.iter().map(|p| p.x).sum::<f64>() / n, pairs.iter().map(|p| p.y).sum::<f64>() / n);
    let across: f64 = pairs.iter().map(|p| (p.x - x).powi(2)).sum();
    let both: f64 = pairs.iter().map(|p| (p.x - x) * (p.y - y)).sum();
    (across > 1e-18 * x.abs().max(1.0)).then(|| both / across)
}

/// One round of the iteration: weights at a slope, and the slope that follows.
struct Round {
    weights: Vec<f64>,
    /// x of each pair moved onto the line.
    adjusted: Vec<f64>,
    slope: f64,
}

impl Round {
    fn new(pairs: &[Pair], b: f64) -> Self {
        // In uncertainties, not weights, so that zero needs no exception: 1/W = uy² + b²·ux² − 2·b·r·ux·uy.
        let weights: Vec<f64> = pairs
            .iter()
            .map(|p| {
                let (ux, uy) = (p.x_uncertainty, p.y_uncertainty);
                1.0 / (uy * uy + (b * ux).powi(2) - 2.0 * b * p.correlation * ux * uy)
            })
            .collect();
        let mut round = Self { weights, adjusted: Vec::new(), slope: f64::NAN };
        let (mean_x, mean_y) = (round.mean(pairs, |_, p| p.x), round.mean(pairs, |_, p| p.y));
        let betas: Vec<f64> = pairs
            .iter()
            .zip(&round.weights)
            .map(|(p, w)| {
                let (u, v) = (p.x - mean_x, p.y - mean_y);
                let (ux, uy) = (p.x_uncertainty, p.y_uncertainty);
                w * (u * uy * uy + b * v * ux * ux - (b * u + v) * p.correlation * ux * uy)
            })
            .collect();
        let sum = |of: &dyn Fn(&Pair) -> f64| -> f64 {
            pairs.iter().zip(&round.weights).zip(&betas).map(|((p, w), beta)| w * beta * of(p)).sum()
        };
        round.slope = sum(&|p| p.y - mean_y) / sum(&|p| p.x - mean_x);
        round.adjusted = betas.iter().map(|beta| mean_x + beta).collect();
        round
    }

    fn mean(&self, pairs: &[Pair], of: impl Fn(usize, &Pair) -> f64) -> f64 {
        let total: f64 = self.weights.iter().sum();
        pairs.iter().enumerate().zip(&self.weights).map(|((i, p), w)| w * of(i, p)).sum::<f64>() / total
    }
}
