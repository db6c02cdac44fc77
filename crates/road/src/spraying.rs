//! Whether to spray ahead of an event: what published practice says against it, each with its source.

use message::{Message, message};
use quantity::{
    Length, ThermodynamicTemperature, Velocity, fahrenheit, in_celsius, in_fahrenheit, in_miles_per_hour,
    in_millimetres,
};

/// Where an event stands with the coldest, middle and warmest pavement it may meet.
#[derive(Debug, Clone, Copy)]
pub struct Outlook {
    /// Pavement while spraying and at the start.
    pub pavement: ThermodynamicTemperature,
    /// Pavement through the event stays above freezing.
    pub stays_above_freezing: bool,
    /// Rain before the road gets its first useful salt.
    pub rain_first: Length,
    /// Freezing rain is reported or falls on a frozen road.
    pub freezing_rain: bool,
    /// Wind while spraying.
    pub wind: Option<Velocity>,
    /// Loose snow may drift: the event is dry cold snow.
    pub dry_snow: bool,
}

/// Limits a yard may set.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Pavement colder than this: no plain salt brine.
    pub block_below: ThermodynamicTemperature,
    /// Pavement colder than this: warn.
    pub warn_below: ThermodynamicTemperature,
    /// Wind above this with dry snow: warn.
    pub warn_wind: Velocity,
}

/// Rain that is taken to wash pre-sprayed brine away, mm: our own threshold, no source. 40 gal a lane-mile is 0.026 mm
/// of liquid; a quarter millimetre of rain dilutes it tenfold.
pub const WASHING_RAIN_MM: f64 = 0.25;

/// One reason for or against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// Rain comes first and dilutes or washes off what was sprayed.
    RainFirst {
        /// How much.
        rain: Length,
    },
    /// Freezing rain: sources disagree, most advise against.
    FreezingRain,
    /// Too cold for plain salt brine.
    TooCold {
        /// Pavement.
        pavement: ThermodynamicTemperature,
        /// Limit.
        limit: ThermodynamicTemperature,
    },
    /// Near the coldest at which salt brine works.
    Cold {
        /// Pavement.
        pavement: ThermodynamicTemperature,
        /// Limit.
        limit: ThermodynamicTemperature,
    },
    /// Drifting snow sticks to a wet road.
    Windy {
        /// Wind.
        wind: Velocity,
    },
    /// The road stays above freezing.
    NotNeeded,
}

/// What to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Spray.
    Spray,
    /// Spray, with a warning read first.
    SprayWithCare,
    /// Do not, unless the supervisor overrides with a reason.
    DoNot,
}

impl Reason {
    /// Whether the reason speaks against spraying at all.
    pub fn verdict(&self) -> Verdict {
        match self {
            Reason::Cold { .. } | Reason::Windy { .. } => Verdict::SprayWithCare,
            _ => Verdict::DoNot,
        }
    }

    /// Who says so, each of them read in its source.
    pub fn source(&self) -> Message {
        match self {
            Reason::RainFirst { .. } => message!("road.source.rain_first"),
            Reason::FreezingRain => message!("road.source.freezing_rain"),
            Reason::TooCold { .. } => message!("road.source.too_cold", limit = fahrenheit(15.0)),
            Reason::Cold { .. } => {
                message!("road.source.cold", low = fahrenheit(15.0), high = fahrenheit(20.0))
            }
            Reason::Windy { .. } => message!("road.source.windy"),
            Reason::NotNeeded => message!("road.source.not_needed", freezing = fahrenheit(32.0)),
        }
    }

    /// The figure the reason turns on, for a message: °F, mm or mph with its limit, and SI beside it.
    pub fn figures(&self) -> (f64, f64) {
        match self {
            Reason::RainFirst { rain } => (in_millimetres(*rain), WASHING_RAIN_MM),
            Reason::TooCold { pavement, limit } | Reason::Cold { pavement, limit } => {
                (in_fahrenheit(*pavement), in_fahrenheit(*limit))
            }
            Reason::Windy { wind } => (in_miles_per_hour(*wind), 0.0),
            Reason::FreezingRain | Reason::NotNeeded => (0.0, 0.0),
        }
    }
}

/// All reasons that apply, worst first. No reason means: spray.
///
/// ```
/// use quantity::*;
/// use road::spraying::*;
/// let (block_below, warn_below) = (fahrenheit(15.0), fahrenheit(20.0));
/// let limits = Limits { block_below, warn_below, warn_wind: miles_per_hour(15.0) };
/// let mut outlook = Outlook {
///     pavement: fahrenheit(25.0), stays_above_freezing: false, rain_first: millimetres(0.0),
///     freezing_rain: false, wind: None, dry_snow: true,
/// };
/// assert_eq!(verdict(&reasons(&outlook, &limits)), Verdict::Spray);
/// outlook.pavement = fahrenheit(14.9);
/// assert_eq!(verdict(&reasons(&outlook, &limits)), Verdict::DoNot);
/// ```
pub fn reasons(outlook: &Outlook, limits: &Limits) -> Vec<Reason> {
    let mut found = Vec::new();
    let celsius = in_celsius(outlook.pavement) + 1e-9;
    if outlook.stays_above_freezing {
        found.push(Reason::NotNeeded);
    }
    if outlook.freezing_rain {
        found.push(Reason::FreezingRain);
    }
    if in_millimetres(outlook.rain_first) >= WASHING_RAIN_MM {
        found.push(Reason::RainFirst { rain: outlook.rain_first });
    }
    if celsius < in_celsius(limits.block_below) {
        found.push(Reason::TooCold { pavement: outlook.pavement, limit: limits.block_below });
    } else if celsius < in_celsius(limits.warn_below) {
        found.push(Reason::Cold { pavement: outlook.pavement, limit: limits.warn_below });
    }
    if let Some(wind) = outlook.wind
        && outlook.dry_snow
        && in_miles_per_hour(wind) > in_miles_per_hour(limits.warn_wind)
    {
        found.push(Reason::Windy { wind });
    }
    found.sort_by_key(|reason| std::cmp::Reverse(reason.verdict()));
    found
}

/// The strictest verdict of some reasons.
pub fn verdict(reasons: &[Reason]) -> Verdict {
    reasons.iter().map(Reason::verdict).max().unwrap_or(Verdict::Spray)
}
