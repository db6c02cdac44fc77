//! Work without network: what a device keeps, how a shift begins on it, and what waits for a supervisor.

use std::sync::Arc;

use askama::Template;
use axum::body::Bytes;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::{Extension, Json};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use message::{Tell, message};
use report::Words;
use serde::{Deserialize, Serialize};
use store::people::{Held, Settled};
use uuid::Uuid;

use super::parts;
use crate::access::{Act, Kept};
use crate::error::{PageError, render};
use crate::extract::FormOf;
use crate::form_messages::{bad_choice, bad_field, bad_value, unreadable};
use crate::offline::{self, From, Outcome, Packet};
use crate::page_frame::{PageFrame, Place, Visitor};
use crate::people::{KEY_GOOD, Refused, Who};
use crate::refusals;
use crate::signing::{Ask, Signer};
use crate::state::App;
use crate::statics;
use crate::ways::Ways;

/// Pages with forms of entries, and what is read beside them: a device fetches them when a shift begins on it.
const SHIFT_PAGES: [&str; 23] = [
    "/",
    "/tanks",
    "/bench",
    "/bench/trim",
    "/bench/instruments",
    "/bench/lab",
    "/put-right",
    "/jar-test",
    "/run",
    "/run/sheet",
    "/run/batch",
    "/load",
    "/load/return",
    "/load/issue",
    "/load/applied",
    "/load/other",
    "/night",
    "/roads",
    "/salt",
    "/meters",
    "/due",
    "/sprayers",
    "/ledger",
];
/// Settled entries that are still shown.
const HELD_SHOWN: usize = 60;
/// An uncompressed point of P-256.
const POINT_BYTES: usize = 65;

#[derive(Template)]
#[template(path = "offline.html")]
struct OfflinePage {
    w: Words,
    c: PageFrame,
    title: String,
    signers: Option<Vec<Signer>>,
    shift_url: String,
    /// Pages that a shift keeps for offline use.
    pages: String,
    send_url: String,
}

/// Shows what this device keeps. The page holds nothing of the yard but names of its people; the device fills in the
/// rest.
pub(crate) async fn show(visitor: Visitor) -> Result<Html<String>, PageError> {
    let title = visitor.words.say("offline.title").to_owned();
    let signers = match crate::signing::ask(&visitor, None) {
        Ask::Pin(signers) | Ask::Shift(_, signers) => Some(signers),
        Ask::Name | Ask::Known(_) => None,
    };
    let page = OfflinePage {
        c: PageFrame::new(&visitor, Place::Elsewhere, &title, "/offline"),
        w: visitor.words,
        title,
        signers,
        shift_url: visitor.app.url("/offline/shift"),
        pages: SHIFT_PAGES.map(|path| visitor.app.url(path)).join(" "),
        send_url: visitor.app.url("/offline/send"),
    };
    render(&visitor, &page)
}

/// The server's clock.
#[derive(Serialize)]
pub(crate) struct ClockAnswer {
    now_ms: i64,
}

/// Tells the server's clock: a device keeps how far its own is off.
pub(crate) async fn clock(State(app): State<Arc<App>>) -> Json<ClockAnswer> {
    Json(ClockAnswer { now_ms: app.clock.now().as_millisecond() })
}

/// A shift that begins on a device.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ShiftAsk {
    who: Uuid,
    pin: String,
    /// P-256 point, uncompressed, base64.
    public: String,
}

/// The key that a shift got.
#[derive(Serialize)]
struct ShiftAnswer {
    key: Uuid,
    person: Uuid,
    name: String,
    until_ms: i64,
    now_ms: i64,
}

/// Answer to an entry that a device sent: saved, waiting or refused.
#[derive(Serialize)]
struct Told {
    outcome: &'static str,
    detail: String,
}

fn told(status: StatusCode, outcome: &'static str, detail: String) -> Response {
    (status, Json(Told { outcome, detail })).into_response()
}

