//! Scores, as two general-purpose libraries give them.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use common::Table;
use road::score::{Brier, Contingency, Counting, crps_members, crps_normal, interval, pinball, rank};

/// The numbers in a text, in order.
fn numbers(text: &str) -> Vec<f64> {
    text.split(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-')))
        .filter_map(|part| part.parse().ok())
        .collect()
}

/// Members in brackets, and what came.
fn members(inputs: &str) -> (Vec<f64>, f64) {
    let (list, rest) = inputs.split_once(']').unwrap();
    (numbers(list), numbers(rest)[0])
}

#[test]
fn scores_are_those_of_the_libraries() {
    let table = Table::of("scores.csv");
    let (mut checked, mut last) = (0, String::new());
    for row in &table.rows {
        let inputs = table.text(row, "inputs");
        let inputs = if inputs == "same" { last.clone() } else { inputs.to_owned() };
        let brier = || {
            let (chances, came) = inputs.split_once("o=").unwrap();
            let pairs: Vec<(f64, bool)> =
                numbers(chances).into_iter().zip(numbers(came).into_iter().map(|one| one > 0.5)).collect();
            Brier::of(&pairs).unwrap()
        };
        let table_of = || {
            let n = numbers(&inputs);
            let count = |place: usize| n[place] as u32;
            Contingency { hits: count(0), misses: count(1), false_alarms: count(2), rejections: count(3) }
        };
        let n = numbers(&inputs);
        let found = match table.text(row, "score") {
            "CRPS normal" => crps_normal(n[1], n[2], n[0]),
            "CRPS ensemble (plain)" | "CRPS one member = absolute error" => {
                let (members, came) = members(&inputs);
                crps_members(&members, came, Counting::Plain)
            }
            "CRPS ensemble (fair)" => {
                let (members, came) = members(&inputs);
                crps_members(&members, came, Counting::Fair)
            }
            "quantile (pinball) score" => pinball(n[0], n[1], n[2]),
            "interval score" => interval(n[0], n[1], n[2], n[3]),
            "Brier" => brier().score,
            "reliability" => brier().reliability,
            "resolution" => brier().resolution,
            "uncertainty" => brier().uncertainty,
            "Brier skill vs base rate" => brier().skill().unwrap(),
            "contingency hit rate" => table_of().hit_rate(),
            "false alarm ratio" => table_of().false_alarm_ratio(),
            "Heidke skill" => table_of().heidke(),
            "Peirce skill" => table_of().peirce(),
            "rank of y" => {
                let (members, came) = members(inputs.split("->").next().unwrap());
                rank(&members, came) as f64
            }
            // Not used here: log-normal and censored forecasts, the log score.
            _ => continue,
        };
        let expected = table.at(row, "value");
        assert!((found - expected).abs() < 1e-6, "{row:?}: {found}");
        checked += 1;
        last = inputs;
    }
    assert!(checked >= 25, "{checked}");
}
