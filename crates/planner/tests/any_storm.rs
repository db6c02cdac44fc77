//! Plans for any weather: whatever the forecast, a plan is consistent with itself and with plain accounting. The
//! weather is invented; the hand sheet compares the planner with an independent calculation.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use jiff::{SignedDuration, Timestamp};
use planner::treatment::Spread;
use planner::{Plan, PlanRequest, Shortage, plan};
use proptest::prelude::*;
use quantity::{in_cubic_metres, in_gallons, in_kilograms};
use road::RateTable;
use site::Yard;
use yard::stock::Books;

fn yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../examples/alder_fork.toml"), "alder_fork.toml").unwrap()
}

/// One hour: air °C, relative humidity %, wind m/s, precipitation mm.
type HourOf = (f64, f64, f64, f64);

fn forecast(hours: &[HourOf]) -> weather::WeatherFile {
    let start: Timestamp = "2026-01-14T00:00:00Z".parse().unwrap();
    let mut text = String::from("# times are the START of the hour\n");
    text.push_str("time_utc,air_temp_c,rel_humidity_pct,wind_speed_m_s,precip_mm\n");
    for (n, (air, humidity, wind, water)) in hours.iter().enumerate() {
        let at = start + SignedDuration::from_hours(n as i64);
        text.push_str(&format!("{at},{air:.1},{humidity:.0},{wind:.1},{water:.2}\n"));
    }
    weather::read(&text, &weather::ReadOptions::default()).unwrap()
}

fn weather_of() -> impl Strategy<Value = Vec<HourOf>> {
    // A smooth temperature with spells of precipitation.
    let spells = proptest::collection::vec((0usize..72, 1usize..20, 0.1..3.0f64), 0..4);
    (-15.0..6.0f64, -0.4..0.4f64, 50.0..100.0f64, 0.0..12.0f64, spells).prop_map(
        |(air, slope, humidity, wind, spells)| {
            (0..72)
                .map(|n| {
                    let water: f64 = spells
                        .iter()
                        .filter(|(at, long, _)| *at <= n && n < at + long)
                        .map(|(_, _, mm)| mm)
                        .sum();
                    (air + slope * n as f64, humidity, wind, water)
                })
                .collect()
        },
    )
}

fn low_to_high<T: PartialOrd + std::fmt::Debug>(spread: &Spread<T>) -> Result<(), TestCaseError> {
    prop_assert!(spread.low <= spread.mid && spread.mid <= spread.high, "{spread:?}");
    Ok(())
}

