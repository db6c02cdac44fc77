//! Tanks: shape, what cannot be used of it, and what stands in it.

use super::known::{Known, each, strength};
use crate::strapping::{End, TankShape};
use crate::yard_file::reader::{Context, Section, complaint};
use crate::{Insulation, Opening, Plant, Tank};
use message::{Tell, message};
use quantity::LITRES_PER_GALLON;
use quantity::{Volume, cubic_metres, in_cubic_metres, metres};

/// How close a ratio of volumes must be to litres per gallon to be taken for a mix-up.
const MIX_UP: f64 = 0.12;
/// How far a nameplate may be from the measures.
const NAMEPLATE: f64 = 0.25;

pub(super) fn tanks(
    context: &mut Context<'_>,
    sections: &[Section<'_>],
    ids: &Known,
    products: &Known,
    brines: &[(String, Option<bool>)],
    plant: Option<&Plant>,
) -> Vec<Tank> {
    each(context, sections, ids, |context, section, id| tank(context, section, id, products, brines, plant))
}

fn tank(
    context: &mut Context<'_>,
    section: &Section<'_>,
    id: String,
    products: &Known,
    brines: &[(String, Option<bool>)],
    plant: Option<&Plant>,
) -> Option<Tank> {
    let product = if section.has("product") {
        let given = section.text(context, "product");
        given.filter(|id| products.check(context, section, "product", "product", id))
    } else {
        plant.map(|plant| plant.product.clone())
    };
    let brine = product
        .as_ref()
        .and_then(|product| brines.iter().find(|(other, _)| other == product))
        .and_then(|(_, brine)| *brine);
    let shape = shape(context, section);
    let insulation = section.text(context, "insulation");
    let is_retired = section.has("retired") && section.switch(context, "retired") == Some(true);
    let heel = section.number(context, "heel").map(cubic_metres);
    let freeboard = freeboard(context, section, shape.as_ref());
    let opening = opening(context, section, brine, plant);
    let nameplate = section.number(context, "nameplate").map(cubic_metres);
    if let Some(shape) = &shape {
        if let Some(nameplate) = nameplate {
            check_nameplate(context, section, nameplate, shape.full_volume());
        }
        if let (Some(heel), Some(freeboard)) = (heel, freeboard) {
            check_room(context, section, shape.full_volume(), heel, freeboard, opening);
        }
    }
    Some(Tank {
        id,
        product: product?,
        shape: shape?,
        insulation: match insulation?.as_str() {
            "insulated" => Insulation::Insulated,
            "indoors" => Insulation::Indoors,
            _ => Insulation::None,
        },
        heel: heel?,
        is_retired,
        freeboard: freeboard?,
        opening,
    })
}

fn shape(context: &mut Context<'_>, section: &Section<'_>) -> Option<TankShape> {
    let orientation = section.text(context, "orientation");
    let diameter = section.number(context, "diameter");
    let straight = section.number(context, "straight_length");
    let upright = orientation.as_deref() != Some("horizontal");
    let (used, unused) = if upright { ("bottom", "ends") } else { ("ends", "bottom") };
    if orientation.is_some() && section.has(unused) {
        let id = if upright { "site.tank.ends_of_vertical" } else { "site.tank.bottom_of_horizontal" };
        section.blame(context, unused, complaint(message!(id, use_key = used)));
    }
    let end = end(context, section, used, orientation.is_some());
    let (diameter, straight, end) = (metres(diameter?), metres(straight?), end?);
    orientation?;
    let shape = if upright {
        TankShape::vertical(diameter, straight, end)
    } else {
        TankShape::horizontal(diameter, straight, end, end)
    };
    match shape {
        Ok(shape) => Some(shape),
        Err(error) => {
            section.blame(context, "diameter", complaint(error.message()));
            None
        }
    }
}

fn end(context: &mut Context<'_>, section: &Section<'_>, stem: &str, certain: bool) -> Option<End> {
    let depth = section.number(context, "end_depth");
    let crown_ratio = section.number(context, "crown_ratio");
    let knuckle_ratio = section.number(context, "knuckle_ratio");
    let name = section.text(context, stem);
    if !certain {
        return None;
    }
    let name = name?;
    let deep = matches!(name.as_str(), "elliptical" | "conical");
    let dished = name == "torispherical";
    if section.has("end_depth") && !deep {
        let what = message!("site.tank.depth_of_deep_ends", ends = &name);
        section.blame(context, "end_depth", complaint(what));
    }
    for ratio in ["crown_ratio", "knuckle_ratio"] {
        if section.has(ratio) && !dished {
            let what = message!("site.tank.ratio_of_dished_ends", ends = &name);
            section.blame(context, ratio, complaint(what));
        }
    }
    if deep && !section.has("end_depth") {
        section.missing(context, "end_depth", "site.why.deep_ends");
    }
    match name.as_str() {
        "flat" => Some(End::Flat),
        "hemispherical" => Some(End::Hemispherical),
        "elliptical" => Some(End::Elliptical { depth: metres(depth?) }),
        "conical" => Some(End::Conical { depth: metres(depth?) }),
        _ => Some(End::Torispherical { crown_ratio: crown_ratio?, knuckle_ratio: knuckle_ratio? }),
    }
}

fn freeboard(context: &mut Context<'_>, section: &Section<'_>, shape: Option<&TankShape>) -> Option<Volume> {
    let share = section.number(context, "freeboard_pct");
    let volume = section.number(context, "freeboard").map(cubic_metres);
    if !section.has("freeboard") {
        return Some(shape?.full_volume() * (share? / 100.0));
    }
    if section.has("freeboard_pct") {
        section.blame(context, "freeboard_pct", complaint("site.tank.freeboard_twice"));
        return None;
    }
    volume
}

fn opening(
    context: &mut Context<'_>,
    section: &Section<'_>,
    brine: Option<bool>,
    plant: Option<&Plant>,
) -> Option<Opening> {
    let volume = section.number(context, "opening").map(cubic_metres);
    let given = section.number(context, "opening_strength_pct");
    if section.has("opening_strength_pct") {
        if brine == Some(false) {
            section.blame(context, "opening_strength_pct", complaint("site.tank.strength_of_declared"));
        } else if !section.has("opening") {
            section.missing(context, "opening", "site.why.opening");
        }
    }
    let strength = match brine {
        Some(true) => strength(given).or(plant.map(|plant| plant.target_strength)),
        _ => None,
    };
    volume.map(|volume| Opening { volume, strength })
}

/// Compares the plate with the measures; a factor of 3.785 is one unit written as the other.
fn check_nameplate(context: &mut Context<'_>, section: &Section<'_>, plate: Volume, full: Volume) {
    let ratio = in_cubic_metres(plate) / in_cubic_metres(full);
    let near = |factor: f64| (ratio / factor - 1.0).abs() <= MIX_UP;
    let unit = section.suffix("nameplate");
    let guess = if near(LITRES_PER_GALLON) {
        match unit {
            "gal" => "site.tank.plate.litres",
            _ => "site.tank.plate.mixed_up",
        }
    } else if near(1.0 / LITRES_PER_GALLON) {
        match unit {
            "l" => "site.tank.plate.gallons",
            _ => "site.tank.plate.twice",
        }
    } else if (ratio - 1.0).abs() > NAMEPLATE {
        "site.tank.plate.far"
    } else {
        return;
    };
    let what = message!(
        "site.tank.plate",
        guess = message!(guess, percent = (100.0 * NAMEPLATE, 0)),
        plate = plate,
        full = full
    );
    section.blame(context, "nameplate", complaint(what));
}

fn check_room(
    context: &mut Context<'_>,
    section: &Section<'_>,
    full: Volume,
    heel: Volume,
    freeboard: Volume,
    opening: Option<Opening>,
) {
    if heel + freeboard >= full {
        let stem = ["heel", "freeboard", "freeboard_pct"].into_iter().find(|stem| section.has(stem));
        let what = message!("site.tank.no_room", heel = heel, freeboard = freeboard, full = full);
        section.blame(context, stem.unwrap_or("heel"), complaint(what));
    } else if let Some(opening) = opening
        && opening.volume > (full - freeboard) * (1.0 + 1e-9)
    {
        let accepted = message!("site.tank.room", most = full - freeboard);
        section.blame(context, "opening", complaint("site.tank.opening_too_large").accepted(accepted));
    }
}

/// A plant needs somewhere to put what it makes.
pub(super) fn one_holds_what_is_made(
    context: &mut Context<'_>,
    section: &Section<'_>,
    plant: &Plant,
    tanks: &[Tank],
) {
    if !tanks.is_empty() && tanks.iter().all(|tank| tank.product != plant.product) {
        let what = message!("site.tank.none_for_product", product = &plant.product);
        section.blame(context, "product", complaint(what));
    }
}
