//! What lies on the road, against tables made apart from this code.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use common::Table;
use road::film::{Film, brine_share, liquid_by_salt, loss_per_vehicle, strength_on_ice_curve};

/// Salt and water of 40 gal a lane-mile of 23.3 % brine, g/m² (12-ft lane).
const SALT: f64 = 7.054;
const WATER: f64 = 23.22;

#[test]
fn hours_to_the_limit_are_as_integrated_elsewhere() {
    let table = Table::of("film_time_to_limit.csv");
    for row in &table.rows {
        let [precipitation, surface, loss, limit, hours] = [
            "precip_mm_h",
            "surface_degC",
            "brine_loss_rate_per_h",
            "brine_fraction_limit",
            "hours_to_limit",
        ]
        .map(|name| table.at(row, name));
        // Loss takes brine: salt and water alike. Rain and melting bring water.
        let (mut salt, mut water, mut time) = (SALT, WATER / 1000.0, 0.0);
        let step = 2e-4;
        // A limit of 1 is reached when the first ice can form.
        while brine_share(salt, water, surface) >= if limit < 1.0 { limit } else { 1.0 - 1e-12 }
            && time < 30.0
        {
            let kept = 1.0 - loss * step;
            salt *= kept;
            water = water * kept + precipitation * step;
            time += step;
        }
        assert!((time - hours).abs() <= (0.01 * hours).max(0.005), "{row:?}: {time:.4} h");
    }
}

#[test]
fn brine_takes_up_as_much_water_as_the_ice_curve_allows() {
    let table = Table::of("film_water_tolerance.csv");
    for row in &table.rows {
        let [salt, own, surface, first] =
            ["salt_g_m2", "brine_water_g_m2", "surface_degC", "extra_water_first_ice_g_m2"]
                .map(|name| table.at(row, name));
        let room = 1000.0 * salt * liquid_by_salt(surface) - own;
        assert!((room - first).abs() <= (0.01 * first).max(0.3), "{row:?}: {room}");
    }
}

#[test]
fn two_rates_of_live_trials_land_on_the_same_moist_film() {
    let table = Table::of("film_uk_brine_trials.csv");
    for row in &table.rows {
        let [salt, surface, percent, allowed] =
            ["salt_g_m2", "surface_degC", "brine_pct", "existing_water_allowed_no_ice_g_m2"]
                .map(|n| table.at(row, n));
        let own = salt * (100.0 / percent - 1.0);
        let room = 1000.0 * salt * liquid_by_salt(surface) - own;
        assert!((room - allowed).abs() < 3.0, "{row:?}: {room}");
        // 0.05 to 0.10 mm: what a wet or moist road holds.
        assert!((50.0..106.0).contains(&room), "{room}");
    }
}

#[test]
fn residue_takes_up_water_as_humidity_says() {
    let table = Table::of("film_hygroscopic_equilibrium.csv");
    for row in &table.rows {
        let [humidity, held] =
            ["RH_at_surface_pct", "water_held_by_7.054_g_salt_g_m2"].map(|n| table.at(row, n));
        let film = Film { salt: SALT, water: held / 1000.0, ..Film::default() };
        assert!((100.0 * film.activity() - humidity).abs() < 0.35, "{humidity}: {}", film.activity());
    }
    // Dry residue is a saturated film.
    let dry = Film { salt: SALT, ..Film::default() };
    assert!((dry.activity() - 0.753).abs() < 0.003, "{}", dry.activity());
}

#[test]
fn tires_throw_little_brine() {
    let table = Table::of("spray_loss.csv");
    for row in table.rows.iter().filter(|row| table.text(row, "parameter_set").contains("v12")) {
        let [speed, heavy, loss, thin] = [
            "speed_km_h",
            "heavy_share",
            "loss_pct_per_1000_vehicles_thick_film",
            "loss_pct_per_1000_vehicles_film_0.15mm",
        ]
        .map(|name| table.at(row, name));
        let of = |water: f64| 100.0 * (1.0 - (-1000.0 * loss_per_vehicle(speed, heavy, water)).exp());
        assert!((of(1e6) - loss).abs() < 0.002 + 0.005 * loss, "{row:?}: {}", of(1e6));
        assert!((of(0.15) - thin).abs() < 0.002 + 0.005 * thin, "{row:?}: {}", of(0.15));
    }
}