fn keeps_its_promises(plan: &Plan, yard: &Yard, books: &Books) -> Result<(), TestCaseError> {
    low_to_high(&plan.brine)?;
    low_to_high(&plan.other)?;
    low_to_high(&plan.salt)?;
    plan.routes.iter().try_for_each(|need| low_to_high(&need.brine))?;
    for balance in [plan.balance.volume, plan.balance.salt, plan.balance.water] {
        prop_assert!(balance <= 1e-9);
    }
    for values in [&plan.brine_band.low, &plan.brine_band.mid, &plan.brine_band.high] {
        prop_assert!(values.is_sorted(), "what was drawn is not given back");
    }
    // Runs: within crew hours, one after the other, never before now, at the plant's rate.
    let zone = jiff::tz::TimeZone::get(&yard.time_zone).unwrap();
    let mut free = plan.issued;
    for (run, uses) in plan.schedule.runs.iter().zip(&plan.tank_uses) {
        prop_assert!(free <= run.latest_start, "{run:?} overlaps or lies in the past");
        for at in [run.latest_start, run.making_to - SignedDuration::from_secs(1)] {
            let hour = at.to_zoned_datetime(zone.clone()).hour();
            prop_assert!((yard.crew.making_from_hour..yard.crew.making_to_hour).contains(&hour), "{run:?}");
        }
        let into: f64 = uses.iter().map(|u| in_cubic_metres(u.volume)).sum();
        prop_assert!((into - in_cubic_metres(run.volume)).abs() < 1e-9);
        free = run.making_to;
    }
    // Without a shortage, the stock covers the need at all times, and there is enough salt.
    let short = plan.shortages.iter().any(|s| matches!(s, Shortage::Brine { .. }));
    let lowest = plan.schedule.stock.iter().copied().fold(f64::INFINITY, f64::min);
    prop_assert_eq!(short, lowest < -1e-4, "lowest stock {}", lowest);
    prop_assert!(in_kilograms(plan.batch.rock_salt) <= in_kilograms(books.rock_salt) + 1e-6);
    // Loads: no more than a truck holds, one at a time at each place, done before the storm, never in the past.
    for (place, loading) in &plan.loadings {
        let storm = &plan.storms[*place].0;
        prop_assert!(plan.issued <= loading.begin && loading.end <= storm.start);
        for (n, load) in loading.loads.iter().enumerate() {
            let most = in_gallons(yard.trucks[load.truck].tank);
            prop_assert!(in_gallons(load.volume) <= most + 1e-6);
            prop_assert!(loading.begin <= load.load_from && load.sprayed <= loading.end);
            let clash =
                loading.loads[..n].iter().any(|o| o.load_from < load.leaves && load.load_from < o.leaves);
            prop_assert!(!clash, "one loading place");
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn a_plan_keeps_its_promises(hours in weather_of(), stock in 0.0..2.0f64, salt in 0.0..1.5f64, now in 0usize..24) {
        let (yard, rates, weather) = (yard(), RateTable::published().unwrap(), forecast(&hours));
        let mut books = Books::opening(&yard);
        for tank in &mut books.tanks {
            tank.content.mass *= stock.min(1.2);
            tank.content.sodium_chloride *= stock.min(1.2);
            tank.content.declared.values_mut().for_each(|mass| *mass *= stock.min(1.2));
        }
        books.rock_salt *= salt;
        let midnight: Timestamp = "2026-01-14T00:00:00Z".parse().unwrap();
        let issued = midnight + SignedDuration::from_mins(now as i64 * 37);
        let request =
            PlanRequest {
                yard: &yard, books: &books, rates: &rates, weather: &weather, issued, hours: 72, now: issued,
                seen: None,
            };
        let made = plan(&request).unwrap();
        keeps_its_promises(&made, &yard, &books)?;
        prop_assert_eq!(format!("{made:?}"), format!("{:?}", plan(&request).unwrap()), "the same input, the same plan");
    }
}

/// Weather written hour by hour: (air °C, humidity %, pavement °C, precipitation mm).
fn with_pavement(hours: &[(f64, f64, f64, f64)]) -> weather::WeatherFile {
    let start: Timestamp = "2026-01-14T00:00:00Z".parse().unwrap();
    let mut text = String::from("# times are the START of the hour\n");
    text.push_str("time_utc,air_temp_c,rel_humidity_pct,pavement_temp_c,precip_mm\n");
    for (n, (air, humidity, pavement, water)) in hours.iter().enumerate() {
        let at = start + SignedDuration::from_hours(n as i64);
        text.push_str(&format!("{at},{air:.1},{humidity:.0},{pavement:.1},{water:.2}\n"));
    }
    weather::read(&text, &weather::ReadOptions::default()).unwrap()
}

fn plan_on(yard: &Yard, weather: &weather::WeatherFile) -> Plan {
    let (rates, books) = (RateTable::published().unwrap(), Books::opening(yard));
    let issued = "2026-01-14T00:00:00Z".parse().unwrap();
    plan(&PlanRequest {
        yard,
        books: &books,
        rates: &rates,
        weather,
        issued,
        hours: 48,
        now: issued,
        seen: None,
    })
    .unwrap()
}

#[test]
fn a_night_of_flickering_frost_is_sprayed_once() {
    // Pavement below the frost point in every other hour of one night.
    let hours: Vec<_> = (0..48)
        .map(|n| (-1.0, 95.0, if (20..28).contains(&n) && n % 2 == 0 { -4.0 } else { 1.0 }, 0.0))
        .collect();
    let plan = plan_on(&yard(), &with_pavement(&hours));
    assert_eq!(plan.storms.len(), 1);
    // Iowa DOT: 50 gal a lane-mile, here on 140 lane-miles that are pretreated.
    let ahead: f64 = plan.routes.iter().map(|need| in_gallons(need.anti_icing.mid)).sum();
    assert!((ahead - 140.0 * 50.0).abs() < 1e-6, "{ahead}");
}

#[test]
fn frost_on_the_heels_of_snow_is_looked_at_not_sprayed() {
    let hours: Vec<_> = (0..48)
        .map(|n| {
            let snow = if (20..26).contains(&n) { 0.5 } else { 0.0 };
            (-2.0, 98.0, if n >= 20 { -5.0 } else { 1.0 }, snow)
        })
        .collect();
    let plan = plan_on(&yard(), &with_pavement(&hours[..36]));
    assert_eq!(plan.storms.len(), 1, "the snow");
    assert!(
        plan.cautions.iter().any(|c| matches!(c, planner::Caution::FrostPossible { .. })),
        "{:?}",
        plan.cautions
    );
}

#[test]
fn without_trucks_routes_get_first_passes_and_it_is_said() {
    let mut yard = yard();
    yard.trucks.clear();
    yard.routes.iter_mut().for_each(|route| route.truck = None);
    let hours: Vec<_> =
        (0..48).map(|n| (-4.0, 90.0, -4.0, if (20..26).contains(&n) { 0.5 } else { 0.0 })).collect();
    let plan = plan_on(&yard, &with_pavement(&hours));
    assert!(plan.cautions.iter().any(|c| matches!(c, planner::Caution::NoTruck { .. })));
    let first = |p: &&planner::treatment::RoutePass| p.pass == road::rates::Pass::First;
    assert_eq!(plan.storms[0].1.passes[1].iter().filter(first).count(), yard.routes.len());
}

#[test]
fn shorter_cycles_ask_for_more_passes() {
    let hours: Vec<_> =
        (0..48).map(|n| (-4.0, 90.0, -4.0, if (20..26).contains(&n) { 0.5 } else { 0.0 })).collect();
    let weather = with_pavement(&hours);
    let passes = |cycle_hours: f64| {
        let mut yard = yard();
        yard.route_classes.iter_mut().for_each(|class| class.cycle = quantity::hours(cycle_hours));
        let plan = plan_on(&yard, &weather);
        plan.storms[0].1.passes[1].iter().filter(|pass| pass.route == 0).count()
    };
    // Six hours of snow: a pass each cycle while it falls, and one after it at most. A cycle shorter than the salt
    // holds asks for no pass more.
    let found = [4.0, 2.0, 1.5, 1.0].map(passes);
    assert!(found.is_sorted() && found[0] >= 1 && found[1] >= 2 && found[3] <= 7, "{found:?}");
    assert!(found[3] > found[0], "{found:?}");
}

/// A road below the yard's limit for salt brine, 15 °F here, is watched from the storm on and half a day after it: not
/// above the limit, and not later.
#[test]
fn a_road_below_the_limit_is_watched_for_refreezing() {
    let refreezes = |cold_at: usize, cold: f64| {
        let hours: Vec<_> = (0..48)
            .map(|n| {
                let snow = if (10..16).contains(&n) { 0.5 } else { 0.0 };
                let pavement = if n == cold_at { cold } else { -4.0 };
                (-4.0, 90.0, pavement, snow)
            })
            .collect();
        let found = plan_on(&yard(), &with_pavement(&hours)).cautions;
        found.into_iter().find_map(|caution| match caution {
            planner::Caution::MayRefreeze { at, pavement } => Some((at, quantity::in_celsius(pavement))),
            _ => None,
        })
    };
    // −8.5 °C is 16.7 °F, −10.5 °C is 13.1 °F. The last snow falls in hour 15.
    assert_eq!(refreezes(20, -8.5), None);
    // The middle of 41 members is within half a kelvin of the forecast itself.
    let (at, pavement) = refreezes(26, -10.5).unwrap();
    assert_eq!(at.to_string(), "2026-01-15T02:00:00Z");
    assert!((pavement + 10.5).abs() < 0.5, "{pavement}");
    assert!(refreezes(13, -10.5).is_some(), "while it snows");
    assert_eq!(refreezes(30, -10.5), None, "later than half a day");
    assert_eq!(refreezes(8, -10.5), None, "before it begins");
}
