//! Aim: what sensors showed is kept, whole and in order, and read as fast at any width.
//! Method: known series in, windows out, against the same sums made by hand; a disk that forgets what was not
//! synchronised stands for a power cut (every write since the last synchronisation is undone), and counts.

use std::sync::{Arc, Mutex};

use jiff::Timestamp;
use proptest::prelude::*;
use redb::StorageBackend;
use store::telemetry::{Channel, Column, Sample, Telemetry, TelemetryFile};

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
    assert!(again.to_string().contains("in use"), "{again}");
    drop(first);
    TelemetryFile::open(&path).expect("opens again");
    let other = folder.join("other.db");
    std::fs::write(&other, "a file of somebody else, long enough to be looked at".repeat(400))
        .expect("written");
    let error = TelemetryFile::open(&other).expect_err("is no such file");
    assert!(error.to_string().contains("other.db"), "{error}");
    std::fs::remove_dir_all(&folder).expect("removed");
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
