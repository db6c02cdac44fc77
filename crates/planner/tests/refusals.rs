//! Requests for which there is no plan, and what each refusal holds.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use jiff::Timestamp;
use message::{Arg, Tell, message};
use planner::{BalanceOf, GapOf, PlanError, PlanRequest, plan};
use road::RateTable;
use site::Yard;
use weather::WeatherFile;
use yard::stock::Books;

fn yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../examples/alder_fork.toml"), "alder_fork.toml").unwrap()
}

fn time(text: &str) -> Timestamp {
    text.parse().unwrap()
}

/// Air and precipitation in mm of the hours that start at these hours of a day.
fn forecast(hours: &[(i64, &str, &str)]) -> WeatherFile {
    let mut text = String::from("# times are the start of the hour\ntime_utc,air_temp_c,precip_mm\n");
    for (hour, air, water) in hours {
        text += &format!("2026-01-14T{hour:02}:00Z,{air},{water}\n");
    }
    weather::read(&text, &weather::ReadOptions::default()).unwrap()
}

fn refusal(yard: &Yard, weather: &WeatherFile, issued: &str, hours: usize) -> PlanError {
    let (books, rates, issued) = (Books::opening(yard), RateTable::published().unwrap(), time(issued));
    plan(&PlanRequest { yard, books: &books, rates: &rates, weather, issued, hours, now: issued, seen: None })
        .unwrap_err()
}

#[test]
fn no_plan_outside_the_hours_the_zone_and_the_forecast() {
    let (mut yard, weather) = (yard(), forecast(&[(6, "-1", "0.5"), (7, "-1", "0.5")]));
    for hours in [0, 241] {
        let error = refusal(&yard, &weather, "2026-01-14T06:00Z", hours);
        assert_eq!(error, PlanError::Hours { hours });
        assert_eq!(error.message(), message!("planner.hours", hours = hours));
    }
    let from = time("2026-01-15T06:00Z");
    let latest = time("2026-01-14T07:00Z");
    let error = refusal(&yard, &weather, "2026-01-15T06:20Z", 24);
    assert_eq!(error, PlanError::NothingCovered { from, latest: Some(latest) });
    assert_eq!(error.message(), message!("planner.nothing-covered-after", from = from, latest = latest));
    let error = refusal(&yard, &WeatherFile::nothing(), "2026-01-15T06:20Z", 24);
    assert_eq!(error.message(), message!("planner.nothing-covered", from = from));
    yard.time_zone = "America/Nowhere".into();
    let error = refusal(&yard, &weather, "2026-01-14T06:00Z", 2);
    assert_eq!(error.message(), message!("planner.zone", zone = "America/Nowhere"));
}

#[test]
fn no_plan_across_a_gap() {
    let cold = |hour| (hour, "-1", "0.5");
    let [from, to] = [time("2026-01-14T04:00Z"), time("2026-01-14T07:00Z")];
    let hole = forecast(&[cold(2), cold(3), cold(7), cold(8), cold(9), cold(10)]);
    let error = refusal(&yard(), &hole, "2026-01-14T02:00Z", 8);
    assert_eq!(error, PlanError::Gap { of: GapOf::Temperature, from, to });
    assert_eq!(error.message(), message!("planner.gap-of-temperature", from = from, to = to));
    let dry = |hour| (hour, "-1", "");
    let hole = forecast(&[cold(2), cold(3), dry(4), dry(5), dry(6), cold(7), cold(8)]);
    let error = refusal(&yard(), &hole, "2026-01-14T02:00Z", 7);
    assert_eq!(error, PlanError::Gap { of: GapOf::Precipitation, from, to });
    assert_eq!(error.message(), message!("planner.gap-of-precipitation", from = from, to = to));
}

/// Errors of the crates below are told as their own; a balance is told with its error in powers of ten.
#[test]
fn what_the_crates_below_refuse_and_balances() {
    let mut yard = yard();
    yard.plant.rate_loss_per_kelvin = 10.0;
    let weather = forecast(&[(6, "-1", "0.5"), (7, "-1", "0.5")]);
    let error = refusal(&yard, &weather, "2026-01-14T06:00Z", 2);
    assert_eq!(error.message().id(), "plant.nothing-made");
    assert!(matches!(error.message().arg("water"), Some(Arg::Celsius(_))));
    let error = PlanError::DoesNotClose { balance: BalanceOf::Salt, share: 2.54e-7 };
    assert_eq!(error.message(), message!("planner.salt-does-not-close", share = "2.5e-7"));
    assert_eq!(error.to_string(), error.message().to_string());
}
