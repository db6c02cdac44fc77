//! A batch is booked: what a run made, or what was made without one.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use event::BatchFound;
use quantity::{Volume, in_gallons, in_hours, in_kilograms, in_litres, in_pounds};
use report::Words;
use report::display::number;
use serde::Deserialize;
use yard::batch::{self, OfRun};
use yard::run_log::Run;
use yard::stock::Books;

use super::super::entry::{self, Asks, Form, Refused, Typed};
use super::super::parts;
use super::tap_sample;
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{PageFrame, Place, Visitor};

/// Fields of the form of a batch.
const BATCH: Asks =
    Asks::of("making_run", &["tank", "volume", "strength_pct", "salt", "water", "temp", "duration"]);

/// Run that the batch is of; none for a batch without one.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct BatchQuery {
    run: Option<String>,
    tank: Option<String>,
    saved: Option<u64>,
}

#[derive(Template)]
#[template(path = "batch.html")]
struct BatchPage {
    w: Words,
    c: PageFrame,
    title: String,
    /// How each figure was found.
    lines: Vec<String>,
    form: Form,
    run_url: String,
}

/// Shows the form, filled in as far as the ledger knows.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<BatchQuery>,
) -> Result<Html<String>, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let mut typed = Typed::new();
    typed.extend(query.tank.clone().map(|tank| ("tank".to_owned(), tank)));
    let mut page = page(&visitor, &books, query.run.as_deref(), typed, Refused::default())?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

/// Records the batch, or shows the form again with what is wrong.
pub(crate) async fn record(
    visitor: Visitor,
    QueryOf(query): QueryOf<BatchQuery>,
    FormOf(mut typed): FormOf<Typed>,
) -> Result<Response, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    // In the form itself: an entry that waited on a device without network comes without its address.
    let of = typed.remove("run").or(query.run);
    let run = of.as_deref().and_then(|id| books.runs.run(id.parse().ok()?));
    let more = run.map_or_else(Vec::new, |run| found(&visitor, &books, run, &typed));
    match entry::record_with(&visitor, &BATCH, &more, &typed).await? {
        Ok(seq) if run.is_some() => {
            Ok(Redirect::to(&visitor.app.url(&format!("/run?saved={seq}"))).into_response())
        }
        Ok(seq) => Ok(Redirect::to(&visitor.app.url(&format!("/run/batch?saved={seq}"))).into_response()),
        Err(refused) => {
            let page = page(&visitor, &books, of.as_deref(), typed, refused)?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
        }
    }
}

/// What the form says without being asked: the run, and how its volume was found.
fn found(visitor: &Visitor, books: &Books, run: &Run, typed: &Typed) -> Vec<(&'static str, String)> {
    let tank = typed.get("tank").map(String::as_str);
    let known = of_run(visitor, books, run, tank);
    let sent = BATCH.field("volume").and_then(|ask| entry::sent(typed, ask)).map(str::trim);
    let as_found = known.volume.filter(|(_, volume)| sent == Some(&*plain(visitor, volume.value)));
    let mut more = vec![("run", run.event.to_string())];
    match as_found {
        Some((way, volume)) => {
            let share = 100.0 * f64::from(volume.uncertainty / volume.value);
            more.push(("how", way.word().to_owned()));
            more.push(("volume_uncertainty_pct", number(share, 1)));
        }
        None => more.push(("how", BatchFound::Typed.word().to_owned())),
    }
    more
}

fn of_run(visitor: &Visitor, books: &Books, run: &Run, tank: Option<&str>) -> OfRun {
    let now = visitor.app.clock.now();
    batch::of_run(&visitor.app.yard, books, (run, tank), tap_sample(books), now)
}

/// A volume as it stands in a field.
fn plain(visitor: &Visitor, volume: Volume) -> String {
    format!("{:.0}", if visitor.is_us() { in_gallons(volume) } else { in_litres(volume) })
}

