//! Everything but the tanks.

use super::known::{Known, SUPPLIED_PRODUCT, each, strength};
use super::roads;
use crate::yard_file::reader::{Context, Section, closest, complaint};
use crate::yard_file::units::{figure, rate};
use crate::{
    CoverFor, Crew, LiquidBase, Loading, PinHolds, Plant, Policy, Product, ProductKind, PutRight, Route,
    Salt, Signing, Truck, UnitSystem,
};
use message::message;
use quantity::{
    FEET_PER_MILE, Length, celsius, cubic_metres, hours, in_feet, in_metres, kelvins, kg_per_m3, kilograms,
    metres, metres_per_second,
};

/// How far a given lane length may be from length times lanes.
const LANE_AGREEMENT: f64 = 0.10;

/// The `[yard]` table.
pub(super) struct Place {
    pub name: String,
    pub time_zone: String,
    pub units: UnitSystem,
    pub weather_station: Option<String>,
    pub elevation: Length,
    pub sun: Option<road::sky::Place>,
}

pub(super) fn place(context: &mut Context<'_>, section: &Section<'_>) -> Option<Place> {
    let name = section.text(context, "name");
    let time_zone = time_zone(context, section);
    let units = section.text(context, "units");
    let weather_station = section.text(context, "weather_station");
    let elevation = section.number(context, "elevation");
    let sun = roads::sun(context, section);
    Some(Place {
        name: name?,
        time_zone: time_zone?,
        units: if units? == "si" { UnitSystem::Si } else { UnitSystem::Us },
        weather_station,
        elevation: metres(elevation?),
        sun,
    })
}

fn time_zone(context: &mut Context<'_>, section: &Section<'_>) -> Option<String> {
    let name = section.text(context, "time_zone")?;
    if jiff::tz::TimeZone::get(&name).is_ok() {
        return Some(name);
    }
    let known: Vec<String> = jiff::tz::db().available().map(|zone| zone.to_string()).collect();
    let wrong = complaint("site.file.time_zone")
        .accepted("site.accepted.time_zone")
        .suggest(closest(&name, known.iter().map(String::as_str)));
    section.blame(context, "time_zone", wrong);
    None
}

