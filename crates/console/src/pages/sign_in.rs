//! Pages for signing in and out, the first supervisor, passwords, and enrolling a device.

use std::net::SocketAddr;
use std::sync::Arc;

use askama::Template;
use axum::extract::ConnectInfo;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{Html, IntoResponse, Redirect, Response};
use report::Words;
use serde::Deserialize;
use site::people::Role;

use super::people::{people, said, slowly};
use crate::access::Kept;
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{PageFrame, Place, Visitor};
use crate::people::{Refused, Who};

/// How long a device's cookie lasts: browsers keep none longer.
const DEVICE_SECONDS: i64 = 400 * 24 * 3600;

/// Where to go back to.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct DoorQuery {
    back: Option<String>,
    code: Option<String>,
}

/// Form that makes the first supervisor.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct FirstForm {
    #[serde(default)]
    code: String,
    name: String,
    password: String,
    #[serde(default)]
    pin: String,
}

/// Form for signing in.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SignInForm {
    name: String,
    password: String,
    #[serde(default)]
    back: String,
}

/// Form for choosing another password.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PasswordForm {
    old: String,
    new: String,
    again: String,
}

/// Form for enrolling a device: the code it was given, and a name for it.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct EnrolForm {
    code: String,
    name: String,
}

/// A form without fields.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NoForm {}

#[derive(Template)]
#[template(path = "first.html")]
struct FirstPage {
    w: Words,
    c: PageFrame,
    title: String,
    problems: Vec<String>,
    url: String,
    asks_code: bool,
    code: String,
    name: String,
}

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignInPage {
    w: Words,
    c: PageFrame,
    title: String,
    problems: Vec<String>,
    url: String,
    back: String,
    name: String,
    enrol_url: String,
}

#[derive(Template)]
#[template(path = "password.html")]
struct PasswordPage {
    w: Words,
    c: PageFrame,
    title: String,
    problems: Vec<String>,
    url: String,
}

#[derive(Template)]
#[template(path = "enrol.html")]
struct EnrolPage {
    w: Words,
    c: PageFrame,
    title: String,
    problems: Vec<String>,
    url: String,
    code: String,
    name: String,
}

fn off(back: &str) -> &str {
    let is_ours = back.starts_with('/')
        && !back.starts_with("//")
        && back.chars().all(|letter| letter.is_ascii_graphic() && letter != '\\');
    if is_ours { back } else { "" }
}

fn place_of(peer: Option<ConnectInfo<SocketAddr>>) -> String {
    peer.map_or_else(String::new, |ConnectInfo(peer)| peer.ip().to_canonical().to_string())
}

/// Asks for the first supervisor.
pub(crate) async fn show_first(
    visitor: Visitor,
    QueryOf(query): QueryOf<DoorQuery>,
) -> Result<Response, PageError> {
    let people = people(&visitor)?;
    if people.is_set_up().map_err(|error| PageError::store(&visitor, &error))? {
        return Ok(Redirect::to(&visitor.app.url("/sign-in")).into_response());
    }
    let form = FirstForm { code: query.code.unwrap_or_default(), ..FirstForm::default() };
    Ok(render(&visitor, &first_page(&visitor, &form, Vec::new()))?.into_response())
}

fn first_page(visitor: &Visitor, form: &FirstForm, problems: Vec<String>) -> FirstPage {
    let title = visitor.words.say("first.title").to_owned();
    FirstPage {
        w: visitor.words,
        c: PageFrame::new(visitor, Place::Door, &title, "/first"),
        title,
        problems,
        url: visitor.app.url("/first"),
        asks_code: visitor.caller.role < Role::Supervisor,
        code: form.code.clone(),
        name: form.name.clone(),
    }
}

