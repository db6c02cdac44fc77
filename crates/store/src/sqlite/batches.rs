//! Rows read in batches, so that one thread can decode them while another reads on.

use std::sync::mpsc::SyncSender;

use rusqlite::Connection;

use super::rows::version_of;
use crate::RowText;

/// Rows handed over to be decoded at once.
const BATCH_ROWS: usize = 2048;

/// Some rows, their texts end to end in one string.
#[derive(Default)]
pub(super) struct Batch {
    text: String,
    pub(super) rows: Vec<BatchRow>,
}

/// One row of a batch: where each of its texts ends.
pub(super) struct BatchRow {
    seq: u64,
    version: u32,
    start: usize,
    ends: [usize; 7],
}

impl Batch {
    pub(super) fn text_of(&self, row: &BatchRow) -> RowText<'_> {
        let part = |n: usize| &self.text[if n == 0 { row.start } else { row.ends[n - 1] }..row.ends[n]];
        RowText {
            seq: row.seq,
            version: row.version,
            id: part(0),
            kind: part(1),
            occurred_at: part(2),
            recorded_at: part(3),
            author: part(4),
            device: part(5),
            body: part(6),
        }
    }
}

/// Sends all rows after a place, in batches; stops early when nobody takes them any more.
pub(super) fn read_batches(
    connection: &Connection,
    after: u64,
    send: &SyncSender<Batch>,
) -> rusqlite::Result<()> {
    let mut statement = connection.prepare_cached(
        "select seq, version, id, kind, occurred_at, recorded_at, author, device, body from event
         where seq > ?1 order by seq",
    )?;
    let mut rows = statement.query([after as i64])?;
    let mut batch = Batch::default();
    while let Some(row) = rows.next()? {
        let mut kept = BatchRow {
            seq: row.get::<_, i64>(0)? as u64,
            version: version_of(row, 1)?,
            start: batch.text.len(),
            ends: [0; 7],
        };
        for (n, end) in kept.ends.iter_mut().enumerate() {
            // A text that is none is damage, and reads as one that cannot be decoded.
            batch.text.push_str(row.get_ref(n + 2)?.as_str().unwrap_or("\u{fffd}"));
            *end = batch.text.len();
        }
        batch.rows.push(kept);
        if batch.rows.len() == BATCH_ROWS && send.send(std::mem::take(&mut batch)).is_err() {
            return Ok(());
        }
    }
    // The decoder may have stopped at a row it could not read, and then says so itself.
    let _ = send.send(batch);
    Ok(())
}
