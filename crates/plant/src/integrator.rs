//! Integration of ordinary differential equations: one small trait, and an adaptive Runge-Kutta method behind it.

use chemistry::root;

use crate::Error;

/// Right-hand side of a system of first-order equations.
pub trait System {
    /// Writes dy/dt at a time and state.
    fn rates(&self, time: f64, state: &[f64], rates: &mut [f64]);
}

impl<F: Fn(f64, &[f64], &mut [f64])> System for F {
    fn rates(&self, time: f64, state: &[f64], rates: &mut [f64]) {
        self(time, state, rates);
    }
}

/// An event: a function of time and state that passes through zero when it happens.
pub type Event<'a> = &'a dyn Fn(f64, &[f64]) -> f64;

/// A method that integrates a system forward in time.
pub trait Integrator {
    /// Integrates `state` from one time to a later one, both in the unit of the system's time.
    ///
    /// # Errors
    /// [`Error::Stuck`] where the step becomes too small to continue.
    fn advance(&mut self, system: &dyn System, from: f64, to: f64, state: &mut [f64]) -> Result<(), Error>;

    /// Same as [`Self::advance`], but stops where `event` first passes through zero, and returns that time; the state
    /// is then that of the event. An event that comes and goes within one step is missed.
    ///
    /// # Errors
    /// Same as [`Self::advance`].
    fn advance_until(
        &mut self,
        system: &dyn System,
        from: f64,
        to: f64,
        state: &mut [f64],
        event: Event<'_>,
    ) -> Result<Option<f64>, Error>;
}

/// An explicit pair of two orders whose last stage is the first of the next step.
#[derive(Debug)]
struct Pair {
    /// Times of the stages.
    at: &'static [f64],
    /// Weights of earlier stages in each; the last row is the step itself.
    within: &'static [&'static [f64]],
    /// Weights of the stages in the difference of the two orders.
    difference: &'static [f64],
    /// The lower order plus one.
    power: f64,
}

/// Fifth and fourth order: J. R. Dormand and P. J. Prince, J. Comput. Appl. Math. 6 (1980) 19.
static FIFTH: Pair = Pair {
    at: &[0.0, 0.2, 0.3, 0.8, 8.0 / 9.0, 1.0, 1.0],
    within: &[
        &[],
        &[1.0 / 5.0],
        &[3.0 / 40.0, 9.0 / 40.0],
        &[44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0],
        &[19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0],
        &[9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0],
        &[35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0],
    ],
    difference: &[
        71.0 / 57600.0,
        0.0,
        -71.0 / 16695.0,
        71.0 / 1920.0,
        -17253.0 / 339_200.0,
        22.0 / 525.0,
        -1.0 / 40.0,
    ],
    power: 5.0,
};

/// Third and second order: P. Bogacki and L. F. Shampine, Appl. Math. Lett. 2 (1989) 321.
static THIRD: Pair = Pair {
    at: &[0.0, 0.5, 0.75, 1.0],
    within: &[&[], &[0.5], &[0.0, 0.75], &[2.0 / 9.0, 1.0 / 3.0, 4.0 / 9.0]],
    difference: &[-5.0 / 72.0, 1.0 / 12.0, 1.0 / 9.0, -1.0 / 8.0],
    power: 3.0,
};

/// Smallest step as a share of the time.
const LEAST_STEP: f64 = 1e-13;

/// An explicit Runge-Kutta pair with a step that follows its error.
///
/// # Equation
/// y' = f(t, y); the step is kept where ‖error/(absolute + relative·|y|)‖ ≤ 1, root mean square.
///
/// # Range
/// Systems that are not stiff on the scale of interest.
///
/// # Error
/// About the given tolerances, per step. Linear invariants of f are kept to rounding.
///
/// # Source
/// The pairs as cited at their coefficients; step control as in E. Hairer, S. P. Nørsett and G. Wanner, *Solving
/// Ordinary Differential Equations I*, II.4. Tested on their Arenstorf orbit.
#[derive(Debug, Clone)]
pub struct RungeKutta {
    pair: &'static Pair,
    relative: f64,
    absolute: f64,
    /// Absolute tolerance of each part of the state, where they differ.
    scales: Vec<f64>,
    step: f64,
    stages: Vec<Vec<f64>>,
    trial: Vec<f64>,
}

impl RungeKutta {
    /// Fifth order, for exact answers. `relative` is a share of each part of the state, `absolute` is in the unit of
    /// that part.
    pub fn fifth(relative: f64, absolute: f64) -> Self {
        Self::with(&FIFTH, relative, absolute)
    }

    /// Third order, with half the work per step, where steps are short for other reasons. Tolerances as in
    /// [`Self::fifth`].
    pub fn third(relative: f64, absolute: f64) -> Self {
        Self::with(&THIRD, relative, absolute)
    }

    fn with(pair: &'static Pair, relative: f64, absolute: f64) -> Self {
        let (stages, trial) = (Vec::new(), Vec::new());
        Self { pair, relative, absolute, scales: Vec::new(), step: 0.0, stages, trial }
    }

