//! What was done to people and devices is kept as data, and what older programs wrote of it stays readable.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use jiff::Timestamp;
use message::{Message, Tell, message, said};
use site::people::Role;
use store::people::{Act, Changed, PeopleFile};
use store::{StoreError, Taken};

fn at(second: i64) -> Timestamp {
    Timestamp::from_second(1_700_000_000 + second).unwrap()
}

struct Folder(std::path::PathBuf);

impl Folder {
    fn new() -> Self {
        let path = std::env::temp_dir().join(format!("brinewright-people-{}", uuid::Uuid::now_v7()));
        std::fs::create_dir(&path).unwrap();
        Self(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // The system clears what is left.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

#[test]
fn acts_are_kept_as_data_and_old_rows_are_shown_as_they_are() {
    let folder = Folder::new();
    let path = folder.0.join("people.db");
    let old = "Pat changed: role operator, PIN, before: Patricia";
    {
        PeopleFile::open(&path).unwrap();
        let connection = rusqlite::Connection::open(&path).unwrap();
        connection
            .execute("insert into act values (?1, 'Ines', ?2)", [at(0).to_string(), old.to_owned()])
            .unwrap();
    }
    let file = PeopleFile::open(&path).unwrap();
    let what =
        vec![Changed::Role(Role::Operator), Changed::Pin, Changed::NameBefore("{\"id\":\"x\"}".into())];
    let acts = [
        Act::FirstSupervisor,
        Act::Added { name: "Pat".into(), what: Vec::new() },
        Act::Changed { name: "Pat".into(), what },
        Act::WrongPassword { name: "pat".into() },
    ];
    for (act, second) in acts.iter().zip(1..) {
        file.note(at(second), "Ines", act).unwrap();
    }
    let kept: Vec<Message> = file.notes(10).unwrap().into_iter().map(|(_, _, what)| what).rev().collect();
    let mut expected = vec![said(old)];
    expected.extend(acts.iter().map(Tell::message));
    assert_eq!(kept, expected);
    let role = message!("store.act.role", role = Message::from("role.operator"));
    let before = message!("store.act.name_before", name = "{\"id\":\"x\"}");
    let what = vec![role.into(), message!("store.act.pin").into(), before.into()];
    assert_eq!(kept[3], message!("store.act.changed_with", name = "Pat", what = what));
}

#[test]
fn a_refusal_names_values_not_sentences() {
    let refused = StoreError::Newer { path: "ledger.db".into(), found: 9, known: 1 };
    assert_eq!(refused.message(), message!("store.newer", path = "ledger.db", found = 9, known = 1));
    assert_eq!(refused.to_string(), "store.newer (path = ledger.db, found = 9, known = 1)");
    assert_eq!(StoreError::Taken(Taken::Name).message(), message!("store.taken.name"));
}
