//! The plan: all steps joined, checked, and told.

use std::collections::BTreeSet;

use bench::{Conformity, SpecBand};
use chemistry::quantity::{
    Length, Mass, ThermodynamicTemperature, Volume, cubic_metres, in_celsius, in_cubic_metres, in_kilograms,
    in_short_tons, kilograms, millimetres,
};
use chemistry::recipe::{self, Batch};
use chemistry::{Brine, MassFraction, Salt};
use jiff::{SignedDuration, Timestamp, tz::TimeZone};
use plant::MakingRate;
use road::RateTable;
use road::spraying::Verdict;
use weather::{GridOptions, HourlyGrid, Notice, WeatherFile};
use yard::Yard;
use yard::site::{CoverFor, Insulation, ProductKind};
use yard::stock::Books;

use crate::demand::{self, Band, Bins, Course, Draw, Purpose, band};
use crate::loading::{self, Loading};
use crate::outlook::{Case, RoadHour, road_hours};
use crate::production::{self, Bound, Schedule, within};
use crate::storm::{Storm, StormKind, find_storms, possible_frost};
use crate::treatment::{Going, PreSpray, Spread, Treatment, is_sprayed_ahead, judge, treat};

/// Bins an hour: quarter hours.
const BINS_PER_HOUR: usize = 4;
/// So many hours in a row with temperatures make a stretch dense.
const DENSE_HOURS: usize = 3;
/// Longest plan, hours: no forecast read here says more.
const MOST_HOURS: usize = 240;
/// Hours after an event in which a falling road is watched for refreezing: our rule.
const REFREEZE_HOURS: i64 = 12;
/// Most that the balances may be off, as a share of the amount.
const BALANCE_TOLERANCE: f64 = 1e-9;

