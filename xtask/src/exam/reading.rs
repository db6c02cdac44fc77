//! What reads from outside, given anything at all, at length; and whether the tests notice when a number is worked out
//! otherwise.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use serde_json::Value;

use super::board::{Board, Outcome};
use crate::{running, workspace};

/// Inputs that each parser is given. Files, requests and runs of the program have smaller limits of their own.
const CASES: &str = "20000";
/// Crates that read from outside.
const READERS: [&str; 8] = ["weather", "entry", "plant", "report", "link", "store", "console", "cli"];
/// One that hangs is ended and has failed.
const READING_LIMIT: Duration = Duration::from_secs(3600);

/// Functions whose every mutant is tried: small ones that much hangs on. A longer list costs seconds to a minute each.
const FUNCTIONS: [&str; 10] = [
    "SpecRange::(judge|judge_at_risk|chances)",
    "Measured::known",
    "per_kelvin",
    "in repeats$",
    "half_width_of_sum",
    "coverage_factor",
    "over_strength",
    "baume",
    "relative_density_at",
    "salt_balance",
];
/// Draws of each law while mutants are tried: one that shows only in thousands of draws is a poor test anyway.
const MUTANT_CASES: &str = "60";
const MUTANTS_LIMIT: Duration = Duration::from_secs(3600);
/// Who may live, and why.
const SURVIVORS: &str = "xtask/data/survivors.txt";

/// Puts both on the board.
pub fn examine(board: &mut Board) {
    board.put("any bytes", "20,000 inputs a parser: no panic, no hang, nothing untrue taken in", any_bytes());
    board.put("mutants", "none lives but those in survivors.txt", mutants());
}

fn any_bytes() -> Result<Outcome, String> {
    let begun = Instant::now();
    for reader in READERS {
        let mut test = workspace::cargo(&["test", "--release", "-q", "-p", reader, "--test", "any_bytes"]);
        test.env("PROPTEST_CASES", CASES);
        ended_well(reader, test)?;
    }
    // Blocks of telemetry are read by nobody outside the crate.
    let mut blocks = workspace::cargo(&["test", "--release", "-q", "-p", "store", "--lib", "block"]);
    blocks.env("PROPTEST_CASES", CASES);
    ended_well("blocks of telemetry", blocks)?;
    Ok(Outcome::pass(format!("{} crates in {:.0} s", READERS.len(), begun.elapsed().as_secs_f64())))
}

fn ended_well(what: &str, command: Command) -> Result<(), String> {
    let finished = running::catch(command, READING_LIMIT)?;
    if finished.code == Some(0) {
        return Ok(());
    }
    // What was drawn may be long; the line that says what was wrong with it comes first.
    let said = finished.stdout.lines().find(|line| line.contains("panicked") || line.contains("Test failed"));
    let told: String = said.unwrap_or("its tests failed").chars().take(300).collect();
    Err(format!("{what}: {told}"))
}

/// Tries the mutants of [`FUNCTIONS`] and holds those that no test noticed against the list of those that may live.
fn mutants() -> Result<Outcome, String> {
    let is_there = running::catch(workspace::cargo(&["mutants", "--version"]), Duration::from_secs(60));
    if !is_there.is_ok_and(|version| version.code == Some(0)) {
        return Err("not installed: cargo install cargo-mutants --locked".into());
    }
    let path = workspace::root().join(SURVIVORS);
    let kept = std::fs::read_to_string(&path).map_err(|error| format!("{}: {error}", path.display()))?;
    let kept = Survivors::read(&kept)?;
    let out = workspace::target().join("mutants");
    std::fs::create_dir_all(&out).map_err(|error| format!("{}: {error}", out.display()))?;
    let functions = FUNCTIONS.join("|");
    let mut try_all = workspace::cargo(&["mutants", "--workspace", "--no-shuffle", "--colors", "never"]);
    try_all.args(["--jobs", "1", "-F", &functions, "-o"]).arg(&out).env("PROPTEST_CASES", MUTANT_CASES);
    // Ends with 2 where some live and with 3 where some ran out of time: that is what is looked at below.
    let finished = running::catch(try_all, MUTANTS_LIMIT)?;
    if !finished.code.is_some_and(|code| [0, 2, 3].contains(&code)) {
        return Err(finished.in_short());
    }
    let outcomes = out.join("mutants.out").join("outcomes.json");
    let text =
        std::fs::read_to_string(&outcomes).map_err(|error| format!("{}: {error}", outcomes.display()))?;
    let found = read_outcomes(&text, &|file| std::fs::read_to_string(workspace::root().join(file)).ok())?;
    let unknown = kept.without(&found.living);
    let told =
        format!("{} tried, {} live, {} of them unknown", found.tried, found.living.len(), unknown.len());
    if unknown.is_empty() && 0 < found.tried {
        Ok(Outcome::pass(told))
    } else {
        Err(format!("{told}: {}", unknown.join("; ")))
    }
}

/// What came of mutants.
#[derive(Debug, PartialEq, Eq)]
struct Found {
    tried: usize,
    /// What was changed, and the line of code, of each that no test noticed.
    living: Vec<[String; 2]>,
}

