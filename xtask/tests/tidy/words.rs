//! Every text a person reads has a key, every key asked for is there, and none lies about unused.

use std::collections::BTreeSet;

use super::{Source, sources};

const WORDS: &str = "crates/report/words";

/// Beginnings of keys that are put together from a value, so that the whole key stands nowhere in the code. The code
/// must then hold a text that begins so, and the next word of the key as a text of its own.
const BUILT: [&str; 20] = [
    "answer.",
    "batch-by.",
    "bench-of.",
    "break.",
    "buckets.",
    "error.",
    "event.",
    "lab.",
    "lab-how.",
    "lab-step.",
    "level.",
    "occasion.",
    "run-end.",
    "road-instrument.",
    "road-look.",
    "road-part.",
    "sampled.",
    "scale.",
    "treated.",
    "trust.",
];

/// Keys under this name are asked for by tests that want to see what a missing one does.
const ABSENT: &str = "no.such";

/// How a key is asked for.
const ASKERS: [&str; 4] = ["say(", "fill(", "fill_with(", "message!("];

fn asks_for_words(source: &Source) -> bool {
    source.is_template() || (source.is_rust() && source.path.starts_with("crates/"))
}

/// Keys asked for by name: the text that follows `say(` or `fill(`, on the same or the next line.
fn keys_asked(text: &str) -> BTreeSet<&str> {
    let mut keys = BTreeSet::new();
    for asker in ASKERS {
        for (at, _) in text.match_indices(asker) {
            let is_whole_word = !text[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_');
            let argument = text[at + asker.len()..].trim_start();
            let literal = argument.strip_prefix('"').and_then(|rest| rest.split_once('"'));
            keys.extend(literal.filter(|_| is_whole_word).map(|(key, _)| key));
        }
    }
    keys.retain(|key| !key.starts_with(ABSENT));
    keys
}

fn missing<'a>(keys: &BTreeSet<String>, sources: &'a [Source]) -> Vec<&'a str> {
    let asked = sources.iter().flat_map(|source| keys_asked(&source.text));
    asked.filter(|key| !keys.contains(*key)).collect()
}

/// Keys that no code names, whole or in the two halves of a declared beginning.
fn unused<'a>(keys: &'a BTreeSet<String>, built: &[&str], sources: &[Source]) -> Vec<&'a str> {
    let named = |text: &str| sources.iter().any(|source| source.text.contains(text));
    let is_built = |key: &str| {
        built.iter().any(|start| {
            let word = key.strip_prefix(start).and_then(|rest| rest.split('.').next());
            word.is_some_and(|word| named(&format!("\"{start}")) && named(&format!("\"{word}\"")))
        })
    };
    keys.iter().map(String::as_str).filter(|key| !is_built(key) && !named(&format!("\"{key}\""))).collect()
}

fn read_keys(json: &str) -> BTreeSet<String> {
    let words: serde_json::Value = serde_json::from_str(json).expect("the words are JSON");
    let words = words.as_object().expect("the words are one flat object");
    assert!(words.values().all(serde_json::Value::is_string), "a word is not a text");
    // A key that stands there twice would be read once, and the other text be lost.
    let lines = json.lines().filter(|line| line.trim_start().starts_with('"')).count();
    assert!(lines <= words.len(), "{} keys in {lines} lines: one stands there twice", words.len());
    words.keys().cloned().collect()
}

#[test]
fn every_key_is_there_and_used() {
    let all = sources();
    let keys: BTreeSet<String> = texts(&all, "en").into_iter().map(|(key, _)| key).collect();
    let speaking: Vec<Source> = all.into_iter().filter(asks_for_words).collect();
    let asked = speaking.iter().map(|source| keys_asked(&source.text).len()).sum::<usize>();
    assert!(asked > 0, "no key is asked for where the rule looks");
    let missing = missing(&keys, &speaking);
    assert!(missing.is_empty(), "asked for but not in {WORDS}/en: {missing:#?}");
    let unused = unused(&keys, &BUILT, &speaking);
    assert!(unused.is_empty(), "in {WORDS}/en but never asked for: {unused:#?}");
}

/// All texts of a language, of all its files.
fn texts(all: &[Source], tag: &str) -> serde_json::Map<String, serde_json::Value> {
    let folder = format!("{WORDS}/{tag}/");
    let mut texts = serde_json::Map::new();
    for source in all.iter().filter(|source| source.path.starts_with(&folder)) {
        read_keys(&source.text);
        let room = source.path[folder.len()..].trim_end_matches(".json");
        let file: serde_json::Map<_, _> = serde_json::from_str(&source.text).expect("the words are JSON");
        for (key, text) in file {
            let is_at_home = room == "pages" || key.split('.').next() == Some(room);
            assert!(is_at_home, "{}: {key} belongs into another file", source.path);
            assert!(texts.insert(key.clone(), text).is_none(), "{tag}: {key} stands in two files");
        }
    }
    assert!(!texts.is_empty(), "{folder} holds no words");
    texts
}

