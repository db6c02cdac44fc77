//! Several instruments on one sample: closed forms, what is blamed and what is not, and how often it is blamed wrongly.

use bench::consensus::{Answer, consensus};
use proptest::prelude::*;

fn said(strength: f64, uncertainty: f64) -> Answer {
    Answer { strength, uncertainty }
}

/// Weighted mean and its uncertainty by hand: weights 100 and 25, (100·23.3 + 25·23.1)/125 = 23.26, 1/√125 = 0.0894.
#[test]
fn two_that_agree() {
    let found = consensus(&[said(23.3, 0.1), said(23.1, 0.2)]).unwrap();
    assert!((found.strength - 23.26).abs() < 1e-12 && (found.uncertainty - 0.089_443).abs() < 1e-6);
    assert!(found.is_consistent && found.outlier.is_none());
}

/// Two that disagree: neither can be blamed, and the answer is widened. Chi-squared at 95 % with 1 degree is
/// 3.841 in any table;
/// 23.0 and 24.0 ± 0.1 have 50.
#[test]
fn two_that_disagree() {
    let found = consensus(&[said(23.0, 0.1), said(24.0, 0.1)]).unwrap();
    assert!(!found.is_consistent && found.outlier.is_none());
    assert!((found.uncertainty - 0.5f64.sqrt() * 0.1 * 50f64.sqrt()).abs() < 1e-9);
    // On either side of 3.841: a difference of 0.277 and of 0.278.
    assert!(consensus(&[said(23.0, 0.1), said(23.277, 0.1)]).unwrap().is_consistent);
    assert!(!consensus(&[said(23.0, 0.1), said(23.278, 0.1)]).unwrap().is_consistent);
}

#[test]
fn one_of_several_does_not_belong() {
    let found = consensus(&[said(23.3, 0.1), said(24.3, 0.12), said(23.25, 0.1), said(23.4, 0.2)]).unwrap();
    assert_eq!(found.outlier, Some(1));
    assert!(found.is_consistent && (found.strength - 23.3).abs() < 0.05);
    // An unsure one is not blamed for lying far.
    let found = consensus(&[said(23.3, 0.1), said(24.3, 0.7), said(23.25, 0.1)]).unwrap();
    assert_eq!(found.outlier, None);
}

#[test]
fn what_says_nothing_is_refused() {
    assert!(consensus(&[said(23.3, 0.1)]).is_err());
    assert!(consensus(&[said(23.3, 0.0), said(23.3, 0.1)]).is_err());
    assert!(consensus(&[said(f64::NAN, 0.1), said(23.3, 0.1)]).is_err());
}

proptest! {
    /// The order of the instruments does not matter, and the answer lies among what was said.
    #[test]
    fn order_does_not_matter(answers in prop::collection::vec((22.0..25.0f64, 0.05..0.5f64), 2..6)) {
        let all: Vec<Answer> = answers.iter().map(|(w, u)| said(*w, *u)).collect();
        let mut turned = all.clone();
        turned.reverse();
        let (found, back) = (consensus(&all).unwrap(), consensus(&turned).unwrap());
        prop_assert!((found.strength - back.strength).abs() < 1e-9);
        let low = all.iter().map(|s| s.strength).fold(f64::INFINITY, f64::min);
        let high = all.iter().map(|s| s.strength).fold(f64::NEG_INFINITY, f64::max);
        prop_assert!((low - 1e-9..=high + 1e-9).contains(&found.strength));
    }
}
