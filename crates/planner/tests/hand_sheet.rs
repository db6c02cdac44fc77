//! The plan against a sheet worked by hand: the snow of 25-26 January 2013 at KEWR on the six routes of the example
//! yard. The sheet states its sources and every step.

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
    plan(&PlanRequest {
        yard,
        books,
        rates: &rates,
        weather: &weather,
        issued,
        hours,
        now: issued,
        seen: None,
    })
    .unwrap()
}

#[test]
fn treatments_equal_the_hand_sheet() {
    use road::course::Purpose;
    let plan = plan_from("2013-01-24T18:00:00Z", 48);
    let sheet = include_str!("data/january_2013_hand_sheet.csv");
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(sheet.as_bytes());
    let yard = yard();
    let brine = &plan.brine_made;
    for record in reader.records() {
        let record = record.unwrap();
        let class =
            plan.roads.classes.iter().find(|class| yard.route_classes[class.class].id == record[0]).unwrap();
        let purpose = match &record[2] {
            "pretreat" => Purpose::Pretreat,
            _ => Purpose::First,
        };
        let act = class.middle.acts.iter().find(|act| act.purpose == purpose).unwrap();
        assert_eq!(act.at.to_string(), record[1], "{record:?}");
        assert_eq!(act.rate.as_ref().unwrap().id, record[3], "{record:?}");
        let rates = if purpose == Purpose::Pretreat {
            act.liquid(brine).unwrap().map(|rate| rate.gallons_per_lane_mile())
        } else {
            act.salt().map(|rate| rate.pounds_per_lane_mile())
        };
        for (found, place) in rates.into_iter().zip(4..) {
            let expected: f64 = record[place].parse().unwrap();
            assert!((found - expected).abs() < 3.0, "{record:?}: {found}");
        }
    }
}

/// What a route needs is what is done on it: gallons and pounds of every treatment of the middle story, by its lanes,
/// with ten gallons a ton by hand.
#[test]
fn needs_are_the_sum_of_what_is_done() {
    let yard = yard();
    for issued in ["2013-01-24T18:00:00Z", "2013-02-07T18:00:00Z"] {
        let plan = plan_from(issued, 48);
        for need in &plan.routes {
            let route = &yard.routes[need.route];
            let miles = quantity::units::MILE.of_base(quantity::in_metres(route.lane_length));
            let class = plan
                .roads
                .classes
                .iter()
                .find(|class| yard.route_classes[class.class].id == route.class)
                .unwrap();
            let (mut pounds, mut brine, mut other) = (0.0, 0.0, 0.0);
            for act in &class.middle.acts {
                let salt = act.salt()[1].pounds_per_lane_mile();
                pounds += miles * salt;
                match act.liquid_class() {
                    Some(road::rates::LiquidClass::SaltBrine) if salt > 0.0 => {
                        brine += miles * salt / 2000.0 * 10.0
                    }
                    Some(road::rates::LiquidClass::SaltBrine) => {
                        brine += miles * act.liquid(&plan.brine_made).unwrap()[1].gallons_per_lane_mile();
                    }
                    Some(road::rates::LiquidClass::MagnesiumOrCalcium) => {
                        other += miles * salt / 2000.0 * 10.0
                    }
                    None => {}
                }
            }
            let found =
                [quantity::in_pounds(need.salt.mid), in_gallons(need.brine.mid), in_gallons(need.other.mid)];
            for (found, expected) in found.into_iter().zip([pounds, brine, other]) {
                assert!(
                    (found - expected).abs() < 1e-6 * expected.max(1.0),
                    "{issued} {}: {found} {expected}",
                    route.id
                );
            }
        }
    }
}

#[test]
fn february_begins_as_rain_on_a_frozen_road_and_is_not_pretreated() {
    use planner::storm::StormKind;
    let plan = plan_from("2013-02-07T18:00:00Z", 48);
    let total = quantity::in_millimetres(plan.precipitation);
    assert!((total - 32.004).abs() < 1e-9, "weather/README: 32.004 mm, got {total}");
    let (storm, treatment) = &plan.storms[0];
    assert!(matches!(storm.kind, StormKind::RainToSnow | StormKind::Mixed), "{:?}", storm.kind);
    let pre_spray = treatment.pre_spray.as_ref().unwrap();
    assert_eq!(pre_spray.verdicts[1], road::spraying::Verdict::DoNot);
    assert!(
        pre_spray.reasons.iter().any(|reason| matches!(reason, road::spraying::Reason::RainFirst { .. })),
        "{:?}",
        pre_spray.reasons
    );
    // The road is at 29 °F in the morning, air at 34: ten hours before the snow.
    let first = treatment.first_useful[1].unwrap().to_string();
    assert!(("2013-02-08T11:00:00Z".."2013-02-08T15:00:00Z").contains(&first.as_str()), "{first}");
}

fn rock_salt_short(plan: &Plan) -> Option<f64> {
    plan.shortages.iter().find_map(|shortage| match shortage {
        planner::Shortage::RockSalt { by } => Some(quantity::in_kilograms(*by)),
        _ => None,
    })
}

/// "Could run short by up to": the high case, by hand what roads and batches take less what is there. A yard that
/// covers its middle case is told that, and here it is enough.
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

/// Loads and need are at one rate, the one advised, whichever demand the plan covers.
#[test]
fn loads_are_sized_for_the_rate_advised() {
    let mut yard = yard();
    for cover_for in [site::CoverFor::High, site::CoverFor::Mid] {
        yard.policy.cover_for = cover_for;
        let plan = plan_on(&yard, &Books::opening(&yard), "2013-01-24T18:00:00Z", 48);
        assert!(!plan.loadings.is_empty());
        for (storm, loading) in &plan.loadings {
            let spread = plan.storms[*storm].1.pre_spray.as_ref().unwrap().liquid;
            let rate = spread.mid;
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
