//! WIP
