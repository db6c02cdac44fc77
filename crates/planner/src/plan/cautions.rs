//! What a person must know before acting on a plan.

use std::collections::BTreeSet;

use bench::Conformity;
use jiff::civil::Weekday;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use quantity::{ThermodynamicTemperature, in_celsius, in_cubic_metres, in_hours};
use road::spraying::Verdict;
use site::Yard;
use yard::stock::Part;

use super::window::{hour_floor, hours_between};
use super::{Plan, PlanRequest};
use crate::outlook::Case;
use crate::production::within;
use crate::roads::is_sprayed_ahead;
use crate::storm::{Storm, StormKind, possible_frost};
use crate::treatment::Treatment;

/// Hours after a storm in which a road that gets colder is watched for refreezing: program default.
const REFREEZE_HOURS: i64 = 12;

/// Something a person must know before acting on the plan.
#[derive(Debug, Clone, PartialEq)]
pub enum Caution {
    /// The forecast has no pavement temperature; a range around the air temperature is assumed.
    PavementAssumed,
    /// The pavement cases disagree on pretreating: check the road.
    LookAtPavement {
        /// Index of the storm in the plan.
        storm: usize,
    },
    /// The storm must not be pretreated with liquid.
    NoLiquidAhead {
        /// Index of the storm in the plan.
        storm: usize,
    },
    /// The road gets colder than the yard's limit for salt brine (`policy.block_below`), before or after the last pass.
    MayRefreeze {
        /// First hour in which it does.
        at: Timestamp,
        /// Pavement temperature of the middle case at that time.
        pavement: ThermodynamicTemperature,
    },
    /// Rates without a source at hand are used, since the yard enabled them.
    RememberedRates {
        /// Ids of these rates.
        ids: Vec<String>,
    },
    /// No enabled published rate covers some passes.
    NoRate {
        /// Number of passes.
        passes: usize,
    },
    /// The plan needs magnesium or calcium chloride liquid, and no tank holds any.
    NoOtherLiquid,
    /// It is too late to pretreat before the storm.
    TooLateToSpray {
        /// Index of the storm in the plan.
        storm: usize,
        /// Time at which pretreating would have had to begin.
        begin: Timestamp,
    },
    /// Pretreating ends closer to the storm than the policy wants.
    LeadCutShort {
        /// Index of the storm in the plan.
        storm: usize,
    },
    /// No enabled rate covers pretreating, and some class of route is pretreated.
    NoRateAhead,
    /// The forecast does not say when it was made.
    IssueUnknown,
    /// The storm should be pretreated, and no truck carries liquid.
    NoTruck {
        /// Index of the storm in the plan.
        storm: usize,
    },
    /// The forecast was old when the plan was made.
    OldForecast {
        /// Age of the forecast, h.
        hours: usize,
    },
    /// The forecast gives probabilities of precipitation, not amounts.
    NoAmounts,
    /// Pretreating falls outside crew hours.
    OutsideCrewHours {
        /// Index of the storm in the plan.
        storm: usize,
    },
    /// Pretreating would have to start longer before the storm than the policy allows.
    TooFarAhead {
        /// Index of the storm in the plan.
        storm: usize,
    },
    /// Some hours have no precipitation value.
    PrecipitationUnknown {
        /// Number of hours.
        hours: usize,
    },
    /// A tank is not in spec and so not counted.
    TankNotInSpec {
        /// Id of the tank.
        tank: String,
        /// Why it is not in spec.
        conformity: Conformity,
    },
    /// A tank holds something other than its product alone, so nothing is predicted of it and it is not counted.
    TankUnlike {
        /// Id of the tank.
        tank: String,
        /// What it holds, most first.
        parts: Vec<Part>,
    },
    /// A tank can freeze or drop salt in the coldest air forecast.
    TankMayFreeze {
        /// Id of the tank.
        tank: String,
        /// Freeze point: predicted for brine, from the supplier's sheet for a purchased liquid.
        first_solid: ThermodynamicTemperature,
        /// Coldest air forecast.
        coldest: ThermodynamicTemperature,
    },
    /// Frost in the coldest pavement case only: check the road.
    FrostPossible {
        /// Start of the first such hour.
        from: Timestamp,
        /// End of the last such hour.
        to: Timestamp,
    },
    /// A truck cannot drive all its routes in their cycles.
    CycleTooShort {
        /// Id of the truck.
        truck: String,
        /// Ids of its routes.
        routes: Vec<String>,
        /// Hours of driving and spreading that an hour of storm asks of it.
        hours: f64,
    },
    /// Passes of the middle story fall into the rush of a workday.
    RushHour {
        /// The first of them.
        at: Timestamp,
    },
    /// The yard's books do not balance.
    BooksDoNotClose,
    /// The forecast ends before the hours requested.
    Shortened,
}

