//! A table of one property: its rows from a data file, and how it is written.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

use crate::records::records;

/// A table of one property.
pub(crate) struct Table {
    pub(crate) title: &'static str,
    pub(crate) about: String,
    /// Unit of the errors.
    pub(crate) unit: &'static str,
    pub(crate) decimals: usize,
    /// Units of the coordinates of a point.
    pub(crate) axes: &'static [&'static str],
    pub(crate) parts: Vec<Part>,
    pub(crate) points: Vec<Point>,
    pub(crate) notes: Vec<Note>,
}

/// A part of a property's range, with its own tolerance.
pub(crate) struct Part {
    pub(crate) name: String,
    pub(crate) tolerance: f64,
}

/// One comparison of a computed value with a printed one.
pub(crate) struct Point {
    pub(crate) part: usize,
    pub(crate) source: String,
    pub(crate) at: Vec<f64>,
    pub(crate) error: f64,
}

/// A remark on a source of a property, on all parts or one.
pub(crate) struct Note {
    pub(crate) source: &'static str,
    pub(crate) part: Option<usize>,
    pub(crate) text: &'static str,
}

/// A data file: its rows by column, and its sources by key in the order of the head.
pub(crate) struct Data {
    pub(crate) sources: Vec<(String, String)>,
    pub(crate) rows: Vec<BTreeMap<String, String>>,
}

pub(crate) fn render(out: &mut String, table: &Table) -> Result<(), String> {
    push(out, format_args!("\n## {}\n\n{}\n\n", table.title, table.about))?;
    push(
        out,
        format_args!(
            "| Part | Source | Range | n | Mean, {0} | Worst, {0} | At | Tolerance | Met |\n",
            table.unit
        ),
    )?;
    out.push_str("| --- | --- | --- | ---: | ---: | ---: | --- | ---: | --- |\n");
    let mut remarks: Vec<String> = Vec::new();
    for (place, part) in table.parts.iter().enumerate() {
        let mut sources: Vec<&str> = Vec::new();
        for point in table.points.iter().filter(|point| point.part == place) {
            if !sources.contains(&point.source.as_str()) {
                sources.push(&point.source);
            }
        }
        for source in sources {
            let points: Vec<&Point> =
                table.points.iter().filter(|point| point.part == place && point.source == source).collect();
            let remark =
                table.notes.iter().find(|n| n.source == source && n.part.is_none_or(|part| part == place));
            let mark = remark.map_or(String::new(), |remark| {
                let text = format!("`{}`: {}", remark.source, remark.text);
                let number = remarks.iter().position(|known| *known == text).unwrap_or(remarks.len());
                if number == remarks.len() {
                    remarks.push(text);
                }
                format!(" ({})", number + 1)
            });
            push(out, format_args!("{}\n", line(table, part, source, &mark, &points)?))?;
        }
    }
    for (number, remark) in remarks.iter().enumerate() {
        let gap = if number == 0 { "\n" } else { "" };
        push(out, format_args!("{gap}{}. {remark}\n", number + 1))?;
    }
    Ok(())
}

/// One row of a table: a source on a part of the range.
fn line(table: &Table, part: &Part, source: &str, mark: &str, points: &[&Point]) -> Result<String, String> {
    let worst = points
        .iter()
        .copied()
        .reduce(|worst, point| if point.error.abs() > worst.error.abs() { point } else { worst })
        .ok_or("a source without points")?;
    if points.iter().any(|point| !point.error.is_finite()) {
        return Err(format!("{}, {source}: an error that is no number", table.title));
    }
    let mean = points.iter().map(|point| point.error).sum::<f64>() / points.len() as f64;
    let range: Vec<String> =
        table.axes.iter().enumerate().map(|(axis, unit)| span(points, axis, unit)).collect();
    let at: Vec<String> =
        table.axes.iter().zip(&worst.at).map(|(unit, x)| format!("{}{unit}", plain(*x))).collect();
    let met = worst.error.abs() <= part.tolerance;
    let bold = if met { "" } else { "**" };
    Ok(format!(
        "| {} | {bold}`{source}`{bold}{mark} | {} | {} | {} | {bold}{}{bold} | {} | {} | {} |",
        part.name,
        range.join(", "),
        points.len(),
        signed(mean, table.decimals),
        signed(worst.error, table.decimals),
        at.join(", "),
        part.tolerance,
        if met { "yes" } else { "**no**" },
    ))
}

