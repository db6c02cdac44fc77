//! What comes out of a brine first as it cools, and at what temperature.
//!
//! Weaker than the eutectic it is ice, and the liquid left grows stronger; stronger, it is salt (below certain
//! temperatures with water of crystallization) and the liquid left grows weaker. Stronger is not safer. Every
//! salt has an ice curve and one saturation curve for each of its solids; the solid that appears at the
//! warmest temperature is the first.
//!
//! What comes out of a *blend* is found by [`crate::equilibrium`], one engine for all of them, which agrees with the
//! curves of single salts within their intervals.

mod cooling;
pub(crate) mod curves;

use quantity::{TemperatureInterval, ThermodynamicTemperature, celsius, in_celsius, kelvins};

pub use crate::solid::Solid;
use crate::{Brine, Error, MassFraction, Salt, equilibrium};
pub use cooling::{all_solid_below, on_cooling};
use curves::{branches, eutectic_point, ice_celsius, ice_strength, saturation};

/// Strength at which ice and hydrohalite leave a sodium chloride brine together, per cent by mass (CRC and Lange 23.3;
/// models 23.1).
pub const EUTECTIC_PERCENT: f64 = 23.3;

/// From here to [`UNDECIDED_TO`], per cent NaCl by mass, print and models do not agree on which solid is first.
const UNDECIDED_FROM: f64 = 22.5;
const UNDECIDED_TO: f64 = 23.5;

/// Coldest metastable ice point given, °C: further down the curves have no data.
const COLDEST_ICE: f64 = -60.0;

/// The first solid on cooling, with the two temperatures that decide it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstSolid {
    /// Ice, or which salt.
    pub solid: Solid,
    /// The temperature at which it appears.
    pub temperature: ThermodynamicTemperature,
    /// 95 % interval, ± this much.
    pub uncertainty: TemperatureInterval,
    /// Where ice appears, also where salt comes first and the liquid would have to be supercooled; none below the data.
    pub ice: Option<ThermodynamicTemperature>,
    /// Which salt appears where in the liquid as it is, also where ice comes first; none where the data do not say.
    pub salt: Option<(Solid, ThermodynamicTemperature)>,
}

impl Brine {
    /// See [`first_solid`].
    ///
    /// # Errors
    /// As [`first_solid`].
    pub fn first_solid(&self) -> Result<FirstSolid, Error> {
        first_solid(self)
    }
}

