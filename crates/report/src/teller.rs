//! Who is told: in which language, in what units, of which yard. What there is to tell stands in the `*_words` files.

use site::Yard;

use crate::{Display, Words};

/// Formats what a yard has to tell for one language and unit system.
#[derive(Debug, Clone, Copy)]
pub struct Teller<'a> {
    /// Texts of the reader's language.
    pub words: &'a Words,
    /// Formats numbers and times in the reader's units.
    pub display: &'a Display,
    /// The yard, for the names of its tanks, trucks and routes.
    pub yard: &'a Yard,
}
