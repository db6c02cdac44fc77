//! A ticket: what a truck took or brought back, what it weighs, what it was made of; printed and printed again.

use askama::Template;
use axum::http::{HeaderMap, header};
use axum::response::Html;
use event::{Body, HowFound, LoadOut};
use message::Tell;
use quantity::cubic_metres;
use report::Words;
use serde::Deserialize;
use yard::stock::{Books, Content, Ticketed};

use super::{Leaf, leaves};
use crate::error::{PageError, render};
use crate::extract::QueryOf;
use crate::page_frame::{Link, PageFrame, Place, Visitor};

/// Which ticket, and whether it was just written.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct TicketQuery {
    row: u64,
    saved: Option<u64>,
}

/// Lots smaller than this stand in one line, per cent.
const SMALL_LOT_PCT: f64 = 3.0;

#[derive(Template)]
#[template(path = "ticket.html")]
struct TicketPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    title: String,
    big: Vec<String>,
    facts: Vec<(String, String)>,
    /// What is over a limit, or was loaded although something spoke against it.
    warnings: Vec<String>,
    axles: Vec<String>,
    lots: Vec<String>,
    cares: Vec<String>,
    qr: Option<String>,
    address: String,
    next_url: String,
    /// What the first signature says.
    hand: String,
    lots_url: String,
}

/// Shows a ticket.
pub(crate) async fn show(
    visitor: Visitor,
    headers: HeaderMap,
    QueryOf(query): QueryOf<TicketQuery>,
) -> Result<Html<String>, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let known = books.tickets.iter().find(|ticket| ticket.recorded.seq == query.row).cloned();
    let ticket = match known {
        Some(ticket) => ticket,
        None => old(&visitor, query.row)?.ok_or_else(|| PageError::missing(&visitor))?,
    };
    let host = headers.get(header::HOST).and_then(|value| value.to_str().ok()).unwrap_or("localhost");
    let address = format!("http://{host}{}", visitor.app.url(&format!("/ticket?row={}", query.row)));
    let mut page = page(&visitor, &ticket, address);
    if query.saved == Some(query.row) {
        page.c.saved = Some(visitor.words.fill("load.saved", &[("seq", &query.row.to_string())]));
    }
    render(&visitor, &page)
}

/// A ticket of long ago: the books are folded up to it.
fn old(visitor: &Visitor, row: u64) -> Result<Option<Ticketed>, PageError> {
    let whole = visitor.app.whole_ledger().map_err(|error| PageError::store(visitor, &error))?;
    let events = whole.events();
    let voided: std::collections::HashSet<_> = events.iter().filter_map(|r| r.event.body.voids()).collect();
    let Some(wanted) = events.iter().find(|recorded| recorded.seq == row) else { return Ok(None) };
    if voided.contains(&wanted.event.id) {
        return Ok(None);
    }
    let at = (wanted.event.occurred_at, wanted.seq);
    let until: Vec<_> = events
        .iter()
        .filter(|r| (r.event.occurred_at, r.seq) <= at && !voided.contains(&r.event.id))
        .cloned()
        .collect();
    let books = Books::fold(&visitor.app.yard, &until);
    Ok(books.tickets.into_iter().find(|ticket| ticket.recorded.seq == row))
}