/// What a plan is made from.
#[derive(Debug)]
pub struct PlanRequest<'a> {
    /// The yard.
    pub yard: &'a Yard,
    /// Its stock.
    pub books: &'a Books,
    /// Rates, with the yard's switches.
    pub rates: &'a RateTable,
    /// The forecast.
    pub weather: &'a WeatherFile,
    /// From when.
    pub issued: Timestamp,
    /// For how long.
    pub hours: usize,
    /// When the plan is made: for saying today and tomorrow, and how old the forecast is.
    pub now: Timestamp,
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// The window lies outside the forecast.
    #[error("the forecast holds nothing for {from} and after; accepted: a start within it{within}")]
    NothingCovered {
        /// Start asked for.
        from: Timestamp,
        /// What it covers, in words.
        within: String,
    },
    /// The window crosses a gap that may not be filled.
    #[error(
        "the forecast has no {quantity} from {from} to {to}, inside the plan; accepted: gaps of at most 2 h (or a later \
         --issued, or fewer --hours, or a better file)"
    )]
    Gap {
        /// What is missing.
        quantity: &'static str,
        /// Start of the gap.
        from: Timestamp,
        /// End of the gap.
        to: Timestamp,
    },
    /// Too short or too long.
    #[error("hours = {hours} is outside 1…240")]
    Hours {
        /// Asked for.
        hours: usize,
    },
    /// The yard's zone.
    #[error("time zone {zone}: {reason}")]
    Zone {
        /// Zone.
        zone: String,
        /// Why.
        reason: String,
    },
    /// The plant makes nothing.
    #[error(transparent)]
    Plant(#[from] plant::Error),
    /// A brine outside the data.
    #[error(transparent)]
    Chemistry(#[from] chemistry::Error),
    /// A plan that does not add up: our fault, and so not shown.
    #[error("the plan does not add up ({what} is off by {share:.1e}): it is not shown; please report this")]
    DoesNotClose {
        /// Which balance.
        what: &'static str,
        /// Relative error.
        share: f64,
    },
}

/// A storm plan.
#[derive(Debug, Clone)]
pub struct Plan {
    /// When it was made.
    pub now: Timestamp,
    /// From when.
    pub issued: Timestamp,
    /// Hours asked for.
    pub hours_asked: usize,
    /// Start and end of what is planned; shorter than asked where the forecast ends.
    pub window: [Timestamp; 2],
    /// Road weather by hour.
    pub hours: Vec<RoadHour>,
    /// What had to be done to read the window, and terms of use of the source.
    pub notices: Vec<Notice>,
    /// Whether the forecast gives amounts of precipitation at all.
    pub amounts_given: bool,
    /// Precipitation read in the window, liquid.
    pub precipitation: Length,
    /// The plan's figures if water flagged as suspect is real; none when there is none.
    pub suspect: Option<SuspectWater>,
    /// Events with what they ask for.
    pub storms: Vec<(Storm, Treatment)>,
    /// Loads for spraying ahead, by place of the storm.
    pub loadings: Vec<(usize, Loading)>,
    /// Which demand is covered.
    pub cover_for: CoverFor,
    /// Share added for flushing and waste.
    pub waste_share: f64,
    /// Brine needed, waste share included.
    pub brine: Spread<Volume>,
    /// Other liquid needed, waste share included.
    pub other: Spread<Volume>,
    /// Dry salt to spread.
    pub salt: Spread<Mass>,
    /// Needs of each route, in the yard's order, without the waste share.
    pub routes: Vec<RouteNeed>,
    /// Time steps of the bands and the schedule.
    pub bins: Bins,
    /// Brine drawn, waste share included, m³.
    pub brine_band: Band,
    /// The same by what it is drawn for, in the order of [`Purpose::ALL`].
    pub purpose_bands: [Band; 3],
    /// Tanks as they stand.
    pub tanks: Vec<TankStock>,
    /// Brine that may be drawn now.
    pub in_hand: Volume,
    /// Other liquid that may be drawn now.
    pub other_in_hand: Volume,
    /// Rock salt on hand.
    pub rock_salt: Mass,
    /// Making runs.
    pub schedule: Schedule,
    /// Where each run goes.
    pub tank_uses: Vec<Vec<TankUse>>,
    /// Salt and water for all runs together.
    pub batch: Batch,
    /// Brine the plan makes, over all runs.
    pub made: Volume,
    /// When and where something runs short.
    pub shortages: Vec<Shortage>,
    /// Cost of the materials used.
    pub costs: Spread<Costs>,
    /// Chloride that goes onto roads.
    pub chloride: Spread<Mass>,
    /// What to watch.
    pub cautions: Vec<Caution>,
    /// How well it all adds up.
    pub balance: Balance,
}

/// A plan's need if suspect water is real.
#[derive(Debug, Clone)]
pub struct SuspectWater {
    /// Water flagged as suspect in the window.
    pub liquid: Length,
    /// Brine then needed.
    pub brine: Spread<Volume>,
    /// Other liquid then needed.
    pub other: Spread<Volume>,
    /// Dry salt then needed.
    pub salt: Spread<Mass>,
    /// Events then found.
    pub storms: usize,
}

/// What one route asks for, without the waste share.
#[derive(Debug, Clone)]
pub struct RouteNeed {
    /// Place of the route in the yard.
    pub route: usize,
    /// Brine sprayed ahead.
    pub anti_icing: Spread<Volume>,
    /// Brine for pre-wetting salt.
    pub prewet: Spread<Volume>,
    /// All brine.
    pub brine: Spread<Volume>,
    /// Other liquid.
    pub other: Spread<Volume>,
    /// Dry salt.
    pub salt: Spread<Mass>,
    /// Truck loads of brine sprayed ahead.
    pub loads: usize,
}

/// A tank as the plan sees it.
#[derive(Debug, Clone)]
pub struct TankStock {
    /// Tank id.
    pub tank: String,
    /// Product id.
    pub product: String,
    /// Whether it holds brine of our own kind.
    pub is_brine: bool,
    /// Book volume at 60 °F.
    pub volume: Volume,
    /// Book strength.
    pub strength: Option<MassFraction>,
    /// Book strength against the spec band; none for other liquids and empty tanks.
    pub conformity: Option<Conformity>,
    /// What may be drawn: above the heel, and for brine only in spec.
    pub usable: Volume,
    /// Room below the freeboard.
    pub room: Volume,
    /// First solid on cooling; none for other liquids and empty tanks.
    pub first_solid: Option<chemistry::freezing::FirstSolid>,
    /// It stands in a heated building: the air outside is not its air.
    pub is_indoors: bool,
}

/// Part of a making run that goes into a tank.
#[derive(Debug, Clone, PartialEq)]
pub struct TankUse {
    /// Tank id.
    pub tank: String,
    /// How much.
    pub volume: Volume,
}

/// Something that runs short.
#[derive(Debug, Clone, PartialEq)]
pub enum Shortage {
    /// Brine, with the plan carried out.
    Brine {
        /// When stock first falls below need.
        at: Timestamp,
        /// By how much at worst.
        by: Volume,
        /// What keeps the yard from making it.
        bound_by: Bound,
    },
    /// Other liquid.
    OtherLiquid {
        /// By how much at the end.
        by: Volume,
    },
    /// Rock salt for spreading and making together.
    RockSalt {
        /// By how much.
        by: Mass,
    },
}

/// Materials in US dollars.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Costs {
    /// Brine used, from its salt and water.
    pub brine_usd: f64,
    /// Other liquid used.
    pub other_usd: f64,
    /// Dry salt used.
    pub salt_usd: f64,
}

impl Costs {
    /// All of it.
    pub fn total_usd(&self) -> f64 {
        self.brine_usd + self.other_usd + self.salt_usd
    }
}

/// Something a person must know before acting on the plan.
#[derive(Debug, Clone, PartialEq)]
pub enum Caution {
    /// Pavement is not in the forecast; a band around the air is assumed.
    PavementAssumed,
    /// The cases of pavement disagree on spraying ahead: look at the road.
    LookAtPavement {
        /// Place of the storm.
        storm: usize,
    },
    /// Liquid must not be sprayed ahead.
    NoLiquidAhead {
        /// Place of the storm.
        storm: usize,
    },
    /// The road falls below what salt brine melts before or after the last pass.
    MayRefreeze {
        /// When it does.
        at: Timestamp,
        /// Pavement's middle then.
        pavement: ThermodynamicTemperature,
    },
    /// Rates from memory are used, since the yard switched them on.
    RememberedRates {
        /// Their ids.
        ids: Vec<String>,
    },
    /// No published rate that is on covers some passes.
    NoRate {
        /// How many.
        passes: usize,
    },
    /// The plan asks for magnesium or calcium chloride liquid, and no tank holds any.
    NoOtherLiquid,
    /// Spraying ahead can no longer be done before the event.
    TooLateToSpray {
        /// Place of the storm.
        storm: usize,
        /// When it would have had to begin.
        begin: Timestamp,
    },
    /// Spraying ends later before the event than the policy asks for.
    LeadCutShort {
        /// Place of the storm.
        storm: usize,
    },
    /// Spraying ahead is asked for, and no truck carries liquid.
    NoTruck {
        /// Place of the storm.
        storm: usize,
    },
    /// The forecast was old when the plan was made.
    OldForecast {
        /// How old, hours.
        hours: usize,
    },
    /// The forecast gives chances, not amounts.
    NoAmounts,
    /// Spraying falls outside the crew's hours.
    OutsideCrewHours {
        /// Place of the storm.
        storm: usize,
    },
    /// Spraying would have to start earlier ahead of the storm than the policy allows.
    TooFarAhead {
        /// Place of the storm.
        storm: usize,
    },
    /// Hours without a value for precipitation.
    PrecipitationUnknown {
        /// How many.
        hours: usize,
    },
    /// A tank that is not in spec and so not counted.
    TankNotInSpec {
        /// Tank.
        tank: String,
        /// Why.
        conformity: Conformity,
    },
    /// A tank whose brine may freeze or drop salt in the coldest air ahead.
    TankMayFreeze {
        /// Tank.
        tank: String,
        /// First solid.
        first_solid: ThermodynamicTemperature,
        /// Coldest air.
        coldest: ThermodynamicTemperature,
    },
    /// Frost in the coldest case of pavement only: look at the road.
    FrostPossible {
        /// First such hour.
        from: Timestamp,
        /// End of the last.
        to: Timestamp,
    },
    /// The books of the yard do not close.
    BooksDoNotClose,
    /// The forecast ends before the hours asked for.
    Shortened,
}

