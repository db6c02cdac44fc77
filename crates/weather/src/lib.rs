//! Forecasts and observations in open formats, hour by hour.
//!
//! [`read`] takes the text of a file and finds its format from what is in it. The result, a [`WeatherFile`], keeps
//! every value as the file gave it: over its own interval, in UTC, with flags, and never with an invented zero.
//! [`WeatherFile::hourly`] then lays those values on whole hours, which is what a plan works on.
//!
//! Pure: no files, no clock, no environment. Start reading at [`mod@file`], then [`grid`].
//!
//! ```
//! use weather::{ReadOptions, read};
//! let text = "# times are the START of the hour\ntime_utc,air_temp_c,precip_mm\n2026-01-14T06:00Z,-1.5,0.4\n";
//! let file = read(text, &ReadOptions::default())?;
//! let grid = file.hourly("2026-01-14T06:00Z".parse()?, 2, weather::GridOptions::default());
//! assert!(grid.hours[0].air.is_some());
//! assert!(grid.hours[1].precipitation.is_none(), "missing stays missing");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod error;
pub mod file;
pub mod frost;
pub mod grid;
pub mod limits;
pub mod measures;
pub mod notice;
pub mod phase;
pub mod psychrometrics;
pub mod sample;

mod build;
mod clock;
mod csv_lines;
mod formats;
mod json;
mod units;
mod words;

pub use error::{ErrorKind, Measure, OutOfRange, Place, ReadError};
pub use file::{Format, Kind, Member, PrecipitationTotal, Rows, WeatherFile};
pub use formats::{HourLabel, ReadOptions, read};
pub use grid::{GridOptions, Hour, HourFlags, HourlyGrid};
pub use measures::{Bearing, Fraction, Irradiance, Pressure};
pub use notice::{Notice, NoticeKind};
pub use phase::{PhaseReport, ReportedPhase};
pub use sample::{Flags, Interval, Quantity, Sample, Samples, Value};
