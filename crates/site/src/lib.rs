//! A yard as its file describes it: plain data, every quantity typed.
//!
//! [`yard_file`] reads `yard.toml`, with everything wrong at once; [`strapping`] is depth in a tank to volume, and
//! back; [`points`] what can be read over the network; [`people`] the rules for names, passwords and who may do what;
//! [`chores`] what is to be done, and when.

pub mod chores;
pub mod people;
pub mod points;
pub mod strapping;
pub mod yard_file;

mod liquids;
mod places;
mod rules;
mod yard;

pub use liquids::{FreezingRow, LiquidBase, Plant, Product, ProductKind, PutRight, Salt, Spec, SpecFor};
pub use places::{
    Axle, Instrument, Insulation, Loading, Meter, Metered, Opening, Route, RouteClass, Tank, Truck, Watershed,
};
pub use rules::{
    ALERT_KINDS, Accounts, Agency, Alerts, Bench, ChoreChange, Contact, CoverFor, Crew, Mail, MailSecurity,
    PinHolds, Policy, Receiving, Signing, Trim, UnitSystem,
};
pub use yard::Yard;
