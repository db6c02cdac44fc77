//! Where ice and where salt appear in a brine that is cooled and left to settle: what is told of it.

use quantity::{ThermodynamicTemperature, celsius, in_celsius};

use super::curves::eutectic_point;
use super::first_solid;
use crate::equilibrium::{self, COLDEST_CELSIUS, Onset, WARMEST_CELSIUS};
use crate::phases::phases;
use crate::solid::Solid;
use crate::{Brine, Error, root};

/// Below a eutectic by this much, K, all is solid.
const JUST_BELOW: f64 = 1e-3;

/// Where ice and where salt appear in a brine at equilibrium, what came first gone from the liquid. In the liquid as it
/// is ([`FirstSolid::ice`](super::FirstSolid::ice)) the second would come later: that liquid would be supercooled.
///
/// # Equation
/// One salt: the first solid by its curve, the second at the eutectic. Blends: ln of the ion product over the
/// solubility product of the second passes zero in the liquid beside the first.
///
/// # Range
/// As [`first_solid`]; none where the second does not come above −55 °C.
///
/// # Error
/// The first as [`first_solid`], the second as [`eutectic`](super::eutectic) and, of a blend, as its first solid.
///
/// # Source
/// As [`first_solid`].
///
/// # Errors
/// As [`first_solid`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, Salt, freezing::on_cooling};
/// use quantity::in_celsius;
/// let percent = MassFraction::from_percent;
/// let strong = on_cooling(&Brine::sodium_chloride(percent(25.0)?)?)?;
/// // At the eutectic (CRC), not at the −24 °C of its ice curve.
/// assert!((in_celsius(strong.ice.unwrap()) - -21.1).abs() < 0.05);
/// let blend = Brine::blend(&[(Salt::SodiumChloride, percent(20.97)?), (Salt::MagnesiumChloride, percent(3.0)?)])?;
/// assert!(in_celsius(on_cooling(&blend)?.ice.unwrap()) > -22.74); // 24.7 % ice there: ColdChem, blend_phases.csv
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn on_cooling(brine: &Brine) -> Result<Onset, Error> {
    let Some(salt) = brine.main_salt() else { return equilibrium::with_the_first_gone(brine) };
    let found = first_solid(brine)?;
    let is_ice_first = found.ice >= found.salt.map(|(_, at)| at);
    let (_, eutectic) = eutectic_point(salt)?;
    let below = phases(brine, celsius(eutectic - JUST_BELOW))?;
    // Curves of ice and salt cross a hair beside the eutectic as stated.
    let first = celsius(in_celsius(found.temperature).max(eutectic));
    let second = celsius(eutectic);
    Ok(if is_ice_first {
        let salt = below.salts.iter().flatten().next().map(|(solid, _)| (*solid, second));
        Onset { ice: Some(first), salt }
    } else {
        let ice = (below.of(Solid::Ice) > 0.0).then_some(second);
        Onset { ice, salt: found.salt.map(|(solid, _)| (solid, first)) }
    })
}

/// Returns where the last liquid of a brine is gone, all of it solid below: of one salt by its curves, of a blend by
/// [`last_liquid`](equilibrium::last_liquid).
///
/// # Errors
/// As [`last_liquid`](equilibrium::last_liquid).
pub fn all_solid_below(brine: &Brine) -> Result<ThermodynamicTemperature, Error> {
    if brine.main_salt().is_none() {
        return equilibrium::last_liquid(brine);
    }
    phases(brine, celsius(COLDEST_CELSIUS))?;
    let has_liquid = |t: f64| phases(brine, celsius(t)).is_ok_and(|found| found.liquid > 0.0);
    Ok(celsius(root::edge(has_liquid, WARMEST_CELSIUS, COLDEST_CELSIUS, 1e-4)))
}
