//! Why there is no plan.

use jiff::Timestamp;
use message::{Message, Tell, message};

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// The window lies outside the forecast.
    #[error("{}", self.message())]
    NothingCovered {
        /// First hour of the plan.
        from: Timestamp,
        /// Time of the forecast's last value, where it has any.
        latest: Option<Timestamp>,
    },
    /// The window crosses a gap that may not be filled.
    #[error("{}", self.message())]
    Gap {
        /// What is missing.
        of: GapOf,
        /// Start of the gap.
        from: Timestamp,
        /// End of the gap.
        to: Timestamp,
    },
    /// Fewer than 1 or more than 240 hours were requested.
    #[error("{}", self.message())]
    Hours {
        /// Length of the plan as requested, hours.
        hours: usize,
    },
    /// The yard's time zone is not in the zone data.
    #[error("{}", self.message())]
    Zone {
        /// Name of the zone in the yard file.
        zone: String,
    },
    /// The plant makes nothing.
    #[error(transparent)]
    Plant(#[from] plant::Error),
    /// A brine outside the data.
    #[error(transparent)]
    Chemistry(#[from] chemistry::Error),
    /// A balance of the plan does not close to 1e-9: a fault of this program, so the plan is not shown.
    #[error("{}", self.message())]
    DoesNotClose {
        /// What the balance that does not close is about.
        balance: BalanceOf,
        /// Error, as a share of the amount.
        share: f64,
    },
}

/// What a forecast lacks in a gap.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GapOf {
    /// Air and pavement temperature.
    Temperature,
    /// Precipitation and its probability.
    Precipitation,
}

/// What a balance of the plan is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BalanceOf {
    /// Volume of brine.
    Brine,
    /// Mass of sodium chloride.
    Salt,
    /// Mass of water.
    Water,
}

impl Tell for PlanError {
    fn message(&self) -> Message {
        match self {
            Self::NothingCovered { from, latest: None } => message!("planner.nothing-covered", from = *from),
            Self::NothingCovered { from, latest: Some(latest) } => {
                message!("planner.nothing-covered-after", from = *from, latest = *latest)
            }
            Self::Gap { of, from, to } => {
                let id = match of {
                    GapOf::Temperature => "planner.gap-of-temperature",
                    GapOf::Precipitation => "planner.gap-of-precipitation",
                };
                message!(id, from = *from, to = *to)
            }
            Self::Hours { hours } => message!("planner.hours", hours = *hours),
            Self::Zone { zone } => message!("planner.zone", zone = zone),
            Self::Plant(error) => error.message(),
            Self::Chemistry(error) => error.message(),
            Self::DoesNotClose { balance, share } => {
                let id = match balance {
                    BalanceOf::Brine => "planner.brine-does-not-close",
                    BalanceOf::Salt => "planner.salt-does-not-close",
                    BalanceOf::Water => "planner.water-does-not-close",
                };
                message!(id, share = format!("{share:.1e}"))
            }
        }
    }
}
