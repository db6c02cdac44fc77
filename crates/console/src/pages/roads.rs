//! Roads: what each does in the hours of the plan, what was read of it, and how good its forecasts were.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use planner::Plan;
use planner::roads::{Compared, ReadRoad, Strip, Use};
use quantity::{celsius, kelvins};
use report::Words;
use report::chart::{RoadStrip, Size, road_strip};
use report::display::number;
use report::table::{Kind, Table};
use road::score::{LEAST_PAIRS, Scores};
use serde::Deserialize;
use yard::road_log::RoadLog;

use super::charts::ChartPair;
use super::entry::{self, Asks, Form, Refused, Typed};
use super::parts;
use super::table_view::TableView;
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{PageFrame, Place, Visitor};
use crate::pages::{charts, table_view};

/// What a reading asks.
const READING: Asks =
    Asks::of("road_reading", &["road", "part", "surface", "looked", "instrument", "remark"]);
/// Readings of a road that are listed, newest first.
const LISTED: usize = 12;

/// What the last act recorded.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RoadsQuery {
    saved: Option<u64>,
}

/// One road as the page shows it.
pub(crate) struct RoadView {
    /// Its place on the page.
    pub(crate) anchor: String,
    pub(crate) name: String,
    pub(crate) verdict: String,
    pub(crate) chart: ChartPair,
    /// What its readings say of the forecast.
    pub(crate) corrected: Option<String>,
    pub(crate) tables: Vec<TableView>,
}

#[derive(Template)]
#[template(path = "roads.html")]
struct RoadsPage {
    w: Words,
    c: PageFrame,
    title: String,
    lines: Vec<String>,
    form: Form,
    roads: Vec<RoadView>,
    calls: Vec<String>,
    rests_on: Vec<String>,
}

