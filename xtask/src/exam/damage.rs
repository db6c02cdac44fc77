//! Files damaged behind the program's back: a bit, an end cut off. What is read afterwards is what was written, or the
//! damage is named; and a backup brings everything home.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use event::{Body, Event, EventId, Note};
use jiff::Timestamp;
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use site::people::{Person, Role};
use store::people::{Act, PeopleFile};
use store::telemetry::{Channel, Sample, Telemetry, TelemetryFile};
use store::{Ledger, Row, SqliteLedger, Verification};

use super::board::{Board, Outcome};
use crate::running;
use crate::scratch::Scratch;
use crate::workspace;

const LIMIT: Duration = Duration::from_secs(60);
const ROWS: i64 = 300;
const SEED: u64 = 17;

/// Puts every damage on the board.
pub fn examine(board: &mut Board, quick: bool) {
    let (bits, cuts) = if quick { (100, 40) } else { (1000, 200) };
    let budget = "named, refused or without effect; never other figures, never a panic";
    board.put("one bit of the ledger", budget, ledger("", bits, flip));
    board.put("one bit of its write-ahead log", budget, ledger("-wal", bits, flip));
    board.put("the ledger cut off", budget, ledger("", cuts, cut));
    board.put("its write-ahead log cut off", budget, ledger("-wal", cuts, cut));
    board.put("one bit of the telemetry", budget, telemetry(bits));
    board.put("one bit of the people's file", budget, people(bits));
    board.put("backup, restore, compare", "the same, row by row", backup());
}

fn say(error: impl std::fmt::Display) -> String {
    error.to_string()
}

/// Silent while files are opened that make libraries stumble on purpose.
fn quietly<T>(act: impl FnOnce() -> Result<T, String>) -> Result<T, String> {
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(|_| {}));
    let answer = catch_unwind(AssertUnwindSafe(act));
    std::panic::set_hook(usual);
    answer.unwrap_or_else(|_| Err("it panicked".into()))
}

/// Damages the bytes of a file; answers them, and what was done.
type Damage = fn(Vec<u8>, &mut StdRng) -> (Vec<u8>, String);

fn flip(mut bytes: Vec<u8>, dice: &mut StdRng) -> (Vec<u8>, String) {
    let bit = dice.random_range(0..8 * bytes.len());
    bytes[bit / 8] ^= 1 << (bit % 8);
    (bytes, format!("bit {bit}"))
}

fn cut(mut bytes: Vec<u8>, dice: &mut StdRng) -> (Vec<u8>, String) {
    let length = dice.random_range(0..bytes.len());
    bytes.truncate(length);
    (bytes, format!("cut to {length} bytes"))
}

fn note(number: i64) -> Result<Event, String> {
    Ok(Event {
        id: EventId(uuid::Uuid::now_v7()),
        occurred_at: Timestamp::from_second(1_700_000_000 + number).map_err(say)?,
        author: "Pat".into(),
        device: "exam".into(),
        body: Body::Note(Note { text: format!("note {number}, {} gal in tank 1", 4000 + number) }),
    })
}

/// A ledger of some hundred rows: with its rows in the log, copied while it is open, or all in the file, once closed.
fn made(home: &Path, in_log: bool) -> Result<Vec<Row>, String> {
    let live = home.join("live.db");
    let ledger = SqliteLedger::open(&live).map_err(say)?;
    for number in 0..ROWS {
        ledger.append(&[note(number)?], Timestamp::from_second(1_700_001_000).map_err(say)?).map_err(say)?;
    }
    let rows = ledger.rows_after(0).map_err(say)?;
    let _open = in_log.then_some(ledger);
    for end in ["", "-wal", "-end"] {
        let from = home.join(format!("live.db{end}"));
        if from.exists() {
            std::fs::copy(&from, home.join(format!("sound.db{end}"))).map_err(say)?;
        }
    }
    Ok(rows)
}

