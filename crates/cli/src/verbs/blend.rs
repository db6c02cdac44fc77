//! `blend`: the cheapest recipe of a blend that stays liquid. Exit code 1 when there is none.

use chemistry::blend::{Lot, NoRecipe, Wanted};
use chemistry::recipe::reference_temperature;
use chemistry::{Brine, MassFraction, Salt};
use entry::blending::{self, Advice, Ask, AtHand, Refusal, Source};
use message::Tell;
use quantity::{
    LITRES_PER_GALLON, ThermodynamicTemperature, Volume, celsius, cubic_metres, fahrenheit, gallons,
    in_celsius, in_cubic_metres, in_kilograms, litres,
};
use report::Display;
use report::Teller;
use report::blend_words::BlendWords;
use serde_json::json;
use site::UnitSystem;
use site::Yard;
use yard::stock::Books;

use crate::args::{self, Units};
use crate::errors::{not_read, sentence};
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Names of salts on the command line, in the order of [`Salt::ALL`].
const SALTS: [&str; 5] = ["nacl", "cacl2", "mgcl2", "kcl", "na2so4"];

/// Runs the verb.
pub fn run(args: &args::Blend, units: Option<Units>) -> Outcome {
    let (display, yard, answer) = match &args.yard {
        Some(path) => {
            let yard = input::yard(path)?;
            let answer = of_yard(args, &yard)?;
            (input::display(&yard, units)?, yard, answer)
        }
        None => {
            let units = units.map_or(UnitSystem::Us, input::system);
            let display = Display::new(units, jiff::tz::TimeZone::UTC);
            // No tank is named, so any yard does.
            (display, crate::demo::yard()?, of_numbers(args)?)
        }
    };
    match answer {
        Ok(advice) => {
            let words = input::words();
            let told = Teller { words: &words, display: &display, yard: &yard }.blend(&advice);
            print(&if args.json { document(&advice, &told) } else { text(&told) })?;
            Ok(Done::Yes)
        }
        Err(Refusal::Recipe(error @ (NoRecipe::Input(_) | NoRecipe::Count { .. }))) => {
            Err(Failure::Input(display.tell(&error.message())))
        }
        Err(refusal) => Err(Failure::No(display.tell(&refusal.message()))),
    }
}

fn temperature(f: Option<f64>, c: Option<f64>) -> Option<ThermodynamicTemperature> {
    f.map(fahrenheit).or(c.map(celsius))
}

fn wanted(args: &args::Blend, volumes: (Volume, Volume)) -> Wanted {
    let ice_below = temperature(args.ice_f, args.ice_c).unwrap_or_else(|| celsius(0.0));
    let clear_above = temperature(args.clear_f, args.clear_c).unwrap_or(ice_below);
    Wanted { ice_below, clear_above, at_least: volumes.0, at_most: volumes.1 }
}

fn volume(args: &args::Blend) -> Result<Option<Volume>, Failure> {
    let typed = args.volume_gal.map(gallons).or(args.volume_l.map(litres));
    match typed.map(in_cubic_metres) {
        Some(m3) if !(m3 > 0.0 && m3 < 1e6) => {
            let value = args.volume_gal.or(args.volume_l).unwrap_or_default();
            Err(Failure::Input(format!("--volume-gal or --volume-l = {value}: accepted: above zero")))
        }
        _ => Ok(typed),
    }
}

/// From a yard's tanks.
fn of_yard(args: &args::Blend, yard: &Yard) -> Result<Result<Advice, Refusal>, Failure> {
    let books = match &args.ledger {
        Some(path) => Books::fold(yard, &input::events(path)?),
        None => Books::opening(yard),
    };
    let from = args.from.iter().map(|text| source(text)).collect::<Result<Vec<_>, _>>()?;
    let room = match &args.tank {
        Some(id) => match yard.tank(id) {
            Some(tank) => Some(tank.working_capacity()),
            None => return Ok(Err(Refusal::NoTank(id.clone()))),
        },
        None => None,
    };
    let volumes = match (volume(args)?, room) {
        (Some(volume), Some(room)) if volume > room => {
            return Err(Failure::Input(format!(
                "the tank should hold no more than {:.1} m³; accepted: that much or less",
                in_cubic_metres(room)
            )));
        }
        (Some(volume), _) => (volume, volume),
        (None, Some(room)) => (cubic_metres(0.0), room),
        (None, None) => return Err(Failure::Input("--volume-gal is missing".into())),
    };
    Ok(blending::advise(yard, &books, &Ask { tank: args.tank.clone(), from, wanted: wanted(args, volumes) }))
}

