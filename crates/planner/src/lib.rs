//! How much brine and salt the routes will need in a storm, and whether the yard can have it ready.
//!
//! [`plan`] goes from a forecast, a yard and its stock to gallons by hour, brine runs with their latest starts, truck
//! loads, and what runs short. The steps, each its own module: [`outlook`] (hours with the pavement's range),
//! [`storm`] (events), [`treatment`] (passes and rates), [`demand`] (gallons by hour), [`production`] (brine runs),
//! [`loading`] (trucks at the pump). Pure: no file, no clock; the same input gives the same plan on every machine.
//!
//! Start at [`plan`]; its page has an example.

pub mod demand;
pub mod loading;
pub mod outlook;
pub mod production;
pub mod roads;
mod spread;
pub mod storm;
pub mod treatment;

mod plan;

pub use plan::{
    Balance, BalanceOf, Caution, Costs, GapOf, Plan, PlanError, PlanRequest, RouteNeed, Shortage,
    SuspectWater, TankStock, TankUse, plan, plan_on, roads as roads_under, tank_stock,
};
