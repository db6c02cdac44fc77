//! A seal over what must not change unseen in the people's file: who may come in, which devices and keys are trusted,
//! and what waits for a decision. It is renewed with each change and compared when the file is opened.

use message::{Message, message};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension};
use sha2::{Digest, Sha256};

use crate::error::outside;

/// Tables that are sealed, whole.
const SEALED: [&str; 4] = ["person", "device", "offline_key", "held"];
/// Key that the seal is remembered under.
const SEAL: &str = "seal";

/// SHA-256 over every value of the sealed tables, each with its kind and length. Some milliseconds for some thousand
/// rows.
fn of(connection: &Connection) -> rusqlite::Result<String> {
    let mut hash = Sha256::new();
    for table in SEALED {
        hash.update(table);
        let mut statement = connection.prepare_cached(&format!("select * from {table} order by id"))?;
        let columns = statement.column_count();
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            for column in 0..columns {
                let (kind, bytes) = match row.get_ref(column)? {
                    ValueRef::Null => (0, Vec::new()),
                    ValueRef::Integer(value) => (1, value.to_le_bytes().to_vec()),
                    ValueRef::Real(value) => (2, value.to_le_bytes().to_vec()),
                    ValueRef::Text(text) => (3, text.to_vec()),
                    ValueRef::Blob(blob) => (4, blob.to_vec()),
                };
                hash.update([kind]);
                hash.update((bytes.len() as u64).to_le_bytes());
                hash.update(bytes);
            }
        }
    }
    Ok(hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect())
}

/// Renews the seal, in the transaction that made the change.
pub(super) fn renew(connection: &Connection) -> rusqlite::Result<()> {
    let seal = of(connection)?;
    connection
        .prepare_cached("insert into remembered values (?1, ?2) on conflict (key) do update set value = ?2")?
        .execute([SEAL, &seal])
        .map(|_| ())
}

/// Whether the file is as it was left: its pages by the engine's own check, what is sealed by its seal. A file from
/// before there were seals is sealed now.
pub(super) fn check(connection: &Connection) -> rusqlite::Result<Result<(), Message>> {
    let pages: String = connection.query_row("pragma integrity_check(1)", [], |row| row.get(0))?;
    if pages != "ok" {
        return Ok(Err(outside(pages)));
    }
    let kept: Option<String> = connection
        .query_row("select value from remembered where key = ?1", [SEAL], |row| row.get(0))
        .optional()?;
    match kept {
        None => renew(connection).map(Ok),
        Some(kept) if kept == of(connection)? => Ok(Ok(())),
        Some(_) => Ok(Err(message!("store.people.changed"))),
    }
}
