//! Telemetry in one file of redb, an embedded store that commits by a single synchronisation.

use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use jiff::Timestamp;
use message::{Arg, Message, Tell, message};
use redb::{Database, ReadTransaction, ReadableDatabase, ReadableTable, StorageBackend, TableDefinition};

use super::block::{self, MINUTE, Part, QUARTER};
use super::opening::{refused, sound, was_ours};
use super::tables::{
    BLOCKS, CHANNELS, Key, MINUTES, QUARTERS, SINCE, TAILS, label, said, seal_old, tail_label, time,
};
use super::{Channel, Column, Sample, Telemetry};
use crate::StoreError;
use crate::error::outside;
use crate::sqlite::make_private;

/// A block is closed after so many samples: an hour at one a second.
const BLOCK: usize = 3600;
/// Bytes of the file kept in memory.
const CACHE: usize = 16 << 20;
/// Samples kept in memory while the disk takes none; the oldest go first.
const MOST_UNSAVED: usize = 2_000_000;
/// A block is found by the time of its last sample; where a clock stepped back, blocks overlap by no more than so many.
const OVERLAPPING: usize = 8;

/// A piece of a block fits a page of the file, so that little of it stays empty.
const PIECE: usize = 3956;

/// What is not in a block yet.
#[derive(Debug, Default)]
struct Tail {
    samples: Vec<(i64, f64)>,
    /// Of these so many are saved.
    saved: usize,
}

/// What a save writes of a channel: samples, and whether they close a block.
type Fresh = (Channel, Vec<(i64, f64)>, bool);

/// Telemetry in a file.
pub struct TelemetryFile {
    path: PathBuf,
    database: Database,
    tails: Mutex<BTreeMap<Channel, Tail>>,
    names: Mutex<HashMap<String, Channel>>,
    /// One save at a time, with the number of the next.
    next: Mutex<u64>,
    /// What was found damaged since it was opened, in words.
    damage: Mutex<Option<Message>>,
}

fn hold<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // Every write under these locks leaves whole values behind.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl std::fmt::Debug for TelemetryFile {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.debug_struct("TelemetryFile").field("path", &self.path).finish_non_exhaustive()
    }
}

