//! `measure`: strength from a reading, judged. Exit code 1 when the brine is out of spec or it cannot be told.

use bench::conformity::Chances;
use bench::instrument::{Compensation, Scale};
use bench::measure::{Instrument, Measured, Sample, measure};
use bench::register::{self, NAMES};
use bench::solute::Solute;
use bench::uncertainty::CoverageBy;
use bench::wet_methods::{by_drying, by_titration};
use bench::{Conformity, SpecRange};
use chemistry::{MassFraction, Salt};
use quantity::{ThermodynamicTemperature, celsius, fahrenheit, in_celsius, in_fahrenheit, kelvins};
use report::display::number;
use serde_json::{Value, json};

use crate::args::{self, Units};
use crate::errors::{did_you_mean, not_read, sentence};
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Columns added to a table.
const ADDED: [&str; 5] = ["strength_pct", "uncertainty_pct", "verdict", "doubt", "error"];
/// Strengths beyond which a plant's reading makes no sense, per cent from the band.
const SENSELESS: f64 = 2.0;

/// Smallest steps of a balance, g, and a burette, mL, when nothing else is said.
const BALANCE_GRAMS: f64 = 0.01;
const BURETTE_ML: f64 = 0.05;

/// What a strength is judged by.
struct Spec {
    band: SpecRange,
    risk: f64,
}

/// Runs the verb.
pub fn run(args: &args::Measure, units: Option<Units>) -> Outcome {
    let spec = spec(args)?;
    let solute = solute(&args.solute)?;
    let half_width = args.temp_half_width_k;
    if !(0.0..=20.0).contains(&half_width) {
        return Err(Failure::Input(format!("--temp-half-width-k = {half_width}: accepted: 0…20")));
    }
    if let Some(path) = &args.csv {
        print(
            &rows(&input::text(path)?, args, &solute, &spec)
                .map_err(|problem| Failure::Input(format!("{}: {problem}", path.display())))?,
        )?;
        return Ok(Done::Yes);
    }
    let temperature = args.temp_f.map(fahrenheit).or(args.temp_c.map(celsius));
    let target = (args.low_pct + args.high_pct) / 2.0;
    let answer = match weighed(args)? {
        Some(answer) => answer,
        None => instrument_answer(args, &solute, temperature, target)?,
    };
    let Answer { name, reading: mean, found, meant } = answer;
    let judged = judge(&found, &spec)?;
    let off = (found.brine.strength().percent() - target).abs() - (args.high_pct - args.low_pct) / 2.0;
    let meant = if off < SENSELESS { Vec::new() } else { meant };
    let text = if args.json {
        format!("{:#}", document(&name, mean, temperature, &found, &judged, &meant))
    } else {
        lines(args, temperature, &found, &judged, &meant, matches!(units, Some(Units::Si))).join("\n")
    };
    print(&text)?;
    Ok(if judged.verdict == Conformity::InSpec { Done::Yes } else { Done::No })
}

/// A strength with what it was found by.
struct Answer {
    name: String,
    reading: f64,
    found: Measured,
    /// Scales on which the number would be about what was to be made.
    meant: Vec<&'static str>,
}

/// A strength by drying or titration, where that is what was given.
fn weighed(args: &args::Measure) -> Result<Option<Answer>, Failure> {
    let answer = |name: &str, reading: f64, found: Result<Measured, bench::Error>| {
        let found = found.map_err(|error| Failure::Input(format!("--{name}: {}", sentence(&error))))?;
        Ok(Some(Answer { name: name.to_string(), reading, found, meant: Vec::new() }))
    };
    let step = args.resolution;
    match (args.dried.as_deref(), args.titrated.as_deref()) {
        (Some([sample, residue]), _) => {
            answer("dried", *residue, by_drying(*sample, *residue, step.unwrap_or(BALANCE_GRAMS)))
        }
        (_, Some([ml, molar, portion])) => {
            answer("titrated", *ml, by_titration(*ml, *molar, *portion, step.unwrap_or(BURETTE_ML)))
        }
        _ => Ok(None),
    }
}

