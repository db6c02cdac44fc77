//! Readings to strength, with its uncertainty.

use chemistry::{Brine, MassFraction, Salt, conductivity, density, dissolution, refraction, root};
use quantity::{
    TemperatureInterval, ThermodynamicTemperature, celsius, in_celsius, in_kelvins, in_kg_per_m3,
    in_millisiemens_per_cm, kelvins,
};

use crate::conformity::Known;
use crate::error::{Error, check};
use crate::instrument::{Scale, Sensed};
use crate::solute::Solute;
use crate::uncertainty::{Budget, Component, Expanded, coverage_factor};

/// Weakest brine read, as a fraction: below it conductivity has no data.
const LEAST: f64 = 0.005;
/// Steps for slopes: strength as a fraction, temperature in kelvins.
const STEP_FRACTION: f64 = 1e-5;
const STEP_KELVIN: f64 = 0.05;
/// Strength, as a fraction, over which the slope at an end of the scale is taken: at the end itself it may be flat.
const END_CHORD: f64 = 0.005;
/// Tolerance of the strongest brine on a scale, as a fraction.
const REACH_WITHIN: f64 = 1e-9;
/// Tolerance of the strength found, as a fraction.
const ROOT_WITHIN: f64 = 1e-10;
/// Temperature and half-width, °C, taken for a compensated refractometer whose sample temperature was not given.
const UNASKED: (f64, f64) = (20.0, 10.0);
/// What an automatic compensation may be off by, degrees Brix: a judgment, from 0.03 between the published tables.
const COMPENSATION_BRIX: f64 = 0.05;
/// Degrees Brix in one per cent of salt near plant strength: 0.95 % a degree.
const PERCENT_PER_BRIX: f64 = 0.95;

/// An instrument with its accuracy, all in the unit of its scale.
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    /// The scale it is read on.
    pub scale: Scale,
    /// Smallest step that can be read.
    pub resolution: f64,
    /// Standard uncertainty of its last zero or check.
    pub calibration: f64,
    /// Standard deviation of one reading after another of the same sample, by one person.
    pub repeatability: f64,
}

/// A sample with its readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// The salts in it.
    pub solute: Solute,
    /// One reading or several.
    pub readings: Vec<f64>,
    /// Temperature of the sample, where it was taken.
    pub temperature: Option<ThermodynamicTemperature>,
    /// Half of the interval of the thermometer.
    pub temperature_half_width: TemperatureInterval,
}

/// A measured strength.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// The brine, with its strength.
    pub brine: Brine,
    /// Contributions to the uncertainty of its strength, per cent by mass.
    pub budget: Budget,
    /// 95 % interval, per cent by mass.
    pub expanded: Expanded,
    /// Why the reading is questionable: a sample of that strength is not all liquid at its temperature.
    pub doubt: Option<chemistry::Error>,
}

impl Measured {
    /// The strength as a check against the spec range takes it.
    ///
    /// # Errors
    /// None in range; the signature follows the checked constructors.
    pub fn known(&self) -> Result<Known, Error> {
        // Where a rectangle sets the shape, k is less than 1.96: the interval, not u, is what the verdict needs.
        let degrees_of_freedom = self.budget.effective_degrees_of_freedom();
        let u = self.expanded.half_width / coverage_factor(degrees_of_freedom);
        Ok(Known {
            strength: self.brine.strength(),
            standard_uncertainty: MassFraction::from_percent(u)?,
            degrees_of_freedom,
        })
    }
}

