//! What the book makes of entries, one case at a time.

use event::*;
use jiff::Timestamp;
use quantity::{in_gallons, in_kilograms, in_pounds};
use uuid::Uuid;
use yard::stock::{BookProblem, Books};

use super::events::*;

#[test]
fn a_thousand_gallons_weigh_what_the_trade_says() {
    let books = fold(&[made("1", 1000.0, 23.3)]);
    let tank = books.tank("1").unwrap();
    assert!((in_pounds(tank.content.mass) / 9810.0 - 1.0).abs() < 0.002, "9.81 lb/gal");
    assert!((in_pounds(tank.content.sodium_chloride) / 2290.0 - 1.0).abs() < 0.005, "2.29 lb/gal");
    let chloride = tank.chloride(&yard());
    assert!((in_pounds(chloride) / 1389.0 - 1.0).abs() < 0.005, "W41: 1,389 lb of chloride");
    assert!((in_gallons(volume(&books, "1")) - 1000.0).abs() < 1e-6);
}

#[test]
fn masses_add_and_volumes_do_not() {
    let books = fold(&[made("1", 1000.0, 26.0), made("1", 1000.0, 5.0)]);
    let both = in_gallons(volume(&books, "1"));
    assert!(both < 2000.0 - 1.0 && both > 1980.0, "{both}");
    let w = books.tank("1").unwrap().strength().unwrap().percent();
    // By hand: (26.0 x 1199.8 + 5.0 x 1035.1)/(1199.8 + 1035.1) = 16.27 (densities at 60 F: PHREEQC pitzer.dat table).
    assert!((w - 16.27).abs() < 0.02, "{w}");
}

#[test]
fn evidence_does_not_move_the_book() {
    let before = fold(&[made("1", 1000.0, 23.3)]);
    let after = fold(&[
        made("1", 1000.0, 23.3),
        Body::Dip(Dip { tank: "1".into(), depth_m: 3.0, temp_c: Some(2.0) }),
        Body::Reading(Reading {
            tank: Some("1".into()),
            strength_pct: 20.0,
            uncertainty_pct: None,
            temp_c: None,
            instrument: None,
            level: None,
            occasion: None,
            shown: None,
            scale: None,
            doubt: None,
            sample: None,
        }),
        Body::MeterReading(MeterReading { meter: "main".into(), total_m3: 99.0 }),
    ]);
    let mass = |b: &Books| in_kilograms(b.tank("1").unwrap().content.mass);
    assert!((mass(&before) - mass(&after)).abs() < 1e-9);
    assert!(after.tank("1").unwrap().dip.is_some() && after.tank("1").unwrap().reading.is_some());
}

#[test]
fn a_book_below_zero_is_kept_and_flagged() {
    let books = fold(&[made("1", 500.0, 23.3), load("1", 800.0), load("1", 10.0)]);
    assert!(!books.close());
    assert!((in_gallons(volume(&books, "1")) + 310.0).abs() < 1e-6);
    let flags = books.problems.iter().filter(|p| matches!(p, BookProblem::TankBelowZero { .. })).count();
    assert_eq!(flags, 1, "once, at the event that took it there");
}

#[test]
fn a_void_and_a_late_entry_fold_as_if_entered_rightly() {
    let right = fold(&[made("1", 500.0, 23.3), load("1", 100.0)]);
    let wrong = made("1", 5000.0, 23.3);
    let void =
        Body::Void(Void { event: Uuid::from_u128(1).to_string(), reason: "typed a nought too many".into() });
    let with_void = fold(&[wrong, made("1", 500.0, 23.3), load("1", 100.0), void]);
    let mass = |b: &Books| in_kilograms(b.tank("1").unwrap().content.mass);
    assert!((mass(&right) - mass(&with_void)).abs() < 1e-9);

    let mut late = recorded(2, made("1", 500.0, 23.3));
    late.event.occurred_at = Timestamp::from_second(1_600_000_000).unwrap();
    let books = Books::fold(&yard(), &[recorded(1, load("1", 100.0)), late]);
    assert!((mass(&right) - mass(&books)).abs() < 1e-9);
    let below = books.problems.iter().any(|p| matches!(p, BookProblem::TankBelowZero { .. }));
    assert!(!below, "the run came before the load");
}

#[test]
fn salt_is_used_by_making_correcting_and_spreading() {
    let books = fold(&[
        Body::SaltDelivery(SaltDelivery {
            mass_kg: 10_000.0,
            ticket: None,
            moisture_pct: None,
            price_usd: None,
            ..SaltDelivery::default()
        }),
        made("1", 1000.0, 23.3),
        Body::Correction(Correction { tank: "1".into(), water_m3: Some(0.1), salt_kg: Some(50.0) }),
        Body::Application(Application {
            route: "R1".into(),
            truck: None,
            volume_m3: None,
            salt_kg: Some(1000.0),
            reason: None,
            ..Application::default()
        }),
    ]);
    let yard = yard();
    let content = yard.rock_salt().sodium_chloride();
    let dissolved = in_kilograms(books.totals.salt_dissolved);
    let in_tank = in_kilograms(books.tank("1").unwrap().content.sodium_chloride);
    assert!((dissolved * content - in_tank).abs() < 1e-6);
    assert!((in_kilograms(books.rock_salt) - (10_000.0 - dissolved - 1000.0)).abs() < 1e-6);
}

