//! Airport reports in the METAR/SPECI form (WMO FM-15, with the United States remarks).

use super::options::{ReadOptions, choose_station};
use crate::build::{Builder, Source, When};
use crate::clock::{self, HOUR};
use crate::error::{ErrorKind, Place, ReadError};
use crate::file::{Format, Kind, WeatherFile};
use crate::notice::NoticeKind;
use crate::sample::{Flags, Quantity, Value};
use crate::units::Unit;
use crate::{PhaseReport, words};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use message::message;
use std::collections::BTreeMap;

/// Minute at which stations of the United States report, for files that hold only specials.
const USUAL_MINUTE: i64 = 53;
/// How many months a report may lie back before its day exists in the month (31st, 29 February).
const MONTHS_BACK: u32 = 3;

/// One report, its groups decoded.
#[derive(Debug, Default)]
struct Report {
    line: usize,
    station: String,
    day: i8,
    hour: i8,
    minute: i8,
    special: bool,
    nil: bool,
    numbers: Vec<(Quantity, f64, Unit)>,
    weather: PhaseReport,
    gauge: Gauge,
    needs_maintenance: bool,
}

/// What a report says about its gauge.
#[derive(Debug, Default, Clone, Copy)]
struct Gauge {
    /// Hundredths of an inch since the last hourly report.
    hundredths: Option<u32>,
    /// The station has a precipitation sensor (`AO2`) …
    has_sensor: bool,
    /// … which is out of order (`PNO`).
    out_of_order: bool,
}

impl Report {
    /// Hundredths of an inch, or `None` when not known. A station with a working sensor leaves the group out when
    /// nothing fell; the same report must then not name precipitation either.
    fn hundredths(&self) -> Option<u32> {
        let g = self.gauge;
        let silent_zero = g.has_sensor && !g.out_of_order && !self.special && self.weather.phase().is_none();
        g.hundredths.or_else(|| silent_zero.then_some(0))
    }

    /// A trace: the group is there and says zero.
    fn is_trace(&self) -> bool {
        self.gauge.hundredths == Some(0)
    }
}

/// Whether the first line is a report.
pub(super) fn looks_like(text: &str) -> bool {
    let first = text.lines().find(|line| !line.trim().is_empty() && !line.starts_with('#'));
    first.is_some_and(|line| start_of(line).is_some())
}

/// Reads reports, one to a line; a line that begins with a blank continues the one above.
pub(super) fn read(text: &str, options: &ReadOptions) -> Result<WeatherFile, ReadError> {
    let reports = reports_of(text)?;
    let mut stations: Vec<&str> = Vec::new();
    for report in &reports {
        if !stations.contains(&report.station.as_str()) {
            stations.push(&report.station);
        }
    }
    let station = choose_station(&stations, options)?;
    let Some(reference) = options.reference_time else {
        return Err(ReadError::new(
            ErrorKind::ReferenceTimeNeeded,
            Place::File,
            message!("weather.day-and-time-only"),
            "",
            message!("weather.accepted.reference-time"),
        ));
    };
    let mut builder = Builder::default();
    let mut timed: Vec<(Timestamp, Report)> = Vec::new();
    for report in reports.into_iter().filter(|report| Some(&report.station) == station.as_ref()) {
        let time = resolve(&report, reference)?;
        match timed.last() {
            Some((before, _)) if time < *before => {
                return Err(ReadError::new(
                    ErrorKind::TimeOrder,
                    Place::Line(report.line),
                    message!("weather.time-order"),
                    &time.to_string(),
                    message!("weather.accepted.rising-reports"),
                ));
            }
            Some((before, dropped)) if time == *before => {
                let first = message!("weather.line-dropped", dropped = dropped.line, kept = report.line);
                builder.tally.count_at(NoticeKind::Duplicate, message!("weather.later-line-kept"), first);
                timed.pop();
            }
            _ => {}
        }
        timed.push((time, report));
    }
    for (time, report) in &timed {
        add_report(*time, report, &mut builder);
    }
    add_precipitation(&timed, &mut builder);
    let (samples, tally) = builder.finish(true);
    Ok(WeatherFile {
        format: Format::Metar,
        kind: Kind::Observation,
        station,
        issued: None,
        latest: timed.iter().rev().find(|(_, report)| !report.nil).map(|(time, _)| *time),
        elevation: None,
        samples,
        members: Vec::new(),
        notices: tally.into_notices(),
    })
}

