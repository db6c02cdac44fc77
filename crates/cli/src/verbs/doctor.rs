//! `doctor`: everything wrong with a yard file, at once.

use message::Tell;
use serde_json::json;

use crate::args;
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Runs the verb.
pub fn run(args: &args::Doctor) -> Outcome {
    if args.sample {
        print(&site::yard_file::sample_yard_file())?;
        return Ok(Done::Yes);
    }
    let path = &args.yard;
    let name = path.display().to_string();
    let text = input::text(path)?;
    let found = site::yard_file::read_yard(&text, &name);
    let display = input::display_of_file(&text);
    let mut problems: Vec<String> = Vec::new();
    match &found {
        Err(found) => problems.extend(found.iter().map(|problem| display.tell(&problem.message()))),
        Ok(yard) => {
            if let Err(Failure::Input(text)) = input::rates(yard) {
                problems.push(text);
            }
        }
    }
    if args.json {
        print(&format!("{:#}", json!({ "file": name, "sound": problems.is_empty(), "problems": problems })))?;
    } else if problems.is_empty() {
        print(&found.map_or_else(|_| String::new(), |yard| summary(&name, &yard)))?;
    } else {
        print(&problems.join("\n"))?;
    }
    Ok(if problems.is_empty() { Done::Yes } else { Done::No })
}

fn summary(name: &str, yard: &site::Yard) -> String {
    format!(
        "{name} is in order: {} with {} tanks, {} routes, {} trucks.",
        yard.name,
        yard.tanks.len(),
        yard.routes.len(),
        yard.trucks.len()
    )
}
