//! The sensors' noise: numbers that depend on seed and count alone, so that a run can be repeated.

/// The odd number of G. L. Steele, D. Lea and C. H. Flood's SplitMix (OOPSLA 2014), from memory.
pub(super) const MIX: u64 = 0x9e37_79b9_7f4a_7c15;

/// Their mixing function: neighboring numbers give unrelated results.
pub(super) fn mixed(number: u64) -> u64 {
    let mut z = number.wrapping_add(MIX);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A standard normal number from a mixed one (G. E. P. Box and M. E. Muller, Ann. Math. Stat. 29 (1958) 610).
pub(super) fn bell(number: u64) -> f64 {
    let share = |bits: u64| ((bits >> 11) as f64 + 0.5) / (1_u64 << 53) as f64;
    let (radius, angle) = (share(number), share(mixed(number ^ MIX)));
    (-2.0 * radius.ln()).sqrt() * (std::f64::consts::TAU * angle).cos()
}
