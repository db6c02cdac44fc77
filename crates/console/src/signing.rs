//! A person's own act on a shared device: signed with a PIN, checked before any handler sees it.
//!
//! Forms know nothing of it. What a signature adds to a form is taken off here, and who signed is put in the place of
//! the name that was typed; so is who came in with a password. A wrong PIN is asked again with everything that was
//! typed kept. Where the yard says so, a PIN holds for the shift or the guided run; acts of a supervisor ask anew.

use std::sync::Arc;

use askama::Template;
use axum::body::{Body, Bytes, to_bytes};
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, Uri, header};
use axum::middleware::Next;
use axum::response::{Html, IntoResponse, Redirect, Response};
use jiff::SignedDuration;
use quantity::in_hours;
use report::Words;
use site::PinHolds;
use site::people::{Device, Person};
use uuid::Uuid;

use crate::access::{Act, Caller, Kept, LARGEST_FORM, Signed, path_below};
use crate::encoded::form_encoded;
use crate::error::PageError;
use crate::page_frame::{PageFrame, Place, Visitor};
use crate::people::{OnShift, Refused, Who};
use crate::state::App;
use crate::ways::Ways;

/// Field of a form: who signs.
pub(crate) const WHO: &str = "sign_who";
/// Field of a form: the PIN.
pub(crate) const PIN: &str = "sign_pin";
/// Field of a form: who made the entry, by name.
const AUTHOR: &str = "author";

/// That name is kept for a shift.
const NAME_KEPT: SignedDuration = SignedDuration::from_hours(12);
/// A PIN given for starting a run holds in it: the run begins when that act is recorded.
const RUN_BEGINS: SignedDuration = SignedDuration::from_mins(1);

/// A form's fields in order.
pub(crate) type Fields = Vec<(String, String)>;

/// One that may sign.
pub(crate) struct Signer {
    pub(crate) id: String,
    pub(crate) name: String,
    pub(crate) chosen: bool,
}

/// How a page asks whose act it is.
pub(crate) enum Ask {
    /// By a name that is typed: nobody is enrolled.
    Name,
    /// Not at all: somebody came in.
    Known(String),
    /// By a name from a list, and a PIN.
    Pin(Vec<Signer>),
    /// Not while somebody's PIN holds; with the list, for what asks anew.
    Shift(Holder, Vec<Signer>),
}

/// Whose PIN holds, as a page says it.
pub(crate) struct Holder {
    pub(crate) id: String,
    pub(crate) name: String,
    pub(crate) until: String,
}

impl Ask {
    /// Who it is, where that is known.
    pub(crate) fn known(&self) -> Option<&str> {
        match self {
            Ask::Known(name) => Some(name),
            Ask::Name | Ask::Pin(_) | Ask::Shift(..) => None,
        }
    }

    /// Whose PIN holds.
    pub(crate) fn on_shift(&self) -> Option<&Holder> {
        match self {
            Ask::Shift(holder, _) => Some(holder),
            Ask::Name | Ask::Known(_) | Ask::Pin(_) => None,
        }
    }

    /// Who may sign, where a PIN is asked.
    pub(crate) fn signers(&self) -> Option<&[Signer]> {
        match self {
            Ask::Pin(signers) | Ask::Shift(_, signers) => Some(signers),
            Ask::Name | Ask::Known(_) => None,
        }
    }
}

/// How a visitor is asked.
pub(crate) fn ask(visitor: &Visitor, chosen: Option<&str>) -> Ask {
    match &visitor.caller.who {
        Who::Nobody => Ask::Name,
        Who::Person(person) => Ask::Known(person.name.clone()),
        Who::Device(_) => {
            // People whose file cannot be read are nobody to choose from; the page says the rest.
            let all =
                visitor.app.people.as_ref().and_then(|people| people.signers().ok()).unwrap_or_default();
            let signer = |person: Person| Signer {
                chosen: chosen == Some(person.id.to_string().as_str()),
                id: person.id.to_string(),
                name: person.name,
            };
            let all = all.into_iter().map(signer).collect();
            match &visitor.on_shift {
                // Asked for again, a PIN is what is wanted.
                Some(held) if chosen.is_none() => {
                    let (id, name) = (held.person.id.to_string(), held.person.name.clone());
                    Ask::Shift(Holder { id, name, until: visitor.display.time(held.until) }, all)
                }
                _ => Ask::Pin(all),
            }
        }
    }
}

#[derive(Template)]
#[template(path = "sign_again.html")]
struct SignAgain {
    w: Words,
    c: PageFrame,
    title: String,
    problem: String,
    url: String,
    fields: Fields,
    /// What a person typed, of the fields.
    shown: Fields,
    signers: Vec<Signer>,
}

