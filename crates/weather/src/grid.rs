//! Values laid on whole hours of UTC: means of states, shares of amounts, short gaps filled, and what is still missing.

mod window;

use crate::clock::{HOUR, from_seconds, hour_floor, later};
use crate::notice::{NoticeKind, Tally};
use crate::phase::frozen_share_reported;
use crate::psychrometrics::{dew_point, frost_point, relative_humidity, wet_bulb};
use crate::{
    Fraction, Interval, Irradiance, Notice, PhaseReport, Pressure, Quantity, ReportedPhase, Sample, Samples,
    Value,
};
use jiff::Timestamp;
use message::{Message, message};
use quantity::{
    Length, ThermodynamicTemperature, Velocity, celsius, in_celsius, in_metres_per_second, in_millimetres,
    metres_per_second, millimetres,
};
use window::{MARGIN, Window, fill, highest, means};

/// The most hours one grid holds: two years. A longer window is cut, with a notice.
const MOST_HOURS: usize = 2 * 366 * 24;
/// An hour counts as wholly covered by amounts when no more than this is missing, seconds.
const COVERED_SLACK: i64 = 60;

/// Options of an hourly grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GridOptions {
    /// Whether suspect water counts. If not, such an hour is dry: what makes the water suspect is a report of clear,
    /// dry air. The hour is flagged suspect either way.
    pub use_suspect: bool,
    /// Air pressure for the wet bulb; `None` takes that of the file's elevation, or of sea level.
    pub pressure: Option<Pressure>,
}

impl Default for GridOptions {
    fn default() -> Self {
        Self { use_suspect: true, pressure: None }
    }
}

/// Flags of the values of one hour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct HourFlags {
    /// A temperature, humidity or wind lies on a straight line across a gap.
    pub filled: bool,
    /// The precipitation is a share of a total over a longer interval.
    pub spread: bool,
    /// The precipitation is contradicted by the rest of the report.
    pub suspect: bool,
    /// The precipitation is at least this: snow in a gauge, or a part of the hour only.
    pub lower_bound: bool,
    /// A value of this hour was impossible or its sensor at fault; it was not used.
    pub impossible: bool,
}

/// One hour of weather. `None` is "not known", never zero.
#[derive(Debug, Clone, PartialEq)]
pub struct Hour {
    /// Its first moment, a whole hour of UTC.
    pub start: Timestamp,
    /// Mean air temperature.
    pub air: Option<ThermodynamicTemperature>,
    /// Dew point, given or from temperature and humidity.
    pub dew_point: Option<ThermodynamicTemperature>,
    /// Relative humidity over water, given or from temperature and dew point.
    pub relative_humidity: Option<Fraction>,
    /// Mean wind speed.
    pub wind: Option<Velocity>,
    /// Gust, the strongest given in the hour.
    pub gust: Option<Velocity>,
    /// Pavement surface temperature; the coldest sensor where there are several.
    pub pavement: Option<ThermodynamicTemperature>,
    /// Mean cloud cover.
    pub cloud: Option<Fraction>,
    /// Shortwave radiation on a level surface.
    pub shortwave: Option<Irradiance>,
    /// Liquid equivalent that fell in this hour.
    pub precipitation: Option<Length>,
    /// Wet by a trace: more than nothing, less than the smallest step.
    pub trace: bool,
    /// Probability of precipitation, the highest given for the hour.
    pub probability: Option<Fraction>,
    /// What the file says is falling.
    pub reported_phase: Option<ReportedPhase>,
    /// Freezing rain or drizzle is named, or ice is forecast to form while nothing says the precipitation is frozen.
    pub freezing_rain: bool,
    /// Psychrometric wet bulb over water.
    pub wet_bulb: Option<ThermodynamicTemperature>,
    /// Share that falls frozen, 1 = snow: by the report, else by the wet bulb.
    pub frozen_share: Option<Fraction>,
    /// Flags of these values.
    pub flags: HourFlags,
}

impl Hour {
    /// An hour of which nothing is known.
    pub fn unknown(start: Timestamp) -> Self {
        Self {
            start,
            air: None,
            dew_point: None,
            relative_humidity: None,
            wind: None,
            gust: None,
            pavement: None,
            cloud: None,
            shortwave: None,
            precipitation: None,
            trace: false,
            probability: None,
            reported_phase: None,
            freezing_rain: false,
            wet_bulb: None,
            frozen_share: None,
            flags: HourFlags::default(),
        }
    }

    /// End of the hour.
    pub fn end(&self) -> Timestamp {
        later(self.start, HOUR)
    }

    /// Whether something fell, a trace included; `None` when not known.
    pub fn is_wet(&self) -> Option<bool> {
        let measured = self.precipitation.map(|liquid| in_millimetres(liquid) > 0.0);
        if self.trace { Some(true) } else { measured }
    }