pub(super) fn cautions(request: &PlanRequest<'_>, plan: &Plan, zone: &TimeZone) -> Vec<Caution> {
    let yard = request.yard;
    let colder = |a: &ThermodynamicTemperature, b: &ThermodynamicTemperature| {
        in_celsius(*a).total_cmp(&in_celsius(*b))
    };
    let coldest = plan.hours.iter().filter_map(|hour| hour.air).min_by(colder);
    let mut found = Vec::new();
    for (place, (storm, treatment)) in plan.storms.iter().enumerate() {
        storm_cautions(&mut found, place, storm, treatment, plan, yard, zone);
    }
    let age = request.now.duration_since(request.weather.issued.unwrap_or(request.issued)).as_hours();
    if age as f64 > weather::file::FORECAST_STALE_AFTER_HOURS {
        found.push(Caution::OldForecast { hours: age.max(0) as usize });
    }
    if plan.storms.iter().any(|(storm, _)| !storm.pavement_given) {
        found.push(Caution::PavementAssumed);
    }
    let no_rate: usize = plan
        .storms
        .iter()
        .map(|(_, t)| {
            t.passes.iter().map(|case| case.iter().filter(|p| p.rate.is_none() && !p.plows).count()).max()
        })
        .map(|most| most.unwrap_or(0))
        .sum();
    let unrated = |treatment: &Treatment| {
        treatment.pre_spray.is_none() && treatment.first_useful.iter().any(Option::is_some)
    };
    let is_sprayed = yard.routes.iter().any(|route| is_sprayed_ahead(yard, &route.class));
    if is_sprayed && plan.storms.iter().any(|(_, treatment)| unrated(treatment)) {
        found.push(Caution::NoRateAhead);
    }
    if request.weather.issued.is_none() && request.weather.kind != weather::Kind::Observation {
        found.push(Caution::IssueUnknown);
    }
    if no_rate > 0 {
        found.push(Caution::NoRate { passes: no_rate });
    }
    let ids = remembered(plan);
    if !ids.is_empty() {
        found.push(Caution::RememberedRates { ids });
    }
    if in_cubic_metres(plan.other.high) > 0.0 && in_cubic_metres(plan.other_in_hand) <= 0.0 {
        found.push(Caution::NoOtherLiquid);
    }
    let unknown = plan.hours.iter().filter(|hour| hour.precipitation_unknown).count();
    if !plan.amounts_given {
        found.push(Caution::NoAmounts);
    } else if unknown > 0 {
        found.push(Caution::PrecipitationUnknown { hours: unknown });
    }
    if plan.window[1] < plan.window[0] + SignedDuration::from_hours(plan.hours_asked as i64) {
        found.push(Caution::Shortened);
    }
    for tank in &plan.tanks {
        match tank.conformity {
            Some(conformity) if conformity != Conformity::InSpec => {
                found.push(Caution::TankNotInSpec { tank: tank.tank.clone(), conformity });
            }
            _ => {}
        }
        if !tank.unlike.is_empty() {
            found.push(Caution::TankUnlike { tank: tank.tank.clone(), parts: tank.unlike.clone() });
        }
        if let (Some(first_solid), Some(coldest), true) =
            (tank.freezes_at(), coldest, tank.freezes_in(coldest))
        {
            found.push(Caution::TankMayFreeze { tank: tank.tank.clone(), first_solid, coldest });
        }
    }
    let storms: Vec<Storm> = plan.storms.iter().map(|(storm, _)| storm.clone()).collect();
    if let Some([from, to]) = possible_frost(&plan.hours, &storms) {
        found.push(Caution::FrostPossible { from, to });
    }
    found.extend(cycles(yard, plan));
    found.extend(rush(yard, plan, zone));
    if !request.books.close() {
        found.push(Caution::BooksDoNotClose);
    }
    found
}

/// Trucks whose routes take longer than their cycles, where passes are planned: lanes at spraying speed, and the way
/// there and back each cycle.
fn cycles(yard: &Yard, plan: &Plan) -> Vec<Caution> {
    let mut passes = plan.storms.iter().flat_map(|(_, treatment)| &treatment.passes[Case::Mid as usize]);
    if passes.next().is_none() {
        return Vec::new();
    }
    let of_truck = |truck: &site::Truck| {
        let own = || yard.routes.iter().filter(|route| route.truck.as_ref() == Some(&truck.id));
        let hours: f64 = own()
            .filter_map(|route| {
                let drive = in_hours(route.lane_length / truck.spray_speed) + 2.0 * in_hours(route.drive);
                Some(drive / in_hours(yard.route_class(&route.class)?.cycle))
            })
            .sum();
        let routes = own().map(|route| route.id.clone()).collect();
        (hours > 1.0).then(|| Caution::CycleTooShort { truck: truck.id.clone(), routes, hours })
    };
    yard.trucks.iter().filter_map(of_truck).collect()
}

