//! What the roads do and ask for, as JSON: `callouts`, `treatments` and `surface` of the plan's document.

use jiff::SignedDuration;
use planner::Plan;
use planner::roads::{CallKind, CallOut, Strip};
use road::course::{Act, Form, Purpose, RoadAt};
use serde_json::{Value, json};

use crate::Teller;

/// The word of a kind in the document.
pub fn call_code(kind: CallKind) -> &'static str {
    match kind {
        CallKind::Pretreat => "pretreat",
        CallKind::FirstTreatment => "first_treatment",
        CallKind::Repeat => "repeat",
        CallKind::CleanUp => "clean_up",
        CallKind::PlowOnly => "plow_only",
        CallKind::BlowingSnow => "plow_only",
        CallKind::Frost => "frost",
        CallKind::WetFreeze => "wet_freeze",
        CallKind::Refreeze => "refreeze",
        CallKind::NoAction => "no_action",
    }
}

fn ids(teller: &Teller<'_>, routes: &[usize]) -> Vec<String> {
    routes.iter().map(|route| teller.yard.routes[*route].id.clone()).collect()
}

/// Calls on the crew.
pub(crate) fn callouts(plan: &Plan, teller: &Teller<'_>) -> Vec<Value> {
    let one = |call: &CallOut| {
        json!({
            "kind": call_code(call.kind),
            "routes": ids(teller, &call.routes),
            "from": call.span[0].to_string(),
            "to": call.span[1].to_string(),
            "chance": call.chance,
            "why": teller.call_why(call),
        })
    };
    plan.roads.callouts.iter().map(one).collect()
}

/// Treatments of the middle story, one entry a pass of a class.
pub(crate) fn treatments(plan: &Plan, teller: &Teller<'_>) -> Vec<Value> {
    let yard = teller.yard;
    let mut found = Vec::new();
    for class in &plan.roads.classes {
        let routes: Vec<usize> = (0..yard.routes.len())
            .filter(|route| yard.routes[*route].class == yard.route_classes[class.class].id)
            .collect();
        for (place, act) in class.middle.acts.iter().enumerate() {
            let mut value = treatment(act, &ids(teller, &routes), plan);
            let until = class.works_until.get(place).copied().unwrap_or_default();
            for (share, until) in ["p10", "p50", "p90"].into_iter().zip(until) {
                if act.form != Form::Plow
                    && let Some(fields) = value.as_object_mut()
                {
                    fields.insert(format!("holds_until_{share}"), json!(until.map(|at| at.to_string())));
                }
            }
            found.push((act.at, value));
        }
    }
    found.sort_by_key(|(at, _)| *at);
    found.into_iter().map(|(_, value)| value).collect()
}

fn treatment(act: &Act, routes: &[String], plan: &Plan) -> Value {
    let form = match (act.form, act.liquid_class()) {
        (Form::Brine, Some(road::rates::LiquidClass::MagnesiumOrCalcium)) => "other_liquid",
        (Form::Brine, _) => "brine",
        (Form::PrewetSalt, None) => "dry_salt",
        (Form::PrewetSalt, Some(_)) => "prewet_salt",
        (Form::Plow, _) => "plow",
    };
    let mut value = json!({
        "at": act.at.to_string(),
        "routes": routes,
        "form": form,
        "purpose": match act.purpose {
            Purpose::Pretreat => "pretreat",
            Purpose::First => "first_treatment",
            Purpose::Repeat => "repeat",
            Purpose::CleanUp => "clean_up",
            Purpose::PlowOnly => "plow_only",
        },
        "pavement_c": quantity::in_celsius(act.pavement),
        "source": act.rate.as_ref().map(|rate| rate.source.clone()),
        "rate_row": act.rate.as_ref().map(|rate| rate.id.clone()),
    });
    let fields = value.as_object_mut();
    if let (Some(fields), Some(_)) = (fields, &act.rate) {
        let salt = act.salt().map(|rate| rate.pounds_per_lane_mile());
        let liquid = act.liquid(&plan.brine_made).map(|rates| rates.map(|rate| rate.gallons_per_lane_mile()));
        for (place, name) in ["low", "mid", "high"].into_iter().enumerate() {
            if act.form == Form::PrewetSalt {
                fields.insert(format!("rate_{name}_lb_per_lane_mile"), json!(salt[place]));
            }
            if let Ok(liquid) = &liquid
                && (act.form == Form::Brine
                    || act.liquid_class() == Some(road::rates::LiquidClass::SaltBrine))
            {
                fields.insert(format!("rate_{name}_gal_per_lane_mile"), json!(liquid[place]));
            }
        }
    }
    value
}

/// The word of a road's state in the document.
pub fn state_code(road: &RoadAt) -> &'static str {
    let film = road.film;
    let solid = film.ice + film.snow;
    match (
        film.snow > 0.3,
        film.ice > 0.03,
        solid > 0.005,
        film.water > 0.3,
        film.water > 0.03,
        film.salt > 0.5,
    ) {
        (true, _, _, true, _, _) => "slush",
        (true, ..) => "snow",
        (_, true, ..) => "ice",
        (_, _, true, ..) => "frost",
        (_, _, _, true, ..) => "wet",
        (_, _, _, _, true, _) => "damp",
        (_, _, _, _, _, true) => "salt residue",
        _ => "dry",
    }
}

/// Surfaces hour by hour: quantiles of temperature over the members, water, ice and salt of the middle story as served.
pub(crate) fn surfaces(plan: &Plan, teller: &Teller<'_>) -> Vec<Value> {
    let name = |strip: &Strip| {
        let id = strip.road.id(teller.yard);
        match (strip.road.segment, strip.road.is_deck) {
            (Some(_), _) => format!("segment {id}"),
            (None, true) => format!("class {id} bridge"),
            (None, false) => format!("class {id} road"),
        }
    };
    let hour = SignedDuration::from_hours(1);
    plan.roads
        .strips
        .iter()
        .flat_map(|strip| {
            let road = name(strip);
            strip.hours.iter().map(move |one| {
                let film = one.middle.film;
                json!({
                    "road": road,
                    "start": one.start.to_string(),
                    "end": (one.start + hour).to_string(),
                    "surface_c_p10": one.surface[0],
                    "surface_c_p50": one.surface[1],
                    "surface_c_p90": one.surface[2],
                    "water_mm": film.water.max(0.0),
                    "ice_mm": (film.ice + film.snow).max(0.0),
                    "salt_g_m2": film.salt.max(0.0),
                    "freezing_c": film.freezing_point().min(0.0),
                    "slippery_chance": one.slippery,
                    "state": state_code(&one.middle),
                })
            })
        })
        .collect()
}
