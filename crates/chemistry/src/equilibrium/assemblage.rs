//! The phases of a brine at a temperature: liquid and solids, and how much of each.

use quantity::{ThermodynamicTemperature, celsius, in_celsius};

use super::liquid::{At, COLDEST_CELSIUS, Content, SATURATED, WARMEST_CELSIUS, is_slow, solid_of};
use super::pitzer::{Adjustment, ION_MASS};
use super::solids::{self, Mineral};
use crate::solid::Solid;
use crate::water::ZERO_CELSIUS;
use crate::{Brine, Error, MassFraction, Salt, root};

/// More rounds of adding and taking away a solid than any brine needs.
const ROUNDS: usize = 60;

/// Steps of Newton's method for the amounts of the solids.
const NEWTON_STEPS: usize = 80;
/// Steps up from the coldest temperature to the last liquid, K.
const STEP_UP: f64 = 1.0;

/// Steps in a row that come no nearer: below the last liquid they creep along its edge and never arrive.
const MOST_STUCK: usize = 8;

/// The phases of a brine at a temperature, by mass; the shares and the liquid's parts add to one.
#[derive(Debug, Clone, PartialEq)]
pub struct Assemblage {
    /// Share of liquid.
    pub liquid: f64,
    /// All salts in the liquid.
    pub liquid_strength: MassFraction,
    /// Each salt in the liquid, in the order of [`Salt::ALL`]: sulfate as sodium's.
    pub liquid_salts: [MassFraction; 5],
    /// Every solid with its share.
    pub solids: Vec<(Solid, f64)>,
}

impl Assemblage {
    /// Mass fraction of a salt in the liquid.
    pub fn dissolved(&self, salt: Salt) -> MassFraction {
        self.liquid_salts[salt.place()]
    }

    /// Share of a solid by mass of the whole; zero where it is not there.
    pub fn of(&self, solid: Solid) -> f64 {
        self.solids.iter().filter(|(found, _)| *found == solid).map(|(_, share)| share).sum()
    }
}

/// Liquid and solids of a brine at a temperature, at equilibrium. Calcium sulfates are left in solution: they are
/// slow.
///
/// # Equation
/// Each solid that is there has its ion product at its solubility product; none that is not there exceeds it.
///
/// # Range
/// −55…40 °C, as long as liquid is left.
///
/// # Error
/// Measured: VALIDATION.md. Balances of mass close to 1e-9.
///
/// # Source
/// As [`super::onset`].
///
/// # Errors
/// [`Error::Temperature`]; [`Error::NotCovered`] where no equilibrium with liquid is found.
pub fn assemblage(brine: &Brine, temperature: ThermodynamicTemperature) -> Result<Assemblage, Error> {
    assemblage_with(brine, temperature, Adjustment::fitted())
}

/// Where the last liquid of a brine is gone, all of it solid below: its eutectic.
///
/// # Equation
/// The coldest temperature at which [`assemblage`] finds liquid, by steps up from the coldest covered and
/// [`root::edge`]; as many solids as salts are there just above it, as the phase rule has it, and ice is one of them.
///
/// # Range
/// −55…40 °C.
///
/// # Error
/// NaCl 0.1 K, KCl 0.2 K, MgCl2 1 K, CaCl2 4 K, and what they leave to blends: VALIDATION.md.
///
/// # Source
/// As [`super::onset`].
///
/// # Errors
/// [`Error::NotCovered`] where liquid is left at −55 °C, for brines that nothing is known of at 40 °C, and where no
/// equilibrium is found though liquid must be there.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, equilibrium::last_liquid};
/// use quantity::in_celsius;
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(10.0)?)?;
/// assert!((in_celsius(last_liquid(&brine)?) - -21.1).abs() < 0.1); // CRC: −21.1 °C
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn last_liquid(brine: &Brine) -> Result<ThermodynamicTemperature, Error> {
    let has_liquid = |t: f64| assemblage(brine, celsius(t)).is_ok();
    if has_liquid(COLDEST_CELSIUS) || !has_liquid(WARMEST_CELSIUS) {
        let reason = "chemistry.why.liquid_to_the_end";
        return Err(Error::NotCovered { what: "chemistry.last_liquid", reason });
    }
    let mut dry = COLDEST_CELSIUS;
    while !has_liquid(dry + STEP_UP) {
        dry += STEP_UP;
    }
    let end = root::edge(has_liquid, dry + STEP_UP, dry, 1e-4);
    // Of several salts, with fewer solids than salts or without ice there is liquid further down, and none was found.
    let (there, salts) = (assemblage(brine, celsius(end))?, brine.dissolved().count());
    if salts > 1 && (there.solids.len() < salts || there.of(Solid::Ice) <= 0.0) {
        let reason = "chemistry.why.no_liquid";
        return Err(Error::NotCovered { what: "chemistry.last_liquid", reason });
    }
    Ok(celsius(end))
}