/// Strength of a sample from what an instrument showed in it.
///
/// # Equation
/// [`Scale::shows`] read backward by [`root::zero`] over strength; the interval by JCGM 100 from resolution,
/// calibration, repeats, temperature, and the equation of the property.
///
/// # Range
/// As the property sensed; conductivity from 0.5 % and of NaCl and KCl only, whose curve does not turn.
///
/// # Error
/// In the answer, and never stated smaller than the sources agree (95 %): density 0.10 % by mass at 10…35 °C and 0.2 %
/// elsewhere; index 0.12 %; conductivity 1.0 % at 20 °C and 3.5 % elsewhere.
///
/// # Source
/// As [`chemistry`]'s property.
///
/// # Errors
/// [`Error::TooFew`] without a reading; [`Error::Value`] for one that is no number, or a temperature missing
/// where it decides; [`Error::OffScale`] for a reading that no brine of this solute gives.
///
/// # Examples
/// ```
/// use bench::instrument::{HydrometerScale, Scale};
/// use bench::measure::{Instrument, Sample, measure};
/// use bench::solute::Solute;
/// use chemistry::Salt;
/// use quantity::{celsius, kelvins};
/// let scale = Scale::Hydrometer(HydrometerScale::Relative60);
/// let hydrometer = Instrument { scale, resolution: 0.001, calibration: 0.0005, repeatability: 0.0003 };
/// let sample = Sample {
///     solute: Solute::of(Salt::SodiumChloride),
///     readings: vec![1.1855], // looks like 24.2 %
///     temperature: Some(celsius(0.0)),
///     temperature_half_width: kelvins(0.5),
/// };
/// let found = measure(&hydrometer, &sample)?;
/// assert!((found.brine.strength().percent() - 23.3).abs() < 0.1);
/// assert!(measure(&hydrometer, &Sample { temperature: None, ..sample }).is_err());
/// # Ok::<(), bench::Error>(())
/// ```
pub fn measure(instrument: &Instrument, sample: &Sample) -> Result<Measured, Error> {
    let (resolution, calibration, repeatability) =
        (instrument.resolution, instrument.calibration, instrument.repeatability);
    let scale = &instrument.scale;
    for (what, value) in [
        ("bench.quantity.resolution", resolution),
        ("bench.quantity.calibration", calibration),
        ("bench.quantity.repeatability", repeatability),
    ] {
        check(what, value, "bench.accepted.from_zero", 0.0 <= value)?;
    }
    let (at, half_width) = temperature_of(scale, sample)?;
    let (mean, spread, degrees) = repeats_of(sample, repeatability)?;
    let way = Way::new(scale, &sample.solute, at)?;
    let w = way.back_to_an_end(mean)?;
    let brine = sample.solute.at_fraction(w)?;
    let slope = way.slope(w)?;
    let per_unit = 100.0 / slope;
    let mut lines = vec![
        Component::rectangle("resolution", resolution / 2.0, per_unit),
        Component::normal("calibration", calibration, per_unit),
        match degrees {
            Some(degrees) => Component::estimated("repeats", spread, degrees, per_unit),
            None => Component::normal("repeatability", spread, per_unit),
        },
        Component::rectangle("temperature", in_kelvins(half_width), way.per_kelvin(mean, w, half_width)?),
        Component::normal(
            "equation",
            of_equation(scale, &sample.solute, w, at)? / coverage_factor(None),
            1.0,
        ),
    ];
    if matches!(scale, Scale::Refractometer { compensated: true, .. }) {
        lines.push(Component::rectangle("compensation", COMPENSATION_BRIX, PERCENT_PER_BRIX));
    }
    let budget = Budget::new(lines)?;
    let expanded = budget.expanded();
    let doubt = dissolution::check_dissolved(&brine, at).err();
    Ok(Measured { brine, budget, expanded, doubt })
}

fn temperature_of(
    scale: &Scale,
    sample: &Sample,
) -> Result<(ThermodynamicTemperature, TemperatureInterval), Error> {
    let half_width = in_kelvins(sample.temperature_half_width);
    check(
        "bench.quantity.temperature_half_width",
        half_width,
        "bench.accepted.from_zero",
        0.0 <= half_width,
    )?;
    match sample.temperature {
        Some(at) => Ok((at, sample.temperature_half_width)),
        None if scale.needs_temperature() => Err(Error::TemperatureMissing),
        None => Ok((celsius(UNASKED.0), kelvins(UNASKED.1))),
    }
}

/// Mean, standard uncertainty of the mean, and the degrees of freedom of that where it comes from repeats.
fn repeats_of(sample: &Sample, repeatability: f64) -> Result<(f64, f64, Option<f64>), Error> {
    let n = sample.readings.len();
    for reading in &sample.readings {
        check("bench.quantity.reading", *reading, "bench.accepted.number", true)?;
    }
    let mean = sample.readings.iter().sum::<f64>() / n as f64;
    match n {
        0 => Err(Error::TooFew { what: "bench.task.strength", found: 0, needed: 1 }),
        1 => Ok((mean, repeatability, None)),
        _ => {
            let squares: f64 = sample.readings.iter().map(|reading| (reading - mean).powi(2)).sum();
            let (n, degrees) = (n as f64, n as f64 - 1.0);
            Ok((mean, (squares / degrees / n).sqrt(), Some(degrees)))
        }
    }
}

/// The way from strength to reading and back, for one instrument and one solute.
struct Way<'a> {
    scale: &'a Scale,
    solute: &'a Solute,
    at: ThermodynamicTemperature,
    /// The strengths at which the instrument shows something, weakest and strongest, as fractions.
    reach: (f64, f64),
}

impl<'a> Way<'a> {
    fn new(scale: &'a Scale, solute: &'a Solute, at: ThermodynamicTemperature) -> Result<Self, Error> {
        let mut way = Self { scale, solute, at, reach: (0.0, 0.0) };
        way.reach = way.find_reach()?;
        Ok(way)
    }

    fn shows(&self, w: f64) -> Result<f64, Error> {
        self.scale.shows(&self.solute.at_fraction(w)?, self.at)
    }

    fn find_reach(&self) -> Result<(f64, f64), Error> {
        let low = match self.scale.senses() {
            Sensed::Conductivity => {
                let turns =
                    !matches!(self.solute.only_salt(), Some(Salt::SodiumChloride | Salt::PotassiumChloride));
                if turns {
                    let reason = "bench.why.two_strengths";
                    return Err(Error::Undetermined { what: "bench.task.conductivity", reason });
                }
                LEAST
            }
            _ => 0.0,
        };
        // A compensated scale may start above water when cold: the first per cent that shows anything is the start.
        let start = (0..=30).map(|percent| low + 0.01 * f64::from(percent)).find(|w| self.shows(*w).is_ok());
        let Some(start) = start else {
            return Err(self.shows(0.2).err().unwrap_or(Error::TemperatureMissing));
        };
        Ok((start, root::edge(|w| self.shows(w).is_ok(), start, 1.0, REACH_WITHIN)))
    }

