//! What is asked about before it is recorded: one table, a row for each kind of slip, and beside each the same entry as
//! it should be, of which nothing is asked.
//!
//! Outside checks: a 23.3 % gallon holds 2.29 lb of salt (trade figure, AASHTO M 143-14's density); a road truck brings
//! 20 to 30 short tons (common practice, no source); 23.3 % brine freezes at -21 °C (eutectic of NaCl and water).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use event::*;
use jiff::{SignedDuration, Timestamp};
use message::message;
use quantity::gallons;
use site::Yard;
use uuid::Uuid;
use yard::stock::Books;

fn yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../examples/alder_fork.toml"), "alder_fork.toml").unwrap()
}

/// The morning of the entry.
fn now() -> Timestamp {
    "2027-01-14T11:00:00Z".parse().unwrap()
}

fn ago(minutes: i64) -> Timestamp {
    now() - SignedDuration::from_mins(minutes)
}

fn gal(amount: f64) -> f64 {
    quantity::in_cubic_metres(gallons(amount))
}

fn lb(amount: f64) -> f64 {
    amount * 0.453_592_37
}

fn tons(amount: f64) -> f64 {
    lb(2000.0 * amount)
}

fn id(number: u128) -> EventId {
    EventId(Uuid::from_u128(number))
}

/// Entries so many minutes ago, in order of entering.
fn fold(yard: &Yard, entries: &[(i64, Body)]) -> Books {
    let one = |(place, (minutes, body)): (usize, &(i64, Body))| Recorded {
        seq: place as u64 + 1,
        recorded_at: ago(0),
        event: Event {
            id: id(place as u128 + 1),
            occurred_at: ago(*minutes),
            author: "Pat".into(),
            device: "test".into(),
            body: body.clone(),
        },
    };
    Books::fold(yard, &entries.iter().enumerate().map(one).collect::<Vec<_>>())
}

fn settled(tank: &str, amount: f64, pct: f64) -> Body {
    Body::Settlement(Settlement {
        tank: Some(tank.into()),
        volume_m3: Some(gal(amount)),
        strength_pct: Some(pct),
        salt_kg: None,
        reason: "opening".into(),
    })
}

fn reading(pct: f64) -> Reading {
    Reading { tank: Some("1".into()), strength_pct: pct, uncertainty_pct: Some(0.2), ..Reading::default() }
}

fn batch(amount: f64, salt_lb: Option<f64>) -> MakingRun {
    MakingRun {
        tank: "1".into(),
        volume_m3: gal(amount),
        strength_pct: 23.3,
        salt_kg: salt_lb.map(lb),
        duration_h: Some(2.0),
        ..MakingRun::default()
    }
}

fn load(amount: f64, ticket: &str) -> LoadOut {
    let ticket = (!ticket.is_empty()).then(|| ticket.into());
    LoadOut { tank: "1".into(), truck: "T1".into(), volume_m3: gal(amount), ticket, ..LoadOut::default() }
}

fn sprayed(amount: f64) -> Application {
    Application {
        route: "R1".into(),
        truck: Some("T1".into()),
        volume_m3: Some(gal(amount)),
        treated: Some(event::Treated::Liquid),
        ..Application::default()
    }
}

fn total(amount: f64) -> Body {
    Body::MeterReading(MeterReading { meter: "loading".into(), total_m3: gal(amount) })
}

fn dip(depth_m: f64, temp_c: Option<f64>) -> Dip {
    Dip { tank: "1".into(), depth_m, temp_c }
}

/// What went before, in minutes ago; the entry, so many minutes ago; the message of what is asked, or nothing.
type Case = (&'static str, Vec<(i64, Body)>, (i64, Body), Option<&'static str>);

