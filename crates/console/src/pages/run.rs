//! The guided run: one step at a time, stop and confirm, and its run sheet.

pub(crate) mod book;
pub(crate) mod plant;

mod view;

use ::plant::judge::Prior;
use ::plant::procedure::{Page, Step};
use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use entry::guided::{self, NotTaken, Typed};
use event::{Body, EventId, PlantFit, RunStart};
use jiff::Timestamp;
use message::message;
use report::Words;
use serde::Deserialize;
use yard::estimate::SampleVerdict;
use yard::release::NotYet;
use yard::run_log::{Change, Run};
use yard::stock::Books;

use self::view::{answered, line, page};
use super::parts;
use crate::access::Act;
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{PageFrame, Place, Visitor};

/// What was just recorded.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Saved {
    saved: Option<u64>,
}

/// Which run's sheet.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SheetQuery {
    run: Option<String>,
    procedure: Option<String>,
}

/// A start, an answer or an end, as typed.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RunForm {
    entry_id: String,
    author: String,
    #[serde(default)]
    run: String,
    #[serde(default)]
    step: String,
    #[serde(default)]
    answer: String,
    #[serde(default)]
    value: String,
    #[serde(default)]
    remark: String,
    /// Title of the procedure to begin.
    #[serde(default)]
    procedure: String,
    /// Why a supervisor lets it go on without the evidence that the step needs.
    #[serde(default)]
    override_reason: String,
    confirm: Option<String>,
}

#[derive(Template)]
#[template(path = "run_sheet.html")]
struct SheetPage {
    w: Words,
    c: PageFrame,
    title: String,
    line: String,
    rows: Vec<SheetRow>,
    back_url: String,
}

struct SheetRow {
    phase: Option<String>,
    number: usize,
    act: String,
    caution: Option<String>,
    answered: String,
}

/// Shows the step at hand, or how to start.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(saved): QueryOf<Saved>,
) -> Result<Html<String>, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let mut page = page(&visitor, &books);
    let recorded = saved.saved.filter(|seq| *seq <= books.last_seq);
    page.c.saved = recorded.map(|seq| visitor.words.fill("run.saved", &[("seq", &seq.to_string())]));
    render(&visitor, &page)
}

/// Begins a run, or answers its step.
pub(crate) async fn answer(visitor: Visitor, FormOf(form): FormOf<RunForm>) -> Result<Response, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let id = parts::event_id(&visitor, &form.entry_id)?;
    if is_recorded(&books, id) {
        return Ok(Redirect::to(&visitor.app.url("/run")).into_response());
    }
    if let Some(problem) = parts::author_problem(&visitor, &form.author) {
        return again(&visitor, &books, &form, vec![problem], false);
    }
    let body = match body(&visitor, &books, &form) {
        Ok(body) => body,
        Err(problems) => return again(&visitor, &books, &form, problems, false),
    };
    let now = visitor.app.clock.now();
    let mut doubts = parts::sentences(
        &visitor,
        body.kind(),
        &entry::asked((id, &body), (&visitor.app.yard, &books), now, now),
    );
    if let Some(early) = too_early(&visitor, &books, &form, now) {
        doubts.push(early);
    }
    doubts.extend(unseen(&visitor, &books, &form));
    if !doubts.is_empty() && form.confirm.as_deref() != Some("yes") {
        return again(&visitor, &books, &form, doubts, true);
    }
    let seq = parts::record(&visitor, &form.entry_id, &form.author, body).await?;
    Ok(Redirect::to(&visitor.app.url(&format!("/run?saved={seq}"))).into_response())
}

/// Ends a run: finished when every step lies behind, else broken off with its reason.
pub(crate) async fn end(visitor: Visitor, FormOf(form): FormOf<RunForm>) -> Result<Response, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let open = form.run.parse().ok().and_then(|id| books.runs.run(id)).filter(|run| run.ended.is_none());
    let Some(run) = open else { return Ok(Redirect::to(&visitor.app.url("/run")).into_response()) };
    let mut problems: Vec<String> = parts::author_problem(&visitor, &form.author).into_iter().collect();
    let ending = guided::end(visitor.procedure(&run.procedure), run, &form.remark);
    if ending.is_none() {
        problems.push(visitor.words.say("run.reason-needed").to_string());
    }
    let Some(ending) = ending.filter(|_| problems.is_empty()) else {
        return again(&visitor, &books, &form, problems, false);
    };
    let body = Body::RunEnd(ending);
    let (ended, before) = (run.event, books.runs.learned());
    let seq = parts::record(&visitor, &form.entry_id, &form.author, body).await?;
    learn(&visitor, ended, before.map(|learned| learned.prior), &form.author).await?;
    Ok(Redirect::to(&visitor.app.url(&format!("/run?saved={seq}"))).into_response())
}

