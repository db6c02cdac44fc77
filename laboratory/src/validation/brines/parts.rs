//! The parts of a table by name, and the brines of its rows.

use crate::validation::table::{Part, Point, number};
use chemistry::{Brine, Error, MassFraction, Salt};

/// Value and stated interval of a property, in the unit of its data.
pub(crate) type Ours = fn(&Brine, f64) -> Result<(f64, f64), Error>;

/// A property of a blend: its name, the other program's column, our value and interval.
pub(crate) type Compared = (&'static str, &'static str, Result<(f64, f64), Error>);

/// Parts of a table by name, in the order they are met.
pub(crate) struct Parts(pub(crate) Vec<Part>);

impl Parts {
    pub(crate) fn place(&mut self, name: String, tolerance: f64) -> usize {
        let known = self.0.iter().position(|part| part.name == name);
        known.unwrap_or_else(|| {
            self.0.push(Part { name, tolerance });
            self.0.len() - 1
        })
    }

    /// Parts by name, with their points moved along.
    pub(crate) fn sorted(mut self, points: &mut [Point]) -> Vec<Part> {
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

pub(crate) fn salt_of(formula: &str) -> Result<Salt, String> {
    let found = Salt::ALL.into_iter().find(|salt| salt.formula() == formula);
    found.ok_or_else(|| format!("no salt {formula}"))
}

pub(crate) fn brine_of(salt: Salt, percent: f64) -> Result<Brine, Error> {
    MassFraction::from_percent(percent).and_then(|w| Brine::of(salt, w))
}

/// Salts of a blend, in the order of [`Salt::ALL`], as the files of blends name them.
const BLEND_COLUMNS: [&str; 5] =
    ["nacl_wt_pct", "cacl2_wt_pct", "mgcl2_wt_pct", "kcl_wt_pct", "na2so4_wt_pct"];

pub(crate) fn blend_of(row: &std::collections::BTreeMap<String, String>) -> Result<Brine, String> {
    let mut dissolved = Vec::new();
    for (salt, column) in Salt::ALL.into_iter().zip(BLEND_COLUMNS) {
        let part = MassFraction::from_percent(number(row, column)?).map_err(|e| e.to_string())?;
        dissolved.push((salt, part));
    }
    Brine::blend(&dissolved).map_err(|e| e.to_string())
}
