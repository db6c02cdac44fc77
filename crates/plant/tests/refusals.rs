//! What is refused of a scenario, a layout, a procedure and an action, and what each refusal holds.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use std::sync::Arc;

use message::{Arg, Message, Tell, message};
use plant::layout::End;
use plant::model::{Plant, Start};
use plant::procedure::{Kind, Procedure};
use plant::properties::Properties;
use plant::scenario::{Broken, Scenario};
use plant::{Error, layouts};

/// Part, problem and what is accepted.
fn parts(error: Error) -> [Arg; 3] {
    let message = error.message();
    assert_eq!(message.id(), "plant.layout");
    let names: Vec<String> = message.args().map(|(name, _)| name.to_owned()).collect();
    assert_eq!(names, ["part", "problem", "accepted"]);
    let Error::Layout { part, problem, accepted } = error else { panic!("{error}") };
    [part, problem, accepted]
}

fn range(low: f64, high: f64) -> Arg {
    message!("plant.accepted.range", low = low, high = high).into()
}

fn scenario() -> Scenario {
    Scenario {
        layout: "batch".into(),
        title: String::new(),
        hours: 1.0,
        every_s: 10.0,
        seed: 1,
        water_c: None,
        air_c: None,
        salt_kg: 10_000.0,
        bed_kg: 0.0,
        purity_pct: None,
        moisture_pct: None,
        target_pct: None,
        faults: Vec::new(),
        dumps: Vec::new(),
    }
}

fn fault(kind: &str, at: Option<&str>, much: Option<f64>) -> Broken {
    Broken { at_min: 1.0, kind: kind.into(), at: at.map(Into::into), much }
}

#[test]
fn scenarios() {
    let properties = Arc::new(Properties::new().unwrap());
    let refusal = |scenario: Scenario| parts(scenario.plant(&properties).map(|_| ()).unwrap_err());
    let [part, problem, accepted] = refusal(Scenario { layout: "bed".into(), ..scenario() });
    assert_eq!((part, accepted), ("layout".into(), "batch, fed, upflow".into()));
    assert_eq!(problem, message!("plant.unknown-layout", name = "bed").into());
    let [part, problem, accepted] = refusal(Scenario { water_c: Some(60.0), ..scenario() });
    assert_eq!((part, problem, accepted), ("water_c".into(), 60.0.into(), range(0.5, 38.0)));

    let first = message!("plant.fault", number = 1);
    let of_fault = |broken: Broken| refusal(Scenario { faults: vec![broken], ..scenario() });
    let [part, problem, accepted] = of_fault(fault("bridge", None, None));
    assert_eq!(
        (part, problem),
        (first.clone().into(), message!("plant.unknown-kind", kind = "bridge").into())
    );
    assert!(matches!(accepted, Arg::Text(names) if names.split(", ").any(|name| name == "bridging")));
    let [part, problem, accepted] = of_fault(fault("stuck", Some("drain"), None));
    let lines: Vec<String> = layouts::batch().lines.iter().map(|line| line.id.clone()).collect();
    assert_eq!((part, accepted), (first.clone().into(), lines.join(", ").into()));
    assert_eq!(problem, message!("plant.not-in-layout", id = "drain").into());
    let [part, problem, accepted] = of_fault(fault("weak_supply", None, Some(1.5)));
    let much = message!("plant.field-of", part = first, field = "much");
    assert_eq!((part, problem, accepted), (much.into(), 1.5.into(), range(0.0, 1.0)));
}

#[test]
fn layouts_and_starts() {
    let mut layout = layouts::batch();
    layout.lines[0].to = End::Supply;
    let line = message!("plant.line", id = &layout.lines[0].id);
    let [part, problem, accepted] = parts(layout.check().unwrap_err());
    assert_eq!((part, problem), (line.into(), message!("plant.ends").into()));
    assert_eq!(accepted, message!("plant.accepted.line-ends").into());

    let (layout, properties) = (layouts::batch(), Arc::new(Properties::new().unwrap()));
    let start = Start::empty(&layout, 1000.0);
    let mut plant = Plant::new(layout, properties, &start).unwrap();
    let [part, problem, _] = parts(plant.dump(0, -5.0).unwrap_err());
    assert_eq!(part, message!("plant.salt-dump").into());
    let mass = Arg::MassKg(-5.0);
    assert_eq!(problem, Message::new("plant.into-vessel").with("mass", mass).with("vessel", 0).into());
}

