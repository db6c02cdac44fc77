//! What holds of any entries: mass is conserved, one by one equals the whole, any text is answered.

use event::*;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use quantity::in_kilograms;
use yard::stock::Books;

use super::common;
use super::events::*;

fn any_body() -> impl Strategy<Value = Body> {
    let tank = prop_oneof![Just("1"), Just("2"), Just("3")];
    (0..7, tank, 1.0..900.0f64, 5.0..26.0f64).prop_map(|(kind, tank, gal, pct)| match kind {
        0 | 1 => made(tank, gal, pct),
        2 | 3 => load(tank, gal),
        4 => Body::Transfer(Transfer {
            from_tank: tank.into(),
            to_tank: "2".into(),
            volume_m3: m3(gal),
            temp_c: Some(4.0),
        }),
        5 => Body::ReturnToTank(ReturnToTank {
            tank: tank.into(),
            truck: "T1".into(),
            volume_m3: m3(gal * 0.1),
            temp_c: None,
            ..ReturnToTank::default()
        }),
        _ => Body::Loss(Loss { tank: tank.into(), volume_m3: m3(gal * 0.01), reason: "test".into() }),
    })
}

proptest! {
    /// Mass is conserved over the whole yard, whatever happens.
    #[test]
    fn mass_is_conserved(bodies in proptest::collection::vec(any_body(), 0..60)) {
        let books = fold(&bodies);
        let t = &books.totals;
        let tanks: f64 = books.tanks.iter().map(|tank| in_kilograms(tank.content.mass)).sum();
        let expect = in_kilograms(t.made) - in_kilograms(t.loaded) + in_kilograms(t.returned) - in_kilograms(t.lost);
        prop_assert!((tanks - expect).abs() < 1e-6 * (1.0 + in_kilograms(t.made)));
    }

    /// Event by event is the same as all at once: the cache can be dropped and rebuilt.
    #[test]
    fn one_by_one_equals_the_whole(bodies in proptest::collection::vec(any_body(), 0..60)) {
        let yard = yard();
        let whole = fold(&bodies);
        let mut step = Books::empty(&yard);
        for (n, body) in bodies.iter().enumerate() {
            prop_assert!(step.try_append(&yard, &recorded(n as u64 + 1, body.clone())));
        }
        prop_assert_eq!(format!("{:?}", whole), format!("{:?}", step));
    }

    /// A body written and read back is the same body.
    #[test]
    fn bodies_survive_the_ledger(body in any_body()) {
        let text = body.to_json().unwrap();
        prop_assert_eq!(Body::from_json(body.kind(), EVENT_VERSION, &text).unwrap(), body);
    }

    /// Any text at all as a body: an answer or an error, never a panic.
    #[test]
    fn any_text_as_a_body_is_answered(place in 0..KINDS.len(), text in ".{0,80}", version in 0u32..4) {
        let _ = Body::from_json(KINDS[place].name, version, &text);
    }

    /// Whatever of any kind is taken in is kept as it was said, and can be entered again as it is kept: the same comes
    /// of it.
    #[test]
    fn what_is_taken_in_is_kept_and_taken_in_again((kind, fields) in any_entry()) {
        let yard = yard();
        let books = Books::opening(&yard);
        if let Ok(body) = entry::read_body(kind.name, &fields, (&yard, &books)) {
            let text = body.to_json().unwrap();
            prop_assert_eq!(Body::from_json(body.kind(), EVENT_VERSION, &text).unwrap(), body.clone());
            let again = entry::read_body(kind.name, &as_kept(&text), (&yard, &books));
            prop_assert_eq!(again, Ok(body));
        }
    }
}

/// A kind, with fields of it as a person types them.
fn any_entry() -> impl Strategy<Value = (&'static Kind, Vec<(String, String)>)> {
    common::any_kind().prop_flat_map(|kind| (Just(kind), common::typed_fields(kind, &yard())))
}

/// The fields of a body as the ledger names them.
fn as_kept(text: &str) -> Vec<(String, String)> {
    let object: serde_json::Map<String, serde_json::Value> = serde_json::from_str(text).unwrap();
    let typed = |value: &serde_json::Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
    object.iter().map(|(name, value)| (name.clone(), typed(value))).collect()
}

/// The draws above are entries: of each kind a good part is taken in, so that what is asked of them is asked.
#[test]
fn entries_at_random_are_taken_in_of_every_kind() {
    let yard = yard();
    let books = Books::opening(&yard);
    let mut runner = TestRunner::deterministic();
    for kind in KINDS {
        let strategy = common::typed_fields(kind, &yard);
        let mut taken = 0;
        let mut last = Vec::new();
        for _ in 0..100 {
            let fields = strategy.new_tree(&mut runner).unwrap().current();
            match entry::read_body(kind.name, &fields, (&yard, &books)) {
                Ok(_) => taken += 1,
                Err(problems) => last = problems,
            }
        }
        assert!(10 <= taken, "{}: {taken} of 100 are taken in; the last refused: {last:?}", kind.name);
    }
}
