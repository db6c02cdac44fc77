//! The bench: one reading of one sample, judged at once, and logged with one tap.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use bench::measure::{Measured, Sample, measure};
use bench::register;
use bench::solute::Solute;
use bench::{Conformity, SpecBand};
use chemistry::Salt;
use chemistry::quantity::{ThermodynamicTemperature, celsius, fahrenheit, in_celsius, kelvins};
use report::Words;
use report::display::number;
use serde::Deserialize;
use yard::event::{Body, LEVELS, OCCASIONS, Reading};
use yard::site::{Instrument, ProductKind};

use super::parts;
use crate::access::Act;
use crate::asked::{Asked, Sent};
use crate::chrome::{Chrome, Link, Place, Visitor};
use crate::error::{PageError, render};

/// How far off the thermometer of a sample may be, K: common practice, no source.
const THERMOMETER_KELVIN: f64 = 1.0;
/// Chance of a wrong verdict that is accepted.
const RISK: f64 = 0.05;
/// Per cent by mass outside the band from which a number is held against the other scales.
const SENSELESS: f64 = 1.0;

/// What was asked, as typed; and in the record of it, who says so.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct BenchQuery {
    tank: Option<String>,
    instrument: Option<String>,
    reading: Option<String>,
    temp_f: Option<String>,
    temp_c: Option<String>,
    level: Option<String>,
    occasion: Option<String>,
    saved: Option<u64>,
    entry_id: Option<String>,
    author: Option<String>,
    confirm: Option<String>,
}

/// One of several to choose from.
struct Choice {
    value: String,
    label: String,
    chosen: bool,
}

/// A verdict in the operator's words.
struct Told {
    mark: &'static str,
    headline: String,
    is_out: bool,
    next: String,
    why: String,
    doubt: Option<String>,
    right_url: Option<String>,
    budget: Vec<(String, String)>,
    together: String,
    within: String,
}

#[derive(Template)]
#[template(path = "bench.html")]
struct BenchPage {
    w: Words,
    c: Chrome,
    page_url: String,
    tank: String,
    tanks: Vec<Link>,
    instruments: Vec<Choice>,
    instrument: String,
    levels: Vec<Choice>,
    level: String,
    occasions: Vec<Choice>,
    occasion: String,
    reading: String,
    temp_name: &'static str,
    temp_label: String,
    temp: String,
    problems: Vec<String>,
    told: Option<Told>,
    /// Why no strength can be given; empty when it can.
    refusal: String,
    meant: Option<String>,
    history: Vec<String>,
    entry_id: String,
    author: String,
    ask_confirm: bool,
    record_problems: Vec<String>,
}

/// What was read, once it can be read.
struct Read<'a> {
    tank: String,
    instrument: &'a Instrument,
    shown: f64,
    typed: String,
    temperature: Option<ThermodynamicTemperature>,
    level: String,
    occasion: String,
}

/// Shows the form, and the verdict where a reading was given.
pub(crate) async fn show(
    visitor: Visitor,
    Asked(query): Asked<BenchQuery>,
) -> Result<Html<String>, PageError> {
    visitor.may(Act::Look)?;
    let mut page = page(&visitor, &query)?;
    let head = visitor.app.ledger.head().map_err(|error| PageError::store(&visitor, &error))?;
    let recorded = query.saved.filter(|seq| *seq <= head.seq);
    page.c.saved = recorded.map(|seq| visitor.words.fill("bench.logged", &[("seq", &seq.to_string())]));
    render(&visitor, &page)
}