/// The tank that a run is meant for, or the one of our own product with most room.
fn usual_tank(visitor: &Visitor, books: &Books, run: Option<&Run>) -> Option<String> {
    let yard = &visitor.app.yard;
    let meant = run.and_then(|run| run.tank.clone());
    let stock = planner::tank_stock(yard, books);
    let own = stock.iter().filter(|tank| tank.product == yard.plant.product);
    let most = own.max_by(|a, b| a.room.partial_cmp(&b.room).unwrap_or(std::cmp::Ordering::Equal));
    meant.or_else(|| most.map(|tank| tank.tank.clone()))
}

/// Fills in what was not typed, and says how it was found.
fn fill(visitor: &Visitor, books: &Books, run: &Run, typed: &mut Typed) -> Vec<String> {
    let (d, words, us) = (&visitor.display, visitor.words, visitor.is_us());
    let known = of_run(visitor, books, run, typed.get("tank").map(String::as_str));
    let mut lines = Vec::new();
    let mut put = |names: [&str; 2], value: String| {
        if !names.iter().any(|name| typed.contains_key(*name)) {
            typed.insert(names[usize::from(!us)].to_owned(), value);
        }
    };
    match known.volume {
        Some((way, volume)) => {
            put(["volume_gal", "volume_l"], plain(visitor, volume.value));
            let way = words.say(&format!("batch-by.{}", way.word())).to_owned();
            let values =
                [("volume", d.volume(volume.value)), ("within", d.volume(volume.uncertainty)), ("way", way)];
            lines.push(words.fill_with("batch.found", &values));
        }
        None => lines.push(words.say("batch.not-found").to_owned()),
    }
    match known.strength {
        Some(sample) => {
            put(["strength_pct", "strength_pct"], number(sample.strength.value.percent(), 2));
            let values = [
                ("at", d.clock(sample.at)),
                ("strength", d.strength(sample.strength.value)),
                ("within", d.strength(sample.strength.uncertainty)),
            ];
            lines.push(words.fill_with("batch.sample", &values));
        }
        None => lines.push(words.say("batch.no-sample").to_owned()),
    }
    if let Some((salt, is_counted)) = known.salt {
        // Salt that was worked out is no evidence: left blank, it is counted by mass and not held against itself.
        if is_counted {
            let plain = if us { in_pounds(salt) } else { in_kilograms(salt) };
            put(["salt_lb", "salt_kg"], format!("{plain:.0}"));
        }
        let key = if is_counted { "batch.salt-counted" } else { "batch.salt-by-mass" };
        lines.push(words.fill(key, &[("salt", &d.mass(salt))]));
    }
    if let Some(water) = known.water {
        put(["water_gal", "water_l"], plain(visitor, water));
    }
    put(["duration_h", "duration_h"], number(in_hours(known.duration), 1));
    lines
}

fn page(
    visitor: &Visitor,
    books: &Books,
    run: Option<&str>,
    mut typed: Typed,
    refused: Refused,
) -> Result<BatchPage, PageError> {
    let (app, words) = (&visitor.app, visitor.words);
    let run = run.and_then(|id| books.runs.run(id.parse().ok()?));
    if !typed.contains_key("tank") {
        typed.extend(usual_tank(visitor, books, run).map(|tank| ("tank".to_owned(), tank)));
    }
    let mut lines = Vec::new();
    if let Some(run) = run {
        lines = fill(visitor, books, run, &mut typed);
        lines.extend(run.booked.last().map(|one| {
            words.fill("batch.booked-before", &[("seq", &one.seq.to_string()), ("tank", &one.tank)])
        }));
    }
    let mut form = entry::form(visitor, ("/run/batch", "batch", "batch.record"), &BATCH, &typed, refused)?;
    form.hidden.extend(run.map(|run| ("run", run.event.to_string())));
    Ok(BatchPage {
        c: PageFrame::new(visitor, Place::Run, words.say("batch.title"), "/run/batch"),
        w: words,
        title: words.say("batch.title").to_owned(),
        lines,
        form,
        run_url: app.url("/run"),
    })
}
