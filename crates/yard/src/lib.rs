//! One place with a plant, tanks, stock, routes and trucks: what it is, what happened there, and what it holds.
//!
//! - [`site`]: the yard as described by `yard.toml`, read by [`yard_file`].
//! - [`strapping`]: depth in a tank to volume, and back.
//! - [`event`]: what can happen, as versioned ledger events.
//! - [`bench_log`]: what the bench remembers of trims, instruments and what is due.
//! - [`points`]: what can be read over the network.
//! - [`run_log`]: guided runs, step by step.
//! - [`stock`]: what the events add up to, by mass.
//! - [`put_right`]: what brings a tank to its strength.
//!
//! Knows no database, no clock and no network. State is always a fold of events; nothing here keeps another truth.

pub mod bench_log;
pub mod entry;
pub mod event;
pub mod points;
pub mod put_right;
pub mod run_log;
pub mod site;
pub mod stock;
pub mod strapping;
pub mod yard_file;

pub use site::Yard;
