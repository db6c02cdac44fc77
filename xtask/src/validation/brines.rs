//! The tables of brine properties: every source, every salt, at the tolerance asked for or at the interval we state.

use chemistry::enthalpy::heat_of_solution;
use chemistry::equilibrium::{ice_point, onset};
use chemistry::freezing::{Solid, first_solid, saturated_at, saturated_beside};
use chemistry::phases::phases;
use chemistry::{
    Brine, Error, MassFraction, RefractiveIndex, Salt, conductivity, density, heat_capacity, refraction,
    root, viscosity, water, water_activity,
};
use quantity::{
    celsius, in_celsius, in_joules_per_kg_kelvin, in_kelvins, in_kg_per_m3, in_kilojoules_per_kg,
    in_millipascal_seconds, in_millisiemens_per_cm,
};

use super::{Data, Note, Part, Point, Table, note, number, point, text};

/// Value and stated interval of a property, in the unit of its data.
type Ours = fn(&Brine, f64) -> Result<(f64, f64), Error>;

/// A property of a blend: its name, the other program's column, our value and interval.
type Compared = (&'static str, &'static str, Result<(f64, f64), Error>);

/// One property of single salts.
struct Property {
    title: &'static str,
    about: &'static str,
    unit: &'static str,
    decimals: usize,
    column: &'static str,
    /// Errors in per cent of the source's value.
    relative: bool,
    ours: Ours,
    /// What is asked of a salt at a temperature, where that is not the interval we state: name and tolerance.
    asked: fn(Salt, f64) -> Option<(&'static str, f64)>,
    notes: Vec<Note>,
}

/// Parts of a table by name, in the order they are met.
struct Parts(Vec<Part>);

impl Parts {
    fn place(&mut self, name: String, tolerance: f64) -> usize {
        let known = self.0.iter().position(|part| part.name == name);
        known.unwrap_or_else(|| {
            self.0.push(Part { name, tolerance });
            self.0.len() - 1
        })
    }