fn source(text: &str) -> Result<Source, Failure> {
    match text.split_once('=') {
        None if text == "water" => Ok(Source::Water),
        Some(("tank", id)) if !id.is_empty() => Ok(Source::Tank(id.to_owned())),
        _ => Err(Failure::Input(format!("--from = {text}: not known; accepted: water, tank=ID"))),
    }
}

/// From liquids of which only numbers are known.
fn of_numbers(args: &args::Blend) -> Result<Result<Advice, Refusal>, Failure> {
    let liquids = args.lot.iter().map(|text| lot(text)).collect::<Result<Vec<_>, _>>()?;
    let volume = volume(args)?.unwrap_or_else(|| cubic_metres(0.0));
    Ok(blending::work_out(liquids, None, &wanted(args, (volume, volume))))
}

/// A liquid from the command line.
fn lot(text: &str) -> Result<AtHand, Failure> {
    let refuse = |what: String| Failure::Input(format!("--lot = {text}: {what}"));
    let mut salts = Vec::new();
    let (mut usd_per_l, mut at_hand, mut name, mut is_water) = (0.0, None, None, false);
    for part in text.split(',') {
        let (key, value) = part.trim().split_once('=').unwrap_or((part.trim(), ""));
        let number =
            || entry::parse_number(value).map_err(|problem| refuse(format!("{key}: {}", not_read(problem))));
        match key {
            "water" if value.is_empty() => is_water = true,
            "name" if !value.is_empty() => name = Some(value.to_owned()),
            "usd_gal" => usd_per_l = number()? / LITRES_PER_GALLON,
            "usd_l" => usd_per_l = number()?,
            "gal" => at_hand = Some(gallons(number()?)),
            "l" => at_hand = Some(litres(number()?)),
            salt => match SALTS.iter().position(|known| *known == salt) {
                Some(place) => salts.push((Salt::ALL[place], number()?)),
                None => {
                    let accepted = "water, nacl, cacl2, mgcl2, kcl, na2so4, usd_gal, usd_l, gal, l, name";
                    return Err(refuse(format!("\"{salt}\" is not known; accepted: {accepted}")));
                }
            },
        }
    }
    if salts.is_empty() != is_water {
        return Err(refuse("accepted: water, or salts in per cent by mass such as nacl=23.3".into()));
    }
    let brine = brine(&salts).map_err(|error| refuse(sentence(&error)))?;
    let density = brine.density(reference_temperature()).map_err(|error| refuse(sentence(&error)))?;
    let kg_per_l = in_kilograms(density * litres(1.0));
    Ok(AtHand {
        source: if is_water {
            Source::Water
        } else {
            Source::Named(name.unwrap_or_else(|| salts_named(&salts)))
        },
        product: String::new(),
        lot: Lot {
            brine,
            available: at_hand.map(|volume| volume * density),
            price: usd_per_l / kg_per_l,
            temperature: reference_temperature(),
        },
    })
}

fn salts_named(salts: &[(Salt, f64)]) -> String {
    let each: Vec<String> =
        salts.iter().map(|(salt, percent)| format!("{percent} % {}", salt.formula())).collect();
    each.join(" + ")
}

fn brine(salts: &[(Salt, f64)]) -> Result<Brine, chemistry::Error> {
    let part = |(salt, percent): &(Salt, f64)| Ok((*salt, MassFraction::from_percent(*percent)?));
    Brine::blend(&salts.iter().map(part).collect::<Result<Vec<_>, chemistry::Error>>()?)
}

