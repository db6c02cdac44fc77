//! The web console
