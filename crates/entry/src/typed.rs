//! One field as typed: its name with a unit, its text, made into what the ledger keeps.

use message::{Message, message};
use quantity::units::{CENTIMETRE, FOOT, INCH, METRE, MILLIMETRE, Unit};
use serde_json::{Number, Value};

use super::problem::{EntryProblem, did_you_mean, one_of, parse_number};
use event::{Field, Figure, Holds, Kind, Named, Quantity};
use site::Yard;

/// Longest text of a field, characters.
const LONGEST_TEXT: usize = 60_000;
/// Most figures in one field, and each of them.
const MOST_FIGURES: usize = 100;
const MOST_OF_A_FIGURE: f64 = 1e6;

/// What is wrong, and what is accepted.
type Wrong = (Message, Message);

/// Reads a field: its name as it is kept, and its value in the unit it is kept in.
pub(super) fn read(
    kind: &Kind,
    name: &str,
    text: &str,
    yard: &Yard,
) -> Result<(&'static str, Value), Box<EntryProblem>> {
    let refuse = |(problem, accepted): Wrong| Box::new(EntryProblem::new(name, text, problem, accepted));
    let (field, unit) = find(kind, name, text).ok_or_else(|| refuse(no_such_field(kind, name)))?;
    let value = match field.spec.holds {
        Holds::Figure(figure) => number(figure, unit, text),
        Holds::Figures(_) => figures(unit, text).map(Value::String),
        Holds::OneOf(words, _) => word(field.name, words, text),
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
    (did_you_mean(message!("entry.no-such-field"), name, names()), one_of(names()))
}

/// What a field takes: the words of a choice, else the names that it may be typed under.
pub(super) fn accepted(field: &Field) -> Message {
    match field.spec.holds {
        Holds::OneOf(words, _) => one_of(words),
        _ => one_of(field.names().into_iter().map(|(name, _)| name)),
    }
}

fn number(figure: Figure, unit: Option<Unit>, text: &str) -> Result<Value, Wrong> {
    let is_depth = figure.quantity == Quantity::Depth;
    let in_words = if is_depth { length_in_words(text) } else { None };
    let (kept, unit) = match in_words {
        Some(metres) => (metres, Some(METRE)),
        None => {
            let typed = parse_number(text).map_err(|(what, accepted)| {
                (what, if is_depth { message!("entry.accept-depth") } else { accepted })
            })?;
            (unit.map_or(typed, |unit| unit.to_base(typed)), unit)
        }
    };
    if let Some(wrong) = outside(figure, kept, unit) {
        return Err(wrong);
    }
    let is_infinite = || (message!("entry.not-a-number"), message!("entry.accept-finite"));
    Number::from_f64(without_noise(kept)).map(Value::Number).ok_or_else(is_infinite)
}

/// To twelve decimals and fifteen digits: digits beyond those come from converting units.
pub(super) fn without_noise(kept: f64) -> f64 {
    let read = |text: String| text.parse::<f64>().unwrap_or(kept);
    // No zero below zero.
    read(format!("{:.14e}", read(format!("{kept:.12}")))) + 0.0
}

/// A limit without the digits that converting its unit adds.
fn to_nine_decimals(limit: f64) -> f64 {
    format!("{limit:.9}").parse().unwrap_or(limit)
}

/// What is wrong with a figure, and what is accepted in the unit it was typed in; none for one within its limits.
fn outside(figure: Figure, kept: f64, unit: Option<Unit>) -> Option<Wrong> {
    let shown = |limit: f64| to_nine_decimals(unit.map_or(limit, |unit| unit.of_base(limit)));
    let with_unit = |range: Message| match unit {
        Some(unit) => message!("entry.with-unit", range = range, unit = unit.symbol),
        None => range,
    };
    let (low, high) = (shown(figure.low), shown(figure.high));
    // As much as any yard has of it: no limit of this field's own.
    let is_usual = figure.quantity.limits().1 <= figure.high && figure.quantity != Quantity::Percent;
    let within = || match (figure.is_above_low, is_usual) {
        (true, true) => message!("entry.accept-above-zero"),
        (true, false) => with_unit(message!("entry.accept-above-zero-to", high = high)),
        (false, _) => with_unit(message!("entry.accept-range", low = low, high = high)),
    };
    let out_of_range = || Some((message!("entry.out-of-range"), within()));
    let slack = 1e-9 * figure.low.abs().max(figure.high.abs()).min(1e6);
    if figure.high + slack < kept {
        if is_usual {
            let accepted = with_unit(message!("entry.accept-at-most", high = high));
            return Some((message!("entry.beyond-any-yard"), accepted));
        }
        return out_of_range();
    }
    if figure.is_above_low && kept.abs() <= slack {
        return Some((message!("entry.not-above-zero"), within()));
    }
    if kept < figure.low - slack {
        if figure.low == 0.0 && is_usual {
            return Some((message!("entry.below-zero"), message!("entry.accept-zero-or-void")));
        }
        return out_of_range();
    }
    None
}

/// Several figures in one field, with blanks or semicolons between them.
fn figures(unit: Option<Unit>, text: &str) -> Result<String, Wrong> {
    let parts = text.split([' ', ';', '\n', '\t']).map(str::trim).filter(|part| !part.is_empty());
    let figures: Vec<f64> = parts.map(parse_number).collect::<Result<_, _>>()?;
    if figures.len() > MOST_FIGURES || figures.iter().any(|figure| !(0.0..MOST_OF_A_FIGURE).contains(figure))
    {
        let accepted = message!("entry.accept-figures", most = MOST_FIGURES);
        return Err((message!("entry.no-catch"), accepted));
    }
    let kept = figures.iter().map(|figure| unit.map_or(*figure, |unit| unit.to_base(*figure)).to_string());
    Ok(kept.collect::<Vec<_>>().join(" "))
}

fn word(field: &str, words: &[&str], text: &str) -> Result<Value, Wrong> {
    let text = text.trim();
    if words.contains(&text) {
        return Ok(Value::String(text.to_owned()));
    }
    let problem = message!("entry.no-such-word", field = field);
    Err((did_you_mean(problem, text, words.iter().copied()), one_of(words)))
}

/// A name that the yard file knows.
fn known(named: Named, yard: &Yard, text: &str) -> Result<Value, Wrong> {
    let text = text.trim();
    let Some((problem, names)) = names(named, yard) else { return plain(text) };
    if names.iter().any(|known| known == text) {
        return Ok(Value::String(text.to_owned()));
    }
    Err((did_you_mean(problem, text, names.iter().map(String::as_str)), one_of(&names)))
}

/// The names that are known, and what is said of another; none where any text will do.
fn names(named: Named, yard: &Yard) -> Option<(Message, Vec<String>)> {
    Some(match named {
        Named::Tank => (message!("entry.no-such-tank"), ids(&yard.tanks, |one| &one.id)),
        Named::Truck => (message!("entry.no-such-truck"), ids(&yard.trucks, |one| &one.id)),
        Named::Route => (message!("entry.no-such-route"), ids(&yard.routes, |one| &one.id)),
        Named::Road => {
            let mut roads = ids(&yard.route_classes, |one| &one.id);
            roads.extend(ids(&yard.segments, |one| &one.id));
            (message!("entry.no-such-road"), roads)
        }
        Named::Product => (message!("entry.no-such-product"), ids(&yard.products, |one| &one.id)),
        Named::MeterOrAny if yard.meters.is_empty() => return None,
        Named::Meter | Named::MeterOrAny => {
            (message!("entry.no-such-meter"), ids(&yard.meters, |one| &one.id))
        }
        Named::Chore => (message!("entry.no-such-task"), ids(&site::chores::chores(yard), |one| &one.id)),
        Named::Watershed => (message!("entry.no-such-watershed"), ids(&yard.watersheds, |one| &one.id)),
        Named::Instrument => (message!("entry.no-such-instrument"), ids(&yard.instruments, |one| &one.id)),
        Named::Scale => {
            let scales = bench::register::registered().into_iter().map(str::to_owned).collect();
            (message!("entry.no-such-scale"), scales)
        }
        Named::Liquid | Named::Agency => return None,
    })
}

/// Words or names that a field takes; none where it takes other things.
pub(super) fn choices(field: &Field, yard: &Yard) -> Vec<String> {
    match field.spec.holds {
        Holds::OneOf(words, _) => words.iter().map(|word| (*word).to_owned()).collect(),
        Holds::Name(named) => names(named, yard).map(|(_, names)| names).unwrap_or_default(),
        _ => Vec::new(),
    }
}

fn ids<T>(all: &[T], id: fn(&T) -> &String) -> Vec<String> {
    all.iter().map(|one| id(one).clone()).collect()
}

fn event(text: &str) -> Result<Value, Wrong> {
    let id = text
        .parse::<event::EventId>()
        .map_err(|_| (message!("entry.not-an-id"), message!("entry.accept-id")))?;
    Ok(Value::String(id.to_string()))
}

fn time(text: &str) -> Result<Value, Wrong> {
    let wrong = |_| (message!("entry.not-a-time"), one_of(["2027-01-14T22:00:00Z"]));
    text.trim().parse::<jiff::Timestamp>().map(|_| Value::String(text.trim().to_owned())).map_err(wrong)
}

fn month(text: &str) -> Result<Value, Wrong> {
    let text = text.trim();
    match yard::calendar::month_span(text, &jiff::tz::TimeZone::UTC) {
        Some(_) => Ok(Value::String(text.to_owned())),
        None => Err((message!("entry.not-a-month"), message!("entry.accept-month", example = "2027-01"))),
    }
}

fn plain(text: &str) -> Result<Value, Wrong> {
    if LONGEST_TEXT < text.chars().count() {
        return Err((message!("entry.too-long"), message!("entry.accept-text", most = LONGEST_TEXT)));
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
