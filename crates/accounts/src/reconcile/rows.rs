//! The balances of a period, each with everything that is uncertain in it, by the figures of [`yard::uncertain`].

use std::collections::{BTreeMap, HashMap};

use chemistry::{Brine, MassFraction, recipe};
use jiff::{SignedDuration, Timestamp};
use nalgebra::DMatrix;
use quantity::{celsius, in_cubic_metres, in_kg_per_m3, in_kilograms, metres};

use super::{Balance, Cause};
use crate::{Journal, Period};
use site::{Metered, ProductKind, Tank};
use yard::event::{Body, Dip, HowFound, Recorded};
use yard::stock::{Content, End, Flow, SaltEnd};
use yard::uncertain::{
    BY_MARKS, BY_METER, BY_WEIGHT_KG, DENSITY, DIP_M, FLOW_PCT, MAKING, MARKS_ALIKE, OTHER, READING_PCT,
    ROUNDING_KG, RUNS_ALIKE, SALT_ALIKE, SLUDGE, SPILL, TABLE_ALIKE, TOTAL_KG, TRANSFER, batch,
};

/// Dips nearer than this are one look.
const APART_HOURS: i64 = 10;
/// Evidence is never thinned beyond this: two years.
const LONGEST_APART_HOURS: i64 = 2 * 365 * 24;
/// A reading serves a dip that was taken within this time of it.
const READING_NEAR_HOURS: i64 = 48;
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

/// A dip with what it says of mass and salt.
#[derive(Debug, Clone, Copy)]
struct Look {
    at: Timestamp,
    mass: f64,
    mass_uncertainty: f64,
    strength: f64,
    /// Sodium chloride by a reading taken near.
    salt: Option<f64>,
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

    /// Rows between the looks into a tank, with the dips' own errors.
    fn tank_rows(&mut self, tank: &str, looks: &[Look]) {
        let mut before: Vec<(usize, f64)> = Vec::new();
        for (place, look) in looks.iter().enumerate() {
            let mut on = std::mem::take(&mut before);
            if let Some(next) = looks.get(place + 1) {
                let change = next.mass - look.mass;
                let row = self.push(Balance::Tank(tank.to_owned()), (look.at, next.at), change);
                self.list[row].change = change;
                self.list[row].strength = 0.5 * (look.strength + next.strength);
                on.push((row, -1.0));
                before.push((row, 1.0));
                // The table is a little off everywhere alike: the change is.
                self.off_alike(Alike::Table(tank.to_owned()), TABLE_ALIKE, &[(row, -change)]);
                if let (Some(salt), Some(next_salt)) = (look.salt, next.salt) {
                    let both = (look.at, next.at);
                    let salt_row = self.push(Balance::TankSalt(tank.to_owned()), both, next_salt - salt);
                    on.push((salt_row, -look.strength));
                    before.push((salt_row, next.strength));
                    for at in [look, next] {
                        self.share_error(READING_PCT / 100.0 * at.mass, vec![(salt_row, 1.0)]);
                    }
                }
            }
            self.share_error(look.mass_uncertainty, on);
        }
    }

