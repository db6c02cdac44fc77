//! Put a tank right: what to put in, by mass, in the yard's own units; and one tap to record that it is in.

use askama::Template;
use axum::response::{Html, IntoResponse, Redirect, Response};
use chemistry::MassFraction;
use message::{Tell, message};
use quantity::{
    ThermodynamicTemperature, Volume, celsius, cubic_metres, fahrenheit, gallons, in_celsius, in_fahrenheit,
    in_gallons, in_litres, litres,
};
use report::Words;
use report::correction_words::{CorrectionWords, correction_words};
use serde::Deserialize;
use site::ProductKind;
use yard::put_right::{self, Ask, FIRST_PART, Prefilled, Refusal, StrengthFrom, With};
use yard::stock::Books;

use super::entry::Refused;
use super::parts::{self, Entered};
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{Link, PageFrame, Place, Visitor};

/// What was asked, as typed, in either system; and in the record of having done it, who says so and how much
/// of it is in.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RightQuery {
    tank: Option<String>,
    strength_pct: Option<String>,
    uncertainty_pct: Option<String>,
    volume_gal: Option<String>,
    volume_l: Option<String>,
    temp_f: Option<String>,
    temp_c: Option<String>,
    target_pct: Option<String>,
    with: Option<String>,
    with_temp_f: Option<String>,
    with_temp_c: Option<String>,
    saved: Option<u64>,
    entry_id: Option<String>,
    author: Option<String>,
    part: Option<String>,
    at: Option<String>,
    confirm: Option<String>,
}

/// A field of the form: its name and label by the units, and what stands in it.
pub(crate) struct Field {
    pub(crate) name: &'static str,
    pub(crate) label: String,
    pub(crate) value: String,
}

/// Something that can be put in.
pub(crate) struct Choice {
    pub(crate) value: String,
    pub(crate) label: String,
    pub(crate) chosen: bool,
}

#[derive(Template)]
#[template(path = "put_right.html")]
struct RightPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    title: String,
    page_url: String,
    ledger_url: String,
    tank: String,
    /// The tanks, each a link to itself: figures of one must not stay in the form of another.
    tanks: Vec<Link>,
    /// Where the strength comes from, or why nothing can be worked out.
    note: String,
    /// It is in spec as it is.
    in_spec: Option<String>,
    fields: Vec<Field>,
    means: Vec<Choice>,
    problems: Vec<String>,
    told: Option<CorrectionWords>,
    /// Why it cannot be done so.
    refusal: Option<String>,
    /// Where the sample is read that should come first.
    sample_url: Option<String>,
    /// Where a jar test is recorded instead, when a mix is not predicted.
    jar_url: Option<String>,
    entry_id: String,
    author: String,
    at: String,
    ask_confirm: Option<String>,
    all_of_it: bool,
    record_problems: Vec<String>,
}

/// Shows the form, and the answer where enough was asked.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<RightQuery>,
) -> Result<Html<String>, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let mut page = page(&visitor, &books, &query)?;
    let head = visitor.app.ledger.head().map_err(|error| PageError::store(&visitor, &error))?;
    let recorded = query.saved.filter(|seq| *seq <= head.seq);
    page.c.saved = recorded.map(|seq| visitor.words.fill("right.recorded", &[("seq", &seq.to_string())]));
    render(&visitor, &page)
}

