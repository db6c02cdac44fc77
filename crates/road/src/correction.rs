//! What a yard's own readings say about the model of a road: a slow bias and a fast error, by Kalman's filter.
//!
//! Reading = model + slow + fast + noise. The slow part wanders (0.025 K in an hour, as its root grows), the fast
//! part dies away with 8 h. Figures: maximum likelihood on half a winter of a street, docs/roads.md.

use jiff::{SignedDuration, Timestamp};

/// Wandering of the slow part, K² an hour.
const SLOW_STEP: f64 = 0.025 * 0.025;
/// What is known of the slow part before any reading, sd in K.
const SLOW_PRIOR: f64 = 1.0;
/// Standard deviation of the fast part, K, and the time in which it dies away, h.
const FAST: (f64, f64) = (0.58, 8.0);
/// Without readings for longer than the first, the slow part goes back to what was known before any, with the second,
/// h: all but gone in two weeks.
const FORGETS: (f64, f64) = (24.0, 100.0);
/// Readings further off than this many standard deviations are left out.
const GATE: f64 = 4.0;
/// So many readings in a row that are far off and agree within so many K are believed.
const BELIEVED: usize = 3;
const AGREE: f64 = 2.5;
/// Lags that are tried, h; one of this many hours or more is a wrong clock.
const MOST_LAG: i64 = 6;
const WRONG_LAG: i64 = 2;
/// Hourly pairs from which a clock is judged.
const LEAST_PAIRS: usize = 36;
/// A wrong lag must fit so much better than none.
const FITS_BETTER: f64 = 0.8;

/// What a reading was taken with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Instrument {
    /// A sensor in the road.
    Station,
    /// An infrared thermometer in the hand.
    Infrared,
    /// An infrared thermometer on a vehicle.
    VehicleInfrared,
}

impl Instrument {
    /// Standard deviation of a reading, K.
    pub fn deviation(self) -> f64 {
        match self {
            Instrument::Station => 0.3,
            Instrument::Infrared => 0.7,
            Instrument::VehicleInfrared => 1.0,
        }
    }
}

/// What became of a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Taken {
    /// It corrects the model.
    Used,
    /// It is further off than four standard deviations, and is left out.
    LeftOut {
        /// Reading less what was expected, K.
        off: f64,
        /// What was expected of that difference, sd in K.
        deviation: f64,
    },
}

/// The state of the filter for one road.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Correction {
    slow: f64,
    fast: f64,
    /// Variances of slow and fast, and their covariance, K².
    slow_variance: f64,
    fast_variance: f64,
    covariance: f64,
    at: Option<Timestamp>,
    read_at: Option<Timestamp>,
}

impl Default for Correction {
    fn default() -> Self {
        Self {
            slow: 0.0,
            fast: 0.0,
            slow_variance: SLOW_PRIOR * SLOW_PRIOR,
            fast_variance: FAST.0 * FAST.0,
            covariance: 0.0,
            at: None,
            read_at: None,
        }
    }
}

impl Correction {
    /// When the newest reading in it was taken; none without any.
    pub fn read_at(&self) -> Option<Timestamp> {
        self.read_at
    }

    /// Moves on to a moment.
    pub fn advance(&mut self, to: Timestamp) {
        let Some(from) = self.at else {
            self.at = Some(to);
            return;
        };
        let hours = to.duration_since(from).as_secs_f64() / 3600.0;
        if hours <= 0.0 {
            return;
        }
        let kept = (-hours / FAST.1).exp();
        self.fast *= kept;
        self.fast_variance = kept * kept * self.fast_variance + FAST.0 * FAST.0 * (1.0 - kept * kept);
        self.covariance *= kept;
        self.slow_variance += SLOW_STEP * hours;
        if let Some(read) = self.read_at {
            let silent =
                |at: Timestamp| (at.duration_since(read).as_secs_f64() / 3600.0 - FORGETS.0).max(0.0);
            let kept = (-(silent(to) - silent(from)) / FORGETS.1).exp();
            self.slow *= kept;
            self.covariance *= kept;
            self.slow_variance =
                kept * kept * self.slow_variance + SLOW_PRIOR * SLOW_PRIOR * (1.0 - kept * kept);
        }
        self.slow_variance = self.slow_variance.min(SLOW_PRIOR * SLOW_PRIOR);
        self.at = Some(to);
    }

