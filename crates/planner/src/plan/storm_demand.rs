//! Demand of a forecast: its storms with their treatments, the trucks sent, and every draw in each pavement case.

use chemistry::Brine;
use chemistry::recipe;
use jiff::{SignedDuration, Timestamp};
use quantity::{Length, cubic_metres, kilograms, millimetres};
use road::spraying::Verdict;
use site::CoverFor;
use site::Yard;
use weather::HourlyGrid;

use super::window::{Window, window};
use super::{PlanError, PlanRequest, SuspectWater};
use crate::demand::{self, Course, Draw, Purpose};
use crate::loading::{self, Loading};
use crate::outlook::{Case, RoadHour, road_hours};
use crate::storm::{Storm, find_storms};
use crate::treatment::{PreSpray, Pretreatment, Spread, Treatment, assess, is_sprayed_ahead, treat};

/// Storms, draws and loads of one forecast.
pub(super) struct StormDemand {
    pub(super) storms: Vec<(Storm, Treatment)>,
    pub(super) courses: Vec<Course>,
    pub(super) loadings: Vec<(usize, Loading)>,
}

/// Finds the storms of a forecast, decides on their treatment, and collects what it draws.
pub(super) fn storm_demand(
    request: &PlanRequest<'_>,
    hours: &[RoadHour],
    brine: &Brine,
) -> Result<StormDemand, PlanError> {
    let mut demand = StormDemand { storms: Vec::new(), courses: vec![Vec::new(); 3], loadings: Vec::new() };
    for (place, storm) in find_storms(hours).into_iter().enumerate() {
        let assessment = assess(request.yard, request.rates, hours, &storm, brine, request.issued)?;
        // Trucks of an earlier pretreatment must be back first.
        let back = demand.loadings.last().map(|(_, loading)| loading.back(request.yard));
        let not_before = back.map_or(request.issued, |back| back.max(request.issued));
        let ahead = pretreat(request.yard, &storm, assessment.pre_spray.as_ref(), brine, not_before)?;
        let (loading, pretreatment) = match ahead {
            Pretreat::No => (None, Pretreatment::No),
            Pretreat::Loads(loading) => (Some(loading), Pretreatment::Yes),
            Pretreat::TooLate(begin) => (None, Pretreatment::TooLate(begin)),
        };
        let treatment = treat(request.yard, request.rates, hours, &storm, brine, assessment, pretreatment)?;
        for case in Case::ALL {
            let course = &mut demand.courses[case as usize];
            if let (Some(loading), Some(pre_spray)) = (&loading, &treatment.pre_spray)
                && pre_spray.verdicts[case as usize] != Verdict::DoNot
            {
                course.extend(sprayed_routes(request.yard).map(|(route, lanes)| Draw {
                    at: loading.begin,
                    route,
                    purpose: Purpose::AntiIcing,
                    brine: pre_spray.liquid.map(|rate| rate.on(lanes)),
                    other: Spread::all(cubic_metres(0.0)),
                    salt: Spread::all(kilograms(0.0)),
                }));
            }
            course.extend(treatment.passes[case as usize].iter().map(|pass| Draw {
                at: pass.at,
                route: pass.route,
                purpose: match pass.pass {
                    road::rates::Pass::First => Purpose::FirstPass,
                    road::rates::Pass::Later => Purpose::LaterPass,
                },
                brine: pass.brine,
                other: pass.other,
                salt: pass.salt,
            }));
        }
        demand.loadings.extend(loading.map(|loading| (place, loading)));
        demand.storms.push((storm, treatment));
    }
    Ok(demand)
}

fn sprayed_routes(yard: &Yard) -> impl Iterator<Item = (usize, Length)> + '_ {
    yard.routes
        .iter()
        .enumerate()
        .filter(|(_, route)| is_sprayed_ahead(yard, &route.class))
        .map(|(place, route)| (place, route.lane_length))
}

/// Whether trucks pretreat before a storm.
enum Pretreat {
    /// No case calls for it, or there is no truck.
    No,
    /// They do, with these loads.
    Loads(Loading),
    /// It is too late: they would have had to begin at this time.
    TooLate(Timestamp),
}

/// Returns the loads for pretreating, sized for the demand that is covered. Where the policy's lead can no longer be
/// kept but the work still fits before the storm, it begins at once; where it does not fit, it is too late.
fn pretreat(
    yard: &Yard,
    storm: &Storm,
    pre_spray: Option<&PreSpray>,
    brine: &Brine,
    not_before: Timestamp,
) -> Result<Pretreat, PlanError> {
    let Some(pre_spray) = pre_spray else { return Ok(Pretreat::No) };
    if pre_spray.verdicts.iter().all(|v| *v == Verdict::DoNot) {
        return Ok(Pretreat::No);
    }
    let rate = match yard.policy.cover_for {
        CoverFor::Mid => pre_spray.liquid.mid,
        CoverFor::High => pre_spray.liquid.high,
    };
    let per_route: Vec<_> =
        sprayed_routes(yard).map(|(route, lanes)| (route, rate.on(lanes), lanes)).collect();
    let density = brine.density(recipe::reference_temperature())?;
    let lead = SignedDuration::from_secs(yard.policy.lead_min.get::<uom::si::time::second>().round() as i64);
    let Some(loading) = loading::load_by(yard, &per_route, density, storm.start - lead) else {
        return Ok(Pretreat::No);
    };
    let behind = not_before.duration_since(loading.begin);
    Ok(if !behind.is_positive() {
        Pretreat::Loads(loading)
    } else if loading.end + behind <= storm.start {
        Pretreat::Loads(loading.later(behind))
    } else {
        Pretreat::TooLate(loading.begin)
    })
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
    let hours = road_hours(&all.grid, &request.yard.policy);
    let demand_if_real = storm_demand(request, &hours, brine)?;
    let waste = 1.0 + request.yard.policy.waste_share;
    let of = |amount: &dyn Fn(&Draw) -> Spread<f64>| {
        demand::total(&demand_if_real.courses, Case::Mid as usize, |_| true, amount)
    };
    let other = of(&|d| demand::other_m3(d).map(|v| v * waste));
    let salt = of(&demand::salt_kg);
    let need = demand::total(
        &demand_if_real.courses,
        Case::Mid as usize,
        |_| true,
        |d| demand::brine_m3(d).map(|v| v * waste),
    );
    Ok(Some(SuspectWater {
        liquid: liquid(&all.grid) - liquid(&trusted.grid),
        brine: demand::volumes(need),
        other: demand::volumes(other),
        salt: demand::masses(salt),
        storms: demand_if_real.storms.len(),
    }))
}
