//! The append-only ledger on a database.
//!
//! [`Ledger`] is the one interface; SQLite implements it today, another engine may tomorrow. No SQL stands outside this
//! crate. What is written is never changed or deleted: see [`chain`] for how that is shown.

pub mod backup;
pub mod chain;
pub mod export;
pub mod people;
mod serving;
mod sqlite;
pub mod telemetry;

use jiff::Timestamp;
use yard::event::{BodyError, Event, EventId, Recorded};

pub use serving::ServingLock;
pub use sqlite::SqliteLedger;

/// A ledger of events.
pub trait Ledger: Send + Sync {
    /// Records events, all or none, in the order given. An event already recorded with the same content is answered
    /// with its place and not recorded again.
    ///
    /// # Errors
    /// [`StoreError`]; nothing was recorded.
    fn append(&self, events: &[Event], recorded_at: Timestamp) -> Result<Vec<Appended>, StoreError>;

    /// The last place and its hash.
    ///
    /// # Errors
    /// [`StoreError`].
    fn head(&self) -> Result<Head, StoreError>;

    /// Rows after a place, in order, as kept.
    ///
    /// # Errors
    /// [`StoreError`].
    fn rows_after(&self, seq: u64) -> Result<Vec<Row>, StoreError>;

    /// The place of an event, where it is recorded.
    ///
    /// # Errors
    /// [`StoreError`].
    fn place_of(&self, id: EventId) -> Result<Option<u64>, StoreError>;

    /// Recomputes the whole chain. A damaged ledger takes no more events from this program.
    ///
    /// # Errors
    /// [`StoreError`] when it cannot be read at all; damage that was found is the answer, not an error.
    fn verify(&self) -> Result<Verification, StoreError>;

    /// Holds the ledger against its end as it was kept elsewhere. A row that is gone, or is another, is damage.
    ///
    /// # Errors
    /// [`StoreError::Damaged`]; [`StoreError`].
    fn holds(&self, end: Head) -> Result<(), StoreError>;

    /// Events after a place, in order.
    ///
    /// # Errors
    /// [`StoreError::Unreadable`] for a row that is no event; [`StoreError`].
    fn events_after(&self, seq: u64) -> Result<Vec<Recorded>, StoreError> {
        self.rows_after(seq)?.iter().map(Row::decode).collect()
    }
}

/// Answer to one recorded event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Appended {
    /// Recorded now.
    New {
        /// Its place.
        seq: u64,
    },
    /// It was there already.
    Already {
        /// Its place.
        seq: u64,
    },
}

impl Appended {
    /// The place of the event.
    pub fn seq(self) -> u64 {
        match self {
            Appended::New { seq } | Appended::Already { seq } => seq,
        }
    }
}

/// End of the chain. Keep it elsewhere, and a cut-off tail can be shown too.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Head {
    /// Last place; zero for an empty ledger.
    pub seq: u64,
    /// Its hash.
    pub hash: chain::Hash,
}

/// What a verification found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verification {
    /// Every row fits the one before.
    Sound(Head),
    /// The first row that does not.
    Damaged {
        /// Place at which the damage was found; zero where it is of the file as a whole.
        seq: u64,
        /// What is wrong with it.
        reason: String,
    },
}

/// A row as kept: text, so that what is hashed is what is stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Place.
    pub seq: u64,
    /// Event id.
    pub id: String,
    /// Event kind.
    pub kind: String,
    /// Event version.
    pub version: u32,
    /// RFC 3339, UTC.
    pub occurred_at: String,
    /// RFC 3339, UTC.
    pub recorded_at: String,
    /// Who.
    pub author: String,
    /// On what.
    pub device: String,
    /// JSON object.
    pub body: String,
    /// Hash of the row before.
    pub previous: chain::Hash,
    /// Hash of this row.
    pub hash: chain::Hash,
}

impl Row {
    /// The event in the row.
    ///
    /// # Errors
    /// [`StoreError::Unreadable`].
    pub fn decode(&self) -> Result<Recorded, StoreError> {
        let text = RowText {
            seq: self.seq,
            id: &self.id,
            kind: &self.kind,
            version: self.version,
            occurred_at: &self.occurred_at,
            recorded_at: &self.recorded_at,
            author: &self.author,
            device: &self.device,
            body: &self.body,
        };
        text.decode()
    }
}

