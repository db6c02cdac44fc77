//! Aim: a trainer begins an exercise, a trainee works on the same pages with a ledger apart, and both learn what came
//! of it.
//! Method: the console in process, its practice plant truly served over Modbus TCP and read back.

mod common;

use std::time::{Duration, Instant};

use axum::http::StatusCode;
use common::{ELSEWHERE, TestApp, post};
use store::Ledger;
use uuid::Uuid;
use yard::event::Body;

/// Asks for a page until it says something.
async fn until(test: &TestApp, path: &str, says: &str) -> String {
    let begun = Instant::now();
    loop {
        let answer = test.get(path).await;
        if answer.body.contains(says) {
            return answer.body;
        }
        assert!(begun.elapsed() < Duration::from_secs(20), "{path} never says \"{says}\":\n{}", answer.body);
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
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
    let page = test.get("/practice/plant").await.body;
    assert!(page.contains("Practice plant, not the real one. Sam practises"), "{page}");
    let style = page.split("rel=\"stylesheet\" href=\"").nth(1).and_then(|rest| rest.split('"').next());
    assert_eq!(test.get(style.expect("a style")).await.status, StatusCode::OK);
    // The same pages, at the practice plant's time, with a ledger of their own.
    ok(&test, "/practice/run", &format!("entry_id={}&author=Sam", id())).await;
    assert!(test.get("/practice/ledger").await.body.contains("Run begun"));
    assert_eq!(test.ledger.head().expect("a ledger").seq, rows, "the yard's ledger stays as it is");
    ok(&test, "/practice/plant", "act=line&at=0&much=1").await;
    ok(&test, "/practice/plant", "act=line&at=1&much=1").await;
    until(&test, "/practice/run", "Stop circulation now.").await;
    let plant = until(&test, "/practice/plant", "Pump circulation sounds hollow").await;
    assert!(!plant.contains("ruined"));
    // Priming a running pump is refused; stopped, it is not.
    ok(&test, "/practice/plant", "act=mend&at=prime-1").await;
    assert!(
        test.get("/practice/plant").await.body.contains("Refused: Prime pump circulation. The pump runs")
    );
    ok(&test, "/practice/plant", "act=line&at=1&much=0").await;
    ok(&test, "/practice/plant", "act=mend&at=prime-1").await;
    ok(&test, "/practice/plant", "act=line&at=1&much=1").await;
    ok(&test, "/trainer/drive", "act=speed&much=60").await;
    let after = test.get("/practice/plant").await.body;
    assert!(!after.contains("sounds hollow"), "{after}");
    let to = ok(&test, "/trainer/drive", "act=end").await;
    let debrief = test.get(&to).await.body;
    assert!(debrief.contains("Tried. Refused: Prime pump circulation"), "{debrief}");
    assert!(
        debrief.contains("1/1") && debrief.contains("not primed, or air in it. Counted from"),
        "{debrief}"
    );
    // It is gone, and the report per person stays.
    assert_eq!(test.get("/practice/plant").await.status, StatusCode::SEE_OTHER);
    let report = test.get("/trainer?who=Sam").await.body;
    assert!(report.contains("Of what broke, 1 of 1 noticed; 0 pumps ruined; 1 dangerous tries."), "{report}");
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
    until(&test, "/practice/run", "circulation is off.").await;
    ok(&test, "/practice/plant", "act=line&at=1&much=1").await;
    until(&test, "/practice/run", "nothing goes round").await;
    let form = format!("entry_id={}&author=Sam&run={run}&step=circulation&answer=seen", id());
    let doubted = test.post("/practice/run", &form).await;
    assert_eq!(doubted.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(doubted.body.contains("nothing goes round"), "{}", doubted.body);
    // What is seen to be wrong is taken at once.
    let form = format!("entry_id={}&author=Sam&run={run}&step=circulation&answer=not_seen", id());
    ok(&test, "/practice/run", &form).await;
    assert!(test.get("/practice/run").await.body.contains("Stop the pump now"));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_run_is_watched_and_what_breaks_is_named_with_the_look_to_take() {
    let test = TestApp::new();
    begin(&test, "plain_run", 60).await;
    ok(&test, "/practice/plant", "act=back").await;
    ok(&test, "/practice/run", &format!("entry_id={}&author=Sam", id())).await;
    until(&test, "/practice/run", "The run goes as it should.").await;
    // Six minutes of the plant: long enough to know how it fills.
    let seconds = || {
        let running = test.app.trainer.as_ref().expect("a trainer").running().expect("runs");
        running.plant.now().seconds()
    };
    while seconds() < 360.0 {
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    assert!(test.get("/practice/run").await.body.contains("The run goes as it should."));
    ok(&test, "/trainer/drive", "act=break&kind=weak_supply&size=0.3&much=0").await;
    until(&test, "/practice/run", "The run does not go as it should.").await;
    let page = until(&test, "/practice/run", "The water comes weakly").await;
    assert!(page.contains("Look next:"));
    // The trainer sees what is hidden from the trainee.
    assert!(test.get("/trainer").await.body.contains("(the trainee was not told)"));
    assert!(!test.get("/practice/plant").await.body.contains("The trainer says"));
    // The build-up with its band is drawn.
    assert!(page.contains("Strength while the plant comes up") && page.contains("expected, 95 of 100 runs"));
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
