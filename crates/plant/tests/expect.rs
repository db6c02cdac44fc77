//! The range expected before a run: how many runs are within it, and that it can be repeated.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use std::sync::Arc;

use plant::expect::band;
use plant::judge::Prior;
use plant::layouts;
use plant::model::{Plant, Start};
use plant::properties::Properties;

fn fed() -> Plant {
    let layout = layouts::fed();
    let start = Start::empty(&layout, 20_000.0);
    Plant::new(layout, Arc::new(Properties::new().unwrap()), &start).unwrap()
}

/// About 95 in 100 of other plants drawn the same way are within the range at any time.
#[test]
fn about_95_in_100_runs_are_within_it() {
    let plant = fed();
    let found = band(&plant, &Prior::default(), 200, (5400.0, 300.0), 1).unwrap();
    assert_eq!((found.seconds.len(), found.panel.len(), found.runs), (18, 18, 200));
    assert!(found.panel.iter().all(|[low, middle, high]| low <= middle && middle <= high));
    let (mut within, mut all) = (0, 0);
    for number in 0..100 {
        let mut other = plant.clone();
        other.tune(Prior::default().draw(2, number));
        let mut row = 0;
        let mut look = |snapshot: &plant::model::Snapshot| {
            let [low, _, high] = found.panel[row];
            within += usize::from((low - 0.1..=high + 0.1).contains(&snapshot.shown[0]));
            (all, row) = (all + 1, row + 1);
        };
        other.advance_showing(5400.0, 300.0, &mut look).unwrap();
    }
    let share = within as f64 / all as f64;
    assert!((0.90..=0.995).contains(&share), "{share}");
}

/// The same seed gives the same range; times to strength are in the order of their quantiles; one run is refused.
#[test]
fn it_can_be_repeated() {
    let plant = fed();
    let found = band(&plant, &Prior::default(), 40, (7200.0, 600.0), 5).unwrap();
    assert_eq!(found, band(&plant, &Prior::default(), 40, (7200.0, 600.0), 5).unwrap());
    let [early, middle, _] = found.reached;
    assert!(1200.0 < early.unwrap() && early.unwrap() <= middle.unwrap());
    assert!(band(&plant, &Prior::default(), 1, (7200.0, 600.0), 5).is_err());
}
