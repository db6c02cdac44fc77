//! What events add up to: by mass, in order of happening, with evidence beside the book.
//!
//! Outside checks: 23.3 % brine weighs 9.81 lb a gallon and holds 2.29 lb of salt (AASHTO M 143-14's 1.176; trade
//! figure); 1,000 gal of it hold 1,389 lb of chloride (worked example W41).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use jiff::Timestamp;
use proptest::prelude::*;
use quantity::{Volume, cubic_metres, gallons, in_gallons, in_kilograms, in_pounds};
use site::Yard;
use uuid::Uuid;
use yard::event::*;
use yard::stock::{BookProblem, Books};

fn yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../examples/alder_fork.toml"), "alder_fork.toml").unwrap()
}

fn m3(gal: f64) -> f64 {
    quantity::in_cubic_metres(gallons(gal))
}

fn recorded(seq: u64, body: Body) -> Recorded {
    let at = Timestamp::from_second(1_700_000_000 + seq as i64 * 60).unwrap();
    let id = EventId(Uuid::from_u128(u128::from(seq)));
    Recorded {
        seq,
        recorded_at: at,
        event: Event { id, occurred_at: at, author: "Pat".into(), device: "test".into(), body },
    }
}

fn made(tank: &str, gal: f64, pct: f64) -> Body {
    Body::MakingRun(MakingRun {
        tank: tank.into(),
        volume_m3: m3(gal),
        temp_c: None,
        strength_pct: pct,
        salt_kg: None,
        water_m3: None,
        duration_h: None,
        ..MakingRun::default()
    })
}

fn load(tank: &str, gal: f64) -> Body {
    Body::LoadOut(LoadOut {
        tank: tank.into(),
        truck: "T1".into(),
        route: None,
        volume_m3: m3(gal),
        temp_c: None,
        ..LoadOut::default()
    })
}

fn fold(bodies: &[Body]) -> Books {
    let events: Vec<Recorded> =
        bodies.iter().enumerate().map(|(n, body)| recorded(n as u64 + 1, body.clone())).collect();
    Books::fold(&yard(), &events)
}

fn volume(books: &Books, tank: &str) -> Volume {
    books.tank(tank).unwrap().volume(&yard())
}

#[test]
fn a_thousand_gallons_weigh_what_the_trade_says() {
    let books = fold(&[made("1", 1000.0, 23.3)]);
    let tank = books.tank("1").unwrap();
    assert!((in_pounds(tank.content.mass) / 9810.0 - 1.0).abs() < 0.002, "9.81 lb/gal");
    assert!((in_pounds(tank.content.sodium_chloride) / 2290.0 - 1.0).abs() < 0.005, "2.29 lb/gal");
    let chloride = tank.chloride(&yard());
    assert!((in_pounds(chloride) / 1389.0 - 1.0).abs() < 0.005, "W41: 1,389 lb of chloride");
    assert!((in_gallons(volume(&books, "1")) - 1000.0).abs() < 1e-6);
}

#[test]
fn masses_add_and_volumes_do_not() {
    let books = fold(&[made("1", 1000.0, 26.0), made("1", 1000.0, 5.0)]);
    let both = in_gallons(volume(&books, "1"));
    assert!(both < 2000.0 - 1.0 && both > 1980.0, "{both}");
    let w = books.tank("1").unwrap().strength().unwrap().percent();
    // By hand: (26.0 x 1199.8 + 5.0 x 1035.1)/(1199.8 + 1035.1) = 16.27 (densities at 60 F: PHREEQC pitzer.dat table).
    assert!((w - 16.27).abs() < 0.02, "{w}");
}

#[test]
fn evidence_does_not_move_the_book() {
    let before = fold(&[made("1", 1000.0, 23.3)]);
    let after = fold(&[
        made("1", 1000.0, 23.3),
        Body::Dip(Dip { tank: "1".into(), depth_m: 3.0, temp_c: Some(2.0) }),
        Body::Reading(Reading {
            tank: Some("1".into()),
            strength_pct: 20.0,
            uncertainty_pct: None,
            temp_c: None,
            instrument: None,
            level: None,
            occasion: None,
            shown: None,
            scale: None,
            doubt: None,
            sample: None,
        }),
        Body::MeterReading(MeterReading { meter: "main".into(), total_m3: 99.0 }),
    ]);
    let mass = |b: &Books| in_kilograms(b.tank("1").unwrap().content.mass);
    assert!((mass(&before) - mass(&after)).abs() < 1e-9);
    assert!(after.tank("1").unwrap().dip.is_some() && after.tank("1").unwrap().reading.is_some());
}

