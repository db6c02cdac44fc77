//! What cannot be worked out of a set of readings, and why.

/// Why a reading, or a set of them, gives no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Error {
    /// Fewer readings than the method needs.
    #[error("{what}: {found} given; at least {needed} are needed")]
    TooFew {
        /// What was to be worked out.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many there must be.
        needed: usize,
    },
    /// A number that cannot be what it is given as.
    #[error("{what} {value}: accepted is {accepted}")]
    Value {
        /// What the number is.
        what: &'static str,
        /// The number.
        value: f64,
        /// What is accepted.
        accepted: &'static str,
    },
    /// Readings that do not determine the answer.
    #[error("{what}: {reason}")]
    Undetermined {
        /// What was to be worked out.
        what: &'static str,
        /// Why it cannot be.
        reason: &'static str,
    },
    /// A reading that no brine of this solute gives.
    #[error("reading {reading} is off the scale: brine of this salt shows {low:.4}…{high:.4} there")]
    OffScale {
        /// What was read.
        reading: f64,
        /// Least that is shown.
        low: f64,
        /// Most that is shown.
        high: f64,
    },
    /// The temperature of the sample decides, and was not given.
    #[error("temperature missing: this instrument says nothing about strength without it")]
    TemperatureMissing,
    /// The science below refuses.
    #[error(transparent)]
    Chemistry(#[from] chemistry::Error),
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

message::tell_as_said!(Error);