/// Checks who signs, where the act is a person's own.
pub(crate) async fn sign(State(app): State<Arc<App>>, request: Request, next: Next) -> Response {
    let path = path_below(&app, request.uri().path()).to_owned();
    let is_signed = act_of(&request, &path).is_some_and(|act| act.is_signed());
    let caller = request.extensions().get::<Caller>().cloned();
    let is_due = is_signed && request.method() == "POST";
    // An entry made without network was signed by a key.
    let unsigned = caller.filter(|caller| caller.signed.is_none());
    let (Some(caller), true) = (unsigned, is_due) else {
        return next.run(request).await;
    };
    let Some(people) = app.people.clone().filter(|_| caller.who != Who::Nobody) else {
        return named(&app, request, next).await;
    };
    let act = act_of(&request, &path);
    let (parts, body) = request.into_parts();
    let visitor = Visitor::of(&parts, &app);
    let Ok(bytes) = to_bytes(body, LARGEST_FORM).await else {
        return PageError::too_large(&visitor).into_response();
    };
    let mut request = Request::from_parts(parts, Body::empty());
    match caller.who.clone() {
        Who::Nobody => *request.body_mut() = Body::from(bytes),
        Who::Person(person) => put(&mut request, authored(read(&bytes), &person.name)),
        Who::Device(device) => {
            let mut fields = read(&bytes);
            let who = take(&mut fields, WHO);
            let pin = take(&mut fields, PIN);
            let now = app.clock.now();
            let id = who.as_deref().and_then(|who| who.parse::<Uuid>().ok());
            let has_pin = pin.as_ref().is_some_and(|pin| !pin.trim().is_empty());
            let held = visitor.on_shift.as_ref().filter(|held| {
                let asks_anew = matches!(act, Some(Act::Close | Act::Settle | Act::Manage));
                !has_pin && !asks_anew && Some(held.person.id) == id
            });
            if let Some(held) = held {
                let person = held.person.clone();
                let signed = Caller { role: person.role, signed: Some(Signed { at: None }), ..caller };
                request.extensions_mut().insert(signed);
                put(&mut request, authored(fields, &person.name));
                return next.run(request).await;
            }
            let (keeper, at) = (Arc::clone(&people), device.id);
            let found = match (id, pin) {
                (Some(id), Some(pin)) if !pin.trim().is_empty() => {
                    let device: Device = device.clone();
                    tokio::task::spawn_blocking(move || people.sign(&device, id, &pin, now)).await
                }
                (None, _) => return again(&visitor, &request, fields, None, "sign.who-first", &[]),
                (_, None | Some(_)) => {
                    return again(&visitor, &request, fields, who.as_deref(), "sign.pin-first", &[]);
                }
            };
            match found {
                Ok(Ok(person)) => {
                    let signed = Caller { role: person.role, signed: Some(Signed { at: None }), ..caller };
                    request.extensions_mut().insert(signed);
                    put(&mut request, authored(fields, &person.name));
                    let signing = app.yard.signing;
                    if signing.pin == PinHolds::Entry {
                        return next.run(request).await;
                    }
                    let seconds = (in_hours(signing.shift) * 3600.0) as i64;
                    let token = keeper.hold(at, person.id, now, now + SignedDuration::from_secs(seconds));
                    let answer = next.run(request).await;
                    return with_cookie(&app, answer, Kept::Shift, &token, seconds);
                }
                Ok(Err(Refused::Wait(wait))) => {
                    let seconds = wait.as_secs().max(1).to_string();
                    let values = [("seconds", seconds.as_str())];
                    return again(&visitor, &request, fields, who.as_deref(), "sign.wait", &values);
                }
                Ok(Err(Refused::Busy)) => {
                    return again(&visitor, &request, fields, who.as_deref(), "enter.busy", &[]);
                }
                Ok(Err(Refused::Store(error))) => return PageError::store(&visitor, &error).into_response(),
                Ok(Err(_)) => {
                    return again(&visitor, &request, fields, who.as_deref(), "sign.wrong", &[]);
                }
                Err(error) => return PageError::broken(&visitor, &error).into_response(),
            }
        }
    }
    next.run(request).await
}

/// Takes an entry of somebody whom nobody asked for more than a name: the device remembers it for a shift.
async fn named(app: &App, request: Request, next: Next) -> Response {
    let (parts, body) = request.into_parts();
    let Ok(bytes) = to_bytes(body, LARGEST_FORM).await else {
        // The handler says that it is too long.
        return next.run(Request::from_parts(parts, Body::from(vec![b'='; LARGEST_FORM + 1]))).await;
    };
    let name = read(&bytes).into_iter().find(|(field, _)| field == AUTHOR).map(|(_, name)| name);
    let answer = next.run(Request::from_parts(parts, Body::from(bytes))).await;
    match name.filter(|name| !name.trim().is_empty() && answer.status() == StatusCode::SEE_OTHER) {
        Some(name) => {
            let kept = form_encoded(name.trim());
            with_cookie(app, answer, Kept::Name, &kept, NAME_KEPT.as_secs())
        }
        None => answer,
    }
}

