//! What the demo's crew does day by day: making and loading, and the nights of storms.

use super::writing::*;
use event::{
    Application, Body, Dip, HowFound, LoadOut, MeterReading, ReturnToTank, SaltDelivery, Storm, Treated,
};
use jiff::SignedDuration;
use site::Yard;

/// Full enough, gal: below it a run is made.
pub(super) const FULL_ENOUGH: [f64; 2] = [5200.0, 2900.0];

/// A day in the yard: dips every other day, meters every week, brine made where a tank runs down, salt every third
/// week.
pub(super) fn ordinary_day(season: &mut Season, day: usize) {
    let at = day as f64 * 24.0;
    for (_, tank, gallons) in ODD_JOBS.iter().filter(|(on, ..)| *on == day) {
        season.held[*tank] += gallons;
    }
    match day {
        44 => season.loaded_total += 150.0 * GALLON,
        67 => season.water_total += 400.0 * GALLON * 1176.0 * 0.767 / 999.0,
        _ => {}
    }
    if day.is_multiple_of(2) {
        for (place, tank) in ["1", "2", "3"].into_iter().enumerate() {
            if let Some(depth_m) = depth(tank, season.held[place], 2.0) {
                let depth_m = ((depth_m + 0.008 * (season.vary() - 0.5)) * 100.0).round() / 100.0;
                season.add(at + 1.0, "Pat", Body::Dip(Dip { tank: tank.into(), depth_m, temp_c: Some(2.0) }));
            }
        }
    }
    if day.is_multiple_of(7) {
        for (meter, total_m3) in [("loading", season.loaded_total), ("water main", season.water_total)] {
            let total_m3 = (total_m3 * 1000.0).round() / 1000.0;
            season.add(at + 1.2, "Ines", Body::MeterReading(MeterReading { meter: meter.into(), total_m3 }));
        }
    }
    let is_last = day == DAYS - 2;
    for (place, tank) in ["1", "2"].into_iter().enumerate() {
        let (more, off) = (season.vary(), season.vary());
        // The last runs end where the demo begins.
        let ends = is_last || (place == 1 && 70 < day);
        let wanted = if ends { [4300.0, 1450.0][place] - season.held[place] } else { 800.0 + 500.0 * more };
        // Toward the demo's present no more is made than it begins with.
        let full = if day < 60 { FULL_ENOUGH[place] } else { 0.72 * FULL_ENOUGH[place] };
        let is_low = season.held[place] < full && day % 3 == place;
        if wanted < 60.0 || !(is_last || (is_low && day < DAYS - 6)) {
            continue;
        }
        let strength = 23.0 + 0.6 * off;
        let gallons = wanted.round();
        season.add(at + 2.0 + place as f64, "Pat", run(tank, gallons, strength));
        season.held[place] += gallons;
        season.water_total += gallons * GALLON * 1176.0 * (1.0 - strength / 100.0) / 999.0;
        season.add(at + 3.5 + place as f64, "Pat", reading(tank, strength - 0.1 + 0.2 * more));
    }
    if day % 21 == 2 {
        let tons = 24.0 + 2.0 * season.vary();
        let moisture = [1.5, 1.8, 1.4, 2.1][(day / 21) % 4];
        season.add(
            at + 5.0,
            "Lou",
            Body::SaltDelivery(SaltDelivery {
                mass_kg: (tons * 100.0).round() / 100.0 * TON,
                ticket: Some(format!("S-{day:03}")),
                moisture_pct: Some(moisture),
                price_usd: Some((tons * 71.5 * 100.0).round() / 100.0),
                supplier: Some("the salt dock".into()),
                order: Some("winter 2012/13".into()),
                samples_number: Some(if day == 2 { 1.0 } else { 0.0 }),
            }),
        );
    }
}