/// Makes the first supervisor, who is in then.
pub(crate) async fn make_first(
    visitor: Visitor,
    peer: Option<axum::Extension<ConnectInfo<SocketAddr>>>,
    FormOf(form): FormOf<FirstForm>,
) -> Result<Response, PageError> {
    let people = people(&visitor)?;
    let store = |error| PageError::store(&visitor, &error);
    if people.is_set_up().map_err(store)? {
        return Err(PageError::refused(&visitor));
    }
    let (now, from) = (visitor.app.clock.now(), place_of(peer.map(|axum::Extension(peer)| peer)));
    let needs_code = visitor.caller.role < Role::Supervisor;
    let answer = {
        let (people, from) = (Arc::clone(&people), from.clone());
        let (name, password, pin, code) =
            (form.name.clone(), form.password.clone(), form.pin.clone(), form.code.clone());
        slowly(&visitor, move || {
            let pin = Some(pin.trim()).filter(|pin| !pin.is_empty());
            // The code is used up only by what is fit.
            site::people::fit_name(&name)?;
            site::people::fit_password(&password, &name)?;
            pin.map_or(Ok(()), site::people::fit_pin)?;
            if needs_code {
                people.take_code(&code, "first", &from, now)?;
            }
            people.first(&name, &password, pin, now)?;
            people.enter(&name, &password, &from, now)
        })
        .await?
    };
    match answer {
        Ok(token) => Ok(came_in(&visitor, &token, "/people")),
        Err(refused) => {
            let page = first_page(&visitor, &form, vec![said(&visitor, &refused)]);
            Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
        }
    }
}

fn came_in(visitor: &Visitor, token: &str, to: &str) -> Response {
    let cookie = Kept::Session.put(&visitor.app, token, crate::people::SESSION_LONGEST.as_secs());
    let to = if to.starts_with(visitor.app.base_path.as_str()) && !visitor.app.base_path.is_empty() {
        to.to_owned()
    } else {
        visitor.app.url(to)
    };
    ([(header::SET_COOKIE, cookie)], Redirect::to(&to)).into_response()
}

/// Asks for name and password.
pub(crate) async fn show_sign_in(
    visitor: Visitor,
    QueryOf(query): QueryOf<DoorQuery>,
) -> Result<Html<String>, PageError> {
    people(&visitor)?;
    let form = SignInForm { back: query.back.unwrap_or_default(), ..SignInForm::default() };
    render(&visitor, &sign_in_page(&visitor, &form, Vec::new()))
}

fn sign_in_page(visitor: &Visitor, form: &SignInForm, problems: Vec<String>) -> SignInPage {
    let title = visitor.words.say("enter.title").to_owned();
    SignInPage {
        w: visitor.words,
        c: PageFrame::new(visitor, Place::Door, &title, "/sign-in"),
        title,
        problems,
        url: visitor.app.url("/sign-in"),
        back: off(&form.back).to_owned(),
        name: form.name.clone(),
        enrol_url: visitor.app.url("/enrol"),
    }
}

/// Signs in with name and password, and goes back to the page that was asked for.
pub(crate) async fn sign_in(
    visitor: Visitor,
    headers: HeaderMap,
    peer: Option<axum::Extension<ConnectInfo<SocketAddr>>>,
    FormOf(form): FormOf<SignInForm>,
) -> Result<Response, PageError> {
    let people = people(&visitor)?;
    let (now, from) = (visitor.app.clock.now(), place_of(peer.map(|axum::Extension(peer)| peer)));
    let (name, password) = (form.name.clone(), form.password.clone());
    let before = Kept::Session.read(&visitor.app, &headers).map(str::to_owned);
    let answer = slowly(&visitor, move || {
        let token = people.enter(&name, &password, &from, now)?;
        // Whoever was in on this browser is out.
        before.map_or(Ok(()), |before| people.leave(&before))?;
        Ok(token)
    })
    .await?;
    match answer {
        Ok(token) => {
            let back = off(&form.back);
            Ok(came_in(&visitor, &token, if back.is_empty() { "/" } else { back }))
        }
        Err(refused) => {
            let page = sign_in_page(&visitor, &form, vec![said(&visitor, &refused)]);
            Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
        }
    }
}

/// Signs out: ends the session and deletes its cookie.
pub(crate) async fn sign_out(
    visitor: Visitor,
    headers: HeaderMap,
    FormOf(NoForm {}): FormOf<NoForm>,
) -> Result<Response, PageError> {
    let people = people(&visitor)?;
    if let Some(token) = Kept::Session.read(&visitor.app, &headers) {
        people.leave(token).map_err(|error| PageError::store(&visitor, &error))?;
    }
    let gone = Kept::Session.put(&visitor.app, "", 0);
    Ok(([(header::SET_COOKIE, gone)], Redirect::to(&visitor.app.url("/sign-in"))).into_response())
}

