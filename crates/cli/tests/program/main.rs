//! The program as a person runs it: answers, exit codes, and one clear error for each kind of bad input.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod brines;
mod demos;
mod folder;
mod ledger;
mod plans;
mod roads;
mod serving;
