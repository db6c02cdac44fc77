//! The liquid of a brine as ions and water, and the model of it at a temperature.

use super::pitzer::{Activities, Adjustment, ION_MASS, IONS, Model, WATER};
use super::solids::{self, Mineral};
use crate::solid::Solid;
use crate::{Brine, Error, MassFraction, Salt};

/// Coldest temperature covered, °C.
pub const COLDEST_CELSIUS: f64 = -55.0;

/// Warmest temperature covered, °C.
pub const WARMEST_CELSIUS: f64 = 40.0;

/// A saturation below this counts as none.
pub(super) const SATURATED: f64 = 1e-9;

/// Ions and water of a kilogram of brine, mol.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Content {
    pub(super) ions: [f64; IONS],
    pub(super) water: f64,
}

impl Content {
    pub(super) fn of(brine: &Brine) -> Self {
        let mut ions = [0.0; IONS];
        for (salt, part) in brine.dissolved() {
            let moles = 1000.0 * part / salt.molar_mass();
            let [na, k, ca, mg, cl, so4] = match salt {
                Salt::SodiumChloride => [1.0, 0.0, 0.0, 0.0, 1.0, 0.0],
                Salt::PotassiumChloride => [0.0, 1.0, 0.0, 0.0, 1.0, 0.0],
                Salt::CalciumChloride => [0.0, 0.0, 1.0, 0.0, 2.0, 0.0],
                Salt::MagnesiumChloride => [0.0, 0.0, 0.0, 1.0, 2.0, 0.0],
                Salt::SodiumSulfate => [2.0, 0.0, 0.0, 0.0, 0.0, 1.0],
            };
            for (total, n) in ions.iter_mut().zip([na, k, ca, mg, cl, so4]) {
                *total += n * moles;
            }
        }
        Self { ions, water: (1.0 - brine.total()) / WATER }
    }

    /// What is left when so much of some solids has gone, mol.
    pub(super) fn without(&self, gone: &[(&Mineral, f64)]) -> Self {
        let mut left = *self;
        for (mineral, amount) in gone {
            for (ions, n) in left.ions.iter_mut().zip(mineral.ions) {
                *ions -= n * amount;
            }
            left.water -= mineral.water * amount;
        }
        left
    }

    pub(super) fn molalities(&self) -> [f64; IONS] {
        let kilograms = self.water * WATER;
        self.ions.map(|moles| (moles / kilograms).max(0.0))
    }

    /// The salts these ions are, as [`Brine`] names them, in the order of [`Salt::ALL`].
    pub(super) fn salts(&self) -> Result<[MassFraction; 5], Error> {
        let [na, k, ca, mg, _, so4] = self.ions;
        let mut found = [MassFraction::ZERO; 5];
        for salt in Salt::ALL {
            let moles = match salt {
                Salt::SodiumChloride => na - 2.0 * so4,
                Salt::CalciumChloride => ca,
                Salt::MagnesiumChloride => mg,
                Salt::PotassiumChloride => k,
                Salt::SodiumSulfate => so4,
            };
            let part = moles.max(0.0) * salt.molar_mass() / 1000.0 / self.mass();
            found[salt.place()] = MassFraction::from_fraction(part)?;
        }
        Ok(found)
    }

    /// Mass of the water and the ions in it, kg.
    pub(super) fn mass(&self) -> f64 {
        self.water * WATER + self.ions.iter().zip(ION_MASS).map(|(n, mass)| n * mass).sum::<f64>()
    }
}

/// The model and the solubility products at a temperature.
pub(super) struct At {
    pub(super) model: Model,
    ln_k: Vec<f64>,
}

impl At {
    pub(super) fn kelvin(kelvin: f64, adjustment: &Adjustment) -> Self {
        let ln_k = solids::all().iter().map(|one| one.ln_k(kelvin, adjustment)).collect();
        Self { model: Model::at(kelvin, adjustment), ln_k }
    }

    pub(super) fn saturation(&self, place: usize, molalities: &[f64; IONS], found: &Activities) -> f64 {
        solids::all()[place].saturation(molalities, found, self.ln_k[place])
    }
}

/// The solid of a name in the data.
pub(super) fn solid_of(name: &str) -> Solid {
    match name {
        "ice" => Solid::Ice,
        "halite" => Solid::Halite,
        "hydrohalite" => Solid::Hydrohalite,
        "sylvite" => Solid::Sylvite,
        "mgcl2_6h2o" => Solid::MagnesiumChlorideHexahydrate,
        "mgcl2_8h2o" => Solid::MagnesiumChlorideOctahydrate,
        "mgcl2_12h2o" => Solid::MagnesiumChlorideDodecahydrate,
        "cacl2_6h2o" => Solid::CalciumChlorideHexahydrate,
        "carnallite" => Solid::Carnallite,
        "tachyhydrite" => Solid::Tachyhydrite,
        "mirabilite" => Solid::Mirabilite,
        "thenardite" => Solid::Thenardite,
        "epsomite" => Solid::Epsomite,
        "meridianiite" => Solid::Meridianiite,
        "gypsum" => Solid::Gypsum,
        "glauberite" => Solid::Glauberite,
        "picromerite" => Solid::Picromerite,
        _ => Solid::Syngenite,
    }
}

/// Calcium sulfates form slowly, in days and weeks, and a brine is often oversaturated with them: they are no first
/// solid.
pub(super) fn is_slow(solid: Solid) -> bool {
    matches!(solid, Solid::Gypsum | Solid::Glauberite | Solid::Syngenite)
}
