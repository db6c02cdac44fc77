//! Grains of salt in the vessels: cohorts of like grains that came together, each in its sizes. A grain keeps its
//! number and loses its mass.

use quantity::in_metres;

use super::amounts::Amounts;
use super::equations::{Equations, Place};
use crate::layout::{Layout, SIZES};
use crate::properties::HALITE;

/// Cohorts kept apart in a vessel; the first is the one being fed.
pub(super) const COHORTS: usize = 8;
/// The fed cohort is closed when it has been fed for so long, s.
const OPEN_SECONDS: f64 = 150.0;
/// The last share of a grain's mass, which goes in a straight line.
pub(super) const LAST_SHARE: f64 = 1e-3;
/// Grains with less than this share of their mass left are gone at the next look: what is left counts as dissolved.
const GONE_SHARE: f64 = 2e-3;
/// A cohort with less than this left is free, kg.
const GONE_KG: f64 = 1e-9;

/// Numbers of grains by vessel, cohort and size; their masses are in the state.
#[derive(Debug, Clone)]
pub(super) struct Grains {
    /// Mass of one grain as it comes, kg, by size.
    whole: [f64; SIZES],
    shares: [f64; SIZES],
    /// By vessel.
    numbers: Vec<[[f64; SIZES]; COHORTS]>,
    /// How many looks ago the fed cohort was opened, by vessel.
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

    /// Numbers in a vessel by cohort and size; those of the fed cohort stand in the state.
    pub(super) fn numbers(&self, vessel: usize) -> &[[f64; SIZES]; COHORTS] {
        &self.numbers[vessel]
    }

    /// Mass of one grain as it comes, kg, by size.
    pub(super) fn whole(&self) -> [f64; SIZES] {
        self.whole
    }

    /// Shares of the sizes by mass.
    pub(super) fn shares(&self) -> [f64; SIZES] {
        self.shares
    }

    /// Grains that come with one kilogram of salt, by size.
    pub(super) fn per_kilogram(&self) -> [f64; SIZES] {
        std::array::from_fn(|size| self.shares[size] / self.whole[size])
    }

    /// Salt dropped at once, kg as delivered, as a cohort of its own; what came with it.
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

    /// Lets go of grains that are gone.
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

    /// Closes the fed cohorts that have been open for long enough, and forgets what is gone.
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

    /// A cohort that is gone, beyond the fed one; else the smallest, which a new one then joins.
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
