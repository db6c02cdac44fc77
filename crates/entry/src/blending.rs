//! Blends from what a yard has: its tanks and its water as liquids at hand, what stands in a tank as what is there
//! already, and the cheapest recipe that keeps the blend liquid.
//!
//! The search is [`chemistry::blend`]; this module knows tanks, books and prices. It advises; nothing is recorded here.

use chemistry::blend::{Lot, NoRecipe, Recipe, Wanted, recipe};
use chemistry::recipe::reference_temperature;
use chemistry::{Brine, MassFraction};
use message::{Message, Tell, message};
use quantity::{
    Mass, ThermodynamicTemperature, Volume, cubic_metres, in_cubic_metres, in_kilograms, kilograms,
};

use accounts::making_usd_per_m3;
use site::ProductKind;
use site::Yard;
use yard::stock::Books;

/// Where a liquid comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// A tank of the yard.
    Tank(String),
    /// The water supply.
    Water,
    /// A liquid of which only numbers are known.
    Named(String),
}

/// A liquid at hand.
#[derive(Debug, Clone, PartialEq)]
pub struct AtHand {
    /// Where it is.
    pub source: Source,
    /// Name of its product; empty for water.
    pub product: String,
    /// Its composition, amount on hand, price and temperature.
    pub lot: Lot,
}

/// A request for a recipe.
#[derive(Debug, Clone, PartialEq)]
pub struct Ask {
    /// Tank that the blend is made in; none for a blend beside the yard.
    pub tank: Option<String>,
    /// Sources it may use; every source at hand when empty.
    pub from: Vec<Source>,
    /// Requirements on the blend.
    pub wanted: Wanted,
}

/// A recipe with the liquids it is made of.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// Mass of each liquid, and the blend that they make.
    pub recipe: Recipe,
    /// Liquids of the recipe, in the order of its parts.
    pub liquids: Vec<AtHand>,
    /// Brine in the tank before; none without a tank, or where it is empty.
    pub base: Option<Brine>,
}

impl Advice {
    /// What is put in: each liquid with its mass and its volume at 60 °F, less than a thousandth left out.
    pub fn put_in(&self) -> Vec<(&AtHand, Mass, Volume)> {
        let whole = in_kilograms(self.recipe.mass);
        let each = self.liquids.iter().zip(&self.recipe.parts);
        each.filter(|(_, mass)| in_kilograms(**mass) > 1e-3 * whole)
            .filter_map(|(liquid, mass)| Some((liquid, *mass, volume(&liquid.lot.brine, *mass)?)))
            .collect()
    }
}

/// Volume of a mass of brine at 60 °F.
fn volume(brine: &Brine, mass: Mass) -> Option<Volume> {
    Some(mass / brine.density(reference_temperature()).ok()?)
}

/// Why there is no recipe.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub enum Refusal {
    /// No such tank in the yard file.
    NoTank(String),
    /// A tank holds a liquid whose salts are not known.
    Unknown(String),
    /// A tank holds nothing above its heel.
    Empty(String),
    /// No recipe meets what is asked.
    Recipe(#[from] NoRecipe),
}

impl Tell for Refusal {
    fn message(&self) -> Message {
        match self {
            Refusal::NoTank(tank) => message!("entry.blend-no-tank", tank = tank),
            Refusal::Unknown(tank) => message!("entry.blend-unknown-salt", tank = tank),
            Refusal::Empty(tank) => message!("entry.blend-empty-tank", tank = tank),
            Refusal::Recipe(error) => error.message(),
        }
    }
}

/// What a yard can mix from: every tank in use whose liquid is known by its salts, and water. Brine costs what it costs
/// to make by the yard file, a bought liquid its price, a mix what its parts cost.
pub fn at_hand(yard: &Yard, books: &Books) -> Vec<AtHand> {
    let mut found: Vec<AtHand> = yard
        .tanks_in_use()
        .filter_map(|tank| {
            let (book, stands) = (books.tank(&tank.id)?, books.standing(yard, &tank.id)?);
            let content = stands.content;
            let brine = content.brine_of(yard)?;
            let usable = in_cubic_metres(stands.least - tank.heel).max(0.0);
            let share = usable / in_cubic_metres(stands.volume.value).max(f64::MIN_POSITIVE);
            let available = kilograms(in_kilograms(content.mass) * share);
            let product = yard.product(&tank.product)?;
            Some(AtHand {
                source: Source::Tank(tank.id.clone()),
                product: product.name.clone(),
                lot: Lot {
                    brine,
                    available: Some(available),
                    price: usd_per_kg(yard, &content),
                    temperature: book
                        .dip
                        .and_then(|dip| dip.temperature)
                        .unwrap_or(yard.plant.water_temperature),
                },
            })
        })
        .filter(|liquid| liquid.lot.available.is_some_and(|available| in_kilograms(available) > 1.0))
        .collect();
    found.push(water(yard.plant.water_usd_per_m3, yard.plant.water_temperature));
    found
}

