//! What an instrument shows in a brine, from the physics of its sensor; [`crate::measure`] inverts it.

use chemistry::inverse::{Reading, by_refractive_index};
use chemistry::{Brine, RefractiveIndex, Salt, conductivity, density, freezing, refraction};
use quantity::{
    MassDensity, TemperatureInterval, ThermodynamicTemperature, celsius, fahrenheit, in_celsius, in_kelvins,
    in_kg_per_m3, in_millisiemens_per_cm,
};

use crate::error::{Error, check};
use crate::sugar;

/// Growth of a glass bulb with temperature, 1/K: soda-lime glass, from memory (25e-6).
const GLASS_PER_KELVIN: f64 = 25e-6;
/// Modulus of the heavy Baumé scale in the United States, 60/60 °F.
const BAUME_MODULUS: f64 = 145.0;

/// Decimals that a reading of a resolution (unit of its scale) is shown with; 4 where the resolution is not known.
///
/// ```
/// let of = bench::instrument::reading_decimals;
/// assert_eq!([1.0, 0.5, 0.1, 0.01, 0.0005].map(of), [0, 1, 1, 2, 4]);
/// ```
pub fn reading_decimals(resolution: f64) -> usize {
    if resolution <= 0.0 { 4 } else { (-resolution.log10()).ceil().clamp(0.0, 5.0) as usize }
}

/// The scale an instrument is read on.
#[derive(Debug, Clone, PartialEq)]
pub enum Scale {
    /// Refractometer, at 589 nm.
    Refractometer {
        /// The scale engraved in it.
        scale: RefractometerScale,
        /// Whether it compensates for temperature by itself, as for sugar.
        compensated: bool,
    },
    /// Glass hydrometer, floating in the sample.
    Hydrometer(HydrometerScale),
    /// Inline or handheld conductivity, mS/cm.
    Conductivity {
        /// The meter's own temperature compensation; none for a bare cell.
        compensation: Option<Compensation>,
        /// What the cell constant set in the meter is too large by: shown over true; 1 when right.
        cell_factor: f64,
    },
    /// Vibrating tube, or a mass flow meter's density, kg/m³ at the sample's temperature.
    DensityMeter,
    /// A known volume on a balance: grams for so many millilitres.
    Cup {
        /// Its volume, mL.
        millilitres: f64,
    },
}

/// Scale engraved in a refractometer.
#[derive(Debug, Clone, PartialEq)]
pub enum RefractometerScale {
    /// Refractive index against air.
    Index,
    /// Degrees Brix: per cent sugar, never per cent salt.
    Brix,
    /// Per cent sodium chloride by mass.
    SodiumChloride,
    /// Freezing point of a sodium chloride brine, °C.
    FreezingPoint,
    /// Seawater salinity, ‰.
    Seawater,
    /// Any other, by a table of its own.
    Printed(Printed),
}

/// A scale of its own: what it shows in sodium chloride brines of known strength at 20 °C, straight lines between.
#[derive(Debug, Clone, PartialEq)]
pub struct Printed {
    /// (per cent by mass, shown), weakest first.
    points: Vec<(f64, f64)>,
}

impl Printed {
    /// A scale from its points: strength of a sodium chloride brine at 20 °C, 0…40 per cent by mass, and what is shown.
    ///
    /// # Errors
    /// [`Error::TooFew`] for fewer than two; [`Error::Value`] unless strength rises from point to point and the scale
    /// goes one way.
    pub fn new(points: &[(f64, f64)]) -> Result<Self, Error> {
        if points.len() < 2 {
            return Err(Error::TooFew { what: "bench.task.printed_scale", found: points.len(), needed: 2 });
        }
        let way = points[0].1.total_cmp(&points[1].1);
        for two in points.windows(2) {
            let ((weak, low), (strong, high)) = (two[0], two[1]);
            let accepted = "bench.accepted.stronger";
            check("bench.quantity.point_strength", strong, accepted, weak < strong && strong <= 40.0)?;
            check("bench.quantity.point_strength", weak, "bench.accepted.point_strength", 0.0 <= weak)?;
            let accepted = "bench.accepted.same_way";
            check(
                "bench.quantity.point_reading",
                high,
                accepted,
                low.total_cmp(&high) == way && way.is_ne() && low.is_finite(),
            )?;
        }
        Ok(Self { points: points.to_vec() })
    }

    fn at(&self, percent: f64) -> Result<f64, Error> {
        let between = self.points.windows(2).find(|two| (two[0].0..=two[1].0).contains(&percent));
        let Some(two) = between else {
            let accepted = "bench.accepted.printed";
            check("bench.quantity.strength", percent, accepted, false)?;
            return Ok(percent);
        };
        let ((weak, low), (strong, high)) = (two[0], two[1]);
        Ok(low + (high - low) * (percent - weak) / (strong - weak))
    }
}

