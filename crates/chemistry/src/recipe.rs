//! Salt and water for an amount of brine, by mass. Volumes do not add on mixing; masses do.

use crate::MassFraction;
use crate::density::{WITHIN_FRACTION, density, water_density};
use crate::{Brine, Error, root};
use quantity::{
    Mass, MassDensity, ThermodynamicTemperature, Volume, fahrenheit, in_cubic_metres, in_gallons,
    in_kg_per_m3, in_kilograms, in_short_tons,
};

/// The temperature at which this project states volumes: 60 °F.
pub fn reference_temperature() -> ThermodynamicTemperature {
    fahrenheit(60.0)
}

/// Salt in a volume of **brine**.
///
/// # Equation
/// w·ρ(w, T).
///
/// # Range
/// As [`density`].
///
/// # Error
/// As [`density`]: 0.1 %.
///
/// # Source
/// Definition; 23.3 % at 60 °F is 2.29 lb per US gallon (trade figure; 2.285 by AASHTO M 143-14's 1.176).
///
/// # Errors
/// As [`density`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, recipe};
/// use quantity::in_pounds_per_gallon;
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(23.3)?)?;
/// let salt = recipe::salt_per_volume_of_brine(&brine, recipe::reference_temperature())?;
/// assert!((in_pounds_per_gallon(salt) - 2.29).abs() < 0.01);
/// assert!(recipe::salt_per_volume_of_brine(&brine, quantity::celsius(90.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn salt_per_volume_of_brine(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<MassDensity, Error> {
    Ok(density(brine, temperature)? * brine.strength().fraction())
}

/// Salt to put into a volume of **water** to reach a brine: 11 % more than per volume of brine at 23.3 %.
///
/// # Equation
/// ρ_water(T)·w/(1 − w).
///
/// # Range
/// As [`water_density`].
///
/// # Error
/// 0.01 % from the water density.
///
/// # Source
/// Definition.
///
/// # Errors
/// As [`water_density`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, recipe};
/// use quantity::in_pounds_per_gallon;
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(23.3)?)?;
/// let salt = recipe::salt_per_volume_of_water(&brine, recipe::reference_temperature())?;
/// assert!((in_pounds_per_gallon(salt) - 2.53).abs() < 0.01);
/// assert!(recipe::salt_per_volume_of_water(&brine, quantity::celsius(90.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn salt_per_volume_of_water(
    brine: &Brine,
    temperature: ThermodynamicTemperature,
) -> Result<MassDensity, Error> {
    let w = brine.strength().fraction();
    Ok(water_density(temperature)? * (w / (1.0 - w)))
}

/// Brine that holds so much salt in a volume of brine: the inverse of [`salt_per_volume_of_brine`].
///
/// # Equation
/// w·ρ(w, T) = s solved by [`root::zero`]; it rises with w.
///
/// # Range
/// From no salt to that of 26.67 % brine.
///
/// # Error
/// As [`density`].
///
/// # Source
/// As [`density`].
///
/// # Errors
/// [`Error::Density`] outside the range; as [`density`].
///
/// # Examples
/// ```
/// use chemistry::recipe;
/// use quantity::kg_per_m3;
/// let t = recipe::reference_temperature();
/// let brine = recipe::brine_holding(kg_per_m3(274.2), t)?;
/// assert!((brine.strength().percent() - 23.3).abs() < 0.1);
/// assert!(recipe::brine_holding(kg_per_m3(400.0), t).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn brine_holding(salt: MassDensity, temperature: ThermodynamicTemperature) -> Result<Brine, Error> {
    let wanted = in_kg_per_m3(salt);
    let most = Brine::STRONGEST_PERCENT / 100.0;
    let strongest = Brine::sodium_chloride(MassFraction::from_fraction(most)?)?;
    let high = in_kg_per_m3(salt_per_volume_of_brine(&strongest, temperature)?);
    if !(0.0..=high + 1e-9).contains(&wanted) {
        return Err(Error::Density {
            kg_m3: wanted,
            low: 0.0,
            high,
            reason: "chemistry.limit.salt_in_brine",
        });
    }
    let held = |w: f64| {
        MassFraction::from_fraction(w)
            .and_then(Brine::sodium_chloride)
            .and_then(|b| salt_per_volume_of_brine(&b, temperature))
            .map_or(f64::INFINITY, in_kg_per_m3)
    };
    let w = root::zero(|w| held(w) - wanted, (0.0, -wanted), (most, high - wanted), WITHIN_FRACTION);
    Brine::sodium_chloride(MassFraction::from_fraction(w)?)
}

/// Brine that results from so much salt in a volume of water: the inverse of [`salt_per_volume_of_water`].
///
/// # Equation
/// w = s/(s + ρ_water(T)).
///
/// # Range
/// Up to the salt of 26.67 % brine.
///
/// # Error
/// As [`water_density`].
///
/// # Source
/// Definition.
///
/// # Errors
/// [`Error::Strength`] above 26.67 %; as [`water_density`].
///
/// # Examples
/// ```
/// use chemistry::recipe;
/// use quantity::{pounds, gallons};
/// let t = recipe::reference_temperature();
/// // The trap: the figure per gallon of brine, put into a gallon of water, makes weak brine.
/// let weak = recipe::brine_from_water(pounds(2.29) / gallons(1.0), t)?;
/// assert!((weak.strength().percent() - 21.5).abs() < 0.1);
/// assert!(recipe::brine_from_water(pounds(4.0) / gallons(1.0), t).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn brine_from_water(
    salt_per_water: MassDensity,
    temperature: ThermodynamicTemperature,
) -> Result<Brine, Error> {
    let salt = in_kg_per_m3(salt_per_water);
    let water = in_kg_per_m3(water_density(temperature)?);
    Brine::sodium_chloride(MassFraction::from_fraction(salt / (salt + water))?)
}