    /// Takes what flowed off the tanks' rows, with its uncertainty.
    fn flows(&mut self, journal: &Journal<'_>, period: Period) {
        let index = self.index();
        let of_meter = |(place, row): (usize, &Row)| match &row.balance {
            Balance::LoadingTotals(id) => Some((place, row.from, row.until, id.clone())),
            _ => None,
        };
        let totals: Vec<_> = self.list.iter().enumerate().filter_map(of_meter).collect();
        for flow in journal.walk.liquids.iter().filter(|flow| period.holds(flow.at)) {
            let mass = in_kilograms(flow.liquid.mass);
            let salt = in_kilograms(flow.liquid.sodium_chloride);
            let mut on: Vec<(usize, f64)> = Vec::new();
            for (end, sign) in [(&flow.from, 1.0), (&flow.to, -1.0)] {
                let End::Tank(tank) = end else { continue };
                let share = if mass > 0.0 { salt / mass } else { 0.0 };
                for (row, is_salt) in index.at(tank, flow.at) {
                    // A settlement is no flow: only what was seen counts.
                    if matches!(flow.from, End::Agreed) {
                        continue;
                    }
                    self.list[row].residual += sign * if is_salt { salt } else { mass };
                    on.push((row, sign * if is_salt { share } else { 1.0 }));
                    if is_salt {
                        self.share_error(FLOW_PCT / 100.0 * mass, vec![(row, 1.0)]);
                    }
                }
            }
            let known = journal.event(flow.event);
            // What goes onto a truck runs through the loading meter, whatever its ticket was written by.
            // What was counted off the truck with the same entry does not.
            let leaves = matches!(flow.from, End::Tank(_));
            let body = known.map(|recorded| &recorded.event.body).filter(|body| leaves && is_loaded(body));
            if let Some(body) = body {
                let of = loaded_by(journal, body);
                for (row, from, until, id) in &totals {
                    if of.is_some_and(|of| of == id) && *from <= flow.at && flow.at < *until {
                        self.list[*row].residual -= mass;
                        if is_by_loading_meter(body) {
                            self.share_error(ROUNDING_KG, vec![(*row, 1.0)]);
                        } else {
                            on.push((*row, -1.0));
                            self.off_alike(Alike::LoadingMeter, loading_prior(journal), &[(*row, -mass)]);
                        }
                    }
                }
            }
            if on.is_empty() {
                continue;
            }
            let (random, alike) = uncertainty(journal, flow, known, mass);
            self.share_error(random, on.clone());
            if let Some((what, prior)) = alike {
                // Residual is evidence less book: if more truly flowed out, the evidence stands lower.
                let signed: Vec<(usize, f64)> = on.iter().map(|(row, f)| (*row, -f * mass)).collect();
                self.off_alike(what, prior, &signed);
            }
        }
    }

    /// The loading meter's totals; what was entered is taken off with the other flows.
    fn totals(&mut self, journal: &Journal<'_>, period: Period, apart: SignedDuration) {
        for meter in journal.yard().meters.iter().filter(|meter| meter.on == Metered::Loading) {
            for (from, until, counted) in spans(journal, meter, period, apart) {
                let density = mean_density(journal, from, until);
                let row = self.push(
                    Balance::LoadingTotals(meter.id.clone()),
                    (from, until),
                    in_cubic_metres(counted) * density,
                );
                let scatter = DENSITY * in_cubic_metres(counted) * density;
                self.share_error(scatter.hypot(TOTAL_KG), vec![(row, 1.0)]);
            }
        }
    }

    /// Weighed trucks against the loading meter, a row a month of thirty days.
    fn weighed(&mut self, journal: &Journal<'_>, period: Period) {
        let mut months: BTreeMap<i64, (Timestamp, Timestamp, f64, f64, f64)> = BTreeMap::new();
        for recorded in journal.events().iter().filter(|r| period.holds(r.event.occurred_at)) {
            let at = recorded.event.occurred_at;
            let factor = journal.yard().loading_meter().map_or(1.0, |meter| meter.factor);
            let (weighed, shown_kg) = match &recorded.event.body {
                Body::LoadOut(load) => {
                    let (Some(weighed), Some(shown)) = (load.weighed_kg, load.metered_m3) else { continue };
                    let Some(strength) = journal.strength_of(recorded.event.id) else { continue };
                    (weighed, factor * shown * density(strength.fraction(), load.temp_c))
                }
                Body::MeterCheck(check) => {
                    let is_loading = journal.yard().meter(&check.meter).map(|meter| meter.on);
                    if is_loading != Some(Metered::Loading) {
                        continue;
                    }
                    (
                        check.weighed_kg,
                        factor * check.shown_m3 * density(check.strength_pct / 100.0, check.temp_c),
                    )
                }
                _ => continue,
            };
            let month = at.as_second().div_euclid(30 * 86_400);
            let entry = months.entry(month).or_insert((at, at, 0.0, 0.0, 0.0));
            entry.1 = at;
            entry.2 += weighed - shown_kg;
            entry.3 += shown_kg;
            let own = BY_WEIGHT_KG.hypot(BY_METER.0 * shown_kg + BY_METER.1);
            entry.4 = entry.4.hypot(own);
        }
        for (from, until, residual, shown, own) in months.into_values() {
            let row = self.push(Balance::Weighed, (from, until), residual);
            self.share_error(own, vec![(row, 1.0)]);
            self.off_alike(Alike::LoadingMeter, loading_prior(journal), &[(row, shown)]);
        }
    }