fn page(visitor: &Visitor, ticket: &Ticketed, address: String) -> TicketPage {
    let (app, words, d, teller) = (&visitor.app, visitor.words, &visitor.display, visitor.teller());
    let event = &ticket.recorded.event;
    let row = ticket.recorded.seq.to_string();
    let say = |key: &str| words.say(key).to_owned();
    let mut facts: Vec<(String, String)> = Vec::new();
    let mut warnings = Vec::new();
    let mut axles = Vec::new();
    let temp = |c: f64| d.temperature(quantity::celsius(c));
    let (title, volume_m3, temp_c) = match &event.body {
        Body::LoadOut(load) => {
            facts.push((say("ask.truck"), load.truck.clone()));
            facts.push((say("ask.tank"), load.tank.clone()));
            facts.push((say("ask.route"), teller.route_name(load.route.as_deref())));
            facts.push((say("ask.how"), teller.how_found(load.how.unwrap_or_default()).to_owned()));
            if let Some(planned) = load.planned_m3 {
                facts.push((say("ask.planned"), d.volume(cubic_metres(planned))));
            }
            if let Some(hopper) = load.hopper_kg {
                facts.push((say("ask.hopper"), d.mass(quantity::kilograms(hopper))));
            }
            if let Some(number) = &load.ticket {
                facts.push((say("ask.ticket"), number.clone()));
            }
            warnings.extend(over(visitor, ticket, load, &mut axles));
            if let Some(reason) = &load.override_reason {
                warnings.push(words.fill("ticket.override", &[("who", &event.author), ("reason", reason)]));
            }
            ("ticket.load", load.volume_m3, load.temp_c)
        }
        Body::IssueOut(issue) => {
            facts.push((say("ask.agency"), issue.agency.clone()));
            facts.push((say("ask.tank"), issue.tank.clone()));
            facts.push((say("ask.how"), teller.how_found(issue.how.unwrap_or_default()).to_owned()));
            facts.extend(issue.carrier.clone().map(|carrier| (say("ask.carrier"), carrier)));
            let usd =
                issue.price_usd.unwrap_or_else(|| accounts::bill(&app.yard, &issue.agency, &ticket.liquid));
            facts.push((say("account.billed"), format!("${}", report::display::number(usd, 2))));
            facts.extend(issue.ticket.clone().map(|number| (say("ask.ticket"), number)));
            if let Some(reason) = &issue.override_reason {
                warnings.push(words.fill("ticket.override", &[("who", &event.author), ("reason", reason)]));
            }
            ("ticket.issue", issue.volume_m3, issue.temp_c)
        }
        Body::ReturnToTank(back) => {
            facts.push((say("ask.truck"), back.truck.clone()));
            facts.push((say("ask.tank-back"), back.tank.clone()));
            facts.push((say("ask.how"), teller.how_found(back.how.unwrap_or(HowFound::Marks)).to_owned()));
            facts.extend(back.reason.clone().map(|reason| (say("ask.why-back"), reason)));
            ("ticket.return", back.volume_m3, back.temp_c)
        }
        _ => ("ticket.load", 0.0, None),
    };
    facts.push((say("account.when"), d.time(event.occurred_at)));
    facts.push((say("ticket.by"), event.author.clone()));
    if let Some(c) = temp_c {
        facts.push((say("ask.temp"), temp(c)));
        facts.push((say(d.at_reference("account.volume")), d.volume(ticket.liquid.volume(&app.yard, None))));
    }
    facts.push((say("account.chloride"), d.mass(ticket.liquid.chloride(&app.yard))));
    if let Some(reading) = ticket.reading.filter(|_| ticket.liquid.strength().is_some()) {
        let values = [("strength", d.strength(reading.strength)), ("at", d.time(reading.at))];
        let values = values.each_ref().map(|(name, text)| (*name, text.as_str()));
        facts.push((say("ticket.reading"), words.fill("tanks.reading-line", &values)));
    }
    let is_return = matches!(event.body, Body::ReturnToTank(_));
    let cares: &[&str] = if is_return {
        &["care.slip", "care.hose"]
    } else {
        &["care.overweight", "care.slosh", "care.hose", "care.no-spray"]
    };
    TicketPage {
        c: PageFrame::new(visitor, Place::Load, &words.fill(title, &[("row", &row)]), "/load"),
        w: words,
        leaves: leaves(visitor, Leaf::Ticket),
        title: words.fill(title, &[("row", &row)]),
        big: big(visitor, &ticket.liquid, volume_m3),
        facts,
        warnings,
        axles,
        lots: lots(visitor, ticket),
        cares: cares.iter().map(|key| say(key)).collect(),
        qr: report::table::qr(&address, words.say("ticket.qr")).ok(),
        address,
        next_url: app.url("/load"),
        hand: say(if is_return { "ticket.received-by" } else { "ticket.loaded-by" }),
        lots_url: app.url(&format!("/books/lots?event={}", event.id)),
    }
}

