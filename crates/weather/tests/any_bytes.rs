//! Aim: no forecast file, however broken, stops or hangs the program, and what is taken from one is possible weather.
//! Method: bytes and texts at random, and samples of all nine formats damaged at random. Whatever is read is laid on
//! hours, and every value in it is finite and within the limits that it is flagged by.

mod common;

use any_bytes::{cases, damaged_text, soon, text};
use common::time;
use proptest::prelude::*;
use quantity::{ThermodynamicTemperature, in_celsius, in_metres, in_metres_per_second, in_millimetres};
use weather::limits::{
    AIR_COLDEST, AIR_WARMEST, LIQUID_PER_HOUR, PAVEMENT_COLDEST, PAVEMENT_WARMEST, WIND_STRONGEST,
};
use weather::{GridOptions, Hour, HourLabel, Quantity, ReadOptions, Sample, Value, WeatherFile};

/// Hours laid: over all days of the samples but the airport's.
const HOURS: usize = 60;

/// What a reader may be told, and told nothing.
fn options() -> [ReadOptions; 3] {
    let told = ReadOptions {
        station: Some("KZZZ".into()),
        reference_time: Some(time("2026-01-14T12:00Z")),
        hour_label: Some(HourLabel::End),
    };
    [ReadOptions::default(), ReadOptions { station: None, ..told.clone() }, told]
}

/// The figure of a value, in the unit of its limits; none for what has none.
fn figure(value: &Value) -> Option<f64> {
    Some(match value {
        Value::Temperature(t) => in_celsius(*t),
        Value::Share(share) => share.percent(),
        Value::Speed(speed) => in_metres_per_second(*speed),
        Value::Length(length) => in_metres(*length),
        Value::Irradiance(irradiance) => irradiance.watts_per_square_metre(),
        Value::Pressure(pressure) => pressure.hectopascals(),
        Value::Bearing(bearing) => bearing.degrees(),
        Value::Salinity(salinity) => salinity.percent(),
        _ => return None,
    })
}

fn is_sound(sample: &Sample) -> bool {
    let within =
        |low: f64, high: f64| figure(&sample.value).is_none_or(|value| (low..=high).contains(&value));
    let is_figure = figure(&sample.value).is_none_or(f64::is_finite);
    let is_held = match (sample.quantity, &sample.value) {
        _ if sample.flags.impossible => true,
        (Quantity::PavementTemperature | Quantity::SubsurfaceTemperature, Value::Temperature(_)) => {
            within(PAVEMENT_COLDEST, PAVEMENT_WARMEST)
        }
        (Quantity::InPavementTemperature, Value::Temperature(_)) => {
            within(PAVEMENT_COLDEST, PAVEMENT_WARMEST)
        }
        (_, Value::Temperature(_)) => within(AIR_COLDEST, AIR_WARMEST),
        (Quantity::WindSpeed | Quantity::WindGust, Value::Speed(_)) => within(0.0, WIND_STRONGEST),
        (_, Value::Length(_) | Value::Speed(_)) => within(0.0, f64::MAX),
        (_, Value::Share(_) | Value::Salinity(_)) => within(0.0, 100.0),
        (_, Value::Bearing(_)) => within(0.0, 360.0),
        (_, Value::AsWritten(_)) => false,
        _ => true,
    };
    is_figure && is_held && sample.start <= sample.end
}

fn is_hour_sound(hour: &Hour) -> bool {
    let temperature = |t: Option<ThermodynamicTemperature>, low: f64, high: f64| {
        t.is_none_or(|t| (low..=high).contains(&in_celsius(t)))
    };
    let rain = hour.precipitation.map_or(0.0, in_millimetres);
    let wind = [hour.wind, hour.gust].into_iter().flatten().map(in_metres_per_second);
    temperature(hour.air, AIR_COLDEST, AIR_WARMEST)
        && temperature(hour.pavement, PAVEMENT_COLDEST, PAVEMENT_WARMEST)
        && temperature(hour.dew_point, AIR_COLDEST, AIR_WARMEST)
        // No colder than the driest air can make it.
        && temperature(hour.wet_bulb, AIR_COLDEST - 30.0, AIR_WARMEST)
        && wind.into_iter().all(|speed| (0.0..=WIND_STRONGEST).contains(&speed))
        && (0.0..=LIQUID_PER_HOUR * 24.0).contains(&rain)
}

