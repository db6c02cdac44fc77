//! What cannot be calculated from a set of readings, and why.
//!
//! What was to be calculated, and why it cannot be, are ids of texts: the sentence is written elsewhere, in the
//! reader's language and units.

use message::{Arg, Message, Tell, message};

/// Why a reading, or a set of them, gives no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub enum Error {
    /// Fewer readings than the method needs.
    TooFew {
        /// What was to be calculated.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many there must be.
        needed: usize,
    },
    /// A number that cannot be what it is given as.
    Value {
        /// What the number is; its text names the unit.
        what: &'static str,
        /// The number. A temperature is in °C, its ± in K.
        value: f64,
        /// What is accepted.
        accepted: &'static str,
    },
    /// Readings that do not determine the answer.
    Undetermined {
        /// What was to be calculated.
        what: &'static str,
        /// Why it cannot be.
        reason: &'static str,
    },
    /// A reading that no brine of this solute gives.
    OffScale {
        /// What was read.
        reading: f64,
        /// Least that is shown.
        low: f64,
        /// Most that is shown.
        high: f64,
    },
    /// A sample too cold or too warm for the temperature compensation of a refractometer.
    Compensation {
        /// Temperature of the sample, °C.
        celsius: f64,
        /// Coldest that is compensated, °C.
        low: f64,
        /// Warmest that is compensated, °C.
        high: f64,
    },
    /// The temperature of the sample decides, and was not given.
    TemperatureMissing,
    /// The science below refuses.
    Chemistry(#[from] chemistry::Error),
}

impl Tell for Error {
    fn message(&self) -> Message {
        let text = |id: &'static str| Message::new(id);
        match self {
            Error::TooFew { what, found, needed } => {
                message!("bench.too_few", what = text(what), found = *found, needed = *needed)
            }
            Error::Value { what, value, accepted } => {
                let shown = match *what {
                    "bench.quantity.freezing_point" => Arg::Celsius(*value),
                    "bench.quantity.temperature_half_width" => Arg::Kelvins(*value),
                    _ => Arg::Number(*value),
                };
                message!("bench.value", what = text(what), value = shown, accepted = text(accepted))
            }
            Error::Undetermined { what, reason } => {
                message!("bench.undetermined", what = text(what), reason = text(reason))
            }
            Error::OffScale { reading, low, high } => {
                message!("bench.off_scale", reading = *reading, low = (*low, 4), high = (*high, 4))
            }
            Error::Compensation { celsius, low, high } => message!(
                "bench.compensation",
                temperature = Arg::Celsius(*celsius),
                low = Arg::Celsius(*low),
                high = Arg::Celsius(*high)
            ),
            Error::TemperatureMissing => message!("bench.temperature_missing"),
            Error::Chemistry(error) => error.message(),
        }
    }
}

/// Refuses a number that is not finite, or does not hold.
pub(crate) fn check(
    what: &'static str,
    value: f64,
    accepted: &'static str,
    holds: bool,
) -> Result<(), Error> {
    if value.is_finite() && holds { Ok(()) } else { Err(Error::Value { what, value, accepted }) }
}
