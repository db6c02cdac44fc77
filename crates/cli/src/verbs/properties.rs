//! `properties`: everything measurable about a chloride brine, one or a CSV of many.

use chemistry::Estimate;
use chemistry::equilibrium::last_liquid;
use chemistry::freezing::{FirstSolid, Solid, all_solid_below, on_cooling};
use chemistry::phases::Phases;
use chemistry::properties::{Properties, properties};
use chemistry::{Brine, Error, MassFraction, Salt, density, recipe};
use quantity::per_kelvin;
use quantity::{
    MassDensity, ThermodynamicTemperature, celsius, fahrenheit, in_celsius, in_fahrenheit,
    in_joules_per_kg_kelvin, in_kelvins, in_kg_per_m3, in_millipascal_seconds, in_millisiemens_per_cm,
    in_pounds_per_gallon,
};
use report::display::number;
use serde_json::{Value, json};

use crate::args::{self, Units};
use crate::errors::sentence;
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

mod table;

/// Runs the verb.
pub fn run(args: &args::Properties, units: Option<Units>) -> Outcome {
    match &args.csv {
        Some(path) => table::print_rows(&input::text(path)?, &path.display().to_string())?,
        None => one(args, units)?,
    }
    Ok(Done::Yes)
}

/// The brine of the flags.
fn brine_of(args: &args::Properties) -> Result<Brine, Failure> {
    let refuse = |error: Error| Failure::Input(sentence(&error));
    let flags = [args.strength_pct, args.cacl2_pct, args.mgcl2_pct, args.kcl_pct, args.na2so4_pct];
    if flags.iter().all(Option::is_none) {
        return Err(Failure::Input(
            "no strength given; accepted: --strength-pct (NaCl), --cacl2-pct, --mgcl2-pct, --kcl-pct, --na2so4-pct, \
             or --csv"
                .into(),
        ));
    }
    if let Some(percent) = args.strength_pct.filter(|percent| 0.0 < *percent && *percent < 0.27) {
        return Err(Failure::Input(format!(
            "--strength-pct = {percent}: looks like a fraction; write {}; accepted: per cent by mass, 0…26.67",
            percent * 100.0
        )));
    }
    let mut parts = Vec::new();
    for (salt, percent) in Salt::ALL.into_iter().zip(flags) {
        parts.push((salt, MassFraction::from_percent(percent.unwrap_or(0.0)).map_err(refuse)?));
    }
    Brine::blend(&parts).map_err(refuse)
}

fn one(args: &args::Properties, units: Option<Units>) -> Result<(), Failure> {
    let refuse = |error: Error| Failure::Input(sentence(&error));
    let temperature = match (args.temp_f, args.temp_c) {
        (Some(f), _) => fahrenheit(f),
        (None, Some(c)) => celsius(c),
        (None, None) => recipe::reference_temperature(),
    };
    let brine = brine_of(args)?;
    let all = properties(&brine, temperature);
    // A temperature at which nothing is known is bad input; what is partly frozen or dropped out is an answer,
    // and so is a property that ends before the others.
    if let (Err(error @ Error::Temperature { .. }), Err(_)) = (&all.phases, &all.density) {
        return Err(refuse(error.clone()));
    }
    if args.json {
        return print(&format!("{:#}", document(&brine, temperature, &all)));
    }
    print(&lines(&brine, temperature, &all, matches!(units, Some(Units::Si))).join("\n"))
}

