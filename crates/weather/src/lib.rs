//! Forecasts and observations in open formats, hour by hour
