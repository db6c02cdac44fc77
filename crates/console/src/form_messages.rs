//! What is wrong with what a form or an address holds, as messages: the page that refuses it tells them.

use std::fmt::Display;

use message::{Arg, Message, message};

/// A value that is not accepted, with the id of the text that says what is.
pub(crate) fn bad_value(field: &str, value: &str, accepted: &'static str) -> Message {
    message!("console.form.value", field = field, value = value, accepted = Message::new(accepted))
}

/// A field whose value need not be repeated, with the id of the text that says what is accepted.
pub(crate) fn bad_field(field: &str, accepted: &'static str) -> Message {
    message!("console.form.field", field = field, accepted = Message::new(accepted))
}

/// A value that is none of those accepted.
pub(crate) fn bad_choice<T: Display>(
    field: &str,
    value: impl Into<Arg>,
    accepted: impl IntoIterator<Item = T>,
) -> Message {
    let accepted: Vec<String> = accepted.into_iter().map(|one| one.to_string()).collect();
    message!("console.form.value", field = field, value = value, accepted = accepted.join(", "))
}

/// What a reader of forms says, in English, as a message: which field is missing or too many, as far as it tells.
pub(crate) fn unreadable(english: &str) -> Message {
    let named = |before: &str| {
        let (_, rest) = english.split_once(before)?;
        rest.split_once('`').map(|(field, _)| field.to_owned())
    };
    if let Some(field) = named("missing field `") {
        return message!("console.form.missing-field", field = field);
    }
    match named("unknown field `") {
        Some(field) => message!("console.form.no-field", field = field),
        None => message!("console.form.unreadable"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_reader_of_forms_says_names_its_field() {
        let said = [
            (
                "Failed to deserialize form body: missing field `tank`",
                message!("console.form.missing-field", field = "tank"),
            ),
            (
                "Failed to deserialize form: b: unknown field `b`, expected `a`",
                message!("console.form.no-field", field = "b"),
            ),
            (
                "Failed to deserialize query string: invalid digit found in string",
                message!("console.form.unreadable"),
            ),
        ];
        for (english, expected) in said {
            assert_eq!(unreadable(english), expected, "{english}");
        }
    }
}
