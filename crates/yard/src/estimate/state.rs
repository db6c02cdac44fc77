//! One tank's salt and water with their covariance: moved by flows, looked at by evidence.

use std::collections::BTreeMap;

use chemistry::Estimate;
use chemistry::{Brine, MassFraction};
use nalgebra::{SMatrix, SVector};
use quantity::{
    Mass, ThermodynamicTemperature, Volume, cubic_metres, in_cubic_metres, in_kg_per_m3, in_kilograms,
    kilograms,
};

use super::kalman::{Gaussian, Observation};
use super::seen::{Seen, SeenStrength, SeenVolume};
use crate::stock::Content;
use crate::uncertain::{
    AGREED, AGREED_PCT, MARKS_ALIKE, READINGS_ALIKE_PCT, RUNS_ALIKE, TABLE_ALIKE, UNCOUNTED, UNCOUNTED_PCT,
};
use site::Yard;
use site::{Product, ProductKind, Tank};

/// Salt, water, and what is off for all of a kind alike.
const PARTS: usize = 7;
/// Salt and water move; the rest is reckoned with.
const MOVING: usize = 2;
/// k of a 95 % interval, normal.
pub(super) const K95: f64 = 1.96;
/// Mass below which a tank counts as empty: one gram, as in the book.
const NOTHING_KG: f64 = 1e-3;
/// A mass that is uncertain by more than this share of itself is not known. Our own figure.
const LOOSE: f64 = 0.3;
/// Mass at which the density of a composition is looked at, kg: any will do.
const UNIT_KG: f64 = 1000.0;
/// Step of the slopes, as a share.
const STEP: f64 = 1e-4;

type Vector = SVector<f64, PARTS>;
type Matrix = SMatrix<f64, PARTS, PARTS>;
/// How the parts that move follow from all.
type Rows = SMatrix<f64, MOVING, PARTS>;

/// What is off for everything of a kind alike: its place in the state, as a share (of readings, as a strength).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Alike {
    LoadingMeter = 2,
    Runs = 3,
    Table = 4,
    Readings = 5,
    Marks = 6,
}

/// How well a flow is known.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Known {
    /// Its mass, each time, kg.
    pub(super) mass_kg: f64,
    /// Its strength, as a fraction.
    pub(super) strength: f64,
    /// Its mass, alike with others of its kind.
    pub(super) alike: Option<Alike>,
}

/// Salt and the rest in a tank, kg, with what is uncertain.
#[derive(Debug, Clone)]
pub(super) struct State {
    gaussian: Gaussian<PARTS>,
    /// Declared liquids in the rest.
    declared: BTreeMap<String, Mass>,
    /// Strength it was last known to have, for when it runs empty.
    last_strength: Option<MassFraction>,
    /// Strength it is looked at with while nothing is known of it: what the yard wants there.
    presumed: f64,
}

impl State {
    /// Nothing in it by the book, and nobody has looked.
    pub(super) fn uncounted(yard: &Yard, tank: &Tank) -> Self {
        let mut covariance = Matrix::zeros();
        let meter = yard.loading_meter().map_or(0.02, |meter| meter.factor_uncertainty);
        let alike = [
            (Alike::LoadingMeter, meter),
            (Alike::Runs, RUNS_ALIKE),
            (Alike::Table, TABLE_ALIKE),
            (Alike::Readings, READINGS_ALIKE_PCT / 100.0),
            (Alike::Marks, MARKS_ALIKE),
        ];
        for (part, deviation) in alike {
            covariance[(part as usize, part as usize)] = deviation * deviation;
        }
        let gaussian = Gaussian { mean: Vector::zeros(), covariance };
        let mut state = Self { gaussian, declared: BTreeMap::new(), last_strength: None, presumed: 0.0 };
        let Some(product) = yard.product(&tank.product) else { return state };
        let strength = if is_brine(product) { yard.spec(&tank.id).target.fraction() } else { 0.0 };
        state.presumed = strength;
        let mass = UNCOUNTED * in_cubic_metres(tank.working_capacity()) * nominal_density(product, strength);
        state.widen(along(strength), mass);
        if is_brine(product) {
            state.widen(ACROSS, mass * UNCOUNTED_PCT / 100.0);
        }
        state
    }

