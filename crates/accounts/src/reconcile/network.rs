//! Weighted least squares on balances, and tests for gross errors: linear algebra that knows no yard.

use message::{Message, Tell};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Why nothing can be worked out.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", self.message())]
pub enum NetworkError {
    /// The parts do not fit together.
    Shape(Fitting),
    /// A measurement without uncertainty, or balances that say the same twice: their covariance has no inverse.
    Singular,
}

/// What must fit together for the algebra.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fitting {
    /// One row and column of covariance, and one column of balances, per value.
    Values,
    /// One row and column of covariance per balance.
    Balances,
    /// At least one balance.
    Any,
}

impl Tell for NetworkError {
    fn message(&self) -> Message {
        Message::new(match self {
            NetworkError::Shape(Fitting::Values) => "accounts.network.values",
            NetworkError::Shape(Fitting::Balances) => "accounts.network.balances",
            NetworkError::Shape(Fitting::Any) => "accounts.network.any",
            NetworkError::Singular => "accounts.network.singular",
        })
    }
}

/// Measurements made to fit their balances.
#[derive(Debug, Clone, PartialEq)]
pub struct Reconciled {
    /// Adjusted values, in the unit of the measurements.
    pub values: Vec<f64>,
    /// Their standard uncertainties.
    pub standard_uncertainties: Vec<f64>,
    /// What each balance was off before.
    pub residuals: Vec<f64>,
    /// How far off all are together: a draw of χ² with as many degrees of freedom as balances, if only chance is at
    /// work.
    pub statistic: f64,
    /// Chance of at least so much, if only chance is at work.
    pub chance: f64,
}

/// Adjusts measurements to linear balances A·x = 0 by weighted least squares.
///
/// # Equation
/// x̂ = x − V·Aᵀ·(A·V·Aᵀ)⁻¹·A·x; statistic (A·x)ᵀ·(A·V·Aᵀ)⁻¹·(A·x).
///
/// # Range
/// Full rank of A·V·Aᵀ.
///
/// # Error
/// Rounding: 1e-9 of the largest value.
///
/// # Source
/// Kuehn, D. R., and Davidson, H., Computer control II: mathematics of control, Chem. Eng. Prog. 57 (1961) 44; the
/// global test after Reilly and Carpani (1963).
///
/// # Errors
/// [`NetworkError`].
pub fn reconcile(
    values: &[f64],
    covariance: &DMatrix<f64>,
    balances: &DMatrix<f64>,
) -> Result<Reconciled, NetworkError> {
    let n = values.len();
    if covariance.shape() != (n, n) || balances.ncols() != n || balances.nrows() == 0 {
        return Err(NetworkError::Shape(Fitting::Values));
    }
    let x = DVector::from_column_slice(values);
    let residuals = balances * &x;
    let spread = balances * covariance * balances.transpose();
    let factor = Cholesky::new(spread).ok_or(NetworkError::Singular)?;
    let solved = factor.solve(&residuals);
    let adjusted = &x - covariance * balances.transpose() * &solved;
    let gain = factor.solve(&(balances * covariance));
    let left = covariance - covariance * balances.transpose() * gain;
    let statistic = residuals.dot(&solved);
    let chance = chance_of(statistic, balances.nrows())?;
    Ok(Reconciled {
        values: adjusted.iter().copied().collect(),
        standard_uncertainties: left.diagonal().iter().map(|variance| variance.max(0.0).sqrt()).collect(),
        residuals: residuals.iter().copied().collect(),
        statistic,
        chance,
    })
}

/// Chance of a χ² of at least so much.
pub(super) fn chance_of(statistic: f64, freedom: usize) -> Result<f64, NetworkError> {
    let chi = ChiSquared::new(freedom as f64).map_err(|_| NetworkError::Shape(Fitting::Any))?;
    Ok(chi.sf(statistic.max(0.0)))
}

/// How well a gross error of some kind explains the residuals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suspicion {
    /// Its size by the residuals, in the unit of its signature.
    pub size: f64,
    /// Standard uncertainty of that.
    pub standard_uncertainty: f64,
    /// What it takes off the sum of squares: a draw of χ² with one degree of freedom, if only chance is at work.
    pub statistic: f64,
}

/// Tests residuals of balances for gross errors.
pub struct GrossErrors {
    factor: Cholesky<f64, Dyn>,
    weights: DMatrix<f64>,
    weighted: DVector<f64>,
    residuals: DVector<f64>,
}

impl GrossErrors {
    /// Prepares the test.
    ///
    /// # Errors
    /// [`NetworkError`].
    pub fn new(residuals: &[f64], covariance: DMatrix<f64>) -> Result<Self, NetworkError> {
        let n = residuals.len();
        if covariance.shape() != (n, n) || n == 0 {
            return Err(NetworkError::Shape(Fitting::Balances));
        }
        let factor = Cholesky::new(covariance).ok_or(NetworkError::Singular)?;
        let weights = factor.inverse();
        let residuals = DVector::from_column_slice(residuals);
        let weighted = &weights * &residuals;
        Ok(Self { factor, weights, weighted, residuals })
    }

    /// All residuals together: the statistic and the chance of at least so much.
    ///
    /// # Errors
    /// [`NetworkError`].
    pub fn global(&self) -> Result<(f64, f64), NetworkError> {
        let statistic = self.residuals.dot(&self.factor.solve(&self.residuals));
        Ok((statistic, chance_of(statistic, self.residuals.len())?))
    }

    /// How well an error explains the residuals that would move them by `size · signature`.
    ///
    /// # Equation
    /// size = fᵀ·V⁻¹·r / (fᵀ·V⁻¹·f); statistic = (fᵀ·V⁻¹·r)² / (fᵀ·V⁻¹·f): the generalised likelihood ratio.
    ///
    /// # Range
    /// Signatures that are not zero.
    ///
    /// # Error
    /// Rounding.
    ///
    /// # Source
    /// Narasimhan, S., and Mah, R. S. H., Generalized likelihood ratio method for gross error identification, AIChE J.
    /// 33 (1987) 1514.
    pub fn suspicion(&self, signature: &[(usize, f64)]) -> Option<Suspicion> {
        let toward: f64 = signature.iter().map(|(row, f)| f * self.weighted[*row]).sum();
        let mut own = 0.0;
        for (row, f) in signature {
            for (column, g) in signature {
                own += f * g * self.weights[(*row, *column)];
            }
        }
        suspicion(toward, own)
    }

    /// As [`Self::suspicion`], for errors that begin at a part and go on to the last: `parts` in order of time; the
    /// answer has one entry for each beginning.
    pub fn from_each(&self, parts: &[Vec<(usize, f64)>]) -> Vec<Option<Suspicion>> {
        let mut found = vec![None; parts.len()];
        let mut weighted_sum = DVector::zeros(self.residuals.len());
        let (mut toward, mut own) = (0.0, 0.0);
        for (place, part) in parts.iter().enumerate().rev() {
            for (row, f) in part {
                toward += f * self.weighted[*row];
                own += 2.0 * f * weighted_sum[*row];
                own += part.iter().map(|(column, g)| f * g * self.weights[(*row, *column)]).sum::<f64>();
            }
            for (row, f) in part {
                weighted_sum.axpy(*f, &self.weights.column(*row), 1.0);
            }
            found[place] = suspicion(toward, own);
        }
        found
    }
}

fn suspicion(toward: f64, own: f64) -> Option<Suspicion> {
    (own > 0.0 && own.is_finite()).then(|| Suspicion {
        size: toward / own,
        standard_uncertainty: own.powf(-0.5),
        statistic: toward * toward / own,
    })
}
