//! The console over HTTP, in process: every route, every role, every form, good and bad.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use common::forms::{at_the_bench, dip, jar, right};
use common::{ELSEWHERE, HERE, TestApp, get, post, with_cookie};
use std::sync::Arc;

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use console::access::{Act, Role, authorise, role_at};
use console::routes::AUTHORISED;
use store::Ledger;
use uuid::Uuid;

#[tokio::test]
async fn every_page_comes_up_whole() {
    let test = TestApp::new();
    for path in [
        "/",
        "/storm",
        "/storm?forecast=january",
        "/tanks",
        "/bench",
        "/bench/trim",
        "/run",
        "/run/sheet",
        "/bench/instruments",
        "/bench/record",
        "/ledger",
        "/look",
    ] {
        let answer = test.get(path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}: {}", answer.body);
        let page = answer.page();
        assert_eq!(page.count("h1"), 1, "{path}: one heading");
        assert_eq!(page.attr("html", "lang"), "en", "{path}");
        assert_eq!(page.faults(), [] as [&str; 0], "{path}");
        // A parser closes what was never closed: that the page was sent to its end is a matter of bytes.
        assert!(answer.body.ends_with("</html>"), "{path}");
        assert!(!page.has("style, [style], script:not([src])"), "{path}: nothing inline");
        assert!(
            answer.policy.split("; ").any(|rule| rule == "default-src 'none'"),
            "{path}: {}",
            answer.policy
        );
        // What the script fills in stands in attributes.
        let text = page.text("html");
        assert!(!text.contains("{{") && !text.contains(" {at}"), "{path}: no unfilled blank");
    }
}

#[tokio::test]
async fn today_says_the_next_act_first() {
    let page = TestApp::new().get("/").await.page();
    // Less stock than the demo, and the yard has no salt on its books: what there is goes out, and it does not do.
    assert_eq!(page.heading(), "Start loading trucks at 1:02 PM tomorrow.");
    page.shows(
        ".next p",
        "Brine could run short from 11:00 AM Fri Jan 25, by up to 2,870 gal. Not enough salt to make more.",
    );
    // Tank 3 alone asks for something.
    assert_eq!(page.texts(".vessels > .asks .vol"), ["1,900 gal"]);
    assert_eq!(page.text(".vessels > .asks .state"), "Too strong");
    assert_eq!(
        page.texts("a.alarm > span"),
        [
            "Tank 3: Too strong. Liquid to 15 °F (±4 °F), then salt crystals. Coldest air forecast is 13 °F: 2 °F too cold for this tank.",
        ]
    );
}

