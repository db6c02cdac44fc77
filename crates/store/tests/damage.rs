//! What happens to the file behind the program's back is named, stops entries, and is never shown as other figures.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use std::path::{Path, PathBuf};

use event::{Body, Event, EventId, Note};
use jiff::Timestamp;
use message::{Message, Tell, message};
use store::{Head, Ledger, Row, SqliteLedger, StoreError, Verification, chain};
use uuid::Uuid;

struct Folder(PathBuf);

impl Folder {
    fn new() -> Self {
        let path = std::env::temp_dir().join(format!("brinewright-damage-{}", Uuid::now_v7()));
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
        body: Body::Note(Note { text: format!("note {number} of the yard") }),
    }
}

/// A ledger of so many rows, closed; the events in it.
fn made(folder: &Folder, rows: i64) -> Vec<Event> {
    let events: Vec<Event> = (0..rows).map(note).collect();
    SqliteLedger::open(&folder.ledger()).unwrap().append(&events, at(1000)).unwrap();
    events
}

fn tamper(path: &Path, sql: &str) {
    let connection = rusqlite::Connection::open(path).unwrap();
    let triggers =
        "drop trigger if exists event_is_never_changed; drop trigger if exists event_is_never_deleted;";
    connection.execute_batch(triggers).unwrap();
    connection.execute_batch(sql).unwrap();
}

fn damaged(ledger: &SqliteLedger) -> Option<(u64, Message)> {
    match ledger.verify().unwrap() {
        Verification::Damaged { seq, reason } => Some((seq, reason)),
        Verification::Sound(_) => None,
    }
}

#[test]
fn a_text_that_is_none_is_damage_of_its_row_and_the_others_are_saved() {
    let folder = Folder::new();
    made(&folder, 8);
    tamper(&folder.ledger(), "update event set body = cast(x'7bff7d' as text) where seq = 5");
    let ledger = SqliteLedger::open_existing(&folder.ledger()).unwrap();
    // A read says so and stops entries, before anybody has checked the whole.
    assert!(ledger.events_after(0).is_err());
    assert!(matches!(ledger.append(&[note(50)], at(1001)), Err(StoreError::Damaged { .. })));
    let (seq, reason) = damaged(&ledger).unwrap();
    assert!(seq == 5 && reason.id() == "store.fault.unreadable", "{seq}: {reason}");
    let (sound, lost) = SqliteLedger::salvage(&folder.ledger()).unwrap();
    assert_eq!(sound.iter().map(|row| row.seq).collect::<Vec<_>>(), [1, 2, 3, 4, 6, 7, 8]);
    assert!(lost.len() == 1 && lost[0].0 == 5, "{lost:?}");
    let missing = Folder::new();
    made(&missing, 4);
    tamper(&missing.ledger(), "delete from event where seq = 2");
    let (sound, lost) = SqliteLedger::salvage(&missing.ledger()).unwrap();
    assert!(sound.len() == 3 && lost == [(2, message!("store.fault.not_there"))], "{lost:?}");
}

/// The id stands in the file twice, in the table and in its index: a changed letter in either is found.
#[test]
fn one_bad_letter_in_the_index_of_ids_is_found() {
    for place in 0..2 {
        let folder = Folder::new();
        let events = made(&folder, 6);
        let id = events[3].id.to_string();
        let mut bytes = std::fs::read(folder.ledger()).unwrap();
        let places: Vec<usize> = bytes
            .windows(id.len())
            .enumerate()
            .filter(|(_, w)| *w == id.as_bytes())
            .map(|(n, _)| n)
            .collect();
        assert_eq!(places.len(), 2, "in the table and in the index");
        bytes[places[place] + 30] ^= 1;
        std::fs::write(folder.ledger(), bytes).unwrap();
        let ledger = SqliteLedger::open_existing(&folder.ledger()).unwrap();
        assert!(damaged(&ledger).is_some(), "occurrence {place}");
        // The same entry sent again is not recorded a second time.
        assert!(ledger.append(&events[3..4], at(1002)).is_err());
    }
}

#[test]
fn triggers_and_tables_are_part_of_what_is_checked() {
    for (sql, says) in [
        (
            "drop trigger event_is_never_deleted",
            message!("store.fault.part_missing", kind = "trigger", name = "event_is_never_deleted"),
        ),
        ("create table more (x)", message!("store.fault.part_strange", kind = "table", name = "more")),
        (
            "create trigger t after insert on event begin select 1; end",
            message!("store.fault.part_strange", kind = "trigger", name = "t"),
        ),
    ] {
        let folder = Folder::new();
        made(&folder, 2);
        rusqlite::Connection::open(folder.ledger()).unwrap().execute_batch(sql).unwrap();
        let ledger = SqliteLedger::open_existing(&folder.ledger()).unwrap();
        let (seq, reason) = damaged(&ledger).expect(sql);
        assert_eq!((seq, &reason), (0, &says), "{sql}");
        let refused = ledger.append(&[note(9)], at(1003)).unwrap_err();
        assert_eq!(refused.message(), message!("store.damaged", reason = says));
    }
}

