//! Steps into JSON that remember where they are, so that a message can name the path.

use crate::clock;
use crate::error::{ErrorKind, ReadError};
use jiff::Timestamp;
use serde_json::Value;

/// A number, or nothing for null and absent.
pub(crate) fn number(parent: &Value, key: &str, path: &str) -> Result<Option<f64>, ReadError> {
    let value = parent.get(key).unwrap_or(&Value::Null);
    as_number(value, format_args!("{path}.{key}"))
}

/// A number, or nothing for null.
pub(crate) fn as_number(value: &Value, path: std::fmt::Arguments<'_>) -> Result<Option<f64>, ReadError> {
    match value {
        Value::Null => Ok(None),
        Value::Number(number) => Ok(number.as_f64()),
        other => Err(wrong(path, "this is not a number", other, "a number or null")),
    }
}

/// The array under a key, which must be there.
pub(crate) fn array<'a>(parent: &'a Value, key: &str, path: &str) -> Result<&'a [Value], ReadError> {
    match parent.get(key) {
        Some(Value::Array(items)) => Ok(items),
        Some(other) => Err(wrong(format_args!("{path}.{key}"), "this is not a list", other, "a list")),
        None => Err(absent(format_args!("{path}.{key}"), "a list")),
    }
}

/// The text under a key, which must be there.
pub(crate) fn text<'a>(parent: &'a Value, key: &str, path: &str) -> Result<&'a str, ReadError> {
    match parent.get(key) {
        Some(Value::String(text)) => Ok(text),
        Some(other) => Err(wrong(format_args!("{path}.{key}"), "this is not text", other, "text")),
        None => Err(absent(format_args!("{path}.{key}"), "text")),
    }
}

/// A time with an offset under a key, which must be there.
pub(crate) fn time(parent: &Value, key: &str, path: &str) -> Result<Timestamp, ReadError> {
    let found = text(parent, key, path)?;
    clock::with_offset(found).ok_or_else(|| {
        ReadError::new(
            ErrorKind::BadValue,
            format_args!("{path}.{key}"),
            "this is not a time",
            found,
            "a date and time with offset, such as 2026-01-14T06:00:00Z",
        )
    })
}

/// A refusal of a value of the wrong sort.
pub(crate) fn wrong(path: std::fmt::Arguments<'_>, what: &str, found: &Value, accepted: &str) -> ReadError {
    ReadError::new(ErrorKind::BadValue, path, what, &found.to_string(), accepted)
}

fn absent(path: std::fmt::Arguments<'_>, accepted: &str) -> ReadError {
    ReadError::new(ErrorKind::MissingPart, path, "this part is absent", "", accepted)
}

/// A refusal of a time that lies before the one above it.
pub(crate) fn out_of_order(path: std::fmt::Arguments<'_>, found: Timestamp, before: Timestamp) -> ReadError {
    ReadError::new(
        ErrorKind::TimeOrder,
        path,
        "the time lies before the one above it",
        &found.to_string(),
        format!("times in rising order, here from {before} on"),
    )
}
