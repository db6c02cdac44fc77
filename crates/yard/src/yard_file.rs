//! Reads `yard.toml`.
