//! The storm plan: what is coming, what to make and when, what each route gets.

use askama::Template;
use axum::response::Html;
use planner::Plan;
use quantity::in_seconds;
use report::Words;
use serde::Deserialize;

use super::charts::ChartPair;
use super::storm_view::StormView;
use crate::error::{PageError, render};
use crate::extract::QueryOf;
use crate::page_frame::{PageFrame, Place, Visitor};
use crate::pages::charts;
use crate::pages::roads::{self, RoadView};
use crate::pages::storm_view;

/// Roads told in a line beside the first.
const OTHER_ROADS: usize = 6;

/// Query of the page: key of the forecast to plan on.
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
    c: PageFrame,
    act: String,
    why: Vec<String>,
    run_url: String,
    night_url: String,
    urgent: bool,
    forecast_line: String,
    precipitation_line: String,
    notices: Vec<String>,
    others: Vec<Choice>,
    /// Calls on the crew.
    calls: Vec<String>,
    /// The first of them, in the fold's own line.
    next_call: String,
    storms: Vec<StormView>,
    /// The road that needs an act first, and a line of each other.
    road: Option<RoadView>,
    other_roads: Vec<(String, String)>,
    roads_url: String,
    cover: ChartPair,
    runs: Vec<RunView>,
    /// How much is made and when it is ready, in the fold's own line.
    made: String,
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
    QueryOf(query): QueryOf<StormQuery>,
) -> Result<Html<String>, PageError> {
    let app = &visitor.app;
    let forecast = app.forecast(query.forecast.as_deref()).ok_or_else(|| match query.forecast {
        Some(_) => PageError::missing(&visitor),
        None => PageError::no_forecast(&visitor),
    })?;
    let books = app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let plan = app.plan(&forecast, &books).map_err(|error| PageError::plan(&visitor, &error))?;
    let (words, teller) = (visitor.words, visitor.teller());
    let next = teller.next_act(&plan);
    let others = app
        .forecasts()
        .iter()
        .map(|other| Choice {
            label: other.label.clone(),
            url: app.url(&format!("/storm?forecast={}", other.key)),
            current: other.key == forecast.key,
        })
        .collect();
    let loads_line: Vec<String> =
        plan.loadings.iter().map(|(_, loading)| teller.loading_line(loading)).collect();
    let here = format!("/storm?forecast={}", forecast.key);
    let mut roads = roads::roads(&visitor, &plan, None).into_iter();
    let road = roads.next();
    let page = StormPage {
        road,
        other_roads: roads.take(OTHER_ROADS).map(|road| (road.name, road.verdict)).collect(),
        roads_url: visitor.app.url("/roads"),
        run_url: visitor.app.url("/run"),
        night_url: visitor.app.url("/night"),
        c: PageFrame::new(&visitor, Place::Storm, words.say("nav.storm"), &here),
        w: words,
        act: next.act,
        why: next.why,
        urgent: next.urgent,
        forecast_line: teller.forecast_line(&plan, &forecast.weather),
        precipitation_line: teller.precipitation_line(&plan),
        notices: plan.notices.iter().map(|notice| teller.notice(notice)).chain(start_up(&visitor)).collect(),
        others,
        calls: taken_back(&visitor, &forecast.key).chain(teller.call_lines(&plan)).collect(),
        next_call: teller.next_call(&plan),
        storms: plan.storms.iter().map(|(s, t)| storm_view::storm_view(&visitor, s, t)).collect(),
        cover: charts::cover(&visitor, &plan, true),
        runs: runs(&visitor, &plan),
        made: plan.schedule.runs.last().map_or_else(String::new, |run| {
            let values =
                [("volume", visitor.display.volume(plan.made)), ("at", visitor.display.clock(run.ready))];
            words.fill_with("storm.made-by", &values)
        }),
        batch_line: teller.batch_line(&plan),
        making_cares: ["care.lockout", "care.hopper", "care.backflow", "care.electric", "care.slip"]
            .map(|key| words.say(key).to_string())
            .to_vec(),
        loads_line: loads_line.join(" "),
        loads: loads(&visitor, &plan),
        routes: routes(&visitor, &plan),
        total_line: teller.total_line(&plan),
        cost_line: teller.cost_line(&plan),
        cares: storm_view::cares(&teller, &plan),
    };
    render(&visitor, &page)
}

/// What a newer forecast no longer calls for.
fn taken_back<'a>(visitor: &'a Visitor, forecast: &str) -> impl Iterator<Item = String> + 'a {
    let taken_back = visitor.app.road_memory.taken_back(forecast);
    taken_back.into_iter().map(|call| visitor.teller().taken_back(&call))
}

/// Where the plan counts more for start-up than the yard file says, that it does.
fn start_up(visitor: &Visitor) -> Option<String> {
    let (counted, own) = (visitor.app.start_up(), visitor.app.yard.plant.start_up);
    let d = &visitor.display;
    let values = [("counted", d.time_span(counted)), ("own", d.time_span(own))];
    (in_seconds(counted) > in_seconds(own)).then(|| visitor.words.fill_with("storm.start-up", &values))
}

fn runs(visitor: &Visitor, plan: &Plan) -> Vec<RunView> {
    let (d, teller) = (&visitor.display, visitor.teller());
    plan.schedule
        .runs
        .iter()
        .zip(&plan.tank_uses)
        .map(|(run, uses)| RunView {
            start: d.time(run.latest_start),
            making: teller.making_line(run),
            ready: d.time(run.ready),
            into: teller.into_line(uses),
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
