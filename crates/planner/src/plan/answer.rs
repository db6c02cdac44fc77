//! What a plan is made from, and the plan itself.

use std::sync::Arc;

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
use crate::roads::{Roads, RoadsSeen};
use crate::storm::Storm;
use crate::treatment::{Spread, Treatment};

/// What a plan is made from.
#[derive(Debug)]
pub struct PlanRequest<'a> {
    /// The yard, from its yard file.
    pub yard: &'a Yard,
    /// Stock of every tank and of the salt pile, from the ledger.
    pub books: &'a Books,
    /// Published application rates, with the yard's choices.
    pub rates: &'a RateTable,
    /// The forecast, or observations in its place.
    pub weather: &'a WeatherFile,
    /// Start of the plan; its first hour is the whole hour before.
    pub issued: Timestamp,
    /// Length of the plan, 1…240 h.
    pub hours: usize,
    /// Time the plan is made: for today and tomorrow in texts, and for the age of the forecast.
    pub now: Timestamp,
    /// What is known of the roads beside the ledger and the forecast.
    pub seen: Option<&'a RoadsSeen>,
}

/// A storm plan.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Time the plan was made.
    pub now: Timestamp,
    /// Start of the plan, as requested.
    pub issued: Timestamp,
    /// Length of the plan as requested, hours, 1 to 240.
    pub hours_asked: usize,
    /// Start and end of the plan; shorter than requested where the forecast ends.
    pub window: [Timestamp; 2],
    /// Road weather, hour by hour.
    pub hours: Vec<RoadHour>,
    /// What was done to read the forecast, and the terms of use of its source.
    pub notices: Vec<Notice>,
    /// Whether the forecast gives amounts of precipitation at all.
    pub amounts_given: bool,
    /// Precipitation read in the window, as water.
    pub precipitation: Length,
    /// The plan's need if the questionable precipitation is real; none where there is no such precipitation.
    pub suspect: Option<SuspectWater>,
    /// Storms, each with its treatment.
    pub storms: Vec<(Storm, Treatment)>,
    /// What the roads do and ask for.
    pub roads: Arc<Roads>,
    /// Truck loads for pretreating, each with the index of its storm.
    pub loadings: Vec<(usize, Loading)>,
    /// Which demand the plan covers: middle or high.
    pub cover_for: CoverFor,
    /// Share added for flushing and waste.
    pub waste_share: f64,
    /// Brine needed, waste share included, at 60 °F.
    pub brine: Spread<Volume>,
    /// Other liquid needed, waste share included.
    pub other: Spread<Volume>,
    /// Dry salt needed for spreading.
    pub salt: Spread<Mass>,
    /// Needs of each route, in the yard's order, without the waste share.
    pub routes: Vec<RouteNeed>,
    /// Time steps of the bands and of the schedule.
    pub bins: Bins,
    /// Brine drawn, waste share included, m³.
    pub brine_band: Band,
    /// The same by what it is drawn for, in the order of [`crate::demand::Purpose::ALL`].
    pub purpose_bands: [Band; 3],
    /// Brine that the plant makes, as treatments are worked out with it.
    pub brine_made: Brine,
    /// Tanks in use, as estimated from entries and measurements.
    pub tanks: Vec<TankStock>,
    /// Usable brine on hand now.
    pub in_hand: Volume,
    /// Usable other liquid on hand now.
    pub other_in_hand: Volume,
    /// Rock salt on hand.
    pub rock_salt: Mass,
    /// Brine runs, and how the stock goes with them.
    pub schedule: Schedule,
    /// Tanks that each run is pumped into.
    pub tank_uses: Vec<Vec<TankUse>>,
    /// Salt and water for all runs together.
    pub batch: Batch,
    /// Brine made over all runs, at 60 °F.
    pub made: Volume,
    /// What runs short, when and by how much.
    pub shortages: Vec<Shortage>,
    /// Cost of the materials used, US dollars.
    pub costs: Spread<Costs>,
    /// Chloride that goes onto roads.
    pub chloride: Spread<Mass>,
    /// What a person must know before acting on the plan.
    pub cautions: Vec<Caution>,
    /// Largest errors of the plan's own balances; each is below 1e-9.
    pub balance: Balance,
}

/// A plan's need if questionable precipitation is real.
#[derive(Debug, Clone)]
pub struct SuspectWater {
    /// Questionable precipitation in the window, as water.
    pub liquid: Length,
    /// Brine then needed.
    pub brine: Spread<Volume>,
    /// Other liquid then needed.
    pub other: Spread<Volume>,
    /// Dry salt then needed.
    pub salt: Spread<Mass>,
    /// Number of storms then found.
    pub storms: usize,
}

