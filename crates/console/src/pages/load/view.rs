//! The pages of loads as they are drawn: what is planned, what is out, what was written.

use askama::Template;
use event::Body;
use jiff::{SignedDuration, Timestamp};
use quantity::{Volume, cubic_metres, in_cubic_metres, in_gallons, in_kilograms, in_litres};
use report::Words;
use yard::stock::Books;

use super::entry::{self, Asks, Form, Refused, Typed};
use super::parts;
use crate::error::PageError;
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::load::{AHEAD_HOURS, DONE_HOURS, LISTED, Leaf, OTHER, Rows, leaves, other, ready_tank};

/// A load that the plan asks for.
pub(super) struct Planned {
    pub(super) line: String,
    pub(super) url: String,
    pub(super) is_done: bool,
}

/// Trucks that are out.
pub(super) struct Out {
    pub(super) url: String,
    pub(super) entry_id: String,
    pub(super) volume: &'static str,
    /// Truck and what its button says.
    pub(super) trucks: Vec<(String, String)>,
}

/// A ticket in the list.
pub(super) struct Written {
    pub(super) line: String,
    pub(super) url: String,
}

#[derive(Template)]
#[template(path = "load.html")]
pub(super) struct LoadPage {
    pub(super) w: Words,
    pub(super) c: PageFrame,
    pub(super) leaves: Vec<Link>,
    pub(super) title: String,
    pub(super) why: Option<String>,
    pub(super) planned: Vec<Planned>,
    /// The form is folded away: there is a planned load to pick, and nothing was typed.
    pub(super) is_folded: bool,
    /// A planned load was picked: its form comes first.
    pub(super) is_picked: bool,
    /// What each truck may take, in a line.
    pub(super) takes: Vec<String>,
    pub(super) form: Form,
    /// Trucks that are out with a load: one tap when one came home empty.
    pub(super) out: Option<Out>,
    pub(super) cares: Vec<String>,
    pub(super) written: Vec<Written>,
    pub(super) kinds: Vec<Link>,
    pub(super) rows: Option<Rows>,
}

pub(super) fn page(
    visitor: &Visitor,
    leaf: Leaf,
    asks: &Asks,
    key: &'static str,
    typed: &Typed,
    refused: Refused,
) -> Result<LoadPage, PageError> {
    let (app, words) = (&visitor.app, visitor.words);
    let books = app.books().map_err(|error| PageError::store(visitor, &error))?;
    let kind = typed.get("what").map(String::as_str);
    let (path, title, button) = match leaf {
        Leaf::Load | Leaf::Ticket => ("/load".to_owned(), "load.title", "load.record"),
        Leaf::Return => ("/load/return".to_owned(), "return.title", "return.record"),
        Leaf::Issue => ("/load/issue".to_owned(), "issue.title", "load.record"),
        Leaf::Applied => ("/load/applied".to_owned(), "applied.title", "applied.record"),
        Leaf::Other => (format!("/load/other?what={}", other(kind).0.kind), other(kind).1, "other.record"),
    };
    let is_untouched = visitor.search.is_empty() && refused.problems.is_empty();
    let form = entry::form(visitor, (&path, key, button), asks, typed, refused)?;
    let planned = if leaf == Leaf::Load { planned(visitor, &books) } else { Vec::new() };
    let why = match leaf {
        Leaf::Load if app.forecast(None).is_none() => Some("load.no-forecast"),
        Leaf::Load if !visitor.search.is_empty() => None,
        Leaf::Load if !planned.is_empty() => Some("load.pick-planned"),
        Leaf::Load => Some("load.nothing-planned"),
        Leaf::Return => Some("return.why"),
        Leaf::Issue => Some("issue.why"),
        Leaf::Applied => Some("applied.why"),
        Leaf::Other | Leaf::Ticket => None,
    };
    let loads = matches!(leaf, Leaf::Load | Leaf::Issue);
    let cares = match leaf {
        Leaf::Load | Leaf::Issue => {
            &["care.slip", "care.overweight", "care.hose", "care.rate", "care.fatigue"][..]
        }
        Leaf::Return => &["care.slip", "care.hose"],
        Leaf::Applied => &["care.rate", "care.slick"],
        Leaf::Other if other(kind).0.kind == "settlement" => &["care.tank"],
        Leaf::Other if other(kind).0.kind == "liquid_delivery" => {
            &["care.eyes", "care.heavy", "care.tank", "care.spill"]
        }
        Leaf::Other | Leaf::Ticket => &["care.tank", "care.spill"],
    };
    let kinds = OTHER.iter().map(|(asks, label)| Link {
        label: words.say(label).to_owned(),
        url: app.url(&format!("/load/other?what={}", asks.kind)),
        current: asks.kind == other(kind).0.kind,
    });
    let is_there = planned.iter().any(|one| !one.is_done);
    Ok(LoadPage {
        is_folded: is_there && is_untouched,
        is_picked: !visitor.search.is_empty(),
        c: PageFrame::new(
            visitor,
            Place::Load,
            words.say("load.nav"),
            path.split('?').next().unwrap_or("/load"),
        ),
        w: words,
        leaves: leaves(visitor, leaf),
        title: words.say(title).to_owned(),
        why: why.map(|key| words.say(key).to_owned()),
        planned,
        takes: if leaf == Leaf::Load { takes(visitor, &books, typed) } else { Vec::new() },
        form,
        out: if matches!(leaf, Leaf::Load | Leaf::Return) { out(visitor, &books) } else { None },
        cares: cares.iter().map(|key| words.say(key).to_owned()).collect(),
        written: if loads || leaf == Leaf::Return { written(visitor, &books) } else { Vec::new() },
        kinds: if leaf == Leaf::Other { kinds.collect() } else { Vec::new() },
        rows: (leaf == Leaf::Applied).then(|| Rows {
            url: app.url("/load/import"),
            typed: String::new(),
            author: String::new(),
            problems: Vec::new(),
            ask_confirm: None,
        }),
    })
}

