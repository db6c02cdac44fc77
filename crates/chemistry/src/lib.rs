//! Composition to properties of chloride brines, and back.
//!
//! Pure: no input or output, no clock, no globals. Every function states its equation, range, error and source,
//! and refuses outside its range instead of extrapolating. This first cut covers sodium chloride; a [`Brine`] is
//! the seam through which the other salts arrive.
//!
//! Start reading at [`quantity`], then [`freezing`] and [`density`].

pub mod quantity;

mod error;

pub mod brine;
pub mod density;
pub mod freezing;
pub mod recipe;
pub mod salometer;

pub use brine::{Brine, Salt};
pub use error::Error;
pub use quantity::{MassFraction, RelativeDensity, SalometerDegree};
