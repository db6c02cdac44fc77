//! One field as typed: its name with a unit, its text, made into what the ledger keeps.

use quantity::units::{CENTIMETRE, FOOT, INCH, METRE, MILLIMETRE, Unit};
use serde_json::{Number, Value};

use super::problem::{EntryProblem, did_you_mean, parse_number};
use site::Yard;
use yard::event::{Field, Figure, Holds, Kind, Named, Quantity};

/// Longest text of a field, characters.
const LONGEST_TEXT: usize = 60_000;
/// Most figures in one field, and each of them.
const MOST_FIGURES: usize = 100;
const MOST_OF_A_FIGURE: f64 = 1e6;

/// What is wrong, and what is accepted.
type Wrong = (String, String);

/// Reads a field: its name as it is kept, and its value in the unit it is kept in.
pub(super) fn read(
    kind: &Kind,
    name: &str,
    text: &str,
    yard: &Yard,
) -> Result<(&'static str, Value), EntryProblem> {
    let refuse = |(problem, accepted): Wrong| EntryProblem {
        field: name.to_owned(),
        value: text.to_owned(),
        problem,
        accepted,
    };
    let (field, unit) = find(kind, name, text).ok_or_else(|| refuse(no_such_field(kind, name)))?;
    let value = match field.spec.holds {
        Holds::Figure(figure) => number(figure, unit, text),
        Holds::Figures(_) => figures(unit, text).map(Value::String),
        Holds::OneOf(words, _) => one_of(field.name, words, text),
        Holds::Name(named) => known(named, yard, text),
        Holds::Event => event(text),
        Holds::Time => time(text),
        Holds::Month => month(text),
        Holds::Text | Holds::Lines => plain(text),
    };
    value.map(|value| (field.name, value)).map_err(refuse)
}

/// The field that a name is one of, with the unit of the name.
fn find(kind: &Kind, name: &str, text: &str) -> Option<(&'static Field, Option<Unit>)> {
    // A depth may be written with its own unit: then, and only then, the name needs none.
    let bare = || {
        let field = kind.field_of_stem(name).filter(|field| is_depth(field))?;
        length_in_words(text).map(|_| (field, Some(METRE)))
    };
    let named = |field: &'static Field| {
        field.names().into_iter().find(|(known, _)| known == name).map(|(_, unit)| (field, unit))
    };
    kind.fields.iter().chain(kind.helpers).find_map(named).or_else(bare)
}

fn is_depth(field: &Field) -> bool {
    matches!(field.spec.holds, Holds::Figure(Figure { quantity: Quantity::Depth, .. }))
}

fn no_such_field(kind: &Kind, name: &str) -> Wrong {
    let names = || kind.fields.iter().map(|field| field.name);
    (format!("no such field{}", did_you_mean(name, names())), names().collect::<Vec<_>>().join(", "))
}

/// What a field takes, for whoever left it out.
pub(super) fn accepted(field: &Field) -> String {
    let names = || field.names().into_iter().map(|(name, _)| name).collect::<Vec<_>>().join(", ");
    match field.spec.holds {
        Holds::OneOf(words, _) => words.join(", "),
        _ => names(),
    }
}

fn number(figure: Figure, unit: Option<Unit>, text: &str) -> Result<Value, Wrong> {
    let is_depth = figure.quantity == Quantity::Depth;
    let in_words = if is_depth { length_in_words(text) } else { None };
    let (kept, unit) = match in_words {
        Some(metres) => (metres, Some(METRE)),
        None => {
            let typed = parse_number(text).map_err(|(what, accepted)| {
                let depth = || "a depth such as 4.58, 4 ft 7 in, 55 in or 1.4 m".to_owned();
                (what, if is_depth { depth() } else { accepted })
            })?;
            (unit.map_or(typed, |unit| unit.to_base(typed)), unit)
        }
    };
    if let Some((problem, accepted)) = outside(figure, kept, unit) {
        return Err((problem.to_owned(), accepted));
    }
    Number::from_f64(without_noise(kept))
        .map(Value::Number)
        .ok_or_else(|| ("not a number".into(), "a finite number".into()))
}

/// To twelve decimals and fifteen digits: what a conversion adds behind them is no figure of anybody's.
pub(super) fn without_noise(kept: f64) -> f64 {
    let read = |text: String| text.parse::<f64>().unwrap_or(kept);
    // No zero below zero.
    read(format!("{:.14e}", read(format!("{kept:.12}")))) + 0.0
}

/// What is wrong with a figure, and what is accepted in the unit it was typed in; none for one within its limits.
fn outside(figure: Figure, kept: f64, unit: Option<Unit>) -> Option<(&'static str, String)> {
    let shown = |limit: f64| site::yard_file::show(unit.map_or(limit, |unit| unit.of_base(limit)));
    let of = unit.map_or_else(String::new, |unit| format!(" {}", unit.symbol));
    let (low, high) = (shown(figure.low), shown(figure.high));
    // As much as any yard has of it: no limit of this field's own.
    let is_usual = figure.quantity.limits().1 <= figure.high && figure.quantity != Quantity::Percent;
    let within = || match (figure.is_above_low, is_usual) {
        (true, true) => "more than zero".to_owned(),
        (true, false) => format!("above zero, to {high}{of}"),
        (false, _) => format!("{low}…{high}{of}"),
    };
    let slack = 1e-9 * figure.low.abs().max(figure.high.abs()).min(1e6);
    if figure.high + slack < kept {
        let usual = || ("beyond any yard", format!("at most {high}{of}"));
        return Some(if is_usual { usual() } else { ("out of range", within()) });
    }
    if figure.is_above_low && kept.abs() <= slack {
        return Some(("must be above zero", within()));
    }
    if kept < figure.low - slack {
        let is_negative = figure.low == 0.0;
        let taken_back = || ("below zero", "zero or more; take an event back with a void".to_owned());
        return Some(if is_negative && is_usual { taken_back() } else { ("out of range", within()) });
    }
    None
}

