//! Why a property cannot be given.

use crate::solid::Solid;

/// A refusal. Every variant names the quantity, the value and the limits, in the words a person can act on.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Error {
    /// A strength outside what a fraction of mass can be, or outside the data.
    #[error("{what} {} % by mass is outside {low}…{} %, {reason}", tidy(*.percent), tidy(*.high))]
    Strength {
        /// What it is a strength of: "strength", a salt, or all together.
        what: &'static str,
        /// The refused value, per cent by mass.
        percent: f64,
        /// Lowest accepted value, per cent by mass.
        low: f64,
        /// Highest accepted value, per cent by mass.
        high: f64,
        /// What sets the limit.
        reason: &'static str,
    },
    /// A temperature outside the data.
    #[error("temperature {} °C is outside {low}…{high} °C, {reason}", tidy(*.celsius))]
    Temperature {
        /// The refused value, °C.
        celsius: f64,
        /// Lowest accepted value, °C.
        low: f64,
        /// Highest accepted value, °C.
        high: f64,
        /// What sets the limit.
        reason: &'static str,
    },
    /// A density (or relative density) that no brine in range has.
    #[error("density {} kg/m³ is outside {low:.2}…{high:.2} kg/m³, {reason}", tidy(*.kg_m3))]
    Density {
        /// The refused value, kg/m³.
        kg_m3: f64,
        /// Lowest accepted value, kg/m³.
        low: f64,
        /// Highest accepted value, kg/m³.
        high: f64,
        /// What sets the limit.
        reason: &'static str,
    },
    /// A reading that no brine in range gives.
    #[error("{quantity} {} is outside {low:.5}…{high:.5}, {reason}", tidy(*.value))]
    Reading {
        /// What was read, with its unit.
        quantity: &'static str,
        /// The refused value.
        value: f64,
        /// Lowest value a brine in range gives.
        low: f64,
        /// Highest value a brine in range gives.
        high: f64,
        /// What sets the limit.
        reason: &'static str,
    },
    /// More salt than stays dissolved at a temperature.
    #[error(
        "{} % {what} by mass does not stay dissolved at {} °C: {solid} drops out, down to {most:.2} %",
        tidy(*.percent),
        tidy(*.celsius)
    )]
    Supersaturated {
        /// The salt.
        what: &'static str,
        /// The refused strength of it, per cent by mass.
        percent: f64,
        /// The temperature, °C.
        celsius: f64,
        /// What drops out.
        solid: Solid,
        /// Strength that stays dissolved, per cent by mass.
        most: f64,
    },
    /// Colder than its first solid: part of the brine is frozen.
    #[error("at {} °C this brine is partly frozen; it is all liquid down to {liquid_to:.2} °C", tidy(*.celsius))]
    PartlyFrozen {
        /// The temperature, °C.
        celsius: f64,
        /// Where its first solid appears, °C.
        liquid_to: f64,
    },
    /// Something this crate does not predict.
    #[error("{what}: {reason}")]
    NotCovered {
        /// The property.
        what: &'static str,
        /// Why not, and what to do instead.
        reason: &'static str,
    },
    /// A quantity that must be finite and positive, and is not.
    #[error("{quantity} {value} is not usable: {accepted}")]
    NotUsable {
        /// What was given.
        quantity: &'static str,
        /// The refused value, in the unit the quantity's name states.
        value: f64,
        /// What is accepted.
        accepted: &'static str,
    },
}

/// A value without the digits that conversion between units adds, so that a message shows what was given.
fn tidy(value: f64) -> String {
    if value.abs() < 1e9 {
        // Parsed once more so that no zeros trail.
        let shown = format!("{value:.9}").parse::<f64>().unwrap_or(value);
        format!("{shown}")
    } else {
        format!("{value:e}")
    }
}

message::tell_as_said!(Error);