/// The first solid of a brine on cooling, with its temperature and 95 % interval.
///
/// # Equation
/// Ice: T = Σ aᵢ wⁱ. Salts: polynomials between temperature and saturated strength, one for each solid. The warmest of
/// their points is the first solid.
///
/// # Range
/// All that a [`Brine`] of one chloride can be, and blends whose salts are dissolved at 40 °C. From 22.5 to 23.5 % NaCl
/// it is "ice or hydrohalite", with both temperatures.
///
/// # Error
/// Stated, K. NaCl: ice 0.1 to 22.5 %, 0.5 to 23.1 %, 1.5 to 23.5 %; hydrohalite 2; halite 7, since its
/// solubility hardly moves with temperature. CaCl2: ice 0.3 to 18 %, 1 to 25 %, 2.5 above; hydrate 3. MgCl2:
/// ice 0.2 to 12 %, 0.8 to 18 %,
/// 1.5 to 20 %, 2 above; 12-hydrate 0.7, below 23 % 2, 8-hydrate 2, 6-hydrate 5. KCl: ice 0.1, sylvite 1. Blends: ice
/// 0.35, 0.5 above 20 % NaCl, 1 above 8 % CaCl2, 2.5 above 15 %; hydrohalite 2, beside MgCl2
/// and beside more CaCl2 than 4 parts to 10 of NaCl 3; halite 15; others 3.
/// Measured: VALIDATION.md.
///
/// # Source
/// Our fits to CRC, Lange (Table 5.13), Kaufmann (1960), Steiger et al. (2008), Melinder (2010) and, where nothing is
/// printed, the Pitzer sets ColdChem and FREZCHEM: `tests/data/ice_points.csv`, `saturation.csv`.
///
/// # Errors
/// [`Error::NotCovered`] for sulfate alone, and for a blend of which a salt is out at 40 °C already.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, Salt, freezing::{first_solid, Solid}};
/// use quantity::in_celsius;
/// let percent = MassFraction::from_percent;
/// let first = first_solid(&Brine::sodium_chloride(percent(10.0)?)?)?;
/// assert_eq!(first.solid, Solid::Ice);
/// assert!((in_celsius(first.temperature) - -6.56).abs() < 0.05); // CRC: −6.56 °C
/// let blend = Brine::blend(&[(Salt::SodiumChloride, percent(20.97)?), (Salt::MagnesiumChloride, percent(3.0)?)])?;
/// assert_eq!(first_solid(&blend)?.solid, Solid::Hydrohalite); // near −13 °C, long before its ice at −24 °C
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn first_solid(brine: &Brine) -> Result<FirstSolid, Error> {
    let salt = match brine.main_salt() {
        None => return first_of_blend(brine),
        Some(Salt::SodiumSulfate) => {
            return Err(Error::NotCovered { what: "chemistry.freezing", reason: "chemistry.why.sulfate" });
        }
        Some(salt) => salt,
    };
    let w = brine.total();
    let ice = ice_celsius(salt, w).filter(|t| *t >= COLDEST_ICE);
    let salt_out = branches(salt)
        .iter()
        .filter_map(|branch| Some((branch.solid, branch.temperature(w)?)))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    let (solid, at) = match (ice, salt_out) {
        (Some(ice), Some((_, out))) if ice >= out => (Solid::Ice, ice),
        (_, Some((solid, out))) => (solid, out),
        (Some(ice), None) => (Solid::Ice, ice),
        (None, None) => {
            let reason = "chemistry.why.no_freezing_data";
            return Err(Error::NotCovered { what: "chemistry.freezing", reason });
        }
    };
    let percent = 100.0 * w;
    let undecided =
        salt == Salt::SodiumChloride && (UNDECIDED_FROM - 1e-9..=UNDECIDED_TO + 1e-9).contains(&percent);
    let solid = if undecided { Solid::IceOrHydrohalite } else { solid };
    Ok(FirstSolid {
        solid,
        temperature: celsius(at),
        uncertainty: kelvins(uncertainty(salt, solid, percent)),
        ice: ice.map(celsius),
        salt: salt_out.map(|(solid, out)| (solid, celsius(out))),
    })
}

/// The first solid of a blend, by its equilibrium.
fn first_of_blend(brine: &Brine) -> Result<FirstSolid, Error> {
    let found = equilibrium::onset(brine)?;
    let (solid, temperature) = match (found.ice, found.salt) {
        (Some(ice), Some((_, salt))) if in_celsius(ice) >= in_celsius(salt) => (Solid::Ice, ice),
        (_, Some((solid, salt))) => (solid, salt),
        (Some(ice), None) => (Solid::Ice, ice),
        (None, None) => {
            let reason = "chemistry.why.clear_to_the_end";
            return Err(Error::NotCovered { what: "chemistry.freezing", reason });
        }
    };
    let percent = |salt: Salt| brine.part(salt).percent();
    let (cacl2, mgcl2) = (percent(Salt::CalciumChloride), percent(Salt::MagnesiumChloride));
    let within = match solid {
        Solid::Ice => match (cacl2, percent(Salt::SodiumChloride)) {
            (c, _) if c > 15.0 => 2.5,
            (c, _) if c > 8.0 => 1.0,
            (_, n) if n > 20.0 => 0.5,
            _ => 0.35,
        },
        // Sources part beside much CaCl2 (VALIDATION.md, "Ice and hydrohalite together"), and beside MgCl2.
        Solid::Hydrohalite if mgcl2 > 0.1 || cacl2 > 0.4 * percent(Salt::SodiumChloride) => 3.0,
        Solid::Hydrohalite => 2.0,
        // Solubility hardly moves with temperature: a tenth of a per cent is several kelvins.
        Solid::Halite => 15.0,
        Solid::Mirabilite | Solid::Sylvite => 1.0,
        _ => 3.0,
    };
    Ok(FirstSolid { solid, temperature, uncertainty: kelvins(within), ice: found.ice, salt: found.salt })
}

