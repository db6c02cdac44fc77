//! What no parser of this workspace may stumble over: bytes at random, and good samples damaged at random. For tests
//! only: `tests/any_bytes.rs` of each crate that reads anything from outside.
//!
//! A parser may refuse what it is given. It may not panic, not hang, and not take in what breaks its own promises.
//! Few cases are tried with the ordinary tests; `cargo xtask exam` sets `PROPTEST_CASES` and tries many.

use std::time::{Duration, Instant};

use proptest::prelude::*;

/// Longest that one reading of one input may take: far above any of ours, on a busy machine, unoptimised.
const LONGEST: Duration = Duration::from_secs(20);
/// Longest sample that is damaged, bytes; of a longer one the beginning.
const LONGEST_SAMPLE: usize = 16 * 1024;
/// What is made of a sample is cut to this, bytes.
const LONGEST_MADE: usize = 256 * 1024;

/// Texts that break readers, put in place of a part of a sample.
const PIECES: [&str; 42] = [
    "",
    " ",
    "\n",
    "\r",
    "\t",
    "\"",
    "'",
    "\\",
    ",",
    ";",
    ":",
    "=",
    "#",
    "/",
    "{",
    "}",
    "[",
    "]",
    "[[",
    "{}",
    "null",
    "true",
    "-",
    "+",
    ".",
    "%",
    "%00",
    "&",
    "\u{0}",
    "\u{7f}",
    "\u{feff}",
    "\u{202e}",
    "\u{fffd}",
    "é",
    "٣",
    "İ",
    "ß",
    "🧂",
    "e\u{301}",
    "ᄀᄀᄀ각ᆨᆨ",
    "¨",
    "ﷺ",
];

/// Texts of numbers at the edges, put in place of a number of a sample.
const NUMBERS: [&str; 32] = [
    "0",
    "-0",
    "-1",
    "0.0",
    "1e-320",
    "1e308",
    "-1e308",
    "1e309",
    "1e999999999999",
    "NaN",
    "nan",
    "inf",
    "-inf",
    "Infinity",
    "255",
    "256",
    "65535",
    "65536",
    "2147483647",
    "-2147483648",
    "4294967296",
    "9007199254740993",
    "9223372036854775807",
    "-9223372036854775808",
    "18446744073709551615",
    "340282366920938463463374607431768211456",
    "0000000000000000000000000000001",
    "0.1e1",
    "1_000",
    "1,000",
    "1,5",
    "0x10",
];