/// Largest relative error of each balance.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Balance {
    /// In hand + made − drawn − left.
    pub volume: f64,
    /// Salt into batches against salt in brine made.
    pub salt: f64,
    /// Salt, water and moisture in against brine and insolubles out.
    pub water: f64,
}

/// Makes a plan.
///
/// # Errors
/// [`PlanError`]; no half plan is given.
pub fn plan(request: &PlanRequest<'_>) -> Result<Plan, PlanError> {
    if !(1..=MOST_HOURS).contains(&request.hours) {
        return Err(PlanError::Hours { hours: request.hours });
    }
    let yard = request.yard;
    let zone = TimeZone::get(&yard.time_zone)
        .map_err(|e| PlanError::Zone { zone: yard.time_zone.clone(), reason: e.to_string() })?;
    let brine = Brine::sodium_chloride(yard.plant.target_strength)?;
    let trusted = window(request, false)?;
    let hours = road_hours(&trusted.grid, &yard.policy);
    let bins = Bins {
        start: trusted.from,
        step: SignedDuration::from_mins(60 / BINS_PER_HOUR as i64),
        count: hours.len() * BINS_PER_HOUR,
    };

    let main = asked(request, &hours, &brine)?;
    let mut courses = main.courses.clone();
    for member in members(request, &trusted) {
        courses.extend(asked(request, &member, &brine)?.courses);
    }
    let suspect = suspect_water(request, &trusted, &brine)?;

    let waste = 1.0 + yard.policy.waste_share;
    let with_waste = |spread: Spread<f64>| spread.map(|v| v * waste);
    let middle = Case::Mid as usize;
    let brine_band = band(&bins, &courses, middle, |draw| with_waste(demand::brine_m3(draw)));
    let purpose_bands = Purpose::ALL.map(|purpose| {
        band(&bins, &courses, middle, |draw| {
            let counts = if draw.purpose == purpose { waste } else { 0.0 };
            demand::brine_m3(draw).map(|v| v * counts)
        })
    });
    let need = match yard.policy.cover_for {
        CoverFor::Mid => &brine_band.mid,
        CoverFor::High => &brine_band.high,
    };
    let all = |_: &Draw| true;
    let brine_need = demand::total(&courses, middle, all, |d| with_waste(demand::brine_m3(d)));
    let other_need = demand::total(&courses, middle, all, |d| with_waste(demand::other_m3(d)));
    let salt_need = demand::total(&courses, middle, all, demand::salt_kg);

    let coldest =
        hours.iter().filter_map(|hour| hour.air).min_by(|a, b| in_celsius(*a).total_cmp(&in_celsius(*b)));
    let tanks = tank_stock(yard, request.books);
    let sum = |keep: &dyn Fn(&TankStock) -> bool, of: &dyn Fn(&TankStock) -> Volume| {
        tanks.iter().filter(|t| keep(t)).map(of).fold(cubic_metres(0.0), |a, b| a + b)
    };
    let in_hand = sum(&|t| t.is_brine, &|t| t.usable);
    let other_in_hand = sum(&|t| !t.is_brine, &|t| t.usable);
    let takes_brine = |t: &TankStock| {
        t.is_brine
            && t.product == yard.plant.product
            && matches!(t.conformity, None | Some(Conformity::InSpec))
    };
    let room = sum(&takes_brine, &|t| t.room);

    let rate = MakingRate {
        rated: yard.plant.making_rate,
        rated_water_temperature: yard.plant.rated_water_temperature,
        loss_per_kelvin: yard.plant.rate_loss_per_kelvin,
        water_supply: yard.plant.water_rate,
    }
    .at(yard.plant.water_temperature, &brine)?;
    let salt_per_volume = recipe::salt_per_volume_of_brine(&brine, recipe::reference_temperature())?;
    let content = yard.rock_salt().sodium_chloride();
    let schedule = production::schedule(
        &bins,
        need,
        &production::Limits {
            plant: &yard.plant,
            crew: &yard.crew,
            zone: &zone,
            now: request.issued,
            rate,
            in_hand,
            room,
            salt_allows: production::salt_allows(request.books.rock_salt, content, salt_per_volume),
        },
    );
    let made = schedule.runs.iter().fold(cubic_metres(0.0), |sum, run| sum + run.volume);
    let batch = recipe::batch(&brine, made, yard.rock_salt())?;
    let tank_uses = fill_tanks(&schedule, &bins, need, &tanks, &takes_brine);

    let routes = route_needs(yard, &courses, middle, &main.loadings);
    let salt_needed = match yard.policy.cover_for {
        CoverFor::Mid => salt_need.mid,
        CoverFor::High => salt_need.high,
    };
    let shortages = shortages(
        &bins,
        &schedule,
        [other_need.mid, other_need.high][usize::from(yard.policy.cover_for == CoverFor::High)],
        other_in_hand,
        kilograms(salt_needed) + batch.rock_salt,
        request.books.rock_salt,
    );
    let balance = balance(&schedule, need, in_hand, made, &batch, content)?;
    let uses = MaterialUse { brine: brine_need, other: other_need, salt: salt_need };
    let (costs, chloride) = materials(yard, &uses, salt_per_volume, &brine)?;
    let mut plan = Plan {
        now: request.now,
        issued: request.issued,
        hours_asked: request.hours,
        window: [trusted.from, trusted.to],
        notices: notices(&trusted.grid, request.weather),
        amounts_given: trusted.grid.hours.iter().any(|hour| hour.precipitation.is_some()),
        precipitation: hours.iter().map(|h| h.liquid).fold(millimetres(0.0), |a, b| a + b),
        hours,
        suspect,
        storms: main.storms,
        loadings: main.loadings,
        cover_for: yard.policy.cover_for,
        waste_share: yard.policy.waste_share,
        brine: demand::volumes(brine_need),
        other: demand::volumes(other_need),
        salt: demand::masses(salt_need),
        routes,
        bins,
        brine_band,
        purpose_bands,
        tanks,
        in_hand,
        other_in_hand,
        rock_salt: request.books.rock_salt,
        schedule,
        tank_uses,
        batch,
        made,
        shortages,
        costs,
        chloride,
        cautions: Vec::new(),
        balance,
    };
    plan.cautions = cautions(request, &plan, &zone, coldest);
    Ok(plan)
}

