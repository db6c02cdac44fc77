//! The balances of a period, each with everything that is uncertain in it, by the figures of [`yard::uncertain`].

mod evidence;
mod flows;
mod looks;

use std::collections::{BTreeMap, HashMap};

use jiff::{SignedDuration, Timestamp};
use nalgebra::DMatrix;

use super::{Balance, Cause};
use crate::{Journal, Period};
use looks::looks;

/// Dips nearer than this are one look.
const APART_HOURS: i64 = 10;
/// Evidence is never thinned beyond this: two years.
const LONGEST_APART_HOURS: i64 = 2 * 365 * 24;
/// Most balances tested at once; beyond, dips further apart are used.
const MOST_ROWS: usize = 520;

/// One balance: evidence less book, kg.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) balance: Balance,
    pub(super) from: Timestamp,
    pub(super) until: Timestamp,
    pub(super) residual: f64,
    /// Change of the content by the dips, kg.
    change: f64,
    /// Strength of the content, as a fraction, for what leaves with it.
    strength: f64,
}

impl Row {
    fn days(&self) -> f64 {
        self.until.duration_since(self.from).as_secs_f64() / 86_400.0
    }
}

/// An error that several rows share, and what it does to each.
struct Shared {
    standard_uncertainty: f64,
    on: Vec<(usize, f64)>,
}

/// All balances of a period.
pub(super) struct Rows {
    pub(super) list: Vec<Row>,
    random: Vec<Shared>,
    alike: BTreeMap<Alike, Vec<(usize, f64)>>,
    alike_uncertainty: BTreeMap<Alike, f64>,
}

/// What can be off for all of its kind alike.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Alike {
    LoadingMeter,
    Runs,
    WaterMeter(String),
    Table(String),
    Marks(String),
    SaltUsed,
    SaltLost,
}

impl Alike {
    fn cause(&self) -> Cause {
        match self {
            Alike::LoadingMeter => Cause::LoadingMeter,
            Alike::Runs => Cause::MakingVolume,
            Alike::WaterMeter(id) => Cause::WaterMeter(id.clone()),
            Alike::Table(tank) => Cause::TankTable(tank.clone()),
            Alike::Marks(truck) => Cause::TruckMarks(truck.clone()),
            Alike::SaltUsed => Cause::SaltUsed,
            Alike::SaltLost => Cause::SaltLost,
        }
    }
}

impl Rows {
    /// Reads the balances of a period.
    pub(super) fn read(journal: &Journal<'_>, period: Period) -> Self {
        let mut apart = APART_HOURS;
        loop {
            let rows = Self::read_apart(journal, period, SignedDuration::from_hours(apart));
            if rows.list.len() <= MOST_ROWS || apart > LONGEST_APART_HOURS {
                return rows;
            }
            apart *= 2;
        }
    }

    fn read_apart(journal: &Journal<'_>, period: Period, apart: SignedDuration) -> Self {
        let mut rows = Self {
            list: Vec::new(),
            random: Vec::new(),
            alike: BTreeMap::new(),
            alike_uncertainty: BTreeMap::new(),
        };
        let looks = looks(journal, period, apart);
        for (tank, looks) in &looks {
            rows.tank_rows(tank, looks);
        }
        rows.totals(journal, period, apart);
        rows.weighed(journal, period);
        rows.water(journal, period, apart);
        rows.salt(journal, period, apart);
        rows.flows(journal, period);
        rows
    }

    fn push(&mut self, balance: Balance, (from, until): (Timestamp, Timestamp), residual: f64) -> usize {
        self.list.push(Row { balance, from, until, residual, change: 0.0, strength: 0.0 });
        self.list.len() - 1
    }

    fn share_error(&mut self, standard_uncertainty: f64, on: Vec<(usize, f64)>) {
        if standard_uncertainty > 0.0 && !on.is_empty() {
            self.random.push(Shared { standard_uncertainty, on });
        }
    }

    fn off_alike(&mut self, what: Alike, prior: f64, on: &[(usize, f64)]) {
        self.alike_uncertainty.insert(what.clone(), prior);
        self.alike.entry(what).or_default().extend_from_slice(on);
    }

    /// Covariance of the residuals, kg².
    pub(super) fn covariance(&self) -> DMatrix<f64> {
        let n = self.list.len();
        let mut sum = DMatrix::zeros(n, n);
        let mut add = |on: &[(usize, f64)], variance: f64| {
            for (row, f) in on {
                for (column, g) in on {
                    sum[(*row, *column)] += variance * f * g;
                }
            }
        };
        for shared in &self.random {
            add(&shared.on, shared.standard_uncertainty.powi(2));
        }
        for (what, on) in &self.alike {
            let joined = joined(on);
            add(&joined, self.alike_uncertainty.get(what).copied().unwrap_or(0.0).powi(2));
        }
        // A row that nothing is said of is known to a kilogram.
        for place in 0..n {
            sum[(place, place)] += 1.0;
        }
        sum
    }

