//! Every format against the check cases of the project's own description of it ("formats", sections 1 to 6). The
//! sample files are hand-made, so the expected numbers are read off them.

#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use common::{
    ENSEMBLE, MET_NORWAY, METAR, NWS_GRID, NWS_HOURLY, OPEN_METEO, PLAIN, STATION, air, at, degrees, depth,
    near, plain, station, sum, time, water,
};
use message::message;
use quantity::{in_celsius, in_metres, in_metres_per_second, in_millimetres};
use weather::{Format, GridOptions, Kind, NoticeKind, Quantity, ReportedPhase, Value, WeatherFile};

fn grid(file: &WeatherFile, hours: usize) -> weather::HourlyGrid {
    file.hourly(time("2026-01-14T06:00Z"), hours, GridOptions::default())
}

// Section 1a.
#[test]
fn raw_grid() {
    let file = plain(NWS_GRID);
    assert_eq!((file.format, file.kind), (Format::NwsGrid, Kind::Forecast));
    assert_eq!(file.station.as_deref(), Some("XYZ/12,34"));
    assert_eq!(file.issued, Some(time("2026-01-14T05:00Z")));
    near(in_metres(file.elevation.unwrap()), 301.1, 1e-9);
    // Nine intervals cover 24 h exactly; the one with null (hour 12) holds no value.
    assert_eq!(file.samples.of(Quantity::AirTemperature).len(), 8);
    near(sum(&file, Quantity::Precipitation), 7.62, 1e-9);
    near(sum(&file, Quantity::NewSnow), 81.28, 1e-9);
    near(sum(&file, Quantity::IceAccumulation), 0.254, 1e-9);
    let grid = grid(&file, 24);
    assert_eq!(grid.hours.len(), 24);
    near(in_metres_per_second(grid.hours[7].wind.unwrap()), 7.202, 5e-4);
    // The one hole of an hour lies on a line between −5.6 and −6.7 °C.
    let filled: Vec<usize> = (0..24).filter(|&index| grid.hours[index].flags.filled).collect();
    assert_eq!(filled, [12]);
    near(air(&grid.hours[12]).unwrap(), -6.15, 1e-9);
    // Totals over six hours are shared out, not repeated.
    near(water(&grid.hours[0]).unwrap(), 2.286 / 6.0, 1e-9);
    assert!(grid.hours.iter().all(|hour| hour.flags.spread));
    near(grid.hours.iter().filter_map(water).sum(), 7.62, 1e-9);
    near(grid.hours[3].relative_humidity.unwrap().percent(), 92.0, 1e-9);
    near(grid.hours[3].probability.unwrap().percent(), 80.0, 1e-9);
    // Freezing drizzle and snow at first, snow alone from hour 3, nothing from hour 12.
    assert_eq!(grid.hours[0].reported_phase, Some(ReportedPhase::Mixed));
    assert!(grid.hours[0].freezing_rain && !grid.hours[3].freezing_rain);
    assert_eq!(grid.hours[3].reported_phase, Some(ReportedPhase::Snow));
    assert_eq!(grid.hours[12].reported_phase, None);
    assert_eq!(grid.covers_until, time("2026-01-15T06:00Z"));
}

// Section 1a: uom with `unit:` or no prefix at all, or absent.
#[test]
fn raw_grid_units_without_their_prefix() {
    for prefix in ["unit:", ""] {
        let file = plain(&NWS_GRID.replace("wmoUnit:", prefix));
        near(sum(&file, Quantity::Precipitation), 7.62, 1e-9);
    }
    let fahrenheit = NWS_GRID.replacen("\"uom\": \"wmoUnit:degC\"", "\"uom\": \"wmoUnit:degF\"", 1);
    near(
        degrees(at(&plain(&fahrenheit), Quantity::AirTemperature, "2026-01-14T06:00Z")),
        (-1.1 - 32.0) / 1.8,
        1e-9,
    );
}

