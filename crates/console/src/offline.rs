//! Entries that were made on a device without network: received exactly once, with their true time and author, or held
//! for a person to decide. None is ever dropped.
//!
//! A device signs what it queues with a key that a person's PIN gave it for a shift. The key never leaves the device;
//! what is signed is [`Packet::signed_text`]. An entry without a good signature is held as "author unconfirmed". One
//! whose form asks for a tick, or is refused, is held too: nobody is there to answer.

use std::sync::Arc;

use axum::body::{Body, to_bytes};
use axum::extract::Request;
use axum::http::{Method, StatusCode, header};
use axum::response::Response;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use jiff::{SignedDuration, Timestamp};
use message::{Message, message};
use ring::signature::{ECDSA_P256_SHA256_FIXED, UnparsedPublicKey};
use serde::Deserialize;
use site::people::{Device, Person, Role};
use store::StoreError;
use store::people::Held;
use tower::ServiceExt;
use uuid::Uuid;

use crate::access::{Act, Caller, Signed};
use crate::people::{People, Who};
use crate::refusals::{self, Refusals};
use crate::signing::{Fields, authored, put};
use crate::state::App;
use crate::ways::Ways;

/// How far a device's clock may have moved between an entry and its sending.
const CLOCK_MOVED: SignedDuration = SignedDuration::from_mins(2);
/// An entry may wait on a device for so long; an older one goes to a person.
const WAITED: SignedDuration = SignedDuration::from_hours(24 * 14);
/// So many entries of one device may wait for a person.
const MOST_HELD: u64 = 500;
/// How much of an answer is read.
const LARGEST_ANSWER: usize = 4 * 1024 * 1024;

/// An entry as a device sends it.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Packet {
    /// Layout of this: 1.
    pub(crate) v: u32,
    /// Id of the entry, made on the device.
    pub(crate) id: Uuid,
    /// Address of its form, below the base path.
    pub(crate) path: String,
    /// The form, as a browser would send it, without PIN.
    pub(crate) form: String,
    /// Who it says made it.
    pub(crate) author: String,
    /// The key that signed it; none where nobody had begun a shift.
    pub(crate) key: Option<Uuid>,
    /// The device's count of what that key signed.
    pub(crate) counter: i64,
    /// The device's clock at the entry, ms since 1970.
    pub(crate) device_ms: i64,
    /// What the server's clock was ahead of it at the last contact before, ms.
    pub(crate) offset_ms: i64,
    /// The device's clock now, at the sending, ms since 1970.
    pub(crate) sent_ms: i64,
    /// r and s, 64 bytes, base64.
    pub(crate) signature: Option<String>,
}

impl Packet {
    /// What is signed: every part that says something, a line each; the form comes last, and holds no line break.
    fn signed_text(&self) -> String {
        let key = self.key.map_or_else(String::new, |key| key.to_string());
        format!(
            "brine entry 1\n{}\n{}\n{key}\n{}\n{}\n{}\n{}",
            self.id, self.path, self.counter, self.device_ms, self.offset_ms, self.form
        )
    }

    fn at(&self) -> Option<Timestamp> {
        Timestamp::from_millisecond(self.device_ms.checked_add(self.offset_ms)?).ok()
    }
}

/// Why an entry is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Why {
    /// No good signature: the author is unconfirmed.
    Unsigned,
    /// The device is not trusted any more.
    Revoked,
    /// The key's count was used by another entry.
    Counted,
    /// The clock of the device cannot be right.
    Clock,
    /// Its form asks for a tick.
    Asked,
    /// Its form is refused.
    Refused,
}

impl Why {
    /// As it is kept.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Why::Unsigned => "unsigned",
            Why::Revoked => "revoked",
            Why::Counted => "counted",
            Why::Clock => "clock",
            Why::Asked => "asked",
            Why::Refused => "refused",
        }
    }
}

/// What became of an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// It is in the ledger, now or from before.
    Recorded(String),
    /// It waits for a person.
    Held(Why),
    /// So many of its device wait that no more are taken: the device keeps it.
    Full,
}

