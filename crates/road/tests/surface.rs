//! The energy balance, against an independent solver, a measured winter month and laws that must hold.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use common::Table;
use jiff::Timestamp;
use proptest::prelude::*;
use road::film::Film;
use road::section::{Exchange, Section};
use road::sky::{Place, Sun};
use road::surface::{Forcing, Road, Weather};

const STEP: f64 = 300.0;

fn vapour(air: f64, humidity: f64) -> f64 {
    humidity.min(100.0) / 100.0 * 6.112 * (17.62 * air / (243.12 + air)).exp()
}

/// The sun of the reference's level surface; its direction does not matter on an open road.
const UP: Sun = Sun { elevation: 45.0, azimuth: 180.0 };

#[test]
fn the_balance_follows_an_independent_solver() {
    let table = Table::of("seb_reference_series.csv");
    let knots: Vec<Weather> = table
        .rows
        .iter()
        .map(|row| {
            let [air, humidity, wind, cloud, shortwave] =
                ["air_degC", "RH_pct", "wind_m_s", "cloud_fraction", "shortwave_W_m2"]
                    .map(|name| table.at(row, name));
            Weather {
                air,
                vapour: vapour(air, humidity),
                wind,
                cloud,
                shortwave,
                longwave: None,
                rain: 0.0,
                snow: 0.0,
            }
        })
        .collect();
    let section = Section {
        depth: 2.0,
        albedo: 0.1,
        exchange: Exchange::Line { still: 5.7, by_wind: 3.8 },
        ..Section::ASPHALT
    };
    let mut road = Road::new(section, |depth| -2.0 + 3.0 * depth, None);
    let (mut squares, mut worst, mut count) = (0.0, 0.0_f64, 0.0);
    for hour in 0..knots.len() - 1 {
        for step in 1..=12 {
            let weather = knots[hour].between(&knots[hour + 1], f64::from(step) / 12.0);
            road.step(&Forcing::new(&weather, UP, STEP), STEP);
        }
        let off = road.surface() - table.at(&table.rows[hour + 1], "surface_degC_reference");
        if hour + 1 > 3 {
            (squares, worst, count) = (squares + off * off, worst.max(off.abs()), count + 1.0);
        }
    }
    let rmse = f64::sqrt(squares / count);
    assert!(count > 100.0 && rmse <= 0.05 && worst <= 0.15, "rmse {rmse:.3} K, worst {worst:.3} K");
}

/// Bare soil, not pavement, with measured longwave: within 1.65 K as first guessed.
#[test]
fn a_measured_january_is_followed() {
    let table = Table::of("bondville_1998.csv");
    let place = Place { latitude: 40.01, longitude: -88.37 };
    // Soil of the site: wet, of a low conductivity, whose water freezes.
    let section = Section {
        conductivity: 1.0,
        heat_capacity: 2.4e6,
        base_water: 0.10,
        albedo: 0.2,
        emissivity: 0.97,
        exchange: Exchange::Bulk { height: 4.0, roughness: 1e-2, heat_ratio: 0.1, floor: 2.0 },
        ..Section::ASPHALT
    };
    let mut road = Road::new(section, |depth| -3.0 + 6.0 * depth.min(1.0), Some(8.0));
    let (mut sum, mut squares, mut air_squares, mut count) = (0.0, 0.0, 0.0, 0.0);
    for row in &table.rows {
        let names = [
            "air_temp_3m_degC",
            "rel_humidity_pct",
            "wind_speed_6m_m_s",
            "shortwave_in_W_m2",
            "longwave_in_W_m2",
            "rain_mm",
            "skin_temp_infrared_degC",
        ];
        let [Some(air), Some(humidity), Some(wind), Some(shortwave), Some(longwave), Some(rain), Some(skin)] =
            names.map(|name| table.number(row, name))
        else {
            continue;
        };
        let end: jiff::Timestamp =
            format!("{}:00Z", table.text(row, "time_end_local_standard")).parse().unwrap();
        let at = end + jiff::SignedDuration::from_hours(6);
        let weather = Weather {
            air,
            vapour: vapour(air, humidity),
            wind,
            cloud: 0.0,
            shortwave: shortwave.max(0.0),
            longwave: Some(longwave),
            rain: if air > 1.0 { 2.0 * rain } else { 0.0 },
            snow: if air > 1.0 { 0.0 } else { 2.0 * rain },
        };
        for _ in 0..6 {
            road.step(&Forcing::new(&weather, Sun::at(place, at), STEP), STEP);
        }
        if count > 200.0 {
            let (off, by_air) = (road.surface() - skin, air - skin);
            (sum, squares, air_squares) = (sum + off, squares + off * off, air_squares + by_air * by_air);
        }
        count += 1.0;
    }
    let used = count - 201.0;
    let (bias, rmse, by_air) = (sum / used, f64::sqrt(squares / used), f64::sqrt(air_squares / used));
    assert!(rmse <= 1.65 && rmse < 0.8 * by_air, "bias {bias:.2}, rmse {rmse:.2} K, air {by_air:.2} K");
}

/// Weather that stays: air, humidity, wind, cloud, sun, rain, snow.
fn steady(air: f64, humidity: f64, wind: f64, cloud: f64, falls: [f64; 2]) -> Forcing {
    let weather = Weather {
        air,
        vapour: vapour(air, humidity),
        wind,
        cloud,
        shortwave: 0.0,
        longwave: None,
        rain: falls[0],
        snow: falls[1],
    };
    Forcing::new(&weather, Sun { elevation: -20.0, azimuth: 0.0 }, STEP)
}