/// The texts of a row that make an event, where they lie.
#[derive(Debug, Clone, Copy)]
pub(crate) struct RowText<'a> {
    pub(crate) seq: u64,
    pub(crate) id: &'a str,
    pub(crate) kind: &'a str,
    pub(crate) version: u32,
    pub(crate) occurred_at: &'a str,
    pub(crate) recorded_at: &'a str,
    pub(crate) author: &'a str,
    pub(crate) device: &'a str,
    pub(crate) body: &'a str,
}

impl RowText<'_> {
    pub(crate) fn decode(&self) -> Result<Recorded, StoreError> {
        let unreadable = |reason: String| StoreError::Unreadable { seq: self.seq, reason };
        let time = |text: &str| text.parse::<Timestamp>().map_err(|e| unreadable(e.to_string()));
        Ok(Recorded {
            seq: self.seq,
            recorded_at: time(self.recorded_at)?,
            event: Event {
                id: self.id.parse::<EventId>().map_err(|e| unreadable(e.to_string()))?,
                occurred_at: time(self.occurred_at)?,
                author: self.author.to_string(),
                device: self.device.to_string(),
                body: yard::event::Body::from_json(self.kind, self.version, self.body)
                    .map_err(|e: BodyError| unreadable(e.to_string()))?,
            },
        })
    }
}

/// " at row 7"; nothing where the damage is of no row.
fn at_row(seq: u64) -> String {
    if seq == 0 { String::new() } else { format!(" at row {seq}") }
}

/// Why the ledger could not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// No room to write.
    #[error("the disk is full: nothing was recorded; free some space and enter it again")]
    DiskFull,
    /// Another program holds the database.
    #[error(
        "the database {path} is in use by another brinewright ({holder}); stop that one, or use its console"
    )]
    InUse {
        /// Database.
        path: String,
        /// What the holder wrote about itself.
        holder: String,
    },
    /// The file is no ledger, or a broken one.
    #[error("{path} is not a ledger that can be read ({reason}); accepted: a file made by this program")]
    NotALedger {
        /// Database.
        path: String,
        /// What the database said.
        reason: String,
    },
    /// The file is no telemetry, or broken.
    #[error("{path} holds no telemetry that can be read; accepted: a file made by this program")]
    NotTelemetry {
        /// File.
        path: String,
    },
    /// Made by a newer program.
    #[error(
        "{path} was written by a newer version (layout {found}, this program knows {known}); update the program"
    )]
    Newer {
        /// Database.
        path: String,
        /// Layout found.
        found: i64,
        /// Layout known.
        known: i64,
    },
    /// A row that is no event.
    #[error("ledger row {seq} cannot be read: {reason}; run \"brinewright ledger verify\"")]
    Unreadable {
        /// Place.
        seq: u64,
        /// What is wrong.
        reason: String,
    },
    /// The chain is broken.
    #[error(
        "the ledger is damaged{} ({reason}): nothing more is recorded in it; restore a backup", at_row(*seq)
    )]
    Damaged {
        /// Place.
        seq: u64,
        /// What is wrong.
        reason: String,
    },
    /// The file that is there is not the one that was opened.
    #[error(
        "{path} is not the ledger that was opened ({reason}): nothing more is recorded; stop the console, put the \
         right file back, and start it again"
    )]
    Replaced {
        /// Database.
        path: String,
        /// How that shows.
        reason: String,
    },
    /// A name or a place that only one may have.
    #[error("{what} is taken; accepted: another")]
    Taken {
        /// What.
        what: String,
    },
    /// The id is taken by another event.
    #[error(
        "event {id} is recorded already with other content (row {seq}); accepted: a new id for a new event"
    )]
    Conflict {
        /// Id.
        id: EventId,
        /// Place.
        seq: u64,
    },
    /// A void of something that cannot be taken back.
    #[error("event {target} cannot be taken back: {reason}")]
    Void {
        /// What it names.
        target: String,
        /// Why not.
        reason: &'static str,
    },
    /// The file or folder cannot be used.
    #[error("{path}: {reason}")]
    Access {
        /// Database.
        path: String,
        /// What the system said.
        reason: String,
    },
    /// Anything else the database said.
    #[error("the database said: {0}")]
    Database(String),
}

message::tell_as_said!(StoreError);
