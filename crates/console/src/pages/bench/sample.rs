//! The bench: one reading of one sample, judged at once, and logged with one tap.

mod view;

use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use entry::sample::Shown;
use event::{Body, EventId, Note, Occasion, SamplePoint};
use jiff::Timestamp;
use message::{Tell, message};
use quantity::{celsius, fahrenheit};
use serde::Deserialize;
use site::ProductKind;
use yard::stock::Books;

use crate::pages::moments;

mod meant;

pub(super) use self::view::in_a_word;
use self::view::page;
use super::{K95, Leaf, due_lines, leaves};
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::field_messages::Wrong;
use crate::page_frame::Visitor;
use crate::pages::entry::Refused;
use crate::pages::parts::{self, Entered};

/// Most readings in the chart: as many as a phone can show apart.
const CHARTED: usize = 24;
/// Most readings in the list below the chart.
const LISTED: usize = 8;

/// What was asked, as typed; and in the record of it, who says so.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct BenchQuery {
    tank: Option<String>,
    instrument: Option<String>,
    reading: Option<String>,
    temp_f: Option<String>,
    temp_c: Option<String>,
    level: Option<String>,
    occasion: Option<String>,
    /// When it was taken, HH:MM.
    at: Option<String>,
    /// Id of the first reading of the same sample.
    sample: Option<String>,
    /// Id of the reading that was just logged.
    logged: Option<String>,
    saved: Option<u64>,
    /// yes: what cannot be judged is kept as a note.
    as_note: Option<String>,
    entry_id: Option<String>,
    author: Option<String>,
    confirm: Option<String>,
}

/// One of several to choose from.
struct Choice {
    value: String,
    label: String,
    /// Its state in a word; empty for a choice that has none.
    word: String,
    /// It compensates for temperature by itself: none is asked.
    is_compensated: bool,
    chosen: bool,
}

/// What was read, once it can be read.
struct Read<'a> {
    /// As chosen: a tank, or [`TAP`].
    tank: String,
    shown: Shown<'a>,
    typed: String,
    level: SamplePoint,
    occasion: Occasion,
    at: Timestamp,
    sample: Option<EventId>,
}

/// Shows the form, and the verdict where a reading was given.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<BenchQuery>,
) -> Result<Html<String>, PageError> {
    let mut page = page(&visitor, &query)?;
    let head = visitor.app.ledger.head().map_err(|error| PageError::store(&visitor, &error))?;
    let recorded = query.saved.filter(|seq| *seq <= head.seq);
    let events = recorded.and_then(|seq| visitor.app.ledger.events_after(seq.saturating_sub(1)).ok());
    let is_of_tank = events
        .as_ref()
        .and_then(|events| events.first())
        .is_some_and(|row| matches!(&row.event.body, Body::Reading(reading) if reading.tank.is_some()));
    // What the plant's tap or a delivery shows moves no tank.
    let key = if is_of_tank { "bench.logged" } else { "bench.logged-tap" };
    page.c.saved = recorded.map(|seq| visitor.words.fill(key, &[("seq", &seq.to_string())]));
    render(&visitor, &page)
}

/// Logs the reading, or shows the page again with what is wrong.
pub(crate) async fn record(
    visitor: Visitor,
    FormOf(query): FormOf<BenchQuery>,
) -> Result<Response, PageError> {
    let (entry_id, author) =
        (query.entry_id.clone().unwrap_or_default(), query.author.clone().unwrap_or_default());
    let again = |problems: Vec<String>, ask_confirm: Option<String>| -> Result<Response, PageError> {
        let mut page = page(&visitor, &query)?;
        page.record_problems = problems;
        page.ask_confirm = ask_confirm;
        page.entry_id = entry_id.clone();
        page.author = author.clone();
        Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
    };
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    // What is wrong with the reading stands on the page itself.
    let Ok(Some(read)) = read(&visitor, &books, &query) else { return again(Vec::new(), None) };
    if let Some(problem) = parts::author_problem(&visitor, &author) {
        return again(vec![problem], None);
    }
    let id = parts::event_id(&visitor, &entry_id)?;
    let body = match read.shown.measured() {
        Ok(_) => as_reading(&visitor, &read, &query)?,
        Err(error) if query.as_note.as_deref() == Some("yes") => Ok(note(&visitor, &read, &error)),
        Err(_) => return again(Vec::new(), None),
    };
    let is_reading = matches!(body, Ok(Body::Reading(_)));
    let at = read.at.to_string();
    let entered = Entered::new(&entry_id, &author, &at, query.confirm.as_ref());
    let seq = match parts::record_asked(&visitor, &entered, body).await? {
        Ok(seq) => seq,
        Err(Refused { problems, ask_confirm }) => {
            return again(problems, ask_confirm);
        }
    };
    let tank = crate::encoded::form_encoded(&read.tank);
    let logged = if is_reading { format!("&logged={id}") } else { String::new() };
    Ok(Redirect::to(&visitor.app.url(&format!("/bench?tank={tank}&saved={seq}{logged}"))).into_response())
}