    /// Water by its meter against the water of what was made and put right.
    fn water(&mut self, journal: &Journal<'_>, period: Period, apart: SignedDuration) {
        for meter in journal.yard().meters.iter().filter(|meter| meter.on == Metered::Water) {
            for (from, until, counted) in spans(journal, meter, period, apart) {
                let counted = in_cubic_metres(counted) * 999.0;
                let row = self.push(Balance::Water(meter.id.clone()), (from, until), counted);
                let (mut runs, mut squares) = (0.0, 20.0_f64.powi(2));
                for flow in journal.walk.liquids.iter().filter(|flow| from <= flow.at && flow.at < until) {
                    let water = in_kilograms(flow.liquid.mass) - in_kilograms(flow.liquid.sodium_chloride);
                    let is_run = flow.from == End::Plant;
                    if is_run || flow.from == End::Added {
                        self.list[row].residual -= water;
                        let known = journal.event(flow.event).map(|recorded| &recorded.event.body);
                        let share = if let Some(Body::MakingRun(run)) = known { batch(run) } else { MAKING };
                        squares += (share * water).powi(2);
                        runs += if is_run { water } else { 0.0 };
                    }
                }
                self.share_error(squares.sqrt(), vec![(row, 1.0)]);
                self.off_alike(
                    Alike::WaterMeter(meter.id.clone()),
                    meter.factor_uncertainty,
                    &[(row, -counted)],
                );
                self.off_alike(Alike::Runs, RUNS_ALIKE, &[(row, runs)]);
            }
        }
    }

    /// The pile between surveys; and salt stated for runs against the salt in their brine, month by month.
    fn salt(&mut self, journal: &Journal<'_>, period: Period, apart: SignedDuration) {
        let surveys: Vec<(Timestamp, f64, f64)> = journal
            .events()
            .iter()
            .filter(|recorded| period.holds(recorded.event.occurred_at))
            .filter_map(|recorded| match &recorded.event.body {
                Body::PileSurvey(survey) => {
                    let own = survey.uncertainty_pct / 100.0 * survey.mass_kg / 1.96;
                    Some((recorded.event.occurred_at, survey.mass_kg, own))
                }
                _ => None,
            })
            .collect();
        let mut kept: Vec<(Timestamp, f64, f64)> = Vec::new();
        for survey in surveys {
            if kept.last().is_none_or(|last| survey.0.duration_since(last.0) >= apart) {
                kept.push(survey);
            }
        }
        let surveys = kept;
        let mut before: Vec<(usize, f64)> = Vec::new();
        for (place, (at, mass, own)) in surveys.iter().enumerate() {
            let mut on = std::mem::take(&mut before);
            if let Some((next_at, next_mass, _)) = surveys.get(place + 1) {
                let row = self.push(Balance::Pile, (*at, *next_at), next_mass - mass);
                on.push((row, -1.0));
                before.push((row, 1.0));
                let (mut used, mut squares) = (0.0, 0.0);
                for flow in journal.walk.salt.iter().filter(|flow| *at <= flow.at && flow.at < *next_at) {
                    let mass = in_kilograms(flow.mass);
                    match flow.end {
                        SaltEnd::Agreed => {}
                        SaltEnd::Delivered => {
                            self.list[row].residual -= mass;
                            squares += (0.002 * mass).powi(2);
                        }
                        SaltEnd::Made | SaltEnd::Corrected | SaltEnd::Spread(_) => {
                            self.list[row].residual += mass;
                            used += mass;
                            squares += (0.03 * mass).powi(2);
                        }
                    }
                }
                self.share_error(squares.sqrt(), vec![(row, 1.0)]);
                self.off_alike(Alike::SaltUsed, SALT_ALIKE, &[(row, -used)]);
                let days = self.list[row].days();
                self.off_alike(Alike::SaltLost, 0.0, &[(row, days)]);
            }
            self.share_error(*own, on);
        }
        self.salt_made(journal, period);
    }