impl TelemetryFile {
    /// Opens the file, making it when it is not there.
    ///
    /// # Errors
    /// [`StoreError::Access`], [`StoreError::InUse`], [`StoreError::NotTelemetry`].
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        make_private(path)?;
        sound(path, || {
            let made = Database::builder().set_cache_size(CACHE).create(path);
            let mut database = made.map_err(|error| refused(path, &error))?;
            // Every page against its checksum: what the file says of itself is not believed unseen.
            match database.check_integrity() {
                Ok(_) => match Self::on(database, path) {
                    Err(StoreError::Database(_)) => {
                        Err(StoreError::NotTelemetry { path: path.display().to_string() })
                    }
                    answer => answer,
                },
                Err(error) => Err(refused(path, &error)),
            }
        })
    }

    /// Opens the file as [`Self::open`]; one that is damaged is set aside under another name and said, and a new one
    /// begun. A file of another kind is left where it is and refused.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn open_or_set_aside(path: &Path, now: Timestamp) -> Result<Self, StoreError> {
        let refused = match Self::open(path) {
            Err(error @ StoreError::NotTelemetry { .. }) => error,
            answer => return answer,
        };
        if !was_ours(path) {
            return Err(refused);
        }
        let named = |again: u32| {
            let mut aside = path.as_os_str().to_owned();
            let again = if again == 0 { String::new() } else { format!("-{again}") };
            aside.push(format!(".damaged-{}{again}", now.strftime("%Y%m%dT%H%M%SZ")));
            PathBuf::from(aside)
        };
        let aside = (0..).map(named).find(|aside| !aside.exists()).unwrap_or_else(|| named(0));
        let failed = |error: std::io::Error| StoreError::Access {
            path: path.display().to_string(),
            reason: outside(error),
        };
        std::fs::rename(path, &aside).map_err(failed)?;
        let kept = Self::open(path)?;
        let name = aside.file_name().unwrap_or(aside.as_os_str()).to_string_lossy().into_owned();
        *hold(&kept.damage) = Some(message!("store.telemetry.set_aside", name = name));
        Ok(kept)
    }

    /// Telemetry kept by something else than a file: memory, or a disk that fails on purpose.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn on_backend(backend: impl StorageBackend) -> Result<Self, StoreError> {
        let path = Path::new("telemetry");
        let made = Database::builder().set_cache_size(CACHE).create_with_backend(backend);
        Self::on(made.map_err(|error| refused(path, &error))?, path)
    }

    /// Telemetry that is gone with the program.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn in_memory() -> Result<Self, StoreError> {
        Self::on_backend(redb::backends::InMemoryBackend::new())
    }

    fn on(database: Database, path: &Path) -> Result<Self, StoreError> {
        let writing = database.begin_write().map_err(said)?;
        writing.open_table(CHANNELS).map_err(said)?;
        writing.open_table(TAILS).map_err(said)?;
        writing.open_table(BLOCKS).map_err(said)?;
        writing.open_table(MINUTES).map_err(said)?;
        writing.open_table(QUARTERS).map_err(said)?;
        writing.open_table(SINCE).map_err(said)?;
        seal_old(&writing)?;
        writing.commit().map_err(said)?;
        let mut damage = None;
        let (mut names, mut tails, mut next) = (HashMap::new(), BTreeMap::<Channel, Tail>::new(), 0);
        {
            let reading = database.begin_read().map_err(said)?;
            for row in reading.open_table(CHANNELS).map_err(said)?.iter().map_err(said)? {
                let (name, number) = row.map_err(said)?;
                names.insert(name.value().to_string(), Channel(number.value()));
            }
            for row in reading.open_table(TAILS).map_err(said)?.iter().map_err(said)? {
                let (key, bytes) = row.map_err(said)?;
                let (channel, save) = key.value();
                next = next.max(save + 1);
                let tail = tails.entry(Channel(channel)).or_default();
                match block::opened(&tail_label(key.value()), bytes.value()).and_then(block::unpack) {
                    Ok(samples) => tail.samples.extend(samples),
                    Err(error) => damage = Some(error.message()),
                }
                tail.saved = tail.samples.len();
            }
            // A number used by a block is not used again.
            for table in [BLOCKS, MINUTES, QUARTERS] {
                if let Some(row) = reading.open_table(table).map_err(said)?.last().map_err(said)? {
                    next = next.max(row.0.value().2 + 1);
                }
            }
        }
        Ok(Self {
            path: path.to_path_buf(),
            database,
            tails: Mutex::new(tails),
            names: Mutex::new(names),
            next: Mutex::new(next),
            damage: Mutex::new(damage),
        })
    }

    /// Size of what is kept, bytes.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn bytes(&self) -> Result<u64, StoreError> {
        let writing = self.database.begin_write().map_err(said)?;
        let stats = writing.stats().map_err(said)?;
        writing.abort().map_err(said)?;
        Ok(stats.stored_bytes() + stats.metadata_bytes() + stats.fragmented_bytes())
    }

    /// Saves; blocks that are full go to their tables.
    fn save_as(&self, save: u64) -> Result<(), StoreError> {
        let fresh: Vec<Fresh> = hold(&self.tails)
            .iter()
            .filter(|(_, tail)| tail.saved < tail.samples.len())
            .map(|(channel, tail)| {
                let closes = BLOCK <= tail.samples.len();
                let from = if closes { 0 } else { tail.saved };
                (*channel, tail.samples[from..].to_vec(), closes)
            })
            .collect();
        if fresh.is_empty() {
            return Ok(());
        }
        let writing = self.database.begin_write().map_err(said)?;
        {
            let mut tails = writing.open_table(TAILS).map_err(said)?;
            let mut blocks = writing.open_table(BLOCKS).map_err(said)?;
            let mut minutes = writing.open_table(MINUTES).map_err(said)?;
            let mut quarters = writing.open_table(QUARTERS).map_err(said)?;
            for (Channel(channel), samples, closes) in &fresh {
                if !closes {
                    let key = (*channel, save);
                    let bytes = block::sealed(&tail_label(key), &block::pack(samples)?);
                    tails.insert(key, bytes.as_slice()).map_err(said)?;
                    continue;
                }
                tails.retain_in((*channel, 0)..=(*channel, u64::MAX), |_, _| false).map_err(said)?;
                let mut ordered = samples.clone();
                ordered.sort_by_key(|(at, _)| *at);
                // A long save while the disk was full makes several blocks.
                for (number, part) in ordered.chunks(2 * BLOCK).enumerate() {
                    let (Some((first, _)), Some((last, _))) = (part.first(), part.last()) else { continue };
                    let number = save.saturating_add(number as u64);
                    for (piece, bytes) in block::pack(part)?.chunks(PIECE).enumerate() {
                        let key = (*channel, *last, number, u16::try_from(piece).unwrap_or(u16::MAX));
                        let bytes = block::sealed(&label(key, *first), bytes);
                        blocks.insert(key, (*first, bytes.as_slice())).map_err(said)?;
                    }
                    let key = (*channel, *last, number, 0);
                    let bytes = block::pack_parts(&block::parts(part, MINUTE))?;
                    let bytes = block::sealed(&label(key, *first), &bytes);
                    minutes.insert(key, (*first, bytes.as_slice())).map_err(said)?;
                    let bytes = block::lay_parts(&block::parts(part, QUARTER));
                    let bytes = block::sealed(&label(key, *first), &bytes);
                    quarters.insert(key, (*first, bytes.as_slice())).map_err(said)?;
                }
            }
        }
        // Where a block closes, nobody may look between its commit and the end of its tail.
        let (committed, mut tails) = if fresh.iter().any(|(_, _, closes)| *closes) {
            let tails = hold(&self.tails);
            (writing.commit(), tails)
        } else {
            (writing.commit(), hold(&self.tails))
        };
        committed.map_err(said)?;
        for (channel, samples, closes) in fresh {
            let Some(tail) = tails.get_mut(&channel) else { continue };
            if closes {
                tail.samples.drain(..samples.len().min(tail.samples.len()));
                tail.saved = 0;
            } else {
                tail.saved = (tail.saved + samples.len()).min(tail.samples.len());
            }
        }
        Ok(())
    }

    /// What lies in the file, and what lies in no block yet, of one moment: nothing is in both, or in neither.
    fn view(
        &self,
        channel: Channel,
        (from, to): (i64, i64),
    ) -> Result<(ReadTransaction, Vec<(i64, f64)>), StoreError> {
        let tails = hold(&self.tails);
        let reading = self.database.begin_read().map_err(said)?;
        let tail = tails.get(&channel).map_or(&[][..], |tail| &tail.samples);
        Ok((reading, tail.iter().copied().filter(|(at, _)| (from..to).contains(at)).collect()))
    }

    /// Goes through the rows of a table that may overlap a window. One that is damaged is left out, and said.
    fn rows(
        &self,
        reading: &ReadTransaction,
        table: TableDefinition<Key, (i64, &[u8])>,
        Channel(channel): Channel,
        (from, to): (i64, i64),
        mut row: impl FnMut(&[u8]) -> Result<(), StoreError>,
    ) -> Result<(), StoreError> {
        let table = reading.open_table(table).map_err(said)?;
        let (mut past, mut pieces, mut is_whole) = (0, Vec::new(), true);
        let mut finish = |pieces: &[u8], is_whole: bool, until: i64| {
            let read = if is_whole { row(pieces) } else { Err(block::other_checksum()) };
            if let Err(error) = read {
                let at = time(until).map_or_else(|_| until.into(), Arg::from);
                *hold(&self.damage) = Some(message!("store.telemetry.left_out", until = at, why = &error));
            }
        };
        let mut until = from;
        let range = (channel, from, 0, 0)..=(channel, i64::MAX, u64::MAX, u16::MAX);
        for found in table.range(range).map_err(said)? {
            let (key, value) = found.map_err(said)?;
            let (first, bytes) = value.value();
            if key.value().3 == 0 {
                if !pieces.is_empty() || !is_whole {
                    finish(&pieces, is_whole, until);
                    pieces.clear();
                    is_whole = true;
                }
                until = key.value().1;
                past += usize::from(to <= first);
                if OVERLAPPING < past {
                    break;
                }
            }
            if first < to {
                match block::opened(&label(key.value(), first), bytes) {
                    Ok(bytes) => pieces.extend(bytes),
                    Err(_) => is_whole = false,
                }
            }
        }
        if !pieces.is_empty() || !is_whole {
            finish(&pieces, is_whole, until);
        }
        Ok(())
    }

    fn kept_since(reading: &ReadTransaction, Channel(channel): Channel) -> Result<i64, StoreError> {
        let since = reading.open_table(SINCE).map_err(said)?.get(channel).map_err(said)?;
        Ok(since.map_or(i64::MIN, |since| since.value()))
    }
}

