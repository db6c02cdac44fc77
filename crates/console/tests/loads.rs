//! Load-out over HTTP: what a person types, what is recorded, what is refused and why, in each language.
//!
//! Outside checks: 9.81 lb a gallon of 23.3 % brine and 1,389 lb of chloride in 1,000 gal (worked examples W36, W41:
//! AASHTO M 143-14 and atomic weights).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use axum::http::StatusCode;
use common::forms::{id, load, measured};
use common::page::number;
use common::{ELSEWHERE, TestApp, post};
use event::Body;
use store::Ledger;

#[tokio::test]
async fn a_load_a_ticket_a_return_and_the_storm_report() {
    let test = TestApp::new();
    measured(&test).await;
    let entry = id();
    for _ in 0..2 {
        let answer = test.post("/load", &load(&entry, "&volume_gal=1000&planned_gal=1100")).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
        assert!(answer.location.as_deref().unwrap().starts_with("/ticket?row="));
    }
    let row = test.ledger.head().unwrap().seq;
    let ticket = test.get(&format!("/ticket?row={row}&saved={row}")).await;
    let ticket = ticket.page();
    assert_eq!(ticket.heading(), format!("Load ticket {row}"));
    assert_eq!(ticket.saved(), Some(format!("Saved. Entry {row}.")));
    let big = ticket.texts(".big > b");
    assert_eq!([&big[0], &big[2]], ["1,000 gal", "23.2%"]);
    // 1,000 gal of 23.2 % weigh 9,810 lb within a few pounds, and hold 1,385 lb of chloride.
    assert!(big[1].ends_with(" lb") && (number(&big[1]) / 9805.0 - 1.0).abs() < 0.002, "{big:?}");
    assert_eq!(
        ["Truck", "From tank", "Planned amount", "Chloride"].map(|name| ticket.fact(name)),
        ["T1", "1", "1,100 gal", "1,380 lb"]
    );
    ticket.shows("li", "Axles 2 to 3: 23,444 lb of 34,000 lb, 10,556 lb to spare (tandem limit)");
    assert_eq!(ticket.count(".ticket-qr > svg.qr"), 1);
    assert_eq!(ticket.text(".ticket-qr > figcaption"), format!("http://localhost/ticket?row={row}"));
    ticket.shows(
        ".safe summary",
        "Safety. You are responsible for legal weight. If in doubt, scale it. Local limits apply.",
    );
    // It comes back with 300 gal; the form knows which truck and which tank.
    let form = test.get("/load/return").await.page().form("return");
    assert_eq!([form.field("truck"), form.field("tank")], ["T1", "1"]);
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
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
    let storms = test.get("/books/storms").await.page();
    assert_eq!(storms.texts(".picks a")[0], "No name: 1:00 PM Thu Jan 24 to 1:00 PM Thu Jan 24");
    let begin = "/books/storms?begin=2013-01-24T17:00:00Z&end=2013-01-24T19:00:00Z&name=Try";
    let report = test.get(begin).await.page();
    assert_eq!(report.heading(), "Try");
    assert_eq!(report.fact("liquid applied"), "700 gal");
    let route = ["R1 Mill Road and the bridge", "1", "1", "28.0", "700", "1,100", "1,594", "0", "967", "2.0"];
    assert_eq!(report.row("#routes table", route[0]), route);
    report.shows("#routes .soft", "91% of the planned amount was loaded.");
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
    let unmeasured = "Reason for loading untested or off-spec brine = 1: has not been tested since it last changed. Fix: test it first; or enter a reason for the override";
    assert_eq!(answer.refusals(), [unmeasured]);
    // What was typed stands there still, with the same id; a tick alone is no reason.
    let form = answer.page().form("load");
    assert_eq!([form.field("volume_gal"), form.field("entry_id")], ["500", &entry]);
    let answer = test.post("/load", &load(&entry, "&volume_gal=500&confirm=yes")).await;
    assert_eq!(answer.refusals(), [unmeasured]);
    assert_eq!(test.ledger.head().unwrap().seq, before, "nothing was recorded");
    let reason = "&volume_gal=500&override_reason=ice+on+the+bridge";
    assert_eq!(test.post("/load", &load(&entry, reason)).await.status, StatusCode::SEE_OTHER);
    let ticket = test.get(&format!("/ticket?row={}", before + 1)).await.page();
    assert_eq!(ticket.text(".told.act"), "OVERRIDE: brine not confirmed in spec. Pat: ice on the bridge");
    let report = test.get("/books").await.page();
    assert_eq!(report.text("#overrides summary"), "Loaded with an override");
    let row = (before + 1).to_string();
    assert_eq!(
        report.rows("#overrides table"),
        [[row.as_str(), "1:00 PM Thu Jan 24", "1", "T1", "Pat", "ice on the bridge"]]
    );
}

