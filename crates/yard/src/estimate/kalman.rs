//! The algebra of an estimate: a mean with its covariance, moved and updated in linear steps.
//!
//! One observation at a time: several that are independent come to the same one after the other.

use nalgebra::{SMatrix, SVector};

/// A mean and its covariance.
#[derive(Debug, Clone, PartialEq)]
pub struct Gaussian<const N: usize> {
    /// Mean of the state.
    pub mean: SVector<f64, N>,
    /// Covariance of the state.
    pub covariance: SMatrix<f64, N, N>,
}

/// A linear look at it: `value = on · x + e`, e of the variance.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation<const N: usize> {
    /// What each part of the state adds to what is shown.
    pub on: SVector<f64, N>,
    /// What was shown.
    pub value: f64,
    /// Variance of what was shown, by itself.
    pub variance: f64,
}

impl<const N: usize> Gaussian<N> {
    /// What an observation shows above what is expected, in its own unit, and the variance of that, in that unit
    /// squared.
    ///
    /// # Equation
    /// ν = z − h·x, S = h·P·hᵀ + r.
    ///
    /// # Range
    /// Any finite state.
    ///
    /// # Error
    /// None of its own.
    ///
    /// # Source
    /// Kalman, J. Basic Eng. 82 (1960) 35, doi:10.1115/1.3662552.
    pub fn innovation(&self, seen: &Observation<N>) -> (f64, f64) {
        let spread = self.covariance * seen.on;
        (seen.value - seen.on.dot(&self.mean), seen.on.dot(&spread) + seen.variance)
    }

    /// Takes an observation in. The first `estimated` parts of the state move; the others are only reckoned with: they
    /// stay where they are, and no number of looks takes off what they are uncertain by.
    ///
    /// # Equation
    /// Gain k = P·hᵀ/S with the rows from `estimated` on set to zero; x ← x + k·ν;
    /// P ← P − k·h·P − P·hᵀ·kᵀ + k·S·kᵀ, which holds for any gain. With every part estimated it is Kalman's filter and
    /// comes to weighted least squares of all evidence; with fewer it is Schmidt's, and never widens a part that moves.
    ///
    /// # Range
    /// S above zero; otherwise nothing is known better and nothing moves.
    ///
    /// # Error
    /// Rounding; against least squares below 1e-9 (`yard/tests/estimate.rs`).
    ///
    /// # Source
    /// Kalman (1960), as above; Schmidt, Adv. Control Syst. 3 (1966) 293, for parts that are only reckoned with
    /// (volume and page from memory).
    pub fn observe(&mut self, seen: &Observation<N>, estimated: usize) {
        let (innovation, variance) = self.innovation(seen);
        if variance <= 0.0 {
            return;
        }
        let spread = self.covariance * seen.on;
        let mut gain = spread / variance;
        for place in estimated..N {
            gain[place] = 0.0;
        }
        self.mean += gain * innovation;
        let cross = gain * spread.transpose();
        let updated = self.covariance - cross - cross.transpose() + gain * gain.transpose() * variance;
        // Rounding must not make it lopsided.
        self.covariance = (updated + updated.transpose()) * 0.5;
    }

    /// Moves the state: `x ← F·x + add`, P ← F·P·Fᵀ + Q.
    ///
    /// # Equation
    /// As above.
    ///
    /// # Range
    /// Any finite state.
    ///
    /// # Error
    /// Rounding.
    ///
    /// # Source
    /// Kalman (1960), as above.
    pub fn advance(&mut self, by: &SMatrix<f64, N, N>, add: &SVector<f64, N>, noise: &SMatrix<f64, N, N>) {
        self.mean = by * self.mean + add;
        let moved = by * self.covariance * by.transpose() + noise;
        self.covariance = (moved + moved.transpose()) * 0.5;
    }

    /// The same where only the first parts of the state move: `by` holds their rows of F, and the others stay. It costs
    /// a fifth of it.
    ///
    /// # Equation
    /// As [`Gaussian::advance`] with every other row of F that of the identity, and Q of the first parts alone.
    ///
    /// # Range
    /// Any finite state; no more parts move than there are.
    ///
    /// # Error
    /// Rounding.
    ///
    /// # Source
    /// Kalman (1960), as above.
    pub fn advance_first<const M: usize>(
        &mut self,
        by: &SMatrix<f64, M, N>,
        add: &SVector<f64, M>,
        noise: &SMatrix<f64, M, M>,
    ) {
        let moved = by * self.mean + add;
        let rows = by * self.covariance;
        let block = rows * by.transpose() + noise;
        for part in 0..M {
            self.mean[part] = moved[part];
            for other in 0..M {
                // Rounding must not make it lopsided.
                self.covariance[(part, other)] = 0.5 * (block[(part, other)] + block[(other, part)]);
            }
            for other in M..N {
                self.covariance[(part, other)] = rows[(part, other)];
                self.covariance[(other, part)] = rows[(part, other)];
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Gaussian;
    use nalgebra::{Matrix2, SMatrix, SVector, Vector2};

    #[test]
    fn moving_the_first_parts_is_moving_the_whole() {
        let root = SMatrix::<f64, 5, 5>::from_fn(|row, column| ((3 * row + 7 * column) % 11) as f64 - 4.0);
        let state = Gaussian {
            mean: SVector::<f64, 5>::from_fn(|row, _| row as f64 + 0.5),
            covariance: root * root.transpose(),
        };
        let by = SMatrix::<f64, 2, 5>::from_fn(|row, column| 0.3 * row as f64 - 0.2 * column as f64 + 0.7);
        let (add, noise) = (Vector2::new(1.5, -2.0), Matrix2::new(2.0, 0.4, 0.4, 1.0));
        let mut whole = SMatrix::<f64, 5, 5>::identity();
        whole.fixed_rows_mut::<2>(0).copy_from(&by);
        let mut all_add = SVector::<f64, 5>::zeros();
        all_add.fixed_rows_mut::<2>(0).copy_from(&add);
        let mut all_noise = SMatrix::<f64, 5, 5>::zeros();
        all_noise.fixed_view_mut::<2, 2>(0, 0).copy_from(&noise);
        let (mut first, mut general) = (state.clone(), state);
        first.advance_first(&by, &add, &noise);
        general.advance(&whole, &all_add, &all_noise);
        assert!((first.mean - general.mean).norm() < 1e-12);
        assert!((first.covariance - general.covariance).norm() < 1e-9 * general.covariance.norm());
    }
}
