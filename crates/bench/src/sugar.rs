//! What a sugar refractometer adds by itself for temperature.

use crate::error::{Error, check};

/// Temperatures of the rows, °C.
const CELSIUS: [f64; 5] = [10.0, 15.0, 20.0, 25.0, 30.0];
/// The temperatures that it is made for, coldest and warmest, °C.
pub const COMPENSATED: [f64; 2] = [CELSIUS[0], CELSIUS[4]];
/// Scale readings of the columns, degrees Brix.
const BRIX: [f64; 7] = [0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0];
/// Degrees added to a reading made at a temperature, to have it as at 20 °C.
const ADDED: [[f64; 7]; 5] = [
    [-0.50, -0.54, -0.58, -0.61, -0.64, -0.66, -0.68],
    [-0.27, -0.29, -0.31, -0.33, -0.34, -0.34, -0.35],
    [0.0; 7],
    [0.33, 0.35, 0.36, 0.37, 0.38, 0.38, 0.39],
    [0.72, 0.74, 0.77, 0.78, 0.79, 0.80, 0.80],
];

/// Degrees Brix that automatic temperature compensation adds to a raw reading.
///
/// # Equation
/// Straight lines between the points of the table; above 30 degrees as at 30.
///
/// # Range
/// 10…30 °C; 0 degrees Brix and more.
///
/// # Error
/// 0.03 degrees between the published tables. That an instrument follows them is its maker's word.
///
/// # Source
/// International temperature correction table of 1936 for sugar refractometers, as printed in a GOST method
/// (rows 10 and 15 °C seen); rows 25 and 30 °C from memory. OIV-MA-AS2-02, table I, has −0.67 and −0.35 at 25 degrees.
///
/// # Errors
/// [`Error::Compensation`] and [`Error::Value`] outside the range.
///
/// # Examples
/// ```
/// use bench::sugar::compensation;
/// assert!((compensation(25.0, 10.0)? + 0.67).abs() < 0.02); // OIV, 10 °C
/// assert!(compensation(25.0, 5.0).is_err());
/// # Ok::<(), bench::Error>(())
/// ```
pub fn compensation(brix: f64, celsius: f64) -> Result<f64, Error> {
    let (low, high) = (CELSIUS[0], CELSIUS[CELSIUS.len() - 1]);
    if !(low..=high).contains(&celsius) {
        return Err(Error::Compensation { celsius, low, high });
    }
    check("bench.quantity.brix", brix, "bench.accepted.from_zero", 0.0 <= brix)?;
    let (row, down) = place(&CELSIUS, celsius);
    let (column, across) = place(&BRIX, brix.min(BRIX[BRIX.len() - 1]));
    let along = |row: usize| ADDED[row][column] * (1.0 - across) + ADDED[row][column + 1] * across;
    Ok(along(row) * (1.0 - down) + along(row + 1) * down)
}

/// The stretch of an axis that a value lies in, and how far along it.
fn place(axis: &[f64], value: f64) -> (usize, f64) {
    let at = axis.partition_point(|edge| *edge <= value).clamp(1, axis.len() - 1) - 1;
    (at, (value - axis[at]) / (axis[at + 1] - axis[at]))
}
