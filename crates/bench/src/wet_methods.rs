//! Laboratory methods with a balance and an oven, or a buret: dried residue, chloride, and moisture of salt.

use chemistry::{Brine, MassFraction};

use crate::error::{Error, check};
use crate::measure::Measured;
use crate::uncertainty::{Budget, Component};

/// Standard uncertainty of drying itself, as a share of the answer: salt spat out, water kept back. A judgment.
const DRYING: f64 = 0.002;
/// Standard uncertainty of a careful titration, and of the purchased solution's strength, as shares of the answer.
/// Judgments.
const TITRATING: f64 = 0.003;
const SOLUTION: f64 = 0.002;

/// Sodium chloride, g/mol: CRC Handbook, from memory.
const SODIUM_CHLORIDE_G_PER_MOL: f64 = 58.44;

fn grams(what: &'static str, value: f64) -> Result<(), Error> {
    check(what, value, "bench.accepted.above_zero", 0.0 < value)
}

/// Strength of a brine dried to constant mass: all that stays, salt or not.
///
/// # Equation
/// residue/sample, by mass.
///
/// # Range
/// A residue smaller than the sample.
///
/// # Error
/// The balance's; insolubles and impurities count as salt, and calcium and magnesium chloride keep water at 110 °C.
///
/// # Source
/// A definition; drying at 105 to 110 °C for 3 h at least as in a state purity method (TM 32, seen in an excerpt).
///
/// # Errors
/// [`Error::Value`].
///
/// # Examples
/// ```
/// use bench::wet_methods::dried;
/// assert!((dried(50.0, 11.65)?.percent() - 23.3).abs() < 1e-9);
/// assert!(dried(50.0, 51.0).is_err());
/// # Ok::<(), bench::Error>(())
/// ```
pub fn dried(sample_grams: f64, residue_grams: f64) -> Result<MassFraction, Error> {
    grams("bench.quantity.sample_grams", sample_grams)?;
    let accepted = "bench.accepted.residue";
    check(
        "bench.quantity.residue_grams",
        residue_grams,
        accepted,
        0.0 <= residue_grams && residue_grams < sample_grams,
    )?;
    Ok(MassFraction::from_fraction(residue_grams / sample_grams)?)
}

/// A strength by drying, with its budget; `balance_grams` is the smallest step of the balance.
///
/// # Equation
/// As [`dried`]; the interval by JCGM 100.
///
/// # Range
/// As [`dried`].
///
/// # Error
/// Two weighings each, and 0.2 % of the answer for drying itself (judgment), one standard deviation.
///
/// # Source
/// As [`dried`].
///
/// # Errors
/// As [`dried`].
///
/// # Examples
/// ```
/// use bench::wet_methods::by_drying;
/// let found = by_drying(50.0, 11.65, 0.01)?;
/// assert!((found.brine.strength().percent() - 23.3).abs() < 1e-9 && found.expanded.half_width < 0.15);
/// # Ok::<(), bench::Error>(())
/// ```
pub fn by_drying(sample_grams: f64, residue_grams: f64, balance_grams: f64) -> Result<Measured, Error> {
    let strength = dried(sample_grams, residue_grams)?;
    grams("bench.quantity.balance_step", balance_grams)?;
    let percent = strength.percent();
    // Each mass is a full reading less an empty one.
    let weighing = balance_grams / 2.0 * 2f64.sqrt();
    found(
        strength,
        vec![
            Component::rectangle("resolution", weighing, 100.0 / sample_grams),
            Component::rectangle("sample", weighing, percent / sample_grams),
            Component::normal("method", DRYING * percent, 1.0),
        ],
    )
}

