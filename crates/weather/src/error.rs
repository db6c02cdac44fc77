//! Why a file is refused, and why a physical function will not answer.

use std::fmt;

/// A refusal of a whole file: what is wrong, where, which value, and what would be accepted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct ReadError {
    /// The sort of refusal, for a program to act on.
    pub kind: ErrorKind,
    /// What is wrong, in words.
    pub what: String,
    /// A line (`line 12, column precip_mm`) or a path in the JSON text; empty when it is about the whole file.
    pub place: String,
    /// The refused text, shortened and with control characters made visible; empty when there is none.
    pub found: String,
    /// What is accepted instead.
    pub accepted: String,
}

impl fmt::Display for ReadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.place.is_empty() {
            write!(f, "{}: ", self.place)?;
        }
        write!(f, "{}", self.what)?;
        if !self.found.is_empty() {
            write!(f, ", found \"{}\"", self.found)?;
        }
        write!(f, "; accepted: {}", self.accepted)
    }
}

impl ReadError {
    pub(crate) fn new(
        kind: ErrorKind,
        place: impl fmt::Display,
        what: impl Into<String>,
        found: &str,
        accepted: impl Into<String>,
    ) -> Self {
        let (what, accepted) = (what.into(), accepted.into());
        let place = cut(&place.to_string(), LONGEST_PLACE);
        Self { kind, what, place, found: shortened(found), accepted }
    }
}

/// The sort of refusal.
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
    /// The file does not say whether its times start or end the hour, and nobody else said so.
    HourLabelNeeded,
    /// Reports that carry only day and time need a reference time for month and year.
    ReferenceTimeNeeded,
}

/// A physical function asked outside its range.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{quantity} {value} {unit} is outside {low}…{high} {unit}")]
pub struct OutOfRange {
    /// The quantity.
    pub quantity: &'static str,
    /// The refused value, in `unit`.
    pub value: f64,
    /// The unit of the three numbers.
    pub unit: &'static str,
    /// Lowest accepted value.
    pub low: f64,
    /// Highest accepted value.
    pub high: f64,
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

message::tell_as_said!(ReadError, OutOfRange);
