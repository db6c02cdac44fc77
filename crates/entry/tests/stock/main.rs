//! What events add up to: by mass, in order of happening, with evidence beside the book.
//!
//! Outside checks: 23.3 % brine weighs 9.81 lb a gallon and holds 2.29 lb of salt (AASHTO M 143-14's 1.176; trade
//! figure); 1,000 gal of it hold 1,389 lb of chloride (worked example W41).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod book;
#[path = "../common/mod.rs"]
mod common;
mod events;
mod laws;
mod typed;
