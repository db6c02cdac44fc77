//! Whether what was made, dipped, metered and weighed agrees; and if not, which meter, tank or truck is to be looked at
//! first.
//!
//! Evidence never moves the book. Between two dips of a tank, between two totals of a meter, between two surveys of the
//! pile, for every month of weighed trucks stands one balance; its residual is weighed against all that is uncertain in
//! it. What would explain the residuals best is named first. [`network`] holds the algebra.

pub mod network;
mod rows;

use jiff::Timestamp;
use message::{Message, Tell};
use quantity::{Mass, in_kilograms, kilograms};
use statrs::distribution::{ChiSquared, ContinuousCDF};

use crate::{Journal, Period};
use network::{GrossErrors, NetworkError, Suspicion};
use rows::{Row, Rows};

/// Chance of calling a season wrong that closes, over all that is tested. Our own figure.
pub const FALSE_ALARM: f64 = 0.01;
/// What is left over so many of its 95 % intervals out is beyond chance, whatever explains it: five standard
/// deviations. Our own figure.
const OUTSIDE: f64 = 2.5;
/// A cause that explains nearly as well as the first is named beside it: within this much of its score. Our own figure.
const NEARLY: f64 = 6.0;

/// What may be wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cause {
    /// The loading meter shows too much or too little. Size: true over shown, less one.
    LoadingMeter,
    /// The volumes of making runs. Size: true over stated, less one.
    MakingVolume,
    /// The water meter. Size: true over shown, less one.
    WaterMeter(String),
    /// The strapping table of a tank, or how it is dipped. Size: true over dipped, less one.
    TankTable(String),
    /// The marks on a truck's tank. Size: true over stated, less one.
    TruckMarks(String),
    /// A tank loses liquid. Size: kg a day, below zero.
    Leak {
        /// Id of the tank.
        tank: String,
        /// Since the dip of this moment, as far as can be told.
        since: Timestamp,
    },
    /// Water gets into a tank: rain, a valve that leaks by. Size: kg a day.
    WaterIn {
        /// Id of the tank.
        tank: String,
        /// Since the dip of this moment, as far as can be told.
        since: Timestamp,
    },
    /// Something went out of (below zero) or came into a tank once and was not entered. Size: kg.
    NotEntered {
        /// Id of the tank.
        tank: String,
        /// Between the dip of this moment.
        from: Timestamp,
        /// And this one.
        until: Timestamp,
        /// The loading meter counted it too: a load without a ticket.
        is_metered: bool,
    },
    /// Rock salt used as stated: bucket weight, purity, moisture. Size: true over stated, less one.
    SaltUsed,
    /// Salt goes from the pile that nobody entered. Size: kg a day.
    SaltLost,
}

impl Cause {
    /// Most that a meter, a table or marks can be off before somebody sees it without arithmetic, as a share. Our own
    /// figures.
    fn most(&self) -> f64 {
        match self {
            Cause::LoadingMeter | Cause::WaterMeter(_) | Cause::TruckMarks(_) => 0.5,
            Cause::MakingVolume | Cause::SaltUsed => 0.3,
            Cause::TankTable(_) => 0.15,
            _ => f64::INFINITY,
        }
    }

    /// How many of its kind are tested, for weighing a search over many against a single one.
    fn is_search(&self) -> bool {
        matches!(self, Cause::Leak { .. } | Cause::WaterIn { .. } | Cause::NotEntered { .. })
    }
}

/// A cause with how well it explains the residuals.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspect {
    /// What may be wrong.
    pub cause: Cause,
    /// Its size, in the unit of the cause.
    pub size: f64,
    /// 95 % interval of that, ±.
    pub interval: f64,
    /// What it takes off the sum of squares.
    pub statistic: f64,
    /// The statistic less what a search finds by chance.
    pub score: f64,
}

/// What is left over on one balance.
#[derive(Debug, Clone, PartialEq)]
pub struct LeftOver {
    /// Tank, meter or pile.
    pub of: Balance,
    /// Balances of it.
    pub balances: usize,
    /// More in the evidence than in the book (above zero), over all of them.
    pub mass: Mass,
    /// Its 95 % interval, ±.
    pub interval: Mass,
}

