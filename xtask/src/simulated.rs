//! What can only be proven by drawing many: how often an interval holds the truth, and how plants fare when
//! they are trimmed. The same seeds give the same text.

pub mod coverage;
pub mod judging;
mod plants;
pub mod trimming;
