//! Water vapor in air: saturation, dew and frost point, wet bulb, and the air pressure they need.
//!
//! Reports give relative humidity over liquid water, also below 0 °C; every function here follows that.

use crate::{Fraction, Measure, OutOfRange, Pressure};
use chemistry::root;
use quantity::{Length, ThermodynamicTemperature, celsius, in_celsius, in_metres};

/// Coldest temperature the functions accept, °C.
pub const COLDEST: f64 = -65.0;
/// Warmest temperature the functions accept, °C.
pub const WARMEST: f64 = 60.0;

const AT_ZERO: f64 = 6.112;
const WATER: (f64, f64) = (17.62, 243.12);
const ICE: (f64, f64) = (22.46, 272.62);
/// Psychrometer coefficients per kelvin, ventilated: a wet bulb and an iced bulb.
const WET_BULB_COEFFICIENT: f64 = 6.62e-4;
const ICE_BULB_COEFFICIENT: f64 = 5.84e-4;

fn magnus(temperature: f64, (a, b): (f64, f64)) -> f64 {
    AT_ZERO * (a * temperature / (b + temperature)).exp()
}

fn inverse_magnus(vapour: f64, (a, b): (f64, f64)) -> f64 {
    let x = (vapour / AT_ZERO).ln();
    b * x / (a - x)
}

fn in_range(temperature: ThermodynamicTemperature) -> Result<f64, OutOfRange> {
    let value = in_celsius(temperature);
    if (COLDEST..=WARMEST).contains(&value) {
        Ok(value)
    } else {
        Err(OutOfRange { measure: Measure::Temperature, value, low: COLDEST, high: WARMEST })
    }
}

fn not_dry(humidity: Fraction) -> Result<f64, OutOfRange> {
    const LEAST: f64 = 1e-4;
    let value = humidity.ratio();
    if value >= LEAST {
        Ok(value)
    } else {
        Err(OutOfRange { measure: Measure::RelativeHumidity, value, low: LEAST, high: 1.0 })
    }
}

/// Saturation pressure of water vapor over liquid water.
///
/// **Equation** e_w = 6.112 exp(17.62 T / (243.12 + T)) hPa, T in °C (Magnus form).
/// **Range** −65…60 °C; the source states −45…60 °C.
/// **Error** about 0.3 % within −45…60 °C against full formulations; a few per cent at −65 °C.
/// **Source** WMO-No. 8, annex on psychrometric formulae.
///
/// # Errors
/// [`OutOfRange`] outside the range.
pub fn saturation_over_water(temperature: ThermodynamicTemperature) -> Result<Pressure, OutOfRange> {
    in_range(temperature).map(|t| Pressure::of(magnus(t, WATER)))
}

/// Saturation pressure of water vapor over ice.
///
/// **Equation** e_i = 6.112 exp(22.46 T / (272.62 + T)) hPa, T in °C (Magnus form).
/// **Range** −65…60 °C; the source states −65…0 °C, above 0 °C it is only the continuation an iced bulb needs.
/// **Error** about 0.5 % within −65…0 °C.
/// **Source** WMO-No. 8, annex on psychrometric formulae.
///
/// # Errors
/// [`OutOfRange`] outside the range.
pub fn saturation_over_ice(temperature: ThermodynamicTemperature) -> Result<Pressure, OutOfRange> {
    in_range(temperature).map(|t| Pressure::of(magnus(t, ICE)))
}

/// Vapor pressure of air from its temperature and relative humidity.
///
/// **Equation** e = RH e_w(T). **Range** −65…60 °C.
/// **Error** that of [`saturation_over_water`] and of the humidity: 3 % RH is 3 % of e_w.
/// **Source** definition of relative humidity over water, WMO-No. 8.
///
/// # Errors
/// [`OutOfRange`] outside the range.
pub fn vapour_pressure(air: ThermodynamicTemperature, humidity: Fraction) -> Result<Pressure, OutOfRange> {
    saturation_over_water(air).map(|full| Pressure::of(full.hectopascals() * humidity.ratio()))
}

/// Dew point of air: where it would be saturated over liquid water.
///
/// **Equation** x = ln(e / 6.112), T_d = 243.12 x / (17.62 − x). **Range** −65…60 °C, RH from 0.01 %.
/// **Error** about 0.05 K from the equation; 3 % RH near 80 % is 0.5 K.
/// **Source** inverse of the Magnus form, WMO-No. 8.
///
/// # Errors
/// [`OutOfRange`] outside the range.
pub fn dew_point(
    air: ThermodynamicTemperature,
    humidity: Fraction,
) -> Result<ThermodynamicTemperature, OutOfRange> {
    let vapour = magnus(in_range(air)?, WATER) * not_dry(humidity)?;
    Ok(celsius(inverse_magnus(vapour, WATER)))
}

/// Frost point of air: where it would be saturated over ice. At or above the dew point below 0 °C.
///
/// **Equation** x = ln(e / 6.112), T_f = 272.62 x / (22.46 − x). **Range** −65…60 °C, RH from 0.01 %.
/// **Error** about 0.05 K from the equation; 3 % RH near 80 % is 0.45 K.
/// **Source** inverse of the Magnus form over ice, WMO-No. 8.
///
/// # Errors
/// [`OutOfRange`] outside the range.
pub fn frost_point(
    air: ThermodynamicTemperature,
    humidity: Fraction,
) -> Result<ThermodynamicTemperature, OutOfRange> {
    let vapour = magnus(in_range(air)?, WATER) * not_dry(humidity)?;
    Ok(celsius(inverse_magnus(vapour, ICE)))
}

