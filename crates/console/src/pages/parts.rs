//! What every form of an entry goes through: its fields read, refused or doubted, its author, and the ledger.

use ::entry::EntryProblem;
pub(crate) use ::entry::plain_number as plain;
use event::{Body, Event, EventId};
use jiff::Timestamp;
use message::{Arg, Message, message};

use super::entry::{self, Refused};
use super::moments;
use crate::error::PageError;
use crate::field_messages::Wrong;
use crate::form_messages::bad_value;
use crate::page_frame::Visitor;

/// A new id for an entry: made with the form, so that sending it twice records it once.
pub(crate) fn entry_id() -> String {
    uuid::Uuid::now_v7().to_string()
}

/// Typed fields of a form as a body, problems as sentences. The id is the one that the form came with.
pub(crate) fn read_entry(
    visitor: &Visitor,
    (kind, id): (&str, &str),
    fields: &[(&str, &str)],
    author: &str,
) -> Result<Result<Body, Vec<String>>, PageError> {
    let books = visitor.app.books_for(event_id(visitor, id)?);
    let books = books.map_err(|error| PageError::store(visitor, &error))?;
    let nameless: Vec<String> = author_problem(visitor, author).into_iter().collect();
    let fields: Vec<(String, String)> =
        fields.iter().map(|(name, value)| ((*name).to_string(), (*value).to_string())).collect();
    Ok(match ::entry::read_body(kind, &fields, (&visitor.app.yard, &books)) {
        Ok(body) if nameless.is_empty() => Ok(body),
        Ok(_) => Err(nameless),
        Err(problems) => Err(nameless.into_iter().chain(sentences(visitor, kind, &problems)).collect()),
    })
}

/// What a page worked out, entered as if every field of it had been typed.
pub(crate) fn read_made(
    visitor: &Visitor,
    id: &str,
    made: &Body,
    author: &str,
) -> Result<Result<Body, Vec<String>>, PageError> {
    let kept = made.to_json().ok().and_then(|text| serde_json::from_str(&text).ok());
    let Some(serde_json::Value::Object(kept)) = kept else { return Ok(Ok(made.clone())) };
    let typed = |value: &serde_json::Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
    let fields: Vec<(String, String)> = kept.iter().map(|(name, one)| (name.clone(), typed(one))).collect();
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, one)| (name.as_str(), one.as_str())).collect();
    read_entry(visitor, (made.kind(), id), &fields, author)
}

/// Problems of an entry of a kind as sentences, by the names on forms and the yard's clock; without a kind, by the
/// names of fields.
pub(crate) fn sentences(visitor: &Visitor, kind: &str, problems: &[EntryProblem]) -> Vec<String> {
    told(visitor, kind, problems, false)
}

/// Doubts of an entry of a kind as sentences: what is asked is not wrong yet.
pub(crate) fn asked_of(visitor: &Visitor, kind: &str, doubts: &[EntryProblem]) -> Vec<String> {
    told(visitor, kind, doubts, true)
}

fn told(visitor: &Visitor, kind: &str, problems: &[EntryProblem], is_asked: bool) -> Vec<String> {
    let sentence = |problem: &EntryProblem| {
        let label = entry::label_of(kind, &problem.field);
        let field = label.map_or(problem.field.as_str(), |label| visitor.words.say(label)).to_owned();
        let sentence =
            refusal(visitor, (&field, problem.value.clone()), (&problem.problem, &problem.accepted));
        visitor.note_wrong(Wrong {
            field: problem.field.clone(),
            label: field.clone(),
            says: sentence.clone(),
            at_field: if is_asked { asked(visitor, &field, problem) } else { at_field(visitor, problem) },
            offers: problem.offers.clone(),
            is_asked,
        });
        let label = label.map_or_else(|| message::said(&problem.field), Message::new);
        let (value, what, accepted) =
            (problem.value.clone(), problem.problem.clone(), problem.accepted.clone());
        let as_data =
            message!("console.form.bad", field = label, value = value, problem = what, accepted = accepted);
        visitor.note_refusal(&sentence, as_data);
        sentence
    };
    problems.iter().map(sentence).collect()
}

