//! Density of sodium chloride brine and of water against print, measurements and models.

#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use chemistry::density::{COLDEST_CELSIUS, WARMEST_CELSIUS, brine_of_density, density, water_density};
use chemistry::{Brine, Error};
use common::{brine, held, rows};
use proptest::prelude::*;
use quantity::{celsius, fahrenheit, in_celsius, in_kg_per_m3, kg_per_m3};

fn ours(percent: f64, t: f64) -> f64 {
    in_kg_per_m3(density(&brine(percent), celsius(t)).unwrap())
}

fn water(t: f64) -> f64 {
    in_kg_per_m3(water_density(celsius(t)).unwrap())
}

/// A hydrometer table by another program and another correlation (Laliberté): densities within what that lies
/// from print, and the strengths it says an uncorrected reading shows. Cold strong brine reads past saturation
/// and must be refused.
#[test]
fn strength_read_back_from_a_hydrometer() {
    let reference = fahrenheit(60.0);
    let per_reading = in_kg_per_m3(water_density(reference).unwrap());
    let (mut accepted, mut refused) = (0, 0);
    for row in rows("hydrometer.csv") {
        let (percent, t) = (row.number("wt_pct"), row.number("temp_c"));
        let beside = if t < 0.0 {
            2.5
        } else if t < 10.0 {
            1.5
        } else {
            0.9
        };
        held(&row, ours(percent, t), row.number("density_kg_m3"), beside);
        let apparent = row.number("apparent_wt_pct");
        let read = brine_of_density(kg_per_m3(row.number("reading") * per_reading), reference);
        if apparent < Brine::STRONGEST_PERCENT - 0.1 {
            held(&row, read.unwrap().strength().percent(), apparent, 0.06);
            accepted += 1;
        } else if apparent > Brine::STRONGEST_PERCENT + 0.1 {
            assert!(matches!(read, Err(Error::Density { .. })), "{}", row.shown());
            refused += 1;
        }
    }
    assert!(accepted >= 84 && refused >= 3, "{accepted} {refused}");
}

/// Kell against IAPWS-95: the source states 0.01 kg/m³.
#[test]
fn water_against_iapws() {
    for row in rows("water_density.csv") {
        held(&row, water(row.number("temp_c")), row.number("density_kg_m3"), 0.01);
    }
}

#[test]
fn no_salt_is_water() {
    for t in [-20.0, -5.0, 0.0, 4.0, 20.0, 40.0] {
        assert!((ours(0.0, t) - water(t)).abs() < 1e-9, "{t}");
    }
}

#[test]
fn limits_are_inclusive_and_just_beyond_is_refused() {
    let middle = brine(10.0);
    for t in [COLDEST_CELSIUS, WARMEST_CELSIUS] {
        assert!(density(&middle, celsius(t)).is_ok() && water_density(celsius(t)).is_ok(), "{t}");
        let of_water = water_density(celsius(t)).unwrap();
        assert!(brine_of_density(of_water, celsius(t)).unwrap().strength().percent() < 1e-9);
        let strongest = brine(Brine::STRONGEST_PERCENT);
        let back = brine_of_density(strongest.density(celsius(t)).unwrap(), celsius(t)).unwrap();
        assert!((back.strength().percent() - 26.67).abs() < 1e-9);
    }
    for t in [-20.001, 40.001, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert!(matches!(density(&middle, celsius(t)), Err(Error::Temperature { .. })), "{t}");
        assert!(matches!(water_density(celsius(t)), Err(Error::Temperature { .. })), "{t}");
        assert!(
            matches!(brine_of_density(kg_per_m3(1100.0), celsius(t)), Err(Error::Temperature { .. })),
            "{t}"
        );
    }
    let (low, high) = (water(20.0), ours(26.67, 20.0));
    for value in [low - 0.001, high + 0.001, 0.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert!(
            matches!(brine_of_density(kg_per_m3(value), celsius(20.0)), Err(Error::Density { .. })),
            "{value}"
        );
    }
}

proptest! {
    #[test]
    fn strength_to_density_and_back(percent in 0.0..=26.67, t in -20.0..=40.0) {
        let back = brine_of_density(density(&brine(percent), celsius(t)).unwrap(), celsius(t)).unwrap();
        prop_assert!((back.strength().percent() - percent).abs() < 1e-9);
    }

    #[test]
    fn more_salt_is_denser(percent in 0.0..26.5, more in 0.001..0.1, t in -20.0..=40.0) {
        prop_assert!(ours(percent + more, t) > ours(percent, t));
    }

    /// Strong brine shrinks all the way down to its first solid: no maximum as water has at 4 °C. From 15 % in every
    /// source here. (Colder than that the equation turns over: the liquid it speaks of does not exist there.)
    #[test]
    fn strong_brine_shrinks_on_cooling(percent in 15.0..=26.67, place in 0.0..1.0) {
        let coldest = in_celsius(brine(percent).first_solid().unwrap().temperature).max(COLDEST_CELSIUS);
        let t = coldest + place * (39.9 - coldest);
        prop_assert!(ours(percent, t) > ours(percent, t + 0.1));
    }

    #[test]
    fn density_is_finite_or_refused(percent in 0.0..=26.67, t in proptest::num::f64::ANY) {
        match density(&brine(percent), celsius(t)) {
            Ok(found) => prop_assert!((990.0..1225.0).contains(&in_kg_per_m3(found))),
            Err(_) => prop_assert!(!(-20.0..=40.0).contains(&t)),
        }
    }
}