#[test]
fn half_an_event_is_never_counted() {
    let to_nowhere = Body::Transfer(Transfer {
        from_tank: "1".into(),
        to_tank: "gone".into(),
        volume_m3: m3(100.0),
        temp_c: None,
    });
    let books = fold(&[made("1", 500.0, 23.3), to_nowhere]);
    assert!((in_gallons(volume(&books, "1")) - 500.0).abs() < 1e-6);
    assert!(!books.close() && books.problems.iter().any(|p| matches!(p, BookProblem::NotCounted { .. })));
}

#[test]
fn what_comes_back_is_what_the_truck_took() {
    let back = |gal: f64| {
        Body::ReturnToTank(ReturnToTank {
            tank: "2".into(),
            truck: "T1".into(),
            volume_m3: m3(gal),
            temp_c: None,
            ..ReturnToTank::default()
        })
    };
    let books = fold(&[
        made("1", 900.0, 20.0),
        made("3", 900.0, 26.0),
        load("1", 500.0),
        load("3", 500.0),
        back(1000.0),
    ]);
    let w = books.tank("2").unwrap().strength().unwrap().percent();
    // Equal volumes of 20 and 26 %: by hand (20 x 1150.3 + 26 x 1199.8)/(1150.3 + 1199.8) = 23.06 (PHREEQC densities).
    assert!((w - 23.06).abs() < 0.05, "{w}");
    assert!(in_kilograms(books.trucks["T1"].content.mass) < 10.0, "and the truck is empty");
}

#[test]
fn a_truck_that_changes_product_does_not_mix_them() {
    let yard = yard();
    let mag = Body::Settlement(Settlement {
        tank: Some("4".into()),
        volume_m3: Some(m3(900.0)),
        strength_pct: None,
        salt_kg: None,
        reason: "count".into(),
    });
    let back = |tank: &str, gal: f64| {
        Body::ReturnToTank(ReturnToTank {
            tank: tank.into(),
            truck: "T1".into(),
            volume_m3: m3(gal),
            temp_c: None,
            ..ReturnToTank::default()
        })
    };
    // An ordinary day: magnesium out, not recorded as sprayed, then brine out and back.
    let books =
        fold(&[made("1", 900.0, 23.0), mag.clone(), load("4", 500.0), load("1", 500.0), back("1", 500.0)]);
    let w = books.tank("1").unwrap().strength().unwrap().percent();
    assert!((w - 23.0).abs() < 1e-6, "{w}");
    // Magnesium into a brine tank: doubted at entry, not counted in the book.
    let before = [made("1", 900.0, 23.0), mag, load("4", 500.0)];
    let doubts = entry::doubts(&back("1", 100.0), &yard, &fold(&before));
    assert!(
        doubts
            .iter()
            .any(|d| (d.problem.id(), d.problem.arg("holds"))
                == ("entry.truck-took-other", Some(&"brine".into()))),
        "{doubts:?}"
    );
    let books = fold(&[&before[..], &[back("1", 100.0)]].concat());
    assert!(!books.close() && (in_gallons(volume(&books, "1")) - 900.0).abs() < 1e-6);
}

#[test]
fn a_second_return_and_a_strengthless_count_are_doubted() {
    let yard = yard();
    let back = Body::ReturnToTank(ReturnToTank {
        tank: "1".into(),
        truck: "T1".into(),
        volume_m3: m3(500.0),
        temp_c: None,
        ..ReturnToTank::default()
    });
    let once = fold(&[made("1", 900.0, 23.0), load("1", 500.0)]);
    assert!(entry::doubts(&back, &yard, &once).is_empty());
    let twice = fold(&[made("1", 900.0, 23.0), load("1", 500.0), back.clone()]);
    assert!(entry::doubts(&back, &yard, &twice).iter().any(|d| d.problem.id() == "entry.over-taken"));
    let count = Body::Settlement(Settlement {
        tank: Some("2".into()),
        volume_m3: Some(m3(500.0)),
        strength_pct: None,
        salt_kg: None,
        reason: "first".into(),
    });
    assert!(
        entry::doubts(&count, &yard, &once).iter().any(|d| d.problem.id() == "entry.book-without-strength")
    );
}

#[test]
fn lots_share_what_is_drawn_and_add_up_to_the_tank() {
    let books = fold(&[made("1", 300.0, 23.0), made("1", 100.0, 23.5), load("1", 200.0)]);
    let tank = books.tank("1").unwrap();
    assert_eq!(tank.lots.len(), 2);
    let sum: f64 = tank.lots.iter().map(|lot| in_kilograms(lot.mass)).sum();
    assert!((sum - in_kilograms(tank.content.mass)).abs() < 1e-6);
    let share = in_kilograms(tank.lots[0].mass) / sum;
    assert!((share - 0.75).abs() < 0.01, "{share}");
}
