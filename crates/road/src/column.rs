//! Heat in the road: a conducting column of cells, stepped implicitly.

use crate::section::{Bed, Section};

/// Thickness of the top cell, m.
const TOP: f64 = 0.01;
/// Each cell is so much thicker than the one above it.
const GROWTH: f64 = 1.18;
/// Thickest cell, m.
const THICKEST: f64 = 0.30;
/// Heat released by freezing water of the base, J per m³ of water.
const FREEZING_HEAT: f64 = 3.34e8;
/// Transfer under a deck: calm air and radiation toward the ground, W/m²/K, and what wind adds, for each m/s.
const UNDER_DECK: [f64; 2] = [6.0, 2.0];

/// What holds at the bottom of a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Bottom {
    /// No heat passes.
    Closed,
    /// A temperature that stays, °C.
    Held(f64),
    /// Air of a temperature, °C, with a transfer, W/m²/K.
    Air(f64, f64),
}

impl Bottom {
    /// Air under a deck.
    pub(crate) fn under_deck(air: f64, wind: f64) -> Self {
        Bottom::Air(air, UNDER_DECK[0] + UNDER_DECK[1] * wind)
    }
}

/// A column's cells and what passes between them.
#[derive(Debug, Clone)]
pub(crate) struct Column {
    /// Temperature of each cell, from the top, °C.
    cells: Vec<f64>,
    shape: Shape,
    /// What the last elimination left: each cell's temperature is `base` + `slope` × that of the cell above.
    base: Vec<f64>,
    slope: Vec<f64>,
    /// Step, bottom's transfer and whether heat capacities changed, for which `slope` and `inverse` were worked out.
    made_for: Option<(f64, f64)>,
    inverse: Vec<f64>,
}

#[derive(Debug, Clone)]
struct Shape {
    /// Depth of each cell's centre, m.
    centres: Vec<f64>,
    thickness: Vec<f64>,
    /// Conductance from a cell to the one above it, of the first to the surface, W/m²/K.
    up: Vec<f64>,
    /// Conductance from the lowest cell's centre to the bottom, W/m²/K.
    down: f64,
    heat_capacity: f64,
    base_water: f64,
}

impl Column {
    /// A column with a temperature at each depth, °C by m.
    pub(crate) fn new(section: &Section, profile: impl Fn(f64) -> f64) -> Self {
        let shape = Shape::of(section);
        let cells: Vec<f64> = shape.centres.iter().map(|depth| profile(*depth)).collect();
        let count = cells.len();
        let zeros = || vec![0.0; count];
        Self { cells, shape, base: zeros(), slope: zeros(), made_for: None, inverse: zeros() }
    }

    /// Conductance between the surface and the first cell's centre, W/m²/K.
    pub(crate) fn to_surface(&self) -> f64 {
        self.shape.up[0]
    }

    /// Temperature at a depth, °C; linear between the centres of cells.
    pub(crate) fn at(&self, depth: f64) -> f64 {
        let centres = &self.shape.centres;
        let below = centres.partition_point(|centre| *centre < depth).clamp(1, centres.len() - 1);
        let share = (depth - centres[below - 1]) / (centres[below] - centres[below - 1]);
        let share = share.clamp(0.0, 1.0);
        self.cells[below - 1] + share * (self.cells[below] - self.cells[below - 1])
    }

    /// Takes the step up to the surface: the first cell will be at the first figure + the second × the surface, °C.
    pub(crate) fn eliminate(&mut self, seconds: f64, bottom: Bottom) -> (f64, f64) {
        let shape = &self.shape;
        let (transfer, below) = match bottom {
            Bottom::Closed => (0.0, 0.0),
            Bottom::Held(temperature) => (shape.down, temperature),
            Bottom::Air(temperature, transfer) => (1.0 / (1.0 / transfer + 1.0 / shape.down), temperature),
        };
        let count = self.cells.len();
        if shape.base_water > 0.0 || self.made_for != Some((seconds, transfer)) {
            for place in (0..count).rev() {
                let capacity = shape.capacity(place, self.cells[place]) / seconds;
                let downward = match place + 1 < count {
                    true => shape.up[place + 1] * (1.0 - self.slope[place + 1]),
                    false => transfer,
                };
                self.inverse[place] = 1.0 / (capacity + shape.up[place] + downward);
                self.slope[place] = shape.up[place] * self.inverse[place];
            }
            self.made_for = Some((seconds, transfer));
        }
        let mut from_below = transfer * below;
        for place in (0..count).rev() {
            let capacity = shape.capacity(place, self.cells[place]) / seconds;
            self.base[place] = (capacity * self.cells[place] + from_below) * self.inverse[place];
            from_below = shape.up[place] * self.base[place];
        }
        (self.base[0], self.slope[0])
    }

