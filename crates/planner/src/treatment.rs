//! Treatment of each route in a storm: whether it is pretreated, and the passes after, in a warm, the middle and a cold
//! story. What is done comes from the roads' own courses.

use chemistry::Brine;
use jiff::{SignedDuration, Timestamp};
use quantity::{
    Length, Mass, ThermodynamicTemperature, Volume, celsius, cubic_metres, in_celsius, kilograms,
};
use road::course::{Act, Form, Purpose};
use road::rates::{Condition, EventKind, LiquidClass, Pass, RateRow, Trend, Use};
use road::spraying::{self, Reason, Verdict};
use road::{LiquidRate, RateTable};
use site::Yard;

use crate::outlook::{Case, RoadHour};
use crate::roads::{ClassCourse, Roads, is_sprayed_ahead};
pub use crate::spread::Spread;
use crate::storm::{Storm, StormKind};

/// Hours after a storm in which what is done belongs to it.
const AFTER: i64 = 12;
/// Hours before a storm in which passes, and pretreating, belong to it.
const BEFORE: i64 = 3;
const AHEAD: i64 = 30;

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
    /// Whether it is plowing alone.
    pub plows: bool,
    /// Published application rate; none for plowing and where no enabled row covers the condition.
    pub rate: Option<RateRow>,
    /// Salt brine for prewetting, at 60 °F.
    pub brine: Spread<Volume>,
    /// Magnesium or calcium chloride liquid, at 60 °F.
    pub other: Spread<Volume>,
    /// Dry salt, as delivered.
    pub salt: Spread<Mass>,
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

/// Which storm an act belongs to; none where no storm is near.
pub(crate) fn storm_of(storms: &[Storm], act: &Act) -> Option<usize> {
    let before = SignedDuration::from_hours(if act.purpose == Purpose::Pretreat { AHEAD } else { BEFORE });
    let after = SignedDuration::from_hours(AFTER);
    storms.iter().position(|storm| act.at >= storm.start - before && act.at < storm.end + after)
}

/// The acts of the three stories told: of a member with little to do, the middle story, and a member with much; none
/// where there is no such class.
pub(crate) fn told(yard: &Yard, roads: &Roads) -> [Option<usize>; 2] {
    let members = roads.classes.iter().map(|class| class.members.len()).max().unwrap_or(0);
    let weight = |member: usize| -> f64 {
        roads
            .classes
            .iter()
            .map(|class| {
                let lanes = lanes_of_class(yard, class);
                let acts = class.members.get(member).map_or(&[][..], Vec::as_slice);
                let salt = |act: &Act| quantity::in_kilograms(act.salt()[1].on(lanes));
                acts.iter().map(|act| 1.0 + salt(act)).sum::<f64>()
            })
            .sum()
    };
    let mut ranked: Vec<usize> = (0..members).collect();
    ranked.sort_by(|a, b| weight(*a).total_cmp(&weight(*b)));
    let at = |share: f64| ranked.get((share * members.saturating_sub(1) as f64).round() as usize).copied();
    [at(0.1), at(0.9)]
}

fn lanes_of_class(yard: &Yard, class: &ClassCourse) -> Length {
    let id = &yard.route_classes[class.class].id;
    yard.routes
        .iter()
        .filter(|route| route.class == *id)
        .fold(quantity::metres(0.0), |sum, route| sum + route.lane_length)
}

/// Computes the treatment of a storm: everything that the stories do in it. `place` is the storm's among `storms`.
///
/// # Errors
/// Chemistry's, when the brine's strength is outside its data.
pub(crate) fn treat(
    yard: &Yard,
    rates: &RateTable,
    hours: &[RoadHour],
    storms: &[Storm],
    place: usize,
    roads: &Roads,
    brine: &Brine,
) -> Result<Treatment, chemistry::Error> {
    let [warm, cold] = told(yard, roads);
    let mut passes: [Vec<RoutePass>; 3] = Default::default();
    let mut first_useful = [None; 3];
    for class in &roads.classes {
        let id = &yard.route_classes[class.class].id;
        let of = |member: Option<usize>| {
            member.and_then(|one| class.members.get(one)).map_or(&[][..], Vec::as_slice)
        };
        let stories = [of(warm), class.middle.acts.as_slice(), of(cold)];
        for (case, acts) in stories.into_iter().enumerate() {
            for act in acts.iter().filter(|act| act.purpose != Purpose::Pretreat) {
                if storm_of(storms, act) != Some(place) {
                    continue;
                }
                let earliest: &mut Option<Timestamp> = &mut first_useful[case];
                *earliest = Some(earliest.map_or(act.at, |at| at.min(act.at)));
                for (route, site) in yard.routes.iter().enumerate().filter(|(_, route)| route.class == *id) {
                    passes[case].push(route_pass(route, site.lane_length, act, brine)?);
                }
            }
        }
    }
    for case in &mut passes {
        case.sort_by_key(|pass| (pass.at, pass.route));
    }
    let pre_spray = pre_spray(yard, rates, hours, storms, place, roads, brine)?;
    Ok(Treatment { pre_spray, goes_ahead: false, too_late: None, passes, first_useful })
}

