//! Sprayers and spreaders: catch tests, and the card for the cab that comes of them.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use event::{Body, Recorded};
use message::Tell;
use report::Words;
use report::calibration::{sprayer_card, spreader_card};
use serde::Deserialize;

use super::books;
use super::entry::{self, Asks, Form, Refused, Typed};
use super::parts;
use super::table_view::TableView;
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{PageFrame, Place, Visitor};

/// What a sprayer's catch test asks.
const SPRAYER: Asks = Asks::of(
    "sprayer_check",
    &["truck", "liquid", "caught", "catch_s", "lanes_number", "pressure", "remark"],
);

/// What a spreader's test asks.
const SPREADER: Asks = Asks::of(
    "spreader_check",
    &["truck", "material", "setting", "caught", "turns_number", "per_minute_number", "remark"],
);

/// Which card, and what the last act recorded.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SprayersQuery {
    saved: Option<u64>,
}

/// Which truck's card.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct CardQuery {
    truck: String,
}

struct TruckLine {
    line: String,
    card_url: Option<String>,
    is_act: bool,
}

#[derive(Template)]
#[template(path = "sprayers.html")]
struct SprayersPage {
    w: Words,
    c: PageFrame,
    title: String,
    trucks: Vec<TruckLine>,
    sprayer: Form,
    spreader: Form,
}

#[derive(Template)]
#[template(path = "card.html")]
struct CardPage {
    w: Words,
    c: PageFrame,
    title: String,
    lines: Vec<String>,
    warnings: Vec<String>,
    tables: Vec<TableView>,
    back_url: String,
}

/// Shows the page.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<SprayersQuery>,
) -> Result<Html<String>, PageError> {
    let mut page = page(&visitor, None)?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

/// Records a catch test.
pub(crate) async fn caught(visitor: Visitor, FormOf(typed): FormOf<Typed>) -> Result<Response, PageError> {
    match entry::record(&visitor, &SPRAYER, &typed).await? {
        Ok(_) => Ok(to_card(&visitor, &typed)),
        Err(refused) => refuse(&visitor, true, &typed, refused),
    }
}

/// Records a discharge test.
pub(crate) async fn dropped(visitor: Visitor, FormOf(typed): FormOf<Typed>) -> Result<Response, PageError> {
    match entry::record(&visitor, &SPREADER, &typed).await? {
        Ok(_) => Ok(to_card(&visitor, &typed)),
        Err(refused) => refuse(&visitor, false, &typed, refused),
    }
}

fn to_card(visitor: &Visitor, typed: &Typed) -> Response {
    let truck = crate::encoded::form_encoded(typed.get("truck").map_or("", String::as_str));
    Redirect::to(&visitor.app.url(&format!("/sprayers/card?truck={truck}"))).into_response()
}

fn refuse(
    visitor: &Visitor,
    is_sprayer: bool,
    typed: &Typed,
    refused: Refused,
) -> Result<Response, PageError> {
    let page = page(visitor, Some((is_sprayer, typed, refused)))?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, render(visitor, &page)?).into_response())
}

fn page(visitor: &Visitor, sent: Option<(bool, &Typed, Refused)>) -> Result<SprayersPage, PageError> {
    let (app, words, d) = (&visitor.app, visitor.words, &visitor.display);
    let books = app.books().map_err(|error| PageError::store(visitor, &error))?;
    let now = app.clock.now();
    let whole = books::ledger(visitor)?;
    let events = whole.events();
    let line = |truck: &site::Truck| {
        let found = yard::due::calibration(&books, &truck.id, "sprayer");
        let spreader = yard::due::calibration(&books, &truck.id, "spreader");
        let (key, at, is_act) = match found {
            None => ("sprayers.never", String::new(), true),
            Some((last, due)) if due <= now => ("sprayers.due", d.day(last), true),
            Some((last, _)) if has_bad_nozzle(events, &truck.id) => ("sprayers.nozzle", d.day(last), true),
            Some((last, _)) => ("sprayers.done", d.day(last), false),
        };
        let code = crate::encoded::form_encoded(&truck.id);
        TruckLine {
            line: words.fill(key, &[("truck", &truck.id), ("at", &at)]),
            card_url: (found.is_some() || spreader.is_some())
                .then(|| app.url(&format!("/sprayers/card?truck={code}"))),
            is_act,
        }
    };
    let trucks: Vec<TruckLine> = app.yard.trucks.iter().map(line).collect();
    let count = trucks.iter().filter(|truck| truck.is_act).count();
    let usual = Typed::from([
        ("liquid".to_owned(), "water".to_owned()),
        ("lanes_number".to_owned(), "1".to_owned()),
        ("catch_s".to_owned(), "15".to_owned()),
    ]);
    let nothing = Typed::new();
    let (of_sprayer, of_spreader) = match sent {
        Some((true, typed, refused)) => ((typed, refused), (&nothing, Refused::default())),
        Some((false, typed, refused)) => ((&usual, Refused::default()), (typed, refused)),
        None => ((&usual, Refused::default()), (&nothing, Refused::default())),
    };
    let sprayer = ("/sprayers", "sprayer", "sprayers.record");
    let spreader = ("/sprayers/spreader", "spreader", "sprayers.record-spreader");
    Ok(SprayersPage {
        sprayer: entry::form(visitor, sprayer, &SPRAYER, of_sprayer.0, of_sprayer.1)?,
        spreader: entry::form(visitor, spreader, &SPREADER, of_spreader.0, of_spreader.1)?,
        c: PageFrame::new(visitor, Place::Due, words.say("sprayers.nav"), "/sprayers"),
        w: words,
        title: match count {
            0 => words.say("sprayers.all").to_owned(),
            1 => words.say("sprayers.one").to_owned(),
            n => words.fill("sprayers.some", &[("count", &n.to_string())]),
        },
        trucks,
    })
}

