//! Treatments: published rates with their sources, and what liquid may not do.
//!
//! Knows no weather file, no yard and no clock: conditions come in, a rate row or a verdict comes out. Start reading
//! at [`rates`], then [`spraying`].

pub mod amount;
pub mod rates;
pub mod spraying;

pub use amount::{LiquidRate, SolidRate};
pub use rates::{RateRow, RateTable};
