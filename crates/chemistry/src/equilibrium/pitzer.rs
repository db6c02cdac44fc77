//! The ion interaction model: activities of water and of each ion in a solution of Na, K, Ca, Mg, Cl and SO4.
//!
//! Equations: K. S. Pitzer, "Activity Coefficients in Electrolyte Solutions", 2nd ed., CRC Press 1991, chapter 3; with
//! the electrostatic terms of unsymmetrical mixing (`electrostatic`). Parameters: `data/pitzer.csv`, with their source.

use std::sync::LazyLock;

use super::electrostatic::unsymmetrical;
use crate::brine::{CALCIUM, CHLORINE, MAGNESIUM, POTASSIUM, SODIUM, SULFATE};

/// Ions, in the order of every array here: four cations, two anions.
pub(crate) const IONS: usize = 6;
/// How many of the [`IONS`] are cations. They come first.
pub(crate) const CATIONS: usize = 4;
/// Names in the data.
pub(super) const NAMES: [&str; IONS] = ["Na", "K", "Ca", "Mg", "Cl", "SO4"];
const CHARGE: [f64; IONS] = [1.0, 1.0, 2.0, 2.0, -1.0, -2.0];
const ANIONS: usize = IONS - CATIONS;

/// Molar masses of the ions, kg/mol, in the order of the model.
pub(crate) const ION_MASS: [f64; IONS] = [
    SODIUM / 1000.0,
    POTASSIUM / 1000.0,
    CALCIUM / 1000.0,
    MAGNESIUM / 1000.0,
    CHLORINE / 1000.0,
    SULFATE / 1000.0,
];

/// Parameter b of the Debye-Hückel term, kg^½ mol^-½.
const B: f64 = 1.2;
/// Temperature at which the constant term of a parameter is its value, K.
const REFERENCE: f64 = 298.15;
/// Molar mass of water, kg/mol.
pub(crate) const WATER: f64 = crate::brine::WATER / 1000.0;

/// A parameter's six coefficients.
type Coefficients = [f64; 6];

/// What the coefficients multiply at a temperature.
fn basis(kelvin: f64) -> Coefficients {
    let (t, r) = (kelvin, REFERENCE);
    [1.0, 1.0 / t - 1.0 / r, (t / r).ln(), t - r, t * t - r * r, 1.0 / (t * t) - 1.0 / (r * r)]
}

fn dot(a: &Coefficients, b: &Coefficients) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// All parameters, as read from the data.
#[derive(Default)]
struct Table {
    a_phi: Coefficients,
    /// β0, β1, β2 and Cφ of each cation with each anion.
    pairs: [[[Coefficients; 4]; ANIONS]; CATIONS],
    alpha: [[[f64; 2]; ANIONS]; CATIONS],
    theta: [[Coefficients; CATIONS]; CATIONS],
    theta_anions: Coefficients,
    psi: [[[Coefficients; ANIONS]; CATIONS]; CATIONS],
    psi_anions: [Coefficients; CATIONS],
}

static TABLE: LazyLock<Table> = LazyLock::new(|| read(include_str!("../../data/pitzer.csv")));

/// Lines of a table of ours: no remarks, no header.
pub(super) fn lines(text: &str) -> impl Iterator<Item = Vec<&str>> {
    text.lines().filter(|line| !line.starts_with('#')).skip(1).map(|line| line.split(',').collect())
}

/// Numbers of a line from a column on; a cell that holds none counts as zero.
pub(super) fn numbers(cells: &[&str], from: usize) -> Coefficients {
    let mut found = [0.0; 6];
    for (slot, cell) in found.iter_mut().zip(cells.iter().skip(from)) {
        *slot = cell.parse().unwrap_or(0.0);
    }
    found
}

