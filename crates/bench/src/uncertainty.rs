//! Uncertainty budgets by the *Guide to the expression of uncertainty in measurement*, JCGM 100:2008.
//!
//! A [`Budget`] lists what contributes to the uncertainty of a result. Its 95 % interval comes from Student's t at the
//! effective degrees of freedom; where one evenly spread component makes up more than half of the variance, from that
//! component and the rest convolved, since k = 2 would then claim too much.

use statrs::distribution::{Continuous, ContinuousCDF, Normal, StudentsT};

use crate::error::{Error, check};
use chemistry::root;

/// Chance that the true value lies within the expanded uncertainty.
pub(crate) const COVERAGE: f64 = 0.95;
/// Share of the variance above which a rectangle sets the shape of the result.
const DOMINANT_SHARE: f64 = 0.5;

/// Probability distribution of an error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spread {
    /// Bell-shaped. The degrees of freedom say how well the standard uncertainty itself is known; none where it is
    /// taken as known.
    Normal {
        /// At least 1, or none.
        degrees_of_freedom: Option<f64>,
    },
    /// Rectangular: a resolution, a manufacturer's limit.
    Rectangle,
}

/// Degrees of freedom from which Student's t is taken as normal: k differs by less than 0.003. The library's
/// quantile does not come to an end for some of the very large ones that repeats close together give.
const AS_GOOD_AS_NORMAL: f64 = 1000.0;

/// One line of a budget.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Component {
    /// Name of the source of error, a part of the key of its text.
    pub name: &'static str,
    /// Standard uncertainty, in the unit of the input.
    pub standard_uncertainty: f64,
    /// Change of the result for one unit of the input.
    pub sensitivity: f64,
    /// Distribution of the error.
    pub spread: Spread,
}

impl Component {
    /// A rectangular distribution, ± `half_width` in the unit of the input (JCGM 100, 4.3.7: u = a/√3).
    pub fn rectangle(name: &'static str, half_width: f64, sensitivity: f64) -> Self {
        let standard_uncertainty = half_width / 3f64.sqrt();
        Self { name, standard_uncertainty, sensitivity, spread: Spread::Rectangle }
    }

    /// A normal distribution whose standard uncertainty, in the unit of the input, is known.
    pub fn normal(name: &'static str, standard_uncertainty: f64, sensitivity: f64) -> Self {
        let spread = Spread::Normal { degrees_of_freedom: None };
        Self { name, standard_uncertainty, sensitivity, spread }
    }

    /// A normal distribution whose standard uncertainty, in the unit of the input, is itself an estimate.
    pub fn estimated(
        name: &'static str,
        standard_uncertainty: f64,
        degrees_of_freedom: f64,
        sensitivity: f64,
    ) -> Self {
        let spread = Spread::Normal { degrees_of_freedom: Some(degrees_of_freedom) };
        Self { name, standard_uncertainty, sensitivity, spread }
    }

    /// Standard uncertainty of the result from this contribution alone, in the unit of the result.
    pub fn contribution(&self) -> f64 {
        (self.sensitivity * self.standard_uncertainty).abs()
    }
}

/// Independent contributions to the uncertainty of a result.
#[derive(Debug, Clone, PartialEq)]
pub struct Budget {
    components: Vec<Component>,
}

/// What set the width of an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CoverageBy {
    /// Student's t; the degrees of freedom, none where they are without limit.
    EffectiveDegrees(Option<f64>),
    /// A rectangle that makes up this share of the variance, convolved with the rest.
    Rectangle {
        /// More than half.
        share: f64,
    },
}

/// A 95 % interval and how it came about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expanded {
    /// Half of the interval, in the unit of the result.
    pub half_width: f64,
    /// k: half-width over combined standard uncertainty.
    pub coverage_factor: f64,
    /// What set the coverage factor.
    pub by: CoverageBy,
}

