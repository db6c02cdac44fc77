//! Putting a tank right: from a tank of the yard and a measured strength to what to put in, by mass, in the
//! yard's own units.
//!
//! The arithmetic is [`chemistry::correction`]; this module knows tanks, pumps and buckets. It advises; the
//! event it words is recorded by a person. A declared liquid, or a tank that holds one, is refused with the reason.

use chemistry::MassFraction;
use chemistry::correction::{Content, Correction, Fit, Means, correct};
use chemistry::recipe::{RockSalt, reference_temperature};
use chemistry::{Brine, Error};
use jiff::Timestamp;
use message::{Arg, Message, Tell, message};
use quantity::{Mass, ThermodynamicTemperature, Time, Volume, VolumeRate, in_cubic_metres, in_kilograms};

use crate::estimate::TankEstimate;
use crate::stock::Books;
use event::{Body, Correction as CorrectionEvent, Transfer};
use site::{ProductKind, PutRight, Tank, Yard};

/// Interval of a strength that nobody stated one for, per cent by mass: a single refractometer reading
/// (reference notes).
pub const UNSTATED_UNCERTAINTY_PERCENT: f64 = 0.3;

/// Share of the correction that goes in before the tank is sampled again. Common practice, no source.
pub const FIRST_PART: f64 = 0.75;

/// With what a tank is put right.
#[derive(Debug, Clone, PartialEq)]
pub enum With {
    /// Water, when the tank is too strong.
    Water,
    /// Rock salt, when the tank is too weak.
    Salt,
    /// Rock salt, by sending the weak brine through the plant once more instead of water.
    Plant,
    /// Brine of another tank.
    Tank(String),
    /// A brine of a strength that is in no tank of the yard.
    Lot(MassFraction),
}

/// What is known of the tank and wanted of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Ask {
    /// Id of the tank to correct.
    pub tank: String,
    /// What it holds, at 60 °F.
    pub volume: Volume,
    /// Strength of the brine in the tank, as measured.
    pub strength: MassFraction,
    /// Half of its 95 % interval.
    pub uncertainty: MassFraction,
    /// Temperature of the brine.
    pub temperature: ThermodynamicTemperature,
    /// Strength that the tank is to have.
    pub target: MassFraction,
    /// What is put in to correct it.
    pub with: With,
    /// Temperature of what is put in.
    pub with_temperature: ThermodynamicTemperature,
}

/// Where a strength that stands in the form comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StrengthFrom {
    /// All readings of the newest sample, later than anything that went in or out.
    Sample {
        /// When it happened.
        at: Timestamp,
        /// How many readings.
        readings: usize,
        /// It does not fit what was expected, and waits for a second sample.
        is_doubted: bool,
    },
    /// What is expected of what was put in at this time to change the strength; no sample since.
    Corrected(Timestamp),
    /// What is thought to be there; a sample there may be is older than the last movement.
    Estimate,
}

/// What stands in the form before anybody types.
#[derive(Debug, Clone, PartialEq)]
pub struct Prefilled {
    /// What it is thought to hold, at 60 °F.
    pub volume: Volume,
    /// Strength, where anything says one.
    pub strength: Option<(MassFraction, StrengthFrom)>,
    /// Half of its 95 % interval.
    pub uncertainty: MassFraction,
    /// Temperature by the last dip, or of the water supply.
    pub temperature: ThermodynamicTemperature,
    /// The plant's target.
    pub target: MassFraction,
}

/// What helps: bucket, pumps, room. All that a yard has not said stays unsaid.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Helps {
    /// Rock salt as delivered in one bucket of the loader.
    pub bucket: Option<Mass>,
    /// Pump that brings what is put in.
    pub pump: Option<VolumeRate>,
    /// Pump that circulates the tank.
    pub circulation: Option<VolumeRate>,
    /// Tank volumes to pump round before sampling again.
    pub turnovers: f64,
    /// Most the tank may hold, at 60 °F.
    pub capacity: Option<Volume>,
}

/// What to put in, in every unit that helps, and what comes of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Advice {
    /// What the tank holds.
    pub content: Content,
    /// What to put in, and what comes of it.
    pub correction: Correction,
    /// Whether there is room, where the tank's size is known.
    pub fit: Option<Fit>,
    /// Most the tank may hold, at 60 °F, where known.
    pub capacity: Option<Volume>,
    /// Loader buckets, for salt.
    pub buckets: Option<f64>,
    /// Hours of the plant, from switching on, for brine that is sent through it once more.
    pub plant: Option<Time>,
    /// Minutes of the pump that brings it.
    pub pumping: Option<Time>,
    /// How long to circulate before sampling again.
    pub circulating: Option<Time>,
    /// Tank volumes to circulate.
    pub turnovers: f64,
}

