//! The tables of brine properties: every source, every salt, at the tolerance asked for or at the interval we state.

mod cooling;
mod parts;
mod properties;

use chemistry::{
    RefractiveIndex, Salt, conductivity, density, heat_capacity, refraction, viscosity, water, water_activity,
};
use quantity::{
    celsius, in_joules_per_kg_kelvin, in_kg_per_m3, in_millipascal_seconds, in_millisiemens_per_cm,
};

use crate::validation::table::{Data, Part, Table, note, number, point};
use parts::{Compared, Parts, blend_of};

/// All tables of single salts and of blends.
pub(super) fn tables(mut load: impl FnMut(&str) -> Result<Data, String>) -> Result<Vec<Table>, String> {
    let mut tables = cooling::tables(&mut load)?;
    tables.extend(properties::tables(&mut load)?);
    tables.extend([
        blends(&load("blends.csv")?)?,
        brix(&load("brix_print.csv")?)?,
        water_index(&load("water_index.csv")?)?,
    ]);
    Ok(tables)
}

fn blends(data: &Data) -> Result<Table, String> {
    let (mut parts, mut points) = (Parts(Vec::new()), Vec::new());
    for row in &data.rows {
        let brine = blend_of(row)?;
        let t = number(row, "temp_c")?;
        let at = celsius(t);
        // Name, value, the other program's column, share of the interval as tolerance: all in shares of what we state.
        let ours: [Compared; 6] = [
            (
                "density, Laliberté",
                "density_laliberte_kg_m3",
                density::estimate(&brine, at).map(|e| (in_kg_per_m3(e.value), in_kg_per_m3(e.uncertainty))),
            ),
            (
                "density, PHREEQC",
                "density_phreeqc_kg_m3",
                density::estimate(&brine, at).map(|e| (in_kg_per_m3(e.value), in_kg_per_m3(e.uncertainty))),
            ),
            (
                "conductivity, PHREEQC",
                "conductivity_phreeqc_ms_per_cm",
                conductivity::estimate(&brine, at)
                    .map(|e| (in_millisiemens_per_cm(e.value), in_millisiemens_per_cm(e.uncertainty))),
            ),
            (
                "activity of water, ColdChem",
                "water_activity_coldchem",
                water_activity::estimate(&brine, at).map(|e| (e.value.ratio(), e.uncertainty)),
            ),
            (
                "viscosity, Laliberté",
                "viscosity_laliberte_mpa_s",
                viscosity::estimate(&brine, at)
                    .map(|e| (in_millipascal_seconds(e.value), in_millipascal_seconds(e.uncertainty))),
            ),
            (
                "heat capacity, Laliberté",
                "cp_laliberte_j_kg_k",
                heat_capacity::estimate(&brine, at)
                    .map(|e| (in_joules_per_kg_kelvin(e.value), in_joules_per_kg_kelvin(e.uncertainty))),
            ),
        ];
        for (name, column, value) in ours {
            let Ok((value, interval)) = value else { continue };
            let part = parts.place(name.to_string(), 1.0);
            let mut at: Vec<f64> = Salt::ALL.into_iter().map(|salt| brine.part(salt).percent()).collect();
            at.push(t);
            points.push(point(row, part, at, (value - number(row, column)?) / interval)?);
        }
    }
    let parts = parts.sorted(&mut points);
    Ok(Table {
        title: "Blends: mixing rules against other programs",
        about: "Errors as shares of the interval we state, so that 1 is just inside. Points are NaCl, CaCl2, MgCl2, KCl, Na2SO4, \
                temperature. No measured blends of road brines were found."
            .into(),
        unit: "of what we state",
        decimals: 2,
        axes: &[" %", " %", " %", " %", " %", " °C"],
        parts,
        points,
        notes: vec![note(
            "blend",
            "Away from 20 °C both programs carry each salt's own misses (see the tables above): density by PHREEQC of strong CaCl2 in the \
             cold, viscosity by Laliberté below its data, conductivity of MgCl2 by PHREEQC, 8 % above print.",
        )],
    })
}

fn brix(data: &Data) -> Result<Table, String> {
    let mut points = Vec::new();
    for row in &data.rows {
        let (degrees, n) = (number(row, "brix_pct")?, number(row, "n_d")?);
        let index = RefractiveIndex::from_index(n).map_err(|e| e.to_string())?;
        // The scale covered ends at 70 degrees.
        let Ok(ours) = refraction::brix(index).map(|b| b.degrees()) else { continue };
        points.push(point(row, 0, vec![degrees], ours - degrees)?);
    }
    Ok(Table {
        title: "Sugar scale",
        about:
            "Degrees Brix at the printed index of sucrose; print has four decimals, which are 0.03 degrees."
                .into(),
        unit: "degrees",
        decimals: 3,
        axes: &[" °Bx"],
        parts: vec![Part { name: "11 to 60 degrees".into(), tolerance: 0.06 }],
        points,
        notes: vec![],
    })
}

fn water_index(data: &Data) -> Result<Table, String> {
    let mut points = Vec::new();
    for row in &data.rows {
        let t = number(row, "temp_c")?;
        let ours = water::refractive_index(celsius(t)).map_err(|e| e.to_string())?.index();
        points.push(point(row, 0, vec![t], ours - number(row, "n_d")?)?);
    }
    Ok(Table {
        title: "Refractive index of water",
        about: "The same release by another program: we copied it rightly.".into(),
        unit: "1",
        decimals: 6,
        axes: &[" °C"],
        parts: vec![Part { name: "−5 to 40 °C".into(), tolerance: 0.00002 }],
        points,
        notes: vec![],
    })
}