    /// Takes in a reading less the model's temperature, K, at the moment that the filter stands at.
    pub fn read(&mut self, residual: f64, instrument: Instrument) -> Taken {
        let noise = instrument.deviation().powi(2);
        let variance = self.slow_variance + self.fast_variance + 2.0 * self.covariance + noise;
        let off = residual - self.slow - self.fast;
        if off.abs() > GATE * variance.sqrt() {
            return Taken::LeftOut { off, deviation: variance.sqrt() };
        }
        let with_slow = self.slow_variance + self.covariance;
        let with_fast = self.fast_variance + self.covariance;
        let (slow_gain, fast_gain) = (with_slow / variance, with_fast / variance);
        self.slow += slow_gain * off;
        self.fast += fast_gain * off;
        self.slow_variance -= slow_gain * with_slow;
        self.covariance -= slow_gain * with_fast;
        self.fast_variance -= fast_gain * with_fast;
        self.read_at = self.at;
        Taken::Used
    }

    /// Takes in a reading that earlier ones bear out, though it is far off: the bias is less known than was thought.
    pub fn believe(&mut self, residual: f64, instrument: Instrument) -> Taken {
        let off = residual - self.slow - self.fast;
        self.slow_variance = self.slow_variance.max(off * off);
        self.read(residual, instrument)
    }

    /// What is to be added to the model after so many hours, and its standard deviation, K.
    pub fn ahead(&self, hours: f64) -> (f64, f64) {
        let kept = (-hours / FAST.1).exp();
        let fast = kept * kept * self.fast_variance + FAST.0 * FAST.0 * (1.0 - kept * kept);
        let slow = (self.slow_variance + SLOW_STEP * hours).min(SLOW_PRIOR * SLOW_PRIOR);
        (self.slow + kept * self.fast, (slow + fast + 2.0 * kept * self.covariance).max(0.0).sqrt())
    }

    /// The same for a road of the same class that nobody reads: it borrows the slow part, half again as uncertain.
    pub fn borrowed(&self, hours: f64) -> (f64, f64) {
        let slow = (self.slow_variance + SLOW_STEP * hours).min(SLOW_PRIOR * SLOW_PRIOR);
        (self.slow, (2.25 * slow + FAST.0 * FAST.0).sqrt())
    }
}

/// Lag of hourly readings behind the model at which they fit best, h, where that tells of a wrong clock; none where the
/// clock is right, or where too few hours or too little change in them tell nothing.
///
/// # Equation
/// Least mean square of (reading − its mean) − (model − its mean), lags −6…6 h.
///
/// # Range
/// From 36 pairs of hours. Lags below 2 h are not told from the model's own.
pub fn wrong_clock(readings: &[Option<f64>], model: &[f64]) -> Option<SignedDuration> {
    let spread = |lag: i64| -> Option<f64> {
        let pairs: Vec<f64> = readings
            .iter()
            .enumerate()
            .filter_map(|(hour, reading)| {
                let at = usize::try_from(hour as i64 - lag).ok()?;
                Some((*reading)? - model.get(at)?)
            })
            .collect();
        if pairs.len() < LEAST_PAIRS {
            return None;
        }
        let mean = pairs.iter().sum::<f64>() / pairs.len() as f64;
        Some(pairs.iter().map(|one| (one - mean).powi(2)).sum::<f64>() / pairs.len() as f64)
    };
    let none = spread(0)?;
    let (lag, best) = (-MOST_LAG..=MOST_LAG)
        .filter_map(|lag| Some((lag, spread(lag)?)))
        .min_by(|(_, one), (_, other)| one.total_cmp(other))?;
    (lag.abs() >= WRONG_LAG && best < FITS_BETTER * none).then(|| SignedDuration::from_hours(lag))
}

/// A reading of a road's surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// When.
    pub at: Timestamp,
    /// What was read, °C.
    pub surface: f64,
    /// What it was read with.
    pub instrument: Instrument,
}

