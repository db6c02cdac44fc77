//! Plain tables whose header names quantity and unit, and the hourly airport table that is one of them.

use super::options::{HourLabel, ReadOptions, choose_station};
use crate::build::{Builder, Source, When};
use crate::clock::{self, HOUR};
use crate::csv_lines::{self, Row, Table, is_missing};
use crate::error::{ErrorKind, Place, ReadError};
use crate::file::{Format, Kind, WeatherFile};
use crate::notice::NoticeKind;
use crate::sample::{Flags, Quantity, Value};
use crate::units::Unit;
use crate::words;
use jiff::Timestamp;
use message::{Arg, Message, message};

/// Column names without their unit. A longer name stands before a shorter one that begins it.
const QUANTITIES: [(&str, Quantity); 15] = [
    ("air_temp", Quantity::AirTemperature),
    ("dew_point", Quantity::DewPoint),
    ("rel_humidity", Quantity::RelativeHumidity),
    ("wind_speed", Quantity::WindSpeed),
    ("wind_gust", Quantity::WindGust),
    ("wind_dir", Quantity::WindDirection),
    ("pavement_temp", Quantity::PavementTemperature),
    ("subsurface_temp", Quantity::SubsurfaceTemperature),
    ("cloud", Quantity::Cloud),
    ("precip_probability", Quantity::PrecipitationProbability),
    ("precip", Quantity::Precipitation),
    ("snow", Quantity::NewSnow),
    ("shortwave", Quantity::Shortwave),
    ("sea_level_pressure", Quantity::SeaLevelPressure),
    ("visibility", Quantity::Visibility),
];

/// The airport table's amount column: inches in the hour that begins at the row's time.
const AIRPORT_BIN: &str = "precip_liquid_in_per_hour_bin";

/// The columns, for a refusal.
const ACCEPTED_COLUMNS: &str = "station, time_utc, air_temp_c|f|degC|degF, dew_point_…, pavement_temp_…, \
     subsurface_temp_…, rel_humidity_pct, wind_speed_m_s|mph|km_h|kn, wind_gust_…, wind_dir_deg, cloud_pct, \
     precip_mm|in, precip_probability_pct, snow_cm|in|mm, shortwave_w_m2, visibility_m|km|mi, \
     sea_level_pressure_hPa, weather, precip_liquid_in_per_hour_bin";

enum Column {
    Station,
    /// Times without an offset are taken as UTC only where the header says so.
    Time {
        utc: bool,
    },
    Number(Quantity, Unit),
    Weather,
}

/// Whether a header row is one of a plain table: any known column, even in an unknown unit.
pub(super) fn looks_like(header: &Row<'_>) -> bool {
    header.cells.len() > 1
        && header.cells.iter().any(|cell| {
            let name = cell.to_lowercase();
            name == "time_utc" || split_name(&name).is_some()
        })
}

/// Reads a plain or airport table.
pub(super) fn read(text: &str, options: &ReadOptions) -> Result<WeatherFile, ReadError> {
    let table = csv_lines::table(text)?;
    let columns = columns_of(&table.header)?;
    let (station, rows) = rows_of_station(&table, &columns, options)?;
    let is_airport = table.header.cells.iter().any(|cell| cell.eq_ignore_ascii_case(AIRPORT_BIN));
    let mut builder = Builder::default();
    let rows = timed(&rows, &columns, &mut builder)?;
    let label = if is_airport { HourLabel::Start } else { label_of(&table.comments, options)? };
    let times: Vec<Timestamp> = rows.iter().map(|(time, _)| *time).collect();
    let step = if is_airport { HOUR } else { clock::usual_step(&times) };
    if step != HOUR {
        builder.tally.count(NoticeKind::Times, message!("weather.row-step", minutes = step / 60));
    }
    for (index, (time, row)) in rows.iter().enumerate() {
        let (start, end) = interval_of(&times, index, step, label);
        read_cells(row, &columns, When::between(start, end), &mut builder)
            .map_err(|error| with_time(error, *time))?;
    }
    let issued = table.comments.iter().find_map(|comment| issued_in(comment));
    let (samples, tally) = builder.finish(is_airport);
    Ok(WeatherFile {
        format: if is_airport { Format::AirportCsv } else { Format::PlainCsv },
        kind: match (is_airport, issued) {
            (true, _) => Kind::Observation,
            (false, Some(_)) => Kind::Forecast,
            (false, None) => Kind::Unstated,
        },
        station,
        issued,
        latest: times.last().copied(),
        elevation: None,
        samples,
        members: Vec::new(),
        notices: tally.into_notices(),
    })
}

