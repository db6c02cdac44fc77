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
    let yard = yard();
    plan_on(&yard, &Books::opening(&yard), issued, hours)
}

fn plan_on(yard: &Yard, books: &Books, issued: &str, hours: usize) -> Plan {
    let rates = RateTable::published().unwrap();
    let issued = issued.parse().unwrap();
    let weather = newark().as_perfect_forecast(issued);
    plan(&PlanRequest { yard, books, rates: &rates, weather: &weather, issued, hours, now: issued }).unwrap()
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

fn rock_salt_short(plan: &Plan) -> Option<f64> {
    plan.shortages.iter().find_map(|shortage| match shortage {
        planner::Shortage::RockSalt { by } => Some(quantity::in_kilograms(*by)),
        _ => None,
    })
}

/// "Could run short by up to": the high case, by hand what roads and batches take less what is there. A yard that covers
/// its middle case is told that, and here it is enough.
#[test]
fn what_runs_short_is_the_high_case() {
    let mut yard = yard();
    let mut books = Books::opening(&yard);
    let kg = quantity::in_kilograms;
    let full = plan_on(&yard, &books, "2013-02-07T18:00:00Z", 48);
    // Between what the two cases take.
    books.rock_salt = 0.5 * (full.salt.mid + full.salt.high) + full.batch.rock_salt;
    let high = plan_on(&yard, &books, "2013-02-07T18:00:00Z", 48);
    let by = rock_salt_short(&high).unwrap();
    let by_hand = kg(high.salt.high) + kg(high.batch.rock_salt) - kg(high.rock_salt);
    assert!((by - by_hand).abs() < 1e-6 && by > 1.0, "{by} {by_hand}");
    yard.policy.cover_for = site::CoverFor::Mid;
    let mid = plan_on(&yard, &books, "2013-02-07T18:00:00Z", 48);
    assert!(kg(mid.salt.mid) + kg(mid.batch.rock_salt) < kg(mid.rock_salt));
    assert_eq!(rock_salt_short(&mid), None);
}

/// Loads are for the rate of the case that is covered: gallons of all loads are what the routes take at it.
#[test]
fn loads_are_sized_for_the_high_rate() {
    let mut yard = yard();
    for cover_for in [site::CoverFor::High, site::CoverFor::Mid] {
        yard.policy.cover_for = cover_for;
        let plan = plan_on(&yard, &Books::opening(&yard), "2013-01-24T18:00:00Z", 48);
        assert!(!plan.loadings.is_empty());
        for (storm, loading) in &plan.loadings {
            let spread = plan.storms[*storm].1.pre_spray.as_ref().unwrap().liquid;
            let rate = if cover_for == site::CoverFor::High { spread.high } else { spread.mid };
            let is_sprayed = |route: &&site::Route| {
                yard.route_classes.iter().any(|class| class.id == route.class && class.anti_icing)
            };
            let lanes = yard.routes.iter().filter(is_sprayed).map(|route| rate.on(route.lane_length));
            let wanted: f64 = lanes.map(in_gallons).sum();
            let loaded: f64 = loading.loads.iter().map(|load| in_gallons(load.volume)).sum();
            assert!((loaded - wanted).abs() < 1e-6, "{cover_for:?}: {loaded} {wanted}");
        }
    }
}

/// Books that hold less than nothing are said to be wrong; a season that merely does not balance is not this.
#[test]
fn books_below_zero_are_a_caution_of_the_plan() {
    let yard = yard();
    let mut books = Books::opening(&yard);
    let is_said = |books: &Books| {
        let plan = plan_on(&yard, books, "2013-01-24T18:00:00Z", 48);
        plan.cautions.iter().any(|caution| matches!(caution, planner::Caution::BooksDoNotClose))
    };
    assert!(books.close() && !is_said(&books));
    books.rock_salt = quantity::kilograms(-50.0);
    assert!(!books.close() && is_said(&books));
}
