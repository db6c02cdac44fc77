//! Load-out and the books, page by page: what a person types, what is recorded, what is refused, what is reported.
//!
//! Outside checks: 9.81 lb a gallon of 23.3 % brine and 1,389 lb of chloride in 1,000 gal (worked examples W36, W41:
//! AASHTO M 143-14 and atomic weights); moisture bands W14 (MnDOT).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use axum::http::StatusCode;
use common::{Answer, ELSEWHERE, TestApp, post, text_of, tick_of};
use store::Ledger;
use uuid::Uuid;
use yard::event::Body;

fn id() -> String {
    Uuid::now_v7().to_string()
}

/// Text of a page without its marks, blanks joined.
fn text(answer: &Answer) -> String {
    text_of(&answer.body)
}

/// Logs a reading of tank 1 in spec, so that it may be loaded from.
async fn measured(test: &TestApp) {
    let form = format!(
        "entry_id={}&tank=1&instrument=hydrometer&reading=1.1775&temp_f=60&author=Pat&level=outlet&occasion=usual",
        id()
    );
    let answer = test.post("/bench", &form).await;
    assert!(answer.status.is_success() || answer.status.is_redirection(), "{}", text(&answer));
}

fn load(entry: &str, more: &str) -> String {
    format!("entry_id={entry}&truck=T1&tank=1&route=R1&how=meter&author=Pat{more}")
}

#[tokio::test]
async fn a_load_a_ticket_a_return_and_the_storm_report() {
    let test = TestApp::new();
    measured(&test).await;
    let entry = id();
    for _ in 0..2 {
        let answer = test.post("/load", &load(&entry, "&volume_gal=1000&planned_gal=1100")).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", text(&answer));
        assert!(answer.location.as_deref().unwrap().starts_with("/ticket?row="));
    }
    let row = test.ledger.head().unwrap().seq;
    let ticket = test.get(&format!("/ticket?row={row}&saved={row}")).await;
    let told = text(&ticket);
    assert!(told.contains(&format!("Load ticket {row}")) && told.contains("1,000 gal"), "{told}");
    // 1,000 gal of 23.2 % weigh 9,810 lb within a few pounds, and hold 1,385 lb of chloride.
    let mass: f64 = told
        .split("1,000 gal ")
        .nth(1)
        .and_then(|rest| rest.split(" lb").next())
        .and_then(|number| number.replace(',', "").parse().ok())
        .unwrap();
    assert!((mass / 9805.0 - 1.0).abs() < 0.002, "{mass}");
    assert!(told.contains("Axles 2 to 3") && told.contains("to spare"), "{told}");
    assert!(ticket.body.contains("<svg class=\"qr\"") && told.contains("Overweight is yours"));
    // It comes back with 300 gal; the form knows which truck and which tank.
    let form = test.get("/load/return").await;
    assert!(form.body.contains("value=\"T1\" checked") && form.body.contains("value=\"1\" checked"));
    let back = format!("entry_id={}&truck=T1&tank=1&volume_gal=300&how=marks&author=Pat", id());
    assert_eq!(test.post("/load/return", &back).await.status, StatusCode::SEE_OTHER);
    let events = test.ledger.events_after(row).unwrap();
    let Body::ReturnToTank(recorded) = &events[0].event.body else { panic!("{events:?}") };
    assert!(recorded.load.is_some(), "it knows its load");
    let applied = format!(
        "entry_id={}&route=R1&treated=liquid&truck=T1&volume_gal=700&lane_mi=28&duration_h=2&author=Lou",
        id()
    );
    let answer = test.post("/load/applied", &applied).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", text(&answer));
    let storms = test.get("/books/storms").await;
    assert!(text(&storms).contains("Not named"), "{}", text(&storms));
    let begin = "/books/storms?begin=2013-01-24T17:00:00Z&end=2013-01-24T19:00:00Z&name=Try";
    let report = text(&test.get(begin).await);
    assert!(report.contains("Try") && report.contains("R1 Mill Road and the bridge"), "{report}");
    assert!(
        report.contains("700 gal") && report.contains("Of what was planned, 91 % was loaded"),
        "{report}"
    );
    // The same as a file.
    let file =
        test.get("/books/file?as=csv&table=routes&begin=2013-01-24T17:00:00Z&end=2013-01-24T19:00:00Z").await;
    let line = file.body.lines().find(|line| line.starts_with("R1")).unwrap();
    let liquid: f64 = line.split(',').nth(4).unwrap().parse().unwrap();
    assert!((liquid - 700.0).abs() < 1.0, "{line}");
    let sheet = test.get("/books/file?as=xlsx").await;
    assert!(sheet.status.is_success() && sheet.body.starts_with("PK"));
}

