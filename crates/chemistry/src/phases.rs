//! How much of a brine is liquid, ice and salt at a temperature.

use crate::MassFraction;
use crate::freezing::curves::{dodecahydrate_melts, eutectic_point, ice_strength, saturation};
use crate::solid::Solid;
use crate::{Brine, Error, Salt};
use quantity::{ThermodynamicTemperature, in_celsius};

/// Coldest temperature covered, °C.
pub(crate) const COLDEST_CELSIUS: f64 = -60.0;
/// Warmest temperature covered, °C.
const WARMEST_CELSIUS: f64 = 40.0;
/// Temperature, °C, above which the 8-hydrate of magnesium chloride turns into the 6-hydrate.
const OCTAHYDRATE_ENDS: f64 = -3.4;

/// At least as many salt solids as can be present at once in a brine of this crate.
const MOST_SALTS: usize = 5;

/// Shares of the whole by mass; they add to one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Phases {
    /// Share of liquid.
    pub liquid: f64,
    /// Salt in the liquid; none when there is no liquid.
    pub liquid_strength: Option<MassFraction>,
    /// Share of ice.
    pub ice: f64,
    /// Salt solids. Of one salt, two hydrates can be present below their peritectic; of a blend, one solid per salt.
    pub salts: [Option<(Solid, f64)>; MOST_SALTS],
}

impl Phases {
    /// Share of one solid.
    pub fn of(&self, solid: Solid) -> f64 {
        let salts = self.salts.iter().flatten().filter(|(found, _)| *found == solid).map(|(_, share)| share);
        salts.sum::<f64>() + if solid == Solid::Ice { self.ice } else { 0.0 }
    }

    /// Share of all solids together.
    pub fn solids(&self) -> f64 {
        1.0 - self.liquid
    }
}

/// Liquid, ice and salt in a brine at a temperature, at equilibrium.
///
/// # Equation
/// Lever rule between the brine, the solid and the liquid on the curve of [`crate::freezing`]; below the
/// eutectic no liquid. Blends: [`crate::equilibrium::assemblage`].
///
/// # Range
/// −60…40 °C, brines of one chloride; blends −55…40 °C, as long as liquid is left.
///
/// # Error
/// Share of each: 1 % of NaCl, KCl and MgCl2 brine, 2.5 % of CaCl2 brine; more within 1 K of a eutectic, where
/// a small error of temperature turns all to solid. A real brine may supercool and be later.
///
/// # Source
/// As [`crate::freezing::first_solid`].
///
/// # Errors
/// [`Error::Temperature`] outside the range, [`Error::NotCovered`] for sulfate alone, and where a blend
/// has no liquid left.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, phases::phases};
/// use quantity::celsius;
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(10.0)?)?;
/// let slush = phases(&brine, celsius(-10.0))?;
/// assert!((slush.ice - (1.0 - 10.0 / 14.07)).abs() < 0.01); // 14.07 % freezes at −10 °C
/// assert!(phases(&brine, celsius(-61.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn phases(brine: &Brine, temperature: ThermodynamicTemperature) -> Result<Phases, Error> {
    let t = in_celsius(temperature);
    if !(COLDEST_CELSIUS - 1e-9..=WARMEST_CELSIUS + 1e-9).contains(&t) {
        let reason = "chemistry.limit.freezing_data";
        return Err(Error::Temperature { celsius: t, low: COLDEST_CELSIUS, high: WARMEST_CELSIUS, reason });
    }
    let Some(salt) = brine.main_salt() else { return of_blend(brine, temperature) };
    let (_, coldest_liquid) = eutectic_point(salt)?;
    let w = brine.total();
    if t < coldest_liquid {
        return if w > 0.0 { Ok(frozen(salt, w, t)) } else { Ok(all_ice()) };
    }
    if w == 0.0 {
        return if t < 0.0 { Ok(all_ice()) } else { all_liquid(w) };
    }
    if let Some(liquid) = ice_strength(salt, t).filter(|liquid| w < *liquid) {
        let share = w / liquid;
        return Ok(Phases {
            liquid: share,
            liquid_strength: Some(MassFraction::from_fraction(liquid)?),
            ice: 1.0 - share,
            salts: listed(&[]),
        });
    }
    match saturation(salt, t).filter(|(_, liquid)| w > *liquid) {
        None => melted_or_hydrates(salt, w, t),
        Some((solid, liquid)) => {
            let share = (w - liquid) / (solid.salt_fraction(salt) - liquid);
            if share >= 1.0 {
                return Ok(frozen(salt, w, t));
            }
            Ok(Phases {
                liquid: 1.0 - share,
                liquid_strength: Some(MassFraction::from_fraction(liquid)?),
                ice: 0.0,
                salts: listed(&[(solid, share)]),
            })
        }
    }
}