/// The first groups of a report: kind, station, day and time; and the rest.
fn start_of(line: &str) -> Option<(Report, Vec<&str>)> {
    let mut groups: Vec<&str> = line.trim().trim_end_matches('=').split_whitespace().collect();
    let mut special = false;
    while let Some(word) = groups.first().filter(|word| ["METAR", "SPECI", "COR"].contains(word)) {
        special |= *word == "SPECI";
        groups.remove(0);
    }
    let (station, time) = (groups.first()?, groups.get(1)?);
    let is_station = station.len() == 4
        && station.starts_with(|letter: char| letter.is_ascii_uppercase())
        && station.chars().all(|letter| letter.is_ascii_uppercase() || letter.is_ascii_digit());
    let digits = time.strip_suffix('Z').filter(|digits| digits.len() == 6 && all_digits(digits))?;
    let part = |from: usize| digits.get(from..from + 2)?.parse::<i8>().ok();
    let (day, hour, minute) = (part(0)?, part(2)?, part(4)?);
    let is_time = (1..=31).contains(&day) && hour < 24 && minute < 60;
    if !is_station || !is_time {
        return None;
    }
    let report = Report { station: (*station).to_owned(), day, hour, minute, special, ..Report::default() };
    groups.drain(..2);
    Some((report, groups))
}

fn reports_of(text: &str) -> Result<Vec<Report>, ReadError> {
    let mut joined: Vec<(usize, String)> = Vec::new();
    for (index, line) in text.lines().enumerate() {
        if line.trim().is_empty() || line.starts_with('#') {
            continue;
        }
        match joined.last_mut() {
            Some((_, report)) if line.starts_with(char::is_whitespace) => {
                report.push(' ');
                report.push_str(line.trim());
            }
            _ => joined.push((index + 1, line.trim().to_owned())),
        }
    }
    let decode = |(line, text): &(usize, String)| {
        let (mut report, groups) = start_of(text).ok_or_else(|| {
            let (what, accepted) = (message!("weather.not-a-report"), message!("weather.accepted.report"));
            ReadError::new(ErrorKind::BadValue, Place::Line(*line), what, text, accepted)
        })?;
        report.line = *line;
        let remarks = groups.iter().position(|group| *group == "RMK").unwrap_or(groups.len());
        decode_body(&groups[..remarks], &mut report);
        decode_remarks(&groups[remarks..], &mut report);
        Ok(report)
    };
    joined.iter().map(decode).collect()
}

/// Day and time to a time: in the reference's month, or in the month before it while the day lies in the future or
/// does not exist.
fn resolve(report: &Report, reference: Timestamp) -> Result<Timestamp, ReadError> {
    let refuse = || {
        let found = format!("{:02}{:02}{:02}Z", report.day, report.hour, report.minute);
        ReadError::new(
            ErrorKind::BadValue,
            Place::Line(report.line),
            message!("weather.no-such-day", until = reference),
            &found,
            message!("weather.accepted.day"),
        )
    };
    let today = TimeZone::UTC.to_datetime(reference).date();
    let (mut year, mut month) = (today.year(), today.month());
    for _ in 0..=MONTHS_BACK {
        if let Ok(date) = Date::new(year, month, report.day)
            && date <= today
        {
            let time = date.at(report.hour, report.minute, 0, 0);
            return TimeZone::UTC.to_timestamp(time).map_err(|_| refuse());
        }
        (year, month) = if month == 1 { (year.saturating_sub(1), 12) } else { (year, month - 1) };
    }
    Err(refuse())
}

fn all_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit())
}

fn decode_body(groups: &[&str], report: &mut Report) {
    let mut whole_miles: Option<f64> = None;
    let mut cloud: Option<f64> = None;
    for group in groups {
        // What follows is a forecast of the next two hours, not the report.
        if ["NOSIG", "BECMG", "TEMPO"].contains(group) {
            break;
        }
        if *group == "NIL" {
            report.nil = true;
        } else if *group == "CAVOK" {
            report.numbers.push((Quantity::Visibility, 10.0, Unit::Kilometres));
            cloud = Some(0.0);
        } else if let Some(wind) = wind_of(group) {
            report.numbers.extend(wind);
        } else if let Some(miles) = miles_of(group) {
            let miles = miles + whole_miles.take().unwrap_or(0.0);
            report.numbers.push((Quantity::Visibility, miles, Unit::StatuteMiles));
        } else if group.len() == 1 && all_digits(group) {
            whole_miles = group.parse().ok();
        } else if let Some(metres) = metres_of(group) {
            report.numbers.push((Quantity::Visibility, metres, Unit::Metres));
        } else if let Some(share) = cloud_of(group) {
            cloud = Some(cloud.unwrap_or(0.0).max(share));
        } else if let Some((air, dew_point)) = temperatures_of(group) {
            let celsius = |quantity, value: Option<f64>| value.map(|value| (quantity, value, Unit::Celsius));
            report.numbers.extend(celsius(Quantity::AirTemperature, air));
            report.numbers.extend(celsius(Quantity::DewPoint, dew_point));
        } else if let Some(weather) = words::from_metar_group(group) {
            report.weather = report.weather.with(weather);
        }
    }
    if let Some(share) = cloud {
        report.numbers.push((Quantity::Cloud, share * 100.0, Unit::Percent));
    }
}

