//! What a reader or a grid wants a person to know without refusing the file.

use std::collections::BTreeMap;
use std::fmt;

use message::{Arg, Message, Tell, message};

/// One thing worth saying, with how often it happened.
#[derive(Debug, Clone, PartialEq)]
pub struct Notice {
    /// The kind of notice.
    pub kind: NoticeKind,
    /// How many values, rows or hours it is about.
    pub count: usize,
    /// The notice; it names the first place where it happened.
    pub text: Message,
}

impl fmt::Display for Notice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.text.fmt(f)
    }
}

/// The kind of notice.
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

impl Tell for Notice {
    fn message(&self) -> Message {
        self.text.clone()
    }
}

/// Counts notices of one kind and subject, so that a thousand bad rows give one line.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tally(BTreeMap<(NoticeKind, String), Counted>);

/// How often a subject was counted, and where first.
#[derive(Debug, Clone)]
struct Counted {
    count: usize,
    subject: Message,
    first: Option<Arg>,
}

impl Tally {
    /// Counts one that has no place in the file.
    pub(crate) fn count(&mut self, kind: NoticeKind, subject: Message) {
        self.add(kind, subject, None::<Arg>);
    }

    /// Counts one; `first`, where it happened, is kept from the first occurrence only.
    pub(crate) fn count_at(&mut self, kind: NoticeKind, subject: Message, first: impl Into<Arg>) {
        self.add(kind, subject, Some(first));
    }

    fn add(&mut self, kind: NoticeKind, subject: Message, first: Option<impl Into<Arg>>) {
        self.0
            .entry((kind, subject.to_string()))
            .and_modify(|counted| counted.count += 1)
            .or_insert_with(|| Counted { count: 1, subject, first: first.map(Into::into) });
    }

    /// Takes over what another tally counted.
    pub(crate) fn absorb(&mut self, other: Tally) {
        for (key, counted) in other.0 {
            self.0.entry(key).and_modify(|own| own.count += counted.count).or_insert(counted);
        }
    }

    /// The notices, in the order of their kinds.
    pub(crate) fn into_notices(self) -> Vec<Notice> {
        let notice = |((kind, _), Counted { count, subject, first }): ((NoticeKind, String), Counted)| {
            let text = match (first, count) {
                (None, _) => subject,
                (Some(first), 1) => message!("weather.notice.once", what = subject, first = first),
                (Some(first), _) => {
                    message!("weather.notice.times", what = subject, count = count, first = first)
                }
            };
            Notice { kind, count, text }
        };
        self.0.into_iter().map(notice).collect()
    }
}