/// A strength by titration, with its budget; `burette_ml` is the smallest step of the buret. The portion is what of
/// the brine itself was titrated, all dilution worked out.
///
/// # Equation
/// As [`titrated`]; the interval by JCGM 100.
///
/// # Range
/// As [`titrated`], above zero.
///
/// # Error
/// The buret, 0.2 % of the answer for the solution and 0.3 % for the hand (judgments), one standard deviation.
///
/// # Source
/// As [`titrated`].
///
/// # Errors
/// As [`titrated`].
///
/// # Examples
/// ```
/// use bench::wet_methods::by_titration;
/// // 10 g of brine to 1,000 mL, 10 mL of that titrated: 0.1 g of brine.
/// let found = by_titration(39.87, 0.01, 0.1, 0.05)?;
/// assert!((found.brine.strength().percent() - 23.3).abs() < 0.01);
/// # Ok::<(), bench::Error>(())
/// ```
pub fn by_titration(
    silver_nitrate_ml: f64,
    molar: f64,
    portion_grams: f64,
    burette_ml: f64,
) -> Result<Measured, Error> {
    let strength = titrated(silver_nitrate_ml, molar, portion_grams)?;
    check("bench.quantity.burette_step", burette_ml, "bench.accepted.above_zero", 0.0 < burette_ml)?;
    check(
        "bench.quantity.silver_nitrate_ml",
        silver_nitrate_ml,
        "bench.accepted.above_zero",
        0.0 < silver_nitrate_ml,
    )?;
    let percent = strength.percent();
    found(
        strength,
        vec![
            Component::rectangle("resolution", burette_ml / 2.0, percent / silver_nitrate_ml),
            Component::normal("solution", SOLUTION * percent, 1.0),
            Component::normal("method", TITRATING * percent, 1.0),
        ],
    )
}

fn found(strength: MassFraction, lines: Vec<Component>) -> Result<Measured, Error> {
    let budget = Budget::new(lines)?;
    let expanded = budget.expanded();
    Ok(Measured { brine: Brine::sodium_chloride(strength)?, budget, expanded, doubt: None })
}

/// Sodium chloride in what was titrated with silver nitrate.
///
/// # Equation
/// w = V·c·M/1000/m, V in mL of silver nitrate of c mol/L, m the grams of sample in the portion titrated.
///
/// # Range
/// An answer of 0…1.
///
/// # Error
/// 0.3 % of the answer by a careful hand (judgment); all chloride counts as sodium chloride.
///
/// # Source
/// Stoichiometry of Ag⁺ + Cl⁻. A state purity method (TM 32, formula seen, its letters inferred) takes 75 g to
/// 1,000 mL, 10 mL of that to 1,000 mL, titrates 10 mL with 0.01 N: then 100·A·C·584.5/D is this equation in
/// per cent, for a portion of D/10,000.
///
/// # Errors
/// [`Error::Value`]; [`Error::Chemistry`] for more chloride than the sample weighs.
///
/// # Examples
/// ```
/// use bench::wet_methods::titrated;
/// let portion = 75.0 * (10.0 / 1000.0) * (10.0 / 1000.0);
/// assert!((titrated(12.5, 0.01, portion)?.percent() - 97.4).abs() < 0.1); // worked example W13
/// assert!(titrated(13.5, 0.01, portion).is_err());
/// # Ok::<(), bench::Error>(())
/// ```
pub fn titrated(silver_nitrate_ml: f64, molar: f64, portion_grams: f64) -> Result<MassFraction, Error> {
    check(
        "bench.quantity.silver_nitrate_ml",
        silver_nitrate_ml,
        "bench.accepted.from_zero",
        0.0 <= silver_nitrate_ml,
    )?;
    check("bench.quantity.silver_nitrate_molar", molar, "bench.accepted.above_zero", 0.0 < molar)?;
    grams("bench.quantity.portion_grams", portion_grams)?;
    let salt_grams = silver_nitrate_ml * molar * SODIUM_CHLORIDE_G_PER_MOL / 1000.0;
    Ok(MassFraction::from_fraction(salt_grams / portion_grams)?)
}

/// Moisture of salt from its mass before and after drying, by mass of the wet salt.
///
/// # Equation
/// (wet − dry)/wet.
///
/// # Range
/// dry no more than wet.
///
/// # Error
/// The balance's.
///
/// # Source
/// A state's price bands are on this basis (worked example W14: 500.0 g to 491.0 g is 1.8 %).
///
/// # Errors
/// [`Error::Value`].
///
/// # Examples
/// ```
/// use bench::wet_methods::moisture;
/// assert!((moisture(500.0, 491.0)?.percent() - 1.8).abs() < 1e-9);
/// assert!(moisture(491.0, 500.0).is_err());
/// # Ok::<(), bench::Error>(())
/// ```
pub fn moisture(wet_grams: f64, dry_grams: f64) -> Result<MassFraction, Error> {
    grams("bench.quantity.wet_salt_grams", wet_grams)?;
    check(
        "bench.quantity.dry_salt_grams",
        dry_grams,
        "bench.accepted.dry_salt",
        0.0 < dry_grams && dry_grams <= wet_grams,
    )?;
    Ok(MassFraction::from_fraction((wet_grams - dry_grams) / wet_grams)?)
}