fn read(text: &str) -> Table {
    let mut table = Table::default();
    let place = |name: &str| NAMES.iter().position(|ion| *ion == name);
    for cells in lines(text) {
        let [kind, one, two, three, ..] = cells.as_slice() else { continue };
        let values = numbers(&cells, 4);
        match (*kind, place(one), place(two), place(three)) {
            ("a_phi", ..) => table.a_phi = values,
            ("alpha", Some(c), Some(a), _) => table.alpha[c][a - CATIONS] = [values[0], values[1]],
            ("b0", Some(c), Some(a), _) => table.pairs[c][a - CATIONS][0] = values,
            ("b1", Some(c), Some(a), _) => table.pairs[c][a - CATIONS][1] = values,
            ("b2", Some(c), Some(a), _) => table.pairs[c][a - CATIONS][2] = values,
            ("c0", Some(c), Some(a), _) => table.pairs[c][a - CATIONS][3] = values,
            ("theta", Some(i), Some(j), _) if i < CATIONS => {
                table.theta[i][j] = values;
                table.theta[j][i] = values;
            }
            ("theta", ..) => table.theta_anions = values,
            ("psi", Some(i), Some(j), Some(a)) if i < CATIONS => {
                table.psi[i][j][a - CATIONS] = values;
                table.psi[j][i][a - CATIONS] = values;
            }
            ("psi", Some(_), Some(_), Some(c)) => table.psi_anions[c] = values,
            _ => {}
        }
    }
    table
}

/// What our own fit adds to the published parameters: to β0 and Cφ of each chloride below 25 °C, b₂τ² + b₃τ³ with τ =
/// (T − 298.15 K)/100 K, so that nothing moves at 25 °C and above; θ and ψ of mixing; to ln K of a solid, k₀ + k₁ (T −
/// 273.15 K)/100 K.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Adjustment {
    /// Of Na, K, Ca and Mg chloride: β0 by τ², β0 by τ³, Cφ by τ², Cφ by τ³.
    pub chlorides: [[f64; 4]; CATIONS],
    /// To θ and ψ of sodium with calcium, and with magnesium, beside chloride: θ and ψ at 25 °C, and by τ of each.
    pub mixing: [[f64; 4]; 2],
    /// Of solids by name: k₀ and k₁.
    pub solids: Vec<(String, [f64; 2])>,
}

static FITTED: LazyLock<Adjustment> = LazyLock::new(|| {
    let mut found = Adjustment::default();
    for cells in lines(include_str!("../../data/adjusted.csv")) {
        let [name, ..] = cells.as_slice() else { continue };
        let values = numbers(&cells, 1);
        match (NAMES.iter().position(|ion| ion == name), *name) {
            (Some(cation), _) => found.chlorides[cation].copy_from_slice(&values[..4]),
            (None, "Na-Ca") => found.mixing[0].copy_from_slice(&values[..4]),
            (None, "Na-Mg") => found.mixing[1].copy_from_slice(&values[..4]),
            (None, _) => found.solids.push(((*name).to_owned(), [values[0], values[1]])),
        }
    }
    found
});

impl Adjustment {
    /// The adjustment that the program uses, from `data/adjusted.csv`.
    pub fn fitted() -> &'static Self {
        &FITTED
    }

    /// No adjustment: the parameters as published.
    pub fn none() -> &'static Self {
        static NONE: LazyLock<Adjustment> = LazyLock::new(Adjustment::default);
        &NONE
    }

    /// What is added to ln K of a solid at a temperature, K.
    pub(crate) fn of_solid(&self, name: &str, kelvin: f64) -> f64 {
        let found = self.solids.iter().find(|(known, _)| known == name);
        found.map_or(0.0, |(_, [k0, k1])| k0 + k1 * (kelvin - 273.15) / 100.0)
    }
}

/// The model at a temperature.
#[derive(Debug, Clone)]
pub(crate) struct Model {
    a_phi: f64,
    /// β0, β1, β2 and C of each cation with each anion.
    pairs: [[[f64; 4]; ANIONS]; CATIONS],
    alpha: &'static [[[f64; 2]; ANIONS]; CATIONS],
    theta: [[f64; CATIONS]; CATIONS],
    theta_anions: f64,
    psi: [[[f64; ANIONS]; CATIONS]; CATIONS],
    psi_anions: [f64; CATIONS],
}

