//! Trim advice on plants drawn by chance.

#[allow(dead_code, reason = "written, and committed, before the advice it will judge")]
pub mod plants;
