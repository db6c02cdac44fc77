//! Aim: whatever comes in by HTTP is answered, by a page or by a refusal: no fault of the server, nobody let in, and
//! nothing led elsewhere.
//! Method: every route with queries and forms at random, in the names that its own pages use and in others; bodies that
//! are no forms; cookies, wishes for a language and hosts at random; packets of a device, damaged.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use std::collections::BTreeSet;

use any_bytes::{bytes, cases, damaged_text, text, typed};
use axum::body::Body;
use axum::http::{HeaderName, HeaderValue, Method, Request, StatusCode, header};
use common::{Answer, ELSEWHERE, HERE, TestApp, with_cookie};
use console::routes::AUTHORISED;
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use serde_json::json;
use uuid::Uuid;

/// Most requests that are sent of one sort, however many cases are asked for.
const MOST_REQUESTS: u32 = 3000;

/// Pages on which the names of fields are looked up.
const PAGES: [&str; 18] = [
    "/storm",
    "/tanks",
    "/run",
    "/bench",
    "/bench/trim",
    "/bench/instruments",
    "/bench/lab",
    "/put-right",
    "/put-right/blend",
    "/jar-test?tank=3",
    "/load",
    "/load/return",
    "/load/issue",
    "/load/applied",
    "/salt",
    "/meters",
    "/sprayers",
    "/ledger",
];
/// Names that stand in addresses alone.
const ASKED: [&str; 12] =
    ["seq", "again", "back", "as", "table", "tank", "truck", "route", "at", "lot", "hours", "from"];
/// What fields hold that a page would offer.
const OFFERED: [&str; 14] = [
    "1",
    "3",
    "T1",
    "R1",
    "hydrometer",
    "water",
    "salt",
    "2013-01-24T17:00:00Z",
    "2013-01",
    "05:40",
    "23.3",
    "Pat",
    "csv",
    "00000000-0000-0000-0000-000000000001",
];

fn runner(few: u32) -> TestRunner {
    let config = cases(few);
    TestRunner::new(Config { cases: config.cases.min(MOST_REQUESTS), max_shrink_iters: 64, ..config })
}

fn runtime() -> tokio::runtime::Runtime {
    tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap()
}

fn encoded(text: &str) -> String {
    text.bytes().map(|byte| format!("%{byte:02X}")).collect()
}

/// Names of fields on the pages, and in addresses.
async fn names(test: &TestApp) -> Vec<String> {
    let mut names: BTreeSet<String> = ASKED.iter().map(|name| (*name).to_owned()).collect();
    for path in PAGES {
        let page = test.get(path).await;
        assert_eq!(page.status, StatusCode::OK, "{path}");
        let found = page.body.split(" name=\"").skip(1).filter_map(|rest| rest.split('"').next());
        names.extend(found.map(str::to_owned));
    }
    assert!(60 < names.len(), "the pages have fields: {names:?}");
    names.into_iter().collect()
}

/// Fields as a browser sends them.
fn fields(names: Vec<String>) -> impl Strategy<Value = String> {
    let name = prop_oneof![20 => prop::sample::select(names), 1 => "[a-z_]{1,10}"];
    let value = prop_oneof![2 => prop::sample::select(&OFFERED[..]).prop_map(str::to_owned), 3 => typed()];
    let pairs = prop::collection::vec((name, value), 0..12).prop_map(|pairs| {
        let id = Uuid::now_v7();
        let pairs = pairs.iter().map(|(name, value)| format!("&{}={}", encoded(name), encoded(value)));
        format!("entry_id={id}{}", pairs.collect::<String>())
    });
    let damaged = (pairs.boxed(), prop::option::weighted(0.2, any::<u64>()));
    damaged.prop_map(|(pairs, cut)| match cut {
        None => pairs,
        Some(cut) => pairs[..(cut % (pairs.len() as u64 + 1)) as usize].to_owned(),
    })
}

fn is_answered(answer: &Answer, what: &str) -> Result<(), TestCaseError> {
    // A practice plant that nobody has begun, and a disk that is elsewhere, are said with these.
    let is_fault = answer.status.is_server_error() && answer.status != StatusCode::SERVICE_UNAVAILABLE;
    prop_assert!(!is_fault, "{what}: {} {}", answer.status, answer.body);
    let is_here = answer.location.as_deref().is_none_or(|to| to.starts_with('/') && !to.starts_with("//"));
    prop_assert!(is_here, "{what}: led to {:?}", answer.location);
    prop_assert!(answer.policy.contains("default-src"), "{what}: no content policy");
    Ok(())
}