pub(super) fn products(
    context: &mut Context<'_>,
    sections: &[Section<'_>],
    known: &mut Known,
) -> Vec<Product> {
    if sections.is_empty() {
        let (id, name) = SUPPLIED_PRODUCT;
        known.of_each.push(Some(id.to_owned()));
        let kind = ProductKind::SodiumChlorideBrine;
        return vec![Product { id: id.to_owned(), name: name.to_owned(), kind, usd_per_m3: 0.0 }];
    }
    each(context, sections, known, product)
}

fn product(context: &mut Context<'_>, section: &Section<'_>, id: String) -> Option<Product> {
    let name = section.text(context, "name").unwrap_or_else(|| id.clone());
    let usd_per_m3 = section.number(context, "usd_per");
    let figures = ["density", "density_temp", "chloride_pct", "source"];
    let kind = match section.text(context, "kind").as_deref() {
        Some("brine") => {
            for stem in figures.into_iter().chain(["base"]).filter(|stem| section.has(stem)) {
                let why = complaint("site.file.declared_only");
                section.blame(context, stem, why);
            }
            Some(ProductKind::SodiumChlorideBrine)
        }
        Some(_) => {
            for stem in figures.into_iter().filter(|stem| *stem != "density_temp" && !section.has(stem)) {
                section.missing(context, stem, "site.why.declared");
            }
            declared(context, section)
        }
        None => None,
    };
    Some(Product { id, name, kind: kind?, usd_per_m3: usd_per_m3? })
}

fn declared(context: &mut Context<'_>, section: &Section<'_>) -> Option<ProductKind> {
    let density = section.number(context, "density");
    let temperature = section.number(context, "density_temp");
    let chloride = section.number(context, "chloride_pct");
    let source = section.text(context, "source");
    let base = match section.text(context, "base").as_deref() {
        Some("magnesium") => LiquidBase::Magnesium,
        Some("calcium") => LiquidBase::Calcium,
        _ => LiquidBase::Other,
    };
    Some(ProductKind::Declared {
        base,
        density: kg_per_m3(density?),
        density_temperature: celsius(temperature?),
        chloride: strength(chloride)?,
        source: source?,
        // Its rows stand in a table of their own.
        freezing: Vec::new(),
    })
}

/// Which products are brine, by place in the file: `None` where the kind cannot be read. Problems with the kind are
/// reported by [`product`].
pub(super) fn brines(sections: &[Section<'_>], known: &Known) -> Vec<(String, Option<bool>)> {
    if sections.is_empty() {
        return vec![(SUPPLIED_PRODUCT.0.to_owned(), Some(true))];
    }
    let mut quiet = Context::new("", "");
    sections
        .iter()
        .zip(&known.of_each)
        .map(|(section, id)| {
            let kind = section.text(&mut quiet, "kind");
            (id.clone().unwrap_or_default(), kind.map(|kind| kind == "brine"))
        })
        .collect()
}

pub(super) fn at_least_one_brine(
    context: &mut Context<'_>,
    sections: &[Section<'_>],
    brines: &[(String, Option<bool>)],
) {
    if let (Some(first), true) = (sections.first(), brines.iter().all(|(_, brine)| *brine == Some(false))) {
        first.blame(context, "kind", complaint("site.file.no_brine"));
    }
}

pub(super) fn plant(
    context: &mut Context<'_>,
    section: &Section<'_>,
    known: &Known,
    brines: &[(String, Option<bool>)],
) -> Option<Plant> {
    let making_rate = section.number(context, "making_rate");
    let rated = section.number(context, "rated_water_temp");
    let loss = section.number(context, "rate_loss_pct_per");
    let water = if section.has("water_temp") { section.number(context, "water_temp") } else { rated };
    let water_rate = section.number(context, "water_rate");
    let start_up = section.number(context, "start_up");
    let settle_and_test = section.number(context, "settle_and_test");
    let target = section.number(context, "target_strength_pct");
    let low = section.number(context, "spec_low_pct");
    let high = section.number(context, "spec_high_pct");
    let price = section.number(context, "water_usd_per");
    if let (Some(low), Some(target), Some(high)) = (low, target, high) {
        spec_order(context, section, low, target, high);
    }
    if let (Some(loss), Some(rated), Some(water)) = (loss, rated, water)
        && loss * (rated - water) >= 100.0
    {
        section.blame(context, "rate_loss_pct_per", complaint("site.file.no_rate_left"));
    }
    let product = plant_product(context, section, known, brines);
    Some(Plant {
        product: product?,
        making_rate: rate(making_rate?),
        rated_water_temperature: celsius(rated?),
        rate_loss_per_kelvin: loss? / 100.0,
        water_temperature: celsius(water?),
        water_rate: rate(water_rate?),
        start_up: hours(start_up?),
        settle_and_test: hours(settle_and_test?),
        target_strength: strength(target)?,
        spec_low: strength(low)?,
        spec_high: strength(high)?,
        water_usd_per_m3: price?,
    })
}

pub(super) fn spec_order(context: &mut Context<'_>, section: &Section<'_>, low: f64, target: f64, high: f64) {
    for (bound, value, wrong, id) in [
        ("spec_low_pct", low, low >= target, "site.file.target_above"),
        ("spec_high_pct", high, high <= target, "site.file.target_below"),
    ] {
        if wrong {
            let what = message!(id, target = figure(target), bound = figure(value));
            let stem = if section.has(bound) { bound } else { "target_strength_pct" };
            section.blame(context, stem, complaint(what));
        }
    }
}

fn plant_product(
    context: &mut Context<'_>,
    section: &Section<'_>,
    known: &Known,
    brines: &[(String, Option<bool>)],
) -> Option<String> {
    if !section.has("product") {
        return brines.iter().find(|(_, brine)| *brine == Some(true)).map(|(id, _)| id.clone());
    }
    let id = section.text(context, "product")?;
    if known.check(context, section, "product", "product", &id)
        && brines.iter().any(|(other, brine)| *other == id && *brine == Some(false))
    {
        section.blame(context, "product", complaint("site.file.not_brine"));
        return None;
    }
    Some(id)
}

pub(super) fn salt(context: &mut Context<'_>, section: &Section<'_>) -> Option<Salt> {
    let purity = section.number(context, "purity_pct");
    let moisture = section.number(context, "moisture_pct");
    let on_hand = section.number(context, "on_hand");
    let price = section.number(context, "usd_per");
    Some(Salt {
        purity: strength(purity)?,
        moisture: strength(moisture)?,
        opening: kilograms(on_hand?),
        usd_per_short_ton: price?,
    })
}

pub(super) fn route(
    context: &mut Context<'_>,
    section: &Section<'_>,
    id: String,
    (classes, trucks, watersheds): (&Known, &Known, &Known),
) -> Option<Route> {
    let name = section.text(context, "name").unwrap_or_else(|| id.clone());
    let class = section.text(context, "class");
    if let Some(class) = &class {
        classes.check(context, section, "class", "route_class", class);
    }
    let truck = section.text(context, "truck");
    if let Some(truck) = &truck {
        trucks.check(context, section, "truck", "truck", truck);
    }
    let watershed = section.text(context, "watershed");
    if let Some(watershed) = &watershed {
        watersheds.check(context, section, "watershed", "watershed", watershed);
    }
    let drive = section.number(context, "drive");
    let length = section.number(context, "length");
    let lanes = section.number(context, "lanes");
    let lane = section.number(context, "lane");
    let (lanes, lane) = match (length, lanes, lane) {
        (Some(length), Some(lanes), Some(lane)) => {
            if (lane - length * lanes).abs() > LANE_AGREEMENT * length * lanes {
                let product = metres(length * lanes);
                let what = message!(
                    "site.file.lane_length",
                    percent = (100.0 * LANE_AGREEMENT, 0),
                    miles = figure(in_feet(product) / FEET_PER_MILE),
                    km = figure(in_metres(product) / 1000.0)
                );
                section.blame(context, "lane", complaint(what));
            }
            (lanes, lane)
        }
        (Some(length), Some(lanes), None) if !section.has("lane") => (lanes, length * lanes),
        (Some(length), None, Some(lane)) if !section.has("lanes") => (lane / length, lane),
        _ => {
            if !section.has("lanes") && !section.has("lane") {
                section.missing(context, "lanes", "site.why.lane_length");
            }
            return None;
        }
    };
    Some(Route {
        id,
        name,
        class: class?,
        length: metres(length?),
        lanes,
        lane_length: metres(lane),
        truck,
        drive: hours(drive?),
        watershed,
    })
}

pub(super) fn truck(context: &mut Context<'_>, section: &Section<'_>, id: String) -> Option<Truck> {
    let tank = section.number(context, "tank").map(cubic_metres);
    let limit = section.number(context, "liquid_limit").map(kilograms);
    let speed = section.number(context, "spray_speed");
    if let (Some(tank), Some(limit)) = (tank, limit) {
        // Far below what any truck is fitted out for: a slip in one of the two.
        let share = limit / (tank * kg_per_m3(1000.0));
        if f64::from(share) < 0.25 {
            let what = message!("site.file.liquid_limit", tank = tank);
            section.blame(context, "liquid_limit", complaint(what));
        }
    }
    let pump_rate = section.number(context, "pump").map(rate);
    let gross_limit = section.number(context, "gross_limit").map(kilograms);
    let liquid_at = section.number(context, "liquid_at").map(metres);
    let hopper_at = section.number(context, "hopper_at").map(metres).or(liquid_at);
    Some(Truck {
        id,
        tank: tank?,
        liquid_limit: limit,
        spray_speed: metres_per_second(speed?),
        pump_rate,
        gross_limit,
        liquid_at,
        hopper_at,
        // They stand in a table of their own.
        axles: Vec::new(),
    })
}

pub(super) fn loading(context: &mut Context<'_>, section: &Section<'_>) -> Option<Loading> {
    let pump_rate = section.number(context, "pump_rate");
    let places = section.number(context, "places");
    let hook_up = section.number(context, "hook_up");
    // A whole number 1…20 by its range.
    let places = places? as usize;
    Some(Loading { pump_rate: rate(pump_rate?), places, hook_up: hours(hook_up?) })
}

pub(super) fn crew(context: &mut Context<'_>, section: &Section<'_>) -> Option<Crew> {
    let making = section.hours(context, "making_hours");
    let spraying = section.hours(context, "spraying_hours");
    let ((making_from_hour, making_to_hour), (spraying_from_hour, spraying_to_hour)) = (making?, spraying?);
    Some(Crew { making_from_hour, making_to_hour, spraying_from_hour, spraying_to_hour })
}

pub(super) fn policy(context: &mut Context<'_>, section: &Section<'_>) -> Option<Policy> {
    let lead_min = section.number(context, "lead_min");
    let lead_max = section.number(context, "lead_max");
    in_order(context, section, ("lead_min", lead_min), ("lead_max", lead_max));
    let waste_share = section.number(context, "waste_share");
    let cover_for = section.text(context, "cover_for");
    let block = section.number(context, "block_below");
    let warn = section.number(context, "warn_below");
    in_order(context, section, ("block_below", block), ("warn_below", warn));
    let wind = section.number(context, "warn_wind");
    let colder = section.number(context, "pavement_colder");
    let warmer = section.number(context, "pavement_warmer");
    let rush = [section.hours(context, "rush_morning"), section.hours(context, "rush_evening")];
    let rates_on = section.names(context, "rates_on");
    let rates_off = section.names(context, "rates_off");
    if let (Some(on), Some(off)) = (&rates_on, &rates_off)
        && let Some(both) = on.iter().find(|id| off.contains(id))
    {
        section.blame(context, "rates_off", complaint(message!("site.file.rate_on_and_off", rate = both)));
    }
    Some(Policy {
        lead_min: hours(lead_min?),
        lead_max: hours(lead_max?),
        waste_share: waste_share?,
        cover_for: if cover_for? == "mid" { CoverFor::Mid } else { CoverFor::High },
        block_below: celsius(block?),
        warn_below: celsius(warn?),
        warn_wind: metres_per_second(wind?),
        pavement_colder: kelvins(colder?),
        pavement_warmer: kelvins(warmer?),
        rush: [rush[0]?, rush[1]?],
        rates_on: rates_on?,
        rates_off: rates_off?,
    })
}

pub(super) fn put_right(context: &mut Context<'_>, section: &Section<'_>) -> Option<PutRight> {
    let bucket = section.number(context, "bucket").map(kilograms);
    let circulation_rate = section.number(context, "circulation").map(rate);
    let turnovers = section.number(context, "turnovers");
    let transfer_rate = section.number(context, "transfer").map(rate);
    Some(PutRight { bucket, circulation_rate, turnovers: turnovers?, transfer_rate })
}

/// How people sign.
pub(super) fn signing(context: &mut Context<'_>, section: &Section<'_>) -> Option<Signing> {
    let pin = match section.text(context, "pin")?.as_str() {
        "entry" => PinHolds::Entry,
        "run" => PinHolds::Run,
        _ => PinHolds::Shift,
    };
    let shift = section.number(context, "shift").map(hours);
    Some(Signing { pin, shift: shift? })
}

/// Two values of which the first may not be above the second, defaults included.
fn in_order(
    context: &mut Context<'_>,
    section: &Section<'_>,
    (small, low): (&str, Option<f64>),
    (large, high): (&str, Option<f64>),
) {
    if let (Some(low), Some(high)) = (low, high)
        && low > high + 1e-9
    {
        let (stem, what) = if section.has(small) {
            (small, message!("site.file.not_above", other = large))
        } else {
            (large, message!("site.file.not_below", other = small))
        };
        section.blame(context, stem, complaint(what));
    }
}
