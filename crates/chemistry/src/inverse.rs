//! Strength read back from what can be measured: density, refractive index, conductivity, freezing point.
//!
//! Every answer states its sensitivity to the reading and to its temperature, and the 95 % interval that the
//! equation, the reading and its temperature give together.

use crate::freezing::{Solid, brine_beside_ice, saturated_at};
use crate::{Brine, Error, Salt, conductivity, density, refraction, root, water};
use crate::{MassFraction, RefractiveIndex};
use quantity::{
    ElectricalConductivity, MassDensity, TemperatureInterval, ThermodynamicTemperature, celsius, in_celsius,
    in_kelvins, in_kg_per_m3, in_millisiemens_per_cm,
};

/// Step, K, for the slope with temperature.
const STEP_KELVIN: f64 = 0.05;
/// Step of strength, as a fraction, for the slope with strength.
const STEP_FRACTION: f64 = 1e-6;

/// A reading with its temperature, each with its own 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading<V, U = V> {
    /// What was read.
    pub value: V,
    /// Half of its 95 % interval; zero where only the equation's own error is wanted.
    pub uncertainty: U,
    /// Temperature of the sample.
    pub temperature: ThermodynamicTemperature,
    /// Half of the 95 % interval of that.
    pub temperature_uncertainty: TemperatureInterval,
}

impl<V, U: Default> Reading<V, U> {
    /// A reading taken as exact.
    pub fn exact(value: V, temperature: ThermodynamicTemperature) -> Self {
        let temperature_uncertainty = quantity::kelvins(0.0);
        Self { value, uncertainty: U::default(), temperature, temperature_uncertainty }
    }
}

/// A strength read back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// The brine of that strength.
    pub brine: Brine,
    /// Half of the 95 % interval of its strength.
    pub uncertainty: MassFraction,
    /// Change of strength, per cent by mass, for one unit of the reading (kg/m³, 1 of index, mS/cm, K).
    pub percent_per_unit: f64,
    /// Change of strength, per cent by mass, for a temperature read one kelvin too warm.
    pub percent_per_kelvin: f64,
}

/// The strengths that a conductivity can mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conducting {
    /// On the rising branch, weaker than the strength that conducts best.
    pub weaker: Found,
    /// On the falling branch; none when the curve does not turn, or the data end before it falls so far.
    pub stronger: Option<Found>,
    /// Strength that conducts best, where the curve turns.
    pub turn: Option<MassFraction>,
}

/// The strengths that a freezing point can mean. The reading is a temperature, so `percent_per_unit` and
/// `percent_per_kelvin` of each are the same.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Freezing {
    /// Weaker than the eutectic: ice comes first.
    pub ice: Option<Found>,
    /// Stronger: this solid comes first.
    pub salt: Option<(Solid, Found)>,
}

/// A stretch of a curve that rises or falls all the way.
struct Stretch<F: Fn(f64, f64) -> f64> {
    curve: F,
    low: f64,
    high: f64,
    t: f64,
}

impl<F: Fn(f64, f64) -> f64> Stretch<F> {
    /// The fraction at which the curve has a value; the nearer end where it has not.
    fn fraction(&self, wanted: f64) -> f64 {
        let above = |w: f64| self.at(w) - wanted;
        let ends = [self.low, self.high].map(|w| (w, above(w)));
        root::zero(above, ends[0], ends[1], density::WITHIN_FRACTION)
    }

    fn at(&self, w: f64) -> f64 {
        (self.curve)(w, self.t)
    }

    /// The strength of a value, when all that may be wrong is `model` and the reading's own.
    fn found(&self, salt: Salt, value: f64, model: f64, own: f64, kelvins: f64) -> Result<Found, Error> {
        let w = self.fraction(value);
        let near = w.clamp(self.low + STEP_FRACTION, self.high - STEP_FRACTION);
        let slope = (self.at(near + STEP_FRACTION) - self.at(near - STEP_FRACTION)) / (2.0 * STEP_FRACTION);
        let warmer = (self.curve)(w, self.t + STEP_KELVIN);
        let by_temperature = (warmer - (self.curve)(w, self.t - STEP_KELVIN)) / (2.0 * STEP_KELVIN);
        let all = (model * model + own * own + (by_temperature * kelvins).powi(2)).sqrt();
        // Not along the slope: near a turn of the curve it would run away.
        let reach = [value - all, value + all].map(|edge| (self.fraction(edge) - w).abs());
        Ok(Found {
            brine: Brine::of(salt, MassFraction::from_fraction(w)?)?,
            uncertainty: MassFraction::from_fraction(reach[0].max(reach[1]))?,
            percent_per_unit: 100.0 / slope,
            percent_per_kelvin: -100.0 * by_temperature / slope,
        })
    }
}