// Section 1b.
#[test]
fn hourly_periods() {
    let file = plain(NWS_HOURLY);
    assert_eq!(file.format, Format::NwsHourly);
    assert_eq!(file.issued, Some(time("2026-01-14T05:00Z")));
    let grid = grid(&file, 12);
    // Temperature in °F, dew point in °C, all in one period.
    near(air(&grid.hours[0]).unwrap(), (30.0 - 32.0) / 1.8, 1e-9);
    near(in_celsius(grid.hours[0].dew_point.unwrap()), -10.0 / 3.0, 1e-9);
    near(in_metres_per_second(grid.hours[0].wind.unwrap()), 12.0 * 0.44704, 1e-9);
    // "10 to 15 mph": the upper number.
    near(in_metres_per_second(grid.hours[7].wind.unwrap()), 15.0 * 0.44704, 1e-9);
    near(grid.hours[0].probability.unwrap().percent(), 80.0, 1e-9);
    assert!(grid.hours[5].probability.is_none(), "null is not zero");
    assert!(grid.hours.iter().all(|hour| hour.precipitation.is_none()), "amounts do not exist here");
    assert_eq!(grid.hours_without_precipitation().len(), 12);
    assert_eq!(grid.hours[0].reported_phase, Some(ReportedPhase::Snow));
    assert_eq!(grid.covers_until, time("2026-01-14T18:00Z"));
}

// Section 2.
#[test]
fn airport_reports() {
    let file = station(METAR, "KZZZ");
    assert_eq!((file.format, file.kind), (Format::Metar, Kind::Observation));
    assert_eq!(file.latest, Some(time("2026-01-14T10:53Z")), "a report without content is not the latest");
    let air_at = |start| degrees(at(&file, Quantity::AirTemperature, start));
    // Tenths of the remarks replace whole degrees.
    near(air_at("2026-01-14T06:53Z"), -1.7, 1e-9);
    near(degrees(at(&file, Quantity::DewPoint, "2026-01-14T06:53Z")), -3.3, 1e-9);
    near(air_at("2026-01-14T09:53Z"), -6.0, 1e-9);
    let dew_points = file.samples.of(Quantity::DewPoint);
    assert!(
        dew_points.iter().all(|sample| sample.start != time("2026-01-14T09:53Z")),
        "M06/ has no dew point"
    );
    let miles = |start| in_metres(at(&file, Quantity::Visibility, start).value.length().unwrap()) / 1609.344;
    near(miles("2026-01-14T06:53Z"), 1.5, 1e-9);
    near(miles("2026-01-14T07:53Z"), 0.25, 1e-9);
    let wind = at(&file, Quantity::WindSpeed, "2026-01-14T06:53Z").value.speed().unwrap();
    near(in_metres_per_second(wind), 12.0 * 0.514444, 1e-5);
    let gust = at(&file, Quantity::WindGust, "2026-01-14T06:53Z").value.speed().unwrap();
    near(in_metres_per_second(gust), 19.0 * 0.514444, 1e-5);
    let Value::Pressure(pressure) = at(&file, Quantity::SeaLevelPressure, "2026-01-14T05:53Z").value else {
        panic!()
    };
    near(pressure.hectopascals(), 1012.2, 1e-9);
}

#[test]
fn airport_reports_of_amounts() {
    let file = station(METAR, "KZZZ");
    let amounts = file.samples.of(Quantity::Precipitation);
    // P0001, P0003, P0008, P0004 hundredths of an inch; the special's P0002 is part of the P0008.
    let found: Vec<f64> = amounts.iter().map(depth).collect();
    for (found, hundredths) in found.iter().zip([1.0, 3.0, 8.0, 4.0, 0.0]) {
        near(*found, hundredths * 0.254, 1e-9);
    }
    // P0003 = 0.762 mm, as the description says.
    near(found[1], 0.762, 1e-9);
    // The 3-hour or 6-hour group 60016 of 08:53 is the sum of the four.
    near(found.iter().sum(), 16.0 * 0.254, 1e-9);
    // PNO at 09:53 and NIL at 11:53: unknown, not zero. 10:53 has a working gauge and no group: nothing fell.
    let starts: Vec<_> = amounts.iter().map(|sample| sample.start).collect();
    let expected = ["05", "06", "07", "08", "10"].map(|hour| time(&format!("2026-01-14T{hour}:00Z")));
    assert_eq!(starts, expected);
    // Snow in a gauge is a lower bound; freezing drizzle is not snow.
    let bounds: Vec<bool> = amounts.iter().map(|sample| sample.flags.lower_bound).collect();
    assert_eq!(bounds, [false, true, true, true, false]);
    let hours = file.hourly(time("2026-01-14T05:00Z"), 6, GridOptions::default()).hours;
    assert!(hours[0].freezing_rain);
    assert_eq!(hours[0].reported_phase, Some(ReportedPhase::FreezingRain));
    near(hours[0].frozen_share.unwrap().ratio(), 0.0, 0.0);
    assert_eq!(hours[1].reported_phase, Some(ReportedPhase::Snow));
    assert!(hours[4].precipitation.is_none());
    near(hours[1].cloud.unwrap().ratio(), 1.0, 1e-9);
    near(hours[5].cloud.unwrap().ratio(), 0.25, 1e-9);
    // The special of 07:12 counts for the mean of its hour: −2.2 and −2.8 °C.
    near(air(&hours[2]).unwrap(), -2.5, 1e-9);
}

