//! What is due around the yard: chores, checks of the bench, calibrations; and saying that one was done.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use report::Words;
use serde::Deserialize;
use yard::due::Pressing;

use super::entry::{self, Ask, Form, Refused, Typed, What, need};
use super::parts;
use crate::access::Act;
use crate::asked::{Asked, Sent};
use crate::chrome::{Chrome, Place, Visitor};
use crate::error::{PageError, render};
use crate::tongue;

/// Which chore is to be signed off, and what the last act recorded.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct DueQuery {
    chore: Option<String>,
    saved: Option<u64>,
}

/// What signing off asks.
pub(crate) const CHORE: &[Ask] =
    &[need("chore", What::Chore, "ask.chore"), need("done", What::Long, "ask.found-or-done")];

struct Chore {
    task: String,
    who: String,
    when: String,
    last: String,
    source: String,
    is_due: bool,
    url: String,
}

#[derive(Template)]
#[template(path = "due.html")]
struct DuePage {
    w: Words,
    c: Chrome,
    title: String,
    /// Due, near, later.
    groups: Vec<(String, Vec<Chore>)>,
    bench: Vec<String>,
    bench_url: String,
    calibrations: Vec<String>,
    sprayers_url: String,
    form: Form,
}

/// Shows the list.
pub(crate) async fn show(visitor: Visitor, Asked(query): Asked<DueQuery>) -> Result<Html<String>, PageError> {
    visitor.may(Act::Look)?;
    let mut typed = Typed::new();
    typed.extend(query.chore.clone().map(|chore| ("chore".to_owned(), chore)));
    let mut page = page(&visitor, &typed, Refused::default())?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

/// Records that a chore was done.
pub(crate) async fn done(visitor: Visitor, Sent(typed): Sent<Typed>) -> Result<Response, PageError> {
    visitor.may(Act::Record)?;
    match entry::record(&visitor, "chore_done", CHORE, &typed).await? {
        Ok(seq) => Ok(Redirect::to(&visitor.app.url(&format!("/due?saved={seq}"))).into_response()),
        Err(refused) => {
            let page = page(&visitor, &typed, refused)?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
        }
    }
}

fn page(visitor: &Visitor, typed: &Typed, refused: Refused) -> Result<DuePage, PageError> {
    let (app, words, teller, d) = (&visitor.app, visitor.words, visitor.teller(), &visitor.display);
    let books = app.books().map_err(|error| PageError::store(visitor, &error))?;
    let now = app.clock.now();
    let all = yard::due::due(&app.yard, &books, now);
    let count = all.iter().filter(|one| one.pressing == Pressing::Due).count();
    let view = |one: &yard::due::Standing| Chore {
        task: tongue::task(visitor.words.language(), &one.chore).to_owned(),
        who: match one.chore.who.as_str() {
            "operator" => visitor.words.say("who.operator").to_owned(),
            "mechanic" => visitor.words.say("who.mechanic").to_owned(),
            "lead" => visitor.words.say("who.lead").to_owned(),
            "supervisor" => visitor.words.say("who.supervisor").to_owned(),
            other => other.to_owned(),
        },
        when: teller.chore_when(one, now),
        last: one.last.as_ref().map_or_else(
            || words.say("due.never-done").to_owned(),
            |last| {
                let values =
                    [("at", d.day(last.at)), ("who", last.author.clone()), ("done", last.done.clone())];
                words.fill_with("due.last", &values)
            },
        ),
        source: one.chore.source.clone(),
        is_due: one.pressing == Pressing::Due,
        url: app.url(&format!("/due?chore={}#sign", parts::form_encoded(&one.chore.id))),
    };
    let group = |pressing: Pressing, key: &str| {
        let chores: Vec<Chore> = all.iter().filter(|one| one.pressing == pressing).map(view).collect();
        (words.say(key).to_owned(), chores)
    };
    let groups = [
        (Pressing::Due, "due.group-due"),
        (Pressing::Near, "due.group-near"),
        (Pressing::NotYet, "due.group-later"),
    ];
    let groups = groups.into_iter().map(|(pressing, key)| group(pressing, key));
    let calibration = |truck: &yard::site::Truck| {
        let line = |what: &'static str, key: &str| {
            let found = yard::due::calibration(&books, &truck.id, what);
            match found {
                Some((_, due)) if now < due => None,
                Some((last, _)) => Some(words.fill(key, &[("truck", &truck.id), ("at", &d.day(last))])),
                None => Some(words.fill(key, &[("truck", &truck.id), ("at", words.say("due.never"))])),
            }
        };
        // A spreader is one where the truck carries a hopper, or where one was calibrated before.
        let is_spreader =
            truck.hopper_at.is_some() || yard::due::calibration(&books, &truck.id, "spreader").is_some();
        let spreader = is_spreader.then(|| line("spreader", "due.spreader")).flatten();
        [line("sprayer", "due.sprayer"), spreader].into_iter().flatten()
    };
    let title = match count {
        0 => words.say("due.none").to_owned(),
        1 => words.say("due.one").to_owned(),
        n => words.fill("due.some", &[("count", &n.to_string())]),
    };
    Ok(DuePage {
        c: Chrome::new(visitor, Place::Due, words.say("due.nav"), "/due"),
        w: words,
        title,
        groups: groups.filter(|(_, chores)| !chores.is_empty()).collect(),
        bench: books.bench.due(&app.yard, now).iter().map(|due| teller.due(due)).collect(),
        bench_url: app.url("/bench/instruments"),
        calibrations: app.yard.trucks.iter().flat_map(calibration).collect(),
        sprayers_url: app.url("/sprayers"),
        form: entry::form(visitor, ("/due", "chore", "due.record"), CHORE, typed, refused)?,
    })
}
