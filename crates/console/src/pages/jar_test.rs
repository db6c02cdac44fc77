//! A jar test: what was seen when two liquids were mixed in a jar and kept cold. The answer where nothing is predicted.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use event::JarResult;
use report::Words;
use serde::Deserialize;

use super::entry::Refused;
use super::parts::{self, Entered};
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{PageFrame, Place, Visitor};

/// Hours a jar is kept at least: common practice, no source.
const USUAL_HOURS: &str = "24";

/// For which tank, and what the last act recorded.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct JarQuery {
    tank: Option<String>,
    saved: Option<u64>,
}

/// A jar test as typed, in either system.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct JarForm {
    entry_id: String,
    author: String,
    tank: String,
    liquid_a: String,
    liquid_b: String,
    share_a_pct: String,
    temp_f: Option<String>,
    temp_c: Option<String>,
    duration_h: String,
    result: Option<String>,
    remark: String,
    #[serde(default)]
    at: String,
    confirm: Option<String>,
}

/// One of several to choose from.
struct Choice {
    value: String,
    label: String,
    chosen: bool,
}

#[derive(Template)]
#[template(path = "jar_test.html")]
struct JarPage {
    w: Words,
    c: PageFrame,
    page_url: String,
    entry_id: String,
    problems: Vec<String>,
    ask_confirm: Option<String>,
    tanks: Vec<Choice>,
    first: Vec<Choice>,
    second: Vec<Choice>,
    results: Vec<Choice>,
    form: JarForm,
    temp_label: String,
    temp_name: &'static str,
    temp: String,
}

/// Shows the form.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<JarQuery>,
) -> Result<Html<String>, PageError> {
    let yard = &visitor.app.yard;
    // The two liquids that would meet: the plant's own, and what the tank was made for.
    let tank = query.tank.as_deref().and_then(|tank| yard.tank(tank));
    let made = yard.plant.product.clone();
    let other = tank
        .map(|tank| tank.product.clone())
        .filter(|product| *product != made)
        .or_else(|| yard.products.iter().map(|product| product.id.clone()).find(|id| *id != made));
    let form = JarForm {
        tank: query.tank.clone().unwrap_or_default(),
        liquid_a: made,
        liquid_b: other.unwrap_or_default(),
        duration_h: USUAL_HOURS.into(),
        ..JarForm::default()
    };
    let mut page = page(&visitor, form, parts::entry_id(), Vec::new());
    let head = visitor.app.ledger.head().map_err(|error| PageError::store(&visitor, &error))?;
    let recorded = query.saved.filter(|seq| *seq <= head.seq);
    page.c.saved = recorded.map(|seq| visitor.words.fill("jar.saved", &[("seq", &seq.to_string())]));
    render(&visitor, &page)
}

/// Records a jar test, or shows the form again with what is wrong and everything that was typed.
pub(crate) async fn record(visitor: Visitor, FormOf(form): FormOf<JarForm>) -> Result<Response, PageError> {
    let (temp_name, temp) = match (&form.temp_f, &form.temp_c) {
        (Some(f), _) => ("temp_f", f.as_str()),
        (None, c) => ("temp_c", c.as_deref().unwrap_or_default()),
    };
    let fields = [
        ("tank", form.tank.as_str()),
        ("liquid_a", form.liquid_a.as_str()),
        ("liquid_b", form.liquid_b.as_str()),
        ("share_a_pct", form.share_a_pct.as_str()),
        (temp_name, temp),
        ("duration_h", form.duration_h.as_str()),
        ("result", form.result.as_deref().unwrap_or_default()),
        ("remark", form.remark.as_str()),
    ];
    let body = parts::read_entry(&visitor, ("jar_test", &form.entry_id), &fields, &form.author)?;
    let entered = Entered::new(&form.entry_id, &form.author, &form.at, form.confirm.as_ref());
    let seq = match parts::record_asked(&visitor, &entered, body).await? {
        Ok(seq) => seq,
        Err(Refused { problems, ask_confirm }) => {
            let id = form.entry_id.clone();
            let mut page = page(&visitor, form, id, problems);
            page.ask_confirm = ask_confirm;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response());
        }
    };
    let tank = crate::encoded::form_encoded(&form.tank);
    Ok(Redirect::to(&visitor.app.url(&format!("/jar-test?tank={tank}&saved={seq}"))).into_response())
}

fn page(visitor: &Visitor, form: JarForm, entry_id: String, problems: Vec<String>) -> JarPage {
    let (app, words, us) = (&visitor.app, visitor.words, visitor.is_us());
    let liquids = |chosen: &str| -> Vec<Choice> {
        let products = app.yard.products.iter();
        products
            .map(|product| Choice {
                value: product.id.clone(),
                label: product.name.clone(),
                chosen: product.id == chosen,
            })
            .collect()
    };
    let none = Choice {
        value: String::new(),
        label: words.say("jar.no-tank").to_string(),
        chosen: form.tank.is_empty(),
    };
    let tanks = app.yard.tanks_in_use().map(|tank| Choice {
        value: tank.id.clone(),
        label: tank.id.clone(),
        chosen: tank.id == form.tank,
    });
    let results = JarResult::ALL.iter().map(|result| Choice {
        value: result.to_string(),
        label: words.say(&format!("jar.{result}")).to_string(),
        chosen: form.result.as_deref() == Some(result.word()),
    });
    JarPage {
        c: PageFrame::new(visitor, Place::Elsewhere, words.say("jar.title"), "/jar-test"),
        w: words,
        page_url: app.url("/jar-test"),
        entry_id,
        problems,
        ask_confirm: None,
        tanks: std::iter::once(none).chain(tanks).collect(),
        first: liquids(&form.liquid_a),
        second: liquids(&form.liquid_b),
        results: results.collect(),
        temp_label: words.say(if us { "jar.temp-f" } else { "jar.temp-c" }).to_string(),
        temp_name: if us { "temp_f" } else { "temp_c" },
        temp: if us { form.temp_f.clone() } else { form.temp_c.clone() }.unwrap_or_default(),
        form,
    }
}
