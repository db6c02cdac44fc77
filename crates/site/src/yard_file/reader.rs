//! One value at a time: finds it, checks its type, unit and range, and says where it stands.

use super::problem::{Problem, names};
use super::schema::{Field, Fill, Kind, TABLES, Table};
use super::units::{figure, show};
use message::{Message, message};
use quantity::LITRES_PER_GALLON;
use std::ops::Range;
use toml_edit::{Item, TableLike};

/// Longest piece of the file that is repeated in a problem.
const LONGEST_VALUE: usize = 60;
/// Least likeness (0…1) at which a name is worth suggesting.
const LIKENESS: f64 = 0.6;

/// The file being read and what is wrong with it so far.
pub(super) struct Context<'a> {
    pub file: &'a str,
    pub text: &'a str,
    newlines: Vec<usize>,
    pub problems: Vec<Problem>,
}

impl<'a> Context<'a> {
    pub fn new(text: &'a str, file: &'a str) -> Self {
        let newlines = text.match_indices('\n').map(|(at, _)| at).collect();
        Self { file, text, newlines, problems: Vec::new() }
    }

    /// Line of a place in the text, counted from 1.
    pub fn line(&self, span: Option<Range<usize>>) -> usize {
        span.map_or(1, |span| self.newlines.partition_point(|at| *at < span.start) + 1)
    }

    /// What the file says there, on one line.
    pub fn quote(&self, span: Option<Range<usize>>) -> Option<String> {
        let raw = self.text.get(span?)?;
        let flat = raw.split_whitespace().collect::<Vec<_>>().join(" ");
        if flat.chars().count() > LONGEST_VALUE {
            let start: String = flat.chars().take(LONGEST_VALUE).collect();
            return Some(format!("{start}…"));
        }
        Some(flat)
    }

    pub fn push(&mut self, line: usize, key: &str, value: Option<String>, complaint: Complaint) {
        let Complaint { what, accepted, suggestion } = complaint;
        let (file, key) = (self.file.to_owned(), key.to_owned());
        self.problems.push(Problem { file, line, key, value, what, accepted, suggestion });
    }
}

/// What is wrong, what is accepted, what may be meant.
pub(super) struct Complaint {
    what: Message,
    accepted: Option<Message>,
    suggestion: Option<String>,
}

pub(super) fn complaint(what: impl Into<Message>) -> Complaint {
    Complaint { what: what.into(), accepted: None, suggestion: None }
}

impl Complaint {
    pub fn accepted(mut self, accepted: impl Into<Message>) -> Self {
        self.accepted = Some(accepted.into());
        self
    }

    pub fn suggest(mut self, suggestion: Option<String>) -> Self {
        self.suggestion = suggestion;
        self
    }
}

/// The candidate most like a name, if any is like it.
pub(super) fn closest<'c>(name: &str, candidates: impl IntoIterator<Item = &'c str>) -> Option<String> {
    let name = name.to_lowercase();
    candidates
        .into_iter()
        .map(|candidate| {
            (strsim::normalized_damerau_levenshtein(&name, &candidate.to_lowercase()), candidate)
        })
        .filter(|(likeness, _)| *likeness >= LIKENESS)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate.to_owned())
}

/// A key that stands in the file and that the table knows.
struct Given<'a> {
    field: &'static Field,
    unit: usize,
    key: &'a str,
    line: usize,
    item: &'a Item,
}

/// One table of the file: `[plant]`, or one of several `[[tank]]`.
pub(super) struct Section<'a> {
    pub table: &'static Table,
    /// Name of the table as problems show it, such as `plant` or `tank[2]`.
    pub label: String,
    pub line: usize,
    /// Which of several, from 1.
    number: Option<usize>,
    given: Vec<Given<'a>>,
    /// Fields that a misspelt key seems to mean: not reported as missing as well.
    excused: Vec<&'static str>,
}

impl<'a> Section<'a> {
    /// A table that is not in the file: defaults only.
    pub fn absent(table: &'static Table) -> Self {
        let label = table.name.to_owned();
        Self { table, label, line: 1, number: None, given: Vec::new(), excused: Vec::new() }
    }

    /// Sorts the keys of a table into known and unknown; the unknown become problems.
    pub fn new(
        context: &mut Context<'_>,
        table: &'static Table,
        number: Option<usize>,
        line: usize,
        found: &'a dyn TableLike,
    ) -> Self {
        let mut section = Self::absent(table);
        section.line = line;
        section.number = number;
        if let Some(number) = number {
            section.label = format!("{}[{number}]", table.name);
        }
        for (key, item) in found.iter() {
            // The layout's own tables stand beside the keys of the top level.
            if table.name.is_empty() && key != "format" {
                continue;
            }
            let line = context.line(found.key(key).and_then(toml_edit::Key::span));
            match table.find(key) {
                Some((field, unit)) => section.given.push(Given { field, unit, key, line, item }),
                None => section.unknown(context, key, line, item),
            }
        }
        section
    }

