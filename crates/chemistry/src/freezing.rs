//! What comes out of a brine first as it cools, and at what temperature.
//!
//! Below the eutectic (23.3 %) it is ice and the liquid left grows stronger; above, it is salt (hydrohalite,
//! NaCl·2H₂O, below 0.1 °C; halite, NaCl, above) and the liquid left grows weaker. Stronger is not safer.

use crate::quantity::{
    MassFraction, TemperatureInterval, ThermodynamicTemperature, celsius, in_celsius, kelvins,
};
use crate::{Brine, Error};

/// Ice curve, T_f/°C = −Σ aᵢ Cⁱ, C in per cent by mass: our own least-squares fit to the handbook's ice points of
/// `tests/data/nacl_freezing_print.csv` (its `crc` rows), residual below 0.02 K to 22 %.
const ICE: [f64; 4] = [0.580_777_476, 4.434_270_20e-3, 2.406_524_92e-4, 7.192_256_21e-6];

/// Strength at which ice and hydrohalite leave together, per cent by mass (handbook and Lange 23.3; models 23.1).
pub const EUTECTIC_PERCENT: f64 = 23.3;

/// Salt-saturated strengths: (°C, per cent by mass). Below 0.1 °C hydrohalite, above halite.
/// Ends, −17.3 °C and the halite points: CRC Handbook solubility of NaCl. −10 °C: ColdChem Pitzer set raised 0.07 %
/// toward print; −2.7 °C: print (26.10) and ColdChem (25.87) differ and the mean is taken.
const SATURATION: [(f64, f64); 8] = [
    (-21.1, 23.30),
    (-17.3, 23.70),
    (-10.0, 24.83),
    (-2.7, 25.985),
    (0.1, 26.285),
    (20.0, 26.41),
    (25.0, 26.45),
    (40.0, 26.67),
];

/// Temperature at which hydrohalite turns to halite, °C.
const PERITECTIC_CELSIUS: f64 = 0.1;

/// A solid that can leave a sodium chloride brine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Solid {
    /// Water ice.
    Ice,
    /// So near the eutectic that it cannot be said: ice or hydrohalite.
    IceOrHydrohalite,
    /// NaCl·2H₂O.
    Hydrohalite,
    /// NaCl.
    Halite,
}

/// The first solid on cooling.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstSolid {
    /// Which.
    pub solid: Solid,
    /// The temperature at which it appears.
    pub temperature: ThermodynamicTemperature,
    /// 95 % interval, ± this much.
    pub uncertainty: TemperatureInterval,
}

/// The first solid of a sodium chloride brine on cooling, with its temperature and 95 % interval.
///
/// # Equation
/// Ice branch: a quartic without constant in per cent by mass. Salt branches: straight lines between saturated
/// strengths, read backward.
///
/// # Range
/// 0…26.3 % by mass, all that a [`Brine`] can be.
///
/// # Error
/// Stated: ice 0.1 K to 22.5 %, 0.5 K to 23.1 %; 1.5 K from there to 23.5 %, where print and models disagree on which
/// solid it is; salt branches 2 K. Measured: see VALIDATION.md.
///
/// # Source
/// CRC Handbook of Chemistry and Physics, concentrative properties and solubility of NaCl; Lange's Handbook 15th
/// ed., Table 5.13; ColdChem (Toner & Catling) between the handbook's hydrohalite points.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, freezing::{first_solid, Solid}, quantity::in_celsius};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(10.0)?)?;
/// let first = first_solid(&brine);
/// assert_eq!(first.solid, Solid::Ice);
/// assert!((in_celsius(first.temperature) - -6.56).abs() < 0.05); // CRC: −6.56 °C
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn first_solid(brine: &Brine) -> FirstSolid {
    let percent = brine.strength().percent();
    if percent <= EUTECTIC_PERCENT {
        let (solid, uncertainty) = match percent {
            p if p < 22.5 => (Solid::Ice, 0.1),
            p if p < 23.1 => (Solid::IceOrHydrohalite, 0.5),
            _ => (Solid::IceOrHydrohalite, 1.5),
        };
        return FirstSolid {
            solid,
            temperature: celsius(ice_celsius(percent)),
            uncertainty: kelvins(uncertainty),
        };
    }
    let at = interpolate(percent, |&(t, w)| (w, t));
    let (solid, uncertainty) = match percent {
        p if p <= 23.5 => (Solid::IceOrHydrohalite, 1.5),
        _ if at <= PERITECTIC_CELSIUS => (Solid::Hydrohalite, 2.0),
        _ => (Solid::Halite, 2.0),
    };
    FirstSolid { solid, temperature: celsius(at), uncertainty: kelvins(uncertainty) }
}