/// Refuses a value that no brine on a stretch has.
fn within(quantity: &'static str, value: f64, a: f64, b: f64, slack: f64) -> Result<(), Error> {
    let (low, high) = (a.min(b), a.max(b));
    if (low - slack..=high + slack).contains(&value) {
        return Ok(());
    }
    Err(Error::Reading { quantity, value, low, high, reason: "chemistry.limit.brine_of_salt" })
}

/// Strength of a brine of one salt from its density.
///
/// # Equation
/// [`density::density`] read backward by [`root::zero`]; it rises with strength.
///
/// # Range
/// As [`density::density`].
///
/// # Error
/// In the answer; the equation alone, near 23.3 % NaCl and from 10 °C, 0.06 % by mass.
///
/// # Source
/// As [`density::density`].
///
/// # Errors
/// [`Error::Reading`] when no brine of the salt has it; as [`density::density`].
///
/// # Examples
/// ```
/// use chemistry::{Salt, inverse::{Reading, by_density}};
/// use quantity::{celsius, kg_per_m3};
/// let found = by_density(Salt::SodiumChloride, &Reading::exact(kg_per_m3(1147.8), celsius(20.0)))?;
/// assert!((found.brine.strength().percent() - 20.0).abs() < 0.05); // CRC: 20 % is 1.1478 g/mL
/// assert!(by_density(Salt::SodiumChloride, &Reading::exact(kg_per_m3(1300.0), celsius(20.0))).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn by_density(salt: Salt, reading: &Reading<MassDensity>) -> Result<Found, Error> {
    let t = water::checked(reading.temperature, "chemistry.limit.density_data")?;
    let curve = |w, t| density::single_kg_m3(salt, w, t);
    let stretch = Stretch { curve, low: 0.0, high: density::MOST[salt.place()], t };
    let value = in_kg_per_m3(reading.value);
    within("chemistry.density", value, stretch.at(0.0), stretch.at(stretch.high), 1e-9)?;
    let brine = Brine::of(salt, MassFraction::from_fraction(stretch.fraction(value))?)?;
    let model = in_kg_per_m3(density::estimate(&brine, reading.temperature)?.uncertainty);
    let (own, kelvins) = (in_kg_per_m3(reading.uncertainty), in_kelvins(reading.temperature_uncertainty));
    stretch.found(salt, value, model, own, kelvins)
}

/// Strength of a brine of one salt from its refractive index.
///
/// # Equation
/// [`refraction::refractive_index`] read backward by [`root::zero`]; it rises with strength.
///
/// # Range
/// As [`refraction::refractive_index`].
///
/// # Error
/// In the answer; the equation alone at 20 °C, 0.11 % by mass for NaCl.
///
/// # Source
/// As [`refraction::refractive_index`].
///
/// # Errors
/// [`Error::Reading`] when no brine of the salt has it; as [`refraction::refractive_index`].
///
/// # Examples
/// ```
/// use chemistry::{RefractiveIndex, Salt, inverse::{Reading, by_refractive_index}};
/// use quantity::celsius;
/// let read = |n| RefractiveIndex::from_index(n).map(|n| Reading::exact(n, celsius(20.0)));
/// let found = by_refractive_index(Salt::SodiumChloride, &read(1.3721)?)?;
/// assert!((found.brine.strength().percent() - 22.0).abs() < 0.1); // CRC: 22 % is 1.3721
/// assert!(by_refractive_index(Salt::SodiumChloride, &read(1.45)?).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn by_refractive_index(salt: Salt, reading: &Reading<RefractiveIndex, f64>) -> Result<Found, Error> {
    let t = water::checked(reading.temperature, "chemistry.limit.refraction_data")?;
    let curve = |w, t| single_index(salt, w, t);
    let stretch = Stretch { curve, low: 0.0, high: refraction::MOST[salt.place()], t };
    let value = reading.value.index();
    within("chemistry.refractive_index", value, stretch.at(0.0), stretch.at(stretch.high), 1e-9)?;
    let brine = Brine::of(salt, MassFraction::from_fraction(stretch.fraction(value))?)?;
    let model = refraction::estimate(&brine, reading.temperature)?.uncertainty;
    stretch.found(salt, value, model, reading.uncertainty, in_kelvins(reading.temperature_uncertainty))
}

