//! What must hold of any brine whatever the data say: limits, inverse after forward, order, mass and heat.
//!
//! Aim: no brine in range gives nonsense, and none out of range gives anything. Method: 2,000 brines a law,
//! drawn by proptest; `cargo xtask exam` draws 100,000 (the environment variable `PROPTEST_CASES`).

#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use chemistry::correction::{Content, Fit, Means, correct};
use chemistry::enthalpy::{Portion, SolidSalt, Stream, enthalpy, mix};
use chemistry::inverse::{
    Found, Reading, by_conductivity, by_density, by_freezing_point, by_refractive_index,
    temperature_of_density,
};
use chemistry::properties::properties;
use chemistry::recipe::RockSalt;
use chemistry::salometer::{baume, relative_density_at};
use chemistry::{
    Brine, Error, MassFraction, RefractiveIndex, Salt, conductivity, density, dissolution, freezing,
    heat_capacity, impurities, refraction, viscosity, water, water_activity,
};
use common::{blend, brine, brine_of};
use message::Tell;
use proptest::prelude::*;
use quantity::{
    Mass, celsius, cubic_metres, in_celsius, in_cubic_metres, in_joules_per_kg_kelvin, in_kg_per_m3,
    in_kilograms, in_kilojoules_per_kg, in_millipascal_seconds, in_millisiemens_per_cm, kelvins, kg_per_m3,
    kilograms, millisiemens_per_cm,
};