#[tokio::test]
async fn every_route_is_authorised_for_every_role() {
    let test = TestApp::peopled();
    let people = Arc::clone(test.app.people.as_ref().unwrap());
    let now = test.app.clock.now();
    people.first("Ines", "a quiet winter", None, now).unwrap();
    let mut cookies = vec![(Role::Supervisor, test.sign_in("Ines", "a+quiet+winter").await.unwrap())];
    for role in [Role::Viewer, Role::Operator, Role::Trainer] {
        let change = console::people::Change {
            name: Some(format!("P {}", role.name())),
            role: Some(role),
            password: Some("salt and water".into()),
            ..Default::default()
        };
        people.add(&change, "Ines", now).unwrap();
        let cookie = test.sign_in(&format!("P+{}", role.name()), "salt+and+water").await.unwrap();
        cookies.push((role, cookie));
    }
    let request = |method: &str, path: &str| {
        if method == "GET" { get(path) } else { post(path, &form_for(path, &Uuid::now_v7().to_string())) }
    };
    for (method, path, act) in AUTHORISED.iter().filter(|(_, path, _)| *path != "/sign-out") {
        for (role, cookie) in &cookies {
            let answer = test.send(HERE, with_cookie(request(method, path), cookie)).await;
            let refused = answer.status == StatusCode::FORBIDDEN;
            // Who is in already needs no first supervisor.
            let expected = authorise(*role, *act).is_err() || (*method == "POST" && *path == "/first");
            assert_eq!(refused, expected, "{method} {path} as {role:?}: {}", answer.status);
        }
        // Nobody sees nothing, on the machine itself too.
        for peer in [HERE, ELSEWHERE] {
            let answer = test.send(peer, request(method, path)).await;
            let turned_away = match *method {
                "GET" => answer.location.as_deref().is_some_and(|to| to.starts_with("/sign-in?back=")),
                _ => answer.status == StatusCode::UNAUTHORIZED,
            };
            assert_eq!(turned_away, *act != Act::Enter, "{method} {path} as nobody: {}", answer.status);
        }
    }
    // Where nobody is enrolled, the place decides.
    let open = TestApp::new();
    for (method, path, act) in AUTHORISED {
        for (peer, role) in [(HERE, Role::Supervisor), (ELSEWHERE, Role::Viewer)] {
            let answer = open.send(peer, request(method, path)).await;
            let refused = answer.status == StatusCode::FORBIDDEN;
            assert_eq!(
                refused,
                authorise(role, *act).is_err(),
                "{method} {path} as {role:?}: {}",
                answer.status
            );
        }
    }
    assert_eq!(role_at("::1".parse().unwrap()), Role::Supervisor);
    assert_eq!(role_at("::ffff:127.0.0.1".parse().unwrap()), Role::Supervisor);
    assert_eq!(role_at("10.0.0.3".parse().unwrap()), Role::Viewer);
    for role in Role::ALL {
        let may = Act::ALL.iter().filter(|act| authorise(role, **act).is_ok()).count();
        let expected = match role {
            Role::Viewer => 3,
            Role::Operator => 5,
            Role::Trainer => 6,
            Role::Supervisor => Act::ALL.len(),
        };
        assert_eq!(may, expected, "{role:?}");
    }
}

fn form_for(path: &str, id: &str) -> String {
    match path {
        "/tanks/dip" => dip(id, "7.3"),
        "/tanks/set-book" => format!("entry_id={id}&author=Pat&tank=1"),
        "/run/batch" => format!("entry_id={id}&author=Pat"),
        "/put-right" => right(id, "25", "water"),
        "/jar-test" => jar(id, "crystals"),
        "/bench" => at_the_bench(id, "1.18", "60"),
        path if path.starts_with("/bench/") => format!("entry_id={id}&author=Pat"),
        "/plant" => "act=line&at=0&much=1".to_string(),
        "/trainer/begin" => "who=Pat&exercise=plain_run&speed=60".to_string(),
        "/trainer/drive" => "act=pause".to_string(),
        "/run" | "/run/end" => format!("entry_id={id}&author=Pat"),
        "/load/import" => "rows=at&author=Pat".to_string(),
        path if path.starts_with("/load") || path.starts_with("/books") || path.starts_with("/salt") => {
            format!("entry_id={id}&author=Pat")
        }
        "/meters" | "/meters/check" | "/due" | "/sprayers" | "/sprayers/spreader" => {
            format!("entry_id={id}&author=Pat")
        }
        "/ledger/note" => format!("entry_id={id}&text=hello&author=Pat"),
        "/ledger/void" => format!("entry_id={id}&event={}&reason=wrong&author=Pat", Uuid::from_u128(1)),
        "/first" => "name=Lou&password=another+winter".to_string(),
        "/sign-in" => "name=Nobody&password=nothing".to_string(),
        "/enrol" => "code=AAAA&name=Tablet".to_string(),
        "/people" | "/people/change" => format!("id={id}&name=Lou&role=viewer"),
        "/alerts" => "key=due:x&author=Pat".to_string(),
        "/waiting" => format!("id={id}&act=leave&reason=x&author=Pat"),
        "/people/revoke" => format!("id={id}"),
        "/people/code" | "/sign-out" => String::new(),
        _ => "units=si&back=/".to_string(),
    }
}

