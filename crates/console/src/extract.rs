//! Reads what a request brings into a type. What cannot be read is answered with a full page, not a bare line.

use std::sync::Arc;

use axum::extract::{Form, FromRequest, FromRequestParts, Query, Request};
use axum::http::request::Parts;
use serde::de::DeserializeOwned;

use crate::error::PageError;
use crate::form_messages::unreadable;
use crate::page_frame::Visitor;
use crate::state::App;

/// Start of the part of a form's address that names the row to fill it in from.
const AGAIN: &str = "again=";

/// The part of an address after the question mark.
pub(crate) struct QueryOf<T>(pub(crate) T);

impl<T: DeserializeOwned> FromRequestParts<Arc<App>> for QueryOf<T> {
    type Rejection = PageError;

    async fn from_request_parts(parts: &mut Parts, app: &Arc<App>) -> Result<Self, Self::Rejection> {
        let Ok(visitor) = Visitor::from_request_parts(parts, app).await;
        // Every form takes the row whose figures it is to hold, and reads it itself.
        let pairs = parts.uri.query().unwrap_or_default().split('&');
        let rest: Vec<&str> = pairs.filter(|pair| !pair.starts_with(AGAIN)).collect();
        let uri = format!("/?{}", rest.join("&")).parse().unwrap_or_else(|_| parts.uri.clone());
        Query::<T>::try_from_uri(&uri)
            .map(|Query(asked)| Self(asked))
            .map_err(|error| PageError::bad_form(&visitor, &unreadable(&error.body_text())))
    }
}

/// The body of a form, read into a type.
pub(crate) struct FormOf<T>(pub(crate) T);

impl<T: DeserializeOwned> FromRequest<Arc<App>> for FormOf<T> {
    type Rejection = PageError;

    async fn from_request(request: Request, app: &Arc<App>) -> Result<Self, Self::Rejection> {
        let (mut parts, body) = request.into_parts();
        let Ok(visitor) = Visitor::from_request_parts(&mut parts, app).await;
        Form::<T>::from_request(Request::from_parts(parts, body), app)
            .await
            .map(|Form(typed)| Self(typed))
            .map_err(|error| match error.status() {
                axum::http::StatusCode::PAYLOAD_TOO_LARGE => PageError::too_large(&visitor),
                _ => PageError::bad_form(&visitor, &unreadable(&error.body_text())),
            })
    }
}
