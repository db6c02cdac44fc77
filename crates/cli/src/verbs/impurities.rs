//! `impurities`: what comes into the brine with real rock salt and real water, what settles as sludge, and how far it
//! misleads each instrument.

use chemistry::equilibrium::gypsum_index;
use chemistry::impurities::{Analysis, MadeBrine, Misled, brine_made, misled};
use chemistry::recipe::reference_temperature;
use chemistry::{MassFraction, Salt, density};
use quantity::{
    MassDensity, ThermodynamicTemperature, celsius, cubic_metres, fahrenheit, gallons, in_celsius,
    in_kg_per_m3,
};
use report::Display;
use report::display::number;
use serde_json::json;
use site::UnitSystem;

use crate::args::{self, Units};
use crate::errors::sentence;
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// What came of it.
struct Answer {
    strength: MassFraction,
    at: ThermodynamicTemperature,
    made: MadeBrine,
    misled: Misled,
    /// Log10 of how far from saturation with gypsum; none where there is no calcium or no sulfate.
    gypsum: Option<f64>,
    /// In a volume of the brine.
    sludge: MassDensity,
}

/// Runs the verb.
pub fn run(args: &args::Impurities, units: Option<Units>) -> Outcome {
    let percent = |flag: &str, value: f64| {
        MassFraction::from_percent(value)
            .map_err(|error| Failure::Input(format!("{flag}: {}", sentence(&error))))
    };
    let salt = Analysis {
        sodium_chloride: percent("--nacl-pct", args.nacl_pct)?,
        calcium_sulfate: percent("--caso4-pct", args.caso4_pct)?,
        calcium_chloride: percent("--cacl2-pct", args.cacl2_pct)?,
        magnesium_chloride: percent("--mgcl2-pct", args.mgcl2_pct)?,
    };
    let strength = percent("--strength-pct", args.strength_pct)?;
    let typed = args.temp_f.map(fahrenheit).or(args.temp_c.map(celsius));
    let at = typed.unwrap_or_else(reference_temperature);
    let refuse = |error: chemistry::Error| Failure::Input(sentence(&error));
    let made = brine_made(&salt, args.hardness_mg_l, strength).map_err(refuse)?;
    let system = units.map_or(UnitSystem::Us, input::system);
    let answer = Answer {
        strength,
        at,
        made,
        misled: misled(&made.brine, strength, at).map_err(refuse)?,
        gypsum: gypsum_index(&made.brine, at).map_err(refuse)?,
        sludge: density::density(&made.brine, at).map_err(refuse)? * made.sludge.fraction(),
    };
    print(&if args.json { document(&answer) } else { text(&answer, system) })?;
    Ok(Done::Yes)
}

/// Salts that are dissolved beside sodium chloride, with their shares.
fn beside(made: &MadeBrine) -> Vec<(Salt, MassFraction)> {
    let others = [Salt::CalciumChloride, Salt::MagnesiumChloride, Salt::SodiumSulfate];
    others.map(|salt| (salt, made.brine.part(salt))).to_vec()
}

fn text(answer: &Answer, system: UnitSystem) -> String {
    let display = Display::new(system, jiff::tz::TimeZone::UTC);
    let shares: Vec<String> = beside(&answer.made)
        .iter()
        .filter(|(_, share)| share.percent() > 0.0)
        .map(|(salt, share)| format!("{} {} %", salt.formula(), number(share.percent(), 3)))
        .collect();
    let dissolved = if shares.is_empty() { "nothing".to_owned() } else { shares.join(", ") };
    let (volume, of) = match system {
        UnitSystem::Us => (gallons(1000.0), "1,000 gal"),
        UnitSystem::Si => (cubic_metres(1.0), "1 m³"),
    };
    let signed = |value: f64| format!("{}{} %", if value < 0.0 { "" } else { "+" }, number(value, 2));
    let gypsum = match answer.gypsum {
        None => "no gypsum can form: no calcium meets sulfate.".to_owned(),
        Some(index) if index > 0.0 => format!(
            "gypsum can form (index {} above 0): scale in heaters and meters, fine sludge, in days and weeks.",
            number(index, 2)
        ),
        Some(index) => format!("gypsum stays dissolved (index {}, forms above 0).", number(index, 2)),
    };
    format!(
        "Brine with {} % NaCl, from this salt and water.\n\
         Dissolved beside NaCl, by mass: {dissolved}\n\
         Sludge: {} % of the mass, {} in {of}\n\
         Taken for pure salt brine at {}, it reads:\n\
         \x20 hydrometer, density meter  {}\n\
         \x20 refractometer              {}\n\
         \x20 conductivity               {}\n\
         \x20 (± a fifth of each, and 0.05 %)\n\
         Scale: {gypsum}\n",
        number(answer.strength.percent(), 1),
        number(answer.made.sludge.percent(), 2),
        display.mass(answer.sludge * volume),
        display.temperature(answer.at),
        signed(answer.misled.by_density),
        signed(answer.misled.by_refractive_index),
        signed(answer.misled.by_conductivity),
    )
}

fn document(answer: &Answer) -> String {
    let dissolved: serde_json::Map<String, serde_json::Value> = beside(&answer.made)
        .iter()
        .map(|(salt, share)| (format!("{}_pct", salt.formula().to_lowercase()), share.percent().into()))
        .collect();
    let document = json!({
        "nacl_pct": answer.strength.percent(),
        "temp_c": in_celsius(answer.at),
        "dissolved": dissolved,
        "sludge_pct": answer.made.sludge.percent(),
        "sludge_kg_m3": in_kg_per_m3(answer.sludge),
        "reads_high_pct": {
            "density": answer.misled.by_density,
            "refractive_index": answer.misled.by_refractive_index,
            "conductivity": answer.misled.by_conductivity,
        },
        "gypsum_index": answer.gypsum,
    });
    format!("{document:#}\n")
}
