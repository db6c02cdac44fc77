//! The fold: every event of a ledger, in order of happening, into the books.

use std::collections::HashSet;

use chemistry::MassFraction;
use quantity::{Mass, celsius, cubic_metres, hours, kilograms, metres};

use super::books::Books;
use super::content::Content;
use super::evidence::{DipEvidence, DipLook, JarTestEvidence, LoggedReading, ReadingEvidence};
use super::flow::{End, Flow, SaltEnd, SaltFlow, Walk};
use super::load::Load;
use super::moves::{percent, place};
use super::problem::{BookProblem, NotCounted};
use super::ticket::{Before, Flowed, Ticketed};
use event::{Body, CleanOut, EventId, Loss, Recorded};
use site::Yard;

/// Last events of a whole ledger among which single entries are remembered.
const REMEMBERED_EVENTS: usize = 4000;

/// Entries and totals kept at hand; up to twice as many.
const MOST_FLOWS: usize = 200;

/// Tickets kept at hand; up to twice as many.
const MOST_TICKETS: usize = 200;

/// Readings of a tank kept at hand; up to twice as many.
const MOST_READINGS: usize = 24;

impl Books {
    /// Folds a whole ledger, given in ledger order.
    pub fn fold(yard: &Yard, events: &[Recorded]) -> Self {
        Self::empty(yard).folded(yard, events)
    }

    /// Folds a whole ledger and writes down every change on the way.
    pub fn walk(yard: &Yard, events: &[Recorded]) -> (Self, Walk) {
        let mut books = Self::empty(yard);
        books.walk = Some(Box::default());
        let mut books = books.folded(yard, events);
        let walk = books.walk.take().map(|walk| *walk).unwrap_or_default();
        (books, walk)
    }

    fn folded(mut self, yard: &Yard, events: &[Recorded]) -> Self {
        let voided: HashSet<EventId> = events.iter().filter_map(|r| r.event.body.voids()).collect();
        let happened = |r: &Recorded| (r.event.occurred_at, r.seq);
        // Of a long ledger only its end is remembered entry by entry: copying each would cost as much as the fold.
        self.before_memory = events.len().saturating_sub(REMEMBERED_EVENTS);
        if events.is_sorted_by_key(happened) {
            self.apply_all(yard, events.iter().filter(|r| !voided.contains(&r.event.id)));
        } else {
            let mut sorted: Vec<&Recorded> =
                events.iter().filter(|r| !voided.contains(&r.event.id)).collect();
            sorted.sort_by_key(|r| happened(r));
            self.apply_all(yard, sorted.into_iter());
        }
        self.last_seq = events.last().map_or(0, |r| r.seq);
        self
    }

    /// Folds in one more event, or says that the whole ledger must be folded anew: it takes an earlier one back, or
    /// happened before the last.
    #[must_use]
    pub fn try_append(&mut self, yard: &Yard, recorded: &Recorded) -> bool {
        let late = self.last_occurred_at.is_some_and(|last| recorded.event.occurred_at < last);
        if late || recorded.event.body.voids().is_some() {
            return false;
        }
        self.apply_all(yard, std::iter::once(recorded));
        true
    }

