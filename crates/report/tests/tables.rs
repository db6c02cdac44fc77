//! The books' tables: what a page shows, a CSV file holds and a spreadsheet opens are one table.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use std::io::{Cursor, Read};

use accounts::{Period, WholeLedger};
use common::{readers, yard};
use event::{Body, Event, EventId, Recorded};
use jiff::{SignedDuration, Timestamp};
use report::Teller;
use report::display::number;
use report::table::{Cell, Kind, Table, workbook};
use roxmltree::Document;
use site::{UnitSystem, Yard};
use uuid::Uuid;
use yard::stock::Books;

fn begin() -> Timestamp {
    "2012-12-01T12:00:00Z".parse().unwrap()
}

/// Brine made, loaded, brought back; salt delivered.
fn events(yard: &Yard) -> Vec<Recorded> {
    let entries: [(&str, &[(&str, &str)]); 4] = [
        (
            "making_run",
            &[("tank", "1"), ("volume_gal", "2000"), ("strength_pct", "23.3"), ("salt_lb", "5000")],
        ),
        (
            "load_out",
            &[("truck", "T1"), ("tank", "1"), ("route", "R1"), ("volume_gal", "1500"), ("how", "meter")],
        ),
        ("return_to_tank", &[("truck", "T1"), ("tank", "1"), ("volume_gal", "250"), ("how", "meter")]),
        (
            "load_out",
            &[("truck", "T2"), ("tank", "1"), ("route", "R2"), ("volume_gal", "1000"), ("how", "meter")],
        ),
    ];
    let mut all = Vec::new();
    for (seq, (kind, fields)) in (1..).zip(entries) {
        let fields: Vec<(String, String)> =
            fields.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect();
        let books = Books::fold(yard, &all);
        let body: Body = entry::read_body(kind, &fields, (yard, &books))
            .unwrap_or_else(|problems| panic!("{kind}: {problems:?}"));
        let at = begin() + SignedDuration::from_hours(i64::try_from(seq).unwrap());
        let (author, device) = ("Pat".into(), "test".into());
        let id = EventId(Uuid::from_u128(u128::from(seq)));
        let event = Event { id, occurred_at: at, author, device, body };
        all.push(Recorded { seq, recorded_at: at, event });
    }
    all
}

fn tables(yard: &Yard, teller: &Teller<'_>) -> Vec<Table> {
    let whole = WholeLedger::read(yard, events(yard));
    let period = Period { from: begin(), until: begin() + SignedDuration::from_hours(48) };
    teller.account_tables(&whole.journal(yard).accounts(period), &[])
}

/// A sheet, row by row: columns that hold something, each a number or a text.
type Sheet = Vec<Vec<(usize, Result<f64, String>)>>;

/// The cells of every sheet of a workbook, row by row: a text, or a number.
fn sheets(bytes: Vec<u8>, count: usize) -> Vec<Sheet> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut part = |name: &str| {
        let mut text = String::new();
        archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
        text
    };
    let shared = part("xl/sharedStrings.xml");
    let shared = Document::parse(&shared).unwrap();
    let strings: Vec<String> = shared
        .root_element()
        .children()
        .filter(|node| node.is_element())
        .map(|item| item.descendants().filter_map(|node| node.text().filter(|_| node.is_text())).collect())
        .collect();
    (1..=count)
        .map(|sheet| {
            let text = part(&format!("xl/worksheets/sheet{sheet}.xml"));
            let parsed = Document::parse(&text).unwrap();
            let rows = parsed.descendants().filter(|node| node.tag_name().name() == "row");
            let cell = |node: roxmltree::Node<'_, '_>| {
                let place = node.attribute("r").unwrap().bytes().next().unwrap() - b'A';
                let value = node.descendants().find(|node| node.tag_name().name() == "v")?.text()?.to_owned();
                Some((
                    usize::from(place),
                    match node.attribute("t") {
                        Some("s") => Err(strings[value.parse::<usize>().unwrap()].clone()),
                        _ => Ok(value.parse().unwrap()),
                    },
                ))
            };
            rows.map(|row| row.children().filter_map(cell).collect()).collect()
        })
        .collect()
}