/// A reading that gives no strength, kept in words so that it is not lost.
fn note(visitor: &Visitor, read: &Read<'_>, error: &bench::Error) -> Body {
    let temperature = read.shown.temperature.map_or_else(String::new, |at| visitor.display.temperature(at));
    let values = [
        ("tank", read.tank.as_str()),
        ("instrument", read.shown.instrument.name.as_str()),
        ("shown", read.typed.as_str()),
        ("temp", temperature.as_str()),
        ("why", &visitor.display.tell(&error.message())),
    ];
    Body::Note(Note { text: visitor.words.fill("bench.note", &values) })
}

/// Stands for the plant's tap where a tank is chosen.
pub(crate) const TAP: &str = "tap";

/// The tank of a sample by what was chosen; none for the plant's tap.
pub(crate) fn tank_of(chosen: &str) -> Option<String> {
    (chosen != TAP).then(|| chosen.to_owned())
}

/// What a sample's place is called.
pub(crate) fn named(visitor: &Visitor, chosen: &str) -> String {
    if chosen == TAP {
        return visitor.words.say("bench.tap").to_owned();
    }
    format!("{} {chosen}", visitor.words.say("tanks.tank"))
}

/// The level of a tank that was typed, the outlet where none was; else what was typed.
fn level_of(typed: Option<&str>) -> Result<SamplePoint, &str> {
    let Some(typed) = typed else { return Ok(SamplePoint::Outlet) };
    SamplePoint::OF_TANK.into_iter().find(|level| level.word() == typed).ok_or(typed)
}

/// The reading as it is entered by any way in.
fn as_reading(
    visitor: &Visitor,
    read: &Read<'_>,
    query: &BenchQuery,
) -> Result<Result<Body, Vec<String>>, PageError> {
    let typed = |typed: &Option<String>| typed.clone().unwrap_or_default();
    let (temp_f, temp_c, sample) = (typed(&query.temp_f), typed(&query.temp_c), typed(&query.sample));
    let (tank, level) = if read.tank == TAP {
        ("", SamplePoint::PlantTap.word())
    } else {
        (read.tank.as_str(), read.level.word())
    };
    let fields = [
        ("tank", tank),
        ("instrument", read.shown.instrument.id.as_str()),
        ("shown", read.typed.as_str()),
        ("temp_f", temp_f.as_str()),
        ("temp_c", if temp_f.trim().is_empty() { temp_c.as_str() } else { "" }),
        ("level", level),
        ("occasion", read.occasion.word()),
        ("sample", sample.as_str()),
    ];
    let id = query.entry_id.as_deref().unwrap_or_default();
    parts::read_entry(visitor, ("reading", id), &fields, query.author.as_deref().unwrap_or_default())
}

/// Ids of the tanks that hold our own brine.
pub(super) fn brine_tanks(visitor: &Visitor) -> Vec<String> {
    let yard = &visitor.app.yard;
    let is_brine = |tank: &&site::Tank| {
        let product = yard.product(&tank.product);
        product.is_some_and(|product| matches!(product.kind, ProductKind::SodiumChlorideBrine))
    };
    yard.tanks_in_use().filter(is_brine).map(|tank| tank.id.clone()).collect()
}

