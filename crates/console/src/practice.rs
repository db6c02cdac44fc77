//! The practice plant behind the console: its clock, the session that is played, and the trainer's side.
//!
//! The trainee uses the very same pages, of an [`App`] of its own: another ledger, another clock, and a yard whose
//! machine is the practice plant, read over Modbus TCP like any other.

mod error;
mod machine;
mod rewound;

use std::collections::HashSet;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use axum::Router;
use event::{Body, Event, EventId, Void};
use jiff::{SignedDuration, Timestamp};
use link::practice::{Showing, publish_mqtt, serve_modbus};
use plant::practice::{Exercise, Exercises, SHIPPED, Session};
use plant::properties::Properties;
use store::telemetry::Telemetry;
use store::{Ledger, SqliteLedger, StoreError};
use tokio::net::TcpListener;
use tokio::task::JoinSet;

pub use self::error::PracticeError;
use self::machine::{practice_machine, practice_points};
use self::rewound::Rewound;
use crate::clock::{Clock, PlantClock};
use crate::state::{App, AppOptions};

/// Speeds a trainer may choose.
pub const SPEEDS: [u32; 4] = [1, 10, 60, 600];
/// Time between two steps of the plant while nobody watches.
const STEP: Duration = Duration::from_millis(100);
/// The trainee's machine is read this often in the plant's own time, and never more often than that by the clock.
const READ_EVERY: (f64, f64) = (1.0, 0.0016);

fn hold<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What the practice plant needs.
#[derive(Debug, Clone)]
pub struct PracticeOptions {
    /// Folder of its ledgers, apart from the yard's; made when it is not there.
    pub folder: PathBuf,
    /// Where it is served over Modbus TCP; port 0 takes any that is free.
    pub modbus: SocketAddr,
    /// Broker that it is published to, host and port; none where it is not.
    pub mqtt: Option<(String, u16)>,
    /// Speed it begins with.
    pub speed: u32,
}

/// A session that is played in its own time.
pub struct PracticePlant {
    session: Mutex<Session>,
    /// Clock of the plant; the trainer sets its speed.
    pub clock: Arc<PlantClock>,
    /// Name of the trainee.
    pub who: String,
    ends: f64,
    /// What the trainee's last act brought, as text, and whether it was refused.
    said: Mutex<Option<(String, bool)>>,
}

impl PracticePlant {
    /// An exercise from now on.
    ///
    /// # Errors
    /// An exercise that does not hang together, in words.
    pub fn new(
        exercise: Exercise,
        who: String,
        clock: Arc<PlantClock>,
        seed: u64,
    ) -> Result<Self, plant::Error> {
        let properties = Arc::new(Properties::new()?);
        let ends = 3600.0 * exercise.scenario.hours;
        let session = Mutex::new(Session::new(exercise, &properties, seed)?);
        Ok(Self { session, clock, who, ends, said: Mutex::new(None) })
    }

    /// The session as it stands now.
    pub fn now(&self) -> MutexGuard<'_, Session> {
        let mut session = hold(&self.session);
        let now = self.clock.seconds();
        if self.ends <= now && !self.clock.is_paused() {
            self.clock.pause(true);
            self.clock.put(self.ends);
        }
        // A plant that is stuck stays where it is; its trainer sees that its time does not go on.
        if session.advance_to(now.min(self.ends)).is_err() {
            self.clock.pause(true);
        }
        session
    }

    /// Remembers what an act brought.
    pub(crate) fn say(&self, said: (String, bool)) {
        *hold(&self.said) = Some(said);
    }

    /// What the last act brought.
    pub(crate) fn said(&self) -> Option<(String, bool)> {
        hold(&self.said).clone()
    }

    /// Whether the exercise has come to its end.
    pub fn is_over(&self) -> bool {
        self.ends <= self.clock.seconds()
    }

    /// Goes back by some minutes of the plant's time. Returns the plant's time then, s.
    pub fn rewind(&self, minutes: f64) -> f64 {
        let mut session = self.now();
        let to = session.rewind(60.0 * minutes);
        self.clock.put(to);
        to
    }
}

/// What the plant shows: sensors, then what lines and feeders are told, then its time.
impl Showing for PracticePlant {
    fn values(&self) -> Vec<f64> {
        let mut session = self.now();
        let mut values = session.sensors();
        let commands = session.plant().commands();
        values.extend(commands.lines.iter().chain(&commands.feeders));
        values.push(session.seconds());
        values
    }
}

/// An exercise that is running.
pub struct Running {
    /// The practice plant that the exercise runs on.
    pub plant: Arc<PracticePlant>,
    /// The trainee's console.
    pub app: Arc<App>,
    router: Router,
    telemetry: Arc<Rewound>,
    /// Address that the plant is served on over Modbus TCP.
    pub modbus: SocketAddr,
    _tasks: JoinSet<()>,
}

