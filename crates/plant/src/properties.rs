//! Properties of sodium chloride brine that the model needs, tabulated once from `chemistry`: a day of plant time looks
//! them up millions of times.

use chemistry::{Brine, MassFraction, conductivity, density, enthalpy, freezing, root, viscosity};
use quantity::{
    ThermodynamicTemperature, celsius, in_kg_per_m3, in_kilojoules_per_kg, in_millipascal_seconds,
    in_millisiemens_per_cm,
};

use crate::Error;

/// Strongest brine of the tables, as a mass fraction, and their steps.
pub(crate) const STRONGEST: f64 = 0.265;
const STRENGTH_STEP: f64 = 0.005;
const STRENGTHS: usize = 54;
/// Coldest and warmest, °C.
pub(crate) const COLDEST: f64 = -20.0;
pub(crate) const WARMEST: f64 = 40.0;
const DEGREE_STEP: f64 = 2.0;
const DEGREES: usize = 31;

/// Specific heat capacity of solid sodium chloride, J/(kg·K): NBS Tables (1982), from memory, divided by the molar
/// mass. Insolubles are given the same.
pub(crate) const SOLID_HEAT: f64 = 864.0;
/// Temperature at which the enthalpies of water and solids are zero, °C.
pub(crate) const ZERO_HEAT: f64 = 25.0;
/// Density of halite, kg/m³: CRC Handbook, from memory.
pub(crate) const HALITE: f64 = 2165.0;
/// Interval, as a mass fraction, at which the search for a strength by its conductivity ends; the result is far closer.
const CONDUCTING_WITHIN: f64 = 1e-5;
/// Diffusion coefficient of sodium chloride in water at 25 °C, m²/s: CRC Handbook (1.5e-9 to 1.6e-9 over the strengths
/// met here), from memory.
const DIFFUSION_AT_25: f64 = 1.55e-9;

/// Nodes across: one more at either end than the tables have, so that every piece has four neighbors.
const ACROSS: usize = DEGREES + 2;

/// What is tabulated: enthalpy J/kg, density kg/m³, viscosity Pa·s, conductivity mS/cm.
const ALL: usize = 4;

/// Tables of the brine's properties, interpolated by Catmull-Rom cubics.
///
/// # Range
/// 0…26.5 % by mass, −20…40 °C; the value at the end beyond it. Where `chemistry` has no data the tables go on
/// linearly.
///
/// # Source
/// `chemistry`'s density, enthalpy, viscosity and conductivity at nodes 0.5 % and 2 K apart.
#[derive(Debug, Clone)]
pub struct Properties {
    /// By strength, then by temperature.
    nodes: Vec<[f64; ALL]>,
    saturated: [f64; DEGREES + 2],
    water_viscosity_at_25: f64,
}

/// Properties of a brine: enthalpy J/kg, density kg/m³, viscosity Pa·s, conductivity mS/cm.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Known {
    pub(crate) enthalpy: f64,
    pub(crate) density: f64,
    pub(crate) viscosity: f64,
    pub(crate) conductivity: f64,
}

/// Catmull-Rom weights at a share of a piece.
fn weights(u: f64) -> [f64; 4] {
    let (u2, u3) = (u * u, u * u * u);
    [
        0.5 * (-u3 + 2.0 * u2 - u),
        0.5 * (3.0 * u3 - 5.0 * u2 + 2.0),
        0.5 * (-3.0 * u3 + 4.0 * u2 + u),
        0.5 * (u3 - u2),
    ]
}

/// Catmull-Rom weights of the slope at a share of a piece.
fn slopes(u: f64) -> [f64; 4] {
    let u2 = u * u;
    [
        0.5 * (-3.0 * u2 + 4.0 * u - 1.0),
        0.5 * (9.0 * u2 - 10.0 * u),
        0.5 * (-9.0 * u2 + 8.0 * u + 1.0),
        0.5 * (3.0 * u2 - 2.0 * u),
    ]
}

