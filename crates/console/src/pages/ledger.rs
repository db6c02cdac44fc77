//! The ledger: what happened, newest first; a note; and taking an event back.

use std::collections::{HashMap, HashSet};

use askama::Template;
use axum::response::{Html, IntoResponse, Redirect, Response};
use event::{Body, EventId, Recorded};
use report::Words;
use serde::Deserialize;
use yard::stock::Books;

use super::parts;
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{PageFrame, Place, Visitor};

/// Events on one page.
const PER_PAGE: u64 = 40;

/// Which part of the ledger, and what the last act recorded.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct LedgerQuery {
    before: Option<u64>,
    saved: Option<u64>,
}

/// A note as typed.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NoteForm {
    entry_id: String,
    text: String,
    author: String,
}

/// A void as typed.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct VoidForm {
    entry_id: String,
    event: String,
    reason: String,
    author: String,
}

struct EventView {
    seq: u64,
    id: String,
    kind: String,
    when: String,
    author: String,
    line: String,
    voided: bool,
    can_void: bool,
    /// Where it is entered anew with its figures, once taken back.
    again_url: Option<String>,
    void_id: String,
    /// What to know before it is taken back.
    warning: Option<String>,
}

#[derive(Template)]
#[template(path = "ledger.html")]
struct LedgerPage {
    w: Words,
    c: PageFrame,
    title: String,
    chain_line: String,
    book_problems: Vec<String>,
    note_url: String,
    void_url: String,
    entry_id: String,
    problems: Vec<String>,
    form_text: String,
    form_author: String,
    events: Vec<EventView>,
    older_url: Option<String>,
}

/// Shows the page.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<LedgerQuery>,
) -> Result<Html<String>, PageError> {
    let mut page = page(&visitor, query.before)?;
    let head = visitor.app.ledger.head().map_err(|error| PageError::store(&visitor, &error))?;
    let recorded = query.saved.filter(|seq| *seq <= head.seq);
    page.c.saved = recorded.map(|seq| saved(&visitor, seq)).transpose()?;
    render(&visitor, &page)
}

/// What was taken back is looked for among so many rows before.
const NEAR_ROWS: u64 = 400;

/// What was just recorded; of what was taken back, that it counts no more.
fn saved(visitor: &Visitor, seq: u64) -> Result<String, PageError> {
    let say = |error| PageError::store(visitor, &error);
    // What is taken back was mostly made shortly before.
    let events = visitor.app.ledger.events_after(seq.saturating_sub(NEAR_ROWS)).map_err(say)?;
    let of =
        |id: EventId| events.iter().find(|recorded| recorded.event.id == id).map(|recorded| recorded.seq);
    let made = events.iter().find(|recorded| recorded.seq == seq);
    let row = seq.to_string();
    Ok(match made.and_then(|recorded| recorded.event.body.voids()).and_then(of) {
        Some(target) => {
            visitor.words.fill("ledger.undone", &[("target", &target.to_string()), ("seq", &row)])
        }
        None => visitor.words.fill("ledger.saved", &[("seq", &row)]),
    })
}

