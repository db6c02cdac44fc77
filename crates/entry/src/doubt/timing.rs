//! What is doubted because of when it happened, or because it stands in the ledger already.

use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use message::{Arg, Tell, message};
use quantity::{Volume, celsius, cubic_metres, in_celsius};

use super::{EntryProblem, WHOLE_ENTRY};
use event::{Body, EventId, MakingRun, MeterReading, Reading};
use site::Yard;
use yard::stock::{Books, Flowed, LoggedReading};

/// Two like entries within this are one, made twice: minutes. Our own threshold.
const TWICE_MINUTES: i64 = 15;
/// Two volumes of one batch are alike within this share: a meter read twice. Our own figure.
const ALIKE: f64 = 0.02;
/// An entry this much before the last that happened is likely of another month or year: days. Our own threshold.
const LATE_DAYS: i64 = 60;
/// A tank's content changes by no more than this in [`STEADY_HOURS`], K. Our own figures.
const STEADY_KELVIN: f64 = 15.0;
/// Longest time between the two temperatures that [`STEADY_KELVIN`] compares, hours.
const STEADY_HOURS: i64 = 48;

/// What must be confirmed because of when it is recorded: a clock that runs backward, a time in another season, an
/// entry made twice, a meter that ran backward.
pub fn time_doubts(
    (id, body): (EventId, &Body),
    (yard, books): (&Yard, &Books),
    at: Timestamp,
    now: Timestamp,
) -> Vec<EntryProblem> {
    let zone = TimeZone::get(&yard.time_zone).unwrap_or(TimeZone::UTC);
    let of_kind = match body {
        Body::Reading(new) => read_twice((id, new), books, at),
        Body::MeterReading(reading) => total(reading, (yard, books), at),
        Body::MakingRun(run) => run_twice((id, run), books, at),
        _ => twice((id, body), books, at),
    };
    let all = [
        clock(books, now),
        closed(body, books, at, &zone),
        other_season(books, at, now, &zone),
        unfinished(body, at, &zone),
        of_kind,
        same_ticket((id, body), books),
        warmed(body, books, at),
    ];
    all.into_iter().flatten().collect()
}

/// This machine's clock is behind the ledger.
fn clock(books: &Books, now: Timestamp) -> Option<EntryProblem> {
    let last = books.last_recorded_at.filter(|last| now + yard::clock::TOLERANCE < *last)?;
    let problem = message!("entry.clock-behind", last = last);
    Some(EntryProblem::new("clock", now, problem, message!("entry.accept-clock")))
}

/// It happened in a month whose books are closed.
fn closed(body: &Body, books: &Books, at: Timestamp, zone: &TimeZone) -> Option<EntryProblem> {
    let month = yard::calendar::month_of(at, zone);
    let closed = books.calendar.closed_at(&month).filter(|_| body.moves_books())?;
    let problem = message!("entry.month-closed", month = month, closed = closed);
    Some(EntryProblem::new("at", at, problem, message!("entry.accept-after-closing")))
}

/// It happened long before what was entered last: a year or a month typed wrong.
fn other_season(books: &Books, at: Timestamp, now: Timestamp, zone: &TimeZone) -> Option<EntryProblem> {
    let last = books.last_occurred_at()?.min(now);
    let is_late = last.duration_since(at) > SignedDuration::from_hours(24 * LATE_DAYS);
    is_late.then(|| {
        let year = i32::from(at.to_zoned_datetime(zone.clone()).date().year());
        let problem = message!("entry.long-before", year = year, last = last);
        EntryProblem::new("at", at, problem, message!("entry.accept-day-with-year"))
    })
}

/// A month closed before it is over, a storm that ends before it begins.
fn unfinished(body: &Body, at: Timestamp, zone: &TimeZone) -> Option<EntryProblem> {
    match body {
        Body::MonthClose(close)
            if yard::calendar::month_span(&close.month, zone).is_some_and(|(_, until)| at < until) =>
        {
            let (problem, accepted) = (message!("entry.month-not-over"), message!("entry.accept-past-month"));
            Some(EntryProblem::new("month", &close.month, problem, accepted))
        }
        Body::Storm(storm) => {
            let until = storm.until.parse::<Timestamp>().ok().filter(|until| *until <= at)?;
            let problem = message!("entry.ends-before-it-begins", begins = at);
            Some(EntryProblem::new("until", until, problem, message!("entry.accept-end-after")))
        }
        _ => None,
    }
}

