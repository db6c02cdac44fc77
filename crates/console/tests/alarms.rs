//! What alerts there are: each with its cause, and none without it.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use std::sync::Arc;
use std::time::Duration;

use axum::http::StatusCode;
use common::{Later, TestApp, get};
use console::people::People;
use jiff::SignedDuration;
use store::people::PeopleFile;

fn people(test: &TestApp) -> Arc<People> {
    let file = PeopleFile::open(&test.folder.join("people.db")).unwrap();
    Arc::new(People::new(file, test.app.clock.now()).unwrap())
}

const WAIT: Duration = Duration::from_secs(10);

fn sources(test: &TestApp) -> store::backup::Sources {
    let ledger = test.folder.join("ledger.db");
    store::backup::Sources { ledger, ..store::backup::Sources::default() }
}

#[test]
fn a_backup_is_a_ledger_and_its_failure_is_told() {
    let test = TestApp::new();
    let folder = test.folder.join("backup");
    let backup = console::Backup::new(sources(&test), folder.clone());
    let now = test.app.clock.now();
    backup.run_when_due(None, now);
    backup.run_when_due(None, now + SignedDuration::from_hours(23));
    let copies = || std::fs::read_dir(&folder).unwrap().count();
    assert_eq!(copies(), 1);
    let copy = std::fs::read_dir(&folder).unwrap().next().unwrap().unwrap().path();
    let ledger = store::SqliteLedger::open_existing(&copy.join("ledger.db")).unwrap();
    let (head, there) = (store::Ledger::head(&ledger).unwrap(), store::Ledger::head(&*test.ledger).unwrap());
    assert_eq!(head, there);
    drop(ledger);
    for night in 1..20 {
        backup.run_when_due(None, now + SignedDuration::from_hours(24 * night));
    }
    let kept = std::fs::read_dir(&folder)
        .unwrap()
        .filter(|one| one.as_ref().unwrap().file_name().to_string_lossy().starts_with("backup-"));
    assert_eq!(kept.count(), 14);
    // A folder that is a file: it fails, and says so.
    let broken = console::Backup::new(sources(&test), test.folder.join("ledger.db"));
    broken.run_when_due(None, now);
    let words = report::Words::of(report::Language::En);
    let display = report::Display::new(test.app.yard.units, test.app.zone.clone());
    let trouble = broken.trouble(&test.app.yard.alerts, now, &words, &display).unwrap();
    assert_eq!(trouble.split_once(": ").map(|(what, _)| what), Some("The backup failed"), "{trouble}");
    let late =
        backup.trouble(&test.app.yard.alerts, now + SignedDuration::from_hours(24 * 30), &words, &display);
    assert_eq!(late.as_deref(), Some("Last backup: 1:00\u{a0}PM Tue Feb 12."));
}

#[tokio::test]
async fn a_machine_that_is_silent_is_told() {
    let test = TestApp::new();
    let machine = "[[machine]]\nid = \"plc\"\nname = \"Plant controller\"\nprotocol = \"modbus\"\naddress = \
                   \"127.0.0.1:9\"\n\
                   [[point]]\nid = \"flow\"\nmachine = \"plc\"\nregister = 0\n";
    let later = test.in_read_yard(|yard| format!("{yard}\n{machine}"));
    let mut wanted = USUAL.to_vec();
    wanted.push("No new data from Plant controller: 1 of its points are out of date.");
    assert_eq!(standing(&later).await, wanted);
}

/// What stands in the test's yard without anything else: it is cold, and there is too little of everything.
const USUAL: [&str; 4] = [
    "Tank 3: can freeze or drop salt at 15 °F; air down to 13 °F is forecast.",
    "Brine could run short from 11:00 AM Fri Jan 25, by up to 2,870 gal. Not enough salt to make more.",
    "Magnesium or calcium chloride liquid could run short by up to 453 gal.",
    "Rock salt could run short by up to 52.0 tons, counting road use and brine making.",
];

/// Words of the alerts that stand, but for those of what is due.
async fn standing(later: &Later<'_>) -> Vec<String> {
    let page = later.send(get("/alerts")).await.page();
    page.texts(".events > li > p > a:not([href=\"/due\"]):not([href=\"/bench/instruments\"])")
}

