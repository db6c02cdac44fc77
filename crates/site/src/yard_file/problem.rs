//! One thing wrong with a yard file.

use std::fmt;

/// Newest layout of the file that is understood.
pub const NEWEST_FORMAT: i64 = 1;

/// One thing wrong with a yard file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Name of the file, as given to [`read_yard`].
    pub file: String,
    /// Line, counted from 1.
    pub line: usize,
    /// Where in the file: `plant.making_rate_gal_h`, `tank[2].diameter_ft` (counted from 1). Empty when the text is
    /// not TOML at all.
    pub key: String,
    /// What stands there, as written.
    pub value: Option<String>,
    /// What is wrong with it.
    pub message: String,
    /// What is accepted.
    pub accepted: Option<String>,
    /// What may be meant.
    pub suggestion: Option<String>,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}: ", self.file, self.line)?;
        if !self.key.is_empty() {
            write!(f, "{}", self.key)?;
            if let Some(value) = &self.value {
                write!(f, " = {value}")?;
            }
            write!(f, ": ")?;
        }
        write!(f, "{}", self.message)?;
        if let Some(accepted) = &self.accepted {
            write!(f, "; accepted: {accepted}")?;
        }
        if let Some(suggestion) = &self.suggestion {
            write!(f, "; did you mean \"{suggestion}\"?")?;
        }
        Ok(())
    }
}

impl std::error::Error for Problem {}

message::tell_as_said!(Problem);
