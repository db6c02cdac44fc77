//! What is refused, and that a refusal says what, where and what instead. The rules are the project's own
//! ("formats", section 0).

#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use common::{
    AIRPORT, ENSEMBLE, MET_NORWAY, METAR, NWS_GRID, OPEN_METEO, PLAIN, STATION, air, near, plain, time, water,
};
use message::{Arg, Message, Tell, message};
use proptest::prelude::*;
use weather::{ErrorKind, GridOptions, HourLabel, NoticeKind, Place, Quantity, ReadError, ReadOptions};

fn refusal(text: &str) -> ReadError {
    weather::read(text, &ReadOptions::default()).unwrap_err()
}

/// Checks a refusal and gives what it accepts instead.
#[track_caller]
fn refused(text: &str, kind: ErrorKind, place: Place, what: &Message, found: &str) -> Arg {
    let error = refusal(text);
    assert_eq!((&error.kind, &error.place), (&kind, &place), "{error}");
    assert_eq!((&*error.what, error.found.as_str()), (what, found), "{error}");
    error.accepted
}

fn line(line: usize) -> Place {
    Place::Line(line)
}

fn column(line: usize, column: &str) -> Place {
    Place::Column { line, column: column.into() }
}

fn path(path: &str) -> Place {
    Place::Path(path.into())
}

fn unknown_unit(quantity: Quantity) -> Message {
    message!("weather.unknown-unit", quantity = &quantity)
}

const TEMPERATURES: &str = "degC (c, °C, celsius), degF (f, °F), K";

#[test]
fn no_weather_at_all() {
    let formats = Arg::from(message!("weather.accepted.formats"));
    let whole = |text: &str, kind, what: &str, found: &str| {
        assert_eq!(refused(text, kind, Place::File, &Message::from(what), found), formats);
    };
    whole("", ErrorKind::Empty, "weather.empty", "");
    whole("\u{feff} \n\n", ErrorKind::Empty, "weather.empty", "");
    let unknown = |text: &str, found: &str| {
        whole(text, ErrorKind::UnknownFormat, "weather.unknown-format", found);
    };
    unknown("Dear all,\nsnow is coming", "Dear all,");
    unknown("\u{1}\u{2}\u{0}PNG\u{7f}", "\\u{1}\\u{2}\\0PNG\\u{7f}");
    let json = |text: &str, found: &str| {
        whole(text, ErrorKind::UnknownFormat, "weather.unknown-json", found);
    };
    json("{\"a\": 1}", "");
    json("{\"error\": true, \"reason\": \"no such place\"}", "no such place");
    json("[1, 2]", "");
    let cut = refusal(&NWS_GRID[..2000]);
    assert_eq!((cut.kind, *cut.what), (ErrorKind::Damaged, message!("weather.json-cut-short")));
    assert!(matches!(cut.place, Place::Character { line, .. } if line > 1), "{:?}", cut.place);
    let broken = refusal("{\"hourly\": nonsense}");
    assert_eq!((broken.kind, *broken.what), (ErrorKind::Damaged, message!("weather.json-broken")));
    assert!(matches!(broken.place, Place::Character { line: 1, .. }), "{:?}", broken.place);
}

/// A refusal as one message: the place and the value only where there are any.
#[test]
fn a_refusal_is_told_with_what_it_has() {
    let blanks = |error: &ReadError| {
        let message = error.message();
        let names: Vec<String> = message.args().map(|(name, _)| name.to_owned()).collect();
        (message.id().to_owned(), names.join(" "))
    };
    let whole = refusal("");
    assert_eq!(blanks(&whole), ("weather.refused".into(), "what accepted".into()));
    let value = refusal("Dear all,\nsnow is coming");
    assert_eq!(blanks(&value), ("weather.refused-value".into(), "what found accepted".into()));
    let part = refusal("{\"hourly\": {}}");
    assert_eq!(blanks(&part), ("weather.refused-at".into(), "place what accepted".into()));
    let both = refusal(&MET_NORWAY.replacen("\"celsius\"", "\"réaumur\"", 1));
    assert_eq!(blanks(&both), ("weather.refused-value-at".into(), "place what found accepted".into()));
}

