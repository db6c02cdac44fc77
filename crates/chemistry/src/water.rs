//! Pure water: what every brine property starts from. Below 0 °C the liquid is supercooled, and the values
//! serve only as the base of brine equations.

use crate::Error;
use crate::fitted;
use crate::surface::polynomial;
use crate::{RefractiveIndex, WaterActivity};
use quantity::{
    DynamicViscosity, SpecificHeatCapacity, ThermodynamicTemperature, in_celsius, joules_per_kg_kelvin,
    millipascal_seconds,
};

/// Zero of the Celsius scale, K. Exact.
pub(crate) const ZERO_CELSIUS: f64 = 273.15;

/// Coefficients and exponents of the viscosity equation, µPa·s, as printed (table 1 there).
const VISCOSITY: [(f64, f64); 4] = [(280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.459_03, -40.0)];

/// Coefficients a0…a7 of the refractive index equation, as printed.
const INDEX: [f64; 8] = [
    0.244_257_733,
    9.746_344_76e-3,
    -3.732_349_96e-3,
    2.686_784_72e-4,
    1.589_205_70e-3,
    2.459_342_59e-3,
    0.900_704_920,
    -1.666_262_19e-2,
];
/// Its ultraviolet resonance, in units of 589 nm.
const INDEX_ULTRAVIOLET: f64 = 0.229_202_0;
/// Its infrared resonance, in units of 589 nm.
const INDEX_INFRARED: f64 = 5.432_937;
/// Refractive index of air at 589 nm, 20 °C, 1 atm: tables of liquids are against air.
const INDEX_OF_AIR: f64 = 1.000_27;
/// Wavelength of sodium D in units of 589 nm.
const SODIUM_D: f64 = 589.3 / 589.0;

/// Kell's coefficients of ρ_water(t), kg/m³, numerator from t⁰ up, as printed.
const KELL: [f64; 6] =
    [999.839_52, 16.945_176, -7.987_040_1e-3, -46.170_461e-6, 105.563_02e-9, -280.542_53e-12];
/// Kell's denominator coefficient.
const KELL_DENOMINATOR: f64 = 16.879_85e-3;

/// Coldest temperature covered, °C.
pub const COLDEST_CELSIUS: f64 = -20.0;
/// Warmest temperature covered, °C.
pub const WARMEST_CELSIUS: f64 = 40.0;

/// °C of a temperature within the data, which are −20…40 °C for every property but the freezing curves.
pub(crate) fn checked(temperature: ThermodynamicTemperature, reason: &'static str) -> Result<f64, Error> {
    let celsius = in_celsius(temperature);
    // Limits are inclusive; a conversion may land a rounding outside.
    if (COLDEST_CELSIUS - 1e-9..=WARMEST_CELSIUS + 1e-9).contains(&celsius) {
        Ok(celsius)
    } else {
        Err(Error::Temperature { celsius, low: COLDEST_CELSIUS, high: WARMEST_CELSIUS, reason })
    }
}

/// Viscosity of water at 1 atm.
///
/// # Equation
/// µ/(µPa·s) = Σ aᵢ (T/300 K)^bᵢ.
///
/// # Range
/// −20…40 °C.
///
/// # Error
/// Source: 1 % in the stable liquid, 5 % supercooled at −20 °C. Measured: VALIDATION.md.
///
/// # Source
/// IAPWS SR6-08(2011), revised supplementary release on properties of liquid water at 0.1 MPa, section on viscosity.
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::water::viscosity;
/// use quantity::{celsius, in_millipascal_seconds};
/// assert!((in_millipascal_seconds(viscosity(celsius(20.0))?) - 1.0016).abs() < 0.0005); // ISO/TR 3666: 1.0016
/// assert!(viscosity(celsius(40.5)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn viscosity(temperature: ThermodynamicTemperature) -> Result<DynamicViscosity, Error> {
    Ok(millipascal_seconds(millipascals(checked(temperature, "chemistry.limit.viscosity_data")?)))
}

pub(crate) fn millipascals(celsius: f64) -> f64 {
    let reduced = (celsius + ZERO_CELSIUS) / 300.0;
    let ln = reduced.ln();
    1e-3 * VISCOSITY.iter().map(|(a, b)| a * (b * ln).exp()).sum::<f64>()
}

/// Specific heat capacity of water at 1 atm.
///
/// # Equation
/// Polynomial in t.
///
/// # Range
/// −20…40 °C.
///
/// # Error
/// Source: 0.1 % from 0 °C; the supercooled values are that equation carried on. Our polynomial: 2 J/(kg·K).
///
/// # Source
/// Our fit (`fits/`) to IAPWS-95 as computed by the Python package iapws 1.5.5.
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::water::heat_capacity;
/// use quantity::{celsius, in_joules_per_kg_kelvin};
/// assert!((in_joules_per_kg_kelvin(heat_capacity(celsius(25.0))?) - 4181.0).abs() < 3.0);
/// assert!(heat_capacity(celsius(-21.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn heat_capacity(temperature: ThermodynamicTemperature) -> Result<SpecificHeatCapacity, Error> {
    Ok(joules_per_kg_kelvin(joules_per_kg(checked(temperature, "chemistry.limit.heat_capacity_data")?)))
}

