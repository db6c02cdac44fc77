//! The guided run over HTTP: a step at a time, stopped where something is not seen, the same on every tablet and
//! after a restart, and on a sheet.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use axum::http::StatusCode;
use common::TestApp;
use common::forms::id;
use common::page::{Page, number};
use event::Body;
use store::Ledger;

fn answer(run: &str, step: &str, rest: &str) -> String {
    format!("entry_id={}&author=Pat&run={run}&step={step}&{rest}", id())
}

/// The step a page is at; none after the last.
fn at(page: &Page) -> String {
    if page.has_form("run-step") { page.form("run-step").field("step") } else { String::new() }
}

#[tokio::test]
async fn a_run_stops_where_circulation_is_not_seen() {
    let test = TestApp::new();
    assert_eq!(test.get("/run").await.page().heading(), "No run in progress.");
    let run = id();
    let start = format!("entry_id={run}&author=Pat");
    for _ in 0..2 {
        assert_eq!(test.post("/run", &start).await.status, StatusCode::SEE_OTHER);
    }
    assert_eq!(test.ledger.head().unwrap().seq, 3, "begun once");
    let open = "Brine run in progress, started 1:00 PM Thu Jan 24 by Pat. Go to it.";
    assert_eq!(test.get("/").await.page().link(open), "/run", "today leads to it");
    for (step, rest) in [
        ("walk_round", "answer=done"),
        ("salt_ready", "answer=seen"),
        ("backflow", "answer=seen"),
        ("instruments", "answer=done"),
        ("water_on", "answer=entered&value=18234.5"),
        ("water_temp", "answer=entered&value=46"),
        ("prime", "answer=done"),
    ] {
        assert_eq!(at(&test.get("/run").await.page()), step);
        let given = test.post("/run", &answer(&run, step, rest)).await;
        assert_eq!(given.status, StatusCode::SEE_OTHER, "{step}: {}", given.body);
    }
    // Not seen may be said at once; what it says then is to stop, and the step stays.
    test.post("/run", &answer(&run, "circulation", "answer=not_seen")).await;
    let stopped = test.get("/run").await.page();
    assert_eq!(stopped.heading(), "Stop.");
    assert_eq!(
        stopped.text(".next.urgent > p.act"),
        "Stop the pump now. Lock it out before you open its vent or casing. Prime again. Check for an air leak, a closed valve, a plugged strainer."
    );
    assert_eq!(at(&stopped), "circulation");
    // Seen before its time has passed is asked about; after it, taken.
    let early = test.post("/run", &answer(&run, "circulation", "answer=seen")).await;
    assert_eq!(early.refusals(), ["Too early. Wait until 1:02 PM."]);
    let later = test.after_minutes(3);
    assert_eq!(
        later.post("/run", &answer(&run, "circulation", "answer=seen")).await.status,
        StatusCode::SEE_OTHER
    );
    // Another console on the same ledger, as after a power cut, is at the same step.
    assert_eq!(at(&test.after_minutes(4).get("/run").await.page()), "salt_on");
    // A second tablet that answers the step again is told that the run has moved on.
    let twice = later.post("/run", &answer(&run, "circulation", "answer=seen")).await;
    assert_eq!(
        twice.refusals(),
        ["Someone already answered this step, on this or another tablet. Go to the current step."]
    );
    let sheet = later.get(&format!("/run/sheet?run={run}")).await.page();
    let answered = |step: &str| sheet.row("table.sheet", step)[2].clone();
    assert_eq!(answered("5"), "entered 18234.5 gal, 1:00 PM, Pat");
    assert_eq!(answered("8"), "yes, 1:03 PM, Pat");
    assert_eq!(answered("19"), "", "still ahead");
    assert_eq!(
        sheet.row("table.sheet", "19")[1],
        "Drain and blow out what freezes first: water line, pump casings, strainers, hoses. Leave drains open. Lock out pumps. Drain brine only where local rules allow, never to a storm drain."
    );
    assert_eq!(sheet.texts(".sign > p"), ["Done by", "Checked by"]);
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
    let number = "is not a number. Fix: type a number like 2000 or 23.3, no commas";
    for (bad, fault) in [
        ("value=-3", "= −3: accepted: 0…1000000000 gal"),
        ("value=much", &format!("= much: {number}")),
        ("value=", &format!("is blank: {number}")),
    ] {
        let given = test.post("/run", &answer(&run, "water_on", bad)).await;
        assert_eq!(given.refusals(), [format!("Water meter {fault}")]);
    }
    let unsaid = test.post("/run/end", &format!("entry_id={}&author=Pat&run={run}&remark=", id())).await;
    assert_eq!(unsaid.refusals(), ["Enter why you are stopping the run."]);
    assert_eq!(test.ledger.head().unwrap().seq, head);
    let broken = format!("entry_id={}&author=Lou&run={run}&remark=water+main+burst", id());
    assert_eq!(test.post("/run/end", &broken).await.status, StatusCode::SEE_OTHER);
    let after = test.get("/run").await.page();
    assert_eq!(after.heading(), "No run in progress.");
    after.shows("h2", "Earlier runs");
    assert!(after.has_link_to(&format!("/run/sheet?run={run}")), "{after}");
    let kept = test.ledger.events_after(head).unwrap();
    let Body::RunEnd(end) = &kept[0].event.body else { panic!("{kept:?}") };
    assert!(end.how == event::RunEnding::BrokenOff && end.reason.as_deref() == Some("water main burst"));
    let sheet = test.get(&format!("/run/sheet?run={run}")).await.page();
    sheet.shows(
        "p",
        "Started 1:00 PM Thu Jan 24, Pat. Stopped early 1:00 PM Thu Jan 24, Lou: water main burst.",
    );
    assert_eq!(test.get("/run/sheet?run=nothing").await.status, StatusCode::NOT_FOUND);
    test.get("/run/sheet").await.page().shows("p", "Fill in by hand if the power is out.");
}

