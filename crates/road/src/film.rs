//! What lies on a road: salt, water, ice and snow on a square metre, and what happens to them.
//!
//! Drainage and spray take brine, so they do not change its strength; only water from the sky, the air or melting does.

use std::sync::LazyLock;

use chemistry::equilibrium::ice_point;
use chemistry::water_activity::water_activity;
use chemistry::{Brine, MassFraction};
use quantity::{celsius, in_celsius};

/// Coldest at which any salt water is liquid, °C: the eutectic of sodium chloride.
pub const EUTECTIC: f64 = -21.1;
/// Strength of a saturated film, mass %: near 0…25 °C.
const SATURATED: f64 = 26.4;
/// Water that runs off at once above this, mm.
const RUNS_OFF: f64 = 0.6;
/// Water that drains in time above this, mm, and in which time, h, while it does not rain.
const DRAINS: (f64, f64) = (0.2, 12.0);
/// Water that tires can throw up, mm above this.
const SPRAYS: f64 = 0.05;
/// Share of a thick film that a light and a heavy vehicle at 80 km/h throw out of a lane.
const SPRAYED: [f64; 2] = [2e-5, 1.2e-4];
/// Slowest at which tires throw water, and the speed of the figures above, km/h.
const SPRAY_SPEED: [f64; 2] = [10.0, 80.0];
/// Time in which ice melts toward what its salt can hold liquid, h, and above freezing, h.
const MELTS: [f64; 2] = [1.0, 0.5];
/// Left of snow, ice, water and salt when a plow has passed.
const PLOWED: [f64; 4] = [0.2, 0.7, 0.5, 0.7];
/// Wet film thinner than this dries slower, mm.
const THIN: f64 = 0.005;
/// Share of liquid below which ice stops being weak: 0.3 to 0.5.
pub const WEAK_ICE: f64 = 0.4;

/// What lies on a square metre of road.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Film {
    /// Salt as sodium chloride, g, dissolved or dry.
    pub salt: f64,
    /// Liquid water, kg: mm.
    pub water: f64,
    /// Ice that holds to the road, kg.
    pub ice: f64,
    /// Loose snow, kg.
    pub snow: f64,
    /// Part of the water that came of melting here, kg, never more than `water`.
    pub melted: f64,
}

/// Ice that formed in a step, by where its water came from, kg/m².
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Formed {
    /// From the vapor of the air: hoar.
    pub hoar: f64,
    /// From water that had not been frozen here.
    pub frozen: f64,
    /// From water that had melted here.
    pub refrozen: f64,
}

impl Formed {
    /// All of it.
    pub fn all(&self) -> f64 {
        self.hoar + self.frozen + self.refrozen
    }
}

/// A curve of even steps, read between them by a straight line.
struct Curve {
    from: f64,
    step: f64,
    values: Vec<f64>,
}

impl Curve {
    fn of(from: f64, to: f64, steps: usize, value: impl Fn(f64) -> f64) -> Self {
        let step = (to - from) / steps as f64;
        Self { from, step, values: (0..=steps).map(|place| value(from + step * place as f64)).collect() }
    }

    fn at(&self, x: f64) -> f64 {
        let place = ((x - self.from) / self.step).clamp(0.0, (self.values.len() - 1) as f64);
        let low = (place as usize).min(self.values.len() - 2);
        let share = place - low as f64;
        self.values[low] + share * (self.values[low + 1] - self.values[low])
    }
}

/// Strength of brine beside ice, mass %, by temperature. The engine's curve and not the fitted one: a film ends in weak
/// brine, where the fit is 0.03 K warm of print.
static ICE_CURVE: LazyLock<Curve> = LazyLock::new(|| {
    const STEPS: usize = 480;
    const STRONGEST: f64 = 23.6;
    let points: Vec<(f64, f64)> = (0..=STEPS)
        .map_while(|step| {
            let percent = STRONGEST * step as f64 / STEPS as f64;
            let brine = Brine::sodium_chloride(MassFraction::from_percent(percent).ok()?).ok()?;
            Some((in_celsius(ice_point(&brine).ok()?), percent))
        })
        .collect();
    Curve::of(EUTECTIC, 0.0, 422, |surface| {
        let colder = points.partition_point(|(at, _)| *at > surface).clamp(1, points.len() - 1);
        let ((warm, weak), (cold, strong)) = (points[colder - 1], points[colder]);
        weak + (strong - weak) * (warm - surface) / (warm - cold)
    })
});

/// Water activity of brine by strength, mass %, at 25 °C.
static ACTIVITY: LazyLock<Curve> = LazyLock::new(|| {
    Curve::of(0.0, SATURATED, 132, |percent| {
        let brine = MassFraction::from_percent(percent).and_then(Brine::sodium_chloride);
        brine.and_then(|brine| water_activity(&brine, celsius(25.0))).map_or(1.0, |activity| activity.ratio())
    })
});

/// Strength of salt brine beside ice, mass %, at a temperature, °C; 0 from freezing on, that of the eutectic below it.
pub fn strength_on_ice_curve(surface: f64) -> f64 {
    if surface >= 0.0 { 0.0 } else { ICE_CURVE.at(surface) }
}

