//! What is dissolved, and how much of it.

use crate::Error;
use crate::MassFraction;
use crate::solid::Solid;

/// Molar masses, g/mol: IUPAC 2021 abridged standard atomic weights, Pure Appl. Chem. 94, 573 (2022).
pub(crate) const CHLORINE: f64 = 35.45;
pub(crate) const SODIUM: f64 = 22.990;
pub(crate) const CALCIUM: f64 = 40.078;
pub(crate) const MAGNESIUM: f64 = 24.305;
pub(crate) const POTASSIUM: f64 = 39.098;
pub(crate) const SULFATE: f64 = 32.06 + 4.0 * 15.999;
/// Molar mass of water, g/mol, same source.
pub(crate) const WATER: f64 = 18.015;

/// A salt this crate knows, anhydrous.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Salt {
    /// NaCl: rock salt.
    SodiumChloride,
    /// CaCl2, anhydrous.
    CalciumChloride,
    /// MgCl2, anhydrous.
    MagnesiumChloride,
    /// KCl, sylvite when solid.
    PotassiumChloride,
    /// Na2SO4: the sulfate that comes with rock salt and water.
    SodiumSulfate,
}

/// Mass fraction of other salts below which a brine counts as one of its main salt alone.
const TRACE: f64 = 2e-4;

/// How many salts there are.
pub(crate) const SALTS: usize = 5;

impl Salt {
    /// All salts, in the order of the columns of a table of brines.
    pub const ALL: [Salt; SALTS] = [
        Salt::SodiumChloride,
        Salt::CalciumChloride,
        Salt::MagnesiumChloride,
        Salt::PotassiumChloride,
        Salt::SodiumSulfate,
    ];

    /// Its place in [`Salt::ALL`].
    pub(crate) const fn place(self) -> usize {
        self as usize
    }

    /// Formula, as on a bag.
    pub fn formula(self) -> &'static str {
        ["NaCl", "CaCl2", "MgCl2", "KCl", "Na2SO4"][self.place()]
    }

    /// The id of its text in a refusal.
    pub(crate) fn text(self) -> &'static str {
        match self {
            Salt::SodiumChloride => "chemistry.salt.nacl",
            Salt::CalciumChloride => "chemistry.salt.cacl2",
            Salt::MagnesiumChloride => "chemistry.salt.mgcl2",
            Salt::PotassiumChloride => "chemistry.salt.kcl",
            Salt::SodiumSulfate => "chemistry.salt.na2so4",
        }
    }

    /// Molar mass of the anhydrous salt, g/mol.
    pub(crate) fn molar_mass(self) -> f64 {
        match self {
            Salt::SodiumChloride => SODIUM + CHLORINE,
            Salt::CalciumChloride => CALCIUM + 2.0 * CHLORINE,
            Salt::MagnesiumChloride => MAGNESIUM + 2.0 * CHLORINE,
            Salt::PotassiumChloride => POTASSIUM + CHLORINE,
            Salt::SodiumSulfate => 2.0 * SODIUM + SULFATE,
        }
    }

    /// Chlorides in the formula.
    fn chlorides(self) -> f64 {
        match self {
            Salt::SodiumChloride | Salt::PotassiumChloride => 1.0,
            Salt::CalciumChloride | Salt::MagnesiumChloride => 2.0,
            Salt::SodiumSulfate => 0.0,
        }
    }

    /// Charges of one sign that a formula sets free: 1 for NaCl, 2 for CaCl2.
    pub(crate) fn equivalents(self) -> f64 {
        match self {
            Salt::SodiumChloride | Salt::PotassiumChloride => 1.0,
            _ => 2.0,
        }
    }

    /// Ions that a formula sets free.
    pub(crate) fn ions(self) -> f64 {
        self.equivalents() + 1.0
    }

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
        MassFraction::from_fraction(self.chlorides() * CHLORINE / self.molar_mass())
            .unwrap_or(MassFraction::ZERO)
    }

    /// Strongest brine of this salt alone that is covered, per cent by mass: saturation at 40 °C, for calcium chloride
    /// at 25 °C (above 29 °C another hydrate leaves, which is not covered), for sulfate what an impurity can be.
    pub fn strongest_percent(self) -> f64 {
        match self {
            Salt::SodiumChloride => Brine::STRONGEST_PERCENT,
            Salt::CalciumChloride => 45.0,
            Salt::MagnesiumChloride => 36.5,
            Salt::PotassiumChloride => 28.6,
            Salt::SodiumSulfate => 4.0,
        }
    }
}