#[test]
fn page_csv_and_spreadsheet_agree_cell_by_cell() {
    let yard = yard();
    for display in readers() {
        let teller = Teller { words: &display.words, display: &display, yard: &yard };
        let tables = tables(&yard, &teller);
        let sheets = sheets(workbook("Season", &tables, &display).unwrap(), tables.len());
        for (table, sheet) in tables.iter().zip(&sheets) {
            let csv = table.csv(&display).unwrap();
            let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(csv.as_bytes());
            let lines: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
            assert_eq!(lines.len(), table.rows.len() + 1, "{}", table.key);
            let heads: Vec<&str> = lines[0].iter().collect();
            assert_eq!(heads, table.heads(display.units), "{}", table.key);
            for (place, (row, line)) in table.rows.iter().zip(&lines[1..]).enumerate() {
                // Title, table's title and heads stand above.
                let in_sheet = &sheet[place + 3];
                for (column, cell) in row.cells.iter().enumerate() {
                    let shown = table.shown(column, cell, display.units);
                    let kept = in_sheet.iter().find(|(at, _)| *at == column).map(|(_, value)| value);
                    match cell {
                        Cell::Blank => assert!(line[column].is_empty() && shown.is_empty() && kept.is_none()),
                        Cell::Text(text) => {
                            assert_eq!(
                                (&shown, line[column].trim_start_matches('\'')),
                                (text, text.as_str())
                            );
                            assert!(text.is_empty() || kept == Some(&Err(text.clone())), "{kept:?}: {text}");
                        }
                        Cell::Number(_) => {
                            let value: f64 = line[column].parse().unwrap();
                            let in_sheet = *kept.unwrap().as_ref().unwrap();
                            assert!((value - in_sheet).abs() < 1e-6, "{value} and {in_sheet}");
                            let decimals = shown.split_once('.').map_or(0, |(_, after)| after.len());
                            let rounded = number(value, decimals);
                            // The file's sixth decimal may turn a half the other way.
                            let near =
                                |text: &str| text.replace(',', "").replace('−', "-").parse::<f64>().unwrap();
                            let apart = (near(&shown) - near(&rounded)).abs();
                            assert!(
                                shown == rounded || (value.fract().abs() - 0.5).abs() < 1e-5,
                                "{shown} {rounded} {apart}"
                            );
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn the_liquids_account_counts_what_was_entered() {
    let yard = yard();
    let mut seen = 0;
    for display in readers().into_iter().filter(|display| display.units == UnitSystem::Us) {
        let teller = Teller { words: &display.words, display: &display, yard: &yard };
        let tables = tables(&yard, &teller);
        let liquids = tables.iter().find(|table| table.key == "liquids").unwrap();
        let volume = liquids.columns.iter().position(|column| column.kind == Kind::Volume).unwrap();
        let shown: Vec<String> = liquids
            .rows
            .iter()
            .map(|row| liquids.shown(volume, &row.cells[volume], UnitSystem::Us))
            .collect();
        // 2,000 gal made, 2,500 gal loaded, 250 gal brought back: whatever the language calls the lines.
        for expected in ["2,000", "2,500", "250"] {
            assert!(
                shown.iter().any(|text| text.trim_start_matches('−') == expected),
                "{expected}: {shown:?}"
            );
            seen += 1;
        }
    }
    assert_eq!(seen, 9);
}

/// What the criteria say of chloride is told with the figures, and as what can happen; tables and their notes name no
/// unit that the reader did not choose.
#[test]
fn tables_tell_criteria_as_such_and_one_system_of_units() {
    let yard = yard();
    for display in readers() {
        let teller = Teller { words: &display.words, display: &display, yard: &yard };
        let notes: Vec<String> = tables(&yard, &teller).into_iter().flat_map(|table| table.notes).collect();
        let notes = notes.join("\n");
        for figure in ["230", "860", "250"] {
            assert!(notes.contains(&format!("{figure} mg/L")), "{figure}: {notes}");
        }
        if display.words.language() == report::Language::En {
            assert!(notes.contains(" can harm ") && !notes.contains(" harms "), "{notes}");
        }
        let others: &[&str] = match display.units {
            UnitSystem::Us => &[" metric ton", "15.6", "°C", " liter"],
            UnitSystem::Si => &["short ton", "60 °F", "°F", " gal"],
        };
        let heads: Vec<String> = tables(&yard, &teller)
            .into_iter()
            .flat_map(|table| table.columns.into_iter().map(|column| column.label))
            .collect();
        for other in others {
            assert!(
                !notes.contains(other) && !heads.iter().any(|head| head.contains(other)),
                "{other}: {notes} {heads:?}"
            );
        }
    }
}