/// Water that a gram of salt keeps liquid beside ice at a temperature below freezing, kg; 0 below the eutectic.
pub fn liquid_by_salt(surface: f64) -> f64 {
    if surface < EUTECTIC {
        return 0.0;
    }
    let strength = strength_on_ice_curve(surface.min(-1e-3));
    (100.0 / strength.max(1e-6) - 1.0) / 1000.0
}

/// Share of what lies there that is liquid, by the lever rule, 0…1.
///
/// # Equation
/// (100 s / C(T)) / (s + water + ice), s and both in g.
///
/// # Range
/// Below 0 °C; 1 above. 0 below the eutectic.
///
/// # Error
/// That of the ice curve: 0.05 % of strength. It is an equilibrium: snow just fallen is not yet there.
///
/// # Source
/// Lever rule; limits of use in docs/roads.md.
pub fn brine_share(salt_g: f64, water_and_ice_kg: f64, surface: f64) -> f64 {
    if surface >= 0.0 {
        return 1.0;
    }
    if surface < EUTECTIC || salt_g <= 0.0 {
        return 0.0;
    }
    let liquid = 100.0 * salt_g / strength_on_ice_curve(surface);
    (liquid / (salt_g + 1000.0 * water_and_ice_kg)).min(1.0)
}

impl Film {
    /// Brine of a rate, kg of solution a square metre and its strength in mass %.
    pub fn of_brine(solution: f64, percent: f64) -> Self {
        Film { salt: 10.0 * solution * percent, water: solution * (1.0 - percent / 100.0), ..Film::default() }
    }

    /// Adds what another film holds.
    #[must_use]
    pub fn plus(self, other: Film) -> Self {
        Film {
            salt: self.salt + other.salt,
            water: self.water + other.water,
            ice: self.ice + other.ice,
            snow: self.snow + other.snow,
            melted: self.melted + other.melted,
        }
    }

    /// All water in it, kg.
    pub fn all_water(&self) -> f64 {
        self.water + self.ice + self.snow
    }

    /// Strength of its liquid, mass %, 0…26.4; that of a saturated film where only salt is left.
    pub fn strength(&self) -> f64 {
        if self.salt <= 0.0 {
            return 0.0;
        }
        (100.0 * self.salt / (self.salt + 1000.0 * self.water)).min(SATURATED)
    }

    /// Freezing point of its liquid, °C, −21.1…0.
    pub fn freezing_point(&self) -> f64 {
        let strength = self.strength();
        let curve = &ICE_CURVE.values;
        if strength <= 0.0 {
            return 0.0;
        }
        // Strengths fall from the eutectic to 0.
        let above = curve.partition_point(|one| *one > strength);
        if above == 0 {
            return EUTECTIC;
        }
        if above >= curve.len() {
            return 0.0;
        }
        let share = (curve[above - 1] - strength) / (curve[above - 1] - curve[above]);
        ICE_CURVE.from + ICE_CURVE.step * (above as f64 - 1.0 + share)
    }

    /// Activity of water at its surface, 0.753…1; of dry salt that of a saturated film.
    pub fn activity(&self) -> f64 {
        if self.salt <= 0.0 { 1.0 } else { ACTIVITY.at(self.strength()) }
    }

    /// Whether ice or snow lies at the surface, so that vapor is exchanged with ice.
    pub(crate) fn is_icy(&self) -> bool {
        self.ice + self.snow > 1e-4
    }

    /// How far the surface gives off vapor freely, 0…1: a thin film clings.
    pub(crate) fn wetness(&self) -> f64 {
        1.0 - (-self.all_water() / THIN).exp()
    }

    /// Share of the liquid in all there is, 0…1, at a surface temperature; 1 where nothing lies there.
    pub fn brine_share(&self, surface: f64) -> f64 {
        if self.all_water() <= 1e-9 { 1.0 } else { brine_share(self.salt, self.all_water(), surface) }
    }

    /// Rain and snow of a step, kg.
    pub(crate) fn falls(&mut self, rain: f64, snow: f64) {
        self.water += rain;
        self.snow += snow;
    }

    /// Vapor that settled (positive) or left, kg. Returns what became hoar.
    pub(crate) fn vapour(&mut self, settled: f64, surface: f64) -> f64 {
        if settled >= 0.0 {
            if surface < 0.0 && surface < self.freezing_point() {
                self.ice += settled;
                return settled;
            }
            self.water += settled;
            return 0.0;
        }
        let mut left = -settled;
        for part in if self.is_icy() {
            [&mut self.snow, &mut self.ice, &mut self.water]
        } else {
            [&mut self.water, &mut self.ice, &mut self.snow]
        } {
            let taken = left.min(*part);
            *part -= taken;
            left -= taken;
        }
        self.melted = self.melted.min(self.water);
        0.0
    }

    /// Water that can freeze at a temperature, kg: what is more than its salt keeps liquid.
    pub(crate) fn surplus(&self, surface: f64) -> f64 {
        if surface >= 0.0 {
            return 0.0;
        }
        (self.water - self.salt * liquid_by_salt(surface)).max(0.0)
    }

