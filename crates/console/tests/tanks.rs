//! The tanks' page over HTTP: dips good, bad and doubtful; what bought liquids and blends freeze at.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use axum::http::StatusCode;
use common::forms::dip;
use common::page::{Page, number};
use common::{TestApp, delivered, happened};
use event::{Body as EventBody, JarTest, LiquidDelivery, MakingRun};
use jiff::Timestamp;
use store::Ledger;
use uuid::Uuid;

#[tokio::test]
async fn a_dip_is_recorded_once_however_often_it_is_sent() {
    let test = TestApp::new();
    let form = dip(&Uuid::now_v7().to_string(), "7.3");
    for _ in 0..3 {
        let answer = test.post("/tanks/dip", &form).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER);
        assert_eq!(answer.location.as_deref(), Some("/tanks?saved=3#tank-1"));
    }
    assert_eq!(test.ledger.head().unwrap().seq, 3);
    let page = test.get("/tanks?saved=3").await.page();
    assert_eq!(
        page.saved().as_deref(),
        Some("Dip saved, entry 3. The volume on the pages uses it; the book is not changed.")
    );
    assert_eq!(
        page.part("#tank-1").fact("Last dip"),
        "dip 4,290 gal, book 4,300 gal at that time, 1:00 PM Thu Jan 24"
    );
}

#[tokio::test]
async fn a_bad_dip_keeps_what_was_typed_and_names_the_fault() {
    let test = TestApp::new();
    let id = Uuid::now_v7().to_string();
    let accepted = "Fix: enter a depth like 4.58, 4 ft 7 in, 55 in or 1.4 m";
    for (depth, fault) in [
        (
            "99",
            "= 99 ft 0 in: depth 99 ft 0 in is outside 0 to 14 ft 0 in, the inside height of the tank. Fix: enter a depth inside the tank",
        ),
        ("deep", &format!("= deep: is not a number. {accepted}")),
        ("1,234", &format!("= 1,234: has a comma that could mean thousands or decimals. {accepted}")),
        (
            "",
            "is blank: is required. Fix: use one of: depth_m, depth_ft, depth_in, depth_mm, depth_mi, depth_km",
        ),
    ] {
        let answer = test.post("/tanks/dip", &dip(&id, depth)).await;
        assert_eq!(answer.refusals(), [format!("Depth {fault}")]);
        let form = answer.page().form("dip-1");
        assert_eq!([form.field("depth_ft"), form.field("entry_id")], [depth, &id]);
    }
    assert_eq!(test.ledger.head().unwrap().seq, 2, "nothing was recorded");
}

#[tokio::test]
async fn a_doubtful_dip_asks_and_a_confirmed_one_is_recorded() {
    let test = TestApp::new();
    let id = Uuid::now_v7().to_string();
    // 4,300 gal stand at 7.32 ft; a quarter of it looks like gallons entered as litres.
    let answer = test.post("/tanks/dip", &dip(&id, "1.93")).await;
    let doubt = "Depth = 1,130 gal: the tank should hold 4,300 gal. Fix: dip again; if it is right, look for a leak or an entry that is missing";
    assert_eq!(answer.refusals(), [doubt]);
    let tick = answer.page().form("dip-1").tick();
    let answer = test.post("/tanks/dip", &format!("{}{tick}", dip(&id, "1.93"))).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
}

/// What a tank's own part of the tanks page says.
async fn told_of_tank(test: &TestApp, tank: &str) -> Page {
    test.get("/tanks").await.page().part(&format!("#tank-{tank}"))
}

/// Both charts of a tank's blend, for a phone and for a desk, draw where salt and where ice comes.
fn assert_both_lines(tank: &Page) {
    for chart in ["chart-phone", "chart-wide"] {
        let lines = tank.attrs(&format!("svg.{chart} path.c-curve"), "class");
        assert_eq!(lines, ["c-curve", "c-curve c-dash"], "{chart}");
    }
    assert_eq!(tank.texts(".key > li"), ["salt drops out below", "ice forms below"]);
}

#[tokio::test]
async fn a_bought_liquid_tells_its_freezing_margin_with_its_source() {
    let test = TestApp::new();
    told_of_tank(&test, "4").await.shows("p", "Empty. Nobody has dipped it yet: dip it first.");
    let now: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
    test.ledger.append(&[happened(11, delivered("4", None))], now).unwrap();
    let told = told_of_tank(&test, "4").await;
    // That is all: no jar is asked for, and there is no map.
    assert_eq!(
        told.texts("p"),
        [
            "Purchased liquid: freezes at 2 °F as delivered, per its sheet (supplier's sheet (invented): 30 % magnesium chloride; density as Lange's table 5.13). 11 °F to spare: coldest air forecast is 13 °F. Nobody has dipped it yet: dip it first.",
            "Depth: from the lowest inside point up to the liquid. 6 ft 6 in, 78 in and 6.5 are all understood.",
            "264 gal (1,000 L)",
        ]
    );
    assert!(!told.has(".chart-phone, a[href^=\"/jar-test\"]"), "{told}");
}

