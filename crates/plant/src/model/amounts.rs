//! What goes into a plant's equations and what they say it holds.

use quantity::in_celsius;

use crate::layout::Layout;
use crate::properties::Properties;

/// Commands of a plant: 0 is shut or off, 1 is wide open or full.
#[derive(Debug, Clone, PartialEq)]
pub struct Commands {
    /// Share of full flow of each line.
    pub lines: Vec<f64>,
    /// Share of full speed of each feeder.
    pub feeders: Vec<f64>,
}

/// Masses and heat: kg, kg, kg, J.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Amounts {
    /// Mass of water, kg.
    pub water: f64,
    /// Mass of sodium chloride, dissolved or not, kg.
    pub salt: f64,
    /// Mass of what does not dissolve, kg.
    pub insolubles: f64,
    /// Enthalpy, J; zero for water and solids at 25 °C.
    pub heat: f64,
}

/// Content of a vessel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Holds {
    /// Strength of its liquid, as a mass fraction.
    pub strength: f64,
    /// Temperature of its content, °C.
    pub degrees: f64,
    /// Volume of its liquid, m³.
    pub liquid_m3: f64,
    /// Share of its volume that is filled, solids included.
    pub level: f64,
    /// Undissolved salt, kg.
    pub undissolved_kg: f64,
    /// Insolubles settled in it, kg.
    pub sludge_kg: f64,
}

/// How a plant differs from its layout: factors on what the layout says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Factors {
    /// Factor on the grain surface that liquid reaches.
    pub reached: f64,
    /// Factor on what a feeder drops.
    pub feed: f64,
    /// Factor on what a supply line gives.
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
