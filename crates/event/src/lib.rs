//! What can happen in a yard, as the ledger keeps it: append-only, versioned, SI inside, units in every field's name.
//!
//! An event is never changed. A mistake is voided by a later event that says why. The text written once is the text
//! hashed and kept; reading an old version forward is this module's work alone.

use jiff::Timestamp;
use message::{Message, Tell, message};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

mod bodies;
mod choice;
mod field;
mod kinds;

pub use choice::{
    Adjusted, BatchFound, BucketsTo, CaughtLiquid, CheckedIn, Choice, HowFound, JarResult, Occasion,
    RoadInstrument, RoadLook, RoadPart, RunEnding, SamplePoint, Sampled, StepAnswer, TotalOf, Treated,
};
pub use field::{Field, Figure, Holds, Kind, Named, Quantity, Spec};
pub use kinds::*;

/// Version written today.
pub const EVENT_VERSION: u32 = 1;

/// Identity of an event, made by whoever enters it, before it is sent: sending twice records once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct EventId(pub Uuid);

impl std::fmt::Display for EventId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

impl std::str::FromStr for EventId {
    type Err = uuid::Error;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Uuid::parse_str(text.trim()).map(EventId)
    }
}

/// Something that happened, as entered.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// Made before it is sent, so that sending it twice records it once.
    pub id: EventId,
    /// When it happened.
    pub occurred_at: Timestamp,
    /// Who says so.
    pub author: String,
    /// On which device it was entered.
    pub device: String,
    /// What happened, with its figures.
    pub body: Body,
}

/// An event in the ledger.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// Place in the ledger, from 1 without holes.
    pub seq: u64,
    /// When the ledger took it.
    pub recorded_at: Timestamp,
    /// The event, as entered.
    pub event: Event,
}

/// Why a stored body cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", self.message())]
pub enum BodyError {
    /// Not a kind this program knows.
    Kind {
        /// Kind of the event, as stored.
        kind: String,
    },
    /// Written by a newer program.
    Version {
        /// Version that the event was written with.
        version: u32,
    },
    /// The text does not fit the kind.
    Text {
        /// Kind of the event, as stored.
        kind: &'static str,
        /// What the reader of JSON found wrong, in its own words.
        reason: String,
    },
}

impl TrimSet {
    /// Whether another number was set than was advised, beyond the digits that a panel does not show.
    pub fn differs_from_advice(&self) -> bool {
        self.advised_number.is_some_and(|next| (next - self.to_number).abs() >= 1e-6 * next)
    }
}

impl Body {
    /// Tanks the event names, for finding what touched a tank.
    pub fn tanks(&self) -> Vec<&str> {
        let named: &[&String] = match self {
            Body::LiquidDelivery(b) => &[&b.tank],
            Body::MakingRun(b) => &[&b.tank],
            Body::Reading(b) => return b.tank.as_deref().into_iter().collect(),
            Body::Dip(b) => &[&b.tank],
            Body::Transfer(b) => &[&b.from_tank, &b.to_tank],
            Body::Correction(b) => &[&b.tank],
            Body::LoadOut(b) => &[&b.tank],
            Body::ReturnToTank(b) => &[&b.tank],
            Body::IssueOut(b) => &[&b.tank],
            Body::Loss(b) => &[&b.tank],
            Body::CleanOut(b) => &[&b.tank],
            Body::JarTest(b) => return b.tank.as_deref().into_iter().collect(),
            Body::RunStart(b) => return b.tank.as_deref().into_iter().collect(),
            Body::Settlement(b) => return b.tank.as_deref().into_iter().collect(),
            _ => &[],
        };
        named.iter().map(|tank| tank.as_str()).collect()
    }

    /// Whether it changes what the books say is there.
    #[inline]
    pub fn moves_books(&self) -> bool {
        matches!(
            self,
            Body::SaltDelivery(_)
                | Body::LiquidDelivery(_)
                | Body::MakingRun(_)
                | Body::Transfer(_)
                | Body::Correction(_)
                | Body::LoadOut(_)
                | Body::ReturnToTank(_)
                | Body::Application(_)
                | Body::IssueOut(_)
                | Body::Loss(_)
                | Body::CleanOut(_)
                | Body::Settlement(_)
                | Body::Void(_)
        )
    }

    /// Whether it holds amounts that somebody might enter twice: not what is said, answered or looked after.
    #[inline]
    pub fn is_of_amounts(&self) -> bool {
        let is_look =
            matches!(self, Body::Dip(_) | Body::MeterReading(_) | Body::MeterCheck(_) | Body::PileSurvey(_));
        let is_test = matches!(self, Body::JarTest(_) | Body::WaterSample(_));
        is_look || is_test || (self.moves_books() && !matches!(self, Body::Void(_)))
    }

    /// The event a void takes back.
    #[inline]
    pub fn voids(&self) -> Option<EventId> {
        match self {
            Body::Void(void) => void.event.parse().ok(),
            _ => None,
        }
    }
}

impl Tell for BodyError {
    fn message(&self) -> Message {
        match self {
            BodyError::Kind { kind } => message!("event.unknown_kind", kind = kind),
            BodyError::Version { version } => {
                message!("event.newer_version", version = *version, newest = EVENT_VERSION)
            }
            BodyError::Text { kind, reason } => {
                message!("event.unreadable_body", kind = *kind, reason = reason)
            }
        }
    }
}
