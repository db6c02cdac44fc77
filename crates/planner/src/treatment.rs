//! Treatment of each route in a storm: whether to pretreat, and the passes after, in each pavement case.

use chemistry::Brine;
use jiff::{SignedDuration, Timestamp};
use quantity::{
    Length, Mass, ThermodynamicTemperature, Volume, cubic_metres, in_celsius, in_hours, kilograms,
    millimetres,
};
use road::rates::{Condition, EventKind, LiquidClass, Pass, RateRow, Trend, Use};
use road::spraying::{self, Limits, Outlook, Reason, Verdict};
use road::{LiquidRate, RateTable};
use site::Policy;
use site::Yard;

use crate::outlook::{Case, RoadHour};
use crate::storm::{Storm, StormKind};

/// Pavement is falling or rising when it is colder or warmer by more than this three hours on, K: program default.
const TREND_KELVIN: f64 = 0.5;
/// Hours over which the trend is taken; see [`TREND_KELVIN`].
const TREND_HOURS: usize = 3;
/// Most passes of one route in one storm; it only keeps the loop finite, far above any real storm.
const MOST_PASSES: usize = 500;

/// Low, middle and high value of an amount.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread<T> {
    /// By the low application rates; in a sum over pavement cases, the least of them.
    pub low: T,
    /// By the middle application rates; in a sum over pavement cases, that of the middle case.
    pub mid: T,
    /// By the high application rates; in a sum over pavement cases, the most of them.
    pub high: T,
}

impl<T: Copy + std::ops::Add<Output = T>> Spread<T> {
    /// Returns the sum of two spreads, part by part.
    pub fn plus(self, other: Self) -> Self {
        Self { low: self.low + other.low, mid: self.mid + other.mid, high: self.high + other.high }
    }
}

impl<T: Copy> Spread<T> {
    /// Returns a spread with three equal values.
    pub fn all(value: T) -> Self {
        Self { low: value, mid: value, high: value }
    }

    /// Applies a function to each part.
    pub fn map<U>(self, f: impl Fn(T) -> U) -> Spread<U> {
        Spread { low: f(self.low), mid: f(self.mid), high: f(self.high) }
    }
}

/// Pretreatment of a storm.
#[derive(Debug, Clone)]
pub struct PreSpray {
    /// What to do in each pavement case, in the order of [`Case::ALL`].
    pub verdicts: [Verdict; 3],
    /// Reasons for it over all cases, worst first.
    pub reasons: Vec<Reason>,
    /// Coldest pavement while spraying and at the start of the storm: warmest, middle and coldest case.
    pub pavement: [ThermodynamicTemperature; 3],
    /// Published application rate.
    pub rate: RateRow,
    /// Application rate of liquid per lane length.
    pub liquid: Spread<LiquidRate>,
    /// Lane length that is pretreated.
    pub lanes: Length,
}

impl PreSpray {
    /// Returns the verdict when all cases agree on pretreating or not, the strictest of them; none when they differ.
    pub fn verdict(&self) -> Option<Verdict> {
        let not = |verdict: &Verdict| *verdict == Verdict::DoNot;
        if self.verdicts.iter().all(not) || !self.verdicts.iter().any(not) {
            self.verdicts.iter().max().copied()
        } else {
            None
        }
    }
}

/// One pass over one route, in one pavement case.
#[derive(Debug, Clone)]
pub struct RoutePass {
    /// Index of the route in the yard.
    pub route: usize,
    /// Time the pass starts.
    pub at: Timestamp,
    /// First pass or a later one.
    pub pass: Pass,
    /// Pavement temperature at that time.
    pub pavement: ThermodynamicTemperature,
    /// Published application rate; none where no enabled row covers the condition.
    pub rate: Option<RateRow>,
    /// Salt brine for prewetting, at 60 °F.
    pub brine: Spread<Volume>,
    /// Magnesium or calcium chloride liquid, at 60 °F.
    pub other: Spread<Volume>,
    /// Dry salt, as delivered.
    pub salt: Spread<Mass>,
}

/// What is known of a storm before trucks and time decide about pretreating.
#[derive(Debug, Clone)]
pub(crate) struct Assessment {
    /// Pretreatment; none where no class of route is pretreated, the storm needs none, or no rate is enabled.
    pub pre_spray: Option<PreSpray>,
    /// Index of the hour in which salt first works, by case.
    useful: [Option<usize>; 3],
    /// The present; no pass is before it.
    now: Timestamp,
}

/// All treatment of one storm.
#[derive(Debug, Clone)]
pub struct Treatment {
    /// Pretreatment; none where no class of route is pretreated, the storm needs none, or no rate is enabled.
    pub pre_spray: Option<PreSpray>,
    /// Whether trucks go out before the storm; where they do not, routes get first passes.
    pub goes_ahead: bool,
    /// Time at which pretreating would have had to begin, where it is too late for it.
    pub too_late: Option<Timestamp>,
    /// Passes, by pavement case.
    pub passes: [Vec<RoutePass>; 3],
    /// Time at which salt first works, by case; none where the road stays above freezing.
    pub first_useful: [Option<Timestamp>; 3],
}

