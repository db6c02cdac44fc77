//! A plan as JSON for another program: format `brinewright-plan`, version 1, described in `docs/plan-json.md`. SI
//! units, the unit at the end of every name; unrounded.

use bench::Conformity;
use planner::demand::Band;
use planner::outlook::Case;
use planner::production::Bound;
use planner::storm::StormKind;
use planner::treatment::Spread;
use planner::{Plan, Shortage};
use quantity::units::MILE;
use quantity::{
    Mass, Volume, in_celsius, in_cubic_metres, in_gallons, in_kilograms, in_metres, in_millimetres, in_pounds,
};
use road::spraying::Verdict;
use serde_json::{Value, json};
use weather::WeatherFile;
use yard::stock::{Liquid, Part};

use crate::Teller;

/// Version of the document.
pub const PLAN_VERSION: u32 = 1;

/// Builds the document.
pub fn plan_document(plan: &Plan, weather: &WeatherFile, teller: &Teller<'_>) -> Value {
    let next = teller.next_act(plan);
    json!({
        "format": "brinewright-plan",
        "version": PLAN_VERSION,
        "yard": teller.yard.name,
        "forecast": {
            "format": weather.format.name(),
            "station": weather.station,
            "notices": plan.notices.iter().map(|notice| teller.display.tell(&notice.text)).collect::<Vec<_>>(),
            "amounts_given": plan.amounts_given,
        },
        "issued": plan.issued.to_string(),
        "from": plan.window[0].to_string(),
        "to": plan.window[1].to_string(),
        "hours_asked": plan.hours_asked,
        "hours_planned": plan.hours.len(),
        "precipitation_read_mm": in_millimetres(plan.precipitation),
        "suspect": plan.suspect.as_ref().map(|s| json!({
            "liquid_mm": in_millimetres(s.liquid),
            "storms": s.storms,
            "brine_if_real": volumes(&s.brine),
            "other_liquid_if_real": volumes(&s.other),
            "dry_salt_if_real": masses(&s.salt),
        })),
        "next": { "act": next.act, "why": next.why, "urgent": next.urgent },
        "storms": plan.storms.iter().enumerate().map(|(place, _)| storm(plan, place, teller)).collect::<Vec<_>>(),
        "need": {
            "cover_for": if plan.cover_for == site::CoverFor::High { "high" } else { "mid" },
            "waste_share": plan.waste_share,
            "brine": volumes(&plan.brine),
            "other_liquid": volumes(&plan.other),
            "dry_salt": masses(&plan.salt),
        },
        "routes": plan.routes.iter().map(|need| json!({
            "id": teller.yard.routes[need.route].id,
            "name": teller.yard.routes[need.route].name,
            "lane_miles": MILE.of_base(in_metres(teller.yard.routes[need.route].lane_length)),
            "anti_icing": volumes(&need.anti_icing),
            "prewet": volumes(&need.prewet),
            "brine": volumes(&need.brine),
            "other_liquid": volumes(&need.other),
            "dry_salt": masses(&need.salt),
            "loads": need.loads,
        })).collect::<Vec<_>>(),
        "callouts": crate::road_document::callouts(plan, teller),
        "treatments": crate::road_document::treatments(plan, teller),
        "surface": crate::road_document::surfaces(plan, teller),
        "by_hour": by_hour(plan),
        "stock": {
            "brine_in_hand_m3": in_cubic_metres(plan.in_hand),
            "brine_in_hand_gal": in_gallons(plan.in_hand),
            "other_in_hand_m3": in_cubic_metres(plan.other_in_hand),
            "rock_salt_kg": in_kilograms(plan.rock_salt),
            "tanks": plan.tanks.iter().map(|tank| json!({
                "id": tank.tank,
                "product": tank.product,
                "volume_m3": in_cubic_metres(tank.volume),
                "volume_within_m3": in_cubic_metres(tank.volume_within),
                "usable_m3": in_cubic_metres(tank.usable),
                "room_m3": in_cubic_metres(tank.room),
                "strength_pct": tank.strength.map(|w| w.percent()),
                "strength_within_pct": tank.strength_within.map(|w| w.percent()),
                "is_counted": tank.is_counted,
                "asks_second_look": tank.doubted.is_some(),
                "spec": tank.conformity.map(conformity),
                "first_solid_c": tank.first_solid.map(|f| in_celsius(f.temperature)),
                "sheet_freezing_c": tank.sheet_freezing.map(in_celsius),
                "mixed": tank.unlike.iter().map(part).collect::<Vec<_>>(),
            })).collect::<Vec<_>>(),
        },
        "making": {
            "runs": plan.schedule.runs.iter().zip(&plan.tank_uses).map(|(run, uses)| json!({
                "latest_start": run.latest_start.to_string(),
                "making_from": run.making_from.to_string(),
                "making_to": run.making_to.to_string(),
                "ready": run.ready.to_string(),
                "volume_m3": in_cubic_metres(run.volume),
                "volume_gal": in_gallons(run.volume),
                "tanks": uses
                    .iter()
                    .map(|u| json!({ "id": u.tank, "volume_m3": in_cubic_metres(u.volume) }))
                    .collect::<Vec<_>>(),
            })).collect::<Vec<_>>(),
            "made_m3": in_cubic_metres(plan.made),
            "rock_salt_kg": in_kilograms(plan.batch.rock_salt),
            "sodium_chloride_kg": in_kilograms(plan.batch.sodium_chloride),
            "water_kg": in_kilograms(plan.batch.water),
            "insolubles_kg": in_kilograms(plan.batch.insolubles),
            "brine_kg": in_kilograms(plan.batch.brine),
        },
        "shortages": plan.shortages.iter().map(|s| shortage(s, teller)).collect::<Vec<_>>(),
        "costs_usd": {
            "low": plan.costs.low.total_usd(),
            "mid": plan.costs.mid.total_usd(),
            "high": plan.costs.high.total_usd(),
        },
        "chloride_kg": {
            "low": in_kilograms(plan.chloride.low),
            "mid": in_kilograms(plan.chloride.mid),
            "high": in_kilograms(plan.chloride.high),
        },
        "cautions": plan.cautions.iter().map(|c| teller.caution(c)).collect::<Vec<_>>(),
        "balance": { "volume": plan.balance.volume, "salt": plan.balance.salt, "water": plan.balance.water },
    })
}

