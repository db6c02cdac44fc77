//! VALIDATION.md: how far every property lies from data that others published or computed.
//!
//! [`generate`] reads the data files kept with the tests, asks our functions for the same points and tabulates the
//! differences. The same input gives the same text. Nothing here is asserted: the tests beside the data do that.

mod brines;
mod instruments;
mod table;

use std::collections::BTreeMap;
use std::path::Path;

use crate::roads::Street;
use crate::{roads, simulated, winter};
use chemistry::density::{relative_density, water_density};
use chemistry::{Brine, MassFraction};
use quantity::{celsius, in_celsius, in_kg_per_m3};
use weather::psychrometrics::{ice_bulb, saturation_over_ice, saturation_over_water, wet_bulb};
use weather::{Fraction, Pressure};

use crate::records::records;
use table::{Data, Part, Point, Table, note, number, part, point, push, read, render, text};

const CHEMISTRY: &str = "crates/chemistry/tests/data";
const OWN: &str = "laboratory/data";
const TANKS: &str = "crates/site/tests/data/tank_volume.csv";

const INTRO: &str = "# Validation

How far our numbers lie from numbers that others published, measured or computed. Written by
`cargo xtask validation` from the data files kept with the tests; `cargo xtask ci` fails when this file is not what
the data give. Do not edit it.

- An **error** is our value less the source's. *Mean* is the mean of the errors with their sign, *worst* the
  largest one, *at* the point where it stands.
- A **tolerance** says how far the sources can be trusted; where they do not say, it is the error our function
  states, and the table says so. It is the same for every source of a property, also for one that the others
  contradict.
- A row outside its tolerance is in **bold**, and a note below the table says what is known and what is not.
- Each source's full citation, and whether it was read in print, in a copy or came from memory, is at the end.
";

/// Where a section comes from that takes minutes to work out.
#[derive(Debug, Clone, Copy)]
pub enum Slow<'a> {
    /// Worked out anew.
    Anew,
    /// Taken over from the text that is kept; the exam works it out and compares.
    AsKept(&'a str),
}

/// A section of a text, with the line before it, up to the next; empty where there is none.
pub fn section<'a>(text: &'a str, heading: &str) -> &'a str {
    let Some(start) = text.find(&format!("\n{heading}\n")) else { return "" };
    let end = text[start + 2..].find("\n## ").map_or(text.len(), |end| start + 2 + end);
    &text[start..end]
}

/// The whole text of VALIDATION.md, from the data files under the workspace `root`.
///
/// The street's rows are not in the tree: without them, anew leaves its section out.
///
/// # Errors
/// Says which file cannot be read or which point our functions refuse.
pub fn generate(root: &Path, slow: Slow<'_>, street: Option<&Street>) -> Result<String, String> {
    let mut cited = BTreeMap::new();
    let mut load = |folder: &str, file: &str| -> Result<Data, String> {
        let data = read(&root.join(folder).join(file))?;
        cited.extend(data.sources.iter().cloned());
        Ok(data)
    };
    let mut tables = brines::tables(|file| load(CHEMISTRY, file))?;
    tables.extend([
        water(&load(CHEMISTRY, "water_density.csv")?)?,
        gravity(&load(CHEMISTRY, "nacl_specific_gravity.csv")?)?,
        vapour(&load(OWN, "vapour_pressure.csv")?)?,
        bulbs(&load(OWN, "wet_bulb.csv")?)?,
    ]);
    tables.push(instruments::table(|file| load(CHEMISTRY, file))?);
    tables.push(tanks(root)?);
    cited.insert("fluids_tank".into(), "`fluids.geometry.TANK` of the Python package fluids 1.3.1".into());
    let mut text = INTRO.to_string();
    for table in &tables {
        render(&mut text, table)?;
    }
    text.push_str(&simulated::coverage::section());
    text.push_str(&simulated::trimming::section()?);
    match slow {
        Slow::Anew => {
            text.push_str(&simulated::judging::judged()?.section);
            text.push_str(&simulated::estimates::held()?.section);
            text.push_str(&simulated::seasons::reconciled()?.section);
            if let Some(street) = street {
                text.push_str(&street.validated()?);
            }
            text.push_str(&winter::section(root)?);
        }
        Slow::AsKept(kept) => {
            text.push_str(section(kept, simulated::judging::HEADING));
            text.push_str(section(kept, simulated::estimates::HEADING));
            text.push_str(section(kept, simulated::seasons::HEADING));
            text.push_str(section(kept, roads::HEADING));
            text.push_str(section(kept, winter::HEADING));
        }
    }
    text.push_str("\n## Sources\n\n");
    for (key, citation) in cited {
        push(&mut text, format_args!("- `{key}`: {citation}\n"))?;
    }
    Ok(text)
}

