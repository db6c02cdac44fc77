//! What a brine of several salts is at equilibrium: one engine for every mixture of sodium, potassium, calcium and
//! magnesium chloride with the sulphate that comes along.
//!
//! The liquid is described by the ion interaction model (`pitzer`), each solid by its solubility product (`solids`),
//! ice among them. A temperature at which a solid appears is where its saturation passes zero in the liquid as it is;
//! what stands beside each other at a temperature is found by adding the most supersaturated solid until none is, as
//! the phase rule has it. Equilibrium only: a real brine supercools, and salt comes slowly.

mod pitzer;
mod solids;

use std::sync::LazyLock;

use crate::MassFraction;
use crate::brine::{CALCIUM, CHLORINE, MAGNESIUM, POTASSIUM, SODIUM, SULFATE};
use crate::solid::Solid;
use crate::water::ZERO_CELSIUS;
use crate::{Brine, Error, Salt, root};
#[doc(hidden)]
pub use pitzer::Adjustment;
use pitzer::{Activities, IONS, Model, WATER};
use quantity::{ThermodynamicTemperature, celsius, in_celsius};
use solids::Mineral;

/// Molar masses of the ions, kg/mol, in the order of the model.
pub(crate) const ION_MASS: [f64; IONS] = [
    SODIUM / 1000.0,
    POTASSIUM / 1000.0,
    CALCIUM / 1000.0,
    MAGNESIUM / 1000.0,
    CHLORINE / 1000.0,
    SULFATE / 1000.0,
];

/// Coldest and warmest temperature covered, °C.
pub const COLDEST_CELSIUS: f64 = -55.0;
/// Warmest temperature covered, °C.
pub const WARMEST_CELSIUS: f64 = 40.0;

/// Steps of the search for where something appears, K.
const SCAN: f64 = 5.0;
/// A temperature, K, is looked for down to an interval of this; the last chord through it is a thousand times closer.
const NARROWED_TO: f64 = 1e-4;
/// A saturation below this counts as none.
const SATURATED: f64 = 1e-9;
/// More rounds of adding and taking away a solid than any brine needs.
const ROUNDS: usize = 60;
/// Steps of Newton's method for the amounts of the solids.
const NEWTON_STEPS: usize = 80;

/// Ions and water of a kilogram of brine, mol.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Content {
    ions: [f64; IONS],
    water: f64,
}

impl Content {
    fn of(brine: &Brine) -> Self {
        let mut ions = [0.0; IONS];
        for (salt, part) in brine.dissolved() {
            let moles = 1000.0 * part / salt.molar_mass();
            let [na, k, ca, mg, cl, so4] = match salt {
                Salt::SodiumChloride => [1.0, 0.0, 0.0, 0.0, 1.0, 0.0],
                Salt::PotassiumChloride => [0.0, 1.0, 0.0, 0.0, 1.0, 0.0],
                Salt::CalciumChloride => [0.0, 0.0, 1.0, 0.0, 2.0, 0.0],
                Salt::MagnesiumChloride => [0.0, 0.0, 0.0, 1.0, 2.0, 0.0],
                Salt::SodiumSulfate => [2.0, 0.0, 0.0, 0.0, 0.0, 1.0],
            };
            for (total, n) in ions.iter_mut().zip([na, k, ca, mg, cl, so4]) {
                *total += n * moles;
            }
        }
        Self { ions, water: (1.0 - brine.total()) / WATER }
    }

    /// What is left when so much of some solids has gone, mol.
    fn without(&self, gone: &[(&Mineral, f64)]) -> Self {
        let mut left = *self;
        for (mineral, amount) in gone {
            for (ions, n) in left.ions.iter_mut().zip(mineral.ions) {
                *ions -= n * amount;
            }
            left.water -= mineral.water * amount;
        }
        left
    }

    fn molalities(&self) -> [f64; IONS] {
        let kilograms = self.water * WATER;
        self.ions.map(|moles| (moles / kilograms).max(0.0))
    }

    /// The salts these ions are, as [`Brine`] names them, in the order of [`Salt::ALL`].
    fn salts(&self) -> Result<[MassFraction; 5], Error> {
        let [na, k, ca, mg, _, so4] = self.ions;
        let mut found = [MassFraction::ZERO; 5];
        for salt in Salt::ALL {
            let moles = match salt {
                Salt::SodiumChloride => na - 2.0 * so4,
                Salt::CalciumChloride => ca,
                Salt::MagnesiumChloride => mg,
                Salt::PotassiumChloride => k,
                Salt::SodiumSulfate => so4,
            };
            let part = moles.max(0.0) * salt.molar_mass() / 1000.0 / self.mass();
            found[salt.place()] = MassFraction::from_fraction(part)?;
        }
        Ok(found)
    }

    /// Mass, kg.
    fn mass(&self) -> f64 {
        self.water * WATER + self.ions.iter().zip(ION_MASS).map(|(n, mass)| n * mass).sum::<f64>()
    }
}

