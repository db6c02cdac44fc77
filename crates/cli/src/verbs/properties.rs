//! `properties`: freezing, density and salt of sodium chloride brine, one or a CSV of many.

use chemistry::freezing::{FirstSolid, Solid};
use chemistry::quantity::{
    MassDensity, celsius, fahrenheit, in_celsius, in_fahrenheit, in_kelvins, in_kg_per_m3,
    in_pounds_per_gallon,
};
use chemistry::{Brine, MassFraction, density, recipe, salometer};
use report::display::number;
use serde_json::json;

use crate::args::{self, Units};
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Columns added to a CSV.
const ADDED: [&str; 8] = [
    "density_kg_m3",
    "relative_density_60f",
    "salometer_deg",
    "freezing_c",
    "freezing_u_c",
    "first_solid",
    "salt_per_brine_kg_m3",
    "error",
];

/// Runs the verb.
pub fn run(args: &args::Properties, units: Option<Units>) -> Outcome {
    match &args.csv {
        Some(path) => print(&rows(&input::text(path)?, &path.display().to_string())?)?,
        None => one(args, units)?,
    }
    Ok(Done::Yes)
}

fn one(args: &args::Properties, units: Option<Units>) -> Result<(), Failure> {
    let refuse = |error: chemistry::Error| Failure::Input(error.to_string());
    let percent = args.strength_pct.unwrap_or(0.0);
    let temperature = match (args.temp_f, args.temp_c) {
        (Some(f), _) => fahrenheit(f),
        (None, Some(c)) => celsius(c),
        (None, None) => recipe::reference_temperature(),
    };
    if 0.0 < percent && percent < 0.27 {
        return Err(Failure::Input(format!(
            "--strength-pct = {percent}: looks like a fraction; write {}; accepted: per cent by mass, 0…26.3",
            percent * 100.0
        )));
    }
    let brine = MassFraction::from_percent(percent).and_then(Brine::sodium_chloride).map_err(refuse)?;
    let rho = brine.density(temperature).map_err(refuse)?;
    let sg =
        density::relative_density(&brine, recipe::reference_temperature(), recipe::reference_temperature())
            .map_err(refuse)?;
    let per_brine =
        recipe::salt_per_volume_of_brine(&brine, recipe::reference_temperature()).map_err(refuse)?;
    let per_water =
        recipe::salt_per_volume_of_water(&brine, recipe::reference_temperature()).map_err(refuse)?;
    let degrees = salometer::degrees(&brine).map_err(refuse)?;
    let first = brine.first_solid();
    if args.json {
        return print(&format!(
            "{:#}",
            json!({
                "strength_pct": percent,
                "temp_c": in_celsius(temperature),
                "density_kg_m3": in_kg_per_m3(rho),
                "relative_density_60f": sg.ratio(),
                "salometer_deg": degrees.degrees(),
                "freezing_c": in_celsius(first.temperature),
                "freezing_u_c": in_kelvins(first.uncertainty),
                "first_solid": solid(first.solid),
                "salt_per_brine_kg_m3": in_kg_per_m3(per_brine),
                "salt_per_water_kg_m3": in_kg_per_m3(per_water),
            })
        ));
    }
    let si_first = matches!(units, Some(Units::Si));
    print(
        &[
            format!(
                "Sodium chloride brine, {} % by mass, at {}.",
                number(percent, 2),
                both(temperature, si_first)
            ),
            freezing_line(&first, si_first),
            format!("Density {}.", both_density(rho, si_first)),
            format!(
                "Relative density at 60/60 °F {}; salometer {} degrees.",
                number(sg.ratio(), 4),
                number(degrees.degrees(), 1)
            ),
            format!("Salt per volume of brine {}.", both_density(per_brine, si_first)),
            format!(
                "Salt per volume of WATER to make it {}: not the same figure.",
                both_density(per_water, si_first)
            ),
        ]
        .join("\n"),
    )
}

fn freezing_line(first: &FirstSolid, si_first: bool) -> String {
    let what = match first.solid {
        Solid::Ice => "ice",
        Solid::IceOrHydrohalite => "ice or salt crystals (it cannot be said which)",
        Solid::Hydrohalite | Solid::Halite => "salt crystals",
    };
    format!(
        "First solid on cooling: {what}, at {} ± {} K ({} °F).",
        both(first.temperature, si_first),
        number(in_kelvins(first.uncertainty), 1),
        number(in_kelvins(first.uncertainty) * 1.8, 1)
    )
}

