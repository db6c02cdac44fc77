//! Roads of a plan: readings, treatments of the ledger, segments, what is taken back. Weather: Newark, January 2013,
//! from the airport's hourly record.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use event::{EventId, RoadInstrument};
use jiff::{SignedDuration, Timestamp};
use planner::PlanRequest;
use planner::roads::{CallKind, RoadOf, Roads, RoadsSeen, Sensed, Strip, Use};
use road::RateTable;
use road::spraying::Reason;
use site::Yard;
use yard::road_log::{RoadReadingEntry, RoadTreatment};
use yard::stock::Books;

const ISSUED: &str = "2013-01-24T18:00:00Z";

fn yard_with(more: &str) -> Yard {
    let text = format!("{}\n{more}", include_str!("../../../examples/alder_fork.toml"));
    site::yard_file::read_yard(&text, "alder_fork.toml")
        .unwrap_or_else(|p| panic!("{}", p.iter().map(|p| p.to_string()).collect::<Vec<_>>().join("\n")))
}

fn roads_seen(yard: &Yard, books: &Books, issued: &str, hours: usize, seen: Option<&RoadsSeen>) -> Roads {
    let text = include_str!("../../weather/tests/data/nyc_winter_2013.csv");
    let options = weather::ReadOptions { station: Some("KEWR".into()), ..Default::default() };
    let issued: Timestamp = issued.parse().unwrap();
    let weather = weather::read(text, &options).unwrap().as_perfect_forecast(issued);
    let rates = RateTable::published().unwrap();
    let request =
        PlanRequest { yard, books, rates: &rates, weather: &weather, issued, hours, now: issued, seen };
    planner::roads_under(&request).unwrap()
}

fn roads_of(yard: &Yard, books: &Books) -> Roads {
    roads_seen(yard, books, ISSUED, 48, None)
}

fn strip<'a>(yard: &Yard, roads: &'a Roads, road: &str, is_deck: bool) -> &'a Strip {
    let road = RoadOf::named(yard, road, is_deck).unwrap();
    roads.strips.iter().find(|strip| strip.road == road).unwrap()
}

fn reading(road: &str, is_deck: bool, hours_before: i64, surface: f64) -> RoadReadingEntry {
    let issued: Timestamp = ISSUED.parse().unwrap();
    RoadReadingEntry {
        event: EventId(uuid::Uuid::from_u128(1)),
        at: issued - SignedDuration::from_hours(hours_before),
        author: "Pat".into(),
        road: road.into(),
        is_deck,
        surface,
        instrument: RoadInstrument::Infrared,
        looked: None,
    }
}

/// A reading moves its own road, and neither its deck nor another class; what is 20 K off moves nothing and is told.
#[test]
fn a_reading_corrects_its_own_road_alone() {
    let yard = yard_with("");
    let mut books = Books::opening(&yard);
    let plain = roads_of(&yard, &books);
    let model = strip(&yard, &plain, "A", false).past.last().unwrap().1;
    books.roads.readings.push(reading("A", false, 0, model - 2.0));
    let read = roads_of(&yard, &books);
    let first =
        |roads: &Roads, road: &str, is_deck: bool| strip(&yard, roads, road, is_deck).hours[0].surface[1];
    let moved = first(&read, "A", false) - first(&plain, "A", false);
    // Gain of one infrared reading on the priors: (1 + 0.3364) / (1 + 0.3364 + 0.49) = 0.73.
    assert!((moved + 2.0 * 0.73).abs() < 0.35, "{moved}");
    assert!((first(&read, "A", true) - first(&plain, "A", true)).abs() < 1e-9);
    assert!((first(&read, "B", false) - first(&plain, "B", false)).abs() < 1e-9);
    assert_eq!(read.read.len(), 1);
    assert_eq!(read.read[0].readings[0].used, Use::Used);
    // A narrower range than that of an unread road.
    let width = |roads: &Roads| {
        let hour = &strip(&yard, roads, "A", false).hours[0];
        hour.surface[2] - hour.surface[0]
    };
    assert!(width(&read) < width(&plain) + 0.2, "{} {}", width(&read), width(&plain));

    books.roads.readings[0].surface = model + 20.0;
    let off = roads_of(&yard, &books);
    assert!(matches!(off.read[0].readings[0].used, Use::LeftOut { off } if off > 15.0));
    assert!(off.read[0].correction.is_none());
    assert!((first(&off, "A", false) - first(&plain, "A", false)).abs() < 1e-9);
    // A reading of an hour that nobody knows the weather of has nothing to be held against.
    books.roads.readings[0] = reading("A", false, 24 * 20, -3.0);
    assert_eq!(roads_of(&yard, &books).read[0].readings[0].used, Use::NoWeather);
}

