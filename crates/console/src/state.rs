//! What the pages know: the yard, the ledger's fold, the forecasts, and plans made from them.
//!
//! The fold is a cache of the ledger and nothing more: [`App::books`] brings it up to date, and rebuilds it when an
//! event takes another back or comes late.

use message::{Message, Tell};
use std::collections::HashMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use accounts::WholeLedger;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use planner::{Plan, PlanError, PlanRequest};
use plant::procedure::Procedure;
use quantity::{ThermodynamicTemperature, in_celsius};
use road::RateTable;
use sha2::{Digest, Sha256};
use site::Yard;
use store::people::LEDGER_END;
use store::telemetry::Telemetry;
use store::{Head, Ledger, StoreError, Verification};
use tokio::sync::Semaphore;
use weather::WeatherFile;
use yard::event::Recorded;
use yard::stock::Books;

use crate::backup::Backup;
use crate::clock::Clock;
use crate::following::Following;
use crate::outbox::Outbox;
use crate::people::People;
use crate::practice::{PracticeOptions, PracticePlant, Trainer};
use crate::tls::Authority;
use crate::watch::{Along, Watch};

/// A plan is made anew when this much of the clock has passed, s: a quarter hour, the step of its schedule.
const PLAN_STEP_SECONDS: i64 = 900;
/// Plans kept: one a forecast and state of the ledger is all that pages ask for.
const PLANS_KEPT: usize = 16;

/// Level sensors are looked at no more often: a tank takes minutes to change.
const LEVELS_EVERY: Duration = Duration::from_secs(10);

/// The whole ledger is held for the next who asks for this long.
const WHOLE_KEPT: Duration = Duration::from_secs(300);

/// Where a forecast comes from, and may come from anew.
pub trait ForecastSource: Send + Sync {
    /// The file when it changed since it was last taken; nothing when it did not. What cannot be read is said.
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
    /// The file.
    pub weather: Arc<WeatherFile>,
    /// From when to plan; from now instead, once that is later, where newer forecasts may come.
    pub issued: Timestamp,
    /// For how long.
    pub hours: usize,
    /// Where newer ones come from; none for a forecast that stands still.
    pub source: Option<Arc<dyn ForecastSource>>,
    /// Why the newest could not be used.
    pub trouble: Option<Message>,
}

/// What a console is made of.
pub struct AppOptions {
    /// The yard.
    pub yard: Yard,
    /// Its rates.
    pub rates: RateTable,
    /// What a guided run follows: one of these, the usual one first.
    pub procedures: Vec<Procedure>,
    /// Its ledger.
    pub ledger: Arc<dyn Ledger>,
    /// Forecasts, the first shown first.
    pub forecasts: Vec<NamedForecast>,
    /// The clock.
    pub clock: Clock,
    /// Path before every address, empty or like `/brine`.
    pub base_path: String,
    /// Names this console may be asked by, besides addresses and localhost.
    pub hosts: Vec<String>,
    /// This is the demo.
    pub is_demo: bool,
    /// Where what the plant shows is kept; none where nothing is read.
    pub telemetry: Option<Arc<dyn Telemetry>>,
    /// What the practice plant needs; none where there is none.
    pub practice: Option<PracticeOptions>,
    /// The practice plant that this console stands before.
    pub plant: Option<Arc<PracticePlant>>,
    /// Who may come in; none where nobody is asked, as in the demo.
    pub people: Option<Arc<People>>,
    /// Visitors come over https, here or at a proxy.
    pub is_secure: bool,
    /// A proxy stands in front: every request comes from its address, so that none counts as from this machine.
    pub is_behind_proxy: bool,
    /// The yard's authority, which devices are told to trust; none where the certificate is another's.
    pub authority: Option<Authority>,
    /// Nightly copies; none where none are made here.
    pub backup: Option<Backup>,
    /// Folder that names of files in the yard file start from.
    pub folder: std::path::PathBuf,
}

