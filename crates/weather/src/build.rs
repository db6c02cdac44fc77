//! Collects samples while a file is read, then sorts them and applies the rules that need the whole file.

use crate::clock::{HOUR, seconds_between};
use crate::limits;
use crate::notice::{NoticeKind, Tally};
use crate::sample::{Flags, Quantity, Sample, Samples, Value};
use crate::units::{Unit, is_just_over_full};
use jiff::Timestamp;
use message::{Arg, message};
use quantity::{difference, in_celsius, in_feet, in_kelvins, in_millimetres};
use std::fmt;

/// Samples in the order of the file.
#[derive(Debug, Default)]
pub(crate) struct Builder {
    samples: Vec<Sample>,
    pub(crate) tally: Tally,
}

/// Where a value stands in its file; made into a message only when there is something to say about it.
#[derive(Clone, Copy)]
pub(crate) enum Source<'a> {
    /// A line, counted from 1.
    Line(usize),
    /// A line and the value in it, as written.
    Cell(usize, &'a dyn fmt::Display),
    /// A path in JSON text, with the value behind it or without.
    Path(fmt::Arguments<'a>),
}

impl From<Source<'_>> for Arg {
    fn from(source: Source<'_>) -> Self {
        match source {
            Source::Line(line) => message!("weather.at.line", line = line).into(),
            Source::Cell(line, value) => {
                message!("weather.at.cell", line = line, value = value.to_string()).into()
            }
            Source::Path(path) => path.to_string().into(),
        }
    }
}

/// Where a value sits in time.
#[derive(Debug, Clone, Copy)]
pub(crate) struct When {
    pub(crate) start: Timestamp,
    pub(crate) end: Timestamp,
}

impl When {
    pub(crate) fn at(time: Timestamp) -> Self {
        Self { start: time, end: time }
    }

    pub(crate) fn between(start: Timestamp, end: Timestamp) -> Self {
        Self { start, end }
    }

    fn hours(self) -> f64 {
        seconds_between(self.start, self.end) as f64 / HOUR as f64
    }
}

impl Builder {
    /// Adds a number in a unit.
    pub(crate) fn number(
        &mut self,
        when: When,
        quantity: Quantity,
        number: f64,
        unit: Unit,
        place: Source<'_>,
    ) {
        let mut number = number;
        if quantity == Quantity::RelativeHumidity && is_just_over_full(number) {
            self.tally.count_at(
                NoticeKind::HumidityTakenAsFull,
                message!("weather.humidity-taken-as-full"),
                place,
            );
            number = 100.0;
        }
        self.value(when, quantity, unit.value(number), Flags::default(), None, place);
    }

    /// Adds a trace: nothing for sums, wet for logic.
    pub(crate) fn trace(&mut self, when: When, quantity: Quantity, place: Source<'_>) {
        let flags = Flags { trace: true, ..Flags::default() };
        self.value(when, quantity, Unit::Millimetres.value(0.0), flags, None, place);
    }

    /// Adds a typed value, flagging it when it cannot be and when it must be spread.
    pub(crate) fn value(
        &mut self,
        when: When,
        quantity: Quantity,
        value: Value,
        mut flags: Flags,
        sensor: Option<u16>,
        place: Source<'_>,
    ) {
        if flags.impossible || !limits::is_possible(quantity, &value, when.hours()) {
            flags.impossible = true;
            let text = message!("weather.impossible", quantity = &quantity);
            self.tally.count_at(NoticeKind::Impossible, text, place);
        }
        flags.spread |= quantity.is_amount() && seconds_between(when.start, when.end) > HOUR;
        self.samples.push(Sample { start: when.start, end: when.end, quantity, value, flags, sensor });
    }

    /// Sorts, resolves doubles and overlaps, and flags what only the whole file can tell.
    ///
    /// `from_gauge` is true for observations: snow in a gauge is caught short.
    pub(crate) fn finish(mut self, from_gauge: bool) -> (Samples, Tally) {
        self.samples.sort_by_key(|sample| (sample.quantity, sample.start, sample.sensor));
        self.keep_later_of_doubles();
        self.cut_overlaps();
        let Builder { samples, mut tally } = self;
        let mut samples = Samples::from_sorted(samples);
        flag_dew_points_above_air(&mut samples, &mut tally);
        flag_suspect_precipitation(&mut samples, &mut tally);
        if from_gauge {
            flag_snow_in_gauge(&mut samples);
        }
        (samples, tally)
    }

