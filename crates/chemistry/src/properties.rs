//! Every property of one brine at one temperature, each given or refused by itself.

use crate::dissolution;
use crate::freezing::{self, FirstSolid};
use crate::phases::{self, Phases};
use crate::{
    BaumeDegree, BrixDegree, Estimate, RefractiveIndex, RelativeDensity, SalometerDegree, WaterActivity,
};
use crate::{
    Brine, Error, conductivity, density, heat_capacity, recipe, refraction, salometer, viscosity, water,
    water_activity,
};
use quantity::{
    DynamicViscosity, ElectricalConductivity, MassDensity, SpecificHeatCapacity, ThermodynamicTemperature,
    in_celsius,
};

/// Properties of a brine at a temperature. What is measured in the liquid is refused where part of the brine
/// would not be liquid; what holds at 60 °F, and freezing, does not depend on the temperature.
#[derive(Debug, Clone, PartialEq)]
pub struct Properties {
    /// Density at the temperature.
    pub density: Result<Estimate<MassDensity>, Error>,
    /// Density at 60 °F over that of water at 60 °F.
    pub relative_density_60f: Result<RelativeDensity, Error>,
    /// Dynamic viscosity at the temperature.
    pub viscosity: Result<Estimate<DynamicViscosity>, Error>,
    /// Specific heat capacity.
    pub heat_capacity: Result<Estimate<SpecificHeatCapacity>, Error>,
    /// Electrical conductivity at that temperature.
    pub conductivity: Result<Estimate<ElectricalConductivity>, Error>,
    /// Refractive index at that temperature.
    pub refractive_index: Result<Estimate<RefractiveIndex, f64>, Error>,
    /// What a sugar scale made for 20 °C shows at that index.
    pub brix: Result<BrixDegree, Error>,
    /// Salometer at 60 °F.
    pub salometer: Result<SalometerDegree, Error>,
    /// Baumé at 60 °F.
    pub baume: Result<BaumeDegree, Error>,
    /// Activity of water.
    pub water_activity: Result<Estimate<WaterActivity, f64>, Error>,
    /// First solid on cooling.
    pub first_solid: Result<FirstSolid, Error>,
    /// How much is liquid, ice and salt at that temperature.
    pub phases: Result<Phases, Error>,
    /// Saturation with gypsum, log10; none without calcium or sulfate, and outside its range.
    pub gypsum_index: Option<f64>,
}

/// Works out all properties.
///
/// # Equation
/// Each as its own module says.
///
/// # Range
/// Each its own.
///
/// # Error
/// Each its own, in the [`Estimate`].
///
/// # Source
/// Each its own.
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, properties::properties};
/// use quantity::celsius;
/// let brine = Brine::sodium_chloride(MassFraction::from_percent(23.3)?)?;
/// assert!(properties(&brine, celsius(20.0)).density.is_ok());
/// let frozen = properties(&brine, celsius(-30.0));
/// assert!(frozen.density.is_err() && frozen.first_solid.is_ok());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn properties(brine: &Brine, temperature: ThermodynamicTemperature) -> Properties {
    let first_solid = freezing::first_solid(brine);
    let liquid = within_reach(temperature).and_then(|()| match &first_solid {
        Ok(first) => dissolution::check_dissolved_by(brine, first, temperature),
        Err(_) => dissolution::check_dissolved(brine, temperature),
    });
    let at_60 = recipe::reference_temperature();
    let refractive_index = liquid.clone().and_then(|()| refraction::estimate(brine, temperature));
    Properties {
        density: liquid.clone().and_then(|()| density::estimate(brine, temperature)),
        relative_density_60f: density::relative_density(brine, at_60, at_60),
        viscosity: liquid.clone().and_then(|()| viscosity::estimate(brine, temperature)),
        heat_capacity: liquid.clone().and_then(|()| heat_capacity::estimate(brine, temperature)),
        conductivity: liquid.clone().and_then(|()| conductivity::estimate(brine, temperature)),
        brix: refractive_index.clone().and_then(|index| refraction::brix(index.value)),
        refractive_index,
        salometer: salometer::degrees(brine),
        baume: salometer::baume(brine),
        water_activity: liquid.and_then(|()| water_activity::estimate(brine, temperature)),
        first_solid,
        phases: phases::phases(brine, temperature),
        gypsum_index: crate::equilibrium::gypsum_index(brine, temperature).ok().flatten(),
    }
}

/// Refuses a temperature at which nothing at all is known, before anything is said about ice.
fn within_reach(temperature: ThermodynamicTemperature) -> Result<(), Error> {
    let (low, high) = (phases::COLDEST_CELSIUS, water::WARMEST_CELSIUS);
    let celsius = in_celsius(temperature);
    if (low - 1e-9..=high + 1e-9).contains(&celsius) {
        return Ok(());
    }
    Err(Error::Temperature { celsius, low, high, reason: "chemistry.limit.any_property" })
}
