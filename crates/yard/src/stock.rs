//! What the events add up to: content of each tank and the salt pile, by mass.
//!
//! A fold of the ledger in order of happening. Dips, readings and meters are evidence: kept beside the book, never a
//! reset; only a settlement replaces a book figure. A book stock below zero is kept and flagged, never refused: it says
//! that the books do not close. The fold can be dropped and rebuilt at any time from the same events.
//!
//! A declared liquid that came together with anything else is still counted, by mass and chloride (`content`); its
//! strength and freezing are never worked out.

mod content;
mod evidence;
mod flow;
mod load;
mod truck;

use std::collections::{BTreeMap, HashSet};

use chemistry::MassFraction;
use jiff::Timestamp;
use quantity::{Mass, Volume, celsius, cubic_metres, hours, in_kilograms, kilograms, metres};

use crate::bench_log::BenchLog;
use crate::calendar::Calendar;
use crate::chore_log::ChoreLog;
use crate::estimate::Estimates;
use crate::event::{Body, EventId, Recorded};
use crate::run_log::RunLog;
use site::{Product, Tank, Yard};

use content::ROUNDING_KG;
pub use content::put_in;
pub use content::{Content, Liquid, Part};
pub use evidence::{DipEvidence, DipLook, JarTestEvidence, LoggedReading, ReadingEvidence};
pub use flow::{End, Flow, SaltEnd, SaltFlow, Walk};
pub use load::Load;
pub use truck::{RESIDUE_GALLONS, RESIDUE_SHARE, Rest, residue};

/// Everything the ledger says the yard holds.
#[derive(Debug, Clone)]
pub struct Books {
    /// Tanks, in the yard file's order.
    pub tanks: Vec<TankBook>,
    /// Rock salt as delivered; below zero when the books do not close.
    pub rock_salt: Mass,
    /// Totals of the season.
    pub totals: Totals,
    /// The last few readings of samples from the plant's tap, oldest first.
    pub tap: Vec<LoggedReading>,
    /// What the tanks are thought to hold, by the flows and all evidence.
    pub estimates: Estimates,
    /// What each truck carries, as far as the ledger knows.
    pub trucks: BTreeMap<String, Load>,
    /// What does not add up.
    pub problems: Vec<BookProblem>,
    /// What the bench remembers.
    pub bench: BenchLog,
    /// Guided runs.
    pub runs: RunLog,
    /// Last ledger place folded in.
    pub last_seq: u64,
    last_occurred_at: Option<Timestamp>,
    /// When the ledger last took an entry, by the clock of the machine it is on.
    pub last_recorded_at: Option<Timestamp>,
    /// When chores were done, and what they count from.
    pub chores: ChoreLog,
    /// Closed months and named storms.
    pub calendar: Calendar,
    /// The last totals read of each meter, in order of time.
    pub totals_read: BTreeMap<String, Vec<(Timestamp, Volume)>>,
    /// The last entries that could be made twice, oldest first.
    pub flows: Vec<Flowed>,
    /// The last tickets, oldest first.
    pub tickets: Vec<Ticketed>,
    /// Events of a whole ledger that are folded before memories of single entries begin.
    before_memory: usize,
    /// Written down while a walk is made.
    walk: Option<Box<Walk>>,
}

/// A load, an issue or a return as it was entered, with what it was made of: its ticket.
#[derive(Debug, Clone)]
pub struct Ticketed {
    /// The entry.
    pub recorded: Recorded,
    /// What was moved.
    pub liquid: Content,
    /// What stood in the tank before, by lot.
    pub lots: Vec<Lot>,
    /// The tank's reading that was the last then.
    pub reading: Option<ReadingEvidence>,
    /// Liquid that was on the truck before, by the ledger.
    pub aboard: Mass,
    /// What of another product was counted off the truck with it.
    pub emptied: Option<Rest>,
}

