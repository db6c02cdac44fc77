//! Entering is quick: what was refused comes back marked and at an address that can be opened, a name and a PIN are
//! asked once, an entry is undone and done again by one button.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use std::sync::Arc;

use axum::http::StatusCode;
use common::page::number;
use common::{ELSEWHERE, TestApp, get, post, with_cookie};
use console::people::{Change, People};
use event::Body;
use site::people::Role;
use store::Ledger;
use uuid::Uuid;

/// What is said of an entry that nobody signed.
const NO_PIN: &str = "Not saved yet. Enter the PIN.";

fn id() -> Uuid {
    Uuid::now_v7()
}

fn last(test: &TestApp) -> event::Recorded {
    let head = test.ledger.head().unwrap().seq;
    test.ledger.events_after(head - 1).unwrap().remove(0)
}

#[tokio::test]
async fn a_refused_entry_stands_first_with_its_fields_marked() {
    let test = TestApp::new();
    let page = test.get("/tanks").await.page();
    let to = page.attr("form[data-form=dip-1]", "action");
    assert_eq!(to, "/tanks/dip#refused", "the form goes back to its message");
    let answer = test.post("/tanks/dip", &format!("entry_id={}&tank=1&depth_ft=deep&author=Pat", id())).await;
    let fault = "Depth = deep: is not a number. Fix: enter a depth like 4.58, 4 ft 7 in, 55 in or 1.4 m";
    assert_eq!(answer.refusals(), [fault]);
    let page = answer.page();
    assert_eq!(page.attr("#refused", "tabindex"), "-1", "the message takes the focus");
    assert_eq!(page.attrs("[aria-invalid]", "name"), ["depth_ft"], "no other field is blamed");
    assert_eq!(page.attr("[aria-invalid]", "aria-invalid"), "true");
    // Every form's own address can be opened again: it leads to the page of the form.
    for (form, page) in [
        ("/tanks/dip", "/tanks"),
        ("/tanks/set-book", "/tanks"),
        ("/ledger/note", "/ledger"),
        ("/bench/trim/set", "/bench/trim"),
        ("/bench/instruments/check", "/bench/instruments"),
        ("/salt/buckets", "/salt"),
        ("/run/end", "/run"),
        ("/load/import", "/load"),
    ] {
        let answer = test.get(form).await;
        assert_eq!(
            (answer.status, answer.location.as_deref()),
            (StatusCode::SEE_OTHER, Some(page)),
            "{form}"
        );
    }
    // A name that is missing is marked; a choice is marked by its frame.
    let load = format!("entry_id={}&truck=T9&tank=1&volume_gal=500&how=meter&author=", id());
    let answer = test.post("/load", &load).await;
    assert_eq!(
        answer.refusals(),
        [
            "Enter your name (1 to 80 characters).",
            "Truck = T9: is not a truck of this yard. Fix: use one of: T1, T2, T3, T4"
        ]
    );
    let form = answer.page().form("load");
    assert_eq!(form.texts("fieldset.wrong > legend"), ["Truck"]);
    assert_eq!(form.attrs("[aria-invalid=true]", "name"), ["author"]);
}

#[tokio::test]
async fn a_depth_is_taken_as_it_is_read_off_the_tape() {
    let test = TestApp::new();
    for depth in ["4+ft+7+in", "55+in", "4%277%22", "1.397+m", "4.58333333"] {
        let form = format!("entry_id={}&tank=3&depth_ft={depth}&author=Pat", id());
        let answer = test.post("/tanks/dip", &form).await;
        // Two alike within minutes are asked about: the tick says that both were made.
        let answer = match answer.status {
            StatusCode::UNPROCESSABLE_ENTITY => {
                test.post("/tanks/dip", &format!("{form}{}", answer.page().tick())).await
            }
            _ => answer,
        };
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{depth}: {}", answer.page());
        let Body::Dip(dip) = last(&test).event.body else { panic!("{depth}") };
        assert!((dip.depth_m - 55.0 * 0.0254).abs() < 1e-6, "{depth}: {}", dip.depth_m);
    }
}

