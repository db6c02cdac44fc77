//! Who comes in, who signs what, and what wrong secrets cost.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use std::sync::Arc;

use axum::http::{StatusCode, header};
use common::{Answer, ELSEWHERE, HERE, TestApp, get, post, with_cookie};
use console::people::{Change, People};
use cookie::SameSite;
use store::Ledger;
use uuid::Uuid;
use yard::people::Role;

const PASSWORD: &str = "a quiet winter";

fn people(test: &TestApp) -> Arc<People> {
    Arc::clone(test.app.people.as_ref().unwrap())
}

/// A yard with a supervisor, and an operator with a PIN; the operator's id.
fn yard(test: &TestApp) -> Uuid {
    let now = test.app.clock.now();
    people(test).first("Ines", PASSWORD, Some("7193"), now).unwrap();
    let lou = Change {
        name: Some("Lou".into()),
        role: Some(Role::Operator),
        pin: Some("4071".into()),
        ..Change::default()
    };
    people(test).add(&lou, "Ines", now).unwrap().id
}

fn cookie(answer: &Answer) -> String {
    answer.kept().unwrap()
}

/// Enrols a device through the pages; the answer is its cookie.
async fn tablet(test: &TestApp, name: &str) -> String {
    let code = people(test).give_code("device", "Ines", test.app.clock.now()).unwrap();
    // As it is typed with gloves on.
    let typed = format!("{}+{}", code[..4].to_lowercase(), &code[4..]);
    let answer = test.send(ELSEWHERE, post("/enrol", &format!("code={typed}&name={name}"))).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    let again = test.send(ELSEWHERE, post("/enrol", &format!("code={typed}&name={name}2"))).await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY, "a code is good once");
    cookie(&answer)
}

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
    let form = "name=Ines&password=a+quiet+winter&pin=7193";
    let answer = test.send(ELSEWHERE, post("/first", &format!("{form}&code=NOTTHECO"))).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    for (wrong, expect) in [
        ("name=&password=a+quiet+winter", "1 to 80"),
        ("name=Ines&password=short", "10 to 200"),
        ("name=Ines&password=ines+in+winter", "hold the person"),
        ("name=Ines&password=a+quiet+winter&pin=1234", "first that anybody tries"),
    ] {
        let answer = test.post("/first", wrong).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{wrong}");
        assert!(answer.body.contains(expect), "{wrong}: {}", answer.body);
    }
    let code = people(&test).give_code("first", "start", test.app.clock.now()).unwrap();
    let made = test.send(ELSEWHERE, post("/first", &format!("{form}&code={code}"))).await;
    assert_eq!(made.status, StatusCode::SEE_OTHER, "{}", made.body);
    let full = made.cookie.clone().unwrap();
    assert!(full.http_only() == Some(true) && full.same_site() == Some(SameSite::Lax), "{full}");
    let page = test.send(ELSEWHERE, with_cookie(get("/people"), &cookie(&made))).await;
    assert!(page.status == StatusCode::OK && page.body.contains("Ines"));
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
    let page = test.send(ELSEWHERE, with_cookie(get("/ledger"), &device)).await;
    assert!(page.body.contains("name=\"sign_pin\"") && !page.body.contains("autocomplete=\"name\""));
    let answer = test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&lou, "4071")), &device)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
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
    for (who, pin, expect) in [
        (lou.as_str(), "", "PIN is missing"),
        ("", "4071", "choose who signs"),
        (lou.as_str(), "4072", "wrong PIN for Lou"),
    ] {
        let answer = test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(who, pin)), &device)).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(answer.body.contains(expect) && answer.body.contains("value=\"hello\""), "{}", answer.body);
        assert!(!answer.body.contains("4072"), "no PIN is sent back");
    }
    for _ in 0..3 {
        test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&lou, "0001")), &device)).await;
    }
    // The right one must wait now, here; somebody else here, and the same person elsewhere, need not.
    let answer = test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&lou, "4071")), &device)).await;
    assert!(answer.body.contains("Try again in 5 s"), "{}", answer.body);
    for (who, pin, at) in [(ines.to_string(), "7193", &device), (lou.clone(), "4071", &other)] {
        let answer = test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&who, pin)), at)).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
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
        let told =
            answer.body.split("Try again in ").nth(1).and_then(|rest| rest.split(' ').next()?.parse().ok());
        longest = longest.max(told.unwrap_or(0));
    }
    assert!((60..=300).contains(&longest), "{longest}");
}

