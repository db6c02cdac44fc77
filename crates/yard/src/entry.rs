//! What a person types, made into an event: `volume_gal=2000` or `volume_m3=7.57`, checked against the yard.
//!
//! One entry path for the command line and the console's forms. A field's name ends with its unit, US or SI. What is
//! wrong is refused, naming field, value and what is accepted; what is possible but unlikely (litres taken for
//! gallons) is a doubt that the person must confirm.

use chemistry::quantity::{Volume, cubic_metres, in_cubic_metres, in_gallons, metres};
use serde_json::{Map, Value};

use crate::event::{Body, BodyError, KINDS};
use crate::site::{ProductKind, Yard};
use crate::stock::Books;

/// Litres in a US gallon: two volumes in this ratio are one volume in two units.
const LITRES_PER_GALLON: f64 = 3.785_411_784;
/// How near that ratio a mix-up is suspected, either way.
const MIX_UP_TOLERANCE: f64 = 0.12;

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
    let problems = check(&body, yard);
    if problems.is_empty() { Ok(body) } else { Err(problems) }
}

/// What is possible but unlikely, and must be confirmed before it is recorded.
pub fn doubts(body: &Body, yard: &Yard, books: &Books) -> Vec<EntryProblem> {
    let mut doubts = Vec::new();
    let free_and_full = |tank: &str| {
        let site = yard.tank(tank)?;
        let product = yard.product(&site.product)?;
        let held = books.tank(tank)?.volume(product);
        Some((site.working_capacity() - held, held))
    };
    let over = |what: &str, given: f64, limit: Volume, limit_name: &str| {
        let limit_m3 = in_cubic_metres(limit);
        (given > limit_m3 * 1.001).then(|| EntryProblem {
            field: what.to_string(),
            value: volume_text(given),
            problem: format!("more than {limit_name}, {}{}", volume_text(limit_m3), mix_up(given, limit_m3)),
            accepted: "confirm it if it is right".to_string(),
        })
    };
    match body {
        Body::MakingRun(b) => {
            doubts.extend(
                free_and_full(&b.tank)
                    .and_then(|(free, _)| over("volume", b.volume_m3, free, "the room left in the tank")),
            );
        }
        Body::LiquidDelivery(b) => {
            doubts.extend(
                free_and_full(&b.tank)
                    .and_then(|(free, _)| over("volume", b.volume_m3, free, "the room left in the tank")),
            );
        }
        Body::LoadOut(b) => {
            let truck = yard.trucks.iter().find(|truck| truck.id == b.truck);
            doubts
                .extend(truck.and_then(|truck| over("volume", b.volume_m3, truck.tank, "the truck's tank")));
            doubts.extend(free_and_full(&b.tank).and_then(|(_, held)| {
                over("volume", b.volume_m3, held, "what the book says is in the tank")
            }));
        }
        Body::Transfer(b) => {
            doubts.extend(
                free_and_full(&b.to_tank)
                    .and_then(|(free, _)| over("volume", b.volume_m3, free, "the room left in the tank")),
            );
            doubts.extend(free_and_full(&b.from_tank).and_then(|(_, held)| {
                over("volume", b.volume_m3, held, "what the book says is in the tank")
            }));
        }
        Body::Dip(b) => {
            let dipped = yard.tank(&b.tank).and_then(|tank| tank.shape.volume_at(metres(b.depth_m)).ok());
            if let (Some(dipped), Some((_, held))) = (dipped, free_and_full(&b.tank)) {
                let (dipped, held) = (in_cubic_metres(dipped), in_cubic_metres(held));
                let hint = mix_up(dipped, held);
                if !hint.is_empty() {
                    doubts.push(EntryProblem {
                        field: "depth".into(),
                        value: volume_text(dipped),
                        problem: format!("the book says {}{hint}", volume_text(held)),
                        accepted: "confirm it if it is right".into(),
                    });
                }
            }
        }
        _ => {}
    }
    doubts
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
    ["_m3", "_kg", "_m", "_c", "_pct", "_h", "_usd"].iter().any(|suffix| name.ends_with(suffix))
}

