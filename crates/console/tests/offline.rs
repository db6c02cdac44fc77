//! Entries made without network, as a device sends them: once, at their true time, by their true author, or held.
//!
//! Keys and signatures are made by ring, a general-purpose library, in the form WebCrypto gives them (IEEE P1363: r
//! and s of 32 bytes each).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use std::sync::Arc;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use common::{Answer, ELSEWHERE, HERE, TestApp, get, post, with_cookie};
use console::people::{Change, People};
use event::Event;
use jiff::Timestamp;
use ring::rand::SystemRandom;
use ring::signature::{ECDSA_P256_SHA256_FIXED_SIGNING, EcdsaKeyPair, KeyPair};
use serde_json::{Value, json};
use site::people::Role;
use store::Ledger;
use uuid::Uuid;

struct Tablet {
    test: TestApp,
    cookie: String,
    lou: Uuid,
    key: Uuid,
    pair: EcdsaKeyPair,
}

fn people(test: &TestApp) -> Arc<People> {
    Arc::clone(test.app.people.as_ref().unwrap())
}

fn sent(path: &str, body: &Value) -> Request<Body> {
    let mut request = Request::post(path).body(Body::from(body.to_string())).unwrap();
    request.headers_mut().insert("content-type", "application/json".parse().unwrap());
    request
}

fn told(answer: &Answer) -> (String, String) {
    let value: Value = serde_json::from_str(&answer.body).unwrap_or_default();
    (value["outcome"].as_str().unwrap_or("").into(), value["detail"].as_str().unwrap_or("").into())
}

fn pair() -> EcdsaKeyPair {
    let made = EcdsaKeyPair::generate_pkcs8(&ECDSA_P256_SHA256_FIXED_SIGNING, &SystemRandom::new()).unwrap();
    EcdsaKeyPair::from_pkcs8(&ECDSA_P256_SHA256_FIXED_SIGNING, made.as_ref(), &SystemRandom::new()).unwrap()
}

/// A tablet on which Lou has begun a shift.
async fn tablet() -> Tablet {
    let test = TestApp::peopled();
    let now = test.app.clock.now();
    people(&test).first("Ines", "a quiet winter", None, now).unwrap();
    let lou = Change {
        name: Some("Lou".into()),
        role: Some(Role::Operator),
        pin: Some("4071".into()),
        ..Change::default()
    };
    let lou = people(&test).add(&lou, "Ines", now).unwrap().id;
    let code = people(&test).give_code("device", "Ines", now).unwrap();
    let answer = test.send(ELSEWHERE, post("/enrol", &format!("code={code}&name=Loader"))).await;
    let cookie = answer.kept().unwrap();
    let pair = pair();
    let ask =
        |pin: &str| json!({ "who": lou, "pin": pin, "public": STANDARD.encode(pair.public_key().as_ref()) });
    let wrong = test.send(ELSEWHERE, with_cookie(sent("/offline/shift", &ask("4072")), &cookie)).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    let nobody = test.send(ELSEWHERE, sent("/offline/shift", &ask("4071"))).await;
    assert_eq!(nobody.status, StatusCode::CONFLICT, "no device, no shift");
    let begun = test.send(ELSEWHERE, with_cookie(sent("/offline/shift", &ask("4071")), &cookie)).await;
    assert_eq!(begun.status, StatusCode::OK, "{}", begun.body);
    let begun: Value = serde_json::from_str(&begun.body).unwrap();
    let shift = begun["until_ms"].as_i64().unwrap() - begun["now_ms"].as_i64().unwrap();
    assert_eq!(shift, 14 * 3_600_000);
    let key = begun["key"].as_str().unwrap().parse().unwrap();
    Tablet { test, cookie, lou, key, pair }
}

impl Tablet {
    /// An entry of so many minutes after the start, signed by the device's key; what the device's clock is off is in
    /// the offset.
    fn entry(&self, counter: i64, minutes: i64, form: &str, sent_after: i64) -> Value {
        let start = self.test.app.clock.now().as_millisecond();
        let slow_ms = 7_200_000;
        let (id, device_ms) = (Uuid::now_v7(), start + minutes * 60_000 - slow_ms);
        let text = format!(
            "brine entry 1\n{id}\n/ledger/note\n{}\n{counter}\n{device_ms}\n{slow_ms}\n{form}",
            self.key
        );
        let signature = self.pair.sign(&SystemRandom::new(), text.as_bytes()).unwrap();
        json!({
            "v": 1, "id": id, "path": "/ledger/note", "form": form, "author": "Lou", "key": self.key,
            "counter": counter, "device_ms": device_ms, "offset_ms": slow_ms,
            "sent_ms": start + sent_after * 60_000 - slow_ms,
            "signature": STANDARD.encode(signature.as_ref()),
        })
    }

