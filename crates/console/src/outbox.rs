//! How word goes out, and what became of it.

use std::path::PathBuf;
use std::sync::{Mutex, PoisonError};

use message::Message;

/// How word goes out, and what became of it.
#[derive(Default)]
pub(crate) struct Outbox {
    pub(crate) folder: PathBuf,
    failed: Mutex<Vec<Message>>,
}

impl Outbox {
    /// With the folder that names in the yard file start from.
    pub(crate) fn new(folder: PathBuf) -> Self {
        Self { folder, ..Self::default() }
    }

    /// Why the last word did not get through, one a way; none where it did.
    pub(crate) fn failed(&self) -> Vec<Message> {
        self.failed.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Remembers why word did not get through; nothing where it did.
    pub(crate) fn note(&self, failed: Vec<Message>) {
        *self.failed.lock().unwrap_or_else(PoisonError::into_inner) = failed;
    }
}
