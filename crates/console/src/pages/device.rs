//! The units, language, clock and keys of a device, and the answer for addresses where nothing is.

use axum::Extension;
use axum::http::{Method, StatusCode, Uri, header};
use axum::response::{IntoResponse, Redirect, Response};
use report::Language;
use serde::Deserialize;

use crate::access::{Kept, path_below};
use crate::error::PageError;
use crate::extract::FormOf;
use crate::form_messages::bad_choice;
use crate::page_frame::Visitor;
use crate::ways::Ways;

/// What was chosen for this device, under the choice's own name, and where to go back to.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChoiceForm {
    #[serde(alias = "units", alias = "language", alias = "clock", alias = "keys")]
    chosen: String,
    back: String,
}

/// Keeps the units of this device.
pub(crate) async fn units(visitor: Visitor, FormOf(form): FormOf<ChoiceForm>) -> Result<Response, PageError> {
    keep(&visitor, Kept::Units, &form, ("units", &["us", "si"]))
}

/// Keeps the language of this device.
pub(crate) async fn language(
    visitor: Visitor,
    FormOf(form): FormOf<ChoiceForm>,
) -> Result<Response, PageError> {
    let tags: Vec<&str> = Language::ALL.iter().map(|language| language.tag()).collect();
    keep(&visitor, Kept::Language, &form, ("language", &tags))
}

/// Keeps the clock of this device.
pub(crate) async fn clock(visitor: Visitor, FormOf(form): FormOf<ChoiceForm>) -> Result<Response, PageError> {
    keep(&visitor, Kept::Clock, &form, ("clock", &["12", "24"]))
}

/// Keeps the number keys of this device.
pub(crate) async fn keys(visitor: Visitor, FormOf(form): FormOf<ChoiceForm>) -> Result<Response, PageError> {
    keep(&visitor, Kept::Keys, &form, ("keys", &["big", "own"]))
}

/// How long a device keeps a choice, s: a year.
const KEPT_SECONDS: i64 = 31_536_000;

/// Keeps a choice of this device for a year, and goes back to a page of this console.
fn keep(
    visitor: &Visitor,
    of: Kept,
    form: &ChoiceForm,
    (name, answers): (&'static str, &[&str]),
) -> Result<Response, PageError> {
    let chosen = form.chosen.as_str();
    if !answers.contains(&chosen) {
        return Err(PageError::bad_form(visitor, &bad_choice(name, chosen, answers.iter().copied())));
    }
    let is_ours = form.back.starts_with('/')
        && !form.back.starts_with("//")
        && form.back.chars().all(|c| c.is_ascii_graphic() && c != '\\');
    let back = if is_ours { form.back.as_str() } else { "/" };
    let cookie = of.put(&visitor.app, chosen, KEPT_SECONDS);
    Ok(([(header::SET_COOKIE, cookie)], Redirect::to(&visitor.app.url(back))).into_response())
}

/// A form's own address, opened or loaded anew: the page that the form stands on.
pub(crate) async fn back_to_page(
    visitor: Visitor,
    Extension(ways): Extension<Ways>,
    method: Method,
    uri: Uri,
) -> Response {
    let path = path_below(&visitor.app, uri.path());
    let mut parent = path;
    while let Some((shorter, _)) = parent.rsplit_once('/') {
        parent = if shorter.is_empty() { "/" } else { shorter };
        let has_page = (ways.act_of)(&Method::GET, parent).is_some();
        if has_page || parent == "/" {
            break;
        }
    }
    match method {
        Method::GET => Redirect::to(&visitor.app.url(parent)).into_response(),
        _ => StatusCode::METHOD_NOT_ALLOWED.into_response(),
    }
}

/// Nothing is at this address.
pub(crate) async fn missing(visitor: Visitor) -> PageError {
    PageError::missing(&visitor)
}