impl Budget {
    /// A budget of independent components.
    ///
    /// # Errors
    /// [`Error::Value`] for a number that is not finite, a negative uncertainty, or less than one degree of freedom.
    pub fn new(components: Vec<Component>) -> Result<Self, Error> {
        for Component { standard_uncertainty: u, sensitivity, spread, .. } in &components {
            check("bench.quantity.standard_uncertainty", *u, "bench.accepted.from_zero", 0.0 <= *u)?;
            check("bench.quantity.sensitivity", *sensitivity, "bench.accepted.number", true)?;
            if let Spread::Normal { degrees_of_freedom: Some(degrees) } = spread {
                check(
                    "bench.quantity.degrees_of_freedom",
                    *degrees,
                    "bench.accepted.from_one",
                    1.0 <= *degrees,
                )?;
            }
        }
        Ok(Self { components })
    }

    /// The contributions, in the order given.
    pub fn components(&self) -> &[Component] {
        &self.components
    }

    /// Combined standard uncertainty, in the unit of the result (JCGM 100, equation 10).
    pub fn combined(&self) -> f64 {
        self.components.iter().map(|line| line.contribution().powi(2)).sum::<f64>().sqrt()
    }

    /// Effective degrees of freedom (JCGM 100, G.4.1, Welch and Satterthwaite); none where they are without limit.
    pub fn effective_degrees_of_freedom(&self) -> Option<f64> {
        effective_degrees(self.components.iter(), self.combined())
    }

    /// The 95 % interval of the result, in its unit.
    pub fn expanded(&self) -> Expanded {
        let combined = self.combined();
        if combined <= 0.0 {
            return Expanded {
                half_width: 0.0,
                coverage_factor: 0.0,
                by: CoverageBy::EffectiveDegrees(None),
            };
        }
        let widest = self
            .components
            .iter()
            .enumerate()
            .filter(|(_, line)| line.spread == Spread::Rectangle)
            .max_by(|(_, a), (_, b)| a.contribution().total_cmp(&b.contribution()));
        if let Some((place, rectangle)) = widest {
            let share = (rectangle.contribution() / combined).powi(2);
            if share > DOMINANT_SHARE {
                let others =
                    || self.components.iter().enumerate().filter(|(i, _)| *i != place).map(|(_, c)| c);
                let rest = others().map(|line| line.contribution().powi(2)).sum::<f64>().sqrt();
                let widened =
                    rest * coverage_factor(effective_degrees(others(), rest)) / coverage_factor(None);
                let half_width = half_width_of_sum(rectangle.contribution() * 3f64.sqrt(), widened);
                let by = CoverageBy::Rectangle { share };
                return Expanded { half_width, coverage_factor: half_width / combined, by };
            }
        }
        let degrees = self.effective_degrees_of_freedom();
        let k = coverage_factor(degrees);
        Expanded { half_width: k * combined, coverage_factor: k, by: CoverageBy::EffectiveDegrees(degrees) }
    }
}

fn effective_degrees<'a>(lines: impl Iterator<Item = &'a Component>, combined: f64) -> Option<f64> {
    let sum: f64 = lines
        .filter_map(|line| match line.spread {
            Spread::Normal { degrees_of_freedom: Some(degrees) } => {
                Some(line.contribution().powi(4) / degrees)
            }
            _ => None,
        })
        .sum();
    (sum > 0.0).then(|| combined.powi(4) / sum)
}

/// k for 95 %, at the next lower whole number of degrees of freedom.
///
/// # Equation
/// The 97.5 % quantile of Student's t; of the normal distribution without limit of freedom.
///
/// # Range
/// One degree of freedom or more; fewer counts as one.
///
/// # Error
/// The library's, far below what a page shows.
///
/// # Source
/// JCGM 100, G.4.1 and table G.2.
pub fn coverage_factor(degrees_of_freedom: Option<f64>) -> f64 {
    quantile(degrees_of_freedom.map(f64::floor), 0.5 + COVERAGE / 2.0)
}

