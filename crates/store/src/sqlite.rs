//! The ledger on embedded SQLite: one writing connection, one reading, write-ahead log, full synchronisation.

mod beside;
mod check;

use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::mpsc::{SyncSender, sync_channel};

use jiff::Timestamp;
use percent_encoding::{AsciiSet, CONTROLS, utf8_percent_encode};
use rusqlite::{Connection, ErrorCode, OpenFlags, OptionalExtension, TransactionBehavior, params};
use yard::event::{EVENT_VERSION, Event, Recorded};

use crate::chain::{self, Hash};
use crate::{Appended, Head, Ledger, Row, RowText, StoreError, Verification};
use beside::Identity;
pub use check::Fault;
pub(crate) use check::is_damage;

/// Marks the file as ours: "brin" in ASCII.
const APPLICATION_ID: i64 = 0x6272_696e;
/// How long to wait for another writer.
const BUSY_MS: u64 = 5000;
/// Rows handed over to be decoded at once.
const BATCH_ROWS: usize = 2048;
/// Batches that may wait: reading may run ahead by so much and no more.
const BATCHES_WAITING: usize = 8;

/// Steps from one layout to the next, forward only, never edited once released.
const MIGRATIONS: &[&str] = &[
    // 1: the ledger.
    "create table event (
        seq integer primary key,
        id text not null unique,
        kind text not null,
        version integer not null,
        occurred_at text not null,
        recorded_at text not null,
        author text not null,
        device text not null,
        body text not null,
        previous blob not null,
        hash blob not null
     ) strict;
     create trigger event_is_never_changed before update on event
        begin select raise(abort, 'the ledger is append-only'); end;
     create trigger event_is_never_deleted before delete on event
        begin select raise(abort, 'the ledger is append-only'); end;",
];

/// What would end the path in SQLite's address of a file, or be read as written otherwise.
const NOT_IN_A_PATH: &AsciiSet = &CONTROLS.add(b'%').add(b'?').add(b'#');

const COLUMNS: &str =
    "seq, id, kind, version, occurred_at, recorded_at, author, device, body, previous, hash";

/// A ledger in a SQLite file.
#[derive(Debug)]
pub struct SqliteLedger {
    path: PathBuf,
    // Fields are dropped in this order: the writer goes last, so that what is in the write-ahead log ends in the file.
    reader: Mutex<Connection>,
    writer: Mutex<Connection>,
    /// Damage that was found: from then on nothing more is recorded.
    damage: Mutex<Option<(u64, String)>>,
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
            let reason = "the file is empty".to_string();
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

    /// Takes the ledger's end as it is now for the one to hold it against: after an older copy was put back on purpose.
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
            let reason = "another program's database, or none".to_string();
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
    fn remember(&self, seq: u64, reason: String) -> StoreError {
        hold(&self.damage).get_or_insert_with(|| (seq, reason.clone()));
        StoreError::Damaged { seq, reason }
    }