/// Scale engraved on a hydrometer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HydrometerScale {
    /// Relative density, brine and water at 60 °F.
    Relative60,
    /// Relative density, brine and water at 20 °C.
    Relative20,
    /// Relative density, brine at 20 °C and water at 4 °C.
    Relative20To4,
    /// Degrees Baumé, heavy, 60/60 °F.
    Baume,
    /// Per cent of saturation.
    Salometer {
        /// Strength that is 100 degrees, per cent by mass: 26.395, but 26.5 and 25 exist.
        full_percent: f64,
        /// Temperature it was made for: 60 °F, but 38 °F exists.
        made_for: ThermodynamicTemperature,
    },
}

/// A meter's own straight-line temperature compensation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compensation {
    /// α, per kelvin: 0.02 for 2 % per kelvin.
    pub per_kelvin: f64,
    /// Temperature the shown value is said to hold for.
    pub reference: ThermodynamicTemperature,
}

/// The property of a brine that an instrument senses.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sensed {
    /// Density at the sample's temperature.
    Density,
    /// Refractive index at the sample's temperature.
    RefractiveIndex,
    /// Conductivity at the sample's temperature.
    Conductivity,
}

impl HydrometerScale {
    /// The common salometer: 100 degrees is 26.395 % at 60 °F.
    pub fn salometer() -> Self {
        let full_percent = chemistry::salometer::SATURATION_PERCENT;
        Self::Salometer { full_percent, made_for: fahrenheit(60.0) }
    }

    /// Temperature at which the bulb has the volume it was made with.
    pub fn made_for(self) -> ThermodynamicTemperature {
        match self {
            Self::Relative60 | Self::Baume => fahrenheit(60.0),
            Self::Relative20 | Self::Relative20To4 => celsius(20.0),
            Self::Salometer { made_for, .. } => made_for,
        }
    }

    /// What it shows when floating in a liquid, its bulb as it was made, kg/m³.
    fn engraved(self, indicated: MassDensity) -> Result<f64, Error> {
        let over = |t: ThermodynamicTemperature| -> Result<f64, Error> {
            Ok(in_kg_per_m3(indicated) / in_kg_per_m3(density::water_density(t)?))
        };
        match self {
            Self::Relative60 => over(fahrenheit(60.0)),
            Self::Relative20 => over(celsius(20.0)),
            Self::Relative20To4 => over(celsius(4.0)),
            Self::Baume => Ok(BAUME_MODULUS * (1.0 - 1.0 / over(fahrenheit(60.0))?)),
            Self::Salometer { full_percent, made_for } => {
                let brine = density::brine_of_density(indicated, made_for)?;
                Ok(100.0 * brine.strength().percent() / full_percent)
            }
        }
    }
}

impl Scale {
    /// The property that the instrument senses.
    pub fn senses(&self) -> Sensed {
        match self {
            Self::Refractometer { .. } => Sensed::RefractiveIndex,
            Self::Hydrometer(_) | Self::DensityMeter | Self::Cup { .. } => Sensed::Density,
            Self::Conductivity { .. } => Sensed::Conductivity,
        }
    }

    /// Whether a reading says nothing without the temperature of the sample.
    pub fn needs_temperature(&self) -> bool {
        !matches!(self, Self::Refractometer { compensated: true, .. })
    }

