//! What the pages know: the yard, the ledger's fold, the forecasts, and plans made from them.
//!
//! The fold is a cache of the ledger and nothing more: [`App::books`] brings it up to date, and rebuilds it when an
//! event takes another back or comes late.

mod books;
mod plans;

use std::collections::HashMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;

use accounts::WholeLedger;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use message::{Message, Tell};
use planner::Plan;
use plant::procedure::Procedure;
use road::RateTable;
use sha2::{Digest, Sha256};
use site::Yard;
use store::people::LEDGER_END;
use store::telemetry::Telemetry;
use store::{Head, Ledger, StoreError, Verification};
use tokio::sync::Semaphore;
use weather::WeatherFile;
use yard::stock::Books;

use crate::backup::Backup;
use crate::clock::Clock;
use crate::following::Following;
use crate::outbox::Outbox;
use crate::people::People;
use crate::practice::{PracticeOptions, PracticePlant, Trainer};
use crate::road_memory::RoadMemory;
use crate::tls::Authority;
use crate::watch::{Along, Watch};

/// A source of a forecast that may bring newer ones.
pub trait ForecastSource: Send + Sync {
    /// Returns the file if it changed since it was last taken, else none.
    ///
    /// # Errors
    /// Why the changed file cannot be used; the one taken before is kept.
    fn changed(&self) -> Result<Option<WeatherFile>, Message>;
}

/// A forecast the console offers.
#[derive(Clone)]
pub struct NamedForecast {
    /// Key in addresses: letters, digits and hyphens.
    pub key: String,
    /// What people call it.
    pub label: String,
    /// The forecast file as it was last read.
    pub weather: Arc<WeatherFile>,
    /// Start of the plan. Where newer forecasts may come, the plan starts now instead, once that is later.
    pub issued: Timestamp,
    /// Length of the plan, hours.
    pub hours: usize,
    /// Where newer ones come from; none for a forecast that never changes.
    pub source: Option<Arc<dyn ForecastSource>>,
    /// Why the newest file could not be used; none when it could.
    pub trouble: Option<Message>,
}

/// What a console is built from.
pub struct AppOptions {
    /// The yard, as its file describes it.
    pub yard: Yard,
    /// Published application rates, with the switches of the yard file.
    pub rates: RateTable,
    /// Procedures that a guided run may follow, the usual one first.
    pub procedures: Vec<Procedure>,
    /// Ledger that every entry goes to.
    pub ledger: Arc<dyn Ledger>,
    /// Forecasts, the first shown first.
    pub forecasts: Vec<NamedForecast>,
    /// Clock that tells the console what time it is.
    pub clock: Clock,
    /// Path before every address, empty or like `/brine`.
    pub base_path: String,
    /// Host names that browsers may use for this console, besides addresses and localhost.
    pub hosts: Vec<String>,
    /// Whether this is the demo.
    pub is_demo: bool,
    /// Where values read from the plant are kept; none where nothing is read.
    pub telemetry: Option<Arc<dyn Telemetry>>,
    /// What the practice plant needs; none where there is none.
    pub practice: Option<PracticeOptions>,
    /// The practice plant that this console is for; none for the yard's own console.
    pub plant: Option<Arc<PracticePlant>>,
    /// People and devices that may sign in; none where no one has to, as in the demo.
    pub people: Option<Arc<People>>,
    /// Whether visitors come over https, here or at a proxy.
    pub is_secure: bool,
    /// Whether a proxy is in front: every request then comes from its address, so that none counts as from this
    /// computer.
    pub is_behind_proxy: bool,
    /// The yard's authority, which devices are told to trust; none where the certificate is another's.
    pub authority: Option<Authority>,
    /// Nightly copies; none where none are made here.
    pub backup: Option<Backup>,
    /// Folder that names of files in the yard file start from.
    pub folder: std::path::PathBuf,
}

/// What a plan depends on besides the forecast's file: which forecast, state of the ledger, and from when.
type PlanKey = (String, u64, Timestamp, i64);

