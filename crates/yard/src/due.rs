//! What is due around the yard: chores by the calendar, by making hours, by brine made, and after runs, deliveries and
//! storms. What ships is data (`data/chores.csv`); a yard changes it in its file.

use std::sync::LazyLock;

use chemistry::quantity::{Time, Volume, gallons, hours, in_cubic_metres, in_hours};
use jiff::{SignedDuration, Timestamp};

use crate::Yard;
use crate::chore_log::{ChoreLog, Done};
use crate::stock::Books;

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

/// What makes a chore due.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rhythm {
    /// So long after the last.
    Every(Time),
    /// So long after the last, in the season only.
    EveryInSeason(Time),
    /// So many making hours after the last.
    EveryMaking(Time),
    /// So much brine made after the last.
    EveryMade(Volume),
    /// After every making run.
    AfterRun,
    /// After every delivery of salt.
    AfterSalt,
    /// After every storm.
    AfterStorm,
    /// Once a season, at its start.
    BeforeSeason,
}

/// A chore.
#[derive(Debug, Clone, PartialEq)]
pub struct Chore {
    /// Id used in the yard file and the ledger.
    pub id: String,
    /// What is to be done.
    pub task: String,
    /// Who does it.
    pub who: String,
    /// When.
    pub rhythm: Rhythm,
    /// Where the rhythm comes from.
    pub source: String,
}

/// How pressing a chore is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pressing {
    /// Due, or past it.
    Due,
    /// Near.
    Near,
    /// Not yet.
    NotYet,
}

/// A chore and where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// The chore.
    pub chore: Chore,
    /// How pressing.
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

/// Tasks of the chores that ship, in Spanish and French: id and task.
pub const TRANSLATED: [&str; 2] =
    [include_str!("../data/chores.es.csv"), include_str!("../data/chores.fr.csv")];

/// Whether a chore's task is as it ships.
pub fn is_shipped(chore: &Chore) -> bool {
    SHIPPED.iter().any(|one| one.id == chore.id && one.task == chore.task)
}

/// The chores that ship.
pub fn shipped_chores() -> &'static [Chore] {
    &SHIPPED
}

/// The chores that ship.
static SHIPPED: LazyLock<Vec<Chore>> = LazyLock::new(|| shipped(include_str!("../data/chores.csv")));

fn shipped(text: &str) -> Vec<Chore> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let row = |row: csv::StringRecord| {
        let cell = |place: usize| row.get(place).unwrap_or_default().to_owned();
        let figure = || cell(4).parse::<f64>().ok();
        let rhythm = match cell(3).as_str() {
            "days" => Rhythm::Every(hours(24.0 * figure()?)),
            "in_season_days" => Rhythm::EveryInSeason(hours(24.0 * figure()?)),
            "making_h" => Rhythm::EveryMaking(hours(figure()?)),
            "made_gal" => Rhythm::EveryMade(gallons(figure()?)),
            "after_run" => Rhythm::AfterRun,
            "after_salt" => Rhythm::AfterSalt,
            "after_storm" => Rhythm::AfterStorm,
            "before_season" => Rhythm::BeforeSeason,
            _ => return None,
        };
        Some(Chore { id: cell(0), task: cell(1), who: cell(2), rhythm, source: cell(5) })
    };
    reader.records().filter_map(|record| row(record.ok()?)).collect()
}

/// Whether a chore of this id ships.
pub fn ships(id: &str) -> bool {
    SHIPPED.iter().any(|chore| chore.id == id)
}

/// The chores of a yard: those that ship, as its file changes them, then its own.
pub fn chores(yard: &Yard) -> Vec<Chore> {
    let mut all: Vec<Chore> = SHIPPED.clone();
    for change in &yard.chores {
        let rhythm = match (change.every, change.every_making, change.every_made) {
            (Some(every), ..) => Some(Rhythm::Every(every)),
            (_, Some(making), _) => Some(Rhythm::EveryMaking(making)),
            (.., made) => made.map(Rhythm::EveryMade),
        };
        match all.iter().position(|chore| chore.id == change.id) {
            Some(place) if change.off => {
                all.remove(place);
            }
            Some(place) => {
                let chore = &mut all[place];
                chore.task = change.task.clone().unwrap_or_else(|| chore.task.clone());
                chore.who = change.who.clone().unwrap_or_else(|| chore.who.clone());
                if let Some(rhythm) = rhythm {
                    (chore.rhythm, chore.source) = (rhythm, "yard file".into());
                }
            }
            None => {
                let (Some(task), Some(rhythm), false) = (change.task.clone(), rhythm, change.off) else {
                    continue;
                };
                let who = change.who.clone().unwrap_or_else(|| "operator".into());
                all.push(Chore { id: change.id.clone(), task, who, rhythm, source: "yard file".into() });
            }
        }
    }
    all
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
