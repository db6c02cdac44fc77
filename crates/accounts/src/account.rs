//! Accounts: what each line adds up to.

use crate::Money;
use chemistry::Salt;
use event::EventId;
use jiff::Timestamp;
use quantity::{Length, Mass, Time, Volume};
use site::Yard;
use std::collections::BTreeMap;
use yard::stock::Content;

/// A stretch of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Period {
    /// First moment, inclusive.
    pub from: Timestamp,
    /// First moment after it.
    pub until: Timestamp,
}

impl Period {
    /// Whether a moment lies in it.
    pub fn holds(&self, at: Timestamp) -> bool {
        self.from <= at && at < self.until
    }
}

/// A line of the account of a tank.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Line {
    /// Made by the plant.
    Made,
    /// Bought from a supplier.
    Bought,
    /// Water and salt put in to change the strength.
    Added,
    /// From another tank.
    FromTank,
    /// Brought back by trucks.
    Returned,
    /// Changed by settlements.
    Agreed,
    /// To another tank.
    ToTank,
    /// Loaded on trucks.
    Loaded,
    /// Issued to other agencies.
    Issued,
    /// Spilled or lost.
    Lost,
    /// Taken out as sludge and disposed of.
    CleanedOut,
}

impl Line {
    /// All lines, in the order of a report: what comes in, then what goes out.
    pub const ALL: [Line; 11] = [
        Line::Made,
        Line::Bought,
        Line::Added,
        Line::FromTank,
        Line::Returned,
        Line::Agreed,
        Line::ToTank,
        Line::Loaded,
        Line::Issued,
        Line::Lost,
        Line::CleanedOut,
    ];

    /// Whether it comes in.
    pub fn comes_in(self) -> bool {
        self <= Line::Agreed
    }
}

/// The account of one tank, or of all of them.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LiquidAccount {
    /// Content at the beginning.
    pub opening: Content,
    /// What changed it; lines on which nothing happened are absent.
    pub lines: BTreeMap<Line, Content>,
    /// Content at the end.
    pub closing: Content,
}

impl LiquidAccount {
    /// A line; nothing where nothing happened.
    pub fn line(&self, line: Line) -> Content {
        self.lines.get(&line).cloned().unwrap_or_default()
    }

    /// Nothing was there, and nothing happened.
    pub fn is_empty(&self) -> bool {
        self.lines.is_empty() && self.opening.parts().is_empty()
    }

    /// Opening with all changes, less the closing: zero but for rounding.
    pub fn error(&self) -> Mass {
        let change = self.lines.iter().fold(Mass::default(), |sum, (line, content)| {
            if line.comes_in() { sum + content.mass } else { sum - content.mass }
        });
        self.opening.mass + change - self.closing.mass
    }
}

/// The account of the rock salt, as delivered.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SaltAccount {
    /// On hand at the beginning.
    pub opening: Mass,
    /// Delivered by suppliers.
    pub delivered: Mass,
    /// Changed by settlements.
    pub agreed: Mass,
    /// Dissolved by making brine.
    pub made: Mass,
    /// Dissolved to put tanks right.
    pub corrected: Mass,
    /// Spread dry on roads.
    pub spread: Mass,
    /// On hand at the end.
    pub closing: Mass,
}

impl SaltAccount {
    /// Opening with all changes, less the closing: zero but for rounding.
    pub fn error(&self) -> Mass {
        self.opening + self.delivered + self.agreed - self.made - self.corrected - self.spread - self.closing
    }
}

/// What one route got.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RouteAccount {
    /// Liquid by tickets: loaded for it, less what came back.
    pub liquid: Content,
    /// Liquid that was entered as put down and is on no ticket: counted as brine of the plant's target strength.
    pub off_ticket: Content,
    /// Dry salt, as delivered.
    pub dry_salt: Mass,
    /// Lane length treated, each treatment counted.
    pub lane: Length,
    /// Of it with liquid alone.
    pub lane_liquid: Length,
    /// Number of treatments entered.
    pub treatments: usize,
    /// Loads taken for it.
    pub loads: usize,
    /// Liquid planned for its loads and treatments.
    pub planned_liquid: Volume,
    /// Liquid put down of those loads and treatments that had a plan.
    pub done_of_planned: Volume,
    /// Dry salt planned.
    pub planned_salt: Mass,
    /// Hours of trucks.
    pub truck_time: Time,
}

impl RouteAccount {
    /// All liquid put down on it, with a ticket and without.
    pub fn all_liquid(&self) -> Content {
        let mut all = self.liquid.clone();
        all.add(&self.off_ticket);
        all
    }

    /// Chloride in liquid and dry salt.
    pub fn chloride(&self, yard: &Yard) -> Mass {
        let of_salt = Salt::SodiumChloride.chloride_fraction().fraction();
        self.all_liquid().chloride(yard) + self.dry_salt * yard.rock_salt().sodium_chloride() * of_salt
    }

