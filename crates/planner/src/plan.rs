//! The plan: all steps joined and checked.

mod answer;
mod cautions;
mod error;
mod needs;
mod storm_demand;
mod supply;
mod window;

use std::sync::Arc;

use chemistry::Brine;
use jiff::{SignedDuration, tz::TimeZone};
use quantity::millimetres;

use crate::demand::{self, Bins};
use crate::outlook::Case;
use crate::roads::Roads;

use cautions::cautions;
use needs::{Needs, materials, route_needs};
use storm_demand::{hours_of, roads_of, storm_demand, suspect_water};
use supply::{balance, shortages, supply};
use window::{notices, window};

pub use answer::{Balance, Costs, Plan, PlanRequest, RouteNeed, Shortage, SuspectWater, TankStock, TankUse};
pub use cautions::Caution;
pub use error::{BalanceOf, GapOf, PlanError};
pub use supply::tank_stock;

/// Bins per hour: quarter hours.
const BINS_PER_HOUR: usize = 4;
/// Longest plan, h; no forecast format read here goes further.
const MOST_HOURS: usize = 240;

/// Makes a storm plan from a forecast, a yard and its stock.
///
/// Volumes are at 60 °F. Amounts are low, middle and high over three pavement cases and over published rates; they are
/// wide on purpose, and not quantiles. The same request gives the same plan.
///
/// # Errors
/// [`PlanError`] for a window outside 1…240 h or outside the forecast, for gaps in the forecast, for a plant that makes
/// nothing, and for a plan whose balances do not close to 1e-9. There is no partial plan.
///
/// # Examples
/// ```
/// use planner::{PlanRequest, plan};
/// use quantity::in_gallons;
///
/// let yard_file = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/alder_fork.toml"));
/// let yard = site::yard_file::read_yard(yard_file, "alder_fork.toml").expect("a yard file without problems");
/// let table = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../weather/tests/data/plain_hourly.csv"));
/// let forecast = weather::read(table, &weather::ReadOptions::default())?;
/// let issued = "2026-01-14T06:00:00Z".parse()?;
/// let storm_plan = plan(&PlanRequest {
///     yard: &yard,
///     books: &yard::stock::Books::opening(&yard),
///     rates: &road::RateTable::published()?,
///     weather: &forecast,
///     issued,
///     hours: 8,
///     now: issued,
///     seen: None,
/// })?;
/// assert_eq!(storm_plan.storms.len(), 1);
/// // Brine that the routes need, and what the tanks hold in spec.
/// let [low, high] = [storm_plan.brine.low, storm_plan.brine.high].map(in_gallons);
/// assert!(0.0 < low && low <= high);
/// assert!(in_gallons(storm_plan.in_hand) > 0.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn plan(request: &PlanRequest<'_>) -> Result<Plan, PlanError> {
    plan_on(request, Arc::new(roads(request)?))
}

/// What the roads do under the forecast of a request. It depends on yard, rates, forecast and whole hour, not on the
/// books: keep it while these stay.
///
/// # Errors
/// As [`plan`].
pub fn roads(request: &PlanRequest<'_>) -> Result<Roads, PlanError> {
    in_range(request)?;
    let brine = Brine::sodium_chloride(request.yard.plant.target_strength)?;
    let trusted = window(request, false)?;
    roads_of(request, &trusted, &brine, false)
}

fn in_range(request: &PlanRequest<'_>) -> Result<(), PlanError> {
    if (1..=MOST_HOURS).contains(&request.hours) {
        Ok(())
    } else {
        Err(PlanError::Hours { hours: request.hours })
    }
}

/// Makes a storm plan on roads that were worked out before, by [`roads`] of the same forecast and hour.
///
/// # Errors
/// As [`plan`].
pub fn plan_on(request: &PlanRequest<'_>, roads: Arc<Roads>) -> Result<Plan, PlanError> {
    in_range(request)?;
    let yard = request.yard;
    let zone =
        TimeZone::get(&yard.time_zone).map_err(|_| PlanError::Zone { zone: yard.time_zone.clone() })?;
    let brine = Brine::sodium_chloride(yard.plant.target_strength)?;
    let trusted = window(request, false)?;
    let hours = hours_of(request, &trusted, &roads);
    let bins = Bins {
        start: trusted.from,
        step: SignedDuration::from_mins(60 / BINS_PER_HOUR as i64),
        count: hours.len() * BINS_PER_HOUR,
    };

    let main = storm_demand(request, &hours, &roads, &brine)?;
    let courses = main.courses;
    let needs = Needs::of(yard, &bins, &courses);
    let need = needs.covered(yard.policy.cover_for);
    let supply = supply(request, &zone, &bins, need, &brine)?;
    let balance = balance(&supply, need, yard.rock_salt().sodium_chloride())?;
    let shortages = shortages(&bins, &supply, &needs.uses, yard.policy.cover_for, request.books.rock_salt);
    let (costs, chloride) = materials(yard, &needs.uses, &brine)?;
    let routes = route_needs(yard, &courses, Case::Mid as usize, &main.loadings);
    let mut plan = Plan {
        now: request.now,
        issued: request.issued,
        hours_asked: request.hours,
        window: [trusted.from, trusted.to],
        notices: notices(&trusted.grid, request.weather),
        amounts_given: trusted.grid.hours.iter().any(|hour| hour.precipitation.is_some()),
        precipitation: hours.iter().map(|h| h.liquid).fold(millimetres(0.0), |a, b| a + b),
        hours,
        suspect: suspect_water(request, &trusted, &brine)?,
        storms: main.storms,
        roads,
        loadings: main.loadings,
        cover_for: yard.policy.cover_for,
        waste_share: yard.policy.waste_share,
        brine: demand::volumes(needs.uses.brine),
        other: demand::volumes(needs.uses.other),
        salt: demand::masses(needs.uses.salt),
        routes,
        bins,
        brine_band: needs.brine_band,
        purpose_bands: needs.purpose_bands,
        brine_made: brine,
        tanks: supply.tanks,
        in_hand: supply.in_hand,
        other_in_hand: supply.other_in_hand,
        rock_salt: request.books.rock_salt,
        schedule: supply.schedule,
        tank_uses: supply.tank_uses,
        batch: supply.batch,
        made: supply.made,
        shortages,
        costs,
        chloride,
        cautions: Vec::new(),
        balance,
    };
    plan.cautions = cautions(request, &plan, &zone);
    Ok(plan)
}
