//! The surface of a road: an energy balance over a conducting column, with a film on top that shares heat and vapor.

use jiff::{SignedDuration, Timestamp};

use crate::column::{Bottom, Column};
use crate::film::{EUTECTIC, Film, Formed};
use crate::section::{Bed, Exchange, Section, Traffic};
use crate::sky::{self, FREEZING_KELVIN, Place, STEFAN_BOLTZMANN, Sun};

/// Heat of freezing water, J/kg.
const FUSION: f64 = 3.336e5;
/// Heat of evaporating water and of subliming ice near 0 °C, J/kg.
const EVAPORATION: f64 = 2.501e6;
const SUBLIMATION: f64 = 2.834e6;
/// Heat capacity of air at 0 °C and 1013 hPa, J/m³/K.
const AIR_HEAT: f64 = 1293.0;
/// Heat capacity of water, J/kg/K.
const WATER_HEAT: f64 = 4186.0;
/// Gas constant of water vapor, J/kg/K.
const VAPOUR_GAS: f64 = 461.5;
/// Albedo of snow on a road, and how much snow covers it, kg/m².
const SNOW_ALBEDO: f64 = 0.40;
const SNOW_COVERS: f64 = 1.0;
/// A wet surface reflects so much of what a dry one does.
const WET_ALBEDO: f64 = 0.8;
/// Longwave emissivity of what hides the sky.
const WALL_EMISSIVITY: f64 = 0.95;
/// Extra transfer by vehicles, of a light and a heavy one; their length, m; their heat, W/m²: parameter tables of
/// Denby et al. 2013, Atmos. Environ. 81:485.
const STIRS: [f64; 2] = [1e-3, 1e-2];
const LONG: [f64; 2] = [4.5, 8.0];
const WARMS: [f64; 2] = [50.0, 150.0];
/// Least wind that counts in the exchange, m/s.
const LEAST_WIND: f64 = 0.3;
/// How near the balance is solved, K.
const SOLVED: f64 = 1e-3;

/// Weather at a moment, for a surface. Rates of rain and snow hold over the step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weather {
    /// Air temperature, °C, −60…50.
    pub air: f64,
    /// Vapor pressure of the air, hPa.
    pub vapour: f64,
    /// Wind speed, m/s.
    pub wind: f64,
    /// Cloud cover, 0…1.
    pub cloud: f64,
    /// Radiation of the sun on a level surface, W/m², from 0.
    pub shortwave: f64,
    /// Longwave radiation of the sky, W/m²; none works it out from air, vapor and cloud.
    pub longwave: Option<f64>,
    /// Rain, mm/h.
    pub rain: f64,
    /// Snow as water, mm/h.
    pub snow: f64,
}

impl Weather {
    /// A straight line between two moments; rain and snow are those of the first.
    pub fn between(&self, next: &Weather, share: f64) -> Weather {
        let line = |one: f64, other: f64| one + share * (other - one);
        Weather {
            air: line(self.air, next.air),
            vapour: line(self.vapour, next.vapour),
            wind: line(self.wind, next.wind),
            cloud: line(self.cloud, next.cloud),
            shortwave: line(self.shortwave, next.shortwave),
            longwave: self.longwave.zip(next.longwave).map(|(one, other)| line(one, other)),
            rain: self.rain,
            snow: self.snow,
        }
    }
}

/// What acts on every surface at a place in one step, worked out once for all of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forcing {
    /// Air temperature, °C.
    air: f64,
    /// Wind, m/s.
    wind: f64,
    /// Water vapor in the air, kg/m³.
    vapour: f64,
    /// Radiation straight from the sun and from the sky around it, W/m² on a level surface.
    direct: f64,
    diffuse: f64,
    /// Longwave radiation of the sky, W/m².
    longwave: f64,
    /// Rain and snow in the step, kg/m².
    rain: f64,
    snow: f64,
    sun: Sun,
}

impl Forcing {
    /// What acts in a step that ends at a moment, and lasts so many seconds.
    pub fn new(weather: &Weather, sun: Sun, seconds: f64) -> Self {
        let diffuse = sky::diffuse_share(weather.shortwave, sun) * weather.shortwave;
        let longwave =
            weather.longwave.unwrap_or_else(|| sky::longwave(weather.air, weather.vapour, weather.cloud));
        Self {
            air: weather.air,
            wind: weather.wind,
            vapour: 100.0 * weather.vapour / (VAPOUR_GAS * (weather.air + FREEZING_KELVIN)),
            direct: weather.shortwave - diffuse,
            diffuse,
            longwave,
            rain: weather.rain * seconds / 3600.0,
            snow: weather.snow * seconds / 3600.0,
            sun,
        }
    }