#[tokio::test]
async fn evidence_may_be_of_earlier_today() {
    let test = TestApp::new();
    let form = format!("entry_id={}&tank=3&depth_ft=4.5&author=Pat&at=12:10", id());
    assert_eq!(test.post("/tanks/dip", &form).await.status, StatusCode::SEE_OTHER);
    // 12:10 in the yard, five hours behind UTC.
    assert_eq!(last(&test).event.occurred_at.to_string(), "2013-01-24T17:10:00Z");
    let ahead = format!("entry_id={}&tank=3&depth_ft=4.4&author=Pat&at=2013-01-24+15:00", id());
    let answer = test.post("/tanks/dip", &ahead).await;
    assert_eq!(
        answer.refusals(),
        [
            "Time = 2013-01-24 15:00: is in the future. Fix: enter 05:40, or a day with it like 2027-01-14 05:40, or leave it blank for now"
        ]
    );
    assert_eq!(answer.page().form("dip-3").field("at"), "2013-01-24 15:00");
    for (path, form) in [
        (
            "/jar-test",
            "liquid_a=brine&liquid_b=mag&share_a_pct=50&temp_f=0&duration_h=24&result=clear&remark=&tank=",
        ),
        ("/bench/instruments/check", "instrument=hydrometer&against=water&shown=1.000&temp_f=60"),
        ("/bench/change", "kind=water_change&what=well"),
    ] {
        let answer = test.post(path, &format!("entry_id={}&author=Pat&at=11:30&{form}", id())).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{path}: {}", answer.page());
        assert_eq!(last(&test).event.occurred_at.to_string(), "2013-01-24T16:30:00Z", "{path}");
    }
}

#[tokio::test]
async fn the_name_is_asked_once_a_device() {
    let test = TestApp::new();
    let note = format!("entry_id={}&text=hello&author=Pat+O%27Hara", id());
    let answer = test.post("/ledger/note", &note).await;
    let kept = answer.kept().unwrap();
    let longest = cookie::time::Duration::hours(12);
    assert_eq!(answer.cookie.unwrap().max_age(), Some(longest), "a shift at most");
    let page = test.send(common::HERE, with_cookie(get("/tanks"), &kept)).await.page();
    assert_eq!(page.form("dip-2").field("author"), "Pat O'Hara");
    // Nothing refused is remembered.
    let answer = test.post("/ledger/note", &format!("entry_id={}&text=&author=Lou", id())).await;
    assert!(answer.cookie.is_none());
}

#[tokio::test]
async fn an_entry_is_undone_by_one_button_and_done_again_with_its_figures() {
    let test = TestApp::new();
    let form = format!("entry_id={}&tank=3&depth_ft=4.5&temp_f=30&author=Pat", id());
    let answer = test.post("/tanks/dip", &form).await;
    let kept = answer.kept().unwrap();
    let to = answer.location.unwrap();
    let to = to.split('#').next().unwrap();
    let kept = kept.split(';').next().unwrap();
    let page = test.send(common::HERE, with_cookie(get(to), kept)).await.page();
    let row = last(&test);
    // It stands beside the confirmation, and is one tap.
    let undo = page.part(".saved").form("undo");
    assert_eq!(undo.field("event"), row.event.id.to_string());
    assert_eq!(undo.texts("button"), [format!("Undo (take row {} back)", row.seq)]);
    assert!(!undo.has("label, input:not([type=hidden])"), "{undo}");
    let form = ["entry_id", "event", "reason", "author"]
        .map(|name| format!("{name}={}", undo.field(name).replace(' ', "+")))
        .join("&");
    let answer = test.post("/ledger/void", &form).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    assert_eq!(last(&test).event.body.voids(), Some(row.event.id));
    // Undone, it is not undone again; and its figures are a tap away.
    assert!(!test.get(to).await.page().has_form("undo"));
    let address = format!("/tanks?again={}", row.seq);
    let ledger = test.get("/ledger").await.page();
    assert_eq!(ledger.part(&format!("#event-{}", row.seq)).link("Do it again with these values"), address);
    let again = test.get(&address).await.page().form("dip-3");
    assert_eq!(["tank", "depth_ft", "temp_f"].map(|name| again.field(name)), ["3", "4.5", "30"]);
    // So for a form of the common kind, in the reader's units.
    let salt = format!("entry_id={}&author=Lou&mass_tons=25.5&ticket=S-4", id());
    assert_eq!(test.post("/salt", &salt).await.status, StatusCode::SEE_OTHER);
    let again = test.get(&format!("/salt?again={}", last(&test).seq)).await.page().form("salt");
    assert_eq!([again.field("mass_tons"), again.field("ticket")], ["25.5", "S-4"]);
}

