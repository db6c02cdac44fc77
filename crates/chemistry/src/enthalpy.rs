//! Heat of dissolving and of mixing: how warm or cold a batch comes out.
//!
//! One enthalpy for brines and for solids, zero for liquid water and for each anhydrous salt as a solid at 25
//! °C, so that any mixing is one heat balance.

use crate::MassFraction;
use crate::brine::{SALTS, WATER};
use crate::forms::{enthalpy_limit, ionic_strength, molality, osmotic_terms};
use crate::heat_capacity::heat_from_zero;
use crate::recipe::RockSalt;
use crate::{Brine, Error, Salt, density, fitted, heat_capacity, root};
use quantity::{
    AvailableEnergy, Mass, ThermodynamicTemperature, celsius, in_celsius, in_kilograms, kilojoules_per_kg,
};

/// Enthalpy of solution at infinite dilution, 25 °C, kJ/mol. NaCl: V. B. Parker, NSRDS-NBS 2 (1965). CaCl2: G.
/// C. Sinke et al., J. Chem. Thermodyn. 17, 893 (1985). MgCl2, KCl, Na2SO4: NBS Tables (1982), from memory.
const AT_INFINITE_DILUTION: [f64; SALTS] = [3.88, -81.85, -159.8, 17.22, -2.4];
/// Enthalpy of solution of CaCl2·2H2O at infinite dilution, kJ/mol: NBS Tables (1982), from memory; Sinke et al. −44.8.
const CALCIUM_DIHYDRATE: f64 = -45.9;
/// Enthalpy of solution of MgCl2·6H2O at infinite dilution, kJ/mol: NBS Tables (1982), from memory.
const MAGNESIUM_HEXAHYDRATE: f64 = -17.1;
/// Specific heat capacities of solids at 25 °C, kJ/(kg·K): NBS Tables (1982), from memory, over the molar mass.
const SOLID_HEAT: [f64; SALTS] = [0.864, 0.657, 0.749, 0.688, 0.903];
const CALCIUM_DIHYDRATE_HEAT: f64 = 1.17;
const MAGNESIUM_HEXAHYDRATE_HEAT: f64 = 1.55;

/// Strongest part with enthalpy data.
const MOST: [f64; SALTS] = heat_capacity::MOST;
/// Warmest mixture worked out, °C: beyond it boils or nearly so.
const WARMEST_CELSIUS: f64 = 100.0;

/// A solid salt as it is bought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SolidSalt {
    /// Rock salt of a purity and moisture. What is not NaCl is carried along as if it were salt that stays solid.
    Rock(RockSalt),
    /// Calcium chloride flake (77…80 %) or pellet (94…97 %), by the CaCl2 in it, 75.5…100 %: taken as dihydrate and
    /// anhydrous salt in the proportion that gives that content.
    CalciumChloride(MassFraction),
    /// Magnesium chloride flake or hexahydrate, 46.8 % MgCl2.
    MagnesiumChlorideHexahydrate,
    /// Potassium chloride, dry.
    PotassiumChloride,
}

/// Something that goes into a mixture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Portion {
    /// Brine; water is brine without salt.
    Brine(Brine),
    /// A dry salt.
    Solid(SolidSalt),
}

/// A mass of something at a temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stream {
    /// The brine or salt.
    pub portion: Portion,
    /// Mass, zero or more.
    pub mass: Mass,
    /// Temperature of the portion before mixing.
    pub temperature: ThermodynamicTemperature,
}

/// Result of mixing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mixture {
    /// All that dissolves, dissolved.
    pub brine: Brine,
    /// Mass of the brine.
    pub mass: Mass,
    /// What does not dissolve: insolubles of rock salt.
    pub insolubles: Mass,
    /// Temperature right after mixing, without loss to the surroundings.
    pub temperature: ThermodynamicTemperature,
}

/// Composition and heat of a portion by mass: salts, insolubles, J/kg.
struct Made {
    salts: [f64; SALTS],
    insolubles: f64,
    heat: f64,
}

/// CaCl2 in its dihydrate.
fn in_dihydrate() -> f64 {
    let molar = Salt::CalciumChloride.molar_mass();
    molar / (molar + 2.0 * WATER)
}