impl Solid {
    /// The salt that leaves with it, as [`Brine`] names salts; none for ice. Of a double salt the scarcer one.
    pub fn main_salt(self) -> Option<Salt> {
        match self {
            Solid::Ice | Solid::IceOrHydrohalite => None,
            Solid::Hydrohalite | Solid::Halite => Some(Salt::SodiumChloride),
            Solid::Sylvite => Some(Salt::PotassiumChloride),
            Solid::CalciumChlorideHexahydrate | Solid::CalciumChlorideTetrahydrate => {
                Some(Salt::CalciumChloride)
            }
            Solid::MagnesiumChlorideDodecahydrate
            | Solid::MagnesiumChlorideOctahydrate
            | Solid::MagnesiumChlorideHexahydrate
            | Solid::Tachyhydrite => Some(Salt::MagnesiumChloride),
            Solid::Carnallite => Some(Salt::PotassiumChloride),
            _ => Some(Salt::SodiumSulfate),
        }
    }

    /// Water molecules to one of salt; none for ice, and for what holds more than one chloride of this crate.
    fn hydration(self) -> Option<f64> {
        match self {
            Solid::Halite | Solid::Sylvite => Some(0.0),
            Solid::Hydrohalite => Some(2.0),
            Solid::CalciumChlorideHexahydrate | Solid::MagnesiumChlorideHexahydrate => Some(6.0),
            Solid::CalciumChlorideTetrahydrate => Some(4.0),
            Solid::MagnesiumChlorideOctahydrate => Some(8.0),
            Solid::MagnesiumChlorideDodecahydrate => Some(12.0),
            _ => None,
        }
    }

    /// Anhydrous salt in the solid, by mass.
    pub(crate) fn salt_fraction(self, salt: Salt) -> f64 {
        let molar = salt.molar_mass();
        self.hydration().map_or(0.0, |waters| molar / (molar + waters * WATER))
    }
}

/// A brine: the salts in it by mass of solution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Brine {
    parts: [f64; SALTS],
    strength: f64,
}

impl Brine {
    /// Strongest sodium chloride brine covered, per cent by mass: saturation at 40 °C (CRC Handbook). What stays
    /// dissolved when cold is less: 26.28 % at 0 °C. See [`crate::dissolution::check_dissolved`].
    pub const STRONGEST_PERCENT: f64 = 26.67;

    /// Water: brine without salt.
    pub const WATER: Brine = Brine { parts: [0.0; SALTS], strength: 0.0 };

    /// Sodium chloride brine, 0…26.67 % by mass.
    ///
    /// ```
    /// use chemistry::{Brine, MassFraction};
    /// assert!(Brine::sodium_chloride(MassFraction::from_percent(26.67)?).is_ok());
    /// assert!(Brine::sodium_chloride(MassFraction::from_percent(26.7)?).is_err());
    /// # Ok::<(), chemistry::Error>(())
    /// ```
    ///
    /// # Errors
    /// [`Error::Strength`] above 26.67 %.
    pub fn sodium_chloride(strength: MassFraction) -> Result<Self, Error> {
        Self::of(Salt::SodiumChloride, strength)
    }

    /// Brine of one salt, up to [`Salt::strongest_percent`].
    ///
    /// # Errors
    /// [`Error::Strength`] above that.
    pub fn of(salt: Salt, strength: MassFraction) -> Result<Self, Error> {
        Self::blend(&[(salt, strength)])
    }

