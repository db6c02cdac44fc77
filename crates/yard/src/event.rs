//! What can happen in a yard, as the ledger keeps it: append-only, versioned, SI inside, units in every field's name.
//!
//! An event is never changed. A mistake is voided by a later event that says why. The text written once is the text
//! hashed and kept; reading an old version forward is this module's work alone.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// Version written today.
pub const EVENT_VERSION: u32 = 1;

/// Identity of an event, made by whoever enters it, before it is sent: sending twice records once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct EventId(pub Uuid);

impl std::fmt::Display for EventId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

impl std::str::FromStr for EventId {
    type Err = uuid::Error;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Uuid::parse_str(text.trim()).map(EventId)
    }
}

/// Something that happened, as entered.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// Identity.
    pub id: EventId,
    /// When it happened.
    pub occurred_at: Timestamp,
    /// Who says so.
    pub author: String,
    /// On which device it was entered.
    pub device: String,
    /// What.
    pub body: Body,
}

/// An event in the ledger.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// Place in the ledger, from 1 without holes.
    pub seq: u64,
    /// When the ledger took it.
    pub recorded_at: Timestamp,
    /// The event.
    pub event: Event,
}

/// Where a sample may come from: levels of a tank, or the plant's tap.
pub const LEVELS: [&str; 5] = ["outlet", "middle", "top", "bottom", PLANT_TAP];
/// The plant's tap: a sample of it is of no tank.
pub const PLANT_TAP: &str = "plant_tap";
/// What a sample may come after, beside the usual round.
pub const OCCASIONS: [&str; 3] = ["usual", "after_rain", "after_fill"];

/// What an instrument is checked in.
pub const AGAINST: [&str; 2] = ["water", "brine"];
/// How a step of a guided run can be answered.
pub const STEP_ANSWERS: [&str; 4] = ["done", "seen", "not_seen", "entered"];
/// How a guided run can end.
pub const RUN_ENDS: [&str; 2] = ["finished", "broken_off"];
/// How an amount of liquid was found. A counted one is taken from marks on the truck's tank.
pub const HOW_FOUND: [&str; 4] = ["meter", "weight", "dip", "marks"];
/// How the volume of a batch was found: by the meter of the brine, by that of the water, by dips, by hours times rate,
/// or typed.
pub const BATCH_FOUND: [&str; 5] = ["making_meter", "water_meter", "dips", "hours", "typed"];
/// What a total entered in a guided run counts.
pub const TOTALS_OF: [&str; 2] = ["water", "making"];
/// How a road was treated.
pub const TREATED: [&str; 3] = ["liquid", "pre_wet", "dry"];
/// What a water sample stands for.
pub const SAMPLED: [&str; 2] = ["grab", "four_days"];
/// What a bucket of rock salt went to.
pub const BUCKETS_TO: [&str; 3] = ["plant", "trucks", "elsewhere"];
/// Whether an instrument was zeroed or set right after a check.
pub const ADJUSTED: [&str; 2] = ["no", "yes"];

/// Fields that hold several figures, as typed, in one unit.
pub const LISTS: [&str; 2] = ["caught_ml", "caught_kg"];

