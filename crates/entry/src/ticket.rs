//! What a load is checked for before a truck leaves: whether the tank may be loaded from, what the load weighs, and
//! what the truck's axles then carry. And what the ledger's loads, returns and late entries are flagged for afterwards.

use bench::Conformity;
use chemistry::MassFraction;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use message::{Message, Tell};
use quantity::{Length, Mass, Volume, cubic_metres, in_cubic_metres, in_kilograms, kilograms};
use road::weight::{self, GroupLoad, WeightError};

use accounts::Journal;
use event::{Body, EventId, IssueOut, LoadOut};
use site::Yard;
use site::{ProductKind, Truck};
use yard::estimate::TankEstimate;
use yard::stock::{BookProblem, Books, Content, End, ReadingEvidence};

/// A reading speaks for a tank until so much of its content came in after it, as a share. Our own figure.
const READING_HOLDS: f64 = 0.05;
/// A limit is passed when it is by more than this share: rounding of scales and papers.
const OVER: f64 = 1.001;

/// Whether a tank may be loaded from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// Measured in spec, and little has come in since.
    InSpec {
        /// The newest reading of the tank.
        reading: ReadingEvidence,
        /// Whether the reading's whole 95 % interval is in spec too.
        is_sure: bool,
    },
    /// A bought liquid, as it was bought.
    Bought,
    /// Measured out of spec.
    OutOfSpec {
        /// The newest reading of the tank.
        reading: ReadingEvidence,
        /// On which side it is out of spec, or that it cannot be told.
        conformity: Conformity,
    },
    /// Never measured, or changed too much by what has come in since.
    NotMeasured,
    /// It holds other liquids than its product.
    Mixed,
    /// Nothing is in it by the book.
    Empty,
}

impl Standing {
    /// Whether it may be loaded from without a reason.
    pub fn may_load(&self) -> bool {
        matches!(self, Standing::InSpec { .. } | Standing::Bought)
    }
}

/// Whether a tank may be loaded from; none for a tank that the yard file does not name.
pub fn standing(yard: &Yard, books: &Books, tank: &str) -> Option<Standing> {
    let site = yard.tank(tank)?;
    let product = yard.product(&site.product)?;
    let (book, stands) = (books.tank(tank)?, books.standing(yard, tank)?);
    if in_kilograms(stands.content.mass) <= 1.0 {
        return Some(Standing::Empty);
    }
    if !stands.content.unlike(product).is_empty() {
        return Some(Standing::Mixed);
    }
    if matches!(product.kind, ProductKind::Declared { .. }) {
        return Some(Standing::Bought);
    }
    let since = in_kilograms(book.put_since_reading) / in_kilograms(stands.content.mass);
    let Some(reading) = book.reading.filter(|_| since <= READING_HOLDS) else {
        return Some(Standing::NotMeasured);
    };
    let band = yard.spec(tank).band();
    // Something came in since, and what is thought to be there now is out of its band.
    let has_changed = in_kilograms(book.put_since_reading) > 1.0;
    if has_changed && stands.conformity.is_some_and(|conformity| conformity != Conformity::InSpec) {
        return Some(Standing::NotMeasured);
    }
    // The reading itself decides, and what is thought beside it; where its interval passes a limit, that is said.
    let by_reading = band.judge(reading.strength, MassFraction::ZERO);
    let by_all = stands.conformity.unwrap_or(by_reading);
    let out = [by_all, by_reading].into_iter().find(|conformity| *conformity != Conformity::InSpec);
    if let Some(conformity) = out {
        return Some(Standing::OutOfSpec { reading, conformity });
    }
    let interval = reading.expanded_uncertainty.unwrap_or(MassFraction::ZERO);
    let is_sure = band.judge(reading.strength, interval) == Conformity::InSpec;
    Some(Standing::InSpec { reading, is_sure })
}

/// Weight of a load, and what the truck's axles carry with it.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadWeight {
    /// Liquid of this load, by mass and composition.
    pub liquid: Content,
    /// Volume of this load at 60 °F.
    pub volume: Volume,
    /// Liquid of the same product left on the truck from before, by the ledger.
    pub aboard: Mass,
    /// Rock salt in the hopper, as entered with the load; zero when not entered.
    pub hopper: Mass,
    /// What the truck's axles carry, the tightest group first; none where the yard file gives no axles.
    pub groups: Option<Result<Vec<GroupLoad>, WeightError>>,
    /// Most liquid that the axles allow, with the group that sets the limit; none where they are over already or not
    /// known.
    pub most_by_axles: Option<(Mass, GroupLoad)>,
    /// Most liquid by the truck's own limit; none where the yard file gives none.
    pub liquid_limit: Option<Mass>,
}

impl LoadWeight {
    /// All liquid on the truck.
    pub fn all_liquid(&self) -> Mass {
        self.liquid.mass + self.aboard
    }

    /// Groups of axles that are over their limit.
    pub fn over(&self) -> Vec<GroupLoad> {
        let groups = self.groups.as_ref().and_then(|groups| groups.as_ref().ok());
        let is_over = |group: &&GroupLoad| group.load > group.limit * OVER;
        groups.map_or_else(Vec::new, |groups| groups.iter().filter(is_over).copied().collect())
    }

