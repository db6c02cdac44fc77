//! Viscosity of brine: what pumps, nozzles and settling feel.

use crate::Estimate;
use crate::brine::SALTS;
use crate::surface::at;
use crate::water::checked;
use crate::{Brine, Error, Salt, fitted, water};
use quantity::{DynamicViscosity, ThermodynamicTemperature, millipascal_seconds};

/// Strongest part of each salt in the viscosity data.
const MOST: [f64; SALTS] = [0.2667, 0.40, 0.32, 0.28, 0.04];
/// Strongest calcium and magnesium chloride with data below 0 °C.
const MOST_IN_THE_COLD: [f64; SALTS] = [0.2667, 0.31, 0.21, 0.28, 0.04];
const REASON: &str = "chemistry.limit.viscosity_data";

/// Dynamic viscosity of a brine.
///
/// # Equation
/// ln η = (1−W) ln η_water + Σ wᵢ fᵢ(W, t), fᵢ a polynomial.
///
/// # Range
/// −20…40 °C; by mass NaCl to 26.67 %, CaCl2 40 %, MgCl2 32 %, KCl 28 %, Na2SO4 4 %; below 0 °C CaCl2 to 31 %
/// and MgCl2 to 21 %, beyond which the sources differ by half.
///
/// # Error
/// See [`estimate`]. Measured: VALIDATION.md.
///
/// # Source
/// Mixing: M. Laliberté, J. Chem. Eng. Data 52, 321 (2007). fᵢ: our fit to CRC, Mao & Duan, Laliberté (2009)
/// and Melinder (2010); data and weights in `tests/data/viscosity.csv`.
///
/// # Errors
/// [`Error::Temperature`] and [`Error::Strength`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, viscosity::viscosity};
/// use quantity::{celsius, in_millipascal_seconds};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(20.0)?)?;
/// assert!((in_millipascal_seconds(viscosity(&brine, celsius(20.0))?) - 1.557).abs() < 0.03); // CRC
/// assert!(viscosity(&brine, celsius(-25.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn viscosity(brine: &Brine, temperature: ThermodynamicTemperature) -> Result<DynamicViscosity, Error> {
    Ok(estimate(brine, temperature)?.value)
}

/// Viscosity with the 95 % interval of the equation.
///
/// # Equation
/// As [`viscosity`].
///
/// # Range
/// As [`viscosity`].
///
/// # Error
/// The interval, per cent of the value: NaCl 3, below 0 °C 6; the others 10, below 0 °C 18; blends 5 more.
///
/// # Source
/// VALIDATION.md, from the data.
///
/// # Errors
/// As [`viscosity`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, viscosity::estimate};
/// use quantity::celsius;
/// assert!(estimate(&Brine::WATER, celsius(20.0)).is_ok());
/// assert!(estimate(&Brine::WATER, celsius(41.0)).is_err());
/// ```
pub fn estimate(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<Estimate<DynamicViscosity>, Error> {
    let celsius = checked(temperature, REASON)?;
    brine.check_covered(&MOST, "chemistry.limit.viscosity_data")?;
    if celsius < 0.0 {
        brine.check_covered(&MOST_IN_THE_COLD, "chemistry.limit.cold_viscosity_data")?;
    }
    let value = millipascals(brine, celsius);
    let percent = brine.dissolved().fold(1.0, |most: f64, (salt, _)| {
        let own = match (salt, celsius < 0.0) {
            (Salt::SodiumChloride, false) => 3.0,
            (Salt::SodiumChloride, true) => 6.0,
            (_, false) => 10.0,
            (_, true) => 18.0,
        };
        most.max(own)
    });
    let mixing = if brine.only_salt().is_some() { 0.0 } else { 5.0 };
    let uncertainty = value * (percent + mixing) / 100.0;
    Ok(Estimate { value: millipascal_seconds(value), uncertainty: millipascal_seconds(uncertainty) })
}

fn millipascals(brine: &Brine, celsius: f64) -> f64 {
    let total = brine.total();
    let salts: f64 = brine
        .dissolved()
        .map(|(salt, part)| part * at(fitted::VISCOSITY[salt.place()], total, celsius))
        .sum();
    ((1.0 - total) * water::millipascals(celsius).ln() + salts).exp()
}