fn volumes(spread: &Spread<Volume>) -> Value {
    json!({
        "low_m3": in_cubic_metres(spread.low),
        "mid_m3": in_cubic_metres(spread.mid),
        "high_m3": in_cubic_metres(spread.high),
        "low_gal": in_gallons(spread.low),
        "mid_gal": in_gallons(spread.mid),
        "high_gal": in_gallons(spread.high),
    })
}

fn masses(spread: &Spread<Mass>) -> Value {
    json!({
        "low_kg": in_kilograms(spread.low), "mid_kg": in_kilograms(spread.mid), "high_kg": in_kilograms(spread.high),
        "low_lb": in_pounds(spread.low), "mid_lb": in_pounds(spread.mid), "high_lb": in_pounds(spread.high),
    })
}

/// Part of what a tank holds, when that is not its product alone: `brine`, or the id of a declared product.
fn part(part: &Part) -> Value {
    let liquid = match &part.liquid {
        Liquid::Brine => "brine",
        Liquid::Declared(id) => id,
    };
    json!({ "liquid": liquid, "mass_kg": in_kilograms(part.mass) })
}

fn conformity(conformity: Conformity) -> &'static str {
    match conformity {
        Conformity::InSpec => "in_spec",
        Conformity::TooWeak => "too_weak",
        Conformity::TooStrong => "too_strong",
        Conformity::CannotTell => "cannot_tell",
    }
}

fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pretreat => "spray",
        Verdict::PretreatWithCaution => "spray_with_care",
        Verdict::DoNot => "do_not",
    }
}