/// Salts by name with a figure each, such as "nacl=90,mgcl2=10".
pub(super) fn salts(flag: &str, text: &str) -> Result<Vec<(Salt, f64)>, Failure> {
    text.split(',')
        .map(|part| {
            let refuse = |what: String| Failure::Input(format!("{flag} = {text}: {what}"));
            let (name, value) = part.trim().split_once('=').unwrap_or((part.trim(), ""));
            let place = SALTS.iter().position(|known| *known == name);
            let Some(place) = place else {
                return Err(refuse(format!("\"{name}\" is not known; accepted: {}", SALTS.join(", "))));
            };
            let value = entry::parse_number(value)
                .map_err(|problem| refuse(format!("{name}: {}", not_read(problem))))?;
            if value < 0.0 {
                Err(refuse(format!("{name} is below zero")))
            } else {
                Ok((Salt::ALL[place], value))
            }
        })
        .collect()
}

/// A liquid by its salts, such as "nacl=23.3".
pub(super) fn liquid(flag: &str, text: &str) -> Result<Brine, Failure> {
    if text == "water" {
        return Ok(Brine::WATER);
    }
    brine(&salts(flag, text)?)
        .map_err(|error| Failure::Input(format!("{flag} = {text}: {}", sentence(&error))))
}

fn text(told: &BlendWords) -> String {
    let mut lines = vec![told.headline.clone(), String::new()];
    for row in &told.rows {
        lines.push(format!(
            "  {:<44} {:>12} {:>12}  {:>5} % vol {:>5} % mass {:>10}",
            row.liquid, row.volume, row.mass, row.shares[0], row.shares[1], row.cost
        ));
    }
    lines.push(String::new());
    lines.extend(told.facts.iter().map(|(name, value)| format!("  {name}: {value}")));
    lines.extend([String::new(), told.between.clone(), String::new()]);
    lines.extend(told.steps.iter().enumerate().map(|(place, step)| format!("  {}. {step}", place + 1)));
    lines.push(String::new());
    lines.extend(told.cares.iter().map(|care| format!("  ! {care}")));
    lines.join("\n")
}

fn document(advice: &Advice, told: &BlendWords) -> String {
    let recipe = &advice.recipe;
    let first = recipe.brine.first_solid().ok();
    let parts: Vec<_> = advice
        .put_in()
        .into_iter()
        .zip(told.rows.iter().skip(usize::from(advice.base.is_some())))
        .map(|((_, mass, volume), row)| {
            json!({
                "liquid": row.liquid,
                "kg": in_kilograms(mass),
                "m3_60f": in_cubic_metres(volume),
                "mass_pct": 100.0 * in_kilograms(mass) / in_kilograms(recipe.mass),
            })
        })
        .collect();
    let salts: serde_json::Map<String, serde_json::Value> = SALTS
        .iter()
        .zip(Salt::ALL)
        .map(|(name, salt)| (format!("{name}_wt_pct"), json!(recipe.brine.part(salt).percent())))
        .collect();
    let all = json!({
        "put_in": parts,
        "in_tank_kg": in_kilograms(recipe.base),
        "kg": in_kilograms(recipe.mass),
        "m3_60f": in_cubic_metres(recipe.volume),
        "salts": salts,
        "first_solid": first.map(|first| first.solid.code()),
        "first_solid_c": first.map(|first| in_celsius(first.temperature)),
        "first_solid_u_k": first.map(|first| quantity::in_kelvins(first.uncertainty)),
        "ice_c": recipe.onset.ice.map(in_celsius),
        "salt": recipe.onset.salt.map(|(solid, _)| solid.code()),
        "salt_c": recipe.onset.salt.map(|(_, at)| in_celsius(at)),
        "cost_usd": recipe.cost,
        "mixed_c": recipe.temperature.map(in_celsius),
        "says": told.headline,
        "between": told.between,
    });
    format!("{all:#}")
}
