//! Aim: the fit learns from a plant's own runs how it differs from its layout, with a correct uncertainty.
//! Method: plants that differ by about 30 % from their layout are run and their logs fitted. The errors are compared
//! with the standard deviations given, over all of them.

use std::sync::Arc;

use plant::fit::{Logged, fit};
use plant::judge::{Prior, Seen};
use plant::model::{Factors, Plant, Start};
use plant::properties::Properties;

fn logged(layout: &plant::layout::Layout, factors: Factors, seed: u64, looks: usize) -> (Plant, Vec<Seen>) {
    let mut start = Start::empty(layout, 10_000.0);
    start.seed = seed;
    if layout.name == "upflow" {
        start.in_vessels_kg[0] = 4000.0;
    }
    let properties = Arc::new(Properties::new().expect("tables"));
    let plant = Plant::new(layout.clone(), properties, &start).expect("hangs together");
    let mut truth = plant.clone();
    truth.tune(factors);
    let period = 3600.0 * quantity::in_hours(layout.control.period);
    let seen = (0..looks)
        .map(|_| {
            truth.advance(period).expect("goes on");
            Seen { commands: truth.commands().clone(), earlier: None, shown: truth.sensors() }
        })
        .collect();
    (plant, seen)
}

#[test]
fn factors_are_learned_within_their_uncertainty() {
    let mut squares = [0.0; 3];
    let mut count = 0.0;
    for (number, layout) in plant::layouts::all().iter().enumerate() {
        for (reached, feed, water) in [(1.3, 0.75, 1.25), (0.7, 1.3, 0.8), (1.0, 1.0, 1.0)] {
            let truth = Factors { reached, feed, water };
            let runs: Vec<_> =
                (0..2).map(|run| logged(layout, truth, 10 * number as u64 + run, 240)).collect();
            let runs: Vec<Logged<'_>> = runs.iter().map(|(start, seen)| Logged { start, seen }).collect();
            let found = fit(&runs, &Prior::default(), 1).expect("fits");
            for (one, right) in [reached, feed, water].into_iter().enumerate() {
                let off = (found.factors[one] / right).ln();
                squares[one] += (off / found.spreads[one]).powi(2);
                assert!(found.spreads[one] <= Prior::default().spreads[one]);
            }
            // What a meter and a level show is known well, to 1 % (0.4 % at the worst of these); how much of the
            // grains is reached less so.
            assert!((found.factors[2] / water).ln().abs() < 0.01, "{} {truth:?} {found:?}", layout.name);
            count += 1.0;
        }
    }
    for (one, name) in ["reached", "feed", "water"].into_iter().enumerate() {
        let mean: f64 = squares[one] / count;
        println!("{name}: root mean square of errors over their spread {:.2}", mean.sqrt());
        assert!(mean.sqrt() < 2.0, "{name}: {mean}");
    }
}

#[test]
fn more_runs_give_smaller_uncertainty() {
    let layout = plant::layouts::batch();
    let truth = Factors { reached: 0.8, feed: 1.2, water: 0.9 };
    let logs: Vec<_> = (0..4).map(|run| logged(&layout, truth, run, 240)).collect();
    let runs: Vec<Logged<'_>> = logs.iter().map(|(start, seen)| Logged { start, seen }).collect();
    let one = fit(&runs[..1], &Prior::default(), 1).expect("fits");
    let four = fit(&runs, &Prior::default(), 1).expect("fits");
    for factor in 0..3 {
        assert!(four.spreads[factor] < one.spreads[factor]);
    }
    assert_eq!(fit(&[], &Prior::default(), 1).expect("fits"), Prior::default());
}
