//! What a file leaves out, and what the sample and the reference show.

use crate::small::{SMALL, SMALL_SI, near, yard};
use quantity::{
    in_celsius, in_cubic_metres, in_fahrenheit, in_feet, in_gallons, in_gallons_per_hour, in_hours,
    in_kelvins, in_kg_per_m3, in_kilograms, in_metres, in_metres_per_second, in_miles_per_hour, in_minutes,
    in_pounds, in_short_tons, minutes,
};
use site::yard_file::{field_docs, sample_yard_file, yard_file_reference};
use site::{CoverFor, Insulation, ProductKind, UnitSystem, Yard};

#[test]
fn the_small_yard_gets_the_documented_defaults() {
    let yard = yard(SMALL);
    assert_eq!(yard.units, UnitSystem::Us);
    near(in_metres(yard.elevation), 0.0);
    let plant = &yard.plant;
    assert_eq!(plant.product, "brine");
    near(in_gallons_per_hour(plant.making_rate), 3000.0);
    near(in_gallons_per_hour(plant.water_rate), 3600.0);
    near(in_fahrenheit(plant.rated_water_temperature), 60.0);
    near(in_fahrenheit(plant.water_temperature), 60.0);
    near(plant.rate_loss_per_kelvin, 0.0);
    near(in_minutes(plant.start_up), 20.0);
    near(in_minutes(plant.settle_and_test), 60.0);
    near(plant.target_strength.percent(), 23.3);
    near(plant.spec_low.percent(), 22.8);
    near(plant.spec_high.percent(), 23.8);
    near(yard.salt.purity.percent(), 95.0);
    near(yard.salt.moisture.percent(), 1.5);
    near(in_kilograms(yard.salt.opening), 0.0);
    assert_eq!((yard.products[0].id.as_str(), yard.products[0].name.as_str()), ("brine", "Salt brine"));
    assert!(matches!(yard.products[0].kind, ProductKind::SodiumChlorideBrine));
    let tank = &yard.tanks[0];
    assert_eq!((tank.product.as_str(), tank.insulation), ("brine", Insulation::None));
    // π 6² ft² × 14 ft × 1728/231 gal per cubic foot, less 5 %.
    let full = std::f64::consts::PI * 36.0 * 14.0 * 1728.0 / 231.0;
    near(in_gallons(tank.shape.full_volume()), full);
    near(in_gallons(tank.working_capacity()), 0.95 * full);
    assert!(tank.opening.is_none());
    near(in_feet(yard.routes[0].lane_length), 20.0 * 5280.0);
    near(in_minutes(yard.routes[0].drive), 10.0);
    assert_eq!(yard.routes[0].name, "R1");
    assert_eq!(yard.loading.places, 1);
    near(in_minutes(yard.loading.hook_up), 4.0);
    let crew = &yard.crew;
    assert_eq!((crew.making_from_hour, crew.making_to_hour), (6, 22));
    assert_eq!((crew.spraying_from_hour, crew.spraying_to_hour), (0, 24));
    let policy = &yard.policy;
    near(in_hours(policy.lead_min), 1.0);
    near(in_hours(policy.lead_max), 24.0);
    near(policy.waste_share, 0.05);
    assert_eq!(policy.cover_for, CoverFor::High);
    near(in_fahrenheit(policy.block_below), 15.0);
    near(in_fahrenheit(policy.warn_below), 20.0);
    near(in_miles_per_hour(policy.warn_wind), 15.0);
    near(in_kelvins(policy.pavement_colder), 3.0);
    near(in_kelvins(policy.pavement_warmer), 2.0);
    assert!(policy.rates_on.is_empty() && policy.rates_off.is_empty());
}