fn with_time(mut error: ReadError, time: Timestamp) -> ReadError {
    *error.what = message!("weather.in-row", what = (*error.what).clone(), time = time);
    error
}

fn split_name(name: &str) -> Option<(Quantity, &str)> {
    QUANTITIES
        .iter()
        .find_map(|(base, quantity)| Some((*quantity, name.strip_prefix(base)?.strip_prefix('_')?)))
}

fn columns_of(header: &Row<'_>) -> Result<Vec<Column>, ReadError> {
    let mut columns = Vec::with_capacity(header.cells.len());
    let mut seen: Vec<String> = Vec::new();
    for cell in &header.cells {
        let refuse = |kind, what: Message, accepted: Arg| {
            let place = Place::Column { line: header.line, column: cell.to_string() };
            ReadError::new(kind, place, what, cell, accepted)
        };
        let name = cell.to_lowercase();
        if seen.contains(&name) {
            let accepted = message!("weather.accepted.column-once");
            return Err(refuse(ErrorKind::UnknownColumn, message!("weather.column-twice"), accepted.into()));
        }
        columns.push(match name.as_str() {
            "station" => Column::Station,
            "time_utc" => Column::Time { utc: true },
            "time" => Column::Time { utc: false },
            "weather" => Column::Weather,
            AIRPORT_BIN => Column::Number(Quantity::Precipitation, Unit::Inches),
            _ => {
                let Some((quantity, unit)) = split_name(&name) else {
                    return Err(refuse(
                        ErrorKind::UnknownColumn,
                        message!("weather.unknown-column"),
                        ACCEPTED_COLUMNS.into(),
                    ));
                };
                let Some(unit) = Unit::parse_for(quantity, unit) else {
                    let what = message!("weather.unknown-unit", quantity = &quantity);
                    return Err(refuse(ErrorKind::UnknownUnit, what, quantity.dimension().accepted()));
                };
                Column::Number(quantity, unit)
            }
        });
        seen.push(name);
    }
    if columns.iter().filter(|column| matches!(column, Column::Time { .. })).count() != 1 {
        let (what, accepted) = (message!("weather.time-columns"), message!("weather.accepted.time-column"));
        return Err(ReadError::new(ErrorKind::MissingPart, Place::Line(header.line), what, "", accepted));
    }
    for (index, column) in columns.iter().enumerate() {
        let is_same = |other: &Column| match (column, other) {
            (Column::Number(one, _), Column::Number(two, _)) => one == two,
            _ => false,
        };
        if columns[..index].iter().any(is_same) {
            let (place, what) = (Place::Line(header.line), message!("weather.quantity-twice"));
            let accepted = message!("weather.accepted.quantity-once");
            let found = &header.cells[index];
            return Err(ReadError::new(ErrorKind::UnknownColumn, place, what, found, accepted));
        }
    }
    Ok(columns)
}

type Rows<'t, 'a> = Vec<&'t Row<'a>>;

fn rows_of_station<'t, 'a>(
    table: &'t Table<'a>,
    columns: &[Column],
    options: &ReadOptions,
) -> Result<(Option<String>, Rows<'t, 'a>), ReadError> {
    let Some(index) = columns.iter().position(|column| matches!(column, Column::Station)) else {
        return Ok((None, table.rows.iter().collect()));
    };
    let mut stations: Vec<&str> = Vec::new();
    for row in &table.rows {
        if !stations.contains(&&*row.cells[index]) {
            stations.push(&row.cells[index]);
        }
    }
    let chosen = choose_station(&stations, options)?;
    let of_chosen = |row: &&Row<'_>| Some(&*row.cells[index]) == chosen.as_deref();
    let rows = table.rows.iter().filter(of_chosen).collect();
    Ok((chosen, rows))
}

