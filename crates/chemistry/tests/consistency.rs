//! What needs no data: constructors, limits, numbers that are none, and the data reader itself.

#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use chemistry::{Brine, Error, MassFraction};
use common::parse;
use message::Tell;
use proptest::prelude::*;
use quantity::{
    celsius, difference, fahrenheit, gallons, in_celsius, in_cubic_metres, in_fahrenheit, in_gallons,
    in_kelvins, in_kilograms, in_litres, in_pounds, in_short_tons, pounds, short_tons,
};

const HEAD: &str = "# source a: somebody, table 1
# units: none
# transcribed: by hand
# licence: facts
# date: 2026-11
";

#[test]
fn the_reader_refuses_data_without_a_head() {
    let body = "x,source\n1,a\n";
    assert_eq!(parse(&format!("{HEAD}{body}")).map(|rows| rows.len()), Ok(1));
    assert!(parse(body).is_err());
    for line in HEAD.lines() {
        let without: String = HEAD.lines().filter(|l| *l != line).map(|l| format!("{l}\n")).collect();
        assert!(parse(&format!("{without}{body}")).is_err(), "without {line}");
    }
    assert!(parse(&format!("{HEAD}x,source\n1,b\n")).is_err(), "a source nobody declared");
    assert!(parse(&format!("{HEAD}x,source\n")).is_err(), "no rows");
}

/// NIST Handbook 44, appendix C: 231 in³, 0.453 592 37 kg, 2,000 lb; 3.785 411 784 L.
#[test]
fn units_are_exact() {
    assert!((in_litres(gallons(1.0)) - 3.785_411_784).abs() < 1e-14);
    assert!((in_kilograms(pounds(1.0)) - 0.453_592_37).abs() < 1e-15);
    assert!((in_pounds(short_tons(1.0)) - 2000.0).abs() < 1e-9);
    assert!((in_short_tons(pounds(500.0)) - 0.25).abs() < 1e-12);
    assert!((in_celsius(fahrenheit(60.0)) - 140.0 / 9.0).abs() < 1e-10);
    assert!((in_fahrenheit(celsius(-40.0)) + 40.0).abs() < 1e-9);
    assert!((in_kelvins(difference(celsius(38.0), celsius(31.0))) - 7.0).abs() < 1e-9);
    assert!((in_cubic_metres(gallons(1000.0)) - 3.785_411_784).abs() < 1e-12);
}

#[test]
fn strength_limits_are_inclusive_and_just_beyond_is_refused() {
    let of = |p: f64| MassFraction::from_percent(p).and_then(Brine::sodium_chloride);
    for p in [0.0, 26.67] {
        assert!(of(p).is_ok(), "{p}");
        assert!(MassFraction::from_fraction(p / 100.0).and_then(Brine::sodium_chloride).is_ok(), "{p}");
    }
    for p in [-0.001, 26.671, 100.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert!(matches!(of(p), Err(Error::Strength { .. })), "{p}");
    }
    let refusal = of(26.671).unwrap_err().message();
    let said = |name| refusal.arg(name).map(ToString::to_string);
    let limits = ["percent", "low", "high"].map(|name| said(name).unwrap().parse::<f64>().unwrap());
    let off = limits.into_iter().zip([26.671, 0.0, 26.67]).map(|(found, wanted)| (found - wanted).abs());
    assert!(off.fold(0.0, f64::max) < 1e-9, "{refusal}");
}

#[test]
fn fraction_limits_are_inclusive_and_just_beyond_is_refused() {
    for value in [0.0, 1.0] {
        assert!(MassFraction::from_fraction(value).is_ok());
        assert!(MassFraction::from_percent(value * 100.0).is_ok());
    }
    for value in [-1e-9, 1.000_000_1, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert!(MassFraction::from_fraction(value).is_err(), "{value}");
        assert!(MassFraction::from_percent(value * 100.0).is_err(), "{value}");
    }
}

proptest! {
    #[test]
    fn a_brine_is_in_range_or_refused(p in proptest::num::f64::ANY) {
        match MassFraction::from_percent(p).and_then(Brine::sodium_chloride) {
            Ok(brine) => prop_assert!((0.0..=26.67 + 1e-9).contains(&brine.strength().percent())),
            Err(_) => prop_assert!(!(0.0..=26.67).contains(&p)),
        }
    }

    #[test]
    fn percent_and_fraction_agree(p in 0.0..=100.0) {
        let of = MassFraction::from_percent(p).unwrap();
        prop_assert!((of.percent() - p).abs() < 1e-12);
        prop_assert!((MassFraction::from_fraction(of.fraction()).unwrap().percent() - p).abs() < 1e-12);
    }

    #[test]
    fn units_there_and_back(value in -1e6..1e6) {
        prop_assert!((in_gallons(gallons(value)) - value).abs() <= 1e-9);
        prop_assert!((in_pounds(pounds(value)) - value).abs() <= 1e-9);
        prop_assert!((in_fahrenheit(fahrenheit(value)) - value).abs() <= 1e-8);
    }
}
