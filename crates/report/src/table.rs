//! Tables that a page shows, a printer prints, and a spreadsheet takes: one definition for all.

use quantity::units::{GALLON, KILOGRAM, KILOMETRE, LITRE, MILE, POUND, Unit};
use rust_xlsxwriter::{Format, Workbook, XlsxError};
use site::UnitSystem;

use crate::display::number;
use crate::{Display, Words};

/// Most characters of a text in a workbook's cell.
const MOST_IN_CELL: usize = 32_000;

/// What a column holds, and the unit its numbers are kept in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Text, shown as it is.
    Text,
    /// Volume at 60 °F, m³.
    Volume,
    /// Mass, kg.
    Mass,
    /// Length of lane, m.
    Lane,
    /// A number of things.
    Count,
    /// US dollars, with cents.
    Dollars,
    /// A length of time, hours.
    Hours,
    /// Mass per volume, mg/L.
    MilligramsPerLitre,
    /// A share, per cent.
    Percent,
}

impl Kind {
    /// Unit of a quantity that is kept in one and shown in another; none for what is shown as it is.
    fn reading(self, units: UnitSystem) -> Option<Unit> {
        let (us, si) = match self {
            Kind::Volume => (GALLON, LITRE),
            Kind::Mass => (POUND, KILOGRAM),
            Kind::Lane => (MILE.named("lane_mi", "lane-mi"), KILOMETRE.named("lane_km", "lane-km")),
            _ => return None,
        };
        Some(match units {
            UnitSystem::Us => us,
            UnitSystem::Si => si,
        })
    }

    /// Unit as a reader sees it; empty for words and counts.
    pub fn unit(self, units: UnitSystem) -> &'static str {
        match self {
            Kind::Dollars => "$",
            Kind::Hours => "h",
            Kind::MilligramsPerLitre => "mg/L",
            Kind::Percent => "%",
            _ => self.reading(units).map_or("", |unit| unit.symbol),
        }
    }

    /// A number in the reader's unit.
    fn shown(self, value: f64, units: UnitSystem) -> f64 {
        self.reading(units).map_or(value, |unit| unit.of_base(value))
    }

    fn decimals(self) -> usize {
        match self {
            Kind::Lane | Kind::Hours | Kind::Percent => 1,
            Kind::Dollars => 2,
            _ => 0,
        }
    }
}

/// Label and kind of one column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// What stands above it, without unit.
    pub label: String,
    /// What it holds.
    pub kind: Kind,
}

/// One value of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Text, already in the reader's language.
    Text(String),
    /// A number in the unit of its column's kind.
    Number(f64),
    /// Nothing to say.
    Blank,
}

impl From<f64> for Cell {
    fn from(value: f64) -> Self {
        Cell::Number(value)
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Cell::Text(text.to_owned())
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Cell::Text(text)
    }
}

impl<T: Into<Cell>> From<Option<T>> for Cell {
    fn from(value: Option<T>) -> Self {
        value.map_or(Cell::Blank, Into::into)
    }
}

/// One line of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// As many cells as columns.
    pub cells: Vec<Cell>,
    /// A sum of those above.
    pub is_total: bool,
    /// What the row adds to the stock above it in the first column of numbers, or takes from it; none for other rows.
    pub step: Option<f64>,
}

/// A table of a report, before it is formatted for a page, print, CSV or a spreadsheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Short name, for a file or a sheet: letters and dashes.
    pub key: &'static str,
    /// What stands above it.
    pub title: String,
    /// Columns from left to right.
    pub columns: Vec<Column>,
    /// Rows from top to bottom, totals among them.
    pub rows: Vec<Row>,
    /// What a reader must know of it.
    pub notes: Vec<String>,
}

impl Table {
    /// A table without rows.
    pub fn new(key: &'static str, title: &str, columns: &[(&str, Kind)]) -> Self {
        let columns = columns.iter().map(|(label, kind)| Column { label: (*label).to_owned(), kind: *kind });
        Self { key, title: title.to_owned(), columns: columns.collect(), rows: Vec::new(), notes: Vec::new() }
    }

