//! The web console: pages on the ledger, for every tablet and phone in the yard.
//!
//! A handler extracts, authorises, calls a domain function and renders; no SQL, no physics, no arithmetic on a page.
//! All routes stand in [`routes`]; who may do what in [`access`]; what a page knows in [`state`]. Nothing is fetched
//! from outside the yard, and every form works without script.

pub mod access;
pub mod alerts;
mod backup;
mod clock;
mod door;
mod encoded;
mod error;
mod extract;
mod field_messages;
mod following;
mod form_messages;
mod languages;
mod offline;
mod outbox;
mod page_alarms;
mod page_frame;
mod page_menu;
mod pages;
pub mod people;
mod plain_refusal;
pub mod practice;
mod refusals;
mod road_memory;
pub mod routes;
mod serve;
mod signing;
pub mod state;
mod statics;
mod tank_words;
pub mod tls;
mod turns;
mod watch;
mod ways;

pub use backup::Backup;
pub use clock::{Clock, PlantClock};
pub use door::Limits;
pub use following::Following;
pub use serve::{Ready, serve, serve_trust};
pub use state::{App, AppOptions, ForecastSource, NamedForecast};
