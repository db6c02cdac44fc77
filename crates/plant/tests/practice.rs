//! Aim: a person can run the practice plant, damage it, and learn from the debrief.
//! Method: the shipped exercises are run by scripted operators, good and bad.

use std::sync::Arc;

use plant::fault::Fault;
use plant::judge::Check;
use plant::practice::{Act, Danger, Exercise, Exercises, Found, HARM_SECONDS, Mend, SHIPPED, Session, What};
use plant::properties::Properties;
use plant::scenario::{Broken, KINDS};

fn exercises() -> Vec<Exercise> {
    toml_edit::de::from_str::<Exercises>(SHIPPED).expect("reads").exercises
}

fn session(id: &str) -> Session {
    let exercise = exercises().into_iter().find(|one| one.id == id).expect("is there");
    Session::new(exercise, &Arc::new(Properties::new().expect("tables")), 7).expect("hangs together")
}

fn line(session: &Session, id: &str) -> usize {
    session.plant().layout().lines.iter().position(|line| line.id == id).expect("a line")
}

#[test]
fn ten_exercises_ship_and_every_one_can_be_played_to_its_end() {
    let all = exercises();
    assert_eq!(all.len(), 10);
    for exercise in all {
        let mut session = session(&exercise.id);
        session.advance_to(600.0).expect("goes on");
        let debrief = session.debrief().expect("a debrief");
        assert!((debrief.seconds - 600.0).abs() < 1e-6);
        assert!(exercise.task.len() > 20 && exercise.for_trainer.len() > 20);
    }
}

#[test]
fn a_pump_that_is_not_primed_is_ruined_in_three_minutes_unless_it_is_stopped() {
    let mut session = session("first_start");
    let (water, pump) = (line(&session, "water"), line(&session, "circulation"));
    assert_eq!(session.act(Act::Line { line: water, share: 1.0 }).expect("is set"), None);
    session.advance_to(600.0).expect("goes on");
    assert_eq!(session.act(Act::Line { line: pump, share: 1.0 }).expect("is set"), None);
    session.advance_to(660.0).expect("goes on");
    assert_eq!(session.dry_running(), [pump]);
    assert!(
        matches!(session.look(Check::Circulation), Found::Circulation { runs: true, share } if share < 0.01)
    );
    // Opening the vent of a running pump is refused, and counted.
    let prime = Act::Mend(Mend::Prime(pump));
    assert_eq!(session.act(prime).expect("an answer"), Some(Danger::PumpRuns));
    assert_eq!(session.act(Act::Line { line: pump, share: 0.0 }).expect("is set"), None);
    assert_eq!(session.act(prime).expect("an answer"), None);
    assert_eq!(session.act(Act::Line { line: pump, share: 1.0 }).expect("is set"), None);
    session.advance_to(1200.0).expect("goes on");
    assert!(session.dry_running().is_empty());
    assert!(matches!(session.look(Check::Circulation), Found::Circulation { share, .. } if 0.5 < share));
    let debrief = session.debrief().expect("a debrief");
    assert!((debrief.run.dry_seconds - 60.0).abs() < 31.0, "{debrief:?}");
    assert_eq!((debrief.ruined.len(), debrief.dangerous), (0, 1));
    let first = debrief.noticed[0];
    assert!(matches!(first.fault, Fault::Unprimed { .. }));
    assert_eq!((first.noticed, first.mended), (Some(660.0), Some(660.0)));
}

#[test]
fn a_pump_left_dry_is_ruined_and_the_debrief_says_so() {
    let mut session = session("first_start");
    let pump = line(&session, "circulation");
    session.act(Act::Line { line: pump, share: 1.0 }).expect("is set");
    session.advance_to(HARM_SECONDS + 60.0).expect("goes on");
    let debrief = session.debrief().expect("a debrief");
    assert_eq!(debrief.ruined, [pump]);
    assert!(session.is_ruined(pump));
    assert!(session.log().iter().any(|entry| entry.what == What::Ruined { line: pump }));
    assert!(debrief.reference.dry_seconds < HARM_SECONDS);
}

#[test]
fn rodding_without_lockout_is_refused() {
    let mut session = session("hanging_salt");
    session.advance_to(1800.0).expect("goes on");
    assert!(matches!(session.look(Check::Hopper), Found::Hopper { kg, .. } if 1000.0 < kg));
    let rod = Act::Mend(Mend::Rod(0));
    assert_eq!(session.act(rod).expect("an answer"), Some(Danger::FeederNotLockedOut));
    session.act(Act::LockOut { feeder: 0, locked: true }).expect("is locked out");
    assert_eq!(session.act(rod).expect("an answer"), None);
    assert_eq!(session.act(Act::Feed { feeder: 0, share: 1.0 }).expect("an answer"), Some(Danger::LockedOut));
    assert_eq!(session.act(Act::ReturnToAuto).expect("an answer"), Some(Danger::LockedOut));
    session.act(Act::LockOut { feeder: 0, locked: false }).expect("is free");
    assert_eq!(session.act(Act::ReturnToAuto).expect("an answer"), None);
    session.advance_to(3.0 * 3600.0).expect("goes on");
    let debrief = session.debrief().expect("a debrief");
    assert_eq!(debrief.dangerous, 3);
    assert!(debrief.run.in_band.is_some(), "the controller went on once salt fell: {debrief:?}");
    assert!(debrief.reference.in_band.is_some());
}

