//! The page of a run as it is drawn: its steps, what each asks, and what was answered.

use ::plant::procedure::{Kind, Step};
use askama::Template;
use event::StepAnswer;
use quantity::{Volume, in_gallons};
use report::Words;
use yard::run_log::Run;
use yard::stock::Books;

use super::parts;
use super::plant;
use crate::languages;
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::charts::ChartPair;
use crate::pages::run::{RunForm, at_hand, needed, not_yet, page_of};
use entry::guided::{is_behind, not_before};

/// The step at hand.
pub(super) struct StepView {
    pub(super) id: String,
    pub(super) phase: String,
    pub(super) number: usize,
    pub(super) of: usize,
    pub(super) act: String,
    pub(super) why: String,
    pub(super) caution: Option<String>,
    pub(super) is_see: bool,
    /// What was made is booked on a page of its own.
    pub(super) book_url: Option<String>,
    /// The page it speaks of: what it is called, and where.
    pub(super) page: Option<(String, String)>,
    /// The evidence it needs, as far as it is there; and why it is not open yet.
    pub(super) evidence: Option<String>,
    pub(super) not_open: Option<String>,
    pub(super) entry: Option<String>,
    pub(super) limits: String,
    pub(super) not_before: Option<String>,
    /// It was looked for and not seen: what to do.
    pub(super) stop: Option<String>,
    /// What the plant's sensors say of it.
    pub(super) watch: Option<plant::WatchView>,
}

impl StepView {
    /// The plant's sensors say otherwise than the step wants.
    pub(super) fn is_against(&self) -> bool {
        self.watch.as_ref().is_some_and(|watch| !watch.is_met)
    }

    /// It is to be given time, and nothing speaks against it so far.
    pub(super) fn is_too_early(&self) -> bool {
        self.not_before.is_some() && !self.is_against()
    }
}

pub(super) struct RowView {
    pub(super) mark: &'static str,
    pub(super) act: String,
    pub(super) answered: String,
    pub(super) is_now: bool,
}

#[derive(Template)]
#[template(path = "run.html")]
pub(super) struct RunPage {
    pub(super) w: Words,
    pub(super) c: PageFrame,
    pub(super) title: String,
    pub(super) run: Option<String>,
    pub(super) run_line: String,
    pub(super) step: Option<StepView>,
    pub(super) is_through: bool,
    pub(super) rows: Vec<RowView>,
    pub(super) plant: Option<plant::PlantView>,
    /// While no run goes on: what the next should look like.
    pub(super) before: Option<ChartPair>,
    /// On the practice plant: where the hands are.
    pub(super) hands_url: Option<String>,
    /// The plant says that something is wrong: nothing else readings like the next act.
    pub(super) is_wrong: bool,
    /// What the plan asks for, while no run is open.
    pub(super) planned: Option<String>,
    /// What that takes.
    pub(super) takes: Option<String>,
    pub(super) batch_url: String,
    /// Title as recorded, and as read.
    pub(super) procedures: Vec<(String, String)>,
    pub(super) learned: Option<String>,
    pub(super) live_url: Option<String>,
    pub(super) url: String,
    pub(super) end_url: String,
    pub(super) sheet_url: String,
    pub(super) sheets: Vec<Link>,
    pub(super) form: RunForm,
    pub(super) problems: Vec<String>,
    pub(super) ask_confirm: Option<String>,
}

pub(super) fn answered(visitor: &Visitor, run: &Run, step: &Step) -> String {
    if step.kind == Kind::Book {
        let booked = |one: &yard::run_log::Booked| {
            let values = [("seq", one.seq.to_string()), ("tank", one.tank.clone())];
            visitor.words.fill_with("run.booked", &values)
        };
        return run.booked.last().map_or_else(String::new, booked);
    }
    let Some(answer) = run.answer(&step.id) else { return String::new() };
    let word = visitor.words.say(&format!("answer.{}", answer.answer)).to_string();
    let unit = step.entry.as_ref().map_or("", |entry| entry.unit.as_str());
    let value = answer.value.map_or_else(String::new, |value| format!(" {value} {unit}"));
    let remarks = answer.remark.iter().map(|remark| format!(" ({remark})"));
    let reasons = answer
        .override_reason
        .iter()
        .map(|reason| format!(" ({})", visitor.words.fill("run.overridden", &[("reason", reason)])));
    let remark: String = remarks.chain(reasons).collect();
    format!("{word}{value}, {}, {}{remark}", visitor.display.clock(answer.at), answer.author)
}

