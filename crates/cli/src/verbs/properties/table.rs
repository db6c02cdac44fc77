//! Properties of many brines: a CSV in, the same rows with columns added out.
//!
//! The file is read through once before anything is printed, so that one that is not a table is refused whole.
//! Then its rows are worked out in stretches, one to each core, and printed in order: memory does not grow
//! with the file beyond its own text, and time grows with its rows.

use chemistry::freezing::Solid;
use chemistry::properties::{Properties, properties};
use chemistry::{Brine, Error, MassFraction, Salt};
use csv::{ByteRecord, Position};
use quantity::{
    celsius, in_celsius, in_joules_per_kg_kelvin, in_kelvins, in_kg_per_m3, in_millipascal_seconds,
    in_millisiemens_per_cm,
};

use crate::errors::{did_you_mean, in_a_table, not_read};
use crate::outcome::{Failure, print, print_bytes};

/// Columns read: one for each salt, absent or blank ones are zero, and the temperature.
const SALTS: [&str; 5] = ["nacl_wt_pct", "cacl2_wt_pct", "mgcl2_wt_pct", "kcl_wt_pct", "na2so4_wt_pct"];
const TEMPERATURE: &str = "temp_c";

/// Columns added, with the decimals each is written to: a tenth of what it is known to, or finer.
const ADDED: [(&str, u32); 21] = [
    ("density_kg_m3", 3),
    ("relative_density_60f", 6),
    ("viscosity_mpa_s", 5),
    ("heat_capacity_j_kg_k", 2),
    ("conductivity_ms_cm", 3),
    ("refractive_index", 6),
    ("brix_deg", 3),
    ("salometer_deg", 3),
    ("water_activity", 6),
    ("freezing_c", 4),
    ("freezing_u_c", 2),
    ("first_solid", 0),
    ("ice_c", 4),
    ("salt_c", 4),
    ("first_salt", 0),
    ("liquid_wt_pct", 4),
    ("ice_wt_pct", 4),
    ("hydrohalite_wt_pct", 4),
    ("halite_wt_pct", 4),
    ("other_solids_wt_pct", 4),
    ("gypsum_index", 3),
];
/// The last column added.
const ERROR: &str = "error";

/// Rows that one core works out at a time.
const STRETCH: usize = 8192;

/// Where the columns of a file stand.
struct Columns {
    salts: [Option<usize>; 5],
    temperature: usize,
}

/// Prints the rows with the properties added. A value out of range is empty and named in `error`; the others stay.
pub fn print_rows(text: &str, name: &str) -> Result<(), Failure> {
    let refuse = |problem: String| Failure::Input(format!("{name}: {problem}"));
    let text = after_comments(text);
    let mut reader = reader(text, true);
    let headers = reader.headers().map_err(|e| refuse(e.to_string()))?.clone();
    let columns = columns(&headers).map_err(refuse)?;
    let starts = stretches(&mut reader).map_err(refuse)?;
    print(&head(&headers)?)?;
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    for wave in starts.chunks(cores) {
        let worked: Vec<Result<Vec<u8>, String>> = std::thread::scope(|scope| {
            let columns = &columns;
            let work = |from: Position| scope.spawn(move || stretch(text, columns, from));
            let running: Vec<_> = wave.iter().cloned().map(work).collect();
            running
                .into_iter()
                .map(|one| one.join().unwrap_or_else(|_| Err("a row could not be worked out".into())))
                .collect()
        });
        for rows in worked {
            print_bytes(&rows.map_err(|e| Failure::Machine(format!("{name}: {e}")))?)?;
        }
    }
    Ok(())
}

/// A table without the comment lines above it. Below its head a line is a row, whatever it begins with.
fn after_comments(text: &str) -> &str {
    let mut rest = text;
    while rest.starts_with('#') || rest.starts_with('\n') || rest.starts_with("\r\n") {
        match rest.split_once('\n') {
            Some((_, below)) => rest = below,
            None => return "",
        }
    }
    rest
}

fn reader(text: &str, headed: bool) -> csv::Reader<std::io::Cursor<&[u8]>> {
    csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .has_headers(headed)
        .from_reader(std::io::Cursor::new(text.as_bytes()))
}

