//! Depth in a tank to volume, and back.
