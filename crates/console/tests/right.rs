//! Putting a tank right over HTTP: by strength, as a blend, and by a jar where nothing is predicted.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use axum::http::StatusCode;
use common::forms::{jar, right};
use common::page::Page;
use common::{TestApp, delivered, happened};
use event::Body as EventBody;
use jiff::Timestamp;
use store::Ledger;
use uuid::Uuid;

/// What is said where strength alone decides nothing.
const BOUGHT: &str = "Tank 4 holds a purchased liquid, or a mix with one. Strength alone cannot correct it. Use the Blend tab, or keep a jar of it as cold as the tank will get and enter the jar test.";

/// The page of a blend: a recipe with its shares, both temperatures and its sentence; what cannot be is said.
#[tokio::test]
async fn a_blend_is_worked_out_for_a_tank() {
    let test = TestApp::new();
    let now: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
    test.ledger.append(&[happened(11, delivered("4", None))], now).unwrap();
    let blend = async |asked: &str| test.get(&format!("/put-right/blend?{asked}")).await.page();
    let bare = blend("tank=1").await;
    assert_eq!(bare.label("clear_f"), "Must stay clear down to, °F");
    let liquids = ["Salt brine (tank 3)", "Magnesium chloride liquid (tank 4)"];
    assert_eq!(
        bare.options("with"),
        [("3", liquids[0]), ("4", liquids[1])].map(|(a, b)| (a.into(), b.into()))
    );
    assert!(!bare.has("#answer") && !bare.has("table"), "{bare}");
    let enough = blend("tank=1&with=4&clear_f=2").await;
    assert_eq!(enough.text("#answer"), "Nothing to add. It stays clear that far as it is.");
    assert!(!enough.has("ol.do") && !enough.has_link_to("/jar-test?tank=1"), "{enough}");
    let empty = blend("tank=2&with=4&clear_f=-8").await;
    assert_eq!(empty.problems(), ["The tank is empty. Enter how much you want in it."]);
    let told = blend("tank=2&with=4&also=1&clear_f=-8&volume_gal=1000").await;
    assert_eq!(
        told.text("#answer"),
        "Add 797 gal of Salt brine (tank 1), 123 gal of Magnesium chloride liquid (tank 4), 82 gal of water."
    );
    assert_eq!(
        told.texts("table th[scope=col]"),
        ["Liquid", "By volume", "By weight", "% by volume", "% by weight", "Price"]
    );
    assert_eq!(
        told.rows("table"),
        [
            ["Salt brine (tank 1)", "797 gal", "7,820 lb", "79.6", "79.7", "$98.61"],
            ["Magnesium chloride liquid (tank 4)", "123 gal", "1,310 lb", "12.2", "13.3", "$164.72"],
            ["water", "82 gal", "681 lb", "8.2", "6.9", "$0.52"],
        ]
    );
    assert_eq!([told.fact("Ice forms at"), told.fact("Salt drops out at")], ["−8 °F", "−8 °F"]);
    assert_eq!(
        told.texts("ol.do > li")[0],
        "Jar test first: the same shares, kept as cold as the tank will get, for a day. If the jar disagrees, trust the jar."
    );
    for chart in ["chart-phone", "chart-wide"] {
        let lines = told.attrs(&format!("svg.{chart} path.c-curve"), "class");
        assert_eq!(lines, ["c-curve", "c-curve c-dash"], "{chart}");
    }
    let cold = blend("tank=1&with=4&clear_f=-60").await;
    assert_eq!(
        cold.text("#answer"),
        "No mix of these stays free of ice to −60 °F and clear to −60 °F. The best one starts to freeze or drop salt at −6 °F."
    );
    let wrong = blend("tank=1&with=4&clear_f=cold").await;
    assert_eq!(
        wrong.problems(),
        ["clear_f = cold: is not a number. Fix: type a number like 2000 or 23.3, no commas"]
    );
    let none = blend("tank=nine&with=4&clear_f=0").await;
    assert_eq!(none.problems(), ["tank nine is not in the yard file"]);
}

/// 4,300 gal at 25 % to 23.3 %: W12's 434 gal for 5,000, in proportion 373.
#[tokio::test]
async fn a_tank_is_put_right_and_recorded_once() {
    let test = TestApp::new();
    let asked = "/put-right?tank=1&strength_pct=25&target_pct=23.3&volume_gal=4300&with=water";
    let page = test.get(asked).await.page();
    // The book says that the tank is in spec: a second sample comes first.
    assert!(page.text(".next .told.act").contains("Take a second sample before you add anything."));
    assert_eq!(page.text(".next .acts .go"), "Take a second sample");
    assert_eq!(page.text("#answer"), "If it reads the same: Add 374 gal of water.");
    let steps = page.texts("ol.do > li");
    assert_eq!(
        steps[..2],
        ["Add three quarters: 281 gal.", "Circulate for 1 hr 33 min (3 times the tank's volume)."]
    );
    page.shows(
        ".safe li, .safe summary",
        "Fill from drinking water only through a backflow preventer or an air gap.",
    );
    let form = right(&Uuid::now_v7().to_string(), "25", "water");
    for _ in 0..2 {
        let answer = test.post("/put-right", &form).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER);
        assert_eq!(answer.location.as_deref(), Some("/put-right?tank=1&saved=3"));
    }
    assert_eq!(test.ledger.head().unwrap().seq, 3);
    let kept = test.ledger.events_after(2).unwrap();
    let EventBody::Correction(correction) = &kept[0].event.body else { panic!("{kept:?}") };
    // Three quarters of 374 gal, in m³.
    assert!((correction.water_m3.unwrap() / (0.75 * 374.0 * 0.003_785_411_784) - 1.0).abs() < 0.003);
    assert_eq!(
        test.get("/put-right?tank=1&saved=3").await.page().saved().as_deref(),
        Some("Saved, entry 3. Sample the tank again before you load from it.")
    );
}

