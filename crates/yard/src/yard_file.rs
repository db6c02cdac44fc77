//! Reads `yard.toml`: text to a [`Yard`], or everything that is wrong with it at once.
//!
//! - `schema`: the one table of keys, units, defaults, ranges and reasons.
//! - `units`: the endings of keys.
//! - `reader`: one value at a time, with its line.
//! - `build`: values to a yard, and what must hold between them.
//! - `docs`: the sample file and the reference, made from the table.

mod build;
mod docs;
mod reader;
mod schema;
mod units;

use crate::site::Yard;
use std::fmt;

pub(crate) use units::show;

pub use docs::{FieldDoc, field_docs, sample_yard_file, yard_file_reference};

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

/// A layout of a plant as the tables of a yard file, to begin a layout of one's own from.
pub fn layout_tables(layout: &plant::layout::Layout) -> String {
    build::layout_tables(layout)
}

/// Reads a yard file.
///
/// `file_name` is used in the problems only; nothing is opened. Each key, its units, default and accepted range:
/// [`field_docs`]. The time zone is looked up in the time zone data that jiff finds.
///
/// # Errors
/// Every [`Problem`] of the file, by line. Text that is not TOML, or of a newer format, gives exactly one.
pub fn read_yard(text: &str, file_name: &str) -> Result<Yard, Vec<Problem>> {
    build::read(text, file_name)
}
