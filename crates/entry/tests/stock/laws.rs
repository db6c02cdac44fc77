//! What holds of any entries: mass is conserved, one by one equals the whole, any text is answered.

use proptest::prelude::*;
use quantity::in_kilograms;
use yard::event::*;
use yard::stock::Books;

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
        let tanks: f64 = books.tanks.iter().map(|tank| in_kilograms(tank.mass)).sum();
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

    /// Fields of a kind with any values at all: an answer or an error, never a panic.
    #[test]
    fn any_values_of_a_kind_are_answered(
        place in 0..KINDS.len(),
        values in proptest::collection::vec(prop_oneof![".{0,12}", "-?[0-9]{1,6}(\\.[0-9]{1,3})?", "[0-9]"], 24),
    ) {
        let (yard, kind) = (yard(), &KINDS[place]);
        let names = kind.fields.iter().map(|field| field.names().last().unwrap().0.clone());
        let fields: Vec<(String, String)> = names.zip(values).collect();
        if let Ok(body) = entry::read_body(kind.name, &fields, (&yard, &Books::empty(&yard))) {
            let text = body.to_json().unwrap();
            prop_assert_eq!(Body::from_json(body.kind(), EVENT_VERSION, &text).unwrap(), body);
        }
    }
}
