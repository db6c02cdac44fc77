//! The units of every outward name, text and form: one table for yard files, entries, points, forms and tables.
//!
//! A name that leaves the typed world ends with its unit (`volume_gal`, `depth_m`). A [`Unit`] is one such ending with
//! its straight line to the base of its quantity, by the conversions of [`quantity`](super):
//!
//! | quantity | base |
//! | --- | --- |
//! | length, area, volume | m, m², m³ (mL of what a jug catches) |
//! | mass, mass of a lane | kg, kg/m |
//! | time | h |
//! | flow of volume, of mass | m³/h, kg/s |
//! | temperature, step of temperature | °C, K |
//! | speed, pressure, density | m/s, kPa, kg/m³ |
//!
//! Factors: NIST Handbook 44, appendix C, and NIST SP 811, B.8.

use crate::{
    FEET_PER_MILE, VolumeRate, difference, fahrenheit, feet, gallons, gallons_per_hour, hours, in_celsius,
    in_cubic_metres, in_hours, in_kelvins, in_kilograms, in_litres, in_metres, in_metres_per_second,
    in_pounds_per_gallon, kg_per_m3, kilograms, litres, miles_per_hour, millimetres, minutes, pounds,
    short_tons,
};

/// A unit as it ends a name and as a person reads it.
#[derive(Debug, Clone, Copy)]
pub struct Unit {
    /// Ending of a name, without the underscore.
    pub ending: &'static str,
    /// As it is written for a person.
    pub symbol: &'static str,
    to_base: fn(f64) -> f64,
}

impl Unit {
    /// A unit by its straight line to the base of its quantity.
    pub const fn new(ending: &'static str, symbol: &'static str, to_base: fn(f64) -> f64) -> Self {
        Unit { ending, symbol, to_base }
    }

    /// The value in the base of its quantity.
    ///
    /// ```
    /// use quantity::units::{FAHRENHEIT, GALLON};
    /// assert!((GALLON.to_base(1000.0) - 3.785_411_784).abs() < 1e-12);
    /// assert!((FAHRENHEIT.to_base(-40.0) + 40.0).abs() < 1e-12);
    /// ```
    pub fn to_base(&self, value: f64) -> f64 {
        (self.to_base)(value)
    }

    /// A value in the base, in this unit.
    pub fn of_base(&self, base: f64) -> f64 {
        let zero = self.to_base(0.0);
        (base - zero) / (self.to_base(1.0) - zero)
    }

    /// The same unit under another ending and symbol.
    pub const fn named(self, ending: &'static str, symbol: &'static str) -> Self {
        Unit { ending, symbol, ..self }
    }
}

fn hourly(rate: VolumeRate) -> f64 {
    in_cubic_metres(rate * hours(1.0))
}

/// Metre.
pub const METRE: Unit = Unit::new("m", "m", |v| v);
/// Centimetre.
pub const CENTIMETRE: Unit = Unit::new("cm", "cm", |v| v / 100.0);
/// Millimetre.
pub const MILLIMETRE: Unit = Unit::new("mm", "mm", |v| in_metres(millimetres(v)));
/// Kilometre.
pub const KILOMETRE: Unit = Unit::new("km", "km", |v| v * 1000.0);
/// Foot.
pub const FOOT: Unit = Unit::new("ft", "ft", |v| in_metres(feet(v)));
/// Inch.
pub const INCH: Unit = Unit::new("in", "in", |v| in_metres(feet(v / 12.0)));
/// Statute mile.
pub const MILE: Unit = Unit::new("mi", "mi", |v| in_metres(feet(v * FEET_PER_MILE)));

/// Square mile.
pub const SQUARE_MILE: Unit = Unit::new("sqmi", "square miles", |v| v * MILE.to_base(1.0).powi(2));
/// Square kilometre.
pub const SQUARE_KILOMETRE: Unit = Unit::new("km2", "km²", |v| v * 1e6);
/// Acre: a 640th of a square mile.
pub const ACRE: Unit = Unit::new("acres", "acres", |v| v * MILE.to_base(1.0).powi(2) / 640.0);

/// Cubic meter.
pub const CUBIC_METRE: Unit = Unit::new("m3", "m³", |v| v);
/// Litre.
pub const LITRE: Unit = Unit::new("l", "L", |v| in_cubic_metres(litres(v)));
/// US liquid gallon.
pub const GALLON: Unit = Unit::new("gal", "gal", |v| in_cubic_metres(gallons(v)));
/// Cubic foot.
pub const CUBIC_FOOT: Unit = Unit::new("ft3", "ft³", |v| v * FOOT.to_base(1.0).powi(3));
/// Millilitre of what a jug catches, which is kept in it.
pub const MILLILITRE: Unit = Unit::new("ml", "mL", |v| v);
/// US fluid ounce: a 128th of a gallon.
pub const FLUID_OUNCE: Unit = Unit::new("floz", "fl oz", |v| 1000.0 * in_litres(gallons(v / 128.0)));

/// Kilogram.
pub const KILOGRAM: Unit = Unit::new("kg", "kg", |v| v);
/// Tonne.
pub const TONNE: Unit = Unit::new("t", "t", |v| in_kilograms(kilograms(v * 1000.0)));
/// Avoirdupois pound.
pub const POUND: Unit = Unit::new("lb", "lb", |v| in_kilograms(pounds(v)));
/// Short ton.
pub const SHORT_TON: Unit = Unit::new("tons", "short tons", |v| in_kilograms(short_tons(v)));

