//! What trim advice must never do, whatever was logged. How well it does is proven on plants drawn by chance, in
//! `laboratory`.

use bench::Error;
use bench::trim::{Advice, Pair, Purpose, Rules, Step, advise};
use proptest::prelude::*;

fn pair(minutes: f64, trim: f64, bench: f64) -> Pair {
    Pair { minutes, trim, set_at: None, panel: 23.3, bench, panel_uncertainty: 0.05, bench_uncertainty: 0.08 }
}

/// Of a controller that takes whole units.
fn rules() -> Rules {
    Rules { resolution: 1.0, ..Rules::neutral(23.3, 23.8) }
}

fn step(pairs: &[Pair]) -> Step {
    match advise(pairs, &rules()) {
        Ok(Advice::Step(step)) => step,
        other => panic!("{other:?} after {pairs:?}"),
    }
}

/// Once two numbers have been seen the sign is known, and the next step goes the right way, in either case.
#[test]
fn the_sign_is_learned() {
    assert_eq!(step(&[pair(0.0, 500.0, 22.5)]).purpose, Purpose::Trial);
    // The panel shows 0.8 too much. Raising the number by 10 made it 1.1, so raising it raises the panel: go down.
    let raises = step(&[pair(0.0, 500.0, 22.5), pair(40.0, 510.0, 22.2)]);
    assert_eq!(raises.purpose, Purpose::Approach);
    assert!(raises.next < 510.0);
    // It made it 0.4: raising it lowers the panel. Go on up, but not all at once: 2 % is the largest step.
    let lowers = step(&[pair(0.0, 500.0, 22.5), pair(40.0, 510.0, 22.9)]);
    assert!((515.0..=520.2).contains(&lowers.next), "{}", lowers.next);
    assert!(lowers.difference.abs() < 0.25 && lowers.difference_interval < 0.6);
}

/// Three lags after a change, not before; a pair taken in between teaches nothing.
#[test]
fn it_waits_for_three_lags() {
    let early = [pair(0.0, 500.0, 22.5), pair(12.0, 510.0, 22.3)];
    assert_eq!(advise(&early, &rules()), Ok(Advice::Wait { minutes: 18.0 }));
    let through = [pair(0.0, 500.0, 22.5), pair(12.0, 510.0, 22.3), pair(31.0, 510.0, 22.2)];
    let without = [pair(0.0, 500.0, 22.5), pair(31.0, 510.0, 22.2)];
    assert_eq!(advise(&through, &rules()), advise(&without, &rules()));
    assert!((step(&through).wait_minutes - 30.0).abs() < 1e-9);
}

/// Where the brine is above the top already, the way down is advised although it cannot be within the risk at once;
/// and it never makes it likelier to be above.
#[test]
fn above_the_top_it_says_the_way_down() {
    // Raising the number lowers the panel: 510 made it 0.3 less than 500 did, and the bench finds 24.4 and 24.1.
    let pairs = [pair(0.0, 500.0, 24.4), pair(40.0, 510.0, 24.1)];
    match advise(&pairs, &rules()) {
        Ok(Advice::StepWhileOver { step, over_now }) => {
            assert!(0.9 < over_now, "{over_now}");
            assert!(rules().risk < step.over_strength && step.over_strength < over_now, "{step:?}");
        }
        other => panic!("{other:?}"),
    }
}

/// The chance to come out above the top is that of a normal with the mean and spread that the step tells, once what
/// is thought of the pull has narrowed: 23.3 shown at the panel is then above 23.8 when the difference is below −0.5.
#[test]
fn the_chance_above_the_top_goes_with_the_difference_told() {
    let looks: Vec<Pair> = (0..12)
        .map(|n| (f64::from(n), 500.0 + f64::from(n % 2) * 5.0))
        .map(|(n, trim)| {
            // One per cent of the number is 0.25 per cent of strength; the panel shows too much throughout.
            pair(40.0 * n, trim, 22.6 + 0.25 * (trim - 500.0) / 5.0)
        })
        .collect();
    let step = step(&looks);
    let spread = step.difference_interval / 1.96;
    let normal = statrs::distribution::Normal::standard();
    let expected = statrs::distribution::ContinuousCDF::cdf(&normal, (-0.5 - step.difference) / spread);
    assert!((step.over_strength - expected).abs() < 0.003, "{} and {expected}: {step:?}", step.over_strength);
}

/// Agreement is judged by the two readings' own interval: 2·√(0.05² + 0.08²) = 0.19.
#[test]
fn it_stops_at_agreement() {
    assert!(matches!(advise(&[pair(0.0, 500.0, 23.15)], &rules()), Ok(Advice::Agreed { .. })));
    assert!(matches!(advise(&[pair(0.0, 500.0, 23.05)], &rules()), Ok(Advice::Step(_))));
}

