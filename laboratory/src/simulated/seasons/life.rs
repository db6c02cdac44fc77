//! A season lived through: what is truly in the tanks, and what its people would have written of it.

use chemistry::{Brine, MassFraction};
use event::{
    Body, Dip, Event, EventId, HowFound, LoadOut, MakingRun, MeterReading, Reading, Recorded, ReturnToTank,
    Settlement,
};
use jiff::{SignedDuration, Timestamp};
use quantity::{celsius, cubic_metres, gallons, in_cubic_metres, in_kg_per_m3, in_metres};
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use site::Yard;
use uuid::Uuid;

/// Days of a season.
pub(crate) const DAYS: usize = 120;

/// Temperature in the tanks, °C.
const COLD_C: f64 = 4.0;

/// What is wrong in a season.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Wrong {
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
    pub(crate) fn name(self) -> &'static str {
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
pub(crate) struct Held {
    pub(crate) mass: f64,
    pub(crate) salt: f64,
}

impl Held {
    pub(crate) fn strength(self) -> f64 {
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
pub(crate) struct Lived {
    pub(crate) events: Vec<Recorded>,
    /// Twice a day: what is truly in the three tanks.
    pub(crate) truth: Vec<(Timestamp, [Held; 3])>,
}

/// A season's ledger with what is wrong in it.
pub(crate) fn season(yard: &Yard, seed: u64) -> Result<(Vec<Recorded>, Wrong), String> {
    let mut draws = Draws(StdRng::seed_from_u64(seed));
    let wrong = wrong(&mut draws, seed);
    Ok((live(yard, draws, wrong, (0.0, 0.0012, None))?.events, wrong))
}

/// A season in which nothing is wrong beyond what yards live with; its readings share a part of what they are off by,
/// and state their interval.
pub(crate) fn clean(yard: &Yard, seed: u64) -> Result<Lived, String> {
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
