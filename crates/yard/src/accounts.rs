//! Where the brine, the salt, the chloride and the money went in a stretch of time.
//!
//! Every line is a sum over the changes of the book ([`crate::stock::Walk`]), so opening, changes and closing balance
//! by construction, and a report cannot say anything the ledger does not.

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use chemistry::Salt;
use chemistry::quantity::{
    Length, Mass, Time, Volume, cubic_metres, hours, in_cubic_metres, in_hours, in_kilograms, in_metres,
    in_short_tons, kilograms, metres,
};
use jiff::Timestamp;

use crate::Yard;
use crate::event::{Application, Body, EventId, Recorded, Sampled};
use crate::site::ProductKind;
use crate::stock::{Books, Content, End, Flow, SaltEnd, Walk};

/// A load this much smaller than planned is a shortage. Our own figure.
const SHORT_OF_PLAN: f64 = 0.95;

/// Treatments entered this much beyond the tickets are rounding and temperature, as a share. Our own figure.
const OFF_TICKET: f64 = 0.02;

/// A stretch of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Period {
    /// First moment.
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
    /// Bought.
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
    /// Delivered.
    pub delivered: Mass,
    /// Changed by settlements.
    pub agreed: Mass,
    /// Dissolved by making brine.
    pub made: Mass,
    /// Dissolved to put tanks right.
    pub corrected: Mass,
    /// Spread dry.
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
    /// Treatments entered.
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
    /// All liquid.
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

    fn join(&mut self, other: &Self) {
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
    /// Chloride.
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
    /// How many.
    pub count: usize,
    /// The most chloride found, mg/L.
    pub highest_mg_l: f64,
    /// Means over four days above the chronic figure.
    pub above_chronic: usize,
    /// Samples above the acute figure.
    pub above_acute: usize,
}

/// Four-day means above the chronic figure within three years that make a water impaired.
const IMPAIRED_BY_CHRONIC: usize = 2;
/// Samples count for so long, hours: three years.
const SAMPLES_COUNT_HOURS: i64 = 3 * 365 * 24;

impl Samples {
    /// Whether the water is impaired by the rule of Minnesota's chloride TMDL page: two four-day means above the
    /// chronic figure within three years, or one value above the acute one. Other states have rules of their own.
    pub fn is_impaired(&self) -> bool {
        IMPAIRED_BY_CHRONIC <= self.above_chronic || self.above_acute > 0
    }

    fn take(&mut self, mg_l: f64, is_mean: bool, limits: &crate::site::Accounts) {
        self.count += 1;
        self.highest_mg_l = self.highest_mg_l.max(mg_l);
        self.above_chronic += usize::from(is_mean && mg_l > limits.chronic_mg_l);
        self.above_acute += usize::from(mg_l > limits.acute_mg_l);
    }
}

/// Money, US dollars.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Money {
    /// A short ton of rock salt: mean of the deliveries with a price, else the yard file's.
    pub salt_usd_per_ton: f64,
    /// Salt dissolved into what was made.
    pub making_salt: f64,
    /// Water of what was made.
    pub making_water: f64,
    /// Hours of the plant, with one person.
    pub making_hours: f64,
    /// Brine made, per m³ at 60 °F: of the period, else by the yard file's figures.
    pub usd_per_m3_made: f64,
    /// Liquid put on roads: brine at its making cost, bought liquid at its price.
    pub liquid_on_road: f64,
    /// Dry salt put on roads.
    pub dry_on_road: f64,
    /// Trucks with their drivers.
    pub trucks: f64,
    /// Liquid that was lost and cleaned out.
    pub lost: f64,
    /// Billed to other agencies.
    pub billed: f64,
}

impl Money {
    /// What treating the roads cost.
    pub fn on_road(&self) -> f64 {
        self.liquid_on_road + self.dry_on_road + self.trucks
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
    /// The event.
    pub event: EventId,
    /// Its place in the ledger.
    pub seq: u64,
    /// When.
    pub at: Timestamp,
    /// Who.
    pub author: String,
    /// Tank.
    pub tank: String,
    /// Truck, or the agency it was issued to.
    pub to: String,
    /// Why.
    pub reason: String,
}

/// A load that was smaller than planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Short {
    /// The event.
    pub event: EventId,
    /// When.
    pub at: Timestamp,
    /// Route.
    pub route: Option<String>,
    /// What was missing.
    pub missing: Volume,
}