impl Telemetry for TelemetryFile {
    fn damage(&self) -> Option<Message> {
        hold(&self.damage).clone()
    }

    fn copy(&self, to: &Path) -> Result<(), StoreError> {
        let failed = |reason: Message| StoreError::Access { path: to.display().to_string(), reason };
        if to.exists() {
            return Err(failed(message!("store.file.there")));
        }
        // Nobody writes while the file is copied: what lies in it is what was saved last.
        let held = self.database.begin_write().map_err(|error| failed(outside(error)))?;
        let copied = std::fs::copy(&self.path, to).map_err(|error| failed(outside(error)));
        drop(held);
        copied.map(|_| ()).inspect_err(|_| {
            let _ = std::fs::remove_file(to);
        })
    }

    fn channel(&self, name: &str) -> Result<Channel, StoreError> {
        let mut names = hold(&self.names);
        if let Some(channel) = names.get(name) {
            return Ok(*channel);
        }
        let number = names.values().map(|channel| channel.0 + 1).max().unwrap_or(0);
        let writing = self.database.begin_write().map_err(said)?;
        writing.open_table(CHANNELS).map_err(said)?.insert(name, number).map_err(said)?;
        writing.commit().map_err(said)?;
        names.insert(name.to_string(), Channel(number));
        Ok(Channel(number))
    }