/// What is wrong, where the field's name and value stand above it.
fn at_field(visitor: &Visitor, problem: &EntryProblem) -> String {
    let (value, what, accepted) = (problem.value.clone(), problem.problem.clone(), problem.accepted.clone());
    if what.id() == "entry.needed" {
        return visitor.words.say("form.needed").to_owned();
    }
    // Some say the value themselves.
    let is_said = visitor
        .display
        .tell(&what)
        .contains(&visitor.display.tell(&message!("form.value", value = value.clone())));
    visitor.display.tell(&if problem.is_of_blank() || value == Arg::from("") {
        message!("form.at-field-empty", problem = what, accepted = accepted)
    } else if is_said {
        message!("form.at-field-said", problem = what, accepted = accepted)
    } else {
        message!("form.at-field", value = value, problem = what, accepted = accepted)
    })
}

/// What is asked of an entry, where its answers stand beside it as buttons.
fn asked(visitor: &Visitor, field: &str, doubt: &EntryProblem) -> String {
    let (value, what, accepted) = (doubt.value.clone(), doubt.problem.clone(), doubt.accepted.clone());
    let is_plain = accepted.id() == "entry.accept-if-right";
    visitor.display.tell(&if is_plain {
        message!("form.asked", field = field, value = value, problem = what)
    } else {
        message!("form.asked-more", field = field, value = value, problem = what, accepted = accepted)
    })
}

/// What is wrong with a field, and what is accepted, in the reader's language and units and by the yard's clock.
pub(crate) fn refusal(
    visitor: &Visitor,
    (field, value): (&str, impl Into<Arg>),
    (problem, accepted): (&Message, &Message),
) -> String {
    let problem = EntryProblem::new(field, value, problem.clone(), accepted.clone());
    let is_empty = problem.is_of_blank() || problem.value == Arg::from("");
    let EntryProblem { field, value, problem, accepted, .. } = problem;
    let told = if is_empty {
        message!("form.refused-empty", field = field, problem = problem, accepted = accepted)
    } else {
        message!("form.refused", field = field, value = value, problem = problem, accepted = accepted)
    };
    visitor.display.tell(&told)
}

/// What a tick is to say that confirms these doubts; none when there are none, or when it was said.
pub(crate) fn unconfirmed(doubts: &[EntryProblem], confirm: Option<&String>) -> Option<String> {
    let mark = mark_of(doubts);
    (!doubts.is_empty() && confirm != Some(&mark)).then_some(mark)
}

/// A mark of what is asked about: a tick confirms these doubts and no others. What the clock alone moves is left out.
fn mark_of(doubts: &[EntryProblem]) -> String {
    let mut hash = <sha2::Sha256 as sha2::Digest>::new();
    for doubt in doubts {
        let by_clock = matches!(doubt.field.as_str(), "at" | "clock");
        let text = if by_clock { doubt.field.clone() } else { doubt.to_string() };
        sha2::Digest::update(&mut hash, text);
        sha2::Digest::update(&mut hash, b"\n");
    }
    sha2::Digest::finalize(hash).iter().take(8).map(|byte| format!("{byte:02x}")).collect()
}

/// What is wrong with a name, if anything.
pub(crate) fn author_problem(visitor: &Visitor, author: &str) -> Option<String> {
    let length = author.trim().chars().count();
    (!(1..=80).contains(&length)).then(|| {
        let says = visitor.refuse(Message::new("form.author-needed"));
        visitor.note_wrong(Wrong::of("author", visitor.words.say("form.author"), &says));
        says
    })
}

/// An entry as its form sent it.
pub(crate) struct Entered<'f> {
    pub(crate) entry_id: &'f str,
    pub(crate) author: &'f str,
    /// When, as typed; blank is now.
    pub(crate) at: &'f str,
    pub(crate) confirm: Option<&'f String>,
    /// What its page asks besides.
    pub(crate) also: Vec<EntryProblem>,
}

impl<'f> Entered<'f> {
    /// As its form sent it, with nothing besides.
    pub(crate) fn new(entry_id: &'f str, author: &'f str, at: &'f str, confirm: Option<&'f String>) -> Self {
        Self { entry_id, author, at, confirm, also: Vec::new() }
    }
}

