//! The instruments: each one's word, its checks, what is due, and how instruments and people agree.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use bench::drift::Drift;
use bench::instrument::reading_decimals;
use event::{Adjusted, Body, CheckedIn};
use report::Words;
use report::chart::{ChecksChart, Size, checks_chart};
use report::display::number;
use serde::Deserialize;
use site::Instrument;
use yard::stock::Books;

use super::{Leaf, leaves};
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::charts;
use crate::pages::charts::ChartPair;
use crate::pages::parts::{self, Entered};

/// Checks from which a chart is drawn.
const CHARTED_FROM: usize = 3;

/// What was just recorded.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Saved {
    saved: Option<u64>,
}

/// A check, as typed.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct CheckForm {
    entry_id: String,
    author: String,
    #[serde(default)]
    instrument: String,
    #[serde(default)]
    against: String,
    #[serde(default)]
    known_pct: String,
    #[serde(default)]
    shown: String,
    temp_f: Option<String>,
    temp_c: Option<String>,
    adjusted: Option<String>,
    #[serde(default)]
    at: String,
    confirm: Option<String>,
}

/// Something seen to, or something that changed, as typed.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct DueForm {
    entry_id: String,
    author: String,
    #[serde(default)]
    check: String,
    #[serde(default)]
    done: String,
}

/// A change of water or of season, as typed.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangeForm {
    entry_id: String,
    author: String,
    #[serde(default)]
    kind: String,
    #[serde(default)]
    what: String,
    #[serde(default)]
    at: String,
    confirm: Option<String>,
}

struct InstrumentView {
    id: String,
    name: String,
    scale: String,
    mark: &'static str,
    word: String,
    needs_act: bool,
    last: String,
    chart: Option<ChartPair>,
}

struct DueView {
    key: String,
    text: String,
}

#[derive(Template)]
#[template(path = "bench_instruments.html")]
struct InstrumentsPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    title: String,
    due: Vec<DueView>,
    due_url: String,
    due_form: DueForm,
    due_problems: Vec<String>,
    instruments: Vec<InstrumentView>,
    check_url: String,
    check: CheckForm,
    temp: String,
    temp_name: &'static str,
    temp_label: String,
    check_problems: Vec<String>,
    check_confirm: Option<String>,
    change_confirm: Option<String>,
    change_url: String,
    change: ChangeForm,
    change_problems: Vec<String>,
    compared: Vec<String>,
}

/// Shows the page.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(saved): QueryOf<Saved>,
) -> Result<Html<String>, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let mut page = page(&visitor, &books);
    let recorded = saved.saved.filter(|seq| *seq <= books.last_seq);
    page.c.saved = recorded.map(|seq| visitor.words.fill("instruments.saved", &[("seq", &seq.to_string())]));
    render(&visitor, &page)
}

/// Logs a check of an instrument. What it should show is worked out, not typed.
pub(crate) async fn check(visitor: Visitor, FormOf(form): FormOf<CheckForm>) -> Result<Response, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let entered = Entered::new(&form.entry_id, &form.author, &form.at, form.confirm.as_ref());
    let body = read_check(&visitor, &form)?;
    let refused = match parts::record_asked(&visitor, &entered, body).await? {
        Ok(seq) => return Ok(back(&visitor, seq)),
        Err(refused) => refused,
    };
    let mut page = page(&visitor, &books);
    page.check_problems = refused.problems;
    page.check_confirm = refused.ask_confirm;
    page.temp = form.temp_f.clone().or(form.temp_c.clone()).unwrap_or_default();
    page.check = form;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
}

/// Logs that a person has seen to what was due.
pub(crate) async fn seen(visitor: Visitor, FormOf(form): FormOf<DueForm>) -> Result<Response, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let mut problems = Vec::new();
    if form.check.trim().is_empty() {
        problems.push(visitor.words.say("due.which").to_string());
    }
    if form.done.trim().is_empty() {
        problems.push(visitor.words.say("due.done-needed").to_string());
    }
    if !problems.is_empty() {
        let mut page = page(&visitor, &books);
        page.due_problems = problems;
        page.due_form = form;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response());
    }
    let fields = [("check", form.check.as_str()), ("done", form.done.as_str())];
    let body = match parts::read_entry(&visitor, ("check_seen", &form.entry_id), &fields, &form.author)? {
        Ok(body) => body,
        Err(problems) => {
            let mut page = page(&visitor, &books);
            page.due_problems = problems;
            page.due_form = form;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response());
        }
    };
    let seq = parts::record(&visitor, &form.entry_id, &form.author, body).await?;
    Ok(back(&visitor, seq))
}

/// Logs a change of water, or the start of a season: both raise a check.
pub(crate) async fn change(
    visitor: Visitor,
    FormOf(form): FormOf<ChangeForm>,
) -> Result<Response, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let (kind, field) = match form.kind.as_str() {
        "season_start" => ("season_start", "season"),
        _ => ("water_change", "what"),
    };
    let body = parts::read_entry(&visitor, (kind, &form.entry_id), &[(field, &form.what)], &form.author)?;
    let entered = Entered::new(&form.entry_id, &form.author, &form.at, form.confirm.as_ref());
    let refused = match parts::record_asked(&visitor, &entered, body).await? {
        Ok(seq) => return Ok(back(&visitor, seq)),
        Err(refused) => refused,
    };
    let mut page = page(&visitor, &books);
    page.change_problems = refused.problems;
    page.change_confirm = refused.ask_confirm;
    page.change = form;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
}

fn back(visitor: &Visitor, seq: u64) -> Response {
    Redirect::to(&visitor.app.url(&format!("/bench/instruments?saved={seq}"))).into_response()
}

