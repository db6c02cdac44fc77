//! Raw values of an environmental sensor station (NTCIP 1204 objects) as a table of integers.

use super::options::{ReadOptions, choose_station};
use crate::build::{Builder, Source, When};
use crate::clock::{self, HOUR, from_seconds, seconds_between};
use crate::csv_lines::{self, Row, is_missing};
use crate::error::{ErrorKind, Place, ReadError};
use crate::file::{Format, Kind, WeatherFile};
use crate::notice::NoticeKind;
use crate::sample::{Flags, Quantity, Value};
use crate::units::Unit;
use crate::words;
use chemistry::MassFraction;
use jiff::Timestamp;
use message::{Message, message};
use quantity::metres_per_second;
use std::collections::{BTreeMap, BTreeSet};

const HEADER: [&str; 5] = ["station", "time_utc", "object", "index", "raw_value"];
/// The value that a faulty temperature sensor sends.
const TEMPERATURE_FAULT: i64 = -1000;
const NO_TEMPERATURE: i64 = 1001;
const NO_VALUE: i64 = 65_535;
/// Pavement sensor errors that make a temperature useless: cut cable and short circuit. "No response" and "other"
/// come together with good temperatures in the field, so they do not.
const BROKEN: [i64; 2] = [4, 5];

/// How the raw integer of an object becomes a value.
enum Object {
    Number { quantity: Quantity, unit: Unit, scale: f64, none: i64 },
    HourlyAmount,
    Rate,
    Salinity,
    Situation,
    Code { quantity: Quantity },
}

struct Reading {
    line: usize,
    time: Timestamp,
    sensor: u16,
    raw: i64,
}

/// Whether a header row is the one of this table.
pub(super) fn looks_like(header: &Row<'_>) -> bool {
    let has = |wanted: &str| header.cells.iter().any(|cell| cell.eq_ignore_ascii_case(wanted));
    has("object") && has("raw_value")
}

/// Reads a table of raw station values.
pub(super) fn read(text: &str, options: &ReadOptions) -> Result<WeatherFile, ReadError> {
    let table = csv_lines::table(text)?;
    if !table.header.cells.iter().map(|cell| cell.to_lowercase()).eq(HEADER) {
        let found = table.header.cells.join(",");
        let (place, what) = (Place::Line(table.header.line), message!("weather.not-station-columns"));
        return Err(ReadError::new(ErrorKind::UnknownColumn, place, what, &found, HEADER.join(",")));
    }
    let stations: BTreeSet<&str> = table.rows.iter().map(|row| &*row.cells[0]).collect();
    let station = choose_station(&stations.into_iter().collect::<Vec<_>>(), options)?;
    let mut builder = Builder::default();
    let mut latest: Option<Timestamp> = None;
    // Later lines replace earlier ones of the same object, sensor and time.
    let mut readings: BTreeMap<(&str, u16, Timestamp), Reading> = BTreeMap::new();
    for row in table.rows.iter().filter(|row| Some(&*row.cells[0]) == station.as_deref()) {
        let Some(reading) = reading_of(row, latest)? else { continue };
        latest = Some(reading.time);
        let key = (&*row.cells[2], reading.sensor, reading.time);
        if let Some(before) = readings.insert(key, reading) {
            let first = message!("weather.line-dropped", dropped = before.line, kept = row.line);
            builder.tally.count_at(NoticeKind::Duplicate, message!("weather.later-line-kept"), first);
        }
    }
    let broken = broken_sensors(&readings);
    let mut totals = Vec::new();
    for ((name, sensor, time), reading) in &readings {
        match object(name) {
            Some(Object::HourlyAmount) => totals.push(reading),
            Some(object) => add(&object, reading, broken.contains(&(*sensor, *time)), &mut builder),
            None => {
                builder.tally.count(NoticeKind::NotUsed, message!("weather.object-not-used", name = *name))
            }
        }
    }
    add_hourly_totals(&totals, &mut builder);
    for (sensor, time) in &broken {
        let first = message!("weather.sensor-at", sensor = u32::from(*sensor), time = *time);
        builder.tally.count_at(NoticeKind::SensorFault, message!("weather.sensor-cable"), first);
    }
    let (samples, tally) = builder.finish(true);
    Ok(WeatherFile {
        format: Format::StationCsv,
        kind: Kind::Observation,
        station,
        issued: None,
        latest,
        elevation: None,
        samples,
        members: Vec::new(),
        notices: tally.into_notices(),
    })
}

