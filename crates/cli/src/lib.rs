//! The `brinewright` program: verbs on files, ledgers and the console.
//!
//! Each verb reads its inputs whole, computes, and writes once, so that nothing is half-written. What goes wrong
//! becomes one clear message on standard error and an exit code: see [`outcome`].

mod args;
pub mod demo;
mod errors;
mod input;
pub mod outcome;
mod verbs;

use std::process::ExitCode;

use clap::Parser;

/// Runs the program on its command line.
pub fn run() -> ExitCode {
    let args = args::Program::parse();
    let outcome = match args.verb {
        args::Verb::Demo(verb) => verbs::demo::run(&verb, args.units),
        args::Verb::Serve(verb) => verbs::serve::run(&verb),
        args::Verb::Backup(verb) => verbs::backup::run(&verb),
        args::Verb::Restore(verb) => verbs::backup::restore(&verb),
        args::Verb::Plan(verb) => verbs::plan::run(&verb, args.units),
        args::Verb::Road(verb) => verbs::road::run(&verb),
        args::Verb::Treat(verb) => verbs::treat::run(&verb, args.units),
        args::Verb::Weather(verb) => verbs::weather::run(&verb),
        args::Verb::Correct(verb) => verbs::correct::run(&verb, args.units),
        args::Verb::Properties(verb) => verbs::properties::run(&verb, args.units),
        args::Verb::Impurities(verb) => verbs::impurities::run(&verb, args.units),
        args::Verb::Measure(verb) => verbs::measure::run(&verb, args.units),
        args::Verb::Trim(verb) => verbs::trim::run(&verb),
        args::Verb::Blend(verb) => verbs::blend::run(&verb, args.units),
        args::Verb::PhaseDiagram(verb) => verbs::phase_diagram::run(&verb, args.units),
        args::Verb::Simulate(verb) => verbs::simulate::run(&verb, args.units),
        args::Verb::Strap(verb) => verbs::strap::run(&verb),
        args::Verb::Ledger(verb) => verbs::ledger::run(&verb, args.units),
        args::Verb::Report(verb) => verbs::report::run(&verb, args.units),
        args::Verb::Calibrate(verb) => verbs::calibrate::run(&verb, args.units),
        args::Verb::User(verb) => verbs::user::run(&verb),
        args::Verb::Tls(verb) => verbs::tls::run(&verb),
        args::Verb::Doctor(verb) => verbs::doctor::run(&verb),
        args::Verb::Completions(verb) => verbs::completions::run(&verb),
    };
    outcome::finish(outcome)
}