/// `05012G19KT`, `VRB03KT`, `33006MPS`: direction, speed, gust.
fn wind_of(group: &str) -> Option<Vec<(Quantity, f64, Unit)>> {
    let units =
        [("KT", Unit::Knots), ("MPS", Unit::MetresPerSecond), ("KMH", Unit::KilometresPerHour)].into_iter();
    let (body, unit) = units.filter_map(|(suffix, unit)| Some((group.strip_suffix(suffix)?, unit))).next()?;
    let (direction, rest) = (body.get(..3)?, body.get(3..)?);
    let (speed, gust) = rest.split_once('G').map_or((rest, None), |(speed, gust)| (speed, Some(gust)));
    let number = |text: &str| text.parse::<f64>().ok().filter(|_| all_digits(text) && text.len() <= 3);
    let mut wind = vec![(Quantity::WindSpeed, number(speed)?, unit)];
    if let Some(gust) = gust.and_then(number) {
        wind.push((Quantity::WindGust, gust, unit));
    }
    // A calm is written with direction 000, which is no direction.
    if let Some(degrees) = number(direction).filter(|_| speed.bytes().any(|digit| digit != b'0')) {
        wind.push((Quantity::WindDirection, degrees, Unit::Degrees));
    }
    Some(wind)
}

/// `10SM`, `1/2SM`, `M1/4SM` (less than).
fn miles_of(group: &str) -> Option<f64> {
    let body = group.strip_suffix("SM")?;
    let body = body.trim_start_matches(['M', 'P']);
    match body.split_once('/') {
        Some((above, below)) if all_digits(above) && all_digits(below) => {
            let (above, below) = (above.parse::<f64>().ok()?, below.parse::<f64>().ok()?);
            (below > 0.0).then(|| above / below)
        }
        None if all_digits(body) && body.len() <= 3 => body.parse().ok(),
        _ => None,
    }
}

/// Four digits are metres; 9999 stands for 10 km or more.
fn metres_of(group: &str) -> Option<f64> {
    let body = group.strip_suffix("NDV").unwrap_or(group);
    let metres = body.parse::<f64>().ok().filter(|_| body.len() == 4 && all_digits(body))?;
    Some(if body == "9999" { 10_000.0 } else { metres })
}

/// Cloud share of one layer; the mid values of the classes are our choice.
fn cloud_of(group: &str) -> Option<f64> {
    if ["SKC", "CLR", "NSC", "NCD"].contains(&group) {
        return Some(0.0);
    }
    let (class, height) = match group.strip_prefix("VV") {
        Some(height) => ("VV", height),
        None => (group.get(..3)?, group.get(3..)?),
    };
    let height = height.get(..3)?;
    if !all_digits(height) && height != "///" {
        return None;
    }
    Some(match class {
        "FEW" => 2.0 / 8.0,
        "SCT" => 4.0 / 8.0,
        "BKN" => 6.0 / 8.0,
        "OVC" | "VV" => 1.0,
        _ => return None,
    })
}

/// `M02/M03`, `M06/`, `02///`: whole degrees; an empty half has no value.
fn temperatures_of(group: &str) -> Option<(Option<f64>, Option<f64>)> {
    let (air, dew_point) = group.split_once('/')?;
    let half = |text: &str| -> Option<Option<f64>> {
        if text.is_empty() || text.trim_matches('/').is_empty() || text == "XX" {
            return Some(None);
        }
        let (sign, digits) = text.strip_prefix('M').map_or((1.0, text), |digits| (-1.0, digits));
        let degrees = digits.parse::<f64>().ok().filter(|_| digits.len() == 2 && all_digits(digits))?;
        Some(Some(sign * degrees))
    };
    Some((half(air)?, half(dew_point)?))
}

fn decode_remarks(groups: &[&str], report: &mut Report) {
    for group in groups {
        match *group {
            "AO2" | "AO2A" => report.gauge.has_sensor = true,
            "PNO" => report.gauge.out_of_order = true,
            "$" => report.needs_maintenance = true,
            _ => decode_remark(group, report),
        }
    }
}

