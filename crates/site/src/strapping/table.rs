//! A table of tanks and depths, row by row.

use super::{End, EndRatio, LevelError, ShapeError, TankShape};
use csv::StringRecord;
use message::{Message, Tell, message};
use quantity::{Length, Volume, in_cubic_metres, in_metres, metres};

const DIAMETER: &str = "inside_diameter_m";
const STRAIGHT: &str = "straight_length_m";
const ORIENTATION: &str = "orientation";
const SHAPES: [&str; 2] = ["end_A_shape", "end_B_shape"];
const DEPTHS: [&str; 2] = ["end_A_depth_m", "end_B_depth_m"];
const CROWN: &str = "tori_crown_ratio_f";
const KNUCKLE: &str = "tori_knuckle_ratio_k";
const LEVEL: &str = "liquid_depth_m";
const VOLUME: &str = "volume_m3";
const ERROR: &str = "error";

/// The columns every table must have.
const REQUIRED: [&str; 10] =
    [DIAMETER, STRAIGHT, ORIENTATION, SHAPES[0], DEPTHS[0], SHAPES[1], DEPTHS[1], CROWN, KNUCKLE, LEVEL];
const SHAPE_NAMES: &str = "flat, ellipsoidal (or elliptical), hemispherical, conical, torispherical";
/// How far a depth that follows from the other columns may differ from them, m.
const DEPTH_AGREEMENT: f64 = 0.001;

/// Why a whole table is refused. What is wrong with one row stands in that row's `error` column instead.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub enum StrapError {
    /// Nothing in it, not even a header.
    Empty,
    /// A required column is not there.
    MissingColumn {
        /// The column that is not there.
        missing: &'static str,
        /// The columns that are, separated by commas.
        found: String,
        /// The found column that may be meant.
        suggestion: Option<String>,
    },
    /// A column name that stands twice.
    Twice(String),
    /// A line with more fields than the header, so that no field can be trusted to be in its column.
    TooWide {
        /// Line of the table, counted from 1.
        line: u64,
        /// Fields on it.
        fields: usize,
        /// Fields in the header.
        expected: usize,
    },
    /// Not a table at all: what the reader of CSV says, in its own words.
    Unreadable(String),
}

impl Tell for StrapError {
    fn message(&self) -> Message {
        match self {
            StrapError::Empty => message!("site.strap.empty", columns = REQUIRED.join(", ")),
            StrapError::MissingColumn { missing, found, suggestion: None } => {
                message!("site.strap.missing", column = *missing, found = found)
            }
            StrapError::MissingColumn { missing, found, suggestion: Some(name) } => {
                message!("site.strap.misspelt", column = *missing, found = found, name = name)
            }
            StrapError::Twice(column) => message!("site.strap.twice", column = column),
            StrapError::TooWide { line, fields, expected } => {
                message!("site.strap.too_wide", line = *line, fields = *fields, expected = *expected)
            }
            StrapError::Unreadable(reason) => message!("site.strap.unreadable", reason = reason),
        }
    }
}

/// Works out the volume in every row of a table of tanks and liquid depths.
///
/// Needs the columns `inside_diameter_m`, `straight_length_m`, `orientation` (`vertical` or `horizontal`),
/// `end_A_shape`, `end_A_depth_m`, `end_B_shape`, `end_B_depth_m`, `tori_crown_ratio_f`, `tori_knuckle_ratio_k`,
/// `liquid_depth_m`, in any order. End A of a vertical tank is its bottom; its end B is the flat or open top. Depth
/// is needed for ellipsoidal and conical ends, the two ratios for torispherical ones; leave the rest blank. Other
/// columns, and comment lines (`#`) above the header, are passed on as they are.
///
/// Gives back the same rows with `volume_m3` filled in (rewritten where the column exists, else appended). A row
/// that cannot be worked out keeps its place with an empty volume and, in the column `error`, what `tell` makes of the
/// reason; the column is there only when a row needs it or the input had it.
///
/// **Equation**: [`TankShape::volume_at`].
/// **Range**: per row, 0…full inside height.
/// **Error**: [`TankShape::volume_at`]; printed to 1e-9 m³.
/// **Source**: derived here.
///
/// # Errors
/// [`StrapError`] when a column is missing or the text is not a table.
pub fn strap_csv(text: &str, tell: impl Fn(&Message) -> String) -> Result<String, StrapError> {
    let (comments, body) = split_comments(text.strip_prefix('\u{feff}').unwrap_or(text));
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(body.as_bytes());
    let mut records = reader.records();
    let header = records.next().ok_or(StrapError::Empty)?.map_err(unreadable)?;
    let columns = Columns::find(&header)?;

    let mut rows = Vec::new();
    let mut results = Vec::new();
    for record in records {
        let record = record.map_err(unreadable)?;
        if record.len() > header.len() {
            let line = record.position().map_or(0, csv::Position::line);
            let above = comments.lines().count() as u64;
            return Err(StrapError::TooWide {
                line: line + above,
                fields: record.len(),
                expected: header.len(),
            });
        }
        results.push(columns.volume(&record).map_err(|reason| tell(&reason)));
        rows.push(record);
    }
    write(comments, &header, &columns, &rows, &results)
}

