//! Demand, production and transfer schedule, cover
