//! Quantities, not units: the types every crate speaks.
//!
//! Units appear only at the edges. An absolute temperature and a difference of temperatures are two types, and the
//! compiler refuses to add two absolute temperatures:
//!
//! ```compile_fail
//! use quantity::celsius;
//! let nonsense = celsius(10.0) + celsius(20.0);
//! ```
//!
//! A conversion is an operation or two: `#[inline]` lets the crates above compile it away, which the fold feels.

pub mod units;

pub use uom::si::f64::{
    AvailableEnergy, DynamicViscosity, ElectricalConductivity, Length, Mass, MassDensity, MassRate,
    SpecificHeatCapacity, TemperatureInterval, ThermodynamicTemperature, Time, Velocity, Volume, VolumeRate,
};

use uom::si::{
    available_energy::joule_per_kilogram,
    dynamic_viscosity::pascal_second,
    electrical_conductivity::siemens_per_meter,
    length::{foot, meter, millimeter},
    mass::kilogram,
    mass_density::kilogram_per_cubic_meter,
    specific_heat_capacity::joule_per_kilogram_kelvin,
    temperature_interval, thermodynamic_temperature as absolute, time,
    velocity::{meter_per_second, mile_per_hour},
    volume::cubic_meter,
};

pub use uom::si::f64::TemperatureCoefficient;
pub use uom::si::temperature_coefficient::per_kelvin;

/// Pounds in a short ton. Exact (NIST Handbook 44, appendix C).
const POUNDS_PER_SHORT_TON: f64 = 2000.0;
/// Cubic meters in a US liquid gallon: 231 cubic inches. Exact (NIST Handbook 44, appendix C); uom's own unit is
/// rounded to seven digits.
const CUBIC_METRES_PER_GALLON: f64 = 231.0 * 0.0254 * 0.0254 * 0.0254;
/// Litres in a US liquid gallon: two volumes in this ratio may be one volume in two units.
pub const LITRES_PER_GALLON: f64 = 1000.0 * CUBIC_METRES_PER_GALLON;
/// Kilograms in an avoirdupois pound. Exact (same source); uom's own unit is rounded to seven digits.
const KILOGRAMS_PER_POUND: f64 = 0.453_592_37;
/// Feet in a statute mile. Exact (NIST Handbook 44, appendix C).
pub const FEET_PER_MILE: f64 = 5280.0;

/// An absolute temperature from degrees Celsius.
#[inline]
pub fn celsius(value: f64) -> ThermodynamicTemperature {
    ThermodynamicTemperature::new::<absolute::degree_celsius>(value)
}

/// An absolute temperature from degrees Fahrenheit.
#[inline]
pub fn fahrenheit(value: f64) -> ThermodynamicTemperature {
    ThermodynamicTemperature::new::<absolute::degree_fahrenheit>(value)
}

/// Degrees Celsius of an absolute temperature.
#[inline]
pub fn in_celsius(value: ThermodynamicTemperature) -> f64 {
    value.get::<absolute::degree_celsius>()
}

/// Degrees Fahrenheit of an absolute temperature.
#[inline]
pub fn in_fahrenheit(value: ThermodynamicTemperature) -> f64 {
    value.get::<absolute::degree_fahrenheit>()
}

/// The one way to subtract absolute temperatures: `warmer − colder`, as a difference.
#[inline]
pub fn difference(warmer: ThermodynamicTemperature, colder: ThermodynamicTemperature) -> TemperatureInterval {
    kelvins(in_celsius(warmer) - in_celsius(colder))
}

/// A temperature difference from kelvins.
#[inline]
pub fn kelvins(value: f64) -> TemperatureInterval {
    TemperatureInterval::new::<temperature_interval::kelvin>(value)
}

/// Kelvins of a temperature difference.
#[inline]
pub fn in_kelvins(value: TemperatureInterval) -> f64 {
    value.get::<temperature_interval::kelvin>()
}

/// A mass from kilograms.
#[inline]
pub fn kilograms(value: f64) -> Mass {
    Mass::new::<kilogram>(value)
}

/// Kilograms of a mass.
#[inline]
pub fn in_kilograms(value: Mass) -> f64 {
    value.get::<kilogram>()
}

/// A mass from avoirdupois pounds.
#[inline]
pub fn pounds(value: f64) -> Mass {
    kilograms(value * KILOGRAMS_PER_POUND)
}

/// Avoirdupois pounds of a mass.
#[inline]
pub fn in_pounds(value: Mass) -> f64 {
    in_kilograms(value) / KILOGRAMS_PER_POUND
}

/// Short tons (2000 lb) of a mass.
#[inline]
pub fn in_short_tons(value: Mass) -> f64 {
    in_pounds(value) / POUNDS_PER_SHORT_TON
}

/// A mass from short tons (2000 lb).
#[inline]
pub fn short_tons(value: f64) -> Mass {
    pounds(value * POUNDS_PER_SHORT_TON)
}

/// A volume from cubic meters.
#[inline]
pub fn cubic_metres(value: f64) -> Volume {
    Volume::new::<cubic_meter>(value)
}

/// Cubic meters of a volume.
#[inline]
pub fn in_cubic_metres(value: Volume) -> f64 {
    value.get::<cubic_meter>()
}

/// A volume from US liquid gallons (231 cubic inches, exact).
#[inline]
pub fn gallons(value: f64) -> Volume {
    cubic_metres(value * CUBIC_METRES_PER_GALLON)
}

/// US liquid gallons of a volume.
#[inline]
pub fn in_gallons(value: Volume) -> f64 {
    in_cubic_metres(value) / CUBIC_METRES_PER_GALLON
}

