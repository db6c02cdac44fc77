//! A yard as its file describes it: plain data, every quantity typed.
//!
//! [`yard_file`] reads `yard.toml`, with everything wrong at once; [`strapping`] is depth in a tank to volume, and
//! back; [`points`] what can be read over the network; [`people`] the rules for names, passwords and who may do what;
//! [`chores`] what is to be done, and when.
//!
//! ```
//! use site::yard_file::read_yard;
//! let yard = read_yard(&site::yard_file::sample_yard_file(), "yard.toml").expect("the sample is a yard");
//! assert_eq!((yard.name.as_str(), yard.tanks.len()), ("Alder Creek yard", 3));
//! // What is wrong with a file is said all at once, line by line.
//! let problems = read_yard("format = 1\n[plant]\nmaking_rate_gal_h = -5\n", "yard.toml").unwrap_err();
//! let wrong = problems.iter().find(|one| one.key == "plant.making_rate_gal_h").expect("named");
//! assert_eq!((wrong.line, wrong.what.id()), (3, "site.file.above_zero"));
//! ```

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
    Axle, Instrument, Insulation, Loading, Meter, Metered, Opening, Route, RouteClass, Segment, Tank, Truck,
    Watershed,
};
pub use rules::{
    Accounts, Agency, Alerts, Bench, ChoreChange, Contact, CoverFor, Crew, Mail, MailSecurity, PinHolds,
    Policy, Receiving, Signing, Trim, UnitSystem,
};
pub use yard::Yard;
