//! The bench's pages over HTTP: what is judged and logged, checked and signed off; what is asked about and not taken.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use axum::http::StatusCode;
use common::forms::{at_the_bench, id, sample, tap};
use common::{HERE, TestApp, get, with_cookie};
use event::Body;
use store::Ledger;
use uuid::Uuid;

/// Two instruments in one sample stand together; a third that does not belong is found.
#[tokio::test]
async fn several_instruments_in_one_sample() {
    let test = TestApp::new();
    let first = id();
    let logged = test.post("/bench", &sample(&first, "hydrometer", "1.1788", "60")).await.location.unwrap();
    let another = |instrument: &str| {
        format!("/bench?tank=1&sample={first}&level=outlet&occasion=usual&instrument={instrument}")
    };
    let page = test.get(&logged).await.page();
    assert_eq!(page.link("Add another instrument for this sample"), another("refractometer"));
    let second = id();
    let form = sample(&second, "refractometer", "26.3", "") + &format!("&sample={first}");
    let logged = test.post("/bench", &form).await.location.unwrap();
    let page = test.get(&logged).await.page();
    assert_eq!(page.text("#together"), "2 instruments together: 23.4% ±0.2. In spec.");
    assert_eq!(
        page.texts(".next .plain-list > li"),
        ["Hydrometer 60/60 °F: 23.4% ± 0.2", "Refractometer, °Brix: 23.4% ± 0.5"]
    );
    assert_eq!(page.link("Add another instrument for this sample"), another("hydrometer"));
    let form = sample(&id(), "refractometer", "28.9", "") + &format!("&sample={first}");
    let page = test.get(&test.post("/bench", &form).await.location.unwrap()).await.page();
    assert_eq!(page.text("#together"), "3 instruments together: 23.4% ±0.2. In spec.");
    page.shows(".next .act", "Refractometer, °Brix does not match the others and is left out. Check it.");
}

