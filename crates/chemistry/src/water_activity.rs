//! Activity of water over brine, and the humidity of air that neither wets nor dries it.

use crate::brine::{SALTS, WATER};
use crate::forms::{ionic_strength, molality, osmotic_limit, osmotic_terms};
use crate::surface::polynomial;
use crate::water::checked;
use crate::{Brine, Error, Salt, fitted};
use crate::{Estimate, WaterActivity};
use quantity::ThermodynamicTemperature;

/// Strongest part of each salt in the activity data.
const MOST: [f64; SALTS] = [0.2667, 0.44, 0.355, 0.28, 0.04];
const REASON: &str = "chemistry.limit.water_activity_data";

/// Activity of water in a brine. Times 100 it is the equilibrium relative humidity, per cent: drier air dries
/// the brine, moister air wets it.
///
/// # Equation
/// ln a = −M_water Σ νᵢ mᵢ φᵢ(I, t): every salt has the osmotic coefficient it would have alone at the same total ionic
/// strength I. φᵢ: Pitzer's form with m, m·exp(−2√I), m² and m³.
///
/// # Range
/// −20…40 °C; by mass NaCl to 26.67 %, CaCl2 44 %, MgCl2 35.5 %, KCl 28 %, Na2SO4 4 %.
///
/// # Error
/// See [`estimate`]. Measured: VALIDATION.md.
///
/// # Source
/// Form: K. S. Pitzer, J. Phys. Chem. 77, 268 (1973). Mixing: M. H. Lietzke, R. W. Stoughton, J. Solution Chem. 1, 299
/// (1972). Coefficients: our fit to Archer (1992, 1999), Pitzer et al. (1984), Robinson & Stokes and ColdChem; data and
/// weights in `tests/data/water_activity.csv`.
///
/// # Errors
/// [`Error::Temperature`] and [`Error::Strength`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, water_activity::water_activity};
/// use quantity::celsius;
/// let saturated = Brine::sodium_chloride(MassFraction::from_percent(26.45)?)?;
/// let humidity = 100.0 * water_activity(&saturated, celsius(25.0))?.ratio();
/// assert!((humidity - 75.3).abs() < 0.3); // Greenspan 1977, saturated NaCl at 25 °C: 75.29 %
/// assert!(water_activity(&saturated, celsius(41.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn water_activity(brine: &Brine, temperature: ThermodynamicTemperature) -> Result<WaterActivity, Error> {
    Ok(estimate(brine, temperature)?.value)
}

/// Activity with the 95 % interval of the equation, as a difference of activity.
///
/// # Equation
/// As [`water_activity`].
///
/// # Range
/// As [`water_activity`].
///
/// # Error
/// The interval: NaCl and KCl 0.002, CaCl2 and MgCl2 0.004; below 0 °C twice that; blends 0.02 more.
///
/// # Source
/// VALIDATION.md, from the data.
///
/// # Errors
/// As [`water_activity`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, water_activity::estimate};
/// use quantity::celsius;
/// assert!((estimate(&Brine::WATER, celsius(20.0)).unwrap().value.ratio() - 1.0).abs() < 1e-12);
/// assert!(estimate(&Brine::WATER, celsius(-21.0)).is_err());
/// ```
pub fn estimate(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<Estimate<WaterActivity, f64>, Error> {
    let celsius = checked(temperature, REASON)?;
    brine.check_covered(&MOST, "chemistry.limit.water_activity_data")?;
    let single = brine.dissolved().fold(0.0, |most: f64, (salt, _)| {
        most.max(match salt {
            Salt::CalciumChloride | Salt::MagnesiumChloride => 0.004,
            _ => 0.002,
        })
    });
    let cold = if celsius < 0.0 { 2.0 } else { 1.0 };
    let mixing = if brine.only_salt().is_some() { 0.0 } else { 0.02 };
    Ok(Estimate {
        value: WaterActivity::from_ratio(ln_activity(brine, celsius).exp())?,
        uncertainty: cold * single + mixing,
    })
}

/// ln of the activity, unchecked.
pub(crate) fn ln_activity(brine: &Brine, celsius: f64) -> f64 {
    let water = 1.0 - brine.total();
    let of_part = |salt: Salt, part: f64| 1000.0 * part / (water * salt.molar_mass());
    let strength: f64 = brine.dissolved().map(|(salt, part)| ionic_strength(salt, of_part(salt, part))).sum();
    let sum: f64 = brine
        .dissolved()
        .map(|(salt, part)| salt.ions() * of_part(salt, part) * osmotic(salt, strength, celsius))
        .sum();
    -WATER / 1000.0 * sum
}

/// Osmotic coefficient of a salt alone at an ionic strength; beyond its data, that of its strongest brine.
fn osmotic(salt: Salt, strength: f64, celsius: f64) -> f64 {
    let most = molality(salt, MOST[salt.place()]);
    let molality = (strength / ionic_strength(salt, 1.0)).min(most);
    let coefficients = fitted::OSMOTIC[salt.place()];
    let terms = osmotic_terms(salt, molality);
    let fitted: f64 =
        coefficients.iter().zip(terms).map(|(c, term)| term * polynomial(c, celsius / 100.0)).sum();
    1.0 + osmotic_limit(salt, molality, celsius) + fitted
}