#[test]
fn strength_and_freezing_point_go_back_and_forth() {
    for surface in [-0.5, -2.0, -7.0, -15.0, -20.5] {
        let strength = strength_on_ice_curve(surface);
        let film = Film { salt: strength, water: (100.0 - strength) / 1000.0, ..Film::default() };
        assert!((film.freezing_point() - surface).abs() < 0.02, "{surface}: {}", film.freezing_point());
    }
    assert!(Film::default().freezing_point().abs() < 1e-12);
}

#[test]
fn a_plow_leaves_a_fifth_of_the_snow_and_most_of_the_salt() {
    let mut film = Film { salt: 10.0, water: 0.2, ice: 1.0, snow: 5.0, melted: 0.1 };
    film.plow();
    let expected = Film { salt: 7.0, water: 0.1, ice: 0.7, snow: 1.0, melted: 0.05 };
    for (found, wanted) in
        [(film.salt, expected.salt), (film.water, expected.water), (film.ice, expected.ice)]
    {
        assert!((found - wanted).abs() < 1e-12);
    }
    assert!((film.snow - 1.0).abs() < 1e-12 && (film.melted - 0.05).abs() < 1e-12);
}

/// Drying and dew by bulk transfer: our vapor pressures and activities against a table worked out apart, which takes
/// printed activities at 25 °C.
#[test]
fn vapor_leaves_and_settles_as_worked_out_elsewhere() {
    let table = Table::of("film_vapour_flux.csv");
    let mut rows = 0;
    for row in &table.rows {
        let [surface, humidity, wind, flux] =
            ["surface_and_air_degC", "RH_pct", "wind_m_s", "flux_g_m2_h_positive_drying"]
                .map(|name| table.at(row, name));
        let film = match table.text(row, "film") {
            "pure water" => Film { water: 1.0, ..Film::default() },
            "10% brine" => Film::of_brine(1.0, 10.0),
            "23.3% brine" => Film::of_brine(1.0, 23.3),
            _ => Film { salt: SALT, ..Film::default() },
        };
        let saturation = weather::psychrometrics::saturation_over_water(quantity::celsius(surface));
        let density = 100.0 * saturation.unwrap().hectopascals() / (461.5 * (surface + 273.15));
        let found = 2.769e-3 * wind * density * (film.activity() - humidity / 100.0) * 3600.0 * 1000.0;
        // Half a per cent of the vapor at the surface: activities are printed to three figures.
        let whole = 2.769e-3 * wind * density * 3.6e6;
        assert!((found - flux).abs() < 0.03 * flux.abs() + 0.006 * whole, "{row:?}: {found}");
        rows += 1;
    }
    assert!(rows > 40, "{rows}");
}

/// What a plan draws of the air is what public forecasts were off by.
#[test]
fn members_are_as_far_off_as_forecasts_are() {
    use road::story::{Story, air_deviation};
    let table = Table::of("forecast_error_us_cold_season.csv");
    for row in &table.rows {
        let [lead, found] = ["lead_h", "sd_city_debiased"].map(|name| table.at(row, name));
        assert!((air_deviation(lead) - found).abs() < 0.15, "{row:?}: {}", air_deviation(lead));
    }
    let hours: Vec<weather::Hour> = (0..60)
        .map(|hour| weather::Hour {
            air: Some(quantity::celsius(-3.0)),
            ..weather::Hour::unknown(jiff::Timestamp::UNIX_EPOCH + jiff::SignedDuration::from_hours(hour))
        })
        .collect();
    let place = road::sky::Place { latitude: 43.0, longitude: -75.0 };
    let story = Story::of(&hours, 0, place, weather::Pressure::STANDARD).unwrap();
    let drawn: Vec<Story> = (0..1000).map(|number| story.member(7, number, None)).collect();
    for lead in [12, 24, 48] {
        let off = drawn.iter().map(|one| one.hours[lead].weather.air + 3.0);
        let deviation = (off.map(|off| off * off).sum::<f64>() / 1000.0).sqrt();
        let said = air_deviation(lead as f64 + 0.5);
        assert!((deviation / said - 1.0).abs() < 0.1, "{lead} h: {deviation} and {said}");
    }
}

