//! The long examination, run before a piece of work is called done: every check goes on a board, each with its value
//! and its budget, and all of them run even when one fails. Budgets are for a quiet machine with two cores.

mod board;
mod brines;
mod crowds;
mod damage;
mod disk;
mod faults;
mod judging;
pub mod links;
mod reading;
mod roads;
pub(crate) use roads::street;
mod speed;
mod words;

use std::time::Duration;

use crate::browser::Extent;
use crate::scratch::Scratch;
use crate::{browser, ci, running, sizes, workspace};
use board::{Board, Outcome};

/// Rounds in which a writer is killed: small with `--quick`.
const KILL_ROUNDS: (u32, u32) = (20, 100);

const CLEAN_BUILD_BUDGET: Duration = Duration::from_secs(480);
const DEPENDENCIES_LIMIT: Duration = Duration::from_secs(120);
const PROGRAM_BUDGET_MB: f64 = 40.0;

/// What a person asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Options {
    clean_build: bool,
    quick: bool,
    only: Option<Part>,
}

/// A part that can be examined alone, on the release program that is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Speed,
    Faults,
    Brines,
    Judging,
    Links,
    Reading,
    Pages,
    Roads,
}

impl Options {
    /// From the words after `exam`.
    pub fn parse(words: &[&str]) -> Result<Self, String> {
        let mut options = Self::default();
        for word in words {
            match *word {
                "--clean-build" => options.clean_build = true,
                "--quick" => options.quick = true,
                "--only-speed" => options.only = Some(Part::Speed),
                "--only-faults" => options.only = Some(Part::Faults),
                "--only-brines" => options.only = Some(Part::Brines),
                "--only-judging" => options.only = Some(Part::Judging),
                "--only-links" => options.only = Some(Part::Links),
                "--only-pages" => options.only = Some(Part::Pages),
                "--only-roads" => options.only = Some(Part::Roads),
                "--only-reading" => options.only = Some(Part::Reading),
                other => return Err(format!("exam has no option {other}; see cargo xtask --help")),
            }
        }
        Ok(options)
    }
}

/// The whole examination, or the part asked for.
pub fn run(options: &Options) -> Result<(), String> {
    let mut board = Board::default();
    if options.only.is_none() {
        build_and_look(options, &mut board)?;
    }
    if options.only == Some(Part::Pages) {
        pages(&mut board);
    }
    let asked = |part: Part| options.only.is_none_or(|only| only == part);
    if asked(Part::Brines) {
        brines::examine(&mut board);
    }
    if asked(Part::Roads) {
        roads::examine(&mut board);
    }
    if asked(Part::Judging) {
        judging::examine(&mut board);
    }
    if asked(Part::Links) {
        links::examine(&mut board);
    }
    if asked(Part::Reading) {
        reading::examine(&mut board);
    }
    if asked(Part::Speed) {
        speed::examine(&mut board);
    }
    if asked(Part::Faults) {
        let rounds = if options.quick { KILL_ROUNDS.0 } else { KILL_ROUNDS.1 };
        let mut reliability = Board::default();
        faults::examine(&mut reliability, rounds);
        disk::examine(&mut reliability);
        damage::examine(&mut reliability, options.quick);
        crowds::examine(&mut reliability, options.quick);
        if !options.quick {
            let path = workspace::root().join("docs/reliability.md");
            std::fs::write(&path, reliability.page()).map_err(|e| format!("{}: {e}", path.display()))?;
        }
        board.join(reliability);
    }
    board.close()
}

/// All that CI does, more of it, and the budgets of what was built.
fn build_and_look(options: &Options, board: &mut Board) -> Result<(), String> {
    if options.clean_build {
        board.put("clean release build", "<= 480 s", clean_build());
    }
    dependencies(board);
    board.put("ci", "all steps pass", ci::without_browser().map(|()| Outcome::pass("passed")));
    // A test that failed above must not leave an older program to be examined.
    running::pass_through(workspace::cargo(&["build", "--release"]))?;
    pages(board);
    board.put("without network", "20 of 20", browser::without_network().map(Outcome::pass));
    board.put("every form without network", "none lost", browser::every_form().map(Outcome::pass));
    board.put("benches", "<= 2 x their budgets", bench().map(|()| Outcome::pass("passed")));
    board.put("program size", "< 40 MB", program_size());
    Ok(())
}

/// What a person sees: every page in both browsers, for everybody, in plain words.
fn pages(board: &mut Board) {
    board.put("browser", "no problem", browser::check(Extent::Full).map(|()| Outcome::pass("passed")));
    board.put("accessibility", "no violation", browser::for_everybody().map(Outcome::pass));
    board.put("firefox", "walked", browser::in_firefox().map(Outcome::pass));
    words::examine(board);
}

/// Benches, each against its own budget.
pub fn bench() -> Result<(), String> {
    running::pass_through(workspace::cargo(&["bench", "-p", "cli", "--bench", "budgets", "--", "--check"]))
}

fn clean_build() -> Result<Outcome, String> {
    let folder = Scratch::new("build")?;
    let mut build = workspace::cargo(&["build", "--release"]);
    build.env("CARGO_TARGET_DIR", folder.path());
    let start = std::time::Instant::now();
    running::pass_through(build)?;
    let took = start.elapsed();
    Ok(Outcome::new(took <= CLEAN_BUILD_BUDGET, format!("{:.0} s", took.as_secs_f64())))
}

/// Licences, versions and sources of what we depend on, by deny.toml.
fn dependencies(board: &mut Board) {
    const NAME: &str = "dependencies";
    let runs = |command| running::catch(command, DEPENDENCIES_LIMIT);
    if !runs(workspace::cargo(&["deny", "--version"])).is_ok_and(|found| found.code == Some(0)) {
        board.leave_out(NAME, "cargo-deny is not installed (cargo install cargo-deny --locked)");
        return;
    }
    let check = ["deny", "--locked", "check", "-D", "warnings", "licenses", "bans", "sources"];
    let judged = runs(workspace::cargo(&check)).map(|found| {
        let last = found.stderr.lines().chain(found.stdout.lines()).last().unwrap_or("nothing said");
        Outcome::new(found.code == Some(0), last)
    });
    board.put(NAME, "as deny.toml asks", judged);
}

fn program_size() -> Result<Outcome, String> {
    let megabytes = sizes::program_bytes()? as f64 / 1e6;
    Ok(Outcome::new(megabytes < PROGRAM_BUDGET_MB, format!("{megabytes:.1} MB")))
}

#[cfg(test)]
mod tests {
    use super::{Options, Part};

    #[test]
    fn options_are_read_and_a_wrong_one_is_refused() {
        assert_eq!(Options::parse(&[]), Ok(Options::default()));
        let quick = Options { quick: true, ..Options::default() };
        assert_eq!(Options::parse(&["--quick"]), Ok(quick));
        let both = Options { clean_build: true, ..quick };
        assert_eq!(Options::parse(&["--quick", "--clean-build"]), Ok(both));
        let faults = Options { only: Some(Part::Faults), ..quick };
        assert_eq!(Options::parse(&["--only-faults", "--quick"]), Ok(faults));
        assert!(Options::parse(&["--fast"]).unwrap_err().contains("--fast"));
    }
}