/// Records that it is in, or shows the page again with what is wrong.
pub(crate) async fn record(
    visitor: Visitor,
    FormOf(query): FormOf<RightQuery>,
) -> Result<Response, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let (entry_id, author) =
        (query.entry_id.clone().unwrap_or_default(), query.author.clone().unwrap_or_default());
    let all_of_it = query.part.as_deref() == Some("all");
    let tank = query.tank.clone().unwrap_or_default();
    let again = |problems: Vec<String>, ask_confirm: Option<String>| -> Result<Response, PageError> {
        let mut page = page(&visitor, &books, &query)?;
        page.record_problems = problems;
        page.ask_confirm = ask_confirm;
        page.all_of_it = all_of_it;
        page.entry_id = entry_id.clone();
        page.author = author.clone();
        page.at = query.at.clone().unwrap_or_default();
        Ok((axum::http::StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
    };
    let advised = match read(&visitor, &books, &query) {
        Ok(Some(ask)) => put_right::advise(&visitor.app.yard, &books, &ask)
            .ok()
            .and_then(|advice| put_right::event(&ask, &advice, if all_of_it { 1.0 } else { FIRST_PART })),
        _ => None,
    };
    // What is wrong with the figures stands on the page itself.
    let Some(advised) = advised else { return again(Vec::new(), None) };
    let body = parts::read_made(&visitor, &entry_id, &advised, &author)?;
    let at = query.at.as_deref().unwrap_or_default();
    let entered = Entered::new(&entry_id, &author, at, query.confirm.as_ref());
    let seq = match parts::record_asked(&visitor, &entered, body).await? {
        Ok(seq) => seq,
        Err(Refused { problems, ask_confirm }) => return again(problems, ask_confirm),
    };
    let tank = crate::encoded::form_encoded(&tank);
    Ok(Redirect::to(&visitor.app.url(&format!("/put-right?tank={tank}&saved={seq}"))).into_response())
}

/// Tanks that hold our own brine.
fn brine_tanks(visitor: &Visitor) -> Vec<&site::Tank> {
    let yard = &visitor.app.yard;
    let is_brine = |tank: &&site::Tank| {
        let product = yard.product(&tank.product);
        product.is_some_and(|product| matches!(product.kind, ProductKind::SodiumChlorideBrine))
    };
    yard.tanks_in_use().filter(is_brine).collect()
}

/// The tank asked for; else the first that is out of spec, else the first.
fn chosen_tank(visitor: &Visitor, books: &Books, query: &RightQuery) -> String {
    let tanks = brine_tanks(visitor);
    let off = tanks.iter().find(|tank| {
        let known = put_right::prefilled(&visitor.app.yard, books, &tank.id).ok();
        known
            .and_then(|known| known.strength)
            .is_some_and(|(strength, _)| !is_in_spec(visitor, &tank.id, strength))
    });
    let usual = off.or(tanks.first()).map(|tank| tank.id.clone());
    query.tank.clone().or(usual).unwrap_or_default()
}

fn is_in_spec(visitor: &Visitor, tank: &str, strength: MassFraction) -> bool {
    let spec = visitor.app.yard.spec(tank);
    (spec.low.percent()..=spec.high.percent()).contains(&strength.percent())
}

fn page(visitor: &Visitor, books: &Books, query: &RightQuery) -> Result<RightPage, PageError> {
    let (app, words) = (&visitor.app, visitor.words);
    let tank = chosen_tank(visitor, books, query);
    let found = put_right::prefilled(&app.yard, books, &tank);
    let note = match &found {
        Ok(prefilled) => match prefilled.strength {
            Some((_, StrengthFrom::Sample { at, readings, is_doubted })) => {
                let values = [("at", visitor.display.time(at)), ("count", readings.to_string())];
                let key = if readings > 1 { "right.from-readings" } else { "right.from-reading" };
                let second = if is_doubted { words.say("right.second-first") } else { "" };
                format!("{} {second}", words.fill_with(key, &values)).trim_end().to_string()
            }
            Some((_, StrengthFrom::Corrected(at))) => {
                words.fill("right.from-correction", &[("at", &visitor.display.time(at))])
            }
            Some((_, StrengthFrom::Estimate)) => words.say("right.from-estimate").to_string(),
            None => words.say("right.unknown").to_string(),
        },
        Err(refusal) => refused(visitor, refusal),
    };
    let asks_sample = found.as_ref().is_ok_and(|known| {
        matches!(
            known.strength,
            Some((_, StrengthFrom::Sample { is_doubted: true, .. } | StrengthFrom::Corrected(_)))
        )
    });
    let in_spec =
        found.as_ref().ok().and_then(|known| known.strength).filter(|(w, _)| is_in_spec(visitor, &tank, *w));
    let asks = query.strength_pct.as_deref().is_some_and(|typed| !typed.trim().is_empty());
    let in_spec_is_doubted = in_spec.is_some();
    let in_spec = in_spec.map(|(strength, from)| {
        // Only what was measured is told as a fact.
        let key = match from {
            _ if asks => "right.in-spec-before",
            StrengthFrom::Sample { is_doubted: false, .. } => "right.in-spec",
            _ => "right.expected-in-spec",
        };
        words.fill(key, &[("strength", &visitor.display.strength(strength))])
    });
    let (mut problems, mut told, mut refusal) = (Vec::new(), None, None);
    let mut unpredicted = matches!(found, Err(Refusal::NotPredicted(_)));
    match read(visitor, books, query) {
        Ok(Some(ask)) => match put_right::advise(&app.yard, books, &ask) {
            Ok(advice) => told = Some(correction_words(&visitor.display, &words, &ask.with, &advice)),
            Err(error) => {
                unpredicted |= matches!(error, Refusal::NotPredicted(_));
                refusal = Some(refused(visitor, &error));
            }
        },
        Ok(None) => {}
        Err(wrong) => problems = wrong,
    }
    let tanks = app
        .yard
        .tanks
        .iter()
        .map(|one| Link {
            label: one.id.clone(),
            url: app.url(&format!("/put-right?tank={}", crate::encoded::form_encoded(&one.id))),
            current: one.id == tank,
        })
        .collect();
    let fields = found.as_ref().map_or_else(|_| Vec::new(), |known| fields(visitor, known, query));
    let means = found.as_ref().map_or_else(|_| Vec::new(), |known| means(visitor, known, query, &tank));
    Ok(RightPage {
        c: PageFrame::new(visitor, Place::PutRight, words.say("right.title"), "/put-right"),
        w: words,
        leaves: super::blend::leaves(visitor, false),
        title: match &found {
            Ok(_) => words.fill("right.title-of", &[("tank", &tank)]),
            Err(_) => words.say("right.title").to_string(),
        },
        page_url: app.url("/put-right"),
        ledger_url: app.url("/ledger"),
        tank: tank.clone(),
        tanks,
        note,
        in_spec,
        fields,
        means,
        problems,
        told,
        refusal,
        jar_url: unpredicted
            .then(|| app.url(&format!("/jar-test?tank={}", crate::encoded::form_encoded(&tank)))),
        sample_url: (asks_sample || (in_spec_is_doubted && asks))
            .then(|| app.url(&format!("/bench?tank={}", crate::encoded::form_encoded(&tank)))),
        entry_id: parts::entry_id(),
        author: String::new(),
        at: String::new(),
        ask_confirm: None,
        all_of_it: false,
        record_problems: Vec::new(),
    })
}

/// A refusal in the operator's words.
fn refused(visitor: &Visitor, refusal: &Refusal) -> String {
    match refusal {
        Refusal::NotPredicted(tank) => visitor.words.fill("right.not-predicted", &[("tank", tank)]),
        Refusal::TooLittle { tank, has, needs } => {
            let volume = |m3: f64| visitor.display.volume(cubic_metres(m3));
            let values = [("tank", tank.as_str()), ("has", &volume(*has)), ("needs", &volume(*needs))];
            visitor.words.fill("right.too-little", &values)
        }
        other => visitor.display.tell(&other.message()),
    }
}

/// The fields with what was typed, or what is known.
fn fields(visitor: &Visitor, prefilled: &Prefilled, query: &RightQuery) -> Vec<Field> {
    let (words, us) = (visitor.words, visitor.is_us());
    let plain = |value: f64, decimals: usize| format!("{value:.decimals$}");
    let temperature = |at: ThermodynamicTemperature| {
        if us { plain(in_fahrenheit(at), 0) } else { plain(in_celsius(at), 1) }
    };
    let volume = |volume: Volume| {
        if us { plain(in_gallons(volume), 0) } else { plain(in_litres(volume), 0) }
    };
    let field = |name: &'static str, key: &str, typed: &Option<String>, known: String| Field {
        name,
        label: words.say(key).to_string(),
        value: typed.clone().unwrap_or(known),
    };
    let strength = prefilled.strength.map_or_else(String::new, |(strength, _)| plain(strength.percent(), 2));
    let strength_label = match prefilled.strength {
        Some((_, StrengthFrom::Estimate | StrengthFrom::Corrected(_))) if query.strength_pct.is_none() => {
            "right.strength-expected"
        }
        _ => "right.strength",
    };
    let water = visitor.app.yard.plant.water_temperature;
    let (volume_field, temp_field, with_field) = if us {
        (
            field("volume_gal", "right.volume-gal", &query.volume_gal, volume(prefilled.volume)),
            field("temp_f", "right.temp-f", &query.temp_f, temperature(prefilled.temperature)),
            field("with_temp_f", "right.with-temp-f", &query.with_temp_f, temperature(water)),
        )
    } else {
        (
            field("volume_l", "right.volume-l", &query.volume_l, volume(prefilled.volume)),
            field("temp_c", "right.temp-c", &query.temp_c, temperature(prefilled.temperature)),
            field("with_temp_c", "right.with-temp-c", &query.with_temp_c, temperature(water)),
        )
    };
    let sure = plain(prefilled.uncertainty.percent(), 2);
    vec![
        field("strength_pct", strength_label, &query.strength_pct, strength),
        field("target_pct", "right.target", &query.target_pct, plain(prefilled.target.percent(), 2)),
        volume_field,
        temp_field,
        with_field,
        field("uncertainty_pct", "right.uncertainty", &query.uncertainty_pct, sure),
    ]
}

