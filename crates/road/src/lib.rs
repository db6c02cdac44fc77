//! Roads: what the surface does hour by hour, what lies on it, and what may be put down: published rates with their
//! sources, and when not to pretreat. Also the equipment: catch tests of sprayers and spreaders, and axle weights of
//! loaded trucks.
//!
//! Knows no weather file, no yard and no clock. Start reading at [`surface`] (the energy balance of a [`section`] of
//! road under what the [`sky`] sends, with the [`film`] on it), then [`rates`] and [`spraying`]; [`catch`] and
//! [`weight`] depend on neither.

pub mod amount;
pub mod catch;
mod column;
pub mod correction;
pub mod course;
pub mod film;
pub mod rates;
pub mod score;
pub mod section;
pub mod sky;
pub mod spraying;
pub mod story;
pub mod surface;
pub mod weight;

pub use amount::{LiquidRate, SolidRate};
pub use rates::{RateRow, RateTable};