/// The last event of a kind that stands.
fn last(events: &[Recorded], is: impl Fn(&Body) -> bool) -> Option<&Recorded> {
    let voided: std::collections::HashSet<_> = events.iter().filter_map(|r| r.event.body.voids()).collect();
    let standing = events.iter().filter(|r| !voided.contains(&r.event.id) && is(&r.event.body));
    standing.max_by_key(|r| (r.event.occurred_at, r.seq))
}

/// Whether a truck's last catch found a nozzle off the others: it is to be cleaned and caught again.
fn has_bad_nozzle(events: &[Recorded], truck: &str) -> bool {
    let found = last(events, |body| matches!(body, Body::SprayerCheck(check) if check.truck == truck));
    let Some(Body::SprayerCheck(check)) = found.map(|recorded| &recorded.event.body) else { return false };
    report::calibration::has_outlier(check)
}

/// Shows a truck's card for the cab.
pub(crate) async fn card(
    visitor: Visitor,
    QueryOf(query): QueryOf<CardQuery>,
) -> Result<Html<String>, PageError> {
    let (app, words, d) = (&visitor.app, visitor.words, &visitor.display);
    let truck = app.yard.truck(&query.truck).ok_or_else(|| PageError::missing(&visitor))?;
    let whole = books::ledger(&visitor)?;
    let events = whole.events();
    let sprayer = last(events, |body| matches!(body, Body::SprayerCheck(check) if check.truck == truck.id));
    let spreader = last(events, |body| matches!(body, Body::SpreaderCheck(check) if check.truck == truck.id));
    let mut page = CardPage {
        c: PageFrame::new(&visitor, Place::Due, words.say("sprayers.card"), "/sprayers"),
        w: words,
        title: words.fill("sprayers.card-of", &[("truck", &truck.id)]),
        lines: Vec::new(),
        warnings: Vec::new(),
        tables: Vec::new(),
        back_url: app.url("/sprayers"),
    };
    let broken = |error: road::catch::CatchError| PageError::bad_form(&visitor, &error.message());
    let by = |recorded: &Recorded| {
        let values = [("at", d.day(recorded.event.occurred_at)), ("who", recorded.event.author.clone())];
        words.fill_with("sprayers.by", &values)
    };
    if let Some(recorded) = sprayer
        && let Body::SprayerCheck(check) = &recorded.event.body
    {
        let found = sprayer_card(&visitor.teller(), truck, check).map_err(broken)?;
        page.lines.push(by(recorded));
        page.lines.extend(found.lines);
        page.warnings.extend(found.warnings);
        page.tables.extend(books::views(&visitor, &found.tables));
    }
    if let Some(recorded) = spreader
        && let Body::SpreaderCheck(check) = &recorded.event.body
    {
        let found = spreader_card(&visitor.teller(), check).map_err(broken)?;
        page.lines.push(by(recorded));
        page.lines.extend(found.lines);
        page.tables.extend(books::views(&visitor, &found.tables));
    }
    if page.lines.is_empty() {
        return Err(PageError::missing(&visitor));
    }
    render(&visitor, &page)
}