/// What became of a reading that is held against a model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Use {
    /// It corrects the model.
    Used,
    /// It is too far off and is left out.
    LeftOut {
        /// Reading less what was expected, K.
        off: f64,
    },
    /// The sensor's clock is off by so many hours: none of its readings is used.
    WrongClock {
        /// How far it is behind, h.
        hours: i64,
    },
    /// The weather of that hour is not known: there is nothing to hold it against.
    NoWeather,
}

/// A reading beside what was expected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compared {
    /// The reading.
    pub reading: Reading,
    /// What the model with all earlier readings in it expected, °C; none where the weather is not known.
    pub expected: Option<f64>,
    /// What became of it.
    pub used: Use,
}

/// Readings of a road held against its model.
#[derive(Debug, Clone)]
pub struct Held {
    /// Each, oldest first.
    pub readings: Vec<Compared>,
    /// State of the filter at the end; none where no reading could be used.
    pub correction: Option<Correction>,
    /// At the beginning of each hour of the model, what is to be added to it and its standard deviation, K.
    pub by_hour: Vec<(f64, f64)>,
}

/// Holds readings, in order of time, against a model that begins at a moment and gives the temperature at the end of
/// every hour from there, °C. The filter then stands at `until`.
///
/// # Range
/// A reading more than half an hour before the model's first hour ends has nothing to be held against; the last hour
/// stands for what is read soon after it.
pub fn held(readings: &[Reading], begins: Timestamp, model: &[f64], until: Timestamp) -> Held {
    let hours_of = |at: Timestamp| at.duration_since(begins).as_secs_f64() / 3600.0 - 1.0;
    let at = |at: Timestamp| -> Option<f64> {
        let last = model.len().checked_sub(1)?;
        let hours = hours_of(at);
        if hours < -0.5 {
            return None;
        }
        let hours = hours.clamp(0.0, last as f64);
        let low = hours as usize;
        let high = (low + 1).min(last);
        Some(model[low] + hours.fract() * (model[high] - model[low]))
    };
    let mut hourly = vec![None; model.len()];
    for one in readings.iter().filter(|one| one.instrument == Instrument::Station) {
        let hours = hours_of(one.at);
        if hours > -0.5
            && let Some(hour) = hourly.get_mut(hours.round() as usize)
        {
            *hour = Some(one.surface);
        }
    }
    let lag = wrong_clock(&hourly, model).map(|lag| lag.as_hours());
    let mut correction = Correction::default();
    let mut left_out: Vec<f64> = Vec::new();
    let (mut compared, mut by_hour) = (Vec::with_capacity(readings.len()), Vec::with_capacity(model.len()));
    let to_hour = |by_hour: &mut Vec<(f64, f64)>, correction: &mut Correction, to: Timestamp| {
        while by_hour.len() < model.len() {
            let hour = begins + SignedDuration::from_hours(by_hour.len() as i64);
            if hour >= to {
                break;
            }
            correction.advance(hour);
            by_hour.push(correction.ahead(0.0));
        }
    };
    for reading in readings {
        to_hour(&mut by_hour, &mut correction, reading.at);
        let told = |expected, used| Compared { reading: *reading, expected, used };
        let Some(model) = at(reading.at) else {
            compared.push(told(None, Use::NoWeather));
            continue;
        };
        correction.advance(reading.at);
        let expected = model + correction.ahead(0.0).0;
        if let (Some(hours), Instrument::Station) = (lag, reading.instrument) {
            compared.push(told(Some(expected), Use::WrongClock { hours }));
            continue;
        }
        let used = match correction.read(reading.surface - model, reading.instrument) {
            Taken::Used => {
                left_out.clear();
                Use::Used
            }
            // One that is far off is a slip; three that agree are a road that the model does not know.
            Taken::LeftOut { off, .. } => {
                left_out.push(off);
                let agree = left_out.iter().rev().take(BELIEVED).filter(|one| (*one - off).abs() < AGREE);
                if agree.count() < BELIEVED {
                    Use::LeftOut { off }
                } else {
                    left_out.clear();
                    correction.believe(reading.surface - model, reading.instrument);
                    Use::Used
                }
            }
        };
        compared.push(told(Some(expected), used));
    }
    to_hour(&mut by_hour, &mut correction, until + SignedDuration::from_secs(1));
    correction.advance(until);
    let is_read = compared.iter().any(|one| one.used == Use::Used);
    Held { readings: compared, correction: is_read.then_some(correction), by_hour }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(hours: i64) -> Timestamp {
        Timestamp::UNIX_EPOCH + SignedDuration::from_hours(hours)
    }

    /// A constant bias is learned, the more certainly the more readings there are.
    #[test]
    fn a_bias_is_learned_and_forgotten() {
        let mut correction = Correction::default();
        for hour in 0..72 {
            correction.advance(at(hour));
            assert_eq!(correction.read(-1.2, Instrument::Station), Taken::Used);
        }
        let (mean, deviation) = correction.ahead(1.0);
        assert!((mean + 1.2).abs() < 0.1 && deviation < 0.4, "{mean} {deviation}");
        let (later, wider) = correction.ahead(24.0);
        assert!((later + 1.2).abs() < 0.3 && wider > deviation, "{later} {wider}");
        correction.advance(at(72 + 24 * 21));
        let (gone, widest) = correction.ahead(1.0);
        assert!(gone.abs() < 0.1 && widest > 1.0, "{gone} {widest}");
    }

    /// One state alone is a scalar filter, worked by hand: P = 1 + 0.3364, R = 0.09, gain = 1.3364 / 1.4264.
    #[test]
    fn the_first_reading_is_weighed_as_by_hand() {
        let mut correction = Correction::default();
        correction.advance(at(0));
        correction.read(1.0, Instrument::Station);
        let (mean, deviation) = correction.ahead(0.0);
        assert!((mean - 1.3364 / 1.4264).abs() < 1e-12, "{mean}");
        assert!((deviation.powi(2) - (1.3364 - 1.3364 * 1.3364 / 1.4264)).abs() < 1e-12, "{deviation}");
    }

    #[test]
    fn a_reading_off_by_twenty_is_left_out() {
        let mut correction = Correction::default();
        correction.advance(at(0));
        let before = correction;
        assert!(matches!(correction.read(20.0, Instrument::Infrared), Taken::LeftOut { .. }));
        assert_eq!(correction, before);
    }

    /// One slip is left out; the third reading that agrees with two others is believed.
    #[test]
    fn three_readings_that_agree_are_believed() {
        let model = vec![0.0; 72];
        let reading =
            |hour: i64, surface: f64| Reading { at: at(hour), surface, instrument: Instrument::Infrared };
        let all = [reading(10, -7.0), reading(34, -7.6), reading(58, -6.8)];
        let held_of = |readings: &[Reading]| held(readings, at(0), &model, at(72));
        assert!(held_of(&all[..2]).correction.is_none());
        let found = held_of(&all);
        assert!(matches!(found.readings[1].used, Use::LeftOut { .. }) && found.readings[2].used == Use::Used);
        let (mean, _) = found.correction.unwrap().ahead(24.0);
        assert!((mean + 6.8).abs() < 0.8, "{mean}");
        let apart = [reading(10, -7.0), reading(34, 9.0), reading(58, -6.8)];
        assert!(held_of(&apart).correction.is_none());
    }

    #[test]
    fn a_clock_four_hours_off_is_found_and_a_right_one_let_be() {
        let model: Vec<f64> =
            (0..96).map(|hour| 6.0 * (std::f64::consts::TAU * f64::from(hour) / 24.0).sin()).collect();
        let readings = |lag: i64| -> Vec<Option<f64>> {
            (0..96_i64)
                .map(|hour| {
                    usize::try_from(hour - lag).ok().and_then(|at| model.get(at)).map(|value| value - 1.0)
                })
                .collect()
        };
        assert_eq!(wrong_clock(&readings(0), &model), None);
        assert_eq!(wrong_clock(&readings(4), &model), Some(SignedDuration::from_hours(4)));
        assert_eq!(wrong_clock(&readings(-3), &model), Some(SignedDuration::from_hours(-3)));
        assert_eq!(wrong_clock(&readings(4)[..30], &model), None);
    }
}
