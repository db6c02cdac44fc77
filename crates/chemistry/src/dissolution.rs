//! Whether all of a brine is liquid at a temperature: what a reading, a correction and a table of properties ask first.

use crate::freezing::curves::saturation;
use crate::freezing::{FirstSolid, first_solid};
use crate::phases::phases;
use crate::solid::Solid;
use crate::{Brine, Error, equilibrium};
use quantity::{ThermodynamicTemperature, celsius, in_celsius, in_kelvins};

/// Readings of the liquid are given this far below the first solid, K, where its interval is no wider.
const CLEAR_KELVIN: f64 = 0.5;
/// And only while no more than this share would be solid.
const CLEAR_SOLIDS: f64 = 0.05;

/// Refuses a brine of which something drops out at a temperature, or that is partly frozen.
///
/// # Equation
/// [`first_solid`] against the temperature. Liquid readings are given down to half a kelvin below it, or to the end
/// of its 95 % interval, as long as no more than 5 % would be solid: that far a brine is clear in practice.
///
/// # Range
/// As [`first_solid`]; blends from −55 °C, above 40 °C as at 40 °C.
///
/// # Error
/// As [`first_solid`].
///
/// # Source
/// As [`first_solid`].
///
/// # Errors
/// [`Error::Supersaturated`] with what drops out, [`Error::PartlyFrozen`] with the temperature down to which
/// it is liquid.
///
/// # Examples
/// ```
/// use chemistry::{Brine, Error, MassFraction, dissolution::check_dissolved};
/// use quantity::celsius;
/// let strong = Brine::sodium_chloride(MassFraction::from_percent(26.5)?)?;
/// assert!(check_dissolved(&strong, celsius(30.0)).is_ok());
/// assert!(matches!(check_dissolved(&strong, celsius(-8.0)), Err(Error::Supersaturated { .. })));
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn check_dissolved(brine: &Brine, temperature: ThermodynamicTemperature) -> Result<(), Error> {
    match first_solid(brine) {
        Ok(first) => check_dissolved_by(brine, &first, temperature),
        Err(_) => check_blend(brine, None, in_celsius(temperature)),
    }
}

/// The same, with the first solid already found.
pub(crate) fn check_dissolved_by(
    brine: &Brine,
    first: &FirstSolid,
    temperature: ThermodynamicTemperature,
) -> Result<(), Error> {
    let t = in_celsius(temperature);
    let at = in_celsius(first.temperature);
    if at <= t + 1e-9 {
        return Ok(());
    }
    let Some(salt) = brine.main_salt() else { return check_blend(brine, Some(first), t) };
    let solids = phases(brine, temperature).map_or(1.0, |found| found.solids());
    if is_clear(first, t, solids) {
        return Ok(());
    }
    let icy = matches!(first.solid, Solid::Ice | Solid::IceOrHydrohalite);
    match saturation(salt, t).filter(|(_, most)| !icy && brine.total() > *most) {
        None => Err(Error::PartlyFrozen { celsius: t, liquid_to: at }),
        Some((solid, most)) => {
            let percent = 100.0 * brine.total();
            Err(Error::Supersaturated { what: salt.text(), percent, celsius: t, solid, most: 100.0 * most })
        }
    }
}

/// Whether a brine this little below its first solid, with so much of it solid, is read as clear.
fn is_clear(first: &FirstSolid, t: f64, solids: f64) -> bool {
    let reach = in_kelvins(first.uncertainty).max(CLEAR_KELVIN);
    in_celsius(first.temperature) - reach <= t + 1e-9 && solids <= CLEAR_SOLIDS
}

/// The same of a blend, or with sulfate: by its phases at equilibrium.
fn check_blend(brine: &Brine, first: Option<&FirstSolid>, t: f64) -> Result<(), Error> {
    let warmest = celsius(t.min(equilibrium::WARMEST_CELSIUS));
    let found = equilibrium::assemblage(brine, warmest)?;
    let solids = 1.0 - found.liquid;
    let Some((most_of, _)) = found.solids.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1)) else {
        return Ok(());
    };
    if first.is_some_and(|first| is_clear(first, t, solids)) {
        return Ok(());
    }
    let Some(salt) = most_of.main_salt() else {
        let liquid_to = first.map_or(0.0, |first| in_celsius(first.temperature));
        return Err(Error::PartlyFrozen { celsius: t, liquid_to });
    };
    Err(Error::Supersaturated {
        what: salt.text(),
        percent: brine.part(salt).percent(),
        celsius: t,
        solid: most_of,
        most: found.dissolved(salt).percent(),
    })
}
