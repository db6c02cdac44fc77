//! The plant, its salt, and the liquids of a yard.

use chemistry::MassFraction;
use quantity::{Mass, ThermodynamicTemperature, Time, VolumeRate};

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
    /// Id of the tank; none for a spec of a product.
    pub tank: Option<String>,
    /// The product, for every tank of it.
    pub product: Option<String>,
    /// Target and band.
    pub spec: Spec,
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
        density: quantity::MassDensity,
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
    /// Magnesium chloride, MgCl2.
    Magnesium,
    /// Calcium chloride, CaCl2.
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

impl Spec {
    /// The band alone.
    pub fn band(&self) -> bench::SpecRange {
        bench::SpecRange { low: self.low, high: self.high }
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
