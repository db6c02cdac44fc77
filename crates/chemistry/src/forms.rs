//! The forms that our fits take: which function of a measured value is a sum of unknown coefficients.
//!
//! Used by `cargo xtask fit`, which finds the coefficients of `fitted.rs`, and by the properties, which put
//! them to use: one definition for both. Not for callers of the crate.

use crate::brine::{Salt, WATER};
use crate::surface::polynomial;
use crate::{density, fitted, water};

/// Pitzer's b, kg^½ mol^−½.
pub(crate) const PITZER_B: f64 = 1.2;
/// Pitzer's α, kg^½ mol^−½.
pub(crate) const PITZER_ALPHA: f64 = 2.0;
/// Debye-Hückel slope of enthalpy at 25 °C, kJ kg^½ mol^−3/2: D. G. Archer, P. Wang, J. Phys. Chem. Ref. Data
/// 19, 371 (1990).
pub(crate) const ENTHALPY_SLOPE: f64 = 1.987_7;

/// What is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Apparent specific volume of the salt, from density.
    Density,
    /// ln of the apparent viscosity of the salt.
    Viscosity,
    /// Apparent specific heat capacity of the salt.
    HeatCapacity,
    /// ln of conductivity over strength.
    Conductivity,
    /// Apparent specific refraction of the salt.
    Refraction,
    /// Osmotic coefficient less its Debye-Hückel term.
    WaterActivity,
    /// Apparent relative molar enthalpy less its Debye-Hückel term.
    RelativeEnthalpy,
    /// Temperature at which ice first appears, °C, by strength.
    Ice,
    /// Saturated strength by temperature.
    SaturatedStrength,
    /// Saturation temperature by strength.
    SaturationTemperature,
}

/// One observation as a linear equation: Σ cᵢ·basisᵢ = value, known to `per_unit`·σ where the observation is
/// known to σ.
#[derive(Debug, Clone, PartialEq)]
pub struct Equation {
    /// What the coefficients are multiplied by.
    pub basis: Vec<f64>,
    /// Right side of the equation: the observation, transformed as the form needs it.
    pub value: f64,
    /// Change of the value by one unit of the observation.
    pub per_unit: f64,
}

/// Powers 0…`powers`−1 of `x`, each with three powers of τ.
fn of_surface(x: f64, celsius: f64, powers: usize) -> Vec<f64> {
    let tau = celsius / 100.0;
    (0..powers).flat_map(|j| [1.0, tau, tau * tau].map(|t| x.powi(j as i32) * t)).collect()
}

