//! What a yard's readings say about the model of each of its roads.

use event::RoadInstrument;
use jiff::SignedDuration;
use road::correction::{Instrument, Reading, held};

use super::parts::{ReadRoad, RoadOf};
use super::stories::{Asked, Told};

/// A reading this short after the plan begins counts as taken as it begins, min.
const AT_ONCE_MINUTES: i64 = 20;

fn instrument_of(word: RoadInstrument) -> Instrument {
    match word {
        RoadInstrument::Infrared => Instrument::Infrared,
        RoadInstrument::VehicleInfrared => Instrument::VehicleInfrared,
        RoadInstrument::Station => Instrument::Station,
    }
}

/// Readings of a road up to the plan, in order of time.
fn readings_of(asked: &Asked<'_>, road: RoadOf) -> Vec<Reading> {
    let is_of = |id: &str, is_deck: bool| RoadOf::named(asked.yard, id, is_deck) == Some(road);
    let entered = asked.readings.iter().filter(|one| is_of(&one.road, one.is_deck)).map(|one| Reading {
        at: one.at,
        surface: one.surface,
        instrument: instrument_of(one.instrument),
    });
    let sensed = asked.seen.map_or(&[][..], |seen| seen.sensed.as_slice());
    let sensed = sensed.iter().filter(|one| is_of(&one.road, one.is_deck)).map(|one| Reading {
        at: one.at,
        surface: one.surface,
        instrument: Instrument::Station,
    });
    let latest = asked.from + SignedDuration::from_mins(AT_ONCE_MINUTES);
    let mut all: Vec<_> = entered.chain(sensed).filter(|one| one.at <= latest).collect();
    all.sort_by_key(|one| one.at);
    all
}

/// Holds the readings of a road against its model, °C at the end of every hour of the past; none where nobody read it.
pub(super) fn compared(asked: &Asked<'_>, told: &Told, road: RoadOf, past: &[f64]) -> Option<ReadRoad> {
    let readings = readings_of(asked, road);
    if readings.is_empty() {
        return None;
    }
    let held = held(&readings, told.story.at(0), past, asked.from);
    Some(ReadRoad { road, readings: held.readings, correction: held.correction })
}
