//! The console over HTTP, in process: every route, every role, every form, good and bad.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use common::{ELSEWHERE, HERE, TestApp, get, post, text_of, tick_of, with_cookie};
use std::sync::Arc;

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use console::access::{Act, Role, authorise, role_at};
use console::routes::AUTHORISED;
use jiff::Timestamp;
use store::Ledger;
use uuid::Uuid;
use yard::event::{Body as EventBody, Event, EventId, JarTest, LiquidDelivery, MakingRun};

fn dip(id: &str, depth: &str) -> String {
    format!("entry_id={id}&tank=1&depth_ft={depth}&temp_f=28&author=Pat")
}

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
        assert_eq!(answer.body.matches("<h1").count(), 1, "{path}: one heading");
        assert!(answer.body.contains("<html lang=\"en\">") && answer.body.ends_with("</html>"), "{path}");
        assert!(
            !answer.body.contains("style=") && !answer.body.contains("<script>"),
            "{path}: nothing inline"
        );
        assert!(answer.policy.contains("default-src 'none'"), "{path}");
        // What the script fills in stands in attributes.
        let text = text_of(&answer.body);
        assert!(!text.contains("{{") && !text.contains(" {at}"), "{path}: no unfilled blank");
    }
}

#[tokio::test]
async fn today_says_the_next_act_first() {
    let body = TestApp::new().get("/").await.body;
    let heading = body.split("<h1>").nth(1).unwrap().split("</h1>").next().unwrap();
    // Less stock than the demo: the plant is needed, and the yard has no salt on its books.
    assert!(heading.starts_with("Start") || heading.contains("short"), "{heading}");
    assert!(body.contains("Too strong"), "tank 3 asks for something");
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
async fn a_dip_is_recorded_once_however_often_it_is_sent() {
    let test = TestApp::new();
    let form = dip(&Uuid::now_v7().to_string(), "7.3");
    for _ in 0..3 {
        let answer = test.post("/tanks/dip", &form).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER);
        assert_eq!(answer.location.as_deref(), Some("/tanks?saved=3#tank-1"));
    }
    assert_eq!(test.ledger.head().unwrap().seq, 3);
    let page = test.get("/tanks?saved=3").await.body;
    assert!(page.contains("Dip recorded, row 3") && page.contains("by dip"));
}

#[tokio::test]
async fn a_bad_dip_keeps_what_was_typed_and_names_the_fault() {
    let test = TestApp::new();
    let id = Uuid::now_v7().to_string();
    for (depth, expect) in
        [("99", "depth"), ("deep", "not a number"), ("1,234", "thousands"), ("", "depth_m")]
    {
        let answer = test.post("/tanks/dip", &dip(&id, depth)).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{depth}");
        assert!(answer.body.contains(expect), "{depth}");
        assert!(answer.body.contains(&format!("value=\"{depth}\"")) && answer.body.contains(&id), "{depth}");
    }
    assert_eq!(test.ledger.head().unwrap().seq, 2, "nothing was recorded");
}

#[tokio::test]
async fn a_doubtful_dip_asks_and_a_confirmed_one_is_recorded() {
    let test = TestApp::new();
    let id = Uuid::now_v7().to_string();
    // 4,300 gal stand at 7.32 ft; a quarter of it looks like gallons entered as litres.
    let answer = test.post("/tanks/dip", &dip(&id, "1.93")).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.body.contains("gallons entered as litres") && answer.body.contains("name=\"confirm\""));
    let answer = test.post("/tanks/dip", &format!("{}{}", dip(&id, "1.93"), tick_of(&answer.body))).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn text_from_people_is_text() {
    let test = TestApp::new();
    let id = Uuid::now_v7();
    let form = format!("entry_id={id}&text=%3Cscript%3Ealert(1)%3C%2Fscript%3E%22%27&author=%3Cb%3E");
    assert_eq!(test.post("/ledger/note", &form).await.status, StatusCode::SEE_OTHER);
    let page = test.get("/ledger").await.body;
    assert!(
        !page.contains("<script>alert") && !page.contains("<b></b>") && page.contains("&#60;script&#62;")
    );
}

