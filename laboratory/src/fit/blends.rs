//! What the equilibrium of blends adds to its published parameters: each salt alone, against the same printed rows
//! that the curves of single salts are fitted to. ln of a saturation is linear in what is fitted, so one weighted
//! least-squares solution is the answer; a weak pull to zero keeps what the data do not say where it was.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

use chemistry::equilibrium::{Adjustment, saturation};
use chemistry::{Brine, MassFraction, Salt};
use nalgebra::{DMatrix, DVector};

use super::records;

const HEAD: &str = "\
# What our own fit adds to the published parameters of pitzer.csv and solids.csv; written by `cargo xtask fit`.
# Source: ice_points.csv and saturation.csv of the tests, rows with a fit_sigma.
# A chloride's cation: b2, b3, c2, c3: beta0 += b2 tau^2 + b3 tau^3, Cphi += c2 tau^2 + c3 tau^3, with
# tau = (T - 298.15 K)/100 K, below 25 C.
# Na-Ca, Na-Mg: t0, p0, t1, p1: theta += t0 + t1 tau, psi beside chloride += p0 + p1 tau; from halite_beside.csv, rows
# of motoyama, and, where nothing is measured, from ice and hydrohalite of blend_onset.csv (ColdChem).
# A solid: k0, k1: ln K += k0 + k1 (T - 273.15 K)/100 K.
name,p0,p1,p2,p3
";

/// Salts with their cation's place, and the solids of each.
const SALTS: [(Salt, &str, usize, &[&str]); 4] = [
    (Salt::SodiumChloride, "Na", 0, &["hydrohalite", "halite"]),
    (Salt::PotassiumChloride, "K", 1, &["sylvite"]),
    (Salt::CalciumChloride, "Ca", 2, &["cacl2_6h2o"]),
    (Salt::MagnesiumChloride, "Mg", 3, &["mgcl2_12h2o", "mgcl2_8h2o", "mgcl2_6h2o"]),
];

/// How far each kind of coefficient may reasonably go: the pull to zero.
const REACH: [f64; 6] = [0.1, 0.1, 0.01, 0.01, 0.2, 0.5];

struct Point {
    brine: Brine,
    solid: String,
    celsius: f64,
    source: String,
    sigma: Option<f64>,
    /// ln of saturation by K for ice, by per cent by mass for salts.
    per_unit: f64,
}

fn points(root: &Path, salt: Salt, solids: &[&str]) -> Result<Vec<Point>, String> {
    let mut found = Vec::new();
    for (file, column) in [("ice_points.csv", "t_ice_c"), ("saturation.csv", "temp_c")] {
        for row in records(root, file)? {
            let cell = |name: &str| row.get(name).map_or("", String::as_str);
            let solid = if file == "ice_points.csv" { "ice" } else { cell("solid") };
            if cell("salt") != salt.formula() || (solid != "ice" && !solids.contains(&solid)) {
                continue;
            }
            let (Ok(percent), Ok(celsius)) = (cell("wt_pct").parse::<f64>(), cell(column).parse::<f64>())
            else {
                continue;
            };
            let of =
                |percent: f64| MassFraction::from_percent(percent).ok().and_then(|w| Brine::of(salt, w).ok());
            let (Some(brine), Some(near)) = (of(percent), of(percent - 0.01)) else { continue };
            if !(-55.0..=40.0).contains(&celsius) || percent < 0.5 {
                continue;
            }
            let at = |brine: &Brine, t: f64| saturation(brine, solid, t, Adjustment::none());
            let (Some(here), Some(by_t), Some(by_w)) =
                (at(&brine, celsius), at(&brine, celsius + 0.01), at(&near, celsius))
            else {
                continue;
            };
            found.push(Point {
                per_unit: if solid == "ice" { (by_t - here) / 0.01 } else { (here - by_w) / 0.01 },
                brine,
                solid: solid.to_owned(),
                celsius,
                source: cell("source").to_owned(),
                sigma: cell("fit_sigma").parse().ok(),
            });
        }
    }
    Ok(found)
}

