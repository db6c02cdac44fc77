//! `trim`: what to set a controller's number to next, from logged pairs. It advises; a person sets the number.

use bench::trim::{Advice, Pair, Purpose, Rules, Step, advise};
use entry::parse_number;
use jiff::Timestamp;
use serde_json::{Value, json};

use crate::args;
use crate::errors::{did_you_mean, not_read, sentence};
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Columns read, of which the last two may be absent.
const READ: [&str; 6] = ["time", "trim", "panel", "bench", "panel_u_pct", "bench_u_pct"];
/// Columns that every row gets in the answer, after its own.
const ADDED: [&str; 9] = [
    "advice",
    "next_trim",
    "wait_min",
    "expected_difference_pct",
    "expected_u_pct",
    "over_strength_pct",
    "over_now_pct",
    "still_over_pct",
    "error",
];
/// Place of the column `error` among them: the last.
const ERROR: usize = ADDED.len() - 1;
/// A 95 % interval over its standard uncertainty, normal.
const K95: f64 = 1.96;

/// Runs the verb.
pub fn run(args: &args::Trim) -> Outcome {
    let name = args.csv.display();
    let refuse = |problem: String| Failure::Input(format!("{name}: {problem}"));
    let rules = Rules {
        target: args.target_pct,
        top: args.top_pct,
        largest_step: args.largest_step_pct / 100.0,
        risk: args.risk_pct / 100.0,
        resolution: args.resolution,
        lag_minutes: args.lag_min,
    };
    let table = Table::read(&input::text(&args.csv)?, args).map_err(refuse)?;
    // A row that cannot be used is named on itself and left out of the rows below it.
    let mut used: Vec<Pair> = Vec::new();
    let mut told: Vec<Result<Advice, String>> = Vec::new();
    for pair in table.pairs.iter().cloned() {
        told.push(pair.and_then(|pair| {
            used.push(pair);
            advise(&used, &rules).map_err(|error| {
                used.pop();
                sentence(&error)
            })
        }));
    }
    if args.json {
        let last = told.last().ok_or_else(|| refuse("no row; accepted: one pair or more".into()))?;
        let advice = last.as_ref().map_err(|error| refuse(error.clone()))?;
        print(&format!("{:#}", document(advice)))?;
    } else {
        print(&table.with(&told).map_err(refuse)?)?;
    }
    Ok(Done::Yes)
}

/// A file of pairs, row by row.
struct Table {
    headers: csv::StringRecord,
    records: Vec<csv::StringRecord>,
    pairs: Vec<Result<Pair, String>>,
}

impl Table {
    fn read(text: &str, args: &args::Trim) -> Result<Self, String> {
        let mut reader =
            csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).from_reader(text.as_bytes());
        let headers = reader.headers().map_err(|e| e.to_string())?.clone();
        if let Some(taken) = ADDED.iter().find(|added| headers.iter().any(|header| header == **added)) {
            return Err(format!(
                "column {taken} would be written twice; accepted: a file without the columns added here"
            ));
        }
        let place = READ.map(|wanted| headers.iter().position(|header| header == wanted));
        for (wanted, at) in READ.iter().zip(place).take(4) {
            if at.is_none() {
                let hint = did_you_mean(wanted, headers.iter());
                return Err(format!("column {wanted} is missing{hint}; accepted: {}", READ.join(", ")));
            }
        }
        let records: Vec<csv::StringRecord> =
            reader.records().collect::<Result<_, _>>().map_err(|e| e.to_string())?;
        let pairs = records.iter().map(|record| pair(record, place, args)).collect();
        Ok(Self { headers, records, pairs })
    }

    fn with(&self, told: &[Result<Advice, String>]) -> Result<String, String> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(self.headers.iter().chain(ADDED)).map_err(|e| e.to_string())?;
        for (record, advice) in self.records.iter().zip(told) {
            let added = match advice {
                Ok(advice) => cells(advice),
                Err(error) => {
                    let mut cells: [String; ADDED.len()] = Default::default();
                    cells[ERROR].clone_from(error);
                    cells
                }
            };
            writer.write_record(record.iter().map(String::from).chain(added)).map_err(|e| e.to_string())?;
        }
        let bytes = writer.into_inner().map_err(|e| e.to_string())?;
        String::from_utf8(bytes).map_err(|e| e.to_string())
    }
}

