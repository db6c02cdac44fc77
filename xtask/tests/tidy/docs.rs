//! The operator's texts name only what the pages say: a name in asterisks that begins with a capital is a button, a
//! page or a field of them.

use super::{Source, sources};

/// Texts for an operator; chemistry and the look have names of their own.
const NOT_OF_PAGES: [&str; 2] = ["docs/chemistry.md", "docs/look.md"];
/// What is leaned on rather than named.
const LEANED_ON: [&str; 6] = ["Liquid of a route", "Loader", "On", "Off", "Before you upgrade", "Low"];

/// Files whose acts are named in bold too, and what else is bold there.
const BOLD_ACTS: [&str; 6] =
    ["docs/put-right.md", "docs/run.md", "docs/bench.md", "docs/tanks.md", "docs/load-out.md", "docs/due.md"];
const BOLD_WORDS: [&str; 2] = ["Never counted", "Can't tell"];

/// Names in double asterisks that begin with a capital, of three words or fewer: longer ones are sentences.
fn named_in_bold(text: &str) -> Vec<String> {
    let mut names: Vec<String> = text
        .split("\n\n")
        .flat_map(|paragraph| paragraph.split("**").skip(1).step_by(2).map(plain).collect::<Vec<_>>())
        .collect();
    names.retain(|name| name.starts_with(char::is_uppercase) && name.split(' ').count() <= 3);
    names
}

/// Names in single asterisks that begin with a capital, without the mark at their end.
fn named(text: &str) -> Vec<String> {
    let bare = text.replace("**", "");
    let mut names = Vec::new();
    for paragraph in bare.split("\n\n").filter(|paragraph| !paragraph.trim_start().starts_with("    ")) {
        let parts: Vec<&str> = paragraph.split('*').collect();
        // An odd number of parts: every asterisk has its other.
        if parts.len() % 2 == 1 {
            names.extend(parts.iter().skip(1).step_by(2).map(|part| plain(part)));
        }
    }
    names.retain(|name| name.starts_with(char::is_uppercase) && name.len() < 60);
    names
}

/// A text without its line breaks and the mark at its end.
fn plain(text: &str) -> String {
    let one_line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    one_line.trim_end_matches(['.', ':', ',', ';', '?']).to_owned()
}

/// Whether a page says it: as a whole, or as a text with something in its blanks.
fn is_said(name: &str, texts: &[String]) -> bool {
    texts.iter().any(|text| {
        let Some((before, rest)) = text.split_once('{') else { return *text == name };
        let after = rest.split_once('}').map_or("", |(_, after)| after);
        let is_filled = !after.contains('{')
            && name.len() > before.len() + after.len()
            && name.starts_with(before)
            && name.ends_with(after);
        let is_bare = before.is_empty() && after.is_empty();
        (is_filled && !is_bare) || plain(before) == name
    })
}

fn texts(all: &[Source]) -> Vec<String> {
    let english = all.iter().filter(|source| source.path.starts_with("crates/report/words/en/"));
    let read = |source: &Source| -> Vec<String> {
        let words: serde_json::Value = serde_json::from_str(&source.text).expect("the words are JSON");
        words
            .as_object()
            .expect("an object")
            .values()
            .filter_map(|text| Some(plain(text.as_str()?)))
            .collect()
    };
    let mut texts: Vec<String> = english.flat_map(read).collect();
    // The procedures' titles are theirs.
    let procedures = all.iter().filter(|source| source.path.starts_with("crates/plant/data/"));
    texts.extend(procedures.flat_map(|source| {
        source
            .text
            .lines()
            .filter_map(|line| Some(plain(line.strip_prefix("title = \"")?.strip_suffix('"')?)))
    }));
    texts
}

#[test]
fn the_operators_texts_name_what_the_pages_say() {
    let all = sources();
    let texts = texts(&all);
    let of_operator = |source: &&Source| {
        let is_doc = source.path.starts_with("docs/") || source.path == "README.md";
        is_doc && source.path.ends_with(".md") && !NOT_OF_PAGES.contains(&source.path.as_str())
    };
    let mut faults = Vec::new();
    let mut tried = 0;
    for source in all.iter().filter(of_operator) {
        let is_bold = BOLD_ACTS.contains(&source.path.as_str());
        let bold = if is_bold { named_in_bold(&source.text) } else { Vec::new() };
        let bold = bold.into_iter().filter(|name| !BOLD_WORDS.contains(&name.as_str()));
        for name in named(&source.text).into_iter().chain(bold) {
            tried += 1;
            if !is_said(&name, &texts) && !LEANED_ON.contains(&name.as_str()) {
                faults.push(format!("{}: *{name}*", source.path));
            }
        }
    }
    assert!(tried > 50, "only {tried} names were found where the rule looks");
    assert!(faults.is_empty(), "no page says: {faults:#?}");
}

#[test]
fn a_button_that_is_gone_is_found() {
    let texts = ["Save dip", "Back {minutes} min"].map(str::to_owned);
    assert_eq!(named("Tap *Save\ndip*, then *It is\n done*. **Not this.**"), ["Save dip", "It is done"]);
    let bold = "Tap *Save dip*. **Work it\nout.** **This is a whole sentence.** **small**";
    assert_eq!(named_in_bold(bold), ["Work it out"]);
    assert!(is_said("Save dip", &texts) && is_said("Back 15 min", &texts));
    assert!(!is_said("It is done", &texts) && !is_said("Back", &texts[..1]));
}
