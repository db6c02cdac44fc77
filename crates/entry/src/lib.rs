//! What a person types, made into an event: `volume_gal=2000` or `volume_m3=7.57`, checked against the yard.
//!
//! One entry path for the command line and the console's forms. A field's name ends with its unit, US or SI. What is
//! wrong is refused, naming field, value and what is accepted; what is possible but unlikely (litres taken for
//! gallons) is a doubt that the person must confirm.

use message::{Message, Tell, message};
use quantity::{LITRES_PER_GALLON, Volume, in_cubic_metres};
use serde_json::{Map, Value};

use event::{Body, Field, Kind, kind_named};
use site::Yard;
use yard::stock::Books;

pub mod blending;
pub mod guided;
pub mod sample;
pub mod ticket;

mod check;
mod complete;
mod doubt;
mod import;
mod offer;
mod problem;
mod typed;

pub use doubt::{asked, doubts, time_doubts};
pub use import::{ImportProblem, Imported, Judged, import, judge};
pub use problem::{EntryProblem, nearest, parse_number};

use problem::{did_you_mean, none, one_of};

/// How near that ratio a mix-up is suspected, either way.
const MIX_UP_TOLERANCE: f64 = 0.12;

/// Makes a body of a kind from typed fields, with what they leave unsaid worked out from the yard and its books as they
/// stand: the one way in, for a form, a command and a row of a table.
///
/// # Errors
/// Every problem found, each naming its field.
pub fn read_body(
    kind: &str,
    fields: &[(String, String)],
    (yard, books): (&Yard, &Books),
) -> Result<Body, Vec<EntryProblem>> {
    let kind = kind.replace('-', "_");
    let Some(kind) = kind_named(&kind) else { return Err(vec![no_such_kind(&kind)]) };
    let read = |fields: &[(String, String)]| read_fields(kind, fields, (yard, books));
    read(fields).map_err(|mut problems| {
        offer::offer(kind, fields, yard, &mut problems, read);
        problems
    })
}

fn read_fields(
    kind: &'static Kind,
    fields: &[(String, String)],
    (yard, books): (&Yard, &Books),
) -> Result<Body, Vec<EntryProblem>> {
    let mut problems = Vec::new();
    let mut object = Map::new();
    for (name, value) in fields.iter().filter(|(_, value)| !value.trim().is_empty()) {
        match typed::read(kind, name, value, yard) {
            Ok((field, _)) if object.contains_key(field) => {
                let (problem, accepted) = (message!("entry.given-twice"), message!("entry.accept-one-value"));
                problems.push(EntryProblem::new(name, value, problem, accepted));
            }
            Ok((field, value)) => {
                object.insert(field.to_owned(), value);
            }
            Err(problem) => problems.push(*problem),
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    complete::complete(kind, &mut object, (yard, books)).map_err(|problem| vec![*problem])?;
    let is_missing = |field: &&Field| field.is_needed && !object.contains_key(field.name);
    let missing: Vec<EntryProblem> = kind.fields.iter().filter(is_missing).map(needed).collect();
    if !missing.is_empty() {
        return Err(missing);
    }
    let body = Body::from_json(kind.name, event::EVENT_VERSION, &Value::Object(object).to_string());
    let body = body.map_err(|error| vec![whole(kind, error.message())])?;
    let problems = check::problems(&body, yard);
    if problems.is_empty() { Ok(body) } else { Err(problems) }
}

fn no_such_kind(kind: &str) -> EntryProblem {
    let names = || event::KINDS.iter().map(|kind| kind.name);
    let problem = did_you_mean(message!("entry.no-such-event"), kind, names());
    EntryProblem::new("kind", kind, problem, one_of(names()))
}

/// A field that was not given.
fn needed(field: &Field) -> EntryProblem {
    EntryProblem::new(field.name, none(), message!("entry.needed"), typed::accepted(field))
}

/// What is wrong with an entry as a whole.
fn whole(kind: &Kind, problem: Message) -> EntryProblem {
    let accepted = one_of(kind.fields.iter().map(|field| field.name));
    EntryProblem::new(kind.name, message!("entry.whole"), problem, accepted)
}

/// A problem with a volume, and that it looks like liters taken for gallons, or gallons for liters, where it stands in
/// that ratio to the one expected.
fn with_mix_up(problem: Message, given: Volume, expected: Volume) -> Message {
    match mix_up(given, expected) {
        Some(MixUp::LitersAsGallons) => message!("entry.liters-as-gallons", problem = problem),
        Some(MixUp::GallonsAsLiters) => message!("entry.gallons-as-liters", problem = problem),
        None => problem,
    }
}

/// One unit entered as the other.
enum MixUp {
    LitersAsGallons,
    GallonsAsLiters,
}

fn mix_up(given: Volume, expected: Volume) -> Option<MixUp> {
    let (given, expected) = (in_cubic_metres(given), in_cubic_metres(expected));
    if given <= 0.0 || expected <= 0.0 {
        return None;
    }
    let ratio = given / expected;
    if (ratio / LITRES_PER_GALLON - 1.0).abs() < MIX_UP_TOLERANCE {
        Some(MixUp::LitersAsGallons)
    } else if (ratio * LITRES_PER_GALLON - 1.0).abs() < MIX_UP_TOLERANCE {
        Some(MixUp::GallonsAsLiters)
    } else {
        None
    }
}

/// A figure as a person would type it: six digits, no more than it has.
///
/// ```
/// assert_eq!((entry::plain_number(23.3), entry::plain_number(1250.0)), ("23.3".into(), "1250".into()));
/// ```
pub fn plain_number(value: f64) -> String {
    let digits = 6_i32.saturating_sub(value.abs().max(1.0).log10().floor() as i32 + 1).clamp(0, 6);
    let text = format!("{value:.*}", usize::try_from(digits).unwrap_or(0));
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// The figures of such a field.
///
/// ```
/// assert_eq!(entry::figures("64 63.5").len(), 2);
/// ```
pub fn figures(kept: &str) -> Vec<f64> {
    kept.split_whitespace().filter_map(|part| part.parse().ok()).collect()
}
