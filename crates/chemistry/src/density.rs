//! Density of brine and of water, and strength read back from density.

use crate::brine::SALTS;
use crate::surface::at;
use crate::water::{checked, kg_m3 as water_kg_m3};
use crate::{Brine, Error, Salt, fitted, root};
use crate::{Estimate, MassFraction, RelativeDensity};
use quantity::{MassDensity, ThermodynamicTemperature, in_kg_per_m3, kg_per_m3};
use uom::si::f64::TemperatureCoefficient;
use uom::si::temperature_coefficient::per_kelvin;

pub use crate::water::{COLDEST_CELSIUS, WARMEST_CELSIUS};

/// Strongest part of each salt in the density data, by mass of solution.
pub(crate) const MOST: [f64; SALTS] = [0.2667, 0.40, 0.34, 0.28, 0.04];

/// How close a strength is found that has a property, as a fraction.
pub(crate) const WITHIN_FRACTION: f64 = 1e-13;

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
/// use chemistry::density::water_density;
/// use quantity::{celsius, in_kg_per_m3};
/// assert!((in_kg_per_m3(water_density(celsius(20.0))?) - 998.2).abs() < 0.01);
/// assert!(water_density(celsius(41.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn water_density(temperature: ThermodynamicTemperature) -> Result<MassDensity, Error> {
    Ok(kg_per_m3(water_kg_m3(checked(temperature, REASON)?)))
}

/// Density of a brine at 1 atm, of the liquid whether or not it is stable.
///
/// # Equation
/// 1/ρ = (1−W)/ρ_water + Σ wᵢ vᵢ(W, t): every salt has the apparent specific volume it would have alone at the
/// same total strength W. vᵢ is a polynomial in √W and t.
///
/// # Range
/// −20…40 °C; by mass NaCl to 26.67 %, CaCl2 40 %, MgCl2 34 %, KCl 28 %, Na2SO4 4 %; blends in total to the most of any
/// salt in them.
///
/// # Error
/// See [`estimate`]. Measured: VALIDATION.md.
///
/// # Source
/// Mixing: M. Laliberté, W. E. Cooper, J. Chem. Eng. Data 49, 1141 (2004). vᵢ: our fit to CRC, Rogers & Pitzer (1982),
/// Pitzer et al. (1984), Melinder (2010), Laliberté (2009) and others; data and weights in `tests/data/density.csv`.
///
/// # Errors
/// [`Error::Temperature`] and [`Error::Strength`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, density::density};
/// use quantity::{celsius, in_kg_per_m3};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(10.0)?)?;
/// assert!((in_kg_per_m3(density(&brine, celsius(20.0))?) - 1070.7).abs() < 0.3); // CRC: 1.0707 g/mL
/// assert!(density(&brine, celsius(-20.5)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn density(brine: &Brine, temperature: ThermodynamicTemperature) -> Result<MassDensity, Error> {
    Ok(kg_per_m3(covered_kg_m3(brine, temperature)?.1))
}

/// Density with the 95 % interval of the equation.
///
/// # Equation
/// As [`density`].
///
/// # Range
/// As [`density`].
///
/// # Error
/// The interval, kg/m³: NaCl and KCl 0.5 from 10 °C, 1.2 from 0 °C, 2.5 below; CaCl2 and MgCl2 2.5 from 10 °C,
/// 3.5 below, 5 below 0 °C, and twice that above 32 % away from 20 °C; blends 2 more. It covers the spread of
/// the sources that agree with print.
///
/// # Source
/// VALIDATION.md, from the data.
///
/// # Errors
/// As [`density`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, density::estimate};
/// use quantity::{celsius, in_kg_per_m3};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(10.0)?)?;
/// assert!(in_kg_per_m3(estimate(&brine, celsius(20.0))?.uncertainty) <= 0.5);
/// assert!(estimate(&brine, celsius(41.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn estimate(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<Estimate<MassDensity>, Error> {
    let (celsius, value) = covered_kg_m3(brine, temperature)?;
    let of_salt = |salt, part: f64| match salt {
        Salt::CalciumChloride | Salt::MagnesiumChloride => {
            let usual = if celsius < 0.0 {
                5.0
            } else if celsius < 10.0 {
                3.5
            } else {
                2.5
            };
            if part > 0.32 && (celsius - 20.0).abs() > 5.0 { 2.0 * usual } else { usual }
        }
        _ if celsius < 0.0 => 2.5,
        _ if celsius < 10.0 => 1.2,
        _ => 0.5,
    };
    let single = brine.dissolved().map(|(salt, part)| of_salt(salt, part)).fold(0.01, f64::max);
    let mixing = if brine.only_salt().is_some() { 0.0 } else { 2.0 };
    Ok(Estimate { value: kg_per_m3(value), uncertainty: kg_per_m3(single + mixing) })
}