fn instrument_answer(
    args: &args::Measure,
    solute: &Solute,
    temperature: Option<ThermodynamicTemperature>,
    target: f64,
) -> Result<Answer, Failure> {
    let name = args.instrument.as_deref().unwrap_or_default();
    let yard = args.yard.as_ref().map(|path| input::yard(path)).transpose()?;
    let (card, offset) = match yard.as_ref().and_then(|yard| yard.instrument(name)) {
        Some(known) => (known.card.clone(), known.offset),
        None => {
            let scale = scale(name, args, args.compensated).map_err(|problem| {
                let ids = yard.iter().flat_map(|yard| &yard.instruments).map(|one| one.id.as_str());
                let ids: Vec<&str> = ids.collect();
                let of_yard = if ids.is_empty() { String::new() } else { format!("; or {}", ids.join(", ")) };
                Failure::Input(format!("--instrument = {problem}{of_yard}"))
            })?;
            (instrument(scale, args), 0.0)
        }
    };
    let sample = Sample {
        solute: solute.clone(),
        readings: args.reading.iter().map(|reading| reading - offset).collect(),
        temperature,
        temperature_half_width: kelvins(args.temp_half_width_k),
    };
    let mean = args.reading.iter().sum::<f64>() / args.reading.len().max(1) as f64;
    let meant = register::likely_scales(mean, &card.scale, solute, temperature, target);
    let found = measure(&card, &sample).map_err(|error| {
        Failure::Input(format!("{name} {mean}: {}{}", sentence(&error), or_meant(&meant)))
    })?;
    Ok(Answer { name: name.to_string(), reading: mean, found, meant })
}

fn spec(args: &args::Measure) -> Result<Spec, Failure> {
    let percent = |flag: &str, value: f64| {
        MassFraction::from_percent(value)
            .map_err(|error| Failure::Input(format!("{flag}: {}", sentence(&error))))
    };
    let (low, high) = (percent("--low-pct", args.low_pct)?, percent("--high-pct", args.high_pct)?);
    if args.high_pct <= args.low_pct {
        let (low, high) = (args.low_pct, args.high_pct);
        return Err(Failure::Input(format!("--high-pct = {high}: accepted: above --low-pct = {low}")));
    }
    if !(0.0 < args.risk_pct && args.risk_pct < 50.0) {
        return Err(Failure::Input(format!("--risk-pct = {}: accepted: above 0, below 50", args.risk_pct)));
    }
    Ok(Spec { band: SpecRange { low, high }, risk: args.risk_pct / 100.0 })
}

fn solute(text: &str) -> Result<Solute, Failure> {
    let refuse = |problem: String| Failure::Input(format!("--solute = {text}: {problem}"));
    let known = [
        ("nacl", Salt::SodiumChloride),
        ("cacl2", Salt::CalciumChloride),
        ("mgcl2", Salt::MagnesiumChloride),
        ("kcl", Salt::PotassiumChloride),
    ];
    let mut parts = Vec::new();
    for part in text.split(',') {
        let (name, amount) =
            part.trim().split_once('=').ok_or_else(|| refuse(format!("\"{part}\" is not salt=parts")))?;
        let salt = known.iter().find(|(known, _)| *known == name.to_ascii_lowercase()).ok_or_else(|| {
            refuse(format!("\"{name}\" is no salt known here; accepted: nacl, cacl2, mgcl2, kcl"))
        })?;
        let amount = entry::parse_number(amount).map_err(|problem| refuse(not_read(problem)))?;
        parts.push((salt.1, amount));
    }
    Solute::blend(&parts).map_err(|error| refuse(sentence(&error)))
}

/// The scale of a name, with what the flags say of it.
fn scale(name: &str, args: &args::Measure, compensated: bool) -> Result<Scale, String> {
    let unknown = || {
        format!("{name}: not known{}; accepted: {}", did_you_mean(name, NAMES.into_iter()), NAMES.join(", "))
    };
    Ok(match register::scale(name).ok_or_else(unknown)? {
        Scale::Refractometer { scale, .. } => Scale::Refractometer { scale, compensated },
        Scale::Conductivity { cell_factor, .. } => {
            let compensation = args.alpha_pct_per_k.map(|percent| Compensation {
                per_kelvin: percent / 100.0,
                reference: celsius(args.alpha_reference_c),
            });
            Scale::Conductivity { compensation, cell_factor }
        }
        Scale::Cup { millilitres } => Scale::Cup { millilitres: args.cup_ml.unwrap_or(millilitres) },
        other => other,
    })
}