impl Running {
    /// The trainee's pages.
    pub(crate) fn router(&self) -> Router {
        self.router.clone()
    }

    /// Goes back by some minutes: the plant, what was kept of it, and the trainee's entries since, which are taken
    /// back.
    ///
    /// # Errors
    /// When the trainee's ledger takes no more.
    pub fn rewind(&self, minutes: f64, reason: &str) -> Result<(), StoreError> {
        let to = self.plant.rewind(minutes);
        let at = self.plant.clock.begin() + SignedDuration::from_secs_f64(to);
        self.telemetry.forget_from(at)?;
        let all = self.app.ledger.events_after(0)?;
        let gone: HashSet<EventId> = all.iter().filter_map(|one| one.event.body.voids()).collect();
        let late = all.iter().map(|one| &one.event).filter(|event| {
            at < event.occurred_at && !gone.contains(&event.id) && event.body.voids().is_none()
        });
        let voids: Vec<Event> = late
            .map(|event| Event {
                id: EventId(uuid::Uuid::now_v7()),
                occurred_at: at,
                author: self.plant.who.clone(),
                device: "practice".into(),
                body: Body::Void(Void { event: event.id.to_string(), reason: reason.to_string() }),
            })
            .collect();
        if !voids.is_empty() {
            self.app.ledger.append(&voids, at)?;
        }
        Ok(())
    }

    /// Follows the plant's pace.
    fn pace(&self) {
        pace(&self.app, self.plant.clock.speed());
    }
}

fn pace(app: &App, speed: u32) {
    if let Some(following) = &app.following {
        let (plant, least) = READ_EVERY;
        following.live.poll_every(0, Duration::from_secs_f64((plant / f64::from(speed)).max(least)));
    }
}

/// The trainer's side of the practice plant: begins, drives and ends exercises.
pub struct Trainer {
    options: PracticeOptions,
    now: Mutex<Option<Arc<Running>>>,
    people: Mutex<Option<Arc<SqliteLedger>>>,
}

/// The exercises that ship.
///
/// # Errors
/// When the shipped file is damaged.
pub fn exercises() -> Result<Vec<Exercise>, PracticeError> {
    toml_edit::de::from_str::<Exercises>(SHIPPED)
        .map(|all| all.exercises)
        .map_err(|error| PracticeError::Exercises(error.to_string()))
}

impl Trainer {
    pub(crate) fn new(options: PracticeOptions) -> Self {
        Self { options, now: Mutex::new(None), people: Mutex::new(None) }
    }

    /// The exercise that is running; none between exercises.
    pub fn running(&self) -> Option<Arc<Running>> {
        hold(&self.now).clone()
    }

    /// The ledger of who has practised what.
    ///
    /// # Errors
    /// When it cannot be opened.
    pub fn people(&self) -> Result<Arc<SqliteLedger>, PracticeError> {
        let mut held = hold(&self.people);
        if let Some(people) = &*held {
            return Ok(Arc::clone(people));
        }
        self.folder()?;
        let people = Arc::new(SqliteLedger::open(&self.options.folder.join("people.db"))?);
        *held = Some(Arc::clone(&people));
        Ok(people)
    }

    fn folder(&self) -> Result<(), PracticeError> {
        let folder = &self.options.folder;
        std::fs::create_dir_all(folder)
            .map_err(|error| PracticeError::Folder { path: folder.clone(), reason: error.to_string() })
    }

    /// Speed that an exercise begins with.
    pub fn first_speed(&self) -> u32 {
        self.options.speed
    }