fn chosen_tank(visitor: &Visitor, query: &BenchQuery) -> String {
    query.tank.clone().or_else(|| brine_tanks(visitor).into_iter().next()).unwrap_or_default()
}

/// Reads what was typed; none when no reading was typed yet.
fn read<'a>(
    visitor: &'a Visitor,
    books: &Books,
    query: &BenchQuery,
) -> Result<Option<Read<'a>>, Vec<String>> {
    let Some(typed) = query.reading.as_deref().map(str::trim).filter(|text| !text.is_empty()) else {
        return Ok(None);
    };
    let mut problems = Vec::new();
    let mut parse = |name: &str, text: &str| {
        entry::parse_number(text)
            .map_err(|(problem, accepted)| {
                let label = visitor.words.say(if name == "reading" { "bench.reading" } else { "ask.temp" });
                let says = parts::refusal(visitor, (label, text), (&problem, &accepted));
                visitor.note_wrong(Wrong::of(name, label, &says));
                problems.push(says);
            })
            .ok()
    };
    let shown: Option<Vec<f64>> = typed.split_whitespace().map(|one| parse("reading", one)).collect();
    let given =
        |typed: &Option<String>| typed.as_deref().map(str::trim).filter(|t| !t.is_empty()).map(str::to_owned);
    let temperature = given(&query.temp_f)
        .and_then(|text| parse("temp_f", &text).map(fahrenheit))
        .or(given(&query.temp_c).and_then(|text| parse("temp_c", &text).map(celsius)));
    let yard = &visitor.app.yard;
    let wanted = query.instrument.as_deref().unwrap_or_default();
    let instrument = yard.instruments.iter().find(|one| one.id == wanted);
    if instrument.is_none() {
        let ids: Vec<&str> = yard.instruments.iter().map(|one| one.id.as_str()).collect();
        problems.push(visitor.display.tell(&message!(
            "console.not-known",
            field = "instrument",
            value = wanted,
            accepted = ids.join(", ")
        )));
    }
    let mut unknown = |name: &str, typed: &str, accepted: Vec<&str>| {
        problems.push(visitor.display.tell(&message!(
            "console.not-known",
            field = name,
            value = typed,
            accepted = accepted.join(", ")
        )));
    };
    let level = level_of(query.level.as_deref());
    let level = level.unwrap_or_else(|typed| {
        unknown("level", typed, SamplePoint::OF_TANK.iter().map(SamplePoint::word).collect());
        SamplePoint::Outlet
    });
    let occasion = query.occasion.as_deref().unwrap_or(Occasion::Usual.word());
    let occasion = Occasion::of_word(occasion).unwrap_or_else(|| {
        unknown("occasion", occasion, Occasion::ALL.iter().map(|one| one.word()).collect());
        Occasion::Usual
    });
    let tank = chosen_tank(visitor, query);
    let tanks = brine_tanks(visitor);
    if tank != TAP && !tanks.contains(&tank) {
        problems.push(visitor.display.tell(&message!(
            "console.no-own-brine",
            tank = &*tank,
            accepted = tanks.join(", ")
        )));
    }
    let at = moments::moment(visitor, query.at.as_deref().unwrap_or_default());
    problems.extend(at.as_ref().err().cloned());
    let sample = match parts::given(query.sample.as_ref()).map(|id| id.parse::<EventId>()).transpose() {
        Ok(sample) => sample,
        Err(_) => {
            problems.push(visitor.display.tell(&message!("console.sample-id")));
            None
        }
    };
    let (Some(readings), Some(instrument), Ok(at), true) = (shown, instrument, at, problems.is_empty())
    else {
        return Err(problems);
    };
    let about = (&visitor.app.yard, books);
    let shown = Shown::new(about, tank_of(&tank), instrument, readings, temperature)
        .ok_or_else(|| vec![visitor.display.tell(&message!("entry.mix-not-known", tank = &*tank))])?;
    Ok(Some(Read { tank, shown, typed: typed.to_string(), level, occasion, at, sample }))
}
