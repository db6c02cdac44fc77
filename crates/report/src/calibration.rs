//! The card for a truck's cab: what its sprayer and spreader put down, from a catch test.

use chemistry::{Brine, density, recipe};
use entry::figures;
use event::{CaughtLiquid, SprayerCheck, SpreaderCheck};
use quantity::units::PSI;
use quantity::{
    Velocity, VolumeRate, gallons, in_gallons, in_litres, in_m3_per_second, in_miles_per_hour, in_pounds,
    kilograms, litres, metres_per_second, miles_per_hour, minutes, seconds,
};
use road::amount::lane_mile;
use road::catch::{self, CatchError};
use road::{LiquidRate, SolidRate};
use site::{Truck, UnitSystem};

use crate::Teller;
use crate::display::number;
use crate::table::{Kind, Table};

/// Speeds of the table, mph and km/h.
const MPH: [f64; 6] = [15.0, 20.0, 25.0, 30.0, 35.0, 40.0];
const KMH: [f64; 6] = [25.0, 30.0, 40.0, 50.0, 55.0, 65.0];
/// Rates of the table, gal per lane-mile and L per lane-km.
const GAL_PER_LANE_MILE: [f64; 5] = [20.0, 30.0, 40.0, 50.0, 60.0];
const L_PER_LANE_KM: [f64; 5] = [50.0, 70.0, 95.0, 120.0, 140.0];
/// A jug is read to this, half a mark: half a fluid ounce.
const JUG_GAL: f64 = 0.5 / 128.0;

/// What a card says.
#[derive(Debug, Clone, Default)]
pub struct Card {
    /// Results of the test, one sentence each.
    pub lines: Vec<String>,
    /// What is to be put right first.
    pub warnings: Vec<String>,
    /// Tables that go with the results, such as what each nozzle gave.
    pub tables: Vec<Table>,
}

fn flow_text(teller: &Teller<'_>, flow: VolumeRate) -> String {
    teller.display.pipe_flow(in_m3_per_second(flow))
}

/// A small flow, finer.
fn fine_flow(teller: &Teller<'_>, flow: VolumeRate) -> String {
    match teller.display.units {
        UnitSystem::Us => format!("{} gal/min", number(in_gallons(flow * minutes(1.0)), 2)),
        UnitSystem::Si => format!("{} L/min", number(in_litres(flow * minutes(1.0)), 1)),
    }
}

fn speeds(teller: &Teller<'_>) -> Vec<(String, Velocity)> {
    match teller.display.units {
        UnitSystem::Us => {
            MPH.iter().map(|mph| (format!("{} mph", number(*mph, 0)), miles_per_hour(*mph))).collect()
        }
        UnitSystem::Si => KMH
            .iter()
            .map(|kmh| (format!("{} km/h", number(*kmh, 0)), metres_per_second(kmh / 3.6)))
            .collect(),
    }
}

/// Whether a catch found a nozzle off the others; one that says nothing found none.
pub fn has_outlier(check: &SprayerCheck) -> bool {
    let caught: Vec<_> = figures(&check.caught_ml).iter().map(|ml| litres(ml / 1000.0)).collect();
    catch::sprayer(&caught, seconds(check.catch_s), gallons(JUG_GAL))
        .is_ok_and(|found| !found.outliers.is_empty())
}

/// The card of a sprayer.
///
/// # Errors
/// [`CatchError`] for a test that says nothing.
pub fn sprayer_card(teller: &Teller<'_>, truck: &Truck, check: &SprayerCheck) -> Result<Card, CatchError> {
    let words = teller.words;
    let caught: Vec<_> = figures(&check.caught_ml).iter().map(|ml| litres(ml / 1000.0)).collect();
    let found = catch::sprayer(&caught, seconds(check.catch_s), gallons(JUG_GAL))?;
    let mut card = Card::default();
    let is_water = check.liquid == CaughtLiquid::Water;
    let reference = recipe::reference_temperature();
    let brine =
        Brine::sodium_chloride(teller.yard.plant.target_strength).and_then(|one| one.density(reference));
    let water = density::water_density(reference);
    let boom = match (brine, water) {
        (Ok(brine), Ok(water)) if is_water => catch::of_liquid(found.boom, water, brine),
        _ => found.boom,
    };
    let values = [
        ("count", caught.len().to_string()),
        ("flow", flow_text(teller, found.boom)),
        ("within", fine_flow(teller, found.interval)),
        ("liquid", words.say(if is_water { "caught-in.water" } else { "caught-in.brine" }).to_lowercase()),
    ];
    card.lines.push(words.fill_with("card.boom", &values));
    if is_water {
        card.lines.push(words.fill("card.in-brine", &[("flow", &flow_text(teller, boom))]));
    }
    if let Some(pressure) = check.pressure_kpa {
        let text = match teller.display.units {
            UnitSystem::Us => format!("{} psi", number(PSI.of_base(pressure), 0)),
            UnitSystem::Si => format!("{} kPa", number(pressure, 0)),
        };
        card.lines.push(words.fill("card.pressure", &[("pressure", &text)]));
    }
    for place in &found.outliers {
        let off = number(100.0 * found.off[*place], 0);
        let nozzle = (place + 1).to_string();
        card.warnings.push(words.fill("card.nozzle", &[("nozzle", &nozzle), ("off", &off)]));
    }
    card.tables.push(nozzles(teller, &found));
    card.tables.push(as_it_stands(teller, boom, check.lanes_number)?);
    let mut wanted = wanted(teller, truck, check.lanes_number);
    wanted.notes.push(words.fill("card.more-pressure", &[("flow", &flow_text(teller, boom))]));
    card.tables.push(wanted);
    Ok(card)
}

