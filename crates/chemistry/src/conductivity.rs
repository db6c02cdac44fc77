//! Electrical conductivity of brine: what an inline sensor sees.

use crate::brine::SALTS;
use crate::surface::at;
use crate::{Brine, Error, Salt, fitted, root};
use crate::{Estimate, MassFraction};
use quantity::{ElectricalConductivity, ThermodynamicTemperature, in_celsius, millisiemens_per_cm};

/// Strongest part of each salt in the conductivity data.
pub(crate) const MOST: [f64; SALTS] = [0.2667, 0.40, 0.32, 0.26, 0.04];
/// Weakest brine with conductivity data, as a fraction: weaker, the form of the fit does not hold.
pub(crate) const LEAST: f64 = 0.005;
/// Coldest temperature with conductivity data, °C.
pub const COLDEST_CELSIUS: f64 = -15.0;
/// Warmest temperature with conductivity data, °C.
pub const WARMEST_CELSIUS: f64 = 40.0;
/// Stronger calcium and magnesium chloride was measured near 20 °C only.
const MEASURED_WARM_AND_COLD: f64 = 0.27;
/// Share of the equivalents below which a salt counts as a trace in a blend.
const TRACE: f64 = 0.1;
/// Step of strength, as a fraction, for the slope at the strength that conducts best.
const SLOPE_STEP: f64 = 1e-5;

/// Electrical conductivity of a brine, at its own temperature: not compensated to any other.
///
/// # Equation
/// One salt: ln(κ/w) = f(√w, t), a polynomial. Several: κ = Σ xᵢ κᵢ, where xᵢ is the share of salt i in all equivalents
/// and κᵢ what it would conduct alone at the same total equivalents per kilogram of water.
///
/// # Range
/// −15…40 °C; from 0.5 % in all; by mass NaCl to 26.67 % (saturation), CaCl2 40 %, MgCl2 32 %, KCl 26 %,
/// Na2SO4 4 %. In a blend every salt that makes up a tenth of the equivalents must stay within that at their total.
///
/// # Error
/// See [`estimate`]. Measured: VALIDATION.md.
///
/// # Source
/// Mixing: D. G. Miller, J. Phys. Chem. 100, 1220 (1996), applied here by mass of water. f: our fit to CRC (20
/// °C), saturated brine standards (0…35 °C), Kohlrausch (18 °C), McKee (KCl), and for other temperatures
/// PHREEQC with pitzer.dat; data and weights in `tests/data/conductivity.csv`. Below 0 °C nothing measured was found.
///
/// # Errors
/// [`Error::Temperature`] and [`Error::Strength`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, conductivity::conductivity};
/// use quantity::{celsius, in_millisiemens_per_cm};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(20.0)?)?;
/// assert!((in_millisiemens_per_cm(conductivity(&brine, celsius(20.0))?) / 204.0 - 1.0).abs() < 0.015); // CRC
/// assert!(conductivity(&brine, celsius(-16.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn conductivity(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<ElectricalConductivity, Error> {
    Ok(estimate(brine, temperature)?.value)
}

