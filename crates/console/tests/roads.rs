//! The page of roads: a reading is recorded, corrects its road, and is told beside what was expected.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use axum::http::StatusCode;
use common::TestApp;

#[tokio::test]
async fn a_reading_is_recorded_and_corrects_its_road() {
    let test = TestApp::new();
    let page = test.get("/roads").await.page();
    assert!(page.text("h1").contains("good until"), "{}", page.text("h1"));
    assert!(page.text("main").contains("Nobody read a road in the last days."));
    let form = "road=A&part=road&surface_f=26&author=Pat&entry_id=0191e5a0-0000-7000-8000-0000000000aa";
    let sent = test.post("/roads", form).await;
    assert_eq!(sent.status, StatusCode::SEE_OTHER);
    let page = test.get("/roads").await.page();
    let told = page.text("main");
    assert!(told.contains("Last reading: Class A road 26 °F"), "{told}");
    assert!(told.contains("Readings make it") && told.contains("colder than worked out"), "{told}");
    assert!(told.contains("Scores are told from 30 pairs on; so far 0."), "{told}");
    // A slip is refused at its field, and nothing is recorded.
    let wrong = "road=A&part=road&surface_f=200&author=Pat&entry_id=0191e5a0-0000-7000-8000-0000000000ab";
    let refused = test.post("/roads", wrong).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let nowhere = "road=Z&part=road&surface_f=20&author=Pat&entry_id=0191e5a0-0000-7000-8000-0000000000ac";
    let refused = test.post("/roads", nowhere).await.page();
    assert!(refused.text("main").contains("is not a route class or segment of this yard"));
}

/// The plan shows the road that needs an act first and what crews are called for; *Today* names the next call.
#[tokio::test]
async fn plan_and_today_tell_roads_and_calls() {
    let test = TestApp::new();
    let plan = test.get("/storm").await.page();
    assert!(plan.text("main").contains("All roads and readings"));
    assert!(plan.text("main").contains("First treatment:"));
    assert!(test.get("/").await.page().text(".next").contains("Next call-out:"));
    assert!(test.get("/night").await.page().text(".next").contains("Call-outs:"));
}