/// Several figures in one field, with blanks or semicolons between them.
fn figures(unit: Option<Unit>, text: &str) -> Result<String, Wrong> {
    let parts = text.split([' ', ';', '\n', '\t']).map(str::trim).filter(|part| !part.is_empty());
    let figures: Vec<f64> = parts.map(parse_number).collect::<Result<_, _>>()?;
    if figures.len() > MOST_FIGURES || figures.iter().any(|figure| !(0.0..MOST_OF_A_FIGURE).contains(figure))
    {
        let accepted = format!("up to {MOST_FIGURES} figures, none below zero");
        return Err(("are no figures of a catch".into(), accepted));
    }
    let kept = figures.iter().map(|figure| unit.map_or(*figure, |unit| unit.to_base(*figure)).to_string());
    Ok(kept.collect::<Vec<_>>().join(" "))
}

fn one_of(name: &str, words: &[&str], text: &str) -> Result<Value, Wrong> {
    let text = text.trim();
    if words.contains(&text) {
        return Ok(Value::String(text.to_owned()));
    }
    let hint = did_you_mean(text, words.iter().copied());
    Err((format!("no such {name}{hint}"), words.join(", ")))
}

/// A name that the yard file knows.
fn known(named: Named, yard: &Yard, text: &str) -> Result<Value, Wrong> {
    let text = text.trim();
    let (noun, names): (&str, Vec<String>) = match named {
        Named::Tank => ("tank", yard.tanks.iter().map(|one| one.id.clone()).collect()),
        Named::Truck => ("truck", yard.trucks.iter().map(|one| one.id.clone()).collect()),
        Named::Route => ("route", yard.routes.iter().map(|one| one.id.clone()).collect()),
        Named::Product => ("product", yard.products.iter().map(|one| one.id.clone()).collect()),
        Named::MeterOrAny if yard.meters.is_empty() => return plain(text),
        Named::Meter | Named::MeterOrAny => ("meter", yard.meters.iter().map(|one| one.id.clone()).collect()),
        Named::Chore => ("chore", site::chores::chores(yard).into_iter().map(|one| one.id).collect()),
        Named::Watershed => ("watershed", yard.watersheds.iter().map(|one| one.id.clone()).collect()),
        Named::Instrument => ("instrument", yard.instruments.iter().map(|one| one.id.clone()).collect()),
        Named::Scale => ("scale", bench::register::registered().into_iter().map(str::to_owned).collect()),
        Named::Liquid | Named::Agency => return plain(text),
    };
    if names.iter().any(|known| known == text) {
        return Ok(Value::String(text.to_owned()));
    }
    let hint = did_you_mean(text, names.iter().map(String::as_str));
    Err((format!("no such {noun}{hint}"), names.join(", ")))
}

fn event(text: &str) -> Result<Value, Wrong> {
    let id = text
        .parse::<yard::event::EventId>()
        .map_err(|error| (error.to_string(), "the id of an event, as the ledger lists it".to_owned()))?;
    Ok(Value::String(id.to_string()))
}

fn time(text: &str) -> Result<Value, Wrong> {
    let wrong = |_| ("is not a time".to_owned(), "2027-01-14T22:00:00Z".to_owned());
    text.trim().parse::<jiff::Timestamp>().map(|_| Value::String(text.trim().to_owned())).map_err(wrong)
}

fn month(text: &str) -> Result<Value, Wrong> {
    let text = text.trim();
    match yard::calendar::month_span(text, &jiff::tz::TimeZone::UTC) {
        Some(_) => Ok(Value::String(text.to_owned())),
        None => Err(("is not a month".into(), "a year and a month such as 2027-01".into())),
    }
}

fn plain(text: &str) -> Result<Value, Wrong> {
    if LONGEST_TEXT < text.chars().count() {
        return Err(("is too long".into(), format!("a text of at most {LONGEST_TEXT} characters")));
    }
    Ok(Value::String(text.trim().to_owned()))
}

/// A length written with its own unit, whatever the field's: `55 in`, `4'7"`, `4 ft 7 in`, `1.4 m`, `140 cm`; metres.
/// None for anything else, a plain number too.
fn length_in_words(text: &str) -> Option<f64> {
    const LENGTHS: [(&str, Unit); 12] = [
        ("feet", FOOT),
        ("foot", FOOT),
        ("ft", FOOT),
        ("'", FOOT),
        ("′", FOOT),
        ("’", FOOT),
        ("inches", INCH),
        ("in", INCH),
        ("\"", INCH),
        ("″", INCH),
        ("cm", CENTIMETRE),
        ("mm", MILLIMETRE),
    ];
    let text = text.trim().to_lowercase().replace("''", "\"").replace('”', "\"");
    let mut rest = text.as_str();
    let (mut metres, mut last) = (0.0, f64::INFINITY);
    while !rest.is_empty() {
        let digits = rest.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == ',')).unwrap_or(rest.len());
        let number = parse_number(rest.get(..digits)?).ok()?;
        let unit = rest.get(digits..)?.trim_start();
        let known = LENGTHS.iter().find(|(name, _)| unit.starts_with(name)).copied();
        let known = known.or_else(|| unit.starts_with('m').then_some(("m", METRE)));
        // `4'7` means inches.
        let (name, size) = match known {
            Some((name, unit)) => (name, unit.to_base(1.0)),
            None if unit.is_empty() && (last - FOOT.to_base(1.0)).abs() < 1e-9 => ("", INCH.to_base(1.0)),
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
