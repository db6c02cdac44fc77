//! An amount of liquid by what is in it, by mass: so that mass and chloride stay right where nothing else can be said.
//!
//! What a mix with a declared liquid is as a whole (its strength, where it freezes) is nowhere worked out.

use std::collections::BTreeMap;

use bench::solute::Solute;
use chemistry::recipe;
use chemistry::{Brine, MassFraction, Salt};
use quantity::{Mass, MassDensity, Volume, celsius, cubic_metres, in_kilograms, kilograms};

use event::Correction;
use site::{Product, ProductKind, Yard};

/// A mass of book stock this far below zero is rounding, not trouble: one gram.
pub(super) const ROUNDING_KG: f64 = 1e-3;

/// A liquid that can be part of a tank's content.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Liquid {
    /// Sodium chloride brine, down to plain water.
    Brine,
    /// A declared liquid, by the id of its product.
    Declared(String),
}

impl Liquid {
    /// What a product is as part of a content.
    pub fn of(product: &Product) -> Self {
        match product.kind {
            ProductKind::SodiumChlorideBrine => Liquid::Brine,
            ProductKind::Declared { .. } => Liquid::Declared(product.id.clone()),
        }
    }
}

/// Part of a content.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Brine, or a declared liquid.
    pub liquid: Liquid,
    /// How much of it.
    pub mass: Mass,
}

/// An amount of liquid. What is not a declared liquid is brine or water.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Content {
    /// All of it.
    pub mass: Mass,
    /// Sodium chloride in it.
    pub sodium_chloride: Mass,
    /// Declared liquids in it, by product.
    pub declared: BTreeMap<String, Mass>,
}

impl Content {
    /// Mass, and what is in it, of a volume of a product at a temperature, `temp_c` in °C (60 °F where none was taken).
    ///
    /// # Equation
    /// m = V·ρ; brine: ρ(w, t) and m(NaCl) = w·m; a declared liquid: ρ by its sheet, at whatever temperature.
    ///
    /// # Range
    /// Brine within the density data; outside them the density at 60 °F of the same strength, the strongest where
    /// it is beyond. Any volume, below zero too.
    ///
    /// # Error
    /// That of the volume and of [`chemistry::density`]; of a declared liquid what its sheet does not say: how its
    /// density changes with temperature.
    ///
    /// # Source
    /// Definition; the supplier's sheet.
    pub fn of_product(
        product: &Product,
        volume: Volume,
        temp_c: Option<f64>,
        strength: Option<MassFraction>,
    ) -> Self {
        match &product.kind {
            ProductKind::Declared { density, .. } => {
                let mass = volume * *density;
                let declared = BTreeMap::from([(product.id.clone(), mass)]);
                Self { mass, declared, ..Self::default() }
            }
            ProductKind::SodiumChlorideBrine => {
                let strength = strength.unwrap_or(MassFraction::ZERO);
                let temperature = temp_c.map_or_else(recipe::reference_temperature, celsius);
                let density = Brine::sodium_chloride(strength)
                    .and_then(|brine| brine.density(temperature))
                    .unwrap_or_else(|_| reference_density(strength));
                let mass = volume * density;
                Self { mass, sodium_chloride: mass * strength.fraction(), ..Self::default() }
            }
        }
    }

    /// What is dissolved in it, by ratio, as far as every liquid's chloride is known by its salt; none for water, for
    /// a declared liquid whose chloride is not said, and for a book that does not add up.
    pub fn solute(&self, yard: &Yard) -> Option<Solute> {
        let mut parts = vec![(Salt::SodiumChloride, in_kilograms(self.sodium_chloride))];
        for (id, mass) in &self.declared {
            let (salt, share) = yard.product(id)?.kind.salt()?;
            let salt_mass = in_kilograms(*mass) * share.fraction();
            parts.push((salt, salt_mass));
        }
        Solute::blend(&parts).ok()
    }

    /// The brine it is, of every salt of the liquids in it; none for nothing, for a declared liquid whose chloride is
    /// not said, and for a book that does not add up. What else a bought liquid holds is counted as water.
    pub fn brine_of(&self, yard: &Yard) -> Option<Brine> {
        let whole = in_kilograms(self.mass);
        if whole <= ROUNDING_KG {
            return None;
        }
        let mut parts = vec![(Salt::SodiumChloride, in_kilograms(self.sodium_chloride).max(0.0))];
        for (id, mass) in &self.declared {
            let (salt, share) = yard.product(id)?.kind.salt()?;
            parts.push((salt, in_kilograms(*mass).max(0.0) * share.fraction()));
        }
        let part = |(salt, mass): (Salt, f64)| Some((salt, MassFraction::from_fraction(mass / whole).ok()?));
        Brine::blend(&parts.into_iter().map(part).collect::<Option<Vec<_>>>()?).ok()
    }

