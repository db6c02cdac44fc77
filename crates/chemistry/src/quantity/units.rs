//! The units of every outward name, text and form: one table for yard files, entries, points, forms and tables.
//!
//! A name that leaves the typed world ends with its unit (`volume_gal`, `depth_m`). A [`Unit`] is one such ending with
//! its straight line to the base of its quantity:
//!
//! | quantity | base |
//! | --- | --- |
//! | length, area, volume | m, m², m³ |
//! | mass, mass of a lane | kg, kg/m |
//! | time | h |
//! | flow of volume, of mass | m³/h, kg/s |
//! | temperature, step of temperature | °C, K |
//! | speed, pressure, density | m/s, kPa, kg/m³ |
//! | price | US dollars per m³, per short ton |
//!
//! Factors: NIST Handbook 44, appendix C, and NIST SP 811, B.8; all exact, but the pound-force per square inch, which
//! is 6.894 757 kPa to seven digits there and is worked out here from the pound, the inch and standard gravity.

/// A unit as it ends a name and as a person reads it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// Ending of a name, without the underscore.
    pub ending: &'static str,
    /// As it is written for a person.
    pub symbol: &'static str,
    factor: f64,
    offset: f64,
}

impl Unit {
    const fn times(ending: &'static str, symbol: &'static str, factor: f64) -> Self {
        Unit { ending, symbol, factor, offset: 0.0 }
    }

    /// The value in the base of its quantity.
    ///
    /// ```
    /// use chemistry::quantity::units::{FAHRENHEIT, GALLON};
    /// assert!((GALLON.to_base(1000.0) - 3.785_411_784).abs() < 1e-12);
    /// assert!((FAHRENHEIT.to_base(-40.0) + 40.0).abs() < 1e-12);
    /// ```
    pub const fn to_base(&self, value: f64) -> f64 {
        value * self.factor + self.offset
    }

    /// A value in the base, in this unit.
    pub const fn of_base(&self, base: f64) -> f64 {
        (base - self.offset) / self.factor
    }

    /// The same unit under another ending and symbol.
    pub const fn named(self, ending: &'static str, symbol: &'static str) -> Self {
        Unit { ending, symbol, ..self }
    }

    /// So many of this unit.
    pub const fn of(self, count: f64) -> Self {
        Unit { factor: count * self.factor, ..self }
    }

    /// This unit counted in another of its quantity: a tonne per short ton is 1.102.
    pub const fn per(self, other: Unit) -> Self {
        Unit { factor: self.factor / other.factor, ..self }
    }

    /// What is told by one of this unit (a price, a loss), told by one of its base.
    pub const fn priced(self, ending: &'static str, symbol: &'static str) -> Self {
        Unit { ending, symbol, factor: 1.0 / self.factor, offset: 0.0 }
    }
}

const METRES_PER_INCH: f64 = 0.0254;
const METRES_PER_FOOT: f64 = 0.3048;
const METRES_PER_MILE: f64 = 5280.0 * METRES_PER_FOOT;
/// 231 cubic inches.
pub(super) const M3_PER_GALLON: f64 = 231.0 * METRES_PER_INCH * METRES_PER_INCH * METRES_PER_INCH;
pub(super) const KG_PER_POUND: f64 = 0.453_592_37;
const STANDARD_GRAVITY: f64 = 9.806_65;

/// Metre.
pub const METRE: Unit = Unit::times("m", "m", 1.0);
/// Centimetre.
pub const CENTIMETRE: Unit = Unit::times("cm", "cm", 0.01);
/// Millimetre.
pub const MILLIMETRE: Unit = Unit::times("mm", "mm", 0.001);
/// Kilometre.
pub const KILOMETRE: Unit = Unit::times("km", "km", 1000.0);
/// Foot.
pub const FOOT: Unit = Unit::times("ft", "ft", METRES_PER_FOOT);
/// Inch.
pub const INCH: Unit = Unit::times("in", "in", METRES_PER_INCH);
/// Statute mile.
pub const MILE: Unit = Unit::times("mi", "mi", METRES_PER_MILE);

/// Square mile.
pub const SQUARE_MILE: Unit = Unit::times("sqmi", "square miles", METRES_PER_MILE * METRES_PER_MILE);
/// Square kilometre.
pub const SQUARE_KILOMETRE: Unit = Unit::times("km2", "km²", 1e6);
/// Acre: a 640th of a square mile.
pub const ACRE: Unit = Unit::times("acres", "acres", METRES_PER_MILE * METRES_PER_MILE / 640.0);

/// Cubic metre.
pub const CUBIC_METRE: Unit = Unit::times("m3", "m³", 1.0);
/// Litre.
pub const LITRE: Unit = Unit::times("l", "L", 0.001);
/// Millilitre, kept as such: [`MILLILITRE`] is the base of volumes caught in a jug.
pub const MILLILITRE: Unit = Unit::times("ml", "mL", 1.0);
/// US fluid ounce, in mL: a 128th of a gallon.
pub const FLUID_OUNCE: Unit = Unit::times("floz", "fl oz", M3_PER_GALLON * 1e6 / 128.0);
/// US liquid gallon: 231 cubic inches.
pub const GALLON: Unit = Unit::times("gal", "gal", M3_PER_GALLON);
/// Cubic foot.
pub const CUBIC_FOOT: Unit = Unit::times("ft3", "ft³", METRES_PER_FOOT * METRES_PER_FOOT * METRES_PER_FOOT);