/// What a balance is of.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Balance {
    /// Content of a tank.
    Tank(String),
    /// Sodium chloride in a tank.
    TankSalt(String),
    /// Totals of the loading meter against the loads entered.
    LoadingTotals(String),
    /// Weighed trucks against the meter.
    Weighed,
    /// Water by its meter against the water of what was made.
    Water(String),
    /// Salt used in runs against the salt in the brine.
    SaltMade,
    /// The salt pile, surveyed.
    Pile,
}

/// Whether the books close.
#[derive(Debug, Clone, PartialEq)]
pub struct Findings {
    /// The stretch of time that was tested.
    pub period: Period,
    /// Number of balances tested.
    pub balances: usize,
    /// All residuals together: χ² with as many degrees of freedom as balances, if only chance is at work.
    pub statistic: f64,
    /// Chance of at least so much.
    pub chance: f64,
    /// What is left over, balance by balance.
    pub left_over: Vec<LeftOver>,
    /// What must be explained, best explanation first; empty when the books close.
    pub suspects: Vec<Suspect>,
}

impl Findings {
    /// Whether the books close within what is uncertain: nothing must be explained, and all residuals together could be
    /// chance.
    pub fn closes(&self) -> bool {
        self.suspects.is_empty() && self.chance >= FALSE_ALARM / 10.0 && self.worst().is_none()
    }

    /// What is left over beyond chance, farthest out first, whether or not a cause explains it.
    pub fn worst(&self) -> Option<&LeftOver> {
        let far = |one: &LeftOver| in_kilograms(one.mass).abs() / in_kilograms(one.interval).max(1e-9);
        let out = self.left_over.iter().filter(|one| far(one) > OUTSIDE);
        out.max_by(|a, b| far(a).total_cmp(&far(b)))
    }
}