/// Logs the reading, or shows the page again with what is wrong.
pub(crate) async fn record(visitor: Visitor, Sent(query): Sent<BenchQuery>) -> Result<Response, PageError> {
    visitor.may(Act::Record)?;
    let (entry_id, author) =
        (query.entry_id.clone().unwrap_or_default(), query.author.clone().unwrap_or_default());
    let again = |problems: Vec<String>, ask_confirm: bool| -> Result<Response, PageError> {
        let mut page = page(&visitor, &query)?;
        page.record_problems = problems;
        page.ask_confirm = ask_confirm;
        page.entry_id = entry_id.clone();
        page.author = author.clone();
        Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
    };
    // What is wrong with the reading stands on the page itself.
    let Ok(Some(read)) = read(&visitor, &query) else { return again(Vec::new(), false) };
    let Ok(found) = measured(&read) else { return again(Vec::new(), false) };
    let body = event(&read, &found);
    if let Some(problem) = parts::author_problem(&visitor, &author) {
        return again(vec![problem], false);
    }
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let doubts = yard::entry::doubts(&body, &visitor.app.yard, &books);
    if !doubts.is_empty() && query.confirm.as_deref() != Some("yes") {
        return again(parts::sentences(&doubts), true);
    }
    let seq = parts::record(&visitor, &entry_id, &author, body).await?;
    let tank = parts::form_encoded(&read.tank);
    Ok(Redirect::to(&visitor.app.url(&format!("/bench?tank={tank}&saved={seq}"))).into_response())
}

fn event(read: &Read<'_>, found: &Measured) -> Body {
    let rounded = |value: f64| (1000.0 * value).round() / 1000.0;
    Body::Reading(Reading {
        tank: read.tank.clone(),
        strength_pct: rounded(found.brine.strength().percent()),
        uncertainty_pct: Some(rounded(found.expanded.half_width)),
        temp_c: read.temperature.map(|at| rounded(in_celsius(at))),
        instrument: Some(read.instrument.id.clone()),
        level: Some(read.level.clone()),
        occasion: Some(read.occasion.clone()),
        shown: Some(read.typed.clone()),
        scale: Some(read.instrument.scale.clone()),
        doubt: found.doubt.as_ref().map(ToString::to_string),
    })
}

fn measured(read: &Read<'_>) -> Result<Measured, bench::Error> {
    let sample = Sample {
        solute: Solute::of(Salt::SodiumChloride),
        readings: vec![read.shown],
        temperature: read.temperature,
        temperature_half_width: kelvins(THERMOMETER_KELVIN),
    };
    measure(&read.instrument.card, &sample)
}

/// Ids of the tanks that hold our own brine.
fn brine_tanks(visitor: &Visitor) -> Vec<String> {
    let yard = &visitor.app.yard;
    let is_brine = |tank: &&yard::site::Tank| {
        let product = yard.product(&tank.product);
        product.is_some_and(|product| matches!(product.kind, ProductKind::SodiumChlorideBrine))
    };
    yard.tanks.iter().filter(is_brine).map(|tank| tank.id.clone()).collect()
}

fn chosen_tank(visitor: &Visitor, query: &BenchQuery) -> String {
    query.tank.clone().or_else(|| brine_tanks(visitor).into_iter().next()).unwrap_or_default()
}

/// Reads what was typed; none when no reading was typed yet.
fn read<'a>(visitor: &'a Visitor, query: &BenchQuery) -> Result<Option<Read<'a>>, Vec<String>> {
    let Some(typed) = query.reading.as_deref().map(str::trim).filter(|text| !text.is_empty()) else {
        return Ok(None);
    };
    let mut problems = Vec::new();
    let mut parse = |name: &str, text: &str| {
        yard::entry::parse_number(text)
            .map_err(|(problem, accepted)| {
                problems.push(format!("{name} = {text}: {problem}; accepted: {accepted}"))
            })
            .ok()
    };
    let shown = parse("reading", typed);
    let given =
        |typed: &Option<String>| typed.as_deref().map(str::trim).filter(|t| !t.is_empty()).map(str::to_owned);
    let temperature = given(&query.temp_f)
        .and_then(|text| parse("temp_f", &text).map(fahrenheit))
        .or(given(&query.temp_c).and_then(|text| parse("temp_c", &text).map(celsius)));
    let yard = &visitor.app.yard;
    let wanted = query.instrument.as_deref().unwrap_or_default();
    let instrument = yard.instruments.iter().find(|one| one.id == wanted);
    if instrument.is_none() {
        let ids: Vec<&str> = yard.instruments.iter().map(|one| one.id.as_str()).collect();
        problems.push(format!("instrument = {wanted}: not known; accepted: {}", ids.join(", ")));
    }
    let mut one_of = |name: &str, typed: &Option<String>, accepted: &[&str]| {
        let value = typed.clone().unwrap_or_else(|| accepted[0].to_string());
        if !accepted.contains(&value.as_str()) {
            problems.push(format!("{name} = {value}: not known; accepted: {}", accepted.join(", ")));
        }
        value
    };
    let level = one_of("level", &query.level, &LEVELS);
    let occasion = one_of("occasion", &query.occasion, &OCCASIONS);
    let tank = chosen_tank(visitor, query);
    let tanks = brine_tanks(visitor);
    if !tanks.contains(&tank) {
        problems.push(format!("tank = {tank}: no tank of our own brine; accepted: {}", tanks.join(", ")));
    }
    match (shown, instrument, problems.is_empty()) {
        (Some(shown), Some(instrument), true) => {
            Ok(Some(Read { tank, instrument, shown, typed: typed.to_string(), temperature, level, occasion }))
        }
        _ => Err(problems),
    }
}

