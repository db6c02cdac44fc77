//! The storm plan: what is coming, what to make and when, what each route gets.

use askama::Template;
use axum::extract::Query;
use axum::response::Html;
use planner::Plan;
use report::Words;
use serde::Deserialize;

use super::parts::{self, ChartPair, StormView};
use crate::access::Act;
use crate::chrome::{Chrome, Place, Visitor};
use crate::error::{PageError, render};

/// Which forecast.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct StormQuery {
    forecast: Option<String>,
}

struct Choice {
    label: String,
    url: String,
    current: bool,
}

struct RunView {
    start: String,
    making: String,
    ready: String,
    into: String,
}

struct LoadView {
    /// Set where the day changes.
    day: Option<String>,
    at: String,
    truck: String,
    route: String,
    volume: String,
    leaves: String,
}

struct RouteView {
    name: String,
    mid: String,
    range: String,
    loads: usize,
}

#[derive(Template)]
#[template(path = "storm.html")]
struct StormPage {
    w: Words,
    c: Chrome,
    act: String,
    why: Vec<String>,
    urgent: bool,
    forecast_line: String,
    precipitation_line: String,
    notices: Vec<String>,
    others: Vec<Choice>,
    timeline: ChartPair,
    storms: Vec<StormView>,
    cover: ChartPair,
    runs: Vec<RunView>,
    batch_line: String,
    making_cares: Vec<String>,
    loads: Vec<LoadView>,
    loads_line: String,
    routes: Vec<RouteView>,
    total_line: String,
    cost_line: String,
    cares: Vec<String>,
}

/// Shows the page.
pub(crate) async fn show(
    visitor: Visitor,
    Query(query): Query<StormQuery>,
) -> Result<Html<String>, PageError> {
    visitor.may(Act::Look)?;
    let app = &visitor.app;
    let forecast = app.forecast(query.forecast.as_deref()).ok_or_else(|| PageError::missing(&visitor))?;
    let books = app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let plan = app.plan(forecast, &books).map_err(|error| PageError::plan(&visitor, &error))?;
    let (d, words, teller) = (&visitor.display, visitor.words, visitor.teller());
    let next = teller.next_act(&plan);
    let others = app
        .forecasts
        .iter()
        .map(|other| Choice {
            label: other.label.clone(),
            url: app.url(&format!("/storm?forecast={}", other.key)),
            current: other.key == forecast.key,
        })
        .collect();
    let loads = loads(&visitor, &plan);
    let here = format!("/storm?forecast={}", forecast.key);
    let page = StormPage {
        c: Chrome::new(&visitor, Place::Storm, words.say("nav.storm"), &here),
        w: words,
        act: next.act,
        why: next.why,
        urgent: next.urgent,
        forecast_line: words.fill(
            "text.forecast",
            &[
                ("format", forecast.weather.format.name()),
                ("station", forecast.weather.station.as_deref().unwrap_or("-")),
                ("issued", &d.time(plan.issued)),
                ("zone", d.zone.iana_name().unwrap_or("UTC")),
            ],
        ),
        precipitation_line: report::plan_text::precipitation_line(&plan, &teller),
        notices: stale(&visitor, forecast)
            .into_iter()
            .chain(plan.notices.iter().map(|notice| teller.notice(notice)))
            .collect(),
        others,
        timeline: parts::hours_ahead(&visitor, &plan),
        storms: plan.storms.iter().map(|(s, t)| parts::storm_view(&visitor, s, t)).collect(),
        cover: parts::cover(&visitor, &plan),
        runs: runs(&visitor, &plan),
        batch_line: words.fill(
            "text.batch",
            &[
                ("salt", &d.mass(plan.batch.rock_salt)),
                ("on_hand", &d.mass(plan.rock_salt)),
                ("water", &d.volume(report::plan_text::water_volume(&plan))),
                ("sludge", &d.mass(plan.batch.insolubles)),
            ],
        ),
        making_cares: ["care.lockout", "care.hopper", "care.backflow"]
            .map(|key| words.say(key).to_string())
            .to_vec(),
        loads_line: loads_line(&visitor, &plan),
        loads,
        routes: routes(&visitor, &plan),
        total_line: words.fill(
            "text.total",
            &[
                ("waste", &report::display::number(plan.waste_share * 100.0, 0)),
                ("mid", &d.volume(plan.brine.mid)),
                ("range", &d.volume_range(plan.brine)),
                ("other", &d.volume_range(plan.other)),
            ],
        ),
        cost_line: words.fill(
            "text.salt-cost",
            &[
                ("salt", &d.mass(plan.salt.mid)),
                ("salt_high", &d.mass(plan.salt.high)),
                ("usd", &d.dollars(plan.costs.mid.total_usd())),
                ("usd_high", &d.dollars(plan.costs.high.total_usd())),
                ("chloride", &d.mass(plan.chloride.mid)),
                ("chloride_high", &d.mass(plan.chloride.high)),
            ],
        ),
        cares: parts::cares(&teller, &plan),
    };
    render(&visitor, &page)
}

