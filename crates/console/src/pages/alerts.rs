//! What stands that somebody must know, who has seen it, and how word of it goes out.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use report::Words;
use serde::Deserialize;

use crate::alerts::standing;
use crate::error::{PageError, render};
use crate::extract::FormOf;
use crate::page_frame::{PageFrame, Place, Visitor};

struct AlertView {
    key: String,
    text: String,
    url: String,
    lines: Vec<String>,
    is_seen: bool,
}

#[derive(Template)]
#[template(path = "alerts.html")]
struct AlertsPage {
    w: Words,
    c: PageFrame,
    title: String,
    ways: String,
    failed: Option<String>,
    problems: Vec<String>,
    alerts: Vec<AlertView>,
    asks: bool,
    url: String,
}

/// Why word did not get through, by every way that failed.
fn failed(visitor: &Visitor) -> Option<String> {
    let failed = visitor.app.outbox.failed();
    let told: Vec<String> = failed.iter().map(|what| visitor.display.tell(what)).collect();
    (!told.is_empty()).then(|| visitor.words.fill("alerts.failed", &[("what", &told.join("; "))]))
}

/// Somebody has seen one.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SeenForm {
    key: String,
    author: String,
}

/// Shows what stands.
pub(crate) async fn show(visitor: Visitor) -> Result<Html<String>, PageError> {
    render(&visitor, &page(&visitor, Vec::new())?)
}

fn page(visitor: &Visitor, problems: Vec<String>) -> Result<AlertsPage, PageError> {
    let store = |error| PageError::store(visitor, &error);
    let (app, w, d) = (&visitor.app, visitor.words, &visitor.display);
    let standing = standing(app, &w, d).map_err(store)?;
    let rows = match &app.people {
        Some(people) => people.file().alerts().map_err(store)?,
        None => Vec::new(),
    };
    let view = |alert: &crate::alerts::Alert| {
        let row = rows.iter().find(|row| row.key == alert.key);
        let line = |key: &str, at: Option<jiff::Timestamp>| at.map(|at| w.fill(key, &[("at", &d.time(at))]));
        let seen = row.and_then(|row| {
            let values = [("who", row.seen_by.clone()?), ("at", d.time(row.seen_at?))];
            Some(w.fill_with("alerts.seen", &values))
        });
        let is_seen = seen.is_some();
        let since = row.and_then(|row| line("alerts.since", Some(row.since)));
        let told = row.and_then(|row| line("alerts.told", row.told_at()));
        AlertView {
            key: alert.key.clone(),
            text: alert.text.clone(),
            url: app.url(alert.path),
            lines: since.into_iter().chain(told).chain(seen).collect(),
            is_seen,
        }
    };
    let way = &app.yard.alerts;
    let mail = way.mail.as_ref().map(|mail| w.fill("alerts.by-mail", &[("to", &mail.to.join(", "))]));
    let hook = way.webhook.as_ref().map(|_| w.say("alerts.by-hook").to_owned());
    let ways: Vec<String> = mail.into_iter().chain(hook).collect();
    let ways = if ways.is_empty() { w.say("alerts.by-none").to_owned() } else { ways.join("; ") };
    let title = match standing.len() {
        0 => w.say("alerts.none").to_owned(),
        count => w.fill("alerts.title", &[("count", &count.to_string())]),
    };
    Ok(AlertsPage {
        c: PageFrame::new(visitor, Place::Elsewhere, &title, "/alerts"),
        w,
        title,
        ways: w.fill("alerts.ways", &[("ways", &ways)]),
        failed: failed(visitor),
        problems,
        alerts: standing.iter().map(view).collect(),
        asks: app.people.is_some(),
        url: app.url("/alerts"),
    })
}

/// Somebody has seen one: it is not told again while it stands.
pub(crate) async fn seen(visitor: Visitor, FormOf(form): FormOf<SeenForm>) -> Result<Response, PageError> {
    let store = |error| PageError::store(&visitor, &error);
    if let Some(problem) = super::parts::author_problem(&visitor, &form.author) {
        let page = page(&visitor, vec![problem])?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response());
    }
    let Some(people) = &visitor.app.people else { return Err(PageError::missing(&visitor)) };
    let now = visitor.app.clock.now();
    // What stands may have risen since the last look.
    let standing = standing(&visitor.app, &visitor.words, &visitor.display).map_err(store)?;
    crate::alerts::keep(people, &standing, now).map_err(store)?;
    if !people.file().alert_seen(&form.key, form.author.trim(), now).map_err(store)? {
        let page = page(&visitor, vec![visitor.words.say("alerts.gone").to_owned()])?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response());
    }
    Ok(Redirect::to(&visitor.app.url("/alerts")).into_response())
}
