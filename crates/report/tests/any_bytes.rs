//! Aim: whatever a browser wishes and whatever stands in a text, a page is made, in a language that there is.
//! Method: headers and texts at random, sentences damaged; a table of any texts as CSV and as a workbook.

use any_bytes::{cases, damaged_text, soon, text};
use jiff::tz::TimeZone;
use message::message;
use proptest::prelude::*;
use report::table::{Cell, Kind, Table, qr, workbook};
use report::{Display, Language, Words};
use site::UnitSystem;

const HEADERS: [&str; 5] = [
    "en-US,en;q=0.9",
    "fr-CA, fr;q=0.8, en;q=0.5, *;q=0.1",
    "es",
    "de;q=1,es-419;q=0.7",
    "es;q=0.001,fr;q=1e308,en;q=NaN",
];
/// Sentences as rows of before hold them.
const SAID: [&str; 4] = [
    "volume_m3 = 1: is needed; accepted: volume_m3, volume_l, volume_gal",
    "depth 9 m is outside 0…4 m, the inside height of the tank",
    "no such tank; did you mean \"1\"?",
    "must be above zero",
];

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn any_wish_for_a_language_is_one_or_none(header in prop_oneof![text(), damaged_text(&HEADERS)]) {
        let wished = soon(|| Language::wished(&header));
        if let Some(language) = wished {
            prop_assert!(header.to_ascii_lowercase().contains(language.tag()));
        }
        prop_assert!(Language::tagged(&header).is_none_or(|language| Language::ALL.contains(&language)));
    }

    #[test]
    fn any_sentence_is_told_again(sentence in prop_oneof![text(), damaged_text(&SAID)]) {
        for language in Language::ALL {
            let words = Words::of(*language);
            let display = Display::new(UnitSystem::Us, TimeZone::UTC).in_words(words);
            let told = soon(|| display.tell(&message::said(&sentence)));
            prop_assert_eq!(&told, &sentence, "a sentence of before is shown as it is");
            let named = soon(|| display.tell(&message!("load.saved", seq = &sentence)));
            prop_assert!(named.contains(&sentence), "{named}");
            prop_assert!(words.knows(&sentence) || words.say(&sentence).len() == sentence.len());
            let _ = words.fill("load.saved", &[("seq", &sentence)]);
        }
    }

    #[test]
    fn any_text_stands_in_a_table_and_its_files(texts in prop::collection::vec(text(), 1..5), value: f64) {
        let mut table = Table::new("routes", "Routes", &[("Text", Kind::Text), ("Mass", Kind::Mass)]);
        for text in &texts {
            table.row(vec![Cell::Text(text.clone()), Cell::Number(value)]);
        }
        for units in [UnitSystem::Us, UnitSystem::Si] {
            let display = Display::new(units, TimeZone::UTC);
            let csv = soon(|| table.csv(&display)).expect("is written");
            let mut reader = csv::Reader::from_reader(csv.as_bytes());
            let cells: Vec<String> = reader.records().map(|row| row.expect("a row")[0].to_owned()).collect();
            prop_assert_eq!(cells.len(), texts.len());
            for (cell, text) in cells.iter().zip(&texts) {
                prop_assert!(cell == text || cell.strip_prefix('\'') == Some(text));
                prop_assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r']), "a formula: {cell:?}");
            }
            let _ = table.shown(1, &Cell::Number(value), units);
        }
        let _ = soon(|| workbook("Books", &[table], &Display::new(UnitSystem::Us, TimeZone::UTC)).is_ok());
    }

    #[test]
    fn any_text_is_a_square_code_or_none(text in text()) {
        if let Ok(code) = soon(|| qr(&text, "an address")) {
            prop_assert!(code.starts_with("<svg") && !code.contains("<script"));
        }
    }
}
