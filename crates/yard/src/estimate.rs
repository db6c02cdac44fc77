//! What each tank holds: the book's flows and all evidence, each weighed by its own uncertainty.
//!
//! The book is the sum of what was entered, and evidence never moves it. The estimate starts where the book starts,
//! moves with every flow as the book does, and is drawn by every dip, reading and level sensor toward what was seen, as
//! far as that is better known. Without evidence the two are the same. People act on the estimate; the book is read in
//! the books.
//!
//! Evidence that lies further from what is expected than chance allows moves nothing by itself: it is kept beside the
//! estimate as what the tank would hold if it were right, and a second look is asked for. Two that agree are believed.
//! Salt or water put in on the strength of such a sample is a person's word for it.
//!
//! [`kalman`] holds the algebra, the state of one tank is in `state.rs`, the figures are in `uncertain.rs`.

pub mod kalman;
mod standing;
mod state;

use std::collections::BTreeMap;

use bench::Conformity;
use bench::consensus::{Answer, consensus};
use chemistry::Estimate;
use chemistry::MassFraction;
use jiff::Timestamp;
use quantity::{
    Mass, ThermodynamicTemperature, Volume, celsius, cubic_metres, in_cubic_metres, in_kilograms, metres,
};

use crate::event::{
    Body, Correction, Dip, EventId, HowFound, MakingRun, Reading, Recorded, ReturnToTank, SamplePoint,
    Settlement,
};
use crate::stock::{Content, Liquid, Load};
use crate::uncertain::{
    BY_MARKS, BY_METER, BY_WEIGHT_KG, DENSITY, DENSITY_NO_TEMPERATURE, DIP_M, FLOW_PCT, LAYERS_PCT,
    LEVEL_SENSOR, OTHER, READING_PCT, READINGS_ALIKE_PCT, SALT_ALIKE, SLUDGE, SPILL, TRANSFER,
};
use site::Yard;
use site::{Product, Tank};
use state::{Alike, K95, Known, Seen, SeenStrength, SeenVolume, State, is_brine};

/// Evidence further from what is expected than this many of its standard deviations asks for a second look: an honest
/// one in a hundred does.
pub const GATE: f64 = 2.576;
/// A truck with less than this has nothing, kg.
const NOTHING_KG: f64 = 1e-3;
/// Book and estimate nearer than this share of a full tank are one, whatever the interval: rounding of dips and papers.
/// Our own figure.
const SAME: f64 = 0.005;
/// Book and estimate nearer than this are of one strength, per cent by mass. Our own figure.
const SAME_PCT: f64 = 0.2;

/// What all tanks hold.
#[derive(Debug, Clone)]
pub struct Estimates {
    tanks: Vec<TankEstimate>,
    /// What trucks carry, by what the tanks were thought to hold when they loaded.
    trucks: BTreeMap<String, Load>,
}

/// What one tank holds.
#[derive(Debug, Clone)]
pub struct TankEstimate {
    /// Tank id.
    pub tank: String,
    state: State,
    doubted: Option<Doubted>,
    believed: Option<Mismatch>,
    counted_at: Option<Timestamp>,
    seen_at: Option<Timestamp>,
    strength_seen_at: Option<Timestamp>,
    corrected_at: Option<Timestamp>,
    verdict: Option<SampleVerdict>,
    sample: Option<Box<Sample>>,
}

/// What all instruments that were read in one sample say together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SampleVerdict {
    /// The sample, by the id of its first reading.
    pub sample: EventId,
    /// When the last of them was read.
    pub at: Timestamp,
    /// Strength with half of its 95 % interval (k = 1.96).
    pub strength: Estimate<MassFraction>,
    /// How many readings.
    pub readings: usize,
    /// Whether they agree as well as their intervals say; the strength's interval is wider where they do not.
    pub agree: bool,
}

/// What people act on: the estimate, and while evidence waits for a second look, the worse of the two.
#[derive(Debug, Clone)]
pub struct Standing {
    /// All of it, by what is in it.
    pub content: Content,
    /// Volume at 60 °F, with half of its 95 % interval.
    pub volume: Estimate<Volume>,
    /// The least it may be, when something is drawn: smaller while a look at the volume waits.
    pub least: Volume,
    /// The most it may be, when something is put in.
    pub most: Volume,
    /// Strength, with half of its 95 % interval.
    pub strength: Option<Estimate<MassFraction>>,
    /// Strength against the tank's band; none of what is not brine, and of an empty tank.
    pub conformity: Option<Conformity>,
    /// Evidence that waits for a second look.
    pub doubted: Option<Mismatch>,
}

