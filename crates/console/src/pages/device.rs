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

/// A choice of units, and where to go back to.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct UnitsForm {
    units: String,
    back: String,
}

/// Keeps the units of this device.
pub(crate) async fn units(visitor: Visitor, FormOf(form): FormOf<UnitsForm>) -> Result<Response, PageError> {
    if !matches!(form.units.as_str(), "us" | "si") {
        return Err(PageError::bad_form(&visitor, &bad_choice("units", form.units.as_str(), ["us", "si"])));
    }
    Ok(kept(&visitor, Kept::Units, &form.units, &form.back))
}

/// A choice of language, and where to go back to.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct LanguageForm {
    language: String,
    back: String,
}

/// Keeps the language of this device.
pub(crate) async fn language(
    visitor: Visitor,
    FormOf(form): FormOf<LanguageForm>,
) -> Result<Response, PageError> {
    let Some(language) = Language::tagged(&form.language) else {
        let tags = Language::ALL.iter().map(|language| language.tag());
        return Err(PageError::bad_form(&visitor, &bad_choice("language", form.language.as_str(), tags)));
    };
    Ok(kept(&visitor, Kept::Language, language.tag(), &form.back))
}

/// A choice of clock, and where to go back to.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ClockForm {
    clock: String,
    back: String,
}

/// Keeps the clock of this device.
pub(crate) async fn clock(visitor: Visitor, FormOf(form): FormOf<ClockForm>) -> Result<Response, PageError> {
    if !matches!(form.clock.as_str(), "12" | "24") {
        return Err(PageError::bad_form(&visitor, &bad_choice("clock", form.clock.as_str(), ["12", "24"])));
    }
    Ok(kept(&visitor, Kept::Clock, &form.clock, &form.back))
}

/// A choice of number keys, and where to go back to.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct KeysForm {
    keys: String,
    back: String,
}

/// Keeps the number keys of this device.
pub(crate) async fn keys(visitor: Visitor, FormOf(form): FormOf<KeysForm>) -> Result<Response, PageError> {
    if !matches!(form.keys.as_str(), "big" | "own") {
        return Err(PageError::bad_form(&visitor, &bad_choice("keys", form.keys.as_str(), ["big", "own"])));
    }
    Ok(kept(&visitor, Kept::Keys, &form.keys, &form.back))
}

/// How long a device keeps its units or language, s: a year.
const KEPT_SECONDS: i64 = 31_536_000;

/// Keeps a choice of this device for a year, and goes back to a page of this console.
fn kept(visitor: &Visitor, of: Kept, value: &str, back: &str) -> Response {
    let is_ours = back.starts_with('/')
        && !back.starts_with("//")
        && back.chars().all(|c| c.is_ascii_graphic() && c != '\\');
    let back = if is_ours { back } else { "/" };
    let cookie = of.put(&visitor.app, value, KEPT_SECONDS);
    ([(header::SET_COOKIE, cookie)], Redirect::to(&visitor.app.url(back))).into_response()
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
