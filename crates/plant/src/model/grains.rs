//! Grains of salt in the vessels, in cohorts that were dropped together, by size. The number of grains stays; their
//! mass goes down.

use quantity::in_metres;

use super::amounts::Amounts;
use super::equations::{Equations, Place};
use crate::layout::{Layout, SIZES};
use crate::properties::HALITE;

/// Cohorts kept apart in a vessel; the first is the one being fed.
pub(super) const COHORTS: usize = 8;
/// Time after which the cohort being fed is closed, s.
const OPEN_SECONDS: f64 = 150.0;
/// Share of a grain's mass at the end that dissolves linearly.
pub(super) const LAST_SHARE: f64 = 1e-3;
/// Share of their mass below which grains are removed at the next reading: the rest counts as dissolved.
const GONE_SHARE: f64 = 2e-3;
/// Mass below which a cohort is free for reuse, kg.
const GONE_KG: f64 = 1e-9;

/// Numbers of grains by vessel, cohort and size; their masses are in the state.
#[derive(Debug, Clone)]
pub(super) struct Grains {
    /// Mass of one grain as delivered, kg, by size.
    whole: [f64; SIZES],
    shares: [f64; SIZES],
    /// Numbers of grains by vessel, cohort and size.
    numbers: Vec<[[f64; SIZES]; COHORTS]>,
    /// Number of readings since the fed cohort was opened, by vessel.
    open: Vec<f64>,
}

impl Grains {
    pub(super) fn new(layout: &Layout) -> Self {
        let sphere = |diameter: f64| HALITE * std::f64::consts::PI / 6.0 * diameter.powi(3);
        Self {
            whole: layout.salt.sizes.map(|(size, _)| sphere(in_metres(size))),
            shares: layout.salt.sizes.map(|(_, share)| share),
            numbers: vec![[[0.0; SIZES]; COHORTS]; layout.vessels.len()],
            open: vec![0.0; layout.vessels.len()],
        }
    }

    /// Returns the numbers in a vessel by cohort and size; those of the fed cohort are in the state.
    pub(super) fn numbers(&self, vessel: usize) -> &[[f64; SIZES]; COHORTS] {
        &self.numbers[vessel]
    }

    /// Mass of one grain as delivered, kg, by size.
    pub(super) fn whole(&self) -> [f64; SIZES] {
        self.whole
    }

    /// Returns the shares of the sizes by mass.
    pub(super) fn shares(&self) -> [f64; SIZES] {
        self.shares
    }

    /// Returns the number of grains in one kilogram of salt, by size.
    pub(super) fn per_kilogram(&self) -> [f64; SIZES] {
        std::array::from_fn(|size| self.shares[size] / self.whole[size])
    }

    /// Adds salt dropped at once, kg as delivered, as a cohort of its own. Returns what came in with it.
    pub(super) fn drop_in(
        &mut self,
        equations: &Equations,
        state: &mut [f64],
        vessel: usize,
        kg: f64,
    ) -> Amounts {
        let one = equations.delivered;
        let came = Amounts {
            water: kg * one.water,
            salt: kg * one.salt,
            insolubles: kg * one.insolubles,
            heat: kg * one.heat,
        };
        let at = equations.vessel(vessel);
        state[at.water] += came.water;
        state[at.insolubles] += came.insolubles;
        state[at.heat] += came.heat;
        if let Some(first) = at.grains {
            let target = self.room(state, vessel, first);
            for (size, per_kilogram) in self.per_kilogram().into_iter().enumerate() {
                state[first + target * SIZES + size] += came.salt * self.shares[size];
                self.numbers[vessel][target][size] += came.salt * per_kilogram;
            }
        }
        came
    }

    /// Removes grains that are dissolved.
    fn forget(&mut self, state: &mut [f64], vessel: usize, place: Place) {
        let (Some(first), Some(fed)) = (place.grains, place.fed) else { return };
        for cohort in 0..COHORTS {
            for size in 0..SIZES {
                let at = first + cohort * SIZES + size;
                let number = if cohort == 0 { state[fed + size] } else { self.numbers[vessel][cohort][size] };
                let is_nothing = state[at].abs() < f64::MIN_POSITIVE && number < f64::MIN_POSITIVE;
                if is_nothing || number * self.whole[size] * GONE_SHARE < state[at] {
                    continue;
                }
                state[place.salt] += state[at];
                state[at] = 0.0;
                if cohort == 0 {
                    state[fed + size] = 0.0;
                } else {
                    self.numbers[vessel][cohort][size] = 0.0;
                }
            }
        }
    }

    /// Closes the fed cohorts that have been open for long enough, and removes what is dissolved.
    pub(super) fn turn_over(&mut self, equations: &Equations, state: &mut [f64]) {
        for vessel in 0..self.numbers.len() {
            let at = equations.vessel(vessel);
            let (Some(first), Some(fed)) = (at.grains, at.fed) else { continue };
            self.forget(state, vessel, at);
            self.open[vessel] += 1.0;
            let mass: f64 = state[first..first + SIZES].iter().sum();
            if mass <= GONE_KG || self.open[vessel] * equations.period < OPEN_SECONDS {
                continue;
            }
            self.open[vessel] = 0.0;
            let target = self.room(state, vessel, first);
            for size in 0..SIZES {
                state[first + target * SIZES + size] += state[first + size];
                self.numbers[vessel][target][size] += state[fed + size];
                state[first + size] = 0.0;
                state[fed + size] = 0.0;
            }
        }
    }

    /// Returns an empty cohort other than the fed one; else the smallest, which a new one is then merged into.
    fn room(&mut self, state: &[f64], vessel: usize, first: usize) -> usize {
        let mass = |cohort: &usize| -> f64 {
            state[first + cohort * SIZES..first + (cohort + 1) * SIZES].iter().sum()
        };
        let free = (1..COHORTS).find(|cohort| mass(cohort) <= GONE_KG);
        if let Some(free) = free {
            self.numbers[vessel][free] = [0.0; SIZES];
            return free;
        }
        (1..COHORTS).min_by(|a, b| mass(a).total_cmp(&mass(b))).unwrap_or(1)
    }
}
