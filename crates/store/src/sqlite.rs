//! The ledger on embedded SQLite: one writing connection, one reading, write-ahead log, full synchronisation.

mod batches;
mod beside;
mod check;
mod layout;
mod open;
mod rows;

use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::mpsc::sync_channel;

use event::{EVENT_VERSION, Event, Recorded};
use jiff::Timestamp;
use message::{Message, message};
use rusqlite::{Connection, OpenFlags, TransactionBehavior, params};

use crate::chain::{self, Hash};
use crate::error::outside;
use crate::{Appended, Head, Ledger, NotVoidable, Row, StoreError, Verification};
use batches::{Batch, read_batches};
use beside::Identity;
use layout::{APPLICATION_ID, MIGRATIONS};
use open::connect_unchanging;
use rows::{COLUMNS, read_head, read_row, visit_rows};

pub use check::Fault;
pub(crate) use check::is_damage;
pub(crate) use open::{connect, make_private, migrate, translate};

/// Most batches of rows that the reading thread may run ahead of the decoding one.
const BATCHES_WAITING: usize = 8;

/// A ledger in a SQLite file.
#[derive(Debug)]
pub struct SqliteLedger {
    path: PathBuf,
    // Fields are dropped in this order: the writer goes last, so that what is in the write-ahead log ends in the file.
    reader: Mutex<Connection>,
    writer: Mutex<Connection>,
    /// Damage that was found: from then on nothing more is recorded.
    damage: Mutex<Option<Fault>>,
    identity: Identity,
}

impl SqliteLedger {
    /// Opens a ledger, making it when the file is not there.
    ///
    /// # Errors
    /// [`StoreError::Access`], [`StoreError::NotALedger`], [`StoreError::Newer`], [`StoreError::DiskFull`].
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        make_private(path)?;
        let mut writer = connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE)?;
        prepare(&mut writer, path)?;
        Self::with_reader(path, writer)
    }

    /// Opens a ledger that must be there.
    ///
    /// # Errors
    /// As [`SqliteLedger::open`]; [`StoreError::Access`] when there is none.
    pub fn open_existing(path: &Path) -> Result<Self, StoreError> {
        let empty = std::fs::metadata(path).is_ok_and(|file| file.len() == 0);
        if empty {
            let reason = message!("store.file.empty");
            return Err(StoreError::NotALedger { path: path.display().to_string(), reason });
        }
        let mut writer = connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        prepare(&mut writer, path)?;
        Self::with_reader(path, writer)
    }

    fn with_reader(path: &Path, writer: Connection) -> Result<Self, StoreError> {
        let reader = connect(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        let ledger = Self {
            path: path.to_path_buf(),
            reader: Mutex::new(reader),
            writer: Mutex::new(writer),
            damage: Mutex::new(None),
            identity: Identity::of(path),
        };
        if let Some(end) = beside::kept_end(path) {
            // What stands against it is remembered as damage; whatever else is wrong, reading says.
            let _ = ledger.holds(end);
        }
        Ok(ledger)
    }

    /// Accepts the ledger's present end as the one to compare it with, after an older copy was put back on purpose.
    ///
    /// # Errors
    /// As [`Ledger::head`].
    pub fn accept_end(&self) -> Result<Head, StoreError> {
        let head = self.head()?;
        beside::set_end(&self.path, head);
        *hold(&self.damage) = None;
        Ok(head)
    }

    /// Opens a ledger for reading alone: an auditor's copy, a medium that cannot be written. Nothing is made beside it.
    ///
    /// # Errors
    /// As [`SqliteLedger::open_existing`].
    pub fn open_read_only(path: &Path) -> Result<Self, StoreError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY;
        // With a log beside it, it is read with it; without, as a file that nobody writes.
        let mut log = path.as_os_str().to_owned();
        log.push("-wal");
        let has_log = std::fs::metadata(&log).is_ok_and(|file| file.len() > 0);
        let open = || if has_log { connect(path, flags) } else { connect_unchanging(path) };
        let (reader, writer) = (open()?, open()?);
        let owner: i64 = reader
            .query_row("pragma application_id", [], |row| row.get(0))
            .map_err(|error| translate(&error, path))?;
        let layout: i64 = reader
            .query_row("pragma user_version", [], |row| row.get(0))
            .map_err(|error| translate(&error, path))?;
        if owner != APPLICATION_ID {
            let reason = message!("store.file.foreign");
            return Err(StoreError::NotALedger { path: path.display().to_string(), reason });
        }
        let known = MIGRATIONS.len() as i64;
        if known < layout {
            return Err(StoreError::Newer { path: path.display().to_string(), found: layout, known });
        }
        Ok(Self {
            path: path.to_path_buf(),
            reader: Mutex::new(reader),
            writer: Mutex::new(writer),
            damage: Mutex::new(None),
            identity: Identity::of(path),
        })
    }

    /// Checks a file without opening it for entries.
    ///
    /// # Errors
    /// [`StoreError`] when it cannot be reached at all.
    pub fn check(path: &Path) -> Result<Verification, StoreError> {
        check::checked(path)
    }

    /// Every row that is sound by itself, and what is wrong with the others, by row: for saving what can be saved.
    ///
    /// # Errors
    /// [`StoreError`] when the file cannot be reached at all.
    pub fn salvage(path: &Path) -> Result<(Vec<Row>, Vec<Fault>), StoreError> {
        check::salvage(path)
    }

    /// Remembers damage: nothing more is recorded.
    fn remember(&self, seq: u64, reason: Message) -> StoreError {
        hold(&self.damage).get_or_insert_with(|| (seq, reason.clone()));
        StoreError::Damaged { seq, reason }
    }

    /// Turns an engine's error into one of the store's; anything unreadable is damage, and remembered.
    fn say(&self, error: rusqlite::Error) -> StoreError {
        if is_damage(&error) { self.remember(0, outside(error)) } else { translate(&error, &self.path) }
    }

    /// Limits the file to so many pages: a stand-in for a full disk in tests, answered by SQLite as one.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub fn limit_pages(&self, pages: u32) -> Result<(), StoreError> {
        let writer = lock(&self.writer);
        writer
            .pragma_update_and_check(None, "max_page_count", pages, |_| Ok(()))
            .map_err(|e| translate(&e, &self.path))
    }

    /// Copies a ledger, while it is written to or not, into a new file: whole and checked, or not at all.
    ///
    /// # Errors
    /// [`StoreError::Access`] when the copy is there already or cannot be written; [`StoreError::Damaged`] when what
    /// was copied does not hold.
    pub fn copy(from: &Path, to: &Path) -> Result<(), StoreError> {
        let draft = to.with_extension("new");
        let access = |error: std::io::Error| StoreError::Access {
            path: to.display().to_string(),
            reason: outside(error),
        };
        if to.exists() {
            return Err(access(std::io::ErrorKind::AlreadyExists.into()));
        }
        if draft.exists() {
            std::fs::remove_file(&draft).map_err(access)?;
        }
        let reader = connect(from, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        let target = draft.display().to_string();
        reader.execute("vacuum into ?1", [&target]).map_err(|error| translate(&error, from))?;
        if let Verification::Damaged { seq, reason } = check::checked(&draft)? {
            std::fs::remove_file(&draft).map_err(access)?;
            return Err(StoreError::Damaged { seq, reason });
        }
        std::fs::rename(&draft, to).map_err(access)
    }

    fn stop(&self) -> Option<StoreError> {
        let damage = hold(&self.damage).clone();
        let damaged = damage.map(|(seq, reason)| StoreError::Damaged { seq, reason });
        damaged.or_else(|| {
            let reason = self.identity.fault()?;
            Some(StoreError::Replaced { path: self.path.display().to_string(), reason })
        })
    }
}