/// An adjustment with one coefficient only.
fn one(cation: usize, solids: &[&str], place: usize, value: f64) -> Adjustment {
    let mut made = Adjustment::default();
    if place < 4 {
        made.chlorides[cation][place] = value;
    } else {
        let mut pair = [0.0; 2];
        pair[(place - 4) % 2] = value;
        made.solids.push((solids[(place - 4) / 2].to_owned(), pair));
    }
    made
}

fn solved(points: &[Point], cation: usize, solids: &[&str]) -> Result<Vec<f64>, String> {
    let width = 4 + 2 * solids.len();
    let used: Vec<(&Point, f64)> = points.iter().filter_map(|point| Some((point, point.sigma?))).collect();
    let height = used.len() + width;
    let value = |point: &Point, adjustment: &Adjustment| {
        saturation(&point.brine, &point.solid, point.celsius, adjustment).unwrap_or(0.0)
    };
    let mut matrix = DMatrix::zeros(height, width);
    let mut wanted = DVector::zeros(height);
    for (row, (point, sigma)) in used.iter().enumerate() {
        let weight = 1.0 / (sigma * point.per_unit.abs());
        let zero = value(point, Adjustment::none());
        wanted[row] = -zero * weight;
        for column in 0..width {
            matrix[(row, column)] = (value(point, &one(cation, solids, column, 1.0)) - zero) * weight;
        }
    }
    for column in 0..width {
        let kind = if column < 4 { column } else { 4 + (column - 4) % 2 };
        matrix[(used.len() + column, column)] = 1.0 / REACH[kind];
    }
    let found = matrix.svd(true, true).solve(&wanted, 1e-14)?;
    Ok(found.iter().copied().collect())
}

/// The file of what is added, and the table of what it does to each source.
pub(super) fn generate(root: &Path) -> Result<(String, String), String> {
    let mut file = HEAD.to_owned();
    let mut solids_of = String::new();
    let mut whole = Adjustment::default();
    let mut table = String::from(
        "\n## Equilibrium of single salts\n\nThe engine of blends (`equilibrium.rs`), before and after what `data/adjusted.csv` adds to its published parameters. \
         Residuals of ice in K (engine less source), of salts in % by mass, to first order.\n\n\
         | salt | solid | source | rows | in the fit | mean before | worst before | mean after | worst after |\n\
         | --- | --- | --- | ---: | ---: | ---: | ---: | ---: | ---: |\n",
    );
    for (salt, name, cation, solids) in SALTS {
        let points = points(root, salt, solids)?;
        let found = solved(&points, cation, solids)?;
        let digits = |value: f64| format!("{value:.6e}");
        let line: Vec<String> = found.iter().map(|value| digits(*value)).collect();
        let _ = writeln!(file, "{name},{}", line[..4].join(","));
        for (place, solid) in solids.iter().enumerate() {
            let _ = writeln!(solids_of, "{solid},{},,", line[4 + 2 * place..6 + 2 * place].join(","));
        }
        let mut after = Adjustment::default();
        after.chlorides[cation].copy_from_slice(&found[..4]);
        for (place, solid) in solids.iter().enumerate() {
            after.solids.push(((*solid).to_owned(), [found[4 + 2 * place], found[5 + 2 * place]]));
        }
        tell(&mut table, salt, &points, &after);
        whole.chlorides[cation] = after.chlorides[cation];
        whole.solids.extend(after.solids);
    }
    for (place, (salt, name)) in
        [(Salt::CalciumChloride, "Na-Ca"), (Salt::MagnesiumChloride, "Na-Mg")].into_iter().enumerate()
    {
        let found = mixed(root, salt, place, &whole)?;
        whole.mixing[place] = found;
        let line: Vec<String> = found.iter().map(|value| format!("{value:.6e}")).collect();
        let _ = writeln!(file, "{name},{}", line.join(","));
    }
    table.push_str("\n## Halite beside another chloride\n\nSodium chloride that stays dissolved, engine less source, % by mass, to first order.\n\n\
         | salt | source | rows | mean | worst |\n| --- | --- | ---: | ---: | ---: |\n");
    for salt in [Salt::CalciumChloride, Salt::MagnesiumChloride] {
        for source in ["motoyama", "coldchem", "frezchem"] {
            let all: Vec<f64> =
                beside(root, salt, source)?.iter().filter_map(|one| one.off(&whole)).collect();
            let worst = all.iter().copied().max_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(0.0);
            let mean = all.iter().sum::<f64>() / all.len().max(1) as f64;
            let _ = writeln!(
                table,
                "| {} | `{source}` | {} | {mean:+.3} | {worst:+.3} |",
                salt.formula(),
                all.len()
            );
        }
    }
    Ok((file + &solids_of, table))
}

