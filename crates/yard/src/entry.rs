//! What a person types, made into an event: `volume_gal=2000` or `volume_m3=7.57`, checked against the yard.
//!
//! One entry path for the command line and the console's forms. A field's name ends with its unit, US or SI. What is
//! wrong is refused, naming field, value and what is accepted; what is possible but unlikely (litres taken for
//! gallons) is a doubt that the person must confirm.

use chemistry::quantity::{cubic_metres, in_gallons};
use serde_json::{Map, Value};

use crate::event::{Body, BodyError, KINDS};
use crate::site::Yard;

mod check;
mod doubt;
mod import;

pub use doubt::{asked, doubts, time_doubts};
pub use import::{ImportProblem, Imported, Judged, import, judge};

/// Litres in a US gallon: two volumes in this ratio are one volume in two units.
const LITRES_PER_GALLON: f64 = 3.785_411_784;
/// How near that ratio a mix-up is suspected, either way.
const MIX_UP_TOLERANCE: f64 = 0.12;

/// Longest text of a field, characters.
const LONGEST_TEXT: usize = 60_000;
/// Most figures in one field.
const MOST_FIGURES: usize = 100;

/// (suffix as typed, suffix as kept, factor, offset): kept = typed × factor + offset.
const UNITS: &[(&str, &str, f64, f64)] = &[
    ("_gal", "_m3", 0.003_785_411_784, 0.0),
    ("_l", "_m3", 0.001, 0.0),
    ("_lb", "_kg", 0.453_592_37, 0.0),
    ("_tons", "_kg", 907.184_74, 0.0),
    ("_t", "_kg", 1000.0, 0.0),
    ("_ft", "_m", 0.3048, 0.0),
    ("_in", "_m", 0.0254, 0.0),
    ("_mm", "_m", 0.001, 0.0),
    ("_f", "_c", 5.0 / 9.0, -160.0 / 9.0),
    ("_min", "_h", 1.0 / 60.0, 0.0),
    ("_psi", "_kpa", 6.894_757_293_168_361, 0.0),
    ("_mi", "_m", 1609.344, 0.0),
    ("_km", "_m", 1000.0, 0.0),
    ("_floz", "_ml", 29.573_529_562_5, 0.0),
];

/// Why an entry is refused, or doubted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{field} = {value}: {problem}; accepted: {accepted}")]
pub struct EntryProblem {
    /// Field as typed.
    pub field: String,
    /// Value as typed.
    pub value: String,
    /// What is wrong.
    pub problem: String,
    /// What is accepted.
    pub accepted: String,
}

/// Reads a number as a person types it: `.` or a single `,` as decimal mark; grouping marks are refused, since `1,234`
/// means two different numbers to two people.
///
/// ```
/// use yard::entry::parse_number;
/// assert_eq!(parse_number("23,3").map(|n| n.to_string()), Ok("23.3".to_string()));
/// assert!(parse_number("1,234").is_err() && parse_number("1,234.5").is_err() && parse_number("nan").is_err());
/// ```
///
/// # Errors
/// What is wrong, and what is accepted, as two texts.
pub fn parse_number(text: &str) -> Result<f64, (String, String)> {
    let text = text.trim();
    let accepted = || "a number such as 2000 or 23.3, without thousands marks".to_string();
    let commas = text.matches(',').count();
    let after_comma = text.rsplit(',').next().map_or(0, str::len);
    if commas > 1 || (commas == 1 && (text.contains('.') || after_comma == 3)) {
        return Err(("a comma that may be a thousands mark or a decimal mark".into(), accepted()));
    }
    match text.replace(',', ".").parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        _ => Err(("not a number".into(), accepted())),
    }
}

/// Makes a body of a kind from typed fields.
///
/// # Errors
/// Every problem found, each naming its field.
pub fn read_body(kind: &str, fields: &[(String, String)], yard: &Yard) -> Result<Body, Vec<EntryProblem>> {
    let kind = kind.replace('-', "_");
    let Some((_, accepted)) = KINDS.iter().find(|(name, _)| *name == kind) else {
        return Err(vec![EntryProblem {
            field: "kind".into(),
            value: kind.clone(),
            problem: format!("no such event{}", did_you_mean(&kind, KINDS.iter().map(|(name, _)| *name))),
            accepted: KINDS.iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", "),
        }]);
    };
    let mut problems = Vec::new();
    let mut object = Map::new();
    for (field, value) in fields.iter().filter(|(_, value)| !value.trim().is_empty()) {
        match read_field(field, value, accepted) {
            Ok((name, _)) if object.contains_key(&name) => problems.push(EntryProblem {
                field: field.clone(),
                value: value.clone(),
                problem: "given twice".into(),
                accepted: "one value, in one unit".into(),
            }),
            Ok((name, value)) => {
                object.insert(name, value);
            }
            Err(problem) => problems.push(problem),
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let body = Body::from_json(&kind, crate::event::EVENT_VERSION, &Value::Object(object).to_string())
        .map_err(|error| vec![missing_field(&kind, &error, accepted)])?;
    let body = match body {
        Body::Void(void) => Body::Void(named_void(void)?),
        other => other,
    };
    let problems = check::problems(&body, yard);
    if problems.is_empty() { Ok(body) } else { Err(problems) }
}

/// A void with the id it names in its one written form.
fn named_void(mut void: crate::event::Void) -> Result<crate::event::Void, Vec<EntryProblem>> {
    match void.event.parse::<crate::event::EventId>() {
        Ok(id) => {
            void.event = id.to_string();
            Ok(void)
        }
        Err(error) => Err(vec![EntryProblem {
            field: "event".into(),
            value: void.event,
            problem: error.to_string(),
            accepted: "the id of an event, as the ledger lists it".into(),
        }]),
    }
}

/// Says so when two volumes stand in the ratio of litres to gallons.
pub fn mix_up(given_m3: f64, expected_m3: f64) -> &'static str {
    if given_m3 <= 0.0 || expected_m3 <= 0.0 {
        return "";
    }
    let ratio = given_m3 / expected_m3;
    if (ratio / LITRES_PER_GALLON - 1.0).abs() < MIX_UP_TOLERANCE {
        " (looks like litres entered as gallons)"
    } else if (ratio * LITRES_PER_GALLON - 1.0).abs() < MIX_UP_TOLERANCE {
        " (looks like gallons entered as litres)"
    } else {
        ""
    }
}