#[tokio::test]
async fn wrong_passwords_wait_and_sessions_end() {
    let test = TestApp::peopled();
    yard(&test);
    for _ in 0..4 {
        assert_eq!(test.sign_in("Ines", "wrong+password").await, None);
    }
    let answer = test.post("/sign-in", "name=Ines&password=a+quiet+winter&back=").await;
    assert!(answer.body.contains("Try again in"), "{}", answer.body);
    // From another address the door is open.
    let elsewhere = test
        .send(ELSEWHERE, post("/sign-in", "name=ines&password=a+quiet+winter&back=//evil.example/"))
        .await;
    assert_eq!(elsewhere.location.as_deref(), Some("/"));
    let session = cookie(&elsewhere);
    assert_eq!(test.send(HERE, with_cookie(get("/"), &session)).await.status, StatusCode::OK);
    let idle = test.after_minutes(13 * 60);
    assert_eq!(idle.send(with_cookie(get("/"), &session)).await.status, StatusCode::SEE_OTHER);
    // Signing out ends it for good; so does another password.
    let out = test.send(HERE, with_cookie(post("/sign-out", ""), &session)).await;
    assert_eq!(out.cookie.unwrap().max_age(), Some(cookie::time::Duration::ZERO));
    assert_eq!(test.send(HERE, with_cookie(get("/"), &session)).await.status, StatusCode::SEE_OTHER);
    let now = test.app.clock.now();
    let ines = people(&test).roster().unwrap().people.iter().find(|one| one.name == "Ines").unwrap().id;
    let again =
        cookie(&test.send(ELSEWHERE, post("/sign-in", "name=Ines&password=a+quiet+winter&back=")).await);
    let change = Change { password: Some("a loud summer".into()), ..Change::default() };
    people(&test).change(ines, &change, "Ines", now).unwrap();
    assert_eq!(test.send(HERE, with_cookie(get("/"), &again)).await.status, StatusCode::SEE_OTHER);
    // The last supervisor stays.
    for change in [
        Change { role: Some(Role::Operator), ..Change::default() },
        Change { is_active: Some(false), ..Change::default() },
    ] {
        assert!(people(&test).change(ines, &change, "Ines", now).is_err());
    }
}

#[tokio::test]
async fn another_programs_change_is_seen_at_once() {
    let test = TestApp::peopled();
    yard(&test);
    let session = test.sign_in("Ines", "a+quiet+winter").await.unwrap();
    // As `brinewright user` does while the console runs.
    let file = store::people::PeopleFile::open(&test.folder.join("people.db")).unwrap();
    let beside = People::new(file, test.app.clock.now()).unwrap();
    let ines = beside.roster().unwrap().people.iter().find(|one| one.name == "Ines").unwrap().id;
    let change = Change { password: Some("reset at the machine".into()), ..Change::default() };
    beside.change(ines, &change, "at the machine", test.app.clock.now()).unwrap();
    assert_eq!(test.send(HERE, with_cookie(get("/"), &session)).await.status, StatusCode::SEE_OTHER);
    assert!(test.sign_in("Ines", "reset+at+the+machine").await.is_some());
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
    for secret in
        [PASSWORD, "4071", "7193", device.split('=').nth(1).unwrap(), session.split('=').nth(1).unwrap()]
    {
        assert!(!text.contains(secret), "{secret}");
    }
    assert!(text.contains("$argon2id$"));
}

#[tokio::test]
async fn a_signed_in_form_from_another_site_is_refused() {
    let test = TestApp::peopled();
    yard(&test);
    let session = test.sign_in("Ines", "a+quiet+winter").await.unwrap();
    for (name, value) in
        [("origin", "https://evil.example"), ("origin", "null"), ("sec-fetch-site", "cross-site")]
    {
        let form = format!("entry_id={}&text=x&author=y", Uuid::now_v7());
        let mut request = with_cookie(post("/ledger/note", &form), &session);
        request.headers_mut().insert(header::HOST, "127.0.0.1:8420".parse().unwrap());
        request.headers_mut().insert(header::HeaderName::from_static(name), value.parse().unwrap());
        assert_eq!(test.send(HERE, request).await.status, StatusCode::FORBIDDEN, "{name}: {value}");
    }
}

