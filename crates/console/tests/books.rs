//! The books over HTTP, page by page: what is closed, billed, received, counted and traced, and what is reported.
//!
//! Outside checks: moisture bands W14 (MnDOT).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use axum::http::StatusCode;
use common::TestApp;
use common::forms::{id, load, measured};
use store::Ledger;

#[tokio::test]
async fn a_month_that_is_closed_takes_entries_with_a_flag() {
    let test = TestApp::new();
    measured(&test).await;
    let close = format!("entry_id={}&author=Ines&month=2013-01", id());
    let early = test.post("/books/close", &close).await;
    assert_eq!(
        early.refusals(),
        [
            "Month (like 2027-01) = 2013-01: is not over yet; every later entry in it would need confirming. Fix: pick a month that is over; or confirm"
        ]
    );
    let close = format!("{close}{}", early.page().tick());
    assert_eq!(test.post("/books/close", &close).await.status, StatusCode::SEE_OTHER);
    let wrong = test.post("/books/close", &format!("entry_id={}&author=Ines&month=January", id())).await;
    assert_eq!(
        wrong.refusals(),
        ["Month (like 2027-01) = January: is not a month. Fix: enter year and month, like 2027-01"]
    );
    // A day later, an entry for the day before.
    let later = test.after_minutes(24 * 60);
    let form = load(&id(), "&volume_gal=400&at=2013-01-24+12:30");
    let answer = later.post("/load", &form).await;
    assert_eq!(
        answer.refusals(),
        [
            "at = 12:30 PM Thu Jan 24: is in 2013-01, which was closed on 1:00 PM Thu Jan 24. Fix: confirm if it happened then; it will be saved and flagged"
        ]
    );
    let form = format!("{form}{}", answer.page().tick());
    assert_eq!(later.post("/load", &form).await.status, StatusCode::SEE_OTHER);
    let row = test.ledger.head().unwrap().seq.to_string();
    assert_eq!(
        later.get("/books").await.page().rows("#odd table")[0],
        [&row, "12:30 PM Thu Jan 24", "Pat", "entered after 2013-01 was closed"]
    );
}

