//! People, devices, sessions, codes and offline keys.

use jiff::Timestamp;
use rusqlite::{OptionalExtension, Row, TransactionBehavior, params};
use site::people::{Device, Person, Role};
use uuid::Uuid;

use super::PeopleFile;
use super::rows::{all, at, id, maybe_at};
use crate::{StoreError, Taken};

/// SHA-256 of a secret that a browser or a person holds.
pub type TokenHash = [u8; 32];

/// A person signed in with a password.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Session {
    /// Id of the person.
    pub person: Uuid,
    /// When the person signed in.
    pub begun_at: Timestamp,
    /// Time of the last request, kept to a few minutes.
    pub seen_at: Timestamp,
}

/// A code that can be used once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Code {
    /// Purpose of the code: `first` for the first supervisor, `device` to enroll one.
    pub kind: String,
    /// Name of the person who gave it out.
    pub by: String,
    /// Time after which it is refused.
    pub until: Timestamp,
}

/// A person's key on a device, for offline entries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfflineKey {
    /// Id of the key.
    pub id: Uuid,
    /// Id of the person who signs with it.
    pub person: Uuid,
    /// Id of the device it was made on.
    pub device: Uuid,
    /// Public key: a P-256 point, uncompressed.
    pub public: Vec<u8>,
    /// When it was made.
    pub made_at: Timestamp,
    /// Latest time of an entry that it may sign; an ended key has one long past.
    pub until: Timestamp,
}

/// Everything that the console checks at each request.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Roster {
    /// People, by name.
    pub people: Vec<Person>,
    /// Devices with what their cookie hashes to, by name.
    pub devices: Vec<(TokenHash, Device)>,
    /// Sessions, each with the hash of its cookie; those that have run out stay until [`PeopleFile::tidy`].
    pub sessions: Vec<(TokenHash, Session)>,
    /// Codes given out and not yet used, each with its hash; those that have run out stay until [`PeopleFile::tidy`].
    pub codes: Vec<(TokenHash, Code)>,
    /// Every offline key there ever was, ended ones too.
    pub keys: Vec<OfflineKey>,
}

impl PeopleFile {
    /// Reads everything that the console checks at each request.
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

    /// Saves a person, new or changed.
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

    /// Makes the first supervisor, if there is none yet. Of two who try at once, one succeeds.
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
        if made == 1 { Ok(()) } else { Err(StoreError::Taken(Taken::FirstSupervisor)) }
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

    /// Uses up a code of one kind; none when there is no such code or its time is over.
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

    /// Deletes codes whose time is over, and sessions not seen since `sessions_since`. Offline keys stay.
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

    /// Ends a person's offline keys. Entries that they signed and that arrive later wait for a decision.
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
