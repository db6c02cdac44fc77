//! The guided run over HTTP: a step at a time, stopped where something is not seen, the same on every tablet and
//! after a restart, and on a sheet.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use axum::http::StatusCode;
use common::TestApp;
use store::Ledger;
use uuid::Uuid;
use yard::event::Body;

fn id() -> String {
    Uuid::now_v7().to_string()
}

fn answer(run: &str, step: &str, rest: &str) -> String {
    format!("entry_id={}&author=Pat&run={run}&step={step}&{rest}", id())
}

/// The step a page is at.
fn at(body: &str) -> String {
    let rest = body.split("name=\"step\" value=\"").nth(1).unwrap_or_default();
    rest.split('"').next().unwrap_or_default().to_string()
}

#[tokio::test]
async fn a_run_stops_where_circulation_is_not_seen() {
    let test = TestApp::new();
    assert!(test.get("/run").await.body.contains("No run is open."));
    let run = id();
    let start = format!("entry_id={run}&author=Pat");
    for _ in 0..2 {
        assert_eq!(test.post("/run", &start).await.status, StatusCode::SEE_OTHER);
    }
    assert_eq!(test.ledger.head().unwrap().seq, 3, "begun once");
    assert!(test.get("/").await.body.contains("A making run is open"), "today leads to it");
    for (step, rest) in [
        ("walk_round", "answer=done"),
        ("salt_ready", "answer=seen"),
        ("backflow", "answer=seen"),
        ("instruments", "answer=done"),
        ("water_on", "answer=entered&value=18234.5"),
        ("water_temp", "answer=entered&value=46"),
        ("prime", "answer=done"),
    ] {
        assert_eq!(at(&test.get("/run").await.body), step);
        let given = test.post("/run", &answer(&run, step, rest)).await;
        assert_eq!(given.status, StatusCode::SEE_OTHER, "{step}: {}", given.body);
    }
    // Not seen may be said at once; what it says then is to stop, and the step stays.
    test.post("/run", &answer(&run, "circulation", "answer=not_seen")).await;
    let stopped = test.get("/run").await.body;
    assert!(
        stopped.contains(">Stop.</h1>") && stopped.contains("Stop the pump now, and lock it out"),
        "{stopped}"
    );
    assert_eq!(at(&stopped), "circulation");
    // Seen before its time has passed is asked about; after it, taken.
    let early = test.post("/run", &answer(&run, "circulation", "answer=seen")).await;
    assert!(
        early.status == StatusCode::UNPROCESSABLE_ENTITY && early.body.contains("given time until 13:02")
    );
    let later = test.after_minutes(3);
    assert_eq!(
        later.post("/run", &answer(&run, "circulation", "answer=seen")).await.status,
        StatusCode::SEE_OTHER
    );
    // Another console on the same ledger, as after a power cut, is at the same step.
    assert_eq!(at(&test.after_minutes(4).get("/run").await.body), "salt_on");
    // A second tablet that answers the step again is told that the run has moved on.
    let twice = later.post("/run", &answer(&run, "circulation", "answer=seen")).await;
    assert!(twice.status == StatusCode::UNPROCESSABLE_ENTITY && twice.body.contains("moved on"));
    let sheet = later.get(&format!("/run/sheet?run={run}")).await.body;
    assert!(
        sheet.contains("entered 18234.5 as it shows, 13:00, Pat") && sheet.contains("seen, 13:03, Pat"),
        "{sheet}"
    );
    assert!(sheet.contains("Checked by") && sheet.contains("Drain and blow down"));
}

#[tokio::test]
async fn figures_outside_their_limits_and_ends_without_reason_are_refused() {
    let test = TestApp::new();
    let run = id();
    test.post("/run", &format!("entry_id={run}&author=Pat")).await;
    for (step, rest) in
        [("walk_round", ""), ("salt_ready", "answer=seen"), ("backflow", "answer=seen"), ("instruments", "")]
    {
        test.post("/run", &answer(&run, step, rest)).await;
    }
    let head = test.ledger.head().unwrap().seq;
    for (bad, said) in
        [("value=-3", "0…1000000000"), ("value=much", "not a number"), ("value=", "not a number")]
    {
        let given = test.post("/run", &answer(&run, "water_on", bad)).await;
        assert!(
            given.status == StatusCode::UNPROCESSABLE_ENTITY && given.body.contains(said),
            "{bad}: {}",
            given.body
        );
    }
    let unsaid = test.post("/run/end", &format!("entry_id={}&author=Pat&run={run}&remark=", id())).await;
    assert!(unsaid.body.contains("Say why") && test.ledger.head().unwrap().seq == head);
    let broken = format!("entry_id={}&author=Lou&run={run}&remark=water+main+burst", id());
    assert_eq!(test.post("/run/end", &broken).await.status, StatusCode::SEE_OTHER);
    let after = test.get("/run").await.body;
    assert!(after.contains("No run is open.") && after.contains("Earlier runs"));
    let kept = test.ledger.events_after(head).unwrap();
    let Body::RunEnd(end) = &kept[0].event.body else { panic!("{kept:?}") };
    assert!(end.how == "broken_off" && end.reason.as_deref() == Some("water main burst"));
    assert!(test.get(&format!("/run/sheet?run={run}")).await.body.contains("Broken off"));
    assert_eq!(test.get("/run/sheet?run=nothing").await.status, StatusCode::NOT_FOUND);
    assert!(test.get("/run/sheet").await.body.contains("filled in by hand"));
}

/// Through all of it to the end, its waits confirmed as having passed.
#[tokio::test]
async fn a_run_is_finished() {
    let test = TestApp::new();
    let run = id();
    test.post("/run", &format!("entry_id={run}&author=Pat")).await;
    for number in 0..40 {
        let body = test.get("/run").await.body;
        let step = at(&body);
        if step.is_empty() {
            assert!(number > 15 && body.contains("Every step is behind you."));
            break;
        }
        let given = test.post("/run", &answer(&run, &step, "answer=seen&value=40&confirm=yes")).await;
        let given = if given.status == StatusCode::SEE_OTHER {
            given
        } else {
            test.post("/run", &answer(&run, &step, "answer=seen&value=20&confirm=yes")).await
        };
        assert_eq!(given.status, StatusCode::SEE_OTHER, "{step}: {}", given.body);
    }
    test.post("/run/end", &format!("entry_id={}&author=Pat&run={run}", id())).await;
    assert!(test.get(&format!("/run/sheet?run={run}")).await.body.contains("Finished"));
}
