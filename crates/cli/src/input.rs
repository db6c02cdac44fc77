//! Reading what verbs work on: text files, yard files, forecasts, times.

use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};

use event::Recorded;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use message::Tell;
use report::{Display, Language, Words};
use road::RateTable;
use site::UnitSystem;
use site::Yard;
use store::{Ledger, SqliteLedger, StoreError, Verification};
use weather::{ReadOptions, WeatherFile};

use crate::args::{HourLabel, Reading, Units};
use crate::errors::sentence;
use crate::outcome::Failure;

/// Largest file read, bytes: far above any forecast or yard file.
const LARGEST_FILE: u64 = 256 * 1024 * 1024;

/// A text file, whole.
pub fn text(path: &Path) -> Result<String, Failure> {
    let refuse = |reason: String| Failure::Input(format!("{}: {reason}", path.display()));
    let file = fs::File::open(path).map_err(|e| refuse(format!("cannot be read: {e}")))?;
    let mut bytes = Vec::new();
    // One more than the most, to see that there is more; a device has no length of its own.
    file.take(LARGEST_FILE + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| refuse(format!("cannot be read: {e}")))?;
    if bytes.len() as u64 > LARGEST_FILE {
        return Err(refuse(format!("is longer than {LARGEST_FILE} bytes, the most that is read")));
    }
    String::from_utf8(bytes).map_err(|e| {
        refuse(format!(
            "is not text (byte {} is not UTF-8); accepted: a UTF-8 text file",
            e.utf8_error().valid_up_to()
        ))
    })
}

/// A yard file, or everything wrong with it.
pub fn yard(path: &Path) -> Result<Yard, Failure> {
    let name = path.display().to_string();
    let text = text(path)?;
    let yard = site::yard_file::read_yard(&text, &name).map_err(|problems| {
        let count = problems.len();
        let display = display_of_file(&text);
        let lines: Vec<String> =
            problems.iter().map(|problem| format!("  {}", display.tell(&problem.message()))).collect();
        Failure::Input(format!(
            "{name} has {count} problem{}:\n{}",
            if count == 1 { "" } else { "s" },
            lines.join("\n")
        ))
    })?;
    rates(&yard)?;
    Ok(yard)
}

/// How the faults of a yard file are told: in the units that it asks for itself, as far as that can be read.
pub fn display_of_file(text: &str) -> Display {
    let file = text.parse::<toml_edit::DocumentMut>().ok();
    let units = file.as_ref().and_then(|file| file.get("yard")?.get("units")?.as_str());
    let units = if units == Some("si") { UnitSystem::Si } else { UnitSystem::Us };
    Display::new(units, TimeZone::UTC)
}

/// The rates with a yard's switches.
pub fn rates(yard: &Yard) -> Result<RateTable, Failure> {
    RateTable::with_choice(&yard.policy.rates_on, &yard.policy.rates_off)
        .map_err(|error| Failure::Input(format!("policy.rates_on and rates_off: {}", sentence(&error))))
}

/// A weather file.
pub fn weather(
    path: &Path,
    reading: &Reading,
    station: Option<&str>,
    reference_time: Timestamp,
) -> Result<WeatherFile, Failure> {
    let text = text(path)?;
    let options = |station: Option<String>| ReadOptions {
        station,
        reference_time: Some(reference_time),
        hour_label: reading.hour_label.map(|label| match label {
            HourLabel::Start => weather::HourLabel::Start,
            HourLabel::End => weather::HourLabel::End,
        }),
    };
    let refuse =
        |error: weather::ReadError| Failure::Input(format!("{}: {}", path.display(), sentence(&error)));
    match &reading.station {
        Some(station) => weather::read(&text, &options(Some(station.clone()))).map_err(refuse),
        // The yard's own station picks from a file that holds several; a file of one place needs no picking.
        None => weather::read(&text, &options(None)).or_else(|error| match (&error.kind, station) {
            (weather::ErrorKind::StationNeeded(_), Some(station)) => {
                weather::read(&text, &options(Some(station.to_string()))).map_err(refuse)
            }
            _ => Err(refuse(error)),
        }),
    }
}

/// A forecast made ready to plan from a time: observations are cut there and read on as a perfect forecast.
pub fn forecast(
    path: &Path,
    reading: &Reading,
    yard: &Yard,
    now: Timestamp,
) -> Result<(WeatherFile, Timestamp), Failure> {
    let zone = zone(yard)?;
    let asked = reading.issued.as_deref().map(|text| time("--issued", text, &zone)).transpose()?;
    let file = weather(path, reading, yard.weather_station.as_deref(), asked.unwrap_or(now))?;
    match asked {
        Some(issued) if file.kind == weather::Kind::Forecast => Ok((file, issued)),
        Some(issued) => Ok((file.as_perfect_forecast(issued), issued)),
        None if file.kind == weather::Kind::Observation => Err(Failure::Input(format!(
            "{}: holds observations, not a forecast; accepted: --issued with a time within them, to plan as if from then",
            path.display()
        ))),
        None => {
            // A plan begins where temperatures do: an amount may be stated for the hour before.
            let first = [weather::Quantity::AirTemperature, weather::Quantity::PavementTemperature]
                .into_iter()
                .filter_map(|quantity| file.samples.of(quantity).iter().map(|sample| sample.start).min())
                .min();
            // From now where the file covers it, else from its own issue or first hour.
            let covered =
                first.is_some_and(|first| first <= now) && file.latest.is_some_and(|latest| now < latest);
            let from = if covered { Some(now) } else { file.issued.max(first).or(first) };
            let from = from.ok_or_else(|| Failure::Input(format!("{}: holds no values", path.display())))?;
            Ok((file, from))
        }
    }
}