/// A person's PIN gives this device a key for a shift.
pub(crate) async fn shift(visitor: Visitor, body: Bytes) -> Response {
    let (Some(people), Who::Device(device)) = (visitor.app.people.clone(), visitor.caller.who.clone()) else {
        return told(StatusCode::CONFLICT, "no-device", visitor.words.say("offline.no-device").to_owned());
    };
    let Ok(ask) = serde_json::from_slice::<ShiftAsk>(&body) else {
        return told(
            StatusCode::BAD_REQUEST,
            "bad",
            visitor.display.tell(&message!("console.form.unreadable")),
        );
    };
    let public =
        STANDARD.decode(&ask.public).ok().filter(|point| point.len() == POINT_BYTES && point[0] == 4);
    let Some(public) = public else {
        return told(
            StatusCode::BAD_REQUEST,
            "bad",
            visitor.display.tell(&bad_field("public", "console.accepted.point")),
        );
    };
    let now = visitor.app.clock.now();
    let answer = tokio::task::spawn_blocking(move || {
        let person = people.sign(&device, ask.who, &ask.pin, now)?;
        let key = people.begin_shift((person.id, device.id), public, now)?;
        people.file().note(
            now,
            &person.name,
            &store::people::Act::ShiftBegun { device: device.name.clone() },
        )?;
        Ok::<_, Refused>((person, key))
    })
    .await;
    let words = visitor.words;
    match answer {
        Ok(Ok((person, key))) => Json(ShiftAnswer {
            key: key.id,
            person: person.id,
            name: person.name,
            until_ms: key.until.as_millisecond(),
            now_ms: now.as_millisecond(),
        })
        .into_response(),
        Ok(Err(Refused::Wait(wait))) => {
            let seconds = wait.as_secs().max(1).to_string();
            told(StatusCode::TOO_MANY_REQUESTS, "wait", words.fill("sign.wait", &[("seconds", &seconds)]))
        }
        Ok(Err(Refused::Busy)) => {
            told(StatusCode::SERVICE_UNAVAILABLE, "busy", words.say("enter.busy").to_owned())
        }
        Ok(Err(Refused::Store(error))) => {
            told(StatusCode::INTERNAL_SERVER_ERROR, "store", visitor.display.tell(&error.message()))
        }
        Ok(Err(_)) => told(StatusCode::UNPROCESSABLE_ENTITY, "wrong", words.say("sign.wrong-pin").to_owned()),
        Err(error) => {
            let fault = message!("console.fault", what = error.to_string());
            told(StatusCode::INTERNAL_SERVER_ERROR, "broken", visitor.display.tell(&fault))
        }
    }
}

/// Takes an entry of a device in: a revoked one's too, marked.
pub(crate) async fn send(
    visitor: Visitor,
    Extension(ways): Extension<Ways>,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let packet = match serde_json::from_slice::<Packet>(&body) {
        Ok(packet) if packet.v == 1 => packet,
        Ok(packet) => {
            return told(
                StatusCode::BAD_REQUEST,
                "bad",
                visitor.display.tell(&bad_choice("v", packet.v, [1])),
            );
        }
        Err(error) => {
            return told(
                StatusCode::BAD_REQUEST,
                "bad",
                visitor.display.tell(&unreadable(&error.to_string())),
            );
        }
    };
    let app = &visitor.app;
    let device = match app.people.as_ref().map(|people| people.device_of(Kept::Device.read(app, &headers))) {
        Some(Err(error)) => {
            return told(StatusCode::INTERNAL_SERVER_ERROR, "store", visitor.display.tell(&error.message()));
        }
        Some(Ok(device)) => device,
        None => None,
    };
    let from = match (&visitor.caller.who, device) {
        (Who::Person(_), _) => From::Caller(visitor.caller.clone()),
        (_, Some(device)) => From::Device(device),
        // Nobody is enrolled: the place decides, as it does for a form.
        (Who::Nobody, None) if visitor.may(Act::Record) => From::Caller(visitor.caller.clone()),
        _ => {
            return told(
                StatusCode::UNAUTHORIZED,
                "unknown",
                visitor.words.say("offline.unknown").to_owned(),
            );
        }
    };
    match offline::receive(ways, app, from, &packet).await {
        Ok(Outcome::Recorded(row)) => told(StatusCode::OK, "recorded", row),
        Ok(Outcome::Held(why)) => told(StatusCode::OK, "held", why_words(visitor.words, why.word())),
        Ok(Outcome::Full) => {
            told(StatusCode::SERVICE_UNAVAILABLE, "full", visitor.words.say("held.full").to_owned())
        }
        Err(error) => told(StatusCode::SERVICE_UNAVAILABLE, "store", visitor.display.tell(&error.message())),
    }
}