fn lines(brine: &Brine, temperature: ThermodynamicTemperature, all: &Properties, si: bool) -> Vec<String> {
    let dissolved: Vec<String> = Salt::ALL
        .into_iter()
        .map(|salt| (salt, brine.part(salt).percent()))
        .filter(|(_, percent)| *percent > 0.0)
        .map(|(salt, percent)| format!("{} {} %", salt.formula(), number(percent, 2)))
        .collect();
    let what = if dissolved.is_empty() { "Water".to_string() } else { dissolved.join(", ") };
    let mut lines = vec![format!("{what} by mass, at {}.", both(temperature, si))];
    match &all.first_solid {
        Ok(first) => lines.extend(freezing_lines(brine, first, si)),
        Err(error) => lines.push(format!("Not predicted: {}.", sentence(error))),
    }
    if let Ok(phases) = all.phases.as_ref()
        && phases.solids() > 0.0
    {
        lines.push(phase_line(phases));
    }
    if let Ok(last) = all_solid_below(brine) {
        lines.push(format!("All of it is solid below {}.", both(last, si)));
    }
    if let Some(index) = all.gypsum_index {
        let told = if index > 0.0 {
            "gypsum can form, in days and weeks: scale and fine sludge"
        } else {
            "no gypsum forms"
        };
        lines.push(format!("Gypsum: saturation index {} (log10): {told}.", number(index, 2)));
    }
    if let Err(error @ (Error::Supersaturated { .. } | Error::PartlyFrozen { .. })) = &all.density {
        lines.push(format!("Readings of the liquid are not given: {}.", sentence(error)));
    }
    if let (Ok(beta), Ok(_)) = (density::thermal_expansion(brine, temperature), &all.density) {
        let percent = 100.0 * beta.get::<per_kelvin>();
        let (us, si_text) = (number(percent * 10.0 / 1.8, 2), number(percent * 10.0, 2));
        lines.push(if si {
            format!("Volume grows by {si_text} % in 10 °C ({us} % in 10 °F).")
        } else {
            format!("Volume grows by {us} % in 10 °F ({si_text} % in 10 °C).")
        });
    }
    let mut estimate = |name: &str, text: Result<String, &Error>| match text {
        Ok(text) => lines.push(format!("{name} {text}.")),
        Err(Error::Supersaturated { .. } | Error::PartlyFrozen { .. }) => {}
        Err(error) => lines.push(format!("{name}: not given: {}.", sentence(error))),
    };
    estimate("Density", all.density.as_ref().map(|e| with_interval_density(e, si)));
    estimate(
        "Relative density at 60/60 °F",
        all.relative_density_60f.as_ref().map(|sg| number(sg.ratio(), 4)),
    );
    let pair = |brine_c: f64, water_c: f64| {
        let known = density::relative_density(brine, celsius(brine_c), celsius(water_c));
        known.map_or_else(|_| "not given".to_string(), |ratio| number(ratio.ratio(), 4))
    };
    if all.relative_density_60f.is_ok() {
        estimate(
            "Relative density at 20/20 °C",
            Ok(format!("{}, at 20/4 °C {}", pair(20.0, 20.0), pair(20.0, 4.0))),
        );
    }
    estimate("Baumé at 60 °F", all.baume.as_ref().map(|b| format!("{}°", number(b.degrees(), 1))));
    estimate("Salometer at 60 °F", all.salometer.as_ref().map(|s| format!("{}°", number(s.degrees(), 1))));
    estimate(
        "Refractive index at 589 nm",
        all.refractive_index
            .as_ref()
            .map(|e| format!("{} ± {}", number(e.value.index(), 5), number(e.uncertainty, 5))),
    );
    estimate(
        "Brix (sugar scale, not compensated)",
        all.brix.as_ref().map(|b| format!("{}°", number(b.degrees(), 2))),
    );
    estimate(
        "Conductivity",
        all.conductivity.as_ref().map(|e| {
            let (value, off) = (in_millisiemens_per_cm(e.value), in_millisiemens_per_cm(e.uncertainty));
            format!("{} ± {} mS/cm", number(value, 1), number(off, 1))
        }),
    );
    estimate(
        "Viscosity",
        all.viscosity.as_ref().map(|e| {
            let (value, off) = (in_millipascal_seconds(e.value), in_millipascal_seconds(e.uncertainty));
            format!("{} ± {} mPa·s (cP)", number(value, 2), number(off, 2))
        }),
    );
    estimate("Heat capacity", all.heat_capacity.as_ref().map(|e| heat_capacity_text(e, si)));
    estimate(
        "Water activity",
        all.water_activity.as_ref().map(|e| {
            let humidity = 100.0 * e.value.ratio();
            format!(
                "{} ± {}: air of {} % humidity neither wets nor dries it",
                number(e.value.ratio(), 3),
                number(e.uncertainty, 3),
                number(humidity, 1)
            )
        }),
    );
    lines.extend(recipe_lines(brine, si));
    lines
}

fn recipe_lines(brine: &Brine, si: bool) -> Vec<String> {
    let at_60 = recipe::reference_temperature();
    let per_brine = recipe::salt_per_volume_of_brine(brine, at_60);
    let per_water = recipe::salt_per_volume_of_water(brine, at_60);
    match (per_brine, per_water) {
        (Ok(per_brine), Ok(per_water)) => vec![
            format!("Salt per volume of brine {}.", density_text(per_brine, si)),
            format!(
                "Salt per volume of WATER to make it {}: not the same figure.",
                density_text(per_water, si)
            ),
        ],
        _ => Vec::new(),
    }
}

