//! The page where people and devices are added and removed.

use std::sync::Arc;

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use report::Words;
use serde::Deserialize;
use site::people::{Person, Role};
use uuid::Uuid;

use crate::access::Caller;
use crate::error::{PageError, render};
use crate::extract::FormOf;
use crate::form_messages::{bad_choice, bad_value};
use crate::page_frame::{PageFrame, Place, Visitor};
use crate::pages::sign_in::NoForm;
use crate::people::{Change, People, Refused, Who};

/// Lines of what was done that are shown.
const ACTS_SHOWN: usize = 30;

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
    c: PageFrame,
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

pub(super) fn people(visitor: &Visitor) -> Result<Arc<People>, PageError> {
    visitor.app.people.clone().ok_or_else(|| PageError::missing(visitor))
}

/// Runs what hashes a secret: it takes tens of milliseconds, and other visitors must not wait for it.
pub(super) async fn slowly<T: Send + 'static>(
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
pub(super) fn said(visitor: &Visitor, refused: &Refused) -> String {
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
pub(crate) async fn add(visitor: Visitor, FormOf(form): FormOf<PersonForm>) -> Result<Response, PageError> {
    let (people, by, now) = (people(&visitor)?, by(&visitor.caller, ""), visitor.app.clock.now());
    let change = change_of(&visitor, &form)?;
    let answer = slowly(&visitor, move || people.add(&change, &by, now)).await?;
    answered(&visitor, answer.map(|_| ()), &form.name)
}

/// Changes a person.
pub(crate) async fn change(
    visitor: Visitor,
    FormOf(form): FormOf<PersonForm>,
) -> Result<Response, PageError> {
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
    FormOf(NoForm {}): FormOf<NoForm>,
) -> Result<Html<String>, PageError> {
    let people = people(&visitor)?;
    let code = people
        .give_code("device", &by(&visitor.caller, ""), visitor.app.clock.now())
        .map_err(|error| PageError::store(&visitor, &error))?;
    render(&visitor, &page(&visitor, Vec::new(), Some(code), "")?)
}

/// Trusts a device no more.
pub(crate) async fn revoke(visitor: Visitor, FormOf(form): FormOf<WhichForm>) -> Result<Response, PageError> {
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
        c: PageFrame::new(visitor, Place::Elsewhere, &title, "/people"),
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
        acts: acts.iter().map(|(at, by, what)| format!("{}: {} ({by})", d.time(*at), d.tell(what))).collect(),
        add_url: visitor.app.url("/people"),
        change_url: visitor.app.url("/people/change"),
        code_url: visitor.app.url("/people/code"),
        revoke_url: visitor.app.url("/people/revoke"),
    })
}
