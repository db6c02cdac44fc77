//! Load-out: a ticket in under half a minute, what comes back, what goes to another agency, what was put on the road;
//! and everything rarer that moves liquid.

pub(crate) mod ticket;

mod view;

use ::entry::Judged;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use event::Body;
use quantity::in_cubic_metres;
use serde::Deserialize;
use yard::stock::Books;

use self::view::page;
use super::entry::{self, Asks, Refused, Typed};
use super::{books, parts};
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{Link, Visitor};

/// Loads that are planned to begin within so many hours are offered.
const AHEAD_HOURS: i64 = 36;
/// A planned load counts as done when such a ticket was written within so many hours.
const DONE_HOURS: i64 = 18;
/// Most tickets listed below the form, newest first.
const LISTED: usize = 12;

/// Fields of the form of a load.
pub(crate) const LOAD: Asks = Asks::of(
    "load_out",
    &[
        "truck",
        "tank",
        "volume",
        "route",
        "how",
        "weighed",
        "metered",
        "temp",
        "hopper",
        "planned",
        "ticket",
        "override_reason",
    ],
);

/// Fields of the form of a return.
pub(crate) const RETURN: Asks =
    Asks::of("return_to_tank", &["truck", "tank", "volume", "how", "weighed", "temp", "reason"]);

/// Fields of the form of an issue to another agency.
pub(crate) const ISSUE: Asks = Asks::of(
    "issue_out",
    &[
        "agency",
        "tank",
        "volume",
        "how",
        "weighed",
        "temp",
        "carrier",
        "price_usd",
        "ticket",
        "override_reason",
    ],
);

/// Fields of the form of a treatment.
pub(crate) const APPLIED: Asks = Asks::of(
    "application",
    &[
        "route",
        "treated",
        "truck",
        "volume",
        "salt",
        "lane",
        "duration",
        "pavement",
        "planned",
        "planned_salt",
        "reason",
    ],
);

/// Forms of rarer entries, each with its heading.
pub(crate) const OTHER: &[(Asks, &str)] = &[
    (Asks::of("loss", &["tank", "volume", "reason"]), "event.loss"),
    (Asks::of("clean_out", &["tank", "volume", "disposal"]), "event.clean_out"),
    (
        Asks::of(
            "liquid_delivery",
            &["tank", "volume", "product", "strength_pct", "ticket", "price_usd", "temp"],
        ),
        "event.liquid_delivery",
    ),
    (Asks::of("transfer", &["from_tank", "to_tank", "volume", "temp"]), "event.transfer"),
    (Asks::of("settlement", &["tank", "volume", "strength_pct", "salt", "reason"]), "event.settlement"),
    (Asks::of("water_sample", &["watershed", "chloride_mg_l", "sampled", "remark"]), "event.water_sample"),
    (Asks::of("maintenance", &["subject", "done"]), "event.maintenance"),
];

/// Which of the pages.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Leaf {
    Load,
    Return,
    Issue,
    Applied,
    Other,
    Ticket,
}

/// What fills the form, and what the last act recorded.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct LoadQuery {
    truck: Option<String>,
    tank: Option<String>,
    route: Option<String>,
    volume_gal: Option<String>,
    volume_l: Option<String>,
    planned_gal: Option<String>,
    planned_l: Option<String>,
    what: Option<String>,
    saved: Option<u64>,
}

/// A field for rows of a table.
struct Rows {
    url: String,
    typed: String,
    author: String,
    problems: Vec<String>,
    ask_confirm: Option<String>,
}

pub(crate) fn leaves(visitor: &Visitor, here: Leaf) -> Vec<Link> {
    let link = |key: &str, path: &str, leaf: Leaf| Link {
        label: visitor.words.say(key).to_string(),
        url: visitor.app.url(path),
        current: leaf == here,
    };
    vec![
        link("load.leaf-load", "/load", Leaf::Load),
        link("load.leaf-return", "/load/return", Leaf::Return),
        link("load.leaf-issue", "/load/issue", Leaf::Issue),
        link("load.leaf-applied", "/load/applied", Leaf::Applied),
        link("load.leaf-other", "/load/other", Leaf::Other),
    ]
}

