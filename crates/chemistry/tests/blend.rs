//! Recipes of blends: that they do what is wanted, by the parameters as published too, and that nothing cheaper does.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use chemistry::blend::{Lot, NoRecipe, Wanted, recipe};
use chemistry::equilibrium::{Adjustment, assemblage, onset_with};
use chemistry::freezing::{Solid, on_cooling};
use chemistry::recipe::reference_temperature;
use chemistry::{Brine, Error, MassFraction, Salt};
use message::Tell;
use quantity::{celsius, cubic_metres, gallons, in_celsius, in_cubic_metres, in_kilograms, kilograms};

fn percent(value: f64) -> MassFraction {
    MassFraction::from_percent(value).unwrap()
}

fn lot(brine: Brine, price: f64) -> Lot {
    Lot { brine, available: None, price, temperature: celsius(10.0) }
}

fn brine_of(salt: Salt, value: f64) -> Brine {
    Brine::of(salt, percent(value)).unwrap()
}

fn at_hand() -> Vec<Lot> {
    vec![
        lot(brine_of(Salt::SodiumChloride, 23.3), 0.04),
        lot(brine_of(Salt::MagnesiumChloride, 30.0), 0.30),
        lot(Brine::WATER, 0.001),
    ]
}

fn wanted(ice: f64, clear: f64) -> Wanted {
    let volume = gallons(1000.0);
    Wanted { ice_below: celsius(ice), clear_above: celsius(clear), at_least: volume, at_most: volume }
}

/// What is wanted holds of the recipe, with our parameters to a thousandth of a kelvin and with those published
/// (ColdChem) within the tolerance of the project's reference notes; masses and volume add up.
#[test]
fn a_recipe_does_what_is_wanted() {
    for (ice, clear) in [(-15.0, -15.0), (-20.0, -18.0), (-25.0, -18.0), (-25.0, -22.0)] {
        let found = recipe(&at_hand(), None, &wanted(ice, clear)).unwrap();
        let told = on_cooling(&found.brine).unwrap();
        assert_eq!(told, found.onset);
        let first = |onset: &chemistry::equilibrium::Onset| {
            let salt = onset.salt.map(|(_, at)| at);
            onset.ice.into_iter().chain(salt).map(in_celsius).reduce(f64::max).unwrap()
        };
        assert!(in_celsius(told.ice.unwrap()) <= ice + 1e-3 && first(&told) <= clear + 1e-3, "{ice} {clear}");
        let above = assemblage(&found.brine, celsius(ice + 0.02)).unwrap();
        assert!(above.of(Solid::Ice) <= 0.0, "{ice} {clear}: {above:?}");
        let published = onset_with(&found.brine, Adjustment::none()).unwrap();
        assert!(first(&published) <= clear + 2.5, "{ice} {clear}: {}", first(&published));
        let parts: f64 = found.parts.iter().map(|part| in_kilograms(*part)).sum();
        assert!((parts - in_kilograms(found.mass)).abs() < 1e-6 * parts);
        let by_density = found.mass / found.brine.density(reference_temperature()).unwrap();
        assert!((in_cubic_metres(by_density) / in_cubic_metres(gallons(1000.0)) - 1.0).abs() < 1e-6);
        let salt: f64 = 0.233 * in_kilograms(found.parts[0]);
        assert!((found.brine.part(Salt::SodiumChloride).fraction() * parts - salt).abs() < 1e-6 * salt);
    }
}

/// Every mixture on a fine grid that does the same costs as much or more.
#[test]
fn nothing_cheaper_does_it() {
    let (lots, ice, clear) = (at_hand(), -25.0, -18.0);
    let found = recipe(&lots, None, &wanted(ice, clear)).unwrap();
    let mut tried = 0;
    for first in 0..=200_u32 {
        for second in 0..=(200 - first) {
            let shares = [first, second, 200 - first - second].map(|n| f64::from(n) / 200.0);
            let part = |salt: Salt| -> f64 {
                lots.iter().zip(shares).map(|(lot, share)| lot.brine.part(salt).fraction() * share).sum()
            };
            let parts: Vec<_> = Salt::ALL
                .into_iter()
                .map(|salt| (salt, MassFraction::from_fraction(part(salt)).unwrap()))
                .collect();
            let brine = Brine::blend(&parts).unwrap();
            let Ok(told) = on_cooling(&brine) else { continue };
            let does = told.ice.is_none_or(|at| in_celsius(at) <= ice)
                && told.salt.is_none_or(|(_, at)| in_celsius(at) <= clear);
            if does {
                let density =
                    in_kilograms(brine.density(reference_temperature()).unwrap() * cubic_metres(1.0));
                let price: f64 = lots.iter().zip(shares).map(|(lot, share)| lot.price * share).sum();
                let cost = price * density * in_cubic_metres(gallons(1000.0));
                assert!(cost >= found.cost * (1.0 - 1e-3), "{shares:?} costs {cost}, found {}", found.cost);
                tried += 1;
            }
        }
    }
    assert!(tried > 500, "{tried}");
}