/// Rock salt as it is delivered.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RockSalt {
    /// Sodium chloride in the dry salt.
    pub purity: MassFraction,
    /// Water in the salt as delivered.
    pub moisture: MassFraction,
}

impl RockSalt {
    /// Sodium chloride in the salt as delivered.
    pub fn sodium_chloride(&self) -> f64 {
        self.purity.fraction() * (1.0 - self.moisture.fraction())
    }
}

/// What goes into an amount of brine. Salt and water in equal brine and insolubles out, exactly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Batch {
    /// Mass of the finished brine, without insolubles.
    pub brine: Mass,
    /// Its volume at 60 °F.
    pub volume: Volume,
    /// Sodium chloride in it.
    pub sodium_chloride: Mass,
    /// Rock salt as delivered.
    pub rock_salt: Mass,
    /// Water to add, besides the salt's own moisture.
    pub water: Mass,
    /// What does not dissolve and stays as sludge.
    pub insolubles: Mass,
}

/// Salt and water for a volume of brine stated at 60 °F.
///
/// # Equation
/// rock salt = w·m/(purity·(1 − moisture)); water = m + insolubles − rock salt, m = V·ρ(w, 60 °F).
///
/// # Range
/// As [`density`]; purity above zero; any volume that is a number, from zero.
///
/// # Error
/// As [`density`]. All that is not NaCl is taken as insoluble: common practice, no source.
///
/// # Source
/// Mass balance.
///
/// # Errors
/// [`Error::NotUsable`] when the salt holds no sodium chloride or the volume is negative or no number; as
/// [`density`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, recipe::{RockSalt, batch}};
/// use quantity::{gallons, in_pounds};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(23.3)?)?;
/// let pure = RockSalt { purity: MassFraction::from_percent(100.0)?, moisture: MassFraction::ZERO };
/// let batch5000 = batch(&brine, gallons(5000.0), pure)?;
/// assert!((in_pounds(batch5000.rock_salt) / 11450.0 - 1.0).abs() < 0.005);
/// let no_salt = RockSalt { purity: MassFraction::ZERO, moisture: MassFraction::ZERO };
/// assert!(batch(&brine, gallons(5000.0), no_salt).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn batch(brine: &Brine, volume: Volume, salt: RockSalt) -> Result<Batch, Error> {
    let content = salt.sodium_chloride();
    if content <= 0.0 {
        return Err(Error::NotUsable {
            quantity: "chemistry.nacl_in_salt",
            value: content,
            accepted: "chemistry.accepted.above_zero",
        });
    }
    let mass = density(brine, reference_temperature())? * volume;
    let sodium_chloride = mass * brine.strength().fraction();
    let rock_salt = sodium_chloride / content;
    let dry = rock_salt * (1.0 - salt.moisture.fraction());
    let insolubles = dry - sodium_chloride;
    let water = mass + insolubles - rock_salt;
    // Any one of them may run over where the volume alone does not.
    let all_finite = [mass, rock_salt, insolubles, water].iter().all(|mass| in_kilograms(*mass).is_finite());
    if !(in_gallons(volume) >= 0.0 && all_finite) {
        return Err(Error::NotUsable {
            quantity: "chemistry.volume.brine",
            value: in_cubic_metres(volume),
            accepted: "chemistry.accepted.weighable",
        });
    }
    Ok(Batch { brine: mass, volume, sodium_chloride, rock_salt, water, insolubles })
}

/// Holds a stated yield against the mass balance: brine of a strength cannot come from less salt than it holds.
///
/// # Equation
/// V·w·ρ(w, 60 °F) ≤ salt·1.02: two in a hundred are left for rounding in the stated figures.
///
/// # Range
/// As [`density`].
///
/// # Error
/// As [`density`].
///
/// # Source
/// Mass balance.
///
/// # Errors
/// [`Error::NotUsable`] when the yield is impossible, naming the most that the salt can make, or when the volume or
/// the salt is negative or no number.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, recipe::check_yield};
/// use quantity::{gallons, short_tons};
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(23.0)?)?;
/// assert!(check_yield(&brine, gallons(870.0), short_tons(1.0)).is_ok());
/// // A press figure that cannot be: 2,500 gallons from a ton.
/// assert!(check_yield(&brine, gallons(2500.0), short_tons(1.0)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn check_yield(brine: &Brine, volume: Volume, salt: Mass) -> Result<(), Error> {
    let per_volume = salt_per_volume_of_brine(brine, reference_temperature())?;
    let stated =
        [("chemistry.volume.brine", in_cubic_metres(volume)), ("chemistry.mass.salt", in_kilograms(salt))];
    if let Some((quantity, value)) =
        stated.into_iter().find(|(_, value)| !(value.is_finite() && *value >= 0.0))
    {
        return Err(Error::NotUsable { quantity, value, accepted: "chemistry.accepted.from_zero" });
    }
    if per_volume * volume <= salt * 1.02 {
        Ok(())
    } else {
        Err(Error::NotUsable {
            quantity: "chemistry.yield",
            value: in_gallons(volume) / in_short_tons(salt),
            accepted: "chemistry.accepted.yield",
        })
    }
}