    /// What an instrument without error shows in a brine, in the unit of the scale.
    ///
    /// # Equation
    /// The property sensed, at the sample's temperature, put on the scale as it was made. Of a hydrometer the bulb has
    /// grown since the temperature it was made for; a compensated refractometer adds what it would to sugar; a
    /// compensated meter divides by 1 + α(t − reference).
    ///
    /// # Range
    /// As the property sensed, as far as the scale goes. Compensated refractometers: samples of 10…30 °C.
    ///
    /// # Error
    /// As the property sensed. Compensation for temperature: 0.03 degrees Brix between the published tables.
    ///
    /// # Source
    /// As [`chemistry::density::density`], [`chemistry::refraction::refractive_index`] and
    /// [`chemistry::conductivity::conductivity`]; compensation as [`sugar::compensation`].
    ///
    /// # Errors
    /// [`Error::Value`] where the scale ends, or its compensation does not reach; as the property it senses.
    pub fn shows(&self, brine: &Brine, at: ThermodynamicTemperature) -> Result<f64, Error> {
        match self {
            Self::Refractometer { scale, compensated } => {
                let raw = refraction::refractive_index(brine, at)?;
                scale.engraved(if *compensated { as_at_20_celsius(raw, at)? } else { raw })
            }
            Self::Hydrometer(scale) => scale.engraved(indicated(brine, at, scale.made_for())?),
            Self::Conductivity { compensation, cell_factor } => {
                check(
                    "bench.quantity.cell_factor",
                    *cell_factor,
                    "bench.accepted.above_zero",
                    0.0 < *cell_factor,
                )?;
                let shown = cell_factor * in_millisiemens_per_cm(conductivity::conductivity(brine, at)?);
                let Some(Compensation { per_kelvin, reference }) = *compensation else { return Ok(shown) };
                let grown = 1.0 + per_kelvin * (in_celsius(at) - in_celsius(reference));
                check(
                    "bench.quantity.temperature_coefficient",
                    per_kelvin,
                    "bench.accepted.coefficient",
                    0.0 < grown,
                )?;
                Ok(shown / grown)
            }
            Self::DensityMeter => Ok(in_kg_per_m3(density::density(brine, at)?)),
            Self::Cup { millilitres } => {
                check(
                    "bench.quantity.cup_volume",
                    *millilitres,
                    "bench.accepted.above_zero",
                    0.0 < *millilitres,
                )?;
                Ok(in_kg_per_m3(density::density(brine, at)?) * millilitres * 1e-3)
            }
        }
    }
}

/// Density that a hydrometer made for one temperature shows in a brine at another: the bulb has grown.
fn indicated(
    brine: &Brine,
    at: ThermodynamicTemperature,
    made_for: ThermodynamicTemperature,
) -> Result<MassDensity, Error> {
    let warmer: TemperatureInterval = quantity::difference(at, made_for);
    Ok(density::density(brine, at)? * (1.0 + GLASS_PER_KELVIN * in_kelvins(warmer)))
}

/// Index that a refractometer which compensates as for sugar shows instead of a raw one.
fn as_at_20_celsius(raw: RefractiveIndex, at: ThermodynamicTemperature) -> Result<RefractiveIndex, Error> {
    let brix = refraction::brix(raw)?.degrees();
    let shown = brix + sugar::compensation(brix, in_celsius(at))?;
    check("bench.quantity.compensated_brix", shown, "bench.accepted.from_zero", 0.0 <= shown)?;
    Ok(refraction::index_at(chemistry::BrixDegree::from_degrees(shown)?)?)
}

impl RefractometerScale {
    /// What it shows at an index, the scale as it was made, at 20 °C.
    fn engraved(&self, index: RefractiveIndex) -> Result<f64, Error> {
        match self {
            Self::Index => Ok(index.index()),
            Self::Brix => Ok(refraction::brix(index)?.degrees()),
            Self::SodiumChloride => Ok(salt_at(index)?.strength().percent()),
            Self::FreezingPoint => {
                let first = freezing::first_solid(&salt_at(index)?)?;
                let accepted = "bench.accepted.icy";
                let is_ice = matches!(first.solid, freezing::Solid::Ice | freezing::Solid::IceOrHydrohalite);
                check("bench.quantity.freezing_point", in_celsius(first.temperature), accepted, is_ice)?;
                Ok(in_celsius(first.temperature))
            }
            Self::Seawater => seawater_permille(index),
            Self::Printed(printed) => printed.at(salt_at(index)?.strength().percent()),
        }
    }
}

/// The sodium chloride brine of an index at 20 °C.
fn salt_at(index: RefractiveIndex) -> Result<Brine, Error> {
    Ok(by_refractive_index(Salt::SodiumChloride, &Reading::exact(index, celsius(20.0)))?.brine)
}

/// Index of seawater at 20 °C and 589.26 nm for a salinity in ‰: X. Quan and E. S. Fry, *Empirical equation
/// for the index of refraction of seawater*, Applied Optics 34 (1995) 3477; coefficients from memory. Made for 0…35 ‰.
fn seawater_index(permille: f64) -> f64 {
    let (t, nm) = (20.0f64, 589.26f64);
    1.31405 + (1.779e-4 - 1.05e-6 * t + 1.6e-8 * t * t) * permille - 2.02e-6 * t * t
        + (15.868 + 0.01155 * permille - 0.00423 * t) / nm
        - 4382.0 / (nm * nm)
        + 1.1455e6 / (nm * nm * nm)
}

fn seawater_permille(index: RefractiveIndex) -> Result<f64, Error> {
    // It is a straight line in salinity.
    let (none, most) = (seawater_index(0.0), seawater_index(35.0));
    let permille = 35.0 * (index.index() - none) / (most - none);
    let accepted = "bench.accepted.seawater";
    check("bench.quantity.salinity", permille, accepted, (-1.0..=35.0 + 1e-9).contains(&permille))?;
    Ok(permille)
}