/// What a message in code brings for the blanks of its text: the id, and the names with it. None where the macro's
/// id is no literal.
fn messages(text: &str) -> Vec<(&str, BTreeSet<&str>)> {
    let mut found = Vec::new();
    for (at, _) in text.match_indices("message!(\"") {
        let rest = &text[at + "message!(\"".len()..];
        let Some((id, rest)) = rest.split_once('"') else { continue };
        let (mut depth, mut is_quoted, mut names, mut start) = (1, false, BTreeSet::new(), None);
        for (place, c) in rest.char_indices() {
            match c {
                '"' => is_quoted = !is_quoted,
                _ if is_quoted => {}
                '(' | '[' | '{' => depth += 1,
                ')' | ']' | '}' => depth -= 1,
                _ => {}
            }
            if depth == 0 {
                break;
            }
            if !is_quoted && depth == 1 && c == ',' {
                start = Some(place + 1);
            }
            if !is_quoted
                && depth == 1
                && c == '='
                && let Some(begin) = start.take()
            {
                names.insert(rest[begin..place].trim());
            }
        }
        found.push((id, names));
    }
    found
}

#[test]
fn every_message_brings_what_its_text_needs() {
    let all = sources();
    let english = texts(&all, "en");
    let mut wrong = Vec::new();
    for source in all.iter().filter(|source| source.is_rust() && source.path.starts_with("crates/")) {
        for (id, names) in messages(&source.text) {
            let Some(text) = english.get(id).and_then(serde_json::Value::as_str) else { continue };
            if !blanks(text).is_subset(&names) {
                wrong.push(format!("{}: {id} brings {names:?} for \"{text}\"", source.path));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    let code = r#"message!("a.b", low = f(1, 2), name = "x = y, z = 1"); message!(id); message!("c.d")"#;
    let expected = [("a.b", BTreeSet::from(["low", "name"])), ("c.d", BTreeSet::new())];
    assert_eq!(messages(code), expected);
}

/// The blanks of a text: what stands in braces.
fn blanks(text: &str) -> BTreeSet<&str> {
    text.split('{').skip(1).filter_map(|rest| rest.split_once('}')).map(|(name, _)| name).collect()
}

#[test]
fn every_language_has_the_same_keys_and_blanks() {
    let all = sources();
    let english = texts(&all, "en");
    for tag in ["es", "fr"] {
        let other = texts(&all, tag);
        let missing: Vec<&String> = english.keys().filter(|key| !other.contains_key(*key)).collect();
        let extra: Vec<&String> = other.keys().filter(|key| !english.contains_key(*key)).collect();
        assert!(
            missing.is_empty() && extra.is_empty(),
            "{tag}: missing {missing:?}, not in English {extra:?}"
        );
        for (key, text) in &english {
            let (text, said) = (text.as_str().unwrap_or_default(), other[key].as_str().unwrap_or_default());
            assert_eq!(blanks(text), blanks(said), "{tag}: {key}");
            assert!(!said.trim().is_empty() || text.trim().is_empty(), "{tag}: {key} is empty");
        }
        let alike = english.iter().filter(|(key, text)| other[*key] == **text).count();
        assert!(alike * 20 < english.len(), "{tag}: {alike} texts are English still");
    }
}

#[test]
fn a_missing_and_an_unused_key_are_found_out() {
    let keys = r#"{"a.b": "x", "kind.dip": "y", "kind.old": "y", "left.over": "z", "wide.one": "w"}"#;
    let keys = read_keys(keys);
    let code = "w.say(\"a.b\"); w.fill(\n    \"gone.one\", &[]); essay(\"not.a.key\"); w.say(\"no.such.key\"); \
                let kind = \"dip\"; format!(\"kind.{kind}\"); w.say(key); \"wide.ones\"; \"over\"";
    let sources = [Source::new("crates/a/src/a.rs", code)];
    assert_eq!(missing(&keys, &sources), ["gone.one"]);
    assert_eq!(unused(&keys, &["kind."], &sources), ["kind.old", "left.over", "wide.one"]);
    assert_eq!(unused(&keys, &[], &sources), ["kind.dip", "kind.old", "left.over", "wide.one"]);
    // A declared beginning that no code uses excuses nothing.
    assert_eq!(unused(&keys, &["left.", "kind."], &sources), ["kind.old", "left.over", "wide.one"]);
}
