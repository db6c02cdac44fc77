//! What is found with a balance and an oven, or a burette: strength by drying or titration, moisture of the salt pile.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use bench::measure::Measured;
use bench::wet_methods::{by_drying, by_titration, moisture};
use event::{Body, Note, Reading, SamplePoint};
use message::{Tell, message};
use report::Words;
use report::display::number;
use serde::Deserialize;

use super::sample::{brine_tanks, in_a_word};
use super::{Leaf, leaves};
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::entry::Refused;
use crate::pages::parts::{self, Entered};

/// Smallest steps of a balance, g, and a burette, mL, when nothing else is said.
const BALANCE_GRAMS: &str = "0.01";
const BURETTE_ML: &str = "0.05";
/// Methods with their fields, in the order they are typed.
const METHODS: [(&str, &[&str]); 3] = [
    ("drying", &["sample_g", "residue_g", "step"]),
    ("titration", &["nitrate_ml", "molar", "portion_g", "step"]),
    ("moisture", &["wet_g", "dry_g"]),
];

/// What was asked, as typed; and in the record of it, who says so.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct LabQuery {
    tank: Option<String>,
    method: Option<String>,
    sample_g: Option<String>,
    residue_g: Option<String>,
    nitrate_ml: Option<String>,
    molar: Option<String>,
    portion_g: Option<String>,
    wet_g: Option<String>,
    dry_g: Option<String>,
    step: Option<String>,
    saved: Option<u64>,
    entry_id: Option<String>,
    author: Option<String>,
    at: Option<String>,
    confirm: Option<String>,
}

struct FieldView {
    name: &'static str,
    label: String,
    value: String,
}

struct MethodView {
    link: Link,
    value: &'static str,
    fields: Vec<FieldView>,
}

/// What was found.
enum Found {
    Strength(Box<Measured>),
    Moisture(f64),
}

#[derive(Template)]
#[template(path = "bench_lab.html")]
struct LabPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    page_url: String,
    methods: Vec<Link>,
    method: MethodView,
    tanks: Vec<Link>,
    tank: String,
    needs_tank: bool,
    how: String,
    answer: Option<String>,
    problems: Vec<String>,
    record_problems: Vec<String>,
    ask_confirm: Option<String>,
    entry_id: String,
    author: String,
    at: String,
}

/// Shows the form, and what follows from what was typed.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<LabQuery>,
) -> Result<Html<String>, PageError> {
    let mut page = page(&visitor, &query);
    let head = visitor.app.ledger.head().map_err(|error| PageError::store(&visitor, &error))?;
    let recorded = query.saved.filter(|seq| *seq <= head.seq);
    page.c.saved = recorded.map(|seq| visitor.words.fill("bench.logged", &[("seq", &seq.to_string())]));
    render(&visitor, &page)
}

/// Logs it: a strength as a reading, moisture as a note.
pub(crate) async fn record(visitor: Visitor, FormOf(query): FormOf<LabQuery>) -> Result<Response, PageError> {
    let (id, author) = (query.entry_id.clone().unwrap_or_default(), query.author.clone().unwrap_or_default());
    let again = |problems: Vec<String>, ask_confirm: Option<String>| {
        let mut page = page(&visitor, &query);
        page.record_problems = problems;
        page.ask_confirm = ask_confirm;
        page.entry_id.clone_from(&id);
        page.author.clone_from(&author);
        Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
    };
    let Ok(Some(found)) = found(&visitor, &query) else { return again(Vec::new(), None) };
    let at = query.at.as_deref().unwrap_or_default();
    let (method, tank) = (method(&query).0, tank(&visitor, &query));
    let rounded = |value: f64| (1000.0 * value).round() / 1000.0;
    let body = match &found {
        Found::Strength(found) => Body::Reading(Reading {
            tank: super::sample::tank_of(&tank),
            strength_pct: rounded(found.brine.strength().percent()),
            uncertainty_pct: Some(rounded(found.expanded.half_width)),
            temp_c: None,
            instrument: Some(method.to_string()),
            level: super::sample::tank_of(&tank).is_none().then_some(SamplePoint::PlantTap),
            occasion: None,
            shown: Some(typed(&query, method)),
            scale: None,
            doubt: None,
            sample: None,
        }),
        Found::Moisture(_) => Body::Note(Note { text: told(&visitor, &query, &found) }),
    };
    let body = parts::read_made(&visitor, &id, &body, &author)?;
    let entered = Entered::new(&id, &author, at, query.confirm.as_ref());
    let seq = match parts::record_asked(&visitor, &entered, body).await? {
        Ok(seq) => seq,
        Err(Refused { problems, ask_confirm }) => return again(problems, ask_confirm),
    };
    let url = format!("/bench/lab?method={method}&tank={}&saved={seq}", crate::encoded::form_encoded(&tank));
    Ok(Redirect::to(&visitor.app.url(&url)).into_response())
}

