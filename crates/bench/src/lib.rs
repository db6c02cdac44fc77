//! Readings to what is true about a brine
