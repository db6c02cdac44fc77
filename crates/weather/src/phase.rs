//! Rain or snow: what a report says, and the wet-bulb rule where none speaks.

use crate::Fraction;
use quantity::{ThermodynamicTemperature, in_celsius};

/// Wet bulb at and below which all precipitation counts as snow, °C.
const SNOW_AT_OR_BELOW: f64 = 0.5;
/// Wet bulb at and above which all precipitation counts as rain, °C.
const RAIN_AT_OR_ABOVE: f64 = 1.5;

/// What a report names as falling. Several may fall at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PhaseReport {
    /// Snow, snow grains, ice crystals.
    pub snow: bool,
    /// Rain or drizzle that is not named as freezing.
    pub rain: bool,
    /// Freezing rain or freezing drizzle.
    pub freezing: bool,
    /// Ice pellets, small hail.
    pub pellets: bool,
}

impl PhaseReport {
    /// Everything that either report names.
    pub fn with(self, other: PhaseReport) -> PhaseReport {
        PhaseReport {
            snow: self.snow || other.snow,
            rain: self.rain || other.rain,
            freezing: self.freezing || other.freezing,
            pellets: self.pellets || other.pellets,
        }
    }

    /// The one word for it; `None` when nothing falls.
    pub fn phase(self) -> Option<ReportedPhase> {
        match (self.snow, self.rain, self.freezing, self.pellets) {
            (false, false, false, false) => None,
            (true, false, false, false) => Some(ReportedPhase::Snow),
            (false, true, false, false) => Some(ReportedPhase::Rain),
            (false, _, true, false) => Some(ReportedPhase::FreezingRain),
            (false, false, false, true) => Some(ReportedPhase::IcePellets),
            _ => Some(ReportedPhase::Mixed),
        }
    }
}

/// The phase a file reports or forecasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReportedPhase {
    /// Snow only.
    Snow,
    /// Rain or drizzle only.
    Rain,
    /// More than one kind.
    Mixed,
    /// Freezing rain or freezing drizzle, perhaps with rain.
    FreezingRain,
    /// Ice pellets only.
    IcePellets,
}

/// Share of the precipitation that falls frozen, 1 = all snow, from the psychrometric wet bulb.
///
/// **Equation** 1 at or below 0.5 °C, 0 at or above 1.5 °C, a straight line between.
/// **Range** every wet bulb.
/// **Error** a judgment, not a fit: stations differ by ±1.4 K in where half falls as snow, and surface values
/// cannot see a warm layer aloft, so freezing rain and ice pellets need a report.
/// **Source** program default; the spread of stations from Jennings et al. 2018, doi 10.1038/s41467-018-03629-7.
pub fn frozen_share(wet_bulb: ThermodynamicTemperature) -> Fraction {
    let span = RAIN_AT_OR_ABOVE - SNOW_AT_OR_BELOW;
    Fraction::nearest((RAIN_AT_OR_ABOVE - in_celsius(wet_bulb)) / span)
}

/// The frozen share where a report overrules the wet bulb.
///
/// Snow and ice pellets are 1, rain and freezing rain 0 (it falls liquid). A mix keeps the wet-bulb share when that
/// is a true mix, and is one half otherwise. Without a report the wet bulb decides, without either there is none.
pub fn frozen_share_reported(
    reported: Option<ReportedPhase>,
    wet_bulb: Option<ThermodynamicTemperature>,
) -> Option<Fraction> {
    let by_wet_bulb = wet_bulb.map(frozen_share);
    match reported {
        None => by_wet_bulb,
        Some(ReportedPhase::Snow | ReportedPhase::IcePellets) => Some(Fraction::ONE),
        Some(ReportedPhase::Rain | ReportedPhase::FreezingRain) => Some(Fraction::ZERO),
        Some(ReportedPhase::Mixed) => {
            let true_mix = by_wet_bulb.filter(|share| share.ratio() > 0.0 && share.ratio() < 1.0);
            Some(true_mix.unwrap_or(Fraction::nearest(0.5)))
        }
    }
}
