//! What the sensors show: lagged, noisy, and with their faults.

use quantity::in_kelvins;

use super::equations::{Equations, Liquid};
use crate::fault::Fault;
use crate::layout::{Layout, Sensed};

impl Equations {
    /// Returns what every sensor shows, in its own unit: strength in per cent by mass, °C, share of volume, m³/s.
    pub(super) fn shown(
        &self,
        layout: &Layout,
        liquids: &[Liquid],
        followed: &[f64],
        noise: &[f64],
        faults: &[Fault],
    ) -> Vec<f64> {
        layout
            .sensors
            .iter()
            .enumerate()
            .map(|(place, sensor)| {
                let followed = followed[place];
                let shown = match sensor.of {
                    Sensed::Strength { vessel, probe } => {
                        let answered = faults.iter().fold(followed, |cell, fault| match fault {
                            Fault::FouledCell { sensor, share } if *sensor == place => cell * share,
                            Fault::UncoveredCell { sensor } if *sensor == place => 0.0,
                            _ => cell,
                        });
                        let degrees = liquids[vessel].degrees + in_kelvins(probe);
                        let percent = 100.0 * self.properties.strength_conducting(answered, degrees);
                        faults.iter().fold(percent, |percent, fault| match fault {
                            Fault::DriftedTrim { factor } => percent * factor,
                            _ => percent,
                        })
                    }
                    Sensed::Flow { .. } => faults.iter().fold(followed, |flow, fault| match fault {
                        Fault::MeterDrift { sensor, factor } if *sensor == place => flow * factor,
                        _ => flow,
                    }),
                    Sensed::Temperature { .. } | Sensed::Level { .. } | Sensed::Bed { .. } => followed,
                };
                let shown = shown + sensor.noise * noise[place];
                if matches!(sensor.of, Sensed::Temperature { .. }) { shown } else { shown.max(0.0) }
            })
            .collect()
    }
}
