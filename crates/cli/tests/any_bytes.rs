//! Aim: whatever stands on the command line or in a file that it names, the program says what is wrong and ends with
//! its own exit code, within seconds, and prints no number that is none.
//! Method: command lines that work, one or two of their values replaced; files that work, damaged.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use std::io::Read;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use any_bytes::{cases, damaged, number, text, typed};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use uuid::Uuid;

/// Most times that the program is started, however many cases are asked for.
const MOST_RUNS: u32 = 1500;
/// Longest that one run may take, on a busy machine, unoptimised.
const LONGEST: Duration = Duration::from_secs(60);
/// Longest argument: the system takes no longer one.
const LONGEST_ARGUMENT: usize = 8000;

const YARD: &str = include_str!("../../../examples/alder_fork.toml");
const SCENARIO: &str = "layout = \"batch\"\nhours = 0.2\nwater_c = 6\nair_c = -4\nsalt_kg = 12000\n\
    [[fault]]\nat_min = 5\nkind = \"drifted_trim\"\nmuch = 1.03\n[[dump]]\nat_min = 2\nkg = 700\n";
const PAIRS: &str =
    "time,trim,panel,bench\n0,500,23.3,22.9\n30,495,23.3,23.1\n2026-01-14T05:10:00Z,495,23.3,23.2\n";
const READINGS: &str = "instrument,reading,temp_c\nbrix,26.2,20\nsg_60_60,1.178,15.5\n";
const BRINES: &str = "nacl_wt_pct,temp_c\n23.3,4\n10,-3\n30,40\n";
const TREATED: &str = "at,author,route,treated,salt_lb\n2026-01-14 05:40,Pat,R1,dry,1200\n";
const WEATHER: &str = include_str!("../../weather/tests/data/plain_hourly.csv");
const TANKS: &str = include_str!("../../site/tests/data/tank_volume.csv");

/// Command lines that work. What begins with `~` is a value that may be replaced.
const LINES: &[&[&str]] = &[
    &[
        "correct",
        "--volume-gal",
        "~5000",
        "--strength-pct",
        "~25",
        "--target-pct",
        "~23.3",
        "--with",
        "~water",
    ],
    &[
        "correct",
        "--volume-l",
        "~5000",
        "--strength-pct",
        "~21",
        "--target-pct",
        "~23.3",
        "--with",
        "~salt",
        "--json",
    ],
    &["properties", "--strength-pct", "~23.3", "--temp-f", "~40"],
    &["properties", "--cacl2-pct", "~32", "--temp-c", "~0", "--json"],
    &["measure", "--instrument", "~brix", "--reading", "~26.2", "--temp-f", "~60"],
    &["measure", "--instrument", "~sg_60_60", "--reading", "~1.1855", "--temp-c", "~0", "--budget"],
    &["trim", "--csv", "pairs.csv", "--lag-min", "~8"],
    &[
        "blend",
        "--lot",
        "~nacl=23.3,usd_gal=0.12",
        "--lot",
        "~mgcl2=30,usd_gal=1.05,gal=300",
        "--lot",
        "~water",
        "--ice-f",
        "~-10",
        "--clear-f",
        "~0",
        "--volume-gal",
        "~1000",
    ],
    &["phase-diagram", "--salts", "~nacl=90,mgcl2=10", "--points", "~5"],
    &["phase-diagram", "--liquid", "~nacl=23.3", "--liquid", "~mgcl2=30", "--points", "~4"],
    &["simulate", "scenario.toml", "--summary"],
    &["strap", "--csv", "tanks.csv"],
    &["measure", "--csv", "readings.csv"],
    &["properties", "--csv", "brines.csv"],
    &["weather", "weather.csv", "--from", "~2026-01-14T06:00Z", "--to", "~2026-01-15T06:00Z"],
    &["plan", "--forecast", "weather.csv", "--issued", "~2026-01-14T06:00:00Z", "--hours", "~6"],
    &["ledger", "add", "--author", "~Pat", "--at", "~2026-01-14T06:00Z", "~dip", "~tank=1", "~depth_ft=6.5"],
    &[
        "ledger",
        "add",
        "--author",
        "~Pat",
        "--confirm",
        "making_run",
        "~tank=1",
        "~volume_gal=2000",
        "~strength_pct=23.3",
    ],
    &["ledger", "import", "~application", "treated.csv", "--author", "~Lou", "--confirm"],
    &["ledger", "list", "--tank", "~1", "--limit", "~20"],
    &["ledger", "void", "~1", "--author", "~Pat", "--reason", "~wrong tank", "--confirm"],
    &["ledger", "verify", "--expect", "~1:0000000000000000000000000000000000000000000000000000000000000000"],
    &["ledger", "balance"],
    &["report", "~season", "--from", "~2026-01-01", "--until", "~2026-02-01", "--now", "~2026-02-01T00:00Z"],
    &[
        "calibrate",
        "sprayer",
        "--truck",
        "~T1",
        "--caught-floz",
        "~64 63 66 64",
        "--seconds",
        "~15",
        "--psi",
        "~40",
    ],
    &["doctor", "yard.toml"],
];
const FILES: [(&str, &str); 8] = [
    ("yard.toml", YARD),
    ("scenario.toml", SCENARIO),
    ("pairs.csv", PAIRS),
    ("readings.csv", READINGS),
    ("brines.csv", BRINES),
    ("treated.csv", TREATED),
    ("weather.csv", WEATHER),
    ("tanks.csv", TANKS),
];

/// Verbs that print what they work out, and no text of a file or a ledger.
const WORKED_OUT: [&str; 6] = ["correct", "properties", "measure", "blend", "phase-diagram", "simulate"];

struct Folder(PathBuf);