#[tokio::test]
async fn what_cannot_be_or_is_unlikely_is_said_in_words() {
    let test = TestApp::new();
    measured(&test).await;
    let before = test.ledger.head().unwrap().seq;
    let beyond_tank =
        "Amount = 2,500 gal: is more than the truck's tank, 1,800 gal. Fix: confirm if it is correct";
    let too_heavy = "Amount = 2,500 gal: weighs 12.3 tons; the truck limit is 18,000 lb. Fix: load less; or confirm if it was loaded that way";
    // By the name on the form.
    let empty = "Amount is blank: is required. Fix: use one of: volume_m3, volume_l, volume_gal";
    let when = "Fix: enter 05:40, or a day with it like 2027-01-14 05:40, or leave it blank for now";
    for (form, faults) in [
        ("truck=T1&tank=1&volume_gal=2500&how=meter", vec![beyond_tank, too_heavy]),
        (
            "truck=T1&tank=2&volume_gal=500&how=meter&override_reason=needed+now",
            vec![
                "Amount = 500 gal: is more than the tank should have in it, 0 gal. Fix: confirm if it is correct",
            ],
        ),
        (
            "truck=T1&tank=1&volume_gal=500&how=meter&override_reason=.",
            vec![
                "Reason for loading untested or off-spec brine = .: is not a reason. Fix: say in words why it was loaded anyway",
            ],
        ),
        (
            "truck=T1&tank=1&volume_gal=0&how=meter",
            vec!["Amount = 0: must be above zero. Fix: enter more than zero"],
        ),
        (
            "truck=T1&tank=1&volume_gal=-5&how=meter",
            vec!["Amount = -5: is below zero. Fix: enter zero or more; to undo an entry, void it"],
        ),
        (
            "truck=T1&tank=1&volume_gal=lots&how=meter",
            vec!["Amount = lots: is not a number. Fix: type a number like 2000 or 23.3, no commas"],
        ),
        (
            "truck=T9&tank=1&volume_gal=500&how=meter",
            vec!["Truck = T9: is not a truck of this yard. Fix: use one of: T1, T2, T3, T4"],
        ),
        (
            "truck=T1&tank=7&volume_gal=500&how=meter",
            vec!["From tank = 7: is not a tank of this yard. Fix: use one of: 1, 2, 3, 4"],
        ),
        ("truck=T1&tank=1&how=meter", vec![empty]),
        (
            "truck=T1&tank=1&volume_gal=500&how=guess",
            vec!["Measured by = guess: is not a choice of how. Fix: use one of: meter, weight, dip, marks"],
        ),
        (
            "truck=T1&tank=1&volume_gal=1500&hopper_lb=20000&how=meter",
            vec![
                "Amount = 1,500 gal: puts 22.9 tons on axles 2 to 3; the limit is 17.0 tons. Fix: load less; or confirm if it was loaded that way",
            ],
        ),
        (
            "truck=T1&tank=1&volume_gal=500&weighed_lb=15000&how=meter",
            vec![
                "Net weight of liquid = 15,000 lb: is 306% of what 500 gal should weigh. Fix: enter net weight (loaded minus empty); or confirm",
            ],
        ),
        (
            "truck=T1&tank=1&volume_gal=500&how=meter&at=2013-01-25+05:00",
            vec![&format!("Time = 2013-01-25 05:00: is in the future. {when}")],
        ),
        (
            "truck=T1&tank=1&volume_gal=500&how=meter&at=yesterday",
            vec![&format!("Time = yesterday: is not a time of day. {when}")],
        ),
    ] {
        let answer = test.post("/load", &format!("entry_id={}&author=Pat&{form}", id())).await;
        assert_eq!(answer.refusals(), faults, "{form}");
    }
    // What happened all the same is recorded after a tick, and flagged in the report.
    let over = format!("entry_id={}&author=Pat&truck=T1&tank=1&volume_gal=2500&how=meter", id());
    let tick = test.post("/load", &over).await.page().form("load").tick();
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
    let row = (before + 1).to_string();
    assert_eq!(
        test.get("/books").await.page().rows("#odd table"),
        ["700 gal over the truck's tank size", "6,520 lb over the truck or axle limit",].map(|what| [
            row.as_str(),
            "1:00 PM Thu Jan 24",
            "Pat",
            what
        ])
    );
    // More than it took cannot come back without a tick; nor can the same paper ticket stand twice.
    let back = format!("entry_id={}&truck=T2&tank=1&volume_gal=1900&how=marks&author=Pat", id());
    assert_eq!(
        test.post("/load/return", &back).await.refusals(),
        [
            "Amount returned = 1,900 gal: is more than the truck's tank, 1,800 gal. Fix: confirm if it is correct"
        ]
    );
    let paper = |volume: u32| {
        format!("entry_id={}&author=Pat&truck=T4&tank=1&volume_gal={volume}&how=meter&ticket=A7", id())
    };
    assert_eq!(test.post("/load", &paper(100)).await.status, StatusCode::SEE_OTHER);
    let twice = format!(
        "Paper ticket number = A7: is already the paper ticket of entry {}, 1:00 PM Thu Jan 24. Fix: enter the number as printed; or confirm if two tickets have the same number",
        before + 2
    );
    assert_eq!(test.post("/load", &paper(120)).await.refusals(), [twice]);
}

