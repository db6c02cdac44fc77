//! Brine runs: as late as they can start with every gallon ready in time, else as early as possible.
//!
//! A backward pass over quarter hours delays making until just before it is needed. Demand it cannot serve in time is a
//! shortage, and then a forward pass makes what it can from now on. Salt on hand, space in the tanks, crew hours,
//! start-up and settling are the limits. Simple on purpose; [`crate::Balance`] checks every plan it gives.

use jiff::{SignedDuration, Timestamp, tz::TimeZone};
use quantity::{Mass, Volume, VolumeRate, cubic_metres, in_cubic_metres, in_hours};
use site::{Crew, Plant};

use crate::demand::Bins;

/// Pause between runs, h, below which they are joined: starting up again costs more than making a little early. Program
/// default.
const JOIN_HOURS: f64 = 12.0;
/// Smallest volume that counts, m³: a tenth of a liter.
const SPECK_M3: f64 = 1e-4;

/// What limits brine making.
#[derive(Debug, Clone)]
pub struct Limits<'a> {
    /// The yard's plant: rates, start-up and settling times.
    pub plant: &'a Plant,
    /// Hours in which the crew can run the plant.
    pub crew: &'a Crew,
    /// The yard's time zone, for crew hours.
    pub zone: &'a TimeZone,
    /// The present; nothing is made before it.
    pub now: Timestamp,
    /// Making rate at today's water temperature.
    pub rate: VolumeRate,
    /// Usable brine on hand now.
    pub in_hand: Volume,
    /// Space left for brine in the tanks now.
    pub room: Volume,
    /// Most brine that the salt on hand can make.
    pub salt_allows: Volume,
}

/// One brine run of the schedule.
#[derive(Debug, Clone, PartialEq)]
pub struct MakingRun {
    /// Latest time to switch the plant on.
    pub latest_start: Timestamp,
    /// Time the first brine comes out.
    pub making_from: Timestamp,
    /// Time the last brine comes out.
    pub making_to: Timestamp,
    /// Time the brine is settled, tested and free to load.
    pub ready: Timestamp,
    /// Brine made, at 60 °F.
    pub volume: Volume,
}

/// Brine runs, and how the stock goes with them.
#[derive(Debug, Clone)]
pub struct Schedule {
    /// Runs, in order of time.
    pub runs: Vec<MakingRun>,
    /// Brine ready by the start of each bin, beyond what is on hand, m³.
    pub ready_by: Vec<f64>,
    /// Usable brine at the end of each bin, m³; negative when short.
    pub stock: Vec<f64>,
    /// The same if no brine is made, m³.
    pub stock_without: Vec<f64>,
    /// What limits making, where brine runs short.
    pub bound_by: Option<Bound>,
}

/// What keeps the yard from making enough in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// Salt on hand.
    Salt,
    /// Space left in the tanks.
    Room,
    /// Time: plant rate and crew hours.
    Time,
}

/// Schedules brine runs for a cumulative need, m³ at 60 °F drawn by the end of each bin.
///
/// Runs are accurate to a bin, and volumes to a tenth of a liter.
pub(crate) fn schedule(bins: &Bins, need: &[f64], limits: &Limits<'_>) -> Schedule {
    let in_hand = in_cubic_metres(limits.in_hand);
    let step_hours = bins.step.as_secs() as f64 / 3600.0;
    let settle = (in_hours(limits.plant.settle_and_test) / step_hours).ceil() as usize;
    let can = capacity(bins, limits, step_hours);
    // Brine beyond stock that must be ready by the start of each bin; salt caps it.
    let salt = in_cubic_metres(limits.salt_allows).max(0.0);
    let wanted: Vec<f64> = need.iter().map(|n| (n - in_hand).max(0.0)).collect();
    let must: Vec<f64> = wanted.iter().map(|w| w.min(salt)).collect();
    let salt_binds = wanted.last().copied().unwrap_or(0.0) > salt + SPECK_M3;

    let (mut made, late) = backward(&must, &can, settle);
    if late > SPECK_M3 {
        made = forward(must.last().copied().unwrap_or(0.0), &can);
    }
    let room = in_cubic_metres(limits.room);
    let mut joined = join(&made, &can, (JOIN_HOURS / step_hours) as usize);
    if !fit_into_room(&mut joined, need, in_hand, room) {
        made = joined;
    }
    let room_binds = fit_into_room(&mut made, need, in_hand, room);

    let ready_by: Vec<f64> =
        (0..bins.count).map(|bin| made.iter().take(bin.saturating_sub(settle)).sum::<f64>()).collect();
    let stock: Vec<f64> = (0..bins.count).map(|bin| in_hand + ready_by[bin] - need[bin]).collect();
    let short = stock.iter().any(|s| *s < -SPECK_M3);
    let bound_by = short.then_some(if salt_binds && late <= SPECK_M3 {
        Bound::Salt
    } else if room_binds {
        Bound::Room
    } else {
        Bound::Time
    });
    Schedule {
        runs: runs(bins, &made, &can, limits),
        ready_by,
        stock_without: need.iter().map(|n| in_hand - n).collect(),
        stock,
        bound_by,
    }
}

/// Returns the most brine each bin can make: none without crew, and none during start-up after a break of the crew.
fn capacity(bins: &Bins, limits: &Limits<'_>, step_hours: f64) -> Vec<f64> {
    let per_bin = in_cubic_metres(limits.rate * quantity::hours(step_hours));
    let start_up = (in_hours(limits.plant.start_up) / step_hours).ceil() as usize;
    let manned: Vec<bool> = (0..bins.count)
        .map(|bin| {
            if bins.at(bin) < limits.now {
                return false;
            }
            let hour = bins.at(bin).to_zoned_datetime(limits.zone.clone()).hour();
            within(hour, limits.crew.making_from_hour, limits.crew.making_to_hour)
        })
        .collect();
    (0..bins.count)
        .map(|bin| {
            let warm = bin >= start_up && manned[bin - start_up..=bin].iter().all(|m| *m);
            if warm { per_bin } else { 0.0 }
        })
        .collect()
}