#[tokio::test]
async fn text_from_people_is_text() {
    let test = TestApp::new();
    let id = Uuid::now_v7();
    let form = format!("entry_id={id}&text=%3Cscript%3Ealert(1)%3C%2Fscript%3E%22%27&author=%3Cb%3E");
    assert_eq!(test.post("/ledger/note", &form).await.status, StatusCode::SEE_OTHER);
    let page = test.get("/ledger").await.page();
    assert!(!page.has("main script"));
    assert_eq!(page.text("#event-3 > p:nth-of-type(2)"), "<script>alert(1)</script>\"'");
    assert_eq!(page.text("#event-3 .soft"), "1:00 PM Thu Jan 24 · <b> · entry 3");
}

#[tokio::test]
async fn a_void_is_shown_and_cannot_be_repeated() {
    let test = TestApp::new();
    let void = |id: Uuid| format!("entry_id={id}&event={}&reason=wrong&author=Pat", Uuid::from_u128(1));
    assert_eq!(test.post("/ledger/void", &void(Uuid::now_v7())).await.status, StatusCode::SEE_OTHER);
    let ledger = test.get("/ledger").await.page();
    assert_eq!(ledger.attrs(".events > .voided", "id"), ["event-1"]);
    assert_eq!(
        ledger.text("#event-1 > p:nth-of-type(2)"),
        "Tank 1 adjusted to 4,300 gal, 23.2%: opening Voided."
    );
    let again = test.post("/ledger/void", &void(Uuid::now_v7())).await;
    assert_eq!(again.status, StatusCode::CONFLICT);
    assert_eq!(
        again.page().text(".next > .soft"),
        format!("entry {} cannot be voided: it was taken back before", Uuid::from_u128(1))
    );
}