fn span(points: &[&Point], axis: usize, unit: &str) -> String {
    let values = || points.iter().filter_map(|point| point.at.get(axis).copied());
    let (low, high) = (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max));
    if low < high {
        format!("{}…{}{unit}", plain(low), plain(high))
    } else {
        format!("{}{unit}", plain(low))
    }
}

/// A number as the source has it, with a true minus.
fn plain(value: f64) -> String {
    value.to_string().replace('-', "−")
}

/// A number with its sign; one that rounds to nothing has none.
fn signed(value: f64, decimals: usize) -> String {
    let shown = format!("{value:+.decimals$}");
    if shown.bytes().any(|b| (b'1'..=b'9').contains(&b)) {
        shown.replace('-', "−")
    } else {
        shown.trim_start_matches(['+', '-']).to_string()
    }
}

pub(crate) fn part(name: &str, tolerance: f64) -> Part {
    Part { name: name.to_string(), tolerance }
}

pub(crate) fn note(source: &'static str, text: &'static str) -> Note {
    Note { source, part: None, text }
}

pub(crate) fn point(
    row: &BTreeMap<String, String>,
    part: usize,
    at: Vec<f64>,
    error: f64,
) -> Result<Point, String> {
    Ok(Point { part, source: text(row, "source")?.to_string(), at, error })
}

pub(crate) fn push(out: &mut String, what: std::fmt::Arguments<'_>) -> Result<(), String> {
    out.write_fmt(what).map_err(|e| e.to_string())
}

pub(crate) fn text<'a>(row: &'a BTreeMap<String, String>, column: &str) -> Result<&'a str, String> {
    row.get(column).map(String::as_str).ok_or_else(|| format!("no column {column}"))
}

pub(crate) fn number(row: &BTreeMap<String, String>, column: &str) -> Result<f64, String> {
    let cell = text(row, column)?;
    cell.parse().map_err(|_| format!("{column} = \"{cell}\" is no number in {row:?}"))
}

/// Reads a data file whose head declares its sources as `# source key: citation`.
pub(crate) fn read(path: &Path) -> Result<Data, String> {
    let named = |what: String| format!("{}: {what}", path.display());
    let all = std::fs::read_to_string(path).map_err(|e| named(e.to_string()))?;
    let declared = |line: &str| {
        let (key, citation) = line.strip_prefix("# source ")?.split_once(": ")?;
        Some((key.to_string(), citation.to_string()))
    };
    let sources: Vec<(String, String)> = all.lines().filter_map(declared).collect();
    let rows = records(&all).map_err(named)?;
    for row in &rows {
        let source = text(row, "source").map_err(named)?;
        if !sources.iter().any(|(key, _)| key == source) {
            return Err(named(format!("source \"{source}\" is not declared in the head")));
        }
    }
    Ok(Data { sources, rows })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_of_numbers() {
        assert_eq!(signed(-0.000_4, 3), "0.000");
        assert_eq!(signed(0.000_6, 3), "+0.001");
        assert_eq!(signed(-1.25, 1), "−1.2");
    }

    #[test]
    fn a_source_not_declared_is_refused() {
        let folder = std::env::temp_dir().join(format!("brinewright-validation-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let file = folder.join("undeclared.csv");
        std::fs::write(&file, "# source a: somebody\nx,source\n1,b\n").unwrap();
        let refused = read(&file).map(|data| data.rows.len());
        std::fs::remove_dir_all(&folder).unwrap();
        assert!(refused.unwrap_err().contains("\"b\" is not declared"));
    }
}