#[tokio::test]
async fn a_void_is_shown_and_cannot_be_repeated() {
    let test = TestApp::new();
    let void = |id: Uuid| format!("entry_id={id}&event={}&reason=wrong&author=Pat", Uuid::from_u128(1));
    assert_eq!(test.post("/ledger/void", &void(Uuid::now_v7())).await.status, StatusCode::SEE_OTHER);
    assert!(test.get("/ledger").await.body.contains("class=\"voided\""));
    let again = test.post("/ledger/void", &void(Uuid::now_v7())).await;
    assert_eq!(again.status, StatusCode::CONFLICT);
    assert!(again.body.contains("taken back before"));
}

#[tokio::test]
async fn units_belong_to_the_device() {
    let test = TestApp::new();
    let answer = test.post("/units", "units=si&back=/tanks").await;
    assert_eq!(answer.location.as_deref(), Some("/tanks"));
    assert_eq!(answer.kept().as_deref(), Some("units=si"));
    let request = Request::get("/tanks").header(header::COOKIE, "units=si").body(Body::empty()).unwrap();
    let page = test.send(HERE, request).await.body;
    assert!(page.contains("name=\"depth_m\"") && page.contains("16,280 L"));
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
    assert!(!test.send(ELSEWHERE, seen).await.body.contains("data-form=\"dip\""), "a viewer gets no form");
}

