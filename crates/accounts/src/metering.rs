//! Meters held against the scale, and totalisers that begin again at nought.

use bench::uncertainty::coverage_factor;
use chemistry::{Brine, MassFraction, recipe};
use jiff::Timestamp;
use message::{Message, Tell, message};
use quantity::{
    ThermodynamicTemperature, Volume, celsius, cubic_metres, in_cubic_metres, in_kg_per_m3, in_kilograms,
    kilograms,
};

use crate::Journal;
use event::{Body, EventId, Recorded};
use site::Meter;

/// A truck scale weighs a load (loaded less empty) to this, kg, one standard deviation: two weighings on a scale of 20
/// lb divisions. Our own figure.
const SCALE_KG: f64 = 10.0;

/// One comparison of a meter with a scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Proof {
    /// Id of its entry in the ledger.
    pub event: EventId,
    /// When it happened.
    pub at: Timestamp,
    /// Volume by the scale over volume shown, both at the liquid's temperature.
    pub factor: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
}

/// Why a meter's figures say nothing.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub enum MeterError {
    /// Nothing was metered, or nothing weighed.
    Nothing,
    /// The scale says so many times what the meter showed: outside 0.5…2.
    Factor(f64),
    /// A total beyond the one at which the meter begins again.
    BeyondRollOver,
    /// A total below the one before it, of a meter that is not known to begin again.
    Backward,
    /// A strength or a temperature outside the density data.
    Chemistry(#[from] chemistry::Error),
}

impl Tell for MeterError {
    fn message(&self) -> Message {
        match self {
            MeterError::Nothing => Message::new("accounts.meter.nothing"),
            MeterError::Factor(factor) => message!("accounts.meter.factor", factor = (*factor, 2)),
            MeterError::BeyondRollOver => Message::new("accounts.meter.beyond_roll_over"),
            MeterError::Backward => Message::new("accounts.meter.backward"),
            MeterError::Chemistry(error) => error.message(),
        }
    }
}

/// What the comparisons say of a meter.
#[derive(Debug, Clone, PartialEq)]
pub struct MeterFactor {
    /// All comparisons, in order of time.
    pub proofs: Vec<Proof>,
    /// Mean factor, weighted by how well each is known.
    pub factor: f64,
    /// Its 95 % interval, ±.
    pub interval: f64,
}

/// Volume that a mass of liquid fills over the volume shown.
///
/// # Equation
/// factor = m / (ρ(w, t)·V shown).
///
/// # Range
/// Brine within the density data; factors of 0.5…2.
///
/// # Error
/// That of the scale (10 kg a load) and of the strength (0.2 % by mass), as the interval says.
///
/// # Source
/// Definition; gravimetric proving, NIST SOP 14 in outline.
///
/// # Errors
/// [`MeterError`].
pub(crate) fn proof_factor(
    shown: Volume,
    mass_kg: f64,
    strength: MassFraction,
    temperature: Option<ThermodynamicTemperature>,
) -> Result<(f64, f64), MeterError> {
    let at = temperature.unwrap_or_else(recipe::reference_temperature);
    let density = |w: MassFraction| {
        let brine = Brine::sodium_chloride(w).and_then(|brine| brine.density(at));
        brine.map(in_kg_per_m3)
    };
    let rho = density(strength)?;
    let shown = in_cubic_metres(shown);
    if shown <= 0.0 || mass_kg <= 0.0 {
        return Err(MeterError::Nothing);
    }
    let factor = mass_kg / (rho * shown);
    if !(0.5..=2.0).contains(&factor) {
        return Err(MeterError::Factor(factor));
    }
    let weaker = MassFraction::from_percent((strength.percent() - 0.2).max(0.0))?;
    let by_strength = if strength.percent() > 0.0 { (1.0 - density(weaker)? / rho).abs() } else { 0.0 };
    Ok((factor, factor * (SCALE_KG / mass_kg).hypot(by_strength)))
}