/// The first solid, and where ice comes beside salt, as far as there is liquid left then.
fn freezing_lines(brine: &Brine, first: &FirstSolid, si: bool) -> Vec<String> {
    let last = all_solid_below(brine).ok();
    let what = match first.solid {
        Solid::Ice => "ice".to_string(),
        Solid::IceOrHydrohalite => "ice or salt crystals (it cannot be said which)".to_string(),
        solid => format!("salt crystals, {solid}"),
    };
    let mut lines = vec![format!(
        "First solid on cooling: {what}, at {} ± {} K ({} °F).",
        both(first.temperature, si),
        number(in_kelvins(first.uncertainty), 1),
        number(in_kelvins(first.uncertainty) * 1.8, 1)
    )];
    if let (Solid::IceOrHydrohalite, Some(ice), Some((_, salt))) = (first.solid, first.ice, first.salt) {
        let held = |at: ThermodynamicTemperature| match last {
            Some(last) if in_celsius(last) > in_celsius(at) => last,
            _ => at,
        };
        lines.push(format!("Ice comes at {}, hydrohalite at {}.", both(held(ice), si), both(held(salt), si)));
    } else if first.solid != Solid::Ice
        && let Some(ice) = on_cooling(brine).ok().and_then(|found| found.ice)
        && last.is_none_or(|last| in_celsius(ice) > in_celsius(last) + 0.1)
    {
        lines.push(format!("Beside the salt, ice comes at {}.", both(ice, si)));
    }
    lines
}

fn phase_line(phases: &Phases) -> String {
    let mut parts = vec![format!("liquid {} %", number(100.0 * phases.liquid, 1))];
    if phases.ice > 0.0 {
        parts.push(format!("ice {} %", number(100.0 * phases.ice, 1)));
    }
    for (solid, share) in phases.salts.iter().flatten() {
        parts.push(format!("{solid} {} %", number(100.0 * share, 1)));
    }
    let liquid = phases
        .liquid_strength
        .map_or(String::new(), |w| format!("; the liquid is {} % strong", number(w.percent(), 1)));
    format!("At that temperature, by mass: {}{liquid}.", parts.join(", "))
}

fn both(temperature: ThermodynamicTemperature, si: bool) -> String {
    let (f, c) = (number(in_fahrenheit(temperature), 1), number(in_celsius(temperature), 1));
    if si { format!("{c} °C ({f} °F)") } else { format!("{f} °F ({c} °C)") }
}

fn density_text(density: MassDensity, si: bool) -> String {
    let (us, kg) = (number(in_pounds_per_gallon(density), 3), number(in_kg_per_m3(density), 1));
    if si { format!("{kg} kg/m³ ({us} lb/gal)") } else { format!("{us} lb/gal ({kg} kg/m³)") }
}

fn with_interval_density(e: &Estimate<MassDensity>, si: bool) -> String {
    let pounds = format!(
        "{} ± {} lb/gal",
        number(in_pounds_per_gallon(e.value), 3),
        number(in_pounds_per_gallon(e.uncertainty), 3)
    );
    let kilograms =
        format!("{} ± {} kg/m³", number(in_kg_per_m3(e.value), 1), number(in_kg_per_m3(e.uncertainty), 1));
    if si { format!("{kilograms} ({pounds})") } else { format!("{pounds} ({kilograms})") }
}

fn heat_capacity_text(e: &Estimate<quantity::SpecificHeatCapacity>, si: bool) -> String {
    /// J/(kg·K) in a Btu/(lb·°F): the international table Btu, exact.
    const BTU_PER_POUND_DEGREE: f64 = 4186.8;
    let (value, off) = (in_joules_per_kg_kelvin(e.value), in_joules_per_kg_kelvin(e.uncertainty));
    let joules = format!("{} ± {} J/(kg·K)", number(value, 0), number(off, 0));
    let us = format!(
        "{} ± {} Btu/(lb·°F)",
        number(value / BTU_PER_POUND_DEGREE, 3),
        number(off / BTU_PER_POUND_DEGREE, 3)
    );
    if si { format!("{joules} ({us})") } else { format!("{us} ({joules})") }
}

