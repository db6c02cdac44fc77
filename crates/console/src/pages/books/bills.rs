//! Bills to other agencies: what each was issued in a month, and what it owes.

use accounts::Journal;
use askama::Template;
use axum::response::Html;
use event::Body;
use quantity::{in_cubic_metres, in_kilograms};
use report::Words;
use report::table::{Kind, Table};
use serde::Deserialize;
use site::UnitSystem;
use yard::calendar::{month_of, month_span};
use yard::stock::End;

use super::{Leaf, leaves, ledger};
use crate::error::{PageError, render};
use crate::extract::QueryOf;
use crate::form_messages::bad_value;
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::table_view;
use crate::pages::table_view::TableView;

/// Whose bill, of which month.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct BillQuery {
    agency: Option<String>,
    month: Option<String>,
}

#[derive(Template)]
#[template(path = "bills.html")]
struct BillsPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    title: String,
    lines: Vec<String>,
    table: Option<TableView>,
    bills: Vec<Link>,
    is_bill: bool,
}

/// Shows the bills there are, or one.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<BillQuery>,
) -> Result<Html<String>, PageError> {
    let (app, words) = (&visitor.app, visitor.words);
    let whole = ledger(&visitor)?;
    let journal = whole.journal(&app.yard);
    let mut page = BillsPage {
        c: PageFrame::new(&visitor, Place::Books, words.say("books.leaf-bills"), "/books/bills"),
        w: words,
        leaves: leaves(&visitor, Leaf::Bills),
        title: words.say("bills.title").to_owned(),
        lines: Vec::new(),
        table: None,
        bills: bills(&visitor, &journal),
        is_bill: false,
    };
    match (&query.agency, &query.month) {
        (Some(agency), Some(month)) => bill(&visitor, &journal, agency, month, &mut page)?,
        _ if page.bills.is_empty() => page.title = words.say("bills.none").to_owned(),
        _ => {}
    }
    render(&visitor, &page)
}

/// Every agency and month with an issue, newest first.
fn bills(visitor: &Visitor, journal: &Journal<'_>) -> Vec<Link> {
    let mut seen: Vec<(String, String)> = Vec::new();
    for recorded in journal.events() {
        if let Body::IssueOut(issue) = &recorded.event.body {
            let one = (month_of(recorded.event.occurred_at, &visitor.app.zone), issue.agency.clone());
            if !seen.contains(&one) {
                seen.push(one);
            }
        }
    }
    seen.sort_by(|a, b| b.cmp(a));
    let code = crate::encoded::form_encoded;
    let link = |(month, agency): (String, String)| Link {
        label: visitor.words.fill("bills.one", &[("agency", &agency), ("month", &month)]),
        url: visitor.app.url(&format!("/books/bills?agency={}&month={}", code(&agency), code(&month))),
        current: false,
    };
    seen.into_iter().map(link).collect()
}

fn bill(
    visitor: &Visitor,
    journal: &Journal<'_>,
    agency: &str,
    month: &str,
    page: &mut BillsPage,
) -> Result<(), PageError> {
    let (app, words, d) = (&visitor.app, visitor.words, &visitor.display);
    let (from, until) = month_span(month, &app.zone)
        .ok_or_else(|| PageError::bad_form(visitor, &bad_value("month", month, "console.accepted.month")))?;
    let columns = [
        (words.say("bills.ticket"), Kind::Count),
        (words.say("account.when"), Kind::Text),
        (words.say("account.what"), Kind::Text),
        (words.say(d.at_reference("account.volume")), Kind::Volume),
        (words.say("account.mass"), Kind::Mass),
        (words.say("account.dollars"), Kind::Dollars),
    ];
    let mut table = Table::new("bill", words.say("bills.items"), &columns);
    let (mut volume, mut mass, mut usd) = (0.0, 0.0, 0.0);
    for flow in journal.walk.liquids.iter().filter(|flow| from <= flow.at && flow.at < until) {
        if flow.to != End::Agency(agency.to_owned()) {
            continue;
        }
        let Some(recorded) = journal.event(flow.event) else { continue };
        let Body::IssueOut(issue) = &recorded.event.body else { continue };
        let product = app.yard.tank(&issue.tank).and_then(|tank| app.yard.product(&tank.product));
        let owed = issue.price_usd.unwrap_or_else(|| accounts::bill(&app.yard, agency, &flow.liquid));
        let m3 = in_cubic_metres(flow.liquid.volume(&app.yard, None));
        let kg = in_kilograms(flow.liquid.mass);
        table.row(vec![
            (recorded.seq as f64).into(),
            d.time(flow.at).into(),
            product.map_or("", |product| product.name.as_str()).into(),
            m3.into(),
            kg.into(),
            owed.into(),
        ]);
        (volume, mass, usd) = (volume + m3, mass + kg, usd + owed);
    }
    if table.rows.is_empty() {
        return Err(PageError::missing(visitor));
    }
    let sum = words.say("bills.sum");
    table.total(vec![None::<f64>.into(), "".into(), sum.into(), volume.into(), mass.into(), usd.into()]);
    let to = app.yard.agency(agency).and_then(|agency| agency.bill_to.clone());
    page.title = words.fill("bills.one", &[("agency", agency), ("month", month)]);
    page.lines = vec![
        words.fill("bills.from", &[("yard", &app.yard.name)]),
        words.fill("bills.to", &[("agency", to.as_deref().unwrap_or(agency))]),
        words.fill("bills.written", &[("at", &d.day(app.clock.now()))]),
    ];
    if let Some(price) = app.yard.agency(agency).map(|agency| agency.usd_per_m3).filter(|price| *price > 0.0)
    {
        let (key, usd) = match d.units {
            UnitSystem::Us => ("bills.price", quantity::units::GALLON.to_base(price)),
            UnitSystem::Si => ("bills.price-l", price / 1000.0),
        };
        table.notes.push(words.fill(key, &[("usd", &report::display::number(usd, 3))]));
    }
    page.table = Some(table_view::table_view(visitor, &table));
    page.is_bill = true;
    Ok(())
}