fn why_words(words: Words, why: &str) -> String {
    words
        .say(match why {
            "unsigned" => "held.unsigned",
            "revoked" => "held.revoked",
            "counted" => "held.counted",
            "clock" => "held.clock",
            "asked" => "held.asked",
            _ => "held.refused",
        })
        .to_owned()
}

/// What works while the network is away, as the browser runs it.
pub(crate) async fn worker(State(app): State<Arc<App>>) -> Response {
    let script = include_str!("../../static/worker.js");
    let shell = ["console.css", "console.js", "queue.js", "atkinson.woff2", "mark.svg"];
    let told = serde_json::json!(shell.map(|name| app.url(&statics::path(name))));
    let constants = [
        ("VERSION", serde_json::json!(statics::version())),
        ("BASE", serde_json::json!(app.base_path)),
        ("QUEUE", serde_json::json!(app.url(&statics::path("queue.js")))),
        ("SHELL", told),
        ("SHIFT_MS", serde_json::json!(KEY_GOOD.as_millis())),
    ];
    let lines = constants.iter().map(|(name, value)| format!("const {name} = {value};\n"));
    let head = format!("\"use strict\";\n{}", lines.collect::<String>());
    let headers =
        [(header::CONTENT_TYPE, "text/javascript; charset=utf-8"), (header::CACHE_CONTROL, "no-cache")];
    (headers, head + script).into_response()
}

/// What a device shows where it is installed.
pub(crate) async fn manifest(visitor: Visitor) -> Response {
    let icon = serde_json::json!({
        "src": visitor.app.url(&statics::path("mark.svg")), "sizes": "any", "type": "image/svg+xml", "purpose": "any"
    });
    let manifest = serde_json::json!({
        "name": visitor.app.yard.name,
        "short_name": visitor.app.yard.name,
        "lang": visitor.words.language().tag(),
        "start_url": visitor.app.url("/"),
        "scope": visitor.app.url("/"),
        "display": "standalone",
        "background_color": "#f4f1e8",
        "theme_color": "#1f4f54",
        "icons": [icon],
    });
    ([(header::CONTENT_TYPE, "application/manifest+json")], manifest.to_string()).into_response()
}

struct HeldView {
    id: String,
    head: String,
    why: String,
    asked: Vec<String>,
    fields: Vec<(String, String)>,
    settled: Option<String>,
}

#[derive(Template)]
#[template(path = "waiting.html")]
struct WaitingPage {
    w: Words,
    c: PageFrame,
    title: String,
    problems: Vec<String>,
    waiting: Vec<HeldView>,
    settled: Vec<HeldView>,
    url: String,
}

/// The form of a decision on an entry that waits.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SettleForm {
    id: String,
    /// What to do with the entry: `record` or `leave`.
    act: String,
    #[serde(default)]
    reason: String,
    author: String,
}

/// Shows what waits for a decision.
pub(crate) async fn waiting(visitor: Visitor) -> Result<Html<String>, PageError> {
    // At a shared device the act itself is signed by a supervisor.
    render(&visitor, &waiting_page(&visitor, Vec::new())?)
}

