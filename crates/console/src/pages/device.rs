//! How this device shows things, and addresses where nothing is.

use axum::http::header;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;

use crate::access::Act;
use crate::asked::Sent;
use crate::chrome::{UNITS_COOKIE, Visitor};
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
    // Only ever back to a page of our own.
    let is_ours = form.back.starts_with('/')
        && !form.back.starts_with("//")
        && form.back.chars().all(|c| c.is_ascii_graphic() && c != '\\');
    let back = if is_ours { form.back.as_str() } else { "/" };
    let path = if visitor.app.base_path.is_empty() { "/" } else { &visitor.app.base_path };
    let cookie =
        format!("{UNITS_COOKIE}={}; Path={path}; Max-Age=31536000; SameSite=Strict; HttpOnly", form.units);
    Ok(([(header::SET_COOKIE, cookie)], Redirect::to(&visitor.app.url(back))).into_response())
}

/// Nothing is at this address.
pub(crate) async fn missing(visitor: Visitor) -> PageError {
    PageError::missing(&visitor)
}