/// Everything of a period.
#[derive(Debug, Clone)]
pub struct Accounts {
    /// The period.
    pub period: Period,
    /// Each tank, in the yard file's order.
    pub tanks: Vec<(String, LiquidAccount)>,
    /// All tanks together; what went from one to another stands on both sides.
    pub liquids: LiquidAccount,
    /// Rock salt.
    pub salt: SaltAccount,
    /// Each route that got something, in the yard file's order; last, without a name, what no route is known for.
    pub routes: Vec<(Option<String>, RouteAccount)>,
    /// All routes together.
    pub roads: RouteAccount,
    /// Waters.
    pub watersheds: Vec<WatershedAccount>,
    /// Each agency's liquid, with how much it was billed.
    pub agencies: Vec<(String, Content, f64)>,
    /// Money.
    pub money: Money,
    /// Salt saved, where the yard file states a baseline and lane lengths were entered.
    pub saved: Option<Saved>,
    /// Loads over a doubt.
    pub overrides: Vec<Override>,
    /// Loads under their plan.
    pub shorts: Vec<Short>,
    /// Making hours.
    pub making_time: Time,
}

/// A ledger read for accounts: its events in order of happening, and every change of the book.
pub struct Journal<'a> {
    yard: &'a Yard,
    events: Vec<&'a Recorded>,
    by_id: HashMap<EventId, &'a Recorded>,
    taken_back: Vec<(&'a Recorded, &'a Recorded)>,
    /// The books at the end.
    pub books: Arc<Books>,
    /// Every change.
    pub walk: Arc<Walk>,
}

/// A ledger that was read through once, for any number of reports: the reading is what costs, some microseconds a row.
#[derive(Debug)]
pub struct WholeLedger {
    events: Vec<Recorded>,
    books: Arc<Books>,
    walk: Arc<Walk>,
}

impl WholeLedger {
    /// Reads a ledger, given in ledger order.
    pub fn read(yard: &Yard, events: Vec<Recorded>) -> Self {
        let (books, walk) = Books::walk(yard, &events);
        Self { events, books: Arc::new(books), walk: Arc::new(walk) }
    }

    /// Every row, in ledger order.
    pub fn events(&self) -> &[Recorded] {
        &self.events
    }

    /// What reports are made of. The yard is the one it was read for.
    pub fn journal<'a>(&'a self, yard: &'a Yard) -> Journal<'a> {
        Journal::of(yard, &self.events, Arc::clone(&self.books), Arc::clone(&self.walk))
    }
}

impl<'a> Journal<'a> {
    /// Reads a ledger, given in ledger order.
    pub fn new(yard: &'a Yard, ledger: &'a [Recorded]) -> Self {
        let (books, walk) = Books::walk(yard, ledger);
        Self::of(yard, ledger, Arc::new(books), Arc::new(walk))
    }

    fn of(yard: &'a Yard, ledger: &'a [Recorded], books: Arc<Books>, walk: Arc<Walk>) -> Self {
        let voided: std::collections::HashSet<EventId> =
            ledger.iter().filter_map(|r| r.event.body.voids()).collect();
        let mut events: Vec<&Recorded> = ledger.iter().filter(|r| !voided.contains(&r.event.id)).collect();
        events.sort_by_key(|r| (r.event.occurred_at, r.seq));
        let by_id = events.iter().map(|r| (r.event.id, *r)).collect();
        let all: HashMap<EventId, &Recorded> = if voided.is_empty() {
            HashMap::new()
        } else {
            ledger.iter().filter(|r| voided.contains(&r.event.id)).map(|r| (r.event.id, r)).collect()
        };
        let pair = |void: &'a Recorded| Some((void, *all.get(&void.event.body.voids()?)?));
        let taken_back = ledger.iter().filter_map(pair).collect();
        Self { yard, events, by_id, taken_back, books, walk }
    }