/// A forecast file that is looked at again and again.
struct Looked;

impl console::ForecastSource for Looked {
    fn changed(&self) -> Result<Option<weather::WeatherFile>, message::Message> {
        Ok(None)
    }
}

/// The forecast of the test's yard as something else.
fn with_forecast<'t>(
    test: &'t TestApp,
    minutes: i64,
    change: impl Fn(&mut console::NamedForecast),
) -> Later<'t> {
    test.with_forecasts(minutes, |mut all| {
        all.iter_mut().for_each(&change);
        all
    })
}

/// Without a plan, freezing is judged by the air alone, and that there is no plan is told.
#[tokio::test]
async fn a_forecast_that_cannot_be_planned_on_still_warns_of_freezing() {
    let test = TestApp::new();
    assert_eq!(standing(&test.after_minutes(0)).await, USUAL);
    // A forecast of air alone: no precipitation, no plan.
    let air = "# times are the START of the hour\ntime_utc,air_temp_c\n";
    let rows = |cold: f64| {
        let hours = (0..48).map(|hour| {
            let at = test.app.clock.now() + SignedDuration::from_hours(hour);
            format!("{},{cold}\n", at.strftime("%Y-%m-%dT%H:%M:%SZ"))
        });
        weather::read(&format!("{air}{}", hours.collect::<String>()), &weather::ReadOptions::default())
            .unwrap()
    };
    let of = |cold: f64| {
        let file = rows(cold).as_perfect_forecast(test.app.clock.now());
        with_forecast(&test, 0, move |forecast| forecast.weather = Arc::new(file.clone()))
    };
    let no_plan = "No plan can be made by the forecast January: the forecast has no precipitation from 1:00 PM Thu Jan 24 to 1:00 PM Sat Jan 26, inside the plan; accepted: gaps of at most 2 h (or a later --issued, or fewer --hours, or a better file)";
    assert_eq!(
        standing(&of(-22.0)).await,
        [
            no_plan,
            "Tank 1: can freeze or drop salt at −6 °F; air down to −8 °F is forecast.",
            "Tank 3: can freeze or drop salt at 15 °F; air down to −8 °F is forecast.",
        ]
    );
    // The same in mild air: no plan, and no freezing.
    assert_eq!(standing(&of(5.0)).await, [no_plan]);
    // Today says the same.
    let today = of(-22.0).send(get("/")).await.page();
    assert_eq!(
        today.texts("a.alarm > span"),
        [
            "Tank 1: In spec. Liquid to −6 °F (±3 °F), then ice or salt. Coldest air forecast is −8 °F: 2 °F too cold for this tank.",
            "Tank 3: Too strong. Liquid to 15 °F (±4 °F), then salt crystals. Coldest air forecast is −8 °F: 23 °F too cold for this tank.",
        ]
    );
}

#[tokio::test]
async fn a_forecast_that_is_missing_unread_or_old_is_told() {
    let test = TestApp::new();
    let none = test.with_forecasts(0, |_| Vec::new());
    assert_eq!(
        standing(&none).await,
        ["There is no forecast: nothing is planned, and nobody is warned of the cold."]
    );
    assert_eq!(standing(&test.after_minutes(0)).await, USUAL);
    let unread = with_forecast(&test, 0, |forecast| {
        forecast.weather = Arc::new(weather::WeatherFile::nothing());
        forecast.trouble = Some("grid.json: no such file".into());
    });
    assert_eq!(
        standing(&unread).await,
        [
            "The forecast January cannot be read: grid.json: no such file",
            "No plan can be made by the forecast January: the forecast has nothing from 1:00 PM Thu Jan 24 on. Use a start time inside it",
        ]
    );
    assert!(unread.send(get("/")).await.status == StatusCode::OK, "the pages stand all the same");
    let issued = |hours: i64| {
        with_forecast(&test, 0, move |forecast| {
            let mut weather = (*forecast.weather).clone();
            weather.issued = Some(forecast.issued - SignedDuration::from_hours(hours));
            forecast.weather = Arc::new(weather);
            forecast.source = Some(Arc::new(Looked));
        })
    };
    let old = standing(&issued(13)).await;
    assert!(
        old.iter().any(|one| one == "The forecast January is of 12:00 AM Thu Jan 24: get a newer one."),
        "{old:?}"
    );
    assert_eq!(old.len(), USUAL.len() + 1, "{old:?}");
    assert_eq!(standing(&issued(3)).await, USUAL);
}