/// What the ledger's comparisons say of a meter; none where there is none.
pub fn meter_factor(journal: &Journal<'_>, meter: &Meter) -> Option<MeterFactor> {
    let by_load = journal.yard().loading_meter().is_some_and(|only| only.id == meter.id);
    let proof = |recorded: &&Recorded| {
        let (event, at) = (recorded.event.id, recorded.event.occurred_at);
        let found = match &recorded.event.body {
            Body::MeterCheck(check) if check.meter == meter.id => {
                let strength = MassFraction::from_percent(check.strength_pct).ok()?;
                let temperature = check.temp_c.map(celsius);
                proof_factor(cubic_metres(check.shown_m3), check.weighed_kg, strength, temperature)
            }
            Body::LoadOut(load) if load.meter.as_deref().map_or(by_load, |id| id == meter.id) => {
                let shown = load.metered_m3?;
                let strength = journal.strength_of(event)?;
                proof_factor(cubic_metres(shown), load.weighed_kg?, strength, load.temp_c.map(celsius))
            }
            _ => return None,
        };
        let (factor, standard_uncertainty) = found.ok()?;
        Some(Proof { event, at, factor, standard_uncertainty })
    };
    let proofs: Vec<Proof> = journal.events().iter().filter_map(proof).collect();
    if proofs.is_empty() {
        return None;
    }
    let weight = |proof: &Proof| proof.standard_uncertainty.powi(-2);
    let sum: f64 = proofs.iter().map(weight).sum();
    let factor = proofs.iter().map(|proof| weight(proof) * proof.factor).sum::<f64>() / sum;
    // The larger of what the parts say and what the comparisons show among themselves.
    let within = sum.powf(-0.5);
    let n = proofs.len() as f64;
    let scatter = proofs.iter().map(|p| (p.factor - factor).powi(2)).sum::<f64>();
    let (between, freedom) =
        if n > 1.0 { ((scatter / (n - 1.0) / n).sqrt(), Some(n - 1.0)) } else { (0.0, None) };
    let interval =
        if between > within { coverage_factor(freedom) * between } else { coverage_factor(None) * within };
    Some(MeterFactor { proofs, factor, interval })
}

impl Journal<'_> {
    /// Strength of what an event drew from a tank; none for a declared liquid or a mix.
    pub fn strength_of(&self, event: EventId) -> Option<MassFraction> {
        let is_it =
            |flow: &&yard::stock::Flow| flow.event == event && matches!(flow.from, yard::stock::End::Tank(_));
        self.walk.liquids.iter().find(is_it)?.liquid.strength()
    }
}

/// What a totaliser counted from one reading to the next.
///
/// # Equation
/// later − earlier, plus the total it rolls over at where that is below zero.
///
/// # Range
/// At most one turn between two readings.
///
/// # Error
/// None: a definition.
///
/// # Source
/// Definition.
///
/// # Errors
/// [`MeterError`]: a total that went backward on a meter that does not roll over, or beyond its roll-over.
///
/// # Examples
/// ```
/// use quantity::{gallons, in_gallons};
/// let counted = accounts::metering::counted(gallons(999_400.0), gallons(850.0), Some(gallons(1_000_000.0)));
/// assert!(counted.is_ok_and(|volume| (in_gallons(volume) - 1450.0).abs() < 1e-6));
/// assert!(accounts::metering::counted(gallons(900.0), gallons(850.0), None).is_err());
/// ```
pub fn counted(earlier: Volume, later: Volume, rolls_over_at: Option<Volume>) -> Result<Volume, MeterError> {
    if let Some(limit) = rolls_over_at
        && (limit <= earlier || limit <= later)
    {
        return Err(MeterError::BeyondRollOver);
    }
    if earlier <= later {
        return Ok(later - earlier);
    }
    match rolls_over_at {
        Some(limit) => Ok(limit - earlier + later),
        None => Err(MeterError::Backward),
    }
}

/// Readings of a meter with what it counted between them, times its factor, in order of time.
pub fn counts(
    journal: &Journal<'_>,
    meter: &Meter,
) -> Vec<(Timestamp, Timestamp, Result<Volume, MeterError>)> {
    let totals: Vec<(Timestamp, Volume)> = journal
        .events()
        .iter()
        .filter_map(|recorded| match &recorded.event.body {
            Body::MeterReading(reading) if reading.meter == meter.id => {
                Some((recorded.event.occurred_at, cubic_metres(reading.total_m3)))
            }
            _ => None,
        })
        .collect();
    let between = |pair: &[(Timestamp, Volume)]| match pair {
        [(from, earlier), (until, later)] => {
            let volume = counted(*earlier, *later, meter.rolls_over_at).map(|volume| volume * meter.factor);
            Some((*from, *until, volume))
        }
        _ => None,
    };
    totals.windows(2).filter_map(between).collect()
}

/// Mass of salt that counted buckets carried, with their number, over a stretch of time.
pub fn buckets(journal: &Journal<'_>, from: Timestamp, until: Timestamp) -> (f64, quantity::Mass) {
    let mut found = (0.0, kilograms(0.0));
    for recorded in journal.events() {
        let at = recorded.event.occurred_at;
        if let Body::BucketCount(count) = &recorded.event.body
            && from <= at
            && at < until
        {
            let one = count.bucket_kg.map(kilograms).or(journal.yard().put_right.bucket);
            found.0 += count.buckets_number;
            found.1 +=
                one.map_or(kilograms(0.0), |mass| kilograms(in_kilograms(mass) * count.buckets_number));
        }
    }
    found
}