    /// The liquids it holds, most first; none of what is below zero or mere rounding.
    pub fn parts(&self) -> Vec<Part> {
        let declared = self.declared.iter().map(|(id, mass)| (Liquid::Declared(id.clone()), *mass));
        let mut parts: Vec<Part> = std::iter::once((Liquid::Brine, self.brine()))
            .chain(declared)
            .filter(|(_, mass)| in_kilograms(*mass) > ROUNDING_KG)
            .map(|(liquid, mass)| Part { liquid, mass })
            .collect();
        parts.sort_by(|a, b| in_kilograms(b.mass).total_cmp(&in_kilograms(a.mass)));
        parts
    }

    /// The liquids it holds when they are anything but this product alone; empty when it is, or holds nothing.
    pub fn unlike(&self, product: &Product) -> Vec<Part> {
        let own = Liquid::of(product);
        let parts = self.parts();
        if parts.iter().all(|part| part.liquid == own) { Vec::new() } else { parts }
    }

    /// Strength; none without salt, and none of a mix with a declared liquid, where it would say nothing.
    ///
    /// # Equation
    /// w = m(NaCl) / (m − Σ declared).
    ///
    /// # Range
    /// Amounts whose salt and brine are both above or both below zero.
    ///
    /// # Error
    /// That of the masses.
    ///
    /// # Source
    /// Definition.
    pub fn strength(&self) -> Option<MassFraction> {
        self.brine_strength().filter(|_| !self.has_declared())
    }

    /// Volume at 60 °F, below zero where the masses are. Of a mix, what its parts would fill apart: an estimate.
    /// Brine without a strength of its own counts as of the one given.
    ///
    /// # Equation
    /// V = m(brine) / ρ(w, 60 °F) + Σ mᵢ / ρᵢ.
    ///
    /// # Range
    /// Any mass; a strength beyond the density data counts as the strongest in them.
    ///
    /// # Error
    /// That of [`chemistry::density`]; of a mix, what its liquids shrink or swell on mixing, which is not counted
    /// and not known.
    ///
    /// # Source
    /// Definition; the suppliers' sheets for ρᵢ.
    pub fn volume(&self, yard: &Yard, last_strength: Option<MassFraction>) -> Volume {
        let strength = self.brine_strength().or(last_strength).unwrap_or(MassFraction::ZERO);
        let brine = self.brine() / reference_density(strength);
        self.declared.iter().fold(brine, |sum, (id, mass)| {
            // A product the yard no longer names counts with the density of water: of the tank's room, the safe side.
            let density = declared(yard, id).map_or_else(water_density, |(density, _)| density);
            sum + *mass / density
        })
    }

    /// Chloride (Cl) in it: by the salt, and by the sheets of the declared liquids.
    ///
    /// # Equation
    /// m(NaCl)·M(Cl) / M(NaCl) + Σ mᵢ·wᵢ(Cl).
    ///
    /// # Range
    /// Any mass; a product that the yard file no longer names counts as without chloride.
    ///
    /// # Error
    /// That of the masses and of the sheets.
    ///
    /// # Source
    /// Definition; the suppliers' sheets for wᵢ(Cl).
    pub fn chloride(&self, yard: &Yard) -> Mass {
        let of_salt = self.sodium_chloride * Salt::SodiumChloride.chloride_fraction().fraction();
        self.declared.iter().fold(of_salt, |sum, (id, mass)| {
            sum + *mass * declared(yard, id).map_or(0.0, |(_, chloride)| chloride.fraction())
        })
    }

    /// What a volume drawn from this takes with it: all parts in proportion where it is not the product alone, else the
    /// product at a strength and a temperature, `temp_c` in °C.
    pub fn drawn(
        &self,
        yard: &Yard,
        product: &Product,
        volume: Volume,
        temp_c: Option<f64>,
        strength: Option<MassFraction>,
    ) -> Self {
        if self.unlike(product).is_empty() {
            return Self::of_product(product, volume, temp_c, strength);
        }
        let held = self.above_zero();
        held.times(f64::from(volume / held.volume(yard, strength)))
    }

