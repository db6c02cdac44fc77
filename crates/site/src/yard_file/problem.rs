//! One thing wrong with a yard file.

use message::{Message, Tell, message};

/// Newest layout of the file that is understood.
pub const NEWEST_FORMAT: i64 = 1;

/// One thing wrong with a yard file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub struct Problem {
    /// Name of the file, as given to [`super::read_yard`].
    pub file: String,
    /// Line, counted from 1.
    pub line: usize,
    /// Where in the file: `plant.making_rate_gal_h`, `tank[2].diameter_ft` (counted from 1). Empty when the text is
    /// not TOML at all.
    pub key: String,
    /// What stands there, as written.
    pub value: Option<String>,
    /// What is wrong with it.
    pub what: Message,
    /// What is accepted, in the units of the file.
    pub accepted: Option<Message>,
    /// What may be meant: a key, a word or an id, as the file would have it.
    pub suggestion: Option<String>,
}

impl Tell for Problem {
    fn message(&self) -> Message {
        let place = match (self.key.as_str(), &self.value) {
            ("", _) => message!("site.place.line", file = &self.file, line = self.line),
            (key, None) => message!("site.place.key", file = &self.file, line = self.line, key = key),
            (key, Some(value)) => {
                message!("site.place.value", file = &self.file, line = self.line, key = key, value = value)
            }
        };
        let mut told = message!("site.problem", place = place, what = self.what.clone());
        if let Some(accepted) = &self.accepted {
            told = message!("site.problem.accepted", problem = told, accepted = accepted.clone());
        }
        if let Some(suggestion) = &self.suggestion {
            told = message!("site.problem.suggestion", problem = told, suggestion = suggestion);
        }
        told
    }
}

/// Names, words or numbers as the file would have them: the same in every language.
pub(super) fn names(text: impl Into<String>) -> Message {
    message!("site.accepted.names", names = text.into())
}
