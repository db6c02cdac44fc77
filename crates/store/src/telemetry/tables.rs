//! Tables of the telemetry file, how their rows are sealed, and what the store of them says.

use std::io::ErrorKind;

use jiff::Timestamp;
use message::message;
use redb::{ReadableTable, TableDefinition, TableHandle, WriteTransaction};

use super::block;
use crate::StoreError;
use crate::error::outside;

/// Channel, time of the last sample in ms, a number that tells two such apart, and the piece.
pub(super) type Key = (u32, i64, u64, u16);

pub(super) type Tails = TableDefinition<'static, (u32, u64), &'static [u8]>;

pub(super) type Blocks = TableDefinition<'static, Key, (i64, &'static [u8])>;

pub(super) const CHANNELS: TableDefinition<&str, u32> = TableDefinition::new("channels");

/// What was taken since the last block, by channel and save.
pub(super) const TAILS: Tails = TableDefinition::new("sealed tails");

/// Samples: time of the first in ms, then the block.
pub(super) const BLOCKS: Blocks = TableDefinition::new("sealed blocks");

pub(super) const MINUTES: Blocks = TableDefinition::new("sealed minutes");

pub(super) const QUARTERS: Blocks = TableDefinition::new("sealed quarters");

/// The same of files made before rows were sealed, and where they go.
const OLD_TAILS: Tails = TableDefinition::new("tails");

const OLD: [(Blocks, Blocks); 3] = [
    (TableDefinition::new("blocks"), BLOCKS),
    (TableDefinition::new("minutes"), MINUTES),
    (TableDefinition::new("quarters"), QUARTERS),
];

/// Since when samples are kept, ms, by channel.
pub(super) const SINCE: TableDefinition<u32, i64> = TableDefinition::new("since");

/// What a row is, to be sealed with its bytes: one under another key is noticed.
pub(super) fn label((channel, last, number, piece): Key, first: i64) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(30);
    bytes.extend(channel.to_le_bytes());
    bytes.extend(last.to_le_bytes());
    bytes.extend(number.to_le_bytes());
    bytes.extend(piece.to_le_bytes());
    bytes.extend(first.to_le_bytes());
    bytes
}

pub(super) fn tail_label((channel, save): (u32, u64)) -> Vec<u8> {
    [channel.to_le_bytes().as_slice(), &save.to_le_bytes()].concat()
}

/// Seals the rows of a file that was made before rows were sealed.
pub(super) fn seal_old(writing: &WriteTransaction) -> Result<(), StoreError> {
    let known: Vec<String> = writing.list_tables().map_err(said)?.map(|table| table.name().into()).collect();
    if known.iter().any(|name| name == OLD_TAILS.name()) {
        let mut tails = writing.open_table(TAILS).map_err(said)?;
        for row in writing.open_table(OLD_TAILS).map_err(said)?.iter().map_err(said)? {
            let (key, bytes) = row.map_err(said)?;
            let bytes = block::sealed(&tail_label(key.value()), bytes.value());
            tails.insert(key.value(), bytes.as_slice()).map_err(said)?;
        }
    }
    for (old, new) in OLD.into_iter().filter(|(old, _)| known.iter().any(|name| name == old.name())) {
        let mut sealed = writing.open_table(new).map_err(said)?;
        for row in writing.open_table(old).map_err(said)?.iter().map_err(said)? {
            let (key, value) = row.map_err(said)?;
            let (first, bytes) = value.value();
            let bytes = block::sealed(&label(key.value(), first), bytes);
            sealed.insert(key.value(), (first, bytes.as_slice())).map_err(said)?;
        }
    }
    for old in OLD.map(|(old, _)| old) {
        writing.delete_table(old).map_err(said)?;
    }
    writing.delete_table(OLD_TAILS).map_err(said)?;
    Ok(())
}

pub(super) fn time(millisecond: i64) -> Result<Timestamp, StoreError> {
    Timestamp::from_millisecond(millisecond)
        .map_err(|error| StoreError::Database(message!("store.telemetry.time", why = outside(error))))
}

pub(super) fn said(error: impl Into<redb::Error>) -> StoreError {
    match error.into() {
        redb::Error::Io(error) if error.kind() == ErrorKind::StorageFull => StoreError::DiskFull,
        error => StoreError::Database(message!("store.telemetry.engine", why = outside(error))),
    }
}
