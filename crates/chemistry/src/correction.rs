//! Putting a tank right: how much water, salt or other brine brings it to a strength.
//!
//! By mass: masses of salt and of water add, volumes do not. Sodium chloride brine only; a blend is another matter.

use crate::MassFraction;
use crate::enthalpy::{Mixture, Portion, SolidSalt, Stream, mix};
use crate::recipe::{RockSalt, reference_temperature};
use crate::{Brine, Error, Salt};
use quantity::{Mass, ThermodynamicTemperature, Volume, in_cubic_metres};

/// A strength this near the target needs nothing, as a fraction: a hundredth of a per cent.
const NEAR_ENOUGH: f64 = 1e-4;

/// What stands in the tank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Content {
    /// The brine, by its measured strength.
    pub brine: Brine,
    /// Half of the 95 % interval of that strength.
    pub strength_uncertainty: MassFraction,
    /// Mass of the brine.
    pub mass: Mass,
    /// Temperature of the brine.
    pub temperature: ThermodynamicTemperature,
}

/// What is added to correct a tank, with its temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Means {
    /// Fresh water at this temperature.
    Water(ThermodynamicTemperature),
    /// Rock salt as delivered.
    Salt(RockSalt, ThermodynamicTemperature),
    /// Another sodium chloride brine, stronger or weaker than the target.
    Lot(Brine, ThermodynamicTemperature),
}

/// What to add, and the tank after it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Correction {
    /// Mass to add: water, salt as delivered, or brine.
    pub add: Mass,
    /// Its volume at 60 °F; none for salt.
    pub add_volume: Option<Volume>,
    /// Least and most to add, over the 95 % interval of the strength; least is zero when the tank may be at the target
    /// already.
    pub add_between: (Mass, Mass),
    /// The brine in the tank after it.
    pub after: Mixture,
    /// Its volume at 60 °F.
    pub volume_after: Volume,
}

/// Whether a correction fits in the tank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fit {
    /// The tank holds all of it: the volume after the addition, at 60 °F, is within its capacity.
    Fits,
    /// It does not: draw some off first, then add less.
    DrawFirst {
        /// Mass to draw off first.
        draw: Mass,
        /// Its volume at 60 °F.
        draw_volume: Volume,
        /// Mass to add then.
        add: Mass,
        /// Its volume at 60 °F; none for salt.
        add_volume: Option<Volume>,
    },
}