#[tokio::test]
async fn another_agency_gets_a_bill() {
    let test = TestApp::new();
    measured(&test).await;
    let issue =
        format!("entry_id={}&agency=School+district&tank=1&volume_gal=200&how=meter&author=Ines", id());
    let answer = test.post("/load/issue", &issue).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
    let list = test.get("/books/bills").await.page();
    let bill = list.link("School district, 2013-01");
    assert_eq!(bill, "/books/bills?agency=School%20district&month=2013-01");
    let bill = test.get(&bill).await;
    assert_eq!(bill.status, StatusCode::OK);
    for until in ["9999-12-30", "9999-12-31", "0001-01-01", "-9999-01-01"] {
        let status = test.get(&format!("/books?until={until}")).await.status;
        assert!(status.is_success() || status.is_client_error(), "{until}: {status}");
    }
    let bill = bill.page();
    assert_eq!(bill.heading(), "School district, 2013-01");
    bill.shows(".next p", "To: School district, grounds office (invented)");
    // 200 gal at 40 cents.
    let row = test.ledger.head().unwrap().seq.to_string();
    assert_eq!(
        bill.rows("#bill table"),
        [
            [row.as_str(), "1:00 PM Thu Jan 24", "Salt brine", "200", "1,963", "80.00"],
            ["", "", "Total", "200", "1,963", "80.00"],
        ]
    );
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
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
    let page = test.get("/salt").await.page();
    assert_eq!(
        page.text(".next .told"),
        "Last delivery, 1:00 PM Thu Jan 24, 25.0 tons: Take 5% off the price: $90.00."
    );
    assert_eq!(
        page.rows("#deliveries table"),
        [["1:00 PM Thu Jan 24", "50,000", "S-9", "1.8%", "1,800.00", "Take 5% off the price: $90.00."]]
    );
    assert_eq!(
        page.texts("#orders th[scope=col]"),
        ["Order or contract", "Delivered so far, lb", "Loads", "Samples taken", "Samples needed"]
    );
    assert_eq!(page.rows("#orders table"), [["winter", "50,000", "1", "0", "1"]]);
    for (more, fault) in [
        (
            "&wet=500",
            "Same sample dry, g is blank: a sample is weighed twice: as it came, and dried. Fix: enter both weights, in one unit",
        ),
        (
            "&wet=500&dry=510",
            "Same sample dry, g = 510: is more than the sample weighed as it came. Fix: enter less than that",
        ),
        (
            "&wet=500&dry=491&moisture_pct=1.8",
            "Or moisture, % = 1.8: is entered together with the weights it comes from. Fix: enter the moisture, or both weights",
        ),
        (
            "&wet=heavy&dry=491",
            "Wet sample weight, g = heavy: is not a number. Fix: type a number like 2000 or 23.3, no commas",
        ),
    ] {
        let answer = test.post("/salt", &format!("entry_id={}&author=Lou&mass_tons=25{more}", id())).await;
        assert_eq!(answer.refusals(), [fault], "{more}");
    }
    let buckets = format!("entry_id={}&author=Lou&to=trucks&buckets_number=4", id());
    assert_eq!(test.post("/salt/buckets", &buckets).await.status, StatusCode::SEE_OTHER);
    let survey = format!("entry_id={}&author=Lou&mass_tons=80&uncertainty_pct=6", id());
    assert_eq!(test.post("/salt/survey", &survey).await.status, StatusCode::SEE_OTHER);
    // 4 buckets of 5,400 lb are 10.8 tons.
    assert_eq!(
        test.get("/salt").await.page().texts(".next > p")[1..],
        [
            "Rock salt on hand: 25.0 tons.",
            "4 buckets counted this season, 10.8 tons. The book shows 0 lb used.",
            "Last survey 1:00 PM Thu Jan 24: 80.0 tons, ±6%.",
        ]
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
    assert_eq!(
        test.post("/meters", &back).await.refusals(),
        [
            "Totalizer reading = 850 gal: the total went backward, and the yard file says of no total at which it begins again; the last was 900 gal. Fix: confirm if the meter was replaced or reset to zero"
        ]
    );
    // 500 gal of water shown weigh as 515 gal do (8.337 lb a gallon).
    let check =
        format!("entry_id={}&author=Ines&meter=loading&shown_gal=500&weighed_lb=4293.6&strength_pct=0", id());
    assert_eq!(test.post("/meters/check", &check).await.status, StatusCode::SEE_OTHER);
    let page = test.get("/meters").await.page();
    assert_eq!(
        page.text(".told.act"),
        "Loading meter: true volume is 1.0300 × the reading (±0.0104, 1 weighings). The yard file has 1.0000. Change that factor, or have the meter itself adjusted; not both."
    );
    assert_eq!(
        page.rows("#counts table"),
        [["Loading meter", "1:00 PM Thu Jan 24", "1:00 PM Thu Jan 24", "500", ""]]
    );
    let caught = format!(
        "entry_id={}&author=Lou&truck=T1&liquid=water&caught_floz=64+64+64+75&catch_s=15&\
         lanes_number=1&pressure_psi=40",
        id()
    );
    let answer = test.post("/sprayers", &caught).await;
    assert_eq!(answer.location.as_deref(), Some("/sprayers/card?truck=T1"), "{}", answer.page());
    let card = test.get("/sprayers/card?truck=T1").await.page();
    assert_eq!(
        card.text(".told.act"),
        "Nozzle 4 is 17% off the others. Clean or replace it, and test again."
    );
    assert_eq!(card.row("#nozzles table", "4"), ["4", "2.3 gal/min", "+17%"]);
    card.shows(".next p", "At 40 psi. Half the flow takes a quarter of the pressure.");
    let chore = format!("entry_id={}&author=Lou&chore=wash-bay&done=sump+empty", id());
    assert_eq!(test.post("/due", &chore).await.status, StatusCode::SEE_OTHER);
    test.get("/due").await.page().shows(".chores small", "operator, by Feb 7. Last Jan 24, Lou: sump empty");
    let chore = format!("entry_id={}&author=Lou&chore=nothing&done=x", id());
    let refused = test.post("/due", &chore).await;
    let chores: Vec<String> = refused.page().options("chore").into_iter().map(|(chore, _)| chore).collect();
    assert!(chores[0].is_empty() && chores.contains(&"wash-bay".into()), "{chores:?}");
    let accepted = chores[1..].join(", ");
    assert_eq!(
        refused.refusals(),
        [format!("Task = nothing: is not a task of this yard. Fix: use one of: {accepted}")]
    );
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
    let page = test.get(&format!("/books/lots?event={last}")).await.page();
    assert_eq!(page.heading(), "Batches in this load");
    let lots = [
        "100.0 % Entry 1, 1:00 PM Thu Jan 24, Pat: Tank 1 adjusted to 4,300 gal, 23.2%: opening Where this batch went",
    ];
    assert_eq!(page.texts("ul.why > li"), lots);
    let opening = events[0].event.id;
    let page = test.get(&format!("/books/lots?event={opening}")).await.page();
    assert_eq!(page.heading(), "Where this batch went");
    assert_eq!(
        page.rows("#lot table"),
        [
            ["1:00 PM Thu Jan 24", "spilled or lost", "98", "0.2", "100.0"],
            ["1:00 PM Thu Jan 24", "truck T1, R1 Mill Road and the bridge", "5,888", "14.0", "100.0"],
            ["", "still in tank 1", "36,214", "85.8", ""],
        ]
    );
    let tank = test.get("/books/lots?tank=1").await.page();
    assert_eq!(tank.heading(), "Batches in tank 1");
    assert_eq!(tank.texts("ul.why > li"), lots);
    assert_eq!(test.get("/books/lots?tank=99").await.status, StatusCode::NOT_FOUND);
    assert_eq!(test.get("/books/lots?event=that").await.status, StatusCode::BAD_REQUEST);
    let night = test.get("/night").await.page();
    assert_eq!([night.text("#stock > h2"), night.text("#loads > h2")], ["On hand", "Loads, in order"]);
    assert_eq!(night.row("#stock table", "1")[..3], ["1", "3,690 gal, 23.2%", "3,440 gal"]);
    let loads = night.rows("#loads table");
    assert!(loads.iter().any(|load| load[2] == "R1 Mill Road and the bridge"), "{loads:?}");
    night.shows("ul.why > li", "555 0142 Ines, plant and loading");
    night.shows(".safety li", "Never enter a hopper: bridged salt can collapse under you.");
    night.shows(
        ".next p",
        "As of 1:00 PM Thu Jan 24. Print before the storm, in case the power fails. Write down what is taken, and enter it later with its time.",
    );
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
        let answer = test.get(path).await;
        assert!(answer.status.is_success(), "{path}");
        assert!(!answer.page().has("script:not([src])"), "{path}");
    }
    let csv = test.get("/books/file?as=csv&table=overrides").await.body;
    assert_eq!(
        csv.lines().nth(1),
        Some(format!("{row},1:00 PM Thu Jan 24,1,T1,Pat,'=HYPERLINK(1)").as_str()),
        "{csv}"
    );
    let backward = format!("entry_id={}&author=Ines&name=x&at=2013-01-24+12:00&until=2013-01-24+11:00", id());
    assert_eq!(test.post("/books/storms", &backward).await.refusals(), ["The end must be after the start."]);
    let stranger = load(&id(), "&volume_gal=500&volume=5");
    assert_eq!(test.post("/load", &stranger).await.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn nothing_to_report_is_said() {
    let test = TestApp::new();
    for (path, heading) in [
        ("/books/close", "Not enough measurements yet."),
        ("/books/bills", "Nothing issued to another agency yet."),
        ("/books/storms", "No storms yet. Nothing has been loaded or applied."),
    ] {
        assert_eq!(test.get(path).await.page().heading(), heading);
    }
    assert_eq!(test.get("/ticket?row=1").await.status, StatusCode::NOT_FOUND, "a settlement has no ticket");
    assert_eq!(test.get("/ticket?row=99").await.status, StatusCode::NOT_FOUND);
    assert_eq!(test.get("/books?from=2013-02-01&until=2013-01-01").await.status, StatusCode::BAD_REQUEST);
    assert_eq!(test.get("/books?from=soon").await.status, StatusCode::BAD_REQUEST);
    assert_eq!(test.get("/books/file?as=csv&table=nothing").await.status, StatusCode::NOT_FOUND);
    assert_eq!(test.get("/sprayers/card?truck=T1").await.status, StatusCode::NOT_FOUND);
}