/// Shows the page.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<RoadsQuery>,
) -> Result<Html<String>, PageError> {
    let mut page = page(&visitor, &Typed::new(), Refused::default())?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

/// Records a reading.
pub(crate) async fn record(visitor: Visitor, FormOf(typed): FormOf<Typed>) -> Result<Response, PageError> {
    match entry::record(&visitor, &READING, &typed).await? {
        Ok(seq) => Ok(Redirect::to(&visitor.app.url(&format!("/roads?saved={seq}"))).into_response()),
        Err(refused) => {
            let page = page(&visitor, &typed, refused)?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
        }
    }
}

fn page(visitor: &Visitor, typed: &Typed, refused: Refused) -> Result<RoadsPage, PageError> {
    let (app, words, teller) = (&visitor.app, visitor.words, visitor.teller());
    let books = app.books().map_err(|error| PageError::store(visitor, &error))?;
    let plan = app.forecast(None).and_then(|forecast| app.plan(&forecast, &books).ok());
    let mut typed = typed.clone();
    // One class: nothing to choose.
    if let [only] = &app.yard.route_classes[..]
        && app.yard.segments.is_empty()
    {
        typed.entry("road".into()).or_insert_with(|| only.id.clone());
    }
    typed.entry("part".into()).or_insert_with(|| "road".into());
    let mut lines = Vec::new();
    let title = match &plan {
        Some(plan) if !plan.roads.strips.is_empty() => {
            lines.extend(teller.last_road_reading(&books.roads, app.clock.now()));
            teller.roads_title(plan)
        }
        _ => {
            lines.push(words.say("today.no-forecast-next").to_owned());
            words.say("roads.title").to_owned()
        }
    };
    Ok(RoadsPage {
        c: PageFrame::new(visitor, Place::Storm, words.say("roads.title"), "/roads"),
        w: words,
        title,
        lines,
        form: entry::form(visitor, ("/roads", "road", "roads.record"), &READING, &typed, refused)?,
        roads: plan.as_ref().map_or_else(Vec::new, |plan| roads(visitor, plan, Some(&books.roads))),
        calls: plan.as_ref().map_or_else(Vec::new, |plan| teller.call_lines(plan)),
        rests_on: plan.as_ref().map_or_else(Vec::new, |plan| teller.roads_rest_on(plan)),
    })
}

/// Roads of a plan, the one that needs an act first at the top; with readings and scores where a log is given.
pub(crate) fn roads(visitor: &Visitor, plan: &Plan, log: Option<&RoadLog>) -> Vec<RoadView> {
    let teller = visitor.teller();
    let mut strips: Vec<&Strip> = plan.roads.strips.iter().collect();
    strips.sort_by_key(|strip| report::road_words::may_freeze_from(strip).unwrap_or(usize::MAX));
    strips.into_iter().map(|strip| road(visitor, plan, strip, &teller, log)).collect()
}

fn road(
    visitor: &Visitor,
    plan: &Plan,
    strip: &Strip,
    teller: &report::Teller<'_>,
    log: Option<&RoadLog>,
) -> RoadView {
    let yard = &visitor.app.yard;
    let id = strip.road.id(yard);
    let is_class_deck = strip.road.is_deck && strip.road.segment.is_none();
    let name = teller.road_name(id, is_class_deck);
    let verdict = teller.road_verdict(strip);
    let place = plan.roads.strips.iter().position(|one| one.road == strip.road).unwrap_or(0);
    let anchor = format!("road-{place}");
    let says = teller.road_strip(strip, &name);
    let drawing = RoadStrip { id: &anchor, title: &name, plan, strip, treated: &strip.treated, says: &says };
    let draw = |size| road_strip(&drawing, size, &visitor.display, &visitor.words);
    let chart = ChartPair {
        phone: draw(Size::Phone),
        wide: draw(Size::Wide),
        says: says.clone(),
        key: charts::key(
            visitor,
            &[
                ("k-line", "chart.key.road"),
                ("k-film", "chart.key.film"),
                ("k-hatch", "chart.key.may-freeze"),
            ],
        ),
    };
    let read = log.and_then(|_| plan.roads.read.iter().find(|read| read.road == strip.road));
    let mut tables: Vec<TableView> = read.map(|read| readings(visitor, read)).into_iter().collect();
    if let (Some(log), Some(_)) = (log, read) {
        tables.push(scores(visitor, strip, log));
    }
    if log.is_some() && !strip.road.is_deck && strip.road.segment.is_none() {
        let treated = teller.road_treatments(plan, strip.road.class);
        tables.extend(treated.map(|table| table_view::table_view(visitor, &table)));
    }
    // Several roads on a page: each table by its own name.
    for table in &mut tables {
        table.key = format!("{anchor}-{}", table.key);
    }
    RoadView { anchor, name, verdict, chart, corrected: read.map(|read| teller.road_corrected(read)), tables }
}

/// Readings beside what was expected, newest first.
fn readings(visitor: &Visitor, read: &ReadRoad) -> TableView {
    let (words, d) = (visitor.words, &visitor.display);
    let columns = [
        (words.say("account.when"), Kind::Text),
        (words.say("roads.read"), Kind::Text),
        (words.say("roads.expected"), Kind::Text),
        (words.say("roads.used"), Kind::Text),
    ];
    let mut table = Table::new("road-readings", words.say("roads.readings"), &columns);
    for one in read.readings.iter().rev().take(LISTED) {
        let Compared { reading, expected, used } = one;
        table.row(vec![
            d.time(reading.at).into(),
            d.temperature(celsius(reading.surface)).into(),
            expected.map(|expected| d.temperature(celsius(expected))).into(),
            match used {
                Use::Used => words.say("roads.used-yes").to_owned(),
                Use::LeftOut { off } => words.fill("roads.used-off", &[("off", &d.degrees(kelvins(*off)))]),
                Use::WrongClock { hours } => {
                    words.fill("roads.used-clock", &[("hours", &number(hours.abs() as f64, 0))])
                }
                Use::NoWeather => words.say("roads.used-no-weather").to_owned(),
            }
            .into(),
        ]);
    }
    table_view::table_view(visitor, &table)
}

/// How good the forecasts of a road were, lead by lead.
fn scores(visitor: &Visitor, strip: &Strip, log: &RoadLog) -> TableView {
    let (words, app) = (visitor.words, &visitor.app);
    let scored = app.road_memory.scored(&app.yard, strip.road, log, app.clock.now());
    let table = visitor.teller().road_scores(
        &scored.iter().map(|one| (one.lead, one.pairs.len(), Scores::of(&one.pairs))).collect::<Vec<_>>(),
    );
    let mut table = table;
    if scored.iter().all(|one| one.pairs.len() < LEAST_PAIRS) {
        let most = scored.iter().map(|one| one.pairs.len()).max().unwrap_or(0);
        let values = [("least", LEAST_PAIRS.to_string()), ("count", most.to_string())];
        table.notes.push(words.fill_with("roads.scores-few", &values));
    }
    table_view::table_view(visitor, &table)
}
