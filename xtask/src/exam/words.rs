//! How hard the English texts are to read.

use serde_json::Value;

use super::board::{Board, Outcome};
use crate::workspace;

/// Longest sentence of the style sheet, words.
const LONGEST: usize = 15;
/// Sentences that may be longer, of a hundred. Before the second edition of the texts: 3.6.
const MOST_LONG: f64 = 2.6;
/// Highest grade: sixth, of texts that are sentences. Before: 5.3; shorter sentences of longer trade words make it 5.5.
const HIGHEST: f64 = 6.0;
/// A text of fewer words is a label.
const LABEL: usize = 8;

/// Puts the reading grade on the board.
pub(super) fn examine(board: &mut Board) {
    let budget = format!("at most {MOST_LONG} % of sentences over {LONGEST} words; grade at most {HIGHEST}");
    let outcome = counts().map(|found| {
        let is_plain = found.long_pct <= MOST_LONG && found.grade <= HIGHEST;
        let said = format!(
            "{} texts of {:.1} words (before 5.9), {:.1} % of sentences over {LONGEST} words (before 3.6 %), grade {:.1}",
            found.texts, found.words, found.long_pct, found.grade
        );
        Outcome::new(is_plain, said)
    });
    board.put("English texts", &budget, outcome);
}

struct Counts {
    texts: usize,
    words: f64,
    long_pct: f64,
    grade: f64,
}

/// Words of a text: what stands in for a value is none.
fn words_of(text: &str) -> impl Iterator<Item = &str> {
    let is_word = |one: &&str| !one.contains(['{', '}']) && one.chars().any(char::is_alphabetic);
    text.split_whitespace().filter(is_word)
}

fn words(text: &str) -> usize {
    words_of(text).count()
}

/// Counts of all texts, and their grade.
///
/// # Equation
/// G = 0.0588 L − 0.296 S − 15.8, with L letters and S sentences in a hundred words.
///
/// # Source
/// Coleman and Liau, *Journal of Applied Psychology* 60 (1975) 283: a formula without syllables.
fn counts() -> Result<Counts, String> {
    let folder = workspace::root().join("crates/report/words/en");
    let (mut texts, mut all, mut sentences, mut long) = (0, 0, 0_usize, 0_usize);
    let (mut letters, mut graded, mut ends) = (0.0, 0.0, 0.0);
    for file in std::fs::read_dir(&folder).map_err(|e| format!("{}: {e}", folder.display()))? {
        let path = file.map_err(|e| e.to_string())?.path();
        let text = std::fs::read_to_string(&path).map_err(|e| format!("{}: {e}", path.display()))?;
        let read: Value = serde_json::from_str(&text).map_err(|e| format!("{}: {e}", path.display()))?;
        for text in read.as_object().into_iter().flatten().filter_map(|(_, text)| text.as_str()) {
            let count = words(text);
            if count == 0 {
                continue;
            }
            texts += 1;
            all += count;
            let marked = text.replace(". ", ".\n").replace("! ", "!\n").replace("? ", "?\n");
            let parts: Vec<&str> = marked.lines().collect();
            for part in &parts {
                let count = words(part);
                sentences += usize::from(count > 0);
                long += usize::from(count > LONGEST);
            }
            if count >= LABEL {
                graded += count as f64;
                let letters_of = |word: &str| word.chars().filter(|c| c.is_alphabetic()).count();
                letters += words_of(text).map(letters_of).sum::<usize>() as f64;
                ends += parts.len() as f64;
            }
        }
    }
    Ok(Counts {
        texts,
        words: all as f64 / f64::from(u32::try_from(texts).unwrap_or(1)),
        long_pct: 100.0 * long as f64 / sentences as f64,
        grade: 5.88 * letters / graded - 29.6 * ends / graded - 15.8,
    })
}