    /// The yard.
    pub fn yard(&self) -> &'a Yard {
        self.yard
    }

    /// Events that were not taken back, in order of happening.
    pub fn events(&self) -> &[&'a Recorded] {
        &self.events
    }

    /// An event that was not taken back.
    pub fn event(&self, id: EventId) -> Option<&'a Recorded> {
        self.by_id.get(&id).copied()
    }

    /// Every void with the event it took back.
    pub fn taken_back(&self) -> &[(&'a Recorded, &'a Recorded)] {
        &self.taken_back
    }

    /// From the first event to a moment after the last.
    pub fn whole(&self) -> Period {
        let at =
            |recorded: Option<&&Recorded>| recorded.map_or(Timestamp::UNIX_EPOCH, |r| r.event.occurred_at);
        let second = jiff::SignedDuration::from_secs(1);
        Period { from: at(self.events.first()), until: at(self.events.last()) + second }
    }

    /// Everything of a period.
    pub fn accounts(&self, period: Period) -> Accounts {
        let mut tanks: BTreeMap<&str, LiquidAccount> =
            self.yard.tanks.iter().map(|tank| (tank.id.as_str(), LiquidAccount::default())).collect();
        let mut liquids = LiquidAccount::default();
        let mut agencies: BTreeMap<String, (Content, f64)> = BTreeMap::new();
        for flow in &self.walk.liquids {
            let late = period.until <= flow.at;
            if late {
                continue;
            }
            let early = flow.at < period.from;
            for (tank, line, sign) in sides(flow) {
                let signed = flow.liquid.times(sign);
                for account in tanks.get_mut(tank).into_iter().chain([&mut liquids]) {
                    if early {
                        account.opening.add(&signed);
                    } else {
                        account.lines.entry(line).or_default().add(&flow.liquid);
                    }
                    account.closing.add(&signed);
                }
            }
            if let (End::Agency(name), false) = (&flow.to, early) {
                let billed = self.billed(flow);
                let entry = agencies.entry(name.clone()).or_default();
                entry.0.add(&flow.liquid);
                entry.1 += billed;
            }
        }
        let tanks: Vec<(String, LiquidAccount)> = self
            .yard
            .tanks
            .iter()
            .map(|tank| (tank, tanks.remove(tank.id.as_str()).unwrap_or_default()))
            .filter(|(tank, account)| !tank.is_retired || !account.is_empty())
            .map(|(tank, account)| (tank.id.clone(), account))
            .collect();
        let salt = self.salt(period);
        let routes = self.routes(period);
        let mut roads = RouteAccount::default();
        routes.iter().for_each(|(_, route)| roads.join(route));
        let (overrides, shorts, making_time) = self.loads(period);
        let agencies: Vec<(String, Content, f64)> =
            agencies.into_iter().map(|(name, (content, usd))| (name, content, usd)).collect();
        let mut accounts = Accounts {
            period,
            tanks,
            liquids,
            salt,
            watersheds: self.watersheds(&routes, period),
            routes,
            saved: self.saved(&roads),
            roads,
            agencies,
            money: Money::default(),
            overrides,
            shorts,
            making_time,
        };
        accounts.money = self.money(&accounts);
        accounts
    }

    /// What an issue was, or will be, billed.
    fn billed(&self, flow: &Flow) -> f64 {
        let Some(Body::IssueOut(issue)) = self.event(flow.event).map(|recorded| &recorded.event.body) else {
            return 0.0;
        };
        issue.price_usd.unwrap_or_else(|| bill(self.yard, &issue.agency, &flow.liquid))
    }

    fn salt(&self, period: Period) -> SaltAccount {
        let mut salt = SaltAccount::default();
        for flow in self.walk.salt.iter().filter(|flow| flow.at < period.until) {
            let signed = if flow.end.comes_in() { flow.mass } else { -flow.mass };
            salt.closing += signed;
            if flow.at < period.from {
                salt.opening += signed;
                continue;
            }
            match flow.end {
                SaltEnd::Delivered => salt.delivered += flow.mass,
                SaltEnd::Agreed => salt.agreed += flow.mass,
                SaltEnd::Made => salt.made += flow.mass,
                SaltEnd::Corrected => salt.corrected += flow.mass,
                SaltEnd::Spread(_) => salt.spread += flow.mass,
            }
        }
        salt
    }

    fn routes(&self, period: Period) -> Vec<(Option<String>, RouteAccount)> {
        let mut found: HashMap<Option<String>, RouteAccount> = HashMap::new();
        let mut parcels = Parcels::default();
        for flow in &self.walk.liquids {
            let in_period = period.holds(flow.at);
            for (route, content) in parcels.take(flow, self) {
                if in_period {
                    found.entry(route).or_default().liquid.add(&content);
                }
            }
        }
        // Volume and plan of the treatments entered, by route.
        let mut entered: HashMap<String, (Volume, Volume)> = HashMap::new();
        for recorded in self.events.iter().filter(|r| period.holds(r.event.occurred_at)) {
            match &recorded.event.body {
                Body::Application(done) => {
                    let account = found.entry(Some(done.route.clone())).or_default();
                    self.application(account, done);
                    let said = entered.entry(done.route.clone()).or_default();
                    said.0 += cubic_metres(done.volume_m3.unwrap_or(0.0));
                    said.1 += cubic_metres(done.planned_m3.unwrap_or(0.0));
                }
                Body::LoadOut(load) => {
                    let account = found.entry(load.route.clone()).or_default();
                    account.loads += 1;
                    if let Some(planned) = load.planned_m3 {
                        account.planned_liquid += cubic_metres(planned);
                        account.done_of_planned += cubic_metres(load.volume_m3);
                    }
                }
                _ => {}
            }
        }
        for (route, (volume, planned)) in entered {
            self.off_ticket(found.entry(Some(route)).or_default(), volume, planned);
        }
        let mut routes: Vec<(Option<String>, RouteAccount)> = Vec::new();
        for route in &self.yard.routes {
            let id = Some(route.id.clone());
            routes.extend(found.remove(&id).map(|account| (id, account)));
        }
        // Routes that the yard file no longer names, then what no route is known for.
        let mut rest: Vec<(Option<String>, RouteAccount)> = found.into_iter().collect();
        rest.sort_by(|a, b| (a.0.is_none(), &a.0).cmp(&(b.0.is_none(), &b.0)));
        routes.extend(rest);
        routes
    }

    /// What was entered as put down on a route beyond what its tickets brought there: by the period's sums, so that it
    /// does not matter which was entered first, or with which truck.
    fn off_ticket(&self, account: &mut RouteAccount, entered: Volume, planned: Volume) {
        let on_tickets = account.liquid.volume(self.yard, None);
        let beyond = entered - on_tickets;
        if beyond <= entered * OFF_TICKET || in_cubic_metres(beyond) <= 1e-3 {
            return;
        }
        if let Some(product) = self.yard.product(&self.yard.plant.product) {
            let strength = Some(self.yard.plant.target_strength);
            account.off_ticket.add(&Content::of_product(product, beyond, None, strength));
        }
        let share = f64::from(beyond / entered);
        account.planned_liquid += planned * share;
        if planned > cubic_metres(0.0) {
            account.done_of_planned += beyond;
        }
    }

    fn application(&self, account: &mut RouteAccount, done: &Application) {
        account.treatments += 1;
        account.dry_salt += kilograms(done.salt_kg.unwrap_or(0.0));
        account.planned_salt += kilograms(done.planned_salt_kg.unwrap_or(0.0));
        account.truck_time += hours(done.duration_h.unwrap_or(0.0));
        let whole = self.yard.route(&done.route).map(|route| route.lane_length);
        let lane = done.lane_m.map(metres).or(whole).unwrap_or_default();
        account.lane += lane;
        if done.salt_kg.unwrap_or(0.0) <= 0.0 {
            account.lane_liquid += lane;
        }
    }

    fn watersheds(&self, routes: &[(Option<String>, RouteAccount)], period: Period) -> Vec<WatershedAccount> {
        let mut sums: BTreeMap<Option<&str>, Mass> = BTreeMap::new();
        let mut sampled: HashMap<&str, Samples> = HashMap::new();
        let since = period.until - jiff::SignedDuration::from_hours(SAMPLES_COUNT_HOURS);
        for recorded in self.events.iter().filter(|r| r.event.occurred_at < period.until) {
            if let Body::WaterSample(sample) = &recorded.event.body
                && since <= recorded.event.occurred_at
            {
                let limits = &self.yard.accounts;
                let samples = sampled.entry(sample.watershed.as_str()).or_default();
                samples.take(sample.chloride_mg_l, sample.sampled == Sampled::FourDays, limits);
                sums.entry(Some(sample.watershed.as_str())).or_default();
            }
        }
        for (route, account) in routes {
            let water = route.as_deref().and_then(|id| self.yard.route(id)?.watershed.as_deref());
            *sums.entry(water).or_default() += account.chloride(self.yard);
        }
        let account = |(id, chloride): (Option<&str>, Mass)| {
            let site = id.and_then(|id| self.yard.watersheds.iter().find(|water| water.id == id));
            let in_runoff_mg_l = site.and_then(|water| {
                // 1 kg in 1 m³ is 1000 mg/L.
                let added = 1000.0 * in_kilograms(chloride) / in_cubic_metres(water.runoff?);
                Some(water.background_mg_l + added)
            });
            let samples = id.and_then(|id| sampled.get(id)).copied().unwrap_or_default();
            WatershedAccount { watershed: id.map(str::to_owned), chloride, samples, in_runoff_mg_l }
        };
        // What has no name stands last.
        let nameless = sums.remove(&None);
        let named = sums.into_iter().map(account).collect::<Vec<_>>();
        named.into_iter().chain(nameless.map(|mass| account((None, mass)))).collect()
    }

    fn saved(&self, roads: &RouteAccount) -> Option<Saved> {
        let rate = self.yard.accounts.baseline_kg_per_m?;
        let source = self.yard.accounts.baseline_source.clone()?;
        if in_metres(roads.lane) <= 0.0 {
            return None;
        }
        let of_liquid = roads.all_liquid().sodium_chloride / self.yard.rock_salt().sodium_chloride();
        let baseline = kilograms(rate * in_metres(roads.lane));
        Some(Saved { baseline, used: roads.dry_salt + of_liquid, source })
    }

    fn loads(&self, period: Period) -> (Vec<Override>, Vec<Short>, Time) {
        let (mut overrides, mut shorts, mut making) = (Vec::new(), Vec::new(), hours(0.0));
        for recorded in self.events.iter().filter(|r| period.holds(r.event.occurred_at)) {
            let (event, at) = (recorded.event.id, recorded.event.occurred_at);
            let over = |tank: &str, to: &str, reason: &Option<String>| {
                reason.clone().map(|reason| Override {
                    event,
                    seq: recorded.seq,
                    at,
                    author: recorded.event.author.clone(),
                    tank: tank.into(),
                    to: to.into(),
                    reason,
                })
            };
            match &recorded.event.body {
                Body::LoadOut(load) => {
                    overrides.extend(over(&load.tank, &load.truck, &load.override_reason));
                    if let Some(planned) = load.planned_m3.filter(|m3| load.volume_m3 < SHORT_OF_PLAN * m3) {
                        let missing = cubic_metres(planned - load.volume_m3);
                        shorts.push(Short { event, at, route: load.route.clone(), missing });
                    }
                }
                Body::IssueOut(issue) => {
                    overrides.extend(over(&issue.tank, &issue.agency, &issue.override_reason));
                }
                Body::MakingRun(run) => making += hours(run.duration_h.unwrap_or(0.0)),
                _ => {}
            }
        }
        (overrides, shorts, making)
    }

    fn money(&self, accounts: &Accounts) -> Money {
        let yard = self.yard;
        let (mut paid, mut tons) = (0.0, 0.0);
        // Dollars and cubic metres of each bought liquid.
        let mut bought: HashMap<&str, (f64, f64)> = HashMap::new();
        for recorded in self.events.iter().filter(|r| r.event.occurred_at < accounts.period.until) {
            match &recorded.event.body {
                Body::SaltDelivery(delivery) => {
                    if let Some(usd) = delivery.price_usd {
                        paid += usd;
                        tons += in_short_tons(kilograms(delivery.mass_kg));
                    }
                }
                Body::LiquidDelivery(delivery) => {
                    let of_tank = || yard.tank(&delivery.tank).map(|tank| tank.product.as_str());
                    if let (Some(usd), Some(product)) =
                        (delivery.price_usd, delivery.product.as_deref().or_else(of_tank))
                    {
                        let sum = bought.entry(product).or_default();
                        *sum = (sum.0 + usd, sum.1 + delivery.volume_m3);
                    }
                }
                _ => {}
            }
        }
        let salt_usd_per_ton = if tons > 0.0 { paid / tons } else { yard.salt.usd_per_short_ton };
        let price = |salt: Mass| in_short_tons(salt) * salt_usd_per_ton;
        let made = accounts.liquids.line(Line::Made);
        let made_m3 = in_cubic_metres(made.volume(yard, None));
        let making_salt = price(accounts.salt.made);
        let water_kg = in_kilograms(made.mass) - in_kilograms(made.sodium_chloride);
        let making_water = water_kg / 999.0 * yard.plant.water_usd_per_m3;
        let costs = &yard.accounts;
        let making_hours = in_hours(accounts.making_time) * (costs.plant_usd_per_h + costs.crew_usd_per_h);
        let usd_per_m3_made = if made_m3 > 0.0 {
            (making_salt + making_water + making_hours) / made_m3
        } else {
            making_usd_per_m3(self.yard, salt_usd_per_ton)
        };
        let liquid_usd = |content: &Content| {
            let mut brine = content.clone();
            let mut usd = 0.0;
            for (id, mass) in &content.declared {
                let Some(product) = yard.product(id) else { continue };
                if let ProductKind::Declared { density, .. } = &product.kind {
                    let paid = bought.get(id.as_str()).filter(|(_, m3)| *m3 > 0.0);
                    let usd_per_m3 = paid.map_or(product.usd_per_m3, |(usd, m3)| usd / m3);
                    usd += in_cubic_metres(*mass / *density) * usd_per_m3;
                }
            }
            brine.mass -= content.declared.values().fold(Mass::default(), |sum, mass| sum + *mass);
            brine.declared.clear();
            usd + in_cubic_metres(brine.volume(yard, None)) * usd_per_m3_made
        };
        let truck_h = in_hours(accounts.roads.truck_time);
        let mut lost = accounts.liquids.line(Line::Lost);
        lost.add(&accounts.liquids.line(Line::CleanedOut));
        Money {
            salt_usd_per_ton,
            making_salt,
            making_water,
            making_hours,
            usd_per_m3_made,
            liquid_on_road: liquid_usd(&accounts.roads.all_liquid()),
            dry_on_road: price(accounts.roads.dry_salt),
            trucks: truck_h * (costs.truck_usd_per_h + costs.crew_usd_per_h),
            lost: liquid_usd(&lost),
            billed: accounts.agencies.iter().map(|(.., usd)| usd).sum(),
        }
    }
}

