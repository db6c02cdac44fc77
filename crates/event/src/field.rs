//! What a field of an event holds, and so how it is typed, read, checked, asked and told: one description for entry by
//! page, command and import, for help and for docs.

use quantity::units::{
    CELSIUS, CUBIC_METRE, FAHRENHEIT, FLUID_OUNCE, FOOT, GALLON, HOUR, INCH, KILOGRAM, KILOMETRE, KILOPASCAL,
    LITRE, METRE, MILE, MILLILITRE, MILLIMETRE, MINUTE, POUND, PSI, SHORT_TON, TONNE, Unit,
};

use super::choice::Choice;

/// One kind of event.
#[derive(Debug)]
pub struct Kind {
    /// As the ledger and commands write it.
    pub name: &'static str,
    /// What happened, in a sentence or two of English.
    pub meaning: &'static str,
    /// Its fields, in the order in which the ledger writes them.
    pub fields: &'static [Field],
    /// What may be typed in place of a field, and is worked into it: never kept.
    pub helpers: &'static [Field],
}

impl Kind {
    /// A field, or what may be typed in place of one.
    pub fn field(&self, name: &str) -> Option<&'static Field> {
        self.fields.iter().chain(self.helpers).find(|field| field.name == name)
    }

    /// The field of a name without its unit: `volume` for `volume_m3`.
    pub fn field_of_stem(&self, stem: &str) -> Option<&'static Field> {
        self.fields.iter().chain(self.helpers).find(|field| field.stem() == stem)
    }
}

/// One field of an event, as stored and as typed.
#[derive(Debug)]
pub struct Field {
    /// Its name, as the ledger keeps it: it ends with its unit, where it has one.
    pub name: &'static str,
    /// What it says, in English.
    pub meaning: &'static str,
    /// Whether an event without it cannot be.
    pub is_needed: bool,
    /// How it is typed, read and asked.
    pub spec: Spec,
}

impl Field {
    /// Its name without the unit of a quantity.
    pub fn stem(&self) -> &'static str {
        let ending = match self.spec.holds {
            Holds::Figure(Figure { quantity, .. }) | Holds::Figures(quantity) => quantity.ending_of_names(),
            _ => "",
        };
        self.name.strip_suffix(ending).and_then(|stem| stem.strip_suffix('_')).unwrap_or(self.name)
    }

    /// Every name it may be typed under, with the unit of that name.
    pub fn names(&self) -> Vec<(String, Option<Unit>)> {
        let quantity = match self.spec.holds {
            Holds::Figure(Figure { quantity, .. }) | Holds::Figures(quantity) => quantity,
            _ => return vec![(self.name.to_owned(), None)],
        };
        let units = quantity.units();
        if units.is_empty() {
            return vec![(self.name.to_owned(), None)];
        }
        units.iter().map(|unit| (format!("{}_{}", self.stem(), unit.ending), Some(*unit))).collect()
    }

    /// The name that a form in the reader's units asks under, with its unit.
    pub fn asked(&self, is_us: bool) -> (String, Option<Unit>) {
        let quantity = match self.spec.holds {
            Holds::Figure(Figure { quantity, .. }) | Holds::Figures(quantity) => quantity,
            _ => return (self.name.to_owned(), None),
        };
        match quantity.for_reader(is_us) {
            Some(unit) => (format!("{}_{}", self.stem(), unit.ending), Some(unit)),
            None => (self.name.to_owned(), None),
        }
    }
}

/// How a field is typed, read and asked.
#[derive(Debug, Clone, Copy)]
pub struct Spec {
    /// What it holds.
    pub holds: Holds,
    /// Key of its label on forms; empty where no form asks it.
    pub label: &'static str,
    /// Seldom given: behind "more" on forms.
    pub is_seldom: bool,
    /// May be left out though it is needed: it can be worked out from others.
    pub is_worked_out: bool,
    /// Asked of everybody on forms, though an event without it can be.
    pub is_asked: bool,
}

impl Spec {
    /// Labelled on forms by the text of a key.
    pub(super) const fn label(self, label: &'static str) -> Self {
        Spec { label, ..self }
    }

    /// Marks a field that is seldom given: forms keep it folded away.
    pub(super) const fn seldom(self) -> Self {
        Spec { is_seldom: true, ..self }
    }

    /// May be left out: it can be worked out from others.
    pub(super) const fn worked_out(self) -> Self {
        Spec { is_worked_out: true, ..self }
    }

    /// Asked of everybody on forms.
    pub(super) const fn asked(self) -> Self {
        Spec { is_asked: true, ..self }
    }

    /// Within these, both included.
    pub(super) const fn within(self, low: f64, high: f64) -> Self {
        match self.holds {
            Holds::Figure(figure) => {
                Spec { holds: Holds::Figure(Figure { low, high, is_above_low: false, ..figure }), ..self }
            }
            _ => self,
        }
    }

    /// Takes figures above zero only: sets the low limit to zero, not included.
    pub(super) const fn above_zero(self) -> Self {
        match self.holds {
            Holds::Figure(figure) => {
                Spec { holds: Holds::Figure(Figure { low: 0.0, is_above_low: true, ..figure }), ..self }
            }
            _ => self,
        }
    }

