//! Why a property cannot be given.
//!
//! What was refused, and why, are ids of texts: the sentence is written elsewhere, in the reader's language and units.

use message::{Arg, Message, Tell, message};

use crate::solid::Solid;

/// A refusal. Every variant names the quantity, the value and the limits; names and reasons are ids of texts.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub enum Error {
    /// A strength outside what a fraction of mass can be, or outside the data.
    Strength {
        /// What it is a strength of: the brine, a salt, or all salts together.
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
    Reading {
        /// What was read; its text names the unit.
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
    Supersaturated {
        /// Text id of the salt that is too strong, such as `chemistry.salt.nacl`.
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
    PartlyFrozen {
        /// The temperature, °C.
        celsius: f64,
        /// Where its first solid appears, °C.
        liquid_to: f64,
    },
    /// Something this crate does not predict.
    NotCovered {
        /// Text id of what was asked for: a property, a reading or a calculation.
        what: &'static str,
        /// Why not, and what to do instead.
        reason: &'static str,
    },
    /// A quantity that must be finite and positive, and is not.
    NotUsable {
        /// What was given. An id that begins with `chemistry.mass.` is of a mass, in kg; with `chemistry.volume.`, of a
        /// volume, in m³.
        quantity: &'static str,
        /// The refused value; where it is no mass and no volume, in the unit that its text names.
        value: f64,
        /// What is accepted.
        accepted: &'static str,
    },
}

/// Ids of what is a mass begin so: the value is kg, and shown in the reader's unit.
const MASS: &str = "chemistry.mass.";
/// Ids of what is a volume begin so: the value is m³, and shown in the reader's unit.
const VOLUME: &str = "chemistry.volume.";

impl Tell for Error {
    fn message(&self) -> Message {
        let text = |id: &'static str| Message::new(id);
        match *self {
            Error::Strength { what, percent, low, high, reason } => message!(
                "chemistry.strength_outside",
                what = text(what),
                percent = percent,
                low = low,
                high = high,
                reason = text(reason)
            ),
            Error::Temperature { celsius, low, high, reason } => message!(
                "chemistry.temperature_outside",
                temperature = Arg::Celsius(celsius),
                low = Arg::Celsius(low),
                high = Arg::Celsius(high),
                reason = text(reason)
            ),
            Error::Density { kg_m3, low, high, reason } => message!(
                "chemistry.density_outside",
                density = kg_m3,
                low = rounded(low, 2),
                high = rounded(high, 2),
                reason = text(reason)
            ),
            Error::Reading { quantity, value, low, high, reason } => message!(
                "chemistry.reading_outside",
                quantity = text(quantity),
                value = value,
                low = rounded(low, 5),
                high = rounded(high, 5),
                reason = text(reason)
            ),
            Error::Supersaturated { what, percent, celsius, solid, most } => message!(
                "chemistry.supersaturated",
                salt = text(what),
                percent = rounded(percent, 2),
                temperature = Arg::Celsius(celsius),
                solid = &solid,
                most = rounded(most, 2)
            ),
            Error::PartlyFrozen { celsius, liquid_to } => message!(
                "chemistry.partly_frozen",
                temperature = Arg::Celsius(celsius),
                liquid_to = Arg::Celsius(liquid_to)
            ),
            Error::NotCovered { what, reason } => {
                message!("chemistry.not_covered", what = text(what), reason = text(reason))
            }
            Error::NotUsable { quantity, value, accepted } => {
                let shown = match quantity {
                    mass if mass.starts_with(MASS) => Arg::MassKg(value),
                    volume if volume.starts_with(VOLUME) => Arg::VolumeM3(value),
                    _ => Arg::Number(value),
                };
                message!(
                    "chemistry.not_usable",
                    quantity = text(quantity),
                    value = shown,
                    accepted = text(accepted)
                )
            }
        }
    }
}

/// A value to so many decimals at most: without zeros behind.
fn rounded(value: f64, decimals: i32) -> f64 {
    let scale = 10f64.powi(decimals);
    (value * scale).round() / scale
}
