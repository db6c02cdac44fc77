//! Trimming the plant: panel against bench, what to set the number to, when to look again, when to stop.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use bench::trim::Advice;
use event::EventId;
use jiff::Timestamp;
use message::Tell;
use report::Words;
use report::display::number;
use serde::Deserialize;
use yard::bench_log::{DueWhy, TrimAct, TrimEntry, TrimState};
use yard::estimate::SampleVerdict;
use yard::stock::{Books, LoggedReading};

use super::{Leaf, due_lines, leaves};
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::moments;
use crate::pages::parts;

/// A reading older than this is no longer offered for a look at the panel, s.
const FRESH_SECONDS: i64 = 2 * 3600;

/// Which reading to hold the panel against, and what was just recorded.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct TrimQuery {
    reading: Option<String>,
    saved: Option<u64>,
}

/// A look at the panel, as typed.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PanelCheckForm {
    entry_id: String,
    author: String,
    #[serde(default)]
    trim_number: String,
    #[serde(default)]
    panel_pct: String,
    #[serde(default)]
    at: String,
    #[serde(default)]
    reading: String,
    confirm: Option<String>,
}

/// A setting of the number, as typed.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SetForm {
    entry_id: String,
    author: String,
    #[serde(default)]
    to_number: String,
    #[serde(default)]
    reason: String,
    confirm: Option<String>,
}

/// Where trimming stands, told.
struct Told {
    mark: &'static str,
    headline: String,
    why: String,
    is_act: bool,
    /// The number to set, where one is advised.
    next: Option<String>,
    /// Where the next act is, when it is on another page.
    go: Option<(String, String)>,
}

#[derive(Template)]
#[template(path = "bench_trim.html")]
struct TrimPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    due: Vec<String>,
    due_url: String,
    check_url: String,
    set_url: String,
    told: Told,
    number_label: String,
    has_check: bool,
    check: PanelCheckForm,
    /// The sample that the panel is held against, or why there is none.
    sample: Result<String, String>,
    sample_url: String,
    check_problems: Vec<String>,
    check_confirm: Option<String>,
    set: SetForm,
    set_problems: Vec<String>,
    set_confirm: Option<String>,
    log: Vec<String>,
}

/// Shows where trimming stands.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<TrimQuery>,
) -> Result<Html<String>, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let mut page = page(&visitor, &books, query.reading.as_deref());
    let recorded = query.saved.filter(|seq| *seq <= books.last_seq);
    page.c.saved = recorded.map(|seq| visitor.words.fill("trim.saved", &[("seq", &seq.to_string())]));
    render(&visitor, &page)
}

/// Logs a look.
pub(crate) async fn record_panel_check(
    visitor: Visitor,
    FormOf(form): FormOf<PanelCheckForm>,
) -> Result<Response, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let again = |problems: Vec<String>, ask: Option<String>| {
        let mut page = page(&visitor, &books, Some(&form.reading));
        page.check_problems = problems;
        page.check_confirm = ask;
        page.check = form.clone();
        Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
    };
    let mut problems = Vec::new();
    let id = parts::event_id(&visitor, &form.entry_id)?;
    if let Some(done) = recorded(&visitor, &books, id) {
        return Ok(done);
    }
    let sample = match sample(&visitor, &books, &form.reading) {
        Ok(sample) => sample,
        Err(why) => return again(vec![why], None),
    };
    let from = sample.sample.to_string();
    let fields = [
        ("trim_number", form.trim_number.as_str()),
        ("panel_pct", form.panel_pct.as_str()),
        ("reading", from.as_str()),
    ];
    let body = match parts::read_entry(&visitor, ("panel_check", &form.entry_id), &fields, &form.author)? {
        Ok(body) => Some(body),
        Err(wrong) => {
            problems.extend(wrong);
            None
        }
    };
    let at = match moments::moment(&visitor, &form.at) {
        // A look is as old as the sample it was held against.
        Ok(_) if form.at.trim().is_empty() => sample.at,
        Ok(at) => at,
        Err(wrong) => {
            problems.push(wrong);
            visitor.app.clock.now()
        }
    };
    let Some(body) = body.filter(|_| problems.is_empty()) else { return again(problems, None) };
    let doubts = entry::asked((id, &body), (&visitor.app.yard, &books), at, visitor.app.clock.now());
    if let Some(mark) = parts::unconfirmed(&doubts, form.confirm.as_ref()) {
        return again(parts::sentences(&visitor, body.kind(), &doubts), Some(mark));
    }
    let seq = parts::record_at(&visitor, &form.entry_id, &form.author, body, at).await?;
    Ok(Redirect::to(&visitor.app.url(&format!("/bench/trim?saved={seq}"))).into_response())
}

