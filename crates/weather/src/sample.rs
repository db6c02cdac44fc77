//! One value of a file over its own interval, and the sorted store of all of them.

use crate::units::Dimension;
use crate::{Bearing, Fraction, Irradiance, PhaseReport, Pressure};
use chemistry::MassFraction;
use jiff::Timestamp;
use message::{Message, Tell};
use quantity::{Length, ThermodynamicTemperature, Velocity};

/// A stretch of time, `start` included, `end` not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Interval {
    /// First moment of it.
    pub start: Timestamp,
    /// First moment after it.
    pub end: Timestamp,
}

/// A quantity that a file can give.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Quantity {
    /// Air temperature.
    AirTemperature,
    /// Dew point of the air, over water.
    DewPoint,
    /// Wet bulb, as a station reports it.
    WetBulb,
    /// Relative humidity of the air, over water.
    RelativeHumidity,
    /// Mean wind speed.
    WindSpeed,
    /// Wind speed of the gusts.
    WindGust,
    /// Direction the wind blows from.
    WindDirection,
    /// Share of the sky that is covered by cloud.
    Cloud,
    /// Horizontal visibility.
    Visibility,
    /// Air pressure reduced to sea level.
    SeaLevelPressure,
    /// Shortwave radiation on a level surface.
    Shortwave,
    /// Liquid equivalent that fell in the interval.
    Precipitation,
    /// Rate of precipitation, as depth of water per time.
    PrecipitationRate,
    /// Probability of precipitation in the interval.
    PrecipitationProbability,
    /// Part of the precipitation that is rain, as the file gives it.
    Rain,
    /// Depth of new snow in the interval (depth, not water).
    NewSnow,
    /// Depth of snow lying on the ground.
    SnowOnGround,
    /// Ice that forms on surfaces in the interval.
    IceAccumulation,
    /// What is reported or forecast to fall.
    Weather,
    /// Temperature of the pavement surface.
    PavementTemperature,
    /// Temperature within the pavement.
    InPavementTemperature,
    /// Temperature of the ground below the pavement.
    SubsurfaceTemperature,
    /// Freezing point of what lies on the pavement, as the station states it.
    SurfaceFreezePoint,
    /// Salt in what lies on the pavement.
    SurfaceSalinity,
    /// Depth of water or ice on the pavement.
    SurfaceWaterDepth,
    /// State of the pavement surface, code of NTCIP 1204 `essSurfaceStatus`.
    SurfaceStatus,
    /// Black ice, code of NTCIP 1204 `essSurfaceBlackIceSignal`.
    BlackIceSignal,
    /// Fault of a pavement sensor, code of NTCIP 1204 `essPavementSensorError`.
    PavementSensorError,
}

impl Quantity {
    /// Whether values are totals over their interval (rain, snow, ice), not states that hold over it.
    pub fn is_amount(self) -> bool {
        matches!(
            self,
            Quantity::Precipitation | Quantity::Rain | Quantity::NewSnow | Quantity::IceAccumulation
        )
    }

    pub(crate) fn dimension(self) -> Dimension {
        match self {
            Quantity::AirTemperature
            | Quantity::DewPoint
            | Quantity::WetBulb
            | Quantity::PavementTemperature
            | Quantity::InPavementTemperature
            | Quantity::SubsurfaceTemperature
            | Quantity::SurfaceFreezePoint => Dimension::Temperature,
            Quantity::RelativeHumidity | Quantity::Cloud | Quantity::PrecipitationProbability => {
                Dimension::Share
            }
            Quantity::WindSpeed | Quantity::WindGust | Quantity::PrecipitationRate => Dimension::Speed,
            Quantity::WindDirection => Dimension::Angle,
            Quantity::Visibility
            | Quantity::Precipitation
            | Quantity::Rain
            | Quantity::NewSnow
            | Quantity::SnowOnGround
            | Quantity::IceAccumulation
            | Quantity::SurfaceWaterDepth => Dimension::Length,
            Quantity::SeaLevelPressure => Dimension::Pressure,
            Quantity::Shortwave => Dimension::Irradiance,
            Quantity::Weather
            | Quantity::SurfaceSalinity
            | Quantity::SurfaceStatus
            | Quantity::BlackIceSignal
            | Quantity::PavementSensorError => Dimension::None,
        }
    }
}

impl Tell for Quantity {
    fn message(&self) -> Message {
        Message::new(match self {
            Quantity::AirTemperature => "weather.quantity.air-temperature",
            Quantity::DewPoint => "weather.quantity.dew-point",
            Quantity::WetBulb => "weather.quantity.wet-bulb",
            Quantity::RelativeHumidity => "weather.quantity.relative-humidity",
            Quantity::WindSpeed => "weather.quantity.wind-speed",
            Quantity::WindGust => "weather.quantity.wind-gust",
            Quantity::WindDirection => "weather.quantity.wind-direction",
            Quantity::Cloud => "weather.quantity.cloud",
            Quantity::Visibility => "weather.quantity.visibility",
            Quantity::SeaLevelPressure => "weather.quantity.sea-level-pressure",
            Quantity::Shortwave => "weather.quantity.shortwave",
            Quantity::Precipitation => "weather.quantity.precipitation",
            Quantity::PrecipitationRate => "weather.quantity.precipitation-rate",
            Quantity::PrecipitationProbability => "weather.quantity.precipitation-probability",
            Quantity::Rain => "weather.quantity.rain",
            Quantity::NewSnow => "weather.quantity.new-snow",
            Quantity::SnowOnGround => "weather.quantity.snow-on-ground",
            Quantity::IceAccumulation => "weather.quantity.ice-accumulation",
            Quantity::Weather => "weather.quantity.weather",
            Quantity::PavementTemperature => "weather.quantity.pavement-temperature",
            Quantity::InPavementTemperature => "weather.quantity.in-pavement-temperature",
            Quantity::SubsurfaceTemperature => "weather.quantity.subsurface-temperature",
            Quantity::SurfaceFreezePoint => "weather.quantity.surface-freeze-point",
            Quantity::SurfaceSalinity => "weather.quantity.surface-salinity",
            Quantity::SurfaceWaterDepth => "weather.quantity.surface-water-depth",
            Quantity::SurfaceStatus => "weather.quantity.surface-status",
            Quantity::BlackIceSignal => "weather.quantity.black-ice-signal",
            Quantity::PavementSensorError => "weather.quantity.pavement-sensor-error",
        })
    }
}

