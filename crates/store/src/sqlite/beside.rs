//! What is known of a ledger beside its file: which file was opened, and the last row that was recorded in it. A file
//! that was taken away, or whose end is gone, is told before anything more is recorded.

use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use message::{Message, message};

use crate::Head;
use crate::chain::Hash;
use crate::error::outside;

/// Which file is open: where the system keeps it, and how long it was.
#[derive(Debug)]
pub(super) struct Identity {
    path: PathBuf,
    file: Option<(u64, u64)>,
    longest: AtomicU64,
}

#[cfg(unix)]
fn place_of(file: &std::fs::Metadata) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    Some((file.dev(), file.ino()))
}

#[cfg(not(unix))]
fn place_of(_: &std::fs::Metadata) -> Option<(u64, u64)> {
    None
}

impl Identity {
    /// Of a file that was just opened.
    pub(super) fn of(path: &Path) -> Self {
        let found = std::fs::metadata(path).ok();
        let length = found.as_ref().map_or(0, std::fs::Metadata::len);
        let file = found.as_ref().and_then(place_of);
        Self { path: path.to_path_buf(), file, longest: AtomicU64::new(length) }
    }

    /// Why the file that is there is not the one that is open; none when it is.
    pub(super) fn fault(&self) -> Option<Message> {
        let found = match std::fs::metadata(&self.path) {
            Ok(found) => found,
            Err(error) => return Some(message!("store.file.gone", why = outside(error))),
        };
        if self.file.is_some() && place_of(&found) != self.file {
            return Some(message!("store.file.another"));
        }
        // A ledger's file never becomes shorter.
        let before = self.longest.fetch_max(found.len(), Ordering::AcqRel);
        (found.len() < before).then(|| message!("store.file.cut", before = before, now = found.len()))
    }
}

/// The file beside a ledger that holds its last row and hash.
fn end_file(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push("-end");
    PathBuf::from(name)
}

/// The last row that was recorded, as it is kept beside the ledger; none where nothing is kept, or not whole.
pub(super) fn kept_end(path: &Path) -> Option<Head> {
    let mut text = String::new();
    std::fs::File::open(end_file(path)).ok()?.take(256).read_to_string(&mut text).ok()?;
    Head::read(text.trim())
}

/// Keeps it. It speaks of what is committed already, and is not forced to the disk: after a power cut it may be older
/// than the ledger, never newer.
pub(super) fn keep_end(path: &Path, head: Head) {
    if kept_end(path).is_some_and(|kept| kept.seq > head.seq) {
        return;
    }
    set_end(path, head);
}

/// Keeps it, whatever was kept before.
pub(super) fn set_end(path: &Path, head: Head) {
    let write = || -> std::io::Result<()> {
        let mut options = std::fs::OpenOptions::new();
        options.write(true).create(true).truncate(false);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let mut file = options.open(end_file(path))?;
        file.seek(SeekFrom::Start(0))?;
        // Always as long: the new one covers the old one.
        file.write_all(format!("{:>20}:{}\n", head.seq, head.hash).as_bytes())
    };
    // Where it cannot be kept, the people's file and the reports keep it too.
    let _ = write();
}

impl Head {
    /// Reads `ROW:HASH` as this program writes it.
    pub fn read(text: &str) -> Option<Head> {
        let (seq, hash) = text.trim().split_once(':')?;
        Some(Head { seq: seq.trim().parse().ok()?, hash: Hash::read(hash.trim())? })
    }
}

impl std::fmt::Display for Head {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}:{}", self.seq, self.hash)
    }
}
