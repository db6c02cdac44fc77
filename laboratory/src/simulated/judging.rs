//! Whether a run that goes wrong is noticed in time, and what is behind it named, on plants and faults drawn by chance.
//!
//! Each run has a *twin*: the same plant with the same noise and no fault. A fault is *felt* when a sensor of the plant
//! should show something else than the twin's by more than a right model is coarse in; *harm* is what the twin does not
//! come to. A fault that is never felt within the run is no case.

use std::fmt::Write;
use std::sync::Arc;

use plant::fault::{Fault, Onset};
use plant::judge::{Cause, Judge, Seen, allowance};
use plant::layouts;
use plant::model::{Factors, Plant, Start};
use plant::properties::Properties;
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};

use super::wilson;

/// Seeds held out. Tuned on 0 to 299; 100,000 to 100,999 were held out first (79 % among the first two, no false alarm
/// in 198 clean runs), and seen before a circulation meter was added to two layouts, sizes of faults to what is tried,
/// and the threshold lowered from 3.0.
const HELD_OUT: std::ops::Range<u64> = 200_000..201_000;
/// One run in so many has no fault.
const CLEAN_IN: u64 = 5;
/// Standard deviations outside of which a run is called wrong.
const THRESHOLD: f64 = plant::judge::USUAL_THRESHOLD;
/// Length of a run, and of a look, s.
const RUN_SECONDS: f64 = 10_800.0;
const LOOK_SECONDS: f64 = 30.0;
/// Looks after the first alarm at which the causes are read: the operator has walked over by then.
const READ_AFTER: usize = 10;
/// Harm (judgements): a pump dry for so long, s; run over a brim, kg; let out outside of the band by this much, per
/// cent, and so much of it, kg; let out less than the twin, kg.
const DRY_SECONDS: f64 = 600.0;
const SPILT_KG: f64 = 20.0;
const OUT_OF_BAND: (f64, f64) = (0.3, 200.0);
const BEHIND_KG: f64 = 1000.0;

/// What became of one run.
struct Case {
    layout: usize,
    unlike: bool,
    kind: &'static str,
    /// Onset, felt, harm, first alarm, s; the last two where they came.
    onset: f64,
    felt: Option<f64>,
    harm: Option<f64>,
    alarm: Option<f64>,
    /// Place of the true cause among those named, from 0.
    rank: Option<usize>,
    slowest_look: f64,
}

fn between(random: &mut StdRng, low: f64, high: f64) -> f64 {
    low + (high - low) * random.random::<f64>()
}

/// A factor on a parameter: near one for a plant like its model, 30 % off for one that is not.
fn factor(random: &mut StdRng, unlike: bool) -> f64 {
    match (unlike, random.random::<f64>() < 0.5) {
        (true, true) => 1.3,
        (true, false) => 1.0 / 1.3,
        (false, _) => (0.16 * (random.random::<f64>() + random.random::<f64>() - 1.0)).exp(),
    }
}

