//! Aim: what sensors showed is kept, whole and in order, and read as fast at any width.
//! Method: known series in, windows out, against the same sums made by hand; a disk that forgets what was not
//! synchronised stands for a power cut (every write since the last synchronisation is undone), and counts.

use std::sync::{Arc, Mutex};

use jiff::Timestamp;
use proptest::prelude::*;
use redb::{ReadableTable, StorageBackend, TableDefinition};
use store::telemetry::{Channel, Column, Sample, Telemetry, TelemetryFile};
use store::{Holder, StoreError};

const BEGIN: i64 = 1_359_000_000_000;

fn at(millisecond: i64) -> Timestamp {
    Timestamp::from_millisecond(BEGIN + millisecond).expect("a time")
}

fn sample(channel: Channel, second: i64) -> Sample {
    let angle = second as f64 / 500.0;
    Sample { channel, at: at(1000 * second), value: 23.3 + (1000.0 * angle.sin()).round() / 1000.0 }
}

fn whole(columns: &[Column]) -> (u64, f64, f64, f64) {
    let count = columns.iter().map(|one| one.count).sum::<u64>();
    let sum = columns.iter().map(|one| one.mean * one.count as f64).sum::<f64>();
    let least = columns.iter().map(|one| one.least).fold(f64::INFINITY, f64::min);
    let most = columns.iter().map(|one| one.most).fold(f64::NEG_INFINITY, f64::max);
    (count, sum, least, most)
}

/// A disk in memory. What is written counts only once it is synchronised; `cut` gives the disk after a power cut.
#[derive(Debug, Clone, Default)]
struct Disk {
    now: Arc<Mutex<Vec<u8>>>,
    safe: Arc<Mutex<Vec<u8>>>,
    syncs: Arc<Mutex<u64>>,
}

impl Disk {
    fn cut(&self) -> Self {
        let safe = self.safe.lock().expect("whole").clone();
        Self { now: Arc::new(Mutex::new(safe.clone())), safe: Arc::new(Mutex::new(safe)), ..Self::default() }
    }

    fn syncs(&self) -> u64 {
        *self.syncs.lock().expect("whole")
    }
}

impl StorageBackend for Disk {
    fn len(&self) -> Result<u64, std::io::Error> {
        Ok(self.now.lock().expect("whole").len() as u64)
    }

    fn read(&self, offset: u64, out: &mut [u8]) -> Result<(), std::io::Error> {
        let from = offset as usize;
        out.copy_from_slice(&self.now.lock().expect("whole")[from..from + out.len()]);
        Ok(())
    }

    fn set_len(&self, len: u64) -> Result<(), std::io::Error> {
        self.now.lock().expect("whole").resize(len as usize, 0);
        Ok(())
    }

    fn sync_data(&self) -> Result<(), std::io::Error> {
        *self.syncs.lock().expect("whole") += 1;
        *self.safe.lock().expect("whole") = self.now.lock().expect("whole").clone();
        Ok(())
    }

    fn write(&self, offset: u64, data: &[u8]) -> Result<(), std::io::Error> {
        let from = offset as usize;
        self.now.lock().expect("whole")[from..from + data.len()].copy_from_slice(data);
        Ok(())
    }
}

#[test]
fn every_width_of_window_sums_up_the_same_samples() {
    let kept = TelemetryFile::in_memory().expect("opens");
    let panel = kept.channel("panel").expect("a channel");
    // Three hours and a half, saved as it comes: blocks, minutes, quarters and a tail.
    let seconds = 12_600;
    for from in (0..seconds).step_by(5) {
        kept.take(&(from..from + 5).map(|second| sample(panel, second)).collect::<Vec<_>>());
        kept.save().expect("saves");
    }
    let all: Vec<f64> = (0..seconds).map(|second| sample(panel, second).value).collect();
    let sum: f64 = all.iter().sum();
    for columns in [1, 7, 14, 100, 210, 1000, 12_600] {
        let found = kept.window(panel, at(0), at(1000 * seconds), columns).expect("reads");
        assert!(found.len() <= columns, "{columns}: {}", found.len());
        let (count, total, least, most) = whole(&found);
        assert_eq!(count, seconds as u64, "{columns}");
        assert!((total - sum).abs() < 1e-6 * sum, "{columns}: {total} {sum}");
        assert!((least - 22.3).abs() < 1e-9 && (most - 24.3).abs() < 1e-9, "{columns}: {least} {most}");
        assert!(found.windows(2).all(|two| two[0].from < two[1].from));
    }
    let raw = kept.samples(panel, at(3_599_000), at(3_603_000)).expect("reads");
    assert_eq!(raw, (3599..3603).map(|second| sample(panel, second)).collect::<Vec<_>>());
}

