//! What the events add up to: content of each tank and the salt pile, by mass.
//!
//! A fold of the ledger in order of happening. Dips, readings and meters are evidence: kept beside the book, never a
//! reset; only a settlement replaces a book figure. A book stock below zero is kept and flagged, never refused: it says
//! that the books do not close. The fold can be dropped and rebuilt at any time from the same events.
//!
//! A declared liquid that came together with anything else is still counted, by mass and chloride (`content`); its
//! strength and freezing are never worked out.

mod books;
mod content;
mod evidence;
mod flow;
mod fold;
mod load;
mod moves;
mod problem;
mod tank_book;
mod ticket;
mod truck;

pub use books::{Books, Totals};
pub use content::put_in;
pub use content::{Content, Liquid, Part};
pub use evidence::{DipEvidence, DipLook, JarTestEvidence, LoggedReading, ReadingEvidence};
pub use flow::{End, Flow, SaltEnd, SaltFlow, Walk};
pub use load::{Load, Rest};
pub use problem::{BookProblem, NotCounted};
pub use tank_book::{Lot, TankBook};
pub use ticket::{Flowed, Ticketed};
pub use truck::{RESIDUE_GALLONS, RESIDUE_SHARE, residue};
