//! Whether the books close, what is to be doubted first, and closing a month.

use accounts::reconcile::{ReconcileError, reconcile};
use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use message::Tell;
use report::Words;
use serde::Deserialize;

use super::{Leaf, leaves, ledger, this_season};
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::entry::{self, Asks, Form, Refused, Typed};
use crate::pages::parts;
use crate::pages::table_view;
use crate::pages::table_view::TableView;

/// What the last act recorded.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct CloseQuery {
    saved: Option<u64>,
}

/// What closing a month asks.
pub(crate) const MONTH: Asks = Asks::of("month_close", &["month"]);

struct Named {
    cause: String,
    inspect: String,
}

#[derive(Template)]
#[template(path = "close.html")]
struct ClosePage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    title: String,
    is_act: bool,
    why: Vec<String>,
    suspects: Vec<Named>,
    tables: Vec<TableView>,
    closed: Vec<String>,
    form: Form,
}

/// Shows whether the books close.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<CloseQuery>,
) -> Result<Html<String>, PageError> {
    let mut page = page(&visitor, &Typed::new(), Refused::default())?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

/// Closes a month.
pub(crate) async fn close(visitor: Visitor, FormOf(typed): FormOf<Typed>) -> Result<Response, PageError> {
    match entry::record(&visitor, &MONTH, &typed).await? {
        Ok(seq) => Ok(Redirect::to(&visitor.app.url(&format!("/books/close?saved={seq}"))).into_response()),
        Err(refused) => {
            let page = page(&visitor, &typed, refused)?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
        }
    }
}

fn page(visitor: &Visitor, typed: &Typed, refused: Refused) -> Result<ClosePage, PageError> {
    let (app, words, teller) = (&visitor.app, visitor.words, visitor.teller());
    let whole = ledger(visitor)?;
    let journal = whole.journal(&app.yard);
    let found = reconcile(&journal, this_season(visitor, &journal));
    let mut form =
        entry::form(visitor, ("/books/close", "month", "close.close-month"), &MONTH, typed, refused)?;
    form.asks_time = false;
    let (title, is_act, why, suspects, tables) = match &found {
        Ok(found) => {
            let name = |suspect: &accounts::reconcile::Suspect| Named {
                cause: teller.cause(suspect),
                inspect: teller.what_to_inspect(&suspect.cause).to_owned(),
            };
            let [short, long] = teller.closes(found);
            let inspect = (!found.closes()).then(|| words.say("close.does-not-why").to_owned());
            (
                short,
                !found.closes(),
                std::iter::once(long).chain(inspect).collect(),
                found.suspects.iter().map(name).collect(),
                vec![table_view::table_view(visitor, &teller.left_over(found))],
            )
        }
        Err(ReconcileError::NoEvidence) => {
            let why = vec![words.say("close.no-evidence-why").to_owned()];
            (words.say("close.no-evidence").to_owned(), false, why, Vec::new(), Vec::new())
        }
        Err(ReconcileError::Network(error)) => (
            words.say("close.cannot").to_owned(),
            true,
            vec![visitor.display.tell(&error.message())],
            Vec::new(),
            Vec::new(),
        ),
    };
    let closed = journal.books.calendar.closed();
    let closed = closed.map(|(month, at)| {
        words.fill("close.closed", &[("month", month), ("at", &visitor.display.time(at))])
    });
    Ok(ClosePage {
        c: PageFrame::new(visitor, Place::Books, words.say("books.leaf-close"), "/books/close"),
        w: words,
        leaves: leaves(visitor, Leaf::Close),
        title,
        is_act,
        why,
        suspects,
        tables,
        closed: closed.collect(),
        form,
    })
}
