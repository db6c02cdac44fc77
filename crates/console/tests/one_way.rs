//! The same entry by page, by command and by a row of a table is the same event, for every kind that a person enters.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use axum::http::StatusCode;
use common::TestApp;
use event::{Body, KINDS};
use store::Ledger;
use uuid::Uuid;

/// Path and form of a page; kind and fields of the command.
type Same = (&'static str, &'static str, &'static str, &'static str);

/// In the order of a day: a load before its return.
const ENTRIES: &[Same] = &[
    (
        "/salt",
        "mass_tons=25&ticket=S-9&wet=500&dry=491&price_usd=1800",
        "salt_delivery",
        "mass_tons=25&ticket=S-9&wet=500&dry=491&price_usd=1800",
    ),
    (
        "/load/other?what=liquid_delivery",
        "tank=4&volume_gal=800&price_usd=1100",
        "liquid_delivery",
        "tank=4&volume_gal=800&price_usd=1100",
    ),
    (
        "/run/batch",
        "tank=1&volume_gal=300&strength_pct=23.3&temp_f=50",
        "making_run",
        "tank=1&volume_gal=300&strength_pct=23.3&temp_f=50",
    ),
    ("/tanks/dip", "tank=1&depth_ft=4 ft 7 in&temp_f=30", "dip", "tank=1&depth=4 ft 7 in&temp_f=30"),
    (
        "/jar-test",
        "tank=4&liquid_a=brine&liquid_b=mag&share_a_pct=70&temp_f=0&duration_h=24&result=clear&remark=",
        "jar_test",
        "tank=4&liquid_a=brine&liquid_b=mag&share_a_pct=70&temp_f=0&duration_h=24&result=clear",
    ),
    (
        "/load/other?what=transfer",
        "from_tank=1&to_tank=3&volume_gal=100",
        "transfer",
        "from_tank=1&to_tank=3&volume_gal=100",
    ),
    (
        "/load",
        "truck=T1&tank=1&route=R1&weighed_lb=4000&how=weight&override_reason=needed tonight",
        "load_out",
        "truck=T1&tank=1&route=R1&weighed_lb=4000&how=weight&override_reason=needed tonight",
    ),
    (
        "/load",
        "truck=T2&tank=1&route=R2&volume_gal=400&how=meter&override_reason=needed tonight",
        "load_out",
        "truck=T2&tank=1&route=R2&volume_gal=400&how=meter&override_reason=needed tonight",
    ),
    (
        "/load/return",
        "truck=T2&tank=1&volume_gal=50&how=marks",
        "return_to_tank",
        "truck=T2&volume_gal=50&how=marks",
    ),
    (
        "/load/applied",
        "route=R1&treated=liquid&truck=T1&volume_gal=200&lane_mi=10&duration_h=1",
        "application",
        "route=R1&treated=liquid&truck=T1&volume_gal=200&lane_mi=10&duration_min=60",
    ),
    (
        "/load/issue",
        "agency=School district&tank=1&volume_gal=200&how=meter&override_reason=needed tonight",
        "issue_out",
        "agency=School district&tank=1&volume_gal=200&how=meter&override_reason=needed tonight",
    ),
    (
        "/load/other?what=loss",
        "tank=1&volume_gal=10&reason=hose burst",
        "loss",
        "tank=1&volume_l=37.85411784&reason=hose burst",
    ),
    (
        "/load/other?what=clean_out",
        "tank=3&volume_gal=20&disposal=sewer permit 7",
        "clean_out",
        "tank=3&volume_gal=20&disposal=sewer permit 7",
    ),
    (
        "/load/other?what=settlement",
        "tank=3&volume_gal=1900&strength_pct=25&reason=counted",
        "settlement",
        "tank=3&volume_gal=1900&strength_pct=25&reason=counted",
    ),
    (
        "/load/other?what=maintenance",
        "subject=pump 1&done=seal flushed",
        "maintenance",
        "subject=pump 1&done=seal flushed",
    ),
    ("/meters", "meter=loading&total_gal=52000", "meter_reading", "meter=loading&total_gal=52000"),
    (
        "/meters/check",
        "meter=loading&shown_gal=480&weighed_lb=4720&strength_pct=23.3&temp_f=40",
        "meter_check",
        "meter=loading&shown_gal=480&weighed_lb=4720&strength_pct=23.3&temp_f=40",
    ),
    ("/salt/buckets", "to=trucks&buckets_number=4", "bucket_count", "to=trucks&buckets_number=4"),
    (
        "/salt/survey",
        "mass_tons=80&uncertainty_pct=6&how=pole",
        "pile_survey",
        "mass_t=72.5747792&uncertainty_pct=6&how=pole",
    ),
    (
        "/sprayers",
        "truck=T1&liquid=water&caught_floz=64 63.5 66 64&catch_s=30&lanes_number=1&pressure_psi=30",
        "sprayer_check",
        "truck=T1&liquid=water&caught_floz=64 63.5 66 64&catch_s=30&lanes_number=1&pressure_psi=30",
    ),
    (
        "/sprayers/spreader",
        "truck=T1&material=rock salt&setting=5&caught_lb=101 98 103&turns_number=10&per_minute_number=22",
        "spreader_check",
        "truck=T1&material=rock salt&setting=5&caught_lb=101 98 103&turns_number=10&per_minute_number=22",
    ),
    ("/due", "chore=pump-seals&done=flushed", "chore_done", "chore=pump-seals&done=flushed"),
    ("/books/close", "month=2012-12", "month_close", "month=2012-12"),
    ("/ledger/note", "text=gate left open", "note", "text=gate left open"),
];

