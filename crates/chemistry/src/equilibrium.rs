//! What a brine of several salts is at equilibrium: one engine for every mixture of sodium, potassium, calcium and
//! magnesium chloride with the sulfate that comes along.
//!
//! The liquid is described by the ion interaction model (`pitzer`), each solid by its solubility product (`solids`),
//! ice among them. A temperature at which a solid appears is where its saturation passes zero in the liquid as it is;
//! the phases at a temperature are found by adding the most supersaturated solid until none is, as
//! the phase rule has it. Equilibrium only: a real brine supercools, and salt comes slowly.

mod assemblage;
mod electrostatic;
mod liquid;
mod pitzer;
mod solids;

use std::sync::LazyLock;

use quantity::{ThermodynamicTemperature, celsius, in_celsius};

use crate::solid::Solid;
use crate::water::ZERO_CELSIUS;
use crate::{Brine, Error, MassFraction, Salt, root};
#[doc(hidden)]
pub use assemblage::assemblage_with;
pub use assemblage::{Assemblage, assemblage, last_liquid};
use liquid::{At, Content, SATURATED, is_slow, solid_of};
pub use liquid::{COLDEST_CELSIUS, WARMEST_CELSIUS};
#[doc(hidden)]
pub use pitzer::Adjustment;
use pitzer::{Model, WATER};

/// Steps of the search for where something appears, K.
const SCAN: f64 = 5.0;
/// A temperature, K, is looked for down to an interval of this; the last chord through it is a thousand times closer.
const NARROWED_TO: f64 = 1e-4;

/// Steps down to the second solid where no equilibrium is found at every temperature, K.
const STEP_DOWN: f64 = 1.0;

/// The model as fitted, at the temperatures that every search goes through: it is most of what a search costs.
static SCANNED: LazyLock<Vec<(f64, At)>> = LazyLock::new(|| {
    let steps = ((WARMEST_CELSIUS - COLDEST_CELSIUS) / SCAN).round();
    let at = |n: f64| WARMEST_CELSIUS - SCAN * n;
    std::iter::successors(Some(0.0), |n| Some(n + 1.0))
        .take_while(|n| *n <= steps)
        .map(|n| (at(n), At::kelvin(at(n) + ZERO_CELSIUS, Adjustment::fitted())))
        .collect()
});

/// Where things appear in a brine as it cools, at equilibrium and without a freezing delay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Onset {
    /// Where ice appears in the liquid as it is; none above −55 °C.
    pub ice: Option<ThermodynamicTemperature>,
    /// Which salt appears first in the liquid as it is, and where; none above −55 °C.
    pub salt: Option<(Solid, ThermodynamicTemperature)>,
}

/// Where ice and where salt appear in a brine, each in the liquid as it is: which comes first is the warmer of the two.
///
/// # Equation
/// ln of the ion product over the solubility product passes zero.
///
/// # Range
/// −55…40 °C; every mixture a [`Brine`] can be.
///
/// # Error
/// Measured: VALIDATION.md.
///
/// # Source
/// J. D. Toner, D. C. Catling (`data/pitzer.csv`, `data/solids.csv`).
///
/// # Errors
/// [`Error::NotCovered`] when a salt is out of solution at 40 °C already.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, Salt, equilibrium::onset, freezing::Solid};
/// use quantity::in_celsius;
/// let part = |percent| MassFraction::from_percent(percent);
/// // 90 parts of 23.3 % NaCl with 10 of 30 % MgCl2, by mass: salt near −13 °C, ice near −24 °C.
/// let brine = Brine::blend(&[(Salt::SodiumChloride, part(20.97)?), (Salt::MagnesiumChloride, part(3.0)?)])?;
/// let found = onset(&brine)?;
/// let (solid, at) = found.salt.unwrap();
/// assert!(solid == Solid::Hydrohalite && (in_celsius(at) - -12.7).abs() < 1.0);
/// assert!((in_celsius(found.ice.unwrap()) - -24.4).abs() < 1.0);
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn onset(brine: &Brine) -> Result<Onset, Error> {
    onset_with(brine, Adjustment::fitted())
}

