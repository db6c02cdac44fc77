//! `weather`: what a forecast or observation file holds, and what was done to read it.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use quantity::in_millimetres;
use serde_json::json;
use weather::{Pressure, Rows};

use crate::args;
use crate::errors::english;
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Runs the verb.
pub fn run(args: &args::Weather) -> Outcome {
    let yard = args.yard.as_deref().map(input::yard).transpose()?;
    let zone = yard.as_ref().map_or(Ok(TimeZone::UTC), input::zone)?;
    let now = Timestamp::now();
    let issued =
        args.reading.issued.as_deref().map(|text| input::time("--issued", text, &zone)).transpose()?;
    let station = yard.as_ref().and_then(|yard| yard.weather_station.as_deref());
    let file = input::weather(&args.file, &args.reading, station, issued.unwrap_or(now))?;
    if file.samples.all().is_empty() {
        let what = "holds no values; accepted: a file with at least one";
        return Err(Failure::Input(format!("{}: {what}", args.file.display())));
    }
    let first = file.samples.all().iter().map(|sample| sample.start).min().unwrap_or(now);
    let end = file.samples.all().iter().map(|sample| sample.end.max(sample.start)).max().unwrap_or(first);
    // Rows counted start before it; an instant at the very end counts too.
    let last = if file.latest == Some(end) { end + jiff::SignedDuration::from_secs(1) } else { end };
    let from = args.from.as_deref().map_or(Ok(first), |text| input::time("--from", text, &zone))?;
    let to = args.to.as_deref().map_or(Ok(last), |text| input::time("--to", text, &zone))?;
    let total = file.precipitation_total(from, to, Rows::All, Pressure::STANDARD);
    let notices: Vec<String> = file.notices.iter().map(|notice| english(&notice.text)).collect();
    if args.json {
        print(&format!(
            "{:#}",
            json!({
                "format": file.format.name(),
                "station": file.station,
                "issued": file.issued.map(|t| t.to_string()),
                "first": first.to_string(),
                "last": end.to_string(),
                "members": file.members.len(),
                "from": from.to_string(),
                "to": to.to_string(),
                "precipitation_read_mm": in_millimetres(total.liquid),
                "suspect_mm": in_millimetres(total.suspect),
                "rows": total.rows,
                "traces": total.traces,
                "notices": notices,
            })
        ))?;
        return Ok(Done::Yes);
    }
    let mut lines = vec![
        format!("{}, station {}", file.format.name(), file.station.as_deref().unwrap_or("not named")),
        format!("Issued {}.", file.issued.map_or_else(|| "not said".to_string(), |t| t.to_string())),
        format!("Values from {first} to {end}."),
        format!(
            "Precipitation from {from} to {to}: {:.3} mm as water in {} rows ({} traces, {:.3} mm suspect).",
            in_millimetres(total.liquid),
            total.rows,
            total.traces,
            in_millimetres(total.suspect)
        ),
    ];
    lines.extend(notices.iter().map(|notice| format!("- {notice}")));
    print(&lines.join("\n"))?;
    Ok(Done::Yes)
}