    /// Causes that are off for all of their kind alike, with what each does to the rows.
    pub(super) fn shares(&self) -> Vec<(Cause, Vec<(usize, f64)>)> {
        self.alike.iter().map(|(what, on)| (what.cause(), joined(on))).collect()
    }

    /// Tanks that have rows.
    pub(super) fn tanks(&self) -> Vec<&str> {
        let mut tanks: Vec<&str> = self
            .list
            .iter()
            .filter_map(|row| match &row.balance {
                Balance::Tank(tank) => Some(tank.as_str()),
                _ => None,
            })
            .collect();
        tanks.dedup();
        tanks
    }

    /// Rows of a tank's mass, in order of time.
    pub(super) fn of_tank(&self, tank: &str) -> impl Iterator<Item = (usize, &Row)> {
        self.list
            .iter()
            .enumerate()
            .filter(move |(_, row)| matches!(&row.balance, Balance::Tank(id) if id == tank))
    }

    /// The row of the salt in the same tank over the same time.
    fn salt_beside(&self, place: usize, row: &Row) -> Option<usize> {
        let next = self.list.get(place + 1)?;
        let is_it =
            matches!((&next.balance, &row.balance), (Balance::TankSalt(a), Balance::Tank(b)) if a == b);
        (is_it && next.from == row.from && next.until == row.until).then_some(place + 1)
    }

    /// What a kilogram more in a tank each day does over a row: brine of its strength, or water.
    pub(super) fn daily(&self, place: usize, row: &Row, is_water: bool) -> Vec<(usize, f64)> {
        let days = row.days();
        let mut on = vec![(place, days)];
        if let (Some(salt), false) = (self.salt_beside(place, row), is_water) {
            on.push((salt, days * row.strength));
        }
        on
    }

    /// What a kilogram more in a tank, once, does to a row, and to the loading meter's totals where it went by it. None
    /// where no totals were read over that time.
    pub(super) fn once(
        &self,
        place: usize,
        row: &Row,
        is_metered: bool,
    ) -> Option<(usize, Vec<(usize, f64)>)> {
        let mut on = vec![(place, 1.0)];
        on.extend(self.salt_beside(place, row).map(|salt| (salt, row.strength)));
        if is_metered {
            let is_over = |other: &&(usize, &Row)| {
                matches!(other.1.balance, Balance::LoadingTotals(_))
                    && other.1.from < row.until
                    && row.from < other.1.until
            };
            let totals: Vec<(usize, &Row)> = self.list.iter().enumerate().filter(|o| is_over(&o)).collect();
            // Where the times overlap in part, the total that covers most of it counted the load.
            let overlap = |other: &Row| {
                let (from, until) = (other.from.max(row.from), other.until.min(row.until));
                until.duration_since(from)
            };
            let (total, _) = totals.into_iter().max_by_key(|(_, other)| overlap(other))?;
            on.push((total, -1.0));
        }
        Some((place, on))
    }

    fn index(&self) -> Index {
        let mut tanks: HashMap<String, Vec<(Timestamp, Timestamp, usize, bool)>> = HashMap::new();
        for (place, row) in self.list.iter().enumerate() {
            let (tank, is_salt) = match &row.balance {
                Balance::Tank(tank) => (tank, false),
                Balance::TankSalt(tank) => (tank, true),
                _ => continue,
            };
            tanks.entry(tank.clone()).or_default().push((row.from, row.until, place, is_salt));
        }
        Index { tanks }
    }
}

/// Rows of tanks by time.
struct Index {
    tanks: HashMap<String, Vec<(Timestamp, Timestamp, usize, bool)>>,
}

impl Index {
    fn at(&self, tank: &str, at: Timestamp) -> Vec<(usize, bool)> {
        let Some(rows) = self.tanks.get(tank) else { return Vec::new() };
        let first = rows.partition_point(|(_, until, ..)| *until <= at);
        let hold = rows[first..].iter().take_while(|(from, ..)| *from <= at);
        hold.map(|(.., place, is_salt)| (*place, *is_salt)).collect()
    }
}

fn joined(on: &[(usize, f64)]) -> Vec<(usize, f64)> {
    let mut sums: BTreeMap<usize, f64> = BTreeMap::new();
    for (row, f) in on {
        *sums.entry(*row).or_default() += f;
    }
    sums.into_iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn joined_signatures_add_up() {
        assert_eq!(joined(&[(2, 1.0), (0, 0.5), (2, -0.25)]), vec![(0, 0.5), (2, 0.75)]);
    }
}