impl Folder {
    fn new() -> Self {
        let path = std::env::temp_dir().join(format!("brinewright-any-{}", Uuid::now_v7()));
        std::fs::create_dir_all(&path).unwrap();
        let folder = Self(path);
        folder.put_all();
        folder
    }

    fn put_all(&self) {
        for (name, text) in FILES {
            std::fs::write(self.0.join(name), text).unwrap();
        }
    }

    /// Runs the program; its exit code and what it wrote. None where the system itself will not start it so.
    fn run(&self, arguments: &[String]) -> Option<(Option<i32>, String, String)> {
        let mut command = Command::new(env!("CARGO_BIN_EXE_brinewright"));
        command.current_dir(&self.0).args(arguments).env("RUST_BACKTRACE", "0");
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().ok()?;
        let read = |source: Option<Box<dyn Read + Send>>| {
            std::thread::spawn(move || {
                let mut bytes = Vec::new();
                let _ = source.map(|mut source| source.read_to_end(&mut bytes));
                String::from_utf8_lossy(&bytes).into_owned()
            })
        };
        let out = read(child.stdout.take().map(|one| Box::new(one) as Box<dyn Read + Send>));
        let error = read(child.stderr.take().map(|one| Box::new(one) as Box<dyn Read + Send>));
        let begun = Instant::now();
        let status = loop {
            if let Some(status) = child.try_wait().unwrap() {
                break status;
            }
            if LONGEST < begun.elapsed() {
                child.kill().unwrap();
                child.wait().unwrap();
                panic!("does not end: {arguments:?}");
            }
            std::thread::sleep(Duration::from_millis(2));
        };
        Some((status.code(), out.join().unwrap(), error.join().unwrap()))
    }

    fn is_answered(&self, arguments: &[String]) -> Result<(), TestCaseError> {
        let Some((code, out, error)) = self.run(arguments) else { return Ok(()) };
        let what = || format!("{arguments:?}: {code:?} {}", error.chars().take(2000).collect::<String>());
        prop_assert!(code.is_some_and(|code| [0, 1, 2, 3, 4].contains(&code)), "{}", what());
        prop_assert!(!error.contains("panicked"), "{}", what());
        prop_assert!(code == Some(0) || code == Some(1) || !error.is_empty(), "{}", what());
        // What was typed, into the ledger too, is told again; what is worked out is a number.
        let is_typed = |word: &str| arguments.iter().any(|argument| argument.contains(word));
        let is_number = |text: &str| {
            let mut words = text.split(|c: char| !c.is_alphanumeric());
            !words.any(|word| ["NaN", "inf"].contains(&word) && !is_typed(word))
        };
        let is_worked_out = arguments.first().is_some_and(|verb| WORKED_OUT.contains(&verb.as_str()))
            && !arguments.iter().any(|argument| argument == "--csv");
        prop_assert!(!is_worked_out || is_number(&out), "{} prints {out}", what());
        Ok(())
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn plain(line: &[&str]) -> Vec<String> {
    line.iter().map(|word| word.strip_prefix('~').unwrap_or(word).to_owned()).collect()
}

/// A command line with some of its values replaced.
fn replaced() -> impl Strategy<Value = Vec<String>> {
    let line = prop::sample::select(LINES)
        .prop_filter("has a value", |line| line.iter().any(|word| word.starts_with('~')));
    let value = prop_oneof![3 => typed(), 2 => number(), 1 => text()];
    (line, prop::collection::vec((any::<u8>(), value, any::<bool>()), 1..3)).prop_map(|(line, changes)| {
        let places: Vec<usize> = (0..line.len()).filter(|place| line[*place].starts_with('~')).collect();
        let mut words = plain(line);
        for (place, value, keeps_name) in changes {
            let place = places[usize::from(place) % places.len()];
            let word = &mut words[place];
            let named = word.split_once('=').map(|(name, _)| name.to_owned());
            *word = match named {
                Some(name) if keeps_name => format!("{name}={value}"),
                _ => value,
            };
            *word = word.replace('\0', "").chars().take(LONGEST_ARGUMENT).collect();
        }
        words
    })
}

fn runner(few: u32) -> TestRunner {
    let config = cases(few);
    TestRunner::new(Config { cases: config.cases.min(MOST_RUNS), max_shrink_iters: 48, ..config })
}

#[test]
fn the_lines_work_as_they_stand() {
    let folder = Folder::new();
    for line in LINES {
        let line = plain(line);
        let (code, _, error) = folder.run(&line).unwrap();
        // What falls short, is out of spec or is not so is a no, and no fault.
        assert!(code == Some(0) || code == Some(1), "{line:?}: {code:?} {error}");
    }
}

#[test]
fn any_value_on_the_command_line_is_answered() {
    let folder = Folder::new();
    runner(60).run(&replaced(), |line| folder.is_answered(&line)).unwrap();
}

#[test]
fn damaged_files_are_answered() {
    let folder = Folder::new();
    let of_file = |name: &'static str, sample: &'static str| {
        let readers: Vec<Vec<String>> = match name {
            "yard.toml" => vec![plain(&["doctor", "yard.toml"])],
            _ => LINES.iter().filter(|line| line.contains(&name)).map(|line| plain(line)).collect(),
        };
        (Just(name), damaged(&[sample.as_bytes()]), prop::sample::select(readers))
    };
    let all = prop::sample::select(&FILES[..]).prop_flat_map(move |(name, sample)| of_file(name, sample));
    let tried = |(name, bytes, line): (&str, Vec<u8>, Vec<String>)| {
        folder.put_all();
        std::fs::write(folder.0.join(name), &bytes).unwrap();
        folder.is_answered(&line)
    };
    runner(40).run(&all, tried).unwrap();
}