/// MgCl2 in its hexahydrate.
fn in_hexahydrate() -> f64 {
    let molar = Salt::MagnesiumChloride.molar_mass();
    molar / (molar + 6.0 * WATER)
}

impl SolidSalt {
    /// Salts by mass, insolubles, enthalpy J/kg at °C.
    fn made(self, t: f64) -> Result<Made, Error> {
        let warmer = t - 25.0;
        let mut salts = [0.0; SALTS];
        let own = |salt: Salt| salt.place();
        Ok(match self {
            SolidSalt::Rock(rock) => {
                let moisture = rock.moisture.fraction();
                let sodium_chloride = rock.sodium_chloride();
                salts[own(Salt::SodiumChloride)] = sodium_chloride;
                let dry = 1.0 - moisture;
                let heat = 1000.0 * dry * SOLID_HEAT[0] * warmer + moisture * water_heat(t);
                Made { salts, insolubles: dry - sodium_chloride, heat }
            }
            SolidSalt::CalciumChloride(content) => {
                let (x, least) = (content.fraction(), in_dihydrate());
                if x < least - 1e-3 {
                    return Err(Error::Strength {
                        what: "chemistry.cacl2_in_flake",
                        percent: 100.0 * x,
                        low: 75.5,
                        high: 100.0,
                        reason: "chemistry.limit.flake",
                    });
                }
                let dihydrate = ((1.0 - x) / (1.0 - least)).min(1.0);
                salts[own(Salt::CalciumChloride)] = x;
                let molar = Salt::CalciumChloride.molar_mass() + 2.0 * WATER;
                let formed = 1e6 * (AT_INFINITE_DILUTION[1] - CALCIUM_DIHYDRATE) / molar;
                let heat_capacity = dihydrate * CALCIUM_DIHYDRATE_HEAT + (1.0 - dihydrate) * SOLID_HEAT[1];
                Made { salts, insolubles: 0.0, heat: dihydrate * formed + 1000.0 * heat_capacity * warmer }
            }
            SolidSalt::MagnesiumChlorideHexahydrate => {
                salts[own(Salt::MagnesiumChloride)] = in_hexahydrate();
                let molar = Salt::MagnesiumChloride.molar_mass() + 6.0 * WATER;
                let formed = 1e6 * (AT_INFINITE_DILUTION[2] - MAGNESIUM_HEXAHYDRATE) / molar;
                Made { salts, insolubles: 0.0, heat: formed + 1000.0 * MAGNESIUM_HEXAHYDRATE_HEAT * warmer }
            }
            SolidSalt::PotassiumChloride => {
                salts[own(Salt::PotassiumChloride)] = 1.0;
                Made { salts, insolubles: 0.0, heat: 1000.0 * SOLID_HEAT[3] * warmer }
            }
        })
    }
}

/// Specific enthalpy of a brine; zero for liquid water and for each anhydrous salt as a solid at 25 °C.
///
/// # Equation
/// h = Σ wᵢ (ΔH∞ᵢ + Lφᵢ(I))/Mᵢ + ∫ c dT from 25 °C. Lφ: Debye-Hückel term and m, m·exp(−2√I), m², m³ at 25 °C;
/// in a blend every salt has it at the same total ionic strength I.
///
/// # Range
/// As [`heat_capacity::heat_capacity`].
///
/// # Error
/// 95 %, kJ per mol of salt: NaCl and KCl 0.1, CaCl2 0.6, MgCl2 2 (its sources differ by 15 %), and what the
/// heat capacity adds away from 25 °C.
///
/// # Source
/// Our fit to Archer (1992, 1999), Pitzer et al. (1984), S. L. Clegg (CaCl2), Silvester & Pitzer (1978) and
/// ColdChem (MgCl2): `tests/data/relative_enthalpy.csv`. Mixing: T. F. Young's rule.
///
/// # Errors
/// [`Error::Temperature`] and [`Error::Strength`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, enthalpy::enthalpy};
/// use quantity::{celsius, in_kilojoules_per_kg};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(25.962)?)?;
/// // 6 mol/kg at 25 °C: 1.899 kJ/mol is taken up in all (Pitzer, Peiper & Busey 1984).
/// let per_mol = in_kilojoules_per_kg(enthalpy(&brine, celsius(25.0))?) / 0.25962 * 0.05844;
/// assert!((per_mol - 1.899).abs() < 0.05);
/// assert!(enthalpy(&brine, celsius(60.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn enthalpy(brine: &Brine, temperature: ThermodynamicTemperature) -> Result<AvailableEnergy, Error> {
    // Range and data are those of the heat capacity.
    heat_capacity::heat_capacity(brine, temperature)?;
    Ok(kilojoules_per_kg(brine_heat(brine, in_celsius(temperature)) / 1000.0))
}