#[test]
fn a_power_cut_loses_what_was_taken_since_the_last_save_and_nothing_else() {
    let disk = Disk::default();
    let kept = TelemetryFile::on_backend(disk.clone()).expect("opens");
    let panel = kept.channel("panel").expect("a channel");
    let mut saved = 0;
    for second in 0..8000 {
        kept.take(&[sample(panel, second)]);
        if second % 5 == 4 {
            kept.save().expect("saves");
            saved = second + 1;
        }
        if second % 997 == 3 {
            let after = TelemetryFile::on_backend(disk.cut()).expect("opens after the cut");
            let panel = after.channel("panel").expect("the same channel");
            let found = after.samples(panel, at(0), at(9_000_000)).expect("reads");
            assert_eq!(found, (0..saved).map(|second| sample(panel, second)).collect::<Vec<_>>(), "{second}");
            assert!(second - saved < 5);
        }
    }
}

#[test]
fn a_save_synchronises_the_disk_once_but_where_the_file_grows() {
    let disk = Disk::default();
    let kept = TelemetryFile::on_backend(disk.clone()).expect("opens");
    let channels: Vec<Channel> =
        (0..8).map(|number| kept.channel(&format!("c{number}")).expect("a channel")).collect();
    let (before, began) = (disk.syncs(), disk.len().expect("a length"));
    let saves = 1500;
    for save in 0..saves {
        for second in 5 * save..5 * save + 5 {
            kept.take(&channels.iter().map(|channel| sample(*channel, second)).collect::<Vec<_>>());
        }
        kept.save().expect("saves");
    }
    // When the file grows, which it does by half or more, its new length is made safe before it is used.
    let grown = disk.len().expect("a length") as f64 / began as f64;
    let syncs = disk.syncs() - before;
    let most = saves as u64 + (grown.ln() / 1.5_f64.ln()).ceil() as u64;
    assert!((saves as u64..=most).contains(&syncs), "{syncs}, grown {grown} times");
    // Nothing new: nothing is written.
    kept.save().expect("saves");
    assert_eq!(disk.syncs() - before, syncs);
}

#[test]
fn a_clock_that_steps_back_loses_nothing() {
    let kept = TelemetryFile::in_memory().expect("opens");
    let panel = kept.channel("panel").expect("a channel");
    let mut taken = Vec::new();
    for second in 0..12_000_i64 {
        // Every 2,500 s the clock is put back by ten minutes.
        let told = second - 600 * (second / 2500);
        let one = Sample { channel: panel, at: at(1000 * told), value: second as f64 };
        taken.push(one);
        kept.take(&[one]);
        if second % 5 == 0 {
            kept.save().expect("saves");
        }
    }
    let mut found: Vec<f64> =
        kept.samples(panel, at(-1000), at(13_000_000)).expect("reads").iter().map(|one| one.value).collect();
    found.sort_by(f64::total_cmp);
    assert_eq!(found, (0..12_000).map(f64::from).collect::<Vec<_>>());
    let window = kept.window(panel, at(0), at(12_000_000), 50).expect("reads");
    assert_eq!(whole(&window).0, 12_000);
}

#[test]
fn old_samples_are_let_go_and_their_minutes_stay() {
    let kept = TelemetryFile::in_memory().expect("opens");
    let panel = kept.channel("panel").expect("a channel");
    for second in 0..14_400 {
        kept.take(&[sample(panel, second)]);
        if second % 3600 == 3599 {
            kept.save().expect("saves");
        }
    }
    assert_eq!(kept.forget_before(at(7_300_000)).expect("forgets"), 2);
    assert!(kept.samples(panel, at(0), at(7_200_000)).expect("reads").is_empty());
    assert_eq!(kept.samples(panel, at(7_200_000), at(14_400_000)).expect("reads").len(), 7200);
    let window = kept.window(panel, at(0), at(3_600_000), 3600).expect("reads");
    assert_eq!((window.len(), whole(&window).0), (60, 3600));
}

#[test]
fn values_that_are_none_are_left_out() {
    let kept = TelemetryFile::in_memory().expect("opens");
    let panel = kept.channel("panel").expect("a channel");
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1.0] {
        kept.take(&[Sample { channel: panel, at: at(0), value }]);
    }
    kept.save().expect("saves");
    assert_eq!(kept.samples(panel, at(0), at(1)).expect("reads").len(), 1);
}

