//! One place with a plant, tanks, stock, routes and trucks: what it is, what happened there, and what it holds.
//!
//! - [`site`]: the yard as described by `yard.toml`, read by [`yard_file`].
//! - [`strapping`]: depth in a tank to volume, and back.
//! - [`event`]: what can happen, as versioned ledger events.
//! - [`bench_log`]: what the bench remembers of trims, instruments and what is due.
//! - [`points`]: what can be read over the network.
//! - [`run_log`]: guided runs, step by step; [`batch`]: what one of them made; [`release`]: whether it may go out.
//! - [`stock`]: what the events add up to, by mass.
//! - [`estimate`]: what each tank holds, by the book's flows and all evidence together, with its interval.
//! - [`put_right`]: what brings a tank to its strength.
//! - [`ticket`]: what a load is checked for before a truck leaves.
//! - [`accounts`]: where the brine, the salt, the chloride and the money went; [`trace`]: which lot went where.
//! - [`reconcile`]: whether what was made, dipped, metered and weighed agrees, and what is to be doubted first.
//! - [`metering`], [`receiving`]: meters held against a scale; salt as it comes in.
//! - [`due`], [`chore_log`], [`calendar`]: what is due, when it was done, closed months and storms.
//!
//! Knows no database, no clock and no network. State is always a fold of events; nothing here keeps another truth.

pub mod accounts;
pub mod batch;
pub mod bench_log;
pub mod blending;
pub mod calendar;
pub mod chore_log;
pub mod clock;
pub mod due;
pub mod entry;
pub mod estimate;
pub mod event;
pub mod metering;
pub mod people;
pub mod points;
pub mod put_right;
pub mod receiving;
pub mod reconcile;
pub mod release;
pub mod run_log;
pub mod site;
pub mod stock;
pub mod strapping;
pub mod ticket;
pub mod trace;
mod uncertain;
pub mod yard_file;

pub use site::Yard;
