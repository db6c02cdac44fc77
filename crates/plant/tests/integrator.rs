//! The integrator against published problems with known answers.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use plant::integrator::{Integrator, RungeKutta};

/// The restricted three-body orbit of Arenstorf: after 17.0652165601579625588917206249 it is where it began. E. Hairer,
/// S. P. Nørsett, G. Wanner, *Solving Ordinary Differential Equations I*, II.0, equations (0.1) and (0.2).
#[test]
fn arenstorfs_orbit_closes() {
    let moon = 0.012277471;
    let earth = 1.0 - moon;
    let system = |_: f64, y: &[f64], rates: &mut [f64]| {
        let to_earth = ((y[0] + moon).powi(2) + y[1] * y[1]).powf(1.5);
        let to_moon = ((y[0] - earth).powi(2) + y[1] * y[1]).powf(1.5);
        rates[0] = y[2];
        rates[1] = y[3];
        rates[2] = y[0] + 2.0 * y[3] - earth * (y[0] + moon) / to_earth - moon * (y[0] - earth) / to_moon;
        rates[3] = y[1] - 2.0 * y[2] - earth * y[1] / to_earth - moon * y[1] / to_moon;
    };
    let start = [0.994, 0.0, 0.0, -2.001_585_106_379_082_4];
    let period = 17.065_216_560_157_964;
    let mut state = start;
    RungeKutta::fifth(1e-13, 1e-13).advance(&system, 0.0, period, &mut state).unwrap();
    for (found, began) in state.iter().zip(start) {
        assert!((found - began).abs() < 2e-4, "{state:?}");
    }
}

/// y' = y·cos t is exp(sin t): problem A3 of T. E. Hull et al., *Comparing numerical methods for ordinary differential
/// equations*, SIAM J. Numer. Anal. 9 (1972) 603.
#[test]
fn an_oscillating_growth() {
    let system = |t: f64, y: &[f64], rates: &mut [f64]| rates[0] = y[0] * t.cos();
    for (tolerance, bound) in [(1e-6, 1e-4), (1e-9, 1e-7), (1e-12, 1e-10)] {
        let mut state = [1.0];
        let mut by = RungeKutta::fifth(tolerance, tolerance);
        // In pieces, as a plant is run: the result must not depend on them.
        for piece in 0..40 {
            by.advance(&system, 0.5 * f64::from(piece), 0.5 * f64::from(piece + 1), &mut state).unwrap();
        }
        let exact = 20f64.sin().exp();
        assert!((state[0] - exact).abs() < bound, "{tolerance}: {}", state[0] - exact);
    }
}

/// The logistic curve, problem A4 of the same: y' = y/4·(1 − y/20), y = 20/(1 + 19·exp(−t/4)).
#[test]
fn a_logistic_curve() {
    let system = |_: f64, y: &[f64], rates: &mut [f64]| rates[0] = y[0] / 4.0 * (1.0 - y[0] / 20.0);
    let mut state = [1.0];
    RungeKutta::fifth(1e-10, 1e-10).advance(&system, 0.0, 20.0, &mut state).unwrap();
    let exact = 20.0 / (1.0 + 19.0 * (-5f64).exp());
    assert!((state[0] - exact).abs() < 1e-8);
}

/// When an exponential approach to 26.4 passes 23.3, in closed form: the error of the time itself is bounded.
#[test]
fn the_time_of_an_event() {
    for lag in [1.0, 3.337, 700.0] {
        let system = |_: f64, y: &[f64], rates: &mut [f64]| rates[0] = (26.4 - y[0]) / lag;
        let exact = lag * (26.4f64 / 3.1).ln();
        let mut state = [0.0];
        let event = |_: f64, y: &[f64]| y[0] - 23.3;
        let found = RungeKutta::fifth(1e-10, 1e-10)
            .advance_until(&system, 0.0, 10.0 * lag, &mut state, &event)
            .unwrap();
        let at = found.unwrap();
        assert!((at - exact).abs() < 1e-8 * lag, "{}", at - exact);
        assert!((state[0] - 23.3).abs() < 1e-8);
        let none = |_: f64, y: &[f64]| y[0] - 30.0;
        let mut state = [0.0];
        let by = &mut RungeKutta::fifth(1e-8, 1e-8);
        assert_eq!(by.advance_until(&system, 0.0, 10.0 * lag, &mut state, &none).unwrap(), None);
    }
}

/// Linear invariants of the equations are conserved by the method, to rounding.
#[test]
fn linear_invariants_are_kept() {
    let system = |t: f64, y: &[f64], rates: &mut [f64]| {
        let flow = (y[0] - y[1]).tanh() + 0.1 * t.sin() * y[0];
        rates[0] = -flow;
        rates[1] = flow;
    };
    let mut state = [1000.0, 3.0];
    RungeKutta::fifth(1e-6, 1e-6).advance(&system, 0.0, 500.0, &mut state).unwrap();
    assert!((state[0] + state[1] - 1003.0).abs() < 1e-9, "{state:?}");
}

/// A state that grows to infinity in finite time gives an error, not an endless loop.
#[test]
fn a_singular_state_gives_an_error() {
    let system = |_: f64, y: &[f64], rates: &mut [f64]| rates[0] = y[0] * y[0];
    let mut state = [1.0];
    assert!(RungeKutta::fifth(1e-8, 1e-8).advance(&system, 0.0, 2.0, &mut state).is_err());
}

/// The third-order pair on the same curve: its error falls with its tolerance, and it keeps invariants as well.
#[test]
fn the_third_order_pair() {
    let system = |t: f64, y: &[f64], rates: &mut [f64]| {
        rates[0] = y[0] * t.cos();
        rates[1] = -rates[0];
    };
    for (tolerance, bound) in [(1e-5, 1e-3), (1e-8, 5e-6)] {
        let mut state = [1.0, 1.0];
        RungeKutta::third(tolerance, tolerance).advance(&system, 0.0, 20.0, &mut state).unwrap();
        assert!((state[0] - 20f64.sin().exp()).abs() < bound, "{tolerance}: {state:?}");
        assert!((state[0] + state[1] - 2.0).abs() < 1e-11);
    }
}