/// Records what a watched run has taught of the plant.
async fn learn(
    visitor: &Visitor,
    run: EventId,
    before: Option<Prior>,
    author: &str,
) -> Result<(), PageError> {
    let app = std::sync::Arc::clone(&visitor.app);
    let before = before.unwrap_or_default();
    let learned = tokio::task::spawn_blocking(move || app.watch.learned(run, &before)).await;
    let Ok(Some((learned, readings))) = learned else { return Ok(()) };
    let [reached, feed, water] = learned.factors;
    let [reached_spread, feed_spread, water_spread] = learned.spreads;
    let body = Body::PlantFit(PlantFit {
        run: run.to_string(),
        reached_number: reached,
        reached_spread_number: reached_spread,
        feed_number: feed,
        feed_spread_number: feed_spread,
        water_number: water,
        water_spread_number: water_spread,
        looks_number: readings as f64,
    });
    parts::record(visitor, &parts::entry_id(), author, body).await?;
    Ok(())
}

/// The run sheet: every step with its answer, to print and to fill in by hand.
pub(crate) async fn sheet(
    visitor: Visitor,
    QueryOf(query): QueryOf<SheetQuery>,
) -> Result<Html<String>, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let run = match &query.run {
        Some(id) => {
            let found = id.parse().ok().and_then(|id| books.runs.run(id));
            Some(found.ok_or_else(|| PageError::missing(&visitor))?)
        }
        None => None,
    };
    let words = visitor.words;
    let procedure = match run {
        Some(run) => visitor.procedure(&run.procedure),
        None => visitor.procedure(query.procedure.as_deref().unwrap_or("")),
    };
    let Some(procedure) = procedure else { return Err(PageError::missing(&visitor)) };
    let mut last_phase = String::new();
    let rows = procedure.steps.iter().enumerate().map(|(place, step)| {
        let is_new = step.phase != last_phase;
        last_phase.clone_from(&step.phase);
        SheetRow {
            phase: is_new.then(|| step.phase.clone()),
            number: place + 1,
            act: step.act.clone(),
            caution: step.caution.clone(),
            answered: run.map_or_else(String::new, |run| answered(&visitor, run, step)),
        }
    });
    let page = SheetPage {
        rows: rows.collect(),
        c: PageFrame::new(&visitor, Place::Run, words.say("run.sheet"), "/run/sheet"),
        w: words,
        title: words.fill("run.sheet-of", &[("title", &procedure.title), ("yard", &visitor.app.yard.name)]),
        line: run.map_or_else(|| words.say("run.sheet-blank").to_string(), |run| line(&visitor, run)),
        back_url: visitor.app.url("/run"),
    };
    render(&visitor, &page)
}

fn again(
    visitor: &Visitor,
    books: &Books,
    form: &RunForm,
    problems: Vec<String>,
    ask_confirm: bool,
) -> Result<Response, PageError> {
    let mut page = page(visitor, books);
    page.problems = problems;
    page.ask_confirm = ask_confirm.then(|| "yes".to_owned());
    page.form = form.clone();
    Ok((StatusCode::UNPROCESSABLE_ENTITY, render(visitor, &page)?).into_response())
}

/// Sent before: a start, an answer or an end that stands in a run already.
fn is_recorded(books: &Books, id: EventId) -> bool {
    books.runs.newest_first().any(|run| run.event == id || run.answers.iter().any(|one| one.event == id))
}

/// The first step that does not lie behind, in the reader's language.
fn at_hand<'a>(visitor: &'a Visitor, run: &Run) -> Option<(usize, &'a Step)> {
    guided::at_hand(visitor.procedure(&run.procedure)?, run)
}

/// The newest sample of the plant's tap.
pub(crate) fn tap_sample(books: &Books) -> Option<SampleVerdict> {
    books.tap_verdict()
}

/// Why a step that needs evidence is not open; the sample that opens it else. None for a step that needs none.
fn needed(visitor: &Visitor, books: &Books, run: &Run, step: &Step) -> Option<Result<SampleVerdict, NotYet>> {
    guided::needed((&visitor.app.yard, books), run, step, visitor.app.clock.now())
}

/// The same in words.
fn not_yet(visitor: &Visitor, why: &NotYet) -> String {
    let (words, d) = (visitor.words, &visitor.display);
    match why {
        NotYet::NoSample => words.say("run.needs-sample").to_owned(),
        NotYet::Doubted(at) => words.fill("run.needs-sound", &[("at", &d.clock(*at))]),
        NotYet::Changed(changed) => {
            let what = words.say(match changed.what {
                Change::Trim => "run.changed-trim",
                Change::Correction => "run.changed-correction",
                Change::Water => "run.changed-water",
                Change::Salt => "run.changed-salt",
            });
            words.fill("run.needs-after", &[("what", what), ("at", &d.clock(changed.at))])
        }
        NotYet::Out { sample, conformity } => {
            let spec = visitor.teller().conformity(*conformity).to_owned();
            let values = [("strength", d.strength(sample.strength.value)), ("spec", spec)];
            words.fill_with("run.needs-in-spec", &values)
        }
    }
}