/// The console's state, shared by all handlers.
pub struct App {
    /// The yard, as its file describes it.
    pub yard: Yard,
    /// Time zone of the yard, which times are shown and typed in.
    pub zone: TimeZone,
    /// Published application rates, with the switches of the yard file.
    pub rates: RateTable,
    /// Procedures that a guided run may follow, the usual one first.
    pub procedures: Vec<Procedure>,
    /// Ledger that every entry goes to.
    pub ledger: Arc<dyn Ledger>,
    /// Clock that tells the console what time it is.
    pub clock: Clock,
    /// Path before every address.
    pub base_path: String,
    /// Host names that browsers may use for this console, besides addresses and localhost.
    pub hosts: Vec<String>,
    /// Whether this is the demo.
    pub is_demo: bool,
    /// What is read of the yard's own plant over the network; none where nothing is.
    pub following: Option<Following>,
    /// The run monitor: what it finds about the run that is going on.
    pub(crate) watch: Watch,
    /// The trainer's side of the practice plant.
    pub trainer: Option<Trainer>,
    /// The practice plant that this console is for; none for the yard's own console.
    pub plant: Option<Arc<PracticePlant>>,
    /// People and devices that may sign in; none where no one has to.
    pub people: Option<Arc<People>>,
    /// What tells this yard's cookies from another's on the same host.
    pub(crate) cookie_mark: String,
    /// Whether visitors come over https, here or at a proxy.
    pub is_secure: bool,
    /// Whether a proxy is in front: then no request counts as from this computer.
    pub is_behind_proxy: bool,
    /// The yard's authority, which devices are told to trust.
    pub authority: Option<Authority>,
    /// Nightly copies; none where none are made here.
    pub backup: Option<Backup>,
    /// Sends alerts, and remembers what could not be sent.
    pub(crate) outbox: Outbox,
    forecasts: Mutex<Vec<NamedForecast>>,
    books: Mutex<Option<Arc<Books>>>,
    levelled: Mutex<Option<(Instant, Arc<Books>)>>,
    ahead: Mutex<Vec<u64>>,
    plans: Mutex<HashMap<PlanKey, Arc<Plan>>>,
    /// Roads by forecast, hour and what the ledger knows of roads.
    roads: Mutex<HashMap<(String, i64, u64), Arc<planner::roads::Roads>>>,
    /// What is kept of roads beside the ledger.
    pub(crate) road_memory: RoadMemory,
    telemetry: Option<Arc<dyn Telemetry>>,
    damage: Mutex<Option<Message>>,
    whole: Mutex<Option<(u64, Instant, Arc<WholeLedger>)>>,
    /// Lets one request at a time sum over the whole ledger, so that the computer has capacity left for the others.
    pub(crate) summing: Arc<Semaphore>,
    verified: AtomicBool,
}

impl App {
    /// Brings the run monitor up to date. It may take a tenth of a second: not for an asynchronous task.
    pub(crate) fn watch_run(&self) {
        let Some(layout) = &self.yard.making else { return };
        let Ok(books) = self.books() else { return };
        let run = books.runs.open().filter(|run| self.is_making(&run.procedure));
        let (following, now) = (self.following.as_ref(), self.clock.now());
        self.watch.update(&Along { layout, books: &books, run, following, now });
    }

    /// Whether a procedure makes brine: only such a run is judged.
    pub(crate) fn is_making(&self, title: &str) -> bool {
        self.procedure(title).is_some_and(|procedure| procedure.steps.iter().any(|step| step.watch.is_some()))
    }

