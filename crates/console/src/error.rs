//! What a page says when it cannot do what was asked: what happened, what it means, what to do.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use planner::PlanError;
use report::Words;
use store::StoreError;

use crate::chrome::{Chrome, Place, Visitor};

/// A refusal with its page.
pub(crate) struct PageError {
    status: StatusCode,
    html: String,
}

#[derive(Template)]
#[template(path = "error.html")]
struct ErrorPage {
    w: Words,
    c: Chrome,
    what: String,
    detail: String,
    next: String,
}

impl PageError {
    fn new(visitor: &Visitor, status: StatusCode, key: &str, detail: String) -> Self {
        let w = visitor.words;
        let what = w.say(&format!("error.{key}")).to_string();
        let page = ErrorPage {
            c: Chrome::new(visitor, Place::Elsewhere, &what, "/"),
            w,
            what,
            detail: w.retell(&detail),
            next: w.say(&format!("error.{key}.next")).to_string(),
        };
        let html = page.render().unwrap_or_else(|_| status.to_string());
        Self { status, html }
    }

    /// The visitor may not.
    pub(crate) fn refused(visitor: &Visitor) -> Self {
        Self::new(visitor, StatusCode::FORBIDDEN, "refused", String::new())
    }

    /// Nothing is there.
    pub(crate) fn missing(visitor: &Visitor) -> Self {
        Self::new(visitor, StatusCode::NOT_FOUND, "missing", String::new())
    }

    /// The form's text cannot be used at all.
    pub(crate) fn bad_form(visitor: &Visitor, detail: String) -> Self {
        Self::new(visitor, StatusCode::BAD_REQUEST, "form", detail)
    }

    /// No forecast is loaded: no fault, but nothing to plan on.
    pub(crate) fn no_forecast(visitor: &Visitor) -> Self {
        Self::new(visitor, StatusCode::OK, "no-forecast", String::new())
    }

    /// The form is longer than any form here.
    pub(crate) fn too_large(visitor: &Visitor) -> Self {
        Self::new(visitor, StatusCode::PAYLOAD_TOO_LARGE, "too-large", String::new())
    }

    /// A template failed: a fault of ours.
    pub(crate) fn broken(visitor: &Visitor, detail: String) -> Self {
        Self::new(visitor, StatusCode::INTERNAL_SERVER_ERROR, "broken", detail)
    }

    /// The one table from the ledger's errors to what a visitor sees.
    pub(crate) fn store(visitor: &Visitor, error: &StoreError) -> Self {
        let (status, key) = match error {
            StoreError::DiskFull => (StatusCode::INSUFFICIENT_STORAGE, "disk-full"),
            StoreError::InUse { .. } => (StatusCode::SERVICE_UNAVAILABLE, "busy"),
            StoreError::Damaged { .. } | StoreError::Unreadable { .. } | StoreError::NotALedger { .. } => {
                (StatusCode::CONFLICT, "damaged")
            }
            StoreError::Conflict { .. } => (StatusCode::CONFLICT, "conflict"),
            StoreError::Void { .. } => (StatusCode::CONFLICT, "void"),
            StoreError::Taken { .. } => (StatusCode::CONFLICT, "taken"),
            StoreError::Newer { .. }
            | StoreError::Access { .. }
            | StoreError::NotTelemetry { .. }
            | StoreError::Database(_) => (StatusCode::INTERNAL_SERVER_ERROR, "store"),
        };
        Self::new(visitor, status, key, error.to_string())
    }

    /// No plan.
    pub(crate) fn plan(visitor: &Visitor, error: &PlanError) -> Self {
        Self::new(visitor, StatusCode::UNPROCESSABLE_ENTITY, "plan", error.to_string())
    }
}

impl IntoResponse for PageError {
    fn into_response(self) -> Response {
        (self.status, Html(self.html)).into_response()
    }
}

/// Renders a page.
pub(crate) fn render(visitor: &Visitor, page: &impl Template) -> Result<Html<String>, PageError> {
    page.render().map(Html).map_err(|error| PageError::broken(visitor, error.to_string()))
}