/// Conductivity with the 95 % interval of the equation.
///
/// # Equation
/// As [`conductivity`].
///
/// # Range
/// As [`conductivity`].
///
/// # Error
/// The interval, per cent of the value, at 15…25 °C, else from 0 °C, and below: NaCl and KCl 1.5, 4, 10; CaCl2
/// 4, 6, 10; MgCl2, for which every other source lies 6 to 10 % above the handbook that we follow, 10, 12, 15;
/// both above 27 %, measured near 20 °C only, 10, 15, 25; blends 5 more.
///
/// # Source
/// VALIDATION.md, from the data.
///
/// # Errors
/// As [`conductivity`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, conductivity::estimate};
/// use quantity::celsius;
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(10.0)?)?;
/// assert!(estimate(&brine, celsius(20.0)).is_ok() && estimate(&brine, celsius(41.0)).is_err());
/// assert!(estimate(&Brine::WATER, celsius(20.0)).is_err()); // what water conducts is up to what little is in it
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn estimate(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<Estimate<ElectricalConductivity>, Error> {
    let celsius = checked(temperature)?;
    brine.check_covered(&MOST, "chemistry.limit.conductivity_data")?;
    if brine.total() < LEAST - 1e-12 {
        let (percent, high) = (100.0 * brine.total(), 100.0 * MOST[0]);
        let reason = "chemistry.limit.conductivity_data";
        return Err(Error::Strength {
            what: "chemistry.all_salts",
            percent,
            low: 100.0 * LEAST,
            high,
            reason,
        });
    }
    let value = millisiemens(brine, celsius)?;
    let place = match celsius {
        t if (15.0..=25.0).contains(&t) => 0,
        t if t >= 0.0 => 1,
        _ => 2,
    };
    let percent = brine
        .dissolved()
        .map(|(salt, part)| match salt {
            Salt::SodiumChloride | Salt::PotassiumChloride => [1.5, 4.0, 10.0],
            Salt::CalciumChloride | Salt::MagnesiumChloride if part > MEASURED_WARM_AND_COLD => {
                [2.5, 15.0, 25.0]
            }
            Salt::CalciumChloride => [4.0, 6.0, 10.0],
            Salt::MagnesiumChloride => [10.0, 12.0, 15.0],
            Salt::SodiumSulfate => [5.0, 8.0, 15.0],
        })
        .fold(0.0, |most: f64, own| most.max(own[place]));
    let mixing = if brine.only_salt().is_some() { 0.0 } else { 5.0 };
    Ok(Estimate {
        value: millisiemens_per_cm(value),
        uncertainty: millisiemens_per_cm(value * (percent + mixing) / 100.0),
    })
}

/// Strength at which a brine of one salt conducts best at a temperature; none when it rises all the way. One
/// reading below the best belongs to two strengths.
///
/// # Equation
/// The maximum of [`conductivity`] over strength: where its slope passes zero.
///
/// # Range
/// As [`conductivity`].
///
/// # Error
/// 1 % by mass: the curve is flat there.
///
/// # Source
/// As [`conductivity`]; CRC shows CaCl2 turning near 24 % and MgCl2 near 18 % at 20 °C.
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::{Salt, conductivity::best_conducting};
/// use quantity::celsius;
/// let turn = best_conducting(Salt::MagnesiumChloride, celsius(20.0))?.map(|w| w.percent());
/// assert!(turn.is_some_and(|percent| (15.0..20.0).contains(&percent)));
/// assert!(best_conducting(Salt::SodiumChloride, celsius(20.0))?.is_none());
/// assert!(best_conducting(Salt::SodiumChloride, celsius(50.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn best_conducting(
    salt: Salt,
    temperature: ThermodynamicTemperature,
) -> Result<Option<MassFraction>, Error> {
    let celsius = checked(temperature)?;
    let most = MOST[salt.place()];
    let turn = turning_point(salt, celsius);
    if turn > most - 1e-4 { Ok(None) } else { MassFraction::from_fraction(turn).map(Some) }
}

/// The fraction of the maximum, or the end of the data.
pub(crate) fn turning_point(salt: Salt, celsius: f64) -> f64 {
    let slope = |w: f64| single(salt, w + SLOPE_STEP, celsius) - single(salt, w - SLOPE_STEP, celsius);
    let [low, high] = [LEAST, MOST[salt.place()]].map(|w| (w, slope(w)));
    if high.1 > 0.0 { high.0 } else { root::zero(slope, low, high, 1e-9) }
}

fn checked(temperature: ThermodynamicTemperature) -> Result<f64, Error> {
    let celsius = in_celsius(temperature);
    if (COLDEST_CELSIUS - 1e-9..=WARMEST_CELSIUS + 1e-9).contains(&celsius) {
        return Ok(celsius);
    }
    let reason = "chemistry.limit.conductivity_data";
    Err(Error::Temperature { celsius, low: COLDEST_CELSIUS, high: WARMEST_CELSIUS, reason })
}

/// mS/cm of a brine of one salt, unchecked.
pub(crate) fn single(salt: Salt, w: f64, celsius: f64) -> f64 {
    w * at(fitted::CONDUCTIVITY[salt.place()], w.sqrt(), celsius).exp()
}

fn millisiemens(brine: &Brine, celsius: f64) -> Result<f64, Error> {
    if let Some(salt) = brine.only_salt() {
        return Ok(single(salt, brine.total(), celsius));
    }
    let water = 1.0 - brine.total();
    let equivalents = |salt: Salt, part: f64| salt.equivalents() * part / salt.molar_mass() / water;
    let total: f64 = brine.dissolved().map(|(salt, part)| equivalents(salt, part)).sum();
    let mut sum = 0.0;
    for (salt, part) in brine.dissolved() {
        // What fraction of this salt alone has all these equivalents to a kilogram of water.
        let mass = total * salt.molar_mass() / salt.equivalents();
        let alone = mass / (1.0 + mass);
        // Of a trace, the value where its data end stands in beyond them, within the stated 5 %.
        let most = MOST[salt.place()];
        let share = equivalents(salt, part) / total;
        let is_trace = share < TRACE || salt == Salt::SodiumSulfate;
        let alone = if is_trace { alone.min(most) } else { alone };
        if alone > most + 1e-9 {
            return Err(Error::NotCovered {
                what: "chemistry.blend_conductivity",
                reason: "chemistry.why.more_than_data",
            });
        }
        sum += share * single(salt, alone, celsius);
    }
    Ok(sum)
}