/// Salt and water of a cubic metre at the plant's target, with the hours the yard file's rate needs.
pub(crate) fn making_usd_per_m3(yard: &Yard, salt_usd_per_ton: f64) -> f64 {
    let Some(product) = yard.product(&yard.plant.product) else { return 0.0 };
    let target = Some(yard.plant.target_strength);
    let one = Content::of_product(product, cubic_metres(1.0), None, target);
    let salt = one.sodium_chloride / yard.rock_salt().sodium_chloride();
    let water = (in_kilograms(one.mass) - in_kilograms(one.sodium_chloride)) / 999.0;
    let costs = &yard.accounts;
    let hour = in_cubic_metres(yard.plant.making_rate * hours(1.0));
    in_short_tons(salt) * salt_usd_per_ton
        + water * yard.plant.water_usd_per_m3
        + (costs.plant_usd_per_h + costs.crew_usd_per_h) / hour
}

/// Tanks that a flow touches, on which line, and whether it adds (+1) or takes (-1).
fn sides(flow: &Flow) -> Vec<(&str, Line, f64)> {
    let mut found = Vec::with_capacity(2);
    if let End::Tank(tank) = &flow.from {
        let line = match &flow.to {
            End::Tank(_) => Some(Line::ToTank),
            End::Truck(_) => Some(Line::Loaded),
            End::Agency(_) => Some(Line::Issued),
            End::Lost => Some(Line::Lost),
            End::CleanedOut => Some(Line::CleanedOut),
            End::Plant | End::Supplier | End::Added | End::Road(_) | End::Agreed => None,
        };
        found.extend(line.map(|line| (tank.as_str(), line, -1.0)));
    }
    if let End::Tank(tank) = &flow.to {
        let line = match &flow.from {
            End::Plant => Some(Line::Made),
            End::Supplier => Some(Line::Bought),
            End::Added => Some(Line::Added),
            End::Tank(_) => Some(Line::FromTank),
            End::Truck(_) => Some(Line::Returned),
            End::Agreed => Some(Line::Agreed),
            End::Road(_) | End::Agency(_) | End::Lost | End::CleanedOut => None,
        };
        found.extend(line.map(|line| (tank.as_str(), line, 1.0)));
    }
    found
}