#[test]
fn airport_reports_of_other_lands() {
    let file = station(METAR, "ENXX");
    let wind = at(&file, Quantity::WindSpeed, "2026-01-14T05:50Z").value.speed().unwrap();
    near(in_metres_per_second(wind), 6.0, 1e-9);
    let metres = |start| in_metres(at(&file, Quantity::Visibility, start).value.length().unwrap());
    near(metres("2026-01-14T05:50Z"), 10_000.0, 1e-9);
    near(metres("2026-01-14T06:20Z"), 1500.0, 1e-9);
    near(metres("2026-01-14T06:50Z"), 10_000.0, 1e-9);
    assert!(file.samples.of(Quantity::Precipitation).is_empty(), "no gauge is named, so nothing is known");
    near(degrees(at(&file, Quantity::DewPoint, "2026-01-14T05:50Z")), -7.0, 1e-9);
}

#[test]
fn airport_reports_roll_back_a_month() {
    let read = |reference| {
        let options = weather::ReadOptions {
            station: Some("KZZZ".into()),
            reference_time: Some(time(reference)),
            hour_label: None,
        };
        weather::read(METAR, &options).unwrap().latest.unwrap()
    };
    assert_eq!(read("2026-01-03T00:00Z"), time("2025-12-14T10:53Z"));
    assert_eq!(read("2026-03-14T00:00Z"), time("2026-03-14T10:53Z"));
}

#[test]
fn airport_trace_and_lonely_special() {
    let text = "METAR KZZZ 140653Z 05012KT 10SM OVC010 M02/M03 RMK AO2 P0000 T10171033=\n\
                SPECI KZZZ 140712Z 05012KT 1SM -SN OVC010 M02/M03 RMK AO2 P0002\n";
    let file = station(text, "KZZZ");
    let hours = file.hourly(time("2026-01-14T06:00Z"), 2, GridOptions::default()).hours;
    assert!(hours[0].trace && hours[0].is_wet() == Some(true));
    near(water(&hours[0]).unwrap(), 0.0, 0.0);
    near(water(&hours[1]).unwrap(), 0.508, 1e-9);
    assert!(hours[1].flags.lower_bound);
}

// Section 3.
#[test]
fn location_forecast() {
    let file = plain(MET_NORWAY);
    assert_eq!(file.format, Format::MetNorway);
    assert_eq!(file.issued, Some(time("2026-01-14T05:31:12Z")));
    near(in_metres(file.elevation.unwrap()), 150.0, 1e-9);
    let grid = grid(&file, 30);
    // Twelve next_1_hours (7.1 mm) and one next_6_hours of 0.4 mm; the six-hour totals beside them are not added.
    near(grid.hours[..12].iter().filter_map(water).sum(), 7.1, 1e-9);
    near(grid.hours[12..18].iter().filter_map(water).sum(), 0.4, 1e-9);
    assert!(grid.hours[..12].iter().all(|hour| !hour.flags.spread));
    assert!(grid.hours[12..18].iter().all(|hour| hour.flags.spread));
    // The dew point absent at 14Z comes from −4.2 °C and 86 %: −6.19 °C by the Magnus form.
    near(in_celsius(grid.hours[8].dew_point.unwrap()), -6.193, 5e-3);
    // Six-hourly instants leave five hours open, too long to fill.
    let gaps = grid.open_gaps();
    assert_eq!((gaps[0].start, gaps[0].end), (time("2026-01-14T19:00Z"), time("2026-01-15T00:00Z")));
    assert_eq!(gaps.len(), 2);
    // The last entry has an instant only.
    assert_eq!(grid.covers_until, time("2026-01-15T07:00Z"));
    assert!(grid.hours[24].air.is_some() && grid.hours[24].precipitation.is_none());
}