/// A sample of the plant's tap by hydrometer: 1.1778 at 60 °F is 23.3 %.
fn tap(reading: &str) -> String {
    format!(
        "entry_id={}&author=Pat&tank=tap&instrument=hydrometer&reading={reading}&temp_f=60&occasion=usual",
        id()
    )
}

/// Through all of it to released and booked.
///
/// By hand: 1,000 gal of 23.3 % brine weigh 9,810 lb (1.176 by AASHTO M 143) and hold 0.233 x 9,810 = 2,286 lb of salt;
/// of rock salt as delivered, 96 % pure and with 1.8 % of water, that is 2,286/(0.96 x 0.982) = 2,425 lb. 900 gal of
/// water weigh 7,503 lb; brine of that salt is 76.3 % added water: 9,840 lb, 1,003 gal.
#[tokio::test]
async fn a_run_is_released_by_its_own_sample_and_booked() {
    let test = TestApp::new();
    let run = id();
    test.post("/run", &format!("entry_id={run}&author=Pat")).await;
    let mut minutes = 0;
    let mut at_release = false;
    for _ in 0..40 {
        minutes += 20;
        let later = test.after_minutes(minutes);
        let step = at(&later.get("/run").await.page());
        let value = match step.as_str() {
            "water_on" => "18000",
            "water_off" => "18900",
            "water_temp" => "46",
            "" => break,
            _ => "20",
        };
        if step == "in_spec" && !at_release {
            at_release = true;
            let closed = "Not open yet: no sample from the plant's tap was logged in this run.";
            assert_eq!(later.get("/run").await.page().text(".told.act"), closed);
            let tick = answer(&run, &step, "answer=seen&confirm=yes");
            let refused = later.post("/run", &tick).await;
            assert_eq!(refused.refusals(), [closed], "a tick does not release");
            // A sample of a tank says nothing of the plant.
            later.post("/bench", &tap("1.1778").replace("tank=tap", "tank=1")).await.location.unwrap();
            assert_eq!(later.post("/run", &tick).await.refusals(), [closed]);
            // A weak one does not open it, and one before a change does not.
            later.post("/bench", &tap("1.1650")).await.location.unwrap();
            let weak = "Not open: the last sample reads 21.7%. Too weak.";
            assert_eq!(later.post("/run", &tick).await.refusals(), [weak]);
            // One so near a limit that its interval passes it is no verdict of "in spec": 1.1809 is 23.7 %, the limit
            // is 23.8 %.
            minutes += 5;
            test.after_minutes(minutes).post("/bench", &tap("1.1809")).await.location.unwrap();
            let near = "Not open: the last sample reads 23.7%. Can't tell: test again.";
            assert_eq!(test.after_minutes(minutes).post("/run", &tick).await.refusals(), [near]);
            minutes += 20;
            test.after_minutes(minutes).post("/bench", &tap("1.1778")).await.location.unwrap();
            minutes += 5;
            let change = format!("entry_id={}&author=Pat&to=plant&buckets_number=1", id());
            let counted = test.after_minutes(minutes).post("/salt/buckets", &change).await;
            assert_eq!(counted.status, StatusCode::SEE_OTHER, "{}", counted.body);
            let tick = answer(&run, &step, "answer=seen&confirm=yes");
            let stale = "Not open yet: salt was added at 7:10 PM, after the last sample. Take another one from the plant's tap.";
            assert_eq!(test.after_minutes(minutes).post("/run", &tick).await.refusals(), [stale]);
            minutes += 15;
            let again = test.after_minutes(minutes);
            again.post("/bench", &tap("1.1778")).await.location.unwrap();
            let in_spec = "In spec by the tap's sample of 7:25 PM: 23.3% ± 0.2%.";
            assert_eq!(again.get("/run").await.page().text(".told"), in_spec);
            continue;
        }
        let given =
            later.post("/run", &answer(&run, &step, &format!("answer=seen&value={value}&confirm=yes"))).await;
        assert_eq!(given.status, StatusCode::SEE_OTHER, "{step}: {}", given.body);
    }
    assert!(at_release);
    let later = test.after_minutes(minutes);
    let page = later.get("/run").await.page();
    assert_eq!(page.text(".next .acts > a"), "Enter a batch");
    assert_eq!(page.attr(".next .acts > a", "href"), format!("/run/batch?run={run}"), "the last step books");
    let form = later.get(&format!("/run/batch?run={run}&tank=2")).await.page();
    let gallons = number(&form.field("volume_gal"));
    assert!((gallons - 1003.0).abs() < 5.0, "by the water meter: {gallons}");
    form.shows(".next p", "1,000 gal ± 47 gal, by the water meter.");
    form.shows(".next p", "Strength by the tap's sample of 7:25 PM: 23.3% ± 0.2%.");
    let (pile, volume) = {
        let books = test.app.books().unwrap();
        let volume = books.tank("2").unwrap().volume(&test.app.yard);
        (quantity::in_pounds(books.rock_salt), quantity::in_gallons(volume))
    };
    let booking = id();
    let typed = format!(
        "entry_id={booking}&author=Pat&tank=2&volume_gal=1000&strength_pct=23.3&salt_lb=2425&water_gal=900&confirm=yes"
    );
    let booked = later.post(&format!("/run/batch?run={run}"), &typed).await;
    let booked = if booked.status.is_redirection() {
        booked
    } else {
        let typed = typed.replace("&confirm=yes", &booked.page().tick());
        later.post(&format!("/run/batch?run={run}"), &typed).await
    };
    assert_eq!(booked.status, StatusCode::SEE_OTHER, "{}", booked.body);
    let books = test.app.books().unwrap();
    let tank = books.tank("2").unwrap();
    assert!((quantity::in_pounds(books.rock_salt) - (pile - 2425.0)).abs() < 0.5, "off the pile");
    let now = quantity::in_gallons(tank.volume(&test.app.yard));
    assert!((now - volume - 1000.0).abs() < 2.0, "{volume} {now}");
    let lot = tank.lots.last().unwrap();
    assert_eq!(lot.event.unwrap().to_string(), booking, "a lot of its own");
    assert!((quantity::in_pounds(lot.mass) / 9810.0 - 1.0).abs() < 0.002);
    assert_eq!(later.get("/run").await.page().heading(), "All steps are done.");
    let row = test.ledger.head().unwrap().seq;
    test.post("/run/end", &format!("entry_id={}&author=Pat&run={run}", id())).await;
    let sheet = test.get(&format!("/run/sheet?run={run}")).await.page();
    sheet.shows("p", "Started 1:00 PM Thu Jan 24, Pat. Finished 1:00 PM Thu Jan 24, Pat.");
    assert_eq!(sheet.row("table.sheet", "21")[2], format!("booked, row {row}, tank 2"));
}

/// A supervisor's reason opens what has no sample, and stands on the sheet.
#[tokio::test]
async fn a_supervisors_reason_stands_for_a_sample() {
    let test = TestApp::new();
    let run = id();
    test.post("/run", &format!("entry_id={run}&author=Pat")).await;
    let mut minutes = 0;
    for _ in 0..20 {
        minutes += 20;
        let later = test.after_minutes(minutes);
        let step = at(&later.get("/run").await.page());
        if step == "in_spec" {
            break;
        }
        later.post("/run", &answer(&run, &step, "answer=seen&value=20&confirm=yes")).await;
        later.post("/run", &answer(&run, &step, "answer=seen&value=40&confirm=yes")).await;
    }
    let later = test.after_minutes(minutes);
    let tick = answer(&run, "in_spec", "answer=seen&confirm=yes&override_reason=refractometer+broken");
    assert_eq!(later.post("/run", &tick).await.status, StatusCode::SEE_OTHER);
    let sheet = later.get(&format!("/run/sheet?run={run}")).await.page();
    assert_eq!(
        sheet.row("table.sheet", "17")[2],
        "yes, 6:40 PM, Pat (without a sample in spec: refractometer broken)"
    );
}
