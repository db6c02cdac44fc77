//! Treatments, published rates and what liquid may not do