/// Kinds that the program writes of itself, or that a page makes of what it knows beside the entry: their own tests
/// look at those pages.
const MADE_OTHERWISE: &[&str] = &[
    "reading",
    "panel_check",
    "trim_set",
    "instrument_check",
    "water_change",
    "run_start",
    "run_step",
    "run_end",
    "plant_fit",
    "practice_run",
    "season_start",
    "check_seen",
    "correction",
    "water_sample",
    "storm",
    "void",
];

fn pairs(text: &str) -> Vec<(String, String)> {
    text.split('&').filter_map(|part| part.split_once('=')).map(|(a, b)| (a.into(), b.into())).collect()
}

#[tokio::test]
async fn an_entry_is_the_same_event_by_every_way_in() {
    let test = TestApp::new();
    for (path, form, kind, fields) in ENTRIES {
        let books = test.app.books().unwrap();
        let (yard, now) = (&test.app.yard, test.app.clock.now());
        let typed = pairs(fields);
        let by_command =
            entry::read_body(kind, &typed, (yard, &books)).unwrap_or_else(|all| panic!("{kind}: {all:?}"));
        let heads: Vec<&str> = typed.iter().map(|(name, _)| name.as_str()).collect();
        let cells: Vec<String> = typed.iter().map(|(_, value)| format!("\"{value}\"")).collect();
        let table = format!("at,{}\n{now},{}\n", heads.join(","), cells.join(","));
        let rows = entry::import(&table, kind, (yard, &books), &test.app.zone, now);
        let by_table = rows.unwrap_or_else(|all| panic!("{kind}: {all:?}")).remove(0).body;
        let encoded = serde_urlencoded::to_string(pairs(form)).unwrap();
        let form = format!("entry_id={}&author=Pat&{encoded}", Uuid::now_v7());
        let mut answer = test.post(path, &form).await;
        if answer.status == StatusCode::UNPROCESSABLE_ENTITY && answer.page().has_field("confirm") {
            answer = test.post(path, &format!("{form}{}", answer.page().tick())).await;
        }
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{path}: {}", answer.page());
        let by_page = test.ledger.events_after(0).unwrap().pop().unwrap().event.body;
        assert_eq!(by_page, by_command, "{kind}: page and command");
        assert_eq!(by_table, by_command, "{kind}: table and command");
    }
}