/// Why nothing can be said.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", self.message())]
pub enum ReconcileError {
    /// Not enough evidence.
    NoEvidence,
    /// The algebra cannot tell the balances apart.
    Network(#[from] NetworkError),
}

/// Tests a period of a ledger.
///
/// # Equation
/// Generalised likelihood ratio of every cause over all balances; the threshold is the χ² of one degree of freedom at
/// 1 % over the number of causes tested (Bonferroni). Causes that are searched for in time are weighed down by
/// 2·ln(number of places).
///
/// # Range
/// A period with two dips of a tank, or two totals of a meter, or two surveys.
///
/// # Error
/// On 200 simulated seasons: VALIDATION.md.
///
/// # Source
/// Narasimhan and Mah, AIChE J. 33 (1987) 1514, for the test; the uncertainties are our own figures, in `uncertain.rs`.
///
/// # Errors
/// [`ReconcileError`].
pub fn reconcile(journal: &Journal<'_>, period: Period) -> Result<Findings, ReconcileError> {
    let rows = Rows::read(journal, period);
    if rows.list.is_empty() {
        return Err(ReconcileError::NoEvidence);
    }
    let residuals: Vec<f64> = rows.list.iter().map(|row| row.residual).collect();
    let covariance = rows.covariance();
    let left_over = left_over(&rows, &covariance);
    let test = GrossErrors::new(&residuals, covariance)?;
    let (statistic, chance) = test.global()?;
    let mut all = suspects(&rows, &test);
    let tested = all.len().max(1) as f64;
    let searched = all.iter().filter(|suspect| suspect.cause.is_search()).count().max(1) as f64;
    for suspect in &mut all {
        let luck = if suspect.cause.is_search() { 2.0 * searched.ln() } else { 0.0 };
        suspect.score = suspect.statistic - luck;
    }
    let threshold =
        ChiSquared::new(1.0).map_or(f64::INFINITY, |chi| chi.inverse_cdf(1.0 - FALSE_ALARM / tested));
    let is_wrong = all.iter().any(|suspect| suspect.statistic > threshold);
    all.sort_by(|a, b| b.score.total_cmp(&a.score));
    let best = all.first().map_or(0.0, |suspect| suspect.score);
    all.retain(|suspect| is_wrong && best - NEARLY < suspect.score);
    let mut named: Vec<Suspect> = Vec::new();
    for suspect in all {
        // Of a search the best place stands for its neighbours.
        let is_neighbour = |other: &Suspect| kind(&other.cause) == kind(&suspect.cause);
        if !named.iter().any(is_neighbour) {
            named.push(suspect);
        }
    }
    Ok(Findings { period, balances: residuals.len(), statistic, chance, left_over, suspects: named })
}

/// Which cause it is, whenever it was.
fn kind(cause: &Cause) -> (u8, &str) {
    match cause {
        Cause::LoadingMeter => (0, ""),
        Cause::MakingVolume => (1, ""),
        Cause::WaterMeter(id) => (2, id),
        Cause::TankTable(id) => (3, id),
        Cause::TruckMarks(id) => (4, id),
        Cause::Leak { tank, .. } => (5, tank),
        Cause::WaterIn { tank, .. } => (6, tank),
        Cause::NotEntered { tank, is_metered: false, .. } => (7, tank),
        Cause::NotEntered { tank, is_metered: true, .. } => (8, tank),
        Cause::SaltUsed => (9, ""),
        Cause::SaltLost => (10, ""),
    }
}

fn suspect(cause: Cause, found: Option<Suspicion>) -> Option<Suspect> {
    found.map(|found| Suspect {
        cause,
        size: found.size,
        interval: 1.96 * found.standard_uncertainty,
        statistic: found.statistic,
        score: found.statistic,
    })
}

fn suspects(rows: &Rows, test: &GrossErrors) -> Vec<Suspect> {
    let mut found = Vec::new();
    for (cause, signature) in rows.shares() {
        let plausible = cause.most();
        let suspicion = test.suspicion(&signature).filter(|found| found.size.abs() <= plausible);
        found.extend(suspect(cause, suspicion));
    }
    for tank in rows.tanks() {
        let of_tank: Vec<(usize, &Row)> = rows.of_tank(tank).collect();
        let once = |is_metered: bool| {
            let of = of_tank.iter().filter_map(move |(place, row)| rows.once(*place, row, is_metered));
            of.map(move |signature| (is_metered, signature))
        };
        for (is_metered, (place, signature)) in once(false).chain(once(true)) {
            let row = &rows.list[place];
            let (from, until) = (row.from, row.until);
            let cause = Cause::NotEntered { tank: tank.to_owned(), from, until, is_metered };
            found.extend(suspect(cause, test.suspicion(&signature)));
        }
        for is_water in [false, true] {
            let parts: Vec<Vec<(usize, f64)>> =
                of_tank.iter().map(|(place, row)| rows.daily(*place, row, is_water)).collect();
            for ((_, row), suspicion) in of_tank.iter().zip(test.from_each(&parts)) {
                let (tank, since) = (tank.to_owned(), row.from);
                let cause =
                    if is_water { Cause::WaterIn { tank, since } } else { Cause::Leak { tank, since } };
                // Water comes in; what goes out is a leak.
                let suspicion = suspicion.filter(|s| is_water == (s.size > 0.0));
                found.extend(suspect(cause, suspicion));
            }
        }
    }
    found
}

fn left_over(rows: &Rows, covariance: &nalgebra::DMatrix<f64>) -> Vec<LeftOver> {
    let mut kinds: Vec<&Balance> = rows.list.iter().map(|row| &row.balance).collect();
    kinds.sort();
    kinds.dedup();
    let of = |balance: &Balance| {
        let places: Vec<usize> =
            (0..rows.list.len()).filter(|place| rows.list[*place].balance == *balance).collect();
        let sum: f64 = places.iter().map(|place| rows.list[*place].residual).sum();
        let mut variance = 0.0;
        for one in &places {
            variance += places.iter().map(|other| covariance[(*one, *other)]).sum::<f64>();
        }
        LeftOver {
            of: balance.clone(),
            balances: places.len(),
            mass: kilograms(sum),
            interval: kilograms(1.96 * variance.max(0.0).sqrt()),
        }
    };
    kinds.into_iter().map(of).collect()
}

impl Tell for ReconcileError {
    fn message(&self) -> Message {
        match self {
            ReconcileError::NoEvidence => Message::new("accounts.no_evidence"),
            ReconcileError::Network(error) => error.message(),
        }
    }
}