#[tokio::test]
async fn what_is_wrong_is_said_in_the_readers_language() {
    let test = TestApp::new();
    measured(&test).await;
    for (form, english, spanish, french) in [
        (
            "truck=T9&tank=1&volume_gal=500&how=meter",
            "Truck = T9: is not a truck of this yard. Fix: use one of: T1, T2, T3, T4",
            "Camión = T9: no es un camión de este patio. Solución: use uno de estos: T1, T2, T3, T4",
            "Camion = T9 : ce n’est pas un camion de cette cour. Correction : prenez un de ceux-ci : T1, T2, T3, T4",
        ),
        (
            "truck=T1&tank=1&volume_gal=2500&how=meter",
            "Amount = 2,500 gal: is more than the truck's tank, 1,800 gal. Fix: confirm if it is correct\nAmount = 2,500 gal: weighs 12.3 tons; the truck limit is 18,000 lb. Fix: load less; or confirm if it was loaded that way",
            "Cantidad = 2,500 gal: es más que el tanque del camión, 1,800 gal. Solución: confirme si es correcto\nCantidad = 2,500 gal: pesa 12.3 toneladas cortas; el límite del camión es 18,000 lb. Solución: cargue menos; o confirme si así se cargó",
            "Quantité = 2,500 gal : c’est plus que la citerne du camion, 1,800 gal. Correction : confirmez si c’est juste\nQuantité = 2,500 gal : pèse 12.3 tonnes courtes; la limite du camion est de 18,000 lb. Correction : chargez moins; ou confirmez s’il a été chargé ainsi",
        ),
        (
            "truck=T1&tank=1&volume_gal=0&how=meter",
            "Amount = 0: must be above zero. Fix: enter more than zero",
            "Cantidad = 0: debe ser mayor que cero. Solución: ingrese más de cero",
            "Quantité = 0 : doit être au-dessus de zéro. Correction : entrez plus de zéro",
        ),
        (
            "truck=T1&tank=1&volume_gal=lots&how=meter",
            "Amount = lots: is not a number. Fix: type a number like 2000 or 23.3, no commas",
            "Cantidad = lots: no es un número. Solución: escriba un número como 2000 o 23.3, sin comas",
            "Quantité = lots : ce n’est pas un nombre. Correction : tapez un nombre comme 2000 ou 23.3, sans séparateur de milliers",
        ),
        (
            "truck=T1&tank=1&volume_gal=5&how=meter&at=2013-01-25+05:00",
            "Time = 2013-01-25 05:00: is in the future. Fix: enter 05:40, or a day with it like 2027-01-14 05:40, or leave it blank for now",
            "Hora = 2013-01-25 05:00: está en el futuro. Solución: ingrese 05:40, o con el día, así: 2027-01-14 05:40, o deje en blanco para ahora",
            "Heure = 2013-01-25 05:00 : c’est dans le futur. Correction : entrez 05:40, ou avec le jour, comme 2027-01-14 05:40, ou laissez vide pour maintenant",
        ),
    ] {
        for (language, wanted) in [("en", english), ("es", spanish), ("fr", french)] {
            let request = post("/load", &format!("entry_id={}&author=Pat&{form}", id()));
            let answer =
                test.send(common::HERE, common::with_cookie(request, &format!("language={language}"))).await;
            assert_eq!(answer.refusals().join("\n"), wanted, "{language} {form}");
            let page = answer.page();
            assert_eq!(page.attr("html", "lang"), language);
            // No part of the fault stands anywhere on the page in English.
            let fault = english.split(": ").nth(1).unwrap().split(". ").next().unwrap();
            let said = page.text("html");
            assert_eq!(said.contains("Fix:") || said.contains(fault), language == "en", "{language}: {said}");
        }
    }
}

