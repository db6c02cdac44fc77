//! What ships with the demo: its yard file and its weather.

use site::Yard;

use crate::errors::sentence;
use crate::outcome::Failure;

/// The invented yard file.
pub const YARD: &str = include_str!("../../../../examples/alder_fork.toml");

pub(super) const WEATHER: &str = include_str!("../../../weather/tests/data/nyc_winter_2013.csv");

/// The invented yard.
///
/// # Errors
/// When the shipped file is damaged.
pub fn yard() -> Result<Yard, Failure> {
    site::yard_file::read_yard(YARD, "alder_fork.toml")
        .map_err(|problems| Failure::Input(problems.iter().map(sentence).collect::<Vec<_>>().join("\n")))
}
