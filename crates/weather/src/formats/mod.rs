//! Finds the format of a text from its content and hands it to the reader of that format.

mod met_norway;
mod metar;
mod nws_grid;
mod nws_hourly;
mod open_meteo;
mod options;
mod plain_csv;
mod station_csv;

use crate::csv_lines;
use crate::error::{ErrorKind, Place, ReadError};
use crate::file::WeatherFile;
use message::{Message, message};
use serde_json::Value;

pub use options::{HourLabel, ReadOptions};

/// Reads a weather file of any known format, found by its content.
///
/// # Errors
/// [`ReadError`] when the text is empty, damaged or of no known format, when a unit or column is not known, when
/// times run backwards, and when something must be asked first (station, end or start of the hour, reference time).
pub fn read(text: &str, options: &ReadOptions) -> Result<WeatherFile, ReadError> {
    let text = text.trim_start_matches('\u{feff}');
    let body = text.trim_start();
    if body.is_empty() {
        return Err(refusal(ErrorKind::Empty, "weather.empty", ""));
    }
    if body.starts_with(['{', '[']) {
        return read_json(text);
    }
    if metar::looks_like(text) {
        return metar::read(text, options);
    }
    if let Some(header) = csv_lines::header_of(text) {
        if station_csv::looks_like(&header) {
            return station_csv::read(text, options);
        }
        if plain_csv::looks_like(&header) {
            return plain_csv::read(text, options);
        }
    }
    let first = body.lines().next().unwrap_or(body);
    Err(refusal(ErrorKind::UnknownFormat, "weather.unknown-format", first))
}

/// A refusal of a text as a whole.
fn refusal(kind: ErrorKind, what: &'static str, found: &str) -> ReadError {
    ReadError::new(kind, Place::File, Message::new(what), found, message!("weather.accepted.formats"))
}

fn read_json(text: &str) -> Result<WeatherFile, ReadError> {
    let root: Value = serde_json::from_str(text).map_err(|error| {
        let place = Place::Character { line: error.line(), character: error.column() };
        let what =
            if error.is_eof() { message!("weather.json-cut-short") } else { message!("weather.json-broken") };
        ReadError::new(ErrorKind::Damaged, place, what, "", message!("weather.accepted.json"))
    })?;
    let properties = root.get("properties").unwrap_or(&Value::Null);
    if properties.get("timeseries").is_some() {
        met_norway::read(&root)
    } else if properties.get("periods").is_some() {
        nws_hourly::read(properties)
    } else if nws_grid::looks_like(properties) {
        nws_grid::read(properties)
    } else if root.get("hourly").is_some() {
        open_meteo::read(&root)
    } else {
        // Services answer an unlucky request with a JSON text that says why; that reason is worth passing on.
        let reason = ["reason", "detail", "title"].iter().find_map(|key| root.get(key)?.as_str());
        Err(refusal(ErrorKind::UnknownFormat, "weather.unknown-json", reason.unwrap_or_default()))
    }
}