/// ln of the activity of water, and ln of each ion's activity coefficient, molal.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Activities {
    pub(crate) ln_water: f64,
    pub(crate) ln_gamma: [f64; IONS],
}

impl Model {
    /// At a temperature, K, with what is added to the published parameters.
    pub(crate) fn at(kelvin: f64, adjustment: &Adjustment) -> Self {
        let table: &'static Table = &TABLE;
        let basis = basis(kelvin);
        let value = |coefficients: &Coefficients| dot(coefficients, &basis);
        let mut pairs = [[[0.0; 4]; ANIONS]; CATIONS];
        let mut psi = [[[0.0; ANIONS]; CATIONS]; CATIONS];
        let mut theta = [[0.0; CATIONS]; CATIONS];
        for c in 0..CATIONS {
            for a in 0..ANIONS {
                pairs[c][a] = std::array::from_fn(|kind| value(&table.pairs[c][a][kind]));
                if a == 0 && kelvin < REFERENCE {
                    let tau = (kelvin - REFERENCE) / 100.0;
                    let [b2, b3, c2, c3] = adjustment.chlorides[c];
                    pairs[c][a][0] += tau * tau * (b2 + b3 * tau);
                    pairs[c][a][3] += tau * tau * (c2 + c3 * tau);
                }
                // C = Cφ / (2 √|z z'|).
                pairs[c][a][3] /= 2.0 * (CHARGE[c] * CHARGE[CATIONS + a]).abs().sqrt();
            }
            for other in 0..c {
                theta[c][other] = value(&table.theta[c][other]);
                theta[other][c] = theta[c][other];
                psi[c][other] = std::array::from_fn(|a| value(&table.psi[c][other][a]));
                psi[other][c] = psi[c][other];
            }
        }
        // Sodium is the first cation, calcium and magnesium are the third and fourth.
        let tau = (kelvin - REFERENCE) / 100.0;
        for (other, [theta_0, psi_0, theta_1, psi_1]) in [2, 3].into_iter().zip(adjustment.mixing) {
            let (of_theta, of_psi) = (theta_0 + theta_1 * tau, psi_0 + psi_1 * tau);
            theta[0][other] += of_theta;
            theta[other][0] += of_theta;
            psi[0][other][0] += of_psi;
            psi[other][0][0] += of_psi;
        }
        Self {
            a_phi: value(&table.a_phi),
            pairs,
            alpha: &table.alpha,
            theta,
            theta_anions: value(&table.theta_anions),
            psi,
            psi_anions: table.psi_anions.map(|coefficients| value(&coefficients)),
        }
    }

