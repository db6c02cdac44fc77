//! Values that cannot be, and values that the rest of the report contradicts. Such values are flagged, not clipped.

use crate::sample::{Quantity, Value};
use quantity::{in_celsius, in_metres, in_metres_per_second, in_millimetres};

/// Air colder than this is impossible, °C.
pub const AIR_COLDEST: f64 = -60.0;
/// Air warmer than this is impossible, °C.
pub const AIR_WARMEST: f64 = 50.0;
/// Pavement colder than this is impossible, °C.
pub const PAVEMENT_COLDEST: f64 = -50.0;
/// Pavement warmer than this is impossible, °C.
pub const PAVEMENT_WARMEST: f64 = 80.0;
/// Relative humidity above 100 % up to this is taken as 100 %, above it is impossible, %.
pub const HUMIDITY_HIGHEST: f64 = 105.0;
/// Wind above this is impossible, m/s.
pub const WIND_STRONGEST: f64 = 75.0;
/// More liquid than this in one hour is impossible, mm.
pub const LIQUID_PER_HOUR: f64 = 100.0;
/// A dew point further above the air than this is impossible, K.
pub const DEW_POINT_ABOVE_AIR: f64 = 0.5;

/// Precipitation is suspect when visibility is at least this, statute miles, and the two below hold too. Program
/// default.
pub const SUSPECT_VISIBILITY_MILES: f64 = 9.0;
/// Precipitation is suspect when relative humidity is below this, %. Program default.
pub const SUSPECT_HUMIDITY: f64 = 75.0;
/// Precipitation is suspect when the air is below this, °C. Program default.
pub const SUSPECT_AIR: f64 = 0.0;

/// Whether a value can be at all. `hours` is the length of its interval.
pub(crate) fn is_possible(quantity: Quantity, value: &Value, hours: f64) -> bool {
    match (quantity, value) {
        (_, Value::AsWritten(_)) => false,
        (
            Quantity::PavementTemperature | Quantity::InPavementTemperature | Quantity::SubsurfaceTemperature,
            Value::Temperature(t),
        ) => (PAVEMENT_COLDEST..=PAVEMENT_WARMEST).contains(&in_celsius(*t)),
        (_, Value::Temperature(t)) => (AIR_COLDEST..=AIR_WARMEST).contains(&in_celsius(*t)),
        (Quantity::WindSpeed | Quantity::WindGust, Value::Speed(v)) => {
            (0.0..=WIND_STRONGEST).contains(&in_metres_per_second(*v))
        }
        (_, Value::Speed(v)) => in_metres_per_second(*v) >= 0.0,
        (Quantity::Precipitation, Value::Length(l)) => {
            (0.0..=LIQUID_PER_HOUR * hours.max(1.0)).contains(&in_millimetres(*l))
        }
        (_, Value::Length(l)) => in_metres(*l) >= 0.0,
        _ => true,
    }
}