/// Conversions of the two texts: NIST Handbook 44, appendix C.
#[test]
fn the_same_yard_in_si_is_the_same_yard() {
    let (us, si) = (yard(SMALL), yard(SMALL_SI));
    assert_eq!((us.units, si.units), (UnitSystem::Us, UnitSystem::Si));
    let figures = |yard: &Yard| {
        vec![
            in_metres(yard.elevation),
            in_gallons_per_hour(yard.plant.making_rate),
            in_celsius(yard.plant.rated_water_temperature),
            in_celsius(yard.plant.water_temperature),
            yard.plant.rate_loss_per_kelvin,
            in_gallons_per_hour(yard.plant.water_rate),
            in_hours(yard.plant.start_up),
            in_hours(yard.plant.settle_and_test),
            yard.plant.water_usd_per_m3,
            in_kilograms(yard.salt.opening),
            yard.salt.usd_per_short_ton,
            in_metres(yard.tanks[0].shape.diameter()),
            in_metres(yard.tanks[0].shape.straight_length()),
            in_cubic_metres(yard.tanks[0].working_capacity()),
            in_gallons_per_hour(yard.loading.pump_rate),
            in_hours(yard.loading.hook_up),
            in_hours(yard.route_classes[0].cycle),
            in_cubic_metres(yard.trucks[0].tank),
            in_metres_per_second(yard.trucks[0].spray_speed),
            in_metres(yard.routes[0].length),
            in_metres(yard.routes[0].lane_length),
            in_hours(yard.routes[0].drive),
            in_hours(yard.policy.lead_min),
            in_hours(yard.policy.lead_max),
            in_celsius(yard.policy.block_below),
            in_celsius(yard.policy.warn_below),
            in_metres_per_second(yard.policy.warn_wind),
            in_kelvins(yard.policy.pavement_colder),
            in_kelvins(yard.policy.pavement_warmer),
        ]
    };
    for (place, (a, b)) in figures(&us).into_iter().zip(figures(&si)).enumerate() {
        assert!((a - b).abs() <= 1e-7 * a.abs().max(1.0), "figure {place}: {a} and {b}");
    }
}

#[test]
fn the_sample_file_reads_and_shows_every_key() {
    let text = sample_yard_file();
    let yard = yard(&text);
    assert_eq!((yard.tanks.len(), yard.routes.len(), yard.trucks.len(), yard.products.len()), (3, 2, 2, 2));
    near(in_short_tons(yard.salt.opening), 180.0);
    near(in_pounds(yard.trucks[0].liquid_limit.unwrap()), 17_000.0);
    near(yard.plant.rate_loss_per_kelvin, 0.009);
    let ProductKind::Declared { density, chloride, .. } = &yard.products[1].kind else {
        panic!("the second product is declared")
    };
    near(in_kg_per_m3(*density), 1280.0);
    near(chloride.percent(), 22.3);
    let freezing = yard.products[1].kind.freezing_as_delivered();
    near(in_fahrenheit(freezing.expect("the sample's sheet says where it freezes")), 2.0);
    let put_right = &yard.put_right;
    near(in_pounds(put_right.bucket.unwrap()), 5400.0);
    near(in_gallons(put_right.circulation_rate.unwrap() * minutes(1.0)), 150.0);
    near(in_gallons(put_right.transfer_rate.unwrap() * minutes(1.0)), 200.0);
    near(put_right.turnovers, 3.0);
    for doc in field_docs() {
        assert!(text.contains(&format!("{} = ", doc.keys[0])), "{doc:?}");
        assert!(!doc.meaning.is_empty() && !doc.default.is_empty() && !doc.accepted.is_empty(), "{doc:?}");
    }
    assert!(text.lines().all(|line| line.chars().count() <= 110), "{text}");
}

/// Every default with a number or a word says why, and the reference shows it.
#[test]
fn every_default_has_a_reason() {
    let reference = yard_file_reference();
    for doc in field_docs() {
        let fixed = doc.default.starts_with(|c: char| c.is_ascii_digit() || c == '"');
        assert!(!fixed || !doc.reason.is_empty(), "{doc:?}");
        assert!(doc.keys.iter().all(|key| reference.contains(&format!("`{key}`"))));
        assert!(reference.contains(doc.reason) && reference.contains(doc.meaning));
    }
    assert!(reference.contains("AASHTO M 143-14, clause 5.1"));
    assert!(reference.contains("common practice, no source"));
}