/// Whether an hour of the day is in `from` (included) to `to` (excluded), which may run past midnight.
pub(crate) fn within(hour: i8, from: i8, to: i8) -> bool {
    if from < to { from <= hour && hour < to } else { from == to || from <= hour || hour < to }
}

/// Makes as late as possible. Returns what is made in each bin and what could not be made in time.
fn backward(must: &[f64], can: &[f64], settle: usize) -> (Vec<f64>, f64) {
    let mut made = vec![0.0; can.len()];
    let mut outstanding = 0.0;
    for bin in (0..can.len()).rev() {
        // What is made in this bin is ready at the start of bin + 1 + settle.
        let serves = bin + 1 + settle;
        if serves < must.len() {
            outstanding += must[serves] - must[serves - 1];
        }
        made[bin] = f64::min(can[bin], outstanding);
        outstanding -= made[bin];
    }
    let before = must.get(settle.min(must.len().saturating_sub(1))).copied().unwrap_or(0.0);
    (made, outstanding + before)
}

/// Joins runs with short pauses between them into one: the brine of the later ones is made together with the first,
/// sooner than needed, and settles with it; what the plant cannot make there in one stretch follows at once. Nothing is
/// made later than before.
fn join(made: &[f64], can: &[f64], pause: usize) -> Vec<f64> {
    let mut joined = made.to_vec();
    let mut bin = 0;
    while bin < joined.len() {
        if joined[bin] <= SPECK_M3 {
            bin += 1;
            continue;
        }
        let first = bin;
        let end = (first..joined.len()).find(|b| joined[*b] <= SPECK_M3).unwrap_or(joined.len());
        // Take up what follows with no pause longer than that.
        let (mut last, mut wanted) = (end, 0.0);
        while let Some(next) = (last..joined.len().min(last + pause)).find(|b| joined[*b] > SPECK_M3) {
            wanted += std::mem::take(&mut joined[next]);
            last = next + 1;
        }
        let before = (0..=first).rev().take_while(|b| can[*b] > SPECK_M3);
        for slot in before.chain(end..last) {
            let part = (can[slot] - joined[slot]).clamp(0.0, wanted);
            joined[slot] += part;
            wanted -= part;
        }
        // What rounding leaves over goes to the first bin.
        joined[first] += wanted;
        bin = last;
    }
    joined
}

/// Makes as early as possible.
fn forward(total: f64, can: &[f64]) -> Vec<f64> {
    let mut left = total;
    can.iter()
        .map(|can| {
            let made = f64::min(*can, left);
            left -= made;
            made
        })
        .collect()
}

/// Cuts what the tanks cannot hold. Returns whether anything was cut.
fn fit_into_room(made: &mut [f64], need: &[f64], in_hand: f64, room: f64) -> bool {
    let mut cut = false;
    let mut total = 0.0;
    for (bin, made) in made.iter_mut().enumerate() {
        // Drawn so far leaves room, as far as there was something to draw.
        let drawn = if bin > 0 { need[bin - 1].min(in_hand + total) } else { 0.0 };
        let most = (room + drawn - total).max(0.0);
        if most < *made {
            cut |= *made - most > SPECK_M3;
            *made = most;
        }
        total += *made;
    }
    cut
}

/// Joins bins into runs. A run whose first bin is not full starts late in that bin, so that it is one stretch.
fn runs(bins: &Bins, made: &[f64], can: &[f64], limits: &Limits<'_>) -> Vec<MakingRun> {
    let mut runs: Vec<MakingRun> = Vec::new();
    let per_second = limits.rate;
    let step_hours = bins.step.as_secs() as f64 / 3600.0;
    let mut bin = 0;
    while bin < made.len() {
        if made[bin] <= SPECK_M3 {
            bin += 1;
            continue;
        }
        let first = bin;
        let mut volume = 0.0;
        while bin < made.len() && made[bin] > SPECK_M3 {
            volume += made[bin];
            bin += 1;
        }
        // A first bin that is not full is made at its end, a last one at its start: one stretch without a stop.
        let share = if can[first] > 0.0 { (made[first] / can[first]).clamp(0.0, 1.0) } else { 1.0 };
        let making_from = bins.at(first + 1) - seconds(share * step_hours);
        let making_to = making_from + seconds(in_hours(cubic_metres(volume) / per_second));
        // A plant that has only just stopped need not start up again.
        let start_up = making_from - seconds(in_hours(limits.plant.start_up));
        let latest_start = runs.last().map_or(start_up, |before| start_up.max(before.making_to));
        runs.push(MakingRun {
            latest_start,
            making_from,
            making_to,
            ready: making_to + seconds(in_hours(limits.plant.settle_and_test)),
            volume: cubic_metres(volume),
        });
    }
    runs
}

fn seconds(hours: f64) -> SignedDuration {
    SignedDuration::from_secs((hours * 3600.0).round() as i64)
}

/// Returns the brine that an amount of rock salt makes, by the sodium chloride in each.
pub(crate) fn salt_allows(rock_salt: Mass, content: f64, per_volume: quantity::MassDensity) -> Volume {
    let salt = rock_salt * content;
    if salt > quantity::kilograms(0.0) { salt / per_volume } else { cubic_metres(0.0) }
}