/// The page that a step speaks of.
fn page_of(visitor: &Visitor, step: &Step) -> Option<(String, String)> {
    let (key, path) = match step.page? {
        Page::Bench => ("run.page-bench", "/bench?tank=tap"),
        Page::Trim => ("run.page-trim", "/bench/trim"),
        Page::Instruments => ("run.page-instruments", "/bench/instruments"),
        Page::PutRight => ("run.page-put-right", "/put-right"),
        Page::Salt => ("run.page-salt", "/salt#buckets"),
    };
    Some((visitor.words.say(key).to_owned(), visitor.app.url(path)))
}

fn body(visitor: &Visitor, books: &Books, form: &RunForm) -> Result<Body, Vec<String>> {
    let words = visitor.words;
    let Some(run) = books.runs.open() else {
        if form.run.is_empty() {
            let asked = visitor.app.procedures.iter().find(|one| one.title == form.procedure);
            let Some(procedure) = asked.or_else(|| visitor.app.procedures.first()) else {
                return Err(vec![words.say("run.none").to_string()]);
            };
            return Ok(Body::RunStart(RunStart { procedure: procedure.title.clone(), tank: None }));
        }
        return Err(vec![words.say("run.has-ended").to_string()]);
    };
    // Another tablet may have answered it meanwhile.
    let current = at_hand(visitor, run).filter(|_| run.event.to_string() == form.run);
    let (Some((_, step)), Some(procedure)) = (current, visitor.procedure(&run.procedure)) else {
        return Err(vec![words.say("run.moved-on").to_string()]);
    };
    let typed = Typed {
        step: &form.step,
        is_not_seen: form.answer == "not_seen",
        value: &form.value,
        remark: &form.remark,
        override_reason: &form.override_reason,
        may_override: crate::access::authorise(visitor.caller.role, Act::Settle).is_ok(),
    };
    let about = (&visitor.app.yard, books);
    let answer = guided::answer(about, (procedure, run), &typed, visitor.app.clock.now());
    answer.map(Body::RunStep).map_err(|why| not_taken(visitor, step, form, &why))
}

/// Why an answer is not taken, in words.
fn not_taken(visitor: &Visitor, step: &Step, form: &RunForm, why: &NotTaken) -> Vec<String> {
    let words = visitor.words;
    let asked = step.entry.as_ref();
    let name = asked.map_or("", |entry| entry.name.as_str());
    match why {
        NotTaken::MovedOn => vec![words.say("run.moved-on").to_string()],
        NotTaken::BookFirst => vec![words.say("run.book-first").to_owned()],
        NotTaken::NoNumber(what, accepted) => {
            vec![parts::refusal(visitor, (name, &form.value), (what, accepted))]
        }
        NotTaken::Outside(value) => {
            let accepted =
                asked.map(|entry| format!("{}…{} {}", entry.low, entry.high, entry.unit)).unwrap_or_default();
            vec![visitor.display.tell(&message!(
                "console.step-range",
                field = name,
                value = *value,
                accepted = accepted
            ))]
        }
        NotTaken::NoEvidence(why) => vec![not_yet(visitor, why)],
        NotTaken::MayNotOverride(why) => {
            vec![not_yet(visitor, why), words.say("run.override-who").to_owned()]
        }
    }
}

fn too_early(visitor: &Visitor, books: &Books, form: &RunForm, now: Timestamp) -> Option<String> {
    let run = books.runs.open()?;
    let (_, step) = at_hand(visitor, run).filter(|(_, step)| step.id == form.step)?;
    // What is seen to be wrong is said at once.
    let at = guided::not_before(run, step).filter(|at| now < *at && form.answer != "not_seen")?;
    Some(visitor.words.fill("run.too-early", &[("at", &visitor.display.clock(at))]))
}

/// What the plant's sensors say against a step that is said to be seen.
fn unseen(visitor: &Visitor, books: &Books, form: &RunForm) -> Option<String> {
    let run = books.runs.open()?;
    let (_, step) = at_hand(visitor, run).filter(|(_, step)| step.id == form.step)?;
    let watch = step.watch.filter(|_| form.answer != "not_seen")?;
    plant::watched(visitor, watch).filter(|said| !said.is_met).map(|said| said.line)
}