/// How a damaged ledger came out.
enum Found {
    /// It was refused, or the damage was named.
    Named,
    /// Everything is there, as it was.
    Same,
    /// Something else, and nobody said so.
    Silent(String),
}

fn look(path: &Path, rows: &[Row]) -> Found {
    let Ok(ledger) = SqliteLedger::open_existing(path) else { return Found::Named };
    match ledger.verify() {
        Err(_) | Ok(Verification::Damaged { .. }) => Found::Named,
        Ok(Verification::Sound(_)) => match ledger.rows_after(0) {
            Err(_) => Found::Named,
            Ok(found) if found == rows => Found::Same,
            Ok(found) => Found::Silent(format!("{} of {} rows, told as sound", found.len(), rows.len())),
        },
    }
}

fn ledger(part: &str, rounds: u32, damage: Damage) -> Result<Outcome, String> {
    let home = Scratch::new("bits")?;
    let rows = made(home.path(), part == "-wal")?;
    let mut dice = StdRng::seed_from_u64(SEED);
    let sound = |end: &str| home.path().join(format!("sound.db{end}"));
    if !sound(part).exists() {
        return Err(format!("there is no sound.db{part} to damage"));
    }
    let (mut named, mut same) = (0, 0);
    for _ in 0..rounds {
        let there = Scratch::new("bit")?;
        for end in ["", "-wal", "-end"].into_iter().filter(|end| sound(end).exists()) {
            std::fs::copy(sound(end), there.path().join(format!("ledger.db{end}"))).map_err(say)?;
        }
        let target = there.path().join(format!("ledger.db{part}"));
        let (bytes, what) = damage(std::fs::read(&target).map_err(say)?, &mut dice);
        std::fs::write(&target, bytes).map_err(say)?;
        let found = quietly(|| Ok(look(&there.path().join("ledger.db"), &rows)));
        match found.map_err(|why| format!("{what}: {why}"))? {
            Found::Named => named += 1,
            Found::Same => same += 1,
            Found::Silent(why) => return Err(format!("{what}: {why}")),
        }
    }
    Ok(Outcome::pass(format!("{rounds} times: {named} named or refused, {same} without effect")))
}

fn telemetry(rounds: u32) -> Result<Outcome, String> {
    let home = Scratch::new("telemetry")?;
    let path = home.path().join("telemetry.db");
    let at = |second: i64| Timestamp::from_second(1_700_000_000 + second).map_err(say);
    let read = |kept: &TelemetryFile| -> Result<Vec<(Timestamp, f64)>, String> {
        let samples = kept.samples(Channel(0), at(-1)?, at(100_000)?).map_err(say)?;
        Ok(samples.iter().map(|one| (one.at, one.value)).collect())
    };
    let whole = {
        let kept = TelemetryFile::open(&path).map_err(say)?;
        let channel = kept.channel("panel").map_err(say)?;
        for second in 0..9_000_i64 {
            kept.take(&[Sample { channel, at: at(second)?, value: (second % 700) as f64 / 30.0 }]);
            if second % 300 == 299 {
                kept.save().map_err(say)?;
            }
        }
        read(&kept)?
    };
    let sound = std::fs::read(&path).map_err(say)?;
    let mut dice = StdRng::seed_from_u64(SEED);
    let (mut aside, mut left_out, mut refused, mut same) = (0, 0, 0, 0);
    for _ in 0..rounds {
        let there = Scratch::new("bit")?;
        let target = there.path().join("telemetry.db");
        let (bytes, what) = flip(sound.clone(), &mut dice);
        std::fs::write(&target, bytes).map_err(say)?;
        quietly(|| {
            let Ok(kept) = TelemetryFile::open_or_set_aside(&target, at(0)?) else {
                refused += 1;
                return Ok(());
            };
            // A file that was set aside has no channel yet.
            let found = read(&kept)?;
            match kept.damage() {
                Some(said) if said.id() == "store.telemetry.set_aside" && found.is_empty() => aside += 1,
                Some(_) if found.iter().all(|one| whole.contains(one)) => left_out += 1,
                None if found == whole => same += 1,
                said => return Err(format!("{} samples of {}, said {said:?}", found.len(), whole.len())),
            }
            Ok(())
        })
        .map_err(|why| format!("{what}: {why}"))?;
    }
    let said = format!("{rounds} times: {aside} set aside, {left_out} left out, {same} without effect");
    Ok(Outcome::new(refused == 0, format!("{said}, {refused} refused")))
}

