//! What the sensors respond to, and how they follow it.

use super::{Equations, Liquid};
use crate::layout::Sensed;

impl Equations {
    /// Returns what a sensor responds to, without lag and fault: strength as conductivity, mS/cm.
    fn truth(&self, sensed: Sensed, liquids: &[Liquid], state: &[f64]) -> f64 {
        match sensed {
            Sensed::Strength { vessel, .. } => liquids[vessel].known.conductivity,
            Sensed::Temperature { vessel } => liquids[vessel].degrees,
            Sensed::Bed { vessel } => self.undissolved(state, vessel),
            Sensed::Level { vessel } => liquids[vessel].filled / self.tanks[vessel].volume,
            Sensed::Flow { line } => self.runs.get(line).map_or(0.0, |run| self.run_of(run, liquids, state)),
        }
    }

    /// Computes what every sensor responds to, without lag and fault, in the unit of [`Self::truth`].
    pub(in crate::model) fn truths(&self, state: &[f64], liquids: &[Liquid], truths: &mut Vec<f64>) {
        truths.clear();
        truths.extend(self.sensed.iter().map(|sensed| self.truth(*sensed, liquids, state)));
    }

    /// Updates the lagged values after some seconds in which the true values changed linearly: the exact response of a
    /// first-order lag to a ramp.
    pub(in crate::model) fn follow(&self, followed: &mut [f64], from: &[f64], to: &[f64], seconds: f64) {
        for (place, value) in followed.iter_mut().enumerate() {
            let lag = self.lags[place];
            let slope = (to[place] - from[place]) / seconds;
            let left = (-seconds / lag).exp();
            *value = to[place] - slope * lag + (*value - from[place] + slope * lag) * left;
        }
    }
}
