//! What is due around the yard: chores by the calendar, by making hours, by brine made, and after runs, deliveries and
//! storms. What they are is said in [`site::chores`].

use jiff::{SignedDuration, Timestamp};
use quantity::{Time, Volume, hours, in_cubic_metres, in_hours};

use crate::chore_log::{ChoreLog, Done};
use crate::stock::Books;
use site::Yard;
use site::chores::{Chore, Rhythm, chores};

/// A chore is said to be near when this share of its time, hours or gallons is left. Our own figure.
const NEAR: f64 = 0.15;
/// A storm is over when nothing was loaded or spread for so long, hours. Our own figure.
const STORM_OVER_HOURS: i64 = 12;
/// A season goes on for so long after its start, hours: half a year.
const SEASON_HOURS: f64 = 182.0 * 24.0;
/// A season goes on past its half year while something was made, loaded or spread in so many hours: two weeks. Our own
/// figure.
const STILL_AT_WORK_HOURS: i64 = 14 * 24;
/// A chore of the season's start may be done so long before it, hours: three months. Our own figure.
const AHEAD_OF_SEASON_HOURS: i64 = 90 * 24;
/// Calibration of a sprayer or spreader is good for so long, hours: a year. Common practice, no source.
const CALIBRATION_HOURS: f64 = 365.0 * 24.0;

/// How pressing a chore is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pressing {
    /// Due, or past it.
    Due,
    /// Not due yet, but less than 15 % of its time, hours or gallons is left.
    Near,
    /// Not due for a while.
    NotYet,
}

/// A chore and where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// The chore that is, or will be, due.
    pub chore: Chore,
    /// How soon it must be done.
    pub pressing: Pressing,
    /// When it falls due, where that is a matter of time; or since when it is due.
    pub at: Option<Timestamp>,
    /// What is left of its making hours.
    pub making_left: Option<Time>,
    /// What is left of its brine made.
    pub made_left: Option<Volume>,
    /// When it was done last.
    pub last: Option<Done>,
}

/// All chores of a yard by how pressing they are, the most pressing first.
pub fn due(yard: &Yard, books: &Books, now: Timestamp) -> Vec<Standing> {
    let mut all: Vec<Standing> =
        chores(yard).into_iter().filter_map(|chore| standing(chore, &books.chores, now)).collect();
    all.sort_by_key(|one| (one.pressing, one.at));
    all
}

/// Where one chore stands; none where nothing has happened yet that makes it due, ever.
fn standing(chore: Chore, log: &ChoreLog, now: Timestamp) -> Option<Standing> {
    let last = log.last(&chore.id).cloned();
    let done_at = last.as_ref().map(|done| done.at);
    let quiet = |pressing| (pressing, None, None, None);
    let by_time = |every: Time, from: Timestamp| {
        let at = from + SignedDuration::from_secs_f64(3600.0 * in_hours(every));
        let left = at.duration_since(now).as_secs_f64() / 3600.0;
        (pressing(left / in_hours(every)), Some(at), None, None)
    };
    // What makes it due happened later than it was done last.
    let after = |event: Option<Timestamp>| match event {
        Some(at) if done_at.is_none_or(|done| done < at) => (Pressing::Due, Some(at), None, None),
        _ => quiet(Pressing::NotYet),
    };
    let (making, made) = log.so_far();
    let (pressing, at, making_left, made_left) = match chore.rhythm {
        // Never done: it counts from the first entry of the ledger.
        Rhythm::Every(every) => by_time(every, done_at.or(log.first_at)?),
        Rhythm::EveryInSeason(every) => {
            let began = log.season_at.or(log.first_at)?;
            // A long winter keeps its chores while brine is still made, loaded or spread.
            let still_at_work = SignedDuration::from_hours(STILL_AT_WORK_HOURS);
            let at_work = log.run_at.max(log.storm_at).is_some_and(|at| now <= at + still_at_work);
            if !at_work && now.duration_since(began).as_secs_f64() / 3600.0 > SEASON_HOURS {
                quiet(Pressing::NotYet)
            } else {
                by_time(every, done_at.filter(|at| began <= *at).unwrap_or(began))
            }
        }
        Rhythm::EveryMaking(every) => {
            let since = last.as_ref().map_or(hours(0.0), |done| done.making);
            let left = every - (making - since);
            (pressing(in_hours(left) / in_hours(every)), None, Some(left), None)
        }
        Rhythm::EveryMade(every) => {
            let since = last.as_ref().map_or_else(Volume::default, |done| done.made);
            let left = every - (made - since);
            (pressing(in_cubic_metres(left) / in_cubic_metres(every)), None, None, Some(left))
        }
        Rhythm::AfterRun => after(log.run_at),
        Rhythm::AfterSalt => after(log.salt_at),
        Rhythm::AfterStorm => {
            let over = SignedDuration::from_hours(STORM_OVER_HOURS);
            after(log.storm_at.filter(|at| *at + over <= now))
        }
        Rhythm::BeforeSeason => {
            // What was done in the months before counts for the season.
            let ahead = SignedDuration::from_hours(AHEAD_OF_SEASON_HOURS);
            after(log.season_at.or(log.first_at).map(|at| at - ahead))
        }
    };
    Some(Standing { chore, pressing, at, making_left, made_left, last })
}

fn pressing(share_left: f64) -> Pressing {
    if share_left <= 0.0 {
        Pressing::Due
    } else if share_left < NEAR {
        Pressing::Near
    } else {
        Pressing::NotYet
    }
}

/// When a truck's sprayer or spreader is due to be calibrated again, and when it was last; none for one that never was.
pub fn calibration(books: &Books, truck: &str, what: &'static str) -> Option<(Timestamp, Timestamp)> {
    let (at, _) = books.chores.checks.get(&(truck.to_owned(), what))?;
    Some((*at, *at + SignedDuration::from_secs_f64(3600.0 * CALIBRATION_HOURS)))
}