fn look(file: &WeatherFile) -> Result<(), TestCaseError> {
    let samples = file.members.iter().map(|member| &member.samples).chain([&file.samples]);
    for sample in samples.flat_map(|samples| samples.all()) {
        prop_assert!(is_sound(sample), "{sample:?}");
    }
    let from = time("2026-01-14T00:00Z");
    let start = file.samples.all().first().map_or(from, |sample| sample.start);
    for begin in [from, start] {
        let grids = file.member_grids(begin, HOURS, GridOptions::default()).into_iter().map(|(_, grid)| grid);
        for grid in grids.chain([file.hourly(begin, HOURS, GridOptions::default())]) {
            prop_assert!(grid.hours.len() <= HOURS);
            for hour in &grid.hours {
                prop_assert!(is_hour_sound(hour), "{hour:?}");
            }
        }
    }
    let total = file.precipitation_total(from, start, weather::Rows::All, weather::Pressure::STANDARD);
    prop_assert!(in_millimetres(total.liquid).is_finite());
    let _ = (file.age(from), file.is_stale(from, true), file.as_perfect_forecast(start));
    Ok(())
}

fn read(text: &str) -> Result<(), TestCaseError> {
    soon(|| {
        for options in options() {
            match weather::read(text, &options) {
                Ok(file) => look(&file)?,
                Err(error) => {
                    prop_assert!(!error.to_string().is_empty());
                    prop_assert!(error.to_string().len() < 20_000, "a message as long as the file");
                }
            }
        }
        Ok(())
    })
}

/// Beginnings that lead past the guess of the format.
const BEGINNINGS: [&str; 9] = [
    "{\"properties\":{\"temperature\":{\"uom\":\"wmoUnit:degC\",\"values\":[",
    "{\"properties\":{\"periods\":[{",
    "{\"properties\":{\"timeseries\":[",
    "{\"hourly_units\":{\"time\":\"iso8601\"},\"utc_offset_seconds\":0,\"hourly\":{\"time\":[",
    "METAR KZZZ 140653Z ",
    "KZZZ 140653Z AUTO RMK AO2 ",
    "station,time_utc,object,index,raw_value\n",
    "# times are the start of the hour\ntime_utc,air_temp_c,precip_mm,weather\n",
    "origin,time_hour,temp,precip_liquid_in_per_hour_bin\n",
];

/// Samples of the formats that are JSON.
const FORECASTS: [&str; 5] =
    [common::NWS_GRID, common::NWS_HOURLY, common::MET_NORWAY, common::OPEN_METEO, common::ENSEMBLE];

proptest! {
    #![proptest_config(cases(48))]

    #[test]
    fn any_text_is_answered(text in text()) {
        read(&text)?;
    }

    #[test]
    fn any_text_after_a_good_beginning_is_answered(
        begin in prop::sample::select(&BEGINNINGS[..]), text in text(),
    ) {
        read(&format!("{begin}{text}"))?;
    }

    #[test]
    fn damaged_forecasts_are_answered(
        text in damaged_text(&FORECASTS),
    ) {
        read(&text)?;
    }

    #[test]
    fn damaged_reports_are_answered(text in damaged_text(&[common::METAR])) {
        read(&text)?;
    }

    #[test]
    fn damaged_tables_are_answered(text in damaged_text(&[common::STATION, common::PLAIN, common::AIRPORT])) {
        read(&text)?;
    }
}
