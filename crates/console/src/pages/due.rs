//! What is due around the yard: chores, checks of the bench, calibrations; and saying that one was done.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use report::Words;
use serde::Deserialize;
use yard::due::{Pressing, Standing};

use super::entry::{self, Asks, Form, Refused, Typed};
use super::parts;
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{Link, PageFrame, Place, Visitor};

/// Which chore is to be signed off, and what the last act recorded.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct DueQuery {
    chore: Option<String>,
    who: Option<String>,
    saved: Option<u64>,
}

/// What signing off asks.
pub(crate) const CHORE: Asks = Asks::of("chore_done", &["chore", "done"]);

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
    c: PageFrame,
    title: String,
    /// Whose chores to show.
    tabs: Vec<Link>,
    /// Due and near.
    groups: Vec<(String, Vec<Chore>)>,
    later: Vec<Chore>,
    bench: Vec<String>,
    bench_url: String,
    calibrations: Vec<String>,
    sprayers_url: String,
    form: Form,
    /// A task was picked, or its entry refused: the form lies open.
    is_signing: bool,
}

/// Shows the list.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<DueQuery>,
) -> Result<Html<String>, PageError> {
    let mut typed = Typed::new();
    typed.extend(query.chore.clone().map(|chore| ("chore".to_owned(), chore)));
    let mut page = page(&visitor, query.who.as_deref(), &typed, Refused::default())?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

/// Records that a chore was done.
pub(crate) async fn done(visitor: Visitor, FormOf(typed): FormOf<Typed>) -> Result<Response, PageError> {
    match entry::record(&visitor, &CHORE, &typed).await? {
        Ok(seq) => Ok(Redirect::to(&visitor.app.url(&format!("/due?saved={seq}"))).into_response()),
        Err(refused) => {
            let page = page(&visitor, None, &typed, refused)?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
        }
    }
}

fn page(
    visitor: &Visitor,
    whose: Option<&str>,
    typed: &Typed,
    refused: Refused,
) -> Result<DuePage, PageError> {
    let (app, words, teller, d) = (&visitor.app, visitor.words, visitor.teller(), &visitor.display);
    let books = app.books().map_err(|error| PageError::store(visitor, &error))?;
    let now = app.clock.now();
    let mut all = yard::due::due(&app.yard, &books, now);
    let tabs = tabs(visitor, &all, whose);
    // Somebody nobody's chores belong to: everybody's.
    let whose = whose.filter(|asked| all.iter().any(|one| one.chore.who == *asked));
    all.retain(|one| whose.is_none_or(|asked| one.chore.who == asked));
    let count = all.iter().filter(|one| one.pressing == Pressing::Due).count();
    let view = |one: &Standing| Chore {
        task: report::chores::task(visitor.words.language(), &one.chore).to_owned(),
        who: who(&words, &one.chore.who),
        when: teller.chore_when(one, now),
        last: one.last.as_ref().map_or_else(
            || words.say("due.never-done").to_owned(),
            |last| {
                let values =
                    [("at", d.date(last.at)), ("who", last.author.clone()), ("done", last.done.clone())];
                words.fill_with("due.last", &values)
            },
        ),
        source: one.chore.source.clone(),
        is_due: one.pressing == Pressing::Due,
        url: app.url(&format!("/due?chore={}#sign", crate::encoded::form_encoded(&one.chore.id))),
    };
    let group =
        |pressing: Pressing| all.iter().filter(|one| one.pressing == pressing).map(view).collect::<Vec<_>>();
    let groups = [(Pressing::Due, "due.group-due"), (Pressing::Near, "due.group-near")];
    let groups = groups.into_iter().map(|(pressing, key)| (words.say(key).to_owned(), group(pressing)));
    let calibration = |truck: &site::Truck| {
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
        c: PageFrame::new(visitor, Place::Due, words.say("due.nav"), "/due"),
        w: words,
        title,
        tabs,
        groups: groups.filter(|(_, chores)| !chores.is_empty()).collect(),
        later: group(Pressing::NotYet),
        bench: books.bench.due(&app.yard, now).iter().map(|due| teller.due(due)).collect(),
        bench_url: app.url("/bench/instruments"),
        calibrations: app.yard.trucks.iter().flat_map(calibration).collect(),
        sprayers_url: app.url("/sprayers"),
        is_signing: typed.contains_key("chore") || !refused.problems.is_empty(),
        form: entry::form(visitor, ("/due", "chore", "due.record"), &CHORE, typed, refused)?,
    })
}

/// Who does a chore, in the reader's language; what a yard calls its own people stays.
fn who(words: &Words, kept: &str) -> String {
    let key = match kept {
        "operator" => "who.operator",
        "mechanic" => "who.mechanic",
        "lead" => "who.lead",
        "supervisor" => "who.supervisor",
        other => return other.to_owned(),
    };
    words.say(key).to_owned()
}

/// Everybody, then each who has chores, with how many of theirs are due.
fn tabs(visitor: &Visitor, all: &[Standing], whose: Option<&str>) -> Vec<Link> {
    let mut each: Vec<&str> = Vec::new();
    for one in all {
        if !each.contains(&one.chore.who.as_str()) {
            each.push(&one.chore.who);
        }
    }
    let tab = |kept: Option<&str>| {
        let theirs = |one: &&Standing| kept.is_none_or(|kept| one.chore.who == kept);
        let due = all.iter().filter(theirs).filter(|one| one.pressing == Pressing::Due).count();
        let name = kept
            .map_or_else(|| visitor.words.say("due.everybody").to_owned(), |kept| who(&visitor.words, kept));
        let query =
            kept.map_or_else(String::new, |kept| format!("?who={}", crate::encoded::form_encoded(kept)));
        let is_known = whose.filter(|asked| each.contains(asked));
        Link {
            label: if due == 0 { name } else { format!("{name} ({due})") },
            url: visitor.app.url(&format!("/due{query}")),
            current: kept == is_known,
        }
    };
    std::iter::once(None).chain(each.iter().copied().map(Some)).map(tab).collect()
}