/// The linear equation of an observation of one salt: mass fraction `w`, temperature, observed value (kg/m³, mPa·s,
/// J/(kg·K), mS/cm, index, activity, kJ/mol, °C or mass fraction), so many powers of composition.
pub fn equation(form: Form, salt: Salt, w: f64, celsius: f64, observed: f64, powers: usize) -> Equation {
    let water_share = 1.0 - w;
    match form {
        Form::Density => Equation {
            // The highest powers of composition have no curvature with temperature: strong CaCl2 and MgCl2 was not
            // measured in the cold, and with it their density would turn over there.
            basis: of_surface(w.sqrt(), celsius, powers)
                .into_iter()
                .enumerate()
                .map(|(place, term)| if place >= 6 && place % 3 == 2 && is_strong(salt) { 0.0 } else { term })
                .collect(),
            value: 1e3 * (1.0 / observed - water_share / crate::water::kg_m3(celsius)) / w,
            per_unit: 1e3 / (observed * observed * w),
        },
        Form::Viscosity => Equation {
            basis: of_surface(w, celsius, powers),
            value: (observed.ln() - water_share * water::millipascals(celsius).ln()) / w,
            per_unit: 1.0 / w,
        },
        Form::HeatCapacity => Equation {
            basis: of_surface(w, celsius, powers),
            value: (observed - water_share * water::joules_per_kg(celsius)) / w,
            per_unit: 1.0 / w,
        },
        Form::Conductivity => Equation {
            // The highest powers have no temperature in them: strong brine was measured at 20 °C only, and with it
            // the curve would swing where there is nothing to hold it.
            basis: of_surface(w.sqrt(), celsius, powers)
                .into_iter()
                .enumerate()
                .map(|(place, term)| if place >= 9 && place % 3 > 0 { 0.0 } else { term })
                .collect(),
            value: (observed / w).ln(),
            per_unit: 1.0,
        },
        Form::Refraction => {
            let density = density::single_kg_m3(salt, w, celsius);
            let ratio = water::ratio_of(observed);
            let step = water::ratio_of(observed + 1e-6) - ratio;
            Equation {
                basis: of_surface(w.sqrt(), 0.0, powers).into_iter().step_by(3).collect(),
                value: 1e3 * (ratio / density - water_share * water::specific_refraction(celsius)) / w,
                per_unit: 1e3 * step / 1e-6 / density / w,
            }
        }
        Form::WaterActivity => {
            let molality = molality(salt, w);
            let ions = salt.ions() * molality * WATER / 1000.0;
            let basis = &osmotic_terms(salt, molality)[..powers];
            Equation {
                basis: basis
                    .iter()
                    .flat_map(|b| of_surface(1.0, celsius, 1).into_iter().map(move |t| b * t))
                    .collect(),
                value: -observed.ln() / ions - 1.0 - osmotic_limit(salt, molality, celsius),
                per_unit: 1.0 / (observed * ions),
            }
        }
        Form::RelativeEnthalpy => {
            let molality = molality(salt, w);
            Equation {
                basis: osmotic_terms(salt, molality)[..powers].to_vec(),
                value: observed - enthalpy_limit(salt, molality),
                per_unit: 1.0,
            }
        }
        Form::Ice => Equation {
            basis: (1..=powers as i32).map(|power| w.powi(power)).collect(),
            value: observed,
            per_unit: 1.0,
        },
        Form::SaturatedStrength => Equation {
            basis: (0..powers as i32).map(|power| (celsius / 100.0).powi(power)).collect(),
            value: observed,
            per_unit: 1.0,
        },
        Form::SaturationTemperature => Equation {
            basis: (0..powers as i32).map(|power| w.powi(power)).collect(),
            value: observed,
            per_unit: 1.0,
        },
    }
}

/// Salts sold much stronger than they were measured in the cold.
fn is_strong(salt: Salt) -> bool {
    matches!(salt, Salt::CalciumChloride | Salt::MagnesiumChloride)
}

/// mol of salt per kg of water.
pub(crate) fn molality(salt: Salt, w: f64) -> f64 {
    1000.0 * w / ((1.0 - w) * salt.molar_mass())
}

/// mol of charge pairs per kg of water, on the molal scale of ionic strength.
pub(crate) fn ionic_strength(salt: Salt, molality: f64) -> f64 {
    let z = salt.equivalents();
    0.5 * molality * (z + z * z)
}

/// What multiplies the coefficients of an osmotic coefficient, and of a relative enthalpy: m, m·exp(−α√I), m², m³.
pub(crate) fn osmotic_terms(salt: Salt, molality: f64) -> [f64; 4] {
    let root = ionic_strength(salt, molality).sqrt();
    [molality, molality * (-PITZER_ALPHA * root).exp(), molality.powi(2), molality.powi(3)]
}

/// Debye-Hückel term of the osmotic coefficient, negative.
pub(crate) fn osmotic_limit(salt: Salt, molality: f64, celsius: f64) -> f64 {
    let root = ionic_strength(salt, molality).sqrt();
    let slope = polynomial(&fitted::DEBYE_HUCKEL, celsius / 100.0);
    -salt.equivalents() * slope * root / (1.0 + PITZER_B * root)
}

/// Debye-Hückel term of the apparent relative molar enthalpy, kJ/mol.
pub(crate) fn enthalpy_limit(salt: Salt, molality: f64) -> f64 {
    let root = ionic_strength(salt, molality).sqrt();
    salt.ions() * salt.equivalents() * ENTHALPY_SLOPE / (2.0 * PITZER_B) * (1.0 + PITZER_B * root).ln()
}
