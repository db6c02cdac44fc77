//! Frost: vapor from the air settling as ice on a cold, dry pavement.

use crate::psychrometrics::frost_point;
use crate::{Fraction, OutOfRange};
use quantity::{ThermodynamicTemperature, in_celsius};

/// Whether frost is likely on a pavement in an hour without precipitation.
///
/// **Equation** pavement below 0 °C and below the frost point of the air. **Range** air −65…60 °C, RH from 0.01 %.
/// **Error** the sign of the vapor flux only; how much settles depends on wind and time, and brine residue lowers
/// the surface's own freezing point. One kelvin of pavement error decides many nights.
/// **Source** definition of the frost point, WMO-No. 8.
///
/// # Errors
/// [`OutOfRange`] when the air is outside the range of the frost point.
pub fn frost_likely(
    pavement: ThermodynamicTemperature,
    air: ThermodynamicTemperature,
    humidity: Fraction,
) -> Result<bool, OutOfRange> {
    let surface = in_celsius(pavement);
    Ok(surface < 0.0 && surface < in_celsius(frost_point(air, humidity)?))
}
