/// Why something of a plant cannot be worked out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Error {
    /// The loss takes all of the rate.
    #[error(
        "at water of {celsius:.1} °C the plant would make nothing by the yard's own rate loss; accepted: a loss that leaves some rate"
    )]
    NothingMade {
        /// Water temperature, °C.
        celsius: f64,
    },
    /// The brine cannot be predicted.
    #[error(transparent)]
    Chemistry(#[from] chemistry::Error),
    /// A layout that does not hang together.
    #[error("{part}: {problem}; accepted: {accepted}")]
    Layout {
        /// Which part of it.
        part: String,
        /// What is wrong.
        problem: String,
        /// What is accepted.
        accepted: String,
    },
    /// The equations cannot be moved on: a state that no plant has.
    #[error("the plant's equations cannot be moved on at {seconds:.0} s")]
    Stuck {
        /// Time of the plant, s.
        seconds: f64,
    },
}

message::tell_as_said!(Error);