/// The same with parameters as published, or as a fit tries them.
#[doc(hidden)]
pub fn assemblage_with(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
    adjustment: &Adjustment,
) -> Result<Assemblage, Error> {
    let t = in_celsius(temperature);
    if !(COLDEST_CELSIUS - 1e-9..=WARMEST_CELSIUS + 1e-9).contains(&t) {
        let reason = "chemistry.limit.equilibrium_data";
        return Err(Error::Temperature { celsius: t, low: COLDEST_CELSIUS, high: WARMEST_CELSIUS, reason });
    }
    let content = Content::of(brine);
    let at = At::kelvin(t + ZERO_CELSIUS, adjustment);
    let none = Error::NotCovered { what: "chemistry.equilibrium", reason: "chemistry.why.no_liquid" };
    let found = settled(&content, &at, |_| true).ok_or(none)?;
    let whole = content.mass();
    let pairs: Vec<(&Mineral, f64)> = found.iter().map(|(place, x)| (&solids::all()[*place], *x)).collect();
    let left = content.without(&pairs);
    let salts = left.ions.iter().zip(ION_MASS).map(|(n, mass)| n * mass).sum::<f64>() / left.mass();
    Ok(Assemblage {
        liquid: left.mass() / whole,
        liquid_strength: MassFraction::from_fraction(salts)?,
        liquid_salts: left.salts()?,
        solids: pairs
            .iter()
            .map(|(mineral, x)| (solid_of(mineral.name), x * mineral.molar_mass() / whole))
            .collect(),
    })
}