/// Kilogram.
pub const KILOGRAM: Unit = Unit::times("kg", "kg", 1.0);
/// Tonne.
pub const TONNE: Unit = Unit::times("t", "t", 1000.0);
/// Avoirdupois pound.
pub const POUND: Unit = Unit::times("lb", "lb", KG_PER_POUND);
/// Short ton: 2,000 pounds.
pub const SHORT_TON: Unit = Unit::times("tons", "short tons", 2000.0 * KG_PER_POUND);

/// Hour.
pub const HOUR: Unit = Unit::times("h", "h", 1.0);
/// Minute.
pub const MINUTE: Unit = Unit::times("min", "min", 1.0 / 60.0);
/// Second.
pub const SECOND: Unit = Unit::times("s", "s", 1.0 / 3600.0);
/// Day.
pub const DAY: Unit = Unit::times("days", "days", 24.0);

/// Degree Celsius.
pub const CELSIUS: Unit = Unit::times("c", "°C", 1.0);
/// Degree Fahrenheit.
pub const FAHRENHEIT: Unit = Unit { ending: "f", symbol: "°F", factor: 5.0 / 9.0, offset: -160.0 / 9.0 };
/// Kelvin, of a step.
pub const KELVIN: Unit = Unit::times("k", "K", 1.0);
/// Degree Fahrenheit, of a step.
pub const FAHRENHEIT_STEP: Unit = Unit::times("f", "°F", 5.0 / 9.0);

/// Gallons an hour.
pub const GALLON_HOURLY: Unit = Unit::times("gal_h", "gal/h", M3_PER_GALLON);
/// Gallons a minute.
pub const GALLON_MINUTELY: Unit = Unit::times("gpm", "gal/min", 60.0 * M3_PER_GALLON);
/// Litres an hour.
pub const LITRE_HOURLY: Unit = Unit::times("l_h", "L/h", 0.001);
/// Litres a minute.
pub const LITRE_MINUTELY: Unit = Unit::times("l_min", "L/min", 0.06);
/// Cubic metres an hour.
pub const CUBIC_METRE_HOURLY: Unit = Unit::times("m3_h", "m³/h", 1.0);

/// Pounds a minute.
pub const POUND_MINUTELY: Unit = Unit::times("lb_min", "lb/min", KG_PER_POUND / 60.0);
/// Kilograms a minute.
pub const KILOGRAM_MINUTELY: Unit = Unit::times("kg_min", "kg/min", 1.0 / 60.0);

/// Pounds per mile of lane.
pub const POUND_PER_LANE_MILE: Unit =
    Unit::times("lb_lane_mile", "lb per lane-mile", KG_PER_POUND / METRES_PER_MILE);
/// Kilograms per kilometre of lane.
pub const KILOGRAM_PER_LANE_KM: Unit = Unit::times("kg_lane_km", "kg per lane-km", 0.001);
/// Gallons per mile of lane, base m³/m.
pub const GALLON_PER_LANE_MILE: Unit =
    Unit::times("gal_lane_mile", "gal per lane-mile", M3_PER_GALLON / METRES_PER_MILE);

/// Miles an hour.
pub const MILE_HOURLY: Unit = Unit::times("mph", "mph", METRES_PER_MILE / 3600.0);
/// Kilometres an hour.
pub const KILOMETRE_HOURLY: Unit = Unit::times("km_h", "km/h", 1.0 / 3.6);
/// Metres a second.
pub const METRE_SECONDLY: Unit = Unit::times("m_s", "m/s", 1.0);

/// Kilopascal.
pub const KILOPASCAL: Unit = Unit::times("kpa", "kPa", 1.0);
/// Pound-force per square inch.
pub const PSI: Unit =
    Unit::times("psi", "psi", KG_PER_POUND * STANDARD_GRAVITY / (METRES_PER_INCH * METRES_PER_INCH) / 1000.0);

/// Kilogram per cubic metre.
pub const KILOGRAM_PER_CUBIC_METRE: Unit = Unit::times("kg_m3", "kg/m³", 1.0);
/// Pound per gallon.
pub const POUND_PER_GALLON: Unit = Unit::times("lb_gal", "lb/gal", KG_PER_POUND / M3_PER_GALLON);

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
        assert!((FAHRENHEIT.to_base(212.0) - 100.0).abs() < 1e-12);
        assert!((KILOMETRE_HOURLY.to_base(36.0) - 10.0).abs() < 1e-12);
    }

    #[test]
    fn a_unit_undoes_itself() {
        for unit in
            [INCH, FAHRENHEIT, FAHRENHEIT_STEP, PSI, POUND_PER_GALLON, SECOND, GALLON.priced("gal", "")]
        {
            assert!((unit.of_base(unit.to_base(12.5)) - 12.5).abs() < 1e-9, "{unit:?}");
        }
    }
}