/// Records a note.
pub(crate) async fn note(visitor: Visitor, FormOf(form): FormOf<NoteForm>) -> Result<Response, PageError> {
    match parts::read_entry(&visitor, ("note", &form.entry_id), &[("text", &form.text)], &form.author)? {
        Ok(body) => {
            let seq = parts::record(&visitor, &form.entry_id, &form.author, body).await?;
            Ok(Redirect::to(&visitor.app.url(&format!("/ledger?saved={seq}"))).into_response())
        }
        Err(problems) => {
            let mut page = page(&visitor, None)?;
            page.problems = problems;
            page.form_text = form.text;
            page.form_author = form.author;
            page.entry_id = form.entry_id;
            Ok((axum::http::StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
        }
    }
}

/// Takes an event back.
pub(crate) async fn void(visitor: Visitor, FormOf(form): FormOf<VoidForm>) -> Result<Response, PageError> {
    let fields = [("event", form.event.as_str()), ("reason", form.reason.as_str())];
    let body = parts::read_entry(&visitor, ("void", &form.entry_id), &fields, &form.author)?
        .map_err(|problems| PageError::bad_form(&visitor, &message::said(problems.join(" "))))?;
    let seq = parts::record(&visitor, &form.entry_id, &form.author, body).await?;
    Ok(Redirect::to(&visitor.app.url(&format!("/ledger?saved={seq}"))).into_response())
}

fn page(visitor: &Visitor, before: Option<u64>) -> Result<LedgerPage, PageError> {
    let app = &visitor.app;
    let say = |error| PageError::store(visitor, &error);
    let words = visitor.words;
    let head = app.ledger.head().map_err(say)?;
    let books = app.books().map_err(say)?;
    let end = before.map_or(head.seq, |seq| seq.saturating_sub(1).min(head.seq));
    let start = end.saturating_sub(PER_PAGE);
    let mut events = app.ledger.events_after(start).map_err(say)?;
    // A later event may take back one on this page.
    let voided: HashSet<EventId> = events.iter().filter_map(|r| r.event.body.voids()).collect();
    let places: HashMap<EventId, u64> = events.iter().map(|r| (r.event.id, r.seq)).collect();
    events.retain(|recorded| recorded.seq <= end);
    let title = words.fill("ledger.title", &[("count", &report::display::number(head.seq as f64, 0))]);
    let chain_key = match (app.damage(), app.is_verified()) {
        (Some(_), _) => "ledger.chain-broken",
        (None, true) => "ledger.chain-sound",
        (None, false) => "ledger.chain-unchecked",
    };
    Ok(LedgerPage {
        c: PageFrame::new(visitor, Place::Ledger, words.say("nav.ledger"), "/ledger"),
        w: words,
        title,
        chain_line: words.fill(chain_key, &[("hash", &head.hash.to_string()[..12])]),
        book_problems: books.problems.iter().map(|problem| visitor.teller().book_problem(problem)).collect(),
        note_url: app.url("/ledger/note"),
        void_url: app.url("/ledger/void"),
        entry_id: parts::entry_id(),
        problems: Vec::new(),
        form_text: String::new(),
        form_author: String::new(),
        events: events
            .iter()
            .rev()
            .map(|recorded| view(visitor, &books, recorded, (&voided, &places)))
            .collect(),
        older_url: (start > 0).then(|| app.url(&format!("/ledger?before={}", start + 1))),
    })
}

/// Where an entry that was taken back is entered anew with its figures; none for one that has no form of its own.
fn again_url(visitor: &Visitor, body: &Body, row: u64) -> Option<String> {
    let kind = body.kind();
    let page = match body {
        Body::SaltDelivery(_) | Body::BucketCount(_) | Body::PileSurvey(_) => "/salt",
        Body::MakingRun(_) => "/run/batch",
        Body::Dip(_) => "/tanks",
        Body::LoadOut(_) => "/load",
        Body::ReturnToTank(_) => "/load/return",
        Body::IssueOut(_) => "/load/issue",
        Body::Application(_) => "/load/applied",
        Body::RoadReading(_) => "/roads",
        Body::MeterReading(_) | Body::MeterCheck(_) => "/meters",
        Body::SprayerCheck(_) | Body::SpreaderCheck(_) => "/sprayers",
        Body::LiquidDelivery(_)
        | Body::Transfer(_)
        | Body::Loss(_)
        | Body::CleanOut(_)
        | Body::Settlement(_)
        | Body::WaterSample(_)
        | Body::Maintenance(_) => return Some(format!("/load/other?what={kind}&again={row}#form")),
        Body::Reading(reading) => {
            let tank = reading.tank.as_deref().unwrap_or(super::bench::sample::TAP);
            let code = crate::encoded::form_encoded;
            let field = |name: &str, value: Option<&String>| {
                value.map_or_else(String::new, |value| format!("&{name}={}", code(value)))
            };
            let instrument = field("instrument", reading.instrument.as_ref());
            let shown = field("reading", reading.shown.as_ref());
            let temp = reading.temp_c.map_or_else(String::new, |celsius| match visitor.is_us() {
                true => format!("&temp_f={}", parts::plain(quantity::units::FAHRENHEIT.of_base(celsius))),
                false => format!("&temp_c={}", parts::plain(celsius)),
            });
            return Some(format!("/bench?tank={}{instrument}{shown}{temp}", code(tank)));
        }
        _ => return None,
    };
    Some(format!("{page}?again={row}"))
}

fn view(
    visitor: &Visitor,
    books: &Books,
    recorded: &Recorded,
    (voided, places): (&HashSet<EventId>, &HashMap<EventId, u64>),
) -> EventView {
    let (teller, event) = (visitor.teller(), &recorded.event);
    let month = yard::calendar::month_of(event.occurred_at, &visitor.app.zone);
    let is_closed = event.body.moves_books() && books.calendar.closed_at(&month).is_some();
    let mut line = teller.event_line(&event.body);
    if let Some((target, seq)) = event.body.voids().and_then(|id| Some((id, places.get(&id)?))) {
        // A person finds a row by its number; the id stays in the ledger.
        line = line
            .replace(&target.to_string(), &visitor.words.fill("ledger.row-n", &[("seq", &seq.to_string())]));
    }
    let voided = voided.contains(&event.id);
    EventView {
        seq: recorded.seq,
        id: event.id.to_string(),
        kind: teller.event_kind(event.body.kind()),
        when: visitor.display.time(event.occurred_at),
        author: event.author.clone(),
        line,
        voided,
        again_url: again_url(visitor, &event.body, recorded.seq)
            .filter(|_| voided)
            .map(|path| visitor.app.url(&path)),
        can_void: !voided && event.body.voids().is_none(),
        void_id: parts::entry_id(),
        warning: is_closed.then(|| visitor.words.fill("ledger.month-closed", &[("month", &month)])),
    }
}
