//! Recipes of blends: how much of each liquid at hand makes a blend that freezes late enough, drops no salt above a
//! stated temperature, has the wanted volume, and costs least.
//!
//! All by mass; volumes at 60 °F are worked out at the end. What leaves a blend comes from [`crate::freezing`], so a
//! recipe is no more certain than that: confirm it by a jar test.

use crate::MassFraction;
use crate::enthalpy::{Portion, Stream, mix};
use crate::equilibrium::Onset;
use crate::freezing::{first_solid, on_cooling};
use crate::phases::phases;
use crate::recipe::reference_temperature;
use crate::solid::Solid;
use crate::{Brine, Error, Salt, root};
use message::{Arg, Message, Tell, message};
use quantity::{
    Mass, ThermodynamicTemperature, Volume, cubic_metres, in_celsius, in_cubic_metres, in_kilograms,
    kilograms,
};

/// Most liquids that are mixed.
pub const MOST_LOTS: usize = 4;
/// Steps of the whole in the first search over all shares, for one to four liquids to add.
const COARSE: [usize; MOST_LOTS] = [80, 80, 40, 16];
/// Tolerance of the shares.
const FINEST: f64 = 1e-4;
/// Most moves at one step size: along a curved edge they would go on forever, and the next step is smaller anyway.
const MOST_MOVES: usize = 12;
/// Shares moved along an edge of what is wanted, where one step in cost takes many along it; and how near it is
/// followed.
const SLIDES: [f64; 5] = [0.02, 0.01, 0.005, 0.002, 0.001];
const SLID_WITHIN: f64 = 2e-5;
/// Between two volumes tried, the least that is enough is found to this share of the way.
const VOLUME_WITHIN: f64 = 1.0 / 16_384.0;
/// Steps of the whole in the search for the nearest mixture, which only a refusal needs.
const NEAREST_STEPS: usize = 12;
/// Volumes tried between the least and the most.
const VOLUMES: usize = 12;

/// A liquid on hand.
#[derive(Debug, Clone, PartialEq)]
pub struct Lot {
    /// Its composition. Water is [`Brine::WATER`].
    pub brine: Brine,
    /// Amount on hand; none where there is no limit.
    pub available: Option<Mass>,
    /// Price, US dollars a kilogram.
    pub price: f64,
    /// Temperature of the liquid.
    pub temperature: ThermodynamicTemperature,
}

/// Requirements on the blend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// No ice above this.
    pub ice_below: ThermodynamicTemperature,
    /// No salt above this, nor ice: the first solid comes below it.
    pub clear_above: ThermodynamicTemperature,
    /// Least volume wanted, at 60 °F.
    pub at_least: Volume,
    /// Largest volume that there is space for, at 60 °F; the same as `at_least` for an exact volume.
    pub at_most: Volume,
}

/// A recipe and the blend it makes.
#[derive(Debug, Clone, PartialEq)]
pub struct Recipe {
    /// Amount of each lot, in their order.
    pub parts: Vec<Mass>,
    /// Amount in the tank before; zero where it is empty.
    pub base: Mass,
    /// Composition of the blend.
    pub brine: Brine,
    /// Mass of the blend.
    pub mass: Mass,
    /// Its volume at 60 °F.
    pub volume: Volume,
    /// Price of what is put in, US dollars.
    pub cost: f64,
    /// Where ice and where salt appear in it, what came first gone from the liquid.
    pub onset: Onset,
    /// Temperature when mixed, with no heat lost or gained; none where the heat data do not reach.
    pub temperature: Option<ThermodynamicTemperature>,
}

/// Why there is no recipe.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub enum NoRecipe {
    /// Nothing at hand, or too many liquids.
    Count {
        /// Number of liquids.
        count: usize,
    },
    /// No mixture does what is wanted.
    None {
        /// No ice above this, °C.
        ice: f64,
        /// No solid above this, °C.
        clear: f64,
        /// First solid of what comes nearest, °C; none where there is too little of everything.
        nearest: Option<f64>,
    },
    /// A liquid, a price, an amount or a volume is not usable.
    Input(#[from] Error),
}