/// An entry as it was made, to know it by when it comes again.
#[derive(Debug, Clone, PartialEq)]
pub struct Flowed {
    /// The event.
    pub event: EventId,
    /// Row of the ledger.
    pub seq: u64,
    /// When it happened.
    pub at: Timestamp,
    /// What.
    pub body: Body,
}

/// Last events of a whole ledger among which single entries are remembered.
const REMEMBERED_EVENTS: usize = 4000;

/// Entries and totals kept at hand; up to twice as many.
const MOST_FLOWS: usize = 200;

/// Tickets kept at hand; up to twice as many.
const MOST_TICKETS: usize = 200;

/// Book and evidence of one tank.
#[derive(Debug, Clone)]
pub struct TankBook {
    /// Tank id.
    pub tank: String,
    /// All content.
    pub mass: Mass,
    /// Sodium chloride in it; zero for declared liquids.
    pub sodium_chloride: Mass,
    /// Declared liquids in it, by product; the rest of the mass is brine or water.
    pub declared: BTreeMap<String, Mass>,
    /// Last strength it was known to have, for when it runs empty.
    pub last_strength: Option<MassFraction>,
    /// Last dip.
    pub dip: Option<DipEvidence>,
    /// The last few dips, oldest first, each with the book beside it.
    pub dips: Vec<DipLook>,
    /// When the book was last set by agreement.
    pub settled_at: Option<Timestamp>,
    /// Last reading.
    pub reading: Option<ReadingEvidence>,
    /// The last few readings as they were logged, oldest first.
    pub readings: Vec<LoggedReading>,
    /// Last jar test meant for it.
    pub jar_test: Option<JarTestEvidence>,
    /// When something last went in or out.
    pub moved_at: Option<Timestamp>,
    /// What came in since the last reading.
    pub put_since_reading: Mass,
    /// What the content came from, oldest first; draws take from all in proportion.
    pub lots: Vec<Lot>,
}

/// Part of a tank's content that came in with one event.
#[derive(Debug, Clone, Copy)]
pub struct Lot {
    /// The event; none for older lots merged into one.
    pub event: Option<EventId>,
    /// When it came in; of the youngest, when merged.
    pub at: Timestamp,
    /// What is left of it.
    pub mass: Mass,
}

/// Lots kept apart in a tank; older ones are merged.
const MOST_LOTS: usize = 8;

/// Readings of a tank kept at hand; up to twice as many.
const MOST_READINGS: usize = 24;

/// Sums over the ledger.
#[derive(Debug, Clone, Copy, Default)]
pub struct Totals {
    /// Brine made.
    pub made: Mass,
    /// Rock salt delivered.
    pub salt_delivered: Mass,
    /// Rock salt dissolved.
    pub salt_dissolved: Mass,
    /// Rock salt spread dry.
    pub salt_spread: Mass,
    /// Liquid loaded on trucks.
    pub loaded: Mass,
    /// Liquid brought back.
    pub returned: Mass,
    /// Liquid issued to others.
    pub issued: Mass,
    /// Liquid lost and cleaned out.
    pub lost: Mass,
}

/// Something that does not add up. The event stays in the ledger.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BookProblem {
    /// The book of a tank went below zero.
    TankBelowZero {
        /// Tank.
        tank: String,
        /// Event that took it there.
        event: EventId,
    },
    /// The book of the salt pile went below zero.
    SaltBelowZero {
        /// Event that took it there.
        event: EventId,
    },
    /// An event that could not be counted.
    NotCounted {
        /// Event.
        event: EventId,
        /// Why.
        reason: String,
    },
}

impl TankBook {
    /// All of it, by what is in it.
    pub fn content(&self) -> Content {
        let (mass, sodium_chloride) = (self.mass, self.sodium_chloride);
        Content { mass, sodium_chloride, declared: self.declared.clone() }
    }

    /// Strength of the content; none when it is empty, not salt brine, or a mix with a declared liquid.
    pub fn strength(&self) -> Option<MassFraction> {
        self.content().strength()
    }