fn water(data: &Data) -> Result<Table, String> {
    let mut points = Vec::new();
    for row in &data.rows {
        let t = number(row, "temp_c")?;
        let ours = in_kg_per_m3(water_density(celsius(t)).map_err(|e| e.to_string())?);
        points.push(point(row, 0, vec![t], ours - number(row, "density_kg_m3")?)?);
    }
    Ok(Table {
        title: "Density of water",
        about: "Kell's equation; the tolerance is his own.".into(),
        unit: "kg/m³",
        decimals: 4,
        axes: &[" °C"],
        parts: vec![part("0 to 40 °C", 0.01)],
        points,
        notes: vec![],
    })
}

fn gravity(data: &Data) -> Result<Table, String> {
    let mut references: Vec<(String, f64)> = Vec::new();
    let mut points = Vec::new();
    for row in &data.rows {
        let (percent, t) = (number(row, "wt_pct")?, number(row, "sample_temp_c")?);
        let reference = number(row, "water_ref_temp_c")?;
        let name = format!("over water at {reference} °C");
        let known = references.iter().position(|(known, _)| *known == name);
        let place = known.unwrap_or(references.len());
        if known.is_none() {
            // Printed figures end at the third decimal; the density's 1 kg/m³ is as much.
            references.push((name, 0.001));
        }
        let ours =
            relative_density(&brine(percent)?, celsius(t), celsius(reference)).map_err(|e| e.to_string())?;
        points.push(point(row, place, vec![percent, t], ours.ratio() - number(row, "specific_gravity")?)?);
    }
    Ok(Table {
        title: "Relative density (specific gravity) of sodium chloride brine",
        about:
            "15.56 °C is 60 °F. `laliberte_iapws95` is Laliberté's correlation for brine over IAPWS-95 water."
                .into(),
        unit: "ratio",
        decimals: 6,
        axes: &[" %", " °C"],
        parts: references.into_iter().map(|(name, tolerance)| Part { name, tolerance }).collect(),
        points,
        notes: vec![
            note(
                "lange",
                "The print does not state its reference water; 15 °C is assumed, and it has three decimals.",
            ),
            note(
                "laliberte_iapws95",
                "The correlation carried below 0 °C, where ours follows Melinder; see density.",
            ),
        ],
    })
}

fn vapour(data: &Data) -> Result<Table, String> {
    let mut points = Vec::new();
    for row in &data.rows {
        let (t, expected) = (number(row, "temp_c")?, number(row, "pressure_hpa")?);
        let over_ice = text(row, "over")? == "ice";
        let ours = if over_ice { saturation_over_ice(celsius(t)) } else { saturation_over_water(celsius(t)) };
        let ours = ours.map_err(|e| e.to_string())?.hectopascals();
        points.push(point(row, usize::from(over_ice), vec![t], 100.0 * (ours / expected - 1.0))?);
    }
    Ok(Table {
        title: "Saturation pressure of water vapour",
        about: "Errors in per cent of the pressure; tolerances are what we state. `magnus` is the equation \
                we use, worked by another program. 0.3 % of pressure is 0.05 K of dew point."
            .into(),
        unit: "%",
        decimals: 3,
        axes: &[" °C"],
        parts: vec![part("over water", 0.3), part("over ice", 0.5)],
        points,
        notes: vec![note(
            "iapws_water",
            "The Magnus form falls below the full formulation as it warms: 0.2 % at 10 °C, 0.3 % from 20 \
             to 35 °C. What we state is passed by a hair at 25 to 30 °C, warmer than any winter hour.",
        )],
    })
}

