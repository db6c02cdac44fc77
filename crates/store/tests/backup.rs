//! A backup is whole and checked, or nothing is left of it; what comes back is what went in.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use std::path::{Path, PathBuf};

use event::{Body, Event, EventId, Note};
use jiff::Timestamp;
use message::{Tell, message};
use site::people::{Person, Role};
use store::backup::{self, Sources};
use store::people::PeopleFile;
use store::telemetry::{Sample, Telemetry, TelemetryFile};
use store::{Ledger, SqliteLedger, StoreError};
use uuid::Uuid;

struct Folder(PathBuf);

impl Folder {
    fn new() -> Self {
        let path = std::env::temp_dir().join(format!("brinewright-backup-{}", Uuid::now_v7()));
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

fn note(number: i64) -> Event {
    Event {
        id: EventId(Uuid::now_v7()),
        occurred_at: at(number),
        author: "Pat".into(),
        device: "test".into(),
        body: Body::Note(Note { text: format!("note {number}") }),
    }
}

/// A yard's files, with the ledger and the telemetry open.
fn yard(home: &Path) -> (Sources, SqliteLedger, TelemetryFile) {
    let ledger = SqliteLedger::open(&home.join("ledger.db")).unwrap();
    ledger.append(&(0..50).map(note).collect::<Vec<_>>(), at(100)).unwrap();
    let people = PeopleFile::open(&home.join("people.db")).unwrap();
    let ines = Person {
        id: Uuid::now_v7(),
        name: "Ines".into(),
        role: Role::Supervisor,
        password: Some("a hash".into()),
        pin: None,
        is_active: true,
        made_at: at(1),
    };
    people.put_first(&ines).unwrap();
    let telemetry = TelemetryFile::open(&home.join("telemetry.db")).unwrap();
    let channel = telemetry.channel("panel").unwrap();
    telemetry.take(&[Sample { channel, at: at(5), value: 23.25 }]);
    telemetry.save().unwrap();
    std::fs::write(home.join("yard.toml"), "format = 1\n").unwrap();
    std::fs::create_dir_all(home.join("tls")).unwrap();
    std::fs::write(home.join("tls/authority.key"), "secret").unwrap();
    let sources = Sources {
        ledger: home.join("ledger.db"),
        people: Some(home.join("people.db")),
        yard: Some(home.join("yard.toml")),
        keys: Some(home.join("tls")),
    };
    (sources, ledger, telemetry)
}

#[test]
fn what_comes_back_is_what_went_in() {
    let (home, out) = (Folder::new(), Folder::new());
    let (sources, ledger, telemetry) = yard(&home.0);
    let made = backup::make(&sources, Some(&telemetry), &out.0, at(200)).unwrap();
    assert_eq!(made.files, ["ledger.db", "people.db", "telemetry.db", "yard.toml", "tls/authority.key"]);
    assert_eq!(made.end, ledger.head().unwrap());
    assert!(backup::make(&sources, None, &out.0, at(200)).is_err(), "the same moment is there already");
    #[cfg(unix)]
    for name in made.files.iter().map(String::as_str).chain(["backup.json"]) {
        use std::os::unix::fs::PermissionsExt;
        let mode = std::fs::metadata(made.folder.join(name)).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600, "{name}");
    }
    // What comes after the backup is not in it, and the ledger goes on while it is made.
    ledger.append(&[note(500)], at(300)).unwrap();
    let into = home.0.join("back");
    let back = backup::restore(&made.folder, &into).unwrap();
    let again = SqliteLedger::open_existing(&into.join("ledger.db")).unwrap();
    let events = |ledger: &SqliteLedger| -> Vec<Event> {
        ledger.events_after(0).unwrap().into_iter().map(|recorded| recorded.event).collect()
    };
    assert_eq!(events(&again), events(&ledger)[..50]);
    again.append(&[note(600)], at(400)).unwrap();
    assert_eq!(back.end.seq, 50);
    let people = PeopleFile::open(&into.join("people.db")).unwrap();
    assert_eq!(people.roster().unwrap().people[0].name, "Ines");
    let kept = TelemetryFile::open(&into.join("telemetry.db")).unwrap();
    let channel = kept.channel("panel").unwrap();
    assert_eq!(kept.samples(channel, at(0), at(10)).unwrap().len(), 1);
    assert!(
        matches!(backup::restore(&made.folder, &into), Err(StoreError::Access { .. })),
        "never into a full folder"
    );
}

#[test]
fn a_copy_that_cannot_be_made_leaves_nothing() {
    let (home, out) = (Folder::new(), Folder::new());
    let (sources, ledger, _telemetry) = yard(&home.0);
    drop(ledger);
    let connection = rusqlite::Connection::open(home.0.join("ledger.db")).unwrap();
    connection
        .execute_batch("drop trigger event_is_never_changed; update event set author = 'x' where seq = 7")
        .unwrap();
    drop(connection);
    assert!(matches!(backup::make(&sources, None, &out.0, at(200)), Err(StoreError::Damaged { seq: 7, .. })));
    assert_eq!(std::fs::read_dir(&out.0).unwrap().count(), 0, "no part is left");
    // A folder that is a file.
    let file = out.0.join("file");
    std::fs::write(&file, "").unwrap();
    assert!(matches!(backup::make(&sources, None, &file, at(200)), Err(StoreError::Access { .. })));
}

#[test]
fn a_changed_backup_is_refused_and_old_ones_go() {
    let (home, out) = (Folder::new(), Folder::new());
    let (sources, _ledger, _telemetry) = yard(&home.0);
    for day in 0..5 {
        backup::make(&sources, None, &out.0, at(86_400 * day)).unwrap();
    }
    backup::keep_newest(&out.0, 3).unwrap();
    let all = backup::all(&out.0);
    assert!(all.len() == 3 && all[0].0 == at(86_400 * 2));
    let newest = &all[2].1;
    assert!(backup::check(newest).is_ok());
    let into = home.0.join("back");
    for (name, change) in [("people.db", 200), ("ledger.db", 5000), ("yard.toml", 3)] {
        let path = newest.join(name);
        let whole = std::fs::read(&path).unwrap();
        let mut bytes = whole.clone();
        bytes[change] ^= 1;
        std::fs::write(&path, &bytes).unwrap();
        let refused = backup::restore(newest, &into).unwrap_err().message();
        let reason = message!("store.backup.other_content");
        assert_eq!(refused, message!("store.access", path = path.display().to_string(), reason = reason));
        std::fs::remove_file(&path).unwrap();
        assert!(backup::check(newest).is_err());
        std::fs::write(&path, whole).unwrap();
    }
    assert!(!into.exists() || std::fs::read_dir(&into).unwrap().count() == 0, "nothing was put there");
    // A list that names a file outside of it.
    let list = newest.join("backup.json");
    let text = std::fs::read_to_string(&list).unwrap();
    std::fs::write(&list, text.replace("\"yard.toml\"", "\"../yard.toml\"")).unwrap();
    let reason = message!("store.backup.strange_file", name = "../yard.toml");
    let refused = backup::check(newest).unwrap_err().message();
    assert_eq!(refused, message!("store.access", path = list.display().to_string(), reason = reason));
    // One of a newer program.
    std::fs::write(&list, text.replace("\"layout\": 1", "\"layout\": 2")).unwrap();
    assert!(matches!(backup::restore(newest, &into), Err(StoreError::Newer { found: 2, .. })));
}

/// An auditor's copy on a medium that cannot be written is read as it is; nothing is made beside it.
#[cfg(unix)]
#[test]
fn a_ledger_that_cannot_be_written_is_read() {
    use std::os::unix::fs::PermissionsExt;
    let home = Folder::new();
    let (_sources, ledger, _telemetry) = yard(&home.0);
    let head = ledger.head().unwrap();
    drop(ledger);
    let medium = home.0.join("medium ?#");
    std::fs::create_dir(&medium).unwrap();
    let path = medium.join("ledger.db");
    std::fs::copy(home.0.join("ledger.db"), &path).unwrap();
    let mode = |path: &Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    };
    mode(&path, 0o400);
    mode(&medium, 0o500);
    let read = SqliteLedger::open_read_only(&path).unwrap();
    assert_eq!(read.head().unwrap(), head);
    assert_eq!(read.events_after(0).unwrap().len(), 50);
    assert!(read.append(&[note(1)], at(1)).is_err());
    assert_eq!(std::fs::read_dir(&medium).unwrap().count(), 1, "nothing beside it");
    mode(&medium, 0o700);
}
