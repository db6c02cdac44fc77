//! Copies of everything a yard keeps, whole and checked or not at all, and their way back.
//!
//! A backup is a folder of its own: the ledger, the people's file, the telemetry where it can be had, the yard file,
//! the keys where they are wished for, and a list of all of it with sizes and SHA-256. It is made under another name,
//! read back, and named last.

use std::path::{Path, PathBuf};

use jiff::Timestamp;
use message::{Message, message};
use rusqlite::OpenFlags;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use crate::error::outside;
use crate::people::PeopleFile;
use crate::sqlite::{connect, translate};
use crate::telemetry::Telemetry;
use crate::{Head, Ledger, SqliteLedger, StoreError, Verification};

/// The list of what is in a backup.
const LIST: &str = "backup.json";
/// Version of the list's layout.
const LAYOUT: u64 = 1;
/// Start of a backup's folder name; the time it was made follows.
const NAME: &str = "backup-";
/// Format of that time, UTC.
const AT: &str = "%Y%m%dT%H%M%SZ";
/// Room that must stay on the disk beside a copy, bytes.
const SPARE: u64 = 32 * 1024 * 1024;

/// What is copied, and from where.
#[derive(Debug, Clone, Default)]
pub struct Sources {
    /// Path of the ledger's database file. Always copied.
    pub ledger: PathBuf,
    /// Path of the people's file; none leaves it out.
    pub people: Option<PathBuf>,
    /// Path of the yard file; none leaves it out.
    pub yard: Option<PathBuf>,
    /// Folder of the yard's authority and its keys; none leaves the keys out.
    pub keys: Option<PathBuf>,
}

/// A backup that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made {
    /// Folder of the backup, named after the time it was made.
    pub folder: PathBuf,
    /// End of the ledger as copied.
    pub end: Head,
    /// Names of the files in the backup.
    pub files: Vec<String>,
}

fn refused(path: &Path, reason: Message) -> StoreError {
    StoreError::Access { path: path.display().to_string(), reason }
}

fn access(path: &Path, error: &dyn std::fmt::Display) -> StoreError {
    refused(path, outside(error))
}

/// Lets only the owner read a file or folder.
fn keep_private(path: &Path, mode: u32) -> Result<(), StoreError> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let permissions = std::fs::Permissions::from_mode(mode);
        std::fs::set_permissions(path, permissions).map_err(|error| access(path, &error))?;
    }
    #[cfg(not(unix))]
    let _ = (path, mode);
    Ok(())
}

fn size_of(path: &Path) -> u64 {
    std::fs::metadata(path).map_or(0, |file| file.len())
}

fn hash_of(path: &Path) -> Result<String, StoreError> {
    let bytes = std::fs::read(path).map_err(|error| access(path, &error))?;
    Ok(Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect())
}

/// Free bytes on the disk of a folder; none where the system does not say.
fn free_at(folder: &Path) -> Option<u64> {
    #[cfg(unix)]
    {
        let found = rustix::fs::statvfs(folder).ok()?;
        Some(found.f_bavail.saturating_mul(found.f_frsize))
    }
    #[cfg(not(unix))]
    {
        let _ = folder;
        None
    }
}

/// Makes a backup in a folder. `telemetry` is the open telemetry, where this program holds it.
///
/// # Errors
/// [`StoreError::DiskFull`] when it would not fit; [`StoreError::Damaged`] when the ledger is; [`StoreError::Access`].
/// Nothing of it is left then.
pub fn make(
    sources: &Sources,
    telemetry: Option<&dyn Telemetry>,
    folder: &Path,
    now: Timestamp,
) -> Result<Made, StoreError> {
    std::fs::create_dir_all(folder).map_err(|error| access(folder, &error))?;
    let keys = files_in(sources.keys.as_deref());
    let all = [Some(&sources.ledger), sources.people.as_ref(), sources.yard.as_ref()];
    let needed: u64 = all.into_iter().flatten().chain(&keys).map(|path| size_of(path)).sum();
    // The ledger may have a log beside it that is as large.
    let needed = needed + size_of(&sources.ledger) + SPARE;
    if free_at(folder).is_some_and(|free| free < needed) {
        return Err(StoreError::DiskFull);
    }
    let to = folder.join(format!("{NAME}{}", now.strftime(AT)));
    if to.exists() {
        return Err(refused(&to, message!("store.file.there")));
    }
    let draft = to.with_extension("new");
    let made = fill(sources, telemetry, &keys, (&draft, now));
    let made = made.and_then(|made| {
        std::fs::rename(&draft, &to).map_err(|error| access(&to, &error))?;
        Ok(Made { folder: to, ..made })
    });
    if made.is_err() {
        // Half a copy is worse than none; what cannot be taken away says so at the next try.
        let _ = std::fs::remove_dir_all(&draft);
    }
    made
}

