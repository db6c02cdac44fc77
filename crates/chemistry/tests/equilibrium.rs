//! The equilibrium of blends against the reference program that bears the same parameters, and against the laws it must
//! keep whatever the parameters are.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use chemistry::equilibrium::{
    Adjustment, assemblage, assemblage_with, gypsum_index, last_liquid, onset, onset_with, saturation,
};
use chemistry::freezing::{Solid, all_solid_below, eutectic, on_cooling};
use chemistry::{Brine, MassFraction, Salt};
use common::{Row, rows};
use proptest::prelude::*;
use quantity::{celsius, in_celsius};

fn blend(parts: &[(Salt, f64)]) -> Option<Brine> {
    let parts: Vec<(Salt, MassFraction)> = parts
        .iter()
        .filter(|(_, percent)| *percent > 0.0)
        .map(|(salt, percent)| (*salt, MassFraction::from_percent(*percent).unwrap()))
        .collect();
    Brine::blend(&parts).ok()
}

fn of(row: &Row) -> Option<Brine> {
    let names = ["nacl_wt_pct", "cacl2_wt_pct", "mgcl2_wt_pct", "kcl_wt_pct", "na2so4_wt_pct"];
    let parts: Vec<(Salt, f64)> = Salt::ALL.into_iter().zip(names.map(|name| row.number(name))).collect();
    blend(&parts)
}

/// PHREEQC with the same parameters: 0.02 K, what its own search and its atomic weights leave.
#[test]
fn blends_freeze_where_the_reference_program_says() {
    let mut held = 0;
    for row in rows("blend_onset.csv") {
        let Some(brine) = of(&row) else { continue };
        let Ok(found) = onset_with(&brine, Adjustment::none()) else {
            assert!(row.text("note").contains("already saturated"), "{}", row.shown());
            continue;
        };
        if let Some(ice) = row.optional("t_ice_c").filter(|t| *t > -54.5) {
            let ours = in_celsius(found.ice.unwrap());
            assert!((ours - ice).abs() < 0.02, "ice {ours}: {}", row.shown());
            held += 1;
        }
        if let Some(salt) = row.optional("t_salt_solid_c").filter(|t| *t > -54.5) {
            let (solid, at) = found.salt.unwrap();
            let ours = in_celsius(at);
            // Halite's solubility hardly moves with temperature: a hundredth of a kelvin of the balance is a third of
            // one.
            let within = if solid == Solid::Halite { 0.3 } else { 0.02 };
            assert!((ours - salt).abs() < within, "{solid} {ours}: {}", row.shown());
            let named = match solid {
                Solid::Hydrohalite => "hydrohalite",
                Solid::Halite => "halite",
                Solid::Sylvite => "sylvite",
                Solid::Mirabilite => "mirabilite",
                Solid::MagnesiumChlorideDodecahydrate => "MgCl2.12H2O",
                _ => "another",
            };
            assert_eq!(named, row.text("first_salt_solid"), "{}", row.shown());
            held += 1;
        }
    }
    assert!(held > 80, "{held}");
}

