//! Who is told: in which language, in what units, of which yard. What there is to tell stands in the `*_words` files.

use site::Yard;

use crate::{Display, Words};

/// Formats what a yard has to tell for one language and unit system.
#[derive(Debug, Clone, Copy)]
pub struct Teller<'a> {
    /// Texts.
    pub words: &'a Words,
    /// Numbers.
    pub display: &'a Display,
    /// The yard.
    pub yard: &'a Yard,
}
