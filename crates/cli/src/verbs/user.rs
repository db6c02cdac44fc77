//! `user`: people, on the yard computer itself. Write access to the file is enough: nothing is asked but the new
//! secret.

use std::io::{BufRead, IsTerminal};

use console::people::{Change, People, Refused};
use jiff::Timestamp;
use serde_json::json;
use site::people::{Person, Role};
use store::people::PeopleFile;

use crate::args::{self, UserAct};
use crate::errors::{did_you_mean, sentence};
use crate::outcome::{Done, Failure, Outcome, print};

/// Who did it, in the list of what was done.
const BY: &str = "at the machine";

/// Runs the verb.
pub fn run(args: &args::User) -> Outcome {
    let now = Timestamp::now();
    let people = People::new(PeopleFile::open(&args.people)?, now)?;
    match &args.act {
        UserAct::List { json } => list(&people, *json)?,
        UserAct::Add { name, role, password, pin } => {
            let change = Change {
                name: Some(name.clone()),
                role: Some(role_named(role)?),
                password: password.then(|| secret("Password")).transpose()?,
                pin: pin.then(|| secret("PIN")).transpose()?,
                is_active: None,
            };
            let made = people.add(&change, BY, now).map_err(refused)?;
            print(&format!("{} is taken in ({}).", made.name, made.role.name()))?;
        }
        UserAct::Password { name } => {
            let person = find(&people, name)?;
            let change = Change { password: Some(secret("New password")?), ..Change::default() };
            people.change(person.id, &change, BY, now).map_err(refused)?;
            print(&format!("{} has a new password, and is signed out everywhere.", person.name))?;
        }
        UserAct::Pin { name } => {
            let person = find(&people, name)?;
            let change = Change { pin: Some(secret("New PIN")?), ..Change::default() };
            people.change(person.id, &change, BY, now).map_err(refused)?;
            print(&format!("{} has a new PIN.", person.name))?;
        }
        UserAct::Role { name, role } => {
            let person = find(&people, name)?;
            let change = Change { role: Some(role_named(role)?), is_active: Some(true), ..Change::default() };
            let after = people.change(person.id, &change, BY, now).map_err(refused)?;
            print(&format!("{} is {} now.", after.name, after.role.name()))?;
        }
        UserAct::Leave { name } => {
            let person = find(&people, name)?;
            let change = Change { is_active: Some(false), ..Change::default() };
            people.change(person.id, &change, BY, now).map_err(refused)?;
            print(&format!("{} may do nothing any more; earlier entries keep the name.", person.name))?;
        }
    }
    Ok(Done::Yes)
}

fn list(people: &People, as_json: bool) -> Result<(), Failure> {
    let roster = people.roster()?;
    if as_json {
        let person = |one: &Person| {
            json!({ "name": one.name, "role": one.role.name(), "has_password": one.password.is_some(),
                "has_pin": one.pin.is_some(), "is_active": one.is_active })
        };
        let device = |(_, one): &(_, site::people::Device)| {
            json!({ "name": one.name, "enrolled_at": one.enrolled_at.to_string(), "enrolled_by": one.enrolled_by,
                "revoked_at": one.revoked_at.map(|at| at.to_string()) })
        };
        let people: Vec<_> = roster.people.iter().map(person).collect();
        let devices: Vec<_> = roster.devices.iter().map(device).collect();
        return print(&json!({ "people": people, "devices": devices }).to_string());
    }
    let mut lines = Vec::new();
    for one in &roster.people {
        let ways = [one.password.as_ref().map(|_| "password"), one.pin.as_ref().map(|_| "PIN")];
        let ways: Vec<&str> = ways.into_iter().flatten().collect();
        let left = if one.is_active { "" } else { ", has left" };
        lines.push(format!(
            "{}: {}, {}{left}",
            one.name,
            one.role.name(),
            if ways.is_empty() { "no secret yet".into() } else { ways.join(" and ") }
        ));
    }
    for (_, one) in &roster.devices {
        let state = one.revoked_at.map_or_else(String::new, |at| format!(", not trusted since {at}"));
        lines
            .push(format!("device {}: enrolled {} by {}{state}", one.name, one.enrolled_at, one.enrolled_by));
    }
    if lines.is_empty() {
        lines.push("No one is enrolled.".into());
    }
    print(&lines.join("\n"))
}

fn find(people: &People, name: &str) -> Result<Person, Failure> {
    let roster = people.roster()?;
    let wanted = name.trim().to_lowercase();
    if let Some(found) = roster.people.iter().find(|one| one.name.to_lowercase() == wanted) {
        return Ok(found.clone());
    }
    let names = roster.people.iter().map(|one| one.name.as_str());
    let hint = did_you_mean(name, names.clone());
    let accepted = names.collect::<Vec<_>>().join(", ");
    Err(Failure::Input(format!("name = {name}: no one has it{hint}; accepted: {accepted}")))
}

fn role_named(name: &str) -> Result<Role, Failure> {
    Role::named(name).ok_or_else(|| {
        let names = Role::ALL.map(Role::name);
        let hint = did_you_mean(name, names.into_iter());
        Failure::Input(format!("role = {name}: no such role{hint}; accepted: {}", names.join(", ")))
    })
}

fn refused(refused: Refused) -> Failure {
    match refused {
        Refused::Store(error) => error.into(),
        other => Failure::Input(sentence(&other)),
    }
}

/// Asks twice at a terminal, without showing it; reads a line where there is none.
fn secret(what: &str) -> Result<String, Failure> {
    let unreadable =
        |error: std::io::Error| Failure::Machine(format!("the {what} could not be read: {error}"));
    if !std::io::stdin().is_terminal() {
        let mut line = String::new();
        std::io::stdin().lock().read_line(&mut line).map_err(unreadable)?;
        return Ok(line.trim_end_matches(['\r', '\n']).to_owned());
    }
    let first = rpassword::prompt_password(format!("{what}: ")).map_err(unreadable)?;
    let second = rpassword::prompt_password(format!("{what} again: ")).map_err(unreadable)?;
    if first == second {
        Ok(first)
    } else {
        Err(Failure::Input("the two differ; nothing was changed".into()))
    }
}
