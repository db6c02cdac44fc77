//! A reading of one of the yard's instruments, made into a strength with what the yard knows of the instrument and of
//! the tank; and what a number that makes no sense was perhaps meant to be.

use bench::instrument::reading_decimals;
use bench::measure::{Measured, Sample, measure};
use bench::register;
use bench::solute::Solute;
use chemistry::{MassFraction, Salt};
use event::{Reading, SamplePoint};
use message::{Arg, Message, message};
use quantity::{ThermodynamicTemperature, celsius};
use site::{Instrument, Yard};
use yard::stock::Books;

use crate::problem::parse_number;

/// Weakest and strongest brine that a slip of the decimal mark is taken to mean, per cent by mass. Our own figures.
const SLIP: std::ops::RangeInclusive<f64> = 15.0..=26.4;
/// Per cent by mass outside the tank's band from which a number is held against other scales. Our own figure.
const SENSELESS: f64 = 1.0;
/// Temperature at which an instrument that needs none is taken to stand, °C.
const ROOM_CELSIUS: f64 = 20.0;

/// What one instrument showed in one sample, once or several times.
#[derive(Debug, Clone)]
pub struct Shown<'y> {
    yard: &'y Yard,
    /// Tank that the sample is from; none for the plant's tap.
    pub tank: Option<String>,
    /// What it was read with.
    pub instrument: &'y Instrument,
    /// As read, in the unit of the instrument's scale, its certificate's offset still in it.
    pub readings: Vec<f64>,
    /// Temperature of the sample; none where the instrument needs none.
    pub temperature: Option<ThermodynamicTemperature>,
    /// What is dissolved in the tank, by the book.
    pub solute: Solute,
    /// The tank holds sodium chloride alone, so that it has a band to be judged by.
    pub is_plain: bool,
}

