//! What was seen of a tank: dips, readings, jar tests. None of it moves the book.

use chemistry::MassFraction;
use jiff::Timestamp;
use quantity::{Mass, ThermodynamicTemperature, Time, Volume};

use event::{EventId, JarResult};

/// A dip with what the book held at that moment.
#[derive(Debug, Clone, Copy)]
pub struct DipLook {
    /// When it was measured.
    pub at: Timestamp,
    /// Depth above the lowest inside point.
    pub depth: quantity::Length,
    /// Temperature, where taken.
    pub temperature: Option<ThermodynamicTemperature>,
    /// Mass by the book.
    pub mass: Mass,
    /// Sodium chloride by the book.
    pub sodium_chloride: Mass,
}

/// A dip, as evidence.
#[derive(Debug, Clone, Copy)]
pub struct DipEvidence {
    /// When it was measured.
    pub at: Timestamp,
    /// Volume by the tank's shape, at the content's temperature.
    pub volume: Volume,
    /// Temperature, where taken.
    pub temperature: Option<ThermodynamicTemperature>,
    /// Book volume at that moment, at 60 °F.
    pub book_volume: Volume,
}

/// A reading, as evidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadingEvidence {
    /// When it was measured.
    pub at: Timestamp,
    /// Strength that was read, by mass.
    pub strength: MassFraction,
    /// 95 % interval, ±.
    pub expanded_uncertainty: Option<MassFraction>,
}

/// A reading as it was logged.
#[derive(Debug, Clone)]
pub struct LoggedReading {
    /// Id of its entry in the ledger.
    pub event: EventId,
    /// When it was measured.
    pub at: Timestamp,
    /// Who entered it, by the entry's own word.
    pub author: String,
    /// The reading, as entered.
    pub reading: event::Reading,
}

impl LoggedReading {
    /// The sample it was read in, by the id of its first reading.
    pub fn sample(&self) -> EventId {
        self.reading.sample.as_ref().and_then(|id| id.parse().ok()).unwrap_or(self.event)
    }
}

/// A jar test, as evidence.
#[derive(Debug, Clone)]
pub struct JarTestEvidence {
    /// When it was measured.
    pub at: Timestamp,
    /// First liquid: id of a product, or as written.
    pub liquid_a: String,
    /// Second liquid, likewise.
    pub liquid_b: String,
    /// The first in the mix, per cent by volume.
    pub share_a_pct: f64,
    /// Temperature that the jar was kept at.
    pub temperature: ThermodynamicTemperature,
    /// How long the jar was kept.
    pub duration: Time,
    /// What was seen.
    pub result: JarResult,
    /// Notes typed with the test.
    pub remark: Option<String>,
}