// Section 4.
#[test]
fn hourly_columns() {
    let file = plain(OPEN_METEO);
    assert_eq!(file.format, Format::OpenMeteo);
    assert!(file.notices.iter().any(|notice| notice.text == message!("weather.terms-open-meteo")));
    let grid = grid(&file, 24);
    near(in_metres_per_second(grid.hours[0].wind.unwrap()), 5.0, 1e-9);
    // Amounts are about the hour before their time: 0.5 mm at 07:00 fell from 06:00 on.
    near(water(&grid.hours[0]).unwrap(), 0.5, 1e-9);
    assert!(grid.hours[4].precipitation.is_none(), "null at 11:00");
    assert!(grid.hours[13].flags.filled);
    near(air(&grid.hours[13]).unwrap(), -5.55, 1e-9);
    near(depth(at(&file, Quantity::NewSnow, "2026-01-14T06:00Z")), 3.5, 1e-9);
    assert_eq!(grid.hours[0].reported_phase, Some(ReportedPhase::Snow));
    near(grid.hours[2].shortwave.unwrap().watts_per_square_metre(), 0.0, 0.0);
    near(grid.hours[10].shortwave.unwrap().watts_per_square_metre(), 204.0, 0.0);
}

#[test]
fn hourly_columns_in_other_units_and_times() {
    let shifted = OPEN_METEO.replace("\"utc_offset_seconds\": 0", "\"utc_offset_seconds\": -21600");
    let file = plain(&shifted);
    near(degrees(at(&file, Quantity::AirTemperature, "2026-01-14T12:00Z")), -1.0, 1e-9);
    let text = r#"{"hourly_units":
        {"time":"unixtime","temperature_2m":"°F","precipitation":"inch","wind_speed_10m":"mp/h"},
        "hourly":{"time":[1768370400,1768374000],"temperature_2m":[30.2,null],"precipitation":[0.1,0.2],"wind_speed_10m":[10,10]}}"#;
    let file = plain(text);
    near(degrees(at(&file, Quantity::AirTemperature, "2026-01-14T06:00Z")), -1.0, 1e-9);
    near(depth(at(&file, Quantity::Precipitation, "2026-01-14T06:00Z")), 5.08, 1e-9);
    near(in_metres_per_second(file.samples.of(Quantity::WindSpeed)[0].value.speed().unwrap()), 4.4704, 1e-9);
}

#[test]
fn ensemble() {
    let file = plain(ENSEMBLE);
    assert_eq!(file.format, Format::OpenMeteoEnsemble);
    let names: Vec<&str> = file.members.iter().map(|member| member.name.as_str()).collect();
    assert_eq!(names, ["control", "member01", "member02", "member03", "member04"]);
    let dropped: Vec<_> =
        file.notices.iter().filter(|notice| notice.kind == NoticeKind::MemberDropped).collect();
    assert_eq!(dropped.len(), 1);
    assert_eq!(dropped[0].text.arg("member"), Some(&"member05".into()));
    let grids = file.member_grids(time("2026-01-14T06:00Z"), 24, GridOptions::default());
    assert_eq!(grids.len(), 5);
    let total = |index: usize| grids[index].1.hours.iter().filter_map(water).sum::<f64>();
    // 0.16 mm at 06:00 fell before the window; the rest of the control run is 1.72 mm.
    near(total(0), 1.72, 1e-9);
    assert!(total(0) < total(1) && total(1) < total(4));
    near(air(&grids[4].1.hours[0]).unwrap(), -0.1, 1e-9);
    assert_eq!(grids[0].1.hours, file.hourly(time("2026-01-14T06:00Z"), 24, GridOptions::default()).hours);
}