/// A check says what an instrument should show, and what its history says in a word; what is due is signed off by name.
#[tokio::test]
async fn instruments_are_checked_and_signed_off() {
    let test = TestApp::new();
    let instruments = async || test.get("/bench/instruments").await.page();
    // The word for each instrument, as its row has it.
    let words = async || instruments().await.texts(".rows > .row > b:nth-of-type(2)");
    assert_eq!(instruments().await.heading(), "2 checks are due.");
    assert_eq!(words().await, ["not checked yet", "not checked yet"]);
    assert_eq!(
        test.get("/bench").await.page().text(".due"),
        "Check due. Hydrometer 60/60 °F: check it in water or a known brine (last: none on file). See and sign off (1)"
    );
    let check = |shown: &str, rest: &str| {
        format!("entry_id={}&author=Pat&instrument=refractometer&shown={shown}&{rest}", id())
    };
    test.post("/bench/instruments/check", &check("0.1", "against=water&temp_f=68")).await;
    let kept = test.ledger.events_after(2).unwrap();
    let Body::InstrumentCheck(kept) = &kept[0].event.body else { panic!("{kept:?}") };
    assert!(kept.expected_reading.abs() < 0.01 && (kept.shown_reading - 0.1).abs() < 1e-9, "{kept:?}");
    assert_eq!(words().await, ["not checked yet", "steady"]);
    // 23.3 % at 20 °C is 26.2 °Brix by the handbook's index; a degree more is not the instrument's usual scatter.
    test.post("/bench/instruments/check", &check("27.3", "against=brine&known_pct=23.3&temp_f=68")).await;
    assert_eq!(words().await, ["not checked yet", "check now"]);
    let due = instruments().await.options("check");
    let (key, says) = due.iter().find(|(key, _)| key.starts_with("drift:")).unwrap();
    assert!(key.starts_with("drift:refractometer:"), "{key}");
    assert_eq!(
        says,
        "Refractometer, °Brix: the last check was off (1:00 PM Thu Jan 24). Clean it, zero or adjust it, and check it again before you release brine with it."
    );
    test.post(
        "/bench/instruments/check",
        &check("26.3", "against=brine&known_pct=23.3&temp_f=68&adjusted=yes"),
    )
    .await;
    assert_eq!(words().await, ["not checked yet", "just adjusted"]);
    for bad in [
        check("x", "against=water"),
        check("1", "against=brine"),
        check("1", "against=water").replace("refr", "x"),
    ] {
        let answer = test.post("/bench/instruments/check", &bad).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{bad}");
    }
    let changed = format!("entry_id={}&author=Lou&kind=water_change&what=town+water+again", id());
    test.post("/bench/change", &changed).await;
    let due = instruments().await.options("check");
    let (key, says) = due.iter().find(|(key, _)| key.starts_with("water:")).unwrap();
    assert_eq!(
        says,
        "Water changed 1:00 PM Thu Jan 24 (town water again): compare panel with bench on the next brine."
    );
    let seen = |done: &str| format!("entry_id={}&author=Lou&check={key}&done={done}", id());
    assert_eq!(test.post("/bench/due", &seen("")).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    test.post("/bench/due", &seen("panel+held+against+bench")).await;
    assert!(instruments().await.options("check").iter().all(|(other, _)| other != key));
}

/// The same reading twice, and a clock that went backwards, are asked about; nothing is lost.
#[tokio::test]
async fn doubles_and_clocks_are_asked_about() {
    let test = TestApp::new();
    let form = || sample(&id(), "hydrometer", "1.1785", "60");
    assert_eq!(test.post("/bench", &form()).await.status, StatusCode::SEE_OTHER);
    let twice = test.post("/bench", &form()).await;
    assert_eq!(
        twice.refusals(),
        [
            "reading = 1.1785: was already saved for this tank and instrument at 1:00 PM Thu Jan 24. Fix: confirm if it is another sample"
        ]
    );
    let asked = twice.page().form("bench");
    assert_eq!(asked.field("reading"), "1.1785");
    assert_eq!(test.post("/bench", &(form() + &asked.tick())).await.status, StatusCode::SEE_OTHER);
    let back = test.after_minutes(-60).post("/bench", &sample(&id(), "hydrometer", "1.18", "60")).await;
    assert_eq!(
        back.refusals(),
        [
            "clock = 12:00 PM Thu Jan 24: is earlier than the last ledger entry (1:00 PM Thu Jan 24): a clock is wrong. Fix: set this computer's clock; or confirm if the clock is right now"
        ]
    );
    assert_eq!(test.ledger.head().unwrap().seq, 4);
    // What gives no strength is kept in words.
    let off = test.post("/bench", &(sample(&id(), "hydrometer", "1.35", "60") + "&as_note=yes")).await;
    assert_eq!(off.status, StatusCode::SEE_OTHER, "{}", off.body);
    let kept = test.ledger.events_after(4).unwrap();
    let Body::Note(note) = &kept[0].event.body else { panic!("{kept:?}") };
    assert_eq!(
        note.text,
        "Questionable reading, tank 1: Hydrometer 60/60 °F showed 1.35 60 °F. reading 1.35 is not possible for salt brine on this scale (1.0000 to 1.2065); check the scale."
    );
}

/// A time of day typed is the last such time, in the yard's zone.
#[tokio::test]
async fn the_time_of_a_sample_may_be_typed() {
    let test = TestApp::new();
    // 13:00 in the yard.
    for (typed, kept) in [("12:40", "2013-01-24T17:40:00Z"), ("23:10", "2013-01-24T04:10:00Z")] {
        let form = sample(&id(), "hydrometer", "1.1785", "60") + &format!("&at={typed}");
        let answer = test.post("/bench", &form).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
        let last = test.ledger.events_after(test.ledger.head().unwrap().seq - 1).unwrap();
        assert_eq!(last[0].event.occurred_at.to_string(), kept);
    }
    let form = sample(&id(), "hydrometer", "1.1785", "60") + "&at=noon";
    assert_eq!(
        test.post("/bench", &form).await.refusals(),
        [
            "Time = noon: is not a time of day. Fix: enter 05:40, or a day with it like 2027-01-14 05:40, or leave it blank for now"
        ]
    );
}

/// Drying and titration give a strength that is logged as a reading; moisture is kept in words. Worked examples W13's
/// stoichiometry and W14: 500.0 g to 491.0 g is 1.8 %.
#[tokio::test]
async fn the_lab_works_out_what_was_weighed() {
    let test = TestApp::new();
    let asked = "method=drying&tank=1&sample_g=50&residue_g=11.65";
    let answered = async |asked: &str| test.get(&format!("/bench/lab?{asked}")).await.page().text("#answer");
    assert_eq!(answered(asked).await, "23.30% ±0.09. In spec.");
    let answer = test.post("/bench/lab", &format!("entry_id={}&author=Ines&{asked}", id())).await;
    assert_eq!(
        answer.location.as_deref(),
        Some("/bench/lab?method=drying&tank=1&saved=3"),
        "{}",
        answer.body
    );
    let kept = test.ledger.events_after(2).unwrap();
    let Body::Reading(reading) = &kept[0].event.body else { panic!("{kept:?}") };
    assert!(reading.instrument.as_deref() == Some("drying") && (reading.strength_pct - 23.3).abs() < 1e-9);
    let titrated = "method=titration&tank=1&nitrate_ml=39.87&molar=0.01&portion_g=0.1";
    assert_eq!(answered(titrated).await, "23.30% ±0.17. In spec.");
    let moist = "method=moisture&wet_g=500&dry_g=491";
    assert_eq!(answered(moist).await, "Salt moisture: 1.8% of wet weight.");
    test.post("/bench/lab", &format!("entry_id={}&author=Ines&{moist}", id())).await;
    for bad in [
        "method=drying&tank=1&sample_g=5&residue_g=6",
        "method=drying&tank=4&sample_g=5&residue_g=1",
        "method=drying&sample_g=x",
    ] {
        let answer = test.post("/bench/lab", &format!("entry_id={}&author=Ines&{bad}", id())).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{bad}");
    }
    assert_eq!(test.ledger.head().unwrap().seq, 4);
}

/// What a refractometer corrects for is sugar, and that is said, in one system of units.
#[tokio::test]
async fn a_scale_that_corrects_itself_says_what_for() {
    let test = TestApp::new();
    let us = test.get("/bench?tank=1").await.page().text(".temp-unasked");
    assert!(us.contains("from 50 °F to 86 °F. Its correction is made for sugar"), "{us}");
    assert!(!us.contains("°C"), "{us}");
    let si =
        test.send(HERE, with_cookie(get("/bench?tank=1"), "units=si")).await.page().text(".temp-unasked");
    assert!(si.contains("from 10.0 °C to 30.0 °C") && !si.contains("°F"), "{si}");
    // A sample of the plant's tap moves no tank, and none is named.
    let logged = test.post("/bench", &tap(&id(), "hydrometer", "1.1788", "60")).await.location.unwrap();
    assert_eq!(test.get(&logged).await.page().saved().as_deref(), Some("Reading saved, entry 3."));
}

/// 1.1855 on a 60/60 °F hydrometer is 23.3 % at 32 °F and 24.2 % at 60 °F (the project's table of readings).
/// Judged at once, logged once, remembered.
/// Two readings that agree are believed, and the next one leads to the correction with its own figures.
#[tokio::test]
async fn readings_that_agree_lead_to_the_correction() {
    let test = TestApp::new();
    for reading in ["1.1855", "1.1856"] {
        let answer = test.post("/bench", &at_the_bench(&Uuid::now_v7().to_string(), reading, "60")).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
    }
    let page = test.get("/bench?tank=1&instrument=hydrometer&reading=1.1855&temp_f=60").await.page();
    let right = "/put-right?tank=1&strength_pct=24.20&uncertainty_pct=0.24";
    assert_eq!(page.link("Correct this tank"), right);
}

#[tokio::test]
async fn a_reading_is_judged_and_logged_once() {
    let test = TestApp::new();
    let asked = "/bench?tank=1&instrument=hydrometer&reading=1.1855&temp_f=";
    let cold = test.get(&format!("{asked}32")).await.page();
    assert_eq!(cold.text("#answer"), "In spec: 23.3% ±0.3.");
    cold.shows("summary", "Where the ± comes from");
    assert_eq!(
        cold.row("main table", "Combined, times 1.96 (95% sure)"),
        ["Combined, times 1.96 (95% sure)", "± 0.28"]
    );
    assert!(!cold.has("main a[href^=\"/put-right\"]"), "nothing is to be put right");
    let warm = test.get(&format!("{asked}60")).await.page();
    assert_eq!(warm.text("#answer"), "Too strong: 24.2% ±0.2.");
    // Far from what the tank should be at: a second sample first, and nothing is corrected on this one.
    warm.shows(
        ".next p.act",
        "This tank should be at 23.2%. Take a second sample before you change anything.",
    );
    assert!(!warm.has("main a[href^=\"/put-right\"]"), "{warm}");
    let id = Uuid::now_v7().to_string();
    let form = at_the_bench(&id, "1.1855", "32");
    let figures = || {
        let books = test.app.books().unwrap();
        let shown = books.standing(&test.app.yard, "1").unwrap().strength.unwrap().value;
        (shown, books.tank("1").unwrap().content.clone())
    };
    let (shown_before, book_before) = figures();
    for _ in 0..2 {
        let answer = test.post("/bench", &form).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
        assert_eq!(answer.location.as_deref(), Some(format!("/bench?tank=1&saved=3&logged={id}").as_str()));
    }
    assert_eq!(test.ledger.head().unwrap().seq, 3);
    let kept = test.ledger.events_after(2).unwrap();
    let Body::Reading(reading) = &kept[0].event.body else { panic!("{kept:?}") };
    assert!((reading.strength_pct - 23.3).abs() < 0.1 && reading.temp_c == Some(0.0));
    assert_eq!(reading.shown.as_deref(), Some("1.1855"));
    assert_eq!(reading.scale.as_deref(), Some("sg_60_60"));
    assert_eq!(reading.occasion, Some(event::Occasion::AfterRain));
    let (shown_after, book_after) = figures();
    assert_ne!(shown_after, shown_before, "what pages show takes it in");
    assert_eq!(book_after, book_before, "the book does not");
    let after = test.get("/bench?tank=1&saved=3").await.page();
    let said = "Reading saved, entry 3. The tank's strength on the pages uses it; the book is not changed.";
    assert_eq!(after.saved().as_deref(), Some(said));
    assert_eq!(
        after.texts(".plain-list > li"),
        ["1:00 PM Thu Jan 24: 23.3% ± 0.3, Hydrometer 60/60 °F 1.1855, Pat"]
    );
    // The console and the plan's evidence are one ledger.
    let right = test.get("/put-right?tank=1").await.page();
    right.shows("#ask p", "Strength from the reading of 1:00 PM Thu Jan 24.");
    assert_eq!(right.field("strength_pct"), "23.31");
}

#[tokio::test]
async fn what_cannot_be_judged_is_said_and_nothing_is_logged() {
    let test = TestApp::new();
    let told = async |rest: &str| test.get(&format!("/bench?{rest}")).await.page();
    let no_temperature = told("tank=1&instrument=hydrometer&reading=1.18").await;
    assert_eq!(
        no_temperature.text("#answer"),
        "No strength from this reading. enter the sample temperature: this instrument needs it."
    );
    let off = told("tank=1&instrument=refractometer&reading=88&temp_f=60").await;
    assert_eq!(
        off.text("#answer"),
        "No strength from this reading. reading 88 is not possible for salt brine on this scale (0.0127 to 29.9992); check the scale."
    );
    off.shows(
        ".next p",
        "would make sense on another scale: salometer, 60 °F and salometer, 38 °F. Did you read it there?",
    );
    let word = told("tank=1&instrument=hydrometer&reading=strong&temp_f=60").await;
    assert_eq!(word.form("bench-ask").field("reading"), "strong");
    for (asked, fault) in [
        (
            "tank=1&instrument=hydrometer&reading=strong",
            "Reading = strong: is not a number. Fix: type a number like 2000 or 23.3, no commas",
        ),
        (
            "tank=1&instrument=spoon&reading=1.18",
            "instrument = spoon: not known; accepted: hydrometer, refractometer",
        ),
        (
            "tank=1&instrument=hydrometer&reading=1.18&level=roof",
            "level = roof: not known; accepted: outlet, middle, top, bottom",
        ),
        (
            "tank=4&instrument=hydrometer&reading=1.18",
            "tank = 4: no tank of our own brine; accepted: 1, 2, 3",
        ),
    ] {
        assert_eq!(told(&format!("{asked}&temp_f=60")).await.problems(), [fault]);
    }
    let frozen = told("tank=1&instrument=hydrometer&reading=1.08&temp_f=10").await;
    frozen.shows(
        "main p.act",
        "Questionable: this brine is partly frozen at 10 °F; it is all liquid only above 20 °F. It will be saved as questionable. Take another sample.",
    );
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