/// What may be put in; water when it is too strong, salt when too weak, unless another was chosen.
fn means(visitor: &Visitor, prefilled: &Prefilled, query: &RightQuery, tank: &str) -> Vec<Choice> {
    let words = visitor.words;
    let weak = prefilled.strength.is_some_and(|(strength, _)| strength < prefilled.target);
    let usual = if weak { "salt" } else { "water" };
    let chosen = query.with.clone().unwrap_or_else(|| usual.to_string());
    let choice = |value: String, label: String| Choice { chosen: value == chosen, value, label };
    let mut means = vec![
        choice("water".into(), words.say("right.water").to_string()),
        choice("salt".into(), words.say("right.salt").to_string()),
    ];
    if weak {
        means.push(choice("plant".into(), words.say("right.plant").to_string()));
    }
    let yard = &visitor.app.yard;
    for other in yard.tanks_in_use().filter(|other| other.id != tank) {
        let product = yard.product(&other.product);
        let bought = product.filter(|product| !matches!(product.kind, ProductKind::SodiumChlorideBrine));
        let label = match bought {
            Some(product) => {
                words.fill("right.liquid-of", &[("product", &product.name), ("tank", &other.id)])
            }
            None => words.fill("right.from-tank", &[("tank", &other.id)]),
        };
        means.push(choice(format!("tank={}", other.id), label));
    }
    means
}