/// 90 parts of full-strength brine with 10 of a magnesium chloride liquid by mass (reference notes: salt near 9 °F;
/// ice near -12 °F if no salt came out before it, and with the salt out a quarter of it is ice at -9 °F,
/// blend_phases.csv): both lines and the sentence.
#[tokio::test]
async fn the_freeze_map_of_a_90_10_blend_shows_both_lines_and_its_sentence() {
    let test = TestApp::new();
    let now: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
    let run = MakingRun { tank: "2".into(), volume_m3: 9.0, strength_pct: 23.3, ..MakingRun::default() };
    let EventBody::LiquidDelivery(bought) = delivered("2", Some("mag")) else { panic!("a delivery") };
    // 9 m³ at 1,176 kg/m³ and a tenth of all at the liquid's 1.28.
    let bought = LiquidDelivery { volume_m3: 9.0 * 1.176 / 9.0 / 1.28, ..bought };
    let events = [happened(11, EventBody::MakingRun(run)), happened(12, EventBody::LiquidDelivery(bought))];
    test.ledger.append(&events, now).unwrap();
    let told = told_of_tank(&test, "2").await;
    assert_both_lines(&told);
    let state = told.text("p.act");
    let (before, between) = state.split_once(" Between ").unwrap();
    let shares = "Mixed: 90% salt brine or water by weight, 10% Magnesium chloride liquid by weight.";
    assert_eq!(
        before.strip_prefix(shares),
        Some(" Liquid to 9 °F (±5 °F), then salt crystals. 4 °F to spare: coldest air forecast is 13 °F.")
    );
    let (salt, rest) = between.split_once(" and ").unwrap();
    let (ice, rest) = rest.split_once(", salt drops ").unwrap();
    assert!((number(salt) - 9.0).abs() <= 5.0 && (number(ice) - -8.0).abs() <= 1.0, "{salt} {ice}: {told}");
    assert_eq!(
        rest.split(". ").next(),
        Some("out and there is no ice: sludge, plugged strainers and nozzles, weaker liquid on top"),
        "{told}"
    );
}

#[tokio::test]
async fn a_mixed_tank_says_so_and_shows_its_jar_test() {
    let test = TestApp::new();
    let now: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
    test.ledger.append(&[happened(11, delivered("1", Some("mag")))], now).unwrap();
    let told = told_of_tank(&test, "1").await;
    let shares = "Mixed: 94% salt brine or water by weight, 6% Magnesium chloride liquid by weight.";
    assert_eq!(
        told.text("p.act"),
        format!(
            "{shares} Liquid to 2 °F (±5 °F), then salt crystals. 10 °F to spare: coldest air forecast is 13 °F. Between 2 °F and −7 °F, salt drops out and there is no ice: sludge, plugged strainers and nozzles, weaker liquid on top. It forms slowly, even days later, and dissolves slowly. Keep it warmer than 2 °F, or circulate it."
        )
    );
    told.shows("p", "No jar test on file. Mix some in a jar, keep it cold, and enter what you see.");
    // Both lines of its freeze map, and what happens between them.
    assert_both_lines(&told);
    let jar = JarTest {
        liquid_a: "brine".into(),
        liquid_b: "mag".into(),
        share_a_pct: 94.0,
        temp_c: -20.0,
        duration_h: 36.0,
        result: event::JarResult::Sludge,
        remark: Some("<b>white</b>".into()),
        tank: Some("1".into()),
    };
    test.ledger.append(&[happened(12, EventBody::JarTest(jar))], now).unwrap();
    let told = told_of_tank(&test, "1").await;
    let line = "94% Salt brine with 6% Magnesium chloride liquid by volume, kept at −4 °F for 36 hr";
    // The remark is text: no element of its own.
    told.shows("p", &format!("Last jar test, 1:00 PM Thu Jan 24: {line}: sludge. <b>white</b>"));
    let ledger = test.get("/ledger").await.page();
    assert_eq!(ledger.text("#event-4 > p:nth-of-type(1) > b"), "Jar test");
    assert_eq!(
        ledger.text("#event-4 > p:nth-of-type(2)"),
        format!("{line}: sludge, for tank 1. <b>white</b>")
    );
    assert_eq!(
        ledger.text("#event-3 > p:nth-of-type(2)"),
        "264 gal of Magnesium chloride liquid received into tank 1"
    );
    test.get("/")
        .await
        .page()
        .shows("ul.fold > li", &format!("Tank 1 is not counted in this plan. {shares}"));
}
