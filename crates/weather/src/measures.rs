//! Measures that the shared quantity types do not cover: shares, air pressure, radiation, bearings.

use crate::{Measure, OutOfRange};

fn checked(value: f64, measure: Measure, low: f64, high: f64) -> Result<f64, OutOfRange> {
    if (low..=high).contains(&value) { Ok(value) } else { Err(OutOfRange { measure, value, low, high }) }
}

/// A share of a whole, 0…1: relative humidity, cloud cover, probability, frozen share.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Fraction(f64);

impl Fraction {
    /// None of the whole, 0.
    pub const ZERO: Fraction = Fraction(0.0);
    /// All of the whole, 1.
    pub const ONE: Fraction = Fraction(1.0);

    /// From a ratio, 0…1.
    ///
    /// # Errors
    /// [`OutOfRange`] when the value is not a number or outside 0…1.
    pub fn from_ratio(value: f64) -> Result<Self, OutOfRange> {
        checked(value, Measure::Share, 0.0, 1.0).map(Self)
    }

    /// From per cent, 0…100.
    ///
    /// # Errors
    /// [`OutOfRange`] when the value is not a number or outside 0…100.
    pub fn from_percent(value: f64) -> Result<Self, OutOfRange> {
        checked(value, Measure::Percent, 0.0, 100.0).map(|percent| Self(percent / 100.0))
    }

    /// The nearest share to a number that rounding may have pushed a hair outside 0…1; not-a-number becomes 0.
    pub(crate) fn nearest(value: f64) -> Self {
        Self(if value.is_nan() { 0.0 } else { value.clamp(0.0, 1.0) })
    }

    /// The ratio, 0…1.
    pub fn ratio(self) -> f64 {
        self.0
    }

    /// Per cent, 0…100.
    pub fn percent(self) -> f64 {
        self.0 * 100.0
    }
}

/// A pressure of air, or a partial pressure of water vapor in it.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Pressure(f64);

impl Pressure {
    /// The standard atmosphere at sea level, 1013.25 hPa (exact, ICAO Doc 7488).
    pub const STANDARD: Pressure = Pressure(1013.25);

    /// From hectopascals (= millibars), 0…1200.
    ///
    /// # Errors
    /// [`OutOfRange`] when the value is not a number or outside 0…1200 hPa.
    pub fn from_hectopascals(value: f64) -> Result<Self, OutOfRange> {
        checked(value, Measure::Pressure, 0.0, 1200.0).map(Self)
    }

    /// Unchecked, for results of equations whose range keeps them inside.
    pub(crate) fn of(hectopascals: f64) -> Self {
        Self(hectopascals)
    }

    /// The pressure, hPa, 0…1200.
    pub fn hectopascals(self) -> f64 {
        self.0
    }
}

/// Radiation received by a level square metre.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Irradiance(f64);

impl Irradiance {
    /// From W/m², −50…2000. Small negative values are an instrument's own offset at night.
    ///
    /// # Errors
    /// [`OutOfRange`] when the value is not a number or outside −50…2000 W/m².
    pub fn from_watts_per_square_metre(value: f64) -> Result<Self, OutOfRange> {
        checked(value, Measure::Irradiance, -50.0, 2000.0).map(Self)
    }

    /// Unchecked, for means of checked values.
    pub(crate) fn of(watts_per_square_metre: f64) -> Self {
        Self(watts_per_square_metre)
    }

    /// The radiation, W/m², −50…2000.
    pub fn watts_per_square_metre(self) -> f64 {
        self.0
    }
}

/// The direction the wind blows FROM, clockwise from north.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Bearing(f64);

impl Bearing {
    /// From degrees, 0…360.
    ///
    /// # Errors
    /// [`OutOfRange`] when the value is not a number or outside 0…360.
    pub fn from_degrees(value: f64) -> Result<Self, OutOfRange> {
        checked(value, Measure::Bearing, 0.0, 360.0).map(Self)
    }

    /// The direction, degrees clockwise from north, 0…360.
    pub fn degrees(self) -> f64 {
        self.0
    }
}