/// The model and the solubility products at a temperature.
struct At {
    model: Model,
    ln_k: Vec<f64>,
}

impl At {
    fn kelvin(kelvin: f64, adjustment: &Adjustment) -> Self {
        let ln_k = solids::all().iter().map(|one| one.ln_k(kelvin, adjustment)).collect();
        Self { model: Model::at(kelvin, adjustment), ln_k }
    }

    fn saturation(&self, place: usize, molalities: &[f64; IONS], found: &Activities) -> f64 {
        solids::all()[place].saturation(molalities, found, self.ln_k[place])
    }
}

/// The model as fitted, at the temperatures that every search goes through: it is most of what a search costs.
static SCANNED: LazyLock<Vec<(f64, At)>> = LazyLock::new(|| {
    let steps = ((WARMEST_CELSIUS - COLDEST_CELSIUS) / SCAN).round();
    let at = |n: f64| WARMEST_CELSIUS - SCAN * n;
    std::iter::successors(Some(0.0), |n| Some(n + 1.0))
        .take_while(|n| *n <= steps)
        .map(|n| (at(n), At::kelvin(at(n) + ZERO_CELSIUS, Adjustment::fitted())))
        .collect()
});

/// The solid of a name in the data.
fn solid_of(name: &str) -> Solid {
    match name {
        "ice" => Solid::Ice,
        "halite" => Solid::Halite,
        "hydrohalite" => Solid::Hydrohalite,
        "sylvite" => Solid::Sylvite,
        "mgcl2_6h2o" => Solid::MagnesiumChlorideHexahydrate,
        "mgcl2_8h2o" => Solid::MagnesiumChlorideOctahydrate,
        "mgcl2_12h2o" => Solid::MagnesiumChlorideDodecahydrate,
        "cacl2_6h2o" => Solid::CalciumChlorideHexahydrate,
        "carnallite" => Solid::Carnallite,
        "tachyhydrite" => Solid::Tachyhydrite,
        "mirabilite" => Solid::Mirabilite,
        "thenardite" => Solid::Thenardite,
        "epsomite" => Solid::Epsomite,
        "meridianiite" => Solid::Meridianiite,
        "gypsum" => Solid::Gypsum,
        "glauberite" => Solid::Glauberite,
        "picromerite" => Solid::Picromerite,
        _ => Solid::Syngenite,
    }
}

/// Calcium sulphates form slowly, in days and weeks, and a brine is often oversaturated with them: they are no first
/// solid.
fn is_slow(solid: Solid) -> bool {
    matches!(solid, Solid::Gypsum | Solid::Glauberite | Solid::Syngenite)
}

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
/// calcium or no sulphate. Above zero gypsum can form, in days and weeks: scale in heaters and meters, fine sludge.
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

/// What stands beside each other at a temperature, by mass; the shares and the liquid's parts add to one.
#[derive(Debug, Clone, PartialEq)]
pub struct Assemblage {
    /// Share of liquid.
    pub liquid: f64,
    /// All salts in the liquid.
    pub liquid_strength: MassFraction,
    /// Each salt in the liquid, in the order of [`Salt::ALL`]: sulphate as sodium's.
    pub liquid_salts: [MassFraction; 5],
    /// Every solid with its share.
    pub solids: Vec<(Solid, f64)>,
}

impl Assemblage {
    /// A salt in the liquid.
    pub fn dissolved(&self, salt: Salt) -> MassFraction {
        self.liquid_salts[salt.place()]
    }

    /// Share of a solid.
    pub fn of(&self, solid: Solid) -> f64 {
        self.solids.iter().filter(|(found, _)| *found == solid).map(|(_, share)| share).sum()
    }
}

/// Liquid and solids of a brine at a temperature, at equilibrium. Calcium sulphates are left in solution: they are
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
/// As [`onset`].
///
/// # Errors
/// [`Error::Temperature`]; [`Error::NotCovered`] where no equilibrium with liquid is found.
pub fn assemblage(brine: &Brine, temperature: ThermodynamicTemperature) -> Result<Assemblage, Error> {
    assemblage_with(brine, temperature, Adjustment::fitted())
}

/// Where the last liquid of a brine is gone, all of it solid below: its eutectic.
///
/// # Equation
/// The coldest temperature at which [`assemblage`] finds liquid, by [`root::edge`].
///
/// # Range
/// −55…40 °C.
///
/// # Error
/// NaCl 0.1 K, KCl 0.2 K, MgCl2 1 K, CaCl2 4 K, and what they leave to blends: VALIDATION.md.
///
/// # Source
/// As [`onset`].
///
/// # Errors
/// [`Error::NotCovered`] where liquid is left at −55 °C, and for brines that nothing is known of at 40 °C.
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
    Ok(celsius(root::edge(has_liquid, WARMEST_CELSIUS, COLDEST_CELSIUS, 1e-4)))
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
    let found = settled(&content, &at).ok_or(none)?;
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

/// Which solids are there, mol per kilogram of brine.
fn settled(content: &Content, at: &At) -> Option<Vec<(usize, f64)>> {
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
