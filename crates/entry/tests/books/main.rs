//! Accounts, lots, tickets, meters, salt receiving, chores: sums over what the ledger holds.
//!
//! Outside checks: worked examples W13–W15 (MnDOT moisture worksheet; Ohio DOT 712.03), W36, W40–W48 (EPA 440/5-88-001
//! values as MPCA prints them; WisDOT; Iowa DOT); 8.337 lb a gallon of water at 60 °F and 231 in³ a gallon (NIST
//! Handbook 44, appendix C); chloride by atomic weights (IUPAC).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod evidence;
mod loads;
mod season;
mod sums;
mod times;
