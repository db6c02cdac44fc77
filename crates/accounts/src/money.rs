//! What it came to in dollars.

use quantity::{cubic_metres, hours, in_cubic_metres, in_kilograms, in_short_tons};
use site::Yard;
use yard::stock::Content;

/// Money, US dollars.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Money {
    /// A short ton of rock salt: mean of the deliveries with a price, else the yard file's.
    pub salt_usd_per_ton: f64,
    /// Salt dissolved into what was made.
    pub making_salt: f64,
    /// Water of what was made.
    pub making_water: f64,
    /// Hours of the plant, with one person.
    pub making_hours: f64,
    /// Brine made, per m³ at 60 °F: of the period, else by the yard file's figures.
    pub usd_per_m3_made: f64,
    /// Liquid put on roads: brine at its making cost, bought liquid at its price.
    pub liquid_on_road: f64,
    /// Dry salt put on roads.
    pub dry_on_road: f64,
    /// Trucks with their drivers.
    pub trucks: f64,
    /// Liquid that was lost and cleaned out.
    pub lost: f64,
    /// Billed to other agencies.
    pub billed: f64,
}

impl Money {
    /// What treating the roads cost.
    pub fn on_road(&self) -> f64 {
        self.liquid_on_road + self.dry_on_road + self.trucks
    }
}

/// Salt and water of a cubic metre at the plant's target, with the hours the yard file's rate needs.
pub fn making_usd_per_m3(yard: &Yard, salt_usd_per_ton: f64) -> f64 {
    let Some(product) = yard.product(&yard.plant.product) else { return 0.0 };
    let target = Some(yard.plant.target_strength);
    let one = Content::of_product(product, cubic_metres(1.0), None, target);
    let salt = one.sodium_chloride / yard.rock_salt().sodium_chloride();
    let water = (in_kilograms(one.mass) - in_kilograms(one.sodium_chloride)) / 999.0;
    let costs = &yard.accounts;
    let hour = in_cubic_metres(yard.plant.making_rate * hours(1.0));
    in_short_tons(salt) * salt_usd_per_ton
        + water * yard.plant.water_usd_per_m3
        + (costs.plant_usd_per_h + costs.crew_usd_per_h) / hour
}

/// What liquid is billed to an agency, US dollars: by its price and the volume at 60 °F; nothing without a price.
pub fn bill(yard: &Yard, agency: &str, liquid: &Content) -> f64 {
    let price = yard.agency(agency).map_or(0.0, |agency| agency.usd_per_m3);
    // To the cent, as it stands on the bill.
    (100.0 * price * in_cubic_metres(liquid.volume(yard, None))).round() / 100.0
}