    /// Sets an absolute tolerance for each part of the state, in the unit of that part; an infinite one leaves it out.
    pub fn scaled(self, scales: Vec<f64>) -> Self {
        Self { scales, ..self }
    }

    fn make_room(&mut self, size: usize) {
        if self.trial.len() != size {
            self.stages = vec![vec![0.0; size]; self.pair.at.len()];
            self.trial = vec![0.0; size];
            self.step = 0.0;
        }
    }

    /// Takes one step of a given size into `trial`, its first stage already there. Returns its error in tolerances.
    fn attempt(&mut self, system: &dyn System, time: f64, step: f64, state: &[f64]) -> f64 {
        let pair = self.pair;
        for stage in 1..pair.at.len() {
            let (done, rest) = self.stages.split_at_mut(stage);
            self.trial.copy_from_slice(state);
            for (rates, weight) in done.iter().zip(pair.within[stage]) {
                let weight = step * weight;
                for (value, rate) in self.trial.iter_mut().zip(rates) {
                    *value += weight * rate;
                }
            }
            system.rates(time + pair.at[stage] * step, &self.trial, &mut rest[0]);
        }
        let mut squares = 0.0;
        for (place, value) in self.trial.iter().enumerate() {
            let error: f64 =
                self.stages.iter().zip(pair.difference).map(|(rates, weight)| weight * rates[place]).sum();
            let absolute = self.scales.get(place).copied().unwrap_or(self.absolute);
            let scale = absolute + self.relative * state[place].abs().max(value.abs());
            squares += (step * error / scale).powi(2);
        }
        (squares / self.trial.len().max(1) as f64).sqrt()
    }

    /// Integrates until `to` or the event.
    fn go(
        &mut self,
        system: &dyn System,
        from: f64,
        to: f64,
        state: &mut [f64],
        event: Option<Event<'_>>,
    ) -> Result<Option<f64>, Error> {
        self.make_room(state.len());
        if to <= from {
            return Ok(None);
        }
        let mut time = from;
        let mut step = if self.step > 0.0 { self.step.min(to - from) } else { (to - from) / 100.0 };
        system.rates(time, state, &mut self.stages[0]);
        let mut before = event.map(|event| event(time, state));
        while time < to {
            let is_last = to - time <= step * (1.0 + 1e-12);
            let size = if is_last { to - time } else { step };
            let error = self.attempt(system, time, size, state);
            if error.is_nan() || 1.0 < error {
                let factor =
                    if error.is_nan() { 0.1 } else { (0.9 * error.powf(-1.0 / self.pair.power)).max(0.2) };
                step = size * factor;
                if step <= LEAST_STEP * time.abs().max(to.abs()) {
                    return Err(Error::Stuck { seconds: time });
                }
                continue;
            }
            if let (Some(event), Some(sign)) = (event, before) {
                let after = event(time + size, &self.trial);
                if sign * after < 0.0 || (after == 0.0 && sign != 0.0) {
                    let at = self.narrow(system, time, size, state, (event, sign, after));
                    return Ok(Some(at));
                }
                before = Some(after);
            }
            state.copy_from_slice(&self.trial);
            // The last stage is the first of the next step.
            let last = self.stages.len() - 1;
            self.stages.swap(0, last);
            time = if is_last { to } else { time + size };
            let grown = size * (0.9 * error.max(1e-10).powf(-1.0 / self.pair.power)).clamp(0.2, 5.0);
            // A last step that was cut short does not limit the next one.
            step = if is_last { grown.max(step) } else { grown };
        }
        self.step = step;
        Ok(None)
    }

    /// Finds the event within a step: each try is a new step from the same start, as exact as any.
    fn narrow(
        &mut self,
        system: &dyn System,
        time: f64,
        size: f64,
        state: &mut [f64],
        (event, start, end): (Event<'_>, f64, f64),
    ) -> f64 {
        // The earliest time tried at which it had passed: a result before it would find the same event again.
        let mut passed = size;
        let tried = |at: f64| {
            self.attempt(system, time, at, state);
            let value = event(time + at, &self.trial);
            if value * start <= 0.0 {
                passed = passed.min(at);
            }
            value
        };
        root::zero(tried, (0.0, start), (size, end), 1e-12 * (time.abs() + size));
        self.attempt(system, time, passed, state);
        state.copy_from_slice(&self.trial);
        self.step = 0.0;
        time + passed
    }
}

impl Integrator for RungeKutta {
    fn advance(&mut self, system: &dyn System, from: f64, to: f64, state: &mut [f64]) -> Result<(), Error> {
        self.go(system, from, to, state, None).map(|_| ())
    }

    fn advance_until(
        &mut self,
        system: &dyn System,
        from: f64,
        to: f64,
        state: &mut [f64],
        event: Event<'_>,
    ) -> Result<Option<f64>, Error> {
        self.go(system, from, to, state, Some(event))
    }
}
