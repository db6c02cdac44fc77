//! Errors of the libraries as English sentences.
//!
//! Where a yard is known its own [`Display`] tells them, in its units and by its clock; everywhere else [`sentence`]
//! does, in US units and UTC.

use jiff::tz::TimeZone;
use message::{Message, Tell};
use report::Display;
use site::UnitSystem;

/// The sentence of an error, in US units and UTC.
pub fn sentence(error: &impl Tell) -> String {
    english(&error.message())
}

/// The sentence of an error in a table, whose columns are SI.
pub fn in_a_table(error: &impl Tell) -> String {
    Display::new(UnitSystem::Si, TimeZone::UTC).tell(&error.message())
}

/// One line for each of several errors, in a yard's units and by its clock.
pub fn lines<E: Tell>(display: &Display, errors: &[E]) -> String {
    errors.iter().map(|error| display.tell(&error.message())).collect::<Vec<_>>().join("\n  ")
}

/// Why a number could not be read, and what is accepted.
pub fn not_read((problem, accepted): (Message, Message)) -> String {
    format!("{}; accepted: {}", english(&problem), english(&accepted))
}

/// The nearest of some names, to append to a sentence; empty when none is near.
pub fn did_you_mean<'a>(typed: &str, names: impl Iterator<Item = &'a str>) -> String {
    entry::nearest(typed, names).map_or_else(String::new, |name| format!("; did you mean \"{name}\"?"))
}

/// A message as an English sentence, in US units and UTC.
pub fn english(message: &Message) -> String {
    Display::new(UnitSystem::Us, TimeZone::UTC).tell(message)
}
