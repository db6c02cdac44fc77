//! Agreement of two over time, held against printed data.

use bench::agreement::{PairedReadings, agreement};

/// Student (W. S. Gosset), *The probable error of a mean*, Biometrika 6 (1908) 1: extra hours of sleep of ten patients
/// by two drugs. Mean difference 1.58 h; t = 4.06 by Fisher's later tables, so an interval of ± 0.88 h (from memory).
#[test]
fn students_sleep() {
    let first = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
    let second = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
    let both = |(first, second): (&f64, &f64)| PairedReadings {
        first: *first,
        first_uncertainty: 0.5,
        second: *second,
        second_uncertainty: 0.5,
    };
    let samples: Vec<PairedReadings> = first.iter().zip(&second).map(both).collect();
    let found = agreement(&samples).unwrap();
    assert!((found.difference - 1.58).abs() < 1e-9);
    assert!((found.within - 0.8799).abs() < 5e-4, "{}", found.within);
    assert!(found.is_different && found.samples == 10);
}

/// The line is York's: K. Pearson's data (1901) with York's weights (1966), slope −0.480533, intercept 5.47991.
#[test]
fn the_line_is_yorks() {
    let x = [0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4];
    let y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5];
    let x_weights: [f64; 10] = [1000.0, 1000.0, 500.0, 800.0, 200.0, 80.0, 60.0, 20.0, 1.8, 1.0];
    let y_weights: [f64; 10] = [1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0];
    let samples: Vec<PairedReadings> = (0..10)
        .map(|i| PairedReadings {
            first: x[i],
            first_uncertainty: x_weights[i].powf(-0.5),
            second: y[i],
            second_uncertainty: y_weights[i].powf(-0.5),
        })
        .collect();
    let line = agreement(&samples).unwrap().line.unwrap();
    assert!((line.slope + 0.480_533).abs() < 1e-6 && (line.intercept - 5.479_91).abs() < 1e-5);
}

/// Strengths that lie close together say nothing of a slope.
#[test]
fn no_line_through_a_heap() {
    let both =
        |second| PairedReadings { first: 23.3, first_uncertainty: 0.1, second, second_uncertainty: 0.1 };
    let found = agreement(&[23.2, 23.4, 23.3, 23.35, 23.25, 23.3].map(both)).unwrap();
    assert!(found.line.is_none() && !found.is_different);
}