/// How many cases are tried: so few with the ordinary tests, as many as `PROPTEST_CASES` says in the examination.
pub fn cases(few: u32) -> ProptestConfig {
    let asked = std::env::var("PROPTEST_CASES").ok().and_then(|cases| cases.parse().ok());
    ProptestConfig {
        cases: asked.unwrap_or(few),
        max_global_rejects: u32::MAX,
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// Does something with an input, and fails when that takes so long that it hangs.
///
/// # Panics
/// When it does.
pub fn soon<T>(act: impl FnOnce() -> T) -> T {
    let begun = Instant::now();
    let done = act();
    assert!(begun.elapsed() < LONGEST, "one input took {:?}", begun.elapsed());
    done
}

/// Whether every number in a value is finite, as its `Debug` tells it.
pub fn is_finite_throughout(value: &impl std::fmt::Debug) -> bool {
    let told = format!("{value:?}");
    let mut is_quoted = false;
    let mut characters = told.chars();
    let mut plain = String::with_capacity(told.len());
    while let Some(character) = characters.next() {
        match character {
            '\\' if is_quoted => {
                characters.next();
            }
            '"' => is_quoted = !is_quoted,
            _ if !is_quoted => plain.push(character),
            _ => {}
        }
    }
    !plain.split(|character: char| !character.is_alphanumeric()).any(|word| ["NaN", "inf"].contains(&word))
}

/// Bytes at random.
pub fn bytes() -> impl Strategy<Value = Vec<u8>> {
    prop::collection::vec(any::<u8>(), 0..400)
}

/// Text at random: any characters, or pieces that break readers one after the other.
pub fn text() -> impl Strategy<Value = String> {
    let pieces = prop::collection::vec(piece(), 0..30).prop_map(|pieces| pieces.concat());
    prop_oneof![any::<String>(), "\\PC{0,80}", pieces, very_long()]
}

/// What a person may type into a field: a number, nearly a number, or no number at all.
pub fn typed() -> impl Strategy<Value = String> {
    let plain = "-?[0-9]{1,7}([.,][0-9]{1,4})?";
    prop_oneof![4 => plain, 2 => number(), 1 => "[ -~]{0,12}", 1 => piece(), 1 => "\\PC{0,12}", 1 => very_long()]
}

/// A number at an edge, or of any size.
pub fn number() -> impl Strategy<Value = String> {
    let any_size = any::<f64>().prop_map(|value| format!("{value:e}"));
    prop_oneof![prop::sample::select(&NUMBERS[..]).prop_map(str::to_owned), any_size]
}

/// A good sample, damaged in one to six places.
pub fn damaged(samples: &[&[u8]]) -> impl Strategy<Value = Vec<u8>> + use<> {
    let samples: Vec<Vec<u8>> =
        samples.iter().map(|sample| sample[..sample.len().min(LONGEST_SAMPLE)].to_vec()).collect();
    let changes = prop::collection::vec(change(), 1..7);
    (prop::sample::select(samples), changes).prop_map(|(mut bytes, changes)| {
        for change in changes {
            change.make(&mut bytes);
            bytes.truncate(LONGEST_MADE);
        }
        bytes
    })
}

/// The same of samples that are text, and what is made of them is text.
pub fn damaged_text(samples: &[&str]) -> impl Strategy<Value = String> + use<> {
    let samples: Vec<&[u8]> = samples.iter().map(|sample| sample.as_bytes()).collect();
    damaged(&samples).prop_map(|bytes| String::from_utf8_lossy(&bytes).into_owned())
}

fn piece() -> impl Strategy<Value = String> {
    let edges = prop::sample::select([&PIECES[..], &NUMBERS[..]].concat()).prop_map(str::to_owned);
    prop_oneof![4 => edges, 2 => "\\PC{0,6}", 1 => "[a-z_]{1,8}", 1 => number()]
}

fn very_long() -> impl Strategy<Value = String> {
    (piece(), 1000_usize..4000).prop_map(|(piece, times)| piece.repeat(times))
}

/// One change of a sample; places and lengths are shares of what there is.
#[derive(Debug, Clone)]
enum Change {
    /// A bit is another.
    Flip { at: f64, bit: u8 },
    /// The end is gone.
    CutOff { at: f64 },
    /// A part is gone.
    TakeOut { at: f64, length: usize },
    /// Something is put in, in place of some bytes.
    PutIn { at: f64, over: usize, what: String },
    /// A part stands there several times.
    Repeat { at: f64, length: usize, times: usize },
    /// A line stands where another did, and the other there.
    SwapLines { at: f64, with: f64 },
    /// A number is another.
    Renumber { at: f64, what: String },
    /// A word between marks is another.
    Reword { at: f64, what: String },
}

fn change() -> impl Strategy<Value = Change> {
    let at = || 0.0..1.0_f64;
    prop_oneof![
        2 => (at(), 0_u8..8).prop_map(|(at, bit)| Change::Flip { at, bit }),
        1 => at().prop_map(|at| Change::CutOff { at }),
        2 => (at(), 1_usize..60).prop_map(|(at, length)| Change::TakeOut { at, length }),
        3 => (at(), 0_usize..4, piece()).prop_map(|(at, over, what)| Change::PutIn { at, over, what }),
        1 => (at(), very_long()).prop_map(|(at, what)| Change::PutIn { at, over: 0, what }),
        2 => (at(), 1_usize..200, 1_usize..60).prop_map(|(at, length, times)| Change::Repeat { at, length, times }),
        2 => (at(), at()).prop_map(|(at, with)| Change::SwapLines { at, with }),
        8 => (at(), prop_oneof![number(), "-?[0-9]{1,6}(\\.[0-9]{1,3})?"])
            .prop_map(|(at, what)| Change::Renumber { at, what }),
        3 => (at(), piece()).prop_map(|(at, what)| Change::Reword { at, what }),
    ]
}

impl Change {
    fn make(&self, bytes: &mut Vec<u8>) {
        let length = bytes.len();
        let place = |at: f64| ((length as f64 * at) as usize).min(length);
        match self {
            Change::Flip { at, bit } => {
                if let Some(byte) = bytes.get_mut(place(*at)) {
                    *byte ^= 1 << bit;
                }
            }
            Change::CutOff { at } => bytes.truncate(place(*at)),
            Change::TakeOut { at, length: gone } => {
                let from = place(*at);
                bytes.drain(from..(from + gone).min(length));
            }
            Change::PutIn { at, over, what } => {
                let from = place(*at);
                bytes.splice(from..(from + over).min(length), what.bytes());
            }
            Change::Repeat { at, length: part, times } => {
                let from = place(*at);
                let again = bytes[from..(from + part).min(length)].repeat(*times);
                bytes.splice(from..from, again);
            }
            Change::SwapLines { at, with } => {
                let mut lines: Vec<&[u8]> = bytes.split(|byte| *byte == b'\n').collect();
                let line = |at: f64| ((lines.len() as f64 * at) as usize).min(lines.len() - 1);
                let (one, other) = (line(*at), line(*with));
                lines.swap(one, other);
                *bytes = lines.join(&b'\n');
            }
            Change::Renumber { at, what } => {
                let is_part = |byte: u8| byte.is_ascii_digit() || byte == b'.' || byte == b'-';
                replace(bytes, place(*at), |byte| byte.is_ascii_digit(), is_part, what);
            }
            Change::Reword { at, what } => {
                let is_part = |byte: u8| byte.is_ascii_alphanumeric() || byte == b'_';
                replace(bytes, place(*at), is_part, is_part, what);
            }
        }
    }
}

/// Puts a text in place of the next stretch of bytes of a kind; leaves all as it is where there is none.
fn replace(
    bytes: &mut Vec<u8>,
    from: usize,
    is_begin: impl Fn(u8) -> bool,
    is_part: impl Fn(u8) -> bool,
    what: &str,
) {
    let Some(found) = bytes[from..].iter().position(|byte| is_begin(*byte)) else { return };
    let (mut low, mut high) = (from + found, from + found);
    while 0 < low && is_part(bytes[low - 1]) {
        low -= 1;
    }
    while high < bytes.len() && is_part(bytes[high]) {
        high += 1;
    }
    bytes.splice(low..high, what.bytes());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_does_what_it_says() {
        let after = |text: &str, change: Change| {
            let mut bytes = text.as_bytes().to_vec();
            change.make(&mut bytes);
            String::from_utf8_lossy(&bytes).into_owned()
        };
        let what = || "1e308".to_owned();
        assert_eq!(after("a = -23.3\nb", Change::Renumber { at: 0.2, what: what() }), "a = 1e308\nb");
        assert_eq!(after("a = b", Change::Renumber { at: 0.2, what: what() }), "a = b");
        assert_eq!(after("tank_1,5", Change::Reword { at: 0.3, what: "x".into() }), "x,5");
        assert_eq!(after("abcdef", Change::CutOff { at: 0.5 }), "abc");
        assert_eq!(after("abcdef", Change::TakeOut { at: 0.5, length: 2 }), "abcf");
        assert_eq!(after("abcdef", Change::PutIn { at: 0.5, over: 1, what: "XY".into() }), "abcXYef");
        assert_eq!(after("ab", Change::Repeat { at: 0.0, length: 1, times: 3 }), "aaaab");
        assert_eq!(after("a\nb\nc", Change::SwapLines { at: 0.0, with: 0.99 }), "c\nb\na");
        assert_eq!(after("a", Change::Flip { at: 0.0, bit: 1 }), "c");
        for change in [Change::Flip { at: 0.5, bit: 0 }, Change::TakeOut { at: 0.9, length: 9 }] {
            assert_eq!(after("", change), "");
        }
    }

    #[test]
    fn a_number_that_is_none_is_found() {
        assert!(is_finite_throughout(&("NaN \" inf", 1.5, Some("inf"), ["a\\", "NaN"])));
        assert!(!is_finite_throughout(&("a\\", f64::NAN)));
        assert!(!is_finite_throughout(&Some(-f64::INFINITY)));
        assert!(!is_finite_throughout(&[f64::INFINITY]));
    }

    proptest! {
        #![proptest_config(cases(64))]

        #[test]
        fn most_of_what_is_damaged_is_another(made in damaged_text(&["tank = 1\nvolume_m3 = 7.57\n"])) {
            prop_assert!(made.len() <= 3 * LONGEST_MADE);
        }
    }
}