#[tokio::test]
async fn a_tank_that_is_not_measured_is_loaded_from_with_a_reason_only() {
    let test = TestApp::new();
    let entry = id();
    let before = test.ledger.head().unwrap().seq;
    let answer = test.post("/load", &load(&entry, "&volume_gal=500")).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    let told = text(&answer);
    assert!(told.contains("was not measured since it was filled"), "{told}");
    // What was typed stands there still, with the same id; a tick alone is no reason.
    assert!(answer.body.contains("value=\"500\"") && answer.body.contains(&entry));
    let answer = test.post("/load", &load(&entry, "&volume_gal=500&confirm=yes")).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(test.ledger.head().unwrap().seq, before, "nothing was recorded");
    let reason = "&volume_gal=500&override_reason=ice+on+the+bridge";
    assert_eq!(test.post("/load", &load(&entry, reason)).await.status, StatusCode::SEE_OTHER);
    let ticket = text(&test.get(&format!("/ticket?row={}", before + 1)).await);
    assert!(ticket.contains("Pat: ice on the bridge"), "{ticket}");
    let report = text(&test.get("/books").await);
    assert!(report.contains("Loaded against an objection"), "{report}");
}

#[tokio::test]
async fn what_cannot_be_or_is_unlikely_is_said_in_words() {
    let test = TestApp::new();
    measured(&test).await;
    let before = test.ledger.head().unwrap().seq;
    for (form, expect) in [
        ("truck=T1&tank=1&volume_gal=2500&how=meter", "more than the truck"),
        (
            "truck=T1&tank=2&volume_gal=500&how=meter&override_reason=needed+now",
            "what is thought to be in the tank",
        ),
        ("truck=T1&tank=1&volume_gal=500&how=meter&override_reason=.", "is no reason"),
        ("truck=T1&tank=1&volume_gal=0&how=meter", "must be above zero"),
        ("truck=T1&tank=1&volume_gal=-5&how=meter", "below zero"),
        ("truck=T1&tank=1&volume_gal=lots&how=meter", "not a number"),
        ("truck=T9&tank=1&volume_gal=500&how=meter", "no such truck"),
        ("truck=T1&tank=7&volume_gal=500&how=meter", "no such tank"),
        ("truck=T1&tank=1&how=meter", "is needed"),
        // By the name on the form.
        ("truck=T1&tank=1&how=meter", "How much is empty"),
        ("truck=T1&tank=1&volume_gal=500&how=guess", "no such how"),
        ("truck=T1&tank=1&volume_gal=1500&hopper_lb=20000&how=meter", "allowed"),
        ("truck=T1&tank=1&volume_gal=500&weighed_lb=15000&how=meter", "weighs"),
        ("truck=T1&tank=1&volume_gal=500&how=meter&at=2013-01-25+05:00", "still to come"),
        ("truck=T1&tank=1&volume_gal=500&how=meter&at=yesterday", "not a time of day"),
    ] {
        let answer = test.post("/load", &format!("entry_id={}&author=Pat&{form}", id())).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{form}");
        assert!(text(&answer).contains(expect), "{form}: {}", text(&answer));
    }
    // What happened all the same is recorded after a tick, and flagged in the report.
    let over = format!("entry_id={}&author=Pat&truck=T1&tank=1&volume_gal=2500&how=meter", id());
    let tick = tick_of(&test.post("/load", &over).await.body);
    // The tick is for what was asked: other figures are asked about again.
    let other = over.replace("2500", "2600");
    let answer = test.post("/load", &format!("{other}{tick}")).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        test.post("/load", &format!("{over}&confirm=yes")).await.status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    assert_eq!(test.post("/load", &format!("{over}{tick}")).await.status, StatusCode::SEE_OTHER);
    assert_eq!(test.ledger.head().unwrap().seq, before + 1);
    let report = text(&test.get("/books").await);
    assert!(
        report.contains("more than the truck's tank holds")
            || report.contains("more than the truck&#39;s tank holds"),
        "{report}"
    );
    // More than it took cannot come back without a tick; nor can the same paper ticket stand twice.
    let back = format!("entry_id={}&truck=T2&tank=1&volume_gal=1900&how=marks&author=Pat", id());
    let answer = test.post("/load/return", &back).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", text(&answer));
    for (volume, status) in [(100, StatusCode::SEE_OTHER), (120, StatusCode::UNPROCESSABLE_ENTITY)] {
        let form =
            format!("entry_id={}&author=Pat&truck=T4&tank=1&volume_gal={volume}&how=meter&ticket=A7", id());
        assert_eq!(test.post("/load", &form).await.status, status, "{volume}");
    }
}

