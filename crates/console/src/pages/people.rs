//! Who comes in: the first supervisor, passwords, shared devices, and the page where people are taken in and out.

use crate::form_messages::{bad_choice, bad_value};
use std::sync::Arc;

use askama::Template;
use axum::extract::ConnectInfo;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{Html, IntoResponse, Redirect, Response};
use report::Words;
use serde::Deserialize;
use site::people::{Person, Role};
use std::net::SocketAddr;
use uuid::Uuid;

use crate::access::{Caller, Kept};
use crate::asked::{Asked, Sent};
use crate::chrome::{Chrome, Place, Visitor};
use crate::error::{PageError, render};
use crate::people::{Change, People, Refused, Who};

/// How long a device's cookie lasts: browsers keep none longer.
const DEVICE_SECONDS: i64 = 400 * 24 * 3600;
/// Lines of what was done that are shown.
const ACTS_SHOWN: usize = 30;

/// Where to go back to.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct DoorQuery {
    back: Option<String>,
    code: Option<String>,
}

/// The first supervisor.
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

/// A name and a password.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SignInForm {
    name: String,
    password: String,
    #[serde(default)]
    back: String,
}

/// The old password and another.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PasswordForm {
    old: String,
    new: String,
    again: String,
}

/// A device.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct EnrolForm {
    code: String,
    name: String,
}

/// A person, new or changed.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PersonForm {
    id: Option<String>,
    name: String,
    role: String,
    #[serde(default)]
    pin: String,
    #[serde(default)]
    password: String,
    active: Option<String>,
}

/// Which person or device.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct WhichForm {
    id: String,
}

/// Nothing but the wish.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NoForm {}

#[derive(Template)]
#[template(path = "first.html")]
struct FirstPage {
    w: Words,
    c: Chrome,
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
    c: Chrome,
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
    c: Chrome,
    title: String,
    problems: Vec<String>,
    url: String,
}

#[derive(Template)]
#[template(path = "enrol.html")]
struct EnrolPage {
    w: Words,
    c: Chrome,
    title: String,
    problems: Vec<String>,
    url: String,
    code: String,
    name: String,
}

/// Name, label, whether it is the present one, and what it may.
type RoleView = (&'static str, String, bool, String);

struct PersonView {
    id: String,
    name: String,
    line: String,
    is_active: bool,
    roles: Vec<RoleView>,
}

struct DeviceView {
    id: String,
    name: String,
    line: String,
    revoked: Option<String>,
    wrong: Option<String>,
}

#[derive(Template)]
#[template(path = "people.html")]
struct PeoplePage {
    w: Words,
    c: Chrome,
    title: String,
    summary: String,
    problems: Vec<String>,
    code: Option<String>,
    enrol_address: String,
    people: Vec<PersonView>,
    roles: Vec<RoleView>,
    typed_name: String,
    devices: Vec<DeviceView>,
    acts: Vec<String>,
    add_url: String,
    change_url: String,
    code_url: String,
    revoke_url: String,
}

fn people(visitor: &Visitor) -> Result<Arc<People>, PageError> {
    visitor.app.people.clone().ok_or_else(|| PageError::missing(visitor))
}

/// Runs what hashes a secret: it takes tens of milliseconds, and other visitors must not wait for it.
async fn slowly<T: Send + 'static>(
    visitor: &Visitor,
    act: impl FnOnce() -> Result<T, Refused> + Send + 'static,
) -> Result<Result<T, Refused>, PageError> {
    match tokio::task::spawn_blocking(act).await {
        Ok(Err(Refused::Store(error))) if !matches!(error, store::StoreError::Taken { .. }) => {
            Err(PageError::store(visitor, &error))
        }
        Ok(answer) => Ok(answer),
        Err(error) => Err(PageError::broken(visitor, &error)),
    }
}

/// A refusal in words.
fn said(visitor: &Visitor, refused: &Refused) -> String {
    use site::people::Unfit;
    let w = visitor.words;
    match refused {
        Refused::Wrong => w.say("enter.wrong").to_owned(),
        Refused::Busy => w.say("enter.busy").to_owned(),
        Refused::Wait(wait) => w.fill("sign.wait", &[("seconds", &wait.as_secs().max(1).to_string())]),
        Refused::Code => w.say("enrol.bad-code").to_owned(),
        Refused::Last => w.say("people.last").to_owned(),
        Refused::Store(_) => w.say("people.taken").to_owned(),
        Refused::Unfit(unfit) => w
            .say(match unfit {
                Unfit::Name => "form.author-needed",
                Unfit::NameTaken => "people.taken",
                Unfit::PinDigits => "people.pin-digits",
                Unfit::PinPlain => "people.pin-plain",
                Unfit::PasswordLetters => "people.password-letters",
                Unfit::PasswordName => "people.password-name",
                Unfit::PasswordCommon => "people.password-common",
                Unfit::PasswordSame => "people.password-same",
            })
            .to_owned(),
    }
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
    Asked(query): Asked<DoorQuery>,
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
        c: Chrome::new(visitor, Place::Door, &title, "/first"),
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
    Sent(form): Sent<FirstForm>,
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
    Asked(query): Asked<DoorQuery>,
) -> Result<Html<String>, PageError> {
    people(&visitor)?;
    let form = SignInForm { back: query.back.unwrap_or_default(), ..SignInForm::default() };
    render(&visitor, &sign_in_page(&visitor, &form, Vec::new()))
}

