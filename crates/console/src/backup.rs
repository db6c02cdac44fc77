//! A copy of everything every night, checked after it was made, and at any time when somebody asks for one.

use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use jiff::{SignedDuration, Timestamp};
use message::{Message, Tell};
use quantity::in_hours;
use report::{Display, Words};
use site::Alerts;
use store::backup::{self, Made, Sources};
use store::telemetry::Telemetry;

/// A new copy is made when the last is so old.
const EVERY: SignedDuration = SignedDuration::from_hours(24);
/// After a failure it is tried again so soon.
const TRY_AGAIN: SignedDuration = SignedDuration::from_mins(30);
/// Copies that are kept.
const KEPT: usize = 14;

/// Where copies go, and how the last one went.
#[derive(Debug)]
pub struct Backup {
    sources: Sources,
    folder: PathBuf,
    state: Mutex<State>,
    /// One at a time.
    making: Mutex<()>,
}

#[derive(Debug, Default, Clone)]
struct State {
    last: Option<Timestamp>,
    tried: Option<Timestamp>,
    failed: Option<Message>,
}

impl Backup {
    /// Of a yard's files, into a folder; what lies there already counts.
    pub fn new(sources: Sources, folder: PathBuf) -> Self {
        let last = backup::all(&folder).last().map(|(at, _)| *at);
        let state = Mutex::new(State { last, ..State::default() });
        Self { sources, folder, state, making: Mutex::new(()) }
    }

    /// Where copies go.
    pub(crate) fn folder(&self) -> &Path {
        &self.folder
    }

    /// When each copy that is there was made, the newest first.
    pub(crate) fn made(&self) -> Vec<Timestamp> {
        backup::all(&self.folder).into_iter().rev().map(|(at, _)| at).collect()
    }

    fn state(&self) -> State {
        self.state.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Makes a copy when one is due; how it went is remembered. The answer is whether one was made.
    pub fn run_when_due(&self, telemetry: Option<&dyn Telemetry>, now: Timestamp) -> bool {
        let state = self.state();
        let is_due = state.last.is_none_or(|last| now.duration_since(last) >= EVERY)
            && state
                .tried
                .is_none_or(|tried| state.failed.is_none() || now.duration_since(tried) >= TRY_AGAIN);
        is_due && self.run(telemetry, now).is_ok()
    }

    /// Makes a copy now; how it went is remembered.
    ///
    /// # Errors
    /// Why not.
    pub fn run(&self, telemetry: Option<&dyn Telemetry>, now: Timestamp) -> Result<Made, Message> {
        let _one = self.making.lock().unwrap_or_else(PoisonError::into_inner);
        let made = backup::make(&self.sources, telemetry, &self.folder, now)
            .and_then(|made| backup::keep_newest(&self.folder, KEPT).map(|()| made))
            .map_err(|error| error.message());
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        state.tried = Some(now);
        match &made {
            Ok(_) => (state.last, state.failed) = (Some(now), None),
            Err(reason) => state.failed = Some(reason.clone()),
        }
        made
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
            return Some(words.fill("alerts.backup", &[("what", &display.tell(what))]));
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
