//! What the caller knows and a file may not say.

use jiff::Timestamp;
use message::{Message, message};

use crate::error::{ErrorKind, Place, ReadError, shortened};

/// Which end of its hour the time of a row names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HourLabel {
    /// The row is about the hour that begins at its time.
    Start,
    /// The row is about the hour that ends at its time.
    End,
}

/// What the caller knows and a file may not say.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ReadOptions {
    /// The station to take from a file with several. Formats without stations pay no heed to it.
    pub station: Option<String>,
    /// A time at or after the newest report, for formats that give only day and time. Month and year come from it,
    /// one month back when the day would otherwise lie in the future.
    pub reference_time: Option<Timestamp>,
    /// Which end of the hour the times of a plain table name. Overrules the table's own comment.
    pub hour_label: Option<HourLabel>,
}

/// So many stations are told of in a message.
const MOST_TOLD: usize = 40;

/// Picks the station: the chosen one, or the only one.
pub(super) fn choose_station(stations: &[&str], options: &ReadOptions) -> Result<Option<String>, ReadError> {
    let mut names: Vec<String> = stations.iter().take(MOST_TOLD).map(|name| shortened(name)).collect();
    if MOST_TOLD < stations.len() {
        names.push("…".into());
    }
    let list = names.join(", ");
    let refuse = |what: Message, found: &str| {
        let kind = ErrorKind::StationNeeded(stations.iter().map(|&name| name.to_owned()).collect());
        let accepted = message!("weather.accepted.stations", stations = &list);
        Err(ReadError::new(kind, Place::File, what, found, accepted))
    };
    match (&options.station, stations) {
        (_, []) => Ok(None),
        (Some(chosen), _) => match stations.iter().find(|name| name.eq_ignore_ascii_case(chosen)) {
            Some(name) => Ok(Some((*name).to_owned())),
            None => refuse(message!("weather.station-not-in-file"), chosen),
        },
        (None, [only]) => Ok(Some((*only).to_owned())),
        (None, _) => refuse(message!("weather.station-not-chosen"), ""),
    }
}