    pub(super) fn content(&self) -> Content {
        let [salt, rest] = self.parts();
        let (mass, sodium_chloride) = (kilograms(salt + rest), kilograms(salt));
        Content { mass, sodium_chloride, declared: self.declared.clone() }
    }

    pub(super) fn last_strength(&self) -> Option<MassFraction> {
        self.content().strength().or(self.last_strength)
    }

    fn parts(&self) -> [f64; 2] {
        [self.gaussian.mean[0], self.gaussian.mean[1]]
    }

    fn mass(&self) -> f64 {
        self.parts().iter().sum()
    }

    /// Salt over everything; of an empty tank, what it last was, or what belongs there.
    fn fraction(&self) -> f64 {
        let [salt, rest] = self.parts();
        let mass = salt + rest;
        if mass > NOTHING_KG {
            return (salt / mass).clamp(0.0, 1.0);
        }
        self.last_strength.map_or(self.presumed, MassFraction::fraction)
    }

    /// Variance of what a row of the state adds up to.
    fn variance(&self, on: &Vector) -> f64 {
        on.dot(&(self.gaussian.covariance * on)).max(0.0)
    }

    fn widen(&mut self, direction: [f64; 2], deviation: f64) {
        let on = vector(direction);
        self.gaussian.covariance += on * on.transpose() * (deviation * deviation);
    }

    /// Forgets what is known of salt and water, and how that hangs together with anything else.
    fn forget(&mut self) {
        for moving in 0..MOVING {
            for part in 0..PARTS {
                self.gaussian.covariance[(moving, part)] = 0.0;
                self.gaussian.covariance[(part, moving)] = 0.0;
            }
        }
    }

    /// Puts liquid in.
    pub(super) fn put(&mut self, liquid: &Content, known: Known) {
        let mass = in_kilograms(liquid.mass);
        let salt = in_kilograms(liquid.sodium_chloride);
        let strength = if mass > 0.0 { salt / mass } else { 0.0 };
        let mut by = Rows::identity();
        if let Some(alike) = known.alike {
            by[(0, alike as usize)] = salt;
            by[(1, alike as usize)] = mass - salt;
        }
        let noise = outer(along(strength), known.mass_kg) + outer(ACROSS, mass * known.strength);
        self.gaussian.advance_first(&by, &[salt, mass - salt].into(), &noise);
        for (id, more) in &liquid.declared {
            *self.declared.entry(id.clone()).or_default() += *more;
        }
        self.remember();
    }

    /// Puts salt and water in that were weighed or metered apart, each known to a share.
    pub(super) fn put_apart(&mut self, liquid: &Content, salt_share: f64, water_share: f64) {
        let salt = in_kilograms(liquid.sodium_chloride);
        let water = in_kilograms(liquid.mass) - salt;
        let noise = outer([1.0, 0.0], salt * salt_share) + outer([0.0, 1.0], water * water_share);
        self.gaussian.advance_first(&Rows::identity(), &[salt, water].into(), &noise);
        self.remember();
    }

    /// Takes a volume out. More than is there empties it, and says that as much was not known.
    pub(super) fn draw(
        &mut self,
        yard: &Yard,
        product: &Product,
        (volume, temp_c): (Volume, Option<f64>),
        known: impl FnOnce(f64) -> Known,
    ) -> Content {
        let content = self.content();
        let liquid = content.drawn(yard, product, volume, temp_c, self.last_strength());
        let (mass, held) = (in_kilograms(liquid.mass), self.mass().max(0.0));
        let known = known(mass);
        let strength = self.fraction();
        let gone = if held > NOTHING_KG { (mass / held).clamp(0.0, 1.0) } else { 1.0 };
        let mut by = Rows::identity();
        // What goes out takes salt and rest along as they are: the strength stays as uncertain as it was.
        for (row, share) in along(strength).into_iter().enumerate() {
            for column in 0..MOVING {
                by[(row, column)] = if row == column { 1.0 - gone } else { 0.0 } + gone * share;
            }
            if let Some(alike) = known.alike {
                by[(row, alike as usize)] = -mass * share;
            }
        }
        let missing = (mass - held).max(0.0);
        let noise = outer(along(strength), known.mass_kg.hypot(missing));
        let left = self.gaussian.mean * (1.0 - gone);
        self.gaussian.advance_first(&by, &SVector::zeros(), &noise);
        for part in 0..MOVING {
            self.gaussian.mean[part] = left[part];
        }
        self.declared.values_mut().for_each(|mass| *mass *= 1.0 - gone);
        self.remember();
        liquid
    }

