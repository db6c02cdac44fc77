//! Demand of a forecast: its storms with their treatments, the trucks sent, and every draw in each story.

use chemistry::Brine;
use chemistry::recipe;
use jiff::{SignedDuration, Timestamp};
use quantity::{in_hours, millimetres};
use road::spraying::Verdict;
use site::Yard;
use weather::HourlyGrid;

use super::window::{Window, window};
use super::{PlanError, PlanRequest, SuspectWater};
use crate::demand::{self, Course, Draw};
use crate::loading::{self, Loading};
use crate::outlook::{RoadHour, by_road, road_hours};
use crate::roads::{self, Asked, Roads};
use crate::storm::{Storm, find_storms, wet_freeze};
use crate::treatment::{Spread, Treatment, pretreating, storm_of, treat};

/// Hours of an event that is made of a treatment alone.
const SHORT: usize = 3;
/// Place of the middle story among the courses.
const MIDDLE: usize = 1;

/// Storms, draws and loads of one forecast.
pub(super) struct StormDemand {
    pub(super) storms: Vec<(Storm, Treatment)>,
    pub(super) courses: Vec<Course>,
    pub(super) loadings: Vec<(usize, Loading)>,
}

/// What the roads do under the forecast; suspect water counted or not.
pub(super) fn roads_of(
    request: &PlanRequest<'_>,
    window: &Window,
    brine: &Brine,
    use_suspect: bool,
) -> Result<Roads, PlanError> {
    let asked = Asked {
        yard: request.yard,
        rates: request.rates,
        weather: request.weather,
        brine,
        from: window.from,
        hours: window.grid.hours.len(),
        use_suspect,
        readings: &request.books.roads.readings,
        treatments: &request.books.roads.treatments,
        seen: request.seen,
    };
    Ok(asked.answer()?.unwrap_or_default())
}

/// Hours of the forecast with what the roads do in them.
pub(super) fn hours_of(request: &PlanRequest<'_>, window: &Window, roads: &Roads) -> Vec<RoadHour> {
    let mut hours = road_hours(&window.grid, &request.yard.policy);
    by_road(&mut hours, roads);
    hours
}

/// Finds the storms of a forecast, takes their treatment from the roads, and collects what it draws.
pub(super) fn storm_demand(
    request: &PlanRequest<'_>,
    hours: &[RoadHour],
    roads: &Roads,
    brine: &Brine,
) -> Result<StormDemand, PlanError> {
    let yard = request.yard;
    let storms = events(hours, roads);
    let mut demand =
        StormDemand { storms: Vec::new(), courses: roads::draws(yard, roads, brine)?, loadings: Vec::new() };
    for (place, storm) in storms.iter().enumerate() {
        let mut treatment = treat(yard, request.rates, hours, &storms, place, roads, brine)?;
        // Trucks of an earlier pretreatment must be back first.
        let back = demand.loadings.last().map(|(_, loading)| loading.back(yard));
        let not_before = back.map_or(request.issued, |back| back.max(request.issued));
        let work = SignedDuration::from_secs_f64(3600.0 * roads.work.unwrap_or(0.0));
        let lead = SignedDuration::from_secs_f64(3600.0 * in_hours(yard.policy.lead_min));
        let refused = treatment
            .pre_spray
            .as_ref()
            .is_some_and(|spray| spray.reasons.is_empty() && spray.verdict() == Some(Verdict::DoNot));
        if let Some(loading) = loads(yard, roads, &storms, place, brine)? {
            let behind = not_before.duration_since(loading.begin);
            let loading = if behind.is_positive() { loading.later(behind) } else { loading };
            if loading.end <= storm.start {
                treatment.goes_ahead = true;
                demand.loadings.push((place, loading));
            } else {
                treatment.too_late = Some(storm.start - lead - work);
            }
        } else if refused && roads.work.is_some() {
            treatment.too_late = Some(storm.start - lead - work);
        }
        demand.storms.push((storm.clone(), treatment));
    }
    Ok(demand)
}