/// What is worked out for an entry is worked out the same way when it is sent again, whatever was entered since.
#[tokio::test]
async fn an_entry_sent_twice_is_one_though_it_was_worked_out() {
    let test = TestApp::new();
    let load = format!(
        "entry_id={}&author=Pat&truck=T1&tank=1&weighed_lb=4000&how=weight&override_reason=needed+tonight",
        Uuid::now_v7()
    );
    assert_eq!(test.post("/load", &load).await.status, StatusCode::SEE_OTHER);
    let reading = format!(
        "entry_id={}&tank=1&instrument=hydrometer&reading=1.1700&temp_f=60&author=Pat&level=outlet&occasion=usual",
        Uuid::now_v7()
    );
    let logged = test.post("/bench", &reading).await;
    assert!(!logged.status.is_server_error(), "{}", logged.page());
    let before = test.ledger.head().unwrap().seq;
    assert!(before > 3, "the reading was logged");
    assert_eq!(test.post("/load", &load).await.status, StatusCode::SEE_OTHER);
    assert_eq!(test.ledger.head().unwrap().seq, before);
}

#[test]
fn no_kind_is_forgotten() {
    for kind in KINDS {
        let is_tried = ENTRIES.iter().any(|(_, _, tried, _)| *tried == kind.name);
        assert!(is_tried != MADE_OTHERWISE.contains(&kind.name), "{}", kind.name);
    }
}

/// What the ledger keeps of any kind is typed again, field by field, into the same event.
#[test]
fn what_is_kept_can_be_typed() {
    let yard = site::yard_file::read_yard(common::YARD, "yard.toml").unwrap();
    let books = yard::stock::Books::opening(&yard);
    for (kind, text) in KEPT {
        let body = Body::from_json(kind, 1, text).unwrap();
        let kept: serde_json::Map<String, serde_json::Value> = serde_json::from_str(text).unwrap();
        let value =
            |value: &serde_json::Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
        let fields: Vec<(String, String)> =
            kept.iter().map(|(name, one)| (name.clone(), value(one))).collect();
        let again = entry::read_body(kind, &fields, (&yard, &books));
        assert_eq!(again.unwrap_or_else(|all| panic!("{kind}: {all:?}")), body, "{kind}");
    }
}

/// One event of every kind that [`ENTRIES`] does not try, as the ledger keeps it.
const KEPT: &[(&str, &str)] = &[
    (
        "reading",
        r#"{"tank":"1","strength_pct":23.2,"uncertainty_pct":0.2,"temp_c":10.0,"instrument":"hydrometer","level":"outlet","occasion":"usual","shown":"1.1765","sample":"01930000-0000-7000-8000-00000000007e"}"#,
    ),
    ("reading", r#"{"strength_pct":23.2,"level":"plant_tap"}"#),
    ("panel_check", r#"{"trim_number":1.02,"panel_pct":23.4,"bench_pct":23.2,"uncertainty_pct":0.2}"#),
    ("trim_set", r#"{"from_number":1.02,"to_number":1.01,"advised_number":1.01}"#),
    (
        "instrument_check",
        r#"{"instrument":"hydrometer","against":"water","expected_reading":0.999,"shown_reading":1.0,"adjusted":"no"}"#,
    ),
    ("water_change", r#"{"what":"well 2"}"#),
    ("run_start", r#"{"procedure":"Make brine","tank":"1"}"#),
    (
        "run_step",
        r#"{"run":"01930000-0000-7000-8000-00000000007e","step":"water","answer":"entered","value_reading":-3.5,"total_of":"water","total_m3":12.5}"#,
    ),
    ("run_end", r#"{"run":"01930000-0000-7000-8000-00000000007e","how":"broken_off","reason":"rain"}"#),
    (
        "plant_fit",
        r#"{"run":"01930000-0000-7000-8000-00000000007e","reached_number":1.1,"reached_spread_number":0.1,"feed_number":1.0,"feed_spread_number":0.1,"water_number":0.9,"water_spread_number":0.1,"looks_number":40.0}"#,
    ),
    ("season_start", r#"{"season":"winter"}"#),
    ("check_seen", r#"{"check":"trim:look","done":"looked"}"#),
    ("correction", r#"{"tank":"1","water_m3":0.5}"#),
    ("storm", r#"{"name":"Long snow","until":"2013-01-24T12:00:00Z"}"#),
    ("void", r#"{"event":"01930000-0000-7000-8000-00000000007e","reason":"typed twice"}"#),
];
