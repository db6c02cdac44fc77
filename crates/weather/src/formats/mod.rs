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
use crate::error::{ErrorKind, ReadError};
use crate::file::WeatherFile;
use serde_json::Value;

pub use options::{HourLabel, ReadOptions};

/// The formats, as a message lists them.
pub(crate) const ACCEPTED: &str = "US weather service raw grid JSON, US weather service hourly forecast JSON, \
     METAR/SPECI text, MET Norway locationforecast JSON, Open-Meteo hourly or ensemble JSON, NTCIP 1204 raw values \
     as CSV (station,time_utc,object,index,raw_value), plain CSV with a time_utc column and headers such as \
     air_temp_c or precip_mm, hourly airport CSV with a precip_liquid_in_per_hour_bin column";

/// Reads a weather file of any known format, found by its content.
///
/// # Errors
/// [`ReadError`] when the text is empty, damaged or of no known format, when a unit or column is not known, when
/// times run backwards, and when something must be asked first (station, end or start of the hour, reference time).
pub fn read(text: &str, options: &ReadOptions) -> Result<WeatherFile, ReadError> {
    let text = text.trim_start_matches('\u{feff}');
    let body = text.trim_start();
    if body.is_empty() {
        return Err(ReadError::new(ErrorKind::Empty, "", "the file is empty", "", ACCEPTED));
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
    Err(ReadError::new(ErrorKind::UnknownFormat, "", "the format is not known", first, ACCEPTED))
}

fn read_json(text: &str) -> Result<WeatherFile, ReadError> {
    let root: Value = serde_json::from_str(text).map_err(|error| {
        let place = format!("line {}, column {}", error.line(), error.column());
        let what = if error.is_eof() { "the JSON text ends too early" } else { "the JSON text is broken" };
        ReadError::new(ErrorKind::Damaged, place, what, &error.to_string(), "whole, well-formed JSON")
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
        let what = "the format is not known: JSON without properties.timeseries, properties.periods, grid layers \
                    or hourly";
        Err(ReadError::new(ErrorKind::UnknownFormat, "", what, reason.unwrap_or_default(), ACCEPTED))
    }
}
