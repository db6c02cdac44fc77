//! What the bench says: each piece of advice with its own figures, in every language.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use bench::drift::{Steadiness, drift};
use bench::trim::{Advice, Purpose, Step};
use common::{reader, readers, yard};
use report::{Language, Teller};
use site::UnitSystem;
use yard::bench_log::{Due, DueWhy};

const STEP: Step = Step {
    next: 1.023,
    difference: 0.12,
    difference_interval: 0.34,
    over_strength: 0.045,
    wait_minutes: 12.2,
    purpose: Purpose::Approach,
};

#[test]
fn advice_says_its_figures_and_sets_a_number_only_where_one_is_advised() {
    let all = [
        (Advice::Agreed { difference: 0.07, within: 0.31 }, vec!["0.07", "0.31"], None, true),
        (Advice::Wait { minutes: 6.2 }, vec!["7"], None, false),
        (Advice::Step(STEP), vec!["1.023", "0.12", "0.34", "13"], Some(1.023), false),
        (Advice::StepWhileOver { step: STEP, over_now: 0.62 }, vec!["1.023", "62"], Some(1.023), false),
        (Advice::Unsure { within: 0.81, needed: 0.42, by_bench: true }, vec!["0.81", "0.42"], None, false),
        (Advice::Hold { over_strength: 0.77 }, vec!["77"], None, false),
    ];
    let mut yard = yard();
    yard.trim.smallest_step = 0.001;
    for display in readers() {
        let teller = Teller { words: &display.words, display: &display, yard: &yard };
        for (advice, figures, next, is_agreed) in &all {
            let told = teller.trim_advice(advice);
            assert_eq!((told.next, told.is_agreed), (*next, *is_agreed), "{advice:?}");
            let text = format!("{} {}", told.headline, told.why);
            assert!(figures.iter().all(|figure| text.contains(figure)), "{figures:?}: {text}");
            assert!(!text.contains(['{', '}']), "{text}");
        }
    }
}

/// Weaker than 23.3 % ice comes first and stronger salt (CRC): a band on one side of it has no other solid at an end.
#[test]
fn a_bands_reason_names_ice_and_salt_only_where_each_is_first() {
    let display = reader(Language::En, UnitSystem::Us);
    let yard = yard();
    for (low, target, high, is_told) in
        [(22.8, 23.3, 23.8, true), (24.0, 25.0, 26.0, false), (20.0, 21.0, 22.0, false)]
    {
        let strength = |percent| chemistry::MassFraction::from_percent(percent).unwrap();
        let spec =
            site::Spec { low: strength(low), target: strength(target), high: strength(high), reason: None };
        let teller = Teller { words: &display.words, display: &display, yard: &yard };
        let told = teller.spec_reason(&spec);
        assert_eq!(told != display.words.say("bench.reason"), is_told, "{told}");
        assert_eq!(told.contains("makes ice at"), is_told, "{told}");
    }
}

#[test]
fn the_trims_number_has_the_decimals_of_its_smallest_step() {
    let mut yard = yard();
    let display = reader(Language::En, UnitSystem::Us);
    for (step, expected) in [(0.001, "1.023"), (0.01, "1.02"), (0.005, "1.023"), (1.0, "1")] {
        yard.trim.smallest_step = step;
        let teller = Teller { words: &display.words, display: &display, yard: &yard };
        assert_eq!(teller.trim_number(1.0234), expected, "{step}");
    }
}

#[test]
fn what_is_due_names_its_instrument_and_since_when() {
    let yard = yard();
    let since = "2013-01-24T18:00:00Z".parse().unwrap();
    let due = |why, since| Due { key: "k".into(), why, since };
    for display in readers() {
        let teller = Teller { words: &display.words, display: &display, yard: &yard };
        let name = &yard.instrument("hydrometer").unwrap().name;
        for why in [DueWhy::Overdue, DueWhy::Drifting, DueWhy::CheckNow] {
            let told = teller.due(&due(why("hydrometer".into()), Some(since)));
            assert!(told.contains(name.as_str()), "{told}");
            assert!(!told.contains(['{', '}']), "{told}");
        }
        let overdue = |since| teller.due(&due(DueWhy::Overdue("hydrometer".into()), since));
        assert!(overdue(Some(since)).contains(&display.time(since)));
        assert!(overdue(None).contains(display.words.say("due.never")));
    }
}

#[test]
fn an_instrument_that_wandered_has_another_word_than_one_that_did_not() {
    let display = reader(Language::En, UnitSystem::Us);
    let yard = yard();
    let teller = Teller { words: &display.words, display: &display, yard: &yard };
    let word = |errors: &[f64]| drift(errors, 0.001).unwrap().steadiness;
    assert_eq!(word(&[0.0, 0.0005, -0.0005]), Steadiness::Steady);
    assert_eq!(word(&[0.0, 0.0, 0.01]), Steadiness::CheckNow);
    let words =
        [Steadiness::Steady, Steadiness::Drifting, Steadiness::CheckNow].map(|word| teller.drift_word(word));
    assert!(words[0] != words[1] && words[1] != words[2] && words[0] != words[2], "{words:?}");
}

/// A plant that takes longer to its first brine in range than the plan allows is told of; a quarter of an hour is not.
#[test]
fn a_longer_start_than_the_plan_allows_is_told() {
    let layout = plant::layouts::batch();
    for display in readers() {
        let teller =
            report::run_words::RunTeller { words: &display.words, display: &display, layout: &layout };
        let note = |minutes: f64| teller.startup_note(quantity::minutes(30.0), 60.0 * minutes);
        assert!(note(116.0).unwrap().contains("30 min"), "{:?}", note(116.0));
        assert_eq!(note(40.0), None);
        assert_eq!(note(10.0), None);
    }
}
