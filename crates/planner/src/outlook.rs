//! The forecast hour by hour with a range of pavement temperature: road weather in a warm, a middle and a cold case.

use jiff::Timestamp;
use quantity::{
    Length, ThermodynamicTemperature, Velocity, celsius, in_celsius, in_kelvins, in_millimetres, millimetres,
};
use site::Policy;
use weather::{Hour, HourlyGrid};

use crate::roads::Roads;

/// Probability of precipitation from which an hour counts as wet where a forecast gives no amounts: program default.
const WET_PROBABILITY: f64 = 0.5;
/// Air at or below this is snow, and at or above [`RAIN_AIR_CELSIUS`] rain, where no humidity lets the wet bulb decide:
/// program default, a half-way reading of the wet-bulb rule in damp air.
const SNOW_AIR_CELSIUS: f64 = 0.5;
/// Air temperature at or above which precipitation is rain; see [`SNOW_AIR_CELSIUS`].
const RAIN_AIR_CELSIUS: f64 = 1.5;
/// At or below this the road counts as freezing; slightly above zero because unit conversions round.
const FREEZING_CELSIUS: f64 = 1e-6;

/// How cold the pavement turns out. Where the forecast gives pavement temperatures, the three cases are equal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Case {
    /// The warmest pavement of the range.
    Warm,
    /// The middle: the forecast's own value, or the air temperature.
    Mid,
    /// The coldest pavement of the range.
    Cold,
}

impl Case {
    /// The three cases, from warm to cold.
    pub const ALL: [Case; 3] = [Case::Warm, Case::Mid, Case::Cold];
}

/// Road weather of one hour.
#[derive(Debug, Clone)]
pub struct RoadHour {
    /// Start of the hour.
    pub start: Timestamp,
    /// Air temperature, where known.
    pub air: Option<ThermodynamicTemperature>,
    /// Pavement temperature: warmest, middle, coldest.
    pub pavement: Option<[ThermodynamicTemperature; 3]>,
    /// Whether the forecast gave the pavement temperature.
    pub pavement_given: bool,
    /// Precipitation in this hour as water; zero for a trace.
    pub liquid: Length,
    /// Whether anything falls, a trace included.
    pub wet: bool,
    /// Share of the precipitation that is frozen, 0…1.
    pub frozen_share: f64,
    /// Freezing rain is reported.
    pub freezing_rain: bool,
    /// Whether the forecast has no precipitation value, so that the hour may be wet.
    pub precipitation_unknown: bool,
    /// Wind speed, where known.
    pub wind: Option<Velocity>,
    /// Whether the pavement is below the frost point of the air, by case.
    pub frost: [bool; 3],
}

impl RoadHour {
    /// Returns the pavement temperature in a case.
    pub fn pavement(&self, case: Case) -> Option<ThermodynamicTemperature> {
        self.pavement.map(|band| band[case as usize])
    }

    /// Whether the road is at or below freezing in a case; false where the pavement is not known.
    pub fn is_freezing(&self, case: Case) -> bool {
        self.pavement(case).is_some_and(|t| in_celsius(t) <= FREEZING_CELSIUS)
    }

    /// Returns the rain of this hour, as water.
    pub fn rain(&self) -> Length {
        self.liquid * (1.0 - self.frozen_share)
    }

    /// Whether the precipitation can freeze to the road in a case: snow, or rain on a freezing road.
    pub fn can_freeze(&self, case: Case) -> bool {
        self.wet && (self.frozen_share > 0.0 || self.is_freezing(case))
    }

    /// Whether ice glaze forms: rain on a freezing road, or freezing rain in the forecast.
    pub fn glazes(&self, case: Case) -> bool {
        self.freezing_rain || (self.wet && self.frozen_share < 0.5 && self.is_freezing(case))
    }
}

/// Turns forecast hours into road hours. An hour without a precipitation value next to a wet hour counts as wet, of
/// unknown amount: a plan may overstate the need, never understate it silently.
pub(crate) fn road_hours(grid: &HourlyGrid, policy: &Policy) -> Vec<RoadHour> {
    let mut hours: Vec<RoadHour> = grid.hours.iter().map(|hour| road_hour(hour, policy)).collect();
    let known_wet: Vec<bool> = hours.iter().map(|hour| hour.wet).collect();
    for (place, hour) in hours.iter_mut().enumerate() {
        let before = place > 0 && known_wet[place - 1];
        let after = known_wet.get(place + 1).copied().unwrap_or(false);
        hour.wet |= hour.precipitation_unknown && (before || after);
    }
    hours
}

/// Puts what the road itself does in the place of the air's range.
pub(crate) fn by_road(hours: &mut [RoadHour], roads: &Roads) {
    let Some(strip) = roads.strips.iter().find(|strip| !strip.road.is_deck) else { return };
    for ((hour, road), frost) in hours.iter_mut().zip(&strip.hours).zip(&roads.frost) {
        hour.pavement = Some([2, 1, 0].map(|place| celsius(road.surface[place])));
        hour.frost = *frost;
    }
}

fn road_hour(hour: &Hour, policy: &Policy) -> RoadHour {
    let band = |mid: ThermodynamicTemperature| {
        let mid = in_celsius(mid);
        [
            celsius(mid + in_kelvins(policy.pavement_warmer)),
            celsius(mid),
            celsius(mid - in_kelvins(policy.pavement_colder)),
        ]
    };
    let pavement = hour.pavement.map(|given| [given; 3]).or(hour.air.map(band));
    let likely = hour.probability.is_some_and(|p| p.ratio() >= WET_PROBABILITY);
    let liquid = hour.precipitation.unwrap_or(millimetres(0.0));
    let no_amounts = hour.precipitation.is_none();
    let wet = in_millimetres(liquid) > 0.0 || hour.trace || (no_amounts && likely);
    let frozen_share = match (hour.frozen_share, hour.air) {
        (Some(share), _) => share.ratio(),
        (None, Some(air)) => {
            ((RAIN_AIR_CELSIUS - in_celsius(air)) / (RAIN_AIR_CELSIUS - SNOW_AIR_CELSIUS)).clamp(0.0, 1.0)
        }
        (None, None) => 1.0,
    };
    let frost = |case: Case| {
        let (Some(band), Some(air), Some(humidity)) = (pavement, hour.air, hour.relative_humidity) else {
            return false;
        };
        !wet && weather::frost::frost_likely(band[case as usize], air, humidity).unwrap_or(false)
    };
    RoadHour {
        start: hour.start,
        air: hour.air,
        pavement,
        pavement_given: hour.pavement.is_some(),
        liquid,
        wet,
        frozen_share,
        freezing_rain: hour.freezing_rain,
        precipitation_unknown: no_amounts && hour.probability.is_none(),
        wind: hour.wind,
        frost: Case::ALL.map(frost),
    }
}
