//! Every text a person reads has a key, every key asked for is there, and none lies about unused.

use std::collections::BTreeSet;

use super::{Source, sources};

const WORDS_FILE: &str = "crates/report/words/en.json";

/// Beginnings of keys that are put together from a value, so that the whole key stands nowhere in the code. The code
/// must then hold a text that begins so, and the next word of the key as a text of its own.
const BUILT: [&str; 17] = [
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
    "sampled.",
    "scale.",
    "treated.",
    "trust.",
];

/// Keys under this name are asked for by tests that want to see what a missing one does.
const ABSENT: &str = "no.such";

/// How a key is asked for.
const ASKERS: [&str; 3] = ["say(", "fill(", "fill_with("];

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
    let file = all.iter().find(|source| source.path == WORDS_FILE);
    let keys = read_keys(&file.unwrap_or_else(|| panic!("{WORDS_FILE} is missing")).text);
    let speaking: Vec<Source> = all.into_iter().filter(asks_for_words).collect();
    let asked = speaking.iter().map(|source| keys_asked(&source.text).len()).sum::<usize>();
    assert!(asked > 0, "no key is asked for where the rule looks");
    let missing = missing(&keys, &speaking);
    assert!(missing.is_empty(), "asked for but not in {WORDS_FILE}: {missing:#?}");
    let unused = unused(&keys, &BUILT, &speaking);
    assert!(unused.is_empty(), "in {WORDS_FILE} but never asked for: {unused:#?}");
}

/// The blanks of a text: what stands in braces.
fn blanks(text: &str) -> BTreeSet<&str> {
    text.split('{').skip(1).filter_map(|rest| rest.split_once('}')).map(|(name, _)| name).collect()
}

#[test]
fn every_language_has_the_same_keys_and_blanks() {
    let all = sources();
    let texts = |tag: &str| -> serde_json::Map<String, serde_json::Value> {
        let path = format!("crates/report/words/{tag}.json");
        let source = all.iter().find(|source| source.path == path);
        let text = &source.unwrap_or_else(|| panic!("{path} is missing")).text;
        read_keys(text);
        serde_json::from_str(text).expect("the words are JSON")
    };
    let english = texts("en");
    for tag in ["es", "fr"] {
        let other = texts(tag);
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