/// A typed value.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Value {
    /// Temperature of air, ground or liquid.
    Temperature(ThermodynamicTemperature),
    /// A share of a whole.
    Share(Fraction),
    /// A speed; a precipitation rate is the speed at which water would rise.
    Speed(Velocity),
    /// A length or depth.
    Length(Length),
    /// Radiation on a level surface.
    Irradiance(Irradiance),
    /// Air pressure.
    Pressure(Pressure),
    /// Where the wind blows from.
    Bearing(Bearing),
    /// Salt in a solution.
    Salinity(MassFraction),
    /// Kind of precipitation.
    Phase(PhaseReport),
    /// A code of the source's own list.
    Code(u32),
    /// What the file says, when no quantity can hold it (a humidity of 140 %). Always flagged impossible.
    AsWritten(String),
}

impl Value {
    /// The temperature, if it is one.
    pub fn temperature(&self) -> Option<ThermodynamicTemperature> {
        if let Value::Temperature(value) = self { Some(*value) } else { None }
    }

    /// The share, if it is one.
    pub fn share(&self) -> Option<Fraction> {
        if let Value::Share(value) = self { Some(*value) } else { None }
    }

    /// The speed, if it is one.
    pub fn speed(&self) -> Option<Velocity> {
        if let Value::Speed(value) = self { Some(*value) } else { None }
    }

    /// The length, if it is one.
    pub fn length(&self) -> Option<Length> {
        if let Value::Length(value) = self { Some(*value) } else { None }
    }

    /// The radiation, if it is one.
    pub fn irradiance(&self) -> Option<Irradiance> {
        if let Value::Irradiance(value) = self { Some(*value) } else { None }
    }

    /// What falls, if it is that.
    pub fn phase(&self) -> Option<PhaseReport> {
        if let Value::Phase(value) = self { Some(*value) } else { None }
    }
}

/// Flags of a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Flags {
    /// More than nothing, less than the smallest reported step; the value is 0 for sums.
    pub trace: bool,
    /// A total over more than an hour, which an hourly grid must spread.
    pub spread: bool,
    /// Contradicted by the rest of the report.
    pub suspect: bool,
    /// At least this much: snow in a gauge, or a total of part of the interval.
    pub lower_bound: bool,
    /// Outside what can be; not used by the hourly grid.
    pub impossible: bool,
    /// The sensor reports itself broken; not used by the hourly grid.
    pub fault: bool,
}

impl Flags {
    /// Whether the hourly grid may use the value at all.
    pub fn usable(self) -> bool {
        !self.impossible && !self.fault
    }
}

/// One value over its interval. An instant has `start` = `end`.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// First moment of the interval, UTC.
    pub start: Timestamp,
    /// End of the interval, UTC.
    pub end: Timestamp,
    /// The quantity measured or forecast.
    pub quantity: Quantity,
    /// The value, typed.
    pub value: Value,
    /// Flags of the value.
    pub flags: Flags,
    /// Which of several sensors of one station, if the format tells them apart.
    pub sensor: Option<u16>,
}

/// All values of a file (or of one ensemble member), sorted by quantity and time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Samples(Vec<Sample>);

impl Samples {
    /// From samples that are already sorted by quantity, start and sensor.
    pub(crate) fn from_sorted(samples: Vec<Sample>) -> Self {
        Self(samples)
    }

    pub(crate) fn iter_mut(&mut self) -> std::slice::IterMut<'_, Sample> {
        self.0.iter_mut()
    }

    /// Returns all samples.
    pub fn all(&self) -> &[Sample] {
        &self.0
    }

    /// The samples of one quantity, by start time.
    pub fn of(&self, quantity: Quantity) -> &[Sample] {
        let from = self.0.partition_point(|sample| sample.quantity < quantity);
        let to = self.0.partition_point(|sample| sample.quantity <= quantity);
        &self.0[from..to]
    }

    /// The value of a quantity that goes with a row over `start`…`end`: the last that begins within the row, else one
    /// that still holds at its start, else an instant at its very end. Unusable values count as none.
    pub fn during(&self, quantity: Quantity, start: Timestamp, end: Timestamp) -> Option<&Sample> {
        let samples = self.of(quantity);
        let after = if end > start {
            samples.partition_point(|sample| sample.start < end)
        } else {
            samples.partition_point(|sample| sample.start <= start)
        };
        let before = after.checked_sub(1).and_then(|last| samples.get(last));
        let within = before.filter(|sample| sample.start >= start || sample.end > start);
        let at_end = || samples.get(after).filter(|sample| sample.start == end && sample.end == end);
        within.or_else(at_end).filter(|sample| sample.flags.usable())
    }
}
