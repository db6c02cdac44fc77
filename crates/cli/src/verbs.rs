//! One module a verb.

pub mod backup;
pub mod blend;
pub mod calibrate;
pub mod completions;
pub mod correct;
pub mod demo;
pub mod doctor;
pub mod impurities;
pub mod ledger;
pub mod measure;
pub mod phase_diagram;
pub mod plan;
pub mod properties;
pub mod report;
pub mod road;
pub mod serve;
pub mod simulate;
pub mod strap;
pub mod tls;
pub mod treat;
pub mod trim;
pub mod user;
pub mod weather;