/// Taken away, replaced or cut while it is open: nothing is acknowledged that is not kept.
#[test]
fn the_file_that_is_open_is_the_file_that_is_there() {
    type Attack = fn(&Path);
    let attacks: [(&str, Attack); 3] = [
        ("store.file.gone", |path| std::fs::remove_file(path).unwrap()),
        ("store.file.another", |path| {
            let copy = path.with_extension("copy");
            std::fs::copy(path, &copy).unwrap();
            std::fs::rename(&copy, path).unwrap();
        }),
        ("store.file.cut", |path| {
            std::fs::OpenOptions::new().write(true).open(path).unwrap().set_len(0).unwrap();
        }),
    ];
    for (says, attack) in attacks {
        let folder = Folder::new();
        made(&folder, 3);
        let ledger = SqliteLedger::open_existing(&folder.ledger()).unwrap();
        ledger.append(&[note(10)], at(1004)).unwrap();
        attack(&folder.ledger());
        for n in 0..8 {
            match ledger.append(&[note(20 + n)], at(1005)) {
                Err(StoreError::Replaced { reason, .. }) => {
                    assert_eq!(reason.id(), says)
                }
                other => panic!("{says}: {other:?}"),
            }
        }
    }
}

/// Rows written anew with a chain that fits, as somebody who knows how would.
fn forge(path: &Path, from: u64) {
    let ledger = SqliteLedger::open_existing(path).unwrap();
    let rows = ledger.rows_after(0).unwrap();
    drop(ledger);
    let mut previous = chain::Hash::ORIGIN;
    for mut row in rows {
        if row.seq >= from {
            row.author = "Nobody".into();
            row.previous = previous;
            row.hash = chain::hash_of(&row);
            let Row { seq, author, previous, hash, .. } = &row;
            let hex = |hash: &chain::Hash| hash.to_string();
            tamper(
                path,
                &format!(
                    "update event set author = '{author}', previous = x'{}', hash = x'{}' where seq = {seq}",
                    hex(previous),
                    hex(hash)
                ),
            );
        }
        previous = row.hash;
    }
    // The triggers back as they were: the file is sound by itself.
    let fresh = Folder::new();
    made(&fresh, 1);
    let triggers: Vec<String> = {
        let connection = rusqlite::Connection::open(fresh.ledger()).unwrap();
        let mut all = connection.prepare("select sql from sqlite_master where type = 'trigger'").unwrap();
        all.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect()
    };
    rusqlite::Connection::open(path).unwrap().execute_batch(&triggers.join(";")).unwrap();
}

#[test]
fn a_cut_end_and_a_forged_chain_are_seen_by_what_is_kept_beside() {
    let folder = Folder::new();
    made(&folder, 9);
    let end = SqliteLedger::open_existing(&folder.ledger()).unwrap().head().unwrap();
    assert_eq!(Head::read(&end.to_string()), Some(end));
    forge(&folder.ledger(), 4);
    // By itself it is sound: only what was kept elsewhere tells.
    let alone = folder.0.join("alone.db");
    std::fs::copy(folder.ledger(), &alone).unwrap();
    assert!(damaged(&SqliteLedger::open_existing(&alone).unwrap()).is_none());
    let ledger = SqliteLedger::open_existing(&folder.ledger()).unwrap();
    assert!(matches!(ledger.append(&[note(30)], at(1006)), Err(StoreError::Damaged { .. })));
    let (seq, reason) = damaged(&ledger).unwrap();
    assert_eq!((seq, reason), (9, message!("store.fault.another_row")));
    assert!(SqliteLedger::open_existing(&alone).unwrap().holds(end).is_err());

    let cut = Folder::new();
    made(&cut, 9);
    let connection = rusqlite::Connection::open(cut.ledger()).unwrap();
    let sql: String = connection
        .query_row("select sql from sqlite_master where name = 'event_is_never_deleted'", [], |row| {
            row.get(0)
        })
        .unwrap();
    connection
        .execute_batch(&format!(
            "drop trigger event_is_never_deleted; delete from event where seq > 6; {sql};"
        ))
        .unwrap();
    drop(connection);
    let ledger = SqliteLedger::open_existing(&cut.ledger()).unwrap();
    let (seq, reason) = damaged(&ledger).unwrap();
    assert_eq!((seq, reason), (7, message!("store.fault.end_cut_off", row = 9)));
    // Put back on purpose, an older copy is accepted by a person, and goes on.
    let head = ledger.accept_end().unwrap();
    assert_eq!(head.seq, 6);
    ledger.append(&[note(40)], at(1007)).unwrap();
    assert!(damaged(&SqliteLedger::open_existing(&cut.ledger()).unwrap()).is_none());
}