/// Readings that leave more open than there is room to the top cannot trim, and it is said which of them is the worse.
#[test]
fn unsure_readings_are_refused() {
    let poor = Pair { bench_uncertainty: 0.3, ..pair(0.0, 500.0, 22.5) };
    let advice = advise(&[poor], &rules());
    assert!(
        matches!(advice, Ok(Advice::Unsure { by_bench: true, needed, .. }) if (needed - 0.5).abs() < 1e-9)
    );
    let poor = Pair { panel_uncertainty: 0.3, ..pair(0.0, 500.0, 22.5) };
    assert!(matches!(advise(&[poor], &rules()), Ok(Advice::Unsure { by_bench: false, .. })));
}

#[test]
fn what_cannot_be_is_refused() {
    let refused = |pairs: &[Pair]| matches!(advise(pairs, &rules()), Err(Error::Value { .. }));
    assert!(refused(&[pair(0.0, -1.0, 22.5)]));
    assert!(refused(&[pair(0.0, 500.0, f64::NAN)]));
    assert!(refused(&[pair(10.0, 500.0, 22.5), pair(5.0, 510.0, 22.5)]), "a clock that runs backwards");
    assert!(refused(&[Pair { bench_uncertainty: 0.0, ..pair(0.0, 500.0, 22.5) }]));
    assert!(matches!(advise(&[], &rules()), Err(Error::TooFew { .. })));
    let one = [pair(0.0, 500.0, 22.5)];
    for wrong in [
        Rules { top: 23.0, ..rules() },
        Rules { largest_step: 0.0, ..rules() },
        Rules { largest_step: 0.5, ..rules() },
        Rules { risk: 0.7, ..rules() },
        Rules { resolution: 0.0, ..rules() },
        Rules { lag_minutes: f64::NAN, ..rules() },
    ] {
        assert!(advise(&one, &wrong).is_err(), "{wrong:?}");
    }
}

/// A controller that takes only steps larger than the yard allows is left alone.
#[test]
fn no_step_within_the_rules() {
    let coarse = Rules { resolution: 50.0, ..rules() };
    assert!(matches!(advise(&[pair(0.0, 500.0, 22.5)], &coarse), Ok(Advice::Hold { .. })));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    /// Whatever was logged: whole units, never past the largest step, and brine that was safe stays so at the
    /// risk chosen.
    #[test]
    fn every_step_keeps_the_rules(
        looks in prop::collection::vec((450.0..550.0f64, 22.0..24.6f64), 1..6),
        risk in 0.01..0.2f64,
    ) {
        let pairs: Vec<Pair> = looks
            .iter()
            .enumerate()
            .map(|(i, (trim, bench))| pair(60.0 * i as f64, trim.round(), *bench))
            .collect();
        let rules = Rules { risk, ..rules() };
        let now = pairs[pairs.len() - 1];
        if let Advice::Step(step) = advise(&pairs, &rules).unwrap() {
            prop_assert!((step.next - step.next.round()).abs() < 1e-6 && 0.5 < (step.next - now.trim).abs());
            prop_assert!((step.next / now.trim - 1.0).abs() <= 0.02 + 1e-9);
            prop_assert!((0.0..=1.0 + 1e-9).contains(&step.over_strength));
            prop_assert!(step.difference.is_finite() && step.difference_interval.is_finite());
            prop_assert!(step.over_strength <= risk, "{}", step.over_strength);
        }
    }
}

/// The wait runs from when the number was set, where that is known: not from the look before it.
#[test]
fn the_wait_runs_from_the_setting() {
    let rules = rules();
    let set_late = Pair { set_at: Some(50.0), ..pair(60.0, 505.0, 23.0) };
    let first = pair(0.0, 500.0, 22.5);
    let Ok(Advice::Wait { minutes }) = advise(&[first, set_late], &rules) else { panic!("a wait") };
    assert!((minutes - 20.0).abs() < 1e-9, "{minutes}");
    assert!(!matches!(advise(&[first, pair(60.0, 505.0, 23.0)], &rules), Ok(Advice::Wait { .. })));
    assert!(advise(&[Pair { set_at: Some(61.0), ..set_late }], &rules).is_err());
}

/// The number to set by pairs whose panel shows 23.3 %, whatever the chance that the brine is above.
fn next(pairs: &[Pair], rules: &Rules) -> Option<f64> {
    match advise(pairs, rules) {
        Ok(Advice::Step(step) | Advice::StepWhileOver { step, .. }) => Some(step.next),
        _ => None,
    }
}