/// A fault that fits a layout, by chance: its name, and what it is.
fn drawn(random: &mut StdRng, layout: usize) -> (&'static str, Fault) {
    let is_upflow = layout == 2;
    let either = |random: &mut StdRng, one: (f64, f64), other: (f64, f64)| {
        let (low, high) = if random.random::<f64>() < 0.5 { one } else { other };
        between(random, low, high)
    };
    loop {
        return match between(random, 0.0, 14.0) as usize {
            0 if !is_upflow => {
                ("unprimed", Fault::Unprimed { line: 1 + usize::from(random.random::<f64>() < 0.5) })
            }
            1 => ("bridging", Fault::Bridging { feeder: 0 }),
            2 => ("salt out", Fault::SaltOut { store: 0 }),
            3 => ("too open", Fault::TooOpen { feeder: 0, factor: between(random, 1.3, 1.9) }),
            4 => ("too closed", Fault::TooClosed { feeder: 0, share: between(random, 0.2, 0.6) }),
            5 if !is_upflow => ("sludge full", Fault::SludgeFull { vessel: 0 }),
            6 => ("channelled", Fault::Channelled { vessel: 0, share: between(random, 0.1, 0.4) }),
            7 => ("cold supply", Fault::ColdSupply { colder: between(random, 4.0, 7.0) }),
            8 => ("weak supply", Fault::WeakSupply { share: between(random, 0.2, 0.6) }),
            9 => ("stuck valve", Fault::Stuck { line: 0, at: either(random, (0.0, 0.0), (0.5, 1.0)) }),
            10 => ("leaking fill", Fault::LeakingFill { vessel: 0, flow: between(random, 2e-4, 8e-4) }),
            11 if random.random::<f64>() < 0.4 => ("uncovered cell", Fault::UncoveredCell { sensor: 0 }),
            11 => ("fouled cell", Fault::FouledCell { sensor: 0, share: between(random, 0.75, 0.96) }),
            12 => ("drifted trim", Fault::DriftedTrim { factor: either(random, (1.02, 1.05), (0.95, 0.98)) }),
            13 => (
                "meter drift",
                Fault::MeterDrift { sensor: 3, factor: either(random, (0.8, 0.93), (1.07, 1.2)) },
            ),
            _ => continue,
        };
    }
}

/// What has been let out of the band so far, kg, and what was let out when last looked.
#[derive(Default)]
struct LetOut {
    wrong: f64,
    before: (f64, f64),
}

impl LetOut {
    fn look(&mut self, plant: &Plant) {
        let made = plant.made();
        let (salt, all) = (made.salt - self.before.0, made.salt + made.water - self.before.1);
        self.before = (made.salt, made.salt + made.water);
        let control = &plant.layout().control;
        let off = if all > 1e-6 { 100.0 * (salt / all - control.target.fraction()).abs() } else { 0.0 };
        if 100.0 * control.band + OUT_OF_BAND.0 < off {
            self.wrong += all;
        }
    }
}

fn run(properties: &Arc<Properties>, seed: u64) -> Result<Case, String> {
    let say = |error: plant::Error| error.to_string();
    let mut random = StdRng::seed_from_u64(seed);
    let which = (seed % 3) as usize;
    let unlike = (seed / 3) % 2 == 1;
    let layout = layouts::all()[which].clone();
    let mut start = Start::empty(&layout, 20_000.0);
    start.in_vessels_kg[0] = if which == 2 { 6000.0 } else { 0.0 };
    start.seed = seed;
    let mut twin = Plant::new(layout.clone(), Arc::clone(properties), &start).map_err(say)?;
    let mut judge = Judge::new(&twin, seed ^ 0x5a5a, THRESHOLD);
    twin.tune(Factors {
        reached: factor(&mut random, unlike),
        feed: factor(&mut random, unlike),
        water: factor(&mut random, unlike),
    });
    let mut plant = twin.clone();
    let is_clean = (seed / 6).is_multiple_of(CLEAN_IN);
    let at = 60.0 * between(&mut random, 20.0, 100.0);
    let (kind, fault) = drawn(&mut random, which);
    let cause = Cause::of(&fault);
    if !is_clean {
        plant.begin(Onset { seconds: at, fault });
    }
    let mut case = Case {
        layout: which,
        unlike,
        kind: if is_clean { "none" } else { kind },
        onset: at,
        felt: None,
        harm: None,
        alarm: None,
        rank: None,
        slowest_look: 0.0,
    };
    let (mut out, mut twin_out) = (LetOut::default(), LetOut::default());
    let (mut looks_after, mut is_watching) = (0, true);
    while plant.seconds() < RUN_SECONDS - 1.0 {
        plant.advance(LOOK_SECONDS).map_err(say)?;
        twin.advance(LOOK_SECONDS).map_err(say)?;
        let now = plant.seconds();
        out.look(&plant);
        twin_out.look(&twin);
        if !is_clean {
            let pairs = plant.expects().into_iter().zip(twin.expects());
            let differs = pairs
                .enumerate()
                .any(|(sensor, (one, other))| allowance(&layout, sensor, other) < (one - other).abs());
            if differs {
                case.felt.get_or_insert(now);
            }
            let all = |plant: &Plant| plant.made().salt + plant.made().water;
            let spilt = |plant: &Plant| plant.spilt().salt + plant.spilt().water;
            let dry = (0..layout.lines.len())
                .any(|line| DRY_SECONDS <= plant.dry_seconds(line) - twin.dry_seconds(line));
            if dry
                || SPILT_KG < spilt(&plant) - spilt(&twin)
                || OUT_OF_BAND.1 < out.wrong - twin_out.wrong
                || BEHIND_KG < all(&twin) - all(&plant)
            {
                case.harm.get_or_insert(now);
            }
        }
        if !is_watching {
            continue;
        }
        // The twin is looked at as well, so that both go on with the same noise.
        let _ = twin.sensors();
        let seen = Seen { commands: plant.commands().clone(), earlier: None, shown: plant.sensors() };
        let begun = std::time::Instant::now();
        let verdict = judge.look(&seen).map_err(say)?;
        case.slowest_look = case.slowest_look.max(begun.elapsed().as_secs_f64());
        if verdict.causes.is_empty() {
            continue;
        }
        case.alarm.get_or_insert(now);
        looks_after += 1;
        let named: Vec<&Cause> = verdict
            .causes
            .iter()
            .map(|(cause, _)| cause)
            .filter(|cause| **cause != Cause::Otherwise)
            .collect();
        case.rank = named.iter().position(|one| Some(*one) == cause.as_ref());
        let is_early = is_clean || now < at;
        is_watching = !is_early && looks_after < READ_AFTER;
    }
    Ok(case)
}

