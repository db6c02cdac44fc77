//! What a person waits for, against its budget. `cargo bench -p cli --bench budgets`; with `-- --check` it fails at
//! twice a budget on a quiet machine. See README.md beside this file.

use std::hint::black_box;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Instant;

use accounts::Journal;
use accounts::reconcile::reconcile;
use brinewright::demo::{self, Spell};
use chemistry::{Brine, MassFraction, Salt};
use event::{Application, Body, Dip, Event, EventId, LoadOut, MakingRun, Reading, Recorded, ReturnToTank};
use jiff::Timestamp;
use planner::PlanRequest;
use plant::fault::{Fault, Onset};
use plant::judge::{Judge, Seen, USUAL_THRESHOLD};
use plant::layouts;
use plant::model::{Plant, Start};
use plant::properties::Properties;
use report::Teller;
use report::chart::{PhaseDiagram, Size, in_its_ratio, phase_diagram};
use report::{Display, Language, Words};
use road::RateTable;
use site::Yard;
use store::{Ledger, SqliteLedger, Verification};
use uuid::Uuid;
use yard::stock::Books;

/// Events in the long ledger: ten seasons of a large yard.
const EVENTS: u64 = 100_000;
/// Events in a season of a large yard.
const SEASON: u64 = 20_000;
/// Routes of the large yard.
const ROUTES: usize = 40;

struct Measured {
    name: &'static str,
    median_ms: f64,
    budget_ms: f64,
}