    /// Above zero, to this.
    pub(super) const fn above_zero_to(self, high: f64) -> Self {
        match self.holds {
            Holds::Figure(figure) => {
                let figure = Figure { low: 0.0, high, is_above_low: true, ..figure };
                Spec { holds: Holds::Figure(figure), ..self }
            }
            _ => self,
        }
    }
}

/// What a field holds.
#[derive(Debug, Clone, Copy)]
pub enum Holds {
    /// A figure of a quantity.
    Figure(Figure),
    /// Several figures of one, as typed, with blanks between them.
    Figures(Quantity),
    /// One word out of a few; their texts have the keys that the prefix makes of them.
    OneOf(&'static [&'static str], &'static str),
    /// A name of the yard file's.
    Name(Named),
    /// The id of another event.
    Event,
    /// A UTC time.
    Time,
    /// A month, as 2027-01.
    Month,
    /// A line of text.
    Text,
    /// Some lines of text.
    Lines,
}

/// Names of the yard file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Named {
    /// Id of a tank of the yard.
    Tank,
    /// Id of a truck of the yard.
    Truck,
    /// Id of a route of the yard.
    Route,
    /// Id of a class of route, or of a segment.
    Road,
    /// Id of a product of the yard.
    Product,
    /// A product, or a liquid in words.
    Liquid,
    /// Id of a meter of the yard.
    Meter,
    /// A meter; any name where the yard file describes none.
    MeterOrAny,
    /// Another agency, or a name that the yard file does not know.
    Agency,
    /// Id of a chore.
    Chore,
    /// Id of a watershed of the yard.
    Watershed,
    /// Id of an instrument of the bench.
    Instrument,
    /// A scale of an instrument that the bench knows.
    Scale,
}

/// A figure, with what it may be, in the unit it is kept in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    /// What it is of.
    pub quantity: Quantity,
    /// The least that is accepted, in the stored unit.
    pub low: f64,
    /// The most that is accepted, in the stored unit.
    pub high: f64,
    /// The least itself is not taken.
    pub is_above_low: bool,
}

/// What figures are of, by the unit they are kept in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// A volume, stored in m³.
    Volume,
    /// kg, asked in pounds or kilograms.
    Mass,
    /// kg, asked in short tons or tonnes.
    Tons,
    /// m, asked in feet or metres, or written with its own unit.
    Depth,
    /// m, asked in miles or kilometres.
    Lane,
    /// A temperature, stored in °C.
    Temperature,
    /// A pressure, stored in kPa.
    Pressure,
    /// A time, stored in h.
    Hours,
    /// A time, stored in s.
    Seconds,
    /// Per cent, of what the field says.
    Percent,
    /// An amount of money, in US dollars.
    Dollars,
    /// A concentration, in mg/L.
    MilligramsPerLitre,
    /// A number without a unit.
    Number,
    /// What an instrument shows, in the unit of its scale.
    Reading,
    /// mL, of a catch.
    CaughtVolume,
    /// kg, of a catch.
    CaughtMass,
    /// A mass of any unit, of two that are compared.
    Ratio,
}

impl Quantity {
    /// How names of its figures end, as they are kept.
    const fn ending_of_names(self) -> &'static str {
        match self {
            Quantity::Volume => CUBIC_METRE.ending,
            Quantity::Mass | Quantity::Tons | Quantity::CaughtMass => KILOGRAM.ending,
            Quantity::Depth | Quantity::Lane => METRE.ending,
            Quantity::Temperature => CELSIUS.ending,
            Quantity::Pressure => KILOPASCAL.ending,
            Quantity::Hours => HOUR.ending,
            Quantity::CaughtVolume => MILLILITRE.ending,
            Quantity::Seconds
            | Quantity::Percent
            | Quantity::Dollars
            | Quantity::MilligramsPerLitre
            | Quantity::Number
            | Quantity::Reading
            | Quantity::Ratio => "",
        }
    }

    /// Units it may be typed in; none for what has one unit only.
    pub const fn units(self) -> &'static [Unit] {
        match self {
            Quantity::Volume => &[CUBIC_METRE, LITRE, GALLON],
            Quantity::Mass | Quantity::Tons | Quantity::CaughtMass => &[KILOGRAM, POUND, SHORT_TON, TONNE],
            Quantity::Depth | Quantity::Lane => &[METRE, FOOT, INCH, MILLIMETRE, MILE, KILOMETRE],
            Quantity::Temperature => &[CELSIUS, FAHRENHEIT],
            Quantity::Pressure => &[KILOPASCAL, PSI],
            Quantity::Hours => &[HOUR, MINUTE],
            Quantity::CaughtVolume => &[MILLILITRE, FLUID_OUNCE],
            Quantity::Seconds
            | Quantity::Percent
            | Quantity::Dollars
            | Quantity::MilligramsPerLitre
            | Quantity::Number
            | Quantity::Reading
            | Quantity::Ratio => &[],
        }
    }

    /// The unit that a form in the reader's units asks in; none for what has one unit only, and for times, which are
    /// asked in hours everywhere.
    pub const fn for_reader(self, is_us: bool) -> Option<Unit> {
        let (us, si) = match self {
            Quantity::Volume => (GALLON, LITRE),
            Quantity::Mass | Quantity::CaughtMass => (POUND, KILOGRAM),
            Quantity::Tons => (SHORT_TON, TONNE),
            Quantity::Depth => (FOOT, METRE),
            Quantity::Lane => (MILE, KILOMETRE),
            Quantity::Temperature => (FAHRENHEIT, CELSIUS),
            Quantity::Pressure => (PSI, KILOPASCAL),
            Quantity::CaughtVolume => (FLUID_OUNCE, MILLILITRE),
            _ => return None,
        };
        Some(if is_us { us } else { si })
    }

    /// The least and the most that any yard has of it: beyond is a slip of the finger, not a doubt.
    pub const fn limits(self) -> (f64, f64) {
        match self {
            Quantity::Volume => (0.0, 1e6),
            Quantity::Depth => (0.0, 100.0),
            Quantity::Lane => (0.0, 1e7),
            Quantity::Temperature => (-100.0, 100.0),
            Quantity::Reading => (-1e9, 1e9),
            Quantity::Pressure => (0.0, 10_000.0),
            Quantity::Hours => (0.0, 1000.0),
            Quantity::Seconds => (0.0, 3600.0),
            Quantity::Percent => (0.0, 100.0),
            Quantity::Mass
            | Quantity::Tons
            | Quantity::Dollars
            | Quantity::MilligramsPerLitre
            | Quantity::Number
            | Quantity::CaughtVolume
            | Quantity::CaughtMass
            | Quantity::Ratio => (0.0, 1e9),
        }
    }
}