#[test]
fn every_route_answers_whatever_it_is_asked() {
    let (test, runtime) = (TestApp::new(), runtime());
    let names = runtime.block_on(names(&test));
    // A practice plant that is begun plays on by itself.
    let routes: Vec<(&str, &str)> = AUTHORISED
        .iter()
        .filter(|(_, path, _)| *path != "/trainer/begin")
        .map(|(method, path, _)| (*method, *path))
        .collect();
    let request = (prop::sample::select(routes), fields(names.clone()), fields(names));
    let sent = |((method, path), query, form): ((&'static str, &'static str), String, String)| {
        let is_post = method == "POST";
        let body = if is_post { Body::from(form.clone()) } else { Body::empty() };
        let request = Request::builder()
            .method(Method::from_bytes(method.as_bytes()).unwrap())
            .uri(format!("{path}?{query}"))
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .body(body);
        // An address that is too long for the protocol does not come here.
        let Ok(request) = request else { return Ok(()) };
        let answer = runtime.block_on(test.send(HERE, request));
        is_answered(&answer, &format!("{method} {path}?{query} {form}"))
    };
    runner(150).run(&request, sent).unwrap();
    // What was taken in meanwhile is a ledger, and its books can be shown.
    for path in ["/", "/tanks", "/books", "/ledger", "/due"] {
        assert_eq!(runtime.block_on(test.get(path)).status, StatusCode::OK, "{path}");
    }
}

#[test]
fn bodies_that_are_no_forms_are_refused() {
    let (test, runtime) = (TestApp::new(), runtime());
    let posts: Vec<&str> =
        AUTHORISED.iter().filter(|(method, ..)| *method == "POST").map(|(_, path, _)| *path).collect();
    let kinds = [
        "application/x-www-form-urlencoded",
        "application/json",
        "multipart/form-data; boundary=x",
        "text/plain; charset=\"",
        "",
    ];
    let request = (prop::sample::select(posts), prop::sample::select(kinds.to_vec()), bytes());
    let sent = |(path, kind, bytes): (&'static str, &'static str, Vec<u8>)| {
        let head = last(&test);
        let request =
            Request::post(path).header(header::CONTENT_TYPE, kind).body(Body::from(bytes.clone())).unwrap();
        let answer = runtime.block_on(test.send(HERE, request));
        is_answered(&answer, &format!("{path} {kind} {bytes:02x?}"))?;
        prop_assert_eq!(last(&test), head, "{} took in {:02x?}", path, bytes);
        Ok(())
    };
    runner(60).run(&request, sent).unwrap();
}