/// Evidence that does not fit, waiting for a second look.
#[derive(Debug, Clone)]
pub struct Doubted {
    /// What was seen and what was expected.
    pub mismatch: Mismatch,
    /// What the tank would hold if it were right.
    state: State,
}

/// Evidence beside what was expected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mismatch {
    /// When it was seen.
    pub at: Timestamp,
    /// What.
    pub of: Apart,
}

/// What lies apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Apart {
    /// Strength.
    Strength {
        /// As seen.
        seen: MassFraction,
        /// As expected.
        expected: MassFraction,
    },
    /// Volume, at the temperature of the content.
    Volume {
        /// As seen.
        seen: Volume,
        /// As expected.
        expected: Volume,
    },
}

/// A sample that several instruments may be read in: together they count once.
#[derive(Debug, Clone)]
struct Sample {
    id: EventId,
    before: TankEstimate,
    /// Strength and standard deviation of each, as fractions.
    read: Vec<(f64, f64)>,
}

/// How a book stands apart from the estimate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BookApart {
    /// The estimate's volume less the book's.
    pub volume: Volume,
    /// Half of the 95 % interval of the estimate's volume.
    pub within: Volume,
    /// The estimate's strength and the book's, where they differ.
    pub strength: Option<(MassFraction, MassFraction)>,
    /// The tank was never counted: the book says nothing but what was entered since.
    pub is_first_count: bool,
}

impl TankEstimate {
    fn uncounted(yard: &Yard, tank: &Tank) -> Self {
        Self {
            tank: tank.id.clone(),
            state: State::uncounted(yard, tank),
            doubted: None,
            believed: None,
            counted_at: None,
            seen_at: None,
            strength_seen_at: None,
            corrected_at: None,
            verdict: None,
            sample: None,
        }
    }

    /// All of it, by what is in it.
    pub fn content(&self) -> Content {
        self.state.content()
    }

    /// Volume at 60 °F with half of its 95 % interval (k = 1.96, normal).
    pub fn volume(&self, yard: &Yard) -> Estimate<Volume> {
        self.state.volume(yard)
    }

    /// Strength with half of its 95 % interval; none of an empty tank and of what holds a declared liquid.
    pub fn strength(&self) -> Option<Estimate<MassFraction>> {
        self.state.strength()
    }

    /// Strength, or what it last was where the tank is empty.
    pub fn last_strength(&self) -> Option<MassFraction> {
        self.state.last_strength()
    }

    /// Sodium chloride in it with half of its 95 % interval.
    pub fn sodium_chloride(&self) -> Estimate<Mass> {
        self.state.sodium_chloride()
    }

    /// Evidence that does not fit and waits for a second look.
    pub fn doubted(&self) -> Option<&Doubted> {
        self.doubted.as_ref()
    }

    /// The last evidence that did not fit and was believed, until the book is set.
    pub fn believed(&self) -> Option<Mismatch> {
        self.believed
    }

    /// When it was first counted: dipped, or agreed on. None: what stood in it before the ledger began is unknown.
    pub fn counted_at(&self) -> Option<Timestamp> {
        self.counted_at
    }

    /// When evidence was last taken in.
    pub fn seen_at(&self) -> Option<Timestamp> {
        self.seen_at
    }

    /// When a strength was last taken in.
    pub fn strength_seen_at(&self) -> Option<Timestamp> {
        self.strength_seen_at
    }

    /// The newest sample, where nothing went in or out since.
    pub fn verdict(&self) -> Option<SampleVerdict> {
        self.verdict
    }

    /// When salt or water was last put in to change the strength, where no sample was taken since: what it comes to is
    /// expected, not known.
    pub fn corrected_at(&self) -> Option<Timestamp> {
        self.corrected_at
    }

    fn each(&mut self, mut act: impl FnMut(&mut State)) {
        (self.sample, self.verdict) = (None, None);
        act(&mut self.state);
        if let Some(doubted) = &mut self.doubted {
            act(&mut doubted.state);
        }
    }

