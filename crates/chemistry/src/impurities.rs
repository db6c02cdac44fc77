//! What comes with rock salt and water besides sodium chloride, and how far it misleads each reading.

use crate::MassFraction;
use crate::inverse::{Reading, by_conductivity, by_density, by_refractive_index};
use crate::{Brine, Error, Salt, conductivity, density, refraction};
use quantity::ThermodynamicTemperature;

/// Molar masses, g/mol, of what is only counted here: CaSO4 and CaCO3.
const CALCIUM_SULFATE: f64 = 40.078 + 32.06 + 4.0 * 15.999;
const CALCIUM_CARBONATE: f64 = 40.078 + 12.011 + 3.0 * 15.999;
/// Most calcium sulfate that stays dissolved in 20…26 % brine, by mass of brine: W. L. Marshall, R. Slusher,
/// J. Phys. Chem. 70, 4015 (1966), about 0.05 mol/kg at 25 °C, from memory. The rest is sludge or scale.
const DISSOLVED_SULFATE: f64 = 0.005;

/// Analysis of dry rock salt, by mass. What is left to 100 % is insoluble.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Analysis {
    /// NaCl: the purity.
    pub sodium_chloride: MassFraction,
    /// CaSO4: gypsum and anhydrite.
    pub calcium_sulfate: MassFraction,
    /// CaCl2 in the salt.
    pub calcium_chloride: MassFraction,
    /// MgCl2 in the salt.
    pub magnesium_chloride: MassFraction,
}

/// Brine as it comes from real salt and real water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MadeBrine {
    /// What is dissolved. Sulfate of calcium stands as the same ions: sodium sulfate and calcium chloride.
    pub brine: Brine,
    /// What stays solid, by mass of brine: insolubles, and gypsum that finds no room.
    pub sludge: MassFraction,
}

/// How far impurities mislead, per cent NaCl by mass: what a reading taken for pure brine shows, less the NaCl
/// that is there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Misled {
    /// By a hydrometer or density meter.
    pub by_density: f64,
    /// By a refractometer.
    pub by_refractive_index: f64,
    /// By a conductivity cell.
    pub by_conductivity: f64,
}

impl Analysis {
    /// Salt with nothing in it but sodium chloride and insolubles.
    pub fn of_purity(purity: MassFraction) -> Self {
        let none = MassFraction::ZERO;
        Self {
            sodium_chloride: purity,
            calcium_sulfate: none,
            calcium_chloride: none,
            magnesium_chloride: none,
        }
    }

    /// Insolubles: what the analysis leaves.
    ///
    /// # Errors
    /// [`Error::Strength`] when the parts add to more than 100 %.
    pub fn insolubles(&self) -> Result<MassFraction, Error> {
        let parts =
            [self.sodium_chloride, self.calcium_sulfate, self.calcium_chloride, self.magnesium_chloride];
        let sum: f64 = parts.iter().map(|part| part.fraction()).sum();
        if sum > 1.0 + 1e-9 {
            let reason = "chemistry.limit.analysis";
            return Err(Error::Strength {
                what: "chemistry.rock_salt_parts",
                percent: 100.0 * sum,
                low: 0.0,
                high: 100.0,
                reason,
            });
        }
        MassFraction::from_fraction((1.0 - sum).max(0.0))
    }
}

