//! The demo's season as it is written: its events in order, and those that come often.

use super::files::yard;
use event::{Body, Event, EventId, MakingRun, Reading, SamplePoint, Settlement};
use jiff::{SignedDuration, Timestamp};

/// A season being written: events in order, with ids and small variations from a fixed seed.
pub(super) struct Season {
    pub(super) start: Timestamp,
    pub(super) events: Vec<Event>,
    pub(super) state: u64,
    /// What is truly in tanks 1, 2 and 3, gal: the loading meter shows too little, and the books do not know.
    pub(super) held: [f64; 3],
    /// Totals of the loading meter and of the water main, m³.
    pub(super) loaded_total: f64,
    pub(super) water_total: f64,
}

/// The loading meter lets so much more out than it shows.
pub(super) const METER_OFF: f64 = 0.06;

impl Season {
    /// The next number from 0 to 1 of a 64-bit linear congruential sequence (Knuth's MMIX constants).
    pub(super) fn vary(&mut self) -> f64 {
        self.state =
            self.state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.state >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Adds an event so many hours into the season.
    pub(super) fn add(&mut self, hours: f64, author: &str, body: Body) -> EventId {
        let occurred_at = self.start + SignedDuration::from_secs((hours * 3600.0) as i64);
        let number = self.events.len() as u128 + 1;
        // Fixed ids: the demo's ledger is the same on every machine.
        let id = EventId(uuid::Uuid::from_u128(0x0193_0000_0000_7000_8000_0000_0000_0000 | number));
        self.events.push(Event { id, occurred_at, author: author.into(), device: "demo".into(), body });
        id
    }
}

pub(super) fn run(tank: &str, gallons: f64, strength: f64) -> Body {
    Body::MakingRun(MakingRun {
        tank: tank.into(),
        volume_m3: gallons * GALLON,
        temp_c: Some(6.0),
        strength_pct: strength,
        salt_kg: None,
        water_m3: None,
        duration_h: Some(gallons / 1400.0),
        ..MakingRun::default()
    })
}

pub(super) fn reading(tank: &str, strength: f64) -> Body {
    Body::Reading(Reading {
        tank: Some(tank.into()),
        strength_pct: strength,
        uncertainty_pct: Some(0.3),
        temp_c: Some(5.0),
        instrument: Some("refractometer".into()),
        level: Some(SamplePoint::Middle),
        occasion: None,
        shown: None,
        scale: None,
        doubt: None,
        sample: None,
    })
}

pub(super) fn settle(tank: &str, gallons: f64, strength: Option<f64>, reason: &str) -> Body {
    Body::Settlement(Settlement {
        tank: Some(tank.into()),
        volume_m3: Some(gallons * GALLON),
        strength_pct: strength,
        salt_kg: None,
        reason: reason.into(),
    })
}

pub(super) fn settle_salt(tons: f64, reason: &str) -> Body {
    Body::Settlement(Settlement {
        tank: None,
        volume_m3: None,
        strength_pct: None,
        salt_kg: Some(tons * TON),
        reason: reason.into(),
    })
}

/// Depth of a volume in a tank of the demo's yard, m.
pub(super) fn depth(tank: &str, gallons: f64, temp_c: f64) -> Option<f64> {
    let yard = yard().ok()?;
    // A cold tank stands a little lower than its volume at 60 °F.
    let cold = 1.0 - 0.0003 * (15.6 - temp_c);
    let volume = quantity::gallons(gallons * cold);
    let depth = yard.tank(tank)?.shape.depth_of(volume).ok()?;
    Some(quantity::in_metres(depth))
}

/// Cubic metres in a US gallon.
pub(super) const GALLON: f64 = 0.003_785_411_784;

/// Kilograms in a short ton.
pub(super) const TON: f64 = 907.184_74;

/// Days of the season up to the demo's present.
pub(super) const DAYS: usize = 80;
