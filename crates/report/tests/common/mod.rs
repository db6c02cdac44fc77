//! The example yard, and readers in every language and both systems of units.

use jiff::tz::TimeZone;
use planner::{Plan, PlanRequest};
use report::{Display, Language, Words};
use road::RateTable;
use site::{UnitSystem, Yard};
use weather::WeatherFile;
use yard::stock::Books;

#[allow(dead_code, reason = "each file of tests takes what it needs")]
pub fn yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../../examples/alder_fork.toml"), "alder_fork.toml")
        .unwrap()
}

/// A reader in the zone of New York.
pub fn reader(language: Language, units: UnitSystem) -> Display {
    Display::new(units, TimeZone::get("America/New_York").unwrap()).in_words(Words::of(language))
}

/// Every reader there can be.
pub fn readers() -> Vec<Display> {
    let both = [UnitSystem::Us, UnitSystem::Si];
    Language::ALL.iter().flat_map(|language| both.map(|units| reader(*language, units))).collect()
}

/// The spell of 25 and 26 January 2013 at Newark on the example yard, forecast as it came.
#[allow(dead_code, reason = "each file of tests takes what it needs")]
pub fn january(yard: &Yard) -> (Plan, WeatherFile) {
    let text = include_str!("../../../weather/tests/data/nyc_winter_2013.csv");
    let options = weather::ReadOptions { station: Some("KEWR".into()), ..Default::default() };
    let issued = "2013-01-24T18:00:00Z".parse().unwrap();
    let weather = weather::read(text, &options).unwrap().as_perfect_forecast(issued);
    let (rates, books) = (RateTable::published().unwrap(), Books::opening(yard));
    let plan = planner::plan(&PlanRequest {
        yard,
        books: &books,
        rates: &rates,
        weather: &weather,
        issued,
        hours: 48,
        now: issued,
        seen: None,
    });
    (plan.unwrap(), weather)
}