fn median_ms(rounds: usize, mut work: impl FnMut()) -> f64 {
    let mut times: Vec<f64> = (0..rounds)
        .map(|_| {
            let begun = Instant::now();
            work();
            begun.elapsed().as_secs_f64() * 1000.0
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[rounds / 2]
}

/// The demo yard with its routes repeated until there are forty.
fn large_yard() -> Option<Yard> {
    let mut yard = demo::yard().ok()?;
    let routes = yard.routes.clone();
    yard.routes = (0..ROUTES)
        .map(|n| {
            let mut route = routes[n % routes.len()].clone();
            route.id = format!("R{n}");
            route
        })
        .collect();
    Some(yard)
}

fn event(n: u64) -> Event {
    let (tank, volume_m3) = (["1", "2"][(n % 2) as usize].to_string(), 3.0 + (n % 7) as f64 * 0.1);
    let body = match n % 3 {
        0 => Body::MakingRun(MakingRun {
            tank,
            volume_m3,
            temp_c: Some(6.0),
            strength_pct: 23.0 + (n % 9) as f64 * 0.1,
            salt_kg: None,
            water_m3: None,
            duration_h: Some(2.0),
            ..MakingRun::default()
        }),
        1 => Body::LoadOut(LoadOut {
            tank,
            truck: "T1".into(),
            route: Some("R1".into()),
            volume_m3,
            temp_c: Some(2.0),
            ..LoadOut::default()
        }),
        _ => Body::Reading(Reading {
            tank: Some(tank),
            strength_pct: 23.2,
            uncertainty_pct: Some(0.3),
            temp_c: Some(5.0),
            instrument: Some("refractometer".into()),
            level: Some(event::SamplePoint::Middle),
            occasion: None,
            shown: None,
            scale: None,
            doubt: None,
            sample: None,
        }),
    };
    Event {
        id: EventId(Uuid::from_u128(u128::from(n) + 1)),
        occurred_at: Timestamp::from_second(1_500_000_000 + n as i64 * 600).unwrap_or(Timestamp::UNIX_EPOCH),
        author: "Pat".into(),
        device: "tablet 2".into(),
        body,
    }
}

fn measure() -> Result<Vec<Measured>, String> {
    let mut found = Vec::new();
    let yard = large_yard().ok_or("the demo yard")?;
    let rates = RateTable::published().map_err(|e| e.to_string())?;
    let (weather, issued) = Spell::February.forecast().map_err(|e| format!("{e:?}"))?;
    let books = Books::opening(&yard);
    let request = PlanRequest {
        yard: &yard,
        books: &books,
        rates: &rates,
        weather: &weather,
        issued,
        hours: 72,
        now: issued,
        seen: None,
    };
    planner::plan(&request).map_err(|e| e.to_string())?;
    let median = median_ms(31, || {
        black_box(planner::plan(black_box(&request)).is_ok());
    });
    found.push(Measured { name: "plan, 40 routes, 72 h, 40 members", median_ms: median, budget_ms: 300.0 });
    let roads = planner::roads_under(&request).map_err(|e| e.to_string())?;
    let roads = Arc::new(roads);
    let on_roads = median_ms(31, || {
        black_box(planner::plan_on(black_box(&request), Arc::clone(&roads)).is_ok());
    });
    found.push(Measured { name: "the same on roads of the hour", median_ms: on_roads, budget_ms: 20.0 });
    found.extend(roads_alone(&weather, issued)?);

    let folder = std::env::temp_dir().join(format!("brinewright-bench-{}", Uuid::now_v7()));
    std::fs::create_dir_all(&folder).map_err(|e| e.to_string())?;
    let ledger = SqliteLedger::open(&folder.join("ledger.db")).map_err(|e| e.to_string())?;
    let events: Vec<Event> = (0..EVENTS).map(event).collect();
    ledger.append(&events, issued).map_err(|e| e.to_string())?;
    let yard = demo::yard().map_err(|e| format!("{e:?}"))?;
    let recorded = ledger.events_after(0).map_err(|e| e.to_string())?;
    let fold = median_ms(9, || {
        black_box(Books::fold(&yard, black_box(&recorded)).last_seq);
    });
    found.push(Measured { name: "fold of 100,000 events in memory", median_ms: fold, budget_ms: 50.0 });
    let whole = median_ms(7, || {
        black_box(ledger.events_after(0).map(|events| Books::fold(&yard, &events).last_seq).unwrap_or(0));
    });
    found.push(Measured {
        name: "fold of a 100,000-event ledger, read included",
        median_ms: whole,
        budget_ms: 200.0,
    });
    let verify = median_ms(5, || {
        black_box(matches!(ledger.verify(), Ok(Verification::Sound(_))));
    });
    found.push(Measured { name: "chain verify of 100,000 events", median_ms: verify, budget_ms: 600.0 });
    found.extend(season(&yard, &folder)?);
    let _ = std::fs::remove_dir_all(&folder);
    found.extend(plants()?);
    found.push(blends()?);
    Ok(found)
}

/// Segments of a large agency, and members.
const SEGMENTS: usize = 3000;
const MEMBERS: u64 = 50;

/// Roads through 72 hours at 10 minutes: one, and all segments of a large agency in all members, on every core.
fn roads_alone(weather: &weather::WeatherFile, issued: Timestamp) -> Result<Vec<Measured>, String> {
    use road::course::given::surfaces;
    let place = road::sky::Place { latitude: 40.7, longitude: -74.2 };
    let grid = weather.hourly(issued, 72, weather::GridOptions::default());
    let story = road::story::Story::of(&grid.hours, 0, place, weather::Pressure::STANDARD).ok_or("no air")?;
    let members: Vec<_> = (0..MEMBERS).map(|number| story.member(1, number, None)).collect();
    let sections: Vec<road::section::Section> =
        (0..SEGMENTS).map(|n| road::section::Section::ASPHALT.shaded((n % 60) as f64 * 0.5)).collect();
    let one = median_ms(101, || {
        let found = surfaces(black_box(&sections[..1]), black_box(&members[..1]));
        black_box(found.len());
    });
    let some = median_ms(3, || {
        black_box(surfaces(black_box(&sections[..SEGMENTS / 10]), black_box(&members)).len());
    });
    let all = median_ms(1, || {
        black_box(surfaces(black_box(&sections), black_box(&members)).len());
    });
    Ok(vec![
        Measured { name: "one road, one member, 72 h", median_ms: one, budget_ms: 1.0 },
        Measured { name: "300 segments, 50 members, 72 h", median_ms: some, budget_ms: 1000.0 },
        Measured { name: "3,000 segments, 50 members, 72 h", median_ms: all, budget_ms: 10_000.0 },
    ])
}

/// Freeze maps of twenty blends of salt brine with a magnesium chloride liquid, each drawn once.
fn blends() -> Result<Measured, String> {
    let part = |percent: f64| MassFraction::from_percent(percent).map_err(|e| e.to_string());
    let mut brines = Vec::new();
    for n in 0..20_u32 {
        let share = 0.02 * f64::from(n + 1);
        let salts = [
            (Salt::SodiumChloride, part(23.3 * (1.0 - share))?),
            (Salt::MagnesiumChloride, part(30.0 * share)?),
        ];
        brines.push(Brine::blend(&salts).map_err(|e| e.to_string())?);
    }
    let words = Words::of(Language::En);
    let display = Display::new(site::UnitSystem::Us, jiff::tz::TimeZone::UTC);
    let median = median_ms(31, || {
        for brine in black_box(&brines) {
            let points = in_its_ratio(brine);
            let drawing = PhaseDiagram {
                id: "bench",
                axis: "",
                points: &points,
                solid_below: &[],
                marks: &[],
                ahead: None,
                says: "",
            };
            black_box(phase_diagram(&drawing, Size::Phone, &display, &words).len());
        }
    });
    Ok(Measured { name: "freeze maps of 20 blends", median_ms: median, budget_ms: 5.0 })
}

/// An event of a large yard's season: loads, returns, treatments, runs, dips, half an hour after another over half a
/// year.
fn of_season(n: u64) -> Event {
    let tank = ["1", "2", "3"][(n / 8 % 3) as usize].to_string();
    let truck = ["T1", "T2", "T3", "T4"][(n / 8 % 4) as usize].to_string();
    let volume_m3 = 2.0 + (n % 7) as f64 * 0.1;
    let body = match n % 8 {
        0 => Body::Dip(Dip { tank, depth_m: 1.2 + (n % 5) as f64 * 0.01, temp_c: Some(3.0) }),
        1 | 4 => Body::MakingRun(MakingRun { tank, volume_m3, strength_pct: 23.2, ..MakingRun::default() }),
        2 | 5 => {
            let route = Some(format!("R{}", 1 + n % 6));
            Body::LoadOut(LoadOut { tank, truck, route, volume_m3, ..LoadOut::default() })
        }
        3 => {
            let volume_m3 = 0.3;
            Body::ReturnToTank(ReturnToTank { tank, truck, volume_m3, ..ReturnToTank::default() })
        }
        6 => Body::Reading(Reading { tank: Some(tank), strength_pct: 23.2, ..Reading::default() }),
        _ => {
            let (route, salt_kg) = (format!("R{}", 1 + n % 6), Some(300.0));
            let truck = Some(truck);
            Body::Application(Application {
                route,
                truck,
                salt_kg,
                volume_m3: Some(1.5),
                ..Application::default()
            })
        }
    };
    Event {
        id: EventId(Uuid::from_u128(u128::from(n) + 1)),
        occurred_at: Timestamp::from_second(1_500_000_000 + n as i64 * 800).unwrap_or(Timestamp::UNIX_EPOCH),
        author: "Pat".into(),
        device: "tablet 2".into(),
        body,
    }
}

/// The books of a large yard's season: its report from the ledger to every table, whether it closes, one lot traced.
fn season(yard: &Yard, folder: &std::path::Path) -> Result<Vec<Measured>, String> {
    let ledger = SqliteLedger::open(&folder.join("season.db")).map_err(|e| e.to_string())?;
    let events: Vec<Event> = (0..SEASON).map(of_season).collect();
    let now = events.last().map_or(Timestamp::UNIX_EPOCH, |event| event.occurred_at);
    ledger.append(&events, now).map_err(|e| e.to_string())?;
    let zone = jiff::tz::TimeZone::get(&yard.time_zone).map_err(|e| e.to_string())?;
    let display = Display::new(yard.units, zone.clone());
    let words = Words::of(Language::En);
    let teller = Teller { words: &words, display: &display, yard };
    let told = median_ms(9, || {
        let recorded = ledger.events_after(0).unwrap_or_default();
        let journal = Journal::new(yard, &recorded);
        let accounts = journal.accounts(journal.whole());
        let flags = entry::ticket::flags(&journal, &zone);
        black_box(teller.account_tables(&accounts, &flags).len());
    });
    let recorded: Vec<Recorded> = ledger.events_after(0).map_err(|e| e.to_string())?;
    let journal = Journal::new(yard, &recorded);
    let closes = median_ms(5, || {
        black_box(reconcile(&journal, journal.whole()).is_ok());
    });
    let load = events.iter().rev().find(|event| matches!(event.body, Body::LoadOut(_))).map(|event| event.id);
    let run = events.iter().find(|event| matches!(event.body, Body::MakingRun(_))).map(|event| event.id);
    let traced = median_ms(9, || {
        black_box(load.and_then(|id| journal.origins_of(id)));
        black_box(run.and_then(|id| journal.whereabouts(id)));
    });
    Ok(vec![
        Measured {
            name: "season report of 20,000 events, read included",
            median_ms: told,
            budget_ms: 1000.0,
        },
        Measured { name: "whether a season of 20,000 events closes", median_ms: closes, budget_ms: 2000.0 },
        Measured { name: "a load and a lot traced in it", median_ms: traced, budget_ms: 200.0 },
    ])
}

/// The plant's model: a day of each layout, and the slowest look of a judge, the one that ranks causes.
fn plants() -> Result<Vec<Measured>, String> {
    let say = |error: plant::Error| error.to_string();
    let properties = Arc::new(Properties::new().map_err(say)?);
    let mut found = Vec::new();
    for (name, layout) in [
        ("a plant's day of 12 h at 10 s, batch", layouts::batch()),
        ("a plant's day of 12 h at 10 s, fed", layouts::fed()),
        ("a plant's day of 12 h at 10 s, upflow", layouts::upflow()),
    ] {
        let mut start = Start::empty(&layout, 60_000.0);
        start.in_vessels_kg[0] = if layout.name == "upflow" { 6000.0 } else { 0.0 };
        let plant = Plant::new(layout, Arc::clone(&properties), &start).map_err(say)?;
        let median = median_ms(9, || {
            let mut plant = plant.clone();
            let mut rows = 0;
            let done = plant.advance_showing(43_200.0, 10.0, &mut |_| rows += 1);
            black_box((done.is_ok(), rows));
        });
        found.push(Measured { name, median_ms: median, budget_ms: 20.0 });
    }
    let mut plant =
        Plant::new(layouts::batch(), properties, &Start::empty(&layouts::batch(), 20_000.0)).map_err(say)?;
    let mut judge = Judge::new(&plant, 1, USUAL_THRESHOLD);
    plant.begin(Onset { seconds: 1500.0, fault: Fault::Bridging { feeder: 0 } });
    let mut slowest = 0.0f64;
    for _ in 0..120 {
        plant.advance(30.0).map_err(say)?;
        let seen = Seen { commands: plant.commands().clone(), earlier: None, shown: plant.sensors() };
        let begun = Instant::now();
        black_box(judge.look(&seen).map_err(say)?);
        slowest = slowest.max(begun.elapsed().as_secs_f64() * 1000.0);
    }
    found.push(Measured {
        name: "slowest look of a judge, causes ranked",
        median_ms: slowest,
        budget_ms: 100.0,
    });
    Ok(found)
}

#[allow(clippy::print_stdout, reason = "a bench tells its figures on the terminal")]
fn main() -> ExitCode {
    let check = std::env::args().any(|arg| arg == "--check");
    let found = match measure() {
        Ok(found) => found,
        Err(reason) => {
            println!("the bench could not run: {reason}");
            return ExitCode::FAILURE;
        }
    };
    for m in &found {
        println!("{}  {:.1} ms  {:.0} ms", m.name, m.median_ms, m.budget_ms);
    }
    let over = found.iter().any(|m| m.median_ms > 2.0 * m.budget_ms);
    if check && over { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}