#[tokio::test]
async fn what_is_wrong_is_said_in_the_readers_language() {
    let test = TestApp::new();
    measured(&test).await;
    for (form, english, spanish, french) in [
        ("truck=T9&tank=1&volume_gal=500&how=meter", "no such truck", "no existe", "n’existe pas"),
        ("truck=T1&tank=1&volume_gal=2500&how=meter", "more than the truck", "más que", "plus que"),
        (
            "truck=T1&tank=1&volume_gal=0&how=meter",
            "must be above zero",
            "debe ser mayor",
            "au-dessus de zéro",
        ),
        (
            "truck=T1&tank=1&volume_gal=lots&how=meter",
            "not a number",
            "no es un número",
            "ce n’est pas un nombre",
        ),
        (
            "truck=T1&tank=1&volume_gal=5&how=meter&at=2013-01-25+05:00",
            "still to come",
            "todavía no llega",
            "à venir",
        ),
    ] {
        for (language, wanted) in [("en", english), ("es", spanish), ("fr", french)] {
            let request = post("/load", &format!("entry_id={}&author=Pat&{form}", id()));
            let answer =
                test.send(common::HERE, common::with_cookie(request, &format!("language={language}"))).await;
            assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{form}");
            let said = text(&answer);
            let is_english = said.contains("accepted:") || said.contains(english);
            assert!(!is_english || language == "en", "{language} {form}: {:?}", said.split(english).nth(1));
            assert!(said.contains(wanted) && (language == "en" || !is_english), "{language} {form}: {said}");
        }
    }
}

#[tokio::test]
async fn a_month_that_is_closed_takes_entries_with_a_flag() {
    let test = TestApp::new();
    measured(&test).await;
    let close = format!("entry_id={}&author=Ines&month=2013-01", id());
    let early = test.post("/books/close", &close).await;
    assert_eq!(early.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&early).contains("is not over yet"));
    let close = format!("{close}{}", tick_of(&early.body));
    assert_eq!(test.post("/books/close", &close).await.status, StatusCode::SEE_OTHER);
    let wrong = test.post("/books/close", &format!("entry_id={}&author=Ines&month=January", id())).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&wrong).contains("is not a month"));
    // A day later, an entry for the day before.
    let later = test.after_minutes(24 * 60);
    let form = load(&id(), "&volume_gal=400&at=2013-01-24+12:30");
    let answer = later.post("/load", &form).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", text(&answer));
    assert!(text(&answer).contains("whose books were closed"), "{}", text(&answer));
    let form = format!("{form}{}", tick_of(&answer.body));
    assert_eq!(later.post("/load", &form).await.status, StatusCode::SEE_OTHER);
    let report = text(&later.get("/books").await);
    assert!(report.contains("after the books of 2013-01 were closed"), "{report}");
}

#[tokio::test]
async fn by_weight_alone() {
    let test = TestApp::new();
    measured(&test).await;
    let answer =
        test.post("/load", &load(&id(), "&weighed_lb=9805").replace("how=meter", "how=weight")).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", text(&answer));
    let row = test.ledger.head().unwrap().seq;
    let events = test.ledger.events_after(row - 1).unwrap();
    let Body::LoadOut(recorded) = &events[0].event.body else { panic!() };
    let gallons = recorded.volume_m3 / 0.003_785_411_784;
    assert!((gallons - 1000.0).abs() < 2.0, "9.805 lb a gallon: {gallons}");
}