/// Hour.
pub const HOUR: Unit = Unit::new("h", "h", |v| v);
/// Minute.
pub const MINUTE: Unit = Unit::new("min", "min", |v| in_hours(minutes(v)));
/// Second.
pub const SECOND: Unit = Unit::new("s", "s", |v| v / 3600.0);
/// Day.
pub const DAY: Unit = Unit::new("days", "days", |v| v * 24.0);

/// Degree Celsius.
pub const CELSIUS: Unit = Unit::new("c", "°C", |v| v);
/// Degree Fahrenheit.
pub const FAHRENHEIT: Unit = Unit::new("f", "°F", |v| in_celsius(fahrenheit(v)));
/// Kelvin, of a step.
pub const KELVIN: Unit = Unit::new("k", "K", |v| v);
/// Degree Fahrenheit, of a step.
pub const FAHRENHEIT_STEP: Unit =
    Unit::new("f", "°F", |v| in_kelvins(difference(fahrenheit(v), fahrenheit(0.0))));

/// Gallons an hour.
pub const GALLON_HOURLY: Unit = Unit::new("gal_h", "gal/h", |v| hourly(gallons_per_hour(v)));
/// Gallons a minute.
pub const GALLON_MINUTELY: Unit = Unit::new("gpm", "gal/min", |v| hourly(gallons(v) / minutes(1.0)));
/// Litres an hour.
pub const LITRE_HOURLY: Unit = Unit::new("l_h", "L/h", |v| hourly(litres(v) / hours(1.0)));
/// Litres a minute.
pub const LITRE_MINUTELY: Unit = Unit::new("l_min", "L/min", |v| hourly(litres(v) / minutes(1.0)));
/// Cubic meters an hour.
pub const CUBIC_METRE_HOURLY: Unit = Unit::new("m3_h", "m³/h", |v| v);

/// Pounds a minute.
pub const POUND_MINUTELY: Unit = Unit::new("lb_min", "lb/min", |v| in_kilograms(pounds(v)) / 60.0);
/// Kilograms a minute.
pub const KILOGRAM_MINUTELY: Unit = Unit::new("kg_min", "kg/min", |v| v / 60.0);

/// Pounds per mile of lane.
pub const POUND_PER_LANE_MILE: Unit =
    Unit::new("lb_lane_mile", "lb per lane-mile", |v| in_kilograms(pounds(v)) / MILE.to_base(1.0));
/// Kilograms per kilometre of lane.
pub const KILOGRAM_PER_LANE_KM: Unit = Unit::new("kg_lane_km", "kg per lane-km", |v| v / 1000.0);
/// Gallons per mile of lane, base m³/m.
pub const GALLON_PER_LANE_MILE: Unit =
    Unit::new("gal_lane_mile", "gal per lane-mile", |v| GALLON.to_base(v) / MILE.to_base(1.0));

/// Miles an hour.
pub const MILE_HOURLY: Unit = Unit::new("mph", "mph", |v| in_metres_per_second(miles_per_hour(v)));
/// Kilometres an hour.
pub const KILOMETRE_HOURLY: Unit = Unit::new("km_h", "km/h", |v| v / 3.6);
/// Metres a second.
pub const METRE_SECONDLY: Unit = Unit::new("m_s", "m/s", |v| v);

/// Kilopascal.
pub const KILOPASCAL: Unit = Unit::new("kpa", "kPa", |v| v);
/// Pound-force per square inch, by standard gravity, 9.806 65 m/s².
pub const PSI: Unit =
    Unit::new("psi", "psi", |v| POUND.to_base(v) * 9.806_65 / INCH.to_base(1.0).powi(2) / 1000.0);

/// Kilogram per cubic meter.
pub const KILOGRAM_PER_CUBIC_METRE: Unit = Unit::new("kg_m3", "kg/m³", |v| v);
/// Pound per gallon.
pub const POUND_PER_GALLON: Unit =
    Unit::new("lb_gal", "lb/gal", |v| v / in_pounds_per_gallon(kg_per_m3(1.0)));

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST Handbook 44, appendix C, and NIST SP 811, B.8, to the digits printed there: seven where it is rounded.
    #[test]
    fn factors_are_those_of_the_handbook() {
        for (unit, printed) in [
            (GALLON, 0.003_785_411_784),
            (FLUID_OUNCE, 29.573_53),
            (CUBIC_FOOT, 0.028_316_846_592),
            (POUND, 0.453_592_37),
            (SHORT_TON, 907.184_74),
            (FOOT, 0.3048),
            (MILE, 1609.344),
            (SQUARE_MILE, 2.589_988e6),
            (ACRE, 4046.856),
            (PSI, 6.894_757),
            (POUND_PER_GALLON, 119.8264),
            (MILE_HOURLY, 0.447_04),
            (GALLON_MINUTELY, 0.227_124_707_04),
        ] {
            let found = unit.to_base(1.0);
            assert!((found / printed - 1.0).abs() < 5e-7, "{unit:?}: {found}, printed {printed}");
        }
        assert!((FAHRENHEIT.to_base(212.0) - 100.0).abs() < 1e-9);
        assert!((KILOMETRE_HOURLY.to_base(36.0) - 10.0).abs() < 1e-12);
    }

    #[test]
    fn a_unit_undoes_itself() {
        for unit in [INCH, FAHRENHEIT, FAHRENHEIT_STEP, PSI, POUND_PER_GALLON, SECOND, FLUID_OUNCE] {
            assert!((unit.of_base(unit.to_base(12.5)) - 12.5).abs() < 1e-9, "{unit:?}");
        }
    }
}