#[tokio::test]
async fn a_truck_that_came_home_empty_is_one_tap() {
    let test = TestApp::new();
    let load = format!(
        "entry_id={}&author=Pat&truck=T1&tank=1&volume_gal=1000&how=meter&override_reason=needed",
        id()
    );
    let answer = test.post("/load", &load).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
    let kept = answer.kept().unwrap();
    let page = test.send(common::HERE, with_cookie(get("/load"), &kept)).await.page();
    let form = page.form("home-empty");
    assert_eq!(form.attrs("button", "value"), ["T1"], "the truck is out");
    assert_eq!(form.text("button"), "Truck T1: empty, nothing came back");
    assert!(!form.has("label, input:not([type=hidden])"), "{form}");
    let sent = format!("entry_id={}&author=Pat&volume_gal=0&truck=T1", id());
    let answer = test.post("/load/return", &sent).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
    let Body::ReturnToTank(back) = last(&test).event.body else { panic!("no return") };
    assert_eq!((back.truck.as_str(), back.tank.as_str(), back.volume_m3.abs() < 1e-9), ("T1", "1", true));
    assert!(!test.get("/load").await.page().has_form("home-empty"), "it is out no more");
}

/// A yard with a supervisor, an operator with a PIN, and a tablet: the operator's id and the tablet's cookie.
async fn shared(test: &TestApp) -> (String, String) {
    let people: Arc<People> = Arc::clone(test.app.people.as_ref().unwrap());
    let now = test.app.clock.now();
    people.first("Ines", "a quiet winter", Some("7193"), now).unwrap();
    let lou = Change {
        name: Some("Lou".into()),
        role: Some(Role::Operator),
        pin: Some("4071".into()),
        ..Change::default()
    };
    let lou = people.add(&lou, "Ines", now).unwrap().id.to_string();
    let code = people.give_code("device", "Ines", now).unwrap();
    let answer = test.send(ELSEWHERE, post("/enrol", &format!("code={code}&name=Loader"))).await;
    (lou, answer.kept().unwrap())
}

#[tokio::test]
async fn a_pin_holds_for_a_shift_and_not_for_a_supervisors_acts() {
    let test = TestApp::peopled();
    let (lou, device) = shared(&test).await;
    let note =
        |who: &str, pin: &str| format!("entry_id={}&text=hello&author=&sign_who={who}&sign_pin={pin}", id());
    let answer = test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&lou, "4071")), &device)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    let shift = answer.kept().expect("the PIN holds");
    let both = format!("{device}; {shift}");
    // The page names who signs, and asks for no PIN; the entry is theirs.
    let page = test.send(ELSEWHERE, with_cookie(get("/ledger"), &both)).await.page();
    let signed = "As Lou, who signed here; holds until 9:00 PM Thu Jan 24. Somebody else";
    assert_eq!(page.form("note").text("p.soft"), signed);
    assert!(!page.has_field("sign_pin"), "{page}");
    let answer = test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&lou, "")), &both)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    assert_eq!(last(&test).event.author, "Lou");
    // Neither the cookie alone at another device, nor another's name under it.
    let other = {
        let people = test.app.people.as_ref().unwrap();
        let code = people.give_code("device", "Ines", test.app.clock.now()).unwrap();
        let answer = test.send(ELSEWHERE, post("/enrol", &format!("code={code}&name=Bench"))).await;
        answer.kept().unwrap()
    };
    let stolen = format!("{other}; {shift}");
    let answer = test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&lou, "")), &stolen)).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(answer.page().text("#refused"), NO_PIN);
    let ines = test.app.people.as_ref().unwrap().roster().unwrap();
    let ines = ines.people.iter().find(|one| one.name == "Ines").unwrap().id.to_string();
    let answer = test.send(ELSEWHERE, with_cookie(post("/ledger/note", &note(&ines, "")), &both)).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(answer.page().text("#refused"), NO_PIN);
    // A supervisor's act asks anew, and says so.
    let close = format!("entry_id={}&month=2012-12&author=&sign_who={lou}", id());
    let answer = test.send(ELSEWHERE, with_cookie(post("/books/close", &close), &both)).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(answer.page().text("#refused"), NO_PIN);
    // Eight hours on it holds no more; nor after somebody else was asked for.
    let later = test.after_minutes(8 * 60 + 1);
    assert!(later.send(with_cookie(get("/ledger"), &both)).await.page().form("note").has_field("sign_pin"));
    test.send(ELSEWHERE, with_cookie(post("/sign-over", ""), &both)).await;
    let page = test.send(ELSEWHERE, with_cookie(get("/ledger"), &both)).await.page();
    assert!(page.form("note").has_field("sign_pin"), "given over");
}

