//! Treatments: published rates with their sources, and what liquid may not do. And what carries it: catch tests of
//! sprayers and spreaders, and the weight on a truck's axles.
//!
//! Knows no weather file, no yard and no clock: conditions come in, a rate row or a verdict comes out. Start reading
//! at [`rates`], then [`spraying`]; [`catch`] and [`weight`] stand by themselves.

pub mod amount;
pub mod catch;
pub mod rates;
pub mod spraying;
pub mod weight;

pub use amount::{LiquidRate, SolidRate};
pub use rates::{RateRow, RateTable};