/// Where no curve of saturation reaches: all liquid, but for magnesium chloride stronger than its 12-hydrate
/// in the cold.
fn melted_or_hydrates(salt: Salt, w: f64, t: f64) -> Result<Phases, Error> {
    let dodecahydrate = Solid::MagnesiumChlorideDodecahydrate.salt_fraction(Salt::MagnesiumChloride);
    if salt == Salt::MagnesiumChloride && t < dodecahydrate_melts() && w > dodecahydrate {
        return Ok(frozen(salt, w, t));
    }
    all_liquid(w)
}

fn all_liquid(w: f64) -> Result<Phases, Error> {
    Ok(Phases {
        liquid: 1.0,
        liquid_strength: Some(MassFraction::from_fraction(w)?),
        ice: 0.0,
        salts: listed(&[]),
    })
}

fn all_ice() -> Phases {
    Phases { liquid: 0.0, liquid_strength: None, ice: 1.0, salts: listed(&[]) }
}

/// Ice and the highest hydrate, or, where there is too little water for it, that and the next.
fn frozen(salt: Salt, w: f64, t: f64) -> Phases {
    let solids: &[Solid] = match salt {
        Salt::SodiumChloride => &[Solid::Hydrohalite, Solid::Halite],
        Salt::CalciumChloride => &[Solid::CalciumChlorideHexahydrate],
        Salt::MagnesiumChloride if t < dodecahydrate_melts() => {
            &[Solid::MagnesiumChlorideDodecahydrate, Solid::MagnesiumChlorideOctahydrate]
        }
        Salt::MagnesiumChloride if t < OCTAHYDRATE_ENDS => {
            &[Solid::MagnesiumChlorideOctahydrate, Solid::MagnesiumChlorideHexahydrate]
        }
        Salt::MagnesiumChloride => &[Solid::MagnesiumChlorideHexahydrate],
        _ => &[Solid::Sylvite],
    };
    let first = solids[0];
    let content = first.salt_fraction(salt);
    if w <= content {
        let share = w / content;
        return Phases {
            liquid: 0.0,
            liquid_strength: None,
            ice: 1.0 - share,
            salts: listed(&[(first, share)]),
        };
    }
    let next = solids.get(1).copied().unwrap_or(first);
    let more = next.salt_fraction(salt);
    let share = if more > content { ((w - content) / (more - content)).min(1.0) } else { 0.0 };
    Phases {
        liquid: 0.0,
        liquid_strength: None,
        ice: 0.0,
        salts: listed(&[(first, 1.0 - share), (next, share)]),
    }
}

/// The same of a blend.
fn of_blend(brine: &Brine, temperature: ThermodynamicTemperature) -> Result<Phases, Error> {
    let found = crate::equilibrium::assemblage(brine, temperature)?;
    let solids: Vec<(Solid, f64)> =
        found.solids.iter().copied().filter(|(solid, _)| *solid != Solid::Ice).collect();
    let salts = listed(&solids);
    let (liquid, liquid_strength) = (found.liquid, Some(found.liquid_strength));
    Ok(Phases { liquid, liquid_strength, ice: found.of(Solid::Ice), salts })
}

fn listed(solids: &[(Solid, f64)]) -> [Option<(Solid, f64)>; MOST_SALTS] {
    std::array::from_fn(|place| solids.get(place).copied())
}