/// What was seen last is never gone against: it became better when the number was raised, so it is not lowered; at
/// either magnitude, and however sure the readings are.
#[test]
fn what_helped_is_not_undone() {
    for size in [1.0, 0.001] {
        for (panel_uncertainty, bench_uncertainty) in [(0.05, 0.08), (0.1, 0.1), (0.1, 0.143), (0.02, 0.2)] {
            let pair = |minutes, trim, bench| Pair {
                panel_uncertainty,
                bench_uncertainty,
                ..pair(minutes, size * trim, bench)
            };
            let rules = Rules { resolution: size, ..rules() };
            let raised = [pair(0.0, 1000.0, 22.6), pair(30.0, 1010.0, 22.85)];
            assert!(next(&raised, &rules).unwrap() > size * 1010.0, "{:?}", advise(&raised, &rules));
            let worse = [pair(0.0, 1000.0, 22.85), pair(30.0, 1010.0, 22.6)];
            assert!(next(&worse, &rules).unwrap() < size * 1010.0, "{:?}", advise(&worse, &rules));
        }
    }
}

/// Many pairs say that raising the number raises the panel, the last two the contrary: a trial the way they went.
#[test]
fn a_pull_that_seems_to_have_turned_is_tried_again() {
    let known = [(500.0, 22.9), (510.0, 22.6), (500.0, 22.9), (510.0, 22.6), (505.0, 22.75), (500.0, 22.7)];
    let pairs: Vec<Pair> =
        (0..).map(|place| 60.0 * f64::from(place)).zip(known).map(|(m, (n, b))| pair(m, n, b)).collect();
    let turned = step(&pairs);
    assert!(turned.purpose == Purpose::Trial && 500.0 < turned.next, "{turned:?}");
    // Raising it makes it worse, as the many said: down again, and not by a trial.
    let again: Vec<Pair> = pairs.into_iter().chain([pair(360.0, turned.next, 22.5)]).collect();
    let back = step(&again);
    assert!(back.purpose == Purpose::Approach && back.next < turned.next, "{back:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    /// For numbers about 1 and about 1,000, any step, noise and lag, numbers set anew or set back: never against the
    /// last two numbers, and never a step that is said to be safe above the risk.
    #[test]
    fn no_advice_goes_against_what_was_seen_or_above_the_risk(
        size in prop_oneof![Just(1.0f64), Just(1000.0)],
        looks in prop::collection::vec((-10..=10i32, 22.3..24.4f64, 22.0..24.6f64), 1..8),
        noise in (0.01..0.15f64, 0.01..0.15f64),
        largest_step in 0.005..0.1f64,
        fine in 1e-4..1e-2f64,
        lag_minutes in 0.0..20.0f64,
        risk in 0.01..0.2f64,
    ) {
        let pairs: Vec<Pair> = looks
            .iter()
            .enumerate()
            .map(|(i, (per_cent, panel, bench))| Pair {
                minutes: 90.0 * i as f64,
                trim: size * (1.0 + 0.01 * f64::from(*per_cent)),
                set_at: None,
                panel: *panel,
                bench: *bench,
                panel_uncertainty: noise.0,
                bench_uncertainty: noise.1,
            })
            .collect();
        let rules = Rules { largest_step, risk, resolution: size * fine, lag_minutes, ..rules() };
        let step = match advise(&pairs, &rules).unwrap() {
            Advice::Step(step) => {
                prop_assert!(step.over_strength <= risk, "{:?}", step);
                step
            }
            Advice::StepWhileOver { step, over_now } => {
                prop_assert!(risk < over_now && risk < step.over_strength, "{:?}", step);
                let more = if step.purpose == Purpose::Trial { risk } else { 0.0 };
                prop_assert!(step.over_strength <= over_now + more, "{:?} {}", step, over_now);
                step
            }
            _ => return Ok(()),
        };
        let now = pairs[pairs.len() - 1];
        let Some(before) = pairs.iter().rev().find(|pair| (pair.trim - now.trim).abs() > 1e-6 * size) else {
            return Ok(());
        };
        let (was, is) = (before.difference(), now.difference());
        let way = (now.trim - before.trim).signum();
        let goes_on = 0.0 < (step.next - now.trim) * way;
        // Nearer on the same side: it helped. Farther, or past the other side: it did not, or was too much.
        prop_assert_eq!(goes_on, is.abs() < was.abs() && 0.0 < is * was, "{:?} after {:?}", step, pairs);
    }
}