    /// Adds a row.
    pub fn row(&mut self, cells: Vec<Cell>) {
        self.rows.push(Row { cells, is_total: false, step: None });
    }

    /// Adds a row that changes the stock of the row above by so much.
    pub fn step(&mut self, cells: Vec<Cell>, change: f64) {
        self.rows.push(Row { cells, is_total: false, step: Some(change) });
    }

    /// Adds a sum.
    pub fn total(&mut self, cells: Vec<Cell>) {
        self.rows.push(Row { cells, is_total: true, step: None });
    }

    /// Column heads with their units, as a reader sees them.
    pub fn heads(&self, units: UnitSystem) -> Vec<String> {
        let head = |column: &Column| match column.kind.unit(units) {
            "" => column.label.clone(),
            unit => format!("{}, {unit}", column.label),
        };
        self.columns.iter().map(head).collect()
    }

    /// The same in the reader's language; files keep the names other programs know.
    pub fn heads_in(&self, units: UnitSystem, words: &Words) -> Vec<String> {
        let heads = self.heads(units).into_iter();
        let of_lane = |head: String, unit: &str, key: &str| match head.strip_suffix(unit) {
            Some(label) => format!("{label}{}", words.say(key)),
            None => head,
        };
        heads
            .map(|head| of_lane(head, "lane-mi", "unit.lane-mi"))
            .map(|head| of_lane(head, "lane-km", "unit.lane-km"))
            .collect()
    }

    /// A cell as a reader sees it: rounded and grouped, without unit.
    pub fn shown(&self, column: usize, cell: &Cell, units: UnitSystem) -> String {
        match (cell, self.columns.get(column)) {
            (Cell::Text(text), _) => text.clone(),
            (Cell::Number(value), Some(column)) => {
                number(column.kind.shown(*value, units), column.kind.decimals())
            }
            _ => String::new(),
        }
    }

    /// The table as CSV (RFC 4180), numbers unrounded in the reader's units. Text that a spreadsheet would take for a
    /// formula is written so that it stays text.
    ///
    /// # Errors
    /// When the writer fails.
    pub fn csv(&self, display: &Display) -> Result<String, csv::Error> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(self.heads(display.units))?;
        for row in &self.rows {
            let cell = |(column, cell): (&Column, &Cell)| match cell {
                Cell::Text(text) => plain(text),
                Cell::Number(value) => {
                    let shown = column.kind.shown(*value, display.units);
                    // Six decimals are past any pound, and keep the noise of binary fractions out.
                    let rounded = (shown * 1e6).round() / 1e6;
                    format!("{}", if rounded.abs() < 1e-9 { 0.0 } else { rounded })
                }
                Cell::Blank => String::new(),
            };
            writer.write_record(self.columns.iter().zip(&row.cells).map(cell))?;
        }
        let bytes = writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }
}

/// Text that no spreadsheet runs: a leading sign of a formula gets an apostrophe before it.
fn plain(text: &str) -> String {
    let risky = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    if risky { format!("'{text}") } else { text.to_owned() }
}