/// Need of one route, without the waste share.
#[derive(Debug, Clone)]
pub struct RouteNeed {
    /// Index of the route in the yard.
    pub route: usize,
    /// Brine for pretreating.
    pub anti_icing: Spread<Volume>,
    /// Brine for prewetting salt.
    pub prewet: Spread<Volume>,
    /// Brine for pretreating and prewetting together.
    pub brine: Spread<Volume>,
    /// Magnesium or calcium chloride liquid.
    pub other: Spread<Volume>,
    /// Dry salt, as delivered.
    pub salt: Spread<Mass>,
    /// Truck loads of brine for pretreating.
    pub loads: usize,
}

/// A tank as the plan sees it.
#[derive(Debug, Clone)]
pub struct TankStock {
    /// Id of the tank in the yard file.
    pub tank: String,
    /// Id of its product in the yard file.
    pub product: String,
    /// Whether it holds brine made here, or is empty and meant for it.
    pub is_brine: bool,
    /// What it holds, most first, when that is not its product alone: then nothing is predicted of it and it is not
    /// counted. Empty when it holds its product alone.
    pub unlike: Vec<Part>,
    /// Volume estimated to be in it, at 60 °F.
    pub volume: Volume,
    /// Half of the 95 % interval of the volume.
    pub volume_within: Volume,
    /// Strength to act on: the estimate, or a worse sample that waits for a second one.
    pub strength: Option<MassFraction>,
    /// Half of the 95 % interval of the strength.
    pub strength_within: Option<MassFraction>,
    /// Measurement that does not fit and waits for a second one.
    pub doubted: Option<Mismatch>,
    /// Time salt or water was added to correct its strength, where no sample was taken since.
    pub corrected_at: Option<Timestamp>,
    /// Whether it was ever counted, by a dip or an inventory adjustment; else its content at the start is unknown.
    pub is_counted: bool,
    /// How its book differs from the estimate.
    pub book_apart: Option<BookApart>,
    /// Brine that a mix amounts to, where every liquid in it is known; none for what is not mixed.
    pub mix: Option<Brine>,
    /// Strength against the spec range; none for other liquids and empty tanks.
    pub conformity: Option<Conformity>,
    /// Usable volume: above the heel, and for brine only in spec.
    pub usable: Volume,
    /// Space left below the freeboard.
    pub room: Volume,
    /// First solid on cooling, of brine and of mixes; none for other liquids and empty tanks.
    pub first_solid: Option<chemistry::freezing::FirstSolid>,
    /// Where a declared liquid freezes as delivered, by its sheet; none where the sheet does not say, for brine, for a
    /// mix and for empty tanks.
    pub sheet_freezing: Option<ThermodynamicTemperature>,
    /// Whether it is in a heated building, where the outside air does not matter.
    pub is_indoors: bool,
}

impl TankStock {
    /// Returns its freeze point: predicted for brine, from the supplier's sheet for a purchased liquid.
    pub fn freezes_at(&self) -> Option<ThermodynamicTemperature> {
        self.first_solid.map(|first| first.temperature).or(self.sheet_freezing)
    }

    /// Whether the coldest air forecast can freeze it; never for a tank indoors.
    pub fn freezes_in(&self, coldest: Option<ThermodynamicTemperature>) -> bool {
        match (self.freezes_at(), coldest) {
            (Some(first), Some(coldest)) => !self.is_indoors && in_celsius(coldest) <= in_celsius(first),
            _ => false,
        }
    }
}

/// Part of a brine run that is pumped into one tank.
#[derive(Debug, Clone, PartialEq)]
pub struct TankUse {
    /// Id of the tank in the yard file.
    pub tank: String,
    /// Volume pumped into it, at 60 °F.
    pub volume: Volume,
}

/// Something that runs short.
#[derive(Debug, Clone, PartialEq)]
pub enum Shortage {
    /// Brine runs short even if the plan is carried out.
    Brine {
        /// Time the stock first falls below the need.
        at: Timestamp,
        /// Largest amount short.
        by: Volume,
        /// What keeps the yard from making it.
        bound_by: Bound,
    },
    /// Magnesium or calcium chloride liquid runs short.
    OtherLiquid {
        /// Amount short at the end.
        by: Volume,
    },
    /// Rock salt runs short, for spreading and making together.
    RockSalt {
        /// Amount short at the end.
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
    /// Returns the cost of brine, other liquid and dry salt together, US dollars.
    pub fn total_usd(&self) -> f64 {
        self.brine_usd + self.other_usd + self.salt_usd
    }
}

/// Largest relative error of each balance.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Balance {
    /// On hand + made − drawn − left, by volume.
    pub volume: f64,
    /// Sodium chloride into batches against that in the brine made.
    pub salt: f64,
    /// Salt, water and moisture in against brine and insolubles out, by mass.
    pub water: f64,
}
