//! People, devices, sessions and offline keys in a SQLite file of their own: unlike the ledger they change, and they
//! hold secrets (as hashes), so they are never handed out with it.

mod seal;

use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use jiff::{SignedDuration, Timestamp};
use rusqlite::types::Type;
use rusqlite::{
    Connection, ErrorCode, OpenFlags, OptionalExtension, Row, Transaction, TransactionBehavior, params,
};
use site::people::{Device, Person, Role};
use uuid::Uuid;

use crate::StoreError;
use crate::sqlite::{connect, make_private, migrate, translate};

/// Marks the file as ours: "brip" in ASCII.
const APPLICATION_ID: i64 = 0x6272_6970;

/// Steps from one layout to the next, forward only, never edited once released.
const MIGRATIONS: &[&str] = &["create table person (
        id text primary key, name text not null unique collate nocase, role text not null, password text, pin text,
        is_active integer not null, made_at text not null
     ) strict;
     create table device (
        id text primary key, name text not null unique collate nocase, token blob not null unique,
        enrolled_at text not null, enrolled_by text not null, revoked_at text
     ) strict;
     create table session (
        token blob primary key, person text not null references person (id), begun_at text not null,
        seen_at text not null
     ) strict;
     create table code (token blob primary key, kind text not null, by text not null, until text not null) strict;
     create table offline_key (
        id text primary key, person text not null references person (id),
        device text not null references device (id), public blob not null, made_at text not null, until text not null
     ) strict;
     create table held (
        id text primary key, device text, person text, author text not null, path text not null, form text not null,
        counter integer, occurred_at text not null, received_at text not null, why text not null, detail text not null,
        settled_at text, settled_by text, outcome text
     ) strict;
     create table received (
        id text primary key, key text, counter integer, received_at text not null, outcome text not null
     ) strict;
     create unique index received_count on received (key, counter) where key is not null;
     create table alert (
        key text primary key, since text not null, told_at text, seen_at text, seen_by text
     ) strict;
     create table act (at text not null, by text not null, what text not null) strict;
     create trigger act_is_never_changed before update on act begin select raise(abort, 'kept for ever'); end;
     create trigger act_is_never_deleted before delete on act begin select raise(abort, 'kept for ever'); end;",
    "alter table alert add column grade real not null default 0;
     alter table alert add column seen_grade real;
     alter table alert add column gone_at text;",
    // 3: what is remembered of other files.
    "create table remembered (key text primary key, value text not null) strict;
     create table try (place text not null, who text not null, wrong integer not null, last text not null,
        primary key (place, who)) strict;",
    // 4: word of an alert, by each way of its own.
    "create table alert_word (
        key text not null, way text not null, told_at text not null, primary key (key, way)
     ) strict;
     insert into alert_word select key, 'mail', told_at from alert where told_at is not null;
     insert into alert_word select key, 'webhook', told_at from alert where told_at is not null;
     alter table alert drop column told_at;
     create trigger alert_word_goes_with_its_alert after delete on alert
        begin delete from alert_word where key = old.key; end;"];

/// Under this key the ledger's last row and hash are remembered.
pub const LEDGER_END: &str = "ledger_end";

/// SHA-256 of a secret that somebody holds.
pub type TokenHash = [u8; 32];

/// Somebody who came in with a password.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Session {
    /// Who.
    pub person: Uuid,
    /// Since when.
    pub begun_at: Timestamp,
    /// Last seen, to a few minutes.
    pub seen_at: Timestamp,
}

/// A code that is good once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Code {
    /// What for: `first` or `device`.
    pub kind: String,
    /// Who gave it out.
    pub by: String,
    /// Until when.
    pub until: Timestamp,
}

/// A person's key on a device, for entries made without network.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfflineKey {
    /// Its id.
    pub id: Uuid,
    /// Whose.
    pub person: Uuid,
    /// On which device.
    pub device: Uuid,
    /// P-256 point, uncompressed.
    pub public: Vec<u8>,
    /// Since when.
    pub made_at: Timestamp,
    /// Until when.
    pub until: Timestamp,
}

/// All that is asked at every request.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Roster {
    /// People, by name.
    pub people: Vec<Person>,
    /// Devices with what their cookie hashes to, by name.
    pub devices: Vec<(TokenHash, Device)>,
    /// Sessions.
    pub sessions: Vec<(TokenHash, Session)>,
    /// Codes given out.
    pub codes: Vec<(TokenHash, Code)>,
    /// Offline keys.
    pub keys: Vec<OfflineKey>,
}

