//! The models that follow a plant.

use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};

use super::{Seen, advance, moments};
use crate::Error;
use crate::layout::{Layout, Sensed};
use crate::model::{Factors, Plant};

/// Models that follow a run.
const MEMBERS: usize = 20;

/// Prior knowledge of a plant: for reached, feed and water the likeliest factor on what its layout says, and the
/// standard deviation of its logarithm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// Likeliest factors: reached, feed, water.
    pub factors: [f64; 3],
    /// Standard deviations of their logarithms.
    pub spreads: [f64; 3],
}

impl Default for Prior {
    /// A wide prior that knows only the layout.
    fn default() -> Self {
        Self { factors: [1.0; 3], spreads: [0.4, 0.3, 0.3] }
    }
}

impl Prior {
    /// Draws a plant as it may be; the same seed and number give the same one.
    pub fn draw(&self, seed: u64, number: u64) -> Factors {
        self.drawn(&mut StdRng::seed_from_u64(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ number))
    }

    fn drawn(&self, random: &mut StdRng) -> Factors {
        let [reached, feed, water] =
            std::array::from_fn(|one| self.factors[one] * (self.spreads[one] * bell(random)).exp());
        Factors { reached, feed, water }
    }
}
/// Share of that spread that comes back in an hour, so that it goes on learning.
const RENEWED: f64 = 0.08;
/// Factor on the variance of a reading, since neighboring readings are correlated.
const CAUTION: f64 = 6.0;

/// Returns the standard deviation of a reading about a right model's: noise, and the coarseness of the model. It and
/// `expected` are in the unit of the sensor.
pub fn allowance(layout: &Layout, sensor: usize, expected: f64) -> f64 {
    let one = &layout.sensors[sensor];
    let coarse = match one.of {
        Sensed::Strength { .. } => 0.15,
        Sensed::Temperature { .. } => 0.2,
        Sensed::Bed { .. } => 40.0,
        Sensed::Level { .. } => 0.006,
        Sensed::Flow { .. } => 0.02 * expected.abs() + 3e-6,
    };
    one.noise.hypot(coarse)
}

/// Level below which a probe in a vessel is not covered, as a share of the volume.
const COVERED: f64 = 0.05;

/// Whether a sensor's reading means anything; a probe in an empty vessel's does not.
pub(super) fn says_something(layout: &Layout, plant: &Plant, sensor: usize) -> bool {
    match layout.sensors[sensor].of {
        Sensed::Strength { vessel, .. } | Sensed::Temperature { vessel } => {
            COVERED < plant.holds(vessel).level
        }
        Sensed::Bed { .. } | Sensed::Level { .. } | Sensed::Flow { .. } => true,
    }
}

pub(crate) struct Ensemble {
    members: Vec<Plant>,
    layout: Layout,
    random: StdRng,
    /// Share of the prior's spread that comes back in an hour.
    renewed: f64,
}

fn bell(random: &mut StdRng) -> f64 {
    (0..12).map(|_| random.random::<f64>()).sum::<f64>() - 6.0
}

impl Ensemble {
    pub(super) fn new(plant: &Plant, prior: &Prior, seed: u64) -> Self {
        Self::of(plant, prior, seed, MEMBERS, RENEWED)
    }

    pub(crate) fn of(plant: &Plant, prior: &Prior, seed: u64, members: usize, renewed: f64) -> Self {
        let mut random = StdRng::seed_from_u64(seed);
        let members = (0..members)
            .map(|_| {
                let mut member = plant.clone();
                member.by_hand(true);
                member.tune(prior.drawn(&mut random));
                member
            })
            .collect();
        Self { members, layout: plant.layout().clone(), random, renewed }
    }

    /// Returns copies of some of the models.
    pub(super) fn some(&self, count: usize) -> Vec<Plant> {
        self.members.iter().take(count).cloned().collect()
    }