fn waiting_page(visitor: &Visitor, problems: Vec<String>) -> Result<WaitingPage, PageError> {
    let Some(people) = &visitor.app.people else { return Err(PageError::missing(visitor)) };
    let all = people.file().held(HELD_SHOWN).map_err(|error| PageError::store(visitor, &error))?;
    let roster = people.roster().map_err(|error| PageError::store(visitor, &error))?;
    let (w, d) = (visitor.words, &visitor.display);
    let view = |held: &Held| {
        let device = roster.devices.iter().find(|(_, one)| Some(one.id) == held.device);
        let device = device.map_or("console", |(_, one)| one.name.as_str());
        let fields: Vec<(String, String)> = serde_urlencoded::from_str(&held.form).unwrap_or_default();
        let shown = |(name, value): &(String, String)| {
            !value.trim().is_empty() && !matches!(name.as_str(), "entry_id" | "author" | "confirm")
        };
        HeldView {
            id: held.id.to_string(),
            head: w.fill(
                "waiting.head",
                &[
                    ("at", &d.time(held.occurred_at)),
                    ("who", &held.author),
                    ("device", device),
                    ("form", &held.path),
                ],
            ),
            why: why_words(w, &held.why),
            asked: refusals::read_kept(&held.detail).iter().map(|what| d.tell(what)).collect(),
            fields: fields.into_iter().filter(shown).collect(),
            settled: held.settled.as_ref().map(|end| {
                w.fill(
                    "waiting.settled",
                    &[
                        ("at", &d.time(end.at)),
                        ("who", &end.by),
                        ("how", &d.tell(&refusals::read_one(&end.outcome))),
                    ],
                )
            }),
        }
    };
    let (waiting, settled): (Vec<HeldView>, Vec<HeldView>) =
        all.iter().map(view).partition(|held| held.settled.is_none());
    let title = match waiting.len() {
        0 => w.say("waiting.none").to_owned(),
        count => w.fill("waiting.title", &[("count", &count.to_string())]),
    };
    Ok(WaitingPage {
        c: PageFrame::new(visitor, Place::Elsewhere, &title, "/waiting"),
        w,
        title,
        problems,
        waiting,
        settled,
        url: visitor.app.url("/waiting"),
    })
}

/// Carries out a decision on one entry.
pub(crate) async fn settle(
    visitor: Visitor,
    Extension(ways): Extension<Ways>,
    FormOf(form): FormOf<SettleForm>,
) -> Result<Response, PageError> {
    let store = |error| PageError::store(&visitor, &error);
    let Some(people) = visitor.app.people.clone() else { return Err(PageError::missing(&visitor)) };
    let id: Uuid = form
        .id
        .parse()
        .map_err(|_| PageError::bad_form(&visitor, &bad_value("id", &form.id, "console.accepted.form-id")))?;
    let Some(held) = people.file().held_by_id(id).map_err(store)? else {
        return Err(PageError::missing(&visitor));
    };
    let again = |problems: Vec<String>| -> Result<Response, PageError> {
        let page = waiting_page(&visitor, problems)?;
        Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
    };
    if held.settled.is_some() {
        return again(vec![visitor.words.say("waiting.gone").to_owned()]);
    }
    let outcome = match form.act.as_str() {
        "record" => match offline::record_held(ways, &visitor.app, &held, form.author.trim()).await {
            Ok(row) => message!("waiting.row", row = row),
            Err(problems) => return again(problems.iter().map(|what| visitor.display.tell(what)).collect()),
        },
        "leave" => match parts::given(Some(&form.reason)) {
            Some(reason) => message!("waiting.left-out", reason = reason),
            None => return again(vec![visitor.words.say("waiting.reason-needed").to_owned()]),
        },
        other => {
            return Err(PageError::bad_form(&visitor, &bad_choice("act", other, ["record", "leave"])));
        }
    };
    let end = Settled {
        at: visitor.app.clock.now(),
        by: form.author.trim().to_owned(),
        outcome: refusals::kept_one(&outcome),
    };
    if !people.file().settle(id, &end).map_err(store)? {
        return again(vec![visitor.words.say("waiting.gone").to_owned()]);
    }
    Ok(Redirect::to(&visitor.app.url("/waiting")).into_response())
}
