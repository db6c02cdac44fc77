//! Liquid and salt that every story draws.

use chemistry::Brine;
use quantity::{Length, cubic_metres};
use road::course::{Act, Purpose};
use site::Yard;

use super::parts::{ClassCourse, Roads};
use crate::demand::Draw;
use crate::spread::Spread;

/// What is drawn in every story, the middle one second: so many gallons and pounds at a time for each route.
pub(crate) fn draws(yard: &Yard, roads: &Roads, brine: &Brine) -> Result<Vec<Vec<Draw>>, chemistry::Error> {
    let members = roads.classes.iter().map(|class| class.members.len()).max().unwrap_or(0);
    let mut courses: Vec<Vec<Draw>> = Vec::with_capacity(members + 1);
    let of = |pick: &dyn Fn(&ClassCourse) -> Option<Vec<Act>>| -> Result<Vec<Draw>, chemistry::Error> {
        let mut drawn = Vec::new();
        for class in &roads.classes {
            let id = &yard.route_classes[class.class].id;
            for act in pick(class).unwrap_or_default() {
                for (place, route) in yard.routes.iter().enumerate().filter(|(_, route)| route.class == *id) {
                    drawn.push(draw(&act, place, route.lane_length, brine)?);
                }
            }
        }
        Ok(drawn)
    };
    for member in 0..members {
        courses.push(of(&|class| class.members.get(member).cloned())?);
    }
    let middle = of(&|class| Some(class.middle.acts.clone()))?;
    courses.insert(1.min(courses.len()), middle);
    Ok(courses)
}

fn draw(act: &Act, route: usize, lanes: Length, brine: &Brine) -> Result<Draw, chemistry::Error> {
    let [_, liquid, _] = act.liquid(brine)?;
    let [_, salt, _] = act.salt();
    let none = cubic_metres(0.0);
    let is_salt_brine = act.liquid_class() != Some(road::rates::LiquidClass::MagnesiumOrCalcium);
    let volume = liquid.on(lanes);
    Ok(Draw {
        at: act.at,
        route,
        purpose: match act.purpose {
            Purpose::Pretreat => crate::demand::Purpose::AntiIcing,
            Purpose::First => crate::demand::Purpose::FirstPass,
            _ => crate::demand::Purpose::LaterPass,
        },
        brine: Spread::all(if is_salt_brine { volume } else { none }),
        other: Spread::all(if is_salt_brine { none } else { volume }),
        salt: Spread::all(salt.on(lanes)),
    })
}
