//! Readings to what is true about a brine.
//!
//! Pure: no input or output, no clock, no globals. [`conformity`] judges a strength against a band;
//! [`uncertainty`] says how well it is known; [`line`] compares two instruments; [`control`] watches one over time.

mod error;

pub mod conformity;
pub mod control;
pub mod line;
pub mod uncertainty;

pub use conformity::{Conformity, SpecBand};
pub use error::Error;
