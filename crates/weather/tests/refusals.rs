//! What is refused, and that the message says what, where and what instead. The rules are the project's own
//! ("formats", section 0).

#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use common::{
    AIRPORT, ENSEMBLE, MET_NORWAY, METAR, NWS_GRID, OPEN_METEO, PLAIN, STATION, air, near, plain, time, water,
};
use proptest::prelude::*;
use weather::{ErrorKind, GridOptions, HourLabel, NoticeKind, Quantity, ReadError, ReadOptions};

fn refusal(text: &str) -> ReadError {
    weather::read(text, &ReadOptions::default()).unwrap_err()
}

#[track_caller]
fn refused(text: &str, kind: ErrorKind, words: &[&str]) {
    let error = refusal(text);
    assert_eq!(error.kind, kind, "{error}");
    let message = error.to_string();
    for word in words {
        assert!(message.contains(word), "\"{word}\" is not in: {message}");
    }
}

#[test]
fn no_weather_at_all() {
    refused("", ErrorKind::Empty, &["empty", "METAR", "Open-Meteo"]);
    refused("\u{feff} \n\n", ErrorKind::Empty, &[]);
    refused("Dear all,\nsnow is coming", ErrorKind::UnknownFormat, &["Dear all", "MET Norway", "NTCIP"]);
    refused("\u{1}\u{2}\u{0}PNG\u{7f}", ErrorKind::UnknownFormat, &["\\u{1}"]);
    refused("{\"a\": 1}", ErrorKind::UnknownFormat, &["properties.timeseries"]);
    refused("{\"error\": true, \"reason\": \"no such place\"}", ErrorKind::UnknownFormat, &["no such place"]);
    refused("[1, 2]", ErrorKind::UnknownFormat, &[]);
    refused(&NWS_GRID[..2000], ErrorKind::Damaged, &["ends too early", "line "]);
    refused("{\"hourly\": nonsense}", ErrorKind::Damaged, &["line 1", "broken"]);
}

#[test]
fn tables() {
    let comment = "# times are the END of the hour\n";
    let table = |header: &str, rows: &str| format!("{comment}{header}\n{rows}");
    let row = "2026-01-14T06:00Z,1\n";
    refused(&table("time_utc,air_temp_k2", row), ErrorKind::UnknownUnit, &["line 2", "air_temp_k2", "degC"]);
    refused(&table("time_utc,precip_c", row), ErrorKind::UnknownUnit, &["precip_c", "mm", "in"]);
    let names = "time_utc,air_temp_c,elfin_magic";
    refused(
        &table(names, "2026-01-14T06:00Z,1,2\n"),
        ErrorKind::UnknownColumn,
        &["line 2", "elfin_magic", "dew_point_"],
    );
    refused(&table("air_temp_c,precip_mm", "1,2\n"), ErrorKind::MissingPart, &["time_utc"]);
    refused(&table("time_utc,air_temp_c", "yesterday,1\n"), ErrorKind::BadValue, &["line 3", "yesterday"]);
    refused(
        &table("time_utc,air_temp_c", "2026-01-14T06:00Z,cold\n"),
        ErrorKind::BadValue,
        &["line 3", "cold"],
    );
    refused(&table("time_utc,air_temp_c", "2026-01-14T06:00Z,T\n"), ErrorKind::BadValue, &["line 3"]);
    refused(&table("time_utc,air_temp_c", "2026-01-14T06:00Z,inf\n"), ErrorKind::BadValue, &["line 3"]);
    refused(
        &table("time_utc,air_temp_c", "2026-01-14T06:00Z\n"),
        ErrorKind::Damaged,
        &["line 3", "1 cells", "2 cells"],
    );
    let backwards = "2026-01-14T07:00Z,1\n2026-01-14T06:00Z,1\n";
    refused(&table("time_utc,air_temp_c", backwards), ErrorKind::TimeOrder, &["line 4", "06:00"]);
    refused(
        &table("time_utc,air_temp_c,air_temp_f", "2026-01-14T06:00Z,1,1\n"),
        ErrorKind::UnknownColumn,
        &["two"],
    );
    // A time without an offset is UTC only where the header says so.
    refused(&table("time,air_temp_c", "2026-01-14T06:00,1\n"), ErrorKind::BadValue, &["offset"]);
}

#[test]
fn the_hour_label_is_asked_for() {
    let unlabelled = "time_utc,air_temp_c,precip_mm\n2026-01-14T06:00Z,-1,0.5\n";
    refused(unlabelled, ErrorKind::HourLabelNeeded, &["start or the end", "END of the hour"]);
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
    assert!(error.to_string().starts_with("line 2: this is no report"), "{error}");
    let error = weather::read("KZZZ 140653Z 00000KT\nKZZZ 140553Z 00000KT\n", &options).unwrap_err();
    assert_eq!(error.kind, ErrorKind::TimeOrder);
}

#[test]
fn json_with_a_wrong_part() {
    refused(
        &NWS_GRID.replacen("degC", "degX", 1),
        ErrorKind::UnknownUnit,
        &["properties.temperature.uom", "degX", "degC"],
    );
    refused(
        &NWS_GRID.replacen("/PT2H", "/P2M", 1),
        ErrorKind::BadValue,
        &["properties.temperature.values[1]"],
    );
    refused(
        &NWS_GRID.replacen("\"value\": -1.1", "\"value\": \"cold\"", 1),
        ErrorKind::BadValue,
        &["values[0].value", "cold"],
    );
    let early = NWS_GRID.replacen("2026-01-14T13:00:00+00:00/PT2H", "2026-01-14T03:00:00+00:00/PT2H", 1);
    refused(&early, ErrorKind::TimeOrder, &["properties.temperature.values[4]"]);
    refused(
        &MET_NORWAY.replacen("\"celsius\"", "\"réaumur\"", 1),
        ErrorKind::UnknownUnit,
        &["properties.meta.units", "réaumur"],
    );
    let early = MET_NORWAY.replacen("2026-01-14T09:00:00Z", "2026-01-14T05:00:00Z", 1);
    refused(&early, ErrorKind::TimeOrder, &["properties.timeseries[3].time"]);
    refused(
        &OPEN_METEO.replacen("km/h", "furlong", 1),
        ErrorKind::UnknownUnit,
        &["hourly_units.wind_", "furlong", "km_h"],
    );
    let shorter =
        OPEN_METEO.replacen("\"2026-01-15T05:00\"", "\"2026-01-15T05:00\", \"2026-01-15T06:00\"", 1);
    refused(&shorter, ErrorKind::UnequalLengths, &["hourly.", "24", "25 values"]);
    refused(
        &OPEN_METEO.replace("utc_offset_seconds", "other"),
        ErrorKind::MissingPart,
        &["utc_offset_seconds"],
    );
    refused(
        &ENSEMBLE.replacen("\"°C\"", "\"°X\"", 1),
        ErrorKind::UnknownUnit,
        &["hourly_units.temperature_2m"],
    );
}

#[test]
fn station_tables() {
    refused(&STATION.replacen(",-17", ",-1.7", 1), ErrorKind::BadValue, &["line 3", "-1.7", "integer"]);
    refused(&STATION.replacen("06:10:00", "05:10:00", 1), ErrorKind::TimeOrder, &["line 21"]);
    let header = STATION.replacen("station,", "site,", 1);
    refused(&header, ErrorKind::UnknownColumn, &["station,time_utc,object,index,raw_value"]);
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
            Err(error) => assert!(!error.to_string().is_empty() && !error.accepted.is_empty()),
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