    fn keep_later_of_doubles(&mut self) {
        let tally = &mut self.tally;
        // The sort is stable, so of two equals the second is the later line; it replaces the first.
        self.samples.dedup_by(|later, earlier| {
            let same = later.quantity == earlier.quantity
                && later.start == earlier.start
                && later.end == earlier.end
                && later.sensor == earlier.sensor;
            if same {
                let first = message!("weather.quantity-at", quantity = &later.quantity, time = later.start);
                tally.count_at(NoticeKind::Duplicate, message!("weather.later-value-kept"), first);
                std::mem::swap(later, earlier);
            }
            same
        });
    }

    /// Where one interval of a quantity runs into the next, the later start wins; an amount keeps its share.
    fn cut_overlaps(&mut self) {
        for index in 1..self.samples.len() {
            let (before, after) = self.samples.split_at_mut(index);
            let (Some(earlier), Some(later)) = (before.last_mut(), after.first()) else { continue };
            let same = earlier.quantity == later.quantity && earlier.sensor == later.sensor;
            if !same || later.start >= earlier.end || later.start <= earlier.start {
                continue;
            }
            if let (true, Value::Length(amount)) = (earlier.quantity.is_amount(), &earlier.value) {
                let kept = seconds_between(earlier.start, later.start) as f64;
                let whole = seconds_between(earlier.start, earlier.end) as f64;
                earlier.value = Value::Length(*amount * (kept / whole));
            }
            earlier.end = later.start;
        }
    }
}

fn flag_dew_points_above_air(samples: &mut Samples, tally: &mut Tally) {
    let is_above = |sample: &Sample| {
        let air = samples.during(Quantity::AirTemperature, sample.start, sample.start)?;
        let excess = difference(sample.value.temperature()?, air.value.temperature()?);
        Some(in_kelvins(excess) > limits::DEW_POINT_ABOVE_AIR)
    };
    let dew_points = samples.of(Quantity::DewPoint).iter();
    let above: Vec<Timestamp> =
        dew_points.filter(|sample| is_above(sample) == Some(true)).map(|sample| sample.start).collect();
    mark(samples, Quantity::DewPoint, &above, |flags| flags.impossible = true);
    for start in &above {
        tally.count_at(NoticeKind::Impossible, message!("weather.dew-point-above-air"), *start);
    }
}

/// Program default: water in clear, dry, freezing air is most likely a fault of the gauge.
fn flag_suspect_precipitation(samples: &mut Samples, tally: &mut Tally) {
    let is_suspect = |sample: &Sample| {
        let with = |quantity| samples.during(quantity, sample.start, sample.end);
        let miles = in_feet(with(Quantity::Visibility)?.value.length()?) / quantity::FEET_PER_MILE;
        let humidity = with(Quantity::RelativeHumidity)?.value.share()?.percent();
        let air = in_celsius(with(Quantity::AirTemperature)?.value.temperature()?);
        let wet = in_millimetres(sample.value.length()?) > 0.0;
        Some(
            wet && miles > limits::SUSPECT_VISIBILITY_MILES - 1e-9
                && humidity < limits::SUSPECT_HUMIDITY
                && air < limits::SUSPECT_AIR,
        )
    };
    let amounts = samples.of(Quantity::Precipitation).iter();
    let suspect: Vec<Timestamp> =
        amounts.filter(|sample| is_suspect(sample) == Some(true)).map(|sample| sample.start).collect();
    mark(samples, Quantity::Precipitation, &suspect, |flags| flags.suspect = true);
    for start in &suspect {
        tally.count_at(NoticeKind::Suspect, message!("weather.suspect-gauge"), *start);
    }
}

fn flag_snow_in_gauge(samples: &mut Samples) {
    let in_snow = |sample: &Sample| {
        let reports = samples.of(Quantity::Weather);
        // Reports are short or instant, so those that matter start within the amount's interval or hold at its start.
        let from =
            reports.partition_point(|report| report.start < sample.start && report.end <= sample.start);
        let within = reports[from..].iter().take_while(|report| report.start <= sample.end);
        within.filter_map(|report| report.value.phase()).any(|phase| phase.snow)
    };
    let amounts = samples.of(Quantity::Precipitation).iter();
    let snowy: Vec<Timestamp> = amounts.filter(|sample| in_snow(sample)).map(|sample| sample.start).collect();
    mark(samples, Quantity::Precipitation, &snowy, |flags| flags.lower_bound = true);
}

/// Changes the flags of those samples of a quantity that start at one of the given, sorted times.
fn mark(samples: &mut Samples, quantity: Quantity, starts: &[Timestamp], change: impl Fn(&mut Flags)) {
    let chosen =
        |sample: &&mut Sample| sample.quantity == quantity && starts.binary_search(&sample.start).is_ok();
    samples.iter_mut().filter(chosen).for_each(|sample| change(&mut sample.flags));
}