#[tokio::test]
async fn units_belong_to_the_device() {
    let test = TestApp::new();
    let answer = test.post("/units", "units=si&back=/tanks").await;
    assert_eq!(answer.location.as_deref(), Some("/tanks"));
    assert_eq!(answer.kept().as_deref(), Some("units=si"));
    let request = Request::get("/tanks").header(header::COOKIE, "units=si").body(Body::empty()).unwrap();
    let page = test.send(HERE, request).await.page();
    assert_eq!(page.form("dip-1").label("depth_m"), "Depth, m");
    assert!(!page.has_field("depth_ft"));
    assert_eq!(page.text("#tank-1 > summary > span"), "16,280 L, 23.2%");
    assert_eq!(page.texts("#tank-1 > .fold > .soft"), ["16,280 L ± 321 L, 23.2% ± 0.3% (4,300 gal)"]);
    for back in ["//evil.example/", "/%5Cevil.example", "/%0d%0aX: y", "https://evil.example"] {
        let answer = test.post("/units", &format!("units=si&back={back}")).await;
        assert_eq!(answer.location.as_deref(), Some("/"), "{back}");
    }
    assert_eq!(test.post("/units", "units=furlongs&back=/").await.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn a_form_from_another_site_is_refused() {
    let test = TestApp::new();
    let mut request = post("/ledger/note", &format!("entry_id={}&text=x&author=y", Uuid::now_v7()));
    request.headers_mut().insert(header::HOST, "127.0.0.1:8420".parse().unwrap());
    request.headers_mut().insert(header::ORIGIN, "http://elsewhere.example".parse().unwrap());
    assert_eq!(test.send(HERE, request).await.status, StatusCode::FORBIDDEN);
    assert_eq!(test.ledger.head().unwrap().seq, 2);
}

#[tokio::test]
async fn only_known_names_are_answered_and_a_proxy_makes_a_viewer() {
    let test = TestApp::new();
    let note = || post("/ledger/note", &format!("entry_id={}&text=x&author=y", Uuid::now_v7()));
    for (host, status) in [
        ("127.0.0.1:8420", StatusCode::SEE_OTHER),
        ("[::1]:8420", StatusCode::SEE_OTHER),
        ("localhost", StatusCode::SEE_OTHER),
        ("brine.example", StatusCode::SEE_OTHER),
        ("evil.example:8420", StatusCode::MISDIRECTED_REQUEST),
    ] {
        let mut request = note();
        request.headers_mut().insert(header::HOST, host.parse().unwrap());
        assert_eq!(test.send(HERE, request).await.status, status, "{host}");
    }
    let mut request = note();
    request.headers_mut().insert("x-forwarded-for", "203.0.113.9".parse().unwrap());
    assert_eq!(test.send(HERE, request).await.status, StatusCode::FORBIDDEN);
    let seen = Request::get("/tanks").body(Body::empty()).unwrap();
    assert!(!test.send(ELSEWHERE, seen).await.page().has_form("dip"), "a viewer gets no form");
}

#[tokio::test]
async fn a_damaged_ledger_is_said_on_every_page_and_takes_nothing() {
    let test = TestApp::new();
    let file = rusqlite::Connection::open(test.folder.join("ledger.db")).unwrap();
    file.execute_batch("drop trigger event_is_never_changed; update event set author = 'x' where seq = 1")
        .unwrap();
    test.app.verify().unwrap();
    for path in ["/", "/storm", "/tanks", "/ledger"] {
        let said = "the ledger is damaged at entry 1 (its content was changed). Nothing more can be saved. Restore a backup. Call your supervisor.";
        assert!(test.get(path).await.page().alarm().contains(said), "{path}");
    }
    let answer = test.post("/ledger/note", &format!("entry_id={}&text=x&author=y", Uuid::now_v7())).await;
    assert_eq!(answer.status, StatusCode::CONFLICT);
}

#[tokio::test]
async fn a_full_disk_is_said_and_nothing_is_lost() {
    let test = TestApp::new();
    test.ledger.limit_pages(6).unwrap();
    let text = "x".repeat(50_000);
    let answer =
        test.post("/ledger/note", &format!("entry_id={}&text={text}&author=y", Uuid::now_v7())).await;
    assert_eq!(answer.status, StatusCode::INSUFFICIENT_STORAGE);
    assert_eq!(answer.page().heading(), "The disk is full");
    assert_eq!(test.ledger.head().unwrap().seq, 2);
}

#[tokio::test]
async fn odd_requests_are_answered_plainly() {
    let test = TestApp::new();
    assert_eq!(test.get("/nothing").await.status, StatusCode::NOT_FOUND);
    assert_eq!(test.get("/storm?forecast=none").await.status, StatusCode::NOT_FOUND);
    assert_eq!(test.get("/static/x/nothing").await.status, StatusCode::NOT_FOUND);
    assert_eq!(test.get("/health").await.body, "ok");
    let unknown = test.get("/storm?unknown=1").await;
    assert_eq!(unknown.status, StatusCode::BAD_REQUEST);
    assert_eq!(unknown.page().heading(), "The form could not be read", "a page, not a bare line");
    assert!(test.post("/tanks/dip", "entry_id=x").await.status.is_client_error());
    let bad_id = test.post("/ledger/note", "entry_id=not-an-id&text=x&author=y").await;
    assert_eq!(bad_id.status, StatusCode::BAD_REQUEST);
    let no_author =
        test.post("/ledger/note", &format!("entry_id={}&text=x&author=%20", Uuid::now_v7())).await;
    assert_eq!(no_author.refusals(), ["Enter your name (1 to 80 characters)."]);
    assert_eq!(no_author.page().field("text"), "x");
    assert_eq!(test.get("/tanks?saved=99").await.page().saved(), None);
    let huge = test.post("/ledger/note", &format!("text={}", "x".repeat(200_000))).await;
    assert_eq!(huge.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert_eq!(test.ledger.head().unwrap().seq, 2);
}

#[tokio::test]
async fn every_address_lies_under_the_base_path() {
    let test = TestApp::at_base("/brine");
    for path in ["/brine", "/brine/storm", "/brine/tanks", "/brine/ledger"] {
        let answer = test.get(path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}");
        let page = answer.page();
        for attribute in ["href", "src", "action", "formaction"] {
            for to in page.attrs(&format!("[{attribute}]"), attribute) {
                assert!(to.starts_with("/brine") || to.starts_with('#'), "{path}: {attribute} {to}");
            }
        }
        let links = page.attrs("[href]", "href");
        assert!(links.len() > 15, "{path}: {links:?}");
        for link in links {
            let to = link.split('#').next().unwrap();
            if !to.is_empty() {
                assert_eq!(test.get(to).await.status, StatusCode::OK, "{path} links to {to}");
            }
        }
    }
}
