//! Rates per lane length, and the arithmetic of gallons, pounds and minutes.

use chemistry::{Brine, Error, recipe};
use quantity::{
    FEET_PER_MILE, Length, Mass, MassDensity, Time, Volume, VolumeRate, feet, in_cubic_metres, in_gallons,
    in_kilograms, in_metres, in_pounds, kilograms, pounds, short_tons,
};

/// One statute mile of one lane.
pub fn lane_mile() -> Length {
    feet(FEET_PER_MILE)
}

/// Liquid per length of one lane.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct LiquidRate {
    cubic_metres_per_metre: f64,
}

impl LiquidRate {
    /// Zero: no liquid applied.
    pub const ZERO: LiquidRate = LiquidRate { cubic_metres_per_metre: 0.0 };

    /// From a volume on a length of lane.
    ///
    /// ```
    /// use quantity::{gallons, in_gallons};
    /// use road::{amount::lane_mile, LiquidRate};
    /// let rate = LiquidRate::of(gallons(40.0), lane_mile());
    /// assert!((in_gallons(rate.on(lane_mile() * 120.0) * 2.0) - 9600.0).abs() < 1e-6);
    /// ```
    pub fn of(volume: Volume, lane: Length) -> Self {
        Self { cubic_metres_per_metre: in_cubic_metres(volume) / in_metres(lane) }
    }

    /// The volume for a length of lane.
    pub fn on(self, lane: Length) -> Volume {
        quantity::cubic_metres(self.cubic_metres_per_metre * in_metres(lane))
    }

    /// US gallons per lane-mile.
    pub fn gallons_per_lane_mile(self) -> f64 {
        in_gallons(self.on(lane_mile()))
    }

    /// The rate halfway between two.
    pub fn middle(low: Self, high: Self) -> Self {
        Self { cubic_metres_per_metre: 0.5 * (low.cubic_metres_per_metre + high.cubic_metres_per_metre) }
    }

    /// The liquid rate that applies a rate of dry salt.
    ///
    /// # Equation
    /// dry salt / (w·ρ(w, 60 °F)).
    ///
    /// # Range
    /// Brines above 0 %.
    ///
    /// # Error
    /// 0.1 %, from the density.
    ///
    /// # Source
    /// Mass balance; FHWA liquid rates are dry-chemical weights (SR 02-1).
    ///
    /// # Errors
    /// [`Error::NotUsable`] for water.
    ///
    /// # Examples
    /// ```
    /// use chemistry::{Brine, MassFraction};
    /// use quantity::pounds;
    /// use road::{amount::lane_mile, LiquidRate, SolidRate};
    /// let brine = Brine::sodium_chloride(MassFraction::from_percent(23.0)?)?;
    /// let rate = LiquidRate::carrying(SolidRate::of(pounds(100.0), lane_mile()), &brine)?;
    /// assert!((rate.gallons_per_lane_mile() - 44.0).abs() < 0.9);
    /// let water = Brine::sodium_chloride(MassFraction::ZERO)?;
    /// assert!(LiquidRate::carrying(SolidRate::of(pounds(100.0), lane_mile()), &water).is_err());
    /// # Ok::<(), chemistry::Error>(())
    /// ```
    pub fn carrying(dry: SolidRate, brine: &Brine) -> Result<Self, Error> {
        let per_volume = recipe::salt_per_volume_of_brine(brine, recipe::reference_temperature())?;
        if brine.strength().percent() > 0.0 {
            Ok(Self::of(dry.on(lane_mile()) / per_volume, lane_mile()))
        } else {
            Err(Error::NotUsable {
                quantity: "strength, %,",
                value: 0.0,
                accepted: "road.accepted.salted_brine",
            })
        }
    }

    /// Dry salt that a rate of brine applies; the inverse of [`LiquidRate::carrying`].
    ///
    /// # Errors
    /// As [`recipe::salt_per_volume_of_brine`].
    pub fn dry_salt(self, brine: &Brine) -> Result<SolidRate, Error> {
        let per_volume = recipe::salt_per_volume_of_brine(brine, recipe::reference_temperature())?;
        Ok(SolidRate::of(self.on(lane_mile()) * per_volume, lane_mile()))
    }
}

