//! The yard as a person describes it in `yard.toml`: plain data, every quantity typed.

use chemistry::MassFraction;
use chemistry::quantity::{
    Length, Mass, TemperatureInterval, ThermodynamicTemperature, Time, Velocity, Volume, VolumeRate,
};
use chemistry::recipe::RockSalt;

use crate::points::{Machine, Point};
use crate::strapping::TankShape;

/// A whole yard.
#[derive(Debug, Clone)]
pub struct Yard {
    /// What people call it.
    pub name: String,
    /// IANA time zone name, known to be valid. Display only: everything inside is UTC.
    pub time_zone: String,
    /// Units a person sees first.
    pub units: UnitSystem,
    /// Weather station to pick from a file that holds several.
    pub weather_station: Option<String>,
    /// Height above sea level, for air pressure.
    pub elevation: Length,
    /// The plant.
    pub plant: Plant,
    /// Rock salt as delivered.
    pub salt: Salt,
    /// Liquids that can stand in a tank. Always holds one made here.
    pub products: Vec<Product>,
    /// Tanks, in the order of the file.
    pub tanks: Vec<Tank>,
    /// Classes of route.
    pub route_classes: Vec<RouteClass>,
    /// Routes, in the order of the file.
    pub routes: Vec<Route>,
    /// Trucks, in the order of the file.
    pub trucks: Vec<Truck>,
    /// The loading place.
    pub loading: Loading,
    /// When people are there.
    pub crew: Crew,
    /// How the agency treats roads.
    pub policy: Policy,
    /// What a tank can be put right with.
    pub put_right: PutRight,
    /// Instruments of the bench, in the order of the file; never empty.
    pub instruments: Vec<Instrument>,
    /// Targets and bands that are not the plant's, of tanks and products.
    pub specs: Vec<SpecFor>,
    /// The controller's adjustable number.
    pub trim: Trim,
    /// How the bench judges.
    pub bench: Bench,
    /// How people sign at a shared device.
    pub signing: Signing,
    /// How the plant is built, where the file says so.
    pub making: Option<plant::layout::Layout>,
    /// Machines that are read over the network.
    pub machines: Vec<Machine>,
    /// What is read from them.
    pub points: Vec<Point>,
    /// Meters of liquid, in the order of the file.
    pub meters: Vec<Meter>,
    /// Waters that routes drain to.
    pub watersheds: Vec<Watershed>,
    /// Agencies that liquid is issued to.
    pub agencies: Vec<Agency>,
    /// Whom to call, in the order of the file.
    pub contacts: Vec<Contact>,
    /// Chores of this yard: its own, and changes to those that ship.
    pub chores: Vec<ChoreChange>,
    /// What salt must be to be taken.
    pub receiving: Receiving,
    /// How the books are kept.
    pub accounts: Accounts,
    /// Who is told of what, and how.
    pub alerts: Alerts,
}

/// Kinds of alerts, by name.
pub const ALERT_KINDS: [&str; 5] = ["freeze", "cover", "due", "telemetry", "backup"];

/// Who is told of what, and how.
#[derive(Debug, Clone)]
pub struct Alerts {
    /// By mail; none where nobody is written to.
    pub mail: Option<Mail>,
    /// Address that every alert is posted to; none where there is none.
    pub webhook: Option<String>,
    /// Hours of the day in which only what wakes is told, from (inclusive) and to (exclusive).
    pub quiet: Option<(i8, i8)>,
    /// Kinds that are told in quiet hours too.
    pub wake: Vec<String>,
    /// An alert that nobody has seen is told again after so long.
    pub again: Time,
    /// A backup older than this is late.
    pub backup_late: Time,
}

/// How mail goes out.
#[derive(Debug, Clone)]
pub struct Mail {
    /// To whom.
    pub to: Vec<String>,
    /// From whom.
    pub from: String,
    /// The server's name.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the connection is encrypted.
    pub security: MailSecurity,
    /// Name there; none where none is asked.
    pub user: Option<String>,
    /// File that holds the password.
    pub password_file: Option<String>,
}