    /// Whether frost is likely: a dry hour, pavement below 0 °C and below the frost point of the air.
    ///
    /// An hour without any precipitation value is judged as if dry, on the side of the warning. `None` when pavement,
    /// air or humidity is not known.
    pub fn frost_likely(&self) -> Option<bool> {
        if self.is_wet() == Some(true) {
            return Some(false);
        }
        crate::frost::frost_likely(self.pavement?, self.air?, self.relative_humidity?).ok()
    }

    /// Frost point of the air, where temperature and humidity are known.
    pub fn frost_point(&self) -> Option<ThermodynamicTemperature> {
        frost_point(self.air?, self.relative_humidity?).ok()
    }
}

/// Consecutive hours, and notices of how they were made.
#[derive(Debug, Clone, PartialEq)]
pub struct HourlyGrid {
    /// The hours, without a break.
    pub hours: Vec<Hour>,
    /// What a person should know about them.
    pub notices: Vec<Notice>,
    /// The first hour from which on nothing at all is given.
    pub covers_until: Timestamp,
}

impl HourlyGrid {
    pub(crate) fn lay(
        samples: &Samples,
        start: Timestamp,
        wanted: usize,
        pressure: Pressure,
        use_suspect: bool,
    ) -> Self {
        let mut tally = Tally::default();
        if wanted > MOST_HOURS {
            tally.count(NoticeKind::WindowCut, message!("weather.window-cut", hours = MOST_HOURS));
        }
        let first = hour_floor(start);
        let window = Window::around(first, wanted.min(MOST_HOURS));
        let layers = Layers::of(samples, &window, use_suspect, &mut tally);
        let hours: Vec<Hour> =
            (0..window.inner()).map(|index| layers.hour(&window, index, pressure)).collect();
        let last = (0..hours.len()).rev().find(|index| layers.given[index + MARGIN]);
        let covers_until = last.map_or(first, |last| hours[last].end());
        let mut grid = HourlyGrid { hours, notices: Vec::new(), covers_until };
        grid.count_flags(&mut tally, use_suspect);
        for gap in grid.open_gaps() {
            tally.count_at(
                NoticeKind::OpenGap,
                message!("weather.open-gap"),
                message!("weather.from-to", from = gap.start, to = gap.end),
            );
        }
        grid.notices = tally.into_notices();
        grid
    }

    fn count_flags(&self, tally: &mut Tally, use_suspect: bool) {
        let suspect = if use_suspect { "weather.suspect-counted" } else { "weather.suspect-left-out" };
        for hour in &self.hours {
            let flags = hour.flags;
            let kinds = [
                (flags.filled, NoticeKind::Filled, "weather.filled"),
                (flags.spread, NoticeKind::Spread, "weather.spread"),
                (flags.suspect, NoticeKind::Suspect, suspect),
                (flags.lower_bound, NoticeKind::LowerBound, "weather.lower-bound"),
                (flags.impossible, NoticeKind::Impossible, "weather.impossible-not-used"),
            ];
            for (_, kind, id) in kinds.into_iter().filter(|(is_set, _, _)| *is_set) {
                tally.count_at(kind, Message::new(id), hour.start);
            }
        }
    }

    /// Stretches before [`Self::covers_until`] in which the air temperature is missing.
    pub fn open_gaps(&self) -> Vec<Interval> {
        self.stretches(|hour| hour.air.is_none())
    }

    /// Stretches before [`Self::covers_until`] without a precipitation value. A trace is a value.
    pub fn gaps_of_precipitation(&self) -> Vec<Interval> {
        self.stretches(|hour| hour.precipitation.is_none())
    }

    /// The starts of the hours before [`Self::covers_until`] without a precipitation value.
    pub fn hours_without_precipitation(&self) -> Vec<Timestamp> {
        let covered = self.hours.iter().take_while(|hour| hour.start < self.covers_until);
        covered.filter(|hour| hour.precipitation.is_none()).map(|hour| hour.start).collect()
    }

    fn stretches(&self, is_missing: impl Fn(&Hour) -> bool) -> Vec<Interval> {
        let mut found: Vec<Interval> = Vec::new();
        for hour in self.hours.iter().take_while(|hour| hour.start < self.covers_until) {
            if !is_missing(hour) {
                continue;
            }
            match found.last_mut() {
                Some(last) if last.end == hour.start => last.end = hour.end(),
                _ => found.push(Interval { start: hour.start, end: hour.end() }),
            }
        }
        found
    }
}

