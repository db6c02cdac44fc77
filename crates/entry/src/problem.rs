//! Why an entry is refused or doubted, and numbers as people type them.

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
/// use entry::parse_number;
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

/// The nearest of some names, as a hint to append; empty when none is near.
pub fn did_you_mean<'a>(typed: &str, names: impl Iterator<Item = &'a str>) -> String {
    names
        .map(|name| (strsim::jaro_winkler(typed, name), name))
        .filter(|(score, _)| *score > 0.75)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map_or_else(String::new, |(_, name)| format!("; did you mean \"{name}\"?"))
}

message::tell_as_said!(EntryProblem);