fn both(temperature: chemistry::quantity::ThermodynamicTemperature, si_first: bool) -> String {
    let (f, c) = (number(in_fahrenheit(temperature), 1), number(in_celsius(temperature), 1));
    if si_first { format!("{c} °C ({f} °F)") } else { format!("{f} °F ({c} °C)") }
}

fn both_density(density: MassDensity, si_first: bool) -> String {
    let (us, si) = (number(in_pounds_per_gallon(density), 3), number(in_kg_per_m3(density), 1));
    if si_first { format!("{si} kg/m³ ({us} lb/gal)") } else { format!("{us} lb/gal ({si} kg/m³)") }
}

fn solid(solid: Solid) -> &'static str {
    match solid {
        Solid::Ice => "ice",
        Solid::IceOrHydrohalite => "ice_or_hydrohalite",
        Solid::Hydrohalite => "hydrohalite",
        Solid::Halite => "halite",
    }
}

/// Rows with the properties added. A value out of range is empty and named in `error`; the other values stay.
fn rows(text: &str, name: &str) -> Result<String, Failure> {
    let refuse = |problem: String| Failure::Input(format!("{name}: {problem}"));
    let mut reader =
        csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).from_reader(text.as_bytes());
    let headers = reader.headers().map_err(|e| refuse(e.to_string()))?.clone();
    let column = |wanted: &str| {
        headers.iter().position(|h| h == wanted).ok_or_else(|| {
            let hint = yard::entry::did_you_mean(wanted, headers.iter());
            refuse(format!(
                "column {wanted} is missing{hint}; accepted: nacl_wt_pct, temp_c; found: {}",
                headers.iter().collect::<Vec<_>>().join(", ")
            ))
        })
    };
    let (strength, temperature) = (column("nacl_wt_pct")?, column("temp_c")?);
    let mut writer = csv::Writer::from_writer(Vec::new());
    let failed = |error: String| Failure::Machine(format!("the table could not be written: {error}"));
    writer.write_record(headers.iter().chain(ADDED)).map_err(|e| failed(e.to_string()))?;
    for record in reader.records() {
        let record = record.map_err(|e| refuse(e.to_string()))?;
        let added = added(record.get(strength).unwrap_or(""), record.get(temperature).unwrap_or(""));
        writer
            .write_record(record.iter().map(str::to_string).chain(added))
            .map_err(|e| failed(e.to_string()))?;
    }
    let bytes = writer.into_inner().map_err(|e| failed(e.to_string()))?;
    String::from_utf8(bytes).map_err(|e| failed(e.to_string()))
}

fn added(strength: &str, temperature: &str) -> [String; 8] {
    let mut cells: [String; 8] = Default::default();
    let mut errors: Vec<String> = Vec::new();
    let mut number_of = |name: &str, text: &str| {
        let found = yard::entry::parse_number(text);
        if let Err((problem, accepted)) = &found {
            errors.push(format!("{name} = \"{text}\": {problem}; accepted: {accepted}"));
        }
        found.ok()
    };
    let (percent, t) = (number_of("nacl_wt_pct", strength), number_of("temp_c", temperature));
    let brine = percent.map(|p| MassFraction::from_percent(p).and_then(Brine::sodium_chloride));
    match brine {
        Some(Ok(brine)) => {
            let reference = recipe::reference_temperature();
            let mut put = |cell: usize, value: Result<f64, chemistry::Error>| match value {
                Ok(value) => cells[cell] = format!("{value}"),
                Err(error) => errors.push(error.to_string()),
            };
            if let Some(t) = t {
                put(0, brine.density(celsius(t)).map(in_kg_per_m3));
            }
            put(1, density::relative_density(&brine, reference, reference).map(|sg| sg.ratio()));
            put(2, salometer::degrees(&brine).map(|d| d.degrees()));
            put(6, recipe::salt_per_volume_of_brine(&brine, reference).map(in_kg_per_m3));
            let first = brine.first_solid();
            cells[3] = format!("{}", in_celsius(first.temperature));
            cells[4] = format!("{}", in_kelvins(first.uncertainty));
            cells[5] = solid(first.solid).to_string();
        }
        Some(Err(error)) => errors.push(error.to_string()),
        None => {}
    }
    cells[7] = errors.join("; ");
    cells
}
