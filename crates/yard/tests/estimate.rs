//! What a tank is thought to hold: by the book's flows and all evidence.
//!
//! Outside checks: the filter against a published numeric example (A. Becker, kalmanfilter.net, "Kalman Filter in one
//! dimension", example 5, height of a building: ten readings, printed to two places) and against weighted least squares
//! of the same evidence at once (normal equations, any textbook). The rest are laws.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use event::*;
use jiff::Timestamp;
use nalgebra::{SMatrix, SVector};
use proptest::prelude::*;
use quantity::{gallons, in_cubic_metres, in_gallons, in_kilograms};
use site::Yard;
use uuid::Uuid;
use yard::estimate::kalman::{Gaussian, Observation};
use yard::estimate::{Apart, TankEstimate};
use yard::stock::Books;

fn yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../examples/alder_fork.toml"), "alder_fork.toml").unwrap()
}

fn m3(gal: f64) -> f64 {
    in_cubic_metres(gallons(gal))
}

fn recorded(seq: u64, minute: i64, body: Body) -> Recorded {
    let at = Timestamp::from_second(1_700_000_000 + minute * 60).unwrap();
    let id = EventId(Uuid::from_u128(u128::from(seq) + 1000));
    let event = Event { id, occurred_at: at, author: "Pat".into(), device: "test".into(), body };
    Recorded { seq, recorded_at: at, event }
}

fn fold(bodies: &[Body]) -> Books {
    let events: Vec<Recorded> =
        bodies.iter().enumerate().map(|(n, body)| recorded(n as u64 + 1, n as i64, body.clone())).collect();
    Books::fold(&yard(), &events)
}

fn counted(gal: f64, pct: f64) -> Body {
    Body::Settlement(Settlement {
        tank: Some("1".into()),
        volume_m3: Some(m3(gal)),
        strength_pct: Some(pct),
        salt_kg: None,
        reason: "counted".into(),
    })
}

fn made(gal: f64, pct: f64) -> Body {
    Body::MakingRun(MakingRun {
        tank: "1".into(),
        volume_m3: m3(gal),
        strength_pct: pct,
        ..MakingRun::default()
    })
}

fn load(gal: f64) -> Body {
    Body::LoadOut(LoadOut { tank: "1".into(), truck: "T1".into(), volume_m3: m3(gal), ..LoadOut::default() })
}

fn reading(pct: f64) -> Body {
    let uncertainty_pct = Some(0.3);
    Body::Reading(Reading {
        tank: Some("1".into()),
        strength_pct: pct,
        uncertainty_pct,
        ..Reading::default()
    })
}

/// A dip that shows a volume at 60 °F.
fn dip(gal: f64) -> Body {
    let depth = yard().tank("1").unwrap().shape.depth_of(gallons(gal)).unwrap();
    let depth_m = quantity::in_metres(depth);
    Body::Dip(Dip { tank: "1".into(), depth_m, temp_c: Some(15.556) })
}

fn of(books: &Books) -> &TankEstimate {
    books.estimate("1").unwrap()
}

fn gal(books: &Books) -> (f64, f64) {
    let volume = of(books).volume(&yard());
    (in_gallons(volume.value), in_gallons(volume.uncertainty))
}

fn pct(books: &Books) -> (f64, f64) {
    let strength = of(books).strength().unwrap();
    (strength.value.percent(), strength.uncertainty.percent())
}

#[test]
fn a_published_example_comes_out_as_printed() {
    let readings = [48.54, 47.11, 55.01, 55.15, 49.89, 40.85, 46.72, 50.05, 51.27, 49.95];
    let means = [49.69, 48.47, 50.57, 51.68, 51.33, 49.62, 49.21, 49.31, 49.53, 49.57];
    let variances = [22.5, 11.84, 8.04, 6.08, 4.89, 4.09, 3.52, 3.08, 2.74, 2.47];
    let mut height =
        Gaussian::<1> { mean: SVector::from([60.0]), covariance: SMatrix::<f64, 1, 1>::from([[225.0]]) };
    for ((value, mean), variance) in readings.into_iter().zip(means).zip(variances) {
        height.observe(&Observation { on: SVector::from([1.0]), value, variance: 25.0 }, 1);
        // Printed to two places, each from the rounded line before.
        assert!((height.mean[0] - mean).abs() < 0.02, "{} {mean}", height.mean[0]);
        assert!(
            (height.covariance[(0, 0)] - variance).abs() < 0.02,
            "{} {variance}",
            height.covariance[(0, 0)]
        );
    }
}

