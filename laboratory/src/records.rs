//! Data files: comma-separated, comments behind a hash sign.

use std::collections::BTreeMap;

/// The rows of a file by the names of their columns.
pub(crate) fn records(all: &str) -> Result<Vec<BTreeMap<String, String>>, String> {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(all.as_bytes());
    let header = reader.headers().map_err(|e| e.to_string())?.clone();
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| e.to_string())?;
        rows.push(header.iter().map(String::from).zip(record.iter().map(String::from)).collect());
    }
    Ok(rows)
}
