//! Evidence of a tank, with what is uncertain in it.

use chemistry::MassFraction;
use quantity::{ThermodynamicTemperature, Volume};

/// Evidence of a tank.
#[derive(Debug, Clone)]
pub(super) enum Seen {
    Volume(SeenVolume),
    Strength(SeenStrength),
}

/// A volume, at the temperature of the content.
#[derive(Debug, Clone)]
pub(super) struct SeenVolume {
    pub(super) volume: Volume,
    pub(super) temperature: Option<ThermodynamicTemperature>,
    /// Standard deviation of the look.
    pub(super) deviation: Volume,
    /// Standard deviation of the density it is taken at, as a share.
    pub(super) density: f64,
}

/// A strength with its standard deviation, as a fraction, without what all readings share.
#[derive(Debug, Clone)]
pub(super) struct SeenStrength {
    pub(super) strength: MassFraction,
    pub(super) deviation: f64,
}
