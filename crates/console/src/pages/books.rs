//! The books: season and storms, whether they close, lots, bills, the night plan; all on page, on paper and as files.

pub(crate) mod bills;
pub(crate) mod close;
pub(crate) mod lots;
pub(crate) mod night;
pub(crate) mod season;

use std::sync::Arc;

use accounts::{Journal, Period, WholeLedger};
use jiff::{SignedDuration, Timestamp};
use report::table::Table;

use crate::error::PageError;
use crate::form_messages::bad_field;
use crate::page_frame::{Link, Visitor};
use crate::pages::table_view;

/// Which of the pages.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Leaf {
    Season,
    Storms,
    Close,
    Lots,
    Bills,
    Salt,
    Meters,
    Night,
}

pub(crate) fn leaves(visitor: &Visitor, here: Leaf) -> Vec<Link> {
    let link = |key: &str, path: &str, leaf: Leaf| Link {
        label: visitor.words.say(key).to_string(),
        url: visitor.app.url(path),
        current: leaf == here,
    };
    vec![
        link("books.leaf-season", "/books", Leaf::Season),
        link("books.leaf-storms", "/books/storms", Leaf::Storms),
        link("books.leaf-close", "/books/close", Leaf::Close),
        link("books.leaf-lots", "/books/lots", Leaf::Lots),
        link("books.leaf-bills", "/books/bills", Leaf::Bills),
        link("books.leaf-salt", "/salt", Leaf::Salt),
        link("books.leaf-meters", "/meters", Leaf::Meters),
        link("books.leaf-night", "/night", Leaf::Night),
    ]
}

/// The whole ledger, for pages that sum over it.
pub(crate) fn ledger(visitor: &Visitor) -> Result<Arc<WholeLedger>, PageError> {
    visitor.app.whole_ledger().map_err(|error| PageError::store(visitor, &error))
}

/// From the beginning of the season to now: since it was said to begin, so that what was counted before is its opening;
/// else since the first entry.
pub(crate) fn this_season(visitor: &Visitor, journal: &Journal<'_>) -> Period {
    let now = visitor.app.clock.now();
    // What happens this very moment belongs to it.
    let until = now + SignedDuration::from_secs(1);
    let chores = &journal.books.chores;
    Period { from: chores.season_at.or(chores.first_at).unwrap_or(now), until }
}

/// First moment of a day as typed, 2027-01-14.
pub(crate) fn day(visitor: &Visitor, typed: &str) -> Result<Timestamp, PageError> {
    let problem = || PageError::bad_form(visitor, &bad_field(typed, "console.accepted.day"));
    let day: jiff::civil::Date = typed.trim().parse().map_err(|_| problem())?;
    visitor.app.zone.to_timestamp(day.at(0, 0, 0, 0)).map_err(|_| problem())
}

/// A day for a field of a form.
pub(crate) fn as_day(visitor: &Visitor, at: Timestamp) -> String {
    at.to_zoned_datetime(visitor.app.zone.clone()).strftime("%Y-%m-%d").to_string()
}

/// A moment for a field of a form.
pub(crate) fn as_moment(visitor: &Visitor, at: Timestamp) -> String {
    at.to_zoned_datetime(visitor.app.zone.clone()).strftime("%Y-%m-%d %H:%M").to_string()
}

/// Tables as the visitor reads them.
pub(crate) fn views(visitor: &Visitor, tables: &[Table]) -> Vec<table_view::TableView> {
    tables.iter().map(|table| table_view::table_view(visitor, table)).collect()
}
