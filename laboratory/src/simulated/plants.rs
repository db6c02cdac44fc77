//! The plants that trim advice is proven on, drawn by chance. Written before the advice was, and not changed
//! to suit it.
//!
//! A plant holds its panel at the target. Where the panel shows `d` per cent more than is true, the brine it makes is
//! `d` weaker than the target; so what a trim must bring to zero is d, and a d far below zero is brine beyond the band.

use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use statrs::distribution::{ContinuousCDF, Normal};

/// Strength that every plant is to make, per cent by mass.
pub const TARGET: f64 = 23.3;
/// Weakest and strongest brine in spec, per cent by mass.
pub const BAND: (f64, f64) = (22.8, 23.8);
/// Seeds on which the advice's and the habit's own numbers were chosen.
pub const TUNING: std::ops::Range<u64> = 0..5_000;
/// Seeds that were held out.
pub const HELD_OUT: std::ops::Range<u64> = 5_000..10_000;

/// Number on the controller at the start, evenly in its logarithm. It takes whole units.
const NUMBER: (f64, f64) = (100.0, 1_000.0);
/// Change of the panel, per cent by mass, for one per cent of the number; evenly in its logarithm, up or down alike.
const PULL: (f64, f64) = (0.1, 1.0);
/// Relative change of the pull over a tenth of the number, evenly to either side.
const BEND: f64 = 0.2;
/// Standard deviation of what the panel is off by at the start, per cent by mass, and its most.
const OFF: (f64, f64) = (0.7, 2.0);
/// How far that wanders by itself, per cent by mass for the square root of an hour.
const WANDER: f64 = 0.05;
/// Minutes that a change takes to come through by 63 %, evenly in the logarithm.
const LAG_MINUTES: (f64, f64) = (2.0, 12.0);
/// Standard uncertainty of a sample at the bench, per cent by mass, evenly.
const BENCH: (f64, f64) = (0.06, 0.15);
/// Standard deviation of the panel, per cent by mass, evenly.
const PANEL: (f64, f64) = (0.03, 0.12);

/// One plant, running.
pub struct Plant {
    random: StdRng,
    normal: Normal,
    start: f64,
    pull: f64,
    bend: f64,
    off: f64,
    /// What the panel shows too much by now, per cent by mass.
    difference: f64,
    /// The number on its controller.
    pub number: f64,
    /// Minutes since the start.
    pub minutes: f64,
    /// Its lag, as a build-up run would have shown it.
    pub lag_minutes: f64,
    /// Standard uncertainty of one bench sample, as the bench would state it.
    pub bench_uncertainty: f64,
    /// Standard deviation of the panel, as its chart would show it.
    pub panel_uncertainty: f64,
}

/// One look at a plant.
pub struct Look {
    /// Strength on the panel, per cent by mass.
    pub panel: f64,
    /// Strength at the bench.
    pub bench: f64,
    /// The truth, which nobody at the plant knows.
    pub truth: f64,
}

impl Plant {
    /// The plant of a seed, settled at its first number.
    pub fn new(seed: u64) -> Self {
        let mut random = StdRng::seed_from_u64(seed);
        let normal = Normal::standard();
        let even_log = |random: &mut StdRng, (low, high): (f64, f64)| {
            low * (high / low).powf(random.random_range(0.0..1.0))
        };
        let start = even_log(&mut random, NUMBER).round();
        let sign = if random.random_range(0.0..1.0) < 0.5 { -1.0 } else { 1.0 };
        let pull = sign * even_log(&mut random, PULL);
        let bend = random.random_range(-BEND..BEND);
        let lag_minutes = even_log(&mut random, LAG_MINUTES);
        let bench_uncertainty = random.random_range(BENCH.0..BENCH.1);
        let panel_uncertainty = random.random_range(PANEL.0..PANEL.1);
        let off = OFF.0 * normal.inverse_cdf(random.random_range(1e-9..1.0 - 1e-9));
        let off = off.clamp(-OFF.1, OFF.1);
        Self {
            random,
            normal,
            start,
            pull,
            bend,
            off,
            difference: off,
            number: start,
            minutes: 0.0,
            lag_minutes,
            bench_uncertainty,
            panel_uncertainty,
        }
    }

    fn bell(&mut self) -> f64 {
        self.normal.inverse_cdf(self.random.random_range(1e-9..1.0 - 1e-9))
    }

    /// What the panel will show too much by once all has come through.
    fn settled(&self) -> f64 {
        let change = 100.0 * (self.number / self.start - 1.0);
        self.off + self.pull * change * (1.0 + self.bend * change / 10.0)
    }

    /// Sets the number, in whole units.
    pub fn set(&mut self, number: f64) {
        self.number = number.round().max(1.0);
    }

    /// Lets time go by.
    pub fn run(&mut self, minutes: f64) {
        self.off += WANDER * (minutes / 60.0).sqrt() * self.bell();
        let through = 1.0 - (-minutes / self.lag_minutes).exp();
        self.difference += (self.settled() - self.difference) * through;
        self.minutes += minutes;
    }

    /// Reads the panel and takes a sample to the bench.
    pub fn look(&mut self) -> Look {
        let truth = TARGET - self.difference;
        let panel = TARGET + self.panel_uncertainty * self.bell();
        let bench = truth + self.bench_uncertainty * self.bell();
        Look { panel, bench, truth }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A step moves the brine as the plant's pull says, after its lag and not before: 1 − 1/e of it after one lag, on
    /// the mean of many plants that wander as well.
    #[test]
    fn a_step_comes_through() {
        let part = |seed: u64| {
            let mut plant = Plant { pull: 0.5, bend: 0.0, ..Plant::new(seed) };
            let before = plant.difference;
            plant.set(plant.number * 1.02);
            let change = 100.0 * (plant.number / plant.start - 1.0);
            plant.run(plant.lag_minutes);
            (plant.difference - before) / (0.5 * change)
        };
        let mean = (0..2_000).map(part).sum::<f64>() / 2_000.0;
        assert!((mean - 0.632).abs() < 0.01, "{mean} after one lag");
    }

    /// The drawn plants are spread as written.
    #[test]
    fn plants_are_spread_as_written() {
        let plants: Vec<Plant> = (0..2_000).map(Plant::new).collect();
        let share = |of: &dyn Fn(&Plant) -> bool| plants.iter().filter(|p| of(p)).count() as f64 / 2_000.0;
        assert!((share(&|p| 0.0 < p.pull) - 0.5).abs() < 0.05);
        assert!((share(&|p| p.off < -0.5) - 0.238).abs() < 0.04);
        assert!((share(&|p| p.pull.abs() < 0.316) - 0.5).abs() < 0.05);
        assert!(plants.iter().all(|p| (100.0..=1_000.0).contains(&p.number) && p.off.abs() <= 2.0));
    }
}