fn unreadable(error: csv::Error) -> StrapError {
    StrapError::Unreadable(error.to_string())
}

/// The comment lines above the header, and the rest.
fn split_comments(text: &str) -> (&str, &str) {
    let end = text
        .split_inclusive('\n')
        .take_while(|line| line.starts_with('#') || line.trim().is_empty())
        .map(str::len)
        .sum();
    text.split_at(end)
}

/// Where each column stands.
struct Columns {
    required: [usize; REQUIRED.len()],
    volume: Option<usize>,
    error: Option<usize>,
}

impl Columns {
    fn find(header: &StringRecord) -> Result<Self, StrapError> {
        let names: Vec<&str> = header.iter().map(str::trim).collect();
        let position = |name: &str| names.iter().position(|found| *found == name);
        for name in REQUIRED.iter().chain(&[VOLUME, ERROR]) {
            if names.iter().filter(|found| *found == name).count() > 1 {
                return Err(StrapError::Twice((*name).to_owned()));
            }
        }
        let mut required = [0; REQUIRED.len()];
        for (place, name) in required.iter_mut().zip(REQUIRED) {
            *place = position(name).ok_or_else(|| StrapError::MissingColumn {
                missing: name,
                found: names.join(", "),
                suggestion: closest(name, &names),
            })?;
        }
        Ok(Self { required, volume: position(VOLUME), error: position(ERROR) })
    }