proptest! {
    #[test]
    fn one_by_one_is_least_squares_of_all_at_once(
        prior in (500.0..5000.0f64, 1500.0..15000.0f64, 10.0..300.0f64, 10.0..900.0f64),
        looks in prop::collection::vec((0.0..1.0f64, -3.0..3.0f64, 1.0..200.0f64), 1..12),
    ) {
        let (salt, water, of_salt, of_water) = prior;
        let mean = SVector::from([salt, water]);
        let covariance = SMatrix::<f64, 2, 2>::from_diagonal(&SVector::from([of_salt.powi(2), of_water.powi(2)]));
        let seen: Vec<Observation<2>> = looks
            .iter()
            .map(|(turn, off, deviation)| {
                let on = SVector::from([*turn, 1.0 - turn]);
                Observation { on, value: on.dot(&mean) + off * deviation, variance: deviation.powi(2) }
            })
            .collect();
        let mut one_by_one = Gaussian { mean, covariance };
        for look in &seen {
            one_by_one.observe(look, 2);
        }
        // (P⁻¹ + Σ hᵀh/r) x = P⁻¹ m + Σ h z/r
        let mut normal = covariance.try_inverse().unwrap();
        let mut right = normal * mean;
        for look in &seen {
            normal += look.on * look.on.transpose() / look.variance;
            right += look.on * (look.value / look.variance);
        }
        let covariance = normal.try_inverse().unwrap();
        let all = covariance * right;
        for part in 0..2 {
            prop_assert!((one_by_one.mean[part] / all[part] - 1.0).abs() < 1e-9);
            for other in 0..2 {
                let apart = one_by_one.covariance[(part, other)] - covariance[(part, other)];
                let size = (covariance[(part, part)] * covariance[(other, other)]).sqrt();
                prop_assert!(apart.abs() < 1e-9 * size, "{apart} of {size}");
            }
        }
    }
}

#[derive(Debug, Clone)]
enum Flow {
    Made(f64, f64),
    Loaded(f64),
    Back(f64),
    Corrected(f64, f64),
    Moved(f64),
    Lost(f64),
}

impl Flow {
    fn body(&self) -> Body {
        match *self {
            Flow::Made(gal, pct) => made(gal, pct),
            Flow::Loaded(gal) => load(gal),
            Flow::Back(gal) => Body::ReturnToTank(ReturnToTank {
                tank: "1".into(),
                truck: "T1".into(),
                volume_m3: m3(gal),
                ..ReturnToTank::default()
            }),
            Flow::Corrected(gal, lb) => Body::Correction(Correction {
                tank: "1".into(),
                water_m3: Some(m3(gal)),
                salt_kg: Some(0.453_592_37 * lb),
            }),
            Flow::Moved(gal) => Body::Transfer(Transfer {
                from_tank: "1".into(),
                to_tank: "2".into(),
                volume_m3: m3(gal),
                temp_c: None,
            }),
            Flow::Lost(gal) => {
                Body::Loss(Loss { tank: "1".into(), volume_m3: m3(gal), reason: "hose off".into() })
            }
        }
    }
}

fn flow() -> impl Strategy<Value = Flow> {
    prop_oneof![
        (100.0..900.0f64, 18.0..26.0f64).prop_map(|(gal, pct)| Flow::Made(gal, pct)),
        (50.0..300.0f64).prop_map(Flow::Loaded),
        (1.0..40.0f64).prop_map(Flow::Back),
        (0.0..60.0f64, 0.0..200.0f64).prop_map(|(gal, lb)| Flow::Corrected(gal, lb)),
        (20.0..200.0f64).prop_map(Flow::Moved),
        (1.0..20.0f64).prop_map(Flow::Lost),
    ]
}

#[derive(Debug, Clone)]
enum Look {
    Read(f64),
    Dipped(f64),
}

fn look() -> impl Strategy<Value = Look> {
    prop_oneof![(-0.25..0.25f64).prop_map(Look::Read), (-0.004..0.004f64).prop_map(Look::Dipped)]
}

/// A look a little off what is thought.
fn body_of(look: &Look, books: &Books) -> Body {
    match look {
        Look::Read(off) => reading(pct(books).0 + off),
        Look::Dipped(off) => dip(gal(books).0 * (1.0 + off)),
    }
}