/// What a number was perhaps meant to be.
#[derive(Debug, Clone, PartialEq)]
pub enum Meant {
    /// The decimal mark was left out: the readings with it, and the decimals they have.
    Slip(Vec<f64>, usize),
    /// It was read on another instrument of the yard: ids.
    Instruments(Vec<String>),
    /// It was read on a scale that the yard has no instrument of: names of [`register::NAMES`].
    Scales(Vec<&'static str>),
}

/// What is dissolved in a tank by the book, and whether that is sodium chloride alone; the tap gives sodium chloride.
/// None for a mix with a liquid whose salt nobody has declared.
pub fn dissolved(yard: &Yard, books: &Books, tank: Option<&str>) -> Option<(Solute, bool)> {
    let book = tank.and_then(|tank| books.tank(tank)).filter(|book| book.content.has_declared());
    match book {
        None => Some((Solute::of(Salt::SodiumChloride), true)),
        Some(book) => Some((book.content.solute(yard)?, false)),
    }
}

/// What an instrument should show in sodium chloride brine of a known strength (% by mass, 0 is water), its
/// certificate's offset included, in the unit of its scale.
///
/// # Errors
/// An instrument that needs a temperature and was given none; brine outside the scale.
pub fn should_show(
    instrument: &Instrument,
    percent: f64,
    temperature: Option<ThermodynamicTemperature>,
) -> Result<f64, bench::Error> {
    let scale = &instrument.card.scale;
    let at = match temperature {
        Some(at) => at,
        None if scale.needs_temperature() => return Err(bench::Error::TemperatureMissing),
        None => celsius(ROOM_CELSIUS),
    };
    let brine = Solute::of(Salt::SodiumChloride).at(MassFraction::from_percent(percent)?)?;
    Ok(scale.shows(&brine, at)? + instrument.offset)
}

impl<'y> Shown<'y> {
    /// What was read of a tank, or of the plant's tap.
    pub fn new(
        (yard, books): (&'y Yard, &Books),
        tank: Option<String>,
        instrument: &'y Instrument,
        readings: Vec<f64>,
        temperature: Option<ThermodynamicTemperature>,
    ) -> Option<Self> {
        let (solute, is_plain) = dissolved(yard, books, tank.as_deref())?;
        Some(Self { yard, tank, instrument, readings, temperature, solute, is_plain })
    }

    /// What a logged reading was read as; none where it does not say what its instrument showed.
    pub(crate) fn logged(reading: &Reading, (yard, books): (&'y Yard, &Books)) -> Option<Self> {
        let instrument = yard.instrument(reading.instrument.as_ref()?)?;
        let readings = several(reading.shown.as_ref()?)?;
        let tank = reading.tank.clone().filter(|_| reading.level != Some(SamplePoint::PlantTap));
        Self::new((yard, books), tank, instrument, readings, reading.temp_c.map(celsius))
    }

    /// The strength, with its interval.
    ///
    /// # Errors
    /// A number off the scale, or a temperature that is missing or outside the data.
    pub fn measured(&self) -> Result<Measured, bench::Error> {
        self.by(self.instrument, &self.readings)
    }

    /// Mean of what was shown.
    pub fn mean(&self) -> f64 {
        self.readings.iter().sum::<f64>() / self.readings.len() as f64
    }

    /// Whether a strength is far from everything that the tank should hold.
    pub fn is_senseless(&self, found: &Measured) -> bool {
        let spec = self.yard.spec(self.tank.as_deref().unwrap_or_default());
        let (low, high) = (spec.low.percent(), spec.high.percent());
        !(low - SENSELESS..=high + SENSELESS).contains(&found.brine.strength().percent())
    }

    /// What a number was perhaps meant to be: with its decimal mark, where it is off the scale, or on another scale;
    /// none where no other reading of it makes sense.
    pub fn meant(&self, is_off_scale: bool) -> Option<Meant> {
        let target = self.yard.spec(self.tank.as_deref().unwrap_or_default()).target.percent();
        let strength = |instrument: &Instrument, shown: &[f64]| {
            self.by(instrument, shown).ok().map(|found| found.brine.strength().percent())
        };
        // 1150 for 1.150: the mark was left out.
        let divided = |by: f64| self.readings.iter().map(|shown| shown / by).collect::<Vec<f64>>();
        let is_slip = |by: &f64| strength(self.instrument, &divided(*by)).is_some_and(|w| SLIP.contains(&w));
        if let Some(by) = [1000.0, 100.0, 10.0].into_iter().find(is_slip).filter(|_| is_off_scale) {
            return Some(Meant::Slip(divided(by), reading_decimals(self.instrument.card.resolution)));
        }
        let fits = |other: &&Instrument| {
            let is_other = other.id != self.instrument.id;
            is_other && strength(other, &self.readings).is_some_and(|w| (w - target).abs() <= SENSELESS)
        };
        let others: Vec<String> =
            self.yard.instruments.iter().filter(fits).map(|other| other.id.clone()).collect();
        if !others.is_empty() {
            return Some(Meant::Instruments(others));
        }
        let (scale, plain) = (&self.instrument.card.scale, Solute::of(Salt::SodiumChloride));
        let scales = register::likely_scales(self.mean(), scale, &plain, self.temperature, target);
        (!scales.is_empty()).then_some(Meant::Scales(scales))
    }

    /// The doubt, as a message: what was typed and what it was perhaps meant to be.
    pub fn problem(&self, meant: &Meant, typed: &str) -> Message {
        let scales: Vec<Arg> = match meant {
            Meant::Slip(readings, decimals) => {
                let readings: Vec<String> =
                    readings.iter().map(|one| format!("{one:.*}", *decimals)).collect();
                return message!("entry.meant-slip", typed = typed, shown = readings.join(" "));
            }
            Meant::Instruments(ids) => {
                let named = ids.iter().filter_map(|id| self.yard.instrument(id));
                named.map(|one| one.name.as_str().into()).collect()
            }
            Meant::Scales(names) => {
                names.iter().map(|name| Message::new(format!("scale.{name}")).into()).collect()
            }
        };
        message!("entry.meant-elsewhere", scales = scales)
    }

    /// Numbers as an instrument of the yard would mean them, of sodium chloride unless it is this sample's own.
    fn by(&self, instrument: &Instrument, readings: &[f64]) -> Result<Measured, bench::Error> {
        let is_own = instrument.id == self.instrument.id && readings == self.readings;
        let sample = Sample {
            solute: if is_own { self.solute.clone() } else { Solute::of(Salt::SodiumChloride) },
            readings: readings.iter().map(|shown| shown - instrument.offset).collect(),
            temperature: self.temperature,
            temperature_half_width: self.yard.bench.thermometer,
        };
        measure(&instrument.card, &sample)
    }
}

/// One number, or several with blanks between; none where one of them is none.
pub(crate) fn several(typed: &str) -> Option<Vec<f64>> {
    let read: Option<Vec<f64>> = typed.split_whitespace().map(|one| parse_number(one).ok()).collect();
    read.filter(|numbers| !numbers.is_empty())
}