/// All held-out runs, on every core.
fn cases() -> Result<Vec<Case>, String> {
    let properties = Arc::new(Properties::new().map_err(|error| error.to_string())?);
    let workers = std::thread::available_parallelism().map_or(1, std::num::NonZero::get) as u64;
    let mut all: Vec<(u64, Case)> = std::thread::scope(|scope| {
        let handles: Vec<_> = (0..workers)
            .map(|worker| {
                let properties = &properties;
                scope.spawn(move || {
                    let mine = HELD_OUT.filter(move |seed| seed % workers == worker);
                    mine.map(|seed| run(properties, seed).map(|case| (seed, case)))
                        .collect::<Result<Vec<_>, _>>()
                })
            })
            .collect();
        let joined =
            handles.into_iter().map(|handle| handle.join().map_err(|_| "a run broke off".to_string())?);
        joined
            .collect::<Result<Vec<_>, String>>()
            .map(|parts| parts.into_iter().flatten().collect::<Vec<_>>())
    })?;
    all.sort_by_key(|(seed, _)| *seed);
    Ok(all.into_iter().map(|(_, case)| case).collect())
}

/// Sums over some cases.
#[derive(Default)]
struct Tally {
    felt: usize,
    noticed: usize,
    first: usize,
    first_two: usize,
    minutes: Vec<f64>,
    shares: Vec<f64>,
}

impl Tally {
    fn of<'a>(cases: impl Iterator<Item = &'a Case>) -> Self {
        let mut tally = Self::default();
        for case in cases {
            let Some(felt) = case.felt else { continue };
            tally.felt += 1;
            let harm = case.harm.unwrap_or(RUN_SECONDS).max(felt + 1.0);
            let noticed = case.alarm.filter(|alarm| case.onset <= *alarm);
            if let Some(alarm) = noticed {
                tally.noticed += 1;
                tally.minutes.push((alarm - felt).max(0.0) / 60.0);
            }
            tally.shares.push(noticed.map_or(f64::INFINITY, |alarm| (alarm - felt).max(0.0) / (harm - felt)));
            let rank = case.rank.filter(|_| noticed.is_some());
            tally.first += usize::from(rank == Some(0));
            tally.first_two += usize::from(rank.is_some_and(|rank| rank < 2));
        }
        tally.minutes.sort_by(f64::total_cmp);
        tally.shares.sort_by(f64::total_cmp);
        tally
    }
}

fn median(sorted: &[f64]) -> f64 {
    sorted.get(sorted.len() / 2).copied().unwrap_or(f64::NAN)
}

