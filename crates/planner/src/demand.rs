//! Liquid and salt by time: what routes draw in each pavement case (and each ensemble member), and the range of it.

use jiff::{SignedDuration, Timestamp};
use quantity::{Mass, Volume, cubic_metres, in_cubic_metres, in_kilograms, kilograms};

use road::score::quantile;

use crate::spread::Spread;

/// Share of the stories that lies below a low, and above a high.
const OUTSIDE: f64 = 0.1;

/// Purpose of a draw of liquid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// Pretreating before a storm.
    AntiIcing,
    /// Prewetting the salt of a first pass.
    FirstPass,
    /// Prewetting the salt of a later pass.
    LaterPass,
}

impl Purpose {
    /// All purposes, in the order of the plan's `purpose_bands`.
    pub const ALL: [Purpose; 3] = [Purpose::AntiIcing, Purpose::FirstPass, Purpose::LaterPass];
}

/// One draw of liquid or salt.
#[derive(Debug, Clone, Copy)]
pub struct Draw {
    /// Time by which it must be ready.
    pub at: Timestamp,
    /// Index of the route in the yard.
    pub route: usize,
    /// What the liquid is for.
    pub purpose: Purpose,
    /// Salt brine, at 60 °F.
    pub brine: Spread<Volume>,
    /// Magnesium or calcium chloride liquid, at 60 °F.
    pub other: Spread<Volume>,
    /// Dry salt, as delivered.
    pub salt: Spread<Mass>,
}

/// All draws of one possible outcome: one pavement case under one forecast.
pub type Course = Vec<Draw>;

/// A band of cumulative amounts by time, m³ or kg: one value per bin.
#[derive(Debug, Clone)]
pub struct Band {
    /// Least over the outcomes, at their low rates.
    pub low: Vec<f64>,
    /// The middle outcome at its middle rates.
    pub mid: Vec<f64>,
    /// Most over the outcomes, at their high rates.
    pub high: Vec<f64>,
}

/// Time divided into equal bins.
#[derive(Debug, Clone, Copy)]
pub struct Bins {
    /// Start of the first bin.
    pub start: Timestamp,
    /// Length of each bin.
    pub step: SignedDuration,
    /// Number of bins.
    pub count: usize,
}

impl Bins {
    /// Returns the bin that holds a time; times before the first bin belong to it, later ones to the last.
    pub fn bin(&self, at: Timestamp) -> usize {
        let since = at.duration_since(self.start).as_secs().max(0);
        ((since / self.step.as_secs().max(1)) as usize).min(self.count.saturating_sub(1))
    }

    /// Returns the start of a bin; `count` gives the end of the last.
    pub fn at(&self, bin: usize) -> Timestamp {
        self.start + self.step * bin as i32
    }
}

/// Returns the band of one amount over all courses. `middle` is the index of the middle course. Value `b` is what is
/// drawn by the end of bin `b`.
///
/// Lows add every route's low and highs every route's high: wide on purpose, and not quantiles.
pub(crate) fn band(
    bins: &Bins,
    courses: &[Course],
    middle: usize,
    amount: impl Fn(&Draw) -> Spread<f64>,
) -> Band {
    let sums: Vec<Spread<Vec<f64>>> = courses
        .iter()
        .map(|course| {
            let mut sum = Spread {
                low: vec![0.0; bins.count],
                mid: vec![0.0; bins.count],
                high: vec![0.0; bins.count],
            };
            for draw in course {
                let (bin, amount) = (bins.bin(draw.at), amount(draw));
                sum.low[bin] += amount.low;
                sum.mid[bin] += amount.mid;
                sum.high[bin] += amount.high;
            }
            for part in [&mut sum.low, &mut sum.mid, &mut sum.high] {
                for bin in 1..part.len() {
                    part[bin] += part[bin - 1];
                }
            }
            sum
        })
        .collect();
    let mid = sums.get(middle).map_or_else(|| vec![0.0; bins.count], |sum| sum.mid.clone());
    let at = |share: f64, pick: &dyn Fn(&Spread<Vec<f64>>, usize) -> f64| {
        (0..bins.count)
            .map(|bin| {
                let mut values: Vec<f64> = sums.iter().map(|sum| pick(sum, bin)).collect();
                values.sort_by(f64::total_cmp);
                quantile(&values, share).unwrap_or(0.0)
            })
            .collect::<Vec<f64>>()
    };
    let low = at(OUTSIDE, &|sum, bin| sum.low[bin]);
    let high = at(1.0 - OUTSIDE, &|sum, bin| sum.high[bin]);
    // The middle story is one of them, and the band holds it.
    Band {
        low: low.iter().zip(&mid).map(|(low, mid)| low.min(*mid)).collect(),
        high: high.iter().zip(&mid).map(|(high, mid)| high.max(*mid)).collect(),
        mid,
    }
}

/// Returns the totals of one amount over courses, as [`band`] at its end, for the draws that pass a filter.
pub(crate) fn total(
    courses: &[Course],
    middle: usize,
    keep: impl Fn(&Draw) -> bool,
    amount: impl Fn(&Draw) -> Spread<f64>,
) -> Spread<f64> {
    let sums: Vec<Spread<f64>> = courses
        .iter()
        .map(|course| course.iter().filter(|d| keep(d)).map(&amount).fold(Spread::all(0.0), Spread::plus))
        .collect();
    let mid = sums.get(middle).map_or(0.0, |s| s.mid);
    let at = |share: f64, pick: &dyn Fn(&Spread<f64>) -> f64| {
        let mut values: Vec<f64> = sums.iter().map(pick).collect();
        values.sort_by(f64::total_cmp);
        quantile(&values, share).unwrap_or(0.0)
    };
    Spread { low: at(OUTSIDE, &|s| s.low).min(mid), mid, high: at(1.0 - OUTSIDE, &|s| s.high).max(mid) }
}

/// Returns the brine of a draw, m³.
pub(crate) fn brine_m3(draw: &Draw) -> Spread<f64> {
    draw.brine.map(in_cubic_metres)
}

/// Returns the other liquid of a draw, m³.
pub(crate) fn other_m3(draw: &Draw) -> Spread<f64> {
    draw.other.map(in_cubic_metres)
}

/// Returns the dry salt of a draw, kg.
pub(crate) fn salt_kg(draw: &Draw) -> Spread<f64> {
    draw.salt.map(in_kilograms)
}

/// Returns a spread of m³ as volumes.
pub(crate) fn volumes(spread: Spread<f64>) -> Spread<Volume> {
    spread.map(cubic_metres)
}

/// Returns a spread of kg as masses.
pub(crate) fn masses(spread: Spread<f64>) -> Spread<Mass> {
    spread.map(kilograms)
}