/// An entry that came from a device and could not be recorded without a person's decision. It is kept for ever.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// Made on the device; that of the entry.
    pub id: Uuid,
    /// From which device, where known.
    pub device: Option<Uuid>,
    /// Who signed it, where that is sure.
    pub person: Option<Uuid>,
    /// Who it says made it.
    pub author: String,
    /// Address of its form.
    pub path: String,
    /// The form as sent.
    pub form: String,
    /// The device's count of its entries.
    pub counter: Option<i64>,
    /// When it happened.
    pub occurred_at: Timestamp,
    /// When it came.
    pub received_at: Timestamp,
    /// Why it is held: a word of ours.
    pub why: String,
    /// What was asked or refused.
    pub detail: String,
    /// When, by whom and how it was settled; none while it waits.
    pub settled: Option<Settled>,
}

/// An alert that stands, and what is known of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlertRow {
    /// What it is of, such as `freeze:2`.
    pub key: String,
    /// Since when.
    pub since: Timestamp,
    /// When word of it went out last, by each way.
    pub told: Vec<(String, Timestamp)>,
    /// When somebody said to have seen it.
    pub seen_at: Option<Timestamp>,
    /// Who.
    pub seen_by: Option<String>,
    /// Since when it does not stand any more; it is let go of once that has lasted.
    pub gone_at: Option<Timestamp>,
}

impl AlertRow {
    /// When word of it went out last by a way.
    pub fn told_by(&self, way: &str) -> Option<Timestamp> {
        self.told.iter().find(|(known, _)| known == way).map(|(_, at)| *at)
    }

    /// When word of it went out last, by whatever way.
    pub fn told_at(&self) -> Option<Timestamp> {
        self.told.iter().map(|(_, at)| *at).max()
    }
}

/// An alert as it stands now.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// What it is of.
    pub key: String,
    /// How bad it is, more being worse, in the unit of its kind.
    pub grade: f64,
    /// Worse by so much than when somebody saw it, it is told again.
    pub step: f64,
}

/// The end of a held entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settled {
    /// When.
    pub at: Timestamp,
    /// By whom.
    pub by: String,
    /// `row 12`, or the reason it was left out.
    pub outcome: String,
}

