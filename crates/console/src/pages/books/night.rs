//! The night plan on paper: stock, loads by route and in order, rates, cautions, whom to call. The power goes in ice
//! storms.

use askama::Template;
use axum::response::Html;
use message::Tell;
use planner::tank_stock;
use report::Words;
use report::table::{Kind, Table};

use super::{Leaf, leaves};
use crate::error::{PageError, render};
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::storm_view;
use crate::pages::table_view::TableView;

/// Empty rows for loads that nobody planned.
const SPARE_ROWS: usize = 4;

#[derive(Template)]
#[template(path = "night.html")]
struct NightPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    title: String,
    lines: Vec<String>,
    tables: Vec<TableView>,
    rates: Vec<String>,
    cares: Vec<String>,
    phones: Vec<(String, String, String)>,
}

/// Shows the plan.
pub(crate) async fn show(visitor: Visitor) -> Result<Html<String>, PageError> {
    let (app, words, d) = (&visitor.app, visitor.words, &visitor.display);
    let books = app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let forecast = app.forecast(None);
    let plan = forecast.as_ref().map(|forecast| app.plan(forecast, &books)).transpose();
    let teller = visitor.teller();
    let (plan, trouble) = match plan {
        Ok(plan) => (plan, None),
        Err(error) => (None, Some(visitor.display.tell(&error.message()))),
    };
    let stock = tank_stock(&app.yard, &books);
    let coldest = app.air_ahead(plan.as_deref()).map(|[low, _]| low);
    let mut tanks = Table::new(
        "stock",
        words.say("night.stock"),
        &[
            (words.say("tanks.tank"), Kind::Text),
            (words.say("night.holds"), Kind::Text),
            (words.say("night.usable"), Kind::Text),
            (words.say("night.state"), Kind::Text),
        ],
    );
    for tank in &stock {
        let strength =
            tank.strength.map_or_else(String::new, |strength| format!(", {}", d.strength(strength)));
        tanks.row(vec![
            tank.tank.as_str().into(),
            format!("{}{strength}", d.volume(tank.volume)).into(),
            d.volume(tank.usable).into(),
            teller.tank_state(tank, coldest).into(),
        ]);
    }
    let mut loads = Table::new(
        "loads",
        words.say("night.loads"),
        &[
            (words.say("night.load-at"), Kind::Text),
            (words.say("ask.truck"), Kind::Text),
            (words.say("account.route"), Kind::Text),
            (words.say(visitor.display.at_reference("account.volume")), Kind::Volume),
            (words.say("night.taken"), Kind::Text),
            (words.say("night.by"), Kind::Text),
        ],
    );
    let planned = plan.iter().flat_map(|plan| plan.loadings.iter().flat_map(|(_, loading)| &loading.loads));
    for load in planned {
        loads.row(vec![
            d.time(load.load_from).into(),
            app.yard.trucks[load.truck].id.as_str().into(),
            teller.route_name(Some(&app.yard.routes[load.route].id)).into(),
            quantity::in_cubic_metres(load.volume).into(),
            "".into(),
            "".into(),
        ]);
    }
    for _ in 0..SPARE_ROWS {
        loads.row(vec!["".into(), "".into(), "".into(), None::<f64>.into(), "".into(), "".into()]);
    }
    let mut lines = vec![words.fill("night.printed", &[("at", &d.time(app.clock.now()))])];
    if let Some(plan) = &plan {
        let next = teller.next_act(plan);
        lines.push(next.act);
        lines.extend(plan.storms.iter().map(|(storm, _)| teller.storm_line(storm)));
        lines.extend(teller.calls_in_short(plan));
    }
    if forecast.is_none() {
        lines.push(words.say("night.no-forecast").to_owned());
    }
    lines.extend(trouble);
    let rates = plan.iter().flat_map(|plan| {
        plan.storms.iter().map(|(storm, treatment)| storm_view::storm_view(&visitor, storm, treatment))
    });
    let rates = rates.flat_map(|view| {
        let passes = view.passes.into_iter().map(|pass| format!("{} ({})", pass.text, pass.source));
        let first = (!view.rate.is_empty()).then(|| format!("{} ({})", view.rate, view.rate_source));
        first.into_iter().chain(passes).collect::<Vec<_>>()
    });
    let mut cares = plan.as_ref().map_or_else(Vec::new, |plan| storm_view::cares(&teller, plan));
    let always = [
        "care.no-spray",
        "care.overweight",
        "care.lockout",
        "care.hopper",
        "care.spill",
        "care.rate",
        "care.slick",
        "care.fatigue",
        "care.policy-first",
    ];
    cares.extend(always.iter().map(|key| words.say(key).to_owned()));
    let phones = app.yard.contacts.iter();
    let page = NightPage {
        c: PageFrame::new(&visitor, Place::Books, words.say("books.leaf-night"), "/night"),
        w: words,
        leaves: leaves(&visitor, Leaf::Night),
        title: words.fill("night.title", &[("yard", &app.yard.name)]),
        lines,
        tables: super::views(&visitor, &[tanks, loads]),
        rates: rates.collect(),
        cares,
        phones: phones.map(|one| (one.name.clone(), one.phone.clone(), one.why.clone())).collect(),
    };
    render(&visitor, &page)
}