    /// Builds a console from its parts.
    ///
    /// # Errors
    /// When the yard's zone is not known here.
    pub fn new(options: AppOptions) -> Result<Self, jiff::Error> {
        let zone = TimeZone::get(&options.yard.time_zone)?;
        let mark = Sha256::digest(format!("{}\n{}", options.yard.name, options.base_path));
        Ok(Self {
            cookie_mark: mark.iter().take(4).map(|byte| format!("{byte:02x}")).collect(),
            zone,
            rates: options.rates,
            procedures: options.procedures,
            following: Following::new(&options.yard, options.telemetry.clone(), &options.clock),
            road_memory: RoadMemory::new(options.telemetry.clone()),
            telemetry: options.telemetry,
            watch: Watch::default(),
            trainer: options.practice.map(Trainer::new),
            plant: options.plant,
            people: options.people,
            is_secure: options.is_secure,
            is_behind_proxy: options.is_behind_proxy,
            authority: options.authority,
            backup: options.backup,
            outbox: Outbox::new(options.folder),
            ledger: options.ledger,
            clock: options.clock,
            base_path: options.base_path,
            hosts: options.hosts,
            is_demo: options.is_demo,
            yard: options.yard,
            forecasts: Mutex::new(options.forecasts),
            books: Mutex::new(None),
            levelled: Mutex::new(None),
            ahead: Mutex::new(Vec::new()),
            plans: Mutex::new(HashMap::new()),
            roads: Mutex::default(),
            damage: Mutex::new(None),
            whole: Mutex::new(None),
            summing: Arc::new(Semaphore::new(1)),
            verified: AtomicBool::new(false),
        })
    }

    /// Verifies the whole ledger, and remembers what it found.
    ///
    /// # Errors
    /// When the ledger cannot be read at all.
    pub fn verify(&self) -> Result<Verification, StoreError> {
        // Its end as the people's file remembers it: a ledger that was cut or written anew is told by that alone.
        let people = self.people.as_ref().map(|people| people.file());
        let kept = people.and_then(|file| file.remembered(LEDGER_END).ok().flatten());
        if let Some(end) = kept.and_then(|text| Head::read(&text)) {
            // What stands against it is remembered as damage, which the check then tells.
            let _ = self.ledger.holds(end);
        }
        let found = self.ledger.verify()?;
        match &found {
            Verification::Sound(_) => *hold(&self.damage) = None,
            Verification::Damaged { seq, reason } => {
                self.note_damage(&StoreError::Damaged { seq: *seq, reason: reason.clone() });
            }
        }
        self.verified.store(true, Ordering::Release);
        Ok(found)
    }

    /// Makes a backup now; none where none are made here.
    pub(crate) fn back_up(&self) -> Option<Result<store::backup::Made, Message>> {
        let telemetry = self.telemetry.as_deref();
        Some(self.backup.as_ref()?.run(telemetry, self.clock.now()))
    }

    /// Remembers the ledger's end in the people's file.
    ///
    /// # Errors
    /// When one of the two cannot be used.
    pub fn remember_end(&self) -> Result<(), StoreError> {
        let Some(people) = &self.people else { return Ok(()) };
        if self.damage().is_some() {
            return Ok(());
        }
        let head = self.ledger.head()?.to_string();
        if people.file().remembered(LEDGER_END)?.as_ref() != Some(&head) {
            people.file().remember(LEDGER_END, &head)?;
        }
        Ok(())
    }

    /// Remembers damage that an error of the ledger reports, so that every page shows it.
    pub(crate) fn note_damage(&self, error: &StoreError) {
        let said = match error {
            // A row that cannot be read is damage, told as such.
            StoreError::Unreadable { seq, reason } => {
                StoreError::Damaged { seq: *seq, reason: reason.clone() }.message()
            }
            StoreError::Damaged { .. } | StoreError::Replaced { .. } | StoreError::NotALedger { .. } => {
                error.message()
            }
            _ => return,
        };
        hold(&self.damage).get_or_insert(said);
    }

    /// Damage that was found; none while it is sound or not yet checked.
    pub fn damage(&self) -> Option<Message> {
        hold(&self.damage).clone()
    }

    /// Whether the ledger has been verified since the start.
    pub fn is_verified(&self) -> bool {
        self.verified.load(Ordering::Acquire)
    }

    /// The procedure of a run by its title; the usual one where it is not there any more.
    pub fn procedure(&self, title: &str) -> Option<&Procedure> {
        self.procedures.iter().find(|one| one.title == title).or_else(|| self.procedures.first())
    }

    /// An address of the console.
    pub fn url(&self, path: &str) -> String {
        format!("{}{path}", self.base_path)
    }
}

/// A lock whose holder panicked still guards sound data: every write here replaces a whole value.
fn hold<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
