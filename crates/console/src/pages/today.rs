//! Today: the next act first, then why.

use askama::Template;
use axum::response::Html;
use message::Tell;
use planner::tank_stock;
use report::Words;
use yard::bench_log::TrimState;
use yard::stock::Books;

use super::charts::ChartPair;
use super::storm_view::StormView;
use super::tank_view::TankView;
use crate::error::{PageError, render};
use crate::page_frame::{PageFrame, Place, Visitor};
use crate::pages::charts;
use crate::pages::storm_view;
use crate::pages::tank_view;

#[derive(Template)]
#[template(path = "today.html")]
struct TodayPage {
    w: Words,
    c: PageFrame,
    act: String,
    why: Vec<String>,
    urgent: bool,
    plan_url: Option<String>,
    dip_url: String,
    tanks_url: String,
    /// What was begun and waits to be gone on with: what, and where.
    going_on: Vec<(String, String)>,
    storm: Option<StormView>,
    tanks: Vec<TankView>,
    salt_line: String,
    map: Option<ChartPair>,
    cover: Option<ChartPair>,
    cares: Vec<String>,
}

/// Shows the page.
pub(crate) async fn show(visitor: Visitor) -> Result<Html<String>, PageError> {
    let app = &visitor.app;
    let books = app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let teller = visitor.teller();
    let words = visitor.words;
    let forecast = app.forecast(None);
    let plan = forecast.as_ref().map(|forecast| app.plan(forecast, &books)).transpose();
    // A forecast that cannot be planned on must not hide the tanks.
    let (plan, trouble) = match plan {
        Ok(plan) => (plan, None),
        Err(error) => (None, Some(visitor.display.tell(&error.message()))),
    };
    let stock = tank_stock(&app.yard, &books);
    let hours = plan.as_ref().map_or(&[][..], |plan| &plan.hours);
    let coldest = app.air_ahead(plan.as_deref()).map(|[low, _]| low);
    let (act, why, urgent) = match (&plan, trouble) {
        (Some(plan), _) => {
            let mut next = teller.next_act(plan);
            let key = forecast.as_ref().map(|forecast| forecast.key.as_str()).unwrap_or_default();
            let taken_back = app.road_memory.taken_back(key);
            next.why.extend(taken_back.iter().map(|call| teller.taken_back(call)));
            next.why.extend(teller.call_ahead(plan, app.clock.now()));
            (next.act, next.why, next.urgent)
        }
        (None, Some(trouble)) => (words.say("today.no-plan").to_string(), vec![trouble], true),
        (None, None) => (
            words.say("today.no-forecast").to_string(),
            vec![words.say("today.no-forecast-next").to_string()],
            false,
        ),
    };
    let storm = plan
        .as_ref()
        .and_then(|plan| plan.storms.first())
        .map(|(s, t)| storm_view::storm_view(&visitor, s, t));
    let page = TodayPage {
        c: PageFrame::new(&visitor, Place::Today, words.say("nav.today"), "/"),
        w: words,
        act,
        why,
        urgent,
        plan_url: forecast.is_some().then(|| app.url("/storm")),
        dip_url: app.url("/tanks#dip"),
        tanks_url: app.url("/tanks"),
        going_on: going_on(&visitor, &books),
        storm,
        tanks: tank_view::tanks(&visitor, &stock, &books, coldest),
        salt_line: words.fill("today.salt", &[("salt", &visitor.display.mass(books.rock_salt))]),
        map: charts::map(&visitor, &stock, &books, hours),
        cover: plan.as_ref().map(|plan| charts::cover(&visitor, plan, false)),
        cares: plan.as_ref().map_or_else(Vec::new, |plan| storm_view::cares(&teller, plan)),
    };
    render(&visitor, &page)
}

/// An open run, and a trim whose second sample is due.
fn going_on(visitor: &Visitor, books: &Books) -> Vec<(String, String)> {
    let (app, words) = (&visitor.app, visitor.words);
    let mut found = Vec::new();
    if let Some(run) = books.runs.open() {
        let at = visitor.display.time(run.at);
        let line = words.fill("today.run-open", &[("at", &at), ("author", &run.author)]);
        found.push((line, app.url("/run")));
    }
    let due = yard::due::due(&app.yard, books, app.clock.now());
    match due.iter().filter(|one| one.pressing == yard::due::Pressing::Due).count() {
        0 => {}
        1 => found.push((words.say("today.due-one").to_string(), app.url("/due"))),
        n => found.push((words.fill("today.due-some", &[("count", &n.to_string())]), app.url("/due"))),
    }
    match books.bench.trim_state(&app.yard, app.clock.now()) {
        TrimState::Waiting { until, .. } => {
            let until = visitor.display.clock(until);
            found.push((words.fill("trim.waiting", &[("until", &until)]), app.url("/bench/trim")));
        }
        TrimState::SampleAgain { .. } => {
            found.push((words.say("trim.sample-again").to_string(), app.url("/bench/trim")));
        }
        TrimState::NeverLooked | TrimState::Looked { .. } | TrimState::Outdated { .. } => {}
    }
    found
}