/// The same with parameters as published, or as a fit tries them.
#[doc(hidden)]
pub fn onset_with(brine: &Brine, adjustment: &Adjustment) -> Result<Onset, Error> {
    let content = Content::of(brine);
    let m = content.molalities();
    let wanted: Vec<usize> = (0..solids::all().len())
        .filter(|place| solids::all()[*place].is_of(&m) && !is_slow(solid_of(solids::all()[*place].name)))
        .collect();
    let is_fitted = std::ptr::eq(adjustment, Adjustment::fitted());
    let all = |t: f64| -> Vec<f64> {
        let made;
        let at = match SCANNED.iter().find(|(known, _)| is_fitted && (known - t).abs() < 1e-9) {
            Some((_, at)) => at,
            None => {
                made = At::kelvin(t + ZERO_CELSIUS, adjustment);
                &made
            }
        };
        let found = at.model.activities(&m);
        wanted.iter().map(|place| at.saturation(*place, &m, &found)).collect()
    };
    let mut warm = WARMEST_CELSIUS;
    let mut before = all(warm);
    if before.iter().any(|found| *found > SATURATED) {
        let reason = "chemistry.why.out_when_warm";
        return Err(Error::NotCovered { what: "chemistry.freezing", reason });
    }
    let (mut ice, mut salt): (Option<f64>, Option<(Solid, f64)>) = (None, None);
    while warm > COLDEST_CELSIUS + 1e-9 && (ice.is_none() || salt.is_none()) {
        let cold = (warm - SCAN).max(COLDEST_CELSIUS);
        let now = all(cold);
        for (index, place) in wanted.iter().enumerate() {
            if before[index] >= 0.0 || now[index] < 0.0 {
                continue;
            }
            let solid = solid_of(solids::all()[*place].name);
            let is_known = if solid == Solid::Ice { ice.is_some() } else { false };
            if is_known {
                continue;
            }
            let one = |t: f64| {
                let at = Model::at(t + ZERO_CELSIUS, adjustment);
                let found = at.activities(&m);
                let mineral = &solids::all()[*place];
                mineral.saturation(&m, &found, mineral.ln_k(t + ZERO_CELSIUS, adjustment))
            };
            let at = root::zero(one, (cold, now[index]), (warm, before[index]), NARROWED_TO);
            if solid == Solid::Ice {
                ice = Some(at);
            } else if salt.is_none_or(|(_, known)| at > known) {
                salt = Some((solid, at));
            }
        }
        (warm, before) = (cold, now);
    }
    Ok(Onset { ice: ice.map(celsius), salt: salt.map(|(solid, at)| (solid, celsius(at))) })
}

/// Where ice appears in a brine, in the liquid as it is.
///
/// # Equation
/// ln of the activity of water equals that of ice.
///
/// # Range
/// −55…0 °C; every mixture a [`Brine`] can be.
///
/// # Error
/// Measured: VALIDATION.md.
///
/// # Source
/// As [`onset`].
///
/// # Errors
/// [`Error::NotCovered`] when no ice appears above −55 °C.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, equilibrium::ice_point};
/// use quantity::in_celsius;
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(10.0)?)?;
/// assert!((in_celsius(ice_point(&brine)?) - -6.56).abs() < 0.03); // CRC: −6.56 °C
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn ice_point(brine: &Brine) -> Result<ThermodynamicTemperature, Error> {
    let m = Content::of(brine).molalities();
    let adjustment = Adjustment::fitted();
    let none = Error::NotCovered { what: "chemistry.ice", reason: "chemistry.why.no_ice" };
    let Some(ice) = solids::all().iter().find(|one| solid_of(one.name) == Solid::Ice) else {
        return Err(none);
    };
    let above = |t: f64| {
        let found = Model::at(t + ZERO_CELSIUS, adjustment).activities(&m);
        ice.saturation(&m, &found, ice.ln_k(t + ZERO_CELSIUS, adjustment))
    };
    let (warm, cold) = ((0.0, above(0.0)), (COLDEST_CELSIUS, above(COLDEST_CELSIUS)));
    if warm.1 >= 0.0 {
        return Ok(celsius(0.0));
    }
    if cold.1 < 0.0 {
        return Err(none);
    }
    Ok(celsius(root::zero(above, cold, warm, NARROWED_TO)))
}