fn tell(table: &mut String, salt: Salt, points: &[Point], after: &Adjustment) {
    let mut groups: BTreeMap<(&str, &str), Vec<&Point>> = BTreeMap::new();
    for point in points {
        groups.entry((&point.solid, &point.source)).or_default().push(point);
    }
    for ((solid, source), points) in groups {
        let used = points.iter().filter(|point| point.sigma.is_some()).count();
        // An ice point that is saturated already lies too low: the engine's own is warmer by as much.
        let off = |adjustment: &Adjustment| -> (f64, f64) {
            let all: Vec<f64> = points
                .iter()
                .filter_map(|point| {
                    let found = saturation(&point.brine, &point.solid, point.celsius, adjustment)?;
                    Some(-found / point.per_unit)
                })
                .collect();
            let worst = all.iter().copied().max_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(0.0);
            (all.iter().sum::<f64>() / all.len().max(1) as f64, worst)
        };
        let (before, now) = (off(Adjustment::none()), off(after));
        let _ = writeln!(
            table,
            "| {} | {solid} | `{source}` | {} | {used} | {:+.3} | {:+.3} | {:+.3} | {:+.3} |",
            salt.formula(),
            points.len(),
            before.0,
            before.1,
            now.0,
            now.1
        );
    }
}

/// Sodium chloride that stays dissolved beside another chloride.
struct Beside {
    brine: Brine,
    celsius: f64,
    /// ln of saturation by per cent of sodium chloride.
    per_percent: f64,
}

impl Beside {
    /// Engine less source, % by mass, to first order.
    fn off(&self, adjustment: &Adjustment) -> Option<f64> {
        Some(-saturation(&self.brine, "halite", self.celsius, adjustment)? / self.per_percent)
    }
}

fn beside(root: &Path, salt: Salt, source: &str) -> Result<Vec<Beside>, String> {
    let mut found = Vec::new();
    for row in records(root, "halite_beside.csv")? {
        let cell = |name: &str| row.get(name).map_or("", String::as_str);
        let number = |name: &str| cell(name).parse::<f64>().ok();
        if cell("salt") != salt.formula() || cell("source") != source {
            continue;
        }
        let (Some(other), Some(celsius), Some(nacl)) =
            (number("other_wt_pct"), number("temp_c"), number("nacl_wt_pct"))
        else {
            continue;
        };
        let of = |nacl: f64| {
            let part = |percent| MassFraction::from_percent(percent).ok();
            Brine::blend(&[(Salt::SodiumChloride, part(nacl)?), (salt, part(other)?)]).ok()
        };
        let at = |brine: &Brine| saturation(brine, "halite", celsius, Adjustment::none());
        let (Some(brine), Some(near)) = (of(nacl), of(nacl - 0.01)) else { continue };
        if let (Some(here), Some(less)) = (at(&brine), at(&near)) {
            found.push(Beside { brine, celsius, per_percent: (here - less) / 0.01 });
        }
    }
    Ok(found)
}