fn near(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-9 * one.abs().max(other.abs()).max(1.0)
}

/// Half-widths of salt, kg, and of volume, gal.
fn widths(books: &Books) -> (f64, f64) {
    (in_kilograms(of(books).sodium_chloride().uncertainty), gal(books).1)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn without_evidence_it_is_the_book(flows in prop::collection::vec(flow(), 0..25)) {
        let salt = SaltDelivery { mass_kg: 1e6, ..SaltDelivery::default() };
        let mut bodies = vec![Body::SaltDelivery(salt), counted(4000.0, 23.0)];
        bodies.extend(flows.iter().map(Flow::body));
        let books = fold(&bodies);
        prop_assume!(books.close());
        for tank in ["1", "2", "3"] {
            let (book, thought) = (books.tank(tank).unwrap(), books.estimate(tank).unwrap().content());
            prop_assert!(near(in_kilograms(book.content.mass), in_kilograms(thought.mass)));
            prop_assert!(near(in_kilograms(book.content.sodium_chloride), in_kilograms(thought.sodium_chloride)));
            prop_assert!(books.book_apart(&yard(), tank).is_none());
        }
    }

    #[test]
    fn more_evidence_never_widens_it(
        flows in prop::collection::vec(flow(), 0..6),
        looks in prop::collection::vec(look(), 1..10),
    ) {
        let mut bodies = vec![counted(4000.0, 23.0)];
        bodies.extend(flows.iter().map(Flow::body));
        for look in &looks {
            let before = fold(&bodies);
            bodies.push(body_of(look, &before));
            let (was, is) = (widths(&before), widths(&fold(&bodies)));
            // A volume's width is looked at where the composition now is: a part in a thousand.
            prop_assert!(is.0 <= was.0 * (1.0 + 1e-9), "salt {was:?} {is:?}");
            prop_assert!(is.1 <= was.1 * 1.001, "volume {was:?} {is:?}");
        }
    }

    #[test]
    fn the_order_of_entry_does_not_matter(
        flows in prop::collection::vec(flow(), 1..8),
        looks in prop::collection::vec(look(), 1..6),
        keys in prop::collection::vec(any::<u32>(), 20),
    ) {
        let mut bodies = vec![counted(4000.0, 23.0)];
        for (flow, look) in flows.iter().zip(looks.iter().cycle()) {
            bodies.push(flow.body());
            bodies.push(body_of(look, &fold(&bodies)));
        }
        let in_order = fold(&bodies);
        let mut mixed: Vec<(u32, i64, Body)> =
            bodies.iter().enumerate().map(|(n, body)| (keys[n % keys.len()], n as i64, body.clone())).collect();
        mixed.sort_by_key(|(key, minute, _)| (*key, *minute));
        let events: Vec<Recorded> = mixed
            .into_iter()
            .enumerate()
            .map(|(n, (_, minute, body))| recorded(n as u64 + 1, minute, body))
            .collect();
        let other = Books::fold(&yard(), &events);
        prop_assert!(near(gal(&in_order).0, gal(&other).0) && near(gal(&in_order).1, gal(&other).1));
        prop_assert!(near(pct(&in_order).0, pct(&other).0) && near(pct(&in_order).1, pct(&other).1));
    }

    #[test]
    fn a_reading_three_deviations_off_moves_nothing_alone(
        flows in prop::collection::vec(flow(), 0..6),
        looks in prop::collection::vec(look(), 0..6),
        times in 3.0..30.0f64,
        is_up in any::<bool>(),
    ) {
        let mut bodies = vec![counted(4000.0, 22.0)];
        bodies.extend(flows.iter().map(Flow::body));
        for look in &looks {
            let before = fold(&bodies);
            bodies.push(body_of(look, &before));
        }
        let before = fold(&bodies);
        let (expected, within) = pct(&before);
        let off = times * (within / 1.96).hypot(0.3 / 1.96).hypot(0.06) * if is_up { 1.0 } else { -1.0 };
        prop_assume!((1.0..99.0).contains(&(expected + off)));
        bodies.push(reading(expected + off));
        let after = fold(&bodies);
        prop_assert!(near(gal(&before).0, gal(&after).0) && near(expected, pct(&after).0));
        prop_assert_eq!(widths(&before), widths(&after));
        let doubted = of(&after).doubted().unwrap().mismatch;
        prop_assert!(doubted.is_of_strength());
        // A second that fits what was expected settles it.
        bodies.push(reading(expected));
        prop_assert!(of(&fold(&bodies)).doubted().is_none());
        prop_assert!((pct(&fold(&bodies)).0 - expected).abs() < 0.02);
    }
}

