//! Aim: a scenario, a procedure or a file of exercises that somebody writes is played, or refused by name; it stops
//! nothing and gives no figure that is none.
//! Method: the files that ship, damaged at random. What can be read is checked, built and played for a while.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use std::sync::{Arc, LazyLock};

use any_bytes::{cases, damaged_text, is_finite_throughout, soon, text};
use plant::practice::{Exercises, Session};
use plant::procedure::{END_OF_SEASON, Kind, Procedure};
use plant::properties::Properties;
use plant::scenario::Scenario;
use proptest::prelude::*;

static PROPERTIES: LazyLock<Arc<Properties>> = LazyLock::new(|| Arc::new(Properties::new().unwrap()));

const SCENARIO: &str = include_str!("../../../examples/bridging.toml");
/// One with every key.
const WHOLE: &str = "layout = \"fed\"\ntitle = \"All\"\nhours = 0.5\nevery_s = 30\nseed = 3\nwater_c = 9.5\nair_c = 4\n\
    salt_kg = 5000\nbed_kg = 250\npurity_pct = 97\nmoisture_pct = 2\ntarget_pct = 23.3\n\
    [[fault]]\nat_min = 5\nkind = \"drifted_trim\"\nmuch = 1.03\n\
    [[fault]]\nat_min = 8\nkind = \"fouled_cell\"\nmuch = 0.95\n\
    [[fault]]\nat_min = 10\nkind = \"stuck\"\nat = \"water\"\nmuch = 0.4\n\
    [[dump]]\nat_min = 12\nkg = 90.5\n";
/// Longest run that is played here, h: the plant itself is tried elsewhere.
const PLAYED: f64 = 0.05;

fn play(scenario: &Scenario) -> Result<(), TestCaseError> {
    // Its whole length is checked, a part of it is played.
    match scenario.plant(&PROPERTIES) {
        Err(error) => prop_assert!(!error.to_string().is_empty()),
        Ok(_) => {
            let hours = scenario.hours.min(PLAYED);
            let short = Scenario { hours, every_s: scenario.every_s.max(1.0), ..scenario.clone() };
            let mut is_finite = true;
            let played = soon(|| {
                short.play(&PROPERTIES, &mut |_, snapshot| {
                    is_finite &= snapshot.shown.iter().all(|shown| shown.is_finite());
                })
            });
            prop_assert!(is_finite, "a sensor shows no number");
            if let Ok(outcome) = played {
                prop_assert!(is_finite_throughout(&outcome), "{outcome:?}");
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases(48))]

    #[test]
    fn damaged_scenarios_are_answered(text in damaged_text(&[SCENARIO, WHOLE, WHOLE])) {
        if let Ok(scenario) = soon(|| toml_edit::de::from_str::<Scenario>(&text)) {
            play(&scenario)?;
        }
    }

    #[test]
    fn any_text_is_answered(text in text()) {
        let _ = soon(|| toml_edit::de::from_str::<Scenario>(&text).is_ok());
        let _ = soon(|| toml_edit::de::from_str::<Procedure>(&text).is_ok());
        let _ = soon(|| toml_edit::de::from_str::<Exercises>(&text).is_ok());
    }

    #[test]
    fn damaged_procedures_are_answered(text in damaged_text(&[END_OF_SEASON, PROCEDURE])) {
        let Ok(procedure) = soon(|| toml_edit::de::from_str::<Procedure>(&text)) else { return Ok(()) };
        if procedure.check().is_err() {
            return Ok(());
        }
        for (place, step) in procedure.steps.iter().enumerate() {
            prop_assert_eq!(procedure.step(&step.id).map(|(place, _)| place), Some(place));
            prop_assert_eq!(step.kind == Kind::Enter, step.entry.is_some());
            prop_assert!(step.minutes.is_none_or(f64::is_finite));
            if let Some(entry) = &step.entry {
                prop_assert!(entry.low < entry.high && (entry.high - entry.low).is_finite(), "{entry:?}");
                prop_assert!(entry.meter.is_none() || entry.total_m3(entry.high).is_some());
            }
        }
    }

    #[test]
    fn damaged_exercises_are_answered(text in damaged_text(&[EXERCISES])) {
        let Ok(all) = soon(|| toml_edit::de::from_str::<Exercises>(&text)) else { return Ok(()) };
        for exercise in all.exercises {
            if let Ok(mut session) = Session::new(exercise, &PROPERTIES, 7) {
                soon(|| session.advance_to(60.0)).ok();
                prop_assert!(session.sensors().iter().all(|shown| shown.is_finite()));
            }
        }
    }
}

/// Two exercises: each change of a longer file would seldom change what is read.
const EXERCISES: &str = "[[exercise]]\nid = \"a\"\ntitle = \"A\"\ntask = \"Do it\"\nfor_trainer = \"See it\"\nby_hand = true\n\
    [exercise.scenario]\nlayout = \"batch\"\nwater_c = 8\nair_c = 2\nsalt_kg = 8000\n\
    [[exercise]]\nid = \"b\"\ntitle = \"B\"\ntask = \"Do it\"\nfor_trainer = \"See it\"\nby_hand = false\n\
    [exercise.scenario]\nlayout = \"upflow\"\nwater_c = 8\nair_c = 2\nsalt_kg = 8000\nbed_kg = 900\n\
    [[exercise.scenario.fault]]\nat_min = 0.5\nkind = \"channelled\"\nmuch = 0.3\n";
/// A short procedure with every kind of step.
const PROCEDURE: &str = "title = \"Short\"\n\
    [[step]]\nid = \"look\"\nphase = \"Before\"\nact = \"Look\"\nwhy = \"To see\"\nkind = \"see\"\nif_not = \"Stop\"\nminutes = 5\n\
    [[step]]\nid = \"water\"\nphase = \"Run\"\nact = \"Read\"\nwhy = \"To know\"\nkind = \"enter\"\n\
    entry = { name = \"Total\", unit = \"gal\", low = 0, high = 1e6, meter = \"water\" }\n\
    [[step]]\nid = \"strength\"\nphase = \"Run\"\nact = \"Read\"\nwhy = \"To know\"\nkind = \"enter\"\n\
    entry = { name = \"Panel\", unit = \"%\", low = 0.0, high = 30.5 }\nwatch = \"in_band\"\nneeds = \"in_spec\"\n\
    [[step]]\nid = \"book\"\nphase = \"After\"\nact = \"Book\"\nwhy = \"To keep\"\nkind = \"book\"\npage = \"bench\"\n";

/// What the draws above begin from is good.
#[test]
fn the_samples_are_read() {
    for text in [SCENARIO, WHOLE] {
        play(&toml_edit::de::from_str(text).unwrap()).unwrap();
        assert!(toml_edit::de::from_str::<Scenario>(text).unwrap().plant(&PROPERTIES).is_ok());
    }
    for text in [END_OF_SEASON, PROCEDURE] {
        toml_edit::de::from_str::<Procedure>(text).unwrap().check().unwrap();
    }
    let all = toml_edit::de::from_str::<Exercises>(EXERCISES).unwrap().exercises;
    assert!(all.into_iter().all(|one| Session::new(one, &PROPERTIES, 7).is_ok()));
}
