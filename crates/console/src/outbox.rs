//! How word goes out, and what became of it.

use std::path::PathBuf;
use std::sync::{Mutex, PoisonError};

/// How word goes out, and what became of it.
#[derive(Default)]
pub(crate) struct Outbox {
    pub(crate) folder: PathBuf,
    failed: Mutex<Option<String>>,
}

impl Outbox {
    /// With the folder that names in the yard file start from.
    pub(crate) fn new(folder: PathBuf) -> Self {
        Self { folder, ..Self::default() }
    }

    /// Why the last word did not get through.
    pub(crate) fn failed(&self) -> Option<String> {
        self.failed.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    pub(crate) fn note(&self, failed: Option<String>) {
        *self.failed.lock().unwrap_or_else(PoisonError::into_inner) = failed;
    }
}
