//! Tanks: the freeze map, levels, lots, and a dip taken now.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use event::Body;
use planner::tank_stock;
use quantity::{celsius, in_celsius, in_fahrenheit, in_feet, in_metres, metres};
use report::Words;
use serde::Deserialize;

use super::charts::ChartPair;
use super::entry::Refused;
use super::parts::{self, Entered};
use super::tank_view::TankView;
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{PageFrame, Place, Visitor};
use crate::pages::charts;
use crate::pages::tank_view;

/// What the last act recorded.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Saved {
    saved: Option<u64>,
    /// Which act that was.
    set: Option<u64>,
    /// The tank whose fold is wanted.
    tank: Option<String>,
}

/// The book of a tank is to be set to what is there.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SetForm {
    #[serde(default)]
    entry_id: String,
    #[serde(default)]
    tank: String,
    #[serde(default)]
    author: String,
    confirm: Option<String>,
}

/// A dip as typed, in either system.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct DipForm {
    entry_id: String,
    tank: Option<String>,
    depth_ft: Option<String>,
    depth_m: Option<String>,
    temp_f: Option<String>,
    temp_c: Option<String>,
    author: String,
    #[serde(default)]
    at: String,
    confirm: Option<String>,
}

/// What stands in the form of a tank's dip, and what was wrong with it.
#[derive(Default)]
struct Dip {
    tank: String,
    entry_id: String,
    depth: String,
    temp: String,
    author: String,
    at: String,
    refused: Refused,
    /// The same of setting the book.
    set_refused: Refused,
}

struct FirstView {
    id: String,
    state: String,
    right_url: Option<String>,
    /// Where it is sampled: something went in, and nobody has measured it since.
    sample_url: Option<String>,
}

#[derive(Template)]
#[template(path = "tanks.html")]
struct TanksPage {
    w: Words,
    c: PageFrame,
    title: String,
    map: Option<ChartPair>,
    spare: Option<ChartPair>,
    /// The one that asks for something, where only one does: tank, state and where it is put right.
    first: Option<FirstView>,
    tanks: Vec<TankView>,
    /// The tank whose entry was just saved: its fold lies open.
    open: String,
    tanks_url: String,
    dip_url: String,
    set_url: String,
    /// What is wrong with what belongs to no tank.
    problems: Vec<String>,
    /// A form for each tank, in their order.
    dips: Vec<Dip>,
    depth_label: String,
    depth_name: &'static str,
    depth_how: String,
    temp_label: String,
    temp_name: &'static str,
}

/// Shows the page.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(saved): QueryOf<Saved>,
) -> Result<Html<String>, PageError> {
    let wanted = Dip { tank: saved.tank.clone().unwrap_or_default(), ..again(&visitor) };
    let mut page = page(&visitor, if saved.tank.is_some() { wanted } else { again(&visitor) })?;
    let head = visitor.app.ledger.head().map_err(|error| PageError::store(&visitor, &error))?;
    let recorded = saved.saved.filter(|seq| *seq <= head.seq);
    let events = recorded.and_then(|seq| visitor.app.ledger.events_after(seq.saturating_sub(1)).ok());
    let entered = events.as_ref().and_then(|events| events.first()?.event.body.tanks().first().copied());
    if let Some(tank) = entered {
        tank.clone_into(&mut page.open);
    }
    let key = if saved.set.is_some() { "tanks.set-saved" } else { "dip.saved" };
    page.c.saved = recorded.map(|seq| visitor.words.fill(key, &[("seq", &seq.to_string())]));
    render(&visitor, &page)
}

/// The figures of a dip that was taken back and is to be entered anew; nothing where none is asked for.
fn again(visitor: &Visitor) -> Dip {
    let Some(Body::Dip(dip)) = parts::to_enter_again(visitor) else { return Dip::default() };
    let us = visitor.is_us();
    let (depth, temp) = (metres(dip.depth_m), dip.temp_c.map(celsius));
    let temp = temp.map(|temp| if us { in_fahrenheit(temp) } else { in_celsius(temp) });
    Dip {
        tank: dip.tank,
        depth: parts::plain(if us { in_feet(depth) } else { in_metres(depth) }),
        temp: temp.map(parts::plain).unwrap_or_default(),
        ..Dip::default()
    }
}

/// Records a dip, or shows the form again with what is wrong and everything that was typed.
pub(crate) async fn dip(visitor: Visitor, FormOf(form): FormOf<DipForm>) -> Result<Response, PageError> {
    let tank = form.tank.clone().unwrap_or_default();
    let (depth_name, depth) = match (&form.depth_ft, &form.depth_m) {
        (Some(feet), _) => ("depth_ft", feet.clone()),
        (None, metres) => ("depth_m", metres.clone().unwrap_or_default()),
    };
    let (temp_name, temp) = match (&form.temp_f, &form.temp_c) {
        (Some(f), _) => ("temp_f", f.clone()),
        (None, c) => ("temp_c", c.clone().unwrap_or_default()),
    };
    let fields = [("tank", tank.as_str()), (depth_name, depth.as_str()), (temp_name, temp.as_str())];
    let body = parts::read_entry(&visitor, ("dip", &form.entry_id), &fields, &form.author)?;
    let entered = Entered::new(&form.entry_id, &form.author, &form.at, form.confirm.as_ref());
    let seq = match parts::record_asked(&visitor, &entered, body).await? {
        Ok(seq) => seq,
        Err(refused) => {
            let (entry_id, author, at) = (form.entry_id.clone(), form.author.clone(), form.at.clone());
            let dip = Dip { tank, entry_id, depth, temp, author, at, refused, ..Dip::default() };
            let page = page(&visitor, dip)?;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response());
        }
    };
    Ok(Redirect::to(&visitor.app.url(&format!("/tanks?saved={seq}#tank-{tank}"))).into_response())
}