macro_rules! bodies {
    ($($(#[$doc:meta])* $variant:ident = $kind:literal { $($(#[$fdoc:meta])* $field:ident : $ty:ty),* $(,)? })*) => {
        /// What happened. Volumes are stated at `temp_c`, or at 60 °F where that is absent.
        #[derive(Debug, Clone, PartialEq)]
        #[allow(missing_docs, reason = "the fields are documented on the structs of the same names")]
        pub enum Body { $($(#[$doc])* $variant($variant)),* }

        $(
            $(#[$doc])*
            #[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
            #[serde(deny_unknown_fields)]
            pub struct $variant { $(
                $(#[$fdoc])*
                #[serde(skip_serializing_if = "Absent::is_absent")]
                pub $field: $ty
            ),* }
        )*

        /// Every kind with the names of its fields, for entry, help and suggestions.
        pub const KINDS: &[(&str, &[&str])] = &[$(($kind, &[$(stringify!($field)),*])),*];

        impl Body {
            /// The kind, as written in the ledger and in commands.
            pub fn kind(&self) -> &'static str {
                match self { $(Body::$variant(_) => $kind),* }
            }

            /// The body as the ledger keeps it.
            ///
            /// # Errors
            /// When a number is not finite.
            pub fn to_json(&self) -> Result<String, serde_json::Error> {
                match self { $(Body::$variant(body) => serde_json::to_string(body)),* }
            }

            /// Reads a body of a kind and version.
            ///
            /// # Errors
            /// [`BodyError`] when the kind or version is unknown, or the text is not such a body.
            pub fn from_json(kind: &str, version: u32, text: &str) -> Result<Self, BodyError> {
                if version == 0 || EVENT_VERSION < version {
                    return Err(BodyError::Version { version });
                }
                match kind {
                    $($kind => serde_json::from_str(text).map(Body::$variant).map_err(|e| BodyError::Text {
                        kind: $kind, reason: e.to_string(),
                    }),)*
                    other => Err(BodyError::Kind { kind: other.to_string() }),
                }
            }
        }
    };
}

/// Whether a field is left out of the ledger's text because nothing was said.
trait Absent {
    fn is_absent(&self) -> bool;
}
impl<T> Absent for Option<T> {
    fn is_absent(&self) -> bool {
        self.is_none()
    }
}
impl Absent for String {
    fn is_absent(&self) -> bool {
        false
    }
}
impl Absent for f64 {
    fn is_absent(&self) -> bool {
        false
    }
}

/// Why a stored body cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BodyError {
    /// Not a kind this program knows.
    #[error("event kind \"{kind}\" is not known")]
    Kind {
        /// The kind.
        kind: String,
    },
    /// Written by a newer program.
    #[error("event version {version} is newer than this program reads (1); update the program")]
    Version {
        /// The version.
        version: u32,
    },
    /// The text does not fit the kind.
    #[error("{kind} event: {reason}")]
    Text {
        /// The kind.
        kind: &'static str,
        /// What is wrong.
        reason: String,
    },
}

/// What a jar test can end with. Clear: nothing seen. Crystals, sludge or gel: something came out. Layers: they do not
/// mix.
pub const JAR_RESULTS: &[&str] = &["clear", "crystals", "sludge", "layers", "gel"];

bodies! {
    /// Rock salt received.
    SaltDelivery = "salt_delivery" {
        /// Mass as delivered, kg.
        mass_kg: f64,
        /// Supplier's ticket.
        ticket: Option<String>,
        /// Moisture found, % by mass.
        moisture_pct: Option<f64>,
        /// Price of the delivery, US dollars.
        price_usd: Option<f64>,
        /// Who delivered it.
        supplier: Option<String>,
        /// Order it belongs to, for counting samples.
        order: Option<String>,
        /// Samples taken of it.
        samples_number: Option<f64>,
    }
    /// Bought liquid received into a tank.
    LiquidDelivery = "liquid_delivery" {
        /// Tank.
        tank: String,
        /// Volume, m³.
        volume_m3: f64,
        /// Temperature of that volume, °C.
        temp_c: Option<f64>,
        /// Strength, % by mass, for salt brine.
        strength_pct: Option<f64>,
        /// Id of the product delivered; absent: the tank's.
        product: Option<String>,
        /// Supplier's ticket.
        ticket: Option<String>,
        /// Price of the delivery, US dollars.
        price_usd: Option<f64>,
    }
    /// One continuous stretch of making brine.
    MakingRun = "making_run" {
        /// Tank it went to.
        tank: String,
        /// Volume made, m³.
        volume_m3: f64,
        /// Temperature of that volume, °C.
        temp_c: Option<f64>,
        /// Strength found, % by mass.
        strength_pct: f64,
        /// Rock salt used as delivered, kg; absent: worked out from the yard's purity and moisture.
        salt_kg: Option<f64>,
        /// Water used, m³.
        water_m3: Option<f64>,
        /// Length of the run, h.
        duration_h: Option<f64>,
        /// Id of the guided run's start, where there was one.
        run: Option<String>,
        /// How the volume was found, one of [`BATCH_FOUND`].
        how: Option<String>,
        /// 95 % interval of the volume, ± % of it.
        volume_uncertainty_pct: Option<f64>,
    }
    /// A measured strength. Evidence: it does not change the book.
    Reading = "reading" {
        /// Tank; absent: the plant's tap, which [`Reading::level`] says too.
        tank: Option<String>,
        /// Strength found, % by mass, after the instrument's corrections.
        strength_pct: f64,
        /// 95 % interval, ± % by mass.
        uncertainty_pct: Option<f64>,
        /// Temperature of the sample, °C.
        temp_c: Option<f64>,
        /// Instrument.
        instrument: Option<String>,
        /// Where from, one of [`LEVELS`].
        level: Option<String>,
        /// When it was taken, one of [`OCCASIONS`].
        occasion: Option<String>,
        /// What the instrument showed, in the unit of its scale, as typed.
        shown: Option<String>,
        /// The scale it was read on, one of `bench::register::NAMES`.
        scale: Option<String>,
        /// Why it is to be doubted, where it is.
        doubt: Option<String>,
        /// Id of the first reading of the same sample, where several instruments were read in it.
        sample: Option<String>,
    }
    /// The controller's panel and a sample at the bench, looked at side by side. Evidence: it trims nothing by itself.
    PanelCheck = "panel_check" {
        /// Number on the controller.
        trim_number: f64,
        /// Strength on the panel, % by mass.
        panel_pct: f64,
        /// Strength at the bench, % by mass.
        bench_pct: f64,
        /// Its 95 % interval, ± % by mass.
        uncertainty_pct: f64,
        /// Instrument of the bench.
        instrument: Option<String>,
        /// Id of the reading it was taken from.
        reading: Option<String>,
    }
    /// A person set the controller's number.
    TrimSet = "trim_set" {
        /// Number before.
        from_number: f64,
        /// Number after.
        to_number: f64,
        /// Number that was advised, where one was.
        advised_number: Option<f64>,
        /// Why, where it differs from the advice.
        reason: Option<String>,
    }
    /// An instrument read in water, or in brine of known strength. Evidence.
    InstrumentCheck = "instrument_check" {
        /// Instrument.
        instrument: String,
        /// What it was read in, one of [`AGAINST`].
        against: String,
        /// What it should show, in the unit of its scale.
        expected_reading: f64,
        /// What it showed.
        shown_reading: f64,
        /// Temperature of the sample, °C.
        temp_c: Option<f64>,
        /// yes: it was zeroed or set right afterwards; one of [`ADJUSTED`].
        adjusted: String,
    }
    /// The water of the plant comes from elsewhere, or is treated otherwise, from here on.
    WaterChange = "water_change" {
        /// What changed.
        what: String,
    }
    /// A guided run begins.
    RunStart = "run_start" {
        /// Title of the procedure it follows.
        procedure: String,
        /// Tank it is meant for.
        tank: Option<String>,
    }
    /// A step of a guided run, answered.
    RunStep = "run_step" {
        /// Id of the run's start.
        run: String,
        /// Id of the step.
        step: String,
        /// One of [`STEP_ANSWERS`].
        answer: String,
        /// Figure entered.
        value_reading: Option<f64>,
        /// Anything else.
        remark: Option<String>,
        /// Where the figure is a total of a meter of the plant: what it counts, one of [`TOTALS_OF`].
        total_of: Option<String>,
        /// That total, m³.
        total_m3: Option<f64>,
        /// Why a supervisor lets the run go on without the evidence that the step needs.
        override_reason: Option<String>,
    }
    /// A guided run ends.
    RunEnd = "run_end" {
        /// Id of the run's start.
        run: String,
        /// One of [`RUN_ENDS`].
        how: String,
        /// Why, where it was broken off.
        reason: Option<String>,
    }
    /// What a run has shown of the plant: factors on what its layout says, and standard deviations of their logarithms,
    /// with all earlier runs.
    PlantFit = "plant_fit" {
        /// Id of the run's start.
        run: String,
        /// On the surface of the salt that is reached.
        reached_number: f64,
        /// Its spread.
        reached_spread_number: f64,
        /// On what the feeder drops.
        feed_number: f64,
        /// Its spread.
        feed_spread_number: f64,
        /// On what the supply gives.
        water_number: f64,
        /// Its spread.
        water_spread_number: f64,
        /// Looks it rests on.
        looks_number: f64,
    }
    /// An exercise on the practice plant has ended; its author is who practised. Kept in a ledger of its own.
    PracticeRun = "practice_run" {
        /// Id of the exercise.
        exercise: String,
        /// Its title.
        title: String,
        /// Length in the plant's time, h.
        length_h: f64,
        /// When the panel first came into its band, h.
        in_band_h: Option<f64>,
        /// Things that broke.
        broke_number: f64,
        /// Of these, noticed.
        noticed_number: f64,
        /// Pumps ruined.
        ruined_number: f64,
        /// Dangerous things tried.
        dangerous_number: f64,
        /// Brine let out, kg.
        made_kg: f64,
        /// Of it, above the band, kg.
        over_kg: f64,
        /// Run over a brim, kg.
        spilt_kg: f64,
        /// Salt used, kg as delivered.
        used_salt_kg: f64,
        /// Longest that a pump ran dry, h.
        dry_h: f64,
        /// In the run it is compared with: when the panel came into its band, h.
        other_in_band_h: Option<f64>,
        /// In the run it is compared with: brine let out, kg.
        other_made_kg: f64,
        /// In the run it is compared with: salt used, kg as delivered.
        other_used_salt_kg: f64,
        /// What broke, when it was noticed and when put right, a line each.
        breakages: String,
        /// What happened when, a line each.
        timeline: String,
    }
    /// The first making of a season.
    SeasonStart = "season_start" {
        /// Which season.
        season: String,
    }
    /// A check that was due, seen to by a person.
    CheckSeen = "check_seen" {
        /// Key of what was due.
        check: String,
        /// What was done about it.
        done: String,
    }
    /// A measured depth. Evidence: it does not change the book.
    Dip = "dip" {
        /// Tank.
        tank: String,
        /// Depth from the lowest inside point, m.
        depth_m: f64,
        /// Temperature of the content, °C.
        temp_c: Option<f64>,
    }
    /// Two liquids mixed in a jar and kept cold, to see what a mix does. Evidence: it does not change the book.
    JarTest = "jar_test" {
        /// First liquid: id of a product, or in words.
        liquid_a: String,
        /// Second liquid, likewise.
        liquid_b: String,
        /// The first in the mix, % by volume.
        share_a_pct: f64,
        /// Kept at, °C.
        temp_c: f64,
        /// Kept for, h.
        duration_h: f64,
        /// What was seen, one of [`JAR_RESULTS`].
        result: String,
        /// Anything else seen.
        remark: Option<String>,
        /// Tank the mix is meant for.
        tank: Option<String>,
    }
    /// From one tank to another.
    Transfer = "transfer" {
        /// From.
        from_tank: String,
        /// To.
        to_tank: String,
        /// Volume, m³.
        volume_m3: f64,
        /// Temperature of that volume, °C.
        temp_c: Option<f64>,
    }
    /// Water or salt put into a tank to change its strength.
    Correction = "correction" {
        /// Tank.
        tank: String,
        /// Water added, m³.
        water_m3: Option<f64>,
        /// Rock salt added as delivered, kg.
        salt_kg: Option<f64>,
    }
    /// A truck takes liquid.
    LoadOut = "load_out" {
        /// Tank.
        tank: String,
        /// Truck.
        truck: String,
        /// Route it is meant for.
        route: Option<String>,
        /// Volume, m³.
        volume_m3: f64,
        /// Temperature of that volume, °C.
        temp_c: Option<f64>,
        /// How the volume was found, one of [`HOW_FOUND`].
        how: Option<String>,
        /// Number of a paper ticket, where one was written.
        ticket: Option<String>,
        /// Mass of the liquid by the scale, kg: the truck after less the truck before.
        weighed_kg: Option<f64>,
        /// Volume by the loading meter, as shown, m³.
        metered_m3: Option<f64>,
        /// The meter; absent: the yard's only one at the loading place.
        meter: Option<String>,
        /// Volume that was planned for this load, m³.
        planned_m3: Option<f64>,
        /// Dry salt in the hopper, kg. It leaves the stock when it is spread.
        hopper_kg: Option<f64>,
        /// Why it was loaded although the tank is not known to be in spec, or the load is over a limit.
        override_reason: Option<String>,
    }
    /// A truck brings liquid back.
    ReturnToTank = "return_to_tank" {
        /// Tank.
        tank: String,
        /// Truck.
        truck: String,
        /// Volume, m³.
        volume_m3: f64,
        /// Temperature of that volume, °C.
        temp_c: Option<f64>,
        /// How the volume was found, one of [`HOW_FOUND`].
        how: Option<String>,
        /// Id of the load it is what was left of.
        load: Option<String>,
        /// Mass of the liquid by the scale, kg.
        weighed_kg: Option<f64>,
        /// Why it came back.
        reason: Option<String>,
    }
    /// Treatment put on a road. Liquid left the tank with its load-out; dry salt leaves the stock here.
    Application = "application" {
        /// Route.
        route: String,
        /// Truck.
        truck: Option<String>,
        /// Liquid put down, m³.
        volume_m3: Option<f64>,
        /// Dry salt put down as delivered, kg.
        salt_kg: Option<f64>,
        /// Why: anti-icing, pre-wet, follow-up.
        reason: Option<String>,
        /// How, one of [`TREATED`].
        treated: Option<String>,
        /// Length of lane that was treated, m; absent: the whole route once.
        lane_m: Option<f64>,
        /// Liquid that was planned, m³.
        planned_m3: Option<f64>,
        /// Dry salt that was planned, kg.
        planned_salt_kg: Option<f64>,
        /// Time the truck was out for it, h.
        duration_h: Option<f64>,
        /// Pavement, °C.
        pavement_c: Option<f64>,
    }
    /// Liquid issued to another agency.
    IssueOut = "issue_out" {
        /// Tank.
        tank: String,
        /// Agency.
        agency: String,
        /// Volume, m³.
        volume_m3: f64,
        /// Temperature of that volume, °C.
        temp_c: Option<f64>,
        /// Billed, US dollars.
        price_usd: Option<f64>,
        /// How the volume was found, one of [`HOW_FOUND`].
        how: Option<String>,
        /// Number of a paper ticket, where one was written.
        ticket: Option<String>,
        /// Mass of the liquid by the scale, kg.
        weighed_kg: Option<f64>,
        /// Who drove it, or what.
        carrier: Option<String>,
        /// Why it was issued although the tank is not known to be in spec.
        override_reason: Option<String>,
    }
    /// Spilled or lost from a tank.
    Loss = "loss" {
        /// Tank.
        tank: String,
        /// Volume, m³.
        volume_m3: f64,
        /// What happened.
        reason: String,
    }
    /// Sludge or content taken out and disposed of.
    CleanOut = "clean_out" {
        /// Tank.
        tank: String,
        /// Volume taken out, m³.
        volume_m3: f64,
        /// Where it went.
        disposal: String,
    }
    /// A totaliser read. Evidence.
    MeterReading = "meter_reading" {
        /// Meter.
        meter: String,
        /// Total shown, m³.
        total_m3: f64,
    }
    /// A meter held against a scale: what it showed for liquid that was weighed. Evidence.
    MeterCheck = "meter_check" {
        /// Meter.
        meter: String,
        /// Volume it showed, m³.
        shown_m3: f64,
        /// Mass of the same liquid by the scale, kg.
        weighed_kg: f64,
        /// Strength of the liquid, % by mass; zero for water.
        strength_pct: f64,
        /// Its temperature, °C.
        temp_c: Option<f64>,
    }
    /// Loader buckets of rock salt, counted. Evidence.
    BucketCount = "bucket_count" {
        /// What they went to, one of [`BUCKETS_TO`].
        to: String,
        /// How many.
        buckets_number: f64,
        /// Mass of one, kg; absent: the yard file's.
        bucket_kg: Option<f64>,
    }
    /// The salt pile, surveyed. Evidence: it does not change the book.
    PileSurvey = "pile_survey" {
        /// Mass found, kg as delivered.
        mass_kg: f64,
        /// 95 % interval, ± % of it.
        uncertainty_pct: f64,
        /// How it was found.
        how: Option<String>,
    }
    /// Chloride found in a water that routes drain to. Evidence.
    WaterSample = "water_sample" {
        /// Watershed.
        watershed: String,
        /// Chloride, mg/L.
        chloride_mg_l: f64,
        /// One of [`SAMPLED`]: taken once, or a mean over four days.
        sampled: String,
        /// Laboratory or kit, and anything else.
        remark: Option<String>,
    }
    /// A catch test of a sprayer: what each nozzle gave in the same time.
    SprayerCheck = "sprayer_check" {
        /// Truck.
        truck: String,
        /// What was caught in: water, or brine.
        liquid: String,
        /// Volume caught from each nozzle, mL, in their order.
        caught_ml: String,
        /// Time of catching, s.
        catch_s: f64,
        /// Pressure at the boom, kPa.
        pressure_kpa: Option<f64>,
        /// Width it sprays, lanes.
        lanes_number: f64,
        /// Nozzles replaced or cleaned afterwards.
        remark: Option<String>,
    }
    /// A discharge test of a spreader: what came out in some turns of its auger or conveyor.
    SpreaderCheck = "spreader_check" {
        /// Truck.
        truck: String,
        /// What was spread: rock salt, a mix.
        material: String,
        /// Setting of the control.
        setting: String,
        /// Mass of each catch, kg.
        caught_kg: String,
        /// Turns in each catch.
        turns_number: f64,
        /// Turns a minute at that setting.
        per_minute_number: f64,
        /// Anything else: gate, hydraulic speed.
        remark: Option<String>,
    }
    /// A storm, named by a person: from when the event happened to its end.
    Storm = "storm" {
        /// What people call it.
        name: String,
        /// Its end, as a UTC time.
        until: String,
    }
    /// The books of a month are closed: what is entered for it later is flagged.
    MonthClose = "month_close" {
        /// The month, as 2027-01.
        month: String,
    }
    /// A chore of the yard's list was done.
    ChoreDone = "chore_done" {
        /// Id of the chore.
        chore: String,
        /// What was found or done.
        done: String,
    }
    /// An agreed figure that replaces the book, with its reason.
    Settlement = "settlement" {
        /// Tank; absent for rock salt.
        tank: Option<String>,
        /// Agreed volume at 60 °F, m³.
        volume_m3: Option<f64>,
        /// Agreed strength, % by mass, for salt brine.
        strength_pct: Option<f64>,
        /// Agreed rock salt on hand as delivered, kg.
        salt_kg: Option<f64>,
        /// Why.
        reason: String,
    }
    /// Work done on a machine, tank or instrument.
    Maintenance = "maintenance" {
        /// On what.
        subject: String,
        /// What was done.
        done: String,
    }
    /// A remark.
    Note = "note" {
        /// The remark.
        text: String,
    }
    /// Takes back an earlier event, which stays in the ledger.
    Void = "void" {
        /// Id of the event taken back.
        event: String,
        /// Why.
        reason: String,
    }
}

impl Body {
    /// Tanks the event names, for finding what touched a tank.
    pub fn tanks(&self) -> Vec<&str> {
        let named: &[&String] = match self {
            Body::LiquidDelivery(b) => &[&b.tank],
            Body::MakingRun(b) => &[&b.tank],
            Body::Reading(b) => return b.tank.as_deref().into_iter().collect(),
            Body::Dip(b) => &[&b.tank],
            Body::Transfer(b) => &[&b.from_tank, &b.to_tank],
            Body::Correction(b) => &[&b.tank],
            Body::LoadOut(b) => &[&b.tank],
            Body::ReturnToTank(b) => &[&b.tank],
            Body::IssueOut(b) => &[&b.tank],
            Body::Loss(b) => &[&b.tank],
            Body::CleanOut(b) => &[&b.tank],
            Body::JarTest(b) => return b.tank.as_deref().into_iter().collect(),
            Body::RunStart(b) => return b.tank.as_deref().into_iter().collect(),
            Body::Settlement(b) => return b.tank.as_deref().into_iter().collect(),
            _ => &[],
        };
        named.iter().map(|tank| tank.as_str()).collect()
    }

    /// Whether it changes what the books say is there.
    pub fn moves_books(&self) -> bool {
        matches!(
            self,
            Body::SaltDelivery(_)
                | Body::LiquidDelivery(_)
                | Body::MakingRun(_)
                | Body::Transfer(_)
                | Body::Correction(_)
                | Body::LoadOut(_)
                | Body::ReturnToTank(_)
                | Body::Application(_)
                | Body::IssueOut(_)
                | Body::Loss(_)
                | Body::CleanOut(_)
                | Body::Settlement(_)
                | Body::Void(_)
        )
    }

    /// Whether it holds amounts that somebody might enter twice: not what is said, answered or looked after.
    pub fn is_of_amounts(&self) -> bool {
        let is_look =
            matches!(self, Body::Dip(_) | Body::MeterReading(_) | Body::MeterCheck(_) | Body::PileSurvey(_));
        let is_test = matches!(self, Body::JarTest(_) | Body::WaterSample(_));
        is_look || is_test || (self.moves_books() && !matches!(self, Body::Void(_)))
    }

    /// The event a void takes back.
    pub fn voids(&self) -> Option<EventId> {
        match self {
            Body::Void(void) => void.event.parse().ok(),
            _ => None,
        }
    }
}
