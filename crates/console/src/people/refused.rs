//! Why somebody may not come in, or is not changed.

use jiff::SignedDuration;
use message::{Message, Tell, message};
use site::people::Unfit;
use store::StoreError;

/// Why somebody may not come in.
#[derive(Debug, thiserror::Error)]
#[error("{}", self.message())]
pub enum Refused {
    /// Name, PIN or password do not fit together.
    Wrong,
    /// Too many come at once.
    Busy,
    /// Too many wrong tries: wait.
    Wait(SignedDuration),
    /// What was chosen is not taken.
    Unfit(#[from] Unfit),
    /// The code is not good, or not any more.
    Code,
    /// The last supervisor cannot be taken away.
    Last,
    /// The file.
    Store(#[from] StoreError),
}

impl Tell for Refused {
    fn message(&self) -> Message {
        match self {
            Refused::Wrong => message!("console.people.wrong"),
            Refused::Busy => message!("console.people.busy"),
            Refused::Wait(wait) => message!("console.people.wait", seconds = wait.as_secs().max(1)),
            Refused::Unfit(unfit) => unfit.message(),
            Refused::Code => message!("console.people.code"),
            Refused::Last => message!("console.people.last"),
            Refused::Store(error) => error.message(),
        }
    }
}