#[test]
fn a_book_below_zero_is_kept_and_flagged() {
    let books = fold(&[made("1", 500.0, 23.3), load("1", 800.0), load("1", 10.0)]);
    assert!(!books.close());
    assert!((in_gallons(volume(&books, "1")) + 310.0).abs() < 1e-6);
    let flags = books.problems.iter().filter(|p| matches!(p, BookProblem::TankBelowZero { .. })).count();
    assert_eq!(flags, 1, "once, at the event that took it there");
}

#[test]
fn a_void_and_a_late_entry_fold_as_if_entered_rightly() {
    let right = fold(&[made("1", 500.0, 23.3), load("1", 100.0)]);
    let wrong = made("1", 5000.0, 23.3);
    let void =
        Body::Void(Void { event: Uuid::from_u128(1).to_string(), reason: "typed a nought too many".into() });
    let with_void = fold(&[wrong, made("1", 500.0, 23.3), load("1", 100.0), void]);
    let mass = |b: &Books| in_kilograms(b.tank("1").unwrap().content.mass);
    assert!((mass(&right) - mass(&with_void)).abs() < 1e-9);

    let mut late = recorded(2, made("1", 500.0, 23.3));
    late.event.occurred_at = Timestamp::from_second(1_600_000_000).unwrap();
    let books = Books::fold(&yard(), &[recorded(1, load("1", 100.0)), late]);
    assert!((mass(&right) - mass(&books)).abs() < 1e-9);
    let below = books.problems.iter().any(|p| matches!(p, BookProblem::TankBelowZero { .. }));
    assert!(!below, "the run came before the load");
}

#[test]
fn salt_is_used_by_making_correcting_and_spreading() {
    let books = fold(&[
        Body::SaltDelivery(SaltDelivery {
            mass_kg: 10_000.0,
            ticket: None,
            moisture_pct: None,
            price_usd: None,
            ..SaltDelivery::default()
        }),
        made("1", 1000.0, 23.3),
        Body::Correction(Correction { tank: "1".into(), water_m3: Some(0.1), salt_kg: Some(50.0) }),
        Body::Application(Application {
            route: "R1".into(),
            truck: None,
            volume_m3: None,
            salt_kg: Some(1000.0),
            reason: None,
            ..Application::default()
        }),
    ]);
    let yard = yard();
    let content = yard.rock_salt().sodium_chloride();
    let dissolved = in_kilograms(books.totals.salt_dissolved);
    let in_tank = in_kilograms(books.tank("1").unwrap().content.sodium_chloride);
    assert!((dissolved * content - in_tank).abs() < 1e-6);
    assert!((in_kilograms(books.rock_salt) - (10_000.0 - dissolved - 1000.0)).abs() < 1e-6);
}

#[test]
fn half_an_event_is_never_counted() {
    let to_nowhere = Body::Transfer(Transfer {
        from_tank: "1".into(),
        to_tank: "gone".into(),
        volume_m3: m3(100.0),
        temp_c: None,
    });
    let books = fold(&[made("1", 500.0, 23.3), to_nowhere]);
    assert!((in_gallons(volume(&books, "1")) - 500.0).abs() < 1e-6);
    assert!(!books.close() && books.problems.iter().any(|p| matches!(p, BookProblem::NotCounted { .. })));
}

#[test]
fn what_comes_back_is_what_the_truck_took() {
    let back = |gal: f64| {
        Body::ReturnToTank(ReturnToTank {
            tank: "2".into(),
            truck: "T1".into(),
            volume_m3: m3(gal),
            temp_c: None,
            ..ReturnToTank::default()
        })
    };
    let books = fold(&[
        made("1", 900.0, 20.0),
        made("3", 900.0, 26.0),
        load("1", 500.0),
        load("3", 500.0),
        back(1000.0),
    ]);
    let w = books.tank("2").unwrap().strength().unwrap().percent();
    // Equal volumes of 20 and 26 %: by hand (20 x 1150.3 + 26 x 1199.8)/(1150.3 + 1199.8) = 23.06 (PHREEQC densities).
    assert!((w - 23.06).abs() < 0.05, "{w}");
    assert!(in_kilograms(books.trucks["T1"].content.mass) < 10.0, "and the truck is empty");
}

