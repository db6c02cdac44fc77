//! A batch as it is booked: gallons made by whatever the yard has (a meter, dips, or hours and a rate), with what each
//! is worth, and the salt and water that go with them by mass.
//!
//! The ways are worked out here, of plain amounts; [`of_run`] finds the amounts in the books.

use chemistry::{Brine, density, recipe};
use chemistry::{Estimate, MassFraction};
use jiff::Timestamp;
use plant::MakingRate;
use quantity::{
    Mass, ThermodynamicTemperature, Time, Volume, VolumeRate, hours, in_cubic_metres, in_kg_per_m3,
    in_kilograms, kilograms,
};

use crate::estimate::SampleVerdict;
use crate::run_log::Run;
use crate::stock::{Books, DipLook};
use crate::uncertain::{
    BY_METER, DENSITY_NO_TEMPERATURE, DIP_M, FLOW_PCT, TABLE_ALIKE, TOTAL_KG, density_of_dip,
};
use event::BatchFound;
use site::strapping::TankShape;
use site::{Metered, Yard};

/// Standard uncertainties become 95 % intervals by this: normal.
const K95: f64 = 1.96;
/// Water that the meter counts and the batch does not hold, or the other way round (rinsing, what stays in the plant),
/// as a share of the batch. Our own figure, no source.
const LEFT_IN_PLANT: f64 = 0.02;
/// Hours times the yard's rate, as a share. Our own figure, no source.
const BY_HOURS: f64 = 0.10;
/// A strength is found from a mass within so many rounds: each takes the error down by more than ten.
const ROUNDS: usize = 12;

/// Brine that was made, as one way finds it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Made {
    /// How the volume was found.
    pub way: BatchFound,
    /// How much, with its 95 % interval.
    pub mass: Estimate<Mass>,
}

impl Made {
    fn new(way: BatchFound, kg: f64, standard_kg: f64) -> Option<Self> {
        let is_some = kg.is_finite() && 0.0 < kg && standard_kg.is_finite();
        let mass = Estimate { value: kilograms(kg), uncertainty: kilograms(K95 * standard_kg) };
        is_some.then_some(Self { way, mass })
    }

    /// Its volume at a temperature, with the 95 % interval.
    ///
    /// # Errors
    /// As [`density::density`].
    pub fn volume(
        &self,
        brine: &Brine,
        temperature: ThermodynamicTemperature,
    ) -> Result<Estimate<Volume>, chemistry::Error> {
        let density = brine.density(temperature)?;
        Ok(Estimate { value: self.mass.value / density, uncertainty: self.mass.uncertainty / density })
    }

    /// Half of the 95 % interval of the mass, per cent of the mass.
    pub fn uncertainty_pct(&self) -> f64 {
        100.0 * in_kilograms(self.mass.uncertainty) / in_kilograms(self.mass.value)
    }
}

/// A liquid counted by a meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counted {
    /// What it counted, times its factor.
    pub volume: Volume,
    /// Standard uncertainty of that factor, as a share.
    pub factor_uncertainty: f64,
}

impl Counted {
    /// Standard uncertainty, as a share and kg.
    fn error(&self) -> (f64, f64) {
        (self.factor_uncertainty.hypot(BY_METER.0), BY_METER.1.hypot(TOTAL_KG))
    }
}

/// Brine by the meter it went through.
///
/// # Equation
/// m = V·ρ(w, t); at 60 °F where no temperature was taken.
///
/// # Range
/// Brine within the density data.
///
/// # Error
/// That of the meter (its factor, 0.5 %, and 20 kg of reading a total) and, without a temperature, 0.3 % of density.
///
/// # Source
/// Definition.
///
/// # Errors
/// As [`density::density`].
pub fn by_making_meter(
    counted: &Counted,
    brine: &Brine,
    temperature: Option<ThermodynamicTemperature>,
) -> Result<Option<Made>, chemistry::Error> {
    let rho = brine.density(temperature.unwrap_or_else(recipe::reference_temperature))?;
    let kg = in_kilograms(counted.volume * rho);
    let (share, own) = counted.error();
    let share = if temperature.is_some() { share } else { share.hypot(DENSITY_NO_TEMPERATURE) };
    Ok(Made::new(BatchFound::MakingMeter, kg, (share * kg).hypot(own)))
}