/// Dew point and humidity from each other where the hour itself gives one of them, which is better than a line drawn
/// from its neighbors.
fn complete(air: &[Option<f64>], dew_points: &mut [Option<f64>], humidities: &mut [Option<f64>]) {
    for ((air, dew), humidity) in air.iter().zip(dew_points).zip(humidities) {
        let Some(air) = air.map(celsius) else { continue };
        match (*dew, *humidity) {
            (None, Some(share)) => *dew = dew_point(air, Fraction::nearest(share)).ok().map(in_celsius),
            (Some(point), None) => {
                *humidity = relative_humidity(air, celsius(point)).ok().map(Fraction::ratio);
            }
            _ => {}
        }
    }
}

/// The water of one hour.
#[derive(Debug, Clone, Copy, Default)]
struct Water {
    millimetres: f64,
    seconds: i64,
    trace: bool,
    flags: HourFlags,
}

fn water(samples: &Samples, window: &Window, use_suspect: bool, given: &mut [bool]) -> Vec<Water> {
    let mut hours = vec![Water::default(); window.count];
    for sample in samples.of(Quantity::Precipitation).iter().filter(|sample| sample.flags.usable()) {
        let Some(amount) = sample.value.length().map(in_millimetres) else { continue };
        let whole = sample.end.as_second() - sample.start.as_second();
        for (index, seconds) in window.touched(sample) {
            // An amount without a length of time cannot be laid on hours.
            if seconds == 0 {
                continue;
            }
            let hour = &mut hours[index];
            given[index] = true;
            hour.seconds += seconds;
            hour.trace |= sample.flags.trace;
            hour.flags.suspect |= sample.flags.suspect;
            hour.flags.lower_bound |= sample.flags.lower_bound;
            // A total that reaches past this hour is shared out, whatever its length.
            hour.flags.spread |= sample.flags.spread || seconds < whole;
            if use_suspect || !sample.flags.suspect {
                hour.millimetres += amount * seconds as f64 / whole as f64;
            }
        }
    }
    for hour in &mut hours {
        hour.flags.lower_bound |= hour.seconds > 0 && hour.seconds < HOUR - COVERED_SLACK;
    }
    hours
}

/// All quantities on hours, as plain numbers.
struct Layers {
    air: Vec<Option<f64>>,
    dew_point: Vec<Option<f64>>,
    humidity: Vec<Option<f64>>,
    wind: Vec<Option<f64>>,
    gust: Vec<Option<f64>>,
    pavement: Vec<Option<f64>>,
    cloud: Vec<Option<f64>>,
    shortwave: Vec<Option<f64>>,
    probability: Vec<Option<f64>>,
    water: Vec<Water>,
    phase: Vec<PhaseReport>,
    ice: Vec<bool>,
    filled: Vec<bool>,
    impossible: Vec<bool>,
    given: Vec<bool>,
}

fn temperature(value: &Value) -> Option<f64> {
    value.temperature().map(in_celsius)
}

fn share(value: &Value) -> Option<f64> {
    value.share().map(Fraction::ratio)
}

fn speed(value: &Value) -> Option<f64> {
    value.speed().map(in_metres_per_second)
}

fn watts(value: &Value) -> Option<f64> {
    value.irradiance().map(Irradiance::watts_per_square_metre)
}

/// Quantities whose impossible values an hour tells of: those that an hour would show.
const SHOWN: [Quantity; 10] = [
    Quantity::AirTemperature,
    Quantity::DewPoint,
    Quantity::RelativeHumidity,
    Quantity::WindSpeed,
    Quantity::WindGust,
    Quantity::PavementTemperature,
    Quantity::Cloud,
    Quantity::Shortwave,
    Quantity::Precipitation,
    Quantity::PrecipitationProbability,
];

impl Layers {
    fn of(samples: &Samples, window: &Window, use_suspect: bool, tally: &mut Tally) -> Self {
        let mut given = vec![false; window.count];
        let mut filled = vec![false; window.count];
        let state = |quantity, number: fn(&Value) -> Option<f64>, given: &mut Vec<bool>| {
            means(samples.of(quantity), window, number, given)
        };
        let mut air = state(Quantity::AirTemperature, temperature, &mut given);
        let mut dew_point = state(Quantity::DewPoint, temperature, &mut given);
        let mut humidity = state(Quantity::RelativeHumidity, share, &mut given);
        let mut wind = state(Quantity::WindSpeed, speed, &mut given);
        let cloud = state(Quantity::Cloud, share, &mut given);
        let shortwave = state(Quantity::Shortwave, watts, &mut given);
        let gust = highest(samples.of(Quantity::WindGust), window, speed, &mut given);
        let probability = highest(samples.of(Quantity::PrecipitationProbability), window, share, &mut given);
        complete(&air, &mut dew_point, &mut humidity);
        for values in [&mut air, &mut dew_point, &mut humidity, &mut wind] {
            fill(values, &mut filled);
        }
        let pavement = coldest_pavement(samples, window, &mut given, &mut filled, tally);
        let water = water(samples, window, use_suspect, &mut given);
        let (phase, ice) = falling(samples, window, &mut given);
        let mut impossible = vec![false; window.count];
        let shown = SHOWN.into_iter().flat_map(|quantity| samples.of(quantity));
        for (index, _) in
            shown.filter(|sample| !sample.flags.usable()).flat_map(|sample| window.touched(sample))
        {
            impossible[index] = true;
        }
        Layers {
            air,
            dew_point,
            humidity,
            wind,
            gust,
            pavement,
            cloud,
            shortwave,
            probability,
            water,
            phase,
            ice,
            filled,
            impossible,
            given,
        }
    }

