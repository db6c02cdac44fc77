//! The estimates of all tanks, moved and drawn by one event after another.

use std::collections::BTreeMap;

use jiff::Timestamp;
use quantity::{celsius, cubic_metres, in_cubic_metres, in_kilograms, metres};

use super::sample::{percent, strength_of, together, verdict};
use super::seen::{Seen, SeenVolume};
use super::state::{Alike, K95, Known, is_brine};
use super::tank::{Level, Sample, TankEstimate, product_of};
use crate::stock::{Content, Liquid, Load};
use crate::uncertain::{
    BY_MARKS, BY_METER, BY_WEIGHT_KG, DIP_M, FLOW_PCT, OTHER, SALT_ALIKE, SLUDGE, SPILL, TRANSFER,
    density_of_dip,
};
use event::{
    Body, Correction, Dip, EventId, HowFound, MakingRun, Reading, Recorded, ReturnToTank, Settlement,
};
use site::Yard;

/// A truck with less than this has nothing, kg.
const NOTHING_KG: f64 = 1e-3;

/// What all tanks hold.
#[derive(Debug, Clone)]
pub struct Estimates {
    tanks: Vec<TankEstimate>,
    /// What trucks carry, by what the tanks were thought to hold when they loaded.
    trucks: BTreeMap<String, Load>,
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
        held.content.add(liquid);
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
        let is_own =
            |load: &&Load| load.product == product.id && in_kilograms(load.content.mass) > NOTHING_KG;
        let is_other = self.trucks.get(&back.truck).is_some_and(|load| load.product != product.id);
        let load = self.trucks.get(&back.truck).filter(is_own);
        let strength = load.and_then(Load::strength).or(one.last_strength());
        let held = load.map_or_else(|| one.content(), |load| load.content.clone());
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
        let density = density_of_dip(temperature.is_some());
        let seen = Seen::Volume(SeenVolume { volume: middle, temperature, deviation, density });
        if let Some(one) = self.of(&dip.tank) {
            one.sample = None;
            one.see(yard, product, &seen, at);
        }
    }
}