    fn unknown(&mut self, context: &mut Context<'_>, key: &str, line: usize, item: &Item) {
        let keys: Vec<String> = self.table.fields.iter().flat_map(Field::keys).collect();
        let unitless = self.table.fields.iter().find(|field| {
            matches!(field.kind, Kind::Quantity(_))
                && field.stems().any(|stem| key == stem || key.starts_with(&format!("{stem}_")))
        });
        let elsewhere = TABLES.iter().find(|table| !table.name.is_empty() && table.find(key).is_some());
        let complaint = if let Some(field) = unitless {
            self.excused.push(field.stem);
            complaint("site.file.unit_ending").accepted(names(field.keys().join(", ")))
        } else if let Some(like) = closest(key, keys.iter().map(String::as_str)) {
            self.excused.extend(self.table.find(&like).map(|(field, _)| field.stem));
            complaint(message!("site.file.no_key", table = self.table.header())).suggest(Some(like))
        } else if let Some(table) = elsewhere {
            complaint(message!("site.file.key_elsewhere", table = self.table.header(), home = table.header()))
        } else {
            let first: Vec<String> = self.table.fields.iter().map(Field::first_key).collect();
            complaint(message!("site.file.no_key", table = self.table.header()))
                .accepted(names(first.join(", ")))
        };
        context.push(line, &format!("{}.{key}", self.label), context.quote(item.span()), complaint);
    }