/// What liquid is billed to an agency, US dollars: by its price and the volume at 60 °F; nothing without a price.
pub fn bill(yard: &Yard, agency: &str, liquid: &Content) -> f64 {
    let price = yard.agency(agency).map_or(0.0, |agency| agency.usd_per_m3);
    // To the cent, as it stands on the bill.
    (100.0 * price * in_cubic_metres(liquid.volume(yard, None))).round() / 100.0
}

/// What each truck carries, and for which route it was loaded.
#[derive(Default)]
struct Parcels {
    trucks: HashMap<String, Vec<(Option<String>, Content)>>,
}

impl Parcels {
    /// What a flow means for the routes: amounts they got (or, below zero, gave back).
    fn take(&mut self, flow: &Flow, journal: &Journal<'_>) -> Vec<(Option<String>, Content)> {
        match (&flow.from, &flow.to) {
            (End::Tank(_), End::Truck(truck)) => {
                let route = match journal.event(flow.event).map(|recorded| &recorded.event.body) {
                    Some(Body::LoadOut(load)) => load.route.clone(),
                    _ => None,
                };
                let parcel = (route, flow.liquid.clone());
                self.trucks.entry(truck.clone()).or_default().push(parcel.clone());
                vec![parcel]
            }
            (End::Truck(truck), End::Tank(_)) => {
                let (parts, beyond) = self.draw(truck, &flow.liquid, None);
                let back = |(route, content): (Option<String>, Content)| (route, content.times(-1.0));
                parts.into_iter().chain(beyond.map(|rest| (None, rest))).map(back).collect()
            }
            (End::Truck(truck), End::Road(Some(route))) => {
                let (parts, _) = self.draw(truck, &flow.liquid, Some(route));
                let mut moved = Vec::new();
                for (from, content) in parts {
                    if from.as_ref() != Some(route) {
                        moved.push((Some(route.clone()), content.clone()));
                        moved.push((from, content.times(-1.0)));
                    }
                }
                moved
            }
            // Put down where it was loaded for: nothing moves between routes.
            (End::Truck(truck), End::Road(None)) => {
                self.draw(truck, &flow.liquid, None);
                Vec::new()
            }
            _ => Vec::new(),
        }
    }

    /// Takes an amount off a truck: of the parcels for a route first, then of the last loaded; and what is beyond all.
    fn draw(
        &mut self,
        truck: &str,
        amount: &Content,
        first: Option<&String>,
    ) -> (Vec<(Option<String>, Content)>, Option<Content>) {
        let parcels = self.trucks.entry(truck.to_owned()).or_default();
        let total = in_kilograms(amount.mass);
        let mut left = total;
        let mut parts = Vec::new();
        let mut order: Vec<usize> = (0..parcels.len()).rev().collect();
        order.sort_by_key(|place| first.is_some() && parcels[*place].0.as_ref() != first);
        for place in order {
            if left <= 1e-9 {
                break;
            }
            let (route, parcel) = &mut parcels[place];
            let held = in_kilograms(parcel.mass);
            if held <= 1e-9 {
                continue;
            }
            let taken = held.min(left);
            parts.push((route.clone(), amount.times(taken / total)));
            *parcel = parcel.times(1.0 - taken / held);
            left -= taken;
        }
        parcels.retain(|(_, content)| in_kilograms(content.mass) > 1e-9);
        (parts, (left > 1e-9).then(|| amount.times(left / total)))
    }
}
