//! A declared liquid together with anything else: recorded, doubted, counted by mass and chloride, and never predicted.
//!
//! Outside check: chloride is 35.45/58.44 = 0.6066 of sodium chloride by mass (standard atomic weights, IUPAC 2021).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use jiff::Timestamp;
use proptest::prelude::*;
use quantity::{gallons, in_celsius, in_cubic_metres, in_gallons, in_hours, in_kilograms};
use site::Yard;
use uuid::Uuid;
use yard::event::*;
use yard::stock::{BookProblem, Books, Liquid};

const YARD: &str = include_str!("../../../examples/alder_fork.toml");
/// Tank 4's liquid in the invented yard: kg/m³ and chloride by mass.
const MAG_DENSITY: f64 = 1283.0;
const MAG_CHLORIDE: f64 = 0.223;
/// Chloride in sodium chloride.
const CL: f64 = 35.45 / 58.44;
/// Another declared product and a tank of it; another brine and a tank of that.
const MORE: &str = r#"
[[product]]
id = "cal"
name = "Calcium liquid"
kind = "declared"
base = "calcium"
density_kg_m3 = 1300
chloride_pct = 20
source = "supplier's sheet (invented)"

[[product]]
id = "weak"
name = "Weak brine"
kind = "brine"

[[tank]]
id = "5"
product = "cal"
orientation = "vertical"
diameter_ft = 6
straight_height_ft = 8

[[tank]]
id = "6"
product = "weak"
orientation = "vertical"
diameter_ft = 6
straight_height_ft = 8

[[tank]]
id = "7"
product = "mag"
orientation = "vertical"
diameter_ft = 6
straight_height_ft = 8
"#;

fn yard() -> Yard {
    site::yard_file::read_yard(&format!("{YARD}{MORE}"), "alder_fork.toml").unwrap()
}

fn m3(gal: f64) -> f64 {
    in_cubic_metres(gallons(gal))
}

fn recorded(seq: u64, body: Body) -> Recorded {
    let at = Timestamp::from_second(1_700_000_000 + seq as i64 * 60).unwrap();
    let id = EventId(Uuid::from_u128(u128::from(seq)));
    Recorded {
        seq,
        recorded_at: at,
        event: Event { id, occurred_at: at, author: "Pat".into(), device: "test".into(), body },
    }
}

fn fold(bodies: &[Body]) -> Books {
    let events: Vec<Recorded> =
        bodies.iter().enumerate().map(|(n, body)| recorded(n as u64 + 1, body.clone())).collect();
    Books::fold(&yard(), &events)
}

fn made(tank: &str, gal: f64, pct: f64) -> Body {
    Body::MakingRun(MakingRun {
        tank: tank.into(),
        volume_m3: m3(gal),
        temp_c: None,
        strength_pct: pct,
        salt_kg: None,
        water_m3: None,
        duration_h: None,
        ..MakingRun::default()
    })
}

fn delivered(tank: &str, product: Option<&str>, gal: f64) -> Body {
    Body::LiquidDelivery(LiquidDelivery {
        tank: tank.into(),
        volume_m3: m3(gal),
        temp_c: None,
        strength_pct: None,
        product: product.map(Into::into),
        ticket: None,
        price_usd: None,
    })
}

fn transfer(from: &str, to: &str, gal: f64) -> Body {
    Body::Transfer(Transfer {
        from_tank: from.into(),
        to_tank: to.into(),
        volume_m3: m3(gal),
        temp_c: Some(4.0),
    })
}

fn corrected(tank: &str, water_gal: f64, salt_kg: f64) -> Body {
    Body::Correction(Correction { tank: tank.into(), water_m3: Some(m3(water_gal)), salt_kg: Some(salt_kg) })
}

fn load(tank: &str, truck: &str, gal: f64) -> Body {
    Body::LoadOut(LoadOut {
        tank: tank.into(),
        truck: truck.into(),
        route: None,
        volume_m3: m3(gal),
        temp_c: Some(1.0),
        ..LoadOut::default()
    })
}