/// Saturation with gypsum: PHREEQC 3.8.6 (IPHREEQC in pyEQL 1.7.0) with ColdChem.dat, run for this test.
#[test]
fn gypsum_is_as_near_as_the_reference_program_says() {
    for (parts, t, index) in [
        ([23.0, 0.1, 0.0, 0.1], 20.0, -1.3533),
        ([23.0, 0.1, 0.0, 0.1], -10.0, -1.3391),
        ([10.0, 0.3, 0.0, 0.2], 5.0, -0.7702),
        ([18.0, 5.0, 0.0, 0.05], 0.0, 0.0281),
        ([0.0, 0.17, 0.0, 0.21], 25.0, -0.1072),
        ([20.0, 0.05, 3.0, 0.3], 10.0, -1.1541),
    ] {
        let [nacl, cacl2, mgcl2, na2so4] = parts;
        let brine = blend(&[
            (Salt::SodiumChloride, nacl),
            (Salt::CalciumChloride, cacl2),
            (Salt::MagnesiumChloride, mgcl2),
            (Salt::SodiumSulfate, na2so4),
        ]);
        let brine = brine.unwrap();
        let found = saturation(&brine, "gypsum", t, Adjustment::none()).unwrap() / std::f64::consts::LN_10;
        assert!((found - index).abs() < 0.01, "{parts:?} at {t}: {found}, theirs {index}");
        let ours = gypsum_index(&brine, celsius(t)).unwrap().unwrap();
        assert!((ours - index).abs() < 0.2, "{parts:?} at {t}: fitted {ours}");
    }
    // Calcium sulfate as 2.4 g/L at 25 °C saturates water (CRC handbook: 0.205 g in 100 g; from memory).
    let water = blend(&[(Salt::CalciumChloride, 0.167), (Salt::SodiumSulfate, 0.214)]).unwrap();
    assert!(gypsum_index(&water, celsius(25.0)).unwrap().unwrap().abs() < 0.15);
}

/// The last liquid goes at the eutectic, whatever the strength: CRC and Oakes 1990 for NaCl, the curves of the single
/// salts for the others (sources in the data of those tests); of a blend lower than of either salt.
#[test]
fn the_last_liquid_goes_at_the_eutectic() {
    let at = |parts: &[(Salt, f64)]| in_celsius(last_liquid(&blend(parts).unwrap()).unwrap());
    for percent in [2.0, 10.0, 20.0, 26.0] {
        assert!((at(&[(Salt::SodiumChloride, percent)]) - -21.15).abs() < 0.1, "{percent}");
    }
    for (salt, wanted, within) in [
        (Salt::PotassiumChloride, -10.7, 0.2),
        (Salt::MagnesiumChloride, -33.5, 1.0),
        (Salt::CalciumChloride, -49.3, 4.0),
    ] {
        let found = at(&[(salt, 12.0)]);
        assert!((found - wanted).abs() < within, "{salt:?} {found}");
    }
    let mixed = at(&[(Salt::SodiumChloride, 12.0), (Salt::MagnesiumChloride, 5.0)]);
    assert!(mixed < -33.0 && mixed > -40.0, "{mixed}");
}

/// Amounts of ice and salts, the same program: 0.02 g of 100 g, and more where a kelvin makes grams of it.
#[test]
fn amounts_are_those_of_the_reference_program() {
    let mut held = 0;
    for row in rows("blend_phases.csv") {
        let Some(brine) = of(&row) else { continue };
        let Ok(found) = assemblage_with(&brine, celsius(row.number("temp_c")), Adjustment::none()) else {
            assert!(row.number("liquid_wt_pct") < 0.01 || row.number("temp_c") < -55.0, "{}", row.shown());
            continue;
        };
        let named = [Solid::Ice, Solid::Hydrohalite, Solid::Halite];
        let other: f64 =
            found.solids.iter().filter(|(solid, _)| !named.contains(solid)).map(|(_, share)| share).sum();
        let pairs = [
            (found.of(Solid::Ice), "ice_wt_pct"),
            (found.of(Solid::Hydrohalite), "hydrohalite_wt_pct"),
            (found.of(Solid::Halite), "halite_wt_pct"),
            (other, "other_solids_wt_pct"),
            (found.liquid, "liquid_wt_pct"),
        ];
        for (ours, column) in pairs {
            assert!((100.0 * ours - row.number(column)).abs() < 0.05, "{column} {ours}: {}", row.shown());
        }
        held += 1;
    }
    assert!(held >= 150, "{held}");
}