/// How a connection to a mail server is encrypted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MailSecurity {
    /// After a greeting in the clear; refused where the server cannot.
    StartTls,
    /// From the first byte on.
    Tls,
    /// Not at all: a server on this machine.
    None,
}

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

/// An agency that liquid is issued to.
#[derive(Debug, Clone)]
pub struct Agency {
    /// What people call it; also its name in the ledger.
    pub name: String,
    /// Price, US dollars per m³ at 60 °F.
    pub usd_per_m3: f64,
    /// Where the bill goes.
    pub bill_to: Option<String>,
}

/// Someone to call.
#[derive(Debug, Clone)]
pub struct Contact {
    /// Who.
    pub name: String,
    /// Telephone number.
    pub phone: String,
    /// What for.
    pub why: String,
}

/// A yard's word on a chore: a new one, or what is different about one that ships.
#[derive(Debug, Clone)]
pub struct ChoreChange {
    /// Id of the chore.
    pub id: String,
    /// Not done here.
    pub off: bool,
    /// What is to be done.
    pub task: Option<String>,
    /// Who does it.
    pub who: Option<String>,
    /// Longest time from one to the next.
    pub every: Option<Time>,
    /// Making hours from one to the next.
    pub every_making: Option<Time>,
    /// Brine made from one to the next.
    pub every_made: Option<Volume>,
}

/// What salt must be to be taken, and what is taken off its price.
#[derive(Debug, Clone, Copy)]
pub struct Receiving {
    /// Moisture up to which nothing is taken off.
    pub accept_to: MassFraction,
    /// Taken off the price above that, as a share.
    pub deduction: f64,
    /// Moisture from which more is taken off.
    pub more_from: MassFraction,
    /// Taken off for every tenth of a per cent above that, as a share of the price.
    pub more_per_tenth: f64,
    /// Moisture above which it is sent back.
    pub reject_above: MassFraction,
    /// One sample for each such mass of an order, or part of it.
    pub sample_each: Mass,
    /// Increments of a sample.
    pub increments: f64,
}

/// How the books are kept.
#[derive(Debug, Clone)]
pub struct Accounts {
    /// Dry salt that would have gone on a lane length without brine, kg/m, per treatment; none where nobody has said.
    pub baseline_kg_per_m: Option<f64>,
    /// Where that figure comes from.
    pub baseline_source: Option<String>,
    /// A person's hour, US dollars.
    pub crew_usd_per_h: f64,
    /// A truck's hour, US dollars.
    pub truck_usd_per_h: f64,
    /// An hour of the plant: power and wear, US dollars.
    pub plant_usd_per_h: f64,
    /// Chloride in water above which life is harmed over days, mg/L.
    pub chronic_mg_l: f64,
    /// Chloride in water above which life is harmed at once, mg/L.
    pub acute_mg_l: f64,
}

/// How the bench judges.
#[derive(Debug, Clone, Copy)]
pub struct Bench {
    /// Chance of a wrong verdict that is accepted, 0…0.3.
    pub risk: f64,
    /// How far off the thermometer of a sample may be, either way.
    pub thermometer: TemperatureInterval,
}

/// A target with its band.
#[derive(Debug, Clone)]
pub struct Spec {
    /// Strength it should have.
    pub target: MassFraction,
    /// Weakest in spec.
    pub low: MassFraction,
    /// Strongest in spec.
    pub high: MassFraction,
    /// Why, where the yard says so.
    pub reason: Option<String>,
}

/// Whose spec it is: a tank's, or a product's.
#[derive(Debug, Clone)]
pub struct SpecFor {
    /// The tank.
    pub tank: Option<String>,
    /// The product, for every tank of it.
    pub product: Option<String>,
    /// The spec.
    pub spec: Spec,
}