/// The day that was lost before: a weak tank, the salt it asks for, a second sample.
#[test]
fn a_weak_tank_is_believed_and_the_salt_brings_it_in_spec() {
    let mut bodies = vec![counted(4000.0, 23.0), reading(19.5)];
    let books = fold(&bodies);
    let doubted = of(&books).doubted().unwrap();
    let by_sample = doubted.strength().unwrap();
    assert!((by_sample.value.percent() - 19.5).abs() < 1e-9 && by_sample.uncertainty.percent() < 0.4);
    assert!((pct(&books).0 - 23.0).abs() < 1e-9, "one sample alone moves nothing");
    // By hand: 4,000 gal of 19.5 % at 60 °F weigh 4,000 x 9.56 lb = 38,240 lb (1.146 by the CRC table in
    // chemistry/tests/data) and hold 7,457 lb of salt; x of rock salt, wet and all, brings (7,457 + s x)/(38,240 + x)
    // to 0.233, where s is its share of salt.
    let salt = yard().rock_salt().sodium_chloride();
    let need = (0.233 * 38_240.0 - 7_457.0) / (salt - 0.233);
    bodies.push(Body::Correction(Correction {
        tank: "1".into(),
        water_m3: None,
        salt_kg: Some(0.453_592_37 * need),
    }));
    let books = fold(&bodies);
    // Who puts the salt in believes the sample: 23.3 % is expected, not 26.
    assert!((pct(&books).0 - 23.3).abs() < 0.15, "{:?}", pct(&books));
    bodies.push(reading(23.3));
    let books = fold(&bodies);
    assert!((pct(&books).0 - 23.3).abs() < 0.1 && of(&books).doubted().is_none());
    // The book is what was entered; it stands apart, and one act sets it.
    assert!(books.tank("1").unwrap().strength().unwrap().percent() > 25.5);
    let apart = books.book_apart(&yard(), "1").unwrap();
    assert!(apart.strength.is_some());
    bodies.push(Body::Settlement(books.set_to_estimate(&yard(), "1", "set to what is there").unwrap()));
    let set = fold(&bodies);
    assert!(set.book_apart(&yard(), "1").is_none() && of(&set).believed().is_none());
    assert!((pct(&set).1 - pct(&books).1).abs() < 1e-6, "agreeing to what is thought tells nothing new");
}

/// The sample was the wrong one: the salt went in, and the next sample says so.
#[test]
fn what_was_thought_before_is_kept_in_doubt_when_a_person_acts_on_a_sample() {
    let add = Body::Correction(Correction { tank: "1".into(), water_m3: None, salt_kg: Some(700.0) });
    let without = pct(&fold(&[counted(4000.0, 23.0), add.clone()])).0;
    let books = fold(&[counted(4000.0, 23.0), reading(19.5), add, reading(without)]);
    assert!((pct(&books).0 - without).abs() < 0.1, "{:?}", pct(&books));
}

#[test]
fn two_dips_that_agree_are_believed() {
    let one = fold(&[counted(4000.0, 23.0), dip(3000.0)]);
    assert!((gal(&one).0 - 4000.0).abs() < 1e-6);
    let Apart::Volume { seen, .. } = of(&one).doubted().unwrap().mismatch.of else { panic!("a volume") };
    assert!((in_gallons(seen) - 3000.0).abs() < 1.0);
    let both = fold(&[counted(4000.0, 23.0), dip(3000.0), dip(3010.0)]);
    assert!((gal(&both).0 - 3005.0).abs() < 10.0 && of(&both).believed().is_some());
    assert!(in_gallons(both.book_apart(&yard(), "1").unwrap().volume) < -900.0);
}

