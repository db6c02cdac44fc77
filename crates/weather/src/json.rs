//! Steps into JSON that remember where they are, so that a message can name the path.

use crate::clock;
use crate::error::{ErrorKind, Place, ReadError};
use jiff::Timestamp;
use message::{Arg, Message, message};
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
        other => Err(wrong(
            path,
            message!("weather.not-a-number"),
            other,
            message!("weather.accepted.number-or-null"),
        )),
    }
}

/// The array under a key, which must be there.
pub(crate) fn array<'a>(parent: &'a Value, key: &str, path: &str) -> Result<&'a [Value], ReadError> {
    match parent.get(key) {
        Some(Value::Array(items)) => Ok(items),
        Some(other) => {
            let (what, accepted) = (message!("weather.not-a-list"), message!("weather.accepted.list"));
            Err(wrong(format_args!("{path}.{key}"), what, other, accepted))
        }
        None => Err(absent(format_args!("{path}.{key}"), message!("weather.accepted.list"))),
    }
}

/// The text under a key, which must be there.
pub(crate) fn text<'a>(parent: &'a Value, key: &str, path: &str) -> Result<&'a str, ReadError> {
    match parent.get(key) {
        Some(Value::String(text)) => Ok(text),
        Some(other) => {
            let (what, accepted) = (message!("weather.not-text"), message!("weather.accepted.text"));
            Err(wrong(format_args!("{path}.{key}"), what, other, accepted))
        }
        None => Err(absent(format_args!("{path}.{key}"), message!("weather.accepted.text"))),
    }
}

/// A time with an offset under a key, which must be there.
pub(crate) fn time(parent: &Value, key: &str, path: &str) -> Result<Timestamp, ReadError> {
    let found = text(parent, key, path)?;
    clock::with_offset(found).ok_or_else(|| {
        ReadError::new(
            ErrorKind::BadValue,
            Place::Path(format!("{path}.{key}")),
            message!("weather.not-a-time"),
            found,
            message!("weather.accepted.time-with-offset"),
        )
    })
}

/// A refusal of a value of the wrong type.
pub(crate) fn wrong(
    path: std::fmt::Arguments<'_>,
    what: Message,
    found: &Value,
    accepted: impl Into<Arg>,
) -> ReadError {
    ReadError::new(ErrorKind::BadValue, Place::Path(path.to_string()), what, &found.to_string(), accepted)
}

fn absent(path: std::fmt::Arguments<'_>, accepted: Message) -> ReadError {
    let what = message!("weather.part-missing");
    ReadError::new(ErrorKind::MissingPart, Place::Path(path.to_string()), what, "", accepted)
}

/// A refusal of a time that lies before the one above it.
pub(crate) fn out_of_order(path: std::fmt::Arguments<'_>, found: Timestamp, before: Timestamp) -> ReadError {
    ReadError::new(
        ErrorKind::TimeOrder,
        Place::Path(path.to_string()),
        message!("weather.time-order"),
        &found.to_string(),
        message!("weather.accepted.times-from", before = before),
    )
}
