//! Readings to what is true about a brine.
//!
//! Pure: no input or output, no clock, no globals. [`instrument`] says what an instrument shows in a brine and
//! [`measure`] reads that backward. [`conformity`] judges a strength against a band;
//! [`uncertainty`] says how well it is known; [`line`] compares two instruments; [`control`] watches one over time.

mod error;

pub mod agreement;
pub mod conformity;
pub mod consensus;
pub mod control;
pub mod drift;
pub mod instrument;
pub mod line;
pub mod measure;
pub mod register;
pub mod solute;
pub mod sugar;
pub mod trim;
pub mod uncertainty;
pub mod wet_methods;

pub use conformity::{Conformity, SpecBand};
pub use error::Error;
