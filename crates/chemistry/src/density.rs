//! Density of brine and of water, and strength read back from density.

use crate::quantity::{
    MassDensity, MassFraction, RelativeDensity, ThermodynamicTemperature, in_celsius, in_kg_per_m3, kg_per_m3,
};
use crate::{Brine, Error};

/// Coldest temperature covered, °C.
pub const COLDEST_CELSIUS: f64 = -20.0;
/// Warmest temperature covered, °C.
pub const WARMEST_CELSIUS: f64 = 40.0;

/// Kell's coefficients of ρ_water(t), kg/m³, numerator from t⁰ up, as printed.
const KELL: [f64; 6] =
    [999.839_52, 16.945_176, -7.987_040_1e-3, -46.170_461e-6, 105.563_02e-9, -280.542_53e-12];
/// Kell's denominator coefficient.
const KELL_DENOMINATOR: f64 = 16.879_85e-3;

/// Laliberté's c0…c4 for NaCl, as distributed with his 2009 update.
const NACL: [f64; 5] = [
    -0.003_241_122_236_551_49,
    0.063_635_433_590_661_6,
    1.013_713_994_673_65,
    0.014_595_101_521_015_9,
    3_317.348_544_265_37,
];

/// Bisection steps: halves 100 % below 1e-15.
const BISECTIONS: usize = 60;

/// Density of pure water at 1 atm.
///
/// # Equation
/// ρ = (Σ aᵢ tⁱ)/(1 + b t), t in °C.
///
/// # Range
/// −20…40 °C; below 0 °C the liquid is supercooled and the value serves only the brine equation.
///
/// # Error
/// Source: 0.01 kg/m³ at 0…40 °C. Measured against IAPWS-95: see VALIDATION.md.
///
/// # Source
/// G. S. Kell, J. Chem. Eng. Data 20, 97 (1975), the equation used by Laliberté.
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{density::water_density, quantity::{celsius, in_kg_per_m3}};
/// assert!((in_kg_per_m3(water_density(celsius(20.0))?) - 998.2).abs() < 0.01);
/// assert!(water_density(celsius(41.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn water_density(temperature: ThermodynamicTemperature) -> Result<MassDensity, Error> {
    Ok(kg_per_m3(water_kg_m3(checked(temperature)?)))
}

/// Density of sodium chloride brine at 1 atm, of the liquid whether or not it is stable.
///
/// # Equation
/// 1/ρ = (1−w)/ρ_water + w/ρ_app, ρ_app = (c0·w + c1)·exp(1e-6·(t + c4)²)/(w + c2 + c3·t), w the mass fraction and t in
/// °C.
///
/// # Range
/// 0…26.3 % by mass, −20…40 °C. Laliberté's data begin at 0 °C; below, the same equation is used and held against
/// CoolProp's MNA fit.
///
/// # Error
/// 95 %: 1 kg/m³ at 10…40 °C (0.12 % by mass of strength), 1.2 at 0 °C, 3 below. Measured: see VALIDATION.md.
///
/// # Source
/// M. Laliberté, W. E. Cooper, J. Chem. Eng. Data 49, 1141 (2004), with the coefficients of M. Laliberté, J. Chem.
/// Eng. Data 54, 1725 (2009), read from the general-purpose Python package `chemicals` 1.5.2.
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, density::density, quantity::{celsius, in_kg_per_m3}};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(10.0)?)?;
/// assert!((in_kg_per_m3(density(&brine, celsius(20.0))?) - 1070.7).abs() < 0.3); // CRC: 1.0707 g/mL
/// assert!(density(&brine, celsius(-20.5)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn density(brine: &Brine, temperature: ThermodynamicTemperature) -> Result<MassDensity, Error> {
    Ok(kg_per_m3(brine_kg_m3(brine.strength().fraction(), checked(temperature)?)))
}

/// Relative density (specific gravity) of brine at one temperature over water at another.
///
/// # Equation
/// ρ_brine(T_brine)/ρ_water(T_water).
///
/// # Range
/// As [`density`], both temperatures.
///
/// # Error
/// 0.001 at 10…40 °C.
///
/// # Source
/// As [`density`] and [`water_density`].
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, density::relative_density, quantity::celsius};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(23.3)?)?;
/// let sg = relative_density(&brine, celsius(20.0), celsius(20.0))?;
/// assert!((sg.ratio() - 1.176).abs() < 0.002); // AASHTO M 143-14, 6.3.1
/// assert!(relative_density(&brine, celsius(20.0), celsius(60.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn relative_density(
    brine: &Brine,
    brine_temperature: ThermodynamicTemperature,
    water_temperature: ThermodynamicTemperature,
) -> Result<RelativeDensity, Error> {
    let water = in_kg_per_m3(water_density(water_temperature)?);
    RelativeDensity::from_ratio(in_kg_per_m3(density(brine, brine_temperature)?) / water)
}