/// A tank that was seen comes back when it gets colder, and what swings about its limit is one alert.
#[tokio::test]
async fn what_was_seen_returns_when_it_gets_worse_and_what_swings_is_one_alert() {
    use store::people::Standing;
    let test = TestApp::new();
    let file = PeopleFile::open(&test.folder.join("alerts.db")).unwrap();
    let hold = SignedDuration::from_mins(30);
    let start = test.app.clock.now();
    let at = |minutes: i64| start + SignedDuration::from_mins(minutes);
    let cold = |grade: f64| vec![Standing { key: "freeze:1".into(), grade, step: 2.0 }];
    let row = || file.alerts().unwrap().into_iter().find(|row| row.key == "freeze:1");
    file.keep_alerts(&cold(1.0), hold, at(0)).unwrap();
    file.alerts_told(&["freeze:1".into()], "mail", at(0)).unwrap();
    assert!(file.alert_seen("freeze:1", "Pat", at(1)).unwrap());
    file.keep_alerts(&cold(2.5), hold, at(2)).unwrap();
    assert!(row().unwrap().seen_at.is_some(), "a little colder is what was seen");
    file.keep_alerts(&cold(3.1), hold, at(3)).unwrap();
    let back = row().unwrap();
    assert!(back.seen_at.is_none() && back.told_at().is_none(), "two kelvins colder is told again");
    // Gone for ten minutes and there again: since the first time, and still known.
    assert!(file.alert_seen("freeze:1", "Pat", at(4)).unwrap());
    file.keep_alerts(&[], hold, at(5)).unwrap();
    assert!(row().unwrap().gone_at.is_some());
    file.keep_alerts(&cold(3.1), hold, at(15)).unwrap();
    let same = row().unwrap();
    assert!(same.since == at(0) && same.seen_at.is_some() && same.gone_at.is_none());
    // Gone for long, it has ended; then it is a new one.
    file.keep_alerts(&[], hold, at(20)).unwrap();
    file.keep_alerts(&[], hold, at(51)).unwrap();
    assert!(row().is_none());
    file.keep_alerts(&cold(3.1), hold, at(60)).unwrap();
    assert!(row().unwrap().since == at(60) && row().unwrap().seen_at.is_none());
}

/// Keys of the alerts that stand on the page.
async fn keys(later: &mut Later<'_>, people: &Arc<People>) -> Vec<String> {
    Arc::get_mut(&mut later.app).unwrap().people = Some(Arc::clone(people));
    later.send(get("/alerts")).await.page().attrs("form[data-form=seen] > input[name=key]", "value")
}

fn entry(more: &str) -> String {
    format!("entry_id={}&author=Pat&{more}", uuid::Uuid::now_v7())
}