    /// Takes evidence in, keeps it in doubt, or believes what was doubted.
    fn see(&mut self, yard: &Yard, product: &Product, seen: &Seen, at: Timestamp) {
        let fits = |state: &State| state.far(yard, product, seen) <= GATE;
        let is_strength = matches!(seen, Seen::Strength(_));
        if fits(&self.state) {
            self.state.see(yard, product, seen);
            match self.doubted.take() {
                // Another kind of look says nothing of this doubt.
                Some(mut doubted) if doubted.mismatch.is_of_strength() != is_strength => {
                    if fits(&doubted.state) {
                        doubted.state.see(yard, product, seen);
                    }
                    self.doubted = Some(doubted);
                }
                Some(_) | None => {}
            }
        } else if let Some(mut doubted) = self
            .doubted
            .take_if(|doubted| doubted.mismatch.is_of_strength() == is_strength && fits(&doubted.state))
        {
            doubted.state.see(yard, product, seen);
            self.state = doubted.state;
            self.believed = Some(doubted.mismatch);
        } else {
            let of = self.mismatch(yard, seen);
            let state = self.state.believing(yard, product, seen);
            self.doubted = Some(Doubted { mismatch: Mismatch { at, of }, state });
            return;
        }
        self.seen_at = Some(at);
        if is_strength {
            self.strength_seen_at = Some(at);
        } else {
            self.counted_at = self.counted_at.or(Some(at));
        }
    }

    fn mismatch(&self, yard: &Yard, seen: &Seen) -> Apart {
        match seen {
            Seen::Strength(strength) => Apart::Strength {
                seen: strength.strength,
                expected: self.state.last_strength().unwrap_or(MassFraction::ZERO),
            },
            Seen::Volume(volume) => {
                Apart::Volume { seen: volume.volume, expected: self.state.volume(yard).value }
            }
        }
    }

    /// A person acts on a sample that was doubted: it is what is expected from here on, and the other is kept in doubt.
    fn take_word(&mut self, at: Timestamp) {
        let Some(doubted) = self.doubted.take_if(|doubted| doubted.mismatch.is_of_strength()) else { return };
        let before = std::mem::replace(&mut self.state, doubted.state);
        let (Some(seen), Some(expected)) = (before.last_strength(), self.state.last_strength()) else {
            return;
        };
        self.believed = Some(doubted.mismatch);
        let mismatch = Mismatch { at, of: Apart::Strength { seen, expected } };
        self.doubted = Some(Doubted { mismatch, state: before });
    }

    /// Looked at by a level sensor: as it would be, without changing what the ledger says.
    pub fn with_level(&self, yard: &Yard, level: &Level) -> Self {
        let mut other = self.clone();
        let (Some(site), Some(product)) = (yard.tank(&self.tank), product_of(yard, &self.tank)) else {
            return other;
        };
        let deviation = site.shape.full_volume() * LEVEL_SENSOR;
        let seen = Seen::Volume(SeenVolume {
            volume: level.volume,
            temperature: level.temperature,
            deviation,
            density: DENSITY_NO_TEMPERATURE,
        });
        other.see(yard, product, &seen, level.at);
        other
    }
}

/// What a level sensor shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// When.
    pub at: Timestamp,
    /// Volume by the tank's shape, at the temperature of the content.
    pub volume: Volume,
    /// That temperature, where known.
    pub temperature: Option<ThermodynamicTemperature>,
}

impl Mismatch {
    /// Whether it is of a strength; else of a volume.
    pub fn is_of_strength(&self) -> bool {
        matches!(self.of, Apart::Strength { .. })
    }
}

impl Doubted {
    /// Strength if the evidence is right, with half of its 95 % interval.
    pub fn strength(&self) -> Option<Estimate<MassFraction>> {
        self.state.strength()
    }

    /// Volume at 60 °F if the evidence is right, with half of its 95 % interval.
    pub fn volume(&self, yard: &Yard) -> Estimate<Volume> {
        self.state.volume(yard)
    }

    /// All of it, by what is in it, if the evidence is right.
    pub fn content(&self) -> Content {
        self.state.content()
    }
}

fn product_of<'y>(yard: &'y Yard, tank: &str) -> Option<&'y Product> {
    yard.product(&yard.tank(tank)?.product)
}

/// A meter's, a scale's or the marks' uncertainty for a mass of liquid.
fn by(how: HowFound, mass: f64) -> Known {
    let (mass_kg, alike) = match how {
        HowFound::Weight => (BY_WEIGHT_KG, None),
        HowFound::Marks | HowFound::Dip => (BY_MARKS.0 * mass + BY_MARKS.1, Some(Alike::Marks)),
        HowFound::Meter => (BY_METER.0 * mass + BY_METER.1, Some(Alike::LoadingMeter)),
    };
    Known { mass_kg, strength: 0.0, alike }
}