#[tokio::test]
async fn a_yard_may_ask_for_the_pin_at_every_entry_or_once_a_run() {
    let test = TestApp::peopled();
    let (lou, device) = shared(&test).await;
    let with = |pin: &str| {
        let mut later = test.in_yard(|yard| format!("{yard}\n[signing]\npin = \"{pin}\"\n"));
        Arc::get_mut(&mut later.app).unwrap().people.clone_from(&test.app.people);
        later
    };
    let note = |pin: &str| format!("entry_id={}&text=hello&author=&sign_who={lou}&sign_pin={pin}", id());
    let each = with("entry");
    let answer = each.send(with_cookie(post("/ledger/note", &note("4071")), &device)).await;
    assert!(answer.status == StatusCode::SEE_OTHER && answer.cookie.is_none(), "every entry asks");
    // Once a run: it holds from the start of the run to its end.
    let run = with("run");
    let start = format!("entry_id={}&author=&sign_who={lou}&sign_pin=4071", id());
    let answer = run.send(with_cookie(post("/run", &start), &device)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    let both = format!("{device}; {}", answer.kept().unwrap());
    let answer = run.send(with_cookie(post("/ledger/note", &note("")), &both)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    let of_run = run.app.books().unwrap().runs.open().unwrap().event.to_string();
    let end = format!("entry_id={}&run={of_run}&remark=rain&author=&sign_who={lou}", id());
    assert_eq!(run.send(with_cookie(post("/run/end", &end), &both)).await.status, StatusCode::SEE_OTHER);
    let answer = run.send(with_cookie(post("/ledger/note", &note("")), &both)).await;
    assert_eq!(answer.page().text("#refused"), NO_PIN, "the run is over");
}

#[tokio::test]
async fn a_number_without_its_mark_or_of_another_instrument_is_asked_about() {
    let test = TestApp::new();
    // 1150 off a hydrometer: 1.150, and the answer is a button.
    let page = test.get("/bench?tank=1&instrument=hydrometer&reading=1150&temp_f=60").await.page();
    page.shows(".next p", "1150 is off this scale. Did you mean 1.150?");
    let meant = test.get(&page.link("It was 1.150")).await.page();
    assert_eq!(meant.form("bench").field("reading"), "1.150");
    assert_eq!(meant.text("#answer"), "Too weak: 19.9% ±0.2.");
    // A number of the other instrument, typed under this one, is not logged without being asked.
    let page = test.get("/bench?tank=1&instrument=refractometer&reading=1.1775&temp_f=60").await.page();
    assert_eq!(
        page.link("It was Hydrometer 60/60 °F"),
        "/bench?tank=1&instrument=hydrometer&reading=1.1775&temp_f=60&level=outlet&occasion=usual"
    );
}

/// A level sensor of a storage tank is evidence as a dip is: pages show it, and the ledger is as it was.
#[tokio::test]
async fn a_level_sensor_speaks_for_its_tank() {
    let test = TestApp::new();
    let port = common::machine(50);
    let lines = format!(
        "[[machine]]\nid = \"plc\"\nprotocol = \"modbus\"\naddress = \"127.0.0.1:{port}\"\n\
         [[point]]\nid = \"level 2\"\nmachine = \"plc\"\nregister = 0\ntank = \"2\"\nunit = \"pct_full\"\n"
    );
    let read = test.in_read_yard(move |yard| format!("{yard}\n{lines}"));
    let _asking = read.app.following.as_ref().unwrap().begin();
    let full = quantity::in_gallons(read.app.yard.tank("2").unwrap().shape.full_volume());
    let head = test.ledger.head().unwrap().seq;
    let begun = std::time::Instant::now();
    let (volume, book) = loop {
        let books = read.app.books().unwrap();
        let gallons = |volume| quantity::in_gallons(volume);
        let volume = gallons(books.standing(&read.app.yard, "2").unwrap().volume.value);
        let book = gallons(books.tank("2").unwrap().volume(&read.app.yard));
        if volume > 1.0 || begun.elapsed() > std::time::Duration::from_secs(40) {
            break (volume, book);
        }
        tokio::time::sleep(std::time::Duration::from_millis(500)).await;
    };
    assert!((volume / (0.5 * full) - 1.0).abs() < 0.02, "{volume} of {full} gal");
    assert!(book.abs() < 1e-9 && test.ledger.head().unwrap().seq == head, "the book is what was entered");
    let tank = read.get("/tanks").await.page().part("#tank-2");
    let shown = number(&tank.text("summary > span"));
    assert!((shown / volume - 1.0).abs() < 0.005, "{shown} of {volume} gal");
    let set = tank.part("form[action^=\"/tanks/set-book\"]");
    assert_eq!(set.text("button"), "Set the book to what is there");
}
