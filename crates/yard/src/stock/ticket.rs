//! Single entries that are remembered for a while: tickets, and amounts that could be entered twice.

use jiff::Timestamp;
use quantity::Mass;

use super::content::Content;
use super::evidence::ReadingEvidence;
use super::load::Rest;
use super::tank_book::Lot;
use event::{Body, EventId, Recorded};

/// A load, an issue or a return as it was entered, with what it was made of: its ticket.
#[derive(Debug, Clone)]
pub struct Ticketed {
    /// The entry as it is in the ledger.
    pub recorded: Recorded,
    /// What was moved.
    pub liquid: Content,
    /// What stood in the tank before, by lot.
    pub lots: Vec<Lot>,
    /// The tank's reading that was the last then.
    pub reading: Option<ReadingEvidence>,
    /// Liquid that was on the truck before, by the ledger.
    pub aboard: Mass,
    /// What of another product was counted off the truck with it.
    pub emptied: Option<Rest>,
}

/// An entry as it was made, to know it by when it comes again.
#[derive(Debug, Clone, PartialEq)]
pub struct Flowed {
    /// Id of its entry in the ledger.
    pub event: EventId,
    /// Row of the ledger.
    pub seq: u64,
    /// When it happened.
    pub at: Timestamp,
    /// The fields of the entry.
    pub body: Body,
}

/// How a tank and a truck stood before a load.
#[derive(Default)]
pub(super) struct Before {
    pub lots: Vec<Lot>,
    pub aboard: Mass,
    pub emptied: Option<Rest>,
}
