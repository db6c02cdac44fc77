//! A weather file as read: where it comes from, how old it is, and what it adds up to.

use crate::clock::{HOUR, seconds_between};
use crate::grid::{GridOptions, HourlyGrid};
use crate::psychrometrics::{relative_humidity, wet_bulb};
use crate::{Fraction, Notice, Pressure, Quantity, Sample, Samples};
use jiff::Timestamp;
use quantity::{Length, ThermodynamicTemperature, Time, hours, in_celsius, in_hours, millimetres};

/// Age in h beyond which a forecast is out of date in a storm. Program default.
pub const FORECAST_STALE_AFTER_HOURS: f64 = 6.0;
/// Age in h beyond which an observation is out of date. Program default.
const OBSERVATION_STALE_AFTER_HOURS: f64 = 1.5;
/// Temperatures that differ by less than this are the same after a change of units, K.
const SAME_TEMPERATURE: f64 = 1e-6;

/// The formats that are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Format {
    /// Raw grid of the United States weather service, JSON.
    NwsGrid,
    /// Hourly forecast of the United States weather service, JSON.
    NwsHourly,
    /// METAR and SPECI reports, text.
    Metar,
    /// Location forecast of MET Norway, JSON.
    MetNorway,
    /// Open-Meteo hourly columns, JSON.
    OpenMeteo,
    /// Open-Meteo ensemble columns, JSON.
    OpenMeteoEnsemble,
    /// Raw values of an NTCIP 1204 environmental sensor station, CSV.
    StationCsv,
    /// Plain table, CSV.
    PlainCsv,
    /// Hourly airport table, CSV.
    AirportCsv,
}

impl Format {
    /// The format in plain words.
    pub fn name(self) -> &'static str {
        match self {
            Format::NwsGrid => "US weather service raw grid",
            Format::NwsHourly => "US weather service hourly forecast",
            Format::Metar => "METAR/SPECI reports",
            Format::MetNorway => "MET Norway location forecast",
            Format::OpenMeteo => "Open-Meteo hourly",
            Format::OpenMeteoEnsemble => "Open-Meteo ensemble",
            Format::StationCsv => "NTCIP 1204 station values",
            Format::PlainCsv => "plain table",
            Format::AirportCsv => "hourly airport table",
        }
    }
}

/// Whether values are measured or forecast.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Values that someone forecast for a time ahead.
    Forecast,
    /// Values that a station measured.
    Observation,
    /// The file does not say.
    Unstated,
}

/// One complete member of an ensemble: one possible course of the weather.
#[derive(Debug, Clone, PartialEq)]
pub struct Member {
    /// `control`, `member01`, …
    pub name: String,
    /// Its own values.
    pub samples: Samples,
}

/// The content of a weather file.
#[derive(Debug, Clone, PartialEq)]
pub struct WeatherFile {
    /// Format it was read as.
    pub format: Format,
    /// Whether its values are measured or forecast.
    pub kind: Kind,
    /// The station or grid cell, if the file names one.
    pub station: Option<String>,
    /// When the file itself says it was issued or updated.
    pub issued: Option<Timestamp>,
    /// The time of the last row or report.
    pub latest: Option<Timestamp>,
    /// Height of the place above sea level, if the file states it.
    pub elevation: Option<Length>,
    /// The values; of an ensemble those of the control run.
    pub samples: Samples,
    /// The complete members of an ensemble, the control run among them. Empty for every other format.
    pub members: Vec<Member>,
    /// What a person should know about it.
    pub notices: Vec<Notice>,
}

/// Which rows of precipitation to count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rows {
    /// Every row, whatever its temperature.
    All,
    /// Rows whose air temperature is known and at or below this.
    AirAtOrBelow(ThermodynamicTemperature),
    /// Rows whose psychrometric wet bulb is known and at or below this.
    WetBulbAtOrBelow(ThermodynamicTemperature),
}

/// Total precipitation of several rows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PrecipitationTotal {
    /// Precipitation, as water.
    pub liquid: Length,
    /// The part of it in rows flagged as suspect.
    pub suspect: Length,
    /// Rows counted, dry ones included.
    pub rows: usize,
    /// The number of them with a trace.
    pub traces: usize,
    /// Whether any row counted is a lower bound.
    pub lower_bound: bool,
}

impl WeatherFile {
    /// Returns a forecast without values, in place of a file that has not been read yet.
    pub fn nothing() -> Self {
        Self {
            format: Format::PlainCsv,
            kind: Kind::Forecast,
            station: None,
            issued: None,
            latest: None,
            elevation: None,
            samples: Samples::default(),
            members: Vec::new(),
            notices: Vec::new(),
        }
    }

    /// Lays the values on `hours` whole hours from the hour that holds `start`.
    pub fn hourly(&self, start: Timestamp, hours: usize, options: GridOptions) -> HourlyGrid {
        HourlyGrid::lay(&self.samples, start, hours, self.pressure(options), options.use_suspect)
    }