#[test]
fn tables() {
    let comment = "# times are the END of the hour\n";
    let table = |header: &str, rows: &str| format!("{comment}{header}\n{rows}");
    let row = "2026-01-14T06:00Z,1\n";
    let named = |header: &str, name: &str, quantity| {
        let text = table(header, row);
        refused(&text, ErrorKind::UnknownUnit, column(2, name), &unknown_unit(quantity), name)
    };
    let accepted = named("time_utc,air_temp_k2", "air_temp_k2", Quantity::AirTemperature);
    assert_eq!(accepted, TEMPERATURES.into());
    let accepted = named("time_utc,precip_c", "precip_c", Quantity::Precipitation);
    assert_eq!(accepted, "mm, cm, in (inch), m, km, mi (statute_mile)".into());
    let text = table("time_utc,air_temp_c,elfin_magic", "2026-01-14T06:00Z,1,2\n");
    let (place, what) = (column(2, "elfin_magic"), message!("weather.unknown-column"));
    let accepted = refused(&text, ErrorKind::UnknownColumn, place, &what, "elfin_magic");
    assert!(matches!(accepted, Arg::Text(columns) if columns.contains("dew_point_")));
    let text = table("air_temp_c,precip_mm", "1,2\n");
    let accepted = refused(&text, ErrorKind::MissingPart, line(2), &message!("weather.time-columns"), "");
    assert_eq!(accepted, message!("weather.accepted.time-column").into());
    let timed = |header: &str, rows: &str, found: &str| {
        let what = message!("weather.not-a-time");
        let accepted = refused(&table(header, rows), ErrorKind::BadValue, line(3), &what, found);
        assert_eq!(accepted, message!("weather.accepted.time-in-table").into());
    };
    timed("time_utc,air_temp_c", "yesterday,1\n", "yesterday");
    // A time without an offset is UTC only where the header says so.
    timed("time,air_temp_c", "2026-01-14T06:00,1\n", "2026-01-14T06:00");
    for cell in ["cold", "T", "inf"] {
        let text = table("time_utc,air_temp_c", &format!("2026-01-14T06:00Z,{cell}\n"));
        let number = message!("weather.quantity-not-a-number", quantity = &Quantity::AirTemperature);
        let what = message!("weather.in-row", what = number, time = time("2026-01-14T06:00Z"));
        let accepted = refused(&text, ErrorKind::BadValue, line(3), &what, cell);
        assert_eq!(accepted, message!("weather.accepted.cell").into());
    }
    let (text, what) =
        (table("time_utc,air_temp_c", "2026-01-14T06:00Z\n"), message!("weather.cells", count = 1));
    let accepted = refused(&text, ErrorKind::Damaged, line(3), &what, "2026-01-14T06:00Z");
    assert_eq!(accepted, message!("weather.accepted.cells", count = 2).into());
    let text = table("time_utc,air_temp_c", "2026-01-14T07:00Z,1\n2026-01-14T06:00Z,1\n");
    let (what, found) = (message!("weather.time-order"), "2026-01-14T06:00:00Z");
    let accepted = refused(&text, ErrorKind::TimeOrder, line(4), &what, found);
    let before = time("2026-01-14T07:00Z");
    assert_eq!(accepted, message!("weather.accepted.times-from", before = before).into());
    let text = table("time_utc,air_temp_c,air_temp_f", "2026-01-14T06:00Z,1,1\n");
    let what = message!("weather.quantity-twice");
    let accepted = refused(&text, ErrorKind::UnknownColumn, line(2), &what, "air_temp_f");
    assert_eq!(accepted, message!("weather.accepted.quantity-once").into());
}

#[test]
fn the_hour_label_is_asked_for() {
    let unlabelled = "time_utc,air_temp_c,precip_mm\n2026-01-14T06:00Z,-1,0.5\n";
    let what = message!("weather.hour-label-missing");
    let accepted = refused(unlabelled, ErrorKind::HourLabelNeeded, Place::File, &what, "");
    assert_eq!(accepted, message!("weather.accepted.hour-label").into());
    let read = |label| {
        let options = ReadOptions { hour_label: Some(label), ..ReadOptions::default() };
        let file = weather::read(unlabelled, &options).unwrap();
        file.samples.of(Quantity::Precipitation)[0].start
    };
    assert_eq!(read(HourLabel::Start), time("2026-01-14T06:00Z"));
    assert_eq!(read(HourLabel::End), time("2026-01-14T05:00Z"));
    let started = plain(&format!("# Times name the start of each hour\n{unlabelled}"));
    assert_eq!(started.samples.of(Quantity::Precipitation)[0].start, time("2026-01-14T06:00Z"));
}

