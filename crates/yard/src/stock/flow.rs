//! Every change of the book, one by one: from where, to where, how much of what. Accounts and traces are sums over
//! these, so they cannot differ from the book.

use jiff::Timestamp;
use quantity::Mass;

use super::content::Content;
use event::EventId;

/// Where liquid comes from or goes to.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum End {
    /// The plant made it.
    Plant,
    /// It was bought.
    Supplier,
    /// Water or salt put into a tank to change its strength.
    Added,
    /// A tank of the yard, by its id.
    Tank(String),
    /// A truck of the yard, by its id.
    Truck(String),
    /// A road, by its route; none where a truck was emptied and nobody said where.
    Road(Option<String>),
    /// Another agency, by its name in the entry.
    Agency(String),
    /// Spilled or lost.
    Lost,
    /// Taken out and disposed of.
    CleanedOut,
    /// What a settlement changed; a flow from here is negative where the book was too high.
    Agreed,
}

/// One change of the book of liquids.
#[derive(Debug, Clone, PartialEq)]
pub struct Flow {
    /// The event that made it.
    pub event: EventId,
    /// When it happened.
    pub at: Timestamp,
    /// Where the liquid came from.
    pub from: End,
    /// Where the liquid went.
    pub to: End,
    /// How much of what.
    pub liquid: Content,
}

/// Why the book of rock salt changed.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum SaltEnd {
    /// Delivered: comes in.
    Delivered,
    /// Dissolved by making brine: goes out.
    Made,
    /// Dissolved to put a tank right: goes out.
    Corrected,
    /// Spread dry on a route: goes out.
    Spread(String),
    /// What a settlement changed; negative where the book was too high: comes in.
    Agreed,
}

impl SaltEnd {
    /// Whether it comes into the pile.
    pub fn comes_in(&self) -> bool {
        matches!(self, SaltEnd::Delivered | SaltEnd::Agreed)
    }
}

/// One change of the book of rock salt.
#[derive(Debug, Clone, PartialEq)]
pub struct SaltFlow {
    /// The event that made it.
    pub event: EventId,
    /// When it happened.
    pub at: Timestamp,
    /// Why the salt came in or went out.
    pub end: SaltEnd,
    /// As delivered; above zero in the sense of [`SaltEnd::comes_in`].
    pub mass: Mass,
}

/// All changes of the book, in order of happening.
#[derive(Debug, Clone, Default)]
pub struct Walk {
    /// Changes of the book of liquids.
    pub liquids: Vec<Flow>,
    /// Changes of the book of rock salt.
    pub salt: Vec<SaltFlow>,
    pub(super) now: Option<(EventId, Timestamp)>,
}