fn reading_of(row: &Row<'_>, before: Option<Timestamp>) -> Result<Option<Reading>, ReadError> {
    let [_, time, _, index, raw] = &row.cells[..] else { return Ok(None) };
    let line = row.line;
    let bad = |kind, what: &str, found: &str, accepted: &str| {
        ReadError::new(kind, Place::Line(line), Message::from(what), found, Message::from(accepted))
    };
    let parsed = clock::with_offset(time)
        .or_else(|| clock::without_offset(time, 0))
        .ok_or_else(|| bad(ErrorKind::BadValue, "weather.not-a-time", time, "weather.accepted.time"))?;
    if before.is_some_and(|before| parsed < before) {
        return Err(bad(ErrorKind::TimeOrder, "weather.time-order", time, "weather.accepted.rising-times"));
    }
    if is_missing(raw) {
        return Ok(None);
    }
    let sensor = if index.is_empty() { Ok(0) } else { index.parse::<u16>() };
    let sensor = sensor.map_err(|_| {
        bad(ErrorKind::BadValue, "weather.not-a-sensor-number", index, "weather.accepted.sensor-number")
    })?;
    let raw = raw
        .parse::<i64>()
        .map_err(|_| bad(ErrorKind::BadValue, "weather.raw-not-whole", raw, "weather.accepted.raw-value"))?;
    Ok(Some(Reading { line, time: parsed, sensor, raw }))
}

fn broken_sensors(readings: &BTreeMap<(&str, u16, Timestamp), Reading>) -> BTreeSet<(u16, Timestamp)> {
    let broken = |(key, reading): (&(&str, u16, Timestamp), &Reading)| {
        (key.0 == "essPavementSensorError" && BROKEN.contains(&reading.raw)).then_some((key.1, key.2))
    };
    readings.iter().filter_map(broken).collect()
}

fn object(name: &str) -> Option<Object> {
    let temperature =
        |quantity| Object::Number { quantity, unit: Unit::Celsius, scale: 0.1, none: NO_TEMPERATURE };
    let number = |quantity, unit, scale, none| Object::Number { quantity, unit, scale, none };
    Some(match name {
        "essAirTemperature" => temperature(Quantity::AirTemperature),
        "essWetbulbTemp" => temperature(Quantity::WetBulb),
        "essDewpointTemp" => temperature(Quantity::DewPoint),
        "essSurfaceTemperature" => temperature(Quantity::PavementTemperature),
        "essPavementTemperature" => temperature(Quantity::InPavementTemperature),
        "essSubSurfaceTemperature" => temperature(Quantity::SubsurfaceTemperature),
        "essSurfaceFreezePoint" => temperature(Quantity::SurfaceFreezePoint),
        "essRelativeHumidity" => number(Quantity::RelativeHumidity, Unit::Percent, 1.0, 101),
        "essAvgWindSpeed" => number(Quantity::WindSpeed, Unit::MetresPerSecond, 0.1, NO_VALUE),
        "essMaxWindGustSpeed" => number(Quantity::WindGust, Unit::MetresPerSecond, 0.1, NO_VALUE),
        "essAvgWindDirection" => number(Quantity::WindDirection, Unit::Degrees, 1.0, 361),
        "essVisibility" => number(Quantity::Visibility, Unit::Metres, 0.1, 1_000_001),
        "essSurfaceWaterDepth" => number(Quantity::SurfaceWaterDepth, Unit::Millimetres, 1.0, 255),
        "essSurfaceIceOrWaterDepth" => number(Quantity::SurfaceWaterDepth, Unit::Millimetres, 0.1, NO_VALUE),
        "essAdjacentSnowDepth" => number(Quantity::SnowOnGround, Unit::Centimetres, 1.0, 3001),
        "essPrecipitationOneHour" => Object::HourlyAmount,
        "essPrecipRate" => Object::Rate,
        "essSurfaceSalinity" => Object::Salinity,
        "essPrecipSituation" => Object::Situation,
        "essSurfaceStatus" => Object::Code { quantity: Quantity::SurfaceStatus },
        "essSurfaceBlackIceSignal" => Object::Code { quantity: Quantity::BlackIceSignal },
        "essPavementSensorError" => Object::Code { quantity: Quantity::PavementSensorError },
        _ => return None,
    })
}