#[test]
fn reports() {
    let error = weather::read(METAR, &ReadOptions::default()).unwrap_err();
    assert_eq!(error.kind, ErrorKind::StationNeeded(vec!["KZZZ".into(), "ENXX".into()]));
    let options = ReadOptions { station: Some("KZZZ".into()), ..ReadOptions::default() };
    let error = weather::read(METAR, &options).unwrap_err();
    assert_eq!(error.kind, ErrorKind::ReferenceTimeNeeded);
    let options = ReadOptions { reference_time: Some(time("2026-01-14T12:00Z")), ..options };
    let error = weather::read("KZZZ 140653Z 00000KT\nhello there\n", &options).unwrap_err();
    assert_eq!((error.place, *error.what), (line(2), message!("weather.not-a-report")));
    let error = weather::read("KZZZ 140653Z 00000KT\nKZZZ 140553Z 00000KT\n", &options).unwrap_err();
    assert_eq!(error.kind, ErrorKind::TimeOrder);
}

#[test]
fn json_with_a_wrong_part() {
    let unit = |text: &str, place: &str, quantity, found: &str| {
        refused(text, ErrorKind::UnknownUnit, path(place), &unknown_unit(quantity), found)
    };
    let text = NWS_GRID.replacen("degC", "degX", 1);
    let accepted = unit(&text, "properties.temperature.uom", Quantity::AirTemperature, "wmoUnit:degX");
    assert_eq!(accepted, TEMPERATURES.into());
    let text = MET_NORWAY.replacen("\"celsius\"", "\"réaumur\"", 1);
    unit(&text, "properties.meta.units.air_temperature", Quantity::AirTemperature, "réaumur");
    let text = OPEN_METEO.replacen("km/h", "furlong", 1);
    let accepted = unit(&text, "hourly_units.wind_speed_10m", Quantity::WindSpeed, "furlong");
    assert_eq!(accepted, "m_s (m/s), km_h (km/h), mph, kn".into());
    let text = ENSEMBLE.replacen("\"°C\"", "\"°X\"", 1);
    unit(&text, "hourly_units.temperature_2m", Quantity::AirTemperature, "°X");

    let text = NWS_GRID.replacen("/PT2H", "/P2M", 1);
    let place = path("properties.temperature.values[1].validTime");
    let (what, found) = (message!("weather.not-an-interval"), "2026-01-14T07:00:00+00:00/P2M");
    let accepted = refused(&text, ErrorKind::BadValue, place, &what, found);
    assert_eq!(accepted, message!("weather.accepted.interval").into());
    let text = NWS_GRID.replacen("\"value\": -1.1", "\"value\": \"cold\"", 1);
    let place = path("properties.temperature.values[0].value");
    let what = message!("weather.not-a-number");
    let accepted = refused(&text, ErrorKind::BadValue, place, &what, "\\\"cold\\\"");
    assert_eq!(accepted, message!("weather.accepted.number-or-null").into());

    let early = |text: &str, place: &str, found: &str, before: &str| {
        let what = message!("weather.time-order");
        let accepted = refused(text, ErrorKind::TimeOrder, path(place), &what, found);
        assert_eq!(accepted, message!("weather.accepted.times-from", before = time(before)).into());
    };
    let text = NWS_GRID.replacen("2026-01-14T13:00:00+00:00/PT2H", "2026-01-14T03:00:00+00:00/PT2H", 1);
    let place = "properties.temperature.values[4].validTime";
    early(&text, place, "2026-01-14T03:00:00Z", "2026-01-14T10:00Z");
    let text = MET_NORWAY.replacen("2026-01-14T09:00:00Z", "2026-01-14T05:00:00Z", 1);
    early(&text, "properties.timeseries[3].time", "2026-01-14T05:00:00Z", "2026-01-14T08:00Z");

    let shorter = refusal(&OPEN_METEO.replacen(
        "\"2026-01-15T05:00\"",
        "\"2026-01-15T05:00\", \"2026-01-15T06:00\"",
        1,
    ));
    assert_eq!((shorter.kind, shorter.found.as_str()), (ErrorKind::UnequalLengths, "24"));
    assert!(matches!(shorter.place, Place::Path(path) if path.starts_with("hourly.")));
    assert_eq!(shorter.accepted, message!("weather.accepted.one-for-each-time", count = 25).into());
    let text = OPEN_METEO.replace("utc_offset_seconds", "other");
    let (place, what) = (path("utc_offset_seconds"), message!("weather.no-offset"));
    let accepted = refused(&text, ErrorKind::MissingPart, place, &what, "");
    assert_eq!(accepted, message!("weather.accepted.offset").into());
}