fn columns(headers: &csv::StringRecord) -> Result<Columns, String> {
    let place = |wanted: &str| headers.iter().position(|header| header == wanted);
    let found = || headers.iter().collect::<Vec<_>>().join(", ");
    let missing = |wanted: &str| {
        let hint = did_you_mean(wanted, headers.iter());
        let accepted = SALTS.join(", ");
        format!("column {wanted} is missing{hint}; accepted: {accepted}, {TEMPERATURE}; found: {}", found())
    };
    if let Some(taken) =
        ADDED.iter().map(|(added, _)| *added).chain([ERROR]).find(|added| place(added).is_some())
    {
        return Err(format!(
            "column {taken} would be written twice; accepted: a file without the columns added here"
        ));
    }
    let known = |header: &str| SALTS.contains(&header) || header == TEMPERATURE;
    for (here, header) in headers.iter().enumerate() {
        if known(header) && headers.iter().take(here).any(|before| before == header) {
            return Err(format!("column {header} is there twice; accepted: each column once"));
        }
        // A salt by another name would count as none at all.
        if header.to_ascii_lowercase().ends_with("_wt_pct") && !known(header) {
            let hint = did_you_mean(header, SALTS.into_iter());
            return Err(format!(
                "column {header} is no salt known here{hint}; accepted: {}",
                SALTS.join(", ")
            ));
        }
    }
    let salts = SALTS.map(place);
    if salts.iter().all(Option::is_none) {
        return Err(missing(SALTS[0]));
    }
    Ok(Columns { salts, temperature: place(TEMPERATURE).ok_or_else(|| missing(TEMPERATURE))? })
}

/// Reads the whole file, refusing what is not a table, and keeps where every stretch begins.
fn stretches(reader: &mut csv::Reader<std::io::Cursor<&[u8]>>) -> Result<Vec<Position>, String> {
    let (mut starts, mut record, mut rows) = (Vec::new(), ByteRecord::new(), 0_usize);
    loop {
        let here = reader.position().clone();
        if !reader.read_byte_record(&mut record).map_err(|e| e.to_string())? {
            return Ok(starts);
        }
        if rows.is_multiple_of(STRETCH) {
            starts.push(here);
        }
        rows += 1;
    }
}

fn head(headers: &csv::StringRecord) -> Result<String, Failure> {
    let failed = |error: String| Failure::Machine(format!("the table could not be written: {error}"));
    let mut writer = csv::Writer::from_writer(Vec::new());
    let added = ADDED.iter().map(|(name, _)| *name).chain([ERROR]);
    writer.write_record(headers.iter().chain(added)).map_err(|e| failed(e.to_string()))?;
    let bytes = writer.into_inner().map_err(|e| failed(e.to_string()))?;
    String::from_utf8(bytes).map_err(|e| failed(e.to_string()))
}

/// Works out one stretch of rows.
fn stretch(text: &str, columns: &Columns, from: Position) -> Result<Vec<u8>, String> {
    let mut reader = reader(text, false);
    reader.seek(from).map_err(|e| e.to_string())?;
    let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::with_capacity(STRETCH * 256));
    let (mut record, mut row) = (ByteRecord::new(), Row::default());
    for _ in 0..STRETCH {
        if !reader.read_byte_record(&mut record).map_err(|e| e.to_string())? {
            break;
        }
        row.work(columns, &record);
        for field in record.iter() {
            writer.write_field(field).map_err(|e| e.to_string())?;
        }
        row.write(&mut writer).map_err(|e| e.to_string())?;
    }
    writer.into_inner().map_err(|e| e.to_string())
}

/// What is added to one row; kept from row to row so that nothing is allocated anew.
#[derive(Default)]
struct Row {
    cells: [Cell; ADDED.len()],
    /// What is wrong, with the columns it leaves empty.
    errors: Vec<(String, String)>,
    digits: Vec<u8>,
}