#[test]
fn a_truck_that_changes_product_does_not_mix_them() {
    let yard = yard();
    let mag = Body::Settlement(Settlement {
        tank: Some("4".into()),
        volume_m3: Some(m3(900.0)),
        strength_pct: None,
        salt_kg: None,
        reason: "count".into(),
    });
    let back = |tank: &str, gal: f64| {
        Body::ReturnToTank(ReturnToTank {
            tank: tank.into(),
            truck: "T1".into(),
            volume_m3: m3(gal),
            temp_c: None,
            ..ReturnToTank::default()
        })
    };
    // An ordinary day: magnesium out, not recorded as sprayed, then brine out and back.
    let books =
        fold(&[made("1", 900.0, 23.0), mag.clone(), load("4", 500.0), load("1", 500.0), back("1", 500.0)]);
    let w = books.tank("1").unwrap().strength().unwrap().percent();
    assert!((w - 23.0).abs() < 1e-6, "{w}");
    // Magnesium into a brine tank: doubted at entry, not counted in the book.
    let before = [made("1", 900.0, 23.0), mag, load("4", 500.0)];
    let doubts = entry::doubts(&back("1", 100.0), &yard, &fold(&before));
    assert!(doubts.iter().any(|d| d.problem.contains("holds brine")), "{doubts:?}");
    let books = fold(&[&before[..], &[back("1", 100.0)]].concat());
    assert!(!books.close() && (in_gallons(volume(&books, "1")) - 900.0).abs() < 1e-6);
}

#[test]
fn a_second_return_and_a_strengthless_count_are_doubted() {
    let yard = yard();
    let back = Body::ReturnToTank(ReturnToTank {
        tank: "1".into(),
        truck: "T1".into(),
        volume_m3: m3(500.0),
        temp_c: None,
        ..ReturnToTank::default()
    });
    let once = fold(&[made("1", 900.0, 23.0), load("1", 500.0)]);
    assert!(entry::doubts(&back, &yard, &once).is_empty());
    let twice = fold(&[made("1", 900.0, 23.0), load("1", 500.0), back.clone()]);
    assert!(entry::doubts(&back, &yard, &twice).iter().any(|d| d.problem.contains("took and has left")));
    let count = Body::Settlement(Settlement {
        tank: Some("2".into()),
        volume_m3: Some(m3(500.0)),
        strength_pct: None,
        salt_kg: None,
        reason: "first".into(),
    });
    assert!(entry::doubts(&count, &yard, &once).iter().any(|d| d.problem.contains("no strength")));
}

#[test]
fn lots_share_what_is_drawn_and_add_up_to_the_tank() {
    let books = fold(&[made("1", 300.0, 23.0), made("1", 100.0, 23.5), load("1", 200.0)]);
    let tank = books.tank("1").unwrap();
    assert_eq!(tank.lots.len(), 2);
    let sum: f64 = tank.lots.iter().map(|lot| in_kilograms(lot.mass)).sum();
    assert!((sum - in_kilograms(tank.content.mass)).abs() < 1e-6);
    let share = in_kilograms(tank.lots[0].mass) / sum;
    assert!((share - 0.75).abs() < 0.01, "{share}");
}

fn any_body() -> impl Strategy<Value = Body> {
    let tank = prop_oneof![Just("1"), Just("2"), Just("3")];
    (0..7, tank, 1.0..900.0f64, 5.0..26.0f64).prop_map(|(kind, tank, gal, pct)| match kind {
        0 | 1 => made(tank, gal, pct),
        2 | 3 => load(tank, gal),
        4 => Body::Transfer(Transfer {
            from_tank: tank.into(),
            to_tank: "2".into(),
            volume_m3: m3(gal),
            temp_c: Some(4.0),
        }),
        5 => Body::ReturnToTank(ReturnToTank {
            tank: tank.into(),
            truck: "T1".into(),
            volume_m3: m3(gal * 0.1),
            temp_c: None,
            ..ReturnToTank::default()
        }),
        _ => Body::Loss(Loss { tank: tank.into(), volume_m3: m3(gal * 0.01), reason: "test".into() }),
    })
}

