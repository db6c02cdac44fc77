//! The reader of the outside data in `tests/data`, shared by the tests beside it.

#![allow(dead_code, reason = "each test file uses its own part")]

use std::collections::BTreeMap;
use std::path::Path;

use chemistry::{Brine, MassFraction, Salt};

/// What the head of a data file must say, besides at least one `# source key: citation`.
const HEAD: [&str; 4] = ["# units: ", "# transcribed: ", "# licence: ", "# date: "];

/// One row, by column name.
pub struct Row(BTreeMap<String, String>);

impl Row {
    /// A cell as text.
    pub fn text(&self, column: &str) -> &str {
        self.0.get(column).unwrap_or_else(|| panic!("no column {column}"))
    }

    /// A cell as a number.
    pub fn number(&self, column: &str) -> f64 {
        self.optional(column).unwrap_or_else(|| panic!("{column} is empty in {:?}", self.0))
    }

    /// A cell as a number, where it may be empty.
    pub fn optional(&self, column: &str) -> Option<f64> {
        let text = self.text(column);
        (!text.is_empty()).then(|| text.parse().unwrap_or_else(|_| panic!("{column} = {text}")))
    }

    /// The key of the row's source, declared in the head of its file.
    pub fn source(&self) -> &str {
        self.text("source")
    }

    /// The row for a message.
    pub fn shown(&self) -> String {
        self.0.iter().map(|(name, cell)| format!("{name} {cell}")).collect::<Vec<_>>().join(", ")
    }
}

/// All rows of a data file.
pub fn rows(file: &str) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(file);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{file}: {e}"));
    parse(&text).unwrap_or_else(|e| panic!("{file}: {e}"))
}

/// The rows of one source; there must be some.
pub fn rows_of(file: &str, source: &str) -> Vec<Row> {
    let found: Vec<Row> = rows(file).into_iter().filter(|row| row.source() == source).collect();
    assert!(!found.is_empty(), "{file} has no row of {source}");
    found
}

/// Reads a data file, refusing one that does not say where it comes from.
pub fn parse(text: &str) -> Result<Vec<Row>, String> {
    let head: Vec<&str> = text.lines().take_while(|line| line.starts_with('#')).collect();
    if let Some(missing) = HEAD.iter().find(|part| !head.iter().any(|line| line.starts_with(**part))) {
        return Err(format!("the head lacks \"{missing}\""));
    }
    let sources: Vec<&str> = head
        .iter()
        .filter_map(|line| line.strip_prefix("# source ")?.split_once(": "))
        .filter(|(_, citation)| !citation.is_empty())
        .map(|(key, _)| key)
        .collect();
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
    let header = reader.headers().map_err(|e| e.to_string())?.clone();
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| e.to_string())?;
        let row = Row(header.iter().map(String::from).zip(record.iter().map(String::from)).collect());
        if !sources.contains(&row.source()) {
            return Err(format!("the head does not declare source \"{}\"", row.source()));
        }
        rows.push(row);
    }
    if rows.is_empty() { Err("no rows".into()) } else { Ok(rows) }
}

/// Sodium chloride brine of a strength, per cent by mass.
pub fn brine(percent: f64) -> Brine {
    Brine::sodium_chloride(MassFraction::from_percent(percent).unwrap()).unwrap()
}

/// Fails with the row, its source and both values when they differ by more than a tolerance.
#[track_caller]
pub fn held(row: &Row, found: f64, expected: f64, tolerance: f64) {
    let off = found - expected;
    assert!(off.abs() <= tolerance, "{}: {found}, off by {off}, tolerance {tolerance}", row.shown());
}

/// The salt of a formula.
pub fn salt_of(formula: &str) -> Salt {
    Salt::ALL
        .into_iter()
        .find(|salt| salt.formula() == formula)
        .unwrap_or_else(|| panic!("no salt {formula}"))
}

/// Brine of one salt.
pub fn brine_of(salt: Salt, percent: f64) -> Brine {
    blend(&[(salt, percent)])
}

/// Brine of several salts, in per cent by mass.
pub fn blend(parts: &[(Salt, f64)]) -> Brine {
    let parts: Vec<(Salt, MassFraction)> =
        parts.iter().map(|(salt, percent)| (*salt, MassFraction::from_percent(*percent).unwrap())).collect();
    Brine::blend(&parts).unwrap()
}
