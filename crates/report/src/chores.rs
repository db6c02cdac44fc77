//! Chores in the reader's language. What a yard wrote itself is shown as it wrote it.

use std::collections::HashMap;
use std::sync::LazyLock;

use site::chores::Chore;

use crate::Language;

static TASKS: LazyLock<[HashMap<String, String>; 2]> = LazyLock::new(|| {
    site::chores::TRANSLATED.map(|text| {
        let lines = text.lines().skip(1).filter_map(|line| line.split_once(','));
        lines.map(|(id, task)| (id.to_owned(), task.trim_matches('"').to_owned())).collect()
    })
});

/// A chore's task as it is read in a language.
pub fn task(language: Language, chore: &Chore) -> &str {
    let place = match language {
        Language::En => None,
        Language::Es => Some(0),
        Language::Fr => Some(1),
    };
    let translated =
        place.filter(|_| site::chores::is_shipped(chore)).and_then(|place| TASKS[place].get(&chore.id));
    translated.map_or(chore.task.as_str(), String::as_str)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_chore_that_ships_is_there_in_every_language() {
        for tasks in TASKS.iter() {
            assert_eq!(tasks.len(), site::chores::TRANSLATED[0].lines().count() - 1);
            for chore in site::chores::shipped_chores() {
                assert!(tasks.contains_key(&chore.id), "{}", chore.id);
            }
        }
    }
}