/// Where the reference program has ice in a brine that is cooled, what is told has it too, and has none where it has
/// none. Told of the liquid as it is, three rows here had ice one to two kelvins before it was told.
#[test]
fn no_ice_is_told_where_ice_is_not_and_none_missed() {
    let (mut with, mut without, mut missed_before) = (0, 0, 0);
    for row in rows("blend_phases.csv") {
        let Some(brine) = of(&row) else { continue };
        let (t, ice) = (row.number("temp_c"), row.number("ice_wt_pct"));
        let Ok(told) = on_cooling(&brine) else { continue };
        let at = told.ice.map_or(f64::NEG_INFINITY, in_celsius);
        if ice > 0.5 {
            assert!(at >= t - 0.3, "ice at {at}: {}", row.shown());
            with += 1;
            let alone = onset(&brine).unwrap().ice.map_or(f64::NEG_INFINITY, in_celsius);
            missed_before += usize::from(alone < t - 0.3);
        } else if ice == 0.0 && row.number("liquid_wt_pct") > 0.01 {
            assert!(at <= t + 0.3, "ice at {at}: {}", row.shown());
            without += 1;
        }
    }
    assert!(with >= 50 && without >= 50 && missed_before >= 3, "{with} {without} {missed_before}");
}

/// The second solid never comes later than in the liquid as it is, the first where it comes there; and what is told is
/// what the phases at those temperatures are.
#[test]
fn the_second_solid_comes_in_the_liquid_that_the_first_leaves() {
    let mut held = 0;
    for row in rows("blend_onset.csv") {
        let Some(brine) = of(&row) else { continue };
        let (Ok(alone), Ok(told)) = (onset(&brine), on_cooling(&brine)) else { continue };
        let pair = |found: &chemistry::equilibrium::Onset| {
            [found.ice, found.salt.map(|(_, at)| at)].map(|at| at.map_or(f64::NEG_INFINITY, in_celsius))
        };
        let (alone, now) = (pair(&alone), pair(&told));
        let first = alone[0].max(alone[1]);
        if brine.only_salt().is_none() {
            assert!((now[0].max(now[1]) - first).abs() < 1e-9, "{}", row.shown());
            assert!(now[0] >= alone[0] - 1e-9 && now[1] >= alone[1] - 1e-9, "{}", row.shown());
        }
        let second = now[0].min(now[1]);
        if second < -54.0 || brine.only_salt().is_some() || first - second < 0.1 {
            continue;
        }
        let solids = |t: f64| {
            let found = assemblage(&brine, celsius(t)).ok()?;
            let is_there = |ice: bool| found.solids.iter().any(|(one, _)| (*one == Solid::Ice) == ice);
            Some(is_there(true) && is_there(false))
        };
        assert_eq!(solids(second + 0.05), Some(false), "{}", row.shown());
        assert!(solids(second - 0.05).unwrap_or(true), "{}", row.shown());
        held += 1;
    }
    assert!(held > 30, "{held}");
}

/// Cases a law is tried on.
fn config() -> ProptestConfig {
    let asked = std::env::var("PROPTEST_CASES").ok().and_then(|cases| cases.parse().ok());
    ProptestConfig { cases: asked.unwrap_or(2000), failure_persistence: None, ..ProptestConfig::default() }
}

/// Na, Mg, Ca and K of a solid, kg of the anhydrous chloride in a kilogram of it: by formula, molar masses of IUPAC.
fn chlorides_in(solid: Solid) -> [f64; 4] {
    let (na, ca, mg, k, w) = (58.443, 110.984, 95.211, 74.551, 18.015);
    match solid {
        Solid::Halite => [1.0, 0.0, 0.0, 0.0],
        Solid::Hydrohalite => [na / (na + 2.0 * w), 0.0, 0.0, 0.0],
        Solid::Sylvite => [0.0, 0.0, 0.0, 1.0],
        Solid::CalciumChlorideHexahydrate => [0.0, ca / (ca + 6.0 * w), 0.0, 0.0],
        Solid::MagnesiumChlorideHexahydrate => [0.0, 0.0, mg / (mg + 6.0 * w), 0.0],
        Solid::MagnesiumChlorideOctahydrate => [0.0, 0.0, mg / (mg + 8.0 * w), 0.0],
        Solid::MagnesiumChlorideDodecahydrate => [0.0, 0.0, mg / (mg + 12.0 * w), 0.0],
        Solid::Carnallite => [0.0, 0.0, mg / (mg + k + 6.0 * w), k / (mg + k + 6.0 * w)],
        Solid::Tachyhydrite => {
            let whole = ca + 2.0 * mg + 12.0 * w;
            [0.0, ca / whole, 2.0 * mg / whole, 0.0]
        }
        _ => [0.0; 4],
    }
}