/// A night with spraying ahead: every sprayed route loaded, some brought back, salt spread after.
pub(super) fn storm_night(season: &mut Season, yard: &Yard, at: f64, share: f64, name: Option<&str>) {
    if let Some(name) = name {
        let until = season.start + SignedDuration::from_secs(((at + 14.0) * 3600.0) as i64);
        season.add(at - 1.0, "Ines", Body::Storm(Storm { name: name.into(), until: until.to_string() }));
    }
    for (place, route) in yard.routes.iter().enumerate() {
        let truck = route.truck.clone().unwrap_or_else(|| "T1".into());
        let lane_m = quantity::in_metres(route.lane_length);
        let lane_miles = lane_m / 1609.344;
        let hour = at + place as f64 * 0.4;
        if route.class != "C" {
            spray(season, (&route.id, &truck), (hour, lane_miles * 20.0 * share), (place, lane_m * share));
        }
        let application = Application {
            route: route.id.clone(),
            truck: Some(truck),
            salt_kg: Some(lane_miles * 250.0 * share * 0.453_592_37),
            planned_salt_kg: Some(lane_miles * 250.0 * share * 0.453_592_37),
            reason: Some("follow-up".into()),
            treated: Some(Treated::Dry),
            lane_m: Some(lane_m * share),
            duration_h: Some(0.5 + lane_miles * share / 14.0),
            pavement_c: Some(-4.0),
            ..Application::default()
        };
        season.add(hour + 5.0, "Lou", Body::Application(application));
    }
}

/// A load, what came back of it, and what was put down.
pub(super) fn spray(
    season: &mut Season,
    (route, truck): (&str, &str),
    (hour, planned): (f64, f64),
    (place, lane_m): (usize, f64),
) {
    let side = place % 2;
    let tank = ["1", "2"][side];
    let is_short = season.held[side] < planned * 1.3;
    let shown = (if is_short { 0.6 * planned } else { planned }).round();
    let truth = shown * (1.0 + METER_OFF) * (1.0 + 0.004 * (season.vary() - 0.5));
    season.held[side] -= truth;
    season.loaded_total += shown * GALLON;
    // Truck T1 drives over the scale on its way.
    let weighed = truck == "T1" && place == 0;
    let load = LoadOut {
        tank: tank.into(),
        truck: truck.into(),
        route: Some(route.into()),
        volume_m3: shown * GALLON,
        temp_c: Some(2.0),
        how: Some(HowFound::Meter),
        metered_m3: weighed.then_some(shown * GALLON),
        weighed_kg: weighed.then(|| (truth * GALLON * 1180.5 / 5.0).round() * 5.0),
        planned_m3: Some(planned * GALLON),
        override_reason: (place == 3 && hour > 1300.0 && hour < 1500.0)
            .then(|| "no time to read it: ice on the bridge".into()),
        ..LoadOut::default()
    };
    let id = season.add(hour, "Pat", Body::LoadOut(load));
    let back = if season.vary() > 0.6 { (shown * 0.1).round() } else { 0.0 };
    if back > 0.0 {
        season.held[side] += back;
        let back = ReturnToTank {
            tank: tank.into(),
            truck: truck.into(),
            volume_m3: back * GALLON,
            temp_c: Some(1.0),
            how: Some(HowFound::Marks),
            load: Some(id.to_string()),
            ..ReturnToTank::default()
        };
        season.add(hour + 2.0, "Pat", Body::ReturnToTank(back));
    }
    let application = Application {
        route: route.into(),
        truck: Some(truck.into()),
        volume_m3: Some((shown - back) * GALLON),
        reason: Some("ahead of the storm".into()),
        treated: Some(Treated::Liquid),
        lane_m: Some(lane_m),
        duration_h: Some(0.6 + lane_m / 1609.344 / 25.0),
        pavement_c: Some(-1.0),
        ..Application::default()
    };
    season.add(hour + 1.8, "Pat", Body::Application(application));
}

/// What the odd jobs truly move: the day before which they happened, the tank from 0, gal.
pub(super) const ODD_JOBS: [(usize, usize, f64); 7] = [
    (15, 0, 300.0),
    (15, 2, -300.0),
    (17, 2, 40.0),
    (44, 0, -150.0 * (1.0 + METER_OFF)),
    (45, 1, -12.0),
    (60, 1, -25.0),
    (67, 0, 400.0),
];
