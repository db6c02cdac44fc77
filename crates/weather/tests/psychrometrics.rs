//! Humidity against the check values of the WMO-No. 8 Magnus form, computed independently of this crate.
//! Their source is the project's own table "models", sections 1 and 2, made with another program.

#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use common::near;
use message::{Arg, Tell};
use quantity::{celsius, in_celsius, metres};
use weather::psychrometrics::{
    dew_point, frost_point, frost_point_from_dew_point, ice_bulb, relative_humidity, saturation_over_ice,
    saturation_over_water, standard_pressure, vapour_pressure, wet_bulb,
};
use weather::{Fraction, Pressure};

fn percent(value: f64) -> Fraction {
    Fraction::from_percent(value).unwrap()
}

// Project table, section 1: e_w at six and e_i at four temperatures.
#[test]
fn saturation() {
    let water = [
        (-20.0, 1.2597, 5e-5),
        (-10.0, 2.8703, 5e-5),
        (-5.0, 4.2218, 5e-5),
        (0.0, 6.1120, 5e-5),
        (5.0, 8.7174, 5e-5),
        (20.0, 23.326, 5e-4),
    ];
    for (t, expected, tolerance) in water {
        near(saturation_over_water(celsius(t)).unwrap().hectopascals(), expected, tolerance);
    }
    for (t, expected) in [(-20.0, 1.0326), (-10.0, 2.5987), (-5.0, 4.0174), (0.0, 6.1120)] {
        near(saturation_over_ice(celsius(t)).unwrap().hectopascals(), expected, 5e-5);
    }
}

// Project table, section 1: −5 °C and 80 %.
#[test]
fn dew_and_frost_point() {
    let (air, humidity) = (celsius(-5.0), percent(80.0));
    near(vapour_pressure(air, humidity).unwrap().hectopascals(), 3.3775, 5e-5);
    let dew = dew_point(air, humidity).unwrap();
    near(in_celsius(dew), -7.917, 5e-4);
    near(in_celsius(frost_point(air, humidity).unwrap()), -7.014, 5e-4);
    near(in_celsius(frost_point_from_dew_point(dew).unwrap()), -7.014, 5e-4);
    near(relative_humidity(air, dew).unwrap().percent(), 80.0, 1e-9);
}

// Project table, section 2: psychrometric wet bulb over water and over ice at 1013.25 hPa.
#[test]
fn wet_bulbs() {
    let rows = [
        (20.0, 50.0, 13.844, None),
        (3.0, 60.0, 0.399, Some(0.190)),
        (2.0, 90.0, 1.394, Some(1.270)),
        (1.0, 70.0, -0.764, Some(-0.854)),
        (0.0, 95.0, -0.275, Some(-0.280)),
        (-5.0, 80.0, -5.861, Some(-5.691)),
        (-10.0, 70.0, -10.968, Some(-10.723)),
    ];
    for (t, humidity, water, ice) in rows {
        let found = wet_bulb(celsius(t), percent(humidity), Pressure::STANDARD).unwrap();
        near(in_celsius(found), water, 5.001e-4);
        if let Some(ice) = ice {
            let found = ice_bulb(celsius(t), percent(humidity), Pressure::STANDARD).unwrap();
            near(in_celsius(found), ice, 5.001e-4);
        }
    }
}

// ICAO Doc 7488: pressures of the standard atmosphere.
#[test]
fn pressure_of_elevation() {
    for (h, expected) in [(0.0, 1013.25), (1000.0, 898.746), (3000.0, 701.085), (5000.0, 540.199)] {
        near(standard_pressure(metres(h)).unwrap().hectopascals(), expected, 0.01);
    }
    assert!(standard_pressure(metres(12_000.0)).is_err());
}

#[test]
fn refuses_outside_the_range() {
    assert!(saturation_over_water(celsius(61.0)).is_err());
    assert!(dew_point(celsius(0.0), Fraction::ZERO).is_err());
    let thin = Pressure::from_hectopascals(200.0).unwrap();
    assert!(wet_bulb(celsius(0.0), percent(50.0), thin).is_err());
    assert!(Fraction::from_percent(f64::NAN).is_err());
    assert!(Pressure::from_hectopascals(-1.0).is_err());
    let error = saturation_over_ice(celsius(-70.0)).unwrap_err();
    let near = |name: &str, degrees: f64| {
        let message = error.message();
        assert!(
            matches!(message.arg(name), Some(Arg::Celsius(t)) if (t - degrees).abs() < 1e-9),
            "{message}"
        );
    };
    assert_eq!(error.message().id(), "weather.out-of-range.temperature");
    near("value", -70.0);
    near("low", -65.0);
    near("high", 60.0);
}

#[test]
fn saturated_air_has_its_wet_bulb_at_its_temperature() {
    for t in [-40.0, -5.0, 0.0, 15.0, 45.0] {
        let found = wet_bulb(celsius(t), Fraction::ONE, Pressure::STANDARD).unwrap();
        near(in_celsius(found), t, 1e-9);
    }
}

// The rule of the project's table "models", section 6: snow to 0.5 °C, rain from 1.5 °C, linear between.
#[test]
fn phase_rule() {
    use weather::ReportedPhase::{FreezingRain, IcePellets, Mixed, Rain, Snow};
    use weather::phase::{frozen_share, frozen_share_reported};
    for (t, share) in [(-3.0, 1.0), (0.5, 1.0), (0.75, 0.75), (1.0, 0.5), (1.5, 0.0), (9.0, 0.0)] {
        near(frozen_share(celsius(t)).ratio(), share, 1e-9);
    }
    let share = |phase, t: f64| frozen_share_reported(phase, Some(celsius(t))).unwrap().ratio();
    near(share(Some(Snow), 5.0), 1.0, 0.0);
    near(share(Some(Rain), -5.0), 0.0, 0.0);
    near(share(Some(FreezingRain), -5.0), 0.0, 0.0);
    near(share(Some(IcePellets), 3.0), 1.0, 0.0);
    near(share(Some(Mixed), 1.25), 0.25, 1e-9);
    near(share(Some(Mixed), -2.0), 0.5, 0.0);
    near(share(None, 1.25), 0.25, 1e-9);
    assert!(frozen_share_reported(None, None).is_none());
}

// Frost point of −5 °C and 80 % is −7.014 °C (project table, section 1).
#[test]
fn frost() {
    use weather::frost::frost_likely;
    let likely = |pavement: f64| frost_likely(celsius(pavement), celsius(-5.0), percent(80.0)).unwrap();
    assert!(likely(-7.1) && !likely(-6.9));
    // Moist warm air over a pavement above freezing gives dew, not frost.
    assert!(!frost_likely(celsius(0.5), celsius(3.0), percent(95.0)).unwrap());
}