/// The nearest of some names, as a hint to append; empty when none is near.
pub fn did_you_mean<'a>(typed: &str, names: impl Iterator<Item = &'a str>) -> String {
    names
        .map(|name| (strsim::jaro_winkler(typed, name), name))
        .filter(|(score, _)| *score > 0.75)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map_or_else(String::new, |(_, name)| format!("; did you mean \"{name}\"?"))
}

fn volume_text(m3: f64) -> String {
    format!("{:.0} gal ({m3:.2} m³)", in_gallons(cubic_metres(m3)))
}

fn is_number_field(name: &str) -> bool {
    ["_m3", "_kg", "_m", "_c", "_pct", "_h", "_s", "_kpa", "_mg_l", "_usd", "_number", "_reading"]
        .iter()
        .any(|suffix| name.ends_with(suffix))
        // Lists of figures are kept as they were typed, in their unit.
        && !crate::event::LISTS.contains(&name)
}

fn read_field(field: &str, value: &str, accepted: &[&str]) -> Result<(String, Value), EntryProblem> {
    let problem = |problem: String, accepted: String| EntryProblem {
        field: field.to_string(),
        value: value.to_string(),
        problem,
        accepted,
    };
    if (field == "depth" || field.starts_with("depth_"))
        && accepted.contains(&"depth_m")
        && let Some(metres) = length_in_words(value)
    {
        let number = serde_json::Number::from_f64(metres).filter(|_| metres <= ceiling("depth_m"));
        let wrong = || problem("beyond any yard".into(), format!("at most {} (m)", ceiling("depth_m")));
        return number.map(|number| ("depth_m".to_owned(), Value::Number(number))).ok_or_else(wrong);
    }
    let (name, factor, offset) = if accepted.contains(&field) {
        (field.to_string(), 1.0, 0.0)
    } else {
        UNITS
            .iter()
            .filter_map(|(typed, kept, factor, offset)| {
                Some((format!("{}{kept}", field.strip_suffix(typed)?), *factor, *offset))
            })
            .find(|(name, ..)| accepted.contains(&name.as_str()))
            .ok_or_else(|| {
                let hint = did_you_mean(field, accepted.iter().copied());
                problem(format!("no such field{hint}"), accepted.join(", "))
            })?
    };
    if crate::event::LISTS.contains(&name.as_str()) {
        return list(value, factor)
            .map(|kept| (name, Value::String(kept)))
            .map_err(|(what, accepted)| problem(what, accepted));
    }
    if !is_number_field(&name) && value.chars().count() > LONGEST_TEXT {
        return Err(problem("is too long".into(), format!("a text of at most {LONGEST_TEXT} characters")));
    }
    if !is_number_field(&name) {
        return Ok((name, Value::String(value.trim().to_string())));
    }
    let number = parse_number(value).map_err(|(what, accepted)| match name.as_str() {
        "depth_m" => problem(what, "a depth such as 4.58, 4 ft 7 in, 55 in or 1.4 m".into()),
        _ => problem(what, accepted),
    })?;
    let kept = number * factor + offset;
    let ceiling = ceiling(&name);
    if kept > ceiling {
        return Err(problem("beyond any yard".into(), format!("at most {ceiling} ({})", unit_of(&name))));
    }
    let signed = name.ends_with("_c") || name.ends_with("_reading");
    if !signed && kept < 0.0 {
        return Err(problem("below zero".into(), "zero or more; take an event back with a void".into()));
    }
    serde_json::Number::from_f64(kept)
        .map(|number| (name, Value::Number(number)))
        .ok_or_else(|| problem("not a number".into(), "a finite number".into()))
}

