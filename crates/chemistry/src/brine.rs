//! What is dissolved, and how much of it.

use crate::freezing::{self, FirstSolid};
use crate::quantity::{MassDensity, MassFraction, ThermodynamicTemperature};
use crate::{Error, density};

/// Molar mass of chlorine, g/mol. IUPAC 2021 abridged standard atomic weight, Pure Appl. Chem. 94, 573 (2022).
const MOLAR_MASS_CL: f64 = 35.45;
/// Molar mass of sodium, g/mol. Same source.
const MOLAR_MASS_NA: f64 = 22.990;

/// A salt this crate knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Salt {
    /// NaCl.
    SodiumChloride,
}

impl Salt {
    /// Chloride (Cl) in the anhydrous salt, by mass.
    ///
    /// # Equation
    /// n·M(Cl) / M(salt), n the chlorides per formula.
    ///
    /// # Range
    /// None: a constant of each salt.
    ///
    /// # Error
    /// Below 1e-4 from the atomic weights; 0.6066 for NaCl.
    ///
    /// # Source
    /// IUPAC 2021 standard atomic weights, Pure Appl. Chem. 94, 573 (2022).
    pub fn chloride_fraction(self) -> MassFraction {
        match self {
            Salt::SodiumChloride => {
                MassFraction::from_fraction(MOLAR_MASS_CL / (MOLAR_MASS_NA + MOLAR_MASS_CL))
                    .unwrap_or(MassFraction::ZERO)
            }
        }
    }
}

/// A brine: the salts in it by mass of solution. Today sodium chloride only; other salts add fields here and the
/// callers of the methods below do not change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Brine {
    sodium_chloride: MassFraction,
}

impl Brine {
    /// Strongest sodium chloride brine covered, per cent by mass: saturation at 0 °C rounded up to a tenth.
    pub const STRONGEST_PERCENT: f64 = 26.3;

    /// Sodium chloride brine, 0…26.3 % by mass.
    ///
    /// ```
    /// use chemistry::{Brine, MassFraction};
    /// assert!(Brine::sodium_chloride(MassFraction::from_percent(26.3)?).is_ok());
    /// assert!(Brine::sodium_chloride(MassFraction::from_percent(26.4)?).is_err());
    /// # Ok::<(), chemistry::Error>(())
    /// ```
    ///
    /// # Errors
    /// [`Error::Strength`] above 26.3 %.
    pub fn sodium_chloride(strength: MassFraction) -> Result<Self, Error> {
        // The limit is inclusive, and 26.3/100*100 may land a rounding above it.
        if strength.percent() <= Self::STRONGEST_PERCENT + 1e-9 {
            Ok(Self { sodium_chloride: strength })
        } else {
            Err(Error::Strength {
                percent: strength.percent(),
                low: 0.0,
                high: Self::STRONGEST_PERCENT,
                reason: "above which salt cannot all be dissolved in the cold",
            })
        }
    }

    /// Strength: all anhydrous salts by mass of solution.
    pub fn strength(&self) -> MassFraction {
        self.sodium_chloride
    }

    /// See [`freezing::first_solid`].
    pub fn first_solid(&self) -> FirstSolid {
        freezing::first_solid(self)
    }

    /// See [`density::density`].
    ///
    /// # Errors
    /// As [`density::density`].
    pub fn density(&self, temperature: ThermodynamicTemperature) -> Result<MassDensity, Error> {
        density::density(self, temperature)
    }
}
