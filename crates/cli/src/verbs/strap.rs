//! `strap`: depth to volume, row by row.

use crate::args;
use crate::errors::sentence;
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Runs the verb.
pub fn run(args: &args::Strap) -> Outcome {
    let text = input::text(&args.csv)?;
    let answer = site::strapping::strap_csv(&text)
        .map_err(|error| Failure::Input(format!("{}: {}", args.csv.display(), sentence(&error))))?;
    print(&answer)?;
    Ok(Done::Yes)
}
