//! What happened in a yard, and what it holds: events, and the folds of them.
//!
//! - [`bench_log`]: what the bench remembers of trims, instruments and what is due.
//! - [`run_log`]: guided runs, step by step; [`batch`]: what one of them made; [`release`]: whether it may go out.
//! - [`stock`]: what the events add up to, by mass.
//! - [`estimate`]: what each tank holds, by the book's flows and all evidence together, with its interval.
//! - [`put_right`]: what brings a tank to its strength.
//! - [`due`], [`chore_log`], [`calendar`]: what is due, when it was done, closed months and storms.
//!
//! ```
//! use event::{Body, Event, Recorded};
//! use yard::stock::Books;
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let file = site::yard_file::sample_yard_file();
//! let yard = site::yard_file::read_yard(&file, "yard.toml").expect("the sample is a yard");
//! let tank = yard.tanks[0].id.as_str();
//! let made = format!(r#"{{"tank":"{tank}","volume_m3":10.0,"strength_pct":23.3,"salt_kg":2900.0}}"#);
//! let at = "2027-01-14T05:40:00Z".parse()?;
//! let event = Event {
//!     id: "0191e5a0-0000-7000-8000-000000000001".parse()?,
//!     occurred_at: at,
//!     author: "Lee Ortiz".into(),
//!     device: "tablet".into(),
//!     body: Body::from_json("making_run", 1, &made)?,
//! };
//! let books = Books::fold(&yard, &[Recorded { seq: 1, recorded_at: at, event }]);
//! let strength = books.tank(tank).and_then(|book| book.strength()).expect("there is brine in it");
//! assert!((strength.percent() - 23.3).abs() < 1e-9);
//! // The salt was taken off a pile that nobody has entered: the books say so, and count on.
//! assert!(!books.close() && books.problems.len() == 1);
//! # Ok(())
//! # }
//! ```
//!
//! Knows no database, no clock and no network. State is always a fold of events; nothing here keeps another truth.

pub mod batch;
pub mod bench_log;
pub mod calendar;
pub mod chore_log;
pub mod clock;
pub mod due;
pub mod estimate;
pub mod put_right;
pub mod release;
pub mod road_log;
pub mod run_log;
pub mod stock;
pub mod uncertain;
