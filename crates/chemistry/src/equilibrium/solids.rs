//! The solids that can leave the liquid, and how saturated a liquid is with each.

use std::sync::LazyLock;

use super::pitzer::{Activities, Adjustment, IONS, lines, numbers};

/// A solid of the data.
#[derive(Debug, Clone)]
pub(crate) struct Mineral {
    /// Its name in the data.
    pub(crate) name: &'static str,
    /// Ions of a formula.
    pub(crate) ions: [f64; IONS],
    /// Water of a formula.
    pub(crate) water: f64,
    log_k: [f64; 6],
}

static ALL: LazyLock<Vec<Mineral>> = LazyLock::new(|| {
    lines(include_str!("../../data/solids.csv"))
        .map(|cells| Mineral {
            name: cells[0],
            ions: numbers(&cells, 1),
            water: cells[1 + IONS].parse().unwrap_or(0.0),
            log_k: numbers(&cells, 2 + IONS),
        })
        .collect()
});

/// Every solid in `data/solids.csv`, in the order of the file.
pub(crate) fn all() -> &'static [Mineral] {
    &ALL
}

impl Mineral {
    /// ln of the solubility product at a temperature, K, with what is added to the published one.
    pub(crate) fn ln_k(&self, kelvin: f64, adjustment: &Adjustment) -> f64 {
        let [a1, a2, a3, a4, a5, a6] = self.log_k;
        let t = kelvin;
        let log = a1 + a2 * t + a3 / t + a4 * t.log10() + a5 / (t * t) + a6 * t * t;
        log * std::f64::consts::LN_10 + adjustment.of_solid(self.name, kelvin)
    }

    /// Whether a liquid holds all it is made of.
    pub(crate) fn is_of(&self, molalities: &[f64; IONS]) -> bool {
        self.ions.iter().zip(molalities).all(|(n, m)| *n <= 0.0 || *m > 0.0)
    }

    /// ln of the ion product over the solubility product: above zero the liquid holds more than it can.
    pub(crate) fn saturation(&self, molalities: &[f64; IONS], found: &Activities, ln_k: f64) -> f64 {
        if !self.is_of(molalities) {
            return f64::NEG_INFINITY;
        }
        let ions: f64 = (0..IONS)
            .filter(|place| self.ions[*place] > 0.0)
            .map(|place| self.ions[place] * (molalities[place].ln() + found.ln_gamma[place]))
            .sum();
        ions + self.water * found.ln_water - ln_k
    }

    /// Molar mass, kg/mol.
    pub(crate) fn molar_mass(&self) -> f64 {
        const MASS: [f64; IONS] = super::pitzer::ION_MASS;
        let ions: f64 = self.ions.iter().zip(MASS).map(|(n, mass)| n * mass).sum();
        ions + self.water * super::pitzer::WATER
    }
}

#[cfg(test)]
mod tests {
    use super::super::pitzer::CATIONS;
    use super::*;

    #[test]
    fn every_formula_is_neutral() {
        for mineral in all() {
            let plus = mineral.ions[0] + mineral.ions[1] + 2.0 * (mineral.ions[2] + mineral.ions[3]);
            let minus = mineral.ions[CATIONS] + 2.0 * mineral.ions[CATIONS + 1];
            assert!((plus - minus).abs() < 1e-12, "{}", mineral.name);
            assert!(mineral.log_k[0] != 0.0, "{}", mineral.name);
        }
        assert!(all().len() >= 15 && all().iter().any(|one| one.name == "ice"));
    }
}