    /// What people agreed on. Within what was thought anyway it moves the figures, not what is known of them.
    pub(super) fn agree(&mut self, yard: &Yard, agreed: &Content) {
        let (mass, salt) = (in_kilograms(agreed.mass), in_kilograms(agreed.sodium_chloride));
        let (volume, strength) = (self.volume(yard), self.strength());
        let is_near = |apart: f64, within: f64| apart.abs() <= within;
        let is_thought = !agreed.has_declared()
            && is_near(
                in_cubic_metres(agreed.volume(yard, self.last_strength()) - volume.value),
                in_cubic_metres(volume.uncertainty),
            )
            && agreed.strength().zip(strength).is_none_or(|(agreed, thought)| {
                is_near(agreed.fraction() - thought.value.fraction(), thought.uncertainty.fraction())
            });
        let is_counted = in_cubic_metres(volume.uncertainty)
            <= K95 * UNCOUNTED * 0.5 * in_cubic_metres(volume.value).max(1.0);
        if !(is_thought && is_counted) {
            self.forget();
            let strength = if mass > 0.0 { salt / mass } else { 0.0 };
            self.widen(along(strength), AGREED * mass);
            if !agreed.has_declared() {
                self.widen(ACROSS, mass * AGREED_PCT / 100.0);
            }
        }
        (self.gaussian.mean[0], self.gaussian.mean[1]) = (salt, mass - salt);
        self.declared = agreed.declared.clone();
        self.last_strength = agreed.strength().or(self.last_strength);
    }

    /// A volume seen, by a dip or a sensor: as a row of the state.
    ///
    /// The volume of a content is of the first degree in its masses, so that the row taken at its composition gives the
    /// volume itself.
    fn of_volume(&self, yard: &Yard, product: &Product, seen: &SeenVolume) -> Observation<PARTS> {
        let slopes = self.volume_slopes(yard, product, seen.temperature);
        let volume = in_cubic_metres(seen.volume);
        let mut on = vector(slopes);
        on[Alike::Table as usize] = -volume;
        let value = volume;
        let deviation = in_cubic_metres(seen.deviation).hypot(seen.density * volume);
        Observation { on, value, variance: deviation * deviation }
    }

    /// m³ a kilogram of salt, and of the rest, adds at this composition.
    fn volume_slopes(
        &self,
        yard: &Yard,
        product: &Product,
        temperature: Option<ThermodynamicTemperature>,
    ) -> [f64; 2] {
        let content = self.content();
        let (mass, strength) = (self.mass(), self.fraction());
        let of = |salt: f64, rest: f64| -> f64 {
            if mass <= NOTHING_KG || content.unlike(product).is_empty() {
                return (salt + rest) / density_of(product, salt / (salt + rest), temperature);
            }
            let share = rest / (mass * (1.0 - strength)).max(NOTHING_KG);
            let declared = content
                .declared
                .iter()
                .map(|(id, mass)| (id.clone(), *mass * share))
                .collect::<BTreeMap<_, _>>();
            let part = Content { mass: kilograms(salt + rest), sodium_chloride: kilograms(salt), declared };
            in_cubic_metres(part.volume(yard, self.last_strength()))
        };
        let (salt, rest) = (UNIT_KG * strength, UNIT_KG * (1.0 - strength));
        let step = STEP * UNIT_KG;
        // One-sided at water, so that no strength lies below zero.
        let below = step.min(salt);
        let of_salt = (of(salt + step, rest) - of(salt - below, rest)) / (step + below);
        let of_rest = (of(salt, rest + step) - of(salt, rest - step)) / (2.0 * step);
        [of_salt, of_rest]
    }

    /// A strength seen, as a row of the state: salt·(1 − w) − rest·w is nought, give or take the whole mass times what
    /// the reading is uncertain by.
    fn of_strength(&self, seen: &SeenStrength) -> Observation<PARTS> {
        let strength = seen.strength.fraction();
        let mut on = vector([1.0 - strength, -strength]);
        on[Alike::Readings as usize] = self.mass();
        let whole = vector([1.0, 1.0]);
        let mass_squared = self.mass().powi(2) + self.variance(&whole);
        Observation { on, value: 0.0, variance: mass_squared * seen.deviation.powi(2) }
    }

