//! Telemetry at length: a season on eight channels, its size and any window of it, opening it after a crash, and what
//! comes in when the practice plant goes six hundred times as fast.
//!
//! With `--check` a figure beyond its bound fails the bench.

#![allow(clippy::print_stdout, reason = "a bench tells its figures on the terminal")]

use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use console::PlantClock;
use console::practice::PracticePlant;
use jiff::Timestamp;
use link::practice::serve_modbus;
use link::{Live, Patience, follow};
use plant::practice::{Exercises, SHIPPED};
use quantity::hours;
use site::points::{At, Form, Machine, Point, PointUnit, Protocol, Table};
use store::telemetry::{Channel, SAVE_EVERY, Sample, Telemetry, TelemetryFile};

const CHANNELS: usize = 8;
const DAYS: i64 = 182;
const BEGIN: i64 = 1_351_000_000_000;
const SPEED: u32 = 600;
const SECONDS: u64 = 12;

struct Figure {
    name: &'static str,
    value: f64,
    unit: &'static str,
    bound: f64,
    /// At most, or at least.
    at_most: bool,
}

fn time(millisecond: i64) -> Timestamp {
    Timestamp::from_millisecond(BEGIN + millisecond).unwrap_or(Timestamp::UNIX_EPOCH)
}

/// Numbers about zero with a spread of one: Knuth's MMIX sequence, twelve added up.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        let mut sum = -6.0;
        for _ in 0..12 {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            sum += (self.0 >> 11) as f64 / (1_u64 << 53) as f64;
        }
        sum
    }
}

/// A season at one sample a second: values as single floats with noise in every digit, times that are late by some
/// milliseconds. Nothing compresses worse than what is really read.
fn season(path: &Path) -> Result<Vec<Figure>, String> {
    let say = |error: store::StoreError| error.to_string();
    let kept = TelemetryFile::open(path).map_err(say)?;
    let channels: Vec<Channel> = (0..CHANNELS)
        .map(|number| kept.channel(&format!("channel {number}")))
        .collect::<Result<_, _>>()
        .map_err(say)?;
    let mut noise = Noise(1);
    for hour in 0..24 * DAYS {
        for (number, channel) in channels.iter().enumerate() {
            let samples: Vec<Sample> = (3600 * hour..3600 * (hour + 1))
                .map(|second| {
                    let value = 20.0 + (second as f64 / 3000.0 + number as f64).sin() + 0.05 * noise.next();
                    let late = (3.0 * noise.next()).abs() as i64;
                    let at = time(1000 * second + late);
                    Sample { channel: *channel, at, value: f64::from(value as f32) }
                })
                .collect();
            kept.take(&samples);
        }
        kept.save().map_err(say)?;
    }
    let bytes = kept.bytes().map_err(say)?;
    let whole = DAYS * 86_400_000;
    let mut worst: f64 = 0.0;
    for span in [600_000, 3_600_000, 43_200_000, 46_800_000, 86_400_000, 691_200_000, 2_592_000_000, whole] {
        for turn in 0..20 {
            let from = (whole - span) * turn / 20;
            let begun = Instant::now();
            let channel = channels[turn as usize % CHANNELS];
            let window = kept.window(channel, time(from), time(from + span), 800).map_err(say)?;
            worst = worst.max(begun.elapsed().as_secs_f64() * 1000.0);
            if window.len() < 100 {
                return Err(format!("a window of {span} ms has {} columns", window.len()));
            }
        }
    }
    // As after a crash: nothing is closed.
    std::mem::forget(kept);
    let copy = path.with_extension("copy");
    std::fs::copy(path, &copy).map_err(|error| error.to_string())?;
    let begun = Instant::now();
    let again = TelemetryFile::open(&copy).map_err(say)?;
    let opened = begun.elapsed().as_secs_f64();
    let last = again.samples(channels[0], time(whole - 5000), time(whole)).map_err(say)?;
    if last.len() < 4 {
        return Err(format!("after the crash the last five seconds hold {} samples", last.len()));
    }
    let megabytes = bytes as f64 / 1e6;
    Ok(vec![
        Figure {
            name: "a season, 8 channels at 1 Hz",
            value: megabytes,
            unit: "MB",
            bound: 1000.0,
            at_most: true,
        },
        Figure { name: "slowest chart window of it", value: worst, unit: "ms", bound: 50.0, at_most: true },
        Figure { name: "opening it after a crash", value: opened, unit: "s", bound: 20.0, at_most: true },
    ])
}