/// A log whose newest part cannot be read takes acknowledged rows with it: that is told.
#[test]
fn a_damaged_log_that_loses_the_end_is_told() {
    let folder = Folder::new();
    let ledger = SqliteLedger::open(&folder.ledger()).unwrap();
    for n in 0..5 {
        ledger.append(&[note(n)], at(1008)).unwrap();
    }
    // As after a kill: the log is still there.
    let copy = folder.0.join("killed.db");
    let beside = |path: &Path, end: &str| PathBuf::from(format!("{}{end}", path.display()));
    for end in ["", "-wal", "-end"] {
        std::fs::copy(beside(&folder.ledger(), end), beside(&copy, end)).unwrap();
    }
    drop(ledger);
    let log = beside(&copy, "-wal");
    let mut bytes = std::fs::read(&log).unwrap();
    let last = bytes.len() - 2000;
    bytes[last] ^= 0x10;
    std::fs::write(&log, bytes).unwrap();
    let ledger = SqliteLedger::open_existing(&copy).unwrap();
    assert!(ledger.head().unwrap().seq < 5, "the log is read up to its damage");
    let (_, reason) = damaged(&ledger).unwrap();
    assert_eq!(reason, message!("store.fault.end_cut_off", row = 5));
}

/// Single bits anywhere in the file: named, refused, or without effect; never a panic, never other figures.
#[test]
fn no_single_bit_changes_a_figure_unseen() {
    const FLIPS: u64 = 240;
    let folder = Folder::new();
    let events = made(&folder, 40);
    let whole = std::fs::read(folder.ledger()).unwrap();
    let mut state = 20_261_129_u64;
    let (mut named, mut without_effect) = (0, 0);
    for flip in 0..FLIPS {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let place = (state >> 20) as usize % (whole.len() * 8);
        let mut bytes = whole.clone();
        bytes[place / 8] ^= 1 << (place % 8);
        let path = folder.0.join(format!("flip-{flip}.db"));
        std::fs::write(&path, &bytes).unwrap();
        let Ok(ledger) = SqliteLedger::open_existing(&path) else {
            named += 1;
            continue;
        };
        let read = ledger.events_after(0);
        let is_damaged = ledger.verify().map_or(true, |found| matches!(found, Verification::Damaged { .. }));
        if is_damaged {
            named += 1;
            assert!(ledger.append(&[note(77)], at(1009)).is_err(), "bit {place}: damaged, and takes entries");
        } else {
            let same = read.unwrap().into_iter().map(|recorded| recorded.event).eq(events.iter().cloned());
            assert!(same, "bit {place}: other figures, and nothing says so");
            without_effect += 1;
        }
    }
    assert!(named > 0 && named + without_effect == FLIPS, "{named} {without_effect}");
}

#[test]
fn a_bit_of_the_peoples_file_lets_nobody_in_who_was_not() {
    use site::people::{Person, Role};
    use store::people::PeopleFile;
    let folder = Folder::new();
    let path = folder.0.join("people.db");
    let ines = Person {
        id: Uuid::now_v7(),
        name: "Ines".into(),
        role: Role::Supervisor,
        password: Some("a hash".into()),
        pin: None,
        is_active: true,
        made_at: at(0),
    };
    let file = PeopleFile::open(&path).unwrap();
    file.put_person(&ines).unwrap();
    file.put_person(&Person { id: Uuid::now_v7(), name: "Lou".into(), role: Role::Viewer, ..ines }).unwrap();
    drop(file);
    PeopleFile::open(&path).unwrap();
    // Behind the program's back: somebody becomes a supervisor, by a bit or by hand.
    for sql in [
        "update person set role = 'supervisor' where name = 'Lou'",
        "update person set is_active = 0 where name = 'Lou'",
        "update person set password = 'b hash'",
        "delete from person where name = 'Lou'",
    ] {
        let copy = folder.0.join("copy.db");
        std::fs::copy(&path, &copy).unwrap();
        rusqlite::Connection::open(&copy).unwrap().execute_batch(sql).unwrap();
        let Err(StoreError::Access { reason, .. }) = PeopleFile::open(&copy) else { panic!("{sql}") };
        let changed = message!("store.people.changed");
        assert_eq!(reason, message!("store.people.damaged", what = changed), "{sql}");
    }
    // The program's own changes are no damage, and nor is what changes every minute.
    let file = PeopleFile::open(&path).unwrap();
    file.note(at(1), "Ines", &store::people::Act::FirstSupervisor).unwrap();
    file.remember("key", "value").unwrap();
    drop(file);
    PeopleFile::open(&path).unwrap();
}
