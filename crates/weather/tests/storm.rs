//! The real storm of 8 and 9 February 2013 at Newark and New York JFK.
//!
//! Expected numbers: the project's table "Numbers of the real storm", computed from the same records by another
//! program. The records are those named in `data/SOURCES.md`.

#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use common::{AIRPORT, air, near, station, time, water};
use message::message;
use quantity::{celsius, in_celsius, in_hours, in_metres_per_second, in_millimetres};
use weather::{
    ErrorKind, Format, GridOptions, Kind, NoticeKind, Pressure, Quantity, ReadOptions, Rows, WeatherFile,
};

fn total(file: &WeatherFile, from: &str, to: &str, rows: Rows) -> (f64, usize) {
    let total = file.precipitation_total(time(from), time(to), rows, Pressure::STANDARD);
    (in_millimetres(total.liquid), total.rows)
}

#[test]
fn storm_totals() {
    // Station, all, at or below 0 °C, wet bulb ≤ 0.5 and ≤ 1.0 °C, range of the wet bulb.
    let expected = [
        ("KEWR", 32.004, 19.812, 22.098, 27.432, (-2.59, 1.58)),
        ("KJFK", 24.130, 10.414, 16.510, 17.526, (-3.34, 1.78)),
    ];
    for (name, all, cold, half, one, range) in expected {
        let file = station(AIRPORT, name);
        // The table's window is 11Z to 08Z, both rows included: 22 rows.
        let of = |rows| total(&file, "2013-02-08T11:00Z", "2013-02-09T09:00Z", rows);
        near(of(Rows::All).0, all, 5e-4);
        assert_eq!(of(Rows::All).1, 22);
        near(of(Rows::AirAtOrBelow(celsius(0.0))).0, cold, 5e-4);
        near(of(Rows::WetBulbAtOrBelow(celsius(0.5))).0, half, 5e-4);
        near(of(Rows::WetBulbAtOrBelow(celsius(1.0))).0, one, 5e-4);
        let grid = file.hourly(time("2013-02-08T11:00Z"), 22, GridOptions::default());
        let bulbs: Vec<f64> = grid.hours.iter().map(|hour| in_celsius(hour.wet_bulb.unwrap())).collect();
        near(bulbs.iter().copied().fold(f64::INFINITY, f64::min), range.0, 5e-3);
        near(bulbs.iter().copied().fold(f64::NEG_INFINITY, f64::max), range.1, 5e-3);
        near(grid.hours.iter().filter_map(water).sum(), all, 5e-4);
    }
}

#[test]
fn whole_file() {
    // Station, rows, rows at or below 0 °C, liquid, mean and lowest air temperature.
    for (name, rows, cold, liquid, mean, lowest) in
        [("KEWR", 886, 477, 124.46, 0.235, -11.70), ("KJFK", 888, 478, 86.11, 0.123, -11.10)]
    {
        let file = station(AIRPORT, name);
        assert_eq!((file.format, file.kind), (Format::AirportCsv, Kind::Observation));
        let degrees: Vec<f64> =
            file.samples.of(Quantity::AirTemperature).iter().map(common::degrees).collect();
        assert_eq!(degrees.len(), rows);
        assert_eq!(degrees.iter().filter(|t| **t <= 1e-6).count(), cold);
        near(degrees.iter().sum::<f64>() / rows as f64, mean, 5e-4);
        near(degrees.iter().copied().fold(f64::INFINITY, f64::min), lowest, 5e-3);
        let (sum, counted) = total(&file, "2013-01-01T00:00Z", "2013-03-01T00:00Z", Rows::All);
        near(sum, liquid, 5e-3);
        assert_eq!(counted, rows);
    }
}

