//! Every field of every form, over HTTP, with what nobody should type: random text, and text made to break pages,
//! files, headers and databases. Nothing is ever a fault of the server, nothing is shown as anything but text, and
//! nothing in a file of a spreadsheet begins a formula.
//!
//! The set follows what the OWASP testing guide lists for injection (HTML, SVG, SQL, CSV formula, header, path).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use std::collections::{BTreeMap, BTreeSet};

use axum::http::StatusCode;
use common::page::Page;
use common::{Answer, HERE, TestApp, get, post};
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use uuid::Uuid;

const HOSTILE: [&str; 12] = [
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "'\"><svg onload=alert(1)>",
    "{{7*7}}{% raw %}",
    "'; drop table event; --",
    "1 or 1=1",
    "=HYPERLINK(\"http://evil.example\",\"x\")",
    "@SUM(1+1)*cmd|' /C calc'!A0",
    "x\r\nSet-Cookie: a=b\r\n\r\n<b id=evil>",
    "../../../../etc/passwd",
    "\u{0}\u{202e}\u{feff}\u{1f4a9}",
    "-1e400",
];
/// What must not stand on a page as it was typed.
const MARKUP: [&str; 4] = ["<script>alert", "<img src=x", "<svg onload", "<b id=evil"];

/// A form of a page: where it goes, and its fields with a value each that the page itself offers.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Form {
    action: String,
    fields: BTreeMap<String, String>,
}

fn forms(page: &Page) -> Vec<Form> {
    let posted = page.parts("form[method=post]");
    let read = |form: &Page| {
        let field = |name: String| {
            let (held, offered) = (form.field(&name), form.options(&name));
            let mut offered_values = offered.iter().map(|(value, _)| value.clone());
            let value = match offered.is_empty() {
                _ if !held.is_empty() => held,
                true => sample(&name),
                false => offered_values.find(|value| !value.is_empty()).unwrap_or_default(),
            };
            (name, value)
        };
        let names = form.attrs("input[name], textarea[name], select[name]", "name");
        Form { action: form.attr("form", "action"), fields: names.into_iter().map(field).collect() }
    };
    posted.iter().map(read).collect()
}

/// Something plausible for a field that the page leaves blank.
fn sample(name: &str) -> String {
    let is = |part: &str| name.contains(part);
    let text = match name {
        "author" | "who" | "name" | "supplier" | "agency" | "driver" => "Pat",
        "at" | "confirm" => "",
        "month" => "2013-01",
        "until" | "from" | "begin" | "end" => "2013-01-24T17:00:00Z",
        "text" | "reason" | "remark" | "done" | "why" => "as usual",
        _ if is("temp") => "40",
        _ if is("pct") || is("strength") => "23.3",
        _ if is("caught") => "64 63 66",
        _ => "12",
    };
    text.to_owned()
}

fn encoded(fields: &BTreeMap<String, String>) -> String {
    serde_urlencoded::to_string(fields).unwrap()
}

const PAGES: [&str; 26] = [
    "/",
    "/storm",
    "/tanks",
    "/run",
    "/bench",
    "/bench?tank=1&instrument=hydrometer&reading=1.178&temp_f=60",
    "/bench/trim",
    "/bench/instruments",
    "/bench/lab",
    "/put-right",
    "/put-right?tank=1&strength_pct=25&with=water",
    "/jar-test?tank=3",
    "/load",
    "/load/return",
    "/load/issue",
    "/load/applied",
    "/load/other",
    "/load/other?what=settlement",
    "/load/other?what=loss",
    "/books/storms",
    "/books/close",
    "/salt",
    "/meters",
    "/due",
    "/sprayers",
    "/ledger",
];
const SHOWING: [&str; 20] = [
    "/",
    "/tanks",
    "/run",
    "/run/sheet",
    "/bench",
    "/bench/record",
    "/bench/instruments",
    "/load",
    "/books",
    "/books/storms",
    "/books/close",
    "/books/lots",
    "/books/bills",
    "/night",
    "/salt",
    "/meters",
    "/due",
    "/sprayers",
    "/ledger",
    "/trainer",
];
const FILES: [&str; 5] = [
    "/books/file?as=csv&table=routes",
    "/books/file?as=csv&table=agencies",
    "/books/file?as=csv&table=overrides",
    "/books/file?as=csv&table=losses",
    "/books/file?as=csv&table=flags",
];