fn share(of: f64) -> impl Fn(f64) -> Known {
    move |mass| Known { mass_kg: of * mass, ..Known::default() }
}

impl Estimates {
    /// Nothing has happened yet.
    pub(crate) fn empty(yard: &Yard) -> Self {
        let tanks = yard.tanks.iter().map(|tank| TankEstimate::uncounted(yard, tank)).collect();
        Self { tanks, trucks: BTreeMap::new() }
    }

    /// What a tank is thought to hold.
    pub fn tank(&self, id: &str) -> Option<&TankEstimate> {
        self.tanks.iter().find(|one| one.tank == id)
    }

    /// With what level sensors show, in order of tanks: later than anything in the ledger.
    pub fn with_levels(&self, yard: &Yard, levels: &[(String, Level)]) -> Self {
        let mut other = self.clone();
        for one in &mut other.tanks {
            let own = levels.iter().filter(|(tank, _)| *tank == one.tank);
            *one = own.fold(one.clone(), |one, (_, level)| one.with_level(yard, level));
        }
        other
    }

    pub(crate) fn open(&mut self, yard: &Yard, tank: &str, content: &Content, at: Timestamp) {
        self.agree(yard, tank, content, at);
    }

    fn of(&mut self, tank: &str) -> Option<&mut TankEstimate> {
        self.tanks.iter_mut().find(|one| one.tank == tank)
    }

    fn put(&mut self, tank: &str, liquid: &Content, known: Known) {
        if let Some(one) = self.of(tank) {
            one.each(|state| state.put(liquid, known));
        }
    }

    /// Takes a volume out of a tank; the answer is what went out.
    fn draw(
        &mut self,
        yard: &Yard,
        tank: &str,
        (m3, temp_c): (f64, Option<f64>),
        known: impl Fn(f64) -> Known,
    ) -> Content {
        let Some(product) = product_of(yard, tank) else { return Content::default() };
        let Some(one) = self.of(tank) else { return Content::default() };
        let mut gone = None;
        one.each(|state| {
            let liquid = state.draw(yard, product, (cubic_metres(m3), temp_c), &known);
            gone.get_or_insert(liquid);
        });
        gone.unwrap_or_default()
    }

    fn agree(&mut self, yard: &Yard, tank: &str, content: &Content, at: Timestamp) {
        let Some(one) = self.of(tank) else { return };
        one.sample = None;
        one.state.agree(yard, content);
        (one.doubted, one.believed) = (None, None);
        one.counted_at = one.counted_at.or(Some(at));
    }

    /// Takes one event in, in order of happening, after the book has counted it.
    pub(crate) fn take(&mut self, yard: &Yard, recorded: &Recorded) {
        let (id, at) = (recorded.event.id, recorded.event.occurred_at);
        match &recorded.event.body {
            Body::LiquidDelivery(b) => {
                let own = product_of(yard, &b.tank);
                let Some(product) = b.product.as_ref().map_or(own, |id| yard.product(id)) else { return };
                let liquid = Content::of_product(
                    product,
                    cubic_metres(b.volume_m3),
                    b.temp_c,
                    percent(b.strength_pct),
                );
                let known = Known { strength: FLOW_PCT / 100.0, ..share(OTHER)(in_kilograms(liquid.mass)) };
                self.put(&b.tank, &liquid, known);
            }
            Body::MakingRun(b) => self.made(yard, b),
            Body::Transfer(b) => {
                let liquid = self.draw(yard, &b.from_tank, (b.volume_m3, b.temp_c), share(TRANSFER));
                let strength = self.tank(&b.from_tank).and_then(TankEstimate::strength);
                let strength = strength.map_or(FLOW_PCT / 100.0, |known| known.uncertainty.fraction() / K95);
                let known = Known { strength, ..share(TRANSFER)(in_kilograms(liquid.mass)) };
                self.put(&b.to_tank, &liquid, known);
            }
            Body::Correction(b) => self.corrected(yard, b, at),
            Body::LoadOut(b) => {
                let how = b.how.unwrap_or(HowFound::Meter);
                let liquid = self.draw(yard, &b.tank, (b.volume_m3, b.temp_c), |mass| by(how, mass));
                self.load(yard, &b.tank, &b.truck, &liquid);
            }
            Body::ReturnToTank(b) => self.come_back(yard, b),
            Body::Application(b) => {
                if let (Some(truck), Some(m3)) = (&b.truck, b.volume_m3)
                    && let Some(load) = self.trucks.get_mut(truck)
                {
                    load.lose_volume(yard, cubic_metres(m3));
                }
            }
            Body::IssueOut(b) => {
                let how = b.how.unwrap_or(HowFound::Meter);
                self.draw(yard, &b.tank, (b.volume_m3, b.temp_c), |mass| by(how, mass));
            }
            Body::Loss(b) => {
                self.draw(yard, &b.tank, (b.volume_m3, None), share(SPILL));
            }
            Body::CleanOut(b) => {
                self.draw(yard, &b.tank, (b.volume_m3, None), share(SLUDGE));
            }
            Body::Settlement(b) => self.settled(yard, b, at),
            Body::Reading(b) => self.read(yard, id, b, at),
            Body::Dip(b) => self.dipped(yard, b, at),
            _ => {}
        }
    }