/// A length written with its own unit, whatever the field's: `55 in`, `4'7"`, `4 ft 7 in`, `1.4 m`, `140 cm`; metres.
/// None for anything else, a plain number too.
fn length_in_words(text: &str) -> Option<f64> {
    const LENGTHS: [(&str, f64); 12] = [
        ("feet", 0.3048),
        ("foot", 0.3048),
        ("ft", 0.3048),
        ("'", 0.3048),
        ("′", 0.3048),
        ("’", 0.3048),
        ("inches", 0.0254),
        ("in", 0.0254),
        ("\"", 0.0254),
        ("″", 0.0254),
        ("cm", 0.01),
        ("mm", 0.001),
    ];
    let text = text.trim().to_lowercase().replace("''", "\"").replace('”', "\"");
    let mut rest = text.as_str();
    let (mut metres, mut last) = (0.0, f64::INFINITY);
    while !rest.is_empty() {
        let digits = rest.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == ',')).unwrap_or(rest.len());
        let number = parse_number(rest.get(..digits)?).ok()?;
        let unit = rest.get(digits..)?.trim_start();
        let known = LENGTHS.iter().find(|(name, _)| unit.starts_with(name)).copied();
        let known = known.or_else(|| unit.starts_with('m').then_some(("m", 1.0)));
        // `4'7` means inches.
        let (name, size) = match known {
            Some(known) => known,
            None if unit.is_empty() && (last - 0.3048).abs() < 1e-9 => ("", 0.0254),
            None => return None,
        };
        // Feet before inches, each once.
        if size >= last {
            return None;
        }
        metres += number * size;
        last = size;
        rest = unit.strip_prefix(name)?.trim_start_matches(['.', ' ']);
    }
    (last < f64::INFINITY).then_some(metres)
}

/// Several figures in one field, with blanks or semicolons between them.
fn list(value: &str, factor: f64) -> Result<String, (String, String)> {
    let parts = value.split([' ', ';', '\n', '\t']).map(str::trim).filter(|part| !part.is_empty());
    let figures: Vec<f64> = parts.map(parse_number).collect::<Result<_, _>>()?;
    if figures.len() > MOST_FIGURES || figures.iter().any(|figure| !(0.0..1e6).contains(figure)) {
        let accepted = format!("up to {MOST_FIGURES} figures, none below zero");
        return Err(("are no figures of a catch".into(), accepted));
    }
    Ok(figures.iter().map(|figure| (figure * factor).to_string()).collect::<Vec<_>>().join(" "))
}

/// The figures of such a field.
///
/// ```
/// assert_eq!(yard::entry::figures("64 63.5").len(), 2);
/// ```
pub fn figures(kept: &str) -> Vec<f64> {
    kept.split_whitespace().filter_map(|part| part.parse().ok()).collect()
}

/// More than any yard has of a quantity: a slip of the finger, not a doubt.
fn ceiling(name: &str) -> f64 {
    match unit_of(name) {
        "m3" => 1e6,
        "kg" => 1e9,
        "m" if name == "lane_m" => 1e7,
        "m" => 100.0,
        "s" => 3600.0,
        "kpa" => 10_000.0,
        "c" | "pct" => 100.0,
        "h" => 1000.0,
        _ => 1e9,
    }
}

fn unit_of(name: &str) -> &str {
    name.rsplit('_').next().unwrap_or("")
}

fn missing_field(kind: &str, error: &BodyError, accepted: &[&str]) -> EntryProblem {
    let text = error.to_string();
    // The reader of the text names the first field that is missing; a person needs no more than that.
    let missing = text.split_once("missing field `").and_then(|(_, rest)| rest.split_once('`'));
    EntryProblem {
        field: missing.map_or(kind, |(field, _)| field).to_string(),
        value: if missing.is_some() { "(none)".into() } else { "(the whole entry)".into() },
        problem: missing.map_or(text.clone(), |_| "is needed".into()),
        accepted: format!(
            "fields {} (or with a US unit: _gal, _lb, _tons, _ft, _in, _f)",
            accepted.join(", ")
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::length_in_words;

    #[test]
    fn depths_are_taken_as_they_are_read_off_a_tape() {
        let cases = [
            ("55 in", 55.0 * 0.0254),
            ("4'7\"", 55.0 * 0.0254),
            ("4'7", 55.0 * 0.0254),
            ("4 ft 7 in", 55.0 * 0.0254),
            ("4ft. 7in.", 55.0 * 0.0254),
            ("4 feet", 4.0 * 0.3048),
            ("4' 7.5\"", 55.5 * 0.0254),
            ("1.4 m", 1.4),
            ("1,4 m", 1.4),
            ("140 cm", 1.4),
            ("1400mm", 1.4),
            ("4’ 7”", 55.0 * 0.0254),
        ];
        for (text, metres) in cases {
            let read = length_in_words(text).unwrap_or(f64::NAN);
            assert!((read - metres).abs() < 1e-9, "{text}: {read}");
        }
        for text in ["4.5", "", "7 in 4 ft", "4 ft 4 ft", "4 x", "deep", "4 7", "-3 in", "in"] {
            assert!(length_in_words(text).is_none(), "{text}");
        }
    }
}
