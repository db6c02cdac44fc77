//! Our own fits: coefficients of `crates/chemistry/src/fitted.rs` from the data files kept with the tests.
//!
//! Every fit is linear in its coefficients, so the answer is one weighted least-squares solution: the same
//! data give the same coefficients. A row's weight is one over its `fit_sigma`; rows without one are held out
//! and only tested against. `crates/chemistry/fits/RESIDUALS.md` says how near each source the fit lies.

mod blends;
mod constants;

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

use chemistry::forms::{Equation, Form, equation};
use chemistry::{Salt, root};
use nalgebra::{DMatrix, DVector};

use crate::records::records as parsed;
use constants::{Job, Part, jobs};

const DATA: &str = "crates/chemistry/tests/data";
const CODE: &str = "crates/chemistry/src/fitted.rs";
const ADJUSTED: &str = "crates/chemistry/data/adjusted.csv";
const RESIDUALS: &str = "crates/chemistry/fits/RESIDUALS.md";

/// Significant digits written: enough that no property moves by a thousandth of its stated error.
const DIGITS: usize = 12;

/// One row of a data file, as the fit reads it.
struct Row {
    equation: Equation,
    sigma: Option<f64>,
    /// Observed value, for relative residuals.
    observed: f64,
    at: String,
    source: String,
}

/// Writes the three files and says whether they are settled, or with `check` fails unless they are what the data give.
///
/// Some fits stand on others (refraction on density, activity on the Debye-Hückel slope), and those are the
/// ones compiled in: after a change of data it is run until it says that nothing changed.
///
/// # Errors
/// Which file cannot be read, or with `check` is not what the data give.
pub fn run(root: &Path, check: bool) -> Result<&'static str, String> {
    let (code, residuals) = generate(root)?;
    let (adjusted, of_blends) = blends::generate(root)?;
    let mut settled = true;
    for (path, text) in [(CODE, code), (ADJUSTED, adjusted), (RESIDUALS, residuals + &of_blends)] {
        let path = root.join(path);
        let kept = std::fs::read_to_string(&path).unwrap_or_default();
        let same = same_numbers(&kept, &text);
        settled &= same;
        if check && !same {
            return Err(format!("{} is not what the data give; run `cargo xtask fit`", path.display()));
        }
        if !check {
            std::fs::write(&path, text).map_err(|e| format!("{}: {e}", path.display()))?;
        }
    }
    Ok(if settled { "fits: nothing changed" } else { "fits: written; run again until nothing changes" })
}

/// Texts that are equal but for the last digits of their numbers, which another machine may round otherwise.
fn same_numbers(kept: &str, now: &str) -> bool {
    let words = |text: &str| -> Vec<String> {
        text.split(|c: char| c.is_whitespace() || "[],;|".contains(c))
            .filter(|w| !w.is_empty())
            .map(String::from)
            .collect()
    };
    let (kept, now) = (words(kept), words(now));
    kept.len() == now.len()
        && kept.iter().zip(&now).all(|(a, b)| match (number_in(a), number_in(b)) {
            (Some(a), Some(b)) => (a - b).abs() <= 1e-6 * (a.abs() + b.abs()) + 1e-12,
            _ => a == b,
        })
}

fn number_in(word: &str) -> Option<f64> {
    word.replace('_', "").replace('−', "-").parse().ok()
}

