//! What was done to people and devices, and by whom: kept as kind and values, told in the reader's language.

use jiff::Timestamp;
use message::{Arg, Message, Tell, message};
use rusqlite::params;
use site::people::Role;

use super::PeopleFile;
use super::rows::at;
use crate::StoreError;

/// An act on people, devices or sign-ins, done or tried.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Act {
    /// The first supervisor was made.
    FirstSupervisor,
    /// A person was added.
    Added {
        /// Name of the person.
        name: String,
        /// What the new person was given: role, password, PIN.
        what: Vec<Changed>,
    },
    /// A person was changed.
    Changed {
        /// Name of the person, as changed.
        name: String,
        /// What was changed.
        what: Vec<Changed>,
    },
    /// A person chose another password.
    ChosePassword {
        /// Name of the person.
        name: String,
    },
    /// The old password was wrong when another was to be chosen.
    WrongOldPassword,
    /// Somebody tried to sign in with a wrong password.
    WrongPassword {
        /// The name that was typed.
        name: String,
    },
    /// A device was enrolled.
    Enrolled {
        /// Name of the device.
        device: String,
    },
    /// A device was removed and is no longer trusted.
    Removed {
        /// Name of the device.
        device: String,
    },
    /// A shift was begun on a device, with a key for offline entries.
    ShiftBegun {
        /// Name of the device.
        device: String,
    },
}

/// A part of a person's record that was given or changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Changed {
    /// The role, and which one the person has now.
    Role(Role),
    /// The password. The secret itself is not kept here.
    Password,
    /// The PIN. The secret itself is not kept here.
    Pin,
    /// Whether the person may sign in now: true after coming back, false after leaving.
    Active(bool),
    /// The name, with what it was before.
    NameBefore(String),
}

impl From<&Changed> for Message {
    fn from(changed: &Changed) -> Self {
        match changed {
            Changed::Role(role) => {
                message!("store.act.role", role = Message::new(format!("role.{}", role.name())))
            }
            Changed::Password => message!("store.act.password"),
            Changed::Pin => message!("store.act.pin"),
            Changed::Active(true) => message!("store.act.active"),
            Changed::Active(false) => message!("store.act.left"),
            Changed::NameBefore(name) => message!("store.act.name_before", name = name),
        }
    }
}

fn list(what: &[Changed]) -> Vec<Arg> {
    what.iter().map(|one| Message::from(one).into()).collect()
}

impl Tell for Act {
    fn message(&self) -> Message {
        match self {
            Act::FirstSupervisor => message!("store.act.first_supervisor"),
            Act::Added { name, what } if what.is_empty() => message!("store.act.added", name = name),
            Act::Added { name, what } => message!("store.act.added_with", name = name, what = list(what)),
            Act::Changed { name, what } if what.is_empty() => message!("store.act.changed", name = name),
            Act::Changed { name, what } => {
                message!("store.act.changed_with", name = name, what = list(what))
            }
            Act::ChosePassword { name } => message!("store.act.chose_password", name = name),
            Act::WrongOldPassword => message!("store.act.wrong_old_password"),
            Act::WrongPassword { name } => message!("store.act.wrong_password", name = name),
            Act::Enrolled { device } => message!("store.act.enrolled", device = device),
            Act::Removed { device } => message!("store.act.removed", device = device),
            Act::ShiftBegun { device } => message!("store.act.shift_begun", device = device),
        }
    }
}

impl PeopleFile {
    /// Saves an act with its time and the name of the person who did it.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn note(&self, at: Timestamp, by: &str, act: &Act) -> Result<(), StoreError> {
        // A message is texts and numbers alone: it always becomes JSON.
        let what = serde_json::to_string(&act.message())
            .map_err(|error| StoreError::Database(crate::error::outside(error)))?;
        self.put("insert into act (at, by, what) values (?1,?2,?3)", params![at.to_string(), by, what])
    }

    /// The newest of what was done: when, by whom, what. Rows from before acts were kept as data hold an English
    /// sentence, which is shown as it is.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn notes(&self, most: usize) -> Result<Vec<(Timestamp, String, Message)>, StoreError> {
        self.with(|connection| {
            let mut statement =
                connection.prepare_cached("select * from act order by rowid desc limit ?1")?;
            let found = statement.query_map([most as i64], |row| {
                let kept: String = row.get("what")?;
                let what = serde_json::from_str(&kept).unwrap_or_else(|_| message::said(kept));
                Ok((at(row, "at")?, row.get("by")?, what))
            })?;
            found.collect()
        })
    }
}
