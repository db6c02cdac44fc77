//! Where the time comes from: the machine, a day of the demo, or the practice plant.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;

use jiff::{SignedDuration, Timestamp};

/// Where the time comes from.
#[derive(Debug, Clone)]
pub enum Clock {
    /// The machine.
    System,
    /// Stands still, for pictures and tests.
    Fixed(Timestamp),
    /// Runs from a moment of the past: the demo's day, whose waits end as they do in a yard.
    From {
        /// That moment.
        at: Timestamp,
        /// When it was, by the machine.
        begun: Timestamp,
    },
    /// The practice plant's.
    Plant(Arc<PlantClock>),
}

impl Clock {
    /// Now.
    pub fn now(&self) -> Timestamp {
        match self {
            Clock::System => Timestamp::now(),
            Clock::Fixed(at) => *at,
            Clock::From { at, begun } => *at + Timestamp::now().duration_since(*begun),
            Clock::Plant(clock) => clock.now(),
        }
    }
}

/// How time goes.
#[derive(Debug, Clone, Copy)]
struct Beat {
    /// Time of the plant, s, at [`Beat::at`].
    seconds: f64,
    at: Instant,
    speed: u32,
    paused: bool,
}

/// The practice plant's time: as fast as the trainer says, or still.
#[derive(Debug)]
pub struct PlantClock {
    begin: Timestamp,
    beat: Mutex<Beat>,
}

impl PlantClock {
    /// A clock that goes from a time on.
    pub fn new(begin: Timestamp, speed: u32) -> Self {
        let beat = Beat { seconds: 0.0, at: Instant::now(), speed, paused: false };
        Self { begin, beat: Mutex::new(beat) }
    }

    /// Time of the plant, s.
    pub fn seconds(&self) -> f64 {
        let beat = hold(&self.beat);
        if beat.paused {
            beat.seconds
        } else {
            beat.seconds + f64::from(beat.speed) * beat.at.elapsed().as_secs_f64()
        }
    }

    /// The same as a time of day.
    pub fn now(&self) -> Timestamp {
        self.begin + SignedDuration::from_secs_f64(self.seconds())
    }

    /// When it began.
    pub fn begin(&self) -> Timestamp {
        self.begin
    }

    /// How fast it goes.
    pub fn speed(&self) -> u32 {
        hold(&self.beat).speed
    }

    /// Whether it stands still.
    pub fn is_paused(&self) -> bool {
        hold(&self.beat).paused
    }

    fn change(&self, change: impl FnOnce(&mut Beat)) {
        let seconds = self.seconds();
        let mut beat = hold(&self.beat);
        beat.seconds = seconds;
        beat.at = Instant::now();
        change(&mut beat);
    }

    /// Goes at another speed from now on.
    pub fn set_speed(&self, speed: u32) {
        self.change(|beat| beat.speed = speed);
    }

    /// Stands still, or goes on.
    pub fn pause(&self, paused: bool) {
        self.change(|beat| beat.paused = paused);
    }

    pub(crate) fn put(&self, seconds: f64) {
        self.change(|beat| beat.seconds = seconds);
    }
}

fn hold<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