proptest! {
    #![proptest_config(config())]

    /// Plain salt brine of any strength: nothing is told to happen below −21.1 °C, where all of it is solid.
    #[test]
    fn nothing_is_told_of_plain_brine_below_its_eutectic(percent in 0.0..26.66) {
        let brine = blend(&[(Salt::SodiumChloride, percent)]).unwrap_or(Brine::WATER);
        let told = on_cooling(&brine).unwrap();
        let lowest = in_celsius(eutectic(Salt::SodiumChloride).unwrap().1);
        for at in [told.ice, told.salt.map(|(_, at)| at)].into_iter().flatten() {
            prop_assert!(in_celsius(at) >= lowest - 1e-9, "{} {:?}", percent, told);
        }
        if percent > 0.1 {
            prop_assert!(told.ice.is_some() && told.salt.is_some());
            prop_assert!((in_celsius(all_solid_below(&brine).unwrap()) - lowest).abs() < 1e-3);
        }
    }
}

proptest! {
    #![proptest_config(config())]

    /// Mass is kept, no solid is less than nothing, no more solids stand there than the phase rule has room for, and
    /// what is warmer than both onsets is all liquid.
    #[test]
    fn laws_of_every_blend(
        parts in prop::array::uniform4(0.0..1.0f64), total in 0.1..33.0f64, t in -45.0..35.0f64,
    ) {
        let sum: f64 = parts.iter().sum::<f64>() + 1e-9;
        let [nacl, cacl2, mgcl2, kcl] = parts.map(|part| (total * part / sum).min(26.0));
        let brine = blend(&[
            (Salt::SodiumChloride, nacl),
            (Salt::CalciumChloride, cacl2),
            (Salt::MagnesiumChloride, mgcl2),
            (Salt::PotassiumChloride, kcl),
        ]);
        let brine = brine.unwrap();
        if let Ok(found) = assemblage(&brine, celsius(t)) {
            let solids: f64 = found.solids.iter().map(|(_, share)| share).sum();
            prop_assert!((found.liquid + solids - 1.0).abs() < 1e-9, "{found:?}");
            prop_assert!(found.liquid > 0.0 && found.solids.iter().all(|(_, share)| *share >= -1e-12), "{found:?}");
            // The lever rule, salt by salt: what is in liquid and solids is what went in.
            let order = [Salt::SodiumChloride, Salt::CalciumChloride, Salt::MagnesiumChloride, Salt::PotassiumChloride];
            for (place, salt) in order.into_iter().enumerate() {
                let in_solids: f64 =
                    found.solids.iter().map(|(solid, share)| share * chlorides_in(*solid)[place]).sum();
                let there = found.liquid * found.dissolved(salt).fraction() + in_solids;
                prop_assert!((there - brine.part(salt).fraction()).abs() < 1e-4, "{salt:?} {there} {found:?}");
            }
            let salts = [nacl, cacl2, mgcl2, kcl].iter().filter(|part| **part > 0.0).count();
            prop_assert!(found.solids.len() <= salts + 1, "{} solids of {salts} salts and water", found.solids.len());
            if let Ok(first) = onset(&brine) {
                let warmest = [first.ice, first.salt.map(|(_, at)| at)].into_iter().flatten().map(in_celsius);
                let warmest = warmest.fold(f64::NEG_INFINITY, f64::max);
                prop_assert_eq!(found.solids.is_empty(), t > warmest - 1e-6, "{} {}", t, warmest);
            }
        }
    }
}