// Section 5.
#[test]
fn station_values() {
    let file = plain(STATION);
    assert_eq!(file.station.as_deref(), Some("ESS-EXAMPLE"));
    assert_eq!(file.latest, Some(time("2026-01-14T06:20Z")));
    let pavement = file.samples.of(Quantity::PavementTemperature);
    near(degrees(&pavement[0]), -0.9, 1e-9);
    near(degrees(&pavement[1]), -1.1, 1e-9);
    assert_eq!(pavement.len(), 3, "1001 of sensor 2 is no value");
    assert!(pavement[2].flags.impossible && pavement[2].flags.fault, "−1000 exactly is a fault");
    // 4 counts are 1.44 mm/h.
    let rate = file.samples.of(Quantity::PrecipitationRate)[0].value.speed().unwrap();
    near(in_metres_per_second(rate) * 3.6e6, 1.44, 1e-9);
    assert_eq!(file.samples.of(Quantity::PrecipitationRate).len(), 1, "65535 is no value");
    let Value::Salinity(salt) = file.samples.of(Quantity::SurfaceSalinity)[0].value else { panic!() };
    near(salt.percent(), 6.8, 1e-9);
    near(degrees(&file.samples.of(Quantity::SurfaceFreezePoint)[0]), -4.2, 1e-9);
    assert_eq!(file.samples.of(Quantity::RelativeHumidity).len(), 1, "101 is no value");
    assert_eq!(file.samples.of(Quantity::Visibility).len(), 1, "1000001 is no value");
    near(in_millimetres(file.samples.of(Quantity::SurfaceWaterDepth)[0].value.length().unwrap()), 0.2, 1e-9);
    assert_eq!(file.samples.of(Quantity::SurfaceStatus)[0].value, Value::Code(6));
    // The one-hour total of 06:00 is what fell from 05:00 on; snow makes it a lower bound.
    let hours = file.hourly(time("2026-01-14T05:00Z"), 2, GridOptions::default()).hours;
    near(water(&hours[0]).unwrap(), 1.1, 1e-9);
    assert!(hours[0].flags.lower_bound);
    near(in_celsius(hours[1].pavement.unwrap()), -1.0, 1e-9);
    assert!(hours[1].flags.impossible);
}

// Section 5: "no response" and "other" come with good temperatures; a cut cable does not.
#[test]
fn station_values_of_doubtful_sensors() {
    let text = |code: u32| {
        format!(
            "station,time_utc,object,index,raw_value\nS,2026-01-14T06:00:00Z,essPavementSensorError,1,{code}\n\
             S,2026-01-14T06:00:00Z,essSurfaceTemperature,1,-25\nS,2026-01-14T06:00:00Z,essSurfaceTemperature,2,-9\n"
        )
    };
    let pavement = |code| {
        let file = plain(&text(code));
        let hours = file.hourly(time("2026-01-14T06:00Z"), 1, GridOptions::default()).hours;
        in_celsius(hours[0].pavement.unwrap())
    };
    for usable in [1, 2, 3, 6] {
        near(pavement(usable), -2.5, 1e-9);
    }
    near(pavement(4), -0.9, 1e-9);
}

// Section 6.
#[test]
fn plain_table() {
    let file = plain(PLAIN);
    assert_eq!((file.format, file.kind), (Format::PlainCsv, Kind::Unstated));
    let duplicates: Vec<_> =
        file.notices.iter().filter(|notice| notice.kind == NoticeKind::Duplicate).collect();
    assert_eq!((duplicates.len(), duplicates[0].count), (1, 1));
    let grid = grid(&file, 8);
    // Times end the hour: the row of 07:00 is the hour from 06:00 on.
    near(air(&grid.hours[0]).unwrap(), -1.4, 1e-9);
    near(water(&grid.hours[0]).unwrap(), 0.4, 1e-9);
    // The empty row of 10:00 and the missing row of 11:00: two hours, filled; amounts stay open.
    near(air(&grid.hours[3]).unwrap(), -2.3 - 1.1 / 3.0, 1e-9);
    assert!(grid.hours[3].flags.filled && grid.hours[4].flags.filled);
    let missing = [time("2026-01-14T09:00Z"), time("2026-01-14T10:00Z")];
    assert_eq!(grid.hours_without_precipitation(), missing);
    assert_eq!(grid.gaps_of_precipitation().len(), 1);
    // 13:00 is there twice, first as a trace: the later line holds, so no trace and −3.8 °C.
    near(air(&grid.hours[6]).unwrap(), -3.8, 1e-9);
    assert!(!grid.hours[6].trace && water(&grid.hours[6]).is_some());
    near(in_celsius(grid.hours[0].pavement.unwrap()), -0.9, 1e-9);
    assert_eq!(grid.covers_until, time("2026-01-14T14:00Z"));
    // A wet hour has no frost; the last, dry one has its pavement (−2.4 °C) above the frost point of the air.
    assert_eq!((grid.hours[0].frost_likely(), grid.hours[7].frost_likely()), (Some(false), Some(false)));
    let mut cold = grid.hours[7].clone();
    cold.pavement = Some(quantity::celsius(-8.0));
    assert_eq!(cold.frost_likely(), Some(true));
}
