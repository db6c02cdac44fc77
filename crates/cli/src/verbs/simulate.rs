//! `simulate`: a run of the plant's model from a scenario file. Rows by default; with `--summary` or `--json` what came
//! of it.

use std::sync::Arc;

use plant::expect;
use plant::judge::Prior;
use plant::layout::{Layout, Sensed};
use plant::model::Snapshot;
use plant::properties::Properties;
use plant::scenario::{Outcome as Came, Scenario};
use quantity::{cubic_metres, in_gallons, in_pounds, kilograms};
use report::display::number;
use serde_json::json;

use crate::args::{self, Units};
use crate::errors::sentence;
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Runs the verb.
pub fn run(args: &args::Simulate, units: Option<Units>) -> Outcome {
    if let Some(name) = &args.tables {
        let all = plant::layouts::all();
        let Some(layout) = all.iter().find(|layout| layout.name == *name) else {
            let names = all.each_ref().map(|layout| layout.name.as_str()).join(", ");
            return Err(Failure::Input(format!("--tables {name}: accepted: {names}")));
        };
        print(site::yard_file::layout_tables(layout).trim_end())?;
        return Ok(Done::Yes);
    }
    let Some(file) = &args.scenario else { return Err(Failure::Input("a scenario is needed".into())) };
    let path = file.display();
    let scenario: Scenario = toml_edit::de::from_str(&input::text(file)?)
        .map_err(|error| Failure::Input(format!("{path}: {}", error.to_string().trim_end())))?;
    let refuse = |error: plant::Error| Failure::Input(format!("{path}: {}", sentence(&error)));
    let own = args.yard.as_ref().map(|path| own_layout(path)).transpose()?;
    let properties = Arc::new(Properties::new().map_err(refuse)?);
    if let Some(runs) = args.band {
        return band(&scenario, own, &properties, runs as usize, args.summary)
            .map_err(|why| Failure::Input(format!("{path}: {why}")));
    }
    let mut rows = csv::Writer::from_writer(Vec::new());
    let mut trouble = None;
    let mut is_first = true;
    let came = scenario
        .play_on(own, &properties, &mut |layout, snapshot| {
            let head = if is_first { rows.write_record(header(layout)) } else { Ok(()) };
            is_first = false;
            if let Err(error) = head.and_then(|()| rows.write_record(cells(layout, snapshot))) {
                trouble = Some(error.to_string());
            }
        })
        .map_err(refuse)?;
    if let Some(trouble) = trouble {
        return Err(Failure::Machine(trouble));
    }
    if args.json {
        print(&format!("{:#}", document(&came)))?;
    } else if args.summary {
        print(&summary(&scenario, &came, matches!(units, Some(Units::Si))))?;
    } else {
        let bytes = rows.into_inner().map_err(|error| Failure::Machine(error.to_string()))?;
        let text = String::from_utf8(bytes).map_err(|error| Failure::Machine(error.to_string()))?;
        print(text.trim_end())?;
    }
    Ok(Done::Yes)
}

/// The plant of a yard file.
fn own_layout(path: &std::path::Path) -> Result<Layout, Failure> {
    input::yard(path)?.making.ok_or_else(|| {
        let accepted = "a yard file with a table [making] (docs/yard-file.md)";
        Failure::Input(format!(
            "{}: says nothing of how the plant is built; accepted: {accepted}",
            path.display()
        ))
    })
}

/// What many plants as this one may be would show.
fn band(
    scenario: &Scenario,
    own: Option<Layout>,
    properties: &Arc<Properties>,
    runs: usize,
    summary: bool,
) -> Result<Done, String> {
    let well = Scenario { faults: Vec::new(), ..scenario.clone() };
    let plant = match own {
        Some(layout) => well.plant_of(layout, properties),
        None => well.plant(properties),
    };
    let plant = plant.map_err(|error| sentence(&error))?;
    let found = expect::band(&plant, &Prior::default(), runs, (3600.0 * well.hours, well.every_s), well.seed)
        .map_err(|error| sentence(&error))?;
    let text = if summary {
        let minutes = |time: Option<f64>| {
            time.map_or("not within the run".into(), |s| format!("{} min", number(s / 60.0, 0)))
        };
        let [early, middle, late] = found.reached.map(minutes);
        format!("{runs} plants as this one may be.\nIn its band after {middle} (95 %: {early} to {late}).")
    } else {
        let row = |(seconds, [low, middle, high]): (&f64, &[f64; 3])| {
            format!("{seconds:.1},{low:.2},{middle:.2},{high:.2}")
        };
        let rows: Vec<String> = found.seconds.iter().zip(&found.panel).map(row).collect();
        format!("seconds,panel_low_pct,panel_middle_pct,panel_high_pct\n{}", rows.join("\n"))
    };
    print(&text).map_err(|_| "could not be written out".to_string())?;
    Ok(Done::Yes)
}