    fn made(&mut self, yard: &Yard, run: &MakingRun) {
        let own = product_of(yard, &run.tank);
        let Some(product) = yard.product(&yard.plant.product).or(own) else { return };
        let strength = percent(Some(run.strength_pct));
        let liquid = Content::of_product(product, cubic_metres(run.volume_m3), run.temp_c, strength);
        let mass_kg = crate::uncertain::batch(run) * in_kilograms(liquid.mass);
        let known = Known { mass_kg, strength: FLOW_PCT / 100.0, alike: Some(Alike::Runs) };
        self.put(&run.tank, &liquid, known);
    }

    fn corrected(&mut self, yard: &Yard, correction: &Correction, at: Timestamp) {
        let Ok(liquid) = crate::stock::put_in(yard, correction) else { return };
        if let Some(one) = self.of(&correction.tank) {
            one.take_word(at);
            one.each(|state| state.put_apart(&liquid, SALT_ALIKE, OTHER));
            one.corrected_at = Some(at);
        }
    }

    fn load(&mut self, yard: &Yard, tank: &str, truck: &str, liquid: &Content) {
        let Some(product) = product_of(yard, tank) else { return };
        let held = self.trucks.entry(truck.to_owned()).or_insert_with(|| Load::empty(product.id.clone()));
        if held.product != product.id {
            *held = Load::empty(product.id.clone());
        }
        held.add(liquid);
    }

    fn come_back(&mut self, yard: &Yard, back: &ReturnToTank) {
        // It came home empty: nothing went into a tank.
        if back.volume_m3 <= 0.0 {
            self.trucks.remove(&back.truck);
            return;
        }
        let (Some(product), Some(one)) = (product_of(yard, &back.tank), self.tank(&back.tank)) else {
            return;
        };
        let is_own = |load: &&Load| load.product == product.id && in_kilograms(load.mass) > NOTHING_KG;
        let is_other = self.trucks.get(&back.truck).is_some_and(|load| load.product != product.id);
        let load = self.trucks.get(&back.truck).filter(is_own);
        let strength = load.and_then(Load::strength).or(one.last_strength());
        let held = load.map_or_else(|| one.content(), Load::content);
        let liquid = held.drawn(yard, product, cubic_metres(back.volume_m3), back.temp_c, strength);
        let mass = in_kilograms(liquid.mass);
        let known = Known { strength: FLOW_PCT / 100.0, ..by(back.how.unwrap_or(HowFound::Marks), mass) };
        self.put(&back.tank, &liquid, known);
        // What is left of another product is a residue: the book counts it off, too.
        if is_other {
            self.trucks.remove(&back.truck);
        } else if let Some(load) = self.trucks.get_mut(&back.truck) {
            load.lose(liquid.mass);
        }
    }

    fn settled(&mut self, yard: &Yard, agreed: &Settlement, at: Timestamp) {
        let Some(tank) = &agreed.tank else { return };
        let (Some(product), Some(one)) = (product_of(yard, tank), self.tank(tank)) else { return };
        let strength = percent(agreed.strength_pct).or(one.last_strength());
        let volume = agreed.volume_m3.map_or_else(|| one.volume(yard).value, cubic_metres);
        let content = Content::of_product(product, volume, None, strength);
        self.agree(yard, tank, &content, at);
    }