#[test]
fn station_tables() {
    let (text, what) = (STATION.replacen(",-17", ",-1.7", 1), message!("weather.raw-not-whole"));
    let accepted = refused(&text, ErrorKind::BadValue, line(3), &what, "-1.7");
    assert_eq!(accepted, message!("weather.accepted.raw-value").into());
    let (text, what) = (STATION.replacen("06:10:00", "05:10:00", 1), message!("weather.time-order"));
    let accepted = refused(&text, ErrorKind::TimeOrder, line(21), &what, "2026-01-14T05:10:00Z");
    assert_eq!(accepted, message!("weather.accepted.rising-times").into());
    let (text, what) = (STATION.replacen("station,", "site,", 1), message!("weather.not-station-columns"));
    let found = "site,time_utc,object,index,raw_value";
    let accepted = refused(&text, ErrorKind::UnknownColumn, line(2), &what, found);
    assert_eq!(accepted, "station,time_utc,object,index,raw_value".into());
}

// Section 0, rule 7: flagged, not clipped, and not used.
#[test]
fn impossible_values() {
    let text = "# times are the start of the hour\n\
        time_utc,air_temp_c,dew_point_c,rel_humidity_pct,wind_speed_m_s,precip_mm,pavement_temp_c\n\
        2026-01-14T06:00Z,-61,,106,-1,101,81\n\
        2026-01-14T07:00Z,-5,-4.4,104,76,-1,-51\n\
        2026-01-14T08:00Z,-5,-4.6,90,75,100,-50\n";
    let file = plain(text);
    let impossible = file.samples.all().iter().filter(|sample| sample.flags.impossible).count();
    // Row one: all five given but the dew point; row two: dew point, wind, water, pavement.
    assert_eq!(impossible, 9);
    let hours = file.hourly(time("2026-01-14T06:00Z"), 3, GridOptions::default()).hours;
    assert!(hours[0].air.is_none() && hours[0].precipitation.is_none() && hours[0].flags.impossible);
    assert!(hours[1].pavement.is_none() && hours[1].wind.is_none());
    near(hours[1].relative_humidity.unwrap().percent(), 100.0, 0.0);
    assert!(file.notices.iter().any(|notice| notice.kind == NoticeKind::HumidityTakenAsFull));
    assert!(!hours[2].flags.impossible);
    near(water(&hours[2]).unwrap(), 100.0, 1e-9);
}

// Section 0, rule 5: two missing hours are filled, three stay open; amounts never.
#[test]
fn gaps() {
    let rows = |hours: &[u32]| {
        let mut text = String::from("# times are the start of the hour\ntime_utc,air_temp_c,precip_mm\n");
        hours.iter().for_each(|hour| text += &format!("2026-01-14T{hour:02}:00Z,-{hour},0.1\n"));
        plain(&text).hourly(time("2026-01-14T00:00Z"), 10, GridOptions::default())
    };
    let short = rows(&[0, 1, 2, 5, 6, 7]);
    assert!(short.open_gaps().is_empty());
    near(air(&short.hours[4]).unwrap(), -4.0, 1e-9);
    assert_eq!(short.hours_without_precipitation().len(), 2);
    let long = rows(&[0, 1, 2, 6, 7, 8]);
    assert!(long.hours[4].air.is_none());
    assert_eq!(long.open_gaps()[0].end, time("2026-01-14T06:00Z"));
    assert!(long.notices.iter().any(|notice| notice.kind == NoticeKind::OpenGap));
}

#[test]
fn tables_with_other_steps_and_marks() {
    let text = "# issued: 2026-01-14T05:00Z\n# time_utc is the end of the interval\n\
        time_utc;air_temp_f;precip_in;weather\n2026-01-14T12:00Z;32;0.6;\"FZRA\"\n2026-01-14T18:00Z;23;T;light snow\n";
    let file = plain(text);
    assert_eq!(file.issued, Some(time("2026-01-14T05:00Z")));
    let hours = file.hourly(time("2026-01-14T06:00Z"), 12, GridOptions::default()).hours;
    near(water(&hours[0]).unwrap(), 2.54, 1e-9);
    assert!(hours[0].flags.spread && hours[0].freezing_rain && hours[6].trace);
    near(air(&hours[11]).unwrap(), -5.0, 1e-9);
}

