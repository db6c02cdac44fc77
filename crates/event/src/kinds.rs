//! Every kind of event with its fields: the one table where a field is described, and nothing but that table. To add a
//! kind, add its entry here, its arm in the fold (`stock/fold.rs`) and its words.

use serde::{Deserialize, Serialize};

use super::bodies::{Slot, bodies};
use super::choice::{
    Adjusted, BatchFound, BucketsTo, CaughtLiquid, CheckedIn, HowFound, JarResult, Occasion, RoadInstrument,
    RoadLook, RoadPart, RunEnding, SamplePoint, Sampled, StepAnswer, TotalOf, Treated,
};
use super::field::{
    AGENCY, CAUGHT_MASSES, CAUGHT_VOLUMES, CHORE, DEPTH, DOLLARS, EVENT, Field, HOURS, INSTRUMENT, Kind,
    LANE, LINES, LIQUID, MASS, METER, METER_OR_ANY, MG_L, MONTH, NUMBER, PERCENT, PRESSURE, PRODUCT, RATIO,
    READING, ROAD, ROUTE, SCALE, SECONDS, TANK, TEMPERATURE, TEXT, TIME, TONS, TRUCK, VOLUME, WATERSHED,
    one_of,
};
use super::{BodyError, EVENT_VERSION};

/// Chloride of saturated brine is a little less, mg/L.
const MOST_CHLORIDE_MG_L: f64 = 200_000.0;

