//! The bench: one reading of one sample, judged at once, and logged with one tap.

mod view;

use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use bench::measure::{Measured, Sample, measure};
use bench::solute::Solute;
use chemistry::Salt;
use event::{Body, EventId, Note, Occasion, Reading, SamplePoint};
use jiff::Timestamp;
use message::{Tell, message};
use quantity::{ThermodynamicTemperature, celsius, fahrenheit, in_celsius};
use serde::Deserialize;
use site::{Instrument, ProductKind};
use yard::stock::Books;

use crate::pages::moments;

mod meant;

pub(super) use self::view::in_a_word;
use self::view::page;
use super::{K95, Leaf, due_lines, leaves};
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::Visitor;
use crate::pages::entry::Refused;
use crate::pages::parts::{self, Entered};
use meant::meant_otherwise;

/// Readings in the chart, as many as a phone shows apart; and listed below it.
const CHARTED: usize = 24;
/// See [`CHARTED`].
const LISTED: usize = 8;
/// Per cent by mass outside the band from which a number is held against the other scales.
const SENSELESS: f64 = 1.0;

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
    tank: String,
    instrument: &'a Instrument,
    /// One reading, or several of the same sample.
    shown: Vec<f64>,
    typed: String,
    temperature: Option<ThermodynamicTemperature>,
    level: SamplePoint,
    occasion: Occasion,
    at: Timestamp,
    sample: Option<EventId>,
    solute: Solute,
    /// The tank holds sodium chloride alone, so that it has a band to be judged by.
    is_plain: bool,
}

impl Read<'_> {
    fn mean(&self) -> f64 {
        self.shown.iter().sum::<f64>() / self.shown.len() as f64
    }
}

/// Shows the form, and the verdict where a reading was given.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<BenchQuery>,
) -> Result<Html<String>, PageError> {
    let mut page = page(&visitor, &query)?;
    let head = visitor.app.ledger.head().map_err(|error| PageError::store(&visitor, &error))?;
    let recorded = query.saved.filter(|seq| *seq <= head.seq);
    page.c.saved = recorded.map(|seq| visitor.words.fill("bench.logged", &[("seq", &seq.to_string())]));
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
    let found = measured(&visitor, &read);
    let also = found.as_ref().ok().and_then(|found| meant_otherwise(&visitor, &read, found));
    let body = match found {
        Ok(found) => event(&read, &found),
        Err(error) if query.as_note.as_deref() == Some("yes") => note(&visitor, &read, &error),
        Err(_) => return again(Vec::new(), None),
    };
    let is_reading = matches!(body, Body::Reading(_));
    let at = read.at.to_string();
    let entered = Entered::new(&entry_id, &author, &at, query.confirm.as_ref());
    let entered = Entered { also: also.into_iter().collect(), ..entered };
    let seq = match parts::record_asked(&visitor, &entered, Ok(body)).await? {
        Ok(seq) => seq,
        Err(Refused { problems, ask_confirm }) => return again(problems, ask_confirm),
    };
    let tank = crate::encoded::form_encoded(&read.tank);
    let logged = if is_reading { format!("&logged={id}") } else { String::new() };
    Ok(Redirect::to(&visitor.app.url(&format!("/bench?tank={tank}&saved={seq}{logged}"))).into_response())
}

/// A reading that gives no strength, kept in words so that it is not lost.
fn note(visitor: &Visitor, read: &Read<'_>, error: &bench::Error) -> Body {
    let temperature = read.temperature.map_or_else(String::new, |at| visitor.display.temperature(at));
    let values = [
        ("tank", read.tank.as_str()),
        ("instrument", read.instrument.name.as_str()),
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

fn event(read: &Read<'_>, found: &Measured) -> Body {
    let rounded = |value: f64| (1000.0 * value).round() / 1000.0;
    Body::Reading(Reading {
        tank: tank_of(&read.tank),
        strength_pct: rounded(found.brine.strength().percent()),
        uncertainty_pct: Some(rounded(found.expanded.half_width)),
        temp_c: read.temperature.map(|at| rounded(in_celsius(at))),
        instrument: Some(read.instrument.id.clone()),
        level: Some(if read.tank == TAP { SamplePoint::PlantTap } else { read.level.clone() }),
        occasion: Some(read.occasion),
        shown: Some(read.typed.clone()),
        scale: Some(read.instrument.scale.clone()),
        doubt: found.doubt.as_ref().map(|why| crate::refusals::kept_one(&why.message())),
        sample: read.sample.map(|id| id.to_string()),
    })
}

fn measured(visitor: &Visitor, read: &Read<'_>) -> Result<Measured, bench::Error> {
    let sample = Sample {
        solute: read.solute.clone(),
        readings: read.shown.iter().map(|shown| shown - read.instrument.offset).collect(),
        temperature: read.temperature,
        temperature_half_width: visitor.app.yard.bench.thermometer,
    };
    measure(&read.instrument.card, &sample)
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
                visitor.note_wrong(name);
                let label = visitor.words.say(if name == "reading" { "bench.reading" } else { "ask.temp" });
                problems.push(parts::refusal(visitor, (label, text), (&problem, &accepted)))
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
    let (solute, is_plain) = match dissolved(visitor, books, &tank) {
        Ok(found) => found,
        Err(problem) => {
            problems.push(problem);
            (Solute::of(Salt::SodiumChloride), true)
        }
    };
    match (shown, instrument, at, problems.is_empty()) {
        (Some(shown), Some(instrument), Ok(at), true) => Ok(Some(Read {
            tank,
            instrument,
            shown,
            typed: typed.to_string(),
            temperature,
            level,
            occasion,
            at,
            sample,
            solute,
            is_plain,
        })),
        _ => Err(problems),
    }
}

/// What is dissolved in a tank by the book, and whether that is sodium chloride alone.
fn dissolved(visitor: &Visitor, books: &Books, tank: &str) -> Result<(Solute, bool), String> {
    let plain = (Solute::of(Salt::SodiumChloride), true);
    let Some(book) = books.tank(tank).filter(|book| book.content.has_declared()) else { return Ok(plain) };
    match book.content.solute(&visitor.app.yard) {
        Some(solute) => Ok((solute, false)),
        None => Err(visitor.words.fill("bench.unknown-blend", &[("tank", tank)])),
    }
}