/// A forecast past its time says so.
fn stale(visitor: &Visitor, forecast: &crate::state::NamedForecast) -> Vec<String> {
    let now = visitor.app.clock.now();
    match (forecast.weather.is_stale(now, true), forecast.weather.age(now)) {
        (Some(true), Some(age)) => {
            vec![visitor.words.fill("storm.stale", &[("age", &visitor.display.time_span(age))])]
        }
        _ => Vec::new(),
    }
}

fn runs(visitor: &Visitor, plan: &Plan) -> Vec<RunView> {
    let (d, w) = (&visitor.display, &visitor.words);
    plan.schedule
        .runs
        .iter()
        .zip(&plan.tank_uses)
        .map(|(run, uses)| {
            let length = d.duration(run.making_to.duration_since(run.making_from));
            let into: Vec<String> = uses
                .iter()
                .map(|part| {
                    w.fill("text.into-tank", &[("volume", &d.volume(part.volume)), ("tank", &part.tank)])
                })
                .collect();
            RunView {
                start: d.time(run.latest_start),
                making: w.fill(
                    "storm.run-making",
                    &[
                        ("from", &d.time(run.making_from)),
                        ("to", &d.time(run.making_to)),
                        ("length", &length),
                        ("volume", &d.volume(run.volume)),
                    ],
                ),
                ready: d.time(run.ready),
                into: into.join(", "),
            }
        })
        .collect()
}

fn loads(visitor: &Visitor, plan: &Plan) -> Vec<LoadView> {
    let (d, yard) = (&visitor.display, &visitor.app.yard);
    let mut last_day = String::new();
    plan.loadings
        .iter()
        .flat_map(|(_, loading)| &loading.loads)
        .map(|load| {
            let day = d.day(load.load_from);
            let changed = day != last_day;
            last_day.clone_from(&day);
            (load, changed.then_some(day))
        })
        .map(|(load, day)| LoadView {
            day,
            at: d.clock(load.load_from),
            truck: yard.trucks[load.truck].id.clone(),
            route: yard.routes[load.route].name.clone(),
            volume: d.volume(load.volume),
            leaves: d.clock(load.leaves),
        })
        .collect()
}

fn loads_line(visitor: &Visitor, plan: &Plan) -> String {
    let d = &visitor.display;
    let lines: Vec<String> = plan
        .loadings
        .iter()
        .map(|(_, loading)| {
            let first = loading.loads.first().map_or_else(String::new, |load| d.time(load.leaves));
            visitor.words.fill(
                "text.loading",
                &[
                    ("begin", &d.time(loading.begin)),
                    ("first", &first),
                    ("end", &d.time(loading.end)),
                    ("loads", &loading.loads.len().to_string()),
                ],
            )
        })
        .collect();
    lines.join(" ")
}

fn routes(visitor: &Visitor, plan: &Plan) -> Vec<RouteView> {
    let d = &visitor.display;
    plan.routes
        .iter()
        .map(|need| RouteView {
            name: visitor.app.yard.routes[need.route].name.clone(),
            mid: d.volume(need.brine.mid),
            range: d.volume_range(need.brine),
            loads: need.loads,
        })
        .collect()
}
