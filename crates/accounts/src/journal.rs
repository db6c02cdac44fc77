//! The ledger read as accounts.

use crate::account::SAMPLES_COUNT_HOURS;
use crate::parcels::Parcels;
use crate::{
    Accounts, Line, LiquidAccount, Money, Override, Period, RouteAccount, SaltAccount, Samples, Saved, Short,
    WatershedAccount, bill, making_usd_per_m3,
};
use event::{Application, Body, EventId, Recorded, Sampled};
use jiff::Timestamp;
use quantity::{
    Mass, Time, Volume, cubic_metres, hours, in_cubic_metres, in_hours, in_kilograms, in_metres,
    in_short_tons, kilograms, metres,
};
use site::ProductKind;
use site::Yard;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use yard::stock::{Books, Content, End, Flow, SaltEnd, Walk};

/// A load this much smaller than planned is a shortage. Our own figure.
const SHORT_OF_PLAN: f64 = 0.95;

/// Treatments entered this much beyond the tickets are rounding and temperature, as a share. Our own figure.
const OFF_TICKET: f64 = 0.02;

/// A ledger read for accounts: its events in order of happening, and every change of the book.
pub struct Journal<'a> {
    yard: &'a Yard,
    events: Vec<&'a Recorded>,
    by_id: HashMap<EventId, &'a Recorded>,
    taken_back: Vec<(&'a Recorded, &'a Recorded)>,
    /// The books at the end.
    pub books: Arc<Books>,
    /// Every change of the books, in order of happening.
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

    /// The yard that the ledger is of.
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
