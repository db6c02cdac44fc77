//! Salt and water for brine: balances, the two figures per gallon, and impossible yields.

#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use chemistry::density::density;
use chemistry::recipe::{
    RockSalt, batch, brine_from_water, brine_holding, check_yield, reference_temperature,
    salt_per_volume_of_brine, salt_per_volume_of_water,
};
use chemistry::{Error, MassFraction, Salt};
use common::brine;
use proptest::prelude::*;
use quantity::{
    celsius, gallons, in_gallons, in_kg_per_m3, in_kilograms, in_pounds, in_pounds_per_gallon, kg_per_m3,
    kilograms, pounds, short_tons,
};

fn percent(value: f64) -> MassFraction {
    MassFraction::from_percent(value).unwrap()
}

fn pure() -> RockSalt {
    RockSalt { purity: percent(100.0), moisture: MassFraction::ZERO }
}

/// AASHTO M 143-14, 6.3.1 gives 23.3 % brine a specific gravity of 1.176, so 2.285 lb of salt a gallon at 8.34 lb of
/// water; the trade says 2.29. Per gallon of WATER it is 0.233/0.767·8.34 = 2.53 lb.
#[test]
fn per_gallon_of_brine_is_not_per_gallon_of_water() {
    let strong = brine(23.3);
    let of_brine = in_pounds_per_gallon(salt_per_volume_of_brine(&strong, reference_temperature()).unwrap());
    let of_water = in_pounds_per_gallon(salt_per_volume_of_water(&strong, reference_temperature()).unwrap());
    assert!((of_brine - 2.285).abs() < 0.01, "{of_brine}");
    assert!((of_water - 2.53).abs() < 0.01, "{of_water}");
}

/// 2.29 lb put into a gallon of water makes 2.29/(2.29 + 8.337) = 21.55 % (water at 60 °F: 999.017 kg/m³, IAPWS-95).
#[test]
fn the_wrong_figure_makes_weak_brine() {
    let weak = brine_from_water(pounds(2.29) / gallons(1.0), reference_temperature()).unwrap();
    assert!((weak.strength().percent() - 21.55).abs() < 0.01, "{}", weak.strength().percent());
}

/// One short ton of pure salt makes about 873 gal at 23.3 % (2,000/2.29), and about 1/3 of a press figure.
#[test]
fn a_ton_of_salt_makes_so_much() {
    let whole = batch(&brine(23.3), gallons(873.0), pure()).unwrap();
    assert!((in_pounds(whole.rock_salt) - 2000.0).abs() < 20.0, "1 %");
    for stated in [2500.0, 3000.0] {
        let refusal = check_yield(&brine(23.0), gallons(stated), short_tons(1.0)).unwrap_err();
        assert!(
            matches!(refusal, Error::NotUsable { value, .. } if (value - stated).abs() < 1e-6),
            "{refusal}"
        );
    }
    assert!(check_yield(&brine(23.3), gallons(873.0), short_tons(1.0)).is_ok());
}

/// Chloride in the salt: 35.45/58.44 = 0.6066 (trade figure; IUPAC atomic weights).
#[test]
fn chloride_share() {
    assert!((Salt::SodiumChloride.chloride_fraction().fraction() - 0.6066).abs() < 5e-5);
}

#[test]
fn dirty_wet_salt_needs_more_salt_and_less_water() {
    let clean = batch(&brine(23.3), gallons(1000.0), pure()).unwrap();
    let wet = RockSalt { purity: percent(95.0), moisture: percent(2.0) };
    let made = batch(&brine(23.3), gallons(1000.0), wet).unwrap();
    // 1/(0.95·0.98) by hand.
    assert!((made.rock_salt / clean.rock_salt).value - 1.074_113 < 1e-6);
    assert!((made.rock_salt / clean.rock_salt).value - 1.074_113 > -1e-6);
    assert!(made.water < clean.water);
    assert!(in_kilograms(clean.insolubles).abs() < 1e-9 && in_kilograms(made.insolubles) > 0.0);
}

#[test]
fn what_cannot_be_is_refused() {
    let t = reference_temperature();
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0] {
        assert!(brine_holding(kg_per_m3(value), t).is_err(), "{value}");
        assert!(brine_from_water(kg_per_m3(value), t).is_err(), "{value}");
        assert!(batch(&brine(23.3), gallons(value), pure()).is_err(), "{value}");
        assert!(check_yield(&brine(23.3), gallons(value), short_tons(1.0)).is_err(), "{value}");
        assert!(check_yield(&brine(23.3), gallons(100.0), short_tons(value)).is_err(), "{value}");
        assert!(MassFraction::of(kilograms(value), kilograms(1.0)).is_err(), "{value}");
        assert!(MassFraction::of(kilograms(1.0), kilograms(value)).is_err(), "{value}");
    }
    assert!(MassFraction::of(kilograms(0.0), kilograms(0.0)).is_err());
    for t in [f64::NAN, f64::INFINITY, -20.001, 40.001] {
        assert!(salt_per_volume_of_brine(&brine(10.0), celsius(t)).is_err(), "{t}");
        assert!(salt_per_volume_of_water(&brine(10.0), celsius(t)).is_err(), "{t}");
        assert!(brine_holding(kg_per_m3(100.0), celsius(t)).is_err(), "{t}");
        assert!(brine_from_water(kg_per_m3(100.0), celsius(t)).is_err(), "{t}");
    }
    let dust = RockSalt { purity: MassFraction::ZERO, moisture: MassFraction::ZERO };
    let water = RockSalt { purity: percent(100.0), moisture: percent(100.0) };
    for salt in [dust, water] {
        assert!(matches!(batch(&brine(23.3), gallons(1.0), salt), Err(Error::NotUsable { .. })));
    }
}