/// Returns the piece that a position is in, and the position in it as a share. Beyond the ends, the end.
fn piece(position: f64, count: usize) -> (usize, f64) {
    let last = (count - 2) as f64;
    let inside = position.clamp(0.0, last + 1.0);
    let start = inside.floor().min(last);
    (start as usize, inside - start)
}

/// Tabulates one property at every node and one node beyond either end, extrapolated linearly. Where the source has no
/// data it is extrapolated linearly too: the model gets there only on the way to a refusal.
fn tabulated(
    value: impl Fn(&Brine, ThermodynamicTemperature) -> Option<f64>,
) -> Result<Vec<[f64; ACROSS]>, Error> {
    let mut rows = vec![[f64::NAN; ACROSS]; STRENGTHS + 2];
    for step in 0..STRENGTHS {
        let brine = Brine::sodium_chloride(MassFraction::from_fraction(STRENGTH_STEP * step as f64)?)?;
        let row = &mut rows[step + 1];
        for place in 0..DEGREES {
            let at = celsius(COLDEST + DEGREE_STEP * place as f64);
            row[place + 1] = value(&brine, at).unwrap_or(f64::NAN);
        }
        for place in (0..ACROSS - 2).rev() {
            if row[place].is_nan() {
                row[place] = 2.0 * row[place + 1] - row[place + 2];
            }
        }
        for place in 2..ACROSS {
            if row[place].is_nan() {
                row[place] = 2.0 * row[place - 1] - row[place - 2];
            }
        }
    }
    // Conductivity begins at half a per cent; and a row more at either end.
    let straight = |one: [f64; ACROSS], two: [f64; ACROSS]| {
        std::array::from_fn::<f64, ACROSS, _>(|place| 2.0 * one[place] - two[place])
    };
    if rows[1].iter().any(|cell| cell.is_nan()) {
        rows[1] = straight(rows[2], rows[3]);
    }
    rows[0] = straight(rows[1], rows[2]);
    rows[STRENGTHS + 1] = straight(rows[STRENGTHS], rows[STRENGTHS - 1]);
    Ok(rows)
}

impl Properties {
    /// Tabulates the properties, which takes some milliseconds.
    ///
    /// # Errors
    /// None with the chemistry as it is; the constructors it uses are checked.
    pub fn new() -> Result<Self, Error> {
        let heat =
            |brine: &Brine, at| enthalpy::enthalpy(brine, at).ok().map(|h| 1000.0 * in_kilojoules_per_kg(h));
        let mass = |brine: &Brine, at| density::density(brine, at).ok().map(in_kg_per_m3);
        let flow = |brine: &Brine, at| {
            viscosity::viscosity(brine, at).ok().map(|mu| in_millipascal_seconds(mu) / 1000.0)
        };
        let current =
            |brine: &Brine, at| conductivity::conductivity(brine, at).ok().map(in_millisiemens_per_cm);
        let tables = [tabulated(heat)?, tabulated(mass)?, tabulated(flow)?, tabulated(current)?];
        let nodes = (0..STRENGTHS + 2)
            .flat_map(|row| (0..ACROSS).map(move |place| (row, place)))
            .map(|(row, place)| [0, 1, 2, 3].map(|one: usize| tables[one][row][place]))
            .collect();
        let mut saturated = [f64::NAN; DEGREES + 2];
        for place in 0..DEGREES {
            let at = celsius(COLDEST + DEGREE_STEP * place as f64);
            saturated[place + 1] =
                freezing::strength_saturated_at(at).map_or(f64::NAN, MassFraction::fraction);
        }
        for place in (0..=DEGREES).rev() {
            if saturated[place].is_nan() {
                saturated[place] = saturated[place + 1];
            }
        }
        saturated[DEGREES + 1] = 2.0 * saturated[DEGREES] - saturated[DEGREES - 1];
        let mut properties = Self { nodes, saturated, water_viscosity_at_25: 0.0 };
        properties.water_viscosity_at_25 = properties.of(0.0, 25.0).viscosity;
        Ok(properties)
    }

