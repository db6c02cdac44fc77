//! A blend in a tank: what must stay liquid how far, and what of each liquid at hand does it at least cost.

use askama::Template;
use axum::response::Html;
use chemistry::blend::{NoRecipe, Wanted};
use entry::blending::{self, Advice, Ask, Refusal, Source};
use message::{Tell, message};
use quantity::{
    ThermodynamicTemperature, celsius, cubic_metres, fahrenheit, gallons, in_cubic_metres, litres,
};
use report::Words;
use report::blend_words::BlendWords;
use serde::Deserialize;
use yard::stock::Books;

use super::charts::ChartPair;
use super::parts;
use super::put_right::{Choice, Field};
use crate::error::{PageError, render};
use crate::extract::QueryOf;
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::charts;

/// What was asked, as typed, in either system.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct BlendQuery {
    tank: Option<String>,
    with: Option<String>,
    also: Option<String>,
    ice_f: Option<String>,
    ice_c: Option<String>,
    clear_f: Option<String>,
    clear_c: Option<String>,
    volume_gal: Option<String>,
    volume_l: Option<String>,
}

#[derive(Template)]
#[template(path = "blend.html")]
struct BlendPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    title: String,
    page_url: String,
    transfer_url: String,
    jar_url: String,
    tank: String,
    tanks: Vec<Link>,
    fields: Vec<Field>,
    with: Vec<Choice>,
    also: Vec<Choice>,
    problems: Vec<String>,
    told: Option<BlendWords>,
    refusal: Option<String>,
    chart: Option<ChartPair>,
}

/// The two ways to put a tank right.
pub(crate) fn leaves(visitor: &Visitor, is_blend: bool) -> Vec<Link> {
    let link = |key: &str, path: &str, current: bool| Link {
        label: visitor.words.say(key).to_string(),
        url: visitor.app.url(path),
        current,
    };
    vec![
        link("right.leaf-strength", "/put-right", !is_blend),
        link("right.leaf-blend", "/put-right/blend", is_blend),
    ]
}

/// Shows the form, and the recipe where enough was asked.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<BlendQuery>,
) -> Result<Html<String>, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let page = page(&visitor, &books, &query);
    render(&visitor, &page)
}

fn page(visitor: &Visitor, books: &Books, query: &BlendQuery) -> BlendPage {
    let (app, words, teller) = (&visitor.app, visitor.words, visitor.teller());
    let tank = chosen_tank(visitor, query);
    let (mut problems, mut told, mut refusal, mut chart) = (Vec::new(), None, None, None);
    match read(visitor, query, &tank) {
        Ok(Some(ask)) if is_nothing(books, &ask) => {
            problems.push(words.say("blend.how-much").to_string());
        }
        Ok(Some(ask)) => match blending::advise(&app.yard, books, &ask) {
            Ok(advice) => {
                chart = Some(diagram(visitor, &advice, &tank));
                told = Some(teller.blend(&advice));
            }
            Err(error) => refusal = Some(refused(visitor, &error)),
        },
        Ok(None) => {}
        Err(wrong) => problems = wrong,
    }
    let path = |tank: &str| app.url(&format!("/put-right/blend?tank={}", crate::encoded::form_encoded(tank)));
    BlendPage {
        c: PageFrame::new(visitor, Place::PutRight, words.say("blend.title"), "/put-right/blend"),
        leaves: leaves(visitor, true),
        title: words.fill("blend.title-of", &[("tank", &tank)]),
        page_url: app.url("/put-right/blend"),
        transfer_url: app.url("/load/other?what=transfer"),
        jar_url: app.url(&format!("/jar-test?tank={}", crate::encoded::form_encoded(&tank))),
        tanks: app
            .yard
            .tanks_in_use()
            .map(|one| Link { label: one.id.clone(), url: path(&one.id), current: one.id == tank })
            .collect(),
        fields: fields(visitor, query),
        with: choices(visitor, books, &tank, query.with.as_deref(), false),
        also: choices(visitor, books, &tank, query.also.as_deref(), true),
        w: words,
        tank,
        problems,
        told,
        refusal,
        chart,
    }
}

fn chosen_tank(visitor: &Visitor, query: &BlendQuery) -> String {
    let first = || visitor.app.yard.tanks_in_use().next().map(|tank| tank.id.clone());
    query.tank.clone().or_else(first).unwrap_or_default()
}

fn fields(visitor: &Visitor, query: &BlendQuery) -> Vec<Field> {
    let field = |name: &'static str, key: &str, typed: &Option<String>| Field {
        name,
        label: visitor.words.say(key).to_string(),
        value: typed.clone().unwrap_or_default(),
    };
    if visitor.is_us() {
        vec![
            field("clear_f", "blend.clear-f", &query.clear_f),
            field("ice_f", "blend.ice-f", &query.ice_f),
            field("volume_gal", "blend.volume-gal", &query.volume_gal),
        ]
    } else {
        vec![
            field("clear_c", "blend.clear-c", &query.clear_c),
            field("ice_c", "blend.ice-c", &query.ice_c),
            field("volume_l", "blend.volume-l", &query.volume_l),
        ]
    }
}