fn page(visitor: &Visitor, query: &BenchQuery) -> Result<BenchPage, PageError> {
    let (app, words, us) = (&visitor.app, visitor.words, visitor.is_us());
    let tank = chosen_tank(visitor, query);
    let books = app.books().map_err(|error| PageError::store(visitor, &error))?;
    // Newest first.
    let mut readings = books.tank(&tank).map_or_else(Vec::new, |book| book.readings.clone());
    readings.reverse();
    let (mut problems, mut told, mut refusal, mut meant) = (Vec::new(), None, String::new(), None);
    match read(visitor, query) {
        Ok(Some(read)) => {
            let found = measured(&read);
            let is_senseless = match &found {
                Ok(found) => {
                    let (low, high) = (app.yard.plant.spec_low.percent(), app.yard.plant.spec_high.percent());
                    !(low - SENSELESS..=high + SENSELESS).contains(&found.brine.strength().percent())
                }
                Err(_) => true,
            };
            meant = if is_senseless { or_meant(visitor, &read) } else { None };
            match found.and_then(|found| tell(visitor, &read, &found)) {
                Ok(verdict) => told = Some(verdict),
                Err(error) => refusal = format!("{error}."),
            }
        }
        Ok(None) => {}
        Err(wrong) => problems = wrong,
    }
    // Remembered: the instrument of the last reading of this tank.
    let last = readings.iter().find_map(|(_, reading)| reading.instrument.clone());
    let known = |id: &String| app.yard.instruments.iter().any(|one| one.id == *id);
    let first = app.yard.instruments.first().map(|one| one.id.clone());
    let instrument = query.instrument.clone().or(last.filter(known)).or(first).unwrap_or_default();
    let choices = |key: &dyn Fn(&str) -> String, accepted: &[&str], chosen: &str| -> Vec<Choice> {
        let choice = |value: &&str| Choice {
            value: (*value).to_string(),
            label: words.say(&key(value)).to_string(),
            chosen: *value == chosen,
        };
        accepted.iter().map(choice).collect()
    };
    let level = query.level.clone().unwrap_or_else(|| LEVELS[0].to_string());
    let occasion = query.occasion.clone().unwrap_or_else(|| OCCASIONS[0].to_string());
    let link = |id: String| Link {
        url: app.url(&format!("/bench?tank={}", parts::form_encoded(&id))),
        current: id == tank,
        label: id,
    };
    Ok(BenchPage {
        c: Chrome::new(visitor, Place::Bench, words.say("bench.title"), "/bench"),
        w: words,
        page_url: app.url("/bench"),
        tanks: brine_tanks(visitor).into_iter().map(link).collect(),
        instruments: app
            .yard
            .instruments
            .iter()
            .map(|one| Choice {
                value: one.id.clone(),
                label: one.name.clone(),
                chosen: one.id == instrument,
            })
            .collect(),
        levels: choices(&|level| format!("level.{level}"), &LEVELS, &level),
        occasions: choices(&|occasion| format!("occasion.{occasion}"), &OCCASIONS, &occasion),
        reading: query.reading.clone().unwrap_or_default(),
        temp_name: if us { "temp_f" } else { "temp_c" },
        temp_label: words.say(if us { "bench.temp-f" } else { "bench.temp-c" }).to_string(),
        temp: if us { query.temp_f.clone() } else { query.temp_c.clone() }.unwrap_or_default(),
        history: readings.iter().map(|(at, reading)| line(visitor, *at, reading)).collect(),
        tank,
        instrument,
        level,
        occasion,
        problems,
        told,
        refusal,
        meant,
        entry_id: parts::entry_id(),
        author: String::new(),
        ask_confirm: false,
        record_problems: Vec::new(),
    })
}