    /// Returns all properties at a mass fraction and °C.
    pub(crate) fn of(&self, fraction: f64, degrees: f64) -> Known {
        let (row, across) = piece(fraction / STRENGTH_STEP, STRENGTHS);
        let (column, along) = piece((degrees - COLDEST) / DEGREE_STEP, DEGREES);
        let (by_strength, by_degree) = (weights(across), weights(along));
        let mut sum = [0.0; ALL];
        for (step, by_strength) in by_strength.into_iter().enumerate() {
            let start = (row + step) * ACROSS + column;
            for (node, by_degree) in self.nodes[start..start + 4].iter().zip(by_degree) {
                for (sum, value) in sum.iter_mut().zip(node) {
                    *sum += by_strength * by_degree * value;
                }
            }
        }
        let [enthalpy, density, viscosity, conductivity] = sum;
        Known { enthalpy, density, viscosity, conductivity: conductivity.max(0.0) }
    }

    /// Returns specific enthalpy, J/kg, and specific heat capacity, J/(kg·K).
    pub(crate) fn enthalpy(&self, fraction: f64, degrees: f64) -> (f64, f64) {
        let (row, across) = piece(fraction / STRENGTH_STEP, STRENGTHS);
        let (column, along) = piece((degrees - COLDEST) / DEGREE_STEP, DEGREES);
        let (by_degree, slopes) = (weights(along), slopes(along));
        let (mut value, mut slope) = (0.0, 0.0);
        for (step, by_strength) in weights(across).into_iter().enumerate() {
            let start = (row + step) * ACROSS + column;
            for (place, node) in self.nodes[start..start + 4].iter().enumerate() {
                value += by_strength * by_degree[place] * node[0];
                slope += by_strength * slopes[place] * node[0];
            }
        }
        (value, slope / DEGREE_STEP)
    }

    /// Returns the conductivity, mS/cm.
    pub(crate) fn conductivity(&self, fraction: f64, degrees: f64) -> f64 {
        self.of(fraction, degrees).conductivity
    }

    /// Returns the strength of saturated brine at a temperature in °C, as a mass fraction.
    pub(crate) fn saturated(&self, degrees: f64) -> f64 {
        let (start, along) = piece((degrees - COLDEST) / DEGREE_STEP, DEGREES);
        self.saturated[start..start + 4]
            .iter()
            .zip(weights(along))
            .map(|(value, weight)| value * weight)
            .sum()
    }

    /// Returns the diffusion coefficient, m²/s, from that at 25 °C by Stokes and Einstein's T/μ.
    pub(crate) fn diffusion(&self, viscosity: f64, degrees: f64) -> f64 {
        DIFFUSION_AT_25 * (degrees + 273.15) / 298.15 * self.water_viscosity_at_25 / viscosity
    }

    /// Returns the temperature of a liquid with solids in it, °C, from their masses, kg, and heat, J.
    pub(crate) fn temperature(&self, liquid: f64, fraction: f64, solids: f64, heat: f64, guess: f64) -> f64 {
        let over = |degrees: f64| {
            let (h, c) = self.enthalpy(fraction, degrees);
            let over = liquid * h + solids * SOLID_HEAT * (degrees - ZERO_HEAT) - heat;
            (over, (liquid * c + solids * SOLID_HEAT).max(1e-9))
        };
        root::newton(over, guess.clamp(COLDEST, WARMEST), (f64::NEG_INFINITY, f64::INFINITY), 1e-5)
    }

    /// Returns the strength with a conductivity at a temperature, as a mass fraction; the strongest where none reaches
    /// it.
    pub(crate) fn strength_conducting(&self, millisiemens: f64, degrees: f64) -> f64 {
        let miss = |fraction: f64| self.conductivity(fraction, degrees) - millisiemens;
        let [low, high] = [0.0, STRONGEST].map(|fraction| (fraction, miss(fraction)));
        if high.1 <= 0.0 {
            return high.0;
        }
        if 0.0 <= low.1 {
            return low.0;
        }
        root::zero(miss, low, high, CONDUCTING_WITHIN)
    }
}
