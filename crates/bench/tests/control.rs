//! Control charts against the worked examples of the NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2. Data and
//! results from memory, reproduced when the project's data were gathered.

use bench::control::{Expected, ewma, individuals};

/// Mean range of two normal values, in standard deviations: 2/√π.
const D2_OF_TWO: f64 = std::f64::consts::FRAC_2_SQRT_PI;

fn near(ours: f64, published: f64, tolerance: f64) {
    assert!((ours - published).abs() <= tolerance, "ours {ours}, published {published}");
}

/// 6.3.2.2, flow rates of ten batches.
#[test]
fn single_values() {
    let limits = individuals(&[49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]).unwrap();
    near(limits.centre, 50.81, 5e-3);
    near(limits.sigma * D2_OF_TWO, 1.877_78, 5e-6);
    // The handbook divides by 1.128.
    near(limits.high, 55.8041, 1e-2 * limits.sigma);
    near(limits.low, 45.8159, 1e-2 * limits.sigma);
    near(limits.high, 50.81 + 3.0 * 1.877_78 / D2_OF_TWO, 1e-4);
    near(limits.largest_step, 6.135, 2e-3);
}

/// 6.3.2.4, λ = 0.3, target 50, s = 2.0539: averages and limits, no signal.
#[test]
fn weighted_average() {
    let values = [
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6,
        52.4, 53.6, 52.1,
    ];
    let published = [
        50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
        49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
    ];
    let points = ewma(&values, Expected { target: 50.0, sigma: 2.0539 }, 0.3, 3.0).unwrap();
    for (point, average) in points.iter().zip(published) {
        near(point.average, average, 6e-3);
        assert!(!point.is_signal() || point.average < 52.5884);
    }
    // The handbook's limits are those that the exact ones end in.
    near(points[19].high, 52.5884, 1e-4);
    near(points[19].low, 47.4116, 2e-4);
    assert!(points[0].high < points[1].high);
}

#[test]
fn what_makes_no_chart_is_refused() {
    assert!(individuals(&[1.0, 2.0]).is_err());
    assert!(individuals(&[1.0, f64::NAN, 2.0]).is_err());
    assert!(individuals(&[1.0, 1.0, 1.0]).is_err());
    let fine = Expected { target: 0.0, sigma: 1.0 };
    assert!(ewma(&[f64::INFINITY], fine, 0.2, 3.0).is_err());
    assert!(ewma(&[1.0], Expected { sigma: 0.0, ..fine }, 0.2, 3.0).is_err());
    assert!(ewma(&[1.0], fine, 1.1, 3.0).is_err());
}
