//! What a forecast asks for: events judged, trucks sent, every draw of liquid and salt in each case of pavement.

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
use crate::treatment::{Going, PreSpray, Spread, Treatment, is_sprayed_ahead, judge, treat};

/// Storms, courses and loads of one forecast.
pub(super) struct Asked {
    pub(super) storms: Vec<(Storm, Treatment)>,
    pub(super) courses: Vec<Course>,
    pub(super) loadings: Vec<(usize, Loading)>,
}

pub(super) fn asked(
    request: &PlanRequest<'_>,
    hours: &[RoadHour],
    brine: &Brine,
) -> Result<Asked, PlanError> {
    let mut asked = Asked { storms: Vec::new(), courses: vec![Vec::new(); 3], loadings: Vec::new() };
    for (place, storm) in find_storms(hours).into_iter().enumerate() {
        let judged = judge(request.yard, request.rates, hours, &storm, brine, request.issued)?;
        // Trucks of an earlier spraying must be back first.
        let back = asked.loadings.last().map(|(_, loading)| loading.back(request.yard));
        let not_before = back.map_or(request.issued, |back| back.max(request.issued));
        let ahead = spray_ahead(request.yard, &storm, judged.pre_spray.as_ref(), brine, not_before)?;
        let (loading, going) = match ahead {
            Ahead::No => (None, Going::Not),
            Ahead::Loads(loading) => (Some(loading), Going::Ahead),
            Ahead::TooLate(begin) => (None, Going::TooLate(begin)),
        };
        let treatment = treat(request.yard, request.rates, hours, &storm, brine, judged, going)?;
        for case in Case::ALL {
            let course = &mut asked.courses[case as usize];
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
        asked.loadings.extend(loading.map(|loading| (place, loading)));
        asked.storms.push((storm, treatment));
    }
    Ok(asked)
}

fn sprayed_routes(yard: &Yard) -> impl Iterator<Item = (usize, Length)> + '_ {
    yard.routes
        .iter()
        .enumerate()
        .filter(|(_, route)| is_sprayed_ahead(yard, &route.class))
        .map(|(place, route)| (place, route.lane_length))
}

/// Whether trucks go out ahead of an event.
enum Ahead {
    /// No case asks for it, or there is no truck.
    No,
    /// They do.
    Loads(Loading),
    /// They would have had to begin then.
    TooLate(Timestamp),
}

/// Loads for spraying ahead, sized for the demand that is covered. Where the policy's lead can no longer be kept but
/// the work still fits before the event, it begins at once; where it does not fit, it is too late.
fn spray_ahead(
    yard: &Yard,
    storm: &Storm,
    pre_spray: Option<&PreSpray>,
    brine: &Brine,
    not_before: Timestamp,
) -> Result<Ahead, PlanError> {
    let Some(pre_spray) = pre_spray else { return Ok(Ahead::No) };
    if pre_spray.verdicts.iter().all(|v| *v == Verdict::DoNot) {
        return Ok(Ahead::No);
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
        return Ok(Ahead::No);
    };
    let behind = not_before.duration_since(loading.begin);
    Ok(if !behind.is_positive() {
        Ahead::Loads(loading)
    } else if loading.end + behind <= storm.start {
        Ahead::Loads(loading.later(behind))
    } else {
        Ahead::TooLate(loading.begin)
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
    let asked = asked(request, &hours, brine)?;
    let waste = 1.0 + request.yard.policy.waste_share;
    let of = |amount: &dyn Fn(&Draw) -> Spread<f64>| {
        demand::total(&asked.courses, Case::Mid as usize, |_| true, amount)
    };
    let other = of(&|d| demand::other_m3(d).map(|v| v * waste));
    let salt = of(&demand::salt_kg);
    let need = demand::total(
        &asked.courses,
        Case::Mid as usize,
        |_| true,
        |d| demand::brine_m3(d).map(|v| v * waste),
    );
    Ok(Some(SuspectWater {
        liquid: liquid(&all.grid) - liquid(&trusted.grid),
        brine: demand::volumes(need),
        other: demand::volumes(other),
        salt: demand::masses(salt),
        storms: asked.storms.len(),
    }))
}
