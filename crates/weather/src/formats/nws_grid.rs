//! The United States weather service's raw grid: layers of merged intervals, each with its own lengths and holes.

use crate::build::{Builder, Source, When};
use crate::clock;
use crate::error::{ErrorKind, Place, ReadError};
use crate::file::{Format, Kind, WeatherFile};
use crate::json;
use crate::notice::NoticeKind;
use crate::sample::{Flags, Quantity, Value};
use crate::units::Unit;
use crate::{PhaseReport, words};
use jiff::Timestamp;
use message::message;
use serde_json::Value as Json;

/// Layer, quantity, and the unit the format documents for layers that state none.
const LAYERS: [(&str, Quantity, Unit); 11] = [
    ("temperature", Quantity::AirTemperature, Unit::Celsius),
    ("dewpoint", Quantity::DewPoint, Unit::Celsius),
    ("relativeHumidity", Quantity::RelativeHumidity, Unit::Percent),
    ("skyCover", Quantity::Cloud, Unit::Percent),
    ("windSpeed", Quantity::WindSpeed, Unit::KilometresPerHour),
    ("windGust", Quantity::WindGust, Unit::KilometresPerHour),
    ("windDirection", Quantity::WindDirection, Unit::Degrees),
    ("probabilityOfPrecipitation", Quantity::PrecipitationProbability, Unit::Percent),
    ("quantitativePrecipitation", Quantity::Precipitation, Unit::Millimetres),
    ("snowfallAmount", Quantity::NewSnow, Unit::Millimetres),
    ("iceAccumulation", Quantity::IceAccumulation, Unit::Millimetres),
];

/// Whether the properties are those of a raw grid.
pub(super) fn looks_like(properties: &Json) -> bool {
    let is_layer = |name: &str| properties.get(name).is_some_and(|layer| layer.get("values").is_some());
    LAYERS.iter().any(|(name, _, _)| is_layer(name))
}

/// Reads a raw grid.
pub(super) fn read(properties: &Json) -> Result<WeatherFile, ReadError> {
    let mut builder = Builder::default();
    let mut latest = None;
    for (name, quantity, unit) in LAYERS {
        let Some(layer) = properties.get(name).filter(|layer| !layer.is_null()) else { continue };
        let path = format!("properties.{name}");
        let unit = unit_of(layer, quantity, unit, &path)?;
        for (index, (when, value)) in intervals(layer, &path, &mut builder)?.into_iter().enumerate() {
            let place = format_args!("{path}.values[{index}]");
            if let Some(number) = json::as_number(value, format_args!("{path}.values[{index}].value"))? {
                builder.number(when, quantity, number, unit, Source::Path(place));
            }
            latest = latest.max(Some(when.end));
        }
    }
    if let Some(layer) = properties.get("weather").filter(|layer| !layer.is_null()) {
        for (when, value) in intervals(layer, "properties.weather", &mut builder)? {
            let phase = phase_of(value);
            if phase.phase().is_some() {
                let (value, place) = (Value::Phase(phase), Source::Path(format_args!("properties.weather")));
                builder.value(when, Quantity::Weather, value, Flags::default(), None, place);
            }
        }
    }
    let issued = match properties.get("updateTime") {
        None | Some(Json::Null) => None,
        Some(_) => Some(json::time(properties, "updateTime", "properties")?),
    };
    let (samples, tally) = builder.finish(false);
    Ok(WeatherFile {
        format: Format::NwsGrid,
        kind: Kind::Forecast,
        station: grid_name(properties),
        issued,
        latest,
        elevation: elevation_of(properties),
        samples,
        members: Vec::new(),
        notices: tally.into_notices(),
    })
}

/// The elevation that both of the service's formats state.
pub(super) fn elevation_of(properties: &Json) -> Option<quantity::Length> {
    let elevation = properties.get("elevation")?;
    let unit = Unit::parse(elevation.get("unitCode")?.as_str()?)?;
    unit.value(elevation.get("value")?.as_f64()?).length()
}

fn grid_name(properties: &Json) -> Option<String> {
    let part = |key: &str| match properties.get(key)? {
        Json::String(text) => Some(text.clone()),
        Json::Number(number) => Some(number.to_string()),
        _ => None,
    };
    Some(format!("{}/{},{}", part("gridId")?, part("gridX")?, part("gridY")?))
}

fn unit_of(layer: &Json, quantity: Quantity, default: Unit, path: &str) -> Result<Unit, ReadError> {
    match layer.get("uom") {
        None | Some(Json::Null) => Ok(default),
        Some(uom) => uom.as_str().and_then(|text| Unit::parse_for(quantity, text)).ok_or_else(|| {
            let found = uom.as_str().map_or_else(|| uom.to_string(), str::to_owned);
            let what = message!("weather.unknown-unit", quantity = &quantity);
            let accepted = quantity.dimension().accepted();
            ReadError::new(ErrorKind::UnknownUnit, Place::Path(format!("{path}.uom")), what, &found, accepted)
        }),
    }
}

/// The intervals of a layer with their values, in order; of two with one start the later entry is kept.
fn intervals<'a>(
    layer: &'a Json,
    path: &str,
    builder: &mut Builder,
) -> Result<Vec<(When, &'a Json)>, ReadError> {
    let mut found: Vec<(When, &Json)> = Vec::new();
    for (index, entry) in json::array(layer, "values", path)?.iter().enumerate() {
        let place = format!("{path}.values[{index}]");
        let text = json::text(entry, "validTime", &place)?;
        let Some((start, end)) = clock::interval(text) else {
            let at = Place::Path(format!("{place}.validTime"));
            let (what, accepted) =
                (message!("weather.not-an-interval"), message!("weather.accepted.interval"));
            return Err(ReadError::new(ErrorKind::BadValue, at, what, text, accepted));
        };
        let before: Option<Timestamp> = found.last().map(|(when, _)| when.start);
        if let Some(before) = before.filter(|before| start < *before) {
            return Err(json::out_of_order(format_args!("{place}.validTime"), start, before));
        }
        if before == Some(start) {
            builder.tally.count_at(NoticeKind::Duplicate, message!("weather.later-value-kept"), &place);
            found.pop();
        }
        found.push((When::between(start, end), entry.get("value").unwrap_or(&Json::Null)));
    }
    Ok(found)
}

/// The objects of one interval of the weather layer, each part of which may be null.
fn phase_of(value: &Json) -> PhaseReport {
    let objects = value.as_array().map(Vec::as_slice).unwrap_or_default();
    let names = objects.iter().filter_map(|object| object.get("weather")?.as_str());
    names.map(words::from_words).fold(PhaseReport::default(), PhaseReport::with)
}