/// The code of the coefficients and the table of residuals.
fn generate(root: &Path) -> Result<(String, String), String> {
    let mut code = String::from(
        "//! Coefficients of our fits. Written by `cargo xtask fit` from `tests/data`; do not edit. Forms: `forms.rs`;\n\
         //! residuals by source: `fits/RESIDUALS.md`.\n\nuse crate::surface::Surface;\n",
    );
    let mut table = String::from(
        "# Residuals of our fits\n\nWritten by `cargo xtask fit`; do not edit. Each line is fit less source, in the unit of its table. *In the fit* are\n\
         rows with a weight; the others were held out. Weights (`fit_sigma`) stand in the data files, sources in\n\
         their heads.\n",
    );
    polynomial_of_water(root, &mut code, &mut table)?;
    let mut kept: BTreeMap<&str, Vec<Vec<f64>>> = BTreeMap::new();
    for job in jobs() {
        let mut lines: Vec<Vec<f64>> = Vec::new();
        heading(&mut table, job.constant, job.about, job.unit);
        for part in &job.parts {
            let rows = read(root, &job, part)?;
            let coefficients = solve(&rows).map_err(|e| format!("{} {:?}: {e}", job.constant, part.salt))?;
            report(&mut table, &job, part, &rows, &coefficients);
            lines.push(coefficients);
        }
        constant(&mut code, &job, &lines);
        kept.insert(job.constant, lines);
    }
    eutectics(&mut code, &kept)?;
    sugar_scale(root, &mut code)?;
    Ok((code, table))
}

/// Where each salt's ice curve meets its saturation curve: strength as a fraction, and °C.
fn eutectics(code: &mut String, kept: &BTreeMap<&str, Vec<Vec<f64>>>) -> Result<(), String> {
    let curve = |name: &str, place: usize| -> Result<Vec<f64>, String> {
        kept.get(name).and_then(|lines| lines.get(place)).cloned().ok_or(format!("no fit {name}"))
    };
    let value = |c: &[f64], x: f64| c.iter().rev().fold(0.0, |sum, c| sum * x + c);
    let mut found = Vec::new();
    // (saturation curve, whether it gives temperature by strength, weakest and strongest eutectic thinkable)
    let salts = [
        ("HYDROHALITE", false, 0.22, 0.245),
        ("CACL2_6H2O", false, 0.29, 0.32),
        ("MGCL2_12H2O", true, 0.205, 0.225),
        ("SYLVITE", false, 0.185, 0.205),
    ];
    for (place, (name, by_strength, low, high)) in salts.into_iter().enumerate() {
        let (ice, salt) = (curve("ICE", place)?, curve(name, 0)?);
        let ice_at = |w: f64| w * value(&ice, w);
        // Above zero while the brine is weaker than what is saturated at its own ice point.
        let gap = |w: f64| {
            if by_strength { ice_at(w) - value(&salt, w) } else { value(&salt, ice_at(w) / 100.0) - w }
        };
        if !(gap(low) > 0.0 && gap(high) < 0.0) {
            return Err(format!("{name} does not meet its ice curve between {low} and {high}"));
        }
        let meeting = root::zero(gap, (low, gap(low)), (high, gap(high)), 1e-14);
        found.push(format!("({}, {})", literal(meeting), literal(ice_at(meeting))));
    }
    let _ = writeln!(
        code,
        "\n/// Eutectics, where ice and saturation curve meet: fraction, °C.\npub(crate) const EUTECTIC: [(f64, f64); 4] = [{}];",
        found.join(", ")
    );
    Ok(())
}

/// The sugar scale is a table, not a fit: refractive index of each whole degree.
fn sugar_scale(root: &Path, code: &mut String) -> Result<(), String> {
    let rows = records(root, "brix.csv")?;
    let index: Vec<&str> = rows.iter().filter_map(|row| row.get("n_d")).map(String::as_str).collect();
    let _ = writeln!(
        code,
        "\n/// Refractive index of 0, 1, 2… degrees Brix at 20 °C.\npub(crate) const BRIX: [f64; {}] = [{}];",
        index.len(),
        index.join(", ")
    );
    Ok(())
}

fn heading(table: &mut String, name: &str, about: &str, unit: &str) {
    let _ = write!(
        table,
        "\n## {name}\n\n{about} Residuals in {unit}.\n\n| salt | source | rows | in the fit | mean | rms | worst | at |\n\
         | --- | --- | ---: | ---: | ---: | ---: | ---: | --- |\n"
    );
}