    /// Activities at molalities, mol/kg of water.
    pub(crate) fn activities(&self, m: &[f64; IONS]) -> Activities {
        let ionic: f64 = 0.5 * m.iter().zip(CHARGE).map(|(m, z)| m * z * z).sum::<f64>();
        let total: f64 = m.iter().sum();
        if ionic <= 1e-12 {
            return Activities { ln_water: 0.0, ln_gamma: [0.0; IONS] };
        }
        let root = ionic.sqrt();
        let z_sum: f64 = m.iter().zip(CHARGE).map(|(m, z)| m * z.abs()).sum();
        let mut f = -self.a_phi * (root / (1.0 + B * root) + 2.0 / B * (1.0 + B * root).ln());
        let mut osmotic = -self.a_phi * ionic * root / (1.0 + B * root);
        let mut ln_gamma = [0.0; IONS];
        let mut c_sum = 0.0;
        for c in 0..CATIONS {
            for a in 0..ANIONS {
                let (mc, ma) = (m[c], m[CATIONS + a]);
                // An ion that is absent adds nothing, and its parameters may be missing.
                if mc <= 0.0 || ma <= 0.0 {
                    continue;
                }
                let [b0, b1, b2, c0] = self.pairs[c][a];
                let [alpha1, alpha2] = self.alpha[c][a];
                let (g1, e1) = g(alpha1 * root);
                let (g2, e2) = g(alpha2 * root);
                let b = b0 + b1 * g1 + b2 * g2;
                let b_phi = b0 + b1 * e1 + b2 * e2;
                // g' = e - g, over the ionic strength.
                let b_prime = (b1 * (e1 - g1) + b2 * (e2 - g2)) / ionic;
                f += mc * ma * b_prime;
                osmotic += mc * ma * (b_phi + z_sum * c0);
                ln_gamma[c] += ma * (2.0 * b + z_sum * c0);
                ln_gamma[CATIONS + a] += mc * (2.0 * b + z_sum * c0);
                c_sum += mc * ma * c0;
            }
        }
        // Ions of one and of two charges, of either sign, have one electrostatic term between them.
        let (e_theta, e_theta_prime) = unsymmetrical(self.a_phi, ionic, root);
        for c in 0..CATIONS {
            for other in 0..c {
                let is_unlike = (CHARGE[c] - CHARGE[other]).abs() > 0.5;
                let (extra, prime) = if is_unlike { (e_theta, e_theta_prime) } else { (0.0, 0.0) };
                let phi = self.theta[c][other] + extra;
                let pair = m[c] * m[other];
                f += pair * prime;
                osmotic += pair * (phi + ionic * prime);
                ln_gamma[c] += 2.0 * m[other] * phi;
                ln_gamma[other] += 2.0 * m[c] * phi;
                for a in 0..ANIONS {
                    let psi = self.psi[c][other][a];
                    let ma = m[CATIONS + a];
                    osmotic += pair * ma * psi;
                    ln_gamma[c] += m[other] * ma * psi;
                    ln_gamma[other] += m[c] * ma * psi;
                    ln_gamma[CATIONS + a] += pair * psi;
                }
            }
        }
        let (chloride, sulfate) = (m[CATIONS], m[CATIONS + 1]);
        let phi = self.theta_anions + e_theta;
        let pair = chloride * sulfate;
        f += pair * e_theta_prime;
        osmotic += pair * (phi + ionic * e_theta_prime);
        ln_gamma[CATIONS] += 2.0 * sulfate * phi;
        ln_gamma[CATIONS + 1] += 2.0 * chloride * phi;
        for c in 0..CATIONS {
            let psi = self.psi_anions[c];
            osmotic += pair * m[c] * psi;
            ln_gamma[c] += pair * psi;
            ln_gamma[CATIONS] += sulfate * m[c] * psi;
            ln_gamma[CATIONS + 1] += chloride * m[c] * psi;
        }
        for (ln_gamma, z) in ln_gamma.iter_mut().zip(CHARGE) {
            *ln_gamma += z * z * f + z.abs() * c_sum;
        }
        Activities { ln_water: -WATER * (total + 2.0 * osmotic), ln_gamma }
    }
}