    /// Begins an exercise, whose trainee's console a router is; one that went on ends.
    ///
    /// # Errors
    /// [`PracticeError`]; nothing has begun.
    pub async fn begin(
        &self,
        yard_app: &App,
        exercise: Exercise,
        (who, speed): (String, u32),
        router: fn(Arc<App>) -> Router,
    ) -> Result<Arc<Running>, PracticeError> {
        self.stop();
        self.folder()?;
        let begin = Timestamp::now();
        let clock = Arc::new(PlantClock::new(begin, speed));
        let seed = begin.as_microsecond().unsigned_abs();
        let plant = Arc::new(PracticePlant::new(exercise, who, Arc::clone(&clock), seed)?);
        let address = self.options.modbus;
        let machine = |error: std::io::Error| PracticeError::Port { address, reason: error.to_string() };
        let listener = listen(address).await.map_err(machine)?;
        let modbus = listener.local_addr().map_err(machine)?;
        let name = format!("{}.db", uuid::Uuid::now_v7());
        let ledger = SqliteLedger::open(&self.options.folder.join(name))?;
        let mut yard = yard_app.yard.clone();
        let layout = plant.now().plant().layout().clone();
        yard.machines = vec![practice_machine(modbus)];
        yard.points = practice_points(&layout);
        yard.making = Some(layout);
        let telemetry = Arc::new(Rewound::new()?);
        let app = App::new(AppOptions {
            yard,
            rates: yard_app.rates.clone(),
            procedures: yard_app.procedures.clone(),
            ledger: Arc::new(ledger) as Arc<dyn Ledger>,
            forecasts: yard_app.forecasts(),
            clock: Clock::Plant(clock),
            base_path: format!("{}/practice", yard_app.base_path),
            hosts: yard_app.hosts.clone(),
            is_demo: false,
            telemetry: Some(Arc::clone(&telemetry) as Arc<dyn Telemetry>),
            practice: None,
            plant: Some(Arc::clone(&plant)),
            people: None,
            is_secure: false,
            is_behind_proxy: false,
            authority: None,
            backup: None,
            folder: std::path::PathBuf::new(),
        })
        .map_err(|error| PracticeError::Zone {
            zone: yard_app.yard.time_zone.clone(),
            reason: error.to_string(),
        })?;
        let app = Arc::new(app);
        pace(&app, speed);
        let mut tasks = tasks(&app);
        let served = Arc::clone(&plant);
        tasks.spawn(async move {
            // Its end is the session's end.
            let _ = serve_modbus(listener, served).await;
        });
        if let Some(broker) = self.options.mqtt.clone() {
            let names = app.yard.points.iter().map(|point| point.id.replace(' ', "_")).collect();
            let showing = Arc::clone(&plant) as Arc<dyn Showing>;
            let every = Duration::from_secs(1);
            tasks.spawn(publish_mqtt(broker, "brinewright/practice".to_string(), names, every, showing));
        }
        let steps = Arc::clone(&plant);
        tasks.spawn(async move {
            let mut ticks = tokio::time::interval(STEP);
            loop {
                ticks.tick().await;
                let steps = Arc::clone(&steps);
                let _ = tokio::task::spawn_blocking(move || drop(steps.now())).await;
            }
        });
        let router = router(Arc::clone(&app));
        let running = Arc::new(Running { plant, app, router, telemetry, modbus, _tasks: tasks });
        *hold(&self.now) = Some(Arc::clone(&running));
        Ok(running)
    }

    /// Changes the pace.
    pub fn set_speed(&self, speed: u32) {
        if let Some(running) = self.running() {
            running.plant.clock.set_speed(speed);
            running.pace();
        }
    }

    /// Ends what goes on; what was played is gone but for what was recorded of it.
    pub fn stop(&self) {
        *hold(&self.now) = None;
    }
}

/// Listens; an exercise that has just ended may hold the port for a moment longer.
async fn listen(address: SocketAddr) -> std::io::Result<TcpListener> {
    for _ in 0..20 {
        match TcpListener::bind(address).await {
            Err(error) if error.kind() == std::io::ErrorKind::AddrInUse => {
                tokio::time::sleep(Duration::from_millis(100)).await;
            }
            answer => return answer,
        }
    }
    TcpListener::bind(address).await
}

/// Tasks that an app needs besides answering: reading its machines, and looking along.
pub(crate) fn tasks(app: &Arc<App>) -> JoinSet<()> {
    let mut tasks = app.following.as_ref().map_or_else(JoinSet::new, crate::following::Following::begin);
    if app.yard.making.is_some() {
        let watched = Arc::downgrade(app);
        tasks.spawn(async move {
            let mut ticks = tokio::time::interval(Duration::from_millis(250));
            ticks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
            loop {
                ticks.tick().await;
                let Some(app) = watched.upgrade() else { return };
                let _ = tokio::task::spawn_blocking(move || app.watch_run()).await;
            }
        });
    }
    tasks
}

#[cfg(test)]
mod tests {
    use store::telemetry::Sample;

    use super::*;

    #[test]
    fn what_was_shown_after_a_moment_is_gone_once_it_is_gone_back_to() {
        let kept = Rewound::new().expect("opens");
        let at = |seconds: i64| Timestamp::UNIX_EPOCH + SignedDuration::from_secs(seconds);
        let channels = ["panel", "level"].map(|name| kept.channel(name).expect("a channel"));
        for second in 0..5000 {
            kept.take(&channels.map(|channel| Sample { channel, at: at(second), value: second as f64 }));
        }
        kept.save().expect("saves");
        kept.forget_from(at(4200)).expect("goes back");
        for (channel, name) in channels.into_iter().zip(["panel", "level"]) {
            assert_eq!(kept.channel(name).expect("the same"), channel);
            let left = kept.samples(channel, at(0), at(9000)).expect("reads");
            assert_eq!((left.len(), left[4199].at), (4200, at(4199)));
        }
    }
}
