//! Why something about a plant cannot be computed.

use message::{Arg, Message, Tell, message};

/// Why something about a plant cannot be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Error {
    /// The yard's rate loss in cold water takes all of the making rate.
    #[error("{}", self.message())]
    NothingMade {
        /// Water temperature, °C.
        celsius: f64,
    },
    /// The brine cannot be predicted.
    #[error(transparent)]
    Chemistry(#[from] chemistry::Error),
    /// A layout, procedure, scenario or action that does not fit together.
    #[error("{}", self.message())]
    Layout {
        /// Which part of it.
        part: Arg,
        /// What is wrong: a message, or the refused value.
        problem: Arg,
        /// What is accepted: a message, or the names to choose from.
        accepted: Arg,
    },
    /// The equations cannot be integrated further: a state that no plant has.
    #[error("{}", self.message())]
    Stuck {
        /// Plant time, s.
        seconds: f64,
    },
}

impl Error {
    pub(crate) fn layout(part: impl Into<Arg>, problem: impl Into<Arg>, accepted: impl Into<Arg>) -> Self {
        Self::Layout { part: part.into(), problem: problem.into(), accepted: accepted.into() }
    }
}

impl Tell for Error {
    fn message(&self) -> Message {
        match self {
            Self::NothingMade { celsius } => {
                message!("plant.nothing-made", water = quantity::celsius(*celsius))
            }
            Self::Chemistry(error) => error.message(),
            Self::Layout { part, problem, accepted } => message!(
                "plant.layout",
                part = part.clone(),
                problem = problem.clone(),
                accepted = accepted.clone()
            ),
            Self::Stuck { seconds } => message!("plant.stuck", seconds = (*seconds, 0)),
        }
    }
}