/// Logs a setting.
pub(crate) async fn set(visitor: Visitor, FormOf(form): FormOf<SetForm>) -> Result<Response, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let again = |problems: Vec<String>, ask: Option<String>| {
        let mut page = page(&visitor, &books, None);
        page.set_problems = problems;
        page.set_confirm = ask;
        page.set = form.clone();
        Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
    };
    let id = parts::event_id(&visitor, &form.entry_id)?;
    if let Some(done) = recorded(&visitor, &books, id) {
        return Ok(done);
    }
    if books.bench.number_now().is_none() {
        return again(vec![visitor.words.say("trim.look-first").to_string()], None);
    }
    let advised = match books.bench.trim_state(&visitor.app.yard, visitor.app.clock.now()) {
        TrimState::Looked { advice: Ok(Advice::Step(step) | Advice::StepWhileOver { step, .. }), .. } => {
            Some(step.next)
        }
        _ => None,
    };
    let advised_text = advised.map(|next| next.to_string()).unwrap_or_default();
    let fields = [
        ("to_number", form.to_number.as_str()),
        ("advised_number", advised_text.as_str()),
        ("reason", form.reason.as_str()),
    ];
    let body = match parts::read_entry(&visitor, ("trim_set", &form.entry_id), &fields, &form.author)? {
        Ok(body) => body,
        Err(problems) => return again(problems, None),
    };
    let at = visitor.now();
    let doubts = entry::asked((id, &body), (&visitor.app.yard, &books), at, at);
    if let Some(mark) = parts::unconfirmed(&doubts, form.confirm.as_ref()) {
        return again(parts::sentences(&visitor, body.kind(), &doubts), Some(mark));
    }
    let seq = parts::record(&visitor, &form.entry_id, &form.author, body).await?;
    Ok(Redirect::to(&visitor.app.url(&format!("/bench/trim?saved={seq}"))).into_response())
}

/// The answer to a form that was sent before: what it asked for is done already, and the state has moved on since.
fn recorded(visitor: &Visitor, books: &Books, id: EventId) -> Option<Response> {
    let done = books.bench.trims.iter().rev().find(|entry| entry.event == id)?;
    let url = visitor.app.url(&format!("/bench/trim?saved={}", done.seq));
    Some(Redirect::to(&url).into_response())
}

/// The sample from the plant's tap that a logged reading belongs to, with what all its instruments say together.
///
/// # Errors
/// Why the panel cannot be held against it.
fn sample(visitor: &Visitor, books: &Books, reading: &str) -> Result<SampleVerdict, String> {
    let words = visitor.words;
    let Ok(id) = reading.parse::<EventId>() else { return Err(words.say("trim.no-tap").to_owned()) };
    let is_it = |one: &&LoggedReading| one.event == id || one.sample() == id;
    let Some(one) = books.tap.iter().find(is_it) else {
        let of_tank = books.tanks.iter().find(|book| book.readings.iter().any(|one| is_it(&one)));
        return Err(match of_tank {
            Some(book) => words.fill("trim.of-tank", &[("tank", &book.tank)]),
            None => words.say("trim.no-tap").to_owned(),
        });
    };
    let at = visitor.display.time(one.at);
    let Some(sample) = books.tap_sample(one.sample()) else {
        return Err(words.fill("trim.tap-doubted", &[("at", &at)]));
    };
    if sample.agree {
        return Ok(sample);
    }
    let values = [("at", at), ("instruments", called(visitor, books, &sample))];
    Err(words.fill_with("trim.tap-apart", &values))
}