fn lost(tank: &str, gal: f64) -> Body {
    Body::Loss(Loss { tank: tank.into(), volume_m3: m3(gal), reason: "hose".into() })
}

fn settled(tank: &str, gal: f64, pct: Option<f64>) -> Body {
    Body::Settlement(Settlement {
        tank: Some(tank.into()),
        volume_m3: Some(m3(gal)),
        strength_pct: pct,
        salt_kg: None,
        reason: "count".into(),
    })
}

fn jar(tank: Option<&str>, result: JarResult) -> Body {
    Body::JarTest(JarTest {
        liquid_a: "brine".into(),
        liquid_b: "mag".into(),
        share_a_pct: 70.0,
        temp_c: -18.0,
        duration_h: 24.0,
        result,
        remark: None,
        tank: tank.map(Into::into),
    })
}

/// Ids of what stands in a tank that is not its product alone, and masses, kg.
fn unlike(books: &Books, tank: &str) -> Vec<(String, f64)> {
    let yard = yard();
    let product = yard.product(&yard.tank(tank).unwrap().product).unwrap();
    let named = |liquid: &Liquid| match liquid {
        Liquid::Brine => "(brine)".to_string(),
        Liquid::Declared(id) => id.clone(),
    };
    let parts = books.tank(tank).unwrap().unlike(product);
    parts.iter().map(|part| (named(&part.liquid), in_kilograms(part.mass))).collect()
}

fn doubts(before: &[Body], body: &Body) -> String {
    let doubts = entry::doubts(body, &yard(), &fold(before));
    doubts.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
}

/// These yards make brine without a salt delivery: that their pile falls below zero is all that may be wrong.
fn only_salt_is_short(books: &Books) -> bool {
    books.problems.iter().all(|problem| matches!(problem, BookProblem::SaltBelowZero { .. }))
}

fn chloride(books: &Books, tank: &str) -> f64 {
    in_kilograms(books.tank(tank).unwrap().chloride(&yard()))
}

fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found} is not {expected}");
}