pub(super) fn line(visitor: &Visitor, run: &Run) -> String {
    let words = visitor.words;
    let began = words.fill("run.began", &[("at", &visitor.display.time(run.at)), ("author", &run.author)]);
    match &run.ended {
        None => began,
        Some(ended) => {
            let how = words.say(&format!("run-end.{}", ended.how)).to_string();
            let reason = ended.reason.as_ref().map_or_else(String::new, |reason| format!(": {reason}"));
            format!("{began} {how} {}, {}{reason}.", visitor.display.time(ended.at), ended.author)
        }
    }
}

/// What a run takes: of what the plan asks for, else of the room there is.
pub(super) fn takes(visitor: &Visitor, books: &Books, asked: Option<Volume>) -> Option<String> {
    let (yard, words, d) = (&visitor.app.yard, visitor.words, &visitor.display);
    let stock = planner::tank_stock(yard, books);
    let own = stock.iter().filter(|tank| tank.product == yard.plant.product).map(|tank| tank.room);
    let volume =
        asked.or_else(|| own.max_by(|a, b| a.partial_cmp(b).unwrap_or(std::cmp::Ordering::Equal)))?;
    if in_gallons(volume) < 1.0 {
        return None;
    }
    let learned = books.runs.learned().map(|learned| learned.prior.factors[2]);
    let ahead = yard::batch::ahead(yard, volume, learned).ok()?;
    let water = chemistry::density::water_density(chemistry::recipe::reference_temperature()).ok()?;
    let by = words.say(if ahead.is_learned { "run.by-runs" } else { "run.by-file" });
    let values = [
        ("volume", d.volume(volume)),
        ("salt", d.mass(ahead.batch.rock_salt)),
        ("water", d.volume(ahead.batch.water / water)),
        ("time", d.time_span(ahead.time)),
        ("by", by.to_owned()),
    ];
    Some(words.fill_with("run.takes", &values))
}

