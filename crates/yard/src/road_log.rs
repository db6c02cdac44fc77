//! What the ledger knows of roads: temperatures read of them, and what was put on them. A part of the fold; it keeps
//! the last weeks, which is longer than any salt lies and any correction lasts.

use event::{Body, EventId, Recorded, RoadInstrument, RoadLook, RoadPart};
use jiff::{SignedDuration, Timestamp};
use quantity::{Length, Mass, Volume, cubic_metres, kilograms, metres};
use site::Yard;

/// Entries older than the newest by more than this are let go of, h.
const KEPT_HOURS: i64 = 24 * 28;

/// What was read of roads and put on them.
#[derive(Debug, Clone, Default)]
pub struct RoadLog {
    /// Readings, oldest first.
    pub readings: Vec<RoadReadingEntry>,
    /// Treatments, oldest first.
    pub treatments: Vec<RoadTreatment>,
    /// Entries that were ever taken in: another number, another log.
    pub taken: u64,
}

/// A reading of a road's surface.
#[derive(Debug, Clone, PartialEq)]
pub struct RoadReadingEntry {
    /// Id of its entry in the ledger.
    pub event: EventId,
    /// When it was read.
    pub at: Timestamp,
    /// Who read it.
    pub author: String,
    /// Class of route, or segment.
    pub road: String,
    /// Whether it is of a bridge deck of the class.
    pub is_deck: bool,
    /// Surface temperature, °C.
    pub surface: f64,
    /// What it was read with.
    pub instrument: RoadInstrument,
    /// How the road looked, where that was said.
    pub looked: Option<RoadLook>,
}

/// What was put on a route.
#[derive(Debug, Clone, PartialEq)]
pub struct RoadTreatment {
    /// When.
    pub at: Timestamp,
    /// Id of the route.
    pub route: String,
    /// Lanes it was put on.
    pub lanes: Length,
    /// Liquid put down; none for salt alone.
    pub liquid: Option<Volume>,
    /// Dry salt put down; none for liquid alone.
    pub salt: Option<Mass>,
}

impl RoadLog {
    /// Takes in an entry of the ledger; what is not of roads is let be.
    pub(crate) fn take(&mut self, yard: &Yard, recorded: &Recorded) {
        let at = recorded.event.occurred_at;
        match &recorded.event.body {
            Body::RoadReading(b) => self.readings.push(RoadReadingEntry {
                event: recorded.event.id,
                at,
                author: recorded.event.author.clone(),
                road: b.road.clone(),
                is_deck: b.part == Some(RoadPart::Bridge),
                surface: b.surface_c,
                instrument: b.instrument.unwrap_or_default(),
                looked: b.looked,
            }),
            Body::Application(b) => {
                let Some(route) = yard.route(&b.route) else { return };
                self.treatments.push(RoadTreatment {
                    at,
                    route: b.route.clone(),
                    lanes: b.lane_m.filter(|lanes| *lanes > 0.0).map_or(route.lane_length, metres),
                    liquid: b.volume_m3.map(cubic_metres),
                    salt: b.salt_kg.map(kilograms),
                });
            }
            _ => return,
        }
        self.taken += 1;
        let oldest = at - SignedDuration::from_hours(KEPT_HOURS);
        // They come in order of time: what is too old stands at the front.
        let stale = self.readings.partition_point(|one| one.at < oldest);
        self.readings.drain(..stale);
        let stale = self.treatments.partition_point(|one| one.at < oldest);
        self.treatments.drain(..stale);
    }
}
