//! How a device comes to trust the yard's own certificates, step by step.

use askama::Template;
use axum::Extension;
use axum::extract::OriginalUri;
use axum::http::{HeaderMap, header};
use axum::response::{Html, IntoResponse, Response};
use report::Words;

use crate::error::{PageError, render};
use crate::page_frame::{PageFrame, Place, Visitor};

/// Port of the encrypted console, for a page that is shown beside it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SecurePort(pub(crate) u16);

struct SystemView {
    name: String,
    steps: Vec<String>,
}

#[derive(Template)]
#[template(path = "trust.html")]
struct TrustPage {
    w: Words,
    c: PageFrame,
    title: String,
    certificate_url: String,
    fingerprint: String,
    systems: Vec<SystemView>,
    then_url: String,
}

/// Systems with how many steps each has.
const SYSTEMS: [(&str, usize); 4] = [("android", 4), ("ipad", 5), ("windows", 4), ("firefox", 3)];

/// Shows it on the encrypted console, for a device that came past its browser's warning.
pub(crate) async fn show(visitor: Visitor) -> Result<Html<String>, PageError> {
    let url = |path: &str| visitor.app.url(path);
    let page = page(&visitor, url("/trust/authority.crt"), url("/enrol"))?;
    render(&visitor, &page)
}

/// Shows it without encryption.
pub(crate) async fn show_plain(
    visitor: Visitor,
    Extension(SecurePort(port)): Extension<SecurePort>,
    headers: HeaderMap,
    OriginalUri(_): OriginalUri,
) -> Result<Html<String>, PageError> {
    let host = headers.get(header::HOST).and_then(|value| value.to_str().ok()).unwrap_or("localhost");
    // The name this page was asked by, on the other port. An address of version 6 stands in brackets.
    let name =
        host.rsplit_once(':').filter(|(_, port)| port.parse::<u16>().is_ok()).map_or(host, |(name, _)| name);
    let then = format!("https://{name}:{port}{}", visitor.app.url("/enrol"));
    let page = page(&visitor, "/trust/authority.crt".to_owned(), then)?;
    render(&visitor, &page)
}

fn page(visitor: &Visitor, certificate_url: String, then_url: String) -> Result<TrustPage, PageError> {
    let Some(authority) = &visitor.app.authority else { return Err(PageError::missing(visitor)) };
    let w = visitor.words;
    let system = |(name, steps): &(&str, usize)| SystemView {
        name: w.say(&format!("trust.{name}")).to_owned(),
        steps: (1..=*steps).map(|step| w.say(&format!("trust.{name}.{step}")).to_owned()).collect(),
    };
    let title = w.say("trust.title").to_owned();
    Ok(TrustPage {
        c: PageFrame::new(visitor, Place::Door, &title, "/trust"),
        w,
        title,
        certificate_url,
        fingerprint: authority.fingerprint.clone(),
        systems: SYSTEMS.iter().map(system).collect(),
        then_url,
    })
}

/// Hands the authority's certificate out: it is public.
pub(crate) async fn certificate(visitor: Visitor) -> Result<Response, PageError> {
    let Some(authority) = &visitor.app.authority else { return Err(PageError::missing(&visitor)) };
    let headers = [
        (header::CONTENT_TYPE, "application/x-x509-ca-cert"),
        (header::CONTENT_DISPOSITION, "attachment; filename=\"yard-authority.crt\""),
    ];
    Ok((headers, authority.certificate.clone()).into_response())
}