/// Brine by the water that went into it.
///
/// # Equation
/// m = W/(1 − w − (w/p)·μ/(1 − μ)): the water of the brine less the salt's own moisture. W = V·ρ_water(60 °F), w the
/// strength, p the purity and μ the moisture of the salt.
///
/// # Range
/// Brine within the density data; purity above zero.
///
/// # Error
/// That of the meter; of the strength, by the equation; and 2 % for water that the meter counts and the batch does not
/// hold (our own figure, no source).
///
/// # Source
/// Mass balance, as [`recipe::batch`] has it.
///
/// # Errors
/// As [`density::water_density`].
pub fn by_water_meter(
    counted: &Counted,
    strength: Estimate<MassFraction>,
    salt: recipe::RockSalt,
) -> Result<Option<Made>, chemistry::Error> {
    let water_kg = in_kilograms(counted.volume * density::water_density(recipe::reference_temperature())?);
    let (purity, moisture) = (salt.purity.fraction(), salt.moisture.fraction());
    let wet = moisture / (purity * (1.0 - moisture));
    let w = strength.value.fraction();
    let share_of_water = 1.0 - w - w * wet;
    let kg = water_kg / share_of_water;
    let (share, own) = counted.error();
    let of_strength = (1.0 + wet) / share_of_water * strength.uncertainty.fraction() / K95;
    let relative = share.hypot(of_strength).hypot(LEFT_IN_PLANT);
    Ok(Made::new(BatchFound::WaterMeter, kg, (relative * kg).hypot(own / share_of_water)))
}

/// A tank dipped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dipped {
    /// Depth of the liquid above the lowest inside point.
    pub depth: quantity::Length,
    /// Temperature of the content, where taken.
    pub temperature: Option<ThermodynamicTemperature>,
}

/// What else came into a tank between two dips, below zero where it left: mass and salt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Between {
    /// All of it.
    pub mass: Mass,
    /// Sodium chloride in it.
    pub sodium_chloride: Mass,
}

/// Brine by dips of its tank before and after.
///
/// # Equation
/// m = V(h₂)·ρ(w₂, t₂) − V(h₁)·ρ(w₁, t₁) − other flows; w₂ by the balance of salt, (S₁ + other + w·m)/(all), found in
/// rounds.
///
/// # Range
/// Depths within the tank; brine within the density data.
///
/// # Error
/// 5 mm a dip; 0.5 % of the table; 0.1 % of density, 0.3 % where no temperature was taken; 1 % of what else went in or
/// out is not in it: those are entries of their own.
///
/// # Source
/// Mass balance; the figures are our own (`uncertain`).
///
/// # Errors
/// What is wrong with a depth or a density, in words.
pub fn by_dips(
    shape: &TankShape,
    (before, after): (Dipped, Dipped),
    held: MassFraction,
    between: Between,
    strength: MassFraction,
) -> Result<Option<Made>, String> {
    let volume = |dip: &Dipped| shape.volume_at(dip.depth).map(in_cubic_metres).map_err(|e| e.to_string());
    let rho = |w: f64, dip: &Dipped| {
        let at = dip.temperature.unwrap_or_else(recipe::reference_temperature);
        let brine = MassFraction::from_fraction(w.clamp(0.0, Brine::STRONGEST_PERCENT / 100.0))
            .and_then(Brine::sodium_chloride);
        brine.and_then(|brine| brine.density(at)).map(in_kg_per_m3).map_err(|e| e.to_string())
    };
    let (v1, v2) = (volume(&before)?, volume(&after)?);
    let first = v1 * rho(held.fraction(), &before)?;
    let salt = first * held.fraction() + in_kilograms(between.sodium_chloride);
    let rest = first + in_kilograms(between.mass);
    let mut mixed = strength.fraction();
    let mut kg = 0.0;
    for _ in 0..ROUNDS {
        kg = v2 * rho(mixed, &after)? - rest;
        if rest + kg <= 0.0 {
            break;
        }
        mixed = (salt + strength.fraction() * kg) / (rest + kg);
    }
    // A dip is off by so much to either side; near a limit of the tank, to one.
    let step = quantity::metres(DIP_M);
    let slope = |dip: &Dipped, at: f64| {
        let near = [dip.depth - step, dip.depth + step].map(|depth| shape.volume_at(depth).ok());
        near.into_iter().flatten().map(|v| (in_cubic_metres(v) - at).abs()).fold(0.0, f64::max)
    };
    let rho2 = rho(mixed, &after)?;
    let of_dips = rho2 * slope(&before, v1).hypot(slope(&after, v2));
    let of_density = |dip: &Dipped| density_of_dip(dip.temperature.is_some());
    let densities = (of_density(&before) * first).hypot(of_density(&after) * v2 * rho2);
    let table = TABLE_ALIKE * (v2 - v1).abs() * rho2;
    // What a tank's strength may differ by moves its density: 0.75 kg/m³ for a tenth of a per cent.
    let of_strength = 0.75 * (FLOW_PCT / 0.1) / rho2 * (first + v2 * rho2);
    Ok(Made::new(BatchFound::Dips, kg, of_dips.hypot(densities).hypot(table).hypot(of_strength)))
}