/// The most salt a gallon can hold is that of 26.67 % brine: accepted there, refused just beyond.
#[test]
fn holding_limits() {
    let t = reference_temperature();
    let most = in_kg_per_m3(salt_per_volume_of_brine(&brine(26.67), t).unwrap());
    assert!((brine_holding(kg_per_m3(most), t).unwrap().strength().percent() - 26.67).abs() < 1e-9);
    assert!(brine_holding(kg_per_m3(most + 0.001), t).is_err());
    assert!(brine_holding(kg_per_m3(0.0), t).unwrap().strength().percent() < 1e-9);
    let most = in_kg_per_m3(salt_per_volume_of_water(&brine(26.67), t).unwrap());
    assert!(brine_from_water(kg_per_m3(most), t).is_ok());
    assert!(brine_from_water(kg_per_m3(most + 0.01), t).is_err());
}

proptest! {
    /// Salt and water in are brine and sludge out, to 1e-12 of the brine; so is the sodium chloride.
    #[test]
    fn batch_balances(
        strength in 0.0..=26.67,
        volume in 0.001..1e6,
        purity in 1.0..=100.0,
        moisture in 0.0..=50.0,
    ) {
        let salt = RockSalt { purity: percent(purity), moisture: percent(moisture) };
        let made = batch(&brine(strength), gallons(volume), salt).unwrap();
        let total = in_kilograms(made.brine);
        let into = in_kilograms(made.rock_salt) + in_kilograms(made.water);
        let out = total + in_kilograms(made.insolubles);
        prop_assert!((into - out).abs() <= 1e-12 * into.abs().max(out));
        // Sodium chloride, by the salt's own composition and by the brine's strength.
        let from_salt = in_kilograms(made.rock_salt) * purity / 100.0 * (1.0 - moisture / 100.0);
        prop_assert!((from_salt - total * strength / 100.0).abs() <= 1e-12 * total);
        prop_assert!((in_kilograms(made.sodium_chloride) - from_salt).abs() <= 1e-12 * total);
        // Water, the salt's own moisture with it, is the rest of the brine.
        let water = in_kilograms(made.water) + in_kilograms(made.rock_salt) * moisture / 100.0;
        prop_assert!((water - total * (1.0 - strength / 100.0)).abs() <= 1e-12 * into.abs().max(total));
        prop_assert!(in_kilograms(made.insolubles) >= -1e-12 * total);
        // And its volume is the mass over the density at 60 °F.
        let per_volume = in_kg_per_m3(density(&brine(strength), reference_temperature()).unwrap());
        prop_assert!((total / per_volume * 264.172_052_358_148_4 - volume).abs() <= 1e-12 * volume);
        prop_assert!((in_gallons(made.volume) - volume).abs() <= 1e-12 * volume);
    }

    #[test]
    fn per_brine_and_back(strength in 0.0..=26.67, t in -20.0..=40.0) {
        let salt = salt_per_volume_of_brine(&brine(strength), celsius(t)).unwrap();
        let back = brine_holding(salt, celsius(t)).unwrap();
        prop_assert!((back.strength().percent() - strength).abs() < 1e-9);
    }

    #[test]
    fn per_water_and_back(strength in 0.0..26.3, t in -20.0..=40.0) {
        let salt = salt_per_volume_of_water(&brine(strength), celsius(t)).unwrap();
        let back = brine_from_water(salt, celsius(t)).unwrap();
        prop_assert!((back.strength().percent() - strength).abs() < 1e-9);
    }

    /// A gallon of water takes more salt than a gallon of brine holds, at any strength.
    #[test]
    fn water_takes_more(strength in 0.01..=26.67, t in 0.0..=40.0) {
        let of_brine = salt_per_volume_of_brine(&brine(strength), celsius(t)).unwrap();
        let of_water = salt_per_volume_of_water(&brine(strength), celsius(t)).unwrap();
        prop_assert!(of_water > of_brine);
    }

    #[test]
    fn a_batch_is_finite_or_refused(volume in proptest::num::f64::ANY, purity in 0.0..=100.0) {
        let salt = RockSalt { purity: percent(purity), moisture: percent(3.0) };
        if let Ok(made) = batch(&brine(23.3), gallons(volume), salt) {
            for mass in [made.brine, made.sodium_chloride, made.rock_salt, made.water, made.insolubles] {
                prop_assert!(in_kilograms(mass).is_finite());
            }
        }
    }

    /// A batch passes the yield check with its own salt, and fails with a third of it.
    #[test]
    fn a_batch_passes_its_own_yield_check(strength in 1.0..=26.67, volume in 1.0..1e6) {
        let made = batch(&brine(strength), gallons(volume), pure()).unwrap();
        prop_assert!(check_yield(&brine(strength), made.volume, made.rock_salt).is_ok());
        prop_assert!(check_yield(&brine(strength), made.volume, made.rock_salt / 3.0).is_err());
    }
}