#[tokio::test]
async fn what_the_meter_shows_counts_times_its_factor() {
    let test = TestApp::new();
    measured(&test).await;
    let factor = "rolls_over_gal = 1000000\nfactor = 1.02";
    let yard = test.in_yard(|yard| yard.replace("rolls_over_gal = 1000000", factor));
    for (more, shown, counts) in [
        ("&volume_gal=1000", Some(1000.0), 1020.0),
        // By a dip of the tank, no meter comes in.
        ("&volume_gal=500&how=dip", None, 500.0),
    ] {
        let form = match more.contains("how") {
            true => load(&id(), more).replace("&how=meter", ""),
            false => load(&id(), more),
        };
        let answer = yard.post("/load", &form).await;
        let tick = if answer.status.is_redirection() { String::new() } else { tick_of(&answer.body) };
        if !tick.is_empty() {
            let answer = yard.post("/load", &format!("{form}{tick}")).await;
            assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", text(&answer));
        }
        let row = test.ledger.head().unwrap().seq;
        let events = test.ledger.events_after(row - 1).unwrap();
        let Body::LoadOut(recorded) = &events[0].event.body else { panic!() };
        let gallons = |m3: f64| m3 / 0.003_785_411_784;
        assert!((gallons(recorded.volume_m3) - counts).abs() < 1e-6, "{more}");
        assert_eq!(recorded.metered_m3.map(|m3| gallons(m3).round()), shown, "{more}");
    }
}

#[tokio::test]
async fn another_agency_gets_a_bill() {
    let test = TestApp::new();
    measured(&test).await;
    let issue =
        format!("entry_id={}&agency=School+district&tank=1&volume_gal=200&how=meter&author=Ines", id());
    let answer = test.post("/load/issue", &issue).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", text(&answer));
    let list = test.get("/books/bills").await;
    assert!(text(&list).contains("School district, 2013-01"));
    for link in list.body.split("href=\"").skip(1).filter_map(|rest| rest.split('"').next()) {
        if link.starts_with("/books/bills?") {
            assert_eq!(test.get(&link.replace("&amp;", "&")).await.status, StatusCode::OK, "{link}");
        }
    }
    for until in ["9999-12-30", "9999-12-31", "0001-01-01", "-9999-01-01"] {
        let status = test.get(&format!("/books?until={until}")).await.status;
        assert!(status.is_success() || status.is_client_error(), "{until}: {status}");
    }
    let bill = text(&test.get("/books/bills?agency=School+district&month=2013-01").await);
    // 200 gal at 40 cents.
    assert!(bill.contains("80.00") && bill.contains("School district, grounds office"), "{bill}");
    assert_eq!(test.get("/books/bills?agency=Nobody&month=2013-01").await.status, StatusCode::NOT_FOUND);
    assert_eq!(
        test.get("/books/bills?agency=School+district&month=13").await.status,
        StatusCode::BAD_REQUEST
    );
}

#[tokio::test]
async fn salt_is_received_by_the_contract() {
    let test = TestApp::new();
    // W14: 500.0 g wet, 491.0 g dry: 1.8 %, 5 % off.
    let form = format!(
        "entry_id={}&author=Lou&mass_tons=25&ticket=S-9&order=winter&wet=500.0&dry=491.0&price_usd=1800",
        id()
    );
    let answer = test.post("/salt", &form).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", text(&answer));
    let page = text(&test.get("/salt").await);
    assert!(page.contains("Take 5 % off the price: $90.00") && page.contains("1.8 %"), "{page}");
    assert!(page.contains("winter") && page.contains("Samples needed"), "{page}");
    for (more, expect) in [
        ("&wet=500", "weighed twice"),
        ("&wet=500&dry=510", "more than the sample weighed as it came"),
        ("&wet=500&dry=491&moisture_pct=1.8", "and so is what it is worked out from"),
        ("&wet=heavy&dry=491", "= heavy"),
    ] {
        let answer = test.post("/salt", &format!("entry_id={}&author=Lou&mass_tons=25{more}", id())).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{more}");
        assert!(text(&answer).contains(expect), "{more}: {}", text(&answer));
    }
    let buckets = format!("entry_id={}&author=Lou&to=trucks&buckets_number=4", id());
    assert_eq!(test.post("/salt/buckets", &buckets).await.status, StatusCode::SEE_OTHER);
    let survey = format!("entry_id={}&author=Lou&mass_tons=80&uncertainty_pct=6", id());
    assert_eq!(test.post("/salt/survey", &survey).await.status, StatusCode::SEE_OTHER);
    // 4 buckets of 5,400 lb are 10.8 tons.
    let page = text(&test.get("/salt").await);
    assert!(
        page.contains("4 buckets counted this season, 10.8 tons") && page.contains("80.0 tons, within 6 %"),
        "{page}"
    );
}