proptest! {
    /// Mass is conserved over the whole yard, whatever happens.
    #[test]
    fn mass_is_conserved(bodies in proptest::collection::vec(any_body(), 0..60)) {
        let books = fold(&bodies);
        let t = &books.totals;
        let tanks: f64 = books.tanks.iter().map(|tank| in_kilograms(tank.content.mass)).sum();
        let expect = in_kilograms(t.made) - in_kilograms(t.loaded) + in_kilograms(t.returned) - in_kilograms(t.lost);
        prop_assert!((tanks - expect).abs() < 1e-6 * (1.0 + in_kilograms(t.made)));
    }

    /// Event by event is the same as all at once: the cache can be dropped and rebuilt.
    #[test]
    fn one_by_one_equals_the_whole(bodies in proptest::collection::vec(any_body(), 0..60)) {
        let yard = yard();
        let whole = fold(&bodies);
        let mut step = Books::empty(&yard);
        for (n, body) in bodies.iter().enumerate() {
            prop_assert!(step.try_append(&yard, &recorded(n as u64 + 1, body.clone())));
        }
        prop_assert_eq!(format!("{:?}", whole), format!("{:?}", step));
    }

    /// A body written and read back is the same body.
    #[test]
    fn bodies_survive_the_ledger(body in any_body()) {
        let text = body.to_json().unwrap();
        prop_assert_eq!(Body::from_json(body.kind(), EVENT_VERSION, &text).unwrap(), body);
    }

    /// Any text at all as a body: an answer or an error, never a panic.
    #[test]
    fn any_text_as_a_body_is_answered(place in 0..KINDS.len(), text in ".{0,80}", version in 0u32..4) {
        let _ = Body::from_json(KINDS[place].name, version, &text);
    }

    /// Fields of a kind with any values at all: an answer or an error, never a panic.
    #[test]
    fn any_values_of_a_kind_are_answered(
        place in 0..KINDS.len(),
        values in proptest::collection::vec(prop_oneof![".{0,12}", "-?[0-9]{1,6}(\\.[0-9]{1,3})?", "[0-9]"], 24),
    ) {
        let (yard, kind) = (yard(), &KINDS[place]);
        let names = kind.fields.iter().map(|field| field.names().last().unwrap().0.clone());
        let fields: Vec<(String, String)> = names.zip(values).collect();
        if let Ok(body) = entry::read_body(kind.name, &fields, (&yard, &Books::empty(&yard))) {
            let text = body.to_json().unwrap();
            prop_assert_eq!(Body::from_json(body.kind(), EVENT_VERSION, &text).unwrap(), body);
        }
    }
}

