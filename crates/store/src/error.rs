//! Errors of the store, as data: `report` makes the sentence.

use std::fmt;

use event::EventId;
use message::{Arg, Message, Tell, message};

/// An error of the ledger, the people's file, the telemetry or a backup.
#[derive(Debug)]
pub enum StoreError {
    /// No room to write.
    DiskFull,
    /// Another program has the database open, or its lock.
    InUse {
        /// Path of the file as it was opened.
        path: String,
        /// Who holds it.
        holder: Holder,
    },
    /// The file is not a ledger or people's file, or is damaged.
    NotALedger {
        /// Path of the file as it was opened.
        path: String,
        /// What the database engine, or this program, found wrong with it.
        reason: Message,
    },
    /// The file is not a telemetry file, or is damaged.
    NotTelemetry {
        /// Path of the telemetry file.
        path: String,
    },
    /// Made by a newer program.
    Newer {
        /// Path of the file as it was opened.
        path: String,
        /// Layout version that the file says it has.
        found: i64,
        /// Newest layout version that this program reads.
        known: i64,
    },
    /// A row that cannot be read as an event.
    Unreadable {
        /// Place of the row in the ledger.
        seq: u64,
        /// What is wrong.
        reason: Message,
    },
    /// The chain is broken.
    Damaged {
        /// Place of the first damaged row; zero where the file as a whole is damaged.
        seq: u64,
        /// What is wrong.
        reason: Message,
    },
    /// The file at this path is no longer the one that was opened.
    Replaced {
        /// Path of the file as it was opened.
        path: String,
        /// What shows it.
        reason: Message,
    },
    /// Something that only one may have, and another has already.
    Taken(Taken),
    /// The id is taken by another event.
    Conflict {
        /// Id that both events carry.
        id: EventId,
        /// Place of the row that has the id already.
        seq: u64,
    },
    /// A void of something that cannot be voided.
    Void {
        /// Event id that the void names, as it was written.
        target: String,
        /// What keeps it from being voided.
        reason: NotVoidable,
    },
    /// The file or folder cannot be used.
    Access {
        /// File or folder.
        path: String,
        /// What the operating system said, or why this program will not use it.
        reason: Message,
    },
    /// Anything else the database said.
    Database(Message),
}

/// Who has a database open that this program needs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Holder {
    /// A program that wrote its name beside the database, such as `process 12`.
    Named(String),
    /// A program that is writing.
    Writer,
    /// A program that left no name.
    Unknown,
}

/// Something that only one person or device may have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Taken {
    /// The name of a person or a device.
    Name,
    /// Being the first supervisor.
    FirstSupervisor,
}

/// Why an event cannot be voided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotVoidable {
    /// What the void names is not an event id.
    NotAnId,
    /// No event has that id.
    NoSuchEvent,
    /// The event is a void itself.
    IsAVoid,
    /// It was voided before.
    VoidedBefore,
}

/// What the system, the database engine or a parser said, in its own words.
pub(crate) fn outside(words: impl fmt::Display) -> Message {
    message!("store.outside", words = words.to_string())
}

impl From<&Holder> for Arg {
    fn from(holder: &Holder) -> Self {
        match holder {
            Holder::Named(name) => name.into(),
            Holder::Writer => message!("store.holder.writer").into(),
            Holder::Unknown => message!("store.holder.unknown").into(),
        }
    }
}

impl Tell for NotVoidable {
    fn message(&self) -> Message {
        match self {
            NotVoidable::NotAnId => message!("store.void.not_an_id"),
            NotVoidable::NoSuchEvent => message!("store.void.no_such_event"),
            NotVoidable::IsAVoid => message!("store.void.is_a_void"),
            NotVoidable::VoidedBefore => message!("store.void.before"),
        }
    }
}

impl Tell for StoreError {
    fn message(&self) -> Message {
        match self {
            StoreError::DiskFull => message!("store.disk_full"),
            StoreError::InUse { path, holder } => message!("store.in_use", path = path, holder = holder),
            StoreError::NotALedger { path, reason } => {
                message!("store.not_a_ledger", path = path, reason = reason.clone())
            }
            StoreError::NotTelemetry { path } => message!("store.not_telemetry", path = path),
            StoreError::Newer { path, found, known } => {
                message!("store.newer", path = path, found = *found, known = *known)
            }
            StoreError::Unreadable { seq, reason } => {
                message!("store.unreadable", row = *seq, reason = reason.clone())
            }
            StoreError::Damaged { seq: 0, reason } => message!("store.damaged", reason = reason.clone()),
            StoreError::Damaged { seq, reason } => {
                message!("store.damaged_at", row = *seq, reason = reason.clone())
            }
            StoreError::Replaced { path, reason } => {
                message!("store.replaced", path = path, reason = reason.clone())
            }
            StoreError::Taken(Taken::Name) => message!("store.taken.name"),
            StoreError::Taken(Taken::FirstSupervisor) => message!("store.taken.first_supervisor"),
            StoreError::Conflict { id, seq } => {
                message!("store.conflict", event = id.to_string(), row = *seq)
            }
            StoreError::Void { target, reason } => message!("store.void", event = target, reason = reason),
            StoreError::Access { path, reason } => {
                message!("store.access", path = path, reason = reason.clone())
            }
            StoreError::Database(what) => message!("store.database", what = what.clone()),
        }
    }
}

impl fmt::Display for StoreError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.message())
    }
}

impl std::error::Error for StoreError {}