/// What a plan depends on besides the forecast's file: which forecast, state of the ledger, and from when.
type PlanKey = (String, u64, Timestamp);

/// The console's state, shared by all handlers.
pub struct App {
    /// The yard.
    pub yard: Yard,
    /// Its zone.
    pub zone: TimeZone,
    /// Its rates.
    pub rates: RateTable,
    /// What a guided run follows: one of these, the usual one first.
    pub procedures: Vec<Procedure>,
    /// Its ledger.
    pub ledger: Arc<dyn Ledger>,
    /// The clock.
    pub clock: Clock,
    /// Path before every address.
    pub base_path: String,
    /// Names this console may be asked by, besides addresses and localhost.
    pub hosts: Vec<String>,
    /// This is the demo.
    pub is_demo: bool,
    /// What is read of the yard's own plant over the network; none where nothing is.
    pub following: Option<Following>,
    /// What is thought of the run that goes on.
    pub(crate) watch: Watch,
    /// The trainer's side of the practice plant.
    pub trainer: Option<Trainer>,
    /// The practice plant that this console stands before.
    pub plant: Option<Arc<PracticePlant>>,
    /// Who may come in; none where nobody is asked.
    pub people: Option<Arc<People>>,
    /// What tells this yard's cookies from another's on the same host.
    pub(crate) cookie_mark: String,
    /// Visitors come over https, here or at a proxy.
    pub is_secure: bool,
    /// A proxy stands in front: no request counts as from this machine.
    pub is_behind_proxy: bool,
    /// The yard's authority, which devices are told to trust.
    pub authority: Option<Authority>,
    /// Nightly copies; none where none are made here.
    pub backup: Option<Backup>,
    /// How word goes out.
    pub(crate) outbox: Outbox,
    forecasts: Mutex<Vec<NamedForecast>>,
    books: Mutex<Option<Arc<Books>>>,
    levelled: Mutex<Option<(Instant, Arc<Books>)>>,
    ahead: Mutex<Vec<u64>>,
    plans: Mutex<HashMap<PlanKey, Arc<Plan>>>,
    damage: Mutex<Option<Message>>,
    whole: Mutex<Option<(u64, Instant, Arc<WholeLedger>)>>,
    /// Whose turn it is to sum over the whole ledger: one at a time, so that the machine has hands left for the rest.
    pub(crate) summing: Arc<Semaphore>,
    verified: AtomicBool,
}

impl App {
    /// Looks once more along with the run that goes on. It may take a tenth of a second: not for an asynchronous task.
    pub(crate) fn look_along(&self) {
        let Some(layout) = &self.yard.making else { return };
        let Ok(books) = self.books() else { return };
        let run = books.runs.open().filter(|run| self.is_making(&run.procedure));
        let (following, now) = (self.following.as_ref(), self.clock.now());
        self.watch.look(&Along { layout, books: &books, run, following, now });
    }

    /// Whether a procedure makes brine: only such a run is judged.
    pub(crate) fn is_making(&self, title: &str) -> bool {
        self.procedure(title).is_some_and(|procedure| procedure.steps.iter().any(|step| step.watch.is_some()))
    }