/// Asks for the old password and another.
pub(crate) async fn show_password(visitor: Visitor) -> Result<Html<String>, PageError> {
    render(&visitor, &password_page(&visitor, Vec::new())?)
}

/// Somebody's own: at a shared device, and for nobody, there is none.
fn password_page(visitor: &Visitor, problems: Vec<String>) -> Result<PasswordPage, PageError> {
    if !matches!(visitor.caller.who, Who::Person(_)) {
        return Err(PageError::missing(visitor));
    }
    let title = visitor.words.say("password.title").to_owned();
    Ok(PasswordPage {
        w: visitor.words,
        c: PageFrame::new(visitor, Place::Door, &title, "/password"),
        title,
        problems,
        url: visitor.app.url("/password"),
    })
}

/// Changes one's own password; all sessions end, and this one begins anew.
pub(crate) async fn choose_password(
    visitor: Visitor,
    peer: Option<axum::Extension<ConnectInfo<SocketAddr>>>,
    FormOf(form): FormOf<PasswordForm>,
) -> Result<Response, PageError> {
    let people = people(&visitor)?;
    let Who::Person(person) = visitor.caller.who.clone() else { return Err(PageError::missing(&visitor)) };
    let (now, from) = (visitor.app.clock.now(), place_of(peer.map(|axum::Extension(peer)| peer)));
    if form.new != form.again {
        let page = password_page(&visitor, vec![visitor.words.say("password.not-alike").to_owned()])?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response());
    }
    let answer = slowly(&visitor, move || {
        people.choose_password(&person, &form.old, &form.new, &from, now)?;
        people.enter(&person.name, &form.new, &from, now)
    })
    .await?;
    match answer {
        Ok(token) => Ok(came_in(&visitor, &token, "/")),
        Err(Refused::Wrong) => {
            let page = password_page(&visitor, vec![visitor.words.say("password.old-wrong").to_owned()])?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
        }
        Err(refused) => {
            let page = password_page(&visitor, vec![said(&visitor, &refused)])?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
        }
    }
}

/// Asks for a device's code and name.
pub(crate) async fn show_enrol(
    visitor: Visitor,
    QueryOf(query): QueryOf<DoorQuery>,
) -> Result<Html<String>, PageError> {
    people(&visitor)?;
    let form = EnrolForm { code: query.code.unwrap_or_default(), name: String::new() };
    render(&visitor, &enrol_page(&visitor, &form, Vec::new()))
}

fn enrol_page(visitor: &Visitor, form: &EnrolForm, problems: Vec<String>) -> EnrolPage {
    let title = visitor.words.say("enrol.title").to_owned();
    EnrolPage {
        w: visitor.words,
        c: PageFrame::new(visitor, Place::Door, &title, "/enrol"),
        title,
        problems,
        url: visitor.app.url("/enrol"),
        code: form.code.clone(),
        name: form.name.clone(),
    }
}

/// Enrols this device.
pub(crate) async fn enrol(
    visitor: Visitor,
    peer: Option<axum::Extension<ConnectInfo<SocketAddr>>>,
    FormOf(form): FormOf<EnrolForm>,
) -> Result<Response, PageError> {
    let people = people(&visitor)?;
    let from = place_of(peer.map(|axum::Extension(peer)| peer));
    match people.enrol(&form.name, &form.code, &from, visitor.app.clock.now()) {
        Ok(token) => {
            let cookie = Kept::Device.put(&visitor.app, &token, DEVICE_SECONDS);
            Ok(([(header::SET_COOKIE, cookie)], Redirect::to(&visitor.app.url("/"))).into_response())
        }
        Err(Refused::Store(error)) if !matches!(error, store::StoreError::Taken { .. }) => {
            Err(PageError::store(&visitor, &error))
        }
        Err(refused) => {
            let page = enrol_page(&visitor, &form, vec![said(&visitor, &refused)]);
            Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
        }
    }
}