fn is_near(at: Timestamp, then: Timestamp) -> bool {
    at.duration_since(then).abs() <= SignedDuration::from_mins(TWICE_MINUTES)
}

/// A reading of the same instrument that says the same of the same place.
fn read_twice((id, new): (EventId, &Reading), books: &Books, at: Timestamp) -> Option<EntryProblem> {
    let readings = books.readings_from(new.tank.as_deref());
    // A reading without the number as shown is compared by its strength. Sent again, it is the same event.
    let is_same = |old: &Reading| {
        let same_number = new.shown.is_some() || (old.strength_pct - new.strength_pct).abs() < 1e-9;
        old.instrument == new.instrument && old.shown == new.shown && same_number
    };
    let is_twin = |old: &&LoggedReading| old.event != id && is_near(at, old.at) && is_same(&old.reading);
    let twin = readings.iter().rev().find(is_twin)?;
    let strength = || message!("entry.per-cent", percent = new.strength_pct).into();
    let value = new.shown.as_ref().map_or_else(strength, Arg::from);
    let problem = message!("entry.logged-already", at = twin.at);
    Some(EntryProblem::new("reading", value, problem, message!("entry.accept-other-sample")))
}

/// A batch of a guided run that has one already, or one like another of the same time.
fn run_twice((id, run): (EventId, &MakingRun), books: &Books, at: Timestamp) -> Option<EntryProblem> {
    let of_run = run.run.as_ref().and_then(|of| books.runs.run(of.parse().ok()?));
    if let Some(booked) = of_run.and_then(|of| of.booked.iter().find(|one| one.event != id)) {
        let problem = message!("entry.run-booked", tank = &booked.tank, seq = booked.seq);
        let accepted = message!("entry.accept-more-of-run");
        return Some(EntryProblem::new("run", cubic_metres(run.volume_m3), problem, accepted));
    }
    let is_like = |old: &&Flowed| match &old.body {
        Body::MakingRun(before) => {
            let length = before.duration_h.unwrap_or(0.0).max(run.duration_h.unwrap_or(0.0));
            let apart = at.duration_since(old.at).as_secs_f64().abs() / 3600.0;
            let is_same_time = apart <= (TWICE_MINUTES as f64 / 60.0).max(0.5 * length);
            let alike = (before.volume_m3 - run.volume_m3).abs() <= ALIKE * run.volume_m3;
            old.event != id && before.tank == run.tank && is_same_time && alike
        }
        _ => false,
    };
    let old = books.flows.iter().rev().find(is_like)?;
    let problem = message!("entry.batch-twice", at = old.at, seq = old.seq);
    let accepted = message!("entry.accept-other-batch");
    Some(EntryProblem::new("volume", cubic_metres(run.volume_m3), problem, accepted))
}

/// An entry whose every figure stands in the ledger already, within minutes.
fn twice((id, body): (EventId, &Body), books: &Books, at: Timestamp) -> Option<EntryProblem> {
    let (to, tank, volume_m3) = match body {
        Body::LoadOut(b) => (&b.truck, &b.tank, b.volume_m3),
        Body::IssueOut(b) => (&b.agency, &b.tank, b.volume_m3),
        _ => {
            let is_same = |old: &&Flowed| old.event != id && is_near(at, old.at) && old.body == *body;
            let old = books.flows.iter().rev().find(is_same)?;
            let problem = message!("entry.saved-already", at = old.at, seq = old.seq);
            let accepted = message!("entry.accept-happened-twice");
            return Some(EntryProblem::new(WHOLE_ENTRY, body.kind(), problem, accepted));
        }
    };
    let is_same = |old: &&Flowed| {
        let (old_to, old_tank, old_m3) = match &old.body {
            Body::LoadOut(b) => (&b.truck, &b.tank, b.volume_m3),
            Body::IssueOut(b) => (&b.agency, &b.tank, b.volume_m3),
            _ => return false,
        };
        let like = (old_m3 - volume_m3).abs() < 1e-6;
        old.event != id && is_near(at, old.at) && old_to == to && old_tank == tank && like
    };
    let old = books.flows.iter().rev().find(is_same)?;
    let problem = message!("entry.load-twice", to = to, tank = tank, at = old.at, seq = old.seq);
    let accepted = message!("entry.accept-other-load");
    Some(EntryProblem::new("volume", cubic_metres(volume_m3), problem, accepted))
}