fn single_index(salt: Salt, w: f64, t: f64) -> f64 {
    let brine = MassFraction::from_fraction(w.max(0.0)).and_then(|w| Brine::of(salt, w));
    brine.map_or(f64::NAN, |brine| refraction::index(&brine, t))
}

/// Strength of a brine of one salt from its conductivity: two strengths where the curve turns.
///
/// # Equation
/// [`conductivity::conductivity`] read backward by [`root::zero`] on each side of the strength that conducts best.
///
/// # Range
/// As [`conductivity::conductivity`].
///
/// # Error
/// In the answer. Near 23.3 % NaCl one per cent of reading is 0.65 % by mass, and one kelvin 1.4 %: it shows
/// upsets, and density or refraction decides.
///
/// # Source
/// As [`conductivity::conductivity`].
///
/// # Errors
/// [`Error::Reading`] above what the best strength conducts; as [`conductivity::conductivity`].
///
/// # Examples
/// ```
/// use chemistry::{Salt, inverse::{Reading, by_conductivity}};
/// use quantity::{celsius, millisiemens_per_cm};
/// let read = |value| Reading::exact(millisiemens_per_cm(value), celsius(20.0));
/// let one = by_conductivity(Salt::SodiumChloride, &read(204.0))?;
/// assert!((one.weaker.brine.strength().percent() - 20.0).abs() < 0.5 && one.stronger.is_none()); // CRC
/// let two = by_conductivity(Salt::MagnesiumChloride, &read(108.0))?;
/// assert!((two.weaker.brine.strength().percent() - 10.0).abs() < 0.3); // CRC: 10 % and about 28 %
/// assert!(two.stronger.is_some_and(|found| (27.0..29.0).contains(&found.brine.strength().percent())));
/// assert!(by_conductivity(Salt::MagnesiumChloride, &read(150.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn by_conductivity(salt: Salt, reading: &Reading<ElectricalConductivity>) -> Result<Conducting, Error> {
    let turn = conductivity::best_conducting(salt, reading.temperature)?;
    let t = in_celsius(reading.temperature);
    let value = in_millisiemens_per_cm(reading.value);
    let (own, kelvins) =
        (in_millisiemens_per_cm(reading.uncertainty), in_kelvins(reading.temperature_uncertainty));
    let curve = |w: f64, t: f64| conductivity::single(salt, w.max(0.0), t);
    let most = conductivity::MOST[salt.place()];
    let top = turn.map_or(most, MassFraction::fraction);
    let rising = Stretch { curve, low: conductivity::LEAST, high: top, t };
    within("chemistry.conductivity", value, rising.at(conductivity::LEAST), rising.at(top), 1e-9)?;
    let of = |stretch: &Stretch<_>| {
        let brine = Brine::of(salt, MassFraction::from_fraction(stretch.fraction(value))?)?;
        let model = conductivity::estimate(&brine, reading.temperature)?.uncertainty;
        stretch.found(salt, value, in_millisiemens_per_cm(model), own, kelvins)
    };
    let weaker = of(&rising)?;
    let falling = Stretch { curve, low: top, high: most, t };
    let stronger = match turn {
        Some(_) if value >= falling.at(most) => Some(of(&falling)?),
        _ => None,
    };
    Ok(Conducting { weaker, stronger, turn })
}

/// Strengths of a brine of one salt whose first solid appears at a temperature: one on each side of the eutectic.
///
/// # Equation
/// The curves of [`crate::freezing::first_solid`] read backward.
///
/// # Range
/// From the eutectic to 0 °C for ice and to 40 °C for salt.
///
/// # Error
/// The curve's own, over its slope: NaCl near 20 %, 0.1 K is 0.08 % by mass; on the salt side 2 K is 0.3 %.
///
/// # Source
/// As [`crate::freezing::first_solid`].
///
/// # Errors
/// [`Error::Temperature`] when nothing freezes there; [`Error::Strength`] when the brine would be too strong for one.
///
/// # Examples
/// ```
/// use chemistry::{Salt, inverse::by_freezing_point};
/// use quantity::{celsius, kelvins};
/// let both = by_freezing_point(Salt::SodiumChloride, celsius(-16.46), kelvins(0.1))?;
/// assert!(both.ice.is_some_and(|found| (found.brine.strength().percent() - 20.0).abs() < 0.05)); // CRC
/// assert!(both.salt.is_some_and(|(_, found)| (found.brine.strength().percent() - 24.0).abs() < 0.3));
/// assert!(by_freezing_point(Salt::SodiumChloride, celsius(-30.0), kelvins(0.1)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn by_freezing_point(
    salt: Salt,
    temperature: ThermodynamicTemperature,
    own: TemperatureInterval,
) -> Result<Freezing, Error> {
    let t = in_celsius(temperature);
    let ice_side = |t: f64| brine_beside_ice(salt, celsius(t)).map(|w| (Solid::Ice, w));
    let salt_side = |t: f64| saturated_at(salt, celsius(t));
    let ice = melted(salt, t, own, &ice_side);
    let out = melted(salt, t, own, &salt_side);
    match (ice, out) {
        (Err(cold), Err(_)) => Err(cold),
        (ice, out) => Ok(Freezing { ice: ice.ok().map(|(_, found)| found), salt: out.ok() }),
    }
}