#[expect(clippy::too_many_lines, reason = "one table")]
fn cases() -> Vec<Case> {
    let full = || vec![(600, settled("1", 3000.0, 23.3)), (500, Body::Reading(reading(23.3)))];
    let with = |more: Vec<(i64, Body)>| full().into_iter().chain(more).collect::<Vec<_>>();
    let strong = || vec![(600, settled("1", 3000.0, 25.1)), (500, Body::Reading(reading(25.1)))];
    let year = 60 * 24 * 365;
    let salt = |amount: f64, ticket: &str| {
        Body::SaltDelivery(SaltDelivery {
            mass_kg: tons(amount),
            ticket: Some(ticket.into()),
            ..SaltDelivery::default()
        })
    };
    // 1,000 gal at 23.3 % hold 2,290 lb of salt; of 95 % purity and 2 % moisture that is near 2,460 lb as delivered.
    let yard = yard();
    let used = 2290.0 / yard.rock_salt().sodium_chloride();
    vec![
        (
            "ticket",
            with(vec![(60, Body::LoadOut(load(500.0, "A-7")))]),
            (0, Body::LoadOut(load(400.0, "A-7"))),
            Some("entry.ticket-twice (seq = 3"),
        ),
        (
            "another ticket",
            with(vec![(60, Body::LoadOut(load(500.0, "A-7")))]),
            (0, Body::LoadOut(load(400.0, "A-8"))),
            None,
        ),
        (
            "supplier's ticket",
            vec![(9000, salt(24.0, "S-1"))],
            (0, salt(22.0, "S-1")),
            Some("entry.ticket-twice"),
        ),
        (
            "2,200 tons for 22.00",
            vec![],
            (0, salt(2200.0, "S-2")),
            Some("entry.over-delivery (most = 136077.711 kg)"),
        ),
        ("22 tons", vec![], (0, salt(22.0, "S-2")), None),
        (
            "batch twice",
            with(vec![(30, Body::MakingRun(batch(1000.0, None)))]),
            (5, Body::MakingRun(batch(1005.0, None))),
            Some("entry.batch-twice"),
        ),
        (
            "next batch",
            with(vec![(300, Body::MakingRun(batch(1000.0, None)))]),
            (5, Body::MakingRun(batch(1000.0, None))),
            None,
        ),
        (
            "salt of ten batches",
            full(),
            (0, Body::MakingRun(batch(1000.0, Some(10.0 * used)))),
            Some("entry.salt-does-not-fit"),
        ),
        (
            "half the salt",
            full(),
            (0, Body::MakingRun(batch(1000.0, Some(0.5 * used)))),
            Some("entry.salt-does-not-fit"),
        ),
        ("salt by mass", full(), (0, Body::MakingRun(batch(1000.0, Some(used)))), None),
        ("batch over the tank", full(), (0, Body::MakingRun(batch(9000.0, None))), Some("entry.over-room")),
        (
            "sprays more than it carries",
            with(vec![(60, Body::LoadOut(load(800.0, "")))]),
            (0, Body::Application(sprayed(1500.0))),
            Some("entry.over-carried"),
        ),
        (
            "sprays what it carries",
            with(vec![(60, Body::LoadOut(load(800.0, "")))]),
            (0, Body::Application(sprayed(800.0))),
            None,
        ),
        (
            "sprays it twice",
            with(vec![(90, Body::LoadOut(load(800.0, ""))), (60, Body::Application(sprayed(800.0)))]),
            (0, Body::Application(sprayed(700.0))),
            Some("entry.over-carried"),
        ),
        (
            "second load over the truck",
            with(vec![(60, Body::LoadOut(load(1200.0, "")))]),
            (0, Body::LoadOut(load(1000.0, ""))),
            Some("entry.over-with-aboard"),
        ),
        (
            "second load after spraying",
            with(vec![(90, Body::LoadOut(load(1200.0, ""))), (30, Body::Application(sprayed(1200.0)))]),
            (0, Body::LoadOut(load(1000.0, ""))),
            None,
        ),
        (
            "load twice",
            with(vec![(6, Body::LoadOut(load(500.0, "")))]),
            (0, Body::LoadOut(load(500.0, ""))),
            Some("entry.load-twice (to = T1"),
        ),
        ("more than is there", full(), (0, Body::LoadOut(load(1700.0, ""))), None),
        (
            "litres for gallons",
            full(),
            (0, Body::LoadOut(load(1800.0 * 3.785, ""))),
            Some("entry.liters-as-gallons"),
        ),
        (
            "37 °F in a Celsius field",
            full(),
            (0, Body::Reading(Reading { temp_c: Some(37.0), ..reading(23.1) })),
            Some("entry.too-warm (typed = 37)"),
        ),
        (
            "-15 °C in a Fahrenheit field",
            full(),
            (0, Body::Dip(dip(1.5, Some((-15.0 - 32.0) / 1.8)))),
            Some("entry.below-freezing"),
        ),
        (
            "colder than any brine is liquid",
            strong(),
            (0, Body::Dip(dip(1.5, Some((-8.0 - 32.0) / 1.8)))),
            Some("entry.below-freezing (freezes = -21.1"),
        ),
        ("a strong brine in the cold", strong(), (0, Body::Dip(dip(1.5, Some((-5.0 - 32.0) / 1.8)))), None),
        (
            "20 °F typed as Celsius",
            with(vec![(120, Body::Dip(dip(1.5, Some(-5.0))))]),
            (0, Body::Dip(dip(1.5, Some(20.0)))),
            Some("entry.far-from-dip (before = -5 C"),
        ),
        (
            "a cold tank",
            with(vec![(120, Body::Dip(dip(1.5, Some(-5.0))))]),
            (0, Body::Dip(dip(1.5, Some(-6.0)))),
            None,
        ),
        ("last year's date", full(), (year, Body::LoadOut(load(500.0, ""))), Some("entry.long-before")),
        ("last year's dip", full(), (year, Body::Dip(dip(1.5, None))), Some("entry.long-before")),
        (
            "last year's jar",
            full(),
            (
                year,
                Body::JarTest(JarTest {
                    liquid_a: "brine".into(),
                    liquid_b: "brine".into(),
                    temp_c: -10.0,
                    duration_h: 24.0,
                    result: event::JarResult::Clear,
                    share_a_pct: 50.0,
                    ..JarTest::default()
                }),
            ),
            Some("entry.long-before"),
        ),
        (
            "last year's correction",
            full(),
            (year, Body::Correction(Correction { tank: "1".into(), water_m3: Some(0.2), salt_kg: None })),
            Some("entry.long-before"),
        ),
        ("yesterday", full(), (60 * 24, Body::Dip(dip(1.5, None))), None),
        ("meter backward", vec![(300, total(5000.0))], (0, total(4000.0)), Some("entry.total-after")),
        // Entered late, a total is held against those of its own time, not against the last that was entered.
        (
            "a late total between two",
            vec![(300, total(5000.0)), (10, total(9000.0))],
            (200, total(6000.0)),
            None,
        ),
        (
            "a late total above the next",
            vec![(300, total(5000.0)), (10, total(9000.0))],
            (200, total(9500.0)),
            Some("entry.total-before"),
        ),
        (
            "the same correction twice",
            with(vec![(
                5,
                Body::Correction(Correction { tank: "1".into(), water_m3: Some(0.2), salt_kg: None }),
            )]),
            (0, Body::Correction(Correction { tank: "1".into(), water_m3: Some(0.2), salt_kg: None })),
            Some("entry.saved-already"),
        ),
        (
            "salt that cannot dissolve",
            full(),
            (0, Body::Correction(Correction { tank: "1".into(), water_m3: None, salt_kg: Some(lb(9000.0)) })),
            Some("entry.cannot-dissolve"),
        ),
    ]
}

