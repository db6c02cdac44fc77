//! Why a file is refused, and why a physical function gives no value.

use message::{Arg, Message, Tell, message};
use quantity::celsius;

/// A refusal of a whole file: what is wrong, where, which value, and what would be accepted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub struct ReadError {
    /// The kind of refusal, for a program to act on.
    pub kind: ErrorKind,
    /// What is wrong. In a box, so that results stay small.
    pub what: Box<Message>,
    /// Where in the file.
    pub place: Place,
    /// The refused text, shortened and with control characters made visible; empty when there is none.
    pub found: String,
    /// What is accepted instead: a message, or the names to choose from.
    pub accepted: Arg,
}

impl ReadError {
    pub(crate) fn new(
        kind: ErrorKind,
        place: Place,
        what: Message,
        found: &str,
        accepted: impl Into<Arg>,
    ) -> Self {
        let place = place.shortened();
        Self { kind, what: Box::new(what), place, found: shortened(found), accepted: accepted.into() }
    }
}

impl Tell for ReadError {
    fn message(&self) -> Message {
        let id = match (self.place == Place::File, self.found.is_empty()) {
            (true, true) => "weather.refused",
            (true, false) => "weather.refused-value",
            (false, true) => "weather.refused-at",
            (false, false) => "weather.refused-value-at",
        };
        let mut message = Message::new(id);
        if self.place != Place::File {
            message = message.with("place", &self.place);
        }
        message = message.with("what", (*self.what).clone());
        if !self.found.is_empty() {
            message = message.with("found", &self.found);
        }
        message.with("accepted", self.accepted.clone())
    }
}

/// A place in a weather file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// The whole file.
    File,
    /// A line, counted from 1.
    Line(usize),
    /// A line, and in it a column of the table by its name.
    Column {
        /// Line, counted from 1.
        line: usize,
        /// Name of the column.
        column: String,
    },
    /// A line, and in it a character, both counted from 1.
    Character {
        /// Line of the file, from 1.
        line: usize,
        /// Character of the line.
        character: usize,
    },
    /// A path in JSON text, such as `properties.timeseries[3].time`.
    Path(String),
}

impl Place {
    /// With the names that the file itself holds cut short.
    fn shortened(self) -> Self {
        match self {
            Place::Column { line, column } => Place::Column { line, column: cut(&column, LONGEST_PLACE) },
            Place::Path(path) => Place::Path(cut(&path, LONGEST_PLACE)),
            other => other,
        }
    }
}

impl Tell for Place {
    fn message(&self) -> Message {
        match self {
            Place::File => message!("weather.at.file"),
            Place::Line(line) => message!("weather.at.line", line = *line),
            Place::Column { line, column } => message!("weather.at.column", line = *line, column = column),
            Place::Character { line, character } => {
                message!("weather.at.character", line = *line, character = *character)
            }
            Place::Path(path) => message!("weather.at.path", path = path),
        }
    }
}

/// The kind of refusal.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum ErrorKind {
    /// Nothing but blank space.
    Empty,
    /// None of the formats this crate reads.
    UnknownFormat,
    /// The format is known but the text is broken: cut short, or not well formed.
    Damaged,
    /// A column whose name is not known.
    UnknownColumn,
    /// A known quantity in a unit that is not known, or that does not fit it.
    UnknownUnit,
    /// A value or a time that cannot be understood.
    BadValue,
    /// A part that the format must have is absent.
    MissingPart,
    /// A time before the one above it.
    TimeOrder,
    /// Columns of one table differ in length.
    UnequalLengths,
    /// Several stations and none chosen, or the chosen one is not there. Holds the stations of the file.
    StationNeeded(Vec<String>),
    /// The file does not say whether its times start or end the hour, and the caller did not say so either.
    HourLabelNeeded,
    /// Reports that carry only day and time need a reference time for month and year.
    ReferenceTimeNeeded,
}

/// A physical function was asked outside its range.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub struct OutOfRange {
    /// The measure, and with it the unit of the three numbers.
    pub measure: Measure,
    /// The refused value.
    pub value: f64,
    /// Lowest accepted value.
    pub low: f64,
    /// Highest accepted value.
    pub high: f64,
}

/// What can be out of range, in one unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// A share of 1.
    Share,
    /// A share in per cent.
    Percent,
    /// Relative humidity, a share of 1.
    RelativeHumidity,
    /// Temperature, °C.
    Temperature,
    /// Air pressure, hPa.
    Pressure,
    /// Radiation on a level surface, W/m².
    Irradiance,
    /// Direction, degrees clockwise from north.
    Bearing,
    /// Height above sea level, m.
    Elevation,
}

impl Tell for OutOfRange {
    fn message(&self) -> Message {
        let id = match self.measure {
            Measure::Share => "weather.out-of-range.share",
            Measure::Percent => "weather.out-of-range.percent",
            Measure::RelativeHumidity => "weather.out-of-range.humidity",
            Measure::Temperature => "weather.out-of-range.temperature",
            Measure::Pressure => "weather.out-of-range.pressure",
            Measure::Irradiance => "weather.out-of-range.irradiance",
            Measure::Bearing => "weather.out-of-range.bearing",
            Measure::Elevation => "weather.out-of-range.elevation",
        };
        let shown = |value: f64| match self.measure {
            Measure::Temperature => Arg::from(celsius(value)),
            _ => Arg::from(value),
        };
        message!(id, value = shown(self.value), low = shown(self.low), high = shown(self.high))
    }
}

/// Characters of a text of the file's in a message, and of a place that names a column of it.
const LONGEST: usize = 60;
const LONGEST_PLACE: usize = 160;

/// So short, with control characters escaped, that garbage cannot spoil a message.
pub(crate) fn shortened(text: &str) -> String {
    cut(text, LONGEST)
}

fn cut(text: &str, longest: usize) -> String {
    let mut out: String = text.chars().take(longest).flat_map(char::escape_debug).collect();
    if text.chars().nth(longest).is_some() {
        out.push('…');
    }
    out
}
