//! What is dissolved, without how much: the ratio of the salts to one another by mass.

use chemistry::{Brine, MassFraction, Salt};

use crate::error::{Error, check};

/// Salts in a fixed ratio by mass.
#[derive(Debug, Clone, PartialEq)]
pub struct Solute {
    /// Each salt's share of all salt; they add up to one.
    shares: Vec<(Salt, f64)>,
}

impl Solute {
    /// One salt alone.
    pub fn of(salt: Salt) -> Self {
        Self { shares: vec![(salt, 1.0)] }
    }

    /// Several salts, `parts` by mass of each for any amount of the whole.
    ///
    /// # Errors
    /// [`Error::Value`] for a part that is negative or not finite, or for no salt at all.
    pub fn blend(parts: &[(Salt, f64)]) -> Result<Self, Error> {
        for (_, part) in parts {
            check("bench.quantity.salt_part", *part, "bench.accepted.from_zero", 0.0 <= *part)?;
        }
        let total: f64 = parts.iter().map(|(_, part)| part).sum();
        check("bench.quantity.salt_parts", total, "bench.accepted.above_zero", 0.0 < total)?;
        let shares = parts.iter().filter(|(_, part)| 0.0 < *part).map(|(salt, part)| (*salt, part / total));
        Ok(Self { shares: shares.collect() })
    }

    /// The salts of a brine in their ratio.
    ///
    /// # Errors
    /// [`Error::Value`] for water.
    pub fn in_brine(brine: &Brine) -> Result<Self, Error> {
        Self::blend(&Salt::ALL.map(|salt| (salt, brine.part(salt).fraction())))
    }

    /// Each salt with its share of all salt by mass, 0…1; the shares add up to 1.
    pub fn shares(&self) -> impl Iterator<Item = (Salt, f64)> + '_ {
        self.shares.iter().copied()
    }

    /// The only salt; none where there are several.
    pub fn only_salt(&self) -> Option<Salt> {
        match self.shares.as_slice() {
            [(salt, _)] => Some(*salt),
            _ => None,
        }
    }

    /// The brine that holds these salts at a total strength.
    ///
    /// # Errors
    /// As [`Brine::blend`].
    pub fn at(&self, strength: MassFraction) -> Result<Brine, chemistry::Error> {
        self.at_fraction(strength.fraction())
    }

    pub(crate) fn at_fraction(&self, strength: f64) -> Result<Brine, chemistry::Error> {
        let mut parts = Vec::with_capacity(self.shares.len());
        for (salt, share) in &self.shares {
            parts.push((*salt, MassFraction::from_fraction(share * strength.max(0.0))?));
        }
        Brine::blend(&parts)
    }
}