/// The one adjustable number of the plant's controller, and its panel.
#[derive(Debug, Clone)]
pub struct Trim {
    /// What it is called on the controller.
    pub name: String,
    /// Largest step advised, as a share of the number.
    pub largest_step: f64,
    /// Smallest step the controller takes, in units of the number.
    pub smallest_step: f64,
    /// From setting it until the strength has moved by two thirds.
    pub lag: Time,
    /// Standard uncertainty of the panel from look to look, per cent by mass.
    pub panel_uncertainty_percent: f64,
}

/// How people sign at a shared device.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Signing {
    /// When the PIN is asked.
    pub pin: PinHolds,
    /// How long it holds at most.
    pub shift: Time,
}

/// How long a PIN holds on a device.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PinHolds {
    /// For one entry.
    Entry,
    /// For the guided run that goes on.
    Run,
    /// For a shift.
    Shift,
}

/// Units shown first on pages and in text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitSystem {
    /// Gallons, pounds, °F, miles.
    Us,
    /// Litres, kilograms, °C, kilometres.
    Si,
}

/// The brine plant.
#[derive(Debug, Clone)]
pub struct Plant {
    /// Id of the product it makes.
    pub product: String,
    /// Brine made per hour with water at `rated_water_temperature`.
    pub making_rate: VolumeRate,
    /// Water temperature at which `making_rate` holds.
    pub rated_water_temperature: ThermodynamicTemperature,
    /// Share of the rate lost per kelvin that the water is colder than rated, 1/K. A yard's own figure.
    pub rate_loss_per_kelvin: f64,
    /// Water temperature now.
    pub water_temperature: ThermodynamicTemperature,
    /// Most water the supply gives.
    pub water_rate: VolumeRate,
    /// From switching on to the first brine.
    pub start_up: Time,
    /// From the last brine to brine that may be loaded: settling and testing.
    pub settle_and_test: Time,
    /// Strength to make.
    pub target_strength: MassFraction,
    /// Weakest strength in spec.
    pub spec_low: MassFraction,
    /// Strongest strength in spec.
    pub spec_high: MassFraction,
    /// Price of water per cubic metre, US dollars.
    pub water_usd_per_m3: f64,
}

/// Rock salt as delivered to this yard.
#[derive(Debug, Clone)]
pub struct Salt {
    /// Sodium chloride in the dry salt.
    pub purity: MassFraction,
    /// Water in the salt as delivered.
    pub moisture: MassFraction,
    /// On hand when no ledger is given, as delivered.
    pub opening: Mass,
    /// Price per short ton as delivered, US dollars.
    pub usd_per_short_ton: f64,
}

/// What a liquid is, chemically.
#[derive(Debug, Clone)]
pub enum ProductKind {
    /// Sodium chloride brine: predicted.
    SodiumChlorideBrine,
    /// A bought liquid known by what its supplier's sheet says: stocked, counted and costed, not predicted.
    Declared {
        /// Chloride that does the work.
        base: LiquidBase,
        /// Density at `density_temperature`.
        density: chemistry::quantity::MassDensity,
        /// Temperature of that density.
        density_temperature: ThermodynamicTemperature,
        /// Chloride (Cl) by mass of liquid.
        chloride: MassFraction,
        /// Where the figures come from.
        source: String,
        /// Where it freezes by the same sheet, weakest first; may be empty.
        freezing: Vec<FreezingRow>,
    },
}

/// A row of a declared liquid's freezing table.
#[derive(Debug, Clone, Copy)]
pub struct FreezingRow {
    /// The product as delivered, per cent by volume; the rest is water. 100 is as delivered.
    pub share_pct: f64,
    /// Where that freezes, by the sheet.
    pub temperature: ThermodynamicTemperature,
}

/// How near two shares of a freezing table are one: per cent by volume.
pub(crate) const SAME_SHARE_PCT: f64 = 1e-6;