/// A sensor whose clock is four hours behind is told, and corrects nothing; the same sensor with a right clock does.
#[test]
fn a_wrong_clock_is_told() {
    let yard = yard_with("");
    let books = Books::opening(&yard);
    let plain = roads_of(&yard, &books);
    let past = &strip(&yard, &plain, "A", false).past;
    let seen = |lag: i64| RoadsSeen {
        sensed: past
            .iter()
            .map(|(at, surface)| Sensed {
                road: "A".into(),
                is_deck: false,
                at: *at + SignedDuration::from_hours(lag),
                surface: surface - 1.0,
            })
            .collect(),
        weather: Vec::new(),
    };
    let right = roads_seen(&yard, &books, ISSUED, 48, Some(&seen(0)));
    let (mean, deviation) = right.read[0].correction.unwrap().ahead(1.0);
    assert!((mean + 1.0).abs() < 0.2 && deviation < 0.5, "{mean} {deviation}");
    let wrong = roads_seen(&yard, &books, ISSUED, 48, Some(&seen(4)));
    assert!(wrong.read[0].correction.is_none());
    assert!(wrong.read[0].readings.iter().any(|one| one.used == Use::WrongClock { hours: 4 }));
}

/// What the ledger says was sprayed lies there: the road is not sprayed again.
#[test]
fn a_spraying_of_the_ledger_lies_on_the_road() {
    let yard = yard_with("");
    let mut books = Books::opening(&yard);
    let issued: Timestamp = ISSUED.parse().unwrap();
    let plain = roads_of(&yard, &books);
    let of_a =
        |roads: &Roads| roads.classes.iter().position(|class| yard.route_classes[class.class].id == "A");
    let a = of_a(&plain).unwrap();
    assert!(plain.classes[a].middle.acts.iter().any(|act| act.purpose == road::course::Purpose::Pretreat));
    for route in yard.routes.iter().filter(|route| route.class == "A") {
        let lane_miles = quantity::units::MILE.of_base(quantity::in_metres(route.lane_length));
        books.roads.treatments.push(RoadTreatment {
            at: issued - SignedDuration::from_hours(3),
            route: route.id.clone(),
            lanes: route.lane_length,
            liquid: Some(quantity::gallons(45.0 * lane_miles)),
            salt: None,
        });
    }
    let sprayed = roads_of(&yard, &books);
    let course = &sprayed.classes[a].middle;
    assert!(course.acts.iter().all(|act| act.purpose != road::course::Purpose::Pretreat));
    assert!(course.refused.iter().any(|one| one.reasons.contains(&Reason::StillTreated)));
    // 45 gal a lane-mile of 23.3 % brine is 7.9 g/m² of salt.
    let salt = strip(&yard, &sprayed, "A", false).hours[0].middle.film.salt;
    assert!((salt - 7.9).abs() < 0.4, "{salt}");
}

/// A rock cut misses the sun at noon and is told by itself; a class without bridges has no deck.
#[test]
fn segments_are_roads_of_their_own() {
    let more = "[[segment]]\nid = \"cut\"\nname = \"Rock cut\"\nroute = \"R1\"\nshade_deg = 40\n";
    let yard = yard_with(more);
    let books = Books::opening(&yard);
    let roads = roads_of(&yard, &books);
    let warmest = |strip: &Strip| strip.hours.iter().map(|hour| hour.surface[1]).fold(f64::MIN, f64::max);
    let (cut, class) = (strip(&yard, &roads, "cut", false), strip(&yard, &roads, "A", false));
    assert!(warmest(cut) < warmest(class) - 2.0, "{} {}", warmest(cut), warmest(class));
    let text = include_str!("../../../examples/alder_fork.toml")
        .replace("id = \"C\"\nanti_icing = false", "id = \"C\"\nbridges = false\nanti_icing = false");
    let bare = site::yard_file::read_yard(&text, "bare.toml").unwrap();
    let c = RoadOf::named(&bare, "C", true).unwrap();
    assert!(roads_of(&bare, &Books::opening(&bare)).strips.iter().all(|strip| strip.road != c));
}

/// What is drawn for an hour does not depend on how many hours are asked for, but for the last: a storm may come up to
/// three hours sooner, and nothing is known behind the end.
#[test]
fn hours_asked_do_not_change_what_is_drawn() {
    let yard = yard_with("");
    let books = Books::opening(&yard);
    let [short, long] = [36, 72].map(|hours| roads_seen(&yard, &books, ISSUED, hours, None));
    for (one, other) in short.strips.iter().zip(&long.strips) {
        for (a, b) in one.hours.iter().zip(&other.hours).take(32) {
            assert!((0..3).all(|at| (a.surface[at] - b.surface[at]).abs() < 1e-9), "{}", a.start);
        }
    }
}

/// A storm that the newer forecast does not have is taken back; the same forecast takes nothing back.
#[test]
fn a_cancelled_storm_is_taken_back() {
    let yard = yard_with("");
    let books = Books::opening(&yard);
    let now: Timestamp = ISSUED.parse().unwrap();
    let storm = roads_of(&yard, &books);
    assert_eq!(storm.taken_back(&storm, now).count(), 0);
    let calm = Roads::default();
    let kinds: Vec<CallKind> = calm.taken_back(&storm, now).map(|call| call.kind).collect();
    assert!(kinds.contains(&CallKind::Pretreat) && kinds.contains(&CallKind::FirstTreatment), "{kinds:?}");
    // What is over already cannot be taken back.
    let later = now + SignedDuration::from_hours(48);
    assert_eq!(calm.taken_back(&storm, later).count(), 0);
}
