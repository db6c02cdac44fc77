//! What a yard's readings say about the model of each of its roads.

use event::RoadInstrument;
use jiff::{SignedDuration, Timestamp};
use road::correction::{Correction, Instrument, Taken, wrong_clock};
use weather::Hour;

use super::RoadOf;
use super::stories::{Asked, Told};

/// A reading this short after the plan begins counts as taken as it begins, min.
const AT_ONCE_MINUTES: i64 = 20;

/// What is known of roads beside the ledger and the forecast's file.
#[derive(Debug, Clone, Default)]
pub struct RoadsSeen {
    /// What sensors in roads showed, oldest first.
    pub sensed: Vec<Sensed>,
    /// Weather of hours that a file no longer tells, oldest first.
    pub weather: Vec<Hour>,
}

/// What a sensor in a road showed.
#[derive(Debug, Clone, PartialEq)]
pub struct Sensed {
    /// Class of route, or segment.
    pub road: String,
    /// Whether it is of a bridge deck of the class.
    pub is_deck: bool,
    /// When.
    pub at: Timestamp,
    /// Surface temperature, °C.
    pub surface: f64,
}

/// What became of a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Use {
    /// It corrects the model.
    Used,
    /// It is too far off, K, and is left out.
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
    /// When it was read.
    pub at: Timestamp,
    /// What was read, °C.
    pub surface: f64,
    /// What the model with all earlier readings in it expected, °C; none where the weather is not known.
    pub expected: Option<f64>,
    /// What it was read with.
    pub instrument: Instrument,
    /// What became of it.
    pub used: Use,
}

/// A road that was read.
#[derive(Debug, Clone)]
pub struct ReadRoad {
    /// Which.
    pub road: RoadOf,
    /// Its readings, oldest first.
    pub readings: Vec<Compared>,
    /// State of the filter as the plan begins; none where no reading could be used.
    pub correction: Option<Correction>,
}

fn instrument_of(word: RoadInstrument) -> Instrument {
    match word {
        RoadInstrument::Infrared => Instrument::Infrared,
        RoadInstrument::VehicleInfrared => Instrument::VehicleInfrared,
        RoadInstrument::Station => Instrument::Station,
    }
}

/// Readings of a road up to the plan, in order of time.
fn readings_of(asked: &Asked<'_>, road: RoadOf) -> Vec<(Timestamp, f64, Instrument)> {
    let is_of = |id: &str, is_deck: bool| RoadOf::named(asked.yard, id, is_deck) == Some(road);
    let entered = asked
        .readings
        .iter()
        .filter(|one| is_of(&one.road, one.is_deck))
        .map(|one| (one.at, one.surface, instrument_of(one.instrument)));
    let sensed = asked.seen.map_or(&[][..], |seen| seen.sensed.as_slice());
    let sensed = sensed
        .iter()
        .filter(|one| is_of(&one.road, one.is_deck))
        .map(|one| (one.at, one.surface, Instrument::Station));
    let latest = asked.from + SignedDuration::from_mins(AT_ONCE_MINUTES);
    let mut all: Vec<_> = entered.chain(sensed).filter(|(at, ..)| *at <= latest).collect();
    all.sort_by_key(|(at, ..)| *at);
    all
}

/// Holds the readings of a road against its model, °C at the end of every hour of the past; none where nobody read it.
pub(super) fn compared(asked: &Asked<'_>, told: &Told, road: RoadOf, past: &[f64]) -> Option<ReadRoad> {
    let readings = readings_of(asked, road);
    if readings.is_empty() {
        return None;
    }
    let begins = told.story.at(0);
    // A straight line between the ends of hours; the last one stands for what comes at once.
    let model = |at: Timestamp| -> Option<f64> {
        let hours = at.duration_since(begins).as_secs_f64() / 3600.0 - 1.0;
        let last = past.len().checked_sub(1)? as f64;
        if hours < -0.5 {
            return None;
        }
        let hours = hours.clamp(0.0, last);
        let (low, share) = (hours.floor(), hours.fract());
        let next = past.get(low as usize + 1).unwrap_or(&past[low as usize]);
        Some(past[low as usize] + share * (next - past[low as usize]))
    };
    let lag = clock_of(&readings, begins, past);
    let mut correction = Correction::default();
    let mut has_read = false;
    let compared = readings
        .into_iter()
        .map(|(at, surface, instrument)| {
            let reading = |expected, used| Compared { at, surface, expected, instrument, used };
            let Some(model) = model(at) else { return reading(None, Use::NoWeather) };
            correction.advance(at);
            let expected = model + correction.ahead(0.0).0;
            if let (Some(hours), Instrument::Station) = (lag, instrument) {
                return reading(Some(expected), Use::WrongClock { hours });
            }
            let used = match correction.read(surface - model, instrument) {
                Taken::Used => {
                    has_read = true;
                    Use::Used
                }
                Taken::LeftOut { off, .. } => Use::LeftOut { off },
            };
            reading(Some(expected), used)
        })
        .collect();
    correction.advance(asked.from);
    Some(ReadRoad { road, readings: compared, correction: has_read.then_some(correction) })
}

/// How many hours a sensor's clock is behind, where it is.
fn clock_of(readings: &[(Timestamp, f64, Instrument)], begins: Timestamp, past: &[f64]) -> Option<i64> {
    let mut hourly = vec![None; past.len()];
    for (at, surface, _) in readings.iter().filter(|(.., instrument)| *instrument == Instrument::Station) {
        let hours = at.duration_since(begins).as_secs_f64() / 3600.0 - 1.0;
        if hours > -0.5
            && let Some(hour) = hourly.get_mut(hours.round() as usize)
        {
            *hour = Some(*surface);
        }
    }
    wrong_clock(&hourly, past).map(|lag| lag.as_hours())
}
