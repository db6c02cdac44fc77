//! Aim: a trainer begins an exercise, a trainee works on the same pages with a ledger apart, and both learn what came
//! of it.
//! Method: the console in process, its practice plant truly served over Modbus TCP and read back.

mod common;

use std::time::{Duration, Instant};

use axum::http::StatusCode;
use common::page::{Page, number};
use common::{ELSEWHERE, TestApp, post};
use event::Body;
use store::Ledger;
use uuid::Uuid;

/// Asks for a page until something stands on it.
async fn until(test: &TestApp, path: &str, what: impl Fn(&Page) -> bool) -> Page {
    let begun = Instant::now();
    loop {
        let page = test.get(path).await.page();
        if what(&page) {
            return page;
        }
        assert!(begun.elapsed() < Duration::from_secs(20), "{path} never comes to it:\n{page}");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}

/// The figure between two pieces of a text; none where they do not stand so.
fn between(text: &str, before: &str, after: &str) -> Option<f64> {
    Some(number(text.strip_prefix(before)?.strip_suffix(after)?))
}

/// What the sheet says of circulation that is on while its meter stands: a pump that is not primed moves next to
/// nothing.
fn goes_nowhere(text: &str) -> bool {
    let before = "circulation is running, but its meter shows ";
    between(text, before, " gal/min (150.0 gal/min at full): no circulation.").is_some_and(|flow| flow < 2.0)
}

async fn ok(test: &TestApp, path: &str, form: &str) -> String {
    let answer = test.post(path, form).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{path} {form}: {}", answer.body);
    answer.location.unwrap_or_default()
}

async fn begin(test: &TestApp, exercise: &str, speed: u32) {
    let form = format!("who=Sam&exercise={exercise}&speed={speed}");
    assert_eq!(ok(test, "/trainer/begin", &form).await, "/trainer");
}

fn id() -> Uuid {
    Uuid::now_v7()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_pump_that_was_not_primed_is_stopped_by_the_run_sheet() {
    let test = TestApp::new();
    let rows = test.ledger.head().expect("a ledger").seq;
    begin(&test, "first_start", 10).await;
    let page = test.get("/practice/plant").await.page();
    assert_eq!(
        page.banners(),
        ["Practice plant, not the real one. Sam is practicing. Entries go to a separate practice ledger."]
    );
    let style = page.attr("link[rel=stylesheet]", "href");
    assert_eq!(test.get(&style).await.status, StatusCode::OK);
    // The same pages, at the practice plant's time, with a ledger of their own.
    ok(&test, "/practice/run", &format!("entry_id={}&author=Sam", id())).await;
    assert_eq!(test.get("/practice/ledger").await.page().text(".events > li > p > b"), "Run started");
    assert_eq!(test.ledger.head().expect("a ledger").seq, rows, "the yard's ledger stays as it is");
    ok(&test, "/practice/plant", "act=line&at=0&much=1").await;
    ok(&test, "/practice/plant", "act=line&at=1&much=1").await;
    let dry = |page: &Page| {
        let before = "Stop circulation now. It is running dry: its meter shows ";
        let said = page.texts("#plant-stop .h1").concat();
        between(&said, before, " gal/min.").is_some_and(|flow| flow < 2.0)
    };
    until(&test, "/practice/run", dry).await;
    // It is not ruined: it sounds hollow, and no more is said of it.
    let hollow = "Pump circulation sounds hollow: no flow.";
    until(&test, "/practice/plant", |page| page.texts("#plant-picture > .act") == [hollow]).await;
    // Priming a running pump is refused; stopped, it is not.
    ok(&test, "/practice/plant", "act=mend&at=prime-1").await;
    let refused = "Refused: Prime pump circulation. The pump is running. Stop it and lock it out before you open its vent, casing or tank.";
    assert_eq!(test.get("/practice/plant").await.page().text("p[role=status].told.act"), refused);
    ok(&test, "/practice/plant", "act=line&at=1&much=0").await;
    ok(&test, "/practice/plant", "act=mend&at=prime-1").await;
    ok(&test, "/practice/plant", "act=line&at=1&much=1").await;
    ok(&test, "/trainer/drive", "act=speed&much=60").await;
    let after = test.get("/practice/plant").await.page();
    assert!(!after.has("#plant-picture > .act"), "{after}");
    let to = ok(&test, "/trainer/drive", "act=end").await;
    let debrief = test.get(&to).await.page();
    let log = debrief.texts("section:not(.next) > ul.why > li");
    let tried = log.iter().filter_map(|line| Some(line.split_once(" min ")?.1));
    assert_eq!(tried.filter(|line| *line == format!("Unsafe action. {refused}")).count(), 1, "{log:?}");
    assert_eq!(debrief.row("table", "Faults noticed")[1], "1/1");
    assert_eq!(debrief.row("table", "Pumps ruined")[1], "0");
    let broke = debrief.text(".next > ul.why > li");
    assert_eq!(
        broke.split_once(" After it started: noticed ").map(|(what, _)| what),
        Some("Pump circulation: not primed, or air in it."),
        "{broke}"
    );
    // It is gone, and the report per person stays.
    assert_eq!(test.get("/practice/plant").await.status, StatusCode::SEE_OTHER);
    let report = test.get("/trainer?who=Sam").await.page();
    report.shows(".events p", "Faults noticed: 1 of 1. Pumps ruined: 0. Unsafe actions: 1.");
    let people = test.app.trainer.as_ref().expect("a trainer").people().expect("a ledger");
    let kept = people.events_after(0).expect("reads");
    assert!(matches!(&kept[0].event.body, Body::PracticeRun(run) if run.exercise == "first_start"));
}

#[tokio::test(flavor = "multi_thread")]
async fn the_step_says_what_the_meter_shows_and_doubts_what_was_not_seen() {
    let test = TestApp::new();
    begin(&test, "first_start", 60).await;
    ok(&test, "/practice/run", &format!("entry_id={}&author=Sam", id())).await;
    let books = || {
        let running = test.app.trainer.as_ref().expect("a trainer").running().expect("runs");
        running.app.books().expect("folds")
    };
    let run = books().runs.open().expect("a run").event.to_string();
    let procedure = &test.app.procedures[0];
    for step in procedure.steps.iter().take_while(|step| step.id != "circulation") {
        let (answer, value) = match &step.entry {
            Some(entry) => ("entered", format!("{}", entry.low + 1.0)),
            None if step.if_not.is_some() => ("seen", String::new()),
            None => ("done", String::new()),
        };
        let form = format!(
            "entry_id={}&author=Sam&run={run}&step={}&answer={answer}&value={value}&confirm=yes",
            id(),
            step.id
        );
        ok(&test, "/practice/run", &form).await;
    }
    let off = "Sensors show: circulation is off.";
    until(&test, "/practice/run", |page| page.texts("#plant-watch") == [off]).await;
    ok(&test, "/practice/plant", "act=line&at=1&much=1").await;
    let seen = |page: &Page| page.texts("#plant-watch").concat();
    until(&test, "/practice/run", |page| seen(page).strip_prefix("Sensors show: ").is_some_and(goes_nowhere))
        .await;
    let form = format!("entry_id={}&author=Sam&run={run}&step=circulation&answer=seen", id());
    let doubted = test.post("/practice/run", &form).await;
    let doubts = doubted.refusals();
    assert!(doubts.iter().any(|doubt| goes_nowhere(doubt)), "{doubts:?}");
    // What is seen to be wrong is taken at once.
    let form = format!("entry_id={}&author=Sam&run={run}&step=circulation&answer=not_seen", id());
    ok(&test, "/practice/run", &form).await;
    let stopped = test.get("/practice/run").await.page();
    assert_eq!(stopped.heading(), "Stop.");
    stopped.shows(
        ".next.urgent > p.act",
        "Stop the pump now. Lock it out before you open its vent or casing. Prime again. Check for an air leak, a closed valve, a plugged strainer.",
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_run_is_watched_and_what_breaks_is_named_with_the_look_to_take() {
    let test = TestApp::new();
    begin(&test, "plain_run", 60).await;
    ok(&test, "/practice/plant", "act=back").await;
    ok(&test, "/practice/run", &format!("entry_id={}&author=Sam", id())).await;
    let head = |page: &Page| page.texts("#plant-now > p:first-of-type > b").concat();
    let well = "The run looks normal.";
    until(&test, "/practice/run", |page| head(page) == well).await;
    // Six minutes of the plant: long enough to know how it fills.
    let seconds = || {
        let running = test.app.trainer.as_ref().expect("a trainer").running().expect("runs");
        running.plant.now().seconds()
    };
    while seconds() < 360.0 {
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    let page = test.get("/practice/run").await.page();
    assert_eq!(head(&page), well, "{page}");
    ok(&test, "/trainer/drive", "act=break&kind=weak_supply&size=0.3&much=0").await;
    let ill = "The run does not look normal.";
    until(&test, "/practice/run", |page| head(page) == ill).await;
    let likely = |page: &Page| page.texts("#plant-now > ol.do > li").concat();
    let page = until(&test, "/practice/run", |page| {
        likely(page)
            .split("% likely")
            .any(|one| one.rsplit_once(' ').is_some_and(|one| one.0 == "Water flow is low"))
    })
    .await;
    let look = page
        .texts("#plant-now > p")
        .into_iter()
        .find_map(|one| Some(one.strip_prefix("Check next: ")?.to_owned()));
    let look = look.expect("a look to take next");
    assert_eq!(page.text("#plant-stop > .told.act"), format!("{ill} Check next: {look}."));
    // The trainer sees what is hidden from the trainee.
    let log = test.get("/trainer").await.page().texts("#trainer-now > ul.why > li");
    let broke = "Fault: Water flow is low (the trainee was not told)";
    assert!(
        log.iter().any(|line| line.split_once(" min ").is_some_and(|(_, what)| what == broke)),
        "{log:?}"
    );
    let plant = test.get("/practice/plant").await.page();
    assert!(!plant.has("#plant-picture > .act"), "{plant}");
    // The build-up with its band is drawn.
    assert_eq!(page.texts("#plant-now svg > title"), ["Strength during startup"; 2]);
    page.shows("#plant-now .key > li", "expected, 95 of 100 runs");
}

#[tokio::test(flavor = "multi_thread")]
async fn time_goes_as_the_trainer_says() {
    let test = TestApp::new();
    begin(&test, "plain_run", 600).await;
    let seconds = || {
        let running = test.app.trainer.as_ref().expect("a trainer").running().expect("runs");
        running.plant.now().seconds()
    };
    let begun = seconds();
    tokio::time::sleep(Duration::from_millis(500)).await;
    let passed = seconds() - begun;
    assert!((250.0..900.0).contains(&passed), "{passed}");
    ok(&test, "/trainer/drive", "act=pause").await;
    let still = seconds();
    tokio::time::sleep(Duration::from_millis(100)).await;
    assert!((seconds() - still).abs() < 1e-9);
    ok(&test, "/trainer/drive", "act=rewind&much=5").await;
    assert!(seconds() <= still - 240.0);
    // What was entered after that moment is taken back.
    ok(&test, "/trainer/drive", "act=go").await;
    tokio::time::sleep(Duration::from_millis(600)).await;
    ok(&test, "/trainer/drive", "act=pause").await;
    let running = test.app.trainer.as_ref().expect("a trainer").running().expect("runs");
    let note = |text: &str| format!("entry_id={}&text={text}&author=Sam", id());
    ok(&test, "/practice/ledger/note", &note("before")).await;
    ok(&test, "/trainer/drive", "act=rewind&much=1").await;
    let rows = running.app.ledger.events_after(0).expect("reads");
    assert!(
        matches!(&rows[1].event.body, Body::Void(void) if void.event == rows[0].event.id.to_string()),
        "{rows:?}"
    );
    ok(&test, "/trainer/drive", "act=go").await;
    for bad in ["act=speed&much=7", "act=break&kind=rain", "act=rewind&much=x", "act=fly"] {
        assert_eq!(test.post("/trainer/drive", bad).await.status, StatusCode::BAD_REQUEST, "{bad}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn who_only_looks_drives_nothing_and_the_yard_s_own_console_has_no_practice_plant() {
    let test = TestApp::new();
    assert_eq!(test.get("/plant").await.status, StatusCode::NOT_FOUND);
    let begin = post("/trainer/begin", "who=Sam&exercise=plain_run&speed=60");
    assert_eq!(test.send(ELSEWHERE, begin).await.status, StatusCode::FORBIDDEN);
    let answer = test.post("/trainer/begin", "who=&exercise=none&speed=60").await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    self::begin(&test, "plain_run", 60).await;
    let act = post("/practice/plant", "act=line&at=0&much=1");
    assert_eq!(test.send(ELSEWHERE, act).await.status, StatusCode::FORBIDDEN);
    for bad in ["act=line&at=9&much=1", "act=line&at=0&much=2", "act=mend&at=sing", "act=look&at=sky"] {
        assert_eq!(test.post("/practice/plant", bad).await.status, StatusCode::BAD_REQUEST, "{bad}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn one_exercise_after_another_is_served_at_the_same_place() {
    let port =
        std::net::TcpListener::bind("127.0.0.1:0").and_then(|one| one.local_addr()).expect("a port").port();
    let test = TestApp::with_practice_at(port);
    for exercise in ["plain_run", "weak_water"] {
        begin(&test, exercise, 60).await;
        let running = test.app.trainer.as_ref().expect("a trainer").running().expect("runs");
        assert_eq!(running.modbus.port(), port);
        tokio::net::TcpStream::connect(running.modbus).await.expect("answers");
    }
}
