//! The brinewright program
fn main() {}
