//! What is said of tanks that do not hold our own brine.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use chemistry::blend::Wanted;
use chemistry::{Brine, MassFraction};
use entry::blending::{water, work_out};
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

/// Every figure before °F that a text tells as a temperature, not as a difference.
fn told_f(text: &str) -> Vec<f64> {
    let before = |part: &str| part.rsplit([' ', '(']).next().unwrap_or_default().replace('−', "-");
    let all = text.split(" °F").filter(|part| !part.ends_with(|end: char| !end.is_ascii_digit()));
    all.filter_map(|part| before(part).parse().ok()).collect()
}

/// The eutectic of salt and water, −21.1 °C or −6 °F (CRC): below it all is solid, and "no ice" would be false.
#[test]
fn plain_brine_has_no_ice_below_its_eutectic() {
    let yard = yard();
    for half in 30..=53 {
        let percent = f64::from(half) / 2.0;
        let brine = Brine::sodium_chloride(MassFraction::from_percent(percent).unwrap()).unwrap();
        let mut tank = bought(&yard);
        tank.unlike = vec![Part { liquid: Liquid::Brine, mass: kilograms(250.0) }];
        tank.first_solid = brine.first_solid().ok();
        tank.mix = Some(brine);
        let told = [
            telling(&yard, |teller| teller.tank_state(&tank, None)),
            telling(&yard, |teller| teller.between(&brine)),
        ];
        for text in told {
            let figures = told_f(&text);
            assert!(
                !figures.is_empty() && figures.iter().all(|f| *f >= -6.0),
                "{percent}: {figures:?} {text}"
            );
            assert!(text.contains("solid below −6 °F") && !text.contains("no ice"), "{percent}: {text}");
        }
    }
}

/// The same of a recipe, headline and facts: 25.1 % brine in the tank, nothing to add for 20 °F.
#[test]
fn a_recipe_of_plain_brine_promises_nothing_below_its_eutectic() {
    let yard = yard();
    let at = |percent: f64| Brine::sodium_chloride(MassFraction::from_percent(percent).unwrap()).unwrap();
    for (percent, clear) in [(25.1, 20.0), (24.0, 10.0), (18.0, 10.0), (23.3, 0.0)] {
        let wanted = Wanted {
            ice_below: fahrenheit(clear),
            clear_above: fahrenheit(clear),
            at_least: gallons(0.0),
            at_most: gallons(1000.0),
        };
        let there = (at(percent), kilograms(2000.0), celsius(0.0));
        let advice = work_out(vec![water(1.0, celsius(10.0))], Some(&there), &wanted).unwrap();
        let (words, display) = (Words::of(Language::En), Display::new(UnitSystem::Us, TimeZone::UTC));
        let told = Teller { words: &words, display: &display, yard: &yard }.blend(&advice);
        let mut texts: Vec<String> =
            told.facts.iter().map(|(name, value)| format!("{name} {value}")).collect();
        texts.push(told.between);
        for text in &texts {
            assert!(
                told_f(text).iter().all(|f| *f >= -6.0) && !text.contains("no ice"),
                "{percent}: {texts:?}"
            );
        }
    }
    // A band no plain brine can keep: 25 % is not ice-free down to −10 °F.
    let wanted = Wanted {
        ice_below: fahrenheit(-10.0),
        clear_above: fahrenheit(20.0),
        at_least: gallons(0.0),
        at_most: gallons(300.0),
    };
    let there = (at(25.0), kilograms(1200.0), celsius(0.0));
    assert!(work_out(vec![water(1.0, celsius(10.0))], Some(&there), &wanted).is_err());
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