/// J/kg, unchecked; above 40 °C with the heat capacity of 40 °C.
fn brine_heat(brine: &Brine, t: f64) -> f64 {
    let inside = t.clamp(density::COLDEST_CELSIUS, density::WARMEST_CELSIUS);
    let sensible = heat_from_zero(brine, inside) - heat_from_zero(brine, 25.0)
        + heat_capacity::joules(brine, inside) * (t - inside);
    1e6 * dissolving(brine) + sensible
}

fn water_heat(t: f64) -> f64 {
    brine_heat(&Brine::WATER, t)
}

/// Σ wᵢ (ΔH∞ + Lφ)/M at 25 °C, kJ per g of brine.
fn dissolving(brine: &Brine) -> f64 {
    let water = 1.0 - brine.total();
    let of_part = |salt: Salt, part: f64| 1000.0 * part / (water * salt.molar_mass());
    let strength: f64 = brine.dissolved().map(|(salt, part)| ionic_strength(salt, of_part(salt, part))).sum();
    brine
        .dissolved()
        .map(|(salt, part)| {
            let molar = AT_INFINITE_DILUTION[salt.place()] + relative(salt, strength);
            part * molar / salt.molar_mass()
        })
        .sum()
}

/// Apparent relative molar enthalpy of a salt alone at an ionic strength, kJ/mol; beyond its data that of its strongest
/// brine. Sulfate, an impurity, has none.
fn relative(salt: Salt, strength: f64) -> f64 {
    let Some(coefficients) = fitted::RELATIVE_ENTHALPY.get(salt.place()) else { return 0.0 };
    let most = molality(salt, MOST[salt.place()]);
    let molality = (strength / ionic_strength(salt, 1.0)).min(most);
    let terms = osmotic_terms(salt, molality);
    enthalpy_limit(salt, molality) + coefficients.iter().zip(terms).map(|(c, term)| c * term).sum::<f64>()
}

