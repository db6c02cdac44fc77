//! How a brine plant makes, and how fast.
//!
//! [`rate`] is the steady making rate. [`layout`] describes a plant as a graph of vessels, lines, stores and feeders;
//! [`model`] moves it through time, with salt grains that dissolve, heat, sensors and a plain controller; [`fault`] is
//! what can go wrong; [`judge`] follows a run and names it, [`fit`] learns a plant from its runs; [`practice`] lets a
//! person run it and make mistakes. Pure: the same start, acts and seed give the same run.

mod error;

pub mod expect;
pub mod fault;
pub mod fit;
pub mod integrator;
pub mod judge;
pub mod layout;
pub mod layouts;
pub mod model;
pub mod practice;
pub mod procedure;
pub mod properties;
pub mod rate;
pub mod scenario;

pub use error::Error;
pub use rate::{MakingRate, making_time};
