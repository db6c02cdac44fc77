//! Rows of the people's file as values.

use jiff::Timestamp;
use rusqlite::types::Type;
use rusqlite::{Connection, Row};
use uuid::Uuid;

/// All rows of a query, each as read.
pub(super) fn all<T>(
    connection: &Connection,
    sql: &str,
    read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
) -> rusqlite::Result<Vec<T>> {
    let mut statement = connection.prepare_cached(sql)?;
    let found = statement.query_map([], read)?;
    found.collect()
}

fn read<T: std::str::FromStr>(text: &str) -> rusqlite::Result<T>
where
    T::Err: std::error::Error + Send + Sync + 'static,
{
    text.parse().map_err(|error| rusqlite::Error::FromSqlConversionFailure(0, Type::Text, Box::new(error)))
}

/// An id in a column.
pub(super) fn id(row: &Row<'_>, column: &str) -> rusqlite::Result<Uuid> {
    read(&row.get::<_, String>(column)?)
}

/// An id in a column, or none.
pub(super) fn maybe_id(row: &Row<'_>, column: &str) -> rusqlite::Result<Option<Uuid>> {
    row.get::<_, Option<String>>(column)?.map(|text| read(&text)).transpose()
}

/// A moment in a column.
pub(super) fn at(row: &Row<'_>, column: &str) -> rusqlite::Result<Timestamp> {
    read(&row.get::<_, String>(column)?)
}

/// A moment in a column, or none.
pub(super) fn maybe_at(row: &Row<'_>, column: &str) -> rusqlite::Result<Option<Timestamp>> {
    row.get::<_, Option<String>>(column)?.map(|text| read(&text)).transpose()
}
