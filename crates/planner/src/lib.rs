//! What the roads will ask for, and whether the yard can have it ready.
//!
//! [`plan`] goes from a forecast, a yard and its stock to gallons by hour, making runs with their latest starts, loads,
//! and what stands in the way. The steps, each its own module: [`outlook`] (hours with the pavement's band),
//! [`storm`] (events), [`treatment`] (passes and rates), [`demand`] (gallons by hour), [`production`] (making runs),
//! [`loading`] (trucks at the pump). Pure: no file, no clock; the same input gives the same plan on every machine.

pub mod demand;
pub mod loading;
pub mod outlook;
pub mod production;
pub mod storm;
pub mod treatment;

mod plan;

pub use plan::{
    Balance, Caution, Costs, Plan, PlanError, PlanRequest, RouteNeed, Shortage, SuspectWater, TankStock,
    TankUse, plan, tank_stock,
};