    pub(crate) fn join(&mut self, other: &Self) {
        self.liquid.add(&other.liquid);
        self.off_ticket.add(&other.off_ticket);
        self.dry_salt += other.dry_salt;
        self.lane += other.lane;
        self.lane_liquid += other.lane_liquid;
        self.treatments += other.treatments;
        self.loads += other.loads;
        self.planned_liquid += other.planned_liquid;
        self.done_of_planned += other.done_of_planned;
        self.planned_salt += other.planned_salt;
        self.truck_time += other.truck_time;
    }
}

/// Chloride that one water got.
#[derive(Debug, Clone, PartialEq)]
pub struct WatershedAccount {
    /// Id of the watershed; none for routes whose water nobody has named.
    pub watershed: Option<String>,
    /// Chloride (Cl) put down on its routes.
    pub chloride: Mass,
    /// What its samples say.
    pub samples: Samples,
    /// Chloride in its runoff if all of it got there within the season's water, with what it carries anyway, mg/L; none
    /// where the runoff is not known.
    pub in_runoff_mg_l: Option<f64>,
}

/// What the samples of a water say, in the three years up to the end of the period.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Samples {
    /// Number of samples.
    pub count: usize,
    /// The most chloride found, mg/L.
    pub highest_mg_l: f64,
    /// Means over four days above the chronic figure.
    pub above_chronic: usize,
    /// Samples above the acute figure.
    pub above_acute: usize,
}

/// Four-day means above the chronic figure within three years that make a water impaired.
pub(crate) const IMPAIRED_BY_CHRONIC: usize = 2;

/// Samples count for so long, hours: three years.
pub(crate) const SAMPLES_COUNT_HOURS: i64 = 3 * 365 * 24;

impl Samples {
    /// Whether the water is impaired by the rule of Minnesota's chloride TMDL page: two four-day means above the
    /// chronic figure within three years, or one value above the acute one. Other states have rules of their own.
    pub fn is_impaired(&self) -> bool {
        IMPAIRED_BY_CHRONIC <= self.above_chronic || self.above_acute > 0
    }

    pub(crate) fn take(&mut self, mg_l: f64, is_mean: bool, limits: &site::Accounts) {
        self.count += 1;
        self.highest_mg_l = self.highest_mg_l.max(mg_l);
        self.above_chronic += usize::from(is_mean && mg_l > limits.chronic_mg_l);
        self.above_acute += usize::from(mg_l > limits.acute_mg_l);
    }
}

/// Salt saved against what the yard says it would have used.
#[derive(Debug, Clone, PartialEq)]
pub struct Saved {
    /// What would have gone on the same lane length, dry, as delivered.
    pub baseline: Mass,
    /// What went: dry salt, and the salt in the liquid as the rock salt it came from.
    pub used: Mass,
    /// Where the figure comes from.
    pub source: String,
}

/// A load that was made although something spoke against it.
#[derive(Debug, Clone, PartialEq)]
pub struct Override {
    /// Id of its entry in the ledger.
    pub event: EventId,
    /// Its place in the ledger.
    pub seq: u64,
    /// When it happened.
    pub at: Timestamp,
    /// Who entered it, by the entry's own word.
    pub author: String,
    /// Id of the tank.
    pub tank: String,
    /// Truck, or the agency it was issued to.
    pub to: String,
    /// Reason that was typed for it.
    pub reason: String,
}

/// A load that was smaller than planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Short {
    /// Id of its entry in the ledger.
    pub event: EventId,
    /// When it happened.
    pub at: Timestamp,
    /// Id of the route.
    pub route: Option<String>,
    /// What was missing.
    pub missing: Volume,
}

/// Everything of a period.
#[derive(Debug, Clone)]
pub struct Accounts {
    /// The stretch of time it is of.
    pub period: Period,
    /// Each tank, in the yard file's order.
    pub tanks: Vec<(String, LiquidAccount)>,
    /// All tanks together; what went from one to another stands on both sides.
    pub liquids: LiquidAccount,
    /// Rock salt, as delivered.
    pub salt: SaltAccount,
    /// Each route that got something, in the yard file's order; last, without a name, what no route is known for.
    pub routes: Vec<(Option<String>, RouteAccount)>,
    /// All routes together.
    pub roads: RouteAccount,
    /// Each watershed that routes drain to.
    pub watersheds: Vec<WatershedAccount>,
    /// Each agency's liquid, with how much it was billed.
    pub agencies: Vec<(String, Content, f64)>,
    /// What it cost.
    pub money: Money,
    /// Salt saved, where the yard file states a baseline and lane lengths were entered.
    pub saved: Option<Saved>,
    /// Loads over a doubt.
    pub overrides: Vec<Override>,
    /// Loads under their plan.
    pub shorts: Vec<Short>,
    /// Time that the plant made brine.
    pub making_time: Time,
}