/// Storms and frosts; and what is treated in dry weather, as events of their own.
fn events(hours: &[RoadHour], roads: &Roads) -> Vec<Storm> {
    let mut storms = find_storms(hours);
    loop {
        let alone = roads
            .classes
            .iter()
            .flat_map(|class| &class.middle.acts)
            .filter(|act| storm_of(&storms, act).is_none())
            .map(|act| act.at)
            .min();
        let Some(at) = alone else { return storms };
        let Some(first) = hours.iter().rposition(|hour| hour.start <= at) else { return storms };
        storms.push(wet_freeze(hours, [first, (first + SHORT).min(hours.len())]));
        storms.sort_by_key(|storm| storm.start);
    }
}

/// Truck loads for pretreating, of all classes that the middle story pretreats for a storm, at the rate advised; none
/// where it pretreats none.
fn loads(
    yard: &Yard,
    roads: &Roads,
    storms: &[Storm],
    place: usize,
    brine: &Brine,
) -> Result<Option<Loading>, PlanError> {
    let Some(first) = pretreating(storms, place, roads) else { return Ok(None) };
    let mut per_route = Vec::new();
    for class in &roads.classes {
        let id = &yard.route_classes[class.class].id;
        let is_ahead = |act: &&road::course::Act| {
            act.purpose == road::course::Purpose::Pretreat && storm_of(storms, act) == Some(place)
        };
        let Some(act) = class.middle.acts.iter().find(is_ahead) else { continue };
        let [_, rate, _] = act.liquid(brine)?;
        for (route, site) in yard.routes.iter().enumerate().filter(|(_, route)| route.class == *id) {
            per_route.push((route, rate.on(site.lane_length), site.lane_length));
        }
    }
    let density = brine.density(recipe::reference_temperature())?;
    let work = SignedDuration::from_secs_f64(3600.0 * roads.work.unwrap_or(0.0));
    let lead = SignedDuration::from_secs_f64(3600.0 * in_hours(yard.policy.lead_min));
    // By the policy's lead, or nearer to the event where there is no time for it.
    let deadline: Timestamp =
        first.until.map_or(first.at, |until| until - lead).max(first.at + work).min(storms[place].start);
    Ok(loading::load_by(yard, &per_route, density, deadline))
}

pub(super) fn suspect_water(
    request: &PlanRequest<'_>,
    trusted: &Window,
    brine: &Brine,
) -> Result<Option<SuspectWater>, PlanError> {
    if !trusted.grid.hours.iter().any(|hour| hour.flags.suspect) {
        return Ok(None);
    }
    let all = window(request, true)?;
    let liquid = |grid: &HourlyGrid| {
        grid.hours.iter().filter_map(|h| h.precipitation).fold(millimetres(0.0), |a, b| a + b)
    };
    let roads = roads_of(request, &all, brine, true)?;
    let hours = hours_of(request, &all, &roads);
    let demand_if_real = storm_demand(request, &hours, &roads, brine)?;
    let waste = 1.0 + request.yard.policy.waste_share;
    let of = |amount: &dyn Fn(&Draw) -> Spread<f64>| {
        demand::total(&demand_if_real.courses, MIDDLE, |_| true, amount)
    };
    let other = of(&|d| demand::other_m3(d).map(|v| v * waste));
    let salt = of(&demand::salt_kg);
    let need =
        demand::total(&demand_if_real.courses, MIDDLE, |_| true, |d| demand::brine_m3(d).map(|v| v * waste));
    Ok(Some(SuspectWater {
        liquid: liquid(&all.grid) - liquid(&trusted.grid),
        brine: demand::volumes(need),
        other: demand::volumes(other),
        salt: demand::masses(salt),
        storms: demand_if_real.storms.len(),
    }))
}