impl Tell for NoRecipe {
    fn message(&self) -> Message {
        match self {
            NoRecipe::Count { count } => message!("chemistry.lots", count = *count, most = MOST_LOTS),
            NoRecipe::None { ice, clear, nearest } => {
                let nearest = match nearest {
                    Some(celsius) => message!("chemistry.nearest", temperature = Arg::Celsius(*celsius)),
                    None => message!("chemistry.too_little"),
                };
                let (ice, clear) = (Arg::Celsius(*ice), Arg::Celsius(*clear));
                message!("chemistry.no_recipe", ice = ice, clear = clear, nearest = nearest)
            }
            NoRecipe::Input(error) => error.message(),
        }
    }
}

/// The cheapest recipe that does what is wanted.
///
/// # Equation
/// Least Σ price·mass over the masses, ice and salt at equilibrium and the volume at 60 °F held within what is wanted:
/// every share in steps of the whole, cheapest first, then ever finer steps about what was found.
///
/// # Range
/// As [`first_solid`]; one to four liquids to put in, beside what is in the tank.
///
/// # Error
/// The cheapest among mixtures 1e-4 apart, within 1e-3 of its cost. What leaves it: as [`first_solid`].
///
/// # Source
/// As [`first_solid`].
///
/// # Errors
/// [`NoRecipe`], with what comes nearest.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, Salt, blend::{Lot, Wanted, recipe}};
/// use quantity::{celsius, gallons};
/// let percent = MassFraction::from_percent;
/// let lot = |brine, price| Lot { brine, available: None, price, temperature: celsius(15.0) };
/// let lots = [
///     lot(Brine::sodium_chloride(percent(23.3)?)?, 0.04),
///     lot(Brine::of(Salt::MagnesiumChloride, percent(30.0)?)?, 0.30),
///     lot(Brine::WATER, 0.001),
/// ];
/// // No ice above −25 °C, no salt above −18 °C: full-strength brine has to be thinned for it.
/// let volume = gallons(1000.0);
/// let wanted = Wanted { ice_below: celsius(-25.0), clear_above: celsius(-18.0), at_least: volume, at_most: volume };
/// let found = recipe(&lots, None, &wanted).expect("there is one");
/// assert!(found.parts[2] > found.mass * 0.02, "water is in it");
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn recipe(
    lots: &[Lot],
    base: Option<&(Brine, Mass, ThermodynamicTemperature)>,
    wanted: &Wanted,
) -> Result<Recipe, NoRecipe> {
    if !(1..=MOST_LOTS).contains(&lots.len()) {
        return Err(NoRecipe::Count { count: lots.len() });
    }
    check(lots, base, wanted)?;
    let search = Search { lots, base: base.map(|(brine, mass, _)| (*brine, in_kilograms(*mass))), wanted };
    let (least, most) = (in_cubic_metres(wanted.at_least), in_cubic_metres(wanted.at_most));
    let volumes: Vec<f64> = if most - least < 1e-9 * most {
        vec![most]
    } else {
        (0..=VOLUMES).map(|n| least + (most - least) * n as f64 / VOLUMES as f64).collect()
    };
    let mut best: Option<Found> = None;
    for volume in &volumes {
        let found = search.at(*volume);
        let is_better = |found: &Found| best.as_ref().is_none_or(|best| found.cost < best.cost - 1e-9);
        best = found.filter(is_better).or(best);
    }
    // Between two volumes, the smaller of which was too little.
    if let Some(found) = &best
        && let Some(place) =
            volumes.iter().position(|volume| *volume >= found.volume).filter(|place| *place > 0)
    {
        let (low, high) = (volumes[place - 1], volumes[place]);
        let is_enough = |volume: f64| {
            let found = search.at(volume);
            match found.filter(|one| best.as_ref().is_some_and(|best| one.cost <= best.cost)) {
                Some(one) => {
                    best = Some(one);
                    true
                }
                None => false,
            }
        };
        root::edge(is_enough, high, low, (high - low) * VOLUME_WITHIN);
    }
    match best {
        Some(found) => search.recipe(&search.slid(found), base.map(|(.., temperature)| *temperature)),
        None => Err(NoRecipe::None {
            ice: in_celsius(wanted.ice_below),
            clear: in_celsius(wanted.clear_above),
            nearest: volumes.iter().filter_map(|volume| search.nearest(*volume)).reduce(f64::min),
        }),
    }
}

