//! What each tank holds: the book's flows and all evidence, each weighed by its own uncertainty.
//!
//! The book is the sum of what was entered, and evidence never moves it. The estimate starts where the book starts,
//! moves with every flow as the book does, and is drawn by every dip, reading and level sensor toward what was seen, as
//! far as that is better known. Without evidence the two are the same. People act on the estimate; the book is read in
//! the books.
//!
//! Evidence that lies further from what is expected than chance allows moves nothing by itself: it is kept beside the
//! estimate as what the tank would hold if it were right, and a second look is asked for. Two that agree are believed.
//! Salt or water put in on the strength of such a sample is a person's word for it.
//!
//! [`kalman`] holds the algebra, the state of one tank is in `state.rs`, the figures are in `uncertain.rs`.

pub mod kalman;

mod events;
mod sample;
mod seen;
mod standing;
mod state;
mod tank;

pub use events::Estimates;
pub use standing::{BookApart, Standing};
pub use tank::{Apart, Doubted, GATE, Level, Mismatch, SampleVerdict, TankEstimate};
