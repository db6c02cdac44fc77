//! The Norwegian service's location forecast: a series of instants, each with amounts for what follows.

use crate::build::{Builder, Source, When};
use crate::clock::{self, HOUR};
use crate::error::{ErrorKind, Place, ReadError};
use crate::file::{Format, Kind, WeatherFile};
use crate::json;
use crate::notice::NoticeKind;
use crate::sample::{Flags, Quantity, Value};
use crate::units::Unit;
use crate::words;
use jiff::Timestamp;
use message::message;
use quantity::metres;
use serde_json::Value as Json;

/// Name in the file, quantity, and the unit the format documents for files that state none.
const INSTANT: [(&str, Quantity, Unit); 8] = [
    ("air_temperature", Quantity::AirTemperature, Unit::Celsius),
    ("dew_point_temperature", Quantity::DewPoint, Unit::Celsius),
    ("relative_humidity", Quantity::RelativeHumidity, Unit::Percent),
    ("cloud_area_fraction", Quantity::Cloud, Unit::Percent),
    ("wind_speed", Quantity::WindSpeed, Unit::MetresPerSecond),
    ("wind_speed_of_gust", Quantity::WindGust, Unit::MetresPerSecond),
    ("wind_from_direction", Quantity::WindDirection, Unit::Degrees),
    ("air_pressure_at_sea_level", Quantity::SeaLevelPressure, Unit::Hectopascals),
];
const AMOUNT: (&str, Quantity, Unit) = ("precipitation_amount", Quantity::Precipitation, Unit::Millimetres);
const PROBABILITY: (&str, Quantity, Unit) =
    ("probability_of_precipitation", Quantity::PrecipitationProbability, Unit::Percent);

/// Reads a location forecast.
pub(super) fn read(root: &Json) -> Result<WeatherFile, ReadError> {
    let properties = root.get("properties").unwrap_or(&Json::Null);
    let meta = properties.get("meta").unwrap_or(&Json::Null);
    let units = meta.get("units").unwrap_or(&Json::Null);
    let instant = INSTANT.into_iter().map(|entry| with_unit(entry, units)).collect::<Result<Vec<_>, _>>()?;
    let ahead = [with_unit(AMOUNT, units)?, with_unit(PROBABILITY, units)?];
    let issued = match meta.get("updated_at") {
        None | Some(Json::Null) => None,
        Some(_) => Some(json::time(meta, "updated_at", "properties.meta")?),
    };
    let mut builder = Builder::default();
    let mut before: Option<Timestamp> = None;
    let mut covered: Option<Timestamp> = None;
    for (index, entry) in json::array(properties, "timeseries", "properties")?.iter().enumerate() {
        let path = format!("properties.timeseries[{index}]");
        let time = json::time(entry, "time", &path)?;
        if let Some(before) = before.filter(|before| time < *before) {
            return Err(json::out_of_order(format_args!("{path}.time"), time, before));
        }
        before = Some(time);
        let data = entry.get("data").unwrap_or(&Json::Null);
        let details = data.pointer("/instant/details").unwrap_or(&Json::Null);
        let inner = format!("{path}.data.instant.details");
        for (name, quantity, unit) in &instant {
            if let Some(number) = json::number(details, name, &inner)? {
                let place = format_args!("{inner}.{name}: {number}");
                builder.number(When::at(time), *quantity, number, *unit, Source::Path(place));
            }
        }
        // The next hour where it is given, else the next six; never both for the same hours.
        let (key, hours) = if has_amount(data, "next_1_hours") {
            ("next_1_hours", 1)
        } else if covered.is_none_or(|covered| time >= covered) {
            ("next_6_hours", 6)
        } else {
            continue;
        };
        let end = clock::later(time, hours * HOUR);
        if add_ahead(data, key, When::between(time, end), &ahead, &path, &mut builder)? {
            covered = Some(end);
        }
    }
    let place = root.pointer("/geometry/coordinates/2").and_then(Json::as_f64);
    builder.tally.count(NoticeKind::Terms, message!("weather.terms-met-norway"));
    let (samples, tally) = builder.finish(false);
    Ok(WeatherFile {
        format: Format::MetNorway,
        kind: Kind::Forecast,
        station: None,
        issued,
        latest: before,
        elevation: place.map(metres),
        samples,
        members: Vec::new(),
        notices: tally.into_notices(),
    })
}

type Entry = (&'static str, Quantity, Unit);

fn with_unit((name, quantity, default): Entry, units: &Json) -> Result<Entry, ReadError> {
    let unit = match units.get(name) {
        None => default,
        Some(Json::String(text)) => {
            Unit::parse_for(quantity, text).ok_or_else(|| unknown(name, text, quantity))?
        }
        Some(other) => return Err(unknown(name, &other.to_string(), quantity)),
    };
    Ok((name, quantity, unit))
}

fn unknown(name: &str, found: &str, quantity: Quantity) -> ReadError {
    let what = message!("weather.unknown-unit", quantity = &quantity);
    let place = Place::Path(format!("properties.meta.units.{name}"));
    ReadError::new(ErrorKind::UnknownUnit, place, what, found, quantity.dimension().accepted())
}

fn has_amount(data: &Json, key: &str) -> bool {
    data.get(key).and_then(|next| next.get("details")?.get(AMOUNT.0)).is_some_and(|amount| !amount.is_null())
}

/// Adds what one `next_…_hours` block says; whether it was there at all.
fn add_ahead(
    data: &Json,
    key: &str,
    when: When,
    ahead: &[Entry],
    path: &str,
    builder: &mut Builder,
) -> Result<bool, ReadError> {
    let Some(next) = data.get(key) else { return Ok(false) };
    let details = next.get("details").unwrap_or(&Json::Null);
    let inner = format!("{path}.data.{key}.details");
    for (name, quantity, unit) in ahead {
        if let Some(number) = json::number(details, name, &inner)? {
            let place = format_args!("{inner}.{name}: {number}");
            builder.number(when, *quantity, number, *unit, Source::Path(place));
        }
    }
    if let Some(symbol) = next.pointer("/summary/symbol_code").and_then(Json::as_str) {
        let phase = words::from_symbol(symbol);
        if phase.phase().is_some() {
            let place = Source::Path(format_args!("{path}.data.{key}.summary"));
            builder.value(when, Quantity::Weather, Value::Phase(phase), Flags::default(), None, place);
        }
    }
    Ok(true)
}
