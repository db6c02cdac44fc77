//! Whether a file is telemetry, damaged telemetry or something else.

use std::io::{ErrorKind, Read};
use std::path::Path;

use crate::error::outside;
use crate::{Holder, StoreError};

/// What opens a file, which may stumble over a damaged one: that is an answer, not the end of the program.
pub(super) fn sound<T>(path: &Path, open: impl FnOnce() -> Result<T, StoreError>) -> Result<T, StoreError> {
    let stumbled = |_| Err(StoreError::NotTelemetry { path: path.display().to_string() });
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(open)).unwrap_or_else(stumbled)
}

/// How a file of redb begins.
const BEGIN: [u8; 9] = *b"redb\x1A\x0A\xA9\x0D\x0A";

/// Whether a file that cannot be read was once telemetry: it begins as such, damaged or not, or not at all.
pub(super) fn was_ours(path: &Path) -> bool {
    let mut begin = Vec::new();
    let read = std::fs::File::open(path).and_then(|file| file.take(9).read_to_end(&mut begin));
    let alike = begin.iter().zip(BEGIN).filter(|(is, was)| **is == *was || **is == 0).count();
    read.is_ok() && begin.len() < 2 * alike + usize::from(begin.is_empty())
}

/// What the system says of a file whose bytes are not what they were.
const DAMAGE: [ErrorKind; 3] = [ErrorKind::InvalidData, ErrorKind::InvalidInput, ErrorKind::UnexpectedEof];

pub(super) fn refused(path: &Path, error: &redb::DatabaseError) -> StoreError {
    let path = path.display().to_string();
    match error {
        redb::DatabaseError::DatabaseAlreadyOpen => StoreError::InUse { path, holder: Holder::Unknown },
        redb::DatabaseError::Storage(redb::StorageError::Io(error)) if !DAMAGE.contains(&error.kind()) => {
            StoreError::Access { path, reason: outside(error) }
        }
        _ => StoreError::NotTelemetry { path },
    }
}
