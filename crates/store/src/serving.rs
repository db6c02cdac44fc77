//! A lock that allows one console for each database: two would each take their own books for the whole.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, Write};
use std::path::Path;

use crate::error::outside;
use crate::{Holder, StoreError};

/// The lock, held while a console serves a database. The system releases it when the program ends, however it ends.
#[derive(Debug)]
pub struct ServingLock {
    _file: File,
}

impl ServingLock {
    /// Takes the lock beside a database and writes who holds it.
    ///
    /// # Errors
    /// [`StoreError::InUse`] when another holds it; [`StoreError::Access`] when the folder cannot be written.
    pub fn acquire(database: &Path, holder: &str) -> Result<Self, StoreError> {
        let mut beside = database.as_os_str().to_owned();
        beside.push(".serving");
        let access = |e: std::io::Error| StoreError::Access {
            path: Path::new(&beside).display().to_string(),
            reason: outside(e),
        };
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&beside)
            .map_err(access)?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let mut holder = String::new();
                // Who holds it is a courtesy; the refusal stands without it.
                let _ = file.read_to_string(&mut holder);
                return Err(StoreError::InUse {
                    path: database.display().to_string(),
                    holder: match holder.trim() {
                        "" => Holder::Unknown,
                        name => Holder::Named(name.to_owned()),
                    },
                });
            }
            Err(TryLockError::Error(e)) => return Err(access(e)),
        }
        file.set_len(0).and_then(|()| file.rewind()).map_err(access)?;
        file.write_all(holder.as_bytes()).and_then(|()| file.flush()).map_err(access)?;
        Ok(Self { _file: file })
    }
}