/// A logged reading in a line.
fn line(visitor: &Visitor, at: jiff::Timestamp, reading: &Reading) -> String {
    let within = reading.uncertainty_pct.map_or(String::new(), |u| format!(" ± {}", number(u, 1)));
    let name = reading.instrument.as_ref().map(|id| {
        let known = visitor.app.yard.instruments.iter().find(|one| one.id == *id);
        known.map_or_else(|| id.clone(), |one| one.name.clone())
    });
    let shown = reading.shown.as_ref().map(|shown| format!(" {shown}")).unwrap_or_default();
    let by = name.map_or(String::new(), |name| format!(", {name}{shown}"));
    format!("{}: {} %{within}{by}", visitor.display.time(at), number(reading.strength_pct, 1))
}

/// The scales on which a number that makes no sense would make sense.
fn or_meant(visitor: &Visitor, read: &Read<'_>) -> Option<String> {
    let target = visitor.app.yard.plant.target_strength.percent();
    let solute = Solute::of(Salt::SodiumChloride);
    let scales =
        register::meant_on(read.shown, &read.instrument.card.scale, &solute, read.temperature, target);
    let named: Vec<String> =
        scales.iter().map(|scale| visitor.words.say(&format!("scale.{scale}")).to_string()).collect();
    (!named.is_empty()).then(|| visitor.words.fill("bench.meant", &[("scales", &named.join(", "))]))
}

fn tell(visitor: &Visitor, read: &Read<'_>, found: &Measured) -> Result<Told, bench::Error> {
    let (words, plant) = (visitor.words, &visitor.app.yard.plant);
    let band = SpecBand { low: plant.spec_low, high: plant.spec_high };
    let known = found.known()?;
    let (verdict, chances) = (band.judge_at_risk(&known, RISK)?, band.chances(&known)?);
    let (key, next, mark) = match verdict {
        Conformity::InSpec => ("bench.in", "bench.next-in", "✓"),
        Conformity::TooWeak => ("bench.too_weak", "bench.next-out", "▲"),
        Conformity::TooStrong => ("bench.too_strong", "bench.next-out", "▲"),
        Conformity::CannotTell => ("bench.cannot_tell", "bench.next-cannot_tell", "?"),
    };
    let is_out = matches!(verdict, Conformity::TooWeak | Conformity::TooStrong);
    let strength = found.brine.strength().percent();
    let within = number(found.expanded.half_width, 1);
    let share = |chance: f64| number(100.0 * chance, 0);
    let limit = |limit: chemistry::MassFraction| number(limit.percent(), 1);
    let doubt = found.doubt.as_ref().map(|why| words.fill("bench.doubtful", &[("why", &why.to_string())]));
    let right = format!(
        "/put-right?tank={}&strength_pct={strength:.2}&uncertainty_pct={:.2}",
        parts::form_encoded(&read.tank),
        found.expanded.half_width
    );
    Ok(Told {
        mark,
        headline: words.fill(key, &[("strength", &number(strength, 1)), ("within", &within)]),
        is_out,
        next: words.say(next).to_string(),
        why: words.fill(
            "bench.why",
            &[
                ("low", &limit(plant.spec_low)),
                ("high", &limit(plant.spec_high)),
                ("in", &share(chances.in_spec)),
                ("weak", &share(chances.too_weak)),
                ("strong", &share(chances.too_strong)),
            ],
        ),
        doubt,
        right_url: is_out.then(|| visitor.app.url(&right)),
        budget: found
            .budget
            .components()
            .iter()
            .map(|line| {
                (words.say(&format!("bench-of.{}", line.name)).to_string(), number(line.contribution(), 3))
            })
            .collect(),
        together: words.fill("bench.budget-all", &[("k", &number(found.expanded.coverage_factor, 2))]),
        within: number(found.expanded.half_width, 2),
    })
}