pub(crate) fn joules_per_kg(celsius: f64) -> f64 {
    polynomial(&fitted::WATER_HEAT_CAPACITY, celsius / 100.0)
}

/// Refractive index of water against air at 589.3 nm, 1 atm.
///
/// # Equation
/// (n² − 1)/(n² + 2)·1/ρ = a0 + a1 ρ + a2 T + a3 λ² T + a4/λ² + a5/(λ² − λuv²) + a6/(λ² − λir²) + a7 ρ², all reduced;
/// over 1.00027 for air.
///
/// # Range
/// −20…40 °C.
///
/// # Error
/// Source: 2e-5 in the stable liquid.
///
/// # Source
/// IAPWS R9-97, refractive index of ordinary water substance; A. H. Harvey et al., J. Phys. Chem. Ref. Data 27, 761
/// (1998).
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::water::refractive_index;
/// use quantity::celsius;
/// assert!((refractive_index(celsius(20.0))?.index() - 1.33299).abs() < 2e-5); // ICUMSA: water, 20 °C
/// assert!(refractive_index(celsius(50.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn refractive_index(temperature: ThermodynamicTemperature) -> Result<RefractiveIndex, Error> {
    let celsius = checked(temperature, "chemistry.limit.refraction_data")?;
    RefractiveIndex::from_index(index_of(specific_refraction(celsius) * kg_m3(celsius)))
}

/// Index against air from the Lorentz-Lorenz ratio (n² − 1)/(n² + 2).
pub(crate) fn index_of(ratio: f64) -> f64 {
    ((1.0 + 2.0 * ratio) / (1.0 - ratio)).sqrt() / INDEX_OF_AIR
}

/// The Lorentz-Lorenz ratio of an index against air.
pub(crate) fn ratio_of(index: f64) -> f64 {
    let square = (index * INDEX_OF_AIR).powi(2);
    (square - 1.0) / (square + 2.0)
}

/// Lorentz-Lorenz specific refraction of water, m³/kg.
pub(crate) fn specific_refraction(celsius: f64) -> f64 {
    let [a0, a1, a2, a3, a4, a5, a6, a7] = INDEX;
    let density = kg_m3(celsius) / 1000.0;
    let temperature = (celsius + ZERO_CELSIUS) / ZERO_CELSIUS;
    let square = SODIUM_D * SODIUM_D;
    let sum = a0
        + a1 * density
        + a2 * temperature
        + a3 * square * temperature
        + a4 / square
        + a5 / (square - INDEX_ULTRAVIOLET * INDEX_ULTRAVIOLET)
        + a6 / (square - INDEX_INFRARED * INDEX_INFRARED)
        + a7 * density * density;
    sum / 1000.0
}

/// Activity of water in anything that is in equilibrium with ice: one at 0 °C, less below.
///
/// # Equation
/// ln a = (g_ice − g_liquid)/(R T) as a polynomial in t.
///
/// # Range
/// −20…0 °C.
///
/// # Error
/// 0.0005, from the extrapolation of liquid water below 0 °C.
///
/// # Source
/// Our fit (`fits/`) to IAPWS R10-06 (ice) and IAPWS-95 (liquid) as computed by the Python package iapws 1.5.5.
///
/// # Errors
/// [`Error::Temperature`] outside the range.
///
/// # Examples
/// ```
/// use chemistry::water::ice_activity;
/// use quantity::celsius;
/// assert!((ice_activity(celsius(-10.0))?.ratio() - 0.9072).abs() < 0.0005); // Murphy & Koop 2005, eqs. 7 and 10
/// assert!(ice_activity(celsius(1.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn ice_activity(temperature: ThermodynamicTemperature) -> Result<WaterActivity, Error> {
    let celsius = in_celsius(temperature);
    if !(COLDEST_CELSIUS - 1e-9..=1e-9).contains(&celsius) {
        let reason = "chemistry.limit.ice";
        return Err(Error::Temperature { celsius, low: COLDEST_CELSIUS, high: 0.0, reason });
    }
    WaterActivity::from_ratio(ln_ice_activity(celsius.min(0.0)).exp())
}

pub(crate) fn ln_ice_activity(celsius: f64) -> f64 {
    let tau = celsius / 100.0;
    tau * polynomial(&fitted::ICE_ACTIVITY, tau)
}

/// Density of water, kg/m³; see [`crate::density::water_density`].
pub(crate) fn kg_m3(t: f64) -> f64 {
    KELL.iter().rev().fold(0.0, |sum, a| sum * t + a) / (1.0 + KELL_DENOMINATOR * t)
}