/// Decides whether to pretreat for a storm, and finds where salt first works.
///
/// # Errors
/// Chemistry's, when the brine's strength is outside its data.
pub(crate) fn assess(
    yard: &Yard,
    rates: &RateTable,
    hours: &[RoadHour],
    storm: &Storm,
    brine: &Brine,
    now: Timestamp,
) -> Result<Assessment, chemistry::Error> {
    let useful = Case::ALL.map(|case| storm.first_useful(hours, case));
    let pre_spray = pre_spray(yard, rates, hours, storm, brine, &useful)?;
    Ok(Assessment { pre_spray, useful, now })
}

/// Whether trucks pretreat, once trucks and time are known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Pretreatment {
    /// Trucks pretreat, in the cases that call for it.
    Yes,
    /// They do not: no case calls for it, or there is no truck.
    No,
    /// Too late: they would have had to begin at this time.
    TooLate(Timestamp),
}

/// Computes the passes of a storm.
///
/// # Errors
/// Chemistry's, when the brine's strength is outside its data.
pub(crate) fn treat(
    yard: &Yard,
    rates: &RateTable,
    hours: &[RoadHour],
    storm: &Storm,
    brine: &Brine,
    assessment: Assessment,
    pretreatment: Pretreatment,
) -> Result<Treatment, chemistry::Error> {
    let Assessment { pre_spray, useful, now } = assessment;
    let mut passes: [Vec<RoutePass>; 3] = Default::default();
    if storm.kind != StormKind::Frost {
        for case in Case::ALL {
            let Some(first) = useful[case as usize] else { continue };
            let first = hours[first].start.max(now);
            let wanted = pre_spray.as_ref().is_some_and(|p| p.verdicts[case as usize] != Verdict::DoNot);
            let sprayed = wanted && pretreatment == Pretreatment::Yes;
            passes[case as usize] = case_passes(yard, rates, hours, storm, brine, case, first, sprayed)?;
        }
    }
    let first_useful = useful.map(|place| place.map(|p| hours[p].start.max(now)));
    let too_late = match pretreatment {
        Pretreatment::TooLate(begin) => Some(begin),
        Pretreatment::Yes | Pretreatment::No => None,
    };
    Ok(Treatment { pre_spray, goes_ahead: pretreatment == Pretreatment::Yes, too_late, passes, first_useful })
}

fn pre_spray(
    yard: &Yard,
    rates: &RateTable,
    hours: &[RoadHour],
    storm: &Storm,
    brine: &Brine,
    useful: &[Option<usize>; 3],
) -> Result<Option<PreSpray>, chemistry::Error> {
    let lanes = yard
        .routes
        .iter()
        .filter(|route| is_sprayed_ahead(yard, &route.class))
        .fold(quantity::metres(0.0), |sum, route| sum + route.lane_length);
    let needed = useful.iter().any(Option::is_some);
    let before = storm.span[0].saturating_sub(1);
    let Some(pavement) = coldest_bands(&hours[before..=storm.span[0]]) else { return Ok(None) };
    if !needed || lanes <= quantity::metres(0.0) {
        return Ok(None);
    }
    let event = if storm.kind == StormKind::Frost { EventKind::Frost } else { EventKind::Snow };
    let condition = Condition {
        use_for: Use::AntiIcing,
        event,
        pass: Pass::First,
        pavement: pavement[Case::Mid as usize],
        trend: trend(hours, storm.span[0]),
    };
    let Some(rate) = rates.find(&condition).cloned() else { return Ok(None) };
    let [low, mid, high] = rate.liquid(brine)?;
    let mut reasons: Vec<Reason> = Vec::new();
    let verdicts = Case::ALL.map(|case| {
        let found =
            case_reasons(&yard.policy, hours, storm, case, pavement[case as usize], useful[case as usize]);
        let verdict = spraying::verdict(&found);
        for reason in found {
            // Where several cases share a reason, the one nearest the middle is kept.
            let same = |r: &Reason| std::mem::discriminant(r) == std::mem::discriminant(&reason);
            if case == Case::Mid {
                reasons.retain(|r| !same(r));
            }
            if !reasons.iter().any(same) {
                reasons.push(reason);
            }
        }
        verdict
    });
    reasons.sort_by_key(|reason| std::cmp::Reverse(reason.verdict()));
    Ok(Some(PreSpray { verdicts, reasons, pavement, rate, liquid: Spread { low, mid, high }, lanes }))
}