#[tokio::test]
async fn meters_sprayers_and_chores_are_recorded() {
    let test = TestApp::new();
    for total in ["1000", "1500"] {
        let form = format!("entry_id={}&author=Ines&meter=loading&total_gal={total}", id());
        assert_eq!(test.post("/meters", &form).await.status, StatusCode::SEE_OTHER);
    }
    let back = format!("entry_id={}&author=Ines&meter=water+main&total_gal=900", id());
    assert_eq!(test.post("/meters", &back).await.status, StatusCode::SEE_OTHER);
    let back = format!("entry_id={}&author=Ines&meter=water+main&total_gal=850", id());
    let answer = test.post("/meters", &back).await;
    assert!(text(&answer).contains("went backward"), "{}", text(&answer));
    // 500 gal of water shown weigh as 515 gal do (8.337 lb a gallon).
    let check =
        format!("entry_id={}&author=Ines&meter=loading&shown_gal=500&weighed_lb=4293.6&strength_pct=0", id());
    assert_eq!(test.post("/meters/check", &check).await.status, StatusCode::SEE_OTHER);
    let page = text(&test.get("/meters").await);
    assert!(page.contains("true volume is 1.030") && page.contains("500"), "{page}");
    let caught = format!(
        "entry_id={}&author=Lou&truck=T1&liquid=water&caught_floz=64+64+64+75&catch_s=15&\
         lanes_number=1&pressure_psi=40",
        id()
    );
    let answer = test.post("/sprayers", &caught).await;
    assert_eq!(answer.location.as_deref(), Some("/sprayers/card?truck=T1"), "{}", text(&answer));
    let card = text(&test.get("/sprayers/card?truck=T1").await);
    assert!(card.contains("Nozzle 4 is 17 % off the others") && card.contains("At 40 psi"), "{card}");
    let chore = format!("entry_id={}&author=Lou&chore=wash-bay&done=sump+empty", id());
    assert_eq!(test.post("/due", &chore).await.status, StatusCode::SEE_OTHER);
    assert!(text(&test.get("/due").await).contains("Lou: sump empty"));
    let chore = format!("entry_id={}&author=Lou&chore=nothing&done=x", id());
    assert!(text(&test.post("/due", &chore).await).contains("no such chore"));
}

