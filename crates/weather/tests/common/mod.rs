//! Helpers shared by the tests.
#![allow(dead_code, reason = "each test file uses its own part")]
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use jiff::Timestamp;
use quantity::{in_celsius, in_millimetres};
use weather::{Hour, Quantity, ReadOptions, Sample, WeatherFile};

pub const NWS_GRID: &str = include_str!("../data/nws_gridpoint.json");
pub const NWS_HOURLY: &str = include_str!("../data/nws_hourly.json");
pub const METAR: &str = include_str!("../data/metar.txt");
pub const MET_NORWAY: &str = include_str!("../data/met_norway_locationforecast.json");
pub const OPEN_METEO: &str = include_str!("../data/open_meteo_hourly.json");
pub const ENSEMBLE: &str = include_str!("../data/open_meteo_ensemble.json");
pub const STATION: &str = include_str!("../data/ess_ntcip1204_raw.csv");
pub const PLAIN: &str = include_str!("../data/plain_hourly.csv");
pub const AIRPORT: &str = include_str!("../data/nyc_winter_2013.csv");

pub fn all() -> [&'static str; 9] {
    [NWS_GRID, NWS_HOURLY, METAR, MET_NORWAY, OPEN_METEO, ENSEMBLE, STATION, PLAIN, AIRPORT]
}

pub fn time(text: &str) -> Timestamp {
    text.parse().unwrap()
}

pub fn plain(text: &str) -> WeatherFile {
    weather::read(text, &ReadOptions::default()).unwrap()
}

pub fn station(text: &str, name: &str) -> WeatherFile {
    let options = ReadOptions {
        station: Some(name.into()),
        reference_time: Some(time("2026-01-14T12:00Z")),
        hour_label: None,
    };
    weather::read(text, &options).unwrap()
}

#[track_caller]
pub fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "found {found}, expected {expected} ± {tolerance}");
}

pub fn at<'a>(file: &'a WeatherFile, quantity: Quantity, start: &str) -> &'a Sample {
    file.samples.of(quantity).iter().find(|sample| sample.start == time(start)).unwrap()
}

pub fn degrees(sample: &Sample) -> f64 {
    in_celsius(sample.value.temperature().unwrap())
}

pub fn depth(sample: &Sample) -> f64 {
    in_millimetres(sample.value.length().unwrap())
}

pub fn sum(file: &WeatherFile, quantity: Quantity) -> f64 {
    file.samples.of(quantity).iter().map(depth).sum()
}

pub fn water(hour: &Hour) -> Option<f64> {
    hour.precipitation.map(in_millimetres)
}

pub fn air(hour: &Hour) -> Option<f64> {
    hour.air.map(in_celsius)
}
