//! Rules for Rust files.

use super::{Source, hold, shown};

/// rustfmt keeps code to 110; this is the end of what it cannot break.
const LINE_MAX: usize = 120;

/// Longest Rust file, lines: what one sitting reads. Files of data below a folder of that name may be longer.
const FILE_MAX: usize = 500;
/// The one table that is longer: what can happen, kind by kind and field by field. It holds no code.
const TABLE: &str = "crates/event/src/kinds.rs";

/// A line may be longer when texts in quotes take this much of it: breaking a message makes it harder to find, and
/// breaking a row of a table of them harder to read. So may a web address, and a row of a table in a comment.
const LONG_TEXT: usize = 20;

/// Words that must not be merged. Written in halves so that this file may be read by its own rule.
const BANNED: [&str; 3] = [concat!("todo", "!("), concat!("dbg", "!("), concat!("FIX", "ME")];

const LATER: &str = concat!("TO", "DO");

/// How a database is spoken to, in capitals as the store writes it.
const DATABASE_WORDS: [&str; 5] = [
    concat!("SEL", "ECT "),
    concat!("INS", "ERT "),
    concat!("UPD", "ATE "),
    concat!("DEL", "ETE FROM"),
    concat!("CREATE ", "TABLE"),
];

fn files_are_short(source: &Source) -> Vec<String> {
    let length = source.text.lines().count();
    let is_ours = source.is_rust() && !source.path.contains("/data/") && source.path != TABLE;
    let fault = || source.fault(0, &format!("{length} lines; accepted: {FILE_MAX}. Split it by idea"));
    (is_ours && FILE_MAX < length).then(fault).into_iter().collect()
}

fn lines_are_short(source: &Source) -> Vec<String> {
    if !source.is_rust() {
        return Vec::new();
    }
    source.lines_that(|line| {
        let length = line.chars().count();
        let excused = length_in_quotes(line) >= LONG_TEXT || line.contains("://") || is_table_row(line);
        (length > LINE_MAX && !excused).then(|| format!("{length} characters"))
    })
}

/// How much of a line stands between double quotes.
fn length_in_quotes(line: &str) -> usize {
    let pieces = line.split('"').enumerate();
    pieces.filter(|(index, _)| index % 2 == 1).map(|(_, piece)| piece.chars().count()).sum()
}

fn is_table_row(line: &str) -> bool {
    let line = line.trim_start();
    line.starts_with("//") && line.matches('|').count() >= 3
}

fn nothing_is_left_unfinished(source: &Source) -> Vec<String> {
    if !source.is_rust() {
        return Vec::new();
    }
    source.lines_that(|line| {
        if let Some(word) = BANNED.iter().find(|word| line.contains(*word)) {
            return Some(format!("{word} may not stay"));
        }
        let (_, after) = line.split_once(LATER)?;
        let numbered =
            after.split('#').skip(1).any(|number| number.starts_with(|c: char| c.is_ascii_digit()));
        (!numbered).then(|| format!("{LATER} without the #number of its issue"))
    })
}

fn only_the_store_speaks_to_a_database(source: &Source) -> Vec<String> {
    if !source.is_rust() || source.path.starts_with("crates/store/") {
        return Vec::new();
    }
    source.lines_that(|line| {
        let word = DATABASE_WORDS.iter().find(|word| line.contains(*word))?;
        Some(format!("`{}` outside crates/store", word.trim()))
    })
}

/// How factors between units look, whatever grouping of digits: gallon, pound, ton, mile, foot, inch, psi, ounce.
const FACTORS: [&str; 10] = [
    "0.003785",
    "3.785411",
    "0.453592",
    "907.184",
    "1609.344",
    "0.3048",
    "0.0254",
    "6.894757",
    "29.5735",
    "0.0283168",
];
/// Where they may stand: the table of units; and the demo's invented season, whose figures are kept to the last digit.
const UNITS: [&str; 2] = ["crates/quantity/src", "crates/cli/src/demo"];

fn factors_of_units_stand_in_one_table(source: &Source) -> Vec<String> {
    let is_ours = source.is_rust() && source.path.contains("/src/");
    if !is_ours || UNITS.iter().any(|allowed| source.path.starts_with(allowed)) {
        return Vec::new();
    }
    // Tests say what is expected by hand.
    let code = source.text.split("#[cfg(test)]").next().unwrap_or("");
    Source::new(&source.path, code).lines_that(|line| {
        let code = line.split("//").next().unwrap_or(line).replace('_', "");
        let factor = FACTORS.iter().find(|factor| code.contains(**factor))?;
        Some(format!("a factor between units, {factor}: see quantity::units"))
    })
}

#[test]
fn factors_stand_in_one_table() {
    hold(factors_of_units_stand_in_one_table);
    let file = "let a = 0.003_785_411_784 * b;\n// 0.3048 m\nlet c = d / 1609.344;\n#[cfg(test)]\nlet e = 0.453_592_37;";
    shown(factors_of_units_stand_in_one_table, "crates/yard/src/a.rs", file, &[1, 3]);
    shown(factors_of_units_stand_in_one_table, "crates/yard/tests/a.rs", file, &[]);
    shown(factors_of_units_stand_in_one_table, "crates/quantity/src/units.rs", file, &[]);
}

#[test]
fn lines_stay_short() {
    hold(lines_are_short);
    let code = "x".repeat(121);
    let accents = "é".repeat(120);
    let text = format!("{}\"{}\"", "x".repeat(110), "y".repeat(20));
    let address = format!("// {} https://example.org", "x".repeat(120));
    let table = format!("// | {} | y |", "x".repeat(120));
    let file = [code.as_str(), &accents, &text, &address, &table, &format!("// {code}")].join("\n");
    shown(lines_are_short, "a.rs", &file, &[1, 6]);
    shown(lines_are_short, "a.csv", &file, &[]);
}

#[test]
fn files_stay_short() {
    hold(files_are_short);
    let file = |lines: usize| "let a = 1;\n".repeat(lines);
    shown(files_are_short, "crates/yard/src/a.rs", &file(501), &[1]);
    shown(files_are_short, "crates/yard/tests/a.rs", &file(501), &[1]);
    shown(files_are_short, "crates/yard/src/a.rs", &file(500), &[]);
    shown(files_are_short, "crates/yard/tests/data/a.rs", &file(501), &[]);
    shown(files_are_short, "a.csv", &file(501), &[]);
}

#[test]
fn nothing_unfinished_stays() {
    hold(nothing_is_left_unfinished);
    let file = format!(
        "{}\nfine\n{}x)\n{}\n// {LATER}(#12): x\n// {LATER}: x\n// {LATER} # x",
        BANNED[0], BANNED[1], BANNED[2]
    );
    shown(nothing_is_left_unfinished, "a.rs", &file, &[1, 3, 4, 6, 7]);
}

#[test]
fn sql_stays_in_the_store() {
    hold(only_the_store_speaks_to_a_database);
    let file = DATABASE_WORDS.map(|word| format!("\"{word} x\"")).join("\n") + "\nselect one";
    shown(only_the_store_speaks_to_a_database, "crates/console/src/a.rs", &file, &[1, 2, 3, 4, 5]);
    shown(only_the_store_speaks_to_a_database, "crates/store/src/a.rs", &file, &[]);
}