/// Tables as a workbook, one sheet each.
///
/// # Errors
/// When the writer fails.
pub fn workbook(title: &str, tables: &[Table], display: &Display) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let bold = Format::new().set_bold();
    for table in tables {
        let sheet = book.add_worksheet();
        sheet.set_name(table.key.chars().take(31).collect::<String>())?;
        sheet.write_with_format(0, 0, title, &bold)?;
        sheet.write(1, 0, &table.title)?;
        let heads = table.heads(display.units);
        for (column, head) in (0u16..).zip(&heads) {
            sheet.write_with_format(2, column, head, &bold)?;
        }
        let mut line = 3_u32;
        for row in &table.rows {
            for (column, cell) in (0u16..).zip(&row.cells) {
                let Some(kind) = table.columns.get(usize::from(column)).map(|column| column.kind) else {
                    continue;
                };
                let format = match (kind.decimals(), row.is_total) {
                    (0, false) => Format::new().set_num_format("#,##0"),
                    (0, true) => Format::new().set_num_format("#,##0").set_bold(),
                    (1, is_total) => weight("#,##0.0", is_total),
                    (_, is_total) => weight("#,##0.00", is_total),
                };
                match cell {
                    Cell::Text(text) => {
                        // A cell of a workbook holds 32,767 characters.
                        let text: String = text.chars().take(MOST_IN_CELL).collect();
                        sheet.write_string_with_format(line, column, text, &format)?
                    }
                    Cell::Number(value) => sheet.write_number_with_format(
                        line,
                        column,
                        kind.shown(*value, display.units),
                        &format,
                    )?,
                    Cell::Blank => continue,
                };
            }
            line += 1;
        }
        for note in &table.notes {
            line += 1;
            sheet.write(line, 0, note)?;
        }
        sheet.autofit();
    }
    book.save_to_buffer()
}

fn weight(format: &str, is_bold: bool) -> Format {
    let format = Format::new().set_num_format(format);
    if is_bold { format.set_bold() } else { format }
}

/// An address as a QR code, as SVG: dark on light whatever the page's colours, with the quiet zone readers need.
///
/// # Errors
/// When the text is too long for a code.
pub fn qr(text: &str, says: &str) -> Result<String, qrcode::types::QrError> {
    let code = qrcode::QrCode::new(text.as_bytes())?;
    let width = code.width();
    let quiet = 4;
    let side = width + 2 * quiet;
    let mut path = String::new();
    for (place, color) in code.to_colors().iter().enumerate() {
        if *color == qrcode::Color::Dark {
            let (x, y) = (quiet + place % width, quiet + place / width);
            path.push_str(&format!("M{x} {y}h1v1h-1z"));
        }
    }
    let says = says.replace('&', "&amp;").replace('<', "&lt;").replace('"', "&quot;");
    Ok(format!(
        "<svg class=\"qr\" viewBox=\"0 0 {side} {side}\" role=\"img\" aria-label=\"{says}\" \
         shape-rendering=\"crispEdges\">\
         <path class=\"qr-light\" d=\"M0 0h{side}v{side}H0z\"/><path class=\"qr-dark\" d=\"{path}\"/></svg>"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::tz::TimeZone;

    fn table() -> Table {
        let mut table = Table::new("salt", "Salt", &[("What", Kind::Text), ("Mass", Kind::Mass)]);
        table.row(vec!["=1+1".into(), 453.592_37.into()]);
        table.total(vec!["all, \"so far\"".into(), Cell::Blank]);
        table
    }

    /// One table, three readers: RFC 4180 quoting, an apostrophe before a formula, pounds of 0.45359237 kg (NIST
    /// Handbook 44).
    #[test]
    fn csv_is_plain_and_exact() -> Result<(), csv::Error> {
        let us = Display::new(UnitSystem::Us, TimeZone::UTC);
        assert_eq!(table().csv(&us)?, "What,\"Mass, lb\"\n'=1+1,1000\n\"all, \"\"so far\"\"\",\n");
        let si = Display::new(UnitSystem::Si, TimeZone::UTC);
        assert!(table().csv(&si)?.contains("453.59237"));
        assert_eq!(table().shown(1, &Cell::Number(1000.0), UnitSystem::Us), "2,205");
        Ok(())
    }

    #[test]
    fn a_workbook_is_a_zip() -> Result<(), XlsxError> {
        let us = Display::new(UnitSystem::Us, TimeZone::UTC);
        let bytes = workbook("Season", &[table()], &us)?;
        assert!(bytes.starts_with(b"PK") && bytes.len() > 2000);
        Ok(())
    }
}