/// Refuses prices, amounts and volumes that are not numbers or are below zero.
fn check(
    lots: &[Lot],
    base: Option<&(Brine, Mass, ThermodynamicTemperature)>,
    wanted: &Wanted,
) -> Result<(), Error> {
    let usable = |quantity: &'static str, value: f64, is_good: bool, accepted: &'static str| {
        if is_good { Ok(()) } else { Err(Error::NotUsable { quantity, value, accepted }) }
    };
    for lot in lots {
        let is_price = lot.price.is_finite() && lot.price >= 0.0;
        usable("chemistry.price", lot.price, is_price, "chemistry.accepted.from_zero")?;
        let available = lot.available.map_or(0.0, in_kilograms);
        let is_amount = available.is_finite() && available >= 0.0;
        usable("chemistry.mass.at_hand", available, is_amount, "chemistry.accepted.from_zero")?;
    }
    let there = base.map_or(0.0, |(_, mass, _)| in_kilograms(*mass));
    usable(
        "chemistry.mass.in_tank",
        there,
        there.is_finite() && there >= 0.0,
        "chemistry.accepted.from_zero",
    )?;
    let (least, most) = (in_cubic_metres(wanted.at_least), in_cubic_metres(wanted.at_most));
    let is_wanted = least.is_finite() && least >= 0.0 && (least > 0.0 || there > 0.0);
    usable("chemistry.volume.wanted", least, is_wanted, "chemistry.accepted.volume_wanted")?;
    usable(
        "chemistry.volume.most",
        most,
        most.is_finite() && most > 0.0 && most >= least,
        "chemistry.accepted.volume_most",
    )?;
    let (ice, clear) = (in_celsius(wanted.ice_below), in_celsius(wanted.clear_above));
    let (low, high) = (crate::equilibrium::COLDEST_CELSIUS, 0.0);
    for celsius in [ice, clear] {
        if !(low..=high).contains(&celsius) {
            let reason = "chemistry.limit.blend";
            return Err(Error::Temperature { celsius, low, high, reason });
        }
    }
    Ok(())
}

/// A mixture that does what is wanted.
#[derive(Debug, Clone)]
struct Found {
    volume: f64,
    /// Of what is put in, of each lot, as shares of it.
    shares: Vec<f64>,
    put_in: f64,
    cost: f64,
}

struct Search<'a> {
    lots: &'a [Lot],
    base: Option<(Brine, f64)>,
    wanted: &'a Wanted,
}