impl Ledger for SqliteLedger {
    fn append(&self, events: &[Event], recorded_at: Timestamp) -> Result<Vec<Appended>, StoreError> {
        if let Some(stopped) = self.stop() {
            return Err(stopped);
        }
        let say = |e: rusqlite::Error| self.say(e);
        let mut writer = lock(&self.writer);
        // A deferred transaction that reads and then writes may be refused at once when another wrote in between.
        let transaction = writer.transaction_with_behavior(TransactionBehavior::Immediate).map_err(say)?;
        let mut head = read_head(&transaction).map_err(say)?;
        if let Some(last) = read_row(&transaction, "seq = ?1", head.seq).map_err(say)?
            && chain::hash_of(&last) != last.hash
        {
            return Err(self.remember(last.seq, message!("store.fault.changed")));
        }
        let mut answers = Vec::with_capacity(events.len());
        {
            let mut insert = transaction
                .prepare_cached(&format!(
                    "insert into event ({COLUMNS}) values (?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11)"
                ))
                .map_err(say)?;
            for event in events {
                let body = event.body.to_json().map_err(|e| StoreError::Database(outside(e)))?;
                if let Some(there) = read_row(&transaction, "id = ?1", event.id.to_string()).map_err(say)? {
                    if there.kind != event.body.kind() || there.body != body {
                        return Err(StoreError::Conflict { id: event.id, seq: there.seq });
                    }
                    answers.push(Appended::Already { seq: there.seq });
                    continue;
                }
                check_void(&transaction, event).map_err(|fault| match fault {
                    VoidFault::Store(error) => error,
                    VoidFault::Sql(error) => say(error),
                })?;
                let row = next_row(event, body, recorded_at, head);
                insert
                    .execute(params![
                        row.seq as i64,
                        row.id,
                        row.kind,
                        row.version,
                        row.occurred_at,
                        row.recorded_at,
                        row.author,
                        row.device,
                        row.body,
                        &row.previous.0[..],
                        &row.hash.0[..],
                    ])
                    .map_err(say)?;
                head = Head { seq: row.seq, hash: row.hash };
                answers.push(Appended::New { seq: row.seq });
            }
        }
        transaction.commit().map_err(say)?;
        if answers.iter().any(|answer| matches!(answer, Appended::New { .. })) {
            beside::keep_end(&self.path, head);
        }
        Ok(answers)
    }

