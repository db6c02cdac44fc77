//! What is left on a truck, and where it came from.

use quantity::{Volume, cubic_metres, gallons, in_kilograms};

use super::books::Books;
use super::content::ROUNDING_KG;
use super::flow::End;
use super::load::Rest;
use site::Yard;

/// Of another product, so much on a truck is a residue, or so large a share of its tank, whichever is more: what pump
/// and hoses keep back. Our own figures.
pub const RESIDUE_GALLONS: f64 = 5.0;
/// Share of a truck's tank that another product may leave as residue, where it is more than [`RESIDUE_GALLONS`].
pub const RESIDUE_SHARE: f64 = 0.01;

/// A truck's tank may be filled by this factor of what the yard file says: warm liquid fills more than at 60 °F.
const OVERFULL: f64 = 1.02;

/// The most of another product that is a residue on a truck.
///
/// # Equation
/// The larger of [`RESIDUE_GALLONS`] and [`RESIDUE_SHARE`] of the truck's tank.
///
/// # Range
/// Any truck; the first alone where the yard file does not name it.
///
/// # Error
/// A program default, not measured.
///
/// # Source
/// Program default; no published source.
pub fn residue(yard: &Yard, truck: &str) -> Volume {
    let least = gallons(RESIDUE_GALLONS);
    let share = yard.truck(truck).map_or(cubic_metres(0.0), |truck| truck.tank * RESIDUE_SHARE);
    if least < share { share } else { least }
}

impl Books {
    /// Whether a truck carries another product than this, and more of it than a residue.
    pub fn carries_other(&self, yard: &Yard, truck: &str, product: &str) -> bool {
        let load = self.trucks.get(truck).filter(|load| load.product != product);
        load.is_some_and(|load| {
            in_kilograms(load.content.mass) > 1.0 && residue(yard, truck) < load.volume(yard)
        })
    }

    /// Counts what a truck still carries as put down where it was loaded for.
    pub(super) fn empty_truck(&mut self, truck: &str) -> Option<Rest> {
        let load = self.trucks.remove(truck).filter(|load| in_kilograms(load.content.mass) > ROUNDING_KG)?;
        let liquid = load.content;
        self.note(End::Truck(truck.to_owned()), End::Road(None), liquid.clone());
        Some(Rest { product: load.product, liquid })
    }

    /// Before a truck is loaded again: what of its content would go over its tank with the new load was put down,
    /// without an entry.
    pub(super) fn put_down_over(&mut self, yard: &Yard, truck: &str, comes: Volume) {
        let Some(tank) = yard.truck(truck).map(|truck| truck.tank * OVERFULL) else { return };
        let Some(load) = self.trucks.get_mut(truck) else { return };
        let aboard = load.volume(yard);
        let over = aboard + comes - tank;
        let over = if aboard < over { aboard } else { over };
        if over <= cubic_metres(0.0) {
            return;
        }
        let mut put_down = load.content.clone();
        load.lose_volume(yard, over);
        put_down.add(&load.content.times(-1.0));
        self.note(End::Truck(truck.to_owned()), End::Road(None), put_down);
    }

    /// The same, where it is another product than this.
    pub(super) fn empty_of_other(&mut self, truck: &str, product: &str) -> Option<Rest> {
        let is_other = self.trucks.get(truck).is_some_and(|load| load.product != product);
        is_other.then(|| self.empty_truck(truck)).flatten()
    }
}