/// Where an entry comes from.
pub(crate) enum From {
    /// An enrolled device, or one that was.
    Device(Device),
    /// Somebody who is signed in, or the machine itself while nobody is enrolled.
    Caller(Caller),
}

/// Takes an entry in.
///
/// # Errors
/// When it cannot be kept: the device keeps it then.
pub(crate) async fn receive(
    ways: Ways,
    app: &Arc<App>,
    from: From,
    packet: &Packet,
) -> Result<Outcome, StoreError> {
    let now = app.clock.now();
    let people = app.people.as_deref();
    if let Some(people) = people
        && let Some(before) = people.file().received(packet.id)?
    {
        return Ok(match before.as_str() {
            "held" => Outcome::Held(Why::Asked),
            row => Outcome::Recorded(row.to_owned()),
        });
    }
    let in_time = |at: &Timestamp| *at <= now + CLOCK_MOVED && now - WAITED <= *at;
    let at = packet.at().filter(in_time).map(|at| at.min(now));
    let moved = packet.sent_ms.saturating_add(packet.offset_ms).saturating_sub(now.as_millisecond());
    let is_clock_good = at.is_some() && moved.saturating_abs() <= CLOCK_MOVED.as_millis() as i64;
    let at = at.unwrap_or(now);
    let (found, caller) = match &from {
        From::Caller(caller) => {
            let signed = Caller { signed: Some(Signed { at: Some(at) }), ..caller.clone() };
            (if is_clock_good { Ok(None) } else { Err(Why::Clock) }, signed)
        }
        From::Device(device) => {
            let found = match people {
                Some(people) => author(people, device, packet, at)?,
                None => Err(Why::Unsigned),
            };
            let found = if is_clock_good { found.map(Some) } else { found.and(Err(Why::Clock)) };
            let role =
                found.as_ref().ok().and_then(Option::as_ref).map_or(Role::Viewer, |person| person.role);
            (found, Caller { role, who: Who::Device(device.clone()), signed: Some(Signed { at: Some(at) }) })
        }
    };
    let (why, detail) = match found {
        Err(why) => (why, Vec::new()),
        Ok(person) => {
            let name = match (&person, &caller.who) {
                (Some(person), _) => person.name.clone(),
                (None, Who::Person(person)) => person.name.clone(),
                (None, Who::Device(_) | Who::Nobody) => packet.author.clone(),
            };
            match replay(ways, app, caller, &packet.path, fields(&packet.form, &name)).await {
                Replayed::Recorded(row) => {
                    if let Some(people) = people {
                        people.file().put_received(packet.id, counted(packet), now, &row)?;
                    }
                    return Ok(Outcome::Recorded(row));
                }
                Replayed::Asked { problems, .. } => (Why::Asked, problems),
                Replayed::Refused { problems } => match came_before(app, packet, &name, at)? {
                    Some(row) => return Ok(Outcome::Recorded(row)),
                    None => (Why::Refused, problems),
                },
                Replayed::Failed(detail) => return Err(StoreError::Database(message::said(detail))),
            }
        }
    };
    let detail = refusals::kept(&detail);
    let Some(people) = people else { return Err(StoreError::Database(message::said(detail))) };
    let (device, person) = match &from {
        From::Device(device) => (Some(device.id), None),
        From::Caller(Caller { who: Who::Person(person), .. }) => (None, Some(person.id)),
        From::Caller(_) => (None, None),
    };
    let held = Held {
        id: packet.id,
        device,
        person,
        author: packet.author.trim().to_owned(),
        path: packet.path.clone(),
        form: packet.form.clone(),
        counter: Some(packet.counter),
        occurred_at: at,
        received_at: now,
        why: why.word().to_owned(),
        detail,
        settled: None,
    };
    let signed = counted(packet).filter(|_| why != Why::Counted);
    Ok(if people.file().hold(&held, signed, MOST_HELD)? { Outcome::Held(why) } else { Outcome::Full })
}

fn counted(packet: &Packet) -> Option<(Uuid, i64)> {
    packet.key.map(|key| (key, packet.counter))
}