/// The newest sample from the plant's tap, while it is fresh and no look was taken from it.
///
/// # Errors
/// Why the panel cannot be held against it.
fn freshest(visitor: &Visitor, books: &Books) -> Result<SampleVerdict, String> {
    let words = visitor.words;
    let Some(newest) = books.tap.iter().max_by_key(|one| one.at) else {
        return Err(words.say("trim.no-tap").to_owned());
    };
    let at = visitor.display.time(newest.at);
    if FRESH_SECONDS < visitor.app.clock.now().duration_since(newest.at).as_secs() {
        return Err(words.fill("trim.tap-old", &[("at", &at)]));
    }
    if let Some(TrimEntry { at: set_at, act: TrimAct::Set(_), .. }) = books.bench.trims.last()
        && newest.at <= *set_at
    {
        return Err(words.fill("trim.tap-before", &[("at", &at)]));
    }
    let used = books.bench.trims.iter().rev().find_map(|entry| match &entry.act {
        TrimAct::Look(check) => Some(check.reading.as_ref().and_then(|id| id.parse::<EventId>().ok())),
        TrimAct::Set(_) => None,
    });
    let used = used.flatten();
    if used == Some(newest.sample()) || used == Some(newest.event) {
        return Err(words.fill("trim.tap-used", &[("at", &at)]));
    }
    sample(visitor, books, &newest.event.to_string())
}

/// What a sample was read with, each once.
fn instruments(books: &Books, sample: &SampleVerdict) -> Vec<String> {
    let of_it = books.tap.iter().filter(|one| one.sample() == sample.sample && one.reading.doubt.is_none());
    let mut found: Vec<String> = of_it.filter_map(|one| one.reading.instrument.clone()).collect();
    found.sort_unstable();
    found.dedup();
    found
}

/// The same by name.
fn called(visitor: &Visitor, books: &Books, sample: &SampleVerdict) -> String {
    let teller = visitor.teller();
    let names: Vec<String> =
        instruments(books, sample).iter().map(|id| teller.instrument_called(id)).collect();
    if names.is_empty() { visitor.words.say("trim.no-instrument").to_owned() } else { names.join(", ") }
}

fn page(visitor: &Visitor, books: &Books, asked: Option<&str>) -> TrimPage {
    let (app, words, teller) = (&visitor.app, visitor.words, visitor.teller());
    let state = books.bench.trim_state(&app.yard, app.clock.now());
    let mut told = tell(visitor, &state);
    if let TrimState::Looked { at, advice: Ok(Advice::Agreed { .. }), .. } = &state {
        ask_of_change(visitor, books, *at, &mut told);
    }
    let found = match asked.filter(|id| !id.trim().is_empty()) {
        Some(id) => sample(visitor, books, id),
        None => freshest(visitor, books),
    };
    let sample_url = app.url("/bench?tank=tap");
    let is_waiting = matches!(state, TrimState::Waiting { .. });
    if found.is_err() && told.next.is_none() && told.go.is_none() && !is_waiting {
        told.go = Some((sample_url.clone(), words.say("trim.go-sample").to_string()));
    }
    let number_now = books.bench.number_now();
    let check = PanelCheckForm {
        entry_id: parts::entry_id(),
        trim_number: number_now.map(|value| teller.trim_number(value).replace(',', "")).unwrap_or_default(),
        reading: found.as_ref().map(|sample| sample.sample.to_string()).unwrap_or_default(),
        ..PanelCheckForm::default()
    };
    let sample = found.map(|sample| {
        let d = &visitor.display;
        let values = [
            ("at", d.time(sample.at)),
            ("strength", number(sample.strength.value.percent(), 2)),
            ("within", number(sample.strength.uncertainty.percent(), 2)),
            ("instruments", called(visitor, books, &sample)),
        ];
        words.fill_with("trim.from-tap", &values)
    });
    let set = SetForm {
        entry_id: parts::entry_id(),
        to_number: told.next.clone().unwrap_or_default(),
        ..SetForm::default()
    };
    let last = books.bench.episodes(&app.yard).pop();
    let log = last.map_or_else(Vec::new, |episode| {
        let line = |entry: &TrimEntry| {
            format!("{}, {}: {}", visitor.display.time(entry.at), entry.author, teller.trim_entry(entry))
        };
        episode.entries.iter().rev().map(line).collect()
    });
    TrimPage {
        c: PageFrame::new(visitor, Place::Bench, words.say("trim.title"), "/bench/trim"),
        w: words,
        leaves: leaves(visitor, Leaf::Trim),
        due: due_lines(visitor, books).into_iter().filter(|line| !told.why.contains(line)).collect(),
        due_url: app.url("/bench/instruments#due"),
        sample,
        sample_url,
        check_url: app.url("/bench/trim"),
        set_url: app.url("/bench/trim/set"),
        number_label: words.fill("trim.number", &[("name", &app.yard.trim.name)]),
        has_check: number_now.is_some(),
        told,
        check,
        check_problems: Vec::new(),
        check_confirm: None,
        set,
        set_problems: Vec::new(),
        set_confirm: None,
        log,
    }
}

