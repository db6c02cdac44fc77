//! What goes into a plant's equations and what they say it holds.

use quantity::in_celsius;

use crate::layout::Layout;
use crate::properties::Properties;

/// What a plant is told: 0 shut or off, 1 wide open or at full.
#[derive(Debug, Clone, PartialEq)]
pub struct Commands {
    /// By line.
    pub lines: Vec<f64>,
    /// By feeder.
    pub feeders: Vec<f64>,
}

/// Mass of each and heat: kg, kg, kg, J.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Amounts {
    /// Water.
    pub water: f64,
    /// Sodium chloride, dissolved or not.
    pub salt: f64,
    /// What does not dissolve.
    pub insolubles: f64,
    /// Enthalpy, zero for water and solids at 25 °C.
    pub heat: f64,
}

/// What a vessel holds now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Holds {
    /// Strength of its liquid, as a fraction.
    pub strength: f64,
    /// °C.
    pub degrees: f64,
    /// Liquid, m³.
    pub liquid_m3: f64,
    /// Share of its volume that is filled, solids included.
    pub level: f64,
    /// Salt that lies undissolved, kg.
    pub undissolved_kg: f64,
    /// Insolubles in it, kg.
    pub sludge_kg: f64,
}

/// What is not known of a plant beforehand: factors on what its layout says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Factors {
    /// On the surface that is reached.
    pub reached: f64,
    /// On what a feeder drops.
    pub feed: f64,
    /// On what a supply line gives.
    pub water: f64,
}

impl Default for Factors {
    fn default() -> Self {
        Self { reached: 1.0, feed: 1.0, water: 1.0 }
    }
}

/// Salt as delivered by what is in it: water, salt, insolubles, and its heat, for one kilogram.
pub(super) fn delivered(layout: &Layout, properties: &Properties) -> Amounts {
    let salt = &layout.salt;
    let moisture = salt.moisture.fraction();
    let dry = 1.0 - moisture;
    let degrees = in_celsius(salt.temperature);
    let heat = moisture * properties.enthalpy(0.0, degrees).0
        + dry * crate::properties::SOLID_HEAT * (degrees - crate::properties::ZERO_HEAT);
    Amounts {
        water: moisture,
        salt: dry * salt.purity.fraction(),
        insolubles: dry * (1.0 - salt.purity.fraction()),
        heat,
    }
}