    /// The liquids it holds, most first, when they are anything but the tank's product alone: then nothing is
    /// predicted. Empty when all is as it should be.
    pub fn unlike(&self, product: &Product) -> Vec<Part> {
        self.content().unlike(product)
    }

    /// Volume of the content at 60 °F, below zero when the book is. Of a mix, what its parts would fill apart.
    pub fn volume(&self, yard: &Yard) -> Volume {
        self.content().volume(yard, self.last_strength)
    }

    /// What the last dip found above the book, below zero where the book was higher; none without a dip, and where the
    /// two were settled since.
    pub fn dip_above_book(&self) -> Option<Volume> {
        let dip = self.dip.filter(|dip| self.settled_at.is_none_or(|settled| settled <= dip.at))?;
        Some(dip.volume - dip.book_volume)
    }

    /// Chloride (Cl) in the content.
    pub fn chloride(&self, yard: &Yard) -> Mass {
        self.content().chloride(yard)
    }

    fn hold(&mut self, content: Content) {
        let Content { mass, sodium_chloride, declared } = content;
        (self.mass, self.sodium_chloride, self.declared) = (mass, sodium_chloride, declared);
    }

    /// Puts liquid in, as a lot of its own.
    fn put(&mut self, liquid: &Content, event: EventId, at: Timestamp) {
        let mut content = self.content();
        content.add(liquid);
        self.hold(content);
        self.last_strength = self.strength().or(self.last_strength);
        self.moved_at = Some(at);
        self.put_since_reading += liquid.mass;
        if self.lots.len() == MOST_LOTS {
            let oldest = self.lots.remove(0);
            if let Some(next) = self.lots.first_mut() {
                next.event = None;
                next.mass += oldest.mass;
            }
        }
        self.lots.push(Lot { event: Some(event), at, mass: liquid.mass });
    }

    /// Takes liquid out, from all lots in proportion.
    fn draw(&mut self, liquid: &Content, at: Timestamp) {
        let before = in_kilograms(self.mass);
        let mut content = self.content();
        content.add(&liquid.times(-1.0));
        self.hold(content);
        self.last_strength = self.strength().or(self.last_strength);
        self.moved_at = Some(at);
        let left = if before > 0.0 { (in_kilograms(self.mass) / before).clamp(0.0, 1.0) } else { 0.0 };
        if left <= 0.0 {
            self.lots.clear();
        }
        for lot in &mut self.lots {
            lot.mass *= left;
        }
    }
}

/// How a tank and a truck stood before a load.
#[derive(Default)]
struct Before {
    lots: Vec<Lot>,
    aboard: Mass,
    emptied: Option<Rest>,
}

impl Books {
    /// An empty yard: nothing has happened yet.
    pub fn empty(yard: &Yard) -> Self {
        let tanks = yard
            .tanks
            .iter()
            .map(|tank| TankBook {
                tank: tank.id.clone(),
                mass: kilograms(0.0),
                sodium_chloride: kilograms(0.0),
                declared: BTreeMap::new(),
                last_strength: None,
                dip: None,
                dips: Vec::new(),
                settled_at: None,
                reading: None,
                readings: Vec::new(),
                jar_test: None,
                moved_at: None,
                put_since_reading: kilograms(0.0),
                lots: Vec::new(),
            })
            .collect();
        Self {
            tanks,
            rock_salt: kilograms(0.0),
            totals: Totals::default(),
            tap: Vec::new(),
            estimates: Estimates::empty(yard),
            trucks: BTreeMap::new(),
            problems: Vec::new(),
            bench: BenchLog::default(),
            runs: RunLog::default(),
            last_seq: 0,
            last_occurred_at: None,
            last_recorded_at: None,
            chores: ChoreLog::default(),
            calendar: Calendar::default(),
            totals_read: BTreeMap::new(),
            flows: Vec::new(),
            tickets: Vec::new(),
            before_memory: 0,
            walk: None,
        }
    }