/// Brine by hours and a rate.
///
/// # Equation
/// m = t·rate·ρ(w, 60 °F).
///
/// # Range
/// Any time above zero.
///
/// # Error
/// 10 % (our own figure, no source).
///
/// # Source
/// Definition; the rate is the yard's.
///
/// # Errors
/// As [`density::density`].
pub fn by_hours(making: Time, rate: VolumeRate, brine: &Brine) -> Result<Option<Made>, chemistry::Error> {
    let kg = in_kilograms(making * rate * brine.density(recipe::reference_temperature())?);
    Ok(Made::new(BatchFound::Hours, kg, BY_HOURS * kg))
}

/// The yard's own making rate with its water as it is.
///
/// # Equation
/// [`MakingRate::at`] at the yard's water temperature.
///
/// # Range
/// As of [`MakingRate::at`].
///
/// # Error
/// That of the yard file's rated making rate.
///
/// # Source
/// As of [`MakingRate::at`].
///
/// # Errors
/// As [`MakingRate::at`].
pub fn making_rate(yard: &Yard, brine: &Brine) -> Result<VolumeRate, plant::Error> {
    MakingRate {
        rated: yard.plant.making_rate,
        rated_water_temperature: yard.plant.rated_water_temperature,
        loss_per_kelvin: yard.plant.rate_loss_per_kelvin,
        water_supply: yard.plant.water_rate,
    }
    .at(yard.plant.water_temperature, brine)
}

/// Salt and water that a volume of brine holds by mass, of the yard's salt. The volume is stated at 60 °F.
///
/// # Errors
/// As [`recipe::batch`].
pub fn by_mass(
    yard: &Yard,
    volume: Volume,
    strength: MassFraction,
) -> Result<recipe::Batch, chemistry::Error> {
    recipe::batch(&Brine::sodium_chloride(strength)?, volume, yard.rock_salt())
}

/// What a run to come needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ahead {
    /// Salt and water.
    pub batch: recipe::Batch,
    /// From starting to the last of it, by what was learned or by the rate.
    pub time: Time,
    /// The time is by the yard's own runs, not by its file.
    pub is_learned: bool,
}

/// What a volume at the plant's target needs. `learned` is what the plant's own runs have shown of its water, as a
/// factor on the making rate; none takes the rate as the yard file gives it.
///
/// # Errors
/// What cannot be worked out, in words.
pub fn ahead(yard: &Yard, volume: Volume, learned: Option<f64>) -> Result<Ahead, String> {
    let target = yard.made_spec().target;
    let batch = by_mass(yard, volume, target).map_err(|e| e.to_string())?;
    let brine = Brine::sodium_chloride(target).map_err(|e| e.to_string())?;
    let rate = making_rate(yard, &brine).map_err(|e| e.to_string())?;
    let time = yard.plant.start_up + plant::making_time(volume, rate * learned.unwrap_or(1.0));
    Ok(Ahead { batch, time, is_learned: learned.is_some() })
}

/// What a batch of a run comes to, as far as the ledger knows: what stands in the form before anybody types.
#[derive(Debug, Clone, PartialEq)]
pub struct OfRun {
    /// Every way that the yard has, the surest first.
    pub ways: Vec<Made>,
    /// Its volume at 60 °F by the surest way, with the 95 % interval.
    pub volume: Option<(BatchFound, Estimate<Volume>)>,
    /// Strength by the run's own last sample.
    pub strength: Option<SampleVerdict>,
    /// Rock salt as delivered, kg: by the buckets counted, else by mass.
    pub salt: Option<(Mass, bool)>,
    /// Water, at 60 °F: by its meter, else by mass.
    pub water: Option<Volume>,
    /// Length of the run.
    pub duration: Time,
}

