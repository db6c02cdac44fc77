//! Whether a season's books that do not close are noticed, and what is wrong named, on seasons drawn by chance.
//!
//! A season is lived through with what is truly in the tanks; the ledger gets what its people would have read, dipped
//! and written. In most one thing is wrong beyond what yards live with. The simulator shares nothing with the test but
//! the density of brine and the shape of tanks.

use std::fmt::Write;
use std::time::Instant;

use accounts::reconcile::{Cause, reconcile};
use accounts::{Journal, Period};
use chemistry::{Brine, MassFraction};
use jiff::{SignedDuration, Timestamp};
use quantity::{celsius, cubic_metres, gallons, in_cubic_metres, in_kg_per_m3, in_metres};
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use site::Yard;
use uuid::Uuid;
use yard::event::{
    Body, Dip, Event, EventId, HowFound, LoadOut, MakingRun, MeterReading, Reading, Recorded, ReturnToTank,
    Settlement,
};

/// Seeds held out; nothing was chosen on them. Seeds 0 to 199 were looked at while the test was made.
const HELD_OUT: std::ops::Range<u64> = 10_000..10_200;
/// Days of a season.
const DAYS: usize = 120;
/// Temperature in the tanks, °C.
const COLD_C: f64 = 4.0;

/// What is wrong in a season.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Wrong {
    /// Nothing beyond what yards live with.
    Nothing,
    /// A tank leaks so much a day, m³, from a day on.
    Leak(usize, f64, usize),
    /// Water gets into a tank.
    WaterIn(usize, f64, usize),
    /// The loading meter is off by this share.
    Meter(f64),
    /// The marks of a truck are off.
    Marks(usize, f64),
    /// A load without a ticket on a day, m³; the meter counted it.
    NoTicket(usize, f64, usize),
}

impl Wrong {
    fn name(self) -> &'static str {
        match self {
            Wrong::Nothing => "nothing",
            Wrong::Leak(..) => "tank leaks",
            Wrong::WaterIn(..) => "water gets into a tank",
            Wrong::Meter(_) => "loading meter off",
            Wrong::Marks(..) => "marks of a truck off",
            Wrong::NoTicket(..) => "load without a ticket",
        }
    }
}

/// A tank as it truly is, kg.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Held {
    pub(super) mass: f64,
    pub(super) salt: f64,
}

impl Held {
    pub(super) fn strength(self) -> f64 {
        if self.mass > 0.0 { (self.salt / self.mass).clamp(0.0, 0.262) } else { 0.0 }
    }

    fn volume(self) -> f64 {
        self.mass / density(self.strength())
    }

    fn draw(&mut self, m3: f64) -> Held {
        let mass = (m3 * density(self.strength())).min(0.98 * self.mass);
        let taken = Held { mass, salt: mass * self.strength() };
        self.mass -= taken.mass;
        self.salt -= taken.salt;
        taken
    }

    fn put(&mut self, more: Held) {
        self.mass += more.mass;
        self.salt += more.salt;
    }
}

fn density(strength: f64) -> f64 {
    let brine = MassFraction::from_fraction(strength).and_then(Brine::sodium_chloride);
    brine.and_then(|brine| brine.density(celsius(COLD_C))).map_or(1176.0, in_kg_per_m3)
}

fn gal(volume: f64) -> f64 {
    in_cubic_metres(gallons(volume))
}

struct Draws(StdRng);