/// What nobody knows is drawn wider, and nothing is made up: the middle stays where it was.
#[test]
fn what_is_missing_widens_the_range() {
    use road::story::Story;
    let hour = |humidity: bool, hour: i64| weather::Hour {
        air: Some(quantity::celsius(-3.0)),
        wind: humidity.then(|| quantity::metres_per_second(2.0)),
        relative_humidity: if humidity { weather::Fraction::from_ratio(0.8).ok() } else { None },
        ..weather::Hour::unknown(jiff::Timestamp::UNIX_EPOCH + jiff::SignedDuration::from_hours(hour))
    };
    let place = road::sky::Place { latitude: 43.0, longitude: -75.0 };
    let spread = |known: bool| {
        let hours: Vec<weather::Hour> = (0..36).map(|at| hour(known, at)).collect();
        let story = Story::of(&hours, 0, place, weather::Pressure::STANDARD).unwrap();
        let members = (0..300).map(|number| story.member(3, number, None).hours[24].weather);
        let winds: Vec<f64> = members.map(|weather| weather.wind.ln()).collect();
        let mean = winds.iter().sum::<f64>() / 300.0;
        (mean, (winds.iter().map(|wind| (wind - mean).powi(2)).sum::<f64>() / 300.0).sqrt())
    };
    let ((mean, known), (_, guessed)) = (spread(true), spread(false));
    assert!((mean - 2.0_f64.ln()).abs() < 0.1 && guessed > 1.8 * known, "{mean} {known} {guessed}");
}

/// How long a spraying works under light snow, by the whole road step by step, against the table of the film alone.
#[test]
fn a_spraying_works_as_long_as_its_film() {
    use road::course::Start;
    use road::course::given::works;
    use road::story::Story;
    let table = Table::of("film_time_to_limit.csv");
    let mut compared = 0;
    for row in &table.rows {
        let [water, surface, loss, limit, hours] = [
            "precip_mm_h",
            "surface_degC",
            "brine_loss_rate_per_h",
            "brine_fraction_limit",
            "hours_to_limit",
        ]
        .map(|name| table.at(row, name));
        if loss > 0.0 || limit < 1.0 || !(0.5..8.0).contains(&hours) {
            continue;
        }
        let hour = |at: i64| weather::Hour {
            air: Some(quantity::celsius(surface)),
            pavement: Some(quantity::celsius(surface)),
            // Neither dries nor dews much: at the activity of a film that ice begins in.
            relative_humidity: weather::Fraction::from_ratio(0.95).ok(),
            wind: Some(quantity::metres_per_second(0.3)),
            precipitation: Some(quantity::millimetres(water)),
            frozen_share: Some(weather::Fraction::ONE),
            ..weather::Hour::unknown(jiff::Timestamp::UNIX_EPOCH + jiff::SignedDuration::from_hours(at))
        };
        let hours_ahead: Vec<weather::Hour> = (0..12).map(hour).collect();
        let place = road::sky::Place { latitude: 43.0, longitude: -75.0 };
        let story = Story::of(&hours_ahead, 0, place, weather::Pressure::STANDARD).unwrap();
        let forcing = story.forcing(road::course::STEP, 0);
        let start = Start::new(road::section::Section::ASPHALT, &story, &forcing, &[]);
        let film = Film { salt: 7.054, water: 0.02322, ..Film::default() };
        let mut road = start.road().clone();
        road.film = film;
        let found = works(&road, 0.0, &story, &forcing).first_ice.unwrap();
        // Steps are ten minutes, and some vapor comes and goes.
        assert!((found - hours).abs() < 0.2 + 0.12 * hours, "{row:?}: {found}");
        compared += 1;
    }
    assert!(compared >= 4, "{compared}");
}