/// Records one event after everything that must be confirmed was; else what is wrong, or asked.
pub(crate) async fn record_asked(
    visitor: &Visitor,
    entered: &Entered<'_>,
    body: Result<Body, Vec<String>>,
) -> Result<Result<u64, Refused>, PageError> {
    let (body, at) = match (body, moments::moment(visitor, entered.at)) {
        (Ok(body), Ok(at)) => (body, at),
        (body, at) => {
            let problems = body.err().unwrap_or_default().into_iter().chain(at.err()).collect();
            return Ok(Err(Refused { problems, ask_confirm: None }));
        }
    };
    let books = visitor.app.books().map_err(|error| PageError::store(visitor, &error))?;
    let (id, now) = (event_id(visitor, entered.entry_id)?, visitor.app.clock.now());
    let mut doubts = ::entry::asked((id, &body), (&visitor.app.yard, &books), at, now);
    doubts.extend(entered.also.iter().cloned());
    if let Some(mark) = unconfirmed(&doubts, entered.confirm) {
        return Ok(Err(Refused {
            problems: asked_of(visitor, body.kind(), &doubts),
            ask_confirm: Some(mark),
        }));
    }
    record_at(visitor, entered.entry_id, entered.author, body, at).await.map(Ok)
}

/// Records one event as happening now; the answer is its place.
pub(crate) async fn record(
    visitor: &Visitor,
    entry_id: &str,
    author: &str,
    body: Body,
) -> Result<u64, PageError> {
    record_at(visitor, entry_id, author, body, visitor.now()).await
}

/// Records one event; the answer is its place.
pub(crate) async fn record_at(
    visitor: &Visitor,
    entry_id: &str,
    author: &str,
    body: Body,
    occurred_at: Timestamp,
) -> Result<u64, PageError> {
    let id = event_id(visitor, entry_id)?;
    let author = author.trim();
    if let Some(detail) = author_problem(visitor, author) {
        return Err(PageError::bad_form(visitor, &message::said(detail)));
    }
    let now: Timestamp = visitor.app.clock.now();
    let event = Event {
        id,
        occurred_at,
        author: author.to_string(),
        device: visitor.caller.device().to_string(),
        body,
    };
    let app = std::sync::Arc::clone(&visitor.app);
    // The disk may take its time; other visitors must not wait for it.
    let answer = tokio::task::spawn_blocking(move || app.ledger.append(&[event], now)).await;
    match answer {
        Ok(Ok(places)) => Ok(places.first().map_or(0, |place| place.seq())),
        Ok(Err(error)) => Err(PageError::store(visitor, &error)),
        Err(error) => Err(PageError::broken(visitor, &error)),
    }
}

/// The id a form came with.
pub(crate) fn event_id(visitor: &Visitor, entry_id: &str) -> Result<EventId, PageError> {
    entry_id.parse().map_err(|_| {
        PageError::bad_form(visitor, &bad_value("entry_id", entry_id, "console.accepted.came-with"))
    })
}

/// The entry that a form is asked to hold the figures of: `again` in its address, a row that was taken back.
pub(crate) fn to_enter_again(visitor: &Visitor) -> Option<Body> {
    let row = visitor.asked_number("again").filter(|row| *row > 0)?;
    let events = visitor.app.ledger.events_after(row - 1).ok()?;
    Some(events.into_iter().next().filter(|recorded| recorded.seq == row)?.event.body)
}

/// A form field as typed, without blanks around it; none when nothing was.
pub(crate) fn given(typed: Option<&String>) -> Option<String> {
    typed.map(|text| text.trim().to_string()).filter(|text| !text.is_empty())
}

/// What the last act recorded, in words; none for a row that is not there.
pub(crate) fn saved(visitor: &Visitor, seq: Option<u64>) -> Result<Option<String>, PageError> {
    let head = visitor.app.ledger.head().map_err(|error| PageError::store(visitor, &error))?;
    let recorded = seq.filter(|seq| *seq <= head.seq);
    Ok(recorded.map(|seq| visitor.words.fill("load.saved", &[("seq", &seq.to_string())])))
}
