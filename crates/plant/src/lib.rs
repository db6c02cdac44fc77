//! How a brine plant makes, and how fast