    /// Freezes so much water, kg. Returns what formed.
    pub(crate) fn freeze(&mut self, amount: f64) -> Formed {
        let amount = amount.clamp(0.0, self.water);
        if amount <= 0.0 {
            return Formed::default();
        }
        let refrozen = amount * (self.melted / self.water).clamp(0.0, 1.0);
        self.water -= amount;
        self.melted = (self.melted - refrozen).max(0.0);
        self.ice += amount;
        Formed { hoar: 0.0, frozen: amount - refrozen, refrozen }
    }

    /// What would melt in a step by salt alone at a temperature below freezing, kg: toward equilibrium in an hour.
    pub(crate) fn melts_by_salt(&self, surface: f64, seconds: f64) -> f64 {
        let solid = self.ice + self.snow;
        if solid <= 0.0 || self.salt <= 0.0 || surface < EUTECTIC {
            return 0.0;
        }
        let hours = if surface >= 0.0 { MELTS[1] } else { MELTS[0] };
        let room = (self.salt * liquid_by_salt(surface) - self.water).max(0.0);
        room.min(solid) * (1.0 - (-seconds / 3600.0 / hours).exp())
    }

    /// Melts so much, ice first where it holds to the road: it is next to the pavement.
    pub(crate) fn melt(&mut self, amount: f64) {
        let of_ice = amount.clamp(0.0, self.ice);
        let of_snow = (amount - of_ice).clamp(0.0, self.snow);
        self.ice -= of_ice;
        self.snow -= of_snow;
        self.water += of_ice + of_snow;
        self.melted += of_ice + of_snow;
    }

    /// Loses a share of its brine, with the salt in it.
    fn lose(&mut self, share: f64) {
        let kept = 1.0 - share.clamp(0.0, 1.0);
        // Dry salt does not run off.
        let dissolved = if self.water > 0.0 { self.dissolved() } else { 0.0 };
        self.salt -= dissolved * (1.0 - kept);
        self.water *= kept;
        self.melted *= kept;
    }

    /// Salt that is dissolved, g.
    fn dissolved(&self) -> f64 {
        self.salt.min(1000.0 * self.water * SATURATED / (100.0 - SATURATED))
    }

    /// Drains: at once what is more than 0.6 mm; in dry weather toward 0.2 mm, with 12 h.
    ///
    /// Figures: parameter tables of Denby et al. 2013, Atmos. Environ. 81:485, version 12.
    pub(crate) fn drain(&mut self, is_raining: bool, seconds: f64) {
        if self.water > RUNS_OFF {
            self.lose(1.0 - RUNS_OFF / self.water);
        }
        if !is_raining && self.water > DRAINS.0 {
            let left = DRAINS.0 + (self.water - DRAINS.0) * (-seconds / 3600.0 / DRAINS.1).exp();
            self.lose(1.0 - left / self.water);
        }
    }

    /// Loses what tires throw out of the lane: so many light and heavy vehicles at a speed, km/h.
    pub(crate) fn spray(&mut self, vehicles: [f64; 2], speed: f64) {
        let share = vehicles[0] * spray_share(SPRAYED[0], speed, self.water)
            + vehicles[1] * spray_share(SPRAYED[1], speed, self.water);
        self.lose(1.0 - (-share).exp());
    }

    /// A plow passes: it leaves a fifth of the snow, most of the ice, half of the water and most of the salt.
    ///
    /// Figures: as [`Film`]'s drainage; each is a band in the source's own spread.
    pub fn plow(&mut self) {
        self.snow *= PLOWED[0];
        self.ice *= PLOWED[1];
        self.water *= PLOWED[2];
        self.melted *= PLOWED[2];
        self.salt *= PLOWED[3];
    }
}

/// Share of a film that one vehicle throws out, by the factor of its kind at 80 km/h.
fn spray_share(factor: f64, speed: f64, water: f64) -> f64 {
    let [slowest, full] = SPRAY_SPEED;
    if speed <= slowest || water <= SPRAYS {
        return 0.0;
    }
    factor * ((speed - slowest) / (full - slowest)).powi(3) * (water - SPRAYS) / water
}

/// Share of a thick film's brine that a vehicle throws out of its lane, of the mix of light and heavy ones.
///
/// # Equation
/// f ((V − 10)/70)³, f = 2·10⁻⁵ light and 1.2·10⁻⁴ heavy; times (w − 0.05)/w for a film of w mm.
///
/// # Range
/// Speeds up to 130 km/h. A dry residue loses nothing by this.
///
/// # Error
/// Up to a factor of ten.
///
/// # Source
/// Parameter tables of Denby et al. 2013, Atmos. Environ. 81:485, version 12.
pub fn loss_per_vehicle(speed: f64, heavy_share: f64, water: f64) -> f64 {
    (1.0 - heavy_share) * spray_share(SPRAYED[0], speed, water)
        + heavy_share * spray_share(SPRAYED[1], speed, water)
}
