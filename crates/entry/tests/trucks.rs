//! What is left on a truck: brine that goes back where it was measured, a residue of another product, a truck that
//! comes home empty.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use accounts::{Journal, Period};
use entry::ticket::{Standing, standing};
use event::*;
use jiff::Timestamp;
use quantity::{gallons, in_cubic_metres, in_gallons, in_kilograms};
use site::Yard;
use uuid::Uuid;
use yard::stock::{Books, RESIDUE_GALLONS, RESIDUE_SHARE, residue};

fn yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../examples/alder_fork.toml"), "alder_fork.toml").unwrap()
}

fn m3(gal: f64) -> f64 {
    in_cubic_metres(gallons(gal))
}

fn recorded(seq: u64, body: Body) -> Recorded {
    let at = Timestamp::from_second(1_700_000_000 + seq as i64 * 60).unwrap();
    let id = EventId(Uuid::from_u128(u128::from(seq)));
    let event = Event { id, occurred_at: at, author: "Pat".into(), device: "test".into(), body };
    Recorded { seq, recorded_at: at, event }
}

fn events(bodies: &[Body]) -> Vec<Recorded> {
    bodies.iter().enumerate().map(|(n, body)| recorded(n as u64 + 1, body.clone())).collect()
}

fn fold(bodies: &[Body]) -> Books {
    Books::fold(&yard(), &events(bodies))
}

fn counted(tank: &str, gal: f64, pct: Option<f64>) -> Body {
    Body::Settlement(Settlement {
        tank: Some(tank.into()),
        volume_m3: Some(m3(gal)),
        strength_pct: pct,
        salt_kg: None,
        reason: "count".into(),
    })
}

fn read(tank: &str, pct: f64) -> Body {
    Body::Reading(Reading {
        tank: Some(tank.into()),
        strength_pct: pct,
        uncertainty_pct: Some(0.3),
        ..Reading::default()
    })
}

fn load(tank: &str, gal: f64) -> Body {
    let (truck, route) = ("T1".into(), Some("R1".into()));
    Body::LoadOut(LoadOut { tank: tank.into(), truck, route, volume_m3: m3(gal), ..LoadOut::default() })
}

fn back(tank: &str, gal: f64) -> Body {
    let truck = "T1".into();
    Body::ReturnToTank(ReturnToTank {
        tank: tank.into(),
        truck,
        volume_m3: m3(gal),
        ..ReturnToTank::default()
    })
}

fn sprayed(gal: f64) -> Body {
    let (route, truck) = ("R1".into(), Some("T1".into()));
    Body::Application(Application { route, truck, volume_m3: Some(m3(gal)), ..Application::default() })
}

fn stands(books: &Books, tank: &str) -> Standing {
    standing(&yard(), books, tank).unwrap()
}

fn is_measured(books: &Books, tank: &str) -> bool {
    matches!(stands(books, tank), Standing::InSpec { .. })
}

#[test]
fn what_left_a_measured_tank_and_comes_back_leaves_it_measured() {
    // 400 of 1,000 gal: far more than the twentieth that a reading bears.
    let day = [counted("1", 1000.0, Some(23.3)), read("1", 23.3), load("1", 400.0), back("1", 400.0)];
    let books = fold(&day);
    assert!(is_measured(&books, "1"), "{:?}", stands(&books, "1"));
    assert!(in_kilograms(books.tank("1").unwrap().put_since_reading).abs() < 1e-6);
    // Part of it too; and what comes back beyond what the truck took is not of it.
    let books = fold(&[&day[..3], &[sprayed(100.0), back("1", 300.0)]].concat());
    assert!(is_measured(&books, "1") && in_kilograms(books.trucks["T1"].content.mass) < 1.0);
    let books = fold(&[&day[..3], &[back("1", 600.0)]].concat());
    assert!(!is_measured(&books, "1"), "200 gal came from nowhere");
}

#[test]
fn brine_of_another_tank_or_from_before_the_reading_counts_as_put_in() {
    // Tank 2 is measured too; its brine goes into tank 1.
    let two = [
        counted("1", 1000.0, Some(23.3)),
        counted("2", 1000.0, Some(23.3)),
        read("1", 23.3),
        read("2", 23.3),
    ];
    let books = fold(&[&two[..], &[load("2", 400.0), back("1", 400.0)]].concat());
    assert!(!is_measured(&books, "1"), "{:?}", stands(&books, "1"));
    // Half of each on one truck: half of what comes back is tank 1's own.
    let books = fold(&[&two[..], &[load("1", 200.0), load("2", 200.0), back("1", 400.0)]].concat());
    let put = in_kilograms(books.tank("1").unwrap().put_since_reading);
    let whole = in_kilograms(books.tickets.last().unwrap().liquid.mass);
    assert!((put / whole - 0.5).abs() < 1e-6, "{put} of {whole}");
    // It left before the reading: what was measured since is another filling.
    let day = [counted("1", 1000.0, Some(23.3)), read("1", 23.3), load("1", 400.0), read("1", 23.2)];
    assert!(!is_measured(&fold(&[&day[..], &[back("1", 400.0)]].concat()), "1"));
    // Brine of the same tank that was never measured stays so.
    let books = fold(&[counted("1", 1000.0, Some(23.3)), load("1", 400.0), back("1", 400.0)]);
    assert!(!is_measured(&books, "1"));
}

