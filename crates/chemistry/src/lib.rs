//! Composition to properties of chloride brines, and back.
//!
//! Pure: no input or output, no clock, no globals. Every function states its equation, range, error and source,
//! and refuses outside its range instead of extrapolating. Sodium, calcium, magnesium and potassium chloride, alone and
//! mixed, with sulfate as the impurity that matters. [`equilibrium`] finds what freezes or drops out of a *blend*, and
//! [`blend`] the recipe of one.
//!
//! Start reading at [`MassFraction`] and [`brine`], then [`freezing`] and [`density`].

mod scales;

mod error;

pub mod blend;
pub mod brine;
pub mod conductivity;
pub mod correction;
pub mod density;
pub mod dissolution;
pub mod enthalpy;
pub mod equilibrium;
#[doc(hidden)]
pub mod forms;
pub mod freezing;
pub mod heat_capacity;
pub mod impurities;
pub mod inverse;
pub mod phases;
pub mod properties;
pub mod recipe;
pub mod refraction;
pub mod root;
pub mod salometer;
mod solid;
pub mod viscosity;
pub mod water;
pub mod water_activity;

mod fitted;
mod surface;

pub use brine::{Brine, Salt};
pub use error::Error;
pub use scales::{
    BaumeDegree, BrixDegree, Estimate, MassFraction, RefractiveIndex, RelativeDensity, SalometerDegree,
    WaterActivity,
};