/// Water as a liquid at hand.
pub fn water(usd_per_m3: f64, temperature: ThermodynamicTemperature) -> AtHand {
    let price = usd_per_m3 / 999.0;
    let lot = Lot { brine: Brine::WATER, available: None, price, temperature };
    AtHand { source: Source::Water, product: String::new(), lot }
}

/// Dollars a kilogram of a content: brine at its making cost, bought liquids at their price.
fn usd_per_kg(yard: &Yard, content: &yard::stock::Content) -> f64 {
    let whole = in_kilograms(content.mass);
    if whole <= 0.0 {
        return 0.0;
    }
    let brine = in_kilograms(content.brine());
    let target = Brine::sodium_chloride(yard.plant.target_strength)
        .and_then(|one| one.density(reference_temperature()));
    let density = target.map_or(1176.0, |density| in_kilograms(density * cubic_metres(1.0)));
    let made = brine * making_usd_per_m3(yard, yard.salt.usd_per_short_ton) / density;
    let bought = content.declared.iter().filter_map(|(id, mass)| {
        let product = yard.product(id)?;
        let ProductKind::Declared { density, .. } = &product.kind else { return None };
        Some(in_cubic_metres(*mass / *density) * product.usd_per_m3)
    });
    (made + bought.sum::<f64>()) / whole
}

/// The cheapest recipe.
///
/// # Errors
/// [`Refusal`].
pub fn advise(yard: &Yard, books: &Books, ask: &Ask) -> Result<Advice, Refusal> {
    let mut liquids = at_hand(yard, books);
    for source in &ask.from {
        if let Source::Tank(id) = source
            && !liquids.iter().any(|liquid| liquid.source == *source)
        {
            let Some(tank) = yard.tank(id) else { return Err(Refusal::NoTank(id.clone())) };
            let is_known = books.estimate(&tank.id).is_some_and(|one| one.content().brine_of(yard).is_some());
            return Err(if is_known { Refusal::Empty(id.clone()) } else { Refusal::Unknown(id.clone()) });
        }
    }
    let is_asked = |liquid: &AtHand| ask.from.is_empty() || ask.from.contains(&liquid.source);
    let is_itself =
        |liquid: &AtHand| ask.tank.as_ref().is_some_and(|id| liquid.source == Source::Tank(id.clone()));
    liquids.retain(|liquid| is_asked(liquid) && !is_itself(liquid));
    let base = ask.tank.as_ref().map(|id| content_of(yard, books, id)).transpose()?.flatten();
    work_out(liquids, base.as_ref(), &ask.wanted)
}

/// Same as [`advise`], for liquids given by numbers alone.
///
/// # Errors
/// [`Refusal::Recipe`].
pub fn work_out(
    liquids: Vec<AtHand>,
    base: Option<&(Brine, Mass, ThermodynamicTemperature)>,
    wanted: &Wanted,
) -> Result<Advice, Refusal> {
    let lots: Vec<Lot> = liquids.iter().map(|liquid| liquid.lot.clone()).collect();
    let recipe = recipe(&lots, base, wanted)?;
    Ok(Advice { recipe, liquids, base: base.map(|(brine, ..)| *brine) })
}

/// Content of a tank; none where it is empty.
fn content_of(
    yard: &Yard,
    books: &Books,
    id: &str,
) -> Result<Option<(Brine, Mass, ThermodynamicTemperature)>, Refusal> {
    let (Some(_), Some(book)) = (yard.tank(id), books.tank(id)) else {
        return Err(Refusal::NoTank(id.to_owned()));
    };
    let content = books.standing(yard, id).ok_or_else(|| Refusal::NoTank(id.to_owned()))?.content;
    if content.parts().is_empty() {
        return Ok(None);
    }
    let brine = content.brine_of(yard).ok_or_else(|| Refusal::Unknown(id.to_owned()))?;
    let temperature = book.dip.and_then(|dip| dip.temperature).unwrap_or(yard.plant.water_temperature);
    Ok(Some((brine, content.mass, temperature)))
}

/// Strength of each salt in a blend, for a table: formula and share, what is there.
pub fn salts(brine: &Brine) -> Vec<(&'static str, MassFraction)> {
    let all = chemistry::Salt::ALL.into_iter().map(|salt| (salt.formula(), brine.part(salt)));
    all.filter(|(_, part)| part.fraction() > 1e-6).collect()
}
