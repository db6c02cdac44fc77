//! Storms in a forecast: stretches of precipitation, and frost.

use jiff::{SignedDuration, Timestamp};
use quantity::{Length, ThermodynamicTemperature, in_celsius, millimetres};

use crate::outlook::{Case, RoadHour};

/// Dry hours that end a storm: program default. Shorter lulls belong to the same storm, and the same crews.
const DRY_HOURS_BETWEEN: usize = 6;
/// Hours after a storm in which frost is not a separate event: program default.
const HOURS_AFTER_STORM: usize = 12;
/// Rain or snow below this share of a storm is left out of its kind: program default.
const NAMED_SHARE: f64 = 0.1;

/// Kind of a storm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StormKind {
    /// Snow, with no rain to speak of.
    Snow,
    /// Rain on a road above freezing that turns to snow.
    RainToSnow,
    /// Snow and rain, in any other order.
    Mixed,
    /// Rain that freezes on the road, or freezing rain in the forecast.
    FreezingRain,
    /// Snow with freezing rain in it.
    FreezingMix,
    /// Rain on a road above freezing.
    Rain,
    /// Frost: nothing falls.
    Frost,
    /// Water that lies on the road freezes: nothing falls.
    WetFreeze,
}

/// A stretch of precipitation or frost that needs treatment.
#[derive(Debug, Clone)]
pub struct Storm {
    /// What falls, and in which order.
    pub kind: StormKind,
    /// Start of its first hour.
    pub start: Timestamp,
    /// End of its last hour.
    pub end: Timestamp,
    /// All its precipitation as water.
    pub liquid: Length,
    /// Its frozen precipitation as water, by the phase rule.
    pub frozen: Length,
    /// Lowest and highest air temperature during it.
    pub air: Option<[ThermodynamicTemperature; 2]>,
    /// Whether the forecast gave pavement temperatures.
    pub pavement_given: bool,
    /// Its hours as indexes of the forecast: the first, and one past the last.
    pub span: [usize; 2],
}

/// Finds all storms and frosts, in order of time.
pub(crate) fn find_storms(hours: &[RoadHour]) -> Vec<Storm> {
    let mut storms = precipitation(hours);
    storms.extend(frosts(hours, &storms));
    storms.sort_by_key(|storm| storm.start);
    storms
}

fn precipitation(hours: &[RoadHour]) -> Vec<Storm> {
    let mut spans: Vec<[usize; 2]> = Vec::new();
    for (place, _) in hours.iter().enumerate().filter(|(_, hour)| hour.wet) {
        match spans.last_mut() {
            Some(last) if place - last[1] < DRY_HOURS_BETWEEN => last[1] = place + 1,
            _ => spans.push([place, place + 1]),
        }
    }
    spans.into_iter().map(|span| storm(hours, span)).collect()
}

fn storm(hours: &[RoadHour], span: [usize; 2]) -> Storm {
    let part = &hours[span[0]..span[1]];
    let sum = |of: &dyn Fn(&RoadHour) -> Length| part.iter().map(of).fold(millimetres(0.0), |a, b| a + b);
    let liquid = sum(&|hour| hour.liquid);
    let rain = sum(&RoadHour::rain);
    let frozen = liquid - rain;
    let wet = || part.iter().filter(|hour| hour.wet);
    // Shares by amount; by hours where there are only traces or chances.
    let amount = liquid > millimetres(0.0);
    let rain_share = if amount {
        (rain / liquid).get::<uom::si::ratio::ratio>()
    } else {
        1.0 - wet().map(|hour| hour.frozen_share).sum::<f64>() / wet().count().max(1) as f64
    };
    let glaze = part.iter().any(|hour| hour.glazes(Case::Mid));
    let starts_warm = wet().next().is_some_and(|hour| !hour.is_freezing(Case::Mid));
    let ends_frozen = wet().next_back().is_some_and(|hour| hour.frozen_share > 0.5);
    let kind = match rain_share {
        share if glaze && share < 0.5 => StormKind::FreezingMix,
        _ if glaze => StormKind::FreezingRain,
        share if share <= NAMED_SHARE => StormKind::Snow,
        share if share >= 1.0 - NAMED_SHARE => StormKind::Rain,
        _ if starts_warm && ends_frozen => StormKind::RainToSnow,
        _ => StormKind::Mixed,
    };
    Storm {
        kind,
        start: part[0].start,
        end: hour_after(part[part.len() - 1].start),
        liquid,
        frozen,
        air: extremes(part),
        pavement_given: part.iter().any(|hour| hour.pavement_given),
        span,
    }
}

