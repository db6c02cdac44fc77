//! Reads `yard.toml`: text to a [`Yard`], or everything that is wrong with it at once.
//!
//! - `schema`: the one table of keys, units, defaults, ranges and reasons.
//! - `units`: the endings of keys.
//! - `reader`: one value at a time, with its line.
//! - `tables`: values to a yard, table by table, and what must hold between them.
//! - `docs`: the sample file and the reference, made from the table.

mod docs;
mod problem;
mod reader;
mod schema;
mod tables;
mod units;

use crate::Yard;

pub use problem::{NEWEST_FORMAT, Problem};

pub use docs::{FieldDoc, field_docs, sample_yard_file, yard_file_reference};
pub use units::show;

/// A layout of a plant as the tables of a yard file, to begin a layout of one's own from.
pub fn layout_tables(layout: &plant::layout::Layout) -> String {
    tables::layout_tables(layout)
}

/// Reads a yard file.
///
/// `file_name` is used in the problems only; nothing is opened. Each key, its units, default and accepted range:
/// [`field_docs`]. The time zone is looked up in the time zone data that jiff finds.
///
/// # Errors
/// Every [`Problem`] of the file, by line. Text that is not TOML, or of a newer format, gives exactly one.
pub fn read_yard(text: &str, file_name: &str) -> Result<Yard, Vec<Problem>> {
    tables::read(text, file_name)
}
