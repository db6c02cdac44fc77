//! Backups: when the last ones were made, whether anything is wrong with them, and one made now.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use report::Words;
use serde::Deserialize;

use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{PageFrame, Place, Visitor};

/// Copies that are listed.
const LISTED: usize = 14;

/// Whether one was just made.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct BackupQuery {
    made: Option<String>,
}

/// Nothing is asked but who, which is signed: whatever else comes along is left aside.
#[derive(Debug, Deserialize)]
pub(crate) struct NowForm {}

#[derive(Template)]
#[template(path = "backup.html")]
struct BackupPage {
    w: Words,
    c: PageFrame,
    title: String,
    /// Where copies go; none where none are made here.
    folder: Option<String>,
    trouble: Option<String>,
    problems: Vec<String>,
    made: Vec<String>,
    url: String,
}

/// Shows the page.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<BackupQuery>,
) -> Result<Html<String>, PageError> {
    let mut page = page(&visitor, Vec::new());
    page.c.saved = query.made.is_some().then(|| visitor.words.say("backup.made").to_owned());
    render(&visitor, &page)
}

/// Makes a copy now.
pub(crate) async fn now(
    visitor: Visitor,
    FormOf(NowForm {}): FormOf<NowForm>,
) -> Result<Response, PageError> {
    let app = std::sync::Arc::clone(&visitor.app);
    let made = tokio::task::spawn_blocking(move || app.back_up()).await;
    match made {
        Ok(Some(Ok(_))) => Ok(Redirect::to(&visitor.app.url("/backup?made=yes")).into_response()),
        Ok(Some(Err(why))) => {
            let page = page(&visitor, vec![visitor.display.tell(&why)]);
            Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
        }
        Ok(None) => Ok(Redirect::to(&visitor.app.url("/backup")).into_response()),
        Err(error) => Err(PageError::broken(&visitor, &error)),
    }
}

fn page(visitor: &Visitor, problems: Vec<String>) -> BackupPage {
    let (app, words, display) = (&visitor.app, visitor.words, &visitor.display);
    let title = words.say("backup.title").to_owned();
    let backup = app.backup.as_ref();
    let now = app.clock.now();
    BackupPage {
        c: PageFrame::new(visitor, Place::Elsewhere, &title, "/backup"),
        w: words,
        title,
        folder: backup
            .map(|backup| words.fill("backup.where", &[("folder", &backup.folder().display().to_string())])),
        trouble: backup.and_then(|backup| backup.trouble(&app.yard.alerts, now, &words, display)),
        problems,
        made: backup.map_or_else(Vec::new, |backup| {
            backup.made().into_iter().take(LISTED).map(|at| display.time(at)).collect()
        }),
        url: app.url("/backup"),
    }
}