/// The onsets of a blend with what came first gone from the liquid: the second solid comes sooner than in the liquid
/// as it is, since the liquid left beside salt is weaker, and beside ice stronger. Where no equilibrium is found
/// beside the first, the second is left as it is.
pub(crate) fn with_the_first_gone(brine: &Brine) -> Result<Onset, Error> {
    let found = onset(brine)?;
    let content = Content::of(brine);
    let (ice, salt) = (found.ice.map(in_celsius), found.salt.map(|(_, at)| in_celsius(at)));
    let is_ice_first = ice >= salt;
    let Some(first) = (if is_ice_first { ice } else { salt }) else { return Ok(found) };
    let takes = |solid: Solid| (solid == Solid::Ice) != is_ice_first;
    let beside = |t: f64| assemblage::saturation_beside(&content, t, takes);
    let coldest = if is_ice_first { salt } else { ice }.unwrap_or(COLDEST_CELSIUS);
    let Some(second) = second_below(first, coldest, |t| Some(beside(t)?.1)) else { return Ok(found) };
    Ok(if is_ice_first {
        let solid = beside(second).map(|(solid, _)| solid).or(found.salt.map(|(solid, _)| solid));
        Onset { salt: solid.map(|solid| (solid, celsius(second))), ..found }
    } else {
        Onset { ice: Some(celsius(second)), ..found }
    })
}

/// Where a saturation passes zero below the first solid, °C; none where it is below zero all the way, or not known
/// where it passes.
fn second_below(first: f64, coldest: f64, over: impl Fn(f64) -> Option<f64>) -> Option<f64> {
    let (warm, cold) = (over(first), over(coldest));
    if warm.is_some_and(|value| value >= 0.0) {
        return Some(first);
    }
    let between = |warm: (f64, f64), cold: (f64, f64)| -> Option<f64> {
        let mut is_known = true;
        let value = |t: f64| {
            over(t).unwrap_or_else(|| {
                is_known = false;
                1.0
            })
        };
        let at = root::zero(value, cold, warm, NARROWED_TO);
        is_known.then_some(at)
    };
    if let (Some(warm), Some(cold)) = (warm, cold) {
        if cold < 0.0 {
            return None;
        }
        if let Some(at) = between((first, warm), (coldest, cold)) {
            return Some(at);
        }
    }
    // Somewhere between no equilibrium is found: down in steps to the first place where one is, with the second there.
    let mut last = warm.map(|value| (first, value));
    let mut t = first - STEP_DOWN;
    while t > coldest {
        match (over(t), last) {
            (Some(value), Some(known)) if value >= 0.0 => return between(known, (t, value)),
            (Some(value), None) if value >= 0.0 => return None,
            (Some(value), _) => last = Some((t, value)),
            (None, _) => last = None,
        }
        t -= STEP_DOWN;
    }
    None
}

