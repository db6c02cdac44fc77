//! The hours a grid is laid on, and how the samples of a state are laid on them.

use jiff::Timestamp;

use crate::clock::HOUR;
use crate::{Sample, Value};

/// Missing hours in a row that a straight line may fill.
const LONGEST_FILLED_GAP_HOURS: usize = 2;
/// Hours looked at on either side of the window, so that gaps at its edges are filled like others.
pub(super) const MARGIN: usize = LONGEST_FILLED_GAP_HOURS + 1;

/// The hours worked on: the window and its margins.
pub(super) struct Window {
    first: i64,
    /// How many, margins included.
    pub(super) count: usize,
}

impl Window {
    pub(super) fn around(first: Timestamp, hours: usize) -> Self {
        Self { first: first.as_second() - MARGIN as i64 * HOUR, count: hours + 2 * MARGIN }
    }

    pub(super) fn inner(&self) -> usize {
        self.count - 2 * MARGIN
    }

    pub(super) fn start_of(&self, index: usize) -> i64 {
        self.first + index as i64 * HOUR
    }

    /// The hours that a sample touches, each with the seconds it shares. An instant shares none.
    pub(super) fn touched(&self, sample: &Sample) -> impl Iterator<Item = (usize, i64)> + use<> {
        let first = self.first;
        let (start, end) = (sample.start.as_second(), sample.end.as_second());
        let from = (start - first).div_euclid(HOUR);
        let to = if end > start { (end - first - 1).div_euclid(HOUR) } else { from };
        let last = self.count as i64 - 1;
        (from.max(0)..=to.min(last)).map(move |index| {
            let hour = first + index * HOUR;
            (index as usize, (end.min(hour + HOUR) - start.max(hour)).max(0))
        })
    }
}

/// A state hour by hour: the mean over intervals, weighted by time, or else over the instants of the hour.
pub(super) fn means(
    samples: &[Sample],
    window: &Window,
    number: impl Fn(&Value) -> Option<f64>,
    given: &mut [bool],
) -> Vec<Option<f64>> {
    let mut spans = vec![(0.0, 0.0); window.count];
    let mut instants = vec![(0.0, 0.0); window.count];
    for sample in samples.iter().filter(|sample| sample.flags.usable()) {
        let Some(value) = number(&sample.value) else { continue };
        for (index, seconds) in window.touched(sample) {
            let (sums, weight) =
                if seconds > 0 { (&mut spans, seconds as f64) } else { (&mut instants, 1.0) };
            sums[index].0 += weight * value;
            sums[index].1 += weight;
            given[index] = true;
        }
    }
    let mean = |(sum, weight): (f64, f64)| (weight > 0.0).then(|| sum / weight);
    spans.into_iter().zip(instants).map(|(span, instant)| mean(span).or_else(|| mean(instant))).collect()
}

/// The highest value that touches each hour.
pub(super) fn highest(
    samples: &[Sample],
    window: &Window,
    number: impl Fn(&Value) -> Option<f64>,
    given: &mut [bool],
) -> Vec<Option<f64>> {
    let mut found: Vec<Option<f64>> = vec![None; window.count];
    for sample in samples.iter().filter(|sample| sample.flags.usable()) {
        let Some(value) = number(&sample.value) else { continue };
        for (index, _) in window.touched(sample) {
            found[index] = Some(found[index].map_or(value, |other: f64| other.max(value)));
            given[index] = true;
        }
    }
    found
}

/// Fills gaps of at most two hours between two values by a straight line; marks the hours filled.
pub(super) fn fill(values: &mut [Option<f64>], filled: &mut [bool]) {
    let known: Vec<(usize, f64)> =
        values.iter().enumerate().filter_map(|(index, value)| Some((index, (*value)?))).collect();
    for pair in known.windows(2) {
        let ((from, before), (to, after)) = (pair[0], pair[1]);
        let missing = to - from - 1;
        if missing == 0 || missing > LONGEST_FILLED_GAP_HOURS {
            continue;
        }
        for index in from + 1..to {
            let share = (index - from) as f64 / (to - from) as f64;
            values[index] = Some(before + share * (after - before));
            filled[index] = true;
        }
    }
}