fn instrument(scale: Scale, args: &args::Measure) -> Instrument {
    let usual = register::usual(scale.clone());
    Instrument {
        scale,
        resolution: args.resolution.unwrap_or(usual.resolution),
        calibration: args.calibration.unwrap_or(usual.calibration),
        repeatability: args.repeatability.unwrap_or(usual.repeatability),
    }
}

/// A verdict with the chances behind it.
struct Judged {
    verdict: Conformity,
    chances: Chances,
}

fn judge(found: &Measured, spec: &Spec) -> Result<Judged, Failure> {
    let refuse = |error: bench::Error| Failure::Input(sentence(&error));
    let known = found.known().map_err(refuse)?;
    let verdict = spec.band.judge_at_risk(&known, spec.risk).map_err(refuse)?;
    Ok(Judged { verdict, chances: spec.band.chances(&known).map_err(refuse)? })
}

fn key(verdict: Conformity) -> &'static str {
    match verdict {
        Conformity::InSpec => "in",
        Conformity::TooWeak => "too_weak",
        Conformity::TooStrong => "too_strong",
        Conformity::CannotTell => "cannot_tell",
    }
}

fn or_meant(meant: &[&str]) -> String {
    if meant.is_empty() { String::new() } else { format!("; it would make sense on {}", meant.join(", ")) }
}

fn lines(
    args: &args::Measure,
    temperature: Option<ThermodynamicTemperature>,
    found: &Measured,
    judged: &Judged,
    meant: &[&str],
    si: bool,
) -> Vec<String> {
    let strength = format!(
        "{} % ± {}",
        number(found.brine.strength().percent(), 2),
        number(found.expanded.half_width, 2)
    );
    let (word, act) = match judged.verdict {
        Conformity::InSpec => ("In spec", "Log it."),
        Conformity::TooWeak => ("Too weak", "Put it right: brinewright correct --with salt."),
        Conformity::TooStrong => ("Too strong", "Put it right: brinewright correct --with water."),
        Conformity::CannotTell => {
            ("Cannot tell", "Read the sample again, several times, or read it with a better instrument.")
        }
    };
    let mut lines = vec![format!("{word}: {strength} by mass.")];
    let at = temperature.map_or(String::new(), |t| {
        let (f, c) = (number(in_fahrenheit(t), 1), number(in_celsius(t), 1));
        if si { format!(" at {c} °C ({f} °F)") } else { format!(" at {f} °F ({c} °C)") }
    });
    lines.push(format!(
        "Spec {} to {} %; chance that the brine{at} is in it: {} %, weaker {} %, stronger {} %.",
        number(args.low_pct, 1),
        number(args.high_pct, 1),
        number(100.0 * judged.chances.in_spec, 0),
        number(100.0 * judged.chances.too_weak, 0),
        number(100.0 * judged.chances.too_strong, 0),
    ));
    if let Some(doubt) = &found.doubt {
        let doubt = sentence(doubt);
        lines.push(format!("Doubtful: {doubt}. Log it as doubtful and sample again."));
    }
    if !meant.is_empty() {
        lines.push(format!(
            "The number would make sense on another scale: {}. Which was read?",
            meant.join(", ")
        ));
    }
    lines.push(format!("Next: {act}"));
    if args.budget {
        lines.push(format!("{:<16}{:>16}{:>16}{:>18}", "of", "standard u", "% per unit", "in strength, %"));
        lines.extend(found.budget.components().iter().map(|line| {
            format!(
                "{:<16}{:>16}{:>16}{:>18}",
                line.name,
                number(line.standard_uncertainty, 4),
                number(line.sensitivity, 3),
                number(line.contribution(), 4)
            )
        }));
        let by = match found.expanded.by {
            CoverageBy::EffectiveDegrees(None) => "normal".to_string(),
            CoverageBy::EffectiveDegrees(Some(degrees)) => {
                format!("Student's t, {} degrees of freedom", number(degrees.floor(), 0))
            }
            CoverageBy::Rectangle { share } => {
                format!("one even spread makes up {} % of the variance", number(100.0 * share, 0))
            }
        };
        lines.push(format!(
            "Together {} %; k = {} ({by}); 95 % interval ± {} %.",
            number(found.budget.combined(), 3),
            number(found.expanded.coverage_factor, 2),
            number(found.expanded.half_width, 2)
        ));
    }
    lines
}