impl Draws {
    fn share(&mut self) -> f64 {
        self.0.random::<f64>()
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    fn either(&mut self, low: f64, high: f64) -> f64 {
        let size = self.between(low, high);
        if self.share() < 0.5 { -size } else { size }
    }

    /// Normal, by the sum of twelve.
    fn normal(&mut self, deviation: f64) -> f64 {
        deviation * ((0..12).map(|_| self.share()).sum::<f64>() - 6.0)
    }

    fn day(&mut self) -> usize {
        self.between(15.0, DAYS as f64 - 30.0) as usize
    }
}

fn wrong(draws: &mut Draws, seed: u64) -> Wrong {
    let tank = (draws.share() * 3.0) as usize;
    match seed % 10 {
        0..=2 => Wrong::Nothing,
        3 | 4 => Wrong::Leak(tank, gal(draws.between(8.0, 60.0)), draws.day()),
        5 => Wrong::WaterIn(tank, gal(draws.between(8.0, 60.0)), draws.day()),
        6 | 7 => Wrong::Meter(draws.either(0.03, 0.10)),
        8 => Wrong::Marks(2 + tank % 2, draws.either(0.08, 0.25)),
        _ => Wrong::NoTicket(tank, gal(draws.between(150.0, 900.0)), draws.day()),
    }
}

/// What is off for all of its kind alike, within what yards live with.
struct Alike {
    meter: f64,
    runs: f64,
    water: f64,
    table: [f64; 3],
    marks: [f64; 4],
}

struct Life<'a> {
    yard: &'a Yard,
    draws: Draws,
    tanks: [Held; 3],
    alike: Alike,
    events: Vec<Recorded>,
    start: Timestamp,
    loading_total: f64,
    water_total: f64,
    /// Days between two dips; whether the meters' totals are read; the share of metered loads that is weighed.
    habits: (usize, bool, f64),
    /// What readings are off by: all of the season alike, and each by itself, as fractions. The interval they state.
    read: (f64, f64, Option<f64>),
    /// What is truly there, twice a day.
    truth: Vec<(Timestamp, [Held; 3])>,
}