/// What to add to a tank so that it comes to a target strength.
///
/// # Equation
/// x = (w* M − S)/(c − w*(1 − i)): M and S the brine and its salt, w* the target, c the sodium chloride and i
/// the insolubles in what is put in.
///
/// # Range
/// Sodium chloride brines of [`crate::density::density`]; water and salt at −20…40 °C.
///
/// # Error
/// Of the amount: `add_between`. Water for a too strong tank is in proportion to the error of strength: near
/// 23.3 %, 0.1 % of strength is 0.4 % of the tank's mass in water.
///
/// # Source
/// Mass balance; temperature by [`mix`].
///
/// # Errors
/// [`Error::NotCovered`] when the tank is at the target already, when what is added cannot bring it there, for a blend;
/// [`Error::Supersaturated`] when that much salt does not dissolve at the temperature it comes to, or, like
/// [`Error::PartlyFrozen`], when the tank or what is put in is not all liquid to begin with; as [`mix`].
///
/// # Examples
/// ```
/// use chemistry::{Brine, MassFraction, correction::{Content, Means, correct}, recipe::reference_temperature};
/// use quantity::{gallons, in_gallons};
/// let percent = MassFraction::from_percent;
/// let brine = Brine::sodium_chloride(percent(25.0)?)?;
/// let at = reference_temperature();
/// let mass = brine.density(at)? * gallons(5000.0);
/// let tank = Content { brine, strength_uncertainty: MassFraction::ZERO, mass, temperature: at };
/// let water = correct(&tank, percent(23.3)?, Means::Water(at))?;
/// assert!(water.add_volume.is_some_and(|v| (in_gallons(v) / 434.0 - 1.0).abs() < 0.02)); // worked example W12
/// assert!(correct(&tank, percent(26.0)?, Means::Water(at)).is_err());
/// # Ok::<(), chemistry::Error>(())
/// ```
pub fn correct(content: &Content, target: MassFraction, means: Means) -> Result<Correction, Error> {
    let (strength, wanted) = (content.brine.strength().fraction(), target.fraction());
    only_sodium_chloride(&content.brine)?;
    if !(wanted > 0.0 && wanted <= Brine::STRONGEST_PERCENT / 100.0 + 1e-12) {
        return Err(Error::Strength {
            what: "chemistry.target_strength",
            percent: target.percent(),
            low: 0.0,
            high: Brine::STRONGEST_PERCENT,
            reason: "chemistry.limit.target",
        });
    }
    crate::dissolution::check_dissolved(&content.brine, content.temperature)?;
    if (strength - wanted).abs() < NEAR_ENOUGH {
        return refuse("chemistry.why.at_target");
    }
    let (salt, insolubles) = match means {
        Means::Water(_) => (0.0, 0.0),
        Means::Salt(rock, _) => {
            let sodium_chloride = rock.sodium_chloride();
            if sodium_chloride <= 0.0 {
                return Err(Error::NotUsable {
                    quantity: "chemistry.nacl_in_salt",
                    value: sodium_chloride,
                    accepted: "chemistry.accepted.above_zero",
                });
            }
            (sodium_chloride, 1.0 - rock.moisture.fraction() - sodium_chloride)
        }
        Means::Lot(brine, _) => {
            only_sodium_chloride(&brine)?;
            (brine.strength().fraction(), 0.0)
        }
    };
    // How much of what is put in per mass of tank, at a strength of the tank: negative when it leads away.
    let share = |strength: f64| (wanted - strength) / (salt - wanted * (1.0 - insolubles));
    let needed = share(strength);
    if !(needed.is_finite() && needed > 0.0) {
        return refuse(match means {
            Means::Water(_) => "chemistry.why.water_weakens",
            Means::Salt(..) => "chemistry.why.salt_strengthens",
            Means::Lot(..) => "chemistry.why.brine_on_this_side",
        });
    }
    let add = content.mass * needed;
    let (portion, temperature) = match means {
        Means::Water(at) => (Portion::Brine(Brine::WATER), at),
        Means::Salt(rock, at) => (Portion::Solid(SolidSalt::Rock(rock)), at),
        Means::Lot(brine, at) => (Portion::Brine(brine), at),
    };
    let tank = Stream {
        portion: Portion::Brine(content.brine),
        mass: content.mass,
        temperature: content.temperature,
    };
    let after = mix(&[tank, Stream { portion, mass: add, temperature }])?;
    crate::dissolution::check_dissolved(&after.brine, after.temperature)?;
    let spread = content.strength_uncertainty.fraction();
    let (a, b) = (share(strength - spread).max(0.0), share(strength + spread).max(0.0));
    let at_60 = reference_temperature();
    let add_volume = match portion {
        Portion::Brine(brine) => Some(add / brine.density(at_60)?),
        Portion::Solid(_) => None,
    };
    Ok(Correction {
        add,
        add_volume,
        add_between: (content.mass * a.min(b), content.mass * a.max(b)),
        after,
        volume_after: after.mass / after.brine.density(at_60)?,
    })
}

fn only_sodium_chloride(brine: &Brine) -> Result<(), Error> {
    match brine.only_salt() {
        Some(Salt::SodiumChloride) => Ok(()),
        _ => refuse("chemistry.why.not_salt_brine"),
    }
}

fn refuse<T>(reason: &'static str) -> Result<T, Error> {
    Err(Error::NotCovered { what: "chemistry.correction", reason })
}

impl Correction {
    /// Whether it fits a tank that holds so much (volume at 60 °F), and if not, what to draw off first. The
    /// amounts keep their proportion, since the strengths are the same.
    ///
    /// # Errors
    /// [`Error::NotUsable`] for a capacity that is not above zero.
    pub fn fit(&self, content: &Content, capacity: Volume) -> Result<Fit, Error> {
        let room = in_cubic_metres(capacity);
        if !room.is_finite() || room <= 0.0 {
            return Err(Error::NotUsable {
                quantity: "chemistry.volume.tank_room",
                value: room,
                accepted: "chemistry.accepted.above_zero",
            });
        }
        if self.volume_after <= capacity * (1.0 + 1e-12) {
            return Ok(Fit::Fits);
        }
        let keep: f64 = (capacity / self.volume_after).get::<uom::si::ratio::ratio>();
        let draw = content.mass * (1.0 - keep);
        Ok(Fit::DrawFirst {
            draw,
            draw_volume: draw / content.brine.density(reference_temperature())?,
            add: self.add * keep,
            add_volume: self.add_volume.map(|volume| volume * keep),
        })
    }
}
