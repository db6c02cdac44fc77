//! Lots: what a load or a tank was made of, and where a lot got to.

use accounts::Journal;
use accounts::trace::Origins;
use askama::Template;
use axum::response::Html;
use event::{Body, EventId};
use quantity::in_kilograms;
use report::Words;
use report::display::number;
use report::table::{Kind, Table};
use serde::Deserialize;

use super::{Leaf, leaves, ledger};
use crate::error::{PageError, render};
use crate::extract::QueryOf;
use crate::form_messages::bad_value;
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::table_view;
use crate::pages::table_view::TableView;

/// Lots listed of a tank or a load: those beyond hold less than this share of it.
const LEAST_SHARE: f64 = 0.002;
/// Of lots that hold at least this share, their salt is told.
const LARGE_SHARE: f64 = 0.1;
/// Runs and deliveries offered for tracing.
const OFFERED: usize = 30;

/// Which lot, load or tank.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct LotsQuery {
    event: Option<String>,
    tank: Option<String>,
}

/// A part of something, with its share.
struct Part {
    share: String,
    line: String,
    url: Option<String>,
    /// Readings of the tank and the salt it was made of.
    more: Vec<String>,
}

#[derive(Template)]
#[template(path = "lots.html")]
struct LotsPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    title: String,
    lines: Vec<String>,
    /// Of what it was made.
    parts: Vec<Part>,
    parts_head: String,
    /// Where it got to.
    table: Option<TableView>,
    tanks: Vec<Link>,
    offered: Vec<Link>,
}

/// Shows what was asked for, or what can be.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<LotsQuery>,
) -> Result<Html<String>, PageError> {
    let whole = ledger(&visitor)?;
    let journal = whole.journal(&visitor.app.yard);
    let mut page = empty(&visitor, &journal);
    if let Some(text) = &query.event {
        let id: EventId = text.parse().map_err(|_| {
            PageError::bad_form(&visitor, &bad_value("event", text, "console.accepted.entry-id"))
        })?;
        of_event(&visitor, &journal, id, &mut page)?;
    } else if let Some(tank) = &query.tank {
        if visitor.app.yard.tank(tank).is_none() {
            return Err(PageError::missing(&visitor));
        }
        let later = visitor.app.clock.now() + jiff::SignedDuration::from_secs(1);
        let origins = journal.origins_in(tank, later);
        page.title = visitor.words.fill("lots.in-tank", &[("tank", tank)]);
        page.parts_head = visitor.words.say("lots.made-of").to_owned();
        page.parts = made_of(&visitor, &journal, &origins);
    }
    render(&visitor, &page)
}

fn url(visitor: &Visitor, id: EventId) -> String {
    visitor.app.url(&format!("/books/lots?event={id}"))
}

fn empty(visitor: &Visitor, journal: &Journal<'_>) -> LotsPage {
    let (app, words) = (&visitor.app, visitor.words);
    let tanks = app.yard.tanks.iter().map(|tank| Link {
        label: words.fill("close.tank", &[("id", &tank.id)]),
        url: app.url(&format!("/books/lots?tank={}", crate::encoded::form_encoded(&tank.id))),
        current: false,
    });
    let is_lot =
        |body: &Body| matches!(body, Body::MakingRun(_) | Body::LiquidDelivery(_) | Body::LoadOut(_));
    let offered = journal.events().iter().rev().filter(|recorded| is_lot(&recorded.event.body));
    let offered = offered.take(OFFERED).map(|recorded| Link {
        label: visitor.teller().lot(journal, recorded.event.id),
        url: url(visitor, recorded.event.id),
        current: false,
    });
    LotsPage {
        c: PageFrame::new(visitor, Place::Books, words.say("books.leaf-lots"), "/books/lots"),
        w: words,
        leaves: leaves(visitor, Leaf::Lots),
        title: words.say("lots.title").to_owned(),
        lines: vec![words.say("lots.why").to_owned()],
        parts: Vec::new(),
        parts_head: String::new(),
        table: None,
        tanks: tanks.collect(),
        offered: offered.collect(),
    }
}