#[test]
fn a_station_must_be_chosen() {
    let error = weather::read(AIRPORT, &ReadOptions::default()).unwrap_err();
    assert_eq!(error.kind, ErrorKind::StationNeeded(vec!["KEWR".into(), "KJFK".into()]));
    let stations = message!("weather.accepted.stations", stations = "KEWR, KJFK");
    assert_eq!((*error.what, error.accepted), (message!("weather.station-not-chosen"), stations.into()));
    let other = ReadOptions { station: Some("KLGA".into()), ..ReadOptions::default() };
    let error = weather::read(AIRPORT, &other).unwrap_err();
    assert_eq!((&*error.what, error.found.as_str()), (&message!("weather.station-not-in-file"), "KLGA"));
}

// README of the data: KEWR lacks 2013-02-18T04Z and 2013-02-20T19Z, KJFK lacks none.
#[test]
fn missing_hours() {
    let (start, hours) = (time("2013-01-15T05:00Z"), 888);
    let grid = station(AIRPORT, "KEWR").hourly(start, hours, GridOptions::default());
    assert_eq!(grid.covers_until, time("2013-02-21T05:00Z"));
    let missing = [time("2013-02-18T04:00Z"), time("2013-02-20T19:00Z")];
    assert_eq!(grid.hours_without_precipitation(), missing);
    let filled: Vec<_> = grid.hours.iter().filter(|hour| hour.flags.filled).collect();
    // The wind of 2013-02-12T08Z is impossible, so that hour's wind is filled too.
    let starts: Vec<_> = filled.iter().map(|hour| hour.start).collect();
    assert_eq!(starts, [time("2013-02-12T08:00Z"), missing[0], missing[1]]);
    // 19.04 °F on both sides of the first hole: the line between is level.
    near(air(filled[1]).unwrap(), (19.04 - 32.0) / 1.8, 1e-6);
    // 33.08 and 32.0 °F around the second: the middle is 32.54 °F.
    near(air(filled[2]).unwrap(), 0.3, 1e-6);
    assert!(filled[1].precipitation.is_none(), "amounts are never filled");
    assert!(grid.open_gaps().is_empty());
    let grid = station(AIRPORT, "KJFK").hourly(start, hours, GridOptions::default());
    assert!(grid.hours_without_precipitation().is_empty());
    assert!(grid.hours.iter().all(|hour| !hour.flags.filled));
}

// The record itself holds 1048.361 mph at KEWR on 2013-02-12: over the 75 m/s of the project's rules.
#[test]
fn an_impossible_wind_is_flagged_and_not_used() {
    let file = station(AIRPORT, "KEWR");
    let sample = common::at(&file, Quantity::WindSpeed, "2013-02-12T08:00Z");
    assert!(sample.flags.impossible);
    near(in_metres_per_second(sample.value.speed().unwrap()), 1048.361 * 0.44704, 1e-6);
    assert!(file.notices.iter().any(|notice| notice.kind == NoticeKind::Impossible && notice.count >= 1));
    let grid = file.hourly(time("2013-02-12T08:00Z"), 1, GridOptions::default());
    assert!(grid.hours[0].flags.impossible);
    assert!(in_metres_per_second(grid.hours[0].wind.unwrap()) < 20.0);
}

// README of the data: KEWR 2013-01-27 07Z–12Z, 29.5 mm in clear, dry air at −7 °C: a gauge fault.
#[test]
fn the_gauge_fault_is_suspect() {
    let file = station(AIRPORT, "KEWR");
    let (from, to) = (time("2013-01-27T07:00Z"), time("2013-01-27T13:00Z"));
    let total = file.precipitation_total(from, to, Rows::All, Pressure::STANDARD);
    near(in_millimetres(total.liquid), 29.5, 0.05);
    near(in_millimetres(total.suspect), 29.5, 0.05);
    let rows = file.samples.of(Quantity::Precipitation).iter();
    assert_eq!(rows.filter(|sample| sample.flags.suspect).count(), 6);
    let with = file.hourly(from, 6, GridOptions::default());
    near(with.hours.iter().filter_map(water).sum(), 29.464, 1e-6);
    let without = file.hourly(from, 6, GridOptions { use_suspect: false, ..GridOptions::default() });
    near(without.hours.iter().filter_map(water).sum(), 0.0, 0.0);
    assert!(with.hours.iter().chain(&without.hours).all(|hour| hour.flags.suspect));
    // 24 % of the file's total, and no such water at KJFK.
    near(in_millimetres(total.liquid) / 124.46, 0.24, 5e-3);
    let jfk = station(AIRPORT, "KJFK").precipitation_total(from, to, Rows::All, Pressure::STANDARD);
    near(in_millimetres(jfk.liquid), 0.0, 0.0);
    // Nothing of the real storm is suspect.
    let storm = (time("2013-02-08T11:00Z"), time("2013-02-09T09:00Z"));
    let storm = file.precipitation_total(storm.0, storm.1, Rows::All, Pressure::STANDARD);
    near(in_millimetres(storm.suspect), 0.0, 0.0);
}

