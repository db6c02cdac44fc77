//! Where the time comes from: the machine, a day of the demo, or the practice plant.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;

use jiff::{SignedDuration, Timestamp};

/// Where the time comes from.
#[derive(Debug, Clone)]
pub enum Clock {
    /// The clock of the yard computer.
    System,
    /// Stands still, for pictures and tests.
    Fixed(Timestamp),
    /// Runs from a moment of the past: the demo's day, whose waits end as they do in a yard.
    From {
        /// Moment of the past that it started from.
        at: Timestamp,
        /// Time on the yard computer's clock when it started.
        begun: Timestamp,
    },
    /// The practice plant's clock, as fast as the trainer sets it.
    Plant(Arc<PlantClock>),
}

impl Clock {
    /// The time that everything in the console takes for now.
    pub fn now(&self) -> Timestamp {
        match self {
            Clock::System => Timestamp::now(),
            Clock::Fixed(at) => *at,
            Clock::From { at, begun } => *at + Timestamp::now().duration_since(*begun),
            Clock::Plant(clock) => clock.now(),
        }
    }
}

/// Speed of the practice plant's clock since it was last changed.
#[derive(Debug, Clone, Copy)]
struct Beat {
    /// Time of the plant, s, at [`Beat::at`].
    seconds: f64,
    at: Instant,
    speed: u32,
    paused: bool,
}

/// Clock of the practice plant: runs at the trainer's speed, or is paused.
#[derive(Debug)]
pub struct PlantClock {
    begin: Timestamp,
    beat: Mutex<Beat>,
}

impl PlantClock {
    /// Makes a clock that runs from a time on, `speed` times as fast as real time.
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

    /// The same as a point in time: its begin plus [`PlantClock::seconds`].
    pub fn now(&self) -> Timestamp {
        self.begin + SignedDuration::from_secs_f64(self.seconds())
    }

    /// Time that it began at.
    pub fn begin(&self) -> Timestamp {
        self.begin
    }

    /// Seconds of the plant in one real second.
    pub fn speed(&self) -> u32 {
        hold(&self.beat).speed
    }

    /// Whether it is paused.
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

    /// Changes the speed, from now on.
    pub fn set_speed(&self, speed: u32) {
        self.change(|beat| beat.speed = speed);
    }

    /// Pauses it, or lets it run again.
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
