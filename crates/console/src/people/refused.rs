//! Why someone may not sign in, or a person is not changed.

use jiff::SignedDuration;
use message::{Message, Tell, message};
use site::people::Unfit;
use store::StoreError;

/// Why someone may not sign in, or a person is not changed.
#[derive(Debug, thiserror::Error)]
#[error("{}", self.message())]
pub enum Refused {
    /// Name, PIN or password do not fit together.
    Wrong,
    /// Too many sign in at once.
    Busy,
    /// Too many wrong tries: wait.
    Wait(SignedDuration),
    /// What was chosen is not taken.
    Unfit(#[from] Unfit),
    /// The code is wrong, used or out of date.
    Code,
    /// The last supervisor cannot be taken away.
    Last,
    /// The people's file could not be read or written.
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