/// Sets the book of a tank to what is thought to be there.
pub(crate) async fn set_book(visitor: Visitor, FormOf(form): FormOf<SetForm>) -> Result<Response, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let (yard, words) = (&visitor.app.yard, visitor.words);
    let waits = books.estimate(&form.tank).is_none_or(|one| one.doubted().is_some());
    let agreed = books.set_to_estimate(yard, &form.tank, words.say("tanks.set-reason")).filter(|_| !waits);
    let Some(agreed) = agreed else {
        let problems = vec![words.fill("tanks.set-not", &[("tank", &form.tank)])];
        let refused = Refused { problems, ask_confirm: None };
        let page = page(&visitor, Dip { tank: form.tank.clone(), refused, ..Dip::default() })?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response());
    };
    let body = Body::Settlement(agreed);
    let entered = Entered::new(&form.entry_id, &form.author, "", form.confirm.as_ref());
    let seq = match parts::record_asked(&visitor, &entered, Ok(body)).await? {
        Ok(seq) => seq,
        Err(set_refused) => {
            let page = page(&visitor, Dip { tank: form.tank.clone(), set_refused, ..Dip::default() })?;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response());
        }
    };
    let tank = crate::encoded::form_encoded(&form.tank);
    Ok(Redirect::to(&visitor.app.url(&format!("/tanks?saved={seq}&set={seq}#tank-{tank}"))).into_response())
}

/// The page with one tank's form as it was sent; its fold lies open.
fn page(visitor: &Visitor, sent: Dip) -> Result<TanksPage, PageError> {
    let app = &visitor.app;
    let books = app.books().map_err(|error| PageError::store(visitor, &error))?;
    let stock = tank_stock(&app.yard, &books);
    let plan = app.forecast(None).and_then(|forecast| app.plan(&forecast, &books).ok());
    let hours = plan.as_ref().map_or(&[][..], |plan| &plan.hours);
    let coldest = app.air_ahead(plan.as_deref()).map(|[low, _]| low);
    let teller = visitor.teller();
    let needing = stock.iter().filter(|tank| teller.tank_needs_act(tank, coldest)).count();
    let words = visitor.words;
    let uncounted: Vec<String> =
        stock.iter().filter(|tank| !tank.is_counted).map(|tank| tank.tank.clone()).collect();
    let title = match needing {
        0 if !uncounted.is_empty() => words.fill("tanks.nobody-counted", &[("tanks", &uncounted.join(", "))]),
        0 => words.say("tanks.all-well").to_string(),
        1 => {
            let tank = stock.iter().find(|tank| teller.tank_needs_act(tank, coldest));
            words.fill("tanks.one-asks", &[("tank", tank.map_or("", |tank| &tank.tank))])
        }
        n => words.fill("tanks.some-ask", &[("count", &n.to_string())]),
    };
    let us = visitor.is_us();
    let tanks = tank_view::tanks(visitor, &stock, &books, coldest);
    let first = tanks.iter().find(|tank| tank.needs_act).filter(|_| needing == 1).map(|tank| FirstView {
        id: tank.id.clone(),
        state: tank.state.clone(),
        right_url: tank.right_url.clone(),
        sample_url: stock
            .iter()
            .find(|one| one.tank == tank.id)
            .filter(|one| one.corrected_at.is_some())
            .map(|one| app.url(&format!("/bench?tank={}", crate::encoded::form_encoded(&one.tank)))),
    });
    // Whoever asked for one tank has its act on top.
    let first = first.filter(|first| sent.tank.is_empty() || first.id == sent.tank);
    let title = match tanks.iter().find(|tank| tank.id == sent.tank).filter(|_| first.is_none()) {
        Some(tank) => format!("{} {}: {}", words.say("tanks.tank"), tank.id, tank.volume),
        None => title,
    };
    // What is wrong with a tank that is not there, or with none, stands above them all.
    let is_here = tanks.iter().any(|tank| tank.id == sent.tank);
    let open = if is_here { sent.tank.clone() } else { String::new() };
    let problems = if is_here { Vec::new() } else { sent.refused.problems.clone() };
    let mut sent = Some(sent);
    let dips = tanks
        .iter()
        .map(|tank| {
            let mut dip = sent.take_if(|sent| sent.tank == tank.id).unwrap_or_default();
            if dip.entry_id.is_empty() {
                dip.entry_id = parts::entry_id();
            }
            dip
        })
        .collect();
    Ok(TanksPage {
        c: PageFrame::new(visitor, Place::Tanks, words.say("nav.tanks"), "/tanks"),
        w: words,
        title,
        map: charts::map(visitor, &stock, &books, hours),
        spare: charts::spare(visitor, &stock, &books, hours),
        first,
        tanks,
        open,
        tanks_url: app.url("/tanks"),
        dip_url: app.url("/tanks/dip"),
        set_url: app.url("/tanks/set-book"),
        problems,
        dips,
        depth_label: words.say(if us { "dip.depth-ft" } else { "dip.depth-m" }).to_string(),
        depth_name: if us { "depth_ft" } else { "depth_m" },
        depth_how: words.say(if us { "dip.how-ft" } else { "dip.how-m" }).to_string(),
        temp_label: words.say(if us { "dip.temp-f" } else { "dip.temp-c" }).to_string(),
        temp_name: if us { "temp_f" } else { "temp_c" },
    })
}