#[test]
fn a_residue_of_another_product_is_counted_off_and_said() {
    let yard = yard();
    assert!(
        (in_gallons(residue(&yard, "T1"))
            - RESIDUE_GALLONS.max(RESIDUE_SHARE * in_gallons(yard.trucks[0].tank)))
        .abs()
            < 1e-9
    );
    let day = [counted("1", 900.0, Some(23.0)), counted("4", 900.0, None), load("4", 500.0), sprayed(497.0)];
    let before = fold(&day);
    assert!((in_gallons(before.trucks["T1"].volume(&yard)) - 3.0).abs() < 0.01);
    // Neither the load of brine nor its return asks anything, and both count.
    assert!(entry::doubts(&load("1", 400.0), &yard, &before).iter().all(|d| d.field != "truck"));
    let books = fold(&[&day[..], &[load("1", 400.0)]].concat());
    let emptied = books.tickets.last().unwrap().emptied.as_ref().unwrap();
    assert_eq!(emptied.product, "mag");
    assert!((in_gallons(emptied.liquid.volume(&yard, None)) - 3.0).abs() < 0.01);
    assert!(books.trucks["T1"].content.declared.is_empty() && books.problems.is_empty());
    // A return without a load on the books: the residue goes, the brine counts as what the tank holds.
    let books = fold(&[&day[..], &[back("1", 100.0)]].concat());
    assert!(books.problems.is_empty(), "{:?}", books.problems);
    assert!((in_gallons(books.tank("1").unwrap().volume(&yard)) - 1000.0).abs() < 1e-6);
    assert!(
        books.tickets.last().unwrap().emptied.is_some()
            && books.tank("1").unwrap().content.declared.is_empty()
    );
    // Nothing vanished: what the walk moved off the truck is what was put on it.
    let (_, walk) = Books::walk(&yard, &events(&[&day[..], &[load("1", 400.0)]].concat()));
    let mag: f64 = walk
        .liquids
        .iter()
        .map(|flow| {
            let kg = flow.liquid.declared.values().map(|mass| in_kilograms(*mass)).sum::<f64>();
            match (&flow.from, &flow.to) {
                (_, yard::stock::End::Truck(_)) => kg,
                (yard::stock::End::Truck(_), _) => -kg,
                _ => 0.0,
            }
        })
        .sum();
    assert!(mag.abs() < 1e-9, "{mag} kg");
    // More than a residue is asked about, and does not go back into a tank of another product.
    let day = [&day[..3], &[sprayed(480.0)]].concat();
    assert!(entry::doubts(&load("1", 400.0), &yard, &fold(&day)).iter().any(|d| d.field == "truck"));
    assert!(!fold(&[&day[..], &[back("1", 100.0)]].concat()).problems.is_empty());
}

#[test]
fn a_truck_that_comes_home_empty_leaves_all_on_its_route() {
    let yard = yard();
    let typed = |gal: &str| {
        let field = |name: &str, value: &str| (name.to_owned(), value.to_owned());
        let fields = [field("tank", "1"), field("truck", "T1"), field("volume_gal", gal)];
        entry::read_body("return_to_tank", &fields, (&yard, &Books::empty(&yard)))
    };
    let empty = typed("0").unwrap();
    assert!(typed("-1").is_err());
    let day = [counted("1", 1000.0, Some(23.3)), read("1", 23.3), load("1", 400.0), sprayed(150.0)];
    assert!(entry::doubts(&empty, &yard, &fold(&day)).is_empty());
    let after = [&day[..], std::slice::from_ref(&empty)].concat();
    let books = fold(&after);
    assert!(!books.trucks.contains_key("T1") && books.problems.is_empty());
    let (book, was) = (books.tank("1").unwrap(), fold(&day));
    let before = in_kilograms(was.tank("1").unwrap().content.mass);
    assert!((in_kilograms(book.content.mass) - before).abs() < 1e-9, "no tank is moved");
    assert_eq!(book.lots.len(), was.tank("1").unwrap().lots.len());
    let (one, two) = (books.estimate("1").unwrap().volume(&yard), was.estimate("1").unwrap().volume(&yard));
    assert_eq!((one.value, one.uncertainty), (two.value, two.uncertainty), "nor what is thought to be in it");
    // The route got the whole load, once; the same as without the entry.
    let account = |bodies: &[Body]| {
        let events = events(bodies);
        let journal = Journal::new(&yard, &events);
        let accounts = journal.accounts(Period { from: Timestamp::UNIX_EPOCH, until: Timestamp::MAX });
        let found = accounts.routes.into_iter().find(|(id, _)| id.as_deref() == Some("R1")).unwrap().1;
        (in_gallons(found.all_liquid().volume(&yard, None)), found.treatments)
    };
    let (gal, treatments) = account(&after);
    assert!((gal - 400.0).abs() < 0.01 && treatments == 1, "{gal} gal, {treatments}");
    assert_eq!(account(&day), account(&after));
    // A truck without a load is asked about.
    assert!(!entry::doubts(&empty, &yard, &fold(&day[..2])).is_empty());
}