/// The forecast's hours in the window, checked for gaps.
struct Window {
    from: Timestamp,
    to: Timestamp,
    grid: HourlyGrid,
}

fn window(request: &PlanRequest<'_>, use_suspect: bool) -> Result<Window, PlanError> {
    let from = hour_floor(request.issued);
    let options = grid_options(request.yard, use_suspect);
    let mut grid = request.weather.hourly(from, request.hours, options);
    let covered = hours_between(from, grid.covers_until).min(request.hours);
    if covered == 0 {
        let within = request
            .weather
            .latest
            .map_or_else(String::new, |latest| format!(", whose last value is for {latest}"));
        return Err(PlanError::NothingCovered { from, within });
    }
    grid.hours.truncate(covered);
    let no_temperature = |hour: &weather::Hour| hour.air.is_none() && hour.pavement.is_none();
    let mut covered = covered;
    if let Some([start, end]) = open_gap(&grid, no_temperature, 1) {
        // A forecast that only grows sparse toward its end is planned as far as it is dense; a hole is refused.
        let rest = &grid.hours[hours_between(from, end).min(grid.hours.len())..];
        let dense = rest.windows(DENSE_HOURS).any(|hours| hours.iter().all(|hour| !no_temperature(hour)));
        if dense || start <= from {
            return Err(PlanError::Gap { quantity: "temperature", from: start, to: end });
        }
        covered = hours_between(from, start);
        grid.hours.truncate(covered);
    }
    let no_water = |hour: &weather::Hour| hour.precipitation.is_none() && hour.probability.is_none();
    if let Some(gap) = open_gap(&grid, no_water, 3) {
        return Err(PlanError::Gap { quantity: "precipitation", from: gap[0], to: gap[1] });
    }
    Ok(Window { from, to: from + SignedDuration::from_hours(covered as i64), grid })
}

fn notices(grid: &HourlyGrid, file: &WeatherFile) -> Vec<Notice> {
    let terms = file.notices.iter().filter(|notice| notice.kind == weather::NoticeKind::Terms);
    let kept = grid.notices.iter().filter(|notice| notice.kind != weather::NoticeKind::OpenGap);
    kept.chain(terms).cloned().collect()
}

fn grid_options(yard: &Yard, use_suspect: bool) -> GridOptions {
    GridOptions { use_suspect, pressure: weather::psychrometrics::standard_pressure(yard.elevation).ok() }
}

/// The first stretch of at least so many hours that lack something.
fn open_gap(
    grid: &HourlyGrid,
    lacks: impl Fn(&weather::Hour) -> bool,
    at_least: usize,
) -> Option<[Timestamp; 2]> {
    let mut run = 0;
    for (place, hour) in grid.hours.iter().enumerate() {
        run = if lacks(hour) { run + 1 } else { 0 };
        let ends = grid.hours.get(place + 1).is_none_or(|next| !lacks(next));
        if run >= at_least && ends {
            let end = hour.start + SignedDuration::from_hours(1);
            return Some([end - SignedDuration::from_hours(run as i64), end]);
        }
    }
    None
}

fn hour_floor(at: Timestamp) -> Timestamp {
    let seconds = at.as_second().rem_euclid(3600);
    at - SignedDuration::from_secs(seconds) - SignedDuration::from_nanos(i64::from(at.subsec_nanosecond()))
}

fn hours_between(from: Timestamp, to: Timestamp) -> usize {
    (to.duration_since(from).as_secs().max(0) / 3600) as usize
}

