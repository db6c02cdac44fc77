//! Why a property cannot be given.

/// A refusal. Every variant names the quantity, the value and the limits, in the words a person can act on.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Error {
    /// A strength outside what a fraction of mass can be, or outside the data.
    #[error("strength {} % by mass is outside {low}…{high} %, {reason}", tidy(*.percent))]
    Strength {
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
    #[error("density {kg_m3} kg/m³ is outside {low:.2}…{high:.2} kg/m³, {reason}")]
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
fn tidy(value: f64) -> f64 {
    format!("{value:.9}").parse().unwrap_or(value)
}