    fn row(&self, yard: &Yard, product: &Product, seen: &Seen) -> Observation<PARTS> {
        match seen {
            Seen::Volume(volume) => self.of_volume(yard, product, volume),
            Seen::Strength(strength) => self.of_strength(strength),
        }
    }

    /// How many of its own deviations evidence lies from what is expected.
    pub(super) fn far(&self, yard: &Yard, product: &Product, seen: &Seen) -> f64 {
        if let (Seen::Strength(strength), true) = (seen, self.is_loose()) {
            let apart = strength.strength.fraction() - self.fraction();
            let deviation = self.strength_deviation().hypot(strength.deviation);
            return apart.abs() / deviation.max(f64::MIN_POSITIVE);
        }
        let (apart, variance) = self.gaussian.innovation(&self.row(yard, product, seen));
        if variance > 0.0 { apart.abs() / variance.sqrt() } else { 0.0 }
    }

    /// Takes evidence in.
    pub(super) fn see(&mut self, yard: &Yard, product: &Product, seen: &Seen) {
        if let (Seen::Strength(strength), true) = (seen, self.is_loose()) {
            *self = self.believing(yard, product, &Seen::Strength(self.weighed(strength)));
            return;
        }
        let row = self.row(yard, product, seen);
        let rest_before = self.gaussian.mean[1];
        self.gaussian.observe(&row, MOVING);
        self.settle_below_zero();
        let rest = self.gaussian.mean[1];
        let is_new = self.declared.is_empty() || rest_before <= NOTHING_KG;
        if !is_brine(product) && is_new {
            self.declared = BTreeMap::from([(product.id.clone(), kilograms(rest))]);
        }
        if rest_before > NOTHING_KG {
            self.declared.values_mut().for_each(|mass| *mass *= rest / rest_before);
        }
        self.remember();
    }

    /// Whether so little is known of the mass that salt and water cannot be told apart by it: then a strength is
    /// weighed as a strength.
    fn is_loose(&self) -> bool {
        self.variance(&vector([1.0, 1.0])).sqrt() > LOOSE * self.mass()
    }

    /// A strength seen and the one that was thought, by weight.
    fn weighed(&self, seen: &SeenStrength) -> SeenStrength {
        let (own, other) = (self.strength_deviation().max(1e-9).powi(-2), seen.deviation.max(1e-9).powi(-2));
        let mean = (own * self.fraction() + other * seen.strength.fraction()) / (own + other);
        let strength = MassFraction::from_fraction(mean).unwrap_or(seen.strength);
        SeenStrength { strength, deviation: (own + other).sqrt().recip() }
    }

    /// What it would be if evidence that does not fit were right: that part anew by the evidence alone, the other part
    /// as it was.
    pub(super) fn believing(&self, yard: &Yard, product: &Product, seen: &Seen) -> Self {
        let mut other = self.clone();
        let whole = vector([1.0, 1.0]);
        let mass_deviation = self.variance(&whole).sqrt();
        match seen {
            Seen::Strength(strength) => {
                let (fraction, mass) = (strength.strength.fraction(), self.mass());
                other.forget();
                other.widen(along(fraction), mass_deviation);
                let of_reading = strength.deviation.hypot(READINGS_ALIKE_PCT / 100.0);
                other.widen(ACROSS, mass * of_reading);
                (other.gaussian.mean[0], other.gaussian.mean[1]) = (mass * fraction, mass * (1.0 - fraction));
                other.last_strength = Some(strength.strength);
            }
            Seen::Volume(_) => {
                let strength_deviation = self.strength_deviation();
                let row = self.row(yard, product, seen);
                let density = 1.0 / (row.on[0] * self.fraction() + row.on[1] * (1.0 - self.fraction()));
                let mass = row.value * density;
                let fraction = self.fraction();
                other.forget();
                other.widen(along(fraction), density * row.variance.sqrt().hypot(TABLE_ALIKE * row.value));
                other.widen(ACROSS, mass * strength_deviation);
                (other.gaussian.mean[0], other.gaussian.mean[1]) = (mass * fraction, mass * (1.0 - fraction));
                let rest = self.gaussian.mean[1];
                if !is_brine(product) && self.declared.is_empty() {
                    other.declared = BTreeMap::from([(product.id.clone(), kilograms(mass))]);
                }
                if rest > NOTHING_KG {
                    let share = mass * (1.0 - fraction) / rest;
                    other.declared.values_mut().for_each(|mass| *mass *= share);
                }
            }
        }
        other.remember();
        other
    }

