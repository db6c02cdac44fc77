//! Tanks, meters, instruments, trucks and routes.

use crate::strapping::TankShape;
use chemistry::MassFraction;
use quantity::{Length, Mass, Time, Velocity, Volume, VolumeRate};
use road::section::Section;

/// What a meter counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Metered {
    /// Liquid loaded on trucks.
    Loading,
    /// Water into the plant.
    Water,
    /// Brine out of the plant.
    Making,
}

/// A meter of liquid.
#[derive(Debug, Clone)]
pub struct Meter {
    /// Id used in the file and the ledger.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// What it counts.
    pub on: Metered,
    /// Where its total begins again at nought.
    pub rolls_over_at: Option<Volume>,
    /// True volume over volume shown, as set at the meter or found last.
    pub factor: f64,
    /// Standard uncertainty of that factor, as a share.
    pub factor_uncertainty: f64,
}

/// A water that routes drain to.
#[derive(Debug, Clone)]
pub struct Watershed {
    /// Id used in the file.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Water that runs off it from the first to the last day of a season; none where nobody has said.
    pub runoff: Option<Volume>,
    /// Chloride its water carries without the yard, mg/L.
    pub background_mg_l: f64,
}

/// A tank of the yard.
#[derive(Debug, Clone)]
pub struct Tank {
    /// Short id, as painted on the tank.
    pub id: String,
    /// Id of the product that belongs in it.
    pub product: String,
    /// Inside shape, from which depth gives volume.
    pub shape: TankShape,
    /// How well it is insulated.
    pub insulation: Insulation,
    /// Volume that cannot be drawn: below the suction, and sludge.
    pub heel: Volume,
    /// Volume kept empty at the top.
    pub freeboard: Volume,
    /// Out of use: offered and planned with no more; the books keep what it held.
    pub is_retired: bool,
    /// Content when no ledger is given.
    pub opening: Option<Opening>,
}

impl Tank {
    /// The most it should hold: full volume less freeboard.
    pub fn working_capacity(&self) -> Volume {
        self.shape.full_volume() - self.freeboard
    }
}

/// Content of a tank when no ledger is given.
#[derive(Debug, Clone, Copy)]
pub struct Opening {
    /// Volume at 60 °F.
    pub volume: Volume,
    /// Strength, for brine.
    pub strength: Option<MassFraction>,
}

/// How a tank follows the weather.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Insulation {
    /// Outdoors, without insulation: it follows the air.
    None,
    /// Outdoors with insulation: it follows the air slowly.
    Insulated,
    /// In a heated building.
    Indoors,
}

/// A class of route: what service it gets.
#[derive(Debug, Clone)]
pub struct RouteClass {
    /// Id used by routes.
    pub id: String,
    /// Whether it is sprayed ahead of storms.
    pub anti_icing: bool,
    /// Time between passes in a storm.
    pub cycle: Time,
    /// Its roads as physics sees them.
    pub section: Section,
    /// Whether there are bridges on its routes.
    pub has_bridges: bool,
}

/// A stretch of a route that is unlike its class: shaded, a bridge, another surface.
#[derive(Debug, Clone)]
pub struct Segment {
    /// Id used in the file and the ledger.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Id of its route.
    pub route: String,
    /// Whether it is a bridge deck.
    pub is_bridge: bool,
    /// The stretch as physics sees it.
    pub section: Section,
}

/// A route: road that is treated together, in one class of service.
#[derive(Debug, Clone)]
pub struct Route {
    /// Id used in the file and the ledger.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Id of its class.
    pub class: String,
    /// Length of road, centre line.
    pub length: Length,
    /// Lanes treated, both directions together.
    pub lanes: f64,
    /// Length times lanes, or as given.
    pub lane_length: Length,
    /// Id of the truck that works it, or any.
    pub truck: Option<String>,
    /// Drive from the yard to its start.
    pub drive: Time,
    /// Id of the watershed it drains to.
    pub watershed: Option<String>,
}

/// A truck that carries liquid.
#[derive(Debug, Clone)]
pub struct Truck {
    /// Id used in the file and the ledger.
    pub id: String,
    /// Volume of its liquid tank.
    pub tank: Volume,
    /// Most the tank's content may weigh, from the truck's own limits.
    pub liquid_limit: Option<Mass>,
    /// Speed while spraying.
    pub spray_speed: Velocity,
    /// Most its sprayer pump gives.
    pub pump_rate: Option<VolumeRate>,
    /// Most the whole truck may weigh by its own papers, loaded.
    pub gross_limit: Option<Mass>,
    /// Centre of the liquid tank, behind the first axle.
    pub liquid_at: Option<Length>,
    /// Centre of the hopper, behind the first axle.
    pub hopper_at: Option<Length>,
    /// Its axles, first to last; empty where nobody has said.
    pub axles: Vec<Axle>,
}

/// An axle of a truck.
#[derive(Debug, Clone, Copy)]
pub struct Axle {
    /// Behind the first axle.
    pub at: Length,
    /// What it carries with the truck empty: driver and fuel on board, tanks and hopper empty.
    pub empty: Mass,
    /// Most it may carry by the maker's plate or a local rule.
    pub limit: Option<Mass>,
}

/// The loading place.
#[derive(Debug, Clone)]
pub struct Loading {
    /// Rate of the loading pump.
    pub pump_rate: VolumeRate,
    /// Trucks that can load at once.
    pub places: usize,
    /// Hook-up, paperwork and leaving, per truck.
    pub hook_up: Time,
}

/// An instrument of the bench.
#[derive(Debug, Clone)]
pub struct Instrument {
    /// Id used in the file and the ledger.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Name of its scale, one of [`bench::register::NAMES`].
    pub scale: String,
    /// How it is read, and how well.
    pub card: bench::measure::Instrument,
    /// What it shows too much by its certificate, in the unit of its scale.
    pub offset: f64,
    /// Longest time from one check to the next.
    pub check_every: Time,
}