fn document(brine: &Brine, temperature: ThermodynamicTemperature, all: &Properties) -> Value {
    let at_60 = recipe::reference_temperature();
    let first = all.first_solid.as_ref().ok();
    let mut errors: Vec<String> = Vec::new();
    let mut keep = |what: &str, error: Option<&Error>| {
        if let Some(error) = error {
            errors.push(format!("{what}: {}", sentence(error)));
        }
    };
    keep("density_kg_m3", all.density.as_ref().err());
    keep("viscosity_mpa_s", all.viscosity.as_ref().err());
    keep("heat_capacity_j_kg_k", all.heat_capacity.as_ref().err());
    keep("conductivity_ms_cm", all.conductivity.as_ref().err());
    keep("refractive_index", all.refractive_index.as_ref().err());
    keep("salometer_deg", all.salometer.as_ref().err());
    keep("first_solid", all.first_solid.as_ref().err());
    let pair = |value: Option<(f64, f64)>| value.map(|(value, u)| json!({ "value": value, "u": u }));
    let ok = |e: &Result<Estimate<MassDensity>, Error>| {
        e.as_ref().ok().map(|e| (in_kg_per_m3(e.value), in_kg_per_m3(e.uncertainty)))
    };
    json!({
        "strength_pct": brine.strength().percent(),
        "nacl_wt_pct": brine.part(Salt::SodiumChloride).percent(),
        "cacl2_wt_pct": brine.part(Salt::CalciumChloride).percent(),
        "mgcl2_wt_pct": brine.part(Salt::MagnesiumChloride).percent(),
        "kcl_wt_pct": brine.part(Salt::PotassiumChloride).percent(),
        "na2so4_wt_pct": brine.part(Salt::SodiumSulfate).percent(),
        "temp_c": in_celsius(temperature),
        "density_kg_m3": pair(ok(&all.density)),
        "relative_density_60f": all.relative_density_60f.as_ref().ok().map(|sg| sg.ratio()),
        "baume_deg": all.baume.as_ref().ok().map(|b| b.degrees()),
        "salometer_deg": all.salometer.as_ref().ok().map(|s| s.degrees()),
        "refractive_index": pair(all.refractive_index.as_ref().ok().map(|e| (e.value.index(), e.uncertainty))),
        "brix_deg": all.brix.as_ref().ok().map(|b| b.degrees()),
        "viscosity_mpa_s": pair(all.viscosity.as_ref().ok().map(|e| {
            (in_millipascal_seconds(e.value), in_millipascal_seconds(e.uncertainty))
        })),
        "heat_capacity_j_kg_k": pair(all.heat_capacity.as_ref().ok().map(|e| {
            (in_joules_per_kg_kelvin(e.value), in_joules_per_kg_kelvin(e.uncertainty))
        })),
        "conductivity_ms_cm": pair(all.conductivity.as_ref().ok().map(|e| {
            (in_millisiemens_per_cm(e.value), in_millisiemens_per_cm(e.uncertainty))
        })),
        "water_activity": pair(all.water_activity.as_ref().ok().map(|e| (e.value.ratio(), e.uncertainty))),
        "freezing_c": first.map(|f| in_celsius(f.temperature)),
        "freezing_u_c": first.map(|f| in_kelvins(f.uncertainty)),
        "first_solid": first.map(|f| f.solid.code()),
        "ice_c": first.and_then(|f| f.ice).map(in_celsius),
        "salt_c": first.and_then(|f| f.salt).map(|(_, t)| in_celsius(t)),
        "first_salt": first.and_then(|f| f.salt).map(|(solid, _)| solid.code()),
        "phases": all.phases.as_ref().ok().map(|phases| json!({
            "liquid_wt_pct": 100.0 * phases.liquid,
            "liquid_strength_pct": phases.liquid_strength.map(|w| w.percent()),
            "ice_wt_pct": 100.0 * phases.ice,
            "salts": phases
                .salts
                .iter()
                .flatten()
                .map(|(solid, share)| json!({ "solid": solid.code(), "wt_pct": 100.0 * share }))
                .collect::<Vec<_>>(),
        })),
        "gypsum_index": all.gypsum_index,
        "last_liquid_c": last_liquid(brine).ok().map(in_celsius),
        "thermal_expansion_per_k": density::thermal_expansion(brine, temperature)
            .ok()
            .filter(|_| all.density.is_ok())
            .map(|beta| beta.get::<per_kelvin>()),
        "salt_per_brine_kg_m3": recipe::salt_per_volume_of_brine(brine, at_60).ok().map(in_kg_per_m3),
        "salt_per_water_kg_m3": recipe::salt_per_volume_of_water(brine, at_60).ok().map(in_kg_per_m3),
        "errors": errors,
    })
}