#[test]
fn a_mix_is_counted_by_mass_and_chloride_and_not_predicted() {
    let books = fold(&[made("1", 700.0, 23.0), delivered("4", None, 500.0), transfer("4", "1", 300.0)]);
    let tank = books.tank("1").unwrap();
    let mag = m3(300.0) * MAG_DENSITY;
    let parts = unlike(&books, "1");
    assert_eq!(parts.iter().map(|(id, _)| id.as_str()).collect::<Vec<_>>(), ["(brine)", "mag"]);
    near(parts[1].1, mag, 1e-6);
    near(chloride(&books, "1"), in_kilograms(tank.content.sodium_chloride) * CL + mag * MAG_CHLORIDE, 0.05);
    assert!(tank.strength().is_none(), "no strength of a mix");
    near(tank.last_strength.unwrap().percent(), 23.0, 1e-9);
    near(in_gallons(tank.volume(&yard())), 1000.0, 1e-6);
    // What is left is no mix.
    assert!(unlike(&books, "4").is_empty());
    near(in_gallons(books.tank("4").unwrap().volume(&yard())), 200.0, 1e-6);
    near(in_kilograms(books.tank("4").unwrap().content.mass), m3(200.0) * MAG_DENSITY, 1e-6);
    assert!(only_salt_is_short(&books), "{:?}", books.problems);
}

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
        (corrected("4", 100.0, 0.0), "water", magnesium),
        (corrected("4", 0.0, 50.0), "rock salt", magnesium),
    ];
    for (body, comes, held) in cases {
        let told = doubts(&before, &body);
        assert!(told.contains(&format!("mixes {comes} with {held}: ")), "{body:?}: {told}");
        assert!(told.contains("cannot be predicted") && told.contains("sheet only"), "{told}");
        assert!(told.contains("jar test"), "{told}");
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
        assert!(doubts(&mixed, &body).contains("Salt brine and Magnesium chloride liquid"), "{body:?}");
    }
    let agreed = settled("1", 900.0, Some(23.1));
    assert!(doubts(&mixed, &agreed).contains("would count as Salt brine alone"));
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
fn draws_from_a_mix_take_all_parts_in_proportion() {
    let mixed = [made("1", 700.0, 23.0), delivered("4", None, 500.0), transfer("4", "1", 300.0)];
    let issue = Body::IssueOut(IssueOut {
        tank: "1".into(),
        agency: "school".into(),
        volume_m3: m3(100.0),
        temp_c: None,
        price_usd: None,
        ..IssueOut::default()
    });
    let all = [&mixed[..], &[load("1", "T1", 100.0), lost("1", 50.0), issue]].concat();
    let (before, after) = (fold(&mixed), fold(&all));
    near(in_gallons(after.tank("1").unwrap().volume(&yard())), 750.0, 1e-6);
    for ((_, now), (_, then)) in unlike(&after, "1").iter().zip(unlike(&before, "1")) {
        near(*now, 0.75 * then, 1e-6);
    }
    near(chloride(&after, "1"), 0.75 * chloride(&before, "1"), 1e-6);
    let truck = &after.trucks["T1"];
    near(in_kilograms(truck.chloride(&yard())), 0.1 * chloride(&before, "1"), 1e-6);
    near(in_gallons(truck.volume(&yard())), 100.0, 1e-6);
    assert!(truck.strength().is_none());
    // What comes back is what the truck took, and mixes the tank it comes to.
    let back = Body::ReturnToTank(ReturnToTank {
        tank: "2".into(),
        truck: "T1".into(),
        volume_m3: m3(40.0),
        temp_c: None,
        ..ReturnToTank::default()
    });
    assert!(doubts(&all, &back).contains("mixes Salt brine and Magnesium chloride liquid with Salt brine"));
    let returned = fold(&[&all[..], &[back]].concat());
    near(unlike(&returned, "2")[1].1, 0.04 * m3(300.0) * MAG_DENSITY, 1e-6);
    near(in_kilograms(returned.trucks["T1"].content.mass), 0.6 * in_kilograms(truck.content.mass), 1e-6);
}

#[test]
fn water_or_salt_in_a_declared_tank_is_a_mix() {
    let books = fold(&[delivered("4", None, 300.0), corrected("4", 100.0, 0.0)]);
    let parts = unlike(&books, "4");
    assert_eq!(parts.iter().map(|(id, _)| id.as_str()).collect::<Vec<_>>(), ["mag", "(brine)"]);
    near(chloride(&books, "4"), m3(300.0) * MAG_DENSITY * MAG_CHLORIDE, 1e-6);
    let books = fold(&[delivered("4", None, 300.0), corrected("4", 0.0, 100.0)]);
    assert_eq!(unlike(&books, "4").len(), 2);
    let salt = 100.0 * yard().rock_salt().sodium_chloride();
    near(chloride(&books, "4"), m3(300.0) * MAG_DENSITY * MAG_CHLORIDE + salt * CL, 0.05);
}

#[test]
fn another_liquid_alone_in_a_tank_is_told_and_weighed_as_what_it_is() {
    let books = fold(&[delivered("1", Some("mag"), 400.0), load("1", "T1", 100.0)]);
    let parts = unlike(&books, "1");
    assert_eq!(parts.len(), 1);
    near(parts[0].1, m3(300.0) * MAG_DENSITY, 1e-6);
    near(in_gallons(books.tank("1").unwrap().volume(&yard())), 300.0, 1e-6);
    assert!(books.tank("1").unwrap().strength().is_none());
}

#[test]
fn water_that_comes_back_is_water() {
    let back = Body::ReturnToTank(ReturnToTank {
        tank: "2".into(),
        truck: "T1".into(),
        volume_m3: m3(100.0),
        temp_c: None,
        ..ReturnToTank::default()
    });
    let before = [made("2", 400.0, 23.0), corrected("1", 200.0, 0.0), load("1", "T1", 100.0)];
    let salt = |books: &Books| in_kilograms(books.tank("2").unwrap().content.sodium_chloride);
    let (before, after) = (fold(&before), fold(&[&before[..], &[back]].concat()));
    near(salt(&after), salt(&before), 1e-9);
    // By hand: 400 x 1176 x 0.23 / (400 x 1176 + 100 x 999) (AASHTO M 143-14's 1.176).
    near(after.tank("2").unwrap().strength().unwrap().percent(), 18.97, 0.05);
}

