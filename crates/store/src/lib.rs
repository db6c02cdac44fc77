//! The append-only ledger on a database.
//!
//! [`Ledger`] is the one interface; SQLite implements it today, another engine may tomorrow. No SQL stands outside this
//! crate. What is written is never changed or deleted: see [`chain`] for how that is shown.
//!
//! ```
//! use store::{Ledger, SqliteLedger, Verification};
//!
//! let path = std::env::temp_dir().join(format!("ledger-front-page-{}.db", std::process::id()));
//! let ledger = SqliteLedger::open(&path)?;
//! assert_eq!(ledger.head()?.seq, 0);
//! assert!(matches!(ledger.verify()?, Verification::Sound(_)));
//! # drop(ledger);
//! # for end in ["", "-end", "-wal", "-shm"] {
//! #     let _ = std::fs::remove_file(format!("{}{end}", path.display()));
//! # }
//! # Ok::<(), store::StoreError>(())
//! ```

pub mod backup;
pub mod chain;
mod error;
pub mod export;
pub mod people;
mod serving;
mod sqlite;
pub mod telemetry;

use event::{Event, EventId, Recorded};
use jiff::Timestamp;
use message::{Message, Tell};

use error::outside;
pub use error::{Holder, NotVoidable, StoreError, Taken};
pub use serving::ServingLock;
pub use sqlite::SqliteLedger;

/// A ledger of events.
pub trait Ledger: Send + Sync {
    /// Records events, all or none, in the order given. An event already recorded with the same content is answered
    /// with its place and not recorded again.
    ///
    /// ```
    /// use store::{Appended, Ledger, SqliteLedger};
    /// use event::{Body, Event, EventId, Note};
    ///
    /// # let path = std::env::temp_dir().join(format!("ledger-append-{}.db", std::process::id()));
    /// let ledger = SqliteLedger::open(&path)?;
    /// let now = jiff::Timestamp::UNIX_EPOCH;
    /// let event = Event {
    ///     id: EventId(uuid::Uuid::now_v7()),
    ///     occurred_at: now,
    ///     author: "Ines".into(),
    ///     device: "shop tablet".into(),
    ///     body: Body::Note(Note { text: "Pump 2 is back".into() }),
    /// };
    /// assert_eq!(ledger.append(&[event.clone()], now)?, [Appended::New { seq: 1 }]);
    /// // Sent again, as after a lost answer, it is not recorded a second time.
    /// assert_eq!(ledger.append(&[event], now)?, [Appended::Already { seq: 1 }]);
    /// # drop(ledger);
    /// # for end in ["", "-end", "-wal", "-shm"] {
    /// #     let _ = std::fs::remove_file(format!("{}{end}", path.display()));
    /// # }
    /// # Ok::<(), store::StoreError>(())
    /// ```
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

    /// Compares the ledger with its end as it was kept elsewhere. A row that is missing or different is damage.
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

/// What became of one event that was given to [`Ledger::append`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Appended {
    /// The event was written by this call.
    New {
        /// Place of its new row, from 1.
        seq: u64,
    },
    /// The same event was in the ledger before this call; nothing was written.
    Already {
        /// Place of the row it was found in.
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
    /// Hash of the last row; [`chain::Hash::ORIGIN`] for an empty ledger.
    pub hash: chain::Hash,
}

/// What a verification found.
#[derive(Debug, Clone, PartialEq)]
pub enum Verification {
    /// Every row fits the one before.
    Sound(Head),
    /// The first row that does not fit, or damage of the file as a whole.
    Damaged {
        /// Place of the damaged row; zero where the file as a whole is damaged.
        seq: u64,
        /// What is wrong with it.
        reason: Message,
    },
}

/// A row as kept: text, so that what is hashed is what is stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Place in the ledger, counted from 1 without gaps.
    pub seq: u64,
    /// Id of the event (UUID), unique in the ledger.
    pub id: String,
    /// Kind of the event, as `event` names it, such as `dip`.
    pub kind: String,
    /// Version of the kind's fields that the body was written in.
    pub version: u32,
    /// When it happened, as the person who entered it says; RFC 3339, UTC.
    pub occurred_at: String,
    /// When it was written to the ledger, by this computer's clock; RFC 3339, UTC.
    pub recorded_at: String,
    /// Name of the person who made the entry.
    pub author: String,
    /// Name of the device that it was entered on.
    pub device: String,
    /// Fields of the event, as a JSON object.
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

/// The texts of a row that make an event, borrowed.
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
        let unreadable = |reason: Message| StoreError::Unreadable { seq: self.seq, reason };
        let time = |text: &str| text.parse::<Timestamp>().map_err(|error| unreadable(outside(error)));
        Ok(Recorded {
            seq: self.seq,
            recorded_at: time(self.recorded_at)?,
            event: Event {
                id: self.id.parse::<EventId>().map_err(|error| unreadable(outside(error)))?,
                occurred_at: time(self.occurred_at)?,
                author: self.author.to_string(),
                device: self.device.to_string(),
                body: event::Body::from_json(self.kind, self.version, self.body)
                    .map_err(|error| unreadable(error.message()))?,
            },
        })
    }
}