    /// Whether it is over the truck's own limit for liquid.
    pub fn is_over_liquid_limit(&self) -> bool {
        self.liquid_limit.is_some_and(|limit| self.all_liquid() > limit * OVER)
    }
}

/// What a volume from a tank weighs and does to a truck; none where one of them is not in the yard file, or the tank
/// has no content to tell the density by.
pub fn load_weight(yard: &Yard, books: &Books, load: &LoadOut) -> Option<LoadWeight> {
    let truck = yard.truck(&load.truck)?;
    let liquid = drawn(yard, books, &load.tank, load.volume_m3, load.temp_c)?;
    let product = &yard.tank(&load.tank)?.product;
    let aboard = books.trucks.get(&load.truck).filter(|held| held.product == *product);
    let aboard = aboard.map_or(kilograms(0.0), |held| held.content.mass);
    let hopper = kilograms(load.hopper_kg.unwrap_or(0.0));
    let volume = liquid.volume(yard, None);
    // Only this load is sure: what is left of an earlier one may have been sprayed without an entry.
    let groups = axle_groups(truck, liquid.mass, hopper);
    let most_by_axles = truck.liquid_at.filter(|_| !truck.axles.is_empty()).and_then(|at| {
        let loads = hopper_load(truck, hopper);
        let (empty, gross) = (empty(truck), truck.gross_limit);
        weight::most_liquid(&empty, &loads, at, gross).ok().flatten()
    });
    let liquid_limit = truck.liquid_limit;
    Some(LoadWeight { liquid, volume, aboard, hopper, groups, most_by_axles, liquid_limit })
}

/// What a volume from a tank holds; of an empty tank, what belongs there at the plant's target.
pub fn drawn(yard: &Yard, books: &Books, tank: &str, volume_m3: f64, temp_c: Option<f64>) -> Option<Content> {
    let product = yard.product(&yard.tank(tank)?.product)?;
    let stands = books.standing(yard, tank)?;
    let known = stands.strength.map(|strength| strength.value);
    let last = books.estimate(tank).and_then(TankEstimate::last_strength);
    let strength = known.or(last).or(Some(yard.plant.target_strength));
    Some(stands.content.drawn(yard, product, cubic_metres(volume_m3), temp_c, strength))
}

/// Volume that a mass from a tank fills at a temperature.
pub fn volume_of(yard: &Yard, books: &Books, tank: &str, mass: Mass, temp_c: Option<f64>) -> Option<Volume> {
    let one = drawn(yard, books, tank, 1.0, temp_c)?;
    let per_m3 = in_kilograms(one.mass);
    (per_m3 > 0.0).then(|| cubic_metres(in_kilograms(mass) / per_m3))
}

fn empty(truck: &Truck) -> Vec<weight::Axle> {
    truck.axles.iter().map(|axle| weight::Axle { at: axle.at, load: axle.empty, limit: axle.limit }).collect()
}

fn hopper_load(truck: &Truck, hopper: Mass) -> Vec<(Length, Mass)> {
    truck.hopper_at.map(|at| (at, hopper)).into_iter().collect()
}

/// What a truck's axles carry with a load, the tightest group first; none where the yard file gives no axles.
pub fn axle_groups(truck: &Truck, liquid: Mass, hopper: Mass) -> Option<Result<Vec<GroupLoad>, WeightError>> {
    let at = truck.liquid_at?;
    if truck.axles.is_empty() {
        return None;
    }
    let mut loads = hopper_load(truck, hopper);
    loads.push((at, liquid));
    let axles = weight::loaded(&empty(truck), &loads);
    Some(axles.map(|axles| weight::groups(&axles, truck.gross_limit)))
}

/// Something unusual about an entry of the ledger, for review.
#[derive(Debug, Clone, PartialEq)]
pub enum Oddity {
    /// More than the truck's tank holds, by so much.
    OverTruckTank(Volume),
    /// Heavier than the truck may carry, by so much.
    OverWeight(Mass),
    /// More came back than the truck had, by so much.
    MoreBackThanLoaded(Mass),
    /// Another load or issue has the same paper ticket number; its place in the ledger.
    SameTicket(u64),
    /// Entered or voided for a month whose books were closed already; the month, such as `2027-01`.
    AfterClosing(String),
    /// It took the book of a tank, or of the salt pile (none), below zero: something was not entered, or entered twice.
    BelowZero(Option<String>),
    /// It could not be added to the books; the message says why.
    NotCounted(Message),
    /// Another agency has no price in the yard file and none was typed.
    NoPrice,
}

/// An entry to review.
#[derive(Debug, Clone, PartialEq)]
pub struct Flag {
    /// Id of the entry.
    pub event: EventId,
    /// Its place in the ledger.
    pub seq: u64,
    /// When it happened.
    pub at: Timestamp,
    /// Who entered it.
    pub author: String,
    /// What is unusual about it.
    pub oddity: Oddity,
}