    fn apply_all<'a>(&mut self, yard: &Yard, events: impl Iterator<Item = &'a Recorded>) {
        for recorded in events {
            self.before_memory = self.before_memory.saturating_sub(1);
            if let Some(walk) = &mut self.walk {
                walk.now = Some((recorded.event.id, recorded.event.occurred_at));
            }
            match self.apply(yard, recorded) {
                Ok(()) => self.estimates.take(yard, recorded),
                Err(reason) => {
                    self.problems.push(BookProblem::NotCounted { event: recorded.event.id, reason });
                }
            }
            self.last_occurred_at = Some(recorded.event.occurred_at);
            self.last_recorded_at = self.last_recorded_at.max(Some(recorded.recorded_at));
            self.last_seq = self.last_seq.max(recorded.seq);
        }
    }

    fn apply(&mut self, yard: &Yard, recorded: &Recorded) -> Result<(), NotCounted> {
        let (id, at) = (recorded.event.id, recorded.event.occurred_at);
        self.bench.take(recorded);
        self.runs.take(recorded);
        self.chores.take(recorded);
        self.calendar.take(recorded);
        self.roads.take(yard, recorded);
        if self.before_memory == 0 && recorded.event.body.is_of_amounts() {
            let (seq, body) = (recorded.seq, recorded.event.body.clone());
            keep_last(&mut self.flows, MOST_FLOWS, Flowed { event: id, seq, at, body });
        }
        match &recorded.event.body {
            Body::SaltDelivery(b) => {
                self.rock_salt += kilograms(b.mass_kg);
                self.totals.salt_delivered += kilograms(b.mass_kg);
                self.note_salt(SaltEnd::Delivered, kilograms(b.mass_kg));
            }
            Body::LiquidDelivery(b) => {
                let (tank, own) = place(yard, &b.tank)?;
                let product = match &b.product {
                    Some(id) => yard.product(id).ok_or_else(|| NotCounted::NoProduct(id.clone()))?,
                    None => own,
                };
                let (volume, strength) = (cubic_metres(b.volume_m3), percent(b.strength_pct)?);
                let liquid = Content::of_product(product, volume, b.temp_c, strength);
                self.book(tank)?.put(&liquid, id, at);
                self.note(End::Supplier, End::Tank(b.tank.clone()), liquid);
            }
            Body::MakingRun(b) => self.making_run(yard, id, at, b)?,
            Body::Reading(b) => {
                let reading = ReadingEvidence {
                    at,
                    strength: MassFraction::from_percent(b.strength_pct)?,
                    expanded_uncertainty: percent(b.uncertainty_pct)?,
                };
                let author = recorded.event.author.clone();
                let logged = LoggedReading { event: id, at, author, reading: b.clone() };
                let Some(tank) = &b.tank else {
                    keep_last(&mut self.tap, MOST_READINGS, logged);
                    return Ok(());
                };
                let book = self.book(place(yard, tank)?.0)?;
                book.reading = Some(reading);
                // A doubted reading speaks for nothing.
                book.put_since_reading = if b.doubt.is_some() { book.content.mass } else { kilograms(0.0) };
                keep_last(&mut book.readings, MOST_READINGS, logged);
            }
            Body::Dip(b) => {
                let (tank, _) = place(yard, &b.tank)?;
                let volume = tank.shape.volume_at(metres(b.depth_m))?;
                let book = self.book(tank)?;
                let dip = DipEvidence {
                    at,
                    volume,
                    temperature: b.temp_c.map(celsius),
                    book_volume: book.volume(yard),
                };
                book.dip = Some(dip);
                let look = DipLook {
                    at,
                    depth: metres(b.depth_m),
                    temperature: dip.temperature,
                    mass: book.content.mass,
                    sodium_chloride: book.content.sodium_chloride,
                };
                keep_last(&mut book.dips, MOST_READINGS, look);
            }
            Body::JarTest(b) => {
                if let Some(tank) = &b.tank {
                    self.book(place(yard, tank)?.0)?.jar_test = Some(JarTestEvidence {
                        at,
                        liquid_a: b.liquid_a.clone(),
                        liquid_b: b.liquid_b.clone(),
                        share_a_pct: b.share_a_pct,
                        temperature: celsius(b.temp_c),
                        duration: hours(b.duration_h),
                        result: b.result,
                        remark: b.remark.clone(),
                    });
                }
            }
            Body::Transfer(b) => {
                // Both ends are found before anything moves: half a transfer would lose its liquid.
                let (to, _) = place(yard, &b.to_tank)?;
                let liquid = self.draw(yard, id, at, &b.from_tank, b.volume_m3, b.temp_c)?;
                self.book(to)?.put(&liquid, id, at);
                self.note(End::Tank(b.from_tank.clone()), End::Tank(b.to_tank.clone()), liquid);
            }
            Body::Correction(b) => self.correction(yard, id, at, b)?,
            Body::LoadOut(b) => {
                let mut before = self.before(&b.tank, Some(&b.truck));
                let under = self.tank(&b.tank).and_then(|book| book.reading);
                let liquid = self.draw(yard, id, at, &b.tank, b.volume_m3, b.temp_c)?;
                self.totals.loaded += liquid.mass;
                let (_, product) = place(yard, &b.tank)?;
                // A truck that takes another product was emptied first.
                before.emptied = self.empty_of_other(&b.truck, &product.id);
                self.put_down_over(yard, &b.truck, liquid.volume(yard, None));
                self.remember(recorded, &b.tank, &liquid, before);
                self.note(End::Tank(b.tank.clone()), End::Truck(b.truck.clone()), liquid.clone());
                let empty = || Load::empty(product.id.clone());
                self.trucks.entry(b.truck.clone()).or_insert_with(empty).take(&liquid, &b.tank, under);
            }
            // Nothing came back: it came home empty, and the rest is where it was loaded for.
            Body::ReturnToTank(b) if b.volume_m3 <= 0.0 => {
                place(yard, &b.tank)?;
                self.empty_truck(&b.truck);
            }
            Body::ReturnToTank(b) => {
                let (liquid, emptied) = self.come_back(yard, id, at, b)?;
                self.remember(recorded, &b.tank, &liquid, Before { emptied, ..Before::default() });
            }
            Body::Application(b) => {
                // What a route got is on the road; the truck carries it no more.
                if let (Some(truck), Some(m3)) = (&b.truck, b.volume_m3) {
                    self.spray(yard, truck, &b.route, cubic_metres(m3));
                }
                let salt = kilograms(b.salt_kg.unwrap_or(0.0));
                self.totals.salt_spread += salt;
                self.use_salt(id, salt);
                self.note_salt(SaltEnd::Spread(b.route.clone()), salt);
            }
            Body::IssueOut(b) => {
                let before = self.before(&b.tank, None);
                let liquid = self.draw(yard, id, at, &b.tank, b.volume_m3, b.temp_c)?;
                self.totals.issued += liquid.mass;
                self.remember(recorded, &b.tank, &liquid, before);
                self.note(End::Tank(b.tank.clone()), End::Agency(b.agency.clone()), liquid);
            }
            Body::Loss(Loss { tank, volume_m3, .. }) | Body::CleanOut(CleanOut { tank, volume_m3, .. }) => {
                let liquid = self.draw(yard, id, at, tank, *volume_m3, None)?;
                self.totals.lost += liquid.mass;
                let is_lost = matches!(recorded.event.body, Body::Loss(_));
                let to = if is_lost { End::Lost } else { End::CleanedOut };
                self.note(End::Tank(tank.clone()), to, liquid);
            }
            Body::Settlement(b) => self.settle(yard, id, at, b)?,
            Body::MeterReading(b) => {
                let read = self.totals_read.entry(b.meter.clone()).or_default();
                keep_last(read, MOST_FLOWS, (at, cubic_metres(b.total_m3)));
            }
            Body::PanelCheck(_)
            | Body::TrimSet(_)
            | Body::InstrumentCheck(_)
            | Body::WaterChange(_)
            | Body::RunStart(_)
            | Body::RunStep(_)
            | Body::RunEnd(_)
            | Body::PlantFit(_)
            | Body::PracticeRun(_)
            | Body::SeasonStart(_)
            | Body::CheckSeen(_)
            | Body::MeterCheck(_)
            | Body::BucketCount(_)
            | Body::PileSurvey(_)
            | Body::WaterSample(_)
            | Body::RoadReading(_)
            | Body::SprayerCheck(_)
            | Body::SpreaderCheck(_)
            | Body::Storm(_)
            | Body::MonthClose(_)
            | Body::ChoreDone(_)
            | Body::Maintenance(_)
            | Body::Note(_)
            | Body::Void(_) => {}
        }
        Ok(())
    }

    pub(super) fn note(&mut self, from: End, to: End, liquid: Content) {
        if let Some(walk) = &mut self.walk
            && let Some((event, at)) = walk.now
        {
            walk.liquids.push(Flow { event, at, from, to, liquid });
        }
    }

    pub(super) fn note_salt(&mut self, end: SaltEnd, mass: Mass) {
        if let Some(walk) = &mut self.walk
            && let Some((event, at)) = walk.now
        {
            walk.salt.push(SaltFlow { event, at, end, mass });
        }
    }

    /// Remembers a ticket for a while.
    fn remember(&mut self, recorded: &Recorded, tank: &str, liquid: &Content, before: Before) {
        if self.before_memory > 0 {
            return;
        }
        let reading = self.tank(tank).and_then(|book| book.reading);
        let Before { lots, aboard, emptied } = before;
        let (recorded, liquid) = (recorded.clone(), liquid.clone());
        let ticket = Ticketed { recorded, liquid, lots, reading, aboard, emptied };
        keep_last(&mut self.tickets, MOST_TICKETS, ticket);
    }

    /// How a tank and a truck stand before a load.
    fn before(&self, tank: &str, truck: Option<&str>) -> Before {
        if self.before_memory > 0 {
            return Before::default();
        }
        let lots = self.tank(tank).map_or_else(Vec::new, |book| book.lots.clone());
        let aboard =
            truck.and_then(|truck| self.trucks.get(truck)).map_or(kilograms(0.0), |load| load.content.mass);
        Before { lots, aboard, emptied: None }
    }
}

/// Adds to a memory of the last few; up to twice as many are held. The older half goes at once, so that each costs the
/// same, however many there were.
fn keep_last<T>(memory: &mut Vec<T>, most: usize, new: T) {
    if memory.len() == 2 * most {
        memory.drain(..most);
    }
    memory.push(new);
}
