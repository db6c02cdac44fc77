//! Colors that lie on each other can be told apart, in light and in dark.
//!
//! Contrast as WCAG 2.2 defines it (<https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio>), at least 4.5 for letters
//! (1.4.3) and 3 for what a chart says (1.4.11).

use std::collections::BTreeMap;

use super::sources;

/// What lies on what, and how much is asked.
const PAIRS: [(&str, &str, f64); 19] = [
    ("ink", "paper", 7.0),
    ("ink", "card", 7.0),
    ("soft", "paper", 4.5),
    ("soft", "card", 4.5),
    ("soft", "brine-wash", 4.5),
    ("brine", "paper", 4.5),
    ("brine", "card", 4.5),
    // Letters on the filled button.
    ("paper", "brine", 4.5),
    ("paper", "ink", 4.5),
    ("act", "paper", 4.5),
    ("act", "card", 4.5),
    ("act", "act-wash", 4.5),
    ("card", "act", 4.5),
    ("ink", "brine-wash", 4.5),
    // Marks: hatching, a liquid's top line, dots in a liquid, the middle line on its fan.
    ("cold", "paper", 3.0),
    ("cold", "brine-wash", 3.0),
    ("brine", "brine-mid", 3.0),
    ("soft", "brine-mid", 3.0),
    ("act", "act-wash", 3.0),
];

type Tokens = BTreeMap<String, [f64; 3]>;

/// Tokens of the light and of the dark scheme.
fn tokens(css: &str) -> (Tokens, Tokens) {
    let block = |from: &str| -> Tokens {
        let rest = css.split_once(from).map_or("", |(_, rest)| rest);
        let block = rest.split('}').next().unwrap_or("");
        let read = |line: &str| {
            let (name, value) = line.trim().strip_prefix("--")?.split_once(": #")?;
            let value = value.trim_end_matches(';');
            let part = |at: usize| u8::from_str_radix(value.get(at..at + 2)?, 16).ok().map(f64::from);
            Some((name.to_owned(), [part(0)?, part(2)?, part(4)?]))
        };
        block.lines().filter_map(read).collect()
    };
    let light = block(":root {");
    let mut dark = light.clone();
    dark.extend(block("(prefers-color-scheme: dark) {\n  :root {"));
    (light, dark)
}

/// Relative luminance.
fn luminance(color: [f64; 3]) -> f64 {
    let linear = |part: f64| {
        let part = part / 255.0;
        if part <= 0.04045 { part / 12.92 } else { ((part + 0.055) / 1.055).powf(2.4) }
    };
    let [red, green, blue] = color.map(linear);
    0.2126 * red + 0.7152 * green + 0.0722 * blue
}

fn contrast(one: [f64; 3], other: [f64; 3]) -> f64 {
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

#[test]
fn black_on_white_is_twenty_one() {
    assert!((contrast([0.0; 3], [255.0; 3]) - 21.0).abs() < 1e-9);
    // The grey that just passes on white, as the standard's own notes have it: #767676.
    assert!((contrast([118.0; 3], [255.0; 3]) - 4.54).abs() < 0.01);
}

#[test]
fn colors_can_be_told_apart() {
    let all = sources();
    let css =
        all.iter().find(|source| source.path.ends_with("console.css")).expect("there is one style sheet");
    let (light, dark) = tokens(&css.text);
    let mut table = String::new();
    let mut faults = Vec::new();
    for (on, under, least) in PAIRS {
        let found = [&light, &dark].map(|tokens| contrast(tokens[on], tokens[under]));
        table += &format!("{on} on {under}: {:.1} / {:.1}\n", found[0], found[1]);
        faults.extend(
            found.iter().filter(|found| **found < least).map(|found| format!("{on} on {under}: {found:.2}")),
        );
    }
    println!("{table}");
    assert!(light.len() > 10 && contrast(light["paper"], dark["paper"]) > 10.0, "the tokens were read");
    assert!(faults.is_empty(), "less than asked: {faults:?}\n{table}");
}
