//! Numbers, words, charts and plans as a person (or another program) reads them.
//!
//! [`words`] holds every text by key, [`display`] the one way a number becomes text; two pages cannot round
//! differently. [`chart`] draws the three signature pictures as SVG; [`plan_text`] and [`plan_document`] tell a plan;
//! [`table`] and [`book_words`] tell the books, for page, print, CSV and spreadsheet alike.

mod balance_words;
pub mod bench_words;
pub mod blend_words;
pub mod book_words;
pub mod calibration;
pub mod chart;
mod chore_words;
pub mod chores;
pub mod correction_words;
mod dates;
pub mod display;
mod event_words;
pub mod plan_document;
pub mod plan_lines;
pub mod plan_text;
pub mod plan_words;
pub mod road_document;
pub mod road_words;
pub mod run_words;
pub mod table;
mod tank_state_words;
mod tank_words;
mod tell;
mod teller;
mod ticket_words;
pub mod words;

pub use display::Display;
pub use teller::Teller;
pub use words::{Language, Words};
