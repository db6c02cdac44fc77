//! The books of a yard: what the ledger adds up to, and the questions asked of it.

use std::collections::BTreeMap;

use jiff::Timestamp;
use quantity::{Mass, Volume, in_kilograms, kilograms};

use super::content::{Content, ROUNDING_KG};
use super::evidence::LoggedReading;
use super::flow::Walk;
use super::load::Load;
use super::problem::BookProblem;
use super::tank_book::TankBook;
use super::ticket::{Flowed, Ticketed};
use crate::bench_log::BenchLog;
use crate::calendar::Calendar;
use crate::chore_log::ChoreLog;
use crate::estimate::Estimates;
use crate::road_log::RoadLog;
use crate::run_log::RunLog;
use site::Yard;

/// Everything the ledger says the yard holds.
#[derive(Debug, Clone)]
pub struct Books {
    /// Tanks, in the yard file's order.
    pub tanks: Vec<TankBook>,
    /// Rock salt as delivered; below zero when the books do not close.
    pub rock_salt: Mass,
    /// Totals of the season.
    pub totals: Totals,
    /// The last few readings of samples from the plant's tap, oldest first.
    pub tap: Vec<LoggedReading>,
    /// What the tanks are thought to hold, by the flows and all evidence.
    pub estimates: Estimates,
    /// What each truck carries, as far as the ledger knows.
    pub trucks: BTreeMap<String, Load>,
    /// What does not add up.
    pub problems: Vec<BookProblem>,
    /// What the bench remembers.
    pub bench: BenchLog,
    /// Guided runs, finished and going on.
    pub runs: RunLog,
    /// Last ledger place folded in.
    pub last_seq: u64,
    pub(super) last_occurred_at: Option<Timestamp>,
    /// When the ledger last took an entry, by the clock of the machine it is on.
    pub last_recorded_at: Option<Timestamp>,
    /// When chores were done, and what they count from.
    pub chores: ChoreLog,
    /// Closed months and named storms.
    pub calendar: Calendar,
    /// What was read of roads and put on them in the last weeks.
    pub roads: RoadLog,
    /// The last totals read of each meter, in order of time.
    pub totals_read: BTreeMap<String, Vec<(Timestamp, Volume)>>,
    /// The last entries that could be made twice, oldest first.
    pub flows: Vec<Flowed>,
    /// The last tickets, oldest first.
    pub tickets: Vec<Ticketed>,
    /// Events of a whole ledger that are folded before memories of single entries begin.
    pub(super) before_memory: usize,
    /// Written down while a walk is made.
    pub(super) walk: Option<Box<Walk>>,
}

/// Sums over the ledger.
#[derive(Debug, Clone, Copy, Default)]
pub struct Totals {
    /// Brine made in runs.
    pub made: Mass,
    /// Rock salt delivered.
    pub salt_delivered: Mass,
    /// Rock salt dissolved.
    pub salt_dissolved: Mass,
    /// Rock salt spread dry.
    pub salt_spread: Mass,
    /// Liquid loaded on trucks.
    pub loaded: Mass,
    /// Liquid brought back.
    pub returned: Mass,
    /// Liquid issued to others.
    pub issued: Mass,
    /// Liquid lost and cleaned out.
    pub lost: Mass,
}

impl Books {
    /// An empty yard: nothing has happened yet.
    pub fn empty(yard: &Yard) -> Self {
        let tanks = yard.tanks.iter().map(|tank| TankBook::empty(tank.id.clone())).collect();
        Self {
            tanks,
            rock_salt: kilograms(0.0),
            totals: Totals::default(),
            tap: Vec::new(),
            estimates: Estimates::empty(yard),
            trucks: BTreeMap::new(),
            problems: Vec::new(),
            bench: BenchLog::default(),
            runs: RunLog::default(),
            last_seq: 0,
            last_occurred_at: None,
            last_recorded_at: None,
            chores: ChoreLog::default(),
            calendar: Calendar::default(),
            roads: RoadLog::default(),
            totals_read: BTreeMap::new(),
            flows: Vec::new(),
            tickets: Vec::new(),
            before_memory: 0,
            walk: None,
        }
    }

    /// The yard file's own opening figures, for a plan without a ledger.
    pub fn opening(yard: &Yard) -> Self {
        let mut books = Self::empty(yard);
        books.rock_salt = yard.salt.opening;
        for (book, tank) in books.tanks.iter_mut().zip(&yard.tanks) {
            let (Some(opening), Some(product)) = (tank.opening, yard.product(&tank.product)) else {
                continue;
            };
            let content = Content::of_product(product, opening.volume, None, opening.strength);
            books.estimates.open(yard, &tank.id, &content, Timestamp::UNIX_EPOCH);
            book.content = content;
            book.last_strength = opening.strength;
        }
        books
    }

    /// The same with what level sensors of storage tanks show beside the ledger's evidence. The book is as it was.
    #[must_use]
    pub fn with_levels(&self, yard: &Yard, levels: &[(String, crate::estimate::Level)]) -> Self {
        Self { estimates: self.estimates.with_levels(yard, levels), ..self.clone() }
    }

    /// When the last entry happened.
    pub fn last_occurred_at(&self) -> Option<Timestamp> {
        self.last_occurred_at
    }

    /// Book of a tank.
    pub fn tank(&self, id: &str) -> Option<&TankBook> {
        self.tanks.iter().find(|tank| tank.tank == id)
    }

    /// The last few readings of a tank, or of the plant's tap, oldest first.
    pub fn readings_from(&self, tank: Option<&str>) -> &[LoggedReading] {
        match tank {
            Some(tank) => self.tank(tank).map_or(&[], |book| book.readings.as_slice()),
            None => &self.tap,
        }
    }

    /// Whether the books close: nothing stands below zero, and every event could be counted.
    pub fn close(&self) -> bool {
        let counted = !self.problems.iter().any(|p| matches!(p, BookProblem::NotCounted { .. }));
        counted
            && self.tanks.iter().all(|tank| -ROUNDING_KG <= in_kilograms(tank.content.mass))
            && -ROUNDING_KG <= in_kilograms(self.rock_salt)
    }
}