/// Mixes streams: masses of salts, water and insolubles add, and so does enthalpy.
///
/// # Equation
/// Σ mᵢ hᵢ(Tᵢ) = m h(T), T by [`root::zero`]. Volumes do not add, and are not used.
///
/// # Range
/// A result within [`heat_capacity::heat_capacity`]'s strengths, from −20 °C; from 40 to 100 °C the heat
/// capacity of 40 °C is used.
///
/// # Error
/// 5 % of the change of temperature with NaCl, KCl and CaCl2, 15 % with MgCl2; 2 K above 40 °C. Nothing is
/// lost to air or tank here, so a real batch changes less.
///
/// # Source
/// As [`enthalpy`].
///
/// # Errors
/// [`Error::NotUsable`] for a mass below zero or nothing at all; [`Error::Strength`] when the result is too strong;
/// [`Error::Temperature`] when it would be colder than −20 °C or hotter than 100 °C.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, enthalpy::{Portion, SolidSalt, Stream, mix}, recipe::RockSalt};
/// use quantity::{celsius, in_celsius, kilograms};
/// let salt = RockSalt { purity: MassFraction::from_percent(100.0)?, moisture: MassFraction::ZERO };
/// let at = celsius(15.0);
/// let batch = mix(&[
///     Stream { portion: Portion::Brine(Brine::WATER), mass: kilograms(767.0), temperature: at },
///     Stream { portion: Portion::Solid(SolidSalt::Rock(salt)), mass: kilograms(233.0), temperature: at },
/// ])?;
/// let colder = 15.0 - in_celsius(batch.temperature); // dissolving salt takes up heat
/// assert!((2.0..5.0).contains(&colder)); // common practice, no source: 2 to 5 K
/// assert!(mix(&[]).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn mix(streams: &[Stream]) -> Result<Mixture, Error> {
    let (mut salts, mut insolubles, mut mass, mut heat) = ([0.0; SALTS], 0.0, 0.0, 0.0);
    for stream in streams {
        let (kg, t) = (in_kilograms(stream.mass), in_celsius(stream.temperature));
        if !(kg.is_finite() && kg >= 0.0) {
            return Err(Error::NotUsable {
                quantity: "chemistry.mass.part",
                value: kg,
                accepted: "chemistry.accepted.from_zero",
            });
        }
        let made = match stream.portion {
            Portion::Brine(brine) => {
                enthalpy(&brine, stream.temperature)?;
                let parts = Salt::ALL.map(|salt| brine.part(salt).fraction());
                Made { salts: parts, insolubles: 0.0, heat: brine_heat(&brine, t) }
            }
            Portion::Solid(solid) => {
                crate::water::checked(stream.temperature, "chemistry.limit.solids")?;
                solid.made(t)?
            }
        };
        for (sum, part) in salts.iter_mut().zip(made.salts) {
            *sum += kg * part;
        }
        insolubles += kg * made.insolubles;
        mass += kg;
        heat += kg * made.heat;
    }
    let liquid = mass - insolubles;
    if liquid <= 0.0 {
        return Err(Error::NotUsable {
            quantity: "chemistry.mass.mixture",
            value: liquid,
            accepted: "chemistry.accepted.above_zero",
        });
    }
    let part = |salt: Salt| MassFraction::from_fraction((salts[salt.place()] / liquid).clamp(0.0, 1.0));
    let mut parts = Vec::with_capacity(SALTS);
    for salt in Salt::ALL {
        parts.push((salt, part(salt)?));
    }
    let brine = Brine::blend(&parts)?;
    brine.check_covered(&MOST, "chemistry.limit.heat_capacity_data")?;
    let rest = |t: f64| 1000.0 * insolubles * SOLID_HEAT[0] * (t - 25.0);
    let total = |t: f64| liquid * brine_heat(&brine, t) + rest(t);
    let (cold, hot) = (density::COLDEST_CELSIUS, WARMEST_CELSIUS);
    let (least, most) = (total(cold), total(hot));
    if !(least..=most).contains(&heat) {
        // What it would come to, along the last slope: only to say how far out it is.
        let (end, step) = if heat < least { (cold, 1.0) } else { (hot, -1.0) };
        let slope = (total(end + step) - total(end)) / step;
        let reason = "chemistry.limit.mixture";
        return Err(Error::Temperature {
            celsius: end + (heat - total(end)) / slope,
            low: cold,
            high: hot,
            reason,
        });
    }
    let t = root::zero(|t| total(t) - heat, (cold, least - heat), (hot, most - heat), 1e-10);
    Ok(Mixture {
        brine,
        mass: quantity::kilograms(liquid),
        insolubles: quantity::kilograms(insolubles),
        temperature: celsius(t),
    })
}

/// Integral heat of solution of an anhydrous salt at 25 °C, by mass of the salt: taken up when positive.
///
/// # Equation
/// (ΔH∞ + Lφ)/M.
///
/// # Range
/// Strengths of [`enthalpy`], above zero for a finite solution.
///
/// # Error
/// As [`enthalpy`].
///
/// # Source
/// As [`enthalpy`].
///
/// # Errors
/// [`Error::Strength`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{MassFraction, Salt, enthalpy::heat_of_solution};
/// use quantity::in_kilojoules_per_kg;
/// let heat = heat_of_solution(Salt::CalciumChloride, MassFraction::from_percent(32.0)?)?;
/// assert!((-680.0..-600.0).contains(&in_kilojoules_per_kg(heat))); // gives off heat
/// assert!(heat_of_solution(Salt::CalciumChloride, MassFraction::from_percent(50.0)?).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn heat_of_solution(salt: Salt, strength: MassFraction) -> Result<AvailableEnergy, Error> {
    let brine = Brine::of(salt, strength)?;
    brine.check_covered(&MOST, "chemistry.limit.enthalpy_data")?;
    let ionic = ionic_strength(salt, molality(salt, strength.fraction()));
    let molar = AT_INFINITE_DILUTION[salt.place()] + relative(salt, ionic);
    Ok(kilojoules_per_kg(1000.0 * molar / salt.molar_mass()))
}
