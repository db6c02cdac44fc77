//! Reading the tables under tests/data.

#![allow(
    clippy::unwrap_used,
    dead_code,
    reason = "a test that cannot be set up must stop; each test reads its own tables"
)]

use std::collections::HashMap;

/// A table with named columns.
pub struct Table {
    columns: HashMap<String, usize>,
    pub rows: Vec<csv::StringRecord>,
}

impl Table {
    /// Reads a table of the folder with the tests' data.
    pub fn of(name: &str) -> Self {
        let path = format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
        let mut reader =
            csv::ReaderBuilder::new().comment(Some(b'#')).flexible(true).from_path(path).unwrap();
        let columns = reader
            .headers()
            .unwrap()
            .iter()
            .enumerate()
            .map(|(place, name)| (name.to_owned(), place))
            .collect();
        Self { columns, rows: reader.records().map(Result::unwrap).collect() }
    }

    /// A cell's text.
    pub fn text<'r>(&self, row: &'r csv::StringRecord, column: &str) -> &'r str {
        row.get(self.columns[column]).unwrap()
    }

    /// A cell's number; none where it is empty.
    pub fn number(&self, row: &csv::StringRecord, column: &str) -> Option<f64> {
        let text = self.text(row, column).trim();
        if text.is_empty() { None } else { Some(text.parse().unwrap()) }
    }

    /// A cell's number, which must be there.
    pub fn at(&self, row: &csv::StringRecord, column: &str) -> f64 {
        self.number(row, column).unwrap()
    }
}
