//! Budgets against the worked examples of JCGM 100:2008, annex H, and JCGM 101:2008, clause 9.2.

use bench::uncertainty::{Budget, Component, CoverageBy, coverage_factor, repeats};

fn near(ours: f64, published: f64, half_a_last_digit: f64) {
    assert!((ours - published).abs() <= half_a_last_digit, "ours {ours}, published {published}");
}

/// Covariance of results from that of their inputs, C·V·Cᵀ: JCGM 100, equation 13 and its extension in H.2.3.
fn propagate(sensitivities: &[Vec<f64>], covariance: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let between = |a: &[f64], b: &[f64]| -> f64 {
        let row = |line: &[f64]| line.iter().zip(b).map(|(v, b)| v * b).sum::<f64>();
        covariance.iter().zip(a).map(|(line, a)| a * row(line)).sum()
    };
    sensitivities.iter().map(|a| sensitivities.iter().map(|b| between(a, b)).collect()).collect()
}

/// H.1, end-gauge calibration: 25, 9.7, 2.9 and 16.6 nm with 18, 25.6, 50 and 2 degrees of freedom give 32 nm and 16
/// (values from memory; 31.7 before rounding).
#[test]
fn end_gauge() {
    let lines = [(25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0)];
    let lines = lines.map(|(u, degrees)| Component::estimated("part", u, degrees, 1.0));
    let budget = Budget::new(lines.to_vec()).unwrap();
    near(budget.combined(), 31.7, 0.06);
    near(budget.effective_degrees_of_freedom().unwrap().floor(), 16.0, 0.0);
}

/// H.2, resistance and reactance from five sets read together, both of the Guide's ways (readings and results
/// from memory): its printed figures are those of its second way, sets first and means after.
#[test]
fn resistance_and_reactance() {
    let volts = [5.007, 4.994, 5.005, 4.990, 4.999];
    let milliamps = [19.663, 19.639, 19.640, 19.685, 19.678];
    let radians: [f64; 5] = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
    let results = |v: f64, i: f64, phi: f64| [v / i * phi.cos(), v / i * phi.sin(), v / i];
    let read: Vec<Vec<f64>> = (0..5).map(|n| vec![volts[n], milliamps[n] * 1e-3, radians[n]]).collect();
    let worked_out: Vec<Vec<f64>> = read.iter().map(|set| results(set[0], set[1], set[2]).to_vec()).collect();
    let second = repeats(&worked_out).unwrap();
    let read = repeats(&read).unwrap();
    let (v, i, phi) = (read.means[0], read.means[1], read.means[2]);
    let [r, x, z] = results(v, i, phi);
    let sensitivities = [vec![r / v, -r / i, -x], vec![x / v, -x / i, r], vec![z / v, -z / i, 0.0]];
    let first = propagate(&sensitivities, &read.covariance);
    let u = |all: &[Vec<f64>], k: usize| all[k][k].sqrt();
    let published = [(127.732, 0.071), (219.847, 0.295), (254.260, 0.236)];
    for (k, (value, uncertainty)) in published.into_iter().enumerate() {
        near([r, x, z][k], value, 5e-4);
        near(second.means[k], value, 5e-4);
        near(u(&second.covariance, k), uncertainty, 5e-4);
        near(u(&first, k), uncertainty, 1e-3);
    }
    for (one, other, correlation) in [(0, 1, -0.588), (0, 2, -0.485), (1, 2, 0.993)] {
        for all in [&first, &second.covariance] {
            near(all[one][other] / (u(all, one) * u(all, other)), correlation, 1e-3);
        }
    }
    assert!((read.degrees_of_freedom - 4.0).abs() < 1e-12);
}

/// JCGM 100, table G.2, 95 % column (from memory).
#[test]
fn coverage_factors() {
    for (degrees, t) in [(1.0, 12.71), (4.0, 2.78), (10.0, 2.23), (16.0, 2.12), (50.0, 2.01)] {
        near(coverage_factor(Some(degrees)), t, 5e-3);
    }
    near(coverage_factor(Some(16.9)), 2.12, 5e-3);
    near(coverage_factor(None), 1.96, 1e-3);
    for degrees in [999.0, 1e3, 1e5, 1e9, 1e300, f64::INFINITY] {
        near(coverage_factor(Some(degrees)), 1.96, 3e-3);
    }
}

/// JCGM 101, 9.2.4 (from memory): three rectangles of standard uncertainty 1 and one of 10 have the 95 %
/// interval ±17.0, where 1.96 u would say ±19.9. 9.2.3: four of 1, ±3.88 where 1.96 u says ±3.92.
#[test]
fn one_wide_rectangle() {
    let rectangles = |widest: f64| {
        let lines = [1.0, 1.0, 1.0, widest].map(|u: f64| Component::rectangle("part", u * 3f64.sqrt(), 1.0));
        Budget::new(lines.to_vec()).unwrap().expanded()
    };
    let wide = rectangles(10.0);
    near(wide.half_width, 17.0, 0.05);
    assert!(matches!(wide.by, CoverageBy::Rectangle { share } if (share - 100.0 / 103.0).abs() < 1e-9));
    near(rectangles(1.0).half_width, 3.88, 0.05);
    near(Budget::new(vec![Component::rectangle("only", 2.0, 1.0)]).unwrap().expanded().half_width, 1.9, 1e-9);
}

#[test]
fn what_is_no_uncertainty_is_refused() {
    for line in [
        Component::normal("a", -0.1, 1.0),
        Component::normal("a", f64::NAN, 1.0),
        Component::normal("a", 1.0, f64::INFINITY),
        Component::estimated("a", 1.0, 0.5, 1.0),
    ] {
        assert!(Budget::new(vec![line]).is_err(), "{line:?}");
    }
    assert!(repeats(&[vec![1.0]]).is_err());
    assert!(repeats(&[vec![1.0], vec![1.0, 2.0]]).is_err());
    assert!(repeats(&[vec![1.0], vec![f64::NAN]]).is_err());
}

/// Two sets are enough (JCGM 100, 4.2): of 1 and 3 the mean is 2, its variance (1 + 1)/1/2 = 1.
#[test]
fn two_repeats_are_enough_and_one_is_not() {
    let two = repeats(&[vec![1.0], vec![3.0]]).unwrap();
    near(two.means[0], 2.0, 1e-12);
    near(two.covariance[0][0], 1.0, 1e-12);
    near(two.degrees_of_freedom, 1.0, 0.0);
    assert!(repeats(&[vec![1.0]]).is_err());
}

/// An interval does not hang on the unit: the same budget in grams and in tonnes, a rectangle its largest line.
#[test]
fn an_interval_is_the_same_in_any_unit() {
    let half_width = |unit: f64| {
        let lines =
            vec![Component::rectangle("wide", unit, 1.0), Component::normal("other", 0.4 * unit, 1.0)];
        let expanded = Budget::new(lines).unwrap().expanded();
        assert!(matches!(expanded.by, CoverageBy::Rectangle { .. }));
        expanded.half_width / unit
    };
    let one = half_width(1.0);
    // Between the rectangle's own 0.95 and both added without thought.
    assert!(0.95 < one && one < 0.95 + 1.96 * 0.4, "{one}");
    for unit in [1e-6, 1e-3, 1e3, 1e6] {
        near(half_width(unit), one, 1e-9);
    }
}