fn people(rounds: u32) -> Result<Outcome, String> {
    let home = Scratch::new("people")?;
    let path = home.path().join("people.db");
    let now = Timestamp::from_second(1_700_000_000).map_err(say)?;
    {
        let file = PeopleFile::open(&path).map_err(say)?;
        for number in 0..40 {
            let person = Person {
                id: uuid::Uuid::now_v7(),
                name: format!("Person {number}"),
                role: if number == 0 { Role::Supervisor } else { Role::Operator },
                password: Some(format!("hash {number}")),
                pin: None,
                is_active: number % 5 != 0,
                made_at: now,
            };
            file.put_person(&person).map_err(say)?;
            file.note(now, "Ines", &Act::ShiftBegun { device: format!("tablet {number}") }).map_err(say)?;
        }
    }
    let read = |path: &Path| PeopleFile::open(path).and_then(|file| file.roster()).map(|found| found.people);
    let whole = read(&path).map_err(say)?;
    let sound = std::fs::read(&path).map_err(say)?;
    let mut dice = StdRng::seed_from_u64(SEED);
    let (mut refused, mut same) = (0, 0);
    for _ in 0..rounds {
        let there = Scratch::new("bit")?;
        let target = there.path().join("people.db");
        let (bytes, what) = flip(sound.clone(), &mut dice);
        std::fs::write(&target, bytes).map_err(say)?;
        match quietly(|| Ok(read(&target))).map_err(|why| format!("{what}: {why}"))? {
            Err(_) => refused += 1,
            Ok(found) if found == whole => same += 1,
            Ok(found) => return Err(format!("{what}: {} people, not as written", found.len())),
        }
    }
    Ok(Outcome::pass(format!("{rounds} times: {refused} refused, {same} without effect")))
}

fn run(folder: &Path, words: &[&str]) -> Result<String, String> {
    let mut command = Command::new(workspace::program());
    command.current_dir(folder).args(words);
    let finished = running::catch(command, LIMIT)?;
    if finished.code == Some(0) {
        Ok(finished.stdout)
    } else {
        Err(format!("{words:?}: {}", finished.in_short()))
    }
}

fn backup() -> Result<Outcome, String> {
    let home = Scratch::new("backup")?;
    run(home.path(), &["demo", "--print-only", "--folder", "."])?;
    let yard = std::fs::read_dir(home.path())
        .map_err(say)?
        .filter_map(|file| file.ok().map(|file| file.file_name().to_string_lossy().into_owned()))
        .find(|name| name.ends_with(".toml"))
        .ok_or("the demo wrote no yard file")?;
    run(home.path(), &["user", "list"]).ok();
    run(home.path(), &["backup", "copies", "--yard", &yard])?;
    let copy = std::fs::read_dir(home.path().join("copies")).map_err(say)?.next().ok_or("no copy")?;
    let copy = copy.map_err(say)?.path();
    run(home.path(), &["restore", &copy.to_string_lossy(), "--into", "home"])?;
    let before = run(home.path(), &["ledger", "export", "--format", "jsonl"])?;
    let after = run(home.path(), &["ledger", "export", "--format", "jsonl", "--database", "home/ledger.db"])?;
    let verdict = run(home.path(), &["ledger", "verify", "--database", "home/ledger.db"])?;
    let same = before == after
        && std::fs::read(home.path().join(&yard)).ok()
            == std::fs::read(home.path().join("home/yard.toml")).ok();
    Ok(Outcome::new(
        same && !before.is_empty(),
        format!("{} rows; {}", before.lines().count(), verdict.lines().next().unwrap_or_default()),
    ))
}
