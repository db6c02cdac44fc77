//! Rows of the ledger as they lie in its table.

use rusqlite::{Connection, OptionalExtension};

use crate::chain::Hash;
use crate::{Head, Row};

pub(super) const COLUMNS: &str =
    "seq, id, kind, version, occurred_at, recorded_at, author, device, body, previous, hash";

pub(super) fn read_head(connection: &Connection) -> rusqlite::Result<Head> {
    let last = connection
        .prepare_cached("select seq, hash from event order by seq desc limit 1")?
        .query_row([], |row| Ok(Head { seq: row.get::<_, i64>(0)? as u64, hash: blob(row, 1)? }))
        .optional()?;
    Ok(last.unwrap_or(Head { seq: 0, hash: Hash::ORIGIN }))
}

pub(super) fn read_row(
    connection: &Connection,
    condition: &'static str,
    value: impl IntoKey,
) -> rusqlite::Result<Option<Row>> {
    connection
        .prepare_cached(&format!("select {COLUMNS} from event where {condition}"))?
        .query_row([value.into_key()], row_of)
        .optional()
}

/// A key to find a row by.
pub(super) trait IntoKey {
    fn into_key(self) -> rusqlite::types::Value;
}

impl IntoKey for u64 {
    fn into_key(self) -> rusqlite::types::Value {
        (self as i64).into()
    }
}

impl IntoKey for String {
    fn into_key(self) -> rusqlite::types::Value {
        self.into()
    }
}

/// Goes through the rows after a place until told to stop.
pub(super) fn visit_rows(
    connection: &Connection,
    after: u64,
    mut visit: impl FnMut(Row) -> bool,
) -> rusqlite::Result<()> {
    let mut statement =
        connection.prepare_cached(&format!("select {COLUMNS} from event where seq > ?1 order by seq"))?;
    let mut rows = statement.query([after as i64])?;
    while let Some(row) = rows.next()? {
        if !visit(row_of(row)?) {
            break;
        }
    }
    Ok(())
}

pub(super) fn row_of(row: &rusqlite::Row<'_>) -> rusqlite::Result<Row> {
    Ok(Row {
        seq: row.get::<_, i64>(0)? as u64,
        id: row.get(1)?,
        kind: row.get(2)?,
        version: version_of(row, 3)?,
        occurred_at: row.get(4)?,
        recorded_at: row.get(5)?,
        author: row.get(6)?,
        device: row.get(7)?,
        body: row.get(8)?,
        previous: blob(row, 9)?,
        hash: blob(row, 10)?,
    })
}

/// A version that is none is damage; it reads as version 0, which nothing has.
pub(super) fn version_of(row: &rusqlite::Row<'_>, column: usize) -> rusqlite::Result<u32> {
    Ok(u32::try_from(row.get::<_, i64>(column)?).unwrap_or(0))
}

/// A hash of the wrong length is damage; it reads as a hash that cannot fit.
fn blob(row: &rusqlite::Row<'_>, column: usize) -> rusqlite::Result<Hash> {
    let bytes = row.get_ref(column)?.as_blob().unwrap_or(&[]);
    Ok(Hash(bytes.try_into().unwrap_or([0xff; 32])))
}
