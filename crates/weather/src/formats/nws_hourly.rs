//! The United States weather service's hourly forecast: periods in mixed units, and no amounts at all.

use super::nws_grid;
use crate::build::{Builder, Source, When};
use crate::error::{ErrorKind, Place, ReadError};
use crate::file::{Format, Kind, WeatherFile};
use crate::json;
use crate::notice::NoticeKind;
use crate::sample::{Flags, Quantity, Value};
use crate::units::Unit;
use crate::words;
use jiff::Timestamp;
use message::message;
use serde_json::Value as Json;

/// Reads hourly periods.
pub(super) fn read(properties: &Json) -> Result<WeatherFile, ReadError> {
    let mut builder = Builder::default();
    let mut before: Option<When> = None;
    for (index, period) in json::array(properties, "periods", "properties")?.iter().enumerate() {
        let path = format!("properties.periods[{index}]");
        let start = json::time(period, "startTime", &path)?;
        let end = json::time(period, "endTime", &path)?;
        if end <= start {
            return Err(ReadError::new(
                ErrorKind::BadValue,
                Place::Path(format!("{path}.endTime")),
                message!("weather.period-without-length"),
                &end.to_string(),
                message!("weather.accepted.end-after-start"),
            ));
        }
        if let Some(before) = before.filter(|before| start < before.start) {
            return Err(json::out_of_order(format_args!("{path}.startTime"), start, before.start));
        }
        let when = When::between(start, end);
        before = Some(when);
        add_period(period, when, &path, &mut builder)?;
    }
    builder.tally.count(NoticeKind::NotUsed, message!("weather.periods-without-amounts"));
    let (samples, tally) = builder.finish(false);
    let issued: Result<Vec<Timestamp>, ReadError> = ["updateTime", "generatedAt"]
        .into_iter()
        .filter(|key| properties.get(key).is_some_and(|time| !time.is_null()))
        .map(|key| json::time(properties, key, "properties"))
        .collect();
    Ok(WeatherFile {
        format: Format::NwsHourly,
        kind: Kind::Forecast,
        station: None,
        issued: issued?.first().copied(),
        latest: before.map(|when| when.end),
        elevation: nws_grid::elevation_of(properties),
        samples,
        members: Vec::new(),
        notices: tally.into_notices(),
    })
}

fn add_period(period: &Json, when: When, path: &str, builder: &mut Builder) -> Result<(), ReadError> {
    let plain = [
        ("temperature", "temperatureUnit", Quantity::AirTemperature, Unit::Fahrenheit),
        ("dewpoint", "", Quantity::DewPoint, Unit::Celsius),
        ("relativeHumidity", "", Quantity::RelativeHumidity, Unit::Percent),
        ("probabilityOfPrecipitation", "", Quantity::PrecipitationProbability, Unit::Percent),
    ];
    for (key, unit_key, quantity, default) in plain {
        let at = format!("{path}.{key}");
        let value = period.get(key).unwrap_or(&Json::Null);
        // A bare number has its unit beside it, an object has it inside.
        let (number, unit) = match value {
            Json::Object(_) => (json::number(value, "value", &at)?, value.get("unitCode")),
            bare => (json::as_number(bare, format_args!("{at}"))?, period.get(unit_key)),
        };
        let Some(number) = number else { continue };
        // A bare temperature without its unit may be either; only objects have a documented default.
        let unit = match unit {
            Some(unit) => unit.as_str().and_then(|text| Unit::parse_for(quantity, text)),
            None => value.is_object().then_some(default).filter(|_| unit_key.is_empty()),
        };
        let unit = unit.ok_or_else(|| unknown_unit(&at, &value.to_string(), quantity))?;
        builder.number(when, quantity, number, unit, Source::Path(format_args!("{at}: {number}")));
    }
    for (key, quantity) in [("windSpeed", Quantity::WindSpeed), ("windGust", Quantity::WindGust)] {
        let at = format!("{path}.{key}");
        if let Some((number, unit)) = wind(period.get(key).unwrap_or(&Json::Null), quantity, &at)? {
            builder.number(when, quantity, number, unit, Source::Path(format_args!("{at}: {number}")));
        }
    }
    if let Some(points) = period.get("windDirection").and_then(Json::as_str).and_then(compass) {
        let place = Source::Path(format_args!("{path}"));
        builder.number(when, Quantity::WindDirection, points, Unit::Degrees, place);
    }
    if let Some(words) = period.get("shortForecast").and_then(Json::as_str) {
        let phase = words::from_words(words);
        if phase.phase().is_some() {
            let (value, place) = (Value::Phase(phase), Source::Path(format_args!("{path}")));
            builder.value(when, Quantity::Weather, value, Flags::default(), None, place);
        }
    }
    Ok(())
}

fn unknown_unit(at: &str, found: &str, quantity: Quantity) -> ReadError {
    let what = message!("weather.unknown-unit", quantity = &quantity);
    ReadError::new(
        ErrorKind::UnknownUnit,
        Place::Path(at.to_owned()),
        what,
        found,
        quantity.dimension().accepted(),
    )
}

/// `12 mph`, `10 to 15 mph` (the upper number), or an object with `maxValue` or `value`.
fn wind(value: &Json, quantity: Quantity, at: &str) -> Result<Option<(f64, Unit)>, ReadError> {
    match value {
        Json::Null => Ok(None),
        Json::String(text) if text.trim().is_empty() => Ok(None),
        Json::String(text) => {
            let numbers = text.split_whitespace().filter_map(|word| word.parse::<f64>().ok());
            let upper = numbers.filter(|number| number.is_finite()).reduce(f64::max);
            let Some(upper) = upper else {
                return Err(ReadError::new(
                    ErrorKind::BadValue,
                    Place::Path(at.to_owned()),
                    message!("weather.not-a-wind-speed"),
                    text,
                    message!("weather.accepted.wind-speeds"),
                ));
            };
            let unit = text.split_whitespace().last().and_then(|unit| Unit::parse_for(quantity, unit));
            unit.map(|unit| Some((upper, unit))).ok_or_else(|| unknown_unit(at, text, quantity))
        }
        Json::Object(_) => {
            let upper = match json::number(value, "maxValue", at)? {
                Some(upper) => Some(upper),
                None => json::number(value, "value", at)?,
            };
            let unit = value.get("unitCode").and_then(Json::as_str);
            let unit = unit.and_then(|unit| Unit::parse_for(quantity, unit));
            match (upper, unit) {
                (None, _) => Ok(None),
                (Some(upper), Some(unit)) => Ok(Some((upper, unit))),
                (Some(_), None) => Err(unknown_unit(at, &value.to_string(), quantity)),
            }
        }
        other => {
            let (what, accepted) =
                (message!("weather.not-a-wind-speed"), message!("weather.accepted.wind-speed"));
            Err(json::wrong(format_args!("{at}"), what, other, accepted))
        }
    }
}

/// Degrees of one of the sixteen compass points.
fn compass(letters: &str) -> Option<f64> {
    const POINTS: [&str; 16] =
        ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];
    let index = POINTS.iter().position(|point| *point == letters)?;
    Some(index as f64 * 22.5)
}