#[tokio::test]
async fn what_cannot_be_put_right_so_is_said_and_nothing_recorded() {
    let test = TestApp::new();
    let asked = async |rest: &str| {
        test.get(&format!("/put-right?tank=1&with=water&strength_pct={rest}")).await.page()
    };
    assert_eq!(
        asked("20").await.text("#answer"),
        "Cannot calculate: no correction: water can only make it weaker; add salt or stronger brine"
    );
    let word = asked("strong").await;
    assert_eq!(
        word.problems(),
        ["strength_pct = strong: is not a number. Fix: type a number like 2000 or 23.3, no commas"]
    );
    assert_eq!(word.field("strength_pct"), "strong");
    assert_eq!(asked("0.25").await.problems(), ["strength_pct = 0.25: looks like a fraction; write 25"]);
    let declared = test.get("/put-right?tank=4").await.page();
    declared.shows(".next p", BOUGHT);
    assert!(declared.has_link_to("/jar-test?tank=4") && !declared.has_form("right-ask"), "{declared}");
    let form = right(&Uuid::now_v7().to_string(), "20", "water");
    assert_eq!(test.post("/put-right", &form).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    let nameless = right(&Uuid::now_v7().to_string(), "25", "water").replace("author=Pat", "author=+");
    let answer = test.post("/put-right", &nameless).await;
    assert_eq!(answer.refusals(), ["Enter your name (1 to 80 characters)."]);
    assert_eq!(test.ledger.head().unwrap().seq, 2, "nothing was recorded");
}

/// Without a tank in the address the page opens on the one that is out of spec: tank 3, at 25.1 %.
#[tokio::test]
async fn the_page_opens_on_the_tank_that_needs_it() {
    let test = TestApp::new();
    let page = test.get("/put-right").await.page();
    assert_eq!(page.heading(), "Correct tank 3");
    assert_eq!([page.field("tank"), page.field("strength_pct")], ["3", "25.10"]);
    let in_spec = test.get("/put-right?tank=1").await.page();
    // Nobody has measured it since it was opened: what the book expects is told as that.
    assert_eq!(in_spec.text("#ask p > b"), "23.2% is expected, in spec. Sample it before you decide.");
    let label = |page: &Page| page.texts("#ask label").into_iter().find(|text| text.contains("by weight"));
    assert_eq!(label(&in_spec).unwrap(), "Expected strength, % salt by weight (not measured)");
    let sample = "author=Pat&tank=1&instrument=hydrometer&reading=1.1778&temp_f=60&occasion=usual";
    let saved = test.post("/bench", &format!("entry_id={}&{sample}", Uuid::now_v7())).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.body);
    let measured = test.get("/put-right?tank=1").await.page();
    assert_eq!(measured.text("#ask p > b"), "23.3% is in spec. No correction needed.");
    assert_eq!(label(&measured).unwrap(), "Measured strength, % salt by weight");
    assert_eq!(test.get("/tanks").await.page().link("Correct tank 3"), "/put-right?tank=3");
}

#[tokio::test]
async fn a_jar_test_is_recorded_where_nothing_is_predicted() {
    let test = TestApp::new();
    let refused = test.get("/put-right?tank=1&strength_pct=22&with=tank%3D4").await.page();
    assert_eq!(refused.text("#answer"), format!("Cannot calculate: {BOUGHT}"));
    assert_eq!(refused.link("Enter a jar test"), "/jar-test?tank=1");
    let page = test.get("/jar-test?tank=4").await.page();
    let liquids =
        [("brine", "Salt brine"), ("mag", "Magnesium chloride liquid")].map(|(a, b)| (a.into(), b.into()));
    assert_eq!([page.options("liquid_a"), page.options("liquid_b")], [liquids.clone(), liquids]);
    let form = page.form("jar-test");
    assert_eq!(["liquid_a", "liquid_b", "tank"].map(|name| form.field(name)), ["brine", "mag", "4"]);
    page.shows(
        ".safe li, .safe summary",
        "Safety. Goggles and gloves: concentrates irritate skin and eyes. Read the supplier's safety data sheet first.",
    );
    let id = Uuid::now_v7().to_string();
    let bad = test.post("/jar-test", &jar(&id, "fine")).await;
    assert_eq!(
        bad.refusals(),
        [
            "What you see = fine: is not a choice of result. Fix: use one of: clear, crystals, sludge, layers, gel"
        ]
    );
    let form = bad.page().form("jar-test");
    assert_eq!(["entry_id", "share_a_pct"].map(|name| form.field(name)), [&id, "80"]);
    for _ in 0..2 {
        let answer = test.post("/jar-test", &jar(&id, "crystals")).await;
        assert_eq!(answer.location.as_deref(), Some("/jar-test?tank=4&saved=3"));
    }
    let kept = test.ledger.events_after(2).unwrap();
    let EventBody::JarTest(kept) = &kept[0].event.body else { panic!("{kept:?}") };
    assert!((kept.temp_c - -20.555).abs() < 0.01 && kept.result == event::JarResult::Crystals);
}
