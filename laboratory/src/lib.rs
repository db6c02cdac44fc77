//! Where the program's numbers come from, and how good they are. `cargo xtask fit`, `validation`, `seasons` and the
//! exam call in here; nothing of it is in the program.
//!
//! [`fit`] finds the coefficients of the chemistry in printed data, [`simulated`] draws plants and seasons by chance to
//! test what no printed table can, and [`validation`] writes VALIDATION.md from both.

pub mod fit;
mod records;
pub mod roads;
pub mod simulated;
pub mod validation;
pub mod winter;
