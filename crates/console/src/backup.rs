//! A copy of the ledger and of the people's file every night, checked after it was made.

use std::path::PathBuf;
use std::sync::{Mutex, PoisonError};

use chemistry::quantity::in_hours;
use jiff::{SignedDuration, Timestamp};
use report::{Display, Words};
use store::SqliteLedger;
use yard::site::Alerts;

/// A new copy is made when the last is so old.
const EVERY: SignedDuration = SignedDuration::from_hours(24);
/// After a failure it is tried again so soon.
const TRY_AGAIN: SignedDuration = SignedDuration::from_mins(30);
/// Copies that are kept.
const KEPT: usize = 14;

/// Where copies go, and how the last one went.
#[derive(Debug)]
pub struct Backup {
    database: PathBuf,
    folder: PathBuf,
    state: Mutex<State>,
}

#[derive(Debug, Default, Clone)]
struct State {
    last: Option<Timestamp>,
    tried: Option<Timestamp>,
    failed: Option<String>,
}

impl Backup {
    /// Of a database, into a folder; what lies there already counts.
    pub fn new(database: PathBuf, folder: PathBuf) -> Self {
        let last = copies(&folder).last().and_then(|(at, _)| *at);
        Self { database, folder, state: Mutex::new(State { last, ..State::default() }) }
    }

    fn state(&self) -> State {
        self.state.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Makes a copy when one is due; how it went is remembered. The answer is whether one was made.
    pub fn run_when_due(&self, now: Timestamp) -> bool {
        let state = self.state();
        let is_due = state.last.is_none_or(|last| now.duration_since(last) >= EVERY)
            && state
                .tried
                .is_none_or(|tried| state.failed.is_none() || now.duration_since(tried) >= TRY_AGAIN);
        if !is_due {
            return false;
        }
        let made = self.run(now);
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        state.tried = Some(now);
        match made {
            Ok(()) => (state.last, state.failed) = (Some(now), None),
            Err(reason) => state.failed = Some(reason),
        }
        state.failed.is_none()
    }

    fn run(&self, now: Timestamp) -> Result<(), String> {
        std::fs::create_dir_all(&self.folder)
            .map_err(|error| format!("{}: {error}", self.folder.display()))?;
        let name = format!("ledger-{}.db", now.strftime("%Y%m%dT%H%M%SZ"));
        SqliteLedger::copy(&self.database, &self.folder.join(name)).map_err(|error| error.to_string())?;
        let all = copies(&self.folder);
        for (_, old) in all.iter().rev().skip(KEPT) {
            std::fs::remove_file(old).map_err(|error| format!("{}: {error}", old.display()))?;
        }
        Ok(())
    }

    /// What is wrong with it, in words.
    pub fn trouble(
        &self,
        limits: &Alerts,
        now: Timestamp,
        words: &Words,
        display: &Display,
    ) -> Option<String> {
        let state = self.state();
        if let Some(what) = &state.failed {
            return Some(words.fill("alerts.backup", &[("what", what)]));
        }
        let late = SignedDuration::from_secs((in_hours(limits.backup_late) * 3600.0) as i64);
        match state.last {
            Some(last) if now.duration_since(last) <= late => None,
            Some(last) => Some(words.fill("alerts.backup-late", &[("at", &display.time(last))])),
            // Not tried yet: the console has just begun.
            None if state.tried.is_none() => None,
            None => Some(words.say("alerts.backup-never").to_owned()),
        }
    }
}

/// Copies in a folder, oldest first, with when they were made.
fn copies(folder: &std::path::Path) -> Vec<(Option<Timestamp>, PathBuf)> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().filter_map(Result::ok);
    let copy = |entry: std::fs::DirEntry| {
        let name = entry.file_name().into_string().ok()?;
        let at = name.strip_prefix("ledger-")?.strip_suffix(".db")?;
        let at = jiff::civil::DateTime::strptime("%Y%m%dT%H%M%SZ", at).ok()?;
        Some((jiff::tz::TimeZone::UTC.to_timestamp(at).ok(), entry.path()))
    };
    let mut all: Vec<(Option<Timestamp>, PathBuf)> = entries.filter_map(copy).collect();
    all.sort();
    all
}