/// Where ice, or hydrohalite, appears in blends of sodium chloride with another, with ln of its saturation by K.
fn onsets_of_blends(root: &Path, salt: Salt, solid: &str) -> Result<Vec<(Brine, f64, f64)>, String> {
    let column = if salt == Salt::CalciumChloride { "cacl2_wt_pct" } else { "mgcl2_wt_pct" };
    let mut found = Vec::new();
    for row in records(root, "blend_onset.csv")? {
        let number = |name: &str| row.get(name).and_then(|cell| cell.parse::<f64>().ok());
        let part = |name: &str| number(name).unwrap_or(0.0);
        let all: f64 = ["cacl2_wt_pct", "mgcl2_wt_pct", "kcl_wt_pct", "na2so4_wt_pct"].map(part).iter().sum();
        let (nacl, other) = (part("nacl_wt_pct"), part(column));
        let is_salt = solid != "ice";
        if is_salt && row.get("first_salt_solid").is_none_or(|named| named != solid) {
            continue;
        }
        let at = number(if is_salt { "t_salt_solid_c" } else { "t_ice_c" });
        let Some(at) = at.filter(|t| *t > -45.0) else { continue };
        // Where much of the other is, the published ice is trusted to a kelvin and more.
        let is_known = nacl > 0.0 && other > 0.0 && (is_salt || other <= 10.0) && (all - other).abs() < 1e-9;
        if !is_known || row.get("note").is_some_and(|note| !note.is_empty()) {
            continue;
        }
        let of = |percent: f64| MassFraction::from_percent(percent).ok();
        let (Some(one), Some(two)) = (of(nacl), of(other)) else { continue };
        let Ok(brine) = Brine::blend(&[(Salt::SodiumChloride, one), (salt, two)]) else { continue };
        let ln = |t: f64| saturation(&brine, solid, t, Adjustment::none());
        if let (Some(here), Some(warmer)) = (ln(at), ln(at + 0.01)) {
            found.push((brine, at, (warmer - here) / 0.01));
        }
    }
    Ok(found)
}

/// What is added to θ and ψ of sodium with the cation of another chloride: the printed solubility to 0.05 %, and, where
/// nothing is measured, ice of blends to 0.1 K and hydrohalite to 0.3 K of the published set.
fn mixed(root: &Path, salt: Salt, place: usize, singles: &Adjustment) -> Result<[f64; 4], String> {
    const SIGMA_PERCENT: f64 = 0.05;
    const SIGMA_KELVIN: [(&str, f64); 2] = [("ice", 0.1), ("hydrohalite", 0.3)];
    const REACH: [f64; 4] = [0.02, 0.01, 0.1, 0.03];
    let points = beside(root, salt, "motoyama")?;
    let mut onsets = Vec::new();
    for (solid, sigma) in SIGMA_KELVIN {
        let all = onsets_of_blends(root, salt, solid)?;
        onsets.extend(all.into_iter().map(|(brine, t, per_kelvin)| (brine, t, per_kelvin, solid, sigma)));
    }
    let with = |column: Option<usize>| {
        let mut tried = singles.clone();
        if let Some(column) = column {
            tried.mixing[place][column] = 1.0;
        }
        tried
    };
    let off = |tried: &Adjustment| -> Vec<f64> {
        let salts = points.iter().map(|point| point.off(tried).unwrap_or(0.0) / SIGMA_PERCENT);
        let others = onsets.iter().map(|(brine, t, per_kelvin, solid, sigma)| {
            saturation(brine, solid, *t, tried).unwrap_or(0.0) / per_kelvin / sigma
        });
        salts.chain(others).collect()
    };
    let none = off(&with(None));
    let height = none.len();
    let mut matrix = DMatrix::zeros(height + 4, 4);
    let mut wanted = DVector::zeros(height + 4);
    for column in 0..4 {
        let moved = off(&with(Some(column)));
        for row in 0..height {
            matrix[(row, column)] = moved[row] - none[row];
        }
        matrix[(height + column, column)] = 1.0 / REACH[column];
    }
    for row in 0..height {
        wanted[row] = -none[row];
    }
    let found = matrix.svd(true, true).solve(&wanted, 1e-14)?;
    Ok([found[0], found[1], found[2], found[3]])
}
