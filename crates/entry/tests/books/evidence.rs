//! Books held against dips, and what a yard file must not say of its books.

use accounts::Journal;
use event::*;
use quantity::*;

use super::season::*;

/// A total misread by a digit has no plausible cause: the books do not close all the same.
#[test]
fn what_nothing_explains_is_not_called_closed() {
    let yard = yard();
    let mut season = Season::default();
    season.add(0.0, made("1", 6000.0, 23.3));
    season.add(0.5, Body::MeterReading(MeterReading { meter: "loading".into(), total_m3: 0.0 }));
    season.add(1.0, load("1", "T1", None, 601.0));
    season.add(2.0, Body::MeterReading(MeterReading { meter: "loading".into(), total_m3: m3(2600.0) }));
    let journal = Journal::new(&yard, &season.0);
    let found = accounts::reconcile::reconcile(&journal, whole()).unwrap();
    assert!(!found.closes(), "{found:?}");
    // Hundreds of totals are thinned, not refused.
    let mut season = Season::default();
    for n in 0..700 {
        let total_m3 = f64::from(n);
        season.add(f64::from(n), Body::MeterReading(MeterReading { meter: "loading".into(), total_m3 }));
    }
    let journal = Journal::new(&yard, &season.0);
    assert!(accounts::reconcile::reconcile(&journal, whole()).unwrap().balances <= 520);
}

#[test]
fn what_the_yard_file_refuses() {
    let read = |from: &str, to: &str| {
        assert!(FILE.contains(from), "{from}");
        let problems = site::yard_file::read_yard(&FILE.replacen(from, to, 1), "yard.toml").unwrap_err();
        problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
    };
    assert!(read("at_ft = 15\n", "at_ft = 0.2\n").contains("site.axle.order"));
    assert!(read("at_ft = 0\n", "at_ft = 2\n").contains("site.axle.first"));
    assert!(read("liquid_at_ft = 15.5", "").contains("site.axle.liquid_at"));
    assert!(read("watershed = \"mill\"", "watershed = \"mil\"").contains("suggestion = mill"));
    assert!(read("runoff_in = 7", "").contains("site.why.area_alone"));
    assert!(
        read("baseline_source = \"mean of our own tickets, winters 2008 to 2011 (invented)\"", "")
            .contains("site.why.baseline")
    );
    assert!(read("every_days = 14", "").contains("site.why.rhythm"));
    assert!(read("on = \"loading\"", "on = \"lading\"").contains("loading"));
}

#[test]
fn books_without_evidence_say_so() {
    let (yard, season) = (yard(), small());
    let journal = Journal::new(&yard, &season.0);
    let found = accounts::reconcile::reconcile(&journal, whole());
    assert_eq!(found, Err(accounts::reconcile::ReconcileError::NoEvidence));
}

#[test]
fn a_leak_is_named_by_hand_made_dips() {
    use accounts::reconcile::{Balance, Cause};
    let yard = yard();
    let mut season = Season::default();
    season.add(0.0, made("1", 6000.0, 23.3));
    let shape = &yard.tanks[0].shape;
    // Nothing is made and nothing loaded; from the tenth day 40 gal a day are missing.
    for day in 0..20 {
        let left = 6000.0 - 40.0 * f64::from((day - 10).max(0));
        let depth_m = in_metres(shape.depth_of(gallons(left)).unwrap());
        season.add(1.0 + 24.0 * f64::from(day), Body::Dip(Dip { tank: "1".into(), depth_m, temp_c: None }));
    }
    let journal = Journal::new(&yard, &season.0);
    let found = accounts::reconcile::reconcile(&journal, whole()).unwrap();
    assert!(!found.closes() && found.balances == 19);
    let first = &found.suspects[0];
    let Cause::Leak { tank, since } = &first.cause else { panic!("{:?}", found.suspects) };
    assert!(tank == "1" && *since == at(1.0 + 240.0), "{since}");
    // 40 gal of brine weigh 392.4 lb.
    assert!((first.size + in_kilograms(pounds(392.4))).abs() < first.interval, "{first:?}");
    let left_over = &found.left_over[0];
    assert_eq!(left_over.of, Balance::Tank("1".into()));
    assert!(is(in_pounds(left_over.mass), -9.0 * 392.4, 0.005), "{left_over:?}");
}