#[test]
fn a_mix_below_zero_is_flagged_and_has_no_part_of_less_than_nothing() {
    let mixed = [made("1", 70.0, 23.0), delivered("1", Some("mag"), 30.0), load("1", "T1", 150.0)];
    let books = fold(&mixed);
    assert!(!books.close() && unlike(&books, "1").is_empty());
    near(in_gallons(books.tank("1").unwrap().volume(&yard())), -50.0, 1e-6);
    // Brine put in after is brine: the book's lack of the other liquid is drawn by nobody.
    let books = fold(&[&mixed[..], &[made("1", 500.0, 23.0), load("1", "T2", 100.0)]].concat());
    assert!(unlike(&books, "1").is_empty());
    assert!(books.trucks["T2"].content.declared.is_empty());
    near(books.trucks["T2"].strength().unwrap().percent(), 23.0, 1e-6);
}

#[test]
fn a_delivery_may_name_its_product() {
    let yard = yard();
    let read = |fields: &[(&str, &str)]| {
        let fields: Vec<_> = fields.iter().map(|(a, b)| (a.to_string(), b.to_string())).collect();
        entry::read_body("liquid_delivery", &fields, (&yard, &Books::empty(&yard)))
    };
    let into = |tank, product| [("tank", tank), ("volume_gal", "100"), ("product", product)];
    assert!(read(&into("1", "mag")).is_ok(), "a declared liquid needs no strength, wherever it went");
    let told = |fields: &[(&str, &str)]| read(fields).unwrap_err()[0].to_string();
    assert!(told(&into("4", "weak")).contains("needs its strength"));
    let wrong = told(&into("1", "mga"));
    assert!(
        wrong.starts_with("product = mga: no such product") && wrong.contains("brine, mag, cal"),
        "{wrong}"
    );
    // Written before there was such a field.
    let old = r#"{"tank":"4","volume_m3":1.0,"ticket":"M-12"}"#;
    let Body::LiquidDelivery(old) = Body::from_json("liquid_delivery", 1, old).unwrap() else { panic!() };
    assert!(old.product.is_none() && EVENT_VERSION == 1);
    let unknown = fold(&[delivered("1", Some("gone"), 10.0)]);
    assert!(!unknown.close() && unknown.problems.len() == 1);
}

#[test]
fn two_brines_of_other_names_are_still_kept_apart() {
    let fields: Vec<_> = [("from_tank", "1"), ("to_tank", "6"), ("volume_gal", "5")]
        .map(|(a, b)| (a.to_string(), b.to_string()))
        .to_vec();
    let refused = entry::read_body("transfer", &fields, (&yard(), &Books::empty(&yard()))).unwrap_err();
    assert!(refused[0].problem.contains("another product"), "{refused:?}");
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
        (("result", "fine"), "no such result"),
        (("result", "fine"), "clear, crystals, sludge, layers, gel"),
        (("result", "crystal"), "did you mean \"crystals\"?"),
        (("share_a_pct", "101"), "0…100"),
        (("share_a_pct", "-1"), "out of range"),
        (("share_a_pct", ""), "share_a_pct = (none): is needed"),
        (("liquid_b", " "), "liquid_b = (none): is needed"),
        (("temp_f", "-200"), "out of range; accepted: -76…140 °F"),
        (("duration_h", "0"), "must be above zero"),
        (("tank", "99"), "no such tank"),
    ] {
        let problems = read(&[changed]).unwrap_err();
        let text = problems.iter().map(ToString::to_string).collect::<String>();
        assert!(text.contains(told), "{changed:?}: {text}");
    }
}

