//! Why an exercise cannot begin.

use std::net::SocketAddr;
use std::path::PathBuf;

use message::{Message, Tell, message};
use store::StoreError;

/// Why an exercise cannot begin.
#[derive(Debug, thiserror::Error)]
#[error("{}", self.message())]
pub enum PracticeError {
    /// A ledger of the practice plant could not be opened or written.
    Store(#[from] StoreError),
    /// The model of the plant refused the exercise.
    Plant(#[from] plant::Error),
    /// The exercises that ship cannot be read.
    Exercises(String),
    /// The folder cannot be made.
    Folder {
        /// Folder that could not be made.
        path: PathBuf,
        /// What the system said.
        reason: String,
    },
    /// The practice plant cannot be served there.
    Port {
        /// Address that was tried.
        address: SocketAddr,
        /// What the system said.
        reason: String,
    },
    /// The yard's zone is not known here.
    Zone {
        /// Name of the zone in the yard file.
        zone: String,
        /// What the library said.
        reason: String,
    },
}

impl Tell for PracticeError {
    fn message(&self) -> Message {
        match self {
            PracticeError::Store(error) => error.message(),
            PracticeError::Plant(error) => error.message(),
            PracticeError::Exercises(reason) => message!("console.practice.exercises", reason = reason),
            PracticeError::Folder { path, reason } => {
                message!("console.practice.folder", path = path.display().to_string(), reason = reason)
            }
            PracticeError::Port { address, reason } => {
                message!("console.practice.port", address = address.to_string(), reason = reason)
            }
            PracticeError::Zone { zone, reason } => {
                message!("console.practice.zone", zone = zone, reason = reason)
            }
        }
    }
}
