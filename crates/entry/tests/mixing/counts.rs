//! What the book makes of a mix: mass and chloride, part by part.

use event::*;
use proptest::prelude::*;
use quantity::{in_gallons, in_kilograms};
use site::Yard;
use yard::stock::Books;

use super::events::*;

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
    assert!(
        doubts(&all, &back)
            .contains("entry.mixes (comes = Salt brine; Magnesium chloride liquid, with = Salt brine")
    );
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
    assert!(told(&into("4", "weak")).contains("entry.bought-brine-strength"));
    let wrong = told(&into("1", "mga"));
    assert!(
        wrong.starts_with("entry.problem (field = product, value = mga, problem = entry.no-such-product")
            && wrong.contains("accepted = entry.one-of (names = brine, mag, cal"),
        "{wrong}"
    );
    // Written before there was such a field.
    let old = r#"{"tank":"4","volume_m3":1.0,"ticket":"M-12"}"#;
    let Body::LiquidDelivery(old) = Body::from_json("liquid_delivery", 1, old).unwrap() else { panic!() };
    assert!(old.product.is_none() && EVENT_VERSION == 1);
    let unknown = fold(&[delivered("1", Some("gone"), 10.0)]);
    assert!(!unknown.close() && unknown.problems.len() == 1);
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