/// Shows the form of a load.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<LoadQuery>,
) -> Result<Html<String>, PageError> {
    let mut typed = Typed::new();
    let given = [
        ("truck", &query.truck),
        ("tank", &query.tank),
        ("route", &query.route),
        ("volume_gal", &query.volume_gal),
        ("volume_l", &query.volume_l),
        ("planned_gal", &query.planned_gal),
        ("planned_l", &query.planned_l),
    ];
    for (name, value) in given {
        typed.extend(value.clone().map(|value| (name.to_owned(), value)));
    }
    if !typed.contains_key("how") {
        typed.insert("how".into(), "meter".into());
    }
    if !typed.contains_key("tank") {
        let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
        typed.extend(ready_tank(&visitor, &books).map(|tank| ("tank".to_owned(), tank)));
    }
    let mut page = page(&visitor, Leaf::Load, &LOAD, "load", &typed, Refused::default())?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

/// The fullest tank of our own brine that may be loaded from.
fn ready_tank(visitor: &Visitor, books: &Books) -> Option<String> {
    let yard = &visitor.app.yard;
    let ready = yard.tanks_in_use().filter(|tank| {
        tank.product == yard.plant.product
            && ::entry::ticket::standing(yard, books, &tank.id).is_some_and(|standing| standing.may_load())
    });
    let volume = |tank: &&site::Tank| {
        books.standing(yard, &tank.id).map_or(0.0, |stands| in_cubic_metres(stands.least))
    };
    ready.max_by(|a, b| volume(a).total_cmp(&volume(b))).map(|tank| tank.id.clone())
}

/// Records a load, and shows its ticket.
pub(crate) async fn record(visitor: Visitor, FormOf(typed): FormOf<Typed>) -> Result<Response, PageError> {
    match entry::record(&visitor, &LOAD, &typed).await? {
        Ok(seq) => {
            Ok(Redirect::to(&visitor.app.url(&format!("/ticket?row={seq}&saved={seq}"))).into_response())
        }
        Err(refused) => refuse(&visitor, Leaf::Load, &LOAD, "load", &typed, refused),
    }
}

/// Shows the form of a return.
pub(crate) async fn show_return(
    visitor: Visitor,
    QueryOf(query): QueryOf<LoadQuery>,
) -> Result<Html<String>, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let mut typed = Typed::from([("how".to_owned(), "marks".to_owned())]);
    let site = &visitor.app.yard;
    // The truck that was loaded last and has not come back, and the tank it was loaded from.
    let out = |ticket: &&yard::stock::Ticketed| match &ticket.recorded.event.body {
        Body::LoadOut(load) => {
            let wanted = query.truck.as_ref().is_none_or(|truck| *truck == load.truck);
            wanted && entry::aboard(site, &books, &load.truck).is_some()
        }
        _ => false,
    };
    if let Some(ticket) = books.tickets.iter().rev().find(out)
        && let Body::LoadOut(load) = &ticket.recorded.event.body
    {
        typed.insert("truck".into(), load.truck.clone());
        typed.insert("tank".into(), load.tank.clone());
    }
    let mut page = page(&visitor, Leaf::Return, &RETURN, "return", &typed, Refused::default())?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

/// Records a return.
pub(crate) async fn record_return(
    visitor: Visitor,
    FormOf(typed): FormOf<Typed>,
) -> Result<Response, PageError> {
    match entry::record(&visitor, &RETURN, &typed).await? {
        Ok(seq) => Ok(Redirect::to(&visitor.app.url(&format!("/load/return?saved={seq}"))).into_response()),
        Err(refused) => refuse(&visitor, Leaf::Return, &RETURN, "return", &typed, refused),
    }
}

/// Shows the form of an issue to another agency.
pub(crate) async fn show_issue(
    visitor: Visitor,
    QueryOf(query): QueryOf<LoadQuery>,
) -> Result<Html<String>, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let mut typed = Typed::from([("how".to_owned(), "meter".to_owned())]);
    typed.extend(ready_tank(&visitor, &books).map(|tank| ("tank".to_owned(), tank)));
    let mut page = page(&visitor, Leaf::Issue, &ISSUE, "issue", &typed, Refused::default())?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

/// Records an issue.
pub(crate) async fn record_issue(
    visitor: Visitor,
    FormOf(typed): FormOf<Typed>,
) -> Result<Response, PageError> {
    match entry::record(&visitor, &ISSUE, &typed).await? {
        Ok(seq) => {
            Ok(Redirect::to(&visitor.app.url(&format!("/ticket?row={seq}&saved={seq}"))).into_response())
        }
        Err(refused) => refuse(&visitor, Leaf::Issue, &ISSUE, "issue", &typed, refused),
    }
}

/// Shows the form of a treatment.
pub(crate) async fn show_applied(
    visitor: Visitor,
    QueryOf(query): QueryOf<LoadQuery>,
) -> Result<Html<String>, PageError> {
    let mut typed = Typed::from([("treated".to_owned(), "liquid".to_owned())]);
    typed.extend(query.route.clone().map(|route| ("route".to_owned(), route)));
    typed.extend(query.truck.clone().map(|truck| ("truck".to_owned(), truck)));
    let mut page = page(&visitor, Leaf::Applied, &APPLIED, "applied", &typed, Refused::default())?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

/// Records a treatment.
pub(crate) async fn record_applied(
    visitor: Visitor,
    FormOf(typed): FormOf<Typed>,
) -> Result<Response, PageError> {
    match entry::record(&visitor, &APPLIED, &typed).await? {
        Ok(seq) => Ok(Redirect::to(&visitor.app.url(&format!("/load/applied?saved={seq}"))).into_response()),
        Err(refused) => refuse(&visitor, Leaf::Applied, &APPLIED, "applied", &typed, refused),
    }
}

/// Rows pasted from a spreadsheet.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RowsForm {
    rows: String,
    author: String,
    confirm: Option<String>,
}

/// What is wrong with a line of a table, by the table's own names.
fn line_of(visitor: &Visitor, line: u64, problem: &::entry::EntryProblem) -> String {
    let said = parts::sentences(visitor, "", std::slice::from_ref(problem)).join(" ");
    visitor.words.fill("import.line", &[("line", &line.to_string()), ("what", &said)])
}

/// Records many treatments from rows of a table: all of them, or none.
pub(crate) async fn import_applied(
    visitor: Visitor,
    FormOf(form): FormOf<RowsForm>,
) -> Result<Response, PageError> {
    let app = std::sync::Arc::clone(&visitor.app);
    let (words, now) = (visitor.words, app.clock.now());
    let mut problems: Vec<String> = parts::author_problem(&visitor, &form.author).into_iter().collect();
    let mut ask_confirm = None;
    let mut news = Vec::new();
    let books = app.books().map_err(|error| PageError::store(&visitor, &error))?;
    match ::entry::import(&form.rows, "application", (&app.yard, &books), &app.zone, now) {
        Err(found) => {
            problems.extend(found.iter().map(|one| line_of(&visitor, one.line, &one.problem)));
        }
        Ok(rows) => {
            let whole = books::ledger(&visitor)?;
            let (mut asked, mut lines) = (Vec::new(), Vec::new());
            for Judged { row, doubts, .. } in
                ::entry::judge(rows, &app.yard, (*books).clone(), whole.events(), now)
            {
                lines.extend(doubts.iter().map(|doubt| line_of(&visitor, row.line, doubt)));
                asked.extend(doubts);
                let author = row.author.unwrap_or_else(|| form.author.trim().to_owned());
                let (id, device) = (row.id, "console".to_owned());
                news.push(event::Event { id, occurred_at: row.at, author, device, body: row.body });
            }
            ask_confirm = parts::unconfirmed(&asked, form.confirm.as_ref());
            if ask_confirm.is_some() {
                problems.extend(lines);
            }
        }
    }
    if !problems.is_empty() {
        let refused = Refused::default();
        let mut page = page(&visitor, Leaf::Applied, &APPLIED, "applied", &Typed::new(), refused)?;
        page.rows = Some(Rows {
            url: app.url("/load/import"),
            typed: form.rows,
            author: form.author,
            problems,
            ask_confirm,
        });
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response());
    }
    let count = news.len();
    let answer = tokio::task::spawn_blocking(move || app.ledger.append(&news, now)).await;
    match answer {
        Ok(Ok(_)) => {
            let mut page =
                page(&visitor, Leaf::Applied, &APPLIED, "applied", &Typed::new(), Refused::default())?;
            page.c.saved = Some(words.fill("applied.imported", &[("count", &count.to_string())]));
            Ok(render(&visitor, &page)?.into_response())
        }
        Ok(Err(error)) => Err(PageError::store(&visitor, &error)),
        Err(error) => Err(PageError::broken(&visitor, &error)),
    }
}

