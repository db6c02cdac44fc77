//! How files of SQLite are opened and brought to their newest layout, and what the engine's errors mean.

use std::path::Path;

use message::message;
use percent_encoding::{AsciiSet, CONTROLS, utf8_percent_encode};
use rusqlite::{Connection, ErrorCode, OpenFlags, TransactionBehavior};

use crate::error::outside;
use crate::{Holder, StoreError};

/// How long to wait for another writer.
const BUSY_MS: u64 = 5000;

/// What would end the path in SQLite's address of a file, or be read as written otherwise.
const NOT_IN_A_PATH: &AsciiSet = &CONTROLS.add(b'%').add(b'?').add(b'#');

/// Opens a file that nobody writes: no lock is taken and nothing is made beside it.
pub(super) fn connect_unchanging(path: &Path) -> Result<Connection, StoreError> {
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
        Err(error) => Err(StoreError::Access { path: path.display().to_string(), reason: outside(error) }),
    }
}

pub(crate) fn connect(path: &Path, flags: OpenFlags) -> Result<Connection, StoreError> {
    let connection = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)
        .map_err(|e| translate(&e, path))?;
    connection.busy_timeout(std::time::Duration::from_millis(BUSY_MS)).map_err(|e| translate(&e, path))?;
    Ok(connection)
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
        let reason = message!("store.file.foreign");
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

pub(crate) fn translate(error: &rusqlite::Error, path: &Path) -> StoreError {
    let path = path.display().to_string();
    let reason = outside(error);
    match error.sqlite_error_code() {
        Some(ErrorCode::DiskFull) => StoreError::DiskFull,
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            StoreError::InUse { path, holder: Holder::Writer }
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
