//! Who comes in, by which password, from where, and when that ends.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use std::sync::Arc;

use axum::http::{StatusCode, header};
use common::staff::{PASSWORD, cookie, people, tablet, wait, yard};
use common::{ELSEWHERE, HERE, TestApp, get, post, with_cookie};
use console::people::{Change, People};
use site::people::Role;
use uuid::Uuid;

#[tokio::test]
async fn wrong_passwords_wait_and_sessions_end() {
    let test = TestApp::peopled();
    yard(&test);
    for _ in 0..4 {
        assert_eq!(test.sign_in("Ines", "wrong+password").await, None);
    }
    let answer = test.post("/sign-in", "name=Ines&password=a+quiet+winter&back=").await;
    assert_eq!(wait(&answer.refusals().concat()), Some(5));
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
    assert!(out.cookie.unwrap().to_string().split("; ").any(|part| part == "Max-Age=0"));
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
    let cookie = answer.cookie.unwrap().to_string();
    // Over https it is of the host alone, which takes the path / (RFC 6265bis); another console there has other names.
    assert!(cookie.starts_with("__Host-"), "{cookie}");
    assert!(["Path=/", "Secure"].iter().all(|part| cookie.split("; ").any(|one| one == *part)), "{cookie}");
    let session = cookie.split(';').next().unwrap();
    assert_eq!(test.send(HERE, with_cookie(get("/brine/tanks"), session)).await.status, StatusCode::OK);
    // Who comes through a proxy is who signed in, not who sits at the machine.
    let mut request = with_cookie(get("/brine/people"), session);
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
    assert_ne!(made.status, StatusCode::SEE_OTHER, "{}", made.page());
    assert!(test.get("/people").await.location.is_some_and(|to| to.starts_with("/first?back=")));
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
        waits += usize::from(wait(&answer.refusals().concat()).is_some());
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
    let plain =
        test.post("/sign-in", "name=Ines&password=a+quiet+winter&back=").await.cookie.unwrap().to_string();
    let has = |cookie: &str, part: &str| cookie.split("; ").any(|one| one == part);
    assert!(plain.starts_with("brine-session-") && !has(&plain, "Secure"), "{plain}");
    Arc::get_mut(&mut test.app).unwrap().is_secure = true;
    let answer = test.send(HERE, post("/sign-in", "name=Ines&password=a+quiet+winter&back=")).await;
    let secure = answer.cookie.unwrap().to_string();
    // RFC 6265bis, 4.1.3.2: Secure, the path / and no domain.
    assert!(secure.starts_with("__Host-brine-session-"), "{secure}");
    assert!(has(&secure, "Secure") && has(&secure, "Path=/"), "{secure}");
    assert!(!secure.to_lowercase().contains("domain"), "{secure}");
    // A cookie of the other name is none here.
    let other = secure.split(';').next().unwrap().replace("__Host-", "");
    let away = test.send(ELSEWHERE, with_cookie(get("/tanks"), &other)).await;
    assert_eq!(away.location.as_deref(), Some("/sign-in?back=/tanks"));
    let session = secure.split(';').next().unwrap();
    let units = test
        .send(HERE, with_cookie(post("/units", "units=si&back=/"), session))
        .await
        .cookie
        .unwrap()
        .to_string();
    assert!(["__Host-units=si", "Path=/", "Secure"].iter().all(|part| has(&units, part)), "{units}");
    // Two yards on one host, at whatever ports, have other names.
    let second = TestApp::at_base("/second");
    let kept = |answer: Option<String>| answer.unwrap().split('=').next().unwrap().to_owned();
    let note = |base: &str| {
        (format!("{base}/ledger/note"), format!("entry_id={}&text=x&author=Pat", Uuid::now_v7()))
    };
    let (at, form) = note("/second");
    let theirs = kept(second.post(&at, &form).await.cookie.map(|cookie| cookie.to_string()));
    let (at, form) = note("");
    let ours = kept(TestApp::new().post(&at, &form).await.cookie.map(|cookie| cookie.to_string()));
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
    let easy = "This password is among the first that a program tries. Take three or four words that do not belong \
                together.";
    for (old, new, again, fault) in [
        ("a+loud+summer", new, new, "The old password is another."),
        ("a+quiet+winter", new, "gravel+otter+lamp", "The new password was typed in two ways."),
        ("a+quiet+winter", "a+quiet+winter", "a+quiet+winter", "This is the old password."),
        ("a+quiet+winter", "password1234", "password1234", easy),
        ("a+quiet+winter", "aaaaaaaaaaaaaaa", "aaaaaaaaaaaaaaa", easy),
        ("a+quiet+winter", "qwertyuiop12", "qwertyuiop12", easy),
    ] {
        assert_eq!(test.send(HERE, change(old, new, again)).await.refusals(), [fault], "{new}");
    }
    let answer = test.send(HERE, change("a+quiet+winter", new, new)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
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