/// Frost point from a dew point: both stand for the same vapor pressure.
///
/// **Equation** e = e_w(T_d), T_f = 272.62 x / (22.46 − x). **Range** −65…60 °C.
/// **Error** about 0.05 K from the equation, plus that of the dew point. **Source** Magnus forms, WMO-No. 8.
///
/// # Errors
/// [`OutOfRange`] outside the range.
pub fn frost_point_from_dew_point(
    dew_point: ThermodynamicTemperature,
) -> Result<ThermodynamicTemperature, OutOfRange> {
    in_range(dew_point).map(|t| celsius(inverse_magnus(magnus(t, WATER), ICE)))
}

/// Relative humidity from temperature and dew point. A dew point above the temperature gives 100 %.
///
/// **Equation** RH = e_w(T_d) / e_w(T). **Range** −65…60 °C.
/// **Error** 1 K of dew point is 6…9 % of the humidity. **Source** Magnus form, WMO-No. 8.
///
/// # Errors
/// [`OutOfRange`] outside the range.
pub fn relative_humidity(
    air: ThermodynamicTemperature,
    dew_point: ThermodynamicTemperature,
) -> Result<Fraction, OutOfRange> {
    let ratio = magnus(in_range(dew_point)?, WATER) / magnus(in_range(air)?, WATER);
    Ok(Fraction::nearest(ratio))
}

/// Wet-bulb temperature of a bulb wet with liquid water.
///
/// **Equation** the root T_w of e_w(T_w) − A p (T − T_w) = e, A = 6.62e-4 /K, p the air pressure.
/// **Range** −65…60 °C, p 300…1200 hPa. **Error** about 0.1 K from the coefficient, more in still air;
/// 3 % RH near 0 °C is 0.2 K. **Source** psychrometer equation, WMO-No. 8.
///
/// # Errors
/// [`OutOfRange`] outside the range.
pub fn wet_bulb(
    air: ThermodynamicTemperature,
    humidity: Fraction,
    pressure: Pressure,
) -> Result<ThermodynamicTemperature, OutOfRange> {
    bulb(air, humidity, pressure, WATER, WET_BULB_COEFFICIENT)
}

/// Wet-bulb temperature of a bulb covered with ice. May lie above the air when the air is saturated over ice.
///
/// **Equation** the root T_i of e_i(T_i) − A p (T − T_i) = e, A = 5.84e-4 /K, p the air pressure.
/// **Range** −65…60 °C, p 300…1200 hPa. **Error** about 0.1 K from the coefficient, more in still air.
/// **Source** psychrometer equation for an iced bulb, WMO-No. 8.
///
/// # Errors
/// [`OutOfRange`] outside the range.
pub fn ice_bulb(
    air: ThermodynamicTemperature,
    humidity: Fraction,
    pressure: Pressure,
) -> Result<ThermodynamicTemperature, OutOfRange> {
    bulb(air, humidity, pressure, ICE, ICE_BULB_COEFFICIENT)
}

fn bulb(
    air: ThermodynamicTemperature,
    humidity: Fraction,
    pressure: Pressure,
    over: (f64, f64),
    coefficient: f64,
) -> Result<ThermodynamicTemperature, OutOfRange> {
    const LOWEST_PRESSURE: f64 = 300.0;
    let t = in_range(air)?;
    let p = pressure.hectopascals();
    if p < LOWEST_PRESSURE {
        let (low, high) = (LOWEST_PRESSURE, 1200.0);
        return Err(OutOfRange { measure: Measure::Pressure, value: p, low, high });
    }
    let vapour = magnus(t, WATER) * humidity.ratio();
    let excess = |bulb: f64| magnus(bulb, over) - coefficient * p * (t - bulb) - vapour;
    // The excess rises with the bulb temperature. At −100 °C it is always negative; 5 K above the air it is always
    // positive, also over ice in saturated air. So the root is bracketed.
    let [low, high] = [-100.0, t + 5.0].map(|bulb| (bulb, excess(bulb)));
    Ok(celsius(root::zero(excess, low, high, 1e-10)))
}

/// Air pressure at an elevation in the standard atmosphere.
///
/// **Equation** p = 1013.25 (1 − 0.0065 h / 288.15)^5.25588 hPa, h in metres. **Range** −500…11 000 m.
/// **Error** weather moves real pressure by ±3 % around it; 3 % moves a wet bulb near freezing by under 0.03 K.
/// **Source** ICAO Doc 7488, standard atmosphere.
///
/// # Errors
/// [`OutOfRange`] outside the range.
pub fn standard_pressure(elevation: Length) -> Result<Pressure, OutOfRange> {
    const LOW: f64 = -500.0;
    const HIGH: f64 = 11_000.0;
    let h = in_metres(elevation);
    if (LOW..=HIGH).contains(&h) {
        Ok(Pressure::of(1013.25 * (1.0 - 0.0065 * h / 288.15).powf(5.255_88)))
    } else {
        Err(OutOfRange { measure: Measure::Elevation, value: h, low: LOW, high: HIGH })
    }
}