/// The rarer kind that is asked for; the first where none is.
fn other(what: Option<&str>) -> &'static (Asks, &'static str) {
    OTHER.iter().find(|(asks, _)| Some(asks.kind) == what).unwrap_or(&OTHER[0])
}

/// Shows the form of a rarer entry.
pub(crate) async fn show_other(
    visitor: Visitor,
    QueryOf(query): QueryOf<LoadQuery>,
) -> Result<Html<String>, PageError> {
    let (asks, _) = other(query.what.as_deref());
    let typed = Typed::from([("what".to_owned(), asks.kind.to_owned())]);
    let mut page = page(&visitor, Leaf::Other, asks, "other", &typed, Refused::default())?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

/// Records a rarer entry; its kind stands in the address.
pub(crate) async fn record_other(
    visitor: Visitor,
    QueryOf(query): QueryOf<LoadQuery>,
    FormOf(typed): FormOf<Typed>,
) -> Result<Response, PageError> {
    let (asks, _) = other(query.what.as_deref());
    match entry::record(&visitor, asks, &typed).await? {
        Ok(seq) => {
            let path = format!("/load/other?what={}&saved={seq}", asks.kind);
            Ok(Redirect::to(&visitor.app.url(&path)).into_response())
        }
        Err(refused) => {
            let mut typed = typed;
            typed.insert("what".into(), asks.kind.to_owned());
            refuse(&visitor, Leaf::Other, asks, "other", &typed, refused)
        }
    }
}

fn refuse(
    visitor: &Visitor,
    leaf: Leaf,
    asks: &Asks,
    key: &'static str,
    typed: &Typed,
    refused: Refused,
) -> Result<Response, PageError> {
    let page = page(visitor, leaf, asks, key, typed, refused)?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, render(visitor, &page)?).into_response())
}
