//! Where a function passes zero, and up to where something holds: the search that every inverse of the workspace uses.

use roots::{Convergency, find_root_regula_falsi};

/// More rounds than any smooth curve takes; a tip of a tank, where volume is the cube of depth, takes the most.
const MOST_ROUNDS: usize = 200;
/// Newton's steps on a smooth curve; three or four are used.
const NEWTON_STEPS: usize = 12;

/// Where a function passes zero between two points whose values are known; where they have the same sign, the point
/// whose value is nearer zero.
///
/// # Equation
/// The rule of false position in its Illinois variant (an end that stays twice counts for half).
///
/// # Range
/// Every function without a jump; one with a jump over zero gives the place of the jump.
///
/// # Error
/// The root lies in an interval of `within` around the answer. On a smooth curve the answer, the last chord's, is
/// nearer by far.
///
/// # Source
/// M. Dowell and P. Jarratt, BIT 11 (1971) 168, doi:10.1007/BF01934364.
///
/// # Examples
/// ```
/// use chemistry::root::zero;
/// let square = |x: f64| x * x - 2.0;
/// assert!((zero(square, (0.0, square(0.0)), (2.0, square(2.0)), 1e-9) - 2.0_f64.sqrt()).abs() < 1e-12);
/// assert!((zero(square, (2.0, square(2.0)), (3.0, square(3.0)), 1e-9) - 2.0).abs() < 1e-12, "none between");
/// ```
pub fn zero(mut of: impl FnMut(f64) -> f64, a: (f64, f64), b: (f64, f64), within: f64) -> f64 {
    let (low, high) = if a.0 <= b.0 { (a, b) } else { (b, a) };
    let mut last = if low.1.abs() <= high.1.abs() { low.0 } else { high.0 };
    // The finder asks for the two ends first.
    let mut ends = [low.1, high.1].into_iter();
    let asked = |x: f64| {
        ends.next().unwrap_or_else(|| {
            last = x;
            of(x)
        })
    };
    find_root_regula_falsi(low.0, high.0, asked, &mut Narrowed { within }).unwrap_or(last)
}

/// Where a function whose slope is known passes zero, from a guess, between two limits.
///
/// # Equation
/// Newton's: x less value over slope.
///
/// # Range
/// Functions that rise or fall all the way between the limits, bent to one side.
///
/// # Error
/// Of the order of the square of `within`, at which the last step is taken.
///
/// # Source
/// I. Newton, Method of Fluxions, 1736; any text on numerical analysis.
///
/// # Examples
/// ```
/// use chemistry::root::newton;
/// let root = newton(|x| (x * x - 2.0, 2.0 * x), 1.0, (0.0, 2.0), 1e-9);
/// assert!((root - 2.0_f64.sqrt()).abs() < 1e-15);
/// ```
pub fn newton(
    mut value_and_slope: impl FnMut(f64) -> (f64, f64),
    guess: f64,
    (low, high): (f64, f64),
    within: f64,
) -> f64 {
    let mut x = guess;
    for _ in 0..NEWTON_STEPS {
        let (value, slope) = value_and_slope(x);
        let step = value / slope;
        x = (x - step).clamp(low, high);
        if step.abs() < within {
            break;
        }
    }
    x
}

/// Up to where something holds that holds at one end and not at the other; where a test says yes or no, and not by how
/// much.
///
/// # Equation
/// Halving. Of several places where the answer turns, one is found.
///
/// # Range
/// Every test. It is not evaluated at the two ends.
///
/// # Error
/// At the answer it holds; `within` further it does not. With a `within` of zero, as near as numbers go.
///
/// # Source
/// Derived here.
///
/// # Examples
/// ```
/// use chemistry::root::edge;
/// let found = edge(|x| x * x < 2.0, 0.0, 2.0, 1e-9);
/// assert!(found * found < 2.0 && (found - 2.0_f64.sqrt()).abs() < 1e-9);
/// ```
pub fn edge(mut holds: impl FnMut(f64) -> bool, yes: f64, no: f64, within: f64) -> f64 {
    let (mut yes, mut no) = (yes, no);
    while (no - yes).abs() > within {
        let middle = 0.5 * (yes + no);
        if !(yes.min(no) < middle && middle < yes.max(no)) {
            break;
        }
        if holds(middle) { yes = middle } else { no = middle }
    }
    yes
}

/// When the finder may stop.
struct Narrowed {
    within: f64,
}

impl Convergency<f64> for Narrowed {
    fn is_root_found(&mut self, value: f64) -> bool {
        value.abs() < f64::MIN_POSITIVE
    }

    fn is_converged(&mut self, low: f64, high: f64) -> bool {
        (high - low).abs() < self.within
    }

    fn is_iteration_limit_reached(&mut self, rounds: usize) -> bool {
        rounds >= MOST_ROUNDS
    }
}

#[cfg(test)]
mod tests {
    use super::{edge, zero};

    /// How often a function was evaluated between its ends, and how far off the answer is.
    fn asked(of: impl Fn(f64) -> f64, low: f64, high: f64, root: f64) -> (usize, f64) {
        let mut count = 0;
        let counted = |x| {
            count += 1;
            of(x)
        };
        let found = zero(counted, (low, of(low)), (high, of(high)), 1e-12);
        (count, (found - root).abs())
    }

    #[test]
    fn smooth_curves_take_few_rounds_and_bad_ones_come_to_an_end() {
        let (rounds, off) = asked(|x| x.exp() - 2.0, -5.0, 5.0, 2.0_f64.ln());
        assert!(rounds <= 20 && off < 1e-14, "{rounds}, {off:e}");
        // A full cone's tip: the root lies a ten-thousandth from the end of a cube.
        let (rounds, off) = asked(|x| x.powi(3) - 1e-12, 0.0, 1.0, 1e-4);
        assert!(rounds <= 60 && off < 1e-12, "{rounds}, {off:e}");
        // Upright where it passes zero, and with a jump there.
        let (rounds, off) = asked(|x: f64| (x - 0.3).cbrt(), 0.0, 1.0, 0.3);
        assert!(rounds <= 200 && off < 1e-6, "{rounds}, {off:e}");
        let (_, off) = asked(|x| if x < 0.3 { -1.0 } else { 5.0 }, 0.0, 1.0, 0.3);
        assert!(off < 1e-6, "{off:e}");
    }

    #[test]
    fn ends_may_come_in_any_order_and_one_may_be_the_root() {
        let line = |x: f64| 3.0 - x;
        for (a, b) in [(0.0, 5.0), (5.0, 0.0), (3.0, 5.0), (0.0, 3.0)] {
            assert!((zero(line, (a, line(a)), (b, line(b)), 1e-9) - 3.0).abs() < 1e-12);
        }
    }

    #[test]
    fn an_edge_is_on_the_side_where_it_holds_in_both_directions() {
        let up = edge(|x| x < 0.3, 0.0, 1.0, 0.0);
        assert!(up < 0.3 && up.next_up() >= 0.3);
        let down = edge(|x| x > 0.3, 1.0, 0.0, 0.0);
        assert!(down > 0.3 && down.next_down() <= 0.3);
    }
}