/// Chloride that does the work in a declared liquid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LiquidBase {
    /// Magnesium chloride.
    Magnesium,
    /// Calcium chloride.
    Calcium,
    /// Something else, or not said: never used where a rate asks for one of the two.
    Other,
}

impl ProductKind {
    /// The salt that does the work in a declared liquid, and how much of it the liquid holds by its chloride; none for
    /// brine, and where the sheet does not say.
    pub fn salt(&self) -> Option<(chemistry::Salt, MassFraction)> {
        let ProductKind::Declared { base, chloride, .. } = self else { return None };
        let salt = match base {
            LiquidBase::Magnesium => chemistry::Salt::MagnesiumChloride,
            LiquidBase::Calcium => chemistry::Salt::CalciumChloride,
            LiquidBase::Other => return None,
        };
        let share = chloride.fraction() / salt.chloride_fraction().fraction();
        Some((salt, MassFraction::from_fraction(share).ok()?))
    }

    /// Whether it serves where a published rate asks for magnesium or calcium chloride.
    pub fn is_magnesium_or_calcium(&self) -> bool {
        matches!(self, ProductKind::Declared { base: LiquidBase::Magnesium | LiquidBase::Calcium, .. })
    }

    /// Where a declared liquid freezes as delivered, if its table says so: never read from between or beyond the rows,
    /// since between two rows the curve may turn. None for brine, which is predicted.
    pub fn freezing_as_delivered(&self) -> Option<ThermodynamicTemperature> {
        let ProductKind::Declared { freezing, .. } = self else { return None };
        let row = freezing.iter().find(|row| (row.share_pct - 100.0).abs() < SAME_SHARE_PCT)?;
        Some(row.temperature)
    }

    /// Where the figures of a declared liquid come from.
    pub fn source(&self) -> Option<&str> {
        match self {
            ProductKind::SodiumChlorideBrine => None,
            ProductKind::Declared { source, .. } => Some(source),
        }
    }
}

/// A liquid that can stand in a tank.
#[derive(Debug, Clone)]
pub struct Product {
    /// Id used in the file and the ledger.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// What it is.
    pub kind: ProductKind,
    /// Price when bought, US dollars per cubic metre; brine made here is costed from salt and water instead.
    pub usd_per_m3: f64,
}

/// A tank.
#[derive(Debug, Clone)]
pub struct Tank {
    /// Short id, as painted on the tank.
    pub id: String,
    /// Id of the product that belongs in it.
    pub product: String,
    /// Inside shape.
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
    /// Outdoors, bare.
    None,
    /// Outdoors, insulated.
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
}

/// A route.
#[derive(Debug, Clone)]
pub struct Route {
    /// Id.
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
    /// Id.
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

/// When people are there.
#[derive(Debug, Clone)]
pub struct Crew {
    /// Hours of the local day at which a making run may go on: first (inclusive) to last (exclusive); 0 to 24 is
    /// round the clock. A start later than the end runs over midnight.
    pub making_from_hour: i8,
    /// See `making_from_hour`.
    pub making_to_hour: i8,
    /// Hours of the local day at which crews may spray ahead of a storm, same rule.
    pub spraying_from_hour: i8,
    /// See `spraying_from_hour`.
    pub spraying_to_hour: i8,
}

/// Which demand a plan must cover.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoverFor {
    /// The middle case.
    Mid,
    /// The high case.
    High,
}

/// How the agency treats roads.
#[derive(Debug, Clone)]
pub struct Policy {
    /// Latest end of spraying before a storm starts.
    pub lead_min: Time,
    /// Earliest start of spraying before a storm starts.
    pub lead_max: Time,
    /// Share added to every gallon for flushing and waste.
    pub waste_share: f64,
    /// Which demand a plan must cover.
    pub cover_for: CoverFor,
    /// Pavement colder than this: no plain salt brine.
    pub block_below: ThermodynamicTemperature,
    /// Pavement colder than this: warn.
    pub warn_below: ThermodynamicTemperature,
    /// Wind above this on cold dry pavement: warn.
    pub warn_wind: Velocity,
    /// Pavement may be this much colder than the air where no pavement temperature is given.
    pub pavement_colder: TemperatureInterval,
    /// Pavement may be this much warmer than the air where no pavement temperature is given.
    pub pavement_warmer: TemperatureInterval,
    /// Ids of rate rows switched on or off by this yard, over the shipped default.
    pub rates_on: Vec<String>,
    /// See `rates_on`.
    pub rates_off: Vec<String>,
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

impl Yard {
    /// A truck by id.
    pub fn truck(&self, id: &str) -> Option<&Truck> {
        self.trucks.iter().find(|truck| truck.id == id)
    }

