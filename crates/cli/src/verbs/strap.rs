//! `strap`: depth to volume, row by row.

use message::Tell;

use crate::args;
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Runs the verb.
pub fn run(args: &args::Strap) -> Outcome {
    let text = input::text(&args.csv)?;
    // The table is in metres whatever a yard's units are.
    let display = report::Display::new(site::UnitSystem::Si, jiff::tz::TimeZone::UTC);
    let answer = site::strapping::strap_csv(&text, |reason| display.tell(reason)).map_err(|error| {
        Failure::Input(format!("{}: {}", args.csv.display(), display.tell(&error.message())))
    })?;
    print(&answer)?;
    Ok(Done::Yes)
}
