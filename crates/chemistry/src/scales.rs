//! Composition and numbers on a scale, as types. Composition is never a bare ratio: a [`MassFraction`] is built only by
//! a named constructor, and so is every other number here.

use quantity::{Mass, in_kilograms};

use crate::Error;

/// A value with its 95 % interval, ± the uncertainty. The two stay together up to the page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate<V, U = V> {
    /// Best estimate of the value, in the unit of its type.
    pub value: V,
    /// Half of the 95 % interval: what our equation may be off by, not what a reading adds.
    pub uncertainty: U,
}

/// Mass of a salt (or of all salts) over the mass of the solution, 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct MassFraction(f64);

impl MassFraction {
    /// No salt: water.
    pub const ZERO: MassFraction = MassFraction(0.0);

    /// From a fraction, 0…1.
    ///
    /// # Errors
    /// [`Error::Strength`] when the value is not a number or outside 0…1.
    #[inline]
    pub fn from_fraction(value: f64) -> Result<Self, Error> {
        Self::from_percent(value * 100.0).map(|_| Self(value))
    }

    /// From per cent by mass, 0…100.
    ///
    /// ```
    /// use chemistry::MassFraction;
    /// assert!((MassFraction::from_percent(23.3)?.fraction() - 0.233).abs() < 1e-15);
    /// assert!(MassFraction::from_percent(101.0).is_err());
    /// # Ok::<(), chemistry::Error>(())
    /// ```
    ///
    /// # Errors
    /// [`Error::Strength`] when the value is not a number or outside 0…100.
    #[inline]
    pub fn from_percent(value: f64) -> Result<Self, Error> {
        if (0.0..=100.0).contains(&value) {
            Ok(Self(value / 100.0))
        } else {
            Err(Error::Strength {
                what: "chemistry.strength",
                percent: value,
                low: 0.0,
                high: 100.0,
                reason: "chemistry.limit.fraction",
            })
        }
    }

    /// From a mass of salt in a mass of solution.
    ///
    /// # Errors
    /// [`Error::NotUsable`] when the solution has no mass or an endless one, [`Error::Strength`] when the ratio is not
    /// within 0…1.
    #[inline]
    pub fn of(salt: Mass, solution: Mass) -> Result<Self, Error> {
        let total = in_kilograms(solution);
        if total > 0.0 && total.is_finite() {
            Self::from_fraction(in_kilograms(salt) / total)
        } else {
            Err(Error::NotUsable {
                quantity: "chemistry.mass.solution",
                value: total,
                accepted: "chemistry.accepted.above_zero",
            })
        }
    }

    /// The fraction, 0…1.
    #[inline]
    pub fn fraction(self) -> f64 {
        self.0
    }

    /// Per cent by mass, 0…100.
    #[inline]
    pub fn percent(self) -> f64 {
        self.0 * 100.0
    }
}

/// Density of a liquid over the density of water, each at its own temperature (specific gravity).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct RelativeDensity(f64);

impl RelativeDensity {
    /// From the ratio.
    ///
    /// # Errors
    /// [`Error::NotUsable`] when the value is not a positive number.
    pub fn from_ratio(value: f64) -> Result<Self, Error> {
        if value.is_finite() && value > 0.0 {
            Ok(Self(value))
        } else {
            Err(Error::NotUsable {
                quantity: "chemistry.relative_density",
                value,
                accepted: "chemistry.accepted.above_zero",
            })
        }
    }

    /// Density of the liquid over that of water, no unit; always above zero.
    pub fn ratio(self) -> f64 {
        self.0
    }
}

/// Degrees on the salometer scale: per cent of saturation at 60 °F, 0…100.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct SalometerDegree(f64);

impl SalometerDegree {
    /// From degrees, 0…100.
    ///
    /// # Errors
    /// [`Error::NotUsable`] when the value is not a number or outside 0…100.
    pub fn from_degrees(value: f64) -> Result<Self, Error> {
        if (0.0..=100.0).contains(&value) {
            Ok(Self(value))
        } else {
            Err(Error::NotUsable {
                quantity: "chemistry.salometer_reading",
                value,
                accepted: "chemistry.accepted.salometer",
            })
        }
    }

    /// Reading of the salometer, per cent of saturation at 60 °F, 0 to 100.
    pub fn degrees(self) -> f64 {
        self.0
    }
}

/// Defines a number on a scale, built only by a named constructor that checks its limits.
macro_rules! on_a_scale {
    ($(#[$doc:meta])* $name:ident, $make:ident, $read:ident, $range:expr, $quantity:literal, $accepted:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            #[doc = concat!("From its number; accepted: ", stringify!($range), ".")]
            ///
            /// # Errors
            /// [`Error::NotUsable`] when the value is not a number or outside that.
            pub fn $make(value: f64) -> Result<Self, Error> {
                if ($range).contains(&value) {
                    Ok(Self(value))
                } else {
                    Err(Error::NotUsable { quantity: $quantity, value, accepted: $accepted })
                }
            }

            /// The number as the scale shows it, within the limits that its constructor checks.
            pub fn $read(self) -> f64 {
                self.0
            }
        }
    };
}

on_a_scale! {
    /// Refractive index against air at 589.3 nm (sodium D).
    RefractiveIndex, from_index, index, 1.0..=2.0, "chemistry.refractive_index", "chemistry.accepted.refractive_index"
}
on_a_scale! {
    /// Degrees Brix: what a sugar scale shows, per cent of SUCROSE by mass. On brine it is not per cent salt.
    BrixDegree, from_degrees, degrees, 0.0..=85.0, "chemistry.brix_reading", "chemistry.accepted.brix"
}
on_a_scale! {
    /// Degrees Baumé of liquids heavier than water, 60/60 °F, modulus 145.
    BaumeDegree, from_degrees, degrees, 0.0..=70.0, "chemistry.baume_reading", "chemistry.accepted.baume"
}
on_a_scale! {
    /// Activity of water: its vapor pressure over the brine by that over pure water. Times 100, the humidity
    /// (%) of air that neither wets nor dries the brine.
    WaterActivity, from_ratio, ratio, 0.0..=1.0, "chemistry.water_activity", "chemistry.accepted.water_activity"
}