/// Reads what cargo-mutants wrote. A mutant is known by what is changed in which function and by the line of code, not
/// by its place, so that code may move.
fn read_outcomes(text: &str, source: &dyn Fn(&str) -> Option<String>) -> Result<Found, String> {
    let all: Value = serde_json::from_str(text).map_err(|error| format!("outcomes.json: {error}"))?;
    let mut found = Found { tried: 0, living: Vec::new() };
    for outcome in all["outcomes"].as_array().ok_or("outcomes.json lists no outcomes")? {
        let mutant = &outcome["scenario"]["Mutant"];
        let Some(name) = mutant["name"].as_str() else { continue };
        found.tried += 1;
        if outcome["summary"] != "MissedMutant" {
            continue;
        }
        // `path:line:column: what is changed in which function`
        let what = name.splitn(4, ':').nth(3).map_or(name, str::trim);
        let line = mutant["span"]["start"]["line"].as_u64().and_then(|line| usize::try_from(line).ok());
        let code = mutant["file"].as_str().and_then(source).unwrap_or_default();
        let code = line.and_then(|line| code.lines().nth(line.saturating_sub(1))).unwrap_or_default();
        found.living.push([what.to_owned(), code.trim().to_owned()]);
    }
    Ok(found)
}

/// Mutants that may live.
#[derive(Debug, PartialEq, Eq)]
struct Survivors(BTreeMap<[String; 2], usize>);

impl Survivors {
    /// Reads the list: three parts a line with tabs between: what is changed, the line of code, and why no test can or
    /// need notice it.
    fn read(text: &str) -> Result<Self, String> {
        let mut all = BTreeMap::new();
        for (number, line) in text.lines().enumerate() {
            if line.trim().is_empty() || line.starts_with('#') {
                continue;
            }
            let parts: Vec<&str> = line.split('\t').map(str::trim).collect();
            let [what, code, reason] = parts[..] else {
                let file = Path::new(SURVIVORS).display();
                return Err(format!("{file}:{}: not three parts with tabs between", number + 1));
            };
            if reason.len() < 20 {
                return Err(format!("{SURVIVORS}:{}: \"{reason}\" is no reason", number + 1));
            }
            *all.entry([what.to_owned(), code.to_owned()]).or_insert(0) += 1;
        }
        Ok(Self(all))
    }

    /// Those that live and are not in the list, or more often than it says.
    fn without(&self, living: &[[String; 2]]) -> Vec<String> {
        let mut left = self.0.clone();
        let mut unknown = Vec::new();
        for one in living {
            match left.get_mut(one) {
                Some(count @ 1..) => *count -= 1,
                _ => unknown.push(format!("{}, at `{}`", one[0], one[1])),
            }
        }
        unknown
    }
}

#[cfg(test)]
mod tests {
    use super::{Found, SURVIVORS, Survivors, read_outcomes};
    use crate::workspace;

    const OUTCOMES: &str = r#"{"outcomes": [
        {"scenario": "Baseline", "summary": "Success"},
        {"scenario": {"Mutant": {"name": "crates/a/src/b.rs:2:9: replace < with <= in f", "file": "crates/a/src/b.rs",
            "span": {"start": {"line": 2, "column": 9}}}}, "summary": "MissedMutant"},
        {"scenario": {"Mutant": {"name": "crates/a/src/b.rs:2:9: replace < with > in f", "file": "crates/a/src/b.rs",
            "span": {"start": {"line": 2, "column": 9}}}}, "summary": "CaughtMutant"}]}"#;

    #[test]
    fn a_mutant_that_lives_must_be_known() {
        let source = |file: &str| {
            (file == "crates/a/src/b.rs").then(|| {
                "fn f() {
    a < b
}
"
                .to_owned()
            })
        };
        let found = read_outcomes(OUTCOMES, &source).unwrap_or(Found { tried: 0, living: Vec::new() });
        assert_eq!(found.tried, 2);
        assert_eq!(found.living, [["replace < with <= in f".to_owned(), "a < b".to_owned()]]);
        let known = "# a comment
replace < with <= in f	a < b	both give the same where they are equal
";
        let known = Survivors::read(known);
        assert_eq!(known.as_ref().map(|known| known.without(&found.living)), Ok(Vec::new()));
        let twice = [found.living.clone(), found.living.clone()].concat();
        assert_eq!(known.map(|known| known.without(&twice).len()), Ok(1));
        let other = Survivors::read(
            "replace < with > in f	a < b	both give the same where they are equal
",
        );
        assert_eq!(other.map(|other| other.without(&found.living).len()), Ok(1));
        assert!(
            Survivors::read(
                "replace < with > in f	a < b
"
            )
            .is_err()
        );
        assert!(
            Survivors::read(
                "replace < with > in f	a < b	because
"
            )
            .is_err()
        );
        assert!(read_outcomes("{}", &source).is_err());
    }

    #[test]
    fn the_list_can_be_read() {
        let text = std::fs::read_to_string(workspace::root().join(SURVIVORS)).unwrap_or_default();
        assert!(Survivors::read(&text).is_ok_and(|known| !known.0.is_empty()));
    }
}