/// Volume, mass and strength, large.
fn big(visitor: &Visitor, liquid: &Content, volume_m3: f64) -> Vec<String> {
    let d = &visitor.display;
    let volume = d.volume(cubic_metres(volume_m3));
    let strength = liquid.strength().map(|strength| d.strength(strength));
    [Some(volume), Some(d.exact_mass(liquid.mass)), strength].into_iter().flatten().collect()
}

/// What is over a limit; the axles are written down beside.
fn over(visitor: &Visitor, ticket: &Ticketed, load: &LoadOut, axles: &mut Vec<String>) -> Vec<String> {
    let (yard, words, teller) = (&visitor.app.yard, visitor.words, visitor.teller());
    let Some(truck) = yard.truck(&load.truck) else { return Vec::new() };
    let mut found = Vec::new();
    if cubic_metres(load.volume_m3) > truck.tank * 1.001 {
        found.push(words.fill("ticket.over-tank", &[("volume", &visitor.display.volume(truck.tank))]));
    }
    if let Some(limit) = truck.liquid_limit.filter(|limit| ticket.liquid.mass > *limit * 1.001) {
        found.push(words.fill("ticket.over-limit", &[("mass", &visitor.display.mass(limit))]));
    }
    let hopper = quantity::kilograms(load.hopper_kg.unwrap_or(0.0));
    match entry::ticket::axle_groups(truck, ticket.liquid.mass, hopper) {
        Some(Ok(groups)) => {
            // The tightest, one for each row of axles, and every one that is over.
            let mut shown: Vec<(usize, usize)> = Vec::new();
            for group in &groups {
                let is_new = !shown.contains(&group.axles) && shown.len() < 3;
                if is_new || group.load > group.limit {
                    shown.push(group.axles);
                    axles.push(teller.axle_group(group));
                }
            }
            if groups.first().is_some_and(|group| group.load > group.limit * 1.001) {
                found.push(words.say("ticket.over-axles").to_owned());
            }
        }
        Some(Err(error)) => axles.push(visitor.display.tell(&error.message())),
        None => axles.push(words.say("ticket.no-axles").to_owned()),
    }
    found
}

/// Lots of the tank it was drawn from, largest first.
fn lots(visitor: &Visitor, ticket: &Ticketed) -> Vec<String> {
    let total: f64 = ticket.lots.iter().map(|lot| quantity::in_kilograms(lot.mass)).sum();
    if total <= 0.0 {
        return Vec::new();
    }
    let mut lots: Vec<_> = ticket.lots.iter().collect();
    lots.sort_by(|a, b| quantity::in_kilograms(b.mass).total_cmp(&quantity::in_kilograms(a.mass)));
    let share = |lot: &yard::stock::Lot| 100.0 * quantity::in_kilograms(lot.mass) / total;
    let line = |lot: &&yard::stock::Lot| {
        let values =
            [("share", report::display::number(share(lot), 0)), ("at", visitor.display.time(lot.at))];
        let key = if lot.event.is_some() { "ticket.lot" } else { "ticket.older-lots" };
        visitor.words.fill_with(key, &values)
    };
    let (large, small): (Vec<_>, Vec<_>) = lots.into_iter().partition(|lot| share(lot) >= SMALL_LOT_PCT);
    let mut lines: Vec<String> = large.iter().map(line).collect();
    let rest: f64 = small.into_iter().map(share).sum();
    if rest >= 0.5 {
        let rest = report::display::number(rest, 0);
        lines.push(visitor.words.fill("ticket.small-lots", &[("share", &rest)]));
    }
    lines
}