/// Reads what was asked; none when nothing was asked yet.
fn read(visitor: &Visitor, books: &Books, query: &RightQuery) -> Result<Option<Ask>, Vec<String>> {
    let Some(with) = &query.with else { return Ok(None) };
    let tank = chosen_tank(visitor, books, query);
    let prefilled = put_right::prefilled(&visitor.app.yard, books, &tank)
        .map_err(|error| vec![visitor.display.tell(&error.message())])?;
    let mut problems = Vec::new();
    let mut number = |name: &str, typed: &Option<String>| -> Option<f64> {
        let typed = typed.as_deref().map(str::trim).filter(|text| !text.is_empty())?;
        match entry::parse_number(typed) {
            Ok(number) => Some(number),
            Err((problem, accepted)) => {
                problems.push(parts::refusal(visitor, (name, typed), (&problem, &accepted)));
                None
            }
        }
    };
    let strength = number("strength_pct", &query.strength_pct);
    let target = number("target_pct", &query.target_pct);
    let uncertainty = number("uncertainty_pct", &query.uncertainty_pct);
    let volume = number("volume_gal", &query.volume_gal)
        .map(gallons)
        .or(number("volume_l", &query.volume_l).map(litres));
    let temperature =
        number("temp_f", &query.temp_f).map(fahrenheit).or(number("temp_c", &query.temp_c).map(celsius));
    let with_temperature = number("with_temp_f", &query.with_temp_f).map(fahrenheit).or(number(
        "with_temp_c",
        &query.with_temp_c,
    )
    .map(celsius));
    let with = match with.as_str() {
        "water" => Some(With::Water),
        "salt" => Some(With::Salt),
        "plant" => Some(With::Plant),
        other => other.strip_prefix("tank=").map(|tank| With::Tank(tank.to_string())),
    };
    if with.is_none() {
        problems.push(visitor.display.tell(&message!("console.with")));
    }
    let mut percent = |name: &str, value: Option<f64>| -> Option<MassFraction> {
        let value = value?;
        if 0.0 < value && value < 0.27 && name != "uncertainty_pct" {
            problems.push(visitor.display.tell(&message!(
                "console.looks-like-fraction",
                field = name,
                value = value,
                percent = value * 100.0
            )));
            return None;
        }
        MassFraction::from_percent(value)
            .map_err(|error| {
                problems.push(visitor.display.tell(&message!(
                    "console.field-error",
                    field = name,
                    error = &error
                )))
            })
            .ok()
    };
    let strength = percent("strength_pct", strength).or(prefilled.strength.map(|(strength, _)| strength));
    let target = percent("target_pct", target).unwrap_or(prefilled.target);
    let uncertainty = percent("uncertainty_pct", uncertainty).unwrap_or(prefilled.uncertainty);
    if strength.is_none() && problems.is_empty() {
        problems.push(visitor.words.say("right.unknown").to_string());
    }
    let (Some(strength), Some(with), true) = (strength, with, problems.is_empty()) else {
        return Err(problems);
    };
    Ok(Some(Ask {
        tank,
        volume: volume.unwrap_or(prefilled.volume),
        strength,
        uncertainty,
        temperature: temperature.unwrap_or(prefilled.temperature),
        target,
        with,
        with_temperature: with_temperature.unwrap_or(visitor.app.yard.plant.water_temperature),
    }))
}
