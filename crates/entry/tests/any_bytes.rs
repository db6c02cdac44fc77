//! Aim: nothing that a person, a file or a table gives stops or hangs the program; what is taken in is what its
//! description says, and can be kept and read back.
//! Method: texts at random, and good samples damaged at random: yard files, tables of tanks, entries field by field,
//! tables of entries, bodies of the ledger, names, PINs and months.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use accounts::Journal;
use any_bytes::{cases, damaged_text, is_finite_throughout, number, soon, text, typed};
use common::sample_yard;
use entry::{import, judge, parse_number, read_body};
use event::{Body, EVENT_VERSION, Event, EventId, Holds, KINDS, Kind, Recorded, kind_named};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use proptest::prelude::*;
use serde_json::{Map, Value};
use site::Yard;
use site::yard_file::{read_yard, sample_yard_file};
use std::sync::LazyLock;
use uuid::Uuid;
use yard::stock::Books;

static YARD: LazyLock<Yard> = LazyLock::new(sample_yard);

fn now() -> Timestamp {
    "2027-01-15T12:00:00Z".parse().unwrap()
}

fn row(seq: u64, body: Body) -> Recorded {
    let at = Timestamp::from_second(1_700_000_000 + seq as i64 * 60).unwrap();
    let id = EventId(Uuid::from_u128(u128::from(seq)));
    let event = Event { id, occurred_at: at, author: "Pat".into(), device: "test".into(), body };
    Recorded { seq, recorded_at: at, event }
}

/// What an entry that was taken in must be: every figure within what its field says, kept as it is, and told.
fn is_as_described(body: &Body) -> Result<(), TestCaseError> {
    let kind = kind_named(body.kind()).unwrap();
    let text = body.to_json().unwrap();
    prop_assert_eq!(&Body::from_json(body.kind(), EVENT_VERSION, &text).unwrap(), body);
    let object: Map<String, Value> = serde_json::from_str(&text).unwrap();
    for field in kind.fields {
        let Some(value) = object.get(field.name) else { continue };
        match (field.spec.holds, value) {
            (Holds::Figure(figure), Value::Number(number)) => {
                let value = number.as_f64().unwrap();
                let hair = 1e-9 * figure.low.abs().max(figure.high.abs());
                let is_within = figure.low - hair <= value && value <= figure.high + hair;
                prop_assert!(is_within, "{} {} = {value}", kind.name, field.name);
                prop_assert!(!figure.is_above_low || figure.low < value, "{} {}", kind.name, field.name);
            }
            (Holds::OneOf(words, _), Value::String(word)) => prop_assert!(words.contains(&word.as_str())),
            (Holds::Event, Value::String(id)) => prop_assert!(id.parse::<EventId>().is_ok()),
            (Holds::Time, Value::String(time)) => prop_assert!(time.parse::<Timestamp>().is_ok()),
            (Holds::Month, Value::String(month)) => {
                let digits: Vec<&str> = month.split('-').collect();
                let is_month = digits.len() == 2 && digits[0].len() == 4 && digits[1].len() == 2;
                prop_assert!(is_month && month.is_ascii(), "{month} is taken for a month");
            }
            (Holds::Figures(_), Value::String(kept)) => {
                prop_assert!(entry::figures(kept).iter().all(|figure| figure.is_finite()));
            }
            (_, Value::String(_)) => {}
            (holds, value) => prop_assert!(false, "{} {holds:?} holds {value}", field.name),
        }
    }
    Ok(())
}

/// Fields of a kind with what anybody may type: under their own names in any unit, and under others.
fn anything_typed() -> impl Strategy<Value = (&'static Kind, Vec<(String, String)>)> {
    common::any_kind().prop_flat_map(|kind| {
        let names: Vec<String> = kind
            .fields
            .iter()
            .chain(kind.helpers)
            .flat_map(|field| {
                field.names().into_iter().map(|(name, _)| name).chain([field.stem().to_owned()])
            })
            .collect();
        let name = prop_oneof![9 => prop::sample::select(names), 1 => "[a-z_]{1,12}"];
        let replaced = prop::collection::vec((name, typed()), 1..4);
        (Just(kind), common::typed_fields(kind, &YARD), replaced).prop_map(|(kind, mut fields, replaced)| {
            for (name, text) in replaced {
                fields.retain(|(known, _)| *known != name);
                fields.push((name, text));
            }
            (kind, fields)
        })
    })
}

/// A body of a kind as the ledger keeps it, damaged: its text, or a number in it.
fn damaged_body() -> impl Strategy<Value = (&'static Kind, String)> {
    common::any_kind().prop_flat_map(|kind| {
        let good = common::kept_body(kind, &YARD);
        (Just(kind), good.prop_flat_map(|text| prop_oneof![damaged_text(&[&text]), Just(text)]))
    })
}