#[tokio::test]
async fn by_weight_alone() {
    let test = TestApp::new();
    measured(&test).await;
    let answer =
        test.post("/load", &load(&id(), "&weighed_lb=9805").replace("how=meter", "how=weight")).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
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
        let tick = if answer.status.is_redirection() { String::new() } else { answer.page().tick() };
        if !tick.is_empty() {
            let answer = yard.post("/load", &format!("{form}{tick}")).await;
            assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
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
async fn rows_are_pasted_whole_or_not_at_all() {
    let test = TestApp::new();
    let before = test.ledger.head().unwrap().seq;
    let rows = |text: &str| format!("author=Lou&rows={}", text.replace('\n', "%0A").replace(' ', "+"));
    let bad = "at,route,treated,salt_lb\n2013-01-24 05:00,R1,dry,500\n2013-01-24 06:00,R77,dry,500\n";
    let answer = test.post("/load/import", &rows(bad)).await;
    assert_eq!(
        answer.refusals(),
        ["line 3: route = R77: is not a route of this yard. Fix: use one of: R1, R2, R3, R4, R5, R6"]
    );
    assert_eq!(answer.page().field("rows"), bad, "nothing is lost");
    assert_eq!(test.ledger.head().unwrap().seq, before);
    let good = "at,route,treated,salt_lb\n2013-01-24 05:00,R1,dry,500\n2013-01-24 06:00,R2,dry,500\n";
    for _ in 0..2 {
        let answer = test.post("/load/import", &rows(good)).await;
        assert!(answer.status.is_success(), "{}", answer.page());
    }
    assert_eq!(test.ledger.head().unwrap().seq, before + 2, "the same rows are the same entries");
    // It came from elsewhere: one may only look.
    let answer = test.send(ELSEWHERE, post("/load/import", &rows(good))).await;
    assert_eq!(answer.status, StatusCode::FORBIDDEN);
}