fn uncertainty(salt: Salt, solid: Solid, percent: f64) -> f64 {
    match (salt, solid) {
        (_, Solid::Ice | Solid::IceOrHydrohalite) if percent <= 0.0 => 0.0,
        (Salt::SodiumChloride, Solid::Ice) => 0.1,
        (Salt::SodiumChloride, Solid::IceOrHydrohalite) => {
            if percent < 23.1 {
                0.5
            } else {
                1.5
            }
        }
        (Salt::CalciumChloride, Solid::Ice) => match percent {
            p if p <= 18.0 => 0.3,
            p if p <= 25.0 => 1.0,
            _ => 2.5,
        },
        (Salt::MagnesiumChloride, Solid::Ice) => match percent {
            p if p <= 12.0 => 0.2,
            p if p <= 18.0 => 0.8,
            p if p <= 20.0 => 1.5,
            _ => 2.0,
        },
        (_, Solid::Ice | Solid::IceOrHydrohalite) => 0.1,
        (_, Solid::Hydrohalite | Solid::MagnesiumChlorideOctahydrate) => 2.0,
        (_, Solid::Halite) => 7.0,
        (_, Solid::MagnesiumChlorideHexahydrate) => 5.0,
        // Lange's lowest point lies 2 K below the curve, just past the eutectic.
        (_, Solid::MagnesiumChlorideDodecahydrate) => {
            if percent < 23.0 {
                2.0
            } else {
                0.7
            }
        }
        (_, Solid::CalciumChlorideHexahydrate | Solid::CalciumChlorideTetrahydrate) => 3.0,
        // Of one chloride none of the others can come.
        _ => 1.0,
    }
}

/// Most sodium chloride that stays dissolved beside the other salts of a blend, and what drops out above it.
///
/// # Equation
/// The sodium chloride at which [`equilibrium::saturation`] of halite or hydrohalite is none, the other salts being
/// as many per cent of the brine as they are in this one.
///
/// # Range
/// −21.1…40 °C.
///
/// # Error
/// 0.15 % by mass at 25 °C; below 0 °C as first solid. Measured: VALIDATION.md.
///
/// # Source
/// As [`equilibrium::onset`].
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, Salt, freezing::saturated_beside};
/// use quantity::celsius;
/// let percent = MassFraction::from_percent;
/// let blend = Brine::blend(&[(Salt::SodiumChloride, percent(10.0)?), (Salt::CalciumChloride, percent(10.0)?)])?;
/// let (_, most) = saturated_beside(&blend, celsius(25.0))?;
/// assert!((most.percent() - 17.18).abs() < 0.15); // Motoyama et al. 1972: 17.18 %
/// assert!(saturated_beside(&blend, celsius(45.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn saturated_beside(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<(Solid, MassFraction), Error> {
    saturated_at(Salt::SodiumChloride, temperature)?;
    equilibrium::sodium_chloride_beside(brine, temperature)
}

/// Strength of the sodium chloride brine left in contact with ice at a temperature: the weakest that stays liquid.
///
/// # Equation
/// The ice curve of [`first_solid`] read backward by [`crate::root::newton`].
///
/// # Range
/// From the eutectic, −21.1 °C, to 0 °C.
///
/// # Error
/// 0.1 K on the curve, at most 0.2 % by mass (where the curve is flat, in weak brine).
///
/// # Source
/// As [`first_solid`].
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::freezing::strength_freezing_at;
/// use quantity::celsius;
/// assert!((strength_freezing_at(celsius(-10.0))?.percent() - 14.07).abs() < 0.05);
/// assert!(strength_freezing_at(celsius(-24.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn strength_freezing_at(temperature: ThermodynamicTemperature) -> Result<MassFraction, Error> {
    brine_beside_ice(Salt::SodiumChloride, temperature)
}

/// Strength of a brine of one salt left in contact with ice at a temperature.
///
/// # Equation
/// As [`strength_freezing_at`].
///
/// # Range
/// From the salt's eutectic to 0 °C.
///
/// # Error
/// The ice curve's own, over its slope.
///
/// # Source
/// As [`first_solid`].
///
/// # Errors
/// [`Error::Temperature`] outside the range, [`Error::NotCovered`] for sulfate.
///
/// # Examples
/// ```
/// use chemistry::{Salt, freezing::brine_beside_ice};
/// use quantity::celsius;
/// let strength = brine_beside_ice(Salt::MagnesiumChloride, celsius(-10.5))?;
/// assert!((strength.percent() - 12.0).abs() < 0.15); // Lange: 12 % freezes at −10.5 °C
/// assert!(brine_beside_ice(Salt::MagnesiumChloride, celsius(-40.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn brine_beside_ice(salt: Salt, temperature: ThermodynamicTemperature) -> Result<MassFraction, Error> {
    let t = in_celsius(temperature);
    let (_, coldest) = eutectic_point(salt)?;
    match ice_strength(salt, t).filter(|_| t >= coldest - 1e-9) {
        Some(w) => MassFraction::from_fraction(w),
        None => {
            let reason = "chemistry.limit.ice_branch";
            Err(Error::Temperature { celsius: t, low: (10.0 * coldest).round() / 10.0, high: 0.0, reason })
        }
    }
}