/// g(x) = 2 (1 - (1 + x) e^-x) / x², and e^-x.
fn g(x: f64) -> (f64, f64) {
    let e = (-x).exp();
    if x < 1e-4 { (1.0 - 2.0 * x / 3.0, e) } else { (2.0 * (1.0 - (1.0 + x) * e) / (x * x), e) }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn every_parameter_was_read() {
        let table = &*TABLE;
        for c in 0..CATIONS {
            for a in 0..ANIONS {
                assert!(
                    table.alpha[c][a][0] > 0.0
                        && table.pairs[c][a].iter().all(|p| p[0] != 0.0 || p[1] != 0.0)
                );
                for other in 0..c {
                    assert!(table.psi[c][other][a][0] != 0.0 && table.theta[c][other][0] != 0.0);
                }
            }
            assert!(table.psi_anions[c][0] != 0.0);
        }
        assert!(table.a_phi[0] > 0.3 && table.theta_anions[0] != 0.0);
    }

    /// Cases a law is tried on.
    fn config() -> ProptestConfig {
        let asked = std::env::var("PROPTEST_CASES").ok().and_then(|cases| cases.parse().ok());
        ProptestConfig {
            cases: asked.unwrap_or(2000),
            failure_persistence: None,
            ..ProptestConfig::default()
        }
    }

    proptest! {
        #![proptest_config(config())]

        /// Gibbs-Duhem: 1/M_w d ln a_w + Σ m d ln(m γ) = 0 along any path of neutral liquids, at any temperature.
        #[test]
        fn water_and_ions_agree_in_every_liquid(
            from in prop::array::uniform5(0.01..3.0f64), to in prop::array::uniform5(0.01..3.0f64),
            share in 0.1..0.9f64, kelvin in 218.15..313.15f64,
        ) {
            let neutral = |[na, k, ca, mg, so4]: [f64; 5]| -> [f64; IONS] {
                let so4 = so4.min(0.2);
                [na, k, ca, mg, na + k + 2.0 * (ca + mg - so4).max(0.0), so4]
            };
            let model = Model::at(kelvin, Adjustment::fitted());
            let (from, to) = (neutral(from), neutral(to));
            let at = |share: f64| -> [f64; IONS] { std::array::from_fn(|i| from[i] + share * (to[i] - from[i])) };
            let h = 1e-5;
            let (low, high, mid) = (at(share - h), at(share + h), at(share));
            let (a, b) = (model.activities(&low), model.activities(&high));
            let water = (b.ln_water - a.ln_water) / WATER;
            let ions: f64 =
                (0..IONS).map(|i| mid[i] * (b.ln_gamma[i] - a.ln_gamma[i] + (high[i] / low[i]).ln())).sum();
            prop_assert!((water + ions).abs() < 1e-6 * (1.0 + water.abs()), "{} {}", water, ions);
        }

        /// In next to nothing but water every coefficient is one, by the limiting law of Debye and Hückel: ln γ = -A
        /// z² √I within what the next term leaves.
        #[test]
        fn in_thin_liquids_the_limiting_law_holds(
            parts in prop::array::uniform4(0.0..1.0f64), kelvin in 250.0..313.0f64,
        ) {
            let [na, k, ca, mg] = parts.map(|part| 1e-6 * (part + 0.01));
            let m = [na, k, ca, mg, na + k + 2.0 * (ca + mg), 0.0];
            let model = Model::at(kelvin, Adjustment::fitted());
            let found = model.activities(&m);
            let ionic: f64 = 0.5 * m.iter().zip(CHARGE).map(|(m, z)| m * z * z).sum::<f64>();
            for (charge, ln_gamma) in CHARGE.into_iter().zip(found.ln_gamma).take(CATIONS) {
                let limit = -3.0 * model.a_phi * charge * charge * ionic.sqrt();
                prop_assert!((ln_gamma - limit).abs() < 0.02 * limit.abs(), "{} {}", ln_gamma, limit);
            }
            let total: f64 = m.iter().sum();
            prop_assert!((found.ln_water / (-WATER * total) - 1.0).abs() < 0.01);
        }
    }

    /// Gibbs-Duhem: 1/M_w d ln a_w + Σ m d ln(m γ) = 0 along any path.
    #[test]
    fn water_and_ions_agree() {
        let model = Model::at(260.0, Adjustment::fitted());
        let ends = [([0.5, 0.2, 0.3, 0.4, 1.7, 0.2], [3.0, 0.1, 1.0, 0.5, 5.7, 0.2])];
        for (from, to) in ends {
            let at =
                |share: f64| -> [f64; IONS] { std::array::from_fn(|i| from[i] + share * (to[i] - from[i])) };
            for share in [0.1, 0.5, 0.9] {
                let h = 1e-5;
                let (low, high, mid) = (at(share - h), at(share + h), at(share));
                let (a, b) = (model.activities(&low), model.activities(&high));
                let water = (b.ln_water - a.ln_water) / WATER;
                let ions: f64 = (0..IONS)
                    .map(|i| mid[i] * (b.ln_gamma[i] - a.ln_gamma[i] + (high[i] / low[i]).ln()))
                    .sum();
                assert!((water + ions).abs() < 1e-8, "{water} {ions}");
            }
        }
    }
}
