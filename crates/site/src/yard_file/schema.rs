//! The one table of what a yard file may hold: every key, its units, default, accepted range and the reason for the
//! default. The reader, the sample file and the reference for operators are all made from it.

mod data;

use message::{Message, message};
use quantity::units::Unit;

use super::problem::names;
use super::units::{self, figure, show};

/// What kind of value a key takes.
#[derive(Debug, Clone, Copy)]
pub(super) enum Kind {
    /// Any text that is not blank.
    Text,
    /// An id of this table.
    Id,
    /// An id of another table.
    Reference,
    /// One of these words.
    Choice(&'static [&'static str]),
    /// true or false.
    Switch,
    /// A whole number.
    Count,
    /// A number without unit.
    Number,
    /// Per cent; a value above the first and up to the second is taken for a fraction written by mistake.
    Percent(f64, f64),
    /// A share 0…1; a value of 1…100 is taken for per cent written by mistake.
    Share,
    /// A quantity whose unit ends the key.
    Quantity(&'static [Unit]),
    /// A list of texts.
    Names,
    /// Hours of the day, "06:00-22:00".
    Hours,
}

/// What holds when a key is left out.
#[derive(Debug, Clone, Copy)]
pub(super) enum Fill {
    /// It may not be left out.
    Required,
    /// This number, in the first unit.
    Number(f64),
    /// This text, as the file would give it.
    Text(&'static str),
    /// Follows from other keys, as said here; or nothing.
    Otherwise(&'static str),
}

/// One key (one quantity, whatever its unit).
#[derive(Debug)]
pub(super) struct Field {
    /// Key without its unit.
    pub stem: &'static str,
    /// Another stem with the same meaning.
    pub alias: Option<&'static str>,
    pub kind: Kind,
    /// Accepted range, in the first unit.
    pub low: f64,
    pub high: f64,
    pub fill: Fill,
    pub meaning: &'static str,
    /// Why the default is what it is.
    pub reason: &'static str,
    /// Value per entry of the sample file, as TOML; a leading `#` makes it a comment; "" leaves it out.
    pub samples: &'static [&'static str],
}

impl Field {
    pub fn stems(&self) -> impl Iterator<Item = &'static str> {
        std::iter::once(self.stem).chain(self.alias)
    }

    /// Every key under which the field may be written.
    pub fn keys(&self) -> Vec<String> {
        match self.kind {
            Kind::Quantity(units) => self
                .stems()
                .flat_map(|stem| units.iter().map(move |unit| format!("{stem}_{}", unit.ending)))
                .collect(),
            _ => vec![self.stem.to_owned()],
        }
    }

    /// The key in its first unit.
    pub fn first_key(&self) -> String {
        match self.kind {
            Kind::Quantity(units) => {
                format!("{}_{}", self.stem, units.first().map_or("", |unit| unit.ending))
            }
            _ => self.stem.to_owned(),
        }
    }

    /// Finds the unit of a key: `None` when the key is not this field, else its place in the list of units.
    pub fn unit_of(&self, key: &str) -> Option<usize> {
        match self.kind {
            Kind::Quantity(units) => self.stems().find_map(|stem| {
                let suffix = key.strip_prefix(stem)?.strip_prefix('_')?;
                units.iter().position(|unit| unit.ending == suffix)
            }),
            _ => (key == self.stem).then_some(0),
        }
    }