/// Storms, courses and loads of one forecast.
struct Asked {
    storms: Vec<(Storm, Treatment)>,
    courses: Vec<Course>,
    loadings: Vec<(usize, Loading)>,
}

fn asked(request: &PlanRequest<'_>, hours: &[RoadHour], brine: &Brine) -> Result<Asked, PlanError> {
    let mut asked = Asked { storms: Vec::new(), courses: vec![Vec::new(); 3], loadings: Vec::new() };
    for (place, storm) in find_storms(hours).into_iter().enumerate() {
        let judged = judge(request.yard, request.rates, hours, &storm, brine, request.issued)?;
        // Trucks of an earlier spraying must be back first.
        let back = asked.loadings.last().map(|(_, loading)| loading.back(request.yard));
        let not_before = back.map_or(request.issued, |back| back.max(request.issued));
        let ahead = spray_ahead(request.yard, &storm, judged.pre_spray.as_ref(), brine, not_before)?;
        let (loading, going) = match ahead {
            Ahead::No => (None, Going::Not),
            Ahead::Loads(loading) => (Some(loading), Going::Ahead),
            Ahead::TooLate(begin) => (None, Going::TooLate(begin)),
        };
        let treatment = treat(request.yard, request.rates, hours, &storm, brine, judged, going)?;
        for case in Case::ALL {
            let course = &mut asked.courses[case as usize];
            if let (Some(loading), Some(pre_spray)) = (&loading, &treatment.pre_spray)
                && pre_spray.verdicts[case as usize] != Verdict::DoNot
            {
                course.extend(sprayed_routes(request.yard).map(|(route, lanes)| Draw {
                    at: loading.begin,
                    route,
                    purpose: Purpose::AntiIcing,
                    brine: pre_spray.liquid.map(|rate| rate.on(lanes)),
                    other: Spread::all(cubic_metres(0.0)),
                    salt: Spread::all(kilograms(0.0)),
                }));
            }
            course.extend(treatment.passes[case as usize].iter().map(|pass| Draw {
                at: pass.at,
                route: pass.route,
                purpose: match pass.pass {
                    road::rates::Pass::First => Purpose::FirstPass,
                    road::rates::Pass::Later => Purpose::LaterPass,
                },
                brine: pass.brine,
                other: pass.other,
                salt: pass.salt,
            }));
        }
        asked.loadings.extend(loading.map(|loading| (place, loading)));
        asked.storms.push((storm, treatment));
    }
    Ok(asked)
}

fn sprayed_routes(yard: &Yard) -> impl Iterator<Item = (usize, Length)> + '_ {
    yard.routes
        .iter()
        .enumerate()
        .filter(|(_, route)| is_sprayed_ahead(yard, &route.class))
        .map(|(place, route)| (place, route.lane_length))
}

/// Whether trucks go out ahead of an event.
enum Ahead {
    /// No case asks for it, or there is no truck.
    No,
    /// They do.
    Loads(Loading),
    /// They would have had to begin then.
    TooLate(Timestamp),
}

/// Loads for spraying ahead, sized for the demand that is covered. Where the policy's lead can no longer be kept but
/// the work still fits before the event, it begins at once; where it does not fit, it is too late.
fn spray_ahead(
    yard: &Yard,
    storm: &Storm,
    pre_spray: Option<&PreSpray>,
    brine: &Brine,
    not_before: Timestamp,
) -> Result<Ahead, PlanError> {
    let Some(pre_spray) = pre_spray else { return Ok(Ahead::No) };
    if pre_spray.verdicts.iter().all(|v| *v == Verdict::DoNot) {
        return Ok(Ahead::No);
    }
    let rate = match yard.policy.cover_for {
        CoverFor::Mid => pre_spray.liquid.mid,
        CoverFor::High => pre_spray.liquid.high,
    };
    let per_route: Vec<_> =
        sprayed_routes(yard).map(|(route, lanes)| (route, rate.on(lanes), lanes)).collect();
    let density = brine.density(recipe::reference_temperature())?;
    let lead = SignedDuration::from_secs(yard.policy.lead_min.get::<uom::si::time::second>().round() as i64);
    let Some(loading) = loading::load_by(yard, &per_route, density, storm.start - lead) else {
        return Ok(Ahead::No);
    };
    let behind = not_before.duration_since(loading.begin);
    Ok(if !behind.is_positive() {
        Ahead::Loads(loading)
    } else if loading.end + behind <= storm.start {
        Ahead::Loads(loading.later(behind))
    } else {
        Ahead::TooLate(loading.begin)
    })
}

fn members(request: &PlanRequest<'_>, window: &Window) -> Vec<Vec<RoadHour>> {
    let count = window.grid.hours.len();
    request
        .weather
        .member_grids(window.from, count, grid_options(request.yard, false))
        .iter()
        .map(|(_, grid)| road_hours(grid, &request.yard.policy))
        .collect()
}

