//! What is said of tanks that do not hold our own brine.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use event::{Body, JarResult, JarTest};
use jiff::tz::TimeZone;
use planner::{TankStock, tank_stock};
use quantity::{celsius, fahrenheit, gallons, kilograms};
use report::Teller;
use report::{Display, Language, Words};
use site::Yard;
use site::{ProductKind, UnitSystem};
use yard::stock::{Books, Liquid, Part};

fn yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../examples/alder_fork.toml"), "alder_fork.toml").unwrap()
}

fn telling(yard: &Yard, tell: impl Fn(&Teller<'_>) -> String) -> String {
    let (words, display) = (Words::of(Language::En), Display::new(UnitSystem::Us, TimeZone::UTC));
    tell(&Teller { words: &words, display: &display, yard })
}

/// Tank 4 of a yard's opening figures: 640 gal of the bought liquid.
fn bought(yard: &Yard) -> TankStock {
    tank_stock(yard, &Books::opening(yard)).remove(3)
}

#[test]
fn a_bought_liquid_says_where_it_freezes_and_by_what_sheet_or_that_nobody_said() {
    let mut yard = yard();
    let state = |yard: &Yard, coldest| {
        let tank = bought(yard);
        telling(yard, |teller| teller.tank_state(&tank, coldest))
    };
    let plain = state(&yard, None);
    assert!(
        plain.starts_with("Purchased liquid: freezes at 2 °F as delivered, per its sheet (supplier's"),
        "{plain}"
    );
    assert!(state(&yard, Some(fahrenheit(10.0))).ends_with("8 °F to spare: coldest air forecast is 10 °F."));
    let cold = state(&yard, Some(fahrenheit(-5.0)));
    assert!(cold.ends_with("Coldest air forecast is −5 °F: 7 °F too cold for this tank."), "{cold}");
    let (words, display) = (Words::of(Language::En), Display::new(UnitSystem::Us, TimeZone::UTC));
    let teller = Teller { words: &words, display: &display, yard: &yard };
    assert!(teller.tank_needs_act(&bought(&yard), Some(fahrenheit(-5.0))));
    assert!(!teller.tank_needs_act(&bought(&yard), Some(fahrenheit(10.0))));
    for product in &mut yard.products {
        if let ProductKind::Declared { freezing, .. } = &mut product.kind {
            freezing.clear();
        }
    }
    let unsaid = state(&yard, Some(fahrenheit(-5.0)));
    assert_eq!(unsaid, "Purchased liquid: no freeze point on file.");
}

#[test]
fn a_mix_is_named_by_its_parts() {
    let yard = yard();
    let mut tank = bought(&yard);
    let part = |liquid, kg| Part { liquid, mass: kilograms(kg) };
    let mag = || Liquid::Declared("mag".into());
    tank.unlike = vec![part(mag(), 750.0), part(Liquid::Brine, 250.0)];
    let coldest = Some(celsius(-30.0));
    let told = telling(&yard, |teller| teller.tank_state(&tank, coldest));
    assert_eq!(
        told,
        "Mixed: 75% Magnesium chloride liquid by weight, 25% salt brine or water by weight. Freeze point unknown: the salt in one of its liquids is not known."
    );
    tank.unlike = vec![part(Liquid::Brine, 250.0)];
    let told = telling(&yard, |teller| teller.tank_state(&tank, coldest));
    assert_eq!(
        told,
        "Holds salt brine or water: the wrong liquid for this tank. Freeze point unknown: the salt in one of its liquids is not known."
    );
    tank.unlike.clear();
    tank.volume = gallons(0.0);
    assert_eq!(telling(&yard, |teller| teller.tank_state(&tank, coldest)), "Empty.");
}

#[test]
fn every_result_of_a_jar_test_has_its_word() {
    let yard = yard();
    for result in JarResult::ALL {
        let test = JarTest {
            liquid_a: "mag".into(),
            liquid_b: "beet juice".into(),
            share_a_pct: 62.5,
            temp_c: -20.0,
            duration_h: 24.0,
            result: *result,
            remark: Some("Shaken twice.".into()),
            tank: None,
        };
        let told = telling(&yard, |teller| teller.event_line(&Body::JarTest(test.clone())));
        assert!(
            told.starts_with("62.5% Magnesium chloride liquid with 37.5% beet juice by volume"),
            "{told}"
        );
        let word = if *result == JarResult::Clear { "stayed clear" } else { result.word() };
        assert!(told.ends_with(&format!(": {word}. Shaken twice.")), "{told}");
        assert_eq!(telling(&yard, |teller| teller.event_kind("jar_test")), "Jar test");
    }
}