    pub fn unit(&self, index: usize) -> Option<&'static Unit> {
        match self.kind {
            Kind::Quantity(units) => units.get(index),
            _ => None,
        }
    }

    /// A number of the first unit in the base unit.
    pub fn base(&self, value: f64) -> f64 {
        self.unit(0).map_or(value, |unit| unit.to_base(value))
    }

    /// What is accepted, in the given unit.
    pub fn accepted(&self, unit: usize) -> Message {
        let found = self.unit(unit);
        let limit = |value: f64| figure(found.map_or(value, |unit| unit.of_base(self.base(value))));
        let (low, high) = (limit(self.low), limit(self.high));
        match self.kind {
            Kind::Text => Message::new("site.accepted.text"),
            Kind::Id => Message::new("site.accepted.id"),
            Kind::Reference => Message::new("site.accepted.reference"),
            Kind::Choice(words) => {
                names(words.iter().map(|word| format!("\"{word}\"")).collect::<Vec<_>>().join(", "))
            }
            Kind::Switch => names("true, false"),
            Kind::Names => Message::new("site.accepted.list"),
            Kind::Hours => Message::new("site.accepted.hours"),
            Kind::Count if self.high - self.low < 0.5 => names(show(self.low)),
            Kind::Count => message!("site.accepted.count", low = (self.low, 0), high = (self.high, 0)),
            Kind::Number | Kind::Share => message!("site.accepted.number", low = low, high = high),
            Kind::Percent(..) => message!("site.accepted.percent", low = low, high = high),
            Kind::Quantity(_) => {
                let unit = found.map_or("", |unit| unit.symbol);
                message!("site.accepted.quantity", low = low, high = high, unit = unit)
            }
        }
    }

    /// What is accepted, in English, in the first unit: for the reference of the file.
    pub fn accepted_in_reference(&self) -> String {
        match self.kind {
            Kind::Text => "a text".to_owned(),
            Kind::Id => "a text of 1 to 40 characters, used once".to_owned(),
            Kind::Reference => "an id of this file".to_owned(),
            Kind::Choice(words) => {
                words.iter().map(|word| format!("\"{word}\"")).collect::<Vec<_>>().join(", ")
            }
            Kind::Switch => "true, false".to_owned(),
            Kind::Names => "a list of texts, [\"…\", \"…\"]".to_owned(),
            Kind::Hours => "\"06:00-22:00\", whole hours from 00:00 to 24:00".to_owned(),
            Kind::Count if self.high - self.low < 0.5 => show(self.low),
            Kind::Count => format!("a whole number {:.0}…{:.0}", self.low, self.high),
            Kind::Number | Kind::Share => format!("{}…{}", show(self.low), show(self.high)),
            Kind::Percent(..) => format!("{}…{} %", show(self.low), show(self.high)),
            Kind::Quantity(_) => match self.unit(0) {
                Some(found) => {
                    let limit = |value: f64| show(found.of_base(self.base(value)));
                    format!("{}…{} {}", limit(self.low), limit(self.high), found.symbol)
                }
                None => String::new(),
            },
        }
    }

    /// The default, in words.
    pub fn default_text(&self) -> String {
        match self.fill {
            Fill::Required => "required".to_owned(),
            Fill::Text(text) => format!("\"{text}\""),
            Fill::Otherwise(words) => words.to_owned(),
            Fill::Number(value) => match self.kind {
                Kind::Percent(..) => format!("{} %", show(value)),
                Kind::Quantity(_) => {
                    format!("{} {}", show(value), self.unit(0).map_or("", |unit| unit.symbol))
                }
                _ => show(value),
            },
        }
    }
}

/// One table of the file.
#[derive(Debug)]
pub(super) struct Table {
    pub name: &'static str,
    /// Written `[[name]]`, any number of times.
    pub many: bool,
    /// May not be left out (a list: at least one).
    pub required: bool,
    pub meaning: &'static str,
    pub fields: &'static [Field],
}

impl Table {
    /// The field a key belongs to, and its unit.
    pub fn find(&self, key: &str) -> Option<(&'static Field, usize)> {
        self.fields.iter().find_map(|field| field.unit_of(key).map(|unit| (field, unit)))
    }

    pub fn header(&self) -> String {
        if self.many { format!("[[{}]]", self.name) } else { format!("[{}]", self.name) }
    }
}

/// Every table, in the order of the sample file.
pub(super) static TABLES: &[Table] = data::TABLES;

/// Table of the file with this name. The names are those of [`TABLES`], spelled in this folder only.
pub(super) fn table(name: &str) -> Option<&'static Table> {
    TABLES.iter().find(|table| table.name == name)
}

const fn field(
    stem: &'static str,
    kind: Kind,
    fill: Fill,
    meaning: &'static str,
    reason: &'static str,
    samples: &'static [&'static str],
) -> Field {
    Field { stem, alias: None, kind, low: 0.0, high: 1.0, fill, meaning, reason, samples }
}

impl Field {
    const fn within(mut self, low: f64, high: f64) -> Self {
        self.low = low;
        self.high = high;
        self
    }

    const fn also(mut self, alias: &'static str) -> Self {
        self.alias = Some(alias);
        self
    }
}
