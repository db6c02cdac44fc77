//! What ships as data, in the reader's language: guided runs and exercises. What a yard wrote itself is shown as
//! it wrote it.

use std::sync::LazyLock;

use plant::practice::{Exercise, Exercises};
use plant::procedure::Procedure;
use report::Language;

/// A procedure that ships, with the same in Spanish and French.
type Shipped = (Procedure, [Procedure; 2]);

static PROCEDURES: LazyLock<Vec<Shipped>> = LazyLock::new(|| {
    plant::procedure::TRANSLATED
        .iter()
        .filter_map(|[en, es, fr]| {
            let read = |text: &str| toml_edit::de::from_str::<Procedure>(text).ok();
            Some((read(en)?, [read(es)?, read(fr)?]))
        })
        .collect()
});

static EXERCISES: LazyLock<[Vec<Exercise>; 3]> = LazyLock::new(|| {
    plant::practice::TRANSLATED
        .map(|text| toml_edit::de::from_str::<Exercises>(text).map(|all| all.exercises).unwrap_or_default())
});

/// Place of a language other than English.
fn other(language: Language) -> Option<usize> {
    match language {
        Language::En => None,
        Language::Es => Some(0),
        Language::Fr => Some(1),
    }
}

/// A procedure as it is read in a language.
pub(crate) fn procedure(language: Language, asked: &Procedure) -> &Procedure {
    let Some(place) = other(language) else { return asked };
    PROCEDURES
        .iter()
        .find(|(shipped, _)| shipped == asked)
        .map_or(asked, |(_, translated)| &translated[place])
}

/// An exercise as it is read in a language: title, task, and what its trainer should know.
pub(crate) fn exercise(language: Language, asked: &Exercise) -> &Exercise {
    let Some(place) = other(language) else { return asked };
    let all = &EXERCISES[place + 1];
    let is_shipped = EXERCISES[0].iter().any(|one| one.id == asked.id && one.title == asked.title);
    all.iter().find(|one| is_shipped && one.id == asked.id).unwrap_or(asked)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_ships_is_there_in_every_language_step_by_step() {
        assert_eq!(PROCEDURES.len(), plant::procedure::TRANSLATED.len());
        for (shipped, translated) in PROCEDURES.iter() {
            for other in translated {
                assert_ne!(other.title, shipped.title);
                assert_eq!(other.steps.len(), shipped.steps.len());
                for (step, same) in other.steps.iter().zip(&shipped.steps) {
                    assert_eq!((&step.id, step.kind, step.minutes), (&same.id, same.kind, same.minutes));
                    assert_eq!(step.caution.is_some(), same.caution.is_some(), "{}", same.id);
                    assert_eq!(step.if_not.is_some(), same.if_not.is_some(), "{}", same.id);
                    assert_eq!(
                        (step.needs, step.watch, step.page),
                        (same.needs, same.watch, same.page),
                        "{}",
                        same.id
                    );
                    let asked = |of: &plant::procedure::Step| {
                        of.entry
                            .as_ref()
                            .map(|entry| (entry.unit.clone(), entry.low, entry.high, entry.meter))
                    };
                    assert_eq!(asked(step), asked(same), "{}", same.id);
                    assert_ne!(step.act, same.act, "{}", same.id);
                }
            }
        }
        for all in EXERCISES.iter() {
            let ids = |all: &[Exercise]| all.iter().map(|one| one.id.clone()).collect::<Vec<_>>();
            assert_eq!(ids(all), ids(&EXERCISES[0]));
        }
    }
}