fn method(query: &LabQuery) -> (&'static str, &'static [&'static str]) {
    let asked = query.method.as_deref().unwrap_or_default();
    METHODS.into_iter().find(|(name, _)| *name == asked).unwrap_or(METHODS[0])
}

fn tank(visitor: &Visitor, query: &LabQuery) -> String {
    query.tank.clone().or_else(|| brine_tanks(visitor).into_iter().next()).unwrap_or_default()
}

fn value<'a>(query: &'a LabQuery, name: &str) -> &'a str {
    let field = match name {
        "sample_g" => &query.sample_g,
        "residue_g" => &query.residue_g,
        "nitrate_ml" => &query.nitrate_ml,
        "molar" => &query.molar,
        "portion_g" => &query.portion_g,
        "wet_g" => &query.wet_g,
        "dry_g" => &query.dry_g,
        _ => &query.step,
    };
    field.as_deref().map_or("", str::trim)
}

/// The numbers as typed, for the ledger.
fn typed(query: &LabQuery, asked: &str) -> String {
    let fields = METHODS.into_iter().find(|(name, _)| *name == asked).map_or(&[][..], |(_, fields)| fields);
    fields.iter().map(|name| format!("{name} {}", value(query, name))).collect::<Vec<_>>().join(", ")
}

/// What follows from what was typed; none when nothing was typed yet.
fn found(visitor: &Visitor, query: &LabQuery) -> Result<Option<Found>, Vec<String>> {
    let (method, fields) = method(query);
    if fields.iter().filter(|name| **name != "step").all(|name| value(query, name).is_empty()) {
        return Ok(None);
    }
    let mut problems = Vec::new();
    let mut number_of = |name: &str| {
        let text = match (name, value(query, name)) {
            ("step", "") => {
                if method == "drying" {
                    BALANCE_GRAMS
                } else {
                    BURETTE_ML
                }
            }
            (_, text) => text,
        };
        entry::parse_number(text)
            .map_err(|(what, accepted)| {
                problems.push(parts::refusal(visitor, (name, text), (&what, &accepted)))
            })
            .unwrap_or(f64::NAN)
    };
    let numbers: Vec<f64> = fields.iter().map(|name| number_of(name)).collect();
    let tank = tank(visitor, query);
    if method != "moisture" && !brine_tanks(visitor).contains(&tank) {
        let accepted = brine_tanks(visitor).join(", ");
        problems.push(visitor.display.tell(&message!(
            "console.no-own-brine",
            tank = &tank,
            accepted = accepted
        )));
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let answer = match numbers.as_slice() {
        [sample, residue, step] => {
            by_drying(*sample, *residue, *step).map(|one| Found::Strength(Box::new(one)))
        }
        [ml, molar, portion, step] => {
            by_titration(*ml, *molar, *portion, *step).map(|one| Found::Strength(Box::new(one)))
        }
        [wet, dry] => moisture(*wet, *dry).map(|share| Found::Moisture(share.percent())),
        _ => return Ok(None),
    };
    answer.map(Some).map_err(|error| vec![format!("{}.", visitor.display.tell(&error.message()))])
}

/// The answer in a sentence.
fn told(visitor: &Visitor, query: &LabQuery, found: &Found) -> String {
    match found {
        Found::Strength(found) => {
            let u = found.budget.combined();
            let word = in_a_word(visitor, &tank(visitor, query), found.brine.strength().percent(), u);
            let values = [
                ("strength", &*number(found.brine.strength().percent(), 2)),
                ("within", &number(found.expanded.half_width, 2)),
                ("word", word.unwrap_or_default()),
            ];
            visitor.words.fill("lab.strength", &values)
        }
        Found::Moisture(percent) => {
            visitor.words.fill("lab.moisture-is", &[("percent", &number(*percent, 1))])
        }
    }
}

fn page(visitor: &Visitor, query: &LabQuery) -> LabPage {
    let (app, words) = (&visitor.app, visitor.words);
    let (chosen, fields) = method(query);
    let here = tank(visitor, query);
    let link = |name: &str, tank: &str, label: String, current: bool| Link {
        url: app.url(&format!("/bench/lab?method={name}&tank={}", crate::encoded::form_encoded(tank))),
        label,
        current,
    };
    let named = |name: &str| words.say(&format!("lab.{name}")).to_string();
    let methods =
        METHODS.iter().map(|(name, _)| link(name, &here, named(name), *name == chosen)).collect::<Vec<_>>();
    let (answer, problems) = match found(visitor, query) {
        Ok(found) => (found.map(|found| told(visitor, query, &found)), Vec::new()),
        Err(problems) => (None, problems),
    };
    LabPage {
        c: PageFrame::new(visitor, Place::Bench, words.say("lab.title"), "/bench/lab"),
        w: words,
        leaves: leaves(visitor, Leaf::Lab),
        page_url: app.url("/bench/lab"),
        methods,
        method: MethodView {
            link: link(chosen, &here, named(chosen), true),
            value: chosen,
            fields: fields
                .iter()
                .map(|name| FieldView {
                    name,
                    label: if *name == "step" {
                        words.say(&format!("lab-step.{chosen}")).to_string()
                    } else {
                        named(name)
                    },
                    value: value(query, name).to_string(),
                })
                .collect(),
        },
        tanks: brine_tanks(visitor).into_iter().map(|id| link(chosen, &id, id.clone(), id == here)).collect(),
        tank: here,
        needs_tank: chosen != "moisture",
        how: words.say(&format!("lab-how.{chosen}")).to_string(),
        answer,
        problems,
        record_problems: Vec::new(),
        ask_confirm: None,
        entry_id: parts::entry_id(),
        author: String::new(),
        at: query.at.clone().unwrap_or_default(),
    }
}