/// Quantile of Student's t, or of the normal distribution where the degrees of freedom are without limit.
pub(crate) fn quantile(degrees_of_freedom: Option<f64>, probability: f64) -> f64 {
    match student(degrees_of_freedom) {
        Some(t) => t.inverse_cdf(probability),
        None => Normal::standard().inverse_cdf(probability),
    }
}

/// Chance of a value up to `x` standard uncertainties above the estimate.
pub(crate) fn chance_below(degrees_of_freedom: Option<f64>, x: f64) -> f64 {
    student(degrees_of_freedom).map_or_else(|| Normal::standard().cdf(x), |t| t.cdf(x))
}

fn student(degrees_of_freedom: Option<f64>) -> Option<StudentsT> {
    let degrees = degrees_of_freedom.filter(|degrees| *degrees < AS_GOOD_AS_NORMAL)?;
    StudentsT::new(0.0, 1.0, degrees.max(1.0)).ok()
}

/// Half of the 95 % interval of a rectangle of half-width `a` and a normal of standard deviation `s` added up.
///
/// With g(z) = z·Φ(z) + φ(z), the chance that the sum is below x is s·(g((x + a)/s) − g((x − a)/s))/2a.
fn half_width_of_sum(a: f64, s: f64) -> f64 {
    if s < 1e-9 * a {
        return COVERAGE * a;
    }
    let normal = Normal::standard();
    let g = |z: f64| z * normal.cdf(z) + normal.pdf(z);
    let below = |x: f64| s * (g((x + a) / s) - g((x - a) / s)) / (2.0 * a);
    let missing = |x: f64| below(x) - (0.5 + COVERAGE / 2.0);
    let [low, high] = [0.0, a + 10.0 * s].map(|x| (x, missing(x)));
    root::zero(missing, low, high, 1e-12 * high.0)
}

/// Means and covariance of repeated readings of several quantities.
#[derive(Debug, Clone, PartialEq)]
pub struct Repeats {
    /// Mean of each quantity.
    pub means: Vec<f64>,
    /// Covariance of the means, row by row (JCGM 100, equation 17).
    pub covariance: Vec<Vec<f64>>,
    /// How many times each was read, less one.
    pub degrees_of_freedom: f64,
}

/// Means and their covariance from `rows`, one row a set read together.
///
/// # Equation
/// s(x̄, ȳ) = Σ(x − x̄)(y − ȳ)/n(n − 1).
///
/// # Range
/// Two rows or more, equally long.
///
/// # Error
/// In the answer: n − 1 degrees of freedom.
///
/// # Source
/// JCGM 100, equation 17; example H.2 is the test.
///
/// # Errors
/// [`Error::TooFew`] under two rows; [`Error::Undetermined`] when the rows are not equally long;
/// [`Error::Value`] for a number that is not finite.
pub fn repeats(rows: &[Vec<f64>]) -> Result<Repeats, Error> {
    let what = "bench.task.repeats";
    if rows.len() < 2 {
        return Err(Error::TooFew { what, found: rows.len(), needed: 2 });
    }
    let width = rows[0].len();
    if rows.iter().any(|row| row.len() != width) {
        return Err(Error::Undetermined { what, reason: "bench.why.uneven_sets" });
    }
    for value in rows.iter().flatten() {
        check("bench.quantity.reading", *value, "bench.accepted.number", true)?;
    }
    let n = rows.len() as f64;
    let means: Vec<f64> = (0..width).map(|i| rows.iter().map(|row| row[i]).sum::<f64>() / n).collect();
    let covariance = (0..width)
        .map(|i| {
            let with =
                |j: usize| rows.iter().map(|row| (row[i] - means[i]) * (row[j] - means[j])).sum::<f64>();
            (0..width).map(|j| with(j) / (n * (n - 1.0))).collect()
        })
        .collect();
    Ok(Repeats { means, covariance, degrees_of_freedom: n - 1.0 })
}