fn suspect_water(
    request: &PlanRequest<'_>,
    trusted: &Window,
    brine: &Brine,
) -> Result<Option<SuspectWater>, PlanError> {
    if !trusted.grid.hours.iter().any(|hour| hour.flags.suspect) {
        return Ok(None);
    }
    let all = window(request, true)?;
    let liquid = |grid: &HourlyGrid| {
        grid.hours.iter().filter_map(|h| h.precipitation).fold(millimetres(0.0), |a, b| a + b)
    };
    let hours = road_hours(&all.grid, &request.yard.policy);
    let asked = asked(request, &hours, brine)?;
    let waste = 1.0 + request.yard.policy.waste_share;
    let of = |amount: &dyn Fn(&Draw) -> Spread<f64>| {
        demand::total(&asked.courses, Case::Mid as usize, |_| true, amount)
    };
    let other = of(&|d| demand::other_m3(d).map(|v| v * waste));
    let salt = of(&demand::salt_kg);
    let need = demand::total(
        &asked.courses,
        Case::Mid as usize,
        |_| true,
        |d| demand::brine_m3(d).map(|v| v * waste),
    );
    Ok(Some(SuspectWater {
        liquid: liquid(&all.grid) - liquid(&trusted.grid),
        brine: demand::volumes(need),
        other: demand::volumes(other),
        salt: demand::masses(salt),
        storms: asked.storms.len(),
    }))
}

/// Tanks as the books have them.
pub fn tank_stock(yard: &Yard, books: &Books) -> Vec<TankStock> {
    let band = SpecBand { low: yard.plant.spec_low, high: yard.plant.spec_high };
    yard.tanks
        .iter()
        .filter_map(|tank| {
            let (book, product) = (books.tank(&tank.id)?, yard.product(&tank.product)?);
            let volume = book.volume(product);
            let is_brine = matches!(product.kind, ProductKind::SodiumChlorideBrine);
            let strength = book.strength().filter(|_| is_brine);
            let conformity = strength.map(|w| band.judge(w, MassFraction::ZERO));
            let above_heel = in_cubic_metres(volume - tank.heel).max(0.0);
            let counts = product.kind.is_magnesium_or_calcium() || conformity == Some(Conformity::InSpec);
            Some(TankStock {
                tank: tank.id.clone(),
                product: product.id.clone(),
                is_brine,
                volume,
                strength,
                conformity,
                usable: cubic_metres(if counts { above_heel } else { 0.0 }),
                room: cubic_metres(in_cubic_metres(tank.working_capacity() - volume).max(0.0)),
                is_indoors: tank.insulation == Insulation::Indoors,
                first_solid: strength.and_then(|w| Brine::sodium_chloride(w).ok()).map(|b| b.first_solid()),
            })
        })
        .collect()
}

/// Content and room of a tank while the plan is played through, m³.
struct TankLevel {
    tank: String,
    usable: f64,
    room: f64,
}

/// Puts runs into tanks, most room first, after what trucks have drawn by then has left the fullest.
fn fill_tanks(
    schedule: &Schedule,
    bins: &Bins,
    need: &[f64],
    tanks: &[TankStock],
    takes_brine: &dyn Fn(&TankStock) -> bool,
) -> Vec<Vec<TankUse>> {
    let mut levels: Vec<TankLevel> = tanks
        .iter()
        .filter(|tank| takes_brine(tank))
        .map(|tank| TankLevel {
            tank: tank.tank.clone(),
            usable: in_cubic_metres(tank.usable),
            room: in_cubic_metres(tank.room),
        })
        .collect();
    let mut drawn = 0.0;
    schedule
        .runs
        .iter()
        .map(|run| {
            let due = need[bins.bin(run.making_to - SignedDuration::from_secs(1))];
            draw(&mut levels, due - drawn);
            drawn = drawn.max(due);
            pour(&mut levels, in_cubic_metres(run.volume))
        })
        .collect()
}

/// Takes a volume from the fullest tanks first, as far as there is any.
fn draw(levels: &mut [TankLevel], volume: f64) {
    let mut left = volume.max(0.0);
    levels.sort_by(|a, b| b.usable.total_cmp(&a.usable));
    for level in levels {
        let part = f64::min(left, level.usable);
        level.usable -= part;
        level.room += part;
        left -= part;
    }
}

/// Puts a volume into the tanks with most room first.
fn pour(levels: &mut [TankLevel], volume: f64) -> Vec<TankUse> {
    let mut left = volume;
    let mut uses: Vec<TankUse> = Vec::new();
    levels.sort_by(|a, b| b.room.total_cmp(&a.room));
    for level in levels.iter_mut() {
        let part = f64::min(left, level.room);
        if part > 0.0 {
            uses.push(TankUse { tank: level.tank.clone(), volume: cubic_metres(part) });
            level.room -= part;
            level.usable += part;
            left -= part;
        }
    }
    // The schedule has made sure of room; what is left over is rounding, and goes with the rest.
    match (uses.first_mut(), levels.first()) {
        (Some(first), _) => first.volume += cubic_metres(left.max(0.0)),
        (None, Some(level)) => uses.push(TankUse { tank: level.tank.clone(), volume: cubic_metres(left) }),
        (None, None) => {}
    }
    uses
}

fn route_needs(
    yard: &Yard,
    courses: &[Course],
    middle: usize,
    loadings: &[(usize, Loading)],
) -> Vec<RouteNeed> {
    (0..yard.routes.len())
        .map(|route| {
            let of = |keep: &dyn Fn(&Draw) -> bool, amount: &dyn Fn(&Draw) -> Spread<f64>| {
                demand::total(courses, middle, |draw| draw.route == route && keep(draw), amount)
            };
            let ahead = |draw: &Draw| draw.purpose == Purpose::AntiIcing;
            RouteNeed {
                route,
                anti_icing: demand::volumes(of(&ahead, &demand::brine_m3)),
                prewet: demand::volumes(of(&|d| !ahead(d), &demand::brine_m3)),
                brine: demand::volumes(of(&|_| true, &demand::brine_m3)),
                other: demand::volumes(of(&|_| true, &demand::other_m3)),
                salt: demand::masses(of(&|_| true, &demand::salt_kg)),
                loads: loadings.iter().flat_map(|(_, l)| &l.loads).filter(|load| load.route == route).count(),
            }
        })
        .collect()
}