/// Strength of sodium chloride brine saturated with salt at a temperature: the strongest that stays clear.
///
/// # Equation
/// The saturation curves of [`first_solid`]: the smaller of hydrohalite's and halite's.
///
/// # Range
/// −21.1…40 °C.
///
/// # Error
/// 0.3 % by mass below 0 °C, where sources differ by 0.2 %; 0.05 % above. Measured: see VALIDATION.md.
///
/// # Source
/// As [`first_solid`].
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::freezing::strength_saturated_at;
/// use quantity::celsius;
/// assert!((strength_saturated_at(celsius(20.0))?.percent() - 26.41).abs() < 0.02); // CRC
/// assert!(strength_saturated_at(celsius(41.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn strength_saturated_at(temperature: ThermodynamicTemperature) -> Result<MassFraction, Error> {
    Ok(saturated_at(Salt::SodiumChloride, temperature)?.1)
}

/// Strength of a brine of one salt saturated at a temperature, and the solid it is saturated with.
///
/// # Equation
/// The smallest of the saturation curves of [`first_solid`]: the least soluble solid is the stable one.
///
/// # Range
/// From the eutectic to 40 °C.
///
/// # Error
/// % by mass: NaCl 0.3 below 0 °C and 0.05 above; CaCl2 0.6, above 25 °C 1.5; MgCl2 0.3; KCl 0.2.
///
/// # Source
/// As [`first_solid`].
///
/// # Errors
/// [`Error::Temperature`] outside the range, [`Error::NotCovered`] for sulfate.
///
/// # Examples
/// ```
/// use chemistry::{Salt, freezing::{Solid, saturated_at}};
/// use quantity::celsius;
/// let (solid, strength) = saturated_at(Salt::PotassiumChloride, celsius(20.0))?;
/// assert_eq!(solid, Solid::Sylvite);
/// assert!((strength.percent() - 25.5).abs() < 0.2); // Steiger et al. 2008: 25.51 %
/// assert!(saturated_at(Salt::CalciumChloride, celsius(41.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn saturated_at(
    salt: Salt,
    temperature: ThermodynamicTemperature,
) -> Result<(Solid, MassFraction), Error> {
    let t = in_celsius(temperature);
    let (_, coldest) = eutectic_point(salt)?;
    let warmest = 40.0;
    let found = saturation(salt, t).filter(|_| (coldest - 1e-9..=warmest + 1e-9).contains(&t));
    let Some((solid, w)) = found else {
        let low = (10.0 * coldest).round() / 10.0;
        return Err(Error::Temperature {
            celsius: t,
            low,
            high: warmest,
            reason: "chemistry.limit.solubility_data",
        });
    };
    Ok((solid, MassFraction::from_fraction(w)?))
}

/// The eutectic of a salt: strength and temperature at which ice and salt leave together.
///
/// # Equation
/// Where the ice curve and the saturation curve cross.
///
/// # Range
/// The four chlorides.
///
/// # Error
/// NaCl 0.2 % and 0.1 K; KCl 0.2 % and 0.1 K; MgCl2 0.4 % and 1 K; CaCl2 0.6 % and 2 K: the spread of the sources.
///
/// # Source
/// As [`first_solid`].
///
/// # Errors
/// [`Error::NotCovered`] for sulfate.
///
/// # Examples
/// ```
/// use chemistry::{Salt, freezing::eutectic};
/// use quantity::in_celsius;
/// let (strength, temperature) = eutectic(Salt::SodiumChloride)?;
/// assert!((strength.percent() - 23.3).abs() < 0.05 && (in_celsius(temperature) - -21.1).abs() < 0.05); // CRC
/// assert!(eutectic(Salt::SodiumSulfate).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn eutectic(salt: Salt) -> Result<(MassFraction, ThermodynamicTemperature), Error> {
    let (w, t) = eutectic_point(salt)?;
    Ok((MassFraction::from_fraction(w)?, celsius(t)))
}