#[tokio::test]
async fn a_damaged_ledger_is_said_on_every_page_and_takes_nothing() {
    let test = TestApp::new();
    let file = rusqlite::Connection::open(test.folder.join("ledger.db")).unwrap();
    file.execute_batch("drop trigger event_is_never_changed; update event set author = 'x' where seq = 1")
        .unwrap();
    test.app.verify().unwrap();
    for path in ["/", "/storm", "/tanks", "/ledger"] {
        assert!(test.get(path).await.body.contains("the ledger is damaged at row 1"), "{path}");
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
    assert!(answer.body.contains("disk is full"));
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
    assert!(
        unknown.status == StatusCode::BAD_REQUEST && unknown.body.contains("<h1>"),
        "a page, not a bare line"
    );
    assert!(test.post("/tanks/dip", "entry_id=x").await.status.is_client_error());
    let bad_id = test.post("/ledger/note", "entry_id=not-an-id&text=x&author=y").await;
    assert_eq!(bad_id.status, StatusCode::BAD_REQUEST);
    let no_author =
        test.post("/ledger/note", &format!("entry_id={}&text=x&author=%20", Uuid::now_v7())).await;
    assert_eq!(no_author.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(no_author.body.contains("Your name is needed") && no_author.body.contains(">x</textarea>"));
    assert!(!test.get("/tanks?saved=99").await.body.contains("Dip recorded"));
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
        for link in answer.body.split("href=\"").skip(1).chain(answer.body.split("action=\"").skip(1)) {
            let to = link.split('"').next().unwrap();
            assert!(to.starts_with("/brine") || to.starts_with('#'), "{path}: {to}");
        }
        for link in answer.body.split("href=\"").skip(1) {
            let to = link.split(['"', '#']).next().unwrap();
            if !to.is_empty() {
                assert_eq!(test.get(to).await.status, StatusCode::OK, "{path} links to {to}");
            }
        }
    }
}

fn happened(n: u128, body: EventBody) -> Event {
    Event {
        id: EventId(Uuid::from_u128(n)),
        occurred_at: "2013-01-24T18:00:00Z".parse().unwrap(),
        author: "Pat".into(),
        device: "test".into(),
        body,
    }
}

fn delivered(tank: &str, product: Option<&str>) -> EventBody {
    EventBody::LiquidDelivery(LiquidDelivery {
        tank: tank.into(),
        volume_m3: 1.0,
        temp_c: None,
        strength_pct: None,
        product: product.map(Into::into),
        ticket: None,
        price_usd: None,
    })
}

/// What a tank's own part of the tanks page says.
async fn told_of_tank(test: &TestApp, tank: &str) -> String {
    let body = test.get("/tanks").await.body;
    body.split(&format!("id=\"tank-{tank}\"")).nth(1).unwrap().split("</section>").next().unwrap().to_string()
}

#[tokio::test]
async fn a_bought_liquid_tells_its_freezing_margin_with_its_source() {
    let test = TestApp::new();
    assert!(told_of_tank(&test, "4").await.contains("Empty."));
    let now: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
    test.ledger.append(&[happened(11, delivered("4", None))], now).unwrap();
    let told = told_of_tank(&test, "4").await;
    assert!(told.contains("freezes at 2 °F as delivered, by its sheet (supplier"), "{told}");
    assert!(told.contains("below the coldest air ahead"), "{told}");
    assert!(!told.contains("jar test"), "{told}");
}

/// 90 parts of full-strength brine with 10 of a magnesium chloride liquid by mass (reference notes: salt near 9 °F, ice
/// near -12 °F): both lines and the sentence.
#[tokio::test]
async fn the_freeze_map_of_a_90_10_blend_shows_both_lines_and_its_sentence() {
    let test = TestApp::new();
    let now: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
    let run = MakingRun { tank: "2".into(), volume_m3: 9.0, strength_pct: 23.3, ..MakingRun::default() };
    let EventBody::LiquidDelivery(bought) = delivered("2", Some("mag")) else { panic!("a delivery") };
    // 9 m³ at 1,176 kg/m³ and a tenth of all at the liquid's 1.28.
    let bought = LiquidDelivery { volume_m3: 9.0 * 1.176 / 9.0 / 1.28, ..bought };
    let events = [happened(11, EventBody::MakingRun(run)), happened(12, EventBody::LiquidDelivery(bought))];
    test.ledger.append(&events, now).unwrap();
    let told = told_of_tank(&test, "2").await;
    assert!(told.contains("class=\"c-curve\"") && told.contains("class=\"c-curve c-dash\""), "{told}");
    let between = told.split("Between ").nth(1).unwrap();
    let degrees = |text: &str| text.split(" °F").next().unwrap().replace('−', "-").parse::<f64>().unwrap();
    let (salt, ice) = (degrees(between), degrees(between.split(" and ").nth(1).unwrap()));
    assert!((salt - 9.0).abs() <= 5.0 && (ice - -12.0).abs() <= 2.0, "{salt} {ice}: {told}");
    assert!(
        between.contains("salt comes out of it, not ice: sludge, plugged strainers and nozzles"),
        "{told}"
    );
}

/// The page of a blend: a recipe with its shares, both temperatures and its sentence; what cannot be is said.
#[tokio::test]
async fn a_blend_is_worked_out_for_a_tank() {
    let test = TestApp::new();
    let now: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
    test.ledger.append(&[happened(11, delivered("4", None))], now).unwrap();
    let bare = test.get("/put-right/blend?tank=1").await.body;
    assert!(bare.contains("Must stay clear down to") && bare.contains("Magnesium chloride liquid (tank 4)"));
    let enough = test.get("/put-right/blend?tank=1&with=4&clear_f=2").await.body;
    assert!(enough.contains("Nothing has to go in") && !enough.contains("First a jar"), "{enough}");
    let empty = test.get("/put-right/blend?tank=2&with=4&clear_f=-8").await.body;
    assert!(empty.contains("The tank is empty: say how much"), "{empty}");
    let told = test.get("/put-right/blend?tank=2&with=4&also=1&clear_f=-8&volume_gal=1000").await.body;
    for part in
        ["Put in ", "gal of Magnesium chloride liquid (tank 4)", "% by mass", "Ice in it at", "Salt in it at"]
    {
        assert!(told.contains(part), "{part}: {told}");
    }
    assert!(told.contains("class=\"c-curve c-dash\"") && told.contains("First a jar"), "{told}");
    let cold = test.get("/put-right/blend?tank=1&with=4&clear_f=-60").await.body;
    assert!(
        cold.contains("No mixture of these keeps ice below −60 °F") && cold.contains("first solid at"),
        "{cold}"
    );
    let wrong = test.get("/put-right/blend?tank=1&with=4&clear_f=cold").await.body;
    assert!(wrong.contains("clear_f") && wrong.contains("class=\"problems\""), "{wrong}");
    let none = test.get("/put-right/blend?tank=nine&with=4&clear_f=0").await.body;
    assert!(none.contains("not in the yard file"), "{none}");
}

#[tokio::test]
async fn a_mixed_tank_says_so_and_shows_its_jar_test() {
    let test = TestApp::new();
    let now: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
    test.ledger.append(&[happened(11, delivered("1", Some("mag")))], now).unwrap();
    let told = told_of_tank(&test, "1").await;
    assert!(told.contains("Mixed: ") && told.contains("Magnesium chloride liquid by mass"), "{told}");
    assert!(told.contains("Salt crystals at ") && told.contains("No jar test is recorded"), "{told}");
    assert!(told.contains("below the coldest air ahead"), "{told}");
    // Both lines of its freeze map, and what happens between them.
    assert!(told.contains("class=\"c-curve\"") && told.contains("class=\"c-curve c-dash\""), "{told}");
    assert!(told.contains("salt from here down") && told.contains("ice from here down"), "{told}");
    assert!(told.contains("salt comes out of it, not ice: sludge, plugged strainers"), "{told}");
    let jar = JarTest {
        liquid_a: "brine".into(),
        liquid_b: "mag".into(),
        share_a_pct: 94.0,
        temp_c: -20.0,
        duration_h: 36.0,
        result: yard::event::JarResult::Sludge,
        remark: Some("<b>white</b>".into()),
        tank: Some("1".into()),
    };
    test.ledger.append(&[happened(12, EventBody::JarTest(jar))], now).unwrap();
    let told = told_of_tank(&test, "1").await;
    let line = "94 % Salt brine with 6 % Magnesium chloride liquid by volume, kept at −4 °F for 36 h";
    assert!(told.contains("Last jar test for it") && told.contains(line), "{told}");
    assert!(told.contains("sludge") && !told.contains("<b>white"), "{told}");
    let ledger = test.get("/ledger").await.body;
    assert!(
        ledger.contains("Jar test") && ledger.contains(&format!("{line}: sludge, for tank 1.")),
        "{ledger}"
    );
    assert!(ledger.contains("of Magnesium chloride liquid received into tank 1"), "{ledger}");
    let today = test.get("/").await.body;
    assert!(today.contains("Tank 1 is not counted. Mixed: "), "{today}");
}

fn right(id: &str, strength: &str, with: &str) -> String {
    format!(
        "entry_id={id}&author=Pat&tank=1&strength_pct={strength}&target_pct=23.3&volume_gal=4300&temp_f=30&\
         with_temp_f=44&uncertainty_pct=0.2&with={with}&part=first"
    )
}

/// 4,300 gal at 25 % to 23.3 %: W12's 434 gal for 5,000, in proportion 373.
#[tokio::test]
async fn a_tank_is_put_right_and_recorded_once() {
    let test = TestApp::new();
    let asked = "/put-right?tank=1&strength_pct=25&target_pct=23.3&volume_gal=4300&with=water";
    let page = test.get(asked).await.body;
    assert!(page.contains("Put in 374 gal of water."), "{page}");
    assert!(page.contains("backflow") && page.contains("Circulate") && page.contains("three quarters"));
    let form = right(&Uuid::now_v7().to_string(), "25", "water");
    for _ in 0..2 {
        let answer = test.post("/put-right", &form).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER);
        assert_eq!(answer.location.as_deref(), Some("/put-right?tank=1&saved=3"));
    }
    assert_eq!(test.ledger.head().unwrap().seq, 3);
    let kept = test.ledger.events_after(2).unwrap();
    let EventBody::Correction(correction) = &kept[0].event.body else { panic!("{kept:?}") };
    // Three quarters of 374 gal, in m³.
    assert!((correction.water_m3.unwrap() / (0.75 * 374.0 * 0.003_785_411_784) - 1.0).abs() < 0.003);
    assert!(test.get("/put-right?tank=1&saved=3").await.body.contains("Recorded, row 3"));
}

