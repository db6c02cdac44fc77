//! The book of one tank: its content, where that came from, and what was measured of it.

use chemistry::MassFraction;
use jiff::Timestamp;
use quantity::{Mass, Volume, in_kilograms};

use super::content::{Content, Part};
use super::evidence::{DipEvidence, DipLook, JarTestEvidence, LoggedReading, ReadingEvidence};
use event::EventId;
use site::{Product, Yard};

/// Book and evidence of one tank.
#[derive(Debug, Clone)]
pub struct TankBook {
    /// Id of the tank in the yard file.
    pub tank: String,
    /// What it holds by the book; below zero where the books do not close.
    pub content: Content,
    /// Last strength it was known to have, for when it runs empty.
    pub last_strength: Option<MassFraction>,
    /// The last dip; none before the first.
    pub dip: Option<DipEvidence>,
    /// The last few dips, oldest first, each with the book beside it.
    pub dips: Vec<DipLook>,
    /// When the book was last set by agreement.
    pub settled_at: Option<Timestamp>,
    /// The last strength reading; none before the first.
    pub reading: Option<ReadingEvidence>,
    /// The last few readings as they were logged, oldest first.
    pub readings: Vec<LoggedReading>,
    /// Last jar test meant for it.
    pub jar_test: Option<JarTestEvidence>,
    /// When something last went in or out.
    pub moved_at: Option<Timestamp>,
    /// What came in since the last reading.
    pub put_since_reading: Mass,
    /// What the content came from, oldest first; draws take from all in proportion.
    pub lots: Vec<Lot>,
}

/// Part of a tank's content that came in with one event.
#[derive(Debug, Clone, Copy)]
pub struct Lot {
    /// The event; none for older lots merged into one.
    pub event: Option<EventId>,
    /// When it came in; of the youngest, when merged.
    pub at: Timestamp,
    /// What is left of it.
    pub mass: Mass,
}

/// Lots kept apart in a tank; older ones are merged.
const MOST_LOTS: usize = 8;

impl TankBook {
    /// Nothing in it, and nothing known of it yet.
    pub(super) fn empty(tank: String) -> Self {
        Self {
            tank,
            content: Content::default(),
            last_strength: None,
            dip: None,
            dips: Vec::new(),
            settled_at: None,
            reading: None,
            readings: Vec::new(),
            jar_test: None,
            moved_at: None,
            put_since_reading: Mass::default(),
            lots: Vec::new(),
        }
    }

    /// Strength of the content; none when it is empty, not salt brine, or a mix with a declared liquid.
    pub fn strength(&self) -> Option<MassFraction> {
        self.content.strength()
    }

    /// The liquids it holds, most first, when they are anything but the tank's product alone: then nothing is
    /// predicted. Empty when all is as it should be.
    pub fn unlike(&self, product: &Product) -> Vec<Part> {
        self.content.unlike(product)
    }

    /// Volume of the content at 60 °F, below zero when the book is. Of a mix, what its parts would fill apart.
    pub fn volume(&self, yard: &Yard) -> Volume {
        self.content.volume(yard, self.last_strength)
    }

    /// What the last dip found above the book, below zero where the book was higher; none without a dip, and where the
    /// two were settled since.
    pub fn dip_above_book(&self) -> Option<Volume> {
        let dip = self.dip.filter(|dip| self.settled_at.is_none_or(|settled| settled <= dip.at))?;
        Some(dip.volume - dip.book_volume)
    }

    /// Chloride (Cl) in the content.
    pub fn chloride(&self, yard: &Yard) -> Mass {
        self.content.chloride(yard)
    }

    /// Puts liquid in, as a lot of its own.
    pub(super) fn put(&mut self, liquid: &Content, event: EventId, at: Timestamp) {
        self.content.add(liquid);
        self.last_strength = self.strength().or(self.last_strength);
        self.moved_at = Some(at);
        self.put_since_reading += liquid.mass;
        if self.lots.len() == MOST_LOTS {
            let oldest = self.lots.remove(0);
            if let Some(next) = self.lots.first_mut() {
                next.event = None;
                next.mass += oldest.mass;
            }
        }
        self.lots.push(Lot { event: Some(event), at, mass: liquid.mass });
    }

    /// Takes liquid out, from all lots in proportion.
    pub(super) fn draw(&mut self, liquid: &Content, at: Timestamp) {
        let before = in_kilograms(self.content.mass);
        self.content.add(&liquid.times(-1.0));
        self.last_strength = self.strength().or(self.last_strength);
        self.moved_at = Some(at);
        let left =
            if before > 0.0 { (in_kilograms(self.content.mass) / before).clamp(0.0, 1.0) } else { 0.0 };
        if left <= 0.0 {
            self.lots.clear();
        }
        for lot in &mut self.lots {
            lot.mass *= left;
        }
    }
}
