//! Tables as text: comment lines, a header row, and data rows that know their line number.

use crate::error::{ErrorKind, Place, ReadError};
use message::message;

/// One row of cells, trimmed.
#[derive(Debug)]
pub(crate) struct Row<'a> {
    /// Line in the file, from 1.
    pub(crate) line: usize,
    pub(crate) cells: Vec<std::borrow::Cow<'a, str>>,
}

/// A table split into its parts.
#[derive(Debug)]
pub(crate) struct Table<'a> {
    /// The text of the `#` lines, without the mark.
    pub(crate) comments: Vec<&'a str>,
    pub(crate) header: Row<'a>,
    pub(crate) rows: Vec<Row<'a>>,
}

/// The header cells of a text, if it looks like a table: the first line that is neither blank nor a comment.
pub(crate) fn header_of(text: &str) -> Option<Row<'_>> {
    let (number, line) = text.lines().enumerate().find(|(_, line)| is_content(line))?;
    Some(row(number + 1, line, delimiter_of(line)))
}

/// Splits a text into comments, header and rows. Every row must have as many cells as the header.
pub(crate) fn table(text: &str) -> Result<Table<'_>, ReadError> {
    let comments =
        text.lines().filter_map(|line| line.trim_start().strip_prefix('#')).map(str::trim).collect();
    let mut content = text.lines().enumerate().filter(|(_, line)| is_content(line));
    let Some((number, line)) = content.next() else {
        let (what, accepted) = (message!("weather.no-header"), message!("weather.accepted.header"));
        return Err(ReadError::new(ErrorKind::MissingPart, Place::File, what, "", accepted));
    };
    let delimiter = delimiter_of(line);
    let header = row(number + 1, line, delimiter);
    let mut rows = Vec::new();
    for (number, line) in content {
        let row = row(number + 1, line, delimiter);
        if row.cells.len() != header.cells.len() {
            return Err(ReadError::new(
                ErrorKind::Damaged,
                Place::Line(row.line),
                message!("weather.cells", count = row.cells.len()),
                line,
                message!("weather.accepted.cells", count = header.cells.len()),
            ));
        }
        rows.push(row);
    }
    Ok(Table { comments, header, rows })
}

/// Whether a cell means "no value".
pub(crate) fn is_missing(cell: &str) -> bool {
    const WORDS: [&str; 7] = ["", "m", "na", "nan", "null", "-", "//"];
    WORDS.iter().any(|word| cell.eq_ignore_ascii_case(word))
}

fn is_content(line: &str) -> bool {
    let line = line.trim();
    !line.is_empty() && !line.starts_with('#')
}

fn delimiter_of(header: &str) -> char {
    [',', ';', '\t'].into_iter().find(|mark| header.contains(*mark)).unwrap_or(',')
}

/// One line into cells. Lines are read one by one, so that a message can always name the right line.
fn row(line: usize, text: &str, delimiter: char) -> Row<'_> {
    if !text.contains('"') {
        return Row { line, cells: text.split(delimiter).map(|cell| cell.trim().into()).collect() };
    }
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .delimiter(u8::try_from(delimiter).unwrap_or(b','))
        .from_reader(text.as_bytes());
    let record = reader.records().next().and_then(Result::ok).unwrap_or_default();
    Row { line, cells: record.iter().map(|cell| cell.to_owned().into()).collect() }
}