fn of_event(
    visitor: &Visitor,
    journal: &Journal<'_>,
    id: EventId,
    page: &mut LotsPage,
) -> Result<(), PageError> {
    let (words, teller, d) = (visitor.words, visitor.teller(), &visitor.display);
    let recorded = journal.event(id).ok_or_else(|| PageError::missing(visitor))?;
    page.lines = vec![teller.lot(journal, id)];
    if let Some(origins) = journal.origins_of(id) {
        page.title = words.say("lots.of-load").to_owned();
        page.parts_head = words.say("lots.made-of").to_owned();
        page.parts = made_of(visitor, journal, &origins);
        return Ok(());
    }
    let Some(found) = journal.whereabouts(id) else {
        page.title = words.say("lots.moved-nothing").to_owned();
        return Ok(());
    };
    let total = in_kilograms(found.mass);
    page.title = words.say("lots.went").to_owned();
    let salt = journal.salt_of(id);
    page.parts_head = words.say("lots.salt-from").to_owned();
    page.parts = salt
        .iter()
        .filter(|origin| origin.share >= LEAST_SHARE)
        .map(|origin| Part {
            share: number(100.0 * origin.share, 1),
            line: teller.lot(journal, origin.event),
            url: None,
            more: Vec::new(),
        })
        .collect();
    let columns = [
        (words.say("account.when"), Kind::Text),
        (words.say("lots.to"), Kind::Text),
        (words.say("account.mass"), Kind::Mass),
        (words.say("lots.of-lot"), Kind::Percent),
        (words.say("lots.of-load-share"), Kind::Percent),
    ];
    let mut table = Table::new("lot", words.say("lots.went"), &columns);
    for one in &found.reached {
        let mass = in_kilograms(one.mass);
        table.row(vec![
            d.time(one.at).into(),
            teller.reached(&one.to, one.route.as_deref()).into(),
            mass.into(),
            (100.0 * mass / total).into(),
            (100.0 * one.share).into(),
        ]);
    }
    for (tank, mass) in &found.in_tanks {
        let mass = in_kilograms(*mass);
        let label = words.fill("lots.still-in", &[("tank", tank)]);
        table.total(vec![
            "".into(),
            label.into(),
            mass.into(),
            (100.0 * mass / total).into(),
            None::<f64>.into(),
        ]);
    }
    let off = in_kilograms(found.written_off);
    if off > 0.5 {
        let label = words.say("lots.written-off");
        table.total(vec![
            "".into(),
            label.into(),
            off.into(),
            (100.0 * off / total).into(),
            None::<f64>.into(),
        ]);
    }
    table.notes.push(words.say("lots.mixed").to_owned());
    page.table = Some(table_view::table_view(visitor, &table));
    if let Body::MakingRun(run) = &recorded.event.body {
        let until = visitor.app.clock.now();
        let readings = journal.readings_of(&run.tank, recorded.event.occurred_at, until);
        let first = readings.first().map(|reading| teller.lot(journal, reading.event.id));
        page.lines.extend(first.map(|line| words.fill("lots.first-reading", &[("line", &line)])));
    }
    Ok(())
}

fn made_of(visitor: &Visitor, journal: &Journal<'_>, origins: &Origins) -> Vec<Part> {
    let teller = visitor.teller();
    let part = |origin: &accounts::trace::Origin| {
        let is_large = origin.share >= LARGE_SHARE;
        let salt = if is_large { journal.salt_of(origin.event) } else { Vec::new() };
        let salt = salt.first().map(|salt| {
            let values =
                [("share", number(100.0 * salt.share, 0)), ("line", teller.lot(journal, salt.event))];
            visitor.words.fill_with("lots.salt-most", &values)
        });
        Part {
            share: number(100.0 * origin.share, 1),
            line: teller.lot(journal, origin.event),
            url: Some(url(visitor, origin.event)),
            more: salt.into_iter().collect(),
        }
    };
    let mut parts: Vec<Part> = origins.lots.iter().filter(|lot| lot.share >= LEAST_SHARE).map(part).collect();
    let shown: f64 = origins.lots.iter().filter(|lot| lot.share >= LEAST_SHARE).map(|lot| lot.share).sum();
    let rest = 1.0 - shown - origins.unknown;
    for (share, key) in [(rest, "lots.older"), (origins.unknown, "lots.unknown")] {
        if share > LEAST_SHARE {
            let line = visitor.words.say(key).to_owned();
            parts.push(Part { share: number(100.0 * share, 1), line, url: None, more: Vec::new() });
        }
    }
    parts
}