#[test]
fn each_slip_is_asked_about_and_what_is_right_is_not() {
    let yard = yard();
    for (name, before, (minutes, body), expect) in cases() {
        let books = fold(&yard, &before);
        let found = entry::asked((id(99), &body), (&yard, &books), ago(minutes), now());
        let said = found.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
        match expect {
            Some(expect) => assert!(said.contains(expect), "{name}: {said}"),
            None => assert!(found.is_empty(), "{name}: {said}"),
        }
    }
}

#[test]
fn a_batch_of_a_run_is_booked_once_and_an_entry_sent_again_is_asked_nothing() {
    let yard = yard();
    let run = Body::RunStart(RunStart { procedure: "Making".into(), tank: Some("1".into()) });
    let of_run = MakingRun { run: Some(id(1).to_string()), ..batch(900.0, None) };
    let books = fold(&yard, &[(300, run), (60, Body::MakingRun(of_run.clone()))]);
    let again = Body::MakingRun(MakingRun { volume_m3: gal(300.0), ..of_run.clone() });
    let found = entry::asked((id(99), &again), (&yard, &books), now(), now());
    assert!(
        found.iter().any(|doubt| doubt.problem == message!("entry.run-booked", tank = "1", seq = 2)),
        "{found:?}"
    );
    let sent_again = entry::asked((id(2), &Body::MakingRun(of_run)), (&yard, &books), ago(60), now());
    assert!(sent_again.is_empty(), "{sent_again:?}");
}

#[test]
fn what_goes_over_a_trucks_tank_counts_as_put_down() {
    let yard = yard();
    let loads = [
        (200, settled("1", 6000.0, 23.3)),
        (100, Body::LoadOut(load(1500.0, ""))),
        (10, Body::LoadOut(load(1500.0, ""))),
    ];
    let books = fold(&yard, &loads);
    let aboard = quantity::in_gallons(books.trucks["T1"].volume(&yard));
    let tank = quantity::in_gallons(yard.truck("T1").unwrap().tank);
    assert!(aboard <= tank * 1.0201 && aboard > tank * 0.99, "{aboard} of {tank} gal");
}
