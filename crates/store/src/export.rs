//! The ledger as text for people and for other programs.

use crate::Row;
use serde_json::{Value, json};

/// One row as JSON, its body an object, its hashes in hexadecimal: one line of a JSON Lines export.
pub fn row_document(row: &Row) -> Value {
    json!({
        "seq": row.seq,
        "id": row.id,
        "kind": row.kind,
        "version": row.version,
        "occurred_at": row.occurred_at,
        "recorded_at": row.recorded_at,
        "author": row.author,
        "device": row.device,
        "body": serde_json::from_str::<Value>(&row.body).unwrap_or_else(|_| Value::String(row.body.clone())),
        "previous": row.previous.to_string(),
        "hash": row.hash.to_string(),
    })
}

/// Columns of a CSV export.
pub const CSV_COLUMNS: [&str; 11] = [
    "seq",
    "id",
    "kind",
    "version",
    "occurred_at",
    "recorded_at",
    "author",
    "device",
    "body",
    "previous",
    "hash",
];

/// One row's cells for a CSV export. A cell that a spreadsheet would run as a formula is led by an apostrophe.
pub fn row_cells(row: &Row) -> [String; 11] {
    let safe = |text: &str| match text.chars().next() {
        Some('=' | '+' | '-' | '@' | '\t' | '\r') => format!("'{text}"),
        _ => text.to_string(),
    };
    [
        row.seq.to_string(),
        row.id.clone(),
        row.kind.clone(),
        row.version.to_string(),
        row.occurred_at.clone(),
        row.recorded_at.clone(),
        safe(&row.author),
        safe(&row.device),
        row.body.clone(),
        row.previous.to_string(),
        row.hash.to_string(),
    ]
}
