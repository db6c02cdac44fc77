//! What a run should look like before it begins: many plants that this one may be, run the same way.

use message::message;

use crate::Error;
use crate::judge::Prior;
use crate::model::Plant;

/// Share of the runs that is within the band.
const WITHIN: f64 = 0.95;

/// The panel of a run to come, as a range by time.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Plant times of the rows, s.
    pub seconds: Vec<f64>,
    /// Panel, per cent by mass: below which 2.5 % of the runs lie, half of them, and 97.5 %.
    pub panel: Vec<[f64; 3]>,
    /// Time the panel first reaches its spec range, s, in 2.5 %, half and 97.5 % of all runs; none where so many never
    /// do.
    pub reached: [Option<f64>; 3],
    /// Number of simulated runs.
    pub runs: usize,
}

/// Draws plants that this one may be and runs each of them by its controller, for `seconds` with a point each `every`
/// seconds.
///
/// # Equation
/// Quantiles of the panel at each time over the runs (95 % between the outer two), and of the time it first comes
/// within the band.
///
/// # Range
/// Two runs or more; a plant at its start.
///
/// # Error
/// That of drawing: with 200 runs an outer quantile lies between the 0.9th and the 5th per cent of all, 95 %.
///
/// # Source
/// Program method; how plants differ from their layouts is the monitor's prior, wide; no published source.
///
/// # Errors
/// [`Error::Layout`] for fewer than two runs; [`Error::Stuck`].
pub fn band(
    plant: &Plant,
    prior: &Prior,
    runs: usize,
    (seconds, every): (f64, f64),
    seed: u64,
) -> Result<Band, Error> {
    if runs < 2 {
        return Err(Error::layout(message!("plant.band-runs"), runs, message!("plant.accepted.band-runs")));
    }
    let control = &plant.layout().control;
    let (panel, enough) = (control.panel, control.target.percent() - 100.0 * control.band);
    let workers = std::thread::available_parallelism().map_or(1, std::num::NonZero::get).min(runs);
    let one = |run: usize| -> Result<(Vec<f64>, Option<f64>), Error> {
        let mut drawn = plant.clone();
        drawn.tune(prior.draw(seed, run as u64));
        let (mut shown, mut reached) = (Vec::new(), None);
        drawn.advance_showing(seconds, every, &mut |snapshot| {
            let value = snapshot.shown[panel];
            if reached.is_none() && enough <= value {
                reached = Some(snapshot.seconds);
            }
            shown.push(value);
        })?;
        Ok((shown, reached))
    };
    let one = &one;
    let parts: Vec<Result<Vec<_>, Error>> = std::thread::scope(|scope| {
        let handles: Vec<_> = (0..workers)
            .map(|worker| {
                scope.spawn(move || (worker..runs).step_by(workers).map(one).collect::<Result<Vec<_>, _>>())
            })
            .collect();
        handles
            .into_iter()
            .map(|handle| handle.join().unwrap_or(Err(Error::Stuck { seconds: 0.0 })))
            .collect()
    });
    let mut all = Vec::with_capacity(runs);
    for part in parts {
        all.extend(part?);
    }
    let places = [(1.0 - WITHIN) / 2.0, 0.5, f64::midpoint(1.0, WITHIN)];
    let place = |share: f64| ((share * runs as f64) as usize).min(runs - 1);
    let count = all.iter().map(|(shown, _)| shown.len()).min().unwrap_or(0);
    let panel = (0..count)
        .map(|row| {
            let mut values: Vec<f64> = all.iter().map(|(shown, _)| shown[row]).collect();
            values.sort_by(f64::total_cmp);
            places.map(|share| values[place(share)])
        })
        .collect();
    // A run that never gets there counts as the last.
    let mut times: Vec<f64> = all.iter().map(|(_, reached)| reached.unwrap_or(f64::INFINITY)).collect();
    times.sort_by(f64::total_cmp);
    let reached = places.map(|share| Some(times[place(share)]).filter(|time| time.is_finite()));
    Ok(Band { seconds: (1..=count).map(|row| row as f64 * every).collect(), panel, reached, runs })
}
