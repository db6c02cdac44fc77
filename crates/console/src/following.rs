//! What is read of a plant over the network: the newest of every point, and what is kept of it.

use std::sync::Arc;

use jiff::{SignedDuration, Timestamp};
use link::{Live, Patience};
use message::{Message, Tell};
use site::Yard;
use site::points::Point;
use store::StoreError;
use store::telemetry::{Channel, Column, SAVE_EVERY, Sample, Telemetry};
use tokio::task::JoinSet;
use yard::estimate::Level;

use crate::clock::Clock;

/// What was shown is used for so long where a look is made up for, s.
const STILL_GOOD: i64 = 20;

/// Samples are kept for so long, h: a season and the summer after it; their minutes stay.
const KEPT_HOURS: i64 = 24 * 366;
/// Older ones are let go of every so many saves: once a day.
const FORGET_EVERY: u32 = 17_280;

/// A plant that is read.
pub struct Following {
    /// The newest of every point.
    pub live: Arc<Live>,
    telemetry: Arc<dyn Telemetry>,
    /// Of each point.
    channels: Vec<Channel>,
    clock: Clock,
    /// Why the last save failed.
    trouble: Arc<std::sync::Mutex<Option<Message>>>,
}

impl Following {
    /// The points of a yard; none where it has none, or nothing keeps them.
    pub(crate) fn new(yard: &Yard, telemetry: Option<Arc<dyn Telemetry>>, clock: &Clock) -> Option<Self> {
        let telemetry = telemetry.filter(|_| !yard.points.is_empty())?;
        let channels: Result<Vec<Channel>, StoreError> =
            yard.points.iter().map(|point| telemetry.channel(&point.id)).collect();
        let (channels, trouble) = match channels {
            Ok(channels) => (channels, None),
            Err(error) => (Vec::new(), Some(error.message())),
        };
        let (kept_in, of_each, tells) = (Arc::clone(&telemetry), channels.clone(), clock.clone());
        let live = Live::new(
            yard.machines.clone(),
            yard.points.clone(),
            Arc::new(move || tells.now()),
            Arc::new(move |values| {
                let sample = |(point, at, value): &(usize, Timestamp, f64)| {
                    of_each.get(*point).map(|channel| Sample { channel: *channel, at: *at, value: *value })
                };
                kept_in.take(&values.iter().filter_map(sample).collect::<Vec<_>>());
            }),
        );
        let trouble = Arc::new(std::sync::Mutex::new(trouble));
        Some(Self { live: Arc::new(live), telemetry, channels, clock: clock.clone(), trouble })
    }

    /// Begins to read every machine and to save what is read, until what is answered is dropped.
    pub fn begin(&self) -> JoinSet<()> {
        let mut tasks = JoinSet::new();
        for machine in 0..self.live.machines().len() {
            tasks.spawn(link::follow(Arc::clone(&self.live), machine, Patience::default()));
        }
        let (telemetry, trouble) = (Arc::clone(&self.telemetry), Arc::clone(&self.trouble));
        let clock = self.clock.clone();
        tasks.spawn(async move {
            let mut ticks = tokio::time::interval(SAVE_EVERY);
            ticks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
            for save in 0_u32.. {
                ticks.tick().await;
                let (saves, now) = (Arc::clone(&telemetry), clock.now());
                let saved = tokio::task::spawn_blocking(move || {
                    saves.save()?;
                    if save.is_multiple_of(FORGET_EVERY) {
                        saves.forget_before(now - SignedDuration::from_hours(KEPT_HOURS))?;
                    }
                    Ok(())
                })
                .await;
                if let Ok::<Result<(), StoreError>, _>(saved) = saved {
                    let mut trouble = trouble.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
                    *trouble = saved.err().map(|error| error.message());
                }
            }
        });
        tasks
    }

    /// Saves once more, at the end.
    pub fn finish(&self) {
        // What cannot be saved now cannot be saved later either.
        let _ = self.telemetry.save();
    }

    /// Why what is read cannot be kept, or what of it is not there any more, if so.
    pub fn trouble(&self) -> Option<Message> {
        let unsaved = self.trouble.lock().unwrap_or_else(std::sync::PoisonError::into_inner).clone();
        unsaved.or_else(|| self.telemetry.damage())
    }

    /// What is kept of it.
    pub(crate) fn telemetry(&self) -> &dyn Telemetry {
        self.telemetry.as_ref()
    }

    /// What level sensors of storage tanks show now, where that is good.
    pub(crate) fn levels(&self, yard: &Yard) -> Vec<(String, Level)> {
        let at = self.clock.now();
        let level = |(place, point): (usize, &Point)| {
            let shown = self.live.shown(place).filter(|shown| shown.quality.is_good())?;
            let tank = yard.tank(point.tank.as_ref()?)?;
            let volume = point.volume_in(tank, shown.value?)?;
            Some((tank.id.clone(), Level { at, volume, temperature: None }))
        };
        self.live.points().iter().enumerate().filter_map(level).collect()
    }

    fn place(&self, part: &str) -> Option<usize> {
        self.live.points().iter().position(|point| point.shows.as_deref() == Some(part))
    }

    fn channel(&self, part: &str) -> Option<Channel> {
        self.channels.get(self.place(part)?).copied()
    }

    /// What a part showed last before a time, where that was not long before.
    pub(crate) fn at(&self, part: &str, at: Timestamp) -> Option<f64> {
        let from = at - SignedDuration::from_secs(STILL_GOOD);
        let samples = self.telemetry.samples(self.channel(part)?, from, at).ok()?;
        samples.last().map(|sample| sample.value)
    }

    /// The mean of what a part showed between two times.
    pub(crate) fn mean(&self, part: &str, from: Timestamp, to: Timestamp) -> Option<f64> {
        let columns = self.telemetry.window(self.channel(part)?, from, to, 1).ok()?;
        columns.first().map(|column| column.mean)
    }

    /// What a part showed between two times, as so many columns at most.
    pub(crate) fn window(&self, part: &str, from: Timestamp, to: Timestamp, columns: usize) -> Vec<Column> {
        let Some(channel) = self.channel(part) else { return Vec::new() };
        // A chart without its line says so itself; the trouble of the disk is told elsewhere.
        self.telemetry.window(channel, from, to, columns).unwrap_or_default()
    }
}