/// The first pass of the middle story that falls into the rush of a workday.
fn rush(yard: &Yard, plan: &Plan, zone: &TimeZone) -> Option<Caution> {
    let in_rush = |at: &Timestamp| {
        let local = at.to_zoned_datetime(zone.clone());
        let is_workday = !matches!(local.weekday(), Weekday::Saturday | Weekday::Sunday);
        is_workday && yard.policy.rush.iter().any(|(from, to)| within(local.hour(), *from, *to))
    };
    let passes = plan.storms.iter().flat_map(|(_, treatment)| &treatment.passes[Case::Mid as usize]);
    let at = passes.map(|pass| pass.at).filter(in_rush).min()?;
    Some(Caution::RushHour { at })
}

/// Returns the ids of the rates without a source at hand that the plan uses.
fn remembered(plan: &Plan) -> Vec<String> {
    let of_storm = |treatment: &Treatment| -> Vec<String> {
        let ahead = treatment.pre_spray.iter().map(|p| &p.rate);
        let passes = treatment.passes.iter().flatten().filter_map(|pass| pass.rate.as_ref());
        ahead
            .chain(passes)
            .filter(|rate| rate.mark == road::rates::Mark::Memory)
            .map(|r| r.id.clone())
            .collect()
    };
    let ids: BTreeSet<String> = plan.storms.iter().flat_map(|(_, treatment)| of_storm(treatment)).collect();
    ids.into_iter().collect()
}

fn storm_cautions(
    found: &mut Vec<Caution>,
    place: usize,
    storm: &Storm,
    treatment: &Treatment,
    plan: &Plan,
    yard: &Yard,
    zone: &TimeZone,
) {
    let asks = treatment.pre_spray.as_ref().is_some_and(|p| p.verdicts.iter().any(|v| *v != Verdict::DoNot));
    if asks && !treatment.goes_ahead && treatment.too_late.is_none() {
        found.push(Caution::NoTruck { storm: place });
    }
    if let Some(begin) = treatment.too_late {
        found.push(Caution::TooLateToSpray { storm: place, begin });
    } else if let Some(pre_spray) = &treatment.pre_spray {
        match pre_spray.verdict() {
            None => found.push(Caution::LookAtPavement { storm: place }),
            Some(Verdict::DoNot) => found.push(Caution::NoLiquidAhead { storm: place }),
            Some(_) => {}
        }
    }
    if let Some((_, loading)) = plan.loadings.iter().find(|(storm, _)| *storm == place) {
        let lead = SignedDuration::from_secs(yard.policy.lead_min.get::<uom::si::time::second>() as i64);
        if loading.end > storm.start - lead {
            found.push(Caution::LeadCutShort { storm: place });
        }
        let ahead = SignedDuration::from_secs(yard.policy.lead_max.get::<uom::si::time::second>() as i64);
        if loading.begin < storm.start - ahead {
            found.push(Caution::TooFarAhead { storm: place });
        }
        let hours = hours_between(hour_floor(loading.begin), loading.end) as i32;
        let manned = (0..=hours).all(|hour| {
            let at = loading.begin + SignedDuration::from_hours(1) * hour;
            let local =
                at.min(loading.end - SignedDuration::from_secs(1)).to_zoned_datetime(zone.clone()).hour();
            within(local, yard.crew.spraying_from_hour, yard.crew.spraying_to_hour)
        });
        if !manned {
            found.push(Caution::OutsideCrewHours { storm: place });
        }
    }
    if matches!(storm.kind, StormKind::Rain) && treatment.first_useful.iter().all(Option::is_none) {
        return;
    }
    let watched = storm.end + SignedDuration::from_hours(REFREEZE_HOURS);
    let cold = plan.hours.iter().find(|hour| {
        storm.start <= hour.start
            && hour.start < watched
            && hour.pavement(Case::Mid).is_some_and(|t| in_celsius(t) < in_celsius(yard.policy.block_below))
    });
    if let Some(hour) = cold
        && let Some(pavement) = hour.pavement(Case::Mid)
        && storm.kind != StormKind::Frost
    {
        found.push(Caution::MayRefreeze { at: hour.start, pavement });
    }
}
