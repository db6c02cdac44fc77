//! Where the brine, the salt, the chloride and the money went in a stretch of time.
//!
//! Every line is a sum over the changes of the book ([`yard::stock::Walk`]), so opening, changes and closing balance
//! by construction, and a report cannot say anything the ledger does not.

pub mod metering;
pub mod receiving;
pub mod reconcile;
pub mod trace;

mod account;
mod journal;
mod money;
mod parcels;

pub use account::{
    Accounts, Line, LiquidAccount, Override, Period, RouteAccount, SaltAccount, Samples, Saved, Short,
    WatershedAccount,
};
pub use journal::{Journal, WholeLedger};
pub use money::{Money, bill, making_usd_per_m3};