    /// Parts by name, with their points moved along.
    fn sorted(mut self, points: &mut [Point]) -> Vec<Part> {
        let names: Vec<String> = self.0.iter().map(|part| part.name.clone()).collect();
        let rank = |name: &str| Salt::ALL.iter().position(|salt| name.starts_with(salt.formula()));
        self.0.sort_by(|a, b| (rank(&a.name), &a.name).cmp(&(rank(&b.name), &b.name)));
        for point in points {
            let name = &names[point.part];
            point.part = self.0.iter().position(|part| part.name == *name).unwrap_or(0);
        }
        self.0
    }
}

fn salt_of(formula: &str) -> Result<Salt, String> {
    let found = Salt::ALL.into_iter().find(|salt| salt.formula() == formula);
    found.ok_or_else(|| format!("no salt {formula}"))
}

fn brine_of(salt: Salt, percent: f64) -> Result<Brine, Error> {
    MassFraction::from_percent(percent).and_then(|w| Brine::of(salt, w))
}

fn table(data: &Data, property: Property) -> Result<Table, String> {
    let (mut parts, mut points, mut refused) = (Parts(Vec::new()), Vec::new(), 0);
    for row in &data.rows {
        let (salt, percent, t) =
            (salt_of(text(row, "salt")?)?, number(row, "wt_pct")?, number(row, "temp_c")?);
        let expected = number(row, property.column)?;
        let Ok((ours, interval)) = brine_of(salt, percent).and_then(|brine| (property.ours)(&brine, t))
        else {
            refused += 1;
            continue;
        };
        let scale = if property.relative { 100.0 / expected } else { 1.0 };
        let (place, tolerance) = match (property.asked)(salt, t) {
            Some((place, tolerance)) => {
                (format!("{} {place}", salt.formula()).trim_end().to_string(), tolerance)
            }
            None => {
                let stated = if property.relative { 100.0 * interval / ours } else { interval };
                // Rounded, so that one stated interval is one part.
                let stated = format!("{stated:.2e}").parse::<f64>().unwrap_or(stated);
                (format!("{} where ±{stated} is stated", salt.formula()), stated)
            }
        };
        let part = parts.place(place, tolerance);
        points.push(point(row, part, vec![percent, t], (ours - expected) * scale)?);
    }
    let parts = parts.sorted(&mut points);
    let about = match refused {
        0 => property.about.to_string(),
        n => format!("{} {n} rows lie outside what we cover and are refused.", property.about),
    };
    Ok(Table {
        title: property.title,
        about,
        unit: property.unit,
        decimals: property.decimals,
        axes: &[" %", " °C"],
        parts,
        points,
        notes: property.notes,
    })
}

/// All tables of single salts and of blends.
pub(super) fn tables(mut load: impl FnMut(&str) -> Result<Data, String>) -> Result<Vec<Table>, String> {
    Ok(vec![
        ice(&load("ice_points.csv")?)?,
        saturation(&load("saturation.csv")?)?,
        amounts(&load("phase_fractions.csv")?)?,
        beside(&load("halite_beside.csv")?)?,
        engine(&load("ice_points.csv")?)?,
        onsets(&load("blend_onset.csv")?)?,
        cotectic(&load("cotectic.csv")?)?,
        table(&load("density.csv")?, density_property())?,
        table(&load("viscosity.csv")?, viscosity_property())?,
        table(&load("heat_capacity.csv")?, heat_capacity_property())?,
        table(&load("conductivity.csv")?, conductivity_property())?,
        table(&load("refractive_index.csv")?, index_property())?,
        table(&load("water_activity.csv")?, activity_property())?,
        table(&load("relative_enthalpy.csv")?, enthalpy_property())?,
        blends(&load("blends.csv")?)?,
        brix(&load("brix_print.csv")?)?,
        water_index(&load("water_index.csv")?)?,
    ])
}

const LALIBERTE_COLD: &str = "Published for warmer brine and carried below its own data; it leaves the sources that were \
                              measured there.";

fn density_property() -> Property {
    Property {
        title: "Density",
        about: "Our fit; 1 kg/m³ is 0.12 % of strength of NaCl. Asked of print: NaCl 0.5 kg/m³ at 10…40 °C and 1.5 colder, CaCl2 \
                and MgCl2 2.5 at 20 °C.",
        unit: "kg/m³",
        decimals: 2,
        column: "density_kg_m3",
        relative: false,
        ours: |brine, t| {
            density::estimate(brine, celsius(t)).map(|e| (in_kg_per_m3(e.value), in_kg_per_m3(e.uncertainty)))
        },
        asked: |salt, t| match salt {
            Salt::SodiumChloride if t >= 10.0 => Some(("at 10…40 °C", 0.5)),
            Salt::SodiumChloride => Some(("below 10 °C", 1.5)),
            Salt::CalciumChloride | Salt::MagnesiumChloride if (t - 20.0).abs() < 0.1 => {
                Some(("at 20 °C", 2.5))
            }
            _ => None,
        },
        notes: vec![
            note(
                "coolprop_mna",
                "Melinder's fit at 20 %, −15 °C is 1.7 kg/m³ below ours, other cold strong brines 1; nothing \
                 printed was found there, and the interval of 2.5 we state holds it.",
            ),
            note(
                "coolprop_mna2",
                "This CoolProp fit misses print itself: 5.3 kg/m³ above the handbook at 5 %, 20 °C.",
            ),
            note("coolprop_vna", "1.2 kg/m³ above the handbook at 22 %, 20 °C itself."),
            note(
                "laliberte",
                "The published correlation misses print itself: 0.4 kg/m³ at 10 °C and −0.5 at 26 %, 20 °C, and of MgCl2 and CaCl2 up to 3 when strong.",
            ),
            note("laliberte_x", LALIBERTE_COLD),
            note(
                "phreeqc",
                "Strong brine in the cold, and strong CaCl2 and MgCl2 anywhere, lie up to 25 kg/m³ from every other source.",
            ),
            note("simion", "0.1 % brine: off pure water itself by 1 kg/m³ at 0 °C."),
            note("conde", "A fit to 100 °C; 2 to 5 kg/m³ from print and from Melinder."),
            note(
                "coolprop_mca",
                "4 kg/m³ below the handbook's own slope at 30…40 °C, where Melinder's data end; CoolProp's MCA2 agrees with ours.",
            ),
            note(
                "coolprop_mmg",
                "15 %, 40 °C: 2.6 kg/m³ from the handbook's slope, which the two others for the same salt keep.",
            ),
            note("coolprop_vca", "3 to 5 kg/m³ from the two Melinder fits itself."),
            note(
                "coolprop_vmg",
                "2 to 3 kg/m³ from the other two CoolProp fits and from the handbook itself.",
            ),
            note("alghafri", "The fit is about 1 kg/m³ from the handbook at 20 °C; at 30…32 % and 40 °C 3."),
        ],
    }
}

fn viscosity_property() -> Property {
    Property {
        title: "Viscosity",
        about: "Asked: NaCl 3 %, others 10 %. Below 0 °C we state 6 and 18 %: sources differ by so much.",
        unit: "%",
        decimals: 2,
        column: "viscosity_mpa_s",
        relative: true,
        ours: |brine, t| {
            let e = viscosity::estimate(brine, celsius(t))?;
            Ok((in_millipascal_seconds(e.value), in_millipascal_seconds(e.uncertainty)))
        },
        asked: |salt, t| match (salt, t < 0.0) {
            (Salt::SodiumChloride, false) => Some(("from 0 °C", 3.0)),
            (Salt::SodiumChloride, true) => Some(("below 0 °C", 6.0)),
            (_, false) => Some(("from 0 °C", 10.0)),
            (_, true) => Some(("below 0 °C", 18.0)),
        },
        notes: vec![
            note("coolprop_mna", "3 % below the handbook at 22 %, 20 °C itself."),
            note("coolprop_mna2", "4 % below the handbook at 22 %, 20 °C itself."),
            note("coolprop_vna", "5 % below the handbook at 10…20 %, 20 °C itself."),
            note(
                "coolprop_mmg",
                "A fit that bends away: at 15 %, 40 °C 20 % from the two others for the same salt.",
            ),
            note("coolprop_vca", "16 % from the two Melinder fits in the cold itself."),
            note("laliberte_x", LALIBERTE_COLD),
            note("laliberte", "KCl at 5 °C: 6 % from Mao & Duan, which stay with the handbook."),
        ],
    }
}

fn heat_capacity_property() -> Property {
    Property {
        title: "Specific heat capacity",
        about: "Asked: NaCl 1 %. We state 2 % for the others.",
        unit: "%",
        decimals: 2,
        column: "cp_j_kg_k",
        relative: true,
        ours: |brine, t| {
            let e = heat_capacity::estimate(brine, celsius(t))?;
            Ok((in_joules_per_kg_kelvin(e.value), in_joules_per_kg_kelvin(e.uncertainty)))
        },
        asked: |salt, _| match salt {
            Salt::SodiumChloride => Some(("", 1.0)),
            _ => Some(("", 2.0)),
        },
        notes: vec![
            note(
                "coolprop_vna",
                "0.7 % above Pitzer et al. and both other CoolProp fits itself, 1.1 % when cold.",
            ),
            note("laliberte_x", LALIBERTE_COLD),
            note("laliberte", "NaCl, 26.5 % at 5 °C: 1 % below Pitzer et al."),
            note("coolprop_mmg", "At 20 %, 40 °C the fit bends away from the two others for the same salt."),
        ],
    }
}

fn conductivity_property() -> Property {
    Property {
        title: "Electrical conductivity",
        about: "Asked of print: NaCl 1.5 % at 20 °C. Below 0 °C nothing measured was found: `phreeqc_x` is a model carried there.",
        unit: "%",
        decimals: 2,
        column: "ms_per_cm",
        relative: true,
        ours: |brine, t| {
            let e = conductivity::estimate(brine, celsius(t))?;
            Ok((in_millisiemens_per_cm(e.value), in_millisiemens_per_cm(e.uncertainty)))
        },
        asked: |salt, t| {
            (salt == Salt::SodiumChloride && (t - 20.0).abs() < 0.1).then_some(("at 20 °C", 1.5))
        },
        notes: vec![
            note("phreeqc", "Above the handbook itself: CaCl2 1 to 5 %, MgCl2 6 to 10 %, Na2SO4 5 % below."),
            note("phreeqc_x", "The same model carried below 0 °C."),
            note("mckee", "KCl, 15…24 %, at 40 °C: 3 % above our fit, which goes between it and PHREEQC."),
        ],
    }
}

fn index_property() -> Property {
    Property {
        title: "Refractive index",
        about: "0.0002 is 0.1 % of strength of NaCl. Asked of print: 0.0002 at 20 °C. Away from it nothing measured was found.",
        unit: "1",
        decimals: 5,
        column: "n_d",
        relative: false,
        ours: |brine, t| refraction::estimate(brine, celsius(t)).map(|e| (e.value.index(), e.uncertainty)),
        asked: |_, t| match (t - 20.0).abs() {
            off if off < 0.1 => Some(("at 20 °C", 0.0002)),
            off if off <= 10.0 => Some(("at 10…30 °C", 0.0008)),
            _ => Some(("further from 20 °C", 0.0014)),
        },
        notes: vec![note(
            "tan",
            "The fit misses the handbook itself by 0.0012 at 10 % and −0.0014 at 22 % NaCl, and pure water by 0.0016.",
        )],
    }
}

fn activity_property() -> Property {
    Property {
        title: "Activity of water",
        about: "At the interval we state. 0.01 is one per cent of relative humidity.",
        unit: "1",
        decimals: 4,
        column: "water_activity",
        relative: false,
        ours: |brine, t| {
            water_activity::estimate(brine, celsius(t)).map(|e| (e.value.ratio(), e.uncertainty))
        },
        asked: |_, _| None,
        notes: vec![],
    }
}

fn enthalpy_property() -> Property {
    Property {
        title: "Heat of solution: apparent relative molar enthalpy at 25 °C",
        about: "Integral heat of solution less that at infinite dilution, kJ per mol of salt; at the interval we state.",
        unit: "kJ/mol",
        decimals: 2,
        column: "lphi_kj_mol",
        relative: false,
        ours: |brine, _| {
            let salt = brine.only_salt().unwrap_or(Salt::SodiumChloride);
            let (molar, dilute, stated) = match salt {
                Salt::SodiumChloride => (58.44, 3.88, 0.1),
                Salt::CalciumChloride => (110.978, -81.85, 0.6),
                Salt::MagnesiumChloride => (95.205, -159.8, 2.0),
                _ => (74.548, 17.22, 0.1),
            };
            let heat = heat_of_solution(salt, brine.strength())?;
            Ok((in_kilojoules_per_kg(heat) * molar / 1000.0 - dilute, stated))
        },
        asked: |_, _| None,
        notes: vec![
            note(
                "moller88",
                "A set fitted to solubility at 25…250 °C; its enthalpies lie 4 kJ/mol from those fitted to measured heats.",
            ),
            note("coldchem", "CaCl2: 0.3 kJ/mol from Clegg's fit to measured heats. MgCl2: see `delima83`."),
            note(
                "delima83",
                "MgCl2 above 2 mol/kg: this set and `pabalan87` lie 15 % above `coldchem` and `sp78`; ours goes between.",
            ),
            note("pabalan87", "As `delima83`."),
            note(
                "sp78",
                "KCl: 0.1 to 0.2 kJ/mol above Archer (1999), which is later and rests on more data.",
            ),
        ],
    }
}

fn ice(data: &Data) -> Result<Table, String> {
    let (mut parts, mut points) = (Parts(Vec::new()), Vec::new());
    for row in &data.rows {
        let (salt, percent) = (salt_of(text(row, "salt")?)?, number(row, "wt_pct")?);
        let first =
            brine_of(salt, percent).and_then(|brine| first_solid(&brine)).map_err(|e| e.to_string())?;
        let Some(ice) = first.ice else { continue };
        let (place, tolerance) = match (salt, first.solid) {
            (Salt::SodiumChloride, _) if percent <= 20.0 => ("to 20 %", 0.05),
            (Salt::SodiumChloride, _) if percent <= 22.5 => ("20 to 22.5 %", 0.1),
            (Salt::SodiumChloride, Solid::IceOrHydrohalite | Solid::Ice) => ("22.5 to 23.5 %", 0.5),
            (_, Solid::Ice) => match in_kelvins(first.uncertainty) {
                u if u <= 0.1 => ("where ±0.1 is stated", 0.1),
                u if u <= 0.2 => ("where ±0.2 is stated", 0.2),
                u if u <= 0.3 => ("where ±0.3 is stated", 0.3),
                u if u <= 0.8 => ("where ±0.8 is stated", 0.8),
                u if u <= 1.0 => ("where ±1 is stated", 1.0),
                u if u <= 1.5 => ("where ±1.5 is stated", 1.5),
                u if u <= 2.0 => ("where ±2 is stated", 2.0),
                _ => ("where ±2.5 is stated", 2.5),
            },
            _ => ("metastable", 3.0),
        };
        let part = parts.place(format!("{} {place}", salt.formula()), tolerance);
        points.push(point(row, part, vec![percent], in_celsius(ice) - number(row, "t_ice_c")?)?);
    }
    let parts = parts.sorted(&mut points);
    Ok(Table {
        title: "Temperature at which ice appears",
        about: "Our fit. Print is `crc` and `lange`; NaCl goes between the two, which differ by 0.07 K at 6 %. *Metastable*: \
                where salt comes first and ice would need supercooling, which only models say."
            .into(),
        unit: "K",
        decimals: 3,
        axes: &[" %"],
        parts,
        points,
        notes: vec![
            note("coldchem", "The low-temperature Pitzer sets lie below print for NaCl, by 0.05 K at 10 % and 0.3 K at 22 %; for CaCl2 \
                 above 12 % this one goes up to 2 K below print and every other source."),
            note("frezchem", "NaCl: as `coldchem`."),
            note("pitzer_ice", "The water activity of pitzer.dat is carried below the temperatures it was made for."),
            note("coolprop_vna", "This CoolProp fit lies 0.16 K below the handbook at 10 % and 0.23 K at 22 %."),
            note("coolprop_vca", "From 8 to 29 % this fit swings 5 K to either side of the handbook and of the other two."),
            note("coolprop_vmg", "2 to 4 K below Lange and ColdChem."),
            note("coolprop_mmg", "0.5 to 1.2 K below Lange and ColdChem at 10…18 %."),
            note("coolprop_mmg2", "As `coolprop_mmg`."),
            note("coolprop_mna", "0.1 K above print at 22.5 % itself."),
            note("hall", "Coefficients from memory; 0.1 K above print at 22 %."),
            note("crc", "CaCl2 above 24 %: the handbook's points are 3 to 7 K warmer than every model, and at 32 % it calls ice what lies on \
                 the hydrate's side. Not followed there."),
            note("lange", "MgCl2, 22 %: Lange gives no solid; it lies at the eutectic, where the hydrate may come first."),
        ],
    })
}

fn saturation(data: &Data) -> Result<Table, String> {
    let (mut parts, mut points) = (Parts(Vec::new()), Vec::new());
    for row in &data.rows {
        let (salt, solid) = (salt_of(text(row, "salt")?)?, text(row, "solid")?);
        let (t, percent) = (number(row, "temp_c")?, number(row, "wt_pct")?);
        let tolerance = match solid {
            "hydrohalite" => 0.15,
            "halite" => 0.05,
            "cacl2_6h2o" if t > 25.0 => 1.5,
            "cacl2_6h2o" => 0.5,
            "sylvite" => 0.2,
            _ => 0.3,
        };
        // The 12-hydrate melts whole: its curve is held in temperature.
        let error = if solid == "mgcl2_12h2o" {
            let brine = brine_of(salt, percent).map_err(|e| e.to_string())?;
            let first = first_solid(&brine).map_err(|e| e.to_string())?;
            first.salt.map(|(_, at)| in_celsius(at) - t)
        } else {
            // Where another solid is the less soluble one, this one is not what the brine is saturated with.
            let stable = saturated_at(salt, celsius(t)).ok().filter(|(found, _)| found.code() == solid);
            stable.map(|(_, w)| w.percent() - percent)
        };
        let Some(error) = error else { continue };
        let (name, tolerance) = if solid == "mgcl2_12h2o" {
            (format!("{} {solid}, in K", salt.formula()), 0.5)
        } else {
            // Near 30 °C the hexahydrate melts whole, and its curve stands upright.
            let upright = if solid == "cacl2_6h2o" && t > 25.0 { " above 25 °C" } else { "" };
            (format!("{} {solid}{upright}", salt.formula()), tolerance)
        };
        let part = parts.place(name, tolerance);
        points.push(point(row, part, vec![percent, t], error)?);
    }
    let parts = parts.sorted(&mut points);
    Ok(Table {
        title: "Strength of saturated brine",
        about: "Asked: hydrohalite within 0.15 % of print (`crc_solubility`, `kaufmann`), which is 1 K. The others at what we state."
            .into(),
        unit: "% by mass",
        decimals: 3,
        axes: &[" %", " °C"],
        parts,
        points,
        notes: vec![
            note("coldchem", "Holds 0.15 to 0.2 % less salt in the cold than Kaufmann's print; CaCl2: 0.5 % more than print at −5…5 °C."),
            note("frezchem", "Holds 0.2 % less NaCl than print, also as halite; CaCl2 at 25 °C 0.4 % less than the IUPAC-NIST point; the 12-hydrate 0.8 K \
                 warmer than Lange."),
            note("steiger", "An evaluation that lies 0.1 % below Kaufmann's print in the cold; the curve goes between."),
            note("list_cacl2", "The list's own points at −25 and 25 °C contradict the IUPAC-NIST point and both models."),
        ],
    })
}

fn amounts(data: &Data) -> Result<Table, String> {
    let mut points = Vec::new();
    for row in &data.rows {
        let (percent, t) = (number(row, "nacl_wt_pct")?, number(row, "temp_c")?);
        let brine = brine_of(Salt::SodiumChloride, percent).map_err(|e| e.to_string())?;
        let found = phases(&brine, celsius(t)).map_err(|e| e.to_string())?;
        let part = usize::from((t - -21.1).abs() < 1.0);
        let ours = [
            ("ice_wt_pct", found.ice),
            ("hydrohalite_wt_pct", found.of(Solid::Hydrohalite)),
            ("halite_wt_pct", found.of(Solid::Halite)),
        ];
        for (column, share) in ours {
            points.push(point(row, part, vec![percent, t], 100.0 * share - number(row, column)?)?);
        }
    }
    Ok(Table {
        title: "Ice, hydrohalite and halite in sodium chloride brine",
        about: "Parts by mass of 100, at equilibrium. Within 1 K of the eutectic a small difference of temperature turns all \
                to solid."
            .into(),
        unit: "of 100",
        decimals: 2,
        axes: &[" %", " °C"],
        parts: vec![
            Part { name: "further than 1 K from the eutectic".into(), tolerance: 1.0 },
            Part { name: "nearer".into(), tolerance: 100.0 },
        ],
        points,
        notes: vec![],
    })
}

fn beside(data: &Data) -> Result<Table, String> {
    let (mut parts, mut points) = (Parts(Vec::new()), Vec::new());
    for row in &data.rows {
        let (salt, other, t) =
            (salt_of(text(row, "salt")?)?, number(row, "other_wt_pct")?, number(row, "temp_c")?);
        let small = MassFraction::from_percent(1.0).map_err(|e| e.to_string())?;
        let other_part = MassFraction::from_percent(other).map_err(|e| e.to_string())?;
        let blend = Brine::blend(&[(Salt::SodiumChloride, small), (salt, other_part)]);
        let most = blend.and_then(|blend| saturated_beside(&blend, celsius(t))).map_err(|e| e.to_string())?;
        let name =
            format!("{} beside NaCl, {}", salt.formula(), if t < 20.0 { "0.5…10 °C" } else { "25 °C" });
        let part = parts.place(name, if t < 20.0 { 1.0 } else { 0.3 });
        points.push(point(row, part, vec![other, t], most.1.percent() - number(row, "nacl_wt_pct")?)?);
    }
    let parts = parts.sorted(&mut points);
    Ok(Table {
        title: "Sodium chloride that stays dissolved beside another chloride",
        about: "The engine of blends (docs/chemistry.md). Motoyama's equation states 0.15 %.".into(),
        unit: "% by mass",
        decimals: 2,
        axes: &[" %", " °C"],
        parts,
        points,
        notes: vec![
            note("coldchem", "Holds 0.2 to 0.3 % less beside MgCl2 at 25 °C than Motoyama's equation."),
            note(
                "frezchem",
                "Holds 0.2 to 0.5 % less, beside CaCl2 up to 0.4 % more, than Motoyama's equation.",
            ),
        ],
    })
}

/// Salts of a blend, in the order of [`Salt::ALL`], as the files of blends name them.
const BLEND_COLUMNS: [&str; 5] =
    ["nacl_wt_pct", "cacl2_wt_pct", "mgcl2_wt_pct", "kcl_wt_pct", "na2so4_wt_pct"];

fn blend_of(row: &std::collections::BTreeMap<String, String>) -> Result<Brine, String> {
    let mut dissolved = Vec::new();
    for (salt, column) in Salt::ALL.into_iter().zip(BLEND_COLUMNS) {
        let part = MassFraction::from_percent(number(row, column)?).map_err(|e| e.to_string())?;
        dissolved.push((salt, part));
    }
    Brine::blend(&dissolved).map_err(|e| e.to_string())
}

/// The engine of blends asked of single salts: the ice of print.
fn engine(data: &Data) -> Result<Table, String> {
    let (mut parts, mut points) = (Parts(Vec::new()), Vec::new());
    for row in
        data.rows.iter().filter(|row| matches!(row.get("source").map(String::as_str), Some("crc" | "lange")))
    {
        let (salt, percent) = (salt_of(text(row, "salt")?)?, number(row, "wt_pct")?);
        let brine = brine_of(salt, percent).map_err(|e| e.to_string())?;
        let first = first_solid(&brine).map_err(|e| e.to_string())?;
        let (Ok(ice), Solid::Ice | Solid::IceOrHydrohalite) = (ice_point(&brine), first.solid) else {
            continue;
        };
        let stated = in_kelvins(first.uncertainty).max(0.05);
        let part = parts.place(format!("{} where ±{stated} is stated", salt.formula()), stated);
        points.push(point(row, part, vec![percent], in_celsius(ice) - number(row, "t_ice_c")?)?);
    }
    let parts = parts.sorted(&mut points);
    Ok(Table {
        title: "Ice in brines of one salt, by the engine of blends",
        about: "The published parameters with our own fit on top (docs/chemistry.md); the intervals are those of the \
                curves of single salts, which it must not leave."
            .into(),
        unit: "K",
        decimals: 3,
        axes: &[" %"],
        parts,
        points,
        notes: vec![note(
            "crc",
            "CaCl2 above 20 %: print is 3 to 7 K warmer than every model, and the engine was fitted between, as the \
             curve of the single salt is (see the first table).",
        )],
    })
}

/// Ice, salt and the first solid of blends.
fn onsets(data: &Data) -> Result<Table, String> {
    let (mut parts, mut points) = (Parts(Vec::new()), Vec::new());
    for row in &data.rows {
        let brine = blend_of(row)?;
        let (Ok(found), Ok(first)) = (onset(&brine), first_solid(&brine)) else { continue };
        let at = [brine.part(Salt::SodiumChloride), brine.strength()]
            .map(|part| (1000.0 * part.percent()).round() / 1000.0)
            .to_vec();
        let stated = in_kelvins(first.uncertainty);
        if let (Some(ice), Ok(theirs)) = (found.ice, number(row, "t_ice_c")) {
            let (name, within) = match first.solid {
                Solid::Ice => (format!("ice, first, where ±{stated} is stated"), stated),
                _ => ("ice that salt comes before".to_owned(), 2.5),
            };
            let part = parts.place(name, within);
            points.push(point(row, part, at.clone(), in_celsius(ice) - theirs)?);
        }
        if let (Some((solid, salt)), Ok(theirs)) = (found.salt, number(row, "t_salt_solid_c")) {
            let (name, within) = if first.solid == Solid::Ice {
                ("salt that ice comes before".to_owned(), 5.0)
            } else {
                (format!("{}, first, where ±{stated} is stated", solid.code()), stated)
            };
            let part = parts.place(name, within);
            points.push(point(row, part, at.clone(), in_celsius(salt) - theirs)?);
        }
        if let Ok(theirs) = number(row, "t_freeze_frezchem_c") {
            let part = parts
                .place(format!("first solid, {}, where ±{stated} is stated", first.solid.code()), stated);
            let error = in_celsius(first.temperature) - theirs;
            points.push(Point { part, source: "frezchem".to_owned(), at, error });
        }
    }
    let parts = parts.sorted(&mut points);
    Ok(Table {
        title: "What leaves a blend on cooling",
        about: "Ice and the first salt, each in the liquid as it is. *At*: NaCl, all salts. No source is measured: none \
                was found that could be read (docs/chemistry.md). `coldchem` bears the parameters that ours were \
                fitted on top of."
            .into(),
        unit: "K",
        decimals: 2,
        axes: &[" % NaCl", " %"],
        parts,
        points,
        notes: vec![
            note("coldchem", "Its NaCl ice lies 0.3 K below print at 22 %, its CaCl2 ice up to 2 K; ours follows print."),
            note(
                "frezchem",
                "Another Pitzer set. Halite: its solubility hardly moves with temperature, and 16 K of it are 0.3 % of \
                 strength; the two published sets part by 35 K there.",
            ),
        ],
    })
}

/// Where ice and salt leave together, at a ratio of the salts.
fn cotectic(data: &Data) -> Result<Table, String> {
    let (mut parts, mut points) = (Parts(Vec::new()), Vec::new());
    for row in &data.rows {
        let share = number(row, "nacl_share_pct")? / 100.0;
        let apart = |strength: f64| -> Result<(f64, f64), String> {
            let part = |share: f64| MassFraction::from_fraction(strength * share).map_err(|e| e.to_string());
            let salts = [(Salt::SodiumChloride, part(share)?), (Salt::CalciumChloride, part(1.0 - share)?)];
            let brine = Brine::blend(&salts).map_err(|e| e.to_string())?;
            let found = onset(&brine).map_err(|e| e.to_string())?;
            let ice = found.ice.map_or(-60.0, in_celsius);
            Ok((found.salt.map_or(-60.0, |(_, t)| in_celsius(t)) - ice, ice))
        };
        // From where ice comes first to where salt does.
        let ice_first = |strength: f64| apart(strength).is_ok_and(|(apart, _)| apart < 0.0);
        let low = root::edge(ice_first, 0.15, 0.255 + 0.075 * (1.0 - share), 1e-12);
        let (name, within) = match share {
            s if s >= 0.999 => ("NaCl alone", 0.1),
            s if s <= 0.001 => ("CaCl2 alone", 2.0),
            s if s >= 0.7 => ("NaCl 70 % of the salts and more", 2.0),
            s if s >= 0.4 => ("NaCl 40 to 70 %", 3.0),
            _ => ("NaCl below 40 %", 3.0),
        };
        let part = parts.place(name.to_owned(), within);
        points.push(point(row, part, vec![100.0 * share], apart(low)?.1 - number(row, "t_c")?)?);
    }
    let parts = parts.sorted(&mut points);
    Ok(Table {
        title: "Ice and hydrohalite together, beside calcium chloride",
        about: "Temperature at which both leave, at a ratio of the salts; single salts: their eutectics, by the engine. \
                *At*: NaCl of all salts."
            .into(),
        unit: "K",
        decimals: 2,
        axes: &[" %"],
        parts,
        points,
        notes: vec![
            note(
                "oakes",
                "The eutectic of CaCl2 is left to the curve of the single salt, which has -49.3 °C; the engine, fitted \
                 between print and models over all strengths, has it 3 K warmer, and is asked of blends alone.",
            ),
            note(
            "chi",
            "An equation fitted by others, of which only the abstract was read. It says that ice and salt meet \
             colder than ours, and ColdChem's, do; which is nearer is open, and the intervals stated for \
             hydrohalite beside CaCl2 hold \
             both.",
        ),
        ],
    })
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