    /// Steps through hourly weather: each hour's figures hold at `at` into the hour and change by straight lines; rain
    /// and snow fall evenly within it. Steps of the hours before `from` are left out.
    pub fn series(
        place: Place,
        start: Timestamp,
        hours: &[Weather],
        middle: bool,
        seconds: u32,
        from: usize,
    ) -> Vec<Self> {
        let per_hour = 3600 / seconds as usize;
        let offset = if middle { 0.5 } else { 0.0 };
        let mut steps = Vec::with_capacity(hours.len().saturating_sub(from) * per_hour);
        for (hour, falls) in hours.iter().enumerate().skip(from) {
            for step in 1..=per_hour {
                let time = hour as f64 + step as f64 / per_hour as f64 - offset;
                let knot = time.max(0.0).floor();
                let low = (knot as usize).min(hours.len() - 1);
                let high = (low + 1).min(hours.len() - 1);
                let mut weather = hours[low].between(&hours[high], (time - knot).clamp(0.0, 1.0));
                (weather.rain, weather.snow) = (falls.rain, falls.snow);
                let at =
                    start + SignedDuration::from_secs(3600 * hour as i64 + i64::from(seconds) * step as i64);
                steps.push(Forcing::new(&weather, Sun::at(place, at), f64::from(seconds)));
            }
        }
        steps
    }
}

/// A stretch of road with what it holds: heat below, water, ice and salt on top.
#[derive(Debug, Clone)]
pub struct Road {
    section: Section,
    column: Column,
    /// What lies on it.
    pub film: Film,
    surface: f64,
    /// Temperature that stays at the bottom of the ground, °C; none lets no heat pass.
    ground: Option<f64>,
    /// How far the model is off, K.
    bias: f64,
}

impl Road {
    /// A road with a temperature at each depth, °C by m, and a temperature that stays far below, °C; none there lets no
    /// heat pass the bottom.
    pub fn new(section: Section, profile: impl Fn(f64) -> f64, ground: Option<f64>) -> Self {
        let surface = profile(0.0);
        Self {
            section,
            column: Column::new(&section, profile),
            film: Film::default(),
            surface,
            ground,
            bias: 0.0,
        }
    }

    /// Sets what is to be added to the model's temperature, K, by readings or as an error drawn for a member. The
    /// column goes on by itself; the film feels the sum, so that ice and water still hold the surface at freezing.
    pub fn set_bias(&mut self, bias: f64) {
        self.bias = bias;
    }

    /// Sets who drives there from now on.
    pub fn set_traffic(&mut self, traffic: Traffic) {
        self.section.traffic = traffic;
    }

    /// Temperature of the surface, °C.
    pub fn surface(&self) -> f64 {
        self.surface
    }

    /// Temperature at a depth, m, in °C.
    pub fn below(&self, depth: f64) -> f64 {
        self.column.at(depth)
    }

    /// One step of so many seconds under what acts at its end. Returns the ice that formed.
    pub fn step(&mut self, forcing: &Forcing, seconds: f64) -> Formed {
        self.film.falls(forcing.rain, forcing.snow);
        let (base, slope) = self.column.eliminate(seconds, self.bottom(forcing));
        let balance = Balance::new(self, forcing, seconds, base, slope);
        let by_salt = self.film.melts_by_salt(self.surface, seconds);
        let (surface, phase) = balance.solve(&self.film, self.surface, by_salt, seconds);
        self.column.settle(surface - self.bias);
        let formed = self.settle(surface, phase, by_salt, balance.settled(surface) * seconds);
        self.wear(forcing, seconds);
        formed
    }

    /// One step with a surface temperature that is given, °C, as a forecast of the road itself gives it.
    pub fn follow(&mut self, surface: f64, forcing: &Forcing, seconds: f64) -> Formed {
        self.film.falls(forcing.rain, forcing.snow);
        let (base, slope) = self.column.eliminate(seconds, self.bottom(forcing));
        let balance = Balance::new(self, forcing, seconds, base, slope);
        self.column.settle(surface);
        let solid = self.film.ice + self.film.snow;
        let by_salt = self.film.melts_by_salt(surface, seconds);
        let phase = if surface > 0.0 {
            Phase::Melts((solid - by_salt) * (1.0 - (-seconds / 1800.0).exp()))
        } else {
            Phase::Freezes(self.film.surplus(surface))
        };
        let formed = self.settle(surface, phase, by_salt, balance.settled(surface) * seconds);
        self.wear(forcing, seconds);
        formed
    }

    fn bottom(&self, forcing: &Forcing) -> Bottom {
        match (self.section.bed, self.ground) {
            (Bed::Deck, _) => Bottom::under_deck(forcing.air, forcing.wind * self.section.wind_share),
            (Bed::Ground, Some(temperature)) => Bottom::Held(temperature),
            (Bed::Ground, None) => Bottom::Closed,
        }
    }