fn read_field(field: &str, value: &str, accepted: &[&str]) -> Result<(String, Value), EntryProblem> {
    let problem = |problem: String, accepted: String| EntryProblem {
        field: field.to_string(),
        value: value.to_string(),
        problem,
        accepted,
    };
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
    if !is_number_field(&name) {
        return Ok((name, Value::String(value.trim().to_string())));
    }
    let number = parse_number(value).map_err(|(what, accepted)| problem(what, accepted))?;
    let kept = number * factor + offset;
    let signed = name.ends_with("_c");
    if !signed && kept < 0.0 {
        return Err(problem("below zero".into(), "zero or more; take an event back with a void".into()));
    }
    serde_json::Number::from_f64(kept)
        .map(|number| (name, Value::Number(number)))
        .ok_or_else(|| problem("not a number".into(), "a finite number".into()))
}

fn missing_field(kind: &str, error: &BodyError, accepted: &[&str]) -> EntryProblem {
    EntryProblem {
        field: kind.to_string(),
        value: "(the whole entry)".into(),
        problem: error.to_string(),
        accepted: format!(
            "fields {} (or with a US unit: _gal, _lb, _tons, _ft, _in, _f)",
            accepted.join(", ")
        ),
    }
}

fn check(body: &Body, yard: &Yard) -> Vec<EntryProblem> {
    let mut problems = Vec::new();
    let mut refuse = |field: &str, value: String, problem: String, accepted: String| {
        problems.push(EntryProblem { field: field.into(), value, problem, accepted });
    };
    for tank in body.tanks() {
        if yard.tank(tank).is_none() {
            let names = || yard.tanks.iter().map(|t| t.id.as_str());
            let hint = did_you_mean(tank, names());
            refuse(
                "tank",
                tank.into(),
                format!("no such tank{hint}"),
                names().collect::<Vec<_>>().join(", "),
            );
        }
    }
    let truck = match body {
        Body::LoadOut(b) => Some(&b.truck),
        Body::ReturnToTank(b) => Some(&b.truck),
        _ => None,
    };
    if let Some(truck) = truck
        && !yard.trucks.iter().any(|known| known.id == *truck)
    {
        let names = || yard.trucks.iter().map(|t| t.id.as_str());
        let hint = did_you_mean(truck, names());
        refuse(
            "truck",
            truck.clone(),
            format!("no such truck{hint}"),
            names().collect::<Vec<_>>().join(", "),
        );
    }
    let (strength, temperature) = match body {
        Body::MakingRun(b) => (Some(b.strength_pct), b.temp_c),
        Body::Reading(b) => (Some(b.strength_pct), b.temp_c),
        Body::LiquidDelivery(b) => (b.strength_pct, b.temp_c),
        Body::Settlement(b) => (b.strength_pct, None),
        Body::Dip(b) => (None, b.temp_c),
        Body::LoadOut(b) => (None, b.temp_c),
        Body::Transfer(b) => (None, b.temp_c),
        Body::ReturnToTank(b) => (None, b.temp_c),
        Body::IssueOut(b) => (None, b.temp_c),
        _ => (None, None),
    };
    let strongest = chemistry::Brine::STRONGEST_PERCENT;
    match strength {
        Some(pct) if 0.0 < pct && pct < 0.27 => refuse(
            "strength_pct",
            pct.to_string(),
            format!("looks like a fraction; write {}", pct * 100.0),
            format!("per cent by mass, 0…{strongest}"),
        ),
        Some(pct) if strongest < pct => refuse(
            "strength_pct",
            pct.to_string(),
            "stronger than brine can be in the cold".into(),
            format!("per cent by mass, 0…{strongest}"),
        ),
        _ => {}
    }
    if let Some(t) = temperature
        && !(chemistry::density::COLDEST_CELSIUS..=chemistry::density::WARMEST_CELSIUS).contains(&t)
    {
        refuse(
            "temp",
            format!("{t:.1} °C"),
            "outside the density data".into(),
            "−20…40 °C, −4…104 °F".into(),
        );
    }
    if let Body::Dip(b) = body
        && let Some(tank) = yard.tank(&b.tank)
        && let Err(error) = tank.shape.volume_at(metres(b.depth_m))
    {
        refuse("depth", format!("{:.3} m", b.depth_m), error.to_string(), "a depth within the tank".into());
    }
    if let Body::LiquidDelivery(b) = body
        && b.strength_pct.is_none()
        && let Some(tank) = yard.tank(&b.tank)
        && matches!(yard.product(&tank.product).map(|p| &p.kind), Some(ProductKind::SodiumChlorideBrine))
    {
        refuse(
            "strength_pct",
            "(none)".into(),
            "bought salt brine needs its strength".into(),
            format!("0…{strongest}"),
        );
    }
    problems
}
