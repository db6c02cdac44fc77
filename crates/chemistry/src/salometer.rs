//! The salometer scale: per cent of saturation at 60 °F.

use crate::quantity::{MassFraction, SalometerDegree};
use crate::{Brine, Error};

/// Saturated NaCl at 60 °F, per cent by mass: the 100 of the scale. Trade definition, from memory (26.395 %).
pub const SATURATION_PERCENT: f64 = 26.395;

/// Salometer degrees of a sodium chloride brine at 60 °F.
///
/// # Equation
/// 100·w/26.395, w in per cent by mass.
///
/// # Range
/// All of [`Brine`].
///
/// # Error
/// A definition; the scale's own reading error comes on top.
///
/// # Source
/// Scale definition, from memory; 23.3 % reads 88.3 degrees.
///
/// # Errors
/// None within [`Brine`]'s range; the signature follows the checked constructor.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, salometer::degrees};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(23.3)?)?;
/// assert!((degrees(&brine)?.degrees() - 88.3).abs() < 0.1);
/// assert!(MassFraction::from_percent(26.4).and_then(Brine::sodium_chloride).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn degrees(brine: &Brine) -> Result<SalometerDegree, Error> {
    SalometerDegree::from_degrees(100.0 * brine.strength().percent() / SATURATION_PERCENT)
}

/// The brine that reads so many salometer degrees at 60 °F: the inverse of [`degrees`].
///
/// # Equation
/// w = 26.395·degrees/100, per cent by mass.
///
/// # Range
/// 0…99.6 degrees (26.3 %).
///
/// # Error
/// As [`degrees`].
///
/// # Source
/// As [`degrees`].
///
/// # Errors
/// [`Error::Strength`] above 26.3 %.
///
/// # Examples
/// ```
/// use chemistry::{SalometerDegree, salometer::brine_reading};
/// let brine = brine_reading(SalometerDegree::from_degrees(50.0)?)?;
/// assert!((brine.strength().percent() - 13.1975).abs() < 1e-9);
/// assert!(brine_reading(SalometerDegree::from_degrees(100.0)?).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn brine_reading(reading: SalometerDegree) -> Result<Brine, Error> {
    Brine::sodium_chloride(MassFraction::from_percent(SATURATION_PERCENT * reading.degrees() / 100.0)?)
}