#[derive(Default, Clone, Copy)]
enum Cell {
    #[default]
    Empty,
    Number(f64),
    Word(&'static str),
}

impl Row {
    fn work(&mut self, columns: &Columns, record: &ByteRecord) {
        self.cells = [Cell::Empty; ADDED.len()];
        self.errors.clear();
        match self.read(columns, record) {
            None => {}
            Some((brine, Some(temperature))) => {
                let all = properties(&brine, celsius(temperature));
                self.fill_whatever_the_temperature(&all);
                self.fill(&all);
            }
            // Without a temperature, what does not depend on one is still given.
            Some((brine, None)) => {
                let all = properties(&brine, chemistry::recipe::reference_temperature());
                self.fill_whatever_the_temperature(&all);
            }
        }
    }

    /// The brine and temperature of a row; none when one cannot be read, which `errors` then says.
    fn read(&mut self, columns: &Columns, record: &ByteRecord) -> Option<(Brine, Option<f64>)> {
        let mut parts = [(Salt::SodiumChloride, MassFraction::ZERO); 5];
        let mut sound = true;
        let mut total = 0.0;
        for ((part, salt), (place, name)) in
            parts.iter_mut().zip(Salt::ALL).zip(columns.salts.iter().zip(SALTS))
        {
            let text = place.and_then(|place| record.get(place)).unwrap_or(b"");
            if text.is_empty() {
                *part = (salt, MassFraction::ZERO);
                continue;
            }
            match self.number(name, text) {
                Some(percent) => match MassFraction::from_percent(percent) {
                    Ok(fraction) => {
                        total += percent;
                        *part = (salt, fraction);
                    }
                    Err(error) => {
                        self.refuse(name, &in_a_table(&error));
                        sound = false;
                    }
                },
                None => sound = false,
            }
        }
        let temperature = match record.get(columns.temperature).unwrap_or(b"") {
            b"" => {
                self.refuse(TEMPERATURE, "blank; accepted: a number");
                None
            }
            text => self.number(TEMPERATURE, text),
        };
        if total > 100.0 {
            self.refuse("total", &format!("{total} % by mass in all; accepted: 0…100"));
            sound = false;
        }
        if !sound {
            return None;
        }
        match Brine::blend(&parts) {
            Ok(brine) => Some((brine, temperature)),
            Err(error) => {
                self.refuse("brine", &in_a_table(&error));
                None
            }
        }
    }

    fn number(&mut self, name: &str, text: &[u8]) -> Option<f64> {
        let text = std::str::from_utf8(text).unwrap_or("");
        // A machine's number first, which is nearly every cell; then as a person types it.
        let plain = text.parse::<f64>().ok().filter(|number| number.is_finite());
        match plain.map_or_else(|| entry::parse_number(text), Ok) {
            Ok(number) => Some(number),
            Err(problem) => {
                self.refuse(name, &format!("\"{text}\": {}", not_read(problem)));
                None
            }
        }
    }

    fn refuse(&mut self, name: &str, what: &str) {
        match self.errors.iter_mut().find(|(_, said)| said == what) {
            Some((names, _)) => {
                names.push_str(", ");
                names.push_str(name);
            }
            None => self.errors.push((name.to_string(), what.to_string())),
        }
    }

    fn put(&mut self, cell: usize, value: Result<f64, &Error>) {
        match value {
            Ok(value) => self.cells[cell] = Cell::Number(value),
            Err(error) => self.refuse(ADDED[cell].0, &in_a_table(error)),
        }
    }

    fn fill_whatever_the_temperature(&mut self, all: &Properties) {
        self.put(1, all.relative_density_60f.as_ref().map(|sg| sg.ratio()));
        self.put(7, all.salometer.as_ref().map(|s| s.degrees()));
        match &all.first_solid {
            Ok(first) => {
                self.cells[9] = Cell::Number(in_celsius(first.temperature));
                self.cells[10] = Cell::Number(in_kelvins(first.uncertainty));
                self.cells[11] = Cell::Word(first.solid.code());
                match first.ice {
                    Some(ice) => self.cells[12] = Cell::Number(in_celsius(ice)),
                    None => self.refuse("ice_c", "colder than the ice data of this salt"),
                }
                self.cells[14] = Cell::Word("none");
                if let Some((solid, out)) = first.salt {
                    self.cells[13] = Cell::Number(in_celsius(out));
                    self.cells[14] = Cell::Word(solid.code());
                }
            }
            Err(error) => {
                for (name, _) in &ADDED[9..15] {
                    self.refuse(name, &in_a_table(error));
                }
            }
        }
    }