    async fn send(&self, minutes: i64, packet: &Value) -> (String, String) {
        let later = self.test.after_minutes(minutes);
        let answer = later.send(with_cookie(sent("/offline/send", packet), &self.cookie)).await;
        assert!(answer.status.is_success(), "{}", answer.body);
        told(&answer)
    }

    fn note(&self, text: &str) -> String {
        format!("entry_id={}&text={text}&author=", Uuid::now_v7())
    }

    fn last(&self) -> Event {
        let head = self.test.ledger.head().unwrap().seq;
        self.test.ledger.events_after(head - 1).unwrap().remove(0).event
    }

    fn at(&self, minutes: i64) -> Timestamp {
        self.test.app.clock.now() + jiff::SignedDuration::from_mins(minutes)
    }

    fn held(&self) -> Vec<(String, bool)> {
        let file = store::people::PeopleFile::open(&self.test.folder.join("people.db")).unwrap();
        file.held(100).unwrap().into_iter().map(|held| (held.why, held.settled.is_some())).collect()
    }
}

#[tokio::test]
async fn entries_come_once_in_order_with_their_time_and_author() {
    let tablet = tablet().await;
    let before = tablet.test.ledger.head().unwrap().seq;
    let packets: Vec<Value> =
        (0..20).map(|n| tablet.entry(n, 10 + n, &tablet.note(&format!("reading+{n}")), 60)).collect();
    for packet in packets.iter().chain(&packets) {
        assert_eq!(tablet.send(60, packet).await.0, "recorded");
    }
    assert_eq!(tablet.test.ledger.head().unwrap().seq, before + 20, "once each");
    for (n, recorded) in tablet.test.ledger.events_after(before).unwrap().iter().enumerate() {
        assert_eq!((recorded.event.author.as_str(), recorded.event.device.as_str()), ("Lou", "Loader"));
        assert_eq!(recorded.event.occurred_at, tablet.at(10 + n as i64), "its true time");
        assert_eq!(recorded.recorded_at, tablet.at(60), "and when it came");
    }
}