    /// Puts a console together.
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
            following: Following::new(&options.yard, options.telemetry, &options.clock),
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
            damage: Mutex::new(None),
            whole: Mutex::new(None),
            summing: Arc::new(Semaphore::new(1)),
            verified: AtomicBool::new(false),
        })
    }

    /// Checks the whole chain and remembers what it found.
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
        let telemetry = self.following.as_ref().map(Following::telemetry);
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

    /// Remembers what an answer of the ledger says of its file, for every page.
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

    /// Whether the chain has been checked since the start.
    pub fn is_verified(&self) -> bool {
        self.verified.load(Ordering::Acquire)
    }

    /// The fold, up to date.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn books(&self) -> Result<Arc<Books>, StoreError> {
        Ok(self.with_levels(self.books_of_ledger()?))
    }

    /// The fold of the ledger alone, whatever sensors show.
    fn books_of_ledger(&self) -> Result<Arc<Books>, StoreError> {
        self.current_books().inspect_err(|error| self.note_damage(error))
    }

    /// What an entry is worked out from: the ledger alone, so that every way in comes to the same; and for one that is
    /// recorded already, the ledger before it, so that what is sent twice is the same entry twice.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub(crate) fn books_for(&self, id: yard::event::EventId) -> Result<Arc<Books>, StoreError> {
        let Some(seq) = self.ledger.place_of(id)? else { return self.books_of_ledger() };
        let mut events = self.ledger.events_after(0)?;
        events.retain(|recorded| recorded.seq < seq);
        Ok(Arc::new(Books::fold(&self.yard, &yard::clock::as_of(events, self.clock.now()).0)))
    }

    fn current_books(&self) -> Result<Arc<Books>, StoreError> {
        let mut held = hold(&self.books);
        let head = self.ledger.head()?;
        let current = match held.take() {
            Some(books) if books.last_seq == head.seq => books,
            Some(books) => {
                let mut books = Arc::unwrap_or_clone(books);
                let news = self.ledger.events_after(books.last_seq)?;
                let now = self.clock.now();
                // Rows that lay ahead may be out of date by these, or not ahead any more.
                let is_sound = self.ahead().is_empty()
                    && news.iter().all(|recorded| !yard::clock::is_ahead(recorded, now));
                if is_sound && news.iter().all(|recorded| books.try_append(&self.yard, recorded)) {
                    Arc::new(books)
                } else {
                    self.fold()?
                }
            }
            None => self.fold()?,
        };
        *held = Some(Arc::clone(&current));
        Ok(current)
    }

    /// The books with what level sensors show of the tanks beside the ledger's evidence. Looked at anew once a while:
    /// each look costs a copy of the books.
    fn with_levels(&self, books: Arc<Books>) -> Arc<Books> {
        let Some(following) = &self.following else { return books };
        if self.yard.points.iter().all(|point| point.tank.is_none()) {
            return books;
        }
        let mut held = hold(&self.levelled);
        if let Some((looked, known)) = &*held
            && looked.elapsed() < LEVELS_EVERY
            && known.last_seq == books.last_seq
        {
            return Arc::clone(known);
        }
        let levels = following.levels(&self.yard);
        let levelled = Arc::new(books.with_levels(&self.yard, &levels));
        *held = Some((Instant::now(), Arc::clone(&levelled)));
        levelled
    }

    /// Every row, those that lie ahead of now where they can have happened.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn events(&self) -> Result<Vec<Recorded>, StoreError> {
        let (events, ahead) = yard::clock::as_of(self.ledger.events_after(0)?, self.clock.now());
        *hold(&self.ahead) = ahead;
        Ok(events)
    }

    /// Rows that lie ahead of now, as far as they were read.
    pub(crate) fn ahead(&self) -> Vec<u64> {
        hold(&self.ahead).clone()
    }

    /// The whole ledger, read through once for all who ask until a row is added. Takes seconds on a large one, and is
    /// let go when nobody asks for a while.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub fn whole_ledger(&self) -> Result<Arc<WholeLedger>, StoreError> {
        let mut held = hold(&self.whole);
        let end = self.ledger.head()?.seq;
        if let Some((at, asked, whole)) = held.as_mut()
            && *at == end
        {
            *asked = Instant::now();
            return Ok(Arc::clone(whole));
        }
        // The old one goes first: two are not held at once.
        *held = None;
        let events = self.events()?;
        let holds_all = events.len() as u64 == end;
        let whole = Arc::new(WholeLedger::read(&self.yard, events));
        // Rows that lie ahead of now are read again until they do not.
        if holds_all && self.ahead().is_empty() {
            *held = Some((end, Instant::now(), Arc::clone(&whole)));
        }
        Ok(whole)
    }

    /// Lets go of the whole ledger when nobody asked for a while.
    pub(crate) fn let_go(&self) {
        let mut held = hold(&self.whole);
        if held.as_ref().is_some_and(|(_, asked, _)| asked.elapsed() > WHOLE_KEPT) {
            *held = None;
        }
    }

    fn fold(&self) -> Result<Arc<Books>, StoreError> {
        Ok(Arc::new(Books::fold(&self.yard, &self.events()?)))
    }

    /// All forecasts, the first shown first, replaced by newer ones where their files changed.
    pub fn forecasts(&self) -> Vec<NamedForecast> {
        let mut held = hold(&self.forecasts);
        for forecast in held.iter_mut() {
            match forecast.source.as_ref().map(|source| source.changed()) {
                Some(Ok(Some(weather))) => {
                    forecast.weather = Arc::new(weather);
                    forecast.trouble = None;
                    hold(&self.plans).clear();
                }
                Some(Err(trouble)) => forecast.trouble = Some(trouble),
                Some(Ok(None)) | None => {}
            }
        }
        held.clone()
    }

    /// A forecast by key, or the first.
    pub fn forecast(&self, key: Option<&str>) -> Option<NamedForecast> {
        let forecasts = self.forecasts();
        match key {
            Some(key) => forecasts.into_iter().find(|forecast| forecast.key == key),
            None => forecasts.into_iter().next(),
        }
    }

    /// The plan for a forecast on the present books, from now (to the quarter hour) where the clock runs.
    ///
    /// # Errors
    /// [`PlanError`].
    pub fn plan(&self, forecast: &NamedForecast, books: &Books) -> Result<Arc<Plan>, PlanError> {
        let now = self.clock.now();
        let step = now.as_second().rem_euclid(PLAN_STEP_SECONDS);
        let quarter = Timestamp::from_second(now.as_second() - step).unwrap_or(now);
        // A forecast that stands still, as of a replay, is planned from its own time; the demo's goes on with its day.
        let goes_on = forecast.source.is_some() || matches!(self.clock, Clock::From { .. });
        let issued = if goes_on { forecast.issued.max(quarter) } else { forecast.issued };
        let key = (forecast.key.clone(), books.last_seq, issued);
        if let Some(plan) = hold(&self.plans).get(&key) {
            return Ok(Arc::clone(plan));
        }
        let made = Arc::new(planner::plan(&PlanRequest {
            yard: &self.yard,
            books,
            rates: &self.rates,
            weather: &forecast.weather,
            issued,
            hours: forecast.hours,
            // A replay is told as of its own time; the demo's clock is its now.
            now: match self.clock {
                Clock::System | Clock::Plant(_) if forecast.source.is_none() => issued,
                Clock::System | Clock::Fixed(_) | Clock::From { .. } | Clock::Plant(_) => now,
            },
        })?);
        let mut plans = hold(&self.plans);
        if plans.len() >= PLANS_KEPT {
            plans.clear();
        }
        plans.insert(key, Arc::clone(&made));
        Ok(made)
    }

    /// Coldest and warmest air ahead: by the plan's hours, and where there is no plan by the first forecast's own.
    pub(crate) fn air_ahead(&self, plan: Option<&Plan>) -> Option<[ThermodynamicTemperature; 2]> {
        let by = |a: &ThermodynamicTemperature, b: &ThermodynamicTemperature| {
            in_celsius(*a).total_cmp(&in_celsius(*b))
        };
        let spread = |air: Vec<ThermodynamicTemperature>| {
            Some([air.iter().copied().min_by(by)?, air.iter().copied().max_by(by)?])
        };
        if let Some(plan) = plan {
            return spread(plan.hours.iter().filter_map(|hour| hour.air).collect());
        }
        let forecast = self.forecast(None)?;
        let now = self.clock.now();
        let goes_on = forecast.source.is_some() || matches!(self.clock, Clock::From { .. });
        let from = if goes_on { forecast.issued.max(now) } else { forecast.issued };
        let grid = forecast.weather.hourly(from, forecast.hours, weather::GridOptions::default());
        spread(grid.hours.iter().filter_map(|hour| hour.air).collect())
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