    /// Brine of several salts. Each alone must be within [`Salt::strongest_percent`], and all together within 45 %.
    /// Whether they stay dissolved together is another question.
    ///
    /// ```
    /// use chemistry::{Brine, MassFraction, Salt};
    /// let part = |percent| MassFraction::from_percent(percent);
    /// let brine = Brine::blend(&[(Salt::SodiumChloride, part(20.0)?), (Salt::CalciumChloride, part(3.0)?)])?;
    /// assert!((brine.strength().percent() - 23.0).abs() < 1e-12);
    /// assert!(Brine::blend(&[(Salt::SodiumChloride, part(26.0)?), (Salt::CalciumChloride, part(30.0)?)]).is_err());
    /// # Ok::<(), chemistry::Error>(())
    /// ```
    ///
    /// # Errors
    /// [`Error::Strength`] naming the part, or the total, that is too much.
    pub fn blend(parts: &[(Salt, MassFraction)]) -> Result<Self, Error> {
        let mut brine = Self::WATER;
        for (salt, part) in parts {
            brine.parts[salt.place()] += part.fraction();
        }
        for salt in Salt::ALL {
            let percent = 100.0 * brine.parts[salt.place()];
            let high = salt.strongest_percent();
            // The limit is inclusive, and 26.67/100*100 may land a rounding above it.
            if percent > high + 1e-9 {
                let reason = "chemistry.limit.salt";
                return Err(Error::Strength { what: salt.text(), percent, low: 0.0, high, reason });
            }
        }
        brine.strength = brine.parts.iter().sum();
        if brine.strength > 0.45 + 1e-9 {
            let percent = 100.0 * brine.strength;
            let reason = "chemistry.limit.total";
            return Err(Error::Strength {
                what: "chemistry.all_salts",
                percent,
                low: 0.0,
                high: 45.0,
                reason,
            });
        }
        Ok(brine)
    }

    /// Strength: all anhydrous salts by mass of solution.
    pub fn strength(&self) -> MassFraction {
        MassFraction::from_fraction(self.strength).unwrap_or(MassFraction::ZERO)
    }

    /// One salt by mass of solution.
    pub fn part(&self, salt: Salt) -> MassFraction {
        MassFraction::from_fraction(self.parts[salt.place()]).unwrap_or(MassFraction::ZERO)
    }

    /// Chloride (Cl) by mass of solution.
    pub fn chloride(&self) -> MassFraction {
        let chloride = Salt::ALL.map(|salt| self.parts[salt.place()] * salt.chloride_fraction().fraction());
        MassFraction::from_fraction(chloride.iter().sum()).unwrap_or(MassFraction::ZERO)
    }

    /// The salt, when there is only one. Water counts as sodium chloride brine without any.
    pub fn only_salt(&self) -> Option<Salt> {
        let mut dissolved = Salt::ALL.into_iter().filter(|salt| self.parts[salt.place()] > 0.0);
        match (dissolved.next(), dissolved.next()) {
            (None, _) => Some(Salt::SodiumChloride),
            (Some(only), None) => Some(only),
            _ => None,
        }
    }

    /// The salt, when all others together are a trace: 0.02 % by mass, which moves no freezing point by 0.02 K.
    pub(crate) fn main_salt(&self) -> Option<Salt> {
        let most =
            Salt::ALL.into_iter().max_by(|a, b| self.parts[a.place()].total_cmp(&self.parts[b.place()]))?;
        let others = self.strength - self.parts[most.place()];
        if self.strength <= 0.0 { Some(Salt::SodiumChloride) } else { (others <= TRACE).then_some(most) }
    }

    /// Total strength as a fraction, for inner arithmetic.
    pub(crate) fn total(&self) -> f64 {
        self.strength
    }

    /// Every salt in it with its mass fraction, for inner arithmetic.
    pub(crate) fn dissolved(&self) -> impl Iterator<Item = (Salt, f64)> + '_ {
        Salt::ALL.into_iter().map(|salt| (salt, self.parts[salt.place()])).filter(|(_, part)| *part > 0.0)
    }

    /// Refuses a brine with more of a salt than a property's data hold: a fraction of each salt alone, and in total.
    pub(crate) fn check_covered(&self, most: &[f64; SALTS], reason: &'static str) -> Result<(), Error> {
        let refuse = |what, part: f64, high: f64| {
            Err(Error::Strength { what, percent: 100.0 * part, low: 0.0, high: 100.0 * high, reason })
        };
        let mut total = 0.0_f64;
        for (salt, part) in self.dissolved() {
            let high = most[salt.place()];
            if part > high + 1e-11 {
                return refuse(salt.text(), part, high);
            }
            total = total.max(high);
        }
        if self.strength > total + 1e-11 {
            return refuse("chemistry.all_salts", self.strength, total);
        }
        Ok(())
    }
}