    fn read(&mut self, yard: &Yard, id: EventId, reading: &Reading, at: Timestamp) {
        // A doubted reading speaks for nothing.
        if reading.doubt.is_some() {
            return;
        }
        let Some(tank) = &reading.tank else { return };
        let Some(product) = product_of(yard, tank).filter(|product| is_brine(product)) else { return };
        let Some((strength, deviation)) = strength_of(reading) else { return };
        let sample = reading.sample.as_ref().and_then(|id| id.parse().ok()).unwrap_or(id);
        let Some(one) = self.of(tank) else { return };
        if one.content().parts().iter().any(|part| part.liquid != Liquid::Brine) {
            return;
        }
        let mut read = vec![(strength, deviation)];
        let mut before = match one.sample.take() {
            Some(held) if held.id == sample => {
                read.splice(0..0, held.read);
                held.before
            }
            _ => one.clone(),
        };
        before.sample = None;
        let Some(seen) = together(&read) else { return };
        *one = before.clone();
        one.corrected_at = None;
        one.verdict = verdict(sample, at, &read);
        one.see(yard, product, &Seen::Strength(seen), at);
        one.sample = Some(Box::new(Sample { id: sample, before, read }));
    }

    fn dipped(&mut self, yard: &Yard, dip: &Dip, at: Timestamp) {
        let (Some(site), Some(product)) = (yard.tank(&dip.tank), product_of(yard, &dip.tank)) else { return };
        let volume = |depth: f64| site.shape.volume_at(metres(depth)).ok();
        let Some(middle) = volume(dip.depth_m) else { return };
        let above = volume(dip.depth_m + DIP_M).unwrap_or(middle);
        let below = volume((dip.depth_m - DIP_M).max(0.0)).unwrap_or(middle);
        let deviation = cubic_metres(0.5 * in_cubic_metres(above - below).abs().max(1e-6));
        let temperature = dip.temp_c.map(celsius);
        let density = if temperature.is_some() { DENSITY } else { DENSITY.hypot(DENSITY_NO_TEMPERATURE) };
        let seen = Seen::Volume(SeenVolume { volume: middle, temperature, deviation, density });
        if let Some(one) = self.of(&dip.tank) {
            one.sample = None;
            one.see(yard, product, &seen, at);
        }
    }
}

/// Strength of a reading and its standard deviation, as fractions.
fn strength_of(reading: &Reading) -> Option<(f64, f64)> {
    let strength = percent(Some(reading.strength_pct))?.fraction();
    let stated = reading.uncertainty_pct.map_or(READING_PCT, |interval| interval / K95);
    let is_layer = matches!(reading.level, Some(SamplePoint::Top | SamplePoint::Bottom));
    Some((strength, stated.hypot(if is_layer { LAYERS_PCT } else { 0.0 }) / 100.0))
}

/// What all instruments that were read in a sample say together: strengths and standard deviations, as fractions.
fn verdict(sample: EventId, at: Timestamp, read: &[(f64, f64)]) -> Option<SampleVerdict> {
    let seen = together(read)?;
    // With what all readings share put back in.
    let within = K95 * seen.deviation.hypot(READINGS_ALIKE_PCT / 100.0);
    let uncertainty = MassFraction::from_fraction(within.min(1.0)).ok()?;
    let strength = Estimate { value: seen.strength, uncertainty };
    let agree = consensus(&said(read)).map_or(true, |found| found.is_consistent && found.outlier.is_none());
    Some(SampleVerdict { sample, at, strength, readings: read.len(), agree })
}

/// What several instruments say of one sample, without the one that does not belong, and the part of its deviation that
/// a sample taken anew would not share.
///
/// # Equation
/// Of one reading its own; of several [`bench::consensus`], as the bench's page says it.
///
/// # Range
/// One reading or more.
///
/// # Error
/// What all readings of a yard share is left to the state, at least a fiftieth per cent stays.
///
/// # Source
/// As of [`bench::consensus`].
fn together(read: &[(f64, f64)]) -> Option<SeenStrength> {
    let said = said(read);
    let (mean, u) = match said.as_slice() {
        [one] => (one.strength, one.uncertainty),
        several => consensus(several).map(|found| (found.strength, found.uncertainty)).ok()?,
    };
    let alone = ((u * u - READINGS_ALIKE_PCT * READINGS_ALIKE_PCT) / 1e4).max(4e-8);
    Some(SeenStrength { strength: MassFraction::from_percent(mean).ok()?, deviation: alone.sqrt() })
}

fn said(read: &[(f64, f64)]) -> Vec<Answer> {
    let one =
        |(strength, u): &(f64, f64)| Answer { strength: 100.0 * strength, uncertainty: 100.0 * u.max(1e-6) };
    read.iter().map(one).collect()
}

fn percent(value: Option<f64>) -> Option<MassFraction> {
    value.and_then(|value| MassFraction::from_percent(value).ok())
}