    /// What the engine said; what it could not read is damage, and remembered.
    fn say(&self, error: rusqlite::Error) -> StoreError {
        if is_damage(&error) { self.remember(0, error.to_string()) } else { translate(&error, &self.path) }
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
            reason: error.to_string(),
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
            return Err(self.remember(last.seq, "its content was changed".into()));
        }
        let mut answers = Vec::with_capacity(events.len());
        {
            let mut insert = transaction
                .prepare_cached(&format!(
                    "insert into event ({COLUMNS}) values (?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11)"
                ))
                .map_err(say)?;
            for event in events {
                let body = event.body.to_json().map_err(|e| StoreError::Database(e.to_string()))?;
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

    fn place_of(&self, id: yard::event::EventId) -> Result<Option<u64>, StoreError> {
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
                Some(row) => Some((row.seq, "it is not the row that was recorded there".to_owned())),
                None => Some((
                    head.seq + 1,
                    format!("row {} was recorded and is not there: the end was cut off", end.seq),
                )),
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

/// Some rows, their texts end to end in one string.
#[derive(Default)]
struct Batch {
    text: String,
    rows: Vec<BatchRow>,
}

/// One row of a batch: where each of its texts ends.
struct BatchRow {
    seq: u64,
    version: u32,
    start: usize,
    ends: [usize; 7],
}

impl Batch {
    fn text_of(&self, row: &BatchRow) -> RowText<'_> {
        let part = |n: usize| &self.text[if n == 0 { row.start } else { row.ends[n - 1] }..row.ends[n]];
        RowText {
            seq: row.seq,
            version: row.version,
            id: part(0),
            kind: part(1),
            occurred_at: part(2),
            recorded_at: part(3),
            author: part(4),
            device: part(5),
            body: part(6),
        }
    }
}

/// Sends all rows after a place, in batches; stops early when nobody takes them any more.
fn read_batches(connection: &Connection, after: u64, send: &SyncSender<Batch>) -> rusqlite::Result<()> {
    let mut statement = connection.prepare_cached(
        "select seq, version, id, kind, occurred_at, recorded_at, author, device, body from event
         where seq > ?1 order by seq",
    )?;
    let mut rows = statement.query([after as i64])?;
    let mut batch = Batch::default();
    while let Some(row) = rows.next()? {
        let mut kept = BatchRow {
            seq: row.get::<_, i64>(0)? as u64,
            version: version_of(row, 1)?,
            start: batch.text.len(),
            ends: [0; 7],
        };
        for (n, end) in kept.ends.iter_mut().enumerate() {
            // A text that is none is damage, and reads as one that cannot be decoded.
            batch.text.push_str(row.get_ref(n + 2)?.as_str().unwrap_or("\u{fffd}"));
            *end = batch.text.len();
        }
        batch.rows.push(kept);
        if batch.rows.len() == BATCH_ROWS && send.send(std::mem::take(&mut batch)).is_err() {
            return Ok(());
        }
    }
    // The decoder may have stopped at a row it could not read, and then says so itself.
    let _ = send.send(batch);
    Ok(())
}

enum VoidFault {
    Store(StoreError),
    Sql(rusqlite::Error),
}

/// A void must name an event that is there, is no void itself, and was not taken back before.
fn check_void(connection: &Connection, event: &Event) -> Result<(), VoidFault> {
    let yard::event::Body::Void(void) = &event.body else { return Ok(()) };
    let refuse = |reason| Err(VoidFault::Store(StoreError::Void { target: void.event.clone(), reason }));
    let Some(target) = event.body.voids() else { return refuse("it is not an event id") };
    let Some(there) = read_row(connection, "id = ?1", target.to_string()).map_err(VoidFault::Sql)? else {
        return refuse("there is no such event");
    };
    if there.kind == "void" {
        return refuse("it is itself a void; enter the event anew instead");
    }
    let before: bool = connection
        .query_row(
            "select exists(select 1 from event where kind = 'void' and json_extract(body, '$.event') = ?1)",
            [target.to_string()],
            |row| row.get(0),
        )
        .map_err(VoidFault::Sql)?;
    if before { refuse("it was taken back before") } else { Ok(()) }
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

/// Opens a file that nobody writes: no lock is taken and nothing is made beside it.
fn connect_unchanging(path: &Path) -> Result<Connection, StoreError> {
    let shown = path.display().to_string();
    let plain = utf8_percent_encode(&shown, NOT_IN_A_PATH);
    let flags =
        OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    Connection::open_with_flags(format!("file:{plain}?immutable=1"), flags)
        .map_err(|error| translate(&error, path))
}

/// Makes a file that is not there, for its owner alone from its first byte on; SQLite gives its logs the same rights.
pub(crate) fn make_private(path: &Path) -> Result<(), StoreError> {
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    match options.open(path) {
        Ok(_) => Ok(()),
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => Ok(()),
        Err(error) => Err(StoreError::Access { path: path.display().to_string(), reason: error.to_string() }),
    }
}

pub(crate) fn connect(path: &Path, flags: OpenFlags) -> Result<Connection, StoreError> {
    let connection = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)
        .map_err(|e| translate(&e, path))?;
    connection.busy_timeout(std::time::Duration::from_millis(BUSY_MS)).map_err(|e| translate(&e, path))?;
    Ok(connection)
}

fn prepare(connection: &mut Connection, path: &Path) -> Result<(), StoreError> {
    migrate(connection, path, APPLICATION_ID, MIGRATIONS)
}

/// Brings a file of ours to the newest layout; another program's is refused.
pub(crate) fn migrate(
    connection: &mut Connection,
    path: &Path,
    application_id: i64,
    migrations: &[&str],
) -> Result<(), StoreError> {
    let say = |e: rusqlite::Error| translate(&e, path);
    let known = migrations.len() as i64;
    let layout: i64 = connection.query_row("pragma user_version", [], |row| row.get(0)).map_err(say)?;
    let owner: i64 = connection.query_row("pragma application_id", [], |row| row.get(0)).map_err(say)?;
    let tables: i64 =
        connection.query_row("select count(*) from sqlite_master", [], |row| row.get(0)).map_err(say)?;
    if owner != application_id && tables > 0 {
        let reason = "another program's database".to_string();
        return Err(StoreError::NotALedger { path: path.display().to_string(), reason });
    }
    if known < layout {
        return Err(StoreError::Newer { path: path.display().to_string(), found: layout, known });
    }
    connection
        .execute_batch("pragma journal_mode = wal; pragma synchronous = full; pragma foreign_keys = on;")
        .map_err(say)?;
    for (step, sql) in migrations.iter().enumerate().skip(layout.max(0) as usize) {
        let transaction =
            connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(say)?;
        // Another program may have taken the step while this one waited for the lock.
        let now: i64 = transaction.query_row("pragma user_version", [], |row| row.get(0)).map_err(say)?;
        if now <= step as i64 {
            transaction.execute_batch(sql).map_err(say)?;
            transaction
                .execute_batch(&format!(
                    "pragma application_id = {application_id}; pragma user_version = {};",
                    step + 1
                ))
                .map_err(say)?;
        }
        transaction.commit().map_err(say)?;
    }
    Ok(())
}

fn read_head(connection: &Connection) -> rusqlite::Result<Head> {
    let last = connection
        .prepare_cached("select seq, hash from event order by seq desc limit 1")?
        .query_row([], |row| Ok(Head { seq: row.get::<_, i64>(0)? as u64, hash: blob(row, 1)? }))
        .optional()?;
    Ok(last.unwrap_or(Head { seq: 0, hash: Hash::ORIGIN }))
}

fn read_row(
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
trait IntoKey {
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
fn visit_rows(
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

fn row_of(row: &rusqlite::Row<'_>) -> rusqlite::Result<Row> {
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
fn version_of(row: &rusqlite::Row<'_>, column: usize) -> rusqlite::Result<u32> {
    Ok(u32::try_from(row.get::<_, i64>(column)?).unwrap_or(0))
}

/// A hash of the wrong length is damage; it reads as a hash that cannot fit.
fn blob(row: &rusqlite::Row<'_>, column: usize) -> rusqlite::Result<Hash> {
    let bytes = row.get_ref(column)?.as_blob().unwrap_or(&[]);
    Ok(Hash(bytes.try_into().unwrap_or([0xff; 32])))
}

pub(crate) fn translate(error: &rusqlite::Error, path: &Path) -> StoreError {
    let path = path.display().to_string();
    let reason = error.to_string();
    match error.sqlite_error_code() {
        Some(ErrorCode::DiskFull) => StoreError::DiskFull,
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            StoreError::InUse { path, holder: "it is writing".into() }
        }
        Some(ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt) => StoreError::NotALedger { path, reason },
        Some(
            ErrorCode::CannotOpen
            | ErrorCode::PermissionDenied
            | ErrorCode::ReadOnly
            | ErrorCode::SystemIoFailure,
        ) => StoreError::Access { path, reason },
        _ => StoreError::Database(reason),
    }
}
