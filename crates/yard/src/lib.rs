//! What happened in a yard, and what it holds: events, and the folds of them.
//!
//! - [`event`]: what can happen, as versioned ledger events.
//! - [`bench_log`]: what the bench remembers of trims, instruments and what is due.
//! - [`run_log`]: guided runs, step by step; [`batch`]: what one of them made; [`release`]: whether it may go out.
//! - [`stock`]: what the events add up to, by mass.
//! - [`estimate`]: what each tank holds, by the book's flows and all evidence together, with its interval.
//! - [`put_right`]: what brings a tank to its strength.
//! - [`due`], [`chore_log`], [`calendar`]: what is due, when it was done, closed months and storms.
//!
//! Knows no database, no clock and no network. State is always a fold of events; nothing here keeps another truth.

pub mod batch;
pub mod bench_log;
pub mod calendar;
pub mod chore_log;
pub mod clock;
pub mod due;
pub mod estimate;
pub mod event;
pub mod put_right;
pub mod release;
pub mod run_log;
pub mod stock;
pub mod uncertain;