    fn back(&self, reading: f64) -> Result<f64, Error> {
        let (weak, strong) = self.reach;
        let (first, last) = (self.shows(weak)?, self.shows(strong)?);
        let (low, high) = (first.min(last), first.max(last));
        let slack = 1e-9 * (high - low);
        if reading < low - slack || high + slack < reading {
            return Err(Error::OffScale { reading, low, high });
        }
        if reading <= low || high <= reading {
            return Ok(if (reading <= low) == (first < last) { weak } else { strong });
        }
        // Within its reach every scale shows something; should one refuse, that is what is said.
        let mut refused = None;
        let miss = |w: f64| match self.shows(w) {
            Ok(shown) => shown - reading,
            Err(error) => {
                refused = Some(error);
                0.0
            }
        };
        let found = root::zero(miss, (weak, first - reading), (strong, last - reading), ROOT_WITHIN);
        refused.map_or(Ok(found), Err)
    }

    /// As [`Self::back`]; a reading that passes an end by no more than the equation may be off is that end.
    fn back_to_an_end(&self, reading: f64) -> Result<f64, Error> {
        let refused = match self.back(reading) {
            Err(refused @ Error::OffScale { .. }) => refused,
            found => return found,
        };
        for (end, inward) in [(self.reach.0, END_CHORD), (self.reach.1, -END_CHORD)] {
            let slope = (self.shows(end + inward)? - self.shows(end)?) / inward;
            let off = (reading - self.shows(end)?) / slope;
            if 100.0 * off.abs() <= of_equation(self.scale, self.solute, end, self.at)? {
                return Ok(end);
            }
        }
        Err(refused)
    }

    /// Change of the reading for one of strength, as a fraction.
    fn slope(&self, w: f64) -> Result<f64, Error> {
        let (weak, strong) = self.reach;
        let (a, b) = ((w - STEP_FRACTION).max(weak), (w + STEP_FRACTION).min(strong));
        let slope = (self.shows(b)? - self.shows(a)?) / (b - a);
        check("bench.quantity.reading_slope", slope, "bench.accepted.not_zero", 0.0 < slope.abs())?;
        Ok(slope)
    }

    /// Change of strength, per cent, for a temperature read one kelvin too warm: the mean over the whole interval.
    fn per_kelvin(&self, reading: f64, w: f64, half_width: TemperatureInterval) -> Result<f64, Error> {
        let step = in_kelvins(half_width).max(STEP_KELVIN);
        let sides = [-step, step].map(|by| {
            Way::new(self.scale, self.solute, celsius(in_celsius(self.at) + by))?.back_to_an_end(reading)
        });
        match sides {
            [Ok(cold), Ok(warm)] => Ok(100.0 * (warm - cold) / (2.0 * step)),
            [Ok(cold), Err(_)] => Ok(100.0 * (w - cold) / step),
            [Err(_), Ok(warm)] => Ok(100.0 * (warm - w) / step),
            [Err(error), Err(_)] => Err(error),
        }
    }
}

/// Half of the 95 % interval that the equation of the property leaves, per cent by mass.
fn of_equation(scale: &Scale, solute: &Solute, w: f64, at: ThermodynamicTemperature) -> Result<f64, Error> {
    let t = in_celsius(at);
    let property = |w: f64| -> Result<(f64, f64), Error> {
        let brine = solute.at_fraction(w)?;
        Ok(match scale.senses() {
            Sensed::Density => {
                let found = density::estimate(&brine, at)?;
                (in_kg_per_m3(found.value), in_kg_per_m3(found.uncertainty))
            }
            Sensed::RefractiveIndex => {
                let found = refraction::estimate(&brine, at)?;
                (found.value.index(), found.uncertainty)
            }
            Sensed::Conductivity => {
                let found = conductivity::estimate(&brine, at)?;
                (in_millisiemens_per_cm(found.value), in_millisiemens_per_cm(found.uncertainty))
            }
        })
    };
    let least = match scale.senses() {
        Sensed::Density if (10.0..=35.0).contains(&t) => 0.10,
        Sensed::Density => 0.20,
        Sensed::RefractiveIndex => 0.12,
        Sensed::Conductivity if (t - 20.0).abs() < 0.5 => 1.0,
        Sensed::Conductivity => 3.5,
    };
    let (value, uncertainty) = property(w)?;
    // Towards water, which every equation covers, but not below where conductivity is known.
    let back = (w - 10.0 * STEP_FRACTION).max(0.0);
    let slope = match property(back) {
        Ok((weaker, _)) if back < w => (value - weaker) / (w - back),
        _ => (property(w + 10.0 * STEP_FRACTION)?.0 - value) / (10.0 * STEP_FRACTION),
    };
    Ok((100.0 * uncertainty / slope.abs()).max(least))
}
