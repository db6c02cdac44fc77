//! Instrument readings to the strength of a brine, with its uncertainty.
//!
//! Pure: no input or output, no clock, no globals. [`instrument`] predicts what an instrument shows in a brine and
//! [`measure`] inverts that. [`conformity`] checks a strength against the spec range;
//! [`uncertainty`] says how well it is known; [`mod@line`] compares two instruments; [`control`] charts it.

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

pub use conformity::{Conformity, SpecRange};
pub use error::Error;