#[tokio::test]
async fn rows_are_pasted_whole_or_not_at_all() {
    let test = TestApp::new();
    let before = test.ledger.head().unwrap().seq;
    let rows = |text: &str| serde_urlencoded::to_string([("author", "Lou"), ("rows", text)]).unwrap();
    let bad = "at,route,treated,salt_lb\n2013-01-24 05:00,R1,dry,500\n2013-01-24 06:00,R77,dry,500\n";
    let answer = test.post("/load/import", &rows(bad)).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&answer).contains("line 3: route = R77") && answer.body.contains("R77,dry"));
    assert_eq!(test.ledger.head().unwrap().seq, before);
    let good = "at,route,treated,salt_lb\n2013-01-24 05:00,R1,dry,500\n2013-01-24 06:00,R2,dry,500\n";
    for _ in 0..2 {
        let answer = test.post("/load/import", &rows(good)).await;
        assert!(answer.status.is_success(), "{}", text(&answer));
    }
    assert_eq!(test.ledger.head().unwrap().seq, before + 2, "the same rows are the same entries");
    // It came from elsewhere: one may only look.
    let answer = test.send(ELSEWHERE, post("/load/import", &rows(good))).await;
    assert_eq!(answer.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn lots_and_the_night_plan() {
    let test = TestApp::new();
    measured(&test).await;
    let made = format!("entry_id={}&tank=1&reason=x&volume_gal=10&author=Pat", id());
    assert_eq!(test.post("/load/other?what=loss", &made).await.status, StatusCode::SEE_OTHER);
    assert_eq!(test.post("/load", &load(&id(), "&volume_gal=600")).await.status, StatusCode::SEE_OTHER);
    let events = test.ledger.events_after(0).unwrap();
    let last = events.last().unwrap().event.id;
    let page = text(&test.get(&format!("/books/lots?event={last}")).await);
    assert!(page.contains("What this load was made of") && page.contains("100.0 %"), "{page}");
    let opening = events[0].event.id;
    let page = text(&test.get(&format!("/books/lots?event={opening}")).await);
    assert!(
        page.contains("truck T1, R1 Mill Road and the bridge") && page.contains("still in tank 1"),
        "{page}"
    );
    assert!(text(&test.get("/books/lots?tank=1").await).contains("What tank 1 is made of"));
    assert_eq!(test.get("/books/lots?tank=99").await.status, StatusCode::NOT_FOUND);
    assert_eq!(test.get("/books/lots?event=that").await.status, StatusCode::BAD_REQUEST);
    let night = text(&test.get("/night").await);
    for part in ["Stock", "Loads, in order", "555 0142", "R1 Mill Road", "Never enter a hopper", "power goes"]
    {
        assert!(night.contains(part), "{part}: {night}");
    }
}

#[tokio::test]
async fn text_stays_text_on_every_page_and_in_every_file() {
    let test = TestApp::new();
    let evil = "%3Cscript%3Ealert(1)%3C%2Fscript%3E";
    let formula = "%3DHYPERLINK(1)";
    let form = load(&id(), &format!("&volume_gal=500&override_reason={formula}&ticket={evil}"));
    assert_eq!(test.post("/load", &form).await.status, StatusCode::SEE_OTHER);
    let row = test.ledger.head().unwrap().seq;
    let storm =
        format!("entry_id={}&author={evil}&name={evil}&at=2013-01-24+12:00&until=2013-01-24+12:50", id());
    assert_eq!(test.post("/books/storms", &storm).await.status, StatusCode::SEE_OTHER);
    for path in
        ["/books/storms", "/books", "/load", "/ledger", &format!("/ticket?row={row}"), "/books/lots", "/due"]
    {
        let page = test.get(path).await;
        assert!(page.status.is_success() && !page.body.contains("<script>alert"), "{path}");
    }
    let csv = test.get("/books/file?as=csv&table=overrides").await.body;
    assert!(csv.contains("'=HYPERLINK(1)"), "{csv}");
    let backward = format!("entry_id={}&author=Ines&name=x&at=2013-01-24+12:00&until=2013-01-24+11:00", id());
    let answer = test.post("/books/storms", &backward).await;
    assert!(text(&answer).contains("ends after it begins"), "{}", text(&answer));
    let stranger = load(&id(), "&volume_gal=500&volume=5");
    assert_eq!(test.post("/load", &stranger).await.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn nothing_to_report_is_said() {
    let test = TestApp::new();
    assert!(text(&test.get("/books/close").await).contains("Nobody can say yet"));
    assert!(text(&test.get("/books/bills").await).contains("Nothing was issued"));
    assert!(text(&test.get("/books/storms").await).contains("No storm yet"));
    assert_eq!(test.get("/ticket?row=1").await.status, StatusCode::NOT_FOUND, "a settlement has no ticket");
    assert_eq!(test.get("/ticket?row=99").await.status, StatusCode::NOT_FOUND);
    assert_eq!(test.get("/books?from=2013-02-01&until=2013-01-01").await.status, StatusCode::BAD_REQUEST);
    assert_eq!(test.get("/books?from=soon").await.status, StatusCode::BAD_REQUEST);
    assert_eq!(test.get("/books/file?as=csv&table=nothing").await.status, StatusCode::NOT_FOUND);
    assert_eq!(test.get("/sprayers/card?truck=T1").await.status, StatusCode::NOT_FOUND);
}
