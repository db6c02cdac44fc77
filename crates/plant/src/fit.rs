//! Learning what a plant is like from its logged runs.

use crate::Error;
use crate::judge::{Ensemble, Prior, Seen};
use crate::model::Plant;

/// Models that follow a logged run.
const MEMBERS: usize = 48;
/// Standard deviation of the logarithm of a factor from run to run, beyond a run's own scatter: no published source.
const BETWEEN_RUNS: f64 = 0.05;

/// A logged run: the plant at its start, then commands and readings.
pub struct Logged<'a> {
    /// The plant as it was at the start.
    pub start: &'a Plant,
    /// Commands and sensor readings, one a controller period.
    pub seen: &'a [Seen],
}

/// Learns how fast a plant dissolves, feeds and fills from its runs. The result is a [`Prior`] for the next run.
///
/// # Equation
/// An ensemble Kalman filter over each run for the logarithms of the three factors and the state together (G. Evensen,
/// J. Geophys. Res. 99 (1994) 10143); runs are put together with the prior by the inverse of their variances, each
/// widened by what runs differ in.
///
/// # Range
/// Factors from 0.14 to 4.5 times what the layout says; runs in which a factor shows nothing leave it as it was.
///
/// # Error
/// The spreads given: on simulated plants that differ by 30 %, they cover the truth (`plant/tests/fit.rs`).
///
/// # Source
/// Program method, with the filter cited above.
///
/// # Errors
/// [`Error::Stuck`] from a model.
pub fn fit(runs: &[Logged<'_>], prior: &Prior, seed: u64) -> Result<Prior, Error> {
    let mut precision = prior.spreads.map(|spread| spread.powi(-2));
    let mut weighted: [f64; 3] = std::array::from_fn(|one| prior.factors[one].ln() * precision[one]);
    for (number, run) in runs.iter().enumerate() {
        let period = 3600.0 * quantity::in_hours(run.start.layout().control.period);
        let mut ensemble = Ensemble::of(run.start, prior, seed.wrapping_add(number as u64), MEMBERS, 0.0);
        for seen in run.seen {
            ensemble.follow(seen, period)?;
        }
        for (one, (mean, spread)) in ensemble.logarithms().into_iter().enumerate() {
            // What the run itself shows, without the prior it began from, which must count only once.
            let after = spread.hypot(BETWEEN_RUNS).powi(-2);
            let before = prior.spreads[one].powi(-2);
            let own = after - before;
            if own <= 0.0 {
                continue;
            }
            let says = (mean * after - prior.factors[one].ln() * before) / own;
            precision[one] += own;
            weighted[one] += says * own;
        }
    }
    Ok(Prior {
        factors: std::array::from_fn(|one| (weighted[one] / precision[one]).exp()),
        spreads: precision.map(|precision| precision.powf(-0.5)),
    })
}