#[test]
fn salt_that_hangs_for_good_is_seen_in_what_was_made() {
    let mut session = session("hanging_salt");
    session.advance_to(5.0 * 3600.0).expect("goes on");
    let debrief = session.debrief().expect("a debrief");
    assert_eq!(debrief.noticed[0].noticed, None);
    assert_eq!(debrief.run.in_band, None);
    assert!(debrief.reference.in_band.is_some());
    assert!(debrief.run.made_kg < debrief.reference.made_kg);
    assert!(debrief.run.salt_kg < debrief.reference.salt_kg);
}

#[test]
fn every_fault_has_its_hand_and_ends_by_it() {
    let exercise = exercises().into_iter().find(|one| one.id == "plain_run").expect("is there");
    let properties = Arc::new(Properties::new().expect("tables"));
    for (kind, ..) in KINDS {
        let mut session = Session::new(exercise.clone(), &properties, 3).expect("hangs together");
        let broken = Broken { at_min: 0.0, kind: kind.into(), at: None, much: None };
        session.begin(&broken, true).expect("begins");
        let fault = session.plant().faults().next().expect("has begun");
        assert_eq!(session.told().next(), Some(fault));
        let Some(mend) = Mend::of(&fault) else {
            assert!(matches!(fault, Fault::ColdSupply { .. } | Fault::DriftedTrim { .. }), "{kind}");
            continue;
        };
        session.act(Act::LockOut { feeder: 0, locked: true }).expect("is locked out");
        assert_eq!(session.act(Act::Mend(mend)).expect("an answer"), None, "{kind}");
        assert_eq!(session.plant().faults().count(), 0, "{kind}");
        let noticed = session.debrief().expect("a debrief").noticed;
        assert!(noticed[0].noticed.is_some() && noticed[0].mended.is_some(), "{kind}");
        // Salt added and sludge removed are counted: the plant still balances.
        session.advance_to(60.0).expect("goes on");
        let (off, all) = (session.plant().imbalance(), session.plant().turned_over());
        assert!(off.salt.abs() <= 1e-9 * all.salt && off.water.abs() <= 1e-9 * all.water, "{kind}");
        let insolubles = off.insolubles.abs() <= 1e-9 * all.insolubles.abs().max(1.0);
        assert!(insolubles && off.heat.abs() <= 1e-9 * all.heat.abs().max(1.0), "{kind}");
    }
}

#[test]
fn the_trim_moves_the_panel_and_nothing_else() {
    let mut session = session("not_zeroed");
    session.advance_to(5400.0).expect("goes on");
    let panel = session.plant().layout().control.panel;
    let before = (session.plant().expects()[panel], session.plant().holds(0).strength);
    session.act(Act::Trim { number: 1.02 }).expect("is set");
    let after = (session.plant().expects()[panel], session.plant().holds(0).strength);
    assert!((after.0 / before.0 - 1.02).abs() < 1e-9 && (after.1 - before.1).abs() < 1e-12);
    // Set back and set again: settings do not multiply.
    session.act(Act::Trim { number: 0.98 }).expect("is set");
    assert!((session.plant().expects()[panel] / before.0 - 0.98).abs() < 1e-9);
    session.act(Act::Trim { number: 1.0 }).expect("is set");
    assert!((session.plant().expects()[panel] - before.0).abs() < 1e-9);
    assert!(session.act(Act::Trim { number: 0.1 }).is_err());
    // The sample shows that the refractometer is off, as the bench will.
    let drawn = session.sample(0).expect("a sample");
    assert!((drawn.not_zeroed - 0.6).abs() < 1e-12 && (0.2..0.26).contains(&drawn.strength));
    // A trim set by the trainee is not a fault of the plant.
    assert!(session.debrief().expect("a debrief").noticed.len() == 1);
}

#[test]
fn going_back_is_the_same_plant_again() {
    let mut session = session("plain_run");
    let water = line(&session, "water");
    session.act(Act::Line { line: water, share: 1.0 }).expect("is set");
    session.advance_to(1200.0).expect("goes on");
    let at_twenty = session.plant().holds(0);
    session.act(Act::Feed { feeder: 0, share: 1.0 }).expect("is set");
    session.advance_to(2400.0).expect("goes on");
    assert!(at_twenty.strength < session.plant().holds(0).strength + 1e-9);
    let to = session.rewind(1200.0);
    assert!((to - 1200.0).abs() < 61.0, "{to}");
    assert!(session.log().iter().all(|entry| !matches!(entry.what, What::Did(Act::Feed { .. }))));
    session.advance_to(1200.0).expect("goes on");
    assert!((session.plant().holds(0).level - at_twenty.level).abs() < 1e-6);
    assert!(session.rewind(1e9).abs() < 1e-9);
}

#[test]
fn acts_on_parts_that_are_not_there_are_refused() {
    let mut session = session("plain_run");
    for act in [
        Act::Line { line: 9, share: 1.0 },
        Act::Line { line: 0, share: 1.5 },
        Act::Line { line: 0, share: f64::NAN },
        Act::Feed { feeder: 3, share: 0.5 },
        Act::Mend(Mend::Cell(40)),
        Act::Trim { number: f64::INFINITY },
    ] {
        assert!(session.act(act).is_err(), "{act:?}");
    }
    assert!(session.log().is_empty());
    let unknown = Broken { at_min: 0.0, kind: "rain".into(), at: None, much: None };
    assert!(session.begin(&unknown, false).is_err());
}