fn sign_in_page(visitor: &Visitor, form: &SignInForm, problems: Vec<String>) -> SignInPage {
    let title = visitor.words.say("enter.title").to_owned();
    SignInPage {
        w: visitor.words,
        c: Chrome::new(visitor, Place::Door, &title, "/sign-in"),
        title,
        problems,
        url: visitor.app.url("/sign-in"),
        back: off(&form.back).to_owned(),
        name: form.name.clone(),
        enrol_url: visitor.app.url("/enrol"),
    }
}

/// Comes in.
pub(crate) async fn sign_in(
    visitor: Visitor,
    headers: HeaderMap,
    peer: Option<axum::Extension<ConnectInfo<SocketAddr>>>,
    Sent(form): Sent<SignInForm>,
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

/// Leaves.
pub(crate) async fn sign_out(
    visitor: Visitor,
    headers: HeaderMap,
    Sent(NoForm {}): Sent<NoForm>,
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
        c: Chrome::new(visitor, Place::Door, &title, "/password"),
        title,
        problems,
        url: visitor.app.url("/password"),
    })
}

/// Changes one's own password; all sessions end, and this one begins anew.
pub(crate) async fn choose_password(
    visitor: Visitor,
    peer: Option<axum::Extension<ConnectInfo<SocketAddr>>>,
    Sent(form): Sent<PasswordForm>,
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
    Asked(query): Asked<DoorQuery>,
) -> Result<Html<String>, PageError> {
    people(&visitor)?;
    let form = EnrolForm { code: query.code.unwrap_or_default(), name: String::new() };
    render(&visitor, &enrol_page(&visitor, &form, Vec::new()))
}

fn enrol_page(visitor: &Visitor, form: &EnrolForm, problems: Vec<String>) -> EnrolPage {
    let title = visitor.words.say("enrol.title").to_owned();
    EnrolPage {
        w: visitor.words,
        c: Chrome::new(visitor, Place::Door, &title, "/enrol"),
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
    Sent(form): Sent<EnrolForm>,
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

/// Shows people and devices.
pub(crate) async fn show(visitor: Visitor) -> Result<Html<String>, PageError> {
    render(&visitor, &page(&visitor, Vec::new(), None, "")?)
}

fn by(caller: &Caller, author: &str) -> String {
    match &caller.who {
        Who::Person(person) => person.name.clone(),
        Who::Device(device) => format!("{author} ({})", device.name),
        Who::Nobody => "at the machine".to_owned(),
    }
}

/// Takes a person in.
pub(crate) async fn add(visitor: Visitor, Sent(form): Sent<PersonForm>) -> Result<Response, PageError> {
    let (people, by, now) = (people(&visitor)?, by(&visitor.caller, ""), visitor.app.clock.now());
    let change = change_of(&visitor, &form)?;
    let answer = slowly(&visitor, move || people.add(&change, &by, now)).await?;
    answered(&visitor, answer.map(|_| ()), &form.name)
}

/// Changes a person.
pub(crate) async fn change(visitor: Visitor, Sent(form): Sent<PersonForm>) -> Result<Response, PageError> {
    let (people, by, now) = (people(&visitor)?, by(&visitor.caller, ""), visitor.app.clock.now());
    let id = which(&visitor, form.id.as_deref().unwrap_or_default())?;
    let change = change_of(&visitor, &form)?;
    let answer = slowly(&visitor, move || people.change(id, &change, &by, now)).await?;
    answered(&visitor, answer.map(|_| ()), "")
}

fn change_of(visitor: &Visitor, form: &PersonForm) -> Result<Change, PageError> {
    let given = |text: &str| Some(text.to_owned()).filter(|text| !text.trim().is_empty());
    let Some(role) = Role::named(&form.role) else {
        let names = Role::ALL.iter().map(|role| role.name());
        return Err(PageError::bad_form(visitor, &bad_choice("role", form.role.as_str(), names)));
    };
    let is_active = match form.active.as_deref() {
        None => None,
        Some("yes") => Some(true),
        Some("no") => Some(false),
        Some(other) => {
            return Err(PageError::bad_form(visitor, &bad_choice("active", other, ["yes", "no"])));
        }
    };
    Ok(Change {
        name: Some(form.name.trim().to_owned()),
        role: Some(role),
        password: given(&form.password),
        pin: given(form.pin.trim()),
        is_active,
    })
}

fn which(visitor: &Visitor, id: &str) -> Result<Uuid, PageError> {
    id.parse().map_err(|_| PageError::bad_form(visitor, &bad_value("id", id, "console.accepted.form-id")))
}

fn answered(visitor: &Visitor, answer: Result<(), Refused>, typed: &str) -> Result<Response, PageError> {
    match answer {
        Ok(()) => Ok(Redirect::to(&visitor.app.url("/people")).into_response()),
        Err(refused) => {
            let page = page(visitor, vec![said(visitor, &refused)], None, typed)?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, render(visitor, &page)?).into_response())
        }
    }
}

