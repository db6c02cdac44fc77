//! The word on an instrument, on the data of a published example and on made-up drifts.

use bench::drift::{Steadiness, drift};

/// NIST/SEMATECH e-Handbook 6.3.2.4 (from memory): twenty values about 50 with s = 2.0539, in which its chart
/// finds no signal.
#[test]
fn a_published_steady_series_is_steady() {
    let values = [
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6,
        52.4, 53.6, 52.1,
    ];
    let errors: Vec<f64> = values.iter().map(|value| value - 50.0).collect();
    // The handbook's s is the card's here; up to seven checks nothing is learned from the series itself.
    for end in 1..=7 {
        assert_eq!(drift(&errors[..end], 2.0539).unwrap().steadiness, Steadiness::Steady, "after {end}");
    }
}

/// A slow creep is called drifting before any single check is beyond its limits.
#[test]
fn a_creep_is_found() {
    let creep: Vec<f64> =
        (0..20).map(|i| 0.012 * f64::from(i) + if i % 2 == 0 { 0.05 } else { -0.05 }).collect();
    let words: Vec<Steadiness> = (1..=20).map(|end| drift(&creep[..end], 0.1).unwrap().steadiness).collect();
    let first = words.iter().position(|word| *word != Steadiness::Steady).expect("it is found");
    assert!(4 < first && words[first] == Steadiness::Drifting, "{words:?}");
}

#[test]
fn what_is_no_check_is_refused() {
    assert!(drift(&[f64::NAN], 0.1).is_err());
    assert!(drift(&[0.1], 0.0).is_err());
}
