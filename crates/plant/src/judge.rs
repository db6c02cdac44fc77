//! Monitors a run: whether it goes as it should, and the likely cause when it does not.
//!
//! An ensemble of models follows the plant: it gets the plant's commands, and learns from the sensors how fast this
//! plant dissolves, feeds and fills (an ensemble Kalman filter; G. Evensen, J. Geophys. Res. 99 (1994) 10143). Every
//! few minutes a part of it is split off as a forecast that no longer sees the sensors. When the readings leave the
//! range of a forecast, the likeliest causes are the faults whose models, started at the same moment, would have shown
//! them.

mod causes;
mod ensemble;

use std::collections::VecDeque;

use crate::Error;
use crate::layout::Layout;
use crate::model::{Commands, Plant};

pub use causes::{Cause, Check, check_of};
pub use ensemble::{Prior, allowance};

pub(crate) use ensemble::Ensemble;

/// Standard deviations beyond which a run is called wrong, tuned on simulated runs.
pub const USUAL_THRESHOLD: f64 = 2.6;
/// Readings after which a new forecast is started, and after which one is dropped.
const BEGUN_EVERY: usize = 12;
const KEPT_FOR: usize = 40;
/// Readings before a forecast counts.
const SETTLING: usize = 4;
/// Weight of the newest reading in a forecast's error.
const NEWEST: f64 = 0.2;
/// Members of a forecast.
const TOLD: usize = 12;
/// Step in which a model runs ahead, s.
const AHEAD: f64 = 120.0;
/// Factor on the spread of so few members, which is itself uncertain.
const WIDER: f64 = 1.3;

/// One set of readings: what the plant was commanded since the last, and what its sensors show now.
#[derive(Debug, Clone)]
pub struct Seen {
    /// Commands of the plant now.
    pub commands: Commands,
    /// Commands before, where they changed since the last reading, and the share of the time they still applied.
    pub earlier: Option<(f64, Commands)>,
    /// What every sensor shows, in its own unit.
    pub shown: Vec<f64>,
}

impl Seen {
    /// Runs a model for one period with the plant's commands.
    pub(crate) fn play(&self, plant: &mut Plant, period: f64) -> Result<(), Error> {
        let mut left = period;
        if let Some((share, commands)) = &self.earlier {
            let held = share.clamp(0.0, 1.0) * period;
            plant.tell(commands.clone());
            plant.advance(held)?;
            left -= held;
        }
        plant.tell(self.commands.clone());
        plant.advance(left)
    }
}

/// The monitor's finding from one set of readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// Distance of the readings from the forecast, in standard deviations, of the worst sensor.
    pub outside: f64,
    /// Causes, likeliest first, with their probabilities; empty while the run goes as it should.
    pub causes: Vec<(Cause, f64)>,
}

struct Forecast {
    age: usize,
    members: Vec<Plant>,
    /// The models at its start, from which causes are tried.
    began: Vec<Plant>,
    /// Weighted errors of each sensor, in standard deviations.
    errors: Vec<f64>,
}

/// Monitor of one run.
pub struct Judge {
    layout: Layout,
    period: f64,
    ensemble: Ensemble,
    forecasts: VecDeque<Forecast>,
    seen: VecDeque<Seen>,
    looks: usize,
    threshold: f64,
}

impl Judge {
    /// Creates a monitor for a plant in the state of `plant`; how that plant differs from its layout is learned. It
    /// raises an alarm when the weighted error of a sensor reaches `threshold`, in standard deviations.
    pub fn new(plant: &Plant, seed: u64, threshold: f64) -> Self {
        Self::knowing(plant, &Prior::default(), seed, threshold)
    }

    /// Creates a monitor that starts from what earlier runs taught of the plant. `threshold` as in [`Self::new`].
    pub fn knowing(plant: &Plant, prior: &Prior, seed: u64, threshold: f64) -> Self {
        let layout = plant.layout().clone();
        let period = 3600.0 * quantity::in_hours(layout.control.period);
        Self {
            ensemble: Ensemble::new(plant, prior, seed),
            layout,
            period,
            forecasts: VecDeque::new(),
            seen: VecDeque::new(),
            looks: 0,
            threshold,
        }
    }