pub(super) fn page(visitor: &Visitor, books: &Books) -> RunPage {
    let (app, words) = (&visitor.app, visitor.words);
    let run = books.runs.open();
    let current = run.and_then(|run| at_hand(visitor, run));
    let step = run.zip(current).map(|(run, (place, step))| {
        let is_not_seen = run.answer(&step.id).is_some_and(|answer| answer.answer == StepAnswer::NotSeen);
        let at = not_before(run, step).filter(|at| app.clock.now() < *at);
        StepView {
            id: step.id.clone(),
            phase: step.phase.clone(),
            number: place + 1,
            of: app.procedure(&run.procedure).map_or(0, |procedure| procedure.steps.len()),
            watch: step.watch.and_then(|watch| plant::watched(visitor, watch)),
            act: step.act.clone(),
            why: step.why.clone(),
            caution: step.caution.clone(),
            is_see: step.kind == Kind::See,
            book_url: (step.kind == Kind::Book).then(|| app.url(&format!("/run/batch?run={}", run.event))),
            page: page_of(visitor, step),
            evidence: needed(visitor, books, run, step).and_then(Result::ok).map(|sample| {
                let values = [
                    ("at", visitor.display.clock(sample.at)),
                    ("strength", visitor.display.strength(sample.strength.value)),
                    ("within", visitor.display.strength(sample.strength.uncertainty)),
                ];
                words.fill_with("run.evidence", &values)
            }),
            not_open: needed(visitor, books, run, step)
                .and_then(Result::err)
                .filter(|_| run.overridden().is_none())
                .map(|why| not_yet(visitor, &why)),
            entry: step.entry.as_ref().map(|entry| entry.name.clone()),
            limits: step
                .entry
                .as_ref()
                .map_or_else(String::new, |entry| format!("{}…{} {}", entry.low, entry.high, entry.unit)),
            not_before: at.map(|at| words.fill("run.not-before", &[("at", &visitor.display.clock(at))])),
            stop: step.if_not.clone().filter(|_| is_not_seen),
        }
    });
    let title = match (&step, run) {
        (Some(step), _) if step.stop.is_some() => words.say("run.stopped").to_string(),
        (Some(step), _) => step.act.clone(),
        (None, Some(_)) => words.say("run.through").to_string(),
        (None, None) => words.say("run.none").to_string(),
    };
    let plan = app.forecast(None).and_then(|forecast| app.plan(&forecast, books).ok());
    let asked = plan.as_ref().map(|plan| plan.made).filter(|made| in_gallons(*made) > 1.0);
    let takes = if run.is_none() { takes(visitor, books, asked) } else { None };
    let planned = plan.filter(|_| run.is_none()).and_then(|plan| {
        let first = plan.schedule.runs.first()?;
        let values = [
            ("volume", visitor.display.volume(plan.made)),
            ("at", visitor.display.time(first.latest_start)),
            ("ready", visitor.display.time(plan.schedule.runs.last()?.ready)),
        ];
        Some(words.fill_with("run.by-plan", &values))
    });
    let procedure = run.and_then(|run| visitor.procedure(&run.procedure));
    let rows = run.zip(procedure).map_or_else(Vec::new, |(run, procedure)| {
        procedure
            .steps
            .iter()
            .map(|one| RowView {
                mark: if is_behind(run, one) {
                    "✓"
                } else if run.answer(&one.id).is_some() {
                    "▲"
                } else {
                    ""
                },
                act: one.act.clone(),
                answered: answered(visitor, run, one),
                is_now: step.as_ref().is_some_and(|step| step.id == one.id),
            })
            .collect()
    });
    let sheet = |run: &Run| Link {
        label: visitor.display.time(run.at),
        url: app.url(&format!("/run/sheet?run={}", run.event)),
        current: false,
    };
    let plant = run.and_then(|run| plant::view(visitor, books, run));
    RunPage {
        planned,
        takes,
        batch_url: app.url("/run/batch"),
        is_wrong: plant.as_ref().is_some_and(|plant| plant.is_wrong),
        c: PageFrame::new(visitor, Place::Run, words.say("run.title"), "/run"),
        w: words,
        title,
        is_through: run.is_some() && step.is_none(),
        run_line: run.map_or_else(String::new, |run| line(visitor, run)),
        run: run.map(|run| run.event.to_string()),
        step,
        rows,
        plant,
        hands_url: app.plant.is_some().then(|| app.url("/plant")),
        before: if run.is_none() { plant::before(visitor) } else { None },
        procedures: app
            .procedures
            .iter()
            .map(|one| (one.title.clone(), languages::procedure(words.language(), one).title.clone()))
            .collect(),
        learned: books
            .runs
            .learned()
            .map(|learned| words.fill("plant.learned", &[("at", &visitor.display.time(learned.at))])),
        live_url: app.following.is_some().then(|| app.url("/live")),
        url: app.url("/run"),
        end_url: app.url("/run/end"),
        sheet_url: run.map_or_else(|| app.url("/run/sheet"), |run| sheet(run).url),
        sheets: books.runs.newest_first().filter(|run| run.ended.is_some()).take(8).map(sheet).collect(),
        form: RunForm {
            entry_id: parts::entry_id(),
            author: app.plant.as_ref().map_or_else(String::new, |plant| plant.who.clone()),
            ..RunForm::default()
        },
        problems: Vec::new(),
        ask_confirm: None,
    }
}