#[test]
fn rain_on_a_frozen_road_freezes_and_holds_it_near_zero() {
    let mut road = Road::new(Section::ASPHALT, |depth| -8.0 + 4.0 * depth, Some(4.0));
    let rain = steady(1.0, 95.0, 3.0, 1.0, [0.5, 0.0]);
    let mut formed = 0.0;
    for _ in 0..24 {
        let ice = road.step(&rain, STEP);
        formed += ice.frozen;
        assert!(ice.refrozen.abs() < 1e-12);
    }
    assert!(formed > 0.2 && road.surface() > -4.0 && road.surface() <= 0.0, "{formed} {}", road.surface());
}

#[test]
fn salt_keeps_a_cold_road_wet_and_melts_what_lies_there() {
    let run = |salt: f64| {
        let mut road = Road::new(Section::ASPHALT, |_| -3.0, Some(0.0));
        road.film = Film { salt, snow: 0.5, ..Film::default() };
        for _ in 0..(6 * 12) {
            road.step(&steady(-3.0, 85.0, 3.0, 1.0, [0.0, 0.0]), STEP);
        }
        road.film
    };
    let (bare, salted) = (run(0.0), run(40.0));
    assert!(bare.water < 1e-9 && bare.snow > 0.4, "{bare:?}");
    assert!(salted.water > 0.3, "{salted:?}");
}

#[test]
fn water_that_melted_here_refreezes_and_rain_freezes() {
    let mut road = Road::new(Section::ASPHALT, |_| 1.0, Some(2.0));
    road.film = Film { snow: 0.3, ..Film::default() };
    for _ in 0..(6 * 12) {
        road.step(&steady(3.0, 95.0, 2.0, 1.0, [0.0, 0.0]), STEP);
    }
    assert!(road.film.water > 0.1 && road.film.snow < 0.01, "{:?}", road.film);
    let mut refrozen = 0.0;
    let mut frozen = 0.0;
    for _ in 0..(8 * 12) {
        let ice = road.step(&steady(-6.0, 90.0, 1.0, 0.0, [0.0, 0.0]), STEP);
        refrozen += ice.refrozen;
        frozen += ice.frozen;
    }
    // A little dew came with the thaw, and it had not been frozen before.
    assert!(refrozen > 0.05 && frozen < 0.2 * refrozen, "{refrozen} {frozen}");
}

#[test]
fn a_clear_calm_damp_night_brings_frost_and_a_cloudy_one_none() {
    let hoar = |cloud: f64, humidity: f64| {
        let mut road = Road::new(Section::ASPHALT, |depth| 0.5 + 2.0 * depth, Some(4.0));
        (0..(10 * 12))
            .map(|_| road.step(&steady(-1.5, humidity, 0.8, cloud, [0.0, 0.0]), STEP).hoar)
            .sum::<f64>()
    };
    assert!(hoar(0.0, 97.0) > 0.01, "{}", hoar(0.0, 97.0));
    assert!(hoar(0.0, 60.0) < 1e-4, "{}", hoar(0.0, 60.0));
}

#[test]
fn a_deck_is_colder_than_a_road_at_the_end_of_a_night() {
    let after = |section: Section| {
        let mut road = Road::new(section, |_| 6.0, Some(8.0));
        for _ in 0..(14 * 12) {
            road.step(&steady(-2.0, 80.0, 2.0, 0.3, [0.0, 0.0]), STEP);
        }
        road.surface()
    };
    let (deck, road) = (after(Section::DECK), after(Section::ASPHALT));
    assert!(deck < road - 0.5, "{deck} {road}");
}

proptest! {
    /// Nothing that weather may do makes the balance lose its numbers, and water neither comes nor goes but by the sky,
    /// the air, the gutter and the tires.
    #[test]
    fn any_weather_leaves_numbers(
        air in -40.0..35.0_f64, humidity in 5.0..100.0_f64, wind in 0.0..30.0_f64, cloud in 0.0..1.0_f64,
        rain in 0.0..20.0_f64, snow in 0.0..20.0_f64, salt in 0.0..60.0_f64, begin in -25.0..25.0_f64,
    ) {
        let mut road = Road::new(Section::ASPHALT, |_| begin, Some(3.0));
        road.film.salt = salt;
        for _ in 0..60 {
            road.step(&steady(air, humidity, wind, cloud, [rain, snow]), STEP);
            prop_assert!((-80.0..80.0).contains(&road.surface()), "{}", road.surface());
            let film = road.film;
            for value in [film.salt, film.water, film.ice, film.snow, film.melted] {
                prop_assert!(value.is_finite() && value >= -1e-12, "{film:?}");
            }
            prop_assert!(film.melted <= film.water + 1e-9, "{film:?}");
        }
    }
}

/// What readings say the model is off by is added to it: on a dry road in full, on a melting one not past freezing.
#[test]
fn a_correction_moves_the_surface_and_not_the_ground() {
    let weather = |rain: f64| Weather {
        air: -4.0,
        vapour: 3.0,
        wind: 3.0,
        cloud: 0.8,
        shortwave: 0.0,
        longwave: None,
        rain,
        snow: 0.0,
    };
    let run = |bias: f64| {
        let mut road = Road::new(Section::ASPHALT, |_| -2.0, Some(2.0));
        road.set_bias(bias);
        let place = Place { latitude: 43.0, longitude: -75.0 };
        for forcing in Forcing::series(place, Timestamp::UNIX_EPOCH, &[weather(0.0); 24], true, 600, 0) {
            road.step(&forcing, 600.0);
        }
        road
    };
    let (plain, warmer) = (run(0.0), run(1.5));
    // Its vapor takes a little of it.
    assert!((warmer.surface() - plain.surface() - 1.5).abs() < 0.1, "{}", warmer.surface() - plain.surface());
    assert!((warmer.below(0.3) - plain.below(0.3)).abs() < 0.1);
}
