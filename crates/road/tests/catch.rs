//! Catch tests against published and worked examples.
//!
//! Outside checks: W29…W33 of the worked examples (Minnesota field handbook; standard sprayer formula; FHWA cs028);
//! Oklahoma State University Extension, calibrating a ground sprayer: 101 fl oz a minute at 3 mph and 18 in spacing is
//! 86.8 gal an acre (printed rounded up as 88).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use quantity::{
    gallons, in_gallons, in_miles_per_hour, in_pounds, metres_per_second, miles_per_hour, minutes, pounds,
};
use road::LiquidRate;
use road::amount::lane_mile;
use road::catch::*;

/// Square feet of an acre over the width of a lane and the length of a mile: gal/acre to gal per 12-ft lane-mile.
const ACRE_TO_LANE_MILE: f64 = 5280.0 * 12.0 / 43_560.0;

fn per_minute(flow: quantity::VolumeRate) -> f64 {
    in_gallons(flow * minutes(1.0))
}

#[test]
fn worked_examples() {
    let rate = LiquidRate::of(gallons(40.0), lane_mile());
    assert!((per_minute(flow_for(rate, miles_per_hour(30.0), 1.0)) - 20.0).abs() < 1e-9, "W31");
    // W32: 27.5 gal/acre; gpm = GPA · mph · width in inches / 5940.
    let per_acre = 40.0 / ACRE_TO_LANE_MILE;
    assert!((per_acre - 27.5).abs() < 1e-9);
    assert!((per_acre * 30.0 * 144.0 / 5940.0 / 20.0 - 1.0).abs() < 0.005, "W32");
    // W33: ten nozzles, 64 fl oz each in 15 s.
    let found = sprayer(&[gallons(64.0 / 128.0); 10], minutes(0.25), gallons(0.5 / 128.0)).unwrap();
    assert!(
        (per_minute(found.nozzles[0]) - 2.0).abs() < 1e-9 && (per_minute(found.boom) - 20.0).abs() < 1e-9
    );
    let on = on_road(found.boom, miles_per_hour(30.0), 1.0).unwrap();
    assert!((on.gallons_per_lane_mile() - 40.0).abs() < 1e-9, "W33");
    // W30: 20 mph, 200 lb a minute: 600 lb a mile.
    let dropped = spreader(&[pounds(400.0)], 10.0, 5.0).unwrap();
    let rate = spread_on_road(&dropped, miles_per_hour(20.0), 1.0).unwrap();
    assert!((rate.pounds_per_lane_mile() - 600.0).abs() < 1e-6 && dropped.interval.is_none(), "W30");
}

#[test]
fn an_extension_services_example() {
    // One nozzle of 18 in is 1.5 of 12 ft of lane.
    let flow = gallons(101.0 / 128.0) / minutes(1.0);
    let on = on_road(flow, miles_per_hour(3.0), 1.0).unwrap().gallons_per_lane_mile() / (1.5 / 12.0);
    assert!((on / ACRE_TO_LANE_MILE - 86.8).abs() < 0.05, "{}", on / ACRE_TO_LANE_MILE);
}

#[test]
fn a_worn_and_a_plugged_nozzle_stand_out() {
    let ounces = [64.0, 65.0, 63.0, 64.5, 75.0, 64.0, 63.5, 40.0];
    let caught: Vec<_> = ounces.iter().map(|oz| gallons(oz / 128.0)).collect();
    let found = sprayer(&caught, minutes(0.25), gallons(0.5 / 128.0)).unwrap();
    assert_eq!(found.outliers, vec![4, 7]);
    // The mean is that of the six good ones, by hand 64.0.
    assert!(
        (found.off[4] - (75.0 / 64.0 - 1.0)).abs() < 1e-9
            && (found.off[7] - (40.0 / 64.0 - 1.0)).abs() < 1e-9
    );
    // Eight jugs, each read within half an ounce: 1.96 · 0.5/√3 · √8 ounces in 15 s.
    let interval = 1.96 * 0.5 / 3f64.sqrt() * 8f64.sqrt() / 128.0 * 4.0;
    assert!((per_minute(found.interval) - interval).abs() < 1e-9);
}

#[test]
fn what_the_pump_gives_bounds_the_speed() {
    let rate = LiquidRate::of(gallons(50.0), lane_mile());
    let fastest = fastest(gallons(40.0) / minutes(1.0), rate, 1.0);
    let flow = flow_for(rate, metres_per_second(in_miles_per_hour(fastest) * 0.44704), 1.0);
    assert!((per_minute(flow) - 40.0).abs() < 1e-9);
    assert!((in_miles_per_hour(fastest) - 48.0).abs() < 1e-9);
}

#[test]
fn catches_of_a_spreader_have_an_interval() {
    // By hand: mean 100, s = 3, t(0.975, 2) = 4.303: ± 7.45 over ten turns.
    let found = spreader(&[pounds(97.0), pounds(100.0), pounds(103.0)], 10.0, 20.0).unwrap();
    assert!((in_pounds(found.per_turn) - 10.0).abs() < 1e-9);
    assert!((in_pounds(found.interval.unwrap()) - 4.302_65 * 3.0 / 3f64.sqrt() / 10.0).abs() < 1e-4);
}

#[test]
fn what_cannot_be_is_refused() {
    let jug = gallons(0.5);
    assert!(sprayer(&[jug], minutes(0.25), jug).is_err(), "one nozzle is no boom");
    assert!(sprayer(&[jug, jug], minutes(0.01), jug).is_err(), "no time");
    assert!(sprayer(&[gallons(0.0), gallons(0.0)], minutes(0.25), jug).is_err(), "nothing caught");
    assert!(at_pressure(jug / minutes(1.0), 40.0, 5.0).is_err());
    assert!(on_road(jug / minutes(1.0), miles_per_hour(0.0), 1.0).is_err());
    assert!(spreader(&[], 1.0, 1.0).is_err() && spreader(&[pounds(1.0)], 0.0, 1.0).is_err());
    let error = sprayer(&[jug, jug], minutes(0.01), jug).unwrap_err();
    let CatchError::Figure { what, value, accepted } = error;
    assert_eq!((what, accepted), ("road.catch_seconds", "road.accepted.seconds"));
    assert!((value - 0.6).abs() < 1e-9, "{value}");
}