/// Trucks that carry something by the ledger; none when none does.
pub(super) fn out(visitor: &Visitor, books: &Books) -> Option<Out> {
    let yard = &visitor.app.yard;
    let trucks = yard.trucks.iter().filter(|truck| entry::aboard(yard, books, &truck.id).is_some());
    let button =
        |truck: &site::Truck| (truck.id.clone(), visitor.words.fill("load.out", &[("truck", &truck.id)]));
    let trucks: Vec<_> = trucks.map(button).collect();
    (!trucks.is_empty()).then(|| Out {
        url: visitor.app.url("/load/return"),
        entry_id: parts::entry_id(),
        volume: if visitor.is_us() { "volume_gal" } else { "volume_l" },
        trucks,
    })
}

/// Loads that the plan asks for soon, with those already ticketed marked.
pub(super) fn planned(visitor: &Visitor, books: &Books) -> Vec<Planned> {
    let app = &visitor.app;
    let yard = &app.yard;
    let plan = app.forecast(None).and_then(|forecast| app.plan(&forecast, books).ok());
    let Some(plan) = plan else { return Vec::new() };
    let now = app.clock.now();
    let until = now + SignedDuration::from_hours(AHEAD_HOURS);
    let done_since = now - SignedDuration::from_hours(DONE_HOURS);
    let mut tickets: Vec<(&str, Option<&str>)> = books
        .tickets
        .iter()
        .filter(|ticket| done_since <= ticket.recorded.event.occurred_at)
        .filter_map(|ticket| match &ticket.recorded.event.body {
            Body::LoadOut(load) => Some((load.truck.as_str(), load.route.as_deref())),
            _ => None,
        })
        .collect();
    let tank = ready_tank(visitor, books);
    let loads = plan.loadings.iter().flat_map(|(_, loading)| &loading.loads);
    loads
        .filter(|load| load.load_from <= until)
        .map(|load| {
            let (truck, route) = (&yard.trucks[load.truck], &yard.routes[load.route]);
            let ticket = tickets.iter().position(|(t, r)| *t == truck.id && *r == Some(route.id.as_str()));
            if let Some(place) = ticket {
                tickets.remove(place);
            }
            let values = [
                ("truck", truck.id.clone()),
                ("route", visitor.teller().route_name(Some(&route.id))),
                ("volume", visitor.display.volume(load.volume)),
                ("at", near(visitor, load.load_from)),
            ];
            let values = values.each_ref().map(|(name, text)| (*name, text.as_str()));
            Planned {
                line: visitor.words.fill("load.planned", &values),
                url: prefilled(visitor, &truck.id, &route.id, tank.as_deref(), load.volume),
                is_done: ticket.is_some(),
            }
        })
        .collect()
}