fn share(part: usize, all: usize) -> f64 {
    100.0 * part as f64 / all.max(1) as f64
}

/// What is asked of the judge, and what it does.
pub struct Judged {
    /// The section of VALIDATION.md.
    pub section: String,
    /// Whether all that is asked holds, in a line.
    pub line: String,
    /// Whether it does.
    pub holds: bool,
}

/// The heading of the section, by which it is found in VALIDATION.md.
pub const HEADING: &str = "## Telling what is wrong with a run";

/// Runs all and tells.
pub fn judged() -> Result<Judged, String> {
    let cases = cases()?;
    let clean: Vec<&Case> = cases.iter().filter(|case| case.kind == "none").collect();
    let false_alarms = clean.iter().filter(|case| case.alarm.is_some()).count();
    let faulty = || cases.iter().filter(|case| case.kind != "none");
    let early = faulty().filter(|case| case.alarm.is_some_and(|alarm| alarm < case.onset)).count();
    let mut text = format!(
        "\n{HEADING}\n\n\
         {} runs of three hours on the three layouts (`laboratory/src/simulated/judging.rs`), \
         every other plant 30 % off its\n\
         model in how fast it dissolves, feeds and fills, up or down; one in {CLEAN_IN} without \
         a fault. The judge was tuned on\n\
         seeds 0 to 299; these are held out, after a first held-out thousand had been seen at 79 %. *Felt*: a sensor\n\
         should show something else than the same run without the fault. Causes are read five minutes after the first\n\
         alarm. *Of the time to harm*: from when the fault is felt; harm is a pump dry for ten minutes, 20 kg over a\n\
         brim, 200 kg let out more than 0.3 % outside the band, or a tonne less let out, each against the run without\n\
         the fault (judgements), or the end of the run.\n\n\
         False alarms: {false_alarms} in {} clean runs; {early} in {} others before the fault began.\n\n\
         | Runs | Felt | Noticed | First named | Among the first two | Median, min | Median of the time to harm |\n\
         | --- | ---: | ---: | ---: | ---: | ---: | ---: |\n",
        cases.len(),
        clean.len(),
        faulty().count(),
    );
    let mut row = |name: &str, tally: &Tally| {
        let (low, high) = wilson(tally.first_two, tally.felt);
        let of_harm = median(&tally.shares);
        let of_harm = if of_harm.is_finite() { format!("{of_harm:.2}") } else { "not noticed".into() };
        let _ = writeln!(
            text,
            "| {name} | {} | {:.0} % | {:.0} % | {:.0} % ({low:.0}…{high:.0}) | {:.1} | {of_harm} |",
            tally.felt,
            share(tally.noticed, tally.felt),
            share(tally.first, tally.felt),
            share(tally.first_two, tally.felt),
            median(&tally.minutes),
        );
    };
    let all = Tally::of(faulty());
    row("all", &all);
    row("plants like their model", &Tally::of(faulty().filter(|case| !case.unlike)));
    row("plants 30 % off it", &Tally::of(faulty().filter(|case| case.unlike)));
    for (place, name) in ["batch", "fed", "upflow"].into_iter().enumerate() {
        row(name, &Tally::of(faulty().filter(|case| case.layout == place)));
    }
    let mut kinds: Vec<&str> = faulty().map(|case| case.kind).collect();
    kinds.sort_unstable();
    kinds.dedup();
    for kind in kinds {
        row(kind, &Tally::of(faulty().filter(|case| case.kind == kind)));
    }
    let two = share(all.first_two, all.felt);
    let of_harm = median(&all.shares);
    let holds = 80.0 <= two && false_alarms * 50 <= clean.len() && of_harm < 1.0 / 3.0;
    let slowest = cases.iter().map(|case| case.slowest_look).fold(0.0, f64::max);
    let line = format!(
        "among the first two {two:.0} %, {false_alarms} false in {} clean runs, noticed at {of_harm:.2} of the time to harm; \
         slowest look {:.0} ms",
        clean.len(),
        1000.0 * slowest
    );
    Ok(Judged { section: text, line, holds })
}
