//! The ledger keeps what it is given, once, in order, and shows when anything was changed behind its back.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use std::path::{Path, PathBuf};
use std::sync::Arc;

use event::{Body, Event, EventId, Note, Void};
use jiff::Timestamp;
use store::{Appended, Holder, Ledger, ServingLock, SqliteLedger, StoreError, Verification};
use uuid::Uuid;

/// A fresh folder, removed at the end.
struct Folder(PathBuf);

impl Folder {
    fn new() -> Self {
        let path = std::env::temp_dir().join(format!("brinewright-store-{}", Uuid::now_v7()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }
    fn ledger(&self) -> PathBuf {
        self.0.join("ledger.db")
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
        body: Body::Note(Note { text: format!("note {number}, with ünïcode and \"quotes\"") }),
    }
}

/// Changes the file as somebody with a database tool would: past the triggers.
fn tamper(path: &Path, sql: &str) {
    let connection = rusqlite::Connection::open(path).unwrap();
    connection
        .execute_batch(
            "drop trigger if exists event_is_never_changed; drop trigger if exists event_is_never_deleted;",
        )
        .unwrap();
    connection.execute_batch(sql).unwrap();
}

#[test]
fn what_goes_in_comes_out_after_a_restart() {
    let folder = Folder::new();
    let events: Vec<Event> = (0..20).map(note).collect();
    SqliteLedger::open(&folder.ledger()).unwrap().append(&events, at(100)).unwrap();
    let again = SqliteLedger::open_existing(&folder.ledger()).unwrap();
    let kept: Vec<Event> = again.events_after(0).unwrap().into_iter().map(|r| r.event).collect();
    assert_eq!(kept, events);
    assert_eq!(again.head().unwrap().seq, 20);
    assert!(matches!(again.verify().unwrap(), Verification::Sound(head) if head == again.head().unwrap()));
    assert_eq!(again.events_after(15).unwrap().len(), 5);
}

#[test]
fn the_file_alone_holds_everything_once_it_is_closed() {
    let folder = Folder::new();
    SqliteLedger::open(&folder.ledger()).unwrap().append(&[note(1), note(2)], at(3)).unwrap();
    let copy = folder.0.join("copy.db");
    std::fs::copy(folder.ledger(), &copy).unwrap();
    assert_eq!(SqliteLedger::open_existing(&copy).unwrap().head().unwrap().seq, 2);
    std::fs::write(folder.0.join("empty.db"), "").unwrap();
    let empty = SqliteLedger::open_existing(&folder.0.join("empty.db"));
    assert!(matches!(empty, Err(StoreError::NotALedger { .. })));
}

#[test]
fn sending_twice_records_once() {
    let folder = Folder::new();
    let ledger = SqliteLedger::open(&folder.ledger()).unwrap();
    let event = note(1);
    assert_eq!(ledger.append(std::slice::from_ref(&event), at(2)).unwrap(), [Appended::New { seq: 1 }]);
    assert_eq!(ledger.append(std::slice::from_ref(&event), at(3)).unwrap(), [Appended::Already { seq: 1 }]);
    let other = Event { body: Body::Note(Note { text: "something else".into() }), ..event };
    assert!(matches!(ledger.append(&[other], at(4)), Err(StoreError::Conflict { seq: 1, .. })));
    assert_eq!(ledger.head().unwrap().seq, 1);
}

#[test]
fn one_bad_event_records_none() {
    let folder = Folder::new();
    let ledger = SqliteLedger::open(&folder.ledger()).unwrap();
    let void = Body::Void(Void { event: Uuid::now_v7().to_string(), reason: "no such event".into() });
    let bad = Event { body: void, ..note(2) };
    assert!(matches!(ledger.append(&[note(1), bad], at(3)), Err(StoreError::Void { .. })));
    assert_eq!(ledger.head().unwrap().seq, 0);
}

#[test]
fn a_void_takes_back_once_and_never_a_void() {
    let folder = Folder::new();
    let ledger = SqliteLedger::open(&folder.ledger()).unwrap();
    let event = note(1);
    let void = |target: EventId, n: i64| Event {
        body: Body::Void(Void { event: target.to_string(), reason: "wrong".into() }),
        ..note(n)
    };
    let first = void(event.id, 2);
    ledger.append(&[event.clone(), first.clone()], at(3)).unwrap();
    assert!(matches!(ledger.append(&[void(event.id, 4)], at(5)), Err(StoreError::Void { .. })));
    assert!(matches!(ledger.append(&[void(first.id, 4)], at(5)), Err(StoreError::Void { .. })));
    assert_eq!(
        ledger.append(&[first], at(6)).unwrap(),
        [Appended::Already { seq: 2 }],
        "a retry is no second void"
    );
}

#[test]
fn every_kind_of_tampering_is_found_and_nothing_more_is_recorded() {
    let cases = [
        ("update event set body = replace(body, 'note 3', 'note 9') where seq = 4", 4),
        ("update event set author = 'Nobody' where seq = 1", 1),
        ("update event set occurred_at = '2020-01-01T00:00:00Z' where seq = 7", 7),
        ("delete from event where seq = 5", 6),
        ("update event set previous = zeroblob(32) where seq = 8", 8),
        ("update event set hash = x'00' where seq = 10", 10),
        ("update event set seq = 99 where seq = 10", 99),
        ("update event set body = '{' where seq = 2", 2),
        ("update event set version = -1 where seq = 3", 3),
    ];
    for (sql, found_at) in cases {
        let folder = Folder::new();
        let events: Vec<Event> = (0..10).map(note).collect();
        SqliteLedger::open(&folder.ledger()).unwrap().append(&events, at(100)).unwrap();
        tamper(&folder.ledger(), sql);
        let ledger = SqliteLedger::open_existing(&folder.ledger()).unwrap();
        match ledger.verify().unwrap() {
            Verification::Damaged { seq, .. } => assert_eq!(seq, found_at, "{sql}"),
            Verification::Sound(_) => panic!("not found: {sql}"),
        }
        assert!(matches!(ledger.append(&[note(50)], at(101)), Err(StoreError::Damaged { .. })), "{sql}");
    }
}

#[test]
fn a_changed_last_row_stops_the_next_entry_at_once() {
    let folder = Folder::new();
    SqliteLedger::open(&folder.ledger()).unwrap().append(&[note(1)], at(2)).unwrap();
    tamper(&folder.ledger(), "update event set author = 'Nobody'");
    let ledger = SqliteLedger::open(&folder.ledger()).unwrap();
    assert!(matches!(ledger.append(&[note(2)], at(3)), Err(StoreError::Damaged { seq: 1, .. })));
}

#[test]
fn the_database_itself_refuses_changes() {
    let folder = Folder::new();
    SqliteLedger::open(&folder.ledger()).unwrap().append(&[note(1)], at(2)).unwrap();
    let connection = rusqlite::Connection::open(folder.ledger()).unwrap();
    assert!(connection.execute("update event set author = 'x'", []).is_err());
    assert!(connection.execute("delete from event", []).is_err());
}

#[test]
fn a_full_disk_says_so_and_half_writes_nothing() {
    let folder = Folder::new();
    let ledger = SqliteLedger::open(&folder.ledger()).unwrap();
    ledger.append(&[note(1)], at(2)).unwrap();
    ledger.limit_pages(8).unwrap();
    let many: Vec<Event> = (10..2000).map(note).collect();
    assert!(matches!(ledger.append(&many, at(3)), Err(StoreError::DiskFull)));
    assert_eq!(ledger.head().unwrap().seq, 1);
    assert!(matches!(ledger.verify().unwrap(), Verification::Sound(_)));
    ledger.limit_pages(100_000).unwrap();
    ledger.append(&many, at(4)).unwrap();
    assert_eq!(ledger.head().unwrap().seq, 1991);
}

#[test]
fn files_that_are_no_ledger_are_refused_and_left_alone() {
    let folder = Folder::new();
    let path = folder.0.join("notes.txt");
    std::fs::write(&path, "this is not a database, and longer than a header would be, to be sure of it")
        .unwrap();
    assert!(matches!(SqliteLedger::open(&path), Err(StoreError::NotALedger { .. })));
    assert!(std::fs::read_to_string(&path).unwrap().starts_with("this is not"));

    let foreign = folder.0.join("other.db");
    rusqlite::Connection::open(&foreign).unwrap().execute_batch("create table t (x)").unwrap();
    assert!(matches!(SqliteLedger::open(&foreign), Err(StoreError::NotALedger { .. })));

    SqliteLedger::open(&folder.ledger()).unwrap();
    rusqlite::Connection::open(folder.ledger()).unwrap().execute_batch("pragma user_version = 99").unwrap();
    assert!(matches!(SqliteLedger::open(&folder.ledger()), Err(StoreError::Newer { found: 99, .. })));

    assert!(matches!(SqliteLedger::open_existing(&folder.0.join("none.db")), Err(StoreError::Access { .. })));
    assert!(!folder.0.join("none.db").exists(), "looking must not make a file");
}

#[test]
fn two_servers_on_one_database_are_one_too_many() {
    let folder = Folder::new();
    let first = ServingLock::acquire(&folder.ledger(), "the first").unwrap();
    match ServingLock::acquire(&folder.ledger(), "the second") {
        Err(StoreError::InUse { holder, .. }) => assert_eq!(holder, Holder::Named("the first".into())),
        other => panic!("{other:?}"),
    }
    drop(first);
    ServingLock::acquire(&folder.ledger(), "the third").unwrap();
}

#[test]
fn many_writers_at_once_lose_nothing() {
    let folder = Folder::new();
    let path = folder.ledger();
    SqliteLedger::open(&path).unwrap();
    let writers: Vec<_> = (0..4)
        .map(|writer| {
            let path = path.clone();
            std::thread::spawn(move || {
                let ledger = Arc::new(SqliteLedger::open(&path).unwrap());
                for n in 0..25 {
                    ledger.append(&[note(writer * 1000 + n)], at(n)).unwrap();
                }
            })
        })
        .collect();
    writers.into_iter().for_each(|writer| writer.join().unwrap());
    let ledger = SqliteLedger::open(&path).unwrap();
    assert_eq!(ledger.head().unwrap().seq, 100);
    assert!(matches!(ledger.verify().unwrap(), Verification::Sound(_)));
}