fn bulbs(data: &Data) -> Result<Table, String> {
    let mut points = Vec::new();
    for row in &data.rows {
        let (t, humidity) = (number(row, "temp_c")?, number(row, "humidity_pct")?);
        let share = Fraction::from_percent(humidity).map_err(|e| e.to_string())?;
        for (place, column) in ["wet_c", "ice_c"].into_iter().enumerate() {
            if text(row, column)?.is_empty() {
                continue;
            }
            let found = if place == 0 { wet_bulb } else { ice_bulb }(celsius(t), share, Pressure::STANDARD);
            let ours = in_celsius(found.map_err(|e| e.to_string())?);
            points.push(point(row, place, vec![t, humidity], ours - number(row, column)?)?);
        }
    }
    Ok(Table {
        title: "Wet bulb at 1013.25 hPa",
        about: "The source solves our equation in another program, to 0.001 K: a check of the solving, not \
                of the equation, whose coefficients are from memory and good to about 0.1 K."
            .into(),
        unit: "K",
        decimals: 4,
        axes: &[" °C", " % humidity"],
        parts: vec![part("wet bulb", 0.000_6), part("iced bulb", 0.000_6)],
        points,
        notes: vec![],
    })
}

fn tanks(root: &Path) -> Result<Table, String> {
    let path = root.join(TANKS);
    let table = std::fs::read_to_string(&path).map_err(|e| format!("{}: {e}", path.display()))?;
    let ours = site::strapping::strap_csv(&table, ToString::to_string).map_err(|e| e.to_string())?;
    let (expected, ours) = (records(&table)?, records(&ours)?);
    let mut parts: Vec<Part> = Vec::new();
    let mut points = Vec::new();
    for (row, found) in expected.iter().zip(&ours) {
        let name = format!("{}: {}", text(row, "tank_id")?, text(row, "description")?);
        let place = parts.iter().position(|part| part.name == name).unwrap_or(parts.len());
        if place == parts.len() {
            parts.push(Part { name, tolerance: 1.0 });
        }
        let same = expected.iter().filter(|other| other.get("tank_id") == row.get("tank_id"));
        let full = same
            .map(|other| number(other, "volume_m3"))
            .try_fold(0.0, |most: f64, v| v.map(|v| most.max(v)))?;
        let off = number(found, "volume_m3")? - number(row, "volume_m3")?;
        let at = vec![number(row, "liquid_depth_m")?];
        points.push(Point { part: place, source: "fluids_tank".into(), at, error: 1e6 * off / full });
    }
    Ok(Table {
        title: "Volume in a tank at a depth",
        about: "Errors in millionths of the full volume. The source's volumes are rounded to a millilitre \
                and its depths to a micrometre, which is up to 0.3 millionths."
            .into(),
        unit: "ppm of full",
        decimals: 3,
        axes: &[" m"],
        parts,
        points,
        notes: vec![],
    })
}

fn brine(percent: f64) -> Result<Brine, String> {
    MassFraction::from_percent(percent).and_then(Brine::sodium_chloride).map_err(|e| e.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn root() -> std::path::PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
    }

    #[test]
    fn the_committed_file_is_what_the_data_give() {
        let kept = std::fs::read_to_string(root().join("VALIDATION.md")).unwrap();
        let now = generate(&root(), Slow::AsKept(&kept), None).unwrap();
        for (number, (kept, now)) in kept.lines().zip(now.lines()).enumerate() {
            assert_eq!(kept, now, "line {}; run `cargo xtask validation`", number + 1);
        }
        assert_eq!(kept.len(), now.len(), "run `cargo xtask validation`");
    }

    #[test]
    fn every_bold_row_has_a_note() {
        let now = generate(&root(), Slow::AsKept(""), None).unwrap();
        let outside: Vec<&str> = now.lines().filter(|line| line.contains("**no**")).collect();
        assert!(!outside.is_empty(), "models known to contradict print are held at the same tolerance");
        for line in outside {
            assert!(line.contains("`** ("), "no note on: {line}");
        }
    }
}
