//! What a yard has settled: who is told, what is billed, what is due, what the bench and the crew go by.

use chemistry::MassFraction;
use quantity::{Mass, TemperatureInterval, ThermodynamicTemperature, Time, Velocity, Volume};

/// Kinds of alerts, by name.
pub(crate) const ALERT_KINDS: [&str; 6] = ["freeze", "cover", "call", "due", "telemetry", "backup"];

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
    /// Addresses that alerts go to.
    pub to: Vec<String>,
    /// Address that alerts come from.
    pub from: String,
    /// The server's name.
    pub host: String,
    /// TCP port of the mail server.
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
    /// Name of the person or the office.
    pub name: String,
    /// Telephone number, as it is dialed.
    pub phone: String,
    /// What to call them for.
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

/// When people are there.
#[derive(Debug, Clone)]
pub struct Crew {
    /// Hours of the local day at which a making run may go on: first (inclusive) to last (exclusive); 0 to 24 is
    /// round the clock. A start later than the end runs over midnight.
    pub making_from_hour: i8,
    /// Hour of the day at which making ends, exclusive, 0…24.
    pub making_to_hour: i8,
    /// Hours of the local day at which crews may spray ahead of a storm, same rule.
    pub spraying_from_hour: i8,
    /// Hour of the day at which spraying ends, exclusive, 0…24.
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
    /// Hours of the morning and the evening rush on workdays, from (inclusive) to (exclusive).
    pub rush: [(i8, i8); 2],
    /// Ids of rate rows switched on or off by this yard, over the shipped default.
    pub rates_on: Vec<String>,
    /// Ids of published rates that are switched off.
    pub rates_off: Vec<String>,
}