    /// One grid for each complete member of an ensemble, by name. Empty for every other format.
    pub fn member_grids(
        &self,
        start: Timestamp,
        hours: usize,
        options: GridOptions,
    ) -> Vec<(&str, HourlyGrid)> {
        let pressure = self.pressure(options);
        let lay =
            |member: &Member| HourlyGrid::lay(&member.samples, start, hours, pressure, options.use_suspect);
        self.members.iter().map(|member| (member.name.as_str(), lay(member))).collect()
    }

    /// The air pressure a grid uses: the caller's, else that of the file's elevation, else that of sea level.
    fn pressure(&self, options: GridOptions) -> Pressure {
        let of_file = || crate::psychrometrics::standard_pressure(self.elevation?).ok();
        options.pressure.or_else(of_file).unwrap_or(Pressure::STANDARD)
    }

    /// Adds up the precipitation of the file's rows whose START lies in `from`…`to`, `from` included, `to` not.
    ///
    /// A row counts whole, also where its interval reaches past `to`. Impossible values are left out, suspect ones are
    /// counted and shown. `pressure` is for the wet bulb.
    pub fn precipitation_total(
        &self,
        from: Timestamp,
        to: Timestamp,
        rows: Rows,
        pressure: Pressure,
    ) -> PrecipitationTotal {
        let amounts = self.samples.of(Quantity::Precipitation);
        let first = amounts.partition_point(|sample| sample.start < from);
        let mut total = PrecipitationTotal {
            liquid: millimetres(0.0),
            suspect: millimetres(0.0),
            rows: 0,
            traces: 0,
            lower_bound: false,
        };
        for sample in amounts[first..].iter().take_while(|sample| sample.start < to) {
            let Some(liquid) = sample.value.length().filter(|_| sample.flags.usable()) else { continue };
            if !self.counts(sample, rows, pressure) {
                continue;
            }
            total.liquid += liquid;
            total.rows += 1;
            total.traces += usize::from(sample.flags.trace);
            total.lower_bound |= sample.flags.lower_bound;
            if sample.flags.suspect {
                total.suspect += liquid;
            }
        }
        total
    }

    fn counts(&self, sample: &Sample, rows: Rows, pressure: Pressure) -> bool {
        let at_or_below = |value: Option<ThermodynamicTemperature>, limit: ThermodynamicTemperature| {
            value.is_some_and(|value| in_celsius(value) <= in_celsius(limit) + SAME_TEMPERATURE)
        };
        match rows {
            Rows::All => true,
            Rows::AirAtOrBelow(limit) => at_or_below(self.air_in(sample), limit),
            Rows::WetBulbAtOrBelow(limit) => at_or_below(self.wet_bulb_in(sample, pressure), limit),
        }
    }

    fn air_in(&self, row: &Sample) -> Option<ThermodynamicTemperature> {
        self.samples.during(Quantity::AirTemperature, row.start, row.end)?.value.temperature()
    }

    fn humidity_in(&self, row: &Sample) -> Option<Fraction> {
        let with = |quantity| self.samples.during(quantity, row.start, row.end);
        let from_dew_point = || {
            let dew_point = with(Quantity::DewPoint)?.value.temperature()?;
            relative_humidity(self.air_in(row)?, dew_point).ok()
        };
        with(Quantity::RelativeHumidity).and_then(|sample| sample.value.share()).or_else(from_dew_point)
    }

    /// The psychrometric wet bulb that goes with a row of the file, where temperature and humidity are known.
    pub fn wet_bulb_in(&self, row: &Sample, pressure: Pressure) -> Option<ThermodynamicTemperature> {
        wet_bulb(self.air_in(row)?, self.humidity_in(row)?, pressure).ok()
    }

    /// How old the file is: a forecast from its issue time, anything else from its last row unless it states an issue
    /// time. `None` when that is not known. Negative when `at` lies before it.
    pub fn age(&self, at: Timestamp) -> Option<Time> {
        let from = match self.kind {
            Kind::Forecast => self.issued,
            Kind::Observation => self.issued.or(self.latest),
            Kind::Unstated => self.issued,
        };
        from.map(|from| hours(seconds_between(from, at) as f64 / HOUR as f64))
    }

    /// Whether the file is too old to plan on: an observation after 90 min, a forecast after 6 h in a storm (out of a
    /// storm a forecast does not go stale by this rule). `None` when the age is not known.
    ///
    /// Both limits are program default.
    pub fn is_stale(&self, at: Timestamp, in_storm: bool) -> Option<bool> {
        let age = in_hours(self.age(at)?);
        Some(match self.kind {
            Kind::Observation => age > OBSERVATION_STALE_AFTER_HOURS,
            Kind::Forecast | Kind::Unstated => in_storm && age > FORECAST_STALE_AFTER_HOURS,
        })
    }

    /// An observed record used as if it had been forecast without error: the file counts as a forecast issued then.
    /// What lies before stays in it as the past, which a road remembers.
    pub fn as_perfect_forecast(&self, issued: Timestamp) -> WeatherFile {
        WeatherFile { kind: Kind::Forecast, issued: Some(issued), ..self.clone() }
    }
}