    fn find(&self, stem: &str) -> Option<&Given<'a>> {
        self.given.iter().find(|given| given.field.stem == stem)
    }

    fn field(&self, stem: &str) -> Option<&'static Field> {
        self.table.fields.iter().find(|field| field.stem == stem)
    }

    /// Whether the file gives the field.
    pub fn has(&self, stem: &str) -> bool {
        self.find(stem).is_some()
    }

    /// Unit of the key that is given: its ending.
    pub fn suffix(&self, stem: &str) -> &'static str {
        self.find(stem).and_then(|given| given.field.unit(given.unit)).map_or("", |unit| unit.ending)
    }

    /// Reports something wrong with a field at the place where it stands, or at the head of its table.
    pub fn blame(&self, context: &mut Context<'_>, stem: &str, complaint: Complaint) {
        match self.find(stem) {
            Some(given) => self.blame_given(context, given, complaint),
            None => {
                let key = self.field(stem).map_or_else(|| stem.to_owned(), Field::first_key);
                context.push(self.line, &format!("{}{key}", self.prefix()), None, complaint);
            }
        }
    }

    fn blame_given(&self, context: &mut Context<'_>, given: &Given<'_>, complaint: Complaint) {
        let value = context.quote(given.item.span());
        context.push(given.line, &format!("{}{}", self.prefix(), given.key), value, complaint);
    }

    fn prefix(&self) -> String {
        if self.label.is_empty() { String::new() } else { format!("{}.", self.label) }
    }

    /// Reports a field that must be there and is not; `why` is the id of a reason, or empty.
    pub fn missing(&self, context: &mut Context<'_>, stem: &str, why: &str) {
        let Some(field) = self.field(stem) else { return };
        if self.excused.contains(&field.stem) {
            return;
        }
        let place = if self.table.name.is_empty() {
            Message::new("site.file.missing_at_top")
        } else if let Some(number) = self.number {
            let table = self.table.header();
            message!("site.file.missing_from_one", table = table, number = number, line = self.line)
        } else {
            message!("site.file.missing", table = self.table.header(), line = self.line)
        };
        let what = if why.is_empty() {
            place
        } else {
            message!("site.file.missing_because", what = place, why = Message::from(why))
        };
        let keys = field.keys();
        let mut accepted = field.accepted(0);
        if let Some((_, rest)) = keys.split_first()
            && !rest.is_empty()
        {
            accepted = message!("site.accepted.or_keys", accepted = accepted, keys = rest.join(", "));
        }
        self.blame(context, stem, complaint(what).accepted(accepted));
    }

    /// The one key that gives a field. Two keys are a problem; so is none when it is required.
    fn only(&self, context: &mut Context<'_>, stem: &str) -> Option<&Given<'a>> {
        let mut all = self.given.iter().filter(|given| given.field.stem == stem);
        let first = all.next();
        if let (Some(first), Some(second)) = (first, all.next()) {
            let what = message!("site.file.given_as_well", key = first.key);
            self.blame_given(context, second, complaint(what));
            return None;
        }
        if first.is_none() && self.field(stem).is_some_and(|field| matches!(field.fill, Fill::Required)) {
            self.missing(context, stem, "");
        }
        first
    }

    fn wrong(&self, context: &mut Context<'_>, given: &Given<'_>, what: impl Into<Message>) {
        let accepted = given.field.accepted(given.unit);
        self.blame_given(context, given, complaint(what).accepted(accepted));
    }

    /// A number in its base unit (see `units`), or its default. Nothing when it is left out without a default, and
    /// nothing, after reporting it, when it is wrong.
    pub fn number(&self, context: &mut Context<'_>, stem: &str) -> Option<f64> {
        let Some(given) = self.only(context, stem) else {
            return match self.field(stem)?.fill {
                Fill::Number(value) if !self.has(stem) => Some(self.field(stem)?.base(value)),
                _ => None,
            };
        };
        let whole = matches!(given.field.kind, Kind::Count);
        let value = match (given.item.as_integer(), given.item.as_float()) {
            (Some(integer), _) => integer as f64,
            (None, Some(float)) if !whole => float,
            _ => {
                let quoted = given.item.as_str().is_some_and(|text| text.trim().parse::<f64>().is_ok());
                let message = match (quoted, whole) {
                    (true, _) => "site.file.number_unquoted",
                    (false, true) => "site.file.whole_number",
                    (false, false) => "site.file.number",
                };
                self.wrong(context, given, message);
                return None;
            }
        };
        if let Some(message) = implausible(given, value) {
            self.wrong(context, given, message);
            return None;
        }
        Some(given.field.unit(given.unit).map_or(value, |unit| unit.to_base(value)))
    }

    /// A text, or its default.
    pub fn text(&self, context: &mut Context<'_>, stem: &str) -> Option<String> {
        let Some(given) = self.only(context, stem) else {
            return match self.field(stem)?.fill {
                Fill::Text(text) if !self.has(stem) => Some(text.to_owned()),
                _ => None,
            };
        };
        let Some(text) = given.item.as_str() else {
            self.wrong(context, given, "site.file.text");
            return None;
        };
        if text.trim().is_empty() {
            self.wrong(context, given, "site.file.blank");
            return None;
        }
        match given.field.kind {
            Kind::Choice(words) if !words.contains(&text) => {
                let accepted = given.field.accepted(0);
                let like = closest(text, words.iter().copied());
                let wrong = complaint("site.file.word").accepted(accepted).suggest(like);
                self.blame_given(context, given, wrong);
                None
            }
            Kind::Id
                if text.chars().count() > 40 || text.trim() != text || text.contains(char::is_control) =>
            {
                self.wrong(context, given, "site.file.id");
                None
            }
            _ => Some(text.to_owned()),
        }
    }

    /// true or false.
    pub fn switch(&self, context: &mut Context<'_>, stem: &str) -> Option<bool> {
        let given = self.only(context, stem)?;
        let value = given.item.as_bool();
        if value.is_none() {
            self.wrong(context, given, "site.file.switch");
        }
        value
    }

    /// A list of texts; empty when left out.
    pub fn names(&self, context: &mut Context<'_>, stem: &str) -> Option<Vec<String>> {
        let Some(given) = self.only(context, stem) else {
            return (!self.has(stem)).then(Vec::new);
        };
        let names = given.item.as_array().and_then(|array| {
            array.iter().map(|value| value.as_str().map(str::to_owned)).collect::<Option<Vec<_>>>()
        });
        if names.is_none() {
            self.wrong(context, given, "site.file.list");
        }
        names
    }

    /// Hours of the day, from (inclusive) and to (exclusive).
    pub fn hours(&self, context: &mut Context<'_>, stem: &str) -> Option<(i8, i8)> {
        let text = self.text(context, stem)?;
        match parse_hours(&text) {
            Ok(hours) => Some(hours),
            Err(message) => {
                let accepted = self.field(stem)?.accepted(0);
                self.blame(context, stem, complaint(message).accepted(accepted));
                None
            }
        }
    }
}

