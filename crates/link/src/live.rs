//! The newest value of every point, with its quality and age.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use jiff::Timestamp;
use message::{Message, message};
use site::points::{Machine, Point};

/// Clock that gives the time values are kept under.
pub type Now = Arc<dyn Fn() -> Timestamp + Send + Sync>;
/// Takes every good value: place of the point, time, and the value in the unit it is kept in.
pub type Keep = Arc<dyn Fn(&[(usize, Timestamp, f64)]) + Send + Sync>;

/// Whether a value may be used, and if not, why.
#[derive(Debug, Clone, PartialEq)]
pub enum Quality {
    /// Read by this program within the point's age limit.
    Good,
    /// Older than the point's age limit.
    Stale,
    /// A message that a broker kept from before: its age is unknown.
    Kept,
    /// Nothing was read since the program started.
    Never,
    /// The equipment refused, or sent something that is not a number; the message says why.
    Refused(Message),
}

impl Quality {
    /// Whether it may be used.
    pub fn is_good(&self) -> bool {
        *self == Quality::Good
    }
}

/// The newest state of one point.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// Newest value, in the unit it is kept in; none before the first one.
    pub value: Option<f64>,
    /// Whether the value may be used.
    pub quality: Quality,
    /// Time since the value was read, by a monotonic clock; none before the first one.
    pub age: Option<Duration>,
    /// Modbus registers as they came, even when no number could be made of them.
    pub registers: Vec<u16>,
}

/// State of the connection to one machine.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MachineState {
    /// Whether there is a connection now.
    pub connected: bool,
    /// Why the last connection failed or broke; none while connected.
    pub trouble: Option<Message>,
    /// Connections made since the program started.
    pub connections: u64,
}

#[derive(Debug, Clone, Default)]
struct Slot {
    value: Option<f64>,
    read: Option<Instant>,
    refused: Option<Message>,
    kept: bool,
    registers: Vec<u16>,
}

/// One reading of a point, good or not.
#[derive(Debug, Clone)]
pub(crate) struct Look {
    pub point: usize,
    /// The number before scaling, or why there is none.
    pub read: Result<f64, Message>,
    pub registers: Vec<u16>,
    /// Whether it is a message that a broker kept from before.
    pub kept: bool,
}

/// Newest value of every point, shared by those who read the equipment and those who show it.
pub struct Live {
    machines: Vec<Machine>,
    points: Vec<Point>,
    /// Time between two polls of each machine, µs.
    every: Vec<AtomicU64>,
    slots: Mutex<Vec<Slot>>,
    states: Mutex<Vec<MachineState>>,
    now: Now,
    keep: Keep,
}

fn hold<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Live {
    /// Makes one with nothing read yet. Every good value goes to `keep`, with the time that `now` gives.
    pub fn new(machines: Vec<Machine>, points: Vec<Point>, now: Now, keep: Keep) -> Self {
        let slots = Mutex::new(vec![Slot::default(); points.len()]);
        let states = Mutex::new(vec![MachineState::default(); machines.len()]);
        let micros = |machine: &Machine| AtomicU64::new((1e6 * machine.every_seconds()) as u64);
        let every = machines.iter().map(micros).collect();
        Self { machines, points, every, slots, states, now, keep }
    }

    /// Equipment that is read, as given to [`Live::new`]. The place of a machine is its index here.
    pub fn machines(&self) -> &[Machine] {
        &self.machines
    }

    /// Points that are read, as given to [`Live::new`]. The place of a point is its index here.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// Time between two polls of a machine, at least 0.5 ms; 1 s for a place that is none.
    pub fn every(&self, machine: usize) -> Duration {
        self.every.get(machine).map_or(Duration::from_secs(1), |micros| {
            Duration::from_micros(micros.load(Ordering::Relaxed).max(500))
        })
    }

    /// Changes the time between polls of a machine: the practice plant's clock may run faster.
    pub fn poll_every(&self, machine: usize, every: Duration) {
        if let Some(micros) = self.every.get(machine) {
            micros.store(u64::try_from(every.as_micros()).unwrap_or(u64::MAX), Ordering::Relaxed);
        }
    }

    /// Newest state of a point; none for a place that is none.
    pub fn shown(&self, point: usize) -> Option<Shown> {
        let described = self.points.get(point)?;
        let slot = hold(&self.slots).get(point)?.clone();
        let age = slot.read.map(|read| read.elapsed());
        let limit = described.age_limit_seconds();
        let quality = match (&slot.refused, age) {
            (Some(why), _) => Quality::Refused(why.clone()),
            (None, None) => Quality::Never,
            (None, Some(age)) if limit < age.as_secs_f64() => Quality::Stale,
            (None, Some(_)) if slot.kept => Quality::Kept,
            (None, Some(_)) => Quality::Good,
        };
        Some(Shown { value: slot.value, quality, age, registers: slot.registers })
    }

    /// Value of the point that shows a part of the plant's layout, in the unit it is kept in; none unless it is good.
    pub fn of_part(&self, part: &str) -> Option<f64> {
        let place = self.points.iter().position(|point| point.shows.as_deref() == Some(part))?;
        self.shown(place).filter(|shown| shown.quality.is_good()).and_then(|shown| shown.value)
    }

    /// State of the connection to a machine; none for a place that is none.
    pub fn state(&self, machine: usize) -> Option<MachineState> {
        hold(&self.states).get(machine).cloned()
    }

    /// Points of one machine, with their places.
    pub(crate) fn of_machine(&self, machine: usize) -> impl Iterator<Item = (usize, &Point)> {
        self.points.iter().enumerate().filter(move |(_, point)| point.machine == machine)
    }

    /// Stores new readings, and passes the good ones on to `keep`.
    pub(crate) fn take(&self, looks: Vec<Look>) {
        let (at, read) = ((self.now)(), Instant::now());
        let mut good = Vec::with_capacity(looks.len());
        {
            let mut slots = hold(&self.slots);
            for look in looks {
                let (Some(slot), Some(point)) = (slots.get_mut(look.point), self.points.get(look.point))
                else {
                    continue;
                };
                slot.registers = look.registers;
                match look.read.map(|number| point.value(number)) {
                    Ok(value) if value.is_finite() => {
                        slot.value = Some(value);
                        slot.read = Some(read);
                        slot.refused = None;
                        slot.kept = look.kept;
                        if !look.kept {
                            good.push((look.point, at, value));
                        }
                    }
                    Ok(_) => slot.refused = Some(message!("link.not_finite")),
                    Err(why) => slot.refused = Some(why),
                }
            }
        }
        if !good.is_empty() {
            (self.keep)(&good);
        }
    }

    pub(crate) fn connected(&self, machine: usize) {
        if let Some(state) = hold(&self.states).get_mut(machine) {
            state.connected = true;
            state.trouble = None;
            state.connections += 1;
        }
    }

    pub(crate) fn lost(&self, machine: usize, why: Message) {
        if let Some(state) = hold(&self.states).get_mut(machine) {
            state.connected = false;
            state.trouble = Some(why);
        }
    }
}