bodies! {
    /// Rock salt received.
    SaltDelivery = "salt_delivery" {
        /// Mass as delivered, kg.
        mass_kg: f64 as TONS.above_zero().label("ask.salt-mass"),
        /// Supplier's ticket.
        ticket: Option<String> as TEXT.label("ask.suppliers-ticket"),
        /// Moisture found, % by mass.
        moisture_pct: Option<f64> as PERCENT.label("ask.moisture"),
        /// Price of the delivery, US dollars.
        price_usd: Option<f64> as DOLLARS.label("ask.price").seldom(),
        /// Who delivered it.
        supplier: Option<String> as TEXT.label("ask.supplier"),
        /// Order it belongs to, for counting samples.
        order: Option<String> as TEXT.label("ask.order").seldom(),
        /// Samples taken of it.
        samples_number: Option<f64> as NUMBER.label("ask.samples").seldom(),
    } + typed {
        /// Mass of a sample as it came, in any unit; with its dry mass it gives the moisture.
        wet as RATIO.above_zero().label("ask.wet").seldom(),
        /// Mass of the same sample dried, in the same unit.
        dry as RATIO.above_zero().label("ask.dry").seldom(),
    }
    /// Bought liquid received into a tank.
    LiquidDelivery = "liquid_delivery" {
        /// Tank.
        tank: String as TANK.label("ask.tank-into"),
        /// Volume, m³.
        volume_m3: f64 as VOLUME.label("ask.volume"),
        /// Temperature of that volume, °C.
        temp_c: Option<f64> as TEMPERATURE.label("ask.temp").seldom(),
        /// Strength, % by mass, for salt brine.
        strength_pct: Option<f64> as PERCENT.label("ask.strength"),
        /// Id of the product delivered; absent: the tank's.
        product: Option<String> as PRODUCT.label("ask.product"),
        /// Supplier's ticket.
        ticket: Option<String> as TEXT.label("ask.suppliers-ticket"),
        /// Price of the delivery, US dollars.
        price_usd: Option<f64> as DOLLARS.label("ask.price"),
    }
    /// One continuous stretch of making brine.
    MakingRun = "making_run" {
        /// Tank it went to.
        tank: String as TANK.label("ask.tank-into"),
        /// Volume made, m³.
        volume_m3: f64 as VOLUME.label("ask.volume-made"),
        /// Temperature of that volume, °C.
        temp_c: Option<f64> as TEMPERATURE.label("ask.temp").seldom(),
        /// Strength found, % by mass.
        strength_pct: f64 as PERCENT.label("ask.strength"),
        /// Rock salt used as delivered, kg; absent: worked out from the yard's purity and moisture.
        salt_kg: Option<f64> as MASS.label("ask.salt-used"),
        /// Water used, m³.
        water_m3: Option<f64> as VOLUME.label("ask.water-used"),
        /// Length of the run, h.
        duration_h: Option<f64> as HOURS.label("ask.hours-run").seldom(),
        /// Id of the guided run's start, where there was one.
        run: Option<String> as EVENT,
        /// How the volume was found.
        how: Option<BatchFound> as one_of::<BatchFound>(""),
        /// 95 % interval of the volume, ± % of it.
        volume_uncertainty_pct: Option<f64> as PERCENT,
    }
    /// A measured strength. Evidence: it does not change the book.
    Reading = "reading" {
        /// Tank; absent: the plant's tap, which the level says too.
        tank: Option<String> as TANK,
        /// Strength found, % by mass, after the instrument's corrections.
        strength_pct: f64 as PERCENT.worked_out(),
        /// 95 % interval, ± % by mass.
        uncertainty_pct: Option<f64> as PERCENT.within(0.0, 10.0),
        /// Temperature of the sample, °C.
        temp_c: Option<f64> as TEMPERATURE,
        /// Instrument.
        instrument: Option<String> as TEXT,
        /// Where from.
        level: Option<SamplePoint> as one_of::<SamplePoint>("level."),
        /// When it was taken.
        occasion: Option<Occasion> as one_of::<Occasion>("occasion."),
        /// What the instrument showed, in the unit of its scale, as typed.
        shown: Option<String> as TEXT.label("bench.reading"),
        /// The scale it was read on, one of `bench::register::NAMES`.
        scale: Option<String> as SCALE,
        /// Why it is to be doubted, where it is.
        doubt: Option<String> as TEXT,
        /// Id of the first reading of the same sample, where several instruments were read in it.
        sample: Option<String> as EVENT,
    }
    /// The controller's panel and a sample at the bench, looked at side by side. Evidence: it trims nothing by itself.
    PanelCheck = "panel_check" {
        /// Number on the controller.
        trim_number: f64 as NUMBER.above_zero(),
        /// Strength on the panel, % by mass.
        panel_pct: f64 as PERCENT.within(0.0, 40.0).label("trim.panel"),
        /// Strength at the bench, % by mass.
        bench_pct: f64 as PERCENT.within(0.0, 40.0).worked_out(),
        /// Its 95 % interval, ± % by mass.
        uncertainty_pct: f64 as PERCENT.above_zero_to(10.0).worked_out(),
        /// Instrument of the bench.
        instrument: Option<String> as TEXT,
        /// Id of the reading it was taken from.
        reading: Option<String> as EVENT,
    }
    /// A person set the controller's number.
    TrimSet = "trim_set" {
        /// Number before.
        from_number: f64 as NUMBER.above_zero().worked_out(),
        /// Number after.
        to_number: f64 as NUMBER.above_zero().label("trim.set-to"),
        /// Number that was advised, where one was.
        advised_number: Option<f64> as NUMBER,
        /// Why, where it differs from the advice.
        reason: Option<String> as TEXT.label("trim.reason"),
    }
    /// An instrument read in water, or in brine of known strength. Evidence.
    InstrumentCheck = "instrument_check" {
        /// Instrument.
        instrument: String as INSTRUMENT,
        /// What it was read in.
        against: CheckedIn as one_of::<CheckedIn>(""),
        /// What it should show, in the unit of its scale.
        expected_reading: f64 as READING.worked_out(),
        /// What it showed.
        shown_reading: f64 as READING.label("bench.reading"),
        /// Temperature of the sample, °C.
        temp_c: Option<f64> as TEMPERATURE,
        /// Whether it was zeroed or set right afterwards.
        adjusted: Adjusted as one_of::<Adjusted>(""),
    } + typed {
        /// Strength of the brine it was read in, % by mass; what it should show is worked out from it.
        known_pct as PERCENT.label("check.known"),
    }
    /// The water of the plant comes from elsewhere, or is treated otherwise, from here on.
    WaterChange = "water_change" {
        /// What changed.
        what: String as TEXT,
    }
    /// A guided run begins.
    RunStart = "run_start" {
        /// Title of the procedure it follows.
        procedure: String as TEXT,
        /// Tank it is meant for.
        tank: Option<String> as TANK,
    }
    /// A step of a guided run, answered.
    RunStep = "run_step" {
        /// Id of the run's start.
        run: String as EVENT,
        /// Id of the step.
        step: String as TEXT,
        /// How.
        answer: StepAnswer as one_of::<StepAnswer>("answer."),
        /// Figure entered.
        value_reading: Option<f64> as READING,
        /// Anything else.
        remark: Option<String> as TEXT,
        /// Where the figure is a total of a meter of the plant: what it counts.
        total_of: Option<TotalOf> as one_of::<TotalOf>(""),
        /// That total, m³.
        total_m3: Option<f64> as VOLUME,
        /// Why a supervisor lets the run go on without the evidence that the step needs.
        override_reason: Option<String> as TEXT,
    }
    /// A guided run ends.
    RunEnd = "run_end" {
        /// Id of the run's start.
        run: String as EVENT,
        /// How.
        how: RunEnding as one_of::<RunEnding>("run-end."),
        /// Why, where it was broken off.
        reason: Option<String> as TEXT,
    }
    /// What a run has shown of the plant: factors on what its layout says, and standard deviations of their logarithms,
    /// with all earlier runs.
    PlantFit = "plant_fit" {
        /// Id of the run's start.
        run: String as EVENT,
        /// On the surface of the salt that is reached.
        reached_number: f64 as NUMBER.above_zero(),
        /// Its spread.
        reached_spread_number: f64 as NUMBER.above_zero(),
        /// On what the feeder drops.
        feed_number: f64 as NUMBER.above_zero(),
        /// Its spread.
        feed_spread_number: f64 as NUMBER.above_zero(),
        /// On what the supply gives.
        water_number: f64 as NUMBER.above_zero(),
        /// Its spread.
        water_spread_number: f64 as NUMBER.above_zero(),
        /// Looks it rests on.
        looks_number: f64 as NUMBER,
    }
    /// An exercise on the practice plant has ended; its author is who practised. Kept in a ledger of its own.
    PracticeRun = "practice_run" {
        /// Id of the exercise.
        exercise: String as TEXT,
        /// Its title.
        title: String as TEXT,
        /// Length in the plant's time, h.
        length_h: f64 as HOURS,
        /// When the panel first came into its band, h.
        in_band_h: Option<f64> as HOURS,
        /// Things that broke.
        broke_number: f64 as NUMBER,
        /// Of these, noticed.
        noticed_number: f64 as NUMBER,
        /// Pumps ruined.
        ruined_number: f64 as NUMBER,
        /// Dangerous things tried.
        dangerous_number: f64 as NUMBER,
        /// Brine let out, kg.
        made_kg: f64 as MASS,
        /// Of it, above the band, kg.
        over_kg: f64 as MASS,
        /// Run over a brim, kg.
        spilt_kg: f64 as MASS,
        /// Salt used, kg as delivered.
        used_salt_kg: f64 as MASS,
        /// Longest that a pump ran dry, h.
        dry_h: f64 as HOURS,
        /// In the run it is compared with: when the panel came into its band, h.
        other_in_band_h: Option<f64> as HOURS,
        /// In the run it is compared with: brine let out, kg.
        other_made_kg: f64 as MASS,
        /// In the run it is compared with: salt used, kg as delivered.
        other_used_salt_kg: f64 as MASS,
        /// What broke, when it was noticed and when put right, a line each.
        breakages: String as LINES,
        /// What happened when, a line each.
        timeline: String as LINES,
    }
    /// The first making of a season.
    SeasonStart = "season_start" {
        /// Which season.
        season: String as TEXT,
    }
    /// A check that was due, seen to by a person.
    CheckSeen = "check_seen" {
        /// Key of what was due.
        check: String as TEXT,
        /// What was done about it.
        done: String as LINES,
    }
    /// A measured depth. Evidence: it does not change the book.
    Dip = "dip" {
        /// Tank.
        tank: String as TANK.label("dip.tank"),
        /// Depth from the lowest inside point, m.
        depth_m: f64 as DEPTH.label("dip.depth"),
        /// Temperature of the content, °C.
        temp_c: Option<f64> as TEMPERATURE.label("ask.temp"),
    }
    /// Two liquids mixed in a jar and kept cold, to see what a mix does. Evidence: it does not change the book.
    JarTest = "jar_test" {
        /// First liquid: id of a product, or in words.
        liquid_a: String as LIQUID.label("jar.first"),
        /// Second liquid, likewise.
        liquid_b: String as LIQUID.label("jar.second"),
        /// The first in the mix, % by volume.
        share_a_pct: f64 as PERCENT.label("jar.share"),
        /// Kept at, °C.
        temp_c: f64 as TEMPERATURE.within(-60.0, 60.0).label("ask.temp"),
        /// Kept for, h.
        duration_h: f64 as HOURS.above_zero().label("jar.hours"),
        /// What was seen.
        result: JarResult as one_of::<JarResult>("jar.").label("jar.result"),
        /// Anything else seen.
        remark: Option<String> as TEXT.label("ask.remark"),
        /// Tank the mix is meant for.
        tank: Option<String> as TANK,
    }
    /// From one tank to another.
    Transfer = "transfer" {
        /// From.
        from_tank: String as TANK.label("ask.from-tank"),
        /// To.
        to_tank: String as TANK.label("ask.to-tank"),
        /// Volume, m³.
        volume_m3: f64 as VOLUME.label("ask.volume"),
        /// Temperature of that volume, °C.
        temp_c: Option<f64> as TEMPERATURE.label("ask.temp").seldom(),
    }
    /// Water or salt put into a tank to change its strength.
    Correction = "correction" {
        /// Tank.
        tank: String as TANK,
        /// Water added, m³.
        water_m3: Option<f64> as VOLUME,
        /// Rock salt added as delivered, kg.
        salt_kg: Option<f64> as MASS,
    }
    /// A truck takes liquid.
    LoadOut = "load_out" {
        /// Tank.
        tank: String as TANK.label("ask.tank"),
        /// Truck.
        truck: String as TRUCK.label("ask.truck"),
        /// Route it is meant for.
        route: Option<String> as ROUTE.label("ask.route"),
        /// Volume, m³.
        volume_m3: f64 as VOLUME.above_zero().worked_out().label("ask.volume"),
        /// Temperature of that volume, °C.
        temp_c: Option<f64> as TEMPERATURE.label("ask.temp").seldom(),
        /// How the volume was found.
        how: Option<HowFound> as one_of::<HowFound>("how.").label("ask.how"),
        /// Number of a paper ticket, where one was written.
        ticket: Option<String> as TEXT.label("ask.ticket").seldom(),
        /// Mass of the liquid by the scale, kg: the truck after less the truck before.
        weighed_kg: Option<f64> as MASS.label("ask.weighed").seldom(),
        /// Volume by the loading meter, as shown, m³.
        metered_m3: Option<f64> as VOLUME.label("ask.metered").seldom(),
        /// The meter; absent: the yard's only one at the loading place.
        meter: Option<String> as METER,
        /// Volume that was planned for this load, m³.
        planned_m3: Option<f64> as VOLUME.label("ask.planned").seldom(),
        /// Dry salt in the hopper, kg. It leaves the stock when it is spread.
        hopper_kg: Option<f64> as MASS.label("ask.hopper").seldom(),
        /// Why it was loaded although the tank is not known to be in spec, or the load is over a limit.
        override_reason: Option<String> as TEXT.label("ask.override").seldom(),
    }
    /// A truck brings liquid back.
    ReturnToTank = "return_to_tank" {
        /// Tank.
        tank: String as TANK.label("ask.tank-back"),
        /// Truck.
        truck: String as TRUCK.label("ask.truck"),
        /// Volume, m³.
        volume_m3: f64 as VOLUME.worked_out().label("ask.volume-back"),
        /// Temperature of that volume, °C.
        temp_c: Option<f64> as TEMPERATURE.label("ask.temp").seldom(),
        /// How the volume was found.
        how: Option<HowFound> as one_of::<HowFound>("how.").label("ask.how"),
        /// Id of the load it is what was left of.
        load: Option<String> as EVENT,
        /// Mass of the liquid by the scale, kg.
        weighed_kg: Option<f64> as MASS.label("ask.weighed").seldom(),
        /// Why it came back.
        reason: Option<String> as TEXT.label("ask.why-back").seldom(),
    }
    /// Treatment put on a road. Liquid left the tank with its load-out; dry salt leaves the stock here.
    Application = "application" {
        /// Route.
        route: String as ROUTE.label("ask.treated-route"),
        /// Truck.
        truck: Option<String> as TRUCK.label("ask.truck"),
        /// Liquid put down, m³.
        volume_m3: Option<f64> as VOLUME.label("ask.volume-down"),
        /// Dry salt put down as delivered, kg.
        salt_kg: Option<f64> as MASS.label("ask.salt-down"),
        /// Why: anti-icing, pre-wet, follow-up.
        reason: Option<String> as TEXT.label("ask.reason").seldom(),
        /// How.
        treated: Option<Treated> as one_of::<Treated>("treated.").asked().label("ask.treated"),
        /// Length of lane that was treated, m; absent: the whole route once.
        lane_m: Option<f64> as LANE.label("ask.lane"),
        /// Liquid that was planned, m³.
        planned_m3: Option<f64> as VOLUME.label("ask.planned").seldom(),
        /// Dry salt that was planned, kg.
        planned_salt_kg: Option<f64> as MASS.label("ask.planned-salt").seldom(),
        /// Time the truck was out for it, h.
        duration_h: Option<f64> as HOURS.label("ask.duration"),
        /// Pavement, °C.
        pavement_c: Option<f64> as TEMPERATURE.label("ask.pavement").seldom(),
    }
    /// Temperature of a road's surface, read with an instrument. Evidence: what the roads are worked out to be is
    /// corrected by it.
    RoadReading = "road_reading" {
        /// Class of route, or segment.
        road: String as ROAD.label("ask.road"),
        /// Road or bridge deck of a class.
        part: Option<RoadPart> as one_of::<RoadPart>("road-part.").label("ask.road-part"),
        /// Surface temperature, °C.
        surface_c: f64 as TEMPERATURE.within(-50.0, 70.0).label("ask.surface"),
        /// What it was read with; absent: an infrared thermometer in the hand.
        instrument: Option<RoadInstrument> as one_of::<RoadInstrument>("road-instrument.").label("ask.road-instrument").seldom(),
        /// How the road looked.
        looked: Option<RoadLook> as one_of::<RoadLook>("road-look.").label("ask.road-look").seldom(),
        /// Where, and anything else.
        remark: Option<String> as TEXT.label("ask.remark").seldom(),
    }
    /// Liquid issued to another agency.
    IssueOut = "issue_out" {
        /// Tank.
        tank: String as TANK.label("ask.tank"),
        /// Agency.
        agency: String as AGENCY.label("ask.agency"),
        /// Volume, m³.
        volume_m3: f64 as VOLUME.above_zero().worked_out().label("ask.volume"),
        /// Temperature of that volume, °C.
        temp_c: Option<f64> as TEMPERATURE.label("ask.temp").seldom(),
        /// Billed, US dollars.
        price_usd: Option<f64> as DOLLARS.label("ask.price").seldom(),
        /// How the volume was found.
        how: Option<HowFound> as one_of::<HowFound>("how.").label("ask.how"),
        /// Number of a paper ticket, where one was written.
        ticket: Option<String> as TEXT.label("ask.ticket").seldom(),
        /// Mass of the liquid by the scale, kg.
        weighed_kg: Option<f64> as MASS.label("ask.weighed").seldom(),
        /// Who drove it, or what.
        carrier: Option<String> as TEXT.label("ask.carrier").seldom(),
        /// Why it was issued although the tank is not known to be in spec.
        override_reason: Option<String> as TEXT.label("ask.override").seldom(),
    }
    /// Spilled or lost from a tank.
    Loss = "loss" {
        /// Tank.
        tank: String as TANK.label("ask.tank"),
        /// Volume, m³.
        volume_m3: f64 as VOLUME.label("ask.volume-lost"),
        /// What happened.
        reason: String as LINES.label("ask.what-happened"),
    }
    /// Sludge or content taken out and disposed of.
    CleanOut = "clean_out" {
        /// Tank.
        tank: String as TANK.label("ask.tank"),
        /// Volume taken out, m³.
        volume_m3: f64 as VOLUME.label("ask.volume-out"),
        /// Where it went.
        disposal: String as TEXT.label("ask.disposal"),
    }
    /// A totaliser read. Evidence.
    MeterReading = "meter_reading" {
        /// Meter.
        meter: String as METER_OR_ANY.label("ask.meter"),
        /// Total shown, m³.
        total_m3: f64 as VOLUME.label("ask.total"),
    }
    /// A meter held against a scale: what it showed for liquid that was weighed. Evidence.
    MeterCheck = "meter_check" {
        /// Meter.
        meter: String as METER.label("ask.meter"),
        /// Volume it showed, m³.
        shown_m3: f64 as VOLUME.above_zero().label("ask.shown"),
        /// Mass of the same liquid by the scale, kg.
        weighed_kg: f64 as MASS.above_zero().label("ask.weighed"),
        /// Strength of the liquid, % by mass; zero for water.
        strength_pct: f64 as PERCENT.label("ask.strength-or-water"),
        /// Its temperature, °C.
        temp_c: Option<f64> as TEMPERATURE.label("ask.temp").seldom(),
    }
    /// Loader buckets of rock salt, counted. Evidence.
    BucketCount = "bucket_count" {
        /// What they went to.
        to: BucketsTo as one_of::<BucketsTo>("buckets.").label("ask.buckets-to"),
        /// How many.
        buckets_number: f64 as NUMBER.above_zero().label("ask.buckets"),
        /// Mass of one, kg; absent: the yard file's.
        bucket_kg: Option<f64> as MASS.label("ask.bucket-mass").seldom(),
    }
    /// The salt pile, surveyed. Evidence: it does not change the book.
    PileSurvey = "pile_survey" {
        /// Mass found, kg as delivered.
        mass_kg: f64 as TONS.label("ask.pile-mass"),
        /// 95 % interval, ± % of it.
        uncertainty_pct: f64 as PERCENT.label("ask.pile-within"),
        /// How it was found.
        how: Option<String> as TEXT.label("ask.pile-how"),
    }
    /// Chloride found in a water that routes drain to. Evidence.
    WaterSample = "water_sample" {
        /// Watershed.
        watershed: String as WATERSHED.label("ask.watershed"),
        /// Chloride, mg/L.
        chloride_mg_l: f64 as MG_L.within(0.0, MOST_CHLORIDE_MG_L).label("ask.chloride"),
        /// What it stands for: taken once, or a mean over four days.
        sampled: Sampled as one_of::<Sampled>("sampled.").label("ask.sampled"),
        /// Laboratory or kit, and anything else.
        remark: Option<String> as TEXT.label("ask.remark"),
    }
    /// A catch test of a sprayer: what each nozzle gave in the same time.
    SprayerCheck = "sprayer_check" {
        /// Truck.
        truck: String as TRUCK.label("ask.truck"),
        /// What was caught in: water, or brine.
        liquid: CaughtLiquid as one_of::<CaughtLiquid>("caught-in.").label("ask.caught-in"),
        /// Volume caught from each nozzle, mL, in their order.
        caught_ml: String as CAUGHT_VOLUMES.label("ask.caught"),
        /// Time of catching, s.
        catch_s: f64 as SECONDS.within(5.0, 600.0).label("ask.catch-seconds"),
        /// Pressure at the boom, kPa.
        pressure_kpa: Option<f64> as PRESSURE.label("ask.pressure"),
        /// Width it sprays, lanes.
        lanes_number: f64 as NUMBER.within(0.25, 6.0).label("ask.lanes"),
        /// Nozzles replaced or cleaned afterwards.
        remark: Option<String> as TEXT.label("ask.remark").seldom(),
    }
    /// A discharge test of a spreader: what came out in some turns of its auger or conveyor.
    SpreaderCheck = "spreader_check" {
        /// Truck.
        truck: String as TRUCK.label("ask.truck"),
        /// What was spread: rock salt, a mix.
        material: String as TEXT.label("ask.material"),
        /// Setting of the control.
        setting: String as TEXT.label("ask.setting"),
        /// Mass of each catch, kg.
        caught_kg: String as CAUGHT_MASSES.label("ask.caught-mass"),
        /// Turns in each catch.
        turns_number: f64 as NUMBER.above_zero_to(1000.0).label("ask.turns"),
        /// Turns a minute at that setting.
        per_minute_number: f64 as NUMBER.above_zero_to(1000.0).label("ask.per-minute"),
        /// Anything else: gate, hydraulic speed.
        remark: Option<String> as TEXT.label("ask.remark").seldom(),
    }
    /// A storm, named by a person: from when the event happened to its end.
    Storm = "storm" {
        /// What people call it.
        name: String as TEXT.label("ask.storm-name"),
        /// Its end, as a UTC time.
        until: String as TIME.label("ask.storm-until"),
    }
    /// The books of a month are closed: what is entered for it later is flagged.
    MonthClose = "month_close" {
        /// The month, as 2027-01.
        month: String as MONTH.label("ask.month"),
    }
    /// A chore of the yard's list was done.
    ChoreDone = "chore_done" {
        /// Id of the chore.
        chore: String as CHORE.label("ask.chore"),
        /// What was found or done.
        done: String as LINES.label("ask.found-or-done"),
    }
    /// An agreed figure that replaces the book, with its reason.
    Settlement = "settlement" {
        /// Tank; absent for rock salt.
        tank: Option<String> as TANK.label("ask.settled-tank"),
        /// Agreed volume at 60 °F, m³.
        volume_m3: Option<f64> as VOLUME.label("ask.settled-volume"),
        /// Agreed strength, % by mass, for salt brine.
        strength_pct: Option<f64> as PERCENT.label("ask.strength"),
        /// Agreed rock salt on hand as delivered, kg.
        salt_kg: Option<f64> as TONS.label("ask.settled-salt"),
        /// Why.
        reason: String as TEXT.label("ask.why"),
    }
    /// Work done on a machine, tank or instrument.
    Maintenance = "maintenance" {
        /// On what.
        subject: String as TEXT.label("ask.subject"),
        /// What was done.
        done: String as LINES.label("ask.done"),
    }
    /// A remark.
    Note = "note" {
        /// The remark.
        text: String as LINES,
    }
    /// Takes back an earlier event, which stays in the ledger.
    Void = "void" {
        /// Id of the event taken back.
        event: String as EVENT,
        /// Why.
        reason: String as TEXT,
    }
}

/// The kind of a name.
pub fn kind_named(name: &str) -> Option<&'static Kind> {
    KINDS.iter().find(|kind| kind.name == name)
}