    /// Brings film and surface to the end of a step.
    fn settle(&mut self, surface: f64, phase: Phase, by_salt: f64, vapour: f64) -> Formed {
        self.surface = surface;
        self.film.melt(by_salt);
        let mut formed = match phase {
            Phase::Melts(amount) => {
                self.film.melt(amount);
                Formed::default()
            }
            Phase::Freezes(amount) => self.film.freeze(amount),
        };
        formed.hoar = self.film.vapour(vapour, surface);
        formed
    }

    /// What runs off and what tires take.
    fn wear(&mut self, forcing: &Forcing, seconds: f64) {
        self.film.drain(forcing.rain > 0.0, seconds);
        let traffic = self.section.traffic;
        if traffic.light + traffic.heavy > 0.0 {
            let hours = seconds / 3600.0;
            self.film.spray([traffic.light * hours, traffic.heavy * hours], traffic.speed);
        }
    }
}

/// What freezes or melts in a step besides what salt melts, kg/m².
#[derive(Debug, Clone, Copy, PartialEq)]
enum Phase {
    Melts(f64),
    Freezes(f64),
}

/// The heat balance of a surface as a function of its temperature, W/m²; it falls as the surface warms.
struct Balance {
    /// What does not depend on the surface.
    gain: f64,
    emissivity: f64,
    /// Transfer of heat to air and rain, W/m²/K.
    transfer: f64,
    air: f64,
    /// Transfer of vapor, m/s, and vapor in the air, kg/m³.
    conductance: f64,
    vapour: f64,
    /// Activity of the surface's water, whether it is ice, how freely it gives off, 0…1, and how much there is,
    /// kg/m²/s.
    activity: f64,
    is_icy: bool,
    wetness: f64,
    most: f64,
    /// Conductance into the road, W/m²/K, and what the road holds against it, W/m².
    into: f64,
    held: f64,
    /// What is added to the model's temperature, K.
    bias: f64,
}

impl Balance {
    fn new(road: &Road, forcing: &Forcing, seconds: f64, base: f64, slope: f64) -> Self {
        let (section, film) = (&road.section, &road.film);
        let wind = (forcing.wind * section.wind_share).max(LEAST_WIND);
        let traffic = &section.traffic;
        let (mut stirred, mut warmed) = (0.0, 0.0);
        if traffic.speed > 0.0 {
            for (kind, count) in [traffic.light, traffic.heavy].into_iter().enumerate() {
                stirred += count * traffic.speed * STIRS[kind] / (3600.0 * 3.6);
                warmed += WARMS[kind] * (count * LONG[kind] / (1000.0 * traffic.speed)).min(1.0);
            }
        }
        let density = FREEZING_KELVIN / (forcing.air + FREEZING_KELVIN);
        let turbulent = match section.exchange {
            Exchange::Line { still, by_wind } => still + by_wind * forcing.wind * section.wind_share,
            Exchange::Bulk { height, roughness, heat_ratio, floor } => {
                let log = (height / roughness).ln();
                let neutral = 0.16 / (log * (log - heat_ratio.ln()));
                let richardson = 9.81 / (forcing.air + FREEZING_KELVIN)
                    * height
                    * (forcing.air - (road.surface - road.bias))
                    / (wind * wind);
                let damped = if richardson > 0.0 {
                    1.0 / (1.0 + 10.0 * richardson / (1.0 + 5.0 * richardson).sqrt())
                } else {
                    1.0
                };
                AIR_HEAT * density * neutral * wind * damped + floor
            }
        };
        let to_air = turbulent + AIR_HEAT * density * stirred;
        let snow_cover = 1.0 - (-film.snow / SNOW_COVERS).exp();
        let bare = if film.water > 0.03 { WET_ALBEDO * section.albedo } else { section.albedo };
        let albedo = bare + snow_cover * (SNOW_ALBEDO - bare);
        let sun = forcing.direct * section.horizon.lit(forcing.sun) + forcing.diffuse * section.sky_view;
        let walls = (1.0 - section.sky_view)
            * WALL_EMISSIVITY
            * STEFAN_BOLTZMANN
            * (forcing.air + section.wall_excess + FREEZING_KELVIN).powi(4);
        let rain = WATER_HEAT * forcing.rain / seconds;
        Self {
            gain: (1.0 - albedo) * sun
                + section.emissivity * (section.sky_view * forcing.longwave + walls)
                + warmed,
            emissivity: section.emissivity,
            transfer: to_air + rain,
            air: forcing.air,
            conductance: to_air / (AIR_HEAT * density),
            vapour: forcing.vapour,
            activity: film.activity(),
            is_icy: film.is_icy(),
            wetness: film.wetness(),
            most: film.all_water() / seconds,
            into: road.column.to_surface() * (1.0 - slope),
            held: road.column.to_surface() * base,
            bias: road.bias,
        }
    }