/// What makes a number implausible.
fn implausible(given: &Given<'_>, value: f64) -> Option<Message> {
    let field = given.field;
    if !value.is_finite() {
        return Some("site.file.finite".into());
    }
    match field.kind {
        Kind::Percent(above, up_to) if value > above && value <= up_to => {
            return Some(message!("site.file.fraction", write = figure(value * 100.0)));
        }
        Kind::Share if value > 1.0 && value <= 100.0 => {
            return Some(message!("site.file.percent", write = figure(value / 100.0)));
        }
        _ => {}
    }
    let unit = field.unit(given.unit);
    let limit = |bound: f64| unit.map_or(bound, |unit| unit.of_base(field.base(bound)));
    let (low, high) = (limit(field.low), limit(field.high));
    let slack = 1e-9 * low.abs().max(high.abs());
    if value > high + slack {
        let in_gallons = value / LITRES_PER_GALLON;
        if unit.is_some_and(|unit| unit.ending.starts_with("gal")) && (low..=high).contains(&in_gallons) {
            let key = given.key.replace("_gal", "_l");
            return Some(message!("site.file.litres", write = format!("{key} = {}", show_whole(value))));
        }
        return Some("site.file.too_large".into());
    }
    if value < low - slack {
        let what = match (low >= 0.0 && low > value && value <= 0.0, low > 0.0) {
            (true, true) => "site.file.above_zero",
            (true, false) => "site.file.below_zero",
            (false, _) => "site.file.too_small",
        };
        return Some(what.into());
    }
    None
}

/// A number as a file would have it: no grouping.
fn show_whole(value: f64) -> String {
    show(value).replace(',', "")
}

/// "06:00-22:00" to hours; or the id of what is wrong with it.
fn parse_hours(text: &str) -> Result<(i8, i8), &'static str> {
    const SHAPE: &str = "site.file.hours.shape";
    let (from, to) = text.split_once(['-', '–']).ok_or(SHAPE)?;
    let hour = |clock: &str| {
        let (hour, minute) = clock.trim().split_once(':').ok_or(SHAPE)?;
        let digits = |part: &str| (1..=2).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
        if !digits(hour) || minute.len() != 2 || !digits(minute) {
            return Err(SHAPE);
        }
        if minute != "00" {
            return Err("site.file.hours.whole");
        }
        match hour.parse::<i8>() {
            Ok(hour) if hour <= 24 => Ok(hour),
            _ => Err("site.file.hours.past"),
        }
    };
    let (from, to) = (hour(from)?, hour(to)?);
    if from == to {
        return Err("site.file.hours.same");
    }
    if from == 24 {
        return Err("site.file.hours.from_24");
    }
    Ok((from, to))
}

/// All sections of a table that may stand any number of times, or the one of a table that stands once.
pub(super) fn sections<'a>(
    context: &mut Context<'_>,
    root: &'a toml_edit::Table,
    table: &'static Table,
    excused: bool,
) -> Vec<Section<'a>> {
    let Some((key, item)) = root.get_key_value(table.name) else {
        if table.required && !excused {
            let id = if table.many { "site.file.no_tables" } else { "site.file.no_table" };
            context.push(1, table.name, None, complaint(message!(id, table = table.header())));
        }
        return Vec::new();
    };
    let key_line = context.line(key.span());
    let line_of = |context: &Context<'_>, span: Option<Range<usize>>| match span {
        Some(span) if !span.is_empty() => context.line(Some(span)),
        _ => key_line,
    };
    let mut found: Vec<(usize, &dyn TableLike)> = Vec::new();
    let mut shape = false;
    if let (true, Some(array)) = (table.many, item.as_array_of_tables()) {
        shape = true;
        found.extend(array.iter().map(|one| (line_of(context, one.span()), one as &dyn TableLike)));
    } else if let (true, Some(array)) = (table.many, item.as_array()) {
        let inline: Vec<_> = array.iter().filter_map(toml_edit::Value::as_inline_table).collect();
        shape = inline.len() == array.len();
        if shape {
            found.extend(inline.into_iter().map(|one| (line_of(context, one.span()), one as &dyn TableLike)));
        }
    } else if let (false, Some(one)) = (table.many, item.as_table_like()) {
        shape = true;
        found.push((line_of(context, item.as_table().and_then(toml_edit::Table::span)), one));
    }
    if !shape {
        let id = if table.many { "site.file.write_many" } else { "site.file.write_once" };
        let first = item.as_array_of_tables().and_then(|array| array.iter().next()?.span());
        let line = line_of(context, first);
        context.push(line, table.name, None, complaint(message!(id, table = table.header())));
    } else if table.required && found.is_empty() {
        context.push(key_line, table.name, None, complaint("site.file.at_least_one"));
    }
    found
        .into_iter()
        .enumerate()
        .map(|(index, (line, one))| Section::new(context, table, table.many.then_some(index + 1), line, one))
        .collect()
}
