//! A stretch of road as physics sees it: what it is made of, what it sees of the sky, who drives there.

use crate::sky::Sun;

/// What the road is laid on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bed {
    /// Ground, several metres deep.
    Ground,
    /// Air: the deck of a bridge.
    Deck,
}

/// What the sun and the sky are hidden by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Horizon {
    /// Nothing stands beside the road.
    Open,
    /// Something stands all around, as trees do: the sun is hidden while it is lower than this angle, degrees.
    Around {
        /// Elevation of the edge, degrees, 0…80.
        elevation: f64,
    },
    /// Walls stand along both sides of a street.
    Street {
        /// Direction of the street's axis clockwise from north, degrees.
        axis: f64,
        /// Height of the walls to the left and the right, looking along the axis, m.
        heights: [f64; 2],
        /// Width from wall to wall, m.
        width: f64,
        /// Width of the road in its middle, m.
        road: f64,
    },
}

impl Horizon {
    /// Share of the sky that is seen from the middle of the road, 0…1.
    ///
    /// # Equation
    /// Street: (cos a + cos b)/2, a and b the angles of its faces. Around: cos² of the elevation.
    ///
    /// # Source
    /// View factor of an endless slot, and of a ring, from a point between (Oke 1987, Boundary Layer Climates, A2).
    pub fn sky_view(&self) -> f64 {
        match *self {
            Horizon::Open => 1.0,
            Horizon::Around { elevation } => elevation.to_radians().cos().powi(2),
            Horizon::Street { heights, width, .. } => {
                heights.iter().map(|height| 0.5 * (height / (0.5 * width)).atan().cos()).sum()
            }
        }
    }

    /// Share of the road that the sun reaches, 0…1; 0 while it is down.
    pub fn lit(&self, sun: Sun) -> f64 {
        if sun.elevation <= 0.0 {
            return 0.0;
        }
        match *self {
            Horizon::Open => 1.0,
            Horizon::Around { elevation } => f64::from(sun.elevation >= elevation),
            Horizon::Street { axis, heights, width, road } => {
                let across = (sun.azimuth - axis).to_radians().sin();
                let height = if across > 0.0 { heights[1] } else { heights[0] };
                let shadow = height / sun.elevation.to_radians().tan() * across.abs();
                let kerb = 0.5 * (width - road);
                (1.0 - (shadow - kerb) / road).clamp(0.0, 1.0)
            }
        }
    }
}

/// How air carries heat and vapor to and from the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Exchange {
    /// Bulk transfer over a rough surface, damped in stable air, with a floor in calm air.
    Bulk {
        /// Height at which wind and temperature are given, m.
        height: f64,
        /// Roughness for wind, m.
        roughness: f64,
        /// Roughness for heat over that for wind.
        heat_ratio: f64,
        /// Least heat transfer, W/m²/K.
        floor: f64,
    },
    /// A straight line over the wind, of heated plates: `still` + `by_wind` × wind.
    Line {
        /// Heat transfer in calm air, W/m²/K.
        still: f64,
        /// Added by wind, W/m²/K for each m/s.
        by_wind: f64,
    },
}

/// Cars in one lane.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Traffic {
    /// Light vehicles an hour in the lane.
    pub light: f64,
    /// Heavy vehicles an hour in the lane.
    pub heavy: f64,
    /// Their speed, km/h.
    pub speed: f64,
}

/// A stretch of road.
///
/// The defaults are priors with a source each; the correction by readings, not a change of constants, fits them to a
/// road.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// What it is laid on.
    pub bed: Bed,
    /// Depth of the column, m; of a deck its thickness.
    pub depth: f64,
    /// Conductivity, W/m/K, 0.8…2.2.
    pub conductivity: f64,
    /// Heat capacity, J/m³/K, 1.8e6…2.4e6.
    pub heat_capacity: f64,
    /// Water of the base that freezes in winter, share of volume, 0…0.10.
    pub base_water: f64,
    /// Share of the sun's radiation that a dry surface reflects, 0.05…0.35.
    pub albedo: f64,
    /// Emissivity for longwave, 0.88…0.97.
    pub emissivity: f64,
    /// Share of the sky that is seen, 0…1.
    pub sky_view: f64,
    /// What hides the sun.
    pub horizon: Horizon,
    /// How much warmer than the air what hides the sky is, K.
    pub wall_excess: f64,
    /// Wind at the road over the wind that is given, 0.1…1.
    pub wind_share: f64,
    /// Transfer of heat.
    pub exchange: Exchange,
    /// Who drives there.
    pub traffic: Traffic,
}

impl Section {
    /// An open asphalt road on dry ground, without traffic.
    pub const ASPHALT: Section = Section {
        bed: Bed::Ground,
        depth: 3.0,
        conductivity: 1.2,
        heat_capacity: 2.116e6,
        base_water: 0.0,
        albedo: 0.12,
        emissivity: 0.95,
        sky_view: 1.0,
        horizon: Horizon::Open,
        wall_excess: 0.0,
        wind_share: 1.0,
        exchange: Exchange::Bulk { height: 2.0, roughness: 1e-3, heat_ratio: 0.1, floor: 2.0 },
        traffic: Traffic { light: 0.0, heavy: 0.0, speed: 0.0 },
    };

    /// An open concrete road on dry ground, without traffic.
    pub const CONCRETE: Section = Section {
        conductivity: 1.7,
        heat_capacity: 2.115e6,
        albedo: 0.25,
        emissivity: 0.92,
        ..Section::ASPHALT
    };

    /// A bridge deck, 0.22 m of concrete, with air below.
    pub const DECK: Section = Section { bed: Bed::Deck, depth: 0.22, albedo: 0.15, ..Section::CONCRETE };

    /// The same among trees whose edge stands at an elevation, degrees.
    #[must_use]
    pub fn shaded(self, elevation: f64) -> Self {
        let horizon = Horizon::Around { elevation };
        Self { sky_view: horizon.sky_view(), horizon, ..self }
    }

    /// The same in a street between walls.
    #[must_use]
    pub fn in_street(self, horizon: Horizon, wall_excess: f64, wind_share: f64) -> Self {
        Self { sky_view: horizon.sky_view(), horizon, wall_excess, wind_share, ..self }
    }
}