/// With our own fit of the single salts: blends whose first solid is ice, within what the project's reference notes
/// trust the published set for there: 0.3 K with little CaCl2 (0.35 K here:
/// so far the set lies from what is printed for NaCl of 22.5 %), 1 K above 8 %, 2.5 K above 15 %.
#[test]
fn our_fit_moves_blends_no_further_than_the_sources_are_trusted() {
    let mut worst = [(0.0f64, String::new()), (0.0, String::new()), (0.0, String::new())];
    let mut held = 0;
    for row in rows("blend_onset.csv") {
        let Some(brine) = of(&row) else { continue };
        let Ok(found) = onset(&brine) else { continue };
        let (Some(ours), Some(theirs)) = (found.ice.map(in_celsius), row.optional("t_ice_c")) else {
            continue;
        };
        let salt = row.optional("t_salt_solid_c").unwrap_or(-99.0);
        if salt > theirs || theirs < -54.0 || !row.text("note").is_empty() {
            continue;
        }
        let cacl2 = row.number("cacl2_wt_pct");
        let class = if cacl2 <= 8.0 {
            0
        } else if cacl2 <= 15.0 {
            1
        } else {
            2
        };
        if (ours - theirs).abs() > worst[class].0 {
            worst[class] = ((ours - theirs).abs(), row.shown());
        }
        held += 1;
    }
    assert!(held > 25, "{held}");
    println!("{worst:?}");
    for (class, most) in [0.35, 1.0, 2.5].into_iter().enumerate() {
        assert!(worst[class].0 < most, "{worst:?}");
    }
}

/// NaCl beside CaCl2 or MgCl2 at 25 °C: the equation of Motoyama, Kadota and Oka (1972), which states 0.15 % by mass.
#[test]
fn salt_beside_other_chlorides_is_as_printed() {
    let mut held = 0;
    let asked = |row: &&Row| row.source() == "motoyama" && row.text("salt") != "KCl";
    for row in rows("halite_beside.csv").iter().filter(asked) {
        let other = match row.text("salt") {
            "CaCl2" => Salt::CalciumChloride,
            _ => Salt::MagnesiumChloride,
        };
        let has_no_halite = |strength: f64| {
            let brine =
                blend(&[(Salt::SodiumChloride, strength), (other, row.number("other_wt_pct"))]).unwrap();
            assemblage(&brine, celsius(25.0)).unwrap().of(Solid::Halite) <= 0.0
        };
        let low = chemistry::root::edge(has_no_halite, 0.1, 26.5, 1e-12);
        assert!((low - row.number("nacl_wt_pct")).abs() < 0.15, "{low}: {}", row.shown());
        held += 1;
    }
    assert_eq!(held, 10);
}

/// One salt: the engine and the curves of single salts agree within the intervals that the curves state.
#[test]
fn single_salts_agree_with_their_curves() {
    let mut held = 0;
    for (salt, most) in [
        (Salt::SodiumChloride, 26),
        (Salt::CalciumChloride, 30),
        (Salt::MagnesiumChloride, 32),
        (Salt::PotassiumChloride, 25),
    ] {
        for percent in 1..=most {
            let brine = blend(&[(salt, f64::from(percent))]).unwrap();
            let curve = chemistry::freezing::first_solid(&brine).unwrap();
            let Ok(engine) = onset(&brine) else { continue };
            let at = [engine.ice, engine.salt.map(|(_, at)| at)].into_iter().flatten().map(in_celsius);
            let engine = at.fold(f64::NEG_INFINITY, f64::max);
            let apart = (engine - in_celsius(curve.temperature)).abs();
            let within = quantity::in_kelvins(curve.uncertainty);
            assert!(apart <= within + 1e-9, "{salt:?} {percent} %: {engine:.2} against {:?}", curve);
            held += 1;
        }
    }
    assert!(held > 100, "{held}");
}