/// The file.
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
            _ => Err(error.to_string()),
        });
        if let Err(what) = found {
            let reason =
                format!("it is damaged ({what}); accepted: the newest backup's people.db (docs/restore.md)");
            return Err(StoreError::Access { path: path.display().to_string(), reason });
        }
        Ok(Self { path: path.to_path_buf(), connection: Mutex::new(connection) })
    }

    fn with<T>(&self, act: impl FnOnce(&mut Connection) -> rusqlite::Result<T>) -> Result<T, StoreError> {
        let mut connection: MutexGuard<'_, Connection> =
            self.connection.lock().unwrap_or_else(PoisonError::into_inner);
        act(&mut connection).map_err(|error| match error.sqlite_error() {
            Some(found) if found.extended_code == rusqlite::ffi::SQLITE_CONSTRAINT_UNIQUE => {
                StoreError::Taken { what: "this name".into() }
            }
            _ => translate(&error, &self.path),
        })
    }

    /// A change of what is sealed, and its seal: both or neither.
    fn change<T>(&self, act: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<T>) -> Result<T, StoreError> {
        self.with(|connection| {
            let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let answer = act(&transaction)?;
            seal::renew(&transaction)?;
            transaction.commit()?;
            Ok(answer)
        })
    }

    /// A change of one row that is sealed.
    fn put_sealed(&self, sql: &str, values: &[&dyn rusqlite::ToSql]) -> Result<(), StoreError> {
        self.change(|transaction| transaction.prepare_cached(sql)?.execute(values).map(|_| ()))
    }

    fn put(&self, sql: &str, values: &[&dyn rusqlite::ToSql]) -> Result<(), StoreError> {
        self.with(|connection| connection.prepare_cached(sql)?.execute(values).map(|_| ()))
    }

    /// Wrong tries as they stand: place, who, how many, the last.
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

    /// Keeps how many wrong tries stand at a place.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn put_tries(&self, place: &str, who: &str, wrong: u32, last: Timestamp) -> Result<(), StoreError> {
        let sql = "insert into try (place, who, wrong, last) values (?1, ?2, ?3, ?4)
            on conflict (place, who) do update set wrong = excluded.wrong, last = excluded.last";
        self.put(sql, &[&place, &who, &wrong, &last.to_string()])
    }

    /// Forgets them.
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

    /// Changes whenever another program changed the file.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn version(&self) -> Result<i64, StoreError> {
        self.with(|connection| {
            connection.prepare_cached("pragma data_version")?.query_row([], |row| row.get(0))
        })
    }

    /// All that is asked at every request.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn roster(&self) -> Result<Roster, StoreError> {
        self.with(|connection| {
            let transaction = connection.transaction()?;
            let all = Roster {
                people: all(&transaction, "select * from person order by name", person)?,
                devices: all(&transaction, "select * from device order by name", |row| {
                    Ok((row.get("token")?, device(row)?))
                })?,
                sessions: all(&transaction, "select * from session", |row| {
                    let session = Session {
                        person: id(row, "person")?,
                        begun_at: at(row, "begun_at")?,
                        seen_at: at(row, "seen_at")?,
                    };
                    Ok((row.get("token")?, session))
                })?,
                codes: all(&transaction, "select * from code", |row| {
                    Ok((
                        row.get("token")?,
                        Code { kind: row.get("kind")?, by: row.get("by")?, until: at(row, "until")? },
                    ))
                })?,
                keys: all(&transaction, "select * from offline_key", |row| {
                    Ok(OfflineKey {
                        id: id(row, "id")?,
                        person: id(row, "person")?,
                        device: id(row, "device")?,
                        public: row.get("public")?,
                        made_at: at(row, "made_at")?,
                        until: at(row, "until")?,
                    })
                })?,
            };
            transaction.commit()?;
            Ok(all)
        })
    }

    /// Keeps a person as given: a new one, or a changed one.
    ///
    /// # Errors
    /// [`StoreError::Taken`] when another has the name.
    pub fn put_person(&self, person: &Person) -> Result<(), StoreError> {
        self.put_sealed(
            "insert into person (id, name, role, password, pin, is_active, made_at) values (?1,?2,?3,?4,?5,?6,?7)
             on conflict (id) do update set name = ?2, role = ?3, password = ?4, pin = ?5, is_active = ?6",
            params![
                person.id.to_string(),
                person.name,
                person.role.name(),
                person.password,
                person.pin,
                person.is_active,
                person.made_at.to_string()
            ],
        )
    }

    /// Makes the first supervisor, if there is none yet: of two who try at once, one.
    ///
    /// # Errors
    /// [`StoreError::Taken`] when there is one.
    pub fn put_first(&self, first: &Person) -> Result<(), StoreError> {
        let made = self.change(|transaction| {
            transaction.execute(
                "insert into person (id, name, role, password, pin, is_active, made_at)
                 select ?1,?2,?3,?4,?5,1,?6
                 where not exists (select 1 from person where role = 'supervisor' and is_active)",
                params![
                    first.id.to_string(),
                    first.name,
                    first.role.name(),
                    first.password,
                    first.pin,
                    first.made_at.to_string()
                ],
            )
        })?;
        if made == 1 { Ok(()) } else { Err(StoreError::Taken { what: "the first supervisor".into() }) }
    }

    /// Keeps a device as given.
    ///
    /// # Errors
    /// [`StoreError::Taken`] when another has the name.
    pub fn put_device(&self, token: &TokenHash, device: &Device) -> Result<(), StoreError> {
        self.put_sealed(
            "insert into device (id, name, token, enrolled_at, enrolled_by, revoked_at) values (?1,?2,?3,?4,?5,?6)
             on conflict (id) do update set name = ?2, token = ?3, revoked_at = ?6",
            params![
                device.id.to_string(),
                device.name,
                token,
                device.enrolled_at.to_string(),
                device.enrolled_by,
                device.revoked_at.map(|at| at.to_string())
            ],
        )
    }

    /// Keeps a session as given.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn put_session(&self, token: &TokenHash, session: &Session) -> Result<(), StoreError> {
        self.put(
            "insert into session (token, person, begun_at, seen_at) values (?1,?2,?3,?4)
             on conflict (token) do update set seen_at = ?4",
            params![
                token,
                session.person.to_string(),
                session.begun_at.to_string(),
                session.seen_at.to_string()
            ],
        )
    }

    /// Ends a session.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn end_session(&self, token: &TokenHash) -> Result<(), StoreError> {
        self.put("delete from session where token = ?1", params![token])
    }

    /// Ends all sessions of a person, as when the password changed or the person left.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn end_all_of(&self, person: Uuid) -> Result<(), StoreError> {
        let person = person.to_string();
        self.put("delete from session where person = ?1", params![person])
    }

    /// Keeps a code that is good once.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn put_code(&self, token: &TokenHash, code: &Code) -> Result<(), StoreError> {
        self.put(
            "insert into code (token, kind, by, until) values (?1,?2,?3,?4)",
            params![token, code.kind, code.by, code.until.to_string()],
        )
    }

    /// Takes a code: it is good once, and not after its time.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn take_code(
        &self,
        token: &TokenHash,
        kind: &str,
        now: Timestamp,
    ) -> Result<Option<Code>, StoreError> {
        self.with(|connection| {
            let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let found = transaction
                .query_row("select * from code where token = ?1 and kind = ?2", params![token, kind], |row| {
                    Ok(Code { kind: row.get("kind")?, by: row.get("by")?, until: at(row, "until")? })
                })
                .optional()?;
            if found.is_some() {
                transaction.execute("delete from code where token = ?1", params![token])?;
            }
            transaction.commit()?;
            Ok(found.filter(|code| code.until > now))
        })
    }

    /// Removes codes and keys long past, and sessions not seen since.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn tidy(&self, now: Timestamp, sessions_since: Timestamp) -> Result<(), StoreError> {
        self.with(|connection| {
            let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            for token in all(&transaction, "select token, until from code", |row| {
                Ok((row.get::<_, TokenHash>("token")?, at(row, "until")?))
            })?
            .into_iter()
            .filter_map(|(token, until)| (until < now).then_some(token))
            {
                transaction.execute("delete from code where token = ?1", params![token])?;
            }
            for token in all(&transaction, "select token, seen_at from session", |row| {
                Ok((row.get::<_, TokenHash>("token")?, at(row, "seen_at")?))
            })?
            .into_iter()
            .filter_map(|(token, seen)| (seen < sessions_since).then_some(token))
            {
                transaction.execute("delete from session where token = ?1", params![token])?;
            }
            transaction.commit()
        })
    }

    /// Keeps an offline key.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn put_key(&self, key: &OfflineKey) -> Result<(), StoreError> {
        self.put_sealed(
            "insert into offline_key (id, person, device, public, made_at, until) values (?1,?2,?3,?4,?5,?6)",
            params![
                key.id.to_string(),
                key.person.to_string(),
                key.device.to_string(),
                key.public,
                key.made_at.to_string(),
                key.until.to_string()
            ],
        )
    }

    /// Ends a person's offline keys: what they signed and has not come yet goes to a person.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn end_keys_of(&self, person: Uuid) -> Result<(), StoreError> {
        let never = Timestamp::UNIX_EPOCH.to_string();
        self.put_sealed(
            "update offline_key set until = ?2 where person = ?1",
            params![person.to_string(), never],
        )
    }

    /// What became of an entry that a device sent, if it came before.
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

    /// How many wait.
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

    /// One that is held.
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

    /// Settles one that waits; one that is settled stays as it is, and the answer is false.
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

    /// The alerts that stand.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn alerts(&self) -> Result<Vec<AlertRow>, StoreError> {
        self.with(|connection| {
            let words = all(connection, "select * from alert_word", |row| {
                Ok((row.get::<_, String>("key")?, row.get::<_, String>("way")?, at(row, "told_at")?))
            })?;
            all(connection, "select * from alert order by since, key", |row| {
                let key: String = row.get("key")?;
                let of_it = words.iter().filter(|(known, ..)| *known == key);
                Ok(AlertRow {
                    told: of_it.map(|(_, way, at)| (way.clone(), *at)).collect(),
                    key,
                    since: at(row, "since")?,
                    seen_at: maybe_at(row, "seen_at")?,
                    seen_by: row.get("seen_by")?,
                    gone_at: maybe_at(row, "gone_at")?,
                })
            })
        })
    }

    /// Keeps these alerts: new ones rise; those gone are let go of once they have been gone for `hold_off`, so that
    /// what comes and goes is one alert; those that have become worse by their step since somebody saw them are as not
    /// seen.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn keep_alerts(
        &self,
        standing: &[Standing],
        hold_off: SignedDuration,
        now: Timestamp,
    ) -> Result<(), StoreError> {
        self.with(|connection| {
            let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let before: Vec<(String, Option<Timestamp>)> = all(&transaction, "select * from alert", |row| {
                Ok((row.get("key")?, maybe_at(row, "gone_at")?))
            })?;
            for (key, gone_at) in before.iter().filter(|(key, _)| !standing.iter().any(|one| one.key == *key))
            {
                match gone_at {
                    Some(gone) if hold_off <= now.duration_since(*gone) => {
                        transaction.execute("delete from alert where key = ?1", [key])?;
                    }
                    Some(_) => {}
                    None => {
                        let gone = params![key, now.to_string()];
                        transaction.execute("update alert set gone_at = ?2 where key = ?1", gone)?;
                    }
                }
            }
            for one in standing {
                transaction.execute(
                    "insert into alert (key, since, grade) values (?1, ?2, ?3)
                     on conflict (key) do update set grade = ?3, gone_at = null",
                    params![one.key, now.to_string(), one.grade],
                )?;
                let is_worse = transaction.execute(
                    "update alert set seen_at = null, seen_by = null, seen_grade = null
                     where key = ?1 and seen_at is not null and ?2 >= coalesce(seen_grade, 0) + ?3",
                    params![one.key, one.grade, one.step],
                )?;
                if is_worse == 1 {
                    transaction.execute("delete from alert_word where key = ?1", [&one.key])?;
                }
            }
            transaction.commit()
        })
    }

    /// Remembers that word of alerts went out by a way.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn alerts_told(&self, keys: &[String], way: &str, now: Timestamp) -> Result<(), StoreError> {
        for key in keys {
            self.put(
                "insert into alert_word (key, way, told_at) select key, ?2, ?3 from alert where key = ?1
                 on conflict (key, way) do update set told_at = ?3",
                params![key, way, now.to_string()],
            )?;
        }
        Ok(())
    }

    /// Remembers who has seen an alert; false when there is none such.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn alert_seen(&self, key: &str, by: &str, now: Timestamp) -> Result<bool, StoreError> {
        self.with(|connection| {
            connection
                .prepare_cached(
                    "update alert set seen_at = coalesce(seen_at, ?2), seen_by = coalesce(seen_by, ?3),
                     seen_grade = coalesce(seen_grade, grade) where key = ?1",
                )?
                .execute(params![key, now.to_string(), by])
                .map(|changed| changed == 1)
        })
    }

    /// Writes down what was done to people and devices, and by whom.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn note(&self, at: Timestamp, by: &str, what: &str) -> Result<(), StoreError> {
        self.put("insert into act (at, by, what) values (?1,?2,?3)", params![at.to_string(), by, what])
    }

    /// The newest of what was done: when, by whom, what.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn notes(&self, most: usize) -> Result<Vec<(Timestamp, String, String)>, StoreError> {
        self.with(|connection| {
            let mut statement =
                connection.prepare_cached("select * from act order by rowid desc limit ?1")?;
            let found = statement
                .query_map([most as i64], |row| Ok((at(row, "at")?, row.get("by")?, row.get("what")?)))?;
            found.collect()
        })
    }
}