/// Tables as people keep them.
const TABLES: [(&str, &str); 4] = [
    (
        "application",
        "at,author,route,treated,salt_lb,lane_mi\n\
         2027-01-14 05:40,Pat,R1,liquid,1200,14.5\n2027-01-14T10:40:00Z,Lee,R2,dry,900,\n",
    ),
    (
        "making_run",
        "at;tank;volume_gal;strength_pct;salt_lb\n2027-01-13 06:00;1;2000;23,3;5600\n\
         2027-01-13 09:00;2;1500;23,1;\n",
    ),
    (
        "dip",
        "at\tauthor\ttank\tdepth\n2027-01-14 05:40\tPat\t1\t4 ft 7 in\n2027-01-14 06:00\tPat\t3\t1.4 m\n",
    ),
    (
        "meter_reading",
        "at,meter,total_gal\n2027-01-14 05:40,loading,120345\n2027-01-14 17:40,loading,121000.5\n",
    ),
];

fn damaged_table() -> impl Strategy<Value = (&'static str, String)> {
    prop::sample::select(&TABLES[..]).prop_flat_map(|(kind, table)| (Just(kind), damaged_text(&[table])))
}

fn imported(kind: &str, table: &str) -> Result<(), TestCaseError> {
    let zone = TimeZone::get("America/New_York").unwrap();
    let books = Books::opening(&YARD);
    match import(table, kind, (&YARD, &books), &zone, now()) {
        Err(problems) => {
            prop_assert!(!problems.is_empty());
            let lines = table.lines().count() as u64 + 1;
            for problem in &problems {
                prop_assert!((1..=lines).contains(&problem.line), "line {} of {lines}", problem.line);
            }
        }
        Ok(rows) => {
            let mut ids: Vec<EventId> = rows.iter().map(|row| row.id).collect();
            ids.sort();
            ids.dedup();
            prop_assert_eq!(ids.len(), rows.len(), "two rows with one id");
            for row in &rows {
                prop_assert!(
                    row.at <= now() && "1999-12-31T12:00:00Z".parse::<Timestamp>().unwrap() < row.at
                );
                is_as_described(&row.body)?;
            }
            let count = rows.len();
            prop_assert_eq!(judge(rows, &YARD, books, &[], now()).len(), count);
        }
    }
    Ok(())
}

/// A month, and what is more than one.
const MONTHS: [&str; 7] = [
    "2027-01",
    "2027-01-14",
    "2027-01-14T05:40",
    "2027-01-14T05:40:00",
    "202701",
    "+002027-01",
    "2027-01-14T05:40:00[America/New_York]",
];

