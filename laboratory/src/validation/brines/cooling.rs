//! Tables of what leaves a brine on cooling: ice, salts, eutectics.

use super::parts::{Parts, blend_of, brine_of, salt_of};
use crate::validation::table::{Data, Part, Point, Table, note, number, point, text};
use chemistry::equilibrium::{ice_point, onset};
use chemistry::freezing::{Solid, first_solid, saturated_at, saturated_beside};
use chemistry::phases::phases;
use chemistry::{Brine, MassFraction, Salt, root};
use quantity::{celsius, in_celsius, in_kelvins};

/// All of them, in the order of VALIDATION.md.
pub(crate) fn tables(load: &mut impl FnMut(&str) -> Result<Data, String>) -> Result<Vec<Table>, String> {
    Ok(vec![
        ice(&load("ice_points.csv")?)?,
        saturation(&load("saturation.csv")?)?,
        amounts(&load("phase_fractions.csv")?)?,
        beside(&load("halite_beside.csv")?)?,
        engine(&load("ice_points.csv")?)?,
        onsets(&load("blend_onset.csv")?)?,
        cotectic(&load("cotectic.csv")?)?,
    ])
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