impl Life<'_> {
    fn add(&mut self, hours: f64, body: Body) {
        let seq = self.events.len() as u64 + 1;
        let occurred_at = self.start + SignedDuration::from_secs_f64(3600.0 * hours);
        let id = EventId(Uuid::from_u128(u128::from(seq)));
        let event = Event { id, occurred_at, author: "a".into(), device: "b".into(), body };
        self.events.push(Recorded { seq, recorded_at: occurred_at, event });
    }

    fn room(&self, tank: usize) -> f64 {
        in_cubic_metres(self.yard.tanks[tank].working_capacity()) - self.tanks[tank].volume()
    }

    fn make(&mut self, hours: f64, tank: usize) {
        let stated = self.draws.between(gal(500.0), gal(1500.0)).min(0.9 * self.room(tank));
        if stated < gal(150.0) {
            return;
        }
        let truth = stated * (1.0 + self.alike.runs) * (1.0 + self.draws.normal(0.01));
        let strength = 0.233 + self.draws.normal(0.002);
        let mass = truth * density(strength);
        self.tanks[tank].put(Held { mass, salt: mass * strength });
        // The run's own water, within a per cent, through the meter.
        let water = mass * (1.0 - strength) / 999.0;
        self.water_total += water * (1.0 + self.draws.normal(0.003)) / (1.0 + self.alike.water);
        let strength_pct = 100.0 * (strength + self.draws.normal(0.001));
        let run = MakingRun {
            tank: self.yard.tanks[tank].id.clone(),
            volume_m3: stated,
            temp_c: Some(COLD_C),
            strength_pct,
            ..MakingRun::default()
        };
        self.add(hours, Body::MakingRun(run));
    }

    fn load(&mut self, hours: f64, truck: usize, meter_off: f64, marks_off: f64) {
        let tank = (self.draws.share() * 3.0) as usize;
        let site = &self.yard.trucks[truck];
        let stated = self.draws.between(0.45, 1.0) * in_cubic_metres(site.tank);
        if self.tanks[tank].volume() < 1.3 * stated {
            return;
        }
        let by_marks = truck >= 2;
        let truth = if by_marks {
            stated * (1.0 + self.alike.marks[truck] + marks_off) * (1.0 + self.draws.normal(0.03))
        } else {
            stated * (1.0 + self.alike.meter + meter_off) * (1.0 + self.draws.normal(0.004))
        };
        let drawn = self.tanks[tank].draw(truth);
        // All liquid runs through the meter, read or not.
        self.loading_total += truth / (1.0 + self.alike.meter + meter_off);
        let is_weighed = !by_marks && self.draws.share() < self.habits.2;
        let weighed_kg = is_weighed.then(|| drawn.mass + self.draws.normal(10.0));
        let name = site.id.clone();
        let how = if by_marks { HowFound::Marks } else { HowFound::Meter };
        let load = LoadOut {
            tank: self.yard.tanks[tank].id.clone(),
            truck: name.clone(),
            volume_m3: stated,
            temp_c: Some(COLD_C),
            how: Some(how),
            weighed_kg,
            metered_m3: is_weighed.then_some(stated),
            ..LoadOut::default()
        };
        self.add(hours, Body::LoadOut(load));
        if self.draws.share() < 0.3 {
            let share = self.draws.between(0.1, 0.35);
            let mass = share * drawn.mass;
            self.tanks[tank].put(Held { mass, salt: mass * drawn.strength() });
            let back = share * truth;
            let marks = 1.0 + self.alike.marks[truck] + if by_marks { marks_off } else { 0.0 };
            let volume_m3 = back / marks * (1.0 + self.draws.normal(0.03));
            let tank = self.yard.tanks[tank].id.clone();
            let how = Some(HowFound::Marks);
            let back = ReturnToTank {
                tank,
                truck: name,
                volume_m3,
                temp_c: Some(COLD_C),
                how,
                ..ReturnToTank::default()
            };
            self.add(hours + 3.0, Body::ReturnToTank(back));
        }
    }

    fn dips(&mut self, hours: f64) {
        for tank in 0..3 {
            let site = &self.yard.tanks[tank];
            let volume = self.tanks[tank].volume() / (1.0 + self.alike.table[tank]);
            let Ok(depth) = site.shape.depth_of(cubic_metres(volume)) else { continue };
            let depth_m = ((in_metres(depth) + self.draws.normal(0.005)).max(0.0) * 1000.0).round() / 1000.0;
            let tank = site.id.clone();
            self.add(hours, Body::Dip(Dip { tank, depth_m, temp_c: Some(COLD_C) }));
        }
    }

    fn readings(&mut self, hours: f64) {
        for tank in 0..3 {
            let (alike, alone, uncertainty_pct) = self.read;
            let strength_pct = 100.0 * (self.tanks[tank].strength() + alike + self.draws.normal(alone));
            let tank = self.yard.tanks[tank].id.clone();
            self.add(
                hours,
                Body::Reading(Reading {
                    tank: Some(tank),
                    strength_pct,
                    uncertainty_pct,
                    ..Reading::default()
                }),
            );
        }
    }

    fn note(&mut self, hours: f64) {
        let at = self.start + SignedDuration::from_secs_f64(3600.0 * hours);
        self.truth.push((at, self.tanks));
    }

    /// The book is agreed at what is dipped and read: it may be astray by then.
    fn settle(&mut self, hours: f64) {
        for tank in 0..3 {
            let volume = self.tanks[tank].volume() / (1.0 + self.alike.table[tank]);
            let counted = Settlement {
                tank: Some(self.yard.tanks[tank].id.clone()),
                volume_m3: Some(volume * (1.0 + self.draws.normal(0.003))),
                strength_pct: Some(100.0 * (self.tanks[tank].strength() + self.draws.normal(0.0012))),
                salt_kg: None,
                reason: "counted".into(),
            };
            self.add(hours, Body::Settlement(counted));
        }
    }

    fn meters(&mut self, hours: f64) {
        for (meter, total_m3) in [("loading", self.loading_total), ("water main", self.water_total)] {
            self.add(hours, Body::MeterReading(MeterReading { meter: meter.into(), total_m3 }));
        }
    }
}

/// A season as it was written down, and as it was.
pub(super) struct Lived {
    pub(super) events: Vec<Recorded>,
    /// Twice a day: what is truly in the three tanks.
    pub(super) truth: Vec<(Timestamp, [Held; 3])>,
}

/// A season's ledger with what is wrong in it.
fn season(yard: &Yard, seed: u64) -> Result<(Vec<Recorded>, Wrong), String> {
    let mut draws = Draws(StdRng::seed_from_u64(seed));
    let wrong = wrong(&mut draws, seed);
    Ok((live(yard, draws, wrong, (0.0, 0.0012, None))?.events, wrong))
}