fn covered_kg_m3(brine: &Brine, temperature: ThermodynamicTemperature) -> Result<(f64, f64), Error> {
    let celsius = checked(temperature, REASON)?;
    brine.check_covered(&MOST, "chemistry.limit.density_data")?;
    Ok((celsius, brine_kg_m3(brine, celsius)))
}

/// Thermal expansion of a brine: share of volume gained per kelvin.
///
/// # Equation
/// −(1/ρ) dρ/dT, by a central difference of 0.5 K.
///
/// # Range
/// As [`density`]; within 0.5 K of an end of the temperatures, one-sided.
///
/// # Error
/// 5 % for NaCl and KCl from 10 °C, 20 % otherwise; of CaCl2 and MgCl2 above 30 % below 10 °C no more than its size.
///
/// # Source
/// As [`density`].
///
/// # Errors
/// As [`density`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, density::thermal_expansion};
/// use quantity::celsius;
/// let water = thermal_expansion(&Brine::WATER, celsius(20.0))?;
/// let per_kelvin = water.get::<uom::si::temperature_coefficient::per_kelvin>();
/// assert!((per_kelvin - 2.07e-4).abs() < 2e-6); // water at 20 °C: 2.07e-4 per kelvin
/// assert!(thermal_expansion(&Brine::WATER, celsius(41.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn thermal_expansion(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<TemperatureCoefficient, Error> {
    let (celsius, density) = covered_kg_m3(brine, temperature)?;
    let (cold, warm) = ((celsius - 0.25).max(COLDEST_CELSIUS), (celsius + 0.25).min(WARMEST_CELSIUS));
    let slope = (brine_kg_m3(brine, warm) - brine_kg_m3(brine, cold)) / (warm - cold);
    Ok(TemperatureCoefficient::new::<per_kelvin>(-slope / density))
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
/// That of [`estimate`] over 1000: 0.0005 for NaCl and KCl at 10…40 °C, 0.0025 for CaCl2 and MgCl2.
///
/// # Source
/// As [`density`] and [`water_density`].
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, density::relative_density};
/// use quantity::celsius;
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
/// [`density`] read backward by [`root::zero`]; density rises with strength everywhere in range.
///
/// # Range
/// Densities of 0…26.67 % brine at the temperature, which is −20…40 °C.
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
/// use chemistry::density::brine_of_density;
/// use quantity::{celsius, kg_per_m3};
/// let brine = brine_of_density(kg_per_m3(1147.8), celsius(20.0))?;
/// assert!((brine.strength().percent() - 20.0).abs() < 0.1); // CRC: 20 % is 1.1478 g/mL
/// assert!(brine_of_density(kg_per_m3(1300.0), celsius(20.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn brine_of_density(density: MassDensity, temperature: ThermodynamicTemperature) -> Result<Brine, Error> {
    let t = checked(temperature, REASON)?;
    let wanted = in_kg_per_m3(density);
    let strongest = Brine::STRONGEST_PERCENT / 100.0;
    let of = |w| single_kg_m3(Salt::SodiumChloride, w, t);
    let (low, high) = (of(0.0), of(strongest));
    if !(low - 1e-9..=high + 1e-9).contains(&wanted) {
        return Err(Error::Density { kg_m3: wanted, low, high, reason: "chemistry.limit.salt_brine" });
    }
    let ends = [(0.0, low - wanted), (strongest, high - wanted)];
    let fraction = root::zero(|w| of(w) - wanted, ends[0], ends[1], WITHIN_FRACTION);
    Brine::sodium_chloride(MassFraction::from_fraction(fraction)?)
}

/// Brine of a known relative density at known temperatures: the inverse of [`relative_density`].
///
/// # Equation
/// [`brine_of_density`] of ratio·ρ_water(T_water).
///
/// # Range
/// Relative densities of 0…26.67 % brine at the temperatures, both −20…40 °C.
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
/// use chemistry::{RelativeDensity, density::brine_of_relative_density};
/// use quantity::celsius;
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

impl Brine {
    /// See [`density`].
    ///
    /// # Errors
    /// As [`density`].
    pub fn density(&self, temperature: ThermodynamicTemperature) -> Result<MassDensity, Error> {
        density(self, temperature)
    }
}

const REASON: &str = "chemistry.limit.density_data";

/// Density of a brine of one salt, kg/m³, unchecked.
pub(crate) fn single_kg_m3(salt: Salt, w: f64, t: f64) -> f64 {
    let volume = at(fitted::DENSITY[salt.place()], w.sqrt(), t);
    1.0 / ((1.0 - w) / water_kg_m3(t) + w * 1e-3 * volume)
}

/// Density of any brine, kg/m³, unchecked.
pub(crate) fn brine_kg_m3(brine: &Brine, t: f64) -> f64 {
    let (total, mut volume) = (brine.total(), 0.0);
    for (salt, part) in brine.dissolved() {
        volume += part * 1e-3 * at(fitted::DENSITY[salt.place()], total.sqrt(), t);
    }
    1.0 / ((1.0 - total) / water_kg_m3(t) + volume)
}
