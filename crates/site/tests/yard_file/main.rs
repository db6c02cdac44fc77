//! The yard file: what it accepts, and how it refuses.

mod bench;
mod defaults;
mod problems;
mod products;
mod rules;
mod small;
mod tanks;
