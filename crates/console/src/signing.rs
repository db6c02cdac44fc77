//! A person's own act on a shared device: signed with a PIN, checked before any handler sees it.
//!
//! Forms know nothing of it. What a signature adds to a form is taken off here, and who signed is put in the place of
//! the name that was typed; so is who came in with a password. A wrong PIN is asked again with everything that was
//! typed kept.

use std::sync::Arc;

use askama::Template;
use axum::body::{Body, Bytes, to_bytes};
use axum::extract::{Request, State};
use axum::http::{HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::{Html, IntoResponse, Response};
use report::Words;
use uuid::Uuid;
use yard::people::{Device, Person};

use crate::access::{Caller, Signed, path_below};
use crate::chrome::{Chrome, Place, Visitor};
use crate::error::PageError;
use crate::people::{Refused, Who};
use crate::routes::{LARGEST_FORM, act_of};
use crate::state::App;

/// Field of a form: who signs.
pub(crate) const WHO: &str = "sign_who";
/// Field of a form: the PIN.
pub(crate) const PIN: &str = "sign_pin";
/// Field of a form: who made the entry, by name.
const AUTHOR: &str = "author";

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
}

impl Ask {
    /// Who it is, where that is known.
    pub(crate) fn known(&self) -> Option<&str> {
        match self {
            Ask::Known(name) => Some(name),
            Ask::Name | Ask::Pin(_) => None,
        }
    }

    /// Who may sign, where a PIN is asked.
    pub(crate) fn signers(&self) -> Option<&[Signer]> {
        match self {
            Ask::Pin(signers) => Some(signers),
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
            Ask::Pin(all.into_iter().map(signer).collect())
        }
    }
}

#[derive(Template)]
#[template(path = "sign_again.html")]
struct SignAgain {
    w: Words,
    c: Chrome,
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
    let is_signed = act_of(request.method(), &path).is_some_and(|act| act.is_signed());
    let caller = request.extensions().get::<Caller>().cloned();
    let is_due = is_signed && request.method() == "POST";
    // An entry made without network was signed by a key.
    let unsigned = caller.filter(|caller| caller.signed.is_none());
    let (Some(caller), Some(people), true) = (unsigned, app.people.clone(), is_due) else {
        return next.run(request).await;
    };
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
                }
                Ok(Err(Refused::Wait(wait))) => {
                    let seconds = wait.as_secs().max(1).to_string();
                    let values = [("seconds", seconds.as_str())];
                    return again(&visitor, &request, fields, who.as_deref(), "sign.wait", &values);
                }
                Ok(Err(Refused::Store(error))) => return PageError::store(&visitor, &error).into_response(),
                Ok(Err(_)) => {
                    return again(&visitor, &request, fields, who.as_deref(), "sign.wrong", &[]);
                }
                Err(error) => return PageError::broken(&visitor, error.to_string()).into_response(),
            }
        }
    }
    next.run(request).await
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
    let Ask::Pin(signers) = ask(visitor, who) else {
        return PageError::refused(visitor).into_response();
    };
    let page = SignAgain {
        c: Chrome::new(visitor, Place::Elsewhere, &title, "/"),
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
        Err(error) => PageError::broken(visitor, error.to_string()).into_response(),
    }
}