#[test]
fn procedures() {
    let text = plant::procedure::SHIPPED;
    let shipped: Procedure = toml_edit::de::from_str(text).unwrap();
    shipped.check().unwrap();
    let first = message!("plant.step", id = &shipped.steps[0].id);
    let mut twice = shipped.clone();
    twice.steps.insert(1, twice.steps[0].clone());
    let [part, problem, accepted] = parts(twice.check().unwrap_err());
    assert_eq!((part, problem), (first.into(), message!("plant.step-twice").into()));
    assert_eq!(accepted, message!("plant.accepted.step-once").into());
    let empty = Procedure { steps: Vec::new(), ..shipped };
    let [part, problem, _] = parts(empty.check().unwrap_err());
    assert_eq!((part, problem), (message!("plant.procedure").into(), message!("plant.no-step").into()));
}

/// Salt in a tank dissolves for a quarter of an hour after the feeder stops (common practice, no source; the
/// exercises say the same): a batch is sampled and released after that. What flows out while it is made is released
/// before the salt stops.
#[test]
fn a_batch_is_released_after_its_salt_has_stopped_and_dissolved() {
    let read = |text: &str| toml_edit::de::from_str::<Procedure>(text).unwrap();
    let batch = read(plant::procedure::SHIPPED);
    let place = |of: &Procedure, id: &str| of.step(id).unwrap_or_else(|| panic!("{id}")).0;
    let order = ["salt_on", "salt_off", "circulate", "first_sample", "in_spec", "release", "book"];
    let places = order.map(|id| place(&batch, id));
    assert!(places.windows(2).all(|pair| pair[0] < pair[1]), "{places:?}");
    let circulate = batch.step("circulate").unwrap().1;
    assert_eq!((circulate.minutes, circulate.kind), (Some(15.0), Kind::See));
    let continuous = read(plant::procedure::CONTINUOUS);
    continuous.check().unwrap();
    assert!(place(&continuous, "release") < place(&continuous, "salt_off"));
    assert!(continuous.step("circulate").is_none());
    // Each plant gets its own; both where it is not said how it works.
    let shipped =
        |way| plant::procedure::shipped_for(way).into_iter().map(|text| read(text).title).collect::<Vec<_>>();
    let (one, other, last) = (batch.title, continuous.title, "End-of-season shutdown".to_owned());
    assert_eq!(shipped(Some(layouts::batch().control.way)), [one.clone(), last.clone()]);
    assert_eq!(shipped(Some(layouts::fed().control.way)), [other.clone(), last.clone()]);
    assert_eq!(shipped(Some(layouts::upflow().control.way)), [other.clone(), last.clone()]);
    assert_eq!(shipped(None), [one, other, last]);
}

/// A step that is seen is answered yes or no: it has to ask, in every language.
#[test]
fn what_is_answered_yes_or_no_is_asked() {
    for text in plant::procedure::TRANSLATED.iter().flatten() {
        let read: Procedure = toml_edit::de::from_str(text).unwrap();
        for step in read.steps.iter().filter(|step| step.kind == Kind::See) {
            assert!(step.act.contains('?'), "{}: {}: {}", read.title, step.id, step.act);
        }
    }
}

/// Numbers are told with their units, and errors of chemistry as chemistry's own.
#[test]
fn other_errors() {
    let error = Error::Stuck { seconds: 12.6 };
    assert_eq!(error.message(), message!("plant.stuck", seconds = (12.6, 0)));
    let error = Error::NothingMade { celsius: 4.0 };
    assert_eq!(error.message().id(), "plant.nothing-made");
    assert!(matches!(error.message().arg("water"), Some(Arg::Celsius(t)) if (t - 4.0).abs() < 1e-9));
    let inner = chemistry::MassFraction::from_percent(-1.0).unwrap_err();
    assert_eq!(Error::from(inner.clone()).message(), inner.message());
}