/// The practice plant at its fastest, read over Modbus TCP every second of its own time.
fn at_full_speed() -> Result<Vec<Figure>, String> {
    let all: Exercises = toml_edit::de::from_str(SHIPPED).map_err(|error| error.to_string())?;
    let exercise =
        all.exercises.into_iter().find(|one| one.id == "hanging_salt").ok_or("no such exercise")?;
    let clock = Arc::new(PlantClock::new(Timestamp::now(), SPEED));
    let plant =
        PracticePlant::new(exercise, "bench".into(), Arc::clone(&clock), 1).map_err(|e| e.to_string())?;
    let plant = Arc::new(plant);
    let kept = Arc::new(TelemetryFile::in_memory().map_err(|error| error.to_string())?);
    let channels: Vec<Channel> = (0..CHANNELS)
        .map(|number| kept.channel(&format!("channel {number}")))
        .collect::<Result<_, _>>()
        .map_err(|error| error.to_string())?;
    let taken = Arc::new(AtomicU64::new(0));
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|error| error.to_string())?;
    let passed = runtime.block_on(async {
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.map_err(|e| e.to_string())?;
        let address = listener.local_addr().map_err(|e| e.to_string())?.to_string();
        let served = Arc::clone(&plant);
        let server = tokio::spawn(async move { serve_modbus(listener, served).await.is_ok() });
        let point = |place: u16| Point {
            id: format!("channel {place}"),
            name: String::new(),
            machine: 0,
            at: At::Register { table: Table::Input, number: 2 * place, form: Form::F32, low_first: false },
            scale: 1.0,
            offset: 0.0,
            unit: PointUnit::Plain,
            age_limit: hours(1.0),
            shows: None,
            tank: None,
            road: None,
        };
        let machine = Machine {
            id: "practice".into(),
            name: "practice".into(),
            address,
            protocol: Protocol::Modbus { unit: 1, base: 0 },
            every: hours(1.0 / 3600.0),
        };
        let (keeps, counts, now) = (Arc::clone(&kept), Arc::clone(&taken), Arc::clone(&clock));
        let live = Live::new(
            vec![machine],
            (0..CHANNELS as u16).map(point).collect(),
            Arc::new(move || now.now()),
            Arc::new(move |values| {
                counts.fetch_add(values.len() as u64, Ordering::Relaxed);
                let sample = |(point, at, value): &(usize, Timestamp, f64)| Sample {
                    channel: channels[*point],
                    at: *at,
                    value: *value,
                };
                keeps.take(&values.iter().map(sample).collect::<Vec<_>>());
            }),
        );
        let live = Arc::new(live);
        live.poll_every(0, Duration::from_secs_f64(1.0 / f64::from(SPEED)));
        let following = tokio::spawn(follow(Arc::clone(&live), 0, Patience::default()));
        tokio::time::sleep(Duration::from_millis(500)).await;
        let (begun, from) = (Instant::now(), taken.load(Ordering::Relaxed));
        let saves = Arc::clone(&kept);
        let saver = tokio::spawn(async move {
            loop {
                tokio::time::sleep(SAVE_EVERY).await;
                let saves = Arc::clone(&saves);
                if !matches!(tokio::task::spawn_blocking(move || saves.save()).await, Ok(Ok(()))) {
                    return;
                }
            }
        });
        tokio::time::sleep(Duration::from_secs(SECONDS)).await;
        let (taken, seconds) = (taken.load(Ordering::Relaxed) - from, begun.elapsed().as_secs_f64());
        following.abort();
        saver.abort();
        server.abort();
        Ok::<_, String>((taken, taken as f64 / seconds))
    })?;
    kept.save().map_err(|error| error.to_string())?;
    let mut stored = 0;
    for channel in 0..CHANNELS as u32 {
        let all = kept.samples(Channel(channel), Timestamp::UNIX_EPOCH, Timestamp::MAX);
        stored += all.map_err(|error| error.to_string())?.len() as u64;
    }
    let lost = taken.load(Ordering::Relaxed).saturating_sub(stored);
    let (_, rate) = passed;
    Ok(vec![
        Figure {
            name: "points a second at 600 times",
            value: rate,
            unit: "/s",
            bound: 4700.0,
            at_most: false,
        },
        Figure {
            name: "of them lost on the way to the store",
            value: lost as f64,
            unit: "",
            bound: 0.0,
            at_most: true,
        },
    ])
}

fn main() -> ExitCode {
    let check = std::env::args().any(|arg| arg == "--check");
    let folder = std::env::temp_dir().join(format!("brinewright-season-{}", uuid::Uuid::now_v7()));
    let found = std::fs::create_dir_all(&folder)
        .map_err(|error| error.to_string())
        .and_then(|()| at_full_speed())
        .and_then(|mut found| {
            found.extend(season(&folder.join("telemetry.db"))?);
            Ok(found)
        });
    // It lies in the system's temporary folder: what cannot be removed now will be.
    let _ = std::fs::remove_dir_all(&folder);
    let found = match found {
        Ok(found) => found,
        Err(reason) => {
            println!("the bench could not run: {reason}");
            return ExitCode::FAILURE;
        }
    };
    let mut over = false;
    for one in &found {
        let word = if one.at_most { "at most" } else { "at least" };
        println!("{}  {:.1} {}  ({word} {:.0})", one.name, one.value, one.unit, one.bound);
        over |= if one.at_most { one.bound < one.value } else { one.value < one.bound };
    }
    if check && over { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}
