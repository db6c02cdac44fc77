//! One module a page.

pub(crate) mod alerts;
pub(crate) mod bench;
pub(crate) mod blend;
pub(crate) mod books;
pub(crate) mod device;
pub(crate) mod due;
pub(crate) mod entry;
pub(crate) mod jar_test;
pub(crate) mod ledger;
pub(crate) mod live;
pub(crate) mod load;
pub(crate) mod look;
pub(crate) mod meters;
pub(crate) mod offline;
pub(crate) mod parts;
pub(crate) mod people;
pub(crate) mod practice;
pub(crate) mod put_right;
pub(crate) mod run;
pub(crate) mod salt;
pub(crate) mod sprayers;
pub(crate) mod storm;
pub(crate) mod tanks;
pub(crate) mod today;
pub(crate) mod trainer;
pub(crate) mod trust;