/// What a paper ticket is of: tickets of suppliers and of the yard are numbered apart.
fn ticket_of(body: &Body) -> Option<(&'static str, Option<&String>, &String)> {
    match body {
        Body::LoadOut(b) => Some(("out", None, b.ticket.as_ref()?)),
        Body::IssueOut(b) => Some(("out", None, b.ticket.as_ref()?)),
        Body::SaltDelivery(b) => Some(("salt", b.supplier.as_ref(), b.ticket.as_ref()?)),
        Body::LiquidDelivery(b) => Some(("liquid", None, b.ticket.as_ref()?)),
        _ => None,
    }
}

/// A paper ticket that was entered before.
fn same_ticket((id, body): (EventId, &Body), books: &Books) -> Option<EntryProblem> {
    let of = ticket_of(body)?;
    let is_same = |old: &&Flowed| old.event != id && ticket_of(&old.body) == Some(of);
    let old = books.flows.iter().rev().find(is_same)?;
    let problem = message!("entry.ticket-twice", seq = old.seq, at = old.at);
    Some(EntryProblem::new("ticket", of.2, problem, message!("entry.accept-ticket")))
}

/// A total that does not go with those of the same meter before and after it, by the time they were read.
fn total(reading: &MeterReading, (yard, books): (&Yard, &Books), at: Timestamp) -> Option<EntryProblem> {
    let meter = yard.meter(&reading.meter)?;
    let all = books.totals_read.get(&reading.meter)?;
    let now = cubic_metres(reading.total_m3);
    let counted = |from: Volume, to: Volume| {
        let counted = accounts::metering::counted(from, to, meter.rolls_over_at);
        // A turn that counts much is likelier a misread total.
        match (counted, meter.rolls_over_at) {
            (Ok(volume), Some(limit)) if to < from && volume > limit * 0.1 => {
                Err(message!("entry.total-backward"))
            }
            (counted, _) => counted.map(|_| ()).map_err(|error| error.message()),
        }
    };
    let before = all.iter().rev().find(|(then, _)| *then <= at);
    let after = all.iter().find(|(then, _)| at < *then);
    let problem = match (before, after) {
        (Some((_, last)), _) if let Err(problem) = counted(*last, now) => {
            message!("entry.total-after", problem = problem, last = *last)
        }
        (_, Some((then, next))) if counted(now, *next).is_err() => {
            message!("entry.total-before", next = *next, then = *then)
        }
        _ => return None,
    };
    Some(EntryProblem::new("total", now, problem, message!("entry.accept-meter-changed")))
}

/// A tank's temperature that is far from the one dipped within two days: likely of the other scale.
fn warmed(body: &Body, books: &Books, at: Timestamp) -> Option<EntryProblem> {
    let t = match body {
        Body::Dip(b) => b.temp_c,
        Body::LoadOut(b) => b.temp_c,
        Body::Transfer(b) => b.temp_c,
        Body::IssueOut(b) => b.temp_c,
        _ => None,
    }?;
    let dips = &books.tank(body.tanks().first()?)?.dips;
    let hours = |then: Timestamp| at.duration_since(then).abs().as_hours();
    let near = dips.iter().rev().find(|dip| hours(dip.at) <= STEADY_HOURS && dip.temperature.is_some())?;
    let before = in_celsius(near.temperature?);
    ((t - before).abs() > STEADY_KELVIN).then(|| {
        let problem = message!("entry.far-from-dip", before = celsius(before), at = near.at);
        EntryProblem::new("temp", celsius(t), problem, message!("entry.accept-temperature"))
    })
}