fn constant(code: &mut String, job: &Job, lines: &[Vec<f64>]) {
    let numbers = |row: &[f64]| row.iter().map(|c| literal(*c)).collect::<Vec<_>>().join(", ");
    let one = |row: &Vec<f64>| {
        if job.surface {
            let triples: Vec<String> = row.chunks(3).map(|t| format!("[{}]", numbers(t))).collect();
            format!("[{}]", triples.join(", "))
        } else {
            format!("[{}]", numbers(row))
        }
    };
    let _ = writeln!(code, "\n/// {}", job.about);
    let _ = if job.parts[0].solid.is_some() {
        writeln!(code, "pub(crate) const {}: [f64; {}] = {};", job.constant, lines[0].len(), one(&lines[0]))
    } else {
        let kind = if job.surface { "&Surface" } else { "&[f64]" };
        let all: Vec<String> = lines.iter().map(|row| format!("&{}", one(row))).collect();
        writeln!(code, "pub(crate) const {}: [{kind}; {}] = [{}];", job.constant, lines.len(), all.join(", "))
    };
}

/// A number as code has it, with its digits in threes.
fn literal(value: f64) -> String {
    let text = format!("{value:.*e}", DIGITS - 1);
    let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
    let (whole, part) = mantissa.split_once('.').unwrap_or((mantissa, "0"));
    let groups: Vec<&str> = part.as_bytes().chunks(3).filter_map(|c| std::str::from_utf8(c).ok()).collect();
    let part = groups.join("_");
    if exponent == "0" { format!("{whole}.{part}") } else { format!("{whole}.{part}e{exponent}") }
}

fn solve(rows: &[Row]) -> Result<Vec<f64>, String> {
    let used: Vec<(&Row, f64)> = rows.iter().filter_map(|row| Some((row, row.sigma?))).collect();
    let width = used.first().map_or(0, |(row, _)| row.equation.basis.len());
    if used.len() < width {
        return Err(format!("{} rows for {width} coefficients", used.len()));
    }
    let weight = |row: &Row, sigma: f64| 1.0 / (sigma * row.equation.per_unit.abs());
    let matrix = DMatrix::from_fn(used.len(), width, |i, j| {
        used[i].0.equation.basis[j] * weight(used[i].0, used[i].1)
    });
    let wanted = DVector::from_fn(used.len(), |i, _| used[i].0.equation.value * weight(used[i].0, used[i].1));
    let found = matrix.svd(true, true).solve(&wanted, 1e-14)?;
    Ok(found.iter().copied().collect())
}

fn report(table: &mut String, job: &Job, part: &Part, rows: &[Row], coefficients: &[f64]) {
    let mut by_source: BTreeMap<&str, Vec<(&Row, f64)>> = BTreeMap::new();
    for row in rows {
        let fitted: f64 = row.equation.basis.iter().zip(coefficients).map(|(b, c)| b * c).sum();
        // To first order, which is what a residual needs.
        let mut off = (fitted - row.equation.value) / row.equation.per_unit;
        if job.relative {
            off *= 100.0;
        }
        if part.form == Form::SaturatedStrength {
            off *= 100.0;
        }
        by_source.entry(&row.source).or_default().push((row, off));
    }
    for (source, rows) in by_source {
        let count = rows.len() as f64;
        let mean = rows.iter().map(|(_, off)| off).sum::<f64>() / count;
        let rms = (rows.iter().map(|(_, off)| off * off).sum::<f64>() / count).sqrt();
        let Some(worst) = rows.iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs())) else { continue };
        let used = rows.iter().filter(|(row, _)| row.sigma.is_some()).count();
        let name = part.solid.unwrap_or(part.salt.formula());
        let _ = writeln!(
            table,
            "| {name} | `{source}` | {} | {used} | {} | {} | {} | {} |",
            rows.len(),
            show(mean),
            show(rms),
            show(worst.1),
            worst.0.at
        );
    }
}

/// Residuals of an index or an activity are thousandths; three decimals of them would say nothing.
fn show(value: f64) -> String {
    if value.abs() < 0.01 { format!("{value:.1e}") } else { format!("{value:.3}") }
}