fn decode_remark(group: &str, report: &mut Report) {
    let digits = |prefix: &str, length: usize| {
        group.strip_prefix(prefix).filter(|rest| rest.len() == length && all_digits(rest))
    };
    if let Some(amount) = digits("P", 4) {
        report.gauge.hundredths = amount.parse().ok();
    } else if let Some(tenths) = digits("T", 8).or_else(|| digits("T", 4)) {
        let value = |from: usize| {
            let sign = if tenths.get(from..=from)? == "1" { -1.0 } else { 1.0 };
            Some(sign * tenths.get(from + 1..from + 4)?.parse::<f64>().ok()? / 10.0)
        };
        // Tenths replace the whole degrees of the body.
        for (quantity, value) in [(Quantity::AirTemperature, value(0)), (Quantity::DewPoint, value(4))] {
            if let Some(value) = value {
                report.numbers.retain(|(other, _, _)| *other != quantity);
                report.numbers.push((quantity, value, Unit::Celsius));
            }
        }
    } else if let Some(pressure) = digits("SLP", 3).and_then(|digits| digits.parse::<f64>().ok()) {
        let hectopascals = pressure / 10.0 + if pressure >= 500.0 { 900.0 } else { 1000.0 };
        report.numbers.push((Quantity::SeaLevelPressure, hectopascals, Unit::Hectopascals));
    } else if let Some(depth) = digits("4/", 3).and_then(|digits| digits.parse::<f64>().ok()) {
        report.numbers.push((Quantity::SnowOnGround, depth, Unit::Inches));
    }
}

fn add_report(time: Timestamp, report: &Report, builder: &mut Builder) {
    let when = When::at(time);
    let place = Source::Line(report.line);
    for (quantity, number, unit) in &report.numbers {
        builder.number(when, *quantity, *number, *unit, place);
    }
    if report.weather.phase().is_some() {
        let value = Value::Phase(report.weather);
        builder.value(when, Quantity::Weather, value, Flags::default(), None, place);
    }
    if report.needs_maintenance {
        builder.tally.count_at(NoticeKind::SensorFault, message!("weather.maintenance-needed"), place);
    }
    if report.gauge.out_of_order {
        builder.tally.count_at(NoticeKind::SensorFault, message!("weather.no-gauge"), place);
    }
    if report.nil {
        builder.tally.count_at(NoticeKind::NotUsed, message!("weather.empty-report"), place);
    }
}

/// The amount of each hour of the clock.
///
/// A report's amount is the running total since the last hourly report, so specials repeat part of it. Of the routine
/// reports the one nearest the full hour counts. Where a station sent only specials, the last of them gives at least
/// what fell up to then.
fn add_precipitation(reports: &[(Timestamp, Report)], builder: &mut Builder) {
    let offset = report_offset(reports);
    let mut routine: BTreeMap<i64, (i64, &Report)> = BTreeMap::new();
    let mut specials: BTreeMap<i64, &Report> = BTreeMap::new();
    for (time, report) in reports.iter().filter(|(_, report)| report.hundredths().is_some()) {
        let seconds = time.as_second();
        if report.special {
            let hour = -(offset - seconds).div_euclid(HOUR) * HOUR;
            specials.insert(hour, report);
        } else {
            let hour = (seconds + HOUR / 2).div_euclid(HOUR) * HOUR;
            let distance = (seconds - hour).abs();
            if routine.get(&hour).is_none_or(|(best, _)| distance < *best) {
                routine.insert(hour, (distance, report));
            }
        }
    }
    specials.retain(|hour, _| !routine.contains_key(hour));
    let whole = routine.iter().map(|(hour, (_, report))| (*hour, *report, false));
    for (hour, report, part) in whole.chain(specials.iter().map(|(hour, report)| (*hour, *report, true))) {
        let Some(hundredths) = report.hundredths() else { continue };
        let when = When::between(clock::from_seconds(hour - HOUR), clock::from_seconds(hour));
        let flags = Flags { trace: report.is_trace(), lower_bound: part, ..Flags::default() };
        let value = Unit::Inches.value(f64::from(hundredths) / 100.0);
        let place = Source::Line(report.line);
        builder.value(when, Quantity::Precipitation, value, flags, None, place);
    }
}

/// Seconds from the full hour to the usual time of the routine reports, negative for minutes before the hour.
fn report_offset(reports: &[(Timestamp, Report)]) -> i64 {
    let mut counts: BTreeMap<i64, usize> = BTreeMap::new();
    for (_, report) in reports.iter().filter(|(_, report)| !report.special) {
        *counts.entry(i64::from(report.minute)).or_default() += 1;
    }
    let minute =
        counts.into_iter().max_by_key(|(_, count)| *count).map_or(USUAL_MINUTE, |(minute, _)| minute);
    60 * if minute >= 30 { minute - 60 } else { minute }
}