    fn fill(&mut self, all: &Properties) {
        self.put(0, all.density.as_ref().map(|e| in_kg_per_m3(e.value)));
        self.put(2, all.viscosity.as_ref().map(|e| in_millipascal_seconds(e.value)));
        self.put(3, all.heat_capacity.as_ref().map(|e| in_joules_per_kg_kelvin(e.value)));
        self.put(4, all.conductivity.as_ref().map(|e| in_millisiemens_per_cm(e.value)));
        self.put(5, all.refractive_index.as_ref().map(|e| e.value.index()));
        self.put(6, all.brix.as_ref().map(|b| b.degrees()));
        self.put(8, all.water_activity.as_ref().map(|e| e.value.ratio()));
        if let Some(index) = all.gypsum_index {
            self.cells[20] = Cell::Number(index);
        }
        match &all.phases {
            Ok(phases) => {
                let named = [Solid::Ice, Solid::Hydrohalite, Solid::Halite].map(|solid| phases.of(solid));
                let other = phases.solids() - named.iter().sum::<f64>();
                let shares = [phases.liquid, named[0], named[1], named[2], other.max(0.0)];
                for (cell, share) in (15..20).zip(shares) {
                    self.cells[cell] = Cell::Number(100.0 * share);
                }
            }
            Err(error) => {
                for (name, _) in &ADDED[15..20] {
                    self.refuse(name, &in_a_table(error));
                }
            }
        }
    }

    fn write(&mut self, writer: &mut csv::Writer<Vec<u8>>) -> Result<(), csv::Error> {
        for (cell, (_, decimals)) in self.cells.iter().zip(ADDED) {
            match cell {
                Cell::Empty => writer.write_field("")?,
                Cell::Word(word) => writer.write_field(word)?,
                Cell::Number(value) => {
                    fixed(&mut self.digits, *value, decimals);
                    writer.write_field(&self.digits)?;
                }
            }
        }
        if self.errors.is_empty() {
            writer.write_field("")?;
        } else {
            let said: Vec<String> =
                self.errors.iter().map(|(names, what)| format!("{names}: {what}")).collect();
            writer.write_field(said.join("; "))?;
        }
        writer.write_record(None::<&[u8]>)
    }
}

/// A number with fixed decimals as a machine reads it: the standard formatting, several times faster. Values
/// here are below a million, so that every digit fits.
fn fixed(into: &mut Vec<u8>, value: f64, decimals: u32) {
    into.clear();
    let scale = 10_i64.pow(decimals);
    let scaled = (value * scale as f64).round() as i64;
    if scaled < 0 {
        into.push(b'-');
    }
    let (whole, mut part) =
        (scaled.unsigned_abs() / scale.unsigned_abs(), scaled.unsigned_abs() % scale.unsigned_abs());
    let start = into.len();
    let mut rest = whole;
    loop {
        into.push(b'0' + (rest % 10) as u8);
        rest /= 10;
        if rest == 0 {
            break;
        }
    }
    into[start..].reverse();
    if decimals > 0 {
        into.push(b'.');
        let from = into.len();
        for _ in 0..decimals {
            into.push(b'0' + (part % 10) as u8);
            part /= 10;
        }
        into[from..].reverse();
    }
}

#[cfg(test)]
mod tests {
    use super::fixed;

    #[test]
    fn fixed_is_what_the_standard_library_writes() {
        let mut digits = Vec::new();
        for value in [0.0, 0.04, 1.0, 9.9996, 1174.61249, 123_456.789, 0.1 + 0.2] {
            for decimals in 0..7_u32 {
                for value in [value, -value] {
                    fixed(&mut digits, value, decimals);
                    let wanted = format!("{value:.*}", decimals as usize);
                    let wanted = if wanted.bytes().any(|b| (b'1'..=b'9').contains(&b)) {
                        wanted
                    } else {
                        wanted.trim_start_matches('-').to_string()
                    };
                    assert_eq!(String::from_utf8_lossy(&digits), wanted, "{value} {decimals}");
                }
            }
        }
    }
}