    /// Finishes the step that [`Column::eliminate`] began, with the surface's temperature at its end, °C.
    pub(crate) fn settle(&mut self, surface: f64) {
        let mut above = surface;
        for ((cell, base), slope) in self.cells.iter_mut().zip(&self.base).zip(&self.slope) {
            above = base + slope * above;
            *cell = above;
        }
    }
}

impl Shape {
    fn of(section: &Section) -> Self {
        let mut thickness: Vec<f64> = Vec::new();
        let (mut next, mut left) = (TOP, section.depth);
        while left > 1e-9 {
            // No sliver is left at the bottom.
            let one = if left < 1.5 * next { left } else { next };
            thickness.push(one);
            left -= one;
            next = (next * GROWTH).min(THICKEST);
        }
        let mut centres = Vec::with_capacity(thickness.len());
        let mut top = 0.0;
        for one in &thickness {
            centres.push(top + 0.5 * one);
            top += one;
        }
        let k = section.conductivity;
        let mut up = vec![2.0 * k / thickness[0]];
        up.extend(thickness.windows(2).map(|pair| 2.0 * k / (pair[0] + pair[1])));
        let down = 2.0 * k / thickness[thickness.len() - 1];
        let base_water = if section.bed == Bed::Ground { section.base_water } else { 0.0 };
        Self { centres, thickness, up, down, heat_capacity: section.heat_capacity, base_water }
    }

    /// Heat that a cell takes up for each kelvin, J/m²/K: more while the water of the base freezes, between −1 and 0
    /// °C.
    fn capacity(&self, place: usize, celsius: f64) -> f64 {
        /// The base begins below the pavement, m.
        const PAVED: f64 = 0.15;
        let freezes = self.base_water > 0.0 && self.centres[place] > PAVED && (-1.0..0.0).contains(&celsius);
        let extra = if freezes { FREEZING_HEAT * self.base_water } else { 0.0 };
        (self.heat_capacity + extra) * self.thickness[place]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Error function complement by its continued fraction and series; enough digits for a check to 0.01 K.
    fn erfc(x: f64) -> f64 {
        statrs::function::erf::erfc(x)
    }

    /// The analytic step: a surface brought from 0 to −10 °C at once (Carslaw and Jaeger 1959, 2.5).
    #[test]
    fn a_sudden_cold_goes_in_as_the_error_function_says() {
        let section = Section { depth: 3.0, ..Section::ASPHALT };
        let diffusivity = section.conductivity / section.heat_capacity;
        let mut column = Column::new(&section, |_| 0.0);
        let mut time = 0.0;
        while time < 6.0 * 3600.0 {
            column.eliminate(30.0, Bottom::Closed);
            column.settle(-10.0);
            time += 30.0;
        }
        for depth in [0.02, 0.05, 0.10] {
            let expected = -10.0 * erfc(depth / (2.0 * (diffusivity * time).sqrt()));
            assert!((column.at(depth) - expected).abs() < 0.03, "{depth}: {} {expected}", column.at(depth));
        }
    }

    /// A day's wave at the surface is smaller and later below: 10 exp(−z/d), lag z/(d ω).
    #[test]
    fn a_days_wave_fades_and_lags_with_depth() {
        let section = Section { depth: 1.5, ..Section::ASPHALT };
        let omega = 2.0 * std::f64::consts::PI / 86_400.0;
        let damping = (2.0 * section.conductivity / (section.heat_capacity * omega)).sqrt();
        let exact =
            |depth: f64, time: f64| 10.0 * (-depth / damping).exp() * (omega * time - depth / damping).sin();
        let mut column = Column::new(&section, |depth| exact(depth, 0.0));
        let mut worst = [0.0_f64; 2];
        for step in 1..=(3 * 24 * 12) {
            let time = 300.0 * f64::from(step);
            column.eliminate(300.0, Bottom::Closed);
            column.settle(10.0 * (omega * time).sin());
            for (worst, depth) in worst.iter_mut().zip([0.05, 0.20]) {
                *worst = worst.max((column.at(depth) - exact(depth, time)).abs());
            }
        }
        assert!(worst.iter().all(|one| *one < 0.12), "{worst:?}");
    }

    #[test]
    fn freezing_water_in_the_base_holds_the_cold_back() {
        let after = |base_water: f64| {
            let mut column = Column::new(&Section { base_water, ..Section::ASPHALT }, |_| 1.0);
            for _ in 0..(48 * 12) {
                column.eliminate(300.0, Bottom::Held(5.0));
                column.settle(-8.0);
            }
            column.at(0.4)
        };
        assert!(after(0.08) > after(0.0) + 0.5, "{} {}", after(0.08), after(0.0));
    }
}
