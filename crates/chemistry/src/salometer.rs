//! The scales on hydrometers: salometer (per cent of saturation at 60 °F) and Baumé.

use crate::density::{brine_of_density, density, relative_density};
use crate::recipe::reference_temperature;
use crate::{BaumeDegree, MassFraction, RelativeDensity, SalometerDegree};
use crate::{Brine, Error, Salt};

/// Modulus of the heavy Baumé scale in the United States.
const MODULUS: f64 = 145.0;

/// Saturated NaCl at 60 °F, per cent by mass: the 100 of the scale. Trade definition, from memory (26.395 %).
pub const SATURATION_PERCENT: f64 = 26.395;

const TOO_DENSE: Error =
    Error::NotCovered { what: "chemistry.salometer_reading", reason: "chemistry.why.too_dense" };

/// Salometer degrees of a brine at 60 °F.
///
/// # Equation
/// Sodium chloride: 100·w/26.395, w in per cent by mass. Any other brine: what a sodium chloride brine of the
/// same density at 60 °F reads, since the scale is a hydrometer's.
///
/// # Range
/// 0…100 degrees.
///
/// # Error
/// A definition; for brines of other salts 1.5 degrees from the densities.
///
/// # Source
/// Scale definition: 100 is 26.395 % at 60 °F (instrument makers' notes; another scale, at 38 °F, exists);
/// 23.3 % reads 88.3.
///
/// # Errors
/// [`Error::Reading`] or [`Error::NotCovered`] above 100 degrees; as [`crate::density::density`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, salometer::degrees};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(23.3)?)?;
/// assert!((degrees(&brine)?.degrees() - 88.3).abs() < 0.1);
/// assert!(degrees(&Brine::sodium_chloride(MassFraction::from_percent(26.5)?)?).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn degrees(brine: &Brine) -> Result<SalometerDegree, Error> {
    let strength = if brine.only_salt() == Some(Salt::SodiumChloride) {
        brine.strength()
    } else {
        let at = reference_temperature();
        // Denser than any sodium chloride brine is above the end of the scale.
        brine_of_density(density(brine, at)?, at).map_err(|_| TOO_DENSE)?.strength()
    };
    let value = 100.0 * strength.percent() / SATURATION_PERCENT;
    if value > 100.0 + 1e-9 {
        let reason = "chemistry.limit.salometer";
        return Err(Error::Reading {
            quantity: "chemistry.salometer_reading",
            value,
            low: 0.0,
            high: 100.0,
            reason,
        });
    }
    SalometerDegree::from_degrees(value.min(100.0))
}

/// Degrees Baumé of a brine, heavy scale, 60/60 °F.
///
/// # Equation
/// 145 − 145/d, d the relative density at 60/60 °F.
///
/// # Range
/// As [`crate::density::density`].
///
/// # Error
/// 0.06 degrees for NaCl and KCl, 0.3 for CaCl2 and MgCl2, from the density.
///
/// # Source
/// Scale definition, modulus 145 (United States, liquids heavier than water).
///
/// # Errors
/// As [`crate::density::density`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, Salt, salometer::baume};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(23.3)?)?;
/// assert!((baume(&brine)?.degrees() - 21.9).abs() < 0.1); // 145 − 145/1.178
/// assert!(baume(&Brine::of(Salt::CalciumChloride, MassFraction::from_percent(44.0)?)?).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn baume(brine: &Brine) -> Result<BaumeDegree, Error> {
    let at = reference_temperature();
    let relative = relative_density(brine, at, at)?.ratio();
    BaumeDegree::from_degrees((MODULUS * (1.0 - 1.0 / relative)).max(0.0))
}

/// The relative density at 60/60 °F that a heavy Baumé scale shows: the inverse of [`baume`]'s definition.
///
/// # Equation
/// d = 145/(145 − degrees).
///
/// # Range
/// 0…70 degrees.
///
/// # Error
/// None: a definition.
///
/// # Source
/// As [`baume`].
///
/// # Errors
/// None within the scale; the signature follows the checked constructor.
///
/// # Examples
/// ```
/// use chemistry::{BaumeDegree, salometer::relative_density_at};
/// assert!((relative_density_at(BaumeDegree::from_degrees(21.9)?)?.ratio() - 1.178).abs() < 0.001);
/// assert!(BaumeDegree::from_degrees(80.0).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn relative_density_at(reading: BaumeDegree) -> Result<RelativeDensity, Error> {
    RelativeDensity::from_ratio(MODULUS / (MODULUS - reading.degrees()))
}

/// The brine that reads so many salometer degrees at 60 °F: the inverse of [`degrees`].
///
/// # Equation
/// w = 26.395·degrees/100, per cent by mass.
///
/// # Range
/// 0…100 degrees.
///
/// # Error
/// As [`degrees`].
///
/// # Source
/// As [`degrees`].
///
/// # Errors
/// None within the scale; the signature follows the checked constructors.
///
/// # Examples
/// ```
/// use chemistry::{SalometerDegree, salometer::brine_reading};
/// let brine = brine_reading(SalometerDegree::from_degrees(50.0)?)?;
/// assert!((brine.strength().percent() - 13.1975).abs() < 1e-9);
/// assert!(SalometerDegree::from_degrees(100.5).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn brine_reading(reading: SalometerDegree) -> Result<Brine, Error> {
    Brine::sodium_chloride(MassFraction::from_percent(SATURATION_PERCENT * reading.degrees() / 100.0)?)
}
