//! People, devices, sessions and offline keys in a SQLite file of their own: unlike the ledger they change, and they
//! hold secrets (as hashes), so they are never handed out with it.

mod act;
mod alerts;
mod held;
mod layout;
mod roster;
mod rows;
mod seal;

use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use jiff::Timestamp;
use message::message;
use rusqlite::{Connection, ErrorCode, OpenFlags, OptionalExtension, Transaction, TransactionBehavior};

use crate::error::outside;
use crate::sqlite::{connect, make_private, migrate, translate};
use crate::{StoreError, Taken};
use layout::{APPLICATION_ID, MIGRATIONS};
use rows::{all, at};

pub use act::{Act, Changed};
pub use alerts::{AlertRow, Standing};
pub use held::{Held, Settled};
pub use roster::{Code, OfflineKey, Roster, Session, TokenHash};

/// Key that the ledger's last row and hash are remembered under.
pub const LEDGER_END: &str = "ledger_end";

/// The open people's file: an SQLite database beside the ledger.
#[derive(Debug)]
pub struct PeopleFile {
    path: PathBuf,
    connection: Mutex<Connection>,
}

impl PeopleFile {
    /// Opens it, making it when it is not there; readable by its owner alone.
    ///
    /// # Errors
    /// As [`crate::SqliteLedger::open`].
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        make_private(path)?;
        let mut connection =
            connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE)?;
        migrate(&mut connection, path, APPLICATION_ID, MIGRATIONS)?;
        // A file that cannot be read through is damaged as well.
        let found = seal::check(&connection).unwrap_or_else(|error| match error.sqlite_error_code() {
            // A full disk, or another program's turn, says nothing of it.
            Some(ErrorCode::DiskFull | ErrorCode::DatabaseBusy | ErrorCode::ReadOnly) => Ok(()),
            _ => Err(outside(error)),
        });
        if let Err(what) = found {
            let reason = message!("store.people.damaged", what = what);
            return Err(StoreError::Access { path: path.display().to_string(), reason });
        }
        Ok(Self { path: path.to_path_buf(), connection: Mutex::new(connection) })
    }

    fn with<T>(&self, act: impl FnOnce(&mut Connection) -> rusqlite::Result<T>) -> Result<T, StoreError> {
        let mut connection: MutexGuard<'_, Connection> =
            self.connection.lock().unwrap_or_else(PoisonError::into_inner);
        act(&mut connection).map_err(|error| match error.sqlite_error() {
            Some(found) if found.extended_code == rusqlite::ffi::SQLITE_CONSTRAINT_UNIQUE => {
                StoreError::Taken(Taken::Name)
            }
            _ => translate(&error, &self.path),
        })
    }

    /// Makes a change to a sealed table and renews the seal, in one transaction.
    fn change<T>(&self, act: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<T>) -> Result<T, StoreError> {
        self.with(|connection| {
            let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let answer = act(&transaction)?;
            seal::renew(&transaction)?;
            transaction.commit()?;
            Ok(answer)
        })
    }

    /// Runs one statement on a sealed table and renews the seal.
    fn put_sealed(&self, sql: &str, values: &[&dyn rusqlite::ToSql]) -> Result<(), StoreError> {
        self.change(|transaction| transaction.prepare_cached(sql)?.execute(values).map(|_| ()))
    }

    fn put(&self, sql: &str, values: &[&dyn rusqlite::ToSql]) -> Result<(), StoreError> {
        self.with(|connection| connection.prepare_cached(sql)?.execute(values).map(|_| ()))
    }

    /// Wrong passwords and PINs counted so far: where, for whom, how many, and when the last was.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn tries(&self) -> Result<Vec<(String, String, u32, Timestamp)>, StoreError> {
        self.with(|connection| {
            all(connection, "select * from try", |row| {
                Ok((row.get("place")?, row.get("who")?, row.get("wrong")?, at(row, "last")?))
            })
        })
    }

    /// Saves how many wrong tries were counted at a place for someone.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn put_tries(&self, place: &str, who: &str, wrong: u32, last: Timestamp) -> Result<(), StoreError> {
        let sql = "insert into try (place, who, wrong, last) values (?1, ?2, ?3, ?4)
            on conflict (place, who) do update set wrong = excluded.wrong, last = excluded.last";
        self.put(sql, &[&place, &who, &wrong, &last.to_string()])
    }

    /// Deletes the count of wrong tries at a place for someone.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn drop_tries(&self, place: &str, who: &str) -> Result<(), StoreError> {
        self.put("delete from try where place = ?1 and who = ?2", &[&place, &who])
    }

    /// Remembers something under a key, in place of what was.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn remember(&self, key: &str, value: &str) -> Result<(), StoreError> {
        let sql = "insert into remembered (key, value) values (?1, ?2)
            on conflict (key) do update set value = excluded.value";
        self.put(sql, &[&key, &value])
    }

    /// What is remembered under a key.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn remembered(&self, key: &str) -> Result<Option<String>, StoreError> {
        self.with(|connection| {
            let mut statement = connection.prepare_cached("select value from remembered where key = ?1")?;
            statement.query_row([key], |row| row.get(0)).optional()
        })
    }

    /// A number that changes whenever another program changed the file.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn version(&self) -> Result<i64, StoreError> {
        self.with(|connection| {
            connection.prepare_cached("pragma data_version")?.query_row([], |row| row.get(0))
        })
    }
}