fn document(
    name: &str,
    reading: f64,
    temperature: Option<ThermodynamicTemperature>,
    found: &Measured,
    judged: &Judged,
    meant: &[&str],
) -> Value {
    let budget: Vec<Value> = found
        .budget
        .components()
        .iter()
        .map(|line| {
            json!({
                "of": line.name,
                "standard_uncertainty": line.standard_uncertainty,
                "sensitivity_pct": line.sensitivity,
                "contribution_pct": line.contribution(),
            })
        })
        .collect();
    json!({
        "instrument": name,
        "reading": reading,
        "temp_c": temperature.map(in_celsius),
        "strength_pct": found.brine.strength().percent(),
        "uncertainty_pct": found.expanded.half_width,
        "coverage_factor": found.expanded.coverage_factor,
        "degrees_of_freedom": found.budget.effective_degrees_of_freedom(),
        "verdict": key(judged.verdict),
        "chance_in": judged.chances.in_spec,
        "chance_too_weak": judged.chances.too_weak,
        "chance_too_strong": judged.chances.too_strong,
        "budget": budget,
        "doubt": found.doubt.as_ref().map(sentence),
        "other_scales": meant,
    })
}

/// The rows of a table with the strengths added; what cannot be given is empty and named in the last column.
fn rows(text: &str, args: &args::Measure, solute: &Solute, spec: &Spec) -> Result<String, String> {
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).from_reader(text.as_bytes());
    let headers = reader.headers().map_err(|e| e.to_string())?.clone();
    let place = |wanted: &str| headers.iter().position(|header| header == wanted);
    let needed = |wanted: &str| {
        place(wanted).ok_or_else(|| {
            let hint = did_you_mean(wanted, headers.iter());
            format!("column {wanted} is missing{hint}; accepted: instrument, reading, temp_c, compensated")
        })
    };
    if let Some(taken) = ADDED.iter().find(|added| place(added).is_some()) {
        return Err(format!(
            "column {taken} would be written twice; accepted: a file without the columns added here"
        ));
    }
    let (instrument_at, reading_at) = (needed("instrument")?, needed("reading")?);
    let (temp_at, compensated_at) = (place("temp_c"), place("compensated"));
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(headers.iter().chain(ADDED)).map_err(|e| e.to_string())?;
    for record in reader.records() {
        let record = record.map_err(|e| e.to_string())?;
        let cell = |at: Option<usize>| at.and_then(|at| record.get(at)).unwrap_or_default();
        let worked = row(
            [cell(Some(instrument_at)), cell(Some(reading_at)), cell(temp_at), cell(compensated_at)],
            args,
            solute,
            spec,
        );
        let added = worked
            .unwrap_or_else(|error| [String::new(), String::new(), String::new(), String::new(), error]);
        writer.write_record(record.iter().map(String::from).chain(added)).map_err(|e| e.to_string())?;
    }
    let bytes = writer.into_inner().map_err(|e| e.to_string())?;
    String::from_utf8(bytes).map_err(|e| e.to_string())
}

fn row(
    [name, reading, temp, compensated]: [&str; 4],
    args: &args::Measure,
    solute: &Solute,
    spec: &Spec,
) -> Result<[String; 5], String> {
    let parse = |column: &str, cell: &str| {
        entry::parse_number(cell).map_err(|problem| format!("{column} \"{cell}\": {}", not_read(problem)))
    };
    let compensated = match compensated {
        "" => args.compensated,
        "yes" => true,
        "no" => false,
        other => return Err(format!("compensated \"{other}\": accepted: yes, no, or blank")),
    };
    let scale = scale(name, args, compensated).map_err(|problem| format!("instrument {problem}"))?;
    let temperature = if temp.is_empty() { None } else { Some(celsius(parse("temp_c", temp)?)) };
    let sample = Sample {
        solute: solute.clone(),
        readings: vec![parse("reading", reading)?],
        temperature,
        temperature_half_width: kelvins(args.temp_half_width_k),
    };
    let found = measure(&instrument(scale.clone(), args), &sample).map_err(|error| sentence(&error))?;
    let verdict = judge(&found, spec).map_err(|failure| format!("{failure:?}"))?.verdict;
    Ok([
        format!("{:.4}", found.brine.strength().percent()),
        format!("{:.4}", found.expanded.half_width),
        key(verdict).to_string(),
        found.doubt.as_ref().map_or_else(String::new, sentence),
        String::new(),
    ])
}
