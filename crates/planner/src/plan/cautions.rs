//! What a person must know before acting on a plan.

use std::collections::BTreeSet;

use bench::Conformity;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use quantity::{ThermodynamicTemperature, in_celsius, in_cubic_metres};
use road::spraying::Verdict;
use site::Yard;
use yard::stock::Part;

use super::window::{hour_floor, hours_between};
use super::{Plan, PlanRequest};
use crate::outlook::Case;
use crate::production::within;
use crate::storm::{Storm, StormKind, possible_frost};
use crate::treatment::{Treatment, is_sprayed_ahead};

/// Hours after an event in which a falling road is watched for refreezing: our rule.
const REFREEZE_HOURS: i64 = 12;

/// Something a person must know before acting on the plan.
#[derive(Debug, Clone, PartialEq)]
pub enum Caution {
    /// Pavement is not in the forecast; a band around the air is assumed.
    PavementAssumed,
    /// The cases of pavement disagree on spraying ahead: look at the road.
    LookAtPavement {
        /// Place of the storm.
        storm: usize,
    },
    /// Liquid must not be sprayed ahead.
    NoLiquidAhead {
        /// Place of the storm.
        storm: usize,
    },
    /// The road falls below what salt brine melts before or after the last pass.
    MayRefreeze {
        /// When it does.
        at: Timestamp,
        /// Pavement's middle then.
        pavement: ThermodynamicTemperature,
    },
    /// Rates from memory are used, since the yard switched them on.
    RememberedRates {
        /// Their ids.
        ids: Vec<String>,
    },
    /// No published rate that is on covers some passes.
    NoRate {
        /// How many.
        passes: usize,
    },
    /// The plan asks for magnesium or calcium chloride liquid, and no tank holds any.
    NoOtherLiquid,
    /// Spraying ahead can no longer be done before the event.
    TooLateToSpray {
        /// Place of the storm.
        storm: usize,
        /// When it would have had to begin.
        begin: Timestamp,
    },
    /// Spraying ends later before the event than the policy asks for.
    LeadCutShort {
        /// Place of the storm.
        storm: usize,
    },
    /// No rate that is on covers spraying ahead, and some class of route is sprayed ahead.
    NoRateAhead,
    /// The forecast does not say when it was made.
    IssueUnknown,
    /// Spraying ahead is asked for, and no truck carries liquid.
    NoTruck {
        /// Place of the storm.
        storm: usize,
    },
    /// The forecast was old when the plan was made.
    OldForecast {
        /// How old, hours.
        hours: usize,
    },
    /// The forecast gives chances, not amounts.
    NoAmounts,
    /// Spraying falls outside the crew's hours.
    OutsideCrewHours {
        /// Place of the storm.
        storm: usize,
    },
    /// Spraying would have to start earlier ahead of the storm than the policy allows.
    TooFarAhead {
        /// Place of the storm.
        storm: usize,
    },
    /// Hours without a value for precipitation.
    PrecipitationUnknown {
        /// How many.
        hours: usize,
    },
    /// A tank that is not in spec and so not counted.
    TankNotInSpec {
        /// Tank.
        tank: String,
        /// Why.
        conformity: Conformity,
    },
    /// A tank that holds something else than its product alone, which is not predicted and not counted.
    TankUnlike {
        /// Tank.
        tank: String,
        /// What it holds, most first.
        parts: Vec<Part>,
    },
    /// A tank whose liquid may freeze or drop salt in the coldest air ahead.
    TankMayFreeze {
        /// Tank.
        tank: String,
        /// First solid: predicted for brine, by the sheet for a declared liquid.
        first_solid: ThermodynamicTemperature,
        /// Coldest air.
        coldest: ThermodynamicTemperature,
    },
    /// Frost in the coldest case of pavement only: look at the road.
    FrostPossible {
        /// First such hour.
        from: Timestamp,
        /// End of the last.
        to: Timestamp,
    },
    /// The books of the yard do not close.
    BooksDoNotClose,
    /// The forecast ends before the hours asked for.
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
        .map(|(_, t)| t.passes.iter().map(|case| case.iter().filter(|p| p.rate.is_none()).count()).max())
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
    if !request.books.close() {
        found.push(Caution::BooksDoNotClose);
    }
    found
}

/// Ids of rates from memory that the plan uses.
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
