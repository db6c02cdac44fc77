//! A ledger that is damaged, or whose file was taken away, says so on every page, in the alerts, and takes no entry.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use axum::http::StatusCode;
use common::TestApp;
use common::page::Page;
use store::Ledger;
use uuid::Uuid;

fn note() -> String {
    format!("entry_id={}&author=Pat&text=hello", Uuid::now_v7())
}

#[tokio::test]
async fn a_damaged_row_is_named_everywhere_and_nothing_is_taken() {
    let test = TestApp::new();
    assert_eq!(test.post("/ledger/note", &note()).await.status, StatusCode::SEE_OTHER);
    let triggers = "drop trigger event_is_never_changed;";
    let bad = "update event set body = cast(x'7bff7d' as text) where seq = 2;";
    rusqlite::Connection::open(test.folder.join("ledger.db"))
        .unwrap()
        .execute_batch(&format!("{triggers}{bad}"))
        .unwrap();
    // Another console on the same file, as after a start.
    let later = test.after_minutes(1);
    let page = later.get("/ledger").await;
    assert_eq!(page.status, StatusCode::CONFLICT);
    let damage = "the ledger is damaged at entry 2 (settlement event: expected value at line 1 column 1). Nothing more can be saved. Restore a backup";
    let banner = format!("{damage}. Call your supervisor.");
    assert_eq!(page.page().heading(), "The ledger is damaged");
    assert!(page.page().alarm().contains(&banner), "{}", page.page());
    assert_eq!(later.post("/ledger/note", &note()).await.status, StatusCode::CONFLICT);
    // Every page that still stands says so, and the alerts do.
    for path in ["/live", "/offline", "/alerts"] {
        assert!(later.get(path).await.page().alarm().contains(&banner), "{path}");
    }
    // What needs the ledger is not guessed: this is the one alert.
    assert_eq!(later.get("/alerts").await.page().texts(".events > li > p"), [damage]);
}

#[tokio::test]
async fn a_ledger_taken_away_takes_no_entry_and_says_so() {
    let test = TestApp::new();
    assert_eq!(test.post("/ledger/note", &note()).await.status, StatusCode::SEE_OTHER);
    std::fs::remove_file(test.folder.join("ledger.db")).unwrap();
    let gone = |page: &Page| {
        let alarm = page.alarm();
        let (what, rest) = alarm.split_once(" (it is gone: ").unwrap();
        let file = test.folder.join("ledger.db");
        assert_eq!(what, format!("Ledger: {} is not the ledger that was opened", file.display()));
        assert_eq!(
            rest.split_once("): ").map(|(_, act)| act.trim_end_matches(" and 1 more on Today")),
            Some(
                "nothing more is recorded; stop the console, put the right file back, and start it again. Call your supervisor."
            )
        );
    };
    for _ in 0..8 {
        let answer = test.post("/ledger/note", &note()).await;
        assert_eq!(answer.status, StatusCode::CONFLICT, "{}", answer.page());
        gone(&answer.page());
    }
    gone(&test.get("/").await.page());
}

/// What the people's file remembers tells of an end that was cut off, even where nothing else does.
#[tokio::test]
async fn the_end_that_people_remember_is_held_against_the_ledger() {
    let test = TestApp::peopled();
    for _ in 0..3 {
        assert_eq!(test.post("/ledger/note", &note()).await.status, StatusCode::SEE_OTHER);
    }
    test.app.remember_end().unwrap();
    assert!(test.app.verify().is_ok() && test.app.damage().is_none());
    let head = test.ledger.head().unwrap();
    // An older copy in its place, and no end beside it.
    let connection = rusqlite::Connection::open(test.folder.join("ledger.db")).unwrap();
    let sql: String = connection
        .query_row("select sql from sqlite_master where name = 'event_is_never_deleted'", [], |row| {
            row.get(0)
        })
        .unwrap();
    let cut = format!("drop trigger event_is_never_deleted; delete from event where seq > 3; {sql};");
    connection.execute_batch(&cut).unwrap();
    let later = test.after_minutes(1);
    later.app.verify().unwrap();
    let display = report::Display::new(site::UnitSystem::Us, jiff::tz::TimeZone::UTC);
    let said = display.tell(&later.app.damage().unwrap());
    assert!(said.contains(&format!("row {} was recorded and is not there", head.seq)), "{said}");
    // It is remembered as it was, so that it is told again after the next start.
    later.app.remember_end().unwrap();
    assert!(
        test.after_minutes(2)
            .app
            .verify()
            .is_ok_and(|found| matches!(found, store::Verification::Damaged { .. }))
    );
    assert!(later.get("/tanks").await.page().alarm().contains(&format!("{said}. Call your supervisor.")));
}

/// A row made with the clock ahead is told of, and hides no dip that was made after it.
#[tokio::test]
async fn a_dip_made_with_the_clock_ahead_hides_no_later_one() {
    let test = TestApp::new();
    let dip =
        |depth: &str| format!("entry_id={}&author=Pat&tank=3&depth_ft={depth}&confirm=", Uuid::now_v7());
    // Twenty days ahead, and then the clock is set right.
    let ahead = test.after_minutes(20 * 24 * 60);
    let answer = ahead.post("/tanks/dip", &dip("7.0")).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
    let right = test.after_minutes(30);
    assert_eq!(
        right.get("/tanks").await.page().banners(),
        [
            "1 entries lie ahead of this machine's clock, from row 3 on: the clock is wrong now, or was then. They count as of when they were entered. Set the clock, or take them back."
        ]
    );
    let form = dip("4.5");
    let answer = right.post("/tanks/dip", &form).await;
    assert_eq!(
        answer.refusals(),
        [
            "clock = 1:30 PM Thu Jan 24: is earlier than the last ledger entry (1:00 PM Wed Feb 13): a clock is wrong. Fix: set this computer's clock; or confirm if the clock is right now"
        ]
    );
    let form = form.replace("&confirm=", &answer.page().tick());
    assert_eq!(right.post("/tanks/dip", &form).await.status, StatusCode::SEE_OTHER);
    let later = test.after_minutes(40);
    let books = later.app.books().unwrap();
    let dipped = books.tank("3").unwrap().dip.unwrap();
    let shape = &later.app.yard.tank("3").unwrap().shape;
    let wanted = shape.volume_at(quantity::metres(4.5 * 0.3048)).unwrap();
    assert!((f64::from(dipped.volume / wanted) - 1.0).abs() < 1e-12, "the later dip counts");
}