fn add(object: &Object, reading: &Reading, broken: bool, builder: &mut Builder) {
    let when = When::at(reading.time);
    let raw = reading.raw as f64;
    let place = Source::Cell(reading.line, &reading.raw);
    let mut flags = Flags::default();
    let (quantity, value) = match object {
        Object::Number { none, .. } if reading.raw == *none => return,
        Object::Rate | Object::Salinity if reading.raw == NO_VALUE => return,
        Object::HourlyAmount => return,
        Object::Number { quantity, unit, scale, .. } => {
            let is_pavement = *quantity == Quantity::PavementTemperature;
            flags.fault = is_pavement && broken;
            if *unit == Unit::Celsius && reading.raw == TEMPERATURE_FAULT {
                (flags.impossible, flags.fault) = (true, true);
            }
            (*quantity, unit.value(raw * scale))
        }
        // 0.1 g/(m² s) of water is 1e-7 m/s.
        Object::Rate => (Quantity::PrecipitationRate, Value::Speed(metres_per_second(raw * 1e-7))),
        Object::Salinity => {
            let share = MassFraction::from_percent(raw / 1000.0);
            let value = share.map_or_else(|_| Value::AsWritten(reading.raw.to_string()), Value::Salinity);
            (Quantity::SurfaceSalinity, value)
        }
        Object::Situation => match code(reading.raw).map(words::from_station_situation) {
            Some(phase) if phase.phase().is_some() => (Quantity::Weather, Value::Phase(phase)),
            _ => return,
        },
        Object::Code { quantity } => {
            let value =
                code(reading.raw).map_or_else(|| Value::AsWritten(reading.raw.to_string()), Value::Code);
            (*quantity, value)
        }
    };
    // Weather, humidity and wind belong to the station, whatever index the gateway writes; only pavement sensors
    // are told apart.
    let per_sensor = matches!(
        quantity,
        Quantity::PavementTemperature
            | Quantity::InPavementTemperature
            | Quantity::SubsurfaceTemperature
            | Quantity::SurfaceFreezePoint
            | Quantity::SurfaceSalinity
            | Quantity::SurfaceWaterDepth
            | Quantity::SurfaceStatus
            | Quantity::BlackIceSignal
            | Quantity::PavementSensorError
            | Quantity::AirTemperature
    );
    builder.value(when, quantity, value, flags, per_sensor.then_some(reading.sensor), place);
}

fn code(raw: i64) -> Option<u32> {
    u32::try_from(raw).ok()
}

/// One-hour totals come as often as the station reports and overlap. For each hour of the clock the total reported
/// nearest to its end is taken as that hour's amount.
fn add_hourly_totals(totals: &[&Reading], builder: &mut Builder) {
    let mut nearest: BTreeMap<i64, (i64, &Reading)> = BTreeMap::new();
    for reading in totals.iter().filter(|reading| reading.raw != NO_VALUE) {
        let end = (reading.time.as_second() + HOUR / 2).div_euclid(HOUR) * HOUR;
        let distance = seconds_between(from_seconds(end), reading.time).abs();
        if nearest.get(&end).is_none_or(|(best, _)| distance < *best) {
            nearest.insert(end, (distance, reading));
        }
    }
    for (end, (_, reading)) in nearest {
        let when = When::between(from_seconds(end - HOUR), from_seconds(end));
        let place = Source::Cell(reading.line, &reading.raw);
        builder.number(when, Quantity::Precipitation, reading.raw as f64 * 0.1, Unit::Millimetres, place);
    }
}
