//! Steady making rate of a plant, by its rated figure and by its water supply.

use chemistry::{Brine, density, recipe};
use quantity::{ThermodynamicTemperature, Time, Volume, VolumeRate, difference, in_kelvins, in_kg_per_m3};

use crate::Error;

/// What limits a plant's making rate.
#[derive(Debug, Clone, Copy)]
pub struct MakingRate {
    /// Brine per hour with water at the rated temperature.
    pub rated: VolumeRate,
    /// Water temperature at which the plant makes its rated figure.
    pub rated_water_temperature: ThermodynamicTemperature,
    /// Share of the rate lost per kelvin of colder water, 1/K: the yard's own figure; no machine's default is built in.
    pub loss_per_kelvin: f64,
    /// Most water the supply gives.
    pub water_supply: VolumeRate,
}

impl MakingRate {
    /// Brine per hour, stated at 60 °F, with water at a temperature.
    ///
    /// # Equation
    /// min(rated·(1 − loss·max(0, T_rated − T)), water supply·ρ_water/((1 − w)·ρ(w, 60 °F))).
    ///
    /// # Range
    /// A loss that leaves some rate.
    ///
    /// # Error
    /// The yard's own figures.
    ///
    /// # Source
    /// That the rate falls with cold water: common practice; no published source; its size is the yard's. Water needed:
    /// mass balance.
    ///
    /// # Errors
    /// [`Error::NothingMade`] when the loss takes all; chemistry's own.
    ///
    /// # Examples
    /// ```
    /// use chemistry::{Brine, MassFraction};
    /// use quantity::*;
    /// use plant::MakingRate;
    /// let rate = MakingRate {
    ///     rated: gallons_per_hour(5000.0),
    ///     rated_water_temperature: fahrenheit(60.0),
    ///     loss_per_kelvin: 0.02,
    ///     water_supply: gallons_per_hour(6000.0),
    /// };
    /// let brine = Brine::sodium_chloride(MassFraction::from_percent(23.3)?)?;
    /// let warm = rate.at(fahrenheit(60.0), &brine).map_err(|e| e.to_string());
    /// assert!((in_gallons_per_hour(warm.unwrap()) - 5000.0).abs() < 1e-6);
    /// let cold = rate.at(fahrenheit(42.0), &brine).map_err(|e| e.to_string());
    /// assert!((in_gallons_per_hour(cold.unwrap()) - 4000.0).abs() < 1e-6);
    /// # Ok::<(), chemistry::Error>(())
    /// ```
    pub fn at(&self, water: ThermodynamicTemperature, brine: &Brine) -> Result<VolumeRate, Error> {
        let colder = in_kelvins(difference(self.rated_water_temperature, water)).max(0.0);
        let share = 1.0 - self.loss_per_kelvin * colder;
        if share <= 0.0 {
            return Err(Error::NothingMade { celsius: quantity::in_celsius(water) });
        }
        let reference = recipe::reference_temperature();
        let water_per_brine = (1.0 - brine.strength().fraction()) * in_kg_per_m3(brine.density(reference)?)
            / in_kg_per_m3(density::water_density(reference)?);
        let by_salt = self.rated * share;
        let by_water = self.water_supply / water_per_brine;
        Ok(if by_water < by_salt { by_water } else { by_salt })
    }
}

/// Returns the time to make a volume at a steady rate, without start-up and settling.
pub fn making_time(volume: Volume, rate: VolumeRate) -> Time {
    volume / rate
}
