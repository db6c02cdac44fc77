//! What a page says when it cannot do what was asked: what happened, what it means, what to do.

use std::fmt;

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use message::{Message, Tell, message};
use planner::PlanError;
use report::Words;
use store::StoreError;

use crate::field_messages;
use crate::page_frame::{PageFrame, Place, Visitor};

/// A refusal with its page.
pub(crate) struct PageError {
    status: StatusCode,
    html: String,
}

#[derive(Template)]
#[template(path = "error.html")]
struct ErrorPage {
    w: Words,
    c: PageFrame,
    what: String,
    detail: String,
    next: String,
}

impl PageError {
    fn new(visitor: &Visitor, status: StatusCode, key: &str, detail: Option<&Message>) -> Self {
        let w = visitor.words;
        let what = w.say(&format!("error.{key}")).to_string();
        let page = ErrorPage {
            c: PageFrame::new(visitor, Place::Elsewhere, &what, "/"),
            w,
            what,
            detail: detail.map_or_else(String::new, |detail| visitor.display.tell(detail)),
            next: w.say(&format!("error.{key}.next")).to_string(),
        };
        let html = page.render().unwrap_or_else(|_| status.to_string());
        Self { status, html }
    }

    /// The visitor's role does not allow it.
    pub(crate) fn refused(visitor: &Visitor) -> Self {
        Self::new(visitor, StatusCode::FORBIDDEN, "refused", None)
    }

    /// There is no page at this address.
    pub(crate) fn missing(visitor: &Visitor) -> Self {
        Self::new(visitor, StatusCode::NOT_FOUND, "missing", None)
    }

    /// The form's text cannot be used at all.
    pub(crate) fn bad_form(visitor: &Visitor, detail: &Message) -> Self {
        Self::new(visitor, StatusCode::BAD_REQUEST, "form", Some(detail))
    }

    /// No forecast is loaded: no fault, but nothing to plan on.
    pub(crate) fn no_forecast(visitor: &Visitor) -> Self {
        Self::new(visitor, StatusCode::OK, "no-forecast", None)
    }

    /// The form is longer than any form here.
    pub(crate) fn too_large(visitor: &Visitor) -> Self {
        Self::new(visitor, StatusCode::PAYLOAD_TOO_LARGE, "too-large", None)
    }

    /// A template or a task failed: a fault of ours. What the library says of it is shown as it is.
    pub(crate) fn broken(visitor: &Visitor, error: &impl fmt::Display) -> Self {
        Self::failed(visitor, &message!("console.fault", what = error.to_string()))
    }

    /// Something failed that must not; the detail is shown.
    pub(crate) fn failed(visitor: &Visitor, detail: &Message) -> Self {
        Self::new(visitor, StatusCode::INTERNAL_SERVER_ERROR, "broken", Some(detail))
    }

    /// The one table from the ledger's errors to what a visitor sees.
    pub(crate) fn store(visitor: &Visitor, error: &StoreError) -> Self {
        visitor.app.note_damage(error);
        let (status, key) = match error {
            StoreError::DiskFull => (StatusCode::INSUFFICIENT_STORAGE, "disk-full"),
            StoreError::InUse { .. } => (StatusCode::SERVICE_UNAVAILABLE, "busy"),
            StoreError::Damaged { .. }
            | StoreError::Unreadable { .. }
            | StoreError::Replaced { .. }
            | StoreError::NotALedger { .. } => (StatusCode::CONFLICT, "damaged"),
            StoreError::Conflict { .. } => (StatusCode::CONFLICT, "conflict"),
            StoreError::Void { .. } => (StatusCode::CONFLICT, "void"),
            StoreError::Taken { .. } => (StatusCode::CONFLICT, "taken"),
            StoreError::Newer { .. }
            | StoreError::Access { .. }
            | StoreError::NotTelemetry { .. }
            | StoreError::Database(_) => (StatusCode::INTERNAL_SERVER_ERROR, "store"),
        };
        Self::new(visitor, status, key, Some(&error.message()))
    }

    /// The forecast could not be planned on; the page says why.
    pub(crate) fn plan(visitor: &Visitor, error: &PlanError) -> Self {
        Self::new(visitor, StatusCode::UNPROCESSABLE_ENTITY, "plan", Some(&error.message()))
    }
}

impl IntoResponse for PageError {
    fn into_response(self) -> Response {
        (self.status, Html(self.html)).into_response()
    }
}

/// Renders a page; fields that were refused are marked on it.
pub(crate) fn render(visitor: &Visitor, page: &impl Template) -> Result<Html<String>, PageError> {
    let html = page.render().map_err(|error| PageError::broken(visitor, &error))?;
    Ok(Html(field_messages::placed(html, &visitor.wrong(), &visitor.words)))
}
