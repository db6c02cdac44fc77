//! Chores around a yard: those that ship as data (`data/chores.csv`), as its file changes them, then its own.

use std::sync::LazyLock;

use quantity::{Time, Volume, gallons, hours};

use crate::Yard;

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

/// A regular task of the yard.
#[derive(Debug, Clone, PartialEq)]
pub struct Chore {
    /// Id used in the yard file and the ledger.
    pub id: String,
    /// What is to be done.
    pub task: String,
    /// Who does it.
    pub who: String,
    /// What makes it due.
    pub rhythm: Rhythm,
    /// Where the rhythm comes from.
    pub source: String,
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
