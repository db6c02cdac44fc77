//! The plan against a sheet calculated by hand before the planner was written: the snow of 25-26 January 2013 at KEWR
//! on the six routes of the example yard. The sheet states its sources and every step.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use planner::{Plan, PlanRequest, plan};
use quantity::in_gallons;
use road::RateTable;
use site::Yard;
use yard::stock::Books;

fn yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../examples/alder_fork.toml"), "alder_fork.toml")
        .unwrap_or_else(|p| panic!("{}", p.iter().map(|p| p.to_string()).collect::<Vec<_>>().join("\n")))
}

fn newark() -> weather::WeatherFile {
    let text = include_str!("../../weather/tests/data/nyc_winter_2013.csv");
    let options = weather::ReadOptions { station: Some("KEWR".into()), ..Default::default() };
    weather::read(text, &options).unwrap()
}

fn plan_from(issued: &str, hours: usize) -> Plan {
    let (yard, rates) = (yard(), RateTable::published().unwrap());
    let issued = issued.parse().unwrap();
    let weather = newark().as_perfect_forecast(issued);
    let books = Books::opening(&yard);
    plan(&PlanRequest {
        yard: &yard,
        books: &books,
        rates: &rates,
        weather: &weather,
        issued,
        hours,
        now: issued,
    })
    .unwrap()
}

#[test]
fn gallons_equal_the_hand_sheet() {
    let plan = plan_from("2013-01-24T18:00:00Z", 48);
    let sheet = include_str!("data/january_2013_hand_sheet.csv");
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(sheet.as_bytes());
    let yard = yard();
    let mut rows = 0;
    for record in reader.records() {
        let record = record.unwrap();
        let expect: Vec<f64> = record.iter().skip(3).map(|cell| cell.parse().unwrap()).collect();
        let (brine, other) = if &record[0] == "total" {
            let without_waste = 1.0 / (1.0 + plan.waste_share);
            (plan.brine.map(|v| v * without_waste), plan.other.map(|v| v * without_waste))
        } else {
            let place = yard.routes.iter().position(|route| route.id == record[0]).unwrap();
            (plan.routes[place].brine, plan.routes[place].other)
        };
        let got = [brine.low, brine.mid, brine.high, other.low, other.mid, other.high].map(in_gallons);
        for (got, expect) in got.iter().zip(&expect) {
            assert!((got - expect).abs() < 1e-6, "{}: {got:?} against {expect}", &record[0]);
        }
        rows += 1;
    }
    assert_eq!(rows, 7);
}

#[test]
fn february_is_questioned_and_the_first_useful_pass_is_timed() {
    let plan = plan_from("2013-02-07T18:00:00Z", 48);
    let total = quantity::in_millimetres(plan.precipitation);
    assert!((total - 32.004).abs() < 1e-9, "weather/README: 32.004 mm, got {total}");
    let (storm, treatment) = &plan.storms[0];
    assert_eq!(storm.kind, planner::storm::StormKind::RainToSnow);
    let pre_spray = treatment.pre_spray.as_ref().unwrap();
    assert_eq!(pre_spray.verdicts[1], road::spraying::Verdict::DoNot);
    assert!(
        matches!(pre_spray.reasons[0], road::spraying::Reason::RainFirst { .. }),
        "{:?}",
        pre_spray.reasons
    );
    assert_eq!(treatment.first_useful[1].unwrap().to_string(), "2013-02-08T22:00:00Z");
}
