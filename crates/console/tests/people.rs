//! Who is taken in, who signs what, and what wrong PINs cost.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use std::sync::Arc;

use axum::http::StatusCode;
use common::staff::{PASSWORD, cookie, people, tablet, wait, yard};
use common::{ELSEWHERE, HERE, TestApp, get, post, with_cookie};
use console::people::{Change, People};
use cookie::SameSite;
use store::Ledger;
use uuid::Uuid;

fn note(who: &str, pin: &str) -> String {
    format!("entry_id={}&text=hello&author=Mallory&sign_who={who}&sign_pin={pin}", Uuid::now_v7())
}

#[tokio::test]
async fn the_first_supervisor_is_made_once() {
    let test = TestApp::peopled();
    // At the machine everything is open, and says that nobody is enrolled; from elsewhere only the way in.
    assert_eq!(test.get("/").await.status, StatusCode::OK);
    let away = test.send(ELSEWHERE, get("/tanks")).await;
    assert_eq!(away.location.as_deref(), Some("/first?back=/tanks"));
    // Someone is there, and may do nothing about people yet.
    let operator = site::people::Role::Operator;
    let change = Change { name: Some("Lou".into()), role: Some(operator), ..Change::default() };
    people(&test).add(&change, "start", test.app.clock.now()).unwrap();
    let first = test.get("/first").await.page();
    assert!(first.text("section.wide p").starts_with("No supervisor has a password yet."), "{first}");
    let form = "name=Ines&password=a+quiet+winter&pin=7193";
    let answer = test.send(ELSEWHERE, post("/first", &format!("{form}&code=NOTTHECO"))).await;
    assert_eq!(answer.refusals(), ["That code is wrong or has expired."]);
    for (wrong, fault) in [
        ("name=&password=a+quiet+winter", "Enter your name (1 to 80 characters)."),
        ("name=Ines&password=short", "Use 10 to 200 characters for a password."),
        ("name=Ines&password=ines+in+winter", "Do not use the person's name in the password."),
        (
            "name=Ines&password=a+quiet+winter&pin=1234",
            "This PIN is too easy to guess (the same digit, a repeated pair like 1212, a run like 1234, or a year). Pick another.",
        ),
    ] {
        assert_eq!(test.post("/first", wrong).await.refusals(), [fault], "{wrong}");
    }
    let code = people(&test).give_code("first", "start", test.app.clock.now()).unwrap();
    let made = test.send(ELSEWHERE, post("/first", &format!("{form}&code={code}"))).await;
    assert_eq!(made.status, StatusCode::SEE_OTHER, "{}", made.page());
    let full = made.cookie.clone().unwrap();
    assert!(full.http_only() == Some(true) && full.same_site() == Some(SameSite::Lax), "{full}");
    let page = test.send(ELSEWHERE, with_cookie(get("/people"), &cookie(&made))).await;
    assert_eq!(page.status, StatusCode::OK);
    assert_eq!(
        page.page().texts(".chores > li > p"),
        ["Ines", "Supervisor: has a password, has a PIN", "Lou", "Operator: no password or PIN yet"]
    );
    // Another is not made this way, not at the machine either.
    assert_eq!(test.post("/first", "name=Eve&password=another+winter").await.status, StatusCode::FORBIDDEN);
    assert_eq!(test.get("/").await.location.as_deref(), Some("/sign-in?back=/"));
}

#[tokio::test]
async fn who_signs_stands_on_the_entry() {
    let test = TestApp::peopled();
    let lou = yard(&test).to_string();
    let device = tablet(&test, "Loader").await;
    // The page asks for name and PIN, not for a typed name.
    let page = test.send(ELSEWHERE, with_cookie(get("/ledger"), &device)).await.page();
    let form = page.form("note");
    assert!(form.has("input[type=password][name=sign_pin]") && form.has("select[name=sign_who]"), "{form}");
    assert!(!page.has("[autocomplete=name]"), "{page}");
    let answer = test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&lou, "4071")), &device)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
    let head = test.ledger.head().unwrap().seq;
    let event = test.ledger.events_after(head - 1).unwrap().remove(0).event;
    assert_eq!((event.author.as_str(), event.device.as_str()), ("Lou", "Loader"));
    // A supervisor with a password is written down too, whatever name the form says.
    let ines = test.sign_in("Ines", "a+quiet+winter").await.unwrap();
    let form = format!("entry_id={}&text=hello&author=Mallory", Uuid::now_v7());
    test.send(ELSEWHERE, with_cookie(post("/ledger/note", &form), &ines)).await;
    let event = test.ledger.events_after(head).unwrap().remove(0).event;
    assert_eq!((event.author.as_str(), event.device.as_str()), ("Ines", "console"));
    // What an operator may not is refused, signed or not.
    let close = format!("entry_id={}&month=2013-01&author=&sign_who={lou}&sign_pin=4071", Uuid::now_v7());
    let answer = test.send(ELSEWHERE, with_cookie(post("/books/close", &close), &device)).await;
    assert_eq!(answer.status, StatusCode::FORBIDDEN);
    // Taken out, the device sees nothing more.
    let roster = people(&test).roster().unwrap();
    let form = format!("id={}", roster.devices[0].1.id);
    let answer = test.send(HERE, with_cookie(post("/people/revoke", &form), &ines)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
    let page = test.send(ELSEWHERE, with_cookie(get("/ledger"), &device)).await;
    assert!(page.location.as_deref().is_some_and(|to| to.starts_with("/sign-in")));
}

