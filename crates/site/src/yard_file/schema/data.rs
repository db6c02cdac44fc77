//! The table itself: every key of every table. Data only, one line a key.

use super::{Field, Fill, Kind, Table, field, units};

use Fill::{Number as Def, Otherwise, Required, Text as Word};
use Kind::{Choice, Count, Hours, Id, Names, Number, Percent, Quantity, Reference, Share, Switch, Text};

const SCALES: [&str; bench::register::NAMES.len() + 1] = with_printed();
const PROPOSAL: &str = "our proposal, editable";
const END_SHAPES: Kind = Choice(&["flat", "elliptical", "hemispherical", "conical", "torispherical"]);
/// Strongest sodium chloride brine that stays liquid, per cent, and its fraction.
const STRONGEST: f64 = 26.3;
const STRENGTH: Kind = Percent(0.0, 0.263);

/// The scales of the bench and the one that comes with its own table.
const fn with_printed() -> [&'static str; bench::register::NAMES.len() + 1] {
    let mut all = [bench::register::PRINTED; bench::register::NAMES.len() + 1];
    let mut place = 0;
    while place < bench::register::NAMES.len() {
        all[place] = bench::register::NAMES[place];
        place += 1;
    }
    all
}

// What a stretch of road is made of and sees: the same keys for a class and for a segment.
#[rustfmt::skip]
const SURFACE: Field = field("surface", Choice(&["asphalt", "concrete"]), Word("asphalt"), "What the road is laid in.", "most roads", &["#\"asphalt\""]);
#[rustfmt::skip]
const SKY_VIEW: Field = field("sky_view", Share, Otherwise("by shade_deg; else 0.95"), "Share of the sky that is seen from the road.", "", &["#0.95"]).within(0.05, 1.0);
#[rustfmt::skip]
const SHADE: Field = field("shade_deg", Number, Otherwise("nothing hides the sun"), "Trees, banks or rock hide the sun while it is lower than this angle, degrees.", "", &["#10"]).within(0.0, 80.0);
#[rustfmt::skip]
const WET_BASE: Field = field("wet_base_pct", Percent(0.0, 0.0), Def(0.0), "Water of the ground below that freezes in winter, per cent of volume: 5 to 10 where it drains badly.", "a dry base", &["#5"]).within(0.0, 10.0);
#[rustfmt::skip]
const VEHICLES: Field = field("vehicles_per_h", Number, Def(0.0), "Vehicles in one lane in an hour, mean over the day.", "none until they are counted", &["#150"]).within(0.0, 3000.0);
#[rustfmt::skip]
const HEAVY: Field = field("heavy_pct", Percent(0.0, 0.0), Def(10.0), "Heavy vehicles among them.", PROPOSAL, &["#10"]).within(0.0, 100.0);
#[rustfmt::skip]
const TRAFFIC_SPEED: Field = field("traffic_speed", Quantity(units::SPEED), Def(45.0), "How fast they drive.", PROPOSAL, &["#45"]).within(5.0, 85.0);