/// Cases a law is tried on.
fn config() -> ProptestConfig {
    let asked = std::env::var("PROPTEST_CASES").ok().and_then(|cases| cases.parse().ok());
    ProptestConfig {
        cases: asked.unwrap_or(2000),
        // Laws of liquid brine turn away what would be frozen, which is a good part of all draws.
        max_global_rejects: u32::MAX,
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

const CHLORIDES: [Salt; 4] =
    [Salt::SodiumChloride, Salt::CalciumChloride, Salt::MagnesiumChloride, Salt::PotassiumChloride];

/// A brine of one chloride, from none to its strongest.
fn single() -> impl Strategy<Value = Brine> {
    (0_usize..4, 0.0..=1.0).prop_map(|(place, part)| {
        let salt = CHLORIDES[place];
        brine_of(salt, part * salt.strongest_percent())
    })
}

/// A mixture of up to five salts, 30 % in all at most.
fn mixed() -> impl Strategy<Value = Brine> {
    (0.0..20.0, 0.0..4.0, 0.0..4.0, 0.0..1.0, 0.0..1.0).prop_map(|(na, ca, mg, k, s)| {
        blend(&[
            (Salt::SodiumChloride, na),
            (Salt::CalciumChloride, ca),
            (Salt::MagnesiumChloride, mg),
            (Salt::PotassiumChloride, k),
            (Salt::SodiumSulfate, s),
        ])
    })
}

/// Every number that properties give, named.
fn numbers(brine: &Brine, t: f64) -> Vec<(&'static str, f64, f64)> {
    let at = celsius(t);
    let mut found = Vec::new();
    if let Ok(e) = density::estimate(brine, at) {
        found.push(("density", in_kg_per_m3(e.value), in_kg_per_m3(e.uncertainty)));
    }
    if let Ok(e) = viscosity::estimate(brine, at) {
        let (value, off) = (in_millipascal_seconds(e.value), in_millipascal_seconds(e.uncertainty));
        found.push(("viscosity", value, off));
    }
    if let Ok(e) = heat_capacity::estimate(brine, at) {
        let (value, off) = (in_joules_per_kg_kelvin(e.value), in_joules_per_kg_kelvin(e.uncertainty));
        found.push(("heat capacity", value, off));
    }
    if let Ok(e) = conductivity::estimate(brine, at) {
        let (value, off) = (in_millisiemens_per_cm(e.value), in_millisiemens_per_cm(e.uncertainty));
        found.push(("conductivity", value, off.max(1e-12)));
    }
    if let Ok(e) = refraction::estimate(brine, at) {
        found.push(("index", e.value.index(), e.uncertainty));
    }
    if let Ok(e) = water_activity::estimate(brine, at) {
        found.push(("activity", e.value.ratio(), e.uncertainty.max(1e-12)));
    }
    found
}

/// One of them.
fn of_name(numbers: Vec<(&'static str, f64, f64)>, name: &str) -> Option<f64> {
    numbers.into_iter().find(|found| found.0 == name).map(|found| found.1)
}

/// What each number may be at all, for any brine here.
fn sane(name: &str) -> (f64, f64) {
    match name {
        "density" => (990.0, 1500.0),
        "viscosity" => (0.6, 200.0),
        "heat capacity" => (2000.0, 4500.0),
        "conductivity" => (0.0, 520.0),
        "index" => (1.329, 1.5),
        _ => (0.2, 1.0),
    }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn every_number_is_finite_and_sane(brine in single(), t in -25.0..45.0) {
        for (name, value, off) in numbers(&brine, t) {
            let (low, high) = sane(name);
            prop_assert!((low..=high).contains(&value) && off > 0.0 && off.is_finite(), "{name} {value} {off}");
        }
        if !(-20.0..=40.0).contains(&t) {
            prop_assert!(numbers(&brine, t).is_empty());
        }
    }

    #[test]
    fn every_number_of_a_blend_is_finite_and_sane(brine in mixed(), t in -20.0..=40.0) {
        let found = numbers(&brine, t);
        prop_assert!(found.len() >= 5, "{found:?}");
        for (name, value, off) in found {
            let (low, high) = sane(name);
            prop_assert!((low..=high).contains(&value) && off > 0.0 && off.is_finite(), "{name} {value} {off}");
        }
    }

    /// A blend with a trace of a second salt is the single salt: mixing rules have their limits.
    #[test]
    fn a_trace_of_another_salt_changes_nothing(percent in 1.0..25.0, place in 1_usize..5, t in -15.0..=40.0) {
        let one = numbers(&brine(percent), t);
        let two = numbers(&blend(&[(Salt::SodiumChloride, percent), (Salt::ALL[place], 1e-7)]), t);
        for ((name, a, _), (other, b, _)) in one.into_iter().zip(two) {
            prop_assert!(name == other && (a - b).abs() <= 1e-6 * a.abs(), "{name} {a} {b}");
        }
    }

    #[test]
    fn no_salt_is_water(t in -20.0..=40.0) {
        let at = celsius(t);
        let same = |a: f64, b: f64| (a - b).abs() < 1e-9;
        let none = Brine::WATER;
        prop_assert!(same(in_kg_per_m3(none.density(at).unwrap()), in_kg_per_m3(density::water_density(at).unwrap())));
        prop_assert!(same(
            in_millipascal_seconds(viscosity::viscosity(&none, at).unwrap()),
            in_millipascal_seconds(water::viscosity(at).unwrap())
        ));
        prop_assert!(same(
            refraction::refractive_index(&none, at).unwrap().index(),
            water::refractive_index(at).unwrap().index()
        ));
        prop_assert!(same(water_activity::water_activity(&none, at).unwrap().ratio(), 1.0));
    }

    /// More salt is denser, refracts more, holds less heat and less water vapor.
    #[test]
    fn more_salt_in_order(place in 0_usize..4, part in 0.0..0.85, t in -15.0..=40.0) {
        let salt = CHLORIDES[place];
        let most = [26.67, 40.0, 31.0, 24.0][place];
        let (weak, strong) = (brine_of(salt, part * most), brine_of(salt, (part + 0.01) * most));
        let of = |brine: &Brine, name: &str| of_name(numbers(brine, t), name);
        for (name, sign) in [("density", 1.0), ("index", 1.0), ("heat capacity", -1.0), ("activity", -1.0)] {
            let (a, b) = (of(&weak, name).unwrap(), of(&strong, name).unwrap());
            prop_assert!(sign * (b - a) > 0.0, "{salt:?} {name} {a} {b}");
        }
    }

    /// Warmer conducts better and flows easier, for every salt and strength.
    #[test]
    fn warmer_in_order(brine in single(), t in -15.0..39.0) {
        prop_assume!(dissolution::check_dissolved(&brine, celsius(t)).is_ok());
        let of = |name: &str, t: f64| of_name(numbers(&brine, t), name);
        if let (Some(a), Some(b)) = (of("viscosity", t), of("viscosity", t + 0.5)) {
            prop_assert!(b < a);
        }
        if let (Some(a), Some(b)) = (of("conductivity", t), of("conductivity", t + 0.5)) {
            prop_assert!(b > a || brine.strength().percent() < 1e-9);
        }
    }

    #[test]
    fn density_and_back(place in 0_usize..4, part in 0.0..=1.0, t in -20.0..=40.0) {
        let salt = CHLORIDES[place];
        let percent = part * [26.67, 40.0, 34.0, 28.0][place];
        let value = brine_of(salt, percent).density(celsius(t)).unwrap();
        let found = by_density(salt, &Reading::exact(value, celsius(t))).unwrap();
        prop_assert!((found.brine.strength().percent() - percent).abs() < 1e-8);
        prop_assert!(found.uncertainty.percent() > 0.0 && found.percent_per_unit > 0.0);
    }

    #[test]
    fn index_and_back(place in 0_usize..4, part in 0.0..=1.0, t in -20.0..=40.0) {
        let salt = CHLORIDES[place];
        let percent = part * [26.67, 40.0, 31.0, 25.0][place];
        let value = refraction::refractive_index(&brine_of(salt, percent), celsius(t)).unwrap();
        let found = by_refractive_index(salt, &Reading::exact(value, celsius(t))).unwrap();
        prop_assert!((found.brine.strength().percent() - percent).abs() < 1e-7);
    }

    /// One of the two strengths that a conductivity may mean is the one there was; between the two lies the turn.
    #[test]
    fn conductivity_and_back(place in 0_usize..4, part in 0.021..=1.0, t in -15.0..=40.0) {
        let salt = CHLORIDES[place];
        let percent = part * [26.67, 40.0, 32.0, 26.0][place];
        let value = conductivity::conductivity(&brine_of(salt, percent), celsius(t)).unwrap();
        let found = by_conductivity(salt, &Reading::exact(value, celsius(t))).unwrap();
        let mut nearest = (found.weaker.brine.strength().percent() - percent).abs();
        if let (Some(stronger), Some(turn)) = (found.stronger, found.turn) {
            nearest = nearest.min((stronger.brine.strength().percent() - percent).abs());
            prop_assert!(found.weaker.brine.strength().percent() <= turn.percent() + 1e-6);
            prop_assert!(turn.percent() <= stronger.brine.strength().percent() + 1e-6);
        }
        prop_assert!(nearest < 0.02, "{salt:?} {percent} {found:?}");
    }

    #[test]
    fn freezing_point_and_back(place in 0_usize..4, part in 0.0..=0.99) {
        let salt = CHLORIDES[place];
        let percent = part * salt.strongest_percent();
        let first = freezing::first_solid(&brine_of(salt, percent)).unwrap();
        let found = by_freezing_point(salt, first.temperature, kelvins(0.1)).unwrap();
        let sides = [found.ice, found.salt.map(|(_, found)| found)];
        let off = |found: Found| (found.brine.strength().percent() - percent).abs();
        let nearest = sides.into_iter().flatten().map(off).fold(99.0, f64::min);
        for found in sides.into_iter().flatten() {
            prop_assert!(found.uncertainty.percent().is_finite() && found.percent_per_kelvin.is_finite());
        }
        // Between the 12-hydrate's own strength and the next hydrate's its melting point stands still.
        let stands_still = salt == Salt::MagnesiumChloride && (30.0..32.1).contains(&percent);
        prop_assert!(nearest < 1e-6 || stands_still, "{salt:?} {percent} {found:?}");
    }

    #[test]
    fn temperature_from_density_and_back(percent in 15.0..=26.67, t in -18.0..=40.0) {
        let brine = brine(percent);
        prop_assume!(t > in_celsius(brine.first_solid().unwrap().temperature));
        let back = temperature_of_density(&brine, brine.density(celsius(t)).unwrap());
        prop_assert!((in_celsius(back.unwrap()) - t).abs() < 1e-5);
    }

    /// A reading's own error and its temperature's widen the answer, and never past what a bigger one would.
    #[test]
    fn uncertainties_add(percent in 2.0..24.0, t in 0.0..35.0, off in 0.1..5.0, warm in 0.1..3.0) {
        let at = celsius(t);
        let value = brine(percent).density(at).unwrap();
        let found = |off: f64, warm: f64| {
            let reading = Reading {
                value,
                uncertainty: kg_per_m3(off),
                temperature: at,
                temperature_uncertainty: kelvins(warm),
            };
            by_density(Salt::SodiumChloride, &reading).unwrap().uncertainty.percent()
        };
        prop_assert!(found(0.0, 0.0) < found(off, 0.0));
        prop_assert!(found(off, 0.0) <= found(off, warm) + 1e-9 && found(off, warm) <= found(2.0 * off, warm) + 1e-9);
    }

    #[test]
    fn scales_and_back(percent in 0.5..=26.3) {
        let brine = brine(percent);
        let at = chemistry::recipe::reference_temperature();
        let relative = density::relative_density(&brine, at, at).unwrap().ratio();
        let back = relative_density_at(baume(&brine).unwrap()).unwrap().ratio();
        prop_assert!((relative - back).abs() < 1e-12);
        let brix = refraction::brix(refraction::refractive_index(&brine, celsius(20.0)).unwrap()).unwrap();
        let index = refraction::index_at(brix).unwrap().index();
        prop_assert!((index - refraction::refractive_index(&brine, celsius(20.0)).unwrap().index()).abs() < 1e-9);
    }

    /// Mixing: mass of salts, water and insolubles, and enthalpy, before and after.
    #[test]
    fn mixing_keeps_mass_and_heat(
        a in 0.0..20.0, b in 0.0..20.0, kg_a in 1.0..1000.0, kg_b in 1.0..1000.0, salt in 0.0..60.0,
        ta in -5.0..30.0, tb in -5.0..30.0, purity in 90.0..100.0, moisture in 0.0..5.0,
    ) {
        let rock = RockSalt {
            purity: MassFraction::from_percent(purity).unwrap(),
            moisture: MassFraction::from_percent(moisture).unwrap(),
        };
        let streams = [
            Stream { portion: Portion::Brine(brine(a)), mass: kilograms(kg_a), temperature: celsius(ta) },
            Stream {
                portion: Portion::Brine(brine_of(Salt::CalciumChloride, b / 4.0)),
                mass: kilograms(kg_b),
                temperature: celsius(tb),
            },
            Stream { portion: Portion::Solid(SolidSalt::Rock(rock)), mass: kilograms(salt), temperature: celsius(ta) },
        ];
        let Ok(mixture) = mix(&streams) else { return Ok(()) };
        let total = kg_a + kg_b + salt;
        let out = in_kilograms(mixture.mass) + in_kilograms(mixture.insolubles);
        prop_assert!((out - total).abs() < 1e-9 * total);
        let sodium = kg_a * a / 100.0 + salt * rock.sodium_chloride();
        let held = in_kilograms(mixture.mass) * mixture.brine.part(Salt::SodiumChloride).fraction();
        prop_assert!((held - sodium).abs() < 1e-9 * total);
        // Heat: without solids both sides can be told by the crate's own enthalpy.
        let liquids = mix(&streams[..2]).unwrap();
        let heat = |brine: &Brine, t: f64| in_kilojoules_per_kg(enthalpy(brine, celsius(t)).unwrap());
        let before = kg_a * heat(&brine(a), ta) + kg_b * heat(&brine_of(Salt::CalciumChloride, b / 4.0), tb);
        let after = in_kilograms(liquids.mass) * heat(&liquids.brine, in_celsius(liquids.temperature));
        prop_assert!((before - after).abs() < 1e-6 * (kg_a + kg_b), "{before} {after}");
    }

    /// Heat capacity is the slope of enthalpy.
    #[test]
    fn heat_capacity_is_the_slope_of_enthalpy(brine in single(), t in -19.0..39.0) {
        let heat = |t: f64| enthalpy(&brine, celsius(t)).map(in_kilojoules_per_kg);
        if let (Ok(a), Ok(b)) = (heat(t - 0.01), heat(t + 0.01)) {
            let c = in_joules_per_kg_kelvin(heat_capacity::heat_capacity(&brine, celsius(t)).unwrap());
            prop_assert!(((b - a) / 0.02 * 1000.0 - c).abs() < 0.01 * c / 10.0, "{c}");
        }
    }

    /// Two halves of one brine make that brine, at the temperature between.
    #[test]
    fn like_with_like_is_like(brine in mixed(), t in -10.0..30.0, warmer in 0.0..10.0) {
        let half = |t: f64| Stream { portion: Portion::Brine(brine), mass: kilograms(50.0), temperature: celsius(t) };
        let whole = mix(&[half(t), half(t + warmer)]).unwrap();
        prop_assert!((whole.brine.strength().percent() - brine.strength().percent()).abs() < 1e-9);
        prop_assert!(f64::abs(in_celsius(whole.temperature) - t - warmer / 2.0) < 0.1);
    }

    /// Put right: the target is reached, salt and mass close, and with a tank too small the drawn-off way
    /// reaches it too.
    #[test]
    fn a_tank_is_put_right(
        from in 5.0..26.0, to in 5.0..24.5, kg in 100.0..50_000.0, t in 2.0..25.0, way in 0_usize..3,
        other in 0.0..26.3, room in 0.2..2.0,
    ) {
        let content = Content {
            brine: brine(from),
            strength_uncertainty: MassFraction::from_percent(0.2).unwrap(),
            mass: kilograms(kg),
            temperature: celsius(t),
        };
        let rock = RockSalt {
            purity: MassFraction::from_percent(96.0).unwrap(),
            moisture: MassFraction::from_percent(2.0).unwrap(),
        };
        let target = MassFraction::from_percent(to).unwrap();
        let (means, salt) = match way {
            0 => (Means::Water(celsius(t)), 0.0),
            1 => (Means::Salt(rock, celsius(t)), rock.sodium_chloride()),
            _ => (Means::Lot(brine(other), celsius(t)), other / 100.0),
        };
        let Ok(found) = correct(&content, target, means) else { return Ok(()) };
        prop_assert!((found.after.brine.strength().percent() - to).abs() < 1e-9);
        let put_in = kilograms(in_kilograms(found.add) * salt);
        let scale = kg + in_kilograms(found.add);
        let held = |mass: Mass, brine: &Brine| in_kilograms(mass) * brine.strength().fraction();
        let before = held(content.mass, &content.brine) + in_kilograms(put_in);
        prop_assert!((held(found.after.mass, &found.after.brine) - before).abs() < 1e-9 * scale);
        let mass = in_kilograms(found.after.mass) + in_kilograms(found.after.insolubles);
        prop_assert!((mass - scale).abs() < 1e-9 * scale);
        let (least, most) = found.add_between;
        prop_assert!(least <= found.add * (1.0 + 1e-9) && found.add <= most * (1.0 + 1e-9));
        let capacity = cubic_metres(in_cubic_metres(found.volume_after) * room);
        match found.fit(&content, capacity).unwrap() {
            Fit::Fits => prop_assert!(room >= 1.0 - 1e-9),
            Fit::DrawFirst { draw, add, .. } => {
                let kept = Content { mass: kilograms(kg - in_kilograms(draw)), ..content };
                let again = correct(&kept, target, means).unwrap();
                prop_assert!((in_kilograms(again.add) - in_kilograms(add)).abs() < 1e-6 * scale);
                prop_assert!((in_cubic_metres(again.volume_after) / in_cubic_metres(capacity) - 1.0).abs() < 1e-6);
            }
        }
    }

    /// Impurities: their salts are where they were, and every reading is misled upward by dissolved ones.
    #[test]
    fn impurities_mislead_upward(
        gypsum in 0.1..1.9, magnesium in 0.0..0.5, hardness in 0.0..600.0, percent in 15.0..24.0,
    ) {
        let of = |percent: f64| MassFraction::from_percent(percent).unwrap();
        let salt = impurities::Analysis {
            sodium_chloride: of(96.0),
            calcium_sulfate: of(gypsum),
            calcium_chloride: of(0.1),
            magnesium_chloride: of(magnesium),
        };
        let made = impurities::brine_made(&salt, hardness, of(percent)).unwrap();
        let off = impurities::misled(&made.brine, of(percent), celsius(15.0)).unwrap();
        prop_assert!(off.by_density > 0.0 && off.by_density < 1.5, "{off:?}");
        prop_assert!(off.by_refractive_index > 0.0 && off.by_refractive_index < 1.5, "{off:?}");
    }

    /// Anything at all, also what is no number: refused or finite, never NaN.
    #[test]
    fn nonsense_is_refused(percent in proptest::num::f64::ANY, t in proptest::num::f64::ANY, place in 0_usize..5) {
        let made = MassFraction::from_percent(percent).and_then(|w| Brine::of(Salt::ALL[place], w));
        let Ok(brine) = made else { return Ok(()) };
        let all = properties(&brine, celsius(t));
        if !t.is_finite() {
            prop_assert!(all.density.is_err() && all.phases.is_err());
        }
        for (name, value, off) in numbers(&brine, t) {
            prop_assert!(value.is_finite() && off.is_finite(), "{name}");
        }
        let read = by_conductivity(Salt::MagnesiumChloride, &Reading::exact(millisiemens_per_cm(percent), celsius(t)));
        prop_assert!(read.is_err() || read.unwrap().weaker.brine.strength().percent().is_finite());
    }
}

/// A refusal of a reading names value and limits.
#[test]
fn refusals_name_value_and_limits() {
    let dense =
        by_density(Salt::SodiumChloride, &Reading::exact(kg_per_m3(1400.0), celsius(20.0))).unwrap_err();
    let said = |refusal: &Error, name: &str| refusal.message().arg(name).map(ToString::to_string);
    assert_eq!(said(&dense, "value").as_deref(), Some("1400"), "{dense}");
    assert!(said(&dense, "low").is_some_and(|low| low.starts_with("998.2")), "{dense}");
    let index = RefractiveIndex::from_index(1.5).unwrap();
    let index = by_refractive_index(Salt::SodiumChloride, &Reading::exact(index, celsius(20.0))).unwrap_err();
    assert_eq!(said(&index, "value").as_deref(), Some("1.5"), "{index}");
    let far = density::density(&brine(20.0), celsius(55.0)).unwrap_err();
    assert_eq!(said(&far, "low").as_deref(), Some("-20 C"), "{far}");
    assert_eq!(said(&far, "high").as_deref(), Some("40 C"), "{far}");
    assert!(matches!(far, Error::Temperature { celsius, .. } if (celsius - 55.0).abs() < 1e-9), "{far}");
    let much = Brine::blend(&[
        (Salt::SodiumChloride, MassFraction::from_percent(20.0).unwrap()),
        (Salt::CalciumChloride, MassFraction::from_percent(30.0).unwrap()),
    ]);
    assert!(matches!(&much, Err(Error::Strength { what: "chemistry.all_salts", .. })), "{much:?}");
}

/// A tank that is right already is told so, and not that water would make it weaker.
#[test]
fn a_tank_that_is_right_is_told_so() {
    let at = celsius(10.0);
    let right = brine(23.3);
    let content = Content {
        brine: right,
        strength_uncertainty: MassFraction::ZERO,
        mass: kilograms(1000.0),
        temperature: at,
    };
    let told = |target: f64| {
        correct(&content, MassFraction::from_percent(target).unwrap(), Means::Water(at))
            .unwrap_err()
            .to_string()
    };
    assert!(
        told(23.3).contains("chemistry.why.at_target") && told(23.305).contains("chemistry.why.at_target"),
        "{}",
        told(23.305)
    );
    assert!(told(23.4).contains("chemistry.why.water_weakens"), "{}", told(23.4));
}