/// Full-strength brine with magnesium chloride drops salt long before it freezes (reference notes: 90/10 by mass near
/// -13 °C): for a lower limit water has to go in, though nobody asked for a weaker blend.
#[test]
fn full_strength_brine_has_to_be_thinned() {
    let found = recipe(&at_hand(), None, &wanted(-24.0, -20.0)).unwrap();
    assert!(in_kilograms(found.parts[2]) > 0.03 * in_kilograms(found.mass), "{found:?}");
    let without = recipe(&at_hand()[..2], None, &wanted(-24.0, -20.0));
    assert!(matches!(without, Err(NoRecipe::None { .. })) || without.unwrap().cost > found.cost);
}

/// What is in the tank stays in it, lots run out, room is kept; the least volume that does it is the cheapest.
#[test]
fn the_tank_counts() {
    let there = (brine_of(Salt::SodiumChloride, 23.3), kilograms(2000.0), celsius(0.0));
    let mut lots = at_hand();
    lots[1].available = Some(kilograms(600.0));
    let room = Wanted { at_least: gallons(0.0), at_most: gallons(1200.0), ..wanted(-22.0, -17.0) };
    let found = recipe(&lots, Some(&there), &room).unwrap();
    assert!((in_kilograms(found.base) - 2000.0).abs() < 1e-9);
    assert!(in_kilograms(found.parts[1]) <= 600.0 + 1e-6);
    assert!(in_cubic_metres(found.volume) <= in_cubic_metres(gallons(1200.0)) + 1e-9);
    let exactly = Wanted { at_least: found.volume * 1.05, at_most: found.volume * 1.05, ..room };
    assert!(recipe(&lots, Some(&there), &exactly).map_or(f64::MAX, |one| one.cost) >= found.cost);
    let crowded = Wanted { at_most: gallons(300.0), ..room };
    let refusal = recipe(&lots, Some(&there), &crowded).unwrap_err();
    assert!(matches!(refusal, NoRecipe::None { nearest: None, .. }), "{refusal}");
}

#[test]
fn what_cannot_be_is_said() {
    let refusal = recipe(&at_hand()[..1], None, &wanted(-30.0, -30.0)).unwrap_err();
    assert!(
        matches!(refusal, NoRecipe::None { nearest: Some(nearest), .. } if (nearest - -21.1).abs() < 0.1),
        "{refusal}"
    );
    assert_eq!(refusal.message().id(), "chemistry.no_recipe");
    assert!(matches!(recipe(&[], None, &wanted(-10.0, -10.0)), Err(NoRecipe::Count { count: 0 })));
    let mut priceless = at_hand();
    priceless[0].price = f64::NAN;
    let refused = recipe(&priceless, None, &wanted(-10.0, -10.0));
    assert!(matches!(refused, Err(NoRecipe::Input(Error::NotUsable { .. }))));
    let nothing = Wanted { at_least: gallons(0.0), ..wanted(-10.0, -10.0) };
    assert!(matches!(recipe(&at_hand(), None, &nothing), Err(NoRecipe::Input(Error::NotUsable { .. }))));
    let warm = recipe(&at_hand(), None, &wanted(5.0, -10.0));
    assert!(matches!(warm, Err(NoRecipe::Input(Error::Temperature { .. }))));
}

/// A magnesium chloride liquid with a little salt brine in it: near −24 °C no equilibrium is found, and it is not
/// refused for that. It is where all of it is solid: below −35 °C (last liquid of NaCl and MgCl2 by ColdChem's
/// parameters).
#[test]
fn what_has_no_equilibrium_found_is_not_refused_for_that() {
    let brine =
        Brine::blend(&[(Salt::SodiumChloride, percent(1.1)), (Salt::MagnesiumChloride, percent(28.5))])
            .unwrap();
    assert!((-30..=-16).any(|t| assemblage(&brine, celsius(f64::from(t))).is_err()));
    let there = (brine, kilograms(2000.0), celsius(0.0));
    let room = |ice| Wanted { at_least: gallons(0.0), ..wanted(ice, -17.0) };
    for ice in [-22.0, -23.0, -24.0, -25.0, -26.0, -30.0] {
        let found = recipe(&[lot(Brine::WATER, 0.001)], Some(&there), &room(ice)).unwrap();
        assert!(found.onset.ice.is_none_or(|at| in_celsius(at) <= ice), "{ice}: {found:?}");
    }
    assert!(recipe(&[lot(Brine::WATER, 0.001)], Some(&there), &room(-45.0)).is_err());
}