#[tokio::test]
async fn a_wrong_pin_keeps_what_was_typed_and_waits_alone() {
    let test = TestApp::peopled();
    let lou = yard(&test).to_string();
    let ines = people(&test).roster().unwrap().people.iter().find(|one| one.name == "Ines").unwrap().id;
    let (device, other) = (tablet(&test, "Loader").await, tablet(&test, "Bench").await);
    let before = test.ledger.head().unwrap().seq;
    for (who, pin, fault) in [
        (lou.as_str(), "", "Enter the PIN."),
        ("", "4071", "Pick who is signing."),
        (lou.as_str(), "4072", "Wrong PIN for Lou."),
    ] {
        let answer = test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(who, pin)), &device)).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
        let page = answer.page();
        assert_eq!(page.text("#refused"), format!("Not saved yet. {fault}"));
        let form = page.form("sign");
        assert_eq!([form.field("text"), form.field("sign_pin")], ["hello", ""]);
        // A secret must not be in the bytes, whatever element holds them.
        assert!(!answer.body.contains("4072"), "no PIN is sent back");
    }
    for _ in 0..3 {
        test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&lou, "0001")), &device)).await;
    }
    // The right one must wait now, here; somebody else here, and the same person elsewhere, need not.
    let answer = test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&lou, "4071")), &device)).await;
    assert_eq!(wait(&answer.page().text("#refused")), Some(5), "{}", answer.page());
    for (who, pin, at) in [(ines.to_string(), "7193", &device), (lou.clone(), "4071", &other)] {
        let answer = test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&who, pin)), at)).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
    }
    assert_eq!(test.ledger.head().unwrap().seq, before + 2);
    // After the wait it goes on; a storm of wrong ones waits at most five minutes.
    let later = test.after_minutes(1);
    let answer = later.send(with_cookie(post("/ledger/note", &note(&lou, "4071")), &device)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
    let mut longest = 0;
    for minute in 0..60 {
        let later = test.after_minutes(2 + minute);
        let answer = later.send(with_cookie(post("/ledger/note", &note(&lou, "0001")), &device)).await;
        longest = longest.max(wait(&answer.page().text("#refused")).unwrap_or(0));
    }
    assert!((60..=300).contains(&longest), "{longest}");
}

#[tokio::test]
async fn secrets_stand_nowhere() {
    let test = TestApp::peopled();
    yard(&test);
    let device = tablet(&test, "Loader").await;
    let session = test.sign_in("Ines", "a+quiet+winter").await.unwrap();
    let mut kept = Vec::new();
    for entry in std::fs::read_dir(&test.folder).unwrap() {
        let entry = entry.unwrap();
        if entry.file_name().to_string_lossy().starts_with("people") {
            kept.extend(std::fs::read(entry.path()).unwrap());
        }
        #[cfg(unix)]
        if entry.file_name() == "people.db" {
            use std::os::unix::fs::PermissionsExt;
            assert_eq!(entry.metadata().unwrap().permissions().mode() & 0o077, 0, "its owner's alone");
        }
    }
    let text = String::from_utf8_lossy(&kept);
    for secret in [PASSWORD, device.split('=').nth(1).unwrap(), session.split('=').nth(1).unwrap()] {
        assert!(!text.contains(secret), "{secret}");
    }
    // Four digits stand in some hash by chance: a PIN that is kept stands by itself.
    let alone = |text: &str, pin: &str| {
        text.match_indices(pin).any(|(at, _)| {
            let joined =
                |c: Option<char>| c.is_some_and(|c| c.is_ascii_alphanumeric() || "+/$=-_".contains(c));
            !joined(text[..at].chars().next_back()) && !joined(text[at + pin.len()..].chars().next())
        })
    };
    assert!(alone("pin=\u{0}4071\u{0}", "4071") && !alone("9f4071ab", "4071"));
    for pin in ["4071", "7193"] {
        assert!(!alone(&text, pin), "{pin}");
    }
    assert!(text.contains("$argon2id$"));
}