fn any_body() -> impl Strategy<Value = Body> {
    let tank = || prop_oneof![Just("1"), Just("2"), Just("4"), Just("5"), Just("7")];
    let product = prop_oneof![Just(None), Just(Some("mag")), Just(Some("cal"))];
    (0..6, tank(), tank(), product, 1.0..900.0f64, 5.0..26.0f64).prop_map(
        |(kind, tank, other, product, gal, pct)| match kind {
            0 => made(if tank == "1" { "1" } else { "2" }, gal, pct),
            1 => delivered(tank, product.or(Some("mag")), gal),
            2 => transfer(tank, other, gal),
            3 => corrected(tank, gal * 0.1, gal),
            // Each tank has its truck: a truck that takes another product was emptied first.
            4 => load(tank, tank, gal),
            _ => jar(Some(tank), JarResult::Clear),
        },
    )
}

/// Mass and chloride that an event brings into the yard's liquids, kg, by a reckoning of its own.
fn brought(yard: &Yard, body: &Body) -> (f64, f64) {
    match body {
        Body::MakingRun(_) => {
            let books = fold(std::slice::from_ref(body));
            let salt: f64 = books.tanks.iter().map(|tank| in_kilograms(tank.content.sodium_chloride)).sum();
            (in_kilograms(books.totals.made), salt * CL)
        }
        Body::LiquidDelivery(b) => {
            let (density, chloride) =
                if b.product.as_deref() == Some("cal") { (1300.0, 0.2) } else { (MAG_DENSITY, MAG_CHLORIDE) };
            (b.volume_m3 * density, b.volume_m3 * density * chloride)
        }
        Body::Correction(b) => {
            let salt = b.salt_kg.unwrap() * yard.rock_salt().sodium_chloride();
            let moisture = b.salt_kg.unwrap() * yard.salt.moisture.fraction();
            // Water at 60 °F: 999.01 kg/m³ (IAPWS-95 by NIST's fluid tables).
            (b.water_m3.unwrap() * 999.01 + salt + moisture, salt * CL)
        }
        _ => (0.0, 0.0),
    }
}

proptest! {
    /// However liquids are mixed, moved and loaded: all mass and all chloride is in the tanks or on the trucks.
    #[test]
    fn mass_and_chloride_are_conserved_under_mixing(bodies in proptest::collection::vec(any_body(), 0..60)) {
        let yard = yard();
        let books = fold(&bodies);
        let sum = |of: &dyn Fn(&yard::stock::TankBook) -> f64| books.tanks.iter().map(of).sum::<f64>();
        let loaded = |of: &dyn Fn(&yard::stock::Load) -> f64| books.trucks.values().map(of).sum::<f64>();
        let mass = sum(&|tank| in_kilograms(tank.content.mass)) + loaded(&|load| in_kilograms(load.content.mass));
        let chloride = sum(&|tank| in_kilograms(tank.chloride(&yard)))
            + loaded(&|load| in_kilograms(load.chloride(&yard)));
        let (in_mass, in_chloride) = bodies
            .iter()
            .map(|body| brought(&yard, body))
            .fold((0.0, 0.0), |(mass, chloride), (m, c)| (mass + m, chloride + c));
        // 2e-5: the last digit of the density of water and of the atomic weights in this file.
        prop_assert!((mass - in_mass).abs() <= 2e-5 * (1.0 + in_mass), "{mass} {in_mass}");
        prop_assert!((chloride - in_chloride).abs() <= 1e-4 * (1.0 + in_chloride), "{chloride} {in_chloride}");
        for tank in &books.tanks {
            let mixed = tank.content.parts().len() > 1;
            prop_assert!(!mixed || tank.strength().is_none(), "a mix has no strength");
            prop_assert!(tank.volume(&yard).is_finite());
        }
    }

    /// The cache of a mixed yard can be dropped and rebuilt.
    #[test]
    fn one_by_one_equals_the_whole(bodies in proptest::collection::vec(any_body(), 0..40)) {
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
}