    fn cell<'a>(&self, record: &'a StringRecord, name: &str) -> &'a str {
        REQUIRED
            .iter()
            .position(|column| *column == name)
            .and_then(|index| record.get(self.required[index]))
            .map_or("", str::trim)
    }

    fn volume(&self, record: &StringRecord) -> Result<Volume, Message> {
        let diameter = self.length(record, DIAMETER)?;
        let straight = self.length(record, STRAIGHT)?;
        let a = self.end(record, 0, diameter)?;
        let b = self.end(record, 1, diameter)?;
        let orientation = self.cell(record, ORIENTATION);
        let shape = match orientation.to_ascii_lowercase().as_str() {
            "vertical" if b == End::Flat => TankShape::vertical(diameter, straight, a),
            "vertical" => {
                let given = self.cell(record, SHAPES[1]);
                return Err(message!("site.strap.top", column = SHAPES[1], given = given));
            }
            "horizontal" => TankShape::horizontal(diameter, straight, a, b),
            _ => {
                return Err(word(ORIENTATION, orientation, "vertical, horizontal"));
            }
        }
        .map_err(|error| self.name_column(record, &error))?;
        shape.volume_at(metres(self.number(record, LEVEL)?)).map_err(|error| match error {
            LevelError::Depth { metres, full_height } => {
                message!("site.strap.depth", column = LEVEL, depth = metres, height = full_height)
            }
            LevelError::Volume { .. } => error.message(),
        })
    }

    fn end(&self, record: &StringRecord, side: usize, diameter: Length) -> Result<End, Message> {
        let name = self.cell(record, SHAPES[side]);
        let shape = name.to_ascii_lowercase();
        let end = match shape.as_str() {
            "flat" => End::Flat,
            "hemispherical" => End::Hemispherical,
            "ellipsoidal" | "elliptical" => End::Elliptical { depth: self.length(record, DEPTHS[side])? },
            "conical" => End::Conical { depth: self.length(record, DEPTHS[side])? },
            "torispherical" => End::Torispherical {
                crown_ratio: self.number(record, CROWN)?,
                knuckle_ratio: self.number(record, KNUCKLE)?,
            },
            _ => return Err(word(SHAPES[side], name, SHAPE_NAMES)),
        };
        end.check().map_err(|error| self.name_column(record, &error))?;
        let given = self.cell(record, DEPTHS[side]);
        if !given.is_empty() {
            let follows = in_metres(end.depth_on(diameter));
            let depth = self.number(record, DEPTHS[side])?;
            if (depth - follows).abs() > DEPTH_AGREEMENT {
                let column = DEPTHS[side];
                return Err(message!(
                    "site.strap.end_depth",
                    column = column,
                    given = given,
                    shape = shape,
                    depth = follows
                ));
            }
        }
        Ok(end)
    }

    fn number(&self, record: &StringRecord, column: &str) -> Result<f64, Message> {
        let cell = self.cell(record, column);
        match cell.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(value),
            _ => Err(message!("site.strap.number", column = column, given = cell)),
        }
    }

    fn length(&self, record: &StringRecord, column: &str) -> Result<Length, Message> {
        let value = self.number(record, column)?;
        if value > 0.0 {
            Ok(metres(value))
        } else {
            Err(message!("site.strap.above_zero", column = column, given = self.cell(record, column)))
        }
    }

    /// A refused shape, with the table's own column in front.
    fn name_column(&self, record: &StringRecord, error: &ShapeError) -> Message {
        match error {
            ShapeError::Ratio { what, .. } => {
                let column = if *what == EndRatio::Crown { CROWN } else { KNUCKLE };
                let (given, accepted) = (self.cell(record, column), what.accepted());
                let (low, high) = (*accepted.start(), *accepted.end());
                message!("site.strap.ratio", column = column, given = given, low = low, high = high)
            }
            ShapeError::Size { .. } => error.message(),
        }
    }
}

fn word(column: &str, given: &str, accepted: &str) -> Message {
    message!("site.strap.word", column = column, given = given, accepted = accepted)
}

/// The found column whose name is most like the wanted one, when it is like it at all and is not another wanted one.
fn closest(wanted: &str, found: &[&str]) -> Option<String> {
    found
        .iter()
        .filter(|name| !REQUIRED.contains(name))
        .map(|name| (strsim::jaro_winkler(&wanted.to_lowercase(), &name.to_lowercase()), name))
        .filter(|(likeness, _)| *likeness > 0.85)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| (*name).to_owned())
}

fn write(
    comments: &str,
    header: &StringRecord,
    columns: &Columns,
    rows: &[StringRecord],
    results: &[Result<Volume, String>],
) -> Result<String, StrapError> {
    let with_errors = columns.error.is_some() || results.iter().any(Result::is_err);
    let width = header.len();
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut line = |source: &StringRecord, volume: &str, error: &str| {
        let mut fields: Vec<&str> = (0..width).map(|column| source.get(column).unwrap_or("")).collect();
        match columns.volume {
            Some(column) => fields[column] = volume,
            None => fields.push(volume),
        }
        match columns.error {
            Some(column) => fields[column] = error,
            None if with_errors => fields.push(error),
            None => {}
        }
        writer.write_record(fields).map_err(unreadable)
    };
    line(header, VOLUME, ERROR)?;
    for (row, result) in rows.iter().zip(results) {
        match result {
            Ok(volume) => line(row, &format!("{:.9}", in_cubic_metres(*volume)), "")?,
            Err(error) => line(row, "", error)?,
        }
    }
    let bytes = writer.into_inner().map_err(|error| StrapError::Unreadable(error.to_string()))?;
    let body = String::from_utf8(bytes).map_err(|error| StrapError::Unreadable(error.to_string()))?;
    Ok(format!("{comments}{body}"))
}