/// A season in which nothing is wrong beyond what yards live with; its readings share a part of what they are off by,
/// and state their interval.
pub(super) fn clean(yard: &Yard, seed: u64) -> Result<Lived, String> {
    let mut draws = Draws(StdRng::seed_from_u64(seed));
    let alike = draws.normal(0.0006);
    live(yard, draws, Wrong::Nothing, (alike, 0.00104, Some(0.235)))
}

fn live(yard: &Yard, mut draws: Draws, wrong: Wrong, read: (f64, f64, Option<f64>)) -> Result<Lived, String> {
    let alike = Alike {
        meter: draws.normal(0.01),
        runs: draws.normal(0.01),
        water: draws.normal(0.01),
        table: [0; 3].map(|_| draws.normal(0.005)),
        marks: [0; 4].map(|_| draws.normal(0.02)),
    };
    let habits = (
        [1, 1, 2, 3][(draws.share() * 4.0) as usize],
        draws.share() < 0.7,
        [0.0, 0.05, 0.15][(draws.share() * 3.0) as usize],
    );
    let start = "2012-11-05T10:00:00Z".parse().map_err(|error| format!("{error}"))?;
    let (tanks, events) = ([Held::default(); 3], Vec::new());
    let mut life = Life {
        yard,
        draws,
        tanks,
        alike,
        events,
        start,
        loading_total: gal(5000.0),
        water_total: 0.0,
        habits,
        read,
        truth: Vec::new(),
    };
    for tank in 0..3 {
        let volume_m3 = 0.6 * in_cubic_metres(yard.tanks[tank].working_capacity());
        let mass = volume_m3 * density(0.232);
        life.tanks[tank] = Held { mass, salt: 0.232 * mass };
        let counted = Settlement {
            tank: Some(yard.tanks[tank].id.clone()),
            volume_m3: Some(volume_m3),
            strength_pct: Some(23.2),
            salt_kg: None,
            reason: "opening".into(),
        };
        life.add(-1.0, Body::Settlement(counted));
    }
    let (meter_off, marks) = match wrong {
        Wrong::Meter(off) => (off, None),
        Wrong::Marks(truck, off) => (0.0, Some((truck, off))),
        _ => (0.0, None),
    };
    for day in 0..DAYS {
        let at = 24.0 * day as f64;
        if day % habits.0 == 0 {
            life.dips(at);
        }
        if day % 3 == 0 {
            life.readings(at + 0.5);
        }
        if day % 7 == 0 && habits.1 {
            life.meters(at + 0.7);
        }
        if day % 30 == 29 {
            life.settle(at + 0.8);
        }
        life.note(at + 0.9);
        for tank in 0..3 {
            let is_low = life.room(tank) > 0.45 * in_cubic_metres(yard.tanks[tank].working_capacity());
            if is_low || life.draws.share() < 0.15 {
                life.make(at + 1.0 + tank as f64, tank);
            }
        }
        if day % 5 == 2 || life.draws.share() < 0.1 {
            for place in 0..8 {
                let truck = place % 4;
                let off = marks.filter(|(of, _)| *of == truck).map_or(0.0, |(_, off)| off);
                life.load(at + 6.0 + f64::from(place as u8), truck, meter_off, off);
            }
        }
        match wrong {
            Wrong::Leak(tank, daily, from) if from <= day => {
                life.tanks[tank].draw(daily);
            }
            Wrong::WaterIn(tank, daily, from) if from <= day => {
                life.tanks[tank].put(Held { mass: 999.0 * daily, salt: 0.0 });
            }
            Wrong::NoTicket(tank, volume, on) if on == day => {
                life.tanks[tank].draw(volume);
                life.loading_total += volume / (1.0 + life.alike.meter);
            }
            _ => {}
        }
        life.note(at + 23.0);
    }
    life.dips(24.0 * DAYS as f64);
    if habits.1 {
        life.meters(24.0 * DAYS as f64 + 0.7);
    }
    life.events.sort_by_key(|recorded| recorded.event.occurred_at);
    for (place, recorded) in life.events.iter_mut().enumerate() {
        recorded.seq = place as u64 + 1;
    }
    Ok(Lived { events: life.events, truth: life.truth })
}

