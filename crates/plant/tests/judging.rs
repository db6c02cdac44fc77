//! The monitor on single runs: no alarm on a good one, a quick and right cause on a bad one, and learning the plant.
//! Many runs are simulated in `laboratory/src/simulated/judging.rs`.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use std::sync::Arc;

use plant::fault::{Fault, Onset};
use plant::judge::{Cause, Check, Judge, Seen, USUAL_THRESHOLD, Verdict, check_of};
use plant::layout::Layout;
use plant::layouts;
use plant::model::{Factors, Plant, Start};
use plant::properties::Properties;

struct Watched {
    plant: Plant,
    judge: Judge,
}

impl Watched {
    fn new(layout: &Layout, factors: Factors) -> Self {
        let mut start = Start::empty(layout, 20_000.0);
        if layout.name == "upflow" {
            start.in_vessels_kg[0] = 6000.0;
        }
        let properties = Arc::new(Properties::new().unwrap());
        let mut plant = Plant::new(layout.clone(), properties, &start).unwrap();
        let judge = Judge::new(&plant, 11, USUAL_THRESHOLD);
        plant.tune(factors);
        Self { plant, judge }
    }

    /// Runs the plant for half a minute and gives the readings to the monitor.
    fn look(&mut self) -> Verdict {
        self.plant.advance(30.0).unwrap();
        let seen =
            Seen { commands: self.plant.commands().clone(), earlier: None, shown: self.plant.sensors() };
        self.judge.look(&seen).unwrap()
    }
}

#[test]
fn a_good_run_raises_no_alarm() {
    for layout in layouts::all() {
        let mut watched = Watched::new(&layout, Factors { reached: 1.25, feed: 0.8, water: 1.1 });
        for _ in 0..240 {
            let verdict = watched.look();
            assert!(verdict.causes.is_empty(), "{}: {verdict:?}", layout.name);
        }
    }
}

/// A circulation pump that loses its prime is named within minutes, and the inspection to confirm it is the
/// circulation.
#[test]
fn a_lost_prime_is_named() {
    let mut watched = Watched::new(&layouts::batch(), Factors::default());
    watched.plant.begin(Onset { seconds: 1800.0, fault: Fault::Unprimed { line: 1 } });
    let (mut alarmed, mut named) = (None, None);
    for _ in 0..120 {
        let verdict = watched.look();
        let now = watched.plant.seconds();
        let Some((cause, chance)) = verdict.causes.first().cloned() else { continue };
        let since = *alarmed.get_or_insert(now);
        // Five minutes later: time for the operator to walk over.
        if 300.0 <= now - since {
            named = Some((cause, chance));
            break;
        }
    }
    let (cause, chance) = named.unwrap();
    assert!((1800.0..2000.0).contains(&alarmed.unwrap()), "{alarmed:?}");
    assert!(cause == Cause::Unprimed(1) && chance > 0.5, "{cause:?} {chance}");
    assert_eq!(check_of(&cause), Check::Circulation);
    assert!(watched.plant.dry_seconds(1) < 600.0, "before it is harmed");
}

/// From a run's sensors alone it learns that this plant feeds a third more and takes less water than its layout says.
#[test]
fn it_learns_what_a_plant_is_like() {
    let truth = Factors { reached: 1.0, feed: 1.3, water: 0.8 };
    let mut watched = Watched::new(&layouts::fed(), truth);
    let before = watched.judge.learned();
    for _ in 0..240 {
        watched.look();
    }
    let after = watched.judge.learned();
    for (place, name, exact) in [(1, "feed", truth.feed), (2, "water", truth.water)] {
        let (mean, spread) = after[place];
        assert!(
            (mean - exact).abs() < 0.1 && (mean - exact).abs() < 4.0 * spread,
            "{name}: {mean} ± {spread}"
        );
        assert!(spread < 0.5 * before[place].1, "{name}: {spread} from {}", before[place].1);
    }
}