    fn salt_made(&mut self, journal: &Journal<'_>, period: Period) {
        let share = journal.yard().rock_salt().sodium_chloride();
        let mut months: BTreeMap<i64, (Timestamp, Timestamp, f64, f64, f64, f64)> = BTreeMap::new();
        for recorded in journal.events().iter().filter(|r| period.holds(r.event.occurred_at)) {
            let at = recorded.event.occurred_at;
            let Body::MakingRun(run) = &recorded.event.body else { continue };
            let Some(salt_kg) = run.salt_kg else { continue };
            let put = journal.walk.liquids.iter().find(|flow| flow.event == recorded.event.id);
            let Some(put) = put else { continue };
            let in_brine = in_kilograms(put.liquid.sodium_chloride);
            let stated = salt_kg * share;
            let entry =
                months.entry(at.as_second().div_euclid(30 * 86_400)).or_insert((at, at, 0.0, 0.0, 0.0, 0.0));
            entry.1 = at;
            entry.2 += stated - in_brine;
            entry.3 += stated;
            entry.4 += in_brine;
            let strength = FLOW_PCT / 100.0 * in_kilograms(put.liquid.mass);
            entry.5 = entry.5.hypot(0.02 * stated).hypot(batch(run) * in_brine).hypot(strength);
        }
        for (from, until, residual, stated, in_brine, own) in months.into_values() {
            let row = self.push(Balance::SaltMade, (from, until), residual);
            self.share_error(own, vec![(row, 1.0)]);
            self.off_alike(Alike::SaltUsed, SALT_ALIKE, &[(row, -stated)]);
            self.off_alike(Alike::Runs, RUNS_ALIKE, &[(row, in_brine)]);
        }
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

fn density(strength: f64, temp_c: Option<f64>) -> f64 {
    let at = temp_c.map_or_else(recipe::reference_temperature, celsius);
    let brine = MassFraction::from_fraction(strength.clamp(0.0, 0.263)).and_then(Brine::sodium_chloride);
    brine.and_then(|brine| brine.density(at)).map_or(1176.0, in_kg_per_m3)
}

/// Mean density of what was loaded in a time, kg/m³; brine of the plant's target where nothing was.
fn mean_density(journal: &Journal<'_>, from: Timestamp, until: Timestamp) -> f64 {
    let (mut mass, mut volume) = (0.0, 0.0);
    let within = |flow: &&Flow| from <= flow.at && flow.at < until && matches!(flow.from, End::Tank(_));
    for flow in journal.walk.liquids.iter().filter(within) {
        let stated = match journal.event(flow.event).map(|recorded| &recorded.event.body) {
            Some(Body::LoadOut(load)) => load.volume_m3,
            Some(Body::IssueOut(issue)) => issue.volume_m3,
            _ => continue,
        };
        mass += in_kilograms(flow.liquid.mass);
        volume += stated;
    }
    if volume > 0.0 { mass / volume } else { density(journal.yard().plant.target_strength.fraction(), None) }
}

/// What a meter counted in a period, from a total to the next that stands far enough from it.
fn spans(
    journal: &Journal<'_>,
    meter: &site::Meter,
    period: Period,
    apart: SignedDuration,
) -> Vec<(Timestamp, Timestamp, quantity::Volume)> {
    let mut found: Vec<(Timestamp, Timestamp, quantity::Volume)> = Vec::new();
    for (from, until, counted) in crate::metering::counts(journal, meter) {
        let Ok(counted) = counted else { continue };
        if !period.holds(from) || !period.holds(until) {
            continue;
        }
        match found.last_mut() {
            Some((first, last, sum)) if *last == from && last.duration_since(*first) < apart => {
                *last = until;
                *sum += counted;
            }
            _ => found.push((from, until, counted)),
        }
    }
    found
}

/// Whether an entry puts liquid on a truck, or another agency's.
fn is_loaded(body: &Body) -> bool {
    matches!(body, Body::LoadOut(_) | Body::IssueOut(_))
}

/// The loading meter that an entry ran through: the one it names, else the yard's only one.
fn loaded_by<'j>(journal: &Journal<'j>, body: &'j Body) -> Option<&'j str> {
    let named = match body {
        Body::LoadOut(load) => load.meter.as_deref(),
        _ => None,
    };
    named.or_else(|| journal.yard().loading_meter().map(|meter| meter.id.as_str()))
}

/// Whether an entry's volume was taken from the loading meter.
fn is_by_loading_meter(body: &Body) -> bool {
    match body {
        Body::LoadOut(load) => load.how.is_none_or(|how| how == HowFound::Meter),
        Body::IssueOut(issue) => issue.how.is_none_or(|how| how == HowFound::Meter),
        _ => false,
    }
}

fn loading_prior(journal: &Journal<'_>) -> f64 {
    journal.yard().loading_meter().map_or(0.02, |meter| meter.factor_uncertainty)
}

/// Uncertainty of a flow's mass each time, kg; and what it is off with for all of its kind alike, as a share.
fn uncertainty(
    journal: &Journal<'_>,
    flow: &Flow,
    recorded: Option<&Recorded>,
    mass: f64,
) -> (f64, Option<(Alike, f64)>) {
    let by = |how: HowFound, truck: &str| match how {
        HowFound::Weight => (BY_WEIGHT_KG, None),
        HowFound::Marks | HowFound::Dip => {
            let alike = Alike::Marks(truck.to_owned());
            (BY_MARKS.0 * mass + BY_MARKS.1, Some((alike, MARKS_ALIKE)))
        }
        HowFound::Meter => {
            (BY_METER.0 * mass + BY_METER.1, Some((Alike::LoadingMeter, loading_prior(journal))))
        }
    };
    match (recorded.map(|recorded| &recorded.event.body), &flow.from, &flow.to) {
        (Some(Body::LoadOut(load)), ..) => by(load.how.unwrap_or(HowFound::Meter), &load.truck),
        (Some(Body::IssueOut(issue)), ..) => by(issue.how.unwrap_or(HowFound::Meter), &issue.agency),
        // What comes back is seldom metered: the marks, where nothing is said.
        (Some(Body::ReturnToTank(back)), ..) => by(back.how.unwrap_or(HowFound::Marks), &back.truck),
        (Some(Body::MakingRun(run)), End::Plant, _) => (batch(run) * mass, Some((Alike::Runs, RUNS_ALIKE))),
        (_, End::Plant, _) => (MAKING * mass, Some((Alike::Runs, RUNS_ALIKE))),
        (_, End::Tank(_), End::Tank(_)) => (TRANSFER * mass, None),
        (_, _, End::Lost) => (SPILL * mass, None),
        (_, _, End::CleanedOut) => (SLUDGE * mass, None),
        _ => (OTHER * mass, None),
    }
}

/// Looks into every tank in a period, in order of time, none nearer to the last than `apart`.
fn looks(journal: &Journal<'_>, period: Period, apart: SignedDuration) -> Vec<(String, Vec<Look>)> {
    let yard = journal.yard();
    let mut contents: HashMap<&str, Content> = HashMap::new();
    let mut readings: HashMap<&str, Vec<(Timestamp, f64)>> = HashMap::new();
    let mut found: BTreeMap<usize, Vec<Look>> = BTreeMap::new();
    for recorded in journal.events() {
        if let Body::Reading(reading) = &recorded.event.body
            && let Some(tank) = &reading.tank
        {
            let all = readings.entry(tank.as_str()).or_default();
            all.push((recorded.event.occurred_at, reading.strength_pct / 100.0));
        }
    }
    let mut flows = journal.walk.liquids.iter().peekable();
    for recorded in journal.events() {
        let at = recorded.event.occurred_at;
        while let Some(flow) = flows.next_if(|flow| flow.at <= at) {
            for (end, sign) in [(&flow.from, -1.0), (&flow.to, 1.0)] {
                if let End::Tank(tank) = end {
                    contents.entry(tank.as_str()).or_default().add(&flow.liquid.times(sign));
                }
            }
        }
        let Body::Dip(dip) = &recorded.event.body else { continue };
        if !period.holds(at) {
            continue;
        }
        let Some((place, tank)) = yard.tanks.iter().enumerate().find(|(_, tank)| tank.id == dip.tank) else {
            continue;
        };
        let looks = found.entry(place).or_default();
        if looks.last().is_some_and(|last: &Look| at.duration_since(last.at) < apart) {
            continue;
        }
        let reading = readings.get(dip.tank.as_str()).and_then(|all| last_reading(all, at));
        let held = contents.get(dip.tank.as_str());
        looks.extend(look(journal, (tank, dip), at, held, reading));
    }
    let named = |(place, looks): (usize, Vec<Look>)| (yard.tanks[place].id.clone(), looks);
    found.into_iter().map(named).filter(|(_, looks)| looks.len() > 1).collect()
}

/// The last reading before a moment, and whether it is near enough to speak for the salt in the tank.
fn last_reading(readings: &[(Timestamp, f64)], at: Timestamp) -> Option<(f64, bool)> {
    let near = SignedDuration::from_hours(READING_NEAR_HOURS);
    let last = readings.iter().rev().find(|(taken, _)| *taken <= at)?;
    Some((last.1, at.duration_since(last.0) <= near))
}

fn look(
    journal: &Journal<'_>,
    (tank, dip): (&Tank, &Dip),
    at: Timestamp,
    held: Option<&Content>,
    reading: Option<(f64, bool)>,
) -> Option<Look> {
    let yard = journal.yard();
    let product = yard.product(&tank.product)?;
    let volume = |depth: f64| tank.shape.volume_at(metres(depth)).ok().map(in_cubic_metres);
    let middle = volume(dip.depth_m)?;
    let (density, strength, salt_strength) = match &product.kind {
        ProductKind::Declared { density, .. } => (in_kg_per_m3(*density), 0.0, None),
        ProductKind::SodiumChlorideBrine => {
            // A book that has gone astray says nothing of the strength; a reading does.
            let by_book = held.and_then(Content::strength).map(MassFraction::fraction);
            let target = yard.plant.target_strength.fraction();
            let strength = reading.map(|(w, _)| w).or(by_book).unwrap_or(target);
            let near = reading.filter(|(_, is_near)| *is_near).map(|(w, _)| w);
            (density(strength, dip.temp_c), strength, near)
        }
    };
    let above = volume(dip.depth_m + DIP_M).unwrap_or(middle);
    let below = volume((dip.depth_m - DIP_M).max(0.0)).unwrap_or(middle);
    let of_depth = 0.5 * (above - below).abs().max(1e-6) * density;
    let mass = middle * density;
    Some(Look {
        at,
        mass,
        mass_uncertainty: of_depth.hypot(DENSITY * mass),
        strength,
        salt: salt_strength.map(|w| w * mass),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn joined_signatures_add_up() {
        assert_eq!(joined(&[(2, 1.0), (0, 0.5), (2, -0.25)]), vec![(0, 0.5), (2, 0.75)]);
    }
}