    /// Adds another amount to it.
    pub fn add(&mut self, other: &Self) {
        self.mass += other.mass;
        self.sodium_chloride += other.sodium_chloride;
        for (id, mass) in &other.declared {
            *self.declared.entry(id.clone()).or_default() += *mass;
        }
    }

    /// The same liquid, `factor` times as much.
    pub fn times(&self, factor: f64) -> Self {
        Self {
            mass: self.mass * factor,
            sodium_chloride: self.sodium_chloride * factor,
            declared: self.declared.iter().map(|(id, mass)| (id.clone(), *mass * factor)).collect(),
        }
    }

    /// Only the parts that are there: a book below zero has none of a part, not less.
    fn above_zero(&self) -> Self {
        let is_there = |mass: Mass| in_kilograms(mass) > 0.0;
        let brine = self.brine();
        let declared: BTreeMap<String, Mass> = self
            .declared
            .iter()
            .filter(|(_, mass)| is_there(**mass))
            .map(|(id, m)| (id.clone(), *m))
            .collect();
        let (brine, sodium_chloride) =
            if is_there(brine) { (brine, self.sodium_chloride) } else { (kilograms(0.0), kilograms(0.0)) };
        Self { mass: declared.values().fold(brine, |sum, mass| sum + *mass), sodium_chloride, declared }
    }

    /// Whether any declared liquid is in it.
    pub fn has_declared(&self) -> bool {
        self.declared.values().any(|mass| in_kilograms(*mass) > ROUNDING_KG)
    }

    /// What is not a declared liquid.
    pub fn brine(&self) -> Mass {
        self.declared.values().fold(self.mass, |left, mass| left - *mass)
    }

    fn brine_strength(&self) -> Option<MassFraction> {
        // An amount taken off is of the same strength as one put in.
        let (salt, brine) = if in_kilograms(self.sodium_chloride) < 0.0 && in_kilograms(self.brine()) < 0.0 {
            (-self.sodium_chloride, -self.brine())
        } else {
            (self.sodium_chloride, self.brine())
        };
        MassFraction::of(salt, brine).ok().filter(|_| in_kilograms(salt) > 0.0)
    }
}

/// Density and chloride of a declared product, by its sheet.
fn declared(yard: &Yard, id: &str) -> Option<(MassDensity, MassFraction)> {
    match yard.product(id)?.kind {
        ProductKind::Declared { density, chloride, .. } => Some((density, chloride)),
        ProductKind::SodiumChlorideBrine => None,
    }
}

fn water_density() -> MassDensity {
    reference_density(MassFraction::ZERO)
}

/// Density at 60 °F of brine of a strength; strengths past the data, which only a broken book has, count as the last.
fn reference_density(strength: MassFraction) -> MassDensity {
    let fraction = strength.fraction().min(Brine::STRONGEST_PERCENT / 100.0);
    MassFraction::from_fraction(fraction)
        .and_then(Brine::sodium_chloride)
        .and_then(|brine| brine.density(recipe::reference_temperature()))
        .unwrap_or(quantity::kg_per_m3(1000.0))
}

/// What a correction puts in.
///
/// # Equation
/// m = V(water)·ρ(water, 60 °F) + m(rock salt)·(its NaCl + its moisture).
///
/// # Range
/// Amounts as [`event::Correction`] takes them.
///
/// # Error
/// Insoluble matter is left out; purity and moisture are the yard file's.
///
/// # Source
/// Definition; density of water: [`chemistry::density::water_density`].
///
/// # Errors
/// None at the reference temperature, which the data of water cover.
pub fn put_in(yard: &Yard, correction: &Correction) -> Result<Content, chemistry::Error> {
    let reference = recipe::reference_temperature();
    let water_density = chemistry::density::water_density(reference)?;
    let water = cubic_metres(correction.water_m3.unwrap_or(0.0)) * water_density;
    let rock_salt = kilograms(correction.salt_kg.unwrap_or(0.0));
    let salt = rock_salt * yard.rock_salt().sodium_chloride();
    let moisture = rock_salt * yard.salt.moisture.fraction();
    Ok(Content { mass: water + salt + moisture, sodium_chloride: salt, ..Content::default() })
}
