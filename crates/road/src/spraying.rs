//! Whether to pretreat before an event: what published practice says against it, each with its source.

use message::{Message, message};
use quantity::{
    Length, ThermodynamicTemperature, Velocity, fahrenheit, in_celsius, in_fahrenheit, in_miles_per_hour,
    in_millimetres,
};

/// The forecast for an event that the checks are made on, for one case of pavement temperature.
#[derive(Debug, Clone, Copy)]
pub struct Outlook {
    /// Pavement temperature while pretreating and at the start of the event.
    pub pavement: ThermodynamicTemperature,
    /// Pavement through the event stays above freezing.
    pub stays_above_freezing: bool,
    /// Depth of rain that falls before the first storm pass.
    pub rain_first: Length,
    /// Freezing rain is reported or falls on a frozen road.
    pub freezing_rain: bool,
    /// Wind speed while pretreating; none where the forecast has none.
    pub wind: Option<Velocity>,
    /// Whether the event is dry, cold snow, which blows.
    pub dry_snow: bool,
}

/// The limits of the checks, as the yard file sets them.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Pavement colder than this: no plain salt brine.
    pub block_below: ThermodynamicTemperature,
    /// Pavement colder than this: warn.
    pub warn_below: ThermodynamicTemperature,
    /// Wind above this with dry snow: warn.
    pub warn_wind: Velocity,
}

/// Rain that is taken to wash a pretreatment away, mm: program default, no published source. 40 gal per lane-mile is
/// 0.026 mm of liquid; a quarter of a millimeter of rain dilutes it tenfold.
const WASHING_RAIN_MM: f64 = 0.25;

/// One reason not to pretreat, or to be careful.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// Rain comes first and dilutes or washes off the pretreatment.
    RainFirst {
        /// Depth of the rain.
        rain: Length,
    },
    /// Freezing rain: sources disagree, most advise against.
    FreezingRain,
    /// Too cold for plain salt brine.
    TooCold {
        /// Pavement temperature while pretreating and at the start of the event.
        pavement: ThermodynamicTemperature,
        /// The yard's limit for it.
        limit: ThermodynamicTemperature,
    },
    /// Near the coldest at which salt brine works.
    Cold {
        /// Pavement temperature while pretreating and at the start of the event.
        pavement: ThermodynamicTemperature,
        /// The yard's limit for it.
        limit: ThermodynamicTemperature,
    },
    /// Blowing snow sticks to a wet road.
    Windy {
        /// Wind speed while pretreating.
        wind: Velocity,
    },
    /// The road stays above freezing.
    NotNeeded,
    /// What was put down before still lies there.
    StillTreated,
}

/// What the checks come to, from best to worst.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Pretreat: none of the checks speaks against it.
    Pretreat,
    /// Pretreat, after reading the warning.
    PretreatWithCaution,
    /// Do not, unless the supervisor overrides with a reason.
    DoNot,
}

impl Reason {
    /// What this reason alone comes to.
    pub fn verdict(&self) -> Verdict {
        match self {
            Reason::Cold { .. } | Reason::Windy { .. } => Verdict::PretreatWithCaution,
            _ => Verdict::DoNot,
        }
    }

    /// The published source of the reason. Each was read in the document that it names.
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
            Reason::StillTreated => message!("road.source.still_treated"),
        }
    }

    /// The value that the reason depends on, and its limit: mm of rain, °F of pavement, or mph of wind, for which no
    /// limit is given; zeros where it depends on no value.
    pub fn figures(&self) -> (f64, f64) {
        match self {
            Reason::RainFirst { rain } => (in_millimetres(*rain), WASHING_RAIN_MM),
            Reason::TooCold { pavement, limit } | Reason::Cold { pavement, limit } => {
                (in_fahrenheit(*pavement), in_fahrenheit(*limit))
            }
            Reason::Windy { wind } => (in_miles_per_hour(*wind), 0.0),
            Reason::FreezingRain | Reason::NotNeeded | Reason::StillTreated => (0.0, 0.0),
        }
    }
}

/// All reasons that apply, worst first. With none, pretreat.
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
/// assert_eq!(verdict(&reasons(&outlook, &limits)), Verdict::Pretreat);
/// outlook.pavement = fahrenheit(14.9);
/// assert_eq!(verdict(&reasons(&outlook, &limits)), Verdict::DoNot);
/// // Freezing rain washes brine off and glazes over it: not by this program's advice, whatever the pavement.
/// (outlook.pavement, outlook.freezing_rain) = (fahrenheit(25.0), true);
/// assert_eq!(reasons(&outlook, &limits)[0], Reason::FreezingRain);
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
    reasons.iter().map(Reason::verdict).max().unwrap_or(Verdict::Pretreat)
}
