//! Entries that devices sent: what became of each, and those that wait for a person's decision.

use jiff::Timestamp;
use rusqlite::{OptionalExtension, Row, params};
use uuid::Uuid;

use super::PeopleFile;
use super::rows::{at, id, maybe_at, maybe_id};
use crate::StoreError;

/// An entry that came from a device and could not be recorded without a person's decision. It is kept for ever.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// Id of the entry, made on the device.
    pub id: Uuid,
    /// Device that sent it, where known.
    pub device: Option<Uuid>,
    /// Person whose key signed it, where the signature was verified.
    pub person: Option<Uuid>,
    /// Name on the entry, as the device sent it.
    pub author: String,
    /// Address of the form it was made with.
    pub path: String,
    /// Fields of the form, as sent.
    pub form: String,
    /// Number of the entry in the device's own count.
    pub counter: Option<i64>,
    /// When it happened, by the device.
    pub occurred_at: Timestamp,
    /// When it reached the console.
    pub received_at: Timestamp,
    /// Why it is held: a key of the program's own, not text for a reader.
    pub why: String,
    /// The question that was asked, or the refusal.
    pub detail: String,
    /// The decision; none while it waits.
    pub settled: Option<Settled>,
}

/// The decision on a held entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settled {
    /// When the decision was made.
    pub at: Timestamp,
    /// Name of the person who decided.
    pub by: String,
    /// `row 12` when it was saved, or the reason it was left out.
    pub outcome: String,
}

/// SQL that remembers that an entry of a device came.
const RECEIVED: &str = "insert into received (id, key, counter, received_at, outcome) values (?1,?2,?3,?4,?5)
     on conflict do nothing";

impl PeopleFile {
    /// What became of an entry that a device sent; none when it never came.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn received(&self, entry: Uuid) -> Result<Option<String>, StoreError> {
        self.with(|connection| {
            connection
                .prepare_cached("select outcome from received where id = ?1")?
                .query_row([entry.to_string()], |row| row.get(0))
                .optional()
        })
    }

    /// Whether a key's count was used by another entry: a key that was copied, or an entry that was made up.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn is_count_used(&self, key: Uuid, counter: i64, entry: Uuid) -> Result<bool, StoreError> {
        self.with(|connection| {
            connection
                .prepare_cached(
                    "select exists (select 1 from received where key = ?1 and counter = ?2 and id <> ?3)",
                )?
                .query_row(params![key.to_string(), counter, entry.to_string()], |row| row.get(0))
        })
    }

    /// Remembers that an entry of a device came, by which key and count, and what became of it.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn put_received(
        &self,
        entry: Uuid,
        signed: Option<(Uuid, i64)>,
        received_at: Timestamp,
        outcome: &str,
    ) -> Result<(), StoreError> {
        self.put(
            RECEIVED,
            params![
                entry.to_string(),
                signed.map(|(key, _)| key.to_string()),
                signed.map(|(_, counter)| counter),
                received_at.to_string(),
                outcome
            ],
        )
    }

    /// Holds an entry for a person to decide, and remembers that it came, by which key and count: both or neither. One
    /// that is held already stays as it is. Answers whether it is held: not when so many of its device wait already.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn hold(&self, held: &Held, signed: Option<(Uuid, i64)>, most: u64) -> Result<bool, StoreError> {
        self.change(|transaction| {
            let device = held.device.map(|id| id.to_string());
            let waiting: i64 = transaction.query_row(
                "select count(*) from held where settled_at is null and device is ?1 and id <> ?2",
                params![device, held.id.to_string()],
                |row| row.get(0),
            )?;
            if most <= waiting.unsigned_abs() {
                return Ok(false);
            }
            transaction.execute(
                "insert into held (id, device, person, author, path, form, counter, occurred_at, received_at, why, detail)
                 values (?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11) on conflict (id) do nothing",
                params![
                    held.id.to_string(),
                    device,
                    held.person.map(|id| id.to_string()),
                    held.author,
                    held.path,
                    held.form,
                    held.counter,
                    held.occurred_at.to_string(),
                    held.received_at.to_string(),
                    held.why,
                    held.detail
                ],
            )?;
            transaction.execute(
                RECEIVED,
                params![
                    held.id.to_string(),
                    signed.map(|(key, _)| key.to_string()),
                    signed.map(|(_, counter)| counter),
                    held.received_at.to_string(),
                    "held"
                ],
            )?;
            Ok(true)
        })
    }

    /// Entries that are held: those that wait first, then the newest of the settled.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn held(&self, most: usize) -> Result<Vec<Held>, StoreError> {
        let sql = "select * from held order by settled_at is not null, received_at desc, rowid desc limit ?1";
        self.with(|connection| {
            let mut statement = connection.prepare_cached(sql)?;
            let found = statement.query_map([most as i64], held)?;
            found.collect()
        })
    }

    /// Number of entries that wait for a decision.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn waiting(&self) -> Result<u64, StoreError> {
        self.with(|connection| {
            connection
                .prepare_cached("select count(*) from held where settled_at is null")?
                .query_row([], |row| row.get::<_, i64>(0))
                .map(|count| count.unsigned_abs())
        })
    }

    /// One held entry, by its id.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn held_by_id(&self, entry: Uuid) -> Result<Option<Held>, StoreError> {
        self.with(|connection| {
            connection
                .prepare_cached("select * from held where id = ?1")?
                .query_row([entry.to_string()], held)
                .optional()
        })
    }

    /// Saves the decision on an entry that waits. One that is decided already stays as it is, and the answer is false.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn settle(&self, entry: Uuid, end: &Settled) -> Result<bool, StoreError> {
        self.change(|transaction| {
            transaction
                .prepare_cached(
                    "update held set settled_at = ?2, settled_by = ?3, outcome = ?4
                     where id = ?1 and settled_at is null",
                )?
                .execute(params![entry.to_string(), end.at.to_string(), end.by, end.outcome])
                .map(|changed| changed == 1)
        })
    }
}

fn held(row: &Row<'_>) -> rusqlite::Result<Held> {
    let settled = match maybe_at(row, "settled_at")? {
        Some(at) => Some(Settled { at, by: row.get("settled_by")?, outcome: row.get("outcome")? }),
        None => None,
    };
    Ok(Held {
        id: id(row, "id")?,
        device: maybe_id(row, "device")?,
        person: maybe_id(row, "person")?,
        author: row.get("author")?,
        path: row.get("path")?,
        form: row.get("form")?,
        counter: row.get("counter")?,
        occurred_at: at(row, "occurred_at")?,
        received_at: at(row, "received_at")?,
        why: row.get("why")?,
        detail: row.get("detail")?,
        settled,
    })
}
