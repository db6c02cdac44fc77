//! The sample file and the reference for operators, made from the table of keys.

use super::schema::{Field, Fill, TABLES, Table};
use std::fmt::Write as _;

/// Widest comment line of the sample file.
const WIDTH: usize = 100;

/// What an operator needs to know about one key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldDoc {
    /// Table it stands in; empty for the top of the file.
    pub table: &'static str,
    /// Every key it may be written under; exactly one is given.
    pub keys: Vec<String>,
    /// What it is.
    pub meaning: &'static str,
    /// What holds when it is left out, or `required`.
    pub default: String,
    /// Why that is the default; may be empty.
    pub reason: &'static str,
    /// What is accepted, in the unit of the first key.
    pub accepted: String,
}

/// Every key of the yard file, in the order of the sample file.
pub fn field_docs() -> Vec<FieldDoc> {
    let of_table = |table: &'static Table| {
        table.fields.iter().map(|field| FieldDoc {
            table: table.name,
            keys: field.keys(),
            meaning: field.meaning,
            default: field.default_text(),
            reason: field.reason,
            accepted: field.accepted_in_reference(),
        })
    };
    TABLES.iter().flat_map(of_table).collect()
}

/// A complete yard file with a comment on every key, of an invented yard. Reads without a problem.
pub fn sample_yard_file() -> String {
    let mut out = String::new();
    comment(
        &mut out,
        "A yard file. Put your own figures in place of these, which belong to an invented yard.",
    );
    comment(
        &mut out,
        "A key ends with its unit. Each quantity may be given in any unit listed with it, in one of them only.",
    );
    for table in TABLES {
        let entries = table.fields.iter().map(|field| field.samples.len()).max().unwrap_or(1);
        for entry in 0..entries {
            out.push('\n');
            if !table.name.is_empty() {
                if entry == 0 {
                    let required = if table.required { "Required." } else { "May be left out." };
                    comment(&mut out, &format!("{} {required}", table.meaning));
                }
                out.push_str(&table.header());
                out.push('\n');
            }
            for field in table.fields {
                sample_field(&mut out, field, entry);
            }
        }
    }
    out
}

fn sample_field(out: &mut String, field: &Field, entry: usize) {
    if entry == 0 {
        comment(out, &describe(field));
    }
    let value = field.samples.get(entry).copied().unwrap_or("");
    match value.strip_prefix('#') {
        Some(example) if entry == 0 => out.push_str(&format!("# {} = {example}\n", field.first_key())),
        Some(_) => {}
        None if value.is_empty() => {}
        None => out.push_str(&format!("{} = {value}\n", field.first_key())),
    }
}

/// One field in a sentence or four.
fn describe(field: &Field) -> String {
    let mut text = field.meaning.to_owned();
    match field.fill {
        Fill::Required => text.push_str(" Required."),
        Fill::Otherwise(words) if words.starts_with("required") => {
            text.push_str(&format!(" Required{}.", words.trim_start_matches("required")));
        }
        _ if field.reason.is_empty() => text.push_str(&format!(" Default: {}.", field.default_text())),
        _ => text.push_str(&format!(" Default: {} ({}).", field.default_text(), field.reason)),
    }
    text.push_str(&format!(" Accepted: {}.", field.accepted_in_reference()));
    let keys = field.keys();
    if let Some((_, others @ [_, ..])) = keys.split_first() {
        text.push_str(&format!(" Or: {}.", others.join(", ")));
    }
    text
}

fn comment(out: &mut String, text: &str) {
    let mut line = String::from("#");
    for word in text.split_whitespace() {
        if line.chars().count() + 1 + word.chars().count() > WIDTH {
            out.push_str(&line);
            out.push_str("\n#");
            line.clear();
        }
        line.push(' ');
        line.push_str(word);
    }
    out.push_str(&line);
    out.push('\n');
}

/// The reference of every key, as Markdown: one table per table of the file.
pub fn yard_file_reference() -> String {
    let mut out = String::from("# The yard file\n");
    for table in TABLES {
        let title = if table.name.is_empty() { "Top of the file".to_owned() } else { table.header() };
        // Writing to a String cannot fail.
        let _ = write!(out, "\n## {title}\n\n");
        if !table.meaning.is_empty() {
            let _ = write!(out, "{}\n\n", table.meaning);
        }
        out.push_str("| Key | Meaning | Default | Why | Accepted |\n|---|---|---|---|---|\n");
        for field in table.fields {
            let keys = field.keys().iter().map(|key| format!("`{key}`")).collect::<Vec<_>>().join(", ");
            let _ = writeln!(
                out,
                "| {keys} | {} | {} | {} | {} |",
                field.meaning,
                field.default_text(),
                field.reason,
                field.accepted_in_reference()
            );
        }
    }
    out
}