#[test]
fn nobody_comes_in_by_a_cookie_that_was_guessed() {
    let (test, runtime) = (TestApp::peopled(), runtime());
    let people = test.app.people.clone().unwrap();
    let code = people.give_code("first", "start", test.app.clock.now()).unwrap();
    let form = format!("name=Ines&password=a+quiet+winter&pin=7193&code={code}");
    let made = runtime.block_on(test.send(ELSEWHERE, common::post("/first", &form)));
    let good = made.kept().unwrap();
    let (name, token) = good.split_once('=').unwrap();
    let page = |cookie: Option<&HeaderValue>, more: Option<(HeaderName, HeaderValue)>| {
        let mut request = common::get("/people");
        if let Some(cookie) = cookie {
            request.headers_mut().append(header::COOKIE, cookie.clone());
        }
        request.headers_mut().extend(more.map(|(name, value)| (Some(name), value)));
        runtime.block_on(test.send(ELSEWHERE, request))
    };
    let own = HeaderValue::from_str(&good).unwrap();
    assert_eq!(page(Some(&own), None).status, StatusCode::OK, "the right one is let in");
    let guessed = prop_oneof![
        damaged_text(&[token]).prop_map(move |token| format!("{name}={token}")),
        damaged_text(&[&good]),
        text(),
    ];
    let other = prop::sample::select(vec!["accept-language", "x-forwarded-for", "host", "origin", "referer"]);
    let tried = |(cookie, other, value): (String, &str, String)| {
        // What cannot stand in a header at all does not come here.
        let Ok(cookie) = HeaderValue::from_bytes(cookie.as_bytes()) else { return Ok(()) };
        let is_own = cookie.to_str().is_ok_and(|text| {
            text.split(';').filter_map(|pair| pair.trim().split_once('=')).find(|(known, _)| *known == name)
                == Some((name, token))
        });
        let more = HeaderValue::from_bytes(value.as_bytes()).ok();
        let more = more.map(|value| (HeaderName::from_static(static_name(other)), value));
        let answer = page(Some(&cookie), more);
        is_answered(&answer, "a guessed cookie")?;
        prop_assert!(is_own || answer.status != StatusCode::OK, "{cookie:?} is let in");
        Ok(())
    };
    runner(60).run(&(guessed, other, text()), tried).unwrap();
    let sign_in = (text(), typed(), text());
    let tried = |(name, pin, password): (String, String, String)| {
        let form =
            format!("name={}&pin={}&password={}&back=", encoded(&name), encoded(&pin), encoded(&password));
        let answer = runtime.block_on(test.send(ELSEWHERE, common::post("/sign-in", &form)));
        is_answered(&answer, "a guessed password")?;
        let is_let_in = answer.cookie.is_some_and(|cookie| cookie.name().contains("session"));
        prop_assert!(!is_let_in, "{name:?} came in");
        Ok(())
    };
    runner(12).run(&sign_in, tried).unwrap();
}

fn static_name(name: &str) -> &'static str {
    match name {
        "accept-language" => "accept-language",
        "x-forwarded-for" => "x-forwarded-for",
        "host" => "host",
        "origin" => "origin",
        _ => "referer",
    }
}

#[test]
fn damaged_packets_of_a_device_are_held_or_refused() {
    let (test, runtime) = (TestApp::peopled(), runtime());
    let people = test.app.people.clone().unwrap();
    let code = people.give_code("first", "start", test.app.clock.now()).unwrap();
    let form = format!("name=Ines&password=a+quiet+winter&pin=7193&code={code}");
    let made = runtime.block_on(test.send(ELSEWHERE, common::post("/first", &form)));
    let cookie = made.kept().unwrap();
    let good = json!({
        "v": 1, "id": Uuid::from_u128(5), "path": "/ledger/note", "form": "entry_id=x&text=hello&author=",
        "author": "Ines", "key": Uuid::from_u128(6), "counter": 3, "device_ms": 1_359_050_400_000_i64,
        "offset_ms": -20, "sent_ms": 1_359_050_460_000_i64, "signature": "AAAA",
    })
    .to_string();
    let sent = |packet: String| {
        let head = last(&test);
        let request = Request::post("/offline/send").header(header::CONTENT_TYPE, "application/json");
        let request = request.body(Body::from(packet.clone())).unwrap();
        let answer = runtime.block_on(test.send(ELSEWHERE, with_cookie(request, &cookie)));
        is_answered(&answer, &packet)?;
        prop_assert_eq!(last(&test), head, "without a signature: {}", packet);
        Ok(())
    };
    runner(60).run(&prop_oneof![4 => damaged_text(&[&good]), 1 => text()], sent).unwrap();
}

#[test]
fn any_address_is_answered() {
    let (test, runtime) = (TestApp::new(), runtime());
    let known = ["/static/1/console.css", "/tanks", "/practice/tanks", "/books/file?as=csv&table=routes"];
    let address = prop_oneof![
        damaged_text(&known).prop_map(|path| path.replace(char::is_whitespace, "")),
        text().prop_map(|text| format!("/{}", encoded(&text))),
        text().prop_map(|text| format!("/static/{}", encoded(&text))),
    ];
    let asked = |address: String| {
        let Ok(request) = Request::get(address.as_str()).body(Body::empty()) else { return Ok(()) };
        let answer = runtime.block_on(test.send(HERE, request));
        is_answered(&answer, &address)
    };
    runner(80).run(&address, asked).unwrap();
}

/// The last row of the ledger.
fn last(test: &TestApp) -> u64 {
    store::Ledger::head(&*test.ledger).unwrap().seq
}