/// Sent all at once, wrong PINs are as many tries as one after the other; so are wrong passwords.
#[tokio::test]
async fn tries_at_once_are_counted_one_by_one_and_kept_over_a_restart() {
    let local = tokio::task::LocalSet::new();
    let test = Arc::new(TestApp::peopled());
    let lou = yard(&test).to_string();
    let device = tablet(&test, "Loader").await;
    let send = |pin: String| {
        let (test, lou, device) = (Arc::clone(&test), lou.clone(), device.clone());
        local.spawn_local(async move {
            test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&lou, &pin)), &device))
                .await
                .page()
                .text("#refused")
        })
    };
    let all: Vec<_> = (0..60).map(|n| send(format!("{}", 5000 + n))).collect();
    local.await;
    let mut looked_at = 0;
    for one in all {
        looked_at += usize::from(one.await.unwrap() == "Not saved yet. Wrong PIN for Lou.");
    }
    assert!((1..=4).contains(&looked_at), "{looked_at} of 60 wrong PINs were looked at");
    // Another console on the same file, as after a restart, knows of them.
    let file = store::people::PeopleFile::open(&test.folder.join("people.db")).unwrap();
    let again = People::new(file, test.app.clock.now()).unwrap();
    let roster = again.roster().unwrap();
    let kept: u32 = store::people::PeopleFile::open(&test.folder.join("people.db"))
        .unwrap()
        .tries()
        .unwrap()
        .iter()
        .map(|(.., wrong, _)| *wrong)
        .sum();
    assert!(kept >= 4 && roster.people.len() == 2, "{kept}");
}

#[tokio::test]
async fn names_that_look_alike_are_one_name() {
    let test = TestApp::peopled();
    yard(&test);
    let ines = test.sign_in("Ines", "a+quiet+winter").await.unwrap();
    let (taken, none) = ("That name is already in use.", "Enter your name (1 to 80 characters).");
    for (name, fault) in [
        ("LOU", taken),
        // A Cyrillic o; full-width letters; a blank of no width; letters turned round.
        ("L%D0%BEu", taken),
        ("%EF%BC%AC%EF%BD%8F%EF%BD%95", taken),
        ("Lo%E2%80%8Bu", none),
        ("%E2%80%AEuoL", none),
    ] {
        let form = format!("name={name}&role=operator");
        let answer = test.send(HERE, with_cookie(post("/people", &form), &ines)).await;
        assert_eq!(answer.refusals(), [fault], "{name}");
    }
}

#[tokio::test]
async fn strangers_learn_no_names_of_devices() {
    let test = TestApp::peopled();
    yard(&test);
    tablet(&test, "Loader").await;
    let ask = |code: String, name: &'static str| {
        let test = &test;
        async move { test.send(ELSEWHERE, post("/enrol", &format!("code={code}&name={name}"))).await.refusals() }
    };
    let there = ask("NOTACODE".into(), "Loader").await;
    let not = ask("NOTACODE".into(), "Somewhere").await;
    assert_eq!(there, ["That code is wrong or has expired."]);
    assert_eq!(there, not, "whether a name is there is told to nobody without a code");
    // Who has one is told, and may choose another name with it.
    let code = people(&test).give_code("device", "Ines", test.app.clock.now()).unwrap();
    assert_eq!(ask(code.clone(), "Loader").await, ["That name is already in use."]);
    let answer = test.send(ELSEWHERE, post("/enrol", &format!("code={code}&name=Pump"))).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
}

#[cfg(unix)]
#[test]
fn what_is_kept_is_for_its_owner_alone() {
    use std::os::unix::fs::PermissionsExt;
    let test = TestApp::peopled();
    store::telemetry::TelemetryFile::open(&test.folder.join("telemetry.db")).unwrap();
    for file in
        std::fs::read_dir(&test.folder).unwrap().map(Result::unwrap).filter(|file| file.path().is_file())
    {
        let mode = file.metadata().unwrap().permissions().mode() & 0o777;
        assert_eq!(mode & 0o077, 0, "{}: {mode:o}", file.path().display());
    }
}
