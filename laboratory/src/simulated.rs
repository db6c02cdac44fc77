//! What can only be proven by drawing many: how often an interval holds the truth, and how plants fare when
//! they are trimmed. The same seeds give the same text.

pub mod coverage;
pub mod estimates;
pub mod judging;
mod plants;
pub mod seasons;
pub mod trimming;

/// The 95 % interval of a share, per cent (Wilson 1927).
fn wilson(part: usize, all: usize) -> (f64, f64) {
    let (n, z) = (all.max(1) as f64, 1.96f64);
    let p = part as f64 / n;
    let middle = (p + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    (100.0 * (middle - half).max(0.0), 100.0 * (middle + half).min(1.0))
}
