//! Times: parsing, and arithmetic that stops at the ends of time instead of overflowing.

use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use jiff::{Span, Timestamp};
use std::collections::BTreeMap;

/// Seconds in an hour.
pub(crate) const HOUR: i64 = 3600;
/// Seconds in a day of 24 hours; hours are counted in UTC, so there is no other.
const DAY: i64 = 24 * HOUR;

/// `seconds` later (or earlier, when negative), at most the end of time.
pub(crate) fn later(time: Timestamp, seconds: i64) -> Timestamp {
    from_seconds(time.as_second().saturating_add(seconds))
}

/// The time of a count of seconds, held within the ends of time.
pub(crate) fn from_seconds(seconds: i64) -> Timestamp {
    let end = if seconds < 0 { Timestamp::MIN } else { Timestamp::MAX };
    Timestamp::from_second(seconds).unwrap_or(end)
}

/// Seconds from one time to another.
pub(crate) fn seconds_between(from: Timestamp, to: Timestamp) -> i64 {
    to.as_second() - from.as_second()
}

/// The whole hour at or before a time.
pub(crate) fn hour_floor(time: Timestamp) -> Timestamp {
    from_seconds(time.as_second().div_euclid(HOUR) * HOUR)
}

/// A time that states its offset (`Z`, `+01:00`), to whole seconds.
pub(crate) fn with_offset(text: &str) -> Option<Timestamp> {
    text.trim().parse::<Timestamp>().ok().map(|time| from_seconds(time.as_second()))
}

/// A date and time without an offset, taken at `offset_seconds` east of UTC.
pub(crate) fn without_offset(text: &str, offset_seconds: i64) -> Option<Timestamp> {
    let local: DateTime = text.trim().parse().ok()?;
    let utc = TimeZone::UTC.to_timestamp(local).ok()?;
    Some(later(utc, offset_seconds.checked_neg()?))
}

/// An interval written `start/duration`, the duration as `P[nD][T[nH][nM]]`.
pub(crate) fn interval(text: &str) -> Option<(Timestamp, Timestamp)> {
    let (start, duration) = text.split_once('/')?;
    let start = with_offset(start)?;
    let span: Span = duration.trim().parse().ok()?;
    // Months and years have no fixed length, so no amount can be spread over them.
    if span.get_years() != 0 || span.get_months() != 0 {
        return None;
    }
    let days = i64::from(span.get_weeks()) * 7 + i64::from(span.get_days());
    let seconds =
        days * DAY + i64::from(span.get_hours()) * HOUR + span.get_minutes() * 60 + span.get_seconds();
    (seconds > 0).then(|| (start, later(start, seconds)))
}

/// The commonest step between neighboring times, seconds; the shorter when two are equally common. One hour when
/// there are fewer than two times, and at most one day.
pub(crate) fn usual_step(times: &[Timestamp]) -> i64 {
    let mut counts: BTreeMap<i64, usize> = BTreeMap::new();
    for pair in times.windows(2) {
        let step = seconds_between(pair[0], pair[1]);
        if step > 0 {
            *counts.entry(step).or_default() += 1;
        }
    }
    let most = counts.values().max().copied().unwrap_or(0);
    counts.into_iter().find(|(_, count)| *count == most).map_or(HOUR, |(step, _)| step.min(DAY))
}
