//! Treatments: published rates with their sources, and when not to pretreat. Also the equipment: catch tests of
//! sprayers and spreaders, and axle weights of loaded trucks.
//!
//! Knows no weather file, no yard and no clock: conditions come in, a rate row or a verdict comes out. Start reading
//! at [`rates`], then [`spraying`]; [`catch`] and [`weight`] depend on neither.

pub mod amount;
pub mod catch;
pub mod rates;
pub mod spraying;
pub mod weight;

pub use amount::{LiquidRate, SolidRate};
pub use rates::{RateRow, RateTable};