fn pair(record: &csv::StringRecord, place: [Option<usize>; 6], args: &args::Trim) -> Result<Pair, String> {
    let cell = |column: usize| place[column].and_then(|at| record.get(at)).unwrap_or_default();
    let parse = |column: usize| {
        let text = cell(column);
        parse_number(text).map_err(|problem| format!("{} \"{text}\": {}", READ[column], not_read(problem)))
    };
    let interval = |column: usize, otherwise: f64| {
        if cell(column).is_empty() { Ok(otherwise) } else { parse(column) }
    };
    Ok(Pair {
        set_at: None,
        minutes: minutes(cell(0))?,
        trim: parse(1)?,
        panel: parse(2)?,
        bench: parse(3)?,
        panel_uncertainty: interval(4, args.panel_u_pct)? / K95,
        bench_uncertainty: interval(5, args.bench_u_pct)? / K95,
    })
}

/// Minutes on one clock: a time with its zone, or a number of minutes.
fn minutes(text: &str) -> Result<f64, String> {
    if let Ok(time) = text.parse::<Timestamp>() {
        return Ok(time.as_second() as f64 / 60.0);
    }
    parse_number(text).map_err(|_| {
        format!("time \"{text}\": accepted: a time with its zone, such as 2026-01-14T05:10:00Z, or minutes")
    })
}

fn key(advice: &Advice) -> &'static str {
    match advice {
        Advice::Agreed { .. } => "agreed",
        Advice::Wait { .. } => "wait",
        Advice::Step(step) if step.purpose == Purpose::Trial => "try",
        Advice::Step(_) => "set",
        Advice::StepWhileOver { .. } => "set_while_over",
        Advice::Unsure { .. } => "unsure",
        Advice::Hold { .. } => "hold",
    }
}

fn cells(advice: &Advice) -> [String; ADDED.len()] {
    let mut cells: [String; ADDED.len()] = Default::default();
    let share = |chance: f64| format!("{:.2}", 100.0 * chance);
    cells[0] = key(advice).to_string();
    if let Advice::Step(step) | Advice::StepWhileOver { step, .. } = advice {
        cells[1] = format!("{:.6}", step.next).trim_end_matches('0').trim_end_matches('.').to_string();
        cells[2] = format!("{:.1}", step.wait_minutes);
        cells[3] = format!("{:.3}", step.difference);
        cells[4] = format!("{:.3}", step.difference_interval);
    }
    match advice {
        Advice::Agreed { difference, within } => {
            cells[3] = format!("{difference:.3}");
            cells[4] = format!("{within:.3}");
        }
        Advice::Wait { minutes } => cells[2] = format!("{minutes:.1}"),
        Advice::Step(step) => cells[5] = share(step.over_strength),
        Advice::StepWhileOver { step, over_now } => {
            cells[6] = share(*over_now);
            cells[7] = share(step.over_strength);
        }
        Advice::Unsure { within, needed, by_bench } => {
            cells[4] = format!("{within:.3}");
            let which = if *by_bench { "bench" } else { "panel" };
            cells[ERROR] = format!(
                "too unsure: panel and bench leave ± {within:.2} % open, {needed:.2} % is needed; a better {which} reading would settle it"
            );
        }
        Advice::Hold { over_strength } => {
            cells[6] = share(*over_strength);
            cells[ERROR] =
                "no step within the rules helps: sample again, or lower the product's target for the trial"
                    .into();
        }
    }
    cells
}

fn document(advice: &Advice) -> Value {
    let key = key(advice);
    match advice {
        Advice::Agreed { difference, within } => {
            json!({ "advice": key, "difference_pct": difference, "within_pct": within })
        }
        Advice::Wait { minutes } => json!({ "advice": key, "wait_min": minutes }),
        Advice::Step(step) => {
            let mut found = step_document(key, step);
            found["over_strength_pct"] = json!(100.0 * step.over_strength);
            found
        }
        Advice::StepWhileOver { step, over_now } => {
            let mut found = step_document(key, step);
            found["over_now_pct"] = json!(100.0 * over_now);
            found["still_over_pct"] = json!(100.0 * step.over_strength);
            found
        }
        Advice::Unsure { within, needed, by_bench } => json!({
            "advice": key,
            "within_pct": within,
            "needed_pct": needed,
            "better": if *by_bench { "bench" } else { "panel" },
        }),
        Advice::Hold { over_strength } => {
            json!({ "advice": key, "over_now_pct": 100.0 * over_strength })
        }
    }
}

fn step_document(key: &str, step: &Step) -> Value {
    json!({
        "advice": key,
        "next_trim": step.next,
        "wait_min": step.wait_minutes,
        "expected_difference_pct": step.difference,
        "expected_u_pct": step.difference_interval,
    })
}