    fn head(&self) -> Result<Head, StoreError> {
        read_head(&lock(&self.reader)).map_err(|error| self.say(error))
    }

    fn rows_after(&self, seq: u64) -> Result<Vec<Row>, StoreError> {
        let reader = lock(&self.reader);
        let mut rows = Vec::new();
        visit_rows(&reader, seq, |row| {
            rows.push(row);
            true
        })
        .map_err(|error| self.say(error))?;
        Ok(rows)
    }

    fn place_of(&self, id: event::EventId) -> Result<Option<u64>, StoreError> {
        let reader = lock(&self.reader);
        let row = read_row(&reader, "id = ?1", id.to_string()).map_err(|error| self.say(error))?;
        Ok(row.map(|row| row.seq))
    }

    /// As the default, but one thread reads rows while another decodes them: a fold reads every event there is, and the
    /// two halves cost about the same.
    fn events_after(&self, seq: u64) -> Result<Vec<Recorded>, StoreError> {
        let reader = lock(&self.reader);
        std::thread::scope(|scope| {
            let (send, receive) = sync_channel::<Batch>(BATCHES_WAITING);
            let decoder = scope.spawn(move || -> Result<Vec<Recorded>, StoreError> {
                let mut events = Vec::new();
                for batch in receive {
                    for row in &batch.rows {
                        events.push(batch.text_of(row).decode()?);
                    }
                }
                Ok(events)
            });
            let read = read_batches(&reader, seq, &send).map_err(|error| self.say(error));
            drop(send);
            let events = decoder.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
            let read = read.and(events);
            if let Err(StoreError::Unreadable { seq, reason }) = &read {
                self.remember(*seq, reason.clone());
            }
            read
        })
    }

    fn holds(&self, end: Head) -> Result<(), StoreError> {
        let found = {
            let reader = lock(&self.reader);
            let head = read_head(&reader).map_err(|error| self.say(error))?;
            let there = read_row(&reader, "seq = ?1", end.seq).map_err(|error| self.say(error))?;
            match there {
                _ if end.seq == 0 => None,
                Some(row) if row.hash == end.hash => None,
                Some(row) => Some((row.seq, message!("store.fault.another_row"))),
                None => Some((head.seq + 1, message!("store.fault.end_cut_off", row = end.seq))),
            }
        };
        found.map_or(Ok(()), |(seq, reason)| Err(self.remember(seq, reason)))
    }

    fn verify(&self) -> Result<Verification, StoreError> {
        let found = check::checked(&self.path)?;
        if let Verification::Damaged { seq, reason } = &found {
            self.remember(*seq, reason.clone());
            return Ok(found);
        }
        // A file that is sound by itself may still have lost its end.
        let remembered = hold(&self.damage).clone();
        Ok(remembered.map_or(found, |(seq, reason)| Verification::Damaged { seq, reason }))
    }
}

enum VoidFault {
    Store(StoreError),
    Sql(rusqlite::Error),
}

/// Checks that a void names an event that is there, is not a void itself, and was not voided before.
fn check_void(connection: &Connection, event: &Event) -> Result<(), VoidFault> {
    let event::Body::Void(void) = &event.body else { return Ok(()) };
    let refuse = |reason| Err(VoidFault::Store(StoreError::Void { target: void.event.clone(), reason }));
    let Some(target) = event.body.voids() else { return refuse(NotVoidable::NotAnId) };
    let Some(there) = read_row(connection, "id = ?1", target.to_string()).map_err(VoidFault::Sql)? else {
        return refuse(NotVoidable::NoSuchEvent);
    };
    if there.kind == "void" {
        return refuse(NotVoidable::IsAVoid);
    }
    let before: bool = connection
        .query_row(
            "select exists(select 1 from event where kind = 'void' and json_extract(body, '$.event') = ?1)",
            [target.to_string()],
            |row| row.get(0),
        )
        .map_err(VoidFault::Sql)?;
    if before { refuse(NotVoidable::VoidedBefore) } else { Ok(()) }
}

fn next_row(event: &Event, body: String, recorded_at: Timestamp, head: Head) -> Row {
    let mut row = Row {
        seq: head.seq + 1,
        id: event.id.to_string(),
        kind: event.body.kind().to_string(),
        version: EVENT_VERSION,
        occurred_at: event.occurred_at.to_string(),
        recorded_at: recorded_at.to_string(),
        author: event.author.clone(),
        device: event.device.clone(),
        body,
        previous: head.hash,
        hash: Hash::ORIGIN,
    };
    row.hash = chain::hash_of(&row);
    row
}

fn hold<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
}

fn lock(connection: &Mutex<Connection>) -> std::sync::MutexGuard<'_, Connection> {
    // A panic while holding it left at most an open transaction, which SQLite rolls back.
    connection.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
}

fn prepare(connection: &mut Connection, path: &Path) -> Result<(), StoreError> {
    migrate(connection, path, APPLICATION_ID, MIGRATIONS)
}
