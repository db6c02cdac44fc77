//! What a reader or a grid wants a person to know without refusing the file.

use std::collections::BTreeMap;
use std::fmt;

/// One thing worth saying, with how often it happened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// The sort of notice.
    pub kind: NoticeKind,
    /// How many values, rows or hours it is about.
    pub count: usize,
    /// The notice in words; names the first place where it happened.
    pub text: String,
}

impl fmt::Display for Notice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

/// The sort of notice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum NoticeKind {
    /// A time given twice; the later line was kept.
    Duplicate,
    /// Values that cannot be; kept, flagged, and not used by the hourly grid.
    Impossible,
    /// Precipitation that the rest of the report contradicts.
    Suspect,
    /// A relative humidity a little over 100 % taken as 100 %.
    HumidityTakenAsFull,
    /// A sensor reports a fault, or asks for maintenance.
    SensorFault,
    /// A part of the file that is not used.
    NotUsed,
    /// An ensemble member that is not complete was left out.
    MemberDropped,
    /// Terms of use of the source.
    Terms,
    /// How times were understood.
    Times,
    /// Hours filled by a straight line.
    Filled,
    /// Hours whose amount is a share of a longer total.
    Spread,
    /// Hours whose amount is at least what is shown.
    LowerBound,
    /// Air temperature missing for longer than may be filled.
    OpenGap,
    /// Several pavement sensors; the coldest is used.
    SeveralSensors,
    /// The window asked for was longer than a grid may be.
    WindowCut,
}

/// Counts notices of one kind and subject, so that a thousand bad rows give one line.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tally(BTreeMap<(NoticeKind, String), (usize, String)>);

impl Tally {
    /// Counts one; `first` is kept from the first occurrence only.
    pub(crate) fn count(&mut self, kind: NoticeKind, subject: &str, first: impl fmt::Display) {
        match self.0.get_mut(&(kind, subject.to_owned())) {
            Some((count, _)) => *count += 1,
            None => {
                self.0.insert((kind, subject.to_owned()), (1, first.to_string()));
            }
        }
    }

    /// Takes over what another tally counted.
    pub(crate) fn absorb(&mut self, other: Tally) {
        for (key, (count, first)) in other.0 {
            self.0.entry(key).and_modify(|(sum, _)| *sum += count).or_insert((count, first));
        }
    }

    /// The notices, in the order of their kinds.
    pub(crate) fn into_notices(self) -> Vec<Notice> {
        let line = |((kind, subject), (count, first)): ((NoticeKind, String), (usize, String))| {
            let text = match (first.is_empty(), count) {
                (true, _) => subject,
                (false, 1) => format!("{subject}: {first}"),
                (false, _) => format!("{subject}: {count} times, first {first}"),
            };
            Notice { kind, count, text }
        };
        self.0.into_iter().map(line).collect()
    }
}

message::tell_as_said!(Notice);