/// Gives out a code for a device.
pub(crate) async fn give_code(
    visitor: Visitor,
    Sent(NoForm {}): Sent<NoForm>,
) -> Result<Html<String>, PageError> {
    let people = people(&visitor)?;
    let code = people
        .give_code("device", &by(&visitor.caller, ""), visitor.app.clock.now())
        .map_err(|error| PageError::store(&visitor, &error))?;
    render(&visitor, &page(&visitor, Vec::new(), Some(code), "")?)
}

/// Trusts a device no more.
pub(crate) async fn revoke(visitor: Visitor, Sent(form): Sent<WhichForm>) -> Result<Response, PageError> {
    let id = which(&visitor, &form.id)?;
    let answer = people(&visitor)?.revoke(id, &by(&visitor.caller, ""), visitor.app.clock.now());
    answered(&visitor, answer, "")
}

fn roles(visitor: &Visitor, now: Role) -> Vec<RoleView> {
    let view = |role: Role| {
        let (label, may) = match role {
            Role::Viewer => ("role.viewer", "role.viewer-may"),
            Role::Operator => ("role.operator", "role.operator-may"),
            Role::Trainer => ("role.trainer", "role.trainer-may"),
            Role::Supervisor => ("role.supervisor", "role.supervisor-may"),
        };
        let say = |key: &'static str| visitor.words.say(key).to_owned();
        (role.name(), say(label), role == now, say(may))
    };
    Role::ALL.into_iter().map(view).collect()
}

fn page(
    visitor: &Visitor,
    problems: Vec<String>,
    code: Option<String>,
    typed: &str,
) -> Result<PeoplePage, PageError> {
    let store = |error| PageError::store(visitor, &error);
    let all = people(visitor)?;
    let (w, d) = (visitor.words, &visitor.display);
    let roster = all.roster().map_err(store)?;
    let person = |person: &Person| {
        let roles = roles(visitor, person.role);
        let label = roles.iter().find(|role| role.2).map_or("", |role| role.1.as_str()).to_owned();
        let ways = [
            person.password.is_some().then(|| w.say("people.has-password")),
            person.pin.is_some().then(|| w.say("people.has-pin")),
        ];
        let ways: Vec<&str> = ways.into_iter().flatten().collect();
        let ways = if ways.is_empty() { w.say("people.has-none").to_owned() } else { ways.join(", ") };
        PersonView {
            id: person.id.to_string(),
            name: person.name.clone(),
            line: format!("{label}: {ways}"),
            is_active: person.is_active,
            roles,
        }
    };
    let device = |(_, device): &(_, site::people::Device)| DeviceView {
        id: device.id.to_string(),
        name: device.name.clone(),
        line: w.fill("people.enrolled", &[("at", &d.time(device.enrolled_at)), ("who", &device.enrolled_by)]),
        revoked: device.revoked_at.map(|at| w.fill("people.revoked", &[("at", &d.time(at))])),
        wrong: Some(all.wrong_at(device.id))
            .filter(|wrong| *wrong >= site::people::Tries::FREE)
            .map(|wrong| w.fill("people.wrong-pins", &[("count", &wrong.to_string())])),
    };
    let acts = all.file().notes(ACTS_SHOWN).map_err(store)?;
    let counts = [
        ("people", roster.people.iter().filter(|one| one.is_active).count().to_string()),
        ("devices", roster.devices.iter().filter(|(_, one)| one.revoked_at.is_none()).count().to_string()),
    ];
    let title = w.say("people.nav").to_owned();
    Ok(PeoplePage {
        c: Chrome::new(visitor, Place::Elsewhere, &title, "/people"),
        w,
        title,
        summary: w.fill_with("people.summary", &counts),
        problems,
        enrol_address: visitor.app.url("/enrol"),
        code,
        people: roster.people.iter().map(person).collect(),
        roles: roles(visitor, Role::Operator),
        typed_name: typed.to_owned(),
        devices: roster.devices.iter().map(device).collect(),
        acts: acts.iter().map(|(at, by, what)| format!("{}: {what} ({by})", d.time(*at))).collect(),
        add_url: visitor.app.url("/people"),
        change_url: visitor.app.url("/people/change"),
        code_url: visitor.app.url("/people/code"),
        revoke_url: visitor.app.url("/people/revoke"),
    })
}