/// The first act of pretreating in the middle story that belongs to a storm.
pub(crate) fn pretreating<'a>(storms: &[Storm], place: usize, roads: &'a Roads) -> Option<&'a Act> {
    roads
        .classes
        .iter()
        .flat_map(|class| &class.middle.acts)
        .filter(|act| act.purpose == Purpose::Pretreat && storm_of(storms, act) == Some(place))
        .min_by_key(|act| act.at)
}

fn pre_spray(
    yard: &Yard,
    rates: &RateTable,
    hours: &[RoadHour],
    storms: &[Storm],
    place: usize,
    roads: &Roads,
    brine: &Brine,
) -> Result<Option<PreSpray>, chemistry::Error> {
    let storm = &storms[place];
    let lanes = yard
        .routes
        .iter()
        .filter(|route| is_sprayed_ahead(yard, &route.class))
        .fold(quantity::metres(0.0), |sum, route| sum + route.lane_length);
    if lanes <= quantity::metres(0.0) {
        return Ok(None);
    }
    let before = storm.span[0].saturating_sub(1);
    let Some(pavement) = coldest_bands(&hours[before..=storm.span[0]]) else { return Ok(None) };
    if let Some(act) = pretreating(storms, place, roads)
        && let Some(rate) = act.rate.clone()
    {
        let limits = spraying::Limits {
            block_below: yard.policy.block_below,
            warn_below: yard.policy.warn_below,
            warn_wind: yard.policy.warn_wind,
        };
        let outlook = spraying::Outlook {
            pavement: pavement[Case::Mid as usize],
            stays_above_freezing: false,
            rain_first: quantity::millimetres(0.0),
            freezing_rain: false,
            wind: hours[storm.span[0]].wind,
            dry_snow: storm.kind == StormKind::Snow && in_celsius(pavement[Case::Mid as usize]) < -1.0,
        };
        let reasons: Vec<Reason> = spraying::reasons(&outlook, &limits)
            .into_iter()
            .filter(|reason| reason.verdict() == Verdict::PretreatWithCaution)
            .collect();
        let [low, mid, high] = act.liquid(brine)?;
        let verdict = spraying::verdict(&reasons);
        return Ok(Some(PreSpray {
            verdicts: [verdict; 3],
            reasons,
            pavement,
            rate,
            liquid: Spread { low, mid, high },
            lanes,
        }));
    }
    let refused = roads
        .classes
        .iter()
        .filter(|class| yard.route_classes[class.class].anti_icing)
        .flat_map(|class| &class.middle.refused)
        .find(|one| storm.span[0] <= one.event + 1 && one.event < storm.span[1] + AFTER as usize);
    let Some(refused) = refused else { return Ok(None) };
    let condition = Condition {
        use_for: Use::AntiIcing,
        event: if storm.kind == StormKind::Frost { EventKind::Frost } else { EventKind::Snow },
        pass: Pass::First,
        pavement: pavement[Case::Mid as usize],
        trend: Trend::Steady,
    };
    let Some(rate) = rates.find(&condition).cloned() else { return Ok(None) };
    let [low, mid, high] = rate.liquid(brine)?;
    // Nothing speaks against it but that there is no truck.
    let is_wanted = refused.reasons.is_empty() && roads.work.is_none();
    let verdicts = [if is_wanted { Verdict::Pretreat } else { Verdict::DoNot }; 3];
    let (reasons, liquid) = (refused.reasons.clone(), Spread { low, mid, high });
    Ok(Some(PreSpray { verdicts, reasons, pavement, rate, liquid, lanes }))
}

/// Returns the coldest pavement range of some hours, by its middle; none when no hour has one.
fn coldest_bands(hours: &[RoadHour]) -> Option<[ThermodynamicTemperature; 3]> {
    hours.iter().filter_map(|hour| hour.pavement).min_by(|a, b| in_celsius(a[1]).total_cmp(&in_celsius(b[1])))
}

fn route_pass(route: usize, lanes: Length, act: &Act, brine: &Brine) -> Result<RoutePass, chemistry::Error> {
    let none = Spread::all(cubic_metres(0.0));
    let [low, mid, high] = act.liquid(brine)?;
    let liquid = Spread { low, mid, high }.map(|rate: LiquidRate| rate.on(lanes));
    let (brine, other) = match act.liquid_class() {
        Some(LiquidClass::SaltBrine) => (liquid, none),
        Some(LiquidClass::MagnesiumOrCalcium) => (none, liquid),
        None => (none, none),
    };
    let [low, mid, high] = act.salt();
    Ok(RoutePass {
        route,
        at: act.at,
        pass: if act.purpose == Purpose::First { Pass::First } else { Pass::Later },
        pavement: celsius(in_celsius(act.pavement)),
        plows: act.form == Form::Plow,
        rate: act.rate.clone(),
        brine,
        other,
        salt: if act.rate.is_some() {
            Spread { low, mid, high }.map(|rate| rate.on(lanes))
        } else {
            Spread::all(kilograms(0.0))
        },
    })
}
