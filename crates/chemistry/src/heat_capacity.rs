//! Specific heat capacity of brine.

use crate::Estimate;
use crate::brine::SALTS;
use crate::surface::{Surface, at, polynomial};
use crate::water::checked;
use crate::{Brine, Error, Salt, fitted, water};
use quantity::{SpecificHeatCapacity, ThermodynamicTemperature, joules_per_kg_kelvin};

/// Strongest part of each salt in the heat capacity data.
pub(crate) const MOST: [f64; SALTS] = [0.2667, 0.40, 0.34, 0.28, 0.04];
const REASON: &str = "chemistry.limit.heat_capacity_data";

/// Specific heat capacity of a brine at constant pressure.
///
/// # Equation
/// c = (1−W) c_water + Σ wᵢ cᵢ(W, t), cᵢ a polynomial.
///
/// # Range
/// −20…40 °C; by mass NaCl to 26.67 %, CaCl2 40 %, MgCl2 34 %, KCl 28 %, Na2SO4 4 %.
///
/// # Error
/// See [`estimate`]. Measured: VALIDATION.md.
///
/// # Source
/// Mixing: M. Laliberté, J. Chem. Eng. Data 54, 1725 (2009). cᵢ: our fit to Pitzer et al. (1984), Laliberté (2009) and
/// Melinder (2010); data and weights in `tests/data/heat_capacity.csv`.
///
/// # Errors
/// [`Error::Temperature`] and [`Error::Strength`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, heat_capacity::heat_capacity};
/// use quantity::{celsius, in_joules_per_kg_kelvin};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(10.465)?)?;
/// let c = in_joules_per_kg_kelvin(heat_capacity(&brine, celsius(25.0))?);
/// assert!((c / 3715.9 - 1.0).abs() < 0.005); // Pitzer, Peiper & Busey 1984, 2 mol/kg
/// assert!(heat_capacity(&brine, celsius(45.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn heat_capacity(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<SpecificHeatCapacity, Error> {
    Ok(estimate(brine, temperature)?.value)
}

/// Heat capacity with the 95 % interval of the equation.
///
/// # Equation
/// As [`heat_capacity`].
///
/// # Range
/// As [`heat_capacity`].
///
/// # Error
/// The interval, per cent of the value: NaCl 1, the others 2, blends 1 more.
///
/// # Source
/// VALIDATION.md, from the data.
///
/// # Errors
/// As [`heat_capacity`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, heat_capacity::estimate};
/// use quantity::celsius;
/// assert!(estimate(&Brine::WATER, celsius(20.0)).is_ok());
/// assert!(estimate(&Brine::WATER, celsius(-21.0)).is_err());
/// ```
pub fn estimate(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<Estimate<SpecificHeatCapacity>, Error> {
    let celsius = checked(temperature, REASON)?;
    brine.check_covered(&MOST, "chemistry.limit.heat_capacity_data")?;
    let value = joules(brine, celsius);
    let percent = brine
        .dissolved()
        .map(|(salt, _)| if salt == Salt::SodiumChloride { 1.0 } else { 2.0 })
        .fold(0.1, f64::max);
    let mixing = if brine.only_salt().is_some() { 0.0 } else { 1.0 };
    Ok(Estimate {
        value: joules_per_kg_kelvin(value),
        uncertainty: joules_per_kg_kelvin(value * (percent + mixing) / 100.0),
    })
}

/// Specific heat capacity of a brine, J/(kg·K), with no check of its range.
pub(crate) fn joules(brine: &Brine, celsius: f64) -> f64 {
    let total = brine.total();
    let salts: f64 = brine
        .dissolved()
        .map(|(salt, part)| part * at(fitted::HEAT_CAPACITY[salt.place()], total, celsius))
        .sum();
    (1.0 - total) * water::joules_per_kg(celsius) + salts
}

/// ∫ c dT from 0 °C, J/kg, unchecked.
pub(crate) fn heat_from_zero(brine: &Brine, celsius: f64) -> f64 {
    let total = brine.total();
    let tau = celsius / 100.0;
    let salts: f64 = brine
        .dissolved()
        .map(|(salt, part)| part * over_temperature(fitted::HEAT_CAPACITY[salt.place()], total, tau))
        .sum();
    let mut pure = [0.0; fitted::WATER_HEAT_CAPACITY.len()];
    for (power, (integrated, c)) in pure.iter_mut().zip(fitted::WATER_HEAT_CAPACITY).enumerate() {
        *integrated = c / (power as f64 + 1.0);
    }
    100.0 * ((1.0 - total) * tau * polynomial(&pure, tau) + salts)
}

/// ∫ surface dτ from zero.
fn over_temperature(surface: &Surface, x: f64, tau: f64) -> f64 {
    surface
        .iter()
        .rev()
        .fold(0.0, |sum, [c0, c1, c2]| sum * x + tau * (c0 + tau * (c1 / 2.0 + tau * c2 / 3.0)))
}