    /// The yard file's own opening figures, for a plan without a ledger.
    pub fn opening(yard: &Yard) -> Self {
        let mut books = Self::empty(yard);
        books.rock_salt = yard.salt.opening;
        for (book, tank) in books.tanks.iter_mut().zip(&yard.tanks) {
            let (Some(opening), Some(product)) = (tank.opening, yard.product(&tank.product)) else {
                continue;
            };
            let content = Content::of_product(product, opening.volume, None, opening.strength);
            books.estimates.open(yard, &tank.id, &content, Timestamp::UNIX_EPOCH);
            book.hold(content);
            book.last_strength = opening.strength;
        }
        books
    }

    /// Folds a whole ledger, given in ledger order.
    pub fn fold(yard: &Yard, events: &[Recorded]) -> Self {
        Self::empty(yard).folded(yard, events)
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

    /// The same with what level sensors of storage tanks show beside the ledger's evidence. The book is as it was.
    #[must_use]
    pub fn with_levels(&self, yard: &Yard, levels: &[(String, crate::estimate::Level)]) -> Self {
        Self { estimates: self.estimates.with_levels(yard, levels), ..self.clone() }
    }

    /// When the last entry happened.
    pub fn last_occurred_at(&self) -> Option<Timestamp> {
        self.last_occurred_at
    }

    /// Book of a tank.
    pub fn tank(&self, id: &str) -> Option<&TankBook> {
        self.tanks.iter().find(|tank| tank.tank == id)
    }

    /// The last few readings of a tank, or of the plant's tap, oldest first.
    pub fn readings_from(&self, tank: Option<&str>) -> &[LoggedReading] {
        match tank {
            Some(tank) => self.tank(tank).map_or(&[], |book| book.readings.as_slice()),
            None => &self.tap,
        }
    }

    /// Whether the books close: nothing stands below zero, and every event could be counted.
    pub fn close(&self) -> bool {
        let counted = !self.problems.iter().any(|p| matches!(p, BookProblem::NotCounted { .. }));
        counted
            && self.tanks.iter().all(|tank| -ROUNDING_KG <= in_kilograms(tank.mass))
            && -ROUNDING_KG <= in_kilograms(self.rock_salt)
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

    fn apply(&mut self, yard: &Yard, recorded: &Recorded) -> Result<(), String> {
        let (id, at) = (recorded.event.id, recorded.event.occurred_at);
        self.bench.take(recorded);
        self.runs.take(recorded);
        self.chores.take(recorded);
        self.calendar.take(recorded);
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
                    Some(id) => yard.product(id).ok_or_else(|| no_product(id))?,
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
                    strength: MassFraction::from_percent(b.strength_pct).map_err(|e| e.to_string())?,
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
                book.put_since_reading = if b.doubt.is_some() { book.mass } else { kilograms(0.0) };
                keep_last(&mut book.readings, MOST_READINGS, logged);
            }
            Body::Dip(b) => {
                let (tank, _) = place(yard, &b.tank)?;
                let volume = tank.shape.volume_at(metres(b.depth_m)).map_err(|e| e.to_string())?;
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
                    mass: book.mass,
                    sodium_chloride: book.sodium_chloride,
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
            Body::Loss(crate::event::Loss { tank, volume_m3, .. })
            | Body::CleanOut(crate::event::CleanOut { tank, volume_m3, .. }) => {
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

    fn making_run(
        &mut self,
        yard: &Yard,
        id: EventId,
        at: Timestamp,
        run: &crate::event::MakingRun,
    ) -> Result<(), String> {
        let (tank, own) = place(yard, &run.tank)?;
        // Whatever the tank is for, the plant makes its own product.
        let product = yard.product(&yard.plant.product).unwrap_or(own);
        let strength = percent(Some(run.strength_pct))?;
        let liquid = Content::of_product(product, cubic_metres(run.volume_m3), run.temp_c, strength);
        let rock_salt = match run.salt_kg {
            Some(kg) => kilograms(kg),
            None => liquid.sodium_chloride / yard.rock_salt().sodium_chloride(),
        };
        self.book(tank)?.put(&liquid, id, at);
        self.totals.made += liquid.mass;
        self.totals.salt_dissolved += rock_salt;
        self.use_salt(id, rock_salt);
        self.note_salt(SaltEnd::Made, rock_salt);
        self.note(End::Plant, End::Tank(run.tank.clone()), liquid);
        Ok(())
    }

    fn correction(
        &mut self,
        yard: &Yard,
        id: EventId,
        at: Timestamp,
        correction: &crate::event::Correction,
    ) -> Result<(), String> {
        let (tank, _) = place(yard, &correction.tank)?;
        let rock_salt = kilograms(correction.salt_kg.unwrap_or(0.0));
        let liquid = put_in(yard, correction)?;
        self.book(tank)?.put(&liquid, id, at);
        self.totals.salt_dissolved += rock_salt;
        self.use_salt(id, rock_salt);
        self.note_salt(SaltEnd::Corrected, rock_salt);
        // Whatever was put in to change its strength: it is to be measured again.
        let book = self.book(tank)?;
        book.put_since_reading = book.mass;
        self.note(End::Added, End::Tank(correction.tank.clone()), liquid);
        Ok(())
    }

    /// Puts back what a truck brings: the answer is that, and what of another product was counted off the truck first.
    fn come_back(
        &mut self,
        yard: &Yard,
        id: EventId,
        at: Timestamp,
        back: &crate::event::ReturnToTank,
    ) -> Result<(Content, Option<Rest>), String> {
        let (tank, product) = place(yard, &back.tank)?;
        if self.carries_other(yard, &back.truck, &product.id) {
            let carried = self.trucks.get(&back.truck).map_or("", |load| load.product.as_str());
            return Err(format!(
                "truck \"{}\" carries {carried}, tank \"{}\" holds {}",
                back.truck, tank.id, product.id
            ));
        }
        let emptied = self.empty_of_other(&back.truck, &product.id);
        // What comes back is what the truck took; without a load on the books it counts as what is in the tank.
        let load = self.trucks.get(&back.truck).filter(|load| in_kilograms(load.mass) > ROUNDING_KG).cloned();
        let carried = load.as_ref().and_then(Load::strength);
        let book = self.book(tank)?;
        let strength = carried.or(book.strength()).or(book.last_strength);
        let held = load.as_ref().map_or_else(|| book.content(), Load::content);
        let liquid = held.drawn(yard, product, cubic_metres(back.volume_m3), back.temp_c, strength);
        let last = book.reading;
        let measured = load.map_or(kilograms(0.0), |load| load.measured_part(liquid.mass, &tank.id, last));
        book.put(&liquid, id, at);
        // What left this tank after its reading and comes back is what was measured.
        book.put_since_reading -= measured;
        if let Some(load) = self.trucks.get_mut(&back.truck) {
            load.lose(liquid.mass);
        }
        self.totals.returned += liquid.mass;
        self.note(End::Truck(back.truck.clone()), End::Tank(back.tank.clone()), liquid.clone());
        Ok((liquid, emptied))
    }

    fn settle(
        &mut self,
        yard: &Yard,
        id: EventId,
        at: Timestamp,
        agreed: &crate::event::Settlement,
    ) -> Result<(), String> {
        let tank = agreed.tank.as_ref().map(|tank| place(yard, tank)).transpose()?;
        if let Some(salt) = agreed.salt_kg {
            self.note_salt(SaltEnd::Agreed, kilograms(salt) - self.rock_salt);
            self.rock_salt = kilograms(salt);
        }
        let Some((tank, product)) = tank else { return Ok(()) };
        let book = self.book(tank)?;
        let strength = percent(agreed.strength_pct)?.or(book.strength()).or(book.last_strength);
        let volume = agreed.volume_m3.map_or_else(|| book.volume(yard), cubic_metres);
        // What was agreed is an amount of the tank's product: a mix on the book ends here.
        let liquid = Content::of_product(product, volume, None, strength);
        let mass = liquid.mass;
        let mut change = liquid.clone();
        change.add(&book.content().times(-1.0));
        book.hold(liquid);
        book.last_strength = strength;
        book.moved_at = Some(at);
        book.settled_at = Some(at);
        // The content still came from where it came; only how much of it is there was agreed.
        let known: f64 = book.lots.iter().map(|lot| in_kilograms(lot.mass)).sum();
        if known > 0.0 && in_kilograms(mass) > 0.0 {
            book.lots.iter_mut().for_each(|lot| lot.mass *= in_kilograms(mass) / known);
        } else {
            book.lots = vec![Lot { event: Some(id), at, mass }];
        }
        self.note(End::Agreed, End::Tank(tank.id.clone()), change);
        Ok(())
    }

    /// Takes a volume out of a tank at its book strength, or of all parts of a mix in proportion, and flags a book that
    /// falls below zero.
    fn draw(
        &mut self,
        yard: &Yard,
        id: EventId,
        at: Timestamp,
        tank: &str,
        volume_m3: f64,
        temp_c: Option<f64>,
    ) -> Result<Content, String> {
        let (tank, product) = place(yard, tank)?;
        let book = self.book(tank)?;
        let strength = book.strength().or(book.last_strength);
        let liquid = book.content().drawn(yard, product, cubic_metres(volume_m3), temp_c, strength);
        let was_sound = -ROUNDING_KG <= in_kilograms(book.mass);
        book.draw(&liquid, at);
        if was_sound && in_kilograms(book.mass) < -ROUNDING_KG {
            self.problems.push(BookProblem::TankBelowZero { tank: tank.id.clone(), event: id });
        }
        Ok(liquid)
    }

    /// Takes a sprayed volume off a truck, at what it carries.
    fn spray(&mut self, yard: &Yard, truck: &str, route: &str, volume: Volume) {
        let Some(load) = self.trucks.get_mut(truck) else { return };
        if load.volume(yard) > cubic_metres(0.0) {
            let before = load.content();
            load.lose_volume(yard, volume);
            let mut sprayed = before;
            sprayed.add(&load.content().times(-1.0));
            self.note(End::Truck(truck.into()), End::Road(Some(route.into())), sprayed);
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
        let aboard = truck.and_then(|truck| self.trucks.get(truck)).map_or(kilograms(0.0), |load| load.mass);
        Before { lots, aboard, emptied: None }
    }

    fn use_salt(&mut self, id: EventId, salt: Mass) {
        let was_sound = -ROUNDING_KG <= in_kilograms(self.rock_salt);
        self.rock_salt -= salt;
        if was_sound && in_kilograms(self.rock_salt) < -ROUNDING_KG {
            self.problems.push(BookProblem::SaltBelowZero { event: id });
        }
    }

    fn book(&mut self, tank: &Tank) -> Result<&mut TankBook, String> {
        self.tanks.iter_mut().find(|book| book.tank == tank.id).ok_or_else(|| no_tank(&tank.id))
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

fn no_tank(id: &str) -> String {
    format!("tank \"{id}\" is not in the yard file; one out of use stays there, as retired = true")
}

fn no_product(id: &str) -> String {
    format!("product \"{id}\" is not in the yard file")
}

fn place<'y>(yard: &'y Yard, tank: &str) -> Result<(&'y Tank, &'y Product), String> {
    let tank = yard.tank(tank).ok_or_else(|| no_tank(tank))?;
    let product =
        yard.product(&tank.product).ok_or_else(|| format!("tank \"{}\" holds no known product", tank.id))?;
    Ok((tank, product))
}

fn percent(value: Option<f64>) -> Result<Option<MassFraction>, String> {
    value.map(MassFraction::from_percent).transpose().map_err(|e| e.to_string())
}
