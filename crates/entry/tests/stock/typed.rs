//! What is typed in either system, and what is refused or doubted by name.

use event::*;
use quantity::{cubic_metres, in_gallons};
use uuid::Uuid;
use yard::stock::Books;

use super::events::*;

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
            "entry.looks-like-fraction (percent = 23.3",
        ),
        ("making_run", &[("tank", "1"), ("volume_gal", "10"), ("strength_pct", "29")], "entry.too-strong"),
        ("making_run", &[("tank", "9"), ("volume_gal", "10"), ("strength_pct", "23")], "entry.no-such-tank"),
        (
            "making_run",
            &[("tank", "1"), ("volume_gals", "10"), ("strength_pct", "23")],
            "entry.did-you-mean (problem = entry.no-such-field",
        ),
        (
            "making_run",
            &[("tank", "1"), ("volume_gal", "1,000"), ("strength_pct", "23")],
            "entry.doubtful-comma",
        ),
        ("making_run", &[("tank", "1"), ("volume_gal", "-5"), ("strength_pct", "23")], "entry.below-zero"),
        (
            "making_run",
            &[("tank", "1"), ("volume_gal", "5"), ("volume_l", "5"), ("strength_pct", "23")],
            "entry.given-twice",
        ),
        (
            "making_run",
            &[("tank", "1"), ("strength_pct", "23")],
            "entry.one-of (names = volume_m3, volume_l, volume_gal)",
        ),
        ("makingrun", &[], "name = making_run"),
        ("dip", &[("tank", "1"), ("depth_ft", "99")], "entry.accept-depth-in-tank"),
        // A depth needs a unit: in its name, or in what is written.
        ("dip", &[("tank", "1"), ("depth", "4.5")], "entry.no-such-field"),
        ("load_out", &[("tank", "1"), ("truck", "T9"), ("volume_gal", "5")], "entry.no-such-truck"),
        ("liquid_delivery", &[("tank", "1"), ("volume_gal", "5")], "entry.bought-brine-strength"),
        ("transfer", &[("from_tank", "1"), ("to_tank", "1"), ("volume_gal", "5")], "entry.same-tank"),
        (
            "making_run",
            &[("tank", "4"), ("volume_gal", "5"), ("strength_pct", "23")],
            "entry.not-plants-product",
        ),
        ("correction", &[("tank", "1")], "entry.nothing-added"),
        ("settlement", &[("volume_gal", "5"), ("reason", "x")], "entry.nothing-adjusted"),
        ("settlement", &[("tank", "1"), ("reason", "x")], "entry.nothing-agreed"),
        ("application", &[("route", "R99")], "entry.no-such-route"),
        (
            "load_out",
            &[("tank", "1"), ("truck", "T1"), ("route", "R99"), ("volume_gal", "5")],
            "entry.no-such-route",
        ),
        (
            "reading",
            &[("tank", "1"), ("strength_pct", "23"), ("uncertainty_pct", "50")],
            "entry.out-of-range",
        ),
        ("salt_delivery", &[("mass_kg", "1.7e308")], "entry.beyond-any-yard"),
        ("void", &[("event", "that one"), ("reason", "x")], "entry.not-an-id"),
        (
            "void",
            &[("event", "01930000-0000-7000-8000-00000000007e")],
            "field = reason, value = entry.none, problem = entry.needed",
        ),
        ("application", &[("route", "R1")], "entry.nothing-applied"),
        ("reading", &[("tank", "4"), ("strength_pct", "23")], "entry.bought-liquid"),
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
    assert!(
        doubts(&load("1", truck * 3.785))
            .contains("entry.liters-as-gallons (problem = entry.over-truck-tank")
    );
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
    assert!(asked(&back(first, 7)).contains("entry.no-recent-load"), "{}", asked(&back(first, 7)));
    assert!(asked(&back(second, 1)).contains("entry.load-of-other-truck"), "{}", asked(&back(second, 1)));
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
    assert!(doubts(&issue(11_000.0)).contains("entry.over-held") && doubts(&issue(100.0)).is_empty());
    assert!(doubts(&issue_to("Scool district", 100.0)).contains("entry.no-price"));
    let book = in_gallons(volume(&books, "1"));
    let shape = &yard.tanks[0].shape;
    let depth = |gal: f64| quantity::in_metres(shape.depth_of(cubic_metres(m3(gal))).unwrap());
    let dip = |gal: f64| Body::Dip(Dip { tank: "1".into(), depth_m: depth(gal), temp_c: None });
    // A dip is typed as a depth: so far off, it is a slip or a leak, and no unit of volume.
    assert!(doubts(&dip(book / 3.785)).contains("entry.dip-thought-to-hold"));
    assert!(doubts(&dip(book)).is_empty());
}