/// Whether a cause is what was wrong: the same kind, at the same tank or truck, and for a load at that time.
fn is_named(cause: &Cause, wrong: Wrong, yard: &Yard, start: Timestamp) -> bool {
    let tank = |place: usize| yard.tanks[place].id.as_str();
    match (cause, wrong) {
        (Cause::Leak { tank: named, .. }, Wrong::Leak(of, ..))
        | (Cause::WaterIn { tank: named, .. }, Wrong::WaterIn(of, ..)) => named == tank(of),
        (Cause::LoadingMeter, Wrong::Meter(_)) => true,
        (Cause::TruckMarks(named), Wrong::Marks(of, _)) => *named == yard.trucks[of].id,
        (Cause::NotEntered { tank: named, from, until, .. }, Wrong::NoTicket(of, _, day)) => {
            let at = start + SignedDuration::from_hours(24 * day as i64 + 20);
            named == tank(of) && *from <= at && at <= *until
        }
        _ => false,
    }
}

/// What became of one season.
struct Case {
    wrong: Wrong,
    noticed: bool,
    /// Place of what was wrong among those named, from 0.
    rank: Option<usize>,
    seconds: f64,
}

fn case(yard: &Yard, seed: u64) -> Result<Case, String> {
    let (events, wrong) = season(yard, seed)?;
    let begun = Instant::now();
    let journal = Journal::new(yard, &events);
    let Period { from, until } = journal.whole();
    let found =
        reconcile(&journal, Period { from, until }).map_err(|error| format!("season {seed}: {error}"))?;
    let seconds = begun.elapsed().as_secs_f64();
    let start = from + SignedDuration::from_hours(1);
    let rank = found.suspects.iter().position(|suspect| is_named(&suspect.cause, wrong, yard, start));
    Ok(Case { wrong, noticed: !found.closes(), rank, seconds })
}

/// The section of VALIDATION.md, a line for the exam, and whether what is promised holds.
pub struct Reconciled {
    /// Markdown.
    pub section: String,
    /// One line.
    pub line: String,
    /// Whether it holds.
    pub holds: bool,
}

/// First line of the section.
pub const HEADING: &str = "## Telling why a season's books do not close";