/// Why a tank of the yard is not put right so.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub enum Refusal {
    /// No such tank.
    NoTank(String),
    /// Not our own brine in it, by its book or by its product.
    NotPredicted(String),
    /// The same tank on both sides.
    SameTank(String),
    /// Nobody knows how strong the other tank is.
    StrengthUnknown(String),
    /// The other tank does not hold enough.
    TooLittle {
        /// The other tank.
        tank: String,
        /// What may be drawn from it, m³ at 60 °F.
        has: f64,
        /// What is needed, m³ at 60 °F.
        needs: f64,
    },
    /// The arithmetic refuses.
    Chemistry(#[from] Error),
}

/// What to put in, for a tank of which only numbers are known.
///
/// # Equation
/// [`correct`]; buckets = mass / bucket; pumping = volume / rate; circulating = turnovers·volume after / rate.
///
/// # Range
/// As of [`correct`].
///
/// # Error
/// As of [`correct`]; pumps are taken at their stated rate.
///
/// # Source
/// As of [`correct`]; the rest by definition.
///
/// # Errors
/// As [`correct`].
pub fn work_out(
    content: Content,
    target: MassFraction,
    means: Means,
    helps: &Helps,
) -> Result<Advice, Error> {
    let correction = correct(&content, target, means)?;
    let fit = helps.capacity.map(|capacity| correction.fit(&content, capacity)).transpose()?;
    let buckets = match means {
        Means::Salt(..) => helps.bucket.map(|bucket| in_kilograms(correction.add) / in_kilograms(bucket)),
        _ => None,
    };
    let over = |volume: Volume, rate: VolumeRate| -> Time { volume / rate };
    Ok(Advice {
        content,
        correction,
        fit,
        capacity: helps.capacity,
        buckets,
        plant: None,
        pumping: correction.add_volume.zip(helps.pump).map(|(volume, rate)| over(volume, rate)),
        circulating: helps.circulation.map(|rate| over(correction.volume_after * helps.turnovers, rate)),
        turnovers: helps.turnovers,
    })
}

/// What stands in the form for a tank: the newest sample's strength where it is later than the last movement, else
/// what is thought to be there.
///
/// # Errors
/// [`Refusal::NoTank`], [`Refusal::NotPredicted`].
pub fn prefilled(yard: &Yard, books: &Books, tank: &str) -> Result<Prefilled, Refusal> {
    let (_, one) = own_brine(yard, books, tank)?;
    let book = books.tank(tank).ok_or_else(|| Refusal::NoTank(tank.to_string()))?;
    let thought = one.strength();
    let strength = match (one.verdict(), one.corrected_at()) {
        (Some(sample), _) => {
            let is_doubted = one.doubted().is_some_and(|doubted| doubted.mismatch.is_of_strength());
            let from = StrengthFrom::Sample { at: sample.at, readings: sample.readings, is_doubted };
            Some((sample.strength.value, from))
        }
        (None, Some(at)) => thought.map(|strength| (strength.value, StrengthFrom::Corrected(at))),
        (None, None) => one.last_strength().map(|strength| (strength, StrengthFrom::Estimate)),
    };
    let unstated = MassFraction::from_percent(UNSTATED_UNCERTAINTY_PERCENT).unwrap_or(MassFraction::ZERO);
    let of_thought = thought.map_or(unstated, |strength| strength.uncertainty);
    Ok(Prefilled {
        volume: one.volume(yard).value,
        strength,
        uncertainty: one.verdict().map_or(of_thought, |sample| sample.strength.uncertainty),
        temperature: book.dip.and_then(|dip| dip.temperature).unwrap_or(yard.plant.water_temperature),
        target: yard.spec(tank).target,
    })
}

