//! What the plant's sensors showed, kept a season.
//!
//! Samples are taken into memory, can be read at once, and are saved all together by [`Telemetry::save`]: one
//! synchronisation of the disk each time, every [`SAVE_EVERY`]. Full blocks are compressed by pcodec (M. Loncaric,
//! N. Jeppesen and B. Zinberg, "Pcodec: better compression for numerical sequences", arXiv:2502.06112), and minutes and
//! quarters of an hour are kept beside them as least, most and mean, so that a chart of any width reads few rows.

mod block;
mod file;
mod opening;
mod tables;

use std::time::Duration;

use jiff::Timestamp;
use message::Message;

use crate::StoreError;

pub use file::TelemetryFile;

/// Longest time between two saves, and so the most that a crash loses.
pub const SAVE_EVERY: Duration = Duration::from_secs(5);

/// Number of a channel in the store.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Channel(pub u32);

/// One value of a channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Channel that the value belongs to.
    pub channel: Channel,
    /// When, kept to the millisecond.
    pub at: Timestamp,
    /// In the channel's own unit, finite.
    pub value: f64,
}

/// What a channel showed in a part of a window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// Begin of the part, included.
    pub from: Timestamp,
    /// Least value of the part, in the channel's own unit.
    pub least: f64,
    /// Greatest value of the part, in the channel's own unit.
    pub most: f64,
    /// Mean over the samples, in the channel's own unit.
    pub mean: f64,
    /// Number of samples in the part, at least one.
    pub count: u64,
}

/// Sensors' values over time.
pub trait Telemetry: Send + Sync {
    /// What was found damaged since it was opened; what is damaged is left out of every answer.
    fn damage(&self) -> Option<Message>;

    /// Copies all that is saved into a new file; samples may be taken and read meanwhile.
    ///
    /// # Errors
    /// [`StoreError::Access`]; nothing is left of the copy then.
    fn copy(&self, to: &std::path::Path) -> Result<(), StoreError>;

    /// The number of a channel by its name, given when it is first asked for.
    ///
    /// # Errors
    /// [`StoreError`].
    fn channel(&self, name: &str) -> Result<Channel, StoreError>;

    /// Takes samples in, in memory: they can be read at once and are safe after the next [`Self::save`]. Values that
    /// are not finite are left out.
    fn take(&self, samples: &[Sample]);

    /// Saves all that was taken, with one synchronisation of the disk; one more where the file grows, by half or more
    /// each time.
    ///
    /// # Errors
    /// [`StoreError`]; what was taken is kept in memory and saved with the next.
    fn save(&self) -> Result<(), StoreError>;

    /// A window as at most so many columns, oldest first. Its begin is included, its end is not; parts without a sample
    /// are left out.
    ///
    /// # Errors
    /// [`StoreError`].
    fn window(
        &self,
        channel: Channel,
        from: Timestamp,
        to: Timestamp,
        columns: usize,
    ) -> Result<Vec<Column>, StoreError>;

    /// Every sample of a window, oldest first.
    ///
    /// # Errors
    /// [`StoreError`].
    fn samples(&self, channel: Channel, from: Timestamp, to: Timestamp) -> Result<Vec<Sample>, StoreError>;

    /// Deletes samples before a time; minutes and quarters of an hour stay. Returns how many blocks were deleted.
    ///
    /// # Errors
    /// [`StoreError`].
    fn forget_before(&self, before: Timestamp) -> Result<u64, StoreError>;
}