/// An id as part of a column's name.
fn column(id: &str) -> String {
    id.replace([' ', '-'], "_")
}

fn header(layout: &Layout) -> Vec<String> {
    let mut columns = vec!["seconds".to_string()];
    for sensor in &layout.sensors {
        let unit = match sensor.of {
            Sensed::Strength { .. } => "pct",
            Sensed::Temperature { .. } => "c",
            Sensed::Bed { .. } => "kg",
            Sensed::Level { .. } => "share",
            Sensed::Flow { .. } => "m3_s",
        };
        columns.push(format!("{}_{unit}", column(&sensor.id)));
    }
    for vessel in &layout.vessels {
        let id = column(&vessel.id);
        columns.extend(
            ["strength_pct", "temp_c", "level", "undissolved_kg", "sludge_kg"]
                .map(|what| format!("true_{id}_{what}")),
        );
    }
    columns
}

fn cells(layout: &Layout, snapshot: &Snapshot) -> Vec<String> {
    let mut cells = vec![format!("{:.1}", snapshot.seconds)];
    for (sensor, shown) in layout.sensors.iter().zip(&snapshot.shown) {
        let decimals = match sensor.of {
            Sensed::Strength { .. } | Sensed::Temperature { .. } => 2,
            Sensed::Bed { .. } => 0,
            Sensed::Level { .. } => 4,
            Sensed::Flow { .. } => 7,
        };
        cells.push(format!("{shown:.decimals$}"));
    }
    for holds in &snapshot.holds {
        cells.push(format!("{:.3}", 100.0 * holds.strength));
        cells.push(format!("{:.2}", holds.degrees));
        cells.push(format!("{:.4}", holds.level));
        cells.push(format!("{:.1}", holds.undissolved_kg));
        cells.push(format!("{:.1}", holds.sludge_kg));
    }
    cells
}

fn document(came: &Came) -> serde_json::Value {
    json!({
        "made_m3": came.made_m3,
        "made_strength_pct": came.made_strength.map(|w| 100.0 * w),
        "salt_used_kg": came.salt_used_kg,
        "spilt_kg": came.spilt_kg,
        "longest_dry_running_s": came.dry_seconds,
        "panel_first_in_band_s": came.first_in_band,
    })
}

fn summary(scenario: &Scenario, came: &Came, si: bool) -> String {
    let volume = |m3: f64| {
        let gal = number(in_gallons(cubic_metres(m3)), 0);
        if si { format!("{} m³", number(m3, 2)) } else { format!("{gal} gal") }
    };
    let mass = |kg: f64| {
        if si {
            format!("{} kg", number(kg, 0))
        } else {
            format!("{} lb", number(in_pounds(kilograms(kg)), 0))
        }
    };
    let title = if scenario.title.is_empty() { scenario.layout.as_str() } else { scenario.title.as_str() };
    let mut lines = vec![format!("{title}: {} h of an invented plant.", number(scenario.hours, 1))];
    lines.push(match came.made_strength {
        Some(w) => format!("Let out: {} at {} %.", volume(came.made_m3), number(100.0 * w, 2)),
        None => "Nothing was let out.".to_string(),
    });
    lines.push(match came.first_in_band {
        Some(seconds) => format!("The panel was first in its band after {} min.", number(seconds / 60.0, 0)),
        None => "The panel was never in its band.".to_string(),
    });
    lines.push(format!("Salt used: {}.", mass(came.salt_used_kg)));
    if came.spilt_kg > 1.0 {
        lines.push(format!("Run over a brim: {}.", mass(came.spilt_kg)));
    }
    if came.dry_seconds > 1.0 {
        lines.push(format!("A pump ran dry for {} min.", number(came.dry_seconds / 60.0, 1)));
    }
    lines.join("\n")
}