/// Strength on one side of the eutectic, with what the curve and the thermometer may be off by.
fn melted(
    salt: Salt,
    t: f64,
    own: TemperatureInterval,
    side: &dyn Fn(f64) -> Result<(Solid, MassFraction), Error>,
) -> Result<(Solid, Found), Error> {
    let (solid, strength) = side(t)?;
    let brine = Brine::of(salt, strength)?;
    let curve = in_kelvins(crate::freezing::first_solid(&brine)?.uncertainty);
    // Where one side of the temperature lies past the end of the curve, the other tells the slope.
    let at = |t: f64| side(t).map(|(_, w)| w.percent());
    let (colder, warmer) = (at(t - STEP_KELVIN), at(t + STEP_KELVIN));
    let here = strength.percent();
    let slope = match (colder, warmer) {
        (Ok(a), Ok(b)) => (b - a) / (2.0 * STEP_KELVIN),
        (Ok(a), Err(_)) => (here - a) / STEP_KELVIN,
        (Err(_), Ok(b)) => (b - here) / STEP_KELVIN,
        (Err(error), Err(_)) => return Err(error),
    };
    let kelvins = curve.hypot(in_kelvins(own));
    let uncertainty = MassFraction::from_percent((slope * kelvins).abs().min(100.0))?;
    Ok((solid, Found { brine, uncertainty, percent_per_unit: slope, percent_per_kelvin: slope }))
}

/// Temperature at which a brine has a density: a rough check for a dip without a temperature.
///
/// # Equation
/// [`density::density`] read backward over temperature by [`root::zero`], from its first solid up.
///
/// # Range
/// From its first solid, −20 °C at the coldest, to 40 °C; sodium chloride brines of 15 % and more, which shrink all the
/// way down.
///
/// # Error
/// 1 K per 0.5 kg/m³.
///
/// # Source
/// As [`density::density`].
///
/// # Errors
/// [`Error::Reading`] when the brine has it at no temperature in range; [`Error::NotCovered`] below 15 %.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, inverse::temperature_of_density};
/// use quantity::{celsius, in_celsius};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(23.3)?)?;
/// let t = temperature_of_density(&brine, brine.density(celsius(7.0))?)?;
/// assert!((in_celsius(t) - 7.0).abs() < 1e-6);
/// assert!(temperature_of_density(&Brine::WATER, brine.density(celsius(7.0))?).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn temperature_of_density(brine: &Brine, wanted: MassDensity) -> Result<ThermodynamicTemperature, Error> {
    if brine.only_salt() != Some(Salt::SodiumChloride) || brine.strength().percent() < 15.0 {
        let reason = "chemistry.why.may_not_shrink";
        return Err(Error::NotCovered { what: "chemistry.temperature_from_density", reason });
    }
    let at = |t: f64| density::brine_kg_m3(brine, t);
    let freezes = in_celsius(crate::freezing::first_solid(brine)?.temperature);
    let (cold, warm) = (freezes.max(density::COLDEST_CELSIUS), density::WARMEST_CELSIUS);
    density::density(brine, celsius(warm))?;
    let value = in_kg_per_m3(wanted);
    let ends = [cold, warm].map(|t| (t, at(t)));
    within("chemistry.density", value, ends[0].1, ends[1].1, 1e-9)?;
    let [cold, warm] = ends.map(|(t, density)| (t, density - value));
    Ok(celsius(root::zero(|t| at(t) - value, cold, warm, 1e-10)))
}