/// A ledger that must be there and be sound: figures from a damaged one would only look like figures.
pub fn sound_ledger(path: &Path) -> Result<SqliteLedger, Failure> {
    let ledger = ledger(path)?;
    match ledger.verify()? {
        Verification::Sound(_) => Ok(ledger),
        Verification::Damaged { seq, reason } => Err(StoreError::Damaged { seq, reason }.into()),
    }
}

/// Every row of a sound ledger, those that lie ahead of now where they can have happened.
pub fn events(path: &Path) -> Result<Vec<Recorded>, Failure> {
    let events = sound_ledger(path)?.events_after(0)?;
    Ok(yard::clock::as_of(events, Timestamp::now()).0)
}

/// A ledger that must be there.
pub fn ledger(path: &Path) -> Result<SqliteLedger, Failure> {
    if path.exists() {
        return match SqliteLedger::open_existing(path) {
            // An auditor's copy, or a medium that cannot be written, is read as it is.
            Err(StoreError::Access { .. }) => Ok(SqliteLedger::open_read_only(path)?),
            opened => Ok(opened?),
        };
    }
    let accepted = "accepted: one made by \"ledger add\" or \"serve\"";
    Err(Failure::Input(format!("{}: there is no such ledger; {accepted}", path.display())))
}

/// A yard's zone.
pub fn zone(yard: &Yard) -> Result<TimeZone, Failure> {
    TimeZone::get(&yard.time_zone).map_err(|error| Failure::Input(format!("yard.time_zone: {error}")))
}

/// A time from the year 2000 on: with an offset as it says, without one by the yard's clock.
pub fn time(what: &str, text: &str, zone: &TimeZone) -> Result<Timestamp, Failure> {
    let refused = |problem: &str| {
        Failure::Input(format!(
            "{what} = {text}: {problem}; accepted: 2026-01-14T06:00Z, or 2026-01-14T01:00 in the yard's zone"
        ))
    };
    if let Ok(at) = text.parse::<Timestamp>() {
        let is_ours = at.to_zoned_datetime(zone.clone()).date().year() >= 2000;
        return if is_ours { Ok(at) } else { Err(refused("lies before the year 2000")) };
    }
    let civil = text.parse::<DateTime>().map_err(|_| refused("not a time"))?;
    yard::calendar::by_the_clock(civil, zone).map_err(|error| {
        refused(&Display::new(UnitSystem::Us, zone.clone()).tell(&message::Tell::message(&error)))
    })
}

/// How a person sees quantities.
pub fn display(yard: &Yard, units: Option<Units>) -> Result<Display, Failure> {
    let units = units.map_or(yard.units, system);
    Ok(Display::new(units, zone(yard)?))
}

/// A unit system from the command line.
pub fn system(units: Units) -> UnitSystem {
    match units {
        Units::Us => UnitSystem::Us,
        Units::Si => UnitSystem::Si,
    }
}

/// The texts. English today.
pub fn words() -> Words {
    Words::of(Language::En)
}

/// The procedures of guided runs: from files, or those that ship for how the yard's plant works.
pub fn procedures(paths: &[PathBuf], yard: &Yard) -> Result<Vec<plant::procedure::Procedure>, Failure> {
    let mut texts = Vec::new();
    for path in paths {
        texts.push((path.display().to_string(), text(path)?));
    }
    if texts.is_empty() {
        let shipped = plant::procedure::shipped_for(yard.making.as_ref().map(|layout| layout.control.way));
        texts.extend(shipped.into_iter().map(|text| ("the shipped procedure".to_string(), text.to_string())));
    }
    let mut found: Vec<plant::procedure::Procedure> = Vec::new();
    for (name, text) in texts {
        let procedure: plant::procedure::Procedure = toml_edit::de::from_str(&text)
            .map_err(|error| Failure::Input(format!("{name}: {}", error.to_string().trim_end())))?;
        procedure.check().map_err(|error| Failure::Input(format!("{name}: {}", sentence(&error))))?;
        if found.iter().any(|other| other.title == procedure.title) {
            let what = format!(
                "{name}: title = \"{}\": is there twice; accepted: one procedure a title",
                procedure.title
            );
            return Err(Failure::Input(what));
        }
        found.push(procedure);
    }
    Ok(found)
}