/// Brine of a sodium chloride strength made from analysed salt and water of a hardness, mg/L as CaCO3.
///
/// # Equation
/// Every impurity in proportion to its NaCl; CaSO4 + 2 NaCl → Na2SO4 + CaCl2, which are the same ions;
/// hardness as the CaCl2 with the same calcium.
///
/// # Range
/// NaCl strengths to 26.67 %; hardness 0…2000 mg/L as CaCO3; analyses of 50 % NaCl and more.
///
/// # Error
/// The analysis's own; hardness is partly bicarbonate, which counts as chloride here.
///
/// # Source
/// Mass balance; solubility of gypsum in brine: Marshall & Slusher (1966), from memory.
///
/// # Errors
/// [`Error::Strength`] and [`Error::NotUsable`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{MassFraction, Salt, impurities::{Analysis, brine_made}};
/// let percent = MassFraction::from_percent;
/// let salt = Analysis { calcium_sulfate: percent(1.0)?, ..Analysis::of_purity(percent(97.0)?) };
/// let made = brine_made(&salt, 300.0, percent(23.3)?)?;
/// assert!((made.brine.part(Salt::SodiumSulfate).percent() - 0.25).abs() < 0.01);
/// assert!(brine_made(&salt, 5000.0, percent(23.3)?).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn brine_made(
    salt: &Analysis,
    hardness_mg_l: f64,
    sodium_chloride: MassFraction,
) -> Result<MadeBrine, Error> {
    if !(0.0..=2000.0).contains(&hardness_mg_l) {
        let accepted = "chemistry.accepted.hardness";
        return Err(Error::NotUsable { quantity: "chemistry.hardness", value: hardness_mg_l, accepted });
    }
    let insolubles = salt.insolubles()?.fraction();
    let purity = salt.sodium_chloride.fraction();
    if purity < 0.5 {
        return Err(Error::Strength {
            what: "chemistry.nacl_in_rock_salt",
            percent: 100.0 * purity,
            low: 50.0,
            high: 100.0,
            reason: "chemistry.limit.rock_salt",
        });
    }
    let w = sodium_chloride.fraction();
    let per = |part: MassFraction| w * part.fraction() / purity;
    let gypsum = per(salt.calcium_sulfate);
    let dissolved = gypsum.min(DISSOLVED_SULFATE);
    let mole = dissolved / CALCIUM_SULFATE;
    let water = 1.0 - w;
    let hardness = water * hardness_mg_l * 1e-6 / CALCIUM_CARBONATE;
    let calcium = (mole + hardness) * Salt::CalciumChloride.molar_mass() + per(salt.calcium_chloride);
    let sodium = w - 2.0 * mole * Salt::SodiumChloride.molar_mass();
    let part = MassFraction::from_fraction;
    let brine = Brine::blend(&[
        (Salt::SodiumChloride, part(sodium.max(0.0))?),
        (Salt::CalciumChloride, part(calcium)?),
        (Salt::MagnesiumChloride, part(per(salt.magnesium_chloride))?),
        (Salt::SodiumSulfate, part(mole * Salt::SodiumSulfate.molar_mass())?),
    ])?;
    Ok(MadeBrine { brine, sludge: part(w * insolubles / purity + gypsum - dissolved)? })
}

/// How far each reading of such a brine is off when it is taken for pure sodium chloride brine.
///
/// # Equation
/// The property of the impure brine, read back as pure brine, less the NaCl that is there.
///
/// # Range
/// As the properties: −15…40 °C, and impure brines that no reading takes for more than 26.67 %.
///
/// # Error
/// A fifth of the value, and 0.05 % by mass: mixing of trace salts.
///
/// # Source
/// As [`density::density`], [`refraction::refractive_index`] and [`conductivity::conductivity`].
///
/// # Errors
/// As those.
///
/// # Examples
/// ```
/// use chemistry::{MassFraction, impurities::{Analysis, brine_made, misled}};
/// use quantity::celsius;
/// let percent = MassFraction::from_percent;
/// let salt = Analysis { calcium_sulfate: percent(1.0)?, ..Analysis::of_purity(percent(97.0)?) };
/// let made = brine_made(&salt, 300.0, percent(23.3)?)?;
/// let off = misled(&made.brine, percent(23.3)?, celsius(20.0))?;
/// assert!((0.1..0.5).contains(&off.by_density)); // common practice: a few tenths high
/// assert!(misled(&made.brine, percent(23.3)?, celsius(50.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn misled(
    brine: &Brine,
    sodium_chloride: MassFraction,
    temperature: ThermodynamicTemperature,
) -> Result<Misled, Error> {
    let salt = Salt::SodiumChloride;
    let off = |found: Brine| found.strength().percent() - sodium_chloride.percent();
    let density = by_density(salt, &Reading::exact(density::density(brine, temperature)?, temperature))?;
    let index = refraction::refractive_index(brine, temperature)?;
    let index = by_refractive_index(salt, &Reading::exact(index, temperature))?;
    let conducts = conductivity::conductivity(brine, temperature)?;
    let conducts = by_conductivity(salt, &Reading::exact(conducts, temperature))?;
    Ok(Misled {
        by_density: off(density.brine),
        by_refractive_index: off(index.brine),
        by_conductivity: off(conducts.weaker.brine),
    })
}
