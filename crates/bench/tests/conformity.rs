//! Chances of conformity against the worked examples of JCGM 106:2012, and the rules of the verdict.

use bench::conformity::Known;
use bench::{Conformity, SpecRange};
use chemistry::MassFraction;
use proptest::prelude::*;

fn pct(percent: f64) -> MassFraction {
    MassFraction::from_percent(percent).expect("a strength in range")
}

fn known(strength: f64, u: f64, degrees_of_freedom: Option<f64>) -> Known {
    Known { strength: pct(strength), standard_uncertainty: pct(u), degrees_of_freedom }
}

/// Both examples of clause 7, from memory, their numbers read as per cent since the arithmetic has no unit: a
/// viscosity of
/// 13.6 with u = 1.8 lies within 12.5…16.3 with a chance of 0.66; 5.47 with u = 0.05 lies above 5.40 with 0.92.
#[test]
fn published_examples() {
    let grade = SpecRange { low: pct(12.5), high: pct(16.3) };
    assert!((grade.chances(&known(13.6, 1.8, None)).unwrap().in_spec - 0.66).abs() < 0.005);
    let one_limit = SpecRange { low: pct(5.40), high: pct(99.0) };
    assert!((one_limit.chances(&known(5.47, 0.05, None)).unwrap().in_spec - 0.92).abs() < 0.005);
}

#[test]
fn what_cannot_be_judged_is_refused() {
    let band = SpecRange { low: pct(22.8), high: pct(23.8) };
    assert!(band.chances(&known(23.3, 0.0, None)).is_err());
    for risk in [0.0, 0.5, -0.1, f64::NAN] {
        assert!(band.judge_at_risk(&known(23.3, 0.1, None), risk).is_err(), "{risk}");
    }
}

/// The rule of JCGM 106:2012, clause 8, with a guard band of U, at and about both limits; by hand.
#[test]
fn an_interval_is_judged_on_both_sides_and_at_the_limits() {
    let band = SpecRange { low: pct(22.8), high: pct(23.8) };
    let cases = [
        (22.8, 0.0, Conformity::InSpec),
        (23.8, 0.0, Conformity::InSpec),
        (23.3, 0.5, Conformity::InSpec),
        (23.1, 0.3, Conformity::InSpec),
        (23.5, 0.3, Conformity::InSpec),
        (22.9, 0.3, Conformity::CannotTell),
        (23.7, 0.3, Conformity::CannotTell),
        (22.6, 0.3, Conformity::CannotTell),
        (24.0, 0.3, Conformity::CannotTell),
        (23.3, 2.0, Conformity::CannotTell),
        (22.4, 0.3, Conformity::TooWeak),
        (22.79, 0.0, Conformity::TooWeak),
        (10.0, 0.3, Conformity::TooWeak),
        (24.2, 0.3, Conformity::TooStrong),
        (23.81, 0.0, Conformity::TooStrong),
    ];
    for (w, u, verdict) in cases {
        assert_eq!(band.judge(pct(w), pct(u)), verdict, "{w} ± {u}");
    }
    // At a risk of 5 % (one-sided 1.645 u): 22.4 and 24.2 with u = 0.15 lie 2.7 u outside, on their own side each.
    for (w, verdict) in [(22.4, Conformity::TooWeak), (24.2, Conformity::TooStrong)] {
        assert_eq!(band.judge_at_risk(&known(w, 0.15, None), 0.05), Ok(verdict), "{w}");
    }
}

proptest! {
    /// Chances add up; fewer degrees of freedom never make a verdict surer; a mirrored band mirrors the verdict.
    #[test]
    fn verdicts_hang_together(w in 20.0..26.0f64, u in 0.01..0.6f64, degrees in 1.0..40.0f64, risk in 0.01..0.3f64) {
        let band = SpecRange { low: pct(22.8), high: pct(23.8) };
        let chances = band.chances(&known(w, u, Some(degrees))).unwrap();
        prop_assert!((chances.too_weak + chances.in_spec + chances.too_strong - 1.0).abs() < 1e-12);
        let mirrored = band.chances(&known(46.6 - w, u, Some(degrees))).unwrap();
        prop_assert!((chances.too_weak - mirrored.too_strong).abs() < 1e-9);
        let verdict = |degrees| band.judge_at_risk(&known(w, u, degrees), risk).unwrap();
        if verdict(Some(degrees)) == Conformity::InSpec {
            prop_assert_eq!(verdict(None), Conformity::InSpec);
        }
    }
}
