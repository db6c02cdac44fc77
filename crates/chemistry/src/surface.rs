//! The one form of every fit in this crate: a polynomial in composition and temperature.

/// Reference of the temperature variable, °C: τ = t/100.
const HUNDRED: f64 = 100.0;

/// Σ c\[j\]\[k\]·xʲ·τᵏ, τ = t/(100 °C). Coefficients are in `fitted.rs`, their data and residuals in `fits/`.
pub(crate) type Surface = [[f64; 3]];

/// The value at a composition variable and a temperature in °C. Callers keep both inside the fitted range.
#[inline]
pub(crate) fn at(surface: &Surface, x: f64, celsius: f64) -> f64 {
    let tau = celsius / HUNDRED;
    surface.iter().rev().fold(0.0, |sum, [c0, c1, c2]| sum * x + (c0 + tau * (c1 + tau * c2)))
}

/// A polynomial in one variable, lowest power first.
#[inline]
pub(crate) fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

/// Derivative of that polynomial at `x`.
#[inline]
pub(crate) fn slope(coefficients: &[f64], x: f64) -> f64 {
    let falling = coefficients.iter().enumerate().skip(1).rev();
    falling.fold(0.0, |sum, (power, c)| sum * x + c * power as f64)
}

#[cfg(test)]
mod tests {
    use super::{at, polynomial, slope};

    #[test]
    fn a_surface_is_its_sum() {
        let c = [[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]];
        assert!((at(&c, 0.5, 200.0) - (1.0 + 4.0 + 12.0 + 0.5 * (4.0 + 10.0 + 24.0))).abs() < 1e-12);
        assert!((polynomial(&[1.0, 2.0, 3.0], 2.0) - 17.0).abs() < 1e-12);
        assert!((slope(&[1.0, 2.0, 3.0], 2.0) - 14.0).abs() < 1e-12);
    }
}