#[test]
fn a_file_is_opened_once_and_one_that_is_something_else_is_refused() {
    let folder = std::env::temp_dir().join(format!("brinewright-telemetry-{}", uuid::Uuid::now_v7()));
    std::fs::create_dir_all(&folder).expect("a folder");
    let path = folder.join("telemetry.db");
    let first = TelemetryFile::open(&path).expect("opens");
    let again = TelemetryFile::open(&path).expect_err("is open");
    assert!(matches!(again, StoreError::InUse { holder: Holder::Unknown, .. }), "{again}");
    drop(first);
    TelemetryFile::open(&path).expect("opens again");
    let other = folder.join("other.db");
    std::fs::write(&other, "a file of somebody else, long enough to be looked at".repeat(400))
        .expect("written");
    let error = TelemetryFile::open(&other).expect_err("is no such file");
    assert!(error.to_string().contains("other.db"), "{error}");
    std::fs::remove_dir_all(&folder).expect("removed");
}

struct Folder(std::path::PathBuf);

impl Folder {
    fn new() -> Self {
        let path = std::env::temp_dir().join(format!("brinewright-telemetry-{}", uuid::Uuid::now_v7()));
        std::fs::create_dir_all(&path).expect("a folder");
        Self(path)
    }
    fn file(&self) -> std::path::PathBuf {
        self.0.join("telemetry.db")
    }
    /// A file of two and a half hours of one channel, closed.
    fn filled(&self) -> Vec<(Timestamp, f64)> {
        let kept = TelemetryFile::open(&self.file()).expect("opens");
        let panel = kept.channel("panel").expect("a channel");
        for second in 0..9_000 {
            kept.take(&[sample(panel, second)]);
            if second % 300 == 299 {
                kept.save().expect("saves");
            }
        }
        read(&kept)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn read(kept: &TelemetryFile) -> Vec<(Timestamp, f64)> {
    let panel = kept.channel("panel").expect("a channel");
    let samples = kept.samples(panel, at(-1), at(20_000_000)).expect("reads");
    samples.iter().map(|one| (one.at, one.value)).collect()
}

type Key = (u32, i64, u64, u16);
const TAILS: TableDefinition<(u32, u64), &[u8]> = TableDefinition::new("sealed tails");
const BLOCKS: TableDefinition<Key, (i64, &[u8])> = TableDefinition::new("sealed blocks");
const QUARTERS: TableDefinition<Key, (i64, &[u8])> = TableDefinition::new("sealed quarters");

#[test]
fn a_damaged_block_is_left_out_and_said_and_the_rest_is_shown() {
    let folder = Folder::new();
    let whole = folder.filled();
    {
        // Behind the program's back, in words that the file itself takes for good.
        let database = redb::Database::open(folder.file()).expect("opens");
        let writing = database.begin_write().expect("writes");
        for table in [BLOCKS, QUARTERS] {
            let mut table = writing.open_table(table).expect("is there");
            let (key, first, mut bytes) = {
                let (key, row) = table.iter().expect("reads").next().expect("a row").expect("reads");
                let (first, bytes) = row.value();
                (key.value(), first, bytes.to_vec())
            };
            let place = bytes.len() / 2;
            bytes[place] ^= 1;
            table.insert(key, (first, bytes.as_slice())).expect("writes");
        }
        writing.commit().expect("writes");
    }
    let kept = TelemetryFile::open(&folder.file()).expect("opens");
    assert_eq!(kept.damage(), None, "not yet read");
    assert_eq!(read(&kept), whole[3_600..], "all but the damaged hour");
    assert_eq!(kept.damage().expect("is said").id(), "store.telemetry.left_out");
    let panel = kept.channel("panel").expect("a channel");
    let columns = kept.window(panel, at(0), at(9_000_000), 10).expect("reads");
    assert_eq!(columns.iter().map(|one| one.count).sum::<u64>(), 5_400);
}

#[test]
fn one_bit_anywhere_is_noticed_or_without_effect() {
    let folder = Folder::new();
    let whole = folder.filled();
    let sound = std::fs::read(folder.file()).expect("reads");
    let (mut aside, mut left_out, mut without) = (0, 0, 0);
    // A prime step goes through the file in no step with its pages.
    for turn in 0..150 {
        let bit = (turn * 7_919 * 8 + turn * 13) % (sound.len() * 8);
        let mut bytes = sound.clone();
        bytes[bit / 8] ^= 1 << (bit % 8);
        std::fs::write(folder.file(), &bytes).expect("writes");
        let kept = TelemetryFile::open_or_set_aside(&folder.file(), at(0)).expect("it starts");
        let found = read(&kept);
        match kept.damage() {
            Some(said) if said.id() == "store.telemetry.set_aside" => {
                assert!(found.is_empty());
                aside += 1;
            }
            Some(_) => {
                assert!(found.iter().all(|one| whole.contains(one)) && found.len() < whole.len());
                left_out += 1;
            }
            None => {
                assert_eq!(found, whole, "bit {bit}");
                without += 1;
            }
        }
        drop(kept);
        for file in std::fs::read_dir(&folder.0).expect("reads") {
            std::fs::remove_file(file.expect("reads").path()).expect("removed");
        }
    }
    assert!(0 < aside && 0 < without, "{aside} set aside, {left_out} left out, {without} without effect");
}

#[test]
fn a_cut_file_is_set_aside_and_another_database_is_left_alone() {
    let folder = Folder::new();
    folder.filled();
    let sound = std::fs::read(folder.file()).expect("reads");
    for length in [1, 100, 4_096, sound.len() / 2, sound.len() - 1] {
        std::fs::write(folder.file(), &sound[..length]).expect("writes");
        let kept = TelemetryFile::open_or_set_aside(&folder.file(), at(0)).expect("it starts");
        assert_eq!(kept.damage().expect("is said").id(), "store.telemetry.set_aside", "{length}");
        drop(kept);
        let aside: Vec<u64> = std::fs::read_dir(&folder.0)
            .expect("reads")
            .map(|file| file.expect("reads"))
            .filter(|file| file.file_name().to_string_lossy().contains("damaged"))
            .map(|file| file.metadata().expect("reads").len())
            .collect();
        assert!(aside.contains(&(length as u64)), "{length} of {aside:?}");
    }
    let ledger = b"SQLite format 3\0, a database of another kind".repeat(200);
    std::fs::write(folder.file(), &ledger).expect("writes");
    assert!(TelemetryFile::open_or_set_aside(&folder.file(), at(0)).is_err());
    assert_eq!(std::fs::read(folder.file()).expect("is there"), ledger);
}

#[test]
fn a_file_from_before_rows_were_sealed_is_taken_over_whole() {
    let folder = Folder::new();
    let whole = folder.filled();
    {
        let database = redb::Database::open(folder.file()).expect("opens");
        let writing = database.begin_write().expect("writes");
        let unsealed = |bytes: &[u8]| bytes[..bytes.len() - 4].to_vec();
        {
            let mut old =
                writing.open_table(TableDefinition::<(u32, u64), &[u8]>::new("tails")).expect("made");
            for row in writing.open_table(TAILS).expect("is there").iter().expect("reads") {
                let (key, bytes) = row.expect("reads");
                old.insert(key.value(), unsealed(bytes.value()).as_slice()).expect("writes");
            }
            for name in ["blocks", "minutes", "quarters"] {
                let sealed = format!("sealed {name}");
                let new = TableDefinition::<Key, (i64, &[u8])>::new(&sealed);
                let mut old =
                    writing.open_table(TableDefinition::<Key, (i64, &[u8])>::new(name)).expect("made");
                for row in writing.open_table(new).expect("is there").iter().expect("reads") {
                    let (key, row) = row.expect("reads");
                    let (first, bytes) = row.value();
                    old.insert(key.value(), (first, unsealed(bytes).as_slice())).expect("writes");
                }
            }
        }
        for name in ["sealed blocks", "sealed minutes", "sealed quarters"] {
            writing.delete_table(TableDefinition::<Key, (i64, &[u8])>::new(name)).expect("goes");
        }
        writing.delete_table(TAILS).expect("goes");
        writing.commit().expect("writes");
    }
    for _ in 0..2 {
        let kept = TelemetryFile::open(&folder.file()).expect("opens");
        assert_eq!(read(&kept), whole);
        assert_eq!(kept.damage(), None);
        let panel = kept.channel("panel").expect("a channel");
        let columns = kept.window(panel, at(0), at(9_000_000), 10).expect("reads");
        assert_eq!(columns.iter().map(|one| one.count).sum::<u64>(), 9_000);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_samples_saved_anyhow_come_back(
        steps in prop::collection::vec((0_i64..4000, -1e9_f64..1e9, any::<bool>()), 1..6000),
        columns in 1_usize..400,
    ) {
        let disk = Disk::default();
        let kept = TelemetryFile::on_backend(disk.clone()).expect("opens");
        let level = kept.channel("level").expect("a channel");
        let (mut now, mut taken) = (0, Vec::new());
        for (step, value, saves) in steps {
            now += step;
            let one = Sample { channel: level, at: at(now), value };
            taken.push(one);
            kept.take(&[one]);
            if saves && taken.len() % 7 == 0 {
                kept.save().expect("saves");
            }
        }
        kept.save().expect("saves");
        drop(kept);
        let kept = TelemetryFile::on_backend(disk.cut()).expect("opens");
        prop_assert_eq!(&kept.samples(level, at(0), at(now + 1)).expect("reads"), &taken);
        let found = kept.window(level, at(0), at(now + 1), columns).expect("reads");
        prop_assert!(found.len() <= columns);
        prop_assert_eq!(whole(&found).0, taken.len() as u64);
    }
}