#[tokio::test]
async fn below_a_base_path_everything_stays_below_it() {
    let mut test = TestApp::at_base("/brine");
    let file = store::people::PeopleFile::open(&test.folder.join("people.db")).unwrap();
    let now = test.app.clock.now();
    Arc::get_mut(&mut test.app).unwrap().people = Some(Arc::new(People::new(file, now).unwrap()));
    Arc::get_mut(&mut test.app).unwrap().is_secure = true;
    people(&test).first("Ines", PASSWORD, None, now).unwrap();
    let away = test.get("/brine/tanks?saved=2").await;
    assert_eq!(away.location.as_deref(), Some("/brine/sign-in?back=/brine/tanks%3Fsaved%3D2"));
    let form = "name=Ines&password=a+quiet+winter&back=/brine/tanks%3Fsaved%3D2";
    let answer = test.post("/brine/sign-in", form).await;
    assert_eq!(answer.location.as_deref(), Some("/brine/tanks?saved=2"));
    // Over https it is of the host alone, which takes the path / (RFC 6265bis); another console there has other names.
    let set = answer.cookie.as_ref().unwrap();
    assert!(set.name().starts_with("__Host-") && set.path() == Some("/"), "{set}");
    assert_eq!(set.secure(), Some(true), "{set}");
    let session = cookie(&answer);
    assert_eq!(test.send(HERE, with_cookie(get("/brine/tanks"), &session)).await.status, StatusCode::OK);
    // Who comes through a proxy is who signed in, not who sits at the machine.
    let mut request = with_cookie(get("/brine/people"), &session);
    request.headers_mut().insert("x-forwarded-for", "192.0.2.9".parse().unwrap());
    assert_eq!(test.send(HERE, request).await.status, StatusCode::OK);
}

