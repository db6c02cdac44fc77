//! Aim: a file of the yard's that was damaged is named and stops nothing; no damage comes out as other figures.
//! Method: rows, hashes and lists of backups damaged as texts; files of ledger, people, telemetry and backups damaged
//! byte by byte, opened and read through.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use any_bytes::{cases, damaged_text, soon, text};
use event::{Body, Event, EventId, MakingRun, Note};
use jiff::Timestamp;
use proptest::prelude::*;
use site::people::{Person, Role};
use store::backup::{self, Sources};
use store::chain::{Hash, fault, hash_of};
use store::people::PeopleFile;
use store::telemetry::{Sample, Telemetry, TelemetryFile};
use store::{Head, Ledger, Row, SqliteLedger, Verification, export};
use uuid::Uuid;

/// Most files that are damaged, however many cases are asked for: each is written, opened and read.
const MOST_FILES: u32 = 400;

fn of_files(few: u32) -> ProptestConfig {
    let config = cases(few);
    ProptestConfig { cases: config.cases.min(MOST_FILES), max_shrink_iters: 200, ..config }
}

struct Folder(PathBuf);

impl Folder {
    fn new() -> Self {
        let path = std::env::temp_dir().join(format!("brinewright-bytes-{}", Uuid::now_v7()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn at(second: i64) -> Timestamp {
    Timestamp::from_second(1_700_000_000 + second).unwrap()
}

fn event(number: i64) -> Event {
    let body = match number % 2 {
        0 => Body::Note(Note { text: format!("note {number} of the yard") }),
        _ => Body::MakingRun(MakingRun {
            tank: "1".into(),
            volume_m3: 7.5,
            strength_pct: 23.3,
            ..MakingRun::default()
        }),
    };
    let id = EventId(Uuid::from_u128(number as u128 + 1));
    Event { id, occurred_at: at(number), author: "Pat".into(), device: "test".into(), body }
}

/// A yard's files as bytes, and a backup of them.
struct Files {
    ledger: Vec<u8>,
    rows: Vec<Row>,
    people: Vec<u8>,
    telemetry: Vec<u8>,
    backup: Vec<(String, Vec<u8>)>,
}

static FILES: LazyLock<Files> = LazyLock::new(|| {
    let home = Folder::new();
    let path = |name: &str| home.0.join(name);
    let ledger = SqliteLedger::open(&path("ledger.db")).unwrap();
    ledger.append(&(0..40).map(event).collect::<Vec<_>>(), at(100)).unwrap();
    let people = PeopleFile::open(&path("people.db")).unwrap();
    let person = Person {
        id: Uuid::from_u128(7),
        name: "Ines".into(),
        role: Role::Supervisor,
        password: Some("a hash".into()),
        pin: None,
        is_active: true,
        made_at: at(1),
    };
    people.put_first(&person).unwrap();
    people.put_tries("desk", "Ines", 2, at(5)).unwrap();
    people.note(at(6), "Ines", &store::people::Act::WrongOldPassword).unwrap();
    let telemetry = TelemetryFile::open(&path("telemetry.db")).unwrap();
    let channel = telemetry.channel("panel").unwrap();
    for second in 0..3000 {
        telemetry.take(&[Sample { channel, at: at(second), value: 23.0 + (second % 7) as f64 / 10.0 }]);
    }
    telemetry.save().unwrap();
    std::fs::write(path("yard.toml"), "format = 1\n").unwrap();
    let sources = Sources {
        ledger: path("ledger.db"),
        people: Some(path("people.db")),
        yard: Some(path("yard.toml")),
        keys: None,
    };
    let made = backup::make(&sources, None, &path("backups"), at(200)).unwrap();
    let read = |name: &str| (name.to_owned(), std::fs::read(made.folder.join(name)).unwrap());
    let backup = ["backup.json", "ledger.db", "people.db", "yard.toml"].map(read).to_vec();
    let rows = ledger.rows_after(0).unwrap();
    drop((ledger, people, telemetry));
    // What a copy holds needs no log beside it.
    let (ledger, people) = (backup[1].1.clone(), backup[2].1.clone());
    let telemetry = std::fs::read(path("telemetry.db")).unwrap();
    Files { ledger, rows, people, telemetry, backup }
});

/// What is done to a file: some bytes are others, and its end may be gone.
#[derive(Debug, Clone)]
struct Damage {
    bytes: Vec<(f64, u8)>,
    stretch: Option<(f64, usize, u8)>,
    end: Option<f64>,
}

fn damage() -> impl Strategy<Value = Damage> {
    let bytes = prop::collection::vec((0.0..1.0_f64, any::<u8>()), 0..6);
    // Of a page's head more often than of its middle: there stands what says how the rest is to be read.
    let stretch = prop::option::weighted(0.5, (0.0..1.0_f64, 1_usize..600, any::<u8>()));
    (bytes, stretch, prop::option::weighted(0.2, 0.0..1.0_f64)).prop_map(|(bytes, stretch, end)| Damage {
        bytes,
        stretch,
        end,
    })
}

impl Damage {
    fn to(&self, file: &[u8]) -> Vec<u8> {
        let mut damaged = file.to_vec();
        let place = |share: f64| ((file.len() as f64 * share) as usize).min(file.len() - 1);
        for (share, byte) in &self.bytes {
            damaged[place(*share)] = *byte;
        }
        if let Some((share, length, byte)) = self.stretch {
            let from = place(share) / 512 * 512;
            let to = (from + length).min(damaged.len());
            damaged[from..to].fill(byte);
        }
        if let Some(share) = self.end {
            damaged.truncate(place(share));
        }
        damaged
    }
}

fn put(folder: &Folder, name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder.0.join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

/// Reads everything of a ledger; whatever it says is sound is what was written.
fn read_ledger(path: &Path) -> Result<(), TestCaseError> {
    let good = &FILES.rows;
    if let Ok(Verification::Sound(head)) = SqliteLedger::check(path) {
        let read = SqliteLedger::open_read_only(path).and_then(|ledger| ledger.rows_after(0));
        prop_assert!(read.is_ok_and(|rows| rows[..] == good[..rows.len()] && rows.len() as u64 == head.seq));
    }
    if let Ok((sound, lost)) = SqliteLedger::salvage(path) {
        for row in &sound {
            prop_assert!(good.iter().any(|one| one == row) || hash_of(row) == row.hash, "{row:?}");
        }
        prop_assert!(sound.len() == good.len() || !lost.is_empty() || sound.len() < good.len());
    }
    if let Ok(ledger) = SqliteLedger::open_existing(path) {
        let _ = (ledger.head(), ledger.events_after(0).is_ok(), ledger.rows_after(0).is_ok());
        if matches!(ledger.verify(), Ok(Verification::Damaged { .. }) | Err(_)) {
            prop_assert!(ledger.append(&[event(900)], at(900)).is_err(), "a damaged ledger takes an entry");
        }
    }
    Ok(())
}

/// A row, its texts at random or damaged, with a hash that fits it or none.
fn any_row() -> impl Strategy<Value = Row> {
    let good = prop::sample::select(FILES.rows.clone());
    let texts = |texts: [String; 7]| {
        let samples: Vec<String> = texts.to_vec();
        prop::collection::vec(any::<bool>(), 7).prop_flat_map(move |which| {
            let each: Vec<BoxedStrategy<String>> = samples
                .iter()
                .zip(which)
                .map(|(sample, is_damaged)| {
                    if is_damaged {
                        prop_oneof![damaged_text(&[sample]), text()].boxed()
                    } else {
                        Just(sample.clone()).boxed()
                    }
                })
                .collect();
            each
        })
    };
    (good, any::<bool>(), 0_u32..4).prop_flat_map(move |(row, is_sealed, version)| {
        let all =
            [&row.id, &row.kind, &row.occurred_at, &row.recorded_at, &row.author, &row.device, &row.body]
                .map(Clone::clone);
        texts(all).prop_map(move |texts| {
            let [id, kind, occurred_at, recorded_at, author, device, body] = texts.try_into().unwrap();
            let mut row =
                Row { id, kind, version, occurred_at, recorded_at, author, device, body, ..row.clone() };
            if is_sealed {
                row.hash = hash_of(&row);
            }
            row
        })
    })
}

proptest! {
    #![proptest_config(cases(96))]

    #[test]
    fn any_row_is_an_event_or_refused(row in any_row()) {
        if let Ok(recorded) = soon(|| row.decode()) {
            prop_assert_eq!(recorded.event.body.kind(), row.kind.as_str());
            let text = recorded.event.body.to_json().unwrap();
            prop_assert_eq!(
                Body::from_json(&row.kind, row.version, &text).unwrap(),
                recorded.event.body
            );
        }
        let document = export::row_document(&row);
        prop_assert!(document.to_string().parse::<serde_json::Value>().is_ok());
        prop_assert!(!export::row_cells(&row)[6].starts_with(['=', '+', '-', '@', '\t', '\r']));
        let is_as_written = FILES.rows.contains(&row);
        prop_assert_eq!(fault(&row, row.seq, row.previous).is_none(), hash_of(&row) == row.hash);
        prop_assert!(!is_as_written || hash_of(&row) == row.hash);
    }

    #[test]
    fn any_text_is_a_hash_or_an_end_or_none(
        text in prop_oneof![text(), damaged_text(&[&format!("40:{}", Hash([171; 32])), &Hash([171; 32]).to_string()])],
    ) {
        if let Some(hash) = Hash::read(&text) {
            prop_assert_eq!(hash.to_string(), text.to_ascii_lowercase());
        }
        if let Some(head) = Head::read(&text) {
            prop_assert_eq!(Head::read(&head.to_string()), Some(head));
        }
    }
}

proptest! {
    #![proptest_config(of_files(12))]

    #[test]
    fn a_damaged_ledger_is_said(damage in damage()) {
        let folder = Folder::new();
        let path = put(&folder, "ledger.db", &damage.to(&FILES.ledger));
        soon(|| read_ledger(&path))?;
    }

    #[test]
    fn damaged_people_are_said(damage in damage()) {
        let folder = Folder::new();
        let bytes = damage.to(&FILES.people);
        let path = put(&folder, "people.db", &bytes);
        soon(|| {
            if let Ok(people) = PeopleFile::open(&path) {
                let roster = people.roster();
                let _ = (people.tries().is_ok(), people.notes(9).is_ok(), people.alerts().is_ok());
                let _ = (people.held(9).is_ok(), people.waiting().is_ok(), people.remembered("a").is_ok());
                // Nobody becomes somebody else, or more, by damage.
                if let Ok(roster) = roster {
                    let is_ines = |person: &Person| person.name == "Ines" && person.role == Role::Supervisor;
                    prop_assert!(roster.people.iter().all(is_ines), "{:?}", roster.people);
                }
            }
            Ok(())
        })?;
    }

    #[test]
    fn damaged_telemetry_is_said(damage in damage()) {
        let folder = Folder::new();
        let path = put(&folder, "telemetry.db", &damage.to(&FILES.telemetry));
        soon(|| {
            if let Ok(kept) = TelemetryFile::open(&path) {
                let channel = kept.channel("panel").unwrap();
                for columns in [1, 40, 5000] {
                    for column in kept.window(channel, at(0), at(3000), columns).unwrap_or_default() {
                        let is_as_written = 23.0 <= column.least && column.most <= 23.6 + 1e-9;
                        prop_assert!(is_as_written && column.mean.is_finite(), "{column:?}");
                    }
                }
                for sample in kept.samples(channel, at(0), at(3000)).unwrap_or_default() {
                    let second = sample.at.as_second() - 1_700_000_000;
                    let written = 23.0 + (second % 7) as f64 / 10.0;
                    prop_assert!((sample.value - written).abs() < 1e-12, "{sample:?}");
                }
            }
            let _ = TelemetryFile::open_or_set_aside(&path, at(0)).is_ok();
            Ok(())
        })?;
    }

    #[test]
    fn a_damaged_backup_is_refused_or_whole(which in 0_usize..4, damage in damage(), list in damaged_list()) {
        let (folder, home) = (Folder::new(), Folder::new());
        for (place, (name, bytes)) in FILES.backup.iter().enumerate() {
            let bytes = match (place, place == which) {
                (0, true) => list.clone().into_bytes(),
                (_, true) => damage.to(bytes),
                (_, false) => bytes.clone(),
            };
            put(&folder, name, &bytes);
        }
        let into = home.0.join("yard");
        soon(|| {
            match backup::restore(&folder.0, &into) {
                Ok(made) => {
                    let ledger = SqliteLedger::open_existing(&into.join("ledger.db")).unwrap();
                    prop_assert_eq!(&ledger.rows_after(0).unwrap(), &FILES.rows);
                    prop_assert_eq!(made.end, ledger.head().unwrap());
                }
                Err(error) => {
                    prop_assert!(!error.to_string().is_empty());
                    let left = std::fs::read_dir(&into).map_or(0, |entries| entries.count());
                    prop_assert_eq!(left, 0, "something is left of a refused backup");
                }
            }
            Ok(())
        })?;
        // Nothing is ever written beside the folder it was told.
        prop_assert!(std::fs::read_dir(&home.0).unwrap().count() <= 1);
    }
}

/// Names that are no file of a backup's.
const ELSEWHERE: [&str; 6] = ["../yard.toml", "/etc/passwd", "tls/../../x", "ledger.db/", "C:\\x", ""];

/// The list of a backup, damaged.
fn damaged_list() -> impl Strategy<Value = String> {
    let good = String::from_utf8(FILES.backup[0].1.clone()).unwrap();
    let renamed = prop::sample::select(&ELSEWHERE[..]);
    let moved = good.clone();
    prop_oneof![
        damaged_text(&[&good]),
        renamed
            .prop_map(move |name| moved.replace("\"yard.toml\"", &serde_json::Value::from(name).to_string())),
        text(),
    ]
}
