//! Refractive index of brine, and the sugar scale that most refractometers show it on.

use crate::brine::SALTS;
use crate::surface::polynomial;
use crate::water::{checked, index_of, specific_refraction};
use crate::{Brine, Error, density, fitted};
use crate::{BrixDegree, Estimate, RefractiveIndex};
use quantity::ThermodynamicTemperature;

/// Strongest part of each salt in the index data.
pub(crate) const MOST: [f64; SALTS] = [0.2667, 0.40, 0.31, 0.25, 0.04];
const REASON: &str = "chemistry.limit.refraction_data";

/// Refractive index of a brine against air at 589.3 nm, at its own temperature.
///
/// # Equation
/// Lorentz-Lorenz: (n² − 1)/(n² + 2) = ρ·[(1−W) r_water(t) + Σ wᵢ rᵢ(W)], ρ from [`density`], r_water from
/// IAPWS R9-97, rᵢ a polynomial in √W.
///
/// # Range
/// −20…40 °C; by mass NaCl to 26.67 %, CaCl2 40 %, MgCl2 31 %, KCl 25 %, Na2SO4 4 %.
///
/// # Error
/// See [`estimate`]. Measured: VALIDATION.md.
///
/// # Source
/// rᵢ: our fit to CRC at 20 °C; `tests/data/refractive_index.csv`. Away from 20 °C nothing measured was found;
/// density and water carry the temperature.
///
/// # Errors
/// [`Error::Temperature`] and [`Error::Strength`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, refraction::refractive_index};
/// use quantity::celsius;
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(20.0)?)?;
/// assert!((refractive_index(&brine, celsius(20.0))?.index() - 1.3684).abs() < 0.0002); // CRC
/// assert!(refractive_index(&brine, celsius(41.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn refractive_index(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<RefractiveIndex, Error> {
    Ok(estimate(brine, temperature)?.value)
}

/// Refractive index with the 95 % interval of the equation, as a difference of index.
///
/// # Equation
/// As [`refractive_index`].
///
/// # Range
/// As [`refractive_index`].
///
/// # Error
/// The interval: 0.0002 at 20 °C and 0.00006 more for every kelvin away from it; blends 0.0005 more.
///
/// # Source
/// VALIDATION.md; the slope is what two published ways to carry the index to other temperatures differ by.
///
/// # Errors
/// As [`refractive_index`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, refraction::estimate};
/// use quantity::celsius;
/// assert!((estimate(&Brine::WATER, celsius(10.0)).unwrap().uncertainty - 0.0008).abs() < 1e-9);
/// assert!(estimate(&Brine::WATER, celsius(-21.0)).is_err());
/// ```
pub fn estimate(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<Estimate<RefractiveIndex, f64>, Error> {
    let celsius = checked(temperature, REASON)?;
    brine.check_covered(&MOST, "chemistry.limit.refraction_data")?;
    let mixing = if brine.only_salt().is_some() { 0.0 } else { 0.0005 };
    Ok(Estimate {
        value: RefractiveIndex::from_index(index(brine, celsius))?,
        uncertainty: 0.0002 + 0.000_06 * (celsius - 20.0).abs() + mixing,
    })
}

/// Refractive index of a brine against air at 589.3 nm, with no check of its range.
pub(crate) fn index(brine: &Brine, celsius: f64) -> f64 {
    let total = brine.total();
    let salts: f64 = brine
        .dissolved()
        .map(|(salt, part)| part * polynomial(fitted::REFRACTION[salt.place()], total.sqrt()))
        .sum();
    let refraction = (1.0 - total) * specific_refraction(celsius) + 1e-3 * salts;
    index_of(density::brine_kg_m3(brine, celsius) * refraction)
}

/// What a sugar scale shows at a refractive index: the scale is made for 20 °C and is not compensated here.
///
/// # Equation
/// Straight lines between the whole degrees of the scale.
///
/// # Range
/// Index of 0…70 degrees Brix, 1.33299…1.46546.
///
/// # Error
/// 0.02 degrees against the printed scale, 0.002 from the lines.
///
/// # Source
/// ICUMSA scale as computed by the Python package chemicals 1.5.2 (`tests/data/brix.csv`), held against CRC's
/// sucrose table.
///
/// # Errors
/// [`Error::Reading`] outside the scale.
///
/// # Examples
/// ```
/// use chemistry::{RefractiveIndex, refraction::brix};
/// assert!((brix(RefractiveIndex::from_index(1.36384)?)?.degrees() - 20.0).abs() < 0.01);
/// assert!(brix(RefractiveIndex::from_index(1.3)?).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn brix(index: RefractiveIndex) -> Result<BrixDegree, Error> {
    let (n, scale) = (index.index(), &fitted::BRIX);
    let (low, high) = (scale[0], scale[scale.len() - 1]);
    // Water a rounding below the scale's zero reads zero.
    if !(low - 5e-6..=high).contains(&n) {
        let reason = "chemistry.limit.brix_index";
        return Err(Error::Reading { quantity: "chemistry.refractive_index", value: n, low, high, reason });
    }
    let above = scale.partition_point(|x| *x <= n).clamp(1, scale.len() - 1);
    let (a, b) = (scale[above - 1], scale[above]);
    BrixDegree::from_degrees((above as f64 - 1.0 + (n - a) / (b - a)).max(0.0))
}

/// The refractive index at which a sugar scale shows so much: the inverse of [`brix`].
///
/// # Equation
/// As [`brix`].
///
/// # Range
/// 0…70 degrees.
///
/// # Error
/// 0.00003.
///
/// # Source
/// As [`brix`].
///
/// # Errors
/// [`Error::Reading`] above 70 degrees.
///
/// # Examples
/// ```
/// use chemistry::{BrixDegree, refraction::index_at};
/// assert!((index_at(BrixDegree::from_degrees(26.2)?)?.index() - 1.3744).abs() < 0.0001);
/// assert!(index_at(BrixDegree::from_degrees(71.0)?).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn index_at(reading: BrixDegree) -> Result<RefractiveIndex, Error> {
    let (degrees, scale) = (reading.degrees(), &fitted::BRIX);
    let last = scale.len() - 1;
    if degrees > last as f64 {
        let reason = "chemistry.limit.brix";
        return Err(Error::Reading {
            quantity: "chemistry.brix_reading",
            value: degrees,
            low: 0.0,
            high: last as f64,
            reason,
        });
    }
    let below = (degrees.floor() as usize).min(last - 1);
    let part = degrees - below as f64;
    RefractiveIndex::from_index(scale[below] + part * (scale[below + 1] - scale[below]))
}