fn options() -> ReadOptions {
    ReadOptions {
        station: Some("KEWR".into()),
        reference_time: Some(time("2026-01-14T12:00Z")),
        hour_label: Some(HourLabel::End),
    }
}

fn read_and_lay(text: &str) {
    for options in [options(), ReadOptions { station: None, ..options() }] {
        match weather::read(text, &options) {
            Ok(file) => {
                let grid = file.hourly(time("2026-01-14T00:00Z"), 40, GridOptions::default());
                assert_eq!(grid.hours.len(), 40);
                let _ = file.member_grids(time("2026-01-14T00:00Z"), 40, GridOptions::default());
                let _ = file.as_perfect_forecast(time("2026-01-14T09:00Z"));
            }
            Err(error) => {
                assert!(error.what.id().starts_with("weather."), "{error}");
                assert!(!error.accepted.to_string().is_empty(), "{error}");
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        read_and_lay(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn random_text_never_panics(text in "\\PC{0,200}") {
        read_and_lay(&text);
        read_and_lay(&format!("KZZZ 140653Z {text}"));
        read_and_lay(&format!("KZZZ 140653Z AUTO RMK AO2 {text}"));
        read_and_lay(&format!("time_utc,air_temp_c,precip_mm,weather\n{text}"));
        read_and_lay(&format!("station,time_utc,object,index,raw_value\n{text}"));
    }

    #[test]
    fn cut_samples_never_panic(which in 0usize..9, cut in 0.0f64..1.0) {
        let text = common::all()[which];
        let text = if text.len() > 20_000 { &text[..20_000] } else { text };
        let mut end = (text.len() as f64 * cut) as usize;
        while !text.is_char_boundary(end) {
            end -= 1;
        }
        read_and_lay(&text[..end]);
    }

    #[test]
    fn changed_samples_never_panic(which in 0usize..8, place in 0.0f64..1.0, put in "[-0-9TZPM/:.,+eE\"\\[\\]{} a-z]{1,6}") {
        let text = common::all()[which];
        let mut start = (text.len() as f64 * place) as usize;
        while !text.is_char_boundary(start) {
            start -= 1;
        }
        let mut changed = text.to_owned();
        let end = (start + 1..=text.len()).find(|end| text.is_char_boundary(*end)).unwrap_or(text.len());
        changed.replace_range(start..end, &put);
        read_and_lay(&changed);
    }

    #[test]
    fn a_table_of_extreme_times_never_panics(year in -9999i32..9999, hours in 0usize..50) {
        let text = format!("time_utc,air_temp_c,precip_mm\n{year:05}-12-30T22:00Z,1,1\n9999-12-30T22:00Z,1,1\n");
        if let Ok(file) = weather::read(&text, &options()) {
            for start in [jiff::Timestamp::MIN, jiff::Timestamp::MAX] {
                let _ = file.hourly(start, hours, GridOptions::default());
            }
        }
    }

    // Sharing an amount out over hours neither loses nor makes water.
    #[test]
    fn spreading_keeps_the_total(amount in 0.0f64..90.0, start in 0i64..86_400, minutes in 1i64..2000) {
        let from = jiff::Timestamp::from_second(1_768_348_800 + start).unwrap();
        let text = format!(
            "{{\"properties\":{{\"quantitativePrecipitation\":{{\"uom\":\"mm\",\"values\":[\
             {{\"validTime\":\"{from}/PT{minutes}M\",\"value\":{amount}}}]}}}}}}"
        );
        let grid = plain(&text).hourly(time("2026-01-14T00:00Z"), 72, GridOptions::default());
        let sum: f64 = grid.hours.iter().filter_map(water).sum();
        prop_assert!((sum - amount).abs() < 1e-9);
    }
}

// Reading the whole record and laying three days must not cost more than a moment, even unoptimised.
#[test]
fn reading_is_cheap() {
    let begin = std::time::Instant::now();
    let file = common::station(AIRPORT, "KEWR");
    let grid = file.hourly(time("2013-02-08T00:00Z"), 72, GridOptions::default());
    assert_eq!(grid.hours.len(), 72);
    assert!(begin.elapsed().as_millis() < 2000, "{:?}", begin.elapsed());
    assert!(plain(PLAIN).members.is_empty());
}
