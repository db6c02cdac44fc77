//! Every route of the console, in one place, with what it asks of the visitor.

use std::sync::Arc;
use std::time::Instant;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request};
use axum::http::{HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};

use crate::access::Act;
use crate::pages;
use crate::state::App;
use crate::statics;

/// Largest form, bytes: a form here is a handful of short fields.
const LARGEST_FORM: usize = 64 * 1024;

/// Method, path and act of every route that is authorised; the tests go through all of them.
pub const AUTHORISED: &[(&str, &str, Act)] = &[
    ("GET", "/", Act::Look),
    ("GET", "/storm", Act::Look),
    ("GET", "/tanks", Act::Look),
    ("POST", "/tanks/dip", Act::Record),
    ("GET", "/ledger", Act::Look),
    ("POST", "/ledger/note", Act::Record),
    ("POST", "/ledger/void", Act::TakeBack),
    ("POST", "/units", Act::SetDevice),
    ("GET", "/look", Act::Look),
];

/// The console as a service.
pub fn router(app: Arc<App>) -> Router {
    let base = app.base_path.clone();
    let pages = Router::new()
        .route("/", get(pages::today::show))
        .route("/storm", get(pages::storm::show))
        .route("/tanks", get(pages::tanks::show))
        .route("/tanks/dip", post(pages::tanks::dip))
        .route("/ledger", get(pages::ledger::show))
        .route("/ledger/note", post(pages::ledger::note))
        .route("/ledger/void", post(pages::ledger::void))
        .route("/units", post(pages::device::units))
        .route("/look", get(pages::look::show))
        // Open to anyone: they hold nothing of the yard.
        .route("/static/{version}/{name}", get(statics::serve))
        .route("/health", get(async || "ok"))
        .fallback(pages::device::missing)
        .with_state(app);
    let pages = if base.is_empty() { pages } else { Router::new().nest(&base, pages) };
    pages
        .layer(DefaultBodyLimit::max(LARGEST_FORM))
        .layer(middleware::from_fn(same_origin))
        .layer(middleware::from_fn(headers))
}

/// A form may only come from our own pages: a browser names the page's origin, and it must be the host asked.
async fn same_origin(request: Request, next: Next) -> Response {
    if request.method() == Method::POST {
        let text = |name: HeaderName| request.headers().get(name).and_then(|value| value.to_str().ok());
        let host = text(header::HOST).unwrap_or("");
        let origin = text(header::ORIGIN).map(|o| o.rsplit_once("//").map_or(o, |(_, host)| host));
        if origin.is_some_and(|origin| origin != host) {
            return (StatusCode::FORBIDDEN, "this form came from another site").into_response();
        }
    }
    next.run(request).await
}

/// Headers of every answer: nothing from outside, nothing inline, and how long it took.
async fn headers(request: Request, next: Next) -> Response {
    let begun = Instant::now();
    let mut response = next.run(request).await;
    let took = format!("app;dur={:.2}", begun.elapsed().as_secs_f64() * 1000.0);
    let headers = response.headers_mut();
    let fixed = [
        (
            "content-security-policy",
            "default-src 'none'; style-src 'self'; script-src 'self'; font-src 'self'; img-src 'self'; connect-src 'self'; \
             form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
        ),
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
    ];
    for (name, value) in fixed {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    if !headers.contains_key(header::CACHE_CONTROL) {
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
    if let Ok(value) = HeaderValue::from_str(&took) {
        headers.insert(HeaderName::from_static("server-timing"), value);
    }
    response
}