    fn take(&self, samples: &[Sample]) {
        let mut tails = hold(&self.tails);
        for sample in samples.iter().filter(|sample| sample.value.is_finite()) {
            let tail = tails.entry(sample.channel).or_default();
            tail.samples.push((sample.at.as_millisecond(), sample.value));
            if MOST_UNSAVED < tail.samples.len() - tail.saved {
                tail.samples.drain(tail.saved..tail.saved + MOST_UNSAVED / 10);
            }
        }
    }

    fn save(&self) -> Result<(), StoreError> {
        let mut next = hold(&self.next);
        self.save_as(*next)?;
        // Blocks of a long save have used some numbers after it.
        *next += 1 + (MOST_UNSAVED / BLOCK) as u64;
        Ok(())
    }

    fn window(
        &self,
        channel: Channel,
        from: Timestamp,
        to: Timestamp,
        columns: usize,
    ) -> Result<Vec<Column>, StoreError> {
        let span = (from.as_millisecond(), to.as_millisecond());
        if span.1 <= span.0 || columns == 0 {
            return Ok(Vec::new());
        }
        // Whole milliseconds, so many that the columns are no more than asked for.
        let width = (span.1 - span.0).div_euclid(columns as i64)
            + i64::from((span.1 - span.0).rem_euclid(columns as i64) != 0);
        let mut found: Vec<Part> = Vec::new();
        let mut add = |mut part: Part, at: i64| {
            if (span.0..span.1).contains(&at) {
                part.from = span.0 + (at - span.0).div_euclid(width) * width;
                block::join(&mut found, part);
            }
        };
        let (reading, tail) = self.view(channel, span)?;
        let kept = Self::kept_since(&reading, channel)?;
        let table = match width {
            width if QUARTER <= width => Some((QUARTERS, QUARTER)),
            width if MINUTE <= width || span.0 < kept => Some((MINUTES, MINUTE)),
            _ => None,
        };
        match table {
            Some((table, length)) => self.rows(&reading, table, channel, span, |bytes| {
                // A part belongs where its middle lies; one that the window's begin cuts, to its begin.
                let open =
                    if length == MINUTE { block::unpack_parts(bytes)? } else { block::laid_parts(bytes) };
                for part in open {
                    let middle = part.from + length / 2;
                    let is_cut = part.from < span.0 && span.0 < part.from + length;
                    add(part, if is_cut { span.0 } else { middle.min(span.1 - 1).max(part.from) });
                }
                Ok(())
            })?,
            None => self.rows(&reading, BLOCKS, channel, span, |bytes| {
                for (at, value) in block::unpack(bytes)? {
                    add(Part::one(at, value), at);
                }
                Ok(())
            })?,
        }
        for (at, value) in tail {
            add(Part::one(at, value), at);
        }
        found
            .into_iter()
            .map(|part| {
                Ok(Column {
                    from: time(part.from)?,
                    least: part.least,
                    most: part.most,
                    mean: part.sum / part.count as f64,
                    count: part.count,
                })
            })
            .collect()
    }

    fn samples(&self, channel: Channel, from: Timestamp, to: Timestamp) -> Result<Vec<Sample>, StoreError> {
        let span = (from.as_millisecond(), to.as_millisecond());
        let (reading, tail) = self.view(channel, span)?;
        let mut found = Vec::new();
        self.rows(&reading, BLOCKS, channel, span, |bytes| {
            found.extend(block::unpack(bytes)?.into_iter().filter(|(at, _)| (span.0..span.1).contains(at)));
            Ok(())
        })?;
        found.extend(tail);
        found.sort_by_key(|(at, _)| *at);
        found.into_iter().map(|(at, value)| Ok(Sample { channel, at: time(at)?, value })).collect()
    }

    fn forget_before(&self, before: Timestamp) -> Result<u64, StoreError> {
        let _one_at_a_time = hold(&self.next);
        let before = before.as_millisecond();
        let channels: Vec<u32> = hold(&self.names).values().map(|channel| channel.0).collect();
        let writing = self.database.begin_write().map_err(said)?;
        let mut gone = 0;
        {
            let mut blocks = writing.open_table(BLOCKS).map_err(said)?;
            let mut since = writing.open_table(SINCE).map_err(said)?;
            for channel in channels {
                let old = (channel, i64::MIN, 0, 0)..(channel, before, 0, 0);
                let mut here = 0;
                blocks
                    .retain_in(old, |key, _| {
                        here += u64::from(key.3 == 0);
                        false
                    })
                    .map_err(said)?;
                if 0 < here {
                    since.insert(channel, before).map_err(said)?;
                }
                gone += here;
            }
        }
        if gone == 0 {
            writing.abort().map_err(said)?;
        } else {
            writing.commit().map_err(said)?;
        }
        Ok(gone)
    }
}