#[test]
fn entries_are_read_in_both_systems_and_refused_by_name() {
    let yard = yard();
    let read = |kind: &str, fields: &[(&str, &str)]| {
        let fields: Vec<_> = fields.iter().map(|(a, b)| (a.to_string(), b.to_string())).collect();
        entry::read_body(kind, &fields, (&yard, &Books::empty(&yard)))
    };
    let us = read(
        "making-run",
        &[("tank", "1"), ("volume_gal", "1000"), ("strength_pct", "23,3"), ("temp_f", "32")],
    );
    match us.unwrap() {
        Body::MakingRun(run) => {
            assert!((run.volume_m3 - 3.785_411_784).abs() < 1e-12 && (run.strength_pct - 23.3).abs() < 1e-12);
            assert!(run.temp_c.unwrap().abs() < 1e-12);
        }
        other => panic!("{other:?}"),
    }
    match read("dip", &[("tank", "1"), ("depth", "4 ft 7 in")]).unwrap() {
        Body::Dip(dip) => assert!((dip.depth_m - 55.0 * 0.0254).abs() < 1e-9),
        other => panic!("{other:?}"),
    }
    // A place that an older row names stays as it was said; nothing new is taken in so.
    let old = "{\"tank\":\"1\",\"strength_pct\":23.0,\"level\":\"hatch\"}";
    let kept = Body::from_json("reading", 1, old).unwrap();
    assert_eq!(kept.to_json().unwrap(), old);
    assert!(read("reading", &[("tank", "1"), ("strength_pct", "23"), ("level", "hatch")]).is_err());
    type Case = (&'static str, &'static [(&'static str, &'static str)], &'static str);
    let cases: &[Case] = &[
        (
            "making_run",
            &[("tank", "1"), ("volume_gal", "10"), ("strength_pct", "0.233")],
            "looks like a fraction",
        ),
        ("making_run", &[("tank", "1"), ("volume_gal", "10"), ("strength_pct", "29")], "stronger"),
        ("making_run", &[("tank", "9"), ("volume_gal", "10"), ("strength_pct", "23")], "no such tank"),
        ("making_run", &[("tank", "1"), ("volume_gals", "10"), ("strength_pct", "23")], "did you mean"),
        ("making_run", &[("tank", "1"), ("volume_gal", "1,000"), ("strength_pct", "23")], "thousands"),
        ("making_run", &[("tank", "1"), ("volume_gal", "-5"), ("strength_pct", "23")], "below zero"),
        (
            "making_run",
            &[("tank", "1"), ("volume_gal", "5"), ("volume_l", "5"), ("strength_pct", "23")],
            "twice",
        ),
        ("making_run", &[("tank", "1"), ("strength_pct", "23")], "volume_m3"),
        ("makingrun", &[], "did you mean"),
        ("dip", &[("tank", "1"), ("depth_ft", "99")], "depth"),
        // A depth needs a unit: in its name, or in what is written.
        ("dip", &[("tank", "1"), ("depth", "4.5")], "no such field"),
        ("load_out", &[("tank", "1"), ("truck", "T9"), ("volume_gal", "5")], "no such truck"),
        ("liquid_delivery", &[("tank", "1"), ("volume_gal", "5")], "needs its strength"),
        ("transfer", &[("from_tank", "1"), ("to_tank", "1"), ("volume_gal", "5")], "the tank it comes from"),
        ("making_run", &[("tank", "4"), ("volume_gal", "5"), ("strength_pct", "23")], "another product"),
        ("correction", &[("tank", "1")], "adds something"),
        ("settlement", &[("volume_gal", "5"), ("reason", "x")], "of a tank or of the salt pile"),
        ("settlement", &[("tank", "1"), ("reason", "x")], "nothing is agreed"),
        ("application", &[("route", "R99")], "no such route"),
        (
            "load_out",
            &[("tank", "1"), ("truck", "T1"), ("route", "R99"), ("volume_gal", "5")],
            "no such route",
        ),
        ("reading", &[("tank", "1"), ("strength_pct", "23"), ("uncertainty_pct", "50")], "out of range"),
        ("salt_delivery", &[("mass_kg", "1.7e308")], "beyond any yard"),
        ("void", &[("event", "that one"), ("reason", "x")], "id of an event"),
        ("void", &[("event", "01930000-0000-7000-8000-00000000007e")], "reason = (none): is needed"),
        ("application", &[("route", "R1")], "nothing was put down"),
        ("reading", &[("tank", "4"), ("strength_pct", "23")], "bought liquid"),
    ];
    for (kind, fields, expect) in cases {
        let problems = read(kind, fields).unwrap_err();
        let text = problems.iter().map(ToString::to_string).collect::<String>();
        assert!(text.contains(expect), "{kind} {fields:?}: {text}");
    }
}

#[test]
fn litres_taken_for_gallons_are_doubted() {
    let yard = yard();
    // Measured in spec: nothing but the figures is doubted.
    let reading = Body::Reading(Reading { tank: Some("1".into()), strength_pct: 23.2, ..Reading::default() });
    let mut books = Books::opening(&yard);
    assert!(books.try_append(&yard, &recorded(1, reading)));
    let doubts = |body: &Body| {
        entry::doubts(body, &yard, &books).iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
    };
    let truck = in_gallons(yard.trucks[0].tank);
    assert!(doubts(&load("1", truck * 3.785)).contains("litres entered as gallons"));
    assert!(doubts(&load("1", truck)).is_empty());
    // A return of a load that is none, or was another truck's.
    let mut taken = Books::opening(&yard);
    assert!(taken.try_append(&yard, &recorded(1, load("1", truck))));
    let back = |by: &str, of: u64| {
        Body::ReturnToTank(ReturnToTank {
            tank: "1".into(),
            truck: by.into(),
            volume_m3: m3(50.0),
            load: Some(EventId(Uuid::from_u128(u128::from(of))).to_string()),
            ..ReturnToTank::default()
        })
    };
    let asked = |body: &Body| {
        entry::doubts(body, &yard, &taken).iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
    };
    let (first, second) = (&yard.trucks[0].id, &yard.trucks[1].id);
    assert!(!asked(&back(first, 1)).contains("load"), "{}", asked(&back(first, 1)));
    assert!(asked(&back(first, 7)).contains("is none of the last loads"), "{}", asked(&back(first, 7)));
    assert!(asked(&back(second, 1)).contains("load"), "{}", asked(&back(second, 1)));
    let issue_to = |agency: &str, gal: f64| {
        Body::IssueOut(IssueOut {
            tank: "1".into(),
            agency: agency.into(),
            volume_m3: m3(gal),
            temp_c: None,
            price_usd: None,
            ..IssueOut::default()
        })
    };
    let issue = |gal: f64| issue_to("School district", gal);
    assert!(
        doubts(&issue(11_000.0)).contains("what is thought to be in the tank")
            && doubts(&issue(100.0)).is_empty()
    );
    assert!(doubts(&issue_to("Scool district", 100.0)).contains("has no price in the yard file"));
    let book = in_gallons(volume(&books, "1"));
    let shape = &yard.tanks[0].shape;
    let depth = |gal: f64| quantity::in_metres(shape.depth_of(cubic_metres(m3(gal))).unwrap());
    let dip = |gal: f64| Body::Dip(Dip { tank: "1".into(), depth_m: depth(gal), temp_c: None });
    assert!(doubts(&dip(book / 3.785)).contains("gallons entered as litres"));
    assert!(doubts(&dip(book)).is_empty());
}