/// Entries to review among loads, returns, issues and late entries, in order of time.
pub fn flags(journal: &Journal<'_>, zone: &TimeZone) -> Vec<Flag> {
    let yard = journal.yard();
    let mut aboard: std::collections::HashMap<&End, f64> = std::collections::HashMap::new();
    let mut tickets: std::collections::HashMap<&str, u64> = std::collections::HashMap::new();
    let mut found = Vec::new();
    let flag = |event: EventId, oddity: Oddity| {
        let recorded = journal.event(event)?;
        let (seq, at, author) = (recorded.seq, recorded.event.occurred_at, recorded.event.author.clone());
        Some(Flag { event, seq, at, author, oddity })
    };
    for flow in &journal.walk.liquids {
        let mass = in_kilograms(flow.liquid.mass);
        let Some(recorded) = journal.event(flow.event) else { continue };
        match (&recorded.event.body, &flow.from, &flow.to) {
            (Body::LoadOut(load), End::Tank(_), truck @ End::Truck(_)) => {
                *aboard.entry(truck).or_default() += mass;
                let odd = load_oddities(yard, load, flow.liquid.mass);
                found.extend(odd.into_iter().filter_map(|oddity| flag(flow.event, oddity)));
                found.extend(
                    same_ticket(&mut tickets, load.ticket.as_deref(), recorded.seq)
                        .and_then(|oddity| flag(flow.event, oddity)),
                );
            }
            (Body::IssueOut(issue), ..) => {
                found.extend(no_price(yard, issue).and_then(|oddity| flag(flow.event, oddity)));
                found.extend(
                    same_ticket(&mut tickets, issue.ticket.as_deref(), recorded.seq)
                        .and_then(|oddity| flag(flow.event, oddity)),
                );
            }
            (Body::ReturnToTank(_), truck @ End::Truck(_), End::Tank(_)) => {
                let held = aboard.entry(truck).or_default();
                // A hundredth for the difference of two strengths.
                if mass > held.max(0.0) * 1.01 + 1.0 {
                    let more = kilograms(mass - held.max(0.0));
                    found.extend(flag(flow.event, Oddity::MoreBackThanLoaded(more)));
                }
                *held = (*held - mass).max(0.0);
            }
            (_, truck @ End::Truck(_), End::Road(_)) => {
                let held = aboard.entry(truck).or_default();
                *held = (*held - mass).max(0.0);
            }
            _ => {}
        }
    }
    for (void, taken) in journal.taken_back().iter().filter(|(_, taken)| taken.event.body.moves_books()) {
        let month = yard::calendar::month_of(taken.event.occurred_at, zone);
        if journal.books.calendar.closed_at(&month).is_some_and(|closed| closed < void.recorded_at) {
            found.extend(flag(void.event.id, Oddity::AfterClosing(month)));
        }
    }
    for late in journal.books.calendar.late(zone) {
        found.extend(flag(late.event, Oddity::AfterClosing(late.month)));
    }
    for problem in &journal.books.problems {
        let (event, oddity) = match problem {
            BookProblem::TankBelowZero { tank, event } => (*event, Oddity::BelowZero(Some(tank.clone()))),
            BookProblem::SaltBelowZero { event } => (*event, Oddity::BelowZero(None)),
            BookProblem::NotCounted { event, reason } => (*event, Oddity::NotCounted(reason.message())),
        };
        found.extend(flag(event, oddity));
    }
    found.sort_by_key(|flag| (flag.at, flag.seq));
    found
}

fn load_oddities(yard: &Yard, load: &LoadOut, liquid: Mass) -> Vec<Oddity> {
    let Some(truck) = yard.truck(&load.truck) else { return Vec::new() };
    let mut found = Vec::new();
    if load.volume_m3 > in_cubic_metres(truck.tank) * OVER {
        found.push(Oddity::OverTruckTank(cubic_metres(load.volume_m3) - truck.tank));
    }
    // What is still aboard from an earlier load may have been sprayed without an entry: only this load is sure.
    let by_limit = truck.liquid_limit.map(|limit| liquid - limit * OVER);
    let hopper = kilograms(load.hopper_kg.unwrap_or(0.0));
    let by_axles = axle_groups(truck, liquid, hopper)
        .and_then(Result::ok)
        .and_then(|groups| groups.first().map(|group| group.load - group.limit * OVER));
    let over = [by_limit, by_axles].into_iter().flatten().filter(|over| in_kilograms(*over) > 0.0);
    found.extend(over.max_by(|a, b| in_kilograms(*a).total_cmp(&in_kilograms(*b))).map(Oddity::OverWeight));
    found
}

fn same_ticket<'e>(
    seen: &mut std::collections::HashMap<&'e str, u64>,
    ticket: Option<&'e str>,
    seq: u64,
) -> Option<Oddity> {
    let before = seen.insert(ticket?, seq);
    before.map(Oddity::SameTicket)
}

fn no_price(yard: &Yard, issue: &IssueOut) -> Option<Oddity> {
    let has_price = yard.agency(&issue.agency).is_some_and(|agency| agency.usd_per_m3 > 0.0);
    (issue.price_usd.is_none() && !has_price).then_some(Oddity::NoPrice)
}