fn files_in(folder: Option<&Path>) -> Vec<PathBuf> {
    let entries = folder.and_then(|folder| std::fs::read_dir(folder).ok()).into_iter().flatten();
    let mut files: Vec<PathBuf> =
        entries.filter_map(Result::ok).map(|entry| entry.path()).filter(|path| path.is_file()).collect();
    files.sort();
    files
}

fn fill(
    sources: &Sources,
    telemetry: Option<&dyn Telemetry>,
    keys: &[PathBuf],
    (draft, now): (&Path, Timestamp),
) -> Result<Made, StoreError> {
    if draft.exists() {
        std::fs::remove_dir_all(draft).map_err(|error| access(draft, &error))?;
    }
    std::fs::create_dir(draft).map_err(|error| access(draft, &error))?;
    keep_private(draft, 0o700)?;
    let mut files = vec!["ledger.db".to_owned()];
    SqliteLedger::copy(&sources.ledger, &draft.join("ledger.db"))?;
    if let Some(people) = sources.people.as_ref().filter(|path| path.exists()) {
        let reader = connect(people, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        let target = draft.join("people.db").display().to_string();
        reader.execute("vacuum into ?1", [&target]).map_err(|error| translate(&error, people))?;
        files.push("people.db".into());
    }
    if let Some(telemetry) = telemetry {
        telemetry.copy(&draft.join("telemetry.db"))?;
        files.push("telemetry.db".into());
    }
    if let Some(yard) = sources.yard.as_ref().filter(|path| path.exists()) {
        std::fs::copy(yard, draft.join("yard.toml")).map_err(|error| access(yard, &error))?;
        files.push("yard.toml".into());
    }
    if !keys.is_empty() {
        let folder = draft.join("tls");
        std::fs::create_dir(&folder).map_err(|error| access(&folder, &error))?;
        keep_private(&folder, 0o700)?;
        for key in keys {
            let Some(name) = key.file_name().and_then(|name| name.to_str()) else { continue };
            std::fs::copy(key, folder.join(name)).map_err(|error| access(key, &error))?;
            files.push(format!("tls/{name}"));
        }
    }
    let mut listed = Vec::new();
    for name in &files {
        let path = draft.join(name);
        keep_private(&path, 0o600)?;
        std::fs::File::open(&path).and_then(|file| file.sync_all()).map_err(|error| access(&path, &error))?;
        listed.push(json!({ "name": name, "bytes": size_of(&path), "sha256": hash_of(&path)? }));
    }
    let end = SqliteLedger::open_read_only(&draft.join("ledger.db"))?.head()?;
    let list = json!({
        "layout": LAYOUT, "made_at": now.to_string(), "ledger_end": end.to_string(), "files": listed,
    });
    let path = draft.join(LIST);
    std::fs::write(&path, format!("{list:#}\n")).map_err(|error| access(&path, &error))?;
    keep_private(&path, 0o600)?;
    // Read back as the way home will read it.
    check(draft)?;
    Ok(Made { folder: draft.to_path_buf(), end, files })
}

/// Checks a backup: that every file of its list is there and is what was written. The answer is what is in it.
///
/// # Errors
/// [`StoreError::Access`] naming the file; [`StoreError::Damaged`] of the ledger; [`StoreError::Newer`].
pub fn check(folder: &Path) -> Result<Made, StoreError> {
    let path = folder.join(LIST);
    let text = std::fs::read_to_string(&path).map_err(|error| access(&path, &error))?;
    let list: Value = serde_json::from_str(&text).map_err(|error| access(&path, &error))?;
    let layout = list["layout"].as_u64().unwrap_or(0);
    if layout != LAYOUT {
        let found = i64::try_from(layout).unwrap_or(i64::MAX);
        return Err(StoreError::Newer { path: path.display().to_string(), found, known: LAYOUT as i64 });
    }
    let mut files = Vec::new();
    for one in list["files"].as_array().map_or(&[][..], Vec::as_slice) {
        let name = one["name"].as_str().unwrap_or_default();
        let is_plain =
            Path::new(name).components().all(|part| matches!(part, std::path::Component::Normal(_)));
        if name.is_empty() || !is_plain {
            return Err(refused(&path, message!("store.backup.strange_file", name = name)));
        }
        let file = folder.join(name);
        if one["sha256"].as_str() != Some(hash_of(&file)?.as_str()) {
            return Err(refused(&file, message!("store.backup.other_content")));
        }
        files.push(name.to_owned());
    }
    let ledger = folder.join("ledger.db");
    if !files.iter().any(|name| name == "ledger.db") {
        return Err(refused(&path, message!("store.backup.no_ledger")));
    }
    if let Verification::Damaged { seq, reason } = SqliteLedger::check(&ledger)? {
        return Err(StoreError::Damaged { seq, reason });
    }
    let end = list["ledger_end"].as_str().and_then(Head::read);
    let found = SqliteLedger::open_read_only(&ledger)?.head()?;
    if end != Some(found) {
        return Err(refused(&ledger, message!("store.backup.other_end")));
    }
    Ok(Made { folder: folder.to_path_buf(), end: found, files })
}

/// Puts a backup into an empty folder.
///
/// # Errors
/// As [`check`]; [`StoreError::Access`] when the folder is not empty; [`StoreError::Newer`] for files of a newer
/// program. Nothing is left in the folder then.
pub fn restore(backup: &Path, into: &Path) -> Result<Made, StoreError> {
    let found = check(backup)?;
    let is_empty = match std::fs::read_dir(into) {
        Ok(mut entries) => entries.next().is_none(),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            std::fs::create_dir_all(into).map_err(|error| access(into, &error))?;
            true
        }
        Err(error) => return Err(access(into, &error)),
    };
    if !is_empty {
        return Err(refused(into, message!("store.backup.not_empty")));
    }
    let put = || -> Result<(), StoreError> {
        for name in &found.files {
            let to = into.join(name);
            if let Some(parent) = to.parent() {
                std::fs::create_dir_all(parent).map_err(|error| access(parent, &error))?;
            }
            std::fs::copy(backup.join(name), &to).map_err(|error| access(&to, &error))?;
            keep_private(&to, 0o600)?;
        }
        // As it will be opened: a file of a newer program is refused now, not in the storm.
        SqliteLedger::open_existing(&into.join("ledger.db"))?.accept_end()?;
        if found.files.iter().any(|name| name == "people.db") {
            let people = PeopleFile::open(&into.join("people.db"))?;
            people.remember(crate::people::LEDGER_END, &found.end.to_string())?;
        }
        Ok(())
    };
    put().inspect_err(|_| {
        for name in
            found.files.iter().map(String::as_str).chain(["ledger.db-end", "ledger.db-wal", "ledger.db-shm"])
        {
            let _ = std::fs::remove_file(into.join(name));
        }
        let _ = std::fs::remove_dir(into.join("tls"));
    })?;
    Ok(Made { folder: into.to_path_buf(), ..found })
}

/// Backups in a folder, oldest first, with when each was made.
pub fn all(folder: &Path) -> Vec<(Timestamp, PathBuf)> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().filter_map(Result::ok);
    let backup = |entry: std::fs::DirEntry| {
        let name = entry.file_name().into_string().ok()?;
        let at = jiff::civil::DateTime::strptime(AT, name.strip_prefix(NAME)?).ok()?;
        Some((jiff::tz::TimeZone::UTC.to_timestamp(at).ok()?, entry.path()))
    };
    let mut found: Vec<(Timestamp, PathBuf)> = entries.filter_map(backup).collect();
    found.sort();
    found
}

/// Deletes all but the newest `count` backups in a folder.
///
/// # Errors
/// [`StoreError::Access`].
pub fn keep_newest(folder: &Path, count: usize) -> Result<(), StoreError> {
    for (_, old) in all(folder).iter().rev().skip(count) {
        std::fs::remove_dir_all(old).map_err(|error| access(old, &error))?;
    }
    Ok(())
}