/// Litres of a volume.
#[inline]
pub fn in_litres(value: Volume) -> f64 {
    in_cubic_metres(value) * 1000.0
}

/// A volume from liters.
#[inline]
pub fn litres(value: f64) -> Volume {
    cubic_metres(value / 1000.0)
}

/// A length from meters.
#[inline]
pub fn metres(value: f64) -> Length {
    Length::new::<meter>(value)
}

/// Metres of a length.
#[inline]
pub fn in_metres(value: Length) -> f64 {
    value.get::<meter>()
}

/// A length from feet.
#[inline]
pub fn feet(value: f64) -> Length {
    Length::new::<foot>(value)
}

/// Feet of a length.
#[inline]
pub fn in_feet(value: Length) -> f64 {
    value.get::<foot>()
}

/// Millimetres of a length, for depths of water and of precipitation.
#[inline]
pub fn in_millimetres(value: Length) -> f64 {
    value.get::<millimeter>()
}

/// A length from millimeters.
#[inline]
pub fn millimetres(value: f64) -> Length {
    Length::new::<millimeter>(value)
}

/// A density from kg/m³.
#[inline]
pub fn kg_per_m3(value: f64) -> MassDensity {
    MassDensity::new::<kilogram_per_cubic_meter>(value)
}

/// kg/m³ of a density.
#[inline]
pub fn in_kg_per_m3(value: MassDensity) -> f64 {
    value.get::<kilogram_per_cubic_meter>()
}

/// Pounds per US gallon of a density.
#[inline]
pub fn in_pounds_per_gallon(value: MassDensity) -> f64 {
    in_pounds(value * gallons(1.0))
}

/// A time from hours.
#[inline]
pub fn hours(value: f64) -> Time {
    Time::new::<time::hour>(value)
}

/// Hours of a time.
#[inline]
pub fn in_hours(value: Time) -> f64 {
    value.get::<time::hour>()
}

/// A time from minutes.
#[inline]
pub fn minutes(value: f64) -> Time {
    Time::new::<time::minute>(value)
}

/// Minutes of a time.
#[inline]
pub fn in_minutes(value: Time) -> f64 {
    value.get::<time::minute>()
}

/// A time from seconds.
#[inline]
pub fn seconds(value: f64) -> Time {
    Time::new::<time::second>(value)
}

/// Seconds of a time.
#[inline]
pub fn in_seconds(value: Time) -> f64 {
    value.get::<time::second>()
}

/// Cubic meters a second of a flow.
#[inline]
pub fn in_m3_per_second(value: VolumeRate) -> f64 {
    in_cubic_metres(value * seconds(1.0))
}

/// Kilograms a second of a flow of mass.
#[inline]
pub fn in_kg_per_second(value: MassRate) -> f64 {
    in_kilograms(value * seconds(1.0))
}

/// A flow of mass from kilograms a second.
#[inline]
pub fn kg_per_second(value: f64) -> MassRate {
    kilograms(value) / seconds(1.0)
}

/// A speed from m/s.
#[inline]
pub fn metres_per_second(value: f64) -> Velocity {
    Velocity::new::<meter_per_second>(value)
}

/// m/s of a speed.
#[inline]
pub fn in_metres_per_second(value: Velocity) -> f64 {
    value.get::<meter_per_second>()
}

/// A speed from miles per hour.
#[inline]
pub fn miles_per_hour(value: f64) -> Velocity {
    Velocity::new::<mile_per_hour>(value)
}

/// Miles per hour of a speed.
#[inline]
pub fn in_miles_per_hour(value: Velocity) -> f64 {
    value.get::<mile_per_hour>()
}

/// A volume rate from US gallons per hour.
#[inline]
pub fn gallons_per_hour(value: f64) -> VolumeRate {
    gallons(value) / hours(1.0)
}

/// US gallons per hour of a volume rate.
#[inline]
pub fn in_gallons_per_hour(value: VolumeRate) -> f64 {
    in_gallons(value * hours(1.0))
}

/// A viscosity from mPa·s (centipoise).
#[inline]
pub fn millipascal_seconds(value: f64) -> DynamicViscosity {
    DynamicViscosity::new::<pascal_second>(value / 1000.0)
}

/// mPa·s (centipoise) of a viscosity.
#[inline]
pub fn in_millipascal_seconds(value: DynamicViscosity) -> f64 {
    value.get::<pascal_second>() * 1000.0
}

/// A specific heat capacity from J/(kg·K).
#[inline]
pub fn joules_per_kg_kelvin(value: f64) -> SpecificHeatCapacity {
    SpecificHeatCapacity::new::<joule_per_kilogram_kelvin>(value)
}

/// J/(kg·K) of a specific heat capacity.
#[inline]
pub fn in_joules_per_kg_kelvin(value: SpecificHeatCapacity) -> f64 {
    value.get::<joule_per_kilogram_kelvin>()
}

/// A conductivity from mS/cm.
#[inline]
pub fn millisiemens_per_cm(value: f64) -> ElectricalConductivity {
    ElectricalConductivity::new::<siemens_per_meter>(value / 10.0)
}

/// mS/cm of a conductivity.
#[inline]
pub fn in_millisiemens_per_cm(value: ElectricalConductivity) -> f64 {
    value.get::<siemens_per_meter>() * 10.0
}

/// An energy by mass from kJ/kg.
#[inline]
pub fn kilojoules_per_kg(value: f64) -> AvailableEnergy {
    AvailableEnergy::new::<joule_per_kilogram>(value * 1000.0)
}

/// kJ/kg of an energy by mass.
#[inline]
pub fn in_kilojoules_per_kg(value: AvailableEnergy) -> f64 {
    value.get::<joule_per_kilogram>() / 1000.0
}
