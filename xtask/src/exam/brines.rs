//! Chemistry at length: its laws on many brines, one call against its budget, a million rows, and other programs.

use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use super::board::{Board, Outcome};
use crate::scratch::Scratch;
use crate::{running, workspace};

/// Brines each law is tried on.
const CASES: &str = "100000";
const ROWS: usize = 1_000_000;
const ROWS_BUDGET_S: f64 = 3.0;
/// A table ten times as long may take this many times as long: ten, and room for what does not grow.
const GROWTH: f64 = 12.0;
/// What the peers' script needs from the Python registry.
const PEERS: [&str; 4] = ["CoolProp==8.0.0", "thermo==0.6.1", "chemicals==1.5.2", "pyEQL==1.7.0"];

/// Puts all of it on the board.
pub fn examine(board: &mut Board) {
    board.put("laws on 100,000 brines", "all hold", laws());
    board.put("one call of each property", "<= 2 x its budget", calls());
    match rows(ROWS / 10).and_then(|tenth| rows(ROWS).map(|all| (tenth, all))) {
        Ok((tenth, all)) => {
            let seconds = format!("{all:.2} s");
            board.put("table of 1,000,000 rows", "< 3 s", Ok(Outcome::new(all < ROWS_BUDGET_S, seconds)));
            let growth = all / tenth;
            let told = format!("{growth:.1} times a tenth of it");
            board.put("its growth", "<= 12 times", Ok(Outcome::new(growth <= GROWTH, told)));
        }
        Err(why) => board.put("table of 1,000,000 rows", "< 3 s", Err(why)),
    }
    board.put("beside other programs", "faster than each", peers());
}

fn laws() -> Result<Outcome, String> {
    let begun = Instant::now();
    for target in [&["--test", "laws"][..], &["--test", "equilibrium"], &["--lib"]] {
        let mut test = workspace::cargo(&[&["test", "--release", "-q", "-p", "chemistry"], target].concat());
        test.env("PROPTEST_CASES", CASES);
        running::pass_through(test)?;
    }
    Ok(Outcome::pass(format!("passed in {:.0} s", begun.elapsed().as_secs_f64())))
}

fn calls() -> Result<Outcome, String> {
    running::pass_through(workspace::cargo(&[
        "bench",
        "-p",
        "chemistry",
        "--bench",
        "calls",
        "--",
        "--check",
    ]))
    .map(|()| Outcome::pass("passed"))
}

/// Seconds for a table of so many sodium chloride brines with all columns, by the release program.
fn rows(count: usize) -> Result<f64, String> {
    let folder = Scratch::new("rows")?;
    let path = folder.path().join("brines.csv");
    let mut text = String::with_capacity(count * 14);
    text.push_str("nacl_wt_pct,temp_c\n");
    for n in 0..count {
        // Strengths and temperatures in an order that no guess of the processor's can follow.
        let place = n.wrapping_mul(2_654_435_761) % 1_000_003;
        let (strength, t) = (26.0 * (place % 1009) as f64 / 1009.0, 40.0 * (place % 997) as f64 / 997.0);
        writeln!(text, "{strength:.3},{t:.2}").map_err(|e| e.to_string())?;
    }
    std::fs::write(&path, text).map_err(|e| format!("{}: {e}", path.display()))?;
    let begun = Instant::now();
    let status = Command::new(workspace::program())
        .args(["properties", "--csv"])
        .arg(&path)
        .stdout(Stdio::null())
        .status()
        .map_err(|e| format!("the program: {e}"))?;
    if status.success() {
        Ok(begun.elapsed().as_secs_f64())
    } else {
        Err(format!("the program ended with {status}"))
    }
}

/// The peers' script, in an environment of its own below the target folder.
fn peers() -> Result<Outcome, String> {
    let script = Path::new("crates/chemistry/benches/peers.py");
    let mut run = running::python("peers", &PEERS)?;
    run.arg(script).env("BRINEWRIGHT", workspace::program()).current_dir(workspace::root());
    running::pass_through(run).map(|()| Outcome::pass("ratios above"))
}