/// Strength of the brine left in contact with ice at a temperature: the weakest that stays liquid.
///
/// # Equation
/// The ice branch of [`first_solid`] read backward by bisection.
///
/// # Range
/// −21.1…0 °C.
///
/// # Error
/// 0.1 K on the curve, at most 0.1 % by mass.
///
/// # Source
/// As [`first_solid`].
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{freezing::strength_freezing_at, quantity::celsius};
/// assert!((strength_freezing_at(celsius(-10.0))?.percent() - 14.07).abs() < 0.05);
/// assert!(strength_freezing_at(celsius(-24.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn strength_freezing_at(temperature: ThermodynamicTemperature) -> Result<MassFraction, Error> {
    let celsius = in_celsius(temperature);
    let coldest = ice_celsius(EUTECTIC_PERCENT);
    // A value a rounding outside a limit is at the limit.
    if !(coldest - 1e-9..=1e-9).contains(&celsius) {
        return Err(Error::Temperature {
            celsius,
            low: -21.1,
            high: 0.0,
            reason: "the ice branch of sodium chloride brine",
        });
    }
    let percent = crate::density::bisect(0.0, EUTECTIC_PERCENT, |p| celsius - ice_celsius(p));
    MassFraction::from_percent(percent)
}

/// Strength of brine saturated with salt at a temperature: the strongest that stays clear.
///
/// # Equation
/// Straight lines between tabulated saturated strengths.
///
/// # Range
/// −21.1…40 °C.
///
/// # Error
/// 0.3 % by mass below 0 °C, where print and models differ by 0.23 %; 0.05 % above. Measured: see VALIDATION.md.
///
/// # Source
/// CRC Handbook, solubility of NaCl; ColdChem between its points below 0 °C.
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{freezing::strength_saturated_at, quantity::celsius};
/// assert!((strength_saturated_at(celsius(20.0))?.percent() - 26.41).abs() < 0.01); // CRC
/// assert!(strength_saturated_at(celsius(41.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn strength_saturated_at(temperature: ThermodynamicTemperature) -> Result<MassFraction, Error> {
    let celsius = in_celsius(temperature);
    let (low, high) = (SATURATION[0].0, SATURATION[SATURATION.len() - 1].0);
    if !(low - 1e-9..=high + 1e-9).contains(&celsius) {
        return Err(Error::Temperature { celsius, low, high, reason: "the solubility data" });
    }
    MassFraction::from_percent(interpolate(celsius, |&(t, w)| (t, w)))
}

fn ice_celsius(percent: f64) -> f64 {
    -ICE.iter().rev().fold(0.0, |sum, a| (sum + a) * percent)
}

/// Straight line between the saturation points, in either direction; the callers keep `x` inside the table.
fn interpolate(x: f64, pair: impl Fn(&(f64, f64)) -> (f64, f64)) -> f64 {
    let upper = SATURATION.iter().position(|p| x <= pair(p).0).unwrap_or(SATURATION.len() - 1).max(1);
    let ((x0, y0), (x1, y1)) = (pair(&SATURATION[upper - 1]), pair(&SATURATION[upper]));
    y0 + (y1 - y0) * (x - x0) / (x1 - x0)
}