/// Draws the seasons held out and judges them.
///
/// # Errors
/// A season that cannot be reconciled.
pub fn reconciled() -> Result<Reconciled, String> {
    let text = include_str!("../../../examples/alder_fork.toml");
    let yard =
        site::yard_file::read_yard(text, "alder_fork.toml").map_err(|problems| format!("{problems:?}"))?;
    let cases = HELD_OUT.map(|seed| case(&yard, seed)).collect::<Result<Vec<_>, _>>()?;
    let of = |name: &str| cases.iter().filter(|case| case.wrong.name() == name).collect::<Vec<_>>();
    let clean = of("nothing");
    let false_alarms = clean.iter().filter(|case| case.noticed).count();
    let mut section = format!(
        "\n{HEADING}\n\n\
         {} seasons of {DAYS} days (`xtask/src/simulated/seasons.rs`): three tanks, four trucks of which\n\
         two go by the marks on their tanks, about 250 loads. By the season, tanks are dipped daily, every\n\
         second or every third day (5 mm); the meters are read every week or not at all; none, one in twenty\n\
         or one in seven of the metered loads is weighed. Meters and run volumes are off by 1 % alike,\n\
         strapping tables by 0.5 %, marks by 2 % (one standard deviation, drawn anew for each season), before\n\
         anything is planted. Planted: a leak or water of 8 to 60 gal a day from some day on; the loading meter\n\
         off by 3 to 10 %; a truck's marks off by 8 to 25 %; one load of 150 to 900 gal without a ticket.\n\
         *Named*: the right kind at the right tank or truck, a load also at the right time. Intervals are 95 %\n\
         (Wilson). Seeds 0 to 199 were looked at while the test was made; these are held out.\n\n\
         False alarms: {false_alarms} in {} clean seasons ({}).\n\n\
         | What is wrong | Seasons | Noticed | First named | Among those named |\n\
         | --- | ---: | ---: | ---: | ---: |\n",
        cases.len(),
        clean.len(),
        range(false_alarms, clean.len()),
    );
    let mut row = |name: &str, some: &[&Case]| {
        let count = |is: &dyn Fn(&Case) -> bool| some.iter().filter(|case| is(case)).count();
        let noticed = count(&|case| case.noticed);
        let (first, named) = (count(&|case| case.rank == Some(0)), count(&|case| case.rank.is_some()));
        let cell = |part: usize| format!("{:.0} % ({})", share(part, some.len()), range(part, some.len()));
        let _ = writeln!(
            section,
            "| {name} | {} | {} | {} | {} |",
            some.len(),
            cell(noticed),
            cell(first),
            cell(named)
        );
        (noticed, first)
    };
    let planted: Vec<&Case> = cases.iter().filter(|case| case.wrong != Wrong::Nothing).collect();
    let (noticed, first) = row("anything", &planted);
    for name in [
        "tank leaks",
        "water gets into a tank",
        "loading meter off",
        "marks of a truck off",
        "load without a ticket",
    ] {
        row(name, &of(name));
    }
    let slowest = cases.iter().map(|case| case.seconds).fold(0.0, f64::max);
    let holds = false_alarms * 20 <= clean.len()
        && share(noticed, planted.len()) >= 85.0
        && share(first, planted.len()) >= 75.0;
    let line = format!(
        "noticed {:.0} %, first named {:.0} % of {}, {false_alarms} false in {} clean seasons; slowest {:.0} ms",
        share(noticed, planted.len()),
        share(first, planted.len()),
        planted.len(),
        clean.len(),
        1000.0 * slowest
    );
    Ok(Reconciled { section, line, holds })
}

fn share(part: usize, all: usize) -> f64 {
    100.0 * part as f64 / all.max(1) as f64
}

fn range(part: usize, all: usize) -> String {
    let (low, high) = super::wilson(part, all);
    format!("{low:.0}…{high:.0} %")
}

/// A few seasons, for trying thresholds: not held out.
///
/// # Errors
/// As [`reconciled`].
pub fn tried(seeds: std::ops::Range<u64>) -> Result<String, String> {
    let text = include_str!("../../../examples/alder_fork.toml");
    let yard =
        site::yard_file::read_yard(text, "alder_fork.toml").map_err(|problems| format!("{problems:?}"))?;
    let mut told = String::new();
    for seed in seeds {
        let (events, _) = season(&yard, seed)?;
        let journal = Journal::new(&yard, &events);
        let found = reconcile(&journal, journal.whole()).map_err(|error| error.to_string())?;
        let case = case(&yard, seed)?;
        let named: Vec<String> = found
            .suspects
            .iter()
            .map(|s| {
                format!("{:?} {:.3}±{:.3} T{:.0} s{:.0}", s.cause, s.size, s.interval, s.statistic, s.score)
            })
            .collect();
        let _ = writeln!(
            told,
            "{seed} {:?} rank {:?} n {} p {:.3} {:.2}s: {}",
            case.wrong,
            case.rank,
            found.balances,
            found.chance,
            case.seconds,
            named.join(" | ")
        );
    }
    Ok(told)
}

#[cfg(test)]
mod tests {
    /// Ten seasons that are not held out, one of each kind and three clean: named, and no false alarm.
    #[test]
    fn ten_seasons() {
        let told = super::tried(20..30).unwrap_or_else(|error| panic!("{error}"));
        for line in told.lines() {
            let is_clean = line.contains(" Nothing ");
            let is_right = if is_clean { line.ends_with("s: ") } else { line.contains("rank Some(0)") };
            assert!(is_right, "{line}");
        }
    }
}