#[tokio::test]
async fn what_cannot_be_put_right_so_is_said_and_nothing_recorded() {
    let test = TestApp::new();
    let weaker = test.get("/put-right?tank=1&strength_pct=20&with=water").await.body;
    assert!(weaker.contains("water only makes it weaker"), "{weaker}");
    let word = test.get("/put-right?tank=1&strength_pct=strong&with=water").await.body;
    assert!(word.contains("not a number") && word.contains("value=\"strong\""), "{word}");
    let fraction = test.get("/put-right?tank=1&strength_pct=0.25&with=water").await.body;
    assert!(fraction.contains("looks like a fraction"), "{fraction}");
    let declared = test.get("/put-right?tank=4").await.body;
    assert!(declared.contains("as a blend") && declared.contains("jar test"), "{declared}");
    let form = right(&Uuid::now_v7().to_string(), "20", "water");
    assert_eq!(test.post("/put-right", &form).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    let nameless = right(&Uuid::now_v7().to_string(), "25", "water").replace("author=Pat", "author=+");
    let answer = test.post("/put-right", &nameless).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.body.contains("Your name is needed"), "{}", answer.body);
    assert_eq!(test.ledger.head().unwrap().seq, 2, "nothing was recorded");
}

/// Without a tank in the address the page opens on the one that is out of spec: tank 3, at 25.1 %.
#[tokio::test]
async fn the_page_opens_on_the_tank_that_needs_it() {
    let test = TestApp::new();
    let page = test.get("/put-right").await.body;
    assert!(page.contains("Put tank 3 right") && page.contains("value=\"25.10\""), "{page}");
    assert!(test.get("/put-right?tank=1").await.body.contains("is in spec"));
    assert!(test.get("/tanks").await.body.contains("/put-right?tank=3"));
}

