//! What is uncertain in flows and measurements: every figure in one place, so that each can be questioned.
//!
//! All are standard uncertainties and our own figures (no source): what a yard that reads its meters and dips with care
//! can expect. [`estimate`](crate::estimate) and the reconciliation of the books use the same.

/// A dip, m.
pub const DIP_M: f64 = 0.005;
/// Density of what was dipped, as a share.
pub const DENSITY: f64 = 0.001;
/// A volume by a meter, each time, as a share and kg.
pub const BY_METER: (f64, f64) = (0.005, 5.0);
/// By the scale, kg.
pub const BY_WEIGHT_KG: f64 = 14.0;
/// By the marks of a truck's tank, each time, as a share and kg.
pub const BY_MARKS: (f64, f64) = (0.03, 20.0);
/// A making run's volume, each time, as a share.
pub const MAKING: f64 = 0.01;
/// The least that a batch's own interval is believed, as a share.
const BATCH_LEAST: f64 = 0.003;
/// A transfer, each time, as a share.
pub const TRANSFER: f64 = 0.015;
/// Something spilled, each time, as a share.
pub const SPILL: f64 = 0.30;
/// Sludge taken out, each time, as a share.
pub const SLUDGE: f64 = 0.20;
/// Anything else that comes in, each time, as a share.
pub const OTHER: f64 = 0.01;
/// A total against the loads it counted: rounding of each, kg.
pub const ROUNDING_KG: f64 = 5.0;
/// A total as read, kg.
pub const TOTAL_KG: f64 = 20.0;
/// Strength of a reading that states no interval of its own, per cent by mass.
pub const READING_PCT: f64 = 0.15;
/// Strength of what flows by the book, per cent by mass.
pub const FLOW_PCT: f64 = 0.10;

/// Error that the volumes of all making runs share, as a share. (For a meter the yard file says.)
pub const RUNS_ALIKE: f64 = 0.01;
/// Error that a tank's strapping table has at every depth, as a share.
pub const TABLE_ALIKE: f64 = 0.005;
/// Error that the marks of a truck's tank share, as a share.
pub const MARKS_ALIKE: f64 = 0.02;
/// Error that all masses of salt used share, as a share.
pub const SALT_ALIKE: f64 = 0.02;

/// Part of a reading's uncertainty that all readings of a yard share (the same zero, the same scale, the same hand),
/// per cent by mass: more readings do not take it off.
pub(crate) const READINGS_ALIKE_PCT: f64 = 0.06;
/// A sample from the top or the bottom of a tank beside what the whole holds, per cent by mass.
pub(crate) const LAYERS_PCT: f64 = 0.3;
/// Density of what was dipped where no temperature was taken: brine between 20 and 60 °F differs by so much, as a
/// share.
pub(crate) const DENSITY_NO_TEMPERATURE: f64 = 0.003;
/// A level sensor, as a share of the full tank.
pub(crate) const LEVEL_SENSOR: f64 = 0.01;
/// Volume of an inventory adjustment that nothing else supports, as a share.
pub(crate) const AGREED: f64 = 0.01;
/// Strength of an inventory adjustment that nothing else supports, per cent by mass.
pub(crate) const AGREED_PCT: f64 = 0.15;
/// Volume of a tank that was never counted, as a share of what it may hold.
pub(crate) const UNCOUNTED: f64 = 0.5;
/// Strength of a tank that was never counted, per cent by mass.
pub(crate) const UNCOUNTED_PCT: f64 = 3.0;

/// Standard uncertainty of a brine run's volume, as a share of it: from the interval in its entry, at least 0.3 %, else
/// [`MAKING`].
pub fn batch(run: &event::MakingRun) -> f64 {
    run.volume_uncertainty_pct.map_or(MAKING, |interval| (interval / 196.0).max(BATCH_LEAST))
}

/// Standard uncertainty of the density of what was dipped, as a share of it; more where no temperature was taken.
pub fn density_of_dip(has_temperature: bool) -> f64 {
    if has_temperature { DENSITY } else { DENSITY.hypot(DENSITY_NO_TEMPERATURE) }
}