/// The row of an entry that had reached the ledger while its answer was lost on the way back: its form's id is there,
/// by the same author, at about the same time.
fn came_before(
    app: &App,
    packet: &Packet,
    author: &str,
    at: Timestamp,
) -> Result<Option<String>, StoreError> {
    let entry = fields(&packet.form, author).into_iter().find(|(field, _)| field == "entry_id");
    let Some(id) = entry.and_then(|(_, id)| id.parse::<Uuid>().ok()) else { return Ok(None) };
    let events = app.ledger.events_after(0)?;
    let found = events.iter().find(|recorded| {
        let event = &recorded.event;
        let apart = event.occurred_at.duration_since(at).abs();
        event.id.0 == id && event.author == author && apart <= CLOCK_MOVED
    });
    Ok(found.map(|recorded| recorded.seq.to_string()))
}

/// Who signed, if that is sure.
fn author(
    people: &People,
    device: &Device,
    packet: &Packet,
    at: Timestamp,
) -> Result<Result<Person, Why>, StoreError> {
    let roster = people.roster()?;
    let known =
        packet.key.and_then(|id| roster.keys.iter().find(|key| key.id == id && key.device == device.id));
    let signature = packet.signature.as_deref().and_then(|text| STANDARD.decode(text).ok());
    let (Some(key), Some(signature)) = (known, signature) else { return Ok(Err(Why::Unsigned)) };
    let is_good = UnparsedPublicKey::new(&ECDSA_P256_SHA256_FIXED, &key.public)
        .verify(packet.signed_text().as_bytes(), &signature)
        .is_ok();
    let is_in_time = key.made_at - CLOCK_MOVED <= at && at <= key.until;
    let person = roster.people.iter().find(|one| one.id == key.person);
    let Some(person) = person.filter(|_| is_good && is_in_time) else { return Ok(Err(Why::Unsigned)) };
    if device.revoked_at.is_some() || !person.is_active {
        return Ok(Err(Why::Revoked));
    }
    if people.file().is_count_used(key.id, packet.counter, packet.id)? {
        return Ok(Err(Why::Counted));
    }
    Ok(Ok(person.clone()))
}

/// A form's fields under a name.
fn fields(form: &str, author: &str) -> Fields {
    authored(serde_urlencoded::from_str(form).unwrap_or_default(), author)
}

/// What a form's own handler said of an entry.
pub(crate) enum Replayed {
    /// Recorded, in this row where the answer tells.
    Recorded(String),
    /// It asks for a tick with this mark.
    Asked { problems: Vec<Message>, mark: String },
    /// It is refused.
    Refused { problems: Vec<Message> },
    /// The ledger could not be written, or a fault of ours: to be tried again.
    Failed(String),
}

/// Sends a form through the pages as if its author stood here at its time.
pub(crate) async fn replay(
    ways: Ways,
    app: &Arc<App>,
    caller: Caller,
    path: &str,
    fields: Fields,
) -> Replayed {
    let no_form = || Replayed::Refused { problems: vec![message!("console.not-an-entry-form")] };
    if !matches!((ways.act_of)(&Method::POST, path), Some(Act::Record | Act::TakeBack)) {
        return no_form();
    }
    let mut request = Request::new(Body::empty());
    *request.method_mut() = Method::POST;
    let Ok(uri) = app.url(path).parse() else { return no_form() };
    *request.uri_mut() = uri;
    let refusals = Refusals::default();
    request.extensions_mut().insert(caller);
    request.extensions_mut().insert(refusals.clone());
    put(&mut request, fields);
    let answer = match (ways.router)(Arc::clone(app)).oneshot(request).await {
        Ok(answer) => answer,
        Err(never) => match never {},
    };
    read(answer, &refusals).await
}