#[test]
fn several_instruments_in_one_sample_count_once() {
    let first = EventId(Uuid::from_u128(1002));
    let again = |pct: f64| {
        let Body::Reading(mut one) = reading(pct) else { panic!("a reading") };
        one.sample = Some(first.to_string());
        Body::Reading(one)
    };
    // The first of a sample bears its id: the second event of the fold.
    let weak = fold(&[counted(4000.0, 23.0), reading(19.5), again(19.6)]);
    assert!((pct(&weak).0 - 23.0).abs() < 1e-9, "one sample, read twice, is one sample");
    assert!(of(&weak).doubted().is_some());
    let apart = fold(&[counted(4000.0, 23.0), reading(19.5), reading(19.6)]);
    assert!((pct(&apart).0 - 19.55).abs() < 0.1, "two samples that agree are believed");
    // A tank nobody knew: one sample of two instruments is known better than either, never as two samples.
    let one = fold(&[dip(3000.0), reading(23.0)]);
    let joint = fold(&[dip(3000.0), reading(23.0), again(23.2)]);
    let two = fold(&[dip(3000.0), reading(23.0), reading(23.2)]);
    assert!((pct(&joint).0 - pct(&two).0).abs() < 0.03);
    assert!(pct(&joint).1 < pct(&one).1);
}

#[test]
fn the_first_dip_of_a_tank_that_nobody_counted_is_believed_at_once() {
    let books = fold(&[dip(3000.0), reading(23.0)]);
    assert!((gal(&books).0 - 3000.0).abs() < 15.0 && gal(&books).1 < 100.0, "{:?}", gal(&books));
    assert!((pct(&books).0 - 23.0).abs() < 0.05 && pct(&books).1 < 0.5, "{:?}", pct(&books));
    let apart = books.book_apart(&yard(), "1").unwrap();
    assert!(apart.is_first_count);
    // A run into a tank that nobody counted is known only once somebody dips.
    let run = fold(&[made(1000.0, 23.3)]);
    assert!((gal(&run).0 - 1000.0).abs() < 1e-6 && gal(&run).1 > 1000.0);
}

#[test]
fn more_drawn_than_was_thought_empties_it_and_widens_it() {
    let books = fold(&[counted(500.0, 23.0), load(800.0)]);
    let (left, within) = gal(&books);
    assert!(left.abs() < 1e-6 && within > 300.0, "{left} {within}");
    assert!(in_gallons(books.tank("1").unwrap().volume(&yard())) < -299.0, "the book is kept as it is");
}

#[test]
fn a_level_sensor_is_evidence_that_leaves_the_ledger_alone() {
    let books = fold(&[counted(4000.0, 23.0)]);
    let at = Timestamp::from_second(1_700_009_000).unwrap();
    let level = |gal: f64| yard::estimate::Level { at, volume: gallons(gal), temperature: None };
    let seen = books.estimates.with_levels(&yard(), &[("1".into(), level(3950.0))]);
    let all = books.with_levels(&yard(), &[("1".into(), level(3950.0))]);
    assert_eq!(format!("{:?}", all.estimates), format!("{seen:?}"), "the books see what their estimates see");
    let volume = seen.tank("1").unwrap().volume(&yard());
    assert!(in_gallons(volume.value) < 3999.0 && in_gallons(volume.uncertainty) < gal(&books).1);
    let far = books.estimates.with_levels(&yard(), &[("1".into(), level(2000.0))]);
    assert!(far.tank("1").unwrap().doubted().is_some());
}

#[test]
fn a_bought_liquid_is_dipped_too() {
    let yard = yard();
    let tank = yard.tanks.iter().find(|tank| {
        let product = yard.product(&tank.product).unwrap();
        !matches!(product.kind, site::ProductKind::SodiumChlorideBrine)
    });
    let tank = tank.unwrap();
    let delivered = Body::LiquidDelivery(LiquidDelivery {
        tank: tank.id.clone(),
        volume_m3: m3(1000.0),
        ..LiquidDelivery::default()
    });
    let depth = tank.shape.depth_of(gallons(980.0)).unwrap();
    let dip = Body::Dip(Dip { tank: tank.id.clone(), depth_m: quantity::in_metres(depth), temp_c: None });
    let books = fold(&[delivered, dip]);
    let volume = books.estimate(&tank.id).unwrap().volume(&yard);
    assert!((in_gallons(volume.value) - 980.0).abs() < 8.0, "{}", in_gallons(volume.value));
    let content = books.estimate(&tank.id).unwrap().content();
    assert!(content.unlike(yard.product(&tank.product).unwrap()).is_empty());
}
