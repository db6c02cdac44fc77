//! What is asked before a mix is recorded, and what is refused.

use event::*;
use quantity::{in_celsius, in_hours, in_kilograms};
use uuid::Uuid;
use yard::stock::Books;

use super::events::*;

#[test]
fn the_same_declared_product_does_not_mix() {
    let before = [delivered("4", None, 400.0), delivered("7", None, 300.0)];
    let move_on = transfer("4", "7", 100.0);
    assert_eq!(doubts(&before, &move_on), "");
    let books = fold(&[&before[..], &[move_on]].concat());
    assert!(unlike(&books, "7").is_empty() && unlike(&books, "4").is_empty());
    near(chloride(&books, "7"), m3(400.0) * MAG_DENSITY * MAG_CHLORIDE, 1e-6);
}

#[test]
fn every_way_to_mix_is_doubted_by_name() {
    let before = [made("1", 700.0, 23.0), made("2", 200.0, 23.0), delivered("4", None, 500.0)];
    let (salt, magnesium) = ("Salt brine", "Magnesium chloride liquid");
    let cases = [
        (transfer("4", "1", 100.0), magnesium, salt),
        (transfer("1", "4", 100.0), salt, magnesium),
        (transfer("4", "5", 10.0), magnesium, "Calcium liquid"),
        (delivered("1", Some("mag"), 100.0), magnesium, salt),
        (delivered("4", Some("cal"), 100.0), "Calcium liquid", magnesium),
        (corrected("4", 100.0, 0.0), "entry.water", magnesium),
        (corrected("4", 0.0, 50.0), "entry.rock-salt", magnesium),
    ];
    for (body, comes, held) in cases {
        let told = doubts(&before, &body);
        let mixes = format!("entry.mixes (comes = {comes}, with = {held}, bought = ");
        assert!(told.contains(&mixes), "{body:?}: {told}");
        assert!(told.contains("entry.accept-mix (kind = jar_test)"), "{told}");
    }
    for body in [
        transfer("1", "2", 100.0),
        delivered("4", None, 100.0),
        delivered("4", Some("mag"), 100.0),
        corrected("1", 10.0, 10.0),
        made("1", 100.0, 23.0),
        load("4", "T1", 100.0),
        settled("4", 400.0, None),
    ] {
        assert_eq!(doubts(&before, &body), "", "{body:?}");
    }
}

#[test]
fn a_mixed_tank_goes_on_being_doubted_until_it_is_settled_or_empty() {
    let mixed = [made("1", 700.0, 23.0), delivered("4", None, 500.0), transfer("4", "1", 300.0)];
    for body in [made("1", 10.0, 23.0), corrected("1", 10.0, 0.0), transfer("1", "2", 50.0)] {
        assert!(doubts(&mixed, &body).contains("Salt brine; Magnesium chloride liquid"), "{body:?}");
    }
    let agreed = settled("1", 900.0, Some(23.1));
    assert!(
        doubts(&mixed, &agreed)
            .contains("entry.ends-mix (holds = Salt brine; Magnesium chloride liquid, product = Salt brine)")
    );
    let books = fold(&[&mixed[..], &[agreed]].concat());
    assert!(unlike(&books, "1").is_empty());
    near(books.tank("1").unwrap().strength().unwrap().percent(), 23.1, 1e-9);
    near(chloride(&books, "1"), in_kilograms(books.tank("1").unwrap().content.sodium_chloride) * CL, 0.05);

    // Drawn to nothing, and filled again with brine.
    let emptied = [&mixed[..], &[load("1", "T1", 1000.0)]].concat();
    let books = fold(&emptied);
    assert!(unlike(&books, "1").is_empty());
    near(in_kilograms(books.tank("1").unwrap().content.mass), 0.0, 1e-6);
    let books = fold(&[&emptied[..], &[made("1", 400.0, 23.0)]].concat());
    assert!(unlike(&books, "1").is_empty());
    near(books.tank("1").unwrap().strength().unwrap().percent(), 23.0, 1e-6);
    // A void of the transfer takes the mix back as well.
    let void = Body::Void(Void { event: Uuid::from_u128(3).to_string(), reason: "wrong tank".into() });
    assert!(unlike(&fold(&[&mixed[..], &[void]].concat()), "1").is_empty());
}