const fn plain(holds: Holds) -> Spec {
    Spec { holds, label: "", is_seldom: false, is_worked_out: false, is_asked: false }
}

const fn figure(quantity: Quantity) -> Spec {
    let (low, high) = quantity.limits();
    plain(Holds::Figure(Figure { quantity, low, high, is_above_low: false }))
}

/// One word of a choice; the texts of its words have keys with this prefix.
pub(super) const fn one_of<C: Choice>(prefix: &'static str) -> Spec {
    plain(Holds::OneOf(C::WORDS, prefix))
}

pub(super) const VOLUME: Spec = figure(Quantity::Volume);
pub(super) const MASS: Spec = figure(Quantity::Mass);
pub(super) const TONS: Spec = figure(Quantity::Tons);
pub(super) const DEPTH: Spec = figure(Quantity::Depth);
pub(super) const LANE: Spec = figure(Quantity::Lane);
pub(super) const TEMPERATURE: Spec = figure(Quantity::Temperature);
pub(super) const PRESSURE: Spec = figure(Quantity::Pressure);
pub(super) const HOURS: Spec = figure(Quantity::Hours);
pub(super) const SECONDS: Spec = figure(Quantity::Seconds);
pub(super) const PERCENT: Spec = figure(Quantity::Percent);
pub(super) const DOLLARS: Spec = figure(Quantity::Dollars);
pub(super) const MG_L: Spec = figure(Quantity::MilligramsPerLitre);
pub(super) const NUMBER: Spec = figure(Quantity::Number);
pub(super) const READING: Spec = figure(Quantity::Reading);
pub(super) const RATIO: Spec = figure(Quantity::Ratio);
pub(super) const CAUGHT_VOLUMES: Spec = plain(Holds::Figures(Quantity::CaughtVolume));
pub(super) const CAUGHT_MASSES: Spec = plain(Holds::Figures(Quantity::CaughtMass));
pub(super) const TANK: Spec = plain(Holds::Name(Named::Tank));
pub(super) const TRUCK: Spec = plain(Holds::Name(Named::Truck));
pub(super) const ROUTE: Spec = plain(Holds::Name(Named::Route));
pub(super) const ROAD: Spec = plain(Holds::Name(Named::Road));
pub(super) const PRODUCT: Spec = plain(Holds::Name(Named::Product));
pub(super) const LIQUID: Spec = plain(Holds::Name(Named::Liquid));
pub(super) const METER: Spec = plain(Holds::Name(Named::Meter));
pub(super) const METER_OR_ANY: Spec = plain(Holds::Name(Named::MeterOrAny));
pub(super) const AGENCY: Spec = plain(Holds::Name(Named::Agency));
pub(super) const CHORE: Spec = plain(Holds::Name(Named::Chore));
pub(super) const WATERSHED: Spec = plain(Holds::Name(Named::Watershed));
pub(super) const INSTRUMENT: Spec = plain(Holds::Name(Named::Instrument));
pub(super) const SCALE: Spec = plain(Holds::Name(Named::Scale));
pub(super) const EVENT: Spec = plain(Holds::Event);
pub(super) const TIME: Spec = plain(Holds::Time);
pub(super) const MONTH: Spec = plain(Holds::Month);
pub(super) const TEXT: Spec = plain(Holds::Text);
pub(super) const LINES: Spec = plain(Holds::Lines);