/// ln of the ion product over the solubility product of the solids that a choice takes, the most of them, in the liquid
/// that is left when all others have settled; none where no liquid is left.
pub(super) fn saturation_beside(
    content: &Content,
    celsius: f64,
    takes: impl Fn(Solid) -> bool,
) -> Option<(Solid, f64)> {
    let at = At::kelvin(celsius + ZERO_CELSIUS, Adjustment::fitted());
    let gone = settled(content, &at, |solid| !takes(solid))?;
    let pairs: Vec<(&Mineral, f64)> = gone.iter().map(|(place, x)| (&solids::all()[*place], *x)).collect();
    let m = content.without(&pairs).molalities();
    let found = at.model.activities(&m);
    (0..solids::all().len())
        .map(|place| (place, solid_of(solids::all()[place].name)))
        .filter(|(place, solid)| takes(*solid) && !is_slow(*solid) && solids::all()[*place].is_of(&m))
        .map(|(place, solid)| (solid, at.saturation(place, &m, &found)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
}

/// Which solids are there of those that may come, mol per kilogram of brine.
fn settled(content: &Content, at: &At, may_come: impl Fn(Solid) -> bool) -> Option<Vec<(usize, f64)>> {
    let mut there: Vec<(usize, f64)> = Vec::new();
    for _ in 0..ROUNDS {
        let pairs: Vec<(&Mineral, f64)> =
            there.iter().map(|(place, x)| (&solids::all()[*place], *x)).collect();
        let m = content.without(&pairs).molalities();
        let found = at.model.activities(&m);
        let most = (0..solids::all().len())
            .filter(|place| {
                there.iter().all(|(known, _)| known != place)
                    && !is_slow(solid_of(solids::all()[*place].name))
                    && may_come(solid_of(solids::all()[*place].name))
                    && solids::all()[*place].is_of(&m)
            })
            .map(|place| {
                let mineral = &solids::all()[place];
                let parts: f64 = mineral.ions.iter().sum::<f64>() + mineral.water;
                (place, at.saturation(place, &m, &found) / parts)
            })
            .max_by(|a, b| a.1.total_cmp(&b.1));
        match most {
            Some((place, over)) if over > SATURATED => there.push((place, 0.0)),
            _ => return Some(there),
        }
        // What turns out to be less than nothing was not there.
        loop {
            amounts(content, at, &mut there)?;
            let Some(worst) = there
                .iter()
                .enumerate()
                .min_by(|a, b| a.1.1.total_cmp(&b.1.1))
                .filter(|(_, (_, x))| *x < 0.0)
                .map(|(index, _)| index)
            else {
                break;
            };
            there.remove(worst);
            if there.is_empty() {
                return None;
            }
        }
    }
    None
}

/// Finds amounts at which every solid that is there is just saturated, by Newton's method with short steps.
fn amounts(content: &Content, at: &At, there: &mut [(usize, f64)]) -> Option<()> {
    let count = there.len();
    let over = |amounts: &[f64]| -> Option<Vec<f64>> {
        let pairs: Vec<(&Mineral, f64)> =
            there.iter().zip(amounts).map(|((place, _), x)| (&solids::all()[*place], *x)).collect();
        let left = content.without(&pairs);
        let is_liquid = left.water > 0.0
            && left.ions.iter().zip(&content.ions).all(|(now, was)| *now > 0.0 || *was <= 0.0);
        if !is_liquid {
            return None;
        }
        let m = left.molalities();
        let found = at.model.activities(&m);
        Some(there.iter().map(|(place, _)| at.saturation(*place, &m, &found)).collect())
    };
    let mut x: Vec<f64> = there.iter().map(|(_, x)| *x).collect();
    let mut now = over(&x)?;
    let mut stuck = 0;
    for _ in 0..NEWTON_STEPS {
        let worst = now.iter().fold(0.0f64, |most, value| most.max(value.abs()));
        if worst < SATURATED * 0.1 {
            for (slot, x) in there.iter_mut().zip(&x) {
                slot.1 = *x;
            }
            return Some(());
        }
        let mut matrix = vec![vec![0.0; count + 1]; count];
        for column in 0..count {
            let h = 1e-7;
            let mut moved = x.clone();
            moved[column] += h;
            let (ahead, step) = match over(&moved) {
                Some(found) => (found, h),
                None => {
                    moved[column] -= 2.0 * h;
                    (over(&moved)?, -h)
                }
            };
            for row in 0..count {
                matrix[row][column] = (ahead[row] - now[row]) / step;
            }
        }
        for row in 0..count {
            matrix[row][count] = -now[row];
        }
        let step = eliminated(matrix)?;
        let mut share = 1.0;
        loop {
            let next: Vec<f64> = x.iter().zip(&step).map(|(x, step)| x + share * step).collect();
            let better = over(&next).filter(|found| {
                let most = found.iter().fold(0.0f64, |most, value| most.max(value.abs()));
                most < worst || share < 1e-3
            });
            if let Some(found) = better {
                let is_better = found.iter().all(|value| value.abs() < worst);
                stuck = if is_better { 0 } else { stuck + 1 };
                if stuck > MOST_STUCK {
                    return None;
                }
                (x, now) = (next, found);
                break;
            }
            share *= 0.5;
            if share < 1e-9 {
                return None;
            }
        }
    }
    None
}

/// Solves a small linear system, written with its right side as the last column; none when it is singular.
fn eliminated(mut rows: Vec<Vec<f64>>) -> Option<Vec<f64>> {
    let count = rows.len();
    for column in 0..count {
        let pivot =
            (column..count).max_by(|a, b| rows[*a][column].abs().total_cmp(&rows[*b][column].abs()))?;
        if rows[pivot][column].abs() < 1e-300 {
            return None;
        }
        rows.swap(column, pivot);
        for row in 0..count {
            if row != column {
                let factor = rows[row][column] / rows[column][column];
                let lead = rows[column].clone();
                for (cell, lead) in rows[row].iter_mut().zip(lead).skip(column) {
                    *cell -= factor * lead;
                }
            }
        }
    }
    Some((0..count).map(|row| rows[row][count] / rows[row][row]).collect())
}