    /// Takes in one set of readings, one controller period after the last.
    ///
    /// # Errors
    /// [`Error::Stuck`] from a model.
    pub fn look(&mut self, seen: &Seen) -> Result<Verdict, Error> {
        if self.looks.is_multiple_of(BEGUN_EVERY) {
            let members = self.ensemble.some(TOLD);
            let errors = vec![0.0; self.layout.sensors.len()];
            self.forecasts.push_back(Forecast { age: 0, began: members.clone(), members, errors });
        }
        self.looks += 1;
        self.seen.push_back(seen.clone());
        let mut outside: f64 = 0.0;
        let mut by = None;
        for (place, forecast) in self.forecasts.iter_mut().enumerate() {
            forecast.age += 1;
            advance(&mut forecast.members, seen, self.period)?;
            let expected: Vec<Vec<f64>> = forecast.members.iter().map(Plant::expects).collect();
            for (sensor, error) in forecast.errors.iter_mut().enumerate() {
                if !forecast.members.iter().all(|one| ensemble::says_something(&self.layout, one, sensor)) {
                    continue;
                }
                let values = expected.iter().map(|shown| shown[sensor]);
                let (mean, spread) = moments(values);
                let off = ensemble::allowance(&self.layout, sensor, mean);
                let z = (seen.shown[sensor] - mean) / (WIDER * spread).hypot(off);
                *error = NEWEST * z + (1.0 - NEWEST) * *error;
                if SETTLING <= forecast.age && outside < error.abs() {
                    outside = error.abs();
                    by = Some(place);
                }
            }
        }
        let alarm = self.threshold <= outside;
        let causes = match by {
            Some(place) if alarm => {
                // From the oldest that still saw the run go well, except the one that raised the alarm.
                let forecast = &self.forecasts[place];
                let since = self.seen.len() - forecast.age;
                causes::rank(&self.layout, &forecast.began, self.seen.range(since..), self.period)?
            }
            _ => Vec::new(),
        };
        self.ensemble.follow(seen, self.period)?;
        while self.forecasts.front().is_some_and(|oldest| KEPT_FOR <= oldest.age) {
            self.forecasts.pop_front();
        }
        while KEPT_FOR + 1 < self.seen.len() {
            self.seen.pop_front();
        }
        Ok(Verdict { outside, causes })
    }

    /// Returns the time until the panel is in its spec range if no command changes, s from now: the times within which
    /// a tenth, half and nine tenths of the models reach it; none where so many do not within `longest`, s. Takes some
    /// tens of milliseconds of computing for each hour of it.
    ///
    /// # Errors
    /// [`Error::Stuck`] from a model.
    pub fn time_to_strength(&self, longest: f64) -> Result<[Option<f64>; 3], Error> {
        let control = &self.layout.control;
        let enough = control.target.percent() - 100.0 * control.band;
        let mut times = Vec::new();
        for mut member in self.ensemble.some(TOLD) {
            let mut passed = 0.0;
            while passed < longest && member.expects()[control.panel] < enough {
                member.advance(AHEAD)?;
                passed += AHEAD;
            }
            times.push(if passed < longest { passed } else { f64::INFINITY });
        }
        times.sort_by(f64::total_cmp);
        let place = |share: f64| times[((share * times.len() as f64) as usize).min(times.len() - 1)];
        Ok([0.1, 0.5, 0.9].map(place).map(|time| Some(time).filter(|time| time.is_finite())))
    }

    /// Returns what was learned: mean factors (1 is as the layout says) and their standard deviations, in the order
    /// reached, feed, water.
    pub fn learned(&self) -> [(f64, f64); 3] {
        self.ensemble.learned()
    }
}

fn advance(plants: &mut [Plant], seen: &Seen, period: f64) -> Result<(), Error> {
    plants.iter_mut().try_for_each(|plant| seen.play(plant, period))
}

/// Returns mean and standard deviation.
fn moments(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let count = values.clone().count().max(1) as f64;
    let mean = values.clone().sum::<f64>() / count;
    let squares: f64 = values.map(|value| (value - mean).powi(2)).sum();
    (mean, (squares / (count - 1.0).max(1.0)).sqrt())
}