/// Behind a proxy everybody comes from its address: nobody is at this machine, with or without its headers.
#[tokio::test]
async fn nobody_is_local_behind_a_proxy() {
    let mut test = TestApp::new();
    let note = || {
        let form = format!("entry_id={}&text=hello&author=Pat", uuid::Uuid::now_v7());
        common::post("/ledger/note", &form)
    };
    assert_eq!(test.send(common::HERE, note()).await.status, StatusCode::SEE_OTHER, "at the machine itself");
    std::sync::Arc::get_mut(&mut test.app).unwrap().is_behind_proxy = true;
    for peer in [common::HERE, "[::1]:40000", common::ELSEWHERE] {
        assert_eq!(test.send(peer, note()).await.status, StatusCode::FORBIDDEN, "{peer}");
    }
    // The first supervisor is made with the code alone.
    let mut test = TestApp::peopled();
    std::sync::Arc::get_mut(&mut test.app).unwrap().is_behind_proxy = true;
    let made = test.post("/first", "name=Lou&password=another+winter").await;
    assert_ne!(made.status, StatusCode::SEE_OTHER, "{}", made.body);
    assert!(test.get("/people").await.location.is_some_and(|to| to.contains("/first")));
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
            test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&lou, &pin)), &device)).await.body
        })
    };
    let all: Vec<_> = (0..60).map(|n| send(format!("{}", 5000 + n))).collect();
    local.await;
    let mut looked_at = 0;
    for one in all {
        looked_at += usize::from(one.await.unwrap().contains("wrong PIN for Lou"));
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

/// A stranger who tries a supervisor's name from everywhere keeps others from trying it, and not the supervisor from
/// coming in at the machine, or from where she came in before.
#[tokio::test]
async fn a_stranger_locks_nobody_out() {
    let test = TestApp::peopled();
    yard(&test);
    let from = |host: u8| format!("192.0.2.{host}:50000");
    let form = |password: &str| post("/sign-in", &format!("name=Ines&password={password}&back="));
    let came_in = test.send(&from(1), form("a+quiet+winter")).await;
    assert_eq!(came_in.status, StatusCode::SEE_OTHER);
    let mut waits = 0;
    for host in 10..60 {
        let answer = test.send(&from(host), form("not+this+one")).await;
        waits += usize::from(answer.body.contains("Try again in"));
    }
    assert!(waits >= 25, "after twenty from anywhere, the next must wait: {waits}");
    assert_eq!(
        test.send(&from(1), form("a+quiet+winter")).await.status,
        StatusCode::SEE_OTHER,
        "known before"
    );
    assert_eq!(test.send(HERE, form("a+quiet+winter")).await.status, StatusCode::SEE_OTHER, "at the machine");
}

#[tokio::test]
async fn cookies_are_of_one_yard_and_over_https_of_one_host() {
    let mut test = TestApp::peopled();
    yard(&test);
    let plain = test.post("/sign-in", "name=Ines&password=a+quiet+winter&back=").await.cookie.unwrap();
    assert!(plain.name().starts_with("brine-session-") && plain.secure().is_none(), "{plain}");
    Arc::get_mut(&mut test.app).unwrap().is_secure = true;
    let answer = test.send(HERE, post("/sign-in", "name=Ines&password=a+quiet+winter&back=")).await;
    let secure = answer.cookie.as_ref().unwrap();
    // RFC 6265bis, 4.1.3.2: Secure, the path / and no domain.
    assert!(secure.name().starts_with("__Host-brine-session-") && secure.secure() == Some(true), "{secure}");
    assert!(secure.path() == Some("/") && secure.domain().is_none(), "{secure}");
    // A cookie of the other name is none here.
    let session = cookie(&answer);
    let other = session.replace("__Host-", "");
    let away = test.send(ELSEWHERE, with_cookie(get("/tanks"), &other)).await;
    assert_eq!(away.location.as_deref(), Some("/sign-in?back=/tanks"));
    let units =
        test.send(HERE, with_cookie(post("/units", "units=si&back=/"), &session)).await.cookie.unwrap();
    assert_eq!(units.name_value(), ("__Host-units", "si"));
    assert!(units.path() == Some("/") && units.secure() == Some(true), "{units}");
    // Two yards on one host, at whatever ports, have other names.
    let second = TestApp::at_base("/second");
    let kept = |cookie: Option<cookie::Cookie<'_>>| cookie.unwrap().name().to_owned();
    let note = |base: &str| {
        (format!("{base}/ledger/note"), format!("entry_id={}&text=x&author=Pat", Uuid::now_v7()))
    };
    let (at, form) = note("/second");
    let theirs = kept(second.post(&at, &form).await.cookie);
    let (at, form) = note("");
    let ours = kept(TestApp::new().post(&at, &form).await.cookie);
    assert_ne!(theirs, ours);
}

#[tokio::test]
async fn browsers_are_told_to_stay_with_https() {
    let mut test = TestApp::new();
    let told = |response: &axum::response::Response| {
        response
            .headers()
            .get(header::STRICT_TRANSPORT_SECURITY)
            .map(|value| value.to_str().unwrap().to_owned())
    };
    use tower::ServiceExt;
    let plain = console::routes::router(Arc::clone(&test.app)).oneshot(get("/health")).await.unwrap();
    assert_eq!(told(&plain), None);
    Arc::get_mut(&mut test.app).unwrap().is_secure = true;
    let secure = console::routes::router(Arc::clone(&test.app)).oneshot(get("/health")).await.unwrap();
    assert_eq!(told(&secure).as_deref(), Some("max-age=31536000"));
    // The page that tells how to trust the console is without encryption, and has to stay so.
    let trust = console::routes::trust_router(Arc::clone(&test.app), 8420).oneshot(get("/")).await.unwrap();
    assert_eq!(told(&trust), None);
}

#[tokio::test]
async fn everybody_changes_the_own_password_by_the_old_one() {
    let test = TestApp::peopled();
    yard(&test);
    let ines = test.sign_in("Ines", "a+quiet+winter").await.unwrap();
    let other = test.sign_in("Ines", "a+quiet+winter").await.unwrap();
    let change = |old: &str, new: &str, again: &str| {
        with_cookie(post("/password", &format!("old={old}&new={new}&again={again}")), &ines)
    };
    assert_eq!(test.send(HERE, with_cookie(get("/password"), &ines)).await.status, StatusCode::OK);
    let new = "gravel+otter+lantern";
    for (old, new, again, expect) in [
        ("a+loud+summer", new, new, "old password is another"),
        ("a+quiet+winter", new, "gravel+otter+lamp", "in two ways"),
        ("a+quiet+winter", "a+quiet+winter", "a+quiet+winter", "is the old password"),
        ("a+quiet+winter", "password1234", "password1234", "first that a program tries"),
        ("a+quiet+winter", "aaaaaaaaaaaaaaa", "aaaaaaaaaaaaaaa", "first that a program tries"),
        ("a+quiet+winter", "qwertyuiop12", "qwertyuiop12", "first that a program tries"),
    ] {
        let answer = test.send(HERE, change(old, new, again)).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{new}");
        assert!(answer.body.contains(expect), "{expect}: {}", answer.body);
    }
    let answer = test.send(HERE, change("a+quiet+winter", new, new)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    let fresh = cookie(&answer);
    assert_eq!(test.send(ELSEWHERE, with_cookie(get("/"), &fresh)).await.status, StatusCode::OK);
    for old in [&ines, &other] {
        let answer = test.send(ELSEWHERE, with_cookie(get("/tanks"), old)).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "all sessions before it ended");
    }
    assert_eq!(test.sign_in("Ines", "a+quiet+winter").await, None);
    assert!(test.sign_in("Ines", new).await.is_some());
    // A shared tablet has no password of its own.
    let tablet = tablet(&test, "Loader").await;
    assert_eq!(
        test.send(ELSEWHERE, with_cookie(get("/password"), &tablet)).await.status,
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn coming_in_anew_and_leaving_the_yard_end_a_session() {
    let test = TestApp::peopled();
    yard(&test);
    let office = Change {
        name: Some("Bo".into()),
        role: Some(Role::Viewer),
        password: Some("gravel otter lantern".into()),
        ..Change::default()
    };
    let bo = people(&test).add(&office, "Ines", test.app.clock.now()).unwrap().id;
    let form = "name=Bo&password=gravel+otter+lantern&back=";
    let first = cookie(&test.post("/sign-in", form).await);
    let second = cookie(&test.send(HERE, with_cookie(post("/sign-in", form), &first)).await);
    let sees = |session: &str| {
        let request = with_cookie(get("/tanks"), session);
        async { test.send(ELSEWHERE, request).await.status == StatusCode::OK }
    };
    assert!(!sees(&first).await && sees(&second).await);
    let leaves = Change { is_active: Some(false), ..Change::default() };
    people(&test).change(bo, &leaves, "Ines", test.app.clock.now()).unwrap();
    assert!(!sees(&second).await);
}

#[tokio::test]
async fn names_that_look_alike_are_one_name() {
    let test = TestApp::peopled();
    yard(&test);
    let ines = test.sign_in("Ines", "a+quiet+winter").await.unwrap();
    for (name, expect) in [
        ("LOU", "has this name"),
        // A Cyrillic o; full-width letters; a blank of no width; letters turned round.
        ("L%D0%BEu", "has this name"),
        ("%EF%BC%AC%EF%BD%8F%EF%BD%95", "has this name"),
        ("Lo%E2%80%8Bu", "1 to 80"),
        ("%E2%80%AEuoL", "1 to 80"),
    ] {
        let form = format!("name={name}&role=operator");
        let answer = test.send(HERE, with_cookie(post("/people", &form), &ines)).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{name}");
        assert!(answer.body.contains(expect), "{name}: {}", answer.body);
    }
}

#[tokio::test]
async fn strangers_learn_no_names_of_devices() {
    let test = TestApp::peopled();
    yard(&test);
    tablet(&test, "Loader").await;
    let ask = |code: String, name: &'static str| {
        let test = &test;
        async move { test.send(ELSEWHERE, post("/enrol", &format!("code={code}&name={name}"))).await.body }
    };
    let said = |body: &str| {
        body.split("class=\"problems\"").nth(1).unwrap().split("</ul>").next().unwrap().to_owned()
    };
    let there = said(&ask("NOTACODE".into(), "Loader").await);
    let not = said(&ask("NOTACODE".into(), "Somewhere").await);
    assert_eq!(there, not, "whether a name is there is told to nobody without a code");
    // Who has one is told, and may choose another name with it.
    let code = people(&test).give_code("device", "Ines", test.app.clock.now()).unwrap();
    assert!(ask(code.clone(), "Loader").await.contains("has this name"));
    let answer = test.send(ELSEWHERE, post("/enrol", &format!("code={code}&name=Pump"))).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
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
