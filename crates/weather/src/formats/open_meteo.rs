//! Columns of hourly values in the Open-Meteo style, single or as an ensemble.

use crate::build::{Builder, Source, When};
use crate::clock;
use crate::error::{ErrorKind, Place, ReadError};
use crate::file::{Format, Kind, Member, WeatherFile};
use crate::json;
use crate::notice::{NoticeKind, Tally};
use crate::sample::{Flags, Quantity, Samples, Value};
use crate::units::Unit;
use crate::words;
use jiff::Timestamp;
use message::message;
use quantity::metres;
use serde_json::Value as Json;
use std::collections::BTreeMap;

/// Variable, quantity, and whether it is about the hour before its time (else it is an instant).
const VARIABLES: [(&str, Quantity, bool); 12] = [
    ("temperature_2m", Quantity::AirTemperature, false),
    ("relative_humidity_2m", Quantity::RelativeHumidity, false),
    ("dew_point_2m", Quantity::DewPoint, false),
    ("cloud_cover", Quantity::Cloud, false),
    ("wind_speed_10m", Quantity::WindSpeed, false),
    ("wind_gusts_10m", Quantity::WindGust, true),
    ("wind_direction_10m", Quantity::WindDirection, false),
    ("precipitation", Quantity::Precipitation, true),
    ("precipitation_probability", Quantity::PrecipitationProbability, true),
    ("rain", Quantity::Rain, true),
    ("snowfall", Quantity::NewSnow, true),
    ("shortwave_radiation", Quantity::Shortwave, true),
];
const WEATHER_CODE: &str = "weather_code";
/// The name of an ensemble's unperturbed run.
const CONTROL: &str = "control";

struct Columns<'a> {
    hourly: &'a Json,
    units: &'a Json,
    times: Vec<Timestamp>,
    step: i64,
}

/// Reads hourly columns, with their members if there are any.
pub(super) fn read(root: &Json) -> Result<WeatherFile, ReadError> {
    let hourly = root.get("hourly").unwrap_or(&Json::Null);
    let units = root.get("hourly_units").unwrap_or(&Json::Null);
    let mut tally = Tally::default();
    tally.count(NoticeKind::Terms, message!("weather.terms-open-meteo"));
    let times = times_of(root, hourly, units)?;
    let step = clock::usual_step(&times);
    let columns = Columns { hourly, units, times, step };
    let names = member_columns(&columns, &mut tally)?;
    let is_ensemble = names.keys().any(|member| member != CONTROL);
    let mut samples = Samples::default();
    let mut members = Vec::new();
    for (member, variables) in &names {
        let (own, own_tally) = read_member(&columns, variables)?;
        if member == CONTROL {
            samples = own.clone();
            tally = merged(tally, own_tally);
        }
        if !is_ensemble {
            continue;
        }
        match empty_variable(&columns, variables) {
            Some(variable) => {
                let text = message!("weather.member-dropped", member = member, variable = variable);
                tally.count(NoticeKind::MemberDropped, text);
            }
            None => members.push(Member { name: member.clone(), samples: own }),
        }
    }
    Ok(WeatherFile {
        format: if is_ensemble { Format::OpenMeteoEnsemble } else { Format::OpenMeteo },
        kind: Kind::Forecast,
        station: None,
        issued: None,
        latest: columns.times.last().copied(),
        elevation: root.get("elevation").and_then(Json::as_f64).map(metres),
        samples,
        members,
        notices: tally.into_notices(),
    })
}

fn merged(mut tally: Tally, other: Tally) -> Tally {
    tally.absorb(other);
    tally
}

/// The times in UTC: seconds, or local times that the stated offset turns into UTC.
fn times_of(root: &Json, hourly: &Json, units: &Json) -> Result<Vec<Timestamp>, ReadError> {
    let unix = units.get("time").and_then(Json::as_str) == Some("unixtime");
    let offset = root.get("utc_offset_seconds").and_then(Json::as_i64);
    if !unix && offset.is_none() {
        let place = Place::Path("utc_offset_seconds".into());
        let (what, accepted) = (message!("weather.no-offset"), message!("weather.accepted.offset"));
        return Err(ReadError::new(ErrorKind::MissingPart, place, what, "", accepted));
    }
    let mut times: Vec<Timestamp> = Vec::new();
    for (index, value) in json::array(hourly, "time", "hourly")?.iter().enumerate() {
        let time = match value {
            Json::String(text) => clock::without_offset(text, offset.unwrap_or(0)),
            Json::Number(number) if unix => number.as_i64().map(clock::from_seconds),
            _ => None,
        };
        let path = format_args!("hourly.time[{index}]");
        let time = time.ok_or_else(|| {
            let (what, accepted) =
                (message!("weather.not-a-time"), message!("weather.accepted.time-or-seconds"));
            json::wrong(path, what, value, accepted)
        })?;
        if let Some(before) = times.last().filter(|before| time < **before) {
            return Err(json::out_of_order(path, time, *before));
        }
        times.push(time);
    }
    Ok(times)
}

