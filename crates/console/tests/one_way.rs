//! The same entry by page, by command and by a row of a table is the same event, for every kind that a person enters.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use std::collections::HashMap;

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
    (
        "/roads",
        "road=A&surface_f=24&part=road&looked=damp&instrument=infrared",
        "road_reading",
        "road=A&surface_f=24&part=road&looked=damp&instrument=infrared",
    ),
    ("/due", "chore=pump-seals&done=flushed", "chore_done", "chore=pump-seals&done=flushed"),
    ("/books/close", "month=2012-12", "month_close", "month=2012-12"),
    ("/ledger/note", "text=gate left open", "note", "text=gate left open"),
];

/// The rest, in the order of a watch at the plant: page, form, kind, and fields of the command where it works out more
/// than it is told; without them, the command is told what the page made, field by field. `{name}` stands for the id of
/// the entry of that name.
const WATCH: &[(&str, &str, &str, &str, Option<&str>)] = &[
    ("start", "/run", "", "run_start", None),
    ("step", "/run", "run={start}&step=walk_round&answer=done", "run_step", None),
    (
        "tap",
        "/bench",
        "tank=tap&instrument=hydrometer&reading=1.1712&temp_f=60&level=outlet&occasion=usual",
        "reading",
        Some("level=plant_tap&instrument=hydrometer&shown=1.1712&temp_f=60&occasion=usual"),
    ),
    (
        "twice",
        "/bench",
        "tank=1&instrument=refractometer&reading=26.4 26.5&level=middle&occasion=usual",
        "reading",
        Some("tank=1&level=middle&instrument=refractometer&shown=26.4 26.5&occasion=usual"),
    ),
    (
        "look",
        "/bench/trim",
        "trim_number=1&panel_pct=23.3&reading={tap}",
        "panel_check",
        Some("trim_number=1&panel_pct=23.3&reading={tap}"),
    ),
    (
        "set",
        "/bench/trim/set",
        "to_number=0.99&reason=salt is coarse",
        "trim_set",
        Some("to_number=0.99&advised_number={advised}&reason=salt is coarse"),
    ),
    (
        "water",
        "/bench/instruments/check",
        "instrument=hydrometer&against=water&shown=1.0005&temp_f=60",
        "instrument_check",
        Some("instrument=hydrometer&against=water&shown_reading=1.0005&temp_f=60&adjusted=no"),
    ),
    (
        "brine",
        "/bench/instruments/check",
        "instrument=hydrometer&against=brine&known_pct=23.3&shown=1.179&temp_f=60&adjusted=yes",
        "instrument_check",
        Some("instrument=hydrometer&against=brine&known_pct=23.3&shown_reading=1.179&temp_f=60&adjusted=yes"),
    ),
    ("changed", "/bench/change", "kind=water_change&what=well 2", "water_change", Some("what=well 2")),
    ("season", "/bench/change", "kind=season_start&what=winter", "season_start", Some("season=winter")),
    ("seen", "/bench/due", "check=water:x&done=looked", "check_seen", Some("check=water:x&done=looked")),
    (
        "right",
        "/put-right",
        "tank=1&strength_pct=25&target_pct=23.3&volume_gal=3000&temp_f=30&with_temp_f=44&uncertainty_pct=0.2&\
         with=water&part=first",
        "correction",
        None,
    ),
    (
        "creek",
        "/load/other?what=water_sample",
        "watershed=mill&chloride_mg_l=120&sampled=grab",
        "water_sample",
        Some("watershed=mill&chloride_mg_l=120&sampled=grab"),
    ),
    ("storm", "/books/storms", "name=Long snow&at=2013-01-24 12:00&until=2013-01-24 12:50", "storm", None),
    ("end", "/run/end", "run={start}&remark=rain", "run_end", None),
    (
        "void",
        "/ledger/void",
        "event={twice}&reason=typed twice",
        "void",
        Some("event={twice}&reason=typed twice"),
    ),
];

/// Kinds that the program writes of itself.
const OF_ITSELF: [&str; 2] = ["plant_fit", "practice_run"];

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

/// What the ledger keeps of an event, as it would be typed.
fn as_typed(kept: &serde_json::Value) -> Vec<(String, String)> {
    let value = |value: &serde_json::Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
    kept.as_object().unwrap().iter().map(|(name, one)| (name.clone(), value(one))).collect()
}

#[tokio::test]
async fn a_watch_at_the_plant_is_the_same_by_every_way_in() {
    let test = TestApp::new();
    let mut ids: HashMap<&str, String> = HashMap::new();
    let filled = |text: &str, ids: &HashMap<&str, String>| {
        ids.iter().fold(text.to_owned(), |text, (name, id)| text.replace(&format!("{{{name}}}"), id))
    };
    for (name, path, form, kind, fields) in WATCH {
        let id = Uuid::now_v7().to_string();
        if *name == "set" {
            ids.insert("advised", test.get("/bench/trim").await.page().field("to_number"));
        }
        let books = test.app.books().unwrap();
        let (yard, now) = (&test.app.yard, test.app.clock.now());
        let encoded = serde_urlencoded::to_string(pairs(&filled(form, &ids))).unwrap();
        let form = format!("entry_id={id}&author=Pat&{encoded}");
        let mut answer = test.post(path, form.trim_end_matches('&')).await;
        if answer.status == StatusCode::UNPROCESSABLE_ENTITY && answer.page().has_field("confirm") {
            answer = test.post(path, &format!("{form}{}", answer.page().tick())).await;
        }
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{name}: {}", answer.page());
        let by_page = test.ledger.events_after(0).unwrap().pop().unwrap().event;
        assert_eq!((by_page.id.to_string(), by_page.body.kind()), (id.clone(), *kind), "{name}");
        let kept = serde_json::from_str(&by_page.body.to_json().unwrap()).unwrap();
        let typed = fields.map_or_else(|| as_typed(&kept), |fields| pairs(&filled(fields, &ids)));
        let by_command =
            entry::read_body(kind, &typed, (yard, &books)).unwrap_or_else(|all| panic!("{name}: {all:?}"));
        let heads: Vec<&str> = typed.iter().map(|(name, _)| name.as_str()).collect();
        let cells: Vec<String> = typed.iter().map(|(_, value)| format!("\"{value}\"")).collect();
        let table = format!("at,{}\n{now},{}\n", heads.join(","), cells.join(","));
        let rows = entry::import(&table, kind, (yard, &books), &test.app.zone, now);
        let by_table = rows.unwrap_or_else(|all| panic!("{name}: {all:?}")).remove(0).body;
        assert_eq!(by_page.body, by_command, "{name}: page and command");
        assert_eq!(by_table, by_command, "{name}: table and command");
        ids.insert(name, id);
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
        let is_watched = WATCH.iter().any(|(_, _, _, tried, _)| *tried == kind.name);
        assert!((is_tried || is_watched) != OF_ITSELF.contains(&kind.name), "{}", kind.name);
    }
}

/// What the ledger keeps of any kind is typed again, field by field, into the same event.
#[test]
fn what_is_kept_can_be_typed() {
    let yard = site::yard_file::read_yard(common::YARD, "yard.toml").unwrap();
    let books = yard::stock::Books::opening(&yard);
    for (kind, text) in KEPT {
        let body = Body::from_json(kind, 1, text).unwrap();
        let again = entry::read_body(kind, &as_typed(&serde_json::from_str(text).unwrap()), (&yard, &books));
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