proptest! {
    #![proptest_config(cases(96))]

    #[test]
    fn damaged_yard_files_are_answered(
        file in damaged_text(&[&sample_yard_file(), include_str!("../../../examples/alder_fork.toml")]),
    ) {
        match soon(|| read_yard(&file, "yard.toml")) {
            Ok(yard) => {
                prop_assert!(is_finite_throughout(&yard));
                let books = Books::opening(&yard);
                prop_assert!(is_finite_throughout(&books.tanks));
                let _ = yard::due::due(&yard, &books, now());
            }
            Err(problems) => {
                prop_assert!(!problems.is_empty() && problems.is_sorted_by_key(|problem| problem.line));
                prop_assert!(problems.iter().all(|problem| problem.line <= file.lines().count() + 1));
            }
        }
    }

    #[test]
    fn damaged_tables_of_tanks_are_answered(table in damaged_text(&[include_str!("../../site/tests/data/tank_volume.csv")])) {
        if let Ok(filled) = soon(|| site::strapping::strap_csv(&table, ToString::to_string)) {
            let body: String = filled.lines().filter(|line| !line.starts_with('#')).collect::<Vec<_>>().join("\n");
            let mut reader = csv::Reader::from_reader(body.as_bytes());
            let place = reader.headers().unwrap().iter().position(|head| head == "volume_m3").unwrap();
            for row in reader.records().filter_map(Result::ok) {
                let cell = &row[place];
                let is_volume = cell.parse::<f64>().is_ok_and(|volume| 0.0 <= volume && volume.is_finite());
                prop_assert!(cell.is_empty() || is_volume, "a volume of {cell}");
            }
        }
    }

    #[test]
    fn any_table_of_tanks_is_answered(table in text()) {
        let _ = soon(|| site::strapping::strap_csv(&table, ToString::to_string));
        let head = include_str!("../../site/tests/data/tank_volume.csv").lines().find(|line| !line.starts_with('#')).unwrap();
        let _ = soon(|| site::strapping::strap_csv(&format!("{head}\n{table}"), ToString::to_string));
    }

    #[test]
    fn whatever_is_typed_into_an_entry_is_refused_or_as_described((kind, fields) in anything_typed()) {
        let books = Books::opening(&YARD);
        match soon(|| read_body(kind.name, &fields, (&YARD, &books))) {
            Ok(body) => {
                is_as_described(&body)?;
                let _ = entry::doubts(&body, &YARD, &books);
            }
            Err(problems) => {
                // Each says what is wrong and what is accepted: by the id of a text, of the crate that says it.
                let has_text = |message: &message::Message| message.id().contains('.');
                let is_told = problems.iter().all(|one| has_text(&one.problem) && has_text(&one.accepted));
                prop_assert!(is_told, "{problems:?}");
            }
        }
    }

    #[test]
    fn any_kind_and_any_field_is_answered(kind in text(), name in text(), value in text()) {
        let books = Books::empty(&YARD);
        prop_assert!(read_body(&kind, &[(name.clone(), value.clone())], (&YARD, &books)).is_err());
        let _ = read_body("note", &[(name, value)], (&YARD, &books));
    }

    #[test]
    fn a_number_as_typed_is_finite_or_refused(typed in prop_oneof![typed(), number(), text()]) {
        if let Ok(number) = parse_number(&typed) {
            prop_assert!(number.is_finite(), "{typed}");
            prop_assert!(!typed.trim().contains(|c: char| c.is_whitespace() || c == '_'), "{typed}");
        }
    }

    #[test]
    fn damaged_tables_of_entries_are_answered((kind, table) in damaged_table()) {
        soon(|| imported(kind, &table))?;
    }

    #[test]
    fn any_table_of_entries_is_answered(place in 0..KINDS.len(), table in text()) {
        soon(|| imported(KINDS[place].name, &table))?;
        soon(|| imported(KINDS[place].name, &format!("at,tank\n{table}")))?;
    }

    /// The ledger's text is hashed, and yet one that fits its hash may come from another program: whatever bodies it
    /// holds, the books are made of them.
    #[test]
    fn whatever_the_ledger_holds_is_folded(bodies in prop::collection::vec(damaged_body(), 1..12)) {
        let read = |(kind, text): &(&Kind, String)| Body::from_json(kind.name, EVENT_VERSION, text).ok();
        let rows: Vec<Recorded> =
            bodies.iter().filter_map(read).enumerate().map(|(n, body)| row(n as u64 + 1, body)).collect();
        soon(|| {
            let books = Books::fold(&YARD, &rows);
            let journal = Journal::new(&YARD, &rows);
            let _ = journal.accounts(journal.whole());
            let _ = (books.close(), yard::due::due(&YARD, &books, now()));
            for tank in &YARD.tanks {
                let _ = books.tank(&tank.id).map(|book| (book.volume(&YARD), book.strength()));
            }
        });
    }

    #[test]
    fn whatever_was_entered_gives_finite_books(
        entries in prop::collection::vec(anything_typed(), 1..12),
    ) {
        let mut books = Books::opening(&YARD);
        let mut rows = Vec::new();
        for (kind, fields) in entries {
            if let Ok(body) = read_body(kind.name, &fields, (&YARD, &books)) {
                rows.push(row(rows.len() as u64 + 1, body));
                books = Books::fold(&YARD, &rows);
            }
        }
        prop_assert!(is_finite_throughout(&books.tanks), "{:?}", rows);
        prop_assert!(is_finite_throughout(&books.totals), "{:?}", rows);
    }

    #[test]
    fn names_pins_and_passwords_are_answered(one in text(), other in text()) {
        if let Ok(name) = site::people::fit_name(&one) {
            prop_assert_eq!(site::people::fit_name(&name), Ok(name.clone()));
            prop_assert!(site::people::is_alike(&name, &name));
        }
        prop_assert_eq!(site::people::is_alike(&one, &other), site::people::is_alike(&other, &one));
        let _ = (site::people::fit_pin(&one), site::people::Role::named(&one));
        let _ = soon(|| site::people::fit_password(&one, &other));
    }

    #[test]
    fn a_month_is_one_or_none(
        text in prop_oneof![text(), damaged_text(&MONTHS), prop::sample::select(&MONTHS[..]).prop_map(str::to_owned)],
    ) {
        if let Some((from, to)) = yard::calendar::month_span(&text, &TimeZone::UTC) {
            let days = to.duration_since(from).as_hours() / 24;
            prop_assert!((28..=31).contains(&days) && text.len() == 7, "{text}: {days} days");
        }
    }
}

/// What the draws above begin from is good: damage of what nobody would take in tries nothing.
#[test]
fn the_samples_are_taken_in() {
    let zone = TimeZone::get("America/New_York").unwrap();
    let books = Books::opening(&YARD);
    for (kind, table) in TABLES {
        let rows = import(table, kind, (&YARD, &books), &zone, now());
        assert_eq!(rows.map(|rows| rows.len()), Ok(2), "{kind}");
    }
    assert!(read_yard(&sample_yard_file(), "yard.toml").is_ok());
}