fn storm(plan: &Plan, place: usize, teller: &Teller<'_>) -> Value {
    let (storm, treatment) = &plan.storms[place];
    let loading = plan.loadings.iter().find(|(of, _)| *of == place).map(|(_, loading)| loading);
    let kind = match storm.kind {
        StormKind::Snow => "snow",
        StormKind::RainToSnow => "rain_to_snow",
        StormKind::Mixed => "mixed",
        StormKind::FreezingRain => "freezing_rain",
        StormKind::FreezingMix => "freezing_mix",
        StormKind::Rain => "rain",
        StormKind::Frost => "frost",
        StormKind::WetFreeze => "wet_freeze",
    };
    json!({
        "kind": kind,
        "start": storm.start.to_string(),
        "end": storm.end.to_string(),
        "liquid_mm": in_millimetres(storm.liquid),
        "frozen_mm": in_millimetres(storm.frozen),
        "pavement_given": storm.pavement_given,
        "first_useful": {
            "warm": treatment.first_useful[Case::Warm as usize].map(|t| t.to_string()),
            "mid": treatment.first_useful[Case::Mid as usize].map(|t| t.to_string()),
            "cold": treatment.first_useful[Case::Cold as usize].map(|t| t.to_string()),
        },
        "too_late_to_spray": treatment.too_late.map(|begin| begin.to_string()),
        "pre_spray": treatment.pre_spray.as_ref().map(|p| json!({
            "verdict": p.verdict().map_or("look_at_pavement", verdict),
            "by_case": {
                "warm": verdict(p.verdicts[Case::Warm as usize]),
                "mid": verdict(p.verdicts[Case::Mid as usize]),
                "cold": verdict(p.verdicts[Case::Cold as usize]),
            },
            "reasons": p
                .reasons
                .iter()
                .map(|r| json!({ "text": teller.reason(r), "source": teller.display.tell(&r.source()) }))
                .collect::<Vec<_>>(),
            "rate_row": p.rate.id,
            "rate_source": p.rate.source,
            "gal_per_lane_mile": rates(&p.liquid),
            "if_overridden": volumes(&p.liquid.map(|r| r.on(p.lanes))),
        })),
        "loads": loading.map(|loading| loading.loads.iter().map(|load| json!({
            "route": teller.yard.routes[load.route].id,
            "truck": teller.yard.trucks[load.truck].id,
            "volume_m3": in_cubic_metres(load.volume),
            "volume_gal": in_gallons(load.volume),
            "load_from": load.load_from.to_string(),
            "leaves": load.leaves.to_string(),
            "sprayed": load.sprayed.to_string(),
        })).collect::<Vec<_>>()).unwrap_or_default(),
        "passes": treatment.passes[Case::Mid as usize].iter().map(|pass| json!({
            "route": teller.yard.routes[pass.route].id,
            "at": pass.at.to_string(),
            "first": pass.pass == road::rates::Pass::First,
            "pavement_c": in_celsius(pass.pavement),
            "rate_row": pass.rate.as_ref().map(|r| r.id.clone()),
            "brine": volumes(&pass.brine),
            "other_liquid": volumes(&pass.other),
            "dry_salt": masses(&pass.salt),
        })).collect::<Vec<_>>(),
    })
}

/// Brine drawn in each hour and standing at its end.
fn by_hour(plan: &Plan) -> Value {
    let per_hour = plan.bins.count / plan.hours.len().max(1);
    let rows: Vec<Value> = plan
        .hours
        .iter()
        .enumerate()
        .map(|(hour, road)| {
            let end = (hour + 1) * per_hour - 1;
            let drawn = |band: &[f64]| band[end] - if hour == 0 { 0.0 } else { band[end - per_hour] };
            let spread = |band: &Band| {
                json!({ "low_m3": drawn(&band.low), "mid_m3": drawn(&band.mid), "high_m3": drawn(&band.high) })
            };
            let [anti_icing, first_pass, later_pass] = &plan.purpose_bands;
            json!({
                "start": road.start.to_string(),
                "brine_low_m3": drawn(&plan.brine_band.low),
                "brine_mid_m3": drawn(&plan.brine_band.mid),
                "brine_high_m3": drawn(&plan.brine_band.high),
                "anti_icing": spread(anti_icing),
                "prewet_first_pass": spread(first_pass),
                "prewet_follow_up": spread(later_pass),
                "stock_end_m3": plan.schedule.stock[end],
                "air_c": road.air.map(|t| clean(in_celsius(t))),
                "pavement_c": road.pavement.map(|band| band.map(|t| clean(in_celsius(t)))),
                "liquid_mm": in_millimetres(road.liquid),
                "frozen_share": road.frozen_share,
            })
        })
        .collect();
    Value::Array(rows)
}

fn shortage(shortage: &Shortage, teller: &Teller<'_>) -> Value {
    let text = teller.shortage(shortage);
    match shortage {
        Shortage::Brine { at, by, bound_by } => json!({
            "what": "brine",
            "at": at.to_string(),
            "by_m3": in_cubic_metres(*by),
            "by_gal": in_gallons(*by),
            "bound_by": match bound_by { Bound::Salt => "salt", Bound::Room => "room", Bound::Time => "time" },
            "text": text,
        }),
        Shortage::OtherLiquid { by } => {
            json!({ "what": "other_liquid", "by_m3": in_cubic_metres(*by), "text": text })
        }
        Shortage::RockSalt { by } => json!({ "what": "rock_salt", "by_kg": in_kilograms(*by), "text": text }),
    }
}

/// A temperature without the dust of its conversions.
fn clean(celsius: f64) -> f64 {
    (celsius * 1e9).round() / 1e9
}

fn rates(spread: &Spread<road::LiquidRate>) -> Value {
    json!({
        "low": spread.low.gallons_per_lane_mile(),
        "mid": spread.mid.gallons_per_lane_mile(),
        "high": spread.high.gallons_per_lane_mile(),
    })
}