/// Tanks to mix from; the first bought liquid is chosen where nothing was.
fn choices(visitor: &Visitor, books: &Books, tank: &str, chosen: Option<&str>, or_none: bool) -> Vec<Choice> {
    let (yard, teller) = (&visitor.app.yard, visitor.teller());
    let mut found: Vec<Choice> = blending::at_hand(yard, books)
        .iter()
        .filter_map(|liquid| match &liquid.source {
            Source::Tank(id) if id != tank => Some(Choice {
                value: id.clone(),
                label: teller.at_hand(liquid),
                chosen: chosen == Some(id.as_str()),
            }),
            Source::Tank(_) | Source::Water | Source::Named(_) => None,
        })
        .collect();
    if or_none {
        let none = visitor.words.say("blend.no-other").to_string();
        let is_none = !found.iter().any(|one| one.chosen);
        found.insert(0, Choice { value: String::new(), label: none, chosen: is_none });
    } else if !found.iter().any(|one| one.chosen) {
        let is_bought = |one: &Choice| {
            let product = yard.tank(&one.value).and_then(|tank| yard.product(&tank.product));
            product.is_some_and(|product| product.kind.is_magnesium_or_calcium())
        };
        let place = found.iter().position(is_bought).unwrap_or(0);
        if let Some(one) = found.get_mut(place) {
            one.chosen = true;
        }
    }
    found
}

/// Reads what was asked; none when nothing was asked yet.
fn read(visitor: &Visitor, query: &BlendQuery, tank: &str) -> Result<Option<Ask>, Vec<String>> {
    let Some(with) = query.with.as_deref().filter(|with| !with.is_empty()) else { return Ok(None) };
    let mut problems = Vec::new();
    let mut number = |name: &str, typed: &Option<String>, is_needed: bool| -> Option<f64> {
        let typed = typed.as_deref().unwrap_or_default().trim();
        if typed.is_empty() && !is_needed {
            return None;
        }
        match entry::parse_number(typed) {
            Ok(value) => Some(value),
            Err((what, accepted)) => {
                problems.push(parts::refusal(visitor, (name, typed), (&what, &accepted)));
                None
            }
        }
    };
    let us = visitor.is_us();
    let (clear, ice, volume) = if us {
        (
            number("clear_f", &query.clear_f, true).map(fahrenheit),
            number("ice_f", &query.ice_f, false).map(fahrenheit),
            number("volume_gal", &query.volume_gal, false).map(gallons),
        )
    } else {
        (
            number("clear_c", &query.clear_c, true).map(celsius),
            number("ice_c", &query.ice_c, false).map(celsius),
            number("volume_l", &query.volume_l, false).map(litres),
        )
    };
    let room = visitor.app.yard.tank(tank).map(site::Tank::working_capacity);
    let Some(room) = room else {
        problems.push(visitor.display.tell(&Refusal::NoTank(tank.to_owned()).message()));
        return Err(problems);
    };
    if let Some(asked) = volume.filter(|asked| in_cubic_metres(*asked) <= 0.0 || *asked > room) {
        let name = if us { "volume_gal" } else { "volume_l" };
        let (what, accepted) = (message!("blend.no-volume"), message!("blend.room", room = room));
        problems.push(parts::refusal(visitor, (name, asked), (&what, &accepted)));
    }
    let Some(clear) = clear.filter(|_| problems.is_empty()) else { return Err(problems) };
    let (at_least, at_most) = volume.map_or((cubic_metres(0.0), room), |volume| (volume, volume));
    let also = query.also.as_deref().filter(|also| !also.is_empty() && *also != with);
    let mut from = vec![Source::Tank(with.to_owned())];
    from.extend(also.map(|id| Source::Tank(id.to_owned())));
    from.push(Source::Water);
    let ice_below: ThermodynamicTemperature = ice.unwrap_or(clear);
    let wanted = Wanted { ice_below, clear_above: clear, at_least, at_most };
    Ok(Some(Ask { tank: Some(tank.to_owned()), from, wanted }))
}

/// Nobody said how much, and nothing is there.
fn is_nothing(books: &Books, ask: &Ask) -> bool {
    let tank = ask.tank.as_ref().and_then(|id| books.tank(id));
    let is_empty = tank.is_none_or(|book| book.content.parts().is_empty());
    is_empty && in_cubic_metres(ask.wanted.at_least) <= 0.0
}

/// A refusal in the reader's words; the search's own sentence says what comes nearest.
fn refused(visitor: &Visitor, refusal: &Refusal) -> String {
    match refusal {
        Refusal::Unknown(tank) => visitor.words.fill("blend.unknown", &[("tank", tank)]),
        Refusal::Empty(tank) => visitor.words.fill("blend.empty", &[("tank", tank)]),
        Refusal::NoTank(_) => visitor.display.tell(&refusal.message()),
        Refusal::Recipe(NoRecipe::None { ice, clear, nearest }) => {
            let t = |c: f64| visitor.display.temperature(celsius(c));
            let none = visitor.words.fill("blend.none", &[("ice", &t(*ice)), ("clear", &t(*clear))]);
            let best = match nearest {
                Some(nearest) => visitor.words.fill("blend.nearest", &[("first", &t(*nearest))]),
                None => visitor.words.say("blend.too-little").to_string(),
            };
            format!("{none} {best}")
        }
        Refusal::Recipe(why) => visitor.display.tell(&why.message()),
    }
}

/// The freeze map of the recipe, with the tank where it will stand.
fn diagram(visitor: &Visitor, advice: &Advice, tank: &str) -> ChartPair {
    let recipe = &advice.recipe;
    let at = recipe.temperature.unwrap_or_else(chemistry::recipe::reference_temperature);
    charts::blend_map(visitor, ("blend", tank), &recipe.brine, at, None)
}