    /// Volume at 60 °F, with half of its 95 % interval.
    pub(super) fn volume(&self, yard: &Yard) -> Estimate<Volume> {
        let content = self.content();
        let value = content.volume(yard, self.last_strength());
        let product = Self::stand_in(yard, &content);
        let slopes = product.map_or([1e-3, 1e-3], |product| self.volume_slopes(yard, product, None));
        let uncertainty = cubic_metres(K95 * self.variance(&vector(slopes)).sqrt());
        Estimate { value, uncertainty }
    }

    /// A product that a content may be looked at as: for its density.
    fn stand_in<'y>(yard: &'y Yard, content: &Content) -> Option<&'y Product> {
        let only = content.declared.keys().next().filter(|_| content.declared.len() == 1);
        only.and_then(|id| yard.product(id))
            .or_else(|| yard.products.iter().find(|product| is_brine(product)))
    }

    /// Strength with half of its 95 % interval; none of an empty tank, of water, and of what holds a declared liquid.
    pub(super) fn strength(&self) -> Option<Estimate<MassFraction>> {
        let value = self.content().strength()?;
        let deviation = (K95 * self.strength_deviation()).min(1.0);
        let uncertainty = MassFraction::from_fraction(deviation).ok()?;
        (self.mass() > NOTHING_KG).then_some(Estimate { value, uncertainty })
    }

    fn strength_deviation(&self) -> f64 {
        if self.mass() <= NOTHING_KG {
            return UNCOUNTED_PCT / 100.0;
        }
        let (mass, fraction) = (self.mass().max(NOTHING_KG), self.fraction());
        self.variance(&vector([(1.0 - fraction) / mass, -fraction / mass])).sqrt()
    }

    /// Salt in it, with half of its 95 % interval.
    pub(super) fn sodium_chloride(&self) -> Estimate<Mass> {
        let deviation = self.variance(&vector([1.0, 0.0])).sqrt();
        Estimate { value: kilograms(self.parts()[0]), uncertainty: kilograms(K95 * deviation) }
    }

    /// There is never less than nothing in a tank.
    fn settle_below_zero(&mut self) {
        for part in 0..MOVING {
            self.gaussian.mean[part] = self.gaussian.mean[part].max(0.0);
        }
    }

    fn remember(&mut self) {
        self.last_strength = self.content().strength().or(self.last_strength);
    }
}

/// More of the same composition.
fn along(strength: f64) -> [f64; 2] {
    [strength, 1.0 - strength]
}

/// Stronger at the same mass.
const ACROSS: [f64; 2] = [1.0, -1.0];

fn vector(moving: [f64; 2]) -> Vector {
    let mut whole = Vector::zeros();
    (whole[0], whole[1]) = (moving[0], moving[1]);
    whole
}

fn outer(direction: [f64; 2], deviation: f64) -> SMatrix<f64, MOVING, MOVING> {
    let on = SVector::from(direction);
    on * on.transpose() * (deviation * deviation)
}

pub(super) fn is_brine(product: &Product) -> bool {
    matches!(product.kind, ProductKind::SodiumChlorideBrine)
}

/// kg/m³ of a product at a strength; past the data, as at its edge.
fn density_of(product: &Product, strength: f64, temperature: Option<ThermodynamicTemperature>) -> f64 {
    if let ProductKind::Declared { density, .. } = product.kind {
        return in_kg_per_m3(density);
    }
    let at = temperature.unwrap_or_else(chemistry::recipe::reference_temperature);
    let strength = strength.clamp(0.0, Brine::STRONGEST_PERCENT / 100.0);
    let brine = MassFraction::from_fraction(strength).and_then(Brine::sodium_chloride);
    let reference = chemistry::recipe::reference_temperature();
    brine
        .and_then(|brine| brine.density(at).or_else(|_| brine.density(reference)))
        .map_or(1000.0, in_kg_per_m3)
}

fn nominal_density(product: &Product, strength: f64) -> f64 {
    density_of(product, strength, None)
}
