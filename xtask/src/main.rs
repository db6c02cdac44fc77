//! The project's chores, in Rust so that they run wherever the project builds. `cargo xtask --help` lists them.
//!
//! What needs something outside the toolchain (a browser, a file system of its own) lives here and not in the tests;
//! where such a thing is missing, the chore fails. One check alone is left out, and said to be: cargo-deny's, which
//! changes nothing about the program.
//!
//! Start reading at [`ci`], then [`browser`] and [`exam`].

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "chores talk to the terminal")]

mod browser;
mod ci;
mod docs;
mod exam;
mod http;
mod running;
mod scratch;
mod served;
mod sizes;
mod workspace;

use std::process::ExitCode;

use laboratory::{fit, simulated, validation};

const HELP: &str = "\
Chores of this project.

usage: cargo xtask <chore>

  ci                       all of CI: tests, format, lints, demo, short browser check
  exam [options]           the long one: CI, every page in a browser, walks, budgets, faults
                             --clean-build  also time a release build from nothing
                             --quick        fewer kill rounds
                             --only-speed, --only-faults, --only-brines, --only-judging, --only-links, --only-reading,
                             --only-pages, --only-roads
                                            that part alone, on the release program that is there
  browser [--short]        every page in headless Chromium, with the walks; pictures go to target/shots
                             --short        as CI does it: fewer widths, no walks
  browser --access         axe-core on every page and state, large letters, every language
  browser --walks          the walks alone
  browser --firefox        pages, a dip, a sample and a load in the second browser
  browser --offline        entries without network, by https on a name of the yard's network, its authority trusted
  browser --self-test      check the browser checker itself, on pages with known faults
  validation [--check]     write VALIDATION.md, or fail if it is not what would be written
  seasons FROM UNTIL       seasons drawn from these seeds, and what is said of their books, a line each
  fit [--check]            fit the coefficients of the chemistry, or fail if they are not what the data give
  docs                     write docs/yard-file.md and docs/rates.md from the code's own tables
  bench                    benches against their budgets
  sizes                    size of the program, number of crates it is made of
";

fn fit_chemistry(check: bool) -> Result<(), String> {
    println!("{}", fit::run(&workspace::root(), check)?);
    Ok(())
}

fn seasons(from: &str, until: &str) -> Result<(), String> {
    let seed = |text: &str| text.parse::<u64>().map_err(|error| format!("{text}: {error}"));
    print!("{}", simulated::seasons::tried(seed(from)?..seed(until)?)?);
    Ok(())
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match words.as_slice() {
        ["ci"] => ci::run(),
        ["exam", options @ ..] => exam::Options::parse(options).and_then(|options| exam::run(&options)),
        ["browser"] => browser::run(browser::Extent::Full),
        ["browser", "--short"] => browser::run(browser::Extent::Short),
        ["browser", "--access"] => running::pass_through(workspace::cargo(&["build", "--release"]))
            .and_then(|()| browser::for_everybody())
            .map(|said| println!("{said}")),
        ["browser", "--firefox"] => running::pass_through(workspace::cargo(&["build", "--release"]))
            .and_then(|()| browser::in_firefox())
            .map(|said| println!("{said}")),
        ["browser", "--walks"] => running::pass_through(workspace::cargo(&["build", "--release"]))
            .and_then(|()| browser::walks_alone()),
        ["browser", "--day"] => running::pass_through(workspace::cargo(&["build", "--release"]))
            .and_then(|()| browser::day_alone()),
        ["browser", "--offline"] => running::pass_through(workspace::cargo(&["build", "--release"]))
            .and_then(|()| browser::without_network())
            .map(|said| println!("{said}"))
            .and_then(|()| browser::every_form())
            .map(|said| println!("{said}")),
        ["browser", "--self-test"] => browser::self_test::run(),
        ["validation"] => write_validation(),
        ["validation", "--check"] => check_validation(),
        ["fit"] => fit_chemistry(false),
        ["fit", "--check"] => fit_chemistry(true),
        ["seasons", from, until] => seasons(from, until),
        // For the exam itself: the process that it kills.
        ["telemetry-writer", path] => exam::links::write_telemetry(path),
        ["docs"] => docs::write(),
        ["bench"] => exam::bench(),
        ["sizes"] => sizes::print(),
        ["--help" | "-h" | "help"] => {
            print!("{HELP}");
            Ok(())
        }
        _ => {
            eprint!("{HELP}");
            return ExitCode::from(2);
        }
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("xtask: {why}");
            ExitCode::FAILURE
        }
    }
}

fn write_validation() -> Result<(), String> {
    let root = workspace::root();
    let text = validation::generate(&root, validation::Slow::Anew, exam::street().as_ref())?;
    let path = root.join("VALIDATION.md");
    std::fs::write(&path, text).map_err(|e| format!("{}: {e}", path.display()))?;
    println!("wrote {}", path.display());
    Ok(())
}

/// Fails unless VALIDATION.md is what the data give today.
fn check_validation() -> Result<(), String> {
    let root = workspace::root();
    let path = root.join("VALIDATION.md");
    let kept = std::fs::read_to_string(&path).map_err(|e| format!("{}: {e}", path.display()))?;
    let text = validation::generate(&root, validation::Slow::AsKept(&kept), None)?;
    if kept == text {
        println!("VALIDATION.md is current");
        return Ok(());
    }
    let line = kept.lines().zip(text.lines()).position(|(kept, now)| kept != now);
    let line = line.unwrap_or_else(|| kept.lines().count().min(text.lines().count()));
    Err(format!("VALIDATION.md differs from line {} on; run `cargo xtask validation`", line + 1))
}
