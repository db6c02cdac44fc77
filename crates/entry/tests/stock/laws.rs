//! What holds of any entries: mass is conserved, one by one equals the whole, any text is answered.

use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use quantity::in_kilograms;
use yard::event::*;
use yard::stock::Books;

use super::common;
use super::events::*;

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

    /// Whatever of any kind is taken in is kept as it was said, and can be entered again as it is kept: the same comes
    /// of it.
    #[test]
    fn what_is_taken_in_is_kept_and_taken_in_again((kind, fields) in any_entry()) {
        let yard = yard();
        let books = Books::opening(&yard);
        if let Ok(body) = entry::read_body(kind.name, &fields, (&yard, &books)) {
            let text = body.to_json().unwrap();
            prop_assert_eq!(Body::from_json(body.kind(), EVENT_VERSION, &text).unwrap(), body.clone());
            let again = entry::read_body(kind.name, &as_kept(&text), (&yard, &books));
            prop_assert_eq!(again, Ok(body));
        }
    }
}

/// A kind, with fields of it as a person types them.
fn any_entry() -> impl Strategy<Value = (&'static Kind, Vec<(String, String)>)> {
    common::any_kind().prop_flat_map(|kind| (Just(kind), common::typed_fields(kind, &yard())))
}

/// The fields of a body as the ledger names them.
fn as_kept(text: &str) -> Vec<(String, String)> {
    let object: serde_json::Map<String, serde_json::Value> = serde_json::from_str(text).unwrap();
    let typed = |value: &serde_json::Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
    object.iter().map(|(name, value)| (name.clone(), typed(value))).collect()
}

/// The draws above are entries: of each kind a good part is taken in, so that what is asked of them is asked.
#[test]
fn entries_at_random_are_taken_in_of_every_kind() {
    let yard = yard();
    let books = Books::opening(&yard);
    let mut runner = TestRunner::deterministic();
    for kind in KINDS {
        let strategy = common::typed_fields(kind, &yard);
        let mut taken = 0;
        let mut last = Vec::new();
        for _ in 0..100 {
            let fields = strategy.new_tree(&mut runner).unwrap().current();
            match entry::read_body(kind.name, &fields, (&yard, &books)) {
                Ok(_) => taken += 1,
                Err(problems) => last = problems,
            }
        }
        assert!(10 <= taken, "{}: {taken} of 100 are taken in; the last refused: {last:?}", kind.name);
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
