//! How this device shows things, and addresses where nothing is.

use axum::http::header;
use axum::response::{IntoResponse, Redirect, Response};
use report::Language;
use serde::Deserialize;

use crate::access::Act;
use crate::asked::Sent;
use crate::chrome::{LANGUAGE_COOKIE, UNITS_COOKIE, Visitor};
use crate::error::PageError;

/// A choice of units, and where to go back to.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct UnitsForm {
    units: String,
    back: String,
}

/// Keeps the units of this device.
pub(crate) async fn units(visitor: Visitor, Sent(form): Sent<UnitsForm>) -> Result<Response, PageError> {
    visitor.may(Act::SetDevice)?;
    if !matches!(form.units.as_str(), "us" | "si") {
        let detail = format!("units = {}: accepted: us, si", form.units);
        return Err(PageError::bad_form(&visitor, detail));
    }
    Ok(kept(&visitor, UNITS_COOKIE, &form.units, &form.back))
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
    Sent(form): Sent<LanguageForm>,
) -> Result<Response, PageError> {
    visitor.may(Act::SetDevice)?;
    let Some(language) = Language::tagged(&form.language) else {
        let detail = format!("language = {}: accepted: en, es, fr", form.language);
        return Err(PageError::bad_form(&visitor, detail));
    };
    Ok(kept(&visitor, LANGUAGE_COOKIE, language.tag(), &form.back))
}

/// Keeps a wish of this device for a year, and goes back to a page of our own.
fn kept(visitor: &Visitor, name: &str, value: &str, back: &str) -> Response {
    let is_ours = back.starts_with('/')
        && !back.starts_with("//")
        && back.chars().all(|c| c.is_ascii_graphic() && c != '\\');
    let back = if is_ours { back } else { "/" };
    let path = if visitor.app.base_path.is_empty() { "/" } else { &visitor.app.base_path };
    let secure = if visitor.app.is_secure { "; Secure" } else { "" };
    let cookie = format!("{name}={value}; Path={path}; Max-Age=31536000; SameSite=Strict; HttpOnly{secure}");
    ([(header::SET_COOKIE, cookie)], Redirect::to(&visitor.app.url(back))).into_response()
}

/// Nothing is at this address.
pub(crate) async fn missing(visitor: Visitor) -> PageError {
    PageError::missing(&visitor)
}