/// Sodium chloride that stays dissolved beside the other salts of a brine, and what drops out above it.
pub(crate) fn sodium_chloride_beside(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<(Solid, MassFraction), Error> {
    let kelvin = in_celsius(temperature) + ZERO_CELSIUS;
    let at = At::kelvin(kelvin, Adjustment::fitted());
    let others: f64 =
        brine.dissolved().filter(|(salt, _)| *salt != Salt::SodiumChloride).map(|(_, part)| part).sum();
    let content = |part: f64| -> Content {
        let mut content = Content::of(brine);
        let moles = (part - brine.part(Salt::SodiumChloride).fraction()) / Salt::SodiumChloride.molar_mass();
        content.ions[0] += 1000.0 * moles;
        content.ions[4] += 1000.0 * moles;
        content.water = (1.0 - others - part) / WATER;
        content
    };
    let places: Vec<usize> = (0..solids::all().len())
        .filter(|place| matches!(solid_of(solids::all()[*place].name), Solid::Halite | Solid::Hydrohalite))
        .collect();
    let above = |part: f64| -> (f64, Solid) {
        let m = content(part).molalities();
        let found = at.model.activities(&m);
        let each = places
            .iter()
            .map(|place| (at.saturation(*place, &m, &found), solid_of(solids::all()[*place].name)));
        each.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((f64::NEG_INFINITY, Solid::Halite))
    };
    let (low, high) = (1e-6, (0.30_f64).min(0.95 - others));
    let (least, solid) = above(low);
    if least >= 0.0 {
        return Ok((solid, MassFraction::ZERO));
    }
    let most = above(high).0;
    if most < 0.0 {
        let reason = "chemistry.why.no_solubility";
        return Err(Error::NotCovered { what: "chemistry.saturation", reason });
    }
    let part = root::zero(|part| above(part).0, (low, least), (high, most), 1e-6);
    Ok((above(part).1, MassFraction::from_fraction(part)?))
}

/// ln of the ion product over the solubility product of a solid, by its name in the data, in a brine: for the fit.
#[doc(hidden)]
pub fn saturation(brine: &Brine, name: &str, celsius: f64, adjustment: &Adjustment) -> Option<f64> {
    let m = Content::of(brine).molalities();
    let kelvin = celsius + ZERO_CELSIUS;
    let mineral = solids::all().iter().find(|one| one.name == name)?;
    let found = Model::at(kelvin, adjustment).activities(&m);
    Some(mineral.saturation(&m, &found, mineral.ln_k(kelvin, adjustment)))
}

/// How far a brine is from saturation with gypsum, CaSO4·2H2O, with all of it in solution; none where there is no
/// calcium or no sulfate. Above zero gypsum can form, in days and weeks: scale in heaters and meters, fine sludge.
///
/// # Equation
/// log10 of the ion product over the solubility product.
///
/// # Range
/// −55…40 °C.
///
/// # Error
/// 0.1 at 25 °C, where water holds 2.4 g/L; elsewhere held against the published parameters alone.
///
/// # Source
/// As [`onset`].
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, Salt, equilibrium::gypsum_index};
/// use quantity::celsius;
/// let part = |percent| MassFraction::from_percent(percent);
/// let brine = Brine::blend(&[
///     (Salt::SodiumChloride, part(18.0)?),
///     (Salt::CalciumChloride, part(5.0)?),
///     (Salt::SodiumSulfate, part(0.3)?),
/// ])?;
/// assert!(gypsum_index(&brine, celsius(0.0))?.unwrap() > 0.0); // sulphate meets calcium
/// assert!(gypsum_index(&Brine::WATER, celsius(0.0))?.is_none());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn gypsum_index(brine: &Brine, temperature: ThermodynamicTemperature) -> Result<Option<f64>, Error> {
    let celsius = in_celsius(temperature);
    if !(COLDEST_CELSIUS - 1e-9..=WARMEST_CELSIUS + 1e-9).contains(&celsius) {
        let reason = "chemistry.limit.equilibrium_data";
        return Err(Error::Temperature { celsius, low: COLDEST_CELSIUS, high: WARMEST_CELSIUS, reason });
    }
    let index = saturation(brine, "gypsum", celsius, Adjustment::fitted());
    Ok(index.filter(|index| index.is_finite()).map(|index| index / std::f64::consts::LN_10))
}