impl Search<'_> {
    /// The brine of so much of everything; none where it is stronger than any that is covered.
    fn brine(&self, shares: &[f64], put_in: f64) -> Option<Brine> {
        let base = self.base.iter().map(|(brine, mass)| (brine, *mass));
        let lots = self.lots.iter().zip(shares).map(|(lot, share)| (&lot.brine, share * put_in));
        let all: Vec<(&Brine, f64)> = base.chain(lots).filter(|(_, mass)| *mass > 0.0).collect();
        let whole: f64 = all.iter().map(|(_, mass)| mass).sum();
        let part = |salt: Salt| {
            let mass: f64 = all.iter().map(|(brine, mass)| brine.part(salt).fraction() * mass).sum();
            MassFraction::from_fraction(mass / whole).map(|part| (salt, part))
        };
        let parts: Vec<(Salt, MassFraction)> =
            Salt::ALL.into_iter().map(part).collect::<Result<_, _>>().ok()?;
        Brine::blend(&parts).ok()
    }

    /// How much has to be put in for a volume, kg; none where the tank holds more already, or a lot has too little.
    fn put_in(&self, shares: &[f64], volume: f64) -> Option<f64> {
        let there = self.base.map_or(0.0, |(_, mass)| mass);
        let mut put_in = (1100.0 * volume - there).max(0.0);
        // The density hardly changes: a few rounds settle it.
        for _ in 0..8 {
            let density = self.density(&self.brine(shares, put_in)?)?;
            put_in = density * volume - there;
            if put_in < -1e-6 * there {
                return None;
            }
            put_in = put_in.max(0.0);
        }
        let is_enough = self.lots.iter().zip(shares).all(|(lot, share)| {
            lot.available.is_none_or(|most| share * put_in <= in_kilograms(most) * (1.0 + 1e-9))
        });
        is_enough.then_some(put_in)
    }

    fn density(&self, brine: &Brine) -> Option<f64> {
        let density = brine.density(reference_temperature()).ok()?;
        Some(in_kilograms(density * cubic_metres(1.0)))
    }

    /// Whether a mixture has its solids where they are wanted.
    fn does(&self, brine: &Brine) -> bool {
        let Ok(found) = first_solid(brine) else { return false };
        let is_below = |at: ThermodynamicTemperature, limit: ThermodynamicTemperature| {
            in_celsius(at) <= in_celsius(limit) + 1e-9
        };
        let (ice, clear) = (self.wanted.ice_below, self.wanted.clear_above);
        let is_met = found.ice.is_none_or(|at| is_below(at, ice) && is_below(at, clear))
            && found.salt.is_none_or(|(_, at)| is_below(at, clear));
        // The liquid beside salt is weaker than the whole: ice comes sooner in it.
        let is_beside_salt = found.salt.is_some_and(|(_, at)| in_celsius(at) > in_celsius(ice));
        is_met
            && (!is_beside_salt
                || match phases(brine, ice) {
                    Ok(there) => there.of(Solid::Ice) <= 0.0,
                    // All solid, or no equilibrium found: then what is told of it.
                    Err(_) => on_cooling(brine).is_ok_and(|told| told.ice.is_none_or(|at| is_below(at, ice))),
                })
    }

    /// The mixture of some shares, where it does what is wanted; its cost is known before.
    fn tried(&self, shares: &[f64], volume: f64) -> Option<Found> {
        let put_in = self.put_in(shares, volume)?;
        let price: f64 = self.lots.iter().zip(shares).map(|(lot, share)| lot.price * share).sum();
        Some(Found { volume, shares: shares.to_vec(), put_in, cost: price * put_in })
    }

    fn is_good(&self, found: &Found) -> bool {
        self.brine(&found.shares, found.put_in).is_some_and(|brine| self.does(&brine))
    }

    /// The cheapest at a volume.
    fn at(&self, volume: f64) -> Option<Found> {
        let steps = COARSE[self.lots.len() - 1];
        let mut all: Vec<Found> = simplex(self.lots.len(), steps)
            .into_iter()
            .filter_map(|counts| {
                let shares: Vec<f64> = counts.iter().map(|n| *n as f64 / steps as f64).collect();
                self.tried(&shares, volume)
            })
            .collect();
        all.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        let mut best = all.into_iter().find(|found| self.is_good(found))?;
        let moves = moves(self.lots.len());
        let (mut step, mut moved) = (0.5 / steps as f64, 0);
        while step > FINEST {
            let near = moves.iter().filter_map(|by| {
                let shares: Vec<f64> =
                    best.shares.iter().zip(by).map(|(share, n)| share + step * n).collect();
                let is_share = shares.iter().all(|share| (-1e-12..=1.0 + 1e-12).contains(share));
                is_share.then(|| self.tried(&shares, volume)).flatten()
            });
            let mut near: Vec<Found> = near.filter(|one| one.cost < best.cost - 1e-9 * best.cost).collect();
            near.sort_by(|a, b| a.cost.total_cmp(&b.cost));
            match near.into_iter().find(|one| self.is_good(one)) {
                Some(better) if moved < MOST_MOVES => (best, moved) = (better, moved + 1),
                _ => (step, moved) = (0.5 * step, 0),
            }
        }
        Some(best)
    }

    /// A mixture moved along the edge of what is wanted while that is cheaper: some of one liquid for another, and a
    /// third exchange just far enough to come back to the edge.
    fn slid(&self, mut best: Found) -> Found {
        let count = self.lots.len();
        let pairs = || (0..count).flat_map(move |a| (0..count).filter(move |b| *b != a).map(move |b| (a, b)));
        let exchanged = |shares: &[f64], (from, to): (usize, usize), by: f64| -> Option<Vec<f64>> {
            let mut moved = shares.to_vec();
            moved[from] -= by;
            moved[to] += by;
            moved.iter().all(|share| (0.0..=1.0).contains(share)).then_some(moved)
        };
        for step in SLIDES {
            'moves: for _ in 0..MOST_MOVES {
                for first in pairs() {
                    let Some(moved) = exchanged(&best.shares, first, step) else { continue };
                    // Back from well inside to the edge, ever cheaper.
                    for second in pairs().filter(|(from, to)| self.lots[*from].price > self.lots[*to].price) {
                        let at = |by: f64| self.tried(&exchanged(&moved, second, by)?, best.volume);
                        let is_good = |by: f64| at(by).is_some_and(|found| self.is_good(&found));
                        if !is_good(-step) || is_good(step) {
                            continue;
                        }
                        let found = at(root::edge(is_good, -step, step, SLID_WITHIN));
                        if let Some(found) = found.filter(|one| one.cost < best.cost * (1.0 - 1e-6)) {
                            best = found;
                            continue 'moves;
                        }
                    }
                }
                break;
            }
        }
        best
    }

    /// First solid, °C, of the mixture that stays clear longest at a volume, for a refusal.
    fn nearest(&self, volume: f64) -> Option<f64> {
        let first = |found: &Found| -> Option<f64> {
            let brine = self.brine(&found.shares, found.put_in)?;
            first_solid(&brine).ok().map(|first| in_celsius(first.temperature))
        };
        let all = simplex(self.lots.len(), NEAREST_STEPS).into_iter().filter_map(|counts| {
            let shares: Vec<f64> = counts.iter().map(|n| *n as f64 / NEAREST_STEPS as f64).collect();
            first(&self.tried(&shares, volume)?)
        });
        all.reduce(f64::min)
    }

    fn recipe(&self, found: &Found, base_at: Option<ThermodynamicTemperature>) -> Result<Recipe, NoRecipe> {
        let missing =
            Error::NotCovered { what: "chemistry.recipe", reason: "chemistry.why.blend_not_covered" };
        let brine = self.brine(&found.shares, found.put_in).ok_or(missing)?;
        let parts: Vec<Mass> =
            found.shares.iter().map(|share| kilograms(share.max(0.0) * found.put_in)).collect();
        let there = self.base.map_or(0.0, |(_, mass)| mass);
        let stream = |brine: Brine, mass: Mass, temperature| Stream {
            portion: Portion::Brine(brine),
            mass,
            temperature,
        };
        let base = self.base.zip(base_at).map(|((brine, mass), at)| stream(brine, kilograms(mass), at));
        let lots = self.lots.iter().zip(&parts).map(|(lot, mass)| stream(lot.brine, *mass, lot.temperature));
        let streams: Vec<Stream> = base.into_iter().chain(lots).collect();
        let mass = there + found.put_in;
        Ok(Recipe {
            base: kilograms(there),
            mass: kilograms(mass),
            volume: cubic_metres(found.volume),
            cost: found.cost,
            onset: on_cooling(&brine)?,
            temperature: mix(&streams).ok().map(|mixture| mixture.temperature),
            brine,
            parts,
        })
    }
}

/// Every way to part `steps` among `count`.
fn simplex(count: usize, steps: usize) -> Vec<Vec<usize>> {
    if count == 1 {
        return vec![vec![steps]];
    }
    (0..=steps)
        .flat_map(|first| {
            simplex(count - 1, steps - first).into_iter().map(move |rest| [vec![first], rest].concat())
        })
        .collect()
}

/// Small moves of shares that leave their sum.
fn moves(count: usize) -> Vec<Vec<f64>> {
    let mut all: Vec<Vec<f64>> = vec![Vec::new()];
    for _ in 0..count {
        let longer =
            |one: &Vec<f64>| (-2..=2).map(|n| [one.as_slice(), &[f64::from(n)]].concat()).collect::<Vec<_>>();
        all = all.iter().flat_map(longer).collect();
    }
    all.retain(|one| one.iter().sum::<f64>().abs() < 0.5 && one.iter().any(|n| *n != 0.0));
    all
}
