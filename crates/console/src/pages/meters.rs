//! Meters: totals as read, meters held against the scale, and the factor that comes of it.

use accounts::metering::{counts, meter_factor};
use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use quantity::in_cubic_metres;
use report::Words;
use report::display::number;
use report::table::{Kind, Table};
use serde::Deserialize;

use super::books::{self, Leaf};
use super::entry::{self, Asks, Form, Refused, Typed};
use super::parts;
use super::table_view::TableView;
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::table_view;

/// Counts between two totals that are listed of a meter.
const LISTED: usize = 8;

/// What a total asks.
const TOTAL: Asks = Asks::of("meter_reading", &["meter", "total"]);

/// What holding a meter against the scale asks.
const CHECK: Asks = Asks::of("meter_check", &["meter", "shown", "weighed", "strength_pct", "temp"]);

/// What the last act recorded.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct MetersQuery {
    saved: Option<u64>,
}

#[derive(Template)]
#[template(path = "meters.html")]
struct MetersPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    title: String,
    factors: Vec<(String, bool)>,
    tables: Vec<TableView>,
    total: Form,
    check: Form,
    has_meters: bool,
}

/// Shows the page.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<MetersQuery>,
) -> Result<Html<String>, PageError> {
    let mut page = page(&visitor, None)?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

/// Records a total.
pub(crate) async fn total(visitor: Visitor, FormOf(typed): FormOf<Typed>) -> Result<Response, PageError> {
    match entry::record(&visitor, &TOTAL, &typed).await? {
        Ok(seq) => Ok(back(&visitor, seq)),
        Err(refused) => refuse(&visitor, true, &typed, refused),
    }
}

/// Records a meter held against the scale.
pub(crate) async fn check(visitor: Visitor, FormOf(typed): FormOf<Typed>) -> Result<Response, PageError> {
    match entry::record(&visitor, &CHECK, &typed).await? {
        Ok(seq) => Ok(back(&visitor, seq)),
        Err(refused) => refuse(&visitor, false, &typed, refused),
    }
}

fn back(visitor: &Visitor, seq: u64) -> Response {
    Redirect::to(&visitor.app.url(&format!("/meters?saved={seq}"))).into_response()
}

fn refuse(visitor: &Visitor, is_total: bool, typed: &Typed, refused: Refused) -> Result<Response, PageError> {
    let page = page(visitor, Some((is_total, typed, refused)))?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, render(visitor, &page)?).into_response())
}

fn page(visitor: &Visitor, sent: Option<(bool, &Typed, Refused)>) -> Result<MetersPage, PageError> {
    let (app, words, d) = (&visitor.app, visitor.words, &visitor.display);
    let whole = books::ledger(visitor)?;
    let journal = whole.journal(&app.yard);
    let mut factors = Vec::new();
    let columns = [
        (words.say("ask.meter"), Kind::Text),
        (words.say("meters.from"), Kind::Text),
        (words.say("meters.until"), Kind::Text),
        (words.say("meters.counted"), Kind::Volume),
        (words.say("meters.remark"), Kind::Text),
    ];
    let mut table = Table::new("counts", words.say("meters.counts"), &columns);
    for meter in &app.yard.meters {
        match meter_factor(&journal, meter) {
            Some(found) => {
                let off = (found.factor - meter.factor).abs() > found.interval;
                let values = [
                    ("meter", meter.name.clone()),
                    ("factor", number(found.factor, 4)),
                    ("within", number(found.interval, 4)),
                    ("count", found.proofs.len().to_string()),
                    ("set", number(meter.factor, 4)),
                ];
                let key = if off { "meters.off" } else { "meters.right" };
                factors.push((words.fill_with(key, &values), off));
            }
            None => factors.push((words.fill("meters.unproven", &[("meter", &meter.name)]), false)),
        }
        for (from, until, counted) in counts(&journal, meter).into_iter().rev().take(LISTED) {
            let (counted, remark) = match counted {
                Ok(volume) => (Some(in_cubic_metres(volume)), String::new()),
                Err(error) => (None, d.tell(&message::Tell::message(&error))),
            };
            table.row(vec![
                meter.name.as_str().into(),
                d.time(from).into(),
                d.time(until).into(),
                counted.into(),
                remark.into(),
            ]);
        }
    }
    let nothing = Typed::new();
    let (is_total, typed, refused) = sent.unwrap_or((true, &nothing, Refused::default()));
    let (of_total, of_check) = if is_total {
        ((typed, refused), (&nothing, Refused::default()))
    } else {
        ((&nothing, Refused::default()), (typed, refused))
    };
    Ok(MetersPage {
        total: entry::form(
            visitor,
            ("/meters", "total", "meters.record-total"),
            &TOTAL,
            of_total.0,
            of_total.1,
        )?,
        check: entry::form(
            visitor,
            ("/meters/check", "check", "meters.record-check"),
            &CHECK,
            of_check.0,
            of_check.1,
        )?,
        has_meters: !app.yard.meters.is_empty(),
        c: PageFrame::new(visitor, Place::Books, words.say("books.leaf-meters"), "/meters"),
        w: words,
        leaves: books::leaves(visitor, Leaf::Meters),
        title: words.say(if app.yard.meters.is_empty() { "meters.none" } else { "meters.title" }).to_owned(),
        factors,
        tables: if table.rows.is_empty() {
            Vec::new()
        } else {
            vec![table_view::table_view(visitor, &table)]
        },
    })
}