fn jar(id: &str, result: &str) -> String {
    format!(
        "entry_id={id}&author=Pat&tank=4&liquid_a=brine&liquid_b=mag&share_a_pct=80&temp_f=-5&duration_h=24&\
         result={result}&remark="
    )
}

#[tokio::test]
async fn a_jar_test_is_recorded_where_nothing_is_predicted() {
    let test = TestApp::new();
    let refused = test.get("/put-right?tank=1&strength_pct=22&with=tank%3D4").await.body;
    assert!(refused.contains("as a blend") && refused.contains("/jar-test?tank=1"), "{refused}");
    let form = test.get("/jar-test?tank=4").await.body;
    assert!(form.contains("Magnesium chloride liquid") && form.contains("Goggles"), "{form}");
    let id = Uuid::now_v7().to_string();
    let bad = test.post("/jar-test", &jar(&id, "fine")).await;
    assert_eq!(bad.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(bad.body.contains(" = fine:") && bad.body.contains("value=\"80\""), "{}", bad.body);
    for _ in 0..2 {
        let answer = test.post("/jar-test", &jar(&id, "crystals")).await;
        assert_eq!(answer.location.as_deref(), Some("/jar-test?tank=4&saved=3"));
    }
    let kept = test.ledger.events_after(2).unwrap();
    let EventBody::JarTest(kept) = &kept[0].event.body else { panic!("{kept:?}") };
    assert!((kept.temp_c - -20.555).abs() < 0.01 && kept.result == yard::event::JarResult::Crystals);
}

fn at_the_bench(id: &str, reading: &str, temp_f: &str) -> String {
    format!(
        "entry_id={id}&author=Pat&tank=1&instrument=hydrometer&reading={reading}&temp_f={temp_f}&level=middle&\
         occasion=after_rain"
    )
}

/// 1.1855 on a 60/60 °F hydrometer is 23.3 % at 32 °F and 24.2 % at 60 °F (the project's table of readings).
/// Judged at once, logged once, remembered.
#[tokio::test]
async fn a_reading_is_judged_and_logged_once() {
    let test = TestApp::new();
    let asked = "/bench?tank=1&instrument=hydrometer&reading=1.1855&temp_f=";
    let cold = test.get(&format!("{asked}32")).await.body;
    assert!(cold.contains("In spec: 23.3 % ± 0.3.") && cold.contains("What ± is made of"), "{cold}");
    assert!(!cold.contains("strength_pct="), "nothing is to be put right");
    let warm = test.get(&format!("{asked}60")).await.body;
    assert!(
        warm.contains("Too strong: 24.2 %") && warm.contains("/put-right?tank=1&#38;strength_pct=24.2"),
        "{warm}"
    );
    let id = Uuid::now_v7().to_string();
    let form = at_the_bench(&id, "1.1855", "32");
    for _ in 0..2 {
        let answer = test.post("/bench", &form).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
        assert_eq!(answer.location.as_deref(), Some(format!("/bench?tank=1&saved=3&logged={id}").as_str()));
    }
    assert_eq!(test.ledger.head().unwrap().seq, 3);
    let kept = test.ledger.events_after(2).unwrap();
    let EventBody::Reading(reading) = &kept[0].event.body else { panic!("{kept:?}") };
    assert!((reading.strength_pct - 23.3).abs() < 0.1 && reading.temp_c == Some(0.0));
    assert_eq!(reading.shown.as_deref(), Some("1.1855"));
    assert_eq!(reading.scale.as_deref(), Some("sg_60_60"));
    assert_eq!(reading.occasion, Some(yard::event::Occasion::AfterRain));
    let after = test.get("/bench?tank=1&saved=3").await.body;
    assert!(
        after.contains("Reading logged, row 3") && after.contains("23.3 % ± 0.3, Hydrometer 60/60 °F 1.1855"),
        "{after}"
    );
    // The console and the plan's evidence are one ledger.
    assert!(test.get("/put-right?tank=1").await.body.contains("Strength by the reading of"));
}

#[tokio::test]
async fn what_cannot_be_judged_is_said_and_nothing_is_logged() {
    let test = TestApp::new();
    let asked = |rest: &str| format!("/bench?tank=1&{rest}");
    let told = async |rest: &str| test.get(&asked(rest)).await.body;
    let no_temperature = told("instrument=hydrometer&reading=1.18").await;
    assert!(no_temperature.contains("temperature missing"), "{no_temperature}");
    let off = told("instrument=refractometer&reading=88&temp_f=60").await;
    assert!(off.contains("off the scale") && off.contains("salometer"), "{off}");
    let word = told("instrument=hydrometer&reading=strong&temp_f=60").await;
    assert!(word.contains("not a number") && word.contains("value=\"strong\""), "{word}");
    assert!(told("instrument=spoon&reading=1.18&temp_f=60").await.contains("hydrometer, refractometer"));
    assert!(told("instrument=hydrometer&reading=1.18&temp_f=60&level=roof").await.contains("outlet, middle"));
    assert!(
        test.get("/bench?tank=4&instrument=hydrometer&reading=1.18&temp_f=60")
            .await
            .body
            .contains("no tank of our own")
    );
    let frozen = told("instrument=hydrometer&reading=1.08&temp_f=10").await;
    assert!(frozen.contains("Doubtful"), "{frozen}");
    for form in [
        at_the_bench(&Uuid::now_v7().to_string(), "strong", "32"),
        at_the_bench(&Uuid::now_v7().to_string(), "1.35", "32"),
        at_the_bench(&Uuid::now_v7().to_string(), "1.18", ""),
        at_the_bench(&Uuid::now_v7().to_string(), "1.18", "60").replace("author=Pat", "author=+"),
    ] {
        assert_eq!(test.post("/bench", &form).await.status, StatusCode::UNPROCESSABLE_ENTITY, "{form}");
    }
    assert_eq!(test.ledger.head().unwrap().seq, 2, "nothing was logged");
}