/// Works out a batch of a run from the totals, dips, buckets and hours that the ledger holds of it. `sample` is the
/// newest sample of the plant's tap, taken in the run.
pub fn of_run(
    yard: &Yard,
    books: &Books,
    (run, tank): (&Run, Option<&str>),
    sample: Option<SampleVerdict>,
    now: Timestamp,
) -> OfRun {
    let until = run.until(now);
    let duration = hours(until.duration_since(run.at).as_secs_f64().max(0.0) / 3600.0);
    let sample = sample.filter(|sample| run.at <= sample.at && sample.at <= until);
    let target = yard.made_spec().target;
    let strength = sample.map_or(Estimate { value: target, uncertainty: unsure() }, |sample| sample.strength);
    let brine = Brine::sodium_chloride(strength.value).ok();
    let water = counted(yard, run, Metered::Water);
    let mut ways = Vec::new();
    if let Some(brine) = &brine {
        let by_meter = counted(yard, run, Metered::Making).map(|count| by_making_meter(&count, brine, None));
        ways.extend(by_meter.and_then(Result::ok).flatten());
        ways.extend(tank.and_then(|tank| dipped(yard, books, (run, until), tank, strength.value)));
        let by_water = water.map(|count| by_water_meter(&count, strength, yard.rock_salt()));
        ways.extend(by_water.and_then(Result::ok).flatten());
        let making = if duration > yard.plant.start_up { duration - yard.plant.start_up } else { hours(0.0) };
        let rate = making_rate(yard, brine).ok();
        ways.extend(rate.and_then(|rate| by_hours(making, rate, brine).ok()).flatten());
    }
    ways.sort_by(|a, b| a.uncertainty_pct().total_cmp(&b.uncertainty_pct()));
    let at_60 = |made: &Made| made.volume(brine.as_ref()?, recipe::reference_temperature()).ok();
    let volume = ways.first().and_then(|made| Some((made.way, at_60(made)?)));
    let batch = volume.and_then(|(_, volume)| by_mass(yard, volume.value, strength.value).ok());
    let buckets = buckets(yard, run);
    let water_density = density::water_density(recipe::reference_temperature()).ok();
    let by_mass_water = batch.zip(water_density).map(|(batch, density)| batch.water / density);
    OfRun {
        volume,
        strength: sample,
        salt: buckets.map(|mass| (mass, true)).or(batch.map(|batch| (batch.rock_salt, false))),
        water: water.map(|count| count.volume).or(by_mass_water),
        duration,
        ways,
    }
}

/// What nobody measured is at the target, within so much: our own figure.
fn unsure() -> MassFraction {
    MassFraction::from_percent(1.0).unwrap_or(MassFraction::ZERO)
}

/// What a meter of the plant counted from the first total entered in a run to the last.
fn counted(yard: &Yard, run: &Run, what: Metered) -> Option<Counted> {
    let totals = run.answers.iter().filter_map(|answer| answer.total.filter(|(of, _)| *of == what));
    let (mut all, meter) = (totals.map(|(_, total)| total), yard.meters.iter().find(|one| one.on == what));
    let first = all.next()?;
    let last = all.next_back()?;
    let factor = meter.map_or(1.0, |meter| meter.factor);
    let factor_uncertainty = meter.map_or(BY_METER.0, |meter| meter.factor_uncertainty);
    (last > first).then(|| Counted { volume: (last - first) * factor, factor_uncertainty })
}

/// Rock salt in the buckets counted into the plant in a run; none where none were counted or nobody knows a bucket.
fn buckets(yard: &Yard, run: &Run) -> Option<Mass> {
    let own = yard.put_right.bucket.map(in_kilograms);
    let mass = |(count, kg): &(f64, Option<f64>)| Some(count * kg.or(own)?);
    let all: Option<Vec<f64>> = run.buckets.iter().map(mass).collect();
    all.filter(|all| !all.is_empty()).map(|all| kilograms(all.iter().sum()))
}

/// By the last dip of the tank before the run began and the last one in it.
fn dipped(
    yard: &Yard,
    books: &Books,
    (run, until): (&Run, Timestamp),
    tank: &str,
    strength: MassFraction,
) -> Option<Made> {
    let (site, book) = (yard.tank(tank)?, books.tank(tank)?);
    let before = book.dips.iter().rev().find(|dip| dip.at <= run.at)?;
    let after = book.dips.iter().rev().find(|dip| run.at < dip.at && dip.at <= until)?;
    let held = MassFraction::of(before.sodium_chloride, before.mass).unwrap_or(strength);
    let look = |dip: &DipLook| Dipped { depth: dip.depth, temperature: dip.temperature };
    let between = Between {
        mass: after.mass - before.mass,
        sodium_chloride: after.sodium_chloride - before.sodium_chloride,
    };
    by_dips(&site.shape, (look(before), look(after)), held, between, strength).ok().flatten()
}