fn is_plain(answer: &Answer, what: &str) {
    assert!(!answer.status.is_server_error(), "{what}: {} {}", answer.status, answer.body);
    // Bytes first: what stands there as it was typed is markup to some reader, whatever our parser makes of it.
    for markup in MARKUP {
        assert!(!answer.body.contains(markup), "{what}: {markup} is shown as markup");
    }
    if answer.body.contains('<') {
        let made = "script:not([src]), img, [onerror], [onload], #evil, main b[id]";
        assert!(!answer.page().has(made), "{what}: an element of what was typed");
    }
    // The one that keeps a name for the next entry, whatever the name was: no letter of it ends the cookie.
    let is_ours = answer.cookie.as_ref().is_none_or(|cookie| {
        let (name, kept) = cookie.name_value();
        name.starts_with("brine-name-")
            && cookie.domain().is_none()
            && kept.bytes().all(|byte| byte.is_ascii_alphanumeric() || b"-_.~%".contains(&byte))
    });
    assert!(is_ours, "{what}: a cookie nobody set: {:?}", answer.cookie);
    assert!(answer.location.as_deref().is_none_or(|to| to.starts_with('/')), "{what}: {:?}", answer.location);
}

async fn all_forms(test: &TestApp) -> BTreeSet<Form> {
    let mut all: BTreeMap<(String, Vec<String>), Form> = BTreeMap::new();
    for path in PAGES {
        let page = test.get(path).await;
        assert_eq!(page.status, StatusCode::OK, "{path}");
        for form in forms(&page.page()) {
            let names = form.fields.keys().cloned().collect();
            all.insert((form.action.clone(), names), form);
        }
    }
    all.into_values().filter(|form| !matches!(form.action.as_str(), "/units" | "/language")).collect()
}

#[tokio::test]
async fn every_field_of_every_form_takes_anything_and_shows_it_as_text() {
    let test = TestApp::new();
    let forms = all_forms(&test).await;
    let fields: usize = forms.iter().map(|form| form.fields.len()).sum();
    assert!(forms.len() >= 25 && fields >= 150, "{} forms with {fields} fields", forms.len());
    let seed = *b"brinewright: every field, 2026!!";
    let mut runner =
        TestRunner::new_with_rng(Config::default(), TestRng::from_seed(RngAlgorithm::ChaCha, &seed));
    let any_text = proptest::string::string_regex("(?s).{0,60}").unwrap();
    let any_number = proptest::num::f64::ANY;
    let mut recorded = 0;
    for form in &forms {
        for field in form.fields.keys() {
            let mut values: Vec<String> = HOSTILE.iter().map(ToString::to_string).collect();
            for _ in 0..3 {
                values.push(any_text.new_tree(&mut runner).unwrap().current());
                values.push(any_number.new_tree(&mut runner).unwrap().current().to_string());
            }
            for value in values {
                let mut typed = form.fields.clone();
                if let Some(id) = typed.get_mut("entry_id") {
                    *id = Uuid::now_v7().to_string();
                }
                typed.insert(field.clone(), value.clone());
                let what = format!("{} {field} = {value:?}", form.action);
                let answer = test.send(HERE, post(&form.action, &encoded(&typed))).await;
                is_plain(&answer, &what);
                recorded += usize::from(answer.status.is_redirection());
            }
        }
    }
    assert!(recorded > 300, "only {recorded} were recorded: what is typed must reach the ledger");
    for path in SHOWING {
        is_plain(&test.get(path).await, path);
    }
    for path in FILES {
        let file = test.get(path).await;
        assert!(!file.status.is_server_error(), "{path}");
        for line in file.body.lines() {
            for cell in line.split(',') {
                let cell = cell.trim_start_matches('"');
                let is_formula =
                    cell.starts_with(['=', '@', '\t']) || cell.starts_with("+") || cell.starts_with("-1e4");
                assert!(!is_formula, "{path}: {line}");
            }
        }
    }
    assert!(matches!(store::Ledger::verify(&*test.ledger).unwrap(), store::Verification::Sound(_)));
}

#[tokio::test]
async fn every_question_may_hold_anything() {
    let test = TestApp::new();
    for path in SHOWING.iter().chain(&PAGES) {
        let (path, _) = path.split_once('?').unwrap_or((path, ""));
        for name in ["tank", "reading", "row", "run", "forecast", "begin", "saved", "x"] {
            for value in HOSTILE {
                let escaped: String = value.bytes().map(|byte| format!("%{byte:02X}")).collect();
                let asked = format!("{path}?{name}={escaped}");
                is_plain(&test.send(HERE, get(&asked)).await, &asked);
            }
        }
    }
    for path in [
        "/static/../../etc/passwd",
        "/static/x/..%2f..%2fetc%2fpasswd",
        "/%2e%2e/",
        "//evil.example/",
        "/ticket?row=99999999999999999999",
    ] {
        let answer = test.send(HERE, get(path)).await;
        assert!(
            answer.status.is_client_error() || answer.status == StatusCode::OK,
            "{path}: {}",
            answer.status
        );
        // Of a file that is no page there are only the bytes.
        assert!(!answer.body.contains("root:"), "{path}");
    }
}
