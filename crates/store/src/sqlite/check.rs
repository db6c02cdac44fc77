//! Whether a ledger's file is what was written: every row and its chain, every id once, the layout, and the engine's
//! own check of its pages and indexes. Whatever cannot be read while it is checked is damage.

use std::collections::HashMap;
use std::path::Path;

use message::{Message, Tell, message};
use rusqlite::{Connection, OpenFlags};
use uuid::Uuid;

use super::layout::MIGRATIONS;
use super::open::{connect, connect_unchanging, translate};
use super::rows::{COLUMNS, row_of};
use crate::chain::{self, Hash};
use crate::error::outside;
use crate::{Head, Row, StoreError, Verification};

/// Rows in a row that are not there, after which the file is taken to have ended.
const MOST_MISSING: u64 = 4096;

/// What is wrong, and at which row; zero where it is of none.
pub type Fault = (u64, Message);

/// Whether an error of the engine says that the file is damaged, not that it cannot be reached.
pub(crate) fn is_damage(error: &rusqlite::Error) -> bool {
    use rusqlite::Error as E;
    match error {
        E::FromSqlConversionFailure(..)
        | E::IntegralValueOutOfRange(..)
        | E::Utf8Error(..)
        | E::InvalidColumnType(..) => true,
        other => matches!(
            other.sqlite_error_code(),
            Some(rusqlite::ErrorCode::DatabaseCorrupt | rusqlite::ErrorCode::NotADatabase)
        ),
    }
}

fn unreadable(error: rusqlite::Error) -> Message {
    message!("store.fault.unreadable", why = outside(error))
}