fn tell(visitor: &Visitor, state: &TrimState) -> Told {
    let (app, words, teller) = (&visitor.app, visitor.words, visitor.teller());
    let sample = || Some((app.url("/bench?tank=tap"), words.say("trim.go-sample").to_string()));
    let plain = |mark, headline: String, why: String| Told {
        mark,
        headline,
        why,
        is_act: false,
        next: None,
        go: None,
    };
    match state {
        TrimState::NeverLooked => {
            plain("•", words.say("trim.start").to_string(), words.say("trim.start-why").to_string())
        }
        TrimState::Waiting { number, until } => plain(
            "◷",
            words.fill("trim.waiting", &[("until", &visitor.display.clock(*until))]),
            words.fill(
                "trim.waiting-why",
                &[("name", &app.yard.trim.name), ("number", &teller.trim_number(*number))],
            ),
        ),
        TrimState::SampleAgain { number } => Told {
            is_act: true,
            go: sample(),
            ..plain(
                "▲",
                words.say("trim.sample-again").to_string(),
                words.fill(
                    "trim.sample-again-why",
                    &[("name", &app.yard.trim.name), ("number", &teller.trim_number(*number))],
                ),
            )
        },
        TrimState::Outdated { at, due } => Told {
            is_act: true,
            go: sample(),
            ..plain(
                "▲",
                words.say("trim.outdated").to_string(),
                words.fill_with(
                    "trim.outdated-why",
                    &[("at", visitor.display.time(*at)), ("due", teller.due(due))],
                ),
            )
        },
        TrimState::Looked { advice: Ok(advice), .. } => {
            let told = teller.trim_advice(advice);
            let record = (app.url("/bench/record"), words.say("trim.go-record").to_string());
            Told {
                is_act: told.next.is_some(),
                next: told.next.map(|next| teller.trim_number(next).replace(',', "")),
                go: told.is_agreed.then_some(record),
                ..plain(if told.is_agreed { "✓" } else { "▲" }, told.headline, told.why)
            }
        }
        TrimState::Looked { advice: Err(error), .. } => plain(
            "▲",
            words.say("trim.cannot").to_string(),
            format!("{}.", visitor.display.tell(&error.message())),
        ),
    }
}

/// They agree, and a change from before the look still asks: whether that was brine of the new salt or water, only a
/// person can say.
fn ask_of_change(visitor: &Visitor, books: &Books, checked_at: Timestamp, told: &mut Told) {
    let open = books.bench.due(&visitor.app.yard, visitor.app.clock.now()).into_iter().find(|due| {
        let is_change = matches!(due.why, DueWhy::NewSalt | DueWhy::WaterChange(_) | DueWhy::SeasonStart(_));
        is_change && due.since.is_some_and(|since| since <= checked_at)
    });
    let Some(due) = open else { return };
    told.why = visitor.words.fill_with(
        "trim.agreed-since",
        &[("at", visitor.display.time(checked_at)), ("due", visitor.teller().due(&due))],
    );
    told.go =
        Some((visitor.app.url("/bench/instruments#due"), visitor.words.say("trim.go-sign-off").to_owned()));
}