// README of the data: 25–26 January 2013 at KEWR, light snow, 0.04 in liquid, −6 to −7 °C.
#[test]
fn the_light_snow_of_january() {
    let file = station(AIRPORT, "KEWR");
    let (from, to) = (time("2013-01-25T12:00Z"), time("2013-01-26T12:00Z"));
    let total = file.precipitation_total(from, to, Rows::All, Pressure::STANDARD);
    near(in_millimetres(total.liquid), 0.04 * 25.4, 1e-6);
    let grid = file.hourly(from, 24, GridOptions::default());
    for hour in grid.hours.iter().filter(|hour| hour.is_wet() == Some(true)) {
        assert!((-7.5..=-5.5).contains(&air(hour).unwrap()));
        near(hour.frozen_share.unwrap().ratio(), 1.0, 0.0);
    }
}

#[test]
fn a_record_as_a_perfect_forecast() {
    let issue = time("2013-02-08T06:00Z");
    let file = station(AIRPORT, "KEWR");
    let forecast = file.as_perfect_forecast(issue);
    assert_eq!((forecast.kind, forecast.issued), (Kind::Forecast, Some(issue)));
    let window = (time("2013-02-08T06:00Z"), 48);
    let (seen, made) = (
        file.hourly(window.0, window.1, GridOptions::default()),
        forecast.hourly(window.0, window.1, GridOptions::default()),
    );
    assert_eq!(seen.hours, made.hours);
    // What was seen before stays: a road remembers it.
    let before = time("2013-02-08T00:00Z");
    let (seen, kept) =
        (file.hourly(before, 6, GridOptions::default()), forecast.hourly(before, 6, GridOptions::default()));
    assert_eq!(seen.hours, kept.hours);
}

// The two limits are the project's own: 90 min for an observation, 6 h for a forecast in a storm.
#[test]
fn age_and_staleness() {
    let file = station(AIRPORT, "KEWR");
    near(in_hours(file.age(time("2013-02-21T05:00Z")).unwrap()), 1.0, 1e-12);
    assert_eq!(file.is_stale(time("2013-02-21T05:30Z"), false), Some(false));
    assert_eq!(file.is_stale(time("2013-02-21T05:31Z"), false), Some(true));
    let forecast = file.as_perfect_forecast(time("2013-02-08T06:00Z"));
    assert_eq!(forecast.is_stale(time("2013-02-08T12:00Z"), true), Some(false));
    assert_eq!(forecast.is_stale(time("2013-02-08T12:01Z"), true), Some(true));
    assert_eq!(forecast.is_stale(time("2013-02-08T13:00Z"), false), Some(false));
    assert_eq!(common::plain(common::PLAIN).is_stale(time("2026-01-14T13:00Z"), true), None);
}

#[test]
fn a_window_past_the_record() {
    let grid = station(AIRPORT, "KJFK").hourly(time("2013-02-20T22:30Z"), 72, GridOptions::default());
    assert_eq!(grid.hours[0].start, time("2013-02-20T22:00Z"));
    assert_eq!(grid.hours.len(), 72);
    assert_eq!(grid.covers_until, time("2013-02-21T05:00Z"));
    assert!(grid.hours[7..].iter().all(|hour| hour.air.is_none() && hour.precipitation.is_none()));
    assert!(grid.open_gaps().is_empty(), "after the end is not a gap");
}
