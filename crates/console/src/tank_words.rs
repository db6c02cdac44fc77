//! A tank in two words, and how its liquid is drawn.

use planner::TankStock;
use report::chart::Texture;
use site::Yard;
use yard::stock::Books;

/// Dots where it is stronger than its spec range, hatching where it is weaker.
pub(crate) fn texture(yard: &Yard, stock: &TankStock) -> Texture {
    let spec = yard.spec(&stock.tank);
    match stock.strength.filter(|_| stock.is_brine) {
        Some(strength) if spec.high < strength => Texture::Salt,
        Some(strength) if strength < spec.low => Texture::Ice,
        _ => Texture::Plain,
    }
}

/// Key of a tank's state in two words.
pub(crate) fn state_word(yard: &Yard, stock: &TankStock, books: &Books) -> &'static str {
    use entry::ticket::{Standing, standing};
    match (standing(yard, books, &stock.tank), texture(yard, stock)) {
        (Some(Standing::Empty) | None, _) => "vessel.empty",
        (Some(Standing::Bought), _) => "vessel.bought",
        (Some(Standing::Mixed), _) => "vessel.mixed",
        (Some(_), Texture::Salt) => "vessel.strong",
        (Some(_), Texture::Ice) => "vessel.weak",
        (Some(Standing::InSpec { .. }), _) => "vessel.in-spec",
        (Some(Standing::OutOfSpec { .. }), _) => "vessel.out",
        (Some(Standing::NotMeasured), _) => "vessel.not-tested",
    }
}
