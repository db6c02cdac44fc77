//! The electrostatic terms of unsymmetrical mixing, K. S. Pitzer, J. Solution Chem. 4, 249 (1975).
//!
//! The integral J is taken from the Chebyshev series of C. E. Harvie (thesis, 1981; coefficients from memory, held
//! against the integral itself in the tests below).

/// Eθ and its derivative by ionic strength for charges one and two.
pub(super) fn unsymmetrical(a_phi: f64, ionic: f64, root: f64) -> (f64, f64) {
    let x = 6.0 * a_phi * root;
    let (j11, d11) = j(x);
    let (j12, d12) = j(2.0 * x);
    let (j22, d22) = j(4.0 * x);
    let theta = 2.0 / (4.0 * ionic) * (j12 - 0.5 * j11 - 0.5 * j22);
    let slope = 2.0 * x * d12 - 0.5 * x * d11 - 0.5 * 4.0 * x * d22;
    (theta, -theta / ionic + 2.0 / (8.0 * ionic * ionic) * slope)
}

/// Chebyshev coefficients of J up to one, and above.
const NEAR: [f64; 21] = [
    1.925_154_014_814_667,
    -0.060_076_477_753_119,
    -0.029_779_077_456_514,
    -0.007_299_499_690_937,
    0.000_388_260_636_404,
    0.000_636_874_599_598,
    0.000_036_583_601_823,
    -0.000_045_036_975_204,
    -0.000_004_537_895_710,
    0.000_002_937_706_971,
    0.000_000_396_566_462,
    -0.000_000_202_099_617,
    -0.000_000_025_267_769,
    0.000_000_013_522_610,
    0.000_000_001_229_405,
    -0.000_000_000_821_969,
    -0.000_000_000_050_847,
    0.000_000_000_046_333,
    0.000_000_000_001_943,
    -0.000_000_000_002_563,
    -0.000_000_000_010_991,
];

const FAR: [f64; 21] = [
    0.628_023_320_520_852,
    0.462_762_985_338_493,
    0.150_044_637_187_895,
    -0.028_796_057_604_906,
    -0.036_552_745_910_311,
    -0.001_668_087_945_272,
    0.006_519_840_398_744,
    0.001_130_378_079_086,
    -0.000_887_171_310_131,
    -0.000_242_107_641_309,
    0.000_087_294_451_594,
    0.000_034_682_122_751,
    -0.000_004_583_768_938,
    -0.000_003_548_684_306,
    -0.000_000_250_453_880,
    0.000_000_216_991_779,
    0.000_000_080_779_570,
    0.000_000_004_558_555,
    -0.000_000_006_944_757,
    -0.000_000_002_849_257,
    0.000_000_000_237_816,
];

/// J(x) = x/4 - 1 + 1/x ∫ (1 - exp(-x/y e^-y)) y² dy, and J'.
fn j(x: f64) -> (f64, f64) {
    let (coefficients, z, dz) = if x <= 1.0 {
        let fifth = x.powf(0.2);
        (&NEAR, 4.0 * fifth - 2.0, 0.8 * fifth / x)
    } else {
        let tenth = x.powf(-0.1);
        (&FAR, (40.0 * tenth - 22.0) / 9.0, -4.0 / 9.0 * tenth / x)
    };
    let (mut b1, mut b2, mut d1, mut d2) = (0.0, 0.0, 0.0, 0.0);
    let (mut b0, mut d0) = (0.0, 0.0);
    let mut b_before = 0.0;
    let mut d_before = 0.0;
    for a in coefficients.iter().rev() {
        b_before = b2;
        d_before = d2;
        b0 = z * b1 - b2 + a;
        d0 = b1 + z * d1 - d2;
        (b2, b1) = (b1, b0);
        (d2, d1) = (d1, d0);
    }
    // After the loop b1 is b0 and b2 is b1; what was b2 before the last step is b2 of the series.
    (0.25 * x - 1.0 + 0.5 * (b0 - b_before), 0.25 + 0.5 * dz * (d0 - d_before))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The integral itself, by Simpson's rule on a fine grid.
    fn integral(x: f64) -> f64 {
        let step = 1e-3;
        let of = |y: f64| if y <= 0.0 { 0.0 } else { (1.0 - (-x / y * (-y).exp()).exp()) * y * y };
        let sum: f64 = (0..40_000)
            .map(|place| {
                let y = step * f64::from(place);
                step / 6.0 * (of(y) + 4.0 * of(y + 0.5 * step) + of(y + step))
            })
            .sum();
        0.25 * x - 1.0 + sum / x
    }

    #[test]
    fn the_series_is_the_integral() {
        for x in [0.05, 0.3, 0.99, 1.01, 3.0, 10.0, 40.0] {
            let (value, slope) = j(x);
            assert!((value - integral(x)).abs() < 2e-7, "J({x}): {value} {}", integral(x));
            let h = 1e-4 * x;
            let by_hand = (integral(x + h) - integral(x - h)) / (2.0 * h);
            assert!((slope - by_hand).abs() < 1e-4, "J'({x}): {slope} {by_hand}");
        }
    }
}