#[test]
fn two_brines_of_other_names_are_still_kept_apart() {
    let fields: Vec<_> = [("from_tank", "1"), ("to_tank", "6"), ("volume_gal", "5")]
        .map(|(a, b)| (a.to_string(), b.to_string()))
        .to_vec();
    let refused = entry::read_body("transfer", &fields, (&yard(), &Books::empty(&yard()))).unwrap_err();
    assert!(refused[0].problem.id() == "entry.other-brine", "{refused:?}");
}

#[test]
fn a_jar_test_is_evidence() {
    let plain = [made("1", 700.0, 23.0)];
    let books = fold(
        &[
            &plain[..],
            &[jar(Some("1"), JarResult::Clear), jar(None, JarResult::Gel), jar(Some("1"), JarResult::Layers)],
        ]
        .concat(),
    );
    near(
        in_kilograms(books.tank("1").unwrap().content.mass),
        in_kilograms(fold(&plain).tank("1").unwrap().content.mass),
        1e-12,
    );
    let last = books.tank("1").unwrap().jar_test.as_ref().unwrap();
    assert_eq!(
        (last.result.word(), last.liquid_a.as_str(), last.liquid_b.as_str()),
        ("layers", "brine", "mag")
    );
    near(last.share_a_pct, 70.0, 1e-12);
    near(in_celsius(last.temperature), -18.0, 1e-9);
    near(in_hours(last.duration), 24.0, 1e-9);
    assert!(books.tank("2").unwrap().jar_test.is_none() && only_salt_is_short(&books));
    assert_eq!(jar(Some("1"), JarResult::Gel).tanks(), ["1"]);
    assert!(jar(None, JarResult::Gel).tanks().is_empty());
    assert!(doubts(&plain, &jar(Some("1"), JarResult::Gel)).is_empty());
}

#[test]
fn a_jar_test_is_read_and_refused_by_name() {
    let yard = yard();
    let read = |changed: &[(&str, &str)]| {
        let mut fields: Vec<(&str, &str)> = vec![
            ("liquid_a", "brine"),
            ("liquid_b", "molasses from the mill"),
            ("share_a_pct", "80"),
            ("temp_f", "0"),
            ("duration_h", "48"),
            ("result", "clear"),
        ];
        for (name, value) in changed {
            fields.retain(|(known, _)| known != name);
            fields.push((name, value));
        }
        let fields: Vec<_> = fields.iter().map(|(a, b)| (a.to_string(), b.to_string())).collect();
        entry::read_body("jar-test", &fields, (&yard, &Books::empty(&yard)))
    };
    let Body::JarTest(test) = read(&[("tank", "1"), ("remark", "a little foam")]).unwrap() else { panic!() };
    near(test.temp_c, -160.0 / 9.0, 1e-9);
    assert_eq!((test.tank.as_deref(), test.remark.as_deref()), (Some("1"), Some("a little foam")));
    for result in JarResult::WORDS {
        assert!(read(&[("result", result)]).is_ok(), "{result}");
    }
    for share in ["0", "100"] {
        assert!(read(&[("share_a_pct", share)]).is_ok(), "{share}");
    }
    for (changed, told) in [
        (("result", "fine"), "entry.no-such-word (field = result)"),
        (("result", "fine"), "entry.one-of (names = clear, crystals, sludge, layers, gel)"),
        (
            ("result", "crystal"),
            "entry.did-you-mean (problem = entry.no-such-word (field = result), name = crystals)",
        ),
        (("share_a_pct", "101"), "entry.accept-range (low = 0, high = 100)"),
        (("share_a_pct", "-1"), "entry.out-of-range"),
        (("share_a_pct", ""), "field = share_a_pct, value = entry.none, problem = entry.needed"),
        (("liquid_b", " "), "field = liquid_b, value = entry.none, problem = entry.needed"),
        (
            ("temp_f", "-200"),
            "entry.with-unit (range = entry.accept-range (low = -76, high = 140), unit = °F)",
        ),
        (("duration_h", "0"), "entry.not-above-zero"),
        (("tank", "99"), "entry.no-such-tank"),
    ] {
        let problems = read(&[changed]).unwrap_err();
        let text = problems.iter().map(ToString::to_string).collect::<String>();
        assert!(text.contains(told), "{changed:?}: {text}");
    }
}
