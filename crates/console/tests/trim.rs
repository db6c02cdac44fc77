//! The panel held against the bench: out of spec, trimmed, waited for, in agreement, on record; and what is not taken.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use axum::http::StatusCode;
use common::TestApp;
use common::forms::{id, sample, tap};
use common::page::number;
use event::Body;
use store::Ledger;

fn look(id: &str, number: &str, panel: &str, reading: &str) -> String {
    format!("entry_id={id}&author=Pat&trim_number={number}&panel_pct={panel}&reading={reading}")
}

/// Logs a hydrometer's reading at 60 °F of a sample from the plant's tap: its id.
async fn tapped(test: &TestApp, reading: &str) -> String {
    let entry = id();
    let answer = test.post("/bench", &tap(&entry, "hydrometer", reading, "60")).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    entry
}

/// From a sample out of spec to a record of agreement, as an operator goes through it; without script.
#[tokio::test]
async fn from_out_of_spec_to_the_record() {
    let test = TestApp::new();
    let reading = id();
    // 1.1712 at 60 °F: too weak.
    let form = tap(&reading, "hydrometer", "1.1712", "60");
    let asked = test.get("/bench?tank=tap&instrument=hydrometer&reading=1.1712&temp_f=60").await.page();
    assert_eq!(asked.text("#answer"), "Too weak: 22.5% ±0.2.");
    let logged = test.post("/bench", &form).await.location.unwrap();
    let after = test.get(&logged).await.page();
    assert_eq!(after.link("Compare with panel"), format!("/bench/trim?reading={reading}"));

    let offered = test.get(&format!("/bench/trim?reading={reading}")).await.page();
    assert_eq!(
        offered.text("#sample"),
        "Held against the sample from the plant's tap of 1:00 PM Thu Jan 24: 22.48% ± 0.24, by Hydrometer 60/60 °F."
    );
    let first = id();
    let answer = test.post("/bench/trim", &look(&first, "1", "23.3", &reading)).await;
    assert_eq!(answer.location.as_deref(), Some("/bench/trim?saved=4"), "{}", answer.body);
    let advised = test.get("/bench/trim").await.page();
    let next = advised.field("to_number");
    let value: f64 = next.parse().unwrap();
    assert_eq!(advised.heading(), format!("Set trim to {next}."));
    assert!(0.004 < (value - 1.0).abs() && (0.97..=1.03).contains(&value), "never more than 3%: {value}");
    assert_eq!(
        advised.text("#sample"),
        "The last sample from the plant's tap, of 1:00 PM Thu Jan 24, has its look already. Test a sample",
        "a sample is held against one look"
    );

    let set = id();
    let form = format!("entry_id={set}&author=Pat&to_number={next}&reason=");
    for _ in 0..2 {
        let answer = test.post("/bench/trim/set", &form).await;
        assert_eq!(answer.location.as_deref(), Some("/bench/trim?saved=5"), "{}", answer.body);
    }
    let early = test.after_minutes(10);
    let waiting = early.get("/bench/trim").await.page();
    assert_eq!(waiting.heading(), "Wait until 1:30 PM, then sample again.");
    assert_eq!(
        waiting.text("#sample"),
        "The last sample from the plant's tap, of 1:00 PM Thu Jan 24, is from before the number was set. Test a sample"
    );
    assert!(!waiting.has_form("trim-look"), "{waiting}");
    let soon = id();
    early.post("/bench", &tap(&soon, "hydrometer", "1.1752", "60")).await.location.unwrap();
    let answer = early.post("/bench/trim", &look(&id(), &next, "23.25", &soon)).await;
    let too_early = "at = 1:10 PM Thu Jan 24: is before the last setting has come through. Fix: take a sample from 1:30 PM Thu Jan 24 on; or confirm to save it without advice";
    assert_eq!(answer.refusals(), [too_early]);
    assert_eq!(answer.page().form("trim-look").field("panel_pct"), "23.25", "nothing is lost");

    let later = test.after_minutes(31);
    assert_eq!(later.get("/bench/trim").await.page().heading(), "Take the second sample now.");
    let again = id();
    later.post("/bench", &tap(&again, "hydrometer", "1.1778", "60")).await.location.unwrap();
    assert_eq!(later.get("/bench/trim").await.page().form("trim-look").field("reading"), again);
    let answer = later.post("/bench/trim", &look(&id(), &next, "23.3", &again)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    let agreed = later.get("/bench/trim").await.page();
    assert_eq!(agreed.heading(), "Panel and bench agree. Leave trim as it is.");
    assert!(agreed.has("main .acts a[href=\"/bench/record\"]"), "{agreed}");

    let record = later.get("/bench/record").await.page();
    assert_eq!(record.heading(), "Calibration record, Alder Fork yard");
    assert_eq!(record.fact("Before"), "trim 1.000, panel minus bench 0.82%");
    assert_eq!(record.fact("After"), format!("trim {next}, panel minus bench 0.02%"));
    assert_eq!(record.fact("Hydrometer 60/60 °F"), "hydrometer 60/60 °F, read to 0.001. No check on file.");
    assert_eq!(record.fact("Target and spec range"), "23.3% (22.8 to 23.8%)");
    assert_eq!(record.fact("Steps"), "at most 3.0% of the setting, with a 30 min wait after each");
    assert_eq!(record.texts(".sign > p"), ["Done by", "Checked by"]);
    let end = test.ledger.head().unwrap();
    let hash: String = end.hash.to_string().chars().take(16).collect();
    record.shows(
        "p.soft",
        &format!(
            "From the ledger, {} entries, check code {hash}. Entries are never changed; voided ones are not shown here.",
            end.seq
        ),
    );
    let kept = test.ledger.events_after(3).unwrap();
    let kinds: Vec<&str> = kept.iter().map(|one| one.event.body.kind()).collect();
    assert_eq!(kinds, ["panel_check", "trim_set", "reading", "reading", "panel_check"]);
    let Body::PanelCheck(look) = &kept[0].event.body else { panic!("{kept:?}") };
    assert_eq!(look.reading.as_deref(), Some(reading.as_str()));
    assert_eq!(look.instrument.as_deref(), Some("hydrometer"));
    let Body::TrimSet(set) = &kept[1].event.body else { panic!("{kept:?}") };
    assert!((set.from_number - 1.0).abs() < 1e-9 && set.advised_number == Some(value));
}

/// What the trim page does not take without a reason, a confirmation or a name.
#[tokio::test]
async fn a_trim_is_not_set_without_ado() {
    let test = TestApp::new();
    let set = |to: &str, reason: &str| format!("entry_id={}&author=Pat&to_number={to}&reason={reason}", id());
    let nothing = test.post("/bench/trim/set", &set("1.005", "")).await;
    assert_eq!(nothing.refusals(), ["Save a panel check first."]);
    let reading = tapped(&test, "1.1712").await;
    test.post("/bench/trim", &look(&id(), "1", "23.3", &reading)).await;
    let unreasoned = test.post("/bench/trim/set", &set("0.96", "")).await;
    let advised = unreasoned.page().field("to_number");
    assert_eq!(advised, "0.96", "what was typed stays");
    let [refusal] = unreasoned.refusals().try_into().unwrap();
    let begins = "Reason, if not the advised number is blank: you are setting 0.96; the advice is ";
    assert!(refusal.starts_with(begins), "{refusal}");
    let far = test.post("/bench/trim/set", &set("1.08", "told+so")).await;
    assert_eq!(
        far.refusals(),
        [
            "I have set it to = 1.08: is 8.0% from 1; the yard's largest step is 3.0%. Fix: take a smaller step, then a panel check; or confirm if it was set that way"
        ]
    );
    for bad in [
        look(&id(), "0", "23.3", &reading),
        look(&id(), "1", "0.233", &reading),
        look(&id(), "1", "55", &reading),
        look(&id(), "1", "", &reading),
        look(&id(), "1", "23.3", &reading) + "&at=25:70",
        look(&id(), "1", "23.3", &reading) + "&at=9:00",
        look(&id(), "1", "23.3", &reading).replace("author=Pat", "author="),
    ] {
        let answer = test.post("/bench/trim", &bad).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{bad}: {}", answer.body);
    }
    assert_eq!(test.ledger.head().unwrap().seq, 4, "one look was logged and no setting");
    let confirmed = test.post("/bench/trim/set", &(set("1.08", "told+so") + &far.page().tick())).await;
    assert_eq!(confirmed.status, StatusCode::SEE_OTHER);
}

/// The panel is held against a sample from the plant's tap, by all its instruments; else the page says why not.
#[tokio::test]
async fn the_panel_is_held_against_the_tap_alone() {
    let test = TestApp::new();
    let alone = "The panel is held against a sample from the plant's tap alone";
    let nothing = format!(
        "{alone}, and none is logged. Take one and read it on the bench: a tank's sample says nothing of the panel."
    );
    let other = format!("That reading is of tank 1. {alone}: a tank's sample says nothing of the panel.");
    let bare = test.get("/bench/trim").await.page();
    assert_eq!(bare.text("#sample"), format!("{nothing} Test a sample"));
    assert!(!bare.has_form("trim-look"), "{bare}");
    let of_tank = id();
    test.post("/bench", &sample(&of_tank, "hydrometer", "1.1712", "60")).await;
    let why = test.get(&format!("/bench/trim?reading={of_tank}")).await.page();
    assert_eq!(why.text("#sample"), format!("{other} Test a sample"));
    assert!(!why.has_form("trim-look"), "{why}");
    for (reading, why) in [(of_tank.as_str(), &other), ("", &nothing), (&id(), &nothing)] {
        let answer = test.post("/bench/trim", &look(&id(), "1", "23.3", reading)).await;
        assert_eq!(answer.refusals(), [why.as_str()]);
    }
    let first = tapped(&test, "1.1712").await;
    let second = tap(&id(), "refractometer", "25.3", "") + &format!("&sample={first}");
    assert_eq!(test.post("/bench", &second).await.status, StatusCode::SEE_OTHER);
    let named = test.get("/bench/trim").await.page().text("#sample");
    let (named, told) = named.split_once(" ± ").unwrap();
    assert_eq!(named, "Held against the sample from the plant's tap of 1:00 PM Thu Jan 24: 22.47%");
    let (told, by) = told.split_once(", by ").unwrap();
    assert_eq!(by, "Hydrometer 60/60 °F, Refractometer, °Brix.");
    assert_eq!(
        test.post("/bench/trim", &look(&id(), "1", "23.3", &first)).await.status,
        StatusCode::SEE_OTHER
    );
    let kept = test.ledger.events_after(test.ledger.head().unwrap().seq - 1).unwrap();
    let Body::PanelCheck(kept) = &kept[0].event.body else { panic!("{kept:?}") };
    assert!(kept.instrument.is_none() && kept.reading.as_deref() == Some(first.as_str()), "{kept:?}");
    assert!(
        (kept.uncertainty_pct - number(told)).abs() < 0.006 && (22.3..22.7).contains(&kept.bench_pct),
        "{kept:?}"
    );
    assert!(kept.uncertainty_pct < 0.27, "two are better than either: {kept:?}");
    assert_eq!(
        test.get("/bench/record").await.page().fact("Refractometer, °Brix"),
        "refractometer, °Brix, read to 0.2. No check on file."
    );

    let apart = test.after_minutes(20);
    let third = id();
    apart.post("/bench", &tap(&third, "hydrometer", "1.1720", "60")).await.location.unwrap();
    let other = tap(&id(), "refractometer", "27.9", "") + &format!("&sample={third}");
    assert_eq!(apart.post("/bench", &other).await.status, StatusCode::SEE_OTHER);
    let page = apart.get("/bench/trim").await.page();
    assert_eq!(
        page.text("#sample"),
        "The instruments do not agree on the sample from the plant's tap of 1:20 PM Thu Jan 24: Hydrometer 60/60 °F, Refractometer, °Brix. Read it with one more, or take another sample. Test a sample"
    );
    assert!(!page.has_form("trim-look"), "{page}");
    let old = test.after_minutes(145).get("/bench/trim").await.page();
    assert_eq!(
        old.text("#sample"),
        "The last sample from the plant's tap is of 1:20 PM Thu Jan 24, more than two hours ago. Test a sample"
    );
    assert!(!old.has_form("trim-look"), "{old}");
}