#[tokio::test]
async fn an_answer_lost_on_the_way_back_makes_no_second_entry() {
    let tablet = tablet().await;
    let note = tablet.note("hello");
    let form = format!("{note}&sign_who={}&sign_pin=4071", tablet.lou);
    let answer = tablet.test.send(ELSEWHERE, with_cookie(post("/ledger/note", &form), &tablet.cookie)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
    let head = tablet.test.ledger.head().unwrap().seq;
    // The device heard nothing, and kept it a few seconds later by its own clock.
    let (outcome, row) = tablet.send(5, &tablet.entry(0, 0, &note, 5)).await;
    assert_eq!((outcome.as_str(), row), ("recorded", head.to_string()));
    assert_eq!(tablet.test.ledger.head().unwrap().seq, head);
}

#[tokio::test]
async fn what_is_forged_or_cannot_be_sure_is_held_and_never_dropped() {
    let tablet = tablet().await;
    let head = tablet.test.ledger.head().unwrap().seq;
    let sound = |counter: i64| tablet.entry(counter, 10, &tablet.note("hello"), 30);
    assert_eq!(tablet.send(30, &sound(0)).await.0, "recorded");
    let changed = |name: &str, value: Value| {
        let mut packet = sound(50);
        packet[name] = value;
        packet
    };
    let other = pair().sign(&SystemRandom::new(), b"x").unwrap();
    let forged = [
        changed("form", json!(tablet.note("forged"))),
        changed("device_ms", json!(tablet.at(20).as_millisecond())),
        changed("counter", json!(51)),
        changed("signature", Value::Null),
        changed("signature", json!(STANDARD.encode(other.as_ref()))),
        changed("key", json!(Uuid::now_v7())),
        changed("key", Value::Null),
    ];
    for packet in &forged {
        assert_eq!(tablet.send(30, packet).await.0, "held", "{packet}");
        assert_eq!(tablet.send(30, packet).await.0, "held", "sent again it is the same");
    }
    // The count of another entry; the time after the shift; a clock that was moved between.
    assert_eq!(tablet.send(30, &sound(0)).await.0, "held");
    let late = tablet.entry(60, 15 * 60, &tablet.note("late"), 16 * 60);
    assert_eq!(tablet.send(16 * 60, &late).await.0, "held");
    let moved = tablet.entry(61, 10, &tablet.note("moved"), 90);
    assert_eq!(tablet.send(30, &moved).await.0, "held");
    let to_come = tablet.entry(62, 600, &tablet.note("to+come"), 30);
    assert_eq!(tablet.send(30, &to_come).await.0, "held");
    assert_eq!(tablet.test.ledger.head().unwrap().seq, head + 1, "none of them is in the ledger");
    let held = tablet.held();
    let count = |why: &str| held.iter().filter(|(word, _)| word == why).count();
    assert_eq!((count("unsigned"), count("counted"), count("clock"), held.len()), (8, 1, 2, 11), "{held:?}");
    // What is no packet at all is told so, and the device keeps it.
    for body in [json!({}), json!({"v": 2}), changed("v", json!(7)), changed("id", json!("x"))] {
        let answer = tablet.test.send(HERE, with_cookie(sent("/offline/send", &body), &tablet.cookie)).await;
        assert_eq!(answer.status, StatusCode::BAD_REQUEST);
    }
    let stranger = tablet.test.send(ELSEWHERE, sent("/offline/send", &sound(70))).await;
    assert_eq!(stranger.status, StatusCode::UNAUTHORIZED);
    // A form that is none of an entry cannot be sent this way.
    let mut packet = sound(71);
    packet["path"] = json!("/people");
    packet["key"] = Value::Null;
    assert_eq!(tablet.send(30, &packet).await.0, "held");
}

#[tokio::test]
async fn a_person_settles_what_is_held() {
    let tablet = tablet().await;
    let ines = tablet.test.sign_in("Ines", "a+quiet+winter").await.unwrap();
    // Lou's form asks for a tick: 600 gal are on a truck that holds less of them than it says.
    let mut packet = tablet.entry(0, 10, "", 30);
    let form = format!("entry_id={}&tank=1&depth_ft=1.93&temp_f=28&author=", Uuid::now_v7());
    let text = format!(
        "brine entry 1\n{}\n/tanks/dip\n{}\n0\n{}\n7200000\n{form}",
        packet["id"].as_str().unwrap(),
        tablet.key,
        packet["device_ms"]
    );
    packet["path"] = json!("/tanks/dip");
    packet["form"] = json!(form);
    packet["signature"] =
        json!(STANDARD.encode(tablet.pair.sign(&SystemRandom::new(), text.as_bytes()).unwrap()));
    assert_eq!(tablet.send(30, &packet).await.0, "held");
    let head = tablet.test.ledger.head().unwrap().seq;
    let later = tablet.test.after_minutes(40);
    let page = later.send(with_cookie(get("/waiting"), &ines)).await.page();
    assert_eq!(
        page.texts(".events > li > p"),
        [
            "1:10 PM Thu Jan 24, Lou, on Loader: /tanks/dip",
            "The form asked a question, and no one was there to answer it.",
            "Depth = 1,130 gal: the tank should hold 4,300 gal. Fix: dip again; if it is right, look for a leak or an entry that is missing",
        ]
    );
    assert_eq!(page.texts(".events > li > .why > li"), ["tank = 1", "depth_ft = 1.93", "temp_f = 28"]);
    // On every page the supervisor is told.
    let tanks = later.send(with_cookie(get("/tanks"), &ines)).await.page();
    assert_eq!(tanks.banners(), ["Entries waiting for a decision: 1"]);
    assert_eq!(tanks.link("Entries waiting for a decision: 1"), "/waiting");
    let id = packet["id"].as_str().unwrap();
    let decide =
        |act: &str, reason: &str| post("/waiting", &format!("id={id}&act={act}&reason={reason}&author="));
    assert_eq!(
        later.send(with_cookie(decide("leave", ""), &ines)).await.status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    // An operator cannot decide.
    let form = format!("id={id}&act=record&author=&sign_who={}&sign_pin=4071", tablet.lou);
    let answer = later.send(with_cookie(post("/waiting", &form), &tablet.cookie)).await;
    assert_eq!(answer.status, StatusCode::FORBIDDEN);
    let answer = later.send(with_cookie(decide("record", ""), &ines)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    assert_eq!(tablet.test.ledger.head().unwrap().seq, head + 1);
    let event = tablet.last();
    assert_eq!((event.author.as_str(), event.occurred_at), ("Lou", tablet.at(10)));
    assert_eq!(event.device, "Loader, confirmed by Ines");
    let again = later.send(with_cookie(decide("record", ""), &ines)).await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY, "it is settled once");
    assert_eq!(tablet.held(), [("asked".to_owned(), true)]);
}

#[tokio::test]
async fn a_revoked_devices_queue_is_received_and_marked() {
    let tablet = tablet().await;
    let roster = people(&tablet.test).roster().unwrap();
    let ines = tablet.test.sign_in("Ines", "a+quiet+winter").await.unwrap();
    let form = format!("id={}", roster.devices[0].1.id);
    let answer = tablet.test.send(HERE, with_cookie(post("/people/revoke", &form), &ines)).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
    assert_eq!(tablet.send(30, &tablet.entry(0, 10, &tablet.note("hello"), 30)).await.0, "held");
    assert_eq!(tablet.held(), [("revoked".to_owned(), false)]);
}

#[tokio::test]
async fn another_pin_ends_what_was_signed_with_the_old_one() {
    let tablet = tablet().await;
    assert_eq!(tablet.send(30, &tablet.entry(0, 10, &tablet.note("before"), 30)).await.0, "recorded");
    let change = Change { pin: Some("9316".into()), ..Change::default() };
    people(&tablet.test).change(tablet.lou, &change, "Ines", tablet.test.app.clock.now()).unwrap();
    // Signed for a time before the change: whoever has the key could have done that.
    assert_eq!(tablet.send(30, &tablet.entry(1, 10, &tablet.note("after"), 30)).await.0, "held");
    assert_eq!(tablet.held(), [("unsigned".to_owned(), false)]);
}

#[tokio::test]
async fn one_device_cannot_fill_the_list_of_what_waits() {
    let tablet = tablet().await;
    let file = people(&tablet.test).roster().unwrap().devices[0].1.id;
    let now = tablet.test.app.clock.now();
    let kept = store::people::PeopleFile::open(&tablet.test.folder.join("people.db")).unwrap();
    let held = |device: Option<Uuid>| store::people::Held {
        id: Uuid::now_v7(),
        device,
        person: None,
        author: "Lou".into(),
        path: "/ledger/note".into(),
        form: String::new(),
        counter: None,
        occurred_at: now,
        received_at: now,
        why: "unsigned".into(),
        detail: String::new(),
        settled: None,
    };
    for _ in 0..500 {
        assert!(kept.hold(&held(Some(file)), None, 500).unwrap());
    }
    let mut unsigned = tablet.entry(0, 10, &tablet.note("one more"), 30);
    unsigned["signature"] = Value::Null;
    let answer = tablet.test.send(HERE, with_cookie(sent("/offline/send", &unsigned), &tablet.cookie)).await;
    assert_eq!(answer.status, StatusCode::SERVICE_UNAVAILABLE, "{}", answer.body);
    let told: Value = serde_json::from_str(&answer.body).unwrap();
    assert_eq!(told["outcome"], "full");
    assert_eq!(
        told["detail"],
        "Too many entries of this device wait for a decision. A supervisor settles some first; this one stays here."
    );
    // What is sure needs nobody, and another device has its own share.
    assert_eq!(tablet.send(30, &tablet.entry(1, 10, &tablet.note("sure"), 30)).await.0, "recorded");
    assert!(kept.hold(&held(None), None, 500).unwrap());
}

#[tokio::test]
async fn the_worker_and_the_manifest_know_their_place() {
    let test = TestApp::at_base("/brine");
    let worker = test.get("/brine/worker.js").await;
    // A script, not a page: its lines.
    let has = |start: &str| worker.body.lines().any(|line| line.starts_with(start));
    assert!(has("const BASE = \"/brine\";") && has("const QUEUE = \"/brine/static/"), "{}", worker.body);
    let manifest: Value = serde_json::from_str(&test.get("/brine/manifest.webmanifest").await.body).unwrap();
    assert_eq!(manifest["start_url"], "/brine/");
    let page = test.get("/brine/").await;
    assert_eq!(page.page().attr("body", "data-worker"), "/brine/worker.js");
    assert!(page.policy.split("; ").any(|rule| rule == "worker-src 'self'"), "{}", page.policy);
}