/// A check as it is entered by any way in: what the instrument should have shown is worked out there.
fn read_check(visitor: &Visitor, form: &CheckForm) -> Result<Result<Body, Vec<String>>, PageError> {
    let is_water = form.against != CheckedIn::Brine.word();
    let adjusted = if form.adjusted.as_deref() == Some("yes") { Adjusted::Yes } else { Adjusted::No };
    let fields = [
        ("instrument", form.instrument.as_str()),
        ("against", if is_water { CheckedIn::Water.word() } else { CheckedIn::Brine.word() }),
        ("known_pct", if is_water { "" } else { form.known_pct.as_str() }),
        ("shown_reading", form.shown.as_str()),
        ("temp_f", form.temp_f.as_deref().unwrap_or_default()),
        ("temp_c", form.temp_c.as_deref().unwrap_or_default()),
        ("adjusted", adjusted.word()),
    ];
    parts::read_entry(visitor, ("instrument_check", &form.entry_id), &fields, &form.author)
}

fn page(visitor: &Visitor, books: &Books) -> InstrumentsPage {
    let (app, words, us) = (&visitor.app, visitor.words, visitor.is_us());
    let due: Vec<DueView> = books
        .bench
        .due(&app.yard, app.clock.now())
        .iter()
        .map(|due| DueView { key: due.key.clone(), text: visitor.teller().due(due) })
        .collect();
    let title = match due.len() {
        0 => words.say("instruments.all-well").to_string(),
        1 => words.say("instruments.one-due").to_string(),
        n => words.fill("instruments.some-due", &[("count", &n.to_string())]),
    };
    let first = app.yard.instruments.first().map(|one| one.id.clone()).unwrap_or_default();
    InstrumentsPage {
        c: PageFrame::new(visitor, Place::Bench, words.say("instruments.title"), "/bench/instruments"),
        w: words,
        leaves: leaves(visitor, Leaf::Instruments),
        title,
        due_form: DueForm {
            entry_id: parts::entry_id(),
            check: due.first().map(|one| one.key.clone()).unwrap_or_default(),
            ..DueForm::default()
        },
        due,
        due_url: app.url("/bench/due"),
        due_problems: Vec::new(),
        instruments: app.yard.instruments.iter().enumerate().map(|one| view(visitor, books, one)).collect(),
        check_url: app.url("/bench/instruments/check"),
        check: CheckForm {
            entry_id: parts::entry_id(),
            instrument: first,
            against: "water".into(),
            ..CheckForm::default()
        },
        temp: String::new(),
        temp_name: if us { "temp_f" } else { "temp_c" },
        temp_label: words.say(if us { "bench.temp-f" } else { "bench.temp-c" }).to_string(),
        check_problems: Vec::new(),
        check_confirm: None,
        change_confirm: None,
        change_url: app.url("/bench/change"),
        change: ChangeForm {
            entry_id: parts::entry_id(),
            kind: "water_change".into(),
            ..ChangeForm::default()
        },
        change_problems: Vec::new(),
        compared: books.bench.compared().iter().map(|one| visitor.teller().compared(one)).collect(),
    }
}

fn view(visitor: &Visitor, books: &Books, (place, instrument): (usize, &Instrument)) -> InstrumentView {
    let (words, teller) = (visitor.words, visitor.teller());
    let checks = books.bench.checks(&instrument.id);
    let drift = books.bench.drift(instrument);
    let (mark, word, needs_act) = match (&drift, checks.last()) {
        (Some(drift), _) => {
            let is_steady = drift.steadiness == bench::drift::Steadiness::Steady;
            (if is_steady { "✓" } else { "▲" }, teller.drift_word(drift.steadiness).to_string(), !is_steady)
        }
        (None, Some(_)) => ("✓", words.say("drift.set").to_string(), false),
        (None, None) => ("?", words.say("drift.unchecked").to_string(), false),
    };
    let decimals = reading_decimals(instrument.card.resolution);
    let last = checks.last().map_or_else(String::new, |check| {
        words.fill(
            "instruments.last",
            &[
                ("at", &visitor.display.time(check.at)),
                ("author", &check.author),
                ("error", &number(check.error, decimals)),
            ],
        )
    });
    InstrumentView {
        id: instrument.id.clone(),
        name: instrument.name.clone(),
        scale: words.say(&format!("scale.{}", instrument.scale)).to_string(),
        mark,
        word,
        needs_act,
        last,
        chart: drift.and_then(|drift| chart(visitor, books, place, instrument, &drift)),
    }
}

/// The chart of an instrument's checks since it was last set right.
fn chart(
    visitor: &Visitor,
    books: &Books,
    place: usize,
    instrument: &Instrument,
    drift: &Drift,
) -> Option<ChartPair> {
    let errors = books.bench.errors(&instrument.id);
    if errors.len() < CHARTED_FROM {
        return None;
    }
    let decimals = reading_decimals(instrument.card.resolution) + 1;
    let says = visitor.words.fill(
        "chart.checks-says",
        &[
            ("count", &errors.len().to_string()),
            ("limit", &number(drift.limits.1, decimals)),
            ("word", visitor.teller().drift_word(drift.steadiness)),
        ],
    );
    let id = format!("checks-{place}");
    let of = ChecksChart { id: &id, errors: &errors, drift, says: &says };
    let entries =
        [("k-have", "chart.key.average"), ("k-limit", "chart.key.limits"), ("k-band", "chart.key.corridor")];
    let key = charts::key(visitor, &entries);
    let draw = |size| checks_chart(&of, size, &visitor.words);
    Some(ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says, key })
}