/// Leaves a file to its owner alone, where the system knows owners.
/// That an entry of a device came.
const RECEIVED: &str = "insert into received (id, key, counter, received_at, outcome) values (?1,?2,?3,?4,?5)
     on conflict do nothing";

fn all<T>(
    connection: &Connection,
    sql: &str,
    read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
) -> rusqlite::Result<Vec<T>> {
    let mut statement = connection.prepare_cached(sql)?;
    let found = statement.query_map([], read)?;
    found.collect()
}

fn person(row: &Row<'_>) -> rusqlite::Result<Person> {
    let role: String = row.get("role")?;
    Ok(Person {
        id: id(row, "id")?,
        name: row.get("name")?,
        // A role that is none may look, and nothing else.
        role: Role::named(&role).unwrap_or(Role::Viewer),
        password: row.get("password")?,
        pin: row.get("pin")?,
        is_active: row.get("is_active")?,
        made_at: at(row, "made_at")?,
    })
}

fn device(row: &Row<'_>) -> rusqlite::Result<Device> {
    Ok(Device {
        id: id(row, "id")?,
        name: row.get("name")?,
        enrolled_at: at(row, "enrolled_at")?,
        enrolled_by: row.get("enrolled_by")?,
        revoked_at: maybe_at(row, "revoked_at")?,
    })
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

fn read<T: std::str::FromStr>(text: &str) -> rusqlite::Result<T>
where
    T::Err: std::error::Error + Send + Sync + 'static,
{
    text.parse().map_err(|error| rusqlite::Error::FromSqlConversionFailure(0, Type::Text, Box::new(error)))
}

fn id(row: &Row<'_>, column: &str) -> rusqlite::Result<Uuid> {
    read(&row.get::<_, String>(column)?)
}

fn maybe_id(row: &Row<'_>, column: &str) -> rusqlite::Result<Option<Uuid>> {
    row.get::<_, Option<String>>(column)?.map(|text| read(&text)).transpose()
}

fn at(row: &Row<'_>, column: &str) -> rusqlite::Result<Timestamp> {
    read(&row.get::<_, String>(column)?)
}

fn maybe_at(row: &Row<'_>, column: &str) -> rusqlite::Result<Option<Timestamp>> {
    row.get::<_, Option<String>>(column)?.map(|text| read(&text)).transpose()
}