/// An answer with a cookie of this device.
fn with_cookie(app: &App, mut answer: Response, of: Kept, value: &str, seconds: i64) -> Response {
    if let Ok(cookie) = HeaderValue::from_str(&of.put(app, value, seconds)) {
        answer.headers_mut().append(header::SET_COOKIE, cookie);
    }
    answer
}

/// The name that a device last entered under; empty for none.
pub(crate) fn kept_name(app: &App, headers: &HeaderMap) -> String {
    let kept = Kept::Name.read(app, headers).unwrap_or_default();
    let read: Fields = serde_urlencoded::from_str(&format!("name={kept}")).unwrap_or_default();
    read.into_iter().map(|(_, name)| name).next().unwrap_or_default()
}

/// Whose PIN holds at a device, by what the yard has chosen.
pub(crate) fn on_shift(app: &App, device: &Device, headers: &HeaderMap) -> Option<OnShift> {
    let held = app.people.as_ref()?.held(Kept::Shift.read(app, headers)?, device.id, app.clock.now())?;
    let run = || app.books().ok()?.runs.open().map(|run| run.at);
    let holds = match app.yard.signing.pin {
        PinHolds::Entry => false,
        PinHolds::Shift => true,
        // Signed in the run that goes on, or for its start.
        PinHolds::Run => run().is_some_and(|begun| begun - RUN_BEGINS <= held.since),
    };
    holds.then_some(held)
}

/// Somebody else is to sign: the PIN that held holds no more.
pub(crate) async fn over(visitor: Visitor, headers: HeaderMap) -> Response {
    if let (Some(people), Some(token)) = (&visitor.app.people, Kept::Shift.read(&visitor.app, &headers)) {
        people.let_go(token);
    }
    let back = headers.get(header::REFERER).and_then(|value| value.to_str().ok());
    let back = back.and_then(|back| back.parse::<Uri>().ok());
    let path = back.as_ref().and_then(|uri| uri.path_and_query()).map_or("/", |path| path.as_str());
    let to = if path.starts_with('/') && !path.starts_with("//") { path } else { "/" };
    with_cookie(&visitor.app, Redirect::to(to).into_response(), Kept::Shift, "", 0)
}

/// The fields of a form; what is none has none, and its handler says so.
pub(crate) fn read(bytes: &Bytes) -> Fields {
    serde_urlencoded::from_bytes(bytes).unwrap_or_default()
}

/// Puts the one who signed in the place of a name that was typed.
pub(crate) fn authored(mut fields: Fields, name: &str) -> Fields {
    let asks = fields.iter().any(|(field, _)| field == AUTHOR);
    fields.retain(|(field, _)| field != AUTHOR && field != WHO && field != PIN);
    if asks {
        fields.push((AUTHOR.to_owned(), name.to_owned()));
    }
    fields
}

/// Makes a form the body of a request.
pub(crate) fn put(request: &mut Request, fields: Fields) {
    let text = serde_urlencoded::to_string(fields).unwrap_or_default();
    let headers = request.headers_mut();
    headers.insert(header::CONTENT_LENGTH, HeaderValue::from(text.len()));
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("application/x-www-form-urlencoded"));
    *request.body_mut() = Body::from(text);
}

fn take(fields: &mut Fields, name: &str) -> Option<String> {
    let place = fields.iter().position(|(field, _)| field == name)?;
    Some(fields.remove(place).1)
}

/// Asks for the PIN again, with everything else kept.
fn again(
    visitor: &Visitor,
    request: &Request,
    fields: Fields,
    who: Option<&str>,
    key: &str,
    values: &[(&str, &str)],
) -> Response {
    let w = visitor.words;
    let title = w.say("sign.again").to_owned();
    let (Ask::Pin(signers) | Ask::Shift(_, signers)) = ask(visitor, who) else {
        return PageError::refused(visitor).into_response();
    };
    let page = SignAgain {
        c: PageFrame::new(visitor, Place::Elsewhere, &title, "/"),
        w,
        title,
        problem: match signers.iter().find(|one| one.chosen) {
            Some(one) => w.fill(key, &[values, &[("name", one.name.as_str())]].concat()),
            None => w.fill(key, values),
        },
        shown: fields
            .iter()
            .filter(|(name, value)| {
                !value.trim().is_empty() && !matches!(name.as_str(), "entry_id" | AUTHOR | "confirm")
            })
            .cloned()
            .collect(),
        url: request.uri().path_and_query().map_or_else(String::new, ToString::to_string),
        fields,
        signers,
    };
    match page.render() {
        Ok(html) => (StatusCode::UNPROCESSABLE_ENTITY, Html(html)).into_response(),
        Err(error) => PageError::broken(visitor, &error).into_response(),
    }
}

/// What a request asks for.
fn act_of(request: &Request, path: &str) -> Option<Act> {
    request.extensions().get::<Ways>().and_then(|ways| (ways.act_of)(request.method(), path))
}