/// Columns by member, each as (column, variable). Control has the plain names.
type MemberColumns = BTreeMap<String, Vec<(String, &'static str)>>;

fn member_columns(columns: &Columns<'_>, tally: &mut Tally) -> Result<MemberColumns, ReadError> {
    let mut members = MemberColumns::new();
    let Some(hourly) = columns.hourly.as_object() else { return Ok(members) };
    for column in hourly.keys().filter(|key| *key != "time") {
        let found = json::array(columns.hourly, column, "hourly")?.len();
        if found != columns.times.len() {
            return Err(ReadError::new(
                ErrorKind::UnequalLengths,
                Place::Path(format!("hourly.{column}")),
                message!("weather.unequal-lengths"),
                &found.to_string(),
                message!("weather.accepted.one-for-each-time", count = columns.times.len()),
            ));
        }
        let (name, member) = match column.rsplit_once("_member") {
            Some((name, number)) => (name, format!("member{number}")),
            None => (column.as_str(), CONTROL.to_owned()),
        };
        let known = VARIABLES.iter().map(|(variable, _, _)| *variable).chain([WEATHER_CODE]);
        match known.into_iter().find(|variable| *variable == name) {
            Some(variable) => members.entry(member).or_default().push((column.clone(), variable)),
            None => tally.count_at(NoticeKind::NotUsed, message!("weather.variables-not-used"), column),
        }
    }
    Ok(members)
}

fn empty_variable<'a>(columns: &Columns<'_>, variables: &'a [(String, &'static str)]) -> Option<&'a str> {
    let is_empty = |column: &str| {
        let values = columns.hourly.get(column).and_then(Json::as_array);
        values.is_none_or(|values| values.iter().all(Json::is_null))
    };
    variables.iter().find(|(column, _)| is_empty(column)).map(|(_, variable)| *variable)
}

fn read_member(
    columns: &Columns<'_>,
    variables: &[(String, &'static str)],
) -> Result<(Samples, Tally), ReadError> {
    let mut builder = Builder::default();
    for (column, variable) in variables {
        if *variable == WEATHER_CODE {
            add_weather(columns, column, &mut builder)?;
            continue;
        }
        let Some((_, quantity, is_preceding)) = VARIABLES.iter().find(|(name, _, _)| name == variable) else {
            continue;
        };
        let unit = unit_of(columns, column, *quantity)?;
        for (index, value) in json::array(columns.hourly, column, "hourly")?.iter().enumerate() {
            let path = format_args!("hourly.{column}[{index}]");
            let Some(number) = json::as_number(value, path)? else { continue };
            builder.number(columns.when(index, *is_preceding), *quantity, number, unit, Source::Path(path));
        }
    }
    Ok(builder.finish(false))
}

impl Columns<'_> {
    fn when(&self, index: usize, is_preceding: bool) -> When {
        let time = self.times.get(index).copied().unwrap_or(Timestamp::UNIX_EPOCH);
        if is_preceding { When::between(clock::later(time, -self.step), time) } else { When::at(time) }
    }
}

fn unit_of(columns: &Columns<'_>, column: &str, quantity: Quantity) -> Result<Unit, ReadError> {
    let text = columns.units.get(column).and_then(Json::as_str).unwrap_or_default();
    Unit::parse_for(quantity, text).ok_or_else(|| {
        let what = message!("weather.unknown-unit", quantity = &quantity);
        let place = Place::Path(format!("hourly_units.{column}"));
        ReadError::new(ErrorKind::UnknownUnit, place, what, text, quantity.dimension().accepted())
    })
}

fn add_weather(columns: &Columns<'_>, column: &str, builder: &mut Builder) -> Result<(), ReadError> {
    for (index, value) in json::array(columns.hourly, column, "hourly")?.iter().enumerate() {
        let path = format_args!("hourly.{column}[{index}]");
        let code = match value {
            Json::Null => continue,
            // Some clients write whole numbers as 71.0.
            other => {
                other.as_f64().filter(|code| (0.0..100.0).contains(code)).map(|code| code.round() as u32)
            }
        };
        let code = code.ok_or_else(|| {
            let (what, accepted) = (message!("weather.not-a-code"), message!("weather.accepted.code"));
            json::wrong(path, what, value, accepted)
        })?;
        let phase = words::from_wmo_code(code);
        if phase.phase().is_some() {
            let (when, value, place) = (columns.when(index, false), Value::Phase(phase), Source::Path(path));
            builder.value(when, Quantity::Weather, value, Flags::default(), None, place);
        }
    }
    Ok(())
}