/// A connection of its own; where nothing can be made beside the file, one that takes it as unchanging.
fn reading(path: &Path) -> Result<Connection, StoreError> {
    let reader = connect(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    match reader.query_row("select count(*) from sqlite_master", [], |row| row.get::<_, i64>(0)) {
        Err(error) if error.sqlite_error_code() == Some(rusqlite::ErrorCode::CannotOpen) => {
            connect_unchanging(path)
        }
        _ => Ok(reader),
    }
}

/// The whole file.
///
/// # Errors
/// [`StoreError`] when it cannot be reached at all.
pub(super) fn checked(path: &Path) -> Result<Verification, StoreError> {
    // Its own connection: a check of a long ledger must not keep the pages waiting.
    let reader = reading(path)?;
    let found = match rows(&reader, path)? {
        Ok(head) => match layout(&reader).and_then(|fault| Ok(fault.or(engine(&reader)?))) {
            Ok(None) => Ok(head),
            Ok(Some(reason)) => Err((0, reason)),
            Err(error) if is_damage(&error) => Err((0, outside(error))),
            Err(error) => return Err(translate(&error, path)),
        },
        Err(fault) => Err(fault),
    };
    Ok(match found {
        Ok(head) => Verification::Sound(head),
        Err((seq, reason)) => Verification::Damaged { seq, reason },
    })
}

/// Every row, in order: what it holds, that it follows the one before, that its id stands once.
fn rows(reader: &Connection, path: &Path) -> Result<Result<Head, Fault>, StoreError> {
    let mut head = Head { seq: 0, hash: Hash::ORIGIN };
    let mut ids: HashMap<u128, u64> = HashMap::new();
    // What cannot be read is told of the row after the last that could.
    let say = |error: rusqlite::Error, after: u64| match is_damage(&error) {
        true => Ok(Err((after + 1, unreadable(error)))),
        false => Err(translate(&error, path)),
    };
    let mut statement = match reader.prepare(&format!("select {COLUMNS} from event order by seq")) {
        Ok(statement) => statement,
        Err(error) => return say(error, 0),
    };
    let mut rows = match statement.query([]) {
        Ok(rows) => rows,
        Err(error) => return say(error, 0),
    };
    loop {
        let row = match rows.next() {
            Ok(Some(row)) => row,
            Ok(None) => return Ok(Ok(head)),
            Err(error) => return say(error, head.seq),
        };
        let row = match row_of(row) {
            Ok(row) => row,
            Err(error) => {
                let seq = row.get::<_, i64>(0).map_or(head.seq, |seq| (seq as u64).saturating_sub(1));
                return say(error, seq);
            }
        };
        if let Some(reason) = fault(&row, head, &mut ids) {
            return Ok(Err((row.seq, reason)));
        }
        head = Head { seq: row.seq, hash: row.hash };
    }
}

fn fault(row: &Row, head: Head, ids: &mut HashMap<u128, u64>) -> Option<Message> {
    if let Some(fault) = chain::fault(row, head.seq + 1, head.hash) {
        return Some(fault);
    }
    if let Err(error) = row.decode() {
        return Some(error.message());
    }
    let id = row.id.parse::<Uuid>().ok()?.as_u128();
    ids.insert(id, row.seq).map(|before| message!("store.fault.id_twice", row = before))
}

/// Tables, indexes and triggers against those that this program makes.
fn layout(reader: &Connection) -> rusqlite::Result<Option<Message>> {
    let fresh = Connection::open_in_memory()?;
    for sql in MIGRATIONS {
        fresh.execute_batch(sql)?;
    }
    let (wanted, found) = (parts(&fresh)?, parts(reader)?);
    let lost = wanted.iter().find(|part| !found.contains(part));
    let strange = found.iter().find(|part| !wanted.contains(part));
    Ok(match (lost, strange) {
        (Some((kind, name, _)), _) => Some(message!("store.fault.part_missing", kind = kind, name = name)),
        (None, Some((kind, name, _))) => Some(message!("store.fault.part_strange", kind = kind, name = name)),
        (None, None) => None,
    })
}

fn parts(connection: &Connection) -> rusqlite::Result<Vec<(String, String, String)>> {
    let mut statement = connection.prepare(
        "select type, name, coalesce(sql, '') from sqlite_master where name not like 'sqlite\\_%' escape '\\'",
    )?;
    let part = |row: &rusqlite::Row<'_>| Ok((row.get(0)?, row.get(1)?, row.get(2)?));
    statement.query_map([], part)?.collect()
}

/// The engine's own check: pages, indexes against rows, what must be unique.
fn engine(reader: &Connection) -> rusqlite::Result<Option<Message>> {
    let said: String = reader.query_row("pragma integrity_check(1)", [], |row| row.get(0))?;
    Ok((said != "ok").then(|| outside(said)))
}

/// Every row that is sound by itself, and what is wrong with the others: for saving what can be saved.
///
/// # Errors
/// [`StoreError`] when the file cannot be reached at all.
pub(super) fn salvage(path: &Path) -> Result<(Vec<Row>, Vec<Fault>), StoreError> {
    let reader = reading(path)?;
    let (mut sound, mut lost): (Vec<Row>, Vec<Fault>) = (Vec::new(), Vec::new());
    let mut take = |read: rusqlite::Result<Row>, seq: u64| match read {
        Ok(row) if chain::hash_of(&row) == row.hash && row.decode().is_ok() => sound.push(row),
        Ok(row) => lost.push((row.seq, message!("store.fault.changed"))),
        Err(error) => lost.push((seq, unreadable(error))),
    };
    // One after the other by its number: a page that cannot be read takes its rows with it and no more.
    let one = format!("select {COLUMNS} from event where seq = ?1");
    let mut statement = reader.prepare(&one).map_err(|error| translate(&error, path))?;
    let (mut seq, mut missing) = (0, 0);
    while missing < MOST_MISSING {
        seq += 1;
        let mut rows = statement.query([seq as i64]).map_err(|error| translate(&error, path))?;
        match rows.next() {
            Ok(Some(row)) => {
                missing = 0;
                take(row_of(row), seq);
            }
            Ok(None) => missing += 1,
            Err(error) if is_damage(&error) => {
                missing += 1;
                take(Err(error), seq);
            }
            Err(error) => return Err(translate(&error, path)),
        }
    }
    // What lies behind the last sound row was probed for, and is no loss.
    let last = sound.last().map_or(0, |row| row.seq);
    let unread = lost.iter().filter(|(seq, _)| *seq > last).count();
    if unread > 1 {
        lost.retain(|(seq, _)| *seq <= last + 1);
    }
    // Rows that are not there at all, between those that are.
    let known: std::collections::HashSet<u64> =
        sound.iter().map(|row| row.seq).chain(lost.iter().map(|(seq, _)| *seq)).collect();
    lost.extend(
        (1..last).filter(|seq| !known.contains(seq)).map(|seq| (seq, message!("store.fault.not_there"))),
    );
    lost.sort_by_key(|(seq, _)| *seq);
    Ok((sound, lost))
}
