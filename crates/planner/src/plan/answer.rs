//! What a plan is made from, and what it answers.

use bench::Conformity;
use chemistry::recipe::Batch;
use chemistry::{Brine, MassFraction};
use jiff::Timestamp;
use quantity::{Length, Mass, ThermodynamicTemperature, Volume, in_celsius};
use road::RateTable;
use site::CoverFor;
use site::Yard;
use weather::{Notice, WeatherFile};
use yard::estimate::{BookApart, Mismatch};
use yard::stock::{Books, Part};

use super::cautions::Caution;
use crate::demand::{Band, Bins};
use crate::loading::Loading;
use crate::outlook::RoadHour;
use crate::production::{Bound, Schedule};
use crate::storm::Storm;
use crate::treatment::{Spread, Treatment};

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
    /// The same by what it is drawn for, in the order of [`demand::Purpose::ALL`].
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
    /// Whether it holds brine of our own kind, or nothing and is for it.
    pub is_brine: bool,
    /// What it holds, most first, when that is not its product alone: then nothing is predicted of it and it is not
    /// counted. Empty when all is as it should be.
    pub unlike: Vec<Part>,
    /// What is thought to be in it at 60 °F.
    pub volume: Volume,
    /// Half of the 95 % interval of that.
    pub volume_within: Volume,
    /// Strength to act on: what is thought, or what a sample says that waits for a second one and is worse.
    pub strength: Option<MassFraction>,
    /// Half of its 95 % interval.
    pub strength_within: Option<MassFraction>,
    /// Evidence that does not fit and waits for a second look.
    pub doubted: Option<Mismatch>,
    /// When salt or water was put in to change its strength, where no sample was taken since.
    pub corrected_at: Option<Timestamp>,
    /// It was counted once: dipped, or agreed on. Else what stood in it before the ledger began is unknown.
    pub is_counted: bool,
    /// How its book stands apart from this.
    pub book_apart: Option<BookApart>,
    /// The brine a mix is, where every liquid in it is known; none for what is not mixed.
    pub mix: Option<Brine>,
    /// That strength against the spec band; none for other liquids and empty tanks.
    pub conformity: Option<Conformity>,
    /// What may be drawn: above the heel, and for brine only in spec.
    pub usable: Volume,
    /// Room below the freeboard.
    pub room: Volume,
    /// First solid on cooling, of brine and of mixes; none for other liquids and empty tanks.
    pub first_solid: Option<chemistry::freezing::FirstSolid>,
    /// Where a declared liquid freezes as delivered, by its sheet; none where the sheet does not say, for brine, for a
    /// mix and for empty tanks.
    pub sheet_freezing: Option<ThermodynamicTemperature>,
    /// It stands in a heated building: the air outside is not its air.
    pub is_indoors: bool,
}

impl TankStock {
    /// Where it freezes: predicted for brine, by the sheet for a declared liquid.
    pub fn freezes_at(&self) -> Option<ThermodynamicTemperature> {
        self.first_solid.map(|first| first.temperature).or(self.sheet_freezing)
    }

    /// Whether the coldest air ahead is cold enough to freeze it. Not indoors, where the air outside is not its air.
    pub fn freezes_in(&self, coldest: Option<ThermodynamicTemperature>) -> bool {
        match (self.freezes_at(), coldest) {
            (Some(first), Some(coldest)) => !self.is_indoors && in_celsius(coldest) <= in_celsius(first),
            _ => false,
        }
    }
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

message::tell_as_said!(PlanError);