/// The rows with their times, in order, the later of two rows of one time kept.
fn timed<'t, 'a>(
    rows: &[&'t Row<'a>],
    columns: &[Column],
    builder: &mut Builder,
) -> Result<Vec<(Timestamp, &'t Row<'a>)>, ReadError> {
    let mut timed: Vec<(Timestamp, &Row<'_>)> = Vec::with_capacity(rows.len());
    for row in rows {
        let time = time_of(row, columns)?;
        if let Some((before, last)) = timed.last_mut() {
            if time < *before {
                let found = time.to_string();
                return Err(ReadError::new(
                    ErrorKind::TimeOrder,
                    Place::Line(row.line),
                    message!("weather.time-order"),
                    &found,
                    message!("weather.accepted.times-from", before = *before),
                ));
            }
            if time == *before {
                let first =
                    message!("weather.row-dropped", time = time, dropped = last.line, kept = row.line);
                builder.tally.count_at(NoticeKind::Duplicate, message!("weather.later-line-kept"), first);
                *last = row;
                continue;
            }
        }
        timed.push((time, row));
    }
    Ok(timed)
}

fn time_of(row: &Row<'_>, columns: &[Column]) -> Result<Timestamp, ReadError> {
    let parts = columns.iter().zip(&row.cells);
    let mut cells = parts.filter_map(|(column, cell)| match column {
        Column::Time { utc } => Some((*utc, &**cell)),
        _ => None,
    });
    let (utc, cell) = cells.next().unwrap_or((true, ""));
    let civil = || if utc { clock::without_offset(cell, 0) } else { None };
    clock::with_offset(cell).or_else(civil).ok_or_else(|| {
        ReadError::new(
            ErrorKind::BadValue,
            Place::Line(row.line),
            message!("weather.not-a-time"),
            cell,
            message!("weather.accepted.time-in-table"),
        )
    })
}

/// Start and end of a row. A neighbor nearer than the usual step cuts the interval short.
fn interval_of(times: &[Timestamp], index: usize, step: i64, label: HourLabel) -> (Timestamp, Timestamp) {
    let time = times[index];
    match label {
        HourLabel::Start => {
            let end = clock::later(time, step);
            (time, times.get(index + 1).map_or(end, |next| end.min(*next)))
        }
        HourLabel::End => {
            let start = clock::later(time, -step);
            let before = index.checked_sub(1).and_then(|before| times.get(before));
            (before.map_or(start, |before| start.max(*before)), time)
        }
    }
}

fn read_cells(row: &Row<'_>, columns: &[Column], when: When, builder: &mut Builder) -> Result<(), ReadError> {
    for (column, cell) in columns.iter().zip(&row.cells) {
        if is_missing(cell) {
            continue;
        }
        let place = Source::Line(row.line);
        match column {
            Column::Station | Column::Time { .. } => {}
            Column::Weather => {
                let value = Value::Phase(words::from_cell(cell));
                builder.value(when, Quantity::Weather, value, Flags::default(), None, place);
            }
            Column::Number(quantity, _) if quantity.is_amount() && cell.eq_ignore_ascii_case("t") => {
                builder.trace(when, *quantity, place);
            }
            Column::Number(quantity, unit) => {
                let number =
                    cell.parse::<f64>().ok().filter(|number| number.is_finite()).ok_or_else(|| {
                        ReadError::new(
                            ErrorKind::BadValue,
                            Place::Line(row.line),
                            message!("weather.quantity-not-a-number", quantity = quantity),
                            cell,
                            message!("weather.accepted.cell"),
                        )
                    })?;
                builder.number(when, *quantity, number, *unit, Source::Cell(row.line, cell));
            }
        }
    }
    Ok(())
}

/// Whether times name the start or the end of the hour: the caller's word, else the comment's, else ask.
fn label_of(comments: &[&str], options: &ReadOptions) -> Result<HourLabel, ReadError> {
    if let Some(label) = options.hour_label {
        return Ok(label);
    }
    let (mut start, mut end) = (false, false);
    for comment in comments {
        let text = comment.to_lowercase();
        let words: Vec<&str> = text.split(|letter: char| !letter.is_alphanumeric()).collect();
        let has = |wanted: &[&str]| wanted.iter().any(|word| words.contains(word));
        if has(&["time", "times", "time_utc", "timestamp", "timestamps", "label", "labels"]) {
            start |= has(&["start", "starts", "starting", "begin", "begins", "beginning", "beginnings"]);
            end |= has(&["end", "ends", "ending"]);
        }
    }
    match (start, end) {
        (true, false) => Ok(HourLabel::Start),
        (false, true) => Ok(HourLabel::End),
        _ => Err(ReadError::new(
            ErrorKind::HourLabelNeeded,
            Place::File,
            message!("weather.hour-label-missing"),
            &comments.join(" / "),
            message!("weather.accepted.hour-label"),
        )),
    }
}

/// An issue time stated in a comment as `issued: 2026-01-14T05:00Z`.
fn issued_in(comment: &str) -> Option<Timestamp> {
    let rest = comment.strip_prefix("issued")?.trim_start_matches([':', '=', ' ']);
    clock::with_offset(rest)
}