/// Salt per length of one lane.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct SolidRate {
    kilograms_per_metre: f64,
}

impl SolidRate {
    /// Zero: no salt applied.
    pub const ZERO: SolidRate = SolidRate { kilograms_per_metre: 0.0 };

    /// From a mass on a length of lane.
    pub fn of(mass: Mass, lane: Length) -> Self {
        Self { kilograms_per_metre: in_kilograms(mass) / in_metres(lane) }
    }

    /// From a mass printed per mile of a road of so many 12-ft lanes: per lane it is that much less.
    ///
    /// ```
    /// use quantity::pounds;
    /// use road::SolidRate;
    /// // Minnesota handbook p. 15: 200 lb listed per two-lane mile is 100 for one lane, 150 for an 18-ft road.
    /// let rate = SolidRate::per_mile_of_lanes(pounds(200.0), 2.0);
    /// assert!((rate.pounds_per_lane_mile() - 100.0).abs() < 1e-9);
    /// assert!((rate.pounds_per_lane_mile() * 18.0 / 12.0 - 150.0).abs() < 1e-9);
    /// ```
    pub fn per_mile_of_lanes(mass: Mass, lanes: f64) -> Self {
        Self::of(mass / lanes, lane_mile())
    }

    /// The mass for a length of lane.
    pub fn on(self, lane: Length) -> Mass {
        kilograms(self.kilograms_per_metre * in_metres(lane))
    }

    /// Pounds per lane-mile.
    pub fn pounds_per_lane_mile(self) -> f64 {
        in_pounds(self.on(lane_mile()))
    }

    /// The rate halfway between two.
    pub fn middle(low: Self, high: Self) -> Self {
        Self { kilograms_per_metre: 0.5 * (low.kilograms_per_metre + high.kilograms_per_metre) }
    }

    /// Prewetting liquid that goes with this rate, at so much liquid per mass of salt.
    pub fn prewet(self, ratio: PrewetRatio) -> LiquidRate {
        LiquidRate::of(ratio.liquid_for(self.on(lane_mile())), lane_mile())
    }
}

/// Prewetting liquid per mass of salt.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct PrewetRatio {
    cubic_metres_per_kilogram: f64,
}

impl PrewetRatio {
    /// From a volume of liquid per short ton of salt.
    pub fn per_short_ton(liquid: Volume) -> Self {
        Self { cubic_metres_per_kilogram: in_cubic_metres(liquid) / in_kilograms(short_tons(1.0)) }
    }

    /// Liquid for a mass of salt.
    pub fn liquid_for(self, salt: Mass) -> Volume {
        quantity::cubic_metres(self.cubic_metres_per_kilogram * in_kilograms(salt))
    }

    /// US gallons per short ton.
    pub fn gallons_per_short_ton(self) -> f64 {
        in_gallons(self.liquid_for(short_tons(1.0)))
    }
}

/// Weight of a load.
///
/// # Equation
/// V·ρ.
///
/// # Range
/// Any.
///
/// # Error
/// That of the density and of the gauge or meter.
///
/// # Source
/// Definition: 1,800 gal of brine of relative density 1.176 is 17,650 lb.
pub fn load_mass(volume: Volume, density: MassDensity) -> Mass {
    volume * density
}

/// Time to load a truck once it is hooked up.
///
/// ```
/// use quantity::{gallons, in_minutes, minutes};
/// let t = road::amount::pumping_time(gallons(1500.0), gallons(200.0) / minutes(1.0));
/// assert!((in_minutes(t) - 7.5).abs() < 1e-9);
/// ```
pub fn pumping_time(volume: Volume, pump: VolumeRate) -> Time {
    volume / pump
}

/// A salt mass from a plain number of pounds, for reading rate rows.
pub(crate) fn salt_pounds(value: f64) -> Mass {
    pounds(value)
}
