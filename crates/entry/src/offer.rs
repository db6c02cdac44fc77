//! What was likely meant where something else was typed: a comma among thousands, a unit beside the number, a decimal
//! point left out, a fraction for a per cent, a name misspelled.

use event::{Body, Field, Figure, Holds, Kind, Quantity};
use site::Yard;

use super::problem::{EntryProblem, nearest, parse_number};
use super::typed;

/// Values offered for one field at most.
const MOST: usize = 2;

/// Gives each problem of a field the value that was likely meant, where the entry with it in that place is not refused
/// for that field. `read` reads an entry.
pub(super) fn offer(
    kind: &Kind,
    fields: &[(String, String)],
    yard: &Yard,
    problems: &mut [EntryProblem],
    read: impl Fn(&[(String, String)]) -> Result<Body, Vec<EntryProblem>>,
) {
    for problem in problems {
        let is_of = |field: &&Field| {
            let names = field.names();
            let has = |name: &str| field.stem() == name || names.iter().any(|(known, _)| known == name);
            has(&problem.field) && fields.iter().any(|(name, text)| has(name) && !text.trim().is_empty())
        };
        let Some(field) = kind.fields.iter().chain(kind.helpers).find(is_of) else { continue };
        let names = field.names();
        let is_it = |name: &str| field.stem() == name || names.iter().any(|(known, _)| known == name);
        let Some(place) = fields.iter().position(|(name, text)| is_it(name) && !text.trim().is_empty())
        else {
            continue;
        };
        let is_taken = |meant: &String| {
            let mut other = fields.to_vec();
            other[place].1.clone_from(meant);
            match read(&other) {
                Ok(_) => true,
                Err(left) => left.iter().all(|one| !is_it(&one.field)),
            }
        };
        problem.offers =
            candidates(field, &fields[place].1, yard).into_iter().filter(is_taken).take(MOST).collect();
    }
}

/// Values that may have been meant, likeliest first.
fn candidates(field: &Field, text: &str, yard: &Yard) -> Vec<String> {
    match field.spec.holds {
        Holds::Figure(figure) => figures(figure, text.trim()),
        Holds::OneOf(..) | Holds::Name(_) => {
            let names = typed::choices(field, yard);
            nearest(text.trim(), names.iter().map(String::as_str)).map(str::to_owned).into_iter().collect()
        }
        _ => Vec::new(),
    }
}

fn figures(figure: Figure, text: &str) -> Vec<String> {
    let plain = without_marks(text);
    let mut meant: Vec<String> = plain.iter().filter(|plain| **plain != text).cloned().collect();
    let Some(plain) = plain else { return meant };
    let Ok(value) = parse_number(&plain) else { return meant };
    // A stick is often read in inches.
    if figure.quantity == Quantity::Depth && plain == text {
        meant.push(format!("{plain} in"));
    }
    if figure.quantity == Quantity::Percent && 0.0 < value && value < 1.0 {
        meant.push(super::plain_number(100.0 * value));
    }
    // A point left out: only where a field has narrow limits of its own.
    let is_narrow = matches!(
        figure.quantity,
        Quantity::Depth | Quantity::Percent | Quantity::Temperature | Quantity::Number
    );
    if is_narrow && plain.chars().filter(char::is_ascii_digit).count() > 1 && !plain.contains('.') {
        let digits = plain.len() - usize::from(plain.starts_with('-'));
        meant.extend((1..digits.min(4)).map(|places| {
            let (whole, part) = plain.split_at(plain.len() - places);
            let text = format!("{whole}.{part}");
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        }));
    }
    meant
}

/// A number without marks between its thousands, blanks, and a unit behind it; none where that is no number.
fn without_marks(text: &str) -> Option<String> {
    let number = text.trim_end_matches(|c: char| !c.is_ascii_digit());
    let is_unit = text[number.len()..].chars().all(|c| c.is_alphabetic() || " .°%\u{a0}/".contains(c));
    if number.is_empty() || !is_unit {
        return None;
    }
    let mut parts = number.split([',', ' ', '\u{a0}', '\u{202f}', '’', '\'']);
    let first = parts.next()?;
    let rest: Vec<&str> = parts.collect();
    let is_three = |part: &&str| part.split('.').next().is_some_and(|whole| whole.len() == 3);
    let joined =
        if rest.iter().all(is_three) { first.to_owned() + &rest.concat() } else { number.replace(',', ".") };
    parse_number(&joined).ok().map(|_| joined)
}

#[cfg(test)]
mod tests {
    use super::without_marks;

    #[test]
    fn marks_between_thousands_and_units_are_left_out() {
        let read = |text: &str| without_marks(text);
        for (text, meant) in [
            ("1,234", Some("1234")),
            ("1,234.5", Some("1234.5")),
            ("1 250 gal", Some("1250")),
            ("46°F", Some("46")),
            ("46 °F", Some("46")),
            ("23,3 %", Some("23.3")),
            ("4", Some("4")),
            ("deep", None),
            ("4 ft 7 in", None),
            ("", None),
        ] {
            assert_eq!(read(text).as_deref(), meant, "{text}");
        }
    }
}