    /// The hour at an index of the window without its margins.
    fn hour(&self, window: &Window, inner: usize, pressure: Pressure) -> Hour {
        let index = inner + MARGIN;
        let air = self.air[index].map(celsius);
        let given_dew_point = self.dew_point[index].map(celsius);
        let given_humidity = self.humidity[index].map(Fraction::nearest);
        let relative_humidity = given_humidity.or_else(|| relative_humidity(air?, given_dew_point?).ok());
        let dew_point = given_dew_point.or_else(|| dew_point(air?, given_humidity?).ok());
        let wet_bulb = match (air, relative_humidity) {
            (Some(air), Some(humidity)) => wet_bulb(air, humidity, pressure).ok(),
            _ => None,
        };
        let water = self.water[index];
        let report = self.phase[index];
        let reported_phase = report.phase();
        let falls_frozen = matches!(reported_phase, Some(ReportedPhase::Snow | ReportedPhase::IcePellets));
        Hour {
            start: from_seconds(window.start_of(index)),
            air,
            dew_point,
            relative_humidity,
            wind: self.wind[index].map(metres_per_second),
            gust: self.gust[index].map(metres_per_second),
            pavement: self.pavement[index].map(celsius),
            cloud: self.cloud[index].map(Fraction::nearest),
            shortwave: self.shortwave[index].map(Irradiance::of),
            precipitation: (water.seconds > 0).then(|| millimetres(water.millimetres)),
            trace: water.trace,
            probability: self.probability[index].map(Fraction::nearest),
            reported_phase,
            freezing_rain: report.freezing || (self.ice[index] && !falls_frozen),
            wet_bulb,
            frozen_share: frozen_share_reported(reported_phase, wet_bulb),
            flags: HourFlags {
                filled: self.filled[index],
                impossible: self.impossible[index],
                ..water.flags
            },
        }
    }
}

/// Returns the coldest pavement sensor of each hour: the one that freezes first. Each sensor is laid on hours by
/// itself.
fn coldest_pavement(
    samples: &Samples,
    window: &Window,
    given: &mut [bool],
    filled: &mut [bool],
    tally: &mut Tally,
) -> Vec<Option<f64>> {
    let all = samples.of(Quantity::PavementTemperature);
    let mut sensors: Vec<Option<u16>> =
        all.iter().filter(|sample| sample.flags.usable()).map(|sample| sample.sensor).collect();
    sensors.sort_unstable();
    sensors.dedup();
    if sensors.len() > 1 {
        let text = message!("weather.several-sensors", count = sensors.len());
        tally.count(NoticeKind::SeveralSensors, text);
    }
    let mut coldest: Vec<Option<f64>> = vec![None; window.count];
    for sensor in sensors {
        let own = |value: &Sample| value.sensor == sensor;
        let own: Vec<Sample> = all.iter().filter(|sample| own(sample)).cloned().collect();
        let mut values = means(&own, window, temperature, given);
        fill(&mut values, filled);
        for (best, value) in coldest.iter_mut().zip(values) {
            *best = match (*best, value) {
                (Some(best), Some(value)) => Some(best.min(value)),
                (best, value) => best.or(value),
            };
        }
    }
    coldest
}

/// What is reported to fall in each hour, and whether ice is forecast to form.
fn falling(samples: &Samples, window: &Window, given: &mut [bool]) -> (Vec<PhaseReport>, Vec<bool>) {
    let mut phase = vec![PhaseReport::default(); window.count];
    let mut ice = vec![false; window.count];
    for sample in samples.of(Quantity::Weather) {
        let Some(report) = sample.value.phase() else { continue };
        for (index, _) in window.touched(sample) {
            phase[index] = phase[index].with(report);
            given[index] = true;
        }
    }
    for sample in samples.of(Quantity::IceAccumulation).iter().filter(|sample| sample.flags.usable()) {
        let forms = sample.value.length().is_some_and(|depth| in_millimetres(depth) > 0.0);
        for (index, _) in window.touched(sample) {
            ice[index] |= forms;
            given[index] = true;
        }
    }
    (phase, ice)
}