/// A time of today or tomorrow as people say it; else with its day.
fn near(visitor: &Visitor, at: Timestamp) -> String {
    let (d, words) = (&visitor.display, visitor.words);
    let day = |at: Timestamp| at.to_zoned_datetime(visitor.app.zone.clone()).date();
    let today = day(visitor.app.clock.now());
    match day(at) {
        that if that == today => words.fill("time.today", &[("at", &d.clock(at))]),
        that if today.tomorrow().is_ok_and(|next| next == that) => {
            words.fill("time.tomorrow", &[("at", &d.clock(at))])
        }
        _ => d.time(at),
    }
}

pub(super) fn prefilled(
    visitor: &Visitor,
    truck: &str,
    route: &str,
    tank: Option<&str>,
    volume: Volume,
) -> String {
    let code = crate::encoded::form_encoded;
    let (unit, amount) = if visitor.is_us() { ("gal", in_gallons(volume)) } else { ("l", in_litres(volume)) };
    let amount = amount.round();
    let tank = tank.map_or_else(String::new, |tank| format!("&tank={}", code(tank)));
    let path = format!(
        "/load?truck={}&route={}&volume_{unit}={amount}&planned_{unit}={amount}{tank}#form",
        code(truck),
        code(route)
    );
    visitor.app.url(&path)
}

/// What each truck may take of the tank's liquid, by its tank, its limit and its axles.
pub(super) fn takes(visitor: &Visitor, books: &Books, typed: &Typed) -> Vec<String> {
    let yard = &visitor.app.yard;
    let tank = typed.get("tank").cloned().or_else(|| yard.tanks_in_use().next().map(|tank| tank.id.clone()));
    let Some(tank) = tank else { return Vec::new() };
    let line = |truck: &site::Truck| {
        let load = event::LoadOut {
            tank: tank.clone(),
            truck: truck.id.clone(),
            volume_m3: in_cubic_metres(truck.tank),
            ..event::LoadOut::default()
        };
        let weight = ::entry::ticket::load_weight(yard, books, &load)?;
        let per_m3 = in_kilograms(weight.liquid.mass) / in_cubic_metres(truck.tank);
        let mut least = (truck.tank, visitor.words.say("load.by-tank").to_owned());
        let mut bound = |mass: quantity::Mass, why: String| {
            let volume = cubic_metres(in_kilograms(mass) / per_m3);
            if volume < least.0 {
                least = (volume, why);
            }
        };
        if let Some(limit) = weight.liquid_limit {
            bound(limit, visitor.words.say("load.by-limit").to_owned());
        }
        if let Some((most, group)) = weight.most_by_axles {
            bound(most, visitor.teller().axle_rule(&group));
        }
        let values =
            [("truck", truck.id.clone()), ("volume", visitor.display.volume(least.0)), ("why", least.1)];
        Some(visitor.words.fill_with("load.takes", &values))
    };
    yard.trucks.iter().filter_map(line).collect()
}

/// The last tickets, newest first.
pub(super) fn written(visitor: &Visitor, books: &Books) -> Vec<Written> {
    let line = |ticket: &yard::stock::Ticketed| {
        let event = &ticket.recorded.event;
        let values = [
            ("row", ticket.recorded.seq.to_string()),
            ("at", visitor.display.time(event.occurred_at)),
            ("what", visitor.teller().event_line(&event.body)),
        ];
        Written {
            line: visitor.words.fill_with("load.written", &values),
            url: visitor.app.url(&format!("/ticket?row={}", ticket.recorded.seq)),
        }
    };
    books.tickets.iter().rev().take(LISTED).map(line).collect()
}