fn read(root: &Path, job: &Job, part: &Part) -> Result<Vec<Row>, String> {
    let mut rows = Vec::new();
    for record in records(root, job.file)? {
        let text = |column: &str| record.get(column).map_or("", String::as_str);
        let number = |column: &str| -> Result<f64, String> {
            text(column).parse().map_err(|_| format!("{}: {column} = \"{}\"", job.file, text(column)))
        };
        if text("salt") != part.salt.formula() || part.solid.is_some_and(|solid| text("solid") != solid) {
            continue;
        }
        let sigma =
            Some(text("fit_sigma")).filter(|t| !t.is_empty()).map(|_| number("fit_sigma")).transpose()?;
        let w = number("wt_pct")? / 100.0;
        let t = if job.file == "ice_points.csv" { number(job.column)? } else { number("temp_c")? };
        let (observed, sigma) = match part.form {
            Form::SaturatedStrength => (w, sigma.map(|s| s / 100.0)),
            Form::SaturationTemperature => (t, sigma),
            _ => (number(job.column)?, sigma),
        };
        rows.push(Row {
            equation: equation(part.form, part.salt, w, t, observed, part.powers),
            sigma,
            observed,
            at: format!("{} %, {} °C", text("wt_pct"), t),
            source: text("source").to_string(),
        });
    }
    let _ = rows.iter().map(|row| row.observed).sum::<f64>();
    Ok(rows)
}

fn records(root: &Path, file: &str) -> Result<Vec<BTreeMap<String, String>>, String> {
    let path = root.join(DATA).join(file);
    let text = std::fs::read_to_string(&path).map_err(|e| format!("{}: {e}", path.display()))?;
    parsed(&text).map_err(|e| format!("{file}: {e}"))
}

/// Polynomials of water alone.
fn polynomial_of_water(root: &Path, code: &mut String, table: &mut String) -> Result<(), String> {
    let wanted = [
        (
            "cp_j_kg_k",
            "WATER_HEAT_CAPACITY",
            "Heat capacity of water, J/(kg·K), powers of τ.",
            "J/(kg·K)",
            7,
            0,
        ),
        (
            "ln_ice_activity",
            "ICE_ACTIVITY",
            "ln of the activity of water beside ice over τ, powers of τ.",
            "1",
            4,
            1,
        ),
        (
            "debye_huckel",
            "DEBYE_HUCKEL",
            "Debye-Hückel slope of the osmotic coefficient, powers of τ.",
            "1",
            4,
            0,
        ),
    ];
    let all = records(root, "water.csv")?;
    for (property, name, about, unit, powers, first) in wanted {
        let mut rows = Vec::new();
        for record in all.iter().filter(|record| record.get("property").is_some_and(|p| p == property)) {
            let number = |column: &str| -> Result<f64, String> {
                record.get(column).and_then(|c| c.parse().ok()).ok_or(format!("water.csv: {column}"))
            };
            let tau = number("temp_c")? / 100.0;
            let observed = number("value")?;
            let basis = (first..first + powers).map(|power| tau.powi(power)).collect();
            rows.push(Row {
                equation: Equation { basis, value: observed, per_unit: 1.0 },
                sigma: Some(number("fit_sigma")?),
                observed,
                at: format!("{} °C", number("temp_c")?),
                source: record.get("source").cloned().unwrap_or_default(),
            });
        }
        let coefficients = solve(&rows).map_err(|e| format!("{name}: {e}"))?;
        heading(table, name, about, unit);
        let job = Job {
            constant: name,
            about,
            file: "water.csv",
            column: "value",
            unit,
            relative: false,
            surface: false,
            parts: Vec::new(),
        };
        let part = Part { salt: Salt::SodiumChloride, solid: Some("water"), form: Form::Ice, powers: 0 };
        report(table, &job, &part, &rows, &coefficients);
        let numbers: Vec<String> = coefficients.iter().map(|c| literal(*c)).collect();
        let _ = writeln!(
            code,
            "\n/// {about}\npub(crate) const {name}: [f64; {}] = [{}];",
            coefficients.len(),
            numbers.join(", ")
        );
    }
    Ok(())
}