/// Brine of a known density at a known temperature.
///
/// # Equation
/// [`density`] read backward by bisection; density rises with strength everywhere in range.
///
/// # Range
/// Densities of 0…26.3 % brine at the temperature, which is −20…40 °C.
///
/// # Error
/// 0.12 % by mass at 10…40 °C from the density equation alone; a reading's own error comes on top.
///
/// # Source
/// As [`density`].
///
/// # Errors
/// [`Error::Density`] when no brine in range has it; [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{density::brine_of_density, quantity::{celsius, kg_per_m3}};
/// let brine = brine_of_density(kg_per_m3(1147.8), celsius(20.0))?;
/// assert!((brine.strength().percent() - 20.0).abs() < 0.1); // CRC: 20 % is 1.1478 g/mL
/// assert!(brine_of_density(kg_per_m3(1300.0), celsius(20.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn brine_of_density(density: MassDensity, temperature: ThermodynamicTemperature) -> Result<Brine, Error> {
    let t = checked(temperature)?;
    let wanted = in_kg_per_m3(density);
    let strongest = Brine::STRONGEST_PERCENT / 100.0;
    let (low, high) = (brine_kg_m3(0.0, t), brine_kg_m3(strongest, t));
    if !(low - 1e-9..=high + 1e-9).contains(&wanted) {
        return Err(Error::Density {
            kg_m3: wanted,
            low,
            high,
            reason: "what 0…26.3 % brine has at that temperature",
        });
    }
    let fraction = bisect(0.0, strongest, |w| brine_kg_m3(w, t) - wanted);
    Brine::sodium_chloride(MassFraction::from_fraction(fraction)?)
}

/// Brine of a known relative density at known temperatures: the inverse of [`relative_density`].
///
/// # Equation
/// [`brine_of_density`] of ratio·ρ_water(T_water).
///
/// # Range
/// Relative densities of 0…26.3 % brine at the temperatures, both −20…40 °C.
///
/// # Error
/// As [`brine_of_density`]; 0.001 of relative density is 0.12 % by mass near 23.3 %.
///
/// # Source
/// As [`relative_density`].
///
/// # Errors
/// As [`brine_of_density`].
///
/// # Examples
/// ```
/// use chemistry::{RelativeDensity, density::brine_of_relative_density, quantity::celsius};
/// let t = celsius(20.0);
/// let brine = brine_of_relative_density(RelativeDensity::from_ratio(1.176)?, t, t)?;
/// assert!((brine.strength().percent() - 23.3).abs() < 0.2); // AASHTO M 143-14, 6.3.1: 23.3 % is 1.176
/// assert!(brine_of_relative_density(RelativeDensity::from_ratio(1.4)?, t, t).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn brine_of_relative_density(
    reading: RelativeDensity,
    brine_temperature: ThermodynamicTemperature,
    water_temperature: ThermodynamicTemperature,
) -> Result<Brine, Error> {
    brine_of_density(water_density(water_temperature)? * reading.ratio(), brine_temperature)
}

/// The root of a rising function between two limits, by bisection; a root outside lands on the nearer limit.
pub(crate) fn bisect(low: f64, high: f64, rising: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (low, high);
    for _ in 0..BISECTIONS {
        let middle = 0.5 * (low + high);
        if rising(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

fn checked(temperature: ThermodynamicTemperature) -> Result<f64, Error> {
    let celsius = in_celsius(temperature);
    // Limits are inclusive; a conversion may land a rounding outside.
    if (COLDEST_CELSIUS - 1e-9..=WARMEST_CELSIUS + 1e-9).contains(&celsius) {
        Ok(celsius)
    } else {
        Err(Error::Temperature {
            celsius,
            low: COLDEST_CELSIUS,
            high: WARMEST_CELSIUS,
            reason: "the range of the density equation",
        })
    }
}

fn water_kg_m3(t: f64) -> f64 {
    KELL.iter().rev().fold(0.0, |sum, a| sum * t + a) / (1.0 + KELL_DENOMINATOR * t)
}

fn brine_kg_m3(w: f64, t: f64) -> f64 {
    let [c0, c1, c2, c3, c4] = NACL;
    let apparent = (c0 * w + c1) * (1e-6 * (t + c4).powi(2)).exp() / (w + c2 + c3 * t);
    1.0 / ((1.0 - w) / water_kg_m3(t) + w / apparent)
}