fn shortages(
    bins: &Bins,
    schedule: &Schedule,
    other_need_m3: f64,
    other_in_hand: Volume,
    salt_need: Mass,
    rock_salt: Mass,
) -> Vec<Shortage> {
    let mut found = Vec::new();
    if let (Some(bound_by), Some(first)) =
        (schedule.bound_by, schedule.stock.iter().position(|stock| *stock < -1e-4))
    {
        let worst = schedule.stock.iter().copied().fold(0.0, f64::min);
        found.push(Shortage::Brine { at: bins.at(first), by: cubic_metres(-worst), bound_by });
    }
    let other = other_need_m3 - in_cubic_metres(other_in_hand);
    if other > 1e-4 {
        found.push(Shortage::OtherLiquid { by: cubic_metres(other) });
    }
    let salt = in_kilograms(salt_need - rock_salt);
    if salt > 1e-3 {
        found.push(Shortage::RockSalt { by: kilograms(salt) });
    }
    found
}

/// Checks the plan's own sums and refuses one that does not close.
fn balance(
    schedule: &Schedule,
    need: &[f64],
    in_hand: Volume,
    made: Volume,
    batch: &Batch,
    content: f64,
) -> Result<Balance, PlanError> {
    let share = |residual: f64, scale: f64| (residual / scale.abs().max(1.0)).abs();
    let drawn = need.last().copied().unwrap_or(0.0);
    let ready = schedule.ready_by.last().copied().unwrap_or(0.0);
    let unsettled = in_cubic_metres(made) - ready;
    let left = schedule.stock.last().copied().unwrap_or(0.0) + unsettled;
    let total = in_cubic_metres(in_hand) + in_cubic_metres(made);
    let (rock, brine) = (in_kilograms(batch.rock_salt), in_kilograms(batch.brine));
    let found = Balance {
        volume: share(total - drawn - left, total.max(drawn)),
        salt: share(rock * content - in_kilograms(batch.sodium_chloride), rock),
        water: share(rock + in_kilograms(batch.water) - brine - in_kilograms(batch.insolubles), brine),
    };
    for (what, share) in [("brine", found.volume), ("salt", found.salt), ("water", found.water)] {
        if share > BALANCE_TOLERANCE {
            return Err(PlanError::DoesNotClose { what, share });
        }
    }
    Ok(found)
}

/// Amounts used, m³ and kg.
struct MaterialUse {
    brine: Spread<f64>,
    other: Spread<f64>,
    salt: Spread<f64>,
}

fn materials(
    yard: &Yard,
    uses: &MaterialUse,
    salt_per_volume: chemistry::quantity::MassDensity,
    brine: &Brine,
) -> Result<(Spread<Costs>, Spread<Mass>), PlanError> {
    let content = yard.rock_salt().sodium_chloride();
    let chloride_share = Salt::SodiumChloride.chloride_fraction().fraction();
    let one = recipe::batch(brine, cubic_metres(1.0), yard.rock_salt())?;
    let water_m3 = in_kilograms(one.water)
        / chemistry::quantity::in_kg_per_m3(chemistry::density::water_density(
            recipe::reference_temperature(),
        )?);
    let salt_price = |mass: Mass| in_short_tons(mass) * yard.salt.usd_per_short_ton;
    let brine_usd_per_m3 = salt_price(one.rock_salt) + water_m3 * yard.plant.water_usd_per_m3;
    let declared = yard.products.iter().find_map(|product| match &product.kind {
        ProductKind::Declared { density, chloride, .. } if product.kind.is_magnesium_or_calcium() => {
            Some((product.usd_per_m3, in_kilograms(*density * cubic_metres(1.0)) * chloride.fraction()))
        }
        _ => None,
    });
    let (other_usd, other_chloride) = declared.unwrap_or((0.0, 0.0));
    let parts = |brine: f64, other: f64, salt: f64| {
        let costs = Costs {
            brine_usd: brine * brine_usd_per_m3,
            other_usd: other * other_usd,
            salt_usd: salt_price(kilograms(salt)),
        };
        let chloride = in_kilograms(salt_per_volume * cubic_metres(brine)) * chloride_share
            + other * other_chloride
            + salt * content * chloride_share;
        (costs, kilograms(chloride))
    };
    let low = parts(uses.brine.low, uses.other.low, uses.salt.low);
    let mid = parts(uses.brine.mid, uses.other.mid, uses.salt.mid);
    let high = parts(uses.brine.high, uses.other.high, uses.salt.high);
    Ok((Spread { low: low.0, mid: mid.0, high: high.0 }, Spread { low: low.1, mid: mid.1, high: high.1 }))
}