/// Works out how to put a tank of the yard right.
///
/// # Equation
/// [`work_out`], with the tank's brine at the strength asked with and the yard's pumps, salt and room.
///
/// # Range
/// Tanks that hold sodium chloride brine alone.
///
/// # Error
/// As of [`correct`], with the stated interval of the strength.
///
/// # Source
/// As of [`work_out`].
///
/// # Errors
/// [`Refusal`]: what cannot be done so, and why.
pub fn advise(yard: &Yard, books: &Books, ask: &Ask) -> Result<Advice, Refusal> {
    let (tank, _) = own_brine(yard, books, &ask.tank)?;
    let brine = Brine::sodium_chloride(ask.strength)?;
    let mass = ask.volume * brine.density(reference_temperature())?;
    let content =
        Content { brine, strength_uncertainty: ask.uncertainty, mass, temperature: ask.temperature };
    let (means, pump) = match &ask.with {
        With::Water => (Means::Water(ask.with_temperature), Some(yard.plant.water_rate)),
        With::Salt => {
            let rock = RockSalt { purity: yard.salt.purity, moisture: yard.salt.moisture };
            (Means::Salt(rock, ask.with_temperature), None)
        }
        With::Plant => {
            let rock = RockSalt { purity: yard.salt.purity, moisture: yard.salt.moisture };
            (Means::Salt(rock, ask.temperature), None)
        }
        With::Lot(strength) => (Means::Lot(Brine::sodium_chloride(*strength)?, ask.with_temperature), None),
        With::Tank(other) => {
            if *other == ask.tank {
                return Err(Refusal::SameTank(other.clone()));
            }
            let found = prefilled(yard, books, other)?;
            let (strength, _) = found.strength.ok_or_else(|| Refusal::StrengthUnknown(other.clone()))?;
            let lot = Brine::sodium_chloride(strength)?;
            (Means::Lot(lot, ask.with_temperature), yard.put_right.transfer_rate)
        }
    };
    let helps = helps(&yard.put_right, tank, pump);
    let mut advice = work_out(content, ask.target, means, &helps)?;
    if ask.with == With::Plant {
        let target = Brine::sodium_chloride(ask.target)?;
        advice.buckets =
            helps.bucket.map(|bucket| in_kilograms(advice.correction.add) / in_kilograms(bucket));
        advice.plant = plant_time(yard, &target, advice.correction.volume_after);
        advice.circulating = None;
    }
    if let With::Tank(other) = &ask.with {
        let (site, _) = own_brine(yard, books, other)?;
        let least = books.standing(yard, other).map_or_else(Volume::default, |stands| stands.least);
        let has = in_cubic_metres(least - site.heel).max(0.0);
        let needs = in_cubic_metres(advice.correction.add_volume.unwrap_or_default());
        if has < needs {
            return Err(Refusal::TooLittle { tank: other.clone(), has, needs });
        }
    }
    Ok(advice)
}

/// How long the plant takes for a volume of a brine, from switching on: what comes in is brine instead of water, so
/// that the rate for water is the safe side.
fn plant_time(yard: &Yard, brine: &Brine, volume: Volume) -> Option<Time> {
    let rate = plant::MakingRate {
        rated: yard.plant.making_rate,
        rated_water_temperature: yard.plant.rated_water_temperature,
        loss_per_kelvin: yard.plant.rate_loss_per_kelvin,
        water_supply: yard.plant.water_rate,
    };
    let rate = rate.at(yard.plant.water_temperature, brine).ok()?;
    Some(yard.plant.start_up + volume / rate)
}

/// A yard's helps for one tank.
fn helps(settings: &PutRight, tank: &Tank, pump: Option<VolumeRate>) -> Helps {
    Helps {
        bucket: settings.bucket,
        pump,
        circulation: settings.circulation_rate,
        turnovers: settings.turnovers,
        capacity: Some(tank.working_capacity()),
    }
}

/// A tank that holds sodium chloride brine and nothing else, with what it is thought to hold.
fn own_brine<'a>(
    yard: &'a Yard,
    books: &'a Books,
    id: &str,
) -> Result<(&'a Tank, &'a TankEstimate), Refusal> {
    let none = || Refusal::NoTank(id.to_string());
    let tank = yard.tank(id).ok_or_else(none)?;
    let one = books.estimate(id).ok_or_else(none)?;
    let product = yard.product(&tank.product).ok_or_else(none)?;
    let is_brine = matches!(product.kind, ProductKind::SodiumChlorideBrine);
    if !is_brine || !one.content().unlike(product).is_empty() {
        return Err(Refusal::NotPredicted(id.to_string()));
    }
    Ok((tank, one))
}

/// The event of having put in a share of it, 0…1; none for brine that is in no tank, which comes in with its delivery.
pub fn event(ask: &Ask, advice: &Advice, share: f64) -> Option<Body> {
    let volume_m3 = advice.correction.add_volume.map(|volume| share * in_cubic_metres(volume));
    let tank = ask.tank.clone();
    Some(match &ask.with {
        With::Water => Body::Correction(CorrectionEvent { tank, water_m3: volume_m3, salt_kg: None }),
        With::Salt | With::Plant => Body::Correction(CorrectionEvent {
            tank,
            water_m3: None,
            salt_kg: Some(share * in_kilograms(advice.correction.add)),
        }),
        With::Tank(other) => Body::Transfer(Transfer {
            from_tank: other.clone(),
            to_tank: tank,
            volume_m3: volume_m3?,
            temp_c: None,
        }),
        With::Lot(_) => return None,
    })
}

impl Tell for Refusal {
    fn message(&self) -> Message {
        match self {
            Refusal::NoTank(tank) => message!("yard.correct.no_tank", tank = tank),
            Refusal::NotPredicted(tank) => message!("yard.correct.not_predicted", tank = tank),
            Refusal::SameTank(tank) => message!("yard.correct.same_tank", tank = tank),
            Refusal::StrengthUnknown(tank) => message!("yard.correct.strength_unknown", tank = tank),
            Refusal::TooLittle { tank, has, needs } => message!(
                "yard.correct.too_little",
                tank = tank,
                has = Arg::VolumeM3(*has),
                needs = Arg::VolumeM3(*needs)
            ),
            Refusal::Chemistry(error) => error.message(),
        }
    }
}
