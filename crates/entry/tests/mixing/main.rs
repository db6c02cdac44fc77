//! A declared liquid together with anything else: recorded, doubted, counted by mass and chloride, and never predicted.
//!
//! Outside check: chloride is 35.45/58.44 = 0.6066 of sodium chloride by mass (standard atomic weights, IUPAC 2021).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod counts;
mod doubts;
mod events;