    /// Vapor that settles, kg/m²/s, negative while the surface dries; and its change with the surface, with the heat
    /// of each kg.
    fn vapour_flux(&self, surface: f64) -> (f64, f64, f64) {
        let kelvin = surface + FREEZING_KELVIN;
        let frozen = self.is_icy || (surface < 0.0 && self.activity > 0.999);
        let (a, b, activity, heat) = if frozen && surface < 0.5 {
            (22.46, 272.62, 1.0, SUBLIMATION)
        } else {
            (17.62, 243.12, self.activity, EVAPORATION)
        };
        let saturated = activity * 611.2 * (a * surface / (b + surface)).exp() / (VAPOUR_GAS * kelvin);
        let change = saturated * (a * b / ((b + surface) * (b + surface)) - 1.0 / kelvin);
        let settles = self.conductance * (self.vapour - saturated);
        if settles >= 0.0 {
            return (settles, -self.conductance * change, heat);
        }
        let free = settles * self.wetness;
        if -free >= self.most {
            (-self.most, 0.0, heat)
        } else {
            (free, -self.conductance * change * self.wetness, heat)
        }
    }

    /// The balance and its slope.
    fn at(&self, surface: f64) -> (f64, f64) {
        // What readings say the model is off by lies between it and what the film feels.
        let modelled = surface - self.bias;
        let kelvin = modelled + FREEZING_KELVIN;
        let emitted = self.emissivity * STEFAN_BOLTZMANN * kelvin.powi(4);
        let (settles, settles_by, heat) = self.vapour_flux(surface);
        let value = self.gain - emitted - self.transfer * (modelled - self.air) + heat * settles
            - (self.into * modelled - self.held);
        let slope = -4.0 * emitted / kelvin - self.transfer + heat * settles_by - self.into;
        (value, slope)
    }

    fn settled(&self, surface: f64) -> f64 {
        self.vapour_flux(surface).0
    }

    /// Temperature at which the balance with an extra gain, W/m², closes.
    fn root(&self, extra: f64, begin: f64) -> f64 {
        let mut surface = begin;
        for _ in 0..8 {
            let (value, slope) = self.at(surface);
            let change = ((value + extra) / slope).clamp(-15.0, 15.0);
            surface -= change;
            if change.abs() < SOLVED {
                break;
            }
        }
        surface
    }

    /// Temperature of the surface at the end of the step, and what freezes or melts.
    fn solve(&self, film: &Film, before: f64, by_salt: f64, seconds: f64) -> (f64, Phase) {
        let heat = FUSION / seconds;
        let sink = -heat * by_salt;
        let free = self.root(sink, before);
        let solid = film.ice + film.snow - by_salt;
        if free > 0.0 {
            if solid <= 1e-6 {
                return (free, Phase::Melts(solid.max(0.0)));
            }
            // What is left over at 0 °C melts; once all is gone the surface may warm.
            let melts = (self.at(0.0).0 + sink) / heat;
            if melts <= solid {
                return (0.0, Phase::Melts(melts.max(0.0)));
            }
            return (self.root(sink - heat * solid, 0.0).max(0.0), Phase::Melts(solid));
        }
        let surplus = |surface: f64| film.surplus(surface);
        if surplus(free) <= 1e-9 {
            return (free, Phase::Freezes(0.0));
        }
        // Freezing water gives heat: the surface ends between where it would be without and freezing.
        let at = |surface: f64| self.at(surface).0 + sink + heat * surplus(surface);
        let top = -1e-6;
        if film.salt <= 0.0 {
            // Without salt all water freezes at 0 °C, as far as the cold goes.
            let amount = -(self.at(0.0).0 + sink) / heat;
            return if amount >= film.water {
                (self.root(sink + heat * film.water, free).min(0.0), Phase::Freezes(film.water))
            } else {
                (0.0, Phase::Freezes(amount.max(0.0)))
            };
        }
        let (mut low, mut high) = (free.max(EUTECTIC - 30.0), top);
        let (mut at_low, mut at_high) = (at(low), at(high));
        let mut surface = low;
        for _ in 0..40 {
            if high - low < SOLVED {
                break;
            }
            // False position, with the end that stays halved (Illinois); a half where it would not move.
            let next = low + (high - low) * at_low / (at_low - at_high);
            surface = if next > low && next < high { next } else { 0.5 * (low + high) };
            let value = at(surface);
            if value.abs() < 0.01 {
                break;
            }
            if value > 0.0 {
                (low, at_low, at_high) = (surface, value, 0.5 * at_high);
            } else {
                (high, at_high, at_low) = (surface, value, 0.5 * at_low);
            }
        }
        (surface, Phase::Freezes(surplus(surface)))
    }
}
