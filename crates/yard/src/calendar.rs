//! What people have said of the calendar: which months are closed, which stretch was a storm. A part of the fold.

use std::collections::BTreeMap;

use jiff::civil::{Date, DateTime};
use jiff::tz::{AmbiguousOffset, TimeZone};
use jiff::{SignedDuration, Timestamp, ToSpan};
use message::{Message, Tell};

use event::{Body, EventId, Recorded};

/// Treating goes on over a pause of this length; after a longer one another storm begins. Our own figure.
const PAUSE_HOURS: i64 = 12;

/// Months and storms.
#[derive(Debug, Clone, Default)]
pub struct Calendar {
    closed: BTreeMap<String, Timestamp>,
    storms: Vec<StormPeriod>,
    busy: Vec<(Timestamp, Timestamp)>,
    late: Vec<LateEntry>,
}

/// A stretch of time that counts as one storm.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StormPeriod {
    /// The event that names it; none for one that only shows in loads and treatments.
    pub event: Option<EventId>,
    /// Its name; none where nobody named it.
    pub name: Option<String>,
    /// Its first moment, inclusive.
    pub from: Timestamp,
    /// First moment after it.
    pub until: Timestamp,
}

/// An entry for a month whose books were closed already.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LateEntry {
    /// Id of its entry in the ledger.
    pub event: EventId,
    /// When it happened.
    pub at: Timestamp,
    /// When it was recorded.
    pub recorded_at: Timestamp,
    /// The closed month it belongs to, as 2027-01.
    pub month: String,
}

impl Calendar {
    pub(crate) fn take(&mut self, recorded: &Recorded) {
        let (event, at) = (&recorded.event, recorded.event.occurred_at);
        match &event.body {
            // Closed from when the ledger took it, whatever time was typed.
            Body::MonthClose(close) => {
                self.closed.entry(close.month.clone()).or_insert(recorded.recorded_at);
            }
            Body::Storm(storm) => {
                if let Ok(until) = storm.until.parse() {
                    let name = Some(storm.name.clone());
                    self.storms.push(StormPeriod { event: Some(event.id), name, from: at, until });
                }
            }
            Body::LoadOut(_) | Body::Application(_) | Body::ReturnToTank(_) => {
                let pause = SignedDuration::from_hours(PAUSE_HOURS);
                match self.busy.last_mut() {
                    Some((_, last)) if at.duration_since(*last) <= pause => *last = at.max(*last),
                    _ => self.busy.push((at, at)),
                }
            }
            _ => {}
        }
        // What is recorded as it happens cannot be late.
        let behind = recorded.recorded_at.duration_since(at);
        if event.body.moves_books() && SignedDuration::from_hours(1) <= behind {
            let (event, recorded_at) = (event.id, recorded.recorded_at);
            self.late.push(LateEntry { event, at, recorded_at, month: String::new() });
        }
    }

    /// When a month was closed; none while it is open.
    pub fn closed_at(&self, month: &str) -> Option<Timestamp> {
        self.closed.get(month).copied()
    }

    /// Closed months, oldest first.
    pub fn closed(&self) -> impl Iterator<Item = (&str, Timestamp)> {
        self.closed.iter().map(|(month, at)| (month.as_str(), *at))
    }

    /// Entries that were recorded for a month after its books were closed, in order of happening.
    pub fn late(&self, zone: &TimeZone) -> Vec<LateEntry> {
        let mut found = Vec::new();
        for entry in &self.late {
            let month = month_of(entry.at, zone);
            if self.closed_at(&month).is_some_and(|closed| closed < entry.recorded_at) {
                found.push(LateEntry { month, ..entry.clone() });
            }
        }
        found
    }

    /// Storms, oldest first: those that were named, and stretches of loading and treating that nobody named.
    pub fn storms(&self) -> Vec<StormPeriod> {
        let unnamed = self.busy.iter().filter(|(first, last)| {
            !self.storms.iter().any(|storm| storm.from <= *first && *last < storm.until)
        });
        let mut all: Vec<StormPeriod> = unnamed
            .map(|(from, last)| StormPeriod {
                event: None,
                name: None,
                from: *from,
                until: *last + SignedDuration::from_secs(1),
            })
            .chain(self.storms.iter().cloned())
            .collect();
        all.sort_by_key(|storm| storm.from);
        all
    }
}

/// Why a time of day, as a person wrote it, is no moment in a yard's zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{}", self.message())]
pub enum NotAMoment {
    /// Before the year 2000: most likely a year written with two digits.
    LongAgo,
    /// The hour that is left out when clocks are put forward.
    LeftOut,
    /// The hour that comes twice when clocks are put back.
    Twice,
    /// Beyond what can be counted.
    OutOfRange,
}

impl Tell for NotAMoment {
    fn message(&self) -> Message {
        Message::new(match self {
            NotAMoment::LongAgo => "yard.time.long_ago",
            NotAMoment::LeftOut => "yard.time.left_out",
            NotAMoment::Twice => "yard.time.twice",
            NotAMoment::OutOfRange => "yard.time.out_of_range",
        })
    }
}

/// A moment by the yard's clock.
///
/// # Errors
/// [`NotAMoment`]: the hour that is left out in spring, the one that comes twice in autumn, and years before 2000.
pub fn by_the_clock(civil: DateTime, zone: &TimeZone) -> Result<Timestamp, NotAMoment> {
    if civil.year() < 2000 {
        return Err(NotAMoment::LongAgo);
    }
    let found = zone.to_ambiguous_timestamp(civil);
    match found.offset() {
        AmbiguousOffset::Gap { .. } => Err(NotAMoment::LeftOut),
        AmbiguousOffset::Fold { .. } => Err(NotAMoment::Twice),
        AmbiguousOffset::Unambiguous { .. } => found.unambiguous().map_err(|_| NotAMoment::OutOfRange),
    }
}

/// Month of a time in a yard's zone, as 2027-01.
pub fn month_of(at: Timestamp, zone: &TimeZone) -> String {
    at.to_zoned_datetime(zone.clone()).strftime("%Y-%m").to_string()
}

/// First moment of a month, and of the next, in a yard's zone; none for a text that is no month, or says more than one.
///
/// ```
/// use jiff::tz::TimeZone;
/// use yard::calendar::month_span;
/// assert!(month_span("2027-01", &TimeZone::UTC).is_some());
/// assert!(month_span("2027-13", &TimeZone::UTC).is_none());
/// assert!(month_span("2027-01-14T05:40", &TimeZone::UTC).is_none(), "no month is closed under such a name");
/// ```
pub fn month_span(month: &str, zone: &TimeZone) -> Option<(Timestamp, Timestamp)> {
    let is_plain = month.len() == "2027-01".len()
        && month
            .bytes()
            .enumerate()
            .all(|(n, byte)| if n == 4 { byte == b'-' } else { byte.is_ascii_digit() });
    if !is_plain {
        return None;
    }
    let first: Date = format!("{month}-01").parse().ok()?;
    let next = first.checked_add(1.month()).ok()?;
    let moment = |day: Date| zone.to_timestamp(day.at(0, 0, 0, 0)).ok();
    Some((moment(first)?, moment(next)?))
}