fn case_reasons(
    policy: &Policy,
    hours: &[RoadHour],
    storm: &Storm,
    case: Case,
    pavement: ThermodynamicTemperature,
    useful: Option<usize>,
) -> Vec<Reason> {
    let part = &hours[storm.span[0]..storm.span[1]];
    let frost = storm.kind == StormKind::Frost;
    let outlook = Outlook {
        pavement,
        stays_above_freezing: useful.is_none(),
        rain_first: useful.map_or(millimetres(0.0), |place| storm.rain_before(hours, place)),
        freezing_rain: part.iter().any(|hour| hour.glazes(case)),
        wind: part[0].wind,
        dry_snow: !frost && part[0].frozen_share > 0.95 && part[0].air.is_some_and(|t| in_celsius(t) < -1.0),
    };
    let limits = Limits {
        block_below: policy.block_below,
        warn_below: policy.warn_below,
        warn_wind: policy.warn_wind,
    };
    spraying::reasons(&outlook, &limits)
}

/// Whether a class of route is pretreated.
pub(crate) fn is_sprayed_ahead(yard: &Yard, class: &str) -> bool {
    yard.route_classes.iter().any(|c| c.id == class && c.anti_icing)
}

/// Returns the coldest pavement range of some hours, by its middle; none when no hour has one.
fn coldest_bands(hours: &[RoadHour]) -> Option<[ThermodynamicTemperature; 3]> {
    hours.iter().filter_map(|hour| hour.pavement).min_by(|a, b| in_celsius(a[1]).total_cmp(&in_celsius(b[1])))
}

fn trend(hours: &[RoadHour], place: usize) -> Trend {
    let mid = |place: usize| hours.get(place).and_then(|hour| hour.pavement(Case::Mid)).map(in_celsius);
    match (mid(place), mid(place + TREND_HOURS)) {
        (Some(now), Some(then)) if then < now - TREND_KELVIN => Trend::Falling,
        (Some(now), Some(then)) if then > now + TREND_KELVIN => Trend::Rising,
        _ => Trend::Steady,
    }
}

/// Returns the passes of all routes in one case. Pretreated routes start with a later pass one cycle on; a pass is made
/// when something that can freeze fell since the one before; the last one is within a cycle of the end.
#[allow(
    clippy::too_many_arguments,
    reason = "the arguments of one storm in one case, all of different types"
)]
fn case_passes(
    yard: &Yard,
    rates: &RateTable,
    hours: &[RoadHour],
    storm: &Storm,
    brine: &Brine,
    case: Case,
    first: Timestamp,
    sprayed: bool,
) -> Result<Vec<RoutePass>, chemistry::Error> {
    let mut passes = Vec::new();
    for (place, route) in yard.routes.iter().enumerate() {
        let Some(class) = yard.route_classes.iter().find(|class| class.id == route.class) else { continue };
        let cycle = SignedDuration::from_secs((in_hours(class.cycle) * 3600.0).round().max(60.0) as i64);
        let from = if sprayed && class.anti_icing { 1 } else { 0 };
        for number in from..MOST_PASSES {
            let at = first + cycle * number as i32;
            let window_end =
                hours.last().map_or(storm.end, |hour| hour.start + SignedDuration::from_hours(1));
            if number > 0 && (at >= storm.end + cycle || at >= window_end) {
                break;
            }
            let since = at - cycle;
            let fell = number == 0
                || hours.iter().any(|hour| {
                    let overlaps = hour.start < at && since < hour.start + SignedDuration::from_hours(1);
                    overlaps && hour.can_freeze(case)
                });
            let Some(now) = hours.iter().rposition(|hour| hour.start <= at) else { continue };
            let Some(pavement) = hours[now].pavement(case) else { continue };
            if !fell {
                continue;
            }
            let kind = if hours[now].glazes(case) {
                EventKind::FreezingRain
            } else if hours[now].wet && hours[now].frozen_share < 0.95 {
                EventKind::Mixed
            } else {
                EventKind::Snow
            };
            let pass = if number == 0 { Pass::First } else { Pass::Later };
            let condition =
                Condition { use_for: Use::PrewetSalt, event: kind, pass, pavement, trend: trend(hours, now) };
            passes.push(route_pass(place, route.lane_length, at, &condition, rates.find(&condition), brine)?);
        }
    }
    Ok(passes)
}

fn route_pass(
    route: usize,
    lanes: Length,
    at: Timestamp,
    condition: &Condition,
    rate: Option<&RateRow>,
    brine: &Brine,
) -> Result<RoutePass, chemistry::Error> {
    let none = Spread::all(cubic_metres(0.0));
    let mut pass = RoutePass {
        route,
        at,
        pass: condition.pass,
        pavement: condition.pavement,
        rate: rate.cloned(),
        brine: none,
        other: none,
        salt: Spread::all(kilograms(0.0)),
    };
    if let Some(rate) = rate {
        let [low, mid, high] = rate.liquid(brine)?;
        let liquid = Spread { low, mid, high }.map(|r| r.on(lanes));
        match rate.liquids.first() {
            Some(LiquidClass::SaltBrine) => pass.brine = liquid,
            Some(LiquidClass::MagnesiumOrCalcium) => pass.other = liquid,
            None => {}
        }
        let [low, mid, high] = rate.salt();
        pass.salt = Spread { low, mid, high }.map(|r| r.on(lanes));
    }
    Ok(pass)
}
