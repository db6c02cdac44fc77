//! Refusals of requests that no page answers, as one line of text.

use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use jiff::tz::TimeZone;
use message::Message;
use report::{Display, Language, Words};
use site::UnitSystem;

/// A refusal of a request that is no page's: one line, in the first language that the browser wishes for.
pub(crate) fn refuse_plainly(headers: &HeaderMap, status: StatusCode, why: &Message) -> Response {
    let wished = headers.get(header::ACCEPT_LANGUAGE).and_then(|value| value.to_str().ok());
    let language = wished.and_then(Language::wished).unwrap_or_default();
    let display = Display::new(UnitSystem::Us, TimeZone::UTC).in_words(Words::of(language));
    (status, display.tell(why)).into_response()
}
