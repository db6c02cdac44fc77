//! Units as the formats spell them, and how a number in one becomes a typed value.

use crate::sample::{Quantity, Value};
use crate::{Bearing, Fraction, Irradiance, Pressure, limits};
use message::{Arg, message};
use quantity::{Velocity, celsius, fahrenheit, feet, metres, metres_per_second, miles_per_hour, millimetres};

/// Metres per second of one knot: 1852 m in an hour, exact.
const METRES_PER_SECOND_PER_KNOT: f64 = 1852.0 / 3600.0;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unit {
    Celsius,
    Fahrenheit,
    Kelvin,
    Percent,
    MetresPerSecond,
    KilometresPerHour,
    MilesPerHour,
    Knots,
    Millimetres,
    Centimetres,
    Inches,
    Metres,
    Kilometres,
    StatuteMiles,
    WattsPerSquareMetre,
    Hectopascals,
    Degrees,
}

/// What sort of thing a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Dimension {
    Temperature,
    Share,
    Speed,
    Length,
    Irradiance,
    Pressure,
    Angle,
    /// Codes and words have no unit.
    None,
}

impl Unit {
    /// The unit behind a spelling of any of the formats; a prefix up to a colon (`wmoUnit:`, `unit:`) is skipped.
    pub(crate) fn parse(text: &str) -> Option<Unit> {
        let name = text.rsplit(':').next().unwrap_or(text).trim().to_lowercase();
        Some(match name.as_str() {
            "c" | "degc" | "°c" | "celsius" => Unit::Celsius,
            "f" | "degf" | "°f" | "fahrenheit" => Unit::Fahrenheit,
            "k" | "kelvin" => Unit::Kelvin,
            "pct" | "%" | "percent" => Unit::Percent,
            "m_s" | "m/s" | "m_s-1" => Unit::MetresPerSecond,
            "km_h" | "km/h" | "km_h-1" => Unit::KilometresPerHour,
            "mph" | "mp/h" => Unit::MilesPerHour,
            "kn" | "kt" => Unit::Knots,
            "mm" => Unit::Millimetres,
            "cm" => Unit::Centimetres,
            "in" | "inch" => Unit::Inches,
            "m" => Unit::Metres,
            "km" => Unit::Kilometres,
            "mi" | "statute_mile" => Unit::StatuteMiles,
            "w_m2" | "w/m²" | "w/m2" => Unit::WattsPerSquareMetre,
            "hpa" => Unit::Hectopascals,
            "deg" | "°" | "degrees" | "degree_(angle)" => Unit::Degrees,
            _ => return None,
        })
    }

    /// The unit behind a spelling, when it fits the quantity.
    pub(crate) fn parse_for(quantity: Quantity, text: &str) -> Option<Unit> {
        Unit::parse(text).filter(|unit| unit.dimension() == quantity.dimension())
    }

    pub(crate) fn dimension(self) -> Dimension {
        match self {
            Unit::Celsius | Unit::Fahrenheit | Unit::Kelvin => Dimension::Temperature,
            Unit::Percent => Dimension::Share,
            Unit::MetresPerSecond | Unit::KilometresPerHour | Unit::MilesPerHour | Unit::Knots => {
                Dimension::Speed
            }
            Unit::Millimetres
            | Unit::Centimetres
            | Unit::Inches
            | Unit::Metres
            | Unit::Kilometres
            | Unit::StatuteMiles => Dimension::Length,
            Unit::WattsPerSquareMetre => Dimension::Irradiance,
            Unit::Hectopascals => Dimension::Pressure,
            Unit::Degrees => Dimension::Angle,
        }
    }

    /// The typed value of a number in this unit; kept as written when the type cannot hold it.
    pub(crate) fn value(self, number: f64) -> Value {
        let as_written = || Value::AsWritten(format!("{number}"));
        match self {
            Unit::Celsius => Value::Temperature(celsius(number)),
            Unit::Fahrenheit => Value::Temperature(fahrenheit(number)),
            Unit::Kelvin => Value::Temperature(celsius(number - 273.15)),
            Unit::Percent => Fraction::from_percent(number).map_or_else(|_| as_written(), Value::Share),
            Unit::MetresPerSecond => Value::Speed(metres_per_second(number)),
            Unit::KilometresPerHour => Value::Speed(metres_per_second(number / 3.6)),
            Unit::MilesPerHour => Value::Speed(miles_per_hour(number)),
            Unit::Knots => Value::Speed(knots(number)),
            Unit::Millimetres => Value::Length(millimetres(number)),
            Unit::Centimetres => Value::Length(millimetres(number * 10.0)),
            Unit::Inches => Value::Length(feet(number / 12.0)),
            Unit::Metres => Value::Length(metres(number)),
            Unit::Kilometres => Value::Length(metres(number * 1000.0)),
            Unit::StatuteMiles => Value::Length(feet(number * quantity::FEET_PER_MILE)),
            Unit::WattsPerSquareMetre => Irradiance::from_watts_per_square_metre(number)
                .map_or_else(|_| as_written(), Value::Irradiance),
            Unit::Hectopascals => {
                Pressure::from_hectopascals(number).map_or_else(|_| as_written(), Value::Pressure)
            }
            Unit::Degrees => Bearing::from_degrees(number).map_or_else(|_| as_written(), Value::Bearing),
        }
    }
}

impl Dimension {
    /// The spellings of units that are accepted, for a refusal.
    pub(crate) fn accepted(self) -> Arg {
        let spellings = match self {
            Dimension::Temperature => "degC (c, °C, celsius), degF (f, °F), K",
            Dimension::Share => "pct (%, percent)",
            Dimension::Speed => "m_s (m/s), km_h (km/h), mph, kn",
            Dimension::Length => "mm, cm, in (inch), m, km, mi (statute_mile)",
            Dimension::Irradiance => "w_m2 (W/m²)",
            Dimension::Pressure => "hPa",
            Dimension::Angle => "deg (°, degrees)",
            Dimension::None => return message!("weather.accepted.no-unit").into(),
        };
        spellings.into()
    }
}

/// A wind speed from knots.
pub(crate) fn knots(value: f64) -> Velocity {
    metres_per_second(value * METRES_PER_SECOND_PER_KNOT)
}

/// Whether a humidity, in per cent, is one that is taken as 100 %.
pub(crate) fn is_just_over_full(percent: f64) -> bool {
    percent > 100.0 && percent <= limits::HUMIDITY_HIGHEST
}