    /// Returns means and standard deviations of the logarithms of the factors.
    pub(crate) fn logarithms(&self) -> [(f64, f64); 3] {
        let of = |part: &dyn Fn(&Factors) -> f64| {
            moments(self.members.iter().map(|one| part(&one.factors()).ln()))
        };
        [of(&|one| one.reached), of(&|one| one.feed), of(&|one| one.water)]
    }

    pub(super) fn learned(&self) -> [(f64, f64); 3] {
        let of =
            |part: &dyn Fn(&Factors) -> f64| moments(self.members.iter().map(|one| part(&one.factors())));
        [of(&|one| one.reached), of(&|one| one.feed), of(&|one| one.water)]
    }

    /// Runs all models for one period and updates them by the readings.
    pub(crate) fn follow(&mut self, seen: &Seen, period: f64) -> Result<(), Error> {
        advance(&mut self.members, seen, period)?;
        let renewed = self.renewed * (period / 3600.0).sqrt();
        let layout = self.layout.clone();
        for sensor in 0..layout.sensors.len() {
            let vessel = match layout.sensors[sensor].of {
                Sensed::Strength { vessel, .. }
                | Sensed::Temperature { vessel }
                | Sensed::Bed { vessel }
                | Sensed::Level { vessel } => vessel,
                Sensed::Flow { .. } => 0,
            };
            let expected: Vec<f64> = self.members.iter().map(|one| one.expects()[sensor]).collect();
            let (mean, spread) = moments(expected.iter().copied());
            let off = allowance(&layout, sensor, mean);
            let noise = CAUTION * off * off;
            let is_told = self.members.iter().all(|one| says_something(&layout, one, sensor));
            if spread < 1e-9 * off || !is_told {
                continue;
            }
            // Gains of a scalar update, by the ensemble's own covariances; each member sees a noisy copy.
            let parts: Vec<[f64; 7]> = self.members.iter().map(|one| parts(one, vessel)).collect();
            let means: [f64; 7] = std::array::from_fn(|part| {
                parts.iter().map(|one| one[part]).sum::<f64>() / parts.len() as f64
            });
            let gains: [f64; 7] = std::array::from_fn(|part| {
                let covariance: f64 = parts
                    .iter()
                    .zip(&expected)
                    .map(|(one, shown)| (one[part] - means[part]) * (shown - mean))
                    .sum::<f64>()
                    / (parts.len() - 1) as f64;
                covariance / (spread * spread + noise)
            });
            for (member, shown) in self.members.iter_mut().zip(&expected) {
                let miss = seen.shown[sensor] + noise.sqrt() * bell(&mut self.random) - shown;
                let change = gains.map(|gain| gain * miss);
                let now = member.factors();
                let held = |value: f64, by: f64| (value.ln() + by.clamp(-0.3, 0.3)).clamp(-2.0, 1.5).exp();
                member.tune(Factors {
                    reached: held(now.reached, change[0]),
                    feed: held(now.feed, change[1]),
                    water: held(now.water, change[2]),
                });
                let solids = change[6].clamp(-0.2, 0.2).exp();
                member.nudge(vessel, change[3], change[4], change[5].clamp(-2.0, 2.0), solids);
            }
        }
        for member in &mut self.members {
            let now = member.factors();
            let mut wander =
                |value: f64| (value.ln() + renewed * bell(&mut self.random)).clamp(-2.0, 1.5).exp();
            member.tune(Factors {
                reached: wander(now.reached),
                feed: wander(now.feed),
                water: wander(now.water),
            });
        }
        Ok(())
    }
}

/// Returns what an update changes: logarithms of the factors, salt, water, temperature, and the logarithm of the
/// solids.
fn parts(plant: &Plant, vessel: usize) -> [f64; 7] {
    let (factors, holds) = (plant.factors(), plant.holds(vessel));
    let liquid = 1000.0 * holds.liquid_m3 * (1.0 + 0.75 * holds.strength);
    [
        factors.reached.ln(),
        factors.feed.ln(),
        factors.water.ln(),
        liquid * holds.strength,
        liquid * (1.0 - holds.strength),
        holds.degrees,
        holds.undissolved_kg.max(1.0).ln(),
    ]
}