fn nozzles(teller: &Teller<'_>, found: &catch::Sprayer) -> Table {
    let words = teller.words;
    let columns = [
        (words.say("card.nozzle-head"), Kind::Count),
        (words.say("card.flow"), Kind::Text),
        (words.say("card.off"), Kind::Text),
    ];
    let mut table = Table::new("nozzles", words.say("card.nozzles"), &columns);
    for (place, (flow, off)) in found.nozzles.iter().zip(&found.off).enumerate() {
        let sign = if *off > 0.0 { "+" } else { "" };
        let off = format!("{sign}{}", teller.display.percent(100.0 * off, 0));
        table.row(vec![((place + 1) as f64).into(), flow_text(teller, *flow).into(), off.into()]);
    }
    table
}

/// What the boom puts down at each speed, at the pressure of the test.
fn as_it_stands(teller: &Teller<'_>, boom: VolumeRate, lanes: f64) -> Result<Table, CatchError> {
    let words = teller.words;
    let columns = [(words.say("card.speed"), Kind::Text), (words.say("card.puts-down"), Kind::Text)];
    let mut table = Table::new("as-it-stands", words.say("card.as-it-stands"), &columns);
    for (name, speed) in speeds(teller) {
        let rate = catch::on_road(boom, speed, lanes)?;
        table.row(vec![name.into(), teller.display.liquid_rate(rate).into()]);
    }
    Ok(table)
}

/// Flow that each rate needs at each speed; what the pump does not give is marked.
fn wanted(teller: &Teller<'_>, truck: &Truck, lanes: f64) -> Table {
    let words = teller.words;
    let rates: Vec<LiquidRate> = match teller.display.units {
        UnitSystem::Us => {
            GAL_PER_LANE_MILE.iter().map(|gal| LiquidRate::of(gallons(*gal), lane_mile())).collect()
        }
        UnitSystem::Si => {
            let lane = quantity::metres(1000.0);
            L_PER_LANE_KM.iter().map(|l| LiquidRate::of(litres(*l), lane)).collect()
        }
    };
    let heads: Vec<String> = rates.iter().map(|rate| teller.display.liquid_rate(*rate)).collect();
    let mut columns = vec![(words.say("card.speed"), Kind::Text)];
    columns.extend(heads.iter().map(|head| (head.as_str(), Kind::Text)));
    let mut table = Table::new("flows", words.say("card.flows"), &columns);
    let mut is_any_beyond = false;
    for (name, speed) in speeds(teller) {
        let mut cell = |rate: &LiquidRate| {
            let flow = catch::flow_for(*rate, speed, lanes);
            let is_beyond = truck.pump_rate.is_some_and(|most| flow > most);
            is_any_beyond |= is_beyond;
            let text = flow_text(teller, flow);
            if is_beyond { format!("{text} {}", words.say("card.beyond")) } else { text }
        };
        table.row(std::iter::once(name.into()).chain(rates.iter().map(|rate| cell(rate).into())).collect());
    }
    if let Some(most) = truck.pump_rate {
        let all = speeds(teller);
        let fastest = |rate: &LiquidRate| {
            let speed = catch::fastest(most, *rate, lanes);
            // Faster than anybody sprays, the pump is not what limits.
            if let Some((name, _)) = all.last().filter(|(_, highest)| *highest < speed) {
                return words.fill("card.any-speed", &[("speed", name)]);
            }
            match teller.display.units {
                UnitSystem::Us => format!("{} mph", number(in_miles_per_hour(speed).floor(), 0)),
                UnitSystem::Si => {
                    let kmh = quantity::in_metres_per_second(speed) * 3.6;
                    format!("{} km/h", number(kmh.floor(), 0))
                }
            }
        };
        let head = words.say("card.fastest");
        table.total(
            std::iter::once(head.into()).chain(rates.iter().map(|rate| fastest(rate).into())).collect(),
        );
        if is_any_beyond {
            table.notes.push(words.fill("card.pump", &[("flow", &flow_text(teller, most))]));
        }
    }
    table
}

/// The card of a spreader.
///
/// # Errors
/// [`CatchError`] for a test that says nothing.
pub fn spreader_card(teller: &Teller<'_>, check: &SpreaderCheck) -> Result<Card, CatchError> {
    let words = teller.words;
    let caught: Vec<_> = figures(&check.caught_kg).iter().map(|kg| kilograms(*kg)).collect();
    let found = catch::spreader(&caught, check.turns_number, check.per_minute_number)?;
    let exact = |mass| match teller.display.units {
        UnitSystem::Us => format!("{} lb", number(in_pounds(mass), 1)),
        UnitSystem::Si => format!("{} kg", number(quantity::in_kilograms(mass), 1)),
    };
    let within = found
        .interval
        .map_or_else(|| words.say("card.one-catch").to_owned(), |one| format!("± {}", exact(one)));
    let values = [
        ("setting", check.setting.clone()),
        ("material", check.material.clone()),
        ("per_turn", exact(found.per_turn)),
        ("within", within),
    ];
    let mut card = Card::default();
    card.lines.push(words.fill_with("card.spreader", &values));
    let columns = [(words.say("card.speed"), Kind::Text), (words.say("card.puts-down"), Kind::Text)];
    let mut table = Table::new("spread", words.say("card.spread"), &columns);
    for (name, speed) in speeds(teller) {
        let rate: SolidRate = catch::spread_on_road(&found, speed, 1.0)?;
        table.row(vec![name.into(), teller.display.salt_rate(rate).into()]);
    }
    card.tables.push(table);
    Ok(card)
}