/// Every kind of alarm stands with its cause, and is gone when its cause is.
#[tokio::test]
async fn each_alarm_stands_with_its_cause_and_ends_without_it() {
    let test = TestApp::new();
    let people = people(&test);
    let has = |keys: &[String], key: &str| keys.iter().any(|one| one == key);
    // Freezing: cold air, mild air; with a plan and without one is tested above.
    let air = |celsius: f64, issued_hours_ago: i64, hours: i64| {
        let now = test.app.clock.now();
        let issued = now - SignedDuration::from_hours(issued_hours_ago);
        let head = "# times are the START of the hour\ntime_utc,air_temp_c,dew_point_c,precip_mm\n";
        let rows: String = (0..hours)
            .map(|hour| {
                let at = issued + SignedDuration::from_hours(hour);
                format!("{},{celsius},{},0\n", at.strftime("%Y-%m-%dT%H:%M:%SZ"), celsius - 2.0)
            })
            .collect();
        let file = weather::read(&format!("{head}{rows}"), &weather::ReadOptions::default()).unwrap();
        let file = file.as_perfect_forecast(issued);
        with_forecast(&test, 0, move |forecast| {
            forecast.weather = Arc::new(file.clone());
            forecast.source = Some(Arc::new(Looked));
        })
    };
    let cold = keys(&mut air(-22.0, 1, 80), &people).await;
    assert!(has(&cold, "freeze:1") && has(&cold, "freeze:3"), "{cold:?}");
    let mild = keys(&mut air(6.0, 1, 80), &people).await;
    assert!(!mild.iter().any(|key| key.starts_with("freeze:")), "{mild:?}");
    // The forecast: fresh and long there is nothing to say; old, short, missing there is.
    assert!(!mild.iter().any(|key| key.starts_with("forecast:")), "{mild:?}");
    let old = keys(&mut air(6.0, 13, 80), &people).await;
    assert!(has(&old, "forecast:old:january"), "{old:?}");
    let ends = keys(&mut air(6.0, 1, 8), &people).await;
    assert!(has(&ends, "forecast:ends:january"), "{ends:?}");
    let missing = keys(&mut test.with_forecasts(0, |_| Vec::new()), &people).await;
    assert!(has(&missing, "forecast:missing"), "{missing:?}");
    // Cover: a storm and little brine, a storm and full tanks.
    let short = keys(&mut test.after_minutes(0), &people).await;
    assert!(has(&short, "cover:brine") && has(&short, "cover:rock-salt"), "{short:?}");
    for settled in [
        "tank=1&volume_gal=7500&strength_pct=23.3",
        "tank=2&volume_gal=4500&strength_pct=23.3",
        "salt_tons=900",
    ] {
        let form = entry(&format!("{settled}&reason=counted"));
        let answer = test.post("/load/other?what=settlement", &form).await;
        let answer = match answer.status {
            StatusCode::SEE_OTHER => answer,
            _ => {
                let tick = answer.page().tick();
                test.post("/load/other?what=settlement", &format!("{form}{tick}")).await
            }
        };
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    }
    let full = keys(&mut test.after_minutes(0), &people).await;
    assert!(!has(&full, "cover:rock-salt") && !has(&full, "cover:brine"), "{full:?}");
    // What is due: an instrument that was never checked, and one that was.
    let due: Vec<&String> = full.iter().filter(|key| key.starts_with("due:")).collect();
    assert!(!due.is_empty(), "{full:?}");
    for instrument in ["hydrometer&shown=1.000", "refractometer&shown=0"] {
        let form = entry(&format!("against=water&temp_f=60&instrument={instrument}"));
        let answer = test.post("/bench/instruments/check", &form).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    }
    let checked = keys(&mut test.after_minutes(0), &people).await;
    let still = due.iter().filter(|key| has(&checked, key)).count();
    assert!(still + 2 <= due.len(), "{due:?}: {checked:?}");
    // A machine that answers nothing, and one that answers.
    let read = |port: u16| {
        let lines = format!(
            "[[machine]]\nid = \"plc\"\nname = \"Plant controller\"\nprotocol = \"modbus\"\naddress = \
             \"127.0.0.1:{port}\"\n\
             [[point]]\nid = \"flow\"\nmachine = \"plc\"\nregister = 0\n"
        );
        test.in_read_yard(move |yard| format!("{yard}\n{lines}"))
    };
    let silent = keys(&mut read(9), &people).await;
    assert!(has(&silent, "telemetry:plc"), "{silent:?}");
    let mut well = read(common::machine(7));
    let _asking = well.app.following.as_ref().unwrap().begin();
    let begun = std::time::Instant::now();
    loop {
        let now = keys(&mut well, &people).await;
        if !has(&now, "telemetry:plc") {
            break;
        }
        assert!(begun.elapsed() < WAIT, "the machine answers, and is called silent: {now:?}");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    // A backup that was never made or fails, and one that was made.
    let mut backed = test.after_minutes(0);
    let with_backup = |later: &mut Later<'_>, folder: std::path::PathBuf| {
        let backup = console::Backup::new(sources(&test), folder);
        backup.run_when_due(None, test.app.clock.now());
        Arc::get_mut(&mut later.app).unwrap().backup = Some(backup);
    };
    with_backup(&mut backed, test.folder.join("ledger.db"));
    assert!(has(&keys(&mut backed, &people).await, "backup:ledger"));
    with_backup(&mut backed, test.folder.join("copies"));
    assert!(!has(&keys(&mut backed, &people).await, "backup:ledger"));
}