fn cautions(
    request: &PlanRequest<'_>,
    plan: &Plan,
    zone: &TimeZone,
    coldest: Option<ThermodynamicTemperature>,
) -> Vec<Caution> {
    let yard = request.yard;
    let mut found = Vec::new();
    for (place, (storm, treatment)) in plan.storms.iter().enumerate() {
        storm_cautions(&mut found, place, storm, treatment, plan, yard, zone);
    }
    let age = request.now.duration_since(request.weather.issued.unwrap_or(request.issued)).as_hours();
    if age as f64 > weather::file::FORECAST_STALE_AFTER_HOURS {
        found.push(Caution::OldForecast { hours: age.max(0) as usize });
    }
    if plan.storms.iter().any(|(storm, _)| !storm.pavement_given) {
        found.push(Caution::PavementAssumed);
    }
    let no_rate = plan
        .storms
        .iter()
        .flat_map(|(_, t)| t.passes.iter().flatten())
        .filter(|pass| pass.rate.is_none())
        .count();
    if no_rate > 0 {
        found.push(Caution::NoRate { passes: no_rate });
    }
    let ids = remembered(plan);
    if !ids.is_empty() {
        found.push(Caution::RememberedRates { ids });
    }
    if in_cubic_metres(plan.other.high) > 0.0 && in_cubic_metres(plan.other_in_hand) <= 0.0 {
        found.push(Caution::NoOtherLiquid);
    }
    let unknown = plan.hours.iter().filter(|hour| hour.precipitation_unknown).count();
    if !plan.amounts_given {
        found.push(Caution::NoAmounts);
    } else if unknown > 0 {
        found.push(Caution::PrecipitationUnknown { hours: unknown });
    }
    if plan.window[1] < plan.window[0] + SignedDuration::from_hours(plan.hours_asked as i64) {
        found.push(Caution::Shortened);
    }
    for (tank, site) in plan.tanks.iter().zip(&yard.tanks) {
        match tank.conformity {
            Some(conformity) if conformity != Conformity::InSpec => {
                found.push(Caution::TankNotInSpec { tank: tank.tank.clone(), conformity });
            }
            _ => {}
        }
        if let (Some(first), Some(coldest)) = (tank.first_solid, coldest)
            && site.insulation != Insulation::Indoors
            && in_celsius(coldest) <= in_celsius(first.temperature)
        {
            found.push(Caution::TankMayFreeze {
                tank: tank.tank.clone(),
                first_solid: first.temperature,
                coldest,
            });
        }
    }
    let storms: Vec<Storm> = plan.storms.iter().map(|(storm, _)| storm.clone()).collect();
    if let Some([from, to]) = possible_frost(&plan.hours, &storms) {
        found.push(Caution::FrostPossible { from, to });
    }
    if !request.books.close() {
        found.push(Caution::BooksDoNotClose);
    }
    found
}

/// Ids of rates from memory that the plan uses.
fn remembered(plan: &Plan) -> Vec<String> {
    let of_storm = |treatment: &Treatment| -> Vec<String> {
        let ahead = treatment.pre_spray.iter().map(|p| &p.rate);
        let passes = treatment.passes.iter().flatten().filter_map(|pass| pass.rate.as_ref());
        ahead
            .chain(passes)
            .filter(|rate| rate.mark == road::rates::Mark::Memory)
            .map(|r| r.id.clone())
            .collect()
    };
    let ids: BTreeSet<String> = plan.storms.iter().flat_map(|(_, treatment)| of_storm(treatment)).collect();
    ids.into_iter().collect()
}

fn storm_cautions(
    found: &mut Vec<Caution>,
    place: usize,
    storm: &Storm,
    treatment: &Treatment,
    plan: &Plan,
    yard: &Yard,
    zone: &TimeZone,
) {
    let asks = treatment.pre_spray.as_ref().is_some_and(|p| p.verdicts.iter().any(|v| *v != Verdict::DoNot));
    if asks && !treatment.goes_ahead && treatment.too_late.is_none() {
        found.push(Caution::NoTruck { storm: place });
    }
    if let Some(begin) = treatment.too_late {
        found.push(Caution::TooLateToSpray { storm: place, begin });
    } else if let Some(pre_spray) = &treatment.pre_spray {
        match pre_spray.verdict() {
            None => found.push(Caution::LookAtPavement { storm: place }),
            Some(Verdict::DoNot) => found.push(Caution::NoLiquidAhead { storm: place }),
            Some(_) => {}
        }
    }
    if let Some((_, loading)) = plan.loadings.iter().find(|(storm, _)| *storm == place) {
        let lead = SignedDuration::from_secs(yard.policy.lead_min.get::<uom::si::time::second>() as i64);
        if loading.end > storm.start - lead {
            found.push(Caution::LeadCutShort { storm: place });
        }
        let ahead = SignedDuration::from_secs(yard.policy.lead_max.get::<uom::si::time::second>() as i64);
        if loading.begin < storm.start - ahead {
            found.push(Caution::TooFarAhead { storm: place });
        }
        let hours = hours_between(hour_floor(loading.begin), loading.end) as i32;
        let manned = (0..=hours).all(|hour| {
            let at = loading.begin + SignedDuration::from_hours(1) * hour;
            let local =
                at.min(loading.end - SignedDuration::from_secs(1)).to_zoned_datetime(zone.clone()).hour();
            within(local, yard.crew.spraying_from_hour, yard.crew.spraying_to_hour)
        });
        if !manned {
            found.push(Caution::OutsideCrewHours { storm: place });
        }
    }
    if matches!(storm.kind, StormKind::Rain) && treatment.first_useful.iter().all(Option::is_none) {
        return;
    }
    let watched = storm.end + SignedDuration::from_hours(REFREEZE_HOURS);
    let cold = plan.hours.iter().find(|hour| {
        storm.start <= hour.start
            && hour.start < watched
            && hour.pavement(Case::Mid).is_some_and(|t| in_celsius(t) < in_celsius(yard.policy.block_below))
    });
    if let Some(hour) = cold
        && let Some(pavement) = hour.pavement(Case::Mid)
        && storm.kind != StormKind::Frost
    {
        found.push(Caution::MayRefreeze { at: hour.start, pavement });
    }
}
