//! Why an entry is refused or doubted, and numbers as people type them.

use message::{Arg, Message, Tell, message};

/// Why an entry is refused, or doubted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub struct EntryProblem {
    /// Field as typed, without a unit where no single name of it is meant; `entry` for an entry as a whole.
    pub field: String,
    /// Value as typed, or the quantity that it was read as.
    pub value: Arg,
    /// What is wrong.
    pub problem: Message,
    /// What is accepted.
    pub accepted: Message,
    /// What was likely meant, as it would be typed in the same field, likeliest first; empty where nothing is likely.
    pub offers: Vec<String>,
}

impl EntryProblem {
    /// What is wrong with a field, and what is accepted in its place.
    pub fn new(field: &str, value: impl Into<Arg>, problem: Message, accepted: Message) -> Self {
        Self { field: field.to_owned(), value: value.into(), problem, accepted, offers: Vec::new() }
    }

    /// Whether the field was left blank.
    pub fn is_of_blank(&self) -> bool {
        self.value == none()
    }
}

impl Tell for EntryProblem {
    fn message(&self) -> Message {
        message!(
            "entry.problem",
            field = &self.field,
            value = self.value.clone(),
            problem = self.problem.clone(),
            accepted = self.accepted.clone(),
        )
    }
}

/// The value of a field that was left blank.
pub(crate) fn none() -> Arg {
    message!("entry.none").into()
}

/// Reads a number as a person types it: `.` or a single `,` as decimal mark; grouping marks are refused, since `1,234`
/// means two different numbers to two people.
///
/// ```
/// use entry::parse_number;
/// assert_eq!(parse_number("23,3").map(|n| n.to_string()), Ok("23.3".to_string()));
/// assert!(parse_number("1,234").is_err() && parse_number("1,234.5").is_err() && parse_number("nan").is_err());
/// ```
///
/// # Errors
/// What is wrong, and what is accepted.
pub fn parse_number(text: &str) -> Result<f64, (Message, Message)> {
    let text = text.trim();
    let accepted = || message!("entry.number");
    let commas = text.matches(',').count();
    let after_comma = text.rsplit(',').next().map_or(0, str::len);
    if commas > 1 || (commas == 1 && (text.contains('.') || after_comma == 3)) {
        return Err((message!("entry.doubtful-comma"), accepted()));
    }
    match text.replace(',', ".").parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        _ => Err((message!("entry.not-a-number"), accepted())),
    }
}

/// The name that a mistyped one was likely meant to be; none when none is near.
///
/// ```
/// assert_eq!(entry::nearest("stregnth", ["strength", "volume"].into_iter()), Some("strength"));
/// assert_eq!(entry::nearest("x", ["strength", "volume"].into_iter()), None);
/// ```
pub fn nearest<'a>(typed: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    names
        .map(|name| (strsim::jaro_winkler(typed, name), name))
        .filter(|(score, _)| *score > 0.75)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}

/// A problem with a name, and the name that was likely meant.
pub(crate) fn did_you_mean<'a>(
    problem: Message,
    typed: &str,
    names: impl Iterator<Item = &'a str>,
) -> Message {
    match nearest(typed, names) {
        Some(name) => message!("entry.did-you-mean", problem = problem, name = name),
        None => problem,
    }
}

/// The names that are accepted, as they are typed.
pub(crate) fn one_of<S: AsRef<str>>(names: impl IntoIterator<Item = S>) -> Message {
    let names: Vec<String> = names.into_iter().map(|name| name.as_ref().to_owned()).collect();
    message!("entry.one-of", names = names.join(", "))
}
