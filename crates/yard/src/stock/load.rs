//! What a truck carries, and from which tanks it came.

use chemistry::MassFraction;
use quantity::{Mass, Volume, cubic_metres, in_kilograms, kilograms};

use super::content::{Content, ROUNDING_KG};
use super::evidence::ReadingEvidence;
use site::Yard;

/// A truck's content.
#[derive(Debug, Clone)]
pub struct Load {
    /// Id of the product.
    pub product: String,
    /// All of it, by what is in it.
    pub content: Content,
    /// Where it came from.
    taken: Vec<Taken>,
}

impl Load {
    /// Strength, for salt brine; zero for water, none for an empty truck, a declared liquid or a mix with one.
    pub fn strength(&self) -> Option<MassFraction> {
        let is_brine = !self.content.has_declared();
        MassFraction::of(self.content.sodium_chloride, self.content.mass).ok().filter(|_| is_brine)
    }

    /// Volume at 60 °F.
    pub fn volume(&self, yard: &Yard) -> Volume {
        self.content.volume(yard, None)
    }

    /// Chloride (Cl) in it.
    pub fn chloride(&self, yard: &Yard) -> Mass {
        self.content.chloride(yard)
    }

    /// Nothing of a product.
    pub fn empty(product: String) -> Self {
        Self::of(product, Content::default())
    }

    pub(super) fn of(product: String, content: Content) -> Self {
        Self { product, content, taken: Vec::new() }
    }

    /// Takes a volume off, at what it holds; nothing off an empty one.
    pub fn lose_volume(&mut self, yard: &Yard, volume: Volume) {
        let held = self.volume(yard);
        if held > cubic_metres(0.0) {
            self.lose(self.content.mass / held * volume);
        }
    }

    /// Takes a mass off, of all parts in proportion.
    pub fn lose(&mut self, mass: Mass) {
        let held = in_kilograms(self.content.mass);
        let left = if held > 0.0 { (1.0 - in_kilograms(mass) / held).clamp(0.0, 1.0) } else { 0.0 };
        self.content = self.content.times(left);
        self.scale_taken(left);
    }
}

/// What was counted off a truck because it took, or brought back, another product.
#[derive(Debug, Clone)]
pub struct Rest {
    /// Id of the product.
    pub product: String,
    /// How much of what.
    pub liquid: Content,
}

/// Part of what a truck carries: from which tank, and by which reading of it.
#[derive(Debug, Clone)]
struct Taken {
    tank: String,
    under: Option<ReadingEvidence>,
    mass: Mass,
}

impl Load {
    /// Takes liquid from a tank, whose last reading was this.
    pub(super) fn take(&mut self, liquid: &Content, tank: &str, under: Option<ReadingEvidence>) {
        self.content.add(liquid);
        self.taken.push(Taken { tank: tank.to_owned(), under, mass: liquid.mass });
    }

    /// What a mass of this load holds that left a tank after the reading that is its last now.
    pub(super) fn measured_part(&self, mass: Mass, tank: &str, last: Option<ReadingEvidence>) -> Mass {
        let is_of_it = |part: &&Taken| part.tank == tank && last.is_some() && part.under == last;
        let known: f64 = self.taken.iter().filter(is_of_it).map(|part| in_kilograms(part.mass)).sum();
        let held = in_kilograms(self.content.mass);
        if held <= ROUNDING_KG {
            return kilograms(0.0);
        }
        kilograms(known.min(held) * (in_kilograms(mass) / held).min(1.0))
    }

    fn scale_taken(&mut self, left: f64) {
        for part in &mut self.taken {
            part.mass *= left;
        }
        self.taken.retain(|part| in_kilograms(part.mass) > ROUNDING_KG);
    }
}
