//! The line with errors in both directions against published data and against closed forms.

use bench::line::{Line, Pair, fit};
use proptest::prelude::*;

fn near(ours: f64, published: f64, tolerance: f64) {
    assert!((ours - published).abs() <= tolerance, "ours {ours}, published {published}");
}

/// Pearson's points (1901) with York's weights (1966), both from memory: x, y, weight of x, weight of y.
const PEARSON_YORK: [(f64, f64, f64, f64); 10] = [
    (0.0, 5.9, 1000.0, 1.0),
    (0.9, 5.4, 1000.0, 1.8),
    (1.8, 4.4, 500.0, 4.0),
    (2.6, 4.6, 800.0, 8.0),
    (3.3, 3.5, 200.0, 20.0),
    (4.4, 3.7, 80.0, 20.0),
    (5.2, 2.8, 60.0, 70.0),
    (6.1, 2.8, 20.0, 70.0),
    (6.5, 2.4, 1.8, 100.0),
    (7.4, 1.5, 1.0, 500.0),
];

fn pearson_york() -> Vec<Pair> {
    let pair = |(x, y, wx, wy): (f64, f64, f64, f64)| Pair {
        x,
        y,
        x_uncertainty: 1.0 / wx.sqrt(),
        y_uncertainty: 1.0 / wy.sqrt(),
        correlation: 0.0,
    };
    PEARSON_YORK.into_iter().map(pair).collect()
}

/// York and others (2004), table II, print −0.480533407 and 5.47991022 with standard errors 0.0580 and 0.295 (from
/// memory); the digits beyond are of scipy.odr, worked out when the project's data were gathered.
#[test]
fn pearsons_points_with_yorks_weights() {
    let line = fit(&pearson_york()).unwrap();
    near(line.slope, -0.480_533_41, 1e-8);
    near(line.intercept, 5.479_910_22, 1e-8);
    near(line.slope_uncertainty, 0.057_985, 1e-6);
    near(line.intercept_uncertainty, 0.294_971, 1e-6);
    near(line.covariance, -0.016_472_5, 1e-7);
    near(line.sum_of_squares, 11.866_353, 1e-6);
    near(line.slope_uncertainty * line.scatter(), 0.070_620, 1e-6);
    near(line.intercept_uncertainty * line.scatter(), 0.359_247, 1e-6);
}

/// The same points, all errors alike in both directions: Deming's line of ratio 1, and of ratio 2 and 0.5, by
/// its closed form (slopes computed outside when the data were gathered).
#[test]
fn equal_errors_give_demings_line() {
    for (ratio, slope, intercept) in
        [(1.0f64, -0.545_561, 5.784_044), (2.0, -0.542_939, 5.774_027), (0.5, -0.549_370, 5.798_595)]
    {
        let alike = |pair: Pair| Pair { x_uncertainty: 1.0, y_uncertainty: ratio.sqrt(), ..pair };
        let line = fit(&pearson_york().into_iter().map(alike).collect::<Vec<_>>()).unwrap();
        near(line.slope, slope, 5e-7);
        near(line.intercept, intercept, 5e-7);
    }
}

/// JCGM 100, H.3, calibration of a thermometer: corrections on (reading − 20 °C). Published: −0.1712(29) °C,
/// 0.00218(67), r = −0.930, s = 0.0035 °C, at 30 °C −0.1494(41) °C. The readings were seen in public
/// documentation of a national institute, the results are from memory.
#[test]
fn thermometer_calibration() {
    let readings = [
        (21.521, -0.171),
        (22.012, -0.169),
        (22.512, -0.166),
        (23.003, -0.159),
        (23.507, -0.164),
        (23.999, -0.165),
        (24.513, -0.156),
        (25.002, -0.157),
        (25.503, -0.159),
        (26.010, -0.161),
        (26.511, -0.160),
    ];
    let pair = |(t, y)| Pair { x: t - 20.0, y, x_uncertainty: 0.0, y_uncertainty: 1.0, correlation: 0.0 };
    let line = fit(&readings.into_iter().map(pair).collect::<Vec<_>>()).unwrap();
    let s = line.scatter();
    near(line.intercept, -0.1712, 5e-5);
    near(line.intercept_uncertainty * s, 0.0029, 5e-5);
    near(line.slope, 0.00218, 5e-6);
    near(line.slope_uncertainty * s, 0.00067, 5e-6);
    near(line.covariance / (line.slope_uncertainty * line.intercept_uncertainty), -0.930, 5e-4);
    near(s, 0.0035, 5e-5);
    // The Guide goes on to 30 °C, outside the readings; our line refuses, so its arithmetic is done here.
    assert!(line.at(10.0).is_err());
    near(line.intercept + 10.0 * line.slope, -0.1494, 5e-5);
    let variance =
        line.intercept_uncertainty.powi(2) + 20.0 * line.covariance + (10.0 * line.slope_uncertainty).powi(2);
    near(variance.sqrt() * s, 0.0041, 5e-5);
}

#[test]
fn pairs_that_fix_no_line_are_refused() {
    let pair = |x, y| Pair { x, y, x_uncertainty: 0.1, y_uncertainty: 0.1, correlation: 0.0 };
    assert!(fit(&[pair(1.0, 1.0), pair(2.0, 2.0)]).is_err());
    assert!(fit(&[pair(1.0, 1.0), pair(1.0, 2.0), pair(1.0, 3.0)]).is_err());
    assert!(fit(&[pair(1.0, 1.0), pair(2.0, f64::NAN), pair(3.0, 3.0)]).is_err());
    let exact = Pair { x_uncertainty: 0.0, y_uncertainty: 0.0, ..pair(2.0, 2.0) };
    assert!(fit(&[pair(1.0, 1.0), exact, pair(3.0, 3.0)]).is_err());
}

proptest! {
    /// Exchanging the two instruments inverts the line; another unit of y scales it.
    #[test]
    fn it_does_not_matter_which_is_x(
        slope in 0.3..3.0f64,
        noise in prop::collection::vec(-0.2..0.2f64, 8),
        ux in 0.05..0.5f64,
        uy in 0.05..0.5f64,
    ) {
        let pairs: Vec<Pair> = noise
            .iter()
            .enumerate()
            .map(|(i, e)| Pair {
                x: 20.0 + i as f64,
                y: 5.0 + slope * (20.0 + i as f64) + e,
                x_uncertainty: ux,
                y_uncertainty: uy,
                correlation: 0.2,
            })
            .collect();
        let turned = |p: &Pair| {
            let (x_uncertainty, y_uncertainty) = (p.y_uncertainty, p.x_uncertainty);
            Pair { x: p.y, y: p.x, x_uncertainty, y_uncertainty, correlation: p.correlation }
        };
        let there: Line = fit(&pairs).unwrap();
        let back: Line = fit(&pairs.iter().map(turned).collect::<Vec<_>>()).unwrap();
        prop_assert!((there.slope * back.slope - 1.0).abs() < 1e-9);
        prop_assert!((there.sum_of_squares - back.sum_of_squares).abs() < 1e-6 * there.sum_of_squares.max(1e-3));
    }
}