/// Every table, in the order of the sample file.
#[rustfmt::skip]
pub(super) const TABLES: &[Table] = &[
    Table { name: "", many: false, required: true, meaning: "", fields: &[
        field("format", Count, Required, "Version of the layout of this file.", "", &["1"]).within(1.0, 1.0),
    ] },
    Table { name: "yard", many: false, required: true, meaning: "The place.", fields: &[
        field("name", Text, Required, "What people call it.", "", &["\"Alder Creek yard\""]),
        field("time_zone", Text, Required, "Time zone by its IANA name, for showing times.", "", &["\"America/Denver\""]),
        field("units", Choice(&["us", "si"]), Word("us"), "Units shown first.", PROPOSAL, &["\"us\""]),
        field("weather_station", Text, Otherwise("the only station of the weather file"), "Station to pick from a weather file that holds several.", "", &["\"ALDER1\""]),
        field("latitude_deg", Number, Otherwise("the middle of the northern states, 43"), "Latitude of the yard, degrees north, for the sun on the road.", "", &["43.7"]).within(-66.0, 72.0),
        field("longitude_deg", Number, Otherwise("that of the time zone"), "Longitude of the yard, degrees east; west of Greenwich it is below zero.", "", &["-105.1"]).within(-180.0, 180.0),
        field("elevation", Quantity(units::ELEVATION), Def(0.0), "Height above sea level, for air pressure.", "sea level; matters for air pressure only", &["4800"]).within(-300.0, 14500.0),
    ] },
    Table { name: "plant", many: false, required: true, meaning: "The brine plant.", fields: &[
        field("product", Reference, Otherwise("the first product of kind brine"), "Id of the product it makes.", "", &["\"brine\""]),
        field("making_rate", Quantity(units::HOURLY_RATE), Required, "Brine made per hour with water at rated_water_temp. Take it from your own runs.", "", &["3000"]).within(1.0, 100_000.0),
        field("rated_water_temp", Quantity(units::TEMPERATURE), Def(60.0), "Water temperature at which making_rate holds.", "usual reference temperature for gallons", &["60"]).within(33.0, 120.0),
        field("rate_loss_pct_per", Quantity(units::RATE_LOSS), Def(0.0), "Rate lost per degree that the water is colder than rated.", "none until your own runs show one", &["0.5"]).within(0.0, 5.0),
        field("water_temp", Quantity(units::TEMPERATURE), Otherwise("same as rated_water_temp"), "Water temperature now.", "", &["45"]).within(33.0, 120.0),
        field("water_rate", Quantity(units::MINUTELY_RATE), Required, "Most water the supply gives.", "", &["60"]).within(0.1, 5000.0),
        field("start_up", Quantity(units::SHORT_TIME), Def(20.0), "From switching on to the first brine.", PROPOSAL, &["20"]).within(0.0, 1440.0),
        field("settle_and_test", Quantity(units::SHORT_TIME), Def(60.0), "From the last brine to brine that may be loaded.", PROPOSAL, &["60"]).within(0.0, 2880.0),
        field("target_strength_pct", STRENGTH, Def(23.3), "Strength to make, per cent salt by mass.", "freezes lowest at this strength", &["23.3"]).within(0.0, STRONGEST),
        field("spec_low_pct", STRENGTH, Def(22.8), "Weakest brine in spec.", PROPOSAL, &["22.8"]).within(0.0, STRONGEST),
        field("spec_high_pct", STRENGTH, Def(23.8), "Strongest brine in spec.", PROPOSAL, &["23.8"]).within(0.0, STRONGEST),
        field("water_usd_per", Quantity(units::WATER_PRICE), Def(0.0), "Price of water.", "no cost until a price is given", &["6.50"]).within(0.0, 400.0),
    ] },
    Table { name: "salt", many: false, required: false, meaning: "Rock salt as delivered.", fields: &[
        field("purity_pct", Percent(0.0, 1.0), Def(95.0), "Sodium chloride in the dry salt.", "AASHTO M 143-14, clause 5.1", &["95"]).within(50.0, 100.0),
        field("moisture_pct", Percent(0.0, 0.0), Def(1.5), "Water in the salt as delivered.", PROPOSAL, &["1.5"]).within(0.0, 15.0),
        field("on_hand", Quantity(units::MASS), Def(0.0), "On hand when no ledger is given, as delivered. tons are short tons, t are tonnes.", "nothing until it is counted", &["180"]).within(0.0, 500_000.0),
        field("usd_per", Quantity(units::SALT_PRICE), Def(0.0), "Price as delivered.", "no cost until a price is given", &["68"]).within(0.0, 1000.0),
    ] },
    Table { name: "product", many: true, required: false, meaning: "A liquid that can stand in a tank. Without any, one product \"brine\" (Salt brine) is supplied.", fields: &[
        field("id", Id, Required, "Id used in this file and in the ledger.", "", &["\"brine\"", "\"mag30\""]),
        field("name", Text, Otherwise("the id"), "What people call it.", "", &["\"Salt brine\"", "\"Magnesium chloride 30 %\""]),
        field("kind", Choice(&["brine", "declared"]), Required, "brine: sodium chloride brine, predicted. declared: bought, known by its supplier's sheet.", "", &["\"brine\"", "\"declared\""]),
        field("base", Choice(&["magnesium", "calcium", "other"]), Otherwise("other"), "Chloride that does the work in a declared liquid: magnesium and calcium serve where a published rate asks for them.", "", &["#\"magnesium\"", "\"magnesium\""]),
        field("density", Quantity(units::DENSITY), Otherwise("required for kind declared"), "Density by the supplier's sheet.", "", &["#1280", "1280"]).within(900.0, 1700.0),
        field("density_temp", Quantity(units::TEMPERATURE), Def(60.0), "Temperature of that density.", "usual reference temperature for gallons", &["#60", "60"]).within(0.0, 120.0),
        field("chloride_pct", Percent(0.1, 0.7), Otherwise("required for kind declared"), "Chloride (Cl) by mass of liquid, by the supplier's sheet.", "", &["#22.3", "22.3"]).within(0.0, 70.0),
        field("source", Text, Otherwise("required for kind declared"), "Where these figures come from.", "", &["#\"supplier's sheet, 2025-09\"", "\"supplier's sheet, 2025-09\""]),
        field("usd_per", Quantity(units::LIQUID_PRICE), Def(0.0), "Price when bought. Brine made here is costed from salt and water instead.", "no cost until a price is given", &["#0", "1.35"]).within(0.0, 100.0),
    ] },
    Table { name: "tank", many: true, required: true, meaning: "A tank, by its inside measures.", fields: &[
        field("id", Id, Required, "Short id, as painted on the tank.", "", &["\"1\"", "\"2\"", "\"3\""]),
        field("product", Reference, Otherwise("the plant's product"), "Id of the product that belongs in it.", "", &["\"brine\"", "\"brine\"", "\"mag30\""]),
        field("orientation", Choice(&["vertical", "horizontal"]), Required, "Whether it stands or lies.", "", &["\"vertical\"", "\"horizontal\"", "\"vertical\""]),
        field("diameter", Quantity(units::SIZE), Required, "Inside diameter.", "", &["12", "8", "8"]).within(1.0, 100.0),
        field("straight_length", Quantity(units::SIZE), Required, "Length (or height) of the straight wall, without the ends.", "", &["14", "20", "10"]).within(0.5, 200.0).also("straight_height"),
        field("bottom", END_SHAPES, Word("flat"), "Bottom of a vertical tank; its top is flat or open.", "most standing tanks", &["\"conical\"", "", "\"flat\""]),
        field("ends", END_SHAPES, Word("flat"), "Both ends of a horizontal tank.", "the smallest volume; measure yours", &["#\"elliptical\"", "\"elliptical\""]),
        field("end_depth", Quantity(units::SIZE), Otherwise("required for elliptical and conical ends"), "From the end of the straight wall to the tip of the end.", "", &["2", "2"]).within(0.02, 50.0),
        field("crown_ratio", Number, Def(1.0), "Torispherical ends: crown radius over inside diameter.", "common flanged and dished end", &["#1.0"]).within(0.5, 10.0),
        field("knuckle_ratio", Share, Def(0.06), "Torispherical ends: knuckle radius over inside diameter.", "common flanged and dished end", &["#0.06"]).within(0.0, 0.5),
        field("insulation", Choice(&["none", "insulated", "indoors"]), Word("none"), "How it follows the weather.", "the coldest case", &["\"none\"", "\"insulated\"", "\"none\""]),
        field("retired", Switch, Otherwise("false"), "true: out of use. It is offered and planned with no more, and the books keep what it held.", "", &["#true", "", ""]),
        field("heel", Quantity(units::VOLUME), Def(0.0), "Volume that cannot be drawn: below the suction, and sludge.", "none until measured", &["150", "100", "60"]).within(0.0, 1_000_000.0),
        field("freeboard_pct", Percent(0.0, 0.5), Def(5.0), "Share of the full volume kept empty at the top. Or give freeboard as a volume.", "5 to 10 % is common practice, no source", &["5", "5", "5"]).within(0.0, 50.0),
        field("freeboard", Quantity(units::VOLUME), Otherwise("freeboard_pct of the full volume"), "Volume kept empty at the top.", "", &["#600"]).within(0.0, 1_000_000.0),
        field("nameplate", Quantity(units::VOLUME), Otherwise("not checked"), "Volume on the tank's plate, to check the measures against.", "", &["12400"]).within(1.0, 10_000_000.0),
        field("opening", Quantity(units::VOLUME), Otherwise("not known"), "Content when no ledger is given, as volume at 60 °F.", "", &["7200", "3000", "2500"]).within(0.0, 10_000_000.0),
        field("opening_strength_pct", STRENGTH, Otherwise("the plant's target strength, when opening is given"), "Strength of that content, for brine.", "", &["23.1", "23.3"]).within(0.0, STRONGEST),
    ] },
    Table { name: "product_freezing", many: true, required: false, meaning: "A row of a declared liquid's freezing table, by its supplier's sheet; its source is the product's. Nothing is read from between the rows.", fields: &[
        field("product", Reference, Required, "Id of the declared product.", "", &["\"mag30\"", "\"mag30\"", "\"mag30\""]),
        field("share_pct", Percent(0.0, 1.0), Required, "The product as delivered in water, per cent by volume. 100 is as delivered.", "", &["100", "75", "50"]).within(1.0, 100.0),
        field("freezing_temp", Quantity(units::TEMPERATURE), Required, "Where it freezes at that share.", "", &["2", "-17", "-3"]).within(-100.0, 32.0),
    ] },
    Table { name: "route_class", many: true, required: false, meaning: "What service a route gets.", fields: &[
        field("id", Id, Required, "Id used by routes.", "", &["\"A\"", "\"B\""]),
        field("anti_icing", Switch, Required, "Whether it is sprayed ahead of storms.", "", &["true", "false"]),
        field("cycle", Quantity(units::LONG_TIME), Required, "Time between passes in a storm.", "", &["1.5", "3"]).within(0.25, 48.0),
        field("bridges", Switch, Otherwise("true"), "Whether there are bridges on its routes: a deck freezes first and is told by itself.", "", &["#true"]),
        SURFACE, SKY_VIEW, SHADE, WET_BASE, VEHICLES, HEAVY, TRAFFIC_SPEED,
    ] },
    Table { name: "route", many: true, required: false, meaning: "A route.", fields: &[
        field("id", Id, Required, "Id.", "", &["\"R1\"", "\"R2\""]),
        field("name", Text, Otherwise("the id"), "What people call it.", "", &["\"Mill Road north\"", "\"Quarry loop\""]),
        field("class", Reference, Required, "Id of its route_class.", "", &["\"A\"", "\"B\""]),
        field("length", Quantity(units::ROAD), Required, "Length of road along its centre line.", "", &["14.2", "9.5"]).within(0.01, 500.0),
        field("lanes", Number, Otherwise("lane length over length; one of the two is required"), "Lanes treated, both directions together.", "", &["2", "4"]).within(0.5, 16.0),
        field("lane", Quantity(units::LANE), Otherwise("length times lanes"), "Lane length to treat.", "", &["28.4"]).within(0.01, 5000.0),
        field("truck", Reference, Otherwise("any truck"), "Id of the truck that works it.", "", &["\"K1\""]),
        field("drive", Quantity(units::SHORT_TIME), Def(10.0), "Drive from the yard to its start.", PROPOSAL, &["12", "20"]).within(0.0, 240.0),
        field("watershed", Reference, Otherwise("not said"), "Id of the watershed it drains to, for the chloride account.", "", &["\"mill brook\""]),
    ] },
    Table { name: "segment", many: true, required: false, meaning: "A stretch of a route that is colder or more shaded than its class, or a bridge of its own: it is worked out and told by itself.", fields: &[
        field("id", Id, Required, "Id used in this file and in the ledger.", "", &["\"cut\"", "\"span\""]),
        field("name", Text, Otherwise("the id"), "What people call it.", "", &["\"Rock cut\"", "\"River bridge\""]),
        field("route", Reference, Required, "Id of its route.", "", &["\"R1\"", "\"R2\""]),
        field("kind", Choice(&["road", "bridge"]), Word("road"), "bridge: a deck with air below.", "most stretches", &["\"road\"", "\"bridge\""]),
        SURFACE, SKY_VIEW,
        Field { samples: &["25"], ..SHADE },
        WET_BASE, VEHICLES, HEAVY, TRAFFIC_SPEED,
        field("street_axis_deg", Number, Otherwise("no walls beside it"), "Direction of a street between walls, degrees clockwise from north. The walls need wall_left, wall_right and wall_gap.", "", &["#15"]).within(0.0, 360.0),
        field("wall_left", Quantity(units::SIZE), Otherwise("required with street_axis_deg"), "Height of the walls to the left, looking along the street's direction.", "", &["#60"]).within(0.0, 1000.0),
        field("wall_right", Quantity(units::SIZE), Otherwise("required with street_axis_deg"), "Height of the walls to the right.", "", &["#60"]).within(0.0, 1000.0),
        field("wall_gap", Quantity(units::SIZE), Otherwise("required with street_axis_deg"), "From wall to wall.", "", &["#80"]).within(10.0, 1000.0),
        field("road_width", Quantity(units::SIZE), Def(40.0), "Width of the road between them.", PROPOSAL, &["#40"]).within(8.0, 300.0),
        field("wall_warmer", Quantity(units::STEP), Def(0.0), "How much warmer than the air the walls are.", "0 for trees and rock, up to 3 K for heated buildings", &["#3"]).within(0.0, 10.0),
        field("wind_share", Share, Def(1.0), "Wind at the road over the wind in the open.", PROPOSAL, &["#0.4"]).within(0.1, 1.0),
    ] },
    Table { name: "truck", many: true, required: false, meaning: "A truck that carries liquid.", fields: &[
        field("id", Id, Required, "Id.", "", &["\"K1\"", "\"K2\""]),
        field("tank", Quantity(units::VOLUME), Required, "Volume of its liquid tank.", "", &["1800", "3000"]).within(20.0, 6500.0),
        field("liquid_limit", Quantity(units::LOAD), Otherwise("no limit but the tank"), "Most the tank's content may weigh, from the truck's own limits.", "", &["17000"]).within(100.0, 80_000.0),
        field("spray_speed", Quantity(units::SPEED), Required, "Speed while spraying.", "", &["30", "25"]).within(1.0, 65.0),
        field("pump", Quantity(units::MINUTELY_RATE), Otherwise("not known"), "Most its sprayer pump gives, for what the truck can apply at a speed.", "", &["60"]).within(0.5, 1000.0),
        field("gross_limit", Quantity(units::LOAD), Otherwise("the bridge formula alone, where axles are given"), "Most the whole truck may weigh, loaded, by its papers or a local rule.", "", &["54000"]).within(1000.0, 200_000.0),
        field("liquid_at", Quantity(units::SIZE), Otherwise("required where axles are given"), "Centre of its liquid tank, behind the first axle.", "", &["14.5"]).within(-10.0, 80.0),
        field("hopper_at", Quantity(units::SIZE), Otherwise("same as liquid_at"), "Centre of its hopper, behind the first axle.", "", &["#13"]).within(-10.0, 80.0),
    ] },
    Table { name: "axle", many: true, required: false, meaning: "An axle of a truck, first to last: weigh the truck empty, axle by axle, with driver and fuel. With two groups of axles (one in front, one behind), a ticket says what each will carry.", fields: &[
        field("truck", Reference, Required, "Id of the truck.", "", &["\"K1\"", "\"K1\"", "\"K1\""]),
        field("at", Quantity(units::SIZE), Required, "Behind the first axle.", "", &["0", "14", "18.4"]).within(0.0, 80.0),
        field("empty", Quantity(units::LOAD), Required, "What it carries empty.", "", &["11200", "7300", "7300"]).within(100.0, 60_000.0),
        field("limit", Quantity(units::LOAD), Otherwise("the federal limits alone"), "Most it may carry, by the maker's plate or a local rule.", "", &["#20000", "#17000"]).within(500.0, 60_000.0),
    ] },
    Table { name: "loading", many: false, required: true, meaning: "The loading place.", fields: &[
        field("pump_rate", Quantity(units::MINUTELY_RATE), Required, "Rate of the loading pump.", "", &["200"]).within(1.0, 5000.0),
        field("places", Count, Def(1.0), "Trucks that can load at once.", PROPOSAL, &["1"]).within(1.0, 20.0),
        field("hook_up", Quantity(units::SHORT_TIME), Def(4.0), "Hook-up, paperwork and leaving, per truck.", "3 to 5 min is common practice, no source", &["4"]).within(0.0, 120.0),
    ] },
    Table { name: "crew", many: false, required: false, meaning: "When people are there, local time.", fields: &[
        field("making_hours", Hours, Word("06:00-22:00"), "Hours in which a making run may go on.", PROPOSAL, &["\"06:00-22:00\""]),
        field("spraying_hours", Hours, Word("00:00-24:00"), "Hours in which crews may spray ahead of a storm.", PROPOSAL, &["\"00:00-24:00\""]),
    ] },
    Table { name: "policy", many: false, required: false, meaning: "How your agency treats roads.", fields: &[
        field("lead_min", Quantity(units::LONG_TIME), Def(1.0), "Latest end of spraying before a storm starts.", PROPOSAL, &["1"]).within(0.0, 72.0),
        field("lead_max", Quantity(units::LONG_TIME), Def(24.0), "Earliest start of spraying before a storm starts.", PROPOSAL, &["24"]).within(0.0, 168.0),
        field("waste_share", Share, Def(0.05), "Share added to every gallon for flushing and waste, 0.05 for 5 %.", PROPOSAL, &["0.05"]).within(0.0, 0.5),
        field("cover_for", Choice(&["high", "mid"]), Word("high"), "Which demand a plan must cover.", PROPOSAL, &["\"high\""]),
        field("rush_morning", Hours, Word("06:00-09:00"), "Morning rush on workdays: a plan says when passes fall in it.", "common practice, no source", &["\"06:00-09:00\""]),
        field("rush_evening", Hours, Word("15:00-18:00"), "Evening rush on workdays.", "common practice, no source", &["\"15:00-18:00\""]),
        field("block_below", Quantity(units::TEMPERATURE), Def(15.0), "No plain salt brine on pavement colder than this.", PROPOSAL, &["15"]).within(-20.0, 32.0),
        field("warn_below", Quantity(units::TEMPERATURE), Def(20.0), "Warn on pavement colder than this.", PROPOSAL, &["20"]).within(-20.0, 40.0),
        field("warn_wind", Quantity(units::SPEED), Def(15.0), "Warn in wind above this on cold dry pavement.", PROPOSAL, &["15"]).within(0.0, 100.0),
        field("pavement_colder", Quantity(units::STEP), Def(3.0), "Pavement may be this much colder than the air where no pavement temperature is given.", PROPOSAL, &["3"]).within(0.0, 15.0),
        field("pavement_warmer", Quantity(units::STEP), Def(2.0), "Pavement may be this much warmer than the air where no pavement temperature is given.", PROPOSAL, &["2"]).within(0.0, 15.0),
        field("rates_on", Names, Otherwise("none"), "Ids of rate rows this yard switches on, over the shipped default.", "", &["[]"]),
        field("rates_off", Names, Otherwise("none"), "Ids of rate rows this yard switches off, over the shipped default.", "", &["[]"]),
    ] },
    Table { name: "instrument", many: true, required: false, meaning: "An instrument of the bench. Without any, two are supplied: a hydrometer 60/60 °F and a °Brix refractometer.", fields: &[
        field("id", Id, Required, "Id used in this file and in the ledger.", "", &["\"hydrometer\"", "\"refractometer\"", "\"shop\""]),
        field("name", Text, Otherwise("the id"), "What people call it.", "", &["\"Hydrometer 1.100 to 1.200\"", "\"Refractometer, °Brix\"", "\"Refractometer with the shop's own marks\""]),
        field("scale", Choice(&SCALES), Required, "What is engraved or shown; docs/bench.md explains each. printed: by its own table, [[printed_scale]].", "", &["\"sg_60_60\"", "\"brix\"", "\"printed\""]),
        field("compensated", Switch, Otherwise("false"), "A refractometer that compensates for temperature by itself.", "", &["#false", "true"]),
        field("alpha_pct_per_k", Number, Otherwise("the meter does not compensate"), "A conductivity meter's own compensation, per cent per kelvin.", "", &["#2", ""]).within(0.1, 5.0),
        field("alpha_reference", Quantity(units::TEMPERATURE), Def(77.0), "Temperature that compensation refers to.", "25 °C, ISO 7888", &["#77", ""]).within(32.0, 100.0),
        field("cell_factor", Number, Def(1.0), "Conductivity only: what the cell constant set in the meter is too large by, shown over true.", "right until a check says otherwise", &["#1", ""]).within(0.2, 5.0),
        field("full_pct", Percent(0.0, 0.3), Otherwise("as is usual for the scale"), "Salometer only: strength that is 100 degrees; 26.395, but 26.5 and 25 exist.", "", &["#26.395", ""]).within(20.0, 30.0),
        field("cup_ml", Number, Def(250.0), "Cup only: what it holds, mL.", PROPOSAL, &["#250", ""]).within(10.0, 20_000.0),
        field("offset", Number, Def(0.0), "What it shows too much by its certificate, in the unit of its scale; taken off every reading.", "none until a certificate says so", &["#0", "#0"]).within(-1000.0, 1000.0),
        field("check_every", Quantity(units::LONG_TIME), Otherwise("24 h for a refractometer, a week for any other"), "Longest time from one check in water or known brine to the next.", "common practice, no source", &["#168", "24"]).within(0.25, 9000.0),
        field("resolution", Number, Otherwise("as is usual for the scale"), "Smallest step it can be read to, in the unit of its scale.", "", &["0.001", "0.2"]).within(0.0, 1000.0),
        field("calibration", Number, Otherwise("as is usual for the scale"), "Standard uncertainty of its last zero or check, in the unit of its scale.", "", &["#0.0005", "#0.1"]).within(0.0, 1000.0),
        field("repeatability", Number, Otherwise("as is usual for the scale"), "Standard deviation of one reading after another of one sample, in the unit of its scale.", "", &["#0.0004", "#0.08"]).within(0.0, 1000.0),
    ] },
    Table { name: "printed_scale", many: true, required: false, meaning: "A point of a refractometer's own scale: what it shows in sodium chloride brine of a strength at 20 °C. Straight lines between, nothing beyond.", fields: &[
        field("instrument", Reference, Required, "Id of the instrument, whose scale is \"printed\".", "", &["\"shop\"", "\"shop\""]),
        field("strength_pct", Percent(0.0, 0.0), Required, "Strength of the brine.", "", &["0", "26"]).within(0.0, 40.0),
        field("shown", Number, Required, "What the scale shows in it.", "", &["0", "100"]).within(-10_000.0, 10_000.0),
    ] },
    Table { name: "spec", many: true, required: false, meaning: "Target and band of one tank, or of all tanks of a product, where they are not the plant's. A tank's goes before its product's.", fields: &[
        field("tank", Reference, Otherwise("every tank of the product"), "Id of the tank.", "", &["\"2\""]),
        field("product", Reference, Otherwise("this tank only"), "Id of the product, of kind brine.", "", &["#\"brine\""]),
        field("target_strength_pct", STRENGTH, Required, "Strength it should have.", "", &["23.3"]).within(0.0, STRONGEST),
        field("spec_low_pct", STRENGTH, Required, "Weakest in spec.", "", &["22.5"]).within(0.0, STRONGEST),
        field("spec_high_pct", STRENGTH, Required, "Strongest in spec.", "", &["23.8"]).within(0.0, STRONGEST),
        field("reason", Text, Otherwise("what freezes or drops out beyond the band"), "Why, for whoever reads the bench.", "", &["\"insulated, may run a little weaker\""]),
    ] },
    Table { name: "bench", many: false, required: false, meaning: "How the bench judges.", fields: &[
        field("risk_pct", Percent(0.0, 0.0), Def(5.0), "Chance of a wrong verdict, or of brine above the band by a trim, that you accept.", "usual for 95 % intervals", &["5"]).within(0.1, 30.0),
        field("thermometer", Quantity(units::STEP), Def(2.0), "How far off the thermometer of a sample may be, either way.", "common practice, no source", &["2"]).within(0.05, 20.0),
    ] },
    Table { name: "trim", many: false, required: false, meaning: "The one adjustable number of the plant's controller, and its panel.", fields: &[
        field("name", Text, Word("trim"), "What the number is called on the controller.", "neutral", &["\"trim\""]),
        field("largest_step", Share, Def(0.02), "Largest step that is ever advised, as a share of the number.", "neutral, from no machine", &["0.03"]).within(0.0005, 0.1),
        field("smallest_step", Number, Def(0.001), "Smallest step the controller takes, in units of the number.", "for a number about 1", &["0.005"]).within(1e-6, 1000.0),
        field("lag", Quantity(units::SHORT_TIME), Def(10.0), "From setting the number until the strength at the sample tap has moved by two thirds, as you observed it. The wait is three times this.", "neutral; observe your own", &["10"]).within(0.0, 240.0),
        field("panel_uncertainty_pct", Number, Def(0.1), "Standard uncertainty of the strength on the panel from one look to the next, per cent by mass.", PROPOSAL, &["0.1"]).within(0.001, 5.0),
    ] },
    Table { name: "signing", many: false, required: false, meaning: "How people sign at a shared device, once they are enrolled.", fields: &[
        field("pin", Choice(&["entry", "run", "shift"]), Word("shift"), "When the PIN is asked: at every entry, once a guided run, or once a shift. Acts of a supervisor ask for it every time.", "common practice, no source", &["\"shift\""]),
        field("shift", Quantity(units::LONG_TIME), Def(8.0), "How long a PIN holds on a device.", "a shift", &["8"]).within(0.25, 12.0),
    ] },
    Table { name: "put_right", many: false, required: false, meaning: "What a tank can be put right with.", fields: &[
        field("bucket", Quantity(units::BUCKET), Otherwise("not known"), "Rock salt as delivered in one bucket of the loader: weigh a few.", "", &["5400"]).within(20.0, 40_000.0),
        field("circulation", Quantity(units::MINUTELY_RATE), Otherwise("not known"), "Rate of the pump that circulates a tank.", "", &["150"]).within(1.0, 5000.0),
        field("turnovers", Number, Def(3.0), "Tank volumes to pump round before sampling again.", "common practice, no source", &["3"]).within(0.5, 20.0),
        field("transfer", Quantity(units::MINUTELY_RATE), Otherwise("not known"), "Rate of the pump from tank to tank.", "", &["200"]).within(1.0, 5000.0),
    ] },
    Table { name: "making", many: false, required: false, meaning: "How the plant is built and run, for the expected build-up, the judge of a run and the practice plant. docs/plant.md draws the ways. Without it runs are guided, and not judged.", fields: &[
        field("layout", Choice(&["batch", "fed", "upflow", "own"]), Required, "One of the three that ship, as they ship; or own: by the tables vessel, line, feeder and sensor of this file. \"brinewright simulate --tables batch\" prints those of a shipped one to begin from.", "", &["\"own\""]),
        field("way", Choice(&["batch", "fed", "upflow"]), Otherwise("required for layout own"), "batch: filled, salted, stirred, settled, let out. fed: fed and drawn all the time. upflow: water rises through a bed and is thinned.", "", &["\"batch\""]),
        field("vessel", Reference, Otherwise("the first vessel"), "Vessel that salt is put in.", "", &["\"mixing tank\""]),
        field("water", Reference, Otherwise("the first line from the supply"), "Line that fills it.", "", &["\"water\""]),
        field("stir", Reference, Otherwise("required for batch and fed"), "Line that keeps it moving.", "", &["\"circulation\""]),
        field("thin", Reference, Otherwise("required for upflow"), "Line of water that thins what leaves the bed.", "", &["#\"thinning\""]),
        field("outlet", Reference, Otherwise("the last line"), "Line that lets brine out.", "", &["\"outlet\""]),
        field("feed", Reference, Otherwise("the first feeder"), "Feeder that drops the salt.", "", &["\"feeder\""]),
        field("panel", Reference, Otherwise("the first sensor of strength"), "Sensor that the plant is run by.", "", &["\"panel\""]),
        field("fill_share", Share, Def(0.8), "batch: filled to this share of the vessel.", "leaves room for salt; your own", &["0.8"]).within(0.1, 1.0),
        field("empty_share", Share, Def(0.12), "batch: let out down to this share.", "above the suction; your own", &["0.12"]).within(0.0, 0.9),
        field("settle", Quantity(units::SHORT_TIME), Def(20.0), "batch: from the last salt to letting out.", PROPOSAL, &["20"]).within(0.0, 1440.0),
        field("level_share", Share, Def(0.75), "fed: level that is held.", PROPOSAL, &["#0.75"]).within(0.1, 1.0),
        field("bed", Quantity(units::MASS), Def(6.0), "upflow: salt kept in the bed.", PROPOSAL, &["#6"]).within(0.01, 500.0),
        field("look", Quantity(units::SECONDS), Def(30.0), "Time between two looks of whoever runs it, hand or controller.", PROPOSAL, &["30"]).within(5.0, 600.0),
    ] },
    Table { name: "vessel", many: true, required: false, meaning: "Layout own: something that holds liquid.", fields: &[
        field("id", Id, Required, "Id, as people call it.", "", &["\"mixing tank\""]),
        field("volume", Quantity(units::VOLUME), Required, "Full to the brim.", "", &["1600"]).within(1.0, 1_000_000.0),
        field("loss_w_per_k", Number, Def(30.0), "Heat it loses to the air, watts per kelvin.", "a bare plastic tank of 1000 gal; your own", &["40"]).within(0.0, 10_000.0),
        field("dissolves", Choice(&["no", "stirred", "bed"]), Word("no"), "How salt dissolves in it, where salt is put in.", "most vessels only hold", &["\"stirred\""]),
        field("stirred_by", Reference, Otherwise("required for stirred"), "Line that moves its liquid.", "", &["\"circulation\""]),
        field("grain_speed_m_s", Number, Def(0.05), "stirred: speed of liquid past the grains while that line runs.", "wide; learned from your runs", &["0.05"]).within(0.001, 5.0),
        field("cross_section_m2", Number, Otherwise("required for bed"), "bed: area the water rises through, m².", "", &["#2.4"]).within(0.05, 100.0),
        field("reached_share", Share, Def(0.6), "Share of the grains' surface that the liquid reaches.", "wide; learned from your runs", &["0.6"]).within(0.01, 1.0),
        field("sludge_room", Quantity(units::VOLUME), Otherwise("a tenth of its volume"), "Volume of sludge up to its suction.", "", &["160"]).within(0.0, 100_000.0),
    ] },
    Table { name: "line", many: true, required: false, meaning: "Layout own: something that carries liquid.", fields: &[
        field("id", Id, Required, "Id, as people call it.", "", &["\"water\"", "\"circulation\"", "\"outlet\""]),
        field("from", Text, Required, "supply, or the id of a vessel.", "", &["\"supply\"", "\"mixing tank\"", "\"mixing tank\""]),
        field("to", Text, Required, "out (to storage), or the id of a vessel.", "", &["\"mixing tank\"", "\"mixing tank\"", "\"out\""]),
        field("kind", Choice(&["pump", "valve", "overflow"]), Required, "How it works.", "", &["\"valve\"", "\"pump\"", "\"pump\""]),
        field("rate", Quantity(units::MINUTELY_RATE), Otherwise("required for pump and valve"), "Flow wide open, or at full.", "", &["60", "150", "120"]).within(0.1, 10_000.0),
        field("above_share", Share, Otherwise("required for overflow"), "Overflow: share of the vessel above which it runs over.", "", &["#0.8"]).within(0.01, 1.0),
        field("drains", Quantity(units::SECONDS), Def(60.0), "Overflow: what stands above runs over within about so long.", PROPOSAL, &["#60"]).within(1.0, 3600.0),
    ] },
    Table { name: "feeder", many: true, required: false, meaning: "Layout own: what drops salt.", fields: &[
        field("id", Id, Required, "Id, as people call it.", "", &["\"feeder\""]),
        field("store", Text, Word("hopper"), "What its salt lies in, as people call it.", "most plants", &["\"hopper\""]),
        field("into", Reference, Otherwise("the first vessel"), "Vessel it drops into.", "", &["\"mixing tank\""]),
        field("rate", Quantity(units::FEED), Required, "Salt as delivered at full: catch and weigh a minute.", "", &["132"]).within(0.1, 20_000.0),
    ] },
    Table { name: "sensor", many: true, required: false, meaning: "Layout own: something measured. Points of the network name it by its id.", fields: &[
        field("id", Id, Required, "Id, as people call it.", "", &["\"panel\"", "\"temperature\"", "\"level\"", "\"water meter\"", "\"circulation meter\""]),
        field("of", Choice(&["strength", "temperature", "level", "bed", "flow"]), Required, "What it measures. bed: salt that lies undissolved.", "", &["\"strength\"", "\"temperature\"", "\"level\"", "\"flow\"", "\"flow\""]),
        field("at", Reference, Otherwise("the first vessel; required for flow"), "Vessel, or for a flow the line.", "", &["\"mixing tank\"", "\"mixing tank\"", "\"mixing tank\"", "\"water\"", "\"circulation\""]),
        field("lag", Quantity(units::SECONDS), Def(20.0), "Time in which it follows by two thirds.", PROPOSAL, &["20", "30", "5", "5", "5"]).within(0.1, 3600.0),
        field("noise", Number, Otherwise("usual for its kind"), "Standard deviation of one look: per cent by mass, °C, share of full, kg of salt, m³/s.", "", &["0.05", "0.05", "0.002", "0.000002", "0.0001"]).within(0.0, 1000.0),
    ] },
    Table { name: "machine", many: true, required: false, meaning: "A controller, gateway or broker on the network that is read, and never written to.", fields: &[
        field("id", Id, Required, "Id used in this file.", "", &["\"controller\"", "\"broker\""]),
        field("name", Text, Otherwise("the id"), "What people call it.", "", &["\"Plant controller\"", "\"Level sensors\""]),
        field("protocol", Choice(&["modbus", "mqtt"]), Required, "modbus: Modbus TCP, polled. mqtt: MQTT 3.1.1, listened to.", "", &["\"modbus\"", "\"mqtt\""]),
        field("address", Text, Required, "Host and port.", "", &["\"192.0.2.10:502\"", "\"192.0.2.11:1883\""]),
        field("every", Quantity(units::SECONDS), Def(1.0), "modbus: time between two polls.", "one look a second", &["1", "#1"]).within(0.001, 3600.0),
        field("unit", Count, Def(1.0), "modbus: unit behind the address.", "usual", &["1", "#1"]).within(0.0, 255.0),
        field("register_base", Count, Def(0.0), "modbus: the number that the maker's list gives the first register: 0 or 1. A number that is right but for one place is this.", "as sent over the wire", &["0", "#0"]).within(0.0, 1.0),
        field("user", Text, Otherwise("none"), "mqtt: user name.", "", &["#\"yard\"", "\"yard\""]),
        field("password_file", Text, Otherwise("none"), "mqtt: file whose first line is the password.", "", &["#\"broker.secret\"", "#\"broker.secret\""]),
    ] },
    Table { name: "point", many: true, required: false, meaning: "Something read from a machine. What is read, times scale, plus offset, is in its unit.", fields: &[
        field("id", Id, Required, "Id, and its name in what is kept.", "", &["\"panel\"", "\"level\""]),
        field("name", Text, Otherwise("the id"), "What people call it.", "", &["\"Panel\"", "\"Mixing tank level\""]),
        field("machine", Reference, Required, "Id of the machine.", "", &["\"controller\"", "\"broker\""]),
        field("shows", Text, Otherwise("nothing of the layout"), "Sensor, line or feeder of the plant's layout that it stands for: lines and feeders as how far they are open, 0 to 1.", "", &["\"panel\"", "\"level\""]),
        field("tank", Reference, Otherwise("of no storage tank"), "Id of the storage tank whose level it is: unit ft or m is the depth from its lowest inside point, pct_full or share the part of its full volume.", "", &["", ""]),
        field("road", Reference, Otherwise("of no road"), "Id of the route_class or segment whose surface temperature it is; unit c or f.", "", &["#\"A\"", ""]),
        field("road_part", Choice(&["road", "bridge"]), Word("road"), "bridge: it lies in a bridge deck of that class.", "a sensor in the road", &["#\"road\"", ""]),
        field("table", Choice(&["input", "holding", "discrete", "coil"]), Word("input"), "modbus: which table.", "measured values usually stand there", &["\"input\"", "#\"input\""]),
        field("register", Count, Otherwise("required over modbus"), "modbus: its number, as in the maker's list.", "", &["100", "#0"]).within(0.0, 65_535.0),
        field("type", Choice(&["u16", "i16", "u32", "i32", "f32", "f64", "bit"]), Otherwise("u16; bit in tables of bits"), "modbus: how it is written there.", "", &["\"f32\"", "#\"u16\""]),
        field("words", Choice(&["high_first", "low_first"]), Word("high_first"), "modbus: which word of a longer number comes first. The page Live shows what each order would give.", "as the standard's examples", &["\"high_first\"", "#\"high_first\""]),
        field("topic", Text, Otherwise("required over mqtt"), "mqtt: its topic, without wildcards.", "", &["#\"\"", "\"plant/level\""]),
        field("json", Text, Otherwise("the message is the number"), "mqtt: where in a JSON message the number stands, as a JSON pointer (RFC 6901).", "", &["#\"/value\"", "\"/value\""]),
        field("scale", Number, Def(1.0), "Factor on what is read.", "as it is", &["1", "1"]).within(-1e9, 1e9),
        field("offset", Number, Def(0.0), "Added after that.", "none", &["0", "0"]).within(-1e9, 1e9),
        field("unit", Choice(&["pct", "c", "f", "pct_full", "share", "ft", "m", "gpm", "l_min", "m3_h", "kg", "lb", "none"]), Word("none"), "Unit it comes in then. pct: per cent salt by mass. pct_full: level. share: 0 to 1.", "a plain number", &["\"pct\"", "\"pct_full\""]),
        field("age_limit", Quantity(units::SECONDS), Def(10.0), "Older than this it is shown as stale and not used.", PROPOSAL, &["10", "30"]).within(0.1, 86_400.0),
    ] },
    Table { name: "meter", many: true, required: false, meaning: "A meter of liquid: what it counts, and how true it is.", fields: &[
        field("id", Id, Required, "Id used in this file and in the ledger.", "", &["\"loading meter\"", "\"water meter\""]),
        field("name", Text, Otherwise("the id"), "What people call it.", "", &["\"Loading meter\"", "\"Water meter\""]),
        field("on", Choice(&["loading", "water", "making"]), Required, "loading: liquid onto trucks. water: water into the plant. making: brine out of the plant.", "", &["\"loading\"", "\"water\""]),
        field("rolls_over", Quantity(units::VOLUME), Otherwise("never"), "Total at which it begins again at nought.", "", &["1000000"]).within(10.0, 10_000_000.0),
        field("factor", Number, Def(1.0), "True volume over volume shown. The page Meters works it out from weighed trucks.", "as the maker set it", &["1.0"]).within(0.5, 2.0),
        field("factor_uncertainty_pct", Number, Def(1.0), "Standard uncertainty of that factor, per cent.", PROPOSAL, &["1"]).within(0.01, 20.0),
    ] },
    Table { name: "watershed", many: true, required: false, meaning: "A water that routes drain to.", fields: &[
        field("id", Id, Required, "Id.", "", &["\"mill brook\""]),
        field("name", Text, Otherwise("the id"), "What people call it.", "", &["\"Mill Brook\""]),
        field("area", Quantity(units::AREA), Otherwise("not known: no concentration is shown"), "Land it drains.", "", &["12"]).within(0.001, 100_000.0),
        field("runoff", Quantity(units::SIZE), Otherwise("not known: no concentration is shown"), "Depth of water that runs off that land in a season, from a gauge or a map.", "", &["0.6"]).within(0.001, 20.0),
        field("background_mg_l", Number, Def(0.0), "Chloride its water carries without the yard's salt.", "none until it is sampled", &["15"]).within(0.0, 20_000.0),
    ] },
    Table { name: "agency", many: true, required: false, meaning: "An agency that liquid is issued to.", fields: &[
        field("name", Id, Required, "What people call it; the ledger names it so.", "", &["\"School district\""]),
        field("usd_per", Quantity(units::LIQUID_PRICE), Def(0.0), "Price of brine for it, by the gallon at 60 °F.", "no bill until a price is agreed", &["0.40"]).within(0.0, 100.0),
        field("bill_to", Text, Otherwise("the name alone"), "Address on the bill.", "", &["\"Grounds office, 12 Hill Street\""]),
    ] },
    Table { name: "contact", many: true, required: false, meaning: "Someone to call, printed on the night plan.", fields: &[
        field("name", Text, Required, "Who.", "", &["\"Lou, on call\""]),
        field("phone", Text, Required, "Telephone number.", "", &["\"555 0142\""]),
        field("why", Text, Word("yard"), "What for.", "the yard itself", &["\"plant and loading\""]),
    ] },
    Table { name: "chore", many: true, required: false, meaning: "A chore of the due list: a new one, or what is different here about one that ships (docs/due.md lists those).", fields: &[
        field("id", Id, Required, "Id: of one that ships, or new.", "", &["\"containment\"", "\"pump-seal\""]),
        field("off", Switch, Otherwise("false"), "true: not done here.", "", &["#true", ""]),
        field("task", Text, Otherwise("as it ships; required for a new one"), "What is to be done.", "", &["#\"Inspect the containment\"", "\"Look at the seal of the loading pump\""]),
        field("who", Text, Otherwise("as it ships; operator for a new one"), "Who does it.", "", &["#\"supervisor\"", "\"mechanic\""]),
        field("every", Quantity(units::SPAN), Otherwise("as it ships"), "Longest time from one to the next.", "", &["180", "#90"]).within(0.02, 4000.0),
        field("every_making", Quantity(units::SPAN), Otherwise("as it ships"), "Making time from one to the next.", "", &["#4", "4"]).within(0.02, 4000.0),
        field("every_made", Quantity(units::VOLUME), Otherwise("as it ships"), "Brine made from one to the next.", "", &["#100000", "#100000"]).within(1.0, 10_000_000.0),
    ] },
    Table { name: "receiving", many: false, required: false, meaning: "What rock salt must be to be taken: your contract's figures go here.", fields: &[
        field("accept_to_pct", Percent(0.0, 0.0), Def(1.6), "Moisture up to which nothing is taken off.", "example specification of MnDOT in the Minnesota field handbook, moisture worksheet", &["1.6"]).within(0.0, 20.0),
        field("deduction_pct", Percent(0.0, 0.0), Def(5.0), "Taken off the price above that.", "same example", &["5"]).within(0.0, 100.0),
        field("more_from_pct", Percent(0.0, 0.0), Def(2.0), "Moisture from which more is taken off.", "same example", &["2.0"]).within(0.0, 20.0),
        field("more_per_tenth_pct", Percent(0.0, 0.0), Def(3.0), "Taken off the price for every 0.1 % of moisture above that, on top.", "same example", &["3"]).within(0.0, 100.0),
        field("reject_above_pct", Percent(0.0, 0.0), Def(2.5), "Moisture above which it is sent back.", "same example", &["2.5"]).within(0.0, 20.0),
        field("sample_each", Quantity(units::MASS), Def(3000.0), "One sample for each such mass of an order, or part of it.", "Ohio DOT 712.03, sampling, 2005", &["3000"]).within(1.0, 100_000.0),
        field("increments", Count, Def(3.0), "Increments that make up a sample, at least.", "Ohio DOT 712.03, sampling, 2005", &["3"]).within(1.0, 50.0),
    ] },
    Table { name: "accounts", many: false, required: false, meaning: "How the books are kept.", fields: &[
        field("baseline", Quantity(units::LANE_RATE), Otherwise("no saving is shown"), "Dry salt that would have gone on a lane length, each time, without brine: from your own records.", "", &["300"]).within(1.0, 2000.0),
        field("baseline_source", Text, Otherwise("required with baseline"), "Where that figure comes from, printed beside every saving.", "", &["\"mean of our tickets, winters 2019 to 2022\""]),
        field("crew_usd_per_h", Number, Def(0.0), "A person's hour.", "no cost until it is given", &["38"]).within(0.0, 1000.0),
        field("truck_usd_per_h", Number, Def(0.0), "A truck's hour, without its driver.", "no cost until it is given", &["65"]).within(0.0, 2000.0),
        field("plant_usd_per_h", Number, Def(0.0), "An hour of the plant: power and wear.", "no cost until it is given", &["12"]).within(0.0, 2000.0),
        field("chronic_mg_l", Number, Def(230.0), "Chloride in water that can harm freshwater life over days (criterion).", "EPA 440/5-88-001, averaged over four days", &["230"]).within(1.0, 20_000.0),
        field("acute_mg_l", Number, Def(860.0), "Chloride in water that can harm freshwater life right away (criterion).", "EPA 440/5-88-001; states average it over an hour or a day", &["860"]).within(1.0, 20_000.0),
    ] },
    Table { name: "alerts", many: false, required: false, meaning: "Who is told when a tank will freeze, brine runs short, something falls due, or the machines fall silent.", fields: &[
        field("mail_to", Names, Otherwise("nobody is written to"), "Mail addresses.", "", &["# [\"lead@yard.example\"]"]),
        field("mail_from", Text, Otherwise("the first of mail_to"), "Address that mail comes from.", "", &["# \"brine@yard.example\""]),
        field("smtp_host", Text, Otherwise("required with mail_to"), "Mail server.", "", &["# \"mail.yard.example\""]),
        field("smtp_port", Count, Def(587.0), "Its port.", "RFC 6409", &["# 587"]).within(1.0, 65_535.0),
        field("smtp_security", Choice(&["starttls", "tls", "none"]), Fill::Text("starttls"), "How the connection is encrypted; none only for a server on this machine.", "RFC 8314", &["# \"starttls\""]),
        field("smtp_user", Text, Otherwise("none is given"), "Name at the mail server.", "", &["# \"brine\""]),
        field("smtp_password_file", Text, Otherwise("none is given"), "File whose first line is the password: it never stands in this file.", "", &["# \"smtp.password\""]),
        field("webhook", Text, Otherwise("nothing is posted"), "Address, http or https, that each alert is posted to as JSON.", "", &["# \"https://hooks.yard.example/brine\""]),
        field("quiet", Hours, Otherwise("none"), "Hours in which only what wakes is told; the rest waits until they end.", "", &["# \"21:00-05:00\""]),
        field("wake", Names, Otherwise("freeze, cover"), "What is told in quiet hours too: freeze, cover, call, due, telemetry, backup.", "", &["# [\"freeze\", \"cover\"]"]),
        field("again_h", Number, Def(6.0), "Hours after which an alert that nobody has seen is told again.", "our own choice", &["# 6"]).within(0.25, 168.0),
        field("backup_late_h", Number, Def(36.0), "Hours after which a backup is late.", "one night may fail", &["# 36"]).within(1.0, 720.0),
    ] },
];