    /// A route by id.
    pub fn route(&self, id: &str) -> Option<&Route> {
        self.routes.iter().find(|route| route.id == id)
    }

    /// A meter by id.
    pub fn meter(&self, id: &str) -> Option<&Meter> {
        self.meters.iter().find(|meter| meter.id == id)
    }

    /// The meter of the loading place, where there is just one.
    pub fn loading_meter(&self) -> Option<&Meter> {
        let mut all = self.meters.iter().filter(|meter| meter.on == Metered::Loading);
        all.next().filter(|_| all.next().is_none())
    }

    /// The tanks in use: all but the retired ones.
    pub fn tanks_in_use(&self) -> impl Iterator<Item = &Tank> {
        self.tanks.iter().filter(|tank| !tank.is_retired)
    }

    /// An agency by its name.
    pub fn agency(&self, name: &str) -> Option<&Agency> {
        self.agencies.iter().find(|agency| agency.name == name)
    }

    /// An instrument by id.
    pub fn instrument(&self, id: &str) -> Option<&Instrument> {
        self.instruments.iter().find(|one| one.id == id)
    }

    /// What a tank's brine should be: its own spec, else its product's, else the plant's.
    pub fn spec(&self, tank: &str) -> Spec {
        let product = self.tank(tank).map(|tank| tank.product.as_str());
        let of_tank = self.specs.iter().find(|one| one.tank.as_deref() == Some(tank));
        let of_product =
            || self.specs.iter().find(|one| one.product.is_some() && one.product.as_deref() == product);
        of_tank.or_else(of_product).map_or_else(|| self.made_spec(), |one| one.spec.clone())
    }

    /// What the plant makes should be: the spec of its product, else the plant's own figures.
    pub fn made_spec(&self) -> Spec {
        let made = Some(self.plant.product.as_str());
        let of_product = self.specs.iter().find(|one| one.tank.is_none() && one.product.as_deref() == made);
        of_product.map_or_else(
            || Spec {
                target: self.plant.target_strength,
                low: self.plant.spec_low,
                high: self.plant.spec_high,
                reason: None,
            },
            |one| one.spec.clone(),
        )
    }
}

impl Spec {
    /// The band alone.
    pub fn band(&self) -> bench::SpecBand {
        bench::SpecBand { low: self.low, high: self.high }
    }
}

/// What a tank can be put right with.
#[derive(Debug, Clone)]
pub struct PutRight {
    /// Rock salt as delivered in one bucket of the loader.
    pub bucket: Option<Mass>,
    /// Pump that circulates a tank.
    pub circulation_rate: Option<VolumeRate>,
    /// Tank volumes to pump round before sampling again.
    pub turnovers: f64,
    /// Pump from tank to tank.
    pub transfer_rate: Option<VolumeRate>,
}

impl Yard {
    /// A tank by id.
    pub fn tank(&self, id: &str) -> Option<&Tank> {
        self.tanks.iter().find(|tank| tank.id == id)
    }

    /// A product by id.
    pub fn product(&self, id: &str) -> Option<&Product> {
        self.products.iter().find(|product| product.id == id)
    }

    /// The yard's rock salt.
    pub fn rock_salt(&self) -> RockSalt {
        RockSalt { purity: self.salt.purity, moisture: self.salt.moisture }
    }
}