async fn read(answer: Response, refusals: &Refusals) -> Replayed {
    let status = answer.status();
    if status.is_redirection() {
        let to = answer.headers().get(header::LOCATION).and_then(|value| value.to_str().ok()).unwrap_or("");
        let row = ["saved=", "row="].iter().find_map(|name| to.split_once(name)).map_or("", |(_, rest)| rest);
        return Replayed::Recorded(row.chars().take_while(char::is_ascii_digit).collect());
    }
    let body = to_bytes(answer.into_body(), LARGEST_ANSWER).await.unwrap_or_default();
    let page = String::from_utf8_lossy(&body);
    if status.is_server_error() {
        return Replayed::Failed(status.to_string());
    }
    let problems = refusals.told_by(&problems_on(&page));
    match page.split_once("name=\"confirm\" value=\"").and_then(|(_, rest)| rest.split_once('"')) {
        Some((mark, _)) if status == StatusCode::UNPROCESSABLE_ENTITY => {
            Replayed::Asked { problems, mark: mark.to_owned() }
        }
        _ => Replayed::Refused { problems },
    }
}

/// What a page of ours says is wrong, as a person reads it: the list of problems, or else its headline.
fn problems_on(page: &str) -> Vec<String> {
    let listed = page.split_once("id=\"refused\"").and_then(|(_, rest)| rest.split_once("</ul>"));
    let found: Vec<String> = match listed {
        // One that stands at its field is only named in the list.
        Some((list, _)) => {
            let items = list.split("<li").skip(1).map(|item| item.split("</li>").next().unwrap_or(""));
            let at_field = |item: &str| {
                let place = item.split_once("href=\"#field-")?.1.split('"').next()?;
                let (_, says) = page.split_once(&format!("id=\"says-{place}\" data-says=\""))?;
                Some(plain(says.split('"').next()?))
            };
            let whole = |item: &str| {
                let says = item.strip_prefix(" data-says=\"").and_then(|rest| rest.split('"').next());
                says.map_or_else(|| plain(item.split_once('>').map_or(item, |(_, text)| text)), plain)
            };
            items.map(|item| at_field(item).unwrap_or_else(|| whole(item))).collect()
        }
        None => page
            .split_once("<h1>")
            .and_then(|(_, rest)| rest.split_once("</h1>"))
            .map(|(head, _)| plain(head))
            .into_iter()
            .collect(),
    };
    found
}

/// Text of a piece of our own markup.
fn plain(markup: &str) -> String {
    let mut text = String::new();
    let mut is_mark = false;
    for letter in markup.chars() {
        match letter {
            '<' => is_mark = true,
            '>' => is_mark = false,
            _ if is_mark => {}
            other => text.push(other),
        }
    }
    let text = text.replace("&#60;", "<").replace("&#62;", ">").replace("&#34;", "\"").replace("&#39;", "'");
    text.replace("&#38;", "&").trim().to_owned()
}

/// Records an entry that was held, on a supervisor's word; the tick it asks for is theirs.
///
/// # Errors
/// What stands in the way.
pub(crate) async fn record_held(
    ways: Ways,
    app: &Arc<App>,
    held: &Held,
    by: &str,
) -> Result<String, Vec<Message>> {
    let roster = app.people.as_ref().and_then(|people| people.roster().ok()).unwrap_or_default();
    let device =
        roster.devices.iter().find(|(_, one)| Some(one.id) == held.device).map(|(_, one)| one.name.as_str());
    let name = format!("{}, confirmed by {by}", device.unwrap_or("console"));
    let caller = || Caller {
        role: Role::Supervisor,
        who: Who::Device(Device {
            id: held.device.unwrap_or_default(),
            name: name.clone(),
            enrolled_at: held.received_at,
            enrolled_by: by.to_owned(),
            revoked_at: None,
        }),
        signed: Some(Signed { at: Some(held.occurred_at) }),
    };
    let mut fields = fields(&held.form, &held.author);
    fields.retain(|(field, _)| field != "confirm");
    match replay(ways, app, caller(), &held.path, fields.clone()).await {
        Replayed::Recorded(row) => Ok(row),
        Replayed::Refused { problems } => Err(problems),
        Replayed::Failed(detail) => Err(vec![message::said(detail)]),
        Replayed::Asked { mark, .. } => {
            fields.push(("confirm".to_owned(), mark));
            match replay(ways, app, caller(), &held.path, fields).await {
                Replayed::Recorded(row) => Ok(row),
                Replayed::Asked { problems, .. } | Replayed::Refused { problems } => Err(problems),
                Replayed::Failed(detail) => Err(vec![message::said(detail)]),
            }
        }
    }
}