/// Returns the frosts of the middle case, their hours joined over pauses like a storm's. A frost that begins within
/// [`HOURS_AFTER_STORM`] of a storm is not an event of its own: the salt applied is still on the road, and the road
/// must be checked; it counts as a possible frost.
fn frosts(hours: &[RoadHour], storms: &[Storm]) -> Vec<Storm> {
    let follows =
        |place: usize| storms.iter().any(|s| s.span[0] <= place && place < s.span[1] + HOURS_AFTER_STORM);
    let mut found: Vec<Storm> = Vec::new();
    for (place, hour) in hours.iter().enumerate() {
        if !hour.frost[Case::Mid as usize] || follows(place) {
            continue;
        }
        match found.last_mut() {
            Some(last) if place - last.span[1] < DRY_HOURS_BETWEEN => {
                last.span[1] = place + 1;
                last.end = hour_after(hour.start);
                last.air = extremes(&hours[last.span[0]..=place]);
            }
            _ => found.push(Storm {
                kind: StormKind::Frost,
                start: hour.start,
                end: hour_after(hour.start),
                liquid: millimetres(0.0),
                frozen: millimetres(0.0),
                air: extremes(&hours[place..=place]),
                pavement_given: hour.pavement_given,
                span: [place, place + 1],
            }),
        }
    }
    found
}

/// A stretch in which nothing falls and what lies on the road freezes.
pub(crate) fn wet_freeze(hours: &[RoadHour], span: [usize; 2]) -> Storm {
    let part = &hours[span[0]..span[1]];
    Storm {
        kind: StormKind::WetFreeze,
        start: part[0].start,
        end: hour_after(part[part.len() - 1].start),
        liquid: millimetres(0.0),
        frozen: millimetres(0.0),
        air: extremes(part),
        pavement_given: part.iter().any(|hour| hour.pavement_given),
        span,
    }
}

/// Returns the first stretch of frost in the coldest case that no event covers, its hours joined like a storm's. It is
/// a reason to check the road and adds no gallons, since a range around the air reaches the frost point on most damp
/// nights.
pub(crate) fn possible_frost(hours: &[RoadHour], storms: &[Storm]) -> Option<[Timestamp; 2]> {
    let free = |place: usize| !storms.iter().any(|s| s.span[0] <= place && place < s.span[1]);
    let mut found = (0..hours.len()).filter(|place| hours[*place].frost[Case::Cold as usize] && free(*place));
    let first = found.next()?;
    let last = found.fold((first, true), |(last, goes_on), place| {
        let goes_on = goes_on && place - last <= DRY_HOURS_BETWEEN;
        (if goes_on { place } else { last }, goes_on)
    });
    Some([hours[first].start, hour_after(hours[last.0].start)])
}

fn extremes(hours: &[RoadHour]) -> Option<[ThermodynamicTemperature; 2]> {
    let mut known = hours.iter().filter_map(|hour| hour.air);
    let first = known.next()?;
    Some(known.fold([first; 2], |[low, high], air| {
        [
            if in_celsius(air) < in_celsius(low) { air } else { low },
            if in_celsius(high) < in_celsius(air) { air } else { high },
        ]
    }))
}

fn hour_after(start: Timestamp) -> Timestamp {
    start + SignedDuration::from_hours(1)
}
