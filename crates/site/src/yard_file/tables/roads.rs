//! Roads as physics sees them: classes of route and segments.

use super::known::Known;
use crate::yard_file::reader::{Context, Section as Table, complaint};
use crate::{RouteClass, Segment};
use quantity::hours;
use road::section::{Horizon, Section, Traffic};
use road::sky::Place;

/// Share of the sky that an ordinary road sees: trees and cuts at its sides hide the rest. Judgement.
const USUAL_SKY_VIEW: f64 = 0.95;

/// Where the sun is taken from: both figures or none.
pub(super) fn sun(context: &mut Context<'_>, table: &Table<'_>) -> Option<Place> {
    let latitude = table.number(context, "latitude_deg");
    let longitude = table.number(context, "longitude_deg");
    let one_alone = match (table.has("latitude_deg"), table.has("longitude_deg")) {
        (true, false) => Some("longitude_deg"),
        (false, true) => Some("latitude_deg"),
        _ => None,
    };
    if let Some(other) = one_alone {
        table.missing(context, other, "site.why.place");
    }
    Some(Place { latitude: latitude?, longitude: longitude? })
}

pub(super) fn class(context: &mut Context<'_>, table: &Table<'_>, id: String) -> Option<RouteClass> {
    let anti_icing = table.switch(context, "anti_icing");
    let cycle = table.number(context, "cycle");
    let has_bridges = !table.has("bridges") || table.switch(context, "bridges")?;
    let section = section(context, table, false);
    Some(RouteClass { id, anti_icing: anti_icing?, cycle: hours(cycle?), section: section?, has_bridges })
}

pub(super) fn segment(
    context: &mut Context<'_>,
    table: &Table<'_>,
    id: String,
    routes: &Known,
) -> Option<Segment> {
    let name = table.text(context, "name").unwrap_or_else(|| id.clone());
    let route = table.text(context, "route");
    if let Some(route) = &route {
        routes.check(context, table, "route", "route", route);
    }
    let is_bridge = table.text(context, "kind")? == "bridge";
    let mut section = section(context, table, is_bridge)?;
    let given = ["street_axis_deg", "wall_left", "wall_right", "wall_gap"];
    let mut walls = given.map(|key| table.number(context, key));
    if given.iter().any(|key| table.has(key)) {
        for (key, value) in given.iter().zip(&mut walls) {
            if !table.has(key) {
                table.missing(context, key, "site.why.walls");
                *value = None;
            }
        }
        let [axis, left, right, gap] = walls;
        let road = table.number(context, "road_width")?;
        if gap.is_some_and(|gap| road > gap) {
            table.blame(context, "road_width", complaint("site.file.wider_than_gap"));
            return None;
        }
        let horizon = Horizon::Street { axis: axis?, heights: [left?, right?], width: gap?, road };
        section = section.in_street(horizon, 0.0, 1.0);
    }
    section.wall_excess = table.number(context, "wall_warmer")?;
    section.wind_share = table.number(context, "wind_share")?;
    Some(Segment { id, name, route: route?, is_bridge, section })
}

/// The keys that a class and a segment share.
fn section(context: &mut Context<'_>, table: &Table<'_>, is_bridge: bool) -> Option<Section> {
    let surface = table.text(context, "surface");
    let sky_view = table.number(context, "sky_view");
    let shade = table.number(context, "shade_deg");
    let wet_base = table.number(context, "wet_base_pct");
    let vehicles = table.number(context, "vehicles_per_h");
    let heavy = table.number(context, "heavy_pct");
    let speed = table.number(context, "traffic_speed");
    let material = match surface?.as_str() {
        _ if is_bridge => Section::DECK,
        "concrete" => Section::CONCRETE,
        _ => Section::ASPHALT,
    };
    let shaded = match shade {
        Some(elevation) => material.shaded(elevation),
        None => Section { sky_view: USUAL_SKY_VIEW, ..material },
    };
    let heavy = vehicles? * heavy? / 100.0;
    Some(Section {
        sky_view: sky_view.unwrap_or(shaded.sky_view),
        base_water: if is_bridge { 0.0 } else { wet_base? / 100.0 },
        // Read in m/s.
        traffic: Traffic { light: vehicles? - heavy, heavy, speed: 3.6 * speed? },
        ..shaded
    })
}
